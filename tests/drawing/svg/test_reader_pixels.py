"""Reading SVG beside a browser: what Chromium paints has the area of the outline that is read.

Where both are wrong in the same way this sees nothing; the other tests of SVG have formulas.
"""

from __future__ import annotations

from random import Random
from typing import TYPE_CHECKING

from silhouette3d.drawing.outline.outline import Outline, outline_of
from tests.oracles.pixels import PIXELS, paint
from tests.support.programs import PAGE, written
from tests.support.svg_drawings import SPACES, drawn_from

if TYPE_CHECKING:
    from playwright.sync_api import Browser

SIZE = 'width="40mm" height="40mm" viewBox="0 0 40 40"'
BOX = '<rect x="5" y="5" width="30" height="30"/>'
WIDE = '<rect width="40" height="40"/>'
KEPT = '<defs><path id="r" d="M5 5H35V20Q20 35 5 20Z"/></defs>'
STAR = '<path {} d="M20 3L30 35 4 14H36L10 35Z"/>'

PAGES = {
    "a default namespace, and one with a prefix": f"<s:svg xmlns:s='http://www.w3.org/2000/svg' "
    f"{SIZE}><s:rect x='5' y='5' width='30' height='30'/>{WIDE}</s:svg>",
    "an attribute that the document type gives": "<!DOCTYPE svg [<!ATTLIST rect x CDATA '5'>]>"
    f'<svg {SPACES} {SIZE}><rect y="5" width="30" height="30"/></svg>',
    "a page without viewBox": f'<svg {SPACES} width="40mm" height="40mm">'
    '<rect x="1mm" y=".5in" width="2pc" height="40Q"/></svg>',
    "a page stretched": f'<svg {SPACES} width="40mm" height="40mm" viewBox="0 0 20 40" '
    'preserveAspectRatio="none"><circle cx="10" cy="20" r="5"/></svg>',
}

BODIES = {
    # fill rules
    "a star": STAR.format(""),
    "a star, even-odd": STAR.format('fill-rule="evenodd"'),
    "an unknown rule": STAR.format('fill-rule="odd"'),
    "open sub-paths": '<path d="M5 5H35V35M10 10V20H20"/>',
    "a move after closing": '<path d="M5 5h10v10h-10z m15 15 h10v10h-10z l5 -5 v5"/>',
    "flags run together": '<path d="M10 20a10 10 0 1120 0 10 10 0 11-20 0z"/>',
    "arcs too small": '<path d="M10 20A1 .5 30 0 1 30 20Z"/>',
    # shapes
    "one radius": '<rect x="5" y="5" width="30" height="20" ry="25"/>',
    "radii in parts of the page": '<rect x="5" y="5" width="30" height="20" rx="25%"/>',
    "a circle in parts of the page": '<circle cx="50%" cy="50%" r="25%"/>',
    "an ellipse with one radius": '<ellipse cx="20" cy="20" rx="10"/>',
    # what is seen
    "no such paint": f'<rect fill="url(#no)" width="40" height="40"/>{BOX}',
    "no such colour": f'<g fill="none"><rect fill="wine" width="40" height="40"/></g>{BOX}',
    "no such colour in a style": f'<rect fill="none" style="fill:wine" width="9" height="9"/>{BOX}',
    "an empty gradient": '<linearGradient id="g"/>'
    f'<rect fill="url(#g)" width="40" height="9"/>{BOX}',
    "a gradient of a gradient": '<linearGradient id="h"><stop/></linearGradient><linearGradient '
    'id="g" xlink:href="#h"/><rect fill="url(#g)" x="5" y="5" width="30" height="30"/>',
    "seen through": f'<rect fill="rgb(0 0 0 / 0%)" width="40" height="40"/>{BOX}',
    "variables": f'<style>svg{{--c:none}}</style><rect style="fill:var(--c)" width="40" '
    f'height="40"/><rect style="fill:var(--d)" width="20" height="9"/>{BOX}',
    "a visible child": f'<g visibility="hidden">{WIDE}<g visibility="visible">{BOX}</g></g>',
    "used from where it is not displayed": f'<g display="none">{KEPT}</g><use href="#r"/>',
    "used twice in other looks": f'{KEPT}<g fill="none"><use href="#r"/><use href="#r" fill="red" '
    'transform="scale(.5)"/></g>',
    # style sheets
    "rules": "<style>.a.b,rect:not(.k)[x='0']{fill:none}</style>"
    f'<rect class="a  b" width="40" height="40"/><rect x="0" width="40" height="40"/>{BOX}',
    "importance": "<style>.q{fill:none!important}</style>"
    f'<rect class="q" style="fill:red" width="40" height="40"/>{BOX}',
    "media": "<style>@media screen{.q{fill:none}} @media print{rect{fill:none}}</style>"
    f'<style media="print">rect{{fill:none}}</style><rect class="q" width="9" height="9"/>{BOX}',
    "prefixes": "<style>@namespace s url(http://www.w3.org/2000/svg);s|rect.q{fill:none}</style>"
    f'<rect class="q" width="40" height="40"/>{BOX}',
    "geometry": '<rect style="x:5px;y:5px;width:30px;height:20px"/>'
    "<path style=\"d:path('M5 30H35V35Z')\"/>",
    # transforms
    "an origin": '<rect x="5" y="15" width="30" height="10" transform="rotate(45)" '
    'transform-origin="20 20"/>',
    "a style with units": '<rect width="9" height="9" style="transform:translate(20px,5px) '
    'rotate(.125turn) scaleX(2)"/>',
    "a style without units": '<rect x="5" y="5" width="9" height="9" style="transform:rotate(9)"/>',
    "every level": '<g transform="translate(20,20) rotate(30)"><g transform="skewX(20)">'
    '<ellipse rx="9" ry="4" transform="matrix(1 .2 -.3 1 0 0)"/></g></g>',
    # inner pages
    "an inner page": '<svg x="10" y="10" width="10" height="10"><circle r="8"/></svg>',
    "an inner page that overflows": '<svg x="10" y="10" width="10" height="10" '
    'overflow="visible"><circle r="8"/></svg>',
    "an inner page, sliced": '<svg x="5" y="5" width="10" height="20" viewBox="0 0 10 10" '
    'preserveAspectRatio="xMidYMid slice"><circle cx="5" cy="5" r="5"/></svg>',
    "an inner page, turned": '<svg x="10" y="10" width="10" height="10" transform="rotate(10)">'
    '<circle r="8"/></svg>',
    "a symbol": '<symbol id="s" viewBox="0 0 10 10"><circle r="8"/></symbol>'
    '<use href="#s" x="10" y="10" width="20" height="20"/>',
    "an inner page, used": '<defs><svg id="s" width="10" height="10" viewBox="0 0 10 10"><circle '
    'r="8"/></svg></defs><use href="#s" x="10" y="10" width="20" height="20"/>',
    # clips
    "a clip": '<clipPath id="c" transform="translate(5 5)"><rect width="10" height="10" '
    'transform="scale(2)"/><circle cx="25" cy="25" r="4"/></clipPath>'
    f'<g clip-path="url(#c)">{WIDE}</g>',
    "a clip of what is moved": '<clipPath id="c"><rect width="10" height="10"/></clipPath>'
    '<circle r="15" transform="translate(5 5) scale(2)" clip-path="url(#c)"/>',
    "a clip in parts of the object": '<clipPath id="c" clipPathUnits="objectBoundingBox"><circle '
    'cx=".5" cy=".5" r=".5"/></clipPath>'
    '<path d="M5 5H35V20Q20 35 5 20Z" clip-path="url(#c)"/>',
    "a clip with a ring": '<g clip-rule="evenodd"><clipPath id="c"><path d="M5 5h30v30h-30z '
    f'M10 10h20v20h-20z"/></clipPath></g><g clip-path="url(#c)">{STAR.format("")}</g>',
    "a clipped clip": '<clipPath id="a"><circle cx="20" cy="20" r="9"/></clipPath><clipPath id="c" '
    'clip-path="url(#a)"><rect width="20" height="40"/></clipPath>'
    f'<g clip-path="url(#c)">{WIDE}</g>',
    "a clipped use": '<clipPath id="c"><rect width="20" height="20"/></clipPath>'
    f'{KEPT}<use href="#r" x="5" clip-path="url(#c)"/>',
    "a clipped inner page": '<clipPath id="c"><rect width="10" height="10"/></clipPath>'
    f'<svg x="5" y="5" width="20" height="20" clip-path="url(#c)">{WIDE}</svg>',
    "a clip of nothing": f'<clipPath id="c"/><g clip-path="url(#c)">{WIDE}</g>{BOX}',
    "no such clip": f'<g clip-path="url(#c)">{BOX}</g>',
}


def outline(data: bytes) -> Outline:
    return outline_of(drawn_from(data))


def room(found: Outline) -> float:
    """What smoothed edges may amount to, in mm²: 1 in 16 of each pixel that the outline passes."""
    return found.area_error + found.polygons.length / PIXELS / 16.0


def test_drawings_of_every_kind(browser: Browser) -> None:
    bodies = {name: f"<svg {SPACES} {SIZE}>{body}</svg>" for name, body in BODIES.items()}
    drawings = {name: text.encode() for name, text in {**PAGES, **bodies}.items()}
    painted = paint(browser, list(drawings.values()), 40.0, 40.0)
    for (name, data), seen in zip(drawings.items(), painted, strict=True):
        found = outline(data)
        assert seen is not None, name
        assert abs(found.polygons.area - seen.seen) <= room(found), (name, seen)


def test_drawings_as_programs_write_them(browser: Browser) -> None:
    """In encodings that browsers read in pictures."""
    drawings = [written(Random(seed), ("utf-8", "utf-8-sig", "utf-16")) for seed in range(60)]
    painted = paint(browser, [drawing.data for drawing in drawings], *PAGE)
    for seed, (drawing, seen) in enumerate(zip(drawings, painted, strict=True)):
        found = outline(drawing.data)
        assert seen is not None, seed
        assert abs(drawing.area - seen.seen) <= room(found), (seed, drawing.area, seen)
        assert abs(found.polygons.area - seen.seen) <= room(found), (seed, seen)
