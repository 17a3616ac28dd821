"""Necks of an outline, in its own plane."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Polygon

from silhouette3d.geometry.frames import VIEWS
from silhouette3d.geometry.necks import Neck, thin_in_view
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.thickness.regions import thin_regions
from tests.support.shapes import SOUND, Area, disc, many, rect, turned

EXACT = 1e-9
"""Relative: a few hundred times the rounding of double precision."""


def joined(*areas: Area) -> MultiPolygon:
    return many(shapely.union_all(areas))


def less(area: Area, *holes: Area) -> MultiPolygon:
    return many(shapely.difference(area, shapely.union_all(holes)))


def sizes(necks: tuple[Neck, ...]) -> list[float]:
    return [neck.thickness for neck in necks]


FINS = [rect(3 * i, 0, 3 * i + 0.8, 20) for i in range(10)]
LOW = 0.05 + 5 * math.tan(math.radians(10))

KNOWN: dict[str, tuple[Area, float, list[float]]] = {
    "plate": (rect(0, 0, 40, 1), 1.5, [1.0]),
    "plate as thick as the limit": (rect(0, 0, 40, 1.5), 1.5, []),
    "tee": (joined(rect(0, 0, 30, 2), rect(14.4, 0, 15.6, 20)), 2.5, [1.2, 2.0]),
    "two squares and a bar": (
        joined(rect(0, 0, 10, 10), rect(10, 4.25, 13, 5.75), rect(13, 0, 23, 10)),
        2.0,
        [1.5],
    ),
    "comb": (joined(rect(0, 0, 30, 5), *FINS), 1.5, [0.8] * 10),
    "holes near a wall": (
        less(rect(0, 0, 20, 20), rect(0.6, 5, 5.6, 10), disc(14, 16.4, 3)),
        1.5,
        [0.6, 0.6],
    ),
    "waist": (
        Polygon(
            [(0, 0), (4, 0), (5, 4.5), (6, 0), (9, 0), (9, 10), (6, 10), (5, 5.5), (4, 10), (0, 10)]
        ),
        1.5,
        [1.0],
    ),
    "offset waist": (
        Polygon(
            [
                (0, 0),
                (2, 0),
                (5, 4.5),
                (8, 0),
                (10, 0),
                (10, 10),
                (8.3, 10),
                (5.3, 5.5),
                (2.3, 10),
                (0, 10),
            ]
        ),
        1.5,
        [math.hypot(1.0, 0.3)],
    ),
    "triangle": (Polygon([(0, 0), (1, 0), (0.5, math.sqrt(3) / 2)]), 1.5, [math.sqrt(3) / 2]),
    "blunt wedge": (
        Polygon([(0, LOW - 0.05), (5, 0), (5, 2 * LOW), (0, LOW + 0.05)]),
        1.5,
        [0.1 / math.cos(math.radians(10))],
    ),
    "small square": (rect(0, 0, 1, 1), 1.5, [1.0]),
    "fins nearer than linked chords": (
        joined(rect(0, 0, 20, 5), rect(9, 0, 9.7, 10), rect(9.9, 0, 10.6, 10)),
        1.5,
        [0.7, 0.7],
    ),
}


@pytest.mark.parametrize("name", KNOWN)
def test_known(name: str) -> None:
    area, limit, expected = KNOWN[name]
    assert sizes(thin_in_view(many(area), limit)) == pytest.approx(expected, rel=EXACT)


@pytest.mark.parametrize("name", KNOWN)
def test_turning_an_outline_does_not_change_it(name: str) -> None:
    area, limit, expected = KNOWN[name]
    oblique = shapely.transform(area, lambda p: np.array([turned(x, 37.0) for x in p.tolist()]))
    assert sizes(thin_in_view(many(oblique), limit)) == pytest.approx(expected, rel=1e-7)


ORDINARY = {
    "square": rect(0, 0, 10, 10),
    "octagon": disc(5, 5, 5, 8),
    "disc": disc(5, 5, 5, 256),
    "steps": many(SOUND["steps"].outlines["front"]),
    "mitre": Polygon([(0, 0), (10, 0), (10, 10), (5, 5)]),
    "wedge of 60 degrees": Polygon([(0, 0), (12, 0), (6, 12 * math.sin(math.radians(60)))]),
    "knife of 20 degrees": Polygon([(0, 0), (12, 0), (12, 12 * math.tan(math.radians(20)))]),
    "knife of 44 degrees": Polygon([(0, 0), (12, 0), (12, 12 * math.tan(math.radians(44)))]),
}


@pytest.mark.parametrize("name", ORDINARY)
def test_ordinary_outlines_have_no_neck(name: str) -> None:
    """Nor does a knife edge: the part has it too, and it is found there."""
    assert thin_in_view(many(ORDINARY[name]), 1.5) == ()


def test_where_it_is() -> None:
    (neck,) = thin_in_view(many(KNOWN["two squares and a bar"][0]), 2.0)
    np.testing.assert_allclose(neck.at, [11.5, 5.0])
    assert sorted([neck.p[1], neck.q[1]]) == pytest.approx([4.25, 5.75])
    assert neck.length == pytest.approx(3.0)
    with pytest.raises(ValueError, match="read-only"):
        neck.p[0] = 0.0


def test_squares_that_touch_in_a_point_have_no_neck() -> None:
    pair = MultiPolygon([rect(0, 0, 10, 10), rect(10, 10, 20, 20)])
    assert thin_in_view(pair, 1.5) == ()


def test_parts_of_an_outline_are_looked_at_together() -> None:
    pair = MultiPolygon([rect(0, 0, 10, 1), rect(0, 5, 10, 5.8)])
    assert sizes(thin_in_view(pair, 1.5)) == pytest.approx([0.8, 1.0])


@pytest.mark.parametrize("corners", [8, 64, 512])
def test_a_ring_is_one_neck(corners: int) -> None:
    ring = less(disc(10, 10, 10, corners), disc(10, 10, 9, corners))
    assert sizes(thin_in_view(ring, 1.5)) == pytest.approx([math.cos(math.pi / corners)], rel=1e-7)


def test_nothing_has_no_neck() -> None:
    assert thin_in_view(MultiPolygon(), 1.5) == ()


@pytest.mark.parametrize("limit", [0.0, -1.0, math.inf, math.nan])
def test_a_limit_must_be_a_length(limit: float) -> None:
    with pytest.raises(ValueError, match="is no limit"):
        thin_in_view(many(rect(0, 0, 1, 1)), limit)


def test_a_sharpened_plate_keeps_its_neck() -> None:
    (neck,) = thin_in_view(many(Polygon([(0, 0.5), (3, 0), (40, 0), (40, 1), (3, 1)])), 1.5)
    assert neck.thickness == pytest.approx(1.0)
    assert 30 < neck.length < 35


# Against the solid that is drawn from it: another search, over samples instead of pairs.


def slotted(random: np.random.Generator) -> MultiPolygon:
    """A plate with holes of all sorts, as near to each other and to the rim as it happens."""
    area: Area = rect(0, 0, 20, 14)
    for _ in range(int(random.integers(2, 6))):
        u, v, r = random.uniform(0, 20), random.uniform(0, 14), random.uniform(0.8, 3.0)
        hole: Area = disc(u, v, r, int(random.choice([4, 6, 8, 24])))
        if random.random() < 0.4:
            hole = rect(u - r, v - 0.3 * r, u + r, v + 0.3 * r)
        area = less(area, shapely.affinity.rotate(hole, random.uniform(0, 90)))
    return many(shapely.set_precision(area, 1e-4))


def sharpest(area: MultiPolygon) -> float:
    """The least angle of a corner, in degrees."""
    least = 360.0
    for part in area.geoms:
        for ring in (part.exterior, *part.interiors):
            points = np.asarray(ring.coords)[:-1]
            back, on = np.roll(points, 1, axis=0) - points, np.roll(points, -1, axis=0) - points
            cosine = (back * on).sum(axis=1) / np.linalg.norm(back, axis=1)
            least = min(least, math.degrees(math.acos(np.max(cosine / np.linalg.norm(on, axis=1)))))
    return least


def assert_like_the_solid(seed: int) -> int:
    area = slotted(np.random.default_rng(seed))
    if sharpest(area) < 50.0:  # knife edges have their own rules
        return 0
    flat = thin_in_view(area, 1.5)
    deep = thin_regions(Solid.prism(area, VIEWS["top"], (0.0, 6.0)), 1.5)
    assert bool(deep) == bool(flat)
    if flat:
        # the search in space closes in to within a few hundred thousandths
        assert flat[0].thickness == pytest.approx(deep[0].thickness, rel=1e-4)
    return len(flat)


def test_like_the_solid() -> None:
    assert sum(assert_like_the_solid(seed) for seed in range(40)) > 20


@pytest.mark.big
def test_like_the_solid_many_times() -> None:
    assert sum(assert_like_the_solid(seed) for seed in range(40, 640)) > 300
