"""Clipping paths of DXF block references: what of a block they leave.

Curves that lie inside the path stay as they were drawn, those outside go. Closed lines
that the path cuts are cut as areas, by even-odd, and closed along the path; so are
hatches. That is only unambiguous while the lines that are cut lie on one layer.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np
import shapely
from shapely import Geometry, LineString, MultiPolygon, Polygon

from silhouette3d.drawing.dxf.entities import EntityFrame, pairs
from silhouette3d.drawing.model import Array, Curve, Line, Piece, Sampled, Shape, Writing, polyline
from silhouette3d.drawing.outline.closing import UnclosedError, close_loops
from silhouette3d.errors import DrawingError
from silhouette3d.geometry.polygons import parts_of

__all__ = ["CannotClipError", "clip_of", "clipped", "within"]

_MOST: Final = 1_000
"""Closed lines that one path may cut; each is set against all the others."""


class CannotClipError(ValueError):
    """The clipping path cannot be followed without guessing."""


def clip_of(insert: Any, frame: EntityFrame) -> Polygon | None:
    """Give the clipping path of a block reference, if it has one that is on.

    Parameters
    ----------
    insert : Insert
        The reference.
    frame : EntityFrame
        Of what lies in its block.

    Raises
    ------
    CannotClipError
        If the path is inverted, not level, or encloses nothing.
    """
    from ezdxf.xclip import XClip

    clip = XClip(insert)
    if not (clip.has_clipping_path and clip.is_clipping_enabled):
        return None
    if clip.is_inverted_clip:
        raise CannotClipError("it is inverted")
    try:
        corners = np.array(pairs(clip.get_block_clipping_path().vertices))
        plane = frame.plane(0.0)
        area = Polygon(corners @ plane[:, :2].T + plane[:, 2])
    except (ArithmeticError, LookupError, TypeError, ValueError, shapely.GEOSException) as error:
        raise CannotClipError(f"it cannot be read: {error}") from None
    if not (area.is_valid and area.area > 0.0):
        raise CannotClipError("it crosses itself or encloses nothing")
    shapely.prepare(area)
    return area


def within(writings: Iterable[Writing], area: Polygon) -> list[Writing]:
    """Give the lines of text that begin inside an area."""
    return [w for w in writings if shapely.intersects_xy(area, *w.matrix[4:])]


def clipped(shapes: Sequence[Shape], area: Polygon, tolerance: float) -> list[Shape]:
    """Give what of some shapes lies inside an area.

    Parameters
    ----------
    shapes : sequence of Shape
        In mm.
    area : Polygon
        Inside the clipping path.
    tolerance : float
        Largest gap in mm between a curve that is cut and its chords.

    Raises
    ------
    CannotClipError
        If closed lines of several layers, or too many of them, are cut.
    """
    try:
        return _clipped(shapes, area, tolerance)
    except shapely.GEOSException as error:
        raise CannotClipError(f"its shapes cannot be cut: {error}") from None


def _clipped(shapes: Sequence[Shape], area: Polygon, tolerance: float) -> list[Shape]:
    kept: list[Shape] = []
    cut: list[Shape] = []
    for shape in shapes:
        outline = [LineString(curve.flatten(tolerance)[0]) for curve in shape.curves]
        if shapely.covers(area, outline).all():
            kept.append(shape)
        elif shape.fill is not None:
            kept += _filled(shape, outline, area, tolerance)
        else:
            cut.append(shape)
    return kept + _lines(cut, area, tolerance)


def _filled(
    shape: Shape, outline: Sequence[LineString], area: Polygon, tolerance: float
) -> Iterator[Shape]:
    rings = [Polygon(line.coords) for line in outline if line.is_ring]
    inside = shapely.intersection(_even_odd(rings), area)
    yield from _as_shape(inside, shape, tolerance)


def _lines(shapes: Sequence[Shape], area: Polygon, tolerance: float) -> list[Shape]:
    """Clip lines that reach beyond the path: closed ones as areas, open ones shortened."""
    found: list[Shape] = []
    closed: list[Shape] = []
    for layer in dict.fromkeys(shape.layer for shape in shapes):
        on_it = [shape for shape in shapes if shape.layer == layer]
        loops = [s for s in on_it if all(c.is_closed for c in s.curves)]
        apart = [s for s in on_it if s not in loops]
        try:
            joined = close_loops([c for s in apart for c in s.curves], tolerance, "")
            closed += loops + [replace(apart[0], curves=(curve,)) for curve in joined.loops]
        except (DrawingError, UnclosedError):
            closed += loops
            found += [part for shape in apart for part in _shortened(shape, area, tolerance)]
    touched = [s for s in closed if shapely.intersects(area, _ring(s, tolerance))]
    if len({s.layer for s in touched}) > 1:
        raise CannotClipError("it cuts closed lines on more than one layer")
    if len(touched) > _MOST:
        raise CannotClipError(f"it cuts more than {_MOST:,} closed lines")
    if touched:
        inside = shapely.intersection(_even_odd([_ring(s, tolerance) for s in touched]), area)
        found += _as_shape(inside, touched[0], tolerance)
    return found


def _ring(shape: Shape, tolerance: float) -> Polygon:
    return Polygon(shape.curves[0].flatten(tolerance)[0])


def _even_odd(rings: Sequence[Polygon]) -> Geometry:
    area: Geometry = MultiPolygon()
    for ring in shapely.make_valid(np.array(rings, object)):
        area = shapely.symmetric_difference(area, ring)
    return area


def _as_shape(inside: Geometry, like: Shape, tolerance: float) -> Iterator[Shape]:
    """Make one shape of an area, that looks like the one that was cut."""
    rings = [ring for part in parts_of(inside) for ring in (part.exterior, *part.interiors)]
    curves = (
        _curve(shapely.get_coordinates(ring), like, tolerance) for ring in rings if ring.length
    )
    found = tuple(curves)
    if found:
        yield replace(like, curves=found, fill="evenodd")


def _shortened(shape: Shape, area: Polygon, tolerance: float) -> Iterator[Shape]:
    for curve in shape.curves:
        line = LineString(curve.flatten(tolerance)[0])
        for part in shapely.get_parts(shapely.intersection(line, area)):
            if isinstance(part, LineString) and part.length > 0.0:
                points = shapely.get_coordinates(part)
                yield replace(shape, curves=(_curve(points, shape, tolerance),))


def _curve(points: Array, like: Shape, tolerance: float) -> Curve:
    straight = all(isinstance(piece, Line) for curve in like.curves for piece in curve.pieces)
    chain: tuple[Piece, ...] = polyline(pairs(points))
    if not straight:
        chain = (Sampled(tuple(pairs(points)), tolerance),)
    return Curve(chain, like.layer, like.curves[0].source)
