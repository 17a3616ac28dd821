"""Nesting: from loops to areas, what is material and what is a hole.

Problem: loops lie in each other, touch and overlap; which points are inside?

Method: by even-odd nesting: the outermost loops hold material, what lies in them is a hole, what
lies in a hole is an island. A tree of loops gives the pairs that may meet; for each pair one
question tells whether one lies in the other or they overlap in part. Overlapping loops are
united, unless somebody has declared otherwise. Areas are joined and compared on the grid of placed
outlines: without a grid GEOS can go wrong where sides nearly coincide.

Invariant: the depth of a loop is the number of others that it lies in; for loops that do not
overlap, a point is inside exactly if an odd number of them go round it.

Complexity: O(n log n + k) for n loops of which k pairs have boxes that meet, each compared in time
of their corners.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry, MultiPolygon, Polygon

from silhouette3d.base.limits import NESTING
from silhouette3d.drawing.choice import Overlap
from silhouette3d.drawing.model import Array, FillRule, Point
from silhouette3d.drawing.outline.loops import (
    MOST_MEETINGS,
    MOST_PAIRS,
    refuse,
    refuse_crowd,
    refuse_tangle,
)
from silhouette3d.errors import DrawingError
from silhouette3d.geometry.polygons import parts_of, polygons_of
from silhouette3d.geometry.tolerances import GRID, MERGE


def filled_by_rule(rings: Sequence[Geometry], fill: FillRule, where: str) -> list[Geometry]:
    """Find the loops that bound what one object's fill rule calls inside.

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
    return [Polygon(ring) for part in parts_of(united) for ring in (part.exterior, *part.interiors)]


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
    return polygons_of(shapely.union_all(faces[inside], grid_size=GRID))


def _turns(points: Array, loops: Sequence[Array]) -> NDArray[np.int64]:
    """Count how often loops go round each point, counter-clockwise positive.

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


def once(
    rings: Sequence[Geometry], reach: float, where: str
) -> tuple[list[int], list[tuple[int, int]]]:
    """Find which loops keep within `reach` mm of an earlier one: they are drawn twice.

    Returns
    -------
    kept : list of int
        Which are not.
    doubles : list of (int, int)
        Of the others, those that are not the same to the last digit, each with an earlier one.
    """
    if not rings:
        return [], []
    every = np.array(rings)
    first = _unlike(every)
    some = every[first]
    refuse_crowd(some, "intersects", MOST_MEETINGS, where)
    areas, room = shapely.area(some), reach * shapely.length(some)
    later, earlier = shapely.STRtree(some).query(some, predicate="intersects")
    alike = (later > earlier) & (np.abs(areas[later] - areas[earlier]) <= room[later])
    later, earlier = later[alike], earlier[alike]
    if len(later) > MOST_PAIRS:
        refuse(MOST_PAIRS, where)
    between = shapely.symmetric_difference(some[later], some[earlier], grid_size=GRID)
    twice = thin(between, reach)
    doubles = dict(zip(later[twice].tolist(), earlier[twice].tolist(), strict=True))
    kept = [int(i) for k, i in enumerate(first) if k not in doubles]
    return kept, [(int(first[k]), int(first[j])) for k, j in doubles.items()]


def _unlike(rings: NDArray[np.object_]) -> NDArray[np.int64]:
    """Keep the first of those that are equal to the last digit, in order, by their numbers."""
    texts = shapely.to_wkb(shapely.normalize(rings))
    return np.sort(np.unique(np.asarray(texts, object), return_index=True)[1]).astype(np.int64)


@dataclass(frozen=True)
class Common:
    """Two loops that overlap in part.

    Parameters
    ----------
    at : tuple of float
        A point in both, in mm.
    area : float
        What they have in common, in mm².
    """

    at: Point
    area: float


def nest(
    rings: Sequence[Geometry], reach: float, where: str, overlap: Overlap = "union"
) -> tuple[MultiPolygon, tuple[Common, ...]]:
    """Make material of loops: of depth 0 less those of depth 1, with those of depth 2, and so on.

    Loops that overlap in part and lie in as many others make

    - ``"union"``: one loop together;
    - ``"subtract"``: where they hold material, the larger one less the smaller one; a loop
      that only overlaps loops that are subtracted holds material. Where they are holes,
      one hole;
    - ``"even-odd"``: what lies in an odd number of them, wherever they lie.

    Parameters
    ----------
    rings : sequence of shapely geometries
        The area of each loop.
    reach : float
        What lies in another loop but for a strip of this width, in mm, lies in it.
    where : str
        The file, for messages.
    overlap : {"union", "subtract", "even-odd"}
        See above.

    Returns
    -------
    shapely.MultiPolygon
        The material.
    tuple of Common
        Loops that overlap in part, largest common area first.

    Raises
    ------
    DrawingError
        If they lie in each other deeper than the limit.
    """
    if not rings:
        return MultiPolygon(), ()
    every = np.array(rings)
    depth, pairs, common = _depths(every, reach, where)
    told = tuple(sorted(common, key=lambda one: -one.area))
    if overlap == "even-odd" and pairs:
        every = np.array(_unravelled(every, pairs))
        depth, pairs, _ = _depths(every, reach, where)
    if depth.max() > NESTING.value:
        raise DrawingError(
            f"its loops lie in each other more than {NESTING.value} deep",
            where=where,
            todo=f"leave only the outline on its layer, {NESTING.raised}",
        )
    cuts = _cuts(every, depth, pairs) if overlap == "subtract" else np.zeros(len(every), bool)
    result: Geometry = MultiPolygon()
    for level in range(int(depth.max()) + 1):
        here = depth == level
        layer = shapely.union_all(every[here & ~cuts], grid_size=GRID)
        if (here & cuts).any():
            less = shapely.union_all(every[here & cuts], grid_size=GRID)
            layer = shapely.difference(layer, less, grid_size=GRID)
        joined = shapely.difference if level % 2 else shapely.union
        result = polygons_of(joined(result, layer, grid_size=GRID))
    return polygons_of(result), told


def _depths(
    rings: NDArray[np.object_], reach: float, where: str
) -> tuple[NDArray[np.int64], list[tuple[int, int]], list[Common]]:
    """Count the others that each loop lies in; find overlaps and what they have in common."""
    tree = shapely.STRtree(rings)
    inner, outer = tree.query(rings, predicate="covered_by")
    inner = inner[inner != outer]
    i, j = tree.query(rings, predicate="overlaps")
    if len(i) > 2 * MOST_PAIRS:  # each is found from both sides
        refuse(MOST_PAIRS, where)
    inside = thin(shapely.difference(rings[i], rings[j], grid_size=GRID), reach)
    depth = np.bincount(np.concatenate([inner, i[inside]]), minlength=len(rings))
    settled = {frozenset(pair) for pair in zip(i[inside], j[inside], strict=True)}
    common = shapely.intersection(rings[i], rings[j], grid_size=GRID)
    pairs, told = [], []
    for k in np.nonzero((i < j) & ~thin(common, reach))[0]:
        if {i[k], j[k]} not in settled:
            point = shapely.point_on_surface(common[k])
            pairs.append((int(i[k]), int(j[k])))
            told.append(Common((float(point.x), float(point.y)), float(shapely.area(common[k]))))
    return depth, pairs, told


def _cuts(
    rings: NDArray[np.object_], depth: NDArray[np.int64], pairs: Sequence[tuple[int, int]]
) -> NDArray[np.bool_]:
    """Choose loops to take out of larger ones of their depth, where these hold material."""
    beside: dict[int, list[int]] = defaultdict(list)
    for i, j in pairs:
        if depth[i] == depth[j] and depth[i] % 2 == 0:
            beside[i].append(j)
            beside[j].append(i)
    cuts = np.zeros(len(rings), bool)
    done: set[int] = set()
    for i in sorted(beside, key=lambda k: (-shapely.area(rings[k]), k)):
        cuts[i] = any(j in done and not cuts[j] for j in beside[i])
        done.add(i)
    return cuts


def _unravelled(rings: NDArray[np.object_], pairs: Sequence[tuple[int, int]]) -> list[Geometry]:
    """Turn loops that overlap into borders of what lies in an odd number of them."""
    beside: dict[int, set[int]] = defaultdict(set)
    for i, j in pairs:
        beside[i].add(j)
        beside[j].add(i)
    made = [ring for k, ring in enumerate(rings) if k not in beside]
    while beside:
        together, new = set[int](), {next(iter(beside))}
        while new:
            together |= new
            new = {j for i in new for j in beside[i]} - together
        for i in together:
            del beside[i]
        odd: Geometry = MultiPolygon()
        for i in sorted(together):
            odd = polygons_of(shapely.symmetric_difference(odd, rings[i], grid_size=GRID))
        for part in parts_of(odd):
            made += [Polygon(ring) for ring in (part.exterior, *part.interiors)]
    return made


def thin(areas: NDArray[np.object_], width: float) -> NDArray[np.bool_]:
    """Tell which areas are nowhere wider than this."""
    return np.asarray(shapely.is_empty(shapely.buffer(areas, -width / 2.0)))
