"""What a cut takes: the thickness to cut through, the cut area."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon

from silhouette3d.cutting.kerf import Cut
from silhouette3d.solid import Solid, together
from silhouette3d.view import Array

SPACING: Final = 0.5
"""mm. Along the path the thickness is taken this often at least."""

_AT_EDGE: Final = 1e-6
_ASIDE: Final = 3.1e-7
"""mm. Samples are moved aside by this, so that none lies exactly on an edge of the mesh."""

_AT_ONCE: Final = 20_000
"""Triangles searched at a time, to keep the lists of candidates short."""


@dataclass(frozen=True)
class Figures:
    """What a cut takes at its stage.

    Parameters
    ----------
    stock_thickness : float
        Full depth of the stock along the view in mm.
    most, least : float
        Material along the path in mm, where there is any.
    area : float
        Length times thickness in mm²: what sets the time.
    """

    stock_thickness: float
    most: float
    least: float
    area: float


def figures(cut: Cut, bodies: Sequence[Solid]) -> Figures:
    """What a cut takes from the bodies that are there before it."""
    points, steps = _samples(cut.cut_path)
    thick = thickness(cut, bodies, points)
    there = thick[thick > _AT_EDGE]
    return Figures(
        cut.profile.face.thickness,
        float(there.max()) if there.size else 0.0,
        float(there.min()) if there.size else 0.0,
        float(thick @ steps),
    )


def seen(cut: Cut, bodies: Sequence[Solid]) -> MultiPolygon:
    """What of a cut's face bodies fill as seen along its view, in face coordinates."""
    return cut.profile.to_face(together(bodies).shadow(cut.profile.view))


def cut_area(cut: Cut, bodies: Sequence[Solid]) -> float:
    """Of all that a cut takes only length times thickness in mm²."""
    points, steps = _samples(cut.cut_path)
    return float(thickness(cut, bodies, points) @ steps)


def thickness(cut: Cut, bodies: Sequence[Solid], points: Array) -> Array:
    """Material in mm along the view at points (n, 2) in face coordinates.

    The sum over the triangles above and below a point of their height, those
    that face the eye counted positive.
    """
    total = np.zeros(len(points))
    view = cut.profile.view
    spots = points + cut.profile.face.corner + _ASIDE * np.array([1.0, 0.618])
    tree = shapely.STRtree(np.asarray(shapely.points(spots)))
    corners = [view.to_view(body.mesh.vertices)[body.mesh.triangles] for body in bodies]
    every = np.concatenate([np.empty((0, 3, 3)), *corners])
    every = every[_doubled(every) != 0.0]  # walls along the view are over no point
    for first in range(0, len(every), _AT_ONCE):
        some = every[first : first + _AT_ONCE]
        low, high = some[:, :, :2].min(axis=1), some[:, :, :2].max(axis=1)
        over = _spans(low, high, spots, 0) & _spans(low, high, spots, 1)
        some, low, high = some[over], low[over], high[over]
        triangle, spot = tree.query(shapely.box(*low.T, *high.T))
        total += np.bincount(spot, _heights(some[triangle], spots[spot]), len(points))
    return total


def _spans(low: Array, high: Array, points: Array, k: int) -> NDArray[np.bool_]:
    """(n,) whether coordinate k of any of some points lies within limits (n, 2)."""
    levels = np.sort(points[:, k])
    first, past = np.searchsorted(levels, low[:, k]), np.searchsorted(levels, high[:, k], "right")
    return np.asarray(first < past)


def _heights(corners: Array, points: Array) -> Array:
    """(n,) height w of triangles (n, 3, 3) at points (n, 2), negated from below, 0 beside them."""
    a, b, c = (corners[:, i, :2] for i in range(3))
    whole, w = _doubled(corners), corners[:, :, 2]
    second, third = _cross(points - a, c - a) / whole, _cross(b - a, points - a) / whole
    inside = (second >= 0.0) & (third >= 0.0) & (second + third <= 1.0)
    height = w[:, 0] + second * (w[:, 1] - w[:, 0]) + third * (w[:, 2] - w[:, 0])
    return np.where(inside, np.sign(whole) * height, 0.0)


def _doubled(corners: Array) -> Array:
    """(n,) twice the area of triangles (n, 3, 3) as seen, negative from below."""
    a, b, c = (corners[:, i, :2] for i in range(3))
    return _cross(b - a, c - a)


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
