"""The finished part: a shaded picture in its stock, and three views with outer dimensions."""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from silhouette3d.output.picture.draw import part_in_stock
from silhouette3d.output.picture.scene import SOLID, Frame
from silhouette3d.output.sheets.dimension import LEVEL, dimension
from silhouette3d.output.sheets.gallery import Gallery
from silhouette3d.output.sheets.plot import Item, Plot, image, sketch, words
from silhouette3d.part import Part
from silhouette3d.quantity import Scale
from silhouette3d.theme import INK, ISO, OUTLINE, PART
from silhouette3d.view import VIEWS

THREE: Final = ("front", "right", "top")
_MARGIN: Final = (LEVEL + 3.0, 2.0, LEVEL + 3.0, 5.0)


def part_picture(part: Part, gallery: Gallery, room: tuple[float, float]) -> Item | None:
    """The part in its stock in some room of paper (mm); None where the machine cannot draw."""
    solids = part_in_stock(part)
    points = np.concatenate([mesh.vertices for mesh, _ in solids])
    frame = Frame.around(ISO, points, room[0] / room[1], room=0.02)
    name = gallery.draw("part", solids, frame, room[0])
    if name is None:
        return None
    return sketch(room, [image((0.0, 0.0), room, name)])


def view_pictures(
    part: Part, gallery: Gallery, room: tuple[float, float]
) -> list[list[list[Item]]]:
    """Front, right and top view at one scale, with outer dimensions, each way that is worth it.

    Side by side in some room of paper comes last. Before it comes, where the views of a long or
    flat part become much larger so, the top above the front, as in third angle projection, and
    the right view beside or below that; the page then takes it if it has the room.
    """
    low, high = part.solid.bounds
    spans = {}
    for name in THREE:
        flat = VIEWS[name].to_view([low, high])[:, :2]
        spans[name] = (_pair(flat.min(axis=0)), _pair(flat.max(axis=0)))
    abreast, *stacked = (
        (_scale(spans, rows, part.scale, (room[0], room[1] * taller)), rows)
        for rows, taller in _ROWS
    )
    best = max(stacked)
    ways = [best, abreast] if best[0] > _WORTH * abreast[0] else [abreast]
    return [
        [
            [_view(part, gallery, name, Plot(*spans[name], scale, _MARGIN), way) for name in row]
            for row in rows
        ]
        for way, (scale, rows) in enumerate(ways)
    ]


_ROWS: Final = (
    ((("front", "right", "top"),), 1.0),
    ((("top",), ("front", "right")), 1.5),
    ((("top",), ("front",), ("right",)), 1.8),
)
"""Ways to lay the views, and how much taller their room may be."""

_WORTH: Final = 1.25
"""How much larger the views must become for more rows of them."""

GAP: Final = 5.0
"""mm of paper between views, across and up."""

_Spans = dict[str, tuple[tuple[float, float], tuple[float, float]]]


def _scale(
    spans: _Spans, rows: tuple[tuple[str, ...], ...], say: Scale, room: tuple[float, float]
) -> float:
    """The largest scale at which rows of views fit their room, words beside short ones included."""
    smallest, largest = 0.0, max(room) / 1e-3
    for _ in range(_HALVINGS):
        scale = (smallest + largest) / 2.0
        sizes = {n: _size(Plot(*span, scale, _MARGIN), say) for n, span in spans.items()}
        wide = max(sum(sizes[n][0] for n in row) + GAP * (len(row) - 1) for row in rows)
        tall = sum(max(sizes[n][1] for n in row) for row in rows) + GAP * (len(rows) - 1)
        if wide <= room[0] and tall <= room[1]:
            smallest = scale
        else:
            largest = scale
    return smallest


_HALVINGS: Final = 50


def _size(plot: Plot, say: Scale) -> tuple[float, float]:
    """Width and height in mm of paper of a view with its dimensions."""
    picture = plot.picture(_dimensions(plot, say))
    return float(picture["width"]), float(picture["height"])


def _dimensions(plot: Plot, say: Scale) -> list[Item]:
    (u0, v0), (u1, v1) = plot.low, plot.high
    return [
        *dimension(plot, (u0, v0), (u1, v0), "below", 1, say.own(u1 - u0)),
        *dimension(plot, (u0, v0), (u0, v1), "left", 1, say.own(v1 - v0)),
    ]


def _view(part: Part, gallery: Gallery, name: str, plot: Plot, way: int) -> Item:
    view = VIEWS[name]
    (u0, v0), (u1, v1) = plot.low, plot.high
    size = ((u1 - u0) * plot.scale, (v1 - v0) * plot.scale)
    frame = Frame(view, plot.low, plot.high)
    file = gallery.draw(f"view-{name}-{way}", [(part.solid.mesh, SOLID)], frame, size[0])
    items: list[Item] = []
    if file is not None:
        items.append(image((plot.margin[0], plot.margin[3]), size, file))
    shadow = part.solid.shadow(view)
    items.append(plot.area(shadow, line=INK if file else OUTLINE, fill=None if file else PART))
    items += _dimensions(plot, part.scale)
    middle = shapely.box(u0, v0, u1, v1).centroid.x
    items.append(words((plot.spot((middle, v1))[0], 2.0), name, 7.5, bold=True))
    return plot.picture(items)


def _pair(values: np.ndarray) -> tuple[float, float]:
    return float(values[0]), float(values[1])
