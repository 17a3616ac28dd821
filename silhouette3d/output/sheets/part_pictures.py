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


def view_pictures(part: Part, gallery: Gallery, room: tuple[float, float]) -> list[Item]:
    """Front, right and top view side by side at one scale, with outer dimensions."""
    low, high = part.solid.bounds
    spans = []
    for name in THREE:
        flat = VIEWS[name].to_view([low, high])[:, :2]
        spans.append((flat.min(axis=0), flat.max(axis=0)))
    left, right, below, above = _MARGIN
    across = sum(float(b[0] - a[0]) for a, b in spans)
    up = max(float(b[1] - a[1]) for a, b in spans)
    scale = min((room[0] - len(THREE) * (left + right)) / across, (room[1] - below - above) / up)
    return [
        _view(part, gallery, name, Plot(_pair(a), _pair(b), scale, _MARGIN))
        for name, (a, b) in zip(THREE, spans, strict=True)
    ]


def _view(part: Part, gallery: Gallery, name: str, plot: Plot) -> Item:
    view, say = VIEWS[name], part.scale
    (u0, v0), (u1, v1) = plot.low, plot.high
    size = ((u1 - u0) * plot.scale, (v1 - v0) * plot.scale)
    frame = Frame(view, plot.low, plot.high)
    file = gallery.draw(f"view-{name}", [(part.solid.mesh, SOLID)], frame, size[0])
    items: list[Item] = []
    if file is not None:
        items.append(image((plot.margin[0], plot.margin[3]), size, file))
    shadow = part.solid.shadow(view)
    items.append(plot.area(shadow, line=INK if file else OUTLINE, fill=None if file else PART))
    items += dimension(plot, (u0, v0), (u1, v0), "below", 1, say.own(u1 - u0))
    items += dimension(plot, (u0, v0), (u0, v1), "left", 1, say.own(v1 - v0))
    middle = shapely.box(u0, v0, u1, v1).centroid.x
    items.append(words((plot.spot((middle, v1))[0], 2.0), name, 7.5, bold=True))
    return plot.picture(items)


def _pair(values: np.ndarray) -> tuple[float, float]:
    return float(values[0]), float(values[1])
