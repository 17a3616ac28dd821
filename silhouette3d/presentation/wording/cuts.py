"""Words for what the cuts lead to, how a cut is run, and what helps where tabs do not."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Final

from silhouette3d.base.codes import Code
from silhouette3d.base.quantities import Scale
from silhouette3d.checks.finding import Finding
from silhouette3d.presentation.wording.words import Told, at, listed, many, on_face, seat_words
from silhouette3d.process.runs import Run, Start

if TYPE_CHECKING:
    from silhouette3d.planning.foot import Foot

# --- What is said of what the cuts lead to


def _released_early(f: Finding, say: Scale) -> Told:
    cut, left = f.facts["cut"], f.facts["cuts_left"]
    message = (
        f"the part is loose after cut {cut} ({f.profile}), with {many(left, 'cut')} still to make"
    )
    if f.facts["in_setup"]:
        message = f"the clamps of the setup for cut {cut} ({f.profile}) do not hold the part"
    return Told(
        message,
        "add tabs to this cut or an earlier one (`silhouette3d tabs` proposes some, or what else "
        "helps), clamp another body, or cut in another order (`silhouette3d order`)",
    )


def _no_datum(f: Finding, say: Scale) -> Told:
    short = [f"{side} {say(f.quantities[side])}" for side in f.facts["gone"]]
    message = (
        f"before cut {f.facts['cut']} ({f.profile}) too little of the stock's own sides is left to "
        f"seat the block by where the datum lies: {listed(short)}, limit "
        f"{say(f.quantities['limit'])}"
    )
    if f.facts["corner"]:
        across, away = say(f.quantities["across"]), say(f.quantities["away"])
        return Told(message, seat_words(f.facts["corner"], across, away))
    return Told(
        message,
        "cut this view before the one that takes the sides away (`silhouette3d order`), or leave "
        "a frame standing on two sides that meet in a corner",
    )


def _clamp_in_path(f: Finding, say: Scale) -> Told:
    clamp = f"the clamp on the {f.facts['side']} side"
    if f.facts["side"] is None:
        clamp = f"clamp {f.facts['clamp']}, on the face,"
    return Told(
        f"cut {f.facts['cut']} ({f.profile}) runs into {clamp} at {on_face(f.places[0], say)}, "
        f"on {say(f.quantities['length'])} of its way",
        "clamp elsewhere, clear of the path, or on a side that no cut leaves by",
    )


def _start_on_wall(f: Finding, say: Scale) -> Told:
    more = len(f.places) - 1
    return Told(
        f"cut {f.facts['cut']} ({f.profile}): a run begins on the finished wall at "
        f"{on_face(f.places[0], say)}"
        + (f", and at {many(more, 'more place')}" if more else "")
        + f": nowhere beside it can the cutter start {say(f.quantities['limit'])} off the part and "
        "what holds it, and get from there to the outline",
        "leave more waste there, move the tab at which it begins, or drill a start hole and dress "
        "the wall; `pierce` and `lead` in the job say how much room a start takes",
    )


def _not_released(f: Finding, say: Scale) -> Told:
    more = len(f.places) - 1
    return Told(
        f"after the last cut ({f.facts['last']}) {say(f.quantities['area'])} of tabs still join "
        f"the part to waste, at {at(f, say)}"
        + (f" and {many(more, 'more place')}" if more else ""),
        "move tabs to where the last cut severs them (`silhouette3d tabs --replace` looks for such "
        "places, and says what else helps), or plan to saw them off",
    )


def _part_broken(f: Finding, say: Scale) -> Told:
    return Told(
        f"cut {f.stage} ({f.profile}) parts the part into {say(f.quantities['bodies'])} bodies, "
        f"near {at(f, say)}, before the last cut",
        "change the outlines so that the pieces join there",
    )


def _loose_offcut(f: Finding, say: Scale) -> Told:
    return Told(
        f"cut {f.stage} ({f.profile}) frees an offcut: {piece(f, say)}",
        "keep clear of it" if f.facts["is_last"] else "take it out before the next setup",
    )


def _small_offcut(f: Finding, say: Scale) -> Told:
    count = len(f.places)
    freed, falls = f"a small piece: {piece(f, say)}", "it falls"
    if count > 1:
        mass = say(f.quantities["mass"])
        freed = f"{count} small pieces, {mass} in all, the largest {piece(f, say)}"
        falls = "they fall"
    return Told(
        f"cut {f.stage} ({f.profile}) frees {freed}",
        f"{falls} {SMALL}" + ("" if f.facts["is_last"] else ", and take it out"),
    )


SMALL: Final = (
    "between the slats or into the tank and may tip against the cutter: support or catch what is "
    "freed"
)
"""What is to be said of pieces that fall."""


def piece(f: Finding, say: Scale) -> str:
    """Tell the largest offcut: mass, size, and where it is."""
    mass, size = say(f.quantities["largest"]), say(f.quantities["size"])
    return f"{mass}, {size}, at {at(f, say)}"


def _weak_tab(f: Finding, say: Scale) -> Told:
    return Told(
        f"after cut {f.stage} the part hangs on {say(f.quantities['area'])} in all, clamped as for "
        f"{f.facts['setup']}: its tabs, those of {f.profile} first, at {at(f, say)}",
        f"make them wider or add some, to {say(f.quantities['limit'])} at least",
    )


def _weak_hold(f: Finding, say: Scale) -> Told:
    where = "the surface under the clamps" if f.facts["at_clamp"] else f"what {f.profile} leaves"
    return Told(
        f"after cut {f.stage} the part hangs on {say(f.quantities['area'])} in all, clamped as for "
        f"{f.facts['setup']}: {where} is that thin at {at(f, say)}, however wide the tabs",
        f"put the tabs where {say(f.quantities['limit'])} or more stand behind them "
        "(`silhouette3d tabs --replace` looks for such places), or take a larger stock",
    )


def _witness(f: Finding, say: Scale) -> Told:
    return Told(
        f"a tab of {f.profile} leaves a stub of {say(f.quantities['size'])} on the part, "
        f"{say(f.quantities['height'])} high, at {at(f, say)}",
        "dress it off after the last cut, or move the tab to where the last cut severs it",
    )


def _inside_corner(f: Finding, say: Scale) -> Told:
    count = len(f.places)
    keep = "keeps" if count == 1 else "keep"
    return Told(
        f"{f.profile}: {many(count, 'inside corner')} sharper than the cutter {keep} "
        f"{say(f.quantities['area'])} of its face in all, with a radius of "
        f"{say(f.quantities['radius'])}; the largest at {on_face(f.places[0], say)}",
        "file them out, or draw a relief if something must fit in there",
    )


def _narrow_slot(f: Finding, say: Scale) -> Told:
    return Told(
        f"{f.profile}: the cutter, {say(f.quantities['limit'])} wide, cannot enter a slot or "
        f"hole at {on_face(f.places[0], say)}; {say(f.quantities['area'])} of it will not be cut",
        "widen it to more than the kerf, leave it out, or drill it",
    )


def _accept_unused(f: Finding, say: Scale) -> Told:
    of = f" of {f.profile}" if f.profile else ""
    return Told(
        f"the job accepts {f.facts['code']}{of} ({f.facts['reason']}), but there is none any more",
        "take this [[accept]] out of the job file, so that it hides nothing new",
    )


WORDS: Final[Mapping[Code, Callable[[Finding, Scale], Told]]] = {
    "no-datum": _no_datum,
    "clamp-in-path": _clamp_in_path,
    "start-on-wall": _start_on_wall,
    "released-early": _released_early,
    "not-released": _not_released,
    "part-broken": _part_broken,
    "loose-offcut": _loose_offcut,
    "small-offcut": _small_offcut,
    "weak-tab": _weak_tab,
    "weak-hold": _weak_hold,
    "witness": _witness,
    "inside-corner": _inside_corner,
    "narrow-slot": _narrow_slot,
    "accept-unused": _accept_unused,
}
"""For each code its words."""


# --- All that is said about how a cut is run


_WAYS: Final[Mapping[Start, str]] = {
    "edge": "from the edge",
    "hole": "inside a hole",
    "pierce": "by piercing",
    "drilled": "in a start hole",
    "wall": "on the finished wall",
}


def starts_text(runs: Sequence[Run]) -> str:
    """Count how runs begin: "1 from the edge, 2 inside a hole"; nothing where there are none."""
    starts = [run.start for run in runs]
    return ", ".join(f"{starts.count(s)} {words}" for s, words in _WAYS.items() if s in starts)


# --- What else helps where tabs do not, in words


def ways_text(
    order: Sequence[str] | None, foot: Foot | None, names: Sequence[str], say: Scale
) -> str:
    """Say what was found to help, or that nothing was.

    Parameters
    ----------
    order : sequence of str, optional
        Names of the profiles in an order in which tabs help.
    foot : Foot, optional
        One by which the part can be held.
    names : sequence of str
        Of the profiles, as the job lists them.
    say : Scale
        In what unit.
    """
    told = []
    if order is not None:
        told.append(
            f"Another order helps: {', '.join(order)}, with new tabs (set it, then run "
            "`silhouette3d tabs --replace --write`)."
        )
    if foot is not None:
        told.append(foot_text(foot, names, say))
    if not told:
        return "Neither another last cut nor a foot beyond the part helps: take a larger stock."
    return " ".join(told)


def foot_text(foot: Foot, names: Sequence[str], say: Scale) -> str:
    """Say how to leave a foot, with its numbers."""
    early, last = [names[i] for i in foot.order[:-1]], names[foot.order[-1]]
    longer = (
        f"Take the stock {say.length(foot.longer)} longer at its {foot.side}. "
        if (foot.longer > 0.0)
        else ""
    )
    clamps = "; ".join(f'clamp = ["{side}"] for {names[i]}' for i, side in enumerate(foot.clamp))
    return (
        f"A foot helps. {longer}Let no cut but the last go through the {say.length(foot.length)} "
        f"of stock beyond the part at its {foot.side}: carry the outlines of {' and '.join(early)} "
        "straight on there for the kerf that parts the part off, and widen them then to the "
        f"whole face, without tabs. Clamp by it in every setup ({clamps}). Cut {last} last, which "
        f"parts the part off; until then it holds by {say.area(foot.hold)}."
    )
