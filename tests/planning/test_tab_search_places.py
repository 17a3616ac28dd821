"""Places for tabs: where they lie, and what is predicted of them is what the simulation shows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Polygon, box

from silhouette3d.geometry.frames import VIEWS, View, view_along
from silhouette3d.geometry.removal import stock_solid
from silhouette3d.geometry.solid import Solid, together
from silhouette3d.geometry.stock import Stock
from silhouette3d.planning.kerf_wall import KerfWall, Seen, section, seen_of
from silhouette3d.planning.tab_search import MOST_PLACES, TabCandidate, _Search, places_for
from silhouette3d.process.cut import Cut
from silhouette3d.process.stages import SPACING, CutSimulation, Stage, figures, is_in
from silhouette3d.process.tab_remnants import joins, standing, standing_section, tab_remnants
from silhouette3d.process.tab_remnants import section as section_at
from silhouette3d.process.tabs import rings
from tests.planning.test_tab_search import CUBE, DIAMOND, ROUNDING, SQUARE, WIDTH, added, bare
from tests.support.cut_jobs import cut_of, cutting_of, random_job, round_ends
from tests.support.shapes import many, rect

# --- prediction and simulation -----------------------------------------------------------------


def check_prediction(cutting: CutSimulation, i: int, place: TabCandidate) -> None:
    """One tab alone: its section before the last cut, and what stays of it."""
    last = len(cutting.cuts) - 1
    job = added(cutting, [place])
    stages = job.stages(range(len(job.cuts)), clear_offcuts=False)
    others = [c for k, c in enumerate(job.cuts) if k not in {i, last}]

    def own(stage: Stage, within: Sequence[Cut]) -> Solid:
        """The part's own bodies, the waste beyond all kerfs cut away."""
        solid = together([body.solid for body in stage.bodies if body.is_part])
        for cut in (job.cuts[i], *within):
            solid = solid.within(cut.profile.to_view(cut.within_kerf), cut.profile.view)
        return together([b for b in solid.bodies if any(is_in(p, b) for p in job.finished.bodies)])

    before, after = stages[last - 1], stages[last]
    cut = job.cuts[i]
    holds = section_at(cut, cut.tabs[-1], own(before, others))
    assert place.holding == pytest.approx(holds, abs=ROUNDING, rel=ROUNDING)
    stays = standing(cut, own(after, [*others, job.cuts[last]])).volume / cut.width
    assert place.witness == pytest.approx(stays, abs=ROUNDING, rel=ROUNDING)
    if len(set(before.pieces)) == 1:
        # what waste it joins adds to it where another cut goes through that as well
        whole = standing_section(job.cuts[i], before)
        assert whole >= place.holding - ROUNDING
        assert others or whole == pytest.approx(place.holding, abs=ROUNDING, rel=ROUNDING)
    if not joins(after, job.cuts):
        volume = sum(stub.volume for stub in tab_remnants(after, job.cuts))
        # stubs less than 1e-4 mm high are none, on tabs up to 20 mm long
        assert volume / job.cuts[i].width == pytest.approx(
            place.witness, abs=2e-4 * WIDTH * 20, rel=ROUNDING
        )


@pytest.mark.parametrize("seed", range(10))
def test_what_is_predicted_is_what_the_simulation_shows(seed: int) -> None:
    job = bare(random_job(300 + seed, aligned=seed % 2 == 0, least_cuts=2).cuts)
    last = len(job.cuts) - 1
    for i in range(last):
        for place in places_for(job, i, last, WIDTH)[:2]:
            check_prediction(job, i, place)


@pytest.mark.big
def test_what_is_predicted_is_what_the_simulation_shows_in_many_jobs() -> None:
    for seed in range(150):
        job = bare(random_job(5000 + seed, aligned=seed % 2 == 0, least_cuts=2).cuts)
        last = len(job.cuts) - 1
        for i in range(last):
            for place in places_for(job, i, last, WIDTH)[:3]:
                check_prediction(job, i, place)


def test_the_section_of_a_slanted_tab() -> None:
    """From above, a triangle: along the front tab at u, the stock inside it is as deep as it."""
    triangle = Polygon([(0, 0), (40, 0), (40, 40)])
    job = cutting_of(
        [
            cut_of("front", rect(5, 5, 35, 35), CUBE),
            cut_of("top", triangle, CUBE),
            cut_of("right", rect(5, 5, 35, 35), CUBE),
        ]
    )
    for place in places_for(job, 0, 2, WIDTH):
        check_prediction(job, 0, place)
        if 6.5 < place.at[0] < 33.5:  # above or below, clear of the corners: depth = u, 2 mm wide
            assert place.holding == pytest.approx(WIDTH * place.at[0], rel=1e-6)


# --- where they lie ----------------------------------------------------------------------------


def test_places_lie_in_the_stock() -> None:
    """The outline's left and lower sides lie on the block's faces: there is nothing to hold."""
    job = cutting_of(
        [cut_of("front", rect(0, 0, 30, 30), CUBE), cut_of("top", rect(5, 5, 20, 35), CUBE)]
    )
    found = places_for(job, 0, 1, WIDTH)
    assert len(found) == MOST_PLACES  # none is lost to places outside
    for place in found:
        u, v = place.at
        assert 0.0 <= u <= 40.0
        assert 0.0 <= v <= 40.0
        check_prediction(job, 0, place)


def test_six_places_at_most() -> None:
    """Two sides of 60 mm, free of marks, have room for eight each."""
    area = rect(10, 10, 70, 70)
    stock = Stock((80.0, 80.0, 80.0))
    job = cutting_of([cut_of("front", area, stock), cut_of("top", area, stock)])
    assert len(places_for(job, 0, 1, WIDTH)) == 6


def test_places_that_hold_nothing_are_none_however_few_marks_they_leave() -> None:
    """The path runs off the stock on the left and below; on the right and above are marks."""
    front = cut_of("front", rect(0, 0, 30, 30), CUBE)
    found = places_for(cutting_of([front, cut_of("top", rect(0, 5, 35, 35), CUBE)]), 0, 1, WIDTH)
    assert found
    assert all(place.leaves_a_mark and place.holding > 0.0 for place in found)


def test_no_places_where_there_is_no_room_for_a_tab() -> None:
    """Round an island of 0.3 mm the path is 4.3 mm long; a tab and its kerfs take 3 mm of it."""
    island = many(shapely.union(SQUARE, rect(1.0, 1.0, 1.3, 1.3)))
    job = cutting_of([cut_of("front", island, CUBE), cut_of("top", rect(-1, 5, 41, 35), CUBE)])
    found = places_for(job, 0, 1, WIDTH)
    assert found
    assert all(max(place.at) > 4.0 for place in found)


def test_places_lie_far_apart() -> None:
    """The second is on the other side, for it is as strong there; none is within three widths."""
    job = cutting_of([cut_of("front", SQUARE, CUBE), cut_of("top", rect(5, 5, 35, 35), CUBE)])
    first, second, *more = (np.array(place.at) for place in places_for(job, 0, 1, WIDTH))
    assert sorted([first[0], second[0]]) == pytest.approx([4.5, 35.5])
    for a, b in combinations([first, second, *more], 2):
        assert np.linalg.norm(a - b) > 3.0 * WIDTH


def test_the_third_place_lies_midway_between_the_first_two() -> None:
    """Where only the left side is free of marks and holds the same all along."""
    job = cutting_of([cut_of("front", SQUARE, CUBE), cut_of("top", rect(5, 5, 40, 35), CUBE)])
    first, second, third, *_ = (np.array(place.at) for place in places_for(job, 0, 1, WIDTH))
    assert first[0] == second[0] == pytest.approx(4.5)
    # places are tried every half width: the one nearest to the middle is half of that off at most
    assert third == pytest.approx((first + second) / 2, abs=WIDTH / 4)


def test_as_many_places_as_lie_more_than_three_widths_apart() -> None:
    """Two sides of 12 mm are free of marks, with room for two each: no other is further off."""
    area = rect(14, 14, 26, 26)
    job = cutting_of([cut_of("front", area, CUBE), cut_of("top", area, CUBE)])
    found = places_for(job, 0, 1, WIDTH)
    assert len(found) == 4
    for a, b in combinations(found, 2):
        assert math.dist(a.at, b.at) > 3 * WIDTH
    search = search_of(job)
    (ring,) = search.rings
    free = [place for place in search.on(ring) if not place.leaves_a_mark]
    off = [min(math.dist(place.at, one.at) for one in found) for place in free]
    assert max(off) <= 3 * WIDTH


def test_places_lie_in_a_round_bar() -> None:
    bar = Stock((40.0, 40.0, 40.0), diameter=40.0)
    job = cutting_of(
        [cut_of("front", rect(2, 5, 38, 35), bar), cut_of("right", rect(8, 8, 32, 32), bar)]
    )
    found = places_for(job, 0, 1, WIDTH)
    assert found
    for place in found:
        check_prediction(job, 0, place)


def test_no_places_in_holes() -> None:
    """A tab there would hold the slug to the part, and the part to nothing."""
    area = Polygon(SQUARE.exterior, [rect(12, 12, 28, 28).exterior])
    job = cutting_of([cut_of("front", area, CUBE), cut_of("top", DIAMOND, CUBE)])
    for place in places_for(job, 0, 1, WIDTH):
        assert not (12 < place.at[0] < 28 and 12 < place.at[1] < 28)


def test_the_mark_free_place_is_found_however_small() -> None:
    """From above, the part is wider than from the front but for a notch 4 mm wide."""
    notch = Polygon([(0, 0), (40, 0), (40, 18), (34, 18), (34, 22), (40, 22), (40, 40), (0, 40)])
    job = cutting_of(
        [
            cut_of("front", SQUARE, CUBE),
            cut_of("right", rect(18.5, 5, 21.5, 35), CUBE),
            cut_of("top", notch, CUBE),
        ]
    )
    best = places_for(job, 0, 2, WIDTH)[0]
    assert not best.leaves_a_mark
    assert best.at[0] == pytest.approx(35.5)
    assert best.holding == pytest.approx(WIDTH * 3.0)


@pytest.mark.parametrize("kerf", [1.0, 0.05, 0.0])
def test_a_place_beside_which_the_last_cut_would_leave_a_low_stub_is_not_mark_free(
    kerf: float,
) -> None:
    """From above the part reaches 0.3 kerfs further left than from the front, flush right."""
    front = cut_of("front", SQUARE, CUBE, kerf=kerf)
    further = 0.3 * front.width  # which is never quite 0
    top = cut_of("top", rect(5 - further, 5, 35, 35), CUBE, kerf=kerf)
    found = places_for(cutting_of([front, top]), 0, 1, WIDTH)
    assert found
    assert [place.at[0] for place in found] == pytest.approx([35 + front.width / 2] * len(found))
    assert not any(place.leaves_a_mark for place in found)


def search_of(cutting: CutSimulation, width: float = WIDTH) -> _Search:
    """The search for tabs of the first cut that hold until the last."""
    return _Search(cutting, 0, len(cutting.cuts) - 1, width)


@pytest.mark.parametrize(("side", "has_room"), [(1.3, False), (2.2, True)])
def test_room_for_a_tab_is_its_width_and_a_kerf_across(side: float, has_room: bool) -> None:
    """Round a square the path is a kerf wider: 2.84 mm across its corners, or 3.2 mm and more."""
    area = rect(20, 20, 20 + side, 20 + side)
    job = cutting_of([cut_of("front", area, CUBE), cut_of("top", area, CUBE)])
    assert bool(places_for(job, 0, 1, WIDTH)) is has_room


@pytest.mark.parametrize("width", [8.0, 2.0, 0.1])
def test_places_are_tried_every_half_width_or_at_400_places(width: float) -> None:
    job = cutting_of([cut_of("front", SQUARE, CUBE), cut_of("top", DIAMOND, CUBE)])
    search = search_of(job, width)
    (ring,) = search.rings
    marks = sum(len(marked.geoms) for _, marked in search.beside)
    row = search._stations(ring)[: -2 * marks]
    step = max(width / 2, ring.length / 400)
    assert row == pytest.approx(np.arange(len(row)) * step)
    assert row[-1] < ring.length <= row[-1] + step * (1 + 1e-9)  # summed up with rounding


@pytest.mark.parametrize("up", [0.0, 0.5, 1.5])
def test_both_ends_of_a_stretch_without_marks_are_tried(up: float) -> None:
    """A lug 4.6 mm high, flush with the last outline, between walls that are not.

    A tab of 4 mm fits twice: clear of the kerf above it, or below. The row passes it by.
    """
    low, high = 15 + up, 15 + up + 4.6
    lug = many(shapely.union(SQUARE, rect(3, low, 10, high)))
    top = cut_of("top", rect(3, 5, 40, 35), CUBE, kerf=0.2)
    search = search_of(cutting_of([cut_of("front", lug, CUBE, kerf=0.2), top]), 4.0)
    (ring,) = search.rings
    found = [p.at[1] for p in search.on(ring) if not p.leaves_a_mark and p.holding > 159.0]
    assert any(low + 2.0 <= v <= low + 2.2 for v in found)
    assert any(high - 2.2 <= v <= high - 2.0 for v in found)


def test_marks_are_those_beside_the_outline_that_the_tab_is_on() -> None:
    """Two blocks: the last outline is flush with the left one's left and the right one's right."""
    pair = many(shapely.union(rect(5, 5, 17, 35), rect(23, 5, 35, 35)))
    job = cutting_of([cut_of("front", pair, CUBE), cut_of("top", rect(5, 5, 35, 35), CUBE)])
    search = search_of(job)
    for ring in search.rings:
        for place in list(search.on(ring))[::9]:
            solid = search.measured(place)
            assert place.holding == pytest.approx(solid.holding, rel=ROUNDING)
            assert place.leaves_a_mark is solid.leaves_a_mark
            assert place.leaves_a_mark is not (round(place.at[0], 6) in {4.5, 35.5})


def test_as_little_as_it_may_hold_if_no_more_is_asked_for() -> None:
    """On the left the part is 0.3 mm thick, which leaves no mark; elsewhere there is one."""
    thin = many(shapely.union(rect(0, 19.85, 6.5, 20.15), rect(6, 5, 40, 35)))
    last = cut_of("bottom", rect(5, -1, 41, 41), CUBE)
    job = cutting_of([cut_of("front", SQUARE, CUBE), cut_of("top", thin, CUBE), last])
    found = places_for(job, 0, 2, WIDTH)
    assert found
    assert all(place.holding == pytest.approx(WIDTH * 0.3) for place in found)
    assert not any(place.leaves_a_mark for place in found)
    more = places_for(job, 0, 2, WIDTH, 1.0)
    assert more
    assert all(place.holding >= 1.0 and place.leaves_a_mark for place in more)


def test_where_all_leave_marks_the_lowest_stub_is_chosen_not_the_smallest_footprint() -> None:
    """The last outline stands 0.8 mm out on the left, 29 mm deep, and 0.2 mm on the right, 29.5."""
    parts = rect(13.2, 5, 15, 34), rect(14.5, 5, 25.5, 35), rect(25, 5, 26.2, 34.5)
    top = cut_of("top", many(shapely.union_all(parts)), CUBE)
    found = places_for(cutting_of([cut_of("front", rect(14, 14, 26, 26), CUBE), top]), 0, 1, WIDTH)
    assert found
    for place in found:
        assert place.at[0] == pytest.approx(26.5)
        # the disc's polygon is inside it by 0.01 mm at most, on some 0.4 mm at either end
        low = WIDTH * 0.2 + round_ends(1.0, 0.2)
        assert place.witness == pytest.approx(low * 29.5, abs=2 * 0.4 * 0.01 * 29.5)


def test_a_mark_of_no_size_is_none() -> None:
    place = TabCandidate(0, (0.0, 0.0), WIDTH, 80.0, 0.0)
    assert not place.leaves_a_mark
    assert replace(place, witness=2e-6).leaves_a_mark


# --- curtains ----------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(8))
def test_the_curtain_is_the_stock_along_the_path(seed: int) -> None:
    """Whatever the view and the stock, its area is what the cut has to go through."""
    bar = Stock((16.0, 16.0, 20.0), diameter=16.0)
    views: list[str | View] = ["front", "top", view_along((1.0, 0.3, 0.0), (0.0, 0.0, 1.0))]
    area = Polygon([(2 + seed / 4, 2), (13, 4 - seed / 2), (12 + seed, 13), (5, 11 + seed / 3)])
    for stock in (bar, Stock((14.0, 18.0, 20.0)), replace(bar, size=(16, 20, 16), along="y")):
        for view in views:
            cut = cut_of(view, area, stock, kerf=1.0)
            hung = sum(KerfWall(cut, ring).inside(seen_of(stock)).area for ring in rings(cut))
            taken = figures(cut, [stock_solid(stock)])
            # a piece of path counts as thick as at its middle: up to four ends in the stock's edge
            assert hung == pytest.approx(
                taken.area, abs=4 * SPACING / 2 * taken.stock_thickness, rel=1e-3
            )


@pytest.mark.parametrize("start", [-3.0, 0.0, 5.5, 38.0, 41.0])
def test_a_section_may_run_over_the_first_point_of_the_line(start: float) -> None:
    area = MultiPolygon([box(0, 0, 40, 10)])
    assert section(area, start, start + 4.0, 40.0) == pytest.approx(40.0)


def test_the_section_between_two_stations() -> None:
    """A curtain of 20 mm: a strip 3 mm high from station 2 to 18, also across its first point."""
    strip = MultiPolygon([rect(2, 5, 18, 8)])
    assert section(strip, 4, 6, 20.0) == pytest.approx(6.0)
    assert section(strip, -4, 4, 20.0) == pytest.approx(3 * (2 + 2))
    assert section(strip, 16, 24, 20.0) == pytest.approx(3 * (2 + 2))
    assert section(strip, 18.5, 21.5, 20.0) == 0.0
    assert section(MultiPolygon(), 4, 6, 20.0) == 0.0


def test_a_curtain_inside_an_area_of_another_view() -> None:
    """What hangs at x < 17: half of the path, less 3 mm on either side of its middle."""
    cut = cut_of("front", rect(10, 10, 30, 30), CUBE)
    (ring,) = rings(cut)
    left = Seen(MultiPolygon([rect(-1, -1, 17, 41)]), VIEWS["top"])
    found = KerfWall(cut, ring).inside([left])
    assert found.area == pytest.approx((ring.length / 2.0 - 2 * 3.0) * 40.0, rel=1e-9)


@pytest.mark.parametrize("along", ["x", "y", "z"])
def test_a_curtain_ends_where_the_stock_does(along: str) -> None:
    """Paths that run out of a block above and to its right: as far as they lie on its face."""
    stock = Stock((40.0, 30.0, 50.0), along=along)
    for view in ("front", "right", "top"):
        face = stock.face(VIEWS[view])
        width, height = face.size
        cut = cut_of(view, rect(10, 10, width + 5, height + 5), stock)
        (ring,) = rings(cut)
        on_face = shapely.intersection(ring, shapely.box(0, 0, width, height)).length
        found = KerfWall(cut, ring).inside(seen_of(stock))
        assert found.area == pytest.approx(on_face * face.thickness, rel=1e-9)
