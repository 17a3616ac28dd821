"""The order of cuts: every one tried, against the plain simulation of each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import chain, combinations, permutations

import pytest
from shapely import Polygon

from silhouette3d.cutting.holding import Clamp
from silhouette3d.cutting.kerf import Cut
from silhouette3d.cutting.order import MOST_CUTS, Order, Step, orders
from silhouette3d.cutting.stages import Cutting, is_in
from silhouette3d.errors import CuttingError
from silhouette3d.solid import Solid
from silhouette3d.stock import Stock
from silhouette3d.units import MM3_PER_CM3
from tests.cut_jobs import cut_of, cutting_of, random_job, random_jobs
from tests.shapes import rect

CUBE = Stock((40.0, 40.0, 40.0))
DENSITY = 2.7


def simulated(
    cuts: Sequence[Cut], order: Sequence[int], clamps: Sequence[Clamp | None] | None = None
) -> Order:
    """What one order costs, from its own simulation, offcuts left in place."""
    cutting = cutting_of(cuts, clamps)
    stages = cutting.stages(order, clear_offcuts=False)
    before = [*cutting.bodies(frozenset())]
    released, loose, volume = None, 0, 0.0
    for k, (i, stage) in enumerate(zip(order, stages, strict=True)):
        if released is None and not stage.part_was_held:
            released = k
        if k == len(order) - 1:
            break
        if released is None and not stage.part_is_held:
            released = k + 1
        held = cutting.clampings[i].held(before)
        was_loose = [b for j, b in enumerate(before) if j not in held and not _is_part(cutting, b)]
        freed = [b.solid for b in stage.loose if not any(is_in(b.solid, w) for w in was_loose)]
        loose += len(freed)
        volume += sum(body.volume for body in freed)
        before = [body.solid for body in stage.bodies]
    names = tuple(cuts[i].name for i in order)
    area = sum(stage.figures.area for stage in stages)
    return Order(names, released, loose, volume * DENSITY / MM3_PER_CM3, area)


def _is_part(cutting: Cutting, body: Solid) -> bool:
    return any(is_in(piece, body) for piece in cutting.finished.bodies)


def check(cuts: Sequence[Cut], clamps: Sequence[Clamp | None] | None = None) -> None:
    found = orders(cutting_of(cuts, clamps), DENSITY)
    wanted = [simulated(cuts, order, clamps) for order in permutations(range(len(cuts)))]
    assert len(found) == len(wanted)
    by_names = {order.names: order for order in wanted}
    for order in found:
        same = by_names[order.names]
        assert (order.released_after, order.loose) == (same.released_after, same.loose)
        # the same solids, by other chains of sums
        assert order.loose_mass == pytest.approx(same.loose_mass, rel=1e-9, abs=1e-9)
        assert order.area == pytest.approx(same.area, rel=1e-9)
    assert [order.rank for order in found] == sorted(order.rank for order in wanted)


@pytest.mark.parametrize("seed", range(12))
def test_equals_the_simulation_of_each_order(seed: int) -> None:
    job = random_job(500 + seed, aligned=seed % 2 == 0, least_cuts=2)
    check(job.cuts, _clamps(seed, len(job.cuts)))


@pytest.mark.big
def test_equals_the_simulation_of_each_order_in_many_jobs() -> None:
    for k, job in enumerate(random_jobs(6, 120, least_cuts=2)):
        check(job.cuts, _clamps(k, len(job.cuts)))


def _clamps(seed: int, count: int) -> list[Clamp | None]:
    """By turns none, sides, and a different one in each setup."""
    sides: list[Clamp | None] = [["left"], ["bottom"], ["right", "top"]]
    return [None] * count if seed % 3 == 0 else [sides[(seed + i) % 3] for i in range(count)]


def test_four_cuts() -> None:
    cuts = [*tabbed(), cut_of("rear", rect(6, 6, 34, 34), CUBE, tabs=[(20, 6)], name="rear")]
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
    found = orders(cutting_of(tabbed()), DENSITY)
    assert len(found) == 6
    held = [order for order in found if order.released_after is None]
    assert {order.names[-1] for order in held} == {"top"}
    assert found[: len(held)] == tuple(held)
    assert {order.released_after for order in found if order.names[0] == "top"} == {1}


def test_equal_orders_stay_as_listed() -> None:
    """Front and right are alike: the first of the two is listed first."""
    found = orders(cutting_of(tabbed()), DENSITY)
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
    best, other = orders(cutting_of(cuts), DENSITY)
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
    ]
    ranks = [best.rank, *(order.rank for order in worse)]
    assert ranks == sorted(ranks)
    assert len(set(ranks)) == len(ranks)


def test_never_held_is_released_after_no_cut() -> None:
    """The only clamp of the first setup presses beside the block."""
    cuts = tabbed()[:2]
    clamps: list[Clamp | None] = [[(-9.0, 0.0, -5.0, 5.0)], None]
    found = {o.names: o.released_after for o in orders(cutting_of(cuts, clamps), DENSITY)}
    assert found == {("front", "right"): 0, ("right", "front"): 1}
    check(cuts, clamps)


def test_progress_is_told_for_every_step() -> None:
    told: list[tuple[int, int]] = []
    orders(cutting_of(tabbed()), DENSITY, lambda done, total: told.append((done, total)))
    assert told == [(k, 12) for k in range(1, 13)]  # 3 · 2² steps between 2³ states


def test_a_single_cut_has_one_order() -> None:
    (only,) = orders(cutting_of(tabbed()[2:]), DENSITY)
    assert only.names == ("top",)
    assert only.released_after is None
    assert only.loose == 0


def test_too_many_cuts_are_refused() -> None:
    one = tabbed()[2]
    cuts = [cut_of("top", one.profile.area, CUBE, name=f"top {k}") for k in range(MOST_CUTS + 1)]
    with pytest.raises(CuttingError, match="there are 9 profiles; orders are tried for up to 8"):
        orders(cutting_of(cuts), DENSITY)


def eight_cuts() -> Cutting:
    views = ["front", "rear", "right", "left", "top", "bottom", "front", "right"]
    cuts = [
        cut_of(v, rect(5 - k / 4, 5, 35 + k / 4, 35), CUBE, tabs=[(20, 5)], name=f"{v} {k}")
        for k, v in enumerate(views)
    ]
    return cutting_of(cuts)


def test_as_many_cuts_as_are_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    """Eight cuts: 256 states stand for 40320 orders, and say which is the best.

    What a cut takes is made up here: the cheapest way to a set of cuts made is the cheapest
    to the set without one of them, and that one (Held and Karp 1962).
    """

    def area(made: frozenset[int], i: int) -> float:
        return float((7 * i + 5 * sum(made) + 3 * len(made)) % 11)

    monkeypatch.setattr(
        "silhouette3d.cutting.order.step",
        lambda _, made, i: Step(False, False, 0, 0.0, area(made, i)),
    )
    least = {frozenset[int](): 0.0}
    for made in sorted(map(frozenset, powerset(range(8))), key=len)[1:]:
        least[made] = min(least[made - {i}] + area(made - {i}, i) for i in made)
    found = orders(eight_cuts(), DENSITY)
    assert len({order.names for order in found}) == 40320
    assert found[0].area == least[frozenset(range(8))]
    assert [order.rank for order in found] == sorted(order.rank for order in found)
    assert found[0].area < found[-1].area


def powerset(some: Sequence[int]) -> Iterator[tuple[int, ...]]:
    return chain.from_iterable(combinations(some, n) for n in range(len(some) + 1))


@pytest.mark.big
def test_as_many_cuts_as_are_tried_with_all_they_take() -> None:
    found = orders(eight_cuts(), DENSITY)
    assert len(found) == 40320
    assert [order.rank for order in found] == sorted(order.rank for order in found)


def test_progress_of_four_cuts_ends_at_their_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each of 4 cuts after each set of the 3 others: 4 · 2³ steps."""
    monkeypatch.setattr(
        "silhouette3d.cutting.order.step", lambda *_: Step(False, False, 0, 0.0, 1.0)
    )
    stock = Stock((40.0, 40.0, 40.0))
    cuts = [cut_of(v, rect(5, 5, 35, 35), stock) for v in ("front", "right", "top", "rear")]
    told: list[tuple[int, int]] = []
    orders(cutting_of(cuts), 1.0, lambda done, total: told.append((done, total)))
    assert told == [(k, 32) for k in range(1, 33)]
