"""Tabs found for the designer: few, far apart, that hold the part until the last cut.

What a tab leads to must itself be held, which only the simulation can tell. So
tabs are chosen generously first, then only the best of each profile, as many
as it takes, and then taken away one by one as long as the simulation still
holds the part.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from silhouette3d.cutting.kerf import Cut
from silhouette3d.cutting.places import MOST_PLACES, NO_WITNESS, Place, places_for
from silhouette3d.cutting.stages import Cutting, Stage
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
    """

    places: tuple[Place, ...]
    holds: bool
    frees: bool


def propose(
    cutting: Cutting,
    order: Sequence[int],
    *,
    width: float,
    tab_area: float,
    clear_offcuts: bool,
    rebuilt: Callable[[Sequence[Cut]], Cutting],
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
    rebuilt : callable
        A `Cutting` of other cuts, all else the same.
    """

    def tried(places: Sequence[Place]) -> tuple[Stage, ...]:
        cuts = list(cutting.cuts)
        for place in places:
            cut = cuts[place.cut]
            cuts[place.cut] = replace(cut, tabs=(*cut.tabs, tab_at(cut, place.at, place.width)))
        return rebuilt(cuts).stages(order, clear_offcuts=clear_offcuts)

    stages = tried([])
    if _strength(stages) >= tab_area:
        return _proposal([], stages)
    found = [places_for(cutting, i, order[-1], width, tab_area / 2.0) for i in order[:-1]]
    places = [place for some in found for place in some]
    stages = tried(places)
    if _strength(stages) < 0.0:
        return _proposal(places, stages)
    enough, most_loose = min(tab_area, _strength(stages)), _loose_before_last(stages)

    def will_do(places: Sequence[Place]) -> bool:
        nonlocal stages
        new = tried(places)
        if _strength(new) < enough or _loose_before_last(new) > most_loose:
            return False
        stages = new
        return True

    for count in range(1, MOST_PLACES):
        fewer = [place for some in found for place in some[:count]]
        if will_do(fewer):
            places = fewer
            break
    for place in sorted(places, key=lambda p: (-p.witness, p.holding)):
        fewer = [p for p in places if p is not place]
        if will_do(fewer):
            places = fewer
    return _proposal(places, stages)


def _proposal(places: Sequence[Place], stages: Sequence[Stage]) -> Proposal:
    holds = _strength(stages) >= 0.0
    return Proposal(tuple(places), holds, not joins(stages[-1], [s.cut for s in stages]))


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
