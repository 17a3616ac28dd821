"""The proof of a carved part: what it must refuse, and what comes when nothing passes."""

from __future__ import annotations

import importlib
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely import Polygon

from silhouette3d.output.mesh import export_mesh
from silhouette3d.part import waste_of
from silhouette3d.solid import Carving, Mesh, Solid, Waste, carve
from silhouette3d.stock import Stock
from silhouette3d.view import VIEWS
from tests.carving import check_measures, closed, shape_of
from tests.shapes import (
    SOUND,
    Shape,
    grid,
    many,
    profile,
    rect,
)
from tests.voxels import Triple, triples

# The module; the package's name `carve` is the function.
MODULE = importlib.import_module("silhouette3d.solid.carve")


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
def engine_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """As for views that look across the block's axes: nothing is built wall by wall."""
    monkeypatch.setattr(MODULE, "crossing", lambda *_: None)


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


@pytest.mark.usefixtures("engine_only")
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
    monkeypatch.setattr(MODULE, "NEAR", np.inf)  # whatever is built at once is looked at too
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
    """One profile: built as drawn, put back, its last waste, then the one order there is."""
    calls: list[object] = []

    def refuse(*solids: object) -> bool:
        calls.append(solids)
        return False

    monkeypatch.setattr(MODULE, "NEAR", np.inf)
    monkeypatch.setattr(MODULE, "_agree", refuse)
    shape = SOUND["wedge"]
    assert shape.solid.volume < shape.volume
    assert len(calls) == 4


def test_the_first_that_passes_is_the_part(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whichever that is: one after the other as many are refused as there are, then all."""
    calls: list[Solid] = []
    refused = 0

    def judge(made: Solid, *_: object) -> bool:
        calls.append(made)
        return len(calls) > refused

    monkeypatch.setattr(MODULE, "NEAR", np.inf)
    monkeypatch.setattr(MODULE, "_agree", judge)
    shape = SOUND["wedge"]
    wastes = [waste_of(p, shape.stock) for p in shape.profiles]
    while (made := carve(shape.stock, wastes)) is calls[-1]:
        assert len(calls) == refused + 1
        refused += 1
        calls.clear()
    assert len(calls) == refused > 2
    assert made.volume < shape.volume  # the twin


def two_bars() -> tuple[Stock, Waste, Waste]:
    """Of a cube of 40 mm: from the front 30 by 20 mm are left, from the right 25 by 20 mm."""
    bars = (("front", rect(5, 0, 35, 20)), ("right", rect(0, 0, 25, 20)))
    stock = Stock((40.0, 40.0, 40.0))
    front, right = (waste_of(profile(view, area, stock), stock) for view, area in bars)
    return stock, front, right


def test_the_proof_is_told_how_far_walls_were_moved_at_most(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Of two wastes the second one's, 1.618 times as far as the first's."""
    told: list[float] = []
    monkeypatch.setattr(MODULE, "NEAR", np.inf)
    monkeypatch.setattr(MODULE, "_agree", lambda *of: told.append(of[2]))  # none passes
    stock, *wastes = two_bars()
    carve(stock, wastes)
    first = 1e-9 * stock.diagonal
    assert told[0] == pytest.approx((1 + np.sqrt(5)) / 2 * first, rel=1e-12, abs=0.0)
    assert min(told) == pytest.approx(first, rel=1e-12, abs=0.0)  # of the first alone


def test_where_walls_cannot_be_put_back_the_engine_cuts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(MODULE, "welded", lambda *_: None)
    stock, *wastes = two_bars()
    assert carve(stock, wastes).volume == pytest.approx(30 * 25 * 20, rel=1e-12)


@pytest.mark.usefixtures("engine_only")
def test_no_part_is_made_from_a_twin(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where nothing passes for the front alone, both views are cut the other way round."""
    stock, *wastes = two_bars()
    carving = Carving(stock, wastes)
    judge = MODULE._agree

    def agree(made: Solid, twin: Solid, moved: float) -> bool:
        return twin is not carving._twin(frozenset([0])) and judge(made, twin, moved)

    monkeypatch.setattr(MODULE, "_agree", agree)
    assert carving.less([0]) is carving._twin(frozenset([0]))
    assert carving.less([0, 1]).volume == pytest.approx(30 * 25 * 20, rel=1e-12)


@pytest.mark.usefixtures("engine_only")
def test_prisms_of_the_same_wastes_are_made_once(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[Waste] = []
    prism = Waste.prism

    def noted(waste: Waste, stock: Stock) -> Solid:
        made.append(waste)
        return prism(waste, stock)

    monkeypatch.setattr(Waste, "prism", noted)
    stock, front, right = two_bars()
    carving = Carving(stock, [front, right])
    carving.less([0, 1])
    assert len(made) == 4  # as drawn, and with walls moved
    other = Waste(many(rect(0, 10, 40, 40)), front.view)
    again = carving.again([other, right])
    assert again.less([0, 1]).volume == pytest.approx(40 * 25 * 10, rel=1e-12)
    assert len(made) == 6
    assert made[4:][0] is other or made[4:][1] is other


@pytest.mark.usefixtures("engine_only")
@pytest.mark.parametrize("size", [3, 4])
def test_the_engine_alone(size: int) -> None:
    for truth in triples(size, 11, 8):
        check_measures(shape_of(truth).solid, truth, size)


@pytest.mark.parametrize(("off", "asked"), [(1e-3, False), (5e-9, True)])
def test_a_twin_is_made_only_where_walls_come_near(
    off: float, asked: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Tops of two outlines on one height but for 1 µm, and but for half of what counts as near."""
    made: list[object] = []
    twin = Carving._twin

    def noted(carving: Carving, chosen: frozenset[int]) -> Solid:
        made.append(chosen)
        return twin(carving, chosen)

    monkeypatch.setattr(Carving, "_twin", noted)
    stock = Stock((40.0, 40.0, 40.0))
    wastes = [
        Waste(many(shapely.difference(rect(-50, -50, 90, 90), left)), VIEWS[view])
        for view, left in (("front", rect(5, 5, 35, 35)), ("right", rect(6, 6, 34, 35 + off)))
    ]
    found = Carving(stock, wastes).less(range(2))
    assert found.volume == pytest.approx(30 * 28 * 29, rel=1e-9)
    assert bool(made) is asked


UP = VIEWS["top"], (0.0, 10.0)


def block(x: float, y: float, z: float) -> Solid:
    return Solid.prism(rect(0, 0, x, y), VIEWS["top"], (0.0, z))


def test_volume_and_area_and_bodies_must_agree() -> None:
    cube, moved = block(10, 10, 10), 1e-6
    assert MODULE._agree(cube, block(10, 10, 10 - 2 * moved), moved)
    assert not MODULE._agree(cube, block(5, 20, 10), moved)  # of the same volume
    half = -5 + np.sqrt(325.0)
    assert not MODULE._agree(cube, block(5, half, half), moved)  # of the same area, 600 mm²
    apart = Solid.prism(many(shapely.union_all([rect(0, 0, 5, 10), rect(6, 0, 11, 10)])), *UP)
    assert not MODULE._agree(apart, cube, moved)


def test_how_much_area_edges_give_when_walls_move() -> None:
    """Of a cube 12 edges of 10 mm turn by a right angle: 2 tan 45° each; diagonals do not turn."""
    assert MODULE._edge_reach(block(10, 10, 10).mesh) == pytest.approx(240.0, rel=1e-12)
    hexagon = Polygon([(np.cos(t), np.sin(t)) for t in np.pi / 3 * np.arange(6)])
    # 6 edges of 10 mm that turn by 60°, 12 of 1 mm by 90°
    expected = 60 * 2 * np.tan(np.pi / 6) + 12 * 2
    prism = Solid.prism(hexagon, *UP)
    assert MODULE._edge_reach(prism.mesh) == pytest.approx(expected, rel=1e-12)


def test_what_has_no_edges_gives_no_area() -> None:
    assert MODULE._edge_reach(Mesh(np.empty((0, 3)), np.empty((0, 3), np.int64))) == 0.0


def test_of_sharp_edges_no_more_is_counted_than_of_one_that_turns_by_three_radians() -> None:
    """A blade 10 mm high: isosceles, 0.1 radians at the tip, so it turns by π − 0.1 there."""
    half, side = 0.05, 20.0
    blade = Polygon([(0, 0), *((side * np.cos(t), side * np.sin(t)) for t in (-half, half))])
    others = 2 * np.tan((np.pi / 2 + half) / 2)
    expected = 10 * (2 * np.tan(1.5) + 2 * others) + 2 * blade.length * 2
    assert MODULE._edge_reach(Solid.prism(blade, *UP).mesh) == pytest.approx(expected, rel=1e-12)


def test_triangles_in_one_plane_turn_by_nothing_however_they_are_rounded() -> None:
    """Of unit normals some are longer than 1 by rounding."""
    corners = 60
    ring = [(np.cos(t), np.sin(t)) for t in 0.1 + 2 * np.pi / corners * np.arange(corners)]
    side = 2 * np.sin(np.pi / corners)
    expected = corners * (10 * 2 * np.tan(np.pi / corners) + 2 * side * 2)
    reach = MODULE._edge_reach(Solid.prism(Polygon(ring), *UP).mesh)
    # a cosine that is off by 2e-16 is a turn of 2e-8; of 354 edges, up to 10 mm long
    assert reach == pytest.approx(expected, abs=354 * 10 * 2e-8)


@pytest.mark.parametrize("sign", [-1, 1])
@pytest.mark.parametrize(("share", "passes"), [(0.99, True), (1.01, False)])
def test_four_times_what_moves_give_is_allowed(share: float, passes: bool, sign: int) -> None:
    """To a cube of 600 mm² and 12 edges of 10 mm by right angles."""
    cube, moved = block(10, 10, 10), 1e-6
    off = 4 * moved * share * sign
    assert MODULE._agree(tampered(cube, volume=1000 + 600 * off), cube, moved) is passes
    assert MODULE._agree(tampered(cube, surface_area=600 + 240 * off), cube, moved) is passes
