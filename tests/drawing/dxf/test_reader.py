"""Each kind of DXF object, against formulas and against two readers of other people.

The readers: trimesh's own 2D loader, which knows lines, arcs, circles,
lightweight polylines and splines; and ezdxf's construction tools, which
evaluate ellipses and splines on a way of their own.
"""

from __future__ import annotations

import io
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import shapely
import trimesh
from ezdxf.math import BSpline, closed_uniform_bspline, rational_bspline_from_arc
from trimesh.constants import res_path

from silhouette3d.drawing.model import Arc, Bezier, Curve, Line, Sampled
from silhouette3d.errors import DrawingError
from tests.support.dxf_files import FINE, RELEASES, enclosed, new, only, read

SLOT = 30.0 * 10.0 + math.pi * 25.0
"""mm². A slot of two lines 30 long and two half circles of radius 5."""


def add_slot(space: Any) -> None:
    space.add_line((0, 0), (30, 0))
    space.add_arc((30, 5), 5, 270, 90)
    space.add_line((30, 10), (0, 10))
    space.add_arc((0, 5), 5, 90, 270)


def add_lens(space: Any) -> None:
    """Two quarter circles of radius 20 over one chord: bulge = tan(90° / 4)."""
    bulge = math.tan(math.pi / 8)
    chord = 20.0 * math.sqrt(2.0)
    space.add_lwpolyline([(0, 0, bulge), (chord, 0, bulge)], format="xyb", close=True)


def add_arch(space: Any) -> None:
    space.add_open_spline([(0, 0), (5, 30), (25, 30), (30, 0)])
    space.add_line((30, 0), (0, 0))


LENS = 2.0 * (math.pi / 4 * 400.0 - 200.0)
ARCH = 90.0 * (15.0 / 20.0 + 120.0 / 30.0 + 15.0 / 20.0)
"""mm². The integral of y dx over t from 0 to 1, where with s = 1 − t the spline, one
Bézier, has y = 90 s t and dx/dt = 15 s² + 120 s t + 15 t²."""

# ---- releases, and other readers ----------------------------------------------


@pytest.mark.parametrize("form", ["asc", "bin"])
@pytest.mark.parametrize("release", RELEASES)
def test_every_release_in_both_forms(release: str, form: str) -> None:
    document = new(release)
    space = document.modelspace()
    add_slot(space)
    space.add_circle((15, 5), 2)
    bulge = math.tan(math.pi / 8)
    space.add_polyline2d([(50, 0, bulge), (50, 20, 0)], format="xyb", close=True)
    expected = SLOT - math.pi * 4.0 + math.pi / 4 * 200.0 - 100.0  # segment of radius 14.1, 90°
    if release != "R12":
        add_lens(space)
        space.add_ellipse((100, 0), (9, 12), 0.5)
        expected += LENS + math.pi * 15.0 * 7.5
    drawing = read(document, form)
    area, error = enclosed(drawing)
    if release != "R12":  # the lens lies over the slot: count what both hold once, by even-odd
        without = [s for s in drawing.shapes if not s.curves[0].source.startswith("LWPOLYLINE")]
        assert len(without) == len(drawing.shapes) - 1
        drawing = type(drawing)(drawing.path, tuple(without), drawing.unit, drawing.unit_stated)
        area, error = enclosed(drawing)
        expected -= LENS
    assert area == pytest.approx(expected, abs=error + 1e-4)  # joints are rounded to 1e-6 mm
    assert drawing.notes == ()


@pytest.mark.parametrize(
    ("add", "exact", "sectors"),
    [
        (add_slot, SLOT, math.pi * 25.0),
        (add_lens, LENS, math.pi / 2 * 400.0),
        (lambda s: s.add_circle((3, -4), 12.5), math.pi * 12.5**2, math.pi * 12.5**2),
        (lambda s: s.add_lwpolyline([(0, 0), (40, 0), (0, 30)], close=True), 600.0, 0.0),
        (add_arch, ARCH, ARCH),
    ],
)
def test_the_area_agrees_with_trimesh(
    add: Callable[[Any], None], exact: float, sectors: float
) -> None:
    document = new()
    add(document.modelspace())
    with io.StringIO() as stream:
        document.write(stream)
        stream.seek(0)
        polygons = trimesh.load_path(stream, file_type="dxf").polygons_full
    theirs = sum(polygon.area for polygon in polygons)
    area, error = enclosed(read(document))
    # Its chords span up to seg_angle, and lack d²/6 of each sector that they bound.
    assert abs(theirs - area) <= res_path.seg_angle**2 / 6.0 * sectors + error + 1e-6
    assert area == pytest.approx(exact, abs=error + 1e-4)  # joints rounded to 1e-6 mm


def assert_same_way(curve: Curve, entity: Any) -> None:
    """The curve is where ezdxf evaluates the object to be."""
    tool = entity.construction_tool()
    if entity.dxftype() == "ELLIPSE":
        true = list(tool.vertices(tool.start_param + np.linspace(0.0, tool.param_span, 500)))
    else:
        true = list(tool.points(np.linspace(0.0, tool.max_t, 500)))
    line = shapely.LineString(curve.flatten(FINE)[0])
    gaps = shapely.distance(shapely.points([p.vec2 for p in true]), line)
    assert gaps.max() <= FINE * (1.0 + 1e-6)  # rounding
    assert curve.start == pytest.approx(tuple(true[0].vec2), abs=1e-9)  # mm, rounding
    assert curve.end == pytest.approx(tuple(true[-1].vec2), abs=1e-9)


# ---- lines, arcs, ellipses ------------------------------------------------------


def test_a_line_keeps_its_ends_layer_and_handle() -> None:
    document = new()
    line = document.modelspace().add_line((1, 2, 5), (3, -4, 5), dxfattribs={"layer": "Hull"})
    curve = only(read(document))
    assert curve == Curve((Line((1.0, 2.0), (3.0, -4.0)),), "Hull", f"LINE #{line.dxf.handle}")


@pytest.mark.parametrize(
    ("start", "end", "turn"),
    [(10, 80, 70), (350, 10, 20), (90, 0, 270), (-90, 90, 180), (0, 360, 360), (45, 45, 360)],
)
def test_an_arc_runs_counter_clockwise(start: float, end: float, turn: float) -> None:
    document = new()
    document.modelspace().add_arc((7, 8), 3, start, end)
    (piece,) = only(read(document)).pieces
    assert isinstance(piece, Arc)
    assert piece.is_circular
    assert piece.centre == (7.0, 8.0)
    assert math.degrees(piece.end_angle - piece.start_angle) == pytest.approx(turn)
    a = math.radians(start)
    assert piece.start == pytest.approx((7 + 3 * math.cos(a), 8 + 3 * math.sin(a)))


def test_a_circle_is_one_closed_arc() -> None:
    document = new()
    document.modelspace().add_circle((7, 8), 3)
    curve = only(read(document))
    assert curve.is_closed
    assert curve.pieces == (Arc.circular((7.0, 8.0), 3.0),)


@pytest.mark.parametrize("normal", [(0, 0, 1), (0, 0, -1)])
@pytest.mark.parametrize(("start", "end"), [(0.0, math.tau), (0.3, 4.0), (5.0, 1.0)])
def test_an_ellipse(start: float, end: float, normal: tuple[float, float, float]) -> None:
    document = new()
    ellipse = document.modelspace().add_ellipse(
        (2, 3), (12, 9), 0.4, start, end, dxfattribs={"extrusion": normal}
    )
    curve = only(read(document))
    (piece,) = curve.pieces
    assert isinstance(piece, Arc)
    assert_same_way(curve, ellipse)
    assert curve.is_closed == (start == 0.0)
    determinant = piece.axis_u[0] * piece.axis_v[1] - piece.axis_u[1] * piece.axis_v[0]
    assert determinant == pytest.approx(normal[2] * 15.0 * 6.0)


# ---- polylines ------------------------------------------------------------------


def test_a_lightweight_polyline_with_bulges_is_exact() -> None:
    document = new()
    outline = [(0, 0, 0.0), (30, 0, 1.0), (30, 10, 0.0), (0, 10, 1.0)]
    document.modelspace().add_lwpolyline(
        outline, format="xyb", close=True, dxfattribs={"elevation": 7}
    )
    curve = only(read(document))
    assert [type(p) for p in curve.pieces] == [Line, Arc, Line, Arc]
    assert curve.is_closed
    points, missing = curve.flatten(0.01)
    # both arcs swell outwards, so what the chords lack is all missing: exact but for rounding
    assert shapely.Polygon(points).area + missing == pytest.approx(SLOT, rel=1e-12)


def test_an_open_polyline_stays_open() -> None:
    document = new()
    document.modelspace().add_lwpolyline([(0, 0, 0.5), (4, 0, 0), (4, 3, 0.7)], format="xyb")
    curve = only(read(document))
    assert [type(p) for p in curve.pieces] == [Arc, Line]
    assert curve.end == (4.0, 3.0)


def test_a_repeated_vertex_is_no_piece_and_a_tiny_bulge_is_straight() -> None:
    document = new()
    vertices = [(0, 0, 0), (4, 0, 0), (4, 0, 0.3), (4, 3, 1e-12), (0, 0, 0)]
    document.modelspace().add_lwpolyline(vertices, format="xyb", close=True)
    curve = only(read(document))
    assert [type(p) for p in curve.pieces] == [Line, Arc, Line]
    assert curve.is_closed


@pytest.mark.parametrize("release", ["R12", "R2010"])
def test_the_old_polyline(release: str) -> None:
    document = new(release)
    outline = [(0, 0, 0.0), (30, 0, 1.0), (30, 10, 0.0), (0, 10, 1.0)]
    document.modelspace().add_polyline2d(outline, format="xyb", close=True)
    area, error = enclosed(read(document))
    assert area + error == pytest.approx(SLOT, rel=1e-12)  # both arcs swell outwards: exact


def test_vertices_that_only_steer_a_fitted_curve_do_not_count() -> None:
    document = new("R12")
    polyline = document.modelspace().add_polyline2d([(0, 0), (9, 9), (4, 1), (8, 0)])
    polyline.dxf.flags = 4  # spline-fit
    polyline.vertices[1].dxf.flags = 16  # frame
    polyline.vertices[2].dxf.flags = 8  # on the fitted curve
    ends = [p.end for p in only(read(document)).pieces]
    assert ends == [(4.0, 1.0), (8.0, 0.0)]


def test_a_polyline_in_space_counts_when_it_is_level() -> None:
    document = new()
    corners = [(0, 0, 5), (40, 0, 5), (0, 30, 5)]
    document.modelspace().add_polyline3d(corners, close=True)
    drawing = read(document)
    assert enclosed(drawing) == (600.0, 0.0)
    assert drawing.notes == ()
    document.modelspace().add_polyline3d([(0, 0, 0), (40, 0, 5), (0, 30, 5)])
    drawing = read(document)
    assert enclosed(drawing) == (600.0, 0.0)
    (note,) = drawing.notes
    assert "1 POLYLINE in space on '0'" in note


# ---- splines --------------------------------------------------------------------

ZIGZAG = [(0, 0), (10, 25), (20, -20), (30, 15), (40, 0), (50, 5)]


@pytest.mark.parametrize("degree", [2, 3])
def test_a_spline_of_low_degree_is_made_of_exact_pieces(degree: int) -> None:
    document = new()
    spline = document.modelspace().add_open_spline(ZIGZAG, degree=degree)
    curve = only(read(document))
    assert all(isinstance(p, Bezier) for p in curve.pieces)
    assert len(curve.pieces) == len(ZIGZAG) - degree
    assert_same_way(curve, spline)


@pytest.mark.parametrize("tolerance", [0.1, 0.001])
def test_a_rational_or_higher_spline_is_followed_within_the_tolerance(tolerance: float) -> None:
    for add in (
        lambda s: s.add_rational_spline(ZIGZAG, [1, 2, 1, 5, 1, 1]),
        lambda s: s.add_open_spline(ZIGZAG, degree=5),
    ):
        document = new()
        spline = add(document.modelspace())
        curve = only(read(document, tolerance=tolerance))
        (piece,) = curve.pieces
        assert isinstance(piece, Sampled)
        assert piece.deviation <= tolerance
        true = spline.construction_tool().points(np.linspace(0.0, 1.0, 500))
        gaps = shapely.distance(
            shapely.points([p.vec2 for p in true]), shapely.LineString(piece.points)
        )
        assert gaps.max() <= piece.deviation + 1e-9  # mm, rounding


def test_an_arc_as_a_rational_spline_keeps_its_radius() -> None:
    document = new()
    arc = rational_bspline_from_arc((5, 5), 20, 0, 250)
    document.modelspace().add_spline().apply_construction_tool(arc)
    points, _ = only(read(document)).flatten(0.01)
    np.testing.assert_allclose(np.linalg.norm(points - 5.0, axis=1), 20.0, rtol=1e-9)  # file digits


def test_a_spline_through_fit_points_only() -> None:
    document = new()
    spline = document.modelspace().add_spline(ZIGZAG)
    assert not len(spline.control_points)
    curve = only(read(document))
    line = shapely.LineString(curve.flatten(FINE)[0])
    assert shapely.distance(shapely.points(ZIGZAG), line).max() < 1e-9  # mm, rounding
    assert all(isinstance(p, Bezier) for p in curve.pieces)
    assert_same_way(curve, spline)


def test_the_end_tangents_of_fit_points_count() -> None:
    document = new()
    spline = document.modelspace().add_spline([(0, 0), (10, 0), (20, 0)])
    spline.dxf.start_tangent, spline.dxf.end_tangent = (0, 1), (0, -1)
    first = only(read(document)).pieces[0]
    assert isinstance(first, Bezier)
    leg = np.subtract(first.control_1, first.start)
    assert leg[1] > 0.0
    assert leg[0] == pytest.approx(0.0, abs=1e-9 * leg[1])


def test_a_closed_spline_closes() -> None:
    document = new()
    spline = document.modelspace().add_spline(dxfattribs={"layer": "PILLOW"})
    spline.apply_construction_tool(
        closed_uniform_bspline([(0, 0), (30, 0), (30, 20), (0, 20)], order=4)
    )
    curve = only(read(document))
    assert curve.is_closed
    assert curve.layer == "PILLOW"


def test_knots_that_do_not_fit_are_an_error() -> None:
    document = new()
    spline = document.modelspace().add_open_spline(ZIGZAG)
    spline.knots = [0.0, 0.0, 1.0, 1.0]
    with pytest.raises(DrawingError, match=rf"SPLINE #{spline.dxf.handle}: it cannot be read"):
        read(document)


def test_an_exact_spline_needs_no_tolerance() -> None:
    tool = BSpline([(0, 0), (10, 20), (20, -20), (30, 0)])
    document = new()
    document.modelspace().add_spline().apply_construction_tool(tool)
    assert only(read(document, tolerance=1.0)) == only(read(document, tolerance=1e-6))
