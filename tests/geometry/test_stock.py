"""The stock: its corners, its faces as seen in each view, and the straight-sided round bar."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.spatial import ConvexHull

from silhouette3d.geometry.frames import VIEWS, view_along
from silhouette3d.geometry.removal import stock_solid
from silhouette3d.geometry.stock import Stock

BLOCK = Stock((80.0, 40.0, 50.0))
lengths = st.floats(0.1, 1000.0)
directions = st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda d: np.linalg.norm(d) > 0.1)


# A block.


def test_a_block() -> None:
    stock = BLOCK
    assert stock.volume == 80 * 40 * 50
    assert stock.volume_error == 0
    assert stock.diagonal == math.sqrt(80**2 + 40**2 + 50**2)


def test_a_block_has_its_origin_at_the_front_lower_left() -> None:
    corners = {tuple(map(float, c)) for c in BLOCK.corners}
    assert corners == {(x, y, z) for x in (0.0, 80.0) for y in (0.0, 40.0) for z in (0.0, 50.0)}


@pytest.mark.parametrize(
    ("view", "size", "thickness"),
    [
        ("front", (80, 50), 40),
        ("rear", (80, 50), 40),
        ("left", (40, 50), 80),
        ("right", (40, 50), 80),
        ("top", (80, 40), 50),
        ("bottom", (80, 40), 50),
    ],
)
def test_faces_of_a_block(view: str, size: tuple[float, float], thickness: float) -> None:
    face = BLOCK.face(VIEWS[view])
    assert face.size == size
    assert face.thickness == thickness
    shadow = BLOCK.shadow(VIEWS[view])
    assert shadow.equals(shapely.box(0, 0, *size))


def test_a_block_seen_across_its_corner() -> None:
    """At 45 degrees a square of 40 mm is its diagonal wide and as deep."""
    face = Stock((40.0, 40.0, 50.0)).face(view_along((1, 1, 0), (0, 0, 1)))
    assert face.size == pytest.approx((40 * math.sqrt(2), 50), rel=1e-15)
    assert face.thickness == pytest.approx(40 * math.sqrt(2), rel=1e-15)


@given(st.tuples(lengths, lengths, lengths), directions, directions)
def test_a_face_is_the_bounding_rectangle_of_the_shadow(
    size: tuple[float, float, float], look: tuple, up: tuple
) -> None:
    assume(np.linalg.norm(np.cross(look, up)) > 0.01)
    stock, view = Stock(size), view_along(look, up)
    face = stock.face(view)
    seen = view.to_view(stock.corners)
    room = 1e-12 * stock.diagonal  # rounding of sums of three products
    low, high = seen.min(axis=0), seen.max(axis=0)
    assert np.allclose(face.corner, low[:2], rtol=0, atol=room)
    assert np.allclose(face.size, (high - low)[:2], rtol=0, atol=room)
    assert np.allclose(face.depth, (low[2], high[2]), rtol=0, atol=room)
    hull = ConvexHull(seen[:, :2])
    shadow = stock.shadow(view)
    assert shadow.area == pytest.approx(hull.volume, rel=1e-9)  # scipy calls a 2D area volume
    assert np.allclose(shadow.bounds, (0, 0, *face.size), rtol=0, atol=room)


# A round bar.


@pytest.mark.parametrize(
    ("along", "size"), [("x", (60, 40, 40)), ("y", (40, 60, 40)), ("z", (40, 40, 60))]
)
def test_a_bar_along_each_axis(along: str, size: tuple[float, float, float]) -> None:
    stock = Stock.bar(40, 60, along)
    assert stock.size == size
    assert stock.length == 60
    assert stock.volume == pytest.approx(math.pi / 4 * 40**2 * 60, rel=1e-15)
    # the straight-sided bar stays inside the block and touches all its sides
    assert stock.corners.min(axis=0).tolist() == [0, 0, 0]
    assert stock.corners.max(axis=0).tolist() == list(size)


@given(st.floats(0.5, 500), st.floats(1e-4, 1.0))
def test_sides_of_a_bar_keep_the_tolerance(diameter: float, tolerance: float) -> None:
    stock = Stock.bar(diameter, 10, "z", tolerance)
    r = diameter / 2
    ring = np.vstack([stock.section, stock.section[:1]]) - r
    rounding = 1e-12 * diameter
    assert np.allclose(np.hypot(*ring.T), r, rtol=0, atol=rounding)
    middles = (ring[1:] + ring[:-1]) / 2
    assert r - np.hypot(*middles.T).min() <= tolerance + rounding
    assert len(stock.section) % 4 == 0
    # four sides fewer would not do, unless there are only four
    fewer = len(stock.section) - 4
    if fewer:
        assert r * (1 - math.cos(math.pi / fewer)) > tolerance - rounding


@given(st.floats(0.5, 500), st.floats(1e-4, 1.0))
def test_the_error_of_a_bar_is_what_its_sides_cut_off(diameter: float, tolerance: float) -> None:
    """A regular polygon of n sides has n/2 r² sin(2π/n)."""
    stock = Stock.bar(diameter, 10, "x", tolerance)
    n = len(stock.section)
    polygon = n / 2 * (diameter / 2) ** 2 * math.sin(2 * math.pi / n)
    exact = (math.pi / 4 * diameter**2 - polygon) * 10
    assert stock.volume_error == pytest.approx(exact, abs=1e-12 * stock.volume)
    assert stock_solid(stock).volume == pytest.approx(stock.volume - exact, rel=1e-12)


@pytest.mark.parametrize("tolerance", [1e-12, 1e-15, 1e-300])
def test_a_bar_has_a_largest_number_of_sides(tolerance: float) -> None:
    assert len(Stock.bar(40, 60, "z", tolerance).section) == 100_000


def test_a_coarse_bar_is_a_square() -> None:
    assert len(Stock.bar(2, 60, "z", 5.0).section) == 4


@pytest.mark.parametrize("along", "xyz")
def test_faces_of_a_bar(along: str) -> None:
    stock = Stock.bar(40, 60, along)
    for name, view in VIEWS.items():
        face = stock.face(view)
        ends = abs(np.array(view.look)["xyz".index(along)]) == 1
        assert sorted(face.size) == ([40, 40] if ends else [40, 60])
        assert face.thickness == (60 if ends else 40)
        shadow = stock.shadow(view)
        assert shadow.bounds == pytest.approx((0, 0, *face.size), abs=1e-12), name
        if ends:
            sides = len(stock.section)
            expected = sides / 2 * 20**2 * math.sin(2 * math.pi / sides)
            assert shadow.area == pytest.approx(expected, rel=1e-12)
        else:
            assert shadow.area == pytest.approx(40 * 60, rel=1e-12)


@given(directions)
def test_the_extent_of_a_bar_is_that_of_the_true_cylinder(direction: tuple) -> None:
    """Half the length times the cosine plus the radius times the sine, to either side."""
    stock = Stock.bar(40, 60, "y", 0.001)
    d = np.array(direction) / np.linalg.norm(direction)
    half = 30 * abs(d[1]) + 20 * math.hypot(d[0], d[2])
    middle = np.array([20, 30, 20]) @ d
    assert stock.extent(d) == pytest.approx((middle - half, middle + half), abs=1e-12)
    # its straight sides reach as far but for the tolerance
    along = stock.corners @ d
    assert middle + half - along.max() == pytest.approx(0, abs=0.001)
    assert along.max() <= middle + half + 1e-12


@pytest.mark.parametrize("along", "xyz")
def test_the_section_turns_left_seen_against_the_axis(along: str) -> None:
    stock = Stock.bar(40, 60, along)
    view = stock.axis_view
    assert shapely.LinearRing(stock.section).is_ccw
    assert np.negative(view.look).tolist() == np.eye(3)["xyz".index(along)].tolist()
    flat = view.to_view(stock.corners)
    assert np.allclose(flat[: len(stock.section), :2], stock.section, rtol=0, atol=1e-12)
    assert set(flat[:, 2]) == {0.0, 60.0}
