"""Meshes made by hand for the tests of files, and independent looks at them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from silhouette3d.documents.meshes.write import export_mesh
from silhouette3d.geometry.mesh import Mesh

SINGLE = 2.0**-24
"""Relative error of one rounding to single precision (IEEE 754)."""


def box(size: Sequence[float] = (10, 20, 30), at: Sequence[float] = (0, 0, 0)) -> Mesh:
    """A box of eight points and twelve triangles, its lower left corner at `at`."""
    return blocks(np.ones((1, 1, 1), bool), [[p, p + s] for p, s in zip(at, size, strict=True)])


def soup(mesh: Mesh) -> Mesh:
    """The same triangles without shared points, as an STL reader sees them."""
    return Mesh(mesh.corners.reshape(-1, 3), np.arange(mesh.triangles.size).reshape(-1, 3))


def blocks(cells: NDArray[np.bool_], grid: Sequence[Sequence[float]]) -> Mesh:
    """The surface of the filled cells of a grid: two triangles for each face.

    Parameters
    ----------
    cells : (i, j, k) array of bool
    grid : three sequences of i + 1, j + 1, k + 1 coordinates

    The two triangulations of one face, seen from its two sides, are the same.
    """
    filled = np.pad(cells, 1).astype(int)
    corner = np.stack(np.meshgrid(*grid, indexing="ij"), axis=-1)
    number = np.arange(corner[..., 0].size).reshape(corner.shape[:3])
    triangles = []
    for axis in range(3):
        step = np.diff(filled, axis=axis)
        step = step[tuple(slice(None) if k == axis else slice(1, -1) for k in range(3))]
        one, two = (np.eye(3, dtype=int)[(axis + k) % 3] for k in (1, 2))
        for place in np.argwhere(step != 0):
            a, b, c, d = (
                int(number[tuple(place + shift)]) for shift in (0 * one, one, one + two, two)
            )
            faces = [[a, b, c], [a, c, d]]
            material_ahead = step[tuple(place)] > 0
            triangles += [face[::-1] for face in faces] if material_ahead else faces
    used, index = np.unique(np.array(triangles), return_inverse=True)
    return Mesh(corner.reshape(-1, 3)[used].astype(float), index.reshape(-1, 3))


def prism(ring: ArrayLike, height: float) -> Mesh:
    """A convex outline (n, 2), counter-clockwise, from z = 0 to `height`.

    Its two caps are fans about the first point. Where that lies in the middle
    of a side, or the outline has further points on the sides next to it, they
    hold triangles without area.
    """
    flat = np.asarray(ring, float)
    n = len(flat)
    vertices = np.column_stack([np.tile(flat, (2, 1)), np.repeat([0.0, height], n)])
    fan = [[0, i, i + 1] for i in range(1, n - 1)]
    lower = [[a, c, b] for a, b, c in fan]
    upper = [[a + n, b + n, c + n] for a, b, c in fan]
    walls = [
        triangle
        for i in range(n)
        for j in [(i + 1) % n]
        for triangle in ([i, j, j + n], [i, j + n, i + n])
    ]
    return Mesh(vertices, np.array(lower + upper + walls))


def volume(mesh: Mesh) -> float:
    """In the cube of the mesh's unit: signed tetrahedra against the first point."""
    if not len(mesh.triangles):
        return 0.0
    a, b, c = ((mesh.corners - mesh.vertices[0])[:, k] for k in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


def area(mesh: Mesh) -> float:
    """In the square of the mesh's unit."""
    return float(np.linalg.norm(mesh.area_vectors, axis=1).sum())


def edges(mesh: Mesh) -> Counter[tuple[int, int]]:
    """How often each directed edge occurs."""
    return Counter(
        (int(t[k]), int(t[(k + 1) % 3])) for t in mesh.triangles.tolist() for k in range(3)
    )


def closed(mesh: Mesh) -> bool:
    """Whether each directed edge is matched by its opposite."""
    count = edges(mesh)
    return all(count[b, a] == n for (a, b), n in count.items())


def manifold(mesh: Mesh) -> bool:
    """Whether each edge is shared by exactly two triangles, in opposite directions."""
    count = edges(mesh)
    return all(n == 1 and count[b, a] == 1 for (a, b), n in count.items())


def two_blocks_at_an_edge() -> Mesh:
    """One mesh that touches itself along a vertical line."""
    cells = np.array([[[True], [False]], [[False], [True]]])
    return blocks(cells, [[0, 10, 20], [0, 10, 20], [0, 10]])


def export(path: Path, *bodies: Mesh, **options: Any) -> Path:
    """A box of 10 by 20 by 30 mm, or other bodies, in a file."""
    label = {"name": "Harbour tug", "material": "aluminium 6061"}
    export_mesh(bodies or [box()], path, **{**label, **options})
    return path
