"""The lines and corners of an outline, and what can be seen between them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon

from silhouette3d.view import Array

Indices = NDArray[np.int64]
Mask = NDArray[np.bool_]

NEAR: Final = 1e-8
"""mm. What is nearer than this to a line lies on it."""

_TRIM: Final = 1e-6
_AT_ONCE: Final = 20_000


@dataclass(frozen=True)
class Border:
    """The lines of an outline, each with the material on its left, and its corners.

    Parameters
    ----------
    start, along, inward : (n, 2) arrays
        In mm; unit vectors along each line and square to it into the material.
    length : (n,) array
        In mm.
    before : (n,) array of int
        The line that ends where each starts; that point is corner n.
    turn : (n,) array
        Angle by which the border turns to the left at each corner, in radians:
        positive where the material is convex.
    tree : shapely.STRtree
        Over the lines.
    """

    start: Array
    along: Array
    inward: Array
    length: Array
    before: Indices
    turn: Array
    tree: shapely.STRtree


def border_of(area: MultiPolygon) -> Border:
    """The border of an area in mm, whichever way its rings run; points drawn twice count once."""
    starts, ends, before = [np.empty((0, 2))], [np.empty((0, 2))], [np.empty(0, np.int64)]
    total = 0
    for polygon in shapely.get_parts(shapely.orient_polygons(area)):
        for ring in (polygon.exterior, *polygon.interiors):
            points = shapely.get_coordinates(ring)[:-1]
            points = points[(points != np.roll(points, 1, axis=0)).any(axis=1)]
            starts.append(points)
            ends.append(np.roll(points, -1, axis=0))
            before.append(total + np.roll(np.arange(len(points)), 1))
            total += len(points)
    start, end = np.concatenate(starts), np.concatenate(ends)
    length = np.linalg.norm(end - start, axis=1)
    along = (end - start) / length[:, None]
    inward = np.column_stack([-along[:, 1], along[:, 0]])
    previous = np.concatenate(before)
    came = along[previous]
    turn = np.arctan2(cross(came, along), np.einsum("ij,ij->i", came, along))
    lines = np.asarray(shapely.linestrings(np.stack([start, end], axis=1)))
    tree = shapely.STRtree(lines)
    return Border(start, along, inward, length, previous, turn, tree)


def cross(a: Array, b: Array) -> Array:
    """(n,) of vectors (n, 2): the sine of the angle from a to b, times both lengths."""
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


def is_clear(border: Border, start: Array, end: Array) -> Mask:
    """Which of the ways between points (n, 2) and (n, 2) no line lies across."""
    clear = np.ones(len(start), bool)
    a, b = start + _TRIM * (end - start), end - _TRIM * (end - start)
    for first in range(0, len(start), _AT_ONCE):
        last = first + _AT_ONCE
        ways = shapely.linestrings(np.stack([a[first:last], b[first:last]], axis=1))
        i, k = border.tree.query(ways)
        i = i + first
        here = np.einsum("ij,ij->i", a[i] - border.start[k], border.inward[k])
        there = np.einsum("ij,ij->i", b[i] - border.start[k], border.inward[k])
        across = (np.maximum(here, there) > NEAR) & (np.minimum(here, there) < -NEAR)
        share = here / np.where(across, here - there, 1.0)
        at = a[i] + share[:, None] * (b[i] - a[i])
        along = np.einsum("ij,ij->i", at - border.start[k], border.along[k])
        across &= (along >= -NEAR) & (along <= border.length[k] + NEAR)
        clear[i[across]] = False
    return clear
