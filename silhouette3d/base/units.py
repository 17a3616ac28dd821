"""Millimetres and inches, and numbers as a person reads them."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal
from typing import Final, Literal

# --- Numbers as a person reads them: rounded as at school, no more digits than mean something
#
# Halves are rounded away from zero, and what counts as a half is decided on the decimal number
# that is meant: 3.175 is a half of a hundredth although the nearest binary number lies below it.


_SURE: Final = 12
"""Significant digits that are taken as meant; what stands behind them comes from rounding."""


def fixed(value: float, decimals: int) -> str:
    """Round to so many decimals and leave out zeros at the end.

    >>> fixed(3.175, 2), fixed(73.025, 2), fixed(-0.0004, 3), fixed(0.1 + 0.2, 6)
    ('3.18', '73.03', '0', '0.3')
    """
    meant = Decimal(f"{value:.{_SURE}g}").quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP)
    text = f"{meant:f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def padded(value: float, decimals: int) -> str:
    """Round to so many decimals and show them all.

    >>> padded(2.0, 2), padded(0.125, 2), padded(7.5, 0)
    ('2.00', '0.13', '8')
    """
    whole, _, rest = fixed(value, decimals).partition(".")
    return f"{whole}.{rest.ljust(decimals, '0')}" if decimals else whole


def figure(value: float, digits: int = 4, most: int | None = None) -> str:
    """Round to some significant digits; never a power of ten.

    Digits before the point are all kept; after it there are `most` at most.

    >>> figure(46955.0492593), figure(0.0123456789), figure(1234567.8), figure(-1e-12, 6, 6)
    ('46955', '0.01235', '1234568', '0')
    """
    size = math.floor(math.log10(abs(value))) if value else 0
    decimals = max(0, digits - 1 - size)
    return fixed(value, decimals if most is None else min(decimals, most))


def percent(share: float, decimals: int = 1) -> str:
    """Tell a share of the whole; one too small for its decimals is told as below the least.

    >>> percent(0.125), percent(0.00001), percent(0.0), percent(0.666, 0)
    ('12.5%', 'under 0.1%', '0%', '67%')
    """
    text = fixed(100.0 * share, decimals)
    if text == "0" and share > 0.0:
        return f"under {fixed(10.0**-decimals, decimals)}%"
    return f"{text}%"


def decimals_of_bound(value: float) -> int:
    """Count the decimals that a bound on an error needs to have two significant digits."""
    return 1 - math.floor(math.log10(value))


_ADDED: Final = 1e-12
"""Of a number: what rounding alone has added to it, which is not rounded up."""


def rounded_up(value: float, decimals: int) -> float:
    """Round a bound on an error so that it stays one.

    What rounding alone has added to a number of so many decimals is not rounded up.
    """
    unit = 10.0**decimals
    return math.ceil(value * unit * (1.0 - _ADDED)) / unit


# --- Millimetres and inches, pounds, and the units of a DXF drawing
#
# Inside, every length is in millimetres, every density in g/cm³ and every mass
# in grams. Only this module knows how that relates to anything else.


Unit = Literal["mm", "in"]

MM_PER: Final[dict[Unit, float]] = {"mm": 1.0, "in": 25.4}
"""Millimetres in one unit. The inch is exactly 25.4 mm (international inch, 1959)."""

LENGTH_DIGITS: Final = 6
MOST_DECIMALS: Final[dict[Unit, int]] = {"mm": 3, "in": 4}
"""Significant digits of a length that is told, and how many of them may be decimals."""

MM3_PER_CM3: Final = 1000.0
GRAMS_PER_POUND: Final = 453.59237
"""Exact: the international avoirdupois pound of 1959."""

CLOSE_GAP: Final = 0.05
"""mm. Ends of a drawing this near to each other are joined, and that is reported.
Common practice, no source: a tenth of a usual kerf."""

DXF_UNITS: Final[dict[int, tuple[str, float]]] = {
    1: ("inch", 25.4),
    2: ("foot", 304.8),
    3: ("mile", 1_609_344.0),
    4: ("millimetre", 1.0),
    5: ("centimetre", 10.0),
    6: ("metre", 1000.0),
    7: ("kilometre", 1e6),
    8: ("microinch", 2.54e-5),
    9: ("mil", 0.0254),
    10: ("yard", 914.4),
    11: ("ångström", 1e-7),
    12: ("nanometre", 1e-6),
    13: ("micrometre", 1e-3),
    14: ("decimetre", 100.0),
    15: ("decametre", 1e4),
    16: ("hectometre", 1e5),
    17: ("gigametre", 1e12),
    21: ("US survey foot", 1_200_000.0 / 3937.0),
    22: ("US survey inch", 100_000.0 / 3937.0),
    23: ("US survey yard", 3_600_000.0 / 3937.0),
    24: ("US survey mile", 5280 * 1_200_000.0 / 3937.0),
}
"""Millimetres per drawing unit for each code of the DXF header variable $INSUNITS.

Codes 18 to 20 (astronomical unit, light year, parsec) are left out on purpose:
no part is drawn in them. Code 0 means that the drawing states no unit."""


def pounds(grams: float) -> float:
    """Turn grams into avoirdupois pounds."""
    return grams / GRAMS_PER_POUND


def length_text(mm: float, unit: Unit) -> str:
    """Tell a length in the job's unit.

    >>> length_text(25.4, "in"), length_text(25.4, "mm"), length_text(3.175, "mm")
    ('1 in', '25.4 mm', '3.175 mm')
    """
    return f"{figure(mm / MM_PER[unit], LENGTH_DIGITS, MOST_DECIMALS[unit])} {unit}"
