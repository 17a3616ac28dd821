"""Placing an outline on the stock: which point of the drawing lies on the datum.

The drawing is turned, mirrored and scaled about its datum. Where the datum is
named by what lies there (the corner of the stock rectangle, the bounding box
of the outline), that is taken from the drawing as it then lies, so a stock
rectangle comes to lie on the stock's face whichever way it was turned.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Final, Literal

import numpy as np
import shapely
from shapely import MultiPolygon

from silhouette3d.base.limits import FARTHEST
from silhouette3d.drawing.cache import Sheet
from silhouette3d.drawing.choice import Choice
from silhouette3d.drawing.model import Arc, Array, Curve, Drawing, Point
from silhouette3d.drawing.outline.outline import Outline, refuse_too_fine
from silhouette3d.geometry.frames import View
from silhouette3d.geometry.misfit import MisfitError
from silhouette3d.geometry.polygons import polygons_of
from silhouette3d.geometry.stock import Face, Stock
from silhouette3d.geometry.tolerances import GRID

STOCK_LAYER: Final = "STOCK"
TAB_LAYER: Final = "TABS"
_NOT_STRAIGHT: Final = 1e-6
"""Share of its bounding box by which a stock rectangle may fail to fill it."""


Assumption = Literal["unit", "page on face", "centred"]
"""What a drawing does not say: its unit; that its page, as large as the stock's face, lies on
that; or where on the face it lies."""


@dataclass(frozen=True)
class Placement:
    """Placement of an outline, taken from its drawing and laid on the stock.

    It is turned, mirrored and scaled about the datum, in this order, then shifted.

    Parameters
    ----------
    name : str
        Of the profile.
    view : View
        From where it is seen and cut.
    layers, linetypes : tuple of str, optional
        Of the objects that count; by default any, but those of stock and tabs.
    colours : tuple of str, optional
        Of the objects that count, as `spelt` gives them; by default any.
    take, open, overlap, text : str, optional
        What is made of them, as of `Choice`, and whether text is cut.
    unit_given : bool
        Whether the drawing's unit was given beside it.
    stock_layer, tab_layer : str, optional
        With the stock's face and with tabs; by default those usually called so.
    datum : tuple of float or {"centre", "corner"}, optional
        The point of the drawing in mm that lies on the datum of the face, or where its
        bounding box lies; by default as the drawing shows the stock, else centred.
    turn : float
        Degrees, counter-clockwise.
    mirror : bool
        Whether left and right change places.
    scale : float
        How much larger than drawn.
    shift : tuple of float
        Right and up on the face, in mm.
    """

    name: str
    view: View
    layers: tuple[str, ...] | None = None
    colours: tuple[str, ...] | None = None
    linetypes: tuple[str, ...] | None = None
    take: Literal["silhouette"] | None = None
    open: Literal["ignore"] | None = None
    overlap: Literal["union", "subtract", "even-odd"] | None = None
    text: Literal["outline"] | None = None
    unit_given: bool = False
    stock_layer: str | None = None
    tab_layer: str | None = None
    datum: Point | str | None = None
    turn: float = 0.0
    mirror: bool = False
    scale: float = 1.0
    shift: Point = (0.0, 0.0)


@dataclass(frozen=True)
class DrawnIn:
    """Unit in which a drawing's numbers were taken.

    Parameters
    ----------
    words : str
        The unit, as a person says it.
    mm : float
        Millimetres in one.
    stated : {"job", "file", "nowhere"}
        Who says so.
    scale : float
        By how much the job makes the drawing larger.
    """

    words: str = "millimetre"
    mm: float = 1.0
    stated: Literal["job", "file", "nowhere"] = "job"
    scale: float = 1.0


@dataclass(frozen=True, eq=False)
class Profile:
    """An outline with its view and its place on the stock.

    Parameters
    ----------
    name : str
        From the job.
    view : View
        From where it is seen and cut.
    face : Face
        The stock as seen in that view.
    outline : Outline
        As placed, in face coordinates: mm, the datum at (0, 0).
    stock_drawn : tuple of float, optional
        Width and height of the stock rectangle on the drawing, in mm.
    tab_curves : tuple of Curve
        What lies on the tab layer, in face coordinates.
    unit : DrawnIn
        In what unit the drawing's numbers were taken.
    assumed : tuple of Assumption
        What nobody said and was taken for granted.
    """

    name: str
    view: View
    face: Face
    outline: Outline
    stock_drawn: tuple[float, float] | None = None
    tab_curves: tuple[Curve, ...] = ()
    unit: DrawnIn = DrawnIn()
    assumed: tuple[Assumption, ...] = ()

    @property
    def area(self) -> MultiPolygon:
        """The outline in face coordinates."""
        return self.outline.polygons

    def to_view(self, area: MultiPolygon) -> MultiPolygon:
        """Move from face coordinates to view coordinates of the block frame, on the grid.

        Rounded once more, so that 80.3 mm from the left of a face and 0 mm from
        its right are the same number on a block 80.3 mm wide.
        """
        corner = np.asarray(self.face.corner)
        return _on_grid(shapely.transform(area, lambda points: points + corner))

    def to_face(self, area: MultiPolygon) -> MultiPolygon:
        """Move from view coordinates of the block frame to face coordinates."""
        return shapely.transform(area, lambda points: points - np.asarray(self.face.corner))

    def to_block(self, point: Point, depth: float = 0.5) -> Array:
        """Put a point of the face, at a share of the depth from the eye, into the block (3,)."""
        low, high = self.face.depth
        u, v = self.face.corner
        w = high + depth * (low - high)
        return np.asarray(self.view.to_block([point[0] + u, point[1] + v, w]))


def place(sheet: Sheet, how: Placement, tolerance: float, stock: Stock, match: float) -> Profile:
    """Place an outline of a drawing on a stock.

    Parameters
    ----------
    sheet : Sheet
        The drawing.
    how : Placement
        How it is to lie.
    tolerance : float
        Largest gap between a curve and its chords on the part, in mm.
    stock : Stock
        On which.
    match : float
        By how much, in mm, a page may differ from the stock's face and still be as large.

    Raises
    ------
    DrawingError
        If the drawing has no outline where it should.
    MisfitError
        If the outline is too long, a layer is not there, or the stock on it is no rectangle.
    """
    drawing, tolerance = sheet.drawing, tolerance / how.scale
    stock_layer = _layer(drawing, how.stock_layer, STOCK_LAYER)
    tab_layer = _layer(drawing, how.tab_layer, TAB_LAYER)
    without = [layer for layer in (stock_layer, tab_layer) if layer is not None]
    outline = sheet.outline(_choice(how, without), tolerance=tolerance, text=how.text)

    about = how.datum if isinstance(how.datum, tuple) else (0.0, 0.0)
    matrix = _turned(how, about)
    face = stock.face(how.view)
    rectangle = _rectangle(sheet, stock_layer, matrix, tolerance, ends_round=_is_end(stock, how))
    box = shapely.bounds(_moved_area(outline.polygons, matrix))
    longest = float(np.ptp(box.reshape(2, 2), axis=0).max())
    if longest > FARTHEST:
        raise MisfitError("outline-too-long", longest)
    page = _page(drawing, matrix, face, match) if rectangle is None else None
    origin = _origin(how, about, rectangle or page, box, face)
    matrix[:, 2] += np.asarray(how.shift) - origin
    tabs = drawing.on([tab_layer]) if tab_layer is not None else ()
    drawing.refuse_faults([tab_layer] if tab_layer is not None else [])
    refuse_too_fine([c for s in tabs for c in s.curves], tolerance, str(drawing.path))
    return Profile(
        how.name,
        how.view,
        face,
        _moved(outline, matrix),
        (rectangle[2] - rectangle[0], rectangle[3] - rectangle[1]) if rectangle else None,
        tuple(curve.moved(matrix) for shape in tabs for curve in shape.curves),
        _drawn_in(sheet, how),
        tuple(_assumed(how, drawing, rectangle, page)),
    )


def _drawn_in(sheet: Sheet, how: Placement) -> DrawnIn:
    drawing = sheet.drawing
    if how.unit_given or sheet.given is not None:
        return DrawnIn(drawing.unit, drawing.mm_per_unit, "job", how.scale)
    stated: Literal["file", "nowhere"] = "file" if drawing.unit_stated else "nowhere"
    return DrawnIn(drawing.unit, drawing.mm_per_unit, stated, how.scale)


def _choice(how: Placement, without: Sequence[str]) -> Choice:
    """Choose the objects of the drawing that the profile takes, and how."""
    return Choice(
        how.layers,
        tuple(without),
        how.colours,
        how.linetypes,
        how.take,
        how.open,
        how.overlap,
    )


def _page(
    drawing: Drawing, matrix: Array, face: Face, match: float
) -> tuple[float, float, float, float] | None:
    """Find the bounds of the page as the drawing lies, if it is as large as the stock's face."""
    if drawing.page is None:
        return None
    u0, v0, u1, v1 = drawing.page
    corners = np.array([(u0, v0), (u1, v0), (u1, v1), (u0, v1)]) @ matrix[:, :2].T + matrix[:, 2]
    low, size = corners.min(axis=0), np.ptp(corners, axis=0)
    sides = np.linalg.norm(np.diff(corners[:3], axis=0), axis=1)
    upright = np.allclose(np.sort(sides), np.sort(size), rtol=_NOT_STRAIGHT)
    if not upright or np.abs(size - face.size).max() > match:
        return None
    return float(low[0]), float(low[1]), float(low[0] + size[0]), float(low[1] + size[1])


def _assumed(
    how: Placement,
    drawing: Drawing,
    rectangle: tuple[float, float, float, float] | None,
    page: tuple[float, float, float, float] | None,
) -> Iterator[Assumption]:
    """Tell what nobody said and was taken for granted."""
    if not how.unit_given and not drawing.unit_stated:
        yield "unit"
    if how.datum is None and page is not None:
        yield "page on face"
    elif how.datum is None and rectangle is None:
        yield "centred"


def _layer(drawing: Drawing, asked: str | None, usual: str) -> str | None:
    """Find the layer asked for, which must exist, or the usual one if it does."""
    names = {name.casefold(): name for name in drawing.layers}
    if asked is None:
        return names.get(usual.casefold())
    if asked.casefold() not in names:
        raise MisfitError("layer-missing", subject=asked, others=drawing.layers)
    return names[asked.casefold()]


def _turned(how: Placement, about: tuple[float, float]) -> Array:
    """Make the affine map (2, 3): turned, then mirrored, then scaled about a point."""
    quarter = how.turn / 90.0
    if quarter == int(quarter):  # exact for quarter turns
        c, s = [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)][int(quarter) % 4]
    else:
        c, s = math.cos(math.radians(how.turn)), math.sin(math.radians(how.turn))
    linear = np.array([[c, -s], [s, c]]) * how.scale
    if how.mirror:
        linear[0] *= -1.0
    point = np.asarray(about)
    return np.column_stack([linear, point - linear @ point])


def _is_end(stock: Stock, how: Placement) -> bool:
    """Tell whether a profile sees the round end of a bar."""
    along = abs(float(stock.axis_view.axes[2] @ how.view.axes[2]))
    return stock.diameter is not None and math.isclose(along, 1.0)


def _circle(loops: Sequence[Curve], matrix: Array) -> tuple[float, float, float, float] | None:
    """Find the bounds of one loop that is a whole circle, if it is one."""
    arcs = [piece for loop in loops for piece in loop.moved(matrix).pieces]
    first = arcs[0] if arcs else None
    if len(loops) != 1 or not isinstance(first, Arc) or not first.is_circular:
        return None
    (u, v), radius = first.centre, math.hypot(*first.axis_u)
    points = np.array([piece.start for piece in arcs])
    off = np.abs(np.linalg.norm(points - (u, v), axis=1) - radius).max()
    if off > GRID or not all(isinstance(p, Arc) and p.is_circular for p in arcs):
        return None
    return u - radius, v - radius, u + radius, v + radius


def _rectangle(
    sheet: Sheet, layer: str | None, matrix: Array, tolerance: float, *, ends_round: bool
) -> tuple[float, float, float, float] | None:
    """Find the bounds of the stock, if drawn: a rectangle, or the circle of a bar's end."""
    if layer is None:
        return None
    found = sheet.outline(Choice((layer,)), tolerance=tolerance)
    if ends_round and (circle := _circle(found.loops, matrix)):
        return circle
    area = _moved_area(found.polygons, matrix)
    u0, v0, u1, v1 = shapely.bounds(shapely.convex_hull(area))
    hull = float(shapely.convex_hull(area).area)
    if len(area.geoms) != 1 or not math.isclose(hull, (u1 - u0) * (v1 - v0), rel_tol=_NOT_STRAIGHT):
        raise MisfitError("stock-not-upright", u0, v0, u1, v1, subject=layer)
    return float(u0), float(v0), float(u1), float(v1)


def _origin(
    how: Placement,
    about: tuple[float, float],
    rectangle: tuple[float, float, float, float] | None,
    box: Array,
    face: Face,
) -> Array:
    """Find the point of the turned drawing that comes to lie on the datum."""
    if isinstance(how.datum, tuple):
        return np.asarray(about)
    if how.datum is None and rectangle is not None:
        return np.asarray(rectangle[:2])
    if how.datum == "corner":
        return np.asarray(box[:2])
    return np.asarray((box[:2] + box[2:]) / 2.0 - np.asarray(face.size) / 2.0)


def _moved_area(area: MultiPolygon, matrix: Array) -> MultiPolygon:
    return shapely.transform(area, lambda points: points @ matrix[:, :2].T + matrix[:, 2])


def _moved(outline: Outline, matrix: Array) -> Outline:
    """Map an outline by an affine map, on the grid."""
    area = _on_grid(_moved_area(outline.polygons, matrix))
    linear = matrix[:, :2]
    gaps = [
        replace(g, start=_point(matrix, g.start), end=_point(matrix, g.end)) for g in outline.gaps
    ]
    size = abs(float(np.linalg.det(linear)))
    return replace(
        outline,
        polygons=area,
        area_error=outline.area_error * size,
        loops=tuple(loop.moved(matrix) for loop in outline.loops),
        gaps=tuple(gaps),
        overlaps=outline.overlaps and outline.overlaps.moved(partial(_point, matrix), size),
        doubles=tuple(d.moved(partial(_point, matrix), size) for d in outline.doubles),
    )


def _on_grid(area: MultiPolygon) -> MultiPolygon:
    """Round to the grid, valid even where the area touches itself."""
    return polygons_of(shapely.set_precision(area, GRID))


def _point(matrix: Array, point: Point) -> Point:
    u, v = matrix[:, :2] @ point + matrix[:, 2]
    return float(u), float(v)
