"""Necks of an area: where it is thin in its own plane, whatever the other views do.

Problem: every place where an outline is thinner than a limit, with its thinnest chord.

Method: the definition is that of `thickness`, in the plane. Chords are exact: between a line and
the corners opposite, between two corners, and from the ends of a line to the lines opposite. More
chords, from points along the lines, tell which of them hang together (`clusters`). Where lines are
chords of curves, all of that is found within twice their deviation, and the curves decide.

Lemma: between two straight lines the diameter of the tangent disc has its least value at an end of
one of them, so the thinnest place of straight lines is among the exact chords.

Complexity: O(n log n + k) for n lines and points on them, of which k pairs come within the limit.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from functools import partial
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely import MultiPolygon

from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.indices import ragged
from silhouette3d.geometry.polygons import cross
from silhouette3d.geometry.thickness.clusters import Linking, places
from silhouette3d.geometry.thickness.definition import BETA, cap, check_limit, spacing
from silhouette3d.geometry.tolerances import ANGLE, LAST_DIGITS, NEAR, SHARE
from silhouette3d.geometry.true_curves import NO_CURVES, SMOOTH, WIDER, TrueCurves, tangent_balls

# --- The lines and corners of an outline, and what can be seen between them


Indices = NDArray[np.int64]
Mask = NDArray[np.bool_]

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
    """List the border of an area in mm, however its rings run; points drawn twice count once."""
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


def is_clear(border: PolygonEdges, start: Array, end: Array) -> Mask:
    """Tell which of the ways between points (n, 2) and (n, 2) no line lies across."""
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


_SAME: Final = 1e-7
_FACING: Final = math.cos(2.0 * BETA) - SHARE
_MUCH: Final = 1e6
"""mm. More than any disc."""
_STARTS: Final = 8
_STEPS: Final = 16
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


@dataclass(frozen=True)
class _Ways:
    """Chords across an outline.

    Parameters
    ----------
    p, q : (n, 2) arrays
        Where they begin and end, in mm.
    size : (n,) array
        Diameters of their discs in mm.
    begin, end : (n,) arrays of int
        The line that each begins or ends on; or -1 less the corner.
    """

    p: Array
    q: Array
    size: Array
    begin: Indices
    end: Indices

    def chosen(self, rows: Indices | Mask) -> _Ways:
        return _Ways(*(getattr(self, field.name)[rows] for field in fields(self)))

    @classmethod
    def together(cls, lots: Iterable[_Ways]) -> _Ways:
        some = list(lots)
        return cls(
            *(np.concatenate([getattr(one, field.name) for one in some]) for field in fields(cls))
        )


@dataclass(frozen=True)
class _Drawn:
    """Curves that the lines and corners of a border stand for.

    Parameters
    ----------
    curves : TrueCurves
        In the plane of the border.
    line, corner : (n,) arrays of int
        The chord that each line is, and at each corner where the curves of both its lines go on
        into each other; -1 for others.
    turn : (n,) array
        As `PolygonEdges.turn`, by the curves.
    """

    curves: TrueCurves
    line: Indices
    corner: Indices
    turn: Array

    @classmethod
    def of(cls, border: PolygonEdges, curves: TrueCurves) -> _Drawn:
        ends = border.start + border.length[:, None] * border.along
        outward = _in_space(-border.inward)
        line = curves.rows_at(_in_space((border.start + ends) / 2.0), outward)
        if (line < 0).all():
            return cls(curves, line, line, border.turn)
        known = np.nonzero(line >= 0)[0]
        begins, finishes = border.inward.copy(), border.inward.copy()
        for inward, at in ((begins, border.start), (finishes, ends)):
            normal = curves.nearest(line[known], _in_space(at[known]), outward[known])[1]
            inward[known] = -normal[:, :2]
        came = finishes[border.before]
        turn = np.arctan2(cross(came, begins), np.einsum("ij,ij->i", came, begins))
        goes_on = (np.abs(turn) < SMOOTH) & (line >= 0) & (line[border.before] >= 0)
        return cls(curves, line, np.where(goes_on, line, -1), turn)

    @property
    def has_curves(self) -> bool:
        return bool((self.line >= 0).any())

    def of_items(self, items: Indices) -> Indices:
        """Number the chords of lines, and of corners as -1 less their number."""
        return np.where(items >= 0, self.line[items], self.corner[-1 - items])

    def beta(self, one: Indices, other: Indices) -> Array:
        """Bound how far ways between lines or corners may be off the normals of chords."""
        curved = (self.of_items(one) >= 0) | (self.of_items(other) >= 0)
        return np.where(curved, BETA + self.curves.turn, BETA)

    def corrected(self, border: PolygonEdges, ways: _Ways, most: float, h: float) -> _Ways:
        """Keep those below `most` mm that face each other on the curves, with the discs there."""
        begin, end = self.of_items(ways.begin), self.of_items(ways.end)
        rows = np.nonzero((begin >= 0) | (end >= 0))[0]
        there, facing = self.discs(border, ways.chosen(rows))
        sizes = ways.size.copy()
        sizes[rows] = _merit(there, facing)
        found = replace(ways, size=sizes).chosen(sizes < most)
        slope = 2.0 * np.sqrt(np.maximum(1.0 - facing, 0.0) / np.maximum(1.0 + facing, _SAME))
        low = (sizes[rows] >= most) & (begin[rows] >= 0) & (there.size - h * slope < most)
        if not low.any():
            return found
        sunk = self.least(border, ways.chosen(rows[low]), h)
        return _Ways.together([found, sunk.chosen(sunk.size < most)])

    def least(self, border: PolygonEdges, ways: _Ways, h: float) -> _Ways:
        """Move ways that begin on curves to where their discs are smallest.

        Three discs lie on a parabola, whose lowest point is tried; or where the walls do not face
        each other, a place on the way to where they do.
        """
        best, facing = self.discs(border, ways)
        best = replace(best, size=_merit(best, facing))
        step = np.full(len(best.size), h / 4.0)
        for _ in range(_STEPS):
            way = best.q - best.p
            along = np.column_stack([-way[:, 1], way[:, 0]])
            along /= np.linalg.norm(along, axis=1)[:, None]
            back, on = (
                _merit(*self.discs(border, replace(best, p=best.p + shift[:, None] * along)))
                for shift in (-step, step)
            )
            to = _downhill(back, best.size, on)
            moved, facing = self.discs(
                border, replace(best, p=best.p + (step * to)[:, None] * along)
            )
            moved = replace(moved, size=_merit(moved, facing))
            better = moved.size < best.size
            chosen = np.where(better, np.arange(len(better)) + len(better), np.arange(len(better)))
            best = _Ways.together([best, moved]).chosen(chosen)
            step = np.where(better & (np.abs(to) >= 1.0), step, step / 3.0)
        return best

    def discs(self, border: PolygonEdges, some: _Ways) -> tuple[_Ways, Array]:
        """Put ways on the curves with the discs there, and tell how (n,) what they touch faces."""
        begin, end = self.of_items(some.begin), self.of_items(some.end)
        points, inward = _in_space(some.p), _in_space(some.q - some.p)
        on_line = some.begin >= 0
        inward[on_line] = _in_space(border.inward[some.begin[on_line]])
        inward /= np.linalg.norm(inward, axis=1)[:, None]
        moved = begin >= 0
        points[moved], outward = self.curves.nearest(begin[moved], points[moved], -inward[moved])
        inward[moved] = -outward
        normal = np.full_like(points, np.nan)
        flat = (end < 0) & (some.end >= 0)
        normal[flat] = _in_space(-border.inward[some.end[flat]])
        touch = _in_space(some.q)
        size, facing, touch = tangent_balls(
            self.curves, points, inward, some.size, end, touch, normal
        )
        return replace(some, p=points[:, :2], q=touch[:, :2], size=size), facing


def _merit(ways: _Ways, facing: Array) -> Array:
    """Rank discs by size; where what they touch does not face them, by how much: worse."""
    return np.where(facing >= _FACING, ways.size, _MUCH + _FACING - facing)


def _downhill(back: Array, here: Array, on: Array) -> Array:
    """Find where three merits one step apart are least, in steps from the middle one."""
    bend = back + on - 2.0 * here
    curved = (np.maximum(np.maximum(back, on), here) < _MUCH) & (bend > 0.0)
    lowest = np.clip((back - on) / np.where(curved, 2.0 * bend, 1.0), -2.0, 2.0)
    # on a slope to the lower side; at the edge of where the walls face each other a third further
    edge = np.minimum(back, on) >= here
    side = np.where(back < on, -1.0, 1.0)
    return np.where(curved, lowest, np.where(edge, -side / 3.0, side))


def _in_space(flat: Array) -> Array:
    return np.column_stack([flat, np.zeros(len(flat))])


def thin_in_view(
    area: MultiPolygon, limit: float, curves: TrueCurves = NO_CURVES
) -> tuple[Neck, ...]:
    """Find every place where an outline is thinner than a limit.

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
    curves : TrueCurves
        What lines of it stand for, in the same plane; where they do, the curves decide.

    Returns
    -------
    tuple of Neck
        Thinnest first.

    Raises
    ------
    ValueError
        If the limit is not a positive number.
    """
    check_limit(limit)
    border = border_of(area)
    if not len(border.start):
        return ()
    most, h = cap(limit), spacing(limit)
    drawn = _Drawn.of(border, curves)
    ways = _Ways.together(_clear_ways(border, drawn, most, h))
    p, q, size = ways.p, ways.q, ways.size
    sharp = _beside_sharp_corners(border, drawn.turn, p, q, size)
    order = np.argsort(sharp, kind="stable")
    p, q, size = p[order], q[order], size[order]
    loose = len(p) - int(sharp.sum())
    clear = partial(is_clear, border)
    chords = Linking.of(np.stack([p, q], axis=1), clear, h)
    place = places(chords.chosen(np.arange(loose)), size[:loose], h)
    kept, best = [], []
    for k in range(int(place.max(initial=-1)) + 1):
        rows = np.nonzero(place == k)[0]
        one = rows[_middle_of_thinnest(chords.middle[rows], size[rows])]
        with_sharp = np.concatenate([[one], np.arange(loose, len(p))])
        limit_below = size[[one]] * (1.0 - _SAME)
        if chords.chosen(with_sharp).first_below(limit_below, size[loose:])[0] < 0:
            kept.append(rows)
            best.append(one)
    ways = ways.chosen(order)
    thinnest = _thinnest(border, drawn, ways, kept, best, h)
    necks = [_neck(p[rows], q[rows], least) for rows, least in zip(kept, thinnest, strict=True)]
    return tuple(sorted(necks, key=lambda n: (round(n.thickness, 6), *np.round(n.at, 6))))


def _middle_of_thinnest(middle: Array, size: Array) -> int:
    """Find the thinnest chord, of several as thin the one nearest their middle."""
    thinnest = np.nonzero(size <= size.min() * (1.0 + _SAME))[0]
    away = np.linalg.norm(middle[thinnest] - middle[thinnest].mean(axis=0), axis=1)
    return int(thinnest[np.lexsort((thinnest, np.round(away, 6)))[0]])


def _thinnest(
    border: PolygonEdges,
    drawn: _Drawn,
    ways: _Ways,
    places: Sequence[Indices],
    best: Sequence[int],
    h: float,
) -> list[_Ways]:
    """Find the thinnest way of each place; on curves it may lie between those known."""
    known = [ways.chosen(np.array([one])) for one in best]
    curved = drawn.of_items(ways.begin) >= 0
    low = [rows[curved[rows]] for rows in places]
    low = [rows[np.argsort(ways.size[rows], kind="stable")[:_STARTS]] for rows in low]
    if not sum(map(len, low)):
        return known
    some, first = drawn.least(border, ways.chosen(np.concatenate(low)), h), 0
    for k, rows in enumerate(low):
        last = first + len(rows)
        if len(rows) and some.size[first:last].min() < known[k].size[0] * (1.0 - _SAME):
            known[k] = some.chosen(np.array([first + int(some.size[first:last].argmin())]))
        first = last
    return known


def _neck(p: Array, q: Array, thinnest: _Ways) -> Neck:
    middle = (p + q) / 2.0
    far = middle[np.linalg.norm(middle - middle[0], axis=1).argmax()]
    length = float(np.linalg.norm(middle - far, axis=1).max())
    return Neck(float(thinnest.size[0]), thinnest.p[0].copy(), thinnest.q[0].copy(), length)


def _clear_ways(border: PolygonEdges, drawn: _Drawn, most: float, h: float) -> Iterator[_Ways]:
    """Yield all ways across with a disc below `most` mm and only material between."""
    wider = most + 2.0 * WIDER * drawn.curves.deviation if drawn.has_curves else most
    for lot in _chords(border, drawn, wider, h):
        ways = drawn.corrected(border, lot, most, h) if drawn.has_curves else lot
        yield ways.chosen(is_clear(border, ways.p, ways.q))


def _chords(border: PolygonEdges, drawn: _Drawn, most: float, h: float) -> Iterator[_Ways]:
    """Yield ways with a disc below `most` mm.

    A bounded number at a time; what lies between their ends is not looked at yet.
    """
    for points, line in _samples(border, h):
        i, k = _near(border, points, most)
        beta = drawn.beta(line[i], k)
        found = _to_lines(border, points[i], border.inward[line[i]], k, beta)
        yield _below(most, *found, line[i], k)
    corners = np.nonzero(np.abs(border.turn) > _GRAZING)[0]
    for first in range(0, len(corners), _AT_ONCE):
        some = corners[first : first + _AT_ONCE]
        i, k = _near(border, border.start[some], most)
        corner, other = -1 - some[i], -1 - k
        found = _to_corners(border, k, some[i], drawn.beta(k, corner))
        yield _below(most, *found, k, corner)
        found = _between_corners(border, some[i], k, drawn.beta(corner, other))
        yield _below(most, *found, corner, other)


def _below(most: float, p: Array, q: Array, size: Array, begin: Indices, end: Indices) -> _Ways:
    return _Ways(p, q, size, begin, end).chosen(size < most)


def _near(border: PolygonEdges, points: Array, most: float) -> tuple[Indices, Indices]:
    """Find points and lines within reach of each other, by index."""
    pairs = border.tree.query(shapely.points(points), predicate="dwithin", distance=most)
    return pairs[0].astype(np.int64), pairs[1].astype(np.int64)


def _samples(border: PolygonEdges, h: float) -> Iterator[tuple[Array, Indices]]:
    """Yield points and their lines: both ends of every line and every h between."""
    count = np.ceil(border.length / h).astype(np.int64) + 1
    line, k = ragged(count)
    share = k / (count[line] - 1)
    points = border.start[line] + (share * border.length[line])[:, None] * border.along[line]
    for first in range(0, len(points), _AT_ONCE):
        yield points[first : first + _AT_ONCE], line[first : first + _AT_ONCE]


def _to_lines(
    border: PolygonEdges, p: Array, m: Array, k: Indices, beta: Array
) -> tuple[Array, Array, Array]:
    """Find discs tangent at p (n, 2) with inward normals m that are tangent to lines k (n,).

    Both face each other within twice `beta` (n,), in radians.
    """
    n = -border.inward[k]
    facing = np.einsum("ij,ij->i", m, n)
    high = np.einsum("ij,ij->i", border.start[k] - p, n)
    radius = high / np.maximum(1.0 + facing, _SAME)
    q = p + radius[:, None] * (m + n)
    share = np.einsum("ij,ij->i", q - border.start[k], border.along[k])
    good = (facing >= np.cos(2.0 * beta) - LAST_DIGITS) & (high > NEAR)
    good &= (share >= -NEAR) & (share <= border.length[k] + NEAR)
    return p, q, np.where(good, 2.0 * radius, np.inf)


def _fan(border: PolygonEdges, corner: Indices, m: Array) -> tuple[Array, Array, Array, Array]:
    """Limit ways (n,) into corners, as angles from m: by the fan of normals; by the material.

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


def _to_corners(
    border: PolygonEdges, k: Indices, corner: Indices, beta: Array
) -> tuple[Array, Array, Array]:
    """Find the smallest discs tangent to lines k (n,) at corners (n,), within `beta` (n,)."""
    q, m = border.start[corner], border.inward[k]
    high = np.einsum("ij,ij->i", q - border.start[k], m)
    foot = np.einsum("ij,ij->i", q - border.start[k], border.along[k])
    size, best = np.full(len(k), np.inf), foot.copy()
    for whole in (-2.0 * math.pi, 0.0, 2.0 * math.pi):  # the fan may lie a turn away
        low, high_end, inside_low, inside_high = (a + whole for a in _fan(border, corner, m))
        least = np.maximum(np.maximum(low - beta, inside_low), -beta)
        most = np.minimum(np.minimum(high_end + beta, inside_high), beta)
        possible = (least <= most) & (high > NEAR)
        # the way turned by an angle to the left of m starts so far before the foot
        t = np.tan(np.clip(np.stack([least, most]), -beta, beta))
        lower, upper = np.minimum(*(foot + high * t)), np.maximum(*(foot + high * t))
        lower, upper = np.maximum(lower, 0.0), np.minimum(upper, border.length[k])
        at = np.clip(foot, lower, upper)
        disc = (high**2 + (at - foot) ** 2) / np.where(possible, high, 1.0)
        better = possible & (lower <= upper) & (disc < size)
        size, best = np.where(better, disc, size), np.where(better, at, best)
    return border.start[k] + best[:, None] * border.along[k], q, size


def _between_corners(
    border: PolygonEdges, corner: Indices, k: Indices, beta: Array
) -> tuple[Array, Array, Array]:
    """Span concave corners (n,) and the corners that start lines k (n,), straight across.

    The way comes to the second within `beta` (n,) of its fan.
    """
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
        reaches |= (low <= beta) & (high >= -beta) & inside
    return p, q, np.where(good & leaves & reaches, far, np.inf)


def _beside_sharp_corners(
    border: PolygonEdges, turn: Array, p: Array, q: Array, size: Array
) -> Mask:
    """Tell which chords belong to a corner of 44 degrees or less, by the rule for knife edges.

    They lie across it, see it, and are no nearer together than in a corner of
    half the width.
    """
    beside = np.zeros(len(p), bool)
    corners = np.nonzero(math.pi - turn <= 2.0 * BETA + ANGLE)[0]
    if not len(corners) or not len(p):
        return beside
    tip, sine = border.start[corners], np.sin((math.pi - turn[corners]) / 2.0)
    across = border.along[corners] + border.along[border.before[corners]]
    across /= np.maximum(np.linalg.norm(across, axis=1), _SAME)[:, None]
    tree = cKDTree(tip)
    middle = (p + q) / 2.0
    way = (q - p) / np.linalg.norm(q - p, axis=1)[:, None]
    reach = size / max(float(sine.min()), NEAR) * (1.0 + _SAME)
    for first in range(0, len(p), _AT_ONCE):
        lot = slice(first, first + _AT_ONCE)
        found = tree.query_ball_point(middle[lot], reach[lot])
        row = first + np.repeat(np.arange(len(found)), [len(some) for some in found])
        corner = np.concatenate([np.asarray(some, np.int64) for some in found])
        away = np.linalg.norm(middle[row] - tip[corner], axis=1)
        own = size[row] >= sine[corner] * away
        own &= np.abs(np.einsum("ij,ij->i", way[row], across[corner])) >= math.cos(2.0 * BETA)
        row, corner = row[own], corner[own]
        order = np.lexsort((away[own], row))  # the nearest of each chord first
        row, corner = row[order], corner[order]
        while len(row):
            first_of = np.flatnonzero(np.append(True, row[1:] != row[:-1]))
            asked = row[first_of]
            beside[asked[is_clear(border, middle[asked], tip[corner[first_of]])]] = True
            left = ~beside[row]
            left[first_of] = False
            row, corner = row[left], corner[left]
    return beside
