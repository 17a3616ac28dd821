"""Faces from their borders: directed edges linked up to loops, loops filled with triangles."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import manifold3d
import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from silhouette3d.solid.mesh import Indices
from silhouette3d.view import Array

_SHORT: Final = 8
"""Corners of a loop that is tried as a fan, all of one length at a time."""


class DoubtfulError(Exception):
    """Points lie too near to each other to be told apart, or borders do not close."""


@dataclass(frozen=True, eq=False)
class Border:
    """Directed edges round faces, each with its face on the left.

    Parameters
    ----------
    face : (n,) array of int
        Whose border it is.
    start, end : (n,) array of int
        Points.
    """

    face: Indices
    start: Indices
    end: Indices

    @classmethod
    def joined(cls, parts: Sequence[Border]) -> Border:
        """All of them."""
        return cls(
            np.concatenate([part.face for part in parts]),
            np.concatenate([part.start for part in parts]),
            np.concatenate([part.end for part in parts]),
        )

    def of_faces(self, offset: int) -> Border:
        """With faces numbered from another one on."""
        return Border(self.face + offset, self.start, self.end)

    @property
    def following(self) -> Indices:
        """(n,) for each edge the one of the same face that begins where it ends.

        Raises
        ------
        DoubtfulError
            If it is not exactly one.
        """
        points = int(max(self.start.max(initial=0), self.end.max(initial=0))) + 1
        begins, ends = self.face * points + self.start, self.face * points + self.end
        order = np.argsort(begins)
        at = np.searchsorted(begins[order], ends)
        following = np.asarray(np.append(order, 0)[at])
        met = np.zeros(len(begins), bool)
        met[following % max(len(begins), 1)] = True
        if not met.all() or (begins[following] != ends).any():
            raise DoubtfulError
        return following


def triangulated(border: Border, flat: Array) -> Indices:
    """Triangles (m, 3) of points that fill the faces.

    Parameters
    ----------
    border : Border
        Of all faces.
    flat : (n, 2) array
        Where each edge begins, in the plane of its face as seen from outside.

    Raises
    ------
    DoubtfulError
        If borders do not close, or close after two edges.
    """
    count = len(border.face)
    if not count:
        return np.empty((0, 3), np.int64)
    following = border.following
    links = coo_array((np.ones(count, bool), (np.arange(count), following)), shape=(count, count))
    loops, loop = connected_components(links, directed=False)
    length = np.bincount(loop, minlength=loops)
    if length.min() < 3:
        raise DoubtfulError
    doubled = flat[:, 0] * flat[following, 1] - flat[:, 1] * flat[following, 0]
    is_hole = np.bincount(loop, doubled, loops) < 0.0
    first = np.empty(loops, np.int64)
    first[loop[::-1]] = np.arange(count)[::-1]
    pierced = np.zeros(int(border.face.max()) + 1, bool)
    pierced[border.face[first[is_hole]]] = True
    length[pierced[border.face[first]]] = 0
    filled = [np.empty((0, 3), np.int64)]
    rest = [np.flatnonzero((length == 0) | (length > _SHORT))]
    for corners in range(3, _SHORT + 1):
        these = np.flatnonzero(length == corners)
        if not len(these):
            continue
        triangles, done = _fans(first[these], corners, following, flat)
        filled.append(triangles)
        rest.append(these[~done])
    others = np.concatenate(rest)
    edges = [*filled, *_one_by_one(border.face, first[others], length[others], following, flat)]
    return border.start[np.concatenate(edges)]


def _fans(first: Indices, corners: int, following: Indices, flat: Array) -> tuple[Indices, Indices]:
    """Loops as fans from the corner whose thinnest triangle is largest, where there is one."""
    loops = np.empty((len(first), corners), np.int64)
    loops[:, 0] = first
    for i in range(1, corners):
        loops[:, i] = following[loops[:, i - 1]]
    different = corners - 2 if corners < 5 else corners  # a diagonal has two ends
    thinnest = np.column_stack(
        [_least_area(flat[np.roll(loops, -i, axis=1)]) for i in range(different)]
    )
    apex = np.argmax(thinnest, axis=1)
    rows = np.arange(len(loops))
    done = thinnest[rows, apex] > 0.0
    turned = loops[rows[:, None], (apex[:, None] + np.arange(corners)) % corners][done]
    fan = [turned[:, [0, i, i + 1]] for i in range(1, corners - 1)]
    return np.concatenate(fan), done


def _least_area(points: Array) -> Array:
    """(n,) smallest of the triangles between the first of (n, c, 2) corners and two neighbours."""
    arms = points[:, 1:] - points[:, :1]
    areas = arms[:, :-1, 0] * arms[:, 1:, 1] - arms[:, :-1, 1] * arms[:, 1:, 0]
    return np.asarray(areas.min(axis=1))


def _one_by_one(
    face: Indices, first: Indices, length: Indices, following: Indices, flat: Array
) -> Iterator[Indices]:
    """Long or winding loops, and faces with holes, by the engine's triangulation."""
    step = following.tolist()
    groups: dict[int, list[list[int]]] = {}
    for number, (start, is_whole) in enumerate(zip(first.tolist(), length > 0, strict=True)):
        loop = [start]
        while (here := step[loop[-1]]) != start:
            loop.append(here)
        # loops of one face belong together if it has holes
        groups.setdefault(-1 - number if is_whole else int(face[start]), []).append(loop)
    for rings in groups.values():
        edges = np.concatenate([np.array(ring) for ring in rings])
        triangles = np.asarray(manifold3d.triangulate([flat[ring] for ring in rings]), np.int64)
        yield edges[triangles.reshape(-1, 3)]
