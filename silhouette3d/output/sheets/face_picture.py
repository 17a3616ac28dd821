"""The face as the operator sees it from above, and the outline as its file shows it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
import shapely
from shapely import affinity

from silhouette3d.cutting.kerf import Cut
from silhouette3d.cutting.runs import Start
from silhouette3d.cutting.tabs import kept
from silhouette3d.output.sheets.dimension import LEVEL, dimension
from silhouette3d.output.sheets.plot import Item, Plot, area, datum, disc, line, sketch
from silhouette3d.output.sheets.setup import Setup
from silhouette3d.quantity import Scale
from silhouette3d.theme import INK, OUTLINE, PALE_INK, PART, STOCK, TAB
from silhouette3d.units import MERGE
from silhouette3d.view import Array

_BELOW: Final = 3 * LEVEL + 3.0
_MARGIN: Final = (_BELOW, 8.0, _BELOW, 5.0)
_CLAMP: Final = 3.0
"""mm of paper: how far a clamp's hatching stands out from a side."""

CLAMP_COLOUR: Final = PALE_INK


def face_picture(setup: Setup, say: Scale, room: tuple[float, float]) -> Item:
    """The face with outline, tabs, datum, clamps, and extents from the datum."""
    profile, plot = setup.profile, _fitted(setup, room)
    items = [*_clamps(setup, plot)]
    items.append(plot.area(profile.area, fill=PART, line=OUTLINE, width=1.0))
    items += _stock(setup, plot)
    if setup.cut is not None:
        items += _tabs(setup.cut, plot)
    if setup.stage is not None:
        for run in setup.stage.runs:
            items += plot.lines(run.line, line=INK, width=0.5, dash="path")
        for run in setup.stage.runs:
            items += _start(run.start, plot.spot(run.first))
    items += datum(plot.spot((0.0, 0.0)))
    items += _extents(setup, plot, say)
    return plot.picture(items)


def face_scale(setup: Setup, room: tuple[float, float]) -> float:
    """Tell how many mm of paper one mm of the face takes where it fills some room of paper."""
    return _fitted(setup, room).scale


def _fitted(setup: Setup, room: tuple[float, float]) -> Plot:
    """The face and the outline in some room of paper."""
    width, height = setup.profile.face.size
    u0, v0, u1, v1 = shapely.bounds(setup.profile.area).tolist()
    low, high = (min(0.0, u0), min(0.0, v0)), (max(width, u1), max(height, v1))
    return Plot.fitted(low, high, room, _MARGIN)


def _stock(setup: Setup, plot: Plot) -> list[Item]:
    """The stock's face, and its shadow where that is another."""
    stock, profile = setup.part.stock, setup.profile
    box, shadow = shapely.box(0.0, 0.0, *profile.face.size), stock.shadow(profile.view)
    style = {"line": STOCK, "width": 0.8, "dash": "stock"}
    items = [plot.area(box, **style)]
    if box.area - shadow.area > stock.tolerance * box.length:
        items.append(plot.area(shadow, **style))
    return items


def _extents(setup: Setup, plot: Plot, say: Scale) -> list[Item]:
    """First and last extents of the outline and the face's size, each from the datum."""
    points = shapely.get_coordinates(setup.profile.area)
    width, height = setup.profile.face.size
    across = (_extreme(points, 0, np.min), _extreme(points, 0, np.max), (width, 0.0))
    upwards = (_extreme(points, 1, np.min), _extreme(points, 1, np.max), (0.0, height))
    items: list[Item] = []
    for level, (u, v) in enumerate(across, start=1):
        items += dimension(plot, (0.0, 0.0), (u, v), "below", level, say.own(u))
    for level, (u, v) in enumerate(upwards, start=1):
        items += dimension(plot, (0.0, 0.0), (u, v), "left", level, say.own(v))
    return items


def _extreme(points: Array, axis: int, which: Callable[[Array], float]) -> tuple[float, float]:
    """The point furthest out along an axis; of several the one nearest to the dimension line."""
    end = which(points[:, axis])
    there = points[np.abs(points[:, axis] - end) < MERGE]
    u, v = there[int(np.argmin(there[:, 1 - axis]))]
    return float(u), float(v)


def _tabs(cut: Cut, plot: Plot) -> list[Item]:
    """The tabs that the way of the cutter's middle leaves out."""
    items: list[Item] = []
    for tab in cut.tabs:
        thick = max(cut.kerf * plot.scale, 1.1)
        points = plot.at(shapely.get_coordinates(kept(cut, tab)))
        items.append(line(points, line=TAB, width=thick / 0.3528))
        items.append(disc(plot.spot(tab.at), 2.2, line=TAB, width=0.8))
    return items


def _start(start: Start, spot: tuple[float, float]) -> list[Item]:
    """A triangle where a cut runs in from the edge, a ringed dot where it pierces."""
    x, y = spot
    if start == "edge":
        return [area([[[x, y - 1.3], [x - 1.2, y + 0.9], [x + 1.2, y + 0.9]]], fill=INK)]
    return [disc((x, y), 1.2, fill="#FFFFFF", line=INK, width=0.7), disc((x, y), 0.45, fill=INK)]


def _clamps(setup: Setup, plot: Plot) -> list[Item]:
    """Hatched strips along the sides that clamps press on, hatched pads on the face."""
    width, height = setup.profile.face.size
    (x0, y1), (x1, y0) = plot.spot((0.0, 0.0)), plot.spot((width, height))
    strips = {
        "left": (x0 - _CLAMP, y0, x0, y1),
        "right": (x1, y0, x1 + _CLAMP, y1),
        "bottom": (x0, y1, x1, y1 + _CLAMP),
        "top": (x0, y0 - _CLAMP, x1, y0),
    }
    items: list[Item] = []
    for clamp in setup.spec.clamp or ():
        if isinstance(clamp, str):
            box = strips[clamp]
        else:
            (a, d), (c, b) = plot.spot(clamp[:2]), plot.spot(clamp[2:])
            box = (a, b, c, d)
        items += hatched(box)
    return items


def hatched(box: tuple[float, float, float, float]) -> list[Item]:
    """A rectangle of paper with slanting lines, 1.5 mm apart."""
    x0, y0, x1, y1 = box
    shape = shapely.box(*box)
    starts = np.arange(x0 - (y1 - y0), x1, 2.1)
    slants = [shapely.LineString([(x, y1), (x + (y1 - y0), y0)]) for x in starts.tolist()]
    cut = [shapely.intersection(slant, shape) for slant in slants]
    items = [
        line(shapely.get_coordinates(one).round(3).tolist(), line=CLAMP_COLOUR, width=0.4)
        for one in cut
        if one.length > 0.0
    ]
    rim = [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]
    return [*items, area([rim], line=CLAMP_COLOUR, width=0.5)]


def file_picture(setup: Setup, room: tuple[float, float]) -> Item:
    """The outline as its file shows it: before the job turns, mirrors or scales it."""
    spec, shape = setup.spec, setup.profile.area
    if spec.mirror:
        shape = affinity.scale(shape, xfact=-1.0, origin=(0.0, 0.0))
    shape = affinity.rotate(shape, -spec.turn, origin=(0.0, 0.0))
    u0, v0, u1, v1 = shapely.bounds(shape).tolist()
    plot = Plot.fitted((u0, v0), (u1, v1), room, (1.0, 1.0, 1.0, 1.0))
    return plot.picture(plot.area(shape, fill=PART, line=OUTLINE, width=0.8))


def legend(setup: Setup) -> list[tuple[Item, str]]:
    """Samples of the signs on the face that occur, each with its words."""
    size, middle = (7.0, 4.0), 2.0
    box = [[0.4, 0.6], [6.6, 0.6], [6.6, 3.4], [0.4, 3.4]]
    run = [[0.2, middle], [6.8, middle]]
    keys: list[tuple[list[Item], str]] = [
        ([area([box], fill=PART, line=OUTLINE, width=1.0)], "outline"),
        ([line(run, line=STOCK, width=0.8, dash="stock")], "stock"),
        (datum((3.5, middle)), "datum"),
    ]
    if setup.cut is not None:
        keys.append(([line(run, width=0.5, dash="path")], "cutter's middle"))
        if setup.cut.tabs:
            keys.append(([line(run, line=TAB, width=3.0)], "tab, not cut"))
    starts = {run.start for run in setup.stage.runs} if setup.stage else set()
    if "edge" in starts:
        keys.append((_start("edge", (3.5, middle)), "start from the edge"))
    if starts - {"edge"}:
        keys.append((_start("pierce", (3.5, middle)), "start by piercing"))
    if setup.spec.clamp:
        keys.append((hatched((0.4, 0.6, 6.6, 3.4)), "clamp"))
    return [(sketch(size, items), text) for items, text in keys]
