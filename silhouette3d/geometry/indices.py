"""Number things in arrays: rows of different lengths, and pieces that hang together."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

__all__ = ["items_of", "linked", "ragged"]

Indices = NDArray[np.int64]


def ragged(counts: ArrayLike) -> tuple[Indices, Indices]:
    """Number the items of rows of different lengths.

    Parameters
    ----------
    counts : (n,) array of int
        Items of each row.

    Returns
    -------
    row, place : (m,) arrays of int
        The row that each item stands in, and its place there.

    Examples
    --------
    >>> ragged([2, 0, 3])
    (array([0, 0, 2, 2, 2]), array([0, 1, 0, 1, 2]))
    """
    each = np.asarray(counts, np.int64)
    row = np.repeat(np.arange(len(each)), each)
    return row, np.arange(len(row)) - np.repeat(np.cumsum(each) - each, each)


def items_of(first: Indices, rows: Indices) -> tuple[Indices, Indices]:
    """List what belongs to some rows, one after the other.

    Parameters
    ----------
    first : (n + 1,) array of int
        Where the items of each row begin.
    rows : (k,) array of int
        Which rows, in any order.

    Returns
    -------
    place, item : (m,) arrays of int
        The place in `rows` that each item belongs to, and the item.
    """
    place, within = ragged(first[rows + 1] - first[rows])
    return place, first[rows][place] + within


def linked(count: int, one: Indices, other: Indices) -> tuple[int, Indices]:
    """Find which of so many nodes hang together by links between pairs of them.

    Parameters
    ----------
    count : int
        Nodes.
    one, other : (m,) arrays of int
        Both ends of every link.

    Returns
    -------
    pieces : int
        How many there are.
    piece : (count,) array of int
        Which one each node is in.

    Examples
    --------
    >>> linked(4, np.array([0, 3]), np.array([2, 2]))
    (2, array([0, 1, 0, 0]))
    """
    links = coo_array((np.ones(len(one), bool), (one, other)), shape=(count, count))
    pieces, piece = connected_components(links, directed=False)
    return int(pieces), np.asarray(piece, np.int64)
