"""Necks of an area: where it is thin in its own plane, whatever the other views do."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon

from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.thickness.clusters import Linking, places
from silhouette3d.geometry.thickness.definition import BETA, cap, check_limit, spacing

# --- The lines and corners of an outline, and what can be seen between them


Indices = NDArray[np.int64]
Mask = NDArray[np.bool_]

NEAR: Final = 1e-8
"""mm. What is nearer than this to a line lies on it."""

_TRIM: Final = 1e-6
_AT_ONCE: Final = 20_000


@dataclass(frozen=True)
class PolygonEdges:
    """The lines of an outline, each with the material on its left, and its corners.

    Parameters
    ----------
    start, along, inward : (n, 2) arrays
        In mm; unit vectors along each line and square to it into the material.
    length : (n,) array
        In mm.
    before : (n,) array of int
        The line that ends where each starts; that point is corner n.
    turn : (n,) array
        Angle by which the border turns to the left at each corner, in radians:
        positive where the material is convex.
    tree : shapely.STRtree
        Over the lines.
    """

    start: Array
    along: Array
    inward: Array
    length: Array
    before: Indices
    turn: Array
    tree: shapely.STRtree


def border_of(area: MultiPolygon) -> PolygonEdges:
    """The border of an area in mm, whichever way its rings run; points drawn twice count once."""
    starts, ends, before = [np.empty((0, 2))], [np.empty((0, 2))], [np.empty(0, np.int64)]
    total = 0
    for polygon in shapely.get_parts(shapely.orient_polygons(area)):
        for ring in (polygon.exterior, *polygon.interiors):
            points = shapely.get_coordinates(ring)[:-1]
            points = points[(points != np.roll(points, 1, axis=0)).any(axis=1)]
            starts.append(points)
            ends.append(np.roll(points, -1, axis=0))
            before.append(total + np.roll(np.arange(len(points)), 1))
            total += len(points)
    start, end = np.concatenate(starts), np.concatenate(ends)
    length = np.linalg.norm(end - start, axis=1)
    along = (end - start) / length[:, None]
    inward = np.column_stack([-along[:, 1], along[:, 0]])
    previous = np.concatenate(before)
    came = along[previous]
    turn = np.arctan2(cross(came, along), np.einsum("ij,ij->i", came, along))
    lines = np.asarray(shapely.linestrings(np.stack([start, end], axis=1)))
    tree = shapely.STRtree(lines)
    return PolygonEdges(start, along, inward, length, previous, turn, tree)


def cross(a: Array, b: Array) -> Array:
    """(n,) of vectors (n, 2): the sine of the angle from a to b, times both lengths."""
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


def is_clear(border: PolygonEdges, start: Array, end: Array) -> Mask:
    """Which of the ways between points (n, 2) and (n, 2) no line lies across."""
    clear = np.ones(len(start), bool)
    a, b = start + _TRIM * (end - start), end - _TRIM * (end - start)
    for first in range(0, len(start), _AT_ONCE):
        last = first + _AT_ONCE
        ways = shapely.linestrings(np.stack([a[first:last], b[first:last]], axis=1))
        i, k = border.tree.query(ways)
        i = i + first
        here = np.einsum("ij,ij->i", a[i] - border.start[k], border.inward[k])
        there = np.einsum("ij,ij->i", b[i] - border.start[k], border.inward[k])
        across = (np.maximum(here, there) > NEAR) & (np.minimum(here, there) < -NEAR)
        share = here / np.where(across, here - there, 1.0)
        at = a[i] + share[:, None] * (b[i] - a[i])
        along = np.einsum("ij,ij->i", at - border.start[k], border.along[k])
        across &= (along >= -NEAR) & (along <= border.length[k] + NEAR)
        clear[i[across]] = False
    return clear


# --- Necks of an outline itself: where it is thin in its own plane, whatever the other views do
#
# The definition is that of `thickness`, in the plane. Chords are exact: between a
# line and the corners opposite, between two corners, and from the ends of a line
# to the lines opposite; the thinnest place of straight lines is among these. More
# chords from points along the lines tell which of them hang together.


_SAME: Final = 1e-7
_GRAZING: Final = 1e-7
"""Radians. A way that leaves the material by less than this runs along its border."""


@dataclass(frozen=True, eq=False)
class Neck:
    """A place where an outline is thinner than the limit.

    Parameters
    ----------
    thickness : float
        Where it is thinnest, in mm.
    p, q : (2,) arrays
        The two points of the outline between which it is thinnest, in mm.
    length : float
        How far the thin place stretches, in mm.
    """

    thickness: float
    p: Array
    q: Array
    length: float

    def __post_init__(self) -> None:
        for values in (self.p, self.q):
            values.setflags(write=False)

    @property
    def at(self) -> Array:
        """(2,) halfway between p and q, in mm."""
        return np.asarray((self.p + self.q) / 2.0)


def thin_in_view(area: MultiPolygon, limit: float) -> tuple[Neck, ...]:
    """Every place where an outline is thinner than a limit.

    As for `thin_regions`: a place is thin where the smallest disc that touches
    the outline on both sides is smaller than the limit, the way between the two
    points lies in the material, and is within 22 degrees of the normals there.
    Corners sharper than 44 degrees are knife edges of the part and are left to
    that check, with what is thin beside them.

    Parameters
    ----------
    area : shapely.MultiPolygon
        In mm.
    limit : float
        In mm.

    Returns
    -------
    tuple of Neck
        Thinnest first.

    Raises
    ------
    JobError
        If the limit is not a positive number.
    """
    check_limit(limit)
    border = border_of(area)
    if not len(border.start):
        return ()
    most, h = cap(limit), spacing(limit)
    lots = [_clear_ones(border, lot) for lot in _chords(border, most, h)]
    p, q, size = (np.concatenate(columns) for columns in zip(*lots, strict=True))
    sharp = _beside_sharp_corners(border, p, q, size)
    order = np.argsort(sharp, kind="stable")
    p, q, size = p[order], q[order], size[order]
    loose = len(p) - int(sharp.sum())
    clear = partial(is_clear, border)
    chords = Linking.of(np.stack([p, q], axis=1), clear, h)
    place = places(chords.chosen(np.arange(loose)), size[:loose], h)
    necks = []
    for k in range(int(place.max(initial=-1)) + 1):
        rows = np.nonzero(place == k)[0]
        best = _middle_of_thinnest(chords.middle[rows], size[rows])
        with_sharp = np.concatenate([rows[[best]], np.arange(loose, len(p))])
        limit_below = size[rows[[best]]] * (1.0 - _SAME)
        if chords.chosen(with_sharp).first_below(limit_below, size[loose:])[0] < 0:
            necks.append(_neck(p[rows], q[rows], size[rows], best))
    return tuple(sorted(necks, key=lambda n: (round(n.thickness, 6), *np.round(n.at, 6))))


def _middle_of_thinnest(middle: Array, size: Array) -> int:
    """The thinnest chord, of several as thin the one nearest their middle."""
    thinnest = np.nonzero(size <= size.min() * (1.0 + _SAME))[0]
    away = np.linalg.norm(middle[thinnest] - middle[thinnest].mean(axis=0), axis=1)
    return int(thinnest[np.lexsort((thinnest, np.round(away, 6)))[0]])


def _neck(p: Array, q: Array, size: Array, best: int) -> Neck:
    middle = (p + q) / 2.0
    far = middle[np.linalg.norm(middle - middle[0], axis=1).argmax()]
    length = float(np.linalg.norm(middle - far, axis=1).max())
    return Neck(float(size[best]), p[best].copy(), q[best].copy(), length)


def _chords(border: PolygonEdges, most: float, h: float) -> Iterator[tuple[Array, Array, Array]]:
    """From p (k, 2) to q (k, 2) with the diameter (k,) of the disc, all below `most` mm.

    A bounded number at a time; the ways between them are not looked at yet.
    """
    for points, inward in _samples(border, h):
        i, k = _near(border, points, most)
        yield _below(most, *_to_lines(border, points[i], inward[i], k))
    corners = np.nonzero(np.abs(border.turn) > _GRAZING)[0]
    for first in range(0, len(corners), _AT_ONCE):
        some = corners[first : first + _AT_ONCE]
        i, k = _near(border, border.start[some], most)
        yield _below(most, *_to_corners(border, k, some[i]))
        yield _below(most, *_between_corners(border, some[i], k))


def _below(most: float, p: Array, q: Array, size: Array) -> tuple[Array, Array, Array]:
    good = size < most
    return p[good], q[good], size[good]


def _near(border: PolygonEdges, points: Array, most: float) -> tuple[Indices, Indices]:
    """Points and lines within reach of each other, by index."""
    pairs = border.tree.query(shapely.points(points), predicate="dwithin", distance=most)
    return pairs[0].astype(np.int64), pairs[1].astype(np.int64)


def _samples(border: PolygonEdges, h: float) -> Iterator[tuple[Array, Array]]:
    """Points and inward normals: both ends of every line and every h between."""
    count = np.ceil(border.length / h).astype(np.int64) + 1
    line = np.repeat(np.arange(len(count)), count)
    k = np.arange(len(line)) - np.repeat(np.cumsum(count) - count, count)
    share = k / (count[line] - 1)
    points = border.start[line] + (share * border.length[line])[:, None] * border.along[line]
    yield from _lots(points, border.inward[line])


def _lots(points: Array, inward: Array) -> Iterator[tuple[Array, Array]]:
    for first in range(0, len(points), _AT_ONCE):
        yield points[first : first + _AT_ONCE], inward[first : first + _AT_ONCE]


def _to_lines(border: PolygonEdges, p: Array, m: Array, k: Indices) -> tuple[Array, Array, Array]:
    """The discs tangent at p (n, 2) with inward normals m that are tangent to lines k (n,)."""
    n = -border.inward[k]
    facing = np.einsum("ij,ij->i", m, n)
    high = np.einsum("ij,ij->i", border.start[k] - p, n)
    radius = high / np.maximum(1.0 + facing, _SAME)
    q = p + radius[:, None] * (m + n)
    share = np.einsum("ij,ij->i", q - border.start[k], border.along[k])
    good = (facing >= math.cos(2.0 * BETA) - 1e-12) & (high > NEAR)
    good &= (share >= -NEAR) & (share <= border.length[k] + NEAR)
    return p, q, np.where(good, 2.0 * radius, np.inf)


def _fan(border: PolygonEdges, corner: Indices, m: Array) -> tuple[Array, Array, Array, Array]:
    """Limits (n,) of ways into corners, as angles from m: by the fan of normals; by the material.

    The fan of outward normals runs from that of the line before to that of the
    line after; a convex corner is reached from the material between the two.
    """
    outward = -border.inward[border.before[corner]]
    first = np.arctan2(cross(m, outward), np.einsum("ij,ij->i", m, outward))
    second = first + border.turn[corner]
    low, high = np.minimum(first, second), np.maximum(first, second)
    convex = border.turn[corner] > 0.0
    inside_low = np.where(convex, high - math.pi / 2.0 - _GRAZING, -np.inf)
    inside_high = np.where(convex, low + math.pi / 2.0 + _GRAZING, np.inf)
    return low, high, inside_low, inside_high


def _to_corners(border: PolygonEdges, k: Indices, corner: Indices) -> tuple[Array, Array, Array]:
    """The smallest discs tangent to lines k (n,) that touch corners (n,)."""
    q, m = border.start[corner], border.inward[k]
    high = np.einsum("ij,ij->i", q - border.start[k], m)
    foot = np.einsum("ij,ij->i", q - border.start[k], border.along[k])
    size, best = np.full(len(k), np.inf), foot.copy()
    for whole in (-2.0 * math.pi, 0.0, 2.0 * math.pi):  # the fan may lie a turn away
        low, high_end, inside_low, inside_high = (a + whole for a in _fan(border, corner, m))
        least = np.maximum(np.maximum(low - BETA, inside_low), -BETA)
        most = np.minimum(np.minimum(high_end + BETA, inside_high), BETA)
        possible = (least <= most) & (high > NEAR)
        # the way turned by an angle to the left of m starts so far before the foot
        t = np.tan(np.clip(np.stack([least, most]), -BETA, BETA))
        lower, upper = np.minimum(*(foot + high * t)), np.maximum(*(foot + high * t))
        lower, upper = np.maximum(lower, 0.0), np.minimum(upper, border.length[k])
        at = np.clip(foot, lower, upper)
        disc = (high**2 + (at - foot) ** 2) / np.where(possible, high, 1.0)
        better = possible & (lower <= upper) & (disc < size)
        size, best = np.where(better, disc, size), np.where(better, at, best)
    return border.start[k] + best[:, None] * border.along[k], q, size


def _between_corners(
    border: PolygonEdges, corner: Indices, k: Indices
) -> tuple[Array, Array, Array]:
    """From concave corners (n,) to the corners that start lines k (n,), straight across."""
    p, q = border.start[corner], border.start[k]
    far = np.linalg.norm(q - p, axis=1)
    way = (q - p) / np.where(far > NEAR, far, 1.0)[:, None]
    good = (far > NEAR) & (border.turn[corner] < 0.0) & (np.abs(border.turn[k]) > _GRAZING)
    leaves, reaches = np.zeros(len(k), bool), np.zeros(len(k), bool)
    for whole in (-2.0 * math.pi, 0.0, 2.0 * math.pi):
        low, high, _, _ = (a + whole for a in _fan(border, corner, -way))
        leaves |= (low <= _GRAZING) & (high >= -_GRAZING)
        low, high, least, most = (a + whole for a in _fan(border, k, way))
        inside = (least <= 0.0) & (most >= 0.0)
        reaches |= (low <= BETA) & (high >= -BETA) & inside
    return p, q, np.where(good & leaves & reaches, far, np.inf)


def _clear_ones(
    border: PolygonEdges, chords: tuple[Array, Array, Array]
) -> tuple[Array, Array, Array]:
    p, q, size = chords
    good = is_clear(border, p, q)
    return p[good], q[good], size[good]


def _beside_sharp_corners(border: PolygonEdges, p: Array, q: Array, size: Array) -> Mask:
    """Which chords belong to a corner of 44 degrees or less, by the rule for knife edges.

    They lie across it, see it, and are no nearer together than in a corner of
    half the width.
    """
    beside = np.zeros(len(p), bool)
    middle = (p + q) / 2.0
    way = (q - p) / np.linalg.norm(q - p, axis=1)[:, None]
    for corner in np.nonzero(math.pi - border.turn <= 2.0 * BETA + 1e-9)[0]:
        half = (math.pi - border.turn[corner]) / 2.0
        across = border.along[corner] + border.along[border.before[corner]]
        across /= max(float(np.linalg.norm(across)), _SAME)
        away = np.linalg.norm(middle - border.start[corner], axis=1)
        own = (size >= math.sin(half) * away) & (np.abs(way @ across) >= math.cos(2.0 * BETA))
        rows = np.nonzero(own & ~beside)[0]
        tip = np.broadcast_to(border.start[corner], (len(rows), 2))
        beside[rows[is_clear(border, middle[rows], tip)]] = True
    return beside
