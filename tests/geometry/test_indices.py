"""Rows of different lengths and connected pieces, against loops and a union of sets."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from silhouette3d.geometry.indices import items_of, linked, ragged

counts = st.lists(st.integers(0, 5), max_size=8)


@given(counts)
def test_items_of_rows_are_numbered(each: list[int]) -> None:
    row, place = ragged(np.array(each, np.int64))
    expected = [(i, k) for i, count in enumerate(each) for k in range(count)]
    assert list(zip(row.tolist(), place.tolist(), strict=True)) == expected


@given(counts, st.data())
def test_items_of_chosen_rows(each: list[int], data: st.DataObject) -> None:
    first = np.concatenate([[0], np.cumsum(each)]).astype(np.int64)
    some = st.lists(st.integers(0, len(each) - 1), max_size=8) if each else st.just([])
    rows = data.draw(some)
    place, item = items_of(first, np.array(rows, np.int64))
    expected = [(i, k) for i, row in enumerate(rows) for k in range(first[row], first[row + 1])]
    assert list(zip(place.tolist(), item.tolist(), strict=True)) == expected


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), max_size=12))
def test_pieces_are_those_of_sets_united(pairs: list[tuple[int, int]]) -> None:
    sets = [{i} for i in range(10)]
    for a, b in pairs:
        both = sets[a] | sets[b]
        for i in both:
            sets[i] = both
    ends = np.array(pairs, np.int64).reshape(-1, 2)
    pieces, piece = linked(10, ends[:, 0], ends[:, 1])
    assert pieces == len({frozenset(one) for one in sets}) == len(set(piece.tolist()))
    for a in range(10):
        assert {b for b in range(10) if piece[b] == piece[a]} == sets[a]
