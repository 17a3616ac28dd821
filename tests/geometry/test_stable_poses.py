"""How a body stands, against closed forms and against trimesh's stable poses."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
import trimesh
import trimesh.poses
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

from silhouette3d.geometry.frames import VIEWS
from silhouette3d.geometry.mesh import Mesh
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stable_poses import Pose, pose_on, poses, side_of
from tests.support.shapes import SOUND, disc, rect


def prism(area: Polygon, height: float) -> Solid:
    """An area of the ground plane, raised."""
    return Solid.prism(area, VIEWS["top"], (0.0, height))


def hull_of(points: np.ndarray) -> Solid:
    mesh = trimesh.convex.convex_hull(points)
    return Solid.from_mesh(
        Mesh(np.array(mesh.vertices, np.float64), np.array(mesh.faces, np.int64))
    )


def oblique(lean: float) -> Solid:
    """A square prism 10 mm wide and 20 mm high, its top moved to the right."""
    base = rect(0, 0, 10, 10).exterior.coords[:-1]
    return hull_of(np.array([(u + x, v, z) for x, z in ((0, 0), (lean, 20)) for u, v in base]))


def degrees(run: float, height: float) -> float:
    return math.degrees(math.atan2(run, height))


# Closed forms: elementary statics, the angle whose tangent is the distance of the foot of the
# centre of mass from the edge over its height. Tolerance: rounding.


def test_a_cube() -> None:
    found = poses(prism(rect(0, 0, 10, 10), 10.0))
    assert [p.tipping_angle for p in found] == pytest.approx([45.0] * 6)
    assert found[0].side == "bottom"  # of equals the one that needs no turning
    assert found[-1].side == "top"


def test_a_brick() -> None:
    a, b, c = 24.0, 11.5, 7.1
    found = poses(prism(rect(0, 0, a, b), c))
    assert {p.side for p in found[:2]} == {"bottom", "top"}
    assert [p.side for p in found[:1]] == ["bottom"]
    expected = [degrees(b, c)] * 2 + [degrees(c, b)] * 2 + [degrees(c, a)] * 2
    assert [p.tipping_angle for p in found] == pytest.approx(expected)


def test_a_pyramid_stands_best_on_its_base() -> None:
    """Its centre of mass is a quarter up."""
    points = np.array([(0, 0, 0), (20, 0, 0), (20, 30, 0), (0, 30, 0), (10, 15, 16)], float)
    best = poses(hull_of(points))[0]
    assert best.side == "bottom"
    assert best.height == pytest.approx(4.0)
    assert best.tipping_angle == pytest.approx(degrees(10, 4))


def test_a_prism_of_many_corners() -> None:
    """A regular prism, the cylinder's stand-in: the inscribed circle is what carries."""
    n, r, h = 64, 20.0, 50.0
    found = poses(prism(disc(r, r, r, n), h))
    inner = r * math.cos(math.pi / n)
    assert found[0].tipping_angle == pytest.approx(degrees(inner, h / 2))
    assert found[1].tipping_angle == pytest.approx(degrees(inner, h / 2))
    # lying, it rocks on one side of the prism at most
    assert [p.tipping_angle for p in found[2:]] == pytest.approx([180.0 / n] * n)


def test_a_triangular_prism() -> None:
    """The centroid of a triangle is a third up; of a right one, a third in from the legs."""
    found = poses(prism(Polygon([(0, 0), (30, 0), (0, 12)]), 4.0))
    assert found[0].side == "bottom"
    assert found[0].tipping_angle == pytest.approx(
        degrees(min(10.0, 4.0, abs(30 * 12 - 12 * 10 - 30 * 4) / math.hypot(30, 12)), 2.0)
    )


def test_a_leaning_body_falls_on_its_side() -> None:
    """An oblique prism whose centre of mass is 3 mm outside its base."""
    leaning = oblique(16.0)
    assert leaning.centroid == pytest.approx([13, 5, 10])
    assert pose_on(leaning).tipping_angle == 0.0
    assert "bottom" not in {p.side for p in poses(leaning)}
    upright = oblique(8.0)
    assert pose_on(upright).tipping_angle == pytest.approx(degrees(1.0, 10.0))


def test_exactly_over_the_edge_is_no_standing() -> None:
    assert pose_on(oblique(10.0)).tipping_angle == 0.0


def test_feet_carry_like_what_they_span() -> None:
    """A table on four legs stands on the rectangle about them."""
    legs = [rect(u, 0, u + 2, 20) for u in (0.0, 38.0)]
    bridge = shapely.union_all([*legs, rect(0, 18, 40, 20)])
    assert isinstance(bridge, Polygon)
    table = Solid.prism(bridge, VIEWS["front"], (-10.0, 0.0))
    pose = pose_on(table)
    assert pose.tipping_angle == pytest.approx(degrees(5.0, pose.height))
    assert shapely.area(pose.support) == pytest.approx(400.0)


def test_on_an_edge_or_a_point_nothing_stands() -> None:
    cube = prism(rect(0, 0, 10, 10), 10.0)
    assert pose_on(cube, (1.0, 0.0, -1.0)).tipping_angle == 0.0
    assert pose_on(cube, (1.0, 1.0, 1.0)).tipping_angle == 0.0


def test_the_best_is_the_largest_angle_not_the_lowest_centre() -> None:
    """A long thin plate has its centre of mass lowest as it lies, and tips least so."""
    found = poses(prism(rect(0, 0, 100, 4), 3.9))
    assert found[0].height == pytest.approx(1.95)
    angles = [p.tipping_angle for p in found]
    assert angles == sorted(angles, reverse=True)


@pytest.mark.parametrize("name", SOUND)
def test_standing_keeps_the_part_as_it_is(name: str) -> None:
    """Turned, not mirrored: on z = 0, its bounding box about x = y = 0."""
    solid = SOUND[name].solid
    for pose in (*poses(solid), pose_on(solid), pose_on(solid, (0.3, -0.2, 0.9))):
        linear = pose.placed[:, :3]
        assert np.linalg.det(linear) == pytest.approx(1.0)
        assert linear @ linear.T == pytest.approx(np.eye(3), abs=1e-12)
        assert linear @ pose.down == pytest.approx([0, 0, -1], abs=1e-12)
        placed = solid.mapped(pose.placed)
        low, high = placed.bounds
        assert low[2] == pytest.approx(0.0, abs=1e-9)
        assert low[:2] + high[:2] == pytest.approx([0, 0], abs=1e-9)
        assert placed.volume == pytest.approx(solid.volume)
        again = pose_on(placed)
        assert again.tipping_angle == pytest.approx(pose.tipping_angle, abs=1e-6)


def test_as_it_lies_nothing_is_turned() -> None:
    pose = pose_on(SOUND["wedge"].solid)
    assert (pose.turn == np.eye(3)).all()


@settings(max_examples=30)
@given(st.integers(0, 10**6), st.integers(4, 30), st.sampled_from([0.2, 1.0, 5.0]))
def test_random_bodies_against_trimesh(seed: int, count: int, stretch: float) -> None:
    """trimesh follows a body as it topples from face to face; where it ends is where it stands."""
    rng = np.random.default_rng(seed)
    body = hull_of(rng.normal(size=(count, 3)) * [10.0, 10.0, 10.0 * stretch])
    mesh = trimesh.Trimesh(body.mesh.vertices, body.mesh.triangles)
    turns, _ = trimesh.poses.compute_stable_poses(mesh, sigma=0, n_samples=1, threshold=0)
    theirs = np.array([-turn[2, :3] for turn in turns])
    ours = np.array([pose.down for pose in poses(body)])
    assert len(ours) == len(theirs)
    assert (ours @ theirs.T).max(axis=1) == pytest.approx(np.ones(len(ours)), abs=1e-9)


@given(st.integers(0, 10**6))
def test_tilting_on_trial(seed: int) -> None:
    """Tilted by a little less than its angle, in any direction, the centre of mass stays behind
    the foremost foot; by a little more, in the worst direction, it does not."""
    rng = np.random.default_rng(seed)
    body = hull_of(rng.normal(size=(12, 3)) * 10.0)
    pose = poses(body)[0]
    corners = pose.corners @ pose.placed[:, :3].T + pose.placed[:, 3]
    centre = pose.placed[:, :3] @ pose.centre + pose.placed[:, 3]
    feet = corners[corners[:, 2] < 1e-6][:, :2]
    lines = (feet[:, None] - feet[None])[np.triu_indices(len(feet), 1)]  # edges are among them
    square = np.vstack([lines, -lines]) @ np.array([[0.0, 1.0], [-1.0, 0.0]])
    t = np.linspace(0.0, 2.0 * math.pi, 360)
    away = np.vstack([square, np.column_stack([np.cos(t), np.sin(t)])])
    away /= np.linalg.norm(away, axis=1, keepdims=True)

    def stays(angle: float) -> bool:
        c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        ahead = away @ centre[:2] * c + centre[2] * s
        return bool((ahead <= (away @ feet.T).max(axis=1) * c).all())

    assert stays(pose.tipping_angle - 1e-6)
    assert not stays(pose.tipping_angle + 1e-6)


def test_sides_in_words() -> None:
    assert side_of(np.array([0.0, 0.0, -1.0])) == "bottom"
    assert side_of(np.array([0.0, -1.0, 0.0])) == "front"
    assert side_of(np.array([1.0, 0.0, 0.0])) == "right"
    assert side_of(np.array([-0.6, 0.0, 0.8])) == "top left"
    assert side_of(np.array([0.5, 0.5, -0.7])) == "bottom rear right"


def test_a_pose_cannot_be_changed() -> None:
    pose = pose_on(SOUND["plate"].solid)
    assert isinstance(pose, Pose)
    with pytest.raises(ValueError, match="read-only"):
        pose.down[0] = 1.0


def test_a_bar_on_its_end_stands_if_barely() -> None:
    """A quarter of a degree is enough to count: 1 mm square and 200 mm high."""
    found = poses(prism(rect(0, 0, 1, 1), 200.0))
    assert {p.side for p in found} == {"bottom", "top", "left", "right", "front", "rear"}
    assert found[-1].tipping_angle == pytest.approx(degrees(0.5, 100.0))
