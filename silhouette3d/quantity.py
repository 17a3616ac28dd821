"""Sizes, masses, volumes and densities as a person reads them: in the job's unit, or the other."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal, TypeVar

from silhouette3d.units import GRAMS_PER_POUND, MM3_PER_CM3, MM_PER, Unit, length_text, pounds

T = TypeVar("T")

Dimension = Literal["length", "area", "volume", "mass", "angle", "count", "share"]

INSIDE: Final[dict[Dimension, str]] = {
    "length": "mm",
    "area": "mm²",
    "volume": "mm³",
    "mass": "g",
    "angle": "°",
    "count": "",
    "share": "",
}
"""In what each kind of quantity is kept. A share is one of the whole, not percent."""


@dataclass(frozen=True)
class Quantity:
    """A number that knows what it counts, or several in a row: a size, a range.

    Parameters
    ----------
    value : float or tuple of float
        In mm, mm², mm³, g or degrees; a count; a share of 1.
    dimension : Dimension
        What it is a quantity of.
    """

    value: float | tuple[float, ...]
    dimension: Dimension

    @property
    def unit(self) -> str:
        """In what `value` is."""
        return INSIDE[self.dimension]

    @property
    def values(self) -> tuple[float, ...]:
        """All numbers, one by one."""
        return self.value if isinstance(self.value, tuple) else (self.value,)

    @property
    def number(self) -> float:
        """The number; the first, if there are several."""
        return self.values[0]


OTHER: Final[dict[Unit, Unit]] = {"mm": "in", "in": "mm"}
"""The unit that stands in brackets."""

GRAMS_PER: Final[dict[str, float]] = {
    "g": 1.0,
    "kg": 1000.0,
    "oz": GRAMS_PER_POUND / 16.0,
    "lb": GRAMS_PER_POUND,
}
"""Ounces and pounds are avoirdupois."""

_HEAVY: Final[dict[Unit, tuple[str, str]]] = {"mm": ("kg", "g"), "in": ("lb", "oz")}
_SIZE_DIGITS: Final[dict[Unit, int]] = {"mm": 2, "in": 3}
_CM_PER_INCH: Final = MM_PER["in"] / 10.0


def figure(value: float, digits: int = 4, most: int | None = None) -> str:
    """A number with some significant digits, never as a power of ten.

    Digits before the point are all kept; after it there are `most` at most.

    >>> figure(46955.0492593), figure(0.0123456789), figure(1234567.8), figure(-1e-12, 6, 6)
    ('46955', '0.01235', '1234568', '0')
    """
    size = math.floor(math.log10(abs(value))) if value else 0
    decimals = max(0, digits - 1 - size)
    text = f"{value:.{decimals if most is None else min(decimals, most)}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def decimals_of_bound(value: float) -> int:
    """Decimals that a bound on an error needs to have two significant digits."""
    return 1 - math.floor(math.log10(value))


def rounded_up(value: float, decimals: int) -> float:
    """A bound on an error, rounded so that it stays one.

    What rounding alone has added to a number of so many decimals is not rounded up.
    """
    unit = 10.0**decimals
    return math.ceil(value * unit * (1.0 - 1e-12)) / unit


def bound(value: float) -> str:
    """A bound on an error: two significant digits, rounded up.

    >>> bound(50.59), bound(0.0123), bound(0.0), bound(2.0)
    ('51', '0.013', '0', '2')
    """
    if value <= 0.0:
        return "0"
    decimals = decimals_of_bound(value)
    return figure(rounded_up(value, decimals), 2, max(decimals, 0))


def size_text(size: Iterable[float], unit: Unit) -> str:
    """Lengths in mm, with one unit.

    >>> size_text((80.0, 40.0, 50.4), "mm"), size_text((25.4, 50.8, 12.7), "in")
    ('80 × 40 × 50.4 mm', '1 × 2 × 0.5 in')
    """
    numbers = (length_text(float(mm), unit, _SIZE_DIGITS[unit]).split()[0] for mm in size)
    return " × ".join(numbers) + f" {unit}"


def mass_unit(grams: float, unit: Unit) -> str:
    """In what a mass is told beside lengths of some unit: g or kg, oz or lb.

    >>> mass_unit(999.0, "mm"), mass_unit(1000.0, "mm"), mass_unit(999.0, "in")
    ('g', 'kg', 'lb')
    """
    heavy, light = _HEAVY[unit]
    return heavy if grams >= GRAMS_PER[heavy] else light


def mass_text(grams: float, unit: Unit) -> str:
    """A mass beside lengths of some unit.

    >>> mass_text(117.534, "mm"), mass_text(2500.0, "mm"), mass_text(117.534, "in")
    ('117.5 g', '2.5 kg', '4.146 oz')
    """
    name = mass_unit(grams, unit)
    return f"{figure(grams / GRAMS_PER[name])} {name}"


def volume_text(mm3: float, unit: Unit) -> str:
    """A volume beside lengths of some unit.

    >>> volume_text(43531.2, "mm"), volume_text(510.0, "mm"), volume_text(16387.064, "in")
    ('43.53 cm³', '510 mm³', '1 in³')
    """
    if unit == "in":
        return f"{figure(mm3 / MM_PER['in'] ** 3)} in³"
    large = mm3 >= MM3_PER_CM3
    return f"{figure(mm3 / MM3_PER_CM3)} cm³" if large else f"{figure(mm3)} mm³"


def density_text(g_cm3: float, unit: Unit) -> str:
    """A density beside lengths of some unit.

    >>> density_text(2.7, "mm"), density_text(2.7, "in")
    ('2.7 g/cm³', '0.09754 lb/in³')
    """
    if unit == "mm":
        return f"{figure(g_cm3, 6, 6)} g/cm³"
    return f"{figure(pounds(g_cm3) * _CM_PER_INCH**3)} lb/in³"


def both(text: Callable[[T, Unit], str], value: T, unit: Unit) -> str:
    """A value in a unit, and in brackets in the other.

    >>> both(mass_text, 453.59237, "in")
    '1 lb (453.6 g)'
    """
    return f"{text(value, unit)} ({text(value, OTHER[unit])})"


@dataclass(frozen=True)
class Scale:
    """How quantities are told: in a unit, or in both, the second in brackets.

    Parameters
    ----------
    unit : {"mm", "in"}
        Of lengths; masses go with it: g and kg, or oz and lb.
    both : bool
        Whether the other unit follows in brackets.
    """

    unit: Unit
    both: bool = False

    def __call__(self, quantity: Quantity) -> str:
        """Tell a quantity of any kind.

        >>> Scale("mm")(Quantity(1.5, "length")), Scale("in")(Quantity((25.4, 50.8), "length"))
        ('1.5 mm', '1 × 2 in')
        """
        if quantity.dimension == "length":
            return self.lengths(quantity.values)
        text: Mapping[Dimension, Callable[[float], str]] = {
            "area": self.area,
            "volume": self.volume,
            "mass": self.mass,
            "angle": "{:.1f}°".format,
            "share": "{:.1%}".format,
            "count": figure,
        }
        return text[quantity.dimension](quantity.number)

    def length(self, mm: float) -> str:
        """Tell a length."""
        return self._in_each(length_text, mm)

    def lengths(self, mm: Sequence[float]) -> str:
        """Tell a size: lengths with one unit."""

        def text(mm: Sequence[float], unit: Unit) -> str:
            return f"{' × '.join(_numbers(mm, unit))} {unit}"

        return self._in_each(text, mm)

    def span(self, mm: Sequence[float]) -> str:
        """Tell from where to where.

        >>> Scale("mm").span((0.0, 48.0))
        '0 to 48 mm'
        """
        return self._in_each(lambda mm, unit: f"{' to '.join(_numbers(mm, unit))} {unit}", mm)

    def point(self, mm: Sequence[float]) -> str:
        """Tell a point.

        >>> Scale("mm").point((40.0, 0.123456, 2.0)), Scale("mm", both=True).point((25.4, 0.0))
        ('(40, 0.12, 2) mm', '(25.4, 0) mm ((1, 0) in)')
        """

        def text(mm: Sequence[float], unit: Unit) -> str:
            return f"({', '.join(_numbers(mm, unit, _POINT_DIGITS[unit]))}) {unit}"

        return self._in_each(text, mm)

    def area(self, mm2: float) -> str:
        """Tell an area to three figures."""
        return self._in_each(lambda mm2, unit: f"{figure(mm2 / MM_PER[unit] ** 2, 3)} {unit}²", mm2)

    def mass(self, grams: float) -> str:
        """Tell a mass to four figures."""
        return self._in_each(mass_text, grams)

    def volume(self, mm3: float) -> str:
        """Tell a volume to four figures."""
        return self._in_each(volume_text, mm3)

    def _in_each(self, text: Callable[[T, Unit], str], value: T) -> str:
        return both(text, value, self.unit) if self.both else text(value, self.unit)


_POINT_DIGITS: Final[dict[Unit, int]] = {"mm": 2, "in": 3}


def _numbers(mm: Sequence[float], unit: Unit, digits: int | None = None) -> list[str]:
    return [length_text(float(value), unit, digits).split()[0] for value in mm]
