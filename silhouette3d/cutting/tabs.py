"""Where a cut is interrupted: tabs as drawn or declared, found on the path."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

import numpy as np
import shapely
from shapely import LineString
from shapely.ops import substring

from silhouette3d.cutting.kerf import Cut, Tab
from silhouette3d.drawing.curve import Curve, Point
from silhouette3d.errors import CuttingError
from silhouette3d.job import TabSpec
from silhouette3d.quantity import Scale
from silhouette3d.units import MERGE, Unit, length_text
from silhouette3d.view import Array

_STEPS: Final = 25
"""In which half the width of a tab is measured."""

_MOST_STEPS: Final = 20_000
"""Along a path on which a very narrow tab finds nothing to hold: more would take minutes."""


def with_tabs(
    cut: Cut, specs: Sequence[TabSpec], usual_width: float, unit: Unit, where: str
) -> Cut:
    """The cut with the tabs of its drawing's tab layer and of the job file.

    Parameters
    ----------
    cut : Cut
        Without tabs.
    specs : sequence of TabSpec
        Tabs of the job file.
    usual_width : float
        For tabs that state none, in mm.
    unit : {"mm", "in"}
        For messages.
    where : str
        The job file, for messages.

    Raises
    ------
    CuttingError
        If a line or place touches no outline, or a closed shape covers nothing of a path; says
        how far off it is.
    """
    place = f"{where}, profile {cut.name!r}"
    tabs: list[Tab] = []
    for curve in cut.profile.tab_curves:
        tabs += _drawn(cut, curve, usual_width, unit, place)
    for spec in specs:
        tabs.append(_declared(cut, spec, usual_width, unit, place))
    return replace(cut, tabs=tuple(tabs))


def tab_at(cut: Cut, point: Point, width: float, unit: Unit = "mm", where: str = "") -> Tab:
    """A tab of a given width whose middle is the place on the path nearest to a point."""
    ring, middle = _nearest(cut, point)
    _check_fits(width, ring, unit, where)
    at = ring.interpolate(middle)
    return Tab((at.x, at.y), width, stretch_of(ring, *reach(cut, ring, middle, width)))


def on_path(cut: Cut, point: Point) -> Point:
    """The place on the path nearest to a point."""
    ring, along = _nearest(cut, point)
    at = ring.interpolate(along)
    return at.x, at.y


def _nearest(cut: Cut, point: Point) -> tuple[LineString, float]:
    """The closed line of the path nearest to a point, and how far along it that is."""
    spot = shapely.Point(point)
    ring = min(rings(cut), key=spot.distance)
    return ring, ring.project(spot)


def reach(cut: Cut, ring: LineString, middle: float, width: float) -> tuple[float, float]:
    """From where to where along a closed line of the path a tab of some width interrupts it."""
    back, ahead = (_way(cut, ring, middle, sign, width / 2.0) for sign in (-1.0, 1.0))
    if back + ahead >= ring.length:
        back = ahead = width / 2.0
    return middle - back, middle + ahead


def _way(cut: Cut, ring: LineString, start: float, sign: float, width: float) -> float:
    """How far to go along the path until a width of material stands on both sides of it.

    Round an outer corner the path gets longer than the outline, round an inside
    corner longer than the far side of the kerf, and a tab that ended there would
    touch one of them in a point. So only as much of each step counts as both
    sides move on. Where that never makes a width, there is nothing to hold: then
    the width itself.
    """
    sides = [shapely.boundary(cut.as_cut), shapely.boundary(cut.within_kerf)]
    furthest = 2.0 * width
    while True:
        step = max(width / _STEPS, furthest / _MOST_STEPS)
        ways = np.arange(0.0, furthest + step, step)
        points = shapely.line_interpolate_point(ring, (start + sign * ways) % ring.length)
        feet = [shapely.get_point(shapely.shortest_line(side, points), 0) for side in sides]
        moves = [shapely.distance(f[1:], f[:-1]) for f in (*feet, points)]
        counted = np.concatenate([[0.0], np.cumsum(np.min(moves, axis=0))])
        if counted[-1] >= width:
            return float(np.interp(width, counted, ways))
        if furthest >= ring.length:
            return width
        furthest *= 4.0


def rings(cut: Cut) -> list[LineString]:
    """The closed lines of a cut's path."""
    return [LineString(part.coords) for part in shapely.get_parts(cut.path)]


def stretch_of(ring: LineString, start: float, end: float) -> LineString:
    """The piece of a closed line between two distances along it; may run over its first point."""
    length = ring.length
    shift = math.floor(start / length) * length
    start, end = start - shift, end - shift
    points = shapely.get_coordinates(substring(ring, start, min(end, length)))
    if end > length:
        more = shapely.get_coordinates(substring(ring, 0.0, end - length))
        points = np.concatenate([points, more[1:]])
    return LineString(points)


def _check_fits(width: float, ring: LineString, unit: Unit, where: str) -> None:
    if width >= ring.length * (1.0 - 1e-9):
        raise CuttingError(
            f"a tab of {length_text(width, unit)} is as long as the whole cut of "
            f"{length_text(ring.length, unit)}",
            where=where,
            todo="make the tab narrower",
        )


def _declared(cut: Cut, spec: TabSpec, usual: float, unit: Unit, where: str) -> Tab:
    width = usual if spec.width is None else spec.width
    off = float(shapely.distance(_edge(cut), shapely.Point(spec.at)))
    if off > max(width, cut.width):
        raise _astray(f"the tab at {_text(spec.at, unit)}", off, unit, where)
    return tab_at(cut, spec.at, width, unit, where)


def _drawn(cut: Cut, curve: Curve, usual: float, unit: Unit, where: str) -> Iterator[Tab]:
    """Tabs of one drawn object: a closed shape covers the path, a line crosses the outline."""
    points = curve.flatten(cut.tolerance)[0]
    what = f"{curve.source or 'a line'} on layer {curve.layer!r}"
    if curve.is_closed and len(points) > 3:
        yield from _covered(cut, shapely.make_valid(shapely.Polygon(points)), what, unit, where)
        return
    crossings = _crossings(_longer(points, 2.0 * cut.tolerance), _edge(cut))
    if not crossings:
        raise _astray(what, float(shapely.distance(LineString(points), _edge(cut))), unit, where)
    for point in crossings:
        yield tab_at(cut, point, usual, unit, where)


def _longer(points: Array, by: float) -> LineString:
    """A line a little longer at both ends, so that one which ends on an arc meets its chords."""
    first, last = points[0] - points[1], points[-1] - points[-2]
    start = points[0] + first * (by / np.linalg.norm(first))
    end = points[-1] + last * (by / np.linalg.norm(last))
    return LineString([start, *points, end])


def _crossings(line: LineString, edge: shapely.Geometry) -> list[Point]:
    """Where a line crosses an edge; the middle of a piece that they share."""
    parts = shapely.get_parts(shapely.intersection(line, edge))
    found = [part for part in parts if not part.is_empty]
    shared = shapely.MultiLineString([part for part in found if isinstance(part, LineString)])
    middles = [part for part in found if isinstance(part, shapely.Point)]
    middles += [
        run.interpolate(0.5, normalized=True)
        for run in shapely.get_parts(shapely.line_merge(shared))
    ]
    return [(point.x, point.y) for point in middles]


def _covered(cut: Cut, shape: shapely.Geometry, what: str, unit: Unit, where: str) -> Iterator[Tab]:
    found = False
    for ring in rings(cut):
        inside = shapely.line_merge(shapely.intersection(ring, shape))
        for piece in shapely.get_parts(inside):
            if piece.length > MERGE:
                found = True
                _check_fits(piece.length, ring, unit, where)
                middle = piece.interpolate(0.5, normalized=True)
                yield Tab((middle.x, middle.y), float(piece.length), piece)
    if not found:
        off = length_text(float(shapely.distance(shape, cut.path)), unit)
        raise CuttingError(
            f"{what} covers no stretch of a cut: the nearest path, half a kerf beside its "
            f"outline, is {off} off",
            where=where,
            todo="draw it right across the outline and the kerf",
        )


def _edge(cut: Cut) -> shapely.Geometry:
    return shapely.boundary(cut.profile.area)


def _astray(what: str, off: float, unit: Unit, where: str) -> CuttingError:
    return CuttingError(
        f"{what} touches no outline: it is {length_text(off, unit)} off the nearest one",
        where=where,
        todo="move it onto the outline",
    )


def _text(point: Point, unit: Unit) -> str:
    return Scale(unit).point(point)
