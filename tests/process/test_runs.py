"""How a cut is run: only where material stands, in an order that holds, on one hand."""

from __future__ import annotations

import math
from itertools import permutations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Point, Polygon

from silhouette3d.geometry.frames import VIEWS
from silhouette3d.geometry.stock import Stock
from silhouette3d.process.cut import Cut
from silhouette3d.process.runs import Driving, Run, loops_of, runs_of
from tests.support.cut_jobs import TOLERANCE, cut_of, cutting_of, random_job, stages_of
from tests.support.shapes import disc, many, rect

PLATE = Stock((100.0, 10.0, 100.0))
CUBE = Stock((40.0, 40.0, 40.0))


def runs_in_stock(cut: Cut, air: float = 5.0) -> tuple[Run, ...]:
    """The runs of a first cut, before which all of the stock stands."""
    return runs_of(cut, cut.stock.shadow(cut.profile.view), Driving(air))


def plate(area: Polygon | MultiPolygon, **more: object) -> Cut:
    return cut_of("front", area, PLATE, **more)  # type: ignore[arg-type]


def swept(runs: tuple[Run, ...], radius: float) -> shapely.Geometry:
    return shapely.buffer(shapely.MultiLineString([run.line for run in runs]), radius)


# --- where material is -------------------------------------------------------------------------


def test_one_notch_is_one_run_from_the_edge() -> None:
    """From 20 to 80 mm across the upper side, 20 mm deep; all else of the outline is the stock's.

    It begins and ends one kerf above the stock, which the path reaches half a kerf inside the notch
    and leaves round the corner of the outline.
    """
    notched = Polygon([(0, 0), (100, 0), (100, 100), (80, 100), (80, 80), (20, 80), (20, 100),
                       (0, 100)])  # fmt: skip
    (run,) = runs_in_stock(plate(notched))
    assert run.start == "edge"
    # 19.5 mm down, 59 across and 19.5 up; then round a corner of half a kerf until the rim reaches
    # no deeper than the tolerance, and a kerf more
    out = 0.5 * math.asin((0.5 - TOLERANCE) / 0.5)
    assert run.length == pytest.approx(2 * 19.5 + 59.0 + 2.0 * (out + 1.0), abs=0.05)


@pytest.mark.parametrize(("air", "count"), [(4.9, 2), (5.1, 1)])
def test_air_shorter_than_the_limit_is_run_through(air: float, count: int) -> None:
    """Two blocks stand 6 mm apart, across which a straight cut runs: from rim to rim 5 mm."""
    there = many(shapely.union(rect(0, 0, 40, 100), rect(46, 0, 100, 100)))
    cut = plate(rect(-10, 50, 110, 120), kerf=1.0)
    runs = runs_of(cut, there, Driving(air))
    assert len(runs) == count
    assert {run.start for run in runs} == {"edge"}
    # from where the rim comes in, half a kerf before the stock, and a kerf before that
    total = 101.0 + 2.0 if count == 1 else 101.0 - 5.0 + 4.0
    assert sum(run.length for run in runs) == pytest.approx(total, abs=0.05)


def test_nothing_stands_there() -> None:
    assert runs_of(plate(rect(10, 10, 30, 40)), MultiPolygon()) == ()
    assert runs_in_stock(plate(rect(0, 0, 100, 100))) == ()


def test_a_closed_run_with_a_little_air_begins_in_it() -> None:
    """A bore of 3 mm lies across the path: what begins there need not be pierced."""
    there = shapely.difference(rect(0, 0, 100, 100), Point(20, 19.5).buffer(1.5))
    (run,) = runs_of(plate(rect(10, 20, 30, 40), kerf=1.0), there)
    assert run.is_closed
    assert run.start == "edge"
    assert run.first == pytest.approx((20.0, 19.5), abs=0.01)


def test_how_runs_begin() -> None:
    """In a hole of the outline, in the waste round it, or from a tab."""
    area = Polygon(rect(10, 10, 50, 50).exterior, [rect(20, 20, 40, 40).exterior])
    assert [run.start for run in runs_in_stock(plate(area))] == ["hole", "pierce"]
    tabbed = plate(area, tabs=[(20, 30), (10, 30)])
    assert [run.start for run in runs_in_stock(tabbed)] == ["pierce", "pierce"]


@pytest.mark.parametrize("seed", range(12))
def test_runs_take_all_that_the_path_would(seed: int) -> None:
    """Set arithmetic with discs of a general library, at every stage of random jobs."""
    job = random_job(700 + seed, aligned=seed % 2 == 0)
    for stage in stages_of(*job.cuts):
        cut, radius = stage.cut, stage.cut.kerf / 2.0
        bodies = [body.shadow(cut.profile.view) for body in stage.before]
        shadows = cut.profile.to_face(MultiPolygon([p for b in bodies for p in b.geoms]))
        there = shapely.union_all(list(shadows.geoms))
        all_round = shapely.buffer(cut.interrupted, radius, quad_segs=16)
        missed = shapely.difference(
            shapely.intersection(all_round, there),
            shapely.buffer(shapely.MultiLineString([r.line for r in stage.runs]), radius + 0.02),
        )
        # what the rim only grazes, within a tolerance and that of the discs
        assert shapely.buffer(missed, -2.0 * TOLERANCE).is_empty
        for run in stage.runs:
            touched = shapely.intersection(run.line.buffer(radius), there)
            assert touched.area > 0.0
            # no run goes on through air for longer than it may
            off = shapely.difference(run.line, shapely.buffer(there, radius))
            assert all(piece.length < 5.0 for piece in shapely.get_parts(off))


# --- on one hand, in an order that holds -------------------------------------------------------


def area_of_islands() -> MultiPolygon:
    """A frame with an island in its hole, which has a hole of its own; a disc beside it."""
    ring = Polygon(rect(5, 5, 60, 60).exterior, [rect(15, 15, 50, 50).exterior])
    island = Polygon(rect(20, 20, 45, 45).exterior, [disc(32, 32, 6).exterior])
    return many(shapely.union_all([ring, island, disc(80, 80, 10)]))


def test_the_part_is_on_the_left_of_every_run() -> None:
    cut = plate(area_of_islands(), tabs=[(5, 30), (60, 30), (20, 30)])
    runs = runs_in_stock(cut)
    assert len(runs) == 6
    for run in runs:
        points = shapely.get_coordinates(run.line)
        middles, along = (points[1:] + points[:-1]) / 2.0, np.diff(points, axis=0)
        left = np.column_stack([-along[:, 1], along[:, 0]])
        left /= np.linalg.norm(left, axis=1, keepdims=True)
        assert shapely.contains(cut.within_path, shapely.points(middles + 1e-4 * left)).all()
        assert not shapely.intersects(cut.within_path, shapely.points(middles - 1e-4 * left)).any()


def test_what_lies_inside_is_cut_before_what_holds_it() -> None:
    cut = plate(area_of_islands(), tabs=[(5, 30), (60, 30), (20, 30)])
    loops = [Polygon(loop.coords) for loop in loops_of(cut)]
    order = [run.loop for run in runs_in_stock(cut)]
    for i, one in enumerate(order):
        for other in order[i + 1 :]:
            assert one == other or not loops[one].contains(loops[other])
    # the frame, the largest, comes last with both its runs; the disc beside it before
    assert [loops[i].area for i in order[-2:]] == [max(loop.area for loop in loops)] * 2


def holes(count: int, seed: int) -> Polygon:
    """A plate with round holes here and there, none nearer to another than 1 mm."""
    rng = np.random.default_rng(seed)
    side = math.ceil(math.sqrt(count))
    cell = 90.0 / side
    radius = min(0.15 * cell, 2.0)
    cells = rng.permutation(side * side)[:count]
    middles = 5.0 + cell * np.column_stack([cells % side + 0.5, cells // side + 0.5])
    middles += rng.uniform(-0.25, 0.25, middles.shape) * cell
    rings = [Point(*m).buffer(radius, quad_segs=2).exterior for m in middles]
    return Polygon(rect(1, 1, 99, 99).exterior, rings)


def test_holes_are_cut_in_a_short_order() -> None:
    """No more than a quarter longer than the best, which trying them all finds."""
    worst = 0.0
    for seed in range(12):
        runs = runs_in_stock(plate(holes(7, seed), kerf=0.2))[:-1]
        middles = np.array([run.line.centroid.coords[0] for run in runs])

        def long(order: tuple[int, ...], middles: np.ndarray = middles) -> float:
            way = np.vstack([[0.0, 0.0], middles[list(order)]])
            return float(np.linalg.norm(np.diff(way, axis=0), axis=1).sum())

        best = min(long(order) for order in permutations(range(len(runs))))
        worst = max(worst, long(tuple(range(len(runs)))) / best)
    assert worst < 1.25


def test_a_thousand_holes_are_each_cut_once_on_a_short_way() -> None:
    """On a square lattice no way is shorter than one step for each: here a third more at most."""
    middles = [(1.5 + 3.0 * i, 1.5 + 3.0 * j) for i in range(32) for j in range(32)]
    rings = [Point(*m).buffer(0.8, quad_segs=1).exterior for m in middles]
    cut = plate(Polygon(rect(0, 0, 97, 97).exterior, rings), kerf=0.2)
    runs = runs_in_stock(cut)
    assert sorted(run.loop for run in runs) == list(range(len(loops_of(cut))))
    ends = [(0.0, 0.0), *(run.last for run in runs[:-2])]
    moves = sum(math.dist(a, run.first) for a, run in zip(ends, runs[:-1], strict=True))
    assert moves < 3.0 * len(middles) * 4.0 / 3.0


@settings(max_examples=20)
@given(st.integers(0, 10**6))
def test_a_run_is_on_its_loop(seed: int) -> None:
    job = random_job(seed, aligned=seed % 2 == 0, most_cuts=1)
    (stage,) = stages_of(*job.cuts)
    loops = loops_of(stage.cut)
    for run in stage.runs:
        loop = loops[run.loop]
        assert shapely.covered_by(run.line, loop.buffer(1e-6))
        assert run.length == pytest.approx(run.span[1] - run.span[0], abs=1e-6)
        assert run.is_closed == (run.first == pytest.approx(run.last, abs=1e-9))
        assert run.is_hole == (not shapely.is_ccw(loop))
        at = loop.line_interpolate_point(run.span[0] % loop.length)
        assert math.dist((at.x, at.y), run.first) < 1e-6


def test_runs_of_a_later_stage_lie_where_something_is_left() -> None:
    """The first cut leaves the lower half; the offcut is lifted out, so the second is shorter."""
    first = cut_of("front", rect(-1, -1, 41, 20), CUBE)
    second = cut_of("right", rect(5, 5, 35, 35), CUBE)
    for clear, whole in ((True, False), (False, True)):
        stage = stages_of(first, second, clear_offcuts=clear)[1]
        assert all(run.is_closed for run in stage.runs) == whole
        assert max(run.line.bounds[3] for run in stage.runs) > (35.0 if whole else 20.0)
        if not whole:
            # up both sides to where nothing stands, and a kerf further
            (run,) = stage.runs
            assert run.start == "edge"
            assert run.line.bounds[3] == pytest.approx(20.0 + 0.5 + 1.0, abs=0.02)


def test_stages_tell_the_runs_in_mm_of_the_stock() -> None:
    cutting = cutting_of([cut_of("front", rect(10, 10, 30, 30), CUBE)])
    (stage,) = cutting.stages([0], clear_offcuts=True, driving=Driving(air=1.0))
    (run,) = stage.runs
    assert stage.driving.air == 1.0
    assert run.line.bounds == pytest.approx((9.5, 9.5, 30.5, 30.5))
    assert shapely.within(run.line, CUBE.shadow(VIEWS["front"]))
