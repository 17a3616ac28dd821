"""Curves as lines and circular arcs: they keep to the curve, join on and share its tangents."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import example, given
from hypothesis import strategies as st

from silhouette3d.drawing.arcs.fit import as_arcs
from silhouette3d.drawing.arcs.pieces import (
    bulge_of,
    heading,
    length_of,
    nearest,
    piece_between,
    point_on,
    shifted_right,
)
from silhouette3d.drawing.model import (
    FULL_TURN,
    Arc,
    Bezier,
    Line,
    Piece,
    Point,
    Sampled,
    bulge_arc,
)

COORDINATE = st.floats(-50.0, 50.0).map(lambda x: round(x, 3))
POINT = st.tuples(COORDINATE, COORDINATE)
BEZIERS = st.builds(Bezier, POINT, POINT, POINT, POINT).filter(
    lambda p: len({p.start, p.control_1, p.control_2, p.end}) > 1  # a point is no curve
)
ANGLE = st.floats(-6.0, 6.0)
ELLIPSES = st.builds(
    lambda centre, a, ratio, turn, start, sweep: Arc(
        centre,
        (a * math.cos(turn), a * math.sin(turn)),
        (-ratio * a * math.sin(turn), ratio * a * math.cos(turn)),
        start,
        start + sweep,
    ),
    POINT,
    st.floats(1.0, 50.0),
    st.floats(0.1, 0.9),
    ANGLE,
    ANGLE,
    st.one_of(st.floats(0.2, FULL_TURN), st.floats(-FULL_TURN, -0.2)),
)


def strays(piece: Piece, tolerance: float) -> float:
    """The farthest that a piece and its arcs are apart, either way."""
    found = as_arcs(piece, tolerance)
    fine = tolerance / 50.0
    dense = shapely.LineString(piece.chords(fine)[0])
    arcs = shapely.MultiLineString([one.chords(fine)[0] for one in found])
    ends = [shapely.hausdorff_distance(a, b) for a, b in ((dense, arcs), (arcs, dense))]
    return max(ends) - 2.0 * fine


@given(st.one_of(BEZIERS, ELLIPSES), st.sampled_from([0.1, 0.005]))
@example(Bezier((1.75, 14.0), (0.0, 3.5), (0.0, -4.75), (0.0, 0.0)), 0.005)  # bends within 0.1 mm
def test_arcs_keep_to_the_curve(piece: Piece, tolerance: float) -> None:
    assert strays(piece, tolerance) <= tolerance


@given(st.one_of(BEZIERS, ELLIPSES))
def test_arcs_join_on(piece: Piece) -> None:
    found = as_arcs(piece, 0.01)
    ends = [(a.end, b.start) for a, b in pairwise(found)]
    ends += [(piece.start, found[0].start), (piece.end, found[-1].end)]
    # the centre of a flat arc may lie 1e6 times its length away: 1e-16 of that, some times over
    assert max(math.dist(a, b) for a, b in ends) < 1e-7


def test_arcs_of_a_smooth_curve_share_tangents() -> None:
    found = as_arcs(Bezier((0.0, 0.0), (0.0, 10.0), (5.0, 15.0), (20.0, 15.0)), 0.005)
    assert len(found) > 4
    for before, after in pairwise(found):
        assert heading(before, 1.0) == pytest.approx(heading(after, 0.0), abs=1e-9)
    assert heading(found[0], 0.0) == pytest.approx((0.0, 1.0))
    assert heading(found[-1], 1.0) == pytest.approx((1.0, 0.0))


def test_lines_and_circles_are_kept_as_they_are() -> None:
    line = Line((0.0, 0.0), (3.0, 4.0))
    arc = Arc((1.0, 2.0), (0.0, 5.0), (5.0, 0.0), 1.0, -2.0)
    assert as_arcs(line, 0.01) == (line,)
    assert as_arcs(arc, 0.01) == (arc,)


def test_a_straight_bezier_is_one_line() -> None:
    found = as_arcs(Bezier((0.0, 0.0), (1.0, 2.0), (2.0, 4.0), (3.0, 6.0)), 0.01)
    assert found == (Line((0.0, 0.0), (3.0, 6.0)),)


def test_arcs_are_fewer_than_chords() -> None:
    """A chord strays with the square of its length, an arc with the cube.

    So a tolerance of a thousandth needs 31 times as many chords and 10 times as many
    arcs, or up to twice that, as they are halved.
    """
    ellipse = Arc((0.0, 0.0), (100.0, 0.0), (0.0, 40.0), 0.0, FULL_TURN)
    chords, arcs = (
        [len(f(t)) for t in (1e-1, 1e-4)]
        for f in (lambda t: ellipse.chords(t)[0], lambda t: as_arcs(ellipse, t))
    )
    assert chords[1] > 30 * chords[0]
    assert arcs[1] < 20 * arcs[0]
    assert arcs[1] < chords[1] / 5


def test_points_on_a_circle_give_its_arcs() -> None:
    t = np.linspace(0.0, 3.0, 60)
    points = tuple((20.0 * math.cos(a), 20.0 * math.sin(a)) for a in t)
    found = as_arcs(Sampled(points, 0.01), 0.01)
    # 59 chords of three radians; a biarc for each stretch that keeps to 20 mm within 0.01 mm
    assert len(found) <= 4
    assert sum(map(length_of, found)) == pytest.approx(60.0, rel=1e-6)


@pytest.mark.parametrize("corners", [3, 4, 6, 24])
def test_a_polygon_is_not_taken_for_its_circle(corners: int) -> None:
    """All its corners lie on one; its sides do not."""
    t = np.linspace(0.0, FULL_TURN, corners + 1)
    points = tuple((20.0 * math.cos(a), 20.0 * math.sin(a)) for a in t)
    found = as_arcs(Sampled(points, 0.001), 0.01)
    assert all(isinstance(one, Line) for one in found)
    assert len(found) == corners


def test_points_that_are_one_point() -> None:
    at = (1.0, 2.0)
    assert as_arcs(Sampled((at, at, at), 0.01), 0.01) == (Line(at, at),)


SIMPLE = st.one_of(
    st.builds(Line, POINT, POINT),
    st.builds(bulge_arc, POINT, POINT, st.floats(-3.0, 3.0)),
).filter(lambda p: math.dist(p.start, p.end) > 0.01)


@given(SIMPLE, POINT)
def test_nearest_is_the_least_of_many(piece: Line | Arc, point: Point) -> None:
    shares, off = nearest(piece, np.array([point]))
    on = point_on(piece, float(shares[0]))
    # the arc of a bulge of 1e-300 has its centre at infinity as far as numbers go
    room = 1e-12 * max(1.0, float(np.abs(getattr(piece, "centre", (0.0, 0.0))).max())) + 1e-9
    assert math.dist(on, point) == pytest.approx(float(off[0]), abs=100 * room)
    some = min(math.dist(point_on(piece, k / 50.0), point) for k in range(51))
    assert float(off[0]) <= some + 100 * room


@given(st.builds(bulge_arc, POINT, POINT, st.floats(0.001, 3.0)), st.booleans())
def test_bulges_there_and_back(piece: Line | Arc, backwards: bool) -> None:
    if isinstance(piece, Line):
        return
    piece = piece.reversed() if backwards else piece
    again = bulge_arc(piece.start, piece.end, bulge_of(piece))
    assert isinstance(again, Arc)
    reach = piece.reach
    assert math.dist(again.centre, piece.centre) < 1e-9 * (1.0 + reach) * 1e3
    assert length_of(again) == pytest.approx(length_of(piece), rel=1e-6)


@given(SIMPLE, st.floats(0.0, 0.4), st.floats(0.6, 1.0))
def test_a_piece_between(piece: Line | Arc, first: float, last: float) -> None:
    part = piece_between(piece, first, last)
    assert length_of(part) == pytest.approx((last - first) * length_of(piece))
    assert math.dist(part.start, point_on(piece, first)) < 1e-6
    assert math.dist(part.end, point_on(piece, last)) < 1e-6


def test_to_the_right() -> None:
    assert shifted_right(Line((0.0, 0.0), (2.0, 0.0)), 0.5) == Line((0.0, -0.5), (2.0, -0.5))
    left_turn = Arc.circular((0.0, 0.0), 10.0, 0.0, 1.0)
    grown, shrunk = shifted_right(left_turn, 2.0), shifted_right(left_turn.reversed(), 2.0)
    assert isinstance(grown, Arc)
    assert isinstance(shrunk, Arc)
    assert (grown.reach, shrunk.reach) == pytest.approx((12.0, 8.0))
    assert shifted_right(left_turn.reversed(), 10.0) is None
