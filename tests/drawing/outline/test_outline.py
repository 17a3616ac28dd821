"""From curves to an outline: loops that touch or cross themselves, layers, and many of them."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon

from silhouette3d.drawing.choice import Choice
from silhouette3d.drawing.model import Arc, Curve, Drawing, Line, Piece, Shape, polyline
from silhouette3d.drawing.outline.outline import outline_of
from silhouette3d.errors import DrawingError
from tests.support.loops import (
    HOLE,
    SQUARE,
    Points,
    area,
    corners,
    lines,
    loop,
    outline,
    path,
    refused,
    turned,
)
from tests.support.shapes import rect

# Loops that touch or cross themselves.


def test_crossing_itself() -> None:
    error = refused(loop([(0, 0), (10, 10), (10, 0), (0, 10)], source="path 'bow'", layer="cut"))
    assert error.what == "the outline crosses itself at (5, 5) mm (path 'bow')"
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


# Layers.


def layered() -> Drawing:
    shapes = (loop(SQUARE, layer="OUTLINE"), loop(HOLE, layer="Holes"), loop(HOLE, layer="notes"))
    return Drawing(Path("a.dxf"), shapes, "mm", True, ("3 texts were left out",))


def test_layers_are_chosen_without_regard_to_case() -> None:
    assert outline_of(layered(), Choice(("outline",))).polygons.area == 900
    assert (
        outline_of(
            layered(),
            Choice(
                (
                    "outline",
                    "HOLES",
                )
            ),
        ).polygons.area
        == 800
    )
    assert outline_of(layered(), Choice(without=("NOTES", "holes"))).polygons.area == 900


def test_a_layer_that_is_not_there() -> None:
    with pytest.raises(DrawingError) as caught:
        outline_of(layered(), Choice(("OUTLINES",)))
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
    assert outline_of(layered(), Choice(("OUTLINE",))).notes == ("3 texts were left out",)


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


@pytest.mark.big
def test_a_path_of_thousands_of_loops() -> None:
    """Two loops in each place: a square, and in it a smaller one against its direction."""
    places = [(3.0 * i, 3.0 * j) for i in range(40) for j in range(40)]
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


def test_a_filled_object_whose_end_misses_its_start_by_rounding_keeps_its_fill_rule() -> None:
    """Drawn without a closing command: not line work, so the ring in it is no hole."""
    almost: Points = [*HOLE, (10, 10 + 1e-7)]
    shapes = [Curve(polyline(points), "0", "path") for points in ([*SQUARE, SQUARE[0]], almost)]
    result = outline(Shape(tuple(shapes), "nonzero"))
    assert result.polygons.area == pytest.approx(900)
    assert result.notes == ()  # nearer than points are told apart
    bow = Curve(polyline([(0, 0), (10, 10), (10, 0), (0, 10), (0, 0.01)]), "0", "path")
    assert outline(Shape((bow,), "nonzero")).polygons.area == pytest.approx(50, abs=0.1)
