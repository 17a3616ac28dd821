"""Tabs: found where they are drawn or declared, as wide as asked for where they are narrowest."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import ezdxf.filemanagement
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Polygon

import silhouette3d
from silhouette3d.base.units import Unit
from silhouette3d.drawing.model import Arc, Curve, polyline
from silhouette3d.errors import CuttingError
from silhouette3d.geometry.misfit import MisfitError
from silhouette3d.geometry.removal import stock_solid
from silhouette3d.geometry.stock import Stock
from silhouette3d.presentation.wording.misfits import misfits_in_words
from silhouette3d.process.cut import Cut, Tab
from silhouette3d.process.profile import Profile
from silhouette3d.process.tab_remnants import standing
from silhouette3d.process.tabs import TabPlace, on_path, stretch_of, tab_at, with_tabs
from tests.support.cut_jobs import TOLERANCE, cut_of, stages_of
from tests.support.shapes import Area, Shape, disc, many, rect, write_job

STOCK = Stock((40.0, 30.0, 50.0))
SQUARE = rect(10, 10, 30, 40)


def line(*points: tuple[float, float], closed: bool = False) -> Curve:
    return Curve(polyline(points, closed=closed), "TABS", "LINE #2F")


def drawn(area: Area, *curves: Curve, kerf: float = 1.0, unit: Unit = "mm") -> Cut:
    """The cut of an outline with these curves on its tab layer, tabs usually 2 mm wide."""
    bare = cut_of("front", area, STOCK, kerf=kerf)
    p = bare.profile
    profile = Profile(p.name, p.view, p.face, p.outline, None, curves)
    with misfits_in_words(unit, f"job.toml, profile {p.name!r}"):
        return with_tabs(Cut(profile, STOCK, kerf, TOLERANCE), [], 2.0)


def declared(area: Area, *specs: TabPlace, kerf: float = 1.0, unit: Unit = "mm") -> Cut:
    cut = cut_of("front", area, STOCK, kerf=kerf)
    with misfits_in_words(unit, f"job.toml, profile {cut.name!r}"):
        return with_tabs(cut, specs, 2.0)


# --- drawn lines -------------------------------------------------------------------------------


def test_a_line_across_the_outline_is_a_tab() -> None:
    (tab,) = drawn(SQUARE, line((5, 25), (15, 25))).tabs
    assert tab.at == pytest.approx((9.5, 25.0))
    assert tab.width == 2.0
    # the cutter stops half a kerf before the tab, on either side: 2 mm and a kerf of 1 mm
    assert tab.stretch.bounds == pytest.approx((9.5, 23.5, 9.5, 26.5))


def test_a_line_right_through_is_two_tabs() -> None:
    tabs = drawn(SQUARE, line((5, 25), (35, 25))).tabs
    assert sorted(tab.at[0] for tab in tabs) == pytest.approx([9.5, 30.5])


def test_a_line_through_a_hole_is_four_tabs() -> None:
    area = Polygon(SQUARE.exterior, [rect(15, 20, 25, 30).exterior])
    tabs = drawn(area, line((5, 25), (35, 25))).tabs
    assert sorted(tab.at[0] for tab in tabs) == pytest.approx([9.5, 15.5, 24.5, 30.5])


@pytest.mark.parametrize("ends", [((10, 25), (4, 25)), ((10, 25), (16, 25)), ((4, 25), (10, 25))])
def test_a_line_that_ends_on_the_outline_is_a_tab(ends: tuple) -> None:
    (tab,) = drawn(SQUARE, line(*ends)).tabs
    assert tab.at == pytest.approx((9.5, 25.0))


def test_a_line_that_ends_on_an_arc_meets_its_chords() -> None:
    """The true circle lies up to a tolerance outside the chords that stand for it."""
    area = disc(20, 25, 10, 70)  # its sagitta is 0.01 mm
    angle = np.pi / 70
    on_circle = (20 + 10 * np.cos(angle), 25 + 10 * np.sin(angle))
    outside = (20 + 15 * np.cos(angle), 25 + 15 * np.sin(angle))
    (tab,) = drawn(area, line(on_circle, outside)).tabs
    assert np.hypot(tab.at[0] - 20, tab.at[1] - 25) == pytest.approx(10.5, abs=0.02)


@pytest.mark.parametrize("start", [(2.0, 25.0), (18.0, 25.0)])
def test_a_line_that_ends_two_tolerances_short_is_a_tab_and_no_further(
    start: tuple[float, float],
) -> None:
    outwards = math.copysign(1.0, start[0] - 10.0)
    (tab,) = drawn(SQUARE, line(start, (10 + 1.99 * TOLERANCE * outwards, 25))).tabs
    assert tab.at == pytest.approx((9.5, 25.0))
    with pytest.raises(CuttingError, match="touches no outline"):
        drawn(SQUARE, line((10 + 2.01 * TOLERANCE * outwards, 25), start))


def test_a_line_along_the_outline_is_one_tab_in_its_middle() -> None:
    (tab,) = drawn(SQUARE, line((10, 20), (10, 30))).tabs
    assert tab.at == pytest.approx((9.5, 25.0))
    assert tab.width == 2.0


def test_a_bent_line_and_an_arc() -> None:
    bent = line((5, 20), (12, 20), (12, 30), (5, 30))
    arc = Curve((Arc.circular((30.0, 25.0), 3.0, np.pi / 2, 3 * np.pi / 2),), "TABS")
    tabs = drawn(SQUARE, bent).tabs
    assert sorted(tab.at[1] for tab in tabs) == pytest.approx([20.0, 30.0])
    # an arc that begins and ends on the outline
    assert sorted(t.at[1] for t in drawn(SQUARE, arc).tabs) == pytest.approx([22.0, 28.0])


def test_a_line_through_a_corner_runs_round_it() -> None:
    """Its ends are 3 mm apart, at (9.5, 10 + x) and (10 + x, 9.5) with x = 3 / √2 − 0.5."""
    (tab,) = drawn(SQUARE, line((5, 5), (15, 15))).tabs
    assert math.dist(tab.at, (10, 10)) == pytest.approx(0.5, abs=TOLERANCE)
    straight = 2.0 * (3.0 / math.sqrt(2.0) - 0.5)
    assert tab.stretch.length == pytest.approx(straight + math.pi / 4, abs=0.02)


@pytest.mark.parametrize(("unit", "told"), [("mm", "3.5 mm"), ("in", "0.1378 in")])
def test_a_line_that_touches_nothing_is_an_error(unit: Unit, told: str) -> None:
    with pytest.raises(CuttingError) as caught:
        drawn(SQUARE, line((2, 25), (6.5, 25)), unit=unit)
    text = str(caught.value)
    assert f"LINE #2F on layer 'TABS' touches no outline: it is {told} off the nearest one" in text
    assert "job.toml, profile 'front'" in text
    assert "Move it onto the outline" in text


def test_a_line_inside_the_outline_touches_nothing() -> None:
    with pytest.raises(CuttingError, match=r"2 mm off the nearest one"):
        drawn(SQUARE, line((12, 25), (20, 25)))


# --- declared in the job file ------------------------------------------------------------------


def test_a_declared_tab() -> None:
    (tab,) = declared(SQUARE, TabPlace(at=(10.0, 25.0), width=3.0)).tabs
    assert tab.at == pytest.approx((9.5, 25.0))
    assert tab.width == 3.0


def test_a_declared_tab_has_the_usual_width() -> None:
    assert declared(SQUARE, TabPlace(at=(10.0, 25.0))).tabs[0].width == 2.0


@pytest.mark.parametrize("off", [-1.9, -0.5, 0.0, 0.5, 1.9])
def test_a_declared_tab_need_not_be_exactly_on_the_outline(off: float) -> None:
    (tab,) = declared(SQUARE, TabPlace(at=(10.0 + off, 25.0))).tabs
    assert tab.at == pytest.approx((9.5, 25.0))


@pytest.mark.parametrize("off", [-2.1, 2.1])
def test_a_declared_tab_further_off_than_its_width_is_an_error(off: float) -> None:
    with pytest.raises(CuttingError) as caught:
        declared(SQUARE, TabPlace(at=(10.0 + off, 25.0)))
    place = f"({10 + off:.6g}, 25) mm"
    assert f"the tab at {place} touches no outline: it is 2.1 mm off" in str(caught.value)


def test_a_stray_tab_is_told_in_the_jobs_unit() -> None:
    with pytest.raises(CuttingError) as caught:
        declared(SQUARE, TabPlace(at=(5.08, 25.4)), unit="in")
    assert "the tab at (0.2, 1) in touches no outline: it is 0.1937 in off" in str(caught.value)


def test_the_place_on_the_path() -> None:
    assert on_path(cut_of("front", SQUARE, STOCK), (3.0, 25.0)) == pytest.approx((9.5, 25.0))


@pytest.mark.parametrize(("unit", "told"), [("mm", "200 mm"), ("in", "7.874 in")])
def test_a_tab_wider_than_its_cut_is_an_error(unit: Unit, told: str) -> None:
    with pytest.raises(CuttingError, match=f"a tab of {told} does not fit at"):
        declared(SQUARE, TabPlace(at=(10.0, 25.0), width=200.0), unit=unit)


def test_drawn_and_declared_tabs_add_up() -> None:
    bare = cut_of("front", SQUARE, STOCK)
    p = bare.profile
    profile = Profile(p.name, p.view, p.face, p.outline, None, (line((5, 25), (15, 25)),))
    cut = Cut(profile, STOCK, 1.0, TOLERANCE)
    assert len(with_tabs(cut, [TabPlace(at=(30.0, 25.0))], 2.0).tabs) == 2


def test_from_a_file_to_the_stage(tmp_path: Path) -> None:
    """A line on the layer TABS of a DXF drawing holds the part to its last cut."""
    shape = Shape((40, 30, 50), {"front": SQUARE, "top": rect(10, 5, 30, 25)}, 0, 0)
    job = write_job(tmp_path, shape, cutting={"kerf": 1.0})
    document = ezdxf.filemanagement.readfile(tmp_path / "front.dxf")
    document.modelspace().add_line((5, 25), (15, 25), dxfattribs={"layer": "TABS"})
    document.saveas(tmp_path / "front.dxf")
    part = silhouette3d.load(job)
    assert [len(cut.tabs) for cut in part.cuts] == [1, 0]
    assert [stage.part_is_held for stage in part.stages] == [True, False]


def test_a_stray_tab_in_a_file_names_file_and_distance(tmp_path: Path) -> None:
    shape = Shape((40, 30, 50), {"front": SQUARE}, 0, 0)
    tabs = {"front": {"tab": [{"at": [3.0, 25.0]}]}}
    part = silhouette3d.load(write_job(tmp_path, shape, profiles=tabs))
    with pytest.raises(CuttingError, match=r"job\.toml, profile 'front': the tab at .* 7 mm off"):
        _ = part.stages


# --- what stays standing -----------------------------------------------------------------------


def neck(cut: Cut, tab: Tab) -> float:
    """The narrowest place of a tab: how near what is removed comes on both sides of it.

    Looked for where the cutter stops, so as not to find two places further along the cut.
    """
    near = shapely.buffer(tab.stretch, cut.kerf + tab.width)
    pieces = shapely.get_parts(shapely.intersection(cut.removed, near))
    one, other = sorted(pieces, key=lambda piece: piece.area)[-2:]
    return float(shapely.distance(one, other))


@pytest.mark.parametrize("kerf", [0.001, 0.3, 1.0, 4.0])
@pytest.mark.parametrize("width", [0.1, 0.5, 2.0, 6.0])
def test_what_stays_at_a_tab_is_round_at_its_ends(kerf: float, width: float) -> None:
    """A rectangle across the kerf and, on either side of it, a square of it less half a disc."""
    cut = cut_of("front", SQUARE, STOCK, kerf=kerf, tabs=[(10, 25)], width=width)
    (stage,) = stages_of(cut)
    (body,) = stage.bodies
    block = standing(cut, body.solid)
    assert neck(cut, cut.tabs[0]) == pytest.approx(width, rel=1e-6)
    square = width * kerf
    round_ends = kerf**2 - math.pi / 4.0 * kerf**2
    facets = math.pi * kerf * min(TOLERANCE, kerf / 2.0)  # of an inscribed polygon, all round
    assert 0.0 <= block.volume / 30.0 - square - round_ends <= facets + 1e-9
    assert block.size == pytest.approx([kerf, 30.0, width + kerf], abs=1e-6)


def joint(cut: Cut) -> tuple[float, float]:
    """Length along which what stands touches the part, and the waste beyond the kerf."""
    near = shapely.buffer(cut.standing, 1e-6)
    inner, outer = (
        float(shapely.length(shapely.intersection(shapely.boundary(side), near)))
        for side in (cut.as_cut, cut.within_kerf)
    )
    return inner, outer


CORNERS = [(10.0, 10.0), (9.6, 12.0), (11.0, 9.5), (30.0, 40.0), (10.0, 39.9)]


@pytest.mark.parametrize("at", CORNERS)
@pytest.mark.parametrize("kerf", [0.5, 2.0, 5.0])
@pytest.mark.parametrize("tolerance", [0.0003, 0.01, 0.1])
def test_a_tab_at_a_corner_holds_with_its_width(
    at: tuple[float, float], kerf: float, tolerance: float
) -> None:
    """However coarse the discs, no gap is left between the tab and what it holds."""
    cut = cut_of("front", SQUARE, STOCK, kerf=kerf, tolerance=tolerance, tabs=[at], width=1.5)
    (stage,) = stages_of(cut)
    assert len(stage.bodies) == 1
    # corners of both discs lie on the line between their middles only where the path is straight
    assert neck(cut, cut.tabs[0]) == pytest.approx(1.5, abs=2.0 * tolerance)
    assert min(joint(cut)) >= 1.5


@pytest.mark.parametrize(
    ("angle", "aside"),
    [(a, b) for a in (45.0, 90.0, 150.0) for b in (0.0, 0.3, 2.0)] + [(25.0, 0.0), (25.0, 0.3)],
)
def test_a_tab_in_an_inside_corner_holds_with_its_width(angle: float, aside: float) -> None:
    t = math.radians(angle) / 2
    sides = [(20 + s * 40 * math.sin(t), 20 + 40 * math.cos(t)) for s in (-1, 1)]
    area = many(shapely.difference(rect(2, 2, 38, 48), Polygon([(20, 20), *sides])))
    at = (20 + aside * math.sin(t), 20 + 0.5 / math.sin(t) + aside * math.cos(t))
    cut = cut_of("front", area, STOCK, kerf=1.0, tabs=[at], width=1.5)
    (stage,) = stages_of(cut)
    assert len(stage.bodies) == 1 + (angle == 150.0)  # there the notch cuts the part in two
    assert neck(cut, cut.tabs[0]) == pytest.approx(1.5, abs=2.0 * TOLERANCE)
    assert min(joint(cut)) >= 1.5


@pytest.mark.parametrize("angle", np.linspace(0.0, 1.0, 9))
@pytest.mark.parametrize("corners", [24, 64, 500])
def test_a_tab_on_a_round_outline_reaches_right_across_the_kerf(angle: float, corners: int) -> None:
    """Path, band and strip are different polygons there."""
    at = (20 + 12 * math.cos(angle), 25 + 12 * math.sin(angle))
    outer = cut_of("front", disc(20, 25, 12, corners), STOCK, kerf=1.0, tabs=[at])
    hole = Polygon(rect(2, 2, 38, 48).exterior, [disc(20, 25, 12, corners).exterior])
    inner = cut_of("front", hole, STOCK, kerf=1.0, tabs=[at])
    for cut, bodies in ((outer, 1), (inner, 2)):  # the plate with its slug, and the frame
        (stage,) = stages_of(cut)
        assert len(stage.bodies) == bodies
        assert neck(cut, cut.tabs[0]) == pytest.approx(2.0, abs=2.0 * TOLERANCE)
        assert min(joint(cut)) >= 2.0


@settings(max_examples=60)
@given(st.integers(0, 10**6), st.floats(0.0, 1.0), st.floats(0.2, 4.0), st.floats(0.1, 2.0))
def test_the_narrowest_place_of_any_tab_is_its_width(
    seed: int, share: float, width: float, kerf: float
) -> None:
    """On straight, round and sharply bent stretches of random outlines, or it is refused."""
    rng = np.random.default_rng(seed)
    t = np.sort(rng.uniform(0.0, 2.0 * math.pi, 9))
    radii = rng.uniform(4.0, 13.0, len(t))
    star = Polygon(
        np.array([20.0, 25.0]) + radii[:, None] * np.column_stack([np.cos(t), np.sin(t)])
    )
    area = shapely.buffer(star, -0.8).buffer(0.8) if seed % 2 else star
    if not star.is_valid or area.is_empty:
        return
    bare = cut_of("front", many(area), STOCK, kerf=kerf)
    ring = shapely.get_parts(bare.path)[0]
    at = ring.interpolate(share, normalized=True)
    try:
        tab = tab_at(bare, (at.x, at.y), width)
    except MisfitError:
        return
    cut = replace(bare, tabs=(tab,))
    (run,) = (line for line in shapely.get_parts(cut.interrupted) if not line.is_closed)
    if cut.neck(tab).length < width - 1e-5:  # the cut comes back beside itself, as in a slot
        assert math.dist(run.coords[0], run.coords[-1]) == pytest.approx(width + kerf, abs=1e-5)
    else:
        assert cut.neck(tab).length == pytest.approx(width, abs=1e-5)
    ends = [shapely.Point(run.coords[k]) for k in (0, -1)]
    swept = [shapely.buffer(end, kerf / 2.0, quad_segs=32) for end in ends]
    assert shapely.distance(*swept) >= width - 0.02
    # nothing that the run sweeps stands, but for what the polygons of discs leave
    room = 4.0 * TOLERANCE
    assert shapely.buffer(
        shapely.intersection(cut.standing, shapely.buffer(run, kerf / 2.0 - room, quad_segs=32)),
        -1e-6,
    ).is_empty


def slotted(width: float, depth: float = 30.0) -> Polygon:
    """A plate with a slot from its upper side."""
    half = width / 2.0
    slot = rect(20 - half, 45 - depth, 20 + half, 46)
    return many(shapely.difference(rect(5, 5, 35, 45), slot)).geoms[0]


@pytest.mark.parametrize("width", [1.1, 1.5, 1.99])
def test_a_tab_on_the_side_of_a_narrow_slot_leaves_itself_alone_uncut(width: float) -> None:
    """In a slot no wider than two kerfs there is no waste for it to hold."""
    tab = tab_at(cut_of("front", slotted(width), STOCK, kerf=1.0), (20 - width / 2, 25.0), 2.0)
    assert tab.stretch.length == pytest.approx(3.0)
    cut = cut_of("front", slotted(width), STOCK, kerf=1.0, tabs=[(20 - width / 2, 25.0)])
    # the run along the other side sweeps all but the rest of the slot's width
    assert cut.standing.bounds[2] - cut.standing.bounds[0] == pytest.approx(width - 1.0, abs=1e-6)


def test_tabs_on_both_sides_of_a_narrow_slot_bridge_it() -> None:
    cut = cut_of("front", slotted(1.5), STOCK, kerf=1.0, tabs=[(19.25, 25.0), (20.75, 25.0)])
    across = shapely.intersection(cut.standing, LineString([(19, 25), (21, 25)]))
    assert across.length == pytest.approx(1.5)


@pytest.mark.parametrize("depth", [10.0, 30.0])
def test_a_tab_at_the_end_of_a_narrow_slot_is_refused(depth: float) -> None:
    """All of the slot would stay uncut before its two sides are a tab and a kerf apart."""
    with (
        pytest.raises(CuttingError, match="too close beside itself there to stop twice, 3 mm"),
        misfits_in_words("mm", ""),
    ):
        tab_at(cut_of("front", slotted(1.5, depth), STOCK, kerf=1.0), (20.0, 45.5 - depth), 2.0)


def test_a_tab_round_a_hole_too_small_for_it_is_refused() -> None:
    """Round a hole of 1.5 mm the path is a square of 0.5 mm: nowhere are its ends 2.2 mm apart."""
    area = Polygon(rect(5, 5, 35, 45).exterior, [rect(8, 20, 9.5, 21.5).exterior])
    with (
        pytest.raises(CuttingError, match=r"a tab of 1\.2 mm does not fit at \(8\.5, 20\.75\) mm"),
        misfits_in_words("mm", ""),
    ):
        tab_at(cut_of("front", area, STOCK, kerf=1.0), (8.5, 20.75), 1.2)


def test_tabs_that_overlap_are_one() -> None:
    cut = cut_of("front", SQUARE, STOCK, tabs=[(10, 25), (10, 26)])
    # 3 mm, and a square of the kerf less a disc, whose polygon is a little smaller
    assert cut.standing.area == pytest.approx(3.0 + 1.0 - math.pi / 4.0, abs=math.pi * TOLERANCE)
    assert len(shapely.get_parts(cut.cut_path)) == 1


@given(st.floats(0.0, 200.0), st.floats(0.1, 50.0))
def test_a_stretch_is_as_long_as_asked_and_lies_on_the_line(start: float, length: float) -> None:
    ring = LineString(rect(0, 0, 20, 30).exterior.coords)
    piece = stretch_of(ring, start, start + length)
    assert piece.length == pytest.approx(length)
    assert shapely.distance(shapely.points(shapely.get_coordinates(piece)), ring).max() <= 1e-9


@given(st.floats(0.0, 1.0), st.floats(0.2, 4.0))
def test_tab_at_finds_its_place_again(share: float, width: float) -> None:
    """What is proposed, written and read again is the same tab."""
    cut = cut_of("front", Polygon([(8, 12), (33, 9), (25, 41), (12, 30)]), STOCK)
    ring = shapely.get_parts(cut.path)[0]
    at = ring.interpolate(share, normalized=True)
    tab = tab_at(cut, (at.x, at.y), width)
    assert tab.at == pytest.approx((at.x, at.y), abs=1e-9)
    again = tab_at(cut, tab.at, width)
    assert shapely.hausdorff_distance(again.stretch, tab.stretch) <= 1e-6
    assert tab.stretch.length >= (width + cut.width) * (1.0 - 1e-9)


def test_no_tab_no_strip() -> None:
    cut = cut_of("front", SQUARE, STOCK)
    assert cut.standing.is_empty
    assert standing(cut, stock_solid(STOCK)).is_empty
