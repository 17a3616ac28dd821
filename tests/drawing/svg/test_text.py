"""Reading SVG: text as lines that begin where the drawing says (SVG 2, §11)."""

from __future__ import annotations

import math

import pytest

from silhouette3d.drawing.model import Writing
from tests.support.svg_drawings import drawn

Places = list[tuple[str, float, float]]


def written(text: str) -> tuple[Writing, ...]:
    return drawn(text).writings


def places(text: str) -> Places:
    return [(w.text, w.matrix[4], 100.0 - w.matrix[5]) for w in written(text)]


def test_a_line_of_text() -> None:
    (line,) = written('<g id="names"><text x="10" y="20" font-size="5" fill="red">Tug</text></g>')
    assert line.text == "Tug"
    assert line.matrix == pytest.approx((5, 0, 0, 5, 10, 80))  # v up: letters stand upright
    assert (line.layer, line.colour, line.anchor) == ("names", "#ff0000", 0.0)
    assert (line.font, line.bold, line.italic, line.follows) == ("", False, False, False)


def test_text_is_no_outline_and_is_counted() -> None:
    drawing = drawn('<text y="9">a</text><text y="9">b</text>')
    assert drawing.shapes == ()
    assert "it shows nothing that can be part of an outline" in drawing.notes


@pytest.mark.parametrize(
    ("transform", "matrix"),
    [
        ("translate(3 4)", (5, 0, 0, 5, 13, 76)),
        ("scale(2 1)", (10, 0, 0, 5, 20, 80)),
        ("rotate(90)", (0, -5, 5, 0, -20, 90)),
        ("scale(-1 1)", (-5, 0, 0, 5, -10, 80)),
    ],
)
def test_a_transformed_line(transform: str, matrix: tuple[float, ...]) -> None:
    (line,) = written(f'<text x="10" y="20" font-size="5" transform="{transform}">Tug</text>')
    assert line.matrix == pytest.approx(matrix)


@pytest.mark.parametrize(
    ("look", "size"),
    [
        ("", 16.0),
        ('font-size="7"', 7.0),
        ('style="font-size:7px"', 7.0),
        ('style="font: italic bold 7px/2 Serif, sans-serif"', 7.0),
        ('font-size="10%"', 1.6),
        ('font-size="large"', 18.0),
        ('font-size="nonsense"', 16.0),
        ('font-size="2rem"', 32.0),
    ],
)
def test_the_size_of_a_font(look: str, size: float) -> None:
    assert written(f"<text {look}>a</text>")[0].matrix[0] == pytest.approx(size)
    inner = f'<g {look}><text><tspan font-size="2em">a</tspan></text></g>'
    assert written(inner)[0].matrix[0] == pytest.approx(2.0 * size)


def test_a_size_in_mm_on_a_page_of_pixels() -> None:
    (line,) = drawn('<text font-size="10mm">a</text>', 'width="96" height="96"').writings
    assert line.matrix[0] == pytest.approx(10.0)


@pytest.mark.parametrize(
    ("look", "font", "bold", "italic"),
    [
        ("font-family=\"'Deck Hand', sans-serif\"", "Deck Hand, sans-serif", False, False),
        ('font-family="Serif" font-weight="bold"', "Serif", True, False),
        ('font-family="Serif" font-weight="500" font-style="oblique 9deg"', "Serif", False, True),
        ('style="font:italic 700 7px/2 Serif"', "Serif", True, True),
        ('style="font:7pt Serif" font-weight="bold"', "Serif", False, False),
    ],
)
def test_the_font_of_a_line(look: str, font: str, bold: bool, italic: bool) -> None:
    (line,) = written(f"<text {look}>a</text>")
    assert (line.font, line.bold, line.italic) == (font, bold, italic)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # places of single letters (§11.4.2)
        ('<text x="1 2 3" y="9">abcd</text>', [("a", 1, 9), ("b", 2, 9), ("cd", 3, 9)]),
        ('<text x="1,5%" y="9 8">ab</text>', [("a", 1, 9), ("b", 5, 8)]),
        ('<text x="1" y="9">a<tspan x="5" y="20">b</tspan></text>', [("a", 1, 9), ("b", 5, 20)]),
        (
            '<text><tspan x="1" y="9">a</tspan><tspan x="1" dy="5">b</tspan></text>',
            [("a", 1, 9), ("b", 1, 14)],
        ),
        ('<text x="1" y="9" dx="2" dy="-1">ab</text>', [("ab", 3, 8)]),
        ('<text x="1 4"><tspan x="2">a</tspan>b</text>', [("a", 2, 0), ("b", 4, 0)]),
        # blanks (§11.7.2 and CSS Text, §4.1)
        ('<text x="1">\n  a \n b\t</text>', [("a b", 1, 0)]),
        ('<text x="1" xml:space="preserve"> a\nb </text>', [(" a b ", 1, 0)]),
        ('<text x="1" style="white-space:pre"> a  b</text>', [(" a  b", 1, 0)]),
        ('<g xml:space="preserve"><text x="1"> a  b</text></g>', [(" a  b", 1, 0)]),
        (
            '<g xml:space="preserve"><text x="1" xml:space="default"> a  b</text></g>',
            [("a b", 1, 0)],
        ),
        ('<text x="1 2 3"> a  b</text>', [("a", 1, 0), ("b", 3, 0)]),
        ("<text>a<!-- b -->c<title>d</title>e</text>", [("ace", 0, 0)]),
        ("<text>a&#xe9;&amp;</text>", [("aé&", 0, 0)]),
        ("<text> </text><text/>", []),
        ('<text><a href="x">a</a></text>', [("a", 0, 0)]),
    ],
)
def test_where_text_is_put(text: str, expected: Places) -> None:
    found = places(text)
    assert [t for t, *_ in found] == [t for t, *_ in expected]
    assert [at for _, *at in found] == [pytest.approx(at) for _, *at in expected]


def test_what_is_set_otherwise_follows() -> None:
    lines = written('<text x="1" y="9">a<tspan font-size="30" fill="red">b</tspan> c</text>')
    assert [(w.text, w.follows) for w in lines] == [("a", False), ("b", True), (" c", True)]
    assert [w.matrix[0] for w in lines] == [16.0, 30.0, 16.0]
    assert {w.matrix[4:] for w in lines} == {(1.0, 91.0)}
    assert lines[1].colour == "#ff0000"


def test_a_shift_in_a_line_follows_where_it_would_lie_without_length() -> None:
    lines = written('<text x="1" y="9">a<tspan dx="2" dy="3">b</tspan></text>')
    assert [(w.text, w.follows) for w in lines] == [("a", False), ("b", True)]
    assert lines[1].matrix[4:] == pytest.approx((3.0, 88.0))


def test_turned_letters_stand_one_by_one() -> None:
    lines = written('<text x="1" y="9" rotate="0 90">abc</text>')
    assert [(w.text, w.follows) for w in lines] == [("a", False), ("b", True), ("c", True)]
    angles = [math.degrees(math.atan2(w.matrix[1], w.matrix[0])) for w in lines]
    assert angles == pytest.approx([0, -90, -90])  # clockwise on the screen


@pytest.mark.parametrize(
    ("look", "anchor"), [("middle", 0.5), ("end", 1.0), ("start", 0.0), ("nonsense", 0.0)]
)
def test_the_anchor(look: str, anchor: float) -> None:
    assert written(f'<g text-anchor="{look}"><text>a</text></g>')[0].anchor == anchor


@pytest.mark.parametrize(
    "text",
    [
        '<g display="none"><text>a</text></g>',
        '<text visibility="hidden">a</text>',
        '<text fill="none">a</text>',
        '<text><tspan display="none">a</tspan></text>',
        '<text font-size="0">a</text>',
        "<defs><text>a</text></defs>",
        '<text><textPath href="#p">a</textPath></text>',
    ],
)
def test_text_that_is_not_seen_or_not_read(text: str) -> None:
    assert written(text) == ()


def test_stroked_text_and_text_that_is_used() -> None:
    assert written('<text fill="none" stroke="lime">a</text>')[0].colour == "#00ff00"
    assert places('<defs><text id="t" x="1">a</text></defs><use href="#t" x="4"/>') == [("a", 5, 0)]


def test_what_follows_text_that_is_not_seen_is_not_read() -> None:
    """As nobody knows how long that is."""
    text = '<text>a<tspan visibility="hidden">b</tspan>c</text>'
    assert places(text) == [("a", 0, 0)]
    assert any("1 tspan" in note for note in drawn(text).notes)
