"""Fitting of lines and circular arcs to curves.

Problem: controllers follow lines and arcs of circles; drawings hold ellipses, Béziers and points.

Method: lines and arcs of circles stay what they are. Other curves become pairs of arcs that share
their tangents with the curve and with each other (biarcs), halved until none strays further than a
tolerance.

Invariant: the ends of each pair lie on the curve. How far it strays is measured at points so dense
that chords between them keep what is left of the tolerance.

Complexity: O(n) in the number of arcs; that grows with the cube root of the curve's size over the
tolerance, as a biarc strays with the cube of its length (from memory).

Reference: K. M. Bolton, Biarc curves, Computer-Aided Design 7(2), 1975 (from memory; tested
against what it must do).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from silhouette3d.drawing.arcs.pieces import Simple, bulge_of, nearest
from silhouette3d.drawing.model import Arc, Array, Bezier, Line, Piece, Point, Sampled, bulge_arc
from silhouette3d.geometry.tolerances import GRID

__all__ = ["as_arcs"]

_SURE: Final = 0.9
"""Share of the tolerance allowed where it is measured. Between those points curve and arc bend
the same way, each off the chord by no more than what is left of the tolerance."""

_FEWEST: Final = 64
_MOST: Final = 2**16
"""Stretches that a curve is divided into before arcs are laid over them; powers of two."""


def as_arcs(piece: Piece, tolerance: float) -> tuple[Simple, ...]:
    """Fit lines and arcs of circles that stray no further than `tolerance` mm from a piece.

    A `Sampled` piece is met at its points; what it is off itself comes on top.
    """
    match piece:
        case Line():
            return (piece,)
        case Arc() if piece.is_circular:
            return (piece,)
        case Sampled():
            points = np.array(piece.points)
            points = points[np.r_[True, np.linalg.norm(np.diff(points, axis=0), axis=1) > GRID]]
            if len(points) < 2:
                return (Line(piece.start, piece.end),)
            headings, room = _headings(points), piece.deviation
        case _:
            points, headings = _along(piece, _stretches(piece, tolerance))
            room = math.inf
    course = _Course(points, headings, _SURE * tolerance, room)
    return tuple(course.fitted(0, len(points) - 1))


@dataclass(frozen=True, eq=False)
class _Course:
    """Points on a curve with its headings, and how near arcs must keep to them.

    Parameters
    ----------
    points, headings : (n, 2) arrays
        In mm, and unit vectors.
    tolerance : float
        Of arcs from the points in mm.
    room : float
        How far the curve may be off the chords between them, in mm; so arcs may, besides.
    """

    points: Array
    headings: Array
    tolerance: float
    room: float

    def fitted(self, first: int, last: int) -> Iterator[Simple]:
        """Yield biarcs from one point to another, halved where they stray."""
        ends = self.points[[first, last]]
        pair = _biarc(ends[0], self.headings[first], ends[1], self.headings[last])
        if pair and self._keeps(pair, first, last):
            yield from pair
        elif last - first == 1:
            yield Line(_pair(ends[0]), _pair(ends[1]))
        else:
            middle = (first + last) // 2
            yield from self.fitted(first, middle)
            yield from self.fitted(middle, last)

    def _keeps(self, pair: Sequence[Simple], first: int, last: int) -> bool:
        if last - first == 1:
            bow = max(abs(bulge_of(p)) * math.dist(p.start, p.end) / 2.0 for p in pair)
            return bow <= self.tolerance + min(self.room, self.tolerance)
        if _strays(pair, self.points[first + 1 : last]) > self.tolerance:
            return False
        if self.room == math.inf:
            return True
        middles = (self.points[first:last] + self.points[first + 1 : last + 1]) / 2.0
        return _strays(pair, middles) <= self.tolerance + self.room


def _strays(pair: Sequence[Simple], points: Array) -> float:
    return float(np.min([nearest(piece, points)[1] for piece in pair], axis=0).max())


def _stretches(piece: Arc | Bezier, tolerance: float) -> int:
    """Count stretches so that a chord over each keeps what `_SURE` leaves of the tolerance."""
    needed = max(_FEWEST, len(piece.chords((1.0 - _SURE) * tolerance)[0]) - 1)
    return int(min(2 ** math.ceil(math.log2(needed)), _MOST))


def _along(piece: Arc | Bezier, count: int) -> tuple[Array, Array]:
    """Put points (count + 1, 2) at equal steps of the parameter, with unit headings."""
    if isinstance(piece, Arc):
        t = np.linspace(piece.start_angle, piece.end_angle, count + 1)
        axes = np.array([piece.axis_u, piece.axis_v])
        points = np.column_stack([np.cos(t), np.sin(t)]) @ axes + piece.centre
        sign = math.copysign(1.0, piece.end_angle - piece.start_angle)
        ways = sign * np.column_stack([-np.sin(t), np.cos(t)]) @ axes
    else:
        p = np.array([piece.start, piece.control_1, piece.control_2, piece.end])
        t = np.linspace(0.0, 1.0, count + 1)[:, None]
        s = 1.0 - t
        points = s**3 * p[0] + 3 * s**2 * t * p[1] + 3 * s * t**2 * p[2] + t**3 * p[3]
        d = np.diff(p, axis=0)
        ways = s**2 * d[0] + 2 * s * t * d[1] + t**2 * d[2]
    points[0], points[-1] = piece.start, piece.end
    sizes = np.linalg.norm(ways, axis=1, keepdims=True)
    still = sizes[:, 0] <= GRID * max(float(sizes.max()), GRID)
    if still.any():  # a control point on an end: the curve leaves towards the next
        ways[still] = _headings(points)[still]
        sizes = np.linalg.norm(ways, axis=1, keepdims=True)
    return points, ways / np.where(sizes > 0.0, sizes, 1.0)


def _headings(points: Array) -> Array:
    """Estimate unit headings (n, 2) of a curve known by points: of the circle through three."""
    steps = np.diff(points, axis=0)
    lengths = np.linalg.norm(steps, axis=1, keepdims=True)
    units = steps / np.where(lengths > 0.0, lengths, 1.0)
    if len(points) == 2:
        return np.array([units[0], units[0]])
    inner = units[:-1] * lengths[1:] + units[1:] * lengths[:-1]
    first = _mirrored(inner[0], units[0])
    last = _mirrored(inner[-1], units[-1])
    ways = np.vstack([first, inner, last])
    sizes = np.linalg.norm(ways, axis=1, keepdims=True)
    return np.asarray(ways / np.where(sizes > 0.0, sizes, 1.0))


def _mirrored(way: Array, chord: Array) -> Array:
    """Mirror the heading at one end of an arc to the other: the chord halves the angle."""
    size = float(np.linalg.norm(way))
    unit = way / size if size > 0.0 else chord
    return np.asarray(2.0 * float(unit @ chord) * chord - unit)


def _biarc(start: Array, leaving: Array, end: Array, arriving: Array) -> tuple[Simple, ...]:
    """Make two arcs with given headings at their outer ends and a common one where they meet.

    Both reach equally far along their tangents, by d: the meeting point is the
    middle between start + d · leaving and end − d · arriving, and d follows from
    those two points being 2 d apart. None if one would turn by more than half
    a circle.
    """
    chord, both = end - start, leaving + arriving
    span = float(chord @ chord)
    if span == 0.0:
        return ()
    a, b = 2.0 * (1.0 - float(leaving @ arriving)), float(chord @ both)
    # a d² + 2 b d = span, solved for the positive root in the form that stands a = 0
    root = math.sqrt(b * b + a * span)
    if b + root <= GRID * math.sqrt(span):
        return ()
    d = span / (b + root)
    meeting = (start + end + d * (leaving - arriving)) / 2.0
    first = _arc_leaving(start, leaving, meeting)
    second = _arc_leaving(end, -arriving, meeting)
    if first is None or second is None:
        return ()
    if isinstance(first, Line) and isinstance(second, Line):
        return (Line(_pair(start), _pair(end)),)
    return first, second.reversed()


def _arc_leaving(start: Array, heading: Array, end: Array) -> Simple | None:
    """Make the arc that leaves a point with a heading and passes through another."""
    chord = end - start
    along = float(heading @ chord)
    across = float(heading[0] * chord[1] - heading[1] * chord[0])
    if along <= 0.0:
        return None
    bulge = math.tan(math.atan2(across, along) / 2.0)
    if abs(bulge) * math.hypot(along, across) / 2.0 < GRID:  # it strays no further from its chord
        bulge = 0.0
    return bulge_arc(_pair(start), _pair(end), bulge)


def _pair(point: Array) -> Point:
    return float(point[0]), float(point[1])
