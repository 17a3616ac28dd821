"""A finding in words, and what several codes say alike."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from silhouette3d.base.quantities import Scale
from silhouette3d.checks.finding import Finding, Place

COMPILING: Final = "compiling the search for thin sections; this takes some seconds, once"
"""Said while machine code is made that is kept from then on."""


class Told(NamedTuple):
    """A finding in words: clauses that begin in lower case and end without a stop."""

    message: str
    advice: str


def at(f: Finding, say: Scale) -> str:
    """Tell where one should look, in the block."""
    return say.point(f.places[0].at)


def on_face(place: Place, say: Scale) -> str:
    """Tell where one should look on the face of the finding's profile."""
    assert place.on_face is not None  # findings of a view have it
    return f"{say.point(place.on_face)} on the face"


def missing(f: Finding, say: Scale) -> str:
    """Tell by how much a thickness falls short of its limit."""
    return say.length(f.quantities["limit"].number - f.quantities["thickness"].number)


def listed(things: Sequence[str]) -> str:
    """Join words: a, b and c."""
    return " and ".join([", ".join(things[:-1]), things[-1]]) if things[1:] else "".join(things)


def many(count: int, thing: str) -> str:
    """Count things: 1 cut, 2 cuts."""
    return f"{count} {thing}{'s' * (count != 1)}"


def seat_words(corner: Sequence[str], across: str, away: str) -> str:
    """Tell by which two sides of the face to seat the block, and where zero lies from them.

    >>> seat_words(("right", "near"), "40 mm", "20 mm")
    'seat it by its right and its near side; zero lies 40 mm to the left of the right side'
    >>> seat_words(("left", "near"), "40 mm", "20 mm")
    'seat it by its left and its near side'
    """
    offsets = {
        "right": f"{across} to the left of the right side",
        "far": f"{away} nearer than the far side",
    }
    told = [offsets[side] for side in corner if side in offsets]
    zero = f"; zero lies {listed(told)}" if told else ""
    return f"seat it by its {corner[0]} and its {corner[1]} side{zero}"
