"""Solids of three areas: the same whichever axis each of them is seen along."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.spatial import KDTree
from shapely import Polygon, affinity

from silhouette3d.geometry.intersect_extrusions import Intersection, _unrolled, intersect_extrusions
from silhouette3d.geometry.mesh import Mesh
from silhouette3d.geometry.profile_boundary import FaceBoundary, ProfileBoundary
from silhouette3d.geometry.solid import Solid
from tests.geometry.test_intersect_extrusions import ROOM, random_areas
from tests.support.meshes import manifold, volume
from tests.support.shapes import rect

COMB = Polygon([(0, 0), (9, 0), (9, 7), (6, 7), (6, 2), (5, 2), (5, 8), (3, 8), (3, 1), (0, 1)])


def turned(
    areas: Sequence[shapely.Geometry], turns: int, room: float = ROOM
) -> Intersection | None:
    """The areas seen along x, y and z; with a turn each along the axis before it."""
    return intersect_extrusions([areas[(k + turns) % 3] for k in range(3)], room)


@pytest.mark.parametrize("turns", range(3))
@pytest.mark.parametrize("narrow", [1, 2])
def test_a_comb_across_walls_along_the_axes(narrow: int, turns: int) -> None:
    """Its two faces lie in walls of either of the other areas."""
    others = [rect(-70, -50, 70, 50), rect(-60, -80, 60, 80)]
    # the comb's own axis is the second coordinate of the next area, the first of the one after
    others[narrow - 1] = rect(-71, 4, 71, 10) if narrow == 1 else rect(4, -72, 10, 72)
    found = turned([COMB, *others], turns)
    assert found is not None
    assert manifold(found.mesh)
    made = Solid.from_mesh(found.mesh)
    assert made.volume == pytest.approx(COMB.area * 6, rel=1e-13)
    assert made.surface_area == pytest.approx(2 * COMB.area + COMB.length * 6, rel=1e-13)


@pytest.mark.parametrize("turns", range(3))
@pytest.mark.parametrize(("off", "room"), [(0.0, 0.0), (0.0, ROOM), (1e-13, ROOM)])
def test_level_corners_are_refused_even_if_outlines_pass_them(
    off: float, room: float, turns: int
) -> None:
    one = Polygon([(0, 1), (30, 1.3), (33, 5), (31, 9), (1, 8.7)])
    other = Polygon([(2, 0), (5 + off, -3), (8, 0.5), (7.5, 40), (2.25, 41)])
    assert turned([rect(-100, -101, 100, 102), one, other], turns, room) is None
    step = rect(2, -50, 7, 9 + off)
    assert turned([step, rect(3, -60, 9, 60), rect(1, -70, 4, 70)], turns, room) is None


@pytest.mark.parametrize("turns", range(3))
def test_what_is_as_near_as_the_room_can_be_told_apart(turns: int) -> None:
    """Tops of two areas; all numbers are exact."""
    areas = [rect(2, -50, 7, 9.25), rect(3, -60, 9, 60), rect(1, -70, 4, 70)]
    assert turned(areas, turns, 0.25) is not None
    assert turned(areas, turns, 0.2501) is None


def through_one_line(size: float, off: float) -> list[shapely.Geometry]:
    """Walls in y = z, z = x and x = y + off; z reaches from −9 to 8, x to 8 times the size."""
    lower, upper = np.array([(-9, -9), (8, 8), (-9, 8)]), np.array([(-9, -9), (8, -9), (8, 8)])
    third = affinity.translate(Polygon(upper * (2 * size - 1)), off, 0)
    return [Polygon(lower), Polygon(lower * size), third]


@pytest.mark.parametrize("turns", range(3))
def test_walls_through_one_line_are_refused(turns: int) -> None:
    assert turned(through_one_line(1.1, 0.0), turns) is None
    assert turned(through_one_line(1.1, 1e-13), turns) is None
    found = turned(through_one_line(1.1, 1e-9), turns)
    assert found is not None
    # a coordinate of 10 mm is rounded to 2e-15
    assert found.separation == pytest.approx(1e-9, abs=1e-14)


@pytest.mark.parametrize("turns", range(3))
def test_where_rounding_decides_it_decides_for_all_walls_or_there_is_no_result(turns: int) -> None:
    for size in np.arange(1.1, 2.0, 0.05).tolist():
        found = turned(through_one_line(size, 0.0), turns, 0.0)
        if found is not None:
            assert manifold(found.mesh)
            # from y to z to x: ∫ (z + 9)(8 size − z) over z from −9 to 8
            expected = (9 + 8 * size) * 17**2 / 2 - 17**3 / 3
            assert Solid.from_mesh(found.mesh).volume == pytest.approx(expected, rel=1e-12)


def test_faces_are_laid_flat_as_they_are(monkeypatch: pytest.MonkeyPatch) -> None:
    """Edges as long as in space, and each face on the left of them."""
    laid: list[tuple[FaceBoundary, np.ndarray, np.ndarray]] = []

    def noted(sides: list[ProfileBoundary], border: FaceBoundary, points: np.ndarray) -> np.ndarray:
        laid.append((border, points[border.start], _unrolled(sides, border, points)))
        return laid[-1][2]

    monkeypatch.setattr("silhouette3d.geometry.intersect_extrusions._unrolled", noted)
    other = Polygon([(-20, -21), (22, -19), (25, 23), (-18, 27)])
    assert turned([COMB, other, rect(-30, -31, 32, 33)], 0) is not None
    ((border, points, flat),) = laid
    after = border.next
    lengths = np.linalg.norm(points[after] - points, axis=1)
    assert np.linalg.norm(flat[after] - flat, axis=1) == pytest.approx(lengths, rel=1e-12)
    doubled = flat[:, 0] * flat[after, 1] - flat[:, 1] * flat[after, 0]
    assert (np.bincount(border.face, doubled)[np.unique(border.face)] > 0.0).all()


@pytest.mark.parametrize("turns", range(3))
def test_an_area_that_is_empty_leaves_nothing_to_come_near(turns: int) -> None:
    found = turned([Polygon(), rect(3, -60, 9, 60), rect(1, -70, 4, 70)], turns)
    assert found is not None
    assert found.mesh.vertices.shape == found.mesh.triangles.shape == found.drawn.shape == (0, 3)
    assert found.separation == found.clearance == float("inf")


@settings(max_examples=15)
@given(st.integers(0, 100_000))
def test_moved_walls_are_put_back(seed: int) -> None:
    """Points come to lie where the same walls meet as they were drawn."""
    drawn = random_areas(np.random.default_rng(seed))
    truth = intersect_extrusions(drawn, ROOM)
    assert truth is not None
    assume(min(truth.separation, truth.clearance) > 1e-4)  # else moved walls may meet otherwise
    moved = [shapely.buffer(area, -1e-7, join_style="mitre", mitre_limit=10.0) for area in drawn]
    found = intersect_extrusions(moved, ROOM, drawn, 1e-6)
    assert found is not None
    # coordinates up to 20 mm are rounded to 2e-15, and walls meet at 1e-4 radians and more
    off = np.asarray(KDTree(truth.mesh.vertices).query(found.drawn)[0])
    assert off.max(initial=0.0) < 1e-9
    back = Mesh(found.drawn, found.mesh.triangles)
    # such a distance over a surface of at most 500 mm²
    assert volume(back) == pytest.approx(volume(truth.mesh), abs=500 * 1e-9)
