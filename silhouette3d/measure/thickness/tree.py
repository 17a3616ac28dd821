"""A hierarchy of boxes over pieces of the surface that also knows which way they face.

The pieces are sorted by the way they face and then along a Morton curve. Above
them stands a complete binary tree: the children of node i are 2 i and 2 i + 1,
and node 1 holds everything.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from silhouette3d.view import Array

Indices = NDArray[np.int64]

_FILL: Final = 0.25
"""A box that is filled less than this by its triangle is cut."""

_WIDE: Final = np.radians(15.0)
"""Pieces with more ways to face than this are kept apart from the others."""

_EXACT: Final = 4096
"""Nodes in a level from which on cones are made of the cones below."""

_MOST: Final = 2
"""Pieces for each triangle, on average, when slanted ones are cut."""


class Tree(NamedTuple):
    """Boxes and cones of normals; as arrays, so that compiled code can read it.

    Parameters
    ----------
    node : (2 n, 10) array
        The least x, y, z and the greatest x, y, z of the box in mm; a unit vector
        in the middle of the outward normals; and the cosine of the greatest angle
        between that and a direction that has an opposed piece in the node. The
        last n hold a piece each, or nothing.
    item : (n,) array of int
        What lies at the bottom, -1 where nothing does.
    """

    node: Array
    item: Indices


def tree_of(
    low: Array, high: Array, axis: Array, spread: Array, item: Indices, facing: float
) -> Tree:
    """A hierarchy over boxes.

    Parameters
    ----------
    low, high : (n, 3) arrays
        In mm.
    axis, spread : (n, 3) and (n,) arrays
        Mean normal, and the greatest angle of a normal from it in radians.
    item : (n,) array of int
        What each box stands for; several may stand for the same.
    facing : float
        Radians: how far apart a direction and a normal may be that are opposed.
    """
    order = np.argsort(_keys(low, high, axis, spread), kind="stable")
    bottom = 1
    while bottom < len(item):
        bottom *= 2
    spare = bottom - len(item)

    def padded(values: Array, empty: float) -> Array:
        return np.concatenate([values[order], np.full((spare, *values.shape[1:]), empty)])

    lows, highs = [padded(low, np.inf)], [padded(high, -np.inf)]
    axes, spreads = [padded(axis, 0.0)], [padded(spread, -np.inf)]
    while len(lows[-1]) > 1:
        lows.append(lows[-1].reshape(-1, 2, 3).min(axis=1))
        highs.append(highs[-1].reshape(-1, 2, 3).max(axis=1))
        # high up from the pieces themselves: cones about cones grow too wide
        level = -1 if len(lows[-1]) > _EXACT else 0
        shape = (len(lows[-1]), -1)
        cones = _cone(axes[level].reshape(*shape, 3), spreads[level].reshape(shape))
        axes.append(cones[0])
        spreads.append(cones[1])
    node = np.zeros((2 * bottom, 10))
    node[1:, 0:3] = np.concatenate(lows[::-1])
    node[1:, 3:6] = np.concatenate(highs[::-1])
    node[1:, 6:9] = np.concatenate(axes[::-1])
    angle = np.concatenate(spreads[::-1]) + facing
    node[1:, 9] = np.cos(np.clip(angle + 1e-9, 0.0, np.pi))
    return Tree(node, np.concatenate([item[order], np.full(spare, -1)]))


def _keys(low: Array, high: Array, axis: Array, spread: Array) -> NDArray[np.uint64]:
    """Sixteen bits along each axis interleaved, below six ways to face, below narrow or wide."""
    if not len(low):
        return np.empty(0, np.uint64)
    middle = (low + high) / 2.0
    floor, ceiling = middle.min(axis=0), middle.max(axis=0)
    scale = 65535.0 / np.maximum(ceiling - floor, 1e-300)
    cells = ((middle - floor) * scale).astype(np.uint64)
    key = np.zeros(len(low), np.uint64)
    for k in range(3):
        key |= _spread(cells[:, k]) << np.uint64(k)
    largest = np.abs(axis).argmax(axis=1)
    negative = np.take_along_axis(axis, largest[:, None], axis=1)[:, 0] < 0.0
    way = 2 * largest + negative + 6 * (spread > _WIDE)
    return np.asarray(key | (way.astype(np.uint64) << np.uint64(48)))


def _spread(bits: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """Two empty bits after each of sixteen."""
    for shift, mask in (
        (16, 0x0000FF0000FF),
        (8, 0x00F00F00F00F),
        (4, 0x0C30C30C30C3),
        (2, 0x249249249249),
    ):
        bits = (bits | (bits << np.uint64(shift))) & np.uint64(mask)
    return bits


def _cone(axis: Array, spread: Array) -> tuple[Array, Array]:
    """A cone about each row of cones (n, k, 3), (n, k); those of spread -inf are empty."""
    full = spread > -np.inf
    total = np.where(full[:, :, None], axis, 0.0).sum(axis=1)
    size = np.linalg.norm(total, axis=1)
    mean = total / np.where(size > 0.0, size, 1.0)[:, None]
    apart = np.arccos(np.clip(np.einsum("nkj,nj->nk", axis, mean), -1.0, 1.0))
    widest = np.where(full, apart + np.where(full, spread, 0.0), -np.inf).max(axis=1)
    widest = np.where((size > 1e-9) | ~full.any(axis=1), widest, np.pi)
    return mean, np.minimum(widest, np.pi)


def triangle_boxes(corners: Array, shortest: float) -> tuple[Array, Array, Indices]:
    """Boxes (k, 3), (k, 3) that cover triangles, and which triangle each belongs to.

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
    return pieces.min(axis=1), pieces.max(axis=1), owner


def _is_slanted(corners: Array, shortest: float) -> tuple[NDArray[np.bool_], Indices]:
    sides = np.roll(corners, -1, axis=1) - corners
    lengths = np.linalg.norm(sides, axis=2)
    area = np.linalg.norm(np.cross(sides[:, 0], sides[:, 1]), axis=1) / 2.0
    x, y, z = np.ptp(corners, axis=1).T
    cut = (lengths.max(axis=1) > shortest) & (area < _FILL * (x * y + y * z + z * x))
    return cut, lengths.argmax(axis=1)


def edge_boxes(start: Array, end: Array, shortest: float) -> tuple[Array, Array, Indices]:
    """Boxes (k, 3), (k, 3) that cover straight edges, and which edge each belongs to.

    Slanted edges are cut into pieces of about `shortest` mm.
    """
    span = np.sort(np.abs(end - start), axis=1)
    count = np.where(span[:, 1] > 0.1 * span[:, 2], np.ceil(span[:, 2] / shortest), 1.0)
    count = np.clip(count, 1, 64).astype(np.int64)
    item = np.repeat(np.arange(len(start)), count)
    k = np.arange(len(item)) - np.repeat(np.cumsum(count) - count, count)
    step = ((end - start) / count[:, None])[item]
    a = start[item] + k[:, None] * step
    return np.minimum(a, a + step), np.maximum(a, a + step), item
