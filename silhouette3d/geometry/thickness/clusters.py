"""Clusters of chords that belong to one thin place, in space or in the plane.

Problem: thousands of thin chords, a few places: which belong together?

Method: two chords are linked when they lie close and the way between their midpoints stays in the
material, and either lie side by side, as in a wall, or cross between their quarters, as in a bar.
The web and the flange of a tee do neither, nor do two fins over the bottom of the slot between
them: they are two places. Chords are first gathered in the cells of a grid, each by the thinnest
of them that it is linked to; then those leaders are linked with each other.

Invariant: a place is what hangs together by links, so the order of the chords does not matter.

Complexity: O(n log n) for n chords, and a way looked along for each pair of leaders that lie close.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.indices import linked
from silhouette3d.geometry.thickness.definition import BETA

Indices = NDArray[np.int64]
Mask = NDArray[np.bool_]
Clear = Callable[[Array, Array], Mask]

CELL: Final = 1.25
REACH: Final = 3.0
"""Spacings of samples: the cells of the grid, and how far linked chords may lie apart."""

_SAME_WAY: Final = np.cos(2.0 * BETA)
"""Cosine of the angle up to which chords point the same way."""

_AT_ONCE: Final = 200_000
_NEIGHBOURS: Final = 8


@dataclass(frozen=True)
class Linking:
    """Chords, and whether any two of them are linked.

    Parameters
    ----------
    middle, direction : (n, d) arrays
        Midpoints in mm; unit vectors.
    length : (n,) array
        From end to end in mm.
    clear : callable
        Which of the ways between points (k, d) and (k, d) stay in the material.
    reach : float
        How far linked midpoints may lie apart in mm.
    """

    middle: Array
    direction: Array
    length: Array
    clear: Clear
    reach: float

    @classmethod
    def of(cls, ends: Array, clear: Clear, h: float) -> Linking:
        """Prepare chords for linking by their ends (n, 2, d) in mm, from samples `h` mm apart."""
        way = ends[:, 1] - ends[:, 0]
        length = np.linalg.norm(way, axis=1)
        return cls(ends.mean(axis=1), way / length[:, None], length, clear, REACH * h)

    def chosen(self, rows: Indices) -> Linking:
        """Choose some of the chords."""
        some = (self.middle[rows], self.direction[rows], self.length[rows])
        return Linking(*some, self.clear, self.reach)

    def first_below(self, limits: Array, sizes: Array) -> Indices:
        """Find for each of the first chords (k,) one of the rest that it is linked to, or -1.

        It is thinner than `limits` (k,); `sizes` has the thickness of the rest.
        So a place goes on downhill there.
        """
        count = len(limits)
        found = np.full(count, -1)
        if not count or not len(sizes):
            return found
        tree = cKDTree(self.middle[count:])
        found_near = tree.query_ball_point(self.middle[:count], self.reach, return_sorted=True)
        near = [np.asarray(rows, np.int64) for rows in found_near]
        i = np.repeat(np.arange(count), [len(rows) for rows in near])
        j = np.concatenate(near)
        lower = sizes[j] < limits[i]
        i, j = i[lower], j[lower]
        good = self.linked(i, j + count)
        found[i[good]] = j[good]
        return found

    def linked(self, i: Indices, j: Indices) -> Mask:
        """Tell whether chords i (k,) and j (k,) belong together."""
        one, two = self.middle[i], self.middle[j]
        apart = two - one
        good = np.einsum("ij,ij->i", apart, apart) <= self.reach**2
        same = np.abs(np.einsum("ij,ij->i", self.direction[i], self.direction[j])) >= _SAME_WAY
        for test, some in ((_side_by_side, good & same), (_cross, good & ~same)):
            rows = np.nonzero(some)[0]
            first, second = i[rows], j[rows]
            good[rows] = test(
                apart[rows],
                self.direction[first],
                self.direction[second],
                self.length[first],
                self.length[second],
            )
        rows = np.nonzero(good)[0]
        good[rows] = self.clear(one[rows], two[rows])
        return np.asarray(good)


def _side_by_side(apart: Array, d: Array, e: Array, first: Array, second: Array) -> Mask:
    """Tell whether two chords that point the same way are not one behind the other.

    The middle of a wall lies across its chords: from one to the next it may rise
    by half of what they turn, and by half the thickness where the wall has a
    step. Names as for `_cross`.
    """
    same = np.where(np.einsum("ij,ij->i", d, e) < 0.0, -1.0, 1.0)[:, None] * e
    mean, turn = (d + same) / 2.0, np.linalg.norm(d - same, axis=1) / 2.0
    size = np.linalg.norm(mean, axis=1)
    rise = np.abs(np.einsum("ij,ij->i", apart, mean)) / size
    run = np.sqrt(np.maximum(np.einsum("ij,ij->i", apart, apart) - rise**2, 0.0))
    return np.asarray(rise <= (first + second) / 4.0 + run * turn / size)


def _cross(apart: Array, d: Array, e: Array, first: Array, second: Array) -> Mask:
    """Tell whether two chords that point different ways come nearest between the quarters of both.

    `apart` (n, 3) leads from the middle of the one, along d, to that of the other, along e.
    """
    de, da, ea = (np.einsum("ij,ij->i", *p) for p in ((d, e), (d, apart), (e, apart)))
    square = 1.0 - de**2
    s, t = (da - de * ea) / square, (de * da - ea) / square
    return np.asarray((np.abs(s) <= first / 4.0) & (np.abs(t) <= second / 4.0))


def places(chords: Linking, size: Array, h: float) -> Indices:
    """Number the places (n,) that chords belong to, from 0.

    Parameters
    ----------
    chords : Linking
        Thin ones.
    size : (n,) array
        The thickness that each stands for, in mm.
    h : float
        Spacing of samples in mm.
    """
    if not len(size):
        return np.empty(0, np.int64)
    leaders, follower = np.unique(_leaders(chords, size, CELL * h), return_inverse=True)
    # those close by first, which leaves few that are further from one of another label
    every = np.arange(len(leaders))
    label = _linked_within(chords, leaders, every, chords.reach / 2.0, every)
    some = np.nonzero(_near_another(chords.middle[leaders], label, chords.reach))[0]
    label = _linked_within(chords, leaders, some, chords.reach, label)
    label = _bridged(chords, leaders, follower, label)
    return np.asarray(np.unique(label[follower], return_inverse=True)[1], np.int64)


def _leaders(chords: Linking, size: Array, cell: float) -> Indices:
    """Find for each chord (n,) the thinnest one of its cell that it is linked to."""
    _, place = _cells(chords.middle, cell)
    kind = 3 * place + np.abs(chords.direction).argmax(axis=1)
    order = np.argsort(size, kind="stable")
    order = order[np.argsort(kind[order], kind="stable")]
    lead = np.full(len(size), -1)
    while len(order):
        key = kind[order]
        fresh = np.concatenate([[True], key[1:] != key[:-1]])
        first = order[fresh][np.cumsum(fresh) - 1]
        own = first == order
        own[~own] = chords.linked(order[~own], first[~own])
        lead[order[own]] = first[own]
        order = order[~own]
    return lead


def _cells(points: Array, size: float) -> tuple[Indices, Indices]:
    """Find the cells (n, d) of a grid that points lie in, and one number (n,) for each cell."""
    place = np.floor((points - points.min(axis=0)) / size).astype(np.int64)
    number = np.zeros(len(points), np.int64)
    for column, most in zip(place.T, place.max(axis=0) + 1, strict=True):
        number = number * most + column
    return place, number


def _linked_within(
    chords: Linking, leaders: Indices, some: Indices, far: float, label: Indices
) -> Indices:
    """Link some leaders that are no further apart than `far`; label what hangs together."""
    pairs = cKDTree(chords.middle[leaders[some]]).query_pairs(far, output_type="ndarray")
    return _joined(chords, leaders[some[pairs]], some[pairs], label)


def _joined(chords: Linking, rows: Indices, nodes: Indices, label: Indices) -> Indices:
    """Link pairs (n, 2) of nodes; label (k,) what hangs together. `rows` are their chords.

    Pairs that hang together already are not looked at, which leaves few.
    """
    count, some = len(label), len(label) + 1000
    for first in range(0, len(nodes), some):
        pair, row = nodes[first : first + some], rows[first : first + some]
        apart = label[pair[:, 0]] != label[pair[:, 1]]
        pair, row = pair[apart], row[apart]
        ends = label[pair[chords.linked(row[:, 0], row[:, 1])]]
        label = linked(count, ends[:, 0], ends[:, 1])[1][label]
    return label


def _bridged(chords: Linking, leaders: Indices, follower: Indices, label: Indices) -> Indices:
    """Link leaders that some chord is linked to both of; label what hangs together.

    In a narrow bend the leaders may not see each other. Only chords are asked whose
    leader has one of another label nearby.
    """
    nearest, around = (min(k * _NEIGHBOURS, len(leaders)) for k in (1, 3))
    middle, far = chords.middle[leaders], 2.0 * chords.reach
    at_border = _near_another(middle, label, far)
    rows = np.nonzero(at_border)[0]
    if not len(rows):
        return label
    tree = cKDTree(middle)
    _, near = tree.query(middle[rows], around, distance_upper_bound=far)
    other = np.append(label, -1)[near.reshape(len(rows), -1)]
    at_border[rows] = ((other != label[rows, None]) & (other >= 0)).any(axis=1)
    asked = np.nonzero(at_border[follower])[0]
    for first in range(0, len(asked), _AT_ONCE):
        rows = asked[first : first + _AT_ONCE]
        _, near = tree.query(chords.middle[rows], nearest, distance_upper_bound=chords.reach)
        near = near.reshape(len(rows), -1)
        i, j = np.nonzero(near < len(leaders))
        nodes = np.column_stack([follower[rows[i]], near[i, j]])
        ends = np.column_stack([rows[i], leaders[near[i, j]]])
        label = _joined(chords, ends, nodes, label)
    return label


def _near_another(points: Array, label: Indices, far: float) -> Mask:
    """Mark points (n,) that may lie within `far` of one of another label.

    Cells of a grid of that size tell, by the least and the greatest label in and around each.
    """
    place, key = _cells(points, far)
    _, first, cell = np.unique(key, return_index=True, return_inverse=True)
    cells = place[first]
    least, most = np.full(len(cells), label.max()), np.full(len(cells), label.min())
    np.minimum.at(least, cell, label)
    np.maximum.at(most, cell, label)
    i, j = cKDTree(cells).query_pairs(1.5, p=np.inf, output_type="ndarray").T
    i, j = np.concatenate([i, j]), np.concatenate([j, i])
    around, above = least.copy(), most.copy()
    np.minimum.at(around, i, least[j])
    np.maximum.at(above, i, most[j])
    return np.asarray((around < above)[cell])
