"""Text as outlines: areas and heights beside pixels, fonts, and islands that fall out."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import matplotlib
import numpy as np
import pytest
import shapely
from PIL import Image, ImageDraw, ImageFont

from silhouette3d.drawing.cache import Sheet
from silhouette3d.drawing.choice import Choice
from silhouette3d.drawing.model import Bezier, Drawing, Writing
from silhouette3d.drawing.outline.outline import Outline
from silhouette3d.drawing.text import find_font
from silhouette3d.errors import DrawingError
from tests.support.dxf_files import new, read
from tests.support.svg_drawings import drawn as svg

FONTS = Path(matplotlib.get_data_path(), "fonts", "ttf")
SANS = "DejaVu Sans"
PIXELS = 2000
"""Of an em, in the pictures that judge: one is 1/2000 of the size of the font."""


def drawn(*writings: Writing) -> Drawing:
    return Drawing(Path("name.dxf"), (), "mm", unit_stated=True, writings=writings)


def line(text: str, size: float = 10.0, **what: Any) -> Writing:
    what = {"font": SANS, "layer": "NAME"} | what
    return Writing(text, (size, 0.0, 0.0, size, 0.0, 0.0), **what)


def outline(drawing: Drawing, layers: tuple[str, ...] | None = None) -> Outline:
    return Sheet(drawing).outline(Choice(layers), tolerance=1e-3, text="outline")


def pixels(text: str, file: Path) -> np.ndarray:
    """The text as FreeType draws it: shares of ink, without kerning."""
    font = ImageFont.truetype(str(file), PIXELS, layout_engine=ImageFont.Layout.BASIC)
    picture = Image.new("L", (PIXELS * (len(text) + 1), 2 * PIXELS))
    ImageDraw.Draw(picture).text((PIXELS // 4, PIXELS // 4), text, 255, font)
    return np.asarray(picture) / 255.0


@pytest.mark.parametrize(
    ("text", "font", "file"),
    [
        ("H", SANS, "DejaVuSans.ttf"),
        ("Bg8&@%", SANS, "DejaVuSans.ttf"),
        ("tugboat", "DejaVu Serif", "DejaVuSerif.ttf"),
        ("Ærøskøbing №5", "monospace", "DejaVuSansMono.ttf"),
        ("Omega", "cmr10", "cmr10.ttf"),
    ],
)
def test_area_and_height_are_those_of_the_pixels(text: str, font: str, file: str) -> None:
    ink = pixels(text, FONTS / file)
    found = outline(drawn(line(text, PIXELS, font=font)))
    length = shapely.length(found.polygons)
    # hinting moves an edge by half a pixel at most, in both directions
    assert found.polygons.area == pytest.approx(ink.sum(), abs=length / 4.0)
    rows = np.nonzero(ink.sum(axis=1))[0]
    u0, v0, u1, v1 = found.polygons.bounds
    assert v1 - v0 == pytest.approx(np.ptp(rows) + 1, abs=2.0)
    columns = np.nonzero(ink.sum(axis=0))[0]
    assert u1 - u0 == pytest.approx(np.ptp(columns) + 1, abs=2.0 + len(text))


def test_letters_are_true_curves_and_the_bound_of_their_area_holds() -> None:
    font, _ = find_font(SANS)
    assert any(isinstance(piece, Bezier) for loop in font.loops("o") for piece in loop)
    fine, coarse = (
        Sheet(drawn(line("o", 100.0))).outline(tolerance=t, text="outline") for t in (1e-4, 0.5)
    )
    missing = abs(fine.polygons.area - coarse.polygons.area)
    assert 0.0 < missing <= coarse.area_error + fine.area_error


# In DXF.


def capital_height(font: str = "DejaVuSans.ttf") -> float:
    """Share of the em that an H is high, by FreeType."""
    box = ImageFont.truetype(str(FONTS / font), PIXELS).getbbox("H")
    return float(box[3] - box[1]) / PIXELS


def document_with_font(font: str = "DejaVuSans.ttf") -> Any:
    document = new()
    document.styles.add("NAMES", font=font)
    return document


def test_the_height_of_a_text_is_that_of_its_capitals() -> None:
    document = document_with_font()
    document.modelspace().add_text("H", height=7.5, dxfattribs={"style": "NAMES"})
    _, v0, _, v1 = outline(read(document)).polygons.bounds
    assert (v0, v1) == pytest.approx((0.0, 7.5), abs=1e-9)
    assert capital_height() * PIXELS == pytest.approx(0.729 * PIXELS, abs=1.0)


def test_an_svg_size_is_the_em() -> None:
    _, v0, _, v1 = outline(drawn(line("H", 10.0))).polygons.bounds
    assert v1 - v0 == pytest.approx(10.0 * capital_height(), abs=10.0 / PIXELS)


# Fonts that are there, and those that are not.


@pytest.mark.parametrize(
    ("font", "taken"),
    [
        ("DejaVu Serif", "DejaVu Serif"),
        ("dejavuserif.TTF", "DejaVu Serif"),
        (r"C:\fonts\DejaVuSerif.ttf", "DejaVu Serif"),
        ("Nowhere Grotesk, 'DejaVu Serif', serif", "DejaVu Serif"),
        ("serif", "DejaVu Serif"),
        ("monospace", "DejaVu Sans Mono"),
    ],
)
def test_a_font_is_found_by_family_or_file(font: str, taken: str) -> None:
    assert outline(drawn(line("H", font=font))).notes == ()
    assert find_font(font)[0].name == taken


def test_bold_and_slanted_are_others_of_the_family() -> None:
    areas = {
        outline(drawn(line("HO", bold=bold, italic=italic))).polygons.wkb
        for bold in (False, True)
        for italic in (False, True)
    }
    assert len(areas) == 4


@pytest.mark.parametrize(
    ("font", "note"),
    [
        (
            "txt.shx",
            "the font 'txt.shx' of the text is not on this machine: DejaVu Sans was taken",
        ),
        ("", "the text names no font: DejaVu Sans was taken"),
    ],
)
def test_a_font_that_is_not_there_is_told_once(font: str, note: str) -> None:
    assert outline(drawn(line("H", font=font), line("I", font=font))).notes == (note,)


@pytest.mark.parametrize("text", ["船", "שלום", "कमल", "a\u0301", "a\u200db"])
def test_what_cannot_be_set_letter_by_letter_is_refused(text: str) -> None:
    with pytest.raises(DrawingError, match=r"cannot be set in DejaVu Sans") as caught:
        outline(drawn(line(f"H{text}")))
    assert "layer 'NAME'" in str(caught.value)
    assert "into paths" in str(caught.value)


# What is taken and what is left out.


def test_text_is_left_out_and_counted_unless_it_is_asked_for() -> None:
    document = new()
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (100, 0), (100, 100), (0, 100)], close=True)
    space.add_text("bow", height=5).set_placement((10, 10))
    space.add_mtext("stern\\Pboard").set_location((10, 50))
    found = Sheet(read(document)).outline()
    assert found.polygons.area == 10_000.0
    assert found.notes == ("left out 3 lines of text",)


def test_layers_choose_text_too() -> None:
    drawing = drawn(line("H", layer="NAME"), line("OOO", layer="MARKS"))
    whole, name = outline(drawing), outline(drawing, ("name",))
    assert name.polygons.area < whole.polygons.area
    with pytest.raises(DrawingError, match="there is nothing on a layer 'HULL'"):
        outline(drawing, ("HULL",))


def test_colours_choose_text_and_what_is_not_chosen_need_not_be_set() -> None:
    red = line("H", colour="#ff0000")
    drawing = drawn(red, line("船", colour="#0000ff"))
    chosen = Sheet(drawing).outline(Choice(colours=("#ff0000",)), tolerance=1e-3, text="outline")
    assert chosen.polygons.equals(outline(drawn(red)).polygons)


def test_asking_for_text_where_there_is_none_is_told() -> None:
    document = new()
    document.modelspace().add_circle((0, 0), 5)
    assert outline(read(document)).notes == ("there is no text there that could be cut",)


# Islands.


def plate(write: Callable[[Any], None]) -> Outline:
    """A plate of 200 × 60 mm with some writing cut out of it."""
    document = document_with_font()
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (200, 0), (200, 60), (0, 60)], close=True)
    write(space)
    return outline(read(document))


def test_islands_in_letters_that_are_holes_are_named() -> None:
    def write(space: Any) -> None:
        for text, y in (("BOAT", 5), ("TUG", 35)):
            space.add_text(text, height=20, dxfattribs={"style": "NAMES"}).set_placement((5, y))

    (note,) = plate(write).notes
    assert note.startswith("islands fall out of letters of the text 'BOAT': B, O, A; a stencil")


def test_letters_that_are_material_hold_together() -> None:
    """Their counters are slugs, which may fall out; an island in one may not."""
    found = outline(drawn(line("BOAT")))
    assert found.notes == ()
    assert len(found.polygons.geoms) == 4
    (note,) = outline(drawn(line("©"))).notes
    assert note.startswith("islands fall out of letters of the text '©': ©; ")


def test_a_mirrored_letter_holds_an_island_too() -> None:
    def write(space: Any) -> None:
        text = space.add_text("O", height=20, dxfattribs={"style": "NAMES"})
        text.set_placement((100, 20))
        text.dxf.text_generation_flag = 2

    (note,) = plate(write).notes
    assert note.startswith("islands fall out of letters of the text 'O': O; ")


@pytest.mark.parametrize("anchor", [0.0, 0.5, 1.0])
@pytest.mark.parametrize(
    "matrix", [(10.0, 0.0, 0.0, 10.0, 3.0, 4.0), (6.0, 8.0, -8.0, 6.0, 3.0, 4.0)]
)
def test_lines_that_follow_are_one_line(anchor: float, matrix: tuple[float, ...]) -> None:
    """In three pieces, one of them a blank, as where the middle of a line is in another colour."""
    whole = Writing("no mast", matrix, SANS, anchor=anchor)  # type: ignore[arg-type]
    pieces = [
        Writing(text, matrix, SANS, anchor=anchor, follows=bool(i))  # type: ignore[arg-type]
        for i, text in enumerate(("no", " ", "mast"))
    ]
    one, three = outline(drawn(whole)).polygons, outline(drawn(*pieces)).polygons
    assert one.symmetric_difference(three).area == pytest.approx(0.0, abs=1e-6)


def test_a_larger_word_moves_what_follows_it() -> None:
    pieces = [
        Writing(text, (size, 0.0, 0.0, size, 0.0, 0.0), SANS, follows=bool(i))
        for i, (text, size) in enumerate((("HH", 20.0), ("H", 10.0)))
    ]
    last = outline(drawn(line("H"))).polygons
    advance = ImageFont.truetype(str(FONTS / "DejaVuSans.ttf"), PIXELS).getlength("HH") / PIXELS
    right = outline(drawn(*pieces)).polygons.bounds[2]
    assert right == pytest.approx(20.0 * advance + last.bounds[2], abs=1e-3)


def test_text_of_an_svg_stands_where_it_should() -> None:
    body = '<text x="50" y="20" font-size="10" text-anchor="middle">{}</text>'
    plain, spans = "HoH", '<tspan fill="red">H</tspan>o<tspan font-weight="normal">H</tspan>'
    found = [
        Sheet(svg(body.format(t))).outline(tolerance=1e-3, text="outline") for t in (plain, spans)
    ]
    left, bottom, right, _ = found[0].polygons.bounds
    assert (left + right) / 2.0 == pytest.approx(50.0, abs=1e-3)  # an H stands in its own middle
    assert bottom == pytest.approx(80.0, abs=0.2)  # an o reaches a little below the line
    assert found[1].polygons.symmetric_difference(found[0].polygons).area < 1e-6
