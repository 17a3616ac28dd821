"""Filled objects that nobody sees: backgrounds in the colour of paper, black on black."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from silhouette3d.drawing.choice import Choice
from silhouette3d.drawing.outline.outline import Outline, outline_of
from tests.support.loops import HOLE, SQUARE, loop, path
from tests.support.loops import outline as outline_of_shapes
from tests.support.svg_drawings import drawn

DISC = '<circle cx="50" cy="50" r="10"/>'
AREA = 314.159
NEAR = 0.5
"""mm². A disc of radius 10 mm within a tolerance of 0.01 mm: 2/3 of 0.01 on 62.8 mm, and less."""


def outline(body: str, layers: tuple[str, ...] | None = None) -> Outline:
    return outline_of(drawn(body), Choice(layers))


# --- Backgrounds ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "background",
    [
        '<rect id="paper" width="100" height="100" fill="white"/>',
        '<rect id="paper" width="100%" height="100%" fill="#FFF"/>',
        '<rect id="paper" x="-5" y="-9" width="120" height="120" style="fill:#fefefe"/>',
        '<rect id="paper" width="100" height="100" fill="white" stroke="white" stroke-width="9"/>',
        '<path id="paper" d="M0 0H100V100H0" fill="white"/>',
        '<g transform="scale(50)"><path id="paper" d="M0 0v2h2v-2z" fill="white"/></g>',
        '<rect id="paper" width="99.995" height="100" fill="white"/>',
        '<g fill="none"><rect width="100" height="100"/></g>'
        '<rect id="paper" width="100" height="100" fill="white"/>',
    ],
)
def test_a_background_in_the_colour_of_paper_is_left_out(background: str) -> None:
    found = outline(background + DISC)
    assert found.polygons.area == pytest.approx(AREA, abs=NEAR)
    assert any("'paper': a background in the colour of paper" in note for note in found.notes)


@pytest.mark.parametrize(
    "background",
    [
        '<rect id="plate" width="100" height="100" fill="#eee"/>',
        '<rect id="plate" width="100" height="100" fill="white" stroke="black"/>',
        '<rect id="plate" width="100" height="100" fill="white" fill-opacity=".5"/>',
        '<linearGradient id="g"><stop/></linearGradient>'
        '<rect id="plate" width="100" height="100" fill="url(#g)"/>',
    ],
)
def test_in_another_colour_it_may_be_the_plate(background: str) -> None:
    found = outline(background + DISC.replace("/>", ' fill="red"/>'))
    assert found.polygons.area == pytest.approx(1e4 - AREA, abs=NEAR)
    assert any("'plate' fills the whole page" in note for note in found.notes)


@pytest.mark.parametrize(
    "background",
    [
        '<rect width="99" height="100" fill="white"/>',  # smaller than the page
        '<rect width="100" height="100" rx="20" fill="white"/>',
        '<rect width="100" height="100" fill="none" stroke="white"/>',  # line work
        '<path d="M0 0H100V100H0Z M1 1V99H99V1Z" fill="white"/>',  # a frame
    ],
)
def test_what_is_no_background(background: str) -> None:
    found = outline(background + DISC)
    assert found.polygons.area != pytest.approx(AREA, abs=NEAR)
    assert not any("background" in note for note in found.notes)


def test_what_is_painted_last_is_no_background() -> None:
    found = outline(DISC + '<rect width="100" height="100" fill="white"/>')
    assert found.polygons.area == pytest.approx(1e4 - AREA, abs=NEAR)


def test_a_background_that_is_all_there_is_stays() -> None:
    """As on a layer of its own, where it says how large the stock is."""
    stock = '<g id="STOCK"><rect width="100" height="100" fill="white"/></g>'
    assert outline(stock).polygons.area == 1e4
    assert outline(f'{stock}<g id="CUT">{DISC}</g>', ("STOCK",)).polygons.area == 1e4


# --- The edge of the page -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("place", "far"),
    [
        ("0,0", None),
        ("90,10", None),
        ("90.009,10", None),
        ("91,10", "1"),
        ("0,-7.25", "7.25"),
        ("-200,500", "410"),
    ],
)
def test_what_lies_beyond_the_page_is_told(place: str, far: str | None) -> None:
    square = f'<g transform="translate({place})"><rect width="10" height="10"/></g>'
    found = outline(square)
    assert found.polygons.area == pytest.approx(100.0)
    told = f"the outline reaches {far} mm beyond the page, where nothing is cut off"
    assert found.notes == (() if far is None else (told,))


# --- Objects on others of their colour -----------------------------------------------------------

BIG = '<rect id="big" width="30" height="30" {}/>'
SMALL = '<circle id="small" cx="15" cy="15" r="10" {}/>'


@pytest.mark.parametrize(
    ("big", "small"),
    [
        ("", ""),
        ('fill="red"', 'style="fill:rgb(255,0,0)"'),
        ('fill="red" stroke="#f00"', 'fill="#ff0000"'),
    ],
)
def test_an_object_on_its_own_colour_is_no_hole(big: str, small: str) -> None:
    for text in (BIG.format(big) + SMALL.format(small), SMALL.format(small) + BIG.format(big)):
        found = outline(text)
        assert found.polygons.area == pytest.approx(900.0)
        assert found.notes[-1] == (
            "left out 1 filled object within another of the same colour, as it is not seen there, "
            "the first circle 'small'"
        )


@pytest.mark.parametrize(
    ("big", "small"),
    [
        ("", 'fill="white"'),
        ('fill="red"', 'fill="#fe0000"'),
        ("", 'stroke="white" stroke-width=".1"'),
        ('stroke="white" stroke-width=".1"', ""),
        ('fill-opacity=".5"', ""),
        ("", 'opacity=".5"'),
        ('fill="none" stroke="black" stroke-width=".1"', ""),
        ("", 'fill="none" stroke="black" stroke-width=".1"'),
    ],
)
def test_an_object_that_can_be_told_from_what_it_lies_on_is_one(big: str, small: str) -> None:
    found = outline(BIG.format(big) + SMALL.format(small))
    assert found.polygons.area == pytest.approx(900.0 - AREA, abs=NEAR)
    assert not any("same colour" in note for note in found.notes)


def test_an_island_in_a_hole_is_seen() -> None:
    white = '<rect x="5" y="5" width="20" height="20" fill="white"/>'
    island = '<rect x="10" y="10" width="10" height="10"/>'
    assert outline(BIG.format("") + white + island).polygons.area == 900.0 - 400.0 + 100.0
    ring = '<path d="M0 0H30V30H0Z M5 5V25H25V5Z"/>'
    assert outline(ring + island).polygons.area == 900.0 - 400.0 + 100.0


def test_in_a_hole_of_an_object_that_crosses_itself() -> None:
    """The middle of a star is a hole by one rule, and not by the other."""
    star = '<path fill-rule="{}" d="M50 10L73.5 82.4 12 37.6H88L26.5 82.4Z"/>'
    alone = [outline(star.format(rule)).polygons.area for rule in ("evenodd", "nonzero")]
    inside = [outline(star.format(rule) + DISC).polygons.area for rule in ("evenodd", "nonzero")]
    assert inside == pytest.approx([alone[0] + AREA, alone[1]], abs=NEAR)


def test_an_object_that_reaches_the_edge_and_one_that_is_there_twice() -> None:
    edge = '<rect width="10" height="30"/>'
    assert outline(BIG.format("") + edge).polygons.area == 900.0
    twice = outline(BIG.format("") * 2)
    assert twice.polygons.area == 900.0
    assert twice.notes == ("1 loop drawn twice counted once",)


def test_what_says_nothing_of_its_paint_nests_as_ever() -> None:
    """Hatches, and shapes made by hand."""
    assert outline_of_shapes(
        path(SQUARE, fill="nonzero"), path(HOLE, fill="nonzero")
    ).polygons.area == pytest.approx(800.0)
    assert outline_of_shapes(loop(SQUARE), loop(HOLE)).polygons.area == pytest.approx(800.0)


Box = tuple[int, int, int, int]


def within(rng: Random, box: Box, depth: int) -> list[tuple[Box, str]]:
    """A box in black or white, and boxes side by side in it, painted after it."""
    u0, v0, u1, v1 = box
    made = [(box, rng.choice(["black", "white"]))]
    if depth and u1 - u0 > 4 and v1 - v0 > 2:
        middle = rng.randint(u0 + 2, u1 - 2)
        for left, right in ((u0 + 1, middle), (middle, u1 - 1)):
            if rng.random() < 0.8 and left < right:
                made += within(rng, (left, v0 + 1, right, v1 - 1), depth - 1)
    return made


@given(st.integers(0, 2**32 - 1))
def test_black_and_white_boxes_in_each_other_are_what_is_painted_black(seed: int) -> None:
    """Of any depth: counted on squares of 1 mm, each as it was painted last."""
    rng = Random(seed)
    boxes = within(rng, (1, 1, 40, 30), 5)
    boxes[0] = (boxes[0][0], "black")
    picture = np.zeros((42, 32), bool)
    body = ""
    for (u0, v0, u1, v1), colour in boxes:
        picture[u0:u1, v0:v1] = colour == "black"
        body += f'<rect x="{u0}" y="{v0}" width="{u1 - u0}" height="{v1 - v0}" fill="{colour}"/>'
    assert outline(body).polygons.area == pytest.approx(picture.sum())
