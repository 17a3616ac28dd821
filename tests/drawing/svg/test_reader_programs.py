"""Reading SVG: what drawing programs add around the same outline changes nothing."""

from __future__ import annotations

import gzip

import pytest

from silhouette3d.drawing.outline.outline import outline_of
from tests.support.svg_drawings import drawn_from

PAGE = 'width="40mm" height="40mm" viewBox="0 0 40 40"'
SVG = 'xmlns="http://www.w3.org/2000/svg"'
HULL = '<path id="hull" d="M5 5H35V35H5Z"/>'
PLAIN = f"<svg {SVG} {PAGE}>{HULL}</svg>"
DTD = (
    '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" '
    '"http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd" [{}]>'
)
RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"


def page(body: str, more: str = "") -> str:
    return f"<svg {SVG} {PAGE} {more}>{body}</svg>"


@pytest.mark.parametrize(
    "text",
    [
        # every element with an id, some, none, an empty one, one that is there twice
        PLAIN,
        page(f'<g id="g1">{HULL}</g>', 'id="svg1"'),
        page(f"<g>{HULL}</g>", 'id="svg1"'),
        page('<rect x="5" y="5" width="30" height="30"/>'),
        page('<path id="" d="M5 5H35V35H5Z"/>', 'id=""'),
        page(f'<g id="hull">{HULL}</g>', 'id="hull"'),
        # before and around it
        f'<?xml version="1.0" standalone="no"?>\n<!-- drawn by hand -->\n{PLAIN}\n<!-- end -->\n',
        f"<?xml version='1.1'?>{PLAIN}".replace("1.1", "1.0"),
        f"<?cut yes?>{PLAIN}",
        page(f"<!-- a --><?cut yes?>{HULL}<!-- <path d='M0 0h9v9z'/> -->"),
        page(f"<![CDATA[ <path d='M0 0h9v9z'/> ]]>{HULL}text"),
        # document types and entities of plain text
        DTD.format("") + PLAIN,
        DTD.format('<!ENTITY svg "http://www.w3.org/2000/svg">')
        + PLAIN.replace("http://www.w3.org/2000/svg", "&svg;"),
        '<!DOCTYPE svg [<!ENTITY d "M5 5H35V35H5Z"><!ENTITY unused "">]>'
        + PLAIN.replace("M5 5H35V35H5Z", "&d;"),
        '<!DOCTYPE svg SYSTEM "http://www.w3.org/TR/2001/REC-SVG-20010904/DTD/svg10.dtd">' + PLAIN,
        '<!DOCTYPE svg [<!ATTLIST path d CDATA "M5 5H35V35H5Z"><!-- a --><?b c?>]>'
        + page("<path/>"),
        # namespaces: SVG's with a prefix, others in between, none where SVG's was
        f'<s:svg xmlns:s="http://www.w3.org/2000/svg" {PAGE}><s:path d="M5 5H35V35H5Z"/></s:svg>',
        f'<s:svg xmlns:s="http://www.w3.org/2000/svg" {PAGE}><s:path d="M5 5H35V35H5Z"/>'
        '<path d="M0 0H9V9Z"/></s:svg>',
        page(f'<g xmlns="" id="g"><path d="M0 0H9V9Z"/></g>{HULL}'),
        page(f'<k:g xmlns:k="urn:k"><path d="M0 0H9V9Z"/></k:g>{HULL}'),
        page(f'<g k:d="M0 0" k:transform="none" k:style="x:y">{HULL}</g>', 'xmlns:k="urn:k"'),
        f"<svg {PAGE}>{HULL}</svg>",
        # what says something about the drawing
        page(
            f'<title>a</title><desc>b</desc><metadata id="m"><r:RDF xmlns:r="{RDF}">'
            f'<r:Description r:about=""/><rect width="9" height="9"/></r:RDF></metadata>{HULL}'
        ),
        page(f'<k:namedview xmlns:k="urn:k" id="base"><k:grid/></k:namedview>{HULL}'),
        page(f"<script>/* <![CDATA[ */ if (1 < 2) {{}} /* ]]> */</script>{HULL}"),
        page(f'<view id="v" viewBox="0 0 9 9"/>{HULL}'),
        # groups and definitions with nothing, and of no effect
        page(f'<g/><g id="empty"><g/></g><defs/><defs id="d"><defs/></defs><symbol/>{HULL}<a/>'),
        page(f'<defs><g id="e"/></defs><use href="#e"/>{HULL}'),
        page(f'<a href="http://a.b/"><switch><g>{HULL}</g></switch></a>'),
        page(f"<svg><svg>{HULL}</svg></svg>"),
        page(f'<g transform="translate(1,2)"><g transform="translate(-1 -2)">{HULL}</g></g>'),
        page(f'<g transform="">{HULL}</g>'),
        page(f'<g transform="scale(2)"><g style="transform: scale(.5)">{HULL}</g></g>'),
        page(f'<symbol id="s" viewBox="0 0 40 40">{HULL}</symbol><use href="#s"/>'),
        page(
            '<clipPath id="c"><rect width="40" height="40"/></clipPath>'
            f'<g clip-path="url(#c)">{HULL}</g>'
        ),
        # styles: none, foreign properties, other languages, rules for nothing here
        page(f"<style/><style></style><style>  </style>{HULL}"),
        page(f'<style type="text/css">@charset "utf-8"; .unused {{ fill: none }}</style>{HULL}'),
        page(f"<style>@media screen {{ .unused {{ fill: none }} }}</style>{HULL}"),
        page(
            f"<style>@namespace s url(http://www.w3.org/2000/svg); s|g{{fill:none}}</style>{HULL}"
        ),
        page(f"<style>@font-face {{ font-family: a; src: url(a.woff) }}</style>{HULL}"),
        page(f'<g style="-k-font: a; mix-blend-mode: normal; isolation: auto;; ">{HULL}</g>'),
        page(f'<g class="">{HULL}</g>', 'class="a  b" style="" xml:space="preserve"'),
        page(f'<g style="fill:#000000;fill-opacity:1;stroke:none;opacity:1">{HULL}</g>'),
        page(f'<g translate="no" rotate="9" scale="3" zoom="1">{HULL}</g>'),
        page(HULL.replace("M5 5", " M 5,5 "), 'version="1.1" baseProfile="tiny" x="9" y="9"'),
    ],
)
def test_the_same_square(text: str) -> None:
    for data in (
        text.encode(),
        b"\xef\xbb\xbf" + text.encode(),
        text.encode("utf-16"),
        gzip.compress(text.encode()),
        text.replace("\n", "\r\n").encode(),
    ):
        drawing = drawn_from(data)
        assert outline_of(drawing).polygons.area == pytest.approx(900.0)
        assert drawing.notes == ()
        assert drawing.page == pytest.approx((0, 0, 40, 40))


@pytest.mark.parametrize(
    ("text", "note"),
    [
        (page(f'<style media="print">path{{fill:none}}</style>{HULL}'), "media 'print'"),
        (page(f'<style type="text/x">path{{fill:none}}</style>{HULL}'), "type 'text/x'"),
        (page(f"<style>@supports (a:b) {{}}</style>{HULL}"), "@supports"),
        (page(f"{HULL}<image/><foreignObject/><text>a</text>"), "1 image, 1 foreignObject"),
        (page(f'<filter id="f"/><g filter="url(#f)">{HULL}</g>'), "1 object without the filter"),
        (page(f'<marker id="m"/><g marker-end="url(#m)">{HULL}</g>'), "the markers of 1 object"),
        (page(f'<marker id="m"/><g style="marker:url(#m)">{HULL}</g>'), "the markers of 1 object"),
        (
            page(f'<switch><rect systemLanguage="de" width="9" height="9"/>{HULL}</switch>'),
            "1 switch of languages",
        ),
        (page(f'<rect systemLanguage="de" width="9" height="9"/>{HULL}'), "1 hidden object"),
    ],
)
def test_what_is_passed_over_is_told(text: str, note: str) -> None:
    drawing = drawn_from(text.encode())
    assert outline_of(drawing).polygons.area == pytest.approx(900.0)
    assert any(note in told for told in drawing.notes)


def test_an_origin_of_transforms() -> None:
    """A quarter turn about its own middle (CSS Transforms Level 1, §6)."""
    bar = '<rect x="5" y="15" width="30" height="10" {}/>'
    for look in (
        'transform="rotate(90)" transform-origin="20 20"',
        'transform="rotate(90)" transform-origin="50% 50%"',
        'transform="rotate(90)" transform-origin="center"',
        'style="transform: rotate(.25turn); transform-origin: 20px 20px 0"',
        'style="transform: rotate(100grad); transform-origin: center center"',
        'transform="rotate(90, 20, 20)"',
        'style="transform:translate(20px, 20px) rotate(90deg) translateX(-20px) translateY(-20px)"',
    ):
        bounds = outline_of(drawn_from(page(bar.format(look)).encode())).polygons.bounds
        assert bounds == pytest.approx((15, 5, 25, 35)), look
    for look, place in (("right bottom", (40, 0)), ("bottom", (20, 0)), ("left", (0, 20))):
        text = page(bar.format(f'transform="rotate(180)" transform-origin="{look}"'))
        left, bottom, right, top = outline_of(drawn_from(text.encode())).polygons.bounds
        assert ((left + right) / 2, (bottom + top) / 2) == pytest.approx(
            (2 * place[0] - 20, 2 * place[1] - 20)
        ), look


def test_a_transform_of_a_style_sheet_without_units_is_none() -> None:
    """CSS Transforms Level 1, §8: but for matrices and scales, it is an invalid declaration."""
    text = page(HULL.replace("/>", ' style="transform: rotate(45)"/>'))
    assert outline_of(drawn_from(text.encode())).polygons.bounds == pytest.approx((5, 5, 35, 35))
    text = page(HULL.replace("/>", ' style="transform: scaleX(.5) matrix(1 0 0 1 10 0)"/>'))
    assert outline_of(drawn_from(text.encode())).polygons.bounds == pytest.approx(
        (7.5, 5, 22.5, 35)
    )
