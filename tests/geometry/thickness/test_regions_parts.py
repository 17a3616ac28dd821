"""The pieces the search for thin places is made of, each on its own."""

from __future__ import annotations

import math
import subprocess
import sys
from typing import Any

import numba
import numpy as np
import pytest

from silhouette3d.geometry import machine_code as compiled_module
from silhouette3d.geometry.machine_code import compiled, is_kept
from silhouette3d.geometry.mesh import Mesh
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.thickness import regions
from silhouette3d.geometry.thickness.ball_search import are_clear, smallest_balls, walls_at
from silhouette3d.geometry.thickness.bvh import Tree, scene_of, tree_of, triangle_pieces
from silhouette3d.geometry.thickness.chords import chords_of
from silhouette3d.geometry.thickness.regions import thin_regions
from silhouette3d.geometry.thickness.sampling import (
    WallSamples,
    acute_samples,
    edge_samples,
    rim_samples,
    surface_of,
    tip_samples,
)
from tests.guard.imports import ROOT
from tests.support.shapes import SOUND, Shape, disc, many, notched
from tests.support.thin_shapes import block, groove, prism, spike, turned

RANDOM = 7
NO_EDGE = np.array([-1])


def notch() -> Mesh:
    """A V-groove of 60 degrees in a block."""
    return block(16, 8, 10).minus(groove((8, 4), 30, above=True)).mesh


# The surface.


def test_edges_of_a_cube_are_convex_and_square() -> None:
    edges = surface_of(block(2, 3, 4).mesh).edges
    assert sorted(edges.length.round(9)) == [2.0] * 4 + [3.0] * 4 + [4.0] * 4
    assert edges.convex.all()
    np.testing.assert_allclose(np.degrees(edges.dihedral), 90.0)
    np.testing.assert_allclose(np.linalg.norm(edges.middle, axis=1), 1.0)


def test_the_bottom_of_a_groove_is_concave() -> None:
    edges = surface_of(notch()).edges
    (bottom,) = np.nonzero(~edges.convex)[0]
    assert edges.length[bottom] == pytest.approx(8.0)
    assert math.degrees(edges.dihedral[bottom]) == pytest.approx(300.0)
    np.testing.assert_allclose(np.abs(edges.along[bottom]), [0, 1, 0], atol=1e-12)
    np.testing.assert_allclose(edges.middle[bottom], [0, 0, 1], atol=1e-12)


def test_corners_are_convex_or_tips() -> None:
    corners = surface_of(block(12, 12, 8).minus(spike((6, 6, 3), 5, 25, above=True)).mesh).points
    (tip,) = np.nonzero(corners.sign < 0)[0]
    np.testing.assert_allclose(corners.point[tip], [6, 6, 3])
    np.testing.assert_allclose(corners.axis[tip], [0, 0, 1], atol=1e-12)
    # the walls of the spike are 25 degrees or less off its axis, their normals 65 or more
    assert math.degrees(corners.spread[tip]) > 65.0
    assert (corners.sign > 0).sum() == 8  # of the block; its rim with the spike is of both kinds


# Samples.


@pytest.mark.parametrize("h", [0.3, 1.0, 50.0])
def test_samples_stand_for_the_whole_surface(h: float) -> None:
    surface = surface_of(SOUND["comb"].solid.mesh)
    samples = WallSamples(surface, h)
    lots = [samples[k] for k in range(len(samples))]
    assert sum(lot.area.sum() for lot in lots) == pytest.approx(SOUND["comb"].area)
    assert sum(map(len, lots)) == samples.total
    assert {*np.concatenate([lot.triangle for lot in lots])} == {*range(len(surface.area))}
    scene = scene_of(surface, 1.0)
    for lot in lots:  # each lies on the wall it says
        found = walls_at(scene, lot.points, lot.inward)
        np.testing.assert_allclose(surface.normal[found], -lot.inward)


def test_no_place_of_a_wall_is_far_from_a_sample() -> None:
    """A disc of three spacings is never empty: chords link as far."""
    h = 0.5
    samples = WallSamples(surface_of(block(20, 20, 20).mesh), h)
    points = np.concatenate([samples[k].points for k in range(len(samples))])
    top = points[points[:, 2] > 20 - 1e-9]
    for centre in np.random.default_rng(RANDOM).uniform(1, 19, (200, 2)):
        assert np.linalg.norm(top[:, :2] - centre, axis=1).min() < 1.5 * h


def test_acute_edges_are_sampled_between_their_walls() -> None:
    """Of 60 degrees: the normals are 40 and 80 of 120 degrees on the way; of 90: none."""
    bar = surface_of(prism([(0, 0), (1, 0), (0.5, math.sqrt(3) / 2)], 6).mesh).edges
    samples = acute_samples(bar, 2.0)
    assert len(samples) == 3 * 3 * 2
    walls = np.concatenate([bar.left, bar.right])
    walls = walls[np.abs(walls[:, 1]) < 0.5]
    off = np.degrees(np.arccos(-samples.inward @ walls.T))
    assert {*np.sort(off, axis=1)[:, 0].round(6)} == {40.0}
    assert len(acute_samples(surface_of(block(2, 2, 2).mesh).edges, 1.0)) == 0


def test_fans_of_a_groove() -> None:
    """Two flanks 120 degrees apart: every 15 degrees, both ends included."""
    samples = edge_samples(surface_of(notch()).edges, 1.0)
    first = samples.inward[samples.points[:, 1] == samples.points[:, 1].min()]
    angles = np.sort(np.degrees(np.arctan2(first[:, 0], -first[:, 2])))
    np.testing.assert_allclose(angles, np.arange(-60, 61, 15), atol=1e-9)
    assert len(samples) == 8 * 9


def test_rims_are_sampled_with_both_walls() -> None:
    samples = rim_samples(surface_of(block(4, 4, 4).mesh), 1.0)
    assert len(samples) == 12 * 2 * 5
    np.testing.assert_allclose(np.abs(samples.inward).max(axis=1), 1.0)
    assert np.abs(samples.points - np.round(samples.points)).max() < 1e-6


def test_tips_have_normals_around_their_axis() -> None:
    surface = surface_of(block(12, 12, 8).minus(spike((6, 6, 3), 4, 25, above=True)).mesh)
    samples = tip_samples(surface.points)
    assert len(samples) == 1 + 2 * 4
    np.testing.assert_allclose(samples.inward[0], [0, 0, -1], atol=1e-12)
    assert (samples.inward[:, 2] < 0).all()


# Boxes, slabs and cones.


def test_a_tree_covers_what_it_holds() -> None:
    mesh = turned(SOUND["crossed bars"].solid, np.random.default_rng(RANDOM)).mesh
    surface = surface_of(mesh)
    pieces, item = triangle_pieces(surface.corners, 0.5)
    assert {*item} == {*range(len(surface.area))}
    normal, number = surface.normal[item], np.arange(len(item))
    tree = tree_of(pieces, normal, np.zeros(len(item)), number, 0.1)

    def held(part: int) -> list[int]:
        if part < 0:
            return [-1 - part]
        there = tree.node[part, 0] < 1e300
        parts = [held(below) for below in tree.link[part, there]]
        for box, below in zip(tree.node[part].T[there], parts, strict=True):
            assert (pieces[below] >= box[0:3]).all()
            assert (pieces[below] <= box[3:6]).all()
            along = pieces[below] @ box[6:9]  # as in the tree, but for rounding
            assert box[10] - 1e-9 <= along.min() <= along.max() <= box[11] + 1e-9
            angle = np.arccos(np.clip(normal[below] @ box[6:9], -1.0, 1.0)) + 0.1
            # an arc cosine near 1
            assert np.cos(np.minimum(angle, np.pi)).min() >= box[9] - 1e-8
        return [piece for below in parts for piece in below]

    assert sorted(held(0)) == number.tolist()


@pytest.mark.parametrize("count", [0, 1, 2, 15, 16, 17, 18, 255, 256, 257, 272, 273, 4096, 4099])
def test_every_piece_is_in_a_tree_once(count: int) -> None:
    points = np.random.default_rng(RANDOM).uniform(size=(count, 2, 3))
    axis, item = np.tile([0.0, 0.0, 1.0], (count, 1)), np.arange(count)
    tree = tree_of(points, axis, np.zeros(count), item, 0.1)
    there = tree.node[:, 0] < 1e300
    parts = np.sort(tree.link[there])
    # all pieces, and every node but the first, each once
    np.testing.assert_array_equal(parts, [*range(-count, 0), *range(1, len(tree.link))])
    assert len(tree.link) <= count // 15 + 8


RING = Shape((60, 60, 9), {"top": many(disc(30, 30, 28, 32) - disc(30, 30, 27, 32))}, 0, 0)


@pytest.mark.parametrize(
    ("solid", "limit"),
    [(SOUND["comb"].solid, 8.0), (SOUND["crossed bars"].solid, 8.0), (RING.solid, 1.5)],
    ids=["comb", "crossed bars", "ring"],
)
def test_a_hierarchy_leaves_nothing_out(solid: Solid, limit: float) -> None:
    """The same balls as with nodes that are never passed over.

    Walls of the ring stand back to back, so that normals cancel out in some node.
    """
    surface = surface_of(solid.mesh)
    scene = scene_of(surface, limit)
    lots = [WallSamples(surface, 2.0)[0], edge_samples(surface.edges, 1.0)]
    everything = []
    for tree in (scene.walls, scene.bends):
        node, there = tree.node.copy(), tree.node[:, 0] < 1e300
        for k, value in enumerate([-1e6] * 3 + [1e6] * 3 + [0.0] * 3 + [-2.0, -np.inf, np.inf]):
            node[:, k][there] = value
        everything.append(Tree(node, tree.link))
    plain = scene._replace(walls=everything[0], bends=everything[1])
    for lot in lots:
        one, two = (
            smallest_balls(s, lot.points, lot.inward, lot.edge, np.full(len(lot), limit))
            for s in (scene, plain)
        )
        np.testing.assert_allclose(one[0], two[0], rtol=1e-12)
        assert (one[0] < limit).any() or not len(lot)


def test_a_ball_does_not_depend_on_the_one_before() -> None:
    """The search first looks for one as large; in any order, and alone, each is the same."""
    surface = surface_of(turned(SOUND["crossed bars"].solid, np.random.default_rng(RANDOM)).mesh)
    scene, lot = scene_of(surface, 8.0), WallSamples(surface, 2.0)[0]
    forwards = chords_of(lot, scene, 8.0).size
    back = np.arange(len(lot))[::-1]
    np.testing.assert_array_equal(chords_of(lot.chosen(back), scene, 8.0).size[back], forwards)
    alone = [chords_of(lot.chosen(np.array([k])), scene, 8.0).size[0] for k in range(len(lot))]
    np.testing.assert_array_equal(alone, forwards)
    assert len({*forwards.round(6)}) > 2


def test_a_search_for_a_shorter_chord_finds_no_longer_one() -> None:
    """Each sample has its own cap."""
    surface = surface_of(block(9, 9, 3).mesh)
    scene, lot = scene_of(surface, 8.0), WallSamples(surface, 2.0)[0]
    free = chords_of(lot, scene, 8.0).size
    caps = np.where(np.arange(len(lot)) % 2, 2.5, 8.0)
    np.testing.assert_array_equal(chords_of(lot, scene, caps).size, np.minimum(free, caps))
    assert (free < caps).any()
    assert (free > caps).any()


def test_slanted_triangles_are_cut_and_others_are_not() -> None:
    flat = np.array([[[0, 0, 0], [100, 0, 0], [0, 100, 0]]], float)
    slanted = np.array([[[0, 0, 0], [100, 100, 0], [100, 101, 0]]], float)
    assert len(triangle_pieces(flat, 1.0)[1]) == 1
    pieces, item = triangle_pieces(slanted, 10.0)
    assert len(item) > 10
    assert np.ptp(pieces, axis=1).max() < 20.0
    np.testing.assert_array_equal(pieces.min(axis=(0, 1)), [0, 0, 0])
    np.testing.assert_array_equal(pieces.max(axis=(0, 1)), [100, 101, 0])


def test_an_empty_tree_finds_nothing() -> None:
    """A body with no bent edge does not exist, but a tree of none must not fall over."""
    tree = tree_of(np.empty((0, 2, 3)), np.empty((0, 3)), np.empty(0), np.empty(0, np.int64), 0.1)
    scene = scene_of(surface_of(block(5, 5, 1).mesh), 2.0)
    p, m = np.array([[2.0, 2.0, 0.0]]), np.array([[0.0, 0.0, 1.0]])
    for changed in (scene._replace(walls=tree), scene._replace(walls=tree, bends=tree)):
        assert smallest_balls(changed, p, m, NO_EDGE, np.array([2.0]))[0].tolist() == [2.0]
        assert walls_at(changed, p, m).tolist() == [-1]
        assert are_clear(changed, p, p + 9.0 * m).tolist() == [True]


# Balls and sight.


def ask(mesh: Mesh, p: list[float], m: list[float], cap: float = 50.0) -> float:
    scene = scene_of(surface_of(mesh), cap)
    at, inward = np.array([p], float), np.array([m], float)
    size, touch, _, _ = smallest_balls(scene, at, inward, NO_EDGE, np.array([cap]))
    assert np.isnan(touch[0]).all() == (size[0] == cap)
    return float(size[0])


def test_a_ball_between_parallel_walls() -> None:
    assert ask(block(30, 20, 6).mesh, [10, 10, 0], [0, 0, 1]) == pytest.approx(6.0)
    assert ask(block(30, 20, 6).mesh, [10, 10, 0], [0, 0, 1], cap=5.0) == 5.0


def test_a_ball_at_an_edge_of_the_wall_opposite() -> None:
    """Over a step: the wall opposite ends before the foot, the ball touches its edge."""
    step = Shape((20, 10, 10), {"front": notched(20, (10, 20), (4, 20))}, 0, 0)
    tall = Shape((20, 10, 20), step.outlines, 0, 0).solid.mesh
    # the concave edge at x = 10, z = 4, seen from p at x = 9: off by atan(1/4) = 14 degrees
    assert ask(tall, [9, 5, 0], [0, 0, 1]) == pytest.approx((1 + 16) / 4)
    # from x = 8 it is off by 27 degrees, and the wall above is 20 away
    assert ask(tall, [8, 5, 0], [0, 0, 1]) == pytest.approx(20.0)


def test_walls_behind_a_void_do_not_count() -> None:
    hollow = block(20, 20, 20).minus(
        block(10, 40, 4).mapped(np.column_stack([np.eye(3), [5, -5, 8]]))
    )
    assert ask(hollow.mesh, [10, 10, 0], [0, 0, 1]) == pytest.approx(8.0)
    assert ask(hollow.mesh, [1, 10, 0], [0, 0, 1]) == pytest.approx(20.0)
    # its edge at x = 5, z = 8 is off by atan(3 / 8) = 20.6 degrees from here
    assert ask(hollow.mesh, [2, 10, 0], [0, 0, 1]) == pytest.approx((9 + 64) / 8)


@pytest.mark.parametrize("p", [[0.0, 0.0], [0.0, 10.0], [10.0, 10.0], [5.0, 0.0]])
def test_from_the_very_rim(p: list[float]) -> None:
    """The way runs along other walls, which do not stop it."""
    for turn in (False, True):
        random = np.random.default_rng(RANDOM)
        solid = block(10, 10, 3)
        q, m = np.array([[*p, 0.0]]), np.array([[0.0, 0.0, 1.0]])
        if turn:
            solid = turned(solid, random)
            ends = turned(block(1, 1, 1), np.random.default_rng(RANDOM)).mesh.vertices
            plain = block(1, 1, 1).mesh.vertices
            matrix = np.linalg.lstsq(np.column_stack([plain, np.ones(8)]), ends, rcond=None)[0]
            q, m = np.column_stack([q, [1.0]]) @ matrix, m @ matrix[:3]
        size, _, _, _ = smallest_balls(
            scene_of(surface_of(solid.mesh), 5.0), q, m, NO_EDGE, np.array([5.0])
        )
        assert size[0] == pytest.approx(3.0)


def test_sight_is_stopped_by_walls_and_their_borders() -> None:
    mesh = SOUND["comb"].solid.mesh
    scene = scene_of(surface_of(mesh), 1.0)
    start = np.array([[3.0, 6.0, 20.0], [3.0, 6.0, 5.0], [3.0, 6.0, 20.0], [3, 6, 10.0]])
    end = np.array([[21.0, 6.0, 20.0], [50.0, 6.0, 5.0], [3.0, 6.0, 2.0], [57, 6, 10.0]])
    # across a slot; inside the bar; down a tooth; along the slots' bottom, over the feet of walls
    assert are_clear(scene, start, end).tolist() == [False, True, True, False]


def test_sight_where_normals_cancel_out() -> None:
    """Those of an octahedron do, exactly: no direction leads across the two in one part."""
    tips = np.concatenate([2.0 * np.eye(3), -2.0 * np.eye(3)])
    walls = [
        (x, y, z) if (x < 3) ^ (y < 3) ^ (z < 3) else (x, z, y)
        for x in (0, 3)
        for y in (1, 4)
        for z in (2, 5)
    ]
    row = Solid.from_mesh(
        Mesh(
            np.concatenate([tips + np.array([10.0 * k, 0, 0]) for k in range(4)]),
            np.concatenate([np.array(walls) + 6 * k for k in range(4)]),
        )
    )
    scene = scene_of(surface_of(row.mesh), 1.0)
    np.testing.assert_array_equal(scene.walls.node[0, 10, :2], -np.inf)
    start, end = np.array([[0.0, 0.0, 0.0]]), np.array([[0.0, 0.1, 9.0]])
    assert are_clear(scene, start, end).tolist() == [False]


# Compiling.


def test_the_first_run_tells_that_it_compiles(monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[bool] = []
    monkeypatch.setattr(compiled_module, "is_kept", lambda function: False)
    assert len(thin_regions(block(5, 5, 1), 1.5, compiling=lambda: told.append(True))) == 1
    assert told == [True]


def test_later_runs_tell_nothing() -> None:
    told: list[bool] = []
    thin_regions(block(5, 5, 1), 1.5)
    assert is_kept(smallest_balls)
    thin_regions(block(5, 5, 1), 1.5, compiling=lambda: told.append(True))
    assert told == []


def test_what_is_not_compiled_yet_is_not_kept() -> None:
    assert not is_kept(compiled(_never_called))


def _never_called(x: float) -> float:
    return x


def test_without_a_folder_to_keep_it_code_is_compiled_for_the_run(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    real = numba.njit

    def nowhere(*args: Any, cache: bool = False, **more: Any) -> Any:
        if cache:
            raise RuntimeError("cannot cache function: no locator available")
        return real(*args, **more)

    monkeypatch.setattr(numba, "njit", nowhere)
    assert compiled(_twice)(2.0) == 4.0


def _twice(x: float) -> float:
    return 2.0 * x


def test_importing_the_room_does_not_load_numba() -> None:
    code = "import sys; import silhouette3d.geometry.thickness; assert 'numba' not in sys.modules"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False)
    assert done.returncode == 0


def test_the_room_exports_what_it_says() -> None:
    from silhouette3d.geometry import thickness

    assert thickness.thin_regions is regions.thin_regions
    assert list(thickness.__all__) == sorted(thickness.__all__)
