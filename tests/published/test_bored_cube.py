"""A cube bored through along one, two and three axes.

Sources
-------
What two and three bores share are the Steinmetz solids: E. W. Weisstein, "Steinmetz Solid",
MathWorld, https://mathworld.wolfram.com/SteinmetzSolid.html: 16/3 r³ and 8 (2 − √2) r³. The rest is
inclusion and exclusion. For inscribed n-gons, n a multiple of eight, both shrink by cos²(π/n), as
is derived where those solids themselves are tested.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from tests.published.drawn import (
    Circle,
    Known,
    Loop,
    Ngon,
    Outlines,
    assert_exact,
    assert_within_bound,
    holes,
    load,
    rectangle,
    tolerance_for,
)

BORE, HALF = 10.0, 20.0
CUBE = (2 * HALF, 2 * HALF, 2 * HALF)
BORED: list[Loop] = [rectangle(0, 0, 2 * HALF, 2 * HALF), Circle(HALF, HALF, BORE)]
VIEWS = ("front", "right", "top")


@pytest.mark.parametrize("n", [16, 64, 360])
@pytest.mark.parametrize(("bored", "genus"), [(1, 1), (2, 3), (3, 5)])
def test_a_bored_cube(tmp_path: Path, n: int, bored: int, genus: int) -> None:
    """Holes that cross share two cylinders' solid, pair by pair, and three cylinders' all three."""
    outlines: Outlines = dict.fromkeys(VIEWS[:bored], BORED)
    part = load(tmp_path, CUBE, outlines, tolerance=tolerance_for(n, BORE))
    two, three = 16.0 / 3.0 * BORE**3, 8.0 * (2.0 - math.sqrt(2.0)) * BORE**3

    def volume(disc: float, shrunk: float) -> float:
        shared = {1: 0.0, 2: two, 3: 3.0 * two - three}[bored] * shrunk**2
        return 8.0 * HALF**3 - bored * disc * 2.0 * HALF + shared

    exact = volume(Ngon(n, BORE).area, math.cos(math.pi / n))
    assert_exact(part, Known(exact, centre=(HALF, HALF, HALF)))
    assert_within_bound(part, Known(volume(math.pi * BORE**2, 1.0), centre=(HALF, HALF, HALF)))
    assert holes(part) == genus
