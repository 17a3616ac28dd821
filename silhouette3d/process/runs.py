"""How a cut is run: which stretches of its path, in which order, each from where to where.

Problem: the path of a cut goes all round its outlines, but the cutter need run
only where material stands at that stage, must stop at tabs, and is to make the
pieces in an order in which nothing that still has to be cut is free already.

Method: on each closed line of the path the intervals are found in which the
cutter, a disc, meets what stands, seen along the view. Air between two of them
that is shorter than a limit is run through; at longer air the cutter stops, one
kerf past the material. What is left are the runs. They are put in order by how
deep their line lies inside others, deepest first, so that a hole is cut before
the outline that holds it, and the largest outline last; of equal ones by the
nearest neighbour and 2-opt over the air moves between them.

Invariant: the runs, grown by half the kerf, take everything from what stands
that the whole path less its tabs would take, but for grazes of a tolerance.

Complexity: n runs take n² steps for the nearest neighbours and n² for each pass of
2-opt, as rows of arrays; a few passes are enough.

Reference: G. A. Croes, "A method for solving traveling-salesman problems",
Operations Research 6 (1958) 791-812, for 2-opt (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiPolygon, Polygon

from silhouette3d.drawing.arcs.pieces import joined_up
from silhouette3d.drawing.model import Point
from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.tolerances import GRID, MERGE
from silhouette3d.process.cut import Cut, Tab
from silhouette3d.process.tabs import stretch_of

__all__ = ["AIR", "Run", "Start", "loops_of", "runs_of"]

AIR: Final = 5.0
"""mm. Shorter air along the path is run through; common practice, no source."""

Start = Literal["edge", "hole", "pierce"]
"""How a run begins: in air; in the waste of a hole that it goes all round; in other material."""

Span = tuple[float, float]
"""From and to which way along a closed line; the second, greater, may lie beyond its length."""

_MOST_PASSES: Final = 40
"""Of 2-opt. Each shortens the way; on a thousand places some ten are needed."""


@dataclass(frozen=True, eq=False)
class Run:
    """One stretch that the cutter makes without stopping.

    Parameters
    ----------
    loop : int
        Which closed line of the path it lies on, as `loops_of` lists them.
    is_hole : bool
        Whether that goes round a hole of the outline.
    span : tuple of float
        From and to which way along the loop.
    line : shapely.LineString
        The middle of the cutter in cutting order, in face coordinates in mm: straight pieces
        within the tolerance of the path. The part lies on its left hand.
    start : {"edge", "hole", "pierce"}
        How it begins.
    is_closed : bool
        Whether it goes all round its loop and ends where it begins.
    """

    loop: int
    is_hole: bool
    span: Span
    line: LineString
    start: Start
    is_closed: bool

    @property
    def length(self) -> float:
        """In mm."""
        return float(self.line.length)

    @property
    def first(self) -> Point:
        """Where it begins."""
        u, v = self.line.coords[0]
        return float(u), float(v)

    @property
    def last(self) -> Point:
        """Where it ends."""
        u, v = self.line.coords[-1]
        return float(u), float(v)


def loops_of(cut: Cut) -> list[LineString]:
    """The closed lines of a cut's path, the part on the left hand of each."""
    areas = [p for p in shapely.get_parts(cut.within_path) if isinstance(p, Polygon)]
    turned = shapely.orient_polygons(MultiPolygon(areas))
    rings = [ring for area in turned.geoms for ring in (area.exterior, *area.interiors)]
    return [LineString(ring.coords) for ring in rings]


def runs_of(cut: Cut, there: shapely.Geometry, air: float = AIR) -> tuple[Run, ...]:
    """Find the runs of a cut in the order in which they are made.

    Parameters
    ----------
    cut : Cut
        With its tabs.
    there : shapely.Geometry
        What stands before the cut as seen along its view: an area in face coordinates.
    air : float
        Shorter air between what is cut is run through, in mm.
    """
    loops = loops_of(cut)
    met = shapely.buffer(there, cut.width / 2.0 - _graze(cut))
    shapely.prepare([there, met])
    found: list[Run] = []
    for i, (line, gaps) in enumerate(zip(loops, _left_out(loops, cut.tabs), strict=True)):
        if material := _within(line, met):
            found += _Loop(i, line, material, there, cut.width, air).runs(gaps)
    return tuple(_in_order(found, loops))


def _graze(cut: Cut) -> float:
    """How deep the rim may reach into what stands without cutting: no deeper than is unsure."""
    return min(cut.tolerance, cut.width / 4.0)


# --- where a loop is cut -----------------------------------------------------------------------


def _within(loop: LineString, area: shapely.Geometry) -> list[Span]:
    """Spans of a loop in an area."""
    if shapely.contains(area, loop):
        return [(0.0, loop.length)]
    parts = shapely.get_parts(shapely.intersection(loop, area))
    lines = [p for p in parts if isinstance(p, LineString) and p.length > MERGE]
    starts = [loop.project(shapely.Point(line.coords[0])) for line in lines]
    return joined_up([(a, a + p.length) for a, p in zip(starts, lines, strict=True)], loop.length)


def _left_out(loops: Sequence[LineString], tabs: Sequence[Tab]) -> list[list[Span]]:
    """For each loop the spans that tabs leave out."""
    spans: list[list[Span]] = [[] for _ in loops]
    for tab in tabs:
        spot = shapely.Point(tab.at)
        i = min(range(len(loops)), key=lambda k: float(loops[k].distance(spot)))
        loop, stretch = loops[i], tab.stretch
        one, other = (loop.project(shapely.Point(stretch.coords[k])) for k in (0, -1))
        ahead = abs((other - one) % loop.length - stretch.length)  # a stretch may run either way
        start = one if ahead <= abs((one - other) % loop.length - stretch.length) else other
        spans[i].append((start, start + stretch.length))
    return [joined_up(some, loop.length) for some, loop in zip(spans, loops, strict=True)]


@dataclass(frozen=True, eq=False)
class _Loop:
    """A closed line of the path, and the spans in which it runs through material."""

    index: int
    line: LineString
    material: list[Span]
    there: shapely.Geometry
    kerf: float
    air: float

    @property
    def length(self) -> float:
        return float(self.line.length)

    @property
    def least_air(self) -> float:
        """Air in which to stop: long enough, too, for a kerf past the material on both sides."""
        return max(self.air, 2.0 * self.kerf)

    def runs(self, gaps: Sequence[Span]) -> Iterator[Run]:
        """The runs between some gaps, or all round if there are none."""
        if not gaps:
            yield from self._all_round()
            return
        for (_, end), (start, _) in self._pairs(gaps):
            if start - end > MERGE:
                yield from self._between(end, start)

    def _pairs(self, spans: Sequence[Span]) -> Iterator[tuple[Span, Span]]:
        """Each span with the next one round."""
        first = spans[0]
        yield from zip(
            spans,
            [*spans[1:], (first[0] + self.length, first[1] + self.length)],
            strict=True,
        )

    def _all_round(self) -> Iterator[Run]:
        """One run where all air on the way is short, from the longest; else from air to air."""
        air = [(end, start) for (_, end), (start, _) in self._pairs(self.material)]
        first, last = max(air, key=lambda span: span[1] - span[0])
        if last - first >= self.least_air:
            yield from self._between(last - self.kerf, first + self.length + self.kerf)
        elif last - first > MERGE:
            yield self._run((first + last) / 2.0, (first + last) / 2.0 + self.length)
        else:
            start = self._furthest_out()
            yield self._run(start, start + self.length)

    def _furthest_out(self) -> float:
        """The way to the corner that is furthest from what stands, from which the rim cuts in."""
        points = shapely.get_coordinates(self.line)[:-1]
        far = int(np.argmax(shapely.distance(self.there, shapely.points(points))))
        return float(self.line.project(shapely.Point(points[far])))

    def _between(self, low: float, high: float) -> Iterator[Run]:
        """The runs from one way to another, stopping where the air is long."""
        joined: list[Span] = []
        for start, end in self._met(low, high):
            if joined and start - joined[-1][1] < self.least_air:
                joined[-1] = joined[-1][0], end
            else:
                joined.append((start, end))
        for start, end in joined:
            yield self._run(max(start - self.kerf, low), min(end + self.kerf, high))

    def _met(self, low: float, high: float) -> Iterator[Span]:
        """Spans of material between two ways, on whichever lap."""
        for lap in range(math.floor(low / self.length) - 1, math.ceil(high / self.length) + 1):
            for first, last in self.material:
                start = max(first + lap * self.length, low)
                end = min(last + lap * self.length, high)
                if end - start > MERGE:
                    yield start, end

    def _run(self, first: float, last: float) -> Run:
        line, is_hole = stretch_of(self.line, first, last), not shapely.is_ccw(self.line)
        whole = last - first >= self.length - MERGE
        start: Start = "hole" if whole and is_hole else "pierce"
        if shapely.distance(self.there, shapely.Point(line.coords[0])) > MERGE:
            start = "edge"  # it begins in air
        return Run(self.index, is_hole, (first, last), line, start, whole)


# --- in which order ----------------------------------------------------------------------------


def _in_order(runs: Sequence[Run], loops: Sequence[LineString]) -> Iterator[Run]:
    """The runs of the deepest loops first, the largest loop of the least deep ones last."""
    areas = [Polygon(loop.coords) for loop in loops]
    depth = _depths(areas)
    size = {run.loop: areas[run.loop].area for run in runs}
    last = min(size, key=lambda i: (depth[i], -size[i]), default=-1)
    at: Point = (0.0, 0.0)
    levels = sorted({depth[run.loop] for run in runs}, reverse=True)
    groups = [[r for r in runs if depth[r.loop] == d and r.loop != last] for d in levels]
    for group in [*groups, [run for run in runs if run.loop == last]]:
        for run in _shortest(group, at):
            placed = _from_nearest(run, loops[run.loop], at)
            at = placed.last
            yield placed


def _depths(areas: Sequence[Polygon]) -> NDArray[np.int64]:
    """(n,) how many others each area lies in."""
    spots = shapely.points([area.exterior.coords[0] for area in areas])
    spot, _ = shapely.STRtree(areas).query(spots, predicate="intersects")
    return np.bincount(spot, minlength=len(areas))


def _from_nearest(run: Run, loop: LineString, at: Point) -> Run:
    """A run all round from where it is nearest to a place, unless it begins in air."""
    if not run.is_closed or run.start == "edge":
        return run
    first = float(loop.project(shapely.Point(at)))
    span = first, first + loop.length
    return replace(run, span=span, line=stretch_of(loop, *span))


def _shortest(runs: Sequence[Run], at: Point) -> list[Run]:
    """Runs in an order with short moves between them, from a place on."""
    if len(runs) < 2:
        return list(runs)
    free = [run.is_closed and run.start != "edge" for run in runs]
    # one that may begin anywhere is where its middle is
    middles = [run.line.centroid for run in runs]
    places = [
        ((m.x, m.y), (m.x, m.y)) if anywhere else (run.first, run.last)
        for run, m, anywhere in zip(runs, middles, free, strict=True)
    ]
    first, last = (np.array([place[k] for place in places]) for k in (0, 1))
    order = _improved(_nearest_first(first, last, at), first, last, at)
    return [runs[i] for i in order]


def _nearest_first(first: Array, last: Array, at: Point) -> list[int]:
    """Each time the nearest of what is left: indices of moves that begin and end at (n, 2)."""
    left, order, here = np.arange(len(first)), [], np.asarray(at)
    while left.size:
        k = int(np.argmin(np.linalg.norm(first[left] - here, axis=1)))
        order.append(int(left[k]))
        here = last[left[k]]
        left = np.delete(left, k)
    return order


def _improved(order: list[int], first: Array, last: Array, at: Point) -> list[int]:
    """An order with stretches of it turned round as long as that shortens the way."""
    way = np.array(order)
    for _ in range(_MOST_PASSES):
        before = way.copy()
        for i in range(len(way) - 1):
            gains = _gains(way, i, first, last, np.asarray(at))
            j = int(np.argmax(gains))
            if gains[j] > GRID:  # or rounding brings circles
                way[i : i + j + 2] = way[i : i + j + 2][::-1].copy()
        if (way == before).all():
            break
    return [int(i) for i in way]


def _gains(
    way: NDArray[np.int64], i: int, first: Array, last: Array, at: Array
) -> NDArray[np.float64]:
    """By how much the way gets shorter when i to i + 1, i + 2, … of it change places."""
    here = last[way[i - 1]] if i else at
    some = way[i:]
    into, out = first[some], last[some]
    forth = np.cumsum(np.linalg.norm(out[:-1] - into[1:], axis=1))
    back = np.cumsum(np.linalg.norm(out[1:] - into[:-1], axis=1))
    away = np.zeros(len(some) - 1)
    away[:-1] = np.linalg.norm(out[1:-1] - into[2:], axis=1)
    away_turned = np.zeros(len(some) - 1)
    away_turned[:-1] = np.linalg.norm(out[0] - into[2:], axis=1)
    now = np.linalg.norm(here - into[0]) + forth + away
    turned = np.linalg.norm(here - into[1:], axis=1) + back + away_turned
    return np.asarray(now - turned)
