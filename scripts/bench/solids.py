"""A solid from three outlines: ours beside what others make of the same outlines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

from bench.kernels import apart, manifold, open_cascade, ours, trimesh_boolean, vtk_boolean
from bench.outlines import KINDS, outlines
from bench.timing import Row, in_turn

SIZES = (100, 1_000, 10_000, 50_000)
QUICK = (100, 1_000)
LARGEST_FOR_OTHERS = 1_000
"""Corners. Past this Open CASCADE and VTK take many minutes."""
SAME = 1e-6
"""Share of the volume by which two kernels may differ and still have made the same part."""


def rows(
    sizes: Sequence[int],
    *,
    budget: float,
    patience: float,
    most_for_others: int = LARGEST_FOR_OTHERS,
) -> Iterator[Row]:
    """Every kind of outline at every size, and one kind level with the stock and each other.

    `budget` is for the repetitions of one comparison, `patience` for one run of a
    kernel that may not come to an end, both in seconds.
    """
    for kind in KINDS:
        for count in sizes:
            yield from beside(
                kind, count, budget=budget, patience=patience, most_for_others=most_for_others
            )
    for count in sizes:
        yield from beside(
            "letter", count, budget=budget, patience=patience, level=True, most_for_others=0
        )


def beside(
    kind: str,
    count: int,
    *,
    budget: float,
    patience: float,
    level: bool = False,
    most_for_others: int = LARGEST_FOR_OTHERS,
) -> Iterator[Row]:
    """One part by all kernels."""
    areas = outlines(kind, count, level=level)
    case = f"{kind}{', level' if level else ''}, {count:,} corners"
    volume = ours(areas)
    for kernel, name in ((manifold, "plain manifold3d"), (trimesh_boolean, "trimesh")):
        other = kernel(areas)
        times = in_turn(partial(ours, areas), partial(kernel, areas), budget)
        yield Row("solid", case, *times, name, _same(volume, other))
    if count > min(LARGEST_FOR_OTHERS, most_for_others):
        return
    for kernel, name in ((open_cascade, "Open CASCADE"), (vtk_boolean, "VTK")):
        found = apart(kernel, areas, patience)
        if found is None:
            yield Row("solid", case, times[0], float("nan"), name, "fails or does not end")
        else:
            yield Row("solid", case, times[0], found[0], name, _same(volume, found[1]))


def _same(volume: float, other: float) -> str:
    off = abs(other - volume) / volume
    return "" if off <= SAME else f"its volume is off by {off:.1%}"
