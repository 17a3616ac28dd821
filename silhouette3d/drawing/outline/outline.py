"""Outline from a drawing's curves, or from geometry in memory."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from shapely import Geometry, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from silhouette3d.base.limits import CORNERS, LOOPS
from silhouette3d.base.units import CLOSE_GAP
from silhouette3d.drawing.choice import Choice, Overlap, listed
from silhouette3d.drawing.model import Curve, Drawing, Point, Shape, polyline
from silhouette3d.drawing.outline.closing import (
    Gap,
    Joined,
    UnclosedError,
    close_loops,
    parted,
    unrepeated,
)
from silhouette3d.drawing.outline.fills import (
    Filled,
    beyond_page,
    closed_as_filled,
    filled,
    on_their_own_colour,
    without_background,
)
from silhouette3d.drawing.outline.loops import (
    CrossesItselfError,
    Double,
    Rings,
    beside,
    rings_of,
    taken_as_one,
)
from silhouette3d.drawing.outline.nesting import Common, nest, once
from silhouette3d.drawing.outline.refusal import crosses_itself, not_closed
from silhouette3d.drawing.outline.remarks import (
    declared,
    left_out,
    mended,
    outermost,
    repeats,
    unseen,
)
from silhouette3d.drawing.outline.silhouette import silhouette_of, without_open
from silhouette3d.drawing.outline.survey import offers_of, survey_of
from silhouette3d.errors import DrawingError

__all__ = ["AS_DRAWN", "Outline", "Overlaps", "outline_from", "outline_of", "refuse_too_fine"]

# --- From a drawing's curves to an outline: close, check, nest
#
# Loops may touch themselves and each other, and rounding may push one a little
# way through the other there; they may not cross themselves but for tiny knots.
# Only those of a filled object may: its fill rule says what is inside. Where
# loops overlap in part or nearly coincide the outline says so; where lines do
# not close, the refusal surveys all of them and offers what may be declared.


AS_DRAWN: Final = Choice()
"""Everything that is drawn, nothing declared."""

_RULES: Final[tuple[Overlap, ...]] = ("union", "subtract", "even-odd")


@dataclass(frozen=True)
class Overlaps:
    """Loops that overlap in part, and what was made of them.

    Parameters
    ----------
    pairs : tuple of Common
        Largest common area first.
    declared : {"union", "subtract", "even-odd"}, optional
        How, if somebody said so; else they were united.
    areas : tuple of (str, float)
        The area in mm² of the whole outline with each rule.
    """

    pairs: tuple[Common, ...]
    declared: Overlap | None
    areas: tuple[tuple[Overlap, float], ...]

    def moved(self, to: Callable[[Point], Point], size: float) -> Overlaps:
        """Move with a drawing, the areas made `size` times as large."""
        return Overlaps(
            tuple(Common(to(pair.at), size * pair.area) for pair in self.pairs),
            self.declared,
            tuple((rule, size * area) for rule, area in self.areas),
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
        The curves as drawn that make it, for those who want the true arcs: closed loops, or
        where lines had to be cut where they meet, these lines.
    gaps : tuple of Gap
        Where ends that did not quite meet were joined.
    notes : tuple of str
        What was done to the drawing, each a sentence.
    overlaps : Overlaps, optional
        Where loops overlap in part.
    doubles : tuple of Double
        Loops that nearly coincide.
    """

    polygons: MultiPolygon
    area_error: float = 0.0
    loops: tuple[Curve, ...] = ()
    gaps: tuple[Gap, ...] = ()
    notes: tuple[str, ...] = ()
    overlaps: Overlaps | None = None
    doubles: tuple[Double, ...] = ()


def outline_of(drawing: Drawing, choice: Choice = AS_DRAWN, *, tolerance: float = 0.01) -> Outline:
    """Take the outline of a drawing.

    Parameters
    ----------
    drawing : Drawing
        As read.
    choice : Choice
        Which objects count, and how they make an outline.
    tolerance : float
        Largest gap between a curve and its chords, in mm.

    Raises
    ------
    DrawingError
        If what is chosen does not exist, is open or crosses itself, or is nothing. If it is
        open or crosses itself, the error is about a `Survey`.
    """
    where = str(drawing.path)
    crossing: CrossesItselfError | None = None
    try:
        return _taken(drawing, choice, tolerance)
    except UnclosedError:
        pass
    except CrossesItselfError as error:
        crossing = error

    def area_of(other: Choice) -> float | None:
        try:
            return float(_taken(drawing, other, tolerance).polygons.area)
        except (DrawingError, UnclosedError, CrossesItselfError):
            return None

    chosen, _ = without_background(drawing, choice.shapes(drawing), tolerance)
    shapes, _ = closed_as_filled(chosen, tolerance, where)
    survey = survey_of(shapes, tolerance, where, crossing.at if crossing else None)
    survey = replace(survey, offers=offers_of(drawing, choice, survey, area_of))
    if crossing is not None:
        raise crosses_itself(drawing, crossing.loop, survey)
    raise not_closed(drawing, survey)


def _taken(drawing: Drawing, choice: Choice, tolerance: float) -> Outline:
    """Make the outline, or tell what stands in its way.

    Raises
    ------
    UnclosedError, CrossesItselfError, DrawingError
        If there is none.
    """
    where = str(drawing.path)
    drawing.refuse_faults(choice.layers, without=choice.without)
    chosen, backgrounds = without_background(drawing, choice.shapes(drawing), tolerance)
    refuse_too_fine([c for s in chosen for c in s.curves], tolerance, where)
    shapes, implied = closed_as_filled(chosen, tolerance, where)
    found = (
        _nested(shapes, implied, choice, tolerance, where)
        if choice.take is None
        else _silhouette(shapes, implied, tolerance, where)
    )
    if found.polygons.is_empty:
        raise _nothing(drawing, choice)
    beyond = beyond_page(drawing, found.polygons, tolerance)
    return replace(found, notes=(*drawing.notes, *backgrounds, *found.notes, *beyond))


def _silhouette(
    shapes: Sequence[Shape], implied: tuple[Gap, ...], tolerance: float, where: str
) -> Outline:
    """Find the outermost closed regions of everything."""
    curves = [curve for shape in shapes for curve in shape.curves]
    found = silhouette_of(curves, tolerance, where)
    gaps = (*found.gaps, *implied)
    notes = (outermost(found), *mended(gaps, ()))
    return Outline(found.polygons, found.area_error, found.border, gaps, notes)


def _nested(
    shapes: Sequence[Shape],
    implied: tuple[Gap, ...],
    choice: Choice,
    tolerance: float,
    where: str,
) -> Outline:
    """Nest closed loops in each other."""
    work = _line_work(shapes, choice, tolerance, where)
    painted = [shape for shape in shapes if shape.fill is not None]
    fills = [filled(shape, tolerance, where) for shape in painted]
    reach = min(2.0 * tolerance, CLOSE_GAP)  # chords of curves that touch may cross by this
    hidden = on_their_own_colour(painted, fills, reach, where)
    fills = [one for one, out in zip(fills, hidden, strict=True) if not out]
    rings = [*work.rings.areas, *(area for one in fills for area in one.areas)]
    if len(rings) > LOOPS.value:
        raise DrawingError(
            f"it has {len(rings):,} loops, and more than {LOOPS.value:,} are not taken",
            where=where,
            todo=f"leave only the outline on its layer, {LOOPS.raised}",
        )
    kept, twice = once(rings, reach, where)
    unique = [rings[i] for i in kept]
    polygons, common = nest(unique, reach, where, choice.overlap or "union")
    sources = [*work.rings.drawn, *(source for one in fills for source in _sources(one))]
    doubles = taken_as_one(
        [((rings[i], sources[i]), (rings[j], sources[j])) for i, j in twice], tolerance
    )
    gaps = (*work.joined.gaps, *implied)
    knots = [*work.rings.knots, *(knot for one in fills for knot in one.knots)]
    notes = (
        *unseen([s for s, out in zip(painted, hidden, strict=True) if out]),
        *(note for one in fills for note in one.notes),
        *left_out(work.joined),
        *repeats(work.lines_repeat, len(rings) - len(kept)),
        *mended(gaps, knots),
        *declared(common, choice.overlap),
    )
    return Outline(
        polygons,
        work.area_error + sum(o.area_error for o in fills) + sum(d.area for d in doubles),
        (*work.drawn, *(loop for one in fills for loop in one.loops)),
        gaps,
        notes,
        _overlaps(unique, common, reach, where, choice.overlap, float(polygons.area)),
        (*(d for d in doubles if d.apart > tolerance), *beside(unique, reach, where)),
    )


@dataclass(frozen=True)
class _LineWork:
    """Loops of what is not filled, closed as drawn or joined."""

    rings: Rings
    joined: Joined
    drawn: tuple[Curve, ...]
    lines_repeat: bool

    @property
    def area_error(self) -> float:
        return self.rings.area_error + self.joined.area_error


def _line_work(shapes: Sequence[Shape], choice: Choice, tolerance: float, where: str) -> _LineWork:
    single = [c for s in shapes for c in s.curves if not c.is_closed]
    unique = unrepeated(single, tolerance)
    if choice.open == "ignore":
        closed = [c for s in shapes for c in s.curves if c.is_closed]
        joined = without_open(unique, closed, tolerance, where)
    else:
        joined = close_loops(unique, tolerance, where)
    whole = [c for s in shapes if s.fill is None for c in s.curves if c.is_closed]
    loops = [part for loop in (*whole, *joined.loops) for part in parted(loop)]
    return _LineWork(
        rings_of(loops, tolerance, where),
        joined,
        tuple(loops) if joined.drawn is None else (*whole, *joined.drawn),
        len(single) > len(unique) or _overlap_along(unique, joined, tolerance),
    )


def _overlap_along(curves: Sequence[Curve], joined: Joined, tolerance: float) -> bool:
    """Tell whether curves were partly upon each other, so that their loops are shorter."""
    if joined.left_out and joined.drawn is not None:
        return False  # pieces of lines were left out: nobody knows how long
    bridges = sum(gap.width for gap in joined.gaps)
    gone = _length(joined.loops, tolerance) + _length(joined.left_out, tolerance)
    return _length(curves, tolerance) - gone + bridges > CLOSE_GAP


def _length(curves: Sequence[Curve], tolerance: float) -> float:
    points = [curve.flatten(tolerance)[0] for curve in curves]
    return sum(float(np.linalg.norm(np.diff(p, axis=0), axis=1).sum()) for p in points)


def _sources(one: Filled) -> list[Curve | None]:
    """Find the curve of each area of a filled object, where it is that of one curve alone."""
    alone = len(one.loops) == 1 == len(one.areas)
    return [one.loops[0] if alone else None] * len(one.areas)


def _overlaps(
    rings: Sequence[Geometry],
    pairs: tuple[Common, ...],
    reach: float,
    where: str,
    declared: Overlap | None,
    area: float,
) -> Overlaps | None:
    if not pairs:
        return None
    taken = declared or "union"
    areas = [
        (rule, area if rule == taken else float(nest(rings, reach, where, rule)[0].area))
        for rule in _RULES
    ]
    return Overlaps(pairs, declared, tuple(areas))


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


def _nothing(drawing: Drawing, choice: Choice) -> DrawingError:
    what = "there is no closed outline"
    if choice.layers is not None:
        what += " on " + listed(choice.layers)
    todo = "layers with something on them: " + (listed(drawing.layers) or "none")
    if drawing.notes:
        todo += "; " + "; ".join(drawing.notes)
    return DrawingError(what, where=str(drawing.path), todo=todo)


# --- Outlines from geometry in memory, instead of from a file


def outline_from(area: object, where: str = "outline") -> Outline:
    """Take a polygon as an outline, as it is.

    Parameters
    ----------
    area : shapely.Polygon, shapely.MultiPolygon or Outline
        In mm. A polygon's straight sides count as drawn: it has no area error.
    where : str
        What it is, for messages.

    Raises
    ------
    DrawingError
        If it is no polygon, is empty, or is not valid as shapely says.

    Examples
    --------
    >>> outline_from(shapely.box(0, 0, 30, 20)).polygons.area
    600.0
    """
    if isinstance(area, Outline):
        return area
    if not isinstance(area, Polygon | MultiPolygon):
        kind = area.geom_type if isinstance(area, BaseGeometry) else type(area).__name__
        raise DrawingError(
            f"it is of kind {kind}, not a polygon",
            where=where,
            todo="give a shapely Polygon or MultiPolygon, or an Outline",
        )
    if not area.is_valid:
        raise DrawingError(
            f"it is no valid polygon: {shapely.is_valid_reason(area)}",
            where=where,
            todo="mend it, for example with shapely.make_valid",
        )
    if area.is_empty or area.area <= 0.0:
        raise DrawingError("it is empty", where=where, todo="give a polygon with an area")
    polygons = MultiPolygon(list(shapely.get_parts(shapely.force_2d(area))))
    rings = [ring for p in polygons.geoms for ring in (p.exterior, *p.interiors)]
    points = [[(float(u), float(v)) for u, v in ring.coords[:-1]] for ring in rings]
    loops = tuple(Curve(polyline(p, closed=True), "", where) for p in points)
    return Outline(polygons, 0.0, loops)
