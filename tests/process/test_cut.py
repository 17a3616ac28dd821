"""One cut seen from above: path, kerf, what stays in corners."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point, Polygon

from silhouette3d.geometry.frames import VIEWS, view_along
from silhouette3d.geometry.polygons import polygons_of
from silhouette3d.geometry.stock import Stock
from silhouette3d.process.cut import Cut
from tests.support.cut_jobs import cut_of, random_job, stages_of, volumes
from tests.support.shapes import disc, many, rect

STOCK = Stock((40.0, 30.0, 50.0))
BIG = Stock((200.0, 200.0, 200.0))
FINE = 1e-3
"""mm, tolerance of cuts that are compared with true circles."""


def far_from_zero(area: shapely.Geometry, room: float) -> bool:
    """Whether an area is more than a strip of some width along its boundary can hold."""
    return bool(shapely.area(area) > room * shapely.length(area))


@st.composite
def outlines(draw: st.DrawFn) -> Polygon:
    """Any polygon of 3 to 8 corners round (20, 25), on a grid of 0.1 mm, some with a hole."""
    count = draw(st.integers(3, 8))
    reach = draw(st.lists(st.integers(30, 140), min_size=count, max_size=count))
    t = np.arange(count) * 2.0 * math.pi / count + draw(st.floats(0.0, 1.5))
    flat = np.column_stack([np.cos(t), np.sin(t)]) * np.array(reach)[:, None] / 10.0
    area = Polygon(np.round(np.array([20.0, 25.0]) + flat, 1))
    if draw(st.booleans()):
        hole = rect(19, 24, 19 + draw(st.integers(2, 20)) / 10.0, 25)
        if shapely.contains_properly(area, hole):
            area = Polygon(area.exterior, [hole.exterior])
    return area


kerfs = st.integers(1, 30).map(lambda k: k / 10.0)


# --- the path ----------------------------------------------------------------------------------


def test_the_path_runs_half_a_kerf_outside_an_outline() -> None:
    cut = cut_of("front", rect(10, 10, 30, 40), STOCK, kerf=1.0, tolerance=FINE)
    assert shapely.bounds(cut.path) == pytest.approx((9.5, 9.5, 30.5, 40.5))
    # four sides and a circle round the corners, whose polygon is shorter by a few millionths
    assert shapely.length(cut.path) == pytest.approx(2 * (20 + 30) + math.pi * 1.0, rel=1e-4)


def test_a_hole_is_cut_on_its_inside() -> None:
    outer, hole = rect(5, 5, 35, 45), rect(10, 10, 30, 40)
    cut = cut_of("front", Polygon(outer.exterior, [hole.exterior]), STOCK, kerf=1.0)
    inner = min(shapely.get_parts(cut.path), key=lambda line: line.length)
    assert inner.bounds == pytest.approx((10.5, 10.5, 29.5, 39.5))
    assert inner.length == pytest.approx(2 * (19 + 29))  # inside corners of the path are sharp
    assert shapely.area(shapely.intersection(cut.removed, cut.profile.area)) == 0.0


@given(outlines(), kerfs)
def test_every_point_of_the_path_is_half_a_kerf_off(area: Polygon, kerf: float) -> None:
    cut = cut_of("front", area, STOCK, kerf=kerf)
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(cut.path, 0.3)))
    off = shapely.distance(area, points)
    # corners lie on the circle, chords inside it; the grid moves neither by more than 1e-8
    assert off.max() <= kerf / 2.0 + 1e-8
    assert off.min() >= kerf / 2.0 - cut.tolerance - 1e-8


@given(outlines(), kerfs)
def test_what_is_removed_is_the_path_grown_by_half_a_kerf(area: Polygon, kerf: float) -> None:
    cut = cut_of("front", area, STOCK, kerf=kerf)
    disc_swept = shapely.buffer(cut.path, kerf / 2.0, quad_segs=64)
    # path and disc are each off by a tolerance; twice that may stay in a hollow
    room = 4.0 * cut.tolerance
    assert not far_from_zero(shapely.difference(cut.band, shapely.buffer(disc_swept, room)), 1e-6)
    assert not far_from_zero(shapely.difference(shapely.buffer(disc_swept, -room), cut.band), 1e-6)


@given(outlines(), kerfs)
def test_the_part_as_cut_is_the_outline_closed_by_a_disc(area: Polygon, kerf: float) -> None:
    cut = cut_of("front", area, STOCK, kerf=kerf)
    closed = shapely.buffer(
        shapely.buffer(area, kerf / 2.0, quad_segs=64), -kerf / 2.0, quad_segs=64
    )
    room = 4.0 * cut.tolerance
    assert shapely.covers(shapely.buffer(cut.as_cut, 1e-8), area)
    assert shapely.covers(shapely.buffer(closed, room), cut.as_cut)
    assert shapely.covers(shapely.buffer(cut.as_cut, room), closed)


@given(outlines(), kerfs)
def test_kept_and_removed_share_nothing_and_fill_all_within_the_kerf(
    area: Polygon, kerf: float
) -> None:
    cut = cut_of("front", area, STOCK, kerf=kerf)
    whole = shapely.area(shapely.union(cut.band, cut.as_cut))
    assert cut.band.area + cut.as_cut.area == pytest.approx(whole, abs=1e-6)
    assert whole == pytest.approx(cut.within_kerf.area, abs=1e-6)
    extra = sum(region.area for region in cut.left_in_corners)
    assert area.area + extra == pytest.approx(cut.as_cut.area, abs=1e-6)


@pytest.mark.parametrize("tolerance", [0.0005, 0.01, 0.3])
@pytest.mark.parametrize("distance", [0.2, 1.0, 25.0])
def test_discs_stay_within_the_tolerance(distance: float, tolerance: float) -> None:
    cut = cut_of("front", rect(10, 10, 30, 40), STOCK, tolerance=tolerance)
    ring = shapely.get_coordinates(shapely.segmentize(cut.grown(Point(0, 0), distance), 0.01))
    off = np.hypot(*ring.T)
    assert off.max() <= distance * (1.0 + 1e-12)
    assert off.min() >= distance - max(tolerance, 0.0)


# --- corners, slots, holes ---------------------------------------------------------------------


def test_outer_corners_of_the_part_stay_sharp() -> None:
    area = rect(10, 10, 30, 40)
    cut = cut_of("front", area, STOCK, kerf=3.0)
    assert shapely.equals(cut.as_cut, area)
    assert cut.left_in_corners == []


def test_an_inside_corner_keeps_half_a_kerf_as_its_radius() -> None:
    area = many(shapely.difference(rect(5, 5, 35, 45), rect(20, 25, 40, 50)))
    cut = cut_of("front", area, STOCK, kerf=4.0, tolerance=FINE)
    (left,) = cut.left_in_corners
    arc = shapely.get_coordinates(shapely.intersection(left.boundary, rect(20.01, 25.01, 40, 50)))
    radius = np.hypot(*(arc - np.array([22.0, 27.0])).T)
    # the polygon of one disc rolls round that of another
    assert radius == pytest.approx(2.0, abs=2.0 * FINE)


@pytest.mark.parametrize("width", [0.3, 0.999])
def test_a_hole_narrower_than_the_kerf_stays_filled(width: float) -> None:
    hole = rect(15, 20, 15 + width, 30)
    cut = cut_of("front", Polygon(rect(5, 5, 35, 45).exterior, [hole.exterior]), STOCK, kerf=1.0)
    assert len(shapely.get_parts(cut.path)) == 1
    (left,) = cut.left_in_corners
    assert left.area == pytest.approx(hole.area)


def test_a_hole_wider_than_the_kerf_is_cut() -> None:
    hole = rect(15, 20, 16.01, 30)
    cut = cut_of("front", Polygon(rect(5, 5, 35, 45).exterior, [hole.exterior]), STOCK, kerf=1.0)
    assert len(shapely.get_parts(cut.path)) == 2
    # nothing is left of its width but the four corners
    assert sum(r.area for r in cut.left_in_corners) == pytest.approx(
        4 * (1 - math.pi / 4) * 0.25, rel=0.05
    )


def test_a_hollow_curve_keeps_nothing() -> None:
    """The corners between the chords of a hole are none of the part's."""
    hole = disc(20, 25, 8, 90)
    cut = cut_of("front", Polygon(rect(5, 5, 35, 45).exterior, [hole.exterior]), STOCK, kerf=2.0)
    assert cut.left_in_corners == []
    assert shapely.equals(cut.as_cut, cut.profile.area)


def test_outlines_nearer_than_a_kerf_are_not_parted() -> None:
    area = many(shapely.union_all([rect(5, 5, 15, 45), rect(15.6, 5, 30, 45)]))
    cut = cut_of("front", area, STOCK, kerf=1.0)
    assert len(shapely.get_parts(cut.path)) == 1
    assert len(cut.as_cut.geoms) == 1


def test_outlines_further_apart_than_a_kerf_are_parted() -> None:
    area = many(shapely.union_all([rect(5, 5, 15, 45), rect(16.2, 5, 30, 45)]))
    cut = cut_of("front", area, STOCK, kerf=1.0)
    assert len(shapely.get_parts(cut.path)) == 2
    assert len(cut.as_cut.geoms) == 2


def test_outlines_that_touch_at_a_corner() -> None:
    area = many(shapely.union_all([rect(5, 5, 15, 20), rect(15, 20, 30, 45)]))
    cut = cut_of("front", area, STOCK, kerf=1.0)
    assert len(shapely.get_parts(cut.path)) == 1
    assert len(cut.left_in_corners) == 2


def test_a_kerf_of_zero_still_parts() -> None:
    (stage,) = stages_of(cut_of("front", rect(10, 10, 30, 40), STOCK, kerf=0.0))
    assert volumes(stage, "part") == pytest.approx([20 * 30 * 30])
    # four corners of a thousandth of a millimetre: 1e-6 mm² and less
    gone = 2 * (20 + 30) * 0.001 * 30
    assert volumes(stage, "held") == pytest.approx([40 * 30 * 50 - 20 * 30 * 30 - gone], abs=1e-3)


# --- the stock's edge --------------------------------------------------------------------------


def test_no_cut_where_the_outline_lies_on_the_stocks_edge() -> None:
    """Only the right and the upper side need a cut; it ends where the cutter leaves the stock."""
    cut = cut_of("front", rect(0, 0, 30, 40), STOCK, kerf=1.0, tolerance=FINE)
    (line,) = shapely.get_parts(cut.cut_path)
    ends = shapely.get_coordinates(line)[[0, -1]]
    off = shapely.distance(STOCK.shadow(VIEWS["front"]), shapely.points(ends))
    assert off == pytest.approx([0.5, 0.5], abs=2.0 * FINE)
    # two sides, and a quarter circle each at the outline's corner and at both ends
    assert line.length == pytest.approx(30 + 40 + 3 * math.pi / 4, abs=0.02)


def test_an_outline_as_large_as_the_stock_needs_no_cut() -> None:
    cut = cut_of("front", rect(0, 0, 40, 50), STOCK, kerf=1.0)
    assert shapely.is_empty(cut.cut_path)
    (stage,) = stages_of(cut)
    assert volumes(stage, "part") == pytest.approx([40 * 30 * 50])


def test_an_outline_past_the_stock_needs_no_cut() -> None:
    assert shapely.is_empty(cut_of("front", rect(-5, -5, 45, 55), STOCK).cut_path)


def test_an_outline_less_than_a_kerf_inside_the_edge_is_still_cut() -> None:
    """The cutter's middle runs outside the stock, its rim inside."""
    cut = cut_of("front", rect(0.2, 10, 30, 40), STOCK, kerf=1.0)
    assert shapely.get_parts(cut.cut_path)[0].is_closed
    (stage,) = stages_of(cut)
    assert stage.part.solid.bounds[0, 0] == pytest.approx(0.2)


def test_what_a_kerf_that_ends_on_the_stocks_face_leaves() -> None:
    """The outer edge of the kerf lies in the left face: three sides stay, in one body."""
    (stage,) = stages_of(cut_of("front", rect(1, 10, 30, 40), STOCK, kerf=1.0))
    assert [body.status for body in stage.bodies] == ["held", "part"]
    assert volumes(stage, "part") == pytest.approx([29 * 30 * 30])


@pytest.mark.parametrize("view", sorted(VIEWS))
def test_face_coordinates_in_every_view(view: str) -> None:
    """The same outline, off the datum, leaves the same volume whatever way the view lies."""
    stock = Stock((40.0, 40.0, 40.0))
    (stage,) = stages_of(cut_of(view, rect(3, 5, 20, 30), stock))
    assert volumes(stage, "part") == pytest.approx([17 * 25 * 40])
    u, v, _ = VIEWS[view].to_view(stage.part.solid.centroid) - np.append(
        stock.face(VIEWS[view]).corner, 0.0
    )
    assert (u, v) == pytest.approx(((3 + 20) / 2, (5 + 30) / 2))


def test_a_view_of_its_own() -> None:
    """Across the corner of a bar 20 mm square the face is 20 √2 mm wide."""
    stock = Stock((20.0, 20.0, 30.0))
    view = view_along((1.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    middle = 10.0 * math.sqrt(2.0)
    cut = cut_of(view, rect(middle - 4, 5, middle + 4, 25), stock)
    (stage,) = stages_of(cut)
    # the diagonal slice is 20 √2 long, less triangles at its ends: |s| + |t| <= 10 √2
    area = 8 * 20 * math.sqrt(2) - 2 * (4 * 4)
    assert volumes(stage, "part") == pytest.approx([area * 20], rel=1e-8)


def test_a_round_bar_is_cut_from_its_true_edge() -> None:
    """The outline ends in the bar's circle; seen from its end nothing is left to cut."""
    bar = Stock((20.0, 20.0, 30.0), diameter=20.0)
    assert shapely.is_empty(cut_of("top", disc(10, 10, 10.01, 400), bar).cut_path)
    assert not shapely.is_empty(cut_of("top", disc(10, 10, 9.0, 400), bar).cut_path)


def test_polygons_of_drops_what_has_no_area() -> None:
    mixed = shapely.GeometryCollection([rect(0, 0, 1, 1), Point(3, 3), Polygon()])
    assert polygons_of(mixed).area == 1.0
    assert len(polygons_of(mixed).geoms) == 1


@pytest.mark.parametrize("seed", range(6))
def test_the_part_as_cut_survives_every_cut(seed: int) -> None:
    """No cut takes anything of what the outline and its corners keep."""
    job = random_job(seed, aligned=seed % 2 == 0)
    for cut in job.cuts:
        assert isinstance(cut, Cut)
        assert shapely.area(shapely.intersection(cut.removed, cut.as_cut)) <= 1e-6


def test_what_stays_in_a_corner_counts_beyond_two_tolerances() -> None:
    """In a square corner a chord of the disc stays 0.27 mm off the walls: at 0.1 mm it is real.

    The disc of 0.8536 mm has three chords in a quarter, the middle one cos 15° of that from its
    middle, and 0.8536 (1 - cos 15° / √2) = 0.27 from either wall.
    """
    ell = Polygon([(0, 0), (40, 0), (40, 10), (10, 10), (10, 30), (0, 30)])
    kept = [cut_of("front", ell, STOCK, kerf=2 * 0.8536, tolerance=t) for t in (0.1, 0.16)]
    assert [len(cut.left_in_corners) for cut in kept] == [1, 0]


def test_circles_are_no_finer_than_needed() -> None:
    """A corner of 0.5 mm within 0.01 mm: 90° by 1.5 · 2 acos(1 − 0.02) is 5.9, so 6 pieces."""
    cut = cut_of("front", rect(10, 10, 30, 40), STOCK, kerf=1.0, tolerance=0.01)
    assert shapely.get_num_coordinates(cut.path) == 4 * (6 + 1) + 1
    coarse = cut_of("front", rect(10, 10, 30, 40), STOCK, kerf=1.0, tolerance=2.0)
    assert shapely.get_num_coordinates(coarse.path) == 4 * (2 + 1) + 1  # never fewer than two


def test_a_polygon_without_area_is_dropped() -> None:
    flat = Polygon([(0, 0), (2, 0), (1, 0)])
    kept = polygons_of(shapely.GeometryCollection([flat, rect(0, 0, 1, 1), Point(3, 3)]))
    assert [p.area for p in kept.geoms] == [1.0]
