"""Faces filled with triangles: which ones, and that they fill each face exactly."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

from silhouette3d.geometry.profile_boundary import DoubtfulError, FaceBoundary, triangulated
from tests.oracles.slices import lattice_polygon
from tests.support.shapes import disc, rect

Ring = list[tuple[float, float]]
Triangles = list[list[int]]


def filled(faces: list[tuple[int, list[Ring]]]) -> tuple[np.ndarray, Triangles]:
    """Places and triangles of faces given as (number, loops), points numbered as they come."""
    number, start, end = [], [], []
    flat: Ring = []
    for face, rings in faces:
        for ring in rings:
            points = list(range(len(flat), len(flat) + len(ring)))
            number += [face] * len(ring)
            start += points
            end += [*points[1:], points[0]]
            flat += ring
    border = FaceBoundary(np.array(number), np.array(start), np.array(end))
    places = np.array(flat, float)
    return places, triangulated(border, places).tolist()


def loops(area: Polygon) -> list[Ring]:
    """The outer one counter-clockwise, holes clockwise."""
    rings = shapely.get_rings(shapely.orient_polygons(area))
    return [[(x, y) for x, y in ring.coords[:-1]] for ring in rings]


def fan(apex: int, corners: int) -> set[tuple[int, ...]]:
    others = [(apex + i) % corners for i in range(1, corners)]
    return {tuple(sorted((apex, *two))) for two in pairwise(others)}


def sets(triangles: Triangles) -> set[tuple[int, ...]]:
    return {tuple(sorted(t)) for t in triangles}


@pytest.mark.parametrize("first", range(4))
def test_of_two_diagonals_the_one_with_the_larger_rest(first: int) -> None:
    """One leaves triangles of 5 and 55 mm², the other of 10 and 50 mm²."""
    ring = [(0.0, 0.0), (10.0, 0.0), (11.0, 1.0), (0.0, 10.0)]
    _, triangles = filled([(0, [ring[first:] + ring[:first]])])
    assert sets(triangles) == fan((1 - first) % 4, 4)


@pytest.mark.parametrize("size", [10.0, 1e-3])
@pytest.mark.parametrize("corners", range(5, 9))
def test_short_loops_are_fans_from_their_best_corner(corners: int, size: float) -> None:
    """A sector: from its tip all triangles are alike, from elsewhere some are thinner."""
    t = np.linspace(0.0, np.pi / 2, corners - 1)
    ring = [(0.0, 0.0), *zip(size * np.cos(t), size * np.sin(t), strict=True)]
    for first in range(corners):
        _, triangles = filled([(0, [ring[first:] + ring[:first]])])
        assert sets(triangles) == fan(-first % corners, corners)


def check(faces: list[tuple[int, Polygon]]) -> None:
    """Triangles have their corners on one face, fill its area, and border what it borders."""
    places, triangles = filled([(face, loops(area)) for face, area in faces])
    ends = np.cumsum([0, *(sum(map(len, loops(area))) for _, area in faces)])
    of = np.searchsorted(ends, np.array(triangles), side="right") - 1
    assert (of == of[:, :1]).all()
    corners = places[triangles]
    one, two = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    areas = (one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]) / 2
    assert areas.min() >= 0.0
    expected = [area.area for _, area in faces]
    # sums of some twenty products of numbers up to 10
    assert np.bincount(of[:, 0], areas) == pytest.approx(expected, abs=1e-12)
    edges = Counter((t[i], t[(i + 1) % 3]) for t in triangles for i in range(3))
    once = {edge for edge, n in edges.items() if not edges[edge[1], edge[0]]}
    assert max(edges.values()) == 1
    assert len(once) == ends[-1]


def test_a_short_loop_that_winds_is_filled_too() -> None:
    """From no corner all others are seen: two bars, one above the other, and a stem between."""
    winding = Polygon([(0, 0), (2, 0), (2, 3), (3, 3), (3, 4), (1, 4), (1, 1), (0, 1)])
    check([(0, disc(0, 0, 4.0, 8)), (1, winding), (2, disc(9, 0, 4.0, 8))])


@pytest.mark.parametrize("frame", range(3))
@pytest.mark.parametrize("after", range(3))
def test_a_long_loop_is_not_taken_for_another_faces(frame: int, after: int) -> None:
    """It comes first, second or third, and the face in the same place has a hole."""
    pierced = Polygon(rect(-5, -5, 5, 5).exterior, [rect(-2, -2, 2, 2).exterior])
    long = [(k + 3, disc(k / 10, 0, 4.0, 9)) for k in range(3)]
    check([*long[:after], (frame, pierced), *long[after:]])


def test_a_single_edge_does_not_close() -> None:
    zero, one = np.zeros(1, np.int64), np.ones(1, np.int64)
    with pytest.raises(DoubtfulError):
        _ = FaceBoundary(zero, zero, one).next


def test_no_border_no_triangles() -> None:
    none = np.empty(0, np.int64)
    assert triangulated(FaceBoundary(none, none, none), np.empty((0, 2))).shape == (0, 3)


def test_a_loop_that_every_fan_leaves_a_flat_triangle_of_is_parted_otherwise() -> None:
    """A triangle with two more points on each of two sides."""
    ring = [(0.0, 0.0), (1.0, 0.0), (2.0, 0.0), (3.0, 0.0), (3.0, 1.0), (3.0, 2.0), (3.0, 3.0)]
    places, triangles = filled([(0, [ring])])
    assert len(triangles) == 5
    assert min(Polygon(places[t]).area for t in triangles) > 0.1


@settings(max_examples=40)
@given(st.integers(0, 100_000))
def test_any_faces(seed: int) -> None:
    rng = np.random.default_rng(seed)
    faces = []
    for face in rng.permutation(5).tolist():
        area: shapely.Geometry = lattice_polygon(rng, 6, int(rng.integers(3, 12)))
        if rng.random() < 0.5:
            x, y = shapely.point_on_surface(area).coords[0]
            area = shapely.difference(area, disc(x, y, 0.2, int(rng.integers(3, 9))))
        faces += [(face, part) for part in shapely.get_parts(area)]
    check(faces)
