"""What a cut takes: length, starts, thickness, area."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from silhouette3d.geometry.frames import VIEWS, view_along
from silhouette3d.geometry.removal import stock_solid
from silhouette3d.geometry.stock import Stock
from silhouette3d.process.stages import SPACING, figures, thickness
from tests.support.cut_jobs import cut_of, cutting_of, random_job, stages_of, with_tabs_at
from tests.support.shapes import COMB, DISCS, WEDGE, disc, many, rect

STOCK = Stock((40.0, 30.0, 50.0))
ARCS = 0.02
"""mm by which the polygon of a circle of 1 mm (tolerance 0.01) is shorter than the circle, most:
its sagitta is a hundredth of the radius at most, so its length 1 - cos = 2/300 of 2 π r / 2."""


def test_a_rectangle_in_the_middle_of_the_face() -> None:
    (stage,) = stages_of(cut_of("front", rect(10, 10, 30, 40), STOCK))
    found, (run,) = stage.figures, stage.runs
    assert run.length == pytest.approx(2 * (20 + 30) + math.pi, abs=ARCS)
    assert found.stock_thickness == 30.0
    assert (found.most, found.least) == pytest.approx((30.0, 30.0))
    assert found.area == pytest.approx(run.length * 30.0)


@pytest.mark.parametrize(
    ("view", "depth"), [("front", 30.0), ("left", 40.0), ("top", 50.0), ("rear", 30.0)]
)
def test_stock_thickness_is_the_depth_along_the_view(view: str, depth: float) -> None:
    (stage,) = stages_of(cut_of(view, rect(10, 10, 20, 20), STOCK))
    assert stage.figures.stock_thickness == depth
    assert stage.figures.most == pytest.approx(depth)


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_tabs_shorten_the_cut_and_part_it(count: int) -> None:
    bare = cut_of("front", rect(10, 10, 30, 40), STOCK)
    tabs = [(10.0, 20.0), (30.0, 20.0), (20.0, 10.0), (20.0, 40.0)][:count]
    cut = with_tabs_at(bare, tabs, 2.5)
    (found,), (whole,) = stages_of(cut), stages_of(bare)
    left_out = (2.5 + 1.0) * count  # the cutter stops half a kerf before a tab
    lengths = [sum(run.length for run in stage.runs) for stage in (found, whole)]
    assert lengths[0] == pytest.approx(lengths[1] - left_out, abs=1e-9)
    assert found.figures.area == pytest.approx(whole.figures.area - left_out * 30.0, rel=1e-9)
    # a closed line with n gaps is n pieces
    assert [run.start for run in found.runs] == ["pierce"] * count


def test_a_hole_is_a_cut_of_its_own() -> None:
    hole = rect(15, 15, 25, 30)
    cut = cut_of("front", Polygon(rect(5, 5, 35, 45).exterior, [hole.exterior]), STOCK)
    (stage,) = stages_of(cut)
    assert len(stage.runs) == 2
    assert sum(run.length for run in stage.runs) == pytest.approx(
        2 * 70 + math.pi + 2 * (9 + 14), abs=ARCS
    )


def test_a_cut_that_runs_in_from_the_edge_needs_no_hole() -> None:
    (stage,) = stages_of(cut_of("front", rect(0, 10, 30, 40), STOCK))
    (run,) = stage.runs
    assert run.start == "edge"
    assert run.first[0] < 0.0


def test_edge_and_hole_in_one_profile() -> None:
    hole = rect(15, 15, 25, 30)
    cut = cut_of("front", Polygon(rect(0, 5, 35, 45).exterior, [hole.exterior]), STOCK)
    (stage,) = stages_of(cut)
    assert sorted(run.start == "edge" for run in stage.runs) == [False, True]


def test_between_a_tab_and_the_edge_the_cut_starts_at_the_edge() -> None:
    cut = cut_of("front", rect(0, 10, 30, 40), STOCK, tabs=[(30, 25)])
    (stage,) = stages_of(cut)
    # the part stays on the left, so one of them comes from the edge and the other from the tab
    assert [run.start == "edge" for run in stage.runs] == [True, False]
    cut = cut_of("front", rect(0, 10, 30, 40), STOCK, tabs=[(30, 15), (30, 35)])
    (stage,) = stages_of(cut)
    assert sorted(run.start == "edge" for run in stage.runs) == [False, False, True]


@pytest.mark.parametrize("inset", [0.2, 0.4, 0.6])
@pytest.mark.parametrize("side", range(4))
def test_a_closed_cut_that_runs_outside_the_stock_starts_there(inset: float, side: int) -> None:
    """Its middle is half a kerf off the outline; beyond the edge nothing need be pierced.

    Where it is inside, a lead brings it in, perhaps from beyond the edge as well.
    """
    bounds = [10.0, 10.0, 30.0, 40.0]
    bounds[side] = (inset, inset, 40.0 - inset, 50.0 - inset)[side]
    u0, v0, u1, v1 = bounds
    (stage,) = stages_of(cut_of("front", rect(u0, v0, u1, v1), STOCK, kerf=1.0))
    (run,) = stage.runs
    assert (run.lead_in is None) == (inset < 0.5)
    assert run.start == "edge" or run.lead_in


def test_an_outline_on_the_edge_all_round_takes_nothing() -> None:
    (stage,) = stages_of(cut_of("front", rect(0, 0, 40, 50), STOCK))
    found = stage.figures
    assert (stage.runs, found.area, found.most, found.least) == ((), 0, 0, 0)


def test_thickness_after_another_cut() -> None:
    """A step: the first cut leaves 30 mm up to z = 20 and 10 mm above it."""
    step = Polygon([(0, 0), (30, 0), (30, 20), (10, 20), (10, 50), (0, 50)])
    first = cut_of("right", step, STOCK, kerf=1.0)
    second = cut_of("front", rect(10, 5, 30, 45), STOCK, kerf=1.0)
    stage = stages_of(first, second, clear_offcuts=True)[1]
    assert stage.figures.most == pytest.approx(30.0)
    assert stage.figures.least == pytest.approx(10.0)
    assert stage.figures.stock_thickness == 30.0
    # two sides of 15 mm and a bottom of 20 mm at 30 mm, the rest at 10 mm: a piece of path is as
    # thick as at its middle, so at the two steps one half of a piece may count wrong
    arcs = math.pi / 4
    area = (2 * 15 + 20 + 2 * arcs) * 30 + (2 * 25 + 20 + 2 * arcs) * 10
    assert stage.figures.area == pytest.approx(area, abs=2 * SPACING / 2 * 20 + ARCS * 30)


def test_offcuts_left_in_place_are_cut_again() -> None:
    step = Polygon([(0, 0), (30, 0), (30, 20), (10, 20), (10, 50), (0, 50)])
    first = cut_of("right", step, STOCK, kerf=1.0)
    second = cut_of("front", rect(10, 5, 30, 45), STOCK, kerf=1.0)
    stage = stages_of(first, second, clear_offcuts=False)[1]
    # above the first kerf all but its width is there: 29 mm; within it 10 mm
    arcs = math.pi / 4
    area = (2 * 15 + 20 + 2 * arcs) * 30 + 2 * 10 + (2 * 24 + 20 + 2 * arcs) * 29
    assert stage.figures.area == pytest.approx(area, abs=4 * SPACING / 2 * 20 + ARCS * 30)
    assert (stage.figures.most, stage.figures.least) == pytest.approx((30.0, 10.0))


def test_thickness_counts_all_bodies_and_no_gaps() -> None:
    cut = cut_of("top", rect(10, 10, 30, 20), STOCK)
    solid = COMB.solid
    points = np.array([[3.0, 6.0], [12.0, 6.0], [59.9, 6.0]])
    found = thickness(
        replace(cut, profile=replace(cut.profile, face=COMB.stock.face(VIEWS["top"]))),
        [solid],
        points,
    )
    assert found == pytest.approx([30.0, 10.0, 30.0])
    halves = [
        solid.within(many(rect(0, 0, 60, 5)), VIEWS["front"]),
        solid.within(many(rect(0, 5, 60, 30)), VIEWS["front"]),
    ]
    cut = replace(cut, profile=replace(cut.profile, face=COMB.stock.face(VIEWS["top"])))
    assert thickness(cut, halves, points) == pytest.approx([30.0, 10.0, 30.0])


@given(st.floats(0.5, 39.5), st.floats(0.5, 39.5))
def test_thickness_of_two_crossed_discs(u: float, v: float) -> None:
    """From above, the part is as thick as the narrower of the two discs there."""
    cut = cut_of("top", rect(5, 5, 10, 10), DISCS.stock)
    chord = [2.0 * math.sqrt(20.0**2 - (x - 20.0) ** 2) for x in (u, v)]
    found = thickness(cut, [DISCS.solid], np.array([[u, v]]))
    # polygons of 64 corners: off by their sagitta, seen as steeply as at 0.5 mm from the rim
    sagitta = 20.0 * (1.0 - math.cos(math.pi / 64))
    slope = 20.0 / math.sqrt(20.0**2 - 19.5**2)
    assert found[0] == pytest.approx(min(chord), abs=2.0 * sagitta * slope)
    assert found[0] <= min(chord) + 1e-6


def test_thickness_of_a_wedge_is_exact() -> None:
    cut = cut_of("top", rect(5, 5, 10, 10), WEDGE.stock)
    points = np.column_stack([np.linspace(1, 59, 30), np.full(30, 7.0)])
    # samples are moved aside by less than a millionth
    assert thickness(cut, [WEDGE.solid], points) == pytest.approx(
        45.0 * (1.0 - points[:, 0] / 60.0), abs=1e-6
    )


@pytest.mark.parametrize("diameter", [20.0])
def test_through_a_round_bar_the_chord_counts(diameter: float) -> None:
    bar = Stock((20.0, 20.0, 40.0), diameter=diameter, tolerance=0.001)
    cut = cut_of("front", rect(4.5, 5, 15.5, 35), bar, kerf=1.0)
    found = figures(cut, [stock_solid(bar)])
    assert found.stock_thickness == 20.0
    # the path runs 6 mm beside the axis, and across it above and below
    assert found.least == pytest.approx(2 * math.sqrt(10**2 - 6**2), abs=0.01)
    # the middle of a piece of path is a quarter of its length off the axis at most
    assert found.most == pytest.approx(20.0, abs=0.01)


def test_across_the_corner_of_a_block() -> None:
    view = view_along((1.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    stock = Stock((20.0, 20.0, 30.0))
    middle = 10 * math.sqrt(2)
    cut = cut_of(view, rect(middle - 3.5, 5, middle + 3.5, 25), stock, kerf=1.0)
    found = figures(cut, [stock_solid(stock)])
    assert found.stock_thickness == pytest.approx(20 * math.sqrt(2))
    assert found.least == pytest.approx(2 * (middle - 4.0), abs=1e-5)
    assert found.most == pytest.approx(2 * middle, abs=SPACING)


@pytest.mark.parametrize("seed", range(8))
def test_area_is_the_curtain_that_the_path_hangs_in_the_stock(seed: int) -> None:
    """In a block, the first cut's area is the length of path over the face, times the depth."""
    job = random_job(seed, aligned=seed % 2 == 0)
    cut = job.cuts[0]
    found = figures(cut, [stock_solid(job.stock)])
    inside = shapely.intersection(cut.cut_path, job.stock.shadow(cut.profile.view))
    crossings = 2 * len(shapely.get_parts(cut.cut_path)) + 2
    assert found.area == pytest.approx(
        shapely.length(inside) * found.stock_thickness,
        abs=crossings * SPACING / 2.0 * found.stock_thickness,
    )


def test_most_and_least_are_among_the_thicknesses_of_all_orders() -> None:
    """Whatever was cut before, no cut is thicker than the stock."""
    job = random_job(5, aligned=False, least_cuts=3)
    for order in ([0, 1, 2], [2, 1, 0], [1, 2, 0]):
        for stage in cutting_of(job.cuts).stages(order, clear_offcuts=True):
            found = stage.figures
            assert 0.0 <= found.least <= found.most <= found.stock_thickness * (1.0 + 1e-9)
            length = shapely.length(stage.cut.cut_path)
            assert found.area <= length * found.most * (1.0 + 1e-9)


def test_a_disc_has_no_start_at_the_edge() -> None:
    (stage,) = stages_of(cut_of("front", disc(20, 25, 10), STOCK))
    assert [run.start == "edge" for run in stage.runs] == [False]
    u, v = stage.runs[0].first
    assert math.hypot(u - 20, v - 25) == pytest.approx(10.5, abs=0.05)
