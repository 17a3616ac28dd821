"""Exact truth about parts whose outlines are all seen level, or from above, by slicing.

At the height z each level outline leaves strips, bounded by lines that move
evenly with z as long as no corner is passed; a plan (seen from above) is the
same at every height. So between two heights at which three such lines meet in
a point, the section's area is a quadratic in z and its sides grow evenly: two
sections give the volume and the walls exactly (Gauss). Level faces are where
the section jumps, and bodies are sections that overlap across a jump. Only
shapely's plane geometry is used, nothing of the package.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from shapely import MultiPolygon, Polygon

Array = NDArray[np.float64]
Numbered = tuple[int, Polygon]

SAME = 1e-7
"""Heights nearer than this are one; points nearer than this are on a line."""
BESIDE = 1e-8
"""How far from a jump its two sections are taken, as a share of the step to the next."""
OVERLAP = 1e-13, 1e-5
"""Sections that share more area than the second overlap at the jump itself. Those that share more
than the first may: the sections are taken a little beside it."""
SNAP = 1e-13
"""Plane geometry is done on this grid: without one, GEOS fails on areas that nearly coincide."""


@dataclass(frozen=True)
class Level:
    """An outline seen level: its u runs along a unit vector (x, y), its v is z."""

    along: tuple[float, float]
    area: MultiPolygon

    @cached_property
    def edges(self) -> Array:
        """(n, 2, 2) all sides of the outline, from lower to higher v."""
        rings = [r.coords for p in self.area.geoms for r in (p.exterior, *p.interiors)]
        ends = np.concatenate([np.stack([r[:-1], r[1:]], axis=1) for r in map(np.array, rings)])
        flip = ends[:, 0, 1] > ends[:, 1, 1]
        ends[flip] = ends[flip, ::-1]
        return np.asarray(ends)

    def crossings(self, z: float) -> Array:
        """Where its sides pass a height that no corner has: begin and end of each strip, (n, 2)."""
        low, high = self.edges[:, 0], self.edges[:, 1]
        there = (low[:, 1] < z) & (high[:, 1] > z)
        share = (z - low[there, 1]) / (high[there, 1] - low[there, 1])
        u = low[there, 0] + share * (high[there, 0] - low[there, 0])
        return np.asarray(np.sort(u).reshape(-1, 2))

    def strips(self, z: float) -> MultiPolygon:
        """What it leaves of the plane at a height that no corner has."""
        d, n = np.array(self.along), 1e3 * np.array([-self.along[1], self.along[0]])
        return MultiPolygon(
            [Polygon([a * d - n, b * d - n, b * d + n, a * d + n]) for a, b in self.crossings(z)]
        )


@dataclass(frozen=True)
class Lines:
    """n · (x, y) = offset + slope z, each valid over a range of heights."""

    normal: Array
    offset: Array
    slope: Array
    low: Array
    high: Array


@dataclass(frozen=True)
class Sliced:
    """A block of a size, level outlines and plans, all in mm."""

    size: tuple[float, float, float]
    levels: Sequence[Level]
    plans: Sequence[MultiPolygon]

    @cached_property
    def lines(self) -> Lines:
        """Of every side of every outline that is not level itself."""
        rows = []
        for level in self.levels:
            for (u0, v0), (u1, v1) in level.edges:
                if v1 > v0:
                    slope = (u1 - u0) / (v1 - v0)
                    rows.append((*level.along, u0 - slope * v0, slope, v0, v1))
        block = shapely.box(0, 0, *self.size[:2])
        for plan in (block, *self.plans):
            for part in shapely.get_parts(plan):
                for ring in (part.exterior, *part.interiors):
                    points = np.array(ring.coords)
                    for (x0, y0), (x1, y1) in pairwise(points):
                        length = math.hypot(x1 - x0, y1 - y0)
                        a, b = (y1 - y0) / length, (x0 - x1) / length
                        rows.append((a, b, a * x0 + b * y0, 0.0, -np.inf, np.inf))
        table = np.array(rows)
        return Lines(table[:, :2], *table[:, 2:].T)

    @cached_property
    def heights(self) -> Array:
        """Every height at which the section may change its kind, from 0 to the block's height."""
        lines, top = self.lines, self.size[2]
        i, j, k = np.array(list(combinations(range(len(lines.offset)), 3))).T
        # three lines meet where the determinant of (normal, offset + slope z) vanishes

        def minor(p: Array, q: Array) -> Array:
            return lines.normal[p, 0] * lines.normal[q, 1] - lines.normal[p, 1] * lines.normal[q, 0]

        weights = minor(j, k), minor(k, i), minor(i, j)
        const = sum(w * lines.offset[a] for w, a in zip(weights, (i, j, k), strict=True))
        slope = sum(w * lines.slope[a] for w, a in zip(weights, (i, j, k), strict=True))
        with np.errstate(divide="ignore", invalid="ignore"):
            z = -const / slope
        low = np.max([lines.low[i], lines.low[j], lines.low[k]], axis=0)
        high = np.min([lines.high[i], lines.high[j], lines.high[k]], axis=0)
        meet = (np.abs(slope) > 1e-9) & (z > low - SAME) & (z < high + SAME)
        corners = [level.edges[:, :, 1].ravel() for level in self.levels]
        every = np.unique(np.concatenate([[0.0, top], z[meet], *corners]))
        every = every[(every >= 0) & (every <= top)]
        return np.asarray(every[np.r_[True, np.diff(every) > SAME]])

    def section(self, z: float) -> list[Polygon]:
        """The pieces of the part's section."""
        area = MultiPolygon([shapely.box(0, 0, *self.size[:2])])
        for other in (*self.plans, *(level.strips(z) for level in self.levels)):
            area = _polygons(shapely.intersection(area, other, grid_size=SNAP))
        return list(area.geoms)

    def sides(self, piece: Polygon, z: float) -> Iterator[tuple[Array, float, int]]:
        """Start, length and line of every side of a section's piece."""
        lines = self.lines
        at = lines.offset + lines.slope * z
        there = (lines.low < z) & (lines.high > z)
        for ring in (piece.exterior, *piece.interiors):
            points = np.array(ring.coords)
            for a, b in pairwise(points):
                off = np.abs(np.stack([a, b]) @ lines.normal.T - at).max(axis=0)
                yield a, float(np.linalg.norm(b - a)), int(np.where(there, off, np.inf).argmin())

    @cached_property
    def measures(self) -> tuple[float, float, tuple[int, int]]:
        """Volume in mm³, surface in mm², number of bodies at least and at most."""
        volume = surface = 0.0
        links: list[tuple[int, int, float]] = []
        found: set[int] = set()
        count = 0
        below: list[Numbered] = []
        for low, high in pairwise(self.heights):
            half = (high - low) / 2
            for z in (low + high) / 2 + half * np.array([-1, 1]) / math.sqrt(3):
                for piece in self.section(z):
                    volume += half * piece.area
                    surface += half * sum(
                        length * math.hypot(1, self.lines.slope[line])
                        for _, length, line in self.sides(piece, z)
                    )
            middle = list(enumerate(self.section((low + high) / 2), start=count))
            count += len(middle)
            beside = BESIDE * 2 * half
            first = self._known(middle, (low + high) / 2, low + beside)
            surface += _jump(below, first)
            links += _overlaps(below, first)
            below = self._known(middle, (low + high) / 2, high - beside)
            found |= {n for n, _ in [*first, *below]}
        surface += _jump(below, [])
        likely, sure = ([(i, j) for i, j, area in links if area > o] for o in OVERLAP)
        # a piece that is not found again near either end of its step may belong to any body
        least = _groups(count, likely) - (count - len(found))
        return volume, surface, (max(least, int(count > 0)), _groups(count, sure))

    def _known(self, pieces: list[Numbered], z: float, other: float) -> list[Numbered]:
        """The pieces of another section of the same kind, with their numbers.

        A corner is where two lines meet, so it is known where each has come from.
        """
        lines, later = self.lines, self.section(other)
        votes = np.zeros((len(later), len(pieces)))
        for row, piece in enumerate(later):
            sides = [line for _, _, line in self.sides(piece, other)]
            for i, j in pairwise([sides[-1], *sides]):
                normals = lines.normal[[i, j]]
                if abs(np.linalg.det(normals)) > 1e-9:
                    here = np.linalg.solve(normals, (lines.offset + lines.slope * z)[[i, j]])
                    point = shapely.Point(here)
                    votes[row] += [p.boundary.distance(point) < 1e-6 for _, p in pieces]
        best = zip(*linear_sum_assignment(-votes), strict=True)
        return [(pieces[k][0], later[row]) for row, k in best if votes[row, k]]


def _polygons(area: shapely.Geometry) -> MultiPolygon:
    """Without points, lines and slivers of rounding."""
    parts = shapely.get_parts(area)
    return MultiPolygon([p for p in parts if isinstance(p, Polygon) and p.area > 1e-10 * p.length])


def _jump(below: list[Numbered], above: list[Numbered]) -> float:
    """Area of the level faces between two sections."""
    one, other = (MultiPolygon([p for _, p in pieces]) for pieces in (below, above))
    return float(shapely.symmetric_difference(one, other, grid_size=SNAP).area)


def _overlaps(below: list[Numbered], above: list[Numbered]) -> list[tuple[int, int, float]]:
    """Which sections lie above which, and the area that they share."""
    return [
        (i, j, shapely.intersection(p, q, grid_size=SNAP).area) for i, p in below for j, q in above
    ]


def _groups(count: int, links: list[tuple[int, int]]) -> int:
    ends = tuple(np.array(links, int).reshape(-1, 2).T)
    graph = coo_array((np.ones(len(links)), ends), (count, count))
    return int(connected_components(graph, directed=False)[0]) if count else 0


def lattice_polygon(rng: np.random.Generator, size: int, corners: int) -> Polygon:
    """A polygon with corners on the lattice 0 … size, star-shaped about a point in it."""
    while True:
        points = rng.choice((size + 1) ** 2, size=corners, replace=False)
        flat = np.column_stack(np.divmod(points, size + 1)).astype(float)
        middle = flat.mean(axis=0) + rng.uniform(-0.3, 0.3, 2)
        order = np.argsort(np.arctan2(*(flat - middle).T))
        polygon = Polygon(flat[order])
        if polygon.is_valid and polygon.area > 0.5:
            return polygon
