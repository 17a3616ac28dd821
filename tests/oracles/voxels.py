"""Exact truth about parts of outlines on a square grid, by counting cells.

A cell is in the part when its three shadows are in the three outlines. All is
counted with numpy and scipy on whole numbers; nothing of the package is used.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, product

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Cells = NDArray[np.bool_]
SIDE = 10.0
"""mm, of a cell."""


@dataclass(frozen=True)
class Triple:
    """Cells of three outlines: front by (x, z), right by (y, z), top by (x, y)."""

    front: Cells
    right: Cells
    top: Cells

    @cached_property
    def filled(self) -> Cells:
        """By (x, y, z)."""
        return self.front[:, None, :] & self.right[None, :, :] & self.top[:, :, None]

    @property
    def volume(self) -> float:
        return float(self.filled.sum()) * SIDE**3

    @property
    def area(self) -> float:
        padded = np.pad(self.filled, 1).astype(int)
        return float(sum(np.abs(np.diff(padded, axis=k)).sum() for k in range(3))) * SIDE**2

    @cached_property
    def labels(self) -> NDArray[np.int64]:
        """Number of the body that holds a cell, from 1, with a frame of 0 around; faces connect."""
        return np.asarray(ndimage.label(np.pad(self.filled, 1))[0], np.int64)

    @property
    def body_volumes(self) -> list[float]:
        """Largest first."""
        counts = np.bincount(self.labels.ravel())[1:]
        return sorted((float(n) * SIDE**3 for n in counts), reverse=True)

    def shadow(self, view: str) -> Cells:
        return np.asarray(self.filled.any(axis={"front": 1, "right": 0, "top": 2}[view]))

    @cached_property
    def edge_contacts(self) -> list[tuple[tuple[int, int], tuple[float, ...], float]]:
        """Bodies, middle and length of each straight line along which bodies touch."""
        return [
            ((i, j), tuple(SIDE * m for m in middle), SIDE * length)
            for (i, j), middle, length in _merged(self._unit_edges())
        ]

    def _unit_edges(self) -> Iterator[tuple[tuple[int, int], int, tuple[int, int, int]]]:
        """Bodies, axis and start of each edge of a cell with two filled cells across a corner."""
        for axis in range(3):
            cells = np.moveaxis(self.labels, axis, 0)
            a, b, c, d = cells[:, :-1, :-1], cells[:, 1:, 1:], cells[:, :-1, 1:], cells[:, 1:, :-1]
            for one, two, others in ((a, b, c + d), (c, d, a + b)):
                for at in np.argwhere((one > 0) & (two > 0) & (others == 0)):
                    start = np.insert(at[1:], axis, at[0] - 1)  # the frame is one cell wide
                    bodies = sorted((int(one[tuple(at)]), int(two[tuple(at)])))
                    yield (bodies[0], bodies[1]), axis, tuple(int(k) for k in start)  # type: ignore[misc]

    @cached_property
    def point_contacts(self) -> list[tuple[tuple[int, int], tuple[float, ...]]]:
        """Bodies and place of each point in which bodies touch, off the lines where they do."""
        lines = [(pair, axis, start) for pair, axis, start in self._unit_edges()]
        on_line = {
            (pair, tuple(start[k] + (shift if k == axis else 0) for k in range(3)))
            for pair, axis, start in lines
            for shift in (0, 1)
        }
        found = set()
        for at in product(*(range(n + 1) for n in self.filled.shape)):
            around = self.labels[tuple(slice(k, k + 2) for k in at)]
            pieces, count = ndimage.label(around > 0)
            bodies = [int(around[pieces == k][0]) for k in range(1, count + 1)]
            for i, j in combinations(sorted(bodies), 2):
                if ((i, j), at) not in on_line:
                    found.add(((i, j), tuple(SIDE * k for k in at)))
        return sorted(found)

    @property
    def touches(self) -> bool:
        return bool(self.edge_contacts or self.point_contacts)


def _merged(
    edges: Iterator[tuple[tuple[int, int], int, tuple[int, int, int]]],
) -> Iterator[tuple[tuple[int, int], tuple[float, ...], int]]:
    """Unit edges of the same bodies end to end as one line: bodies, middle and length."""
    left = set(edges)
    while left:
        pair, axis, start = min(left)
        step = np.eye(3, dtype=int)[axis]
        length = 0
        while (key := (pair, axis, tuple(int(k) for k in start + length * step))) in left:
            left.remove(key)
            length += 1
        yield pair, tuple(float(k) for k in start + length / 2.0 * step), length


def connected(rng: np.random.Generator, size: int) -> Cells:
    """Random cells that hang together by their sides: at least two of them."""
    while True:
        noise = rng.random((size, size)) < rng.uniform(0.45, 0.9)
        labels, count = ndimage.label(noise)
        if count:
            largest = np.bincount(labels.ravel())[1:].argmax() + 1
            if (labels == largest).sum() > 1:
                return np.asarray(labels == largest)


def triples(size: int, seed: int, count: int) -> Iterator[Triple]:
    """Random triples of connected outlines on a grid of size × size cells."""
    rng = np.random.default_rng([size, seed])
    for _ in range(count):
        yield Triple(connected(rng, size), connected(rng, size), connected(rng, size))
