"""Lengths, volumes, masses as they stand in a table: in the job's unit, and in the other."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from silhouette3d.units import MM_PER, Unit, pounds

if TYPE_CHECKING:
    from silhouette3d.measure.standing import Pose

OUNCES_PER_POUND: Final = 16.0
GRAMS_PER_KG: Final = 1000.0
CM_PER: Final[dict[Unit, float]] = {"mm": 0.1, "in": 2.54}


def figure(value: float, digits: int = 6, most: int = 6) -> str:
    """A number with some significant digits, never as a power of ten.

    Digits before the point are all kept; after it there are `most` at most.

    >>> figure(46955.0492593), figure(0.0123456789), figure(1234567.8), figure(-1e-12)
    ('46955', '0.012346', '1234568', '0')
    """
    size = math.floor(math.log10(abs(value))) if value else 0
    text = f"{value:.{min(max(0, digits - 1 - size), most)}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def bound(value: float) -> str:
    """A bound on an error: two significant digits, rounded up.

    >>> bound(50.59), bound(0.0123), bound(0.0), bound(2.0)
    ('51', '0.013', '0', '2')
    """
    if value <= 0.0:
        return "0"
    decimals = 1 - math.floor(math.log10(value))
    unit = 10.0**decimals
    return figure(math.ceil(value * unit * (1.0 - 1e-12)) / unit, 2, max(decimals, 0))


@dataclass(frozen=True)
class Scale:
    """A unit of length and the units that go with it."""

    unit: Unit

    @property
    def other(self) -> Scale:
        """The one to show in brackets."""
        return Scale("in" if self.unit == "mm" else "mm")

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
        return f"{figure(value / factor)}{more} {self.unit}{'⁰¹²³'[exponent]}"

    def mass(self, grams: float, error: float | None = None) -> str:
        """In g or kg, or in oz or lb (avoirdupois)."""
        if self.unit == "mm":
            each, name = (GRAMS_PER_KG, "kg") if grams >= GRAMS_PER_KG else (1.0, "g")
            value, more = grams / each, (error or 0.0) / each
        else:
            heavy = pounds(grams) >= 1.0
            each, name = (1.0, "lb") if heavy else (OUNCES_PER_POUND, "oz")
            value, more = pounds(grams) * each, pounds(error or 0.0) * each
        return f"{figure(value)}{'' if error is None else f' ± {bound(more)}'} {name}"

    def density(self, g_cm3: float) -> str:
        """In g/cm³ or lb/in³."""
        if self.unit == "mm":
            return f"{figure(g_cm3)} g/cm³"
        return f"{figure(pounds(g_cm3) * CM_PER['in'] ** 3, 4)} lb/in³"

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
