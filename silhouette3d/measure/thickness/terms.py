"""What "thin" means in numbers, in space and in the plane."""

from __future__ import annotations

import math
from typing import Final

from silhouette3d.errors import JobError

BETA: Final = math.radians(22.0)
"""How far the way from p to q may be off the inward normal at p and off the outward one at q.

Twice this is 44 degrees and not 45, or every mitre would count."""

SLACK: Final = 1e-4
"""mm, and share of the limit. What is thinner by less counts as thick enough: walls drawn as thick
as the limit must not alarm because of the last digits."""

PER_LIMIT: Final = 4.0
"""Samples on a length of the limit."""

FAN: Final = math.radians(15.0)
"""Between the normals of samples in a concave corner or edge."""


def spacing(limit: float) -> float:
    """Between samples, in mm."""
    return limit / PER_LIMIT


def cap(limit: float) -> float:
    """Diameter from which on a ball is large enough, in mm."""
    return float(limit) - SLACK * min(1.0, limit)


def check_limit(limit: float) -> None:
    """Refuse a limit that is no length.

    Raises
    ------
    JobError
        If it is not a positive number.
    """
    if not (math.isfinite(limit) and limit > 0.0):
        raise JobError(
            f"the least thickness allowed is given as {limit!r}",
            todo="give a length greater than 0",
        )
