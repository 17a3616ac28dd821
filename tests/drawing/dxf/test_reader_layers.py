"""Layers of a DXF drawing, and what is not visible."""

from __future__ import annotations

import pytest

from tests.support.dxf_files import RELEASES, bare, new, only, read, read_text, tags


def test_layer_0_in_a_block_stands_for_the_layer_of_the_reference() -> None:
    document = new()
    inner = document.blocks.new("INNER")
    inner.add_line((0, 0), (1, 0))
    inner.add_line((0, 0), (2, 0), dxfattribs={"layer": "HOLES"})
    outer = document.blocks.new("OUTER")
    outer.add_blockref("INNER", (0, 0))  # itself on layer 0
    document.modelspace().add_blockref("OUTER", (0, 0), dxfattribs={"layer": "HULL"})
    drawing = read(document)
    assert [s.layer for s in drawing.shapes] == ["HULL", "HOLES"]
    assert drawing.layers == ("HULL", "HOLES")


def test_a_layer_is_called_as_in_the_table_or_as_first_seen() -> None:
    document = new()
    document.layers.add("Hull")
    for layer in ("HULL", "hull", "Deck", "DECK"):
        document.modelspace().add_line((0, 0), (1, 0), dxfattribs={"layer": layer})
    assert read(document).layers == ("Hull", "Deck")


def test_layers_that_are_frozen_off_or_not_plotted_do_not_count() -> None:
    document = new()
    document.layers.add("COLD").freeze()
    document.layers.add("DARK").off()
    document.layers.add("DIM").dxf.plot = 0
    document.layers.get("Defpoints").dxf.plot = 1
    for layer in ("HULL", "COLD", "cold", "DARK", "DIM", "DEFPOINTS"):
        document.modelspace().add_line((0, 0), (1, 0), dxfattribs={"layer": layer})
    drawing = read(document)
    assert drawing.layers == ("HULL",)
    assert drawing.notes == (
        "ignored 2 objects on a layer that is frozen: 'COLD'",
        "ignored 1 object on a layer that is off: 'DARK'",
        "ignored 2 objects on layers that are not plotted: 'DIM', 'Defpoints'",
    )


@pytest.mark.parametrize("form", ["asc", "bin"])
def test_layers_of_the_oldest_release(form: str) -> None:
    document = new("R12")
    document.layers.add("COLD").freeze()
    document.layers.add("DARK").off()
    for layer in ("HULL", "COLD", "DARK"):
        document.modelspace().add_line((0, 0), (1, 0), dxfattribs={"layer": layer})
    drawing = read(document, form)
    assert drawing.layers == ("HULL",)
    assert len(drawing.notes) == 2


def test_a_frozen_layer_hides_a_whole_reference_and_one_that_is_off_only_what_is_on_0() -> None:
    """Common practice of drawing programs, no source."""
    document = new()
    document.layers.add("COLD").freeze()
    document.layers.add("DARK").off()
    block = document.blocks.new("B")
    block.add_line((0, 0), (1, 0))
    block.add_line((0, 0), (2, 0), dxfattribs={"layer": "HULL"})
    document.modelspace().add_blockref("B", (0, 0), dxfattribs={"layer": "COLD"})
    document.modelspace().add_blockref("B", (0, 0), dxfattribs={"layer": "DARK"})
    drawing = read(document)
    assert only(drawing).end == (2.0, 0.0)
    assert drawing.notes == (
        "ignored 1 object on a layer that is frozen: 'COLD'",
        "ignored 1 object on a layer that is off: 'DARK'",
    )


def test_invisible_objects_are_counted() -> None:
    document = new()
    document.blocks.new("B").add_line((0, 0), (1, 0))
    space = document.modelspace()
    space.add_line((0, 0), (1, 0), dxfattribs={"invisible": 1})
    space.add_blockref("B", (0, 0), dxfattribs={"invisible": 1})
    space.add_circle((0, 0), 1)
    drawing = read(document)
    assert len(drawing.shapes) == 1
    assert drawing.notes == ("ignored 2 invisible objects",)


@pytest.mark.parametrize("release", RELEASES)
def test_paper_space_is_counted(release: str) -> None:
    document = new(release)
    document.modelspace().add_circle((0, 0), 1)
    paper = document.layout("Layout1")
    paper.add_line((0, 0), (100, 0))
    paper.add_text("Harbour tug")
    drawing = read(document)
    assert len(drawing.shapes) == 1
    assert drawing.notes == ("ignored 2 objects in paper space",)


def test_a_layer_name_beyond_ascii_survives() -> None:
    document = new()
    document.modelspace().add_line((0, 0), (1, 0), dxfattribs={"layer": "Rümpfe 船"})
    assert read(document).layers == ("Rümpfe 船",)


def test_a_damaged_layer_name_can_be_printed() -> None:
    line = tags((0, "LINE"), (8, "NAME"), (10, 0), (20, 0), (11, 1), (21, 1))
    text = bare(line, header=tags((9, "$ACADVER"), (1, "AC1021"))).encode()
    drawing = read_text(text.replace(b"NAME", b"H\xff\xfell"))
    (layer,) = drawing.layers
    assert layer.encode().startswith(b"H")
