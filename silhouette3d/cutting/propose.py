"""Tabs found for the designer: few, far apart, that hold the part until the last cut.

What a tab leads to must itself be held, which only the simulation can tell. So
tabs are chosen generously first, then only the best of each profile, as many
as it takes, and then taken away one by one as long as the simulation still
holds the part.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import combinations
from typing import Final

import numpy as np

from silhouette3d.cutting.findings import holds
from silhouette3d.cutting.places import MOST_PLACES, NO_WITNESS, Place, places_for, wanted_apart
from silhouette3d.cutting.stages import Cutting, Stage
from silhouette3d.cutting.strength import ROUNDING
from silhouette3d.cutting.stubs import joins, standing_section
from silhouette3d.cutting.tabs import tab_at
from silhouette3d.job import Job, KeyPath
from silhouette3d.units import MM_PER

__all__ = ["NO_WITNESS", "Place", "Proposal", "places_for", "propose", "tab_changes"]


@dataclass(frozen=True)
class Proposal:
    """Tabs to add, and what the simulation says with them.

    Parameters
    ----------
    places : tuple of Place
        May be empty where nothing is needed.
    holds : bool
        Whether the part is held until the last cut.
    frees : bool
        Whether the last cut frees it: no tab still joins it to waste.
    hold : float
        Least section in mm² on the way from part to clamp, at any stage before the last; 0 if
        it is not held.
    """

    places: tuple[Place, ...]
    holds: bool
    frees: bool
    hold: float = field(default=0.0, compare=False)


def propose(
    cutting: Cutting,
    order: Sequence[int],
    *,
    width: float,
    tab_area: float,
    clear_offcuts: bool,
) -> Proposal:
    """Few tabs, far apart, that hold the part until the last cut.

    Parameters
    ----------
    cutting : Cutting
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
    enough = min(tab_area, trial.strength) * (1.0 - _ROUNDING)
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


def _reach(places: Sequence[Place], width: float, cutting: Cutting) -> float:
    """How far apart two tabs of a cut are to be, if any of its places are so far apart."""
    least = wanted_apart(cutting.cuts[places[0].cut], width)
    return least if _furthest(places) > least else 0.0


def _furthest(places: Sequence[Place]) -> float:
    return max((math.dist(a.at, b.at) for a, b in combinations(places, 2)), default=0.0)


def _is_spread(places: Sequence[Place], cut: int, least: float) -> bool:
    """Whether a cut has no tabs here, or two that are so far apart."""
    here = [place for place in places if place.cut == cut]
    return not here or least == 0.0 or _furthest(here) > least


def _firm(trial: _Trial, found: Sequence[Sequence[Place]], enough: float) -> _Trial:
    """Tabs that what they stand on bears: more than asked for where they stand on little."""
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

_ROUNDING: Final = 1e-9
"""Share of a section: the same tabs summed up in another order hold as much."""


@dataclass(frozen=True, eq=False)
class _Trial:
    """Some tabs, and what the simulation says with them."""

    bare: Cutting
    places: tuple[Place, ...]
    cutting: Cutting
    order: Sequence[int]
    clear_offcuts: bool

    def again(self, places: Sequence[Place]) -> _Trial:
        """Tabs at other places; of cuts whose tabs are the same what is known is shared."""
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
        """As `_strength` says."""
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
        """These tabs."""
        frees = not joins(self.stages[-1], [stage.cut for stage in self.stages])
        return Proposal(self.places, self.strength >= 0.0, frees, self.hold)


def _strength(stages: Sequence[Stage]) -> float:
    """Least section in mm² of all tabs of a cut, at any stage they must hold.

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


def tab_changes(job: Job, places: Sequence[Place]) -> dict[KeyPath, object]:
    """Tabs as changes of the job: added to those it has, in job units."""
    unit = MM_PER[job.units]
    declared = job.declared["profile"]
    changes: dict[KeyPath, object] = {}
    for i in sorted({place.cut for place in places}):
        added = [
            {"at": [_rounded(x / unit) for x in p.at], "width": _rounded(p.width / unit)}
            for p in places
            if p.cut == i
        ]
        changes["profile", i, "tab"] = [*declared[i].get("tab", []), *added]
    return changes


def _rounded(value: float) -> float:
    """A coordinate as one would write it: to a ten-thousandth of the unit."""
    return math.floor(value * 1e4 + 0.5) / 1e4
