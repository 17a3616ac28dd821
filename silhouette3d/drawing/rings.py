"""Closed curves as areas: flattened, checked, mended where they touch or knot.

A loop may touch itself, and run back over itself, but it may go round a point
of its area only once. Tiny knots are cut off.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Geometry, MultiPolygon, Polygon

from silhouette3d.drawing.curve import Array, Curve, Point
from silhouette3d.drawing.knot import Knot, untied
from silhouette3d.units import MERGE

__all__ = ["CrossesItselfError", "Rings", "rings_of"]


class CrossesItselfError(Exception):
    """A loop goes through itself: of line work nobody knows then what is inside.

    Parameters
    ----------
    at : tuple of float
        Where, in mm.
    loop : Curve
        Which.
    """

    def __init__(self, at: Point, loop: Curve) -> None:
        super().__init__(at, loop)
        self.at, self.loop = at, loop


@dataclass(frozen=True)
class Rings:
    """Areas of loops.

    Parameters
    ----------
    areas : tuple of shapely geometries
        The area of each loop, without holes; its exterior runs as the loop was drawn.
    drawn : tuple of Curve
        The loop of each.
    area_error : float
        Bound in mm² on what lies between all of the curves and their areas.
    knots : tuple of Knot
        What was cut off.
    """

    areas: tuple[Geometry, ...]
    drawn: tuple[Curve, ...]
    area_error: float
    knots: tuple[Knot, ...]


def rings_of(loops: Sequence[Curve], tolerance: float, where: str) -> Rings:
    """Flatten loops into areas; those that enclose nothing are left out.

    Raises
    ------
    CrossesItselfError
        If a loop does.
    DrawingError
        If its lines lie across each other in too many places.
    """
    areas: list[Geometry] = []
    drawn: list[Curve] = []
    error = 0.0
    knots: list[Knot] = []
    for loop in loops:
        points, area = loop.flatten(tolerance)
        ring, tied = _simple(_without_repeats(points), loop, where)
        if ring is not None:
            areas.append(ring)
            drawn.append(loop)
            error += area + sum(knot.area for knot in tied)
            knots += tied
    return Rings(tuple(areas), tuple(drawn), error, tuple(knots))


def _without_repeats(points: Array) -> Array:
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    return np.asarray(points[np.r_[True, steps > MERGE]])


def _simple(points: Array, loop: Curve, where: str) -> tuple[Geometry | None, tuple[Knot, ...]]:
    """Make a loop a valid area, None when it encloses nothing; give the knots cut off."""
    if len(points) > 1 and np.linalg.norm(points[-1] - points[0]) <= MERGE:
        points = points[:-1]
    if len(points) < 3:
        return None, ()
    polygon, knots = Polygon(points), tuple[Knot, ...]()
    is_valid = polygon.is_valid
    if not is_valid:
        points, knots, at = untied(points, where)
        if at is not None:
            raise CrossesItselfError(at, loop)
        if len(points) < 3:
            return None, ()
        polygon = Polygon(points)
        is_valid = polygon.is_valid
    nothing = MERGE * polygon.length
    if is_valid:
        return (polygon if polygon.area > nothing else None), knots
    mended = shapely.get_parts(shapely.get_parts(shapely.make_valid(polygon)))  # it may nest them
    area = MultiPolygon([p for p in mended if isinstance(p, Polygon) and p.area > nothing])
    if abs(area.area - polygon.area) > nothing:
        # through itself exactly in a corner, or twice round
        found = re.search(r"\[(\S+) (\S+)\]", shapely.is_valid_reason(polygon))
        at = (float(found[1]), float(found[2])) if found else loop.start
        raise CrossesItselfError(at, loop)
    whole = shapely.orient_polygons(area, exterior_cw=_clockwise(points))
    return (None if area.is_empty else whole), knots


def _clockwise(points: Array) -> bool:
    x, y = (points - points[0]).T
    return bool(x @ np.roll(y, -1) < y @ np.roll(x, -1))
