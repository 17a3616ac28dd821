"""Tabs found for the designer: places that hold until the last cut and leave no mark.

A tab of one profile holds with the material along the view that lies inside
every other profile but the last; where that material also lies inside the last
one, it stays on the part as a stub. So the places to look for hold something
and leave nothing: they are found exactly, as areas of the path's curtain. What
a tab leads to must itself be held, which only the simulation can tell; so tabs
are chosen generously first, and then taken away one by one, weakest first, as
long as the simulation still holds the part.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from shapely import LineString, MultiPolygon

from silhouette3d.cutting.curtain import Curtain, Seen, section
from silhouette3d.cutting.kerf import Cut
from silhouette3d.cutting.stages import Cutting, Stage
from silhouette3d.cutting.stubs import standing_section
from silhouette3d.cutting.tabs import tab_at
from silhouette3d.view import Array

MOST_PLACES: Final = 6
"""Places kept for each profile before the simulation chooses among them."""

NO_WITNESS: Final = 1e-6
"""mm². A place whose stub has no more section than this leaves no mark."""


@dataclass(frozen=True)
class Place:
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
        Section in mm² that still holds before the last cut.
    witness : float
        Section in mm² of the stub that stays on the part.
    """

    cut: int
    at: tuple[float, float]
    width: float
    holding: float
    witness: float


@dataclass(frozen=True)
class Proposal:
    """Tabs to add, and whether the simulation holds the part with them.

    Parameters
    ----------
    places : tuple of Place
        May be empty where nothing is needed.
    holds : bool
        Whether the part is held until the last cut, and free after it.
    """

    places: tuple[Place, ...]
    holds: bool


def places_for(cutting: Cutting, i: int, last: int, width: float) -> list[Place]:
    """The best places for a tab of one cut, those without witness first, then the strongest.

    Parameters
    ----------
    cutting : Cutting
        The cuts, with the tabs they already have.
    i, last : int
        The cut, and the last cut of the order.
    width : float
        Of the tab, in mm.
    """
    cut = cutting.cuts[i]
    others = [_left_by(c) for k, c in enumerate(cutting.cuts) if k not in (i, last)]
    final = _left_by(cutting.cuts[last])
    found: list[Place] = []
    for part in shapely.get_parts(cut.path):
        ring = LineString(part.coords)
        if ring.length > 2.0 * (width + cut.width):
            curtain = Curtain(cut, ring)
            holding = curtain.inside(others)
            witness = curtain.inside([*others, final])
            found += _on_ring(cut, i, ring, holding, witness, width)
    return _spread(sorted(found, key=_goodness))


def _left_by(cut: Cut) -> Seen:
    """What a cut leaves standing of its outline's side, tabs included."""
    area = shapely.union(cut.as_cut, cut.standing)
    parts = [p for p in shapely.get_parts(area) if isinstance(p, shapely.Polygon)]
    return Seen(cut.profile.to_view(MultiPolygon(parts)), cut.profile.view)


def _on_ring(
    cut: Cut,
    i: int,
    ring: LineString,
    holding: MultiPolygon,
    witness: MultiPolygon,
    width: float,
) -> list[Place]:
    """Places on one closed line: in the middle and at both ends of every mark-free stretch."""
    length = ring.length
    places = []
    for s in _stations(witness, length, width, cut.width):
        start, end = s - width / 2.0, s + width / 2.0
        holds = section(holding, start, end, length)
        marks = section(witness, start, end, length)
        net = holds - marks
        if net > NO_WITNESS or holds > NO_WITNESS:
            at = ring.interpolate(s % length)
            places.append(Place(i, (float(at.x), float(at.y)), width, holds, marks))
    return places


def _stations(witness: MultiPolygon, length: float, width: float, kerf: float) -> Array:
    """Stations worth trying: a regular row, and the ends of every stretch without witness."""
    row = np.arange(0.0, length, max(width / 2.0, length / 400.0))
    spans = [(part.bounds[0], part.bounds[2]) for part in shapely.get_parts(witness)]
    room = width / 2.0 + kerf
    ends = [s for low, high in spans for s in (low - room, high + room)]
    return np.concatenate([row, np.asarray(ends, float) % length])


def _goodness(place: Place) -> tuple[bool, float, float]:
    marks = place.witness > NO_WITNESS
    return marks, round(place.witness, 6) if marks else 0.0, -round(place.holding, 6)


def _spread(places: Sequence[Place]) -> list[Place]:
    """The best place, then each time the one that is far from those taken and good."""
    chosen: list[Place] = []
    clean = [p for p in places if p.witness <= NO_WITNESS]
    pool = clean or list(places)
    while pool and len(chosen) < MOST_PLACES:
        best = max(pool, key=lambda p: _worth(p, chosen))
        chosen.append(best)
        near = 3.0 * best.width
        pool = [p for p in pool if _apart(p, best) > near]
    return chosen


def _worth(place: Place, chosen: Sequence[Place]) -> float:
    """Holding section, times the root of the distance to the nearest tab already chosen."""
    strength = place.holding / (1.0 + place.witness)
    if not chosen:
        return strength
    return strength * float(np.sqrt(min(_apart(place, other) for other in chosen)))


def _apart(a: Place, b: Place) -> float:
    return float(np.hypot(a.at[0] - b.at[0], a.at[1] - b.at[1]))


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
        Least section in mm² of all tabs of a cut together.
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

    if _holds(tried([]), tab_area):
        return Proposal((), True)
    places = [p for i in order[:-1] for p in places_for(cutting, i, order[-1], width)]
    stages = tried(places)
    if not _holds(stages, 0.0):
        return Proposal(tuple(places), False)
    enough = tab_area if _holds(stages, tab_area) else 0.0
    loose = _loose_before_last(stages)
    for place in sorted(places, key=lambda p: (-p.witness, p.holding)):
        fewer = [p for p in places if p is not place]
        stages = tried(fewer)
        if _holds(stages, enough) and _loose_before_last(stages) <= loose:
            places = fewer
    return Proposal(tuple(places), True)


def _holds(stages: Sequence[Stage], tab_area: float) -> bool:
    """Whether the part is held until the last cut, and tabs stand on enough wherever there are."""
    early = stages[:-1]
    if not all(stage.part_is_held for stage in early):
        return False
    if tab_area <= 0.0:
        return True
    return all(
        standing_section(stage.cut, later) >= tab_area
        for k, stage in enumerate(early)
        if stage.cut.tabs
        for later in early[k:]
    )


def _loose_before_last(stages: Sequence[Stage]) -> int:
    return sum(len(stage.loose) for stage in stages[:-1])
