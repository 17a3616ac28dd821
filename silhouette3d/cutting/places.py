"""Places for tabs: where a tab holds until the last cut, and what it leaves on the part.

A tab of one profile holds with the material along the view that lies inside
every other profile but the last; where that material also lies inside the last
one, it stays on the part as a stub. So the places to look for hold something
and leave nothing. They are searched for as areas of two curtains: holding in
the middle of the kerf, marks right beside the outline, where a stub would stand.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Point

from silhouette3d.cutting.curtain import Curtain, Seen, section, seen_of
from silhouette3d.cutting.kerf import Cut, polygons_of
from silhouette3d.cutting.stages import Cutting, is_in
from silhouette3d.cutting.stubs import section as section_at
from silhouette3d.cutting.tabs import reach, tab_at
from silhouette3d.solid import Solid, together

MOST_PLACES: Final = 6
"""Places kept for each profile before the simulation chooses among them."""

MOST_MEASURED: Final = 24
"""Places whose stubs are measured where all leave a mark, smallest footprint first."""

NO_WITNESS: Final = 1e-6
"""mm². A place whose stub has no more section than this leaves no mark."""

LONG: Final = 25.0
"""Tab widths. A part longer than this has two tabs at least on a cut that has any, more than
half its length apart: on one it swings. Common practice, no source."""

BESIDE: Final = 1e-3
"""Share of the kerf off the outline, on the waste side, where marks are looked for."""


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
        Section in mm² that joins the part to what lies beyond the kerf before the last cut.
    witness : float
        Section in mm² of the stub that stays on the part: its volume divided by the kerf.
    """

    cut: int
    at: tuple[float, float]
    width: float
    holding: float
    witness: float

    @property
    def leaves_a_mark(self) -> bool:
        """Whether a stub stays on the part."""
        return self.witness > NO_WITNESS


def places_for(
    cutting: Cutting, i: int, last: int, width: float, least: float = 0.0
) -> list[Place]:
    """The places for a tab of one cut that leave the least on the part, far apart, best first.

    Parameters
    ----------
    cutting : Cutting
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
    if any(place.witness <= NO_WITNESS for place in found):
        chosen = [search.measured(place) for place in search.spread(found)]
    else:
        found = sorted(found, key=lambda place: place.witness)[:MOST_MEASURED]
        chosen = search.spread([search.measured(place) for place in found])
    return [place for place in chosen if place.holding > NO_WITNESS]


@dataclass(frozen=True, eq=False)
class _Search:
    cutting: Cutting
    i: int
    last: int
    width: float

    @property
    def cut(self) -> Cut:
        return self.cutting.cuts[self.i]

    @cached_property
    def others(self) -> list[Seen]:
        """What is there along the kerf before the last cut: stock inside all other profiles."""
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
        near = self.cut.grown(self.cut.as_cut, BESIDE * self.cut.width)
        lines = [LineString(part.exterior.coords) for part in shapely.get_parts(near)]
        seen = [*self.others, self.final]
        return [(line, Curtain(self.cut, line).inside(seen)) for line in lines]

    def on(self, ring: LineString) -> Iterator[Place]:
        """Places along one line: a regular row, and both ends of every mark-free stretch."""
        holding = Curtain(self.cut, ring).inside(self.others)
        for start, s, end in self._stretches(ring):
            holds = section(holding, s - self.width / 2.0, s + self.width / 2.0, ring.length)
            if holds > NO_WITNESS:
                ends = [ring.interpolate(x % ring.length) for x in (start, s, end)]
                at = (float(ends[1].x), float(ends[1].y))
                yield Place(self.i, at, self.width, holds, self._marks(ends))

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
        """Section that would stay on the part beside a tab from the first to the last of points."""
        line, marked = min(self.beside, key=lambda b: b[0].distance(ends[1]))
        start, middle, end = (line.project(point) for point in ends)
        way = [math.remainder(s - middle, line.length) for s in (start, end)]
        return section(marked, middle + min(way), middle + max(way), line.length)

    @cached_property
    def _before_last(self) -> Solid:
        """Stock inside all profiles but this one and the last."""
        (solid,) = self.cutting.bodies(frozenset())
        for seen in self.others[2:]:  # the stock itself needs no cutting down to the stock
            solid = solid.within(seen.area, seen.view)
        return solid

    def measured(self, place: Place) -> Place:
        """A place with its sections taken from the solids themselves."""
        tab = tab_at(self.cut, place.at, place.width)
        cut, view = replace(self.cut, tabs=(*self.cut.tabs, tab)), self.cut.profile.view
        strip = cut.strip(tab)
        area = polygons_of(shapely.union(cut.as_cut, strip))
        solid = self._holding_the_part(self._before_last.within(cut.profile.to_view(area), view))
        holding = section_at(cut, tab, solid)
        if not solid.is_empty:
            solid = self._holding_the_part(solid.within(self.final.area, self.final.view))
        left = solid if solid.is_empty else solid.within(cut.profile.to_view(strip), view)
        return replace(place, holding=holding, witness=left.volume / cut.width)

    def spread(self, places: Sequence[Place]) -> list[Place]:
        """Of those that leave the least: the strongest, then each time one strong and far away.

        On a long part first two that are far apart, about its centre of mass where possible.
        """
        least = min((place.witness for place in places), default=0.0)
        pool = [place for place in places if place.witness <= least + NO_WITNESS]
        chosen: list[Place] = []
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
        """Those bodies in which some of the finished part lies."""
        pieces = self.cutting.finished.bodies
        return together([b for b in solid.bodies if any(is_in(piece, b) for piece in pieces)])


def _left_by(cut: Cut) -> Seen:
    """What a cut leaves standing of its outline's side, tabs included."""
    area = polygons_of(shapely.union(cut.as_cut, cut.standing))
    return Seen(cut.profile.to_view(area), cut.profile.view)


def wanted_apart(cut: Cut, width: float) -> float:
    """How far apart in mm two tabs of a cut must be; 0 where one will do."""
    turned = shapely.get_coordinates(shapely.oriented_envelope(cut.profile.area))
    length = float(np.linalg.norm(np.diff(turned[:3], axis=0), axis=1).max())
    return length / 2.0 if length > LONG * width else 0.0


def _pair(places: Sequence[Place], least: float, centre: tuple[float, float]) -> list[Place]:
    """Two places further apart than some length, the middle between them nearest to a point.

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


def _worth(place: Place, chosen: Sequence[Place]) -> float:
    """Holding section, times the root of the distance to the nearest tab already chosen."""
    if not chosen:
        return place.holding
    return place.holding * math.sqrt(min(_apart(place, other) for other in chosen))


def _apart(a: Place, b: Place) -> float:
    return math.dist(a.at, b.at)
