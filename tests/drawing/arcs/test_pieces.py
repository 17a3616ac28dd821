"""Rings of lines and arcs: where they are nearest, their stretches, what they came from."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from silhouette3d.drawing.arcs.pieces import Ring, crossings, flattened, joined_up, length_of
from silhouette3d.drawing.arcs.trace import traced
from silhouette3d.drawing.model import (
    FULL_TURN,
    Arc,
    Bezier,
    Curve,
    Line,
    Sampled,
    Shape,
    bulge_arc,
)
from silhouette3d.drawing.outline.outline import Outline
from tests.support.loops import SQUARE, circle, line, loop, outline

# A stadium: two sides of 20 and two half circles of radius 5, counter-clockwise.
STADIUM = Ring(
    (
        Line((0.0, 0.0), (20.0, 0.0)),
        bulge_arc((20.0, 0.0), (20.0, 10.0), 1.0),
        Line((20.0, 10.0), (0.0, 10.0)),
        bulge_arc((0.0, 10.0), (0.0, 0.0), 1.0),
    )
)
ROUND = 40.0 + 10.0 * math.pi


def test_length() -> None:
    assert STADIUM.length == pytest.approx(ROUND)


def test_nearest() -> None:
    points = np.array([(10.0, -3.0), (30.0, 5.0), (-8.0, 5.0), (10.0, 7.0)])
    ways, off = STADIUM.nearest(points)
    assert off == pytest.approx([3.0, 5.0, 3.0, 3.0])
    assert ways == pytest.approx([10.0, 20 + 2.5 * math.pi, 40 + 7.5 * math.pi, 30 + 5 * math.pi])


@given(st.floats(0.0, 200.0), st.floats(0.001, 1.0))
def test_any_stretch(first: float, share: float) -> None:
    last = first + share * ROUND
    pieces = STADIUM.between(first, last)
    assert sum(map(length_of, pieces)) == pytest.approx(share * ROUND, abs=1e-6)
    for before, after in pairwise(pieces):
        assert math.dist(before.end, after.start) < 1e-9
    ways, off = STADIUM.nearest(np.array([pieces[0].start, pieces[-1].end]))
    assert off == pytest.approx([0.0, 0.0], abs=1e-9)
    wrong = (ways - [first, last] + ROUND / 2) % ROUND - ROUND / 2
    assert wrong == pytest.approx([0.0, 0.0], abs=1e-6)


def test_a_stretch_keeps_whole_pieces_to_the_last_digit() -> None:
    assert STADIUM.between(20.0, 20.0 + 5.0 * math.pi) == (STADIUM.pieces[1],)


SPANS = st.lists(st.tuples(st.integers(0, 59), st.integers(1, 25)), max_size=6)


@given(SPANS)
def test_joined_up_against_minutes_of_a_clock(spans: list[tuple[int, int]]) -> None:
    covered = {minute % 60 for start, long in spans for minute in range(start, start + long)}
    found = joined_up([(start, start + long) for start, long in spans], 60.0)
    again = [minute for first, last in found for minute in range(int(first), int(last))]
    assert {minute % 60 for minute in again} == covered
    if len(covered) < 60:  # once round is once round, however often it is said
        assert len(again) == len(covered)
        assert found == sorted(found)


def test_crossings() -> None:
    line_, other = Line((0.0, 0.0), (1.0, 0.0)), Line((3.0, 1.0), (3.0, 2.0))
    ring = Arc.circular((0.0, 0.0), 5.0)
    assert crossings(line_, other) == [(3.0, 0.0)]
    assert crossings(line_, Line((0.0, 1.0), (1.0, 1.0))) == []
    assert sorted(crossings(ring, line_)) == [(-5.0, 0.0), (5.0, 0.0)]
    assert crossings(line_, Arc.circular((0.0, 6.0), 5.0)) == []
    touching = crossings(Arc.circular((8.0, 0.0), 3.0), ring)
    assert np.array(touching) == pytest.approx(np.array([(5.0, 0.0)] * 2), abs=1e-6)
    both = sorted(crossings(ring, Arc.circular((6.0, 0.0), 5.0)))
    assert np.array(both) == pytest.approx(np.array([(3.0, -4.0), (3.0, 4.0)]))
    assert crossings(ring, Arc.circular((0.0, 0.0), 4.0)) == []


# What each side of an outline came from.


def rings_of(drawn: Outline) -> list[list[str]]:
    """The kinds of the pieces of each ring."""
    return [
        [type(piece).__name__ for piece in ring]
        for ring in traced(drawn.polygons, drawn.loops, 0.01)
    ]


def is_traced(drawn: Outline) -> None:
    """The rings, flattened again, are the outline's own."""
    rings = traced(drawn.polygons, drawn.loops, 0.01)
    lines = [shapely.LineString(Curve(ring).flatten(0.01)[0]) for ring in rings]
    edge = shapely.boundary(drawn.polygons)
    assert shapely.hausdorff_distance(shapely.MultiLineString(lines), edge) < 3e-6
    for ring in rings:
        for before, after in zip(ring, [*ring[1:], ring[0]], strict=True):
            assert math.dist(before.end, after.start) < 3e-6


def test_a_circle_in_a_square() -> None:
    drawn = outline(loop(SQUARE), circle((15.0, 15.0), 5.0))
    assert rings_of(drawn) == [["Line"] * 4, ["Arc"]]
    (outer, (hole,)) = traced(drawn.polygons, drawn.loops, 0.01)
    assert isinstance(hole, Arc)
    assert hole.end_angle - hole.start_angle == -FULL_TURN  # a hole runs clockwise
    assert shapely.LinearRing([p.start for p in outer]).is_ccw
    is_traced(drawn)


def test_a_clockwise_outline_is_turned_round() -> None:
    curve = Curve((*(Line(a, b) for a, b in pairwise(SQUARE[::-1])), Line((0, 0), (0, 30))))
    ((*ring,),) = traced(outline(Shape((curve,))).polygons, (curve,), 0.01)
    assert shapely.LinearRing([p.start for p in ring]).is_ccw


def test_curves_that_overlap_keep_what_is_left_of_them() -> None:
    """Two discs that are merged: of each an arc, and two sides that were cut at the crossings."""
    drawn = outline(circle((0.0, 0.0), 10.0), circle((12.0, 1.0), 10.0))
    (kinds,) = rings_of(drawn)
    assert kinds.count("Arc") in (2, 3, 4)  # a circle that starts outside the other is in two
    assert len(kinds) <= 8
    is_traced(drawn)


def test_beziers_and_lines() -> None:
    bow = Bezier((0.0, 0.0), (0.0, 12.0), (20.0, 12.0), (20.0, 0.0))
    drawn = outline(Shape((Curve((bow,)),)), line((20.0, 0.0), (10.0, -5.0), (0.0, 0.0)))
    assert sorted(rings_of(drawn)[0]) == ["Bezier", "Line", "Line"]
    is_traced(drawn)


@pytest.mark.parametrize("backwards", [False, True])
def test_a_bezier_of_which_a_bar_covers_the_middle(backwards: bool) -> None:
    """What is left are parts of the same curve: each point of theirs is one of the whole's, at
    the parameter that lies as far between the ends (the polar form's own meaning)."""
    bow = Bezier((0.0, 0.0), (0.0, 12.0), (20.0, 12.0), (20.0, 0.0))
    drawn = outline(
        Shape((Curve((bow.reversed() if backwards else bow,)),)),
        line((20.0, 0.0), (0.0, 0.0)),
        loop([(9.0, 2.0), (11.0, 2.0), (11.0, 15.0), (9.0, 15.0)]),
    )
    ((*ring,),) = traced(drawn.polygons, drawn.loops, 0.01)
    parts = [piece for piece in ring if isinstance(piece, Bezier)]
    assert len(parts) == 2
    whole = shapely.LineString(bow.chords(1e-6)[0])
    for part in parts:
        points = part.chords(1e-4)[0]
        assert shapely.distance(shapely.points(points), whole).max() < 2e-6
        x = np.sort([part.start[0], part.end[0]])
        assert x[0] == pytest.approx(0.0, abs=1e-9) or x[1] == pytest.approx(20.0)
        assert x[1] - x[0] > 8.0  # up to the chord that the bar cuts
    assert {type(piece) for piece in ring} == {Bezier, Line}
    again = shapely.Polygon(Curve(tuple(ring)).flatten(0.001)[0])
    exact = shapely.union(
        shapely.Polygon(bow.chords(1e-6)[0]), shapely.box(9.0, 2.0, 11.0, 15.0)
    )  # the area below the bow, and what of the bar stands out of it
    assert again.area == pytest.approx(exact.area, abs=0.01 * bow_length(bow))


def bow_length(bow: Bezier) -> float:
    """In mm: 0.01 mm along it is what straight pieces may differ by in area."""
    return float(shapely.LineString(bow.chords(1e-6)[0]).length)


def test_points_of_a_curve_of_which_a_bar_covers_the_middle() -> None:
    x = np.linspace(0.0, 20.0, 41)
    hill = Sampled(
        tuple(zip(x.tolist(), (8.0 * np.sin(np.pi * x / 20.0)).tolist(), strict=True)), 0
    )
    drawn = outline(
        Shape((Curve((hill,)),)),
        line((20.0, 0.0), (0.0, 0.0)),
        loop([(9.2, 2.0), (10.8, 2.0), (10.8, 15.0), (9.2, 15.0)]),
    )
    ((*ring,),) = traced(drawn.polygons, drawn.loops, 0.01)
    parts = [piece for piece in ring if isinstance(piece, Sampled)]
    kept = sorted(point for part in parts for point in part.points)
    outside = [point for point in hill.points if not 9.2 < point[0] < 10.8]
    # rounded in the outline, whole chords only: 9.0 to 9.5 and 10.5 to 11.0 are cut
    assert np.array(kept) == pytest.approx(np.array(outside), abs=1e-6)
    is_traced(drawn)


def test_an_outline_that_nobody_drew() -> None:
    """One made in memory has no curves: its sides are lines."""
    area = shapely.MultiPolygon([shapely.box(0, 0, 3, 2)])
    ((*ring,),) = traced(area, (), 0.01)
    assert [type(p) for p in ring] == [Line] * 4


def test_lines_drawn_twice_or_over_each_other() -> None:
    drawn = outline(
        line((0.0, 0.0), (10.0, 0.0)),
        line((10.0, 0.0), (0.0, 0.0)),
        line((10.0, 0.0), (10.0, 8.0), (0.0, 8.0), (0.0, 0.0)),
    )
    assert rings_of(drawn) == [["Line"] * 4]


def test_a_touching_corner() -> None:
    drawn = outline(loop([(0, 0), (5, 0), (5, 5), (10, 5), (10, 10), (5, 10), (5, 5), (0, 5)]))
    assert sorted(map(len, rings_of(drawn))) == [4, 4]
    is_traced(drawn)


def test_flattened() -> None:
    points = flattened(STADIUM.pieces, 0.001)
    assert shapely.Polygon(points).area == pytest.approx(200.0 + 25.0 * math.pi, rel=1e-3)
