"""Clipping paths of block references: honoured where that is plain, else told."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import pytest
import shapely
from ezdxf.xclip import XClip
from shapely import Polygon, affinity

from silhouette3d.drawing.choice import Choice
from silhouette3d.drawing.model import Arc, Drawing
from silhouette3d.drawing.outline.outline import outline_of
from tests.support.dxf_files import new, only, read

SQUARE = [(0, 0), (100, 0), (100, 100), (0, 100)]
CLIPPED = "clipped 1 block reference; closed lines that were cut are closed along the path"


def clipped(
    draw: Callable[[Any], object],
    path: Sequence[tuple[float, float]],
    at: tuple[float, float] = (0, 0),
    **insert: Any,
) -> Any:
    """A document with one block reference, clipped by a path in the block's coordinates."""
    document = new()
    draw(document.blocks.new("B"))
    reference = document.modelspace().add_blockref("B", at, dxfattribs=insert)
    XClip(reference).set_block_clipping_path(path)
    return document


def area(drawing: Drawing) -> float:
    return float(outline_of(drawing, tolerance=1e-4).polygons.area)


def square_of_lines(block: Any) -> None:
    for start, end in zip(SQUARE, [*SQUARE[1:], SQUARE[0]], strict=True):
        block.add_line(start, end)


def square_as_polyline(block: Any) -> None:
    block.add_lwpolyline(SQUARE, close=True)


def square_as_hatch(block: Any) -> None:
    block.add_hatch().paths.add_polyline_path(SQUARE)


@pytest.mark.parametrize("draw", [square_of_lines, square_as_polyline, square_as_hatch])
@pytest.mark.parametrize("path", [[(0, 0), (40, 40)], [(0, 0), (40, 0), (40, 40), (0, 40)]])
def test_a_square_clipped_to_its_corner(draw: Callable[[Any], None], path: Any) -> None:
    drawing = read(clipped(draw, path))
    assert area(drawing) == pytest.approx(1600.0)
    assert drawing.notes == (CLIPPED,)


def test_a_placed_block_is_clipped_where_it_lies() -> None:
    """Turned, mirrored, stretched; the judge sets shapely's areas against each other."""
    triangle = [(-10, 20), (120, 30), (50, 90)]

    def draw(block: Any) -> None:
        square_as_polyline(block)
        block.add_circle((50, 50), 30)

    document = clipped(draw, triangle, (7, -3), rotation=33, xscale=-2.0, yscale=0.5, layer="HULL")
    drawing = read(document, tolerance=1e-4)
    disc = shapely.Point(50, 50).buffer(30, quad_segs=5000)
    whole = Polygon(SQUARE).difference(disc).intersection(Polygon(triangle))
    assert area(drawing) == pytest.approx(whole.area, rel=1e-5)  # turning and 2 × 0.5 keep it
    moved = affinity.scale(whole, -2.0, 0.5, origin=(0, 0))
    moved = affinity.translate(affinity.rotate(moved, 33, origin=(0, 0)), 7, -3)
    ours = outline_of(drawing, tolerance=1e-4).polygons
    assert shapely.symmetric_difference(ours, moved).area == pytest.approx(0.0, abs=0.1)
    assert drawing.layers == ("HULL",)


def test_a_clip_of_an_outer_block_counts_for_the_inner_ones() -> None:
    document = new()
    square_as_polyline(document.blocks.new("INNER"))
    document.blocks.new("OUTER").add_blockref("INNER", (10, 0))
    reference = document.modelspace().add_blockref("OUTER", (0, 0))
    XClip(reference).set_block_clipping_path([(0, 0), (50, 50)])
    assert area(read(document)) == pytest.approx(40.0 * 50.0)


def test_what_lies_inside_stays_as_drawn_and_what_lies_outside_goes() -> None:
    def draw(block: Any) -> None:
        block.add_circle((10, 10), 5)
        block.add_circle((200, 10), 5)
        block.add_line((300, 0), (400, 0))
        block.add_text("bow").set_placement((10, 10))
        block.add_text("stern").set_placement((200, 10))

    drawing = read(clipped(draw, [(0, 0), (100, 100)]))
    assert isinstance(only(drawing).pieces[0], Arc)
    assert [w.text for w in drawing.writings] == ["bow"]


def test_an_open_line_is_shortened() -> None:
    drawing = read(clipped(lambda block: block.add_line((-50, 20), (30, 20)), [(0, 0), (100, 100)]))
    curve = only(drawing)
    assert {curve.start, curve.end} == {(0.0, 20.0), (30.0, 20.0)}


def test_an_arc_that_is_cut_keeps_within_the_tolerance() -> None:
    document = clipped(lambda block: block.add_circle((0, 0), 30), [(0, 0), (100, 100)])
    found = outline_of(read(document, tolerance=0.01), tolerance=0.01)
    assert found.polygons.area == pytest.approx(math.pi * 900 / 4, abs=found.area_error)
    assert 0.0 < found.area_error < 2.0


def switched_off(document: Any) -> None:
    XClip(document.modelspace()[0]).disable_clipping()


def inverted(document: Any) -> None:
    XClip(document.modelspace()[0]).invert_clipping_path(ignore_acad_compatibility=True)


def on_two_layers(document: Any) -> None:
    document.blocks.get("B").add_lwpolyline(
        [(0, 0), (90, 0), (90, 90)], close=True, dxfattribs={"layer": "OTHER"}
    )


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (switched_off, None),
        (inverted, "it is inverted"),
        (on_two_layers, "it cuts closed lines on more than one layer"),
    ],
)
def test_a_path_that_is_off_or_ambiguous_is_not_followed(
    change: Callable[[Any], None], why: str | None
) -> None:
    document = clipped(square_as_polyline, [(0, 0), (40, 40)])
    change(document)
    drawing = read(document)
    assert float(outline_of(drawing, Choice(("0",))).polygons.area) == 10_000.0
    told = [note for note in drawing.notes if "not clipped" in note]
    assert len(told) == (why is not None)
    assert all(f"'B' not clipped, its clipping path cannot be followed: {why}" in n for n in told)
