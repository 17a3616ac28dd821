"""One cut seen from above: path, band and tabs, and what the cutter cannot reach.

The cutter's middle runs on the waste side, half a kerf off the outline. It
takes away everything within half a kerf of that path. Outer corners of the
waste so come out round; an inside corner of the part keeps a radius of half a
kerf, because the cutter cannot get further in: the part as cut is the outline
closed (dilated, then eroded) by a disc of half the kerf.

The cutter is a disc, so where it stops before a tab it has cut half a kerf
further, and round: between runs whose ends lie w + kerf apart stays a neck
of width w.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiLineString, MultiPolygon, Polygon

from silhouette3d.geometry.backend_errors import profile_named
from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.polygons import polygons_of
from silhouette3d.geometry.removal import Removal
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.tolerances import GRID, MERGE, SAME
from silhouette3d.process.profile import Profile


@dataclass(frozen=True, eq=False)
class Tab:
    """A stretch of a cut's path that the cutter's middle does not run along.

    Parameters
    ----------
    at : tuple of float
        The middle of the stretch, on the path, in face coordinates in mm.
    width : float
        In mm, of what stays standing where it is narrowest: between the two ends of the cut.
    stretch : shapely.LineString
        The piece of the path that is left out: what is left on either side of it lies a
        width and a kerf apart.
    nearest : tuple of points
        Where that is.
    """

    at: tuple[float, float]
    width: float
    stretch: LineString
    nearest: tuple[tuple[float, float], tuple[float, float]]


@dataclass(frozen=True, eq=False)
class Cut:
    """The through-cut of one profile, in face coordinates, in mm.

    Parameters
    ----------
    profile : Profile
        The outline and its view.
    stock : Stock
        What it is cut from.
    kerf : float
        Width of the strip that the cutter removes.
    tolerance : float
        Largest gap between a disc and the polygon that stands for it.
    tabs : tuple of Tab
        Where the cut is interrupted.
    """

    profile: Profile
    stock: Stock
    kerf: float
    tolerance: float
    tabs: tuple[Tab, ...] = ()

    @property
    def name(self) -> str:
        """The profile's."""
        return self.profile.name

    @property
    def width(self) -> float:
        """The kerf as simulated, never so narrow that what it parts is not clear of it."""
        return max(self.kerf, self.stock.tolerances.clear)

    def grown(self, area: shapely.Geometry, distance: float) -> shapely.Geometry:
        """Dilate an area by a disc (or erode it, when negative) within the tolerance."""
        return shapely.buffer(area, distance, quad_segs=self._segments(distance))

    def _segments(self, radius: float) -> int:
        """Count straight pieces for a quarter circle, none off by more than the tolerance.

        The buffer rounds the number of pieces of an arc, so that one of them may
        span up to one and a half of the angles asked for.
        """
        ratio = min(self.tolerance / abs(radius), 0.5)  # two pieces at least
        return math.ceil(1.5 * math.pi / 4.0 / math.acos(1.0 - ratio))

    @cached_property
    def within_path(self) -> shapely.Geometry:
        """The outline grown by half the kerf: what the path goes round."""
        return self.grown(self.profile.area, self.width / 2.0)

    @cached_property
    def path(self) -> shapely.Geometry:
        """Closed lines along which the cutter's middle runs, tabs not left out."""
        return shapely.boundary(self.within_path)

    @cached_property
    def as_cut(self) -> MultiPolygon:
        """Area that the cut leaves on the outline's side: the outline closed by half the kerf.

        What stays nearer to the outline than twice the tolerance is left out: it
        comes from the straight pieces of a hollow curve, not from a corner.
        """
        area = self.profile.area
        closed = self.grown(self.within_path, -self.width / 2.0)
        extra = polygons_of(shapely.difference(closed, area, grid_size=GRID))
        near = self.grown(area, 2.0 * self.tolerance)  # one tolerance for each of two discs
        shapely.prepare(near)
        parts = shapely.get_parts(extra)
        real = parts[~shapely.covers(near, parts)]
        if not len(real):
            return area
        return polygons_of(shapely.union_all([area, *real], grid_size=GRID))

    @cached_property
    def band(self) -> MultiPolygon:
        """Everything within half a kerf of the path."""
        return polygons_of(shapely.difference(self.within_kerf, self.as_cut, grid_size=GRID))

    @cached_property
    def within_kerf(self) -> MultiPolygon:
        """The outline and the kerf around it; what lies further out is waste."""
        return polygons_of(self.grown(self.profile.area, self.width))

    @cached_property
    def standing(self) -> MultiPolygon:
        """The part of the band that tabs leave standing."""
        return polygons_of(shapely.intersection(self.band, self._unswept, grid_size=GRID))

    def strip(self, tab: Tab) -> MultiPolygon:
        """Find the part of the band that one tab leaves standing."""
        return polygons_of(shapely.intersection(self.band, self._beside(tab), grid_size=GRID))

    @cached_property
    def _unswept(self) -> shapely.Geometry:
        return shapely.union_all([self._beside(tab) for tab in self.tabs], grid_size=GRID)

    def _beside(self, tab: Tab) -> shapely.Geometry:
        """Find what lies beside a tab's stretch and is swept by no run.

        It reaches a little over both sides of the band, so that what is left of the band
        is bounded by the band's own sides.
        """
        # path, strip and band stand for circles, each within a tolerance: three more reach across
        reach = self.width / 2.0 + 3.0 * self.tolerance
        across = shapely.buffer(tab.stretch, reach, quad_segs=self._segments(reach))
        behind = [end.half_disc(1.1 * reach) for end in self._ends(tab.stretch)]
        near = shapely.intersection(self.interrupted, shapely.buffer(tab.stretch, 3.0 * reach))
        cut_off = shapely.union_all([self._swept(near), *behind])
        return shapely.difference(across, cut_off, grid_size=GRID)

    def neck(self, tab: Tab) -> LineString:
        """Find the narrowest place of a tab: straight between what is cut on either side of it."""
        first, last = np.array(tab.nearest)
        along = (last - first) / np.linalg.norm(last - first) * (self.width / 2.0)
        return LineString([first + along, last - along])

    def _swept(self, runs: shapely.Geometry) -> shapely.Geometry:
        """Sweep the cutter along some lines: round at both ends of each."""
        radius = self.width / 2.0
        lines = [line for line in shapely.get_parts(runs) if isinstance(line, LineString)]
        sides = shapely.buffer(
            MultiLineString(lines), radius, quad_segs=self._segments(radius), cap_style="flat"
        )
        count = 4 * self._segments(radius)
        discs = [end.disc(radius, count) for line in lines for end in self._ends(line)]
        return shapely.union_all([sides, *discs])

    def _ends(self, line: LineString) -> list[_End]:
        """Find both ends of a line, each with the way out of it."""
        short = _ROUNDED * self.width
        places = (line, shapely.reverse(line))
        ends = [
            shapely.get_coordinates(shapely.line_interpolate_point(x, [0.0, short])) for x in places
        ]
        return [_End(points[0], points[0] - points[1]) for points in ends]

    @cached_property
    def interrupted(self) -> shapely.Geometry:
        """The path less its tabs."""
        left_out = [shapely.buffer(tab.stretch, MERGE, cap_style="flat") for tab in self.tabs]
        return shapely.line_merge(shapely.difference(self.path, shapely.union_all(left_out)))

    @cached_property
    def removed(self) -> MultiPolygon:
        """Area that the cut takes away: the band less its tabs."""
        return polygons_of(shapely.difference(self.band, self._unswept, grid_size=GRID))

    @cached_property
    def left_in_corners(self) -> list[Polygon]:
        """Pieces of `as_cut` beyond the outline: where the cutter cannot get in, largest first."""
        extra = shapely.difference(self.as_cut, self.profile.area, grid_size=GRID)
        return sorted(polygons_of(extra).geoms, key=lambda p: -p.area)

    @cached_property
    def waste(self) -> Removal:
        """Removal of the cut, through the whole stock."""
        with profile_named(self.name):
            return Removal(self.profile.to_view(self.removed), self.profile.view)

    @cached_property
    def cut_path(self) -> shapely.Geometry:
        """The path less its tabs, as far as the cutter meets stock along it."""
        meets = self.grown(self.stock.shadow(self.profile.view), self.width * (0.5 - _GRAZE))
        return shapely.line_merge(shapely.intersection(self.interrupted, meets))


@dataclass(frozen=True, eq=False)
class _End:
    """An end of a line: where it is, and a vector out of it."""

    at: Array
    out: Array

    def disc(self, radius: float, count: int) -> Polygon:
        """Make a regular polygon about the end, with corners straight ahead and aside."""
        return self._sector(radius, np.arange(count) * (2.0 * math.pi / count))

    def half_disc(self, radius: float) -> Polygon:
        """Cover all beyond the end within a radius; coarse, but nowhere less than that."""
        quarters = np.arange(-4, 5) * (math.pi / 8.0)
        return self._sector(radius / math.cos(math.pi / 16.0), quarters)

    def _sector(self, radius: float, angles: NDArray[np.floating[Any]]) -> Polygon:
        turned = angles + math.atan2(self.out[1], self.out[0])
        return Polygon(self.at + radius * np.column_stack([np.cos(turned), np.sin(turned)]))


_GRAZE: Final = 1e-6
"""Share of the kerf by which a cutter may graze the stock without cutting it."""

_ROUNDED: Final = 1e-3
"""Share of the kerf: shorter pieces at the end of a line may be rounding and have any heading."""


def removal_of(profile: Profile, stock: Stock) -> Removal:
    """Take all of the stock, as seen in a profile's view, that lies outside its outline."""
    return removal_around(profile.area, profile, stock)


def removal_around(area: MultiPolygon, profile: Profile, stock: Stock) -> Removal:
    """Take all of the stock, as seen in a profile's view, outside an area in face coordinates."""
    past = 0.1 * stock.diagonal
    (u, v), (w, h) = profile.face.corner, profile.face.size
    around = shapely.box(u - past, v - past, u + w + past, v + h + past)
    with profile_named(profile.name):
        rest = shapely.difference(around, profile.to_view(area))
    return Removal(polygons_of(rest), profile.view)


# --- Uncut regions: inside corners, and slots or holes narrower than the kerf


SLOT_TURN: Final = math.radians(150.0)
"""An outline that turns by more than this round a region encloses it like a slot: by 180° round
the end of a slot, by 360° round a hole, by 90° round a square corner."""


@dataclass(frozen=True, eq=False)
class UncutRegion:
    """A region beyond the outline that the cutter cannot reach.

    Parameters
    ----------
    region : shapely.Polygon
        In face coordinates in mm.
    is_slot : bool
        Whether it is a slot or hole that the kerf cannot enter, not just a corner.
    """

    region: Polygon
    is_slot: bool

    @property
    def reach(self) -> float:
        """Longest extent in mm."""
        points = shapely.get_coordinates(shapely.minimum_rotated_rectangle(self.region))
        return float(np.linalg.norm(np.diff(points, axis=0), axis=1).max())

    @property
    def width(self) -> float:
        """Width of a slot or hole in mm: across the largest circle within."""
        return 2.0 * float(shapely.length(shapely.maximum_inscribed_circle(self.region)))


def kept(cut: Cut, as_cut: Solid) -> list[UncutRegion]:
    """Find what a cut keeps beyond its outline, if the part as cut has any of it; largest first.

    Parameters
    ----------
    cut : Cut
        The cut.
    as_cut : Solid
        The part as all cuts leave it.
    """
    regions = cut.left_in_corners
    if not regions:
        return []
    there = as_cut.within(cut.profile.to_view(MultiPolygon(regions)), cut.profile.view)
    flat = cut.profile.view.to_view(there.mesh.vertices)[:, :2] - cut.profile.face.corner
    points = shapely.multipoints(flat)
    outline = shapely.boundary(cut.profile.area)
    return [
        UncutRegion(region, _is_slot(region, outline))
        for region in regions
        if shapely.dwithin(region, points, SAME)
    ]


def _is_slot(region: Polygon, outline: shapely.Geometry) -> bool:
    """Tell whether the outline bounds a region on two sides or turns far round it."""
    ring = shapely.get_coordinates(shapely.orient_polygons(region).exterior)[:-1]
    middles = (ring + np.roll(ring, -1, axis=0)) / 2.0
    on = np.asarray(shapely.distance(outline, shapely.points(middles)) <= SAME)
    mouths = int((on & ~np.roll(on, 1)).sum())
    return mouths > 1 or _turning(ring, on) > SLOT_TURN


def _turning(ring: Array, on: NDArray[np.bool_]) -> float:
    """Measure in radians how a ring turns left at corners between two marked sides."""
    sides = np.roll(ring, -1, axis=0) - ring
    before, marked = np.roll(sides, 1, axis=0), on & np.roll(on, 1)
    cross = before[:, 0] * sides[:, 1] - before[:, 1] * sides[:, 0]
    turns = np.arctan2(cross, np.einsum("ij,ij->i", before, sides))
    return float(turns[marked].sum())
