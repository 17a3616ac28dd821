"""Shapes drawn by hand for the tests of outlines, and the outlines they give."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from shapely import MultiPolygon, Polygon

from silhouette3d.drawing.choice import Choice
from silhouette3d.drawing.model import Arc, Curve, Drawing, FillRule, Point, Shape, polyline
from silhouette3d.drawing.outline.outline import Outline, outline_of
from silhouette3d.errors import DrawingError

Points = list[tuple[float, float]]
SQUARE: Points = [(0, 0), (30, 0), (30, 30), (0, 30)]
HOLE: Points = [(10, 10), (20, 10), (20, 20), (10, 20)]


def loop(points: Points, source: str = "", layer: str = "0") -> Shape:
    """A closed polyline."""
    return Shape((Curve(polyline(points, closed=True), layer, source),))


def line(*points: Point, source: str = "", layer: str = "0") -> Shape:
    """An open polyline."""
    return Shape((Curve(polyline(points), layer, source),))


def lines(points: Points, layer: str = "0") -> list[Shape]:
    """Loose lines from each point to the next, and back to the first."""
    ends = zip(points, points[1:] + points[:1], strict=True)
    return [line(a, b, source=f"line {i}", layer=layer) for i, (a, b) in enumerate(ends)]


def arcs(centre: Point, radius: float, *degrees: float) -> list[Shape]:
    """Loose arcs of a circle from each angle to the next."""
    angles = [math.radians(d) for d in degrees]
    return [
        Shape((Curve((Arc.circular(centre, radius, a, b),), "0"),)) for a, b in pairwise(angles)
    ]


def circle(centre: Point, radius: float) -> Shape:
    return Shape((Curve((Arc.circular(centre, radius),), "0"),))


def path(*rings: Points, fill: FillRule) -> Shape:
    """One object with a fill rule."""
    return Shape(tuple(Curve(polyline(r, closed=True), "0", "path") for r in rings), fill)


def outline(*shapes: Shape, tolerance: float = 0.01, **choice: Any) -> Outline:
    """Of a drawing with these shapes; `choice` as `Choice` takes it."""
    drawing = Drawing(Path("a.dxf"), shapes, "mm", True)
    return outline_of(drawing, Choice(**choice), tolerance=tolerance)


def area(*shapes: Shape) -> MultiPolygon:
    result = outline(*shapes).polygons
    assert result.is_valid
    return result


def refused(*shapes: Shape, **choice: Any) -> DrawingError:
    with pytest.raises(DrawingError) as caught:
        outline(*shapes, **choice)
    assert "a.dxf" in caught.value.where
    return caught.value


def corners(polygon: Polygon) -> Points:
    return [(float(u), float(v)) for u, v in polygon.exterior.coords[:-1]]


def turned(points: Points, degrees: float) -> Points:
    flat = np.column_stack([points, np.zeros(len(points))])
    moved = Rotation.from_euler("z", degrees, degrees=True).apply(flat)
    return [(float(x), float(y)) for x, y, _ in moved]
