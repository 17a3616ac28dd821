"""What must hold of every job, whatever its outlines: more of it stands in test_part.py.

Parts agree to `TWIN` mm³ or mm² where they are made in different ways: see there.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
import shapely
import stl
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import Polygon, affinity

import silhouette3d
from silhouette3d.geometry.solid import Solid
from tests.support.shapes import Area, Shape, load, many, profile, rect, solid
from tests.test_part import STOCK, TWIN, made, outlines_of, placed, seeds

VIEWS = ("front", "right", "top")
SIDE = STOCK.size[0]


def assert_same(one: Solid, two: Solid, room: float = TWIN) -> None:
    assert one.volume == pytest.approx(two.volume, abs=room)
    assert one.surface_area == pytest.approx(two.surface_area, abs=room)
    assert len(one.bodies) == len(two.bodies)
    assert one.minus(two).volume <= room


def loaded(outlines: Mapping[str, Area], folder: str, **more: object) -> silhouette3d.Part:
    """The part of a job in a folder."""
    return load(Path(folder), Shape(STOCK.size, outlines, 0.0, 0.0), **more)


@settings(max_examples=6)
@given(seeds, st.sampled_from(VIEWS))
def test_the_same_outline_again_changes_nothing(seed: int, view: str) -> None:
    outlines = outlines_of(seed, *VIEWS)
    once = placed(outlines)
    again = profile(view, outlines[view], STOCK, name="again")
    assert_same(solid(STOCK, once), solid(STOCK, [*once, again]))


@settings(max_examples=6)
@given(seeds)
def test_an_outline_from_behind_in_the_mirror_changes_nothing(seed: int) -> None:
    outlines = outlines_of(seed, *VIEWS)
    behind = affinity.scale(outlines["front"], -1, 1, origin=(SIDE / 2, 0))
    both = [*placed(outlines), profile("rear", behind, STOCK)]
    assert_same(made(outlines), solid(STOCK, both))


@settings(max_examples=6)
@given(seeds)
def test_the_part_cut_from_its_own_shadows_changes_nothing_more(seed: int) -> None:
    """Shadows of the part make the part, and theirs again (Laurentini 1994, PAMI 16(2):150-162)."""
    part = made(outlines_of(seed, *VIEWS))
    assume(not part.is_empty)
    shadows = {
        p.name: many(p.to_face(part.shadow(p.view)))
        for p in placed(dict.fromkeys(VIEWS, rect(0, 0, 1, 1)))
    }
    # shadows lie on a grid of 1e-6 mm: walls move by 0.7e-6 mm at most
    room = TWIN + 1e-6 * part.surface_area
    assert_same(part, made(shadows), room)


@settings(max_examples=6)
@given(seeds, st.sampled_from([1e-2, 0.3, 1.0 / 3.0, 2.0, 25.4, 1000.0]))
def test_a_scaled_job_is_a_scaled_part(seed: int, scale: float) -> None:
    """Stock and drawings times s: volume times s³, surface times s², the same bodies."""
    outlines = outlines_of(seed, *VIEWS)
    one = made(outlines)
    assume(not one.is_empty)
    stock = {"size": [scale * side for side in STOCK.size]}
    keys = {view: {"scale": scale} for view in VIEWS}
    with TemporaryDirectory() as folder:
        other = loaded(outlines, folder, stock=stock, profiles=keys, tolerance=1e-5).solid
    # the grid of 1e-9 mm is coarse beside a part of some tenths of a millimetre
    room = TWIN + 1e-8 / scale * one.surface_area
    assert other.volume / scale**3 == pytest.approx(one.volume, abs=room)
    assert other.surface_area / scale**2 == pytest.approx(one.surface_area, abs=room)
    assert len(other.bodies) == len(one.bodies)


@settings(max_examples=6)
@given(seeds)
def test_units_change_numbers_and_nothing_else(seed: int) -> None:
    """The stock given in inches, the drawings as they are, in mm."""
    outlines = outlines_of(seed, *VIEWS)
    assume(not made(outlines).is_empty)
    inches = {"size": [side / 25.4 for side in STOCK.size]}
    with TemporaryDirectory() as folder, TemporaryDirectory() as other:
        one = loaded(outlines, folder)
        two = loaded(outlines, other, units="in", stock=inches)
        assert_same(one.solid, two.solid)
        assert two.mass == pytest.approx(one.mass, abs=TWIN)


def halves(angle: float) -> tuple[Polygon, Polygon]:
    """What lies left and right of a line through the middle of the face."""
    far, middle = 10 * SIDE, SIDE / 2
    right = affinity.rotate(rect(middle, -far, far, far), angle, origin=(middle, middle))
    left = affinity.rotate(rect(-far, -far, middle, far), angle, origin=(middle, middle))
    return left, right


@settings(max_examples=6)
@given(seeds, st.sampled_from(VIEWS), st.sampled_from([0.0, 90.0, 30.0, 61.7]))
def test_the_halves_of_an_outline_make_the_halves_of_the_part(
    seed: int, view: str, angle: float
) -> None:
    outlines = outlines_of(seed, *VIEWS)
    whole = made(outlines)
    parts = [
        made(outlines | {view: many(shapely.intersection(outlines[view], half, grid_size=1e-9))})
        for half in halves(angle)
    ]
    assert sum(p.volume for p in parts) == pytest.approx(whole.volume, abs=2 * TWIN)
    for part in parts:
        assert part.minus(whole).volume <= TWIN


@settings(max_examples=6)
@given(seeds, st.sampled_from([0.0, 90.0, 30.0, 61.7]))
def test_two_outlines_of_one_view_make_what_both_have_in_common(seed: int, angle: float) -> None:
    """One outline split in two whose common area it is: cut one after the other, or at once."""
    outlines = outlines_of(seed, *VIEWS)
    front = outlines["front"]
    first, second = (many(shapely.union(front, half, grid_size=1e-9)) for half in halves(angle))
    others = placed({view: outlines[view] for view in ("right", "top")})
    both = [profile("front", first, STOCK, "one"), profile("front", second, STOCK, "two")]
    assert solid(STOCK, [*both, *others]).volume == pytest.approx(
        solid(STOCK, [*placed({"front": front}), *others]).volume, abs=TWIN
    )


@settings(max_examples=6)
@given(seeds, st.sampled_from([0.6, 2.7, 19.3]))
def test_bodies_add_up_to_the_part(seed: int, density: float) -> None:
    with TemporaryDirectory() as folder:
        part = loaded(outlines_of(seed, *VIEWS), folder, stock={"density": density})
        try:
            whole = part.solid
        except silhouette3d.EmptyPartError:
            return
    bodies = whole.bodies
    assert sum(b.volume for b in bodies) == pytest.approx(whole.volume, rel=1e-9)
    assert part.mass == pytest.approx(density / 1000 * sum(b.volume for b in bodies), rel=1e-9)
    assert sum(b.surface_area for b in bodies) == pytest.approx(whole.surface_area, rel=1e-9)
    middle = sum(b.volume * b.centroid for b in bodies) / whole.volume
    assert part.measures.centre == pytest.approx(middle, abs=1e-6)
    assert all(one.volume >= two.volume for one, two in pairwise(bodies))
    low, high = (np.array([b.bounds[k] for b in bodies]) for k in (0, 1))
    assert np.allclose(low.min(axis=0), whole.bounds[0], atol=1e-9)
    assert np.allclose(high.max(axis=0), whole.bounds[1], atol=1e-9)


@settings(max_examples=6)
@given(seeds, st.sampled_from([1.0, 0.01, 250.0]))
def test_an_stl_is_the_part(seed: int, scale: float) -> None:
    """Read by numpy-stl: volume, centre and extent."""
    with TemporaryDirectory() as folder:
        part = loaded(outlines_of(seed, *VIEWS), folder)
        try:
            whole = part.solid
        except silhouette3d.EmptyPartError:
            return
        part.export(Path(folder, "part.stl"), scale)
        read = stl.mesh.Mesh.from_file(str(Path(folder, "part.stl")))
    # single precision: 24 bits of 60 mm, on every wall
    grain = SIDE * 2.0**-23
    a, b, c = (v.astype(float) / scale for v in (read.v0, read.v1, read.v2))
    volume = float(np.einsum("ij,ij->", a, np.cross(b, c))) / 6.0
    assert volume == pytest.approx(whole.volume, abs=grain * whole.surface_area)
    area = float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum()) / 2.0
    edges = 3 * len(a) * math.sqrt(3) * SIDE
    assert area == pytest.approx(whole.surface_area, abs=grain * edges)
    corners = np.concatenate([a, b, c])
    assert np.allclose(corners.min(axis=0), whole.bounds[0], atol=grain)
    assert np.allclose(corners.max(axis=0), whole.bounds[1], atol=grain)
