"""A surface without its edges and triangles of next to no width."""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from silhouette3d.solid.mesh import Indices, Mesh, in_use
from silhouette3d.solid.parting import parted

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
    while (joined := _joined(mesh, near)) is not None:
        narrow = np.flatnonzero(joined.heights < near)
        if len(narrow) > _MOST:
            return None
        mesh, left, shortest = parted(joined, narrow, near)
        if shortest >= near:
            if (Mesh(mesh.vertices, mesh.triangles[left]).heights < flat).any():
                return None
            used, triangles = in_use(mesh.triangles, len(mesh.vertices))
            return Mesh(mesh.vertices[used], triangles)
    return None


def _joined(mesh: Mesh, near: float) -> Mesh | None:
    """Each group of points that short edges link as one of them."""
    triangles, short = mesh.triangles, mesh.side_lengths < near
    if not short.any():
        return mesh
    if np.count_nonzero(short) > _MOST:
        return None
    start, end = triangles[short], np.roll(triangles, -1, axis=1)[short]
    points, local = np.unique(np.concatenate([start, end]), return_inverse=True)
    links = coo_array((np.ones(len(start), bool), local.reshape(2, -1)), shape=(len(points),) * 2)
    _, group = connected_components(links, directed=False)
    stands_for = np.arange(len(mesh.vertices))
    stands_for[points] = points[np.unique(group, return_index=True)[1]][group]
    joined = stands_for[triangles]
    rest = Mesh(mesh.vertices, joined[(joined != np.roll(joined, 1, axis=1)).all(axis=1)])
    return rest if _is_whole(rest, np.unique(stands_for[points])) else None


def _is_whole(mesh: Mesh, points: Indices) -> bool:
    """Whether triangles go once round each of some points, or leave it."""
    around: dict[int, dict[int, int]] = {point: {} for point in points.tolist()}
    for triangle in mesh.triangles[mesh.about(points)].tolist():
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
