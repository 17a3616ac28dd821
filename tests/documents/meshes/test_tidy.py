"""Meshes in single precision: closed, without lines, flaps or repeated points."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from scipy.spatial.transform import Rotation

from silhouette3d.documents.meshes.tidy import GRAIN, is_closed, tidy
from silhouette3d.geometry.mesh import Mesh
from tests.support.meshes import (
    area,
    blocks,
    box,
    closed,
    prism,
    soup,
    two_blocks_at_an_edge,
    volume,
)


def rounding(mesh: Mesh) -> float:
    """How far tidying may move a point: half a step of the grain and of single precision."""
    step = float(np.spacing(np.float32(np.abs(mesh.vertices).max())))
    return np.sqrt(3) * (step + GRAIN) / 2


def moved(mesh: Mesh) -> float:
    """How much volume tidying may change.

    The surface moves by the rounding, and once more by a step where a flat
    triangle is given to its neighbour; a second-order term is small against that.
    """
    return 4 * rounding(mesh) * area(mesh)


def check(mesh: Mesh) -> Mesh:
    """Tidy it and check all that holds for any closed surface."""
    result = tidy(mesh)
    assert closed(result)
    assert np.array_equal(result.vertices, result.vertices.astype(np.float32))
    assert len(np.unique(result.vertices, axis=0)) == len(result.vertices)
    assert set(result.triangles.ravel().tolist()) == set(range(len(result.vertices)))
    assert all(len(set(t)) == 3 for t in result.triangles.tolist())
    assert abs(volume(result) - volume(mesh)) <= moved(mesh)
    assert shapes(tidy(result)) == shapes(result)  # nothing is left to do, swaps included
    return result


def watertight(mesh: Mesh) -> bool:
    """What trimesh says after joining equal points itself."""
    return bool(trimesh.Trimesh(mesh.vertices, mesh.triangles, process=True).is_watertight)


def shapes(mesh: Mesh) -> list[list[tuple[float, ...]]]:
    """The corners of each triangle, in an order that does not depend on the mesh's."""
    return sorted(sorted(map(tuple, corners)) for corners in mesh.corners.tolist())


# A box, however it comes.


def test_a_tidy_mesh_stays_as_it_is() -> None:
    mesh = check(box())
    assert len(mesh.vertices) == 8
    assert sorted(map(sorted, mesh.triangles.tolist())) == sorted(
        map(sorted, box().triangles.tolist())
    )
    assert volume(mesh) == 6000


def test_equal_points_are_joined() -> None:
    mesh = check(soup(box()))
    assert len(mesh.vertices) == 8
    assert watertight(mesh)


def test_zero_has_no_sign() -> None:
    mesh = box()
    noisy = soup(mesh).vertices.copy()
    noisy[noisy == 0.0] = np.resize([0.0, -0.0, 1e-12, -1e-12], int((noisy == 0.0).sum()))
    result = check(Mesh(noisy, soup(mesh).triangles))
    assert np.array_equal(result.vertices, tidy(mesh).vertices)
    assert not np.signbit(result.vertices).any()


def test_decimals_stay_decimals() -> None:
    """A coordinate is the single-precision number nearest to it, not to a multiple of 1/2**n."""
    mesh = check(box((0.1, 10.1, 123.4)))
    assert set(mesh.vertices.ravel()) == {0.0, *(float(np.float32(x)) for x in (0.1, 10.1, 123.4))}


def test_the_grain_can_be_chosen() -> None:
    mesh = tidy(box((1.04, 1.06, 1.0)), grain=0.1)
    assert set(mesh.vertices.ravel()) == {0.0, 1.0, float(np.float32(1.1))}


def test_unused_points_are_left_out() -> None:
    mesh = box()
    more = Mesh(np.vstack([mesh.vertices, [[5, 5, 5]]]), mesh.triangles)
    assert len(check(more).vertices) == 8


# What single precision turns into lines.


@pytest.mark.parametrize("gap", [1e-9, 1e-12, 0.0])
def test_a_side_that_becomes_a_point(gap: float) -> None:
    ring = [(0, 0), (10, 0), (10 + gap / 2, gap), (10, 10), (0, 10)]
    mesh = check(prism(ring, 5))
    assert len(mesh.vertices) == 8
    assert len(mesh.triangles) == 12
    assert watertight(mesh)


def test_a_plate_thinner_than_the_rounding_is_nothing() -> None:
    mesh = tidy(box((10, 20, 1e-9), at=(0, 0, 50)))
    assert len(mesh.triangles) == 0
    assert len(mesh.vertices) == 0


def test_a_rib_thinner_than_the_rounding_is_cut_off() -> None:
    cells = np.array([[[True, False], [True, True], [True, False]]])
    grid = [[0.0, 10.0], [0.0, 10.0, 10.0 + 1e-9, 20.0], [0.0, 10.0, 20.0]]
    mesh = check(blocks(cells, grid))
    assert volume(mesh) == 2000
    assert mesh.vertices[:, 2].max() == 10
    assert watertight(mesh)


# Flaps: two triangles back to back.


def with_flap(tip: tuple[float, float, float]) -> Mesh:
    """A box with two triangles between one of its edges and `tip`, closed by index."""
    mesh = box()
    u, v = (int(i) for i in mesh.triangles[0, :2])
    w = len(mesh.vertices)
    return Mesh(
        np.vstack([mesh.vertices, [tip]]), np.vstack([mesh.triangles, [[u, v, w], [v, u, w]]])
    )


@pytest.mark.parametrize("tip", [(40, 50, 60), (-5, -5, 3), (5, 5, 5)])
def test_a_flap_is_left_out(tip: tuple[float, float, float]) -> None:
    mesh = with_flap(tip)
    assert closed(mesh)
    assert not watertight(mesh)
    result = check(mesh)
    assert len(result.triangles) == 12
    assert watertight(result)


def test_a_flap_of_no_area_is_left_out() -> None:
    """Two flat triangles lie on one edge of the surface, on both sides of a doubled point.

    Closed by index; once the two points are one, four triangles share the edge.
    """
    ring = [(0, 0), (5, 0), (10, 0), (10, 10), (0, 10)]
    n = len(ring)
    mesh = prism(ring, 5)
    # the wall below keeps point 1, the lower cap gets a point 1' of its own: a flat
    # triangle 0, 1, 2 and its opposite 0, 1', 2 are then needed to close the surface
    twin = len(mesh.vertices)
    triangles = mesh.triangles.tolist()
    cap = [t for t in triangles if max(t) < n]
    others = [t for t in triangles if max(t) >= n]
    lower = [[0, 2, twin], [0, 3, 2], [0, 4, 3]]  # 0, 2, 1' is flat
    opposite = [[0, twin, 2], [0, 2, 1]]
    assert len(cap) == 3
    whole = Mesh(
        np.vstack([mesh.vertices, [[5, 0, 0]]]), np.array(others + lower + opposite, dtype=int)
    )
    assert closed(whole)
    assert not watertight(whole)
    result = check(whole)
    assert len(result.triangles) == len(triangles)
    assert watertight(result)
    assert np.linalg.norm(result.area_vectors, axis=1).min() > 1


def test_repeated_triangles_cancel_in_pairs() -> None:
    """Three times one flap, twice its opposite and a lone triangle that closes neither."""
    mesh = with_flap((40, 50, 60))
    flap, back = mesh.triangles[-2:]
    once = Mesh(mesh.vertices, np.vstack([mesh.triangles, [flap, np.roll(back, 1)]]))
    assert len(check(once).triangles) == 12


# Flat triangles: T-junctions in disguise.


@pytest.mark.parametrize("first", [0, 2, 4, 6])
def test_flat_triangles_of_a_fan(first: int) -> None:
    """A square with a point in the middle of each side, cut into a fan from each corner."""
    ring = [(0, 0), (5, 0), (10, 0), (10, 5), (10, 10), (5, 10), (0, 10), (0, 5)]
    mesh = prism(ring[first:] + ring[:first], 5)
    assert np.linalg.norm(mesh.area_vectors, axis=1).min() == 0
    result = check(mesh)
    assert len(result.vertices) == 16
    assert len(result.triangles) == len(mesh.triangles)
    assert volume(result) == pytest.approx(500, rel=1e-12)  # rounding of double precision
    assert np.linalg.norm(result.area_vectors, axis=1).min() > 1
    assert watertight(result)


@given(
    stops=st.lists(st.integers(1, 99), min_size=1, max_size=12, unique=True),
    first=st.integers(0, 30),
    turn=hnp.arrays(float, 3, elements=st.floats(-3, 3)),
    shift=hnp.arrays(float, 3, elements=st.floats(-50, 50)),
)
def test_flat_triangles_in_any_direction(
    stops: list[int], first: int, turn: np.ndarray, shift: np.ndarray
) -> None:
    """Many points on one side of a prism, turned so that single precision bends the side."""
    side = [(float(x), 0.0) for x in sorted(stops)]
    ring = [(0.0, 0.0), *side, (100.0, 0.0), (100.0, 60.0), (0.0, 60.0)]
    first %= len(ring)
    mesh = prism(ring[first:] + ring[:first], 40.0)
    vertices = Rotation.from_rotvec(turn).apply(mesh.vertices.copy()) + shift
    result = check(Mesh(vertices, mesh.triangles))
    assert len(result.vertices) == 2 * len(ring)
    assert watertight(result)
    # the narrowest true triangle has a height of 1 mm over a side of less than 160 mm,
    # 0.3 mm over its longest; what is flat is off by single precision only
    assert np.linalg.norm(result.area_vectors, axis=1).min() > 0.1


def test_a_flap_cut_differently_on_its_two_sides() -> None:
    """One side has a flat triangle and a whole one, the other two halves: swapped, they cancel."""
    mesh = box()
    a, b, c, d = range(8, 12)
    flap = [[a, c, d], [c, a, b], [b, a, d], [c, b, d]]
    points = [[20, 0, 0], [25, 0, 0], [30, 0, 0], [25, 0, 10]]
    whole = Mesh(np.vstack([mesh.vertices, points]), np.vstack([mesh.triangles, flap]))
    assert closed(whole)
    assert len(check(whole).triangles) == 12


def test_swapping_ends_by_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    """A side one step of single precision long: its triangles are flat, whatever they swap."""
    mesh = prism([(0, 0), (10, 0), (10, 8e-7), (10, 10), (0, 10)], 5)
    result = check(mesh)
    caps, wall = 2, 2
    assert (np.linalg.norm(result.area_vectors, axis=1) < 1e-5).sum() == caps + wall
    assert watertight(result)
    for passes in (9, 10):
        monkeypatch.setattr("silhouette3d.documents.meshes.tidy._PASSES", passes)
        assert shapes(tidy(mesh)) == shapes(result)


def test_a_mesh_that_is_only_a_line() -> None:
    points = np.array([[0, 0, 0], [1, 0, 0], [2, 0, 0], [3, 0, 0]], float)
    lens = Mesh(points, np.array([[0, 1, 3], [0, 3, 2], [0, 2, 1], [1, 2, 3]]))
    assert closed(lens)
    assert closed(check(lens))


# Anything made of blocks.


@given(
    cells=hnp.arrays(bool, (3, 3, 3)).filter(np.any),
    gaps=hnp.arrays(float, (3, 3), elements=st.sampled_from([10.0, 0.1, 1e-3, 1e-6, 1e-8, 1e-12])),
    shift=hnp.arrays(float, 3, elements=st.floats(-200, 200)),
)
def test_any_blocks_with_layers_of_any_thickness(
    cells: np.ndarray, gaps: np.ndarray, shift: np.ndarray
) -> None:
    """Layers collapse, ribs become flaps: the surface is closed for everybody who joins points."""
    grid = [at + np.cumsum([0.0, *gap]) for at, gap in zip(shift, gaps, strict=True)]
    mesh = blocks(cells, grid)
    assert closed(mesh)
    result = check(soup(mesh))
    areas = np.linalg.norm(result.area_vectors, axis=1)
    assert not len(areas) or areas.min() > 0


# Closed or not.


def test_closed() -> None:
    assert is_closed(box())
    assert is_closed(two_blocks_at_an_edge())


@pytest.mark.parametrize("fault", ["missing", "turned", "twice", "empty"])
def test_not_closed(fault: str) -> None:
    mesh = box()
    triangles = {
        "missing": mesh.triangles[1:],
        "turned": np.vstack([mesh.triangles[1:], mesh.triangles[:1, ::-1]]),
        "twice": np.vstack([mesh.triangles, mesh.triangles[:1]]),
        "empty": mesh.triangles[:0],
    }[fault]
    assert not is_closed(Mesh(mesh.vertices, triangles))
