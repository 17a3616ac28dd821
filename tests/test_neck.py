"""Necks of an outline, against closed forms and against a search that tries every pair."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon

from silhouette3d.measure.neck import Neck, thin_in_view
from silhouette3d.measure.thickness.terms import BETA
from silhouette3d.view import Array
from tests.shapes import disc, many, rect


def necks(area: shapely.Geometry, limit: float = 1.5) -> tuple[Neck, ...]:
    return thin_in_view(many(area), limit)


def test_a_plate_is_one_neck_as_long_as_itself() -> None:
    (neck,) = necks(rect(0, 0, 40, 1))
    assert neck.thickness == pytest.approx(1.0, abs=1e-12)
    assert neck.length == pytest.approx(40.0)
    assert abs(neck.p[1] - neck.q[1]) == pytest.approx(1.0)


@pytest.mark.parametrize(
    "area",
    [
        rect(0, 0, 10, 10),
        Polygon([(0, 0), (10, 0), (5, 5 * math.sqrt(3))]),
        Polygon([(0, 0), (10, 0), (10, 5), (5, 10), (0, 10)]),
        disc(0, 0, 5),
        Polygon([(0, 0), (20, 0), (20, 5), (10, 5), (10, 10), (0, 10)]),
        rect(0, 0, 20, 1.5),  # as thick as the limit is thick enough
    ],
    ids=["square", "triangle", "chamfer", "disc", "step", "at the limit"],
)
def test_ordinary_corners_do_not_alarm(area: Polygon) -> None:
    assert necks(area) == ()


_LOWER = [(0, 0), (9, 0), (10, 4.5), (11, 0), (20, 0)]
"""The lower side of a block with a V-notch 4.5 deep."""


def test_a_notch_facing_a_notch() -> None:
    waist = Polygon([*_LOWER, (20, 10), (11, 10), (10, 5.5), (9, 10), (0, 10)])
    (neck,) = necks(waist)
    assert neck.thickness == pytest.approx(1.0, abs=1e-12)
    assert neck.at == pytest.approx([10.0, 5.0])
    assert neck.length == pytest.approx(0.0, abs=1e-9)


def test_notches_that_miss_each_other() -> None:
    waist = Polygon([*_LOWER, (20, 10), (11.3, 10), (10.3, 5.5), (9.3, 10), (0, 10)])
    assert necks(waist)[0].thickness == pytest.approx(math.hypot(0.3, 1.0), abs=1e-12)


def test_a_hole_beside_the_edge() -> None:
    round_hole = rect(0, 0, 20, 20).difference(disc(5.6, 10, 5))
    square_hole = rect(0, 0, 20, 20).difference(rect(0.6, 5, 10, 15))
    assert necks(round_hole)[0].thickness == pytest.approx(0.6, abs=1e-12)  # a corner lies there
    assert necks(square_hole)[0].thickness == pytest.approx(0.6, abs=1e-12)


def test_a_comb_has_a_neck_for_every_tooth() -> None:
    teeth = [rect(4 * i, 4, 4 * i + 0.8, 20) for i in range(10)]
    found = necks(shapely.union_all([rect(0, 0, 40, 5), *teeth]))
    assert [neck.thickness for neck in found] == pytest.approx([0.8] * 10)


def test_a_bar_between_two_plates_is_the_neck_and_the_plates_are_not() -> None:
    area = shapely.union_all([rect(0, 0, 10, 10), rect(9, 4.25, 14, 5.75), rect(13, 0, 23, 10)])
    (neck,) = necks(area, 2.0)
    assert neck.thickness == pytest.approx(1.5)
    assert neck.length == pytest.approx(3.0)


def test_a_sharp_corner_is_no_neck_but_a_blunted_one_is() -> None:
    half = math.tan(math.radians(10.0))
    assert necks(Polygon([(0, 0), (20, -20 * half), (20, 20 * half)])) == ()
    at = 0.05 / half  # where the wedge is 0.1 wide
    blunt = Polygon([(at, -0.05), (20, -20 * half), (20, 20 * half), (at, 0.05)])
    # the circle that touches one side at the blunt corner and passes through the other corner
    assert necks(blunt)[0].thickness == pytest.approx(0.1 / math.cos(math.radians(10.0)), abs=1e-9)


def test_nothing_has_no_necks() -> None:
    assert thin_in_view(MultiPolygon(), 1.0) == ()


@given(st.floats(0.15, 1.4), st.floats(0.0, 180.0), st.floats(2.0, 9.0))
def test_a_neck_is_found_whichever_way_it_lies(thick: float, turn: float, long: float) -> None:
    half = thick / 2.0
    area = shapely.union_all(
        [rect(0, -5, 10, 5), rect(9, -half, 11 + long, half), rect(10 + long, -5, 20 + long, 5)]
    )
    turned = shapely.affinity.rotate(area, turn, origin=(3, 1))
    (neck,) = necks(turned)
    assert neck.thickness == pytest.approx(thick, rel=1e-6)


def brute(area: Polygon, limit: float) -> float:
    """The least width over all pairs of corners, and of corners and sides, that face each other."""
    ring = np.asarray(shapely.orient_polygons(area).exterior.coords)[:-1]
    following = np.roll(ring, -1, axis=0)
    along = (following - ring) / np.linalg.norm(following - ring, axis=1)[:, None]
    inward = np.column_stack([-along[:, 1], along[:, 0]])
    fans = [_fan(inward[i - 1], inward[i]) for i in range(len(ring))]
    best = math.inf
    for i, p in enumerate(ring):
        for j in range(len(ring)):
            for q, fan in ((ring[j], fans[j]), (_foot(p, ring[j], following[j]), [inward[j]])):
                size = math.dist(p, q)
                if not 1e-9 < size < limit:
                    continue
                way = (q - p) / size
                if max(_least(way, fans[i]), _least(-way, fan)) > BETA:
                    continue
                if area.buffer(1e-7).covers(shapely.LineString([p, q])):
                    best = min(best, size / math.cos(_least(way, fans[i])))
    return best


def _fan(first: Array, second: Array) -> list[Array]:
    """Normals at a corner: of both sides, and many between them where it is hollow."""
    if first[0] * second[1] - first[1] * second[0] >= 0.0:
        return [first, second]
    start, end = math.atan2(first[1], first[0]), math.atan2(second[1], second[0])
    end -= 2.0 * math.pi * (end > start)
    return [np.array([math.cos(t), math.sin(t)]) for t in np.linspace(start, end, 721)]


def _foot(p: Array, start: Array, end: Array) -> Array:
    along = end - start
    share = float(np.clip((p - start) @ along / (along @ along), 0.0, 1.0))
    return np.asarray(start + share * along)


def _least(way: Array, fan: list[Array]) -> float:
    return min(math.acos(float(np.clip(way @ normal, -1.0, 1.0))) for normal in fan)


@given(st.integers(0, 10_000))
def test_the_least_width_is_that_of_a_search_over_all_pairs(seed: int) -> None:
    # rectangles laid over one another: hollow corners of every angle, no sharp ones
    rng = np.random.default_rng(seed)
    parts = [
        shapely.affinity.rotate(rect(u, v, u + w, v + h), turn, origin=(u, v))
        for u, v, w, h, turn in rng.uniform([0, 0, 2, 2, 0], [5, 5, 7, 7, 90], (3, 5))
    ]
    area = shapely.union_all(parts)
    if not isinstance(area, Polygon) or area.interiors:
        return
    found = necks(area)
    expected = brute(area, 1.5 * (1.0 - 1e-4))
    least = found[0].thickness if found else math.inf
    # points along the sides can only find less; 721 normals to a fan miss at most a tenth degree
    assert least <= expected * (1.0 + 1e-5)
    if math.isfinite(least):
        assert math.dist(found[0].p, found[0].q) <= least * (1.0 + 1e-9)
        way = shapely.LineString([found[0].p, found[0].q])
        assert area.buffer(1e-6).covers(way)
