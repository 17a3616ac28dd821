"""What stands beside a picture: sizes, mass and volume in the job's unit, the other in brackets."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Final, TypeVar

import numpy as np

from silhouette3d.checks.finding import SEVERITIES, Finding
from silhouette3d.output.picture.colours import FINE, SEVERITY
from silhouette3d.units import MM3_PER_CM3, MM_PER, Unit, length_text, pounds

if TYPE_CHECKING:
    from silhouette3d.part import Part

T = TypeVar("T")

OTHER: Final[dict[Unit, Unit]] = {"mm": "in", "in": "mm"}
SIGNS: Final[dict[str, str]] = {"error": "✖", "warning": "▲", "note": "●"}
"""A sign for each severity, of a shape of its own."""

_OUNCES_PER_POUND: Final = 16.0
_GRAMS_PER_KG: Final = 1000.0
_SIZE_DIGITS: Final[dict[Unit, int]] = {"mm": 2, "in": 3}


def size_text(size: Iterable[float], unit: Unit) -> str:
    """Lengths in mm as a person reads them.

    >>> size_text((80.0, 40.0, 50.4), "mm"), size_text((25.4, 50.8, 12.7), "in")
    ('80 × 40 × 50.4 mm', '1 × 2 × 0.5 in')
    """
    numbers = (length_text(float(mm), unit, _SIZE_DIGITS[unit]).split()[0] for mm in size)
    return " × ".join(numbers) + f" {unit}"


def mass_text(grams: float, unit: Unit) -> str:
    """A mass beside lengths of some unit: g or kg, or oz or lb (avoirdupois).

    >>> mass_text(117.534, "mm"), mass_text(2500.0, "mm"), mass_text(117.534, "in")
    ('117.5 g', '2.5 kg', '4.146 oz')
    """
    if unit == "mm":
        heavy = grams >= _GRAMS_PER_KG
        return f"{_figures(grams / _GRAMS_PER_KG)} kg" if heavy else f"{_figures(grams)} g"
    lb = pounds(grams)
    return f"{_figures(lb)} lb" if lb >= 1.0 else f"{_figures(lb * _OUNCES_PER_POUND)} oz"


def volume_text(mm3: float, unit: Unit) -> str:
    """A volume beside lengths of some unit.

    >>> volume_text(43531.2, "mm"), volume_text(510.0, "mm"), volume_text(16387.064, "in")
    ('43.53 cm³', '510 mm³', '1 in³')
    """
    if unit == "in":
        return f"{_figures(mm3 / MM_PER['in'] ** 3)} in³"
    large = mm3 >= MM3_PER_CM3
    return f"{_figures(mm3 / MM3_PER_CM3)} cm³" if large else f"{_figures(mm3)} mm³"


def both(text: Callable[[T, Unit], str], value: T, unit: Unit) -> str:
    """A value in a unit, and in brackets in the other.

    >>> both(mass_text, 453.59237, "in")
    '1 lb (453.6 g)'
    """
    return f"{text(value, unit)} ({text(value, OTHER[unit])})"


def size_and_mass(part: Part) -> tuple[str, str]:
    """The finished part's size along x, y, z, and its mass."""
    unit = part.job.units
    return both(size_text, part.solid.size, unit), both(mass_text, part.mass, unit)


def facts(part: Part) -> tuple[tuple[str, str, str], ...]:
    """What there is to say of a part: a word, its value, and more in small print."""
    unit, other = part.job.units, OTHER[part.job.units]
    size, volume = part.solid.size, part.solid.volume
    density = f"{part.density:g} g/cm³"
    return (
        ("Material", part.material.name if part.material else "of its own", density),
        ("Size", size_text(size, unit), f"({size_text(size, other)})"),
        ("Mass", mass_text(part.mass, unit), f"({mass_text(part.mass, other)})"),
        ("Volume", volume_text(volume, unit), f"({volume_text(volume, other)})"),
        ("Stock", stock_text(part), mass_text(part.stock_mass, unit)),
        ("Cut away", f"{part.share_removed:.0%}", "of the stock"),
    )


def stock_text(part: Part) -> str:
    """The stock's shape and size in the job's unit."""
    unit, stock = part.job.units, part.stock
    if stock.diameter is None:
        return f"block {size_text(stock.size, unit)}"
    return f"bar ⌀ {size_text((stock.diameter, stock.length), unit)}"


def counts(findings: Sequence[Finding]) -> tuple[tuple[str, str, str], ...]:
    """How many findings there are of each severity: its sign, its colour, and the words."""
    found = Counter(finding.severity for finding in findings)
    if not found:
        return (("✔", FINE, "no findings"),)
    return tuple(
        (SIGNS[kind], SEVERITY[kind], f"{found[kind]} {kind}{'s' * (found[kind] > 1)}")
        for kind in SEVERITIES
        if found[kind]
    )


def _figures(value: float) -> str:
    """Four significant figures, never as a power of ten."""
    digits = max(0, 3 - int(np.floor(np.log10(abs(value))))) if value else 0
    text = f"{value:.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
