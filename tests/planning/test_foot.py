"""A foot to hold the part by until it is parted off."""

from __future__ import annotations

import math

import pytest
import shapely
from shapely.affinity import rotate

from silhouette3d.geometry.frames import View, view_along
from silhouette3d.geometry.stock import Stock
from silhouette3d.planning.foot import LEAST_FOOT, foot_for
from tests.support.cut_jobs import LIMITS, cut_of, cutting_of
from tests.support.shapes import rect

BAR = Stock((40.0, 40.0, 60.0), diameter=40.0)


def at(angle: float) -> View:
    """A view across the bar, turned by degrees about it."""
    turn = math.radians(angle)
    return view_along((-math.cos(turn), -math.sin(turn), 0.0), (0.0, 0.0, 1.0))


def test_odd_angles_on_a_bar() -> None:
    """Three cuts 52 and 65 degrees apart: the bar is clamped by its end, 1 kerf and 10 mm long."""
    cuts = [
        cut_of(at(angle), rect(20 - half, 5, 20 + half, 55), BAR, name=f"at {angle:.0f}")
        for angle, half in ((0.0, 12.0), (52.0, 10.0), (117.0, 11.0))
    ]
    found = foot_for(cutting_of(cuts), [0, 1, 2], LIMITS, clear_offcuts=True)
    assert found is not None
    assert found.side == "bottom"
    assert found.length == pytest.approx(1.0 + LEAST_FOOT)
    assert found.longer == pytest.approx(1.0 + LEAST_FOOT - 5.0)
    assert found.order == (0, 1, 2)
    assert set(found.clamp) == {"bottom"}
    # what both early cuts leave of the bar right under the part, two strips that cross in it;
    # the bar's flat sides and the shifts of cells are within 0.01 mm of some 90 mm of border
    middle = shapely.Point(20, 20)
    strips = [
        rotate(rect(-20, 20 - half, 60, 20 + half), angle, origin=middle)
        for angle, half in ((0.0, 12.0), (52.0, 10.0))
    ]
    section = shapely.intersection_all([middle.buffer(20.0, quad_segs=200), *strips])
    assert found.hold == pytest.approx(section.area, abs=90 * 0.01)


def test_where_stock_is_left_over_it_need_not_be_longer() -> None:
    stock = Stock((40.0, 40.0, 60.0))
    cuts = [cut_of("front", rect(8, 5, 32, 40), stock), cut_of("right", rect(10, 5, 30, 40), stock)]
    found = foot_for(cutting_of(cuts), [0, 1], LIMITS, clear_offcuts=True)
    assert found is not None
    assert (found.side, found.longer) == ("top", 0.0)
    assert found.length == pytest.approx(20.0)
    assert set(found.clamp) == {"top"}


def test_the_cut_that_ends_the_part_there_is_the_last() -> None:
    """The first cut listed ends it above and below, so that one must come last."""
    stock = Stock((40.0, 40.0, 60.0))
    cuts = [
        cut_of("front", rect(8, 10, 32, 50), stock),
        cut_of("right", rect(10, 6, 30, 54), stock),
    ]
    found = foot_for(cutting_of(cuts), [0, 1], LIMITS, clear_offcuts=True)
    assert found is not None
    assert found.order == (1, 0)


def test_none_along_an_axis_that_a_cut_looks_along() -> None:
    stock = Stock((40.0, 40.0, 60.0))
    cuts = [
        cut_of(view, rect(8, 8, 32, 32), stock, name=view) for view in ("front", "right", "top")
    ]
    assert foot_for(cutting_of(cuts), [0, 1, 2], LIMITS, clear_offcuts=True) is None
