"""How time and memory grow with corners and with the number of profiles, as a picture."""

from __future__ import annotations

import multiprocessing
import resource
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from shapely import affinity

from bench.kernels import STOCK, wastes
from bench.outlines import VIEWS, outline
from silhouette3d.geometry.removal import Removal
from silhouette3d.geometry.subtract import carve

SIZES = (300, 1_000, 3_000, 10_000, 30_000, 50_000)
PROFILES = (1, 2, 3, 4, 6, 8)
CORNERS = 1_000


@dataclass(frozen=True)
class Line:
    """One line of the picture: seconds and megabytes for each of several amounts."""

    title: str
    amounts: tuple[int, ...]
    seconds: tuple[float, ...]
    megabytes: tuple[float, ...]

    @property
    def slope(self) -> float:
        """Of time in the double-logarithmic picture: 1 is twice as long for twice as much."""
        return float(np.polyfit(np.log(self.amounts), np.log(self.seconds), 1)[0])

    @property
    def memory_slope(self) -> float:
        """Of memory, the same."""
        return float(np.polyfit(np.log(self.amounts), np.log(self.megabytes), 1)[0])


def lines(sizes: Sequence[int] = SIZES, profiles: Sequence[int] = PROFILES) -> list[Line]:
    """Each amount in a process of its own, for its memory: what it takes beyond the start."""
    by_size = [_apart("wavy", size, 3) for size in sizes]
    by_number = [_apart("wavy", CORNERS, number) for number in profiles]
    return [
        Line("corners of each of three outlines", tuple(sizes), *_columns(by_size)),
        Line(f"profiles of {CORNERS:,} corners", tuple(profiles), *_columns(by_number)),
    ]


def _columns(pairs: Sequence[tuple[float, float]]) -> tuple[tuple[float, ...], tuple[float, ...]]:
    return tuple(pair[0] for pair in pairs), tuple(pair[1] for pair in pairs)


def _apart(kind: str, size: int, number: int) -> tuple[float, float]:
    context = multiprocessing.get_context("spawn")
    receiver, sender = context.Pipe(duplex=False)
    process = context.Process(target=_measured, args=(sender, kind, size, number))
    process.start()
    seconds, megabytes = receiver.recv()
    process.join()
    return float(seconds), float(megabytes)


def _measured(sender: Any, kind: str, size: int, number: int) -> None:
    carve(STOCK, several(kind, 100, 3))
    cut = several(kind, size, number)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    start = time.process_time()
    assert carve(STOCK, cut).bodies
    seconds = time.process_time() - start
    after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    sender.send((seconds, max(after - before, 1) / 1024.0))


def several(kind: str, size: int, number: int) -> list[Removal]:
    """Wastes of any number of outlines: the three views in turn, each outline turned further."""
    found = []
    for i in range(number):
        area = affinity.rotate(outline(kind, size, i % 3), 7.0 * (i // 3), (50.0, 50.0))
        found += wastes({VIEWS[i % 3]: area})
    return found


def picture(found: Sequence[Line], path: Path) -> None:
    """Time on the left, memory on the right, slopes in the legend."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(10.0, 4.5), layout="constrained")
    for axes, what in zip(figure.subplots(1, 2), ("seconds", "megabytes"), strict=True):
        for line in found:
            slope = line.slope if what == "seconds" else line.memory_slope
            axes.loglog(
                line.amounts, getattr(line, what), "o-", label=f"{line.title}: slope {slope:.2f}"
            )
        axes.set_xlabel("number")
        axes.set_title("processor time in s" if what == "seconds" else "memory in MB")
        axes.grid(which="both", alpha=0.3)
        axes.legend(loc="upper left", fontsize=8)
        axes.margins(y=0.2)
    figure.savefig(path, dpi=150)
