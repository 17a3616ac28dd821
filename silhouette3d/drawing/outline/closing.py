"""Closing of open curves end to end: a graph of ends whose even nodes make loops.

Problem: a drawing's lines come in any order and direction; which of them make closed loops?

Method: ends that meet are a node. A drawing closes if an even number of ends meets at every node;
then each end has one to go on with: of several, neighbours by the angle at which they leave go
together, so that loops do not cross there. Gaps no wider than is usual are bridged, nearest
ends first. Curves with a loose end can be left out, again and again, until none are left; curves
can be cut first where they meet, so that each piece is an edge of its own.

Invariant: every curve that is left lies in exactly one loop, once.

Complexity: O(n log n) for n curves, by a tree over their ends, and O(k) more where they are cut at
k meetings.

Reference: L. Euler, Solutio problematis ad geometriam situs pertinentis, 1741: a graph is made of
closed walks exactly if every node is even (from memory).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
import shapely
from scipy.spatial import KDTree

from silhouette3d.base.units import CLOSE_GAP
from silhouette3d.drawing.model import Array, Curve, Line, Piece, Point
from silhouette3d.drawing.outline.loops import refuse_to_cut
from silhouette3d.errors import DrawingError
from silhouette3d.geometry.tolerances import MERGE

__all__ = ["Gap", "Joined", "Net", "UnclosedError", "close_loops", "nets", "parted", "unrepeated"]

# --- Curves and how their ends meet: a graph whose even nodes make loops


_LARGE_TURN: Final = 2
_MOST_NEAR: Final = 1_000_000


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


@dataclass(frozen=True)
class Joined:
    """Closed loops made of open curves.

    Parameters
    ----------
    loops : tuple of Curve
        Of straight pieces only, where lines had to be cut where they meet.
    gaps : tuple of Gap
        What was bridged.
    drawn : tuple of Curve, optional
        Where lines had to be cut: the curves that the loops are made of, with their true arcs.
    area_error : float
        Bound in mm² on what lies between these arcs and straight pieces in the loops.
    left_out : tuple of Curve
        Curves as drawn that are in none of the loops, at least not whole.
    """

    loops: tuple[Curve, ...]
    gaps: tuple[Gap, ...]
    drawn: tuple[Curve, ...] | None = None
    area_error: float = 0.0
    left_out: tuple[Curve, ...] = ()


@dataclass(frozen=True)
class Net:
    """Curves and how their ends meet.

    Ends are numbered: 2i is the start of curve i, 2i + 1 its end.

    Parameters
    ----------
    closed : tuple of Curve
        Those that close by themselves.
    curves : tuple of Curve
        Open ones, then the bridges over small gaps.
    gaps : tuple of Gap
        One for each bridge.
    nodes : tuple of tuples of int
        Ends that meet.
    drawn : tuple of Curve
        All as drawn.
    owners : tuple of int
        Which of `drawn` each of `curves` is of; -1 for a bridge.
    is_cut : bool
        Whether curves were made straight pieces and cut where they meet.
    area_error : float
        Bound on what lies between the arcs among them and straight pieces, in mm².
    """

    closed: tuple[Curve, ...]
    curves: tuple[Curve, ...]
    gaps: tuple[Gap, ...]
    nodes: tuple[tuple[int, ...], ...]
    drawn: tuple[Curve, ...]
    owners: tuple[int, ...]
    is_cut: bool = False
    area_error: float = 0.0

    @classmethod
    def of(cls, curves: Sequence[Curve], where: str) -> Net:
        """Find which ends of curves meet."""
        return cls._made(curves, range(len(curves)), curves, where)

    @classmethod
    def cut(cls, curves: Sequence[Curve], tolerance: float, where: str) -> Net:
        """Cut curves where they meet, and find which ends meet then.

        Raises
        ------
        DrawingError
            If they meet in too many places.
        """
        pieces, owners = _noded(curves, tolerance, where)
        flat = [curve.flatten(tolerance) for curve in curves]
        rounded = MERGE * sum(float(shapely.length(shapely.LineString(p))) for p, _ in flat)
        error = rounded + sum(area for _, area in flat)
        return replace(cls._made(pieces, owners, curves, where), is_cut=True, area_error=error)

    @classmethod
    def _made(
        cls,
        pieces: Sequence[Curve],
        owners: Sequence[int],
        drawn: Sequence[Curve],
        where: str,
    ) -> Net:
        closed = tuple(c for c in pieces if c.is_closed)
        curves = [c for c in pieces if not c.is_closed]
        of = [i for i, c in zip(owners, pieces, strict=True) if not c.is_closed]
        gaps: tuple[Gap, ...] = ()
        nodes: list[list[int]] = []
        if curves:
            bridges, gaps = _bridge(curves, _meeting_points(curves, where), where)
            curves += bridges
            of += [-1] * len(bridges)
            nodes = _meeting_points(curves, where)
        return cls(closed, tuple(curves), gaps, tuple(map(tuple, nodes)), tuple(drawn), tuple(of))

    @property
    def loose(self) -> tuple[int, ...]:
        """Ends that meet no other."""
        return tuple(node[0] for node in self.nodes if len(node) == 1)

    @property
    def odd(self) -> tuple[tuple[int, ...], ...]:
        """Ends that meet an even number of others: it is not clear where a line goes on."""
        return tuple(node for node in self.nodes if len(node) % 2 and len(node) > 1)

    @property
    def closes(self) -> bool:
        """True if every line goes on at both ends, and it is clear where."""
        return not any(len(node) % 2 for node in self.nodes)

    def end(self, i: int) -> Point:
        """Find the place of an end, in mm."""
        return _end(self.curves, i)

    def pruned(self) -> Net:
        """Leave out curves with a loose end, again and again until there are none."""
        left = set(range(len(self.curves)))
        nodes = [set(node) for node in self.nodes]
        at = {end: k for k, node in enumerate(nodes) for end in node}
        loose = [next(iter(node)) for node in nodes if len(node) == 1]
        while loose:
            end = loose.pop()
            if end // 2 not in left:
                continue
            left.remove(end // 2)
            for one in (end, end ^ 1):
                nodes[at[one]].discard(one)
            if len(nodes[at[end ^ 1]]) == 1:
                loose.append(next(iter(nodes[at[end ^ 1]])))
        kept = sorted(left)
        new = {old: i for i, old in enumerate(kept)}
        first = len(self.curves) - len(self.gaps)
        return replace(
            self,
            curves=tuple(self.curves[i] for i in kept),
            gaps=tuple(self.gaps[i - first] for i in kept if i >= first),
            nodes=tuple(
                tuple(2 * new[end // 2] + end % 2 for end in node if end // 2 in new)
                for node in self.nodes
                if any(end // 2 in new for end in node)
            ),
            owners=tuple(self.owners[i] for i in kept),
        )

    def joined(self) -> Joined:
        """Walk from curve to curve until all are in loops; for a net that closes."""
        loops = (*self.closed, *_walk(self.curves, _pair_ends(self.curves, self.nodes)))
        return Joined(loops, self.gaps, self.drawn if self.is_cut else None, self.area_error)


def _noded(curves: Sequence[Curve], tolerance: float, where: str) -> tuple[list[Curve], list[int]]:
    """Node straight pieces so that they meet at ends only, each once; tell whose they are."""
    chains = [c.flatten(tolerance)[0] for c in curves]
    refuse_to_cut(chains, where)
    lines = [shapely.LineString(points) for points in chains]
    with np.errstate(divide="ignore", invalid="ignore"):  # GEOS divides and looks afterwards
        noded = shapely.union_all(lines, grid_size=MERGE)
    tree = shapely.STRtree(lines)
    pieces, owners = [], []
    for part in shapely.get_parts(shapely.line_merge(noded)):
        points = [(float(x), float(y)) for x, y in part.coords]
        owner = int(tree.nearest(part.interpolate(0.5, normalized=True)))
        chords = tuple(Line(a, b) for a, b in pairwise(points))
        pieces.append(Curve(chords, curves[owner].layer, curves[owner].source))
        owners.append(owner)
    return pieces, owners


def _meeting_points(curves: Sequence[Curve], where: str) -> list[list[int]]:
    """Group ends that lie on one another; end 2i is the start of curve i, 2i + 1 its end."""
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
    """Pair points within `reach` mm of each other."""
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
    """Bridge loose ends by straight pieces, nearest pairs first."""
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
    bridges = [Curve((Line(g.start, g.end),), g.layer, "bridge") for g in gaps]
    return bridges, tuple(gaps)


def _pair_ends(curves: Sequence[Curve], nodes: Sequence[Sequence[int]]) -> dict[int, int]:
    """Pair the ends that go on with each other, at every meeting point."""
    partner: dict[int, int] = {}
    for node in nodes:
        ends = list(node)
        if len(ends) > _LARGE_TURN:
            # loops that touch here: neighbours in angle go together, so none cross
            ends = sorted(node, key=lambda i: _leaving_angle(curves[i // 2], i % 2 == 1))
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
    """Find the direction in which a curve leaves one of its ends."""
    points = curve.flatten(CLOSE_GAP)[0]
    a, b = (points[-1], points[-2]) if from_end else (points[0], points[1])
    return math.atan2(b[1] - a[1], b[0] - a[0])


# --- Joining open curves end to end into closed loops


class UnclosedError(Exception):
    """Open curves do not close; a survey says why."""


def close_loops(curves: Sequence[Curve], tolerance: float, where: str) -> Joined:
    """Join open curves to closed loops.

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
    UnclosedError
        If an end is further than `CLOSE_GAP` from any other, or an odd number
        of lines meet at a point.
    DrawingError
        If more ends lie beside each other than can be looked at.
    """
    for net in nets(curves, tolerance, where):
        if net.closes:
            return net.joined()
    raise UnclosedError


def nets(curves: Sequence[Curve], tolerance: float, where: str) -> Iterator[Net]:
    """Give the ways in which curves may meet: at their ends, then also between them."""
    unique = unrepeated(curves, tolerance)
    yield Net.of(unique, where)
    try:
        cut = Net.cut(unique, tolerance, where)
    except DrawingError:
        return  # too many places to tell
    yield cut


def parted(loop: Curve) -> list[Curve]:
    """Part a closed curve into loops that come to no corner twice.

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
    """Drop repetitions of curves, whichever way round they were drawn."""
    seen: dict[bytes, Curve] = {}
    for curve in curves:
        points = np.round(curve.flatten(tolerance)[0] / MERGE) + 0.0
        forward, backward = points.tobytes(), points[::-1].tobytes()
        seen.setdefault(min(forward, backward), curve)
    return list(seen.values())
