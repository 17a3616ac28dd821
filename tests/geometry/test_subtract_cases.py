"""Carving, one degenerate case after the other: constructed here."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, affinity

from silhouette3d.geometry.frames import VIEWS, view_along
from silhouette3d.geometry.removal import Removal
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.subtract import Carving, carve
from silhouette3d.process.cut import removal_of
from tests.oracles.slices import Level, lattice_polygon
from tests.support.carving import BLOCK, cut
from tests.support.shapes import (
    CORNER_CUBES,
    SOUND,
    disc,
    many,
    profile,
    rect,
    solid,
)
from tests.support.views import HALF, LEVEL, OWN


def test_an_outline_equal_to_the_face_takes_nothing() -> None:
    whole = cut({v: rect(0, 0, *BLOCK.face(VIEWS[v]).size) for v in VIEWS})
    assert whole.volume == pytest.approx(80 * 40 * 50, rel=1e-12)
    assert whole.surface_area == pytest.approx(2 * (3200 + 4000 + 2000), rel=1e-12)


@pytest.mark.parametrize("past", [1e-9, 1e-3, 5.0, 1e4])
def test_an_outline_past_the_stock(past: float) -> None:
    """What lies off the stock is of no matter, however far it reaches."""
    made = cut({"front": rect(20, -past, 80 + past, 50 + past), "top": rect(-past, 0, 80, 30)})
    assert made.volume == pytest.approx(60 * 30 * 50, rel=1e-12)
    assert made.surface_area == pytest.approx(2 * (60 * 30 + 60 * 50 + 30 * 50), rel=1e-12)


def test_an_outline_off_the_stock_leaves_nothing() -> None:
    for area in (rect(-30, 0, 0, 50), rect(80, 0, 90, 50), rect(200, 200, 300, 300)):
        assert cut({"front": area}).bodies == ()


def test_a_hole_that_touches_the_side_of_its_outline() -> None:
    """A triangle with its tip on the lower side: two corners of material touch along a line."""
    area = Polygon([(0, 0), (80, 0), (80, 50), (0, 50)], [[(40, 0), (60, 30), (20, 30)]])
    made = cut({"front": area})
    assert made.volume == pytest.approx((4000 - 600) * 40, rel=1e-12)
    assert len(made.bodies) == 1


def test_an_outline_in_several_polygons() -> None:
    """Two of them touch in a corner, one lies apart, one is cut by the other view."""
    area = many(shapely.union_all([rect(0, 0, 20, 20), rect(20, 20, 40, 40), rect(60, 0, 80, 50)]))
    made = cut({"front": area, "right": rect(0, 0, 40, 30)})
    expected = [20 * 30 * 40, 20 * 20 * 40, 20 * 10 * 40]
    assert [b.volume for b in made.bodies] == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("width", "pieces"), [(0.0, 2), (1e-4, 1), (0.01, 1)])
def test_a_neck_that_has_no_width(width: float, pieces: int) -> None:
    made = cut({"front": two_blocks(width)})
    assert len(made.bodies) == pieces
    assert made.volume == pytest.approx(2 * 30 * 50 * 40 + 20 * width * 40, rel=1e-12)


def test_a_neck_thinner_than_the_proof_can_see_is_none() -> None:
    """It is gone, and all other walls are where they were drawn."""
    made = cut({"front": two_blocks(1e-8)})
    assert len(made.bodies) == 2
    assert made.volume == pytest.approx(2 * 30 * 50 * 40, rel=1e-12)
    assert made.surface_area == pytest.approx(2 * 2 * (30 * 50 + 30 * 40 + 50 * 40), rel=1e-12)


def two_blocks(clearance: float) -> MultiPolygon:
    """Two rectangles with a bridge of this width between them."""
    bridge = rect(30, 25 - clearance / 2, 50, 25 + clearance / 2)
    return many(shapely.union_all([rect(0, 0, 30, 50), rect(50, 0, 80, 50), bridge]))


def test_a_neck_of_two_tips() -> None:
    left, right = Polygon([(0, 0), (40, 25), (0, 50)]), Polygon([(80, 0), (80, 50), (40, 25)])
    made = cut({"front": MultiPolygon([left, right])})
    assert [b.volume for b in made.bodies] == pytest.approx([1000 * 40] * 2, rel=1e-12)


def test_cubes_that_touch_in_a_point() -> None:
    made = CORNER_CUBES.solid
    assert [b.volume for b in made.bodies] == pytest.approx([1000, 1000], rel=1e-12)


@settings(max_examples=20)
@given(st.integers(0, 10_000))
def test_front_and_rear_take_what_either_takes(seed: int) -> None:
    """The rear outline is the mirror image: both together are their intersection."""
    rng = np.random.default_rng(seed)
    front, rear = (
        affinity.scale(lattice_polygon(rng, 8, 5), 10, 6.25, origin=(0, 0)) for _ in range(2)
    )
    mirrored = affinity.scale(rear, -1, 1, origin=(40, 0))
    common = many(shapely.intersection(front, mirrored))
    made = cut({"front": front, "rear": rear})
    assert made.volume == pytest.approx(common.area * 40, rel=1e-9, abs=1e-6)
    assert made.surface_area == pytest.approx(2 * common.area + common.length * 40, abs=1e-3)


@pytest.mark.parametrize("width", [1.0, 20.0, 40 * math.sqrt(2) - 1, 40 * math.sqrt(2)])
def test_a_strip_across_the_corners(width: float) -> None:
    """A square block of side a seen at 45 degrees: two corners of leg a - w/√2 go."""
    stock, view = Stock((40.0, 40.0, 10.0)), OWN["corner"][0]
    middle = 40 * HALF
    strip = rect(middle - width / 2, 0, middle + width / 2, 10)
    made = solid(stock, [profile(view, strip, stock)])
    leg = 40 - width * HALF
    assert made.volume == pytest.approx((1600 - leg**2) * 10, rel=1e-9)


def test_an_octagon_from_two_views_across() -> None:
    """Strips of the block's own width at 45 and -45 degrees leave a regular octagon: 2(√2-1)a²."""
    stock = Stock((40.0, 40.0, 10.0))
    strip = rect(40 * HALF - 20, 0, 40 * HALF + 20, 10)
    views = [OWN["corner"][0], view_along((-1, 1, 0), (0, 0, 1), "other")]
    made = solid(stock, [profile(v, strip, stock) for v in views])
    assert made.volume == pytest.approx(2 * (math.sqrt(2) - 1) * 1600 * 10, rel=1e-9)
    assert len(made.bodies) == 1


def test_a_ball_of_six_views_is_that_of_three() -> None:
    """Discs from front and rear, left and right, top and bottom: each pair shares all walls."""
    stock = Stock((20.0, 20.0, 20.0))
    round_ = disc(10, 10, 10, 48)
    three = cut(dict.fromkeys(["front", "right", "top"], round_), stock)
    six = cut(dict.fromkeys(VIEWS, round_), stock)
    assert six.volume == pytest.approx(three.volume, rel=1e-9)
    assert six.surface_area == pytest.approx(three.surface_area, rel=1e-9)
    assert len(six.bodies) == 1


# Waste and its prisms.


def test_waste_reaches_past_the_stock() -> None:
    made = Removal(many(rect(10, 10, 20, 20)), VIEWS["front"]).prism(BLOCK)
    low, high = made.bounds
    assert low[1] < 0
    assert high[1] > 40
    assert made.volume == pytest.approx(100 * (high[1] - low[1]), rel=1e-12)


@pytest.mark.parametrize("distance", [1e-6, 0.1])
def test_grown_waste(distance: float) -> None:
    """A square grows on all sides with sharp corners; a hole in it shrinks by as much."""
    area = Polygon(rect(0, 0, 20, 20).exterior.coords, [rect(5, 5, 15, 15).exterior.coords])
    grown = Removal(many(area), VIEWS["top"]).grown(distance).area
    expected = (20 + 2 * distance) ** 2 - (10 - 2 * distance) ** 2
    assert grown.area == pytest.approx(expected, rel=1e-12)


def test_no_waste() -> None:
    assert carve(BLOCK, []).volume == pytest.approx(80 * 40 * 50, rel=1e-12)
    assert carve(BLOCK, [Removal(MultiPolygon(), VIEWS["top"])]).volume == pytest.approx(160_000)


@pytest.mark.parametrize("name", ["crossed bars", "discs"])
def test_any_of_the_wastes(name: str) -> None:
    """What is left after some of them is what carving with those alone leaves."""
    shape = SOUND[name]
    removals = [removal_of(p, shape.stock) for p in shape.profiles]
    carving = Carving(shape.stock, removals)
    for taken in ({0}, {1}, {0, 1}, set(), set(range(len(removals)))):
        alone = carve(shape.stock, [removals[i] for i in taken])
        assert carving.less(taken).volume == pytest.approx(alone.volume, rel=1e-12)
        assert carving.less(taken) is carving.less(taken)  # computed once


def test_carving_again() -> None:
    """What a changed waste had no part in is shared; all else is worked out anew."""
    shape = SOUND["crossed bars"]
    first, second = (removal_of(p, shape.stock) for p in shape.profiles[:2])
    other = Removal(many(rect(10, 10, 20, 20)), second.view)
    carving = Carving(shape.stock, [first, second])
    for taken in ({0}, {0, 1}):
        carving.less(taken)
    again = carving.again([first, other])
    assert again.less({0}) is carving.less({0})
    for taken, removals in (({1}, [other]), ({0, 1}, [first, other])):
        alone = carve(shape.stock, removals)
        assert again.less(taken).volume == pytest.approx(alone.volume, rel=1e-12)
    turned = carving.again([second, first])
    assert turned.less({0}).volume == pytest.approx(carving.less({1}).volume, rel=1e-12)
    more = carving.again([first, second, other])
    assert more.less({0, 1}) is carving.less({0, 1})
    assert more.less({0, 1, 2}).volume == pytest.approx(
        carve(shape.stock, [first, second, other]).volume, rel=1e-12
    )


def wavy(waves: int) -> Polygon:
    """A round shape of a thousand corners, 100 mm wide."""
    t = np.linspace(0, 2 * np.pi, 1000, endpoint=False)
    r = 42 * (1 + 0.1 * np.sin(waves * t + waves) + 0.02 * np.sin(37 * t))
    return Polygon(50 + np.column_stack([r * np.cos(t), r * np.sin(t)]))


def test_outlines_of_a_thousand_corners() -> None:
    """As large as real drawings get.

    Of two level outlines the volume is the integral of width times width, a
    quadratic between the heights of corners: two points of Gauss are exact.
    """
    stock = Stock((100.0, 100.0, 100.0))
    outlines = {"front": wavy(5), "right": wavy(7)}
    levels = [Level(LEVEL[view][1], many(area)) for view, area in outlines.items()]
    heights = np.unique(np.concatenate([level.edges[:, :, 1].ravel() for level in levels]))
    heights = heights[np.r_[True, np.diff(heights) > 1e-9]]
    exact = 0.0
    for low, high in pairwise(heights):
        for z in (low + high) / 2 + (high - low) / 2 * np.array([-1, 1]) / math.sqrt(3):
            one, other = (float(np.diff(level.crossings(z)).sum()) for level in levels)
            exact += (high - low) / 2 * one * other
    assert cut(outlines, stock).volume == pytest.approx(exact, rel=1e-9)

    outlines["top"] = wavy(9)
    made = cut(outlines, stock)
    assert len(made.bodies) == 1
    assert 0 < made.volume < exact
    for view, area in outlines.items():
        assert shapely.difference(made.shadow(VIEWS[view]), area).area <= 1e-6 * area.length
