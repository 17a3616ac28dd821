"""What one person should lift, and pounds.

Sources
-------
NIOSH
    T. R. Waters, V. Putz-Anderson, A. Garg, *Applications Manual for the Revised NIOSH Lifting
    Equation*, DHHS (NIOSH) Publication 94-110, revised September 2021,
    doi 10.26616/NIOSHPUB94110revised092021: the load constant, the heaviest load of the equation
    under the best conditions, is 23 kg (51 lb).
Pound
    The international avoirdupois pound is 0.45359237 kg exactly: NIST Special Publication 811,
    appendix B (Federal Register 24 FR 5348, 1959; both from memory).
"""

from __future__ import annotations

from pathlib import Path

import pytest

import silhouette3d
from silhouette3d.base.units import pounds
from tests.support.checking import advice, message
from tests.support.shapes import Shape, load, rect

LOAD_CONSTANT_KG, LOAD_CONSTANT_LB = 23, 51
KG_PER_LB = 0.45359237

SUMS = 1e-12
"""Relative. A few products in double precision."""


def block(folder: Path, grams: float, **more: object) -> silhouette3d.Part:
    """A block of this mass of which nothing is cut away: 100 × 100 mm, 20 g/cm³."""
    height = grams / 200.0
    shape = Shape((100, 100, height), {"top": rect(0, 0, 100, 100)}, 0.0, 0.0)
    return load(folder, shape, stock={"density": 20.0}, **more)


def warnings(part: silhouette3d.Part) -> list[silhouette3d.Finding]:
    return [finding for finding in part.findings if finding.code == "heavy-stock"]


@pytest.mark.parametrize(
    ("grams", "is_heavy"), [(22_999, False), (23_000, False), (23_001, True), (40_000, True)]
)
def test_stock_above_the_load_constant(tmp_path: Path, grams: float, is_heavy: bool) -> None:
    part = block(tmp_path, grams)
    assert part.stock_mass == pytest.approx(grams, rel=SUMS)
    assert len(warnings(part)) == is_heavy


def test_what_the_warning_says(tmp_path: Path) -> None:
    (finding,) = warnings(block(tmp_path, 25_000))
    assert finding.limit == LOAD_CONSTANT_KG * 1000
    assert finding.value == pytest.approx(25_000, rel=SUMS)
    assert f"{LOAD_CONSTANT_KG} kg ({LOAD_CONSTANT_LB} lb)" in message(finding)
    assert "NIOSH" in message(finding)
    assert "25 kg" in message(finding)
    assert f"{25 / KG_PER_LB:.2f} lb" in message(finding, "in")
    assert finding.severity == "warning"
    # what a person does about it, and that other rules may be stricter
    assert "second person or a hoist" in advice(finding)
    assert "local rules" in advice(finding)


def test_it_is_the_stock_that_is_lifted(tmp_path: Path) -> None:
    """A light part from a heavy block: the block comes first."""
    shape = Shape((100, 100, 2500), {"top": rect(0, 0, 10, 10)}, 0.0, 0.0)
    part = load(tmp_path, shape)
    assert part.mass == pytest.approx(250, rel=SUMS)
    assert len(warnings(part)) == 1


def test_the_load_constant_in_both_units() -> None:
    """51 lb is 23 kg to the pound: 50.7 lb."""
    assert round(LOAD_CONSTANT_KG / KG_PER_LB) == LOAD_CONSTANT_LB


def test_a_part_of_one_pound(tmp_path: Path) -> None:
    parcel = block(tmp_path, KG_PER_LB * 1000).measures.parcel(1)
    # the job holds the height in double precision
    assert pounds(parcel.net) == pytest.approx(1.0, rel=SUMS)
    assert parcel.net_kg == pytest.approx(KG_PER_LB, rel=SUMS)


def test_a_parcel_of_several_with_packing(tmp_path: Path) -> None:
    """Twelve of 250 g and 400 g of box: 3.4 kg."""
    parcel = block(tmp_path, 250).measures.parcel(12, packing=400)
    assert parcel.net_kg == pytest.approx(12 * 0.25, rel=SUMS)
    assert parcel.gross_kg == pytest.approx(12 * 0.25 + 0.4, rel=SUMS)
    assert pounds(parcel.net) == pytest.approx(12 * 0.25 / KG_PER_LB, rel=SUMS)
    assert pounds(parcel.gross) == pytest.approx((12 * 0.25 + 0.4) / KG_PER_LB, rel=SUMS)


def test_an_inch_cube_of_a_lb_per_cubic_inch(tmp_path: Path) -> None:
    """1 lb/in³ is 453.59237 / 2.54³ g/cm³: a cubic inch of it is a pound."""
    shape = Shape((1, 1, 1), {"top": rect(0, 0, 1, 1)}, 0.0, 0.0)
    part = load(
        tmp_path,
        shape,
        units="in",
        stock={"density": 0.1 * KG_PER_LB * 1000 / 2.54**3},
        profiles={"top": {"units": "in"}},
    )
    assert pounds(part.measures.parcel(10).net) == pytest.approx(1.0, rel=SUMS)
