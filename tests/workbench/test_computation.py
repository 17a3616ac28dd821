"""Newest first: what the worker delivers, in which order, when work takes as long as it likes."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from silhouette3d.errors import EmptyPartError
from silhouette3d.job.model import Job, read_job
from silhouette3d.part import Part
from silhouette3d.workbench import edits
from silhouette3d.workbench.computation import (
    Computation,
    Delivery,
    Failed,
    Late,
    Worker,
    first_result,
)
from silhouette3d.workbench.lane import Lane
from silhouette3d.workbench.result import Result
from silhouette3d.workbench.shown import Shown
from tests.support.workbench import Loop, kerf, write_job


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Job:
    return read_job(write_job(tmp_path_factory.mktemp("bollard")))


@pytest.fixture(scope="module")
def known(job: Job) -> Result:
    """A result to make others from."""
    return first_result(0, job, None)


@pytest.fixture
def loop() -> Loop:
    return Loop()


@pytest.fixture
def taken(job: Job, loop: Loop) -> Iterator[list[Delivery]]:
    """What a worker with the real steps delivers for one job."""
    found: list[Delivery] = []
    worker = Worker(found.append, loop.post, quiet=0.0)
    worker.ask(job)
    loop.until(lambda: any(isinstance(d, Result) and d.step == "all" for d in found))
    yield found
    worker.stop()


def test_each_step_is_delivered_and_fuller_than_the_one_before(taken: list[Delivery]) -> None:
    results = [one for one in taken if isinstance(one, Result)]
    assert [one.step for one in results] == ["part", "cards", "checks", "cuts", "all"]
    part, cards, checks, cuts, _ = results
    assert part.volume == pytest.approx(16 * 10 * 30)  # mm³: a block
    assert part.size == pytest.approx((16, 10, 30))
    assert part.stock_size == pytest.approx((20, 20, 30))
    assert part.mass == pytest.approx(part.volume / 1000 * part.part.density)
    assert part.centre == pytest.approx((10, 10, 15))
    assert [card.shadow for card in part.cards] == ["", ""]
    assert all(card.shadow for card in cards.cards)
    assert cards.findings is None
    assert checks.findings is not None
    assert checks.stages is None
    assert cuts.stages is not None
    assert [stage.name for stage in cuts.stages] == ["", "top", "front"]
    assert [piece.status for piece in cuts.stages[-1].pieces].count("part") == 1


def test_all_findings_are_those_of_the_part(taken: list[Delivery]) -> None:
    last = taken[-1]
    assert isinstance(last, Result)
    fresh = Part(last.job)
    assert last.findings == fresh.findings
    assert len(fresh.findings) > len(fresh.findings_of_part)
    assert set(fresh.findings_of_part) < set(fresh.findings)


def test_masses_of_a_stage_and_of_what_was_cut_make_the_block(taken: list[Delivery]) -> None:
    last = taken[-1]
    assert isinstance(last, Result)
    assert last.stages is not None
    block = last.stages[0].pieces
    assert [piece.mass for piece in block] == pytest.approx([last.stock_mass])
    for stage in last.stages:
        for piece in stage.pieces:
            assert piece.mass == pytest.approx(piece.solid.volume / 1000 * last.part.density)
    assert max(p.mass for p in last.stages[-1].pieces if p.status == "part") == pytest.approx(
        last.mass
    )


PAUSES = st.lists(st.integers(0, 4), min_size=1, max_size=6)
"""Milliseconds."""


@given(asks=PAUSES, firsts=PAUSES, seconds=PAUSES, failing=st.sets(st.integers(1, 6)))
def test_an_old_result_never_lands_over_a_newer_one(
    job: Job, known: Result, asks: list[int], firsts: list[int], seconds: list[int],
    failing: set[int],
) -> None:  # fmt: skip
    """Every order of ends is possible, but what is shown only ever becomes newer or fuller."""

    def wait(pauses: list[int], sequence: int) -> None:
        time.sleep(pauses[sequence % len(pauses)] / 1000)

    def first(sequence: int, job: Job, before: Part | None) -> Result:
        wait(firsts, sequence)
        if sequence in failing:
            raise EmptyPartError("nothing is left")
        return replace(known, sequence=sequence, job=job, part=Part(job))

    def second(result: Result) -> Result:
        wait(seconds, result.sequence)
        return replace(result, step="all")

    loop, page = Loop(), Shown()
    computation = Computation(
        page, loop.post, lambda take, post: Worker(take, post, first, (second,), 0.002, 0.0)
    )
    shown: list[tuple[int, bool]] = []

    def note(event: str) -> None:
        if event == "result" and page.result:
            shown.append((page.result.sequence, page.result.step == "all"))

    page.subscribe(note)
    try:
        for pause in asks:
            computation.ask(job)
            time.sleep(pause / 1000)
        loop.until(lambda: computation.is_done and not page.busy)
        last = len(asks)
        if last in failing:
            assert page.trouble is not None
            assert page.result is None or page.result.sequence < last
        else:
            assert page.trouble is None
            assert page.result is not None
            assert (page.result.sequence, page.result.step) == (last, "all")
        assert shown == sorted(set(shown))
    finally:
        computation.stop()


def test_deliveries_in_any_order_show_the_newest(job: Job, known: Result, loop: Loop) -> None:
    """The page's side alone: even if an old result were delivered last."""
    page = Shown()
    computation = Computation(page, loop.post)
    computation.take(replace(known, sequence=3))
    computation.take(replace(known, sequence=2))
    assert page.result is not None
    assert page.result.sequence == 3
    computation.stop()


def test_checks_stop_when_something_newer_is_asked_for(job: Job, known: Result, loop: Loop) -> None:
    begun, asked = threading.Event(), threading.Event()
    ended: list[int] = []

    def first(sequence: int, job: Job, before: Part | None) -> Result:
        return replace(known, sequence=sequence, part=Part(job))

    def second(result: Result) -> Result:
        begun.set()
        asked.wait()
        result.part.progress(1, 2)  # as every long computation does
        ended.append(result.sequence)
        return replace(result, step="all")

    found: list[Delivery] = []
    worker = Worker(found.append, loop.post, first, (second,), quiet=0.0)
    worker.ask(job)
    begun.wait()
    worker.ask(job)
    asked.set()
    loop.until(lambda: any(isinstance(d, Result) and d.step == "all" for d in found))
    worker.stop()
    assert ended == [2]


def test_a_delay_is_told_with_the_number_that_is_awaited(
    job: Job, known: Result, loop: Loop
) -> None:
    go_on = threading.Event()

    def first(sequence: int, job: Job, before: Part | None) -> Result:
        go_on.wait()
        return replace(known, sequence=sequence, part=Part(job))

    found: list[Delivery] = []
    worker = Worker(found.append, loop.post, first, (), patience=0.001)
    worker.ask(job)
    loop.until(lambda: found)
    go_on.set()
    loop.until(lambda: len(found) == 2)
    worker.stop()
    assert found[0] == Late(1)
    assert isinstance(found[1], Result)


def test_a_fault_inside_is_told_and_logged_and_work_goes_on(
    job: Job, known: Result, loop: Loop, caplog: pytest.LogCaptureFixture
) -> None:
    def first(sequence: int, job: Job, before: Part | None) -> Result:
        if sequence == 1:
            raise ZeroDivisionError("one by nothing")
        return replace(known, sequence=sequence, part=Part(job))

    found: list[Delivery] = []
    worker = Worker(found.append, loop.post, first, ())
    worker.ask(job)
    loop.until(lambda: found)
    worker.ask(job)
    loop.until(lambda: len(found) == 2)
    worker.stop()
    (failed, result) = found
    assert isinstance(failed, Failed)
    assert failed.trouble.kind == "inside"
    assert "one by nothing" in str(failed.trouble)
    assert "ZeroDivisionError" in caplog.text
    assert isinstance(result, Result)


def test_a_lane_drops_what_waits_for_what_is_newer() -> None:
    lane, begun, go_on, ended = (
        Lane("test"),
        threading.Event(),
        threading.Event(),
        threading.Event(),
    )
    done: list[int] = []

    def slow() -> None:
        begun.set()
        go_on.wait()
        done.append(1)

    def last() -> None:
        done.append(3)
        ended.set()

    lane.put(slow)
    begun.wait()
    lane.put(lambda: done.append(2))
    lane.put(last)
    go_on.set()
    ended.wait()
    lane.stop()
    lane.join()
    assert done == [1, 3]


def test_nothing_is_delivered_after_the_end(job: Job, known: Result, loop: Loop) -> None:
    begun, go_on = threading.Event(), threading.Event()

    def first(sequence: int, job: Job, before: Part | None) -> Result:
        begun.set()
        go_on.wait()
        return replace(known, sequence=sequence, part=Part(job))

    found: list[Delivery] = []
    worker = Worker(found.append, loop.post, first, (), patience=1000.0)
    worker.ask(job)
    begun.wait()
    threading.Timer(0.01, go_on.set).start()
    worker.stop()
    loop.drain()
    assert found == []


def test_moved_profiles_are_the_same_objects_where_nothing_changed(job: Job) -> None:
    part = Part(job)
    moved = part.again(edits.nudge(job, 0, 0.5, 0.0))
    assert moved.profiles[1] is part.profiles[1]
    assert moved.profiles[0] is not part.profiles[0]
    tabbed = part.again(edits.add_tab(job, 0, (8.0, 30.0)))
    assert tabbed.profiles[0] is part.profiles[0]
    assert tabbed.solid is part.solid


def test_a_drawing_that_was_written_again_is_read_again(tmp_path: Path) -> None:
    from tests.support.workbench import drawing

    path = write_job(tmp_path)
    part = Part(read_job(path))
    assert part.solid.volume == pytest.approx(16 * 10 * 30)
    (tmp_path / "top.svg").write_text(drawing(20, 10.5))
    assert part.again(part.job).solid.volume == pytest.approx(16 * 10.5 * 30)


@given(
    moves=st.lists(
        st.tuples(st.integers(0, 1), st.integers(-20, 20), st.integers(-20, 20)),
        min_size=1,
        max_size=6,
    )
)
def test_a_part_made_from_another_is_the_part(job: Job, moves: list[tuple[int, int, int]]) -> None:
    """Whatever was kept on the way, against one that knows nothing."""
    part = Part(job)
    for i, right, up in moves:
        part = part.again(edits.nudge(part.job, i, right / 10, up / 10))
    fresh = Part(part.job)
    assert part.solid.volume == pytest.approx(fresh.solid.volume, rel=1e-9)  # rounding only
    assert part.solid.bounds == pytest.approx(fresh.solid.bounds, abs=1e-9)
    assert part.mass == pytest.approx(fresh.mass, rel=1e-9)


def test_what_an_edit_does_not_touch_is_shared(job: Job) -> None:
    part = Part(job)
    swapped = part.again(edits.order(job, ("front", "top")))
    assert swapped.cutting is part.cutting
    assert swapped.stages[0].cut is part.stages[1].cut
    tabbed = part.again(edits.add_tab(job, 0, (10.0, 30.0)))
    assert tabbed.cuts[1] is part.cuts[1]
    assert tabbed.cuts[0] is not part.cuts[0]
    assert tabbed.cutting is not part.cutting
    assert part.again(kerf(job, 0.75)).cuts[1] is not part.cuts[1]
    found = part.findings
    assert part.again(job).findings is found


EDITS: list[Callable[[Job], Job]] = [
    lambda job: edits.nudge(job, 0, -0.5, 0.0),
    lambda job: edits.nudge(job, 1, 0.0, 1.5),
    lambda job: edits.set_value(job, ("profile", 0, "mirror"), True),
    lambda job: kerf(job, 0.75),
    lambda job: edits.order(job, ("front", "top")),
    lambda job: edits.add_tab(job, 1, (0.0, 9.0)),
    lambda job: edits.set_value(job, ("checks", "thin"), 12.0),
    lambda job: edits.set_value(job, ("profile", 0, "clamp"), ["left"]),
    lambda job: edits.stock_block(job, (20.0, 20.0, 31.0)),
    lambda job: edits.material(job, "steel A36"),
]


@settings(max_examples=12)  # each works out several parts whole
@given(chosen=st.lists(st.sampled_from(EDITS), min_size=1, max_size=4))
def test_findings_and_stages_after_edits_are_those_of_a_part_that_knows_nothing(
    job: Job, chosen: list[Callable[[Job], Job]]
) -> None:
    part = Part(job)
    for change in chosen:
        _ = part.findings
        part = part.again(change(part.job))
    fresh = Part(part.job)
    assert part.findings == fresh.findings
    assert volumes(part) == pytest.approx(volumes(fresh), rel=1e-9)  # rounding only


def volumes(part: Part) -> list[float]:
    return [body.solid.volume for stage in part.stages for body in stage.bodies]
