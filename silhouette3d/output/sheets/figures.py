"""Numbers as they stand on a sheet: in the job's unit, and in brackets in the other."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from silhouette3d.cutting.stages import Body
from silhouette3d.quantity import (
    GRAMS_PER,
    OTHER,
    both,
    decimals_of_bound,
    density_text,
    figure,
    mass_text,
    mass_unit,
    rounded_up,
    volume_text,
)
from silhouette3d.units import MM3_PER_CM3, MM_PER, Unit, length_text

_OTHER_DIGITS: Final[dict[Unit, int]] = {"mm": 2, "in": 3}
"""Decimals in brackets: enough to compare. What is smaller than a hundred times the last gets one
more."""

_PATH_DIGITS: Final[dict[Unit, int]] = {"mm": 1, "in": 2}
"""Decimals of a path's length; nobody measures one."""


@dataclass(frozen=True)
class Figures:
    """Writes numbers.

    Parameters
    ----------
    unit : {"mm", "in"}
        The job's.
    """

    unit: Unit

    def length(self, mm: float) -> str:
        """One length.

        >>> Figures("mm").length(25.4), Figures("in").length(38.1)
        ('25.4 mm (1 in)', '1.5 in (38.1 mm)')
        """
        return self.lengths([mm])

    def own(self, mm: float) -> str:
        """One length in the job's unit only, for dimensions of a picture.

        >>> Figures("in").own(25.4)
        '1 in'
        """
        return length_text(mm, self.unit)

    def lengths(self, mm: Iterable[float]) -> str:
        """A size: several with one unit."""
        return self._told(" × ", [float(value) for value in mm])

    def span(self, low: float, high: float) -> str:
        """From one length to another; once where they are the same.

        >>> Figures("mm").span(10.0, 20.0)
        '10 to 20 mm (0.394 to 0.787 in)'
        """
        if length_text(low, self.unit) == length_text(high, self.unit):
            return self.length(high)
        return self._told(" to ", [low, high])

    def point(self, mm: Iterable[float], axes: str = "xyz") -> str:
        """Each coordinate with its axis."""
        return self._told(", ", [float(value) for value in mm], [f"{axis} " for axis in axes])

    def _told(self, between: str, mm: list[float], names: Sequence[str] = ("",) * 3) -> str:
        def text(unit: Unit, digits: int | None) -> str:
            numbers = [length_text(value, unit, digits).split()[0] for value in mm]
            told = map("".join, zip(names, numbers, strict=False))
            return f"{between.join(told)} {unit}"

        other = OTHER[self.unit]
        digits: int | None = _OTHER_DIGITS[other]
        least = min((abs(value) / MM_PER[other] for value in mm if value), default=1.0)
        if least < 10.0 ** (2 - _OTHER_DIGITS[other]):
            digits = None
        return f"{text(self.unit, None)} ({text(other, digits)})"

    def path(self, mm: float) -> str:
        """The length of a path."""
        return both(lambda v, unit: length_text(v, unit, _PATH_DIGITS[unit]), mm, self.unit)

    def area(self, mm2: float) -> str:
        """An area to three figures."""
        return both(_area_text, mm2, self.unit)

    def volume(self, mm3: float) -> str:
        """A volume."""
        return both(volume_text, mm3, self.unit)

    def mass(self, grams: float) -> str:
        """A mass."""
        return both(mass_text, grams, self.unit)

    def mass_within(self, grams: float, error: float) -> str:
        """A mass with a bound on its error: both to the same decimal.

        >>> Figures("mm").mass_within(117.534, 0.0412)
        '117.534 ± 0.042 g (4.1459 ± 0.0015 oz)'
        """
        if error <= 0.0:
            return f"{self.mass(grams)}, exact for the outlines as drawn"
        return both(lambda pair, unit: _within(*pair, unit), (grams, error), self.unit)

    def parcel(self, grams: float) -> str:
        """A mass as carriers ask for it, in kg and lb whatever its size.

        >>> Figures("mm").parcel(453.59237), Figures("in").parcel(453.59237)
        ('0.4536 kg (1 lb)', '1 lb (0.4536 kg)')
        """
        kg, lb = (f"{figure(grams / GRAMS_PER[name])} {name}" for name in ("kg", "lb"))
        return f"{kg} ({lb})" if self.unit == "mm" else f"{lb} ({kg})"

    def density(self, g_cm3: float) -> str:
        """A density.

        >>> Figures("mm").density(2.7), Figures("in").density(2.7)
        ('2.7 g/cm³ (0.09754 lb/in³)', '0.09754 lb/in³ (2.7 g/cm³)')
        """
        return both(density_text, g_cm3, self.unit)


def body_mass(body: Body, density: float) -> float:
    """In g; the density in g/cm³."""
    return body.solid.volume * density / MM3_PER_CM3


def _area_text(mm2: float, unit: Unit) -> str:
    return f"{figure(mm2 / MM_PER[unit] ** 2, 3)} {unit}²"


def _within(grams: float, error: float, unit: Unit) -> str:
    """The bound is rounded up to two figures, so that it stays one."""
    name = mass_unit(grams, unit)
    value, more = grams / GRAMS_PER[name], error / GRAMS_PER[name]
    decimals = max(0, decimals_of_bound(more))
    return f"{value:.{decimals}f} ± {rounded_up(more, decimals):.{decimals}f} {name}"
