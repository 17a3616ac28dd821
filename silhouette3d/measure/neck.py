"""Necks of an outline: where it is thinner than a limit, in its own plane.

The definition is that of `silhouette3d.measure.thickness` in the plane. Two
points of the outline face each other when the way between them lies in the
material and within 22 degrees of the normals at both; at a hollow corner any
direction between the normals of its two sides will do. The width there is the
diameter of the circle that just fits. It is least where a corner, or a point of
a side, stands square over another side, or where two corners face each other,
so the least width is found exactly and not between samples.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import KDTree
from shapely import MultiPolygon

from silhouette3d.view import Array

FACING: Final = math.radians(22.0)
"""How far the way between two points may turn from the normals at its ends."""

SLACK: Final = 1e-4
"""Share of the limit. What is thinner by less counts as wide enough."""

_ROOM: Final = 1e-7
"""mm. The way between two points may leave the material by this, for rounding."""


@dataclass(frozen=True, eq=False)
class Neck:
    """A place where an outline is thin.

    Parameters
    ----------
    thickness : float
        Where it is thinnest, in mm.
    p, q : (2,) arrays
        The two points of the outline between which it is, in the outline's coordinates.
    length : float
        How far the neck extends, in mm.
    """

    thickness: float
    p: Array
    q: Array
    length: float

    @property
    def at(self) -> Array:
        """(2,) halfway between p and q."""
        return np.asarray((self.p + self.q) / 2.0)


@dataclass(frozen=True, eq=False)
class _Sides:
    """All sides of an area, material on their left."""

    start: Array
    end: Array
    before: NDArray[np.int64]
    """The side that ends where each begins."""

    @property
    def inward(self) -> Array:
        along = self.end - self.start
        return np.asarray(
            np.column_stack([-along[:, 1], along[:, 0]]) / np.linalg.norm(along, axis=1)[:, None]
        )


def thin_in_view(area: MultiPolygon, limit: float) -> tuple[Neck, ...]:
    """Every neck of an area that is thinner than a limit, thinnest first.

    Parameters
    ----------
    area : shapely.MultiPolygon
        In mm.
    limit : float
        In mm.
    """
    if area.is_empty:
        return ()
    sides = _sides(area)
    points, low, high, owner = _points(sides, limit / 4.0)
    width, other = _facing(area, sides, points, low, high, owner, limit * (1.0 - SLACK))
    thin = np.isfinite(width)
    return tuple(_gathered(points[thin], other[thin], width[thin], limit))


def _sides(area: MultiPolygon) -> _Sides:
    starts, ends, before, count = [], [], [], 0
    for polygon in shapely.get_parts(shapely.orient_polygons(area)):
        for ring in (polygon.exterior, *polygon.interiors):
            points = np.asarray(ring.coords)
            points = points[np.r_[True, np.linalg.norm(np.diff(points, axis=0), axis=1) > 0.0]]
            starts.append(points[:-1])
            ends.append(points[1:])
            size = len(points) - 1
            before.append(count + np.roll(np.arange(size), 1))
            count += size
    return _Sides(np.concatenate(starts), np.concatenate(ends), np.concatenate(before))


def _points(sides: _Sides, spacing: float) -> tuple[Array, Array, Array, NDArray[np.int64]]:
    """Corners and points along the sides (n, 2), the range of their inward normals, their side.

    The range is given by its two ends (n, 2): the same for a point of a side; for
    a corner the normals of both sides, in the order in which a hollow one fans.
    The side of a corner is −1.
    """
    inward = sides.inward
    corners = sides.start, inward[sides.before], inward
    length = np.linalg.norm(sides.end - sides.start, axis=1)
    count = np.maximum(1, np.ceil(length / spacing).astype(int))
    owner = np.repeat(np.arange(len(count)), count - 1)
    step = np.concatenate([np.arange(1, k) / k for k in count]) if len(owner) else np.empty(0)
    between = sides.start[owner] + step[:, None] * (sides.end - sides.start)[owner]
    return (
        np.concatenate([corners[0], between]),
        np.concatenate([corners[1], inward[owner]]),
        np.concatenate([corners[2], inward[owner]]),
        np.concatenate([np.full(len(sides.start), -1), owner]),
    )


def _facing(
    area: MultiPolygon,
    sides: _Sides,
    points: Array,
    low: Array,
    high: Array,
    owner: NDArray[np.int64],
    limit: float,
) -> tuple[Array, Array]:
    """For each point the least width below the limit and the point it faces; inf for none.

    Two sides that meet in a sharp corner are left out: that is a knife edge of
    the solid, and no neck.
    """
    lines = shapely.linestrings(np.stack([sides.start, sides.end], axis=1))
    tree = shapely.STRtree(list(np.asarray(lines, object)))
    i, j = tree.query(shapely.points(points), predicate="dwithin", distance=limit)
    meet = (owner[i] >= 0) & ((sides.before[j] == owner[i]) | (sides.before[owner[i]] == j))
    i, j = i[~meet], j[~meet]
    foot = _foot(points[i], sides.start[j], sides.end[j])
    way = foot - points[i]
    size = np.linalg.norm(way, axis=1)
    direction = way / np.where(size > 0.0, size, 1.0)[:, None]
    here = _angle(direction, low[i], high[i])
    there = _angle_at_foot(direction, foot, sides, j)
    width = size / np.cos(np.minimum(here, FACING))
    good = (size > 1e-9) & (here <= FACING) & (there <= FACING) & (width < limit)
    i, foot, width = i[good], foot[good], width[good]
    ways = shapely.linestrings(np.stack([points[i], foot], axis=1))
    inside = shapely.covered_by(ways, shapely.buffer(area, _ROOM))
    i, foot, width = i[inside], foot[inside], width[inside]
    best = np.full(len(points), np.inf)
    other = np.zeros((len(points), 2))
    order = np.argsort(-width, kind="stable")  # the least is written last
    best[i[order]], other[i[order]] = width[order], foot[order]
    return best, other


def _foot(points: Array, start: Array, end: Array) -> Array:
    """The nearest point of each side."""
    along = end - start
    share = np.einsum("ij,ij->i", points - start, along) / np.einsum("ij,ij->i", along, along)
    return np.asarray(start + np.clip(share, 0.0, 1.0)[:, None] * along)


def _angle(direction: Array, low: Array, high: Array) -> Array:
    """Angle from a direction to a range of normals: none inside the fan of a hollow corner."""
    outside = np.minimum(_between(direction, low), _between(direction, high))
    hollow = _cross(low, high) < 0.0  # material on the left: a right turn is hollow
    within = hollow & (_cross(low, direction) <= 0.0) & (_cross(direction, high) <= 0.0)
    return np.where(within, 0.0, outside)


def _angle_at_foot(direction: Array, foot: Array, sides: _Sides, j: NDArray[np.int64]) -> Array:
    """The same at the other end of the way, where it arrives against the inward normal."""
    inward = sides.inward
    after = np.empty_like(sides.before)
    after[sides.before] = np.arange(len(sides.before))
    at_start = np.linalg.norm(foot - sides.start[j], axis=1) < 1e-9
    at_end = np.linalg.norm(foot - sides.end[j], axis=1) < 1e-9
    low = np.where(at_start[:, None], inward[sides.before[j]], inward[j])
    high = np.where(at_end[:, None], inward[after[j]], inward[j])
    return _angle(-direction, low, high)


def _between(a: Array, b: Array) -> Array:
    return np.asarray(np.arccos(np.clip(np.einsum("ij,ij->i", a, b), -1.0, 1.0)))


def _cross(a: Array, b: Array) -> Array:
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])


def _gathered(points: Array, other: Array, width: Array, limit: float) -> Iterator[Neck]:
    """Ways that lie near each other as one neck."""
    if not len(points):
        return
    middles = (points + other) / 2.0
    pairs = KDTree(middles).query_pairs(0.75 * limit, output_type="ndarray")
    count = len(middles)
    links = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    pieces, label = connected_components(links, directed=False)
    necks = []
    for piece in range(pieces):
        own = np.nonzero(label == piece)[0]
        least = own[np.argmin(np.round(width[own], 9))]
        spread = float(np.linalg.norm(np.ptp(middles[own], axis=0)))
        necks.append(Neck(float(width[least]), points[least], other[least], spread))
    yield from sorted(necks, key=lambda neck: neck.thickness)
