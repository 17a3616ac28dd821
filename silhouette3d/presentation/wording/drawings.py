"""Words for drawings that leave something in doubt."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from silhouette3d.base.codes import Code
from silhouette3d.base.quantities import Quantity, Scale
from silhouette3d.base.units import figure
from silhouette3d.checks.drawings import Doubt
from silhouette3d.checks.finding import Finding
from silhouette3d.presentation.wording.words import Told, many, on_face


def ratio(value: float) -> str:
    """Tell how much larger or smaller, as a number above 1.

    >>> ratio(25.4), ratio(1 / 25.4), ratio(96 / 25.4)
    ('25.4', '25.4', '3.7795')
    """
    return figure(max(value, 1.0 / value), 5)


def resized(units: str | None, scale: float | None) -> str:
    """Name the key of a profile that makes it larger or smaller.

    >>> resized("in", None), resized(None, 10.0)
    ('units = "in"', 'scale = 10')
    """
    return f'units = "{units}"' if units else f"scale = {figure(scale or 1.0, 8)}"


def of_doubt(doubt: Doubt, scale: Scale) -> str:
    """Tell how a drawing's size differs from the stock's."""
    what = "the stock is drawn" if doubt.is_stock else "the outline is"
    drawn, face = (scale(Quantity(size, "length")) for size in (doubt.drawn, doubt.face))
    factors = " or ".join(map(ratio, doubt.ratios))
    return f"{what} {drawn}, but this face of the stock is {face}, a factor of {factors}"


def _unit_doubtful(f: Finding, say: Scale) -> Told:
    times = [f"{ratio(r)} times as {'large' if r > 1.0 else 'small'}" for r in f.facts["ratios"]]
    whose = {
        "file": f"the file says that it is drawn in {f.facts['taken']}",
        "nowhere": f"it states no unit and was taken as {f.facts['taken']}",
    }
    return Told(
        f"{f.profile}: the outline is {say(f.quantities['drawn'])} on a face of "
        f"{say(f.quantities['face'])}, {' or '.join(times)} it would fill it: "
        f"{whose[f.facts['stated']]}",
        f"set {resized(f.facts['units'], f.facts['scale'])} for this profile; if its size is "
        'right, say so by its unit: units = "mm" or "in"',
    )


def _overlapping_loops(f: Finding, say: Scale) -> Told:
    count = f.facts["pairs"]
    more = f" and at {many(count - 1, 'more place')}" if count > 1 else ""
    common, united = say(f.quantities["common"]), say(f.quantities["union"])
    other = ", ".join(
        f'"{rule}" gives {say(f.quantities[rule])}' for rule in ("subtract", "even-odd")
    )
    return Told(
        f"{f.profile}: loops overlap at {on_face(f.places[0], say)}{more}, with {common} in "
        f"common; they were united to {united}",
        f'if that is meant, set overlap = "union" for this profile; {other}',
    )


def _nearly_coincident(f: Finding, say: Scale) -> Told:
    count = f.facts["pairs"]
    apart, length, area = (say(f.quantities[key]) for key in ("apart", "length", "area"))
    first = "two loops run" if count == 1 else f"{count} pairs of loops run, the largest"
    where = on_face(f.places[0], say)
    if f.facts["is_one"]:
        return Told(
            f"{f.profile}: {first} {apart} beside each other at {where}; they were taken as one "
            f"loop drawn twice, {area} lie between them",
            "delete the one that is not meant; if both are, draw them further apart",
        )
    return Told(
        f"{f.profile}: {first} {apart} beside each other along {length} at {where}; they count "
        f"as two, and only {area} lie between them",
        "if one line was meant, delete the other; if both were, nothing so thin can be cut",
    )


WORDS: Final[Mapping[Code, Callable[[Finding, Scale], Told]]] = {
    "unit-doubtful": _unit_doubtful,
    "overlapping-loops": _overlapping_loops,
    "nearly-coincident": _nearly_coincident,
}
"""For each code its words."""
