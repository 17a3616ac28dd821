"""The block as it lies on the table, seen by an operator who stands before it."""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from silhouette3d.output.picture.scene import Frame, Style
from silhouette3d.output.sheets.gallery import Gallery
from silhouette3d.output.sheets.plot import Item, Pair, Plot, area, badge, datum, image, line, words
from silhouette3d.output.sheets.setup import Setup
from silhouette3d.stock import Stock
from silhouette3d.theme import HELD, INK, PALE_INK, PART, STOCK
from silhouette3d.turning import LETTERS
from silhouette3d.view import VIEWS, Array, View, view_along

_LOOK: Final = (-0.5, 1.0, -0.8)
"""From the operator's right shoulder, in the frame (right, away, up): the near side, the right
side and the face that is up are seen, and so is the corner of the datum."""

_MARGIN: Final = (8.0, 8.0, 7.0, 6.0)
_YOU: Final = 5.0
"""mm of paper from the block to the word that says where the operator stands."""


def operator_view(view: View) -> View:
    """How the operator sees the block in the setup of a view."""
    look, up = np.array([_LOOK, (0.0, 0.0, 1.0)]) @ view.axes
    return view_along(look, up, f"operator, {view.name}")


def block_picture(setup: Setup, gallery: Gallery, room: tuple[float, float]) -> Item:
    """The block with its faces lettered and the datum marked, in some room of paper (mm)."""
    stock, view = setup.part.stock, setup.profile.view
    seen = operator_view(view)
    corners = seen.to_view(stock.corners)[:, :2]
    plot = Plot.fitted(_pair(corners.min(axis=0)), _pair(corners.max(axis=0)), room, _MARGIN)
    items = [*_shaded(setup, gallery, seen, plot), *_box(stock, seen, plot)]
    letters = _places(setup, seen, plot)
    items += _letters(letters)
    if stock.diameter is not None or not setup.stands_flat:
        items.append(_face(setup, seen, plot))
    at = plot.spot(seen.to_view(datum_point(setup))[:2])
    items += [*datum(at), words((at[0] - 3.2, at[1] - 2.6), "0, 0", 7.0, anchor="right", bold=True)]
    items += _you(setup, seen, plot, [at for _, _, at in letters])
    return plot.picture(items)


_FACING: Final = 0.2
"""Cosine between sight and the normal of a side, below which the side is seen too flatly."""


def datum_point(setup: Setup) -> Array:
    """(3,) of the datum on the face that is up, in block coordinates in mm."""
    return setup.profile.to_block((0.0, 0.0), depth=0.0)


def _places(setup: Setup, seen: View, plot: Plot) -> list[tuple[str, Pair, Pair]]:
    """Each side that is seen, its middle, and where its letter lies on paper.

    That is the middle; but off a thin block, outwards, where letters would lie on each other.
    """
    size = np.asarray(setup.part.stock.size)
    there = [name for name, one in VIEWS.items() if np.dot(one.look, seen.look) > _FACING]
    outward = [-np.asarray(VIEWS[name].look) for name in there]
    spots = np.array([plot.spot(seen.to_view(size / 2.0 * (1.0 + out))[:2]) for out in outward])
    away = np.array([seen.to_view(out)[:2] for out in outward]) * [1.0, -1.0]
    away /= np.linalg.norm(away, axis=1, keepdims=True)
    datum_spot = plot.spot(seen.to_view(datum_point(setup))[:2])
    steps = (spots + step * away for step in np.arange(0.0, 4.0 * _APART, 0.5))
    placed = next((at for at in steps if _apart(np.vstack([at, datum_spot])) >= _APART), spots)
    return [(name, _pair(on), _pair(at)) for name, on, at in zip(there, spots, placed, strict=True)]


def _letters(places: list[tuple[str, Pair, Pair]]) -> list[Item]:
    """A letter for each side, with a line to it where it does not lie on it."""
    items: list[Item] = []
    for name, on, at in places:
        if on != at:
            items.append(line([on, at], line=PALE_INK, width=0.4))
        items += badge(at, LETTERS[name])
    return items


_APART: Final = 6.0
"""mm of paper between the middles of two letters, whose discs are 5 mm wide."""


def _apart(spots: Array, count: int | None = None) -> float:
    """The least distance between any two spots, or of the first few to all others."""
    first, second = np.triu_indices(len(spots), k=1)
    apart = np.linalg.norm(spots[first] - spots[second], axis=1)
    return float(apart[first < (count or len(spots))].min())


def _shaded(setup: Setup, gallery: Gallery, seen: View, plot: Plot) -> list[Item]:
    frame = Frame(seen, plot.low, plot.high)
    size = tuple(float(n) * plot.scale for n in np.subtract(plot.high, plot.low))
    solids = [
        (body.solid.mesh, Style(PART if body.is_part else HELD, line=INK, width=2.2))
        for body in setup.there
    ]
    name = gallery.draw(f"block{setup.number}", solids, frame, size[0])
    if name is None:
        return []
    return [image((plot.margin[0], plot.margin[3]), (size[0], size[1]), name)]


def _box(stock: Stock, seen: View, plot: Plot) -> list[Item]:
    """The edges of the stock that are seen: those of its hull, its ends, and corners of a block."""
    flat = seen.to_view(stock.corners)[:, :2]
    half = len(flat) // 2
    axis = stock.axis_view
    style = {"line": STOCK, "width": 0.5, "dash": None}
    outer = shapely.convex_hull(shapely.multipoints(flat))
    assert isinstance(outer, shapely.Polygon)
    items = [plot.area(outer, **style)]
    for ring, outward in ((flat[:half], axis.look), (flat[half:], np.negative(axis.look))):
        if np.dot(outward, seen.look) < 0.0:
            items.append(area([plot.at(ring)], **style))
    if stock.diameter is None:
        lengthwise = np.stack([flat[:half], flat[half:]], axis=1)
        hidden = int(np.argmin(seen.to_view(stock.corners)[:, 2])) % half
        for k, ends in enumerate(lengthwise):
            on_hull = shapely.distance(outer.exterior, shapely.Point(ends.mean(axis=0))) < 1e-6
            if k != hidden and not on_hull:
                items.append(line(plot.at(ends), **style))
    return items


def _face(setup: Setup, seen: View, plot: Plot) -> Item:
    """The rectangle whose corner is the datum, where the stock itself has no such corner."""
    width, height = setup.profile.face.size
    ring = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
    there = [seen.to_view(setup.profile.to_block(p, depth=0.0))[:2] for p in ring]
    return area([plot.at(there)], line=PALE_INK, width=0.5, dash="stock")


def _you(setup: Setup, seen: View, plot: Plot, letters: list[Pair]) -> list[Item]:
    """A mark on the operator's side, in front of the lower near edge and clear of letters."""
    face, view = setup.profile.face, setup.profile.view
    (u, v), (w, _), (low, _) = face.corner, face.size, face.depth
    middle = view.to_block([u + w / 2.0, v, low])
    x, y = plot.spot(seen.to_view(middle)[:2])
    dx, dy, _ = seen.axes @ -np.asarray(view.up)  # towards the operator, on paper
    steps = (_YOU + 0.5 * step for step in range(20))
    ways = [(x + step * float(dx), y - step * float(dy)) for step in steps]
    x, y = next((at for at in ways if _apart(np.array([at, *letters]), 1) >= _APART), ways[0])
    tip = [[x, y - 1.6], [x - 1.5, y + 1.0], [x + 1.5, y + 1.0]]
    return [
        area([tip], fill=PALE_INK),
        words((x + 2.4, y), "you", 7.0, anchor="left", colour=PALE_INK),
    ]


def _pair(values: Array) -> tuple[float, float]:
    return float(values[0]), float(values[1])
