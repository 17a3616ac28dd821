"""Where panels go on a sheet: all at one scale, the six views lined up along shared axes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import Final

from silhouette3d.output.picture.face import Range
from silhouette3d.output.picture.paper import Box

Cell = tuple[int, int]
"""Column, counted to the right, and row, counted upwards."""

THIRD_ANGLE: Final[dict[str, Cell]] = {
    "front": (0, 0),
    "right": (1, 0),
    "left": (-1, 0),
    "rear": (2, 0),
    "top": (0, 1),
    "bottom": (0, -1),
}
"""Each view on the side from which it is seen: third-angle projection (ISO 5456-2)."""


@dataclass(frozen=True)
class Margins:
    """Pixels around a panel for its title, ticks and labels."""

    left: float = 66.0
    right: float = 18.0
    bottom: float = 52.0
    top: float = 56.0


@dataclass(frozen=True)
class _Grid:
    """Panels in cells; where they are lined up, panels above or beside each other show the same.

    A column is as wide as what its panels show together, a row as high.
    """

    cells: tuple[Cell, ...]
    ranges: tuple[Range, ...]
    lined_up: bool

    def tracks(self, axis: int) -> dict[int, tuple[float, float]]:
        """From the number of a column (axis 0) or row (1) to the range in mm that it takes."""
        found: dict[int, tuple[float, float]] = {}
        order = sorted(zip(self.cells, self.ranges, strict=True), key=lambda pair: pair[0][axis])
        for cell, shown in order:
            start, end = (
                (shown.low[axis], shown.high[axis]) if self.lined_up else (0.0, shown.size[axis])
            )
            low, high = found.get(cell[axis], (start, end))
            found[cell[axis]] = min(low, start), max(high, end)
        return found

    def scale(self, room: tuple[float, float], margins: Margins) -> float:
        """Pixels per mm at which it just fits."""
        edges = margins.left + margins.right, margins.bottom + margins.top
        fits = []
        for axis in (0, 1):
            tracks = self.tracks(axis).values()
            fits.append((room[axis] - len(tracks) * edges[axis]) / sum(b - a for a, b in tracks))
        return min(fits)


def arrange(
    ranges: Sequence[Range], names: Sequence[str], box: Box, margins: Margins = Margins()
) -> list[tuple[Box, Range]]:
    """Boxes for panels, as large as they all can be.

    The six views go where third-angle projection puts them; others in rows of
    whatever length leaves them largest.

    Parameters
    ----------
    ranges : sequence of Range
        What each panel shows at least, in mm.
    names : sequence of str
        The name of each panel's view.
    box : Box
        The room for all, in pixels.
    margins : Margins
        Around each panel.

    Returns
    -------
    list of (Box, Range)
        For each panel its box in pixels and what it shows, in the same ratio.
    """
    room = box[2], box[3]
    grids = list(_candidates(names, tuple(ranges)))
    grid = max(grids, key=lambda g: g.scale(room, margins))
    scale = grid.scale(room, margins)
    columns, rows = grid.tracks(0), grid.tracks(1)
    lefts = _starts(columns, scale, margins.left, margins.right)
    bottoms = _starts(rows, scale, margins.bottom, margins.top)
    spare = room[0] - lefts.pop(None), room[1] - bottoms.pop(None)
    placed = []
    for (column, row), own in zip(grid.cells, grid.ranges, strict=True):
        (u0, v0), (u1, v1) = own.low, own.high
        if grid.lined_up:
            (u0, u1), (v0, v1) = columns[column], rows[row]
        left = box[0] + spare[0] / 2.0 + lefts[column]
        bottom = box[1] + spare[1] / 2.0 + bottoms[row]
        place = (left, bottom, (u1 - u0) * scale, (v1 - v0) * scale)
        placed.append((place, Range((u0, v0), (u1, v1))))
    return placed


def _candidates(names: Sequence[str], ranges: tuple[Range, ...]) -> Iterator[_Grid]:
    distinct = len(set(names)) == len(names)
    if distinct and "front" in names and set(names) <= THIRD_ANGLE.keys():
        yield _Grid(tuple(THIRD_ANGLE[name] for name in names), ranges, lined_up=True)
        return
    for length in range(1, len(names) + 1):
        cells = tuple((i % length, -(i // length)) for i in range(len(names)))
        yield _Grid(cells, ranges, lined_up=False)


def _starts(
    tracks: dict[int, tuple[float, float]], scale: float, before: float, after: float
) -> dict[int | None, float]:
    """Where the inside of each column or row begins; under None, where the last one ends."""
    sizes = [before + (b - a) * scale + after for a, b in tracks.values()]
    ends: Iterable[float] = accumulate(sizes, initial=0.0)
    keys: list[int | None] = [*tracks, None]
    starts = dict(zip(keys, ends, strict=True))
    return {k: s + (0.0 if k is None else before) for k, s in starts.items()}
