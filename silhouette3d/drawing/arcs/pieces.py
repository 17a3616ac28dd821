"""Lines and circular arcs: measured, parted, set off, crossed, and closed ways of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import shapely

from silhouette3d.drawing.model import FULL_TURN, Arc, Array, Line, Point
from silhouette3d.geometry.tolerances import GRID, LAST_DIGITS, MERGE

__all__ = [
    "Ring",
    "Simple",
    "bulge_of",
    "crossings",
    "flattened",
    "heading",
    "joined_up",
    "length_of",
    "nearest",
    "piece_between",
    "point_on",
    "radius_of",
    "share_at",
    "shifted_right",
]

# --- Lines and circular arcs, which every cutter can follow: measured, parted and set off


Simple = Line | Arc
"""A line, or an arc of a circle."""


def length_of(piece: Simple) -> float:
    """Measure a piece in mm."""
    if isinstance(piece, Line):
        return math.dist(piece.start, piece.end)
    return radius_of(piece) * abs(piece.end_angle - piece.start_angle)


def radius_of(arc: Arc) -> float:
    """Measure the radius of a circular arc in mm."""
    return math.hypot(*arc.axis_u)


def _turns(arc: Arc) -> float:
    """Return 1.0 for an arc that turns left, −1.0 for one that turns right."""
    (a, b), (c, d) = arc.axis_u, arc.axis_v
    return math.copysign(1.0, (a * d - b * c) * (arc.end_angle - arc.start_angle))


def bulge_of(piece: Simple) -> float:
    """Work out the tangent of a quarter of the included angle, positive to the left (DXF)."""
    if isinstance(piece, Line):
        return 0.0
    return _turns(piece) * math.tan(abs(piece.end_angle - piece.start_angle) / 4.0)


def heading(piece: Simple, share: float) -> Point:
    """Find the unit vector along which a piece runs after a share of its length."""
    if isinstance(piece, Line):
        (x0, y0), (x1, y1) = piece.start, piece.end
        size = math.dist(piece.start, piece.end)
        return (x1 - x0) / size, (y1 - y0) / size
    (x, y), (u, v) = point_on(piece, share), piece.centre
    factor = _turns(piece) / math.hypot(x - u, y - v)
    return (v - y) * factor, (x - u) * factor


def point_on(piece: Simple, share: float) -> Point:
    """Find the point after a share of the piece's length."""
    if isinstance(piece, Line):
        (x0, y0), (x1, y1) = piece.start, piece.end
        return x0 + share * (x1 - x0), y0 + share * (y1 - y0)
    at = piece.start_angle + share * (piece.end_angle - piece.start_angle)
    return Arc(piece.centre, piece.axis_u, piece.axis_v, at, at).start


def piece_between(piece: Simple, first: float, last: float) -> Simple:
    """Cut a piece between two shares of its length; keep whole ends to the last digit."""
    if isinstance(piece, Line):
        start = piece.start if first == 0.0 else point_on(piece, first)
        return Line(start, piece.end if last == 1.0 else point_on(piece, last))
    a, b = piece.start_angle, piece.end_angle
    return Arc(
        piece.centre,
        piece.axis_u,
        piece.axis_v,
        a if first == 0.0 else a + first * (b - a),
        b if last == 1.0 else a + last * (b - a),
    )


def nearest(piece: Simple, points: Array) -> tuple[Array, Array]:
    """Find where on a piece points (n, 2) are nearest to it.

    Returns
    -------
    (n,) array
        The share of its length from the start.
    (n,) array
        The distance in mm.
    """
    shares = np.clip(share_at(piece, points), 0.0, 1.0)
    if isinstance(piece, Line):
        start, way = np.array(piece.start), np.subtract(piece.end, piece.start)
        return shares, np.linalg.norm(points - start - shares[:, None] * way, axis=1)
    ends = np.stack([np.linalg.norm(points - p, axis=1) for p in (piece.start, piece.end)])
    off = np.abs(np.linalg.norm(points - np.array(piece.centre), axis=1) - radius_of(piece))
    beyond = (shares == 0.0) | (shares == 1.0)
    nearer = np.argmin(ends, axis=0)
    return (
        np.where(beyond, nearer.astype(float), shares),
        np.where(beyond, np.min(ends, axis=0), off),
    )


def share_at(piece: Simple, points: Array) -> Array:
    """Find the share of a piece's length whose normal passes through points (n, 2).

    Below 0 before the start of a line and above 1 behind its end; for an arc,
    above 1 anywhere beside it.
    """
    if isinstance(piece, Line):
        start, way = np.array(piece.start), np.subtract(piece.end, piece.start)
        return np.asarray((points - start) @ way / float(way @ way))
    axes = np.array([piece.axis_u, piece.axis_v])
    cos, sin = axes @ (points - np.array(piece.centre)).T
    sweep = piece.end_angle - piece.start_angle
    turned = (np.arctan2(sin, cos) - piece.start_angle) * math.copysign(1.0, sweep)
    return np.asarray(turned % FULL_TURN / abs(sweep))


def shifted_right(piece: Simple, distance: float) -> Simple | None:
    """Shift a piece to the right of the way it runs; None where nothing is left."""
    if isinstance(piece, Line):
        (x0, y0), (x1, y1) = piece.start, piece.end
        factor = distance / math.dist(piece.start, piece.end)
        du, dv = (y1 - y0) * factor, (x0 - x1) * factor
        return Line((x0 + du, y0 + dv), (x1 + du, y1 + dv))
    radius = radius_of(piece)
    grown = radius + distance * _turns(piece)
    if grown <= GRID:  # the arc has shrunk to its centre
        return None
    factor = grown / radius
    (a, b), (c, d) = piece.axis_u, piece.axis_v
    return Arc(
        piece.centre,
        (a * factor, b * factor),
        (c * factor, d * factor),
        piece.start_angle,
        piece.end_angle,
    )


# --- A closed way of lines and arcs: where on it a point is nearest, and any stretch of it


_COARSE: Final = 0.05
"""mm. How far the lines that tell which pieces may be nearest may be off them."""


@dataclass(frozen=True, eq=False)
class Ring:
    """A closed chain of lines and arcs of circles, in mm.

    Parameters
    ----------
    pieces : tuple of Line and Arc
        Each begins where the one before it ends, the first where the last does.
    """

    pieces: tuple[Simple, ...]

    @cached_property
    def ways(self) -> Array:
        """(n + 1,) the way from the start of the first piece to each piece, and all round."""
        return np.concatenate([[0.0], np.cumsum([length_of(p) for p in self.pieces])])

    @property
    def length(self) -> float:
        """All round, in mm."""
        return float(self.ways[-1])

    def nearest(self, points: Array) -> tuple[Array, Array]:
        """Find for points (n, 2) the way (n,) to where the ring is nearest, and the distance."""
        best = np.full(len(points), np.inf)
        ways = np.zeros(len(points))
        spots = shapely.points(points)
        (at, _), far = self._tree.query_nearest(spots, all_matches=False, return_distance=True)
        reach = np.zeros(len(points))
        reach[at] = far + 2.0 * _COARSE
        spot, near = self._tree.query(spots, predicate="dwithin", distance=reach)
        for index in np.unique(near):
            some = spot[near == index]
            shares, off = nearest(self.pieces[index], points[some])
            closer = off < best[some]
            here = self.ways[index] + shares * length_of(self.pieces[index])
            ways[some] = np.where(closer, here, ways[some])
            best[some] = np.where(closer, off, best[some])
        return ways, best

    @cached_property
    def _tree(self) -> shapely.STRtree:
        """The pieces, within `_COARSE`: says which can be nearest."""
        return shapely.STRtree([shapely.LineString(p.chords(_COARSE)[0]) for p in self.pieces])

    def between(self, first: float, last: float) -> tuple[Simple, ...]:
        """Cut the pieces from one way to a greater one, no more than once round."""
        count, length = len(self.pieces), self.length
        whole = first // length
        first, last = first - whole * length, last - whole * length
        i = min(int(np.searchsorted(self.ways, first, side="right")) - 1, count - 1)
        found: list[Simple] = []
        while True:
            lap, at = divmod(i, count)
            start = float(self.ways[at]) + lap * length
            end = float(self.ways[at + 1]) + lap * length
            if start >= last - GRID:
                return tuple(found)
            low, high = max(first, start), min(last, end)
            if high - low > GRID:
                a = 0.0 if low - start <= GRID else (low - start) / (end - start)
                b = 1.0 if end - high <= GRID else (high - start) / (end - start)
                found.append(piece_between(self.pieces[at], a, b))
            i += 1

    def around(self, first: float) -> tuple[Simple, ...]:
        """Begin all pieces at a way, once round; a circle stays one."""
        if len(self.pieces) == 1:
            share = first / self.length
            return (piece_between(self.pieces[0], share, 1.0 + share),)
        return self.between(first, first + self.length)


def flattened(pieces: Sequence[Simple], tolerance: float) -> Array:
    """Put points (n, 2) along a chain, within `tolerance` mm of it."""
    parts = [piece.chords(tolerance)[0] for piece in pieces]
    return np.concatenate([parts[0], *(part[1:] for part in parts[1:])])


def joined_up(spans: Sequence[tuple[float, float]], length: float) -> list[tuple[float, float]]:
    """Join stretches of a ring, each from and to a way, without overlaps and in order.

    A stretch that runs over the start of the ring ends beyond `length`.

    >>> joined_up([(8.0, 11.0), (0.5, 2.0), (5.0, 6.0)], 10.0)
    [(5.0, 6.0), (8.0, 12.0)]
    """
    flat: list[tuple[float, float]] = []
    for first, last in spans:
        start = first % length
        flat.append((start, start + last - first))
    merged: list[tuple[float, float]] = []
    for first, last in sorted(flat):
        if merged and first <= merged[-1][1] + GRID:
            merged[-1] = merged[-1][0], max(merged[-1][1], last)
        else:
            merged.append((first, last))
    while len(merged) > 1 and merged[-1][1] - length >= merged[0][0] - GRID:
        _, over = merged.pop(0)
        merged[-1] = merged[-1][0], max(merged[-1][1], over + length)
    return merged


# --- Where two lines, two circles, or a line and a circle cross


def crossings(first: Simple, second: Simple) -> list[Point]:
    """Find where the endless lines and whole circles of two pieces cross or touch."""
    if isinstance(first, Line) and isinstance(second, Line):
        p, d = np.array(first.start), np.subtract(first.end, first.start)
        q, e = np.array(second.start), np.subtract(second.end, second.start)
        cross = float(d[0] * e[1] - d[1] * e[0])
        if abs(cross) <= LAST_DIGITS * float(np.linalg.norm(d) * np.linalg.norm(e)):
            return []
        t = float((q - p)[0] * e[1] - (q - p)[1] * e[0]) / cross
        return [(float(p[0] + t * d[0]), float(p[1] + t * d[1]))]
    if isinstance(first, Line):
        first, second = second, first
    assert isinstance(first, Arc)
    centre, radius = np.array(first.centre), math.hypot(*first.axis_u)
    if isinstance(second, Line):
        start, way = np.array(second.start), np.subtract(second.end, second.start)
        way = way / np.linalg.norm(way)
        foot = start + float((centre - start) @ way) * way
        return _either_side(foot, way, radius**2 - float((foot - centre) @ (foot - centre)))
    other, size = np.array(second.centre), math.hypot(*second.axis_u)
    apart = other - centre
    distance = float(np.linalg.norm(apart))
    if distance == 0.0:
        return []
    along = (distance**2 + radius**2 - size**2) / (2.0 * distance)
    unit = apart / distance
    across = np.array([-unit[1], unit[0]])
    return _either_side(centre + along * unit, across, radius**2 - along**2)


def _either_side(middle: Array, way: Array, square: float) -> list[Point]:
    """Find the two points that lie off a middle by a distance given by its square."""
    if square < -MERGE:
        return []
    off = math.sqrt(max(square, 0.0))
    return [(float(u), float(v)) for u, v in (middle + off * way, middle - off * way)]
