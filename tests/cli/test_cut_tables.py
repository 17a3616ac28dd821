"""What the command line says of orders, tabs and stages: each case in its own words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from io import StringIO
from itertools import permutations

import pytest
from rich.console import Console, RenderableType

import silhouette3d
from silhouette3d import Finding
from silhouette3d.base.quantities import Scale
from silhouette3d.cli.cut_tables import MOST_ROWS, orders_table, stages_tables, tabs_table
from silhouette3d.planning.order import Order
from silhouette3d.planning.tab_search import Proposal, TabCandidate
from tests.guard.imports import ROOT

MM = Scale("mm")


@cache
def tugboat() -> silhouette3d.Part:
    return silhouette3d.load(ROOT / "samples" / "tugboat")


def text_of(shown: Iterable[RenderableType]) -> str:
    console = Console(file=StringIO(), width=200)
    for one in shown:
        console.print(one)
    assert isinstance(console.file, StringIO)
    return console.file.getvalue()


def order(name: str, after: int | None = None, loose: int = 2, area: float = 900.0) -> Order:
    return Order((name, "right", "top"), after, loose, 10.0, area)


@pytest.mark.parametrize(
    ("orders", "words"),
    [
        (
            (order("a"), order("b", 1)),
            "it alone of 2 orders holds the part until the last cut. Loose offcuts",
        ),
        (
            (order("a", loose=1), order("b"), order("c", 1)),
            "2 of 3 orders hold the part until the last cut; this one frees the fewest and "
            "lightest pieces before it. Loose offcuts",
        ),
        (
            (order("a"), order("b", area=950.0)),
            "; all of them free equally few and light pieces before it; the first has the least to "
            "cut, or is listed first. Loose offcuts",
        ),
        ((order("a", 2), order("b", 1)), "No order holds the part until its last cut: add tabs"),
    ],
    ids=["one holds", "fewest loose", "least to cut", "none"],
)
def test_why_an_order_is_the_best(orders: tuple[Order, ...], words: str) -> None:
    told = text_of(orders_table(tugboat(), orders, MM))
    assert words in told
    assert ("Best: a, right, top: " in told) == (orders[0].released_after is None)
    assert ("loose after cut 1" in told) == any(one.released_after == 1 for one in orders)


def test_many_orders_are_counted() -> None:
    names = permutations("abcd")
    orders = [Order(one, None, 0, 0.0, 900.0 + i) for i, one in enumerate(names)]
    told = text_of(orders_table(tugboat(), orders, MM))
    assert f"and {24 - MOST_ROWS} more" in told
    assert "more" not in text_of(orders_table(tugboat(), orders[:MOST_ROWS], MM))
    assert "none" in told  # no loose pieces


PLACE = TabCandidate(0, (10.0, 2.5), 2.0, 8.0, 0.0)
STUB = replace(PLACE, witness=3.0)


LOOSE = Finding(
    "released-early", "error", "front", facts={"cut": 1, "in_setup": False, "cuts_left": 2}
)


@pytest.mark.parametrize(
    ("found", "wrong", "words"),
    [
        (Proposal((PLACE,), True, True, 8.0), [], "which severs them without a mark."),
        (Proposal((PLACE, STUB), True, True, 8.0), [], "No place without a mark was found."),
        (Proposal((STUB,), False, True), [LOOSE], "With these, the part is loose after cut 1"),
        (Proposal((), False, True), [LOOSE], "As it is, the part is loose after cut 1"),
        (Proposal((), True, True, 8.0), [], "No tabs are needed"),
    ],
    ids=["clean", "marks", "not held", "none helps", "none needed"],
)
def test_what_tabs_are_worth(found: Proposal, wrong: list[Finding], words: str) -> None:
    told = text_of(tabs_table(tugboat(), found, wrong, MM, "This helps."))
    assert words in told
    assert ("a stub of 3 mm²" in told) == (STUB in found.places)
    assert ("no mark" in told) == (PLACE in found.places)
    assert ("u 10, v 2.5 mm" in told) == bool(found.places)
    assert ("8 mm² or more hold the part" in told) == bool(found.places and not wrong)
    assert ("This helps." in told) == bool(wrong)


def test_tabs_that_keep_the_part_joined_to_waste() -> None:
    part = silhouette3d.load(ROOT / "samples" / "faulty" / "not-released")
    assert not part.comes_free
    told = text_of(tabs_table(part, Proposal((), True, False), part.wrong_plan, MM, ""))
    assert "join the part to waste" in told.replace("\n", " ")


def test_of_many_pieces_the_part_is_listed_and_the_small_ones_are_counted() -> None:
    """The last stage of the tugboat, every loose piece of it three times over."""
    part = tugboat()
    last = part.stages[-1]
    loose = [body for body in last.bodies if not body.is_part]
    body = last.part
    bodies = (*loose, *loose, *loose, body)
    assert len(bodies) > MOST_ROWS
    stage = replace(last, bodies=bodies, main=len(bodies) - 1)
    told = text_of(stages_tables(part, [stage], MM))
    assert f"and {len(bodies) - MOST_ROWS} more" in told
    assert told.count("◆ part") == 1
    rows = [line for line in told.splitlines() if line.startswith(("◆", "■", "○"))]
    assert len(rows) == MOST_ROWS
