"""Quantities as a person reads them."""

from __future__ import annotations

import pytest

from silhouette3d.base.quantities import Quantity, Scale


def test_masses_take_the_unit_that_fits() -> None:
    mm, inch = Scale("mm"), Scale("in")
    assert (mm.mass(999.0), mm.mass(1500.0)) == ("999 g", "1.5 kg")
    # 453.59237 g are one pound of 16 ounces.
    assert (inch.mass(453.59237), inch.mass(453.59237 / 4)) == ("1 lb", "4 oz")
    assert inch.mass_within(453.59237, 4.5359237) == "1.000 ± 0.010 lb"
    assert mm.mass_within(1500.0, 15.0) == "1.500 ± 0.015 kg"


@pytest.mark.parametrize(
    ("quantity", "mm", "inches", "both"),
    [
        (Quantity(3.175, "length"), "3.175 mm", "0.125 in", "3.175 mm (0.125 in)"),
        (Quantity((73.025, 3.175), "length"), "73.025 × 3.175 mm", "2.875 × 0.125 in", None),
        (Quantity(645.16, "area"), "645 mm²", "1 in²", "645 mm² (1 in²)"),
        (Quantity(16387.064, "volume"), "16.39 cm³", "1 in³", "16.39 cm³ (1 in³)"),
        (Quantity(28.349523125, "mass"), "28.35 g", "1 oz", "28.35 g (1 oz)"),
        (Quantity(12.25, "angle"), "12.3°", "12.3°", "12.3°"),
        (Quantity(0.0004, "share"), "under 0.1%", "under 0.1%", "under 0.1%"),
        (Quantity(0.1235, "share"), "12.4%", "12.4%", "12.4%"),
        (Quantity(3.0, "count"), "3", "3", "3"),
    ],
    ids=lambda one: one.dimension if isinstance(one, Quantity) else "",
)
def test_every_kind_in_every_unit(
    quantity: Quantity, mm: str, inches: str, both: str | None
) -> None:
    assert Scale("mm")(quantity) == mm
    assert Scale("in")(quantity) == inches
    assert Scale("mm", both=True)(quantity) == (both or f"{mm} ({inches})")


def test_halves_of_the_last_place_that_is_shown() -> None:
    """A sixteenth of an inch is 1.5875 mm; both of these places end in a half of a hundredth."""
    assert Scale("mm").length(1.5875) == "1.588 mm"
    assert Scale("mm").point((3.175, 73.025, -3.175)) == "(3.18, 73.03, -3.18) mm"


def test_long_lengths_have_six_figures() -> None:
    assert Scale("mm").length(1219.2518) == "1219.25 mm"
    assert Scale("in").length(25.4 * 123.45678) == "123.457 in"
