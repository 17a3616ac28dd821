"""The path half a kerf off an outline, as lines and arcs: what it is made of, how true it is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon

from silhouette3d.drawing.arcs.pieces import Ring, flattened, length_of, radius_of
from silhouette3d.drawing.model import FULL_TURN, Arc, Curve, Line, Shape
from silhouette3d.drawing.outline.outline import Outline
from silhouette3d.geometry.frames import VIEWS
from silhouette3d.geometry.stock import Stock
from silhouette3d.process.cut import Cut, Tab
from silhouette3d.process.profile import Profile
from silhouette3d.process.tabs import kept, tab_at
from silhouette3d.process.toolpath import (
    Stretch,
    _Beside,
    beside,
    outline_rings,
    path_rings,
    tab_shape,
)
from tests.support.cut_jobs import TOLERANCE, cut_of
from tests.support.loops import circle, loop, outline
from tests.support.shapes import Area, many, rect
from tests.support.strange_outlines import is_sound, random_outline

STOCK = Stock((100.0, 20.0, 100.0))
KERF = 1.0
KERFS = st.sampled_from([0.2, 1.0, 3.0])
FINE = 1e-3
"""mm, for flattening rings whose arcs are compared with each other."""


def drawn(area: Outline, kerf: float = KERF) -> Cut:
    view = VIEWS["front"]
    return Cut(Profile("front", view, STOCK.face(view), area), STOCK, kerf, TOLERANCE)


def path_of(cut: Cut) -> tuple[Ring, ...]:
    return path_rings(cut, outline_rings(cut))


def enclosed(rings: tuple[Ring, ...]) -> float:
    """Signed area: holes run clockwise."""
    total = 0.0
    for ring in rings:
        x, y = flattened(ring.pieces, FINE).T
        total += float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2.0
    return total


def test_round_a_rectangle() -> None:
    (ring,) = path_of(cut_of("front", rect(10, 10, 50, 30), STOCK, kerf=KERF))
    lines = [p for p in ring.pieces if isinstance(p, Line)]
    arcs = [p for p in ring.pieces if isinstance(p, Arc)]
    assert sorted(map(length_of, lines)) == pytest.approx([20, 20, 40, 40])
    assert [radius_of(arc) for arc in arcs] == [0.5] * 4
    assert {arc.centre for arc in arcs} == {(10, 10), (50, 10), (50, 30), (10, 30)}
    assert ring.length == pytest.approx(120 + math.pi)  # Steiner: the perimeter and a full circle


def test_an_inside_corner_is_sharp() -> None:
    ell = Polygon([(0, 0), (40, 0), (40, 10), (10, 10), (10, 30), (0, 30)])
    (ring,) = path_of(cut_of("front", ell, STOCK, kerf=KERF))
    assert sum(isinstance(p, Arc) for p in ring.pieces) == 5
    assert any(math.dist(p.start, (10.5, 10.5)) < 1e-9 for p in ring.pieces)


def test_circles_stay_circles() -> None:
    cut = drawn(outline(circle((50.0, 50.0), 30.0), circle((50.0, 50.0), 5.0)))
    (outer,), (inner,) = (ring.pieces for ring in path_of(cut))
    assert isinstance(outer, Arc)
    assert isinstance(inner, Arc)
    assert (radius_of(outer), radius_of(inner)) == (30.5, 4.5)
    assert outer.end_angle - outer.start_angle == FULL_TURN


def test_a_hole_that_the_cutter_does_not_enter_has_no_path() -> None:
    cut = drawn(outline(loop([(0, 0), (30, 0), (30, 30), (0, 30)]), circle((15.0, 15.0), 0.4)))
    assert len(outline_rings(cut)) == 2
    assert len(path_of(cut)) == 1


def test_a_slot_that_the_cutter_does_not_enter() -> None:
    """The path passes its mouth: two arcs about the corners, which meet in the middle."""
    slot = many(shapely.difference(rect(0, 0, 40, 30), rect(19.6, 10, 20.4, 30)))
    (ring,) = path_of(cut_of("front", slot, STOCK, kerf=KERF))
    dip = math.sqrt(0.5**2 - 0.4**2)
    assert any(math.dist(p.start, (20.0, 30.0 + dip)) < 1e-9 for p in ring.pieces)


def test_without_kerf_the_path_is_the_outline() -> None:
    cut = drawn(outline(circle((50.0, 50.0), 30.0)), kerf=0.0)
    rings = outline_rings(cut)
    assert path_rings(cut, rings) == rings


def test_round_many_slight_corners() -> None:
    """A polygon of 720 sides turns by half a degree at each: an arc at every corner, no less."""
    t = np.radians(np.arange(720) / 2.0)
    area = Polygon(np.round(50.0 + 30.0 * np.column_stack([np.cos(t), np.sin(t)]), 9))
    (ring,) = path_of(cut_of("front", area, STOCK, kerf=KERF))
    assert sum(isinstance(p, Arc) for p in ring.pieces) == 720
    assert ring.length == pytest.approx(area.length + math.pi * KERF)  # Steiner


def test_round_what_is_hardly_a_corner() -> None:
    """A roof that rises by a ten-thousandth of a millimetre over 15 mm has its arc nevertheless."""
    area = Polygon([(0, 0), (30, 0), (30, 20), (15, 20.0001), (0, 20)])
    (ring,) = path_of(cut_of("front", area, STOCK, kerf=KERF))
    assert sorted(p.centre for p in ring.pieces if isinstance(p, Arc)) == [
        (0, 0),
        (0, 20),
        (15, 20.0001),
        (30, 0),
        (30, 20),
    ]


@pytest.mark.parametrize("degrees", [0.0, 37.0])
def test_round_the_tip_of_a_horn(degrees: float) -> None:
    """Two arcs that touch each other in its tip: the path goes half round it."""
    theta = math.radians(degrees)
    along, centre = np.array([math.cos(theta), math.sin(theta)]), np.array([50.0, 50.0])
    x, y = centre + 8.0 * along
    outer = Arc.circular((50.0, 50.0), 20.0, theta, theta + math.pi / 2)
    inner = Arc.circular((float(x), float(y)), 12.0, theta + math.pi / 3, theta)
    horn = Shape((Curve((outer, Line(outer.end, inner.start), inner), "0"),))
    (ring,) = path_of(drawn(outline(horn)))
    tips = [p for p in ring.pieces if isinstance(p, Arc) and radius_of(p) == pytest.approx(0.5)]
    tip = min(tips, key=lambda p: math.dist(p.centre, outer.start))
    assert tip.centre == pytest.approx(outer.start, abs=1e-9)
    assert tip.end_angle - tip.start_angle == pytest.approx(math.pi)


def test_a_funnel_that_the_cutter_does_not_enter() -> None:
    """Round the corner of a shoulder until it meets the leaning wall opposite, either way."""
    wall = shapely.LineString([(19.9, 10), (23.9, 40)])
    funnel = Polygon([(19.6, 10), (19.9, 10), (23.9, 40), (10, 40), (10, 15), (19.6, 15)])
    area = shapely.difference(rect(0, 0, 40, 30), funnel)
    for mirrored in (False, True):
        turned = shapely.transform(area, lambda p: p * [-1, 1] + [40, 0]) if mirrored else area
        (ring,) = path_of(cut_of("front", many(turned), STOCK, kerf=KERF))
        starts = [(40 - u if mirrored else u, v) for u, v in (p.start for p in ring.pieces)]
        meeting = min(
            starts, key=lambda p: abs(math.dist(p, (19.6, 15)) - 0.5) + wall.distance(Point(p))
        )
        assert math.dist(meeting, (19.6, 15)) == pytest.approx(0.5, abs=1e-9)
        assert wall.distance(Point(meeting)) == pytest.approx(0.5, abs=1e-8)  # drawn to 1e-9


def test_by_how_much_a_path_is_wrong() -> None:
    beside = _Beside(outline_rings(cut_of("front", rect(10, 10, 50, 30), STOCK)), 0.5, TOLERANCE)
    assert beside._off([Line((10.0, 9.5), (50.0, 9.5))]) == pytest.approx(0.0, abs=1e-12)
    assert beside._off([Line((10.0, 9.5), (50.0, 9.3))]) == pytest.approx(0.2)
    assert beside._off([Line((10.0, 9.5), (50.0, 9.8))]) == pytest.approx(0.3)


def test_a_path_that_is_wrong_is_replaced(monkeypatch: pytest.MonkeyPatch) -> None:
    """By arcs over the simulated one: three times the tolerance, says its docstring."""
    asked: list[int] = []

    def wrong(_: _Beside, pieces: Sequence[object]) -> float:
        asked.append(len(pieces))
        return 1.01 * TOLERANCE

    monkeypatch.setattr(_Beside, "_off", wrong)
    cut = cut_of("front", rect(10, 10, 50, 30), STOCK, kerf=KERF)
    (ring,) = path_of(cut)
    assert asked == [8]
    way = shapely.LineString(flattened(ring.pieces, FINE))
    true = shapely.boundary(shapely.buffer(rect(10, 10, 50, 30), 0.5, quad_segs=100))
    assert shapely.hausdorff_distance(way, true) <= 3.0 * TOLERANCE


def is_beside(cut: Cut) -> None:
    """Every point of the path is half a kerf off the outline, and the path goes all round."""
    rings = outline_rings(cut)
    path = path_rings(cut, rings)
    edge = shapely.MultiLineString([flattened(r.pieces, FINE) for r in rings])
    way = shapely.MultiLineString([flattened(r.pieces, FINE) for r in path])
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(way, 0.5)))
    off = np.abs(shapely.distance(edge, points) - cut.kerf / 2.0)
    # chords of both; where a part of the path cannot be worked out, the tolerance (README)
    assert float(off.max()) <= cut.tolerance
    assert float(np.quantile(off, 0.9)) <= 2.0 * FINE + 1e-6
    # the simulated path is within the tolerance of the true one, for outline and disc each,
    # and where two of its parts meet at a small angle several times that along them
    assert shapely.hausdorff_distance(way, cut.path) <= 10.0 * cut.tolerance
    room = 2.0 * cut.tolerance * shapely.length(cut.path)
    assert abs(enclosed(path) - shapely.area(cut.within_path)) <= room


@settings(max_examples=20)
@given(st.integers(0, 10**6).filter(lambda seed: is_sound(random_outline(seed))), KERFS)
def test_half_a_kerf_off_random_outlines(seed: int, kerf: float) -> None:
    is_beside(drawn(outline(*random_outline(seed)), kerf))


@pytest.mark.parametrize(
    "area",
    [
        rect(0, 0, 30, 20),
        Polygon([(0, 0), (60, 0), (0, 45)]),
        shapely.union_all([rect(0, 0, 10, 10), rect(10, 10, 20, 20)]),  # touch in a point
        shapely.union_all([rect(0, 0, 10, 10), rect(10.6, 0, 20, 10)]),  # nearer than the kerf
        shapely.difference(rect(0, 0, 30, 30), rect(10, 10, 10.9, 30)),  # too narrow a slot
        Polygon([(0, 0), (30, 0), (30, 0.001), (15, 20)]),  # a side shorter than the tolerance
        Polygon([(0, 0), (30, 0), (30.0, 20), (15, 20.0001), (0, 20)]),  # hardly a corner
        Polygon([(0, 0), (30, 0), (30.0, 20), (15, 19.9999), (0, 20)]),
    ],
)
def test_half_a_kerf_off_odd_outlines(area: Area) -> None:
    is_beside(cut_of("front", many(area), STOCK, kerf=KERF))


# Tabs.


def cut_with_tabs(*places: tuple[float, float], kerf: float = KERF, width: float = 2.0) -> Cut:
    return cut_of("front", rect(10, 10, 50, 30), STOCK, kerf=kerf, tabs=places, width=width)


def lengths(pieces: tuple[Stretch, ...]) -> list[float]:
    return sorted(sum(map(length_of, s.pieces)) for s in pieces)


def stretches(tabs: Sequence[Tab]) -> list[shapely.LineString]:
    return [tab.stretch for tab in tabs]


def test_an_outline_without_tabs_is_closed() -> None:
    cut = cut_with_tabs()
    left, around = beside(outline_rings(cut), stretches(cut.tabs))
    assert [s.closed for s in around] == [True]
    assert left == ()


def test_tabs_break_the_outline_at_their_width_and_a_kerf() -> None:
    cut = cut_with_tabs((30, 10), (50, 20))
    left, around = beside(outline_rings(cut), stretches(cut.tabs))
    assert lengths(left) == pytest.approx([3, 3])  # a tab of 2 mm and half a kerf at either end
    assert not any(s.closed for s in around)
    assert lengths(around) == pytest.approx([27, 87])
    left, around = beside(path_of(cut), stretches(cut.tabs))
    assert lengths(left) == pytest.approx([3, 3])
    assert sum(lengths(around)) == pytest.approx(120 + math.pi - 6)


@pytest.mark.parametrize("other_way", [False, True])
def test_an_outline_without_tabs_stays_closed_beside_one_with(other_way: bool) -> None:
    pair = many(shapely.union_all([rect(5, 5, 15, 15), rect(25, 5, 45, 25)]))
    cut = cut_of("front", pair, STOCK, kerf=KERF, tabs=[(30, 5)])
    rings = outline_rings(cut)[:: -1 if other_way else 1]
    left, around = beside(rings, stretches(cut.tabs))
    assert lengths(tuple(s for s in around if s.closed)) == pytest.approx([40])
    assert lengths(tuple(s for s in around if not s.closed)) == pytest.approx([77])
    assert lengths(left) == pytest.approx([3])


def test_which_way_the_line_of_a_tab_runs_does_not_matter() -> None:
    cut = cut_with_tabs((30, 10), (10, 10))
    back = [replace(tab, stretch=shapely.reverse(tab.stretch)) for tab in cut.tabs]
    for rings in (outline_rings(cut), path_of(cut)):
        left, there = beside(rings, stretches(cut.tabs))
        left_again, again = beside(rings, stretches(back))
        assert lengths(left_again) == pytest.approx(lengths(left))
        assert lengths(again) == pytest.approx(lengths(there))


def test_tabs_that_overlap_are_one_gap() -> None:
    cut = cut_with_tabs((30, 10), (31, 10), (29.5, 10))
    _, around = beside(outline_rings(cut), stretches(cut.tabs))
    assert lengths(around) == pytest.approx([120.0 - 3.5 - 1.0])


def test_a_tab_over_the_start_of_the_ring() -> None:
    cut = cut_with_tabs((10, 10))
    (left,), (kept,) = beside(outline_rings(cut), stretches(cut.tabs))
    assert len(left.pieces) == 2
    assert sum(map(length_of, (*kept.pieces, *left.pieces))) == pytest.approx(120)


def test_a_tab_on_an_arc_leaves_arcs() -> None:
    cut = drawn(outline(circle((50.0, 50.0), 30.0)))
    tab = tab_at(cut, (80.0, 50.0), 2.0)
    (left,), (kept,) = beside(outline_rings(cut), stretches([tab]))
    assert [radius_of(p) for p in (*kept.pieces, *left.pieces) if isinstance(p, Arc)]
    assert all(isinstance(p, Arc) and p.centre == (50.0, 50.0) for p in kept.pieces)
    # the path's ends, on a circle half a kerf larger, are a tab and a kerf apart
    long = 2.0 * 30.0 * math.asin((2.0 + KERF) / 2.0 / (30.0 + KERF / 2.0))
    assert sum(map(length_of, left.pieces)) == pytest.approx(long, abs=4 * TOLERANCE)
    assert kept.pieces[-1].end == pytest.approx(left.pieces[0].start, abs=1e-9)


@pytest.mark.parametrize("kerf", [0.0, 0.1, 1.0, 6.0])
def test_the_shape_of_a_tab_covers_what_stays_of_its_stretch_and_nothing_else(kerf: float) -> None:
    cut = cut_with_tabs((30, 10), (50, 20), (10, 30), kerf=kerf)
    for tab in cut.tabs:
        shape = Polygon(tab_shape(cut, tab))
        assert shapely.contains(shapely.buffer(shape, 1e-9), kept(cut, tab))
        covered = shapely.length(shapely.intersection(shape, cut.path))
        assert covered == pytest.approx(kept(cut, tab).length, abs=1e-6)
    for tab in cut.tabs[:2]:  # no corner near them
        assert kept(cut, tab).length == pytest.approx(tab.stretch.length - cut.width, abs=1e-6)


@pytest.mark.parametrize(("kerf", "wide"), [(1.0, 1.0), (0.1, 0.2), (0.0, 0.2)])
def test_the_shape_of_a_tab_is_as_wide_as_the_kerf_or_a_tenth_of_the_tab(
    kerf: float, wide: float
) -> None:
    """A tab of 2 mm on the lower side, whose path lies half a kerf below 10."""
    cut = cut_with_tabs((30, 10), kerf=kerf)
    u0, v0, u1, v1 = Polygon(tab_shape(cut, cut.tabs[0])).bounds
    middle = 10 - cut.width / 2
    assert (u0, v0, u1, v1) == pytest.approx((29, middle - wide / 2, 31, middle + wide / 2))


@pytest.mark.parametrize("at", [(10, 30), (30, 20)])
def test_the_shape_of_a_tab_round_a_corner_reaches_no_further_than_half_its_width(
    at: tuple[float, float],
) -> None:
    """Round an outer corner, where the path is an arc, and in an inside one, where it is sharp."""
    area = many(shapely.difference(rect(10, 10, 50, 30), rect(30, 20, 60, 40)))
    cut = cut_of("front", area, STOCK, kerf=KERF, tabs=[at])
    (tab,) = cut.tabs
    corners = tab_shape(cut, tab)
    # square ends at half the width, and joints cut off short of it
    stays = kept(cut, tab)
    assert shapely.distance(stays, shapely.points(corners)).max() == pytest.approx(KERF / 2)
    covered = shapely.intersection(cut.path, Polygon(corners))
    assert covered.length == pytest.approx(stays.length, abs=1e-6)


def test_the_shape_of_a_tab_in_a_slot_does_not_reach_over_it() -> None:
    """Where the two sides of the path are 0.4 mm apart, and a tenth of the tab is 0.8 mm wide."""
    comb = many(shapely.difference(rect(0, 0, 40, 30), rect(19.75, 10, 20.25, 30)))
    cut = cut_of("front", comb, STOCK, kerf=0.1, tabs=[(19.75, 20)], width=8.0)
    (tab,) = cut.tabs
    shape = Polygon(tab_shape(cut, tab))
    covered = shapely.intersection(shape, cut.path)
    assert shapely.length(covered) == pytest.approx(8.0, abs=1e-6)
    assert shape.area == pytest.approx(8.0 * 0.8 / 2)  # half of it is enough


def test_a_tab_across_the_gap_between_two_outlines() -> None:
    """Their path is one, as they are nearer than the kerf: on each the tab's own part stays."""
    pair = many(shapely.union_all([rect(0, 0, 10, 10), rect(10.6, 0, 20, 10)]))
    cut = cut_of("front", pair, STOCK, kerf=KERF)
    tab = tab_at(cut, (9.0, 10.5), 4.0)
    left, _ = beside(outline_rings(cut), stretches([tab]))
    ends = sorted((p.start, p.end) for s in left for p in s.pieces)
    assert all(
        min(math.dist(e, (10.0, 10.0)), math.dist(e, (10.6, 10.0))) < 4.0 for p in ends for e in p
    )
    assert sum(lengths(left)) <= tab.stretch.length


def test_a_tab_that_ends_round_the_corner_of_another_outline_leaves_that_whole() -> None:
    """Its cut ends in the arc about the corner at 10.6: there it stands on that point."""
    pair = many(shapely.union_all([rect(0, 0, 10, 10), rect(10.6, 0, 20, 10)]))
    cut = cut_of("front", pair, STOCK, kerf=KERF)
    tab = tab_at(cut, (9.5, 10.5), 1.0)
    assert 10.4 < tab.stretch.bounds[2] < 10.6
    left, around = beside(outline_rings(cut), stretches([tab]))
    assert [one.closed for one in around] == [False, True]
    assert lengths(left) == pytest.approx([10.0 - tab.stretch.bounds[0]])


@pytest.mark.parametrize("up", [1.3, 1.6, 1.9])
def test_a_tab_in_a_valley_between_two_outlines_stays_on_both_walls(up: float) -> None:
    """Their walls lean apart; the path turns where they are a kerf apart, and runs beside both.

    Beside straight walls path and outline are equally long. A tab is followed in 16 steps
    and at its corners, so that of the step in which it changes sides only what lies before
    or behind the corner, which is as near to both, is on neither outline.
    """
    left_block = Polygon([(5, 5), (19.8, 5), (14.8, 35), (5, 35)])
    right_block = Polygon([(20.2, 5), (35, 5), (35, 35), (25.2, 35)])
    cut = cut_of("front", many(shapely.union_all([left_block, right_block])), STOCK, kerf=KERF)
    cosine = 30 / math.hypot(5, 30)
    valley = 5 + (KERF / 2 / cosine - 0.2) * 6
    tab = tab_at(cut, (20 - up * cosine / 6, valley + up * cosine), 4.0)
    turn = tab.stretch.project(Point(20, valley), normalized=True) * 16
    assert 8 < turn < 10  # in the ninth step, or in the tenth
    left, _ = beside(outline_rings(cut), stretches([tab]))
    assert len(left) == 2
    lost = tab.stretch.length - sum(lengths(left))
    halves = [share * tab.stretch.length / 16 for share in (turn % 1, 1 - turn % 1)]
    assert min(abs(lost - half) for half in halves) < 1e-9  # rounding


def test_tabs_all_round_leave_nothing_to_cut() -> None:
    every = shapely.segmentize(rect(10, 10, 50, 30).exterior, 6.0)
    cut = cut_with_tabs(*shapely.get_coordinates(every).tolist(), width=8.0)
    _, around = beside(outline_rings(cut), stretches(cut.tabs))
    assert around == ()
