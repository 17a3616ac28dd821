"""Quantities as a person reads them, in millimetres or inches, or in one and the other.

A `Quantity` knows what it counts; a `Scale` tells it. Everything that shows a number with a unit
does it through here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal, TypeVar

from silhouette3d.base.units import (
    GRAMS_PER_POUND,
    LENGTH_DIGITS,
    MM3_PER_CM3,
    MM_PER,
    MOST_DECIMALS,
    Unit,
    decimals_of_bound,
    figure,
    fixed,
    length_text,
    padded,
    percent,
    pounds,
    rounded_up,
)

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

OTHER: Final[dict[Unit, Unit]] = {"mm": "in", "in": "mm"}
"""The unit that stands in brackets."""

GRAMS_PER: Final[dict[str, float]] = {
    "g": 1.0,
    "kg": 1000.0,
    "oz": GRAMS_PER_POUND / 16.0,
    "lb": GRAMS_PER_POUND,
}
"""Ounces and pounds are avoirdupois."""

HEAVY: Final[dict[Unit, tuple[str, str]]] = {"mm": ("kg", "g"), "in": ("lb", "oz")}
"""Units of mass that go with lengths: for what is heavy, and for what is light."""

AREA_DIGITS: Final = 3
MASS_DIGITS: Final = 4
VOLUME_DIGITS: Final = 4
"""Significant digits: densities are known to three, the thickness of a kerf to two."""

_PLACE_DECIMALS: Final[dict[Unit, int]] = {"mm": 2, "in": 3}
"""Of a size at a glance, a place to look at, and a length in brackets: enough to compare."""

_PATH_DECIMALS: Final[dict[Unit, int]] = {"mm": 1, "in": 2}
"""Of a path's length; nobody measures one."""

_CM_PER_INCH: Final = MM_PER["in"] / 10.0


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
        """Unit of `value`."""
        return INSIDE[self.dimension]

    @property
    def values(self) -> tuple[float, ...]:
        """All numbers, one by one."""
        return self.value if isinstance(self.value, tuple) else (self.value,)

    @property
    def number(self) -> float:
        """The number; the first, if there are several."""
        return self.values[0]


Units = Literal["mm", "in", "both"]
"""What can be asked for; both is the job's own, and the other in brackets."""


def size_text(size: Iterable[float], unit: Unit) -> str:
    """Tell a size at a glance: lengths in mm, to hundredths of a mm or thousandths of an inch.

    >>> size_text((80.0, 40.0, 50.404), "mm"), size_text((25.4, 50.8, 12.7), "in")
    ('80 × 40 × 50.4 mm', '1 × 2 × 0.5 in')
    """
    return f"{' × '.join(_numbers(size, unit, _PLACE_DECIMALS[unit]))} {unit}"


def area_text(mm2: float, unit: Unit, digits: int = AREA_DIGITS) -> str:
    """Tell an area beside lengths of some unit.

    >>> area_text(1234.5, "mm"), area_text(26846.0, "mm"), area_text(1234.5, "in")
    ('1235 mm²', '268 cm²', '1.91 in²')
    """
    if unit == "mm" and mm2 >= _LARGE:
        return f"{figure(mm2 / _MM2_PER_CM2, digits)} cm²"
    return f"{figure(mm2 / MM_PER[unit] ** 2, digits)} {unit}²"


_LARGE: Final = 10_000.0
"""mm². From here on areas are told in cm²."""

_MM2_PER_CM2: Final = 100.0


def mass_unit(grams: float, unit: Unit) -> str:
    """Choose in what a mass is told beside lengths of some unit: g or kg, oz or lb.

    >>> mass_unit(999.0, "mm"), mass_unit(1000.0, "mm"), mass_unit(999.0, "in")
    ('g', 'kg', 'lb')
    """
    heavy, light = HEAVY[unit]
    return heavy if grams >= GRAMS_PER[heavy] else light


def mass_text(grams: float, unit: Unit) -> str:
    """Tell a mass beside lengths of some unit.

    >>> mass_text(117.534, "mm"), mass_text(2500.0, "mm"), mass_text(117.534, "in")
    ('117.5 g', '2.5 kg', '4.146 oz')
    """
    name = mass_unit(grams, unit)
    return f"{figure(grams / GRAMS_PER[name], MASS_DIGITS)} {name}"


def volume_text(mm3: float, unit: Unit, digits: int = VOLUME_DIGITS) -> str:
    """Tell a volume beside lengths of some unit.

    >>> volume_text(43531.2, "mm"), volume_text(510.0, "mm"), volume_text(16387.064, "in")
    ('43.53 cm³', '510 mm³', '1 in³')
    """
    name, factor = _volume_unit(mm3, unit)
    return f"{figure(mm3 / factor, digits)} {name}"


def _volume_unit(mm3: float, unit: Unit) -> tuple[str, float]:
    if unit == "in":
        return "in³", MM_PER["in"] ** 3
    return ("cm³", MM3_PER_CM3) if mm3 >= MM3_PER_CM3 else ("mm³", 1.0)


def density_text(g_cm3: float, unit: Unit) -> str:
    """Tell a density beside lengths of some unit.

    >>> density_text(2.7, "mm"), density_text(2.7, "in")
    ('2.7 g/cm³', '0.09754 lb/in³')
    """
    if unit == "mm":
        return f"{figure(g_cm3, 6, 6)} g/cm³"
    return f"{figure(pounds(g_cm3) * _CM_PER_INCH**3)} lb/in³"


def both(text: Callable[[T, Unit], str], value: T, unit: Unit) -> str:
    """Tell a value in a unit, and in brackets in the other.

    >>> both(mass_text, 453.59237, "in")
    '1 lb (453.6 g)'
    """
    return f"{text(value, unit)} ({text(value, OTHER[unit])})"


@dataclass(frozen=True)
class Scale:
    """Scale on which quantities are told: in a unit, or in both, the second in brackets.

    Parameters
    ----------
    unit : {"mm", "in"}
        Of lengths; masses go with it: g and kg, or oz and lb.
    both : bool
        Whether the other unit follows in brackets.
    """

    unit: Unit
    both: bool = False

    @classmethod
    def asked(cls, own: Unit, units: Units | None) -> Scale:
        """Choose a scale: what is asked for, or the job's own unit.

        >>> Scale.asked("in", None), Scale.asked("in", "both"), Scale.asked("in", "mm")
        (Scale(unit='in', both=False), Scale(unit='in', both=True), Scale(unit='mm', both=False))
        """
        return cls(own, both=True) if units == "both" else cls(units or own)

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
            "angle": self.angle,
            "share": percent,
            "count": figure,
        }
        return text[quantity.dimension](quantity.number)

    @property
    def units(self) -> tuple[Unit, ...]:
        """Every unit in which things are told, the first first."""
        return (self.unit, OTHER[self.unit]) if self.both else (self.unit,)

    def length(self, mm: float) -> str:
        """Tell a length.

        >>> Scale("mm").length(3.175), Scale("in", both=True).length(38.1)
        ('3.175 mm', '1.5 in (38.1 mm)')
        """
        return self.lengths([mm])

    def own(self, mm: float) -> str:
        """Tell a length in the first unit only.

        >>> Scale("in", both=True).own(25.4)
        '1 in'
        """
        return length_text(mm, self.unit)

    def lengths(self, mm: Iterable[float]) -> str:
        """Tell a size: several lengths with one unit.

        >>> Scale("mm", both=True).lengths([25.4, 50.8])
        '25.4 × 50.8 mm (1 × 2 in)'
        """
        return self._joined(" × ", [*mm])

    def span(self, low: float, high: float) -> str:
        """Tell from one length to another; once where they are the same.

        >>> Scale("mm").span(10.0, 20.0), Scale("mm").span(10.0, 10.00001)
        ('10 to 20 mm', '10 mm')
        """
        return self.length(high) if self.own(low) == self.own(high) else self.range([low, high])

    def range(self, mm: Sequence[float]) -> str:
        """Tell from where to where.

        >>> Scale("mm", both=True).range((10.0, 20.0))
        '10 to 20 mm (0.394 to 0.787 in)'
        """
        return self._joined(" to ", [*mm])

    def point(self, mm: Iterable[float]) -> str:
        """Tell a place to look at.

        >>> Scale("mm").point((40.0, 0.123456, 2.0)), Scale("mm", both=True).point((25.4, 0.0))
        ('(40, 0.12, 2) mm', '(25.4, 0) mm ((1, 0) in)')
        """

        def text(mm: Sequence[float], unit: Unit) -> str:
            return f"({', '.join(_numbers(mm, unit, _PLACE_DECIMALS[unit]))}) {unit}"

        return self._told(text, [*mm])

    def axes(self, mm: Iterable[float], names: str = "xyz") -> str:
        """Tell a point with the name of each axis.

        >>> Scale("mm").axes((40.0, 0.123456, 2.0)), Scale("in").axes((25.4, 0.0), "uv")
        ('x 40, y 0.123, z 2 mm', 'u 1, v 0 in')
        """
        return self._joined(", ", [*mm], [f"{name} " for name in names])

    def path(self, mm: float) -> str:
        """Tell the length of a path."""
        return self._told(lambda v, unit: f"{_number(v, unit, _PATH_DECIMALS[unit])} {unit}", mm)

    def area(self, mm2: float, digits: int = AREA_DIGITS) -> str:
        """Tell an area."""
        return self._told(lambda value, unit: area_text(value, unit, digits), mm2)

    def volume(self, mm3: float, digits: int = VOLUME_DIGITS) -> str:
        """Tell a volume."""
        return self._told(lambda value, unit: volume_text(value, unit, digits), mm3)

    def volume_within(self, mm3: float, error: float) -> str:
        """Tell a volume with a bound on its error: both to the same decimal.

        >>> Scale("mm").volume_within(43531.2, 4.12), Scale("mm").volume_within(98322.4, 0.0)
        ('43.5312 ± 0.0042 cm³', '98.3224 cm³')
        """
        if error <= 0.0:
            return self.volume(mm3, _EXACT)
        return self._told(
            lambda value, unit: _within(value, error, *_volume_unit(value, unit)), mm3
        )

    def mass(self, grams: float) -> str:
        """Tell a mass."""
        return self._told(mass_text, grams)

    def mass_within(self, grams: float, error: float) -> str:
        """Tell a mass with a bound on its error: both to the same decimal.

        >>> Scale("mm", both=True).mass_within(117.534, 0.0412), Scale("mm").mass_within(7.2, 0.0)
        ('117.534 ± 0.042 g (4.1459 ± 0.0015 oz)', '7.2 g')
        """
        if error <= 0.0:
            return self.mass(grams)

        def text(value: float, unit: Unit) -> str:
            name = mass_unit(value, unit)
            return _within(value, error, name, GRAMS_PER[name])

        return self._told(text, grams)

    def parcel(self, grams: float) -> str:
        """Tell a mass as carriers ask for it: in kg or lb whatever its size.

        >>> Scale("mm").parcel(453.59237), Scale("in", both=True).parcel(453.59237)
        ('0.4536 kg', '1 lb (0.4536 kg)')
        """

        def text(value: float, unit: Unit) -> str:
            name = HEAVY[unit][0]
            return f"{figure(value / GRAMS_PER[name], MASS_DIGITS)} {name}"

        return self._told(text, grams)

    def density(self, g_cm3: float) -> str:
        """Tell a density.

        >>> Scale("mm").density(2.7), Scale("in", both=True).density(2.7)
        ('2.7 g/cm³', '0.09754 lb/in³ (2.7 g/cm³)')
        """
        return self._told(density_text, g_cm3)

    def angle(self, degrees: float) -> str:
        """Tell an angle in tenths of a degree.

        >>> Scale("mm").angle(12.25), Scale("in").angle(30.0)
        ('12.3°', '30°')
        """
        return f"{fixed(degrees, 1)}°"

    def _told(self, text: Callable[[T, Unit], str], value: T) -> str:
        return both(text, value, self.unit) if self.both else text(value, self.unit)

    def _joined(self, between: str, mm: Sequence[float], names: Sequence[str] = ("",) * 3) -> str:
        """Join lengths with one unit; in brackets to fewer decimals, unless one is small."""

        def text(unit: Unit, decimals: int | None = None) -> str:
            told = map("".join, zip(names, _numbers(mm, unit, decimals), strict=False))
            return f"{between.join(told)} {unit}"

        if not self.both:
            return text(self.unit)
        other = OTHER[self.unit]
        decimals = _PLACE_DECIMALS[other]
        least = min((abs(value) / MM_PER[other] for value in mm if value), default=1.0)
        few = least >= 10.0 ** (2 - decimals)
        return f"{text(self.unit)} ({text(other, decimals if few else None)})"


_EXACT: Final = 6
"""Significant digits of what is exact for the outlines as drawn."""


def _number(mm: float, unit: Unit, decimals: int | None = None) -> str:
    most = MOST_DECIMALS[unit] if decimals is None else decimals
    return figure(mm / MM_PER[unit], LENGTH_DIGITS, most)


def _numbers(mm: Iterable[float], unit: Unit, decimals: int | None = None) -> list[str]:
    return [_number(float(value), unit, decimals) for value in mm]


def _within(value: float, error: float, name: str, factor: float) -> str:
    """Tell a value and the bound on its error, rounded up to two figures, so that it stays one."""
    more = error / factor
    decimals = max(0, decimals_of_bound(more))
    told, off = padded(value / factor, decimals), padded(rounded_up(more, decimals), decimals)
    return f"{told} ± {off} {name}"
