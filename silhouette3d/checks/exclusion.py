"""Why nothing is left of the stock: which outlines exclude one another."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import shapely

from silhouette3d.checks.drawn import Doubt, doubt_of
from silhouette3d.checks.fit import SharedAxis
from silhouette3d.place import Profile
from silhouette3d.quantity import Quantity
from silhouette3d.stock import Stock
from silhouette3d.units import GRID


@dataclass(frozen=True)
class Exclusion:
    """Why a part is empty.

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
        doubt = doubt_of(profile, match)
        if doubt is not None:
            return Exclusion("unit", (profile.name,), doubt=doubt)
    for profile in profiles:
        face = stock.shadow(profile.view)
        if not shapely.intersection(profile.area, face, grid_size=GRID).area:
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
