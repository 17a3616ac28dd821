"""Filled objects: their fill closes what is open and says what is inside."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from shapely import Geometry

from silhouette3d.drawing.chain import Gap, UnclosedError, close_loops, parted
from silhouette3d.drawing.curve import Curve, Line
from silhouette3d.drawing.drawing import Shape
from silhouette3d.drawing.knot import Knot
from silhouette3d.drawing.nest import filled_by_rule, wound_by_rule
from silhouette3d.drawing.remarks import at_text
from silhouette3d.drawing.rings import CrossesItselfError, rings_of
from silhouette3d.errors import DrawingError
from silhouette3d.units import CLOSE_GAP

__all__ = ["Filled", "closed_as_filled", "filled"]


@dataclass(frozen=True)
class Filled:
    """What a filled object holds inside.

    Parameters
    ----------
    areas : tuple of shapely geometries
        Loops that bound it.
    loops : tuple of Curve
        Its closed curves.
    area_error : float
        Bound in mm² on what lies between these curves and the areas.
    knots : tuple of Knot
        What was cut off.
    notes : tuple of str
        What was decided by its fill rule, each a sentence.
    """

    areas: tuple[Geometry, ...]
    loops: tuple[Curve, ...]
    area_error: float
    knots: tuple[Knot, ...] = ()
    notes: tuple[str, ...] = ()


def filled(shape: Shape, tolerance: float, where: str) -> Filled:
    """Flatten a filled object and apply its fill rule.

    Raises
    ------
    DrawingError
        If its loops lie across each other in too many places.
    """
    assert shape.fill is not None
    loops = tuple(part for c in shape.curves if c.is_closed for part in parted(c))
    try:
        made = rings_of(loops, tolerance, where)
        areas = filled_by_rule(made.areas, shape.fill, where)
    except CrossesItselfError as crossed:
        flat = [loop.flatten(tolerance) for loop in loops]
        wound = wound_by_rule([points for points, _ in flat], shape.fill, where)
        note = (
            f"the outline crosses itself at {at_text(crossed.at)} "
            f"({crossed.loop.source or 'a loop'}): its fill rule, {shape.fill}, says what is inside"
        )
        return Filled(tuple(wound), loops, sum(area for _, area in flat), (), (note,))
    return Filled(tuple(areas), loops, made.area_error, made.knots)


def closed_as_filled(
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
    except (DrawingError, UnclosedError):
        return False
    return True
