"""Reading SVG: what is shown, what is filled, on which layer, and what is drawn twice.

Section numbers are those of Scalable Vector Graphics (SVG) 2, W3C Candidate
Recommendation, 4 October 2018, unless another standard is named.
"""

from __future__ import annotations

import subprocess
import sys

import pytest

from silhouette3d.drawing.model import Drawing
from tests.support.svg_drawings import SPACES, area, bounds, drawn, drawn_from, only_curve

RING = "M0 0H30V30H0Z M10 10H20V20H10Z"
SPOT = '<circle r="1"/>'


def fills(drawing: Drawing) -> list[str | None]:
    return [shape.fill for shape in drawing.shapes]


def layers(drawing: Drawing) -> list[str]:
    return [shape.layer for shape in drawing.shapes]


# --- Filled or line work (§13.3, §13.4) --------------------------------------


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("{}", "nonzero"),
        ('<g fill-rule="evenodd">{}</g>', "evenodd"),
        ('<g style="fill-rule:evenodd">{}</g>', "evenodd"),
        ('<g fill-rule="evenodd"><g fill-rule="nonzero">{}</g></g>', "nonzero"),
        ('<g fill-rule="evenodd"><g fill-rule="initial">{}</g></g>', "nonzero"),
        ('<g fill-rule="evenodd"><g fill-rule="inherit">{}</g></g>', "evenodd"),
        ('<g fill-rule="evenodd"><g fill-rule="no such rule">{}</g></g>', "evenodd"),
        ('<g fill-rule="evenodd" style="fill-rule: nonzero ;">{}</g>', "nonzero"),
        ("<style>path{{fill-rule:evenodd}}</style>{}", "evenodd"),
        ("{}<style>path{{fill-rule:evenodd}}</style>", "evenodd"),
        ("<style>.a{{fill-rule:evenodd}}</style>{}", "evenodd"),
        ("<style>.a,.b{{fill-rule:evenodd}}</style>{}", "evenodd"),
        ("<style>path.a{{fill-rule:evenodd}}</style>{}", "evenodd"),
        ("<style>rect.a{{fill-rule:evenodd}}</style>{}", "nonzero"),
        ("<style>#hull{{fill-rule:evenodd}}</style>{}", "evenodd"),
        ("<style>g .a{{fill-rule:evenodd}}</style><g>{}</g>", "evenodd"),
        ("<style>g > .a{{fill-rule:evenodd}}</style><g><a>{}</a></g>", "nonzero"),
        ("<style>*{{fill-rule:evenodd}}</style>{}", "evenodd"),
        ("<style><![CDATA[ /* cut */ .a{{fill-rule:evenodd}} ]]></style>{}", "evenodd"),
        # CSS Cascading and Inheritance Level 4, §6: specificity, order, importance
        ("<style>#hull{{fill-rule:evenodd}}.a{{fill-rule:nonzero}}</style>{}", "evenodd"),
        ("<style>.a{{fill-rule:evenodd}}.a{{fill-rule:nonzero}}</style>{}", "nonzero"),
        (
            "<style>.a{{fill-rule:evenodd!important}}#hull{{fill-rule:nonzero}}</style>{}",
            "evenodd",
        ),
        ('<style>.a{{fill-rule:evenodd}}</style><g fill-rule="nonzero">{}</g>', "evenodd"),
    ],
)
def test_the_fill_rule_of_an_object(text: str, rule: str) -> None:
    (shape,) = drawn(text.format(f'<path id="hull" class="a b2" d="{RING}"/>')).shapes
    assert shape.fill == rule
    assert len(shape.curves) == 2


def test_style_beats_class_beats_attribute() -> None:
    sheet = "<style>.a{fill-rule:evenodd}</style>"
    assert fills(drawn(sheet + f'<path class="a" fill-rule="nonzero" d="{RING}"/>')) == ["evenodd"]
    both = f'<path class="a" style="fill-rule:nonzero" d="{RING}"/>'
    assert fills(drawn(sheet + both)) == ["nonzero"]
    assert fills(drawn(sheet.replace("odd}", "odd!important}") + both)) == ["evenodd"]


@pytest.mark.parametrize(
    "look",
    [
        'fill="none" stroke="red"',
        'fill="NONE" stroke="url(#g) red"',
        'style="fill:none;stroke:#000;stroke-width:.1"',
        'fill="transparent" stroke="red"',
        'fill-opacity="0" stroke="red"',
        'style="fill-opacity:0%" stroke="red"',
    ],
)
def test_an_object_that_is_stroked_only_is_a_shape_per_sub_path(look: str) -> None:
    for text in (f'<path d="{RING}" {look}/>', f'<g {look}><path d="{RING}"/></g>'):
        drawing = drawn(text)
        assert fills(drawing) == [None, None]
        assert all(shape.curves[0].is_closed for shape in drawing.shapes)


@pytest.mark.parametrize("look", ['fill="url(#g) red"', 'fill="currentColor"', 'fill="#fff"', ""])
def test_any_other_paint_fills(look: str) -> None:
    assert fills(drawn(f'<path d="{RING}" {look}/>')) == ["nonzero"]


def test_a_line_is_never_filled() -> None:
    assert fills(drawn('<line x2="5" fill="red" stroke="red"/>')) == [None]
    assert fills(drawn('<line x2="5" fill="red"/>')) == []


def test_an_open_sub_path_of_a_filled_object_stays_open() -> None:
    (shape,) = drawn('<path d="M0 0H9V9"/>').shapes
    assert shape.fill == "nonzero"
    assert not shape.curves[0].is_closed


# --- What is not shown (§3, §5.7, §5.10; CSS 2) -------------------------------


@pytest.mark.parametrize(
    "text",
    [
        '<g display="none"><path d="M0 0H9V9Z"/><rect width="5" height="5"/></g>',
        '<rect width="5" height="5" style="display:none"/>',
        '<style>.off{display:none}</style><rect class="off" width="5" height="5"/>',
        '<g visibility="hidden"><rect width="5" height="5"/></g>',
        '<g visibility="collapse"><rect width="5" height="5"/></g>',
        '<rect width="5" height="5" opacity="0"/>',
        '<g style="opacity:0.0"><rect width="5" height="5"/></g>',
        '<g requiredExtensions="http://a.b/c"><rect width="5" height="5"/></g>',
        '<g display="none"><path d="what is not shown is not read"/></g>',
    ],
)
def test_hidden_objects_are_left_out_and_counted(text: str) -> None:
    drawing = drawn(text + SPOT)
    assert only_curve(drawing).source.startswith("circle")
    assert drawing.notes == ("ignored 1 hidden object",)


def test_a_visible_object_in_a_hidden_group_is_shown() -> None:
    # visibility is inherited and can be set again, display cannot (CSS 2.2, §11.2, §9.2.4)
    inner = '<rect width="5" height="5" visibility="visible" display="inline"/>'
    assert len(drawn(f'<g visibility="hidden">{inner}</g>').shapes) == 1
    assert len(drawn(f'<g display="none">{inner}</g>').shapes) == 0


@pytest.mark.parametrize(
    "look",
    [
        'fill="none"',
        'fill="none" stroke="none"',
        'style="fill:none"',
        'fill="none" stroke="red" stroke-width="0"',
        'fill="none" stroke="red" stroke-opacity="0"',
    ],
)
def test_what_is_neither_filled_nor_stroked_is_left_out_and_counted(look: str) -> None:
    # Drawing programs leave such rectangles of the size of the page behind.
    drawing = drawn(f'<rect width="100" height="100" {look}/>' * 2 + SPOT)
    assert only_curve(drawing).source.startswith("circle")
    assert drawing.notes == ("ignored 2 objects with neither fill nor stroke",)


def test_what_cannot_be_an_outline_is_counted() -> None:
    drawing = drawn(
        '<text>a</text><image href="a.png"/><text>b</text><foreignObject/><desc>c</desc>'
        "<defs><linearGradient/></defs><title>d</title><metadata/><script/><squiggle/>"
        '<x:a xmlns:x="urn:x"><rect width="5" height="5"/></x:a>' + SPOT
    )
    assert drawing.notes == ("ignored 1 image, 1 foreignObject, 1 squiggle, 1 linearGradient",)


@pytest.mark.parametrize(
    "holder", ["defs", "symbol", "clipPath", "mask", "pattern", "marker", "linearGradient"]
)
def test_what_is_only_kept_for_use_is_not_drawn(holder: str) -> None:
    drawing = drawn(f'<{holder} id="a"><rect width="9" height="9"/></{holder}>{SPOT}')
    assert only_curve(drawing).source.startswith("circle")


def test_nothing_to_see_is_said() -> None:
    assert drawn("").notes == ("it shows nothing that can be part of an outline",)
    assert drawn("<text/>").shapes == ()
    hidden = drawn_from(
        f'<svg {SPACES} width="9mm" height="9mm" display="none">{SPOT}</svg>'.encode()
    )
    assert hidden.shapes == ()


def test_rules_that_are_not_understood_are_named() -> None:
    drawing = drawn(
        "<style>@media print{circle{display:none}} @import url(a.css); circle:::x{display:none}"
        "@font-face{font-family:a} circle{fill-rule:evenodd; nonsense} }</style>" + SPOT
    )
    assert fills(drawing) == ["evenodd"]
    assert drawing.notes == (
        "ignored @media in a style sheet",
        "ignored @import in a style sheet",
        "ignored the rule for 'circle:::x' in a style sheet",
        "ignored what cannot be read in a style sheet",
    )


def test_style_sheets_in_other_files_are_named() -> None:
    data = f'<?xml-stylesheet href="a.css"?><svg {SPACES} width="9mm" height="9mm">{SPOT}</svg>'
    assert drawn_from(data.encode()).notes == ("ignored 1 style sheet in other files",)


def test_a_switch_shows_its_first_child_that_asks_for_nothing() -> None:
    drawing = drawn(
        '<switch><title/><foreignObject/><rect requiredExtensions="a" width="1" height="1"/>'
        '<rect systemLanguage="de" width="2" height="2"/><rect width="3" height="3"/>'
        '<rect width="4" height="4"/></switch>'
    )
    assert area(only_curve(drawing)) == pytest.approx(-9.0)


# --- Layers and names ---------------------------------------------------------


def test_layers_are_the_outermost_groups_that_have_a_name() -> None:
    drawing = drawn(
        f'{SPOT}<g id="OUTLINE">{SPOT}<g id="deck">{SPOT}</g></g>'
        f'<g id="layer1" xmlns:k="http://www.inkscape.org/namespaces/inkscape" k:label="Stock">'
        f'{SPOT}</g><g><g id="inner">{SPOT}</g>{SPOT}</g><a id="link">{SPOT}</a>'
    )
    assert layers(drawing) == ["", "OUTLINE", "OUTLINE", "Stock", "inner", "", ""]
    assert drawing.layers == ("", "OUTLINE", "Stock", "inner")


def test_what_is_used_lies_where_it_is_used() -> None:
    drawing = drawn(
        f'<defs><g id="lamp">{SPOT}</g></defs><use href="#lamp"/>'
        '<g id="TABS"><use href="#lamp"/></g>'
    )
    assert layers(drawing) == ["", "TABS"]


def test_objects_are_named_by_tag_and_id_or_line() -> None:
    drawing = drawn('<path id="hull" d="M0 0H9V9Z"/>\n\n<rect width="1" height="1"/>')
    sources = [shape.curves[0].source for shape in drawing.shapes]
    assert sources == ["path 'hull'", "rect on line 3"]


# --- use, symbol and inner viewports (§5.5, §5.6, §8) --------------------------

DEFS = '<defs><rect id="r" x="1" y="2" width="3" height="4"/></defs>'


@pytest.mark.parametrize("href", ["href", "xlink:href"])
def test_use_shifts_after_its_own_transform(href: str) -> None:
    text = f'<g transform="translate(10,0)"><use {href}="#r" x="5" y="6" transform="scale(2)"/></g>'
    # x: 10 + 2 (5 + 1), y: 2 (6 + 2)
    assert bounds(only_curve(drawn(DEFS + text))) == pytest.approx((22, 76, 28, 84))


def test_use_of_use_and_of_groups() -> None:
    text = (
        '<g id="pair" transform="scale(2)"><use href="#r"/></g>'
        '<use id="again" href="#pair" x="20"/><use href="#again" y="50"/>'
    )
    boxes = [bounds(shape.curves[0]) for shape in drawn(DEFS + text).shapes]
    assert boxes == [
        pytest.approx(box) for box in [(2, 88, 8, 96), (22, 88, 28, 96), (22, 38, 28, 46)]
    ]


def test_use_hands_down_its_look() -> None:
    text = (
        '<defs><path id="p" d="M0 0H9V9Z"/><path id="q" fill-rule="nonzero" d="M0 0H9V9Z"/></defs>'
        '<g fill-rule="evenodd"><use href="#p"/><use href="#q"/></g>'
        '<use href="#p" fill="none" stroke="red"/>'
    )
    assert fills(drawn(text)) == ["evenodd", "nonzero", None]


def test_href_beats_xlink_href_and_the_first_of_two_ids_counts() -> None:
    text = DEFS + '<defs><circle id="r" r="9"/><circle id="c" r="9"/></defs>'
    drawing = drawn(text + '<use xlink:href="#c" href="#r"/>')
    assert only_curve(drawing).source == "rect 'r'"


def test_symbols_are_fitted_into_the_size_given_by_use() -> None:
    # viewBox 10 × 10 into 40 × 20: scale 2, 10 to the right (§8.2, xMidYMid meet)
    symbol = '<symbol id="s" viewBox="0 0 10 10"><rect width="10" height="10"/></symbol>'
    drawing = drawn(symbol + '<use href="#s" x="3" y="5" width="40" height="20"/>')
    assert bounds(only_curve(drawing)) == pytest.approx((13, 75, 33, 95))
    drawing = drawn(symbol + '<use href="#s"/>')  # 100 % of the page
    assert bounds(only_curve(drawing)) == pytest.approx((0, 0, 100, 100))
    sized = symbol.replace("viewBox", 'width="20" height="20" viewBox')
    assert bounds(only_curve(drawn(sized + '<use href="#s"/>'))) == pytest.approx((0, 80, 20, 100))
    drawing = drawn(sized + '<use href="#s" height="10"/>')
    assert bounds(only_curve(drawing)) == pytest.approx((5, 90, 15, 100))


def test_inner_pages_and_their_percentages() -> None:
    inner = (
        '<svg id="i" x="10" y="20" width="50%" height="40" viewBox="0 0 100 80"'
        ' transform="translate(1,1)">'
        '<rect width="50%" height="50%"/></svg>'
    )
    assert bounds(only_curve(drawn(inner))) == pytest.approx((11, 59, 36, 79))
    drawing = drawn(f'<defs>{inner}</defs><use href="#i" width="100" height="80"/>')
    assert bounds(only_curve(drawing)) == pytest.approx((11, 39, 61, 79))


@pytest.mark.parametrize(
    ("href", "note"),
    [
        ("#nothing", "ignored 1 use of '#nothing', which is not in this file"),
        ("other.svg#a", "ignored 1 use of 'other.svg#a', which is not a part of this file"),
        ("http://a.b/c#d", "ignored 1 use of 'http://a.b/c#d', which is not a part of this file"),
        ("", "ignored 1 use of '', which is not a part of this file"),
    ],
)
def test_uses_of_what_is_not_here_are_named(href: str, note: str) -> None:
    assert drawn(f'<use href="{href}"/>{SPOT}').notes == (note,)


def test_libraries_load_when_first_needed() -> None:
    code = (
        "import sys, silhouette3d.drawing.svg.reader\n"
        "print(sorted({'tinycss2', 'cssselect2'} & sys.modules.keys()))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"
