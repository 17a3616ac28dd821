"""Reading SVG: every shape, path command, unit, viewBox and transform, against formulas.

Section numbers are those of Scalable Vector Graphics (SVG) 2, W3C Candidate
Recommendation, 4 October 2018, unless another standard is named.
"""

from __future__ import annotations

import io
import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
import trimesh
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Polygon

from silhouette3d.drawing.model import Arc, Bezier, Line
from silhouette3d.drawing.svg.shapes import path_data
from silhouette3d.errors import DrawingError
from tests.support.svg_drawings import PAGE, SPACES, area, bounds, drawn, drawn_from, only_curve

ROUNDING = 1e-12
"""Relative. Some tens of roundings of 1.1e-16 each, on numbers of one size."""

# --- Basic shapes (§10) ------------------------------------------------------


@pytest.mark.parametrize(
    ("element", "enclosed", "box"),
    [
        ('<rect x="10" y="20" width="30" height="40"/>', 1200.0, (10, 40, 40, 80)),
        (
            '<rect x="10" y="20" width="30" height="40" rx="5"/>',
            1200.0 - (4.0 - math.pi) * 25.0,
            (10, 40, 40, 80),
        ),
        (
            '<rect x="10" y="20" width="30" height="40" rx="3" ry="6"/>',
            1200.0 - (4.0 - math.pi) * 18.0,
            (10, 40, 40, 80),
        ),
        (  # both radii are held to half the sides: what is left is an ellipse
            '<rect x="10" y="20" width="30" height="40" rx="99" ry="99"/>',
            math.pi * 15.0 * 20.0,
            (10, 40, 40, 80),
        ),
        (
            '<rect x="10" y="20" width="30" height="40" ry="99"/>',  # rx = 99 too, then both shrink
            math.pi * 15.0 * 20.0,
            (10, 40, 40, 80),
        ),
        (
            '<rect x="10" y="20" width="30" height="40" rx="5" ry="0"/>',
            1200.0,
            (10, 40, 40, 80),
        ),
        ('<circle cx="50" cy="30" r="7"/>', math.pi * 49.0, (43, 63, 57, 77)),
        ('<ellipse cx="50" cy="30" rx="7" ry="3"/>', math.pi * 21.0, (43, 67, 57, 73)),
        ('<ellipse cx="50" cy="30" rx="7"/>', math.pi * 49.0, (43, 63, 57, 77)),
        ('<ellipse cx="50" cy="30" rx="auto" ry="7"/>', math.pi * 49.0, (43, 63, 57, 77)),
        ('<polygon points="0,0 30,0 30,40"/>', 600.0, (0, 60, 30, 100)),
        ('<path d="M0 0H30V40Z"/>', 600.0, (0, 60, 30, 100)),
    ],
)
def test_area_and_place_of_a_closed_shape(
    element: str, enclosed: float, box: tuple[float, ...]
) -> None:
    curve = only_curve(drawn(element))
    assert curve.is_closed
    # Each of these runs clockwise on the screen, y down, and so it does with v up.
    assert area(curve) == pytest.approx(-enclosed, rel=ROUNDING)
    assert bounds(curve) == pytest.approx(box, abs=2e-6)  # chords are as fine as 1e-6 mm


def test_a_circle_is_one_true_arc() -> None:
    (arc,) = only_curve(drawn('<circle cx="50" cy="30" r="7"/>')).pieces
    assert isinstance(arc, Arc)
    assert arc.is_circular
    assert arc.centre == (50.0, 70.0)
    assert arc.reach == 7.0


def test_a_rounded_rectangle_goes_round_without_a_jump() -> None:
    pieces = only_curve(drawn('<rect width="30" height="40" rx="4" ry="6"/>')).pieces
    assert [type(piece) for piece in pieces] == [Line, Arc] * 4
    for a, b in pairwise((*pieces, pieces[0])):
        assert a.end == pytest.approx(b.start, abs=1e-12)  # roundings of numbers below 100


def test_lines_and_polylines_stay_open() -> None:
    line = only_curve(drawn('<line x1="1" y1="2" x2="3" y2="4" stroke="#000"/>'))
    assert line.pieces == (Line((1.0, 98.0), (3.0, 96.0)),)
    polyline = only_curve(drawn('<polyline points="0,0 10,0,10-10.5.5"/>'.replace(".5.5", ".5")))
    assert polyline.pieces == (Line((0, 100), (10, 100)), Line((10, 100), (10, 110.5)))
    assert not polyline.is_closed


@pytest.mark.parametrize(
    "element",
    [
        '<rect width="0" height="5"/>',
        '<rect height="5"/>',
        '<rect x="1" y="1"/>',
        '<circle cx="4" cy="4"/>',
        '<ellipse rx="4" ry="0"/>',
        '<polygon points=""/>',
        '<polyline points="3,3"/>',
        '<line x1="1" x2="1" stroke="red"/>',
        '<path d=""/>',
        '<path d="none"/>',
        "<path/>",
        '<path d="M3 4"/>',
        '<path d="M3 4Z"/>',
        '<path d="M3 4L3 4C3 4 3 4 3 4A5 5 0 0 0 3 4"/>',
        '<g transform="scale(0)"><circle r="3"/></g>',
        '<g transform="scale(1,0)"><circle r="3"/></g>',
    ],
)
def test_what_has_no_size_is_left_out_and_counted(element: str) -> None:
    drawing = drawn(element + '<circle r="1"/>')
    assert only_curve(drawing).source == "circle on line 1"
    assert drawing.notes == ("ignored 1 object without size",)


def test_shape_attributes_are_not_inherited() -> None:
    # Width, radius and points of a group mean nothing to the shapes in it.
    drawing = drawn(
        '<g width="9" height="9" r="4" rx="2"><rect width="5" height="5"/><circle/></g>'
    )
    assert area(only_curve(drawing)) == pytest.approx(-25.0, rel=ROUNDING)


# --- Path data (§9) ----------------------------------------------------------


@pytest.mark.parametrize(
    ("short", "long"),
    [
        ("M1 2 3 4 5 6", "M1 2L3 4L5 6"),
        ("m1 2 3 4 5 6", "M1 2L4 6L9 12"),
        ("M1 2l3 4 5 6", "M1 2L4 6L9 12"),
        ("M1 2h3 4H20v5 6V1", "M1 2L4 2L8 2L20 2L20 7L20 13L20 1"),
        ("M1 2c1 0 2 1 3 4 1 1 2 2 3 0", "M1 2C2 2 3 3 4 6C5 7 6 8 7 6"),
        ("M1 2s1 1 4 4", "M1 2C1 2 2 3 5 6"),
        ("M0 0C0 5 5 5 5 0S10-5 10 0", "M0 0C0 5 5 5 5 0C5-5 10-5 10 0"),
        ("M0 0C0 5 5 5 5 0s5-5 5 0", "M0 0C0 5 5 5 5 0C5-5 10-5 10 0"),
        ("M0 0Q5 0 5 5S9 9 10 5", "M0 0Q5 0 5 5C5 5 9 9 10 5"),  # S after no cubic
        ("M0 0q2 4 4 0 2-4 4 0", "M0 0Q2 4 4 0Q6-4 8 0"),
        ("M0 0Q2 4 4 0T8 0t4 0", "M0 0Q2 4 4 0Q6-4 8 0Q10 4 12 0"),
        ("M0 0Q2 4 4 0T8 0Zl1 1", "M0 0Q2 4 4 0Q6-4 8 0ZL1 1"),
        ("M1,2,3,4 ,5 , 6", "M1 2L3 4L5 6"),
        ("M0 0Zm1 1ZV5", "M0 0ZM1 1ZM1 1L1 5"),
        ("M0 0T8 0T9 9", "M0 0Q0 0 8 0Q16 0 9 9"),
        ("M0 0C0 5 5 5 5 0T9 9", "M0 0C0 5 5 5 5 0Q5 0 9 9"),  # T after no quadratic
        ("M1 1a5 5 0 0 1 5 5", "M1 1A5 5 0 0 1 6 6"),
        ("M1 1a5 5 0 015 5 5 5 0 1 0 5 5", "M1 1A5 5 0 0 1 6 6A5 5 0 1 0 11 11"),
        ("M1 1A-5 5 0 0 1 6 6", "M1 1A5 5 0 0 1 6 6"),  # signs of radii do not count
        ("M1 1A0 5 0 0 1 6 6", "M1 1L6 6"),  # a radius of nought is a straight line
        ("M.5.5-1-1e1+2,3e-1", "M0.5 0.5L-1-10L2 0.3"),
        ("M1.,2. L3.e1 4.", "M1 2L30 4"),  # SVG 1.1 lets a number end in a dot
        (" M 1\t2\nL\f3\r4 ", "M1 2L3 4"),
        ("M0 0h5v5zl-5-5", "M0 0H5V5ZM0 0L-5-5"),  # after z the path goes on at its start
        ("m5 5h1v1zm1 1h1v1z", "M5 5H6V6ZM6 6H7V7Z"),
    ],
)
def test_short_forms_of_path_data(short: str, long: str) -> None:
    assert path_data(short) == path_data(long)


def test_each_move_begins_a_sub_path() -> None:
    (shape,) = drawn('<path d="M0 0H9V9Z M2 2H4V4Z M20 20H30"/>').shapes
    assert [curve.is_closed for curve in shape.curves] == [True, True, False]
    assert [abs(area(curve)) for curve in shape.curves[:2]] == pytest.approx([40.5, 2.0])


def test_a_closing_command_adds_no_piece_where_the_ends_meet() -> None:
    assert len(only_curve(drawn('<path d="M0 0H9V9L0 0Z"/>')).pieces) == 3
    assert len(only_curve(drawn('<path d="M0 0H9V9Z"/>')).pieces) == 3


numbers = st.floats(-100.0, 100.0, allow_subnormal=False)
points = st.tuples(numbers, numbers)


@given(st.lists(points, min_size=3, max_size=3, unique=True), st.floats(0.0, 1.0))
def test_a_quadratic_bezier_is_the_same_curve_as_a_cubic(
    three: list[tuple[float, float]], t: float
) -> None:
    (x0, y0), (x1, y1), (x2, y2) = three
    (((piece,), _),) = path_data(f"M{x0!r} {y0!r}Q{x1!r} {y1!r} {x2!r} {y2!r}")
    assert isinstance(piece, Bezier)
    s = 1.0 - t
    p = np.array([piece.start, piece.control_1, piece.control_2, piece.end])
    cubic = np.array([s**3, 3 * s * s * t, 3 * s * t * t, t**3]) @ p
    quadratic = np.array([s * s, 2 * s * t, t * t]) @ np.array(three)
    assert cubic == pytest.approx(quadratic, abs=1e-12)  # roundings of numbers up to 100


@pytest.mark.parametrize(
    ("large", "sweep", "enclosed"),
    [
        # Radius 5, ends 6 apart: the centre lies 4 beside the chord, half angle asin 0.6.
        (0, 1, 25.0 * math.asin(0.6) - 12.0),
        (0, 0, -(25.0 * math.asin(0.6) - 12.0)),
        (1, 1, 25.0 * (math.pi - math.asin(0.6)) + 12.0),
        (1, 0, -(25.0 * (math.pi - math.asin(0.6)) + 12.0)),
    ],
)
def test_flags_of_an_arc(large: int, sweep: int, enclosed: float) -> None:
    # sweep = 1 turns towards +y, which is clockwise on the screen (§9.3.8)
    curve = only_curve(drawn(f'<path d="M20 20A5 5 0 {large} {sweep} 26 20Z"/>'))
    assert area(curve) == pytest.approx(-enclosed, rel=ROUNDING)
    assert isinstance(curve.pieces[0], Arc)
    assert curve.pieces[0].centre == pytest.approx(
        (23.0, 76.0 if large != sweep else 84.0), rel=ROUNDING
    )


@given(
    centre=points,
    rx=st.floats(0.5, 60.0),
    ry=st.floats(0.5, 60.0),
    turn=st.floats(-400.0, 400.0),
    first=st.floats(-math.pi, math.pi),
    by=st.floats(0.05, 6.2).filter(lambda a: abs(a - math.pi) > 0.05),
    forward=st.booleans(),
)
def test_an_arc_from_its_ends_is_the_arc_they_were_computed_from(
    centre: tuple[float, float],
    rx: float,
    ry: float,
    turn: float,
    first: float,
    by: float,
    forward: bool,
) -> None:
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    axes = np.array([[rx * c, rx * s], [-ry * s, ry * c]])

    def at(t: float) -> np.ndarray:
        return np.array(centre) + np.array([math.cos(t), math.sin(t)]) @ axes

    by = by if forward else -by
    (x0, y0), (x1, y1) = at(first).tolist(), at(first + by).tolist()
    large, sweep = int(abs(by) > math.pi), int(forward)
    text = f"M{x0!r} {y0!r}A{rx!r} {ry!r} {turn!r} {large}{sweep}{x1!r} {y1!r}"
    (((arc,), _),) = path_data(text)
    assert isinstance(arc, Arc)
    # Short or nearly half arcs magnify the roundings of their ends (1e-14 of 160 mm), by up
    # to 1/sin² of a quarter of 0.05 rad and by 60/0.5 where the ellipse is flat.
    near = 1e-6
    assert arc.centre == pytest.approx(centre, abs=near)
    assert arc.end_angle - arc.start_angle == pytest.approx(by, abs=near)
    middle = arc.start_angle + (arc.end_angle - arc.start_angle) / 2.0
    assert np.array(arc._at(middle)) == pytest.approx(at(first + by / 2.0), abs=near)
    assert arc.start == pytest.approx((x0, y0), abs=near)
    assert arc.end == pytest.approx((x1, y1), abs=near)


@given(points, points.filter(any), st.floats(-180.0, 180.0), st.floats(1.0, 9.0))
def test_radii_that_do_not_reach_grow_until_they_do(
    start: tuple[float, float], step: tuple[float, float], turn: float, ratio: float
) -> None:
    # Appendix B.2.5: the ends become opposite, the proportion of the radii stays.
    end = (start[0] + step[0], start[1] + step[1])
    if math.dist(start, end) < 1e-3:
        return
    small = math.dist(start, end) / 100.0
    text = (
        f"M{start[0]!r} {start[1]!r}A{small!r} {small / ratio!r} {turn!r} 0 1 {end[0]!r} {end[1]!r}"
    )
    (((arc,), _),) = path_data(text)
    assert isinstance(arc, Arc)
    assert arc.centre == pytest.approx(
        ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2), abs=1e-12
    )
    assert arc.end_angle - arc.start_angle == pytest.approx(math.pi, rel=1e-14)
    assert math.hypot(*arc.axis_u) / math.hypot(*arc.axis_v) == pytest.approx(ratio, rel=ROUNDING)


def test_a_radius_just_too_small_to_reach() -> None:
    # 4.5 where 5 is needed: a half circle of 5 about the middle
    curve = only_curve(drawn('<path d="M20 20A4.5 4.5 0 0 1 30 20Z"/>'))
    assert area(curve) == pytest.approx(-12.5 * math.pi, rel=ROUNDING)


def test_half_circles_whose_radius_just_reaches_are_exact() -> None:
    # (1 − 1)/1 under a root would turn a rounding of 1e-16 into 1e-8.
    curve = only_curve(
        drawn('<path d="M10.1 20.3A7.7 7.7 30 0 1 25.5 20.3A7.7 7.7 30 0 1 10.1 20.3Z"/>')
    )
    assert area(curve) == pytest.approx(-math.pi * 7.7**2, rel=ROUNDING)


def test_a_whole_turn_whose_ends_all_but_meet() -> None:
    for end in ("9.9999", "1e-17"):
        start = "10" if end == "9.9999" else "0"
        (((arc,), _),) = path_data(f"M{start} 0A5 5 0 1 1 {end} 0")
        assert isinstance(arc, Arc)
        assert arc.end_angle - arc.start_angle == pytest.approx(2 * math.pi, abs=1e-4)


# --- Examples of the standard ------------------------------------------------


def test_the_pie_of_the_standard() -> None:
    # §9.3.8, figure arcs01: three quarters and one quarter of a disc of radius 150 in a
    # viewBox of 1200 × 400 that is 12 cm wide.
    drawing = drawn(
        '<path d="M300,200 h-150 a150,150 0 1,0 150,-150 z"/>'
        '<path d="M275,175 v-150 a150,150 0 0,0 -150,150 z"/>',
        'width="12cm" height="4cm" viewBox="0 0 1200 400"',
    )
    disc = math.pi * 15.0**2
    assert [area(shape.curves[0]) for shape in drawing.shapes] == pytest.approx(
        [0.75 * disc, 0.25 * disc], rel=ROUNDING
    )
    assert drawing.shapes[0].curves[0].start == pytest.approx((30.0, 20.0), rel=ROUNDING)


# --- Units -------------------------------------------------------------------

# CSS Values and Units Module Level 3, §6.2, absolute lengths: 1cm = 96px/2.54, 1mm = 1/10 cm,
# 1Q = 1/40 cm, 1in = 2.54cm = 96px, 1pc = 1/6 in, 1pt = 1/72 in, 1px = 1/96 in.
CSS = {
    "cm": 10.0,
    "mm": 1.0,
    "Q": 10.0 / 40.0,
    "in": 25.4,
    "pc": 25.4 / 6.0,
    "pt": 25.4 / 72.0,
    "px": 25.4 / 96.0,
    "": 25.4 / 96.0,
}
SQUARE = '<rect width="50%" height="50%"/>'


@pytest.mark.parametrize(("unit", "mm"), CSS.items())
def test_units_of_the_page(unit: str, mm: float) -> None:
    drawing = drawn(SQUARE, f'width="30{unit}" height="20{unit}"')
    assert bounds(only_curve(drawing)) == pytest.approx(
        (0, 10 * mm, 15 * mm, 20 * mm), rel=ROUNDING
    )
    assert drawing.unit_stated == (unit not in {"", "px"})
    assert drawing.unit == {
        "cm": "centimetre",
        "mm": "millimetre",
        "Q": "quarter of a millimetre",
        "in": "inch",
        "pc": "pica (1/6 inch)",
        "pt": "point (1/72 inch)",
    }.get(unit, "CSS pixel (1/96 inch)")


@pytest.mark.parametrize(("unit", "mm"), CSS.items())
def test_units_of_lengths_on_the_page(unit: str, mm: float) -> None:
    drawing = drawn(
        f'<rect y="1{unit}" width="3{unit}" height="2{unit}"/>', 'width="9in" height="5in"'
    )
    left, bottom, right, top = bounds(only_curve(drawing))
    assert (left, right) == pytest.approx((0.0, 3 * mm), rel=ROUNDING)
    assert (bottom, top) == pytest.approx((127.0 - 3 * mm, 127.0 - mm), rel=ROUNDING)


def test_96_pixels_are_an_inch() -> None:
    left, bottom, right, top = bounds(only_curve(drawn('<rect width="96" height="192"/>', "")))
    assert (right - left, top - bottom) == pytest.approx((25.4, 50.8), rel=ROUNDING)


def test_units_are_read_in_capitals_too() -> None:
    assert drawn(SQUARE, 'width="30MM" height="20MM"').unit == "millimetre"


def test_millimetres_come_out_to_the_last_digit() -> None:
    # Faces of outlines coincide: what is drawn at 10 must not come out at 9.999999999999998.
    # 81 / (25.4 / 96) × (25.4 / 96), by way of pixels, is not 81 in floating point.
    page = 'width="81mm" height="81mm" viewBox="0 0 81 81"'
    pieces = only_curve(drawn('<path d="M10.1 0.3H30.7V77.9Z"/>', page)).pieces
    starts = [(10.1, 81 - 0.3), (30.7, 81 - 0.3), (30.7, 81 - 77.9)]
    assert [piece.start for piece in pieces] == starts


@pytest.mark.parametrize(
    "page",
    [
        'viewBox="0 0 30 20"',
        'viewBox="0 0 30 20" width="100%" height="100%"',
        'viewBox="0 0 30 20" width="1em" height="1em"',
        'viewBox="0 0 30 20" width="100vw"',
        'viewBox="0 0 30 20" width="auto" height="auto"',
        'viewBox="0 0 30 20" width="30" height="20"',
        'viewBox="0 0 30 20" width="30px"',
        'viewBox="5 7 30 20" height="20"',
        'width="30" height="20"',
    ],
)
def test_a_page_that_states_no_unit_is_in_pixels_unless_overridden(page: str) -> None:
    body = '<svg width="15" height="10"><rect width="100%" height="100%"/></svg>'
    shift = 'x="5" y="7"' if "5 7" in page else ""
    body = body.replace("<svg", f"<svg {shift}")
    for options, mm, name in (
        ({}, 25.4 / 96.0, "CSS pixel (1/96 inch)"),
        ({"default": "in"}, 25.4 / 96.0, "CSS pixel (1/96 inch)"),
        ({"unit": "mm"}, 1.0, "millimetre"),
        ({"unit": "in"}, 25.4, "inch"),
    ):
        drawing = drawn(body, page, **options)
        assert bounds(only_curve(drawing)) == pytest.approx(
            (0, 10 * mm, 15 * mm, 20 * mm), rel=ROUNDING, abs=1e-12
        )
        assert (drawing.unit, drawing.unit_stated) == (name, False)


def test_the_override_wins_over_what_the_file_states() -> None:
    page = 'width="60mm" height="40mm" viewBox="0 0 30 20"'
    assert bounds(only_curve(drawn(SQUARE, page))) == pytest.approx((0, 20, 30, 40))
    drawing = drawn(SQUARE, page, unit="in")
    assert bounds(only_curve(drawing)) == pytest.approx((0, 254, 381, 508))
    assert (drawing.unit, drawing.unit_stated) == ("inch", False)


def test_a_length_with_a_unit_keeps_it_under_an_override() -> None:
    page = 'width="60mm" height="40mm"'
    drawing = drawn('<rect x="1" width="10mm" height="1in"/>', page, unit="in")
    assert bounds(only_curve(drawing)) == pytest.approx((25.4, 14.6, 35.4, 40.0))


def test_one_side_of_the_page_gives_the_other() -> None:
    for page in ('width="60mm"', 'height="40mm"'):
        drawing = drawn(SQUARE, page + ' viewBox="0 0 30 20"')
        assert bounds(only_curve(drawing)) == pytest.approx((0, 20, 30, 40))
        assert drawing.unit_stated


def test_without_any_height_the_upper_left_corner_is_the_origin() -> None:
    drawing = drawn('<rect x="96" y="96" width="96" height="96"/>', 'width="4in"')
    assert bounds(only_curve(drawing)) == pytest.approx((25.4, -50.8, 50.8, -25.4))
    assert drawing.notes == ("the page has no height, so its upper left corner is (0, 0)",)


def test_percentages_of_the_viewport() -> None:
    page = 'width="80mm" height="60mm" viewBox="0 0 80 60"'
    rect = only_curve(drawn('<rect x="10%" y="10%" width="50%" height="20%"/>', page))
    assert bounds(rect) == pytest.approx((8, 42, 48, 54))
    # §8.9: other lengths are parts of the diagonal divided by the root of two
    circle = only_curve(drawn('<circle r="10%"/>', page)).pieces[0]
    assert isinstance(circle, Arc)
    assert circle.reach == pytest.approx(100.0 / math.sqrt(2.0) / 10.0, rel=ROUNDING)


# --- viewBox and preserveAspectRatio (§8.2, §8.6) ----------------------------

WIDE = 'width="40mm" height="20mm" viewBox="0 0 10 10"'
TALL = 'width="20mm" height="40mm" viewBox="0 0 10 10"'
FULL = '<rect width="10" height="10"/>'


@pytest.mark.parametrize(
    ("page", "aspect", "box"),
    [
        (WIDE, "xMinYMid", (0, 0, 20, 20)),
        (WIDE, "xMidYMid meet", (10, 0, 30, 20)),
        (WIDE, "xMaxYMax", (20, 0, 40, 20)),
        (TALL, "xMidYMin", (0, 20, 20, 40)),
        (TALL, "xMidYMid", (0, 10, 20, 30)),
        (TALL, "xMinYMax meet", (0, 0, 20, 20)),
        (WIDE, "xMidYMin slice", (0, -20, 40, 20)),
        (WIDE, "xMidYMid slice", (0, -10, 40, 30)),
        (WIDE, "xMidYMax slice", (0, 0, 40, 40)),
        (TALL, "xMinYMid slice", (0, 0, 40, 40)),
        (TALL, "xMidYMid slice", (-10, 0, 30, 40)),
        (TALL, "xMaxYMid slice", (-20, 0, 20, 40)),
        (WIDE, "none", (0, 0, 40, 20)),
        (TALL, "none", (0, 0, 20, 40)),
        (WIDE, "defer xMinYMin meet", (0, 0, 20, 20)),
    ],
)
def test_where_a_view_box_lies_on_the_page(page: str, aspect: str, box: tuple[float, ...]) -> None:
    drawing = drawn(FULL, f'{page} preserveAspectRatio="{aspect}"')
    assert bounds(only_curve(drawing)) == pytest.approx(box)
    # The same viewport inside another page is drawn the same, and cut off unless it overflows.
    inner = f'<svg {page.replace("mm", "")} preserveAspectRatio="{aspect}">{FULL}</svg>'
    width, height = (40, 20) if page is WIDE else (20, 40)
    around = f'width="99mm" height="{height}mm" viewBox="0 0 99 {height}"'
    drawing = drawn(inner.replace("<svg", '<svg overflow="visible"'), around)
    assert bounds(only_curve(drawing)) == pytest.approx(box)
    left, bottom, right, top = box
    seen = (max(left, 0), max(bottom, 0), min(right, width), min(top, height))
    assert bounds(only_curve(drawn(inner, around))) == pytest.approx(seen)


def test_a_view_box_that_begins_elsewhere() -> None:
    drawing = drawn(FULL, 'width="20mm" height="20mm" viewBox="-5,-5 20 20"')
    assert bounds(only_curve(drawing)) == pytest.approx((5, 5, 15, 15))


# --- Transforms (CSS Transforms Module Level 1, §8) ---------------------------


def matrix_of(name: str, values: list[float]) -> np.ndarray:
    """Of one transform function, as the standard defines it."""
    a = [math.radians(v) for v in values]
    match name:
        case "matrix":
            p, q, r, s, t, u = values
            rows = [[p, r, t], [q, s, u]]
        case "translate":
            rows = [[1, 0, values[0]], [0, 1, values[1] if len(values) > 1 else 0]]
        case "scale":
            rows = [[values[0], 0, 0], [0, values[-1], 0]]
        case "rotate":
            x, y = values[1:] or (0.0, 0.0)
            to = np.array([[1, 0, x], [0, 1, y], [0, 0, 1]])
            turn = np.array(
                [
                    [math.cos(a[0]), -math.sin(a[0]), 0],
                    [math.sin(a[0]), math.cos(a[0]), 0],
                    [0, 0, 1],
                ]
            )
            return np.array(to @ turn @ np.linalg.inv(to))
        case "skewX":
            rows = [[1, math.tan(a[0]), 0], [0, 1, 0]]
        case _:
            rows = [[1, 0, 0], [math.tan(a[0]), 1, 0]]
    return np.array([*rows, [0, 0, 1]], float)


def moved(transforms: list[str], point: tuple[float, float]) -> np.ndarray:
    """Where nested groups with these transforms put a point, in units of the file."""
    x, y = point
    body = f'<line x1="{x!r}" y1="{y!r}" x2="777" y2="7777" stroke="red"/>'
    for text in reversed(transforms):
        body = f'<g transform="{text}">{body}</g>'
    u, v = only_curve(drawn(body)).start
    return np.array([u, 100.0 - v])


@pytest.mark.parametrize(
    ("text", "name", "values"),
    [
        ("matrix(1,2,3,4,5,6)", "matrix", [1, 2, 3, 4, 5, 6]),
        ("matrix(.5 -1.5-2 3e-1 +4,5)", "matrix", [0.5, -1.5, -2, 0.3, 4, 5]),
        ("translate(3 4)", "translate", [3, 4]),
        ("translate(3px, 4px)", "translate", [3, 4]),
        ("translate(3)", "translate", [3]),
        ("scale(2, -3)", "scale", [2, -3]),
        ("scale(2)", "scale", [2]),
        ("rotate(30)", "rotate", [30]),
        ("rotate(30deg)", "rotate", [30]),
        ("rotate(30, 5, 7)", "rotate", [30, 5, 7]),
        ("skewX(20)", "skewX", [20]),
        (" skewY ( -20. ) ", "skewY", [-20]),
    ],
)
def test_each_transform(text: str, name: str, values: list[float]) -> None:
    expected = matrix_of(name, values) @ (7.0, 11.0, 1.0)
    assert moved([text], (7.0, 11.0)) == pytest.approx(expected[:2], rel=ROUNDING)


coordinates = st.floats(-20.0, 20.0)
functions = st.one_of(
    st.tuples(st.just("matrix"), st.lists(st.floats(-2.0, 2.0), min_size=6, max_size=6)),
    st.tuples(st.just("translate"), st.lists(coordinates, min_size=1, max_size=2)),
    st.tuples(st.just("scale"), st.lists(st.floats(-2.0, 2.0), min_size=1, max_size=2)),
    st.tuples(st.just("rotate"), st.lists(coordinates, min_size=1, max_size=1)),
    st.tuples(st.just("rotate"), st.lists(coordinates, min_size=3, max_size=3)),
    st.tuples(
        st.sampled_from(["skewX", "skewY"]), st.lists(st.floats(-60, 60), min_size=1, max_size=1)
    ),
)


@given(st.lists(st.lists(functions, max_size=3), max_size=3), st.tuples(coordinates, coordinates))
def test_chains_of_transforms_are_products_of_matrices(
    groups: list[list[tuple[str, list[float]]]], point: tuple[float, float]
) -> None:
    product, size = np.eye(3), 1.0
    for name, values in (function for group in groups for function in group):
        matrix = matrix_of(name, values)
        product, size = product @ matrix, size * max(1.0, float(np.abs(matrix).sum()))
    if abs(np.linalg.det(product)) < 1e-6:
        return  # no area left: not drawn, see above
    texts = [
        " ".join(f"{name}({','.join(repr(v) for v in values)})" for name, values in group)
        for group in groups
    ]
    expected = product @ (*point, 1.0)
    # Nine products at most; each rounds by some 1e-16 of the sizes that go into it.
    assert moved(texts, point) == pytest.approx(expected[:2], abs=1e-13 * size)


@pytest.mark.parametrize(
    "text", ["skewX(30)", "matrix(1 .3 -.7 2 5 5)", "scale(-1,2)", "rotate(25)"]
)
def test_a_transformed_circle_is_an_exact_ellipse(text: str) -> None:
    name, _, rest = text.partition("(")
    matrix = matrix_of(name, [float(v) for v in rest.rstrip(")").replace(",", " ").split()])
    curve = only_curve(drawn(f'<circle r="10" cx="50" cy="40" transform="{text}"/>'))
    determinant = float(np.linalg.det(matrix))
    assert area(curve) == pytest.approx(-determinant * math.pi * 100.0, rel=ROUNDING)
    points = curve.flatten(0.01)[0]
    back = (
        np.linalg.inv(matrix)
        @ np.column_stack([points[:, 0], 100 - points[:, 1], points[:, 0] ** 0]).T
    )
    assert np.hypot(back[0] - 50, back[1] - 40) == pytest.approx(10.0, rel=ROUNDING)


def test_a_mirrored_drawing_keeps_its_arcs() -> None:
    d = "M20 20h10a5 5 0 0 1 0 10h-10z"
    plain = only_curve(drawn(f'<path d="{d}"/>'))
    mirrored = only_curve(drawn(f'<path d="{d}" transform="translate(100,0) scale(-1,1)"/>'))
    assert area(mirrored) == pytest.approx(-area(plain), rel=ROUNDING)
    assert bounds(mirrored) == pytest.approx((65, 70, 80, 80), abs=2e-6)


# --- An independent reader ---------------------------------------------------


@pytest.mark.parametrize(
    "d",
    [
        "M10 10H60V50H10Z",
        "M10 10C30-10 60 30 80 10L70 60Q40 90 10 60Z",
        "m10 10 h40 a10 10 0 0 1 0 20 h-40 z",
        "M10 10 h50 v50 h-50z M20 20 v10 h10 v-10z",
        "M20 50A30 30 0 1 0 80 50A30 30 0 1 0 20 50Z",
    ],
)
def test_trimesh_reads_the_same_area(d: str) -> None:
    # trimesh reads paths only, no ellipses, knows no units and keeps y down.
    text = f'<svg {SPACES} {PAGE}><path d="{d}" fill-rule="evenodd"/></svg>'.encode()
    other = trimesh.load_path(io.BytesIO(text), file_type="svg")
    theirs = shapely.union_all(list(other.polygons_full))
    (shape,) = drawn_from(text).shapes
    ours: shapely.geometry.base.BaseGeometry = Polygon()
    for curve in shape.curves:
        ours = ours.symmetric_difference(Polygon(curve.flatten(0.001)[0]))
    flipped = shapely.transform(ours, lambda xy: np.column_stack([xy[:, 0], 100.0 - xy[:, 1]]))
    # trimesh's chords are the coarse ones, every 0.08 rad of an arc (trimesh.constants.res_path):
    # of a disc they lose the share 1 − sin(a)/a; its Béziers are finer.
    assert flipped.symmetric_difference(theirs).area < (1.0 - math.sin(0.08) / 0.08) * ours.area


# --- Anything at all ---------------------------------------------------------


@given(st.text("MmLlHhVvCcSsQqTtAaZz0123456789.,+-eE \n", max_size=60))
def test_any_path_data_are_read_or_refused(text: str) -> None:
    try:
        drawing = drawn(f'<path d="{text}"/>')
    except DrawingError as error:
        where = error.where
        drawing = None
    if drawing is None:
        assert where.endswith("line 1")
        return
    for shape in drawing.shapes:
        for curve in shape.curves:
            assert np.isfinite(curve.flatten(1.0)[0]).all()
