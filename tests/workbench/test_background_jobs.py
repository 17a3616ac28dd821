"""Proposals put in words: each says what it is better in, and nothing that is not so."""

from __future__ import annotations

from pathlib import Path

import pytest

import silhouette3d
from silhouette3d.job.model import Job, read_job
from silhouette3d.planning.order import Order
from silhouette3d.planning.tab_search import Proposal, TabCandidate
from silhouette3d.workbench.background_jobs import OrderProposal, TabsProposal, tabs_for
from tests.support.drawn_jobs import block
from tests.support.drawn_jobs import write_job as drawn
from tests.support.workbench import write_job


@pytest.fixture
def job(tmp_path: Path) -> Job:
    """Front and top, of which it cuts the top first."""
    return read_job(write_job(tmp_path))


def order(*names: str, after: int | None = None, loose: int = 2, mass: float = 50.0) -> Order:
    return Order(names, after, loose, mass, 900.0 if names[0] == "front" else 1000.0)


@pytest.mark.parametrize(
    ("best", "now", "words"),
    [
        (order("front", "top"), order("top", "front"), "It takes 10% less cutting."),
        (
            order("front", "top"),
            order("top", "front", after=1),
            "It holds the part until the last cut.",
        ),
        (
            order("front", "top", loose=1),
            order("top", "front", loose=3),
            "It leaves 1 loose piece before the last cut, not 3.",
        ),
        (
            order("front", "top", mass=20.0),
            order("top", "front", mass=1500.0),
            "The pieces that come loose before the last cut weigh 20 g in all, not 1.5 kg.",
        ),
    ],
    ids=["less to cut", "held", "fewer loose", "lighter"],
)
def test_a_better_order(job: Job, best: Order, now: Order, words: str) -> None:
    found = OrderProposal(job, (best, now))
    assert best.rank < now.rank  # the case is one that can be
    assert not found.changes_nothing
    assert found.words == f"Cut in this order: front, top. {words}"
    assert found.applied(job).order == ("front", "top")


def test_an_order_that_saves_a_little_loose_weight_may_have_more_to_cut(job: Job) -> None:
    best = Order(("front", "top"), None, 2, 20.0, 1100.0)
    now = order("top", "front", mass=20.001)
    assert best.rank < now.rank
    assert OrderProposal(job, (best, now)).words == "Cut in this order: front, top."


def test_no_order_holds(job: Job) -> None:
    orders = (order("front", "top", after=1), order("top", "front", after=1, loose=4))
    assert OrderProposal(job, orders).words == (
        "Cut in this order: front, top. No order holds the part until the last cut; add tabs."
    )


def test_the_best_order_already(job: Job) -> None:
    found = OrderProposal(job, (order("top", "front"), order("front", "top", loose=9)))
    assert found.changes_nothing
    assert found.words == "The order of this job is the best already: top, front."


def place(cut: int) -> TabCandidate:
    return TabCandidate(cut, (10.0, 0.0), 2.0, 8.0, 0.0)


@pytest.mark.parametrize(
    ("proposal", "words"),
    [
        (Proposal((), True, True), "The part is held until the last cut as it is."),
        (Proposal((), False, True), "No places for tabs were found that hold the part."),
        (
            Proposal((place(1), place(0), place(1)), True, True),
            "Add tabs: 2 on top, 1 on front.",
        ),
        (
            Proposal((place(1),), False, True),
            "Add tabs: 1 on top. The part is still not held until the last cut.",
        ),
        (
            Proposal((place(0),), True, False),
            "Add tabs: 1 on front. The part is then still joined to waste after the last cut.",
        ),
    ],
    ids=["held", "none", "some", "not enough", "too many"],
)
def test_tabs(job: Job, proposal: Proposal, words: str) -> None:
    found = TabsProposal(job, proposal)
    assert found.words == words
    assert found.changes_nothing == (not proposal.places)
    tabs = [len(spec.tab) for spec in found.applied(job).profile]
    assert tabs == [sum(one.cut == i for one in proposal.places) for i in range(2)]


def test_tabs_that_take_the_place_of_others(job: Job) -> None:
    first = TabsProposal(job, Proposal((place(0), place(1)), True, True)).applied(job)
    found = TabsProposal(first, Proposal((place(1),), True, True), replaces=True)
    assert found.words == "Replace the tabs of the job file by 1 on top."
    assert [len(spec.tab) for spec in found.applied(first).profile] == [0, 1]


def test_a_tab_on_a_skin_gets_company(tmp_path: Path) -> None:
    """The tab of the job stands on a skin of 0.05 mm; those proposed on more."""
    outer = block(5, 5, 38.95, 35)
    file = drawn(
        tmp_path / "job",
        (40.0, 40.0, 40.0),
        {"front": [outer], "top": [outer]},
        more={"front": "[[profile.tab]]\nat = [38.95, 20.0]\nwidth = 2.0"},
    )
    part = silhouette3d.load(file)
    assert {one.code for one in part.wrong_plan} == {"weak-hold"}
    found = tabs_for(part)
    assert not found.changes_nothing
    assert not found.wrong
    assert not part.again(found.applied(part.job)).wrong_plan


def test_what_tabs_do_not_cure_is_told_with_what_does(tmp_path: Path) -> None:
    """The last cut severs none of them; with the cuts the other way round it does."""
    outlines = {"front": [block(5, 5, 35, 35)], "top": [block(2, 5, 38, 35)]}
    part = silhouette3d.load(drawn(tmp_path / "job", (40.0, 40.0, 40.0), outlines))
    found = tabs_for(part)
    assert "still join the part to waste" in found.words
    assert "Another order helps: top, front" in found.words
