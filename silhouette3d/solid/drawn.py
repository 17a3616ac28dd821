"""Points of a crossing put back to where the walls they lie on were drawn."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from scipy.spatial import KDTree

from silhouette3d.solid.side import Passages, Side
from silhouette3d.view import Array


def drawn_corners(side: Side, area: shapely.Geometry) -> Array:
    """(n, 2) for each corner of a side the nearest of the area that was drawn."""
    corners = Side.of(area).points
    return np.asarray(corners[KDTree(corners).query(side.points)[1]])


def passages_drawn(
    passages: Passages,
    k: int,
    step: int,
    sides: Sequence[Side],
    corners: Sequence[Array],
    near: float,
) -> Array:
    """(m, 3) where corner lines of side k pass walls of the side `step` axes on, as drawn."""
    other, drawn = sides[(k + step) % 3], corners[(k + step) % 3]
    shared = step - 1
    corner = corners[k][passages.corner]
    start, end = drawn[passages.wall], drawn[other.following[passages.wall]]
    rise = end[:, shared] - start[:, shared]
    is_level = np.abs(rise) < near  # then there is no one place: where it was, on the wall
    share = (corner[:, 1 - shared] - start[:, shared]) / np.where(is_level, 1.0, rise)
    ends = np.sort(np.column_stack([start[:, 1 - shared], end[:, 1 - shared]]), axis=1)
    across = start[:, 1 - shared] + share * (end - start)[:, 1 - shared]
    at = np.where(is_level, passages.places[:, k], across)
    places = np.empty((len(corner), 3))
    places[:, k] = np.clip(at, ends[:, 0], ends[:, 1])
    places[:, [(k + 1) % 3, (k + 2) % 3]] = corner
    return places


def cuts_drawn(
    ends: Array, share: Array, plane: Sequence[int], wall: tuple[Array, Array], near: float
) -> Array:
    """(t, 3) where walls cut lines with given ends (t, 2, 3), as drawn.

    `share` of the way is where they do as they stand; it is kept where a wall
    as drawn runs along the line.
    """
    low, high = ends[:, 0], ends[:, 1]
    along = wall[1] - wall[0]
    length = np.maximum(np.linalg.norm(along, axis=1), near)
    off = []
    for point in (low[:, plane], high[:, plane]):
        away = point - wall[0]
        off.append((along[:, 0] * away[:, 1] - along[:, 1] * away[:, 0]) / length)
    apart = off[0] - off[1]
    runs_along = np.abs(apart) < near
    again = np.clip(off[0] / np.where(runs_along, 1.0, apart), 0.0, 1.0)
    share = np.where(runs_along, share, again)
    return np.asarray(low + share[:, None] * (high - low))
