"""Solids of three areas along the block's axes, built wall by wall.

The judges are the exact slices of `tests.oracles.slices`, which share no code with it,
and closed forms; the boolean engine only says whether a surface is closed.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, affinity

from silhouette3d.geometry.intersect_extrusions import intersect_extrusions
from silhouette3d.geometry.profile_boundary import DoubtfulError, FaceBoundary, triangulated
from silhouette3d.geometry.removal import areas_left
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.subtract import Carving
from tests.oracles.slices import Level, Sliced, lattice_polygon
from tests.support.meshes import manifold
from tests.support.shapes import disc, many, profile, rect
from tests.support.views import LEVEL

ROOM = 1e-12
"""mm. Nearer than this, rounding would decide; random outlines keep 1e-9 and more."""


def built(*areas: shapely.Geometry) -> Solid | None:
    found = intersect_extrusions(areas, ROOM)
    return None if found is None else Solid.from_mesh(found.mesh)


def test_a_box() -> None:
    """Sides of each area along the axes that follow its own: x from 1 to 4, y 2 to 7, z 3 to 9."""
    made = built(rect(2, -50, 7, 50), rect(3, -60, 9, 60), rect(1, -70, 4, 70))
    assert made is not None
    assert made.volume == pytest.approx(3 * 5 * 6, rel=1e-14)
    assert made.bounds.tolist() == [[1, 2, 3], [4, 7, 9]]
    assert manifold(made.mesh)


def test_two_cylinders_and_a_third() -> None:
    """Regular polygons of n sides instead of circles, the third area far outside.

    At each height both are as wide: the integral of the width squared, piece by piece.
    """
    n = 40
    t = 2 * math.pi * (np.arange(n) + 0.5) / n
    ring = 10 * np.column_stack([np.cos(t), np.sin(t)])
    other = ring + np.array([0.0, 1e-3])  # a little higher, so that no corners are level
    made = built(Polygon(ring), Polygon(other[:, ::-1]), rect(-20, -20, 20, 20))
    truth = Sliced(
        (40, 40, 40),
        [
            Level(LEVEL["front"][1], many(affinity.translate(Polygon(other), 20, 20))),
            Level(LEVEL["right"][1], many(affinity.translate(Polygon(ring), 20, 20))),
        ],
        [],
    )
    assert made is not None
    assert manifold(made.mesh)
    assert made.volume == pytest.approx(truth.measures[0], rel=1e-4)  # 1e-3 mm of 20 to one side
    assert len(made.bodies) == 1


def random_areas(rng: np.random.Generator) -> list[shapely.Geometry]:
    """Three polygons, sometimes with a hole, turned so that nothing is level."""
    areas = []
    for _ in range(3):
        area: shapely.Geometry = affinity.rotate(
            lattice_polygon(rng, 6, int(rng.integers(3, 9))), rng.uniform(0, 90)
        )
        if rng.random() < 0.5:
            inner = shapely.point_on_surface(area)
            hole = affinity.translate(disc(0, 0, 0.4, 7), *inner.coords[0])
            area = shapely.difference(area, affinity.rotate(hole, rng.uniform(0, 90)))
        areas.append(affinity.translate(area, *rng.uniform(-0.3, 0.3, 2)))
    return areas


@settings(max_examples=40)
@given(st.integers(0, 100_000))
def test_any_three_areas(seed: int) -> None:
    """Closed, and with the volume and the area of plain prisms intersected by the engine."""
    areas = random_areas(np.random.default_rng(seed))
    made = built(*areas)
    assert made is not None
    assert manifold(made.mesh)
    truth = plain(areas)
    assert made.volume == pytest.approx(truth.volume, rel=1e-9, abs=1e-9)
    assert made.surface_area == pytest.approx(truth.surface_area, rel=1e-6, abs=1e-6)
    assert len(made.bodies) == len(truth.bodies)


def plain(areas: list[shapely.Geometry]) -> Solid:
    """In general position the engine has nothing to guess either."""
    from silhouette3d.geometry.frames import view_along

    looks = [((-1, 0, 0), (0, 0, 1)), ((0, -1, 0), (1, 0, 0)), ((0, 0, -1), (0, 1, 0))]
    solids = [
        Solid.prism(many(area), view_along(look, up), (-40.0, 40.0))
        for area, (look, up) in zip(areas, looks, strict=True)
    ]
    return solids[0].intersection(solids[1]).intersection(solids[2]).without_flaps


def test_how_near_walls_come_is_told() -> None:
    """The tops of two areas are 0.25 apart, the necks of all are wider."""
    areas = rect(2, -50, 7, 9.25), rect(3, -60, 9, 60), rect(1, -70, 4, 70)
    found = intersect_extrusions(areas, ROOM)
    assert found is not None
    assert found.separation == pytest.approx(0.25, rel=1e-12)
    assert found.clearance == pytest.approx(3.0)


def test_an_area_whose_rings_touch_has_no_neck() -> None:
    """A hole with its tip in a corner or on a side of the outline, or 1.5 mm from it."""
    outline = [(0, 0), (20, 0), (20, 20), (0, 20)]
    for tip, clearance in (((0.0, 0.0), 0.0), ((10.0, 0.0), 0.0), ((10.0, 1.5), 1.5)):
        area = Polygon(outline, [[tip, (15, 10), (5, 12)]])
        found = intersect_extrusions([area, rect(-60, -50, 60, 50), rect(-30, -70, 40, 70)], ROOM)
        assert found is not None
        assert found.clearance == clearance


def test_areas_apart_leave_nothing() -> None:
    made = built(rect(2, 20, 7, 50), rect(3, -60, 9, 60), rect(1, -70, 4, 70))
    assert made is not None
    assert made.is_empty


def test_a_border_that_does_not_close_is_refused() -> None:
    face = np.zeros(3, np.int64)
    open_ = FaceBoundary(face, np.array([0, 1, 2]), np.array([1, 2, 3]))
    with pytest.raises(DoubtfulError):
        _ = open_.next
    twice = FaceBoundary(face, np.array([0, 0, 1]), np.array([1, 1, 0]))
    with pytest.raises(DoubtfulError):
        _ = twice.next


def test_a_face_of_two_edges_is_refused() -> None:
    """With a hole in its face it would reach the engine, which does not survive it."""
    around = np.array([0, 1, 2, 3, 4, 5])
    border = FaceBoundary(np.zeros(6, np.int64), around, np.array([1, 2, 3, 0, 5, 4]))
    flat = np.array([[0.0, 0], [9, 0], [9, 9], [0, 9], [3, 3], [6, 6]])
    with pytest.raises(DoubtfulError):
        triangulated(border, flat)


@pytest.mark.parametrize("along", ["x", "y", "z"])
def test_the_areas_of_a_bar(along: str) -> None:
    """Inside all three lies the bar itself; shrunk, one that is smaller on every side."""
    size = {"x": (40.0, 20.0, 20.0), "y": (20.0, 40.0, 20.0), "z": (20.0, 20.0, 40.0)}[along]
    bar = Stock(size, 20.0, along, 0.1)
    for shrink in (0.0, 0.5):
        areas = areas_left(bar, [], shrink)
        assert areas is not None
        made = built(*areas)
        assert made is not None
        share = ((20 - 2 * shrink) / 20) ** 2
        expected = Polygon(bar.section).area * share * (40 - 2 * shrink)
        assert made.volume == pytest.approx(expected, rel=1e-12)
        assert made.size == pytest.approx(np.array(size) - 2 * shrink, rel=1e-12)


def test_outlines_that_share_heights_are_put_back(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a boolean: the same step seen from three sides, level with the stock's faces."""
    from silhouette3d.process.cut import removal_of

    def refuse(*_: object) -> Solid:
        raise AssertionError("the engine was asked")

    monkeypatch.setattr(Solid, "minus", refuse)
    stock = Stock((40.0, 40.0, 40.0))
    step = Polygon([(0, 0), (40, 0), (40, 20), (20, 20), (20, 40), (0, 40)])
    removals = [removal_of(profile(v, step, stock), stock) for v in ("front", "right", "top")]
    made = Carving(stock, removals).less(range(3))
    # of eight cubes of 20 mm four stay: one in the corner and its three neighbours
    assert made.volume == pytest.approx(4 * 20**3, rel=1e-12)
    assert made.surface_area == pytest.approx(18 * 20**2, rel=1e-12)
    assert manifold(made.mesh)


def test_slanted_walls_are_put_back(monkeypatch: pytest.MonkeyPatch) -> None:
    """Slants that share heights, cut across by a third outline: no boolean, and no wall moved."""
    from silhouette3d.process.cut import removal_of

    def refuse(*_: object) -> Solid:
        raise AssertionError("the engine was asked")

    stock = Stock((40.0, 40.0, 40.0))
    front = Polygon([(0, 0), (40, 0), (30, 20), (10, 20)])
    right = Polygon([(0, 0), (40, 0), (35, 10), (25, 20), (15, 20), (5, 10)])
    top = Polygon([(9, 0), (40, 0), (40, 31), (31, 40), (0, 40), (0, 9)])
    monkeypatch.setattr(Solid, "minus", refuse)
    removals = [removal_of(profile("front", front, stock), stock)]
    removals.append(removal_of(profile("right", right, stock), stock))
    made = Carving(stock, removals).less(range(2))
    # ∫ (40 − z)(40 − z) from 0 to 10 and ∫ (40 − z)(50 − 2 z) from 10 to 20
    assert made.volume == pytest.approx(37000 / 3 + 15500 / 3, rel=1e-13)
    assert manifold(made.mesh)
    removals.append(removal_of(profile("top", top, stock), stock))
    cut = Carving(stock, removals).less(range(3))
    # of each corner at height z the triangle goes that 9 mm leave: 9 − z/2 − z/2 up to z = 9,
    # where z <= 10 and both walls have come in by z/2: ∫ (9 − z)² / 2 = 9³ / 6, twice
    assert cut.volume == pytest.approx(made.volume - 2 * 9**3 / 6, rel=1e-13)
    assert manifold(cut.mesh)


def crossed(area: shapely.Geometry, level: float, axis: int) -> list[tuple[float, float]]:
    """Where a line at a level of one coordinate crosses the border of an area.

    Also how far the border rises there for each mm along the line, 1 at most.
    """
    found = []
    for ring in shapely.get_rings(shapely.get_parts(area)):
        for one, two in pairwise(shapely.get_coordinates(ring)[:, [axis, 1 - axis]].tolist()):
            (up, across), (over, end) = one, two
            if (up < level) != (over < level):
                at = across + (level - up) / (over - up) * (end - across)
                found.append((at, min(1.0, abs(over - up) / max(abs(end - across), 1e-300))))
    return found


def turning_levels(area: shapely.Geometry, axis: int) -> np.ndarray:
    """Of corners whose neighbours are not one higher and one lower."""
    levels = []
    for ring in shapely.get_rings(shapely.get_parts(area)):
        along = shapely.get_coordinates(ring)[:-1, axis]
        before, after = np.roll(along, 1) - along, np.roll(along, -1) - along
        levels.append(along[before * after >= 0])
    return np.concatenate(levels)


PASSED_1 = Polygon([(0, 1), (30, 1.3), (33, 5 + 4e-9), (31, 9), (1, 8.7)])
TOP_1 = Polygon([(0, 1), (30, 1.3), (15, 5 + 4e-9)])
PASSED_2 = Polygon([(2, 0), (5 - 4e-9, -3), (8, 0.5), (7.5, 40), (2.25, 41)])
TOP_2 = Polygon([(2, 0), (5 - 4e-9, -3), (2.25, 41)])
"""Seen along y and z: a corner at x = 5 ± 4e-9 that the outline bends or ends at."""


@pytest.mark.parametrize(
    ("one", "two", "least"),
    [
        (PASSED_1, PASSED_2, 1.0),  # it turns at 1 and 9, the other at 2 and 8
        (TOP_1, PASSED_2, 1.0),
        (PASSED_1, TOP_2, 1.0),
        (TOP_1, TOP_2, 8e-9),
    ],
)
def test_a_level_that_an_outline_passes_is_nothing_to_hold(
    one: Polygon, two: Polygon, least: float
) -> None:
    found = intersect_extrusions([rect(-100, -101, 100, 102), one, two], ROOM)
    assert found is not None
    assert found.separation == pytest.approx(least, abs=1e-14)


def test_a_wall_that_hardly_rises_does_not_pass() -> None:
    """It may be meant to be level: then what lies on it comes or goes at once."""
    step = Polygon([(0, 1), (30, 1.3), (30, 5), (33, 5 + 5e-8), (33, 9), (1, 8.7)])
    found = intersect_extrusions([rect(-100, -101, 100, 102), step, TOP_2], ROOM)
    assert found is not None
    assert found.separation == pytest.approx(4e-9, abs=1e-14)


def test_outlines_that_bend_at_one_level() -> None:
    from silhouette3d.process.cut import removal_of

    stock = Stock((40.0, 40.0, 40.0))
    knee = 20 + 4e-9
    front = Polygon([(2, 1), (38, 1), (30, 20), (31, 39), (9, 39), (8, 20)])
    right = Polygon([(3, 2), (36, 2), (32, knee), (25, 38), (11, 38), (7, knee)])
    removals = [
        removal_of(profile(view, area, stock), stock)
        for view, area in (("front", front), ("right", right))
    ]
    made = Carving(stock, removals).less(range(2))

    def across(levels: list[float], widths: list[float], z: float) -> float:
        return float(np.interp(z, levels, widths))

    def slice_(z: float) -> float:
        return across([1, 20, 39], [36, 22, 22], z) * across([2, knee, 38], [33, 25, 14], z)

    # Simpson's rule is exact: between two levels the slice is a square of z at most
    levels = [2, 20, knee, 38]
    pieces = [
        (b - a) / 6 * (slice_(a) + 4 * slice_((a + b) / 2) + slice_(b)) for a, b in pairwise(levels)
    ]
    assert made.volume == pytest.approx(sum(pieces), rel=1e-13)
    assert manifold(made.mesh)


@settings(max_examples=15)
@given(st.integers(0, 100_000))
def test_how_near_corners_and_walls_come(seed: int) -> None:
    """Every corner line against every wall, every corner that turns against every such level."""
    areas = random_areas(np.random.default_rng(seed))
    found = intersect_extrusions(areas, ROOM)
    assert found is not None
    gaps = []
    for k in range(3):
        ahead, behind = areas[(k + 1) % 3], areas[(k + 2) % 3]  # (k + 2, k) and (k, k + 1)
        for first, second in shapely.get_coordinates(areas[k]):
            line = [(*place, 0) for place in crossed(ahead, second, 0)]
            line += [(*place, 1) for place in crossed(behind, first, 1)]
            for (at, rise, which), (then, other, that) in pairwise(sorted(line)):
                if which != that:
                    gaps.append((then - at) * min(rise, other))
        levels = turning_levels(ahead, 1), turning_levels(behind, 0)
        gaps += np.abs(levels[0][:, None] - levels[1]).ravel().tolist()
    # both round where lines cross to 1e-16 of 99 mm, a few times over where walls are steep
    assert found.separation == pytest.approx(min(gaps), abs=1e-11)


def test_uneven_slants_are_put_back(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same with nothing symmetrical: widths are straight between heights 0, 12 and 20."""
    from silhouette3d.process.cut import removal_of

    def refuse(*_: object) -> Solid:
        raise AssertionError("the engine was asked")

    stock = Stock((40.0, 40.0, 40.0))
    front = Polygon([(0, 0), (40, 0), (38, 20), (13, 20)])
    right = Polygon([(0, 0), (40, 0), (37, 12), (21, 20), (9, 20), (2, 12)])
    monkeypatch.setattr(Solid, "minus", refuse)
    removals = [
        removal_of(profile(view, area, stock), stock)
        for view, area in (("front", front), ("right", right))
    ]
    made = Carving(stock, removals).less(range(2))
    # Simpson's rule, exact for products of two straight widths
    low = 12 / 6 * (40 * 40 + 4 * 35.5 * 37.5 + 31 * 35)
    high = 8 / 6 * (31 * 35 + 4 * 28 * 23.5 + 25 * 12)
    assert made.volume == pytest.approx(low + high, rel=1e-13)
    assert manifold(made.mesh)
