"""Tiny loops in which an outline crosses itself: cut off, told, and counted as an error."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from silhouette3d.base.units import CLOSE_GAP
from silhouette3d.drawing.model import Bezier, Curve, FillRule, Line, Shape
from silhouette3d.drawing.outline.loops import without_self_crossings
from tests.support.loops import Points, loop, outline, path, refused, turned


def past(by: float) -> Points:
    """A square whose last side goes past the first by some length, and then straight back."""
    return [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.01, 10.0), (0.01, -by)]


def inscribed(legs: Points) -> float:
    """Diameter of the incircle of a triangle: 4 A / P (Euclid IV.4)."""
    triangle = Polygon(legs)
    return 4.0 * triangle.area / triangle.length


def test_a_side_that_goes_a_little_too_far() -> None:
    drawn = outline(loop(past(0.02)))
    assert drawn.polygons.equals(Polygon([(0.01, 0), (10, 0), (10, 10), (0.01, 10)]))
    width = inscribed([(0, 0), (0.01, 0), (0.01, -0.02)])
    assert drawn.notes == (
        "cut off 1 knot where lines cross beside their ends, "
        f"the widest {width:.2g} mm wide and 0.02 mm long at (0.01, 0)",
    )
    assert drawn.area_error >= 0.01 * 0.02 / 2.0  # the triangle that was cut off


def wide(width: float, reach: float) -> Points:
    """A square whose last side ends in a triangle below the first."""
    return [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (width, 10.0), (width, -reach), (0.0, -1e-9)]


def wide_by(diameter: float, reach: float) -> float:
    """Foot of a right triangle of some height that holds a disc of some diameter.

    From diameter = a + b - c of a right triangle: a (2 b - 2 d) = d (2 b - d).
    """
    return diameter * (2.0 * reach - diameter) / (2.0 * reach - 2.0 * diameter)


@pytest.mark.parametrize("reach", [0.2, 3.0, 40.0])
def test_a_knot_is_judged_by_its_width_and_not_its_reach(reach: float) -> None:
    below, above = (wide_by(CLOSE_GAP * share, reach) for share in (0.99, 1.01))
    drawn = outline(loop(wide(below, reach)))
    assert drawn.polygons.area == pytest.approx(10.0 * (10.0 - below))
    assert drawn.area_error >= below * reach / 2.0
    assert f"{reach:g} mm long" in drawn.notes[0]
    assert "crosses itself at (" in refused(loop(wide(above, reach))).what


def test_a_line_that_runs_back_along_itself_but_not_quite() -> None:
    """As programs round: 0.15 mm beyond the start, and back 0.0002 mm beside it."""
    points = [(20.0, 0.0), (40.0, 0.0), (40.0, 30.0), (0.0, 30.0), (0.0, 0.0)]
    points += [(20.15, 0.0), (20.15, 0.0001), (20.0, -0.0001)]
    for degrees in (0.0, 33.0, 45.0, 90.0, 181.0):
        drawn = outline(loop(turned(points, degrees)))
        assert drawn.polygons.area == pytest.approx(1200.0, abs=0.15 * 0.0002)
        assert drawn.notes


@given(st.floats(0.002, 8.0), st.floats(0.0, 360.0), st.integers(0, 4))
def test_at_any_place_and_turn(by: float, degrees: float, first: int) -> None:
    points = past(by)
    drawn = outline(loop(turned(points[first:] + points[:first], degrees)))
    assert abs(drawn.polygons.area - 99.9) < 1e-6  # a side of 10 mm, twice, rounded to 1e-9 mm
    assert len(drawn.notes) == 1


def test_a_little_loop_the_other_way_round_is_cut_off_too() -> None:
    """The line turns round once more where it should have turned a corner."""
    points = [(0, 0), (10, 0), (10.0, 9.99), (9.99, 10.01), (9.98, 10.0), (10.01, 9.995), (0, 10)]
    drawn = outline(loop(points))
    assert drawn.notes[0].startswith("cut off ")
    assert drawn.polygons.area == pytest.approx(100.0, abs=0.2)


def test_in_a_filled_path() -> None:
    rules: tuple[FillRule, ...] = ("evenodd", "nonzero")
    for rule in rules:
        drawn = outline(path(past(0.02), fill=rule))
        assert drawn.polygons.area == pytest.approx(99.9)


@pytest.mark.parametrize("count", [3, 100, 101])
def test_a_loop_full_of_knots(count: int) -> None:
    """A zigzag ribbon with a knot in each tooth; more than a hundred were never an outline."""
    points: Points = []
    for i in range(count):
        points += [(i, 0.0), (i + 0.5, 1.0), (i + 0.51, 1.01), (i + 0.49, 1.01), (i + 0.5, 0.99)]
    points += [(float(count), 0.0), (float(count), -5.0), (0.0, -5.0)]
    rest, knots, crossing = without_self_crossings(np.array(points), "a.dxf")
    assert len(knots) == min(count, 100)
    assert (crossing is not None) == (count > 100)
    if crossing is None:
        assert Polygon(rest).is_valid
        assert math.isclose(Polygon(rest).area, 5.5 * count, rel_tol=0.01)  # teeth of 0.5 mm²


def test_a_line_out_and_back_whose_ends_miss_by_rounding() -> None:
    """It goes round nothing; that it crosses itself all along is none of its faults."""
    start, end = (8.992, 26.024), (15.21, 12.523)
    far = (11.064666666666668, 21.523666666666664)  # two thirds of the way back, but for rounding
    bent = Curve((Bezier(start, start, far, end), Line(end, start)), "0", "path")
    for rule in ("evenodd", "nonzero"):
        assert "no closed outline" in refused(Shape((bent,), rule)).what
