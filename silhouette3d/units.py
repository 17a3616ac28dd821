"""Millimetres and inches, and tolerances with names.

Inside, every length is in millimetres, every density in g/cm³ and every mass
in grams. Only this module knows how that relates to anything else.
"""

from __future__ import annotations

from typing import Final, Literal

from silhouette3d.number import figure

Unit = Literal["mm", "in"]

MM_PER: Final[dict[Unit, float]] = {"mm": 1.0, "in": 25.4}
"""Millimetres in one unit. The inch is exactly 25.4 mm (international inch, 1959)."""

LENGTH_DIGITS: Final = 6
MOST_DECIMALS: Final[dict[Unit, int]] = {"mm": 3, "in": 4}
"""Significant digits of a length that is told, and how many of them may be decimals."""

MM3_PER_CM3: Final = 1000.0
GRAMS_PER_POUND: Final = 453.59237
"""Exact: the international avoirdupois pound of 1959."""

GRID: Final = 1e-9
"""mm. Placed outlines are rounded to this, so that numbers which mean the same are the same."""

MERGE: Final = 1e-6
"""mm. Two points of a drawing nearer than this are one point."""

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
    """Mass in avoirdupois pounds."""
    return grams / GRAMS_PER_POUND


def length_text(mm: float, unit: Unit) -> str:
    """Tell a length in the job's unit.

    >>> length_text(25.4, "in"), length_text(25.4, "mm"), length_text(3.175, "mm")
    ('1 in', '25.4 mm', '3.175 mm')
    """
    return f"{figure(mm / MM_PER[unit], LENGTH_DIGITS, MOST_DECIMALS[unit])} {unit}"
