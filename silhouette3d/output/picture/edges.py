"""The lines that a draughtsman would draw of a solid: no trace of its triangles."""

from __future__ import annotations

from math import cos, radians
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from silhouette3d.view import Array

if TYPE_CHECKING:
    from silhouette3d.solid import Mesh

Indices = NDArray[np.int64]

SHARP: Final = 25.0
"""Degrees. Faces that meet at more than this meet in an edge. The chords of an arc
of 0.5 mm radius at the default tolerance of 0.01 mm turn by 23 degrees."""


def visible_edges(mesh: Mesh, look: ArrayLike | None = None, sharp: float = SHARP) -> Array:
    """Where faces meet, and where a round turns out of sight.

    Parameters
    ----------
    mesh : Mesh
        A closed surface.
    look : array_like, optional
        (3,) unit vector of sight. With it, edges whose faces both turn away are
        left out and contours of rounds are added; other solids may still hide
        what is returned.
    sharp : float
        Least angle between two faces that makes an edge, in degrees.

    Returns
    -------
    (n, 2, 3) array
        The ends of each line in mm.
    """
    return np.asarray(mesh.vertices[sharp_edges(mesh, look, sharp)])


def sharp_edges(mesh: Mesh, look: ArrayLike | None = None, sharp: float = SHARP) -> Indices:
    """The same as (n, 2) indices of vertices."""
    if not mesh.triangles.size:
        return np.empty((0, 2), np.int64)
    ends, first, second = _neighbours(mesh)
    normals = _normals(mesh, ends, first, second)
    a, b = normals[first], normals[second]
    drawn = np.einsum("ij,ij->i", a, b) < cos(radians(sharp))
    if look is not None:
        towards = normals @ np.negative(look)
        near, far = towards[first] > _EDGE_ON, towards[second] > _EDGE_ON
        drawn = (drawn & (near | far)) | (near != far)
    return np.asarray(ends[drawn])


_NO_AREA: Final = 1e-9
"""mm². A triangle smaller than this lies on one line: its normal is rounding."""


def _normals(mesh: Mesh, ends: Indices, first: Indices, second: Indices) -> Array:
    """Unit normals; a triangle without an area belongs to a face beside it.

    That is the one along its longest side. Where several such triangles lie side by side,
    those at a face come first, and then those at them.
    """
    normals = mesh.area_vectors.copy()
    thin = np.linalg.norm(normals, axis=1) < 2.0 * _NO_AREA
    owner, beyond = np.concatenate([first, second]), np.concatenate([second, first])
    sides = np.flatnonzero(thin[owner])
    along = np.linalg.norm(np.subtract(*mesh.vertices[np.tile(ends, (2, 1))[sides].T]), axis=1)
    sides = sides[np.argsort(along, kind="stable")]
    while (some := sides[thin[owner[sides]] & ~thin[beyond[sides]]]).size:
        normals[owner[some]] = normals[beyond[some]]  # the longest is written last
        thin[owner[some]] = False
    lengths = np.linalg.norm(normals, axis=1, keepdims=True)
    unit: Array = np.divide(normals, lengths, out=np.zeros_like(normals), where=lengths > 0)
    return unit


_EDGE_ON: Final = 1e-6
"""Cosine. A face this square to the paper is neither turned to the eye nor away."""


def _neighbours(mesh: Mesh) -> tuple[Indices, Indices, Indices]:
    """Each edge once: its two points, and the two triangles that share it."""
    ends = mesh.triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    owner = np.repeat(np.arange(len(mesh.triangles), dtype=np.int64), 3)
    ends = np.sort(ends, axis=1)
    order = np.lexsort((ends[:, 1], ends[:, 0]))
    return ends[order][::2].astype(np.int64), owner[order][::2], owner[order][1::2]
