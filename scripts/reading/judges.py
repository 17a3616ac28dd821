"""Judge the area of a drawing by other means than our own.

An SVG is painted by a browser, and the covered pixels are summed. Where something is filled,
that is what is filled, strokes left out. Where nothing is, the shapes are filled one by one
and each turns over what lies under it: so outlines in each other are nested even-odd.

A DXF file is flattened by ezdxf and the plane parted along its lines by shapely; a face counts
where a ray from inside it crosses the lines an odd number of times.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import ezdxf.disassemble
import ezdxf.recover
import numpy as np
import shapely
from ezdxf.lldxf.const import DXFError
from lxml import etree

if TYPE_CHECKING:
    from playwright.sync_api import Page

PIXELS: Final = 960
"""Along the longer side of the page and its margins: a whole number for each unit of a page of 8,
16 or 24 units, so that most straight sides run along pixels."""

MARGIN: Final = 1 / 8
"""Of the page's sides: what lies beyond the page is painted as well."""

_MM_PER: Final = {
    "": 25.4 / 96,
    "px": 25.4 / 96,
    "mm": 1.0,
    "cm": 10.0,
    "in": 25.4,
    "pt": 25.4 / 72,
}

_PAINT: Final = """
async ([data, width, height]) => {
  const image = new Image();
  image.src = "data:image/svg+xml;base64," + data;
  await image.decode();
  const canvas = new OffscreenCanvas(width, height);
  const context = canvas.getContext("2d", { willReadFrequently: true });
  context.drawImage(image, 0, 0, width, height);
  const pixels = context.getImageData(0, 0, width, height).data;
  let alpha = 0, red = 0;
  for (let i = 0; i < pixels.length; i += 4) { red += pixels[i]; alpha += pixels[i + 3]; }
  return [alpha / 255, red / 255];
}
"""

_FILLED: Final = "* { stroke: none !important }"
_TURNED_OVER: Final = (
    "* { stroke: none !important; fill: #fff !important; fill-rule: evenodd !important;"
    " mix-blend-mode: difference } #judge { fill: #000 !important; mix-blend-mode: normal }"
)
_SVG: Final = "{http://www.w3.org/2000/svg}"


def svg_area(page: Page, path: Path) -> tuple[float, float] | None:
    """Area in mm² that a browser paints of an SVG, and the side of its pixels in mm.

    Parameters
    ----------
    page : Page
        Any page of a browser; it is not left.
    path : Path
        The drawing.

    Returns
    -------
    tuple of float, or None
        None where the file has no page that can be told from outside.
    """
    try:
        root = etree.parse(path, etree.XMLParser(resolve_entities=False)).getroot()
        page_box, across = _page_of(root)
    except (etree.XMLSyntaxError, LookupError, ValueError):
        return None
    x, y, width, height = page_box
    grown = 1 + 2 * MARGIN
    box = (x - MARGIN * width, y - MARGIN * height, grown * width, grown * height)
    scale = PIXELS / max(box[2:])
    size = [max(1, round(side * scale)) for side in box[2:]]
    root.set("viewBox", " ".join(map(str, box)))
    root.set("width", str(size[0]))
    root.set("height", str(size[1]))
    pixel = across / width * box[2] / size[0]
    painted = page.evaluate(_PAINT, [_styled(root, _FILLED), *size])[0]
    if not painted:
        names = ("x", "y", "width", "height")
        cover = {name: str(value) for name, value in zip(names, box, strict=True)}
        root.insert(0, etree.Element(f"{_SVG}rect", id="judge", **cover))
        painted = page.evaluate(_PAINT, [_styled(root, _TURNED_OVER), *size])[1]
    return float(painted) * pixel**2, pixel


Box = tuple[float, float, float, float]


def _page_of(root: Any) -> tuple[Box, float]:
    """The page as a viewBox, and its width in mm; only where both have the same shape."""
    box = tuple(float(value) for value in (root.get("viewBox") or "").replace(",", " ").split())
    sides = []
    for i, name in enumerate(("width", "height")):
        said = re.fullmatch(r"\s*([\d.]+)\s*([a-z]*)\s*", root.get(name) or "")
        value, unit = (float(said[1]), said[2]) if said else (box[2 + i], "")
        sides.append(value * _MM_PER[unit])
    if not box:
        box = (0.0, 0.0, *(side / _MM_PER[""] for side in sides))
    x, y, width, height = box
    if min(*sides, width, height) <= 0.0 or abs(sides[0] * height / (sides[1] * width) - 1) > 1e-6:
        raise ValueError("the page and what it shows are of another shape")
    return (x, y, width, height), sides[0]


def _styled(root: Any, rules: str) -> str:
    """The drawing with a style sheet of ours, packed for a page."""
    style = etree.SubElement(root, f"{_SVG}style")
    style.text = rules
    packed = base64.b64encode(etree.tostring(root)).decode()
    root.remove(style)
    return packed


_FINE: Final = 1e-3
"""mm between a curve of a DXF file and its chords."""

_UNITS: Final = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0}
"""mm of the commonest $INSUNITS, as in the DXF reference; others are taken as mm."""

_GRID: Final = 1e-6


def dxf_area(path: Path) -> float | None:
    """Area in mm² within the lines of a DXF file, even-odd; None where ezdxf cannot read it."""
    try:
        document, _ = ezdxf.recover.readfile(path)
    except (DXFError, OSError, ValueError):
        return None
    factor = _UNITS.get(document.header.get("$INSUNITS", 0), 1.0)
    # rounded, so that a circle ends in the point where it begins
    lines = [np.round(points * factor, 6) for points in _flat(document, _FINE / factor)]
    if not lines:
        return 0.0
    sides = np.concatenate([np.stack([one[:-1], one[1:]], axis=1) for one in lines])
    parted = shapely.union_all(shapely.linestrings(sides), grid_size=_GRID)
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(parted)))
    return float(sum(face.area for face in faces if _is_inside(face, sides)))


def _flat(document: Any, tolerance: float) -> Iterator[Any]:
    """Every visible object of the drawing as points (n, 2)."""
    for entity in ezdxf.disassemble.recursive_decompose(document.modelspace()):
        if not _is_seen(document, entity):
            continue
        for one in _simple(entity):
            if one.dxftype() == "LINE":
                corners = [one.dxf.start, one.dxf.end]
            elif one.dxftype() in ("ARC", "CIRCLE", "ELLIPSE", "SPLINE"):
                corners = list(one.flattening(tolerance))
            else:  # text, dimensions and the like
                continue
            points = np.array([(p.x, p.y) for p in corners])
            if len(points) > 1:
                yield points


def _simple(entity: Any) -> Iterator[Any]:
    """Lines and arcs of polylines; else the object itself.

    Not `ezdxf.path`, which puts cubics for circles: their area is 0.03 % too large.
    """
    if entity.dxftype() in ("LWPOLYLINE", "POLYLINE"):
        yield from entity.virtual_entities()
    else:
        yield entity


def _is_seen(document: Any, entity: Any) -> bool:
    name = entity.dxf.get("layer", "0")
    layer = document.layers.get(name) if name in document.layers else None
    return not entity.dxf.get("invisible", 0) and (
        layer is None or not (layer.is_off() or layer.is_frozen())
    )


def _is_inside(face: shapely.Polygon, sides: Any) -> bool:
    """Whether a ray to the right from a point of the face crosses an odd number of sides."""
    x, y = shapely.get_coordinates(shapely.point_on_surface(face))[0]
    (x0, y0), (x1, y1) = (sides[:, k].T for k in (0, 1))
    there = (y0 < y) != (y1 < y)
    share = (y - y0[there]) / (y1[there] - y0[there])
    return bool(np.count_nonzero(x0[there] + share * (x1[there] - x0[there]) > x) % 2)
