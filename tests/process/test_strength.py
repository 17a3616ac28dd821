"""How firmly a part is held: closed forms, and the least cut between voxels."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon
from shapely.affinity import rotate

from silhouette3d.geometry.frames import VIEWS
from silhouette3d.geometry.stock import Stock
from silhouette3d.process.cells import NECK_SLACK, SLACK, Cells, Pieces, cells_of, split
from silhouette3d.process.clamping import Clamp
from silhouette3d.process.cut import Cut
from silhouette3d.process.strength import Hold
from tests.oracles.voxel_flow import least_section
from tests.support.cut_jobs import cut_of, cutting_of, random_job, with_tabs_at
from tests.support.shapes import disc, many, rect

CUBE = Stock((40.0, 40.0, 40.0))
APART = CUBE.tolerances.wall
SQUARE = rect(5, 5, 35, 35)


def near(area: float) -> Any:
    """As near as a chord left out is, and cells apart: 40 mm high, on both sides of two walls."""
    return pytest.approx(area, rel=NECK_SLACK, abs=40.0 * 2.0 * APART * 2.0)


def held(
    cuts: Sequence[Cut], made: int = 1, setup: int = 0, clamps: Sequence[Clamp | None] | None = None
) -> Hold:
    """After the first cuts, clamped as for one of them."""
    return cutting_of(cuts, clamps).hold(frozenset(range(made)), setup)


def top(area: Polygon = SQUARE) -> Cut:
    """A second cut, not made yet."""
    return cut_of("top", area, CUBE)


# --- tabs --------------------------------------------------------------------------------------


@pytest.mark.parametrize("width", [0.3, 2.0, 5.0])
@pytest.mark.parametrize("count", [1, 2, 3])
def test_tabs_on_solid_stock_hold_by_their_own_sections(width: float, count: int) -> None:
    places = [(5.0, 20.0), (35.0, 20.0), (20.0, 35.0)][:count]
    found = held([cut_of("front", SQUARE, CUBE, tabs=places, width=width), top()])
    assert found.area == near(count * width * 40.0)
    assert found.in_tabs
    assert found.cut is not None
    assert found.cut.name == "front"


def test_no_tab_holds_by_nothing() -> None:
    found = held([cut_of("front", SQUARE, CUBE), top()])
    assert found.area == 0.0
    assert not found.in_tabs


def test_a_later_cut_leaves_less_of_a_tab() -> None:
    """A square tab, 2 mm wide from the front and 3 mm from above, on the left."""
    from_above = Polygon([(5, 5), (35, 5), (35, 35), (5, 35)])
    cuts = [
        cut_of("front", SQUARE, CUBE, tabs=[(5, 20)]),
        cut_of("top", from_above, CUBE, tabs=[(5, 20)], width=3.0),
        cut_of("right", SQUARE, CUBE),
    ]
    assert held(cuts, 2, 1, [["left"]] * 3).area == near(2.0 * 3.0)


# --- what tabs stand on ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("skin", "area"), [(0.01, 0.8), (0.1, 8.0), (0.6, 48.0), (0.99, 79.2), (1.01, 80.0)]
)
def test_a_skin_holds_by_its_own_section_on_both_sides_of_the_tab(skin: float, area: float) -> None:
    plate = cut_of("front", rect(5, 5, 39 - skin, 35), CUBE, tabs=[(39, 20)])
    for clamp in (None, ["left"]):
        found = held([plate, top()], clamps=[clamp, None])
        assert found.area == near(area)
        assert found.in_tabs == (skin > 1.0)


def test_two_tabs_on_one_skin_hold_by_two_sections_of_it() -> None:
    plate = cut_of("front", rect(5, 5, 38.9, 35), CUBE, tabs=[(39, 12), (39, 28)])
    assert held([plate, top()], clamps=[["left"], None]).area == near(8.0)


def test_a_good_tab_makes_up_for_one_on_a_skin() -> None:
    plate = cut_of("front", rect(5, 5, 38.9, 35), CUBE, tabs=[(39, 12), (5, 20)])
    assert held([plate, top()]).area == near(8.0 + 80.0)


def test_a_skin_that_leads_one_way_holds_by_one_section() -> None:
    """The part is flush with the block's top: there the skin ends."""
    plate = cut_of("front", rect(5, 5, 38.9, 41), CUBE, tabs=[(39, 20)])
    assert held([plate, top()], clamps=[["bottom"], None]).area == near(4.0)


def test_a_skin_round_a_disc() -> None:
    """Clamped below, it hangs on the skins at both sides, where these are thinnest."""
    ring = cut_of("front", disc(20, 20, 18.9), CUBE, tabs=[(20, 39)])
    found = held([ring, top()], clamps=[["bottom"], None])
    # straight pieces stand for the circle, the kerf and its far side, each within 0.01 mm
    assert 2 * 40 * 0.1 * (1.0 - 1e-3) <= found.area <= 2 * 40 * (0.1 + 3 * 0.01)


def test_the_least_step_counts() -> None:
    """Behind the tab the frame is 3 mm wide, then 0.7 mm where a notch comes near, then 3 mm."""
    notched = Polygon(
        [(5, 5), (36, 5), (36, 10), (38.3, 10), (38.3, 12), (36, 12), (36, 35), (5, 35)]
    )
    plate = cut_of("front", notched, CUBE, tabs=[(36, 25)], width=6.0)
    clamps: list[Clamp | None] = [["bottom"], None]
    # the way up is clear: 3 mm wide beside the part, 4 mm above and on its left
    found = held([plate, top()], clamps=clamps)
    assert 40 * (0.7 + 3.0) * (1.0 - 1e-4) <= found.area <= 40 * (0.7 + 3.0) * (1.0 + SLACK)


@settings(max_examples=25, deadline=None)
@given(angle=st.floats(0.0, 360.0), width=st.floats(0.2, 2.0))
def test_a_bar_holds_by_its_section_whatever_way_it_lies(angle: float, width: float) -> None:
    """Two discs joined by a bar; the part is in one of them, the clamps press on the other."""
    stock = Stock((80.0, 20.0, 80.0))
    pair = shapely.union_all(
        [disc(20, 40, 9), disc(60, 40, 9), rect(20, 40 - width / 2, 60, 40 + width / 2)]
    )
    turned = rotate(pair, angle, origin=(40, 40))
    one, two = (rotate(disc(u, 40, 5), angle, origin=(40, 40)) for u in (20, 60))
    u, v = two.centroid.x, two.centroid.y
    cuts = [cut_of("front", many(turned), stock), cut_of("rear", _mirrored(one, 80.0), stock)]
    pads: list[Clamp | None] = [[(u - 4, v - 4, u + 4, v + 4)], None]
    found = held(cuts, clamps=pads)
    # inside corners where the bar meets the discs keep nothing of its middle; shifts of cells
    # are APART, and outlines are rounded to 1e-9 mm
    assert found.area == near(width * 20.0)
    assert not found.in_tabs


def _mirrored(area: Polygon, width: float) -> Polygon:
    return shapely.transform(area, lambda points: np.array([width, 0.0]) + points * [-1.0, 1.0])


def test_a_clamp_holds_by_no_more_than_it_presses_on() -> None:
    """A pad of 3 × 2 mm on the part's own face."""
    pads: list[Clamp | None] = [[(10.0, 10.0, 13.0, 12.0), (-5.0, 0.0, 0.0, 9.0)], None]
    found = held([cut_of("front", SQUARE, CUBE), top()], clamps=pads)
    assert found.area == near(6.0)
    assert found.cut is None


def test_in_a_round_bar() -> None:
    """A disc of 18.9 mm cut from a bar of 20 mm: a skin of 0.1 mm all round, 60 mm long."""
    bar = Stock((40.0, 40.0, 60.0), diameter=40.0)
    cuts = [
        cut_of("top", disc(20, 20, 18.9), bar, tabs=[(20, 39)]),
        cut_of("front", rect(5, 5, 35, 55), bar),
    ]
    # the bar's flat sides lie up to 0.01 mm inside its circle, and the kerf's up to 0.01 mm
    assert held(cuts).area == pytest.approx(2 * 0.1 * 60, abs=2 * 0.02 * 60)


def test_views_along_one_line_are_one_direction() -> None:
    """A slit from the rear leaves 0.5 mm between itself and the tab of the front cut."""
    plate = cut_of("front", SQUARE, CUBE, tabs=[(35, 20)], width=4.0)
    slit = Polygon(rect(-1, -1, 41, 41).exterior, [rect(2.3, 10, 3.5, 30).exterior])
    cuts = [plate, cut_of("rear", slit, CUBE), top()]
    # kerf and slit: material from x = 36 to 36.5, 40 mm deep, above and below the tab
    found = held(cuts, 2, 1, [["left"], ["right"], None])
    assert found.area == near(2 * 0.5 * 40)


# --- beside voxels -----------------------------------------------------------------------------

CORNERS = math.sqrt(3.0)
"""A surface made of voxel sides is at most so many times as large as the smooth one."""


def check_beside_voxels(seed: int, step: float) -> bool:
    """Whether the part was held, and then: no less than voxels allow, and not much more.

    A section may be up to √3 times as large on voxels, so that over √3 bounds it from below.
    From above the whole core is asked for, as a section that wraps a small part deep in the
    block is not looked for; half a voxel at each border of a section, of about 20 mm, is the
    voxels' own error, and what lies between walls of two views may be overestimated.
    """
    job = random_job(seed, aligned=True, least_cuts=2)
    some = False
    for made in range(1, len(job.cuts)):
        cuts = job.cuts[:made]
        clamps: list[Clamp | None] = [["left"]] * len(job.cuts)
        cutting = cutting_of(job.cuts, clamps)
        axis = cuts[-1].profile.view.axes[0]
        k = int(np.argmax(np.abs(axis)))
        side = -k - 1 if axis[k] > 0.0 else k
        found = cutting.hold(frozenset(range(made)), made - 1).area
        least = least_section(job.stock, cuts, job.cuts, side, step)
        most = least_section(job.stock, cuts, cuts, side, step)
        assert (found > 1e-3) == (least > 0.0)  # cells are shifted apart by 1e-5 mm
        assert found >= least / CORNERS - 1e-6
        assert found <= 1.2 * most + 20.0 * step / 2.0
        some |= found > 0.0
    return some


def test_beside_voxels() -> None:
    assert sum([check_beside_voxels(seed, 0.5) for seed in range(5)]) > 2


@pytest.mark.big
def test_beside_voxels_in_many_jobs() -> None:
    assert sum([check_beside_voxels(100 + seed, 0.5) for seed in range(150)]) > 60


@pytest.mark.parametrize("seed", range(6))
def test_what_is_held_by_something_is_what_the_bodies_say(seed: int) -> None:
    """The booleans of the simulation know nothing of cells."""
    job = random_job(900 + seed, aligned=seed % 2 == 0, least_cuts=2)
    for clamp in (["left"], ["bottom"], ["right", "top"]):
        clamps: list[Clamp | None] = [clamp] * len(job.cuts)
        cutting = cutting_of(job.cuts, clamps)
        for made in range(1, len(job.cuts)):
            chosen = frozenset(range(made))
            is_held = cutting.main_piece(chosen) in cutting.held(chosen, made - 1)
            assert (cutting.hold(chosen, made - 1).area > 1e-3) == is_held


# --- cells and pieces --------------------------------------------------------------------------


def check_cells(area: MultiPolygon, cells: Cells) -> None:
    triangles = np.asarray(shapely.polygons(cells.points[cells.triangles]))
    assert shapely.area(triangles).sum() == pytest.approx(area.area, rel=1e-6)
    for number in range(int(cells.cell.max()) + 1):
        cell = shapely.union_all(triangles[cells.cell == number])
        assert isinstance(cell, Polygon)
        hull = shapely.convex_hull(cell)
        # the border lies no further inside the hull than a tenth of the longest chord
        hollow = shapely.distance(
            shapely.boundary(hull), shapely.points(shapely.get_coordinates(cell))
        )
        assert hollow.max() <= SLACK * hull.length / 2.0


@pytest.mark.parametrize("seed", range(6))
def test_cells_cover_the_area_and_are_nearly_convex(seed: int) -> None:
    cut = random_job(seed, aligned=seed % 2 == 0).cuts[0]
    left = many(shapely.difference(cut.stock.shadow(cut.profile.view), cut.removed))
    mark = shapely.buffer(shapely.Point(8.0, 8.0), 3.0)
    cells = cells_of(left, mark)
    check_cells(left, cells)
    marked = shapely.polygons(cells.points[cells.triangles[cells.marked]])
    assert shapely.area(marked).sum() == pytest.approx(shapely.intersection(left, mark).area)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.floats(0.0, 40.0), st.floats(0.1, 3.0)), min_size=1, max_size=3))
def test_every_gap_between_two_slits_is_a_chord(gaps: list[tuple[float, float]]) -> None:
    """Slits from both sides towards each other, 10 mm apart: their tips are where it is narrow."""
    slits, wanted = [], []
    for k, (at, gap) in enumerate(gaps):
        u = 5.0 + 10.0 * k
        low = 5.0 + at * 0.5
        slits += [rect(u, -1, u + 0.5, low), rect(u, low + gap, u + 0.5, 41)]
        wanted.append(gap)
    area = many(shapely.difference(rect(0, 0, 40, 40), shapely.union_all(slits)))
    cells = cells_of(area, MultiPolygon())
    ends = cells.points[cells.chords]
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    for gap in wanted:
        assert np.abs(length - gap).min() <= 1e-6  # corners are rounded to 1e-7 mm


@pytest.mark.parametrize("view", ["front", "right", "top"])
def test_pieces_are_split_without_loss(view: str) -> None:
    """A tilted plane, and planes seen edge on, through cells that cover the whole face."""
    cells = cells_of(
        many(rect(-50, -50, 50, 50)), MultiPolygon([rect(-10, -10, 11, 7), rect(12, 3, 20, 30)])
    )
    planes = np.array([[1.0, 0.2, -0.3], [1, 0, 0], [0, 1, 0], [0, 0, 1]])
    first = np.cross(planes, [0.3, 0.4, 0.5])
    first /= np.linalg.norm(first, axis=1, keepdims=True)
    second = np.cross(planes / np.linalg.norm(planes, axis=1, keepdims=True), first)
    corners = np.repeat(np.array([[[-8.0, -8], [9, -7], [8, 9]]]), 4, axis=0)
    pieces = Pieces(
        np.full((4, 3), 0.123), np.stack([first, second], 1), corners, np.arange(4)[:, None]
    )
    found = split(pieces, cells, VIEWS[view])
    areas = np.bincount(found.labels[:, 0], found.areas)
    assert areas == pytest.approx(pieces.areas)
    moments = (found.middles * found.areas[:, None]).sum(axis=0)
    assert moments == pytest.approx((pieces.middles * pieces.areas[:, None]).sum(axis=0))


def test_tabs_and_cells_know_nothing_of_the_order_in_which_tabs_are_given() -> None:
    bare = cut_of("front", rect(5, 5, 38.9, 35), CUBE)
    places = [(39.0, 12.0), (5.0, 20.0), (20.0, 35.0)]
    areas = [held([with_tabs_at(bare, order), top()]).area for order in (places, places[::-1])]
    assert areas[0] == near(areas[1])
