"""Lines of text of a DXF where they lie, beside the text tools of ezdxf.

Those know fonts and alignments on their own; letters from text to paths, lines of TEXT
by their baseline, MTEXT by what exploding it into words gives.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import matplotlib
import numpy as np
import pytest
import shapely
from ezdxf.addons import text2path
from ezdxf.addons.mtxpl import MTextExplode
from ezdxf.enums import TextEntityAlignment
from ezdxf.fonts import fonts
from ezdxf.math import Vec3
from ezdxf.tools.text import TextLine, unified_alignment
from hypothesis import given
from hypothesis import strategies as st

from silhouette3d.drawing.cache import Sheet
from silhouette3d.drawing.model import Drawing, Writing
from silhouette3d.drawing.text import find_font
from tests.support.dxf_files import bare, new, read, read_text, tags

HEIGHT = 3.0


@pytest.fixture(autouse=True, scope="module")
def _fonts_of_ezdxf() -> None:
    """It knows those of the machine; these are what matplotlib carries."""
    fonts.font_manager.scan_folder(Path(matplotlib.get_data_path(), "fonts", "ttf"))


def with_style(font: str = "DejaVuSans.ttf", release: str = "R2010") -> Any:
    document = new(release)
    document.styles.add("NAMES", font=font)
    return document


def with_text(text: str = "Hop", **attributes: Any) -> tuple[Any, Any]:
    document = with_style()
    attributes = {"style": "NAMES", "height": HEIGHT} | attributes
    return document, document.modelspace().add_text(text, dxfattribs=attributes)


def area(drawing: Drawing) -> shapely.MultiPolygon:
    return Sheet(drawing).outline(tolerance=1e-3, text="outline").polygons


def same(ours: shapely.Geometry, theirs: shapely.Geometry, within: float) -> bool:
    """Apart by no more than a strip along the edges, of a width in mm."""
    apart = shapely.symmetric_difference(ours, theirs).area
    return bool(apart <= within * shapely.length(ours))


def baseline(writing: Writing) -> tuple[complex, complex]:
    """Where the first letter begins and the last one ends."""
    font, _ = find_font(writing.font, bold=writing.bold, italic=writing.italic)
    length = font.advance(writing.text) / font.capitals
    if writing.length is not None:
        length = writing.length
    a, b, _, _, e, f = writing.matrix
    start = complex(e, f) - writing.anchor * length * complex(a, b)
    return start, start + length * complex(a, b)


# TEXT.


def their_area(text: Any) -> shapely.Geometry:
    """A text as ezdxf draws it, when it is aligned at its start and needs no measuring."""
    found: shapely.Geometry = shapely.Polygon()
    for letters in text2path.make_paths_from_entity(text):
        for loop in letters.sub_paths():
            ring = shapely.Polygon([(p.x, p.y) for p in loop.flattening(1e-3)])
            found = shapely.symmetric_difference(found, ring)
    return found


@pytest.mark.parametrize(
    "attributes",
    [
        {},
        {"rotation": 30.0},
        {"width": 1.4},
        {"oblique": 15.0},
        {"oblique": -20.0, "rotation": 200.0},
        {"text_generation_flag": 2},
        {"text_generation_flag": 4, "rotation": 10.0},
        {"text_generation_flag": 6, "oblique": 15.0},
        {"extrusion": (0.0, 0.0, -1.0), "rotation": 30.0, "width": 0.8},
    ],
)
def test_letters_lie_as_ezdxf_draws_them(attributes: dict[str, Any]) -> None:
    document, text = with_text("Hop 8", insert=(5.0, 7.0), **attributes)
    assert same(area(read(document)), their_area(text), 0.005)


DEPTH = {TextEntityAlignment.MIDDLE: 0.5} | {
    TextEntityAlignment[f"BOTTOM_{side}"]: 1.0 for side in ("LEFT", "CENTER", "RIGHT")
}
"""Share of the depth of letters below the baseline that an alignment uses. The file does not
state it; a third of the height is taken, the p of this font has 0.285 of it."""


def test_every_alignment_puts_the_baseline_where_ezdxf_does() -> None:
    document = with_style()
    line_of = fonts.TrueTypeFont("DejaVuSans.ttf", HEIGHT)
    first, second = Vec3(5, 7), Vec3(25, 9)
    expected = []
    for align in TextEntityAlignment:
        for flags in (0, 2, 4):
            attributes = {"style": "NAMES", "rotation": 30.0, "text_generation_flag": flags}
            text = document.modelspace().add_text("Hop", height=HEIGHT, dxfattribs=attributes)
            text.set_placement(first, second, align=align)
            line, at, turn = TextLine("Hop", line_of), first, math.radians(30.0)
            if align in (TextEntityAlignment.FIT, TextEntityAlignment.ALIGNED):
                line.stretch(align, first, second)
                at, turn = (first + second) / 2.0, (second - first).angle
            mirrored = (-1 if flags & 2 else 1, -1 if flags & 4 else 1)
            across, up = unified_alignment(text)
            ends = line.baseline_vertices(at, across, up, turn, mirrored)
            expected.append((align, [complex(p.x, p.y) for p in ends]))
    for writing, (align, ends) in zip(read(document).writings, expected, strict=True):
        slack = 1e-9 + DEPTH.get(align, 0.0) * 0.05 * HEIGHT
        assert np.abs(np.subtract(baseline(writing), ends)).max() <= slack, align


def test_an_aligned_text_grows_upwards_too_and_a_fitted_one_does_not() -> None:
    tops = {}
    for align in (TextEntityAlignment.FIT, TextEntityAlignment.ALIGNED):
        document, text = with_text("HH")
        text.set_placement((0, 0), (40, 0), align=align)
        u0, _, u1, v1 = area(read(document)).bounds
        assert u1 - u0 == pytest.approx(40.0, abs=40.0 * 0.15)  # but for the room about letters
        tops[align.name] = v1
    assert tops["FIT"] == pytest.approx(HEIGHT)
    font = find_font("DejaVu Sans")[0]
    natural = font.advance("HH") / font.capitals * HEIGHT
    assert tops["ALIGNED"] == pytest.approx(HEIGHT * 40.0 / natural)


@pytest.mark.parametrize(
    ("content", "text"),
    [
        ("%%c25 %%p0.1 45%%d", "Ø25 ±0.1 45°"),
        ("%%uunder%%u", "under"),
        ("%%065%%066", "AB"),
        ("50%", "50%"),
        (r"B\U+00F6rde", "Börde"),
    ],
)
def test_codes_in_a_text_are_resolved(content: str, text: str) -> None:
    (writing,) = read(with_text(content)[0]).writings
    assert writing.text == text


def test_a_style_may_name_a_family_that_is_bold() -> None:
    document = with_style("nowhere.ttf")
    document.styles.get("NAMES").set_extended_font_data("DejaVu Serif", italic=True, bold=True)
    document.modelspace().add_text("H", dxfattribs={"style": "NAMES"})
    (writing,) = read(document).writings
    assert (writing.font, writing.bold, writing.italic) == (
        "DejaVu Serif, nowhere.ttf",
        True,
        True,
    )


def test_text_in_a_block_is_placed_with_it_and_looks_as_seen() -> None:
    document = with_style()
    document.layers.add("HULL", color=3)
    block = document.blocks.new("PLATE")
    block.add_text("H", height=HEIGHT, dxfattribs={"style": "NAMES", "color": 0})
    document.modelspace().add_blockref(
        "PLATE",
        (10, 20),
        dxfattribs={"xscale": 2.0, "yscale": -1.0, "layer": "HULL", "color": 1},
    )
    (writing,) = read(document).writings
    assert (writing.layer, writing.colour) == ("HULL", "#ff0000")
    _, v0, _, v1 = area(read(document)).bounds
    assert (v0, v1) == pytest.approx((17.0, 20.0))


def test_text_counts_in_the_units_of_the_file() -> None:
    document, _ = with_text("H")
    document.units = 1  # inches
    _, v0, _, v1 = area(read(document)).bounds
    assert v1 - v0 == pytest.approx(25.4 * HEIGHT)


def test_hidden_text_is_no_writing() -> None:
    document, text = with_text("H")
    text.dxf.invisible = 1
    document.layers.add("COLD").freeze()
    document.modelspace().add_text("H", dxfattribs={"layer": "COLD"})
    drawing = read(document)
    assert drawing.writings == ()
    assert len(drawing.notes) == 2


@pytest.mark.parametrize(
    "attributes",
    [
        {"extrusion": (1.0, 0.0, 1.0)},
        {"insert": (1e9, 0.0)},
        {"height": 1e300},
    ],
)
def test_text_that_cannot_be_set_is_counted(attributes: dict[str, Any]) -> None:
    drawing = read(with_text(**attributes)[0])
    assert drawing.writings == ()
    assert drawing.notes == ("ignored 1 TEXT",)


def test_text_of_the_oldest_release_without_a_style() -> None:
    text = tags((0, "TEXT"), (8, "0"), (10, 1), (20, 2), (40, 5), (1, "tug"))
    (writing,) = read_text(bare(text)).writings
    assert writing.text == "tug"
    assert writing.matrix == (5.0, 0.0, 0.0, 5.0, 1.0, 2.0)


# MTEXT.


@pytest.mark.parametrize(
    ("content", "attributes"),
    [
        ("HxH", {}),
        ("HxH\\PHO", {}),
        *(("HxH\\PHOHO oo", {"attachment_point": n, "insert": (3, 4)}) for n in range(1, 10)),
        ("Harbour tug of the north and the south", {"width": 30}),
        ("Harbour tug of the north and the south", {"width": 30, "attachment_point": 5}),
        ("Harbour tug of the north and the south", {"width": 1, "attachment_point": 9}),
        ("Harbour tug of\\Pthe", {"rotation": 30}),
        ("Harbour\\Ptug", {"text_direction": (0, 1, 0), "attachment_point": 8}),
        ("one\\Ptwo\\Pthree", {"line_spacing_factor": 1.5}),
        ("Big {\\H2x;BIG} small\\Pnext", {"width": 90}),
        ("Ab {\\fDejaVu Serif|b0|i0;Cd} e", {"width": 90, "attachment_point": 6}),
        ("\\pxqc;Ab\\Plonger", {"width": 40}),
        ("\\pxqr;Ab\\Plonger", {"width": 40, "attachment_point": 2}),
        ("{\\W1.5;wide} {\\Q15;slanted}", {"width": 90}),
        ("tug", {"extrusion": (0, 0, -1)}),
    ],
)
def test_mtext_lies_as_ezdxf_sets_it(content: str, attributes: dict[str, Any]) -> None:
    document = with_style()
    space = document.modelspace()
    attributes = {"style": "NAMES", "char_height": 2.5} | attributes
    text = space.add_mtext(content, dxfattribs=attributes)
    ours = area(read(document))
    with MTextExplode(space) as explode:
        explode.explode(text)
    assert same(ours, area(read(document)), 0.02)  # it has 1.667 for 5/3


def test_colours_and_layers_of_mtext() -> None:
    document = with_style()
    document.layers.add("HULL", color=3)
    document.modelspace().add_mtext(
        "a {\\C1;b} {\\c255;c}", dxfattribs={"layer": "HULL", "style": "NAMES"}
    )
    found = [(w.text.strip(), w.layer, w.colour) for w in read(document).writings]
    assert found == [
        ("a", "HULL", "#00ff00"),
        ("b", "HULL", "#ff0000"),
        ("c", "HULL", "#ff0000"),  # 255 is 0x0000FF: blue, green, red
    ]


def test_markup_leaves_the_text() -> None:
    document = with_style()
    document.modelspace().add_mtext(r"\LH\l\~o{\T1.2;p} \S1/2; 5%%d \\ \{x\}")
    (writing,) = read(document).writings
    assert writing.text == r"H op 1/2 5° \ {x}"


def test_mtext_in_columns_is_counted() -> None:
    document = with_style()
    document.modelspace().add_mtext_static_columns(["a", "b"], 10.0, 2.0, 20.0)
    drawing = read(document)
    assert drawing.writings == ()
    assert "ignored 1 MTEXT" in drawing.notes


def test_an_attribute_of_several_lines() -> None:
    document = with_style(release="R2018")
    document.blocks.new("PLATE")
    insert = document.modelspace().add_blockref("PLATE", (0, 0))
    attribute = insert.add_attrib("NAME", "x")
    mtext = document.modelspace().add_mtext("bow\\Pstern", dxfattribs={"style": "NAMES"})
    attribute.embed_mtext(mtext)
    assert [w.text for w in read(document).writings] == ["bow", "stern"]


COMMANDS = [r"\P", r"\H2x;", r"\H0;", r"\W-1;", r"\Q89.9;", r"\C300;", r"\fX|b1;", r"\S1^2;"]
COMMANDS += [r"\p", r"\pxqc;", "{", "}", "\\", "^J", "%%d", r"\U+", r"\M+1"]

MARKUP = st.lists(
    st.one_of(
        st.text(st.characters(min_codepoint=32, max_codepoint=255), max_size=5),
        st.sampled_from(COMMANDS),
    ),
    max_size=8,
).map("".join)


@given(MARKUP, st.floats(0.0, 40.0), st.integers(0, 12))
def test_whatever_the_markup_it_is_set_or_counted(content: str, width: float, at: int) -> None:
    document = with_style()
    document.modelspace().add_circle((0, 0), 1)
    document.modelspace().add_mtext(
        content, dxfattribs={"style": "NAMES", "width": width, "attachment_point": at}
    )
    drawing = read(document)
    assert len(drawing.shapes) == 1
    assert all(np.isfinite(w.matrix).all() for w in drawing.writings)
