"""One cut seen from above: its path, what it takes away, what the part keeps of it.

The cutter's middle runs on the waste side, half a kerf off the outline. It
takes away everything within half a kerf of that path. Outer corners of the
waste so come out round; an inside corner of the part keeps a radius of half a
kerf, because the cutter cannot get further in: the part as cut is the outline
closed (dilated, then eroded) by a disc of half the kerf.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import shapely
from shapely import LineString, MultiPolygon, Polygon

from silhouette3d.place import Profile
from silhouette3d.solid import Waste
from silhouette3d.stock import Stock
from silhouette3d.units import GRID

LEAST_KERF: Final = 1e-3
"""mm. A kerf of zero is simulated as this one, so that what it parts is apart."""


@dataclass(frozen=True, eq=False)
class Tab:
    """A stretch of a cut's path that is not cut.

    Parameters
    ----------
    at : tuple of float
        The middle of the stretch, on the path, in face coordinates in mm.
    width : float
        Of the material left standing, where it is least: at the outline or beyond the kerf.
    stretch : shapely.LineString
        The piece of the path that is left out.
    """

    at: tuple[float, float]
    width: float
    stretch: LineString


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
        """The kerf as simulated, never quite zero."""
        return max(self.kerf, LEAST_KERF)

    def grown(self, area: shapely.Geometry, distance: float) -> shapely.Geometry:
        """An area dilated by a disc (or eroded, when negative) within the tolerance."""
        return shapely.buffer(area, distance, quad_segs=self._segments(distance))

    def _segments(self, radius: float) -> int:
        """Straight pieces for a quarter of a circle, so that none is off by more than tolerance.

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
        """What the cut leaves of the outline's side: the outline closed by half the kerf.

        What stays nearer to the outline than twice the tolerance is left out: it
        comes from the straight pieces of a hollow curve, not from a corner.
        """
        area = self.profile.area
        closed = self.grown(self.within_path, -self.width / 2.0)
        extra = polygons_of(shapely.difference(closed, area, grid_size=GRID))
        near = self.grown(area, 2.0 * self.tolerance)  # one tolerance for each of two discs
        real = [p for p in extra.geoms if not shapely.covered_by(p, near)]
        if not real:
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
        strips = [self.strip(tab) for tab in self.tabs]
        return polygons_of(shapely.union_all(strips, grid_size=GRID))

    def strip(self, tab: Tab) -> MultiPolygon:
        """The part of the band that one tab leaves standing, square at its ends."""
        # path, strip and band stand for circles, each within a tolerance: three more reach across
        reach = self.width / 2.0 + 3.0 * self.tolerance
        across = shapely.buffer(
            tab.stretch, reach, quad_segs=self._segments(reach), cap_style="flat"
        )
        return polygons_of(shapely.intersection(across, self.band, grid_size=GRID))

    @cached_property
    def removed(self) -> MultiPolygon:
        """What the cut takes away: the band less its tabs."""
        return polygons_of(shapely.difference(self.band, self.standing, grid_size=GRID))

    @cached_property
    def left_in_corners(self) -> list[Polygon]:
        """Pieces of `as_cut` beyond the outline: where the cutter cannot get in, largest first."""
        extra = shapely.difference(self.as_cut, self.profile.area, grid_size=GRID)
        return sorted(polygons_of(extra).geoms, key=lambda p: -p.area)

    @cached_property
    def waste(self) -> Waste:
        """What the cut takes away, through the whole stock."""
        return Waste(self.profile.to_view(self.removed), self.profile.view)

    @cached_property
    def cut_path(self) -> shapely.Geometry:
        """The path less its tabs, as far as the cutter meets stock along it."""
        meets = self.grown(self.stock.shadow(self.profile.view), self.width * (0.5 - _GRAZE))
        path = shapely.intersection(self.path, meets)
        left_out = [shapely.buffer(tab.stretch, _GRAZE, cap_style="flat") for tab in self.tabs]
        return shapely.line_merge(shapely.difference(path, shapely.union_all(left_out)))


_GRAZE: Final = 1e-6
"""Share of the kerf by which a cutter may graze the stock without cutting it."""


def polygons_of(area: shapely.Geometry) -> MultiPolygon:
    """The polygons of an area, without what has none."""
    parts = (p for p in shapely.get_parts(area) if isinstance(p, Polygon) and p.area > 0.0)
    return MultiPolygon(list(parts))
