"""Reading SVG: files and objects that are refused, each with what, where and what to do."""

from __future__ import annotations

import gzip
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from silhouette3d.base.limits import FILE_MB, NESTING, OBJECTS
from silhouette3d.drawing.svg.reader import read_svg
from silhouette3d.errors import DrawingError
from tests.support.svg_drawings import PAGE, SPACES, area, drawn, drawn_from, only_curve

SPOT = '<circle r="1"/>'
HEAD = f"<svg {SPACES} {PAGE}>"


def refused(data: bytes | str) -> DrawingError:
    """The error that a file with these bytes raises; it always says what to do."""
    with pytest.raises(DrawingError) as caught:
        drawn_from(data.encode() if isinstance(data, str) else data)
    assert "tug.svg" in caught.value.where
    assert caught.value.todo
    return caught.value


# --- The file ------------------------------------------------------------------


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(DrawingError, match=r"tug\.svg: there is no such file\. Check the name"):
        read_svg(tmp_path / "tug.svg")


def test_a_directory(tmp_path: Path) -> None:
    with pytest.raises(DrawingError, match=r"this is a directory\. Give the SVG file in it"):
        read_svg(tmp_path)


def test_a_name_that_cannot_be_opened(tmp_path: Path) -> None:
    with pytest.raises(DrawingError, match="the file cannot be opened"):
        read_svg(tmp_path / ("x" * 300 + ".svg"))  # longer than file systems allow


@pytest.mark.parametrize("data", [b"", b" \n\t"])
def test_an_empty_file(data: bytes) -> None:
    assert refused(data).what == "the file is empty"


@pytest.mark.parametrize(
    ("data", "found"),
    [
        ("<html><body/></html>", "html"),
        ('<html xmlns="http://www.w3.org/1999/xhtml"/>', "html"),
        ('<svg xmlns="urn:something-else"/>', "svg"),
    ],
)
def test_another_kind_of_xml(data: str, found: str) -> None:
    assert refused(data).what == f"this is not an SVG drawing but an XML file of <{found}>"


def test_svg_without_a_namespace_is_read() -> None:
    assert drawn_from(b'<svg width="9mm" height="9mm"><circle r="1"/></svg>').shapes


@pytest.mark.parametrize(
    ("data", "place", "reason"),
    [
        (HEAD + "\n  <g></svg>", "line 2, column 8", "mismatched tag"),
        (HEAD + "\n<path d=5/>", "line 2, column 9", "not well-formed (invalid token)"),
        (HEAD, "line 1, column", "no element found"),
        ("0\nSECTION\n", "line 1, column 1", "syntax error"),
        (b"\x89PNG\r\n", "line 1, column 1", "not well-formed (invalid token)"),
        ("<svg><use xlink:href='#a'/></svg>", "line 1, column 6", "unbound prefix"),
        (HEAD + "</svg><svg/>", "line 1, column", "junk after document element"),
        (HEAD.encode() + b"\xff</svg>", "line 1, column", "not well-formed (invalid token)"),
        (HEAD + "&undefined;</svg>", "line 1, column", "undefined entity"),
    ],
)
def test_malformed_xml_says_where(data: bytes | str, place: str, reason: str) -> None:
    error = refused(data)
    assert error.what == f"this is not well-formed XML: {reason}"
    assert place in error.where


@pytest.mark.parametrize("encoding", ["no-such-encoding", "gb2312"])
def test_an_encoding_that_cannot_be_read(encoding: str) -> None:
    error = refused(f'<?xml version="1.0" encoding="{encoding}"?>{HEAD}</svg>')
    assert error.what.startswith("its text cannot be read")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "iso-8859-1", "windows-1252"])
def test_encodings_that_can_be_read(encoding: str) -> None:
    name = encoding.removesuffix("-sig")
    text = f'<?xml version="1.0" encoding="{name}"?>{HEAD}<g id="Löschkran">{SPOT}</g></svg>'
    assert drawn_from(text.encode(encoding)).layers == ("Löschkran",)


# --- Packed files ----------------------------------------------------------------


def test_a_packed_file_is_read() -> None:
    packed = gzip.compress(f'{HEAD}<rect width="3" height="4"/></svg>'.encode())
    assert area(only_curve(drawn_from(packed))) == pytest.approx(-12.0)


def test_damaged_packed_files() -> None:
    packed = gzip.compress(f"{HEAD}{SPOT * 50}</svg>".encode())
    assert refused(packed[:-9]).what == "the packed drawing ends early"
    assert refused(packed[:20] + b"\0\0\0\0" + packed[24:]).what.startswith(
        "the packed drawing is damaged"
    )
    assert refused(packed[:4]).what == "the packed drawing ends early"


def test_a_file_that_unpacks_to_too_much() -> None:
    bomb = gzip.compress(b"<svg>" + b" " * (FILE_MB.usual * 1024**2 + 1))
    assert len(bomb) < 200_000
    assert refused(bomb).what == "the file holds more than 32 MB"


def test_a_file_that_is_too_large(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(FILE_MB.variable, "1")
    assert refused(HEAD + " " * 1024**2 + "</svg>").what == "the file holds more than 1 MB"


# --- Entities and other files ------------------------------------------------------

LAUGHS = "".join(f'<!ENTITY l{i} "{f"&l{i - 1};" * 10}">' for i in range(1, 10))


@pytest.mark.parametrize(
    "doctype",
    [
        f'<!DOCTYPE svg [<!ENTITY l0 "ha">{LAUGHS}]>',
        '<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/hostname">]>',
        '<!DOCTYPE svg [<!ENTITY a PUBLIC "x" "http://127.0.0.1:9/a">]>',
        '<!DOCTYPE svg [<!ENTITY % a SYSTEM "file:///etc/hostname"> %a;]>',
        '<!DOCTYPE svg [<!ENTITY b "harmless"><!ENTITY a "&b;">]>',
        '<!DOCTYPE svg [<!ENTITY b "harmless"><!ENTITY a "&#38;b;">]>',
        '<!DOCTYPE svg [<!ENTITY a "<g/>">]>',
        '<!DOCTYPE svg [<!ENTITY a "&#60;g/>">]>',
        '<!DOCTYPE svg [<!ENTITY a SYSTEM "a.png" NDATA png>]>',
        '<!DOCTYPE svg [<!ENTITY % a "harmless">]>',
        '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "svg11.dtd">',
    ],
)
def test_entities_are_refused(doctype: str) -> None:
    error = refused(f'{doctype}<svg width="1mm" height="1mm"><text>&l9;&a;</text></svg>')
    assert error.what.startswith("it uses an XML entity")
    assert "line 1" in error.where


@pytest.mark.parametrize(
    "identifier", ['SYSTEM "file:///etc/hostname"', 'PUBLIC "mine" "http://127.0.0.1:9/a.dtd"']
)
def test_document_types_in_other_files_are_refused(identifier: str) -> None:
    error = refused(f"<!DOCTYPE svg {identifier}>{HEAD}</svg>")
    assert error.what.startswith("its document type refers to another file")


def test_the_document_type_of_svg_1_1_is_accepted_but_not_fetched() -> None:
    # SVG 1.1 (Second Edition), §1.3: its public and system identifiers. Port 9 of this machine
    # answers nobody, so fetching would fail.
    for system in ("http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd", "http://127.0.0.1:9/a.dtd"):
        doctype = f'<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "{system}">'
        assert len(drawn_from(f"{doctype}{HEAD}{SPOT}</svg>".encode()).shapes) == 1
        error = refused(f"{doctype}{HEAD}<text>&a;</text></svg>")
        assert error.what.startswith("it uses an XML entity (a)")


def test_the_five_entities_of_xml_itself_are_read() -> None:
    assert drawn(f'<g id="a&amp;b&#x33;">{SPOT}</g>').layers == ("a&b3",)


# --- Bounds ------------------------------------------------------------------------


def test_elements_nested_too_deep() -> None:
    deep = NESTING.usual
    inside = deep - 2  # besides <svg> and <circle>
    assert len(drawn("<g>" * inside + SPOT + "</g>" * inside).shapes) == 1
    error = refused(HEAD + "<g>" * (inside + 1) + SPOT + "</g>" * (inside + 1) + "</svg>")
    assert error.what == f"elements lie in each other more than {deep} deep"
    refused(HEAD + "<g>" * 200_000)  # before Python's own stack would end


@pytest.mark.parametrize(
    "body",
    [
        '<use id="a" href="#a"/>',
        '<g id="a"><use href="#a"/></g>',
        '<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>',
        '<defs><symbol id="a"><use href="#a"/></symbol></defs><use href="#a"/>',
    ],
)
def test_a_use_of_itself(body: str) -> None:
    error = refused(f"{HEAD}{body}</svg>")
    assert ", which it is part of" in error.what
    assert error.what.startswith("use ")


def test_a_long_chain_of_uses() -> None:
    chain = "".join(f'<use id="u{i}" href="#u{i + 1}"/>' for i in range(300))
    error = refused(f'{HEAD}<defs>{chain}<rect id="u300"/></defs><use href="#u0"/></svg>')
    assert "more than 100 groups and uses deep" in error.what


def test_uses_that_multiply(monkeypatch: pytest.MonkeyPatch) -> None:
    # Ten to the ninth circles in a few hundred bytes.
    levels = "".join(
        f'<g id="g{i}">{f"<use href={chr(34)}#g{i + 1}{chr(34)}/>" * 10}</g>' for i in range(9)
    )
    text = f'{HEAD}<defs>{levels}<circle id="g9" r="1"/></defs><use href="#g0"/></svg>'
    monkeypatch.setenv(OBJECTS.variable, "1000")  # the bound itself takes a while to reach
    assert "here the drawing goes beyond 1,000 objects and pieces" in refused(text).what
    # A path counts by its pieces.
    path = f'{HEAD}<path d="M0 0{"h1" * 1001}"/></svg>'
    assert "here the drawing goes beyond 1,000 objects and pieces" in refused(path).what


# --- Objects -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("element", "what"),
    [
        (
            '<path id="hull" d="M0 0L10 0 foo L5 5"/>',
            "path 'hull': its path data cannot be read near character 11, 'M0 0L10 0 foo L5 5'",
        ),
        ('<path id="hull" d="L5 5"/>', "path 'hull': its path data cannot be read"),
        ('<path id="hull" d="Z"/>', "path 'hull': its path data cannot be read"),
        ('<path id="hull" d="h5"/>', "path 'hull': its path data cannot be read"),
        ('<path id="hull" d="M"/>', "path 'hull': its path data cannot be read"),
        ('<path id="hull" d="M5"/>', "path 'hull': its path data cannot be read"),
        ('<path id="hull" d="M0 0L5"/>', "path 'hull': its path data cannot be read"),
        ('<path id="hull" d="M0 0L5,,5"/>', "path 'hull': its path data cannot be read"),
        ('<path id="hull" d="M0 0L5 5,"/>', "path 'hull': its path data cannot be read"),
        ('<path id="hull" d="M,0 0"/>', "path 'hull': its path data cannot be read"),
        ('<path id="hull" d="M0 0Z5 5"/>', "path 'hull': its path data cannot be read"),
        ('<path id="hull" d="M0 0B5 5"/>', "path 'hull': its path data cannot be read"),
        ('<path id="hull" d="M0 0h"/>', "path 'hull': its path data cannot be read"),
        ('<path id="hull" d="M0 0L"/>', "path 'hull': its path data cannot be read"),
        ('<path id="hull" d="M0 0C1 1 2 2"/>', "path 'hull': its path data cannot be read"),
        ('<path id="hull" d="M0 0C1 1 2 2z"/>', "path 'hull': its path data cannot be read"),
        ('<path id="hull" d="M0 0A5 5 0 2 0 9 9"/>', "path 'hull': its path data cannot be read"),
        ('<path id="hull" d="M0 0A5 5 0 0 0 9"/>', "path 'hull': its path data cannot be read"),
        ('<path id="hull" d="M0 0L nan 5"/>', "path 'hull': its path data cannot be read"),
        ('<path id="hull" d="M0 0LInfinity 5"/>', "path 'hull': its path data cannot be read"),
        ('<rect id="r" width="-5" height="5"/>', "rect 'r': width is negative (-5)"),
        ('<rect id="r" width="5" height="5" rx="-1"/>', "rect 'r': rx is negative (-1)"),
        ('<circle id="c" r="-5"/>', "circle 'c': r is negative (-5)"),
        ('<circle id="c" r="wide"/>', "circle 'c': r: 'wide' is not a length"),
        ('<circle id="c" r="NaN"/>', "circle 'c': r: 'NaN' is not a length"),
        ('<circle id="c" r="1e999"/>', "circle 'c': r: '1e999' is larger than any number"),
        (
            '<circle id="c" r="5em"/>',
            "circle 'c': r: '5em' has a unit that depends on a font or a screen",
        ),
        (
            '<circle id="c" r="5vw"/>',
            "circle 'c': r: '5vw' has a unit that depends on a font or a screen",
        ),
        (
            '<polygon id="p" points="0 0 1 1 2"/>',
            "polygon 'p': its last point has one coordinate only (2)",
        ),
        ('<polygon id="p" points="0 0 1 x"/>', "polygon 'p': ' x' is not a number"),
        ('<polygon id="p" points=",0 0"/>', "polygon 'p': ',0 0' is not a number"),
        ('<polygon id="p" points="0,,0"/>', "polygon 'p': ',,0' is not a number"),
        (
            '<g id="g" transform="turn(5)"/>',
            "g 'g': its transform holds 'turn(5)', which is not read",
        ),
        (
            '<g id="g" transform="rotate(5,6)"/>',
            "g 'g': its transform holds 'rotate(5,6)', which is not read",
        ),
        (
            '<g id="g" transform="matrix(1 2 3)"/>',
            "g 'g': its transform holds 'matrix(1 2 3)', which is not read",
        ),
        ('<g id="g" transform="scale(2) foo"/>', "g 'g': its transform cannot be read at ' foo'"),
        (
            '<g id="g" transform="translate(5mm)"/>',
            "g 'g': its transform moves it by '5mm', which is not read",
        ),
        (
            '<g id="g" transform="rotate(5em)"/>',
            "g 'g': its transform has an angle of '5em', which is not read",
        ),
        (
            '<g id="g" style="transform:rotate(5deg);transform-box:fill-box"/>',
            "g 'g': its transform-box is 'fill-box', which is not read",
        ),
        (
            '<g id="g" transform="rotate(5)" transform-origin="5em 0"/>',
            "g 'g': transform-origin: '5em' has a unit that depends on a font or a screen",
        ),
        ('<rect id="r" width="30mmx" height="5"/>', "rect 'r': width: '30mmx': 'mmx' is no unit"),
        (
            '<g id="g" style="scale:2"/>',
            "g 'g': it is moved by the property 'scale', which is not read",
        ),
        (
            '<svg id="s" width="5" height="0" viewBox="0 0 5 5"/>',
            "svg 's': it has a viewBox but no width and height",
        ),
        (
            '<svg id="s" viewBox="0 0 5"/>',
            "svg 's': its viewBox '0 0 5' is not x, y, width and height, both above nought",
        ),
        ('<svg id="s" viewBox="0 0 5 0"/>', "svg 's': its viewBox '0 0 5 0' is not"),
        (
            '<svg id="s" viewBox="0 0 5 5" preserveAspectRatio="left"/>',
            "svg 's': its preserveAspectRatio 'left' is not known",
        ),
    ],
)
def test_objects_that_cannot_be_read_are_named(element: str, what: str) -> None:
    error = refused(f"{HEAD}\n{SPOT}\n{element}</svg>")
    assert error.what.startswith(what)
    assert error.where.endswith("line 3")


@pytest.mark.parametrize(
    "element",
    [
        '<rect id="far" x="1000001" width="5" height="5"/>',
        '<circle id="far" cx="999999.5" r="600"/>',
        '<circle id="far" r="1e300"/>',
        '<path id="far" d="M0 0L1e999 0"/>',
        '<path id="far" d="M0 0C0 0 2e6 0 5 5"/>',
        '<path id="far" d="M0 0A1e300 1e300 0 0 0 1e250 3"/>',
        '<path id="far" transform="scale(1e200)" d="M0 0L5 5"/>',
        '<path id="far" transform="scale(1e200) scale(1e200)" d="M0 0L5 5"/>',
        '<path id="far" transform="skewX(90)" d="M0 0L5 5"/>',
        '<path id="far" transform="rotate(1e999)" d="M0 0L5 5"/>',
    ],
)
def test_coordinates_beyond_a_kilometre_are_refused(element: str) -> None:
    error = refused(f"{HEAD}{element}</svg>")
    assert " 'far': " in error.what


def test_an_arc_of_a_huge_radius_is_read_where_it_is_near() -> None:
    curve = only_curve(drawn('<path d="M0 0A1e8 1e8 0 0 1 90 0"/>'))
    assert curve.end == pytest.approx((90.0, 100.0), abs=1e-6)  # 1e8 × 1e-15, and some


@pytest.mark.parametrize(
    ("page", "what"),
    [
        ('width="0" height="5mm"', "the page: its width is '0', which leaves no page"),
        ('width="5mm" height="-5mm"', "the page: its height is '-5mm', which leaves no page"),
        ('width="5emm"', "the page: '5emm': 'emm' is no unit"),
        ('width="wide"', "the page: 'wide' is not a length"),
        ('viewBox="0 0 0 0"', "the page: its viewBox '0 0 0 0' is not"),
        ('viewBox="0 0 1e999 5"', "the page: '1e999' is larger than any number"),
        ('viewBox="0 0 5 5" preserveAspectRatio="xmidymid"', "the page: its preserveAspectRatio"),
    ],
)
def test_pages_that_cannot_be_read(page: str, what: str) -> None:
    assert refused(f"<svg {SPACES} {page}>{SPOT}</svg>").what.startswith(what)


def test_percentages_of_a_page_without_size() -> None:
    error = refused(f'<svg {SPACES}><rect width="50%" height="5"/></svg>')
    assert "width: '50%' is a part of a page whose size is not given" in error.what


def test_a_transform_of_the_whole_drawing_is_refused() -> None:
    # It would turn about the middle of the page, and in the unit around it (SVG 2, §8.5).
    error = refused(f'<svg {SPACES} {PAGE} transform="rotate(9)">{SPOT}</svg>')
    assert "the transform of the whole drawing is not read" in error.what


# --- Anything at all --------------------------------------------------------------------

WHOLE = (
    f'{HEAD}<style>.a{{fill:none}}</style><g id="OUTLINE" transform="rotate(5) scale(2)">'
    '<path class="a" d="M0 0C1 1 2 2 3 0A5 5 0 0 1 9 9Z" style="stroke:red"/>'
    '<use href="#r" x="5"/></g><defs><rect id="r" width="3" height="4" rx="1"/></defs></svg>'
).encode()


@given(
    st.integers(0, len(WHOLE)),
    st.integers(0, 12),
    st.one_of(
        st.binary(max_size=6), st.text("<>/\"'&;#:{}()%eE-.0159 amx", max_size=6).map(str.encode)
    ),
)
@example(0, len(WHOLE), b"")
def test_any_change_to_a_file_is_read_or_refused(at: int, left_out: int, put_in: bytes) -> None:
    try:
        drawing = drawn_from(WHOLE[:at] + put_in + WHOLE[at + left_out :])
    except DrawingError as error:
        told = str(error)
    else:
        told = " ".join([drawing.unit, *drawing.notes])
    assert told
