"""Filled objects: what their fill closes, and what nobody sees of a drawing."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry, MultiPolygon

from silhouette3d.base.units import CLOSE_GAP
from silhouette3d.drawing.model import Curve, Drawing, Line, Shape
from silhouette3d.drawing.outline.closing import Gap, UnclosedError, close_loops, parted
from silhouette3d.drawing.outline.loops import (
    MOST_MEETINGS,
    MOST_PAIRS,
    CrossesItselfError,
    SelfCrossing,
    refuse,
    refuse_crowd,
    rings_of,
)
from silhouette3d.drawing.outline.nesting import filled_by_rule, nest, thin, wound_by_rule
from silhouette3d.drawing.outline.remarks import at_text
from silhouette3d.errors import DrawingError
from silhouette3d.geometry.tolerances import GRID, MERGE

__all__ = [
    "Filled",
    "beyond_page",
    "closed_as_filled",
    "filled",
    "on_their_own_colour",
    "without_background",
]

# --- Filled objects: their fill closes what is open and says what is inside


@dataclass(frozen=True)
class Filled:
    """Area that a filled object holds inside.

    Parameters
    ----------
    areas : tuple of shapely geometries
        Loops that bound it.
    loops : tuple of Curve
        Its closed curves.
    area_error : float
        Bound in mm² on what lies between these curves and the areas.
    knots : tuple of SelfCrossing
        What was cut off.
    notes : tuple of str
        What was decided by its fill rule, each a sentence.
    """

    areas: tuple[Geometry, ...]
    loops: tuple[Curve, ...]
    area_error: float
    knots: tuple[SelfCrossing, ...] = ()
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


# --- What nobody sees of a drawing: backgrounds, objects on others of their own colour
#
# Nesting calls an object in another a hole. One of the same colour is none: where it ends cannot
# be seen, and what is seen is what is cut.


_PAPER: Final = 250
"""Of 255: a colour of which red, green and blue are no less is that of paper."""


def without_background(
    drawing: Drawing, shapes: Sequence[Shape], tolerance: float
) -> tuple[tuple[Shape, ...], tuple[str, ...]]:
    """Leave out what is painted first, over the whole page, in the colour of paper.

    In another colour it stays: it may be the plate. Where it is all there is, it stays too.

    Parameters
    ----------
    drawing : Drawing
        With its page.
    shapes : sequence of Shape
        Those of it that were chosen, in the order in which they are painted.
    tolerance : float
        By how much it may fail to reach the edges of the page, in mm.

    Returns
    -------
    shapes : tuple of Shape
        The rest.
    notes : tuple of str
        What was left out, or was not, each a sentence.
    """
    if drawing.page is None or len(shapes) < 2 or not _covers(shapes[0], drawing.page, tolerance):
        return tuple(shapes), ()
    first = shapes[0]
    name = first.curves[0].source or "an object"
    if first.plain and first.colour is not None and _is_paper(first.colour):
        return tuple(shapes[1:]), (f"left out {name}: a background in the colour of paper",)
    return tuple(shapes), (f"{name} fills the whole page: if that is a background, leave it out",)


def _covers(shape: Shape, page: tuple[float, float, float, float], tolerance: float) -> bool:
    """Tell whether a filled object is a rectangle over the whole page."""
    if shape.fill is None or len(shape.curves) > 1:
        return False
    points = shape.curves[0].flatten(tolerance)[0]
    u0, v0, u1, v1 = page
    (left, bottom), (right, top) = points.min(axis=0), points.max(axis=0)
    if max(left - u0, bottom - v0, u1 - right, v1 - top) > tolerance:
        return False
    area = shapely.area(shapely.Polygon(points)) if len(points) > 3 else 0.0
    return bool(abs(area - (right - left) * (top - bottom)) <= tolerance * (u1 - u0 + v1 - v0))


def _is_paper(colour: str) -> bool:
    return min(bytes.fromhex(colour[1:])) >= _PAPER


def beyond_page(drawing: Drawing, area: MultiPolygon, tolerance: float) -> tuple[str, ...]:
    """Say how far an outline reaches beyond the page, where a viewer shows nothing.

    Parameters
    ----------
    drawing : Drawing
        With its page.
    area : MultiPolygon
        The outline, in mm.
    tolerance : float
        What is no further than this does not count, in mm.
    """
    if drawing.page is None or area.is_empty:
        return ()
    (u0, v0, u1, v1), (left, bottom, right, top) = drawing.page, area.bounds
    far = max(u0 - left, v0 - bottom, right - u1, top - v1)
    if far <= tolerance:
        return ()
    return (f"the outline reaches {far:.3g} mm beyond the page, where nothing is cut off",)


def on_their_own_colour(
    shapes: Sequence[Shape], fills: Sequence[Filled], reach: float, where: str
) -> NDArray[np.bool_]:
    """Find filled objects that lie on another of their colour, with nothing between.

    Parameters
    ----------
    shapes : sequence of Shape
        Filled.
    fills : sequence of Filled
        What each holds inside.
    reach : float
        What lies in another but for a strip of this width, in mm, lies in it.
    where : str
        The file, for messages.

    Raises
    ------
    DrawingError
        If they lie across each other in too many places.
    """
    unseen = np.zeros(len(shapes), bool)
    colours = Counter(shape.colour for shape in shapes if shape.plain)
    if max(colours.values(), default=0) < 2:
        return unseen
    areas = np.array([_area(one, reach, where) for one in fills], object)
    refuse_crowd(areas, "intersects", MOST_MEETINGS, where)
    for inner, outer in _innermost(areas, reach, where):
        one, other = shapes[inner], shapes[outer]
        unseen[inner] = one.plain and other.plain and one.colour == other.colour
    return unseen


def _area(one: Filled, reach: float, where: str) -> Geometry:
    """Find the area of an object whose loops do not cross."""
    return one.areas[0] if len(one.areas) == 1 else nest(one.areas, reach, where)[0]


def _innermost(areas: NDArray[np.object_], reach: float, where: str) -> list[tuple[int, int]]:
    """Pair each area that lies in another with the smallest in which it does."""
    tree, sizes = shapely.STRtree(areas), shapely.area(areas)
    inner, outer = tree.query(areas, predicate="covered_by")
    i, j = tree.query(areas, predicate="overlaps")
    if len(i) > 2 * MOST_PAIRS:  # each is found from both sides
        refuse(MOST_PAIRS, where)
    almost = thin(shapely.difference(areas[i], areas[j], grid_size=GRID), reach)
    inner, outer = np.concatenate([inner, i[almost]]), np.concatenate([outer, j[almost]])
    # those as large are one drawn twice
    inside = sizes[outer] > sizes[inner] + (reach + MERGE) * shapely.length(areas[inner])
    found: dict[int, int] = {}
    for a, b in zip(inner[inside].tolist(), outer[inside].tolist(), strict=True):
        if a not in found or sizes[b] < sizes[found[a]]:
            found[a] = b
    return list(found.items())
