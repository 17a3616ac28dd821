"""Outlines from geometry in memory, instead of from a file."""

from __future__ import annotations

import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from silhouette3d.drawing.curve import Curve, polyline
from silhouette3d.drawing.outline import Outline
from silhouette3d.errors import DrawingError

__all__ = ["outline_from"]


def outline_from(area: object, where: str = "outline") -> Outline:
    """Take a polygon as an outline, as it is.

    Parameters
    ----------
    area : shapely.Polygon, shapely.MultiPolygon or Outline
        In mm. A polygon's straight sides count as drawn: it has no area error.
    where : str
        What it is, for messages.

    Raises
    ------
    DrawingError
        If it is no polygon, is empty, or is not valid as shapely says.

    Examples
    --------
    >>> outline_from(shapely.box(0, 0, 30, 20)).polygons.area
    600.0
    """
    if isinstance(area, Outline):
        return area
    if not isinstance(area, Polygon | MultiPolygon):
        kind = area.geom_type if isinstance(area, BaseGeometry) else type(area).__name__
        raise DrawingError(
            f"it is of kind {kind}, not a polygon",
            where=where,
            todo="give a shapely Polygon or MultiPolygon, or an Outline",
        )
    if not area.is_valid:
        raise DrawingError(
            f"it is no valid polygon: {shapely.is_valid_reason(area)}",
            where=where,
            todo="mend it, for example with shapely.make_valid",
        )
    if area.is_empty or area.area <= 0.0:
        raise DrawingError("it is empty", where=where, todo="give a polygon with an area")
    polygons = MultiPolygon(list(shapely.get_parts(shapely.force_2d(area))))
    rings = [ring for p in polygons.geoms for ring in (p.exterior, *p.interiors)]
    points = [[(float(u), float(v)) for u, v in ring.coords[:-1]] for ring in rings]
    loops = tuple(Curve(polyline(p, closed=True), "", where) for p in points)
    return Outline(polygons, 0.0, loops)
