"""Tracing of each side of a placed outline to the curve it came from.

Problem: the polygons of an outline are what remains of its loops once they are closed, nested and
merged; setups want the curves.

Method: each side is a chord of a curve, or a piece of one where curves that overlap were cut. It is
found among the chords of all loops by a tree. Whole chords that follow one another give their
curve back; a piece of a chord stays a straight line.

Invariant: the ring keeps every corner of its polygon, and no piece strays further from it than
curves from their chords.

Complexity: O(n log n) for n sides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon

from silhouette3d.drawing.model import Arc, Array, Bezier, Curve, Line, Piece, Sampled
from silhouette3d.geometry.tolerances import MERGE

__all__ = ["traced"]

Indices = NDArray[np.int64]

_NEAR: Final = 2.0 * MERGE
"""mm. A corner of the outline lies this near to the end of its chord: both were rounded."""


@dataclass(frozen=True)
class _Side:
    """One side of a polygon: the k-th chord of a piece, forwards or backwards."""

    piece: int
    chord: int
    step: int
    whole: bool

    def goes_on_as(self, other: _Side, straight: bool) -> bool:
        """Tell whether the next side continues on this piece in its sense."""
        if self.piece != other.piece or self.step != other.step:
            return False
        return straight or (self.whole and other.whole and other.chord == self.chord + self.step)


def traced(
    area: MultiPolygon, loops: Sequence[Curve], tolerance: float
) -> tuple[tuple[Piece, ...], ...]:
    """Trace the rings of an area to pieces of the curves it was made from.

    Parameters
    ----------
    area : shapely.MultiPolygon
        In mm.
    loops : sequence of Curve
        What was flattened to make it, in the same place.
    tolerance : float
        With which they were flattened, in mm.

    Returns
    -------
    tuple of tuples of Piece
        One for each ring, the area on the left hand: outer rings run
        counter-clockwise, holes clockwise.
    """
    pieces = [p for loop in loops for p in loop.pieces if not _is_a_point(p)]
    chords = [p.chords(tolerance)[0] for p in pieces]
    owner = np.repeat(np.arange(len(pieces), dtype=np.int64), [len(c) - 1 for c in chords])
    place = np.concatenate([np.arange(len(c) - 1) for c in chords]) if chords else owner
    ends = np.concatenate(
        [np.stack([c[:-1], c[1:]], axis=1) for c in chords] or [np.empty((0, 2, 2))]
    )
    tree = (
        shapely.STRtree(np.atleast_1d(np.array(shapely.linestrings(ends)))) if len(ends) else None
    )
    found = []
    for polygon in shapely.orient_polygons(area).geoms:
        for ring in (polygon.exterior, *polygon.interiors):
            corners = shapely.get_coordinates(ring)
            sides = _sides(corners, tree, ends, owner, place)
            found.append(_assembled(corners, sides, pieces, [len(c) - 1 for c in chords]))
    return tuple(found)


def _is_a_point(piece: Piece) -> bool:
    return isinstance(piece, Line) and piece.start == piece.end


def _sides(
    corners: Array, tree: shapely.STRtree | None, ends: Array, owner: Indices, place: Indices
) -> list[_Side | None]:
    """Find what each side of a ring came from."""
    sides: list[_Side | None] = [None] * (len(corners) - 1)
    if tree is None:
        return sides
    middles = shapely.points((corners[:-1] + corners[1:]) / 2.0)
    at, chord = tree.query(middles, predicate="dwithin", distance=_NEAR)
    starts, stops = corners[at], corners[at + 1]
    lines = tree.geometries[chord]
    fits = (shapely.distance(lines, shapely.points(starts)) <= _NEAR) & (
        shapely.distance(lines, shapely.points(stops)) <= _NEAR
    )
    ahead = np.einsum("ij,ij->i", stops - starts, ends[chord, 1] - ends[chord, 0]) > 0.0
    first = np.where(ahead[:, None], ends[chord, 0], ends[chord, 1])
    last = np.where(ahead[:, None], ends[chord, 1], ends[chord, 0])
    whole = (np.linalg.norm(starts - first, axis=1) <= _NEAR) & (
        np.linalg.norm(stops - last, axis=1) <= _NEAR
    )
    for i in np.nonzero(fits)[0]:
        known = sides[at[i]]
        if known is None or (whole[i] and not known.whole):
            step = 1 if ahead[i] else -1
            sides[at[i]] = _Side(int(owner[chord[i]]), int(place[chord[i]]), step, bool(whole[i]))
    return sides


def _assembled(
    corners: Array, sides: list[_Side | None], pieces: Sequence[Piece], counts: Sequence[int]
) -> tuple[Piece, ...]:
    """Put sides that follow one another on one piece together again."""
    runs = _runs(sides, pieces)
    ring: list[Piece] = []
    for first, last in runs:
        side = sides[first % len(sides)]
        start, stop = corners[first % len(sides)], corners[(last - 1) % len(sides) + 1]
        straight = Line((float(start[0]), float(start[1])), (float(stop[0]), float(stop[1])))
        if side is None or not side.whole or isinstance(pieces[side.piece], Line):
            ring.append(straight)
            continue
        end = sides[(last - 1) % len(sides)]
        assert end is not None  # a run of a piece holds that piece's sides only
        low, high = sorted((side.chord, end.chord))
        part = _part(pieces[side.piece], low, high + 1, counts[side.piece])
        ring.append(part if side.step > 0 else part.reversed())
    return tuple(ring)


def _runs(sides: list[_Side | None], pieces: Sequence[Piece]) -> list[tuple[int, int]]:
    """Yield from and to which side, once round, each run of one piece reaches."""
    count = len(sides)

    def goes_on(i: int) -> bool:
        here, after = sides[i % count], sides[(i + 1) % count]
        if here is None or after is None:
            return False
        return here.goes_on_as(after, isinstance(pieces[here.piece], Line))

    breaks = [i + 1 for i in range(count) if not goes_on(i)]
    return [*zip(breaks, [*breaks[1:], breaks[0] + count], strict=True)]


def _part(piece: Piece, low: int, high: int, count: int) -> Piece:
    """Cut the piece from one end of its chords to another."""
    if (low, high) == (0, count):
        return piece
    match piece:
        case Arc(centre, u, v, start, end):
            t = np.linspace(start, end, count + 1)
            return Arc(centre, u, v, float(t[low]), float(t[high]))
        case Bezier():
            return _bezier_between(piece, low / count, high / count)
        case Sampled(points, deviation):
            return Sampled(points[low : high + 1], deviation)
        case Line():
            return piece


def _bezier_between(piece: Bezier, a: float, b: float) -> Bezier:
    """Cut by the polar form: control points at (a, a, a), (a, a, b), (a, b, b) and (b, b, b)."""
    p = np.array([piece.start, piece.control_1, piece.control_2, piece.end])

    def polar(*t: float) -> tuple[float, float]:
        q = p
        for one in t:
            q = (1.0 - one) * q[:-1] + one * q[1:]
        return float(q[0, 0]), float(q[0, 1])

    return Bezier(polar(a, a, a), polar(a, a, b), polar(a, b, b), polar(b, b, b))
