"""Tabs found for the designer: few, and what is said of them is what the simulation shows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from shapely import Polygon

from silhouette3d.geometry.stock import Stock
from silhouette3d.job.model import job_from
from silhouette3d.model.job_values import tab_changes
from silhouette3d.planning.tab_search import (
    LONG,
    Proposal,
    TabCandidate,
    _loose_before_last,
    _strength,
    places_for,
    propose,
)
from silhouette3d.process.cut import Cut
from silhouette3d.process.stages import CutSimulation, Stage
from silhouette3d.process.tab_remnants import joins, standing_section
from tests.support.cut_jobs import (
    cut_of,
    cutting_of,
    random_job,
    round_ends,
    stages_of,
    with_tabs_at,
)
from tests.support.shapes import rect

CUBE = Stock((40.0, 40.0, 40.0))
WIDTH, TAB_AREA = 2.0, 5.0
ROUNDING = 1e-6
"""mm². Walls are rounded to 1e-9 mm, on tabs 2 mm wide and as long as the stock is deep."""

SQUARE = rect(5, 5, 35, 35)
DIAMOND = Polygon([(20, 5), (35, 20), (20, 35), (5, 20)])


def added(cutting: CutSimulation, places: Sequence[TabCandidate]) -> CutSimulation:
    """The same cuts with tabs more."""
    cuts = list(cutting.cuts)
    for place in places:
        cuts[place.cut] = with_tabs_at(cuts[place.cut], [place.at], place.width)
    return cutting_of(cuts, [clamping.clamp for clamping in cutting.clampings])


def proposed(
    cutting: CutSimulation, *, tab_area: float = TAB_AREA, clear_offcuts: bool = True
) -> Proposal:
    return propose(
        cutting,
        range(len(cutting.cuts)),
        width=WIDTH,
        tab_area=tab_area,
        clear_offcuts=clear_offcuts,
    )


def simulated(cutting: CutSimulation, places: Sequence[TabCandidate]) -> tuple[Stage, ...]:
    return added(cutting, places).stages(range(len(cutting.cuts)), clear_offcuts=True)


def bare(job_cuts: Sequence[Cut]) -> CutSimulation:
    return cutting_of([replace(cut, tabs=()) for cut in job_cuts])


def three(top: Polygon = DIAMOND) -> CutSimulation:
    return cutting_of(
        [cut_of("front", SQUARE, CUBE), cut_of("right", SQUARE, CUBE), cut_of("top", top, CUBE)]
    )


def check_proposal(cutting: CutSimulation, found: Proposal) -> None:
    """What it says is what the simulation shows."""
    stages = simulated(cutting, found.places)
    held = all(s.part_was_held for s in stages) and all(s.part_is_held for s in stages[:-1])
    assert found.holds == held
    assert found.frees == (not joins(stages[-1], [stage.cut for stage in stages]))


@pytest.mark.parametrize("seed", range(8))
def test_a_proposal_keeps_its_word(seed: int) -> None:
    job = bare(random_job(400 + seed, aligned=seed % 2 == 0, least_cuts=2).cuts)
    found = proposed(job)
    check_proposal(job, found)
    before = simulated(job, [])
    if all(s.part_was_held for s in before) and all(s.part_is_held for s in before[:-1]):
        assert found.places == ()
    elif found.holds:
        assert found.places
        for place in found.places:  # none of them is idle
            rest = [p for p in found.places if p is not place]
            stages = simulated(job, rest)
            lost = not all(s.part_was_held for s in stages) or not all(
                s.part_is_held for s in stages[:-1]
            )
            assert (
                lost
                or weakest(stages) < weakest(simulated(job, found.places))
                or (more_loose(stages, simulated(job, found.places)))
            )


def weakest(stages: Sequence[Stage]) -> float:
    sections = [
        standing_section(stage.cut, later)
        for k, stage in enumerate(stages[:-1])
        if stage.cut.tabs
        for later in stages[k:-1]
    ]
    return min([section for section in sections if section > 0.0], default=np.inf)


def more_loose(one: Sequence[Stage], other: Sequence[Stage]) -> bool:
    first, second = (sum(len(stage.loose) for stage in stages[:-1]) for stages in (one, other))
    return first > second


@pytest.mark.big
def test_many_proposals_keep_their_word() -> None:
    held = 0
    for seed in range(120):
        job = bare(random_job(7000 + seed, aligned=seed % 2 == 0, least_cuts=2).cuts)
        found = proposed(job, clear_offcuts=True)
        check_proposal(job, found)
        held += found.holds
    assert held > 60  # of random outlines; most of the others are in pieces before the last cut


def test_what_counts_as_strength() -> None:
    """Held before every cut and after all but the last: the weaker cut's tabs, or −1."""
    cuts = [
        cut_of("front", SQUARE, CUBE, tabs=[(5, 20)], width=2.0),
        cut_of("right", SQUARE, CUBE, tabs=[(5, 20)], width=3.0),
        cut_of("top", DIAMOND, CUBE),
    ]
    first, second, last = simulated(cutting_of(cuts), [])

    def loose(stage: Stage) -> Stage:
        return replace(stage, bodies=tuple(replace(b, is_held=False) for b in stage.bodies))

    assert _strength([first, second, last]) == pytest.approx(weakest([first, second, last]))
    assert _strength([first, second, loose(last)]) > 0.0
    assert _strength([first, loose(second), last]) == -1.0
    assert _strength([loose(first), second, last]) == -1.0
    for k in range(3):
        stages = [first, second, last]
        stages[k] = replace(stages[k], part_was_held=False)
        assert _strength(stages) == -1.0


def test_loose_before_the_last_cut_are_counted() -> None:
    """The first cut frees a slug; what the last one frees does not count."""
    frame = Polygon(SQUARE.exterior, [rect(12, 12, 28, 28).exterior])
    slug = cut_of("front", frame, CUBE, tabs=[(5, 20)])
    assert _loose_before_last(stages_of(slug, cut_of("top", DIAMOND, CUBE))) == 1
    assert _loose_before_last(stages_of(slug)) == 0


def test_two_tabs_for_three_cuts() -> None:
    found = proposed(three())
    assert found.holds
    assert found.frees
    assert sorted(place.cut for place in found.places) == [0, 1]
    assert not any(place.leaves_a_mark for place in found.places)
    check_proposal(three(), found)


def test_none_is_proposed_where_none_is_needed() -> None:
    held = cutting_of(
        [
            cut_of("front", SQUARE, CUBE, tabs=[(5, 20)]),
            cut_of("right", SQUARE, CUBE, tabs=[(5, 20)]),
            cut_of("top", DIAMOND, CUBE),
        ]
    )
    assert proposed(held) == Proposal((), holds=True, frees=True)


def test_a_tab_that_an_earlier_cut_severs_does_not_count() -> None:
    """It lies in the kerf of the second; the part stands on the block's foot, which is clamped."""
    job = cutting_of(
        [
            cut_of("front", rect(5, -1, 35, 35), CUBE, tabs=[(20, 35)]),
            cut_of("right", rect(-1, -1, 41, 35), CUBE),
            cut_of("top", DIAMOND, CUBE),
        ]
    )
    severed = standing_section(job.cuts[0], simulated(job, [])[1])
    assert severed == 0.0
    assert proposed(job).places == ()


def test_a_tab_of_less_than_a_square_millimetre_holds() -> None:
    """0.02 mm through 40 mm, if no more is asked for."""
    front = cut_of("front", SQUARE, CUBE, tabs=[(5, 20)], width=0.02)
    job = cutting_of([front, cut_of("top", DIAMOND, CUBE)])
    assert proposed(job, tab_area=0.5) == Proposal((), holds=True, frees=True)


def test_a_single_cut_needs_none() -> None:
    assert proposed(cutting_of([cut_of("top", DIAMOND, CUBE)])).places == ()


def test_an_outline_that_leaves_the_part_in_the_held_body_needs_none() -> None:
    """The first cut takes the top off; the part stays in the larger body, clamped at its foot."""
    job = cutting_of([cut_of("front", rect(-1, -1, 41, 30), CUBE), cut_of("top", DIAMOND, CUBE)])
    assert proposed(job).places == ()


def test_weak_tabs_get_company() -> None:
    cuts = [cut_of("front", SQUARE, CUBE, tabs=[(5, 20)], width=0.02), cut_of("top", DIAMOND, CUBE)]
    found = proposed(cutting_of(cuts))
    assert found.holds
    assert [place.cut for place in found.places] == [0]
    assert weakest(simulated(cutting_of(cuts), found.places)) >= TAB_AREA


def test_more_tabs_where_one_is_too_weak() -> None:
    """A tab of 2 mm through 40 mm holds with 80 mm²; for 200 mm² it takes three of them."""
    job = cutting_of([cut_of("front", SQUARE, CUBE), cut_of("top", DIAMOND, CUBE)])
    found = proposed(job, tab_area=200.0)
    assert found.holds
    assert len(found.places) == 3
    assert weakest(simulated(job, found.places)) == pytest.approx(240.0)
    apart = [
        np.hypot(*np.subtract(a.at, b.at)) for a in found.places for b in found.places if a is not b
    ]
    assert min(apart) > 6.0


def in_a_bar() -> tuple[CutSimulation, float]:
    """From the front, a square in a round bar that stands upright; and what its left side holds.

    A tab there holds with the chords of the bar that run through it, at 15 to 16 mm from
    its axis, and leaves no mark; one above or below is longer and leaves one.
    """
    bar = Stock((40.0, 40.0, 40.0), diameter=40.0)
    job = cutting_of([cut_of("front", SQUARE, bar), cut_of("top", rect(5, 5, 35, 35), bar)])
    under = [x * math.sqrt(20**2 - x**2) + 20**2 * math.asin(x / 20) for x in (15.0, 16.0)]
    return job, WIDTH * (under[1] - under[0])


def test_a_place_is_good_enough_if_two_would_hold_with_what_is_asked() -> None:
    """50 mm² without a mark, or up to 80 with one: both hold with half of 30, one with half of 110.

    Of those that are good enough the best is the first.
    """
    job, side = in_a_bar()
    found = proposed(job, tab_area=30.0)
    assert found.places == (places_for(job, 0, 1, WIDTH, 15.0)[0],)
    (place,) = found.places
    assert abs(place.at[0] - 20.0) == pytest.approx(15.5)
    # the bar's flat sides lie up to 0.01 mm inside its circle, which a chord 16 mm off the axis
    # meets at both ends, asin(16 / 20) from square
    flats = 2 * 0.01 / math.cos(math.asin(16 / 20))
    assert place.holding == pytest.approx(side, abs=WIDTH * flats)
    assert not place.leaves_a_mark

    found = proposed(job, tab_area=110.0)
    assert found.holds
    assert all(place.holding > 55.0 and place.leaves_a_mark for place in found.places)


@pytest.mark.parametrize("depth", [40.0, 0.05])
def test_a_tab_that_holds_with_just_what_is_asked_is_enough(depth: float) -> None:
    """Also in a foil, where all six places together hold with less than a square millimetre."""
    block = Stock((40.0, depth, 40.0))
    top = rect(5, -1, 35, depth + 1)
    job = cutting_of([cut_of("front", SQUARE, block), cut_of("top", top, block)])
    best = tuple(places_for(job, 0, 1, WIDTH)[:1])
    asked = weakest(simulated(job, best))
    assert asked == pytest.approx(WIDTH * depth)
    assert proposed(job, tab_area=asked).places == best


def flat() -> CutSimulation:
    """A part of 30 × 4 × 30 mm from a plate 8 mm thick, cut from three sides."""
    block = Stock((40.0, 8.0, 40.0))
    return cutting_of(
        [
            cut_of("front", SQUARE, block),
            cut_of("right", rect(2, 5, 6, 35), block),
            cut_of("top", rect(5, 2, 35, 6), block),
        ]
    )


def test_each_cut_has_as_many_as_it_needs() -> None:
    """Tabs of the first cut hold with 4 mm of the second, those of that with 30 mm of the first."""
    job = flat()
    found = proposed(job, tab_area=20.0)
    assert found.holds
    assert [place.cut for place in found.places] == [0, 0, 1]
    assert [place.holding for place in found.places] == pytest.approx([2 * 4, 2 * 4, 2 * 30])


@pytest.mark.big
def test_no_tab_stays_for_a_rounding_error() -> None:
    """All that can be had is asked for: each tab then counts for something."""
    job = flat()
    found = proposed(job, tab_area=1e3)
    whole = weakest(simulated(job, found.places))
    for place in found.places:
        fewer = [one for one in found.places if one is not place]
        assert weakest(simulated(job, fewer)) < whole - ROUNDING


def test_no_tab_is_taken_away_that_holds_an_offcut() -> None:
    """A slab from face to face leaves waste on both sides of it, and only the left is clamped."""
    slab = cut_of("front", rect(10, -1, 30, 41), CUBE)
    job = cutting_of([slab, cut_of("top", rect(12, 5, 28, 35), CUBE)], [["left"], None])
    found = proposed(job)
    assert found.holds
    assert [place.at[0] for place in found.places] == pytest.approx([9.5, 30.5])
    assert found.places == tuple(places_for(job, 0, 1, WIDTH, TAB_AREA / 2.0)[:2])


def test_what_cannot_be_had_is_not_asked_for() -> None:
    """Six tabs at most for each profile: as much as there is."""
    job = cutting_of([cut_of("front", SQUARE, CUBE), cut_of("top", DIAMOND, CUBE)])
    found = proposed(job, tab_area=1e4)
    assert found.holds
    assert weakest(simulated(job, found.places)) == pytest.approx(6 * 80.0)


def test_where_none_is_free_of_marks_the_least_is_chosen_and_told() -> None:
    """From above the part is 30 mm deep on the left and 10 mm on the right; tabs run that way."""
    top = Polygon([(0, 5), (20, 5), (20, 15), (40, 15), (40, 25), (20, 25), (20, 35), (0, 35)])
    job = cutting_of([cut_of("front", SQUARE, CUBE), cut_of("top", top, CUBE)])
    found = proposed(job)
    assert found.holds
    assert [place.leaves_a_mark for place in found.places] == [True]
    assert found.places[0].at[0] > 22.0
    mark = WIDTH + round_ends(1.0, 1.0)  # as wide as the stub is on average, across the kerf
    assert found.places[0].witness == pytest.approx(mark * 10.0, rel=0.01)
    assert not found.frees  # it runs on into the waste beyond
    check_proposal(job, found)


def test_a_stub_that_is_severed_leaves_a_mark_but_frees() -> None:
    """The top outline stands 0.4 mm out from the front one on all sides."""
    job = cutting_of(
        [cut_of("front", SQUARE, CUBE), cut_of("top", rect(4.6, 4.6, 35.4, 35.4), CUBE)]
    )
    found = proposed(job)
    assert found.holds
    check_proposal(job, found)
    best = places_for(job, 0, 1, WIDTH)[0]
    assert best.leaves_a_mark
    assert best.at[0] < 5 or best.at[0] > 35
    # beside a corner of the outline there is less, or no round end
    low = WIDTH * 0.4 + round_ends(1.0, 0.4)
    assert WIDTH * 0.4 * 30.8 <= best.witness < low * 30.8


def test_held_by_no_tab_is_said() -> None:
    """Clamped beside the block, nothing helps: all that was tried is shown."""
    clamps = [[(-9.0, 0.0, -5.0, 5.0)], None]
    job = cutting_of([cut_of("front", SQUARE, CUBE), cut_of("top", DIAMOND, CUBE)], clamps)
    found = proposed(job)
    assert not found.holds
    assert found.places == tuple(places_for(job, 0, 1, WIDTH, TAB_AREA / 2.0))


def test_clamps_of_the_job_are_kept() -> None:
    """Clamped at the foot only, the tab must lead to the body that stands on it."""
    job = cutting_of(
        [
            cut_of("front", SQUARE, CUBE),
            cut_of("right", SQUARE, CUBE),
            cut_of("top", DIAMOND, CUBE),
        ],
        [["bottom"], ["bottom"], None],
    )
    found = proposed(job)
    check_proposal(job, found)
    assert found.holds


def test_tabs_are_written_in_the_jobs_unit() -> None:
    """To a ten-thousandth, after those the profile has."""
    has = {"at": [1.0, 2.0]}
    profiles: list[dict[str, object]] = [
        {"drawing": "a.dxf", "view": view} for view in ("front", "right", "top")
    ]
    profiles[0]["tab"] = [has]
    data = {
        "name": "a",
        "units": "in",
        "stock": {"size": [4, 4, 4], "material": "oak"},
        "profile": profiles,
    }
    places = [
        TabCandidate(0, (25.4, 12.345678), 2.54, 1.0, 0.0),
        TabCandidate(2, (50.8, 0.0), 3.0, 1.0, 0.0),
    ]
    changes = tab_changes(job_from(data), places)
    assert changes == {
        ("profile", 0, "tab"): [has, {"at": [1.0, 0.4861], "width": 0.1}],
        ("profile", 2, "tab"): [{"at": [2.0, 0.0], "width": 0.1181}],
    }


# --- long parts --------------------------------------------------------------------------------


@pytest.mark.parametrize("last", ["top", "right"])
def test_a_long_part_has_two_tabs_about_its_centre_of_mass(last: str) -> None:
    """A plate of 146 mm: free of marks are its two ends, or its two long sides."""
    block = Stock((160.0, 12.0, 60.0))
    final = rect(7, 2, 153, 10) if last == "top" else rect(2, 10, 10, 50)
    job = cutting_of([cut_of("front", rect(7, 10, 153, 50), block), cut_of(last, final, block)])
    found = proposed(job)
    assert (found.holds, found.frees) == (True, True)
    first, second = (np.array(place.at) for place in found.places)
    assert np.linalg.norm(first - second) > 146.0 / 2.0
    # places are tried every half width, and the nearest to the centre to half a tab are taken
    assert (first + second) / 2.0 == pytest.approx((80.0, 30.0), abs=WIDTH)


@pytest.mark.parametrize(("length", "count"), [(LONG * WIDTH, 1), (LONG * WIDTH + 0.1, 2)])
def test_a_part_is_long_from_some_tab_widths_on(length: float, count: int) -> None:
    block = Stock((length + 20.0, 12.0, 40.0))
    plate = cut_of("front", rect(10, 10, 10 + length, 30), block)
    job = cutting_of([plate, cut_of("top", rect(10, 2, 10 + length, 10), block)])
    assert len(proposed(job).places) == count


def test_a_long_part_whose_places_lie_all_at_one_end_has_them_there() -> None:
    """From above it is flush with the front outline at its left end only."""
    block = Stock((100.0, 12.0, 40.0))
    plate = cut_of("front", rect(10, 10, 80, 30), block)
    job = cutting_of([plate, cut_of("top", rect(10, 2, 90, 10), block)])
    found = proposed(job)
    assert found.holds
    assert [place.at[0] for place in found.places] == pytest.approx([9.5])
