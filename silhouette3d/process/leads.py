"""Leads, by which runs begin: ways in through waste that may be spoilt, proven for each run.

Problem: where the cutter breaks through it spoils a spot wider than the kerf. A run
must begin so far into the waste that this spot touches neither the part, nor a tab,
nor what the part still hangs on, and the way from there to the run must cut none of
these either, nor a clamp.

Method: a few ways in are tried in a fixed order of preference, those that begin in air
before those that break through, longest first: a quarter of a circle tangent to the
run, straight ones from behind, square to it and from ahead, each on the waste's side.
Of a run that goes all round, at several places of it. Each is proven by set
arithmetic; the first that is proven is taken. Round a small loop the way in is a
straight one from its middle, where a hole must be drilled first.

Invariant: a lead grown by half the kerf keeps out of the outline and of all that is
spared, but for twice the tolerance; its start, grown by the spoilt spot, as well,
unless it lies in air or in a start hole. Spared are the tabs of the cut, straight on
through the waste behind them, and the clamps; and the tabs of other cuts where there
is room: what of these holds the part itself lies within the outline, which no lead
enters. Where the waste holds the part, it stays in one piece beside a lead, as wide as
a tab where there is room for that, else half a tab, else a kerf: the waste goes on both
ways from there.

Complexity: for each run a few dozen predicates on prepared areas.

Reference: lengths of three kerfs, and one kerf off, are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon

from silhouette3d.drawing.arcs.pieces import Simple, flattened, length_of
from silhouette3d.drawing.model import Arc, Line, Point
from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.polygons import polygons_of
from silhouette3d.geometry.tolerances import LAST_DIGITS
from silhouette3d.process.cut import Cut

__all__ = ["AIR", "USUAL", "Driving", "Ground", "Hand", "Lead", "tabs_seen"]

AIR: Final = 5.0
"""mm. Shorter air along the path is run through; common practice, no source."""

_LEADS: Final = 3.0
"""Kerfs that a lead is long where the job does not say; common practice, no source."""

_SHARES: Final = (1.0, 0.7, 0.4)
"""Of the length asked for, that are tried where there is less room."""

_TURNS: Final = (45.0, 90.0, 105.0, 120.0, 135.0)
"""Degrees by which a run may turn off its straight lead, to where it is cut."""

_FINE: Final = 1e-3
"""mm by which the straight pieces of a lead are off its arc."""

_LEAST_ROOM: Final = 0.05
"""Share of the kerf that a start hole must lie off the wall: a drill wanders. Common practice,
no source."""

_MOST_BESIDE: Final = 1e-3
"""mm². A smaller piece of waste holds nothing."""

_AIR_OFF: Final = 1e-6
"""mm. A start further off what stands is in air."""

Hand = Literal["left", "right"]


@dataclass(frozen=True)
class Driving:
    """Ways in which the shop drives its cutter; lengths in mm.

    Parameters
    ----------
    air : float
        Shorter air between what is cut is run through.
    lead : float, optional
        Length of a lead; three kerfs where it is not said.
    pierce : float, optional
        Radius of the spot that is spoilt where a run starts; one kerf where it is not said.
    side : {"left", "right"}
        On which hand of the cutter the part lies.
    head : float
        Diameter of the head, a disc about the cutter that must clear the clamps.
    jaw : float
        How far the jaw of a clamp that presses on a side reaches over the face.
    """

    air: float = AIR
    lead: float | None = None
    pierce: float | None = None
    side: Hand = "left"
    head: float = 0.0
    jaw: float = 0.0

    def lead_of(self, kerf: float) -> float:
        """Tell how long a lead is with a kerf."""
        return _LEADS * kerf if self.lead is None else self.lead

    def pierce_of(self, kerf: float) -> float:
        """Tell how far from what must stay a run starts with a kerf."""
        return kerf if self.pierce is None else self.pierce


USUAL: Final = Driving()
"""Where the job says nothing."""


@dataclass(frozen=True)
class Lead:
    """The way onto a run, or off it.

    Parameters
    ----------
    piece : Line or Arc
        In cutting order, in face coordinates in mm: onto a run it ends where that begins.
    """

    piece: Simple

    @property
    def start(self) -> Point:
        """Point where it begins."""
        return self.piece.start

    @property
    def end(self) -> Point:
        """Point where it ends."""
        return self.piece.end

    @property
    def length(self) -> float:
        """Length in mm."""
        return length_of(self.piece)

    @property
    def line(self) -> LineString:
        """Straight pieces of the lead."""
        return LineString(flattened([self.piece], _FINE))


@dataclass(frozen=True, eq=False)
class Ground:
    """Surroundings that leads of one cut must keep clear of.

    Parameters
    ----------
    cut : Cut
        With its tabs.
    there : shapely.Geometry
        What stands before the cut as seen along its view: an area in face coordinates.
    driving : Driving
        Lengths of leads, and the side.
    spared : shapely.Geometry
        What else must stay whole, as seen: tabs of other cuts.
    clamps : shapely.Geometry
        What the clamps cover.
    """

    cut: Cut
    there: shapely.Geometry
    driving: Driving
    spared: shapely.Geometry
    clamps: shapely.Geometry

    def onto(self, point: Point, heading: Array, *, hangs: bool) -> tuple[Lead, bool] | None:
        """Find a lead onto a run that begins at a point, and whether it begins in air.

        Parameters
        ----------
        point : tuple of float
            Where the run begins.
        heading : (2,) array
            The unit vector along which it begins.
        hangs : bool
            Whether the waste beside it holds the part, and must go on doing so.
        """
        every = list(self._ways_in(np.asarray(point), heading))
        in_air = [self._in_air(lead.start) for lead in every]
        for kept, beside in self._demands(hangs=hangs):
            for wanted in (True, False):  # what begins in air need not break through
                for lead, is_there in zip(every, in_air, strict=True):
                    if is_there != wanted:
                        continue
                    if not (is_there or self._may_be_spoilt(lead.start, kept)):
                        continue
                    if self._is_clear(lead, kept, beside):
                        return lead, is_there
        return None

    def _demands(self, *, hangs: bool) -> Iterator[tuple[shapely.Geometry, float]]:
        """List what is kept whole, and how wide waste beside a lead stays; the strictest first."""
        width = min((tab.width for tab in self.cut.tabs), default=0.0) if hangs else 0.0
        widths = dict.fromkeys([width, width / 2.0, min(width / 2.0, self.kerf)])
        for kept in [self._kept] if shapely.is_empty(self.spared) else [self._kept, self._own]:
            yield from ((kept, beside) for beside in widths)

    def off(self, point: Point, heading: Array) -> Lead | None:
        """Find a lead off a run that ends at a point, into waste that falls out."""
        radius = self.kerf * 2.0 / math.pi
        arc = _arc_onto(np.asarray(point), -heading, self._aside(heading), radius)
        lead = Lead(arc.reversed())
        return lead if self._is_clear(lead, self._kept, 0.0) else None

    def from_middle(self, point: Point, loop: Polygon, *, hangs: bool) -> tuple[Lead, bool] | None:
        """Find a straight lead from the middle of a small loop, and whether it may start there.

        Where it may not, a hole must be drilled first.
        """
        middle = shapely.get_coordinates(shapely.maximum_inscribed_circle(loop))[0]
        if math.dist(middle, point) <= _LEAST_ROOM * self.kerf:
            return None
        lead = Lead(Line((float(middle[0]), float(middle[1])), point))
        for kept, beside in self._demands(hangs=hangs):
            if self._is_clear(lead, kept, beside):
                return lead, self._may_be_spoilt(lead.start, kept)
        return None

    @property
    def kerf(self) -> float:
        """Kerf as simulated."""
        return self.cut.width

    @property
    def pierce(self) -> float:
        """Distance in mm from what must stay at which a run starts."""
        return self.driving.pierce_of(self.kerf)

    @property
    def slack(self) -> float:
        """Distance in mm by which two polygons that stand for circles may be off."""
        return 2.0 * self.cut.tolerance

    def fits_in(self, loop: Polygon) -> bool:
        """Tell whether a loop may be so wide that a start in it spoils nothing; never too strict.

        No disc in it is larger than one of its area.
        """
        return math.sqrt(loop.area / math.pi) >= self.pierce - self.kerf / 2.0

    # Ways in.

    def _aside(self, heading: Array) -> Array:
        """Find the unit vector towards the waste."""
        right = np.array([heading[1], -heading[0]])
        return right if self.driving.side == "left" else -right

    def _ways_in(self, point: Array, heading: Array) -> Iterator[Lead]:
        aside, length = self._aside(heading), self.driving.lead_of(self.kerf)
        if length <= 0.0:
            return
        least = max(self.pierce - self.kerf / 2.0, 0.1 * self.kerf)
        for share in (*_SHARES, 0.0):
            if share:
                radius = share * length * 2.0 / math.pi
                yield Lead(_arc_onto(point, heading, aside, radius))
            for turn in np.radians(_TURNS):
                long = share * length or least / math.sin(turn)
                start = point + long * (math.sin(turn) * aside - math.cos(turn) * heading)
                yield Lead(Line(_pair(start), _pair(point)))

    # What is proven of each.

    def _is_clear(self, lead: Lead, kept: shapely.Geometry, beside: float) -> bool:
        line, radius = lead.line, self.kerf / 2.0
        if shapely.intersects(self._not_to_enter, line):
            return False
        if shapely.dwithin(kept, line, radius - self.slack):
            return False
        if shapely.dwithin(self.clamps, line, max(radius, self.driving.head / 2.0)):
            return False
        return not beside or self._leaves_waste_whole(line, beside)

    def _in_air(self, start: Point) -> bool:
        return not shapely.dwithin(self._standing, shapely.Point(start), _AIR_OFF)

    def _may_be_spoilt(self, start: Point, kept: shapely.Geometry) -> bool:
        spot = shapely.Point(start)
        if shapely.dwithin(self._within_path, spot, self.pierce - self.kerf / 2.0 - self.slack):
            return False
        return not shapely.dwithin(kept, spot, self.pierce - self.slack)

    def _leaves_waste_whole(self, line: LineString, width: float) -> bool:
        """Tell whether the waste near a lead stays in one piece less all that is thinner there."""
        grown = shapely.buffer(line, self.kerf / 2.0 + width)
        u0, v0, u1, v1 = shapely.bounds(shapely.buffer(grown, self.kerf + width)).tolist()
        near = shapely.clip_by_rect(self.there, u0, v0, u1, v1)
        waste = polygons_of(shapely.difference(near, self.cut.within_kerf))
        for taken in (shapely.buffer(line, self.kerf / 2.0), grown):
            for piece in waste.geoms:
                left = polygons_of(shapely.difference(piece, taken))
                if sum(part.area > _MOST_BESIDE for part in left.geoms) > 1:
                    return False
        return True

    @cached_property
    def _within_path(self) -> shapely.Geometry:
        return _prepared(self.cut.within_path)

    @cached_property
    def _not_to_enter(self) -> shapely.Geometry:
        """Find what the cutter's middle keeps out of; a tangent may graze chords of a curve."""
        return _prepared(self.cut.grown(self.cut.within_path, -self.slack))

    @cached_property
    def _standing(self) -> shapely.Geometry:
        return _prepared(self.there)

    @cached_property
    def _own(self) -> shapely.Geometry:
        """Tabs of this cut where they are narrowest, and straight on through the waste behind."""
        far = 2.0 * self.kerf + self.driving.lead_of(self.kerf)
        return _prepared(
            shapely.union_all([_behind(self.cut, k, far) for k in range(len(self.cut.tabs))])
        )

    @cached_property
    def _kept(self) -> shapely.Geometry:
        """Find what is spared, besides what must stay."""
        return _prepared(shapely.union_all([self._own, self.spared]))


def tabs_seen(cut: Cut, others: Sequence[Cut]) -> shapely.Geometry:
    """Project other cuts' tabs along a cut's view, into its face coordinates.

    Each is taken as convex, and as deep as the stock.
    """
    found = []
    for other in others:
        for tab in other.tabs:
            corners = shapely.get_coordinates(other.strip(tab))
            if not len(corners):
                continue
            ends = [
                other.profile.to_block((float(u), float(v)), depth)
                for u, v in corners
                for depth in (0.0, 1.0)
            ]
            flat = cut.profile.view.to_view(np.array(ends))[:, :2]
            hull = shapely.convex_hull(shapely.multipoints(flat))
            if isinstance(hull, Polygon):
                found.append(hull)
    return cut.profile.to_face(polygons_of(shapely.union_all(found))) if found else MultiPolygon()


def _behind(cut: Cut, index: int, far: float) -> Polygon:
    """Make a strip as wide as a tab from its narrowest place straight out into the waste."""
    first, last = shapely.get_coordinates(cut.neck(cut.tabs[index]))
    along = (last - first) / max(float(np.linalg.norm(last - first)), LAST_DIGITS)
    out = np.array([along[1], -along[0]])
    probe = (first + last) / 2.0 + cut.width * np.array([out, -out])
    off = shapely.distance(cut.profile.area, shapely.points(probe))
    out = out if off[0] >= off[1] else -out
    return Polygon([first, last, last + far * out, first + far * out])


def _arc_onto(point: Array, heading: Array, aside: Array, radius: float) -> Arc:
    """Make a quarter of a circle that ends at a point along a heading, its centre aside."""
    centre = point + radius * aside
    turns_left = heading[0] * aside[1] - heading[1] * aside[0] > 0.0
    last = math.atan2(-aside[1], -aside[0])
    first = last - math.pi / 2.0 if turns_left else last + math.pi / 2.0
    return Arc.circular(_pair(centre), radius, first, last)


def _pair(point: Array) -> Point:
    return float(point[0]), float(point[1])


def _prepared(area: shapely.Geometry) -> shapely.Geometry:
    shapely.prepare(area)
    return area
