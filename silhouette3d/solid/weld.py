"""A surface without its edges and triangles of next to no width."""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from silhouette3d.solid.mesh import Indices, Mesh
from silhouette3d.solid.parting import parted
from silhouette3d.view import Array

_MOST: Final = 10_000
"""Short edges, counted from either side, and narrow triangles. They are put right one by one;
more are left to the engine."""


def welded(mesh: Mesh, near: float, flat: float) -> Mesh | None:
    """The same surface where no edge is shorter than `near`, and no triangle is flat.

    The ends of a short edge become one point. A triangle narrower than that, with a
    corner all but on its longest edge, makes a quadrangle with its neighbour there: where
    it can, the other diagonal parts that. So no point moves further than short edges reach.

    Parameters
    ----------
    mesh : Mesh
        Closed; its triangles may have no area.
    near : float
        In mm.
    flat : float
        In mm, less: what is wider may stay.

    Returns
    -------
    Mesh or None
        None where the surface would not stay one that is closed, and has one
        side, round each of its points; or where there is too much to do.
    """
    vertices, triangles = mesh.vertices, mesh.triangles
    while (joined := _joined(vertices, triangles, near)) is not None:
        narrow = np.flatnonzero(_heights(vertices, joined) < near)
        if len(narrow) > _MOST:
            return None
        triangles, left, shortest = parted(vertices, joined, narrow, near)
        if shortest >= near:
            is_flat = _heights(vertices, triangles[left]) < flat
            return None if is_flat.any() else _of_used(vertices, triangles)
    return None


def _lengths(mesh: Mesh) -> Array:
    """(m, 3) from each corner of a triangle to the next, in mm."""
    a, b, c = (mesh.corners[:, i] for i in range(3))
    return np.column_stack([np.sqrt(np.einsum("ij,ij->i", v, v)) for v in (b - a, c - b, a - c)])


def _heights(vertices: Array, triangles: Indices) -> Array:
    """(m,) above the longest edge, in mm; 0 where all corners are one point."""
    mesh = Mesh(vertices, triangles)
    area, longest = mesh.area_vectors, _lengths(mesh).max(axis=1)
    doubled = 2.0 * np.sqrt(np.einsum("ij,ij->i", area, area))
    return np.asarray(doubled / np.where(longest == 0.0, 1.0, longest))


def _joined(vertices: Array, triangles: Indices, near: float) -> Indices | None:
    """Each group of points that short edges link as one of them."""
    short = _lengths(Mesh(vertices, triangles)) < near
    if not short.any():
        return triangles
    if np.count_nonzero(short) > _MOST:
        return None
    start, end = triangles[short], np.roll(triangles, -1, axis=1)[short]
    points, local = np.unique(np.concatenate([start, end]), return_inverse=True)
    links = coo_array((np.ones(len(start), bool), local.reshape(2, -1)), shape=(len(points),) * 2)
    _, group = connected_components(links, directed=False)
    stands_for = np.arange(int(triangles.max()) + 1)
    stands_for[points] = points[np.unique(group, return_index=True)[1]][group]
    joined = stands_for[triangles]
    rest = joined[(joined != np.roll(joined, 1, axis=1)).all(axis=1)]
    return rest if _are_whole(rest, np.unique(stands_for[points])) else None


def _are_whole(triangles: Indices, points: Indices) -> bool:
    """Whether triangles go once round each of some points, or leave it."""
    here = _about(triangles, points)
    around: dict[int, dict[int, int]] = {point: {} for point in points.tolist()}
    for triangle in triangles[here].tolist():
        for i in range(3):
            link = around.get(triangle[i])
            if link is not None:
                first, second = triangle[(i + 1) % 3], triangle[(i + 2) % 3]
                if first in link:
                    return False
                link[first] = second
    return all(_is_ring(link) for link in around.values())


def _is_ring(following: dict[int, int]) -> bool:
    """Whether steps from key to value come back after all of them."""
    if not following:
        return True
    start = here = next(iter(following))
    for count in range(1, len(following) + 1):
        if here not in following:
            return False
        here = following[here]
        if here == start:
            return count == len(following)
    return False


def _about(triangles: Indices, points: Indices) -> Indices:
    """Triangles that have one of some points as a corner."""
    wanted = np.zeros(int(triangles.max(initial=0)) + 1, bool)
    wanted[points[points < len(wanted)]] = True
    return np.flatnonzero(wanted[triangles].any(axis=1))


def _of_used(vertices: Array, triangles: Indices) -> Mesh:
    used = np.zeros(len(vertices), bool)
    used[triangles] = True
    return Mesh(vertices[used], (np.cumsum(used) - 1)[triangles])
