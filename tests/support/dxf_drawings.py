"""DXF drawings as programs write them, with a known area on one layer; and another judge of it."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import shapely
from ezdxf.disassemble import recursive_decompose
from ezdxf.enums import TextEntityAlignment
from hypothesis import strategies as st

from tests.support.dxf_files import RELEASES, new, tags, text_of

LAYER = "Außenkontur"
FLAT = 1e-4
"""mm, how near ezdxf's own straight pieces come to its curves."""

Dice = random.Random


@dataclass(frozen=True, repr=False)
class Drawn:
    """A document, and what of it is known.

    Parameters
    ----------
    document : ezdxf.document.Drawing
        In millimetres, the outline on `LAYER`.
    data : bytes
        The file, with what programs add to it.
    area : float
        Of the outline in mm², by formulas.
    """

    document: Any
    data: bytes
    area: float

    def __repr__(self) -> str:
        return f"<{self.document.dxfversion}, {self.area:.6g} mm²>"


# The outline: a plate with holes in two rows, each hole drawn as one of many objects.


def rectangle(space: Any, look: dict[str, Any], dice: Dice, x: float, y: float, w: float) -> float:
    """A rectangle, as lines in any order and direction, or as a polyline."""
    h = w * dice.uniform(0.3, 1.0)
    corners = [(x - w, y - h), (x + w, y - h), (x + w, y + h), (x - w, y + h)]
    return polygon(space, look, dice, corners, 4.0 * w * h)


def polygon(
    space: Any, look: dict[str, Any], dice: Dice, corners: list[tuple[float, float]], area: float
) -> float:
    ways = ["lines", "polyline", "space"] + ["light"] * (space.doc.dxfversion > "AC1009") * 2
    way = dice.choice(ways)
    if way == "lines":
        sides = list(zip(corners, [*corners[1:], corners[0]], strict=True))
        for side in dice.sample(sides, len(sides)):
            space.add_line(*dice.sample(side, 2), dxfattribs=look)
    elif way == "polyline":
        space.add_polyline2d(corners, close=True, dxfattribs=look)
    elif way == "space":
        space.add_polyline3d([(u, v, 7.0) for u, v in corners], close=True, dxfattribs=look)
    elif dice.random() < 0.5:
        space.add_lwpolyline([*corners, corners[0]], dxfattribs=look)  # closed by its last corner
    else:
        space.add_lwpolyline(corners, close=True, dxfattribs=look | {"elevation": 3.0})
    return area


def disc(space: Any, look: dict[str, Any], dice: Dice, x: float, y: float, r: float) -> float:
    """A circle as one of the many objects that are one."""
    ways = ["circle", "arcs", "bulges", "below"]
    if space.doc.dxfversion > "AC1009":
        ways += ["ellipse", "hatch"]
    way = dice.choice(ways)
    if way == "circle":
        space.add_circle((x, y, 2.0), r, dxfattribs=look | {"thickness": 4.0})
    elif way == "below":  # seen from below: x runs the other way
        space.add_circle((-x, y), r, dxfattribs=look | {"extrusion": (0, 0, -1)})
    elif way == "arcs":
        turns = sorted(dice.sample(range(0, 360, 15), 3))
        for start, end in zip(turns, [*turns[1:], turns[0]], strict=True):
            space.add_arc((x, y), r, start, end, dxfattribs=look)
    elif way == "bulges":
        space.add_polyline2d(
            [(x - r, y, 1.0), (x + r, y, 1.0)], format="xyb", close=True, dxfattribs=look
        )
    elif way == "ellipse":
        space.add_ellipse((x, y), (r * 0.6, r * 0.8), 1.0, dxfattribs=look)
    else:
        hatch = space.add_hatch(dxfattribs=look)
        hatch.paths.add_edge_path().add_arc((x, y), r, 0, 360)
    return math.pi * r * r


def slot(space: Any, look: dict[str, Any], dice: Dice, x: float, y: float, w: float) -> float:
    """Two lines and two half circles, apart or as one polyline."""
    r = w * dice.uniform(0.2, 0.5)
    left, right = x - w + r, x + w - r
    if dice.random() < 0.5:
        space.add_line((left, y + r), (right, y + r), dxfattribs=look)
        space.add_arc((right, y), r, 270, 90, dxfattribs=look)
        space.add_arc((left, y), r, 90, 270, dxfattribs=look)
        space.add_line((left, y - r), (right, y - r), dxfattribs=look)
    else:
        points = [(left, y - r, 0), (right, y - r, 1), (right, y + r, 0), (left, y + r, 1)]
        space.add_polyline2d(points, format="xyb", close=True, dxfattribs=look)
    return math.pi * r * r + 4.0 * r * (w - r)


HOLES: list[Callable[[Any, dict[str, Any], Dice, float, float, float], float]] = [
    rectangle,
    disc,
    slot,
]


def plate(space: Any, look: dict[str, Any], dice: Dice) -> float:
    """A plate of 100 × 60 mm with up to six holes, none near another; its area."""
    area = polygon(space, look, dice, [(0, 0), (100, 0), (100, 60), (0, 60)], 6000.0)
    for i in dice.sample(range(6), dice.randint(0, 6)):
        x, y = 20.0 + 30.0 * (i % 3), 15.0 + 30.0 * (i // 3)
        area -= dice.choice(HOLES)(space, look, dice, x, y, dice.uniform(2.0, 10.0))
    return area


def placed(document: Any, dice: Dice) -> float:
    """The plate in model space, or in blocks that are turned, mirrored and stretched."""
    space = document.modelspace()
    if dice.random() < 0.4:
        return plate(space, {"layer": LAYER, "color": dice.choice([256, 0, 1, 7])}, dice)
    inner = document.blocks.new("Teil 1", base_point=(dice.choice([0.0, 5.0]), 0.0))
    look: dict[str, Any] = dice.choice(
        [{"layer": "0", "color": 0}, {"layer": "0"}, {"layer": LAYER}]
    )
    area = plate(inner, look, dice)
    name = "Teil 1"
    for depth in range(dice.randint(0, 2)):
        block = document.blocks.new(f"Gruppe {depth}")
        area *= referred(block, name, {"layer": dice.choice(["0", LAYER])}, dice)
        name = f"Gruppe {depth}"
    return area * referred(space, name, {"layer": LAYER}, dice)


def referred(space: Any, name: str, look: dict[str, Any], dice: Dice) -> float:
    """A reference to a block; how much larger areas are in it."""
    u, v = dice.choice([(1.0, 1.0), (-1.0, 1.0), (0.5, 2.0), (-1.5, -0.75), (1.0, -1.0)])
    turn = {"rotation": dice.choice([0.0, 90.0, 37.5]), "xscale": u, "yscale": v, "zscale": 1.0}
    at = (dice.uniform(-50, 50), dice.uniform(-50, 50))
    space.add_blockref(name, at, dxfattribs=look | turn)
    return abs(u * v)


# What else is in a drawing. Nothing of it lies on `LAYER`.


def centre_lines(document: Any, dice: Dice) -> None:
    document.layers.add("Mitte", color=3, linetype="CENTER")
    for _ in range(dice.randint(1, 4)):
        x, y = dice.uniform(0, 100), dice.uniform(0, 60)
        document.modelspace().add_line((x - 20, y), (x + 20, y), dxfattribs={"layer": "Mitte"})


def dimensions(document: Any, dice: Dice) -> None:
    space = document.modelspace()
    look = {"layer": "Maße"}
    space.add_linear_dim((0, -10), (0, 0), (100, 0), dxfattribs=look).render()
    if dice.random() < 0.5:
        space.add_radius_dim((50, 30), radius=10, angle=45, dxfattribs=look).render()
        space.add_aligned_dim((0, 0), (100, 60), 5, dxfattribs=look).render()


def writing(document: Any, dice: Dice) -> None:
    space = document.modelspace()
    text = space.add_text("Ø20 ±0.1 %%c", dxfattribs={"layer": "Text", "style": "OpenSans"})
    text.set_placement((9, 9), align=dice.choice(list(TextEntityAlignment)[:3]))
    if document.dxfversion > "AC1009":
        space.add_mtext("{\\fArial|b1;Platte}\\PBlatt 1", dxfattribs={"layer": "Text", "width": 5})


def hidden(document: Any, dice: Dice) -> None:
    for name, hide in (("Kalt", "freeze"), ("Dunkel", "off")):
        getattr(document.layers.add(name, color=2), hide)()
        document.modelspace().add_circle((50, 30), 55, dxfattribs={"layer": name})
    document.modelspace().add_line((0, 0), (9, 9), dxfattribs={"invisible": 1, "layer": "Text"})


def aids(document: Any, dice: Dice) -> None:
    """In space, without end, filled, as points: nothing that is cut."""
    space = document.modelspace()
    look = {"layer": "Hilfe"}
    space.add_line((0, 0, 0), (0, 0, 50), dxfattribs=look)
    space.add_polyline3d([(0, 0, 0), (9, 0, 5), (9, 9, 0)], dxfattribs=look)
    space.add_point((5, 5), dxfattribs=look)
    space.add_solid([(0, 0), (1, 0), (0, 1)], dxfattribs=look)
    space.add_3dface([(0, 0), (1, 0), (0, 1)], dxfattribs=look)
    if document.dxfversion > "AC1009":
        space.add_xline((0, 0), (1, 1), dxfattribs=look)
        space.add_mline([(0, 0), (9, 9)], dxfattribs=look)
        space.add_leader([(0, 0), (9, 9)], dxfattribs=look)
        space.add_wipeout([(0, 0), (9, 9)], dxfattribs=look)
        space.add_spline([(0, 0), (9, 3), (20, 0)], dxfattribs=look)
        hatch = space.add_hatch(dxfattribs=look)
        hatch.set_pattern_fill("ANSI31")
        hatch.paths.add_polyline_path([(0, 0), (9, 0), (9, 9)])


def attachments(document: Any, dice: Dice) -> None:
    """Data of other programs on every object, and a dictionary of theirs."""
    document.appids.add("HARBOUR")
    for entity in list(document.modelspace()):
        entity.set_xdata("HARBOUR", [(1000, "{tug}"), (1040, 1.5), (1002, "{"), (1002, "}")])
        if document.dxfversion > "AC1009" and dice.random() < 0.5:
            entity.set_app_data("HARBOUR", [(90, 5)])
            entity.new_extension_dict().add_xrecord("HARBOUR").reset([(1, "x"), (90, 5)])


def blocks(document: Any, dice: Dice) -> None:
    """Empty ones, ones that nobody uses, and a title block with attributes."""
    document.blocks.new("Leer")
    document.modelspace().add_blockref("Leer", (0, 0), dxfattribs={"layer": "Text"})
    document.blocks.new("Ungenutzt").add_circle((0, 0), 3, dxfattribs={"layer": LAYER})
    head = document.blocks.new("Schriftkopf")
    head.add_attdef("NAME", (5, 5), dxfattribs={"layer": "Text"})
    head.add_line((0, 0), (180, 0), dxfattribs={"layer": "Text"})
    reference = document.modelspace().add_blockref("Schriftkopf", (0, -99))
    reference.dxf.layer = "Text"
    reference.add_auto_attribs({"NAME": "Schlepper"})


def paper(document: Any, dice: Dice) -> None:
    for layout in document.layouts:
        if not layout.is_modelspace:
            layout.add_circle((0, 0), 50, dxfattribs={"layer": LAYER})
            if document.dxfversion > "AC1009":
                layout.add_viewport((9, 9), (9, 9), (0, 0), 9)


ADDITIONS = [centre_lines, dimensions, writing, hidden, aids, attachments, blocks, paper]


def as_bytes(document: Any, dice: Dice) -> bytes:
    """The file, with comments, unknown objects, a byte order mark, other ends of lines."""
    lines = text_of(document).splitlines()
    if dice.random() < 0.3:
        at = len(lines) - 1 - lines[::-1].index("ENTITIES")
        odd = tags((0, "KEELSON"), (5, "FEED1"), (8, "Hilfe"), (10, 1), (20, 2), (40, 9))
        lines[at + 1 : at + 1] = odd.splitlines()
    if dice.random() < 0.3:
        for _ in range(9):
            at = 2 * dice.randrange(len(lines) // 2)
            lines[at:at] = ["999", dice.choice(["0", "ENDSEC", "", "von Hand"])]
    text = dice.choice(["\n", "\r\n"]).join([*lines, ""])
    return text.encode(dice.choice(["utf-8", "utf-8-sig"]))


@st.composite
def dxf_drawings(draw: st.DrawFn) -> Drawn:
    """A plate with holes on one layer, and what programs put round it."""
    dice = draw(st.randoms(use_true_random=False))
    release = draw(st.sampled_from(RELEASES))
    document = new(release, unit=4 if release != "R12" else 0)
    document.linetypes.add("CENTER", [2.0, 1.25, -0.25, 0.25, -0.25])
    document.layers.add(LAYER, color=dice.choice([1, 5, 7]))
    area = placed(document, dice)
    for add in draw(st.lists(st.sampled_from(ADDITIONS), unique=True)):
        add(document, dice)
    return Drawn(document, as_bytes(document, dice), area)


# Another judge.


def outlined(entities: Iterable[Any]) -> Iterator[shapely.LineString]:
    """Lines and arcs as ezdxf takes blocks and polylines apart; points lie on its arcs."""
    for entity in entities:
        if entity.dxf.layer not in (LAYER, "0"):
            continue
        match entity.dxftype():
            case "POLYLINE" | "LWPOLYLINE":
                yield from outlined(entity.virtual_entities())
                continue
            case "LINE":
                points = [entity.dxf.start, entity.dxf.end]
            case "HATCH":
                (boundary,) = entity.paths
                (edge,) = boundary.edges
                points = list(entity.ocs().points_to_wcs(edge.construction_tool().flattening(FLAT)))
            case _:
                points = list(entity.flattening(FLAT))
        yield shapely.LineString([(p.x, p.y) for p in points])


def judged(document: Any) -> float:
    """The area by even-odd of everything on the layer, as shapely polygonises it."""
    on_it = [e for e in document.modelspace() if e.dxf.layer == LAYER]
    drawn = list(outlined(recursive_decompose(on_it)))
    lines = shapely.set_precision(drawn, 1e-6)
    faces = shapely.get_parts(shapely.polygonize([shapely.node(shapely.union_all(lines))]))
    area: Any = shapely.Polygon()
    for face in faces:
        area = shapely.symmetric_difference(area, shapely.Polygon(face.exterior))
    return float(area.area)
