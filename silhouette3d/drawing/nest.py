"""From loops to areas: what is material and what is a hole.

Decided by even-odd nesting: the outermost loops hold material, what lies in
them is a hole, what lies in a hole is an island. Loops that overlap each other
in part are merged. Areas are joined and compared on the grid of placed
outlines: without a grid GEOS can go wrong where sides nearly coincide.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry, MultiPolygon, Polygon

from silhouette3d.drawing.crowd import (
    MOST_MEETINGS,
    MOST_PAIRS,
    refuse,
    refuse_crowd,
    refuse_tangle,
)
from silhouette3d.drawing.curve import Array, Point
from silhouette3d.drawing.drawing import FillRule
from silhouette3d.errors import DrawingError
from silhouette3d.limits import NESTING
from silhouette3d.units import GRID, MERGE


def filled_by_rule(rings: Sequence[Geometry], fill: FillRule, where: str) -> list[Geometry]:
    """The loops that bound what one object's fill rule calls inside.

    Parameters
    ----------
    rings : sequence of shapely geometries
        The area of each loop; its exterior runs as the loop was drawn.
    fill : {"evenodd", "nonzero"}
        As SVG defines them.
    where : str
        The file, for messages.

    Raises
    ------
    DrawingError
        If they lie across each other in too many places.
    """
    if len(rings) < 2:
        return list(rings)
    refuse_crowd(np.array(rings), "intersects", MOST_MEETINGS, where)
    refuse_tangle(_boundaries(rings), where)
    lines = shapely.GeometryCollection([shapely.boundary(ring) for ring in rings])
    faces = shapely.get_parts(shapely.polygonize([shapely.node(lines)]))
    signs = np.array([1 if shapely.get_parts(r)[0].exterior.is_ccw else -1 for r in rings])
    face, ring = shapely.STRtree(rings).query(shapely.point_on_surface(faces), predicate="within")
    if fill == "evenodd":
        inside = np.bincount(face, minlength=len(faces)) % 2 == 1
    else:
        inside = np.bincount(face, signs[ring], minlength=len(faces)) != 0
    united = shapely.union_all(faces[inside])
    return [
        Polygon(ring) for part in _polygons(united) for ring in (part.exterior, *part.interiors)
    ]


def wound_by_rule(loops: Sequence[Array], fill: FillRule, where: str) -> list[Geometry]:
    """Give the loops that bound what one object's fill rule calls inside, where its loops cross.

    Takes and raises what `area_by_rule` does.
    """
    area = area_by_rule(loops, fill, where)
    rings = [Polygon(ring) for part in area.geoms for ring in (part.exterior, *part.interiors)]
    return [ring for ring in rings if ring.area > MERGE * ring.length]


def area_by_rule(loops: Sequence[Array], fill: FillRule, where: str) -> MultiPolygon:
    """Give the area that a fill rule calls inside, of loops that may cross.

    Parameters
    ----------
    loops : sequence of (n, 2) arrays
        Points round each loop in mm, as it was drawn, the last the first again but for
        rounding. They may cross themselves and each other.
    fill : {"evenodd", "nonzero"}
        As SVG defines them.
    where : str
        The file, for messages.

    Raises
    ------
    DrawingError
        If they lie across each other in too many places.
    """
    loops = [np.vstack([points[:-1], points[:1]]) for points in loops]
    refuse_tangle(loops, where)
    lines = shapely.union_all([shapely.LineString(points) for points in loops], grid_size=GRID)
    faces = shapely.get_parts(shapely.polygonize([lines]))
    turns = _turns(shapely.get_coordinates(shapely.point_on_surface(faces)), loops)
    inside = turns % 2 == 1 if fill == "evenodd" else turns != 0
    return MultiPolygon(_polygons(shapely.union_all(faces[inside], grid_size=GRID)))


def _turns(points: Array, loops: Sequence[Array]) -> NDArray[np.int64]:
    """How often loops go round each point, counter-clockwise positive.

    A ray from the point to the right is crossed upwards once more than downwards for each turn.
    """
    starts = np.concatenate([loop[:-1] for loop in loops])
    stops = np.concatenate([loop[1:] for loop in loops])
    turns = np.zeros(len(points), np.int64)
    for i, (u, v) in enumerate(points):
        up, down = (starts[:, 1] <= v) & (stops[:, 1] > v), (stops[:, 1] <= v) & (starts[:, 1] > v)
        passing = np.nonzero(up | down)[0]
        (u0, v0), (u1, v1) = starts[passing].T, stops[passing].T
        right = u0 + (v - v0) / (v1 - v0) * (u1 - u0) > u
        turns[i] = np.count_nonzero(up[passing] & right) - np.count_nonzero(down[passing] & right)
    return turns


def _boundaries(rings: Sequence[Geometry]) -> list[Array]:
    lines = shapely.get_parts(shapely.boundary(np.array(rings)))
    return [shapely.get_coordinates(line) for line in lines]


def once(rings: Sequence[Geometry], reach: float, where: str) -> list[Geometry]:
    """Without those that keep within `reach` mm of an earlier one: drawn twice."""
    if not rings:
        return []
    every = _unlike(np.array(rings))
    refuse_crowd(every, "intersects", MOST_MEETINGS, where)
    areas, room = shapely.area(every), reach * shapely.length(every)
    later, earlier = shapely.STRtree(every).query(every, predicate="intersects")
    alike = (later > earlier) & (np.abs(areas[later] - areas[earlier]) <= room[later])
    later, earlier = later[alike], earlier[alike]
    if len(later) > MOST_PAIRS:
        refuse(MOST_PAIRS, where)
    between = shapely.symmetric_difference(every[later], every[earlier], grid_size=GRID)
    return list(np.delete(every, later[_thin(between, reach)]))


def _unlike(rings: NDArray[np.object_]) -> NDArray[np.object_]:
    """The first of those that are the same to the last digit, in order."""
    texts = shapely.to_wkb(shapely.normalize(rings))
    return rings[np.sort(np.unique(np.asarray(texts, object), return_index=True)[1])]


def nest(rings: Sequence[Geometry], reach: float, where: str) -> tuple[MultiPolygon, Point | None]:
    """The material: loops of depth 0 less those of depth 1 and with those of depth 2, and so on.

    Parameters
    ----------
    rings : sequence of shapely geometries
        The area of each loop.
    reach : float
        What lies in another loop but for a strip of this width, in mm, lies in it.
    where : str
        The file, for messages.

    Returns
    -------
    shapely.MultiPolygon
        The material.
    tuple of float, optional
        A point where two loops overlap in part.

    Raises
    ------
    DrawingError
        If they lie in each other deeper than the limit.
    """
    if not rings:
        return MultiPolygon(), None
    every = np.array(rings)
    depth, overlap = _depths(every, reach, where)
    if depth.max() > NESTING.value:
        raise DrawingError(
            f"its loops lie in each other more than {NESTING.value} deep",
            where=where,
            todo=f"leave only the outline on its layer, {NESTING.raised}",
        )
    result: Geometry = MultiPolygon()
    for level in range(int(depth.max()) + 1):
        layer = shapely.union_all(every[depth == level], grid_size=GRID)
        joined = shapely.difference if level % 2 else shapely.union
        result = joined(result, layer, grid_size=GRID)
    return MultiPolygon(_polygons(result)), overlap


def _depths(
    rings: NDArray[np.object_], reach: float, where: str
) -> tuple[NDArray[np.int64], Point | None]:
    """In how many others each loop lies, and a point where two overlap in part."""
    tree = shapely.STRtree(rings)
    inner, outer = tree.query(rings, predicate="covered_by")
    inner = inner[inner != outer]
    i, j = tree.query(rings, predicate="overlaps")
    if len(i) > 2 * MOST_PAIRS:  # each is found from both sides
        refuse(MOST_PAIRS, where)
    inside = _thin(shapely.difference(rings[i], rings[j], grid_size=GRID), reach)
    depth = np.bincount(np.concatenate([inner, i[inside]]), minlength=len(rings))
    settled = {frozenset(pair) for pair in zip(i[inside], j[inside], strict=True)}
    common = shapely.intersection(rings[i], rings[j], grid_size=GRID)
    for k in np.nonzero(~inside & ~_thin(common, reach))[0]:
        if {i[k], j[k]} not in settled:
            point = shapely.point_on_surface(common[k])
            return depth, (float(point.x), float(point.y))
    return depth, None


def _thin(areas: NDArray[np.object_], width: float) -> NDArray[np.bool_]:
    """Which of the areas are nowhere wider than this."""
    return np.asarray(shapely.is_empty(shapely.buffer(areas, -width / 2.0)))


def _polygons(area: Geometry) -> list[Polygon]:
    return [p for p in shapely.get_parts(area) if isinstance(p, Polygon) and not p.is_empty]
