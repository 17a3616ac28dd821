"""Bodies that touch themselves along a line, told apart by index.

A file format that names points by index can say which two of the four
triangles at such a line belong together. 3MF demands it: "The producer SHOULD
NOT include duplicate vertices unless coalescing duplicates would create
non-manifold edges" (3MF Core Specification, section Vertices).
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from silhouette3d.solid import Mesh

__all__ = ["part_contacts"]

Points = NDArray[np.float64]
Indices = NDArray[np.int64]


def part_contacts(mesh: Mesh) -> Mesh:
    """The same surface with each edge shared by exactly two triangles.

    Points on lines where the body touches itself are given more than once, so
    that the wedges of material that meet there no longer share them.

    Through-cuts leave such a line only where one outline touches itself, and
    then the wedges have no other connection near the line. A line of contact
    that begins and ends inside one piece of surface would stay shared.

    Parameters
    ----------
    mesh : Mesh
        A closed surface without repeated points, as `tidy` gives it.

    Returns
    -------
    Mesh
        Unchanged where nothing touches.
    """
    triangles = np.asarray(mesh.triangles, np.int64)
    pairs, crowds = _edges(triangles)
    if not crowds:
        return mesh
    partner = np.empty(triangles.size, np.int64)
    partner[pairs] = pairs[:, ::-1]
    for crowd in crowds:
        for one, other in _wedges(mesh.vertices, triangles, crowd):
            partner[one], partner[other] = other, one
    ends = np.unique(triangles.ravel()[np.concatenate(crowds)])
    points, triangles = _double(mesh.vertices, triangles, partner, ends)
    return replace(mesh, vertices=points, triangles=triangles)


def _edges(triangles: Indices) -> tuple[Indices, list[Indices]]:
    """The two half-edges of each ordinary edge, (k, 2), and all those of each crowded one.

    Half-edge 3 t + i runs from corner i of triangle t to corner i + 1.
    """
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    low, high = np.minimum(start, end), np.maximum(start, end)
    order = np.lexsort((high, low))
    new = (np.diff(low[order]) != 0) | (np.diff(high[order]) != 0)
    begin = np.concatenate([[0], np.nonzero(new)[0] + 1])
    size = np.diff(np.append(begin, len(order)))
    crowds = [order[b : b + n] for b, n in zip(begin[size > 2], size[size > 2], strict=True)]
    return order[begin[size == 2][:, None] + [0, 1]], crowds


def _wedges(points: Points, triangles: Indices, crowd: Indices) -> list[tuple[int, int]]:
    """Pair the half-edges of a crowded edge so that each pair has material between its triangles.

    Turning right-handed about the edge, from its lower to its higher index, a
    triangle whose half-edge runs down has its material ahead of it, and one
    whose half-edge runs up has it behind.
    """
    side = crowd % 3
    start, end, tip = (triangles[crowd // 3, (side + k) % 3] for k in range(3))
    runs_up = start < end
    origin = points[min(start[0], end[0])]
    axis = points[max(start[0], end[0])] - origin
    arms = points[tip] - origin
    across = np.cross(axis, arms)
    reference = across[np.linalg.norm(across, axis=1).argmax()]
    angle = np.arctan2(
        np.cross(reference, across) @ axis / np.linalg.norm(axis), across @ reference
    )
    turn = np.argsort(angle, kind="stable")
    # begin where no wedge is open: like brackets, after the deepest closing
    depth = np.cumsum(np.where(runs_up[turn], -1, 1))
    turn = np.roll(turn, -int(depth.argmin()) - 1)
    begun: list[int] = []
    pairs = []
    for half, closes in zip(crowd[turn], runs_up[turn], strict=True):
        if closes:
            pairs.append((begun.pop(), int(half)))
        else:
            begun.append(int(half))
    return pairs


def _double(
    points: Points, triangles: Indices, partner: Indices, ends: Indices
) -> tuple[Points, Indices]:
    """Give each fan of triangles around the points `ends` a point of its own."""
    corner = triangles.ravel().copy()
    more: list[Points] = []
    done: set[int] = set()
    named: set[int] = set()
    for first in map(int, np.nonzero(np.isin(corner, ends))[0]):
        if first in done:
            continue
        point = int(triangles.flat[first])
        name = point
        if point in named:
            name = len(points) + len(more)
            more.append(points[point])
        named.add(point)
        half = first
        while half not in done:
            done.add(half)
            corner[half] = name
            half = int(partner[half // 3 * 3 + (half + 2) % 3])
    return np.vstack([points, *more]), corner.reshape(-1, 3)
