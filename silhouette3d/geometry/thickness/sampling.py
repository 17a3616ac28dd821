"""The surface of a solid made ready for measuring, and points spread over it.

Problem: where on a surface must the thickness be asked for, so that no thin place is overlooked?

Method: the thickness of a solid with flat walls is least between parallel walls, on the rim of a
wall, or at a concave edge or the tip of a void. So samples are spread over the triangles, along the
rims of walls with the normal of the wall, along concave edges with normals fanned across the edge,
and on the tips. The spacing is h = limit / 4. Walls much narrower than that have few samples; where
they meet in acute edges, as in a bar of triangular section, the edges are sampled too.

Invariant: place and normal of a sample depend on its triangle or edge alone.

Lemma: a patch of a triangle, between two lines parallel to its shortest side and two through
the opposite corner, holds a sample if its area is more than (2 + 2/√5) h² = 0.181 limit². For
samples lie at shares (k + x)/n of the area below the first lines, n ≥ area / h², so that more
than Δn − 1 of them in a row lie between two such lines a share Δ apart; and m turns in a row by
the golden ratio leave no gap of (1 + 2/√5)/m between the second ones. So what may be overlooked
is a thin place that covers no such patch, comes to no rim, concave edge or tip within h, and is
not come upon from a neighbour when chords are followed down.

Reference: three-gap theorem, V. T. Sós, Ann. Univ. Sci. Budapest 1 (1958) 127-134 (from
memory); its constant for the golden ratio is also found by counting in the tests.

Complexity: area / h² samples, and length of edges / h.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Final

import numpy as np
from numpy.typing import NDArray

from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.indices import linked, ragged
from silhouette3d.geometry.mesh import Mesh
from silhouette3d.geometry.thickness.definition import BETA, FAN
from silhouette3d.geometry.tolerances import LAST_DIGITS, SHARE

# --- The surface of a solid, made ready for measuring: walls, bent edges, corners
#
# Triangles lower than `SLIVER` times the size of the solid have no direction of
# their own; they take the normal of the neighbour across their longest edge, and
# nothing is measured on them.


Indices = NDArray[np.int64]
Mask = NDArray[np.bool_]

SLIVER: Final = 1e-8
"""Share of the solid's diagonal; ten thousand times the resolution of the boolean engine."""

FLAT: Final = 1e-6
"""Radians. Triangles that turn less than this at an edge lie in one plane."""

SMOOTH: Final = np.radians(10.0)
"""Triangles that turn less than this at an edge belong to one wall, which has no rim there."""


@dataclass(frozen=True)
class Edges:
    """Edges at which the surface turns.

    Parameters
    ----------
    ends : (n, 2) array of int
        Indices of vertices; the same for all that lie in one place and hang together.
    start, along : (n, 3) arrays
        The first end in mm, and the unit vector towards the other.
    length, turning : (n,) arrays
        In mm; the angle between the normals of both sides in radians.
    convex : (n,) array of bool
        Whether the surface turns away from the material.
    left, right, middle : (n, 3) arrays
        Unit normals, outward: of both sides, and halfway between them.
    sides : (n, 2) array of int
        Rows in the surface of the triangles on both sides, -1 for slivers.
    """

    ends: Indices
    start: Array
    along: Array
    length: Array
    turning: Array
    convex: Mask
    left: Array
    right: Array
    middle: Array
    sides: Indices

    @property
    def dihedral(self) -> Array:
        """(n,) angle in the material between both sides, in radians."""
        return np.where(self.convex, np.pi - self.turning, np.pi + self.turning)


@dataclass(frozen=True)
class Corners:
    """Vertices at which all edges are convex, or all concave (the tip of a void).

    Parameters
    ----------
    point : (n, 3) array
        In mm.
    sign : (n,) array
        1 for convex, -1 for concave.
    first : (n + 1,) array of int
        Where the rows of each corner begin in the arrays below.
    away : (r, 3) array
        Unit vectors along the edges, away from the corner.
    normal : (r, 2, 3) array
        Outward unit normals of both sides of those edges.
    axis, spread : (n, 3) and (n,) arrays
        The mean normal and the greatest angle of a normal from it, in radians.
    """

    point: Array
    sign: Array
    first: Indices
    away: Array
    normal: Array
    axis: Array
    spread: Array


@dataclass(frozen=True)
class Surface:
    """Triangles of a solid with their normals, and the edges and corners where they bend.

    Parameters
    ----------
    triangle : (n,) array of int
        Which triangles of the mesh are no slivers; `corners`, `normal` and `area`
        have a row for each of them.
    corners, normal, area : (n, 3, 3), (n, 3), (n,) arrays
        In mm; outward and of unit length; in mm².
    edges : Edges
        All that are bent.
    points : Corners
        All that are purely convex or purely concave.
    size : float
        Diagonal of the bounding box in mm.
    """

    triangle: Indices
    corners: Array
    normal: Array
    area: Array
    edges: Edges
    points: Corners
    size: float


def surface_of(mesh: Mesh) -> Surface:
    """Make the surface of a mesh that has at least one triangle."""
    size = float(np.linalg.norm(np.ptp(mesh.vertices, axis=0)))
    sides = mesh.edges[1]
    normal, sliver = _normals(mesh, SLIVER * size)
    turning = _angle(normal[sides[:, 0]], normal[sides[:, 1]])
    kept = np.nonzero(~sliver)[0]
    row = np.where(sliver, -1, np.cumsum(~sliver) - 1)
    edges = _bent(mesh, normal, turning, row)
    area = np.linalg.norm(mesh.area_vectors, axis=1)
    return Surface(
        kept,
        mesh.corners[kept],
        normal[kept],
        area[kept],
        edges,
        _corners(mesh.vertices, edges),
        size,
    )


def _normals(mesh: Mesh, lowest: float) -> tuple[Array, Mask]:
    """Work out unit normals, and which triangles are slivers and took theirs from a neighbour."""
    corners, vectors = mesh.corners, mesh.area_vectors
    double = 2.0 * np.linalg.norm(vectors, axis=1)
    lengths = np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2)
    sliver = double <= lowest * lengths.max(axis=1)
    normal = 2.0 * vectors / np.where(sliver, np.inf, double)[:, None]
    if not sliver.any():
        return normal, sliver
    longest_first = np.argsort(-lengths, axis=1, kind="stable")
    across = np.take_along_axis(_neighbours(mesh), longest_first, axis=1)
    unknown = sliver.copy()
    while unknown.any():
        known = unknown[:, None] & ~unknown[across]
        k = int(known.any(axis=0).argmax())  # slivers in pairs must ask over a shorter edge
        if not known[:, k].any():  # a body of slivers only: any direction will do
            normal[unknown] = (0.0, 0.0, 1.0)
            break
        normal[known[:, k]] = normal[across[known[:, k], k]]
        unknown &= ~known[:, k]
    return normal, sliver


def _neighbours(mesh: Mesh) -> Indices:
    """Find the triangle across each edge, as (m, 3); edge k runs from corner k to the next."""
    start, end = mesh.triangles.ravel(), np.roll(mesh.triangles, -1, axis=1).ravel()
    order = np.lexsort((start > end, np.maximum(start, end), np.minimum(start, end)))
    across = np.empty(len(order), np.int64)
    across[order] = order.reshape(-1, 2)[:, ::-1].ravel() // 3
    return across.reshape(-1, 3)


def _angle(a: Array, b: Array) -> Array:
    """Measure angles between unit vectors (n, 3), in radians, precise for small ones too."""
    return np.asarray(
        2.0 * np.arctan2(np.linalg.norm(a - b, axis=1), np.linalg.norm(a + b, axis=1))
    )


def _bent(mesh: Mesh, normal: Array, turning: Array, row: Indices) -> Edges:
    ends, sides = mesh.edges
    start, end = mesh.vertices[ends[:, 0]], mesh.vertices[ends[:, 1]]
    length = np.linalg.norm(end - start, axis=1)
    bent = np.nonzero((turning > FLAT) & (length > 0.0))[0]
    turning, start = turning[bent], start[bent]
    along = (end[bent] - start) / length[bent, None]
    left, right = normal[sides[bent, 0]], normal[sides[bent, 1]]
    convex = np.einsum("ij,ij->i", np.cross(left, right), along) > 0.0
    middle = left + right
    folded = np.pi - turning < FLAT  # both sides back to back: halfway is out along one of them
    outward = np.cross(left, along) * np.where(convex, -1.0, 1.0)[:, None]
    middle[folded] = outward[folded]
    middle /= np.linalg.norm(middle, axis=1)[:, None]
    both = row[sides[bent]]
    meet = _places(ends, length, len(mesh.vertices))[ends[bent]]
    return Edges(meet, start, along, length[bent], turning, convex, left, right, middle, both)


def _places(ends: Indices, length: Array, count: int) -> Indices:
    """Number vertices (count,), one number for all that edges of no length join."""
    none = ends[length == 0.0]
    if not len(none):
        return np.arange(count)
    _, label = linked(count, none[:, 0], none[:, 1])
    _, first = np.unique(label, return_index=True)
    return np.asarray(first[label], np.int64)


def _corners(vertices: Array, edges: Edges) -> Corners:
    """List vertices with three bent edges or more that all bend one way."""
    vertex = edges.ends.T.ravel()
    edge = np.tile(np.arange(len(edges.ends)), 2)
    away = np.concatenate([edges.along, -edges.along])
    count = np.bincount(vertex, minlength=len(vertices))
    convex = np.bincount(vertex, weights=edges.convex[edge], minlength=len(vertices))
    pure = (count >= 3) & ((convex == 0) | (convex == count))
    rows = np.nonzero(pure[vertex])[0]
    rows = rows[np.argsort(vertex[rows], kind="stable")]
    chosen = np.nonzero(pure)[0]
    first = np.concatenate([[0], np.cumsum(count[chosen])])
    normal = np.stack([edges.left[edge[rows]], edges.right[edge[rows]]], axis=1)
    if not len(chosen):
        return Corners(
            np.empty((0, 3)), np.empty(0), first, away[rows], normal, np.empty((0, 3)), np.empty(0)
        )
    total = np.add.reduceat(normal.sum(axis=1), first[:-1])
    size = np.linalg.norm(total, axis=1)
    axis = total / np.where(size > 0.0, size, 1.0)[:, None]
    owner = np.repeat(np.arange(len(chosen)), count[chosen])
    off = np.arccos(np.clip(np.einsum("rkj,rj->rk", normal, axis[owner]).min(axis=1), -1.0, 1.0))
    spread = np.where(size > 0.0, np.maximum.reduceat(off, first[:-1]), np.pi)
    sign = np.where(convex[chosen] > 0, 1.0, -1.0)
    return Corners(vertices[chosen], sign, first, away[rows], normal, axis, spread)


# --- Where the thickness is asked for


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
        """Choose some of the samples."""
        return Samples(*(getattr(self, f.name)[rows] for f in fields(self)))


def all_samples(samples: Sequence[Samples]) -> Samples:
    """Join several lots of samples."""
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
        """Number of all samples."""
        return int(self._until[-1]) if len(self._until) else 0

    def __len__(self) -> int:
        """Count the pieces."""
        return (self.total + _AT_ONCE - 1) // _AT_ONCE

    def __getitem__(self, piece: int) -> Samples:
        """Make one piece of bounded size; a number always gives one piece."""
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
    """Find the corner (n,) opposite the shortest side, from which samples are counted."""
    sides = np.linalg.norm(np.roll(corners, -2, axis=1) - np.roll(corners, -1, axis=1), axis=2)
    return np.asarray(sides.argmin(axis=1), np.int64)


def edge_samples(edges: Edges, h: float) -> Samples:
    """Put samples along concave edges, every h, with normals at each `FAN` across the edge."""
    chosen = np.nonzero(~edges.convex & (edges.turning > _SLIGHT))[0]
    steps = np.ceil(edges.turning[chosen] / FAN - SHARE).astype(np.int64)
    return _fanned(edges, chosen, steps, 0, h)


def acute_samples(edges: Edges, h: float) -> Samples:
    """Put samples along acute edges, every h, with normals between those of their walls.

    What lies opposite is within `BETA` of one of them.
    """
    acute = edges.convex & (edges.turning >= _ACUTE) & (edges.dihedral > 2.0 * BETA)
    chosen = np.nonzero(acute)[0]
    steps = np.ceil(edges.turning[chosen] / (2.0 * BETA)).astype(np.int64)
    return _fanned(edges, chosen, steps, 1, h)


def _fanned(edges: Edges, chosen: Indices, steps: Indices, first: int, h: float) -> Samples:
    """Put samples on edges, with normals from step `first` to as many before the last."""
    places, fan = _places_of(edges.length[chosen], h), steps + 1 - 2 * first
    each = places * fan
    row, k = ragged(each)
    edge, place, step = chosen[row], k // fan[row], first + k % fan[row]
    along = (place + 0.5) / places[row] * edges.length[edge]
    points = edges.start[edge] + along[:, None] * edges.along[edge]
    inward = -normal_between(edges, edge, step / steps[row])
    return Samples(points, inward, np.full(len(edge), -1), edge, np.zeros(len(edge)))


def rim_samples(surface: Surface, h: float) -> Samples:
    """Put samples along the convex rims of walls, a hair inside, with the normals of both walls."""
    edges = surface.edges
    edge, side = np.nonzero(
        (edges.convex & (edges.turning >= SMOOTH))[:, None] & (edges.sides >= 0)
    )
    places = _places_of(edges.length[edge], h)
    places += edges.length[edge] >= h  # both ends of long ones
    row, k = ragged(places)
    triangle, edge = edges.sides[edge, side][row], edge[row]
    share = np.where(places[row] > 1, k / np.maximum(places[row] - 1, 1), 0.5)
    points = edges.start[edge] + (share * edges.length[edge])[:, None] * edges.along[edge]
    points += _INSET * (surface.corners[triangle].mean(axis=1) - points)
    return Samples(points, -surface.normal[triangle], triangle, edge, np.zeros(len(row)))


def _places_of(length: Array, h: float) -> Indices:
    """Count samples on edges (n,): every h at most, as many as fit that on short ones in a row."""
    short = np.cumsum(np.where(length < h, length, 0.0)) / h
    of_short = np.floor(short + 0.5) - np.floor(np.concatenate([[0.0], short[:-1]]) + 0.5)
    return np.asarray(np.where(length < h, of_short, np.ceil(length / h)), np.int64)


def normal_between(edges: Edges, edge: Indices, share: Array) -> Array:
    """Work out unit normals at a share of the turn from left to right."""
    turning = edges.turning[edge]
    sine = np.maximum(np.sin(turning), LAST_DIGITS)
    a, b = np.sin((1.0 - share) * turning) / sine, np.sin(share * turning) / sine
    mixed = a[:, None] * edges.left[edge] + b[:, None] * edges.right[edge]
    return np.asarray(mixed / np.maximum(np.linalg.norm(mixed, axis=1), LAST_DIGITS)[:, None])


def tip_samples(points: Corners) -> Samples:
    """Put samples on the tips of voids, with their mean normal and halfway to the others."""
    owner = np.repeat(np.arange(len(points.point)), np.diff(points.first))
    rows = np.nonzero(points.sign[owner] < 0.0)[0]
    tips = np.nonzero(points.sign < 0.0)[0]
    halfway = points.axis[owner[rows], None] + points.normal[rows]
    halfway /= np.maximum(np.linalg.norm(halfway, axis=2), LAST_DIGITS)[:, :, None]
    at = np.concatenate([points.point[tips], np.repeat(points.point[owner[rows]], 2, axis=0)])
    inward = -np.concatenate([points.axis[tips], halfway.reshape(-1, 3)])
    none = np.full(len(at), -1)
    return Samples(at, inward, none, none, np.zeros(len(at)))
