"""Set arithmetic in the plane on a grid, of which only areas are kept.

Results of GEOS hold points and lines too, where areas touch. And a few in a hundred thousand
operations on a grid fail ("side location conflict", "unable to assign free hole to a shell"),
mostly because an area that GEOS made itself crosses itself by a few steps. So each is tried
again: with areas made valid, on half the grid, and in the end on none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import shapely
from shapely import Geometry, MultiPolygon, Polygon

from silhouette3d.geometry.frames import Array


def parts_of(area: Geometry) -> list[Polygon]:
    """List the polygons of a geometry that have an area."""
    return [p for p in shapely.get_parts(area) if isinstance(p, Polygon) and p.area > 0.0]


def polygons_of(area: Geometry) -> MultiPolygon:
    """Keep the polygons of a geometry that have an area."""
    return MultiPolygon(parts_of(area))


def snapped(area: Geometry, grid: float) -> MultiPolygon:
    """Move an area onto a grid of so many mm, valid even where it touches itself.

    Raises
    ------
    shapely.errors.GEOSException
        If nothing helps; so do the others here.
    """
    return _again(lambda step, one: shapely.set_precision(one, step), grid, area)


def common(one: Geometry, other: Geometry, grid: float) -> MultiPolygon:
    """Intersect two areas on a grid of so many mm."""
    return _again(
        lambda step, a, b: shapely.intersection(a, b, grid_size=step or None), grid, one, other
    )


def less(one: Geometry, other: Geometry, grid: float) -> MultiPolygon:
    """Take one area from another on a grid of so many mm."""
    return _again(
        lambda step, a, b: shapely.difference(a, b, grid_size=step or None), grid, one, other
    )


def _again(work: Callable[..., Geometry], grid: float, *areas: Geometry) -> MultiPolygon:
    """Do it as asked, and where that fails in other ways; the last failure is raised."""
    *first, last = _ways(grid, areas)
    for step, some in first:
        try:
            return polygons_of(work(step, *some))
        except shapely.errors.GEOSException:
            continue
    step, some = last
    return polygons_of(work(step, *some))


def _ways(grid: float, areas: tuple[Geometry, ...]) -> Iterator[tuple[float, tuple[Geometry, ...]]]:
    yield grid, areas
    valid = tuple(shapely.make_valid(area, method="structure") for area in areas)
    yield from ((step, valid) for step in (grid, grid / 2.0, 0.0))


# --- Vectors of the plane


def cross(a: Array, b: Array) -> Array:
    """Multiply vectors (n, 2) crosswise: the sine (n,) of the angle from a to b, times lengths."""
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])
