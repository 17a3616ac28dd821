"""A hierarchy of boxes over pieces of the surface that also knows which way they face.

Node 0 holds everything. The pieces of a node are halved along the longest way
between their middles, and few are not halved any more. The left child of a node
follows it.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from silhouette3d.measure.thickness.compiled import compiled
from silhouette3d.view import Array

Indices = NDArray[np.int64]

_FILL: Final = 0.25
"""A box that is filled less than this by its triangle is cut."""

_MOST: Final = 2
"""Pieces for each triangle, on average, when slanted ones are cut."""

_FEW: Final = 2
"""Pieces that are not worth halving."""

_NEVER: Final = -2.0
"""In place of a cosine: every direction has something opposed."""


class Tree(NamedTuple):
    """Boxes, slabs and cones of normals; as arrays, so that compiled code can read it.

    Parameters
    ----------
    node : (n, 12) array
        The least x, y, z and the greatest x, y, z of the box in mm; a unit vector
        in the middle of the outward normals; the cosine of the greatest angle
        between that and a direction that has an opposed piece in the node; and
        from where to where along that vector the pieces lie, in mm (anywhere, if
        the normals cancel out).
    link : (n, 2) array of int
        The right child and 0; or the first of the pieces in `item` and the one
        after the last.
    item : (k,) array of int
        What the pieces stand for.
    """

    node: Array
    link: Indices
    item: Indices


def tree_of(points: Array, axis: Array, spread: Array, item: Indices, facing: float) -> Tree:
    """A hierarchy over pieces, each the hull of some points.

    Parameters
    ----------
    points : (n, k, 3) array
        In mm.
    axis, spread : (n, 3) and (n,) arrays
        Mean normal, and the greatest angle of a normal from it in radians.
    item : (n,) array of int
        What each piece stands for; several may stand for the same.
    facing : float
        Radians: how far apart a direction and a normal may be that are opposed.
    """
    order = np.arange(len(item))
    node, link = _halved(points, axis, spread + facing + 1e-9, order)
    return Tree(node, link, item[order])


@compiled
def _halved(points: Array, axis: Array, spread: Array, order: Indices) -> tuple[Array, Indices]:
    """Nodes and links of a hierarchy; `order` is changed to that of its pieces."""
    most = max(2 * len(order), 1)
    node, link = np.empty((most, 12)), np.zeros((most, 2), np.int64)
    waiting = [(0, len(order), -1)]  # from where to where, and the node it is the right child of
    count = 0
    while waiting:
        first, last, parent = waiting.pop()
        if parent >= 0:
            link[parent, 0] = count
        _fit(node, count, points, axis, spread, order[first:last])
        if last - first > _FEW:
            half = (first + last) // 2
            _halve(points, order[first:last], half - first, _longest(points, order[first:last]))
            waiting.append((half, last, count))
            waiting.append((first, half, -1))
        else:
            link[count, 0], link[count, 1] = first, last
        count += 1
    return node[:count].copy(), link[:count].copy()


@compiled
def _fit(node: Array, i: int, points: Array, axis: Array, spread: Array, rows: Indices) -> None:
    """Write box, cone and slab of some pieces to a node."""
    node[i, 0:3], node[i, 3:6], node[i, 6:9] = np.inf, -np.inf, 0.0
    for row in rows:
        for k in range(3):
            node[i, 6 + k] += axis[row, k]
            for j in range(points.shape[1]):
                node[i, k] = min(node[i, k], points[row, j, k])
                node[i, 3 + k] = max(node[i, 3 + k], points[row, j, k])
    size = math.sqrt(node[i, 6] ** 2 + node[i, 7] ** 2 + node[i, 8] ** 2)
    x, y, z = node[i, 6:9] / max(size, 1e-300)
    node[i, 6], node[i, 7], node[i, 8] = x, y, z
    widest = 0.0 if size > 1e-9 else math.pi
    low, high = np.inf, -np.inf
    for row in rows:
        cosine = x * axis[row, 0] + y * axis[row, 1] + z * axis[row, 2]
        widest = max(widest, math.acos(max(-1.0, min(1.0, cosine))) + spread[row])
        for j in range(points.shape[1]):
            at = x * points[row, j, 0] + y * points[row, j, 1] + z * points[row, j, 2]
            low, high = min(low, at), max(high, at)
    node[i, 9] = math.cos(widest) if widest < math.pi else _NEVER
    if size <= 1e-9:  # normals that cancel out: no direction is across all pieces
        low, high = -np.inf, np.inf
    node[i, 10], node[i, 11] = low, high


@compiled
def _middle(points: Array, row: int, k: int) -> float:
    """Twice the middle of a piece along an axis."""
    low = high = points[row, 0, k]
    for j in range(1, points.shape[1]):
        low, high = min(low, points[row, j, k]), max(high, points[row, j, k])
    return float(low + high)


@compiled
def _longest(points: Array, rows: Indices) -> int:
    """The axis along which the middles of pieces lie furthest apart."""
    axis, length = 0, -1.0
    for k in range(3):
        low, high = np.inf, -np.inf
        for row in rows:
            at = _middle(points, row, k)
            low, high = min(low, at), max(high, at)
        if high - low > length:
            axis, length = k, high - low
    return axis


@compiled
def _halve(points: Array, rows: Indices, half: int, axis: int) -> None:
    """Sort pieces so far that none of the first `half` lies beyond any of the others."""
    low, high = 0, len(rows) - 1
    while low < high:
        pivot = _middle(points, rows[(low + high) // 2], axis)
        i, j = low, high
        while i <= j:
            while _middle(points, rows[i], axis) < pivot:
                i += 1
            while _middle(points, rows[j], axis) > pivot:
                j -= 1
            if i <= j:
                rows[i], rows[j] = rows[j], rows[i]
                i += 1
                j -= 1
        if half <= j:
            high = j
        elif half >= i:
            low = i
        else:
            break


def triangle_pieces(corners: Array, shortest: float) -> tuple[Array, Indices]:
    """Pieces (k, 3, 3) that make up triangles, and which triangle each belongs to.

    Triangles that fill little of their box are cut at their longest edge while
    that is longer than `shortest` mm.
    """
    item = np.arange(len(corners))
    done: list[tuple[Array, Indices]] = []
    room = _MOST * len(corners) + 1000
    while len(corners):
        cut, longest = _is_slanted(corners, shortest)
        if cut.sum() * 2 + (~cut).sum() + sum(len(i) for _, i in done) > room:
            cut[:] = False
        done.append((corners[~cut], item[~cut]))
        corners, item, longest = corners[cut], item[cut], longest[cut]
        rows = np.arange(len(item))
        a, b = corners[rows, longest], corners[rows, (longest + 1) % 3]
        c, middle = corners[rows, (longest + 2) % 3], (a + b) / 2.0
        corners = np.concatenate([np.stack([a, middle, c], 1), np.stack([middle, b, c], 1)])
        item = np.concatenate([item, item])
    pieces = np.concatenate([np.empty((0, 3, 3)), *(c for c, _ in done)])
    owner = np.concatenate([np.empty(0, np.int64), *(i for _, i in done)])
    return pieces, owner


def _is_slanted(corners: Array, shortest: float) -> tuple[NDArray[np.bool_], Indices]:
    sides = np.roll(corners, -1, axis=1) - corners
    lengths = np.linalg.norm(sides, axis=2)
    area = np.linalg.norm(np.cross(sides[:, 0], sides[:, 1]), axis=1) / 2.0
    x, y, z = np.ptp(corners, axis=1).T
    cut = (lengths.max(axis=1) > shortest) & (area < _FILL * (x * y + y * z + z * x))
    return cut, lengths.argmax(axis=1)


def edge_pieces(start: Array, end: Array, shortest: float) -> tuple[Array, Indices]:
    """Pieces (k, 2, 3) that make up straight edges, and which edge each belongs to.

    Slanted ones are about `shortest` mm long.
    """
    span = np.sort(np.abs(end - start), axis=1)
    count = np.where(span[:, 1] > 0.1 * span[:, 2], np.ceil(span[:, 2] / shortest), 1.0)
    count = np.clip(count, 1, 64).astype(np.int64)
    item = np.repeat(np.arange(len(start)), count)
    k = np.arange(len(item)) - np.repeat(np.cumsum(count) - count, count)
    step = ((end - start) / count[:, None])[item]
    a = start[item] + k[:, None] * step
    return np.stack([a, a + step], axis=1), item
