"""All findings of a part, beside the solid and the stages that they are found on."""

from __future__ import annotations

import resource
import time
from collections.abc import Callable, Iterator, Sequence
from typing import Final

import numpy as np
import shapely
from shapely import Polygon, affinity
from shapely.geometry.base import BaseGeometry

from bench.outlines import SIDE, VIEWS, outline
from bench.timing import Row, apart
from silhouette3d import Block, Part, Setup, View
from silhouette3d.drawing.outline.outline import Outline
from silhouette3d.geometry.frames import VIEWS as NAMED

SIZES: Final = (100, 1_000, 3_000, 10_000)
QUICK: Final = (100,)
TEETH: Final = {"200 teeth of 0.6 mm": (400, 0.6), "a rack of 30 teeth": (60, 6.0)}
"""Corners and height of one outline's upper side; the other two outlines are plain."""


def rows(sizes: Sequence[int], *, rough: bool = True) -> Iterator[Row]:
    """Wavy outlines of every size, then outlines with many teeth, few enough that it ends."""
    for size in sizes:
        yield _row(f"wavy, {size:,} corners", size)
    for case in TEETH if rough else ():
        yield _row(case, case)


def _row(case: str, asked: int | str) -> Row:
    solid, stages, of_part, of_cuts, megabytes = apart(_steps, asked)
    note = f"of the part {of_part:.2f} s, of the cuts {of_cuts:.2f} s, {megabytes:.0f} MB in all"
    return Row("findings", case, of_part + of_cuts, solid + stages, "its solid and stages", note)


def _steps(asked: int | str) -> tuple[float, ...]:
    """Seconds of one step after the other, and megabytes that all of them took."""
    assert _wavy(100, 3).every_finding  # compiled and loaded
    part = _wavy(asked, 3) if isinstance(asked, int) else _toothed(*TEETH[asked])
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    seconds = [
        _seconds(step)
        for step in (
            lambda: part.solid,
            lambda: part.stages,
            lambda: part.findings_of_part,
            lambda: part.every_finding,
        )
    ]
    after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return *seconds, (after - before) / 1024.0


def every_finding(size: int, number: int) -> None:
    """Find everything about a part of so many wavy outlines, from the first step on."""
    assert _wavy(size, number).every_finding


def _seconds(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def _wavy(size: int, number: int) -> Part:
    """A part of any number of outlines: the three views in turn, each outline turned further."""
    setups: dict[str | View, BaseGeometry | Outline | Setup] = {}
    for i in range(number):
        view = NAMED[VIEWS[i % 3]]
        turned = affinity.rotate(outline("wavy", size, i % 3), 7.0 * (i // 3), (50.0, 50.0))
        setups[View(f"{view.name} {i}", view.look, view.up)] = Setup(turned)
    return Part.from_outlines(Block(SIDE, SIDE, SIDE, density=1.0), setups)


def _toothed(corners: int, height: float) -> Part:
    """A block with a saw of very many teeth along its top, seen from the front."""
    u = np.linspace(5.0, 95.0, corners + 1)
    v = np.where(np.arange(corners + 1) % 2 == 0, 90.0 - height, 90.0)
    area = Polygon([(5.0, 5.0), (95.0, 5.0), *zip(u[::-1], v[::-1], strict=True)])
    right, top = shapely.box(10.0, 4.0, 90.0, 96.0), shapely.box(4.0, 12.0, 96.0, 88.0)
    block = Block(SIDE, SIDE, SIDE, density=1.0)
    return Part.from_outlines(block, front=area, right=right, top=top)
