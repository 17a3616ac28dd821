"""Solids: volume, area, centre, shadow and bodies against formulas and other libraries."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
import trimesh
import trimesh.proximity
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, affinity

from silhouette3d.geometry.backend_errors import BackendError
from silhouette3d.geometry.frames import VIEWS, View, view_along
from silhouette3d.geometry.mesh import Mesh, distances_along, measured
from silhouette3d.geometry.removal import stock_solid
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.tolerances import GRID
from tests.support.shapes import (
    IN_PIECES,
    NOTHING,
    SOUND,
    Shape,
    disc,
    many,
    profile,
    rect,
    scaled,
    solid,
)

# Sums of some hundred products of numbers of one size, in double precision.
EXACT = 1e-12


def share(shape: Shape) -> float:
    """What rounding to the grid of outlines can do to a part, as a share of it."""
    return EXACT + 6 * GRID / min(shape.size)


L = Polygon([(0, 0), (40, 0), (40, 10), (10, 10), (10, 30), (0, 30)])
PUNCHED = Polygon([(0, 0), (40, 0), (40, 30), (0, 30)], [[(10, 10), (20, 10), (20, 20)]])
TOUCHING = Polygon([(0, 0), (40, 0), (40, 30), (0, 30)], [[(20, 0), (30, 10), (10, 10)]])
PARTS = MultiPolygon([rect(0, 0, 10, 10), rect(10, 10, 20, 20), rect(30, 0, 40, 5)])

directions = st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda d: np.linalg.norm(d) > 0.1)


def box(x: float, y: float, z: float, at: tuple[float, float, float] = (0, 0, 0)) -> Solid:
    a, b, c = at
    return Solid.prism(rect(a, b, a + x, b + y), VIEWS["top"], (c, c + z))


def checked(solid: Solid) -> Solid:
    """A closed, outward oriented surface by trimesh, which also measures it."""
    mesh = trimesh.Trimesh(solid.mesh.vertices, solid.mesh.triangles, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    scale = solid.volume
    assert mesh.volume == pytest.approx(scale, rel=1e-9)
    assert mesh.area == pytest.approx(solid.surface_area, rel=1e-9)
    assert np.allclose(mesh.center_mass, solid.centroid, rtol=0, atol=1e-9 * np.max(solid.size))
    return solid


def views() -> list[View]:
    half = math.sqrt(3.0) / 2.0
    across = [view_along((1, 1, 0), (0, 0, 1)), view_along((0.5, half, 0), (0, 0, 1))]
    return [*VIEWS.values(), *across, view_along((1, 2, 3), (0, 0, 1))]


# Prisms.


@pytest.mark.parametrize("view", views(), ids=lambda v: v.name)
@pytest.mark.parametrize("area", [L, PUNCHED, TOUCHING, PARTS], ids=["L", "hole", "touch", "parts"])
def test_a_prism_along_any_view(view: View, area: Polygon | MultiPolygon) -> None:
    """Area times depth; twice the area and the length of all rings times depth."""
    made = checked(Solid.prism(area, view, (-5, 20)))
    assert made.volume == pytest.approx(area.area * 25, rel=EXACT)
    assert made.surface_area == pytest.approx(2 * area.area + area.length * 25, rel=EXACT)
    middle = view.to_view(made.centroid)
    assert middle == pytest.approx([area.centroid.x, area.centroid.y, 7.5], rel=1e-11)
    depth = view.to_view(made.mesh.vertices)[:, 2]
    assert (depth.min(), depth.max()) == pytest.approx((-5, 20), rel=EXACT)


@pytest.mark.parametrize("view", views(), ids=lambda v: v.name)
@pytest.mark.parametrize("area", [L, PUNCHED, TOUCHING, PARTS], ids=["L", "hole", "touch", "parts"])
def test_the_shadow_of_a_prism_is_its_area(view: View, area: Polygon | MultiPolygon) -> None:
    shadow = Solid.prism(area, view, (-5, 20)).shadow(view)
    # shadows lie on a grid of 1e-6 mm: a strip of half of it along all rings
    assert shapely.symmetric_difference(shadow, area).area <= 0.5e-6 * area.length


def test_bodies_of_a_prism_of_parts() -> None:
    """Two of the squares touch in a corner: three bodies."""
    made = Solid.prism(PARTS, VIEWS["front"], (0, 10))
    assert [b.volume for b in made.bodies] == pytest.approx([1000, 1000, 500], rel=EXACT)


@pytest.mark.parametrize("area", [L, L.reverse(), PUNCHED.reverse()])
def test_the_way_round_of_rings_is_no_matter(area: Polygon) -> None:
    assert checked(Solid.prism(area, VIEWS["top"], (0, 1))).volume == pytest.approx(area.area)


def test_a_prism_of_nothing() -> None:
    for area in (Polygon(), MultiPolygon(), Polygon([(0, 0), (1, 0), (2, 0)])):
        made = Solid.prism(area, VIEWS["top"], (0, 1))
        assert made.is_empty
        assert made.bodies == ()
        assert made.volume == made.surface_area == 0
        assert made.bounds.tolist() == [[0, 0, 0], [0, 0, 0]]
        assert made.centroid.tolist() == [0, 0, 0]
        assert made.shadow(VIEWS["top"]).is_empty


# The named shapes.


@pytest.mark.parametrize("name", SOUND)
def test_shapes_of_one_body(name: str) -> None:
    shape = SOUND[name]
    made = checked(shape.solid)
    assert len(made.bodies) == 1
    assert made.volume == pytest.approx(shape.volume, rel=share(shape))
    assert made.surface_area == pytest.approx(shape.area, rel=share(shape))
    assert np.allclose(made.bounds, [(0, 0, 0), shape.size], rtol=0, atol=1e-12 * max(shape.size))


@pytest.mark.parametrize("name", IN_PIECES)
def test_shapes_in_pieces(name: str) -> None:
    shape = IN_PIECES[name]
    made = shape.solid
    assert made.volume == pytest.approx(shape.volume, rel=EXACT)
    assert made.surface_area == pytest.approx(shape.area, rel=EXACT)
    assert [checked(b).volume for b in made.bodies] == pytest.approx(shape.bodies, rel=EXACT)


def test_outlines_that_only_meet_leave_nothing() -> None:
    assert NOTHING.solid.is_empty
    assert NOTHING.solid.bodies == ()


@pytest.mark.parametrize("name", SOUND)
@pytest.mark.parametrize("factor", [1e-3, 25.4, 1e3])
def test_shapes_of_any_size(name: str, factor: float) -> None:
    """From a bead of some hundredths of a millimetre to a block of sixty metres."""
    shape = scaled(SOUND[name], factor)
    assert shape.solid.volume == pytest.approx(shape.volume, rel=share(shape))
    assert shape.solid.surface_area == pytest.approx(shape.area, rel=share(shape))


@pytest.mark.parametrize("name", SOUND)
def test_shadows_of_the_shapes_fill_their_outlines(name: str) -> None:
    shape = SOUND[name]
    for p in shape.profiles:
        shadow = p.to_face(shape.solid.shadow(p.view))
        assert shapely.symmetric_difference(shadow, p.area).area <= 1e-6 * p.area.length


def test_a_square_pyramid() -> None:
    """b² h / 3, its centre at h/4, b² + 2 b √(h² + b²/4): Euclid XII.7 and its corollaries."""
    b, h = 30.0, 40.0
    triangle = Polygon([(0, 0), (b, 0), (b / 2, h)])
    made = checked(Shape((b, b, h), {"front": triangle, "right": triangle}, 0, 0).solid)
    assert made.volume == pytest.approx(b * b * h / 3, rel=EXACT)
    assert made.surface_area == pytest.approx(b**2 + 2 * b * math.hypot(h, b / 2), rel=EXACT)
    assert made.centroid == pytest.approx([b / 2, b / 2, h / 4], rel=EXACT)


def test_centre_of_two_bodies() -> None:
    """Weighed by volume: (9 · 1 + 1 · 2) / 10 along each axis would be 1.1 sides."""
    two = Solid.prism(
        MultiPolygon([rect(0, 0, 30, 30), rect(50, 50, 60, 60)]), VIEWS["top"], (0, 1)
    )
    assert two.centroid == pytest.approx([(900 * 15 + 100 * 55) / 1000] * 2 + [0.5], rel=EXACT)


def test_the_centre_far_from_the_origin() -> None:
    """A bead of 1 mm at 10 m: measured from its own middle, so no digits cancel."""
    at = (1e4, -1e4, 1e4)
    made = box(1, 1, 1, at)
    assert made.volume == pytest.approx(1, rel=1e-11)  # corners at 1e4 carry 1e-12 mm
    assert made.centroid == pytest.approx([1e4 + 0.5, -1e4 + 0.5, 1e4 + 0.5], abs=1e-11)


# Booleans.


def test_intersection_and_difference_of_boxes() -> None:
    a, b = box(20, 20, 20), box(20, 20, 20, (10, 12, 14))
    assert a.intersection(b).volume == pytest.approx(10 * 8 * 6, rel=EXACT)
    assert a.minus(b).volume == pytest.approx(8000 - 480, rel=EXACT)
    assert checked(a.minus(b)).surface_area == pytest.approx(2400, rel=EXACT)
    assert a.minus(a).is_empty
    assert a.minus(box(20, 20, 20, (20, 0, 0))).volume == pytest.approx(8000, rel=EXACT)


@given(
    st.tuples(*[st.floats(1, 50)] * 3),
    st.tuples(*[st.floats(1, 50)] * 3),
    st.tuples(*[st.floats(-60, 60)] * 3),
)
def test_two_boxes(size: tuple, other: tuple, at: tuple) -> None:
    low = np.maximum(0, at)
    high = np.minimum(size, np.add(at, other))
    common = float(np.prod(np.maximum(high - low, 0)))
    a, b = box(*size), box(other[0], other[1], other[2], at)
    assert a.intersection(b).volume == pytest.approx(common, rel=1e-9, abs=1e-9)
    assert a.minus(b).volume + common == pytest.approx(math.prod(size), rel=1e-9)


@given(look=directions, seed=st.integers(0, 1000))
def test_minus_in_a_views_frame(look: tuple[float, ...], seed: int) -> None:
    """The same but for rounding, whichever way the view looks."""
    up = (0.0, 0.0, 1.0) if np.linalg.norm(look[:2]) > 0.05 else (0.0, 1.0, 0.0)
    view = view_along(look, up)
    middle = view.to_view([[20.0, 15.0, 10.0]])[0, :2]
    shape = affinity.translate(L, *(middle - np.random.default_rng(seed).uniform(0, 20, 2)))
    block, prism = box(40, 30, 20), Solid.prism(shape, view, (-200.0, 200.0))
    plain, turned = block.minus(prism), block.minus_along(view, prism)
    assert turned.volume == pytest.approx(plain.volume, rel=1e-10, abs=1e-9)
    assert turned.surface_area == pytest.approx(plain.surface_area, rel=1e-10)
    assert len(turned.bodies) == len(plain.bodies)
    assert turned.bounds == pytest.approx(plain.bounds, abs=1e-11)


def test_many_meshes_are_measured_as_each_alone() -> None:
    """Far apart and of very different sizes, one of them without thickness."""
    flat = Mesh(
        np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]]), np.array([[0, 1, 2], [0, 2, 1]], np.int64)
    )
    some = [
        box(40, 30, 20),
        box(1e-3, 2e-3, 3e-3, (500, 0, 9)),
        Solid.prism(L, VIEWS["front"], (3, 9)),
    ]
    volume, centroid, size = measured([*(one.mesh for one in some), flat])
    assert volume[:3] == pytest.approx([one.volume for one in some], rel=EXACT)
    assert centroid[:3] == pytest.approx(np.array([one.centroid for one in some]), rel=EXACT)
    assert size[:3].tolist() == [one.size.tolist() for one in some]
    assert volume[3] == 0.0
    assert centroid[3].tolist() == [0.5, 0.5, 0.0]  # the middle of its box


def test_minus_along_an_axis_is_minus() -> None:
    """To the last bit: nothing is turned."""
    block, prism = box(40, 30, 20), Solid.prism(L, VIEWS["top"], (-5.0, 30.0))
    assert (
        block.minus_along(VIEWS["top"], prism).mesh.vertices.tolist()
        == block.minus(prism).mesh.vertices.tolist()
    )


def test_gap() -> None:
    a = box(10, 10, 10)
    assert a.gap(box(1, 1, 1, (13, 14, 0)), 100) == pytest.approx(5, rel=1e-9)
    assert a.gap(box(1, 1, 1, (13, 14, 0)), 2) == 2
    assert a.gap(box(1, 1, 1, (10, 10, 10)), 100) == 0


@given(directions, directions)
def test_mapped_into_a_view_and_back(look: tuple, up: tuple) -> None:
    assume(np.linalg.norm(np.cross(look, up)) > 0.01)
    axes = view_along(look, up).axes
    made = box(20, 10, 5, (1, 2, 3))
    there = made.mapped(np.column_stack([axes, [7, 8, 9]]))
    assert there.volume == pytest.approx(1000, rel=1e-9)
    assert there.centroid == pytest.approx(axes @ made.centroid + [7, 8, 9], abs=1e-9)


def test_a_mirror_keeps_the_outside_outside() -> None:
    mirrored = box(20, 10, 5).mapped(np.column_stack([np.diag([-1, 1, 1]), np.zeros(3)]))
    assert checked(mirrored).volume == pytest.approx(1000, rel=EXACT)
    assert mirrored.bounds.tolist() == [[-20, 0, 0], [0, 10, 5]]


# Bodies.


def test_bodies_come_largest_first_then_by_place() -> None:
    squares = [rect(40, 0, 50, 10), rect(0, 0, 10, 10), rect(20, 0, 33, 10), rect(60, 0, 65, 5)]
    made = Solid.prism(many(shapely.union_all(squares)), VIEWS["top"], (0, 1))
    assert [round(b.bounds[0, 0]) for b in made.bodies] == [20, 0, 40, 60]


@pytest.mark.parametrize("apart", [(10, 0, 0.001), (10, 10, 0), (10, 10, 10), (0, 10, 10)])
def test_boxes_that_touch_at_an_edge_or_point_are_separate(apart: tuple) -> None:
    a, b = box(10, 10, 10), box(10, 10, 10, apart)
    # joined by taking the rest away from a block round both
    block = Solid.prism(rect(0, 0, 20, 20), VIEWS["top"], (0, 20.001))
    rest = block.minus(a).minus(b)
    both = block.minus(rest)
    if apart[2] == 0.001:
        assert len(both.bodies) == 1  # they share nearly a whole face
    else:
        assert [x.volume for x in both.bodies] == pytest.approx([1000, 1000], rel=1e-9)


@pytest.mark.parametrize("size", [(100, 0.01, 0.01), (100, 100, 1e-4), (0.01, 0.01, 50)])
def test_thin_bodies_are_bodies(size: tuple[float, float, float]) -> None:
    (body,) = box(*size).bodies
    assert body.volume == pytest.approx(math.prod(size), rel=1e-9)


def test_a_flap_is_no_body() -> None:
    """Two triangles back to back beside a cube: they have an area and no volume."""
    cube = box(10, 10, 10).mesh
    flap = np.array([(20.0, 0, 0), (30, 0, 0), (20, 10, 0)])
    n = len(cube.vertices)
    faces = [(n, n + 1, n + 2), (n, n + 2, n + 1)]
    both = Mesh(np.vstack([cube.vertices, flap]), np.vstack([cube.triangles, faces]))
    made = Solid.from_mesh(both)
    assert made.surface_area == pytest.approx(600 + 100)
    assert [b.volume for b in made.bodies] == pytest.approx([1000])
    assert made.without_flaps.surface_area == pytest.approx(600)


def test_a_ring_in_a_ring() -> None:
    """A body may lie in the hole of another."""
    ring = Polygon(rect(0, 0, 30, 30).exterior.coords, [rect(10, 10, 20, 20).exterior.coords])
    made = Solid.prism(many(shapely.union(ring, rect(14, 14, 16, 16))), VIEWS["top"], (0, 10))
    assert [b.volume for b in made.bodies] == pytest.approx([8000, 40], rel=EXACT)


# Shadows.


def test_shadow_of_a_box_from_its_corner() -> None:
    """A cube seen along its space diagonal is a regular hexagon: √3 times a face."""
    shadow = box(10, 10, 10).shadow(view_along((1, 1, 1), (0, 0, 1)))
    assert shadow.area == pytest.approx(math.sqrt(3) * 100, rel=1e-7)  # on a grid of 1e-6 mm
    assert len(shadow.geoms) == 1
    assert len(shapely.get_coordinates(shapely.simplify(shadow, 1e-5))) == 6 + 1


@given(directions, directions, st.tuples(*[st.floats(1, 50)] * 3))
def test_shadow_of_a_box_from_anywhere(look: tuple, up: tuple, size: tuple) -> None:
    """Cauchy: a convex body's shadow is half the sum of its faces times their cosines."""
    assume(np.linalg.norm(np.cross(look, up)) > 0.01)
    view = view_along(look, up)
    a, b, c = size
    faces = np.array([b * c, a * c, a * b])
    shadow = box(*size).shadow(view)
    assert shadow.area == pytest.approx(float(faces @ np.abs(view.look)), abs=1e-6 * shadow.length)
    assert len(shadow.geoms) == 1


@pytest.mark.parametrize("name", [*SOUND, *IN_PIECES])
def test_a_shadow_from_the_rear_is_the_mirror_image(name: str) -> None:
    made = {**SOUND, **IN_PIECES}[name].solid
    for one, other, u, v in (
        ("front", "rear", -1, 1),
        ("left", "right", -1, 1),
        ("top", "bottom", 1, -1),
    ):
        image = affinity.scale(made.shadow(VIEWS[other]), u, v, origin=(0, 0))
        shadow = made.shadow(VIEWS[one])
        assert shapely.symmetric_difference(shadow, image).area <= 2e-6 * shadow.length


def test_shadow_of_a_plate_with_a_hole_seen_through_and_not() -> None:
    plate = Solid.prism(PUNCHED, VIEWS["top"], (0, 5))
    assert plate.shadow(VIEWS["top"]).area == pytest.approx(1200 - 50, rel=1e-7)
    assert plate.shadow(VIEWS["front"]).equals(rect(0, 0, 40, 5))


@pytest.mark.parametrize("seed", range(4))
def test_shadow_of_a_bar_turned_under_a_wave(seed: int) -> None:
    """Eight views of a round bar: thousands of slivers; a ray through each place tells."""
    made = turned_bar(seed)
    mesh = trimesh.Trimesh(made.mesh.vertices, made.mesh.triangles, process=False)
    for look in [(math.cos(t), math.sin(t), 0) for t in np.pi * np.arange(8) / 8]:
        view = view_along(look, (0, 0, 1))
        shadow = made.shadow(view)
        low, high = np.array(shadow.bounds).reshape(2, 2)
        flat = low + (high - low) * np.random.default_rng(seed).random((200, 2))
        # not where rounding has a say
        flat = flat[shapely.distance(shapely.boundary(shadow), shapely.points(flat)) > 1e-3]
        eyes = view.to_block(np.column_stack([flat, np.full(len(flat), 500.0)]))
        hit = mesh.ray.intersects_any(eyes, np.tile(view.look, (len(eyes), 1)))
        assert np.array_equal(shapely.contains_xy(shadow, *flat.T), hit)


def turned_bar(seed: int) -> Solid:
    """A round bar 60 × 60 mm, seen from eight sides, and a wavy outline in each."""
    rng, stock = np.random.default_rng(seed), Stock((60.0, 60.0, 60.0), 60.0)
    t = np.linspace(0.0, 2.0 * np.pi, 300, endpoint=False)
    profiles = []
    for angle in np.pi * np.arange(8) / 8:
        waves = sum(rng.uniform(0.2, 2) * np.sin(k * t + rng.uniform(0, 6)) for k in (3, 7, 12, 20))
        ring = 30.0 + (25.0 + waves) * np.array([np.cos(t), np.sin(t)])
        view = view_along((math.cos(angle), math.sin(angle), 0), (0, 0, 1))
        profiles.append(profile(view, Polygon(np.round(ring.T, 9)), stock))
    return solid(stock, profiles)


# Mesh.


def test_edges_of_a_box() -> None:
    """12 edges and one diagonal on each of 6 faces, each with its two triangles."""
    mesh = box(10, 20, 30).mesh
    ends, sides = mesh.edges
    assert ends.shape == sides.shape == (18, 2)
    assert (ends[:, 0] < ends[:, 1]).all()
    for (a, b), (left, right) in zip(ends.tolist(), sides.tolist(), strict=True):
        forward, backward = mesh.triangles[left].tolist(), mesh.triangles[right].tolist()
        assert (a, b) in zip(forward, forward[1:] + forward[:1], strict=True)
        assert (b, a) in zip(backward, backward[1:] + backward[:1], strict=True)


def test_a_solid_from_its_mesh() -> None:
    made = SOUND["crossed bars"].solid
    again = Solid.from_mesh(Mesh(made.mesh.vertices.copy(), made.mesh.triangles.copy()))
    assert again.volume == pytest.approx(made.volume, rel=EXACT)
    assert len(again.bodies) == 1


def test_a_solid_is_told_in_a_line() -> None:
    cube = box(10, 20, 30.25)
    told = "8 vertices, 12 triangles, from (0, 0, 0) to (10, 20, 30.25) mm"
    assert (repr(cube), repr(cube.mesh)) == (f"Solid({told})", f"Mesh({told})")
    assert repr(cube.perturbed(2e-5)) == f"Solid({told}, perturbed by 2e-05 mm)"
    assert repr(cube.minus(cube)) == "Solid(empty)"


def test_an_open_surface_is_refused_by_the_engine() -> None:
    """It is told to the user like whatever else an engine gives up on."""
    one = Solid.from_mesh(Mesh(np.eye(3), np.array([[0, 1, 2]])))
    with pytest.raises(BackendError, match="a surface was refused: NotManifold"):
        one.minus(one)


def test_arrays_cannot_be_written_to() -> None:
    mesh = box(1, 1, 1).mesh
    with pytest.raises(ValueError, match="read-only"):
        mesh.vertices[0, 0] = 5
    with pytest.raises(ValueError, match="read-only"):
        mesh.triangles[0, 0] = 5


# A round bar.


@pytest.mark.parametrize("along", "xyz")
def test_a_round_bar(along: str) -> None:
    stock = Stock(tuple(60.0 if a == along else 40.0 for a in "xyz"), 40.0, along)  # type: ignore[arg-type]
    made = checked(stock_solid(stock))
    n = len(stock.section)
    assert made.volume == pytest.approx(60 * n / 2 * 400 * math.sin(2 * math.pi / n), rel=EXACT)
    assert made.centroid == pytest.approx(np.array(stock.size) / 2, rel=EXACT)
    assert made.bounds.tolist() == [[0, 0, 0], list(stock.size)]


@pytest.mark.parametrize("along", "xyz")
def test_a_round_bar_cut_to_a_square(along: str) -> None:
    """The square inscribed in the circle, from the end: 2 r² times the length is left."""
    stock = Stock(tuple(60.0 if a == along else 40.0 for a in "xyz"), 40.0, along)  # type: ignore[arg-type]
    half = 20 / math.sqrt(2)
    view = {"x": "right", "y": "front", "z": "top"}[along]
    made = solid(stock, [profile(view, rect(20 - half, 20 - half, 20 + half, 20 + half), stock)])
    # the corners of the square lie on the circle: its sides pass within the tolerance there
    assert made.volume == pytest.approx(2 * 400 * 60, rel=1e-5)
    assert len(made.bodies) == 1


def test_a_round_bar_turned_into_two_discs() -> None:
    """A disc of the bar's own polygon from the end takes nothing away."""
    stock = Stock((40.0, 40.0, 60.0), 40.0, "z")
    whole = solid(stock, [profile("top", Polygon(stock.section), stock)])
    bar = stock_solid(stock)
    # the outline is on the grid of 1e-9 mm, the bar is not
    assert whole.volume == pytest.approx(bar.volume, abs=GRID * bar.surface_area)
    ball = solid(stock, [profile("front", disc(20, 30, 20), stock)])
    # two cylinders of one radius: 16/3 r³ (Archimedes, The Method), less the facets
    assert 0.99 * 16 / 3 * 20**3 < ball.volume < 16 / 3 * 20**3


# Rays and points inside.

TRIANGLE = np.array([[(0.0, 0, 5), (4, 0, 5), (0, 3, 9)]])
"""In the plane z = 5 + 4/3 y."""


@pytest.mark.parametrize(
    ("x", "y", "met"),
    [
        (1.0, 1.0, True),
        (0.0, 1.0, True),  # on each of its sides
        (1.0, 0.0, True),
        (2.0, 1.5, True),
        (-0.01, 1.0, False),  # just beyond each of them
        (1.0, -0.01, False),
        (2.01, 1.5, False),
        (3.0, 2.0, False),
    ],
)
def test_where_a_ray_meets_a_triangle(x: float, y: float, met: bool) -> None:
    up = np.array([0.0, 0, 1])
    expected = [5 + 4 * y / 3 + 2] if met else []
    assert distances_along(np.array([x, y, -2.0]), up, TRIANGLE) == pytest.approx(expected)
    assert distances_along(np.array([x, y, -2.0]), -up, TRIANGLE) == pytest.approx(
        np.negative(expected)
    )


@pytest.mark.parametrize(("start", "along"), [((1, -3, 1), (0, 0.6, 0.8)), ((-1, 1, 6), (1, 0, 0))])
def test_a_ray_along_a_triangle_does_not_meet_it(start: tuple, along: tuple) -> None:
    assert distances_along(np.array(start, float), np.array(along, float), TRIANGLE).size == 0


def test_the_inner_point_of_a_plate_is_half_way_through() -> None:
    plate = box(60, 40, 4, at=(10, 10, 10))
    assert plate.inner_point[2] == pytest.approx(12.0, rel=EXACT)
    # under the middle of one of the triangles of a large face: a third in from two sides
    assert min(plate.inner_point[0] - 10, 70 - plate.inner_point[0]) == pytest.approx(20.0)
    assert min(plate.inner_point[1] - 10, 50 - plate.inner_point[1]) == pytest.approx(40 / 3)


@pytest.mark.parametrize("name", SOUND)
def test_the_inner_point_is_inside(name: str) -> None:
    """The nearest of the surface as trimesh measures it is further than rounding."""
    made = SOUND[name].solid
    for body in made.bodies:
        mesh = trimesh.Trimesh(body.mesh.vertices, body.mesh.triangles, process=False)
        off = trimesh.proximity.signed_distance(mesh, [body.inner_point])  # positive inside
        assert off[0] > 1e-3
        assert body.contains(body.inner_point)


def test_the_inner_point_of_a_channel_lies_in_its_wall() -> None:
    """Behind the wall of 4 mm there is a gap, and another wall."""
    channel = Polygon([(0, 0), (40, 0), (40, 60), (36, 60), (36, 4), (4, 4), (4, 60), (0, 60)])
    made = Solid.prism(channel, VIEWS["front"], (0.0, 80.0))
    across = made.inner_point[0]
    assert min(across, 40 - across) == pytest.approx(2.0, rel=EXACT)


@given(st.integers(0, 10**6))
def test_points_inside_a_leaning_body(seed: int) -> None:
    """A parallelepiped: inside where all three coordinates along its edges are in [0, 1]."""
    rng = np.random.default_rng(seed)
    edges = np.array([(10.0, 0, 0), (4, 8, 0), (-3, 5, 12)])
    made = box(1, 1, 1).mapped(np.column_stack([edges.T, np.zeros(3)]))
    low, high = made.bounds
    for point in rng.uniform(low, high, (20, 3)):
        shares = np.linalg.solve(edges.T, point)
        if np.abs(shares - np.round(shares)).min() > 1e-6:  # off the walls
            assert made.contains(point) == bool(((shares > 0) & (shares < 1)).all())


def test_outside_the_bounding_box_is_outside() -> None:
    made = box(10, 20, 30)
    assert made.contains(np.array([5.0, 10, 15]))
    for axis in range(3):
        for beyond in (-1.0, 31.0):
            point = np.array([5.0, 10, 15])
            point[axis] = beyond
            assert not made.contains(point)


@pytest.mark.parametrize("view", ["front", "rear", "right", "left", "top", "bottom"])
def test_within_an_area_far_from_the_origin(view: str) -> None:
    """300 mm off along each axis in turn: what lies around the area goes, as deep as it is."""
    for axis in range(3):
        for off in (-300.0, 300.0):
            at = [0.0, 0.0, 0.0]
            at[axis] = off
            made = box(10, 10, 10, at=(at[0], at[1], at[2]))
            u, v = VIEWS[view].to_view(made.mesh.vertices)[:, :2].min(axis=0)
            left = made.within(many(rect(u + 2, v + 1, u + 5, v + 7)), VIEWS[view])
            assert left.volume == pytest.approx(3 * 6 * 10, rel=1e-9)  # sums of products of 300 mm
