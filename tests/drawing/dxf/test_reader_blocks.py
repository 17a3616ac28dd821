"""Blocks: where a reference puts things, and references that lead nowhere."""

from __future__ import annotations

import functools
import io
import math
from typing import Any

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

import hostile
from silhouette3d.base.limits import OBJECTS
from silhouette3d.drawing.model import Arc, Curve, Drawing, Line, Sampled
from silhouette3d.errors import DrawingError
from tests.support.dxf_files import RELEASES, bare, enclosed, new, only, read, read_text, tags

Matrix = NDArray[np.float64]
MIRRORED = (0.0, 0.0, -1.0)
ROUNDING = 1e-6
"""mm. Files carry 16 digits; scales up to 3 in three blocks make 1e5 mm of 100 mm at most."""

# ---- where a block reference puts things -------------------------------------------


def placed(insert: dict[str, Any], base: tuple[float, float]) -> Matrix:
    """The map of a block reference, by the DXF reference: INSERT, and the arbitrary axis
    algorithm, by which the object coordinates of normal (0, 0, −1) have x turned round.
    """
    c, s = math.cos(math.radians(insert["rotation"])), math.sin(math.radians(insert["rotation"]))
    turn = np.array([[c, -s], [s, c]]) @ np.diag([insert["xscale"], insert["yscale"]])
    shift = np.array(insert["at"]) - turn @ base
    flip = np.diag([-1.0, 1.0]) if insert["extrusion"] == MIRRORED else np.eye(2)
    return np.vstack([np.column_stack([flip @ turn, flip @ shift]), [0.0, 0.0, 1.0]])


scale = st.sampled_from([-3.0, -1.0, -0.5, 0.25, 1.0, 2.0])
place = st.tuples(st.integers(-100, 100), st.integers(-100, 100))
inserts = st.fixed_dictionaries(
    {
        "at": place,
        "xscale": scale,
        "yscale": scale,
        "rotation": st.integers(-360, 360),
        "extrusion": st.sampled_from([(0.0, 0.0, 1.0), MIRRORED]),
    }
)


def add_one_of_each(space: Any, **attributes: Any) -> None:
    """The ellipse and the spline have no object coordinates: their normal is left alone."""
    kw = {"dxfattribs": attributes}
    space.add_line((1, 2), (30, 4), **kw)
    space.add_arc((1, 2), 9, 20, 250, **kw)
    space.add_circle((1, 2, 3), 9, **kw)
    space.add_ellipse((1, 2), (9, 4), 0.3, 1.0, 4.0)
    space.add_lwpolyline([(0, 0, 0.4), (9, 1, -1.2), (5, 5, 0)], "xyb", **kw)
    space.add_polyline2d([(0, 0, 0.4), (9, 1, 0)], format="xyb", **kw)
    space.add_open_spline([(0, 0), (9, 1), (5, 5), (2, 9)])
    space.add_rational_spline([(0, 0), (9, 1), (5, 5)], [1, 2, 1], 2)
    edges = space.add_hatch(**kw).paths.add_edge_path()
    edges.add_arc((0, 0), 5, 0, 90)
    edges.add_line((0, 5), (5, 0))


@functools.cache
def one_of_each(*, mirrored: bool) -> tuple[Curve, ...]:
    document = new()
    add_one_of_each(document.modelspace(), **{"extrusion": MIRRORED} if mirrored else {})
    return outlines(read(document))


def outlines(drawing: Drawing) -> tuple[Curve, ...]:
    return tuple(c for shape in drawing.shapes for c in shape.curves)


@given(chain=st.lists(st.tuples(inserts, place), min_size=1, max_size=3), mirrored=st.booleans())
def test_nested_scaled_turned_and_mirrored_blocks(
    chain: list[tuple[dict[str, Any], tuple[float, float]]], mirrored: bool
) -> None:
    document = new()
    space, expected = document.modelspace(), np.eye(3)
    for level, (insert, base) in enumerate(chain):
        block = document.blocks.new(f"B{level}", base_point=base)
        attributes = {k: v for k, v in insert.items() if k != "at"}
        space.add_blockref(f"B{level}", insert["at"], dxfattribs=attributes)
        space, expected = block, expected @ placed(insert, base)
    add_one_of_each(space, **{"extrusion": MIRRORED} if mirrored else {})
    there = outlines(read(document))
    for found, here in zip(there, one_of_each(mirrored=mirrored), strict=True):
        moved = here.moved(expected[:2])
        assert found.source.split()[0] == moved.source.split()[0]
        assert found.start == pytest.approx(moved.start, abs=ROUNDING)
        assert found.end == pytest.approx(moved.end, abs=ROUNDING)
        for piece, other in zip(found.pieces, moved.pieces, strict=True):
            assert type(piece) is type(other)
            if isinstance(piece, Sampled):
                continue  # sampled anew at each scale
            # as many chords each, so that the points are at the same parameters
            np.testing.assert_allclose(
                piece.chords(0.1)[0], other.chords(0.1)[0], rtol=0.0, atol=ROUNDING
            )


def test_a_circle_stays_exact_when_it_is_stretched() -> None:
    document = new()
    document.blocks.new("PORTHOLE").add_circle((0, 0), 10)
    document.modelspace().add_blockref("PORTHOLE", (0, 0), dxfattribs={"yscale": 0.3})
    curve = only(read(document))
    assert [type(p) for p in curve.pieces] == [Arc]
    points, missing = curve.flatten(0.01)
    x, y = points.T
    area = 0.5 * abs(float((x[:-1] * y[1:] - x[1:] * y[:-1]).sum()))
    assert area + missing == pytest.approx(math.pi * 30.0, rel=1e-12)  # rounding


@pytest.mark.parametrize("release", RELEASES)
def test_a_placed_block_agrees_with_trimesh(release: str) -> None:
    document = new(release)
    block = document.blocks.new("HULL", base_point=(3, 4))
    corners = [(0, 0), (40, 0), (30, 20), (5, 15)]
    for one, following in zip(corners, [*corners[1:], corners[0]], strict=True):
        block.add_line(one, following)
    document.modelspace().add_blockref(
        "HULL", (100, 50), dxfattribs={"xscale": 2.5, "yscale": 2.5, "rotation": 37.0}
    )
    with io.StringIO() as stream:
        document.write(stream)
        stream.seek(0)
        path = trimesh.load_path(stream, file_type="dxf")
    area, _ = enclosed(read(document))
    assert area == pytest.approx(path.area, abs=1e-3)  # mm²; joints rounded to 1e-6 mm here
    assert area == pytest.approx(2.5**2 * 575.0, abs=1e-3)  # by the shoelace formula


def test_rows_and_columns() -> None:
    document = new()
    document.blocks.new("RIVET").add_circle((0, 0), 1)
    grid = {"row_count": 2, "row_spacing": 10, "column_count": 3, "column_spacing": 20}
    document.modelspace().add_blockref(
        "RIVET", (5, 5), dxfattribs={**grid, "rotation": 90, "xscale": 2, "yscale": 2}
    )
    circles = [c.pieces[0] for c in outlines(read(document))]
    centres = {tuple(np.round(c.centre, 9)) for c in circles if isinstance(c, Arc)}
    # turned with the reference, but not scaled with it
    assert centres == {(5.0 - 10.0 * i, 5.0 + 20.0 * j) for i in range(2) for j in range(3)}
    assert all(c.axis_u == pytest.approx((0.0, 2.0)) for c in circles if isinstance(c, Arc))


def test_copies_that_lie_on_each_other_count_once() -> None:
    document = new()
    document.blocks.new("RIVET").add_circle((0, 0), 1)
    grid = {"row_count": 4, "column_count": 2, "column_spacing": 20}
    document.modelspace().add_blockref("RIVET", (0, 0), dxfattribs=grid)
    assert len(read(document).shapes) == 2


def test_rows_of_a_mirrored_reference_run_the_other_way() -> None:
    document = new()
    document.blocks.new("RIVET").add_circle((0, 0), 1)
    document.modelspace().add_blockref(
        "RIVET", (5, 0), dxfattribs={"column_count": 2, "column_spacing": 20, "extrusion": MIRRORED}
    )
    centres = [c.pieces[0].centre for c in outlines(read(document)) if isinstance(c.pieces[0], Arc)]
    assert centres == [(-5.0, 0.0), (-25.0, 0.0)]


def test_two_tilts_that_cancel_are_level_and_one_is_an_error() -> None:
    document = new()
    on_edge = {"extrusion": (0.0, 1.0, 0.0)}
    block = document.blocks.new("FRAME")
    circle = block.add_circle((7, 8), 3, dxfattribs=on_edge)
    document.modelspace().add_blockref("FRAME", (0, 0), dxfattribs=on_edge)
    piece = only(read(document)).pieces[0]
    assert isinstance(piece, Arc)
    # object axes for (0, 1, 0) are −x, z and y: applied twice they give x, y, z again
    assert piece.centre == pytest.approx((7.0, 8.0))
    document.modelspace().add_blockref("FRAME", (0, 0))
    with pytest.raises(DrawingError, match=f"CIRCLE #{circle.dxf.handle}: it does not lie"):
        read(document)


# ---- blocks that lead nowhere, or nowhere to end ----------------------------------------


def test_a_block_that_inserts_itself_is_an_error() -> None:
    document = new()
    document.blocks.new("A").add_blockref("B", (1, 0))
    document.blocks.new("B").add_blockref("a", (0, 1))
    document.modelspace().add_blockref("A", (0, 0))
    with pytest.raises(DrawingError, match=r"INSERT #\w+: block 'a' inserts itself"):
        read(document)


@pytest.mark.parametrize(("depth", "fits"), [(100, True), (101, False)])
def test_blocks_are_followed_down_to_a_limit(depth: int, fits: bool) -> None:
    document = new()
    space = document.modelspace()
    for level in range(depth):
        space.add_blockref(f"B{level}", (1, 0))
        space = document.blocks.new(f"B{level}")
    space.add_line((0, 0), (1, 0))
    if fits:
        assert only(read(document)).pieces == (Line((100.0, 0.0), (101.0, 0.0)),)
    else:
        with pytest.raises(DrawingError, match="block 'B100' lies more than 100 deep"):
            read(document)


def test_blocks_that_multiply_beyond_measure_are_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(OBJECTS.variable, "2000")
    document = new()
    space = document.modelspace()
    for level in range(12):
        for _ in range(10):
            space.add_blockref(f"B{level}", (1, 0))
        space = document.blocks.new(f"B{level}")
    with pytest.raises(DrawingError, match="more than 2,000 objects"):
        read(document)
    many = new()
    many.blocks.new("EMPTY")
    grid = {"row_count": 30_000, "row_spacing": 1, "column_count": 30_000, "column_spacing": 1}
    many.modelspace().add_blockref("EMPTY", (0, 0), dxfattribs=grid)
    with pytest.raises(DrawingError, match="more than 2,000 objects"):
        read(many)


def test_a_reference_whose_normal_is_nought_is_an_error() -> None:
    """In a binary file; in others ezdxf mends it."""
    release = tags((9, "$ACADVER"), (1, "AC1015"))
    insert = tags((0, "INSERT"), (100, "AcDbEntity"), (8, "0"), (100, "AcDbBlockReference"))
    insert += tags((2, "A"), (10, 0), (20, 0), (210, 0), (220, 0))
    block = tags((0, "BLOCK"), (8, "0"), (2, "A"), (70, 0), (10, 0), (20, 0), (3, "A"))
    block += tags((0, "LINE"), (8, "0"), (10, 0), (20, 0), (11, 1), (21, 0), (0, "ENDBLK"))
    with pytest.raises(DrawingError, match=r"INSERT #\w+: it cannot be placed: float division"):
        read_text(hostile.as_binary(bare(insert, blocks=block, header=release).encode()))


@pytest.mark.parametrize("code", [10, 41, 50])
def test_a_reference_whose_place_is_no_number_is_an_error(code: int) -> None:
    places = {10: 0.0, 20: 0.0, 41: 1.0, 50: 0.0} | {code: "nan"}
    insert = tags((0, "INSERT"), (5, "2F"), (8, "HULL"), (2, "B"), *places.items())
    line = tags((0, "LINE"), (8, "0"), (10, 0), (20, 0), (11, 1), (21, 1))
    head = tags((0, "BLOCK"), (8, "0"), (2, "B"), (70, 0), (10, 0), (20, 0))
    text = bare(insert, blocks=head + line + tags((0, "ENDBLK"), (8, "0")))
    with pytest.raises(DrawingError, match="'HULL', INSERT #2F: its place is no finite number"):
        read_text(text)


def test_references_to_nothing_or_to_other_files_are_named() -> None:
    document = new()
    document.add_xref_def("harbour.dxf", "HARBOUR")
    space = document.modelspace()
    space.add_blockref("HARBOUR", (0, 0), dxfattribs={"layer": "SITE"})
    space.add_blockref("GONE", (0, 0))
    (note,) = read(document).notes
    assert "1 reference to another file on 'SITE'" in note
    assert "1 reference to no block ('GONE') on '0'" in note


def test_attributes_of_a_reference_are_lines_of_text() -> None:
    document = new()
    document.blocks.new("PLATE").add_line((0, 0), (1, 0))
    insert = document.modelspace().add_blockref("PLATE", (0, 0), dxfattribs={"layer": "HULL"})
    insert.add_attrib("NAME", "tug")
    insert.add_attrib("NUMBER", "7", dxfattribs={"layer": "MARKS"})
    insert.add_attrib("SECRET", "8").is_invisible = True
    drawing = read(document)
    assert [(w.text, w.layer) for w in drawing.writings] == [("tug", "HULL"), ("7", "MARKS")]
    assert drawing.notes == ("ignored 1 invisible object",)
    assert len(drawing.shapes) == 1
