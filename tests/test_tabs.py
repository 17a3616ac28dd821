"""Tabs: found where they are drawn or declared, as wide as asked for."""

from __future__ import annotations

import math
from pathlib import Path

import ezdxf.filemanagement
import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Polygon

import silhouette3d
from silhouette3d.cutting.kerf import Cut
from silhouette3d.cutting.stubs import standing
from silhouette3d.cutting.tabs import on_path, stretch_of, tab_at, with_tabs
from silhouette3d.drawing.curve import Arc, Curve, polyline
from silhouette3d.errors import CuttingError
from silhouette3d.job import TabSpec
from silhouette3d.place import Profile
from silhouette3d.solid import stock_solid
from silhouette3d.stock import Stock
from silhouette3d.units import Unit
from tests.cut_jobs import TOLERANCE, cut_of, stages_of
from tests.shapes import Area, Shape, disc, many, rect, write_job

STOCK = Stock((40.0, 30.0, 50.0))
SQUARE = rect(10, 10, 30, 40)


def line(*points: tuple[float, float], closed: bool = False) -> Curve:
    return Curve(polyline(points, closed=closed), "TABS", "LINE #2F")


def drawn(area: Area, *curves: Curve, kerf: float = 1.0, unit: Unit = "mm") -> Cut:
    """The cut of an outline with these curves on its tab layer, tabs usually 2 mm wide."""
    bare = cut_of("front", area, STOCK, kerf=kerf)
    p = bare.profile
    profile = Profile(p.name, p.view, p.face, p.outline, None, curves)
    return with_tabs(Cut(profile, STOCK, kerf, TOLERANCE), [], 2.0, unit, "job.toml")


def declared(area: Area, *specs: TabSpec, kerf: float = 1.0, unit: Unit = "mm") -> Cut:
    return with_tabs(cut_of("front", area, STOCK, kerf=kerf), specs, 2.0, unit, "job.toml")


# --- drawn lines -------------------------------------------------------------------------------


def test_a_line_across_the_outline_is_a_tab() -> None:
    (tab,) = drawn(SQUARE, line((5, 25), (15, 25))).tabs
    assert tab.at == pytest.approx((9.5, 25.0))
    assert tab.width == 2.0
    assert tab.stretch.bounds == pytest.approx((9.5, 24.0, 9.5, 26.0))


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
    """1 mm on either side of the corner, and the quarter circle round it."""
    (tab,) = drawn(SQUARE, line((5, 5), (15, 15))).tabs
    assert math.dist(tab.at, (10, 10)) == pytest.approx(0.5, abs=TOLERANCE)
    assert tab.stretch.length == pytest.approx(1.0 + 1.0 + math.pi / 4, abs=0.02)


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
    (tab,) = declared(SQUARE, TabSpec(at=(10.0, 25.0), width=3.0)).tabs
    assert tab.at == pytest.approx((9.5, 25.0))
    assert tab.width == 3.0


def test_a_declared_tab_has_the_usual_width() -> None:
    assert declared(SQUARE, TabSpec(at=(10.0, 25.0))).tabs[0].width == 2.0


@pytest.mark.parametrize("off", [-1.9, -0.5, 0.0, 0.5, 1.9])
def test_a_declared_tab_need_not_be_exactly_on_the_outline(off: float) -> None:
    (tab,) = declared(SQUARE, TabSpec(at=(10.0 + off, 25.0))).tabs
    assert tab.at == pytest.approx((9.5, 25.0))


@pytest.mark.parametrize("off", [-2.1, 2.1])
def test_a_declared_tab_further_off_than_its_width_is_an_error(off: float) -> None:
    with pytest.raises(CuttingError) as caught:
        declared(SQUARE, TabSpec(at=(10.0 + off, 25.0)))
    place = f"({10 + off:.6g}, 25) mm"
    assert f"the tab at {place} touches no outline: it is 2.1 mm off" in str(caught.value)


def test_a_stray_tab_is_told_in_the_jobs_unit() -> None:
    with pytest.raises(CuttingError) as caught:
        declared(SQUARE, TabSpec(at=(5.08, 25.4)), unit="in")
    assert "the tab at (0.2, 1) in touches no outline: it is 0.1937 in off" in str(caught.value)


def test_the_place_on_the_path() -> None:
    assert on_path(cut_of("front", SQUARE, STOCK), (3.0, 25.0)) == pytest.approx((9.5, 25.0))


@pytest.mark.parametrize(("unit", "told"), [("mm", "200 mm"), ("in", "7.874 in")])
def test_a_tab_as_long_as_its_cut_is_an_error(unit: Unit, told: str) -> None:
    with pytest.raises(CuttingError, match=f"a tab of {told} is as long as the whole cut of"):
        declared(SQUARE, TabSpec(at=(10.0, 25.0), width=200.0), unit=unit)


def test_drawn_and_declared_tabs_add_up() -> None:
    bare = cut_of("front", SQUARE, STOCK)
    p = bare.profile
    profile = Profile(p.name, p.view, p.face, p.outline, None, (line((5, 25), (15, 25)),))
    cut = Cut(profile, STOCK, 1.0, TOLERANCE)
    assert len(with_tabs(cut, [TabSpec(at=(30.0, 25.0))], 2.0, "mm", "job.toml").tabs) == 2


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


@pytest.mark.parametrize("kerf", [0.001, 0.3, 1.0, 4.0])
@pytest.mark.parametrize("width", [0.5, 2.0, 6.0])
def test_the_material_left_standing_is_as_wide_as_the_tab(kerf: float, width: float) -> None:
    cut = cut_of("front", SQUARE, STOCK, kerf=kerf, tabs=[(10, 25)], width=width)
    (stage,) = stages_of(cut)
    (body,) = stage.bodies
    block = standing(cut, body.solid)
    assert block.volume == pytest.approx(width * kerf * 30.0, rel=1e-6)
    assert block.size == pytest.approx([kerf, 30.0, width], abs=1e-6)


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
    inner, outer = joint(cut)
    # steps of the measure, and feet that jump by the size of a facet
    assert 1.4 <= inner <= 1.6
    assert outer >= 1.4


@pytest.mark.parametrize("angle", [20.0, 45.0, 90.0, 150.0])
@pytest.mark.parametrize("aside", [0.0, 0.3, 2.0])
def test_a_tab_in_an_inside_corner_holds_with_its_width(angle: float, aside: float) -> None:
    t = math.radians(angle) / 2
    sides = [(20 + s * 40 * math.sin(t), 20 + 40 * math.cos(t)) for s in (-1, 1)]
    area = many(shapely.difference(rect(2, 2, 38, 48), Polygon([(20, 20), *sides])))
    at = (20 + aside * math.sin(t), 20 + 0.5 / math.sin(t) + aside * math.cos(t))
    cut = cut_of("front", area, STOCK, kerf=1.0, tabs=[at], width=1.5)
    (stage,) = stages_of(cut)
    assert len(stage.bodies) == 1 + (angle == 150.0)  # there the notch cuts the part in two
    inner, outer = joint(cut)
    assert inner >= 1.4
    assert outer >= 1.4


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
        assert min(joint(cut)) >= 1.9


def test_a_tab_where_there_is_no_waste_is_as_wide_as_asked_along_the_path() -> None:
    """In a hole no wider than two kerfs nothing is left to hold."""
    area = Polygon(rect(5, 5, 35, 45).exterior, [rect(18, 20, 19.5, 30).exterior])
    tab = tab_at(cut_of("front", area, STOCK, kerf=1.0), (18.5, 25.0), 1.0)
    assert tab.stretch.length == pytest.approx(1.0)


def test_a_narrow_tab_that_finds_nothing_to_hold_is_not_measured_for_ever(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """In steps of its own width all of the path would be millions of points."""
    area = Polygon(rect(5, 5, 35, 45).exterior, [rect(18, 20, 19.5, 30).exterior])
    cut = cut_of("front", area, STOCK, kerf=1.0)
    interpolate, points = shapely.line_interpolate_point, []

    def counting(line: LineString, ways: np.ndarray) -> np.ndarray:
        points.append(np.size(ways))
        return interpolate(line, ways)

    monkeypatch.setattr(shapely, "line_interpolate_point", counting)
    tab = tab_at(cut, (18.5, 25.0), 1e-5)
    assert tab.stretch.length == pytest.approx(1e-5)
    assert max(points) < 30_000


def test_a_tab_beside_which_one_point_of_waste_is_nearest_is_as_wide_as_asked() -> None:
    """Round a hole that the cutter fills, opposite the tip of a notch, the far side never moves."""
    notch = Polygon([(22, 20.75), (36, 16), (36, 25.5)])
    area = shapely.difference(rect(5, 5, 35, 45), shapely.union(rect(18, 20, 19.5, 21.5), notch))
    cut = cut_of("front", many(area), STOCK, kerf=1.0)
    tab = tab_at(cut, (18.5, 20.75), 1.0)
    assert tab.at == pytest.approx((18.5, 20.75))
    assert tab.stretch.length == pytest.approx(1.0)


def test_a_tab_that_would_have_to_go_all_round_is_as_wide_as_asked() -> None:
    """Round a hole of 1.5 mm the path is a square of 0.5 mm; the waste is far on the left.

    What is nearest there moves on with two sides of the square only, so that 0.6 mm would
    take 1.1 mm of the path either way, which is longer than all of it.
    """
    area = Polygon(rect(5, 5, 35, 45).exterior, [rect(8, 20, 9.5, 21.5).exterior])
    tab = tab_at(cut_of("front", area, STOCK, kerf=1.0), (8.5, 20.75), 1.2)
    assert tab.stretch.length == pytest.approx(1.2)


def test_tabs_that_overlap_are_one() -> None:
    cut = cut_of("front", SQUARE, STOCK, tabs=[(10, 25), (10, 26)])
    assert cut.standing.area == pytest.approx(3.0)
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
    assert tab.stretch.length >= width * (1.0 - 1e-9)


def test_no_tab_no_strip() -> None:
    cut = cut_of("front", SQUARE, STOCK)
    assert cut.standing.is_empty
    assert standing(cut, stock_solid(STOCK)).is_empty
