"""The certificate of a carved part: what it refuses, and what comes then."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import Polygon

from silhouette3d.documents.meshes.write import export_mesh
from silhouette3d.geometry.frames import VIEWS, view_along
from silhouette3d.geometry.mesh import Mesh
from silhouette3d.geometry.removal import Removal
from silhouette3d.geometry.snap import Snapped
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.subtract import Carving
from silhouette3d.process.cut import removal_of
from tests.oracles.voxels import Triple, triples
from tests.support.carving import check_measures, closed, shape_of
from tests.support.shapes import (
    SOUND,
    Shape,
    grid,
    many,
    profile,
    rect,
)

# The module; the package's name `carve` is the function.
MODULE = importlib.import_module("silhouette3d.geometry.subtract")


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
"""Front, right, top. Taking these away in this order, where they were drawn, leaves flaps of no
thickness in manifold3d 3.5.4."""


@pytest.fixture
def engine_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """As for views that look across the block's axes: nothing is built wall by wall."""
    monkeypatch.setattr(MODULE, "intersect_extrusions", lambda *_: None)


@pytest.mark.usefixtures("engine_only")
@pytest.mark.parametrize("number", range(len(WRONG_FIRST)))
def test_what_the_engine_gets_wrong_where_walls_coincide(number: int) -> None:
    truth = Triple(*WRONG_FIRST[number])
    made = shape_of(truth).solid
    assert made.perturbed_by == 0.0
    check_measures(made, truth, number)


@pytest.mark.usefixtures("engine_only")
@pytest.mark.parametrize("size", [3, 4])
def test_the_engine_alone(size: int) -> None:
    for truth in triples(size, 11, 8):
        made = shape_of(truth).solid
        assert made.perturbed_by == 0.0
        check_measures(made, truth, size)


Tamper = Callable[[Mesh, Snapped], Snapped]


def nothing_put_back(copy: Mesh, back: Snapped) -> Snapped:
    return replace(back, places=copy.vertices, is_on_wall=np.zeros(len(copy.triangles), bool))


def a_point_gone_far(copy: Mesh, back: Snapped) -> Snapped:
    """Within its walls: to the next point of some edge."""
    places = back.places.copy()
    start, end = max(copy.edges[0].tolist(), key=lambda e: np.ptp(copy.vertices[e], axis=0).max())
    places[start] = places[end]
    return replace(back, places=places)


def a_triangle_turned_over(copy: Mesh, back: Snapped) -> Snapped:
    """A corner is moved a little past the edge opposite, where the part is small enough."""
    return replace(back, places=2.0 * back.places.mean(axis=0) - back.places)


@pytest.mark.usefixtures("engine_only")
@pytest.mark.parametrize(
    "tamper", [nothing_put_back, a_point_gone_far, a_triangle_turned_over], ids=lambda f: f.__name__
)
@pytest.mark.parametrize("name", SOUND)
def test_what_cannot_be_certified_is_the_copy_and_says_so(
    name: str, tamper: Tamper, monkeypatch: pytest.MonkeyPatch
) -> None:
    snapped = MODULE.snapped

    def wrong(mesh: Mesh, *rest: Any) -> Snapped:
        return tamper(mesh, snapped(mesh, *rest))

    exact = SOUND[name].solid
    assert exact.perturbed_by == 0.0
    monkeypatch.setattr(MODULE, "snapped", wrong)
    copy = SOUND[name].solid
    assert copy.perturbed_by == pytest.approx(
        1e-9 * SOUND[name].stock.diagonal * (1 + 0.618 * (len(SOUND[name].outlines) - 1)), rel=1e-3
    )
    assert 0 < exact.volume - copy.volume <= 2.0 * copy.perturbed_by * exact.surface_area
    assert len(copy.bodies) == len(exact.bodies)


@pytest.mark.usefixtures("engine_only")
def test_a_point_a_little_off_its_wall_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """As where two walls hardly cross: what is left is certified, and said to be off by that."""
    snapped = MODULE.snapped
    monkeypatch.setattr(MODULE, "snapped", lambda *given: replace(snapped(*given), off=3e-7))
    solid = SOUND["wedge"].solid
    assert solid.perturbed_by == 3e-7
    assert [body.perturbed_by for body in solid.bodies] == [3e-7]
    assert solid.mapped(np.eye(3, 4)).perturbed_by == 3e-7
    other = Solid.prism(rect(0, 0, 100, 100), VIEWS["front"], (-5, 0))
    for made in (solid.minus(other), other.minus(solid), other.intersection(solid)):
        assert made.perturbed_by == 3e-7


def test_no_two_walls_of_a_copy_coincide(monkeypatch: pytest.MonkeyPatch) -> None:
    """A step at one height in two outlines, from either side, and the stock's own faces."""
    step = Polygon([(0, 0), (40, 0), (40, 20), (20, 20), (20, 40), (0, 40)])
    shape = Shape((40, 40, 40), dict.fromkeys(["front", "right", "top"], step), 0, 0)
    monkeypatch.setattr(Carving, "_certified", lambda *_: None)
    copy = shape.solid
    for axis in range(3):
        places = np.unique(np.round(copy.mesh.vertices[:, axis], 12))
        gaps = np.diff(places)
        assert gaps.min() > copy.perturbed_by / 10
        # two outlines have a wall near the middle
        assert (np.abs(places - 20) <= 2 * copy.perturbed_by).sum() == 2


def fallback_shapes() -> Iterator[tuple[str, Shape]]:
    yield from SOUND.items()
    yield from (
        (f"cells {size} {i}", shape_of(t))
        for size in (3, 4)
        for i, t in enumerate(triples(size, 7, 5))
    )


@pytest.mark.parametrize(("name", "shape"), list(fallback_shapes()), ids=lambda x: str(x)[:20])
def test_where_nothing_is_certified_the_copy_is_the_part(
    name: str, shape: Shape, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """It is too small by no more than walls moved as far as it says."""
    exact = shape.solid
    monkeypatch.setattr(MODULE, "NEAR", np.inf)  # what would be built at once has to be certified
    monkeypatch.setattr(Carving, "_certified", lambda *_: None)
    copy = shape.solid
    assert 0 < exact.volume - copy.volume <= 2.0 * copy.perturbed_by * exact.surface_area
    assert len(copy.bodies) == len(exact.bodies)
    assert (copy.bounds[0] > exact.bounds[0]).all()
    assert (copy.bounds[1] < exact.bounds[1]).all()
    for body in copy.bodies:
        export_mesh([body.mesh], tmp_path / "a.stl", name=name, material="")
        assert closed(tmp_path / "a.stl")


def two_bars() -> tuple[Stock, Removal, Removal]:
    """Of a cube of 40 mm: from the front 30 by 20 mm are left, from the right 25 by 20 mm."""
    bars = (("front", rect(5, 0, 35, 20)), ("right", rect(0, 0, 25, 20)))
    stock = Stock((40.0, 40.0, 40.0))
    front, right = (removal_of(profile(view, area, stock), stock) for view, area in bars)
    return stock, front, right


@pytest.mark.usefixtures("engine_only")
def test_prisms_of_the_same_wastes_are_made_once(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[Removal] = []
    prism = Removal.prism

    def noted(waste: Removal, stock: Stock) -> Solid:
        made.append(waste)
        return prism(waste, stock)

    monkeypatch.setattr(Removal, "prism", noted)
    stock, front, right = two_bars()
    carving = Carving(stock, [front, right])
    carving.less([0, 1])
    assert len(made) == 2
    other = Removal(many(rect(0, 10, 40, 40)), front.view)
    again = carving.again([other, right])
    assert again.less([0, 1]).volume == pytest.approx(40 * 25 * 10, rel=1e-12)
    assert len(made) == 3


@pytest.mark.parametrize("off", [1e-3, 5e-9, 0.0])
def test_tops_of_two_outlines_on_one_height_or_nearly(off: float) -> None:
    stock = Stock((40.0, 40.0, 40.0))
    removals = [
        Removal(many(shapely.difference(rect(-50, -50, 90, 90), left)), VIEWS[view])
        for view, left in (("front", rect(5, 5, 35, 35)), ("right", rect(6, 6, 34, 35 + off)))
    ]
    found = Carving(stock, removals).less(range(2))
    assert found.volume == pytest.approx(30 * 28 * 29, rel=1e-9)
    assert found.perturbed_by == 0.0


SEVEN = [
    ((-1, 0, 0), (0, 0, 1)),
    ((0, 0, -1), (0, 1, 0)),
    ((-1, -1, 0), (0, 0, 1)),
    ((0, 1, 1), (0, 0, 1)),
    ((0, -1, 0), (0, 0, 1)),
    ((-1, -1, -1), (0, 0, 1)),
    ((1, 0, 1), (0, 1, 2)),
]


def test_any_of_seven_oblique_views_in_any_order_make_the_same() -> None:
    """Every wall passes through points of one lattice, so that many coincide."""
    rng, stock = np.random.default_rng(4), Stock((40.0, 40.0, 40.0))
    removals = []
    for look, up in SEVEN:
        view = view_along(look, up)
        corners = 40.0 * np.array(np.meshgrid(*[[0, 1]] * 3)).reshape(3, -1).T
        flat = view.to_view(corners)[:, :2]
        keep = shapely.convex_hull(shapely.MultiPoint(flat))
        holes = [
            Polygon(view.to_view(10.0 * (at + rng.choice([0, 1], (3, 3))))[:, :2])
            for at in rng.integers(0, 4, (3, 1, 3))
        ]
        keep = shapely.difference(keep, shapely.union_all(holes))
        removals.append(Removal(many(shapely.difference(rect(-90, -90, 90, 90), keep)), view))
    made = Carving(stock, removals).less(range(7))
    assert made.perturbed_by == 0.0
    back = Carving(stock, removals[::-1]).less(range(7))
    assert back.volume == pytest.approx(made.volume, rel=1e-12)
    assert back.surface_area == pytest.approx(made.surface_area, rel=1e-12)
    assert [b.volume for b in back.bodies] == pytest.approx([b.volume for b in made.bodies])
