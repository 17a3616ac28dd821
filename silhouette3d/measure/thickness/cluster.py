"""Chords that belong to one thin place.

Two chords are linked when they lie close and the way between their midpoints
stays in the material, and either point the same way, as in a wall, or cross
between their quarters, as in a bar. The web and the flange of a tee do neither:
they are two places. A place is what hangs together by links.

Chords are first gathered in the cells of a grid, each by the thinnest of them
that it is linked to; then those are linked with each other.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from silhouette3d.measure.thickness.chords import CELL, Chords
from silhouette3d.measure.thickness.query import BETA, Scene, are_clear
from silhouette3d.measure.thickness.sampling import Indices
from silhouette3d.view import Array

REACH: Final = 3.0
"""Spacings of samples: how far linked chords may lie apart."""

_AT_ONCE: Final = 200_000
_NEIGHBOURS: Final = 8


def places(chords: Chords, scene: Scene, h: float) -> Indices:
    """(n,) number of the place that each chord belongs to, from 0.

    Parameters
    ----------
    chords : Chords
        Thin ones.
    scene : Scene
        The surface.
    h : float
        Spacing of samples in mm.
    """
    if not len(chords):
        return np.empty(0, np.int64)
    lead = _leaders(chords, scene, h)
    leaders, follower = np.unique(lead, return_inverse=True)
    middle = chords.middle[leaders]
    tree = cKDTree(middle)
    pairs = tree.query_pairs(REACH * h, output_type="ndarray")
    far = np.linalg.norm(middle[pairs[:, 0]] - middle[pairs[:, 1]], axis=1)
    pairs = pairs[np.argsort(far, kind="stable")]
    label = _joined(chords, scene, leaders[pairs], pairs, np.arange(len(leaders)), h)
    label = _bridged(chords, scene, tree, leaders, follower, label, h)
    return np.asarray(np.unique(label[follower], return_inverse=True)[1], np.int64)


def _leaders(chords: Chords, scene: Scene, h: float) -> Indices:
    """(n,) for each chord the thinnest one of its cell that it is linked to."""
    cell = np.floor(chords.middle / (CELL * h)).astype(np.int64)
    way = np.abs(chords.direction).argmax(axis=1)
    order = np.lexsort((chords.size, way, *cell.T))
    lead = np.full(len(chords), -1)
    while len(order):
        key = np.column_stack([cell[order], way[order]])
        fresh = np.concatenate([[True], (key[1:] != key[:-1]).any(axis=1)])
        first = order[fresh][np.cumsum(fresh) - 1]
        own = first == order
        own[~own] = linked(chords, scene, order[~own], first[~own], h)
        lead[order[own]] = first[own]
        order = order[~own]
    return lead


def _joined(
    chords: Chords, scene: Scene, rows: Indices, nodes: Indices, label: Indices, h: float
) -> Indices:
    """Labels (k,) of nodes after linking pairs, nearest first; `rows` are their chords.

    Pairs that hang together already are not looked at, which leaves few.
    """
    count, first, some = len(label), 0, 2 * len(label) + 1000
    while first < len(nodes):
        pair, row = nodes[first : first + some], rows[first : first + some]
        apart = label[pair[:, 0]] != label[pair[:, 1]]
        pair, row = pair[apart], row[apart]
        good = linked(chords, scene, row[:, 0], row[:, 1], h)
        ends = label[pair[good]]
        links = coo_array((np.ones(len(ends), bool), ends.T), shape=(count, count))
        label = connected_components(links, directed=False)[1][label]
        first += some
    return label


def _bridged(
    chords: Chords,
    scene: Scene,
    tree: cKDTree,
    leaders: Indices,
    follower: Indices,
    label: Indices,
    h: float,
) -> Indices:
    """Labels of leaders after linking those that some chord is linked to both of.

    In a narrow bend the leaders may not see each other.
    """
    nearest = min(_NEIGHBOURS, len(leaders))
    for first in range(0, len(chords), _AT_ONCE):
        if label.max() == label.min():
            break
        rows = np.arange(first, min(first + _AT_ONCE, len(chords)))
        _, near = tree.query(chords.middle[rows], nearest, distance_upper_bound=REACH * h)
        near = near.reshape(len(rows), -1)
        i, j = np.nonzero(near < len(leaders))
        nodes = np.column_stack([follower[rows[i]], near[i, j]])
        ends = np.column_stack([rows[i], leaders[near[i, j]]])
        label = _joined(chords, scene, ends, nodes, label, h)
    return label


def linked(chords: Chords, scene: Scene, i: Indices, j: Indices, h: float) -> NDArray[np.bool_]:
    """Whether chords i (k,) and j (k,) belong together."""
    one, two = chords.middle[i], chords.middle[j]
    d, e = chords.direction[i], chords.direction[j]
    close = np.linalg.norm(two - one, axis=1) <= REACH * h
    along = np.abs(np.einsum("ij,ij->i", d, e))
    reach = [np.linalg.norm(chords.touch[k] - chords.samples.points[k], axis=1) for k in (i, j)]
    good = close & ((along >= np.cos(2.0 * BETA)) | _cross(two - one, d, e, reach))
    rows = np.nonzero(good)[0]
    good[rows] = are_clear(scene, one[rows], two[rows])
    return good


def _cross(apart: Array, d: Array, e: Array, reach: list[Array]) -> NDArray[np.bool_]:
    """Whether two lines come nearest to each other within a quarter of both lengths of the middle.

    `apart` (n, 3) leads from the middle of the one, along d, to that of the other, along e.
    """
    de, da, ea = (np.einsum("ij,ij->i", *p) for p in ((d, e), (d, apart), (e, apart)))
    square = np.maximum(1.0 - de**2, 1e-12)
    s, t = (da - de * ea) / square, (de * da - ea) / square
    return np.asarray((np.abs(s) <= reach[0] / 4.0) & (np.abs(t) <= reach[1] / 4.0))
