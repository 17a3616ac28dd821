"""Sound files to break: small drawings and jobs with every kind of object, and the samples."""

from __future__ import annotations

from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).resolve().parents[1]


def tags(*pairs: tuple[int, object]) -> str:
    """Group codes and values as the lines of an ASCII DXF file."""
    return "".join(f"{code:3d}\n{value}\n" for code, value in pairs)


def bare(entities: str, *, header: str = "", tables: str = "", blocks: str = "") -> str:
    """A DXF file with hardly more than its entities."""
    sections = {"HEADER": header, "TABLES": tables, "BLOCKS": blocks, "ENTITIES": entities}
    return (
        "".join(
            tags((0, "SECTION"), (2, name)) + body + tags((0, "ENDSEC"))
            for name, body in sections.items()
            if body
        )
        + "  0\nEOF\n"
    )


def _line(x0: float, y0: float, x1: float, y1: float, layer: str = "HULL") -> str:
    return tags((0, "LINE"), (8, layer), (10, x0), (20, y0), (11, x1), (21, y1))


_TRAY: Final = _line(0, 20, 0, 0) + _line(0, 0, 30, 0) + _line(30, 0, 30, 20)
_CLOSED: Final = _TRAY + _line(30, 20, 0, 20)
_SQUARE: Final = _line(0, 0, 30, 0) + _line(30, 0, 30, 20) + _line(30, 20, 0, 20)
_KNOTS: Final = ((40, 0), (40, 0), (40, 0), (40, 0), (40, 1), (40, 1), (40, 1), (40, 1))
_WEIGHTS: Final = ((41, 1), (41, 2), (41, 2), (41, 1))
_SPLINE: Final = (
    *((0, "SPLINE"), (100, "AcDbEntity"), (8, "HULL"), (100, "AcDbSpline"), (70, 8)),
    *((71, 3), (72, 8), (73, 4), *_KNOTS),
)
_CONTROLS: Final = (
    *((10, 0), (20, 20), (10, 10), (20, 40), (10, 20), (20, 40), (10, 30), (20, 20)),
)
_LWPOLYLINE: Final = (
    *((0, "LWPOLYLINE"), (100, "AcDbEntity"), (8, "HULL"), (100, "AcDbPolyline"), (90, 4)),
    *((70, 1), (10, 0), (20, 0), (42, 0.5), (10, 30), (20, 0), (10, 30), (20, 20), (42, -0.3)),
    *((10, 0), (20, 20)),
)
_POLYLINE: Final = (
    *((0, "POLYLINE"), (8, "HULL"), (66, 1), (70, 1), (10, 0), (20, 0), (30, 0)),
    *((0, "VERTEX"), (8, "HULL"), (10, 0), (20, 0), (42, 1)),
    *((0, "VERTEX"), (8, "HULL"), (10, 20), (20, 0)),
    *((0, "VERTEX"), (8, "HULL"), (10, 20), (20, 9)),
    *((0, "SEQEND"), (8, "HULL")),
)
_HATCH: Final = (
    *((0, "HATCH"), (100, "AcDbEntity"), (8, "HULL"), (100, "AcDbHatch"), (10, 0), (20, 0)),
    *((30, 0), (210, 0), (220, 0), (230, 1), (2, "SOLID"), (70, 1), (71, 0), (91, 2)),
    *((92, 3), (72, 1), (73, 1), (93, 3), (10, 0), (20, 0), (42, 0.2), (10, 9), (20, 0)),
    *((10, 9), (20, 9), (97, 0), (92, 1), (93, 2), (72, 2), (10, 20), (20, 5), (40, 4)),
    *((50, 0), (51, 180), (73, 1), (72, 1), (10, 16), (20, 5), (11, 24), (21, 5), (97, 0)),
    *((75, 1), (76, 1), (98, 0)),
)
_ELLIPSE: Final = (
    *((0, "ELLIPSE"), (100, "AcDbEntity"), (8, "HULL"), (100, "AcDbEllipse"), (10, 5), (20, 5)),
    *((30, 0), (11, 9), (21, 2), (31, 0), (40, 0.5), (41, 0), (42, 6.283185307179586)),
)
_CIRCLES: Final = tags((0, "CIRCLE"), (8, "HULL"), (10, 9), (20, 9), (40, 8)) + tags(
    *((0, "CIRCLE"), (8, "HULL"), (10, 9), (20, 9), (40, 3))
)
_ARC: Final = tags(
    *((0, "ARC"), (8, "HULL"), (10, 0), (20, 10), (40, 10), (50, 90), (51, 270)),
)
_BLOCK: Final = (
    tags((0, "BLOCK"), (8, "0"), (2, "BOLLARD"), (70, 0), (10, 0), (20, 0), (3, "BOLLARD"))
    + _CLOSED.replace("HULL", "0")
    + tags((0, "ENDBLK"), (8, "0"))
)
_INSERT: Final = (
    *((0, "INSERT"), (8, "HULL"), (2, "BOLLARD"), (10, 5), (20, 5), (41, 1), (42, 1), (43, 1)),
    *((50, 30), (70, 1), (71, 2), (44, 0), (45, 40), (210, 0), (220, 0), (230, 1)),
)
_LAYERS: Final = tags(
    *((0, "TABLE"), (2, "LAYER"), (70, 2)),
    *((0, "LAYER"), (2, "HULL"), (70, 0), (62, 7), (6, "CONTINUOUS")),
    *((0, "LAYER"), (2, "STOCK"), (70, 1), (62, -7), (6, "CONTINUOUS"), (0, "ENDTAB")),
)
_MILLIMETRES: Final = tags((9, "$ACADVER"), (1, "AC1015"), (9, "$INSUNITS"), (70, 4))

_SVG_HEAD: Final = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="50mm" viewBox="0 0 80 50">'
)
_SVG_BODIES: Final = (
    '<path d="M5 5H40V30C30 45 20 20 5 30Z M10 10h5v5h-5z" fill-rule="evenodd"/>',
    '<g id="HULL" transform="rotate(10) scale(2)"><rect x="2" y="2" width="20" height="9" rx="3"/>'
    '<circle cx="9" cy="6" r="2"/></g><g id="STOCK"><rect width="80" height="50"/></g>',
    '<path d="M5 5a9 5 20 1 0 9 9q3 4 9 0t3-3s4-4-5-9z"/><ellipse cx="50" cy="20" rx="9" ry="4"/>',
    '<style>.a{fill:none;stroke:#000}</style><polyline class="a" points="0 0 30 0 30 20 0 20 0 0"/>'
    '<polygon points="40,5 60,5 50,20"/><line x1="0" y1="0" x2="0" y2="0" stroke="red"/>',
    '<defs><g id="b"><rect width="9" height="7"/></g><symbol id="s" viewBox="0 0 10 10">'
    '<circle cx="5" cy="5" r="5"/></symbol></defs><use href="#b" x="3" y="4"/>'
    '<use href="#s" x="30" width="12" height="12"/><switch><rect x="60" width="5" height="5"/>'
    "</switch>",
)

_JOB: Final = """name = "Bollard"
units = "mm"
tolerance = 0.05
[stock]
size = [80.0, 40.0, 50.0]
material = "aluminium 6061"
[[profile]]
view = "front"
drawing = "front.dxf"
datum = [-20.0, -10.0]
turn = 0.0
mirror = false
scale = 1.0
shift = [2.0, 3.0]
clamp = ["left", "right"]
[[profile]]
view = {look = [1.0, 1.0, 0.0], up = [0.0, 0.0, 1.0]}
name = "corner"
drawing = "corner.svg"
units = "mm"
datum = "centre"
[[profile.tab]]
at = [40.0, 40.0]
width = 2.0
[checks]
thin = 1.5
match = 0.1
[cutting]
kerf = 0.9
tab_width = 2.0
order = ["corner", "front"]
clear_offcuts = true
tab_area = 5.0
slat_gap = 20.0
air = 5.0
"""
_BAR: Final = """name = "Bollard"
units = "in"
[stock]
round = {diameter = 2.0, length = 3.0, along = "z"}
density = 2.7
[[profile]]
view = "top"
drawing = "front.dxf"
datum = "corner"
layer = ["HULL"]
clamp = [[0.0, 0.0, 1.0, 1.0]]
"""


def seeds(kind: str) -> list[bytes]:
    """Sound files of one kind, small ones, and the samples."""
    if kind == "toml":
        found = [_JOB, _BAR]
    elif kind == "svg":
        found = [f"{_SVG_HEAD}{body}</svg>" for body in _SVG_BODIES]
    else:
        entities = [
            *(_CLOSED, _CIRCLES, _ARC + _SQUARE, tags(*_LWPOLYLINE), tags(*_POLYLINE)),
            tags(*_HATCH) + _CLOSED,
            tags(*_ELLIPSE),
            _TRAY + tags(*_SPLINE, *_CONTROLS),
            _TRAY + tags(*_SPLINE, *_WEIGHTS, *_CONTROLS),
        ]
        found = [bare(one, header=_MILLIMETRES) for one in entities]
        found.append(bare(tags(*_INSERT), header=_MILLIMETRES, tables=_LAYERS, blocks=_BLOCK))
    samples = sorted((ROOT / "samples").glob(f"*/*.{kind}"))
    return [text.encode() for text in found] + [path.read_bytes() for path in samples]
