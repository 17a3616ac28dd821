"""The path of a cut as lines and arcs, what of it lies beside a line, and tabs to draw.

Problem: the path was simulated with straight pieces; a controller wants lines and arcs that are
exactly half a kerf from the outline.

Method: at a distance from a line runs a line, from an arc an arc about its centre, from a corner an
arc about the corner. Which of these a path is made of, and in what order, is read off the
simulated path, whose pieces lie within the tolerance of it; where two of them meet is worked
out anew, as the crossing of lines and circles nearest to where the path changes over.

Invariant: what is returned is measured against the outline; where it is off by more than the
tolerance, arcs are fitted to the simulated path instead.

Complexity: O(n log n) for n pieces of the path, by a tree over the outline's.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
import shapely
from shapely import LineString

from silhouette3d.drawing.arcs.fit import as_arcs
from silhouette3d.drawing.arcs.pieces import (
    Ring,
    Simple,
    crossings,
    flattened,
    heading,
    joined_up,
    length_of,
    share_at,
    shifted_right,
)
from silhouette3d.drawing.arcs.trace import traced
from silhouette3d.drawing.model import Arc, Array, Line, Point, Sampled
from silhouette3d.geometry.polygons import polygons_of
from silhouette3d.geometry.tolerances import ANGLE, MERGE, SHARE
from silhouette3d.process.cut import Cut, Tab
from silhouette3d.process.leads import Hand, Lead
from silhouette3d.process.runs import Run
from silhouette3d.process.tabs import kept

__all__ = [
    "FIT",
    "Stretch",
    "beside",
    "lead_beside",
    "lead_onto",
    "outline_rings",
    "path_rings",
    "tab_shape",
    "true_run",
]

# --- The outline of a cut and the path beside it as lines and arcs of circles


FIT: Final = 0.5
"""Share of the job's tolerance within which arcs stand for ellipses, Béziers and splines."""


def outline_rings(cut: Cut) -> tuple[Ring, ...]:
    """Trace the outline in face coordinates, the material on the left hand.

    Lines and arcs of circles are those of the drawing. Arcs within `FIT` of the
    job's tolerance stand for other curves.
    """
    outline = cut.profile.outline
    return tuple(
        Ring(tuple(one for piece in ring for one in as_arcs(piece, FIT * cut.tolerance)))
        for ring in traced(outline.polygons, outline.loops, cut.tolerance)
    )


def path_rings(cut: Cut, outline: Sequence[Ring]) -> tuple[Ring, ...]:
    """Trace the way of the cutter's middle, material on the left hand; tabs not left out.

    Half a kerf off the outline's rings, exactly but for rounding, where parts of
    the path meet as worked out. Each ring is measured, and one that is wrong by
    more than the tolerance is replaced by arcs over the simulated path: within three
    times the tolerance, one for the outline's chords, one for the disc's, `FIT` for
    the arcs.
    """
    if cut.kerf == 0.0:
        return tuple(outline)
    beside = _Beside(outline, cut.kerf / 2.0, cut.tolerance)
    area = shapely.orient_polygons(polygons_of(cut.within_path))
    lines = [
        shapely.get_coordinates(line)
        for polygon in area.geoms
        for line in (polygon.exterior, *polygon.interiors)
    ]
    return tuple(beside.along(line) for line in lines)


@dataclass(frozen=True)
class _Source:
    """Source of a piece of the path: a piece of a ring, or the corner where it starts."""

    ring: int
    piece: int
    corner: bool


class _Beside:
    """Paths at a distance to the right of some rings."""

    def __init__(self, rings: Sequence[Ring], distance: float, tolerance: float) -> None:
        self.rings, self.distance, self.tolerance = rings, distance, tolerance
        pieces = [(r, i, p) for r, ring in enumerate(rings) for i, p in enumerate(ring.pieces)]
        lines = [LineString(p.chords(tolerance / 20.0)[0]) for _, _, p in pieces]
        self._owner = [(r, i) for r, i, _ in pieces]
        beside = [shifted_right(p, distance) for _, _, p in pieces]
        self._ends_of_pieces = shapely.points(
            [end for piece in beside if piece is not None for end in (piece.start, piece.end)]
        )
        self._tree = shapely.STRtree(lines)

    def along(self, path: Array) -> Ring:
        """Find the ring that a closed line (n, 2) within the tolerance stands for."""
        runs = self._completed(self._runs(path))
        if len(runs) == 1:
            whole = self._whole(runs[0][0])
            if whole is not None:
                return whole
        curves = [self._curve(source) for source, _ in runs]
        if all(curve is not None for curve in curves):
            meets = [
                self._meeting(before, after, near)
                for (before, _), (after, near) in zip([runs[-1], *runs[:-1]], runs, strict=True)
            ]
            pieces = [
                piece
                for curve, start, end in zip(curves, meets, [*meets[1:], meets[0]], strict=True)
                if curve is not None and math.dist(start, end) > MERGE
                for piece in _from_to(curve, start, end)
            ]
            if pieces and self._off(pieces) <= self.tolerance:
                return Ring(tuple(pieces))
        around = Sampled(tuple((float(u), float(v)) for u, v in path), self.tolerance)
        return Ring(as_arcs(around, FIT * self.tolerance))

    def _runs(self, path: Array) -> list[tuple[_Source, Point]]:
        """List what the path runs beside, in order, and where it changes to that.

        A straight piece of it may stand for several, where they bend by little: so it
        is asked between any two of its own corners and of the points where pieces end.
        """
        lengths = np.linalg.norm(np.diff(path, axis=0), axis=1)
        corners = np.concatenate([[0.0], np.cumsum(lengths)])
        sides = np.array(shapely.linestrings(np.stack([path[:-1], path[1:]], axis=1)))
        end, side = shapely.STRtree(sides).query_nearest(
            self._ends_of_pieces, max_distance=2.0 * self.tolerance
        )
        passed = corners[side] + shapely.line_locate_point(sides[side], self._ends_of_pieces[end])
        ways = np.unique(np.concatenate([corners, passed]))
        ways = ways[np.r_[True, np.diff(ways) > MERGE]]
        halfway = (ways[:-1] + ways[1:]) / 2.0
        middles, path = (
            np.column_stack([np.interp(at, corners, path[:, k]) for k in (0, 1)])
            for at in (halfway, ways)
        )
        _, first = np.unique(
            (found := self._tree.query_nearest(shapely.points(middles)))[0], return_index=True
        )
        sources = [
            self._source(int(owner), middle)
            for owner, middle in zip(found[1][first], middles, strict=True)
        ]
        changes = [i for i in range(len(sources)) if sources[i] != sources[i - 1]] or [0]
        return [(sources[i], (float(path[i][0]), float(path[i][1]))) for i in changes]

    def _source(self, owner: int, point: Array) -> _Source:
        ring, index = self._owner[owner]
        pieces = self.rings[ring].pieces
        piece = pieces[index]
        share = float(share_at(piece, point[None])[0])
        if 0.0 <= share <= 1.0:
            return _Source(ring, index, corner=False)
        nearer_end = math.dist(point, piece.end) < math.dist(point, piece.start)
        return _Source(ring, (index + nearer_end) % len(pieces), corner=True)

    def _completed(self, runs: list[tuple[_Source, Point]]) -> list[tuple[_Source, Point]]:
        """Add outer corners too small for the simulated path to show; drop inner ones.

        The middle of a straight piece may lie beside an inner corner, where the
        path itself has none.
        """
        kept = [run for run in runs if not run[0].corner or self._is_outer(run[0])]
        found: list[tuple[_Source, Point]] = []
        for (before, _), (after, near) in zip([*kept[-1:], *kept[:-1]], kept, strict=True):
            if self._follows(before, after) and self._is_outer(after):
                found.append((_Source(after.ring, after.piece, corner=True), near))
            found.append((after, near))
        return found

    def _follows(self, before: _Source, after: _Source) -> bool:
        if before.corner or after.corner or before.ring != after.ring:
            return False
        count = len(self.rings[after.ring].pieces)
        return (before.piece + 1) % count == after.piece

    def _is_outer(self, source: _Source) -> bool:
        """Tell whether the outline turns left where a piece starts, or back on itself."""
        pieces = self._pieces(source)
        (a, b), (c, d) = heading(pieces[source.piece - 1], 1.0), heading(pieces[source.piece], 0.0)
        return a * d - b * c > ANGLE or (a * c + b * d < 0.0 and abs(a * d - b * c) <= ANGLE)

    def _pieces(self, source: _Source) -> tuple[Simple, ...]:
        return self.rings[source.ring].pieces

    def _ends(self, source: _Source) -> tuple[Array | None, Array | None]:
        """Find where the piece before a corner ends and the next starts, beside the outline."""
        pieces = self._pieces(source)
        before = shifted_right(pieces[source.piece - 1], self.distance)
        after = shifted_right(pieces[source.piece], self.distance)
        return (
            None if before is None else np.array(before.end),
            None if after is None else np.array(after.start),
        )

    def _curve(self, source: _Source) -> Simple | None:
        piece = self._pieces(source)[source.piece]
        if source.corner:
            return Arc.circular(piece.start, self.distance)
        return shifted_right(piece, self.distance)

    def _whole(self, source: _Source) -> Ring | None:
        """Make a path beside one closed arc, or about one corner, all round."""
        curve = self._curve(source)
        if isinstance(curve, Arc) and math.isclose(
            abs(curve.end_angle - curve.start_angle), 2.0 * math.pi, rel_tol=SHARE
        ):
            return Ring((curve,))
        return None

    def _meeting(self, before: _Source, after: _Source, near: Point) -> Point:
        """Find where the path goes over from beside one thing to beside the next."""
        if before.ring == after.ring and before.corner != after.corner:
            ends = self._ends(before if before.corner else after)
            if before.corner and before.piece == after.piece and ends[1] is not None:
                return float(ends[1][0]), float(ends[1][1])
            count = len(self._pieces(after))
            if after.corner and (before.piece + 1) % count == after.piece and ends[0] is not None:
                return float(ends[0][0]), float(ends[0][1])
        if self._follows(before, after):
            a, b = self._ends(after)
            if a is not None and b is not None and float(np.linalg.norm(a - b)) <= MERGE:
                return float(a[0]), float(a[1])
        first, second = self._curve(before), self._curve(after)
        if first is None or second is None:
            return near
        return min(crossings(first, second), key=lambda p: math.dist(p, near), default=near)

    def _off(self, pieces: Sequence[Simple]) -> float:
        """Bound by how much the distance of a ring from the outline is wrong."""
        points = flattened(pieces, self.tolerance / 20.0)
        between = np.concatenate([points, (points[1:] + points[:-1]) / 2.0])
        _, off = self._tree.query_nearest(
            shapely.points(between), return_distance=True, all_matches=False
        )
        return float(np.abs(off - self.distance).max())


def _from_to(curve: Simple, start: Point, end: Point) -> Iterator[Simple]:
    """Yield the piece of a line or circle between two points near it, the way it runs."""
    if isinstance(curve, Line):
        yield Line(start, end)
        return
    radius = math.hypot(*curve.axis_u)
    (a, b), (c, d) = curve.axis_u, curve.axis_v
    left = (a * d - b * c) * (curve.end_angle - curve.start_angle) > 0.0
    u, v = curve.centre
    first = math.atan2(start[1] - v, start[0] - u)
    sweep = (math.atan2(end[1] - v, end[0] - u) - first) % (2.0 * math.pi)
    yield Arc.circular(
        curve.centre, radius, first, first + (sweep if left else sweep - 2.0 * math.pi)
    )


# --- What of an outline or a true path lies beside a line, and the shape of a tab to draw


_STEPS: Final = 16
"""In which a line is followed along rings, besides its own corners."""

Span = tuple[float, float]


@dataclass(frozen=True)
class Stretch:
    """Lines and arcs end to end; `closed` where the last ends at the first."""

    pieces: tuple[Simple, ...]
    closed: bool = False

    @property
    def start(self) -> Point:
        """Point where it begins."""
        return self.pieces[0].start

    @property
    def end(self) -> Point:
        """Point where it ends."""
        return self.pieces[0].start if self.closed else self.pieces[-1].end

    @property
    def reversed(self) -> Stretch:
        """The other way."""
        return Stretch(tuple(_reversed(piece) for piece in self.pieces[::-1]), self.closed)


def true_run(run: Run, rings: Sequence[Ring], side: Hand = "left") -> Stretch:
    """Turn a run into lines and arcs: a piece of a true path from its start to its end.

    The material lies on the left hand of the rings, and on the given hand of the run.
    """
    if side == "right":
        return true_run(replace(run, line=shapely.reverse(run.line)), rings).reversed
    ends = shapely.get_coordinates(run.line)[[0, -1]]
    middle = shapely.get_coordinates(run.line.interpolate(0.5, normalized=True))
    ring = min(rings, key=lambda one: float(one.nearest(np.concatenate([ends, middle]))[1].sum()))
    first, last = (float(way) for way in ring.nearest(ends)[0])
    if run.is_closed:
        return Stretch(ring.around(first), closed=True)
    return Stretch(ring.between(first, first + (last - first) % ring.length))


def _reversed(piece: Simple) -> Simple:
    if isinstance(piece, Line):
        return Line(piece.end, piece.start)
    return replace(piece, start_angle=piece.end_angle, end_angle=piece.start_angle)


def lead_onto(lead: Lead, main: Stretch) -> Stretch:
    """Move a lead by what the true run begins or ends off its straight pieces."""
    onto = math.dist(lead.end, main.start) <= math.dist(lead.start, main.end)
    (u, v), (a, b) = (lead.end, main.start) if onto else (lead.start, main.end)
    return Stretch((_moved(lead.piece, a - u, b - v),))


def _moved(piece: Simple, u: float, v: float) -> Simple:
    def to(point: Point) -> Point:
        return point[0] + u, point[1] + v

    if isinstance(piece, Line):
        return Line(to(piece.start), to(piece.end))
    return replace(piece, centre=to(piece.centre))


def lead_beside(
    lead: Stretch, main: Stretch, outline: Stretch, off: float, *, out: bool = False
) -> Stretch:
    """Shift a lead onto an outline, so that half a kerf beside it runs the lead itself.

    Beside a straight lead and the outline the cutter's middle turns where the lines beside
    both cross: so the lead goes past the outline's own line and onto it from behind.

    Parameters
    ----------
    lead : Stretch
        As the cutter's middle goes along it.
    main : Stretch
        The run it leads onto, or off.
    outline : Stretch
        What that runs beside.
    off : float
        How far to the right of the outline the run is, in mm; negative to the left.
    out : bool
        Whether it leads off the run.
    """
    (piece,) = lead.pieces
    at = outline.end if out else outline.start
    if isinstance(piece, Arc):
        aside = shifted_right(piece, -off) or piece
        u, v = aside.start if out else aside.end
        return Stretch((_moved(aside, at[0] - u, at[1] - v),))
    (a, b), (c, d) = heading(piece, 1.0), heading(main.pieces[0], 0.0)
    half = math.tan(math.atan2(a * d - b * c, a * c + b * d) / 2.0)
    corner = (at[0] + off * half * c, at[1] + off * half * d)
    long = length_of(piece) - off * half
    onto = Line((corner[0] - long * a, corner[1] - long * b), corner)
    if math.dist(corner, at) <= MERGE:
        return Stretch((onto,))
    return Stretch((onto, Line(corner, at)))


def beside(
    rings: Sequence[Ring], lines: Sequence[LineString]
) -> tuple[tuple[Stretch, ...], tuple[Stretch, ...]]:
    """Part rings into what lies beside some lines and what does not.

    A line lies beside a ring from where the ring is nearest to one end of it to
    where it is nearest to the other.

    Returns
    -------
    tuple of Stretch
        What lies beside the lines, in their order: a whole ring from where it is nearest to
        the first point of its line.
    tuple of Stretch
        The rest, ring by ring.
    """
    found: list[Stretch] = []
    spans: list[list[Span]] = [[] for _ in rings]
    for line in lines:
        by_ring: dict[int, list[Span]] = {}
        for i, span in _feet(rings, line):
            by_ring.setdefault(i, []).append(span)
        for i, some in by_ring.items():
            found += _along(rings[i], some)
            spans[i] += some
    return tuple(found), tuple(
        Stretch(ring.between(*gap), closed=gap == (0.0, ring.length))
        for ring, some in zip(rings, spans, strict=True)
        for gap in _gaps(ring, some)
    )


def _joined(spans: Sequence[Span], length: float) -> list[Span]:
    """Join spans of a ring in order, without overlaps and gaps of rounding."""
    joined: list[Span] = []
    for start, end in joined_up([s for s in spans if s[1] - s[0] > MERGE], length):
        if joined and start - joined[-1][1] <= MERGE:
            joined[-1] = joined[-1][0], end
        else:
            joined.append((start, end))
    if len(joined) > 1 and joined[0][0] + length - joined[-1][1] <= MERGE:
        joined[-1] = joined[-1][0], joined.pop(0)[1] + length
    return joined


def _along(ring: Ring, spans: Sequence[Span]) -> Iterator[Stretch]:
    """Yield stretches of a ring in spans, of which the first is where a line begins."""
    joined, begins = _joined(spans, ring.length), spans[0][0]
    if any(end - start >= ring.length - MERGE for start, end in joined):
        yield Stretch(ring.around(begins), closed=True)
        return
    for span in sorted(joined, key=lambda span: (span[0] - begins + MERGE) % ring.length):
        yield Stretch(ring.between(*span))


def _gaps(ring: Ring, spans: Sequence[Span]) -> Iterator[Span]:
    """Yield what of a ring is in none of some spans."""
    joined = _joined(spans, ring.length)
    if not joined:
        yield 0.0, ring.length
        return
    nexts = [*(start for start, _ in joined[1:]), joined[0][0] + ring.length]
    for (_, end), start in zip(joined, nexts, strict=True):
        if start - end > MERGE:
            yield end, start


def _feet(rings: Sequence[Ring], line: LineString) -> Iterator[tuple[int, Span]]:
    """Yield from and to which way on which ring a line runs beside it, step by step."""
    corners = shapely.points(shapely.get_coordinates(line)[:-1])  # of a closed one the last is 0
    ways = np.atleast_1d(shapely.line_locate_point(line, corners, normalized=True))
    every = np.union1d(ways, np.arange(_STEPS + 1) / _STEPS)
    along = shapely.line_interpolate_point(line, every, normalized=True)
    found = [ring.nearest(shapely.get_coordinates(along)) for ring in rings]
    nearest = np.argmin([off for _, off in found], axis=0)
    ways = np.array([way for way, _ in found])[nearest, np.arange(len(nearest))]
    for (ring, a), (other, b) in pairwise(zip(nearest.tolist(), ways.tolist(), strict=True)):
        if ring == other:
            ahead, back = (b - a) % rings[ring].length, (a - b) % rings[ring].length
            yield ring, (a, a + ahead) if ahead <= back else (b, b + back)


def tab_shape(cut: Cut, tab: Tab) -> Array:
    """Make a strip (n, 2) across the kerf that covers what stays of the path at a tab.

    Square to the path at both ends, half a kerf short of where the cutter's middle
    stops. As wide as the kerf, or a tenth of the tab where that is more; narrower
    where it would cover another piece of the path.
    """
    stays = kept(cut, tab)
    reach = max(cut.width, stays.length / 10.0) / 2.0
    while True:
        strip = shapely.buffer(stays, reach, cap_style="flat", join_style="bevel")
        covered = shapely.length(shapely.intersection(cut.path, strip))
        if covered <= stays.length + MERGE or reach < MERGE:
            return np.array(strip.exterior.coords)[:-1]
        reach /= 2.0
