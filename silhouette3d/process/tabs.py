"""Tabs, where a cut is interrupted: as drawn or declared, found on the path."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString
from shapely.ops import substring

from silhouette3d.drawing.model import Curve, Point
from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.misfit import MisfitError
from silhouette3d.geometry.tolerances import MERGE, SHARE
from silhouette3d.process.cut import Cut, Tab

MOST_ROUND: Final = 6.0
"""How many times as long on the path as straight across a tab may be: the cut turns back beside
itself there, in a notch of less than 19°, or at the end of a slot that is too narrow for waste."""


@dataclass(frozen=True)
class TabPlace:
    """A tab asked for at a point near the outline.

    Parameters
    ----------
    at : tuple of float
        In face coordinates in mm.
    width : float, optional
        Where it is narrowest, in mm; by default as wide as usual.
    """

    at: Point
    width: float | None = None


def with_tabs(cut: Cut, specs: Sequence[TabPlace], usual_width: float) -> Cut:
    """Add to a cut the tabs of its drawing's tab layer and of the job file.

    Parameters
    ----------
    cut : Cut
        Without tabs.
    specs : sequence of TabPlace
        Tabs asked for besides.
    usual_width : float
        For tabs that state none, in mm.

    Raises
    ------
    MisfitError
        If a line or place touches no outline, or a closed shape covers nothing of a path; says
        how far off it is.
    """
    tabs: list[Tab] = []
    for curve in cut.profile.tab_curves:
        tabs += _drawn(cut, curve, usual_width)
    for spec in specs:
        tabs.append(_declared(cut, spec, usual_width))
    return replace(cut, tabs=tuple(tabs))


def tab_at(cut: Cut, point: Point, width: float) -> Tab:
    """Make a tab of a given width whose middle is the place on the path nearest to a point.

    Raises
    ------
    MisfitError
        If the cut runs too close beside itself there.
    """
    ring, middle = _nearest(cut, point)
    at, ends = ring.interpolate(middle), reach(cut, ring, middle, width)
    if ends is None:
        raise MisfitError("tab-too-wide", width, width + cut.width, at=(at.x, at.y))
    return _tab(cut, ring, at, width, ends)


def on_path(cut: Cut, point: Point) -> Point:
    """Find the place on the path nearest to a point."""
    ring, along = _nearest(cut, point)
    at = ring.interpolate(along)
    return at.x, at.y


def _nearest(cut: Cut, point: Point) -> tuple[LineString, float]:
    """Find the closed line of the path nearest to a point, and how far along it that is."""
    spot = shapely.Point(point)
    ring = min(rings(cut), key=spot.distance)
    return ring, ring.project(spot)


def reach(cut: Cut, ring: LineString, middle: float, width: float) -> tuple[float, float] | None:
    """Find from where to where along a closed line of the path a tab interrupts it.

    Both ends lie equally far from the middle along the line, as near to it as they
    can for the straight distance between them to be the width and the kerf: the
    cutter, a disc, takes half a kerf more at either end. Beside an inside corner of
    the outline the cut goes on towards itself, and they lie up to twice as far off, so
    that all of it keeps that distance; in a slot, where it does not, they do not.
    None where the line does not get that wide within `MOST_ROUND` times as much on
    its own way.
    """
    apart = width + cut.width
    most = min(ring.length, MOST_ROUND * apart) / 2.0
    ways = _corners_between(ring, [(middle, 1.0), (middle, -1.0)], most)
    ahead, back = (_at(ring, middle + sign * ways) for sign in (1.0, -1.0))
    way = _first_apart(ways, ahead - back, apart)
    if way is None:
        return None
    way = _clear_of_itself(cut, ring, middle, way, apart)
    return middle - way, middle + way


def _clear_of_itself(
    cut: Cut, ring: LineString, middle: float, first: float, apart: float
) -> float:
    """Find the least way from which on both sides keep apart, outside the part; or the first."""
    far = first + _beside(ring, 2.0 * first)

    def is_clear(way: float) -> bool:
        return _between(cut, ring, (middle - way, middle + way), far - way).length >= least

    least = apart * (1.0 - SHARE)
    low, high = first, min(2.0 * first, far - MERGE)  # both sides must have some length
    if is_clear(low) or not is_clear(high):
        return low
    while high - low > MERGE:
        way = (low + high) / 2.0
        low, high = (low, way) if is_clear(way) else (way, high)
    ends = _at(ring, middle + np.array([-far, far]))  # in a slot the nearest is as far as one looks
    nearest = shapely.get_coordinates(
        _between(cut, ring, (middle - high, middle + high), far - high)
    )
    return high if np.linalg.norm(nearest - ends, axis=1).min() > MERGE else first


def _beside(ring: LineString, left_out: float) -> float:
    """Tell how far to follow a cut on either side of a stretch: not to the ring's far side."""
    return min(2.0 * left_out, (ring.length - left_out) / 4.0)


def _between(cut: Cut, ring: LineString, ends: tuple[float, float], further: float) -> LineString:
    """Find the shortest line between what goes on for some way before and behind a stretch.

    Where that leads through the part, straight between the ends of the stretch.
    """
    first, last = ends
    before = stretch_of(ring, first - further, first)
    behind = stretch_of(ring, last, last + further)
    line = shapely.shortest_line(before, behind)
    if shapely.contains(cut.profile.area, line.interpolate(0.5, normalized=True)):
        return LineString([before.coords[-1], behind.coords[0]])
    return line


def _tab(
    cut: Cut, ring: LineString, at: shapely.Point, width: float, ends: tuple[float, float]
) -> Tab:
    """Make the tab that leaves out a closed line from one way to another."""
    line = _between(cut, ring, ends, _beside(ring, ends[1] - ends[0]))
    (a, b), (c, d) = shapely.get_coordinates(line).tolist()
    return Tab((at.x, at.y), width, stretch_of(ring, *ends), ((a, b), (c, d)))


def kept(cut: Cut, tab: Tab) -> LineString:
    """Find the middle of a tab's stretch, half a kerf from either end of it: what a shape covers.

    It is what stays of the path itself.
    """
    stretch, most = tab.stretch, tab.stretch.length / 2.0 - MERGE
    radius = cut.width / 2.0
    start = _off_by(stretch, 0.0, 1.0, radius, most)
    end = _off_by(stretch, stretch.length, -1.0, radius, most)
    return LineString(shapely.get_coordinates(substring(stretch, start, stretch.length - end)))


def _off_by(line: LineString, start: float, sign: float, apart: float, most: float) -> float:
    """Find how far to go along a line from a place on it to be so far off; `most` if never."""
    ways = _corners_between(line, [(start, sign)], most)
    points = _at(line, start + sign * ways)
    found = _first_apart(ways, points - points[0], apart)
    return most if found is None else found


def _corners_between(
    line: LineString, goers: Sequence[tuple[float, float]], most: float
) -> NDArray[np.float64]:
    """Find ways, up to the most, at which one who goes from a place either way is at a corner."""
    points = shapely.get_coordinates(line)
    stations = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    ways = np.concatenate([sign * (stations - start) % line.length for start, sign in goers])
    return np.unique(np.concatenate([[0.0, most], ways[ways < most]]))


def _at(line: LineString, ways: NDArray[np.float64]) -> Array:
    """Find points (n, 2) of a line at ways along it; on a closed one past its end."""
    if line.is_closed:
        ways = ways % line.length
    return shapely.get_coordinates(shapely.line_interpolate_point(line, ways))


def _first_apart(ways: NDArray[np.float64], between: Array, apart: float) -> float | None:
    """Find the first way at which a vector, given (n, 2) at some and straight between, is so long.

    It is longest at one of the ways, and where it gets that long is a root of a quadratic equation.
    """
    far = np.nonzero(np.hypot(*between.T) >= apart)[0]
    if not far.size:
        return None
    k = max(int(far[0]), 1)
    start, rate = between[k - 1], between[k] - between[k - 1]
    a, b, c = float(rate @ rate), float(start @ rate), float(start @ start) - apart**2
    share = (math.sqrt(max(b * b - a * c, 0.0)) - b) / a if a else 0.0
    return float(ways[k - 1] + share * (ways[k] - ways[k - 1]))


def rings(cut: Cut) -> list[LineString]:
    """List the closed lines of a cut's path."""
    return [LineString(part.coords) for part in shapely.get_parts(cut.path)]


def stretch_of(ring: LineString, start: float, end: float) -> LineString:
    """Take the piece of a closed line between two distances along it, even past its start."""
    length = ring.length
    shift = math.floor(start / length) * length
    start, end = start - shift, end - shift
    points = shapely.get_coordinates(substring(ring, start, min(end, length)))
    if end > length:
        more = shapely.get_coordinates(substring(ring, 0.0, end - length))
        points = np.concatenate([points, more[1:]])
    return LineString(points)


def _check_fits(width: float, ring: LineString) -> None:
    if width >= ring.length * (1.0 - SHARE):
        raise MisfitError("tab-too-long", width, ring.length)


def _declared(cut: Cut, spec: TabPlace, usual: float) -> Tab:
    width = usual if spec.width is None else spec.width
    off = float(shapely.distance(_edge(cut), shapely.Point(spec.at)))
    if off > max(width, cut.width):
        raise MisfitError("tab-astray", off, at=spec.at)
    return tab_at(cut, spec.at, width)


def _drawn(cut: Cut, curve: Curve, usual: float) -> Iterator[Tab]:
    """Make tabs of one drawn object: closed ones cover the path, lines cross the outline."""
    points = curve.flatten(cut.tolerance)[0]
    what = f"{curve.source or 'a line'} on layer {curve.layer!r}"
    if curve.is_closed and len(points) > 3:
        yield from _covered(cut, shapely.make_valid(shapely.Polygon(points)), what)
        return
    crossings = _crossings(_longer(points, 2.0 * cut.tolerance), _edge(cut))
    if not crossings:
        off = float(shapely.distance(LineString(points), _edge(cut)))
        raise MisfitError("tab-astray", off, subject=what)
    for point in crossings:
        yield tab_at(cut, point, usual)


def _longer(points: Array, by: float) -> LineString:
    """Lengthen a line at both ends, so that one which ends on an arc meets its chords."""
    first, last = points[0] - points[1], points[-1] - points[-2]
    start = points[0] + first * (by / np.linalg.norm(first))
    end = points[-1] + last * (by / np.linalg.norm(last))
    return LineString([start, *points, end])


def _crossings(line: LineString, edge: shapely.Geometry) -> list[Point]:
    """Find where a line crosses an edge; the middle of a piece that they share."""
    parts = shapely.get_parts(shapely.intersection(line, edge))
    found = [part for part in parts if not part.is_empty]
    shared = shapely.MultiLineString([part for part in found if isinstance(part, LineString)])
    middles = [part for part in found if isinstance(part, shapely.Point)]
    middles += [
        run.interpolate(0.5, normalized=True)
        for run in shapely.get_parts(shapely.line_merge(shared))
    ]
    return [(point.x, point.y) for point in middles]


def _covered(cut: Cut, shape: shapely.Geometry, what: str) -> Iterator[Tab]:
    found = False
    for ring in rings(cut):
        inside = shapely.line_merge(shapely.intersection(ring, shape))
        for piece in shapely.get_parts(inside):
            if piece.length > MERGE:
                found = True
                _check_fits(piece.length, ring)
                yield _around(cut, ring, piece, what)
    if not found:
        off = float(shapely.distance(shape, cut.path))
        raise MisfitError("tab-off-path", off, subject=what)


def _around(cut: Cut, ring: LineString, piece: LineString, what: str) -> Tab:
    """Make the tab of which a piece of the path stays: the cutter stops half a kerf before."""
    middle, half = piece.interpolate(0.5, normalized=True), piece.length / 2.0
    at, most = ring.project(middle), (ring.length - piece.length) / 2.0
    back, ahead = (
        half + _off_by(ring, at + sign * half, sign, cut.width / 2.0, most) for sign in (-1.0, 1.0)
    )
    tab = _tab(cut, ring, middle, piece.length, (at - back, at + ahead))
    apart = math.dist(*tab.nearest)
    width = apart - cut.width
    if back + ahead > ring.length / 2.0:  # what stays goes round more than what is cut
        width = max(width, piece.length)
    if width <= MERGE:
        raise MisfitError("tab-leaves-nothing", apart, cut.width, subject=what)
    return replace(tab, width=width)


def _edge(cut: Cut) -> shapely.Geometry:
    return shapely.boundary(cut.profile.area)
