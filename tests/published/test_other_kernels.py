"""Parts against other programs that know nothing of this one: Open CASCADE, trimesh, counted cells.

Sources
-------
Open CASCADE Technology 8.0 (package ``cadquery-ocp-novtk``), a modelling kernel of exact surfaces:
prisms, their common solid, and its figures by ``BRepGProp``.
trimesh, ``Trimesh.mass_properties``, after B. Mirtich's method and D. Eberly, "Polyhedral mass
properties (revisited)", 2002 (from memory), of the files that the part is written to.
Cells of a grid, counted with numpy and scipy.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
import tomlkit
import trimesh
from shapely import MultiPolygon

import silhouette3d
from tests.oracles.voxels import SIDE, Triple, triples
from tests.published import occ
from tests.published.drawn import Circle, slanted, write
from tests.published.drawn import load as load_drawn
from tests.support.shapes import Shape, cells, load, loops, many

SIZE = (60.0, 40.0, 50.0)
VIEWS = ("front", "right", "top")

SAME = 1e-9
"""Relative. Placed outlines are rounded to 1e-9 mm, walls so move by half of that, on parts of some
20 mm: 1e-10 or less of every figure. Open CASCADE is given the outlines as they were drawn."""


def assert_same(part: silhouette3d.Part, other: occ.Figures) -> None:
    assert part.solid.volume == pytest.approx(other.volume, rel=SAME)
    assert part.mass * 1e3 == pytest.approx(other.volume, rel=SAME)
    assert part.solid.surface_area == pytest.approx(other.area, rel=SAME)
    size = float(np.max(part.solid.size))
    assert np.allclose(part.measures.centre, other.centre, rtol=0, atol=SAME * size)
    largest = float(np.abs(other.inertia).max())
    inertia = part.measures.inertia * 1e3
    assert np.allclose(inertia, other.inertia, rtol=0, atol=SAME * largest)


def by_occ(outlines: Mapping[str, MultiPolygon]) -> occ.Figures:
    """Each outline must be one polygon."""
    prisms = []
    for view, area in outlines.items():
        (polygon,) = area.geoms
        prisms.append(occ.Face(occ.SIGHTS[view], SIZE).polygon_prism(polygon))
    return occ.figures(occ.common(SIZE, prisms))


def faces(*views: str) -> dict[str, occ.Face]:
    return {view: occ.Face(occ.SIGHTS[view], SIZE) for view in views}


def slanted_outlines(seed: int, views: tuple[str, ...] = VIEWS) -> dict[str, MultiPolygon]:
    rng = np.random.default_rng(seed)
    return {view: slanted(rng, face.width, face.height) for view, face in faces(*views).items()}


def assert_slanted(seed: int, folder: Path, views: tuple[str, ...]) -> None:
    outlines = slanted_outlines(seed, views)
    part = load(folder, Shape(SIZE, outlines, 0.0, 0.0))
    other = by_occ(outlines)
    assert len(part.solid.bodies) == other.bodies
    assert_same(part, other)


@pytest.mark.parametrize("seed", range(7))
def test_three_slanted_outlines_with_holes(seed: int, tmp_path: Path) -> None:
    assert_slanted(seed, tmp_path, VIEWS)


@pytest.mark.parametrize("seed", range(7, 10))
def test_outlines_from_the_other_sides(seed: int, tmp_path: Path) -> None:
    assert_slanted(seed, tmp_path, ("rear", "left", "bottom"))


@pytest.mark.big
@pytest.mark.parametrize("seed", range(100, 160))
def test_many_slanted_outlines(seed: int, tmp_path: Path) -> None:
    views = (("front", "rear"), ("right", "left"), ("top", "bottom"))
    rng = np.random.default_rng(seed)
    assert_slanted(seed, tmp_path, tuple(str(rng.choice(pair)) for pair in views))


# Walls that coincide: with the stock's faces and with each other's heights.


def flush(rng: np.random.Generator, width: float, height: float) -> MultiPolygon:
    """A slanted outline with its corners on a grid of 5 mm, as wide and as high as its face."""
    while True:
        star = slanted(rng, width, height)
        snapped = shapely.transform(star, lambda p: 5.0 * np.round(p / 5.0))
        band = shapely.box(0.0, 15.0, width, 20.0)
        post = shapely.box(20.0, 0.0, 25.0, height)
        if snapped.is_valid:
            area = many(shapely.union_all([snapped, band, post]))
            if len(area.geoms) == 1:
                return area


def assert_flush(seed: int, folder: Path) -> None:
    rng = np.random.default_rng(seed)
    outlines = {view: flush(rng, f.width, f.height) for view, f in faces(*VIEWS).items()}
    part = load(folder, Shape(SIZE, outlines, 0.0, 0.0))
    assert np.ptp(part.solid.bounds, axis=0) == pytest.approx(SIZE, rel=SAME)
    assert_same(part, by_occ(outlines))


@pytest.mark.parametrize("seed", range(5))
def test_outlines_flush_with_the_stock_and_each_other(seed: int, tmp_path: Path) -> None:
    assert_flush(seed, tmp_path)


@pytest.mark.big
@pytest.mark.parametrize("seed", range(100, 150))
def test_many_flush_outlines(seed: int, tmp_path: Path) -> None:
    assert_flush(seed, tmp_path)


# A view of one's own.

OWN = [((1.0, 1.0, 0.0), (0.0, 0.0, 1.0)), ((2.0, 1.0, -1.5), (0.1, 0.2, 1.0))]


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize(("look", "up"), OWN, ids=["level", "oblique"])
def test_a_view_of_ones_own(
    seed: int, look: tuple[float, ...], up: tuple[float, ...], tmp_path: Path
) -> None:
    """Front, top, and one across, drawn from the corner of the block's shadow."""
    outlines = slanted_outlines(seed, ("front", "top"))
    across = occ.Face(occ.Sight(look, up), SIZE)
    own = slanted(np.random.default_rng(seed), across.width, across.height)
    tables: list[dict[str, Any]] = []
    for name, area in {**outlines, "across": own}.items():
        write(tmp_path / f"{name}.dxf", loops(area))
        view = {"look": list(look), "up": list(up)} if name == "across" else name
        tables.append({"name": name, "view": view, "drawing": f"{name}.dxf", "datum": [0.0, 0.0]})
    stock = {"size": list(SIZE), "density": 1.0}
    job = {"name": "across", "stock": stock, "profile": tables}
    (tmp_path / "job.toml").write_text(tomlkit.dumps(job), "utf-8")

    prisms = [f.polygon_prism(outlines[v].geoms[0]) for v, f in faces("front", "top").items()]
    prisms.append(across.polygon_prism(own.geoms[0]))
    assert_same(silhouette3d.load(tmp_path), occ.figures(occ.common(SIZE, prisms)))


# True circles, off centre and partly off the stock: within the bound that the part states.


OF_CURVES = 1e-8
"""Relative. Open CASCADE approximates the curves in which cylinders meet: its own three cylinders
are off by 1e-9."""


def test_open_cascade_knows_the_steinmetz_solids() -> None:
    """16/3 r³, and 8 (2 − √2) r³: MathWorld, "Steinmetz Solid"."""
    r, size = 15.0, (40.0, 40.0, 40.0)
    prisms = [occ.Face(occ.SIGHTS[view], size).disc_prism(20.0, 20.0, r) for view in VIEWS]
    two = occ.figures(occ.common(size, prisms[:2])).volume
    three = occ.figures(occ.common(size, prisms)).volume
    assert two == pytest.approx(16.0 / 3.0 * r**3, rel=OF_CURVES)
    assert three == pytest.approx(8.0 * (2.0 - 2.0**0.5) * r**3, rel=OF_CURVES)


@pytest.mark.parametrize("tolerance", [0.3, 0.01])
@pytest.mark.parametrize("seed", range(4))
def test_true_circles(seed: int, tolerance: float, tmp_path: Path) -> None:
    rng = np.random.default_rng(seed)
    discs = {
        view: Circle(
            float(f.width * rng.uniform(0.35, 0.65)),
            float(f.height * rng.uniform(0.35, 0.65)),
            float(min(f.width, f.height) * rng.uniform(0.4, 0.6)),
        )
        for view, f in faces(*VIEWS).items()
    }
    outlines = {view: [disc] for view, disc in discs.items()}
    part = load_drawn(tmp_path, SIZE, outlines, tolerance=tolerance)
    prisms = [
        f.disc_prism(d.u, d.v, d.radius)
        for d, f in zip(discs.values(), faces(*VIEWS).values(), strict=True)
    ]
    other = occ.figures(occ.common(SIZE, prisms))
    own_error = OF_CURVES * other.volume
    error = part.volume_error + own_error
    assert part.solid.volume < other.volume + own_error
    assert other.volume - part.solid.volume <= error
    # what is missing lies in the block, a diagonal away from the centre at most
    reach = part.stock.diagonal
    moved = float(np.linalg.norm(part.measures.centre - other.centre))
    assert moved <= error * reach / other.volume
    off = np.abs(part.measures.inertia * 1e3 - other.inertia)
    assert off.max() <= error * reach**2


# Cells of a grid.


def cell_figures(filled: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Centre, and inertia about it, of cubes of one density."""
    middles = SIDE * (np.argwhere(filled) + 0.5)
    centre = middles.mean(axis=0)
    away = middles - centre
    moments = SIDE**3 * (away.T @ away + len(middles) * SIDE**2 / 12.0 * np.eye(3))
    return centre, np.trace(moments) * np.eye(3) - moments


def assert_counted(triple: Triple, folder: Path) -> None:
    outlines = {view: cells(getattr(triple, view)) for view in VIEWS}
    (width, height), depth = triple.front.shape, len(triple.right)
    size = (width * SIDE, depth * SIDE, height * SIDE)
    part = load(folder, Shape(size, outlines, 0.0, 0.0))
    if not triple.filled.any():
        with pytest.raises(silhouette3d.EmptyPartError):
            _ = part.solid
        return
    # whole millimetres: only sums are rounded
    assert part.solid.volume == pytest.approx(triple.volume, rel=1e-12)
    assert part.solid.surface_area == pytest.approx(triple.area, rel=1e-12)
    assert [b.volume for b in part.solid.bodies] == pytest.approx(triple.body_volumes, rel=1e-12)
    centre, inertia = cell_figures(triple.filled)
    assert np.allclose(part.measures.centre, centre, rtol=1e-12, atol=0)
    largest = inertia.max()
    assert np.allclose(part.measures.inertia * 1e3, inertia, rtol=0, atol=1e-12 * largest)


@pytest.mark.parametrize("size", [2, 3, 5])
def test_parts_of_cells(size: int, tmp_path: Path) -> None:
    for triple in triples(size, 20, 8):
        assert_counted(triple, tmp_path)


@pytest.mark.big
@pytest.mark.parametrize("size", [2, 3, 4, 5, 6])
def test_many_parts_of_cells(size: int, tmp_path: Path) -> None:
    for triple in triples(size, 21, 100):
        assert_counted(triple, tmp_path)


# The files that a part is written to.


@pytest.mark.parametrize("suffix", [".stl", ".ply", ".3mf", ".obj"])
@pytest.mark.parametrize("seed", range(2))
def test_mass_properties_of_the_file(suffix: str, seed: int, tmp_path: Path) -> None:
    part = load(tmp_path, Shape(SIZE, slanted_outlines(seed), 0.0, 0.0))
    path = tmp_path / f"part{suffix}"
    part.export(path)
    mesh = trimesh.load_scene(path).to_mesh()
    assert mesh.is_watertight
    mesh.density = 1e-3  # g/mm³
    # Coordinates up to 60 mm in single precision are off by half of 2⁻¹⁸ mm, a wall so by √3 times
    # that; what is between lies in the block, a diagonal away from the centre at most.
    between = 3**0.5 * 2.0**-19 * part.solid.surface_area
    reach = part.stock.diagonal
    assert mesh.volume == pytest.approx(part.solid.volume, abs=between)
    assert mesh.mass == pytest.approx(part.mass, abs=between * 1e-3)
    shift = float(np.linalg.norm(mesh.center_mass - part.measures.centre))
    assert shift <= between * reach / part.solid.volume
    off = np.abs(mesh.moment_inertia - part.measures.inertia).max()
    assert off <= between * 1e-3 * reach**2


@pytest.mark.parametrize("seed", range(10))
def test_mass_properties_in_double_precision(seed: int, tmp_path: Path) -> None:
    """trimesh on the part's own triangles: the same sums by another way."""
    part = load(tmp_path, Shape(SIZE, slanted_outlines(seed), 0.0, 0.0))
    own = part.solid.mesh
    mesh = trimesh.Trimesh(own.vertices, own.triangles, process=False)
    mesh.density = 1e-3  # g/mm³
    # some hundred terms, of which those far from the origin cancel: three digits of sixteen
    assert mesh.mass == pytest.approx(part.mass, rel=1e-12)
    assert mesh.area == pytest.approx(part.solid.surface_area, rel=1e-12)
    assert np.allclose(mesh.center_mass, part.measures.centre, rtol=1e-11, atol=0)
    largest = float(np.abs(part.measures.inertia).max())
    assert np.allclose(mesh.moment_inertia, part.measures.inertia, rtol=0, atol=1e-11 * largest)
