"""Words for outlines that do not agree, a part that is not sound, and an empty stock."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Final

from silhouette3d.base.codes import Code
from silhouette3d.base.quantities import Quantity, Scale
from silhouette3d.base.units import MM_PER, MOST_DECIMALS, fixed
from silhouette3d.checks.contradictions import Exclusion
from silhouette3d.checks.finding import Finding
from silhouette3d.checks.fit import LOAD_CONSTANT
from silhouette3d.errors import EmptyPartError
from silhouette3d.presentation.wording.drawings import of_doubt, ratio, resized
from silhouette3d.presentation.wording.words import Told, at, listed, missing, on_face

# --- What is said of outlines that do not agree, and of a part that is not sound


MOST: Final = 8
"""Pieces that are told one by one; the rest is counted."""


def _stock_mismatch(f: Finding, say: Scale) -> Told:
    advice = "measure the stock; correct the drawing or [stock] in the job file"
    if f.facts["ratio"]:
        advice = (
            f"the two differ by a factor of {ratio(f.facts['ratio'])}: "
            f"set {resized(f.facts['units'], f.facts['scale'])} for this profile, or the unit in "
            "the drawing"
        )
    return Told(
        f"{f.profile}: the stock is drawn {say(f.quantities['drawn'])}, "
        f"but this face of the stock is {say(f.quantities['face'])}",
        advice,
    )


def _outside_stock(f: Finding, say: Scale) -> Told:
    return Told(
        f"{f.profile}: the outline reaches {say(f.quantities['beyond'])} beyond the stock, "
        "so that much of it is missing from the part",
        "move the outline (shift, datum), or take a larger stock",
    )


def _extent_mismatch(f: Finding, say: Scale) -> Told:
    own, other = f.quantities["extent"].values, f.quantities["other_extent"].values
    return Told(
        f"along {f.facts['axis']} the outlines disagree by {say(f.quantities['off'])}: "
        f"{f.profile} reaches from {say.range(own)}, {f.others[0]} from {say.range(other)}",
        _cure(f, own, other, say),
    )


def _cure(f: Finding, own: Sequence[float], other: Sequence[float], say: Scale) -> str:
    shift = f.quantities["shift"].values
    if f.facts["shift_cures"]:
        by = _shift_text(shift, f.quantities["limit"], say)
        return f"shift {f.profile} by {by} (add it to its shift) to match {f.others[0]}"
    off = (other[1] - other[0]) - (own[1] - own[0])
    longer, shorter = (f.others[0], f.profile) if off > 0 else (f.profile, f.others[0])
    advice = (
        f"no shift cures this: {longer} is {say.length(abs(off))} longer than {shorter}; "
        "redraw one of them"
    )
    if max(map(abs, shift)) <= f.quantities["limit"].number:
        return advice
    by = _shift_text(shift, f.quantities["limit"], say)
    return f"{advice} (a shift of {f.profile} by {by} centres them on each other)"


def _shift_text(shift: Sequence[float], limit: Quantity, say: Scale) -> str:
    """Write two lengths as the job file takes them, to a hundredth of what must agree."""
    fine = math.ceil(-math.log10(limit.number / MM_PER[say.unit] / 100.0))
    decimals = max(fine, MOST_DECIMALS[say.unit])
    return f"[{', '.join(fixed(mm / MM_PER[say.unit], decimals) for mm in shift)}] {say.unit}"


def _shadow_lost(f: Finding, say: Scale) -> Told:
    return Told(
        f"{f.profile}: {say(f.quantities['area'])} of the outline ({say(f.quantities['share'])}) "
        f"are not filled by the part, around {on_face(f.places[0], say)}",
        "the other outlines cut this away: widen them there, or take the region out of this "
        "one (the picture shows it hatched)",
    )


def _several_bodies(f: Finding, say: Scale) -> Told:
    pieces = [
        f"{say.volume(volume)}, {say.mass(mass)}, at {say.point(place.at)}"
        for volume, mass, place in zip(
            f.quantities["volumes"].values, f.quantities["masses"].values, f.places, strict=True
        )
    ]
    pieces = [pieces[-1], *pieces[:-1]]
    more = f"; and {len(pieces) - MOST} more" if len(pieces) > MOST else ""
    return Told(
        f"the part is in {len(pieces)} pieces: {'; '.join(pieces[:MOST])}{more}",
        "change the outlines so that the pieces join, or that only one is left",
    )


def _point_contact(f: Finding, say: Scale) -> Told:
    length = f.quantities["length"]
    how = f"along an edge of {say(length)}" if length.number else "in a point"
    itself = f.facts["itself"]
    what = "the part touches itself only" if itself else "two pieces of the part touch only"
    return Told(
        f"{what} {how}, at {at(f, say)}: nothing holds there",
        "let the outlines overlap there so that the pieces join, or part them clearly",
    )


def _thin_in_view(f: Finding, say: Scale) -> Told:
    return Told(
        f"{f.profile}: the outline is {say(f.quantities['thickness'])} wide at "
        f"{on_face(f.places[0], say)}",
        f"widen it there by {missing(f, say)}",
    )


def _thin_section(f: Finding, say: Scale) -> Told:
    return Told(
        f"the part is {say(f.quantities['thickness'])} thick at {at(f, say)}, over "
        f"{say(f.quantities['area'])}, between walls of {' and '.join(f.facts['walls'])}",
        f"move these walls {missing(f, say)} further apart, or make sure that it need not "
        "carry anything",
    )


def _knife_edge(f: Finding, say: Scale) -> Told:
    return Told(
        f"an edge of {say(f.quantities['length'])} at {at(f, say)} is as sharp as "
        f"{say(f.quantities['angle'])}, between walls of {' and '.join(f.facts['walls'])}",
        "blunt it in one of the outlines: it cuts hands, and breaks",
    )


def _heavy_stock(f: Finding, say: Scale) -> Told:
    limit = f"{LOAD_CONSTANT / 1000.0:.0f} kg (51 lb)"
    return Told(
        f"the stock weighs {say(f.quantities['mass'])}, more than the {limit} that the NIOSH "
        "lifting equation allows under the best conditions",
        "lift it with a second person or a hoist; local rules may set a lower limit",
    )


WORDS: Final[Mapping[Code, Callable[[Finding, Scale], Told]]] = {
    "stock-mismatch": _stock_mismatch,
    "outside-stock": _outside_stock,
    "extent-mismatch": _extent_mismatch,
    "shadow-lost": _shadow_lost,
    "several-bodies": _several_bodies,
    "point-contact": _point_contact,
    "thin-in-view": _thin_in_view,
    "thin-section": _thin_section,
    "knife-edge": _knife_edge,
    "heavy-stock": _heavy_stock,
}
"""For each code its words."""


# --- What is said where nothing is left of the stock


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
