"""How contacts are searched and put together: whichever way things lie, and however small."""

from __future__ import annotations

from itertools import permutations
from random import Random

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from shapely import Polygon, affinity

from silhouette3d.geometry.contact import _SKEW, _meet, _runs, _sharp_edges, contacts
from silhouette3d.geometry.frames import VIEWS
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.triangle_search import near_pairs
from tests.geometry.test_contact import CLOSE, box, moved, only, told, whole
from tests.support.shapes import disc, many, rect

TOUCH, _TAKEN, _NEAR = 1e-6, 1e-4, 1e-3
"""mm, for bodies of 1 to 600 mm: what touches; half of what is taken out; half of the cube."""

ORDERS = [np.eye(3)[list(order)] for order in permutations(range(3))]
"""Every order of the axes, as matrices; three of them are mirrors."""


def reordered(made: Solid, order: np.ndarray, sign: float = 1.0) -> Solid:
    """With its axes in another order; sign −1 points all of them the other way."""
    turn = order * sign
    if np.linalg.det(turn) < 0.0:
        turn = turn @ np.diag([1.0, 1.0, -1.0])  # as these shapes are, seen in a mirror
    return moved(made, np.zeros(3), turn)


# --- whichever way they lie --------------------------------------------------------------------


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("order", ORDERS)
def test_an_edge_that_reaches_past_a_face_whichever_way_it_lies(
    order: np.ndarray, sign: float
) -> None:
    """The tree knows two axes, the third is looked at afterwards: each has to be each."""
    wedge = Solid.prism(Polygon([(20, 5), (30, 15), (10, 15)]), VIEWS["front"], (-60, -12))
    bodies = [reordered(one, order, sign) for one in (box((40, 40, 5)), wedge)]
    for found in (only(bodies), only(bodies[::-1])):
        assert found.length == pytest.approx(28)
        assert np.sort(np.abs(found.where)) == pytest.approx([5, 20, 26], abs=CLOSE)


def pierced() -> Solid:
    """A plate 36 × 24 × 5 mm with 20 round holes, its middle at the origin."""
    holes = [disc(7 * i + 4, 6 * j + 3, 2, 8) for i in range(5) for j in range(4)]
    area = shapely.difference(rect(0, 0, 36, 24), shapely.union_all(holes))
    return Solid.prism(affinity.translate(many(area), -18, -12), VIEWS["top"], (-2.5, 2.5))


def some_triangles(seed: int, scale: float) -> tuple[np.ndarray, np.ndarray]:
    """Points (n, 3), many of them nearly on a line or plane of others, and triangles of them."""
    rng = np.random.default_rng(seed)
    points = rng.integers(0, 4, (40, 3)) * scale
    points += rng.choice(
        [0.0, 0.0, 0.0, TOUCH / 2.0, 2.0 * TOUCH, 1e-4, 1e-3], (40, 1)
    ) * rng.normal(size=(40, 3))
    triangles = rng.integers(0, 40, (60, 3))
    return points, triangles[[len(set(three)) == 3 for three in triangles.tolist()]]


@pytest.mark.parametrize("scale", [1.0, 1e-2, 1e2])
@pytest.mark.parametrize("seed", range(30))
def test_no_edge_that_touches_a_triangle_is_left_out(seed: int, scale: float) -> None:
    """Held against each other one by one: in one plane, in one line, with common corners."""
    points, triangles = some_triangles(seed, scale)
    edges = np.concatenate([triangles[:, :2], triangles[:, 1:]])
    e, t = np.indices((len(edges), len(triangles))).reshape(2, -1)
    joined = (edges[e][:, :, None] == triangles[t][:, None, :]).any(axis=2)
    touching, _ = _meet(points[edges[e]], points[triangles[t]], joined, TOUCH)
    every = {(int(e[i]), int(t[i])) for i in touching}
    near = set(map(tuple, near_pairs(points, edges, triangles, TOUCH).tolist()))
    assert every <= near
    assert len(every) > 0


@pytest.mark.parametrize("order", ORDERS)
def test_hardly_a_pair_is_near_whichever_way_a_plate_lies(order: np.ndarray) -> None:
    """Nothing of a plate with 20 holes touches but at common corners, where all goes apart."""
    mesh = reordered(pierced(), order).mesh
    edges = _sharp_edges(mesh)
    assert len(near_pairs(mesh.vertices, edges, mesh.triangles, TOUCH)) < len(edges) / 10


@pytest.mark.parametrize("scale", [1.0, 1e-3, 1e3])
def test_only_edges_at_which_the_surface_turns_are_searched(scale: float) -> None:
    """Above and below a plate with 20 holes, and down each corner: none across its faces."""
    corners = 4 + 20 * 8
    made = moved(pierced(), np.zeros(3), scale * np.eye(3))
    assert len(_sharp_edges(made.mesh)) == 3 * corners


def test_a_plate_of_many_holes() -> None:
    """Hundreds of holes and one that touches its neighbour: found, and not lost in the search."""
    holes = [
        affinity.translate(shapely.Point(0, 0).buffer(1.5, quad_segs=4), 4 * i + 3, 4 * j + 3)
        for i in range(12)
        for j in range(12)
    ]
    diamond = Polygon([(4.5, 3), (5, 2.5), (5.5, 3), (5, 3.5)])
    area = many(shapely.difference(rect(0, 0, 50, 50), shapely.union_all([*holes, diamond])))
    made = whole({"top": area}, (50, 50, 5))
    assert told(contacts([made])) == [(True, (4.5, 3, 2.5), 5), (True, (5.5, 3, 2.5), 5)]


AXES = [np.eye(3)[k] for k in range(3)]


@pytest.mark.parametrize("along", [*AXES, -_SKEW, _SKEW, _SKEW[::-1], [1.0, -2.0, 3.0]])
def test_a_body_hangs_by_an_edge_whichever_way_that_runs(along: np.ndarray) -> None:
    """Also along the direction by which the cube in which one looks is turned."""
    along = np.asarray(along) / np.linalg.norm(along)
    turn = Rotation.align_vectors([along], [[0.0, 0.0, 1.0]])[0].as_matrix()
    turn[:, 2] = along  # to the last digit
    found = only([moved(ring(10.0), np.zeros(3), turn)])
    assert found.length == pytest.approx(10.0)
    assert found.where == pytest.approx(turn @ [20, 10, 5], abs=CLOSE)


def ring(thick: float, over: float = 0.0) -> Solid:
    """Two squares that touch along the edge at (20, 10), or overlap there, joined by a bracket."""
    corner = rect(20 - over, 10 - over, 30, 20)
    plan = [rect(10, 0, 20, 10), corner, rect(10, 20, 30, 30), rect(0, 0, 10, 30)]
    return Solid.prism(many(shapely.union_all(plan)), VIEWS["top"], (0, thick))


@pytest.mark.parametrize(("low", "high"), [(0, 5), (5, 10), (3, 7)])
def test_an_edge_by_which_a_body_hangs_may_end_in_material(low: float, high: float) -> None:
    """Two pockets on the corners of a block, as deep as its middle: one end open, or none."""
    block, size = box((20, 20, 10)), (11, 11, high - low + (low == 0) + (high == 10))
    bottom = low - (low == 0)
    pockets = [box(size, at) for at in ((10, -1, bottom), (-1, 10, bottom))]
    made = block.minus(pockets[0]).minus(pockets[1])
    assert made.volume == pytest.approx(4000 - 2 * 100 * (high - low))
    found = only([made])
    assert found.bodies == (0, 0)
    assert found.where == pytest.approx([10, 10, (low + high) / 2], abs=CLOSE)
    assert found.length == pytest.approx(high - low)


# --- however small -----------------------------------------------------------------------------


@pytest.mark.parametrize("over", [0.0, TOUCH / 2])
@pytest.mark.parametrize("thick", [1.0, 5 * _NEAR, 1.5 * _NEAR, 5 * _TAKEN, _TAKEN])
def test_a_foil_hangs_by_an_edge_as_long_as_it_is_thick(thick: float, over: float) -> None:
    """Thicker and thinner than the cube in which one looks, and than what is taken out of it.

    Where its squares overlap, all of the overlap has to be taken out.
    """
    found = only([ring(thick, over)])
    assert found.bodies == (0, 0)
    assert found.length == pytest.approx(thick, abs=2 * TOUCH)  # a place is anywhere within reach
    assert found.where == pytest.approx([20, 10, thick / 2], abs=2 * TOUCH)


@pytest.mark.parametrize("scale", [1.0, 1e-2, 2e-5, 1e4])
def test_an_edge_across_an_edge_however_small(scale: float) -> None:
    """Two wedges, one standing on the ridge of the other at right angles."""
    ridge = Solid.prism(Polygon([(0, 0), (20, 0), (10, 10)]), VIEWS["front"], (-30, 0))
    across = Solid.prism(Polygon([(12, 10), (22, 20), (2, 20)]), VIEWS["right"], (-5, 35))
    found = only([moved(one, np.zeros(3), scale * np.eye(3)) for one in (ridge, across)])
    assert found.where == pytest.approx(scale * np.array([10, 12, 10]), abs=2 * TOUCH)
    assert found.length == 0


def test_an_edge_shorter_than_touching_is_a_point() -> None:
    found = only([box((10, 10, 10)), box((10, 10, 10), (10, 10, 10 - TOUCH / 2))])
    assert found.length == 0.0
    assert found.where == pytest.approx([10, 10, 10], abs=TOUCH)


def shrunk(wide: float) -> Solid:
    """The ring of squares, which are so wide."""
    return moved(ring(10.0), np.zeros(3), wide / 10.0 * np.eye(3))


@pytest.mark.parametrize("wide", [10.0, 1.2e-3, 0.6e-3])
def test_a_ring_however_small_hangs_by_an_edge(wide: float) -> None:
    """How far one looks goes with the size: a ring of half a micrometre is not seen whole."""
    found = only([shrunk(wide)])
    assert found.length == pytest.approx(wide, abs=2 * TOUCH)


def test_cubes_smaller_than_the_search_is_wide_touch_at_their_edges() -> None:
    """0.4 µm, 40 µm and 0.4 mm: lengths below 1 have squares below them."""
    for side in (4e-4, 0.04, 0.4):
        one, other = box((side,) * 3), box((side,) * 3, (side, side, side / 2))
        found = only([one, other])
        assert found.length == pytest.approx(side / 2, rel=1e-3)
        assert found.where == pytest.approx([side, side, 0.75 * side], abs=CLOSE)


# --- pieces in one line ------------------------------------------------------------------------


def merged(spans: list[tuple[int, int]]) -> set[tuple[int, int]]:
    """What some spans cover together, those that meet as one: by going through them in order."""
    done: list[tuple[int, int]] = []
    for low, high in sorted(spans):
        if done and low <= done[-1][1]:
            done[-1] = (done[-1][0], max(done[-1][1], high))
        else:
            done.append((low, high))
    return set(done)


@pytest.mark.parametrize("aside", [False, True])
@pytest.mark.parametrize(("gap", "count"), [(1.5e-6, 1), (2.5e-6, 2)])
def test_pieces_two_millionths_of_a_millimetre_apart_meet(
    gap: float, count: int, aside: bool
) -> None:
    """Each may be a millionth off the line in which they touch: end to end, or side by side."""
    shift = np.array([0, gap, 0] if aside else [2 + gap, 0, 0])
    for one in ([[0, 0, 0], [2, 0, 0]], [[2, 0, 0], [0, 0, 0]]):
        first, second = np.array(one, float), np.array([[0, 0, 0], [1, 0, 0]]) + shift
        for pieces in ([first, second], [second, first], [-first, -second]):
            assert len(list(_runs(np.array(pieces), TOUCH))) == count


SPANS = st.lists(st.tuples(st.integers(0, 12), st.integers(0, 3)), min_size=1, max_size=7)


@given(st.lists(SPANS, min_size=1, max_size=3), st.randoms(use_true_random=False))
def test_pieces_in_one_line_that_meet_are_one(lines: list, random: Random) -> None:
    """On up to three lines side by side, in any order and direction, points among them."""
    along, aside, start = np.array([2, 3, 6]) / 7.0, np.array([6, 2, -3]) / 7.0, np.array([1, 2, 3])
    pieces, expected = [], set()
    for k, spans in enumerate(lines):
        for low, length in spans:
            ends = [start + k * aside + s * along for s in (low, low + length)]
            pieces.append(ends if random.random() < 0.5 else ends[::-1])
        expected |= {(k, *span) for span in merged([(low, low + n) for low, n in spans])}
    random.shuffle(pieces)
    found = set()
    for a, b in _runs(np.array(pieces), TOUCH):
        ends = [((p - start) @ along, (p - start) @ aside) for p in (a, b)]
        # coordinates up to 20 carry rounding of some 1e-15
        assert np.abs(np.array(ends) - np.round(ends)).max() < 1e-12
        (low, k), (high, other) = sorted(np.round(ends).astype(int).tolist())
        assert k == other
        found.add((k, low, high))
    assert found == expected
