"""Joining open curves end to end into closed loops."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import shapely
from scipy.spatial import KDTree

from silhouette3d.drawing.crowd import refuse, refuse_tangle
from silhouette3d.drawing.curve import Array, Curve, Line, Piece, Point
from silhouette3d.errors import DrawingError
from silhouette3d.units import CLOSE_GAP, MERGE

_LARGE_TURN: Final = 2
_MOST_NEAR: Final = 1_000_000
_MOST_NODED: Final = 40_000
"""Corners of lines that are cut where they meet: lines on one straight line take GEOS a time
that grows with their square, some 10 s here."""


@dataclass(frozen=True)
class Gap:
    """Two ends that were joined although they do not quite meet."""

    start: Point
    end: Point
    layer: str

    @property
    def width(self) -> float:
        """Distance between the ends in mm."""
        return math.dist(self.start, self.end)


def close_loops(
    curves: Sequence[Curve], tolerance: float, where: str
) -> tuple[tuple[Curve, ...], tuple[Gap, ...]]:
    """Closed loops from open curves.

    Ends within `MERGE` meet; ends within `CLOSE_GAP` are bridged by a straight
    piece, which is reported. Curves drawn twice count once. Where lines overlap
    in part, or end on the middle of another, they are cut at their meeting
    points first, so that each stretch is there once.

    Parameters
    ----------
    curves : sequence of Curve
        Open curves, in mm.
    tolerance : float
        For flattening, in mm, where curves have to be cut.
    where : str
        The file, for messages.

    Raises
    ------
    DrawingError
        If an end is further than `CLOSE_GAP` from any other, or an odd number
        of lines meet at a point.
    """
    unique = unrepeated(curves, tolerance)
    try:
        return _chain(unique, where)
    except DrawingError as error:
        try:
            return _chain(_noded(unique, tolerance, where), where)
        except DrawingError:
            raise error from None


def parted(loop: Curve) -> list[Curve]:
    """A closed curve as loops that come to no corner twice.

    So a loop that touches itself in a corner, or a hole that is reached over a
    bridge, becomes what it would be if its pieces were drawn one by one.
    """
    keys = [(round(p.start[0] / MERGE), round(p.start[1] / MERGE)) for p in loop.pieces]
    if len(set(keys)) == len(keys):
        return [loop]
    loops: list[tuple[Piece, ...]] = []
    walked: list[tuple[tuple[int, int], Piece]] = []
    at: dict[tuple[int, int], int] = {}
    for key, piece in zip(keys, loop.pieces, strict=True):
        if key in at:
            first = at[key]
            loops.append(tuple(p for _, p in walked[first:]))
            for passed, _ in walked[first:]:
                del at[passed]
            del walked[first:]
        at[key] = len(walked)
        walked.append((key, piece))
    loops.append(tuple(p for _, p in walked))
    return [Curve(pieces, loop.layer, loop.source) for pieces in loops]


def unrepeated(curves: Sequence[Curve], tolerance: float) -> list[Curve]:
    """Curves without repetitions, whichever way round they were drawn."""
    seen: dict[bytes, Curve] = {}
    for curve in curves:
        points = np.round(curve.flatten(tolerance)[0] / MERGE) + 0.0
        forward, backward = points.tobytes(), points[::-1].tobytes()
        seen.setdefault(min(forward, backward), curve)
    return list(seen.values())


def _noded(curves: Sequence[Curve], tolerance: float, where: str) -> list[Curve]:
    """Straight pieces that meet at their ends only, each stretch once."""
    chains = [c.flatten(tolerance)[0] for c in curves]
    if sum(map(len, chains)) > _MOST_NODED:
        refuse(_MOST_NODED, where)
    refuse_tangle(chains, where)
    lines = [shapely.LineString(points) for points in chains]
    noded = shapely.union_all(lines, grid_size=MERGE)
    tree = shapely.STRtree(lines)
    pieces = []
    for part in shapely.get_parts(shapely.line_merge(noded)):
        points = [(float(x), float(y)) for x, y in part.coords]
        owner = curves[int(tree.nearest(part.interpolate(0.5, normalized=True)))]
        chords = tuple(Line(a, b) for a, b in pairwise(points))
        pieces.append(Curve(chords, owner.layer, owner.source))
    return pieces


def _chain(curves: Sequence[Curve], where: str) -> tuple[tuple[Curve, ...], tuple[Gap, ...]]:
    closed = [c for c in curves if c.is_closed]
    rest = [c for c in curves if not c.is_closed]
    if not rest:
        return tuple(closed), ()
    nodes = _meeting_points(rest, where)
    bridges, gaps = _bridge(rest, nodes, where)
    rest = [*rest, *bridges]
    nodes = _meeting_points(rest, where)
    partner = _pair_ends(rest, nodes, where)
    return (*closed, *_walk(rest, partner)), gaps


def _meeting_points(curves: Sequence[Curve], where: str) -> list[list[int]]:
    """Ends that lie on one another; end 2i is the start of curve i, 2i + 1 its end."""
    ends = np.array([p for c in curves for p in (c.start, c.end)])
    places, place = np.unique(ends, axis=0, return_inverse=True)
    parent = list(range(len(places)))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    for a, b in _near(places, MERGE, where):
        parent[root(a)] = root(b)
    groups: dict[int, list[int]] = defaultdict(list)
    for i, k in enumerate(place.ravel().tolist()):
        groups[root(k)].append(i)
    return list(groups.values())


def _near(points: Array, reach: float, where: str) -> set[tuple[int, int]]:
    """Pairs of points within `reach` mm of each other."""
    tree = KDTree(points)
    if tree.count_neighbors(tree, reach) > len(points) + 2 * _MOST_NEAR:
        raise DrawingError(
            f"more than {_MOST_NEAR:,} pairs of line ends lie within {reach:g} mm of each other",
            where=where,
            todo="leave only the outline on its layer, and check the unit of the drawing",
        )
    found: set[tuple[int, int]] = tree.query_pairs(reach)
    return found


def _bridge(
    curves: Sequence[Curve], nodes: list[list[int]], where: str
) -> tuple[list[Curve], tuple[Gap, ...]]:
    """Straight pieces between loose ends, nearest pairs first."""
    loose = [node[0] for node in nodes if len(node) == 1]
    if not loose:
        return [], ()
    points = np.array([_end(curves, i) for i in loose])
    pairs = sorted(
        _near(points, CLOSE_GAP, where), key=lambda ab: math.dist(points[ab[0]], points[ab[1]])
    )
    done: set[int] = set()
    gaps = []
    for a, b in pairs:
        if not done & {a, b}:
            done |= {a, b}
            gap = Gap(_end(curves, loose[a]), _end(curves, loose[b]), curves[loose[a] // 2].layer)
            gaps.append(gap)
    for i in range(len(loose)):
        if i not in done:
            raise _open_end(curves, loose, points, i, where)
    bridges = [Curve((Line(g.start, g.end),), g.layer, "bridge") for g in gaps]
    return bridges, tuple(gaps)


def _open_end(
    curves: Sequence[Curve], loose: list[int], points: np.ndarray, i: int, where: str
) -> DrawingError:
    curve = curves[loose[i] // 2]
    here = _at(_end(curves, loose[i]))
    others = np.delete(np.arange(len(loose)), i)
    place = f"{where}, layer {curve.layer!r}"
    if not len(others):
        return DrawingError(
            f"{curve.source or 'a line'} ends at {here} and nothing continues it",
            where=place,
            todo="close the outline there, or move the line to another layer",
        )
    distances = np.hypot(*(points[others] - points[i]).T)
    nearest = int(others[np.argmin(distances)])
    return DrawingError(
        f"the outline is open: {curve.source or 'a line'} ends at {here}, the nearest loose end "
        f"is at {_at(_end(curves, loose[nearest]))}, {distances.min():.4g} mm away",
        where=place,
        todo=f"join the two ends; gaps up to {CLOSE_GAP:g} mm are closed by themselves",
    )


def _pair_ends(curves: Sequence[Curve], nodes: list[list[int]], where: str) -> dict[int, int]:
    """Which end goes on with which, at every meeting point."""
    partner: dict[int, int] = {}
    for node in nodes:
        ends = node
        if len(ends) > _LARGE_TURN:
            # loops that touch here: neighbours in angle go together, so none cross
            ends = sorted(node, key=lambda i: _leaving_angle(curves[i // 2], i % 2 == 1))
        if len(ends) % 2:
            curve = curves[ends[0] // 2]
            raise DrawingError(
                f"{len(ends)} lines meet at {_at(_end(curves, ends[0]))}, so it is not clear "
                "where the outline goes on",
                where=f"{where}, layer {curve.layer!r}",
                todo="remove the line that does not belong to the outline",
            )
        for a, b in zip(ends[::2], ends[1::2], strict=True):
            partner[a], partner[b] = b, a
    return partner


def _walk(curves: Sequence[Curve], partner: dict[int, int]) -> list[Curve]:
    loops = []
    left = dict.fromkeys(range(len(curves)))
    while left:
        first = next(iter(left))
        chain, at = [], 2 * first
        while at // 2 in left:
            del left[at // 2]
            curve = curves[at // 2]
            chain.append(curve if at % 2 == 0 else curve.reversed())
            at = partner[at ^ 1]
        pieces = tuple(piece for curve in chain for piece in curve.pieces)
        loops.append(Curve(pieces, chain[0].layer, chain[0].source))
    return loops


def _end(curves: Sequence[Curve], i: int) -> Point:
    curve = curves[i // 2]
    return curve.start if i % 2 == 0 else curve.end


def _leaving_angle(curve: Curve, from_end: bool) -> float:
    """Direction in which a curve leaves one of its ends."""
    points = curve.flatten(CLOSE_GAP)[0]
    a, b = (points[-1], points[-2]) if from_end else (points[0], points[1])
    return math.atan2(b[1] - a[1], b[0] - a[0])


def _at(point: Point) -> str:
    return f"({point[0]:.6g}, {point[1]:.6g})"
