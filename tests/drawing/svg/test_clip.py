"""Reading SVG: what inner pages and clip paths cut off.

Sections are those of Scalable Vector Graphics (SVG) 2 and of CSS Masking Module Level 1.
"""

from __future__ import annotations

import math

import pytest

from silhouette3d.drawing.model import Arc, Sampled
from silhouette3d.drawing.outline.outline import outline_of
from tests.support.svg_drawings import area, bounds, drawn, only_curve

DISC = math.pi * 8.0**2
ROUND = '<circle r="8"/>'
WIDE = '<rect id="wide" width="100" height="100"/>'
BOX = '<rect x="10" y="20" width="30" height="40"/>'
CUT = "cut off 1 object at the clip"


def cap(distance: float) -> float:
    """Area of what a line at this distance from its middle cuts off the disc."""
    return 64.0 * math.acos(distance / 8.0) - distance * math.sqrt(64.0 - distance**2)


def clipped(clip: str, body: str = WIDE, attributes: str = "") -> str:
    return f'<clipPath id="c" {attributes}>{clip}</clipPath><g clip-path="url(#c)">{body}</g>'


# --- Inner pages (SVG 2, §8.2, and the style sheet of §6.7: what overflows them is hidden) -------


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ('<svg x="10" y="10" width="10" height="10">{}</svg>', DISC / 4),
        ('<svg x="10" y="10" width="10" height="10" transform="rotate(30)">{}</svg>', DISC / 4),
        ('<svg width="10" height="10" viewBox="0 0 20 20">{}</svg>', DISC / 16),
        ('<svg width="10" height="20" viewBox="0 0 10 10">{}</svg>', (DISC - cap(5)) / 2),
        ('<svg width="10" height="10" overflow="scroll">{}</svg>', DISC / 4),
        ('<svg width="4"><svg width="99" height="10">{}</svg></svg>', DISC / 4 - cap(4) / 2),
        ('<symbol id="s">{}</symbol><use href="#s" x="20" width="10" height="10"/>', DISC / 4),
        ('<defs><svg id="s" width="9" height="9">{}</svg></defs><use href="#s"/>', DISC / 4),
    ],
)
def test_what_goes_beyond_an_inner_page_is_cut_off(text: str, left: float) -> None:
    drawing = drawn(text.format(ROUND))
    outline = outline_of(drawing)
    assert abs(outline.polygons.area - left) <= outline.area_error <= 0.2  # 0.01 mm along 20 mm
    assert drawing.notes == (CUT,)


@pytest.mark.parametrize(
    "look", ['overflow="visible"', 'overflow="auto"', 'style="overflow:visible"']
)
def test_an_inner_page_may_overflow(look: str) -> None:
    drawing = drawn(f'<svg x="10" y="10" width="10" height="10" {look}>{ROUND}</svg>')
    assert abs(area(only_curve(drawing))) == pytest.approx(DISC)
    assert drawing.notes == ()


def test_nothing_is_cut_off_at_the_edge_of_the_outermost_page() -> None:
    assert abs(area(only_curve(drawn(ROUND)))) == pytest.approx(DISC)


def test_what_lies_outside_altogether_is_left_out_and_counted() -> None:
    outside = '<rect x="20" width="5" height="5"/><path d="M20 0H30" fill="none" stroke="red"/>'
    drawing = drawn(f'<svg width="10" height="10">{outside}<rect width="4" height="5"/></svg>')
    assert abs(area(only_curve(drawing))) == 20.0
    assert drawing.notes == ("ignored 2 objects outside the clip",)


def test_line_work_that_goes_beyond_is_read_whole_and_counted() -> None:
    line = '<circle r="8" fill="none" stroke="red" stroke-width=".1"/>'
    drawing = drawn(f'<svg width="9" height="9">{line}</svg>')
    assert abs(area(only_curve(drawing))) == pytest.approx(DISC)
    assert drawing.notes == ("read 1 clipped or masked object whole",)


def test_an_object_within_its_clip_is_left_as_it_was_drawn() -> None:
    """Also where it fills it to the edge, as a page drawn into itself does, turned and scaled."""
    inner = '<rect width="10" height="10"/><circle cx="5" cy="5" r="5"/>'
    drawing = drawn(f'<svg x="7.1" y="3.3" width="10" height="10">{inner}</svg>')
    assert [len(shape.curves[0].pieces) for shape in drawing.shapes] == [4, 1]
    assert drawing.notes == ()
    same = clipped('<circle r="9.7"/>', '<circle r="9.7"/>')
    drawing = drawn(f'<g transform="rotate(33) scale(1.3)">{same}</g>')
    assert isinstance(only_curve(drawing).pieces[0], Arc)


def test_curves_stay_curves_where_they_are_not_cut() -> None:
    """And what is left of a chord that was cut says how far it strays."""
    drawing = drawn(clipped('<circle cx="50" cy="50" r="20"/>', '<rect width="50" height="60"/>'))
    curve = only_curve(drawing)
    assert {type(piece).__name__ for piece in curve.pieces} <= {"Arc", "Line", "Sampled"}
    arcs = [piece for piece in curve.pieces if isinstance(piece, Arc)]
    assert sum(abs(a.end_angle - a.start_angle) for a in arcs) == pytest.approx(
        math.pi - math.acos(0.5), abs=0.1
    )
    for piece in curve.pieces:
        if isinstance(piece, Sampled):
            assert 0.0 < piece.deviation <= 0.001
            assert math.dist(piece.start, piece.end) < 1.0


# --- Clip paths (CSS Masking, §5 and §7) ---------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "box"),
    [
        (clipped(BOX), (10, 40, 40, 80)),
        (clipped(BOX, attributes='transform="translate(5 5)"'), (15, 35, 45, 75)),
        (clipped('<rect width="9" height="9" transform="scale(2)"/>'), (0, 82, 18, 100)),
        (f'<g transform="translate(5 5)">{clipped(BOX)}</g>', (15, 35, 45, 75)),
        (
            f'<clipPath id="c">{BOX}</clipPath><defs>{WIDE}</defs>'
            '<use href="#wide" x="5" clip-path="url(#c)"/>',
            (15, 40, 45, 80),
        ),
        (
            f'<clipPath id="c">{BOX}</clipPath>'
            f'<svg x="5" width="90" height="90" clip-path="url(#c)">{WIDE}</svg>',
            (15, 40, 45, 80),
        ),
        (
            '<defs><rect id="b" width="9" height="9"/></defs>'
            + clipped('<use href="#b" x="1" transform="scale(2)"/>'),
            (2, 82, 20, 100),
        ),
        (clipped('<rect width="50%" height="50%"/>'), (0, 50, 50, 100)),
        (clipped('<g><rect width="99" height="99"/></g>' + BOX), (10, 40, 40, 80)),  # no groups
        (clipped('<rect width="99" height="99" display="none"/>' + BOX), (10, 40, 40, 80)),
        (clipped('<rect width="99" height="99" visibility="hidden"/>' + BOX), (10, 40, 40, 80)),
        (clipped('<rect width="99" height="99" fill="none"/>'), (0, 1, 99, 100)),
        (
            '<clipPath id="d"><rect width="20" height="99"/></clipPath>'
            + clipped(BOX, attributes='clip-path="url(#d)"'),
            (10, 40, 20, 80),
        ),
        (
            '<clipPath id="d"><rect width="20" height="99"/></clipPath>'
            + clipped(BOX.replace("<rect", '<rect clip-path="url(#d)"')),
            (10, 40, 20, 80),
        ),
        (
            f'<clipPath id="d"><rect width="20" height="99"/></clipPath>'
            f'<g clip-path="url(#d)">{clipped(BOX)}</g>',
            (10, 40, 20, 80),
        ),
        (clipped(BOX, attributes='clip-path="url(#c)"'), (10, 40, 40, 80)),  # no clip of itself
        (
            '<clipPath id="c" clipPathUnits="objectBoundingBox"><rect x=".5" width="1" height="1"/>'
            '</clipPath><path d="M10 20C10 40 50 40 50 20Z" clip-path="url(#c)"/>',
            (30, 65, 50, 80),
        ),
        ('<g clip-path="url(#none)"><rect width="7" height="9"/></g>', (0, 91, 7, 100)),
        ('<g id="b"/><g clip-path="url(#b)"><rect width="7" height="9"/></g>', (0, 91, 7, 100)),
        (
            f'<style>.k{{clip-path:url("#c")}}</style><g class="k">{WIDE}</g>'
            f'<clipPath id="c">{BOX}</clipPath>',
            (10, 40, 40, 80),
        ),
    ],
)
def test_what_a_clip_path_leaves(text: str, box: tuple[float, ...]) -> None:
    drawing = drawn(text)
    assert bounds(only_curve(drawing)) == pytest.approx(box, abs=1e-5)  # 1e-5 of the box: its bend


@pytest.mark.parametrize(
    ("holder", "left"),
    [
        ("{}", 900.0),
        ('<g clip-rule="evenodd">{}</g>', 500.0),
        ("<style>path{{clip-rule:evenodd}}</style>{}", 500.0),
    ],
)
def test_the_rule_of_a_clip_path_comes_from_where_it_stands(holder: str, left: float) -> None:
    ring = '<path d="M5 5h30v30h-30z M10 10h20v20h-20z"/>'
    path = holder.format(f'<clipPath id="c">{ring}</clipPath>')
    drawing = drawn(f'{path}<g clip-rule="nonzero" clip-path="url(#c)">{WIDE}</g>')
    assert outline_of(drawing).polygons.area == pytest.approx(left)


def test_a_clip_of_several_shapes_is_all_of_them() -> None:
    shapes = '<rect width="10" height="10"/><rect x="5" width="10" height="10"/><circle r="3"/>'
    assert outline_of(drawn(clipped(shapes))).polygons.area == pytest.approx(150.0)


@pytest.mark.parametrize(
    "clip", ["", '<rect width="0" height="5"/>', '<rect x="200" width="5" height="5"/>']
)
def test_a_clip_of_nothing_leaves_nothing(clip: str) -> None:
    drawing = drawn(clipped(clip) + '<circle r="1"/>')
    assert only_curve(drawing).source == "circle on line 1"
    assert drawing.notes == ("ignored 1 object outside the clip",)


@pytest.mark.parametrize(
    "text",
    [
        clipped('<text y="9">a</text>'),
        f'<g style="clip-path:circle(5px)">{WIDE}</g>',
        '<clipPath id="c" clipPathUnits="objectBoundingBox"><rect width="1" height="1"/></clipPath>'
        f'<g clip-path="url(#c)">{WIDE}</g>',
        f'<mask id="m"><rect width="1" height="1"/></mask><g style="mask:url(#m)">{WIDE}</g>',
    ],
)
def test_clips_that_are_not_read_are_told(text: str) -> None:
    drawing = drawn(text)
    assert abs(area(only_curve(drawing))) == pytest.approx(1e4)
    assert drawing.notes[-1] == "read 1 clipped or masked object whole"


def test_a_filled_object_keeps_its_own_rule_under_a_clip() -> None:
    star = '<path fill-rule="{}" d="M20 3L30 35 4 14H36L10 35Z"/>'
    for rule in ("evenodd", "nonzero"):
        whole = outline_of(drawn(star.format(rule))).polygons
        half = outline_of(drawn(clipped('<rect width="20" height="99"/>', star.format(rule))))
        assert half.polygons.area == pytest.approx(whole.area / 2.0)
