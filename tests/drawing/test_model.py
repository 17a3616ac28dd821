"""Pieces of a drawing: how far chords stray, how many there are, what area they miss."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from silhouette3d.drawing.model import (
    FULL_TURN,
    Arc,
    Array,
    Bezier,
    Curve,
    Line,
    Piece,
    Point,
    Sampled,
    bulge_arc,
    polyline,
)

ROUNDING = 1e-9
"""mm. Coordinates up to 1000 mm carry rounding of 1e-13 mm; what is computed from
them here stays well below this, and this well below any length that matters."""

number = st.floats(-1000.0, 1000.0).map(lambda x: round(x, 6))
point = st.tuples(number, number)
radius = st.floats(0.001, 1000.0)
angle = st.floats(-10.0, 10.0)
sweep = st.one_of(st.floats(0.001, FULL_TURN), st.just(FULL_TURN), st.floats(-FULL_TURN, -0.001))
tolerance = st.floats(0.001, 1.0)
matrix = st.lists(st.floats(-3.0, 3.0), min_size=6, max_size=6).map(
    lambda numbers: np.array(numbers).reshape(2, 3)
)


@st.composite
def circular(draw: st.DrawFn) -> Arc:
    start = draw(angle)
    return Arc.circular(draw(point), draw(radius), start, start + draw(sweep))


@st.composite
def elliptic(draw: st.DrawFn) -> Arc:
    return draw(circular()).moved(draw(matrix))


bezier = st.builds(Bezier, point, point, point, point)
sampled = st.builds(
    Sampled, st.lists(point, min_size=2, max_size=6).map(tuple), st.floats(0.0, 0.1)
)
piece = st.one_of(st.builds(Line, point, point), circular(), elliptic(), bezier, sampled)


def at(piece: Arc | Bezier, t: Array) -> Array:
    """Points (n, 2) of the true curve at parameters that run from 0 to 1."""
    t = t[:, None]
    if isinstance(piece, Arc):
        angles = piece.start_angle + t * (piece.end_angle - piece.start_angle)
        return np.asarray(
            piece.centre + np.cos(angles) * piece.axis_u + np.sin(angles) * piece.axis_v
        )
    rows = [np.asarray(p) for p in (piece.start, piece.control_1, piece.control_2, piece.end)]
    while len(rows) > 1:  # de Casteljau
        rows = [(1.0 - t) * a + t * b for a, b in pairwise(rows)]
    return rows[0]


def strays(piece: Arc | Bezier, points: Array, inner: int = 8) -> float:
    """The farthest distance of the curve from its chords, each seen at `inner` points."""
    count = len(points) - 1
    t = (np.arange(count * inner) + 0.5) / (count * inner)
    true = at(piece, t).reshape(count, inner, 2)
    a, b = points[:-1, None], points[1:, None]
    chord = b - a
    square = (chord**2).sum(axis=2)
    along = ((true - a) * chord).sum(axis=2) / np.where(square > 0.0, square, 1.0)
    feet = a + np.clip(along, 0.0, 1.0)[..., None] * chord
    return float(np.linalg.norm(true - feet, axis=2).max())


def swept(points: Array) -> float:
    """Signed area between points and the closing straight piece, in mm²."""
    x, y = (points - points[0]).T
    return 0.5 * float((x[:-1] * y[1:] - x[1:] * y[:-1]).sum())


# ---- chords ------------------------------------------------------------------


@given(st.one_of(circular(), elliptic(), bezier), tolerance)
def test_chords_stay_within_the_tolerance_and_keep_the_ends(
    piece: Arc | Bezier, tolerance: float
) -> None:
    points, _ = piece.chords(tolerance)
    # The count of chords is rounded with a slack of 1e-9 of it, the sagitta with twice that.
    assert strays(piece, points) <= tolerance * (1.0 + 1e-8) + ROUNDING
    np.testing.assert_allclose(points[0], piece.start, rtol=0.0, atol=ROUNDING)
    np.testing.assert_allclose(points[-1], piece.end, rtol=0.0, atol=ROUNDING)
    np.testing.assert_allclose(
        points, at(piece, np.linspace(0.0, 1.0, len(points))), rtol=0.0, atol=ROUNDING
    )


@given(circular(), tolerance)
def test_one_chord_less_would_be_too_few_for_a_circular_arc(arc: Arc, tolerance: float) -> None:
    points, _ = arc.chords(tolerance)
    count = len(points) - 1
    turn = abs(arc.end_angle - arc.start_angle)
    # never fewer than three to the full turn, or a circle would have no area
    assume(count > 1 and count - 1 >= 3.0 * turn / FULL_TURN)
    size = math.hypot(*arc.axis_u)
    with_less = size * (1.0 - math.cos(turn / (2 * (count - 1))))
    assert with_less > tolerance * (1.0 - 1e-6)  # acos loses half its digits near 1


@pytest.mark.parametrize("size", [0.001, 0.01, 1.0, 40.0, 1e6])
def test_a_circle_closes_on_its_first_point_and_has_three_chords_at_least(size: float) -> None:
    points, _ = Arc.circular((3.0, -7.0), size, 1.0, 1.0 + FULL_TURN).chords(0.01)
    assert tuple(points[0]) == tuple(points[-1])
    assert len(points) >= 4


def test_a_known_count() -> None:
    # R 10 at 0.01 mm: 2 acos(1 - 0.001) = 0.08946 rad, and 2 pi / 0.08946 = 70.2
    points, _ = Arc.circular((0.0, 0.0), 10.0).chords(0.01)
    assert len(points) - 1 == 71


@pytest.mark.parametrize("tolerance", [1e-4, 0.01, 3.0])
def test_the_number_of_chords_is_known_before_they_are_made(tolerance: float) -> None:
    pieces = (
        Line((0.0, 0.0), (5.0, 5.0)),
        Arc.circular((0.0, 5.0), 5.0, 0.0, 3.0),
        Bezier((0.0, 0.0), (0.0, 9.0), (9.0, 9.0), (9.0, 0.0)),
        Sampled(((0.0, 0.0), (1.0, 1.0), (2.0, 1.0)), 0.01),
    )
    for piece in pieces:
        assert len(piece.chords(tolerance)[0]) == piece.count(tolerance) + 1
    assert Curve(pieces).count(tolerance) == sum(piece.count(tolerance) for piece in pieces)


def test_a_straight_bezier_is_one_chord() -> None:
    straight = Bezier((0.0, 0.0), (1.0, 2.0), (2.0, 4.0), (3.0, 6.0))
    points, area = straight.chords(0.01)
    assert len(points) == 2
    assert area == pytest.approx(0.0, abs=1e-12)  # mm², rounding of 2 - 2 · 1 + 0


# ---- area --------------------------------------------------------------------


@given(st.one_of(circular(), elliptic()), tolerance)
def test_the_area_between_an_arc_and_its_chords_is_exact(arc: Arc, tolerance: float) -> None:
    points, area = arc.chords(tolerance)
    # Twice the area that the radius sweeps is turn times determinant; the chords' by Green.
    determinant = arc.axis_u[0] * arc.axis_v[1] - arc.axis_u[1] * arc.axis_v[0]
    turn = arc.end_angle - arc.start_angle
    wheel = np.vstack([arc.centre, points, arc.centre])
    exact = abs(0.5 * turn * determinant) - abs(swept(wheel))
    # Both terms are of the size of the whole ellipse and carry its rounding.
    assert area == pytest.approx(exact, abs=1e-11 * (1.0 + arc.reach**2) + 1e-9)


def test_the_area_of_a_circle_is_that_of_the_polygon_and_what_it_lacks() -> None:
    points, area = Arc.circular((5.0, 5.0), 10.0).chords(0.01)
    n = len(points) - 1
    polygon = 0.5 * n * 100.0 * math.sin(FULL_TURN / n)  # inscribed regular n-gon
    assert swept(points) == pytest.approx(polygon, rel=1e-12)  # rounding
    assert area == pytest.approx(math.pi * 100.0 - polygon, rel=1e-9)  # they cancel to 1e-3


def green(piece: Bezier) -> float:
    """Signed area between a cubic and its chord: the integral of (x dy − y dx) / 2.

    The integrand has degree five, so three Gauss points make it exact.
    """
    p = np.array([piece.start, piece.control_1, piece.control_2, piece.end])
    p = p - p[0]
    nodes, weights = np.polynomial.legendre.leggauss(3)
    t = (nodes + 1.0) / 2.0
    position = at(Bezier(*(tuple(q) for q in p)), t)
    d = 3.0 * np.diff(p, axis=0)
    s = 1.0 - t
    slope = np.outer(s * s, d[0]) + np.outer(2.0 * s * t, d[1]) + np.outer(t * t, d[2])
    cross = position[:, 0] * slope[:, 1] - position[:, 1] * slope[:, 0]
    return float(weights @ cross) / 4.0


@given(bezier, tolerance)
@example(Bezier((0.0, 0.0), (0.01, 0.0), (0.0, 0.01), (0.0, 0.0)), 0.02)
@example(Bezier((0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (0.0, 0.0)), 1.0)
def test_the_area_between_a_bezier_and_its_chords_is_bounded(
    piece: Bezier, tolerance: float
) -> None:
    points, area = piece.chords(tolerance)
    assert abs(green(piece) - swept(points)) <= area + 1e-6  # mm², rounding of 1e6 mm² areas


# ---- moving and turning round ------------------------------------------------


@given(piece, matrix)
def test_a_moved_piece_is_the_map_of_the_piece(piece: Piece, matrix: Array) -> None:
    there = piece.moved(matrix)
    assert type(there) is type(piece)
    for here, moved in ((piece.start, there.start), (piece.end, there.end)):
        np.testing.assert_allclose(moved, matrix[:, :2] @ here + matrix[:, 2], atol=1e-8)
    if isinstance(piece, Arc | Bezier) and isinstance(there, Arc | Bezier):
        t = np.linspace(0.0, 1.0, 17)
        # coordinates of 1e4 mm: rounding of 1e-12, some of it twice
        np.testing.assert_allclose(
            at(there, t), at(piece, t) @ matrix[:, :2].T + matrix[:, 2], atol=1e-8
        )


@given(piece, tolerance)
def test_a_reversed_piece_runs_through_the_same_points(piece: Piece, tolerance: float) -> None:
    back = piece.reversed()
    assert back.reversed() == piece
    assert (back.start, back.end) == (piece.end, piece.start)
    points, area = piece.chords(tolerance)
    points_back, area_back = back.chords(tolerance)
    np.testing.assert_allclose(points_back, points[::-1], atol=ROUNDING)
    assert area_back == pytest.approx(area, rel=1e-9)  # rounding


def test_points_known_by_a_function_keep_their_bound() -> None:
    wave = Sampled(((0.0, 0.0), (3.0, 4.0), (6.0, 0.0)), 0.01)
    assert wave.chords(1e-6)[1] >= 0.01 * 10.0
    twice = wave.moved(np.array([[2.0, 0.0, 0.0], [0.0, 1.0, 0.0]]))
    assert twice.deviation == pytest.approx(0.02)  # mm; the larger stretch counts


@given(circular())
def test_a_circle_stays_one_under_a_turn_and_not_under_a_stretch(arc: Arc) -> None:
    c, s = math.cos(0.3), math.sin(0.3)
    assert arc.moved(np.array([[2 * c, 2 * s, 1.0], [2 * s, -2 * c, 5.0]])).is_circular
    assert not arc.moved(np.array([[2.0, 0.0, 0.0], [0.0, 1.0, 0.0]])).is_circular
    assert not arc.moved(np.array([[1.0, 0.5, 0.0], [0.0, 1.0, 0.0]])).is_circular


def test_the_reach_of_an_ellipse_is_its_longest_half_axis() -> None:
    c, s = math.cos(1.0), math.sin(1.0)
    turned = Arc((0.0, 0.0), (5.0 * c, 5.0 * s), (-2.0 * s, 2.0 * c), 0.0, FULL_TURN)
    assert turned.reach == pytest.approx(5.0)
    # the same ellipse from two half-axes that are not square to each other
    skew = Arc(
        (0.0, 0.0),
        ((5.0 * c - 2.0 * s) / math.sqrt(2.0), (5.0 * s + 2.0 * c) / math.sqrt(2.0)),
        ((-5.0 * c - 2.0 * s) / math.sqrt(2.0), (-5.0 * s + 2.0 * c) / math.sqrt(2.0)),
        0.0,
        FULL_TURN,
    )
    assert skew.reach == pytest.approx(5.0)


# ---- bulges ------------------------------------------------------------------


@given(point, point, st.floats(-5.0, 5.0))
def test_a_bulge_is_the_tangent_of_a_quarter_of_the_angle(
    start: Point, end: Point, bulge: float
) -> None:
    """DXF reference, LWPOLYLINE group code 42; the sagitta is bulge times half the chord."""
    chord = math.dist(start, end)
    assume(chord > 0.01 and abs(bulge) > 1e-3)
    arc = bulge_arc(start, end, bulge)
    assert isinstance(arc, Arc)
    np.testing.assert_allclose(arc.start, start, atol=1e-7)  # mm, the centre may be 250 m away
    np.testing.assert_allclose(arc.end, end, atol=1e-7)
    assert math.tan((arc.end_angle - arc.start_angle) / 4.0) == pytest.approx(bulge)
    middle = at(arc, np.array([0.5]))[0]
    half = np.subtract(end, start) / 2.0
    right = np.array([half[1], -half[0]])  # a left turn swings out to the right
    np.testing.assert_allclose(middle, np.add(start, end) / 2.0 + bulge * right, atol=1e-7)


def test_bulges_of_note() -> None:
    assert bulge_arc((0.0, 0.0), (2.0, 0.0), 0.0) == Line((0.0, 0.0), (2.0, 0.0))
    assert bulge_arc((1.0, 1.0), (1.0, 1.0), 0.5) == Line((1.0, 1.0), (1.0, 1.0))
    # the centre would lie 10^294 mm away
    assert bulge_arc((0.0, 1.0), (0.0, 0.0), -5.9e-296) == Line((0.0, 1.0), (0.0, 0.0))
    assert isinstance(bulge_arc((0.0, 1.0), (0.0, 0.0), 1e-12), Arc)
    half = bulge_arc((0.0, 0.0), (2.0, 0.0), 1.0)
    assert isinstance(half, Arc)
    assert half.centre == pytest.approx((1.0, 0.0))
    quarter = bulge_arc((1.0, 0.0), (0.0, 1.0), math.tan(math.pi / 8))
    assert isinstance(quarter, Arc)
    assert quarter.centre == pytest.approx((0.0, 0.0), abs=1e-12)


# ---- chains ------------------------------------------------------------------


def slot() -> Curve:
    """A slot 30 × 10 mm: two straight sides, two half circles."""
    pieces = (
        Line((0.0, 0.0), (20.0, 0.0)),
        Arc.circular((20.0, 5.0), 5.0, -math.pi / 2, math.pi / 2),
        Line((20.0, 10.0), (0.0, 10.0)),
        Arc.circular((0.0, 5.0), 5.0, math.pi / 2, 3 * math.pi / 2),
    )
    return Curve(pieces, "SLOT", "LWPOLYLINE #2F")


def test_a_chain_is_flattened_without_repeating_its_joints() -> None:
    points, area = slot().flatten(0.01)
    assert (np.linalg.norm(np.diff(points, axis=0), axis=1) > 0.1).all()
    assert swept(points) + area == pytest.approx(200.0 + 25.0 * math.pi, rel=1e-12)  # rounding
    assert slot().is_closed
    assert not Curve(slot().pieces[:-1]).is_closed


def test_a_chain_moves_and_turns_round_as_a_whole() -> None:
    there = slot().moved([[0.0, -2.0, 1.0], [2.0, 0.0, 3.0]])
    assert (there.layer, there.source) == ("SLOT", "LWPOLYLINE #2F")
    points, area = there.flatten(0.01)
    assert swept(points) + area == pytest.approx(4.0 * (200.0 + 25.0 * math.pi))
    back = slot().reversed()
    assert (back.start, back.end) == (slot().end, slot().start)
    points, area = back.flatten(0.01)
    assert swept(points) - area == pytest.approx(-(200.0 + 25.0 * math.pi))
    for one, next_one in pairwise(back.pieces):
        assert one.end == pytest.approx(next_one.start)


def test_a_polyline_leaves_out_steps_of_no_length() -> None:
    corners = [(0.0, 0.0), (4.0, 0.0), (4.0, 0.0), (4.0, 3.0)]
    assert [p.end for p in polyline(corners)] == [(4.0, 0.0), (4.0, 3.0)]
    assert [p.end for p in polyline(corners, closed=True)] == [(4.0, 0.0), (4.0, 3.0), (0.0, 0.0)]
    assert polyline([*corners, (0.0, 0.0)], closed=True)[-1].end == (0.0, 0.0)
    assert polyline([]) == polyline([(1.0, 1.0)], closed=True) == ()
