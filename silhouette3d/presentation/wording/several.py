"""Words for several findings that have one cause."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from typing import Final

from silhouette3d.base.codes import Code
from silhouette3d.base.quantities import Scale
from silhouette3d.checks.finding import Finding
from silhouette3d.presentation.wording.cuts import SMALL, piece
from silhouette3d.presentation.wording.drawings import ratio, resized
from silhouette3d.presentation.wording.words import Told, at, listed, many, on_face

MOST: Final = 6
"""Places that are told one by one; the rest is counted."""

Lone = Callable[[Finding, Scale], Told]


def told_together(finding: Finding, say: Scale, lone: Lone) -> Told:
    """Word a finding that stands for several.

    Parameters
    ----------
    finding : Finding
        With members.
    say : Scale
        In what unit.
    lone : callable
        Words one of the members.
    """
    if finding.code in WORDS:
        return WORDS[finding.code](finding, say)
    first, *rest = finding.members
    words = lone(first, say)
    names = dict.fromkeys(one.profile for one in rest if one.profile)
    if len(names) == len(rest) and first.profile not in names:
        more = f"likewise {listed([*names])}"
    else:
        more = f"and {len(rest)} more like this, at {_places(rest, say)}"
    return words._replace(message=f"{words.message}; {more}")


def _places(findings: Sequence[Finding], say: Scale) -> str:
    """List the place of each, as far as they are told one by one."""
    of_faces = all(one.places[0].on_face for one in findings)
    shown = findings[:MOST]
    told = ", ".join(at(one, say) for one in shown)
    if of_faces:
        told = ", ".join(say.point(one.places[0].on_face or ()) for one in shown) + " on the face"
    more = len(findings) - len(shown)
    return told + f" and {many(more, 'more place')}" * bool(more)


def _stock_mismatch(f: Finding, say: Scale) -> Told:
    faces = [
        f"{one.profile} {say(one.quantities['drawn'])} instead of {say(one.quantities['face'])}"
        for one in f.members
    ]
    if not f.facts["ratio"]:
        return Told(
            f"the stock is drawn otherwise than it is: {listed(faces)}",
            "measure the stock; correct the drawings or [stock] in the job file",
        )
    return Told(
        f"the stock is drawn too large or too small by a factor of {ratio(f.facts['ratio'])}: "
        + listed(faces),
        f"set {resized(f.facts['units'], f.facts['scale'])} for these profiles, or the unit in "
        "their drawings",
    )


def _extent_mismatch(f: Finding, say: Scale) -> Told:
    first = f.members[0]
    if f.profile is None:  # several outlines that differ alike from one other
        names = listed([one.profile or "" for one in f.members])
        own, other = (say.range(first.quantities[n].values) for n in ("extent", "other_extent"))
        reaches = f"{names} reach from {own}, {first.others[0]} from {other}"
        return Told(
            f"along {first.facts['axis']} {len(f.members)} outlines disagree with "
            f"{first.others[0]} by {say(first.quantities['off'])}: {reaches}",
            f"redraw or shift {first.others[0]}, or each of them",
        )
    return Told(
        f"the outlines disagree along {len(f.members)} slanted directions, the most along "
        f"{first.facts['axis']}, by {say(first.quantities['off'])} ({_reaches(first, say)}); also "
        + listed([_pair(one, say) for one in f.members[1 : 1 + MOST]])
        + f" and {many(len(f.members) - 1 - MOST, 'more pair')}" * (len(f.members) > 1 + MOST),
        f"look at {f.profile} first, which disagrees the most: at its size, shift and view",
    )


def _reaches(one: Finding, say: Scale) -> str:
    own, other = (say.range(one.quantities[n].values) for n in ("extent", "other_extent"))
    return f"{one.profile} from {own}, {one.others[0]} from {other}"


def _pair(one: Finding, say: Scale) -> str:
    return f"{one.profile} with {one.others[0]} by {say(one.quantities['off'])}"


def _shadow_lost(f: Finding, say: Scale) -> Told:
    first, *rest = f.members
    return Told(
        f"{f.profile}: {say(f.quantities['area'])} of the outline ({say(f.quantities['share'])}) "
        f"are not filled by the part, in {len(f.members)} regions; the largest, "
        f"{say(first.quantities['area'])}, around {on_face(first.places[0], say)}, others at "
        f"{_places(rest, say)}",
        "the other outlines cut these away: widen them there, or take the regions out of this "
        "one (the picture shows them hatched)",
    )


def _loose_offcut(f: Finding, say: Scale) -> Told:
    last = all(one.facts["is_last"] for one in f.members)
    return Told(
        f"{_freed(f, 'offcut', say)}",
        "keep clear of them" if last else "take them out before the next setup",
    )


def _small_offcut(f: Finding, say: Scale) -> Told:
    last = all(one.facts["is_last"] for one in f.members)
    return Told(
        _freed(f, "small piece", say),
        f"they fall {SMALL}" + ("" if last else ", and take it out"),
    )


def _freed(f: Finding, what: str, say: Scale) -> str:
    """Tell how many pieces come loose in which cuts, and the largest of them."""
    counts = Counter[tuple[int, str]]()
    for one in f.members:
        counts[one.stage or 0, one.profile or ""] += len(one.places)
    total = f"{many(len(f.places), what)}, {say(f.quantities['mass'])} in all, "
    largest = f"the largest {piece(f, say)}"
    if len(counts) == 1:
        ((cut, name),) = counts
        return f"cut {cut} ({name}) frees {total}{largest}"
    cuts = [f"{count} in cut {cut} ({name})" for (cut, name), count in sorted(counts.items())]
    return f"{total}come loose, {listed(cuts)}; {largest}"


def _weak_tab(f: Finding, say: Scale) -> Told:
    names = listed([one.profile or "" for one in f.members])
    return Told(
        f"the tabs of {names} each stand on about {say(f.quantities['area'])} in all when they "
        "must hold",
        f"make them wider or add some, to {say(f.quantities['limit'])} for each cut at least",
    )


def _witness(f: Finding, say: Scale) -> Told:
    first, *rest = f.members
    others = f"a tab of {first.profile} at {at(first, say)}"
    of = Counter(one.profile or "" for one in f.members)
    names = listed([f"{name} ({count})" if count > 1 else name for name, count in of.items()])
    return Told(
        f"{len(f.members)} tabs leave stubs on the part, of {names}; the largest is of {others}, "
        f"{say(first.quantities['size'])}, {say(first.quantities['height'])} high; others at "
        f"{_places(rest, say)}",
        "dress them off after the last cut, or move the tabs to where the last cut severs them",
    )


def _inside_corner(f: Finding, say: Scale) -> Told:
    of = {one.profile or "": len(one.places) for one in f.members}
    names = listed([f"{name} ({count})" for name, count in of.items()])
    return Told(
        f"{many(len(f.places), 'inside corner')} of {names} sharper than the cutter keep "
        f"{say(f.quantities['area'])} of the faces in all, with a radius of "
        f"{say(f.quantities['radius'])}; the first at {on_face(f.places[0], say)} of "
        f"{f.members[0].profile}",
        "file them out, or draw a relief if something must fit in there",
    )


WORDS: Final[Mapping[Code, Callable[[Finding, Scale], Told]]] = {
    "stock-mismatch": _stock_mismatch,
    "extent-mismatch": _extent_mismatch,
    "shadow-lost": _shadow_lost,
    "loose-offcut": _loose_offcut,
    "small-offcut": _small_offcut,
    "weak-tab": _weak_tab,
    "witness": _witness,
    "inside-corner": _inside_corner,
}
"""Codes for which several are told otherwise than as one with more places."""
