"""B-splines as pieces, against scipy's and ezdxf's evaluation and against true circles."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
import shapely
from ezdxf.math import BSpline as EzSpline
from ezdxf.math import closed_uniform_bspline
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import BSpline

from silhouette3d.base.limits import CORNERS
from silhouette3d.drawing.model import Array, Bezier, Line, Sampled
from silhouette3d.drawing.splines import spline_pieces

ROUNDING = 1e-9
"""mm. Coordinates up to 100 mm carry rounding of 1e-14 mm; averages keep it there."""

coordinate = st.floats(-100.0, 100.0).map(lambda x: round(x, 3))


@st.composite
def splines(draw: st.DrawFn, degrees: Sequence[int]) -> tuple[Array, int, list[float]]:
    """Control points, degree and knots: clamped or not, with knots repeated or not."""
    degree = draw(st.sampled_from(degrees))
    count = draw(st.integers(degree + 1, degree + 6))
    points = draw(st.lists(st.tuples(coordinate, coordinate), min_size=count, max_size=count))
    inner = count - degree - 1
    steps = draw(st.lists(st.sampled_from([0.5, 1.0, 3.0]), min_size=inner + 1, max_size=inner + 1))
    knots = list(np.cumsum([0.0, *steps]))
    if draw(st.booleans()):
        knots = [knots[0]] * degree + knots + [knots[-1]] * degree
        if inner > 1 and degree > 1 and draw(st.booleans()):
            knots[degree + 2] = knots[degree + 1]
    else:
        before, after = np.arange(-degree, 0.0), knots[-1] + np.arange(1.0, degree + 1.0)
        knots = [*before, *knots, *after]
    return np.array(points), degree, [float(k) for k in knots]


def truth(points: Array, degree: int, knots: Sequence[float], weights: Any, count: int) -> Array:
    """Points of the curve by scipy's own scheme, evenly spread over its knots."""
    t = np.linspace(knots[degree], knots[-degree - 1], count)
    w = np.ones(len(points)) if weights is None else np.asarray(weights, float)
    both = BSpline(knots, np.column_stack([points * w[:, None], w]), degree)(t)
    return np.asarray(both[:, :2] / both[:, 2:])


def distances(points: Array, line: Array) -> Array:
    return np.asarray(shapely.distance(shapely.points(points), shapely.LineString(line)))


@given(splines([1, 2, 3]))
def test_up_to_degree_three_the_pieces_are_exact(spline: tuple[Array, int, list[float]]) -> None:
    points, degree, knots = spline
    pieces = spline_pieces(points, degree, knots, tolerance=0.01)
    assert all(isinstance(p, Line if degree == 1 else Bezier) for p in pieces)
    for one, following in pairwise(pieces):
        assert one.end == following.start
    spans = [(a, b) for a, b in pairwise(knots[degree : len(knots) - degree]) if a < b]
    curve = BSpline(knots, points, degree)
    for piece, (a, b) in zip(pieces, spans, strict=True):
        here = np.array([piece.start, piece.end])
        np.testing.assert_allclose(here, curve([a, np.nextafter(b, a)]), atol=1e-8)  # at b's left
        if isinstance(piece, Bezier):
            middle = (
                np.array(piece.start)
                + 3.0 * np.array(piece.control_1)
                + 3.0 * np.array(piece.control_2)
                + np.array(piece.end)
            ) / 8.0
            np.testing.assert_allclose(middle, curve((a + b) / 2.0), atol=ROUNDING)
            # the end slopes of a cubic over a span of length h are 3 / h times its first leg
            leg = 3.0 / (b - a) * np.subtract(piece.control_1, piece.start)
            np.testing.assert_allclose(leg, curve(a, 1), atol=1e-7)  # slopes reach 1e3


@given(splines([3]))
def test_clamped_cubics_agree_with_another_decomposition(
    spline: tuple[Array, int, list[float]],
) -> None:
    points, degree, knots = spline
    other = EzSpline(points, degree + 1, knots)
    if not other.is_clamped:
        return
    pieces = spline_pieces(points, degree, knots, tolerance=0.01)
    for piece, control in zip(pieces, other.bezier_decomposition(), strict=True):
        assert isinstance(piece, Bezier)
        mine = [piece.start, piece.control_1, piece.control_2, piece.end]
        np.testing.assert_allclose(mine, [p.vec2 for p in control], atol=ROUNDING)


@given(
    splines([1, 2, 3, 4, 5]),
    st.lists(st.floats(0.1, 10.0), min_size=11, max_size=11),
    st.sampled_from([0.001, 0.01, 0.1]),
)
def test_a_rational_spline_strays_no_further_than_it_says(
    spline: tuple[Array, int, list[float]], weights: list[float], tolerance: float
) -> None:
    points, degree, knots = spline
    weights = [11.0, *weights[1 : len(points)]]  # never all the same
    (piece,) = spline_pieces(points, degree, knots, weights, tolerance=tolerance)
    assert isinstance(piece, Sampled)
    assert piece.deviation <= tolerance
    true = truth(points, degree, knots, weights, 400)
    assert distances(true, np.array(piece.points)).max() <= piece.deviation + ROUNDING
    # and its own points lie on the curve; 4000 chords of it stray by a bound of their own
    fine = truth(points, degree, knots, weights, 4000)
    step = float(np.linalg.norm(np.diff(fine, axis=0), axis=1).max())
    assert distances(np.array(piece.points), fine).max() <= step


@given(splines([4, 5]))
def test_a_higher_degree_is_followed_by_points(spline: tuple[Array, int, list[float]]) -> None:
    points, degree, knots = spline
    (piece,) = spline_pieces(points, degree, knots, tolerance=0.01)
    assert isinstance(piece, Sampled)
    true = truth(points, degree, knots, None, 400)
    assert distances(true, np.array(piece.points)).max() <= piece.deviation + ROUNDING


@pytest.mark.parametrize("tolerance", [0.1, 0.01, 0.0001])
def test_a_circle_as_a_rational_spline(tolerance: float) -> None:
    """Nine points of degree two (Piegl and Tiller, The NURBS Book, example 7.2)."""
    corner = math.sqrt(0.5)
    square = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
    knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]
    weights = [1.0, corner] * 4 + [1.0]
    points = 25.0 * np.array(square, float)
    (piece,) = spline_pieces(points, 2, knots, weights, tolerance=tolerance)
    radii = np.linalg.norm(piece.chords(tolerance)[0], axis=1)
    np.testing.assert_allclose(radii, 25.0, rtol=1e-12)  # rounding
    ring, bound = piece.chords(tolerance)
    missing = math.pi * 625.0 - shapely.Polygon(ring).area
    assert 0.0 < missing < bound
    assert piece.start == piece.end


def test_equal_weights_make_no_difference() -> None:
    points, knots = np.array([(0.0, 0.0), (5.0, 9.0), (9.0, 1.0)]), [0, 0, 0, 1, 1, 1]
    exact = spline_pieces(points, 2, knots, tolerance=0.01)
    assert spline_pieces(points, 2, knots, [2.0, 2.0, 2.0], tolerance=0.01) == exact


def test_a_closed_spline_without_repeated_knots_closes() -> None:
    spline = closed_uniform_bspline([(0, 0), (30, 0), (30, 20), (0, 20)], order=4)
    points = np.array([p.vec2 for p in spline.control_points])
    pieces = spline_pieces(points, 3, spline.knots(), tolerance=0.01)
    assert pieces[-1].end == pytest.approx(pieces[0].start)
    fine = truth(points, 3, spline.knots(), None, 20_001)
    ring = np.concatenate([p.chords(1e-6)[0][1:] for p in pieces])
    # 20 000 chords of 5e-3 mm stray by less than 1e-6 mm over 80 mm of edge
    assert shapely.Polygon(ring).area == pytest.approx(shapely.Polygon(fine).area, abs=2e-4)


@pytest.mark.parametrize(
    ("points", "degree", "knots", "weights", "what"),
    [
        ([(0, 0), (1, 0)], 2, [0, 0, 0, 1, 1], (), "2 control points cannot make"),
        ([(0, 0), (1, 0)], 0, [0, 1, 2], (), "cannot make a spline of degree 0"),
        ([(0, 0), (1, 0)], 1, [0, 0, 1], (), "need 4 knots, and there are 3"),
        ([(0, 0), (1, 0)], 1, [0, 1, 0, 1], (), "do not increase"),
        ([(0, 0), (1, 0)], 1, [0, 0, 0, 0], (), "do not increase"),
        ([(0, 0), (1, 0)], 1, [0, 0, math.nan, 1], (), "not a finite number"),
        ([(0, 0), (math.inf, 0)], 1, [0, 0, 1, 1], (), "not a finite number"),
        ([(0, 0), (1, 0)], 1, [0, 0, 1, 1], (1.0,), "1 weights stand for 2"),
        ([(0, 0), (1, 0)], 1, [0, 0, 1, 1], (1.0, 0.0), "not a positive number"),
        ([(0, 0), (1, 0)], 1, [0, 0, 1, 1], (1.0, -2.0), "not a positive number"),
        ([(0, 0), (1, 0)], 1, [0, 0, 1, 1], (1.0, math.nan), "not a positive number"),
        ([(0, 0), (1, 0), (3, 3), (4, 4)], 1, [0, 0, 1, 1, 2, 2], (), r"broken at \(1, 0\)"),
        ([(0, 0), (1, 0), (3, 3), (4, 4)], 1, [0, 0, 1, 1, 2, 2], (1, 2, 1, 2), "broken at"),
    ],
)
def test_numbers_that_make_no_spline_are_refused(
    points: list[tuple[float, float]],
    degree: int,
    knots: list[float],
    weights: tuple[float, ...],
    what: str,
) -> None:
    with pytest.raises(ValueError, match=what):
        spline_pieces(np.array(points, float), degree, knots, weights, tolerance=0.01)


def test_a_curve_that_takes_too_many_points_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(CORNERS.variable, "100")
    points = np.array([(0.0, 0.0), (1e3, 1e3), (-1e3, 1e3), (1e3, 0.0)])
    with pytest.raises(ValueError, match="takes more than 100 points"):
        spline_pieces(points, 3, [0] * 4 + [1] * 4, [1.0, 2.0, 1.0, 2.0], tolerance=1e-4)
