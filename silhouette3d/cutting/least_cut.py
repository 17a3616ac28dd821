"""The least cut of a graph whose edges have areas."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse import csgraph

from silhouette3d.solid.mesh import Indices
from silhouette3d.view import Array

_UNITS: Final = 2**28
"""The flow is counted in whole units, so many to the most that can leave the source."""


@dataclass(frozen=True, eq=False)
class Nodes:
    """Numbers for tuples of whole numbers, those known and no others.

    Parameters
    ----------
    base : (k,) array of int
        One more than the greatest number in each place; their product fits an integer.
    known : (n,) array of int
        The tuples as numbers in these bases, in order.
    """

    base: Indices
    known: Indices

    @classmethod
    def of(cls, some: Sequence[Indices]) -> Nodes:
        """Number the tuples in several lists (n, k) of numbers from 0 on."""
        every = np.concatenate(some)
        base = every.max(axis=0, initial=0) + 1
        return cls(base, np.unique(every @ _weights(base)))

    def __len__(self) -> int:
        return len(self.known)

    def number(self, tuples: Indices) -> Indices:
        """(n,) the number of each of some known tuples (n, k)."""
        return np.searchsorted(self.known, tuples @ _weights(self.base))


def _weights(base: Indices) -> Indices:
    return np.concatenate([[1], np.cumprod(base[:-1], dtype=np.int64)])


def linked(count: int, ends: Indices) -> Indices:
    """(count,) which connected piece of the graph each node is in."""
    graph = sparse.coo_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), (count, count))
    return np.asarray(csgraph.connected_components(graph, directed=False)[1])


def least_cut(
    count: int, ends: Indices, areas: Array, source: Indices, sink: Indices, contact: Array
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Part some nodes from others by edges of the least area in all; of equal cuts the first.

    Parameters
    ----------
    count : int
        Nodes.
    ends : (n, 2) array of int
        Of each edge.
    areas : (n,) array
        What cutting an edge takes.
    source : (k,) array of int
        Nodes to be parted from the sink.
    sink, contact : (m,) arrays
        Nodes that reach the sink, and what it takes to part each from it.

    Returns
    -------
    tuple of (n,) and (m,) arrays of bool
        Edges and contacts that are cut.
    """
    start, end = count, count + 1
    to = np.arange(count)
    to[source] = start
    a, b, c = to[ends[:, 0]], to[ends[:, 1]], to[sink]
    most = areas[(a == start) != (b == start)].sum() + contact[c == start].sum()
    unit = max(float(most), 1e-9) / _UNITS
    rows, columns = np.concatenate([a, b, c]), np.concatenate([b, a, np.full(len(c), end)])
    sizes = np.concatenate([areas, areas, contact])
    shape = (count + 2, count + 2)
    keep = rows != columns
    summed = sparse.coo_array((sizes[keep], (rows[keep], columns[keep])), shape).tocsr()
    whole = np.minimum(np.ceil(summed.data / unit), 2.0 * _UNITS).astype(np.int32)
    graph = sparse.csr_array((whole, summed.indices.astype(np.int32), summed.indptr), shape)
    left = sparse.csr_array(graph - csgraph.maximum_flow(graph, start, end).flow)
    left.data = np.maximum(left.data, 0)
    left.eliminate_zeros()
    reached = np.zeros(count + 2, bool)
    reached[csgraph.breadth_first_order(left, start, return_predecessors=False)] = True
    return reached[a] != reached[b], reached[c]
