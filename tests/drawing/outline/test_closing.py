"""Closing: curves joined end to end into loops, across small gaps, each stretch once."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from silhouette3d.drawing.model import Arc, Shape
from tests.support.loops import (
    SQUARE,
    arcs,
    area,
    line,
    lines,
    loop,
    outline,
    refused,
)
from tests.support.shapes import rect

# Closing.


def test_a_closed_loop() -> None:
    result = outline(loop(SQUARE))
    assert result.polygons.equals(rect(0, 0, 30, 30))
    assert result.area_error == 0
    assert len(result.loops) == 1
    assert result.gaps == ()
    assert result.notes == ()


@given(st.permutations(range(4)), st.lists(st.booleans(), min_size=4, max_size=4))
def test_loose_lines_in_any_order_and_either_way_round(order: list, back: list) -> None:
    drawn = lines(SQUARE)
    curves = [drawn[i].curves[0] for i in order]
    mixed = [c.reversed() if b else c for c, b in zip(curves, back, strict=True)]
    result = outline(*(Shape((c,)) for c in mixed))
    assert result.polygons.equals(rect(0, 0, 30, 30))
    assert len(result.loops) == 1
    assert result.notes == ()


def test_lines_and_arcs() -> None:
    """A slot: two sides of 20 and two half circles of radius 5."""
    drawn = [line((0, -5), (20, -5)), *arcs((20, 0), 5, -90, 90), line((20, 5), (0, 5))]
    drawn += arcs((0, 0), 5, 90, 270)
    result = outline(*drawn)
    exact = 20 * 10 + math.pi * 25
    assert result.polygons.area < exact
    # corners lie on a grid of 1e-9 mm
    assert result.area_error == pytest.approx(exact - result.polygons.area, abs=1e-9 * 72)
    assert [type(p) for p in result.loops[0].pieces].count(Arc) == 2


@pytest.mark.parametrize("gap", [1e-9, 0.9e-6])
def test_ends_within_a_millionth_meet(gap: float) -> None:
    result = outline(line((gap, 0), (30, 0)), line((30, 0), (30, 30), (0, 30), (0, 0)))
    assert result.gaps == ()
    assert result.polygons.area == pytest.approx(900, abs=30 * gap)


@pytest.mark.parametrize("told", ["0.000002", "0.01", "0.049"])
def test_a_small_gap_is_bridged_and_reported(told: str) -> None:
    gap = float(told)
    result = outline(line((gap, 0), (30, 0)), line((30, 0), (30, 30), (0, 30), (0, 0)))
    (found,) = result.gaps
    assert found.width == pytest.approx(gap)
    assert {found.start, found.end} == {(gap, 0), (0, 0)}
    assert result.polygons.area == 900
    (note,) = result.notes
    assert note.startswith(f"joined 1 gap, the widest {told} mm at (")


def test_several_gaps_in_one_note() -> None:
    drawn = [line((0.01, 0), (30, 0)), line((30, 0.04), (30, 30)), line((30, 30), (0, 30), (0, 0))]
    (note,) = outline(*drawn).notes
    assert note.startswith("joined 2 gaps, the widest 0.04 mm at (30, 0")


def test_a_single_curve_that_does_not_quite_close() -> None:
    result = outline(line((0, 0), (30, 0), (30, 30), (0, 30), (0, 0.03)))
    assert result.gaps[0].width == pytest.approx(0.03)
    assert result.polygons.area == pytest.approx(900)


def test_the_nearest_ends_are_joined_first() -> None:
    """Beside an end at 0.02 there is another at 0.04, which has its own partner at 0.01."""
    a = [line((0, 0), (30, 0), (30, 30), (0, 30), (0, 0.02))]
    b = [line((-0.04, 0), (-30, 0), (-30, -30), (-0.04, -30), (-0.04, -0.01))]
    result = outline(*a, *b)
    assert sorted(g.width for g in result.gaps) == pytest.approx([0.01, 0.02])
    assert result.polygons.area == pytest.approx(900 + 29.96 * 30)


def test_an_open_outline() -> None:
    gap = 0.051
    error = refused(
        line((gap, 0), (30, 0), source="LINE #A", layer="OUTLINE"),
        line((30, 0), (30, 30), (0, 30), (0, 0), source="POLYLINE #B", layer="OUTLINE"),
    )
    assert error.where == "a.dxf, layer 'OUTLINE'"
    assert error.what == (
        "the outline is open: a gap of 0.051 mm between LINE #A at (0.051, 0) mm and POLYLINE #B "
        "at (0, 0) mm; 2 of 4 line ends are open: 2 at a gap"
    )
    assert error.todo == "join the two ends; gaps up to 0.05 mm are closed by themselves"


def test_a_lone_end() -> None:
    """One end meets the outline, the other is loose, and there is no other loose end."""
    error = refused(*lines(SQUARE), line((30, 30), (40, 45), source="LINE #7"))
    assert error.what == (
        "1 open line outside the closed outline, LINE #7 with an end at (40, 45) mm; "
        "1 of 10 line ends is open: 1 outside all that is closed; "
        "an odd number of lines meets at 1 place"
    )


def test_a_branch_point() -> None:
    """A line across from corner to corner: three lines meet at both."""
    error = refused(*lines(SQUARE, layer="OUT"), line((0, 0), (30, 30), layer="OUT"))
    assert error.what.startswith("3 lines meet at (0, 0) mm, so it is not clear where")
    assert error.where == "a.dxf, layer 'OUT'"
    assert error.todo.startswith("remove what does not belong")


def test_lines_drawn_twice_count_once() -> None:
    drawn = lines(SQUARE)
    again = [Shape((s.curves[0].reversed(),)) for s in drawn[1:3]]
    assert area(*drawn, *again).equals(rect(0, 0, 30, 30))


def test_an_arc_drawn_twice_stays_an_arc() -> None:
    """From either end: it is left out before lines are cut at their meeting points."""
    (half,) = arcs((0, 0), 10, 0, 180)
    back = Shape((half.curves[0].reversed(),))
    result = outline(line((-10, 0), (10, 0)), half, back)
    assert result.polygons.area == pytest.approx(50 * math.pi, abs=result.area_error)
    assert [type(piece) for piece in result.loops[0].pieces].count(Arc) == 1


def test_lines_that_overlap_in_part_count_once() -> None:
    assert area(*lines(SQUARE), line((5, 0), (12, 0))).equals(rect(0, 0, 30, 30))
    assert area(*lines(SQUARE), line((0, 0), (12, 0))).equals(rect(0, 0, 30, 30))


def test_sides_in_two_overlapping_strokes() -> None:
    """A side drawn from both of its ends, past its middle."""
    rest = lines(SQUARE)[1:]
    assert area(*rest, line((0, 0), (20, 0)), line((30, 0), (10, 0))).equals(rect(0, 0, 30, 30))


def test_a_line_that_stops_short_on_a_side_is_refused() -> None:
    error = refused(*lines(SQUARE), line((15, 0), (15, 20), source="LINE #9"))
    assert error.what.startswith("a line ends on a closed outline, LINE #9 with an end at (15, 0)")


def test_two_squares_that_share_a_corner_in_loose_lines() -> None:
    """Four lines meet there: the loops touch, they do not cross."""
    other = [(30.0, 30.0), (50.0, 30.0), (50.0, 50.0), (30.0, 50.0)]
    result = area(*lines(SQUARE), *lines(other))
    assert result.area == 900 + 400
    assert len(result.geoms) == 2


def test_three_squares_that_share_a_corner() -> None:
    others = [[(30, 30), (50, 30), (50, 50), (30, 50)], [(30, 30), (30, 40), (20, 40), (20, 30)]]
    drawn = [*lines(SQUARE)]
    for points in others:
        drawn += lines([(float(x), float(y)) for x, y in points])
    # the squares of 30 and 20 mm, and one of 10 mm that lies along a side of each
    assert area(*drawn).area == pytest.approx(900 + 400 + 100)


@pytest.mark.parametrize("inner", [4.0, 4.99, 5.01, 9.9])
@pytest.mark.parametrize("side", [1, -1])
def test_circles_that_touch_in_loose_half_circles(inner: float, side: int) -> None:
    """Two circles through the origin with one tangent: within each other, or side by side."""
    drawn = [*arcs((10, 0), 10, 180, 360), *arcs((10, 0), 10, 0, 180)]
    drawn += [*arcs((side * inner, 0), inner, 0, 180), *arcs((side * inner, 0), inner, 180, 360)]
    exact = math.pi * (100 - side * inner**2)
    result = outline(*drawn)
    assert result.polygons.area == pytest.approx(exact, abs=result.area_error + 1e-7)
    assert result.area_error < 0.7 * 0.01 * 2 * math.pi * (10 + inner)  # 2/3 of the tolerance
