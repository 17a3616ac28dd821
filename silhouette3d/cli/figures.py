"""Lengths, volumes, masses as they stand in a table: in the job's unit, and in the other."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from silhouette3d.quantity import GRAMS_PER, OTHER, bound, density_text, figure, mass_unit
from silhouette3d.units import MM_PER, Unit, pounds

if TYPE_CHECKING:
    from silhouette3d.measure.standing import Pose

DIGITS: Final = (6, 6)
"""Significant ones of a number, and how many of them may be decimals."""


@dataclass(frozen=True)
class Scale:
    """A unit of length and the units that go with it."""

    unit: Unit

    @property
    def other(self) -> Scale:
        """The one to show in brackets."""
        return Scale(OTHER[self.unit])

    def length(self, mm: float) -> str:
        """In mm or in."""
        return f"{self._length(mm)} {self.unit}"

    def lengths(self, mm: Iterable[float]) -> str:
        """A size: several with one unit."""
        return f"{' × '.join(map(self._length, mm))} {self.unit}"

    def point(self, mm: Iterable[float]) -> str:
        """Each coordinate with its axis, then the unit."""
        named = (f"{axis} {self._length(one)}" for axis, one in zip("xyz", mm, strict=True))
        return f"{', '.join(named)} {self.unit}"

    def _length(self, mm: float) -> str:
        return figure(mm / MM_PER[self.unit], 7, 3 if self.unit == "mm" else 4)

    def power(self, value: float, exponent: int, error: float | None = None) -> str:
        """An area or a volume, with a bound on its error."""
        factor = MM_PER[self.unit] ** exponent
        more = "" if error is None else f" ± {bound(error / factor)}"
        return f"{figure(value / factor, *DIGITS)}{more} {self.unit}{'⁰¹²³'[exponent]}"

    def mass(self, grams: float, error: float | None = None) -> str:
        """In g or kg, or in oz or lb (avoirdupois)."""
        name = mass_unit(grams, self.unit)
        more = "" if error is None else f" ± {bound(error / GRAMS_PER[name])}"
        return f"{figure(grams / GRAMS_PER[name], *DIGITS)}{more} {name}"

    def density(self, g_cm3: float) -> str:
        """In g/cm³ or lb/in³."""
        return density_text(g_cm3, self.unit)

    def inertia(self, g_mm2: float) -> float:
        """In g·mm² or lb·in²."""
        return g_mm2 if self.unit == "mm" else pounds(g_mm2) / MM_PER["in"] ** 2

    @property
    def inertia_unit(self) -> str:
        """Of `inertia`."""
        return "g·mm²" if self.unit == "mm" else "lb·in²"


def both(text: Callable[[Scale], str], scale: Scale) -> tuple[str, str]:
    """A text in a scale, and in brackets in the other."""
    return text(scale), f"({text(scale.other)})"


def standing_text(pose: Pose) -> str:
    """On which side a part stands, and how far it can be tilted."""
    slanted = ", a slanted side" if " " in pose.side else ""
    return f"its {pose.side}{slanted}; {tipping_text(pose)}"


def tipping_text(pose: Pose) -> str:
    """How far a part can be tilted; angles in tenths of a degree, rounded down."""
    angle = math.floor(pose.tipping_angle * 10.0 + _WHOLE) / 10.0
    return f"tips over when tilted by {angle:g}°" if pose.tipping_angle else "does not stand"


_WHOLE: Final = 1e-6
"""Of a tenth: what rounding takes off an angle that is a whole number of them."""
