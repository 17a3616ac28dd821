"""Carving against exact truth: counted cells, exact slices, and what the proof must refuse.

Walls that coincide are the normal case here: outlines on a grid share the
stock's faces and each other's heights, and meet in edges and points.
"""

from __future__ import annotations

import importlib
import math
from collections import Counter
from collections.abc import Iterator, Mapping
from itertools import pairwise, permutations
from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, affinity
from stl import mesh as numpy_stl

from silhouette3d.output.mesh import export_mesh
from silhouette3d.part import waste_of
from silhouette3d.solid import Carving, Solid, Waste, carve
from silhouette3d.stock import Stock
from silhouette3d.units import GRID
from silhouette3d.view import VIEWS, View, view_along
from tests.shapes import (
    CORNER_CUBES,
    SOUND,
    TWO_CUBES,
    Area,
    Shape,
    cells,
    disc,
    grid,
    many,
    profile,
    rect,
    solid,
)
from tests.slices import Level, Sliced, lattice_polygon
from tests.views import HALF, LEVEL, OWN, SETS
from tests.voxels import SIDE, Triple, triples

# The module; the package's name `carve` is the function.
MODULE = importlib.import_module("silhouette3d.solid.carve")

SHARE = 1e-6
"""The engine works to 1e-12 of the size; a flap or a lost corner of a cell is 1e-3 and more."""


def shape_of(triple: Triple) -> Shape:
    """The same outlines for the package."""
    size = len(triple.front) * SIDE
    outlines = {view: cells(getattr(triple, view)) for view in ("front", "right", "top")}
    return Shape((size, size, size), outlines, triple.volume, triple.area)


def rows(filled: np.ndarray) -> list[str]:
    """Cells as `grid` reads them, to be written into a test."""
    return ["".join("#" if cell else "." for cell in row) for row in filled.T[::-1]]


# Outlines on a grid: every wall may coincide with others.


def check_measures(made: Solid, truth: Triple, told: object) -> None:
    assert made.volume == pytest.approx(truth.volume, rel=SHARE), told
    assert made.surface_area == pytest.approx(truth.area, rel=SHARE), told
    assert [b.volume for b in made.bodies] == pytest.approx(truth.body_volumes, rel=SHARE), told
    assert made.is_empty != truth.filled.any(), told


def check_shadows(made: Solid, truth: Triple, told: object) -> None:
    for view in ("front", "right", "top"):
        expected = cells(truth.shadow(view))
        off = shapely.symmetric_difference(made.shadow(VIEWS[view]), expected).area
        assert off <= SHARE * SIDE**2, (view, told)


def check_files(made: Solid, truth: Triple, path: Path, told: object) -> None:
    """The file as readers join it: equal points are one. They need not know which body is whose."""
    bodies = [body.mesh for body in made.bodies]
    export_mesh(bodies, path, name="cells", material="")
    if not truth.touches:
        read = trimesh.load_mesh(path)
        assert read.is_watertight, told
        assert read.is_winding_consistent, told
        assert read.volume == pytest.approx(truth.volume, rel=1e-5), told  # single precision
        return
    for body in bodies:
        export_mesh([body], path, name="cells", material="")
        assert closed(path), told


def closed(path: Path) -> bool:
    """Whether each edge of a triangle is run through as often one way as the other."""
    corners = numpy_stl.Mesh.from_file(str(path)).vectors
    _, index = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    triangles = index.reshape(-1, 3)
    edges = Counter(
        (int(a), int(b)) for t in triangles for a, b in zip(t, np.roll(t, -1), strict=True)
    )
    return bool(edges) and all(edges[a, b] == edges[b, a] for a, b in edges)


def check(size: int, seed: int, folder: Path) -> None:
    for truth in triples(size, seed, 50):
        told = rows(truth.front), rows(truth.right), rows(truth.top)
        made = shape_of(truth).solid
        check_measures(made, truth, told)
        check_shadows(made, truth, told)
        if truth.filled.any():
            check_files(made, truth, folder / "a.stl", told)


@pytest.mark.parametrize("size", [3, 4, 6])
def test_triples_of_outlines_on_a_grid(size: int, tmp_path: Path) -> None:
    check(size, 0, tmp_path)


@pytest.mark.big
@pytest.mark.parametrize("seed", range(1, 34))
@pytest.mark.parametrize("size", [3, 4, 6])
def test_five_thousand_triples_of_outlines_on_a_grid(size: int, seed: int, tmp_path: Path) -> None:
    check(size, seed, tmp_path)


def test_the_ensemble_holds_what_it_is_for() -> None:
    """Contacts, several bodies and empty parts all occur in the sample of the fast run."""
    sample = [t for size in (3, 4, 6) for t in triples(size, 0, 50)]
    assert sum(bool(t.edge_contacts) for t in sample) > 20
    assert sum(bool(t.point_contacts) for t in sample) > 3
    assert sum(len(t.body_volumes) > 1 for t in sample) > 20
    assert sum(not t.touches for t in sample) > 40


# Outlines on a lattice with slanted sides: faces meet in corners, and walls of several outlines
# pass through one line.

STEP = 1.0 / 3.0
"""mm: the lattice. Thirds have no exact number, so rounding is everywhere."""


def lattice_outline(rng: np.random.Generator, size: int) -> MultiPolygon:
    """One polygon or several, perhaps with holes, some touching themselves or each other."""
    area: shapely.Geometry = lattice_polygon(rng, size, int(rng.integers(3, 8)))
    if rng.random() < 0.3:
        area = shapely.union(area, lattice_polygon(rng, size, int(rng.integers(3, 6))))
    if rng.random() < 0.3:
        less = shapely.difference(area, lattice_polygon(rng, size, 3))
        area = less if less.area > 0.5 else area
    return many(area)


def lattice_case(
    rng: np.random.Generator, size: int, names: tuple[str, ...]
) -> tuple[Sliced, Stock, list[tuple[View, MultiPolygon]]]:
    """The same part for the slices, in lattice steps, and for the package, in mm."""
    levels, plans, placed = [], [], []
    for name in names:
        area = lattice_outline(rng, size)
        if name in LEVEL:
            view, along = LEVEL[name]
            width = sum(map(abs, along))  # of the face, in sides of the block
            area = affinity.scale(area, width, 1, origin=(0, 0))
            corner = size * sum(min(0.0, a) for a in along)
            levels.append(Level(along, affinity.translate(area, corner, 0)))
        else:
            view = VIEWS[name]
            turned = affinity.scale(area, 1, -1, origin=(0, size / 2))
            plans.append(area if name == "top" else turned)
        mm = shapely.set_precision(affinity.scale(area, STEP, STEP, origin=(0, 0)), GRID)
        placed.append((view, many(mm)))
    side = size * STEP
    return Sliced((size, size, size), levels, plans), Stock((side, side, side)), placed


def check_lattice(size: int, names: tuple[str, ...], seed: int, count: int) -> int:
    """Number of shapes that are in pieces."""
    rng = np.random.default_rng([size, seed])
    several = 0
    for number in range(count):
        truth, stock, placed = lattice_case(rng, size, names)
        made = solid(stock, [profile(view, area, stock) for view, area in placed])
        volume, surface, bodies = truth.measures
        told = (names, size, seed, number)
        assert made.volume == pytest.approx(volume * STEP**3, abs=SHARE * stock.volume), told
        # sides are placed to 1e-9 mm, and slanted ones cross a little elsewhere
        room = 10 * SHARE * 6 * stock.size[0] ** 2
        assert made.surface_area == pytest.approx(surface * STEP**2, abs=room), told
        assert bodies[0] <= len(made.bodies) <= bodies[1], told
        several += bodies[0] > 1
    return several


@pytest.mark.parametrize("size", [4, 6])
@pytest.mark.parametrize("number", range(len(SETS)))
def test_outlines_on_a_lattice(number: int, size: int) -> None:
    check_lattice(size, SETS[number], number, 3)


@pytest.mark.big
@pytest.mark.parametrize("size", [4, 6, 9])
@pytest.mark.parametrize("number", range(len(SETS)))
def test_many_outlines_on_a_lattice(number: int, size: int) -> None:
    assert check_lattice(size, SETS[number], 100 + number, 60) > 0


def test_slices_nearly_always_know_the_number_of_bodies() -> None:
    rng = np.random.default_rng(0)
    known = [lattice_case(rng, 4, names)[0].measures[2] for names in SETS for _ in range(3)]
    assert sum(least == most for least, most in known) >= 0.9 * len(known)


@pytest.mark.parametrize("name", [*SOUND, "two cubes"])
def test_slices_agree_with_the_formulas(name: str) -> None:
    """The truth itself: slices of the named shapes give their volume, area and bodies."""
    shape = {**SOUND, "two cubes": TWO_CUBES}[name]
    levels = [Level(LEVEL[v][1], many(a)) for v, a in shape.outlines.items() if v in LEVEL]
    plans = [many(a) for v, a in shape.outlines.items() if v == "top"]
    volume, surface, bodies = Sliced(shape.size, levels, plans).measures
    assert volume == pytest.approx(shape.volume, rel=1e-9)
    assert surface == pytest.approx(shape.area, rel=1e-7)  # jumps are seen 1e-8 of a step away
    assert bodies == (len(shape.bodies) or 1,) * 2


# Degenerate neighbours, one by one.

BLOCK = Stock((80.0, 40.0, 50.0))


def cut(outlines: Mapping[str, Area], stock: Stock = BLOCK) -> Solid:
    return solid(stock, [profile(view, area, stock) for view, area in outlines.items()])


def test_an_outline_equal_to_the_face_takes_nothing() -> None:
    whole = cut({v: rect(0, 0, *BLOCK.face(VIEWS[v]).size) for v in VIEWS})
    assert whole.volume == pytest.approx(80 * 40 * 50, rel=1e-12)
    assert whole.surface_area == pytest.approx(2 * (3200 + 4000 + 2000), rel=1e-12)


@pytest.mark.parametrize("past", [1e-9, 1e-3, 5.0, 1e4])
def test_an_outline_past_the_stock(past: float) -> None:
    """What lies off the stock is of no matter, however far it reaches."""
    made = cut({"front": rect(20, -past, 80 + past, 50 + past), "top": rect(-past, 0, 80, 30)})
    assert made.volume == pytest.approx(60 * 30 * 50, rel=1e-12)
    assert made.surface_area == pytest.approx(2 * (60 * 30 + 60 * 50 + 30 * 50), rel=1e-12)


def test_an_outline_off_the_stock_leaves_nothing() -> None:
    for area in (rect(-30, 0, 0, 50), rect(80, 0, 90, 50), rect(200, 200, 300, 300)):
        assert cut({"front": area}).bodies == ()


def test_a_hole_that_touches_the_side_of_its_outline() -> None:
    """A triangle with its tip on the lower side: two corners of material touch along a line."""
    area = Polygon([(0, 0), (80, 0), (80, 50), (0, 50)], [[(40, 0), (60, 30), (20, 30)]])
    made = cut({"front": area})
    assert made.volume == pytest.approx((4000 - 600) * 40, rel=1e-12)
    assert len(made.bodies) == 1


def test_an_outline_in_several_polygons() -> None:
    """Two of them touch in a corner, one lies apart, one is cut by the other view."""
    area = many(shapely.union_all([rect(0, 0, 20, 20), rect(20, 20, 40, 40), rect(60, 0, 80, 50)]))
    made = cut({"front": area, "right": rect(0, 0, 40, 30)})
    expected = [20 * 30 * 40, 20 * 20 * 40, 20 * 10 * 40]
    assert [b.volume for b in made.bodies] == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("width", "pieces"), [(0.0, 2), (1e-4, 1), (0.01, 1)])
def test_a_neck_that_has_no_width(width: float, pieces: int) -> None:
    made = cut({"front": two_blocks(width)})
    assert len(made.bodies) == pieces
    assert made.volume == pytest.approx(2 * 30 * 50 * 40 + 20 * width * 40, rel=1e-12)


def test_a_neck_thinner_than_the_proof_can_see_is_none() -> None:
    """Then the twin is the part, with its walls some 1e-8 of the diagonal further in."""
    made = cut({"front": two_blocks(1e-8)})
    assert len(made.bodies) == 2
    lost = 2 * 30 * 50 * 40 - made.volume
    assert 0 < lost <= 2e-8 * BLOCK.diagonal * made.surface_area


def two_blocks(neck: float) -> MultiPolygon:
    """Two rectangles with a bridge of this width between them."""
    bridge = rect(30, 25 - neck / 2, 50, 25 + neck / 2)
    return many(shapely.union_all([rect(0, 0, 30, 50), rect(50, 0, 80, 50), bridge]))


def test_a_neck_of_two_tips() -> None:
    left, right = Polygon([(0, 0), (40, 25), (0, 50)]), Polygon([(80, 0), (80, 50), (40, 25)])
    made = cut({"front": MultiPolygon([left, right])})
    assert [b.volume for b in made.bodies] == pytest.approx([1000 * 40] * 2, rel=1e-12)


def test_cubes_that_touch_in_a_point() -> None:
    made = CORNER_CUBES.solid
    assert [b.volume for b in made.bodies] == pytest.approx([1000, 1000], rel=1e-12)


@given(st.integers(0, 10_000))
def test_front_and_rear_take_what_either_takes(seed: int) -> None:
    """The rear outline is the mirror image: both together are their intersection."""
    rng = np.random.default_rng(seed)
    front, rear = (
        affinity.scale(lattice_polygon(rng, 8, 5), 10, 6.25, origin=(0, 0)) for _ in range(2)
    )
    mirrored = affinity.scale(rear, -1, 1, origin=(40, 0))
    common = many(shapely.intersection(front, mirrored))
    made = cut({"front": front, "rear": rear})
    assert made.volume == pytest.approx(common.area * 40, rel=1e-9, abs=1e-6)
    assert made.surface_area == pytest.approx(2 * common.area + common.length * 40, abs=1e-3)


@pytest.mark.parametrize("width", [1.0, 20.0, 40 * math.sqrt(2) - 1, 40 * math.sqrt(2)])
def test_a_strip_across_the_corners(width: float) -> None:
    """A square block of side a seen at 45 degrees: two corners of leg a - w/√2 go."""
    stock, view = Stock((40.0, 40.0, 10.0)), OWN["corner"][0]
    middle = 40 * HALF
    strip = rect(middle - width / 2, 0, middle + width / 2, 10)
    made = solid(stock, [profile(view, strip, stock)])
    leg = 40 - width * HALF
    assert made.volume == pytest.approx((1600 - leg**2) * 10, rel=1e-9)


def test_an_octagon_from_two_views_across() -> None:
    """Strips of the block's own width at 45 and -45 degrees leave a regular octagon: 2(√2-1)a²."""
    stock = Stock((40.0, 40.0, 10.0))
    strip = rect(40 * HALF - 20, 0, 40 * HALF + 20, 10)
    views = [OWN["corner"][0], view_along((-1, 1, 0), (0, 0, 1), "other")]
    made = solid(stock, [profile(v, strip, stock) for v in views])
    assert made.volume == pytest.approx(2 * (math.sqrt(2) - 1) * 1600 * 10, rel=1e-9)
    assert len(made.bodies) == 1


def test_a_ball_of_six_views_is_that_of_three() -> None:
    """Discs from front and rear, left and right, top and bottom: each pair shares all walls."""
    stock = Stock((20.0, 20.0, 20.0))
    round_ = disc(10, 10, 10, 48)
    three = cut(dict.fromkeys(["front", "right", "top"], round_), stock)
    six = cut(dict.fromkeys(VIEWS, round_), stock)
    assert six.volume == pytest.approx(three.volume, rel=1e-9)
    assert six.surface_area == pytest.approx(three.surface_area, rel=1e-9)
    assert len(six.bodies) == 1


# What does not matter.


@settings(max_examples=15)
@given(st.integers(0, 10_000), st.sampled_from([3, 4]))
def test_the_order_of_outlines(seed: int, size: int) -> None:
    (truth,) = triples(size, seed, 1)
    shape = shape_of(truth)
    for order in permutations(shape.profiles):
        check_measures(solid(shape.stock, order), truth, [p.name for p in order])


@given(st.integers(0, 10_000), st.sampled_from(["front", "right", "top"]))
def test_an_outline_given_twice(seed: int, again: str) -> None:
    (truth,) = triples(4, seed, 1)
    shape = shape_of(truth)
    twice = [*shape.profiles, *(p for p in shape.profiles if p.name == again)]
    check_measures(solid(shape.stock, twice), truth, again)


# Waste and its prisms.


def test_waste_reaches_past_the_stock() -> None:
    made = Waste(many(rect(10, 10, 20, 20)), VIEWS["front"]).prism(BLOCK)
    low, high = made.bounds
    assert low[1] < 0
    assert high[1] > 40
    assert made.volume == pytest.approx(100 * (high[1] - low[1]), rel=1e-12)


@pytest.mark.parametrize("distance", [1e-6, 0.1])
def test_grown_waste(distance: float) -> None:
    """A square grows on all sides with sharp corners; a hole in it shrinks by as much."""
    area = Polygon(rect(0, 0, 20, 20).exterior.coords, [rect(5, 5, 15, 15).exterior.coords])
    grown = Waste(many(area), VIEWS["top"]).grown(distance).area
    expected = (20 + 2 * distance) ** 2 - (10 - 2 * distance) ** 2
    assert grown.area == pytest.approx(expected, rel=1e-12)


def test_no_waste() -> None:
    assert carve(BLOCK, []).volume == pytest.approx(80 * 40 * 50, rel=1e-12)
    assert carve(BLOCK, [Waste(MultiPolygon(), VIEWS["top"])]).volume == pytest.approx(160_000)


@pytest.mark.parametrize("name", ["crossed bars", "discs"])
def test_any_of_the_wastes(name: str) -> None:
    """What is left after some of them is what carving with those alone leaves."""
    shape = SOUND[name]
    wastes = [waste_of(p, shape.stock) for p in shape.profiles]
    carving = Carving(shape.stock, wastes)
    for taken in ({0}, {1}, {0, 1}, set(), set(range(len(wastes)))):
        alone = carve(shape.stock, [wastes[i] for i in taken])
        assert carving.less(taken).volume == pytest.approx(alone.volume, rel=1e-12)
        assert carving.less(taken) is carving.less(taken)  # computed once


# The proof: what must be refused is, and what comes when nothing passes.

WRONG_FIRST = [
    (
        grid("....", "....", ".#..", ".##."),
        grid("###.", "###.", "#.##", "#.##"),
        grid("#.#.", "####", "...#", "...."),
    ),
    (
        grid("....", "....", ".#.#", ".###"),
        grid("####", ".##.", "###.", "####"),
        grid("....", "...#", "..##", "..##"),
    ),
    (
        grid("#.#.", "####", ".#..", ".##."),
        grid("###.", "###.", "..##", "..##"),
        grid(".##.", "..##", "...#", "...."),
    ),
]
"""Front, right, top. Taking these away in this order leaves flaps of no thickness in manifold3d
3.5.4; should a later release get all of them right, look for others among the big ensemble."""


@pytest.fixture
def verdicts(monkeypatch: pytest.MonkeyPatch) -> list[tuple[Solid, bool]]:
    """Every candidate that the proof has looked at, and whether it passed."""
    seen: list[tuple[Solid, bool]] = []
    judge = MODULE._agree

    def agree(made: Solid, twin: Solid, moved: float) -> bool:
        seen.append((made, judge(made, twin, moved)))
        return seen[-1][1]

    monkeypatch.setattr(MODULE, "_agree", agree)
    return seen


@pytest.mark.parametrize("number", range(len(WRONG_FIRST)))
def test_a_wrong_order_is_refused(number: int, verdicts: list[tuple[Solid, bool]]) -> None:
    truth = Triple(*WRONG_FIRST[number])
    made = shape_of(truth).solid
    check_measures(made, truth, number)
    refused = [candidate for candidate, passed in verdicts if not passed]
    assert refused, "the engine gets this one right by now: look for another"
    for candidate in refused:
        off = abs(candidate.volume - truth.volume) + abs(candidate.surface_area - truth.area)
        assert off > 1.0


def tampered(made: Solid, **wrong: object) -> Solid:
    """A copy of which some measures are said to be other than they are."""
    copy = Solid(made._engine)
    vars(copy).update(wrong)
    return copy


def proof_of(shape: Shape) -> tuple[Solid, Solid, float]:
    """What is carved, its twin, and how far the twin's walls were moved at most."""
    wastes = [waste_of(p, shape.stock) for p in shape.profiles]
    carving = Carving(shape.stock, wastes)
    every = frozenset(range(len(wastes)))
    return carving.less(every), carving._twin(every), max(carving._moves)


@pytest.mark.parametrize("name", SOUND)
def test_what_the_proof_refuses(name: str) -> None:
    """A flap of 0.1 mm², a volume that is off by a thousandth of a mm³ per mm³, a body more."""
    shape = SOUND[name]
    made, twin, moved = proof_of(shape)
    assert MODULE._agree(made, twin, moved)
    for off in (0.1, -0.1):
        assert not MODULE._agree(tampered(made, surface_area=made.surface_area + off), twin, moved)
        assert not MODULE._agree(tampered(made, volume=made.volume * (1 + off / 100)), twin, moved)
    assert not MODULE._agree(tampered(made, bodies=(made, made)), twin, moved)
    assert not MODULE._agree(tampered(made, bodies=()), twin, moved)


def test_no_two_walls_of_a_twin_coincide() -> None:
    """A step at one height in two outlines, from either side, and the stock's own faces."""
    step = Polygon([(0, 0), (40, 0), (40, 20), (20, 20), (20, 40), (0, 40)])
    shape = Shape((40, 40, 40), dict.fromkeys(["front", "right", "top"], step), 0, 0)
    _, twin, moved = proof_of(shape)
    for axis in range(3):
        places = np.unique(np.round(twin.mesh.vertices[:, axis], 12))
        gaps = np.diff(places)
        assert gaps.min() > moved / 10
        # two outlines have a wall near the middle
        assert (np.abs(places - 20) <= 2 * moved).sum() == 2


def fallback_shapes() -> Iterator[tuple[str, Shape]]:
    yield from SOUND.items()
    yield from (
        (f"cells {size} {i}", shape_of(t))
        for size in (3, 4)
        for i, t in enumerate(triples(size, 7, 5))
    )


@pytest.mark.parametrize(("name", "shape"), list(fallback_shapes()), ids=lambda x: str(x)[:20])
def test_when_no_order_passes_the_twin_is_the_part(
    name: str, shape: Shape, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """It is too small by no more than walls moved by 1e-8 of the diagonal and a little."""
    exact = shape.solid
    monkeypatch.setattr(MODULE, "_agree", lambda *_: False)
    monkeypatch.setattr(MODULE, "_MOST_ORDERS", 1)
    twin = shape.solid
    moved = 1e-8 * shape.stock.diagonal * (1 + 2 * len(shape.outlines) / 3)
    assert 0 < exact.volume - twin.volume <= moved * exact.surface_area
    assert len(twin.bodies) == len(exact.bodies)
    assert (twin.bounds[0] > exact.bounds[0]).all()
    assert (twin.bounds[1] < exact.bounds[1]).all()
    for body in twin.bodies:
        export_mesh([body.mesh], tmp_path / "a.stl", name=name, material="")
        assert closed(tmp_path / "a.stl")


def test_every_order_is_tried_before_the_twin(monkeypatch: pytest.MonkeyPatch) -> None:
    """One profile: its last waste, then the one order there is."""
    calls: list[object] = []

    def refuse(*solids: object) -> bool:
        calls.append(solids)
        return False

    monkeypatch.setattr(MODULE, "_agree", refuse)
    shape = SOUND["wedge"]
    assert shape.solid.volume < shape.volume
    assert len(calls) == 2


def wavy(waves: int) -> Polygon:
    """A round shape of a thousand corners, 100 mm wide."""
    t = np.linspace(0, 2 * np.pi, 1000, endpoint=False)
    r = 42 * (1 + 0.1 * np.sin(waves * t + waves) + 0.02 * np.sin(37 * t))
    return Polygon(50 + np.column_stack([r * np.cos(t), r * np.sin(t)]))


def test_outlines_of_a_thousand_corners() -> None:
    """As large as real drawings get.

    Of two level outlines the volume is the integral of width times width, a
    quadratic between the heights of corners: two points of Gauss are exact.
    """
    stock = Stock((100.0, 100.0, 100.0))
    outlines = {"front": wavy(5), "right": wavy(7)}
    levels = [Level(LEVEL[view][1], many(area)) for view, area in outlines.items()]
    heights = np.unique(np.concatenate([level.edges[:, :, 1].ravel() for level in levels]))
    heights = heights[np.r_[True, np.diff(heights) > 1e-9]]
    exact = 0.0
    for low, high in pairwise(heights):
        for z in (low + high) / 2 + (high - low) / 2 * np.array([-1, 1]) / math.sqrt(3):
            one, other = (float(np.diff(level.crossings(z)).sum()) for level in levels)
            exact += (high - low) / 2 * one * other
    assert cut(outlines, stock).volume == pytest.approx(exact, rel=1e-9)

    outlines["top"] = wavy(9)
    made = cut(outlines, stock)
    assert len(made.bodies) == 1
    assert 0 < made.volume < exact
    for view, area in outlines.items():
        assert shapely.difference(made.shadow(VIEWS[view]), area).area <= 1e-6 * area.length
