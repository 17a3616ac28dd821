"""Triangles, and what can be asked of them without the boolean engine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.indices import linked

Indices = NDArray[np.int64]


@dataclass(frozen=True)
class Mesh:
    """Triangles that bound a solid, counter-clockwise as seen from outside.

    Parameters
    ----------
    vertices : (n, 3) array
        In mm, block frame.
    triangles : (m, 3) array of int
        Indices into `vertices`.
    """

    vertices: Array
    triangles: Indices

    def __repr__(self) -> str:
        return f"Mesh({self.summary})"

    @property
    def summary(self) -> str:
        """Counts and extent, for people.

        >>> Mesh(np.eye(3), np.array([[0, 1, 2]]))
        Mesh(3 vertices, 1 triangles, from (0, 0, 0) to (1, 1, 1) mm)
        """
        if not len(self.vertices):
            return "empty"
        low, high = (
            ", ".join(f"{x:.6g}" for x in corner)
            for corner in (self.vertices.min(axis=0), self.vertices.max(axis=0))
        )
        counts = f"{len(self.vertices)} vertices, {len(self.triangles)} triangles"
        return f"{counts}, from ({low}) to ({high}) mm"

    def __post_init__(self) -> None:
        self.vertices.setflags(write=False)
        self.triangles.setflags(write=False)

    @property
    def corners(self) -> Array:
        """(m, 3, 3) the three corners of every triangle; not kept, for it is the most of a mesh."""
        return np.asarray(self.vertices[self.triangles])

    @cached_property
    def area_vectors(self) -> Array:
        """(m, 3) outward normals, as long as the triangle's area in mm²."""
        a, b, c = np.moveaxis(self.corners, 1, 0)
        return np.asarray(np.cross(b - a, c - a) / 2.0)

    @cached_property
    def side_lengths(self) -> Array:
        """(m, 3) from each corner of a triangle to the next, in mm."""
        a, b, c = np.moveaxis(self.corners, 1, 0)
        sides = b - a, c - b, a - c
        return np.column_stack([np.sqrt(np.einsum("ij,ij->i", v, v)) for v in sides])

    @cached_property
    def heights(self) -> Array:
        """(m,) of triangles above their longest side, in mm; 0 where all corners are one point."""
        longest = self.side_lengths.max(axis=1)
        doubled = 2.0 * np.sqrt(np.einsum("ij,ij->i", self.area_vectors, self.area_vectors))
        return np.asarray(doubled / np.where(longest == 0.0, 1.0, longest))

    def about(self, points: Indices) -> Indices:
        """Find triangles that have one of some points as a corner."""
        wanted = np.zeros(len(self.vertices), bool)
        wanted[points] = True
        return np.flatnonzero(wanted[self.triangles].any(axis=1))

    @cached_property
    def edges(self) -> tuple[Indices, Indices]:
        """(k, 2) ends of every edge, and (k, 2) the triangles on its left and right.

        Left and right as seen from outside, looking from the first end to the second.
        """
        start, end = self.triangles.ravel(), np.roll(self.triangles, -1, axis=1).ravel()
        ends = np.column_stack([np.minimum(start, end), np.maximum(start, end)])
        number = ends[:, 0] * len(self.vertices) + ends[:, 1]  # of each edge, one key to sort by
        order = np.argsort(2 * number + (start > end), kind="stable")
        return ends[order][::2], (order // 3).reshape(-1, 2)


def in_use(triangles: Indices, count: int) -> tuple[NDArray[np.bool_], Indices]:
    """Tell which of so many points triangles use, and number the triangles' corners among those."""
    used = np.zeros(count, bool)
    used[triangles] = True
    return used, (np.cumsum(used) - 1)[triangles]


def connected(mesh: Mesh) -> list[Mesh]:
    """Split a mesh into its connected pieces."""
    count = len(mesh.vertices)
    ends = mesh.triangles[:, [0, 1, 1, 2]].reshape(-1, 2)
    pieces, label = linked(count, ends[:, 0], ends[:, 1])
    owner = label[mesh.triangles[:, 0]]
    points, triangles = (np.argsort(piece, kind="stable") for piece in (label, owner))
    first_point, first_triangle = (
        np.searchsorted(piece, np.arange(pieces + 1)) for piece in (label[points], owner[triangles])
    )
    number = np.empty(count, np.int64)  # of a point within its piece
    number[points] = np.arange(count) - first_point[label[points]]
    vertices, corners = mesh.vertices[points], number[mesh.triangles[triangles]]
    return [
        Mesh(vertices[p:past_p], corners[t:past_t])
        for (p, past_p), (t, past_t) in zip(
            pairwise(first_point.tolist()), pairwise(first_triangle.tolist()), strict=True
        )
        if past_t > t
    ]


def measured(meshes: Sequence[Mesh]) -> tuple[Array, Array, Array]:
    """Measure volume (n,) in mm³, centroid (n, 3) and size (n, 3) in mm of what meshes bound.

    Sums of signed tetrahedra between each triangle and the middle of its mesh's bounding box.
    """
    points, triangles = np.array([(len(m.vertices), len(m.triangles)) for m in meshes]).T
    first_point, first = np.cumsum(points) - points, np.cumsum(triangles) - triangles
    vertices = np.concatenate([mesh.vertices for mesh in meshes])
    low, high = (end.reduceat(vertices, first_point) for end in (np.minimum, np.maximum))
    middle = (low + high) / 2.0
    away = vertices - np.repeat(middle, points, axis=0)
    index = np.concatenate([mesh.triangles for mesh in meshes])
    index = index + np.repeat(first_point, triangles)[:, None]
    a, b, c = np.moveaxis(away[index], 1, 0)
    sixfold = np.einsum("ij,ij->i", a, np.cross(b - a, c - a))
    volume = np.add.reduceat(sixfold, first) / 6.0
    moment = np.add.reduceat(sixfold[:, None] * (a + b + c), first) / 24.0
    flat = volume == 0.0
    centroid = middle + np.where(flat, 0.0, moment.T / np.where(flat, 1.0, volume)).T
    return volume, centroid, high - low


def distances_along(start: Array, direction: Array, corners: Array) -> Array:
    """Measure how far along a ray it meets triangles (Möller and Trumbore 1997), in mm."""
    a = corners[:, 0]
    first, second = corners[:, 1] - a, corners[:, 2] - a
    across = np.cross(direction, second)
    determinant = np.einsum("ij,ij->i", first, across)
    safe = np.where(determinant == 0.0, np.inf, determinant)
    away = start - a
    u = np.einsum("ij,ij->i", away, across) / safe
    turned = np.cross(away, first)
    v = turned @ direction / safe
    distance = np.einsum("ij,ij->i", second, turned) / safe
    return np.asarray(distance[(determinant != 0.0) & (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0)])
