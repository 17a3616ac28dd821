"""The surface of a solid, made ready for measuring: walls, bent edges, corners.

Triangles lower than `SLIVER` times the size of the solid have no direction of
their own; they take the normal of the neighbour across their longest edge, and
nothing is measured on them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from silhouette3d.solid import Mesh
from silhouette3d.view import Array

Indices = NDArray[np.int64]
Mask = NDArray[np.bool_]

SLIVER: Final = 1e-8
"""Share of the solid's diagonal; ten thousand times the resolution of the boolean engine."""

FLAT: Final = 1e-6
"""Radians. Triangles that turn less than this at an edge lie in one plane."""

SMOOTH: Final = np.radians(10.0)
"""Triangles that turn less than this at an edge belong to one wall, which has no rim there."""


@dataclass(frozen=True)
class Edges:
    """Edges at which the surface turns.

    Parameters
    ----------
    ends : (n, 2) array of int
        Indices of vertices; the same for all that lie in one place and hang together.
    start, along : (n, 3) arrays
        The first end in mm, and the unit vector towards the other.
    length, turning : (n,) arrays
        In mm; the angle between the normals of both sides in radians.
    convex : (n,) array of bool
        Whether the surface turns away from the material.
    left, right, middle : (n, 3) arrays
        Unit normals, outward: of both sides, and halfway between them.
    sides : (n, 2) array of int
        Rows in the surface of the triangles on both sides, -1 for slivers.
    """

    ends: Indices
    start: Array
    along: Array
    length: Array
    turning: Array
    convex: Mask
    left: Array
    right: Array
    middle: Array
    sides: Indices

    @property
    def dihedral(self) -> Array:
        """(n,) angle in the material between both sides, in radians."""
        return np.where(self.convex, np.pi - self.turning, np.pi + self.turning)


@dataclass(frozen=True)
class Corners:
    """Vertices at which all edges are convex, or all concave (the tip of a void).

    Parameters
    ----------
    point : (n, 3) array
        In mm.
    sign : (n,) array
        1 for convex, -1 for concave.
    first : (n + 1,) array of int
        Where the rows of each corner begin in the arrays below.
    away : (r, 3) array
        Unit vectors along the edges, away from the corner.
    normal : (r, 2, 3) array
        Outward unit normals of both sides of those edges.
    axis, spread : (n, 3) and (n,) arrays
        The mean normal and the greatest angle of a normal from it, in radians.
    """

    point: Array
    sign: Array
    first: Indices
    away: Array
    normal: Array
    axis: Array
    spread: Array


@dataclass(frozen=True)
class Surface:
    """What is measured.

    Parameters
    ----------
    triangle : (n,) array of int
        Which triangles of the mesh are no slivers; `corners`, `normal` and `area`
        have a row for each of them.
    corners, normal, area : (n, 3, 3), (n, 3), (n,) arrays
        In mm; outward and of unit length; in mm².
    edges : Edges
        All that are bent.
    points : Corners
        All that are purely convex or purely concave.
    size : float
        Diagonal of the bounding box in mm.
    """

    triangle: Indices
    corners: Array
    normal: Array
    area: Array
    edges: Edges
    points: Corners
    size: float


def surface_of(mesh: Mesh) -> Surface:
    """The surface of a mesh that has at least one triangle."""
    size = float(np.linalg.norm(np.ptp(mesh.vertices, axis=0)))
    sides = mesh.edges[1]
    normal, sliver = _normals(mesh, SLIVER * size)
    turning = _angle(normal[sides[:, 0]], normal[sides[:, 1]])
    kept = np.nonzero(~sliver)[0]
    row = np.where(sliver, -1, np.cumsum(~sliver) - 1)
    edges = _bent(mesh, normal, turning, row)
    area = np.linalg.norm(mesh.area_vectors, axis=1)
    return Surface(
        kept,
        mesh.corners[kept],
        normal[kept],
        area[kept],
        edges,
        _corners(mesh.vertices, edges),
        size,
    )


def _normals(mesh: Mesh, lowest: float) -> tuple[Array, Mask]:
    """Unit normals, and which triangles are slivers and took theirs from a neighbour."""
    corners, vectors = mesh.corners, mesh.area_vectors
    double = 2.0 * np.linalg.norm(vectors, axis=1)
    lengths = np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2)
    sliver = double <= lowest * lengths.max(axis=1)
    normal = 2.0 * vectors / np.where(sliver, np.inf, double)[:, None]
    if not sliver.any():
        return normal, sliver
    longest_first = np.argsort(-lengths, axis=1, kind="stable")
    across = np.take_along_axis(_neighbours(mesh), longest_first, axis=1)
    unknown = sliver.copy()
    while unknown.any():
        known = unknown[:, None] & ~unknown[across]
        k = int(known.any(axis=0).argmax())  # slivers in pairs must ask over a shorter edge
        if not known[:, k].any():  # a body of slivers only: any direction will do
            normal[unknown] = (0.0, 0.0, 1.0)
            break
        normal[known[:, k]] = normal[across[known[:, k], k]]
        unknown &= ~known[:, k]
    return normal, sliver


def _neighbours(mesh: Mesh) -> Indices:
    """(m, 3) the triangle across each edge; edge k runs from corner k to the next."""
    start, end = mesh.triangles.ravel(), np.roll(mesh.triangles, -1, axis=1).ravel()
    order = np.lexsort((start > end, np.maximum(start, end), np.minimum(start, end)))
    across = np.empty(len(order), np.int64)
    across[order] = order.reshape(-1, 2)[:, ::-1].ravel() // 3
    return across.reshape(-1, 3)


def _angle(a: Array, b: Array) -> Array:
    """Between unit vectors (n, 3), in radians, precise for small angles too."""
    return np.asarray(
        2.0 * np.arctan2(np.linalg.norm(a - b, axis=1), np.linalg.norm(a + b, axis=1))
    )


def _bent(mesh: Mesh, normal: Array, turning: Array, row: Indices) -> Edges:
    ends, sides = mesh.edges
    start, end = mesh.vertices[ends[:, 0]], mesh.vertices[ends[:, 1]]
    length = np.linalg.norm(end - start, axis=1)
    bent = np.nonzero((turning > FLAT) & (length > 0.0))[0]
    turning, start = turning[bent], start[bent]
    along = (end[bent] - start) / length[bent, None]
    left, right = normal[sides[bent, 0]], normal[sides[bent, 1]]
    convex = np.einsum("ij,ij->i", np.cross(left, right), along) > 0.0
    middle = left + right
    folded = np.pi - turning < FLAT  # both sides back to back: halfway is out along one of them
    outward = np.cross(left, along) * np.where(convex, -1.0, 1.0)[:, None]
    middle[folded] = outward[folded]
    middle /= np.linalg.norm(middle, axis=1)[:, None]
    both = row[sides[bent]]
    meet = _places(ends, length, len(mesh.vertices))[ends[bent]]
    return Edges(meet, start, along, length[bent], turning, convex, left, right, middle, both)


def _places(ends: Indices, length: Array, count: int) -> Indices:
    """(count,) one number for all vertices that edges of no length join."""
    none = ends[length == 0.0]
    if not len(none):
        return np.arange(count)
    links = coo_array((np.ones(len(none), bool), (none[:, 0], none[:, 1])), (count, count))
    label = connected_components(links, directed=False)[1]
    _, first = np.unique(label, return_index=True)
    return np.asarray(first[label], np.int64)


def _corners(vertices: Array, edges: Edges) -> Corners:
    """Vertices with three bent edges or more that all bend the same way."""
    vertex = edges.ends.T.ravel()
    edge = np.tile(np.arange(len(edges.ends)), 2)
    away = np.concatenate([edges.along, -edges.along])
    count = np.bincount(vertex, minlength=len(vertices))
    convex = np.bincount(vertex, weights=edges.convex[edge], minlength=len(vertices))
    pure = (count >= 3) & ((convex == 0) | (convex == count))
    rows = np.nonzero(pure[vertex])[0]
    rows = rows[np.argsort(vertex[rows], kind="stable")]
    chosen = np.nonzero(pure)[0]
    first = np.concatenate([[0], np.cumsum(count[chosen])])
    normal = np.stack([edges.left[edge[rows]], edges.right[edge[rows]]], axis=1)
    if not len(chosen):
        return Corners(
            np.empty((0, 3)), np.empty(0), first, away[rows], normal, np.empty((0, 3)), np.empty(0)
        )
    total = np.add.reduceat(normal.sum(axis=1), first[:-1])
    size = np.linalg.norm(total, axis=1)
    axis = total / np.where(size > 0.0, size, 1.0)[:, None]
    owner = np.repeat(np.arange(len(chosen)), count[chosen])
    off = np.arccos(np.clip(np.einsum("rkj,rj->rk", normal, axis[owner]).min(axis=1), -1.0, 1.0))
    spread = np.where(size > 0.0, np.maximum.reduceat(off, first[:-1]), np.pi)
    sign = np.where(convex[chosen] > 0, 1.0, -1.0)
    return Corners(vertices[chosen], sign, first, away[rows], normal, axis, spread)
