"""Captions beside a picture: sizes, mass and volume in the job's unit."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

from silhouette3d.base.quantities import size_text
from silhouette3d.base.units import percent
from silhouette3d.checks.finding import SEVERITIES, Finding
from silhouette3d.presentation.theme import FINE, SEVERITY, SIGNS

if TYPE_CHECKING:
    from silhouette3d.model.results import Results


def size_and_mass(part: Results) -> tuple[str, str]:
    """Tell the finished part's size along x, y, z, and its mass."""
    return size_text(part.solid.size, part.job.units), part.scale.mass(part.mass)


def facts(part: Results) -> tuple[tuple[str, str, str], ...]:
    """List what there is to say of a part: a word, its value, and more in small print."""
    say = part.scale
    material = part.material.name if part.material else "of its own"
    return (
        ("Material", material, say.density(part.density)),
        ("Size", size_text(part.solid.size, say.unit), ""),
        ("Mass", say.mass(part.mass), ""),
        ("Volume", say.volume(part.solid.volume), ""),
        ("Stock", stock_text(part), say.mass(part.stock_mass)),
        ("Cut away", percent(part.share_removed, 0), "of the stock"),
    )


def stock_text(part: Results) -> str:
    """Tell the stock's shape and size in the job's unit."""
    unit, stock = part.job.units, part.stock
    if stock.diameter is None:
        return f"block {size_text(stock.size, unit)}"
    return f"bar ⌀ {size_text((stock.diameter, stock.length), unit)}"


def counts(findings: Sequence[Finding]) -> tuple[tuple[str, str, str], ...]:
    """Count findings of each severity: its sign, its colour, and the words."""
    found = Counter(finding.severity for finding in findings if finding.accepted is None)
    accepted = sum(finding.accepted is not None for finding in findings)
    if not findings:
        return (("✔", FINE, "no findings"),)
    kinds = tuple(
        (SIGNS[kind], SEVERITY[kind], f"{found[kind]} {kind}{'s' * (found[kind] > 1)}")
        for kind in SEVERITIES
        if found[kind]
    )
    return kinds + (("✔", FINE, f"{accepted} accepted"),) * bool(accepted)
