"""Knife edges: convex edges that are sharper than two walls can face each other.

Their angle follows from the mesh exactly. The walls that meet in one are thin
beside it, however thick they are further on; those chords belong to the edge.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from silhouette3d.measure.thickness.chords import Chords
from silhouette3d.measure.thickness.query import are_clear
from silhouette3d.measure.thickness.sampling import Indices
from silhouette3d.measure.thickness.scene import Scene
from silhouette3d.measure.thickness.surface import Edges, Mask
from silhouette3d.measure.thickness.terms import BETA
from silhouette3d.view import Array

_NEAR: Final = 1e-6
"""mm. What is nearer than this to a plane lies in it."""


@dataclass(frozen=True)
class Knives:
    """Knife edges, in groups that follow each other.

    Parameters
    ----------
    start, end : (n, 3) arrays
        In mm.
    angle : (n,) array
        In the material between both sides, in radians.
    sides : (n, 2, 3) array
        Outward unit normals of both sides.
    across : (n, 3) array
        Unit vector from one side to the other, square to the edge.
    group : (n,) array of int
        Which edges are one.
    """

    start: Array
    end: Array
    angle: Array
    sides: Array
    across: Array
    group: Indices

    def __len__(self) -> int:
        return len(self.angle)

    @property
    def length(self) -> Array:
        """(n,) in mm."""
        return np.asarray(np.linalg.norm(self.end - self.start, axis=1))


def knives_of(edges: Edges) -> Knives:
    """The knife edges among the bent edges of a surface."""
    sharp = np.nonzero(edges.convex & (edges.dihedral <= 2.0 * BETA + 1e-9))[0]
    start, along = edges.start[sharp], edges.along[sharp]
    across = np.cross(along, edges.middle[sharp])
    return Knives(
        start,
        start + along * edges.length[sharp, None],
        edges.dihedral[sharp],
        np.stack([edges.left[sharp], edges.right[sharp]], axis=1),
        across / np.maximum(np.linalg.norm(across, axis=1), 1e-12)[:, None],
        _groups(edges.ends[sharp], along),
    )


def _groups(ends: Indices, along: Array) -> Indices:
    """(n,) edges that meet end to end and turn less than `BETA` twice are one."""
    count = len(ends)
    vertex, edge = ends.ravel(), np.repeat(np.arange(count), 2)
    order = np.argsort(vertex, kind="stable")
    vertex, edge = vertex[order], edge[order]
    first, second = [np.empty(0, np.int64)], [np.empty(0, np.int64)]
    for apart in range(1, int(np.bincount(vertex).max(initial=1))):
        same = vertex[apart:] == vertex[:-apart]
        first.append(edge[:-apart][same])
        second.append(edge[apart:][same])
    i, j = np.concatenate(first), np.concatenate(second)
    turns = np.abs(np.einsum("ij,ij->i", along[i], along[j])) >= np.cos(2.0 * BETA)
    links = coo_array((np.ones(turns.sum(), bool), (i[turns], j[turns])), shape=(count, count))
    return np.asarray(connected_components(links, directed=False)[1], np.int64)


def knife_of_chord(knives: Knives, chords: Chords, scene: Scene, h: float) -> Indices:
    """(n,) the knife edge that each chord belongs to, or -1.

    A straight wedge has the thickness 2 s sin(half its angle) on its middle
    plane at the distance s from its edge. A chord belongs to the nearest knife
    edge that it sees, that it lies across, and that is no further away than a
    wedge of half that thickness would have it: so do the rounded sides of a
    lens, and a plate that was sharpened stays a wall of its own. Between the
    very walls of the edge, and beyond its ends, it may be further away.
    """
    owner, nearest = np.full(len(chords), -1), np.full(len(chords), np.inf)
    if not len(chords):
        return owner
    for group in range(int(knives.group.max(initial=-1)) + 1):
        edges = np.nonzero(knives.group == group)[0]
        sine = np.sin(knives.angle[edges].min() / 2.0)
        far = chords.size.max() / max(float(sine), 1e-9)
        ends = np.concatenate([knives.start[edges], knives.end[edges]])
        inside = (chords.middle >= ends.min(axis=0) - far) & (
            chords.middle <= ends.max(axis=0) + far
        )
        rows = np.nonzero(inside.all(axis=1))[0]
        edge, point, away = _nearest(knives, edges, chords.middle[rows], h)
        across = np.abs(np.einsum("ij,ij->i", chords.direction[rows], knives.across[edge]))
        own = (across >= np.cos(2.0 * BETA)) & (away < nearest[rows])
        own &= (chords.size[rows] >= np.sin(knives.angle[edge] / 2.0) * away) | (
            _between_sides(knives, edge, chords.chosen(rows))
        )
        rows, edge, point, away = rows[own], edge[own], point[own], away[own]
        sees = are_clear(scene, chords.middle[rows], point)
        owner[rows[sees]], nearest[rows[sees]] = edge[sees], away[sees]
    return owner


def _between_sides(knives: Knives, edge: Indices, chords: Chords) -> Mask:
    """Which chords lead from the plane of one side of their edge to that of the other."""
    ends = np.stack([chords.samples.points, chords.touch], axis=1) - knives.start[edge, None]
    high = np.abs(np.einsum("nkj,nlj->nkl", ends, knives.sides[edge]))
    return np.asarray(
        (np.maximum(high[:, 0, 0], high[:, 1, 1]) < _NEAR)
        | (np.maximum(high[:, 0, 1], high[:, 1, 0]) < _NEAR)
    )


def _nearest(
    knives: Knives, edges: Indices, points: Array, h: float
) -> tuple[Indices, Array, Array]:
    """Of some edges the one nearest to each point, where on it, and how far away."""
    pieces = np.ceil(knives.length[edges] / h).astype(np.int64)
    edge = np.repeat(edges, pieces)
    k = np.arange(len(edge)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    share = ((k + 0.5) / np.repeat(pieces, pieces))[:, None]
    tree = cKDTree(knives.start[edge] * (1.0 - share) + knives.end[edge] * share)
    edge = edge[tree.query(points)[1]]
    a, side = knives.start[edge], knives.end[edge] - knives.start[edge]
    share = np.einsum("ij,ij->i", points - a, side) / np.einsum("ij,ij->i", side, side)
    foot = a + np.clip(share, 0.0, 1.0)[:, None] * side
    return edge, foot, np.asarray(np.linalg.norm(points - foot, axis=1))
