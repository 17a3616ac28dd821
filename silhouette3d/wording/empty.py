"""What is said where nothing is left of the stock."""

from __future__ import annotations

from silhouette3d.checks.exclusion import Exclusion
from silhouette3d.errors import EmptyPartError
from silhouette3d.quantity import Scale
from silhouette3d.wording.drawn import of_doubt, resized
from silhouette3d.wording.words import listed


def empty_part(why: Exclusion, scale: Scale, where: str) -> EmptyPartError:
    """Word why nothing is left of the stock.

    Parameters
    ----------
    why : Exclusion
        The reason.
    scale : Scale
        In what unit.
    where : str
        The job.
    """
    if why.kind == "unit":
        assert why.doubt is not None
        return EmptyPartError(
            f"nothing is left of the stock, and {why.profiles[0]} seems to be in another unit: "
            + of_doubt(why.doubt, scale),
            where=where,
            todo=f"set {resized(why.doubt.units, why.doubt.scale)} for this profile, or the unit "
            "in the drawing",
        )
    if why.kind == "off-stock":
        assert why.reach is not None
        assert why.face is not None
        u0, v0, u1, v1 = why.reach.values
        return EmptyPartError(
            f"{why.profiles[0]}: the whole outline lies off the stock: it reaches from "
            f"{scale.point((u0, v0))} to {scale.point((u1, v1))} on a face of {scale(why.face)}",
            where=where,
            todo="check datum, shift and units of this profile",
        )
    if why.kind == "apart":
        assert why.reach is not None
        first, second = why.profiles
        end, start = (scale.length(mm) for mm in why.reach.values)
        return EmptyPartError(
            f"{first} and {second} exclude one another: along {why.axis}, {first} ends at {end} "
            f"and {second} begins at {start}",
            where=where,
            todo="shift one of them, or check its datum and units",
        )
    if why.kind == "together":
        return EmptyPartError(
            f"{listed(why.profiles)} together leave nothing of the stock, although their extents "
            "overlap",
            where=where,
            todo="look at their outlines: where one has material another has a hole",
        )
    return EmptyPartError(
        "nothing that has a thickness is left of the stock",
        where=where,
        todo="check datum, shift and units: an outline meets the stock in a sliver only",
    )
