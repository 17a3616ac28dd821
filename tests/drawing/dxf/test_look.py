"""Colours and linetypes of a DXF drawing, as seen: by layer, by block, and their own."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import pytest
from ezdxf.addons.drawing.properties import RenderContext

from silhouette3d.drawing.model import Drawing
from tests.support.dxf_files import RELEASES, bare, new, read, read_text, tags

RED, YELLOW, GREEN, BLUE, BLACK = "#ff0000", "#ffff00", "#00ff00", "#0000ff", "#000000"


def looks(drawing: Drawing) -> list[tuple[str, str | None, str | None]]:
    return [(shape.layer, shape.colour, shape.linetype) for shape in drawing.shapes]


def layered(release: str = "R2010") -> Any:
    document = new(release)
    document.linetypes.add("DASHED", [1.2, 1.0, -0.2])
    document.linetypes.add("Chain", [2.4, 2.0, -0.2, 0.0, -0.2])
    document.layers.add("CUT", color=1)
    document.layers.add("AXES", color=3, linetype="Chain")
    return document


@pytest.mark.parametrize("form", ["asc", "bin"])
@pytest.mark.parametrize("release", RELEASES)
def test_an_object_has_its_own_look_or_that_of_its_layer(release: str, form: str) -> None:
    document = layered(release)
    space = document.modelspace()
    space.add_line((0, 0), (1, 0), dxfattribs={"layer": "cut"})
    space.add_line((0, 0), (1, 0), dxfattribs={"layer": "AXES"})
    space.add_line((0, 0), (1, 0), dxfattribs={"layer": "AXES", "color": 5, "linetype": "dashed"})
    space.add_line((0, 0), (1, 0), dxfattribs={"layer": "NOWHERE"})
    continuous = document.linetypes.get("continuous").dxf.name  # as the file spells it
    assert looks(read(document, form)) == [
        ("CUT", RED, continuous),
        ("AXES", GREEN, "Chain"),
        ("AXES", BLUE, "DASHED"),
        ("NOWHERE", BLACK, continuous),
    ]


def test_a_true_colour_wins_over_the_index_in_object_and_layer() -> None:
    document = layered()
    document.layers.get("CUT").rgb = (1, 2, 3)
    space = document.modelspace()
    space.add_line((0, 0), (1, 0), dxfattribs={"layer": "CUT"})
    space.add_line((0, 0), (1, 0), dxfattribs={"layer": "CUT", "color": 5})
    space.add_line((0, 0), (1, 0), dxfattribs={"color": 5, "true_color": 0xC08040})
    assert [s.colour for s in read(document).shapes] == ["#010203", BLUE, "#c08040"]


def test_the_layer_of_a_hidden_reference_does_not_hide_its_colour() -> None:
    """A layer that is off has its colour below 0."""
    document = layered()
    document.layers.get("CUT").off()
    block = document.blocks.new("B")
    block.add_line((0, 0), (1, 0), dxfattribs={"color": 0, "layer": "AXES"})
    document.modelspace().add_blockref("B", (0, 0), dxfattribs={"layer": "CUT"})
    assert [s.colour for s in read(document).shapes] == [RED]


@pytest.mark.parametrize("index", [-3, 257, 9999])
def test_a_colour_that_is_none_is_black(index: int) -> None:
    line = tags((0, "LINE"), (8, "0"), (62, index), (10, 0), (20, 0), (11, 1), (21, 1))
    assert [s.colour for s in read_text(bare(line)).shapes] == [BLACK]


def test_by_block_goes_up_to_the_first_that_says_something() -> None:
    document = layered()
    inner = document.blocks.new("INNER")
    inner.add_line((0, 0), (1, 0), dxfattribs={"color": 0, "linetype": "BYBLOCK"})
    inner.add_line((0, 0), (2, 0))  # by a layer that is the reference's
    inner.add_line((0, 0), (3, 0), dxfattribs={"layer": "AXES", "color": 0})
    outer = document.blocks.new("OUTER")
    outer.add_blockref("INNER", (0, 0), dxfattribs={"color": 0, "linetype": "BYBLOCK"})
    outer.add_blockref("INNER", (0, 0), dxfattribs={"color": 5, "layer": "AXES"})
    document.modelspace().add_blockref(
        "OUTER", (0, 0), dxfattribs={"layer": "CUT", "color": 2, "linetype": "DASHED"}
    )
    assert looks(read(document)) == [
        ("CUT", YELLOW, "DASHED"),
        ("CUT", RED, "Continuous"),
        ("AXES", YELLOW, "Chain"),
        ("AXES", BLUE, "Chain"),
        ("AXES", GREEN, "Chain"),
        ("AXES", BLUE, "Chain"),
    ]


def test_by_block_without_a_block_is_black_and_continuous() -> None:
    document = layered()
    document.modelspace().add_line(
        (0, 0), (1, 0), dxfattribs={"color": 0, "linetype": "ByBlock", "layer": "AXES"}
    )
    assert looks(read(document)) == [("AXES", BLACK, "Continuous")]


def test_a_hatch_has_a_colour_and_no_linetype() -> None:
    document = layered()
    hatch = document.modelspace().add_hatch(color=5, dxfattribs={"layer": "AXES"})
    hatch.paths.add_polyline_path([(0, 0), (1, 0), (1, 1)])
    assert looks(read(document)) == [("AXES", BLUE, None)]


def as_ezdxf_says(context: RenderContext, entities: Iterable[Any]) -> Iterator[tuple[str, str]]:
    """Colour and linetype of each line, by ezdxf's drawing add-on; its white is our black."""
    for entity in entities:
        seen = context.resolve_all(entity)
        if entity.dxftype() == "INSERT":
            context.push_state(seen)
            yield from as_ezdxf_says(context, entity.block())
            context.pop_state()
        else:
            yield {"#ffffff": BLACK}.get(seen.color, seen.color), seen.linetype_name


def test_looks_agree_with_ezdxf_through_three_blocks_in_each_other() -> None:
    document = layered()
    stated: list[dict[str, object]] = [
        {},
        {"color": 0, "linetype": "BYBLOCK"},
        {"color": 6, "linetype": "DASHED"},
        {"true_color": 0x123456},
        {"color": 256, "linetype": "BYLAYER"},
    ]
    inner: str | None = None
    for name in ("A", "B", "C"):
        block = document.blocks.new(name)
        for layer in ("0", "CUT", "AXES"):
            for own in stated:
                attributes = {"layer": layer, **own}
                if inner is None:
                    block.add_line((0, 0), (1, 0), dxfattribs=attributes)
                else:
                    block.add_blockref(inner, (0, 0), dxfattribs=attributes)
        inner = name
    space = document.modelspace()
    space.add_blockref("C", (0, 0), dxfattribs={"layer": "AXES", "color": 4})
    ours = [(s.colour, str(s.linetype).upper()) for s in read(document).shapes]
    assert len(ours) == 15**3
    assert ours == list(as_ezdxf_says(RenderContext(document), space))
