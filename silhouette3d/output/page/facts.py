"""What the page says of the part in words and numbers: the job's unit first, then the other."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from silhouette3d.errors import OutputError
from silhouette3d.number import figure, padded, percent
from silhouette3d.output.picture.caption import stock_text
from silhouette3d.quantity import (
    GRAMS_PER,
    MASS_DIGITS,
    OTHER,
    density_text,
    mass_text,
    mass_unit,
    size_text,
)
from silhouette3d.units import Unit

if TYPE_CHECKING:
    from silhouette3d.part import Part

_SCALE_LIMIT: Final = 1e6
"""That of exported meshes."""


@dataclass(frozen=True)
class Fact:
    """A word, its value, and more in small print."""

    word: str
    value: str
    more: str = ""


def facts_of(part: Part, scale: float = 1.0) -> tuple[Fact, ...]:
    """What a customer asks for."""
    unit, other = part.job.units, OTHER[part.job.units]
    size, error = part.solid.size, part.measures.mass_error
    material = part.material.name if part.material else "not named"
    pieces = len(part.solid.bodies)
    rows = [
        Fact(
            "Size",
            size_text(size, unit),
            size_text(size, other),
        ),
        Fact(
            "Weight",
            weight_text(part.mass, error, unit),
            weight_text(part.mass, error, other),
        ),
        Fact("Material", material, density_text(part.density, "mm")),
    ]
    if pieces > 1:
        rows.append(Fact("Pieces", str(pieces), "weighed together"))
    rows.append(
        Fact("Cut from", stock_text(part), f"{percent(part.share_removed, 0)} of it cut away")
    )
    if scale != 1.0:
        ready = [scale * mm for mm in size]
        more = f"{size_text(ready, unit)} ({size_text(ready, other)})"
        rows.append(Fact("Mock-up", scale_text(scale), more))
    return tuple(rows)


def note_of(part: Part, scale: float = 1.0) -> str:
    """What the numbers are of, and how far they can be trusted."""
    words = "Sizes are width × depth × height. "
    if scale != 1.0:
        words += "Size and weight are those of the finished part. "
    if part.measures.mass_error > 0.0:
        words += "The ± covers how curves are rounded in the calculation. "
    return words + "The density is a typical one: the scales have the last word."


def weight_text(grams: float, error: float, unit: Unit) -> str:
    """A mass with a bound on its error: g or kg, or oz or lb (avoirdupois).

    The bound covers the rounding of what is shown, too.

    >>> weight_text(113.2736, 0.2292, "mm"), weight_text(96.0, 0.0, "mm")
    ('113.3 g ± 0.3 g', '96 g')
    """
    if error <= 0.0:
        return mass_text(grams, unit)
    name = mass_unit(grams, unit)
    value = grams / GRAMS_PER[name]
    decimals = max(0, MASS_DIGITS - 1 - math.floor(math.log10(value)))
    shown = padded(value, decimals)
    off = error / GRAMS_PER[name] + abs(value - float(shown))
    bound = math.ceil(off * 10.0**decimals) / 10.0**decimals
    return f"{shown} {name} ± {padded(bound, decimals)} {name}"


def scale_text(scale: float) -> str:
    """A scale as drawings state it: 2:1 enlarges, 1:2 reduces (ISO 5455, from memory).

    >>> scale_text(2.0), scale_text(0.5), scale_text(0.3)
    ('2:1', '1:2', '1:3.333')
    """
    return f"{figure(scale)}:1" if scale >= 1.0 else f"1:{figure(1.0 / scale)}"


def check_scale(scale: float, where: str) -> None:
    """Refuse a scale that no mock-up can have.

    Raises
    ------
    OutputError
        If it is not a number within reason.
    """
    if not 1.0 / _SCALE_LIMIT <= scale <= _SCALE_LIMIT:
        raise OutputError(
            f"the scale is {scale}",
            where=where,
            todo=f"give a number from {1 / _SCALE_LIMIT:g} to {_SCALE_LIMIT:g}",
        )
