"""Carving against exact truth: counted cells and exact slices.

Walls that coincide are the normal case here: outlines on a grid share the
stock's faces and each other's heights, and meet in edges and points.
"""

from __future__ import annotations

from itertools import permutations
from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, affinity

from silhouette3d.documents.meshes.write import export_mesh
from silhouette3d.geometry.frames import VIEWS, View
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.tolerances import GRID
from tests.oracles.slices import Level, Sliced, lattice_polygon
from tests.oracles.voxels import SIDE, Triple, triples
from tests.support.carving import SHARE, check_measures, closed, shape_of
from tests.support.shapes import (
    SOUND,
    TWO_CUBES,
    cells,
    many,
    profile,
    solid,
)
from tests.support.views import LEVEL, SETS

# Outlines on a grid: every wall may coincide with others.


def rows(filled: np.ndarray) -> list[str]:
    """Cells as `grid` reads them, to be written into a test."""
    return ["".join("#" if cell else "." for cell in row) for row in filled.T[::-1]]


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


# What does not matter.


@settings(max_examples=15)
@given(st.integers(0, 10_000), st.sampled_from([3, 4]))
def test_the_order_of_outlines(seed: int, size: int) -> None:
    (truth,) = triples(size, seed, 1)
    shape = shape_of(truth)
    for order in permutations(shape.profiles):
        check_measures(solid(shape.stock, order), truth, [p.name for p in order])


@settings(max_examples=20)
@given(st.integers(0, 10_000), st.sampled_from(["front", "right", "top"]))
def test_an_outline_given_twice(seed: int, again: str) -> None:
    (truth,) = triples(4, seed, 1)
    shape = shape_of(truth)
    twice = [*shape.profiles, *(p for p in shape.profiles if p.name == again)]
    check_measures(solid(shape.stock, twice), truth, again)


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
