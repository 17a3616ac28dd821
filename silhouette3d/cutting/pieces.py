"""Convex pieces of planes in the block, split by the cells of views and cut down to half-spaces.

A piece lies in a plane of its own: a point of it is origin + s · a + t · b. A view
maps that plane to its own by an affine map, which may be singular (a plane seen
edge on). A half-plane n · p + c ≥ 0 of the view, pulled back, is the half-plane
(n · M) · (s, t) + (n · offset + c) ≥ 0 of the piece whether it is singular or not,
so no case needs to be told apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from silhouette3d.cutting.cells import Cells
from silhouette3d.solid.mesh import Indices
from silhouette3d.view import Array, View

LEAST: Final = 1e-9
"""mm². Smaller pieces are dropped: they come from rounding."""

_FEW: Final = 6
"""Corners of a piece when it is fanned out."""


@dataclass(frozen=True, eq=False)
class Pieces:
    """Convex polygons in planes of the block.

    Parameters
    ----------
    origin : (n, 3) array
    axes : (n, 2, 3) array
        Two unit vectors at right angles that span each plane.
    corners : (n, k, 2) array
        Of the polygons in turn, in the axes; some may be repeated.
    labels : (n, m) array of int
        What is known of each piece.
    """

    origin: Array
    axes: Array
    corners: Array
    labels: Indices

    def __len__(self) -> int:
        return len(self.corners)

    def of(self, chosen: NDArray[np.generic]) -> Pieces:
        """Some of them, as often as they are named."""
        return Pieces(
            self.origin[chosen], self.axes[chosen], self.corners[chosen], self.labels[chosen]
        )

    @property
    def areas(self) -> Array:
        """(n,) in mm²."""
        a = self.corners - self.corners[:, :1]
        b = np.roll(a, -1, axis=1)
        return np.asarray(np.abs((a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]).sum(axis=1)) / 2.0)

    @property
    def middles(self) -> Array:
        """(n, 3) centres of area in the block frame, of pieces that have an area."""
        a = self.corners - self.corners[:, :1]
        b = np.roll(a, -1, axis=1)
        doubled = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
        flat = ((a + b) * doubled[..., None]).sum(axis=1) / (3.0 * doubled.sum(axis=1))[:, None]
        return self.at(flat[:, None] + self.corners[:, :1])[:, 0]

    def at(self, flat: Array) -> Array:
        """(n, k, 3) points of the block from (n, k, 2) points of the planes."""
        return self.origin[:, None] + flat @ self.axes

    def map_to(self, view: View) -> tuple[Array, Array]:
        """Matrices (n, 2, 2) and offsets (n, 2) of the map from each plane to a view's."""
        flat = view.axes[:2]
        return np.einsum("ij,nkj->nik", flat, self.axes), self.origin @ flat.T


def joined(some: Sequence[Pieces]) -> Pieces:
    """Several lists as one; corners are repeated to make their numbers equal."""
    most = max(pieces.corners.shape[1] for pieces in some)
    padded = [
        np.concatenate(
            [p.corners, np.repeat(p.corners[:, -1:], most - p.corners.shape[1], axis=1)], axis=1
        )
        for p in some
    ]
    return Pieces(
        np.concatenate([p.origin for p in some]),
        np.concatenate([p.axes for p in some]),
        np.concatenate(padded),
        np.concatenate([p.labels for p in some]),
    )


def clipped(pieces: Pieces, normals: Array, offsets: Array) -> Pieces:
    """What of each piece lies in its own half-plane n · x + c ≥ 0, less what has no area."""
    height = np.einsum("nki,ni->nk", pieces.corners, normals) + offsets[:, None]
    is_cut = (height < 0.0).any(axis=1)
    some = pieces.of(np.nonzero(is_cut & (height > 0.0).any(axis=1))[0])
    whole = pieces.of(np.nonzero(~is_cut)[0])
    if not len(some):
        return whole
    corners = _cut_off(some.corners, height[is_cut & (height > 0.0).any(axis=1)])
    some = replace(some, corners=corners)
    return joined([whole, some.of(np.nonzero(some.areas > LEAST)[0])])


def _cut_off(corners: Array, height: Array) -> Array:
    """The polygons where the height is not below 0, by Sutherland and Hodgman's way (1974)."""
    after, up = np.roll(corners, -1, axis=1), np.roll(height, -1, axis=1)
    is_new = (corners != np.roll(corners, 1, axis=1)).any(axis=2)
    inside = height >= 0.0
    crosses = inside != (up >= 0.0)
    gap = np.where(crosses, height - up, 1.0)
    between = corners + (height / gap)[..., None] * (after - corners)
    count, k = height.shape
    out = np.stack([corners, between], axis=2).reshape(count, 2 * k, 2)
    is_there = np.stack([inside & is_new, crosses], axis=2).reshape(count, 2 * k)
    number = is_there.sum(axis=1)
    place = np.minimum(np.arange(int(number.max()))[None], number[:, None] - 1)
    first = np.argsort(~is_there, axis=1, kind="stable")
    chosen = np.take_along_axis(first, place, axis=1)
    return np.asarray(out[np.arange(count)[:, None], chosen])


def fanned(pieces: Pieces) -> Pieces:
    """The same in pieces of few corners, as the width of the array is that of the widest."""
    count = pieces.corners.shape[1]
    if count <= _FEW:
        return pieces
    slices = []
    for first in range(1, count - 1, _FEW - 2):
        chosen = [0, *(min(i, count - 1) for i in range(first, first + _FEW - 1))]
        slices.append(replace(pieces, corners=pieces.corners[:, chosen]))
    found = joined(slices)
    return found.of(np.nonzero(found.areas > LEAST)[0])


def split(pieces: Pieces, cells: Cells, view: View) -> Pieces:
    """The pieces cut up by the cells of a view; each is labelled with its cell as well.

    Pieces of one piece in one cell come triangle by triangle.
    """
    matrix, offset = pieces.map_to(view)
    seen = np.einsum("nij,nkj->nki", matrix, pieces.corners) + offset[:, None]
    low, high = seen.min(axis=1), seen.max(axis=1)
    piece, triangle = cells.tree.query(shapely.box(*low.T, *high.T))
    normals, offsets = cells.sides
    heights = np.einsum("pki,pji->pkj", seen[piece], normals[triangle])
    heights += offsets[triangle][:, None]
    meets = (heights > 0.0).any(axis=1).all(axis=1)
    piece, triangle = piece[meets], triangle[meets]
    found = pieces.of(piece)
    label = np.column_stack([found.labels, cells.cell[triangle], triangle])
    found = replace(found, labels=label)
    for side in range(3):
        matrix, offset = found.map_to(view)
        own = found.labels[:, -1]
        pulled = np.einsum("ni,nij->nj", normals[own, side], matrix)
        level = np.einsum("ni,ni->n", normals[own, side], offset) + offsets[own, side]
        found = clipped(found, pulled, level)
    return replace(found, labels=found.labels[:, :-1])


def within(pieces: Pieces, normals: Array, offsets: Array) -> Pieces:
    """What of the pieces lies in all of some half-spaces n · x <= offset, such as a stock's."""
    for normal, offset in zip(normals, offsets, strict=True):
        pulled = pieces.axes @ -normal
        pieces = clipped(pieces, pulled, offset - pieces.origin @ normal)
    return pieces
