"""Where bodies touch without being joined: along an edge, or in a point."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from silhouette3d.solid import Mesh, Solid
from silhouette3d.view import Array

TOUCH: Final = 1e-6
"""mm. Bodies nearer than this touch."""


@dataclass(frozen=True)
class Contact:
    """A place where two bodies, or one body and itself, touch.

    Parameters
    ----------
    bodies : tuple of int
        Indices of the two bodies; twice the same when a body touches itself.
    where : (3,) array
        The middle of the place in mm, block frame.
    length : float
        Of the edge along which they touch in mm; 0 for a point.
    """

    bodies: tuple[int, int]
    where: Array
    length: float


def contacts(bodies: Sequence[Solid]) -> tuple[Contact, ...]:
    """Every pair of bodies that touch, and every body that touches itself."""
    found = [
        Contact((i, j), *_extent(points))
        for (i, a), (j, b) in combinations(enumerate(bodies), 2)
        if len(points := _touching(a, b))
    ]
    for i, body in enumerate(bodies):
        found += [Contact((i, i), where, length) for where, length in _pinches(body.mesh)]
    return tuple(found)


def _touching(a: Solid, b: Solid) -> Array:
    """Points (n, 3) at which two bodies touch."""
    low = np.maximum(a.bounds[0], b.bounds[0]) - TOUCH
    high = np.minimum(a.bounds[1], b.bounds[1]) + TOUCH
    nothing = np.empty((0, 3))
    if (low > high).any() or a.gap(b, 10 * TOUCH) > TOUCH:
        return nothing
    first, second = _near(a.mesh, low, high), _near(b.mesh, low, high)
    i, j = _overlapping(first, second)
    points = [
        _corners_on(first[i], second[j]),
        _corners_on(second[j], first[i]),
        _edges_meeting(first[i], second[j]),
    ]
    return np.concatenate(points) if points else nothing


def _near(mesh: Mesh, low: Array, high: Array) -> Array:
    """(n, 3, 3) the triangles that reach into a box."""
    corners = mesh.corners
    reach = (corners.min(axis=1) <= high).all(axis=1) & (corners.max(axis=1) >= low).all(axis=1)
    return np.asarray(corners[reach])


def _overlapping(first: Array, second: Array) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Pairs of triangles whose bounding boxes overlap."""
    boxes = [
        shapely.box(*(t.min(axis=1)[:, :2] - TOUCH).T, *(t.max(axis=1)[:, :2] + TOUCH).T)
        for t in (first, second)
    ]
    i, j = shapely.STRtree(boxes[1]).query(boxes[0])
    z_low = np.maximum(first[i, :, 2].min(axis=1), second[j, :, 2].min(axis=1))
    z_high = np.minimum(first[i, :, 2].max(axis=1), second[j, :, 2].max(axis=1))
    keep = z_low <= z_high + TOUCH
    return i[keep], j[keep]


def _corners_on(triangles: Array, others: Array) -> Array:
    """Corners of the first triangles that lie on their partners, (n, 3)."""
    a, b, c = (others[:, None, k] for k in range(3))
    normal = np.cross(b - a, c - a)
    size = np.linalg.norm(normal, axis=2, keepdims=True)
    size[size == 0.0] = np.inf
    height = np.einsum("ijk,ijk->ij", triangles - a, normal / size)
    inside = np.abs(height) <= TOUCH
    for p, q in ((a, b), (b, c), (c, a)):
        edge = np.linalg.norm(q - p, axis=2)
        side = np.einsum("ijk,ijk->ij", np.cross(q - p, triangles - p), normal / size)
        inside &= side >= -TOUCH * np.maximum(edge, TOUCH)
    inside &= np.isfinite(size[..., 0])
    return np.asarray(triangles[inside])


def _edges_meeting(first: Array, second: Array) -> Array:
    """Points where an edge of the first triangles crosses an edge of their partners, (n, 3)."""
    found = []
    for k in range(3):
        p, d = first[:, k], first[:, (k + 1) % 3] - first[:, k]
        for m in range(3):
            q, e = second[:, m], second[:, (m + 1) % 3] - second[:, m]
            found.append(_crossings(p, d, q, e))
    return np.concatenate(found)


def _crossings(p: Array, d: Array, q: Array, e: Array) -> Array:
    """Where p + s d meets q + t e within both pieces; parallel ones are left to their corners."""
    dd, ee, de = (np.einsum("ij,ij->i", *pair) for pair in ((d, d), (e, e), (d, e)))
    r = p - q
    dr, er = np.einsum("ij,ij->i", d, r), np.einsum("ij,ij->i", e, r)
    determinant = dd * ee - de**2
    ok = determinant > 1e-12 * dd * ee
    safe = np.where(ok, determinant, 1.0)
    s = (de * er - ee * dr) / safe
    t = (dd * er - de * dr) / safe
    here, there = p + s[:, None] * d, q + t[:, None] * e
    ok &= (s >= 0) & (s <= 1) & (t >= 0) & (t <= 1)
    ok &= np.linalg.norm(here - there, axis=1) <= TOUCH
    return np.asarray(here[ok])


def _extent(points: Array) -> tuple[Array, float]:
    """The middle of some points, and how far they spread."""
    low, high = points.min(axis=0), points.max(axis=0)
    spread = float(np.linalg.norm(high - low))
    return (low + high) / 2.0, spread if spread > TOUCH else 0.0


def _pinches(mesh: Mesh) -> Iterator[tuple[Array, float]]:
    """Where a body's own surface meets itself: vertices that lie on one another.

    Two vertices of the mesh in one place mean that two sheets of the surface
    meet there; those that are joined by an edge of the mesh form one place.
    """
    keys = np.round(mesh.vertices / TOUCH).astype(np.int64)
    _, inverse, counts = np.unique(keys, axis=0, return_inverse=True, return_counts=True)
    inverse = inverse.ravel()
    double = counts[inverse] > 1
    if not double.any():
        return
    places = {int(i): mesh.vertices[inverse == i][0] for i in np.unique(inverse[double])}
    ends = inverse[mesh.triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)]
    pairs, uses = np.unique(np.sort(ends, axis=1), axis=0, return_counts=True)
    on_edge: set[int] = set()
    for (i, j), used in zip(pairs, uses, strict=True):
        if used > 2 and i != j and int(i) in places and int(j) in places:  # noqa: PLR2004
            a, b = places[int(i)], places[int(j)]
            on_edge |= {int(i), int(j)}
            yield (a + b) / 2.0, float(np.linalg.norm(b - a))
    for i, place in places.items():
        if i not in on_edge:
            yield place, 0.0
