"""Outlines that contradict: what one shows and the others take away, up to nothing left."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from silhouette3d.base.quantities import Quantity
from silhouette3d.checks.drawings import Doubt, doubt_of
from silhouette3d.checks.finding import Finding, place
from silhouette3d.checks.fit import SharedAxis
from silhouette3d.geometry.backend_errors import profile_named
from silhouette3d.geometry.polygons import common, less, parts_of
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.tolerances import GRID, MERGE
from silhouette3d.process.profile import Profile

# --- Why nothing is left of the stock: which outlines exclude one another


@dataclass(frozen=True)
class Exclusion:
    """Reasons why a part is empty.

    Parameters
    ----------
    kind : {"unit", "off-stock", "apart", "together", "sliver"}
        A drawing would fit the stock in another unit; an outline lies off the stock; two lie
        beside one another along a direction; some leave nothing together; or what is left has
        no thickness.
    profiles : tuple of str
        Which they are; of two apart, the lower one first.
    axis : str
        The direction along which two are apart.
    reach, face : Quantity, optional
        From u, v to u, v of an outline off the stock, and the size of its face;
        of two apart, where the first ends and the second begins.
    doubt : Doubt, optional
        Of the unit.
    """

    kind: Literal["unit", "off-stock", "apart", "together", "sliver"]
    profiles: tuple[str, ...] = ()
    axis: str = ""
    reach: Quantity | None = None
    face: Quantity | None = None
    doubt: Doubt | None = None


def nothing_left(
    profiles: Sequence[Profile],
    stock: Stock,
    axes: Sequence[SharedAxis],
    is_empty: Callable[[Sequence[Profile]], bool],
    match: float,
) -> Exclusion:
    """Find the reason for an empty part, the simplest first.

    Parameters
    ----------
    is_empty : callable
        Whether some of the profiles together leave nothing of the stock.
    match : float
        Within which lengths agree, in mm.
    """
    for profile in profiles:
        with profile_named(profile.name):
            doubt = doubt_of(profile, match)
        if doubt is not None:
            return Exclusion("unit", (profile.name,), doubt=doubt)
    for profile in profiles:
        with profile_named(profile.name):
            face = stock.shadow(profile.view)
            on_stock = shapely.intersection(profile.area, face, grid_size=GRID)
        if not on_stock.area:
            reach = Quantity(profile.area.bounds, "length")
            size = Quantity(tuple(profile.face.size), "length")
            return Exclusion("off-stock", (profile.name,), reach=reach, face=size)
    for axis in axes:
        for one, two in combinations(zip(axis.profiles, axis.extents, strict=True), 2):
            (first, (_, end)), (second, (start, _)) = sorted((one, two), key=lambda p: p[1])
            if end <= start:
                reach = Quantity((end - axis.zero, start - axis.zero), "length")
                return Exclusion("apart", (first.name, second.name), axis.name, reach)
    for count in range(2, len(profiles) + 1):
        for some in combinations(profiles, count):
            if is_empty(some):
                return Exclusion("together", tuple(profile.name for profile in some))
    return Exclusion("sliver")


# --- What an outline shows that the part cannot: shadow that is lost to the other outlines
#
# The part is the largest solid whose shadows lie inside the outlines (Laurentini
# 1994, IEEE PAMI 16(2):150-162, calls it the visual hull). Where its shadow does
# not fill an outline, the outlines contradict one another.


def face_shadow(profile: Profile, part: Solid) -> MultiPolygon:
    """Project the part along a profile's view, into face coordinates in mm."""
    return profile.to_face(part.shadow(profile.view))


def lost_shadow(profile: Profile, part: Solid) -> MultiPolygon:
    """Find the area of an outline, in face coordinates, that the part's shadow leaves empty.

    Slivers that only rounding leaves are not counted.
    """
    return unfilled(profile, face_shadow(profile, part))


def unfilled(profile: Profile, shadow: MultiPolygon) -> MultiPolygon:
    """Find the area of an outline that a shadow leaves empty, both in face coordinates in mm."""
    parts = parts_of(less(profile.area, shadow, MERGE))
    stray = profile.face.tolerances.stray  # a strip that is narrower on average is rounding
    return MultiPolygon([p for p in parts if p.area > stray / 2.0 * p.length])


def shadow_lost(
    profile: Profile,
    part: Solid,
    stock: Stock,
    axes: Sequence[SharedAxis],
    match: float,
) -> Iterator[Finding]:
    """Find each region of an outline that is lost.

    A region narrower than `match` does not count. Nor does what is lost because
    the outline reaches beyond the stock, or further along a shared axis than
    another profile: those have findings of their own.
    """
    expected = common(profile.area, stock.shadow(profile.view), MERGE)
    for axis in axes:
        if any(profile is other for other in axis.profiles):
            expected = common(expected, _strip(profile, axis), MERGE)
    lost = common(lost_shadow(profile, part), expected, MERGE)
    for region in wider_than(lost, match):
        point = region.representative_point()
        yield Finding(
            "shadow-lost",
            "warning",
            profile.name,
            places=(place(profile.to_block((point.x, point.y)), (point.x, point.y)),),
            quantities={
                "area": Quantity(float(region.area), "area"),
                "share": Quantity(float(region.area / profile.area.area), "share"),
            },
        )


def wider_than(area: shapely.Geometry, width: float) -> list[Polygon]:
    """Choose the regions that hold a disc of this diameter somewhere, largest first."""
    wide = [p for p in parts_of(area) if not shapely.buffer(p, -width / 2.0).is_empty]
    return sorted(wide, key=lambda p: -p.area)


def _strip(profile: Profile, axis: SharedAxis) -> Polygon:
    """Span the band of a face, in face coordinates, between the common ends of a shared axis."""
    low, high = axis.common
    along = profile.view.axes[:2] @ axis.direction
    across = np.array([-along[1], along[0]])
    far = 10.0 * max(profile.face.size) + abs(low) + abs(high)
    corners = [low * along - far * across, high * along - far * across]
    corners += [high * along + far * across, low * along + far * across]
    return Polygon(np.asarray(corners) - profile.face.corner)
