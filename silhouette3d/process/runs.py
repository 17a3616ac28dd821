"""Runs of a cut: stretches of its path, in which order, each from where to where.

Problem: the path of a cut goes all round its outlines, but the cutter need run
only where material stands at that stage, must stop at tabs, and is to make the
pieces in an order in which nothing that still has to be cut is free already.

Method: on each closed line of the path the intervals are found in which the
cutter, a disc, meets what stands, seen along the view. Air between two of them
that is shorter than a limit is run through; at longer air the cutter stops, one
kerf past the material. What is left are the runs. They are put in order by how
deep their line lies inside others, deepest first, so that a hole is cut before
the outline that holds it, and the largest outline last; of equal ones by the
nearest neighbour and 2-opt over the air moves between them. Each then gets its
leads (`leads`); one that goes all round begins where one fits, near the run before.

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
from silhouette3d.geometry.polygons import polygons_of
from silhouette3d.geometry.tolerances import GRID, MERGE
from silhouette3d.process.cut import Cut, Tab
from silhouette3d.process.leads import AIR, USUAL, Driving, Ground, Hand, Lead
from silhouette3d.process.tabs import stretch_of

__all__ = ["AIR", "Driving", "Run", "Start", "loops_of", "runs_of"]

Start = Literal["edge", "hole", "pierce", "drilled", "wall"]
"""How a run begins: in air; in the waste of a hole that it goes all round; in other waste; in a
hole that is drilled first; on what becomes the finished wall, as no lead fits."""

_NOTHING: Final = MultiPolygon()

_PLACES: Final = 16
"""Round a loop, at which a lead is tried."""

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
        within the tolerance of the path. The part lies on the hand that was asked for.
    start : {"edge", "hole", "pierce", "drilled", "wall"}
        How it begins.
    is_closed : bool
        Whether it goes all round its loop and ends where it begins.
    lead_in, lead_out : Lead, optional
        The way onto its line, and off it; none where it begins in air or on the wall, and
        where it ends on its line.
    """

    loop: int
    is_hole: bool
    span: Span
    line: LineString
    start: Start
    is_closed: bool
    lead_in: Lead | None = None
    lead_out: Lead | None = None

    @property
    def length(self) -> float:
        """Length in mm, without leads."""
        return float(self.line.length)

    @property
    def leads(self) -> tuple[Lead, ...]:
        """Leads that it has, in cutting order."""
        return tuple(lead for lead in (self.lead_in, self.lead_out) if lead is not None)

    @property
    def way(self) -> LineString:
        """All that the middle of the cutter goes along, leads too, in cutting order."""
        before = self.lead_in.line.coords[:-1] if self.lead_in else []
        behind = self.lead_out.line.coords[1:] if self.lead_out else []
        return LineString([*before, *self.line.coords, *behind])

    @property
    def begins(self) -> Point:
        """Point where the cutter is started."""
        return self.lead_in.start if self.lead_in else self.first

    @property
    def ends(self) -> Point:
        """Point where the cutter is stopped."""
        return self.lead_out.end if self.lead_out else self.last

    @property
    def first(self) -> Point:
        """Point where the line begins."""
        u, v = self.line.coords[0]
        return float(u), float(v)

    @property
    def last(self) -> Point:
        """Point where the line ends."""
        u, v = self.line.coords[-1]
        return float(u), float(v)


def loops_of(cut: Cut, side: Hand = "left") -> list[LineString]:
    """List the closed lines of a cut's path, the part on one hand of each."""
    turned = shapely.orient_polygons(polygons_of(cut.within_path), exterior_cw=side == "right")
    rings = [ring for area in turned.geoms for ring in (area.exterior, *area.interiors)]
    return [LineString(ring.coords) for ring in rings]


def runs_of(
    cut: Cut,
    there: shapely.Geometry,
    driving: Driving = USUAL,
    spared: shapely.Geometry = _NOTHING,
    clamps: shapely.Geometry = _NOTHING,
) -> tuple[Run, ...]:
    """Find the runs of a cut in the order in which they are made.

    Parameters
    ----------
    cut : Cut
        With its tabs.
    there : shapely.Geometry
        What stands before the cut as seen along its view: an area in face coordinates.
    driving : Driving
        How the cutter is driven.
    spared : shapely.Geometry
        What leads leave whole besides the part and the tabs of this cut.
    clamps : shapely.Geometry
        What clamps cover, which leads keep clear of.
    """
    loops = loops_of(cut, driving.side)
    met = shapely.buffer(there, cut.width / 2.0 - _graze(cut))
    shapely.prepare([there, met])
    found: list[Run] = []
    for i, (line, gaps) in enumerate(zip(loops, _left_out(loops, cut.tabs), strict=True)):
        if material := _within(line, met):
            is_hole = shapely.is_ccw(line) != (driving.side == "left")
            loop = _Loop(i, line, is_hole, material, there, cut.width, driving.air)
            found += loop.runs(gaps)
    return tuple(_in_order(found, loops, Ground(cut, there, driving, spared, clamps)))


def _graze(cut: Cut) -> float:
    """Bound how deep the rim may reach into what stands without cutting."""
    return min(cut.tolerance, cut.width / 4.0)


# --- Spans of a loop: where it is cut


def _within(loop: LineString, area: shapely.Geometry) -> list[Span]:
    """Find the spans of a loop in an area."""
    if shapely.contains(area, loop):
        return [(0.0, loop.length)]
    parts = shapely.get_parts(shapely.intersection(loop, area))
    lines = [p for p in parts if isinstance(p, LineString) and p.length > MERGE]
    starts = [loop.project(shapely.Point(line.coords[0])) for line in lines]
    return joined_up([(a, a + p.length) for a, p in zip(starts, lines, strict=True)], loop.length)


def _left_out(loops: Sequence[LineString], tabs: Sequence[Tab]) -> list[list[Span]]:
    """Find for each loop the spans that tabs leave out."""
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
    is_hole: bool
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
        """Yield the runs between some gaps, or all round if there are none."""
        if not gaps:
            yield from self._all_round()
            return
        for (_, end), (start, _) in self._pairs(gaps):
            if start - end > MERGE:
                yield from self._between(end, start)

    def _pairs(self, spans: Sequence[Span]) -> Iterator[tuple[Span, Span]]:
        """Pair each span with the next one round."""
        first = spans[0]
        yield from zip(
            spans,
            [*spans[1:], (first[0] + self.length, first[1] + self.length)],
            strict=True,
        )

    def _all_round(self) -> Iterator[Run]:
        """Yield one run, from the longest air, where all air is short; else from air to air."""
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
        """Find the way to the corner furthest from what stands, from which the rim cuts in."""
        points = shapely.get_coordinates(self.line)[:-1]
        far = int(np.argmax(shapely.distance(self.there, shapely.points(points))))
        return float(self.line.project(shapely.Point(points[far])))

    def _between(self, low: float, high: float) -> Iterator[Run]:
        """Yield the runs from one way to another, stopping where the air is long."""
        joined: list[Span] = []
        for start, end in self._met(low, high):
            if joined and start - joined[-1][1] < self.least_air:
                joined[-1] = joined[-1][0], end
            else:
                joined.append((start, end))
        for start, end in joined:
            yield self._run(max(start - self.kerf, low), min(end + self.kerf, high))

    def _met(self, low: float, high: float) -> Iterator[Span]:
        """Yield spans of material between two ways, on whichever lap."""
        for lap in range(math.floor(low / self.length) - 1, math.ceil(high / self.length) + 1):
            for first, last in self.material:
                start = max(first + lap * self.length, low)
                end = min(last + lap * self.length, high)
                if end - start > MERGE:
                    yield start, end

    def _run(self, first: float, last: float) -> Run:
        line, is_hole = stretch_of(self.line, first, last), self.is_hole
        whole = last - first >= self.length - MERGE
        start: Start = "hole" if whole and is_hole else "pierce"
        if shapely.distance(self.there, shapely.Point(line.coords[0])) > MERGE:
            start = "edge"  # it begins in air
        return Run(self.index, is_hole, (first, last), line, start, whole)


# --- Order of the runs


def _in_order(runs: Sequence[Run], loops: Sequence[LineString], ground: Ground) -> Iterator[Run]:
    """Yield the runs of the deepest loops first, the largest loop of the least deep ones last.

    Each with its leads.
    """
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
            led = _led(placed, loops[run.loop], areas[run.loop], ground)
            at = led.ends
            yield led


def _depths(areas: Sequence[Polygon]) -> NDArray[np.int64]:
    """Count how many others (n,) each area lies in."""
    spots = shapely.points([area.exterior.coords[0] for area in areas])
    spot, _ = shapely.STRtree(areas).query(spots, predicate="intersects")
    return np.bincount(spot, minlength=len(areas))


def _from_nearest(run: Run, loop: LineString, at: Point) -> Run:
    """Begin a run all round where it is nearest to a place, unless it begins in air."""
    if not run.is_closed or run.start == "edge":
        return run
    return _begun(run, loop, float(loop.project(shapely.Point(at))))


def _begun(run: Run, loop: LineString, first: float) -> Run:
    """Begin a run all round at another way."""
    span = first % loop.length, first % loop.length + loop.length
    return replace(run, span=span, line=stretch_of(loop, *span))


def _led(run: Run, loop: LineString, area: Polygon, ground: Ground) -> Run:
    """Add leads to a run; begin one all round at the nearest place where a lead fits."""
    if run.start == "edge":
        return run
    hangs = bool(ground.cut.tabs) and not (run.is_closed and run.is_hole)
    if not run.is_hole or ground.fits_in(area):
        for tried in _places(run, loop):
            begin, end = (_heading(loop, at, ground.slack) for at in tried.span)
            if found := ground.onto(tried.first, begin, hangs=hangs):
                lead, in_air = found
                out = ground.off(tried.last, end) if run.start == "hole" else None
                start: Start = "edge" if in_air else run.start
                return replace(tried, lead_in=lead, lead_out=out, start=start)
    if run.is_hole:
        tried = run
        if run.is_closed:
            middle = shapely.get_point(shapely.maximum_inscribed_circle(area), 0)
            tried = _begun(run, loop, float(loop.project(middle)))
        if straight := ground.from_middle(tried.first, area, hangs=hangs):
            lead, may_start = straight
            return replace(tried, lead_in=lead, start=run.start if may_start else "drilled")
    return replace(run, start="wall")


def _places(run: Run, loop: LineString) -> Iterator[Run]:
    """Yield a run; if it goes all round, also from other places of its loop, nearest first."""
    yield run
    if run.is_closed:
        for k in range(1, _PLACES // 2 + 1):
            for sign in (1.0, -1.0)[: 1 if 2 * k == _PLACES else 2]:
                yield _begun(run, loop, run.span[0] + sign * k * loop.length / _PLACES)


def _heading(loop: LineString, at: float, off: float) -> Array:
    """Find the unit tangent of a loop a way along it, of the curve where chords stand for one.

    A chord has the direction of its curve in the middle; between the middles of two that lie
    no further than `off` from a curve through them, the direction turns evenly.
    """
    points = shapely.get_coordinates(loop)
    steps = np.diff(points, axis=0)
    long = np.linalg.norm(steps, axis=1)
    steps, long = steps[long > MERGE], long[long > MERGE]  # nearer points are one
    ends = np.cumsum(long)
    way = at % ends[-1]
    i = min(int(np.searchsorted(ends, way, side="right")), len(long) - 1)
    past = way - (ends[i] - long[i] / 2.0)  # from the middle of its chord on
    j = (i + (1 if past > 0.0 else -1)) % len(long)
    turn = math.remainder(
        math.atan2(steps[j, 1], steps[j, 0]) - math.atan2(steps[i, 1], steps[i, 0]), math.tau
    )
    angle = math.atan2(steps[i, 1], steps[i, 0])
    if max(long[i], long[j]) * abs(turn) / 8.0 <= off:  # the sagitta of such a chord
        angle += turn * abs(past) / ((long[i] + long[j]) / 2.0)
    return np.array([math.cos(angle), math.sin(angle)])


def _shortest(runs: Sequence[Run], at: Point) -> list[Run]:
    """Sort runs into an order with short moves between them, from a place on."""
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
    """Take each time the nearest of what is left: indices of moves that begin and end at (n, 2)."""
    left, order, here = np.arange(len(first)), [], np.asarray(at)
    while left.size:
        k = int(np.argmin(np.linalg.norm(first[left] - here, axis=1)))
        order.append(int(left[k]))
        here = last[left[k]]
        left = np.delete(left, k)
    return order


def _improved(order: list[int], first: Array, last: Array, at: Point) -> list[int]:
    """Turn stretches of an order round as long as that shortens the way."""
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
    """Measure how much shorter the way gets when i to i + 1, i + 2, … of it change places."""
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
