"""Surfaces without their short edges and narrow triangles: what stays, what goes, what parts."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from silhouette3d.geometry import half_edges
from silhouette3d.geometry.half_edges import HalfEdges, without_degeneracies
from silhouette3d.geometry.mesh import Mesh
from silhouette3d.geometry.solid import Solid
from tests.support.meshes import box, manifold

NEAR, FLAT = 1e-8, 1e-12

A, B, C, D = range(4)
CORNERS = [[0.0, 0, 0], [10, 0, 0], [0, 10, 0], [0, 0, 10]]
BASE, FRONT, LEFT, SLANT = [A, C, B], [A, B, D], [A, D, C], [B, C, D]
"""A corner of a cube cut off: a sixth of 10³ mm³."""


def mesh(points: list[list[float]], triangles: list[list[int]]) -> Mesh:
    return Mesh(np.array([*CORNERS, *points], float), np.array(triangles))


def test_what_has_nothing_narrow_stays() -> None:
    found = without_degeneracies(box(), NEAR, FLAT)
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
    found = without_degeneracies(given_, NEAR, FLAT)
    assert found is not None
    assert manifold(found)
    assert found.triangles.shape == (6, 3)
    assert found.vertices.tolist() == [*CORNERS, [5.0, 0.0, 0.0]]
    assert Solid.from_mesh(found).volume == pytest.approx(1000 / 6, rel=1e-15)


@pytest.mark.parametrize(("off", "near"), [(1.1e-8, NEAR), (0.25, 0.25)])
def test_points_as_far_apart_as_that_stay_two(off: float, near: float) -> None:
    found = without_degeneracies(parted_twice(off), near, FLAT)
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
    found = without_degeneracies(given_, NEAR, FLAT)
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
    found = without_degeneracies(mesh(points, [*flat, *base, FRONT, LEFT, SLANT]), NEAR, FLAT)
    assert found is not None
    assert manifold(found)
    assert len(found.triangles) == 10
    assert Solid.from_mesh(found).volume == pytest.approx(1000 / 6, rel=1e-15)
    assert Solid.from_mesh(found).surface_area == pytest.approx(150 + np.sqrt(7500), rel=1e-14)


@pytest.mark.parametrize("backwards", [False, True])
def test_a_long_row(backwards: bool) -> None:
    """Whether the first or the last can be turned first: who is stuck is asked again only then."""
    count = 2000
    points = [[10.0 * i / (count + 1), 0, 0] for i in range(1, count + 1)]
    along = range(4, 4 + count)
    flat = [[A, p, p + 1] for p in along[:-1]] + [[A, along[-1], B]]
    base = [[one, C, other] for one, other in pairwise([A, *along, B])]
    given_ = mesh(points, [*flat[:: -1 if backwards else 1], *base, FRONT, LEFT, SLANT])
    found = without_degeneracies(given_, NEAR, FLAT)
    assert found is not None
    assert manifold(found)
    assert narrowest(found) >= NEAR


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
    found = without_degeneracies(given_, NEAR, FLAT)
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
        plain = without_degeneracies(given_, NEAR, FLAT)
        turned = without_degeneracies(
            Mesh(given_.vertices @ turn.T + off, given_.triangles), NEAR, FLAT
        )
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
    found = without_degeneracies(given_, NEAR, FLAT)
    assert found is not None
    assert found.triangles.shape == given_.triangles.shape
    assert narrowest(found) == pytest.approx(3e-9, rel=1e-6)
    assert without_degeneracies(given_, NEAR, 4e-9) is None


def test_what_is_as_wide_as_the_limits_stays() -> None:
    """All numbers are exact: powers of two, and the triangle of sides 3, 4 and 5."""
    wide = mesh([[5.0, 0.25, 0]], [[A, 4, B], [A, C, 4], [4, C, B], FRONT, LEFT, SLANT])
    found = without_degeneracies(wide, 0.25, FLAT)
    assert found is not None
    assert found.triangles.tolist() == wide.triangles.tolist()
    assert without_degeneracies(sheet(0.125), 0.25, 0.125) is not None
    points = np.array([[0.0, 0, 0], [6, 0, 0], [3, 12, 0], [3, 0, 4], [3, 0, 0]])
    flat = Mesh(points, np.array([[A, 4, B], [A, C, 4], [4, C, B], FRONT, LEFT, SLANT]))
    assert (
        without_degeneracies(flat, 3 * 4 / 5, FLAT) is not None
    )  # two right-angled ones as high as that


@pytest.mark.parametrize(("along", "stays"), [(1.2e-8, True), (2e-8, False)])
def test_none_is_parted_into_narrow_ones(along: float, stays: bool) -> None:
    """The front leaves A at a slope of 3 to 4: its edge passes the corner at 0.6 of `along`."""
    p, e = 4, 5
    slant, front, left = [B, C, e], [A, B, e], [A, e, C]
    given_ = mesh(
        [[along, 0, 0], [8.0, 0, 6]], [[A, p, B], [A, C, p], [p, C, B], front, left, slant]
    )
    assert manifold(given_)
    assert (without_degeneracies(given_, NEAR, FLAT) is None) is stays


def test_nothing_is_narrower_than_nothing() -> None:
    """Not even where all corners are one point."""
    point = Mesh(np.zeros((8, 3)), box().triangles)
    found = without_degeneracies(point, 0.0, 0.0)
    assert found is not None
    assert found.triangles.tolist() == point.triangles.tolist()


def sheet(y: float) -> Mesh:
    """A base with two sides, one of them parted at a point that far above its edge A B."""
    p = 4
    return mesh([[5.0, y, 0]], [[A, p, B], [A, C, p], [p, C, B], [A, B, C]])


@pytest.mark.parametrize("y", [0.0, 3e-9])
def test_two_sheets_back_to_back_are_nothing(y: float) -> None:
    """Turned, the flat triangle's edge runs from its corner to C, as one does on the base."""
    assert manifold(sheet(0.0))
    found = without_degeneracies(sheet(y), NEAR, FLAT)
    assert found is not None
    assert found.triangles.shape == found.vertices.shape == (0, 3)


def test_a_fin_goes_and_what_it_stands_on_stays() -> None:
    """A triangle without thickness stands on a slit from A towards the middle of the base."""
    p, top = 4, 5
    base = [[A, C, p], [C, B, p], [A, p, B]]
    sides = [FRONT, LEFT, SLANT]
    whole = mesh([[3.0, 3, 0]], [*base, *sides])
    # cut open along A p, and a fin A p top on either lip
    lips = [[A, p, top], [top, p, A]]
    given_ = mesh([[3.0, 3, 0], [2.0, 2, -4]], [*base, *sides, *lips])
    assert not manifold(given_)  # four triangles at one edge
    found = without_degeneracies(given_, NEAR, FLAT)
    assert found is not None
    assert manifold(found)
    assert sorted(map(sorted, found.triangles.tolist())) == sorted(
        map(sorted, whole.triangles.tolist())
    )


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


def test_a_neck_that_is_drawn_together_parts_two_bodies() -> None:
    """They touch in a point, which each has for itself."""
    assert manifold(neck(1e-9))
    found = without_degeneracies(neck(1e-9), NEAR, FLAT)
    assert found is not None
    assert manifold(found)
    bodies = Solid.from_mesh(found).bodies
    # pyramids on equilateral triangles in a circle of 1 mm, 5 mm high
    assert [body.volume for body in bodies] == pytest.approx([np.sqrt(27) / 4 * 5 / 3] * 2)
    whole = without_degeneracies(neck(1e-7), NEAR, FLAT)
    assert whole is not None
    assert len(whole.triangles) == 14


def tunnel(width: float) -> Mesh:
    """A tetrahedron with a dent in two sides, which meet in a three-sided tunnel."""
    outer = np.array([[-9.0, -9, -9], [9, 9, -9], [9, -9, 9], [-9, 9, 9]])
    t = 2 * np.pi * np.arange(3) / 3
    ring = np.column_stack([np.cos(t), np.sin(t), np.zeros(3)])
    low, high = ring * 0.5 - [0, 0, 2], ring * 0.5 + [0, 0, 2]
    hole = Mesh(np.concatenate([low, ring * width, high]), neck(1.0).triangles[:, ::-1])
    return beside(
        Mesh(outer, np.array([[0, 1, 2], [0, 3, 1], [0, 2, 3], [1, 3, 2]])[:, ::-1]), hole
    )


def test_a_waist_of_a_void_is_drawn_together_too() -> None:
    """The void falls in two, each with its own tip where they touch; the volume stays."""
    given_ = tunnel(1e-9)
    found = without_degeneracies(given_, NEAR, FLAT)
    assert found is not None
    assert manifold(found)
    assert len(found.vertices) == len(given_.vertices) - 3 + 2
    assert Solid.from_mesh(found).volume == pytest.approx(Solid.from_mesh(given_).volume)


def beside(one: Mesh, other: Mesh) -> Mesh:
    return Mesh(
        np.concatenate([one.vertices, other.vertices]),
        np.concatenate([one.triangles, other.triangles + len(one.vertices)]),
    )


def test_a_body_too_small_to_tell_goes() -> None:
    speck = box((1e-9, 2e-9, 3e-9), (50.0, 0.0, 0.0))
    found = without_degeneracies(beside(box(), speck), NEAR, FLAT)
    assert found is not None
    assert found.vertices.tolist() == box().vertices.tolist()
    assert found.triangles.tolist() == box().triangles.tolist()


def test_a_surface_with_too_many_narrow_triangles_is_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    p = 4
    given_ = mesh([[5.0, 0, 0]], [[A, p, B], [A, C, p], [p, C, B], FRONT, LEFT, SLANT])
    monkeypatch.setattr(half_edges, "_MOST", 0)
    assert without_degeneracies(given_, NEAR, FLAT) is None
    monkeypatch.setattr(half_edges, "_MOST", 1)
    assert without_degeneracies(given_, NEAR, FLAT) is not None


def test_a_surface_must_be_closed() -> None:
    with pytest.raises(ValueError, match="not closed"):
        HalfEdges.of(box().triangles[1:])
    with pytest.raises(ValueError, match="not closed"):
        HalfEdges.of(np.array([BASE, FRONT, LEFT, SLANT[::-1]]))


@settings(max_examples=60)
@given(st.integers(0, 100_000))
def test_any_edges_parted_anywhere(seed: int) -> None:
    """A box with random edges parted next to an end, or flat triangles put in between.

    It is the box again.
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
    found = without_degeneracies(given_, NEAR, FLAT)
    assert found is not None
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
