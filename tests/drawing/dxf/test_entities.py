"""Hatches: their boundaries as areas, against formulas and ezdxf's own path of each."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
import shapely
from ezdxf import path as ezdxf_path
from ezdxf.entities.hatch import Hatch
from ezdxf.math import ConstructionEllipse, Vec2

from silhouette3d.drawing.dxf.entities import EntityFrame, hatch_chains
from silhouette3d.drawing.model import Arc, Bezier, Drawing, Line, Sampled
from silhouette3d.errors import DrawingError
from tests.support.dxf_files import FINE, enclosed, new, only, read

SLOT = 30.0 * 10.0 + math.pi * 25.0
"""mm². A slot of two lines 30 long and two half circles of radius 5."""


def hatched(draw: Callable[[Any], object], **attributes: Any) -> Drawing:
    """A drawing with one hatch, whose boundaries `draw` adds."""
    document = new()
    hatch = document.modelspace().add_hatch(dxfattribs={"layer": "FILL", **attributes})
    draw(hatch.paths)
    return read(document)


def their_area(draw: Callable[[Any], object]) -> float:
    hatch = Hatch.new()
    draw(hatch.paths)
    area: Any = shapely.Polygon()
    for loop in ezdxf_path.from_hatch(hatch):
        ring = shapely.Polygon([p.vec2 for p in loop.flattening(FINE)])
        area = shapely.symmetric_difference(area, ring)
    return float(area.area)


def slot_by_bulges(paths: Any) -> None:
    paths.add_polyline_path([(0, 0), (30, 0, 1), (30, 10), (0, 10, 1)])


def slot_by_edges(paths: Any) -> None:
    edges = paths.add_edge_path()
    edges.add_line((0, 0), (30, 0))
    edges.add_arc((30, 5), 5, 270, 90)
    edges.add_line((30, 10), (0, 10))
    edges.add_arc((0, 5), 5, 90, 270)


def slot_head_to_head(paths: Any) -> None:
    """The same edges, listed in order but some of them the wrong way round."""
    edges = paths.add_edge_path()
    edges.add_line((30, 0), (0, 0))
    edges.add_arc((30, 5), 5, 270, 90, ccw=False)
    edges.add_line((30, 10), (0, 10))
    edges.add_arc((0, 5), 5, 90, 270, ccw=False)


@pytest.mark.parametrize("draw", [slot_by_bulges, slot_by_edges, slot_head_to_head])
def test_a_slot(draw: Callable[[Any], None]) -> None:
    drawing = hatched(draw)
    (shape,) = drawing.shapes
    assert shape.fill == "evenodd"
    assert shape.layer == "FILL"
    curve = only(drawing)
    assert curve.is_closed
    assert curve.source.startswith("HATCH #")
    assert sorted(type(p).__name__ for p in curve.pieces) == ["Arc", "Arc", "Line", "Line"]
    points, missing = curve.flatten(0.01)
    # both arcs swell outwards: exact but for rounding
    assert shapely.Polygon(points).area + missing == pytest.approx(SLOT, rel=1e-12)


def ellipse_and_spline(paths: Any) -> None:
    """Half an ellipse, closed by a spline below it."""
    edges = paths.add_edge_path()
    edges.add_ellipse((0, 0), (20, 0), 0.5, 0, 180)
    edges.add_spline(control_points=[(-20, 0), (-10, -15), (10, -15), (20, 0)], degree=3)


def clockwise_ellipse(paths: Any) -> None:
    edges = paths.add_edge_path()
    edges.add_line((15, 5), (5, 5))
    tool = ConstructionEllipse((10, 5), (0, 10, 0), ratio=0.5)
    edges.add_ellipse(tool.center, (0, 10), 0.5, 90, 270, ccw=False)


def rational_edge(paths: Any) -> None:
    edges = paths.add_edge_path()
    edges.add_line((20, 0), (0, 0))
    points = [(0, 0), (0, 20), (20, 20), (20, 0)]
    edges.add_spline(control_points=points, weights=[1, 3, 2, 1], degree=3)


def one_circle(paths: Any) -> None:
    paths.add_edge_path().add_arc((3, 4), 10)


@pytest.mark.parametrize("draw", [ellipse_and_spline, clockwise_ellipse, rational_edge, one_circle])
def test_edges_of_every_kind_agree_with_ezdxf(draw: Callable[[Any], None]) -> None:
    drawing = hatched(draw)
    assert len(drawing.shapes[0].curves) == 1
    area, error = enclosed(drawing)
    # Its arcs are Béziers, which lack 3e-4 of the radius at most (from memory: 2.7e-4).
    assert area == pytest.approx(their_area(draw), rel=1e-3, abs=error)
    assert only(drawing).is_closed


def test_edges_stay_what_they_are() -> None:
    kinds = [type(p) for p in only(hatched(ellipse_and_spline)).pieces]
    assert kinds == [Arc, Bezier]
    assert [type(p) for p in only(hatched(rational_edge)).pieces] == [Line, Sampled]


def test_half_an_ellipse_over_a_bezier_has_the_area_of_the_formulas() -> None:
    area, error = enclosed(hatched(ellipse_and_spline))
    # The integral of y dx over t, where with s = 1 − t the spline, one Bézier, has
    # y = −45 s t and dx/dt = 30 s² + 120 s t + 30 t².
    below = 45.0 * (30.0 / 20.0 + 120.0 / 30.0 + 30.0 / 20.0)
    assert area == pytest.approx(math.pi * 200.0 / 2.0 + below, abs=error)


def test_a_spline_edge_through_fit_points() -> None:
    document = new()
    edges = document.modelspace().add_hatch().paths.add_edge_path()
    fit = [(0, 0), (10, 8), (20, 0)]
    spline = edges.add_spline(fit_points=fit, control_points=fit, degree=2)
    spline.control_points = []
    # ezdxf writes no such edge, so it is handed over without a file.
    (hatch,) = document.modelspace()
    (chain,) = hatch_chains(hatch, EntityFrame.scaled(1.0), 0.01)
    assert [p.end for p in chain] == [pytest.approx((10, 8)), pytest.approx((20, 0))]
    spline.start_tangent = spline.end_tangent = Vec2(0, 1)
    (chain,) = hatch_chains(hatch, EntityFrame.scaled(1.0), 0.01)
    first = chain[0]
    assert isinstance(first, Bezier)
    assert first.control_1[0] == pytest.approx(0.0, abs=1e-9)  # mm, rounding; it starts upwards
    assert first.control_1[1] > 0.0


ISLANDS = [
    ([(0, 0), (60, 0), (60, 60), (0, 60)], 1),  # external
    ([(10, 10), (50, 10), (50, 50), (10, 50)], 16),  # outermost
    ([(20, 20), (40, 20), (40, 40), (20, 40)], 0),
]


@pytest.mark.parametrize(
    ("style", "expected"),
    [(0, 3600 - 1600 + 400), (1, 3600 - 1600), (2, 3600)],
)
def test_islands_count_by_the_style_of_the_hatch(style: int, expected: float) -> None:
    def draw(paths: Any) -> None:
        for corners, flags in ISLANDS:
            paths.add_polyline_path(corners, flags=flags)

    drawing = hatched(draw, hatch_style=style)
    assert enclosed(drawing) == (expected, 0.0)
    assert len(drawing.shapes) == 1


def test_edges_that_do_not_go_on_begin_a_chain_of_their_own() -> None:
    def draw(paths: Any) -> None:
        edges = paths.add_edge_path()
        edges.add_arc((0, 0), 5)
        edges.add_line((5, 0), (9, 0))  # touches the closed circle, but it is done
        edges.add_line((9, 0), (9, 9))
        edges.add_line((20, 0), (30, 0))

    (shape,) = hatched(draw).shapes
    assert [len(c.pieces) for c in shape.curves] == [1, 2, 1]
    assert [c.is_closed for c in shape.curves] == [True, False, False]


def test_a_mirrored_hatch_lies_on_the_other_side() -> None:
    drawing = hatched(slot_by_edges, extrusion=(0, 0, -1), elevation=(0, 0, 4))
    points, _ = only(drawing).flatten(0.01)
    assert points[:, 0].min() == pytest.approx(-35.0, abs=0.01)  # mm, the tolerance
    assert points[:, 0].max() == pytest.approx(5.0, abs=0.01)
    plain, _ = only(hatched(ellipse_and_spline)).flatten(0.01)
    mirrored, _ = only(hatched(ellipse_and_spline, extrusion=(0, 0, -1))).flatten(0.01)
    assert mirrored == pytest.approx(plain * [-1.0, 1.0], abs=1e-9)  # mm, rounding


def test_an_unknown_boundary_is_an_error() -> None:
    document = new()
    edges = document.modelspace().add_hatch().paths.add_edge_path()
    edges.add_spline(control_points=[(0, 0), (1, 1), (2, 0), (3, 0)], knot_values=[0, 0, 1, 1])
    with pytest.raises(DrawingError, match="it cannot be read: 8 knot values required"):
        read(document)
