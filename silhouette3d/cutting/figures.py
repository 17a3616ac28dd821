"""What a cut takes: length of path, starts, thickness to cut through, cut area."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from silhouette3d.cutting.kerf import Cut
from silhouette3d.solid import Solid
from silhouette3d.view import Array

SPACING: Final = 0.5
"""mm. Along the path the thickness is taken this often at least."""

_AT_EDGE: Final = 1e-6
_ASIDE: Final = 3.1e-7
"""mm. Samples are moved aside by this, so that none lies exactly on an edge of the mesh."""


@dataclass(frozen=True)
class Start:
    """Where one uninterrupted cut begins.

    Parameters
    ----------
    at : tuple of float
        In face coordinates in mm.
    from_edge : bool
        Whether it runs in from outside the stock, so that nothing need be pierced.
    """

    at: tuple[float, float]
    from_edge: bool


@dataclass(frozen=True)
class Figures:
    """What a cut takes at its stage.

    Parameters
    ----------
    length : float
        Of the path less tabs, in mm.
    starts : tuple of Start
        One for each uninterrupted cut.
    stock_thickness : float
        Full depth of the stock along the view in mm.
    most, least : float
        Material along the path in mm, where there is any.
    area : float
        Length times thickness in mm²: what sets the time.
    """

    length: float
    starts: tuple[Start, ...]
    stock_thickness: float
    most: float
    least: float
    area: float


def figures(cut: Cut, bodies: Sequence[Solid]) -> Figures:
    """What a cut takes from the bodies that are there before it."""
    path = cut.cut_path
    points, steps = _samples(path)
    thick = thickness(cut, bodies, points)
    there = thick[thick > _AT_EDGE]
    return Figures(
        float(shapely.length(path)),
        _starts(cut, path),
        cut.profile.face.thickness,
        float(there.max()) if there.size else 0.0,
        float(there.min()) if there.size else 0.0,
        float(thick @ steps),
    )


def thickness(cut: Cut, bodies: Sequence[Solid], points: Array) -> Array:
    """Material in mm along the view at points (n, 2) in face coordinates.

    The sum over the triangles above and below a point of their height, those
    that face the eye counted positive.
    """
    total = np.zeros(len(points))
    view = cut.profile.view
    spots = shapely.points(points + cut.profile.face.corner + _ASIDE * np.array([1.0, 0.618]))
    for body in bodies:
        corners = view.to_view(body.mesh.corners.reshape(-1, 3)).reshape(-1, 3, 3)
        facing = body.mesh.area_vectors @ view.axes[2]
        corners, facing = corners[facing != 0.0], facing[facing != 0.0]
        tree = shapely.STRtree(shapely.polygons(corners[:, :, :2]))
        spot, triangle = tree.query(spots, predicate="intersects")
        heights = _height(corners[triangle], shapely.get_coordinates(spots)[spot])
        np.add.at(total, spot, np.sign(facing[triangle]) * heights)
    return total


def _height(corners: Array, points: Array) -> Array:
    """Height w of triangles (n, 3, 3) above points (n, 2) inside them."""
    a, b, c = (corners[:, i, :2] for i in range(3))
    whole = _cross(b - a, c - a)
    second, third = _cross(points - a, c - a) / whole, _cross(b - a, points - a) / whole
    w = corners[:, :, 2]
    return np.asarray(w[:, 0] + second * (w[:, 1] - w[:, 0]) + third * (w[:, 2] - w[:, 0]))


def _cross(a: Array, b: Array) -> Array:
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])


def _samples(path: shapely.Geometry) -> tuple[Array, NDArray[np.float64]]:
    """Middles (n, 2) of short pieces of a path, and the length of each."""
    middles, lengths = [np.empty((0, 2))], [np.empty(0)]
    for line in shapely.get_parts(shapely.segmentize(path, SPACING)):
        points = shapely.get_coordinates(line)
        middles.append((points[1:] + points[:-1]) / 2.0)
        lengths.append(np.linalg.norm(np.diff(points, axis=0), axis=1))
    return np.concatenate(middles), np.concatenate(lengths)


def _starts(cut: Cut, path: shapely.Geometry) -> tuple[Start, ...]:
    """One start for each piece of the path, outside the stock where it runs out of it."""
    shadow = cut.stock.shadow(cut.profile.view)
    starts = []
    for line in shapely.get_parts(path):
        points = shapely.get_coordinates(line)
        # a closed cut may begin anywhere; of one that runs out, a corner is out, as the
        # shadow is convex
        candidates = points if line.is_closed else points[[0, -1]]
        off = shapely.distance(shadow, shapely.points(candidates))
        at = candidates[int(np.argmax(off))]
        starts.append(Start((float(at[0]), float(at[1])), bool(off.max() > _AT_EDGE)))
    return tuple(starts)
