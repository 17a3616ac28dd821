"""The order of cuts: every one tried, against the plain simulation of each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import chain, combinations, permutations

import pytest
from shapely import Polygon, union_all

from silhouette3d.base.units import MM3_PER_CM3
from silhouette3d.errors import CuttingError
from silhouette3d.geometry.misfit import MisfitError
from silhouette3d.geometry.stock import Stock
from silhouette3d.planning.order import MOST_CUTS, Order, orders
from silhouette3d.presentation.wording.misfits import misfit_in_words
from silhouette3d.process.clamping import Clamp
from silhouette3d.process.cut import Cut
from silhouette3d.process.stages import CutSimulation, State, Step, is_in
from tests.support.cut_jobs import cut_of, cutting_of, random_job, random_jobs
from tests.support.shapes import many, rect

CUBE = Stock((40.0, 40.0, 40.0))
DENSITY = 2.7


def simulated(
    cuts: Sequence[Cut],
    order: Sequence[int],
    clamps: Sequence[Clamp | None] | None,
    *,
    clear_offcuts: bool,
) -> Order:
    """What one order costs, from the stages of a job of its own that lists the cuts so.

    Nothing is shared with the order that is judged: the cuts are those of another job, and
    what is loose is told apart by where its bodies lie.
    """
    clamped = [clamps[i] for i in order] if clamps else None
    cutting = cutting_of([cuts[i] for i in order], clamped)
    stages = cutting.stages(range(len(order)), clear_offcuts=clear_offcuts)
    last = len(order) - 1
    released = [k for k, stage in enumerate(stages) if not stage.part_was_held]
    released += [k for k, stage in enumerate(stages[:-1], start=1) if not stage.part_is_held]
    broken = [k for k, s in enumerate(stages[:-1], start=1) if len(set(s.pieces)) > 1]
    freed = []
    for k, stage in enumerate(stages[:-1]):
        before = [body.solid for body in stages[k - 1].loose] if k else []
        freed += [b.solid for b in stage.loose if not any(is_in(b.solid, w) for w in before)]
    assert sum(len(stage.freed) for stage in stages[:last]) == len(freed)
    freed = [solid for solid in freed if solid.volume >= 1.0]  # mm³: crumbs are not told
    return Order(
        tuple(cuts[i].name for i in order),
        min(released, default=None),
        len(freed),
        sum(solid.volume for solid in freed) * DENSITY / MM3_PER_CM3,
        sum(stage.figures.area for stage in stages),
        min(broken, default=None),
    )


def tried(cutting: CutSimulation, *, clear_offcuts: bool = True) -> tuple[Order, ...]:
    return orders(cutting, DENSITY, clear_offcuts=clear_offcuts)


def check(cuts: Sequence[Cut], clamps: Sequence[Clamp | None] | None = None) -> None:
    for clear in (True, False):
        found = tried(cutting_of(cuts, clamps), clear_offcuts=clear)
        wanted = [
            simulated(cuts, order, clamps, clear_offcuts=clear)
            for order in permutations(range(len(cuts)))
        ]
        assert len(found) == len(wanted)
        by_names = {order.names: order for order in wanted}
        for order in found:
            same = by_names[order.names]
            assert replace(order, loose_mass=0.0, area=0.0) == replace(
                same, loose_mass=0.0, area=0.0
            )
            # the same solids, by other chains of sums
            assert order.loose_mass == pytest.approx(same.loose_mass, rel=1e-9, abs=1e-9)
            assert order.area == pytest.approx(same.area, rel=1e-9)
        assert [order.rank[:2] for order in found] == sorted(order.rank[:2] for order in wanted)
        assert [order.rank for order in found] == sorted(order.rank for order in found)


@pytest.mark.parametrize("seed", range(12))
def test_equals_the_stages_of_a_job_with_that_order(seed: int) -> None:
    job = random_job(500 + seed, aligned=seed % 2 == 0, least_cuts=2)
    check(job.cuts, _clamps(seed, len(job.cuts)))


@pytest.mark.big
def test_equals_the_stages_of_a_job_with_that_order_in_many_jobs() -> None:
    for k, job in enumerate(random_jobs(6, 120, least_cuts=2)):
        check(job.cuts, _clamps(k, len(job.cuts)))


def _clamps(seed: int, count: int) -> list[Clamp | None]:
    """By turns none, sides, and a different one in each setup."""
    sides: list[Clamp | None] = [["left"], ["bottom"], ["right", "top"]]
    return [None] * count if seed % 3 == 0 else [sides[(seed + i) % 3] for i in range(count)]


@pytest.mark.big
def test_four_cuts() -> None:
    cuts = [*tabbed(), cut_of("rear", rect(6, 6, 34, 34), CUBE, tabs=[(20, 6)], name="rear")]
    check(cuts)


def frame() -> list[Cut]:
    """A frame from a plate, its window first; what falls out of it is no part of the next cut."""
    plate = Stock((100.0, 10.0, 100.0))
    ring = Polygon(rect(-1, -1, 101, 101).exterior, [rect(9, 9, 91, 91).exterior])
    return [
        cut_of("front", ring, plate, name="front"),
        cut_of("top", rect(5, 3, 95, 7), plate, name="top"),
    ]


def test_what_was_lifted_out_is_not_cut_through_again() -> None:
    """The slug of 80 mm, left in place, would be what the clamps hold, and be cut as well.

    In the second setup the path of two lines of 98 mm, at y = 2.5 and 7.5, meets 16 mm of frame
    beside and above the window's 82 mm, and 80 mm of slug in 80 of these.
    """
    left, lifted = (
        {o.names: o for o in tried(cutting_of(frame()), clear_offcuts=clear)}[("front", "top")]
        for clear in (False, True)
    )
    assert left.released_after == 1
    assert lifted.released_after is None
    # the ends of the steps along the path: half a millimetre of 80 at each of four crossings
    assert left.area - lifted.area == pytest.approx(2 * 80 * 80, abs=4 * 0.5 * 80)
    check(frame())


def test_an_order_that_leaves_the_part_in_pieces_is_none_to_take() -> None:
    """Two towers on a foot: cut off from it first, they are two."""
    towers = many(union_all([rect(5, 20, 15, 41), rect(25, 20, 35, 41), rect(5, 10, 35, 20)]))
    cuts = [
        cut_of("front", towers, CUBE, tabs=[(4, 30), (36, 30), (20, 10)], name="front"),
        cut_of("right", rect(-1, 22, 41, 41), CUBE, name="right"),
        cut_of("top", rect(5, 5, 35, 35), CUBE, name="top"),
    ]
    found = {order.names: order for order in tried(cutting_of(cuts))}
    assert found[("front", "right", "top")].broken_after == 2
    assert not found[("front", "right", "top")].holds
    check(cuts)


def tabbed() -> list[Cut]:
    sides = [(5.0, 20.0), (35.0, 20.0)]
    diamond = Polygon([(20, 5), (35, 20), (20, 35), (5, 20)])
    return [
        cut_of("front", rect(5, 5, 35, 35), CUBE, tabs=sides),
        cut_of("right", rect(5, 5, 35, 35), CUBE, tabs=sides),
        cut_of("top", diamond, CUBE),
    ]


def test_the_cut_that_frees_the_part_comes_last() -> None:
    found = tried(cutting_of(tabbed()))
    assert len(found) == 6
    held = [order for order in found if order.released_after is None]
    assert {order.names[-1] for order in held} == {"top"}
    assert found[: len(held)] == tuple(held)
    assert {order.released_after for order in found if order.names[0] == "top"} == {1}


def test_equal_orders_stay_as_listed() -> None:
    """Front and right are alike: the first of the two is listed first."""
    found = tried(cutting_of(tabbed()))
    assert [order.names for order in found[:2]] == [
        ("front", "right", "top"),
        ("right", "front", "top"),
    ]


def test_fewer_loose_pieces_before_less_to_cut() -> None:
    """A slug freed by the last cut is none to lift out before it."""
    hole = Polygon(rect(5, 5, 35, 35).exterior, [rect(15, 15, 25, 25).exterior])
    cuts = [
        cut_of("front", hole, CUBE, tabs=[(20, 5)], name="front"),
        cut_of("top", rect(5, 5, 35, 35), CUBE, tabs=[(20, 5)], name="top"),
    ]
    best, other = tried(cutting_of(cuts))
    assert best.names == ("top", "front")
    assert (best.loose, other.loose) == (0, 1)
    assert other.loose_mass == pytest.approx(8 * 8 * 40 * DENSITY / 1000.0)


def test_rank_is_by_release_then_count_then_mass_then_area() -> None:
    best = Order(("a",), None, 0, 0.0, 100.0)
    worse = [
        replace(best, area=101.0),
        replace(best, loose=1, loose_mass=0.1, area=0.0),
        replace(best, loose=1, loose_mass=0.2, area=0.0),
        replace(best, loose=2, loose_mass=0.01, area=0.0),
        replace(best, released_after=2, area=0.0),
        replace(best, broken_after=1, loose=1, area=0.0),
    ]
    ranks = [best.rank, *(order.rank for order in worse)]
    assert ranks == sorted(ranks)
    assert len(set(ranks)) == len(ranks)


def test_never_held_is_released_after_no_cut() -> None:
    """The only clamp of the first setup presses beside the block."""
    cuts = tabbed()[:2]
    clamps: list[Clamp | None] = [[(-9.0, 0.0, -5.0, 5.0)], None]
    found = {o.names: o.released_after for o in tried(cutting_of(cuts, clamps))}
    assert found == {("front", "right"): 0, ("right", "front"): 1}
    check(cuts, clamps)


def test_progress_is_told_for_every_step() -> None:
    told: list[tuple[int, int]] = []
    orders(
        cutting_of(tabbed()),
        DENSITY,
        clear_offcuts=True,
        progress=lambda done, total: told.append((done, total)),
    )
    assert told == [(k, 12) for k in range(1, 13)]  # 3 · 2² steps between 2³ states


def test_a_single_cut_has_one_order() -> None:
    (only,) = tried(cutting_of(tabbed()[2:]))
    assert only.names == ("top",)
    assert only.released_after is None
    assert only.loose == 0


def test_too_many_cuts_are_refused() -> None:
    one = tabbed()[2]
    cuts = [cut_of("top", one.profile.area, CUBE, name=f"top {k}") for k in range(MOST_CUTS + 1)]
    with pytest.raises(MisfitError) as caught:
        tried(cutting_of(cuts))
    told = misfit_in_words(caught.value, "mm", "")
    assert isinstance(told, CuttingError)
    assert told.what == "there are 9 profiles; orders are tried for up to 8"


class MadeUp(CutSimulation):
    """Cuts whose areas are made up, and which free nothing; the rest is never asked for."""

    def __init__(self, count: int) -> None:
        block = Stock((40.0, 40.0, 40.0))
        cuts = [cut_of("top", rect(5, 5, 35, 35), block, name=f"top {k}") for k in range(count)]
        super().__init__(block, cuts, [None] * count, cutting_of(cuts[:1]).finished)

    @property
    def start(self) -> State:
        return State(frozenset(), ())

    def step(self, state: State, index: int) -> Step:
        after = State(state.made | {index}, ())
        return Step(state, index, after, frozenset(), (), True, True, False)

    def area(self, step: Step) -> float:
        return made_up(step.before.made, step.index)


def made_up(made: frozenset[int], i: int) -> float:
    return float((7 * i + 5 * sum(made) + 3 * len(made)) % 11)


def test_as_many_cuts_as_are_tried() -> None:
    """Eight cuts: 40320 orders.

    What a cut takes is made up here: the cheapest way to a set of cuts made is the cheapest
    to the set without one of them, and that one (Held and Karp 1962).
    """
    least = {frozenset[int](): 0.0}
    for made in sorted(map(frozenset, powerset(range(8))), key=len)[1:]:
        least[made] = min(least[made - {i}] + made_up(made - {i}, i) for i in made)
    found = tried(MadeUp(8))
    assert len({order.names for order in found}) == 40320
    assert found[0].area == least[frozenset(range(8))]
    assert [order.rank for order in found] == sorted(order.rank for order in found)
    assert found[0].area < found[-1].area


def powerset(some: Sequence[int]) -> Iterator[tuple[int, ...]]:
    return chain.from_iterable(combinations(some, n) for n in range(len(some) + 1))


def eight_cuts() -> CutSimulation:
    views = ["front", "rear", "right", "left", "top", "bottom", "front", "right"]
    cuts = [
        cut_of(v, rect(5 - k / 4, 5, 35 + k / 4, 35), CUBE, tabs=[(20, 5)], name=f"{v} {k}")
        for k, v in enumerate(views)
    ]
    return cutting_of(cuts)


@pytest.mark.big
def test_as_many_cuts_as_are_tried_with_all_they_take() -> None:
    found = tried(eight_cuts())
    assert len(found) == 40320
    assert [order.rank for order in found] == sorted(order.rank for order in found)


def test_progress_of_four_cuts_ends_at_their_steps() -> None:
    """Each of 4 cuts after each set of the 3 others: 4 · 2³ steps."""
    told: list[tuple[int, int]] = []
    orders(
        MadeUp(4), 1.0, clear_offcuts=True, progress=lambda done, total: told.append((done, total))
    )
    assert told == [(k, 32) for k in range(1, 33)]
