"""Where the thickness is asked for.

The thickness of a solid with flat walls is least between parallel walls, on the
rim of a wall, or at a concave edge or the tip of a void. So samples are spread
over the triangles, along the rims of walls with the normal of the wall, along
concave edges with normals fanned across the edge, and on the tips. The spacing
is h = limit / 4. Walls much narrower than that have few samples; where they meet
in acute edges, as in a bar of triangular section, the edges are sampled too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Final

import numpy as np
from numpy.typing import NDArray

from silhouette3d.measure.thickness.surface import SMOOTH, Corners, Edges, Surface
from silhouette3d.measure.thickness.terms import BETA, FAN
from silhouette3d.view import Array

Indices = NDArray[np.int64]

_SLIGHT: Final = np.radians(3.0)
"""A concave edge that turns less is left to the samples of the walls beside it: they see what
lies opposite at half this angle at most, and read 1 - 1/cos(1.5°) = 0.03 % too much."""

_INSET: Final = 1e-7
"""Share of the way to the middle of a triangle by which points on a rim are moved in."""

_ACUTE: Final = np.radians(92.0)
"""Convex edges that turn by this or more are sampled between the normals of their walls, which
may face nothing: wall and edge opposite of a triangular bar do, its walls do not."""

_AT_ONCE: Final = 65536
_RATIO: Final = (5.0**0.5 - 1.0) / 2.0
_SILVER: Final = 2.0**0.5 - 1.0


@dataclass(frozen=True)
class Samples:
    """Points of the surface with the direction into the material.

    Parameters
    ----------
    points, inward : (n, 3) arrays
        In mm; unit vectors.
    triangle, edge : (n,) arrays of int
        Row of the triangle and edge in the surface that it lies on, or -1: a triangle,
        an edge, a triangle at the rim that is an edge, or neither on a tip.
    area : (n,) array
        What each stands for, in mm²; 0 on an edge or tip.
    """

    points: Array
    inward: Array
    triangle: Indices
    edge: Indices
    area: Array

    def __len__(self) -> int:
        return len(self.points)

    def chosen(self, rows: Indices) -> Samples:
        """Some of them."""
        return Samples(*(getattr(self, f.name)[rows] for f in fields(self)))


def all_samples(samples: Sequence[Samples]) -> Samples:
    """Several lots as one."""
    return Samples(
        *(np.concatenate([getattr(s, f.name) for s in samples]) for f in fields(Samples))
    )


class WallSamples:
    """Samples spread over the triangles, made piece by piece.

    Each triangle has one at least, and one for each h² of its area.

    Parameters
    ----------
    surface : Surface
        The surface.
    h : float
        Spacing in mm.
    """

    def __init__(self, surface: Surface, h: float) -> None:
        self._surface = surface
        self._count = np.maximum(np.ceil(surface.area / h**2), 1.0).astype(np.int64)
        self._until = np.cumsum(self._count)
        tip = _tips(surface.corners)[:, None] + np.arange(3)
        self._corners = np.take_along_axis(surface.corners, (tip % 3)[:, :, None], axis=1)

    @property
    def total(self) -> int:
        """How many there are."""
        return int(self._until[-1]) if len(self._until) else 0

    def __len__(self) -> int:
        """Of pieces."""
        return (self.total + _AT_ONCE - 1) // _AT_ONCE

    def __getitem__(self, piece: int) -> Samples:
        """One piece of bounded size, always the same."""
        number = np.arange(piece * _AT_ONCE, min((piece + 1) * _AT_ONCE, self.total))
        t = np.searchsorted(self._until, number, side="right")
        count = self._count[t]
        k = number - (self._until[t] - count)
        # Hammersley's points in the unit square, with the golden ratio in place of digits, each
        # triangle's moved by its own amount, and folded so that equal areas stay equal
        down = np.sqrt((k + (t * _RATIO) % 1.0) / count)
        across = (0.5 + k * _RATIO + t * _SILVER) % 1.0
        shares = np.stack([1.0 - down, down * (1.0 - across), down * across], axis=1)
        points = np.einsum("nk,nkj->nj", shares, self._corners[t])
        none = np.full(len(t), -1)
        return Samples(points, -self._surface.normal[t], t, none, self._surface.area[t] / count)


def _tips(corners: Array) -> Indices:
    """(n,) the corner opposite the shortest side, from which samples are counted."""
    sides = np.linalg.norm(np.roll(corners, -2, axis=1) - np.roll(corners, -1, axis=1), axis=2)
    return np.asarray(sides.argmin(axis=1), np.int64)


def edge_samples(edges: Edges, h: float) -> Samples:
    """Samples along concave edges, every h, with normals at each `FAN` across the edge."""
    chosen = np.nonzero(~edges.convex & (edges.turning > _SLIGHT))[0]
    steps = np.ceil(edges.turning[chosen] / FAN - 1e-9).astype(np.int64)
    return _fanned(edges, chosen, steps, 0, h)


def acute_samples(edges: Edges, h: float) -> Samples:
    """Samples along acute edges, every h, with normals between those of their walls.

    What lies opposite is within `BETA` of one of them.
    """
    acute = edges.convex & (edges.turning >= _ACUTE) & (edges.dihedral > 2.0 * BETA)
    chosen = np.nonzero(acute)[0]
    steps = np.ceil(edges.turning[chosen] / (2.0 * BETA)).astype(np.int64)
    return _fanned(edges, chosen, steps, 1, h)


def _fanned(edges: Edges, chosen: Indices, steps: Indices, first: int, h: float) -> Samples:
    """Samples on edges, with normals from step `first` to as many before the last."""
    places, fan = _places(edges.length[chosen], h), steps + 1 - 2 * first
    each = places * fan
    row = np.repeat(np.arange(len(chosen)), each)
    k = np.arange(len(row)) - np.repeat(np.cumsum(each) - each, each)
    edge, place, step = chosen[row], k // fan[row], first + k % fan[row]
    along = (place + 0.5) / places[row] * edges.length[edge]
    points = edges.start[edge] + along[:, None] * edges.along[edge]
    inward = -normal_between(edges, edge, step / steps[row])
    return Samples(points, inward, np.full(len(edge), -1), edge, np.zeros(len(edge)))


def rim_samples(surface: Surface, h: float) -> Samples:
    """Samples along the convex rims of walls, a hair inside, with the normals of both walls."""
    edges = surface.edges
    edge, side = np.nonzero(
        (edges.convex & (edges.turning >= SMOOTH))[:, None] & (edges.sides >= 0)
    )
    places = _places(edges.length[edge], h)
    places += edges.length[edge] >= h  # both ends of long ones
    row = np.repeat(np.arange(len(edge)), places)
    k = np.arange(len(row)) - np.repeat(np.cumsum(places) - places, places)
    triangle, edge = edges.sides[edge, side][row], edge[row]
    share = np.where(places[row] > 1, k / np.maximum(places[row] - 1, 1), 0.5)
    points = edges.start[edge] + (share * edges.length[edge])[:, None] * edges.along[edge]
    points += _INSET * (surface.corners[triangle].mean(axis=1) - points)
    return Samples(points, -surface.normal[triangle], triangle, edge, np.zeros(len(row)))


def _places(length: Array, h: float) -> Indices:
    """(n,) samples on edges: every h at most, and of short ones in a row as many as fit that."""
    short = np.cumsum(np.where(length < h, length, 0.0)) / h
    of_short = np.floor(short + 0.5) - np.floor(np.concatenate([[0.0], short[:-1]]) + 0.5)
    return np.asarray(np.where(length < h, of_short, np.ceil(length / h)), np.int64)


def normal_between(edges: Edges, edge: Indices, share: Array) -> Array:
    """Unit normals at a share of the turn from left to right."""
    turning = edges.turning[edge]
    sine = np.maximum(np.sin(turning), 1e-12)
    a, b = np.sin((1.0 - share) * turning) / sine, np.sin(share * turning) / sine
    mixed = a[:, None] * edges.left[edge] + b[:, None] * edges.right[edge]
    return np.asarray(mixed / np.maximum(np.linalg.norm(mixed, axis=1), 1e-12)[:, None])


def tip_samples(points: Corners) -> Samples:
    """The tips of voids with their mean normal, and halfway to the others."""
    owner = np.repeat(np.arange(len(points.point)), np.diff(points.first))
    rows = np.nonzero(points.sign[owner] < 0.0)[0]
    tips = np.nonzero(points.sign < 0.0)[0]
    halfway = points.axis[owner[rows], None] + points.normal[rows]
    halfway /= np.maximum(np.linalg.norm(halfway, axis=2), 1e-12)[:, :, None]
    at = np.concatenate([points.point[tips], np.repeat(points.point[owner[rows]], 2, axis=0)])
    inward = -np.concatenate([points.axis[tips], halfway.reshape(-1, 3)])
    none = np.full(len(at), -1)
    return Samples(at, inward, none, none, np.zeros(len(at)))
