"""Why nothing is left of the stock: which outlines exclude one another."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import combinations

import shapely

from silhouette3d.checks.fit import SharedAxis
from silhouette3d.errors import EmptyPartError
from silhouette3d.place import Profile
from silhouette3d.stock import Stock
from silhouette3d.units import GRID, Unit, length_text


def nothing_left(
    profiles: Sequence[Profile],
    stock: Stock,
    axes: Sequence[SharedAxis],
    is_empty: Callable[[Sequence[Profile]], bool],
    unit: Unit,
    where: str,
) -> EmptyPartError:
    """The reason for an empty part, the simplest first.

    Parameters
    ----------
    is_empty : callable
        Whether some of the profiles together leave nothing of the stock.
    """
    for profile in profiles:
        face = stock.shadow(profile.view)
        if not shapely.intersection(profile.area, face, grid_size=GRID).area:
            u0, v0, u1, v1 = (length_text(x, unit) for x in profile.area.bounds)
            w, h = (length_text(x, unit) for x in profile.face.size)
            return EmptyPartError(
                f"{profile.name}: the whole outline lies off the stock: it reaches from "
                f"({u0}, {v0}) to ({u1}, {v1}) on a face of {w} × {h}",
                where=where,
                todo="check datum, shift and units of this profile",
            )
    for axis in axes:
        for (a, (a0, a1)), (b, (b0, b1)) in combinations(
            zip(axis.profiles, axis.extents, strict=True), 2
        ):
            if a1 <= b0 or b1 <= a0:
                (first, second), (end, start) = (
                    ((a, b), (a1, b0)) if a1 <= b0 else ((b, a), (b1, a0))
                )
                return EmptyPartError(
                    f"{a.name} and {b.name} exclude one another: along {axis.name}, "
                    f"{first.name} ends at {length_text(end, unit)} and {second.name} begins at "
                    f"{length_text(start, unit)}",
                    where=where,
                    todo="shift one of them, or check its datum and units",
                )
    for count in range(2, len(profiles) + 1):
        for some in combinations(profiles, count):
            if is_empty(some):
                names = " and ".join([", ".join(p.name for p in some[:-1]), some[-1].name])
                return EmptyPartError(
                    f"{names} together leave nothing of the stock, although their extents overlap",
                    where=where,
                    todo="look at their outlines: where one has material another has a hole",
                )
    return EmptyPartError(
        "nothing that has a thickness is left of the stock",
        where=where,
        todo="check datum, shift and units: an outline meets the stock in a sliver only",
    )
