"""Walls that all but meet: nearer than anything that can be cut, further than rounding.

What is meant to coincide does so to a billionth of a millimetre. So the same outlines with
those places made equal say how many bodies there are.
"""

from __future__ import annotations

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.subtract import carve
from silhouette3d.process.cut import removal_of
from tests.support.shapes import many, profile, rect

STOCK = Stock((40.0, 40.0, 40.0))


def made(**outlines: shapely.Geometry) -> Solid:
    placed = [profile(view, many(area), STOCK) for view, area in outlines.items()]
    return carve(STOCK, [removal_of(one, STOCK) for one in placed])


def saddle(
    front: tuple[float, float], right: tuple[float, float], apart: float, off: float
) -> Solid:
    """A floor and a roof that rise through the middle at given slopes, before it and after.

    The floor lies below where x < 20, the roof below where y < 20, `apart` higher; the plan
    has a wall through their middle, `off` to one side. So where floor, roof and plan
    meet, what is left is parted, or hangs together by a neck.
    """
    (low, high), (first, last) = front, right
    floor = Polygon([(10, 20 - 10 * low), (20, 20), (29, 20 + 9 * high), (29, 39.5), (10, 39.5)])
    roof = Polygon(
        [
            (9, 0.5),
            (30, 0.5),
            (30, 20 + apart + 10 * last),
            (20, 20 + apart),
            (9, 20 + apart - 11 * first),
        ]
    )
    plan = Polygon([(1, 1 + off), (39.2, 1 + off), (39.2, 39.2 + off)])
    return made(front=floor, right=roof, top=plan)


@pytest.mark.parametrize("apart", [1e-9, 2e-9, 5e-9])
def test_a_neck_where_slopes_cross_is_none(apart: float) -> None:
    """Floor at a slope of 1:10, then 1:100, roof at 1:20: the neck would be 1e-8 mm wide."""
    assert len(saddle((0.1, 0.01), (0.05, 0.053), 0.0, 0.0).bodies) == 2
    assert len(saddle((0.1, 0.01), (0.05, 0.053), apart, 0.0).bodies) == 2


SLOPES = st.floats(-3.0, 0.2).map(lambda power: 10.0**power)
NEARLY = st.integers(-4, 4).map(lambda steps: steps * 1e-9)


@given(SLOPES, SLOPES, SLOPES, SLOPES, NEARLY, NEARLY)
def test_saddles(a: float, b: float, c: float, d: float, apart: float, off: float) -> None:
    expected = saddle((a, b), (c, d), 0.0, 0.0)
    found = saddle((a, b), (c, d), apart, off)
    assert len(found.bodies) == len(expected.bodies)
    # walls lie within 4e-9 mm of where they do there, and within 1e-7 if that is the copy
    assert found.volume == pytest.approx(expected.volume, abs=3e-7 * expected.surface_area)


@pytest.mark.parametrize("apart", [0.0, 1e-9, 4e-9, 9e-9])
@pytest.mark.parametrize("rise", [1.1e-7, 3e-7])
def test_a_sheet_between_floor_and_roof_is_none(apart: float, rise: float) -> None:
    """The floor rises next to nothing over 20 mm, the roof is level with its middle.

    In plan a slanted strip leads from the room below the roof to the one above the floor.
    """
    floor = [(2, 5), (10, 5), (10, 20 - rise), (20, 20), (30, 20 + rise)]
    floor += [(30, 5.5), (38, 5.5), (38, 39), (2, 39)]
    roof = [(1, 1), (37, 1), (37, 38), (20, 38), (20, 20 + apart), (1, 20 + apart)]
    strip = Polygon([(15.05, 10), (15.2, 10), (25.2, 30), (25.05, 30)])
    rooms = rect(2.5, 5.3, 15.2, 10), rect(25.05, 29.5, 39, 34)
    found = made(front=Polygon(floor), right=Polygon(roof), top=shapely.union_all([strip, *rooms]))
    assert len(found.bodies) == 2
