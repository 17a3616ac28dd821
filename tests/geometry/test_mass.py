"""Mass, centre and inertia of one body against closed forms, and what a parcel weighs."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import Polygon

from silhouette3d.base.units import pounds
from silhouette3d.geometry.frames import VIEWS
from silhouette3d.geometry.mass import MassProperties, Parcel
from silhouette3d.geometry.solid import Solid
from tests.support.shapes import rect

# Sums of some dozen products in double precision.
EXACT = 1e-12


def test_a_box_away_from_the_corner() -> None:
    """m/12 (b² + c²) about each axis: any handbook of mechanics, from memory."""
    a, b, c = 20.0, 30.0, 50.0
    made = Solid.prism(rect(7, 3, 7 + a, 3 + b), VIEWS["top"], (11.0, 11.0 + c))
    found = MassProperties(made, 2.5, volume_error=40.0)
    mass = a * b * c * 2.5 / 1000.0
    assert found.volume == pytest.approx(a * b * c, rel=EXACT)
    assert found.mass == pytest.approx(mass, rel=EXACT)
    assert found.mass_error == pytest.approx(0.1, rel=EXACT)
    assert found.centre == pytest.approx([17.0, 18.0, 36.0], rel=EXACT)
    expected = mass / 12.0 * np.diag([b**2 + c**2, a**2 + c**2, a**2 + b**2])
    assert found.inertia == pytest.approx(expected, rel=EXACT, abs=EXACT * mass * 50**2)


def test_products_of_inertia_of_a_wedge() -> None:
    """A right triangle of legs p, q has ∫ u v dA about its centroid = −p² q² / 72 (from memory)."""
    p, q, height = 30.0, 12.0, 8.0
    made = Solid.prism(Polygon([(0, 0), (p, 0), (0, q)]), VIEWS["top"], (0.0, height))
    found = MassProperties(made, 1.0).inertia
    # the tensor holds minus the integral
    assert found[0, 1] == pytest.approx(p**2 * q**2 / 72.0 * height / 1000.0, rel=EXACT)
    assert found[1, 0] == found[0, 1]
    assert found[0, 2] == pytest.approx(0.0, abs=EXACT * found[0, 1] * 100)


def test_a_parcel() -> None:
    made = Solid.prism(rect(0, 0, 10, 10), VIEWS["top"], (0.0, 10.0))
    parcel = MassProperties(made, 7.85).parcel(12, 150.0)
    assert parcel.net == pytest.approx(94.2)
    assert parcel.gross == pytest.approx(244.2)
    assert parcel.net_kg == pytest.approx(0.0942)
    assert parcel.gross_kg == pytest.approx(0.2442)
    # 1 lb = 453.59237 g exactly (NIST Special Publication 811, appendix B)
    assert pounds(parcel.net) == pytest.approx(94.2 / 453.59237)
    assert pounds(parcel.gross) == pytest.approx(244.2 / 453.59237)


def test_a_parcel_of_one_without_packing() -> None:
    assert Parcel(94.2).gross == Parcel(94.2).net == 94.2
    made = Solid.prism(rect(0, 0, 10, 10), VIEWS["top"], (0.0, 10.0))
    assert MassProperties(made, 7.85).mass_error == 0.0
    assert MassProperties(made, 7.85).parcel(2).gross == pytest.approx(15.7)
