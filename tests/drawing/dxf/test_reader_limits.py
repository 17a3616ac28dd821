"""What of a DXF drawing does not count, lies out of the plane, or out of reach."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from silhouette3d.drawing.cache import Sheet
from silhouette3d.drawing.choice import Choice
from silhouette3d.errors import DrawingError
from tests.support.dxf_files import bare, new, only, read, read_text, tags

# ---- what does not count ---------------------------------------------------------


def test_what_is_no_outline_is_counted_in_one_note() -> None:
    document = new()
    space = document.modelspace()
    space.add_line((0, 0), (1, 0))
    for _ in range(3):
        space.add_point((0, 0))
    space.add_image(document.add_image_def("tug.png", (9, 9)), (0, 0), (1, 1))
    space.add_linear_dim((0, 5), (0, 0), (1, 0)).render()
    drawing = read(document)
    assert drawing.notes == ("ignored 1 DIMENSION, 1 IMAGE, 3 POINT",)
    assert len(drawing.shapes) == 1


def test_what_may_belong_to_the_outline_is_named() -> None:
    document = new()
    space = document.modelspace()
    space.add_ray((0, 0), (1, 0), dxfattribs={"layer": "AIDS"})
    space.add_ray((0, 0), (0, 1), dxfattribs={"layer": "AIDS"})
    space.add_mline([(0, 0), (5, 5)])
    space.add_solid([(0, 0), (1, 0), (0, 1)])
    space.add_polyface()
    drawing = read(document)
    (note,) = drawing.notes
    assert note == (
        "could not use 1 MLINE on '0', 1 POLYLINE mesh on '0', 2 RAY on 'AIDS', 1 SOLID on '0'; "
        "if the outline needs them, redraw them as lines, arcs or polylines"
    )
    assert drawing.shapes == ()


def test_objects_without_length_are_counted() -> None:
    document = new()
    space = document.modelspace()
    space.add_line((1, 1), (1, 1))
    space.add_circle((1, 1), 0)
    space.add_lwpolyline([(2, 2), (2, 2)])
    space.add_open_spline([(1, 1)] * 4)
    drawing = read(document)
    assert drawing.shapes == ()
    assert drawing.notes == ("ignored 4 objects without length",)


def test_a_width_is_not_part_of_a_polyline() -> None:
    document = new()
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (9, 0), (9, 9)])
    space.add_lwpolyline([(0, 0, 2, 2), (9, 0, 2, 2)], format="xyse")
    space.add_polyline2d([(0, 0), (9, 0)], dxfattribs={"default_start_width": 2})
    drawing = read(document)
    assert len(drawing.shapes) == 3
    assert drawing.notes == ("took the centre line of 2 polylines drawn with a width",)


def test_a_negative_radius_is_an_error() -> None:
    document = new()
    document.modelspace().add_circle((1, 1), -2)
    with pytest.raises(DrawingError, match="its radius is -2"):
        read(document)


# ---- out of the plane, out of reach ----------------------------------------------

TILTED = {"extrusion": (0.0, 0.6, 0.8)}


@pytest.mark.parametrize(
    ("kind", "add"),
    [
        ("LINE", lambda s: s.add_line((0, 0, 0), (10, 0, 1))),
        ("ARC", lambda s: s.add_arc((0, 0), 5, 0, 90, dxfattribs=TILTED)),
        ("CIRCLE", lambda s: s.add_circle((0, 0), 5, dxfattribs=TILTED)),
        ("ELLIPSE", lambda s: s.add_ellipse((0, 0), (5, 0, 0), 0.5, dxfattribs=TILTED)),
        ("LWPOLYLINE", lambda s: s.add_lwpolyline([(0, 0), (5, 5)], dxfattribs=TILTED)),
        ("POLYLINE", lambda s: s.add_polyline2d([(0, 0), (5, 5)], dxfattribs=TILTED)),
        ("SPLINE", lambda s: s.add_open_spline([(0, 0, 0), (5, 5, 1), (9, 0, 0), (9, 9, 0)])),
        (
            "HATCH",
            lambda s: s.add_hatch(dxfattribs=TILTED).paths.add_polyline_path([(0, 0), (5, 5)]),
        ),
    ],
)
def test_an_object_that_is_not_level_is_an_error(kind: str, add: Callable[[Any], Any]) -> None:
    document = new()
    add(document.modelspace())
    (entity,) = document.modelspace()
    entity.dxf.layer = "KEEL"
    with pytest.raises(DrawingError) as caught:
        read(document)
    assert caught.value.what == "it does not lie parallel to the xy plane"
    assert caught.value.where.endswith(f", layer 'KEEL', {kind} #{entity.dxf.handle}")
    assert "freeze its layer" in caught.value.todo
    document.layers.add("KEEL").freeze()
    assert read(document).notes == ("ignored 1 object on a layer that is frozen: 'KEEL'",)


def test_noise_in_the_height_or_the_normal_does_no_harm() -> None:
    document = new()
    space = document.modelspace()
    space.add_line((0, 0, 0), (10, 0, 1e-7))
    space.add_circle((0, 0), 5, dxfattribs={"extrusion": (1e-9, 0, 1)})
    assert len(read(document).shapes) == 2


@pytest.mark.parametrize("number", ["nan", "inf", "-inf", "1e400"])
@pytest.mark.parametrize("code", [10, 20, 11, 21])
def test_a_coordinate_that_is_no_number_is_an_error(code: int, number: str) -> None:
    ends = {10: 1.0, 20: 2.0, 11: 3.0, 21: 4.0} | {code: number}
    line = tags((0, "LINE"), (5, "2F"), (8, "HULL"), *ends.items())
    with pytest.raises(DrawingError, match="'HULL', LINE #2F: a coordinate is not a finite number"):
        read_text(bare(line))


def two_vertices(bulge: str) -> str:
    head = ((0, "LWPOLYLINE"), (100, "AcDbEntity"), (8, "0"), (100, "AcDbPolyline"), (90, 2))
    return tags(*head, (10, 0), (20, 0), (42, bulge), (10, 9), (20, 9))


@pytest.mark.parametrize(
    "entity",
    [
        tags((0, "CIRCLE"), (8, "0"), (10, 0), (20, 0), (40, "nan")),
        tags((0, "CIRCLE"), (8, "0"), (10, 0), (20, "inf"), (40, 1)),
        tags((0, "ARC"), (8, "0"), (10, 0), (20, 0), (40, 1), (50, "nan"), (51, 90)),
        tags((0, "ARC"), (8, "0"), (10, 0), (20, 0), (40, 1), (50, 0), (51, "inf")),
        two_vertices("nan"),
        two_vertices("inf"),
        two_vertices("1e300"),
    ],
)
def test_other_numbers_that_are_none(entity: str) -> None:
    with pytest.raises(DrawingError, match=r"not a finite number|cannot be read|farther"):
        read_text(bare(entity))


def test_a_million_millimetres_are_the_limit() -> None:
    document = new()
    document.modelspace().add_line((0, 0), (1e6, -1e6))
    assert only(read(document)).end == (1e6, -1e6)
    circle = document.modelspace().add_circle((-9e5, 0), 2e5, dxfattribs={"layer": "FAR"})
    with pytest.raises(DrawingError, match=r"farther than 1e\+06 mm") as caught:
        read(document)
    assert f"layer 'FAR', CIRCLE #{circle.dxf.handle}" in caught.value.where
    metres = new(unit=6)
    metres.modelspace().add_line((0, 0), (1001, 0))
    with pytest.raises(DrawingError, match=r"reaches to \(1\.001e\+06, 0\) mm"):
        read(metres)


def test_a_fault_matters_only_to_those_who_take_its_layer() -> None:
    """Lines in space, or a kilometre away, on a layer that nobody cuts."""
    document = new()
    space = document.modelspace()
    space.add_lwpolyline(
        [(0, 0), (40, 0), (40, 30), (0, 30)], close=True, dxfattribs={"layer": "CUT"}
    )
    for end in ((0, 0, 50), (1, 1, 50), (1e9, 0, 0)):
        space.add_line((0, 0, 0), end, dxfattribs={"layer": "AIDS"})
    space.add_circle((0, 0), 5, dxfattribs={"layer": "AIDS"})
    drawing = read(document, whole=False)
    assert drawing.notes == ("left out objects that cannot be read: 3 on 'AIDS'",)
    sheet = Sheet(drawing)
    assert sheet.outline(Choice(("cut",))).polygons.area == 1200.0
    assert sheet.outline(Choice(without=("aids",))).polygons.area == 1200.0
    for layers in (None, ("AIDS",), ("CUT", "AIDS")):
        with pytest.raises(DrawingError, match="does not lie parallel to the xy plane"):
            sheet.outline(Choice(layers))
