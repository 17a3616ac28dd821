"""Thin places: what lies next to the cases of the literature, and what the functions promise."""

from __future__ import annotations

import math
import os
import tracemalloc
from itertools import pairwise

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Polygon

from silhouette3d.geometry.mesh import Mesh
from silhouette3d.geometry.solid import Solid, together
from silhouette3d.geometry.thickness import chords as chords_module
from silhouette3d.geometry.thickness import sampling as sampling_module
from silhouette3d.geometry.thickness.definition import SLACK, ThinRegion
from silhouette3d.geometry.thickness.regions import thickness_field, thin_regions
from tests.support.shapes import IN_PIECES, SOUND, Area, Shape, disc, many, rect
from tests.support.thin_shapes import FAMILIES, block, spike, triangular_bar, turned


def part(size: tuple[float, float, float], **outlines: Area) -> Solid:
    return Shape(size, outlines, 0.0, 0.0).solid


def joined(*areas: Area) -> MultiPolygon:
    return many(shapely.union_all(areas))


def kinds(regions: tuple[ThinRegion, ...]) -> list[str]:
    return [region.kind for region in regions]


# Next to the limit.


@pytest.mark.parametrize("above", [0.0, 1e-6, -0.5 * SLACK])
def test_a_wall_as_thick_as_the_limit_is_thick_enough(above: float) -> None:
    assert thin_regions(block(20, 20, 1.5 + above), 1.5) == ()


def test_a_wall_just_below_the_limit_is_thin() -> None:
    (region,) = thin_regions(block(20, 20, 1.5 - 2 * SLACK), 1.5)
    assert region.thickness == pytest.approx(1.5 - 2 * SLACK)


def test_slack_follows_small_limits() -> None:
    assert len(thin_regions(block(1e-3, 1e-3, 0.9e-4), 1e-4)) == 1


def test_a_mitre_is_no_knife_edge() -> None:
    """45 degrees, as drawn every day; 44 is a knife."""
    for angle, found in ((45.0, []), (44.01, []), (44.0, ["knife"]), (43.9, ["knife"])):
        high = 12 * math.tan(math.radians(angle))
        outline = Polygon([(0, 0), (12, 0), (12, high), (6, high), (6 - 6 / 50, high * 0.49)])
        outline = Polygon([(0, 0), (12, 0), (12, high)])
        blunt = shapely.intersection(outline, rect(0, 0, 9, high))
        assert kinds(thin_regions(part((12, 8, high), front=many(blunt)), 1.5)) == found


@pytest.mark.parametrize("name", ["corner cubes", "two cubes"])
def test_cubes_that_touch_are_not_thin(name: str) -> None:
    """Touching is another check's business: no ball sits between walls that do not face."""
    for limit in (1.5, 7.9):
        assert thin_regions(IN_PIECES[name].solid, limit) == ()


@pytest.mark.parametrize("gap", [0.0, 1e-6, 0.01])
def test_coincident_and_nearly_coincident_faces(gap: float) -> None:
    """A block of two steps whose heights are the same, or differ by a hair."""
    front = joined(rect(0, 0, 10, 10), rect(10, 0, 20, 10 - gap))
    right = joined(rect(0, 0, 10, 10), rect(10, 0, 20, 10 - gap / 2))
    assert thin_regions(part((20, 20, 10), front=front, right=right), 3.0) == ()


def test_nothing_is_not_thin() -> None:
    empty = Solid.prism(MultiPolygon(), next(iter(SOUND["plate"].profiles)).view, (0, 1))
    assert thin_regions(empty, 1.5) == ()
    points, triangle, thickness = thickness_field(empty, 1.5)
    assert points.shape == (0, 3)
    assert len(triangle) == len(thickness) == 0


@pytest.mark.parametrize("third", [(2.0, 0.0, 0.0), (2.0, 3.0, 0.0)], ids=["line", "flap"])
def test_bodies_of_no_thickness_do_not_stop_the_check(third: tuple[float, float, float]) -> None:
    """Two triangles back to back, of no area or of no volume: there is no material in between."""
    vertices = np.array([(0.0, 0.0, 0.0), (1.0, 0.0, 0.0), third])
    flat = Solid.from_mesh(Mesh(vertices, np.array([[0, 1, 2], [0, 2, 1]])))
    assert [region.thickness for region in thin_regions(flat, 1.5) if region.kind == "wall"] == []
    assert (thickness_field(flat, 1.5)[2] == 1.5).all()


# What is one place, and what is two.


def test_arms_of_an_angle_are_two_places() -> None:
    ell = joined(rect(0, 0, 20, 1.0), rect(0, 0, 1.2, 20))
    found = thin_regions(part((20, 10, 20), front=ell), 1.5)
    assert [region.thickness for region in found] == pytest.approx([1.0, 1.2])


@pytest.mark.parametrize("corners", [16, 256])
def test_a_tube_is_one_place(corners: int) -> None:
    ring = many(shapely.difference(disc(10, 10, 10, corners), disc(10, 10, 9, corners)))
    (region,) = thin_regions(part((20, 20, 8), top=ring), 1.5)
    assert region.thickness == pytest.approx(math.cos(math.pi / corners), rel=1e-6)
    # of a short piece of the rim the middle is sampled: its sagitta is 7.5e-4 at 256 corners
    np.testing.assert_allclose(region.extent, [20, 20, 8], atol=1e-3)


def test_a_narrow_tube_is_one_place() -> None:
    """So tight that midpoints across it do not see each other."""
    ring = many(shapely.difference(disc(0.4, 0.4, 0.4, 32), disc(0.4, 0.4, 0.3, 32)))
    (region,) = thin_regions(part((0.8, 0.8, 8), top=ring), 1.5)
    assert region.thickness == pytest.approx(0.1 * math.cos(math.pi / 32), rel=1e-6)


def test_fins_nearer_than_linked_chords_are_two_places() -> None:
    """Their midpoints, 0.9 apart, see each other under the bottom of the slot."""
    fins = joined(rect(0, 0, 20, 5), rect(9, 0, 9.7, 10), rect(9.9, 0, 10.6, 10))
    found = thin_regions(part((20, 10, 10), front=fins), 1.5)
    assert [region.thickness for region in found] == pytest.approx([0.7, 0.7])
    assert [region.at[0] for region in found] == pytest.approx([9.35, 10.25])


def test_a_thin_cube_is_one_place() -> None:
    (region,) = thin_regions(block(1, 1, 1), 1.5)
    assert region.thickness == pytest.approx(1.0)
    assert region.area == pytest.approx(6.0)


def test_a_long_thin_wire_is_one_place() -> None:
    (region,) = thin_regions(block(60, 0.05, 0.05), 1.5)
    assert region.thickness == pytest.approx(0.05)
    assert region.extent[0] == pytest.approx(60, abs=1e-4)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("thickness", [0.164, 0.05])
def test_a_bar_much_thinner_than_samples_are_apart_is_one_place(
    thickness: float, seed: int
) -> None:
    """Of triangular section: a sample of its walls sees the edge opposite only by luck."""
    random = np.random.default_rng(seed)
    (region,) = thin_regions(turned(triangular_bar(thickness, random), random), 1.5)
    assert region.thickness == pytest.approx(thickness)


@pytest.mark.parametrize("corners", [64, 700])
def test_a_way_through_the_open_is_no_section(corners: int) -> None:
    """Two holes through a curved wall: from rim to rim on its hollow side there is no material."""
    ring = shapely.difference(disc(30, 30, 28, corners), disc(30, 30, 27, corners))
    holes = joined(disc(25, 20, 4.6, corners // 4), disc(35, 20, 4.6, corners // 4))
    front = many(shapely.difference(rect(0, 0, 60, 40), holes))
    found = thin_regions(part((60, 60, 40), top=many(ring), front=front), 1.5)
    # walls of the ring and webs between the holes hang together; front, and back
    assert len([region for region in found if region.kind == "wall"]) == 1
    assert min(region.area for region in found) > 1.0


# Knife edges.


def test_a_sharpened_plate_is_a_wall_and_a_knife_edge() -> None:
    blade = Polygon([(0, 0.5), (3, 0), (40, 0), (40, 1), (3, 1)])
    knife, wall = thin_regions(part((40, 10, 1), front=blade), 1.5)
    assert knife.angle == pytest.approx(2 * math.degrees(math.atan(0.5 / 3)))
    assert (knife.kind, wall.kind) == ("knife", "wall")
    assert wall.thickness == pytest.approx(1.0)
    # as far from the edge as a wedge of half the thickness would reach: about twice 3 mm
    assert wall.low[0] == pytest.approx(6.0, abs=0.5)


def test_a_short_steep_edge_leaves_its_plate_a_wall() -> None:
    blade = Polygon([(0, 0), (0.45, 0.4), (20, 0.4), (20, 0)])
    knife, wall = thin_regions(part((20, 10, 0.4), front=blade), 1.5)
    assert knife.angle == pytest.approx(math.degrees(math.atan(0.4 / 0.45)))
    assert wall.thickness == pytest.approx(0.4)


def test_a_lens_has_two_knife_edges_and_no_wall() -> None:
    """Two arcs: the sides near the edge are not flat, and belong to it all the same."""
    radius, half = 30.0, math.radians(10)
    t = np.linspace(-half, half, 33)
    lower = np.column_stack([radius * np.sin(t), radius * (math.cos(half) - np.cos(t))])
    outline = Polygon(np.concatenate([lower, -lower[1:-1]]) - lower.min(axis=0))
    size = outline.bounds
    found = thin_regions(part((size[2], 10, size[3]), front=outline), 1.5)
    assert kinds(found) == ["knife", "knife"]
    for region in found:
        assert region.angle == pytest.approx(20.0 - math.degrees(half) / 16, abs=0.7)
        assert region.length == pytest.approx(10.0)


def test_a_slope_that_ends_in_a_knife_edge_belongs_to_it() -> None:
    """30 degrees at first, then 4: further from the edge than half a wedge, but ever thicker."""
    one, two = math.tan(math.radians(15)), math.tan(math.radians(2))
    heights = [one, one + 11 * two]
    outline = Polygon(
        [(0, 0), (1, -heights[0]), (12, -heights[1]), (12, heights[1]), (1, heights[0])]
    )
    outline = shapely.transform(outline, lambda p: p + np.array([0.0, heights[1]]))
    (region,) = thin_regions(part((12, 10, 2 * heights[1]), front=outline), 1.1)
    assert region.kind == "knife"
    assert region.extent[0] > 9.0


def test_beyond_its_end_a_knife_edge_goes_on_blunt() -> None:
    """The edge is cut off at a slant, so that its walls part slowly from there on."""
    half = 12 * math.tan(math.radians(15))
    outline = Polygon([(0, half), (12, 0), (12, 2 * half)])
    cut = Polygon([(0, 0), (12, 0), (12, 12), (1, 12), (0, 8)])
    (region,) = thin_regions(part((12, 12, 2 * half), front=outline, top=cut), 1.5)
    assert region.kind == "knife"
    assert region.length == pytest.approx(8.0)


def test_knife_edges_that_meet_at_a_corner_are_one_each() -> None:
    """A plate bevelled along two sides: two edges, square to each other."""
    bevel = Polygon([(0, 0), (20, 0), (20, 2), (4, 2)])
    found = thin_regions(part((20, 20, 2), front=bevel, left=bevel), 1.0)
    assert kinds(found) == ["knife", "knife"]
    assert [region.length for region in found] == pytest.approx([20.0, 20.0])


def test_a_curved_knife_edge_is_one() -> None:
    """A slanted cut through a round bar: sharpest where the cut is steepest, 44 at both ends."""
    slant = Polygon([(0, 0), (20, 0), (20, 60)])
    (region,) = thin_regions(part((20, 20, 60), top=disc(10, 10, 10, 256), right=slant), 1.0)
    assert region.kind == "knife"
    assert region.angle == pytest.approx(math.degrees(math.atan(1 / 3)), abs=0.1)
    np.testing.assert_allclose(region.p, [10, 20, 60], atol=0.3)
    # the wall turns by a from the steepest place until cos a sin(atan 3) = cos 44
    turn = math.acos(math.cos(math.radians(44)) / math.sin(math.atan(3)))
    assert region.extent[0] == pytest.approx(2 * 10 * math.sin(turn), abs=0.5)


# Corners.


def test_two_mitres_that_run_into_one_corner_are_ordinary() -> None:
    """The wall below and the edge between them part by 35 degrees, the walls by 45 or more."""
    mitre = Polygon([(0, 0), (12, 0), (0, 12)])
    solid = part((12, 12, 12), right=mitre, top=mitre)
    assert thin_regions(solid, 1.5) == ()
    assert thickness_field(solid, 1.5)[2].min() < 0.5  # by the letter of the definition


@pytest.mark.parametrize(("slant", "found"), [(32, 0), (28, 0), (20, 0), (16, 0), (14, 1), (5, 1)])
def test_of_three_walls_only_a_needle_counts(slant: float, found: int) -> None:
    """Wall and edge opposite part by slant + atan(tan(slant) / 2): 22 degrees at 14.6."""
    regions = thin_regions(spike((0, 0, 0), 3, slant, above=True), 1.0)
    assert {region.kind for region in regions} <= {"wall"}
    assert bool(regions) == bool(found)


@pytest.mark.parametrize("sides", [4, 6, 16])
@pytest.mark.parametrize(("angle", "found"), [(60, 0), (46, 0), (42, 1), (30, 1), (20, 1), (10, 1)])
def test_the_tip_of_a_pyramid_counts_if_its_walls_face_each_other(
    sides: int, angle: float, found: int
) -> None:
    """`angle` is between opposite walls."""
    across = math.tan(math.radians(angle / 2)) / math.cos(math.pi / sides)
    solid = spike((0, 0, 0), sides, math.degrees(math.atan(across)), above=True)
    regions = thin_regions(solid, 1.5)
    assert kinds(regions) == ["wall"] * found
    for region in regions:
        # down to nothing; the search ends where it can no longer tell
        assert region.thickness < 0.01
        np.testing.assert_allclose(region.at, 0.0, atol=0.05)


# Promises.


def test_regions_come_thinnest_first() -> None:
    fins = [rect(4 * i, 0, 4 * i + 0.5 + 0.1 * ((7 * i) % 5), 10) for i in range(5)]
    found = thin_regions(part((20, 5, 10), front=joined(rect(0, 0, 20, 4), *fins)), 1.5)
    sizes = [region.thickness for region in found]
    assert sizes == pytest.approx([0.5, 0.6, 0.7, 0.8, 0.9])
    assert all(a <= b for a, b in pairwise(sizes))


def test_the_same_every_time() -> None:
    random = np.random.default_rng(3)
    solid = turned(FAMILIES["tip to tip"](0.8, random), random)
    first, second = (thin_regions(solid, 1.5) for _ in range(2))
    for one, two in zip(first, second, strict=True):
        assert one.thickness == two.thickness
        for values in ("p", "q", "low", "high"):
            np.testing.assert_array_equal(getattr(one, values), getattr(two, values))


def test_regions_cannot_be_changed() -> None:
    (region,) = thin_regions(block(10, 10, 1), 1.5)
    with pytest.raises(ValueError, match="read-only"):
        region.p[0] = 1.0
    np.testing.assert_allclose(region.at, (region.p + region.q) / 2)
    np.testing.assert_allclose(region.extent, region.high - region.low)


@pytest.mark.parametrize("limit", [0.0, -1.0, math.inf, math.nan])
def test_a_limit_must_be_a_length(limit: float) -> None:
    for ask in (thin_regions, thickness_field):
        with pytest.raises(ValueError, match="is no limit"):
            ask(block(1, 1, 1), limit)


def test_progress_reaches_its_end(monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[tuple[int, int]] = []
    thin_regions(block(80, 80, 40), 1.0, progress=lambda *done: told.append(done))
    assert told == sorted(told)
    assert len(told) > 1
    assert told[-1][0] == told[-1][1]


def test_very_many_thin_chords_are_gathered(monkeypatch: pytest.MonkeyPatch) -> None:
    """Memory stays bounded; the result is the same, but for the resolution of the box."""
    monkeypatch.setattr(chords_module, "MOST", 4000)
    fins = joined(rect(0, 0, 40, 2), *(rect(8 * i, 0, 8 * i + 1, 30) for i in range(5)))
    found = thin_regions(part((40, 40, 30), front=fins), 1.5)
    assert [region.thickness for region in found] == pytest.approx([1.0] * 5)
    assert [region.area for region in found] == pytest.approx([2 * 40 * 28] * 5, rel=0.01)


def test_memory_does_not_grow_with_samples(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a thick block: four times the samples, piece by piece, take as much memory."""
    monkeypatch.setattr(sampling_module, "_AT_ONCE", 2000)
    monkeypatch.setattr(os, "cpu_count", lambda: 1)
    peaks = []
    for limit in (0.8, 0.8, 0.4):  # once to warm up
        tracemalloc.start()
        assert thin_regions(block(20, 20, 20), limit) == ()
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[2] < 1.5 * peaks[1]  # rims are sampled at once, and are twice as many


def test_the_field_covers_every_triangle() -> None:
    solid = SOUND["comb"].solid
    points, triangle, thickness = thickness_field(solid, 8.0)
    assert set(triangle) == set(range(len(solid.mesh.triangles)))
    corners = solid.mesh.corners[triangle]
    normal = solid.mesh.area_vectors[triangle]
    away = np.einsum("ij,ij->i", points - corners[:, 0], normal)
    np.testing.assert_allclose(away / np.linalg.norm(normal, axis=1), 0.0, atol=1e-9)
    assert thickness.max() == 8.0
    assert thickness.min() == pytest.approx(6.0)


def test_several_bodies_are_looked_at_together() -> None:
    moved = block(10, 10, 0.8).mapped(np.column_stack([np.eye(3), [0, 0, 5]]))
    found = thin_regions(together([block(10, 10, 1), moved]), 1.5)
    assert [region.thickness for region in found] == pytest.approx([0.8, 1.0])


@pytest.mark.parametrize("name", SOUND)
def test_turning_a_part_does_not_change_it(name: str) -> None:
    """The whole way in a frame in which no wall lies along an axis."""
    solid, limit = SOUND[name].solid, 6.5
    here = thin_regions(solid, limit)
    there = thin_regions(turned(solid, np.random.default_rng(11)), limit)
    assert kinds(here) == kinds(there)
    sizes = [[region.thickness for region in some] for some in (here, there)]
    assert sizes[0] == pytest.approx(sizes[1], rel=1e-5, abs=1e-5)


def test_slivers_have_no_say() -> None:
    """A wall with a vertex on its border, and a triangle of no height beside it."""
    cube = block(10, 10, 10).mesh
    a, b = (np.nonzero((cube.vertices == p).all(axis=1))[0][0] for p in ([0, 0, 0], [10, 0, 0]))
    vertices = np.concatenate([cube.vertices, [[5.0, 0.0, 0.0]]])
    new, triangles = len(cube.vertices), []
    for triangle in cube.triangles.tolist():
        k = next((k for k in range(3) if {triangle[k], triangle[(k + 1) % 3]} == {a, b}), None)
        one, two, three = (triangle[((k or 0) + j) % 3] for j in range(3))
        if k is None:
            triangles.append(triangle)
        elif not any(new in t for t in triangles):
            triangles += [[one, new, three], [new, two, three]]
        else:
            triangles += [triangle, [two, one, new]]
    mesh = Mesh(vertices, np.array(triangles))
    assert (np.linalg.norm(mesh.area_vectors, axis=1) == 0.0).sum() == 1
    assert Solid.from_mesh(mesh).volume == pytest.approx(1000.0)
    for limit in (1.5, 9.9):
        assert thin_regions(Solid.from_mesh(mesh), limit) == ()
    (region,) = thin_regions(Solid.from_mesh(mesh), 10.5)
    assert region.thickness == pytest.approx(10.0)
