"""How time and memory grow with corners and with the number of profiles, as a picture."""

from __future__ import annotations

import resource
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from shapely import affinity

from bench.findings import every_finding
from bench.kernels import STOCK, removals
from bench.outlines import VIEWS, outline
from bench.timing import apart
from silhouette3d.geometry.removal import Removal
from silhouette3d.geometry.subtract import carve

SIZES = (300, 1_000, 3_000, 10_000, 30_000, 50_000)
PROFILES = (1, 2, 3, 4, 6, 8)
CORNERS = 1_000
MOST_FOR_FINDINGS = 10_000
"""Corners. More take minutes."""


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


def lines(
    sizes: Sequence[int] = SIZES,
    profiles: Sequence[int] = PROFILES,
    most_for_findings: int = MOST_FOR_FINDINGS,
) -> list[Line]:
    """Each amount in a process of its own, for its memory: what it takes beyond the start."""
    found = []
    for what, work, most in (
        ("solid", _solid, max(sizes)),
        ("all findings", every_finding, most_for_findings),
    ):
        some = tuple(size for size in sizes if size <= most)
        by_size = [apart(_measured, work, size, 3) for size in some]
        by_number = [apart(_measured, work, CORNERS, number) for number in profiles]
        found += [
            Line(f"{what}, corners of each of three outlines", some, *_columns(by_size)),
            Line(f"{what}, profiles of {CORNERS:,} corners", tuple(profiles), *_columns(by_number)),
        ]
    return found


def _columns(pairs: Sequence[tuple[float, float]]) -> tuple[tuple[float, ...], tuple[float, ...]]:
    return tuple(pair[0] for pair in pairs), tuple(pair[1] for pair in pairs)


def _solid(size: int, number: int) -> None:
    assert carve(STOCK, several("wavy", size, number)).bodies


def _measured(work: Callable[[int, int], None], size: int, number: int) -> tuple[float, float]:
    """Seconds and megabytes, after the same work on little."""
    work(100, 3)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    start = time.process_time()
    work(size, number)
    seconds = time.process_time() - start
    after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return seconds, max(after - before, 1) / 1024.0


def several(kind: str, size: int, number: int) -> list[Removal]:
    """Wastes of any number of outlines: the three views in turn, each outline turned further."""
    found = []
    for i in range(number):
        area = affinity.rotate(outline(kind, size, i % 3), 7.0 * (i // 3), (50.0, 50.0))
        found += removals({VIEWS[i % 3]: area})
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
