"""From curves to an outline: loops are closed, checked, and nested into material and holes."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from shapely import MultiPolygon, Polygon

from silhouette3d.drawing.curve import Arc, Curve, Line, Piece, Point, polyline
from silhouette3d.drawing.drawing import Drawing, FillRule, Shape
from silhouette3d.drawing.outline import Outline, outline_of
from silhouette3d.errors import DrawingError
from tests.shapes import NEARLY, disc, rect

Points = list[tuple[float, float]]
SQUARE: Points = [(0, 0), (30, 0), (30, 30), (0, 30)]
HOLE: Points = [(10, 10), (20, 10), (20, 20), (10, 20)]


def loop(points: Points, source: str = "", layer: str = "0") -> Shape:
    """A closed polyline."""
    return Shape((Curve(polyline(points, closed=True), layer, source),))


def line(*points: Point, source: str = "", layer: str = "0") -> Shape:
    """An open polyline."""
    return Shape((Curve(polyline(points), layer, source),))


def lines(points: Points, layer: str = "0") -> list[Shape]:
    """Loose lines from each point to the next, and back to the first."""
    ends = zip(points, points[1:] + points[:1], strict=True)
    return [line(a, b, source=f"line {i}", layer=layer) for i, (a, b) in enumerate(ends)]


def arcs(centre: Point, radius: float, *degrees: float) -> list[Shape]:
    """Loose arcs of a circle from each angle to the next."""
    angles = [math.radians(d) for d in degrees]
    return [
        Shape((Curve((Arc.circular(centre, radius, a, b),), "0"),)) for a, b in pairwise(angles)
    ]


def circle(centre: Point, radius: float) -> Shape:
    return Shape((Curve((Arc.circular(centre, radius),), "0"),))


def path(*rings: Points, fill: FillRule) -> Shape:
    """One object with a fill rule."""
    return Shape(tuple(Curve(polyline(r, closed=True), "0", "path") for r in rings), fill)


def outline(*shapes: Shape, tolerance: float = 0.01) -> Outline:
    return outline_of(Drawing(Path("a.dxf"), shapes, "mm", True), tolerance=tolerance)


def area(*shapes: Shape) -> MultiPolygon:
    result = outline(*shapes).polygons
    assert result.is_valid
    return result


def refused(*shapes: Shape) -> DrawingError:
    with pytest.raises(DrawingError) as caught:
        outline(*shapes)
    assert "a.dxf" in caught.value.where
    return caught.value


def corners(polygon: Polygon) -> Points:
    return [(float(u), float(v)) for u, v in polygon.exterior.coords[:-1]]


def turned(points: Points, degrees: float) -> Points:
    flat = np.column_stack([points, np.zeros(len(points))])
    moved = Rotation.from_euler("z", degrees, degrees=True).apply(flat)
    return [(float(x), float(y)) for x, y, _ in moved]


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


@pytest.mark.parametrize("gap", [2e-6, 0.01, 0.049])
def test_a_small_gap_is_bridged_and_reported(gap: float) -> None:
    result = outline(line((gap, 0), (30, 0)), line((30, 0), (30, 30), (0, 30), (0, 0)))
    (found,) = result.gaps
    assert found.width == pytest.approx(gap)
    assert {found.start, found.end} == {(gap, 0), (0, 0)}
    assert result.polygons.area == 900
    (note,) = result.notes
    assert note.startswith(f"joined 1 gap, the widest {gap:.3g} mm at (")


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
        "the outline is open: LINE #A ends at (0.051, 0), the nearest loose end is at (0, 0), "
        "0.051 mm away"
    )
    assert "0.05 mm" in error.todo


def test_a_lone_end() -> None:
    """One end meets the outline, the other is loose, and there is no other loose end."""
    error = refused(*lines(SQUARE), line((30, 30), (40, 45), source="LINE #7"))
    assert error.what == "LINE #7 ends at (40, 45) and nothing continues it"


def test_a_branch_point() -> None:
    """A line across from corner to corner: three lines meet at both."""
    error = refused(*lines(SQUARE, layer="OUT"), line((0, 0), (30, 30), layer="OUT"))
    assert error.what.startswith("3 lines meet at (0, 0)")
    assert error.where == "a.dxf, layer 'OUT'"
    assert error.todo.startswith("remove the line")


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
    assert error.what.startswith("the outline is open: LINE #9 ends at (15, 0)")


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


# Loops that touch or cross themselves.


def test_crossing_itself() -> None:
    error = refused(loop([(0, 0), (10, 10), (10, 0), (0, 10)], source="path 'bow'", layer="cut"))
    assert error.what == "the outline crosses itself at (5, 5) (path 'bow')"
    assert error.where == "a.dxf, layer 'cut'"
    assert error.todo.startswith("trim the lines there")


def test_crossing_itself_in_loose_lines() -> None:
    assert "(5, 5)" in refused(*lines([(0, 0), (10, 10), (10, 0), (0, 10)])).what


def test_crossing_itself_in_a_corner_on_a_side() -> None:
    """The corner (5, 0) lies on the middle of the first side, and the loop goes on below it."""
    points: Points = [
        (0, 0),
        (10, 0),
        (10, 10),
        (6, 10),
        (5, 0),
        (5, -5),
        (4, -5),
        (4, 10),
        (0, 10),
    ]
    assert "crosses itself at (4, 0)" in refused(loop(points)).what
    # back up through a corner as well, so that no side passes through another
    points[7:7] = [(4, 0)]
    assert "crosses itself at (" in refused(loop(points)).what


def test_a_corner_passed_twice_parts_the_loop() -> None:
    """As it would if the lines were drawn one by one."""
    bow: Points = [(0, 0), (5, 5), (10, 10), (10, 0), (5, 5), (0, 10)]
    result = outline(loop(bow))
    assert len(result.loops) == 2
    assert result.polygons.area == 50
    twice: Points = [(0, 0), (10, 0), (10, 10), (0, 10), (0, 0), (2, 1), (8, 1), (5, 8)]
    assert area(loop(twice)).equals(Polygon(twice[:4], [twice[4:]]))


def test_crossing_and_touching() -> None:
    """The touch at (20, 0) alone would pass; the crossing at the left does not."""
    touching: Points = [(0, 0), (40, 0), (40, 10), (21, 10), (20, 0), (19, 10), (4, 10)]
    assert area(loop([*touching, (0, 10)])).area == 400 - 10
    error = refused(loop([*touching, (4, -10), (2, -10), (2, 5), (0, 5)]))
    assert error.what.startswith(
        ("the outline crosses itself at (4, 0)", "the outline crosses itself at (2, 0)")
    )


@pytest.mark.parametrize("degrees", [0.0, 1.0, 4.0, 13.0, 30.0, 63.0, 77.7, 109.0, 211.0])
def test_a_loop_that_touches_itself_in_a_corner(degrees: float) -> None:
    """A notch whose tip reaches the opposite side: rounding puts it past it at some angles."""
    points: Points = [(0, 0), (10, 0), (10, 10), (6, 10), (10 / 3, 0), (3, 10), (0, 10)]
    result = area(loop(turned(points, degrees)))
    assert result.area == pytest.approx(100 - 15)
    assert max(p.area for p in result.geoms) == pytest.approx(20 / 3 * 10 - (6 - 10 / 3) * 5)


def test_a_ring_drawn_as_one_loop_with_a_bridge() -> None:
    """Out, over to the hole, round it, and back the same way."""
    points = [(0, 0), (30, 0), (30, 30), (0, 30), (0, 15), (10, 15), (10, 20), (20, 20)]
    points += [(20, 10), (10, 10), (10, 15), (0, 15)]
    result = area(loop([(float(x), float(y)) for x, y in points]))
    assert result.equals(Polygon(SQUARE, [HOLE]))


def test_a_line_out_and_back_holds_nothing() -> None:
    assert area(loop([(0, 0), (30, 0), (30, 10), (45, 10), (30, 10), (30, 30), (0, 30)])).equals(
        rect(0, 0, 30, 30)
    )


@pytest.mark.parametrize(
    "points", [[(0, 0), (10, 0)], [(0, 0), (10, 0), (20, 0)], [(0, 0), (10, 0), (10, 1e-8)]]
)
def test_a_loop_without_area_is_left_out(points: Points) -> None:
    assert area(loop(SQUARE), loop(points)).equals(rect(0, 0, 30, 30))
    assert "there is no closed outline" in refused(loop(points)).what


# Nesting.


def test_a_hole() -> None:
    assert area(loop(SQUARE), loop(HOLE)).equals(Polygon(SQUARE, [HOLE]))


def test_an_island_in_a_hole() -> None:
    result = area(loop([(14, 14), (16, 14), (16, 16), (14, 16)]), loop(HOLE), loop(SQUARE))
    assert result.area == 900 - 100 + 4
    assert len(result.geoms) == 2


@given(st.permutations(range(5)))
def test_nesting_does_not_depend_on_the_order(order: list) -> None:
    rings = [loop(corners(rect(k, k, 30 - k, 30 - k))) for k in range(5)]
    result = area(*(rings[i] for i in order))
    assert result.area == sum((-1) ** k * (30 - 2 * k) ** 2 for k in range(5))
    assert len(result.geoms) == 3


def test_separate_loops() -> None:
    other = [(40.0, 0.0), (50.0, 0.0), (50.0, 10.0), (40.0, 10.0)]
    assert len(area(loop(SQUARE), loop(other)).geoms) == 2


def test_the_way_round_is_no_matter() -> None:
    assert area(loop(SQUARE[::-1]), loop(HOLE)).equals(area(loop(SQUARE), loop(HOLE[::-1])))


def test_loops_that_overlap_are_merged_and_reported() -> None:
    result = outline(loop(SQUARE), loop([(20, 10), (40, 10), (40, 20), (20, 20)]))
    assert result.polygons.area == 900 + 100
    (note,) = result.notes
    assert note.startswith("loops that overlap were merged, the first at (")
    u, v = (float(x) for x in note.partition("(")[2].rstrip(")").split(","))
    assert 20 <= u <= 30
    assert 10 <= v <= 20


def test_holes_that_overlap_are_one_hole() -> None:
    result = outline(loop(SQUARE), loop(HOLE), loop([(15, 5), (25, 5), (25, 15), (15, 15)]))
    assert result.polygons.area == 900 - (100 + 100 - 25)
    assert any("overlap" in note for note in result.notes)


def test_loops_that_share_a_side_are_one() -> None:
    result = outline(loop(SQUARE), loop([(30, 0), (40, 0), (40, 30), (30, 30)]))
    assert result.polygons.equals(rect(0, 0, 40, 30))
    assert result.notes == ()


@pytest.mark.parametrize("degrees", [0.0, 7.0, 30.0, 45.0, 60.0, 123.4])
@pytest.mark.parametrize("inside", [True, False])
def test_a_corner_on_the_middle_of_a_slanted_side(degrees: float, inside: bool) -> None:
    """A triangle whose tip lies on a side of the square: rounding puts it on either side of it."""
    tip = 1.0 / 3.0
    triangle = (
        [(0.0, 30 * tip), (12, 5), (12, 15)] if inside else [(0.0, 30 * tip), (-6, 5), (-6, 15)]
    )
    result = outline(loop(turned(SQUARE, degrees)), loop(turned(triangle, degrees)))
    assert result.polygons.area == pytest.approx(900 - 60 if inside else 900 + 30)
    assert result.polygons.is_valid
    assert result.notes == ()


@pytest.mark.parametrize("degrees", [0.0, 7.0, 30.0, 45.0, 60.0, 123.4])
def test_a_hole_along_a_slanted_side_opens_it(degrees: float) -> None:
    notch = [(0.0, 10.0), (10.0, 10.0), (10.0, 20.0), (0.0, 20.0)]
    result = outline(loop(turned(SQUARE, degrees)), loop(turned(notch, degrees)))
    assert result.polygons.area == pytest.approx(800)
    assert result.notes == ()


@pytest.mark.parametrize(("out", "expected"), [(0.019, 800), (0.021, 900 + 0.21)])
def test_a_hole_a_little_over_the_edge(out: float, expected: float) -> None:
    """Up to twice the tolerance a loop lies in the other; beyond, the two overlap in part."""
    result = outline(loop(SQUARE), loop([(-out, 10), (10, 10), (10, 20), (-out, 20)]))
    assert result.polygons.area == pytest.approx(expected)
    assert any("overlap" in note for note in result.notes) is (out > 0.02)


@pytest.mark.parametrize("hole", [1.0, 4.99, 9.0, 9.9])
@pytest.mark.parametrize("degrees", [0.0, 17.0, 90.0])
def test_a_round_hole_that_touches_a_round_outline(hole: float, degrees: float) -> None:
    """The chords of two circles with one tangent cross each other."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    result = outline(circle((0, 0), 10), circle(((10 - hole) * c, (10 - hole) * s), hole))
    exact = math.pi * (100 - hole**2)
    assert result.polygons.area == pytest.approx(exact, abs=result.area_error)
    assert result.notes == ()


# Drawn twice.


def test_a_loop_drawn_twice() -> None:
    result = outline(loop(SQUARE), loop(HOLE), loop(HOLE[2:] + HOLE[:2]), loop(SQUARE[::-1]))
    assert result.polygons.equals(Polygon(SQUARE, [HOLE]))
    assert result.notes == ("2 loops drawn twice counted once",)


def test_a_loop_drawn_twice_with_other_corners() -> None:
    more = [(0.0, 0.0), (15.0, 0.0), (30.0, 0.0), (30.0, 30.0), (0.0, 30.0)]
    result = outline(loop(SQUARE), loop(more))
    assert result.polygons.equals(rect(0, 0, 30, 30))
    assert result.notes == ("1 loop drawn twice counted once",)


@pytest.mark.parametrize("radius", [5.0, 4.995])
def test_a_circle_drawn_twice_with_other_chords(radius: float) -> None:
    """A circle and a finer polygon of it: the inner must not become a hole in the outer."""
    ring = corners(disc(15, 15, radius, 400))
    for first, second in ((circle((15, 15), 5), loop(ring)), (loop(ring), circle((15, 15), 5))):
        result = outline(loop(SQUARE), first, second)
        assert result.polygons.area == pytest.approx(900 - math.pi * 25, abs=0.02 * 2 * math.pi * 5)
        assert result.notes == ("1 loop drawn twice counted once",)


def test_a_loop_drawn_twice_but_for_rounding() -> None:
    for first, second in (NEARLY, NEARLY[::-1]):
        result = outline(loop(first), loop(second))
        assert result.polygons.area == pytest.approx(Polygon(first).area, rel=1e-8)
        assert result.notes == ("1 loop drawn twice counted once",)


def test_a_thin_ring_is_not_drawn_twice() -> None:
    ring = corners(disc(15, 15, 4.95, 400))
    result = outline(circle((15, 15), 5), loop(ring))
    assert result.polygons.area == pytest.approx(
        math.pi * (25 - 4.95**2), abs=0.02 * 2 * math.pi * 5
    )
    assert result.notes == ()


# The fill rule of one object: SVG 2, section 13.4.2 "Specifying fill paint and the fill-rule
# property" (W3C): nonzero counts crossings with their direction, evenodd without.


@pytest.mark.parametrize(
    ("fill", "rings", "expected"),
    [
        ("nonzero", [SQUARE, HOLE], 900),
        ("nonzero", [SQUARE, HOLE[::-1]], 800),
        ("evenodd", [SQUARE, HOLE], 800),
        ("evenodd", [SQUARE, HOLE[::-1]], 800),
        ("nonzero", [SQUARE, [(20, 20), (40, 20), (40, 40), (20, 40)]], 900 + 400 - 100),
        ("evenodd", [SQUARE, [(20, 20), (40, 20), (40, 40), (20, 40)]], 900 + 400 - 200),
        ("nonzero", [SQUARE, [(20, 20), (20, 40), (40, 40), (40, 20)]], 900 + 400 - 200),
        ("nonzero", [SQUARE, SQUARE], 900),
        ("nonzero", [SQUARE, HOLE, [(12, 12), (12, 18), (18, 18), (18, 12)]], 900),
        ("evenodd", [SQUARE, HOLE, [(12, 12), (12, 18), (18, 18), (18, 12)]], 800 + 36),
    ],
)
def test_fill_rules(fill: FillRule, rings: list[Points], expected: float) -> None:
    result = area(path(*rings, fill=fill))
    assert result.area == pytest.approx(expected)


def test_a_path_that_cancels_itself_is_nothing() -> None:
    for fill, ring in (("nonzero", SQUARE[::-1]), ("evenodd", SQUARE)):
        assert "there is no closed outline" in refused(path(SQUARE, ring, fill=fill)).what  # type: ignore[arg-type]


@pytest.mark.parametrize("turning", [1, -1])
def test_a_fill_rule_and_a_loop_that_touches_itself(turning: int) -> None:
    """The direction of a loop stays known when it touches itself: the hole runs against it."""
    touching: Points = [(0, 0), (30, 0), (30, 30), (16, 30), (15, 0), (14, 30), (0, 30)]
    hole: Points = [(2, 2), (6, 2), (6, 6), (2, 6)]
    assert area(path(touching, hole[::-turning], fill="nonzero")).area == pytest.approx(
        900 - 30 - (16 if turning == 1 else 0)
    )
    assert area(path(touching[::-1], hole[::-turning], fill="nonzero")).area == pytest.approx(
        900 - 30 - (0 if turning == 1 else 16)
    )


def test_objects_nest_into_one_another_whatever_their_own_rule() -> None:
    frame = path(SQUARE, HOLE, fill="evenodd")
    island = path([(14, 14), (16, 14), (16, 16), (14, 16)], fill="nonzero")
    assert area(frame, island).area == 800 + 4


rings = st.lists(
    st.tuples(
        st.integers(0, 8), st.integers(0, 8), st.integers(1, 5), st.integers(1, 5), st.booleans()
    ),
    min_size=2,
    max_size=6,
)


@given(rings)
def test_fill_rules_against_counting(boxes: list) -> None:
    """Boxes on whole numbers: the winding number of each unit square is a sum."""
    turns = np.zeros((14, 14), int)
    drawn = []
    for u, v, w, h, forward in boxes:
        turns[u : u + w, v : v + h] += 1 if forward else -1
        ring = corners(rect(u, v, u + w, v + h))
        drawn.append(ring if forward else ring[::-1])
    for fill, inside in (("nonzero", turns != 0), ("evenodd", turns % 2 == 1)):
        if inside.any():
            assert area(path(*drawn, fill=fill)).area == pytest.approx(inside.sum())  # type: ignore[arg-type]
        else:
            refused(path(*drawn, fill=fill))  # type: ignore[arg-type]


# Layers.


def layered() -> Drawing:
    shapes = (loop(SQUARE, layer="OUTLINE"), loop(HOLE, layer="Holes"), loop(HOLE, layer="notes"))
    return Drawing(Path("a.dxf"), shapes, "mm", True, ("3 texts were left out",))


def test_layers_are_chosen_without_regard_to_case() -> None:
    assert outline_of(layered(), ["outline"]).polygons.area == 900
    assert outline_of(layered(), ["outline", "HOLES"]).polygons.area == 800
    assert outline_of(layered(), without=["NOTES", "holes"]).polygons.area == 900


def test_a_layer_that_is_not_there() -> None:
    with pytest.raises(DrawingError) as caught:
        outline_of(layered(), ["OUTLINES"])
    assert str(caught.value) == (
        "a.dxf: there is nothing on a layer 'OUTLINES'. "
        "Layers with something on them: 'OUTLINE', 'Holes', 'notes'."
    )


def test_no_closed_outline_says_what_there_is() -> None:
    empty = Drawing(Path("a.dxf"), (), "mm", True, ("3 texts were left out",))
    with pytest.raises(DrawingError) as caught:
        outline_of(empty)
    assert "there is no closed outline" in caught.value.what
    assert "3 texts were left out" in caught.value.todo


def test_the_drawings_own_notes_are_kept() -> None:
    assert outline_of(layered(), ["OUTLINE"]).notes == ("3 texts were left out",)


# Many.


def test_thousands_of_holes() -> None:
    side = 70
    holes = [
        loop(corners(rect(3 * i + 1, 3 * j + 1, 3 * i + 2, 3 * j + 2)))
        for i in range(side)
        for j in range(side)
    ]
    frame = loop([(0, 0), (3 * side, 0), (3 * side, 3 * side), (0, 3 * side)])
    result = area(frame, *holes)
    assert result.area == (3 * side) ** 2 - side**2
    assert len(result.geoms[0].interiors) == side**2


def test_thousands_of_loose_lines() -> None:
    squares = [(3.0 * i, 3.0 * j) for i in range(40) for j in range(40)]
    drawn = [s for u, v in squares for s in lines([(u, v), (u + 1, v), (u + 1, v + 1), (u, v + 1)])]
    assert area(*drawn).area == len(squares)


def test_a_path_of_thousands_of_loops() -> None:
    """Two loops in each place: a square, and in it a smaller one against its direction."""
    places = [(3.0 * i, 3.0 * j) for i in range(50) for j in range(50)]
    rings: list[Points] = []
    for u, v in places:
        rings += [[(u, v), (u + 2, v), (u + 2, v + 2), (u, v + 2)]]
        rings += [[(u + 0.5, v + 0.5), (u + 0.5, v + 1.5), (u + 1.5, v + 1.5), (u + 1.5, v + 0.5)]]
    for fill in ("nonzero", "evenodd"):
        assert area(path(*rings, fill=fill)).area == pytest.approx(3 * len(places))


def test_a_loop_of_many_corners() -> None:
    n = 20_000
    t = np.linspace(0, 2 * np.pi, n, endpoint=False)
    r = 20 + np.sin(40 * t)
    flat = np.column_stack([r * np.cos(t), r * np.sin(t)])
    result = area(loop([(float(u), float(v)) for u, v in flat]))
    assert result.area == pytest.approx(math.pi * (400 + 0.5), rel=1e-6)  # ∫ r²/2, n chords


# What comes out is an outline whatever goes in.


polygons = st.lists(
    st.tuples(st.integers(0, 12), st.integers(0, 12)), min_size=3, max_size=7, unique=True
)


@given(st.lists(polygons, min_size=1, max_size=4))
def test_any_loops_on_a_lattice_give_a_valid_area_or_a_clear_error(drawn_points: list) -> None:
    drawn = [loop([(u / 3, v / 3) for u, v in points]) for points in drawn_points]
    try:
        result = outline(*drawn)
    except DrawingError as error:
        assert "crosses itself at (" in error.what or "no closed outline" in error.what  # noqa: PT017
        assert not all(Polygon(p).is_valid for p in drawn_points)
        return
    assert result.polygons.is_valid
    total = sum(shapely.make_valid(Polygon(p)).area / 9 for p in drawn_points)
    # corners lie on a grid of 1e-9 mm
    assert 0 < result.polygons.area <= total + 1e-9 * 4 * 7 * 6


@given(polygons, st.integers(0, 20))
def test_loose_lines_give_the_same_as_a_closed_loop(points: list, seed: int) -> None:
    whole = [(u / 3, v / 3) for u, v in points]
    order = np.random.default_rng(seed).permutation(len(whole))
    loose = lines(whole)

    def made(*shapes: Shape) -> MultiPolygon | str:
        try:
            return outline(*shapes).polygons
        except DrawingError as error:
            return error.what.partition(" (")[0]

    one, other = made(loop(whole)), made(*(loose[i] for i in order))
    if isinstance(one, MultiPolygon) and isinstance(other, MultiPolygon):
        assert one.symmetric_difference(other).area == pytest.approx(0, abs=1e-7)
    elif Polygon(whole).is_valid:
        assert one == other


def test_pieces_are_kept_as_drawn() -> None:
    pieces: tuple[Piece, ...] = (Line((0, 0), (10, 0)), Arc.circular((5, 0), 5, 0, math.pi))
    result = outline(Shape((Curve(pieces, "0", "slot"),)))
    assert result.loops[0].pieces == pieces
    assert result.loops[0].source == "slot"


# Open sub-paths of filled objects: SVG 2, section 13.4.1 "Specifying fill paint": "the fill
# operation automatically closes all subpaths that are not closed".


def test_a_filled_object_closes_its_open_sub_paths() -> None:
    frame = Curve(polyline(SQUARE, closed=True), "0", "path")
    notch = Curve(polyline(HOLE), "0", "path")  # its last side is not drawn
    result = area(Shape((frame, notch), "evenodd"))
    assert result.area == pytest.approx(area(path(SQUARE, HOLE, fill="evenodd")).area)


def test_what_a_fill_closed_is_reported() -> None:
    drawn = Shape((Curve(polyline(SQUARE), "0", "path"),), "nonzero")
    outline = outline_of(Drawing(Path("a.svg"), (drawn,), "millimetre", True))
    (gap,) = outline.gaps
    assert (gap.start, gap.end) == (SQUARE[-1], SQUARE[0])
    assert any("joined 1 gap" in note for note in outline.notes)


def test_line_work_is_not_closed_by_itself() -> None:
    assert "the outline is open" in refused(Shape((Curve(polyline(SQUARE), "0", "LINE"),))).what


def test_pieces_of_a_filled_object_that_meet_are_joined() -> None:
    sides = [Curve(polyline([a, b]), "0", "path") for a, b in pairwise([*SQUARE, SQUARE[0]])]
    assert area(Shape(tuple(sides), "nonzero")).area == pytest.approx(
        area(path(SQUARE, fill="nonzero")).area
    )
