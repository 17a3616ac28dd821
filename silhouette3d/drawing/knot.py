"""Tiny loops in which an outline crosses itself, cut off.

Where coordinates were rounded, ends that should meet lie a little past each other and the
lines cross right beside them. What lies between the two passages through such a crossing is
dropped if it is no larger than a gap that would be joined.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

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
    size : float
        How far it strays from there, in mm.
    """

    at: Point
    size: float

    @property
    def area(self) -> float:
        """Bound on what it encloses, in mm²: a square round the crossing."""
        return (2.0 * self.size) ** 2


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
        ways = points[i + 1 : j + 1], np.vstack([points[j + 1 :], points[: i + 1]])
        sizes = [float(np.linalg.norm(way - at, axis=1).max()) for way in ways]
        short = int(sizes[1] < sizes[0])
        if sizes[short] > CLOSE_GAP or len(knots) == _MOST:
            return points, tuple(knots), at
        knots.append(Knot(at, sizes[short]))
        points = np.vstack([at, ways[1 - short]])
    return points, tuple(knots), None


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
