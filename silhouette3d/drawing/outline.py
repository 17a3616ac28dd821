"""From a drawing's curves to an outline: close, check, nest.

What is inside is decided by even-odd nesting: the outermost loops hold
material, what lies in them is a hole, what lies in a hole is an island. Loops
that overlap each other in part are merged.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from silhouette3d.drawing.chain import Gap, close_loops
from silhouette3d.drawing.curve import Array, Curve
from silhouette3d.drawing.drawing import Drawing, Shape
from silhouette3d.errors import DrawingError
from silhouette3d.units import MERGE


@dataclass(frozen=True)
class Outline:
    """The closed shape of a drawing, in mm, drawing coordinates (u right, v up).

    Parameters
    ----------
    polygons : shapely.MultiPolygon
        One or more polygons with holes.
    area_error : float
        Bound in mm² on the area between the drawn curves and `polygons`.
    loops : tuple of Curve
        The closed loops as drawn, for those who want the true arcs.
    gaps : tuple of Gap
        Where ends that did not quite meet were joined.
    notes : tuple of str
        What was done to the drawing, each a sentence.
    """

    polygons: MultiPolygon
    area_error: float = 0.0
    loops: tuple[Curve, ...] = ()
    gaps: tuple[Gap, ...] = ()
    notes: tuple[str, ...] = ()


def outline_of(
    drawing: Drawing,
    layers: Collection[str] | None = None,
    *,
    without: Collection[str] = (),
    tolerance: float = 0.01,
) -> Outline:
    """The outline on some layers of a drawing.

    Parameters
    ----------
    drawing : Drawing
        As read.
    layers : collection of str, optional
        The layers to take; all by default.
    without : collection of str
        Layers to leave out when `layers` is not given.
    tolerance : float
        Largest gap between a curve and its chords, in mm.

    Raises
    ------
    DrawingError
        If a layer does not exist, the outline is open or crosses itself, or
        there is none.
    """
    where = str(drawing.path)
    shapes = _chosen(drawing, layers, without)
    line_work = [c for s in shapes if s.fill is None for c in s.curves]
    filled = [s for s in shapes if s.fill is not None]
    open_curves = [c for c in line_work if not c.is_closed]
    open_curves += [c for s in filled for c in s.curves if not c.is_closed]
    joined, gaps = close_loops(open_curves, tolerance, where)
    loops = [c for c in line_work if c.is_closed] + list(joined)

    rings, area_error = _rings(loops, tolerance, where)
    for shape in filled:
        closed = [c for c in shape.curves if c.is_closed]
        inside, error = _rings(closed, tolerance, where)
        rings += _by_fill_rule(inside, shape)
        area_error += error
        loops += closed
    rings, notes = _tidied(rings)
    polygons, merged = _nest(rings)
    if polygons.is_empty:
        raise _nothing(drawing, layers)
    notes += [f"joined {len(gaps)} gap{'s' * (len(gaps) > 1)}, the widest {_widest(gaps)}"] * bool(
        gaps
    )
    notes += ["loops that overlap were merged"] * merged
    return Outline(polygons, area_error, tuple(loops), gaps, (*drawing.notes, *notes))


def _chosen(
    drawing: Drawing, layers: Collection[str] | None, without: Collection[str]
) -> tuple[Shape, ...]:
    have = {name.casefold() for name in drawing.layers}
    if layers is None:
        left_out = {name.casefold() for name in without}
        return tuple(s for s in drawing.shapes if s.layer.casefold() not in left_out)
    for name in layers:
        if name.casefold() not in have:
            raise DrawingError(
                f"there is nothing on a layer {name!r}",
                where=str(drawing.path),
                todo="layers with something on them: " + (_listed(drawing.layers) or "none"),
            )
    return drawing.on(layers)


def _nothing(drawing: Drawing, layers: Collection[str] | None) -> DrawingError:
    what = "there is no closed outline"
    if layers is not None:
        what += " on " + _listed(layers)
    todo = "layers with something on them: " + (_listed(drawing.layers) or "none")
    if drawing.notes:
        todo += "; " + "; ".join(drawing.notes)
    return DrawingError(what, where=str(drawing.path), todo=todo)


def _listed(names: Collection[str]) -> str:
    return ", ".join(repr(name) for name in names)


def _widest(gaps: Sequence[Gap]) -> str:
    gap = max(gaps, key=lambda g: g.width)
    return f"{gap.width:.3g} mm at ({gap.start[0]:.6g}, {gap.start[1]:.6g})"


def _rings(
    loops: Sequence[Curve], tolerance: float, where: str
) -> tuple[list[shapely.Geometry], float]:
    """Each loop as an area without holes, and the area error of all."""
    rings: list[shapely.Geometry] = []
    error = 0.0
    for loop in loops:
        points, area = loop.flatten(tolerance)
        ring = _simple(_without_repeats(points), loop, where)
        if ring is not None:
            rings.append(ring)
            error += area
    return rings, error


def _without_repeats(points: Array) -> Array:
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    return np.asarray(points[np.r_[True, steps > MERGE]])


def _simple(points: Array, loop: Curve, where: str) -> shapely.Geometry | None:
    """A loop as a valid area; None when it encloses nothing."""
    if len(points) > 1 and np.linalg.norm(points[-1] - points[0]) <= MERGE:
        points = points[:-1]
    if len(points) < 3:  # noqa: PLR2004
        return None
    polygon = Polygon(points)
    if polygon.is_valid:
        return polygon if polygon.area > MERGE * polygon.length else None
    reason = shapely.is_valid_reason(polygon)
    if not reason.startswith("Ring Self-intersection"):
        if polygon.area <= MERGE * polygon.length and not polygon.buffer(0).area:
            return None
        found = re.search(r"\[(\S+) (\S+)\]", reason)
        at = f" at ({float(found[1]):.6g}, {float(found[2]):.6g})" if found else ""
        raise DrawingError(
            f"the outline crosses itself{at} ({loop.source or 'a loop'})",
            where=f"{where}, layer {loop.layer!r}",
            todo="trim the lines there so that the outline goes round once",
        )
    return shapely.make_valid(polygon)  # it only touches itself in a point


def _by_fill_rule(rings: list[shapely.Geometry], shape: Shape) -> list[shapely.Geometry]:
    """The loops that bound what an object's own fill rule calls inside."""
    if len(rings) < 2:  # noqa: PLR2004
        return rings
    faces = list(shapely.get_parts(shapely.polygonize([shapely.node(_linework(rings))])))
    points = [face.representative_point() for face in faces]
    signs = [_turning(ring) for ring in rings]
    inside = []
    for face, point in zip(faces, points, strict=True):
        hits = [sign for ring, sign in zip(rings, signs, strict=True) if ring.contains(point)]
        if len(hits) % 2 if shape.fill == "evenodd" else sum(hits):
            inside.append(face)
    united = shapely.union_all(inside)
    return [
        Polygon(ring)
        for part in shapely.get_parts(united)
        if isinstance(part, Polygon)
        for ring in (part.exterior, *part.interiors)
    ]


def _linework(rings: Sequence[shapely.Geometry]) -> shapely.Geometry:
    return shapely.GeometryCollection([shapely.boundary(ring) for ring in rings])


def _turning(ring: shapely.Geometry) -> int:
    """+1 for a loop that runs counter-clockwise, −1 for the other way."""
    first = shapely.get_parts(ring)[0]
    return 1 if first.exterior.is_ccw else -1


def _tidied(rings: list[shapely.Geometry]) -> tuple[list[shapely.Geometry], list[str]]:
    """Rings without those that were drawn twice, and a note of how many there were."""
    keys = [shapely.set_precision(ring, MERGE).normalize().wkb for ring in rings]
    unique = list(dict(zip(reversed(keys), reversed(rings), strict=True)).values())[::-1]
    twice = len(rings) - len(unique)
    notes = [f"{twice} loop{'s' * (twice > 1)} drawn twice counted once"] if twice else []
    return unique, notes


def _nest(rings: list[shapely.Geometry]) -> tuple[MultiPolygon, bool]:
    """Even-odd by depth: add level 0, take away level 1, add level 2 …"""
    if not rings:
        return MultiPolygon(), False
    tree = shapely.STRtree(rings)
    inner, outer = tree.query(rings, predicate="covered_by")
    depth = np.bincount(inner[inner != outer], minlength=len(rings))
    overlapping = tree.query(rings, predicate="overlaps").size > 0
    result: shapely.Geometry = MultiPolygon()
    for level in range(int(depth.max()) + 1):
        layer = shapely.union_all([rings[i] for i in np.nonzero(depth == level)[0]])
        result = result.difference(layer) if level % 2 else result.union(layer)
    parts = [p for p in shapely.get_parts(result) if isinstance(p, Polygon) and not p.is_empty]
    return MultiPolygon(parts), overlapping
