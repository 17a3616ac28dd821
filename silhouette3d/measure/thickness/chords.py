"""Samples and the opposed places where their smallest balls touch."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np

from silhouette3d.measure.thickness.cluster import CELL
from silhouette3d.measure.thickness.cores import shared
from silhouette3d.measure.thickness.query import smallest_balls
from silhouette3d.measure.thickness.sampling import (
    Indices,
    Samples,
    WallSamples,
    acute_samples,
    all_samples,
    edge_samples,
    rim_samples,
    tip_samples,
)
from silhouette3d.measure.thickness.scene import Scene
from silhouette3d.measure.thickness.surface import Mask, Surface
from silhouette3d.view import Array

Progress = Callable[[int, int], None]

MOST: Final = 1_000_000
"""Thin chords that are kept in memory; each takes about 300 bytes while they are sorted out."""


@dataclass(frozen=True)
class Chords:
    """From samples to where the smallest balls touch the wall opposite.

    Parameters
    ----------
    samples : Samples
        Where they begin.
    touch : (n, 3) array
        Where they end, in mm.
    size : (n,) array
        Diameters of the balls in mm.
    bend : (n,) array of bool
        Whether they end on an edge or corner.
    """

    samples: Samples
    touch: Array
    size: Array
    bend: Mask

    def __len__(self) -> int:
        return len(self.size)

    @cached_property
    def middle(self) -> Array:
        """(n, 3) midpoints in mm."""
        return np.asarray((self.samples.points + self.touch) / 2.0)

    @cached_property
    def direction(self) -> Array:
        """(n, 3) unit vectors from the sample to the wall opposite."""
        way = self.touch - self.samples.points
        return np.asarray(way / np.linalg.norm(way, axis=1)[:, None])

    def chosen(self, rows: Indices) -> Chords:
        """Some of them."""
        return Chords(self.samples.chosen(rows), self.touch[rows], self.size[rows], self.bend[rows])

    def replaced(self, rows: Indices, others: Chords) -> Chords:
        """The same with other chords in some rows."""
        order = np.arange(len(self))
        order[rows] = len(self) + np.arange(len(rows))
        return together([self, others]).chosen(order)


def thin_chords(
    surface: Surface, scene: Scene, cap: float, h: float, progress: Progress
) -> tuple[Chords, float]:
    """The chords of all samples whose ball is smaller than `cap` mm.

    Samples are made and measured piece by piece, and only thin ones are kept. If
    even those are very many, only the thinnest on each triangle in each cell of
    a grid is, with the area of all of them.

    Returns
    -------
    chords : Chords
        In the order of the surface.
    h : float
        How far apart they lie, in mm: as given, or more if some were left out.
    """
    edges = surface.edges
    bends = all_samples(
        [
            edge_samples(edges, h),
            acute_samples(edges, h),
            tip_samples(surface.points),
            rim_samples(surface, h),
        ]
    )
    least = least_chord(h)
    kept = [_between(chords_of(bends, scene, cap), least, cap)]
    most, cell = MOST, CELL * h
    for some in measured(WallSamples(surface, h), scene, cap, progress):
        kept.append(_between(some, least, cap))
        if sum(map(len, kept)) > most:
            cell = max(cell, 2.0 * CELL * h)
            kept = [gathered(together(kept), cell)]
            while len(kept[0]) > most / 2:
                cell *= 2.0
                kept = [gathered(kept[0], cell)]
    return together(kept), cell / CELL


def gathered(chords: Chords, cell: float) -> Chords:
    """The thinnest chord on each triangle or edge in each cell, with the area of all."""
    samples = chords.samples
    place = np.floor(chords.middle / cell).astype(np.int64)
    keys = np.column_stack([samples.triangle, samples.edge, place])
    order = np.lexsort((chords.size, *keys.T))
    keys = keys[order]
    first = np.nonzero(np.concatenate([[True], (keys[1:] != keys[:-1]).any(axis=1)]))[0]
    thinnest = chords.chosen(order[first])
    area = np.add.reduceat(samples.area[order], first)
    return replace(thinnest, samples=replace(thinnest.samples, area=area))


def together(chords: Sequence[Chords]) -> Chords:
    """Several lots as one."""
    return Chords(
        all_samples([c.samples for c in chords]),
        np.concatenate([c.touch for c in chords]),
        np.concatenate([c.size for c in chords]),
        np.concatenate([c.bend for c in chords]),
    )


def measured(
    samples: WallSamples, scene: Scene, cap: float, progress: Progress
) -> Iterator[Chords]:
    """The chords of samples piece by piece; those of size `cap` end nowhere, in nan."""
    done = 0
    for piece in range(len(samples)):
        result = chords_of(samples[piece], scene, cap)
        yield result
        done += len(result)
        progress(done, samples.total)


def chords_of(samples: Samples, scene: Scene, cap: float | Array) -> Chords:
    """The chord of each sample; one of size `cap` ends nowhere, in nan."""
    most = np.full(len(samples), cap, float)

    def measure(rows: slice) -> tuple[Array, Array, Mask]:
        some = samples.points[rows], samples.inward[rows], samples.edge[rows]
        return smallest_balls(scene, *some, most[rows])

    size, touch, bend = map(np.concatenate, zip(*shared(measure, len(samples)), strict=True))
    return Chords(samples, touch, size, bend)


def _between(chords: Chords, least: float, cap: float) -> Chords:
    return chords.chosen(np.nonzero((chords.size > least) & (chords.size < cap))[0])


def least_chord(h: float) -> float:
    """Chords shorter than this, in mm, are dust: no wall is so thin, only the end of a wedge."""
    return min(1e-5, 1e-4 * h)
