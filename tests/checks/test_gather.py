"""Pieces of the part, reasons for nothing, and findings themselves: constructed here."""

from __future__ import annotations

import pickle
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Polygon

from silhouette3d.base.codes import CODES
from silhouette3d.base.quantities import Quantity, Scale
from silhouette3d.checks.finding import Finding, Severity, spot, worst_first
from silhouette3d.checks.gather import several_bodies
from silhouette3d.errors import EmptyPartError
from silhouette3d.geometry.contact import contacts
from silhouette3d.presentation.wording import WORDS
from tests.support.checking import message, told
from tests.support.shapes import (
    CORNER_CUBES,
    LOOSE_CUBE_OF_THREE,
    LOOSE_CUBE_OF_TWO,
    NOTHING,
    SOUND,
    TWO_CUBES,
    Area,
    Shape,
    load,
    many,
    rect,
)

# Pieces and touching pieces.


def pieces(shape: Shape, density: float = 1.0) -> list[Finding]:
    bodies = shape.solid.bodies
    return list(several_bodies(bodies, contacts(bodies), density))


@pytest.mark.parametrize("name", SOUND)
def test_one_piece(name: str) -> None:
    assert pieces(SOUND[name]) == []


def test_two_cubes_apart() -> None:
    found = told(pieces(TWO_CUBES, density=2.5))
    assert (found.code, found.severity) == ("several-bodies", "error")
    assert (found.value, found.limit) == (2, 1)
    assert message(found).startswith("the part is in 2 pieces: 512 mm³, 1.28 g, at (")
    # of two of one size the second in order of place, x first
    assert found.where == pytest.approx((16, 4, 4), abs=1e-9)


@pytest.mark.parametrize(
    ("shape", "where"), [(LOOSE_CUBE_OF_THREE, (5, 25, 5)), (LOOSE_CUBE_OF_TWO, (25, 25, 15))]
)
def test_a_loose_cube(shape: Shape, where: tuple[float, float, float]) -> None:
    found = told(pieces(shape))
    assert found.code == "several-bodies"
    assert found.where == pytest.approx(where, abs=1e-9)  # the smaller of the two
    assert "9 cm³, 9 g" in message(found)
    assert f"1 cm³, 1 g, at ({', '.join(map(str, where))}) mm" in message(found)


def test_in_inches() -> None:
    """9000 mm³ / 25.4³, 9 g / 28.349523125 g."""
    assert "0.5492 in³, 0.3175 oz" in message(told(pieces(LOOSE_CUBE_OF_THREE)), "in")


def test_cubes_that_touch_in_a_point() -> None:
    """They are told as touching, not as apart."""
    found = told(pieces(CORNER_CUBES))
    assert (found.code, found.severity) == ("point-contact", "error")
    assert (found.value, found.limit) == (0, None)
    assert found.where == pytest.approx((10, 10, 10), abs=1e-6)
    assert message(found) == (
        "two pieces of the part touch only in a point, at (10, 10, 10) mm: nothing holds there"
    )


def test_pieces_that_touch_along_an_edge_and_one_apart() -> None:
    squares = [rect(0, 0, 20, 20), rect(20, 20, 40, 40), rect(60, 0, 80, 50)]
    shape = Shape((80, 40, 50), {"front": many(shapely.union_all(squares))}, 0, 0)
    apart, touch = pieces(shape)
    assert apart.code == "several-bodies"
    assert apart.value == 2
    assert touch.code == "point-contact"
    assert touch.value == pytest.approx(40)
    assert "along an edge of 40 mm, at (20, 20, 20) mm" in message(touch)


def test_a_part_that_touches_itself() -> None:
    """It holds together elsewhere, so it is a warning."""
    hole = Polygon([(0, 0), (80, 0), (80, 50), (0, 50)], [[(40, 0), (60, 30), (20, 30)]])
    found = told(pieces(Shape((80, 40, 50), {"front": hole}, 0, 0)))
    assert (found.code, found.severity) == ("point-contact", "warning")
    assert message(found).startswith("the part touches itself only along an edge of 40 mm")
    assert found.where == pytest.approx((40, 20, 0), abs=1e-6)


def test_many_pieces_are_not_all_told() -> None:
    dots = many(shapely.union_all([rect(8 * i, 0, 8 * i + 4, 5 + i) for i in range(10)]))
    found = told(pieces(Shape((80, 40, 50), {"front": dots}, 0, 0)))
    assert found.value == 10
    assert message(found).count("cm³") == 8
    assert message(found).endswith("; and 2 more")


# Nothing left.


def empty(folder: Path, outlines: Mapping[str, Area], size: Any, **more: Any) -> EmptyPartError:
    part = load(folder, Shape(size, outlines, 0, 0), **more)
    with pytest.raises(EmptyPartError) as caught:
        _ = part.solid
    assert caught.value.where == str(folder / "job.toml")
    assert caught.value.todo
    return caught.value


def test_an_outline_wholly_off_the_stock(tmp_path: Path) -> None:
    outlines = {"front": rect(0, 0, 80, 50), "top": rect(90, 0, 120, 40)}
    error = empty(tmp_path, outlines, (80, 40, 50))
    assert error.what == (
        "top: the whole outline lies off the stock: it reaches from (90, 0) mm to "
        "(120, 40) mm on a face of 80 × 40 mm"
    )


def test_off_a_round_bar(tmp_path: Path) -> None:
    """In the corner of the bar's bounding square."""
    bar = {"size": None, "round": {"diameter": 40.0, "length": 60.0}}
    error = empty(tmp_path, {"top": rect(0, 0, 4, 4)}, (40, 40, 60), stock=bar)
    assert error.what.startswith("top: the whole outline lies off the stock")


def test_outlines_that_end_where_others_begin(tmp_path: Path) -> None:
    error = empty(tmp_path, NOTHING.outlines, NOTHING.size)
    assert error.what == (
        "front and right exclude one another: along z, front ends at 10 mm and right begins "
        "at 10 mm"
    )


def test_outlines_that_end_before_others_begin(tmp_path: Path) -> None:
    outlines = {
        "right": rect(0, 30, 40, 50),
        "top": rect(0, 0, 80, 40),
        "front": rect(0, 0, 80, 20),
    }
    error = empty(tmp_path, outlines, (80, 40, 50))
    assert "front ends at 20 mm and right begins at 30 mm" in error.what


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("front", "rear"),  # of one extent: two opposite quarters, and seen from behind the others
        ("front", "right"),  # where one has material the other has a gap
    ],
)
def test_two_outlines_that_overlap_and_leave_nothing(tmp_path: Path, one: str, other: str) -> None:
    quarters = MultiPolygon([rect(0, 0, 40, 25), rect(40, 25, 80, 50)])
    rails = MultiPolygon([rect(0, 0, 80, 10), rect(0, 40, 80, 50)])
    outlines = {"rear": {one: quarters, other: quarters}}
    outlines["right"] = {one: rails, other: many(rect(0, 10, 40, 40))}
    error = empty(tmp_path, outlines[other], (80, 40, 50))
    assert error.what == (
        f"{one} and {other} together leave nothing of the stock, although their extents overlap"
    )


def test_three_outlines_that_leave_nothing_together(tmp_path: Path) -> None:
    """Any two leave something: found among outlines of 2 x 2 cells."""
    outlines = {
        "front": MultiPolygon([rect(0, 0, 10, 10), rect(10, 10, 20, 20)]),
        "right": MultiPolygon([rect(0, 0, 10, 10), rect(10, 10, 20, 20)]),
        "top": MultiPolygon([rect(0, 10, 10, 20), rect(10, 0, 20, 10)]),
    }
    error = empty(tmp_path, outlines, (20, 20, 20))
    assert error.what.startswith("front, right and top together leave nothing of the stock")


def test_a_sliver_is_nothing(tmp_path: Path) -> None:
    """Less than the millionths by which the proof moves walls."""
    error = empty(tmp_path, {"front": rect(-30, 0, 1e-7, 50)}, (80, 40, 50))
    assert error.what == "nothing that has a thickness is left of the stock"


# Findings themselves.


def test_worst_first() -> None:
    kinds: list[Severity] = ["note", "error", "warning", "error", "note"]
    found = [Finding("witness", kind, str(i)) for i, kind in enumerate(kinds)]
    assert [f.profile for f in worst_first(found)] == ["1", "3", "2", "0", "4"]


def test_a_finding_is_a_value() -> None:
    """Equal, and of one hash, whatever the order of its quantities; nothing in it can be set."""
    sizes = {"width": Quantity(1.0, "length"), "area": Quantity(2.0, "area")}
    one = Finding("witness", "note", quantities=sizes, facts={"names": ("a", "b")})
    turned = dict(reversed(sizes.items()))
    other = Finding("witness", "note", quantities=turned, facts={"names": ("a", "b")})
    assert one == other
    assert len({one, other}) == 1
    sizes["width"] = Quantity(3.0, "length")
    assert one.value == 1.0
    assert one.limit is None
    assert one != Finding("witness", "note", quantities=sizes, facts={"names": ("a", "b")})
    with pytest.raises(TypeError):
        one.quantities["width"] = Quantity(3.0, "length")  # type: ignore[index]
    assert pickle.loads(pickle.dumps(one)) == one


def test_every_code_has_its_words() -> None:
    assert set(WORDS) == set(CODES)


def test_points_as_people_read_them() -> None:
    """Hundredths of a millimetre, thousandths of an inch, and no negative zero."""
    assert Scale("mm").point((1.0, 2.344, -0.001)) == "(1, 2.34, 0) mm"
    assert Scale("in").point((25.4, 12.7, -0.001)) == "(1, 0.5, 0) in"
    assert spot(np.array([1, 2, 3])) == (1.0, 2.0, 3.0)


def test_an_outline_that_touches_the_common_range_in_a_line_only(tmp_path: Path) -> None:
    # the second post stands exactly on the top of the other outline: a line is shared there
    posts = many(shapely.union_all([rect(0, 0, 8, 20), rect(12, 10, 20, 20)]))
    shape = Shape((20, 20, 20), {"front": posts, "right": rect(0, 0, 20, 10)}, 0, 0)
    part = load(tmp_path, shape)
    assert {f.code for f in part.findings} >= {"extent-mismatch"}
