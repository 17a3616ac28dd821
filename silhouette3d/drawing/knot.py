"""Thin loops in which an outline crosses itself, cut off.

Problem: where coordinates were rounded, ends that should meet lie a little past each other
and the lines cross right beside them; or a line runs back along itself, not quite on itself.
Method: between its two passages through a crossing a loop goes two ways. The thinner of them
is dropped if it is nowhere wider than a gap that would be joined, however far it reaches.
Invariant: each knot that is cut off takes at least one passage through another side away.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from shapely import Geometry

from silhouette3d.drawing.crowd import refuse_tangle, sides_of
from silhouette3d.drawing.curve import Array, Point
from silhouette3d.units import CLOSE_GAP, MERGE

__all__ = ["Knot", "untied"]

_MOST: Final = 100
"""Of one loop: each is looked for anew. A loop with more was not meant to be an outline."""


@dataclass(frozen=True)
class Knot:
    """What was cut off.

    Parameters
    ----------
    at : tuple of float
        Where the loop crosses itself, in mm.
    width : float
        Diameter of the largest disc in what it encloses, in mm.
    reach : float
        How far it strays from the crossing, in mm.
    length : float
        All round, in mm.
    """

    at: Point
    width: float
    reach: float
    length: float

    @property
    def area(self) -> float:
        """Bound on what it encloses, in mm², counted as often as it is gone round.

        A line that crosses itself is simple loops, one after the other. No point inside any
        of them is further from it than half the width, and what lies inside a loop within r
        of it is no larger than r times its length.
        """
        return self.width * self.length / 2.0


def untied(points: Array, where: str) -> tuple[Array, tuple[Knot, ...], Point | None]:
    """A loop without its knots.

    Parameters
    ----------
    points : (n, 2) array
        Of a closed loop, the last not the first again, in mm.
    where : str
        The file, for messages.

    Returns
    -------
    points : (m, 2) array
        What is left.
    knots : tuple of Knot
        What was cut off.
    crossing : tuple of float or None
        Where it still crosses itself.

    Raises
    ------
    DrawingError
        If its lines lie across each other in too many places.
    """
    knots: list[Knot] = []
    while (found := _crossing(points, where)) is not None:
        i, j, at = found
        ways = [points[i + 1 : j + 1], np.vstack([points[j + 1 :], points[: i + 1]])]
        loops = [_enclosed(np.vstack([at, way])) for way in ways]
        thin = min((0, 1), key=lambda k: (_is_wide(loops[k]), shapely.area(loops[k])))
        if _is_wide(loops[thin]) or len(knots) == _MOST:
            return points, tuple(knots), at
        knots.append(_knot(at, ways[thin], loops[thin]))
        points = np.vstack([at, ways[1 - thin]])
    return points, tuple(knots), None


def _enclosed(points: Array) -> Geometry:
    """What a closed way goes round, however often; empty if it only runs out and back."""
    if len(points) < 3:
        return shapely.MultiPolygon()
    line = shapely.LineString(np.vstack([points, points[:1]]))
    return shapely.union_all(shapely.get_parts(shapely.polygonize([shapely.node(line)])))


def _is_wide(area: Geometry) -> bool:
    """Whether a disc wider than a gap that would be joined fits into it."""
    return not shapely.buffer(area, -CLOSE_GAP / 2.0).is_empty


def _knot(at: Point, way: Array, area: Geometry) -> Knot:
    around = np.vstack([at, way, at])
    parts = np.asarray(shapely.get_parts(area), object)
    parts = parts[~shapely.is_empty(parts)]  # what encloses nothing can be an empty part
    radii = shapely.length(shapely.maximum_inscribed_circle(parts, np.full(len(parts), MERGE)))
    return Knot(
        at,
        2.0 * (float(np.max(radii, initial=0.0)) + MERGE),
        float(np.linalg.norm(way - at, axis=1).max()),
        float(np.linalg.norm(np.diff(around, axis=0), axis=1).sum()),
    )


def _crossing(points: Array, where: str) -> tuple[int, int, Point] | None:
    """Which side of a loop passes through which later one, and where.

    Passages within `MERGE` of an end are touches.
    """
    around = np.vstack([points, points[:1]])
    ends = np.stack([around[:-1], around[1:]], axis=1)
    refuse_tangle([around], where)
    sides = sides_of([around])
    i, j = shapely.STRtree(sides).query(sides, predicate="crosses")
    here = shapely.get_coordinates(shapely.intersection(sides[i], sides[j]))
    steps = here[:, None] - np.concatenate([ends[i], ends[j]], axis=1)
    inside = np.nonzero(np.linalg.norm(steps, axis=2).min(axis=1) > MERGE)[0]
    if not len(inside):
        return None
    first, second = sorted((int(i[inside[0]]), int(j[inside[0]])))
    return first, second, (float(here[inside[0], 0]), float(here[inside[0], 1]))
