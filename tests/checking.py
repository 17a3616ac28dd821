"""A block, a limit, and what every finding must have: shared by the tests of checks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from silhouette3d.checks.finding import SEVERITIES, Finding
from silhouette3d.place import Profile
from silhouette3d.stock import Stock
from tests.shapes import (
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
    assert found.message
    assert found.message[0].islower()
    assert not found.message.endswith(".")
    assert found.advice
    return found
