"""Removal: what cuts take away from the stock, as prisms and as areas."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from silhouette3d.geometry.frames import Array, View
from silhouette3d.geometry.polygons import polygons_of
from silhouette3d.geometry.snap import Level, Walls
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock


@dataclass(frozen=True)
class Removal:
    """An area that one cut takes away, through and past the stock.

    Parameters
    ----------
    area : shapely.MultiPolygon
        In view coordinates (u, v) of the block frame, in mm.
    view : View
        The direction of the cut.
    """

    area: MultiPolygon
    view: View

    def grown(self, distance: float) -> Removal:
        """Move every wall out by `distance` mm, corners kept sharp."""
        area = shapely.buffer(self.area, distance, join_style="mitre", mitre_limit=10.0)
        return Removal(polygons_of(area), self.view)

    def prism(self, stock: Stock) -> Solid:
        """Extrude the area past the stock at both ends."""
        past = 0.1 * stock.diagonal
        low, high = stock.face(self.view).depth
        return Solid.prism(self.area, self.view, (low - past, high + past))


def stock_solid(stock: Stock, shrink: float = 0.0) -> Solid:
    """Make a solid of the stock; `shrink` moves every side in by that many mm."""
    ends = shrink, stock.length - shrink
    return Solid.prism(Polygon(_section(stock, shrink)), stock.axis_view, ends)


def stock_walls(stock: Stock, shrink: float) -> Walls:
    """List the walls of the stock along its axis, moved in by `shrink` mm, and as they are."""
    moved, drawn = (Polygon(_section(stock, by)) for by in (shrink, 0.0))
    return Walls.of(stock.axis_view.axes, moved, drawn)


def stock_levels(stock: Stock, shrink: float) -> list[Level]:
    """List the ends of the stock, moved in by `shrink` mm, and as they are."""
    axis = stock.axis_view.axes[2]
    return [
        Level(axis, shrink, 0.0),
        Level(axis, stock.length - shrink, stock.length),
    ]


def _section(stock: Stock, shrink: float) -> Array:
    section = stock.section
    if not shrink:
        return section
    middle = (section.min(axis=0) + section.max(axis=0)) / 2.0
    half = (section.max(axis=0) - section.min(axis=0)) / 2.0
    return np.asarray(middle + (section - middle) * (1.0 - shrink / half))


def areas_left(
    stock: Stock, removals: Sequence[Removal], shrink: float = 0.0
) -> list[shapely.Geometry] | None:
    """Find what removals leave of the stock as three areas, one along each block axis.

    Area k has the coordinates along the two axes that follow axis k in turn.

    Parameters
    ----------
    stock : Stock
        The piece before cutting.
    removals : sequence of Removal
        What is taken away.
    shrink : float
        By which every side of the stock is moved in, in mm.

    Returns
    -------
    list of shapely geometries or None
        None where a waste looks another way than along an axis.
    """
    away: list[list[shapely.Geometry]] = [[], [], []]
    for waste in removals:
        axes = waste.view.axes
        if not np.isin(axes, (-1.0, 0.0, 1.0)).all():
            return None
        k = int(np.flatnonzero(axes[2])[0])
        turned = axes[:2][:, [(k + 1) % 3, (k + 2) % 3]]
        away[k].append(_turned(waste.area, turned))
    areas = _stock_areas(stock, [bool(some) for some in away], shrink)
    return [
        shapely.difference(area, shapely.union_all(some)) if some else area
        for area, some in zip(areas, away, strict=True)
    ]


def _turned(area: MultiPolygon, matrix: Array) -> MultiPolygon:
    return shapely.transform(area, lambda points: points @ matrix)


def _stock_areas(stock: Stock, is_cut: Sequence[bool], shrink: float) -> list[shapely.Geometry]:
    """Describe the stock by three areas, no side of it in two of them, so that none coincide.

    Where an area does not end the stock it reaches a little past it, but not as
    far as removals do. The sides of a block are put to areas that are cut anyway:
    then those that an outline shares with the stock are sorted out in the plane.
    """
    past = 0.05 * stock.diagonal
    axes = stock.axis_view.axes
    along = int(np.flatnonzero(axes[2])[0])
    limits = np.empty((3, 2, 2))  # area, which of its coordinates, from and to
    for k in range(3):
        for i in range(2):
            limits[k, i] = -past, stock.size[(k + 1 + i) % 3] + past
    for axis in range(3):
        # seen in the area that follows it as second coordinate, in the one after that as first
        k, i = ((axis + 1) % 3, 1) if is_cut[(axis + 1) % 3] else ((axis + 2) % 3, 0)
        if stock.diameter is None or axis == along:
            limits[k, i] = shrink, stock.size[axis] - shrink
    areas: list[shapely.Geometry] = [shapely.box(*lim[:, 0], *lim[:, 1]) for lim in limits]
    if stock.diameter is not None:
        turned = axes[:2][:, [(along + 1) % 3, (along + 2) % 3]]
        areas[along] = Polygon(_section(stock, shrink) @ turned)
    return areas
