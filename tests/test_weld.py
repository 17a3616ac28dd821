"""Surfaces without their narrow edges and triangles: what stays, and what is refused."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from silhouette3d.solid import Mesh, Solid
from silhouette3d.solid.parting import _Parting
from silhouette3d.solid.weld import _is_whole, welded
from tests.meshes import box, manifold

NEAR, FLAT = 1e-8, 1e-12

A, B, C, D = range(4)
CORNERS = [[0.0, 0, 0], [10, 0, 0], [0, 10, 0], [0, 0, 10]]
BASE, FRONT, LEFT, SLANT = [A, C, B], [A, B, D], [A, D, C], [B, C, D]
"""A corner of a cube cut off: a sixth of 10³ mm³."""


def mesh(points: list[list[float]], triangles: list[list[int]]) -> Mesh:
    return Mesh(np.array([*CORNERS, *points], float), np.array(triangles))


def test_what_has_nothing_narrow_stays() -> None:
    found = welded(box(), NEAR, FLAT)
    assert found is not None
    assert found.triangles.tolist() == box().triangles.tolist()
    assert found.vertices.tolist() == box().vertices.tolist()


def parted_twice(off: float) -> Mesh:
    """The edge from A to B is parted in its middle and once more: begins triangles 1 and 4."""
    p, q = 4, 5
    base, front = [[A, C, p], [q, p, C], [q, C, B]], [[A, p, D], [p, q, D], [q, B, D]]
    return mesh([[5.0, 0, 0], [5.0 + off, 0, 0]], [*base, *front, LEFT, SLANT])


@pytest.mark.parametrize("turns", range(3))
@pytest.mark.parametrize("off", [0.0, 9e-9])
def test_two_points_all_but_one_become_one(off: float, turns: int) -> None:
    """Whichever of their triangles' edges lies between them."""
    parted = parted_twice(off)
    given_ = Mesh(parted.vertices, np.roll(parted.triangles, turns, axis=1))
    assert manifold(given_)
    found = welded(given_, NEAR, FLAT)
    assert found is not None
    assert manifold(found)
    assert found.triangles.shape == (6, 3)
    assert found.vertices.tolist() == [*CORNERS, [5.0, 0.0, 0.0]]
    assert Solid.from_mesh(found).volume == pytest.approx(1000 / 6, rel=1e-15)


@pytest.mark.parametrize(("off", "near"), [(1.1e-8, NEAR), (0.25, 0.25)])
def test_points_as_far_apart_as_that_stay_two(off: float, near: float) -> None:
    found = welded(parted_twice(off), near, FLAT)
    assert found is not None
    assert found.vertices.tolist() == parted_twice(off).vertices.tolist()
    assert found.triangles.shape == (8, 3)


@pytest.mark.parametrize("turns", range(3))
def test_a_corner_on_the_longest_edge_parts_the_neighbour(turns: int) -> None:
    """Of the base a triangle without area is left over along A and B, whichever corner is first."""
    p = 4
    flat = np.roll([A, p, B], turns).tolist()
    given_ = mesh([[5.0, 0, 0]], [flat, [A, C, p], [p, C, B], FRONT, LEFT, SLANT])
    assert manifold(given_)
    found = welded(given_, NEAR, FLAT)
    assert found is not None
    assert manifold(found)
    assert len(found.triangles) == len(given_.triangles)
    corners = found.corners
    areas = np.linalg.norm(
        np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
    )
    assert areas.min() > 1.0
    assert Solid.from_mesh(found).volume == pytest.approx(1000 / 6, rel=1e-15)


def test_one_after_the_other() -> None:
    """A row of flat triangles, each with the next one as neighbour, the last with the front."""
    p, q, r = 4, 5, 6
    points = [[2.0, 0, 0], [5.0, 0, 0], [7.0, 0, 0]]
    base = [[A, C, p], [p, C, q], [q, C, r], [r, C, B]]
    flat = [[A, p, q], [A, q, r], [A, r, B]]
    found = welded(mesh(points, [*flat, *base, FRONT, LEFT, SLANT]), NEAR, FLAT)
    assert found is not None
    assert manifold(found)
    assert len(found.triangles) == 10
    assert Solid.from_mesh(found).volume == pytest.approx(1000 / 6, rel=1e-15)
    assert Solid.from_mesh(found).surface_area == pytest.approx(150 + np.sqrt(7500), rel=1e-14)


@pytest.mark.parametrize("backwards", [False, True])
def test_a_long_row_is_gone_through_a_few_times(
    monkeypatch: pytest.MonkeyPatch, backwards: bool
) -> None:
    """Whether the first or the last can be turned first: who is stuck is asked again only then."""
    count = 200
    points = [[10.0 * i / (count + 1), 0, 0] for i in range(1, count + 1)]
    along = range(4, 4 + count)
    flat = [[A, p, p + 1] for p in along[:-1]] + [[A, along[-1], B]]
    ends = [A, *along, B]
    base = [[one, C, other] for one, other in pairwise(ends)]
    turn, turns = _Parting._turn, []

    def counted(self: _Parting, number: int) -> object:
        turns.append(number)
        return turn(self, number)

    monkeypatch.setattr(_Parting, "_turn", counted)
    given_ = mesh(points, [*flat[:: -1 if backwards else 1], *base, FRONT, LEFT, SLANT])
    found = welded(given_, NEAR, FLAT)
    assert found is not None
    assert manifold(found)
    assert narrowest(found) >= NEAR
    # asked all over again after each turn it would be some 200² / 2
    assert len(turns) <= 6 * count * np.log2(count)


def kite(p: list[float], q: list[float]) -> Mesh:
    """Two triangles back to back along A and B: one to a corner p of the base, one to q."""
    base, front = [[A, C, 4], [4, C, B]], [[A, 5, D], [5, B, D]]
    return mesh([p, q], [[A, 4, B], [B, 5, A], *base, *front, LEFT, SLANT])


@pytest.mark.parametrize(
    ("p", "q"),
    [
        ([4.0, 0, 0], [6.0, 0, 0]),
        ([6.0, 0, 0], [4.0, 0, 0]),
        ([4.0, 0, 0], [4.0, 0, 0]),
        ([4.0, 3e-9, 0], [6.0, 0, 3e-9]),
        ([4.0, 0, 0], [6.0, 0, 3e-9]),
        ([4.0, 8e-9, 0], [4.0, -8e-9, 0]),
    ],
)
def test_narrow_ones_back_to_back(p: list[float], q: list[float]) -> None:
    """First they are parted between p and q, then from base and front."""
    given_ = kite(p, q)
    assert manifold(given_)
    found = welded(given_, NEAR, FLAT)
    assert found is not None
    assert manifold(found)
    assert len(found.vertices) == (5 if p == q else 6)
    assert len(found.triangles) == 2 * len(found.vertices) - 4  # Euler
    assert narrowest(found) >= NEAR
    assert Solid.from_mesh(found).volume == pytest.approx(1000 / 6, rel=1e-8)


def narrowest(given_: Mesh) -> float:
    """Least height of a triangle above its longest edge."""
    sides = given_.corners - np.roll(given_.corners, 1, axis=1)
    longest = np.linalg.norm(sides, axis=2).max(axis=1)
    return float((2.0 * np.linalg.norm(given_.area_vectors, axis=1) / longest).min())


@pytest.mark.parametrize("seed", range(8))
def test_turned_and_moved_anywhere(seed: int) -> None:
    """The same triangles come of it. Rounding moves the points by some 1e-14 mm, far below near."""
    rng = np.random.default_rng(seed)
    turn = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    turn *= np.linalg.det(turn)  # no mirror
    off = rng.uniform(-50, 50, 3)
    flat = mesh([[5.0, 0, 0]], [[A, 4, B], [A, C, 4], [4, C, B], FRONT, LEFT, SLANT])
    for given_ in (flat, kite([4.0, 0, 0], [6.0, 0, 0]), kite([4.0, 8e-9, 0], [4.0, -8e-9, 0])):
        plain = welded(given_, NEAR, FLAT)
        turned = welded(Mesh(given_.vertices @ turn.T + off, given_.triangles), NEAR, FLAT)
        assert plain is not None
        assert turned is not None
        assert turned.triangles.tolist() == plain.triangles.tolist()
        assert turned.vertices == pytest.approx(plain.vertices @ turn.T + off, abs=1e-12)


def test_narrow_ones_that_are_not_flat_may_stay() -> None:
    """Next to a corner, where the other diagonal would leave one as narrow."""
    p, e = 4, 5
    given_ = mesh(
        [[1.2e-8, 3e-9, 0], [8.0, 0, 6]],
        [[A, p, B], [A, C, p], [p, C, B], [A, B, e], [A, e, C], [B, C, e]],
    )
    assert manifold(given_)
    found = welded(given_, NEAR, FLAT)
    assert found is not None
    assert found.triangles.shape == given_.triangles.shape
    assert narrowest(found) == pytest.approx(3e-9, rel=1e-6)
    assert welded(given_, NEAR, 4e-9) is None


def test_what_is_as_wide_as_the_limits_stays() -> None:
    """All numbers are exact: powers of two, and the triangle of sides 3, 4 and 5."""
    wide = mesh([[5.0, 0.25, 0]], [[A, 4, B], [A, C, 4], [4, C, B], FRONT, LEFT, SLANT])
    found = welded(wide, 0.25, FLAT)
    assert found is not None
    assert found.triangles.tolist() == wide.triangles.tolist()
    assert welded(sheet(0.125), 0.25, 0.125) is not None
    points = np.array([[0.0, 0, 0], [6, 0, 0], [3, 12, 0], [3, 0, 4], [3, 0, 0]])
    flat = Mesh(points, np.array([[A, 4, B], [A, C, 4], [4, C, B], FRONT, LEFT, SLANT]))
    assert welded(flat, 3 * 4 / 5, FLAT) is not None  # two right-angled ones as high as that


@pytest.mark.parametrize(("along", "stays"), [(1.2e-8, True), (2e-8, False)])
def test_none_is_parted_into_narrow_ones(along: float, stays: bool) -> None:
    """The front leaves A at a slope of 3 to 4: its edge passes the corner at 0.6 of `along`."""
    p, e = 4, 5
    slant, front, left = [B, C, e], [A, B, e], [A, e, C]
    given_ = mesh(
        [[along, 0, 0], [8.0, 0, 6]], [[A, p, B], [A, C, p], [p, C, B], front, left, slant]
    )
    assert manifold(given_)
    assert (welded(given_, NEAR, FLAT) is None) is stays


def test_nothing_is_narrower_than_nothing() -> None:
    """Not even where all corners are one point."""
    point = Mesh(np.zeros((8, 3)), box().triangles)
    found = welded(point, 0.0, 0.0)
    assert found is not None
    assert found.triangles.tolist() == point.triangles.tolist()


def sheet(y: float) -> Mesh:
    """A base with two sides, one of them parted at a point that far above its edge A B."""
    p = 4
    return mesh([[5.0, y, 0]], [[A, p, B], [A, C, p], [p, C, B], [A, B, C]])


def test_a_diagonal_that_is_there_already_is_not_drawn_twice() -> None:
    """Turned, the flat triangle's edge would run from its corner to C, as one does on the base."""
    assert manifold(sheet(0.0))
    assert welded(sheet(0.0), NEAR, FLAT) is None
    assert welded(sheet(3e-9), NEAR, FLAT) is not None


def neck(width: float) -> Mesh:
    """Two pyramids, tip to tip through a three-sided neck."""
    t = 2 * np.pi * np.arange(3) / 3
    ring = np.column_stack([np.cos(t), np.sin(t), np.zeros(3)])
    up = np.array([0.0, 0.0, 5.0])
    low, high = ring - up, ring + up
    points = np.concatenate([low, ring * (width / np.sqrt(3), width / np.sqrt(3), 0), high])
    sides = []
    for base in (0, 3):
        for i in range(3):
            j = (i + 1) % 3
            sides += [[base + i, base + j, base + 3 + j], [base + i, base + 3 + j, base + 3 + i]]
    return Mesh(points, np.array([[0, 2, 1], [6, 7, 8], *sides]))


def test_a_neck_is_not_drawn_together_to_a_point() -> None:
    """Then the surface would touch itself there."""
    assert manifold(neck(1e-9))
    assert welded(neck(1e-9), NEAR, FLAT) is None
    found = welded(neck(1e-7), NEAR, FLAT)
    assert found is not None
    assert len(found.triangles) == 14


def beside(one: Mesh, other: Mesh) -> Mesh:
    return Mesh(
        np.concatenate([one.vertices, other.vertices]),
        np.concatenate([one.triangles, other.triangles + len(one.vertices)]),
    )


def test_every_point_must_stay_whole() -> None:
    assert welded(beside(parted_twice(9e-9), neck(1e-9)), NEAR, FLAT) is None
    assert welded(beside(neck(1e-9), parted_twice(9e-9)), NEAR, FLAT) is None


def test_triangles_round_a_point_go_round_it_once() -> None:
    once = [[0, 1, 2], [2, 3, 0], [1, 0, 3]]

    def whole(triangles: list[list[int]]) -> bool:
        return _is_whole(Mesh(np.zeros((7, 3)), np.array(triangles)), np.array([0]))

    assert whole(once)
    assert whole([[1, 3, 2]])  # they have left it
    assert not whole(once * 2)
    assert not whole(once[:2])
    assert not whole([[0, 1, 2], [0, 3, 4]])
    assert not whole([*once, [0, 4, 5], [0, 5, 6], [0, 6, 4]])
    assert not whole([[0, 1, 2], [0, 2, 3], [0, 3, 2]])  # round, but never back to 1


def test_a_body_too_small_to_tell_goes() -> None:
    speck = box((1e-9, 2e-9, 3e-9), (50.0, 0.0, 0.0))
    found = welded(beside(box(), speck), NEAR, FLAT)
    assert found is not None
    assert found.vertices.tolist() == box().vertices.tolist()
    assert found.triangles.tolist() == box().triangles.tolist()


def test_too_much_is_left_to_the_engine(monkeypatch: pytest.MonkeyPatch) -> None:
    p = 4
    given_ = mesh([[5.0, 0, 0]], [[A, p, B], [A, C, p], [p, C, B], FRONT, LEFT, SLANT])
    most = "silhouette3d.solid.weld._MOST"
    monkeypatch.setattr(most, 0)
    assert welded(given_, NEAR, FLAT) is None
    monkeypatch.setattr(most, 1)
    assert welded(given_, NEAR, FLAT) is not None
    assert welded(parted_twice(0.0), NEAR, FLAT) is None
    monkeypatch.setattr(most, 2)
    assert welded(parted_twice(0.0), NEAR, FLAT) is not None  # one edge, seen from both sides


@settings(max_examples=60)
@given(st.integers(0, 100_000))
def test_any_edges_parted_anywhere(seed: int) -> None:
    """A box with random edges parted next to an end, or flat triangles put in between.

    Flat triangles may come to lie back to back; then there is no result. Else it is
    the box again.
    """
    rng = np.random.default_rng(seed)
    start = box()
    vertices, triangles = start.vertices.tolist(), start.triangles.tolist()
    for _ in range(int(rng.integers(1, 12))):
        t = int(rng.integers(len(triangles)))
        a, b, c = np.roll(triangles[t], int(rng.integers(3))).tolist()
        way = np.array(vertices[b]) - vertices[a]
        length = float(np.linalg.norm(way))
        if length < 1.0:
            continue
        is_short = rng.random() < 0.5
        share = 5e-9 * rng.random() / length if is_short else rng.uniform(0.3, 0.7)
        p = len(vertices)
        vertices.append((np.array(vertices[a]) + share * way).tolist())
        triangles[t] = [a, p, c]
        triangles.append([p, b, c])
        if is_short:
            other = next(i for i, tri in enumerate(triangles) if has_edge(tri, b, a))
            d = sum(triangles[other]) - a - b
            triangles[other] = [b, p, d]
            triangles.append([p, a, d])
        else:
            triangles.append([a, b, p])
    given_ = Mesh(np.array(vertices), np.array(triangles))
    assert manifold(given_)
    found = welded(given_, NEAR, FLAT)
    if found is None:
        return
    assert manifold(found)
    lengths = np.linalg.norm(found.corners - np.roll(found.corners, 1, axis=1), axis=2)
    assert lengths.min() >= NEAR
    assert (2 * np.linalg.norm(found.area_vectors, axis=1) / lengths.max(axis=1)).min() >= FLAT
    made = Solid.from_mesh(found)
    # no point moved further than 12 short edges reach, over the whole surface
    assert made.volume == pytest.approx(6000.0, abs=12 * 5e-9 * 2200)
    assert made.surface_area == pytest.approx(2200.0, abs=1e-5)
    assert len(made.bodies) == 1


def has_edge(triangle: list[int], start: int, end: int) -> bool:
    return (start, end) in zip(triangle, np.roll(triangle, -1).tolist(), strict=True)
