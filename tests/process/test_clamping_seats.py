"""Before each setup: does the stock still stand where the block is seated, and what if not."""

from __future__ import annotations

from pathlib import Path

import pytest

from silhouette3d.geometry.frames import VIEWS, view_from
from silhouette3d.geometry.stock import Stock
from silhouette3d.part import Part
from silhouette3d.presentation.wording.words import seat_words
from silhouette3d.process.clamping import Side, has_flat_sides, seats
from tests.support.shapes import Area, Shape, load, many, profile, rect, solid
from tests.support.sheet_jobs import made

BLOCK = Stock((40.0, 20.0, 30.0))

WHOLE = rect(0, 0, 40, 30)
CASES: dict[str, tuple[Area, dict[str, float], tuple[str, str] | None]] = {
    # seen from the front, then how long each side of the top face stands: by hand
    "nothing is gone": (WHOLE, {"left": 20, "right": 20, "near": 40, "far": 40}, ("left", "near")),
    "left gone": (
        rect(8, 0, 40, 30),
        {"left": 0, "right": 20, "near": 32, "far": 32},
        ("right", "near"),
    ),
    "left gone above only": (
        many(rect(8, 0, 40, 30).union(rect(0, 0, 8, 5))),
        {"left": 20, "right": 20, "near": 40, "far": 40},
        ("left", "near"),
    ),
    "both gone": (rect(8, 0, 32, 30), {"left": 0, "right": 0, "near": 24, "far": 24}, None),
    "two short stretches": (
        many(rect(0, 0, 9, 30).union(rect(31, 0, 40, 30))),
        {"left": 20, "right": 20, "near": 9, "far": 9},
        None,
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_how_long_each_side_stands(name: str) -> None:
    area, expected, corner = CASES[name]
    body = solid(BLOCK, [profile("front", area, BLOCK)])
    found = seats(body, BLOCK, VIEWS["top"], 10.0)
    longest: dict[Side, float] = {side: long for side, (long, _) in found.standing.items()}
    assert longest == pytest.approx(expected, abs=1e-6)
    assert found.corner == corner


def test_what_is_long_enough() -> None:
    """10 mm; of a side shorter than 20 mm half of it."""
    flat = Stock((40.0, 12.0, 30.0))
    for stock, deep, least, serves in (
        (flat, 6.1, 10.0, True),
        (flat, 5.9, 10.0, False),
        (BLOCK, 9.9, 10.0, False),
        (BLOCK, 9.9, 9.8, True),
    ):
        area = many(rect(0, 0, 40, stock.size[1]).difference(rect(0, deep, 8, 20)))
        body = solid(stock, [profile("top", area, stock)])
        assert seats(body, stock, VIEWS["top"], least).serves("left") is serves


def test_sides_are_those_of_the_face_as_seen() -> None:
    """From the rear the right side of the block is on the left; from below the rear is near."""
    body = solid(BLOCK, [profile("front", rect(8, 0, 40, 30), BLOCK)])
    assert seats(body, BLOCK, VIEWS["rear"], 10.0).corner == ("left", "near")
    assert seats(body, BLOCK, VIEWS["bottom"], 10.0).corner == ("right", "near")
    body = solid(BLOCK, [profile("front", rect(0, 8, 40, 30), BLOCK)])
    assert seats(body, BLOCK, VIEWS["right"], 10.0).corner == ("left", "far")


def test_only_blocks_that_lie_square_are_judged() -> None:
    assert has_flat_sides(BLOCK, view_from("top", 90))
    assert not has_flat_sides(BLOCK, view_from("front", 45))
    assert not has_flat_sides(Stock((20.0, 20.0, 30.0), 20.0), VIEWS["front"])


def part_of(folder: Path, front: Area, top: Area) -> Part:
    return load(folder, Shape(BLOCK.size, {"front": front, "top": top}, 0.0, 0.0))


def test_the_finding_says_where_to_seat_it_instead(tmp_path: Path) -> None:
    part = part_of(tmp_path, rect(8, 0, 40, 30), rect(8, 0, 40, 18))
    (found,) = (f for f in part.findings if f.code == "no-datum")
    assert (found.severity, found.profile, found.quantities["left"].number) == (
        "warning",
        "top",
        0.0,
    )
    told = part.told(found)
    assert told.message.startswith("before cut 2 (top) too little of the stock's own sides is left")
    assert told.advice == (
        "seat it by its right and its near side; zero lies 40 mm to the left of the right side"
    )


def test_sheets_say_the_same(tmp_path: Path) -> None:
    part = part_of(tmp_path, rect(8, 0, 40, 30), rect(8, 0, 40, 18))
    page = made(part, tmp_path, units=None).pages[2]
    assert "seated by its right and its near side" in page
    assert (
        "zero lies 40 mm to the left of the right side, and not at a corner of what is left" in page
    )
    assert "seated against the square on the datum's two sides" not in page
    first = made(part, tmp_path, units=None).pages[1]
    assert "seated against the square on the datum's two sides" in first


def test_where_no_corner_stands_it_is_an_error(tmp_path: Path) -> None:
    part = part_of(tmp_path, rect(8, 0, 32, 30), rect(8, 0, 32, 18))
    (found,) = (f for f in part.every_finding if f.code == "no-datum")
    assert found.severity == "error"
    assert found.facts["gone"] == ["left", "right"]
    assert "cut this view before the one that takes the sides away" in part.told(found).advice


def test_words_for_each_corner() -> None:
    assert seat_words(("left", "far"), "4 in", "2 in").endswith(
        "zero lies 2 in nearer than the far side"
    )
    assert seat_words(("right", "far"), "4 in", "2 in").endswith(
        "zero lies 4 in to the left of the right side and 2 in nearer than the far side"
    )
