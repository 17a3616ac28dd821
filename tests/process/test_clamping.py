"""What the clamps hold: the stock's own surface that is left on each body."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from silhouette3d.errors import CuttingError
from silhouette3d.geometry.frames import VIEWS, view_along
from silhouette3d.geometry.misfit import MisfitError
from silhouette3d.geometry.removal import stock_solid
from silhouette3d.geometry.solid import Solid, together
from silhouette3d.geometry.stock import Stock
from silhouette3d.presentation.wording.misfits import misfit_in_words
from silhouette3d.process.clamping import Clamping, areas_on_sides, refuse_stray_clamps
from tests.support.cut_jobs import cut_of, random_job, stages_of
from tests.support.shapes import COMB, WEDGE, many, rect

BLOCK = Stock((40.0, 30.0, 50.0))
BAR = Stock((20.0, 20.0, 60.0), diameter=20.0)


def boxes(*bounds: tuple[float, float, float, float, float, float]) -> list[Solid]:
    """Upright boxes (x0, y0, z0, x1, y1, z1)."""
    return [
        Solid.prism(many(rect(x0, z0, x1, z1)), VIEWS["front"], (-y1, -y0))
        for x0, y0, z0, x1, y1, z1 in bounds
    ]


def side_areas(clamping: Clamping, body: Solid) -> dict[str, float]:
    """Area in mm² that a body has on the left, right, bottom and top side as the block lies."""
    (on_sides,) = areas_on_sides(clamping.stock, [body])
    return {name: float(on_sides[sides].sum()) for name, sides in clamping._lie.items()}


# --- area on each side -------------------------------------------------------------------------

FACES = {"x": 30.0 * 50.0, "y": 40.0 * 50.0, "z": 40.0 * 30.0}


@pytest.mark.parametrize(
    ("view", "across", "along"),
    [
        ("front", "x", "z"),
        ("rear", "x", "z"),
        ("right", "y", "z"),
        ("left", "y", "z"),
        ("top", "x", "y"),
        ("bottom", "x", "y"),
    ],
)
def test_sides_of_a_block_in_every_view(view: str, across: str, along: str) -> None:
    areas = side_areas(Clamping(BLOCK, VIEWS[view]), stock_solid(BLOCK))
    assert areas == pytest.approx(
        {"left": FACES[across], "right": FACES[across], "bottom": FACES[along], "top": FACES[along]}
    )


def test_left_is_left_as_the_block_lies() -> None:
    """What lies at small x is on the left from the front and on the right from the rear."""
    (piece,) = boxes((0, 10, 10, 5, 20, 20))
    assert side_areas(Clamping(BLOCK, VIEWS["front"]), piece)["left"] == pytest.approx(100.0)
    assert side_areas(Clamping(BLOCK, VIEWS["rear"]), piece)["right"] == pytest.approx(100.0)
    assert side_areas(Clamping(BLOCK, VIEWS["top"]), piece)["left"] == pytest.approx(100.0)
    assert sum(side_areas(Clamping(BLOCK, VIEWS["left"]), piece).values()) == 0.0  # seen from there


def test_sides_of_a_bar_from_its_end_and_from_aside() -> None:
    """From its end the wall is all round; from aside it is only what faces left and right."""
    whole = stock_solid(BAR)
    wall = Polygon(BAR.section).length * 60.0
    end = side_areas(Clamping(BAR, VIEWS["top"]), whole)
    assert sum(end.values()) == pytest.approx(wall)
    assert end["left"] == pytest.approx(end["right"])
    aside = side_areas(Clamping(BAR, VIEWS["front"]), whole)
    assert aside["bottom"] == pytest.approx(Polygon(BAR.section).area)
    assert aside["left"] == pytest.approx(wall / 4.0, rel=0.1)  # 45 degrees to either side
    assert aside["right"] == pytest.approx(aside["left"])
    assert aside["top"] == pytest.approx(aside["bottom"])


def test_sides_in_a_view_of_its_own() -> None:
    """Across the corner two sides lie left and two right, each at 45 degrees."""
    view = view_along((1.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    areas = side_areas(Clamping(BLOCK, view), stock_solid(BLOCK))
    assert areas["left"] == pytest.approx(FACES["x"] + FACES["y"])
    assert areas["right"] == pytest.approx(FACES["x"] + FACES["y"])
    assert areas["bottom"] == pytest.approx(FACES["z"])


@pytest.mark.parametrize("seed", range(4))
def test_no_side_is_counted_twice_or_lost(seed: int) -> None:
    """Bodies after cuts have all of the stock's sides together but what the kerfs took."""
    job = random_job(seed, aligned=True, least_cuts=2, most_cuts=2)
    bodies = job.cutting.bodies(frozenset([0, 1]))
    clamping = Clamping(job.stock, VIEWS["front"])
    each = [side_areas(clamping, body) for body in bodies]
    whole = side_areas(clamping, together(bodies))
    for side, area in whole.items():
        assert sum(areas[side] for areas in each) == pytest.approx(area)
        assert area <= side_areas(clamping, stock_solid(job.stock))[side] + 1e-6


# --- clamps on sides ---------------------------------------------------------------------------

LEFT, RIGHT = (0, 0, 0, 15, 30, 50), (20, 0, 0, 40, 30, 50)


@pytest.mark.parametrize(
    ("clamp", "held"),
    [(["left"], {0}), (["right"], {1}), (["left", "right"], {0, 1}), (["bottom"], {0, 1})],
)
def test_clamped_sides_hold_what_has_area_there(clamp: list[str], held: set[int]) -> None:
    assert Clamping(BLOCK, VIEWS["front"], clamp).held(boxes(LEFT, RIGHT)) == held


def test_a_body_that_touches_the_clamped_side_in_an_edge_is_not_held() -> None:
    """The wedge's thin end is an edge on the right side; its back stands on the left."""
    assert Clamping(WEDGE.stock, VIEWS["front"], ["right"]).held([WEDGE.solid]) == frozenset()
    assert Clamping(WEDGE.stock, VIEWS["front"], ["left"]).held([WEDGE.solid]) == {0}


def test_a_body_that_touches_the_clamped_side_in_a_point_is_not_held() -> None:
    tip = Polygon([(0, 10), (20, 0), (20, 20)])
    pyramid = Solid.prism(many(tip), VIEWS["front"], (-30.0, 0.0)).within(many(tip), VIEWS["top"])
    assert pyramid.bounds[0, 0] == 0.0
    assert Clamping(BLOCK, VIEWS["front"], ["left"]).held([pyramid]) == frozenset()


def test_a_wall_just_inside_the_stock_is_not_its_side() -> None:
    (piece,) = boxes((1e-3, 0, 0, 10, 30, 50))
    assert Clamping(BLOCK, VIEWS["front"], ["left"]).held([piece]) == frozenset()


# --- clamps on the face ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pad", "held"),
    [
        ((0.0, 0.0, 5.0, 50.0), {0}),
        ((30.0, 0.0, 40.0, 50.0), {1}),
        ((10.0, 0.0, 25.0, 50.0), {0, 1}),
        ((15.0, 0.0, 20.0, 50.0), set()),  # on the gap: it touches both in an edge
        ((16.0, 0.0, 19.0, 50.0), set()),
    ],
)
def test_pads_hold_what_they_cover(pad: tuple, held: set[int]) -> None:
    assert Clamping(BLOCK, VIEWS["front"], [pad]).held(boxes(LEFT, RIGHT)) == held


def test_pads_press_on_the_stocks_own_face_only() -> None:
    """A body that lies deeper has no face under the pad."""
    (deep,) = boxes((0, 5, 0, 15, 30, 50))
    pad = [(0.0, 0.0, 15.0, 50.0)]
    assert Clamping(BLOCK, VIEWS["front"], pad).held([deep]) == frozenset()
    assert Clamping(BLOCK, VIEWS["rear"], [(25.0, 0.0, 40.0, 50.0)]).held([deep]) == {0}


def test_several_pads() -> None:
    pads = [(0.0, 0.0, 1.0, 1.0), (39.0, 49.0, 40.0, 50.0)]
    assert Clamping(BLOCK, VIEWS["front"], pads).held(boxes(LEFT, RIGHT)) == {0, 1}


# --- without clamps ----------------------------------------------------------------------------


def test_by_default_the_largest_area_on_the_sides_is_held() -> None:
    assert Clamping(BLOCK, VIEWS["front"]).held(boxes(LEFT, RIGHT)) == {1}
    assert Clamping(BLOCK, VIEWS["front"]).held(boxes(RIGHT, LEFT)) == {0}


def test_of_equal_ones_the_first() -> None:
    halves = boxes((0, 0, 0, 20, 30, 50), (20, 0, 0, 40, 30, 50))
    assert Clamping(BLOCK, VIEWS["front"]).held(halves) == {0}


def test_nothing_on_any_side_nothing_held() -> None:
    assert Clamping(BLOCK, VIEWS["front"]).held(boxes((5, 0, 5, 35, 30, 45))) == frozenset()
    assert Clamping(BLOCK, VIEWS["front"]).held([]) == frozenset()


def test_a_core_cut_free_is_loose_even_when_larger() -> None:
    """The frame holds all four sides; what lies in it is what counts as loose."""
    (stage,) = stages_of(cut_of("front", rect(2, 2, 38, 48), BLOCK, kerf=1.0))
    core, frame = stage.bodies
    assert core.solid.volume > 5 * frame.solid.volume
    assert (core.status, core.is_held) == ("part", False)
    assert frame.status == "held"


@given(st.floats(0.2, 0.8))
def test_a_frame_in_two_is_held_by_its_larger_half(share: float) -> None:
    """A slot right through: the side with more of the stock's sides is held."""
    at = share * 40.0
    (stage,) = stages_of(cut_of("front", many(rect(-1, -1, at, 51)), BLOCK, kerf=1e-3))
    part, other = (30 * 50 + 2 * 30 * x for x in (at, 40.0 - at))
    assert stage.part_is_held == (part > other or math.isclose(part, other, abs_tol=0.5))


def test_areas_known_before_hold_the_same_in_every_setup() -> None:
    """For any of the three ways to clamp."""
    bodies = boxes(LEFT, RIGHT)
    known = areas_on_sides(BLOCK, bodies)
    assert known.sum(axis=1) == pytest.approx([_on_block(*b.bounds) for b in bodies])
    for view in VIEWS.values():
        for clamp in (None, ["left"], ["top", "right"], [(0.0, 0.0, 5.0, 5.0)]):
            clamping = Clamping(BLOCK, view, clamp)
            assert clamping.held(bodies, known) == clamping.held(bodies)
            assert clamping.held(bodies[1:], known[1:]) == clamping.held(bodies[1:])


def _on_block(low: np.ndarray, high: np.ndarray) -> float:
    """Area of a box on the block's sides."""
    size, area = high - low, 0.0
    for k in range(3):
        ends = int(low[k] == 0.0) + int(high[k] == BLOCK.size[k])
        area += ends * float(np.delete(size, k).prod())
    return area


def test_a_comb_is_held_by_its_back() -> None:
    teeth = COMB.solid
    assert Clamping(COMB.stock, VIEWS["front"], ["bottom"]).held([teeth]) == {0}
    assert Clamping(COMB.stock, VIEWS["front"], ["top"]).held([teeth]) == {0}
    assert side_areas(Clamping(COMB.stock, VIEWS["front"]), teeth)["top"] == pytest.approx(
        4 * 6 * 12
    )


def test_a_bar_is_held_by_what_is_left_of_its_wall() -> None:
    inner = rect(4, 10, 16, 50)
    (stage,) = stages_of(cut_of("front", inner, BAR, kerf=1.0))
    assert sorted(body.status for body in stage.bodies) == ["held", "part"]
    areas = side_areas(Clamping(BAR, VIEWS["front"]), stage.part.solid)
    # the part keeps the front and rear of the wall, which face the cutter and the table
    assert sum(areas.values()) == 0.0


@pytest.mark.parametrize(
    ("pad", "refused"),
    [
        ((0, 0, 5, 5), False),
        ((39, 29, 60, 60), False),
        ((40, 0, 50, 10), True),
        ((9, 5, 3, 8), True),
    ],
)
def test_a_clamp_must_press_on_the_face(
    pad: tuple[float, float, float, float], refused: bool
) -> None:
    face = Stock((40.0, 20.0, 30.0)).face(VIEWS["front"])
    if not refused:
        refuse_stray_clamps([pad], face)
        return
    with pytest.raises(MisfitError) as caught:
        refuse_stray_clamps([pad], face)
    told = misfit_in_words(caught.value, "mm", "job.toml, profile 'front'")
    assert isinstance(told, CuttingError)
    assert "clamp 1, [" in told.what
    assert "] mm, presses on nothing of the face of 40 mm × 30 mm" in told.what
