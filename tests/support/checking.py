"""A block, a limit, and what every finding must have: shared by the tests of checks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from silhouette3d.base.quantities import Scale
from silhouette3d.base.units import Unit
from silhouette3d.checks.finding import SEVERITIES, Finding
from silhouette3d.geometry.stock import Stock
from silhouette3d.presentation.wording import told as worded
from silhouette3d.presentation.wording.words import Told
from silhouette3d.process.profile import Profile
from tests.support.shapes import (
    Area,
    profile,
)

BLOCK = Stock((80.0, 40.0, 50.0))
MATCH = 0.1
EPS = 1e-6
"""Far more than rounding, far less than a limit."""


def profiles(outlines: Mapping[str, Area], stock: Stock = BLOCK) -> tuple[Profile, ...]:
    return tuple(profile(view, area, stock) for view, area in outlines.items())


def told(findings: Any) -> Finding:
    """The only finding, with what every finding must have."""
    (found,) = findings
    assert found.severity in SEVERITIES
    unit: Unit
    for unit in ("mm", "in"):
        for both in (False, True):
            _as_clauses(worded(found, Scale(unit, both)))
    return found


def _as_clauses(words: Told) -> None:
    assert words.message
    assert words.message[0].islower()
    assert not words.message.endswith(".")
    assert words.advice


def message(finding: Finding, unit: Unit = "mm") -> str:
    return worded(finding, Scale(unit)).message


def advice(finding: Finding, unit: Unit = "mm") -> str:
    return worded(finding, Scale(unit)).advice
