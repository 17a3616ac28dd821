"""Reading SVG: colours, dashes and widths, as they are seen; and what is not painted at all.

Sections are those of Scalable Vector Graphics (SVG) 2 and CSS Color Module Level 4.
"""

from __future__ import annotations

import pytest

from silhouette3d.drawing.model import Shape
from tests.support.svg_drawings import drawn

RING = '<path class="k" id="p" d="M0 0H30V30H0Z" {}/>'
STOPS = '<stop stop-color="#123456"/><stop offset="1" style="stop-color:#123456"/>'
LINE = 'fill="none" stroke="#000"'


def only_shape(text: str) -> Shape:
    (shape,) = drawn(text).shapes
    return shape


@pytest.mark.parametrize(
    ("text", "colour"),
    [
        (RING.format(""), "#000000"),
        (RING.format('fill="Red"'), "#ff0000"),
        (RING.format('fill="#0f0"'), "#00ff00"),
        (RING.format('fill="#00f8"'), "#0000ff"),  # half seen through is seen
        (RING.format('fill="rgb(255,128,0)"'), "#ff8000"),
        (RING.format('fill="rgb(100% 50% 0% / .5)"'), "#ff8000"),
        (RING.format('style="fill:hsl(120,100%,25%)"'), "#008000"),
        (RING.format('fill="#CD853F icc-color(acmecmyk, 0.11, 0.48, 0.83, 0)"'), "#cd853f"),
        (RING.format('fill="red" stroke="blue"'), "#ff0000"),  # of the inside, where there is one
        (RING.format('fill="none" stroke="blue"'), "#0000ff"),
        (RING.format('fill="red" fill-opacity="0" stroke="blue"'), "#0000ff"),
        ("<style>.k{fill:blue}</style>" + RING.format('fill="red"'), "#0000ff"),
        ("<style>.k{fill:bleu}</style>" + RING.format('fill="red"'), "#ff0000"),  # passed over
        ("<style>.k{fill:blue}</style>" + RING.format('style="fill:red"'), "#ff0000"),
        ("<style>.k{fill:blue!important}</style>" + RING.format('style="fill:red"'), "#0000ff"),
        ('<g fill="red">' + RING.format("") + "</g>", "#ff0000"),
        ('<g fill="red">' + RING.format('fill="inherit"') + "</g>", "#ff0000"),
        ('<g fill="red">' + RING.format('fill="initial"') + "</g>", "#000000"),
        ('<g fill="red">' + RING.format('fill="no colour"') + "</g>", "#ff0000"),
        # currentColor is that of the object itself, wherever the word stands (§13.2)
        ('<g color="red">' + RING.format('fill="currentColor"') + "</g>", "#ff0000"),
        ('<g color="red" fill="currentColor">' + RING.format('color="lime"') + "</g>", "#00ff00"),
        (RING.format('fill="currentcolor" style="color:blue"'), "#0000ff"),
        ("<defs>" + RING.format("") + '</defs><g fill="red"><use href="#p"/></g>', "#ff0000"),
        ("<defs>" + RING.format('fill="lime"') + '</defs><use href="#p" fill="red"/>', "#00ff00"),
        ("<style>svg{--cut:red}</style>" + RING.format('style="fill:var(--cut)"'), "#ff0000"),
        (RING.format('style="fill:var(--cut, rgb(0, 0, 255))"'), "#0000ff"),
        (RING.format('style="--a:var(--b,red);fill:var(--a)"'), "#ff0000"),
        ('<g fill="red">' + RING.format('style="fill:var(--cut)"') + "</g>", "#ff0000"),
        # gradients: of one colour only where every stop is (§14.2)
        (
            f'<linearGradient id="g">{STOPS}</linearGradient>' + RING.format('fill="url(#g)"'),
            "#123456",
        ),
        (
            f'<linearGradient id="h">{STOPS}</linearGradient><radialGradient id="g" href="#h"/>'
            + RING.format("style=\"fill:url('#g')\""),
            "#123456",
        ),
        (
            f'<linearGradient id="g">{STOPS}<stop stop-color="red"/></linearGradient>'
            + RING.format('fill="url(#g)"'),
            None,
        ),
        ('<pattern id="g"/>' + RING.format('fill="url(#g)"'), None),
        (RING.format('fill="url(#none) lime"'), "#00ff00"),
        (RING.format('fill="lab(50% 40 59)"'), None),  # a colour, but none of red, green and blue
    ],
)
def test_the_colour_of_an_object(text: str, colour: str | None) -> None:
    assert only_shape(text).colour == colour


@pytest.mark.parametrize(
    "look",
    [
        'fill="rgba(255,0,0,0)"',
        'fill="#f000"',
        'fill="rgb(0 0 0 / 0%)"',
        'fill="url(#none)"',
        'fill="url(#none) none"',
        'fill="url(#p)"',  # no paint, but another object
        'fill="url(#empty)"',
        'fill="context-stroke"',
        'fill="currentColor" color="transparent"',
        'fill="none" style="stroke:nonsense"',
        'style="fill:var(--none, none)"',
    ],
)
def test_what_is_not_painted_is_left_out_and_counted(look: str) -> None:
    drawing = drawn('<linearGradient id="empty"/>' + RING.format(look))
    assert drawing.shapes == ()
    assert "ignored 1 object with neither fill nor stroke" in drawing.notes


@pytest.mark.parametrize(
    ("look", "linetype"),
    [
        ("", None),
        (LINE, "continuous"),
        (f'{LINE} stroke-dasharray="5"', "dashed"),
        (f'{LINE} stroke-dasharray="5 1,2"', "dashed"),
        (f'{LINE} style="stroke-dasharray:5%,1mm"', "dashed"),
        (f'{LINE} stroke-dasharray="none"', "continuous"),
        (f'{LINE} stroke-dasharray="0"', "continuous"),
        (f'{LINE} stroke-dasharray="5 0"', "continuous"),
        (f'{LINE} stroke-dasharray="5 0 0"', "dashed"),  # taken twice: 5 0 0 5 0 0
        (f'{LINE} stroke-dasharray="5 -1"', "continuous"),  # in error
        ('stroke="red" stroke-dasharray="5"', None),  # filled
    ],
)
def test_the_linetype_of_line_work(look: str, linetype: str | None) -> None:
    assert only_shape(RING.format(look)).linetype == linetype
    assert only_shape(f"<g {look}>{RING.format('')}</g>").linetype == linetype


@pytest.mark.parametrize(
    ("text", "width"),
    [
        (RING.format(""), 0.0),
        (RING.format('stroke="red"'), 1.0),
        (RING.format('stroke="red" stroke-width="3"'), 3.0),
        (RING.format('stroke="red" style="stroke-width:3"'), 3.0),
        (RING.format('stroke="red" stroke-width="-3"'), 1.0),  # in error
        (RING.format('stroke="red" stroke-width="2%"'), 2.0),
        (RING.format('stroke-width="3"'), 0.0),
        ('<g transform="scale(2)">' + RING.format('stroke="red" stroke-width="3"') + "</g>", 6.0),
        ('<g transform="scale(1,4)">' + RING.format('stroke="red" stroke-width="3"') + "</g>", 6.0),
        (
            '<g transform="scale(9)">'
            + RING.format('stroke="red" stroke-width="96" vector-effect="non-scaling-stroke"')
            + "</g>",
            25.4,
        ),
    ],
)
def test_the_width_of_a_stroke_in_mm(text: str, width: float) -> None:
    assert only_shape(text).width == pytest.approx(width)


def test_wide_strokes_are_told() -> None:
    fine = RING.format('stroke="red" stroke-width=".5"')
    assert drawn(fine).notes == ()
    wide = RING.format('stroke="red" stroke-width="8"') + RING.format(f'{LINE} stroke-width="1.5"')
    assert drawn(fine + wide).notes == (
        "left the width of 2 strokes out of account, up to 8 mm: "
        "the outline runs along the middle of a stroke",
    )


@pytest.mark.parametrize(
    ("look", "plain"),
    [
        ("", True),
        ('fill="red" stroke="#f00"', True),
        ('fill="red" stroke="blue"', False),
        ('fill="red" stroke="red" stroke-opacity=".5"', False),
        ('fill="#f008"', False),
        ('fill-opacity=".5"', False),
        ('opacity=".5"', False),
        ('fill="url(#g)"', False),
        (LINE, False),
    ],
)
def test_whether_an_object_can_be_told_from_what_it_lies_on(look: str, plain: bool) -> None:
    assert only_shape('<pattern id="g"/>' + RING.format(look)).plain == plain


@pytest.mark.parametrize(
    ("page", "size"),
    [
        ('width="80mm" height="5cm" viewBox="0 0 8 5"', (80, 50)),
        ('width="80mm" height="5cm" viewBox="9 9 5 5"', (80, 50)),
        ('width="80mm" viewBox="0 0 8 5"', (80, 50)),
        ('viewBox="0 0 96 48"', (25.4, 12.7)),
        ('width="96" height="100%"', None),
        ("", None),
    ],
)
def test_the_page_of_a_drawing(page: str, size: tuple[float, float] | None) -> None:
    found = drawn(RING.format(""), page).page
    assert found == (size and pytest.approx((0, 0, *size)))
