"""From a drawing's curves to an outline: close, check, nest.

Loops may touch themselves and each other, and rounding may push one a little
way through the other there; they may not cross themselves but for tiny knots.
Only those of a filled object may: its fill rule says what is inside.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from silhouette3d.drawing.chain import Gap, close_loops, parted, unrepeated
from silhouette3d.drawing.curve import Array, Curve, Line, Point
from silhouette3d.drawing.drawing import Drawing, Shape
from silhouette3d.drawing.knot import Knot, untied
from silhouette3d.drawing.nest import filled_by_rule, nest, once, wound_by_rule
from silhouette3d.errors import DrawingError
from silhouette3d.limits import CORNERS, LOOPS
from silhouette3d.units import CLOSE_GAP, MERGE


class _CrossesItselfError(DrawingError):
    """A loop that goes through itself: of line work nobody knows then what is inside."""

    def __init__(self, at: Point, loop: Curve, where: str) -> None:
        super().__init__(
            f"the outline crosses itself at {_at(at)} ({loop.source or 'a loop'})",
            where=f"{where}, layer {loop.layer!r}",
            todo="trim the lines there so that the outline goes round once",
        )


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
    drawing.refuse_faults(layers, without=without)
    chosen = _chosen(drawing, layers, without)
    refuse_too_fine([c for s in chosen for c in s.curves], tolerance, where)
    shapes, implied = _closed_as_filled(chosen, tolerance, where)
    line_work = [c for s in shapes if s.fill is None for c in s.curves]
    open_curves = [c for s in shapes for c in s.curves if not c.is_closed]
    single = unrepeated(open_curves, tolerance)
    joined, bridged = close_loops(single, tolerance, where)
    spared = _length(single, tolerance) - _length(joined, tolerance) + sum(g.width for g in bridged)
    gaps = (*bridged, *implied)
    loops = [*(c for c in line_work if c.is_closed), *joined]
    loops = [part for loop in loops for part in parted(loop)]
    rings, area_error, knots = _rings(loops, tolerance, where)
    ruled: list[str] = []
    for shape in shapes:
        if shape.fill is None:
            continue
        closed = [part for c in shape.curves if c.is_closed for part in parted(c)]
        try:
            inside, error, tied = _rings(closed, tolerance, where)
            rings += filled_by_rule(inside, shape.fill, where)
        except _CrossesItselfError as crossed:
            flat = [loop.flatten(tolerance) for loop in closed]
            rings += wound_by_rule([points for points, _ in flat], shape.fill, where)
            error, tied = sum(area for _, area in flat), []
            ruled.append(f"{crossed.what}: its fill rule, {shape.fill}, says what is inside")
        area_error += error
        knots += tied
        loops += closed
    reach = min(2.0 * tolerance, CLOSE_GAP)  # chords of curves that touch may cross by this
    if len(rings) > LOOPS.value:
        raise DrawingError(
            f"it has {len(rings):,} loops, and more than {LOOPS.value:,} are not taken",
            where=where,
            todo=f"leave only the outline on its layer, {LOOPS.raised}",
        )
    unique = once(rings, reach, where)
    polygons, overlap = nest(unique, reach, where)
    if polygons.is_empty:
        raise _nothing(drawing, layers)
    lines = len(open_curves) - len(single) + (spared > CLOSE_GAP)
    notes = _notes(gaps, knots, lines, len(rings) - len(unique), overlap)
    return Outline(polygons, area_error, tuple(loops), gaps, (*drawing.notes, *ruled, *notes))


def refuse_too_fine(curves: Sequence[Curve], tolerance: float, where: str) -> None:
    """Refuse curves that would take more corners than the limit.

    Raises
    ------
    DrawingError
        Names the tolerance that asks for so many.
    """
    if sum(curve.count(tolerance) for curve in curves) > CORNERS.value:
        raise DrawingError(
            f"within a tolerance of {tolerance:g} mm its curves take more than "
            f"{CORNERS.value:,} corners",
            where=where,
            todo="give the job a coarser tolerance, leave only the outline on its layer, "
            + CORNERS.raised,
        )


def _closed_as_filled(
    shapes: Sequence[Shape], tolerance: float, where: str
) -> tuple[tuple[Shape, ...], tuple[Gap, ...]]:
    """Close the open curves of filled objects by straight pieces, and give those pieces.

    SVG fills an open sub-path as if it were closed (SVG 2, 13.4.1 "Specifying fill
    paint"); what is seen is what is cut. Where one does not end beside its own
    start, pieces that meet end to end are joined to loops first, as in line work.
    """
    done: list[Shape] = []
    implied: list[Gap] = []
    for shape in shapes:
        apart = [c for c in shape.curves if not c.is_closed] if shape.fill is not None else []
        each = all(math.dist(c.start, c.end) <= CLOSE_GAP for c in apart)
        if apart and (each or not _join_up(apart, tolerance, where)):
            gaps = [Gap(c.end, c.start, c.layer) for c in apart]
            implied += gaps
            ends = dict(zip(map(id, apart), gaps, strict=True))
            curves = (
                Curve((*c.pieces, Line(ends[id(c)].start, ends[id(c)].end)), c.layer, c.source)
                if id(c) in ends
                else c
                for c in shape.curves
            )
            shape = replace(shape, curves=tuple(curves))  # noqa: PLW2901
        done.append(shape)
    return tuple(done), tuple(implied)


def _join_up(curves: Sequence[Curve], tolerance: float, where: str) -> bool:
    try:
        close_loops(curves, tolerance, where)
    except DrawingError:
        return False
    return True


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


def _length(curves: Sequence[Curve], tolerance: float) -> float:
    points = [curve.flatten(tolerance)[0] for curve in curves]
    return sum(float(np.linalg.norm(np.diff(p, axis=0), axis=1).sum()) for p in points)


def _notes(
    gaps: Sequence[Gap], knots: Sequence[Knot], lines: int, twice: int, overlap: Point | None
) -> Iterator[str]:
    if lines:
        yield "lines that were drawn twice, in whole or in part, counted once"
    if twice:
        yield f"{twice} loop{'s' * (twice > 1)} drawn twice counted once"
    gaps = [gap for gap in gaps if gap.width > MERGE]
    if gaps:
        widest = max(gaps, key=lambda gap: gap.width)
        yield (
            f"joined {len(gaps)} gap{'s' * (len(gaps) > 1)}, the widest {widest.width:.3g} mm "
            f"at {_at(widest.start)}"
        )
    if knots:
        thickest = max(knots, key=lambda knot: (knot.width, knot.reach))
        yield (
            f"cut off {len(knots)} knot{'s' * (len(knots) > 1)} where lines cross beside their "
            f"ends, the widest {thickest.width:.2g} mm wide and {thickest.reach:.3g} mm long "
            f"at {_at(thickest.at)}"
        )
    if overlap:
        yield f"loops that overlap were merged, the first at {_at(overlap)}"


def _at(point: Point) -> str:
    return f"({point[0]:.6g}, {point[1]:.6g})"


def _rings(
    loops: Sequence[Curve], tolerance: float, where: str
) -> tuple[list[shapely.Geometry], float, list[Knot]]:
    """Each loop as an area without holes, the area error of all, and the knots cut off."""
    rings: list[shapely.Geometry] = []
    error = 0.0
    knots: list[Knot] = []
    for loop in loops:
        points, area = loop.flatten(tolerance)
        ring, tied = _simple(_without_repeats(points), loop, where)
        if ring is not None:
            rings.append(ring)
            error += area + sum(knot.area for knot in tied)
            knots += tied
    return rings, error, knots


def _without_repeats(points: Array) -> Array:
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    return np.asarray(points[np.r_[True, steps > MERGE]])


def _simple(
    points: Array, loop: Curve, where: str
) -> tuple[shapely.Geometry | None, tuple[Knot, ...]]:
    """A loop as a valid area, None when it encloses nothing; and the knots cut off.

    A loop may touch itself, and run back over itself, but it may go round a
    point of its area only once.
    """
    if len(points) > 1 and np.linalg.norm(points[-1] - points[0]) <= MERGE:
        points = points[:-1]
    if len(points) < 3:
        return None, ()
    polygon, knots = Polygon(points), tuple[Knot, ...]()
    is_valid = polygon.is_valid
    if not is_valid:
        points, knots, at = untied(points, where)
        if at is not None:
            raise _CrossesItselfError(at, loop, where)
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
        raise _CrossesItselfError(at, loop, where)
    whole = shapely.orient_polygons(area, exterior_cw=_clockwise(points))
    return (None if area.is_empty else whole), knots


def _clockwise(points: Array) -> bool:
    x, y = (points - points[0]).T
    return bool(x @ np.roll(y, -1) < y @ np.roll(x, -1))
