"""Chords between opposed places of a surface, and the shortest of them near by.

Problem: the smallest balls at samples are known (`ball_search`); where near them is it thinnest?

Method: a pattern search. From each point a ring of neighbours on the surface is tried, and the foot
of the wall opposite; the best is taken, and when none is better the ring shrinks. The ring turns
from round to round, so that no slope stays between its directions. On an edge the point moves along
it and the normal follows the chord across the fan; on a tip the normal follows the chord.

Invariant: no step makes a chord longer, and each is that of the smallest ball at its start.

Complexity: a fixed number of balls for each chord and round; the step is halved until it is
`_FINEST` of the first one.

Reference: R. Hooke and T. A. Jeeves, "Direct search" solution of numerical and statistical
problems, Journal of the ACM 8 (1961) (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.parallel import shared
from silhouette3d.geometry.thickness.ball_search import smallest_balls, walls_at
from silhouette3d.geometry.thickness.bvh import BallScene, narrowed
from silhouette3d.geometry.thickness.clusters import CELL
from silhouette3d.geometry.thickness.definition import BETA
from silhouette3d.geometry.thickness.sampling import (
    FLAT,
    Edges,
    Indices,
    Mask,
    Samples,
    Surface,
    WallSamples,
    acute_samples,
    all_samples,
    edge_samples,
    normal_between,
    rim_samples,
    tip_samples,
)
from silhouette3d.geometry.tolerances import ANGLE, LAST_DIGITS, SHARE
from silhouette3d.geometry.true_curves import SMOOTH, WIDER, TrueCurves, tangent_balls

# --- Samples and the opposed places where their smallest balls touch


_IN_TURN: Final = 3
"""Moves to each of two curves; each leaves a share of the way, more the flatter they cross."""

Progress = Callable[[int, int], None]

MOST: Final = 1_000_000
"""Thin chords that are kept in memory; each takes about 300 bytes while they are sorted out."""


@dataclass(frozen=True)
class Chords:
    """Ways from samples to where the smallest balls touch the wall opposite.

    Parameters
    ----------
    samples : Samples
        Where they begin.
    touch : (n, 3) array
        Where they end, in mm.
    size : (n,) array
        Diameters of the balls in mm.
    bend : (n,) array of bool
        Whether they end on an edge or corner.
    item : (n,) array of int
        Row of the triangle in which they end, or of the edge, or of the corner after the edges.
    """

    samples: Samples
    touch: Array
    size: Array
    bend: Mask
    item: Indices

    def __len__(self) -> int:
        return len(self.size)

    @cached_property
    def middle(self) -> Array:
        """(n, 3) midpoints in mm."""
        return np.asarray((self.samples.points + self.touch) / 2.0)

    @cached_property
    def direction(self) -> Array:
        """(n, 3) unit vectors from the sample to the wall opposite."""
        way = self.touch - self.samples.points
        return np.asarray(way / np.linalg.norm(way, axis=1)[:, None])

    def chosen(self, rows: Indices) -> Chords:
        """Choose some of the chords."""
        some = (self.touch[rows], self.size[rows], self.bend[rows], self.item[rows])
        return Chords(self.samples.chosen(rows), *some)

    def replaced(self, rows: Indices, others: Chords) -> Chords:
        """Put other chords into some rows."""
        order = np.arange(len(self))
        order[rows] = len(self) + np.arange(len(rows))
        return together([self, others]).chosen(order)


@dataclass(frozen=True, eq=False)
class TrueWalls:
    """Curves that walls of a surface stand for.

    Parameters
    ----------
    surface : Surface
        Of flat walls.
    curves : TrueCurves
        What it was made from.
    triangle, edge : (n,) arrays of int
        The chord that each triangle is made of, and each edge between two walls that go on
        into each other; -1 for others.
    sides : (n, 2) array of int
        The chords of the walls on both sides of each edge.
    """

    surface: Surface
    curves: TrueCurves
    triangle: Indices
    edge: Indices
    sides: Indices

    @classmethod
    def of(cls, surface: Surface, curves: TrueCurves) -> TrueWalls | None:
        """Find the walls of a surface that stand for curves; None if no wall does."""
        triangle = curves.rows_at(surface.corners.mean(axis=1), surface.normal)
        if (triangle < 0).all():
            return None
        sides = np.append(triangle, -1)[surface.edges.sides]
        goes_on: Mask = np.asarray((sides >= 0).all(axis=1))
        both = np.nonzero(goes_on)[0]
        left, right = edge_normals(surface, curves, triangle, both, 0.5)
        goes_on[both] = np.linalg.norm(left - right, axis=1) < SMOOTH
        return cls(surface, curves, triangle, np.where(goes_on, sides[:, 0], -1), sides)

    @property
    def wider(self) -> float:
        """Bound in mm by how much balls on the flat walls may be larger than on the curves."""
        return WIDER * self.curves.deviation

    def corrected(self, chords: Chords) -> tuple[Chords, Array]:
        """Correct chords by the balls of the curves; infinite where nothing faces the point.

        They still begin and end on the flat walls. Also how steeply (n,) the thickness changes
        beside a point on a curve, in mm per mm; 0 on flat walls.
        """
        samples, count = chords.samples, len(self.edge)
        known = np.append(self.triangle, -1), np.append(self.edge, -1)
        start = np.where((samples.triangle < 0) & (samples.edge >= 0), samples.edge, -1)
        begin = np.where(start >= 0, known[1][start], known[0][samples.triangle])
        stop = np.where(chords.bend & (chords.item < count), chords.item, -1)
        end = np.where(
            chords.bend, known[1][stop], known[0][np.where(chords.bend, -1, chords.item)]
        )
        sides = np.concatenate([self.sides, [[-1, -1]]])
        corner = (begin < 0) & (sides[start] >= 0).any(axis=1)
        rim = (end < 0) & (sides[stop] >= 0).any(axis=1)
        rows = np.nonzero((begin >= 0) | (end >= 0) | corner | rim | ~chords.bend)[0]
        some, begin, end = chords.chosen(rows), begin[rows], end[rows]
        corner, rim = corner[rows], rim[rows]
        points, inward = some.samples.points.copy(), some.samples.inward.copy()
        points[corner] = self._on_edges(sides[start[rows[corner]]], points[corner])
        moved = begin >= 0
        points[moved], outward = self.curves.nearest(begin[moved], points[moved], -inward[moved])
        inward[moved] = -outward
        # a ball that lies level in the view of a wall touches its rim where it touches the wall
        wall = sides[stop[rows]].max(axis=1)
        upright = self.curves.axes[self.curves.curve[wall], 2]
        level = (
            rim
            & (sides[stop[rows]].min(axis=1) < 0)
            & (np.abs(np.einsum("ij,ij->i", upright, inward)) < FLAT)
        )
        end[level] = wall[level]
        touch, rim = some.touch.copy(), rim & ~level
        touch[rim] = self._on_edges(sides[stop[rows[rim]]], touch[rim])
        normal = np.full((len(rows), 3), np.nan)
        flat = ~some.bend & (end < 0)
        normal[flat] = self.surface.normal[some.item[flat]]
        size, facing, _ = tangent_balls(self.curves, points, inward, some.size, end, touch, normal)
        all_sizes = chords.size.copy()
        changed = moved | (end >= 0) | corner | rim
        all_sizes[rows[changed]] = size[changed]
        all_sizes[rows[facing < math.cos(2.0 * BETA) - SHARE]] = np.inf
        steep = np.zeros(len(chords))
        slope = 2.0 * np.sqrt(np.maximum(1.0 - facing, 0.0) / np.maximum(1.0 + facing, SHARE))
        steep[rows[moved]] = slope[moved]
        return replace(chords, size=all_sizes), steep

    def begins_on_curve(self, samples: Samples) -> Mask:
        """Tell which samples (n,) lie on walls that stand for curves."""
        on_edge = (samples.triangle < 0) & (samples.edge >= 0)
        rows = np.where(on_edge, samples.edge, samples.triangle)
        known = np.append(self.triangle, -1)[rows]
        return np.where(on_edge, np.append(self.edge, -1)[np.where(on_edge, rows, -1)], known) >= 0

    def _on_edges(self, sides: Indices, points: Array) -> Array:
        """Move points (k, 3) of flat edges to the curves on one side or both, in turn."""
        points = points.copy()
        for _ in range(_IN_TURN):
            for k in range(2):
                there = np.nonzero(sides[:, k] >= 0)[0]
                rows = sides[there, k]
                points[there] = self.curves.nearest(rows, points[there], points[there])[0]
        return points


def edge_normals(
    surface: Surface, curves: TrueCurves, triangle: Indices, some: Indices, share: float
) -> tuple[Array, Array]:
    """Work out true walls' outward normals (n, 3) on both sides of some edges, at a share along.

    `triangle` has the chord that each triangle is made of, or -1.
    """
    edges = surface.edges
    at = edges.start[some] + (share * edges.length[some])[:, None] * edges.along[some]
    rows = np.append(triangle, -1)[edges.sides[some]]
    found = []
    for k, normal in enumerate((edges.left[some], edges.right[some])):
        known = np.nonzero(rows[:, k] >= 0)[0]
        true = normal.copy()
        true[known] = curves.nearest(rows[known, k], at[known], normal[known])[1]
        found.append(true)
    return found[0], found[1]


def thin_chords(
    surface: Surface,
    scene: BallScene,
    cap: float,
    h: float,
    progress: Progress,
    true: TrueWalls | None = None,
) -> tuple[Chords, float]:
    """Find the chords of all samples whose ball is smaller than `cap` mm.

    Samples are made and measured piece by piece, and only thin ones are kept. If
    even those are very many, only the thinnest on each triangle in each cell of
    a grid is, with the area of all of them.

    Returns
    -------
    chords : Chords
        In the order of the surface.
    h : float
        How far apart they lie, in mm: as given, or more if some were left out.
    """
    edges = surface.edges
    bends = all_samples(
        [
            edge_samples(edges, h),
            acute_samples(edges, h),
            tip_samples(surface.points),
            rim_samples(surface, h),
        ]
    )
    least = least_chord(h)
    kept = [_between(chords_of(bends, scene, cap, true), least, cap)]
    most, cell = MOST, CELL * h
    for some in measured(WallSamples(surface, h), scene, cap, progress, true):
        kept.append(_between(some, least, cap))
        if sum(map(len, kept)) > most:
            cell = max(cell, 2.0 * CELL * h)
            kept = [gathered(together(kept), cell)]
            while len(kept[0]) > most / 2:
                cell *= 2.0
                kept = [gathered(kept[0], cell)]
    return together(kept), cell / CELL


def gathered(chords: Chords, cell: float) -> Chords:
    """Keep the thinnest chord on each triangle or edge in each cell, with the area of all."""
    samples = chords.samples
    place = np.floor(chords.middle / cell).astype(np.int64)
    keys = np.column_stack([samples.triangle, samples.edge, place])
    order = np.lexsort((chords.size, *keys.T))
    keys = keys[order]
    first = np.nonzero(np.concatenate([[True], (keys[1:] != keys[:-1]).any(axis=1)]))[0]
    thinnest = chords.chosen(order[first])
    area = np.add.reduceat(samples.area[order], first)
    return replace(thinnest, samples=replace(thinnest.samples, area=area))


def together(chords: Sequence[Chords]) -> Chords:
    """Join several lots of chords."""
    return Chords(
        all_samples([c.samples for c in chords]),
        np.concatenate([c.touch for c in chords]),
        np.concatenate([c.size for c in chords]),
        np.concatenate([c.bend for c in chords]),
        np.concatenate([c.item for c in chords]),
    )


def measured(
    samples: WallSamples,
    scene: BallScene,
    cap: float,
    progress: Progress,
    true: TrueWalls | None = None,
) -> Iterator[Chords]:
    """Measure the chords of samples piece by piece; those of size `cap` end nowhere, in nan."""
    done = 0
    for piece in range(len(samples)):
        result = chords_of(samples[piece], scene, cap, true)
        yield result
        done += len(result)
        progress(done, samples.total)


def chords_of(
    samples: Samples, scene: BallScene, cap: float | Array, true: TrueWalls | None = None
) -> Chords:
    """Measure the chord of each sample; one of size `cap` ends nowhere, in nan.

    With true walls sizes are those of balls on their curves. Where what a ball touches does not
    face the point there, it is sought once more among the walls that face each other as they are.
    """
    most = np.full(len(samples), cap, float)
    if true is None:
        return _balls(samples, scene, most)
    found = _balls(samples, scene, most + true.wider)
    near = np.nonzero(np.isfinite(found.touch[:, 0]))[0]
    some, _ = true.corrected(found.chosen(near))
    turned = np.nonzero(np.isinf(some.size))[0]
    if len(turned):
        narrow = narrowed(scene)
        again = _balls(samples.chosen(near[turned]), narrow, most[near[turned]] + true.wider)
        there = np.nonzero(np.isfinite(again.touch[:, 0]))[0]
        some = some.replaced(turned[there], true.corrected(again.chosen(there))[0])
    found = found.replaced(near, some)
    small = found.size < most
    touch = np.where(small[:, None], found.touch, np.nan)
    return replace(found, size=np.where(small, found.size, most), touch=touch)


def _balls(samples: Samples, scene: BallScene, most: Array) -> Chords:
    """Find the chord of each sample on flat walls."""

    def measure(rows: slice) -> tuple[Array, Array, Mask, Indices]:
        some = samples.points[rows], samples.inward[rows], samples.edge[rows]
        return smallest_balls(scene, *some, most[rows])

    columns = map(np.concatenate, zip(*shared(measure, len(samples)), strict=True))
    size, touch, bend, item = columns
    return Chords(samples, touch, size, bend, item)


def _between(chords: Chords, least: float, cap: float) -> Chords:
    return chords.chosen(np.nonzero((chords.size > least) & (chords.size < cap))[0])


_DUST: Final = 1e-5
_DUST_SHARE: Final = 1e-4
"""mm, and share of the spacing: no wall is so thin, as walls lie within `Tolerances.wall`."""


def least_chord(h: float) -> float:
    """Bound in mm what is dust: no wall is so thin, only the end of a wedge."""
    return min(_DUST, _DUST_SHARE * h)


# --- From the lowest samples down to the thinnest points near them


_RING: Final = 8
_FEET: Final = np.array([0.25, 0.5, 1.0, 2.0, 4.0, 8.0])
"""Steps towards the foot of the wall opposite: on a slope it lies downhill."""
_EACH: Final = _RING + len(_FEET)
_ROUNDS: Final = 80
_FINEST: Final = 1e-5
"""Share of the first step at which a search ends."""
_INSET: Final = 1e-7
"""Share of the way to the middle of a triangle by which points on its border are moved in."""
_SLOW: Final = 0.01
"""Share of the step: a search that gains less goes on with half the step."""
_TURN: Final = np.pi * (3.0 - np.sqrt(5.0))


def refined(
    surface: Surface,
    scene: BallScene,
    chords: Chords,
    room: tuple[Array, Array],
    h: float,
    allowed: Callable[[Chords, Chords], Mask],
    true: TrueWalls | None = None,
) -> Chords:
    """Move each chord to where it is shortest nearby.

    Parameters
    ----------
    surface, scene : Surface, BallScene
        What is measured.
    chords : Chords
        Where to begin.
    room : two (n, 3) arrays
        The box in mm that each search stays in.
    h : float
        First step in mm.
    allowed : callable
        From chords (k,) to chords (k,), which of the moves may be made.
    true : TrueWalls, optional
        The curves that decide.
    """
    step = np.full(len(chords), h)
    for turn in range(_ROUNDS):
        active = np.nonzero(step > _FINEST * h)[0]
        if not len(active):
            break
        now = chords.chosen(active)
        tried = _tried(surface, scene, now, step[active], turn, true)
        inside = _inside(tried.samples.points, room[0][active], room[1][active])
        best = _best(now, tried, inside, allowed)
        moves = best >= 0
        gain = np.where(moves, now.size - tried.size[best], 0.0)
        chords = chords.replaced(active[moves], tried.chosen(best[moves]))
        step[active[gain < _SLOW * step[active]]] *= 0.5
    return chords


def settled(
    surface: Surface,
    scene: BallScene,
    chords: Chords,
    cap: float,
    h: float,
    true: TrueWalls | None = None,
) -> Chords:
    """Settle chords smaller than `cap` mm, also those that are so only between samples.

    What is hardly too large, gets smaller beside its point by enough to be small no further away
    than `h`, and has nothing small near it, is followed down.
    """
    small = chords.chosen(np.nonzero(chords.size < cap)[0])
    some = chords.chosen(np.nonzero(chords.size >= cap)[0])
    cosine = np.einsum("ij,ij->i", some.direction, some.samples.inward)
    steep = 2.0 * np.sqrt(np.maximum(1.0 - cosine**2, 0.0)) / np.maximum(cosine, 0.5)
    curved = np.zeros(len(some), bool)
    if true is not None:
        _, slope = true.corrected(some)
        curved = true.begins_on_curve(some.samples)
        steep[curved] = slope[curved]
    some = some.chosen(np.nonzero(some.size - h * steep < cap)[0])
    if len(some) and len(small):
        away, _ = cKDTree(small.middle).query(some.middle, distance_upper_bound=h)
        some = some.chosen(np.nonzero(np.isinf(away))[0])
    if not len(some):
        return small
    some = gathered(some, h)
    if true is not None:
        some = _off_edges(surface, scene, some, cap + 2.0 * true.wider, true)
    at = some.samples.points
    low = refined(surface, scene, some, (at - h, at + h), h / 2.0, _anywhere, true)
    return together([small, low.chosen(np.nonzero(low.size < cap)[0])])


def _anywhere(before: Chords, after: Chords) -> Mask:
    """Allow all moves."""
    return np.ones(len(before), bool)


def _off_edges(
    surface: Surface, scene: BallScene, chords: Chords, cap: float, true: TrueWalls
) -> Chords:
    """Begin chords from edges within curves again on both walls beside, if they can move."""
    edges = np.append(true.edge, -1)
    on_edge = (chords.samples.triangle < 0) & (edges[chords.samples.edge] >= 0)
    rows = np.repeat(np.nonzero(on_edge)[0], 2)
    here = chords.samples.chosen(rows)
    wall = surface.edges.sides[here.edge, np.arange(len(rows)) % 2]
    points = here.points + _INSET * (surface.corners[wall].mean(axis=1) - here.points)
    edge = np.full(len(rows), -1)
    samples = Samples(points, -surface.normal[wall], wall, edge, here.area / 2.0)
    again = chords_of(samples, scene, cap, true)
    found = again.chosen(np.nonzero(np.isfinite(again.touch[:, 0]))[0])
    return together([chords.chosen(np.nonzero(~on_edge)[0]), found])


def _inside(points: Array, low: Array, high: Array) -> Mask:
    """Tell which of `_EACH` points for each box lie in it."""
    places = points.reshape(-1, _EACH, 3)
    within = (places >= low[:, None]) & (places <= high[:, None])
    return np.asarray(within.all(axis=2).ravel())


def _best(
    now: Chords, tried: Chords, inside: Mask, allowed: Callable[[Chords, Chords], Mask]
) -> Indices:
    """Choose of the chords tried (n,) the shortest that may be moved to, or -1."""
    row = np.repeat(np.arange(len(now)), _EACH)
    lower = np.nonzero(inside & (tried.size < now.size[row]))[0]
    lower = lower[allowed(now.chosen(row[lower]), tried.chosen(lower))]
    worth = np.full(len(tried), np.inf)
    worth[lower] = tried.size[lower]
    best = worth.reshape(-1, _EACH).argmin(axis=1) + np.arange(len(now)) * _EACH
    return np.asarray(np.where(worth[best] < np.inf, best, -1))


def _tried(
    surface: Surface,
    scene: BallScene,
    now: Chords,
    step: Array,
    turn: int,
    true: TrueWalls | None,
) -> Chords:
    """Try `_EACH` chords around every chord; those that are not shorter end in nan."""
    samples = _neighbours(surface, scene, now.samples, now.touch, step, turn)
    return chords_of(samples, scene, np.repeat(now.size, _EACH), true)


def _neighbours(
    surface: Surface, scene: BallScene, here: Samples, touch: Array, step: Array, turn: int
) -> Samples:
    """List `_EACH` places to try for every sample."""
    rows = np.arange(len(here))
    on_wall = rows[here.triangle >= 0]
    on_edge = rows[(here.triangle < 0) & (here.edge >= 0)]
    points = np.repeat(here.points[:, None], _EACH, axis=1)
    inward = np.repeat(here.inward[:, None], _EACH, axis=1)
    triangle = np.repeat(here.triangle[:, None], _EACH, axis=1)
    points[on_wall], triangle[on_wall] = _on_walls(
        surface, scene, here.chosen(on_wall), touch[on_wall], step[on_wall], turn
    )
    moved = _along_edges(surface.edges, here.chosen(on_edge), touch[on_edge], step[on_edge])
    points[on_edge], inward[on_edge] = moved
    on_tip = rows[(here.edge < 0) & (here.triangle < 0)]
    inward[on_tip] = _at_tips(surface, here.chosen(on_tip), touch[on_tip])
    flat = triangle.ravel()
    return Samples(
        points.reshape(-1, 3),
        inward.reshape(-1, 3),
        flat,
        np.repeat(np.where(here.triangle < 0, here.edge, -1), _EACH),
        np.repeat(here.area, _EACH),
    )


def _on_walls(
    surface: Surface, scene: BallScene, here: Samples, touch: Array, step: Array, turn: int
) -> tuple[Array, Indices]:
    """Place points (n, k, 3) in the planes of their walls, and find their triangles (n, k)."""
    m = here.inward
    least = np.eye(3)[np.abs(m).argmin(axis=1)]
    u = np.cross(m, least)
    u /= np.linalg.norm(u, axis=1)[:, None]
    v = np.cross(m, u)
    angle = turn * _TURN + np.arange(_RING) * (2.0 * np.pi / _RING)
    ring = np.cos(angle)[:, None] * u[:, None] + np.sin(angle)[:, None] * v[:, None]
    way = touch - here.points
    foot = way - np.einsum("ij,ij->i", way, m)[:, None] * m
    moves = np.concatenate([step[:, None, None] * ring, _FEET[:, None] * foot[:, None]], axis=1)
    points = (here.points[:, None] + moves).reshape(-1, 3)
    facing = np.repeat(m, _EACH, axis=0)
    triangle = walls_at(scene, points, facing)
    lost = np.nonzero(triangle < 0)[0]  # beside the wall: the nearest point of the triangle
    triangle[lost] = np.repeat(here.triangle, _EACH)[lost]
    points[lost] = _nearest(surface.corners[triangle[lost]], points[lost])
    return points.reshape(-1, _EACH, 3), triangle.reshape(-1, _EACH)


def _nearest(corners: Array, points: Array) -> Array:
    """Find points of triangles (n, 3, 3), a hair inside, nearest to points (n, 3) beside them."""
    best, least = corners[:, 0], np.full(len(points), np.inf)
    for k in range(3):
        a, b = corners[:, k], corners[:, (k + 1) % 3]
        side = b - a
        share = np.einsum("ij,ij->i", points - a, side) / np.einsum("ij,ij->i", side, side)
        foot = a + np.clip(share, 0.0, 1.0)[:, None] * side
        away = np.linalg.norm(points - foot, axis=1)
        best = np.where((away < least)[:, None], foot, best)
        least = np.minimum(away, least)
    return np.asarray(best + _INSET * (corners.mean(axis=1) - best))


def _along_edges(edges: Edges, here: Samples, touch: Array, step: Array) -> tuple[Array, Array]:
    """Place points (n, k, 3) on their edges, with normals of the fan that follow the chord."""
    e = here.edge
    now = np.einsum("ij,ij->i", here.points - edges.start[e], edges.along[e])
    foot = np.einsum("ij,ij->i", touch - edges.start[e], edges.along[e])
    reach = 2.0 ** -np.arange(_RING // 2)
    moves = step[:, None] * np.concatenate([reach, -reach])
    # the first of the feet stays: only its normal follows the chord
    feet = (foot - now)[:, None] * np.concatenate([[0.0], _FEET[1:]])
    share = np.clip(
        (now[:, None] + np.concatenate([moves, feet], axis=1)) / edges.length[e][:, None], 0.0, 1.0
    )
    along = share * edges.length[e][:, None]
    points = edges.start[e][:, None] + along[:, :, None] * edges.along[e][:, None]
    back = points - touch[:, None]
    left, turning = edges.left[e], edges.turning[e]
    square = edges.right[e] - np.cos(turning)[:, None] * left
    square /= np.maximum(np.linalg.norm(square, axis=1), LAST_DIGITS)[:, None]
    angle = np.arctan2(np.einsum("nkj,nj->nk", back, square), np.einsum("nkj,nj->nk", back, left))
    angle = np.where(angle < turning[:, None] / 2.0 - np.pi, np.pi, angle)
    fan = np.clip(angle / turning[:, None], 0.0, 1.0)
    normal = normal_between(edges, np.repeat(e, _EACH), fan.ravel())
    return points, -normal.reshape(-1, _EACH, 3)


def _at_tips(surface: Surface, here: Samples, touch: Array) -> Array:
    """Turn normals (n, k, 3) towards the chord, as far as the cone of the tip allows."""
    way = touch - here.points
    way /= np.linalg.norm(way, axis=1)[:, None]
    share = np.linspace(1.0 / _EACH, 1.0, _EACH)
    mixed = here.inward[:, None] + share[:, None] * (way - here.inward)[:, None]
    mixed /= np.linalg.norm(mixed, axis=2)[:, :, None]
    corners = surface.points
    for k, point in enumerate(here.points):
        i = int(np.linalg.norm(corners.point - point, axis=1).argmin())
        away = corners.away[corners.first[i] : corners.first[i + 1]]
        mixed[k][(mixed[k] @ away.T > ANGLE).any(axis=1)] = here.inward[k]
    return np.asarray(mixed)
