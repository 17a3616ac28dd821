"""What of an outline or a true path lies beside a line, and the shape of a tab to draw."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import shapely
from shapely import LineString

from silhouette3d.cutting.kerf import Cut, Tab
from silhouette3d.cutting.runs import Run
from silhouette3d.cutting.tabs import kept
from silhouette3d.drawing.arcs import Simple
from silhouette3d.drawing.curve import Array
from silhouette3d.drawing.ring import Ring, joined_up
from silhouette3d.units import MERGE

__all__ = ["Stretch", "beside", "tab_shape", "true_run"]

_STEPS: Final = 16
"""In which a line is followed along rings, besides its own corners."""

Span = tuple[float, float]


@dataclass(frozen=True)
class Stretch:
    """Lines and arcs end to end; `closed` where the last ends at the first."""

    pieces: tuple[Simple, ...]
    closed: bool = False


def true_run(run: Run, rings: Sequence[Ring]) -> Stretch:
    """A run as lines and arcs: the piece of a true path from where it begins to where it ends."""
    ends = shapely.get_coordinates(run.line)[[0, -1]]
    middle = shapely.get_coordinates(run.line.interpolate(0.5, normalized=True))
    ring = min(rings, key=lambda one: float(one.nearest(np.concatenate([ends, middle]))[1].sum()))
    first, last = (float(way) for way in ring.nearest(ends)[0])
    if run.is_closed:
        return Stretch(ring.around(first), closed=True)
    return Stretch(ring.between(first, first + (last - first) % ring.length))


def beside(
    rings: Sequence[Ring], lines: Sequence[LineString]
) -> tuple[tuple[Stretch, ...], tuple[Stretch, ...]]:
    """Part rings into what lies beside some lines and what does not.

    A line lies beside a ring from where the ring is nearest to one end of it to
    where it is nearest to the other.

    Returns
    -------
    tuple of Stretch
        What lies beside the lines, in their order: a whole ring from where it is nearest to
        the first point of its line.
    tuple of Stretch
        The rest, ring by ring.
    """
    found: list[Stretch] = []
    spans: list[list[Span]] = [[] for _ in rings]
    for line in lines:
        by_ring: dict[int, list[Span]] = {}
        for i, span in _feet(rings, line):
            by_ring.setdefault(i, []).append(span)
        for i, some in by_ring.items():
            found += _along(rings[i], some)
            spans[i] += some
    return tuple(found), tuple(
        Stretch(ring.between(*gap), closed=gap == (0.0, ring.length))
        for ring, some in zip(rings, spans, strict=True)
        for gap in _gaps(ring, some)
    )


def _joined(spans: Sequence[Span], length: float) -> list[Span]:
    """Spans of a ring in order, without overlaps and gaps of rounding."""
    joined: list[Span] = []
    for start, end in joined_up([s for s in spans if s[1] - s[0] > MERGE], length):
        if joined and start - joined[-1][1] <= MERGE:
            joined[-1] = joined[-1][0], end
        else:
            joined.append((start, end))
    if len(joined) > 1 and joined[0][0] + length - joined[-1][1] <= MERGE:
        joined[-1] = joined[-1][0], joined.pop(0)[1] + length
    return joined


def _along(ring: Ring, spans: Sequence[Span]) -> Iterator[Stretch]:
    """Stretches of a ring in some spans, of which the first is where a line begins."""
    joined, begins = _joined(spans, ring.length), spans[0][0]
    if any(end - start >= ring.length - MERGE for start, end in joined):
        yield Stretch(ring.around(begins), closed=True)
        return
    for span in sorted(joined, key=lambda span: (span[0] - begins + MERGE) % ring.length):
        yield Stretch(ring.between(*span))


def _gaps(ring: Ring, spans: Sequence[Span]) -> Iterator[Span]:
    """What of a ring is in none of some spans."""
    joined = _joined(spans, ring.length)
    if not joined:
        yield 0.0, ring.length
        return
    nexts = [*(start for start, _ in joined[1:]), joined[0][0] + ring.length]
    for (_, end), start in zip(joined, nexts, strict=True):
        if start - end > MERGE:
            yield end, start


def _feet(rings: Sequence[Ring], line: LineString) -> Iterator[tuple[int, Span]]:
    """From and to which way on which ring a line runs beside it, step by step."""
    corners = shapely.points(shapely.get_coordinates(line)[:-1])  # of a closed one the last is 0
    ways = np.atleast_1d(shapely.line_locate_point(line, corners, normalized=True))
    every = np.union1d(ways, np.arange(_STEPS + 1) / _STEPS)
    along = shapely.line_interpolate_point(line, every, normalized=True)
    found = [ring.nearest(shapely.get_coordinates(along)) for ring in rings]
    nearest = np.argmin([off for _, off in found], axis=0)
    ways = np.array([way for way, _ in found])[nearest, np.arange(len(nearest))]
    for (ring, a), (other, b) in pairwise(zip(nearest.tolist(), ways.tolist(), strict=True)):
        if ring == other:
            ahead, back = (b - a) % rings[ring].length, (a - b) % rings[ring].length
            yield ring, (a, a + ahead) if ahead <= back else (b, b + back)


def tab_shape(cut: Cut, tab: Tab) -> Array:
    """The corners (n, 2) of a strip across the kerf that covers what stays of the path at a tab.

    Square to the path at both ends, half a kerf short of where the cutter's middle
    stops. As wide as the kerf, or a tenth of the tab where that is more; narrower
    where it would cover another piece of the path.
    """
    stays = kept(cut, tab)
    reach = max(cut.width, stays.length / 10.0) / 2.0
    while True:
        strip = shapely.buffer(stays, reach, cap_style="flat", join_style="bevel")
        covered = shapely.length(shapely.intersection(cut.path, strip))
        if covered <= stays.length + MERGE or reach < MERGE:
            return np.array(strip.exterior.coords)[:-1]
        reach /= 2.0
