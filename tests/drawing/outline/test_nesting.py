"""What is material and what is a hole: nesting, loops drawn twice, fill rules."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point, Polygon

from silhouette3d.drawing.arcs.trace import traced
from silhouette3d.drawing.choice import Overlap
from silhouette3d.drawing.model import Arc, Curve, FillRule, Line, Shape
from silhouette3d.errors import DrawingError
from tests.support.loops import (
    HOLE,
    SQUARE,
    Points,
    area,
    circle,
    corners,
    loop,
    outline,
    path,
    refused,
    turned,
)
from tests.support.shapes import NEARLY, disc, rect

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


# Overlapping in part.

SLOT: Points = [(20, 10), (40, 10), (40, 20), (20, 20)]
"""Half of it over the right side of the square."""


def test_loops_that_overlap_are_united_and_told() -> None:
    result = outline(loop(SQUARE), loop(SLOT))
    assert result.polygons.area == 900 + 100
    assert result.notes == ()
    assert result.overlaps is not None
    assert result.overlaps.declared is None
    (pair,) = result.overlaps.pairs
    assert pair.area == 100
    assert Polygon(SQUARE).intersection(Polygon(SLOT)).contains(Point(pair.at))
    assert dict(result.overlaps.areas) == {"union": 1000, "subtract": 800, "even-odd": 900}


@pytest.mark.parametrize(
    ("rule", "bounds"),
    [
        ("union", (0, 0, 40, 30)),
        ("subtract", (0, 0, 30, 30)),
        ("even-odd", (0, 0, 40, 30)),
    ],
)
def test_an_overlap_that_is_declared_gives_the_area_that_was_told(
    rule: Overlap, bounds: tuple[float, ...]
) -> None:
    told = outline(loop(SQUARE), loop(SLOT)).overlaps
    assert told is not None
    result = outline(loop(SQUARE), loop(SLOT), overlap=rule)
    assert result.polygons.area == pytest.approx(dict(told.areas)[rule])
    assert result.polygons.bounds == bounds
    assert result.overlaps is not None
    assert result.overlaps.declared == rule
    (note,) = result.notes
    assert note.startswith("loops that overlap in 1 place were ")


def test_a_slot_across_two_plates_is_taken_from_both() -> None:
    """The smaller plate does not overlap the larger one, so it is no slot."""
    plates = [loop(corners(rect(0, 0, 30, 30))), loop(corners(rect(32, 0, 60, 30)))]
    slot = loop(corners(rect(20, 10, 40, 20)))
    result = outline(*plates, slot, overlap="subtract").polygons
    assert result.area == 900 - 100 + 28 * 30 - 80


def test_an_island_in_a_slot_is_material_again() -> None:
    drawn = [loop(SQUARE), loop(SLOT), loop(corners(rect(22, 12, 24, 14)))]
    assert outline(*drawn, overlap="subtract").polygons.area == 800 + 4


def test_holes_that_overlap_are_one_hole() -> None:
    """Also where what overlaps is to be subtracted: only even-odd makes an island of it."""
    drawn = [loop(SQUARE), loop(HOLE), loop([(15, 5), (25, 5), (25, 15), (15, 15)])]
    united = 900 - (100 + 100 - 25)
    assert outline(*drawn).polygons.area == united
    assert outline(*drawn, overlap="subtract").polygons.area == united
    assert outline(*drawn, overlap="even-odd").polygons.area == united + 25


boxes_ = st.tuples(*[st.integers(0, 9)] * 2, *[st.integers(1, 6)] * 2)


@given(st.lists(boxes_, min_size=1, max_size=5))
def test_even_odd_against_counting(boxes: list) -> None:
    """Boxes on whole numbers: how many hold each unit square is a sum."""
    count = np.zeros((16, 16), int)
    drawn = {(u, v, w, h): corners(rect(u, v, u + w, v + h)) for u, v, w, h in boxes}
    for u, v, w, h in drawn:  # one that is drawn twice counts once
        count[u : u + w, v : v + h] += 1
    odd = int((count % 2).sum())
    try:
        area_ = outline(*map(loop, drawn.values()), overlap="even-odd").polygons.area
    except DrawingError:
        area_ = 0.0
    assert area_ == pytest.approx(odd)


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
    assert (result.overlaps is not None) is (out > 0.02)


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


# Filled objects that cross themselves: SVG 2, section 13.4.2, whose first figure is the star.


def star(times: int = 1, reverse: bool = False) -> Points:
    """Five points on a circle of radius 10, every second one joined."""
    angles = [math.radians(90 + 144 * k) for k in range(5 * times)]
    return [(10 * math.cos(a), 10 * math.sin(a)) for a in angles][:: -1 if reverse else 1]


INNER = 10 * math.sin(math.radians(18)) / math.sin(math.radians(54))
"""Radius of the pentagon in the middle: by the law of sines in the triangle at a tip."""
CORE = 5 / 2 * INNER**2 * math.sin(math.radians(72))
TIPS = 5 * 10 * INNER * math.sin(math.radians(36)) - CORE


@pytest.mark.parametrize("reverse", [False, True])
@pytest.mark.parametrize(
    ("fill", "times", "expected"),
    [
        ("nonzero", 1, TIPS + CORE),
        ("evenodd", 1, TIPS),
        ("nonzero", 2, TIPS + CORE),  # round twice: told by no corner, as each is passed again
    ],
)
def test_a_star_drawn_in_one_line(
    fill: FillRule, times: int, expected: float, reverse: bool
) -> None:
    result = outline(path(star(times, reverse), fill=fill))
    assert result.polygons.area == pytest.approx(expected)


def test_what_a_fill_rule_decided_is_told() -> None:
    assert outline(path([(0, 0), (10, 10), (10, 0), (0, 10)], fill="evenodd")).notes == (
        "the outline crosses itself at (5, 5) (path): its fill rule, evenodd, says what is inside",
    )


def test_a_hole_in_a_star_follows_the_turns_of_both() -> None:
    hole: Points = [(-1, -1), (1, -1), (1, 1), (-1, 1)]  # in the core, which is gone round twice
    both = [area(path(star(), ring, fill="nonzero")).area for ring in (hole, hole[::-1])]
    assert both == pytest.approx([TIPS + CORE, TIPS + CORE])  # 3 and 1 turns
    assert area(path(star(), hole, fill="evenodd")).area == pytest.approx(TIPS + 4)


def test_curves_stay_curves_where_a_filled_object_crosses_itself() -> None:
    """Two circles passed as an eight, by straight lines that cross between them."""
    left, right = Arc.circular((0, 0), 5, 0.3, 6.0), Arc.circular((12, 0), 5, 2.8, -2.8)
    eight = (left, Line(left.end, right.start), right, Line(right.end, left.start))
    result = outline(Shape((Curve(eight, "0", "path"),), "nonzero"), tolerance=0.001)
    pieces = [p for ring in traced(result.polygons, result.loops, 0.001) for p in ring]
    assert len([p for p in pieces if isinstance(p, Arc)]) == 2


steps = st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), min_size=2, max_size=8)


@given(st.lists(steps, min_size=1, max_size=3), st.sampled_from(["nonzero", "evenodd"]))
def test_loops_that_cross_against_counting(loops: list, fill: FillRule) -> None:
    """Sides along whole numbers: each upward side is one turn about the squares left of it."""
    turns, drawn = np.zeros((6, 6), int), []
    for stops in loops:
        ring = []
        for (u, v), (_, after) in zip(stops, stops[1:] + stops[:1], strict=True):
            ring += [(u, v), (u, after)]  # along v, and then along u to the next stop
            turns[:u, min(v, after) : max(v, after)] += 1 if after > v else -1
        drawn.append([p for p, q in zip(ring, ring[1:] + ring[:1], strict=True) if p != q])
    inside = turns % 2 == 1 if fill == "evenodd" else turns != 0
    shape = path(*(ring for ring in drawn if ring), fill=fill) if any(drawn) else None
    if inside.any() and shape:
        assert area(shape).area == pytest.approx(inside.sum())
    elif shape:
        assert "no closed outline" in refused(shape).what
