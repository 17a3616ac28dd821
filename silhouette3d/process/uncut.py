"""Uncut regions: inside corners, and slots or holes narrower than the kerf."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.tolerances import SAME
from silhouette3d.process.cut import Cut

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
