"""Find tabs for the designer: few, far apart, that hold the part until the last cut.

Problem: of all places along all paths choose few for tabs that hold the part before the last cut,
leave no mark on it, and let it come free after that cut.

Method: (1) candidates: a tab of one profile holds with the material along the view that lies inside
every other profile but the last, and leaves as a stub what also lies inside the last. Both are
areas of the kerf's wall (`kerf_wall`), so good places are found without a boolean; the few best,
far apart, are measured on solids. (2) choice: what a tab leads to must itself be held, which only
the simulation tells. So tabs are chosen generously first, then the best few of each profile, as
many as it takes, and then taken away one by one as long as the simulation still holds the part.

Invariant: every plan that is returned was simulated; each step from there keeps its strength and
frees no more pieces early.

Complexity: some hundred candidates for each cut, `MOST_MEASURED` of them measured at most; at most
two simulations for each of the `MOST_PLACES` tabs of each cut. It is a greedy search: that no
smaller set of tabs would do is not proven.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import combinations
from typing import Final

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Point

from silhouette3d.checks.cuts import holds
from silhouette3d.geometry.polygons import polygons_of
from silhouette3d.geometry.solid import Solid, together
from silhouette3d.geometry.tolerances import SHARE
from silhouette3d.planning.kerf_wall import KerfWall, Seen, section, seen_of
from silhouette3d.process.cut import Cut
from silhouette3d.process.stages import CutSimulation, Stage, is_in
from silhouette3d.process.strength import ROUNDING
from silhouette3d.process.tab_remnants import joins, standing_section
from silhouette3d.process.tab_remnants import section as section_at
from silhouette3d.process.tabs import reach, tab_at

# --- Places for tabs: where a tab holds until the last cut, and what it leaves on the part


MOST_PLACES: Final = 6
"""Places kept for each profile before the simulation chooses among them."""

MOST_MEASURED: Final = 24
"""Places whose stubs are measured where all leave a mark, smallest footprint first."""

LONG: Final = 25.0
"""Tab widths. A part longer than this has two tabs at least on a cut that has any, more than
half its length apart: on one it swings. Common practice, no source."""

BESIDE: Final = 1e-3
"""Share of the kerf off the outline, on the waste side, where marks are looked for."""


@dataclass(frozen=True)
class TabCandidate:
    """A place for a tab, and what it is good for.

    Parameters
    ----------
    cut : int
        Index of the cut.
    at : tuple of float
        On the path, in face coordinates in mm.
    width : float
        In mm.
    holding : float
        Section in mm² that joins the part to what lies beyond the kerf before the last cut.
    witness : float
        Section in mm² of the stub that stays on the part: its volume divided by the kerf; 0 if
        that is no area.
    """

    cut: int
    at: tuple[float, float]
    width: float
    holding: float
    witness: float

    @property
    def leaves_a_mark(self) -> bool:
        """True if a stub stays on the part."""
        return self.witness > 0.0


def places_for(
    cutting: CutSimulation, i: int, last: int, width: float, least: float = 0.0
) -> list[TabCandidate]:
    """Find the places for a tab of one cut that leave the least on the part, far apart, best first.

    Parameters
    ----------
    cutting : CutSimulation
        The cuts, with the tabs they already have.
    i, last : int
        The cut, and the last cut of the order.
    width : float
        Of the tab, in mm.
    least : float
        Section in mm². A place that holds with less is taken only if all do.
    """
    search = _Search(cutting, i, last, width)
    found = [place for ring in search.rings for place in search.on(ring)]
    found = [place for place in found if place.holding >= least] or found
    if not all(place.leaves_a_mark for place in found):
        chosen = [search.measured(place) for place in search.spread(found)]
    else:
        found = sorted(found, key=lambda place: place.witness)[:MOST_MEASURED]
        chosen = search.spread([search.measured(place) for place in found])
    return [place for place in chosen if place.holding > search.no_area]


@dataclass(frozen=True, eq=False)
class _Search:
    cutting: CutSimulation
    i: int
    last: int
    width: float

    @property
    def cut(self) -> Cut:
        return self.cutting.cuts[self.i]

    @property
    def no_area(self) -> float:
        """Section in mm² that is none."""
        return self.cutting.stock.tolerances.least_area

    @cached_property
    def others(self) -> list[Seen]:
        """Areas of stock along the kerf before the last cut: inside all other profiles."""
        cuts = enumerate(self.cutting.cuts)
        left = [_left_by(c) for k, c in cuts if k not in {self.i, self.last}]
        return [*seen_of(self.cutting.stock), *left]

    @cached_property
    def final(self) -> Seen:
        return _left_by(self.cutting.cuts[self.last])

    @property
    def rings(self) -> list[LineString]:
        """Outer lines of the path with room for a tab; what is cut from a hole holds nothing."""
        outer = [LineString(p.exterior.coords) for p in shapely.get_parts(self.cut.within_path)]
        return [ring for ring in outer if ring.length > 2.0 * (self.width + self.cut.width)]

    @cached_property
    def beside(self) -> list[tuple[LineString, MultiPolygon]]:
        """Lines right beside the outline, each with the area of its curtain that would stay."""
        # right on the outline it would be chance whether an edge of the curtain counts
        near = self.cut.grown(self.cut.as_cut, BESIDE * self.cut.width)
        lines = [LineString(part.exterior.coords) for part in shapely.get_parts(near)]
        seen = [*self.others, self.final]
        return [(line, KerfWall(self.cut, line).inside(seen)) for line in lines]

    def on(self, ring: LineString) -> Iterator[TabCandidate]:
        """Yield places along one line: a regular row, and both ends of every mark-free stretch."""
        holding = KerfWall(self.cut, ring).inside(self.others)
        for start, s, end in self._stretches(ring):
            holds = section(holding, s - self.width / 2.0, s + self.width / 2.0, ring.length)
            if holds > self.no_area:
                ends = [ring.interpolate(x % ring.length) for x in (start, s, end)]
                at = (float(ends[1].x), float(ends[1].y))
                yield TabCandidate(self.i, at, self.width, holds, self._marks(ends))

    def _stretches(self, ring: LineString) -> list[tuple[float, float, float]]:
        """Start, middle and end of tabs to try, without those that run round a corner."""
        tried = [(s, reach(self.cut, ring, s, self.width)) for s in self._stations(ring)]
        fits = [(ends[0], s, ends[1]) for s, ends in tried if ends is not None]
        shortest = min((end - start for start, _, end in fits), default=0.0)
        return [one for one in fits if one[2] - one[0] <= 1.2 * shortest]

    def _stations(self, ring: LineString) -> list[float]:
        row = np.arange(0.0, ring.length, max(self.width / 2.0, ring.length / 400.0))
        room = self.width / 2.0 + 1.5 * self.cut.width
        ends = []
        for line, marked in self.beside:
            for part in marked.geoms:
                low, _, high, _ = part.bounds
                ends += [ring.project(line.interpolate(low % line.length)) - room]
                ends += [ring.project(line.interpolate(high % line.length)) + room]
        return [*map(float, row), *(float(s % ring.length) for s in ends)]

    def _marks(self, ends: Sequence[Point]) -> float:
        """Measure the section that would stay beside a tab from the first to the last of points."""
        line, marked = min(self.beside, key=lambda b: b[0].distance(ends[1]))
        start, middle, end = (line.project(point) for point in ends)
        way = [math.remainder(s - middle, line.length) for s in (start, end)]
        return self._left(section(marked, middle + min(way), middle + max(way), line.length))

    def _left(self, witness: float) -> float:
        """Take a section for nothing where it is no area."""
        return witness if witness > self.no_area else 0.0

    @cached_property
    def _before_last(self) -> Solid:
        """Stock inside all profiles but this one and the last."""
        (solid,) = self.cutting.bodies(frozenset())
        for seen in self.others[2:]:  # the stock itself needs no cutting down to the stock
            solid = solid.within(seen.area, seen.view)
        return solid

    def measured(self, place: TabCandidate) -> TabCandidate:
        """Measure a place's sections on the solids themselves."""
        tab = tab_at(self.cut, place.at, place.width)
        cut, view = replace(self.cut, tabs=(*self.cut.tabs, tab)), self.cut.profile.view
        strip = cut.strip(tab)
        area = polygons_of(shapely.union(cut.as_cut, strip))
        solid = self._holding_the_part(self._before_last.within(cut.profile.to_view(area), view))
        holding = section_at(cut, tab, solid)
        if not solid.is_empty:
            solid = self._holding_the_part(solid.within(self.final.area, self.final.view))
        left = solid if solid.is_empty else solid.within(cut.profile.to_view(strip), view)
        return replace(place, holding=holding, witness=self._left(left.volume / cut.width))

    def spread(self, places: Sequence[TabCandidate]) -> list[TabCandidate]:
        """Choose of those that leave the least the strongest, then others strong and far away.

        On a long part first two that are far apart, about its centre of mass where possible.
        """
        least = min((place.witness for place in places), default=0.0)
        pool = [place for place in places if place.witness <= least + self.no_area]
        chosen: list[TabCandidate] = []
        if (apart := wanted_apart(self.cut, self.width)) and pool:
            profile = self.cut.profile
            u, v = profile.view.to_view(self.cutting.finished.centroid)[:2] - profile.face.corner
            chosen = _pair(pool, apart, (float(u), float(v)))
            pool = [p for p in pool if all(_apart(p, one) > 3.0 * one.width for one in chosen)]
        while pool and len(chosen) < MOST_PLACES:
            best = max(pool, key=lambda p: _worth(p, chosen))
            chosen.append(best)
            pool = [p for p in pool if _apart(p, best) > 3.0 * best.width]
        return chosen

    def _holding_the_part(self, solid: Solid) -> Solid:
        """Choose those bodies in which some of the finished part lies."""
        pieces = self.cutting.finished.bodies
        return together([b for b in solid.bodies if any(is_in(piece, b) for piece in pieces)])


def _left_by(cut: Cut) -> Seen:
    """Find what a cut leaves standing of its outline's side, tabs included."""
    area = polygons_of(shapely.union(cut.as_cut, cut.standing))
    return Seen(cut.profile.to_view(area), cut.profile.view)


def wanted_apart(cut: Cut, width: float) -> float:
    """Tell how far apart in mm two tabs of a cut must be; 0 where one will do."""
    turned = shapely.get_coordinates(shapely.oriented_envelope(cut.profile.area))
    length = float(np.linalg.norm(np.diff(turned[:3], axis=0), axis=1).max())
    return length / 2.0 if length > LONG * width else 0.0


def _pair(
    places: Sequence[TabCandidate], least: float, centre: tuple[float, float]
) -> list[TabCandidate]:
    """Choose two places further apart than some length, the middle between them nearest a point.

    Of pairs as near, to half a tab, the furthest apart. None if there are none so far apart.
    """
    at = np.array([place.at for place in places]).reshape(-1, 2)
    off = np.linalg.norm((at[:, None] + at) / 2.0 - centre, axis=2)
    apart = np.linalg.norm(at[:, None] - at, axis=2)
    far = apart > least
    if not far.any():
        return []
    near = far & (off <= off[far].min() + places[0].width / 2.0)
    i, k = divmod(int(np.argmax(np.where(near, apart, 0.0))), len(places))
    return sorted((places[i], places[k]), key=lambda place: -place.holding)


def _worth(place: TabCandidate, chosen: Sequence[TabCandidate]) -> float:
    """Weigh a holding section by the root of the distance to the nearest tab already chosen."""
    if not chosen:
        return place.holding
    return place.holding * math.sqrt(min(_apart(place, other) for other in chosen))


def _apart(a: TabCandidate, b: TabCandidate) -> float:
    return math.dist(a.at, b.at)


# --- Tabs found for the designer: few, far apart, that hold the part until the last cut


@dataclass(frozen=True)
class Proposal:
    """Tabs to add, and what the simulation says with them.

    Parameters
    ----------
    places : tuple of TabCandidate
        May be empty where nothing is needed.
    holds : bool
        Whether the part is held until the last cut.
    frees : bool
        Whether the last cut frees it: no tab still joins it to waste.
    hold : float
        Least section in mm² on the way from part to clamp, at any stage before the last; 0 if
        it is not held.
    """

    places: tuple[TabCandidate, ...]
    holds: bool
    frees: bool
    hold: float = field(default=0.0, compare=False)


def propose(
    cutting: CutSimulation,
    order: Sequence[int],
    *,
    width: float,
    tab_area: float,
    clear_offcuts: bool,
) -> Proposal:
    """Propose few tabs, far apart, that hold the part until the last cut.

    Parameters
    ----------
    cutting : CutSimulation
        The cuts, with the tabs they already have.
    order : sequence of int
        Indices of the cuts.
    width : float
        Of a tab, in mm.
    tab_area : float
        Least section in mm² of all tabs of a cut together; where that cannot be
        had, as much as can be.
    clear_offcuts : bool
        As the job says.
    """
    trial = _Trial(cutting, (), cutting, order, clear_offcuts)
    firm = tab_area * (1.0 - ROUNDING)
    if trial.strength >= tab_area and trial.hold >= firm:
        return trial.proposal
    found = [places_for(cutting, i, order[-1], width, tab_area / 2.0) for i in order[:-1]]
    trial = trial.again([place for some in found for place in some])
    if trial.strength < 0.0:
        return trial.proposal
    enough = min(tab_area, trial.strength) * (1.0 - SHARE)
    most_loose = _loose_before_last(trial.stages)

    apart = {places[0].cut: _reach(places, width, cutting) for places in found if places}

    def will_do(fewer: _Trial) -> bool:
        if not all(_is_spread(fewer.places, i, least) for i, least in apart.items()):
            return False
        return fewer.strength >= enough and _loose_before_last(fewer.stages) <= most_loose

    for count in range(1, MOST_PLACES):
        fewer = trial.again([place for some in found for place in some[:count]])
        if will_do(fewer):
            trial = fewer
            break
    for place in sorted(trial.places, key=lambda p: (-p.witness, p.holding)):
        fewer = trial.again([p for p in trial.places if p is not place])
        if will_do(fewer):
            trial = fewer
    return _firm(trial, found, firm).proposal


def _reach(places: Sequence[TabCandidate], width: float, cutting: CutSimulation) -> float:
    """Tell how far apart two tabs of a cut are to be, if any of its places are so far apart."""
    least = wanted_apart(cutting.cuts[places[0].cut], width)
    return least if _furthest(places) > least else 0.0


def _furthest(places: Sequence[TabCandidate]) -> float:
    return max((math.dist(a.at, b.at) for a, b in combinations(places, 2)), default=0.0)


def _is_spread(places: Sequence[TabCandidate], cut: int, least: float) -> bool:
    """Tell whether a cut has no tabs here, or two that are so far apart."""
    here = [place for place in places if place.cut == cut]
    return not here or least == 0.0 or _furthest(here) > least


def _firm(trial: _Trial, found: Sequence[Sequence[TabCandidate]], enough: float) -> _Trial:
    """Add tabs until what they stand on bears: more than asked for where they stand on little."""
    best = trial
    for count in range(1, MOST_PLACES + 1):
        if best.hold >= enough:
            break
        more = trial.again([place for some in found for place in some[:count]])
        if more.strength >= 0.0 and more.hold > best.hold * (1.0 + _MORE):
            best = more
    return best


_MORE: Final = 0.01
"""Share by which a hold must be better to be worth more tabs."""


@dataclass(frozen=True, eq=False)
class _Trial:
    """Some tabs, and what the simulation says with them."""

    bare: CutSimulation
    places: tuple[TabCandidate, ...]
    cutting: CutSimulation
    order: Sequence[int]
    clear_offcuts: bool

    def again(self, places: Sequence[TabCandidate]) -> _Trial:
        """Try tabs at other places; share what is known of cuts whose tabs stay."""
        cuts = list(self.cutting.cuts)
        for i, cut in enumerate(self.bare.cuts):
            here = [place for place in places if place.cut == i]
            if here != [place for place in self.places if place.cut == i]:
                added = [tab_at(cut, place.at, place.width) for place in here]
                cuts[i] = replace(cut, tabs=(*cut.tabs, *added))
        return replace(self, places=tuple(places), cutting=self.cutting.again(cuts))

    @cached_property
    def stages(self) -> tuple[Stage, ...]:
        """The block after every cut."""
        return self.cutting.stages(self.order, clear_offcuts=self.clear_offcuts)

    @cached_property
    def strength(self) -> float:
        """Strength of the tabs, as `_strength` measures it."""
        return _strength(self.stages)

    @cached_property
    def hold(self) -> float:
        """Least section in mm² on the way from part to clamp at any stage; 0 if it is not held."""
        if self.strength < 0.0:
            return 0.0
        found = holds(self.cutting, self.order, self.stages)
        return min((one.hold.area for one in found), default=float(np.inf))

    @property
    def proposal(self) -> Proposal:
        """Proposal of these tabs."""
        frees = not joins(self.stages[-1], [stage.cut for stage in self.stages])
        return Proposal(self.places, self.strength >= 0.0, frees, self.hold)


def _strength(stages: Sequence[Stage]) -> float:
    """Measure the least section in mm² of all tabs of a cut, at any stage they must hold.

    Negative if the part is not held until the last cut, infinite if it is held
    without tabs. Tabs that an earlier cut than the last severs do not count.
    """
    early = stages[:-1]
    if not all(stage.part_was_held for stage in stages) or not all(s.part_is_held for s in early):
        return -1.0
    sections = [
        standing_section(stage.cut, later)
        for k, stage in enumerate(early)
        if stage.cut.tabs
        for later in early[k:]
    ]
    return min((section for section in sections if section > 0.0), default=float(np.inf))


def _loose_before_last(stages: Sequence[Stage]) -> int:
    return sum(len(stage.loose) for stage in stages[:-1])
