"""Where two lines, two circles, or a line and a circle cross."""

from __future__ import annotations

import math

import numpy as np

from silhouette3d.drawing.arcs import Simple
from silhouette3d.drawing.curve import Arc, Array, Line, Point
from silhouette3d.units import MERGE

__all__ = ["crossings"]


def crossings(first: Simple, second: Simple) -> list[Point]:
    """Where the endless lines and whole circles of two pieces cross or touch."""
    if isinstance(first, Line) and isinstance(second, Line):
        p, d = np.array(first.start), np.subtract(first.end, first.start)
        q, e = np.array(second.start), np.subtract(second.end, second.start)
        cross = float(d[0] * e[1] - d[1] * e[0])
        if abs(cross) <= 1e-12 * float(np.linalg.norm(d) * np.linalg.norm(e)):
            return []
        t = float((q - p)[0] * e[1] - (q - p)[1] * e[0]) / cross
        return [(float(p[0] + t * d[0]), float(p[1] + t * d[1]))]
    if isinstance(first, Line):
        first, second = second, first
    assert isinstance(first, Arc)
    centre, radius = np.array(first.centre), math.hypot(*first.axis_u)
    if isinstance(second, Line):
        start, way = np.array(second.start), np.subtract(second.end, second.start)
        way = way / np.linalg.norm(way)
        foot = start + float((centre - start) @ way) * way
        return _either_side(foot, way, radius**2 - float((foot - centre) @ (foot - centre)))
    other, size = np.array(second.centre), math.hypot(*second.axis_u)
    apart = other - centre
    distance = float(np.linalg.norm(apart))
    if distance == 0.0:
        return []
    along = (distance**2 + radius**2 - size**2) / (2.0 * distance)
    unit = apart / distance
    across = np.array([-unit[1], unit[0]])
    return _either_side(centre + along * unit, across, radius**2 - along**2)


def _either_side(middle: Array, way: Array, square: float) -> list[Point]:
    """The two points that lie off a middle by a distance given by its square."""
    if square < -MERGE:
        return []
    off = math.sqrt(max(square, 0.0))
    return [(float(u), float(v)) for u, v in (middle + off * way, middle - off * way)]
