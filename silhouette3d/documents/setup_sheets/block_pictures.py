"""Pictures for the sheets: the block as it lies on the table, and the face from above."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from silhouette3d.base.quantities import Scale
from silhouette3d.documents.pictures.render import CameraFrame, Style
from silhouette3d.documents.setup_sheets.plot import (
    LEVEL,
    Item,
    Pair,
    Plot,
    area,
    badge,
    datum,
    dimension,
    disc,
    image,
    line,
    sketch,
    words,
)
from silhouette3d.documents.setup_sheets.setup import SheetSetup
from silhouette3d.errors import PictureError
from silhouette3d.geometry.frames import VIEWS, Array, View, view_along
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.tolerances import MERGE
from silhouette3d.presentation.theme import HELD, INK, OUTLINE, PALE_INK, PART, STOCK, TAB
from silhouette3d.presentation.turning import LETTERS
from silhouette3d.process.cut import Cut
from silhouette3d.process.runs import Start
from silhouette3d.process.tabs import kept

if TYPE_CHECKING:
    from silhouette3d.documents.pictures.render import CameraFrame, Studio, Style
    from silhouette3d.geometry.mesh import Mesh

# --- Rendered pictures for the sheets, kept as files until the sheets are set


DOTS: Final = 9.0
"""Pixels per mm of paper: some 230 to the inch."""

NO_PICTURE: Final = "without shaded pictures: this machine cannot draw them"


@dataclass(frozen=True)
class Gallery:
    """Draws solids into files of a folder, where the machine can.

    Parameters
    ----------
    folder : Path
        Where the files go.
    studio : Studio, optional
        None where the machine cannot draw: the sheets do without shaded pictures then.
    """

    folder: Path
    studio: Studio | None

    def draw(
        self,
        name: str,
        solids: Sequence[tuple[Mesh, Style]],
        frame: CameraFrame,
        width: float,
    ) -> str | None:
        """Draw a picture; return the name of its file and its width in mm of paper."""
        if self.studio is None:
            return None
        from matplotlib.image import imsave

        size = width * DOTS, width * DOTS * frame.height / frame.width
        pixels = self.studio.picture(
            solids, frame, (max(1, round(size[0])), max(1, round(size[1])))
        )
        imsave(self.folder / f"{name}.png", pixels)
        return f"{name}.png"


@contextmanager
def gallery(folder: Path) -> Iterator[Gallery]:
    """Open a gallery while the block lasts."""
    from silhouette3d.documents.pictures.render import Studio

    try:
        studio = Studio()
    except PictureError:
        yield Gallery(folder, None)
        return
    with studio:
        yield Gallery(folder, studio)


# --- The block as it lies on the table, seen by an operator who stands before it


_LOOK: Final = (-0.5, 1.0, -0.8)
"""From the operator's right shoulder, in the frame (right, away, up): the near side, the right
side and the face that is up are seen, and so is the corner of the datum."""

_MARGIN: Final = (8.0, 8.0, 7.0, 6.0)
_YOU: Final = 5.0
"""mm of paper from the block to the word that says where the operator stands."""


def operator_view(view: View) -> View:
    """Choose how the operator sees the block in the setup of a view."""
    look, up = np.array([_LOOK, (0.0, 0.0, 1.0)]) @ view.axes
    return view_along(look, up, f"operator, {view.name}")


def block_picture(setup: SheetSetup, gallery: Gallery, room: tuple[float, float]) -> Item:
    """Draw the block with its faces lettered and the datum marked, in some room of paper (mm)."""
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


def datum_point(setup: SheetSetup) -> Array:
    """Find the datum (3,) on the face that is up, in block coordinates in mm."""
    return setup.profile.to_block((0.0, 0.0), depth=0.0)


def _places(setup: SheetSetup, seen: View, plot: Plot) -> list[tuple[str, Pair, Pair]]:
    """List each side that is seen, its middle, and where its letter lies on paper.

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
    """Draw a letter for each side, with a line to it where it does not lie on it."""
    items: list[Item] = []
    for name, on, at in places:
        if on != at:
            items.append(line([on, at], line=PALE_INK, width=0.4))
        items += badge(at, LETTERS[name])
    return items


_APART: Final = 6.0
"""mm of paper between the middles of two letters, whose discs are 5 mm wide."""


def _apart(spots: Array, count: int | None = None) -> float:
    """Measure the least distance between any two spots, or of the first few to all others."""
    first, second = np.triu_indices(len(spots), k=1)
    apart = np.linalg.norm(spots[first] - spots[second], axis=1)
    return float(apart[first < (count or len(spots))].min())


def _shaded(setup: SheetSetup, gallery: Gallery, seen: View, plot: Plot) -> list[Item]:
    frame = CameraFrame(seen, plot.low, plot.high)
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
    """Draw the stock's edges that are seen: those of its hull, its ends, and corners of a block."""
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
            on_hull = shapely.distance(outer.exterior, shapely.Point(ends.mean(axis=0))) < MERGE
            if k != hidden and not on_hull:
                items.append(line(plot.at(ends), **style))
    return items


def _face(setup: SheetSetup, seen: View, plot: Plot) -> Item:
    """Draw the rectangle whose corner is the datum, where the stock itself has no such corner."""
    width, height = setup.profile.face.size
    ring = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
    there = [seen.to_view(setup.profile.to_block(p, depth=0.0))[:2] for p in ring]
    return area([plot.at(there)], line=PALE_INK, width=0.5, dash="stock")


def _you(setup: SheetSetup, seen: View, plot: Plot, letters: list[Pair]) -> list[Item]:
    """Mark the operator's side, in front of the lower near edge and clear of letters."""
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


# --- The face as the operator sees it from above, and the outline as its file shows it


_BELOW: Final = 3 * LEVEL + 3.0
_FACE_MARGIN: Final = (_BELOW, 8.0, _BELOW, 5.0)
_CLAMP: Final = 3.0
"""mm of paper: how far a clamp's hatching stands out from a side."""

CLAMP_COLOUR: Final = PALE_INK


def face_picture(setup: SheetSetup, say: Scale, room: tuple[float, float]) -> Item:
    """Draw the face with outline, tabs, datum, clamps, and extents from the datum."""
    profile, plot = setup.profile, _fitted(setup, room)
    items = [*_clamps(setup, plot)]
    items.append(plot.area(profile.area, fill=PART, line=OUTLINE, width=1.0))
    items += _stock(setup, plot)
    if setup.cut is not None:
        items += _tabs(setup.cut, plot)
    if setup.stage is not None:
        for run in setup.stage.runs:
            items += plot.lines(run.way, line=INK, width=0.5, dash="path")
        for run in setup.stage.runs:
            items += _start(run.start, plot.spot(run.begins))
    items += datum(plot.spot((0.0, 0.0)))
    items += _extents(setup, plot, say)
    return plot.picture(items)


def face_scale(setup: SheetSetup, room: tuple[float, float]) -> float:
    """Tell how many mm of paper one mm of the face takes where it fills some room of paper."""
    return _fitted(setup, room).scale


def _fitted(setup: SheetSetup, room: tuple[float, float]) -> Plot:
    """Fit the face and the outline into some room of paper."""
    width, height = setup.profile.face.size
    u0, v0, u1, v1 = shapely.bounds(setup.profile.area).tolist()
    low, high = (min(0.0, u0), min(0.0, v0)), (max(width, u1), max(height, v1))
    return Plot.fitted(low, high, room, _FACE_MARGIN)


def _stock(setup: SheetSetup, plot: Plot) -> list[Item]:
    """Draw the stock's face, and its shadow where that is another."""
    stock, profile = setup.part.stock, setup.profile
    box, shadow = shapely.box(0.0, 0.0, *profile.face.size), stock.shadow(profile.view)
    style = {"line": STOCK, "width": 0.8, "dash": "stock"}
    items = [plot.area(box, **style)]
    if box.area - shadow.area > stock.tolerance * box.length:
        items.append(plot.area(shadow, **style))
    return items


def _extents(setup: SheetSetup, plot: Plot, say: Scale) -> list[Item]:
    """Draw first and last extents of the outline and the face's size, each from the datum."""
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
    """Find the point furthest out along an axis; of several the one nearest the dimension line."""
    end = which(points[:, axis])
    there = points[np.abs(points[:, axis] - end) < MERGE]
    u, v = there[int(np.argmin(there[:, 1 - axis]))]
    return float(u), float(v)


def _tabs(cut: Cut, plot: Plot) -> list[Item]:
    """Draw the tabs that the way of the cutter's middle leaves out."""
    items: list[Item] = []
    for tab in cut.tabs:
        thick = max(cut.kerf * plot.scale, 1.1)
        points = plot.at(shapely.get_coordinates(kept(cut, tab)))
        items.append(line(points, line=TAB, width=thick / 0.3528))
        items.append(disc(plot.spot(tab.at), 2.2, line=TAB, width=0.8))
    return items


def _start(start: Start, spot: tuple[float, float]) -> list[Item]:
    """Draw a triangle where a run comes in from the edge; else a ring, dotted if without a hole."""
    x, y = spot
    if start == "edge":
        return [area([[[x, y - 1.3], [x - 1.2, y + 0.9], [x + 1.2, y + 0.9]]], fill=INK)]
    ring = disc((x, y), 1.2, fill="#FFFFFF", line=INK, width=0.7)
    return [ring] if start == "drilled" else [ring, disc((x, y), 0.45, fill=INK)]


def _clamps(setup: SheetSetup, plot: Plot) -> list[Item]:
    """Draw hatched strips along the sides that clamps press on, hatched pads on the face."""
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
    """Hatch a rectangle of paper with slanting lines, 1.5 mm apart."""
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


def file_picture(setup: SheetSetup, room: tuple[float, float]) -> Item:
    """Draw the outline as the drawing of the setup shows it: as it lies on the face."""
    shape = setup.profile.area
    u0, v0, u1, v1 = shapely.bounds(shape).tolist()
    plot = Plot.fitted((u0, v0), (u1, v1), room, (1.0, 1.0, 1.0, 1.0))
    return plot.picture(plot.area(shape, fill=PART, line=OUTLINE, width=0.8))


def legend(setup: SheetSetup) -> list[tuple[Item, str]]:
    """List samples of the signs on the face that occur, each with its words."""
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
    if "drilled" in starts:
        keys.append((_start("drilled", (3.5, middle)), "start hole, drilled first"))
    if starts - {"edge", "drilled"}:
        keys.append((_start("pierce", (3.5, middle)), "start by piercing"))
    if setup.spec.clamp:
        keys.append((hatched((0.4, 0.6, 6.6, 3.4)), "clamp"))
    return [(sketch(size, items), text) for items, text in keys]
