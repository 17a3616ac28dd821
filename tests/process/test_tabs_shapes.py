"""Closed shapes on the tab layer: what they cover of the path stays."""

from __future__ import annotations

import math

import pytest
import shapely
from shapely import Polygon

from silhouette3d.drawing.model import Arc, Curve
from silhouette3d.errors import CuttingError
from silhouette3d.process.tabs import kept
from tests.process.test_tabs import SQUARE, STOCK, drawn, line
from tests.support.cut_jobs import cut_of
from tests.support.shapes import many, rect


def test_a_closed_shape_covers_the_path() -> None:
    """What it covers stays, so the cutter stops half a kerf before it on either side."""
    (tab,) = drawn(SQUARE, line((8, 20), (12, 20), (12, 23), (8, 23), closed=True)).tabs
    assert tab.at == pytest.approx((9.5, 21.5))
    assert tab.width == pytest.approx(3.0)
    assert tab.stretch.bounds == pytest.approx((9.5, 19.5, 9.5, 23.5))


def test_a_triangle_covers_what_lies_within() -> None:
    """Its slanted side is at 22 mm where the path runs."""
    (tab,) = drawn(SQUARE, line((8, 20), (11, 20), (8, 24), closed=True)).tabs
    assert tab.at == pytest.approx((9.5, 21.0))
    assert tab.width == pytest.approx(2.0)


def test_a_line_there_and_back_is_a_line() -> None:
    (tab,) = drawn(SQUARE, line((5, 25), (15, 25), closed=True)).tabs
    assert tab.at == pytest.approx((9.5, 25.0))
    assert tab.width == 2.0


def test_a_shape_that_covers_one_side_and_touches_another_with_a_corner_is_one_tab() -> None:
    (tab,) = drawn(SQUARE, line((8, 20), (30.5, 21.5), (8, 23), closed=True)).tabs
    assert tab.at == pytest.approx((9.5, 21.5))
    assert tab.width == pytest.approx(3.0 * 21.0 / 22.5)


def test_a_closed_shape_may_cover_several_stretches() -> None:
    tabs = drawn(SQUARE, line((8, 20), (32, 20), (32, 23), (8, 23), closed=True)).tabs
    assert [tab.width for tab in tabs] == pytest.approx([3.0, 3.0])


def test_a_circle_covers_what_lies_within() -> None:
    circle = Curve((Arc.circular((9.5, 25.0), 2.0),), "TABS")
    (tab,) = drawn(SQUARE, circle).tabs
    assert tab.width == pytest.approx(4.0, abs=0.05)


def test_a_shape_over_the_first_point_of_the_path_is_one_tab() -> None:
    bare = cut_of("front", SQUARE, STOCK)
    u, v = shapely.get_coordinates(bare.path)[0]
    corners = ((u - 2, v - 2), (u + 2, v - 2), (u + 2, v + 2), (u - 2, v + 2))
    (tab,) = drawn(SQUARE, line(*corners, closed=True)).tabs
    assert tab.stretch.geom_type == "LineString"
    assert 4.0 < tab.stretch.length < 4.0 + 1.0 + 0.5  # the corner is longer along the path
    first, last = tab.stretch.coords[0], tab.stretch.coords[-1]
    assert tab.width == pytest.approx(math.dist(first, last) - 1.0)


def test_what_stays_of_a_shape_is_what_it_covers() -> None:
    """Round corners and over the first point of the path, to the shape's own ends."""
    for corners in (
        [(8, 8), (13, 8), (13, 13), (8, 13)],
        [(8, 8), (10.5, 8), (10.5, 9.8), (8, 9.8)],
        [(28, 20), (32, 20), (32, 20.4), (28, 20.4)],
    ):
        cut = drawn(SQUARE, line(*corners, closed=True))
        (tab,) = cut.tabs
        covered = shapely.intersection(cut.path, Polygon(corners))
        assert shapely.hausdorff_distance(kept(cut, tab), shapely.line_merge(covered)) < 1e-6


def test_a_shape_over_the_end_of_a_narrow_slot_is_an_error() -> None:
    """Its sides are 1.5 mm apart, the cut's two ways half of that, and the kerf is 1 mm wide."""
    slot = shapely.difference(rect(5, 5, 35, 45), rect(19.25, 25, 20.75, 46))
    with pytest.raises(
        CuttingError, match=r"leaves nothing standing: .* 0\.5 mm apart and is 1 mm"
    ):
        drawn(many(slot), line((18, 24), (22, 24), (22, 28), (18, 28), closed=True))


def test_a_shape_that_crosses_itself_still_covers() -> None:
    bow = line((8, 20), (12, 24), (12, 20), (8, 24), closed=True)
    tabs = drawn(SQUARE, bow).tabs
    assert sum(tab.width for tab in tabs) == pytest.approx(1.0, abs=1e-9)  # 1.5 to 2.5 from a side


def test_a_shape_off_the_path_is_an_error() -> None:
    with pytest.raises(CuttingError) as caught:
        drawn(SQUARE, line((2, 20), (6, 20), (6, 23), (2, 23), closed=True))
    text = str(caught.value)
    assert "job.toml, profile 'front': LINE #2F on layer 'TABS' covers no stretch of a cut" in text
    assert "the nearest path, half a kerf beside its outline, is 3.5 mm off" in text
    assert "Draw it right across the outline and the kerf" in text


@pytest.mark.parametrize(
    ("tip", "told"),
    [
        ((9.5, 25), "0 mm off"),  # on the path
        ((9.5 + 4e-7, 25), "0 mm off"),  # through it on less than a millionth of a millimetre
        ((9.5 + 4e-6, 25), None),
        ((9, 25), "0.5 mm off"),
    ],
)
def test_a_shape_that_reaches_the_path_with_a_corner_only_covers_nothing(
    tip: tuple[float, float], told: str | None
) -> None:
    """It touches, so it is not said to touch nothing."""
    corner = line((5, 20), tip, (5, 30), closed=True)
    if told is None:
        (tab,) = drawn(SQUARE, corner).tabs
        assert tab.at == pytest.approx((9.5, 25.0))
        return
    with pytest.raises(CuttingError, match=f"covers no stretch of a cut: .* is {told}"):
        drawn(SQUARE, corner)


def test_a_shape_that_leans_on_the_outline_from_within_covers_nothing() -> None:
    """It touches the outline, but the path is half a kerf further out."""
    with pytest.raises(CuttingError, match=r"covers no stretch of a cut: .* is 0\.5 mm off"):
        drawn(SQUARE, line((10, 20), (14, 20), (14, 24), (10, 24), closed=True))


def test_a_shape_over_a_whole_cut_is_an_error() -> None:
    area = Polygon(rect(5, 5, 35, 45).exterior, [rect(18, 23, 22, 27).exterior])
    with pytest.raises(CuttingError, match="as long as the whole cut of 12 mm"):
        drawn(area, line((17, 22), (23, 22), (23, 28), (17, 28), closed=True))
