"""DXF files as files: what cannot be opened, what is damaged."""

from __future__ import annotations

import logging
import os
import random
import re
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

import ezdxf.filemanagement
import numpy as np
import pytest

from silhouette3d.drawing.dxf.reader import read_dxf
from silhouette3d.drawing.model import Line
from silhouette3d.drawing.outline.outline import outline_of
from silhouette3d.errors import DrawingError
from tests.support.dxf_files import RELEASES, bare, new, only, read, read_text, tags, text_of

LINE = tags((0, "LINE"), (5, "2F"), (8, "HULL"), (10, 1), (20, 2), (11, 30), (21, 45.5))
"""From (1, 2) to (30, 45.5)."""

# ---- what cannot be opened ---------------------------------------------------------------


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(DrawingError, match="there is no such file") as caught:
        read_dxf(tmp_path / "front.dxf")
    assert caught.value.where == str(tmp_path / "front.dxf")


def test_a_directory(tmp_path: Path) -> None:
    with pytest.raises(DrawingError, match="this is a directory"):
        read_dxf(tmp_path)


@pytest.mark.parametrize("content", [b"", b"\n \r\n"])
def test_an_empty_file(content: bytes) -> None:
    with pytest.raises(DrawingError, match="the file is empty"):
        read_text(content)


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> int:
        raise PermissionError(13, os.strerror(13))

    (tmp_path / "front.dxf").touch()
    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(DrawingError, match=r"cannot be opened \(Permission denied\)"):
        read_dxf(tmp_path / "front.dxf")


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (b"AC1032\x00\x00\x00\x00", "this is a DWG file"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "this is not a DXF file"),
        (b"hello\nworld\n", "this is not a DXF file"),
        (b"0\n1\n2\n3\n", "this is not a DXF file"),
        (bytes(range(256)) * 4, "this is not a DXF file"),
        (b"my\nSECTION\nof text\n", "damaged beyond repair"),
    ],
)
def test_other_files(content: bytes, what: str) -> None:
    with pytest.raises(DrawingError, match=what):
        read_text(content)


# ---- what is damaged -----------------------------------------------------------------------


@pytest.mark.parametrize("ending", ["\r\n", "\r", "\n"])
def test_line_ends_of_every_system_and_comments_are_no_damage(ending: str) -> None:
    text = (tags((999, "drawn in the harbour")) + bare(LINE)).replace("\n", ending)
    drawing = read_text(text.encode() + b"\x1a")
    assert only(drawing).end == (30.0, 45.5)
    assert drawing.notes == ()


@pytest.mark.parametrize("release", RELEASES)
def test_what_programs_add_is_no_damage(release: str) -> None:
    """A byte order mark, comments between any two groups, codes without padding."""
    document = new(release)
    document.modelspace().add_line((0, 0), (30, 45.5), dxfattribs={"layer": "HULL"})
    lines = text_of(document).replace("HULL", "Rümpfe").splitlines()
    groups = list(zip(lines[::2], lines[1::2], strict=True))
    remark = "999\n  0\n"
    texts = [
        "\ufeff" + "\n".join(lines),
        "\ufeff999\nby hand\n" + "\n".join(lines),
        remark.join(f"{code}\n{value}\n" for code, value in groups),
        "".join(f"{code.strip()}\n{value}\n" for code, value in groups),
        "".join(f"\t{code.strip()}\r\n{value}\r\n" for code, value in groups),
    ]
    for text in texts:
        drawing = read_text(text)
        assert only(drawing).end == (30.0, 45.5)
        assert drawing.layers == ("Rümpfe",)
        assert drawing.notes == ()


CODE_PAGES = {
    "ANSI_1252": "cp1252",
    "ansi_1251": "cp1251",
    "ANSI_932": "cp932",
    "dos850": "cp850",
    "iso8859_2": "iso8859_2",
    "gb2312": "gbk",
    "": "cp1252",
    "harbour": "cp1252",
}


@pytest.mark.parametrize("release", ["", "AC1009", "AC1015", "AC1021", "AC1032"])
def test_names_in_any_encoding_are_understood(release: str) -> None:
    """Stated or not; UTF-8 is written by many programs whatever they state."""
    for stated, codec in CODE_PAGES.items():
        for name in ("Rümpfe", "Корпус", "船体"):
            written = [name.encode(), name.encode("ascii", "backslashreplace")]
            written[1] = written[1].replace(rb"\u", rb"\U+").replace(rb"\xfc", rb"\U+00FC")
            with suppress(UnicodeEncodeError):
                written.append(name.encode(codec))
            header = tags((9, "$ACADVER"), (1, release)) if release else ""
            header += tags((9, "$DWGCODEPAGE"), (3, stated)) if stated else ""
            line = LINE.replace("HULL", "NAME")
            text = bare(line, header=header).encode()
            assert b"NAME" in text
            for raw in written:
                assert read_text(text.replace(b"NAME", raw)).layers == (name,), (stated, raw)


def test_a_missing_end_mark_loses_nothing() -> None:
    drawing = read_text(bare(LINE).removesuffix("  0\nEOF\n"))
    assert only(drawing).end == (30.0, 45.5)
    assert drawing.notes == (
        "the file has no end mark, and anything that came after it is missing",
    )


@pytest.mark.parametrize("release", RELEASES)
def test_a_file_that_ends_early_loses_its_last_object_only(release: str) -> None:
    document = new(release)
    for x in range(3):
        document.modelspace().add_line((x, 0), (x, 40.25), dxfattribs={"layer": f"L{x}"})
    text = text_of(document)
    last = text.index("L2", text.index("ENTITIES"))
    whole = text.index("40.25", last)
    for cut in (whole + 2, whole, last + 1, whole + 5):
        drawing = read_text(text[:cut])
        ends = [c.end for s in drawing.shapes for c in s.curves]
        assert ends == [(0.0, 40.25), (1.0, 40.25)]  # not a shorter third one
        assert drawing.notes[0] == (
            "the file ends early: its last object (LINE) was left out, "
            "and anything that came after it is missing"
        )


def test_a_polyline_that_ends_early_is_left_out_whole() -> None:
    document = new("R12")
    document.modelspace().add_line((0, 0), (1, 0))
    document.modelspace().add_polyline2d([(0, 0), (9, 0), (9, 9)], close=True)
    text = text_of(document)
    drawing = read_text(text[: text.rindex("VERTEX") + 20])
    assert [c.source.split()[0] for s in drawing.shapes for c in s.curves] == ["LINE"]
    assert "its last object (POLYLINE) was left out" in drawing.notes[0]


def test_a_binary_file_that_ends_early_is_an_error(tmp_path: Path) -> None:
    document = new()
    document.modelspace().add_line((0, 0), (1, 0))
    path = tmp_path / "plate.dxf"
    document.saveas(path, fmt="bin")
    data = path.read_bytes()
    for length in (len(data) - 6, len(data) // 2, 23, 22):
        with pytest.raises(DrawingError, match="this binary DXF file is damaged") as caught:
            read_text(data[:length])
        assert "as ASCII" in caught.value.todo


def test_a_broken_handle_is_repaired_and_counted() -> None:
    other = LINE.replace("2F", "Z9")
    drawing = read_text(bare(LINE, other, other))
    assert len(drawing.shapes) == 3
    first, second = drawing.notes
    assert first == "the file was damaged and has been repaired (Invalid handle Z9)"
    assert second == "repaired in the file: 2 × skipped invalid handle in DXF entity"


def test_coordinates_in_another_order_are_put_right() -> None:
    """Some old programs write x, x, y, y."""
    line = tags((0, "LINE"), (8, "HULL"), (10, 1), (11, 30), (20, 2), (21, 45.5))
    drawing = read_text(bare(line))
    assert only(drawing).pieces == (Line((1.0, 2.0), (30.0, 45.5)),)
    assert "has been repaired" in drawing.notes[0]


def test_what_came_before_the_first_section_is_left_out_with_a_note() -> None:
    drawing = read_text(tags((5, "2E")) + bare(LINE))
    assert only(drawing).end == (30.0, 45.5)
    assert "does not begin as a DXF file does" in drawing.notes[0]


@pytest.mark.parametrize("number", ["45,5", "4 5.5", "forty", ""])
def test_a_number_that_cannot_be_read_is_never_guessed(number: str) -> None:
    with pytest.raises(DrawingError) as caught:
        read_text(bare(LINE.replace("45.5", number)))
    assert re.search("is not a number, near line|damaged beyond repair", caught.value.what)


def test_many_kinds_of_damage_make_one_short_note() -> None:
    document = new()
    for _ in range(30):
        document.modelspace().add_line((0, 0), (1, 0))
    text = text_of(document)
    at = text.index("ENTITIES")
    handles = re.findall(r"LINE\n  5\n(\w+)\n", text[at:])
    assert len(handles) == 30
    for handle in handles:
        text = text.replace(f"\n  5\n{handle}\n", f"\n  5\nZ{handle}\n")
    drawing = read_text(text.replace("$INSUNITS\n 70\n4", "$INSUNITS\n 70\n4x"))
    assert len(drawing.shapes) == 30
    assert drawing.unit == "millimetre"
    assert len(drawing.notes) == 2
    assert "30 × skipped invalid handle in DXF entity" in drawing.notes[1]
    assert all(len(note) < 300 for note in drawing.notes)


def test_objects_of_an_unknown_kind_or_without_a_name_are_named() -> None:
    odd = tags((0, "KEELSON"), (10, 1), (20, 2))
    nameless = tags((0, "INSERT"), (8, "HULL"), (10, 0), (20, 0))
    drawing = read_text(bare(LINE, odd, nameless))
    assert len(drawing.shapes) == 1
    (note,) = drawing.notes
    assert "1 KEELSON on '0', 1 reference to no block ('') on 'HULL'" in note


@pytest.mark.parametrize(
    ("kind", "codes", "missing"),
    [
        ("LINE", [10, 20], "end"),
        ("LINE", [11, 21], "start"),
        ("CIRCLE", [10, 20], "radius"),
        ("CIRCLE", [40], "center"),
        ("ARC", [10, 20, 40, 50], "end angle"),
        ("ARC", [10, 20, 40, 51], "start angle"),
    ],
)
def test_what_an_object_has_lost_is_not_made_up(kind: str, codes: list[int], missing: str) -> None:
    entity = tags((0, kind), (5, "2F"), (8, "HULL"), *((code, 9.0) for code in codes))
    with pytest.raises(DrawingError, match=f"{kind} #2F: it cannot be read: its {missing} is miss"):
        read_text(bare(entity))


def test_an_object_that_ezdxf_cannot_make_sense_of_is_an_error() -> None:
    with pytest.raises(DrawingError, match="damaged beyond repair"):
        read_text(bare(tags((0, "LWPOLYLINE"), (100, "AcDbEntity"), (8, "0"), (90, 2))))


def test_a_file_that_has_lost_its_model_space_is_repaired_or_refused() -> None:
    document = new("R2000")
    document.modelspace().add_line((0, 0), (1, 0))
    text = text_of(document)
    lost = re.sub(r"\n  3\nModel\n350\n", "\n  3\nMuddle\n350\n", text)
    assert lost != text
    with pytest.raises(DrawingError, match="damaged beyond repair"):
        read_text(lost)


def test_a_cycle_of_blocks_in_a_damaged_file_is_an_error_too() -> None:
    insert = tags((0, "INSERT"), (8, "0"), (2, "A"), (10, 0), (20, 0))
    block = tags((0, "BLOCK"), (8, "0"), (2, "A"), (70, 0), (10, 0), (20, 0))
    blocks = block + insert + tags((0, "ENDBLK"), (8, "0"))
    text = bare(insert, LINE.replace("2F", "Z9"), blocks=blocks)
    with pytest.raises(DrawingError, match="inserts itself"):
        read_text(text)
    with pytest.raises(DrawingError, match="inserts itself"):
        read_text(text.replace("Z9", "2F"))


def mixed() -> str:
    document = new("R2000")
    space = document.modelspace()
    document.layers.add("HULL")
    document.blocks.new("B").add_circle((0, 0), 3)
    space.add_line((0, 0), (40, 0), dxfattribs={"layer": "HULL"})
    space.add_lwpolyline([(0, 0, 0.5), (9, 0, 0), (9, 9, 1)], format="xyb", close=True)
    space.add_open_spline([(0, 0), (9, 1), (5, 5), (2, 9)])
    space.add_hatch().paths.add_polyline_path([(0, 0), (9, 0), (9, 9)])
    space.add_blockref("B", (5, 5), dxfattribs={"rotation": 30})
    return text_of(document)


@pytest.mark.parametrize("seed", range(40))
def test_whatever_the_damage_there_is_a_drawing_or_a_drawing_error(seed: int) -> None:
    """Lines lost, doubled or spoilt at random; nothing but DrawingError may come of it."""
    dice = random.Random(seed)
    lines = mixed().splitlines()
    start = lines.index("BLOCKS") if seed % 2 else 0
    for _ in range(dice.randint(1, 4)):
        at = dice.randrange(start, len(lines))
        match dice.randrange(5):
            case 0:
                del lines[at]
            case 1:
                lines.insert(at, lines[at])
            case 2:
                lines[at] = dice.choice(["", "x", "-1", "1e308", "nan", "0", "999999999999"])
            case 3:
                lines[at] = lines[at][: len(lines[at]) // 2]
            case 4:
                lines = lines[:at]
        if len(lines) <= start:
            break
    try:
        drawing = read_text("\n".join(lines) + "\n")
    except DrawingError:
        return
    for shape in drawing.shapes:
        for curve in shape.curves:
            assert np.isfinite(curve.flatten(0.1)[0]).all()


# ---- quiet -----------------------------------------------------------------------------------


@pytest.mark.parametrize("text", [bare(LINE), bare(LINE.replace("2F", "Z9"))])
def test_reading_logs_nothing_and_leaves_the_log_as_it_was(
    text: str, caplog: pytest.LogCaptureFixture, capfd: pytest.CaptureFixture[str]
) -> None:
    logger = logging.getLogger("ezdxf")
    before = (logger.level, logger.propagate, list(logger.handlers))
    with caplog.at_level(logging.DEBUG):
        read_text(text)
    assert caplog.records == []
    assert capfd.readouterr() == ("", "")
    assert (logger.level, logger.propagate, list(logger.handlers)) == before


def later_objects(header: str) -> str:
    """A closed polyline and a parabola as later releases write them, under this header."""
    polyline = tags(
        *((0, "LWPOLYLINE"), (100, "AcDbEntity"), (8, "HULL"), (100, "AcDbPolyline"), (90, 3)),
        *((70, 1), (10, 0), (20, 0), (10, 9), (20, 0), (10, 9), (20, 9)),
    )
    parabola = tags(
        *((0, "SPLINE"), (100, "AcDbEntity"), (8, "KEEL"), (100, "AcDbSpline"), (70, 8)),
        *((71, 2), (72, 6), (73, 3), *((40, k) for k in (0, 0, 0, 1, 1, 1))),
        *((10, 0), (20, 0), (10, 1), (20, 2), (10, 2), (20, 0)),
    )
    return bare(polyline, parabola, header=header)


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
@pytest.mark.parametrize(
    ("header", "is_told"),
    [
        ("", True),
        (tags((9, "$INSUNITS"), (70, 4)), True),
        (tags((9, "$ACADVER"), (1, "AC1009"), (9, "$INSUNITS"), (70, 4)), True),
        (tags((9, "$ACADVER"), (1, "AC1015"), (9, "$INSUNITS"), (70, 4)), False),
    ],
)
def test_later_objects_in_a_file_that_states_no_release_or_r12_lose_nothing(
    header: str, is_told: bool, ending: str
) -> None:
    """Read as R12, they would lose their layers, the closing line and the degree."""
    drawing = read_text(later_objects(header).replace("\n", ending).encode())
    assert drawing.layers == ("HULL", "KEEL")
    triangle, parabola = (curve for shape in drawing.shapes for curve in shape.curves)
    assert triangle.is_closed
    assert len(triangle.pieces) == 3
    assert parabola.end == (2.0, 0.0)
    assert drawing.unit_stated == ("INSUNITS" in header)
    assert any("later release than it states" in note for note in drawing.notes) == is_told


@pytest.mark.parametrize("line", ["0.039231", "KEEL", " 10abc", ""])
def test_a_line_where_a_group_code_must_stand_is_never_skipped(line: str) -> None:
    """Skipped, a hatch would lose the radius of an arc and take 1 for it."""
    circle = tags((0, "CIRCLE"), (8, "HULL"), (10, 5), (20, 5), (40, 3))
    assert " 40\n" in circle
    damaged = bare(circle.replace(" 40\n", f"{line}\n"))
    number = damaged.split("\n").index(line) + 1
    with pytest.raises(DrawingError, match=f"must, in line {number}") as caught:
        read_text(damaged)
    assert repr(line.strip()) in caught.value.what


def test_a_layout_that_has_lost_its_block(monkeypatch: pytest.MonkeyPatch) -> None:
    def lost(_: object) -> bool:
        raise AttributeError("no attribute 'dxf'")

    document = new()
    document.modelspace().add_circle((0, 0), 5)
    monkeypatch.setattr("ezdxf.layouts.base.BaseLayout.is_modelspace", property(lost))
    with pytest.raises(DrawingError, match=r"this DXF file is damaged \(no attribute 'dxf'\)"):
        read(document)


def unmarked(text: str) -> str:
    """A file as old programs write it: without the markers of subclasses, from the blocks on."""
    head, mark, rest = text.partition("BLOCKS\n")
    drawn, objects, tail = rest.partition("OBJECTS\n")
    return head + mark + re.sub(r"100\nAcDb\w+\n", "", drawn) + objects + tail


def spread(space: Any) -> None:
    """One of each object that ezdxf alone does not read without its marker, and some others."""
    look = {"layer": "HULL", "color": 3, "linetype": "DASHED"}
    space.add_lwpolyline([(0, 0, 0.3), (9, 0, 0), (9, 9, 0)], format="xyb", close=True).dxf.update(
        look | {"elevation": 4.0, "extrusion": (0, 0, -1)}
    )
    spline = space.add_open_spline([(0, 0), (9, 1), (5, 5), (2, 9)], degree=3, dxfattribs=look)
    spline.set_xdata("HARBOUR", [(1000, "tug"), (1070, 8)])
    space.add_spline([(0, 0), (9, 1), (5, 5)], dxfattribs=look)
    hatch = space.add_hatch(dxfattribs={"layer": "HULL"})
    edges = hatch.paths.add_edge_path()
    edges.add_arc((5, 5), 3, 0, 360)
    edges.add_line((8, 5), (8, 5))
    space.add_mtext("bow", dxfattribs=look)
    space.add_ellipse((0, 0), (9, 0), 0.5, dxfattribs=look)
    space.add_line((0, 0), (9, 0), dxfattribs=look)


@pytest.mark.parametrize("release", RELEASES[1:])
@pytest.mark.parametrize("stated", ["", "AC1009"])
def test_objects_without_subclass_markers_are_read_as_with_them(release: str, stated: str) -> None:
    document = new(release)
    document.appids.add("HARBOUR")
    document.linetypes.add("DASHED", [1.2, 1.0, -0.2])
    spread(document.modelspace())
    text = text_of(document)
    whole = read_text(text)
    bald = unmarked(text)
    if stated:  # what is in no R12 file but in this one goes
        bald = bald.replace(document.dxfversion, stated, 1)
    found = read_text(bald)
    assert found.shapes == whole.shapes
    assert found.writings == whole.writings
    assert "put in the subclass markers that 5 objects lacked" in found.notes


def test_an_r12_file_whose_mending_fails_is_read_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    """Markers of later releases, but no objects of theirs: nothing can be lost."""

    def fails(*_: object, **__: object) -> None:
        raise ValueError("no way")

    marked = LINE.replace("  8\nHULL", "100\nAcDbEntity\n  8\nHULL")
    damaged = bare(marked.replace("2F", "Z9"), header=tags((9, "$ACADVER"), (1, "AC1009")))
    monkeypatch.setattr("ezdxf.recover.read", fails)
    with pytest.raises(DrawingError, match="beyond repair"):
        read_text(damaged)  # as R12 it is damaged too
    monkeypatch.setattr("ezdxf.filemanagement.read", only_r12(ezdxf.filemanagement.read))
    whole = bare(marked, header=tags((9, "$ACADVER"), (1, "AC1009")))
    assert only(read_text(whole)).end == (30.0, 45.5)
    with pytest.raises(DrawingError, match="beyond repair"):
        read_text(later_objects(tags((9, "$ACADVER"), (1, "AC1009"))))


def rectangle(*more: str) -> list[str]:
    """Four lines, 40 × 30 mm, and others."""
    ends = [(0, 0, 40, 0), (40, 0, 40, 30), (40, 30, 0, 30), (0, 30, 0, 0)]
    return [tags((0, "LINE"), (8, "0"), *zip((10, 20, 11, 21), e, strict=True)) for e in ends] + [
        *more
    ]


def test_an_r12_file_with_objects_of_later_releases_behind_its_lines() -> None:
    dictionary = tags((0, "DICTIONARY"), (5, "C"), (100, "AcDbDictionary"), (281, 1))
    objects = tags((0, "SECTION"), (2, "OBJECTS")) + dictionary + tags((0, "ENDSEC"), (0, "EOF"))
    text = bare(*rectangle(), header=tags((9, "$ACADVER"), (1, "AC1009")))
    drawing = read_text(text.removesuffix("  0\nEOF\n") + objects)
    assert outline_of(drawing).polygons.area == 1200.0


def test_a_stub_of_a_few_thousandths_at_a_corner_does_no_harm() -> None:
    stub = tags((0, "LINE"), (8, "0"), (10, 40), (20, 30), (11, 40.003), (21, 30.004))
    assert outline_of(read_text(bare(*rectangle(stub)))).polygons.area == pytest.approx(
        1200.0, abs=0.01
    )


@pytest.mark.parametrize("header", ["", tags((9, "$ACADVER"), (1, "AC1009"))])
def test_an_object_that_is_never_cut_does_not_spoil_the_file(header: str) -> None:
    """A viewport of R12 without the data that usually comes with it."""
    viewport = tags((0, "VIEWPORT"), (8, "0"), (67, 1), (10, 5), (20, 5), (40, 9), (41, 9))
    drawing = read_text(bare(viewport, LINE, viewport, header=header))
    assert only(drawing).end == (30.0, 45.5)
    assert drawing.notes == ("the file could only be read without its 2 VIEWPORT",)


def only_r12(read: Callable[[Any], Any]) -> Callable[[Any], Any]:
    """A reader that gives up on releases after R12."""

    def reading(stream: Any) -> Any:
        text = stream.getvalue()
        if "AC1015" in text:
            raise ValueError("no way")
        return read(stream)

    return reading
