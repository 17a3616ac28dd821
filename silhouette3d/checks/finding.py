"""One thing to look at before cutting."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

from silhouette3d.units import Unit, length_text
from silhouette3d.view import Array

Severity = Literal["error", "warning", "note"]
SEVERITIES: Final[tuple[Severity, ...]] = ("error", "warning", "note")


@dataclass(frozen=True)
class Finding:
    """What, where, how bad, and what to do.

    Parameters
    ----------
    code : str
        A stable word, listed in the README.
    severity : {"error", "warning", "note"}
        An error spoils the part; a warning may; a note is good to know.
    message, advice : str
        A sentence each: what is so, and what to do about it.
    profile : str, optional
        The profile (and so the view) it is about.
    where : tuple of float, optional
        x, y, z in mm, block frame.
    value, limit : float, optional
        What was measured and what it was held against, in mm, mm² or g.
    """

    code: str
    severity: Severity
    message: str
    advice: str
    profile: str | None = None
    where: tuple[float, float, float] | None = None
    value: float | None = None
    limit: float | None = None


def worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Errors, then warnings, then notes; otherwise as they come."""
    return tuple(sorted(findings, key=lambda f: SEVERITIES.index(f.severity)))


def spot(point: Array) -> tuple[float, float, float]:
    """A point as a finding carries it."""
    x, y, z = (float(value) for value in point)
    return x, y, z


def point_text(point: Array, unit: Unit) -> str:
    """A point as a person reads it, in the job's unit: (x, y, z) unit."""
    digits = 3 if unit == "in" else 2
    values = (length_text(float(value), unit, digits).split()[0] for value in point)
    return "(" + ", ".join(values) + f") {unit}"
