"""The kerf's wall unrolled: along a cut's path and down the view, what lies there as areas.

Problem: what would a tab hold by, and what would it leave on the part, anywhere along the path?

Method: hang a curtain from the path, s along it and w along the view. Each straight piece of the
path spans a plane, and that plane maps to the plane of any other view by an affine map. So an area
of another view, pulled back through the map, is what of the curtain lies inside that profile; all
that is asked of tabs becomes set arithmetic on plane areas. Where the plane is seen edge on, its
image is a line, and what lies inside are bands across the curtain.

    w ^   ____________________          shaded: stock inside all other profiles
      |  |    |/////|     |///|
      |  |    |/////|     |///|         a tab from s0 to s1 holds by the area between
      +--+----+-----+-----+---+--> s

Invariant: exact for the straight pieces of the path; nothing is sampled.

Complexity: one intersection of areas for each piece of the path and each profile.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, MultiPolygon

from silhouette3d.geometry.frames import VIEWS, Array, View
from silhouette3d.geometry.polygons import polygons_of
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.tolerances import ANGLE, GRID
from silhouette3d.process.cut import Cut


@dataclass(frozen=True)
class Seen:
    """An area in view coordinates (u, v) of the block frame, seen along a view."""

    area: MultiPolygon
    view: View


def seen_of(stock: Stock) -> tuple[Seen, Seen]:
    """Describe a stock by two areas: its cross-section, and its shadow from aside."""
    aside = VIEWS["top" if stock.along == "y" else "front"]
    corner = np.asarray(stock.face(aside).corner)
    shadow = shapely.transform(stock.shadow(aside), lambda points: points + corner)
    section = MultiPolygon([shapely.Polygon(stock.section)])
    return Seen(section, stock.axis_view), Seen(MultiPolygon([shadow]), aside)


@dataclass(frozen=True, eq=False)
class KerfWall:
    """The curtain of one closed line of a cut's path.

    Parameters
    ----------
    cut : Cut
        Whose path it hangs from.
    ring : shapely.LineString
        The closed line, in face coordinates.
    """

    cut: Cut
    ring: LineString

    @property
    def stations(self) -> Array:
        """(n,) distance s along the line at its corners."""
        points = shapely.get_coordinates(self.ring)
        steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
        return np.concatenate([[0.0], np.cumsum(steps)])

    def inside(self, seen: Sequence[Seen]) -> MultiPolygon:
        """Find what of the curtain, in (s, w), lies inside all of some areas, which bound it."""
        points, stations = shapely.get_coordinates(self.ring), self.stations
        pieces = []
        for start, end, s0, s1 in zip(points, points[1:], stations, stations[1:], strict=False):
            if s1 > s0:
                area = self._piece(start, end, s0, s1, seen)
                if not shapely.is_empty(area):
                    pieces.append(area)
        return polygons_of(shapely.union_all(pieces, grid_size=GRID))

    def _piece(
        self, start: Array, end: Array, s0: float, s1: float, seen: Sequence[Seen]
    ) -> shapely.Geometry:
        low, high = self.cut.profile.face.depth
        area: shapely.Geometry = shapely.box(s0, low, s1, high)
        view, corner = self.cut.profile.view, np.asarray(self.cut.profile.face.corner)
        along = view.axes[:2].T @ ((end - start) / (s1 - s0))
        origin = view.axes[:2].T @ (start + corner) - along * s0
        for other in seen:
            if shapely.is_empty(area):
                break
            flat = other.view.axes[:2]
            matrix = np.column_stack([flat @ along, flat @ view.axes[2]])
            back = _pulled_back(other.area, matrix, flat @ origin, area)
            area = polygons_of(shapely.intersection(area, back))  # they may share edges as well
        return area


def _pulled_back(
    area: MultiPolygon, matrix: Array, offset: Array, box: shapely.Geometry
) -> shapely.Geometry:
    """Find the points x of a box whose image matrix · x + offset lies in an area."""
    if abs(np.linalg.det(matrix)) > ANGLE:  # else it is seen edge on
        inverse = np.linalg.inv(matrix)
        return shapely.transform(area, lambda points: (points - offset) @ inverse.T)
    return _edge_on(area, matrix, offset, box)


def _edge_on(
    area: MultiPolygon, matrix: Array, offset: Array, box: shapely.Geometry
) -> shapely.Geometry:
    """Pull an area back where the image is a line: bands of the box across its direction."""
    lengths = np.linalg.norm(matrix, axis=0)  # one of them is not 0: it spans a plane
    column = int(np.argmax(lengths))  # (s, w) moves the image along one direction only
    direction = matrix[:, column] / lengths[column]
    rates = direction @ matrix  # image distance for one mm of s and of w
    corners = shapely.get_coordinates(box) @ rates
    line = LineString(
        [offset + direction * (corners.min() - 1.0), offset + direction * (corners.max() + 1.0)]
    )
    bands = []
    for part in shapely.get_parts(shapely.intersection(area, line)):
        ends = (shapely.get_coordinates(part) - offset) @ direction
        if len(ends) > 1:
            bands.append(_band(rates, float(ends.min()), float(ends.max()), box))
    return shapely.union_all(bands)


def _band(rates: Array, low: float, high: float, box: shapely.Geometry) -> shapely.Polygon:
    """Find the points x with low <= rates · x <= high, as far as a box reaches."""
    size = float(np.abs(shapely.get_coordinates(box)).max()) * 4.0 + abs(low) + abs(high) + 1.0
    unit = rates / np.linalg.norm(rates)
    across = np.array([-unit[1], unit[0]]) * size
    first, last = (unit * value / np.linalg.norm(rates) for value in (low, high))
    return shapely.Polygon([first - across, last - across, last + across, first + across])


def section(area: MultiPolygon, start: float, end: float, length: float) -> float:
    """Integrate ∫ of an area between two stations of a closed line of some length, in mm²."""
    if area.is_empty:
        return 0.0
    _, low, _, high = area.bounds
    windows = [(start, end), (start + length, end + length), (start - length, end - length)]
    return float(
        sum(
            shapely.area(shapely.intersection(area, shapely.box(a, low - 1.0, b, high + 1.0)))
            for a, b in windows
        )
    )
