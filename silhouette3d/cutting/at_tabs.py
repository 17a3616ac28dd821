"""An outline or a path broken where tabs stay, and the shape of a tab to draw."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import shapely
from shapely import LineString

from silhouette3d.cutting.kerf import Cut, Tab
from silhouette3d.cutting.tabs import kept
from silhouette3d.drawing.arcs import Simple
from silhouette3d.drawing.curve import Array
from silhouette3d.drawing.ring import Ring, joined_up
from silhouette3d.units import MERGE

__all__ = ["Stretch", "broken_at_tabs", "tab_shape"]

_STEPS: Final = 16
"""In which a tab is followed along the outline, besides its own corners."""


@dataclass(frozen=True)
class Stretch:
    """Lines and arcs end to end; `closed` where the last ends at the first."""

    pieces: tuple[Simple, ...]
    closed: bool = False


def broken_at_tabs(
    rings: Sequence[Ring], gaps: Sequence[LineString]
) -> tuple[tuple[Stretch, ...], tuple[Stretch, ...]]:
    """What is cut of some rings, and what is left out beside some lines, the stretches of tabs.

    A line interrupts a ring from where the ring is nearest to one end of it to
    where it is nearest to the other.

    Returns
    -------
    tuple of Stretch
        What is cut: closed where no tab interrupts it.
    tuple of Stretch
        What is left out.
    """
    spans: list[list[tuple[float, float]]] = [[] for _ in rings]
    for gap in gaps:
        for ring, span in _feet(rings, gap):
            spans[ring].append(span)
    cut: list[Stretch] = []
    left: list[Stretch] = []
    for around, found in zip(rings, spans, strict=True):
        out = joined_up([s for s in found if s[1] - s[0] > MERGE], around.length)
        if not out:
            cut.append(Stretch(around.pieces, closed=True))
            continue
        left += [Stretch(around.between(*one)) for one in out]
        nexts = [*(start for start, _ in out[1:]), out[0][0] + around.length]
        for (_, end), start in zip(out, nexts, strict=True):
            if start - end > MERGE:
                cut.append(Stretch(around.between(end, start)))
    return tuple(cut), tuple(left)


def _feet(rings: Sequence[Ring], stretch: LineString) -> Iterator[tuple[int, tuple[float, float]]]:
    """From and to which way on which ring a line runs beside it, step by step."""
    corners = shapely.line_locate_point(
        stretch, shapely.points(shapely.get_coordinates(stretch)), normalized=True
    )
    along = shapely.line_interpolate_point(
        stretch, np.union1d(corners, np.arange(_STEPS) / _STEPS), normalized=True
    )
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
