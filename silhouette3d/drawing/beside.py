"""Loops that nearly coincide: drawn twice, not quite in the same place, or a very thin ring.

Two loops of which one was meant make a sliver of a ring where they are taken as two, and
lose one of them where they are taken as one; nobody can tell from the drawing which is
right. So both are told, with how far apart they run, along which length, and what area lies
between.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry

from silhouette3d.drawing.crowd import MOST_PAIRS, refuse
from silhouette3d.drawing.curve import Array, Curve, Point
from silhouette3d.units import CLOSE_GAP, GRID

__all__ = ["Double", "beside", "taken_as_one"]

_ALONG: Final = 20.0 * CLOSE_GAP
"""mm. Loops that run beside each other along less only come near each other there."""

_SHARE: Final = 0.1
"""Of the shorter loop's length, likewise: large circles that touch stay near for long."""

_FINER: Final = 0.02
"""Share of the tolerance to which curves are flattened to see how far apart they are."""

_MOST_POINTS: Final = 20_000
"""Of a curve that is flattened so; one that takes more is compared as it is."""


@dataclass(frozen=True)
class Double:
    """Two loops that nearly coincide.

    Parameters
    ----------
    at : tuple of float
        On the second of them, in mm.
    apart : float
        How far apart they run there, in mm.
    length : float
        Along which they do, in mm.
    area : float
        Between them, in mm².
    is_one : bool
        Whether they were taken as one loop drawn twice.
    """

    at: Point
    apart: float
    length: float
    area: float
    is_one: bool

    def moved(self, to: Callable[[Point], Point], size: float) -> Double:
        """The same on a drawing that was moved, its areas made `size` times as large."""
        longer = math.sqrt(size)
        return Double(
            to(self.at), longer * self.apart, longer * self.length, size * self.area, self.is_one
        )


def taken_as_one(
    doubles: Iterable[tuple[tuple[Geometry, Curve | None], tuple[Geometry, Curve | None]]],
    tolerance: float,
) -> list[Double]:
    """Measure how far loops that were taken as one are apart.

    Parameters
    ----------
    doubles : iterable of pairs
        A loop that was left out, and the one that stands for it: the area of each and the
        curve it was flattened from, so that chords make no difference.
    tolerance : float
        With which, in mm.
    """
    found = []
    for first, second in doubles:
        a, b = _finely(*first, tolerance), _finely(*second, tolerance)
        points = shapely.get_coordinates(a)
        far = np.atleast_1d(shapely.distance(shapely.boundary(b), shapely.points(points)))
        worst = int(np.argmax(far))
        at = float(points[worst, 0]), float(points[worst, 1])
        between = float(shapely.area(shapely.symmetric_difference(a, b, grid_size=GRID)))
        found.append(Double(at, float(far[worst]), float(shapely.length(a)), between, is_one=True))
    return found


def _finely(area: Geometry, curve: Curve | None, tolerance: float) -> Geometry:
    """A loop flattened so finely that what is left are differences of curves."""
    if curve is None or curve.count(_FINER * tolerance) > _MOST_POINTS:
        return area
    fine = shapely.Polygon(curve.flatten(_FINER * tolerance)[0])
    return fine if fine.is_valid else area


def beside(rings: Sequence[Geometry], reach: float, where: str) -> list[Double]:
    """Find loops that run further apart than `reach` mm, and no further than `CLOSE_GAP`.

    Along at least 1 mm and a tenth of the shorter loop: so that loops which touch, or
    share a side, are none.

    Parameters
    ----------
    rings : sequence of shapely geometries
        The area of each loop, none drawn twice.
    reach : float
        Nearer loops are drawn as one there, or touch.
    where : str
        The file, for messages.

    Raises
    ------
    DrawingError
        If too many loops come near each other.
    """
    if len(rings) < 2 or reach >= CLOSE_GAP:
        return []
    edges = shapely.boundary(np.array(rings))
    i, j = shapely.STRtree(edges).query(edges, predicate="dwithin", distance=CLOSE_GAP)
    i, j = i[i < j], j[i < j]
    if len(i) > MOST_PAIRS:
        refuse(MOST_PAIRS, where)
    found = (_along(edges[a], edges[b], reach) for a, b in zip(i, j, strict=True))
    return [double for double in found if double is not None]


def _along(first: Geometry, second: Geometry, reach: float) -> Double | None:
    shorter, longer = sorted((first, second), key=shapely.length)
    near = shapely.intersection(shorter, shapely.buffer(longer, CLOSE_GAP))
    between = shapely.difference(near, shapely.buffer(longer, reach))
    length = float(shapely.length(between))
    if length < max(_ALONG, _SHARE * shapely.length(shorter)):
        return None
    stretches = np.asarray(shapely.get_parts(between), object)
    lengths = shapely.length(stretches)
    middles = _middles(stretches, lengths)
    apart = shapely.distance(longer, middles)
    at = shapely.get_coordinates(middles)[int(np.argmax(lengths))]
    return Double(
        (float(at[0]), float(at[1])),
        float(apart[int(np.argmax(lengths))]),
        length,
        float(lengths @ apart),
        is_one=False,
    )


def _middles(stretches: NDArray[np.object_], lengths: Array) -> NDArray[np.object_]:
    return np.asarray(shapely.line_interpolate_point(stretches, lengths / 2.0), object)
