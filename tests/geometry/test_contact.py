"""Where bodies touch: counted on cells, and constructed one by one."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import example, given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from shapely import MultiPolygon, Polygon, affinity

from silhouette3d.geometry.contact import Contact, contacts
from silhouette3d.geometry.frames import VIEWS
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock
from tests.oracles.slices import lattice_polygon
from tests.oracles.voxels import SIDE, Triple, triples
from tests.support.shapes import (
    CORNER_CUBES,
    LOOSE_CUBE_OF_THREE,
    LOOSE_CUBE_OF_TWO,
    SOUND,
    TWO_CUBES,
    Shape,
    cells,
    many,
    profile,
    rect,
    solid,
)
from tests.support.views import LEVEL, SETS

# A place is the middle of points that carry rounding of 1e-12 of the size.
CLOSE = 1e-6


def box(size: tuple[float, float, float], at: tuple[float, float, float] = (0, 0, 0)) -> Solid:
    (x, y, z), (a, b, c) = size, at
    return Solid.prism(rect(a, b, a + x, b + y), VIEWS["top"], (c, c + z))


def tip(at: tuple[float, float, float], height: float = 10.0) -> Solid:
    """A pyramid on its tip: a square above, 10 mm wide, that comes down to a point."""
    stock = Stock((10.0, 10.0, height))
    triangle = Polygon([(5, 0), (10, height), (0, height)])
    made = solid(stock, [profile(view, triangle, stock) for view in ("front", "right")])
    return moved(made, np.subtract(at, (5, 5, 0)))


def moved(made: Solid, by: np.ndarray, turn: np.ndarray | None = None) -> Solid:
    return made.mapped(np.column_stack([np.eye(3) if turn is None else turn, by]))


def only(bodies: list[Solid]) -> Contact:
    (found,) = contacts(bodies)
    return found


def told(found: tuple[Contact, ...]) -> list[tuple[bool, tuple[float, ...], float]]:
    """Whether it is one body, where, and how long: without the bodies' numbers."""
    return sorted(
        (c.bodies[0] == c.bodies[1], tuple(round(float(x), 4) for x in c.where), round(c.length, 4))
        for c in found
    )


# Cells: every line and point is known by counting.


def check(size: int, seed: int, count: int) -> int:
    number = 0
    for truth in triples(size, seed, count):
        outlines = {view: cells(getattr(truth, view)) for view in ("front", "right", "top")}
        bodies = Shape((size * SIDE,) * 3, outlines, 0, 0).solid.bodies
        found = contacts(bodies)
        expected = [(i == j, middle, length) for (i, j), middle, length in truth.edge_contacts]
        expected += [(i == j, place, 0.0) for (i, j), place in truth.point_contacts]
        assert told(found) == sorted(expected), (size, seed)
        for contact in found:
            check_bodies(truth, bodies, contact)
        number += len(found)
    return number


def check_bodies(truth: Triple, bodies: tuple[Solid, ...], contact: Contact) -> None:
    """The two bodies have as much volume as the cells that touch there."""
    at = np.floor((contact.where - 1e-3) / SIDE).astype(int)
    around = truth.labels[tuple(slice(k + 1, k + 3) for k in at)]
    volumes = np.bincount(truth.labels.ravel()) * SIDE**3
    near = sorted(float(volumes[label]) for label in np.unique(around[around > 0]))
    have = sorted({contact.bodies[0], contact.bodies[1]})
    assert set(np.round([bodies[i].volume for i in have], 3)) <= set(near)


@pytest.mark.parametrize("size", [3, 4, 6])
def test_contacts_of_cells(size: int) -> None:
    assert check(size, 1, 25) > 0


@pytest.mark.big
@pytest.mark.parametrize("seed", range(2, 12))
@pytest.mark.parametrize("size", [3, 4, 6])
def test_many_contacts_of_cells(size: int, seed: int) -> None:
    assert check(size, seed, 50) > 0


# Shapes whose outlines leave loose or touching pieces: constructed here, and found by trying all
# connected outlines on small grids.


def test_cubes_that_lie_apart_do_not_touch() -> None:
    assert contacts(TWO_CUBES.solid.bodies) == ()


@pytest.mark.parametrize("shape", [LOOSE_CUBE_OF_THREE, LOOSE_CUBE_OF_TWO])
def test_a_loose_cube_does_not_touch(shape: Shape) -> None:
    assert len(shape.solid.bodies) == 2
    assert contacts(shape.solid.bodies) == ()


def test_cubes_that_touch_in_a_point() -> None:
    found = only(list(CORNER_CUBES.solid.bodies))
    assert found.bodies == (0, 1)
    assert found.where == pytest.approx([10, 10, 10], abs=CLOSE)
    assert found.length == 0


@pytest.mark.parametrize("name", SOUND)
def test_sound_shapes_do_not_touch_themselves(name: str) -> None:
    assert contacts(SOUND[name].solid.bodies) == ()


def test_nothing_touches_nothing() -> None:
    assert contacts([]) == ()


# Two bodies, every way in which they can touch.


def test_along_a_common_edge() -> None:
    found = only([box((10, 10, 10)), box((10, 10, 10), (10, 10, 0))])
    assert found.bodies == (0, 1)
    assert found.where == pytest.approx([10, 10, 5], abs=CLOSE)
    assert found.length == pytest.approx(10)


def test_along_part_of_an_edge() -> None:
    """Edges on one line that overlap by 4 mm."""
    found = only([box((10, 10, 10)), box((10, 10, 10), (10, 10, 6))])
    assert found.where == pytest.approx([10, 10, 8], abs=CLOSE)
    assert found.length == pytest.approx(4)


@pytest.mark.parametrize("longer_first", [True, False])
def test_edges_of_two_pieces(longer_first: bool) -> None:
    """Along 10 mm of which 4 have a slanted wall above, the like below: still one contact."""
    ends = (6, 11) if longer_first else (-1, 4)
    slant = Solid.prism(Polygon([(0, 0), (5, 5), (0, 5)]), VIEWS["right"], ends)
    above = box((10, 5, 5)).minus(slant)
    assert above.volume == pytest.approx(250 - 4 * 12.5)
    below = moved(above, np.zeros(3), np.diag([1.0, -1.0, -1.0]))
    for bodies in ([above, below], [below, above]):
        found = only(bodies)
        assert found.where == pytest.approx([5, 0, 0], abs=CLOSE)
        assert found.length == pytest.approx(10)


def test_edges_end_to_end() -> None:
    """Edges on one line that only meet in their ends: in a point."""
    found = only([box((10, 10, 10)), box((10, 10, 10), (10, 10, 10))])
    assert found.where == pytest.approx([10, 10, 10], abs=CLOSE)
    assert found.length == 0


def test_an_edge_in_the_middle_of_a_face() -> None:
    """A wedge stands on its edge on a plate."""
    plate, wedge = box((40, 40, 5)), Polygon([(20, 5), (30, 15), (10, 15)])
    standing = Solid.prism(wedge, VIEWS["front"], (-30, -12))
    found = only([plate, standing])
    assert found.where == pytest.approx([20, 21, 5], abs=CLOSE)
    assert found.length == pytest.approx(18)


def test_an_edge_that_reaches_past_a_face() -> None:
    wedge = Polygon([(20, 5), (30, 15), (10, 15)])
    found = only([box((40, 40, 5)), Solid.prism(wedge, VIEWS["front"], (-60, -12))])
    assert found.length == pytest.approx(40 - 12)
    assert found.where == pytest.approx([20, 26, 5], abs=CLOSE)


def test_a_point_in_the_middle_of_a_face() -> None:
    found = only([box((40, 40, 5)), tip((11, 17, 5))])
    assert found.where == pytest.approx([11, 17, 5], abs=CLOSE)
    assert found.length == 0


def test_a_point_in_the_middle_of_an_edge() -> None:
    found = only([box((40, 40, 5)), tip((0, 17, 5))])
    assert found.where == pytest.approx([0, 17, 5], abs=CLOSE)
    assert found.length == 0


def test_point_to_point() -> None:
    upside_down = moved(tip((0, 0, 0)), np.array([7, 7, 5]), np.diag([1, -1, -1]))
    found = only([upside_down, tip((7, 7, 5))])
    assert found.where == pytest.approx([7, 7, 5], abs=CLOSE)
    assert found.length == 0


def test_an_edge_across_an_edge() -> None:
    """Two wedges, one standing on the ridge of the other at right angles: no corner is near."""
    ridge = Solid.prism(Polygon([(0, 0), (20, 0), (10, 10)]), VIEWS["front"], (-30, 0))
    across = Solid.prism(Polygon([(12, 10), (22, 20), (2, 20)]), VIEWS["right"], (-5, 35))
    found = only([ridge, across])
    assert found.where == pytest.approx([10, 12, 10], abs=CLOSE)
    assert found.length == 0


def test_two_places_are_two_contacts() -> None:
    """A plate under two tips: not one contact as long as their distance."""
    feet = Polygon([(0, 20), (0, 15), (5, 5), (10, 15), (30, 15), (35, 5), (40, 15), (40, 20)])
    table = Solid.prism(feet, VIEWS["front"], (-30, -10))
    found = contacts([box((40, 40, 5)), table])
    assert told(found) == [(False, (5, 20, 5), 20), (False, (35, 20, 5), 20)]


def test_a_contact_round_a_corner_is_two_edges() -> None:
    """A box over the notch of an L, sharing two edges that meet in a corner."""
    base = Solid.prism(
        Polygon([(0, 0), (20, 0), (20, 10), (10, 10), (10, 20), (0, 20)]), VIEWS["top"], (0, 10)
    )
    found = contacts([base, box((10, 10, 10), (10, 10, 10))])
    assert told(found) == [(False, (10, 15, 10), 10), (False, (15, 10, 10), 10)]


@example(0.6583683284377743, (0.09521029468906161, 0.0, -5.960464477539063e-08), 0)
@given(st.floats(0, 2 * math.pi), st.tuples(*[st.floats(-1, 1)] * 3), st.integers(0, 3))
def test_contacts_move_with_the_bodies(angle: float, axis: tuple, which: int) -> None:
    """Turned any way, where no number is round: an edge and a point, on edges and faces."""
    length = np.linalg.norm(axis)
    turn = Rotation.from_rotvec(angle * np.array(axis) / (length or 1.0)).as_matrix()
    pairs = [
        [box((10, 10, 10)), box((10, 10, 10), (10, 10, 4))],
        [box((40, 40, 5)), tip((11, 17, 5))],
        [box((40, 40, 5)), tip((0, 17, 5))],
        [box((10, 10, 10)), box((10, 10, 10), (10, 10, 10))],
    ]
    bodies = pairs[which]
    before, by = only(bodies), np.array([3.0, 5.0, 7.0])
    after = only([moved(b, by, turn) for b in bodies])
    assert after.where == pytest.approx(turn @ before.where + by, abs=CLOSE)
    assert after.length == pytest.approx(before.length, abs=CLOSE)


@pytest.mark.parametrize("gap", [1e-7, 6e-7, 1.5e-6, 1e-5, 0.01])
def test_how_near_is_touching(gap: float) -> None:
    """Bodies nearer than a millionth of a millimetre touch; across a corner 1.4 gaps apart."""
    apart = [
        [box((10, 10, 10)), box((10, 10, 10), (10 + gap, 10, 0))],
        [box((40, 40, 5)), tip((11, 17, 5 + gap))],
        [box((10, 10, 10)), box((10, 10, 10), (10 + gap, 10 + gap, 10))],
    ]
    for bodies in apart:
        assert bool(contacts(bodies)) is (gap < 1e-6)


def test_three_bodies() -> None:
    bodies = [box((10, 10, 10)), box((10, 10, 10), (10, 10, 0)), box((10, 10, 10), (20, 20, 10))]
    assert [(c.bodies, c.length) for c in contacts(bodies)] == [((0, 1), 10.0), ((1, 2), 0.0)]


# A body and itself.


def whole(outlines: dict[str, Polygon | MultiPolygon], size: tuple[float, float, float]) -> Solid:
    stock = Stock(size)
    made = solid(stock, [profile(view, area, stock) for view, area in outlines.items()])
    assert len(made.bodies) == 1
    return made


def test_a_ring_that_closes_on_an_edge() -> None:
    """Two squares of a 2 x 2 grid touch in the middle and are joined behind: a bracket round it."""
    plan = many(
        shapely.union_all(
            [rect(0, 0, 10, 10), rect(10, 10, 20, 20), rect(0, 20, 20, 30), rect(-10, 0, 0, 30)]
        )
    )
    made = whole({"top": affinity.translate(plan, 10, 0)}, (30, 30, 10))
    found = only([made])
    assert found.bodies == (0, 0)
    assert found.where == pytest.approx([20, 10, 5], abs=CLOSE)
    assert found.length == pytest.approx(10)


@pytest.mark.parametrize("degrees", [0.0, 20.0, 45.0])
def test_a_hole_that_reaches_the_side(degrees: float) -> None:
    """The material to its left and right touches along a line.

    The engine may join it there by a wall of no thickness.
    """
    plate = Polygon([(0, 0), (40, 0), (40, 30), (0, 30)], [[(17, 0), (30, 20), (10, 20)]])
    turned = affinity.rotate(plate, degrees, origin=(20, 15))
    touch = affinity.rotate(shapely.Point(17, 0), degrees, origin=(20, 15))
    area = affinity.translate(turned, 10, 15)
    made = whole({"top": area}, (60, 60, 12))
    found = only([made])
    assert found.bodies == (0, 0)
    assert found.where == pytest.approx([touch.x + 10, touch.y + 15, 6], abs=1e-5)
    assert found.length == pytest.approx(12)


def test_a_tip_on_the_inside_of_a_wall() -> None:
    """A hook whose tip comes back to the middle of its own side: no corner of the side is there."""
    hook = Polygon(
        [
            (0, 0),
            (40, 0),
            (40, 30),
            (20, 30),
            (10, 15),
            (20, 20),
            (30, 20),
            (30, 10),
            (10, 10),
            (10, 30),
            (0, 30),
        ]
    )
    made = whole({"top": many(shapely.make_valid(hook))}, (40, 30, 10))
    found = only([made])
    assert found.bodies == (0, 0)
    assert found.where == pytest.approx([10, 15, 5], abs=CLOSE)
    assert found.length == pytest.approx(10)


def test_a_notch_that_reaches_the_other_side() -> None:
    """Two pieces that touch along the line where its tip is."""
    left, right = (
        Polygon([(0, 0), (20, 0), (19, 30), (0, 30)]),
        Polygon([(40, 30), (21, 30), (20, 0), (40, 0)]),
    )
    stock = Stock((40.0, 30.0, 10.0))
    bodies = solid(stock, [profile("top", MultiPolygon([left, right]), stock)]).bodies
    found = only(list(bodies))
    assert found.bodies == (0, 1)
    assert found.where == pytest.approx([20, 0, 5], abs=CLOSE)
    assert found.length == pytest.approx(10)


def test_a_joint_thinner_than_touching() -> None:
    """Two squares that overlap by half a millionth: one body, which hangs by a line."""
    over = 5e-7
    area = many(shapely.union(rect(0, 0, 5, 5), rect(5 - over, 5 - over, 10, 10)))
    (found,) = contacts([whole({"front": area}, (10, 10, 10))])
    assert found.bodies == (0, 0)
    assert found.where == pytest.approx([5, 5, 5], abs=2 * over)
    assert found.length == pytest.approx(10)


@given(st.integers(0, 100_000), st.sampled_from(SETS))
def test_a_part_of_triangles_is_convex_and_touches_nothing(seed: int, names: tuple) -> None:
    """Slanted walls that pass through one line leave needles, near which all is close to all."""
    rng = np.random.default_rng(seed)
    stock = Stock((6.0, 6.0, 6.0))
    seen = [
        profile(LEVEL[name][0] if name in LEVEL else name, lattice_polygon(rng, 6, 3), stock)
        for name in names
    ]
    bodies = solid(stock, seen).bodies
    assert len(bodies) <= 1
    assert contacts(bodies) == ()


def test_a_sharp_edge_is_no_contact() -> None:
    """A blade of one degree, and one of a hundredth: its sides are near each other at the edge."""
    for height in (1.0, 0.01):
        blade = Polygon([(0, 0), (57.3, 0), (57.3, height)])
        assert contacts([Solid.prism(blade, VIEWS["front"], (-20, 0))]) == ()


def test_a_thin_wall_is_no_contact() -> None:
    """Walls a thousandth apart are two walls; nothing of the body touches itself."""
    slit = Polygon(
        [(0, 0), (40, 0), (40, 30), (20.001, 30), (20.001, 5), (20, 5), (20, 30), (0, 30)]
    )
    assert contacts([Solid.prism(slit, VIEWS["top"], (0, 10))]) == ()
