"""All that is said about findings: a sentence on what is so, one on what to do, in any unit.

A finding is data. Here each code has a function that words it; numbers go through a `Scale`,
so that one finding can be told in mm, in inches or in both.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Final, NamedTuple

from silhouette3d.checks.exclusion import Exclusion
from silhouette3d.checks.finding import Finding, Place
from silhouette3d.checks.fit import LOAD_CONSTANT
from silhouette3d.codes import Code
from silhouette3d.errors import EmptyPartError
from silhouette3d.quantity import Quantity, Scale
from silhouette3d.units import MM_PER


class Told(NamedTuple):
    """A finding in words: clauses that begin in lower case and end without a stop."""

    message: str
    advice: str


def told(finding: Finding, scale: Scale) -> Told:
    """Word a finding.

    Parameters
    ----------
    finding : Finding
        What there is to say.
    scale : Scale
        In what unit.

    Raises
    ------
    KeyError
        If its code has no words.
    """
    return WORDS[finding.code](finding, scale)


def _stock_mismatch(f: Finding, say: Scale) -> Told:
    advice = "measure the stock; correct the drawing or [stock] in the job file"
    if f.facts["meant"]:
        advice = (
            f'the two differ by a factor of 25.4: set units = "{f.facts["meant"]}" for this '
            "profile, or the unit in the drawing"
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
    """Two lengths as the job file takes them, fine enough for what they must agree within."""
    numbers = ", ".join(f"{mm / MM_PER[say.unit]:.6f}".rstrip("0").rstrip(".") for mm in shift)
    return f"[{numbers}] {say.unit}".replace("-0,", "0,").replace("-0]", "0]")


def _shadow_lost(f: Finding, say: Scale) -> Told:
    return Told(
        f"{f.profile}: {say(f.quantities['area'])} of the outline ({say(f.quantities['share'])}) "
        f"are not filled by the part, around {_on_face(f.places[0], say)}",
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
        f"{what} {how}, at {_at(f, say)}: nothing holds there",
        "let the outlines overlap there so that the pieces join, or part them clearly",
    )


def _thin_in_view(f: Finding, say: Scale) -> Told:
    return Told(
        f"{f.profile}: the outline is {say(f.quantities['thickness'])} wide at "
        f"{_on_face(f.places[0], say)}",
        f"widen it there by {_missing(f, say)}",
    )


def _thin_section(f: Finding, say: Scale) -> Told:
    return Told(
        f"the part is {say(f.quantities['thickness'])} thick at {_at(f, say)}, over "
        f"{say(f.quantities['area'])}, between walls of {' and '.join(f.facts['walls'])}",
        f"move these walls {_missing(f, say)} further apart, or make sure that it need not "
        "carry anything",
    )


def _knife_edge(f: Finding, say: Scale) -> Told:
    return Told(
        f"an edge of {say(f.quantities['length'])} at {_at(f, say)} is as sharp as "
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


def _released_early(f: Finding, say: Scale) -> Told:
    cut, left = f.facts["cut"], f.facts["cuts_left"]
    message = (
        f"the part is loose after cut {cut} ({f.profile}), with {_many(left, 'cut')} still to make"
    )
    if f.facts["in_setup"]:
        message = f"the clamps of the setup for cut {cut} ({f.profile}) do not hold the part"
    return Told(
        message,
        "add tabs to this cut or an earlier one (`silhouette3d tabs` proposes some), "
        "clamp another body, or cut in another order (`silhouette3d order`)",
    )


def _not_released(f: Finding, say: Scale) -> Told:
    more = len(f.places) - 1
    return Told(
        f"after the last cut ({f.facts['last']}) {say(f.quantities['area'])} of tabs still join "
        f"the part to waste, at {_at(f, say)}"
        + (f" and {_many(more, 'more place')}" if more else ""),
        "move tabs to where the last cut severs them (`silhouette3d tabs` finds such places), or "
        "plan to saw them off",
    )


def _part_broken(f: Finding, say: Scale) -> Told:
    return Told(
        f"cut {f.stage} ({f.profile}) parts the part into {say(f.quantities['bodies'])} bodies, "
        f"near {_at(f, say)}, before the last cut",
        "change the outlines so that the pieces join there",
    )


def _loose_offcut(f: Finding, say: Scale) -> Told:
    return Told(
        f"cut {f.stage} ({f.profile}) frees an offcut: {_piece(f, say)}",
        "keep clear of it" if f.facts["is_last"] else "take it out before the next setup",
    )


def _small_offcut(f: Finding, say: Scale) -> Told:
    count = len(f.places)
    freed, falls = f"a small piece: {_piece(f, say)}", "it falls"
    if count > 1:
        mass = say(f.quantities["mass"])
        freed = f"{count} small pieces, {mass} in all, the largest {_piece(f, say)}"
        falls = "they fall"
    return Told(
        f"cut {f.stage} ({f.profile}) frees {freed}",
        f"{falls} between the slats or into the tank and may tip against the cutter: "
        "support or catch what is freed" + ("" if f.facts["is_last"] else ", and take it out"),
    )


def _piece(f: Finding, say: Scale) -> str:
    mass, size = say(f.quantities["largest"]), say(f.quantities["size"])
    return f"{mass}, {size}, at {_at(f, say)}"


def _weak_tab(f: Finding, say: Scale) -> Told:
    return Told(
        f"the tabs of {f.profile} stand on {say(f.quantities['area'])} in all after "
        f"cut {f.stage} ({f.facts['after']})",
        f"make them wider or add some, to {say(f.quantities['limit'])} at least",
    )


def _witness(f: Finding, say: Scale) -> Told:
    return Told(
        f"a tab of {f.profile} leaves a stub of {say(f.quantities['size'])} on the part, "
        f"{say(f.quantities['height'])} high, at {_at(f, say)}",
        "dress it off after the last cut, or move the tab to where the last cut severs it",
    )


def _inside_corner(f: Finding, say: Scale) -> Told:
    count = len(f.places)
    keep = "keeps" if count == 1 else "keep"
    return Told(
        f"{f.profile}: {_many(count, 'inside corner')} sharper than the cutter {keep} "
        f"{say(f.quantities['area'])} of its face in all, with a radius of "
        f"{say(f.quantities['radius'])}; the largest at {_on_face(f.places[0], say)}",
        "file them out, or draw a relief if something must fit in there",
    )


def _narrow_slot(f: Finding, say: Scale) -> Told:
    return Told(
        f"{f.profile}: the cutter, {say(f.quantities['limit'])} wide, cannot enter a slot or "
        f"hole at {_on_face(f.places[0], say)}; {say(f.quantities['area'])} of it will not be cut",
        "widen it to more than the kerf, leave it out, or drill it",
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
    "released-early": _released_early,
    "not-released": _not_released,
    "part-broken": _part_broken,
    "loose-offcut": _loose_offcut,
    "small-offcut": _small_offcut,
    "weak-tab": _weak_tab,
    "witness": _witness,
    "inside-corner": _inside_corner,
    "narrow-slot": _narrow_slot,
}
"""For each code its words."""

MOST: Final = 8
"""Pieces that are told one by one; the rest is counted."""


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
        names = " and ".join([", ".join(why.profiles[:-1]), why.profiles[-1]])
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


def _at(f: Finding, say: Scale) -> str:
    """Where one should look, in the block."""
    return say.point(f.places[0].at)


def _on_face(place: Place, say: Scale) -> str:
    assert place.on_face is not None  # findings of a view have it
    return f"{say.point(place.on_face)} on the face"


def _missing(f: Finding, say: Scale) -> str:
    """By how much a thickness falls short of its limit."""
    return say.length(f.quantities["limit"].number - f.quantities["thickness"].number)


def _many(count: int, thing: str) -> str:
    return f"{count} {thing}{'s' * (count != 1)}"
