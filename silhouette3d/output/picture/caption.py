"""What stands beside a picture: sizes, mass and volume in the job's unit, the other in brackets."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

from silhouette3d.checks.finding import SEVERITIES, Finding
from silhouette3d.quantity import OTHER, both, density_text, mass_text, size_text, volume_text
from silhouette3d.theme import FINE, SEVERITY, SIGNS

if TYPE_CHECKING:
    from silhouette3d.part import Part


def size_and_mass(part: Part) -> tuple[str, str]:
    """The finished part's size along x, y, z, and its mass."""
    unit = part.job.units
    return both(size_text, part.solid.size, unit), both(mass_text, part.mass, unit)


def facts(part: Part) -> tuple[tuple[str, str, str], ...]:
    """What there is to say of a part: a word, its value, and more in small print."""
    unit, other = part.job.units, OTHER[part.job.units]
    size, volume = part.solid.size, part.solid.volume
    density = density_text(part.density, "mm")
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
