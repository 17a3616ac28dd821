"""Loops that nearly coincide: a ring of next to nothing, or one loop drawn twice."""

from __future__ import annotations

import math

import pytest

from silhouette3d.drawing.model import FillRule, Shape
from tests.support.loops import SQUARE, arcs, circle, corners, lines, loop, outline
from tests.support.shapes import disc, rect

TOLERANCE = 0.01
"""Usual: loops within twice this of each other are taken as drawn twice."""


@pytest.mark.parametrize("apart", [0.021, 0.03, 0.049])
@pytest.mark.parametrize("radius", [10.0, 50.0])
def test_two_circles_that_count_as_two(apart: float, radius: float) -> None:
    found = outline(circle((0, 0), radius), circle((0, 0), radius + apart), tolerance=1e-3)
    (double,) = found.doubles
    assert not double.is_one
    assert double.apart == pytest.approx(apart, abs=2e-3)  # chords of both
    assert double.length == pytest.approx(2 * math.pi * radius, rel=1e-3)
    ring = math.pi * ((radius + apart) ** 2 - radius**2)
    assert double.area == pytest.approx(ring, abs=2e-3 * double.length)
    assert found.polygons.area == pytest.approx(ring, abs=found.area_error)
    assert radius - 1e-3 <= math.hypot(*double.at) <= radius + apart


@pytest.mark.parametrize("rule", ["evenodd", "nonzero"])
def test_a_filled_area_almost_on_a_circle(rule: FillRule) -> None:
    """As a hatch of a drawing program lies: 0.03 mm over the circle that bounds it."""
    hatch = Shape(circle((0, 0), 50.03).curves, rule)
    (double,) = outline(circle((0, 0), 50), hatch).doubles
    assert not double.is_one
    assert double.area == pytest.approx(math.pi * (50.03**2 - 50**2), rel=0.4)  # chords


@pytest.mark.parametrize(("apart", "told"), [(0.0, 0), (0.009, 0), (0.011, 1), (0.0199, 1)])
def test_two_circles_that_are_taken_as_one(apart: float, told: int) -> None:
    """Told where they are further apart than the tolerance; the bound counts either as meant."""
    found = outline(circle((0, 0), 10), circle((0, 0), 10 - apart))
    assert len(found.doubles) == told
    for double in found.doubles:
        assert double.is_one
        assert double.apart == pytest.approx(apart, abs=4e-4)  # a fiftieth of the tolerance
        between = math.pi * (100 - (10 - apart) ** 2)
        assert double.area == pytest.approx(between, abs=4e-4 * 2 * math.pi * 10)
    for meant in (math.pi * 100, math.pi * (10 - apart) ** 2):
        assert abs(found.polygons.area - meant) <= found.area_error


def test_one_circle_drawn_in_two_ways_is_no_two() -> None:
    """A circle, its two halves, and a polygon of a thousand sides."""
    halves = arcs((15, 15), 5, 0, 180, 360)
    polygon = loop(corners(disc(15, 15, 5, 1000)))
    assert outline(loop(SQUARE), circle((15, 15), 5), *halves, polygon).doubles == ()


@pytest.mark.parametrize(
    ("gap", "told"), [(0.0, 0), (0.019, 0), (0.03, 1), (0.0499, 1), (0.051, 0)]
)
def test_two_plates_beside_each_other(gap: float, told: int) -> None:
    """They share a side, nearly share it, or do not."""
    other = loop(corners(rect(30 + gap, 0, 60, 30)))
    found = outline(loop(SQUARE), other).doubles
    assert len(found) == told
    for double in found:
        assert double.length == pytest.approx(30.0, abs=0.1)
        assert double.area == pytest.approx(30.0 * gap, rel=0.01)
        assert double.at[0] == pytest.approx(30.0, abs=gap + 1e-9)


@pytest.mark.parametrize(
    "drawn",
    [
        [circle((0, 0), 100), circle((200, 0), 100)],
        [circle((0, 0), 100), circle((50, 0), 50)],
        [circle((0, 0), 10), circle((20.03, 0), 10)],
        [loop(SQUARE), loop([(30.03, 10), (40, 5), (40, 15)])],
        lines(SQUARE),
    ],
)
def test_what_touches_or_only_comes_near_is_none(drawn: list[Shape]) -> None:
    assert outline(*drawn).doubles == ()


@pytest.mark.parametrize(("length", "told"), [(0.9, 0), (1.1, 1)])
def test_along_less_than_a_millimetre_is_none(length: float, told: int) -> None:
    stub = loop(corners(rect(30.03, 10, 32, 10 + length)))
    assert len(outline(loop(SQUARE), stub).doubles) == told
