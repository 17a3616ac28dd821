"""The part of a job: what must hold whatever its outlines are, and how its errors read."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import Any

import ezdxf.filemanagement
import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, affinity

import silhouette3d
from silhouette3d.errors import DrawingError, EmptyPartError, JobError, SilhouetteError
from silhouette3d.geometry.frames import VIEWS
from silhouette3d.geometry.removal import stock_solid
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock
from silhouette3d.process.profile import Profile
from tests.oracles.slices import lattice_polygon
from tests.oracles.voxels import Triple, triples
from tests.support.shapes import (
    ELL,
    IN_PIECES,
    PLATE,
    SOUND,
    WEDGE,
    Area,
    Shape,
    cells,
    load,
    many,
    profile,
    rect,
    scaled,
    solid,
    write_dxf,
    write_job,
    write_svg,
)

# The engine works to 1e-12 of the size; a lost face or corner is a thousandth and more.
SHARE = 1e-9


# From files.


@pytest.mark.parametrize("name", [*SOUND, *IN_PIECES])
def test_shapes_from_files(name: str, tmp_path: Path) -> None:
    shape = {**SOUND, **IN_PIECES}[name]
    part = load(tmp_path, shape)
    assert part.solid.volume == pytest.approx(shape.volume, rel=SHARE)
    assert part.solid.surface_area == pytest.approx(shape.area, rel=SHARE)
    assert len(part.solid.bodies) == (len(shape.bodies) or 1)
    assert part.mass == pytest.approx(shape.volume / 1000, rel=SHARE)  # 1 g/cm³
    assert part.stock_mass == pytest.approx(math.prod(shape.size) / 1000)
    assert part.share_removed == pytest.approx(1 - shape.volume / math.prod(shape.size))
    assert part.volume_error == 0


@pytest.mark.parametrize("name", ["comb", "wedge", "ell"])
def test_svg_and_dxf_give_one_part(name: str, tmp_path: Path) -> None:
    shape = SOUND[name]
    path = write_job(tmp_path, shape)
    for view, area in shape.outlines.items():
        height = Stock(shape.size).face(VIEWS[view]).size[1]
        write_svg(tmp_path / f"{view}.svg", area, height)
    text = path.read_text("utf-8").replace(".dxf", ".svg")
    path.write_text(text, "utf-8")
    assert silhouette3d.load(path).solid.volume == pytest.approx(shape.volume, rel=SHARE)


def test_a_part_is_computed_once(tmp_path: Path) -> None:
    part = load(tmp_path, ELL)
    assert part.solid is part.solid
    assert part.findings is part.findings
    assert part.profiles is part.profiles


def test_drawings_are_read_when_something_is_asked_for(tmp_path: Path) -> None:
    path = write_job(tmp_path, ELL)
    (tmp_path / "front.dxf").unlink()
    part = silhouette3d.load(path)
    assert part.name == "shape"
    assert part.stock.size == (40.0, 20.0, 30.0)
    with pytest.raises(DrawingError):
        _ = part.solid


def test_profiles_by_name(tmp_path: Path) -> None:
    part = load(tmp_path, ELL, profiles={"right": {"name": "side"}})
    assert [p.name for p in part.profiles] == ["front", "side"]
    assert part.profile("side") is part.profiles[1]
    with pytest.raises(KeyError):
        part.profile("right")


def test_the_material_gives_the_density(tmp_path: Path) -> None:
    part = load(tmp_path, PLATE, stock={"density": None, "material": "aluminium 6061"})
    assert part.material is not None
    assert part.density == part.material.density_g_cm3
    assert part.mass == pytest.approx(24 * part.density)
    own = load(tmp_path, PLATE, stock={"density": 2.5, "material": "aluminium 6061"})
    assert own.material is None
    assert own.mass == pytest.approx(60)


def test_what_is_lost_of_an_outline(tmp_path: Path) -> None:
    """The right outline is 2 mm lower: a strip of the front is not filled."""
    shape = Shape((80, 40, 50), {"front": rect(0, 0, 80, 50), "right": rect(0, 0, 40, 48)}, 0, 0)
    part = load(tmp_path, shape)
    lost = part.lost("front")
    assert shapely.symmetric_difference(lost, rect(0, 48, 80, 50)).area <= 1e-3
    assert part.lost("right").is_empty


# The flattening of curves: a bound, and a good one.


def circle_job(folder: Path, **more: Any) -> silhouette3d.Part:
    """Two cylinders of radius 20 in a cube, drawn as circles."""
    path = write_job(
        folder,
        Shape((40, 40, 40), {"front": PLATE.outlines["top"], "right": PLATE.outlines["top"]}, 0, 0),
        **more,
    )
    for view in ("front", "right"):
        document = ezdxf.filemanagement.new("R2010", units=4)
        document.modelspace().add_circle((20, 20), 20)
        document.saveas(folder / f"{view}.dxf")
    return silhouette3d.load(path)


@pytest.mark.parametrize("tolerance", [0.5, 0.1, 0.01, 0.001])
def test_the_volume_error_is_a_bound(tolerance: float, tmp_path: Path) -> None:
    """16/3 r³: Archimedes, The Method; Steinmetz solid (MathWorld)."""
    part = circle_job(tmp_path, tolerance=tolerance)
    off = 16 / 3 * 20**3 - part.solid.volume
    assert 0 < off <= part.volume_error
    # and not more than a few times too careful: each outline counts for the whole depth
    assert part.volume_error <= 4 * off
    assert part.measures.mass_error == pytest.approx(part.volume_error / 1000)


@pytest.mark.parametrize("along", "xyz")
def test_the_volume_error_of_a_bar(along: str, tmp_path: Path) -> None:
    bar = {"size": None, "round": {"diameter": 40.0, "length": 60.0, "along": along}}
    view = {"x": "front", "y": "right", "z": "front"}[along]
    width = 60 if along != "z" else 40
    shape = Shape((0, 0, 0), {view: rect(0, 0, width, 100 - width)}, 0, 0)
    part = load(tmp_path, shape, stock=bar, tolerance=0.1)
    exact = math.pi * 400 * 60
    assert part.share_removed == pytest.approx(0, abs=1e-12)
    assert exact - part.solid.volume == pytest.approx(part.volume_error, rel=1e-6)
    assert part.stock_mass == pytest.approx(exact / 1000)


# What must hold whatever the outlines are.

seeds = st.integers(0, 100_000)
STOCK = Stock((60.0, 60.0, 60.0))


TWIN = 0.05
"""mm³ and mm²: what walls that lie some 1e-8 of the diagonal further in than drawn take from a
part of at most 20 000 mm² and some metres of edges. Where no order of cuts passes the proof, they
do; so two ways to the same part may differ by that."""


def outlines_of(seed: int, *views: str) -> dict[str, Area]:
    """Polygons with corners every 10 mm, one or two in each view."""
    rng = np.random.default_rng(seed)
    drawn = {}
    for view in views:
        area: Area = lattice_polygon(rng, 6, int(rng.integers(3, 8)))
        if rng.random() < 0.4:
            area = many(shapely.union(area, lattice_polygon(rng, 6, 4)))
        drawn[view] = affinity.scale(area, 10, 10, origin=(0, 0))
    return drawn


def placed(outlines: Mapping[str, Area], stock: Stock = STOCK) -> list[Profile]:
    return [profile(view, area, stock) for view, area in outlines.items()]


def made(outlines: Mapping[str, Area], stock: Stock = STOCK) -> Solid:
    return solid(stock, placed(outlines, stock))


@given(
    seeds,
    st.sampled_from([("front", "right", "top"), ("rear", "left", "bottom"), ("front", "top")]),
)
def test_inside_every_prism_and_the_stock(seed: int, views: tuple) -> None:
    outlines = outlines_of(seed, *views)
    part = made(outlines)
    room = 1e-6  # mm: by which a perturbed copy, if it is one, lies further in
    assert (part.bounds[0] >= -1e-9).all()
    assert (part.bounds[1] <= np.array(STOCK.size) + 1e-9).all()
    for p in placed(outlines):
        shadow = p.to_face(part.shadow(p.view))
        # shadows lie on a grid of 1e-6 mm
        assert shapely.difference(shadow, shapely.buffer(p.area, 2 * room)).area <= 1e-9
        left = part.minus(
            Solid.prism(p.to_view(many(shapely.buffer(p.area, room))), p.view, (-100, 100))
        )
        assert left.volume <= 1e-9


@settings(max_examples=20)
@given(seeds)
def test_another_outline_takes_away_and_never_adds(seed: int) -> None:
    outlines = outlines_of(seed, "front", "right", "top")
    two = made({v: outlines[v] for v in ("front", "right")})
    three = made(outlines)
    assert three.volume <= two.volume + TWIN
    assert three.minus(two).volume <= TWIN


@settings(max_examples=20)
@given(seeds, st.permutations(range(4)))
def test_the_order_of_profiles_does_not_matter(seed: int, order: list) -> None:
    outlines = outlines_of(seed, "front", "right", "top", "rear")
    profiles = placed(outlines)
    one, other = solid(STOCK, profiles), solid(STOCK, [profiles[i] for i in order])
    assert other.volume == pytest.approx(one.volume, abs=TWIN)
    assert other.surface_area == pytest.approx(one.surface_area, abs=TWIN)
    assert len(other.bodies) == len(one.bodies)


@settings(max_examples=15)
@given(seeds)
def test_eight_parts_make_the_stock(seed: int) -> None:
    """Each outline or the rest of its face, in all combinations: they fill the block once."""
    face = rect(0, 0, 60, 60)
    choices = [
        [(view, area), (view, many(shapely.difference(face, area)))]
        for view, area in outlines_of(seed, "front", "right", "top").items()
    ]
    parts = [made(dict(some)) for some in product(*choices)]
    assert sum(p.volume for p in parts) == pytest.approx(60**3, abs=8 * TWIN)


@settings(max_examples=20)
@given(seeds)
def test_a_quarter_turn_turns_the_part(seed: int) -> None:
    """Turned a quarter about z, what was seen from the front is seen from the right.

    Front u = x becomes right u = y, and right u = y becomes rear u = 60 - x, which
    is x turned: as seen from the rear it is drawn as it was.
    """
    outlines = outlines_of(seed, "front", "right", "top")
    quarter = affinity.rotate(outlines["top"], 90, origin=(30, 30))
    after = {"right": outlines["front"], "rear": outlines["right"], "top": quarter}
    one, other = made(outlines), made(after)
    assert other.volume == pytest.approx(one.volume, abs=TWIN)
    turn = np.array([[0.0, -1, 0, 60], [1, 0, 0, 0], [0, 0, 1, 0]])
    turned = one.mapped(turn)
    assert other.minus(turned).volume <= TWIN
    assert other.centroid == pytest.approx(turned.centroid, abs=1e-4) or one.is_empty
    assert len(other.bodies) == len(one.bodies)


@settings(max_examples=20)
@given(seeds)
def test_mirrored_outlines_mirror_the_part(seed: int) -> None:
    """Left and right change places in the front and the top; the right outline stays."""
    outlines = outlines_of(seed, "front", "right", "top")
    mirrored = {
        view: area if view == "right" else affinity.scale(area, -1, 1, origin=(30, 30))
        for view, area in outlines.items()
    }
    one, other = made(outlines), made(mirrored)
    assert other.volume == pytest.approx(one.volume, abs=TWIN)
    assert other.surface_area == pytest.approx(one.surface_area, abs=TWIN)
    if not one.is_empty:
        expected = one.centroid * [-1, 1, 1] + [60, 0, 0]
        assert other.centroid == pytest.approx(expected, abs=1e-4)


@settings(max_examples=20)
@given(seeds)
def test_from_the_other_side_it_is_drawn_in_the_mirror(seed: int) -> None:
    outlines = outlines_of(seed, "front", "right", "top")
    mirror = {"front": ("rear", -1, 1), "right": ("left", -1, 1), "top": ("bottom", 1, -1)}
    behind = {
        mirror[v][0]: affinity.scale(a, *mirror[v][1:], origin=(30, 30))
        for v, a in outlines.items()
    }
    one, other = made(outlines), made(behind)
    assert other.volume == pytest.approx(one.volume, abs=TWIN)
    assert other.centroid == pytest.approx(one.centroid, abs=1e-4) or one.is_empty


@settings(max_examples=15)
@given(seeds)
def test_outlines_of_the_part_s_own_shadows_give_the_part_again(seed: int) -> None:
    """The largest solid with these shadows: Laurentini 1994, IEEE PAMI 16(2):150-162."""
    (truth,) = triples(4, seed, 1)
    assume(truth.filled.any())
    again = Triple(*(truth.shadow(v) for v in ("front", "right", "top")))
    stock = Stock((40.0, 40.0, 40.0))

    def of(t: Triple) -> Solid:
        return made({v: cells(getattr(t, v)) for v in ("front", "right", "top")}, stock)

    assert of(again).volume == pytest.approx(truth.volume, rel=1e-6)
    assert of(again).volume == pytest.approx(of(truth).volume, rel=1e-6)


# Units.


@pytest.mark.parametrize("name", ["wedge", "crossed bars", "ell"])
def test_a_job_in_inches_is_the_same_part(name: str, tmp_path: Path) -> None:
    """The same numbers in inches: 25.4³ times the volume."""
    shape = SOUND[name]
    path = write_job(tmp_path, shape, units="in")
    for view, area in shape.outlines.items():
        write_dxf(tmp_path / f"{view}.dxf", {"OUTLINE": area}, units=1)
    part = silhouette3d.load(path)
    expected = scaled(shape, 25.4)
    assert part.solid.volume == pytest.approx(expected.volume, rel=SHARE)
    assert part.solid.surface_area == pytest.approx(expected.area, rel=SHARE)
    assert part.mass == pytest.approx(expected.volume / 1000, rel=SHARE)  # g/cm³ in any job


def test_mixed_units(tmp_path: Path) -> None:
    """A job in mm with one drawing in inches that says so, and one that says nothing."""
    path = write_job(tmp_path, ELL, profiles={"right": {"units": "in"}})
    inches = {
        v: affinity.scale(a, 1 / 25.4, 1 / 25.4, origin=(0, 0)) for v, a in ELL.outlines.items()
    }
    write_dxf(tmp_path / "front.dxf", {"OUTLINE": inches["front"]}, units=1)
    write_dxf(tmp_path / "right.dxf", {"OUTLINE": inches["right"]}, units=0)
    assert silhouette3d.load(path).solid.volume == pytest.approx(ELL.volume, rel=1e-8)


# Keys of a profile, through to the part.


def test_turn_and_mirror_in_the_job(tmp_path: Path) -> None:
    """A wedge drawn lying on another side: turned and mirrored back, the part is the same."""
    upright = WEDGE.outlines["front"]
    lying = affinity.rotate(affinity.scale(upright, -1, 1, origin=(0, 0)), -90, origin=(0, 0))
    keys = {"turn": 90.0, "mirror": True}
    shape = replace(WEDGE, outlines={"front": lying})
    part = load(tmp_path, shape, profiles={"front": keys})
    assert part.solid.volume == pytest.approx(WEDGE.volume, rel=SHARE)
    assert part.solid.centroid == pytest.approx([20, 10, 15], rel=SHARE)  # a third from the legs


@pytest.mark.parametrize("view", VIEWS)
def test_a_mark_in_the_lower_left_of_each_view(view: str, tmp_path: Path) -> None:
    """Where a notch of 10 x 10 at the datum of each view is in the block 80 x 40 x 50."""
    notch = {
        "front": (5, None, 5),
        "rear": (75, None, 5),
        "right": (None, 5, 5),
        "left": (None, 35, 5),
        "top": (5, 5, None),
        "bottom": (5, 35, None),
    }[view]
    size = (80.0, 40.0, 50.0)
    face = Stock(size).face(VIEWS[view]).size
    area = many(shapely.difference(rect(0, 0, *face), rect(0, 0, 10, 10)))
    part = load(tmp_path, Shape(size, {view: area}, 0, 0))
    (cut_away,) = stock_solid(Stock(size)).minus(part.solid).bodies
    middle = [size[k] / 2 if at is None else at for k, at in enumerate(notch)]
    assert cut_away.centroid == pytest.approx(middle, abs=1e-9)


# Errors: file, layer, place, and what to do.


def refused(folder: Path, shape: Shape, **more: Any) -> SilhouetteError:
    with pytest.raises(SilhouetteError) as caught:
        _ = load(folder, shape, **more).findings
    error = caught.value
    assert str(folder) in error.where
    assert str(error).endswith(".")
    return error


def test_an_outline_that_crosses_itself(tmp_path: Path) -> None:
    bow = Polygon([(0, 0), (40, 30), (40, 0), (0, 30)])
    drawn = MultiPolygon([bow])
    error = refused(tmp_path, replace(ELL, outlines={"front": drawn}))
    assert isinstance(error, DrawingError)
    assert error.where == f"{tmp_path / 'front.dxf'}, layer 'OUTLINE' (profile 'front')"
    assert "crosses itself at (20, 15)" in error.what


def test_an_empty_part(tmp_path: Path) -> None:
    shape = Shape((10, 10, 20), {"front": rect(0, 0, 10, 9), "right": rect(0, 11, 10, 20)}, 0, 0)
    error = refused(tmp_path, shape)
    assert isinstance(error, EmptyPartError)
    assert error.where == str(tmp_path / "job.toml")
    assert "front ends at 9 mm and right begins at 11 mm" in error.what
    assert error.todo


def test_a_missing_layer(tmp_path: Path) -> None:
    error = refused(tmp_path, ELL, profiles={"right": {"layer": "SIDE"}})
    assert error.where == f"{tmp_path / 'right.dxf'} (profile 'right')"
    assert "'SIDE'" in error.what
    assert "'OUTLINE'" in error.todo


def test_an_unknown_material(tmp_path: Path) -> None:
    error = refused(tmp_path, ELL, stock={"density": None, "material": "unobtainium"})
    assert isinstance(error, JobError)
    assert error.where.startswith(f"{tmp_path / 'job.toml'}, line ")
    assert "unobtainium" in error.what
