"""A closed way of lines and arcs: where on it a point is nearest, and any stretch of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import shapely

from silhouette3d.drawing.arcs import Simple, length_of, nearest, piece_between
from silhouette3d.drawing.curve import Array

__all__ = ["Ring", "flattened", "joined_up"]

_SAME: Final = 1e-9
"""mm along the way: less is no stretch at all."""

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
        """For points (n, 2) the way (n,) to where the ring is nearest, and the distance (n,)."""
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
        """The pieces from one way to a greater one, no more than once round."""
        count, length = len(self.pieces), self.length
        whole = first // length
        first, last = first - whole * length, last - whole * length
        i = min(int(np.searchsorted(self.ways, first, side="right")) - 1, count - 1)
        found: list[Simple] = []
        while True:
            lap, at = divmod(i, count)
            start = float(self.ways[at]) + lap * length
            end = float(self.ways[at + 1]) + lap * length
            if start >= last - _SAME:
                return tuple(found)
            low, high = max(first, start), min(last, end)
            if high - low > _SAME:
                a = 0.0 if low - start <= _SAME else (low - start) / (end - start)
                b = 1.0 if end - high <= _SAME else (high - start) / (end - start)
                found.append(piece_between(self.pieces[at], a, b))
            i += 1

    def around(self, first: float) -> tuple[Simple, ...]:
        """All pieces from a way on, once round; a circle stays one."""
        if len(self.pieces) == 1:
            share = first / self.length
            return (piece_between(self.pieces[0], share, 1.0 + share),)
        return self.between(first, first + self.length)


def flattened(pieces: Sequence[Simple], tolerance: float) -> Array:
    """Points (n, 2) along a chain, within `tolerance` mm of it."""
    parts = [piece.chords(tolerance)[0] for piece in pieces]
    return np.concatenate([parts[0], *(part[1:] for part in parts[1:])])


def joined_up(spans: Sequence[tuple[float, float]], length: float) -> list[tuple[float, float]]:
    """Stretches of a ring, each from and to a way, without overlaps and in order.

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
        if merged and first <= merged[-1][1] + _SAME:
            merged[-1] = merged[-1][0], max(merged[-1][1], last)
        else:
            merged.append((first, last))
    while len(merged) > 1 and merged[-1][1] - length >= merged[0][0] - _SAME:
        _, over = merged.pop(0)
        merged[-1] = merged[-1][0], max(merged[-1][1], over + length)
    return merged
