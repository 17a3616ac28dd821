"""The outermost closed regions of everything drawn, and lines left out for what is closed.

Problem: lines end on others, cross them, lie in them; from their ends nobody can tell what
the outline is, but anybody sees the silhouette. Method: all lines are cut where they meet;
what they enclose is the bounded faces of that arrangement, and the silhouette is their
union. Small gaps are bridged first, between ends and from an end to a line. Invariant: the
silhouette has no holes, and every part of its border was drawn but for these bridges.
Complexity: that of cutting n pieces with k meetings, O((n + k) log n) but for lines upon one
straight line; both are limited. Reference: the doubly connected edge list of de Berg, Cheong,
van Kreveld and Overmars, Computational Geometry, 3rd ed. 2008, chapter 2.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from silhouette3d.base.units import CLOSE_GAP
from silhouette3d.drawing.model import Array, Curve, Point
from silhouette3d.drawing.outline.closing import Gap, Joined, Net, UnclosedError, nets, unrepeated
from silhouette3d.drawing.outline.loops import refuse_to_cut
from silhouette3d.drawing.outline.nesting import thin
from silhouette3d.geometry.polygons import parts_of
from silhouette3d.geometry.tolerances import MERGE

__all__ = ["Silhouette", "enclosed", "silhouette_of", "without_open"]

_ON: Final = 2.0 * MERGE
"""mm. Points of lines that were cut lie this near to them."""


@dataclass(frozen=True)
class Silhouette:
    """Area that curves enclose, and what became of each.

    Parameters
    ----------
    polygons : shapely.MultiPolygon
        The outermost closed regions, without holes.
    border : tuple of Curve
        Curves of which some stretch is its border.
    inside : tuple of Curve
        Curves that lie in it.
    loose : tuple of Curve
        Curves of which some stretch encloses nothing and sticks out of it, or lies off it.
    gaps : tuple of Gap
        What was bridged.
    area_error : float
        Bound in mm² on what lies between the border and the curves it is made of.
    """

    polygons: MultiPolygon
    border: tuple[Curve, ...]
    inside: tuple[Curve, ...]
    loose: tuple[Curve, ...]
    gaps: tuple[Gap, ...]
    area_error: float


def silhouette_of(curves: Sequence[Curve], tolerance: float, where: str) -> Silhouette:
    """Take the outermost closed regions of curves, closed and open.

    Parameters
    ----------
    curves : sequence of Curve
        Everything drawn, in mm.
    tolerance : float
        For flattening, in mm.
    where : str
        The file, for messages.

    Raises
    ------
    DrawingError
        If they meet in more places than can be looked at.
    """
    drawn = unrepeated(curves, tolerance)
    flat = [curve.flatten(tolerance) for curve in drawn]
    gaps = _bridges(drawn, [points for points, _ in flat], where)
    chains = [points for points, _ in flat] + [np.array([g.start, g.end]) for g in gaps]
    faces, edges = _arrangement(chains, where)
    polygons = _outermost(faces)
    shapely.prepare(polygons)
    owners = _owners(edges, [points for points, _ in flat])
    middles = np.asarray(shapely.line_interpolate_point(edges, 0.5, normalized=True), object)
    on = np.asarray(shapely.dwithin(middles, shapely.boundary(polygons), _ON))
    within = np.asarray(shapely.contains_properly(polygons, middles))
    border, out = set(owners[on].tolist()), set(owners[~on & ~within].tolist())
    inside = set(owners.tolist()) - border - out
    return Silhouette(
        polygons,
        tuple(drawn[i] for i in sorted(border - {-1})),
        tuple(drawn[i] for i in sorted(inside - {-1})),
        tuple(drawn[i] for i in sorted(out - {-1})),
        tuple(gaps),
        MERGE * polygons.length + sum(flat[i][1] for i in border - {-1}),
    )


def enclosed(curves: Sequence[Curve], tolerance: float, where: str) -> MultiPolygon:
    """Give the outermost closed regions of curves; small gaps are not bridged.

    Raises
    ------
    DrawingError
        If they meet in more places than can be looked at.
    """
    faces, _ = _arrangement([curve.flatten(tolerance)[0] for curve in curves], where)
    return _outermost(faces)


def without_open(
    curves: Sequence[Curve], closed: Sequence[Curve], tolerance: float, where: str
) -> Joined:
    """Join open curves to closed loops, and leave out those that do not close.

    A curve with a loose end is left out, then any that has a loose end without it, and so
    on; first of the curves as drawn, then of the pieces they make when cut where they meet.
    What is left must enclose all that everything drawn does: an outline whose sides run past
    each other is not taken for lines to leave out.

    Parameters
    ----------
    curves : sequence of Curve
        Open curves, in mm.
    closed : sequence of Curve
        Those that are closed already.
    tolerance : float
        For flattening, in mm.
    where : str
        The file, for messages.

    Raises
    ------
    UnclosedError
        If what is left does not close, or encloses less.
    DrawingError
        If lines meet in more places than can be looked at.
    """
    ways = list(nets(curves, tolerance, where))
    for net in ways:
        if net.closes:
            return net.joined()
    whole = enclosed([*ways[0].curves, *closed], tolerance, where)
    for net in ways:
        kept = net.pruned()
        if not kept.closes:
            continue
        joined = kept.joined()
        less = enclosed([*closed, *joined.loops], tolerance, where)
        if thin(np.array([shapely.difference(whole, less)]), CLOSE_GAP).all():
            lost = Counter(net.owners) - Counter(kept.owners)
            left = tuple(net.drawn[i] for i in sorted(lost) if i >= 0)
            return replace(joined, left_out=left)
    raise UnclosedError


def _bridges(curves: Sequence[Curve], chains: Sequence[Array], where: str) -> list[Gap]:
    """Bridge loose ends to each other, and to a line beside them."""
    loose = [curve for curve in curves if not curve.is_closed]
    net = Net.of(loose, where)
    gaps = list(net.gaps)
    lines = np.array([shapely.LineString(points) for points in chains], object)
    of = {id(curve): i for i, curve in enumerate(curves)}
    tree = shapely.STRtree(lines)
    for end in net.loose:
        place, own = net.end(end), of[id(net.curves[end // 2])]
        point = shapely.Point(place)
        near = [k for k in tree.query(point, predicate="dwithin", distance=CLOSE_GAP) if k != own]
        if not near:
            continue
        nearest = min(near, key=lambda k: shapely.distance(lines[k], point))
        onto = shapely.line_interpolate_point(
            lines[nearest], shapely.line_locate_point(lines[nearest], point)
        )
        foot: Point = (float(shapely.get_x(onto)), float(shapely.get_y(onto)))
        if foot != place:
            gaps.append(Gap(place, foot, net.curves[end // 2].layer))
    return gaps


def _arrangement(
    chains: Sequence[Array], where: str
) -> tuple[NDArray[np.object_], NDArray[np.object_]]:
    """Find bounded faces of lines, and their pieces between meetings."""
    refuse_to_cut(list(chains), where)
    lines = [shapely.LineString(points) for points in chains if len(points) > 1]
    with np.errstate(divide="ignore", invalid="ignore"):  # GEOS divides and looks afterwards
        edges = shapely.get_parts(shapely.union_all(lines, grid_size=MERGE))
    return shapely.get_parts(shapely.polygonize(edges)), np.asarray(edges, object)


def _outermost(faces: NDArray[np.object_]) -> MultiPolygon:
    whole = [Polygon(p.exterior) for p in parts_of(shapely.union_all(faces))]
    return MultiPolygon([p for p in whole if p.area > MERGE * p.length])


def _owners(edges: NDArray[np.object_], chains: Sequence[Array]) -> NDArray[np.int64]:
    """Find which of some chains each piece lies on; -1 for a bridge."""
    lines = np.array([shapely.LineString(points) for points in chains], object)
    middles = np.asarray(shapely.line_interpolate_point(edges, 0.5, normalized=True), object)
    owners = np.full(len(edges), -1, np.int64)
    (found, owner), far = shapely.STRtree(lines).query_nearest(
        middles, all_matches=False, return_distance=True
    )
    near = far <= _ON
    owners[found[near]] = owner[near]
    return owners
