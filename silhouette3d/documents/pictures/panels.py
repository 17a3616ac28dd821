"""Pictures of a part: one view, or a sheet of views at one scale with the outlines over them."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import TYPE_CHECKING, Final

import shapely

from silhouette3d.documents.pictures.caption import counts, facts, size_and_mass
from silhouette3d.documents.pictures.face import (
    Range,
    capital,
    draw_datum,
    draw_lost,
    draw_outline_line,
    draw_solids,
    draw_stock,
    draw_tabs,
    has_tabs,
    lay_picture,
    legend,
    legend_keys,
    lost_regions,
    part_in_stock,
    scale_axes,
    seen_from,
    view_title,
)
from silhouette3d.documents.pictures.paper import (
    Box,
    paper,
    place,
    rule,
    triad,
    write,
    write_within,
)
from silhouette3d.documents.pictures.render import SOLID, CameraFrame, Studio
from silhouette3d.errors import PictureError
from silhouette3d.geometry.frames import VIEWS, View
from silhouette3d.presentation.theme import ISO, PALE_INK, PICTURE_VIEWS, SEVERITY, SIGNS
from silhouette3d.process.profile import Profile

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from silhouette3d.model.results import Results

# --- One view of a part with the outline that was drawn in it


MOST_PANELS: Final = 3
_MAIN: Final = ("front", "right", "top")


@dataclass(frozen=True)
class Panel:
    """A view of the part, with the outline that was drawn in it, if one was."""

    view: View
    profile: Profile | None = None

    @property
    def name(self) -> str:
        """The profile's, or else the view's."""
        return self.profile.name if self.profile else self.view.name

    def shows(self, part: Results) -> Range:
        """Span what must be seen, in face coordinates."""
        face = shapely.box(0.0, 0.0, *part.stock.face(self.view).size)
        shown = Range.of(face, *([self.profile.area] if self.profile else []))
        return shown.grown(0.03 * max(part.stock.size))


def panels_of(part: Results) -> list[Panel]:
    """Choose the first three profiles, or else main views that nothing shows yet."""
    panels = [Panel(profile.view, profile) for profile in part.profiles[:MOST_PANELS]]
    for name in _MAIN:
        if len(panels) < MOST_PANELS and not any(p.view.is_parallel(VIEWS[name]) for p in panels):
            panels.append(Panel(VIEWS[name]))
    return panels


def draw_panel(
    figure: Figure,
    studio: Studio,
    part: Results,
    panel: Panel,
    lost: Sequence[shapely.Polygon],
    box: Box,
    shown: Range,
) -> None:
    """Draw the part in one view; over it the outline, what it loses, its tabs, the datum.

    Parameters
    ----------
    figure : Figure
        The sheet.
    studio : Studio
        Draws the part.
    part : Results
        What to draw.
    panel : Panel
        From where, and which outline.
    lost : sequence of shapely.Polygon
        What the part's shadow leaves empty of that outline.
    box : Box
        Place on the sheet, in pixels, without title and ticks.
    shown : Range
        What of the face it shows, in the same ratio.
    """
    axes = place(figure, box)
    corner = part.stock.face(panel.view).corner
    frame = CameraFrame(panel.view, _plus(shown.low, corner), _plus(shown.high, corner))
    lay_picture(axes, studio, [(part.solid.mesh, SOLID)], frame, box, corner)
    draw_stock(axes, part.stock, panel.view)
    if panel.profile is not None:
        draw_lost(axes, lost)
        draw_outline_line(axes, panel.profile.area)
        draw_tabs(axes, part, panel.profile)
    draw_datum(axes)
    scale_axes(axes, panel.view, part.job.units, shown, box[2] / shown.size[0])
    top = box[1] + box[3] + 12
    write_within(
        figure, (box[0], top), seen_from(panel.view, panel.name), 7, box[2], color=PALE_INK
    )
    top += 20 * (panel.view.name != panel.name)
    write_within(figure, (box[0], top), capital(panel.name), 9.5, box[2] + 30, weight="bold")


def _plus(a: tuple[float, float], b: tuple[float, float]) -> tuple[float, float]:
    return a[0] + b[0], a[1] + b[1]


# --- Where panels go on a sheet: all at one scale, the six views lined up along shared axes


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
        """Map the number of a column (axis 0) or row (1) to the range in mm that it takes."""
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
        """Work out the pixels per mm at which it just fits."""
        edges = margins.left + margins.right, margins.bottom + margins.top
        fits = []
        for axis in (0, 1):
            tracks = self.tracks(axis).values()
            fits.append((room[axis] - len(tracks) * edges[axis]) / sum(b - a for a, b in tracks))
        return min(fits)


def arrange(
    ranges: Sequence[Range], names: Sequence[str], box: Box, margins: Margins = Margins()
) -> list[tuple[Box, Range]]:
    """Arrange boxes for panels, as large as they all can be.

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
    """Find where the inside of each column or row begins; under None, where the last ends."""
    sizes = [before + (b - a) * scale + after for a, b in tracks.values()]
    ends: Iterable[float] = accumulate(sizes, initial=0.0)
    keys: list[int | None] = [*tracks, None]
    starts = dict(zip(keys, ends, strict=True))
    return {k: s + (0.0 if k is None else before) for k, s in starts.items()}


# --- Pictures of a part: one view, or a sheet of them with the outlines drawn over the part


VIEW_SIZE: Final = (1500, 1150)
SHEET_SIZE: Final = (2100, 1400)
"""Pixels."""


def draw_view(part: Results, view: str, path: str | os.PathLike[str]) -> None:
    """Write a picture of a part in its stock.

    Parameters
    ----------
    part : Results
        What to draw.
    view : str
        One of the six views, ``"iso"``, or the name of a profile.
    path : str or path-like
        A ``.png`` or ``.jpg`` file.

    Raises
    ------
    PictureError
        If there is no such view, or this machine cannot draw.
    OutputError
        If the file cannot be written.
    """
    seen = _view(part, view)
    width, height = VIEW_SIZE
    foot = 170
    with paper(path, VIEW_SIZE) as figure, Studio() as studio:
        draw_solids(figure, studio, part_in_stock(part), seen, (0, foot, width, height - foot))
        triad(figure, seen, (width - 105, 86))
        room = width - 240
        size, mass = size_and_mass(part)
        write_within(figure, (40, 110), part.name, 14, room, weight="bold")
        title = "Isometric" if seen == ISO else view_title(seen, view)
        write_within(figure, (40, 72), title, 10, room, color=PALE_INK)
        write_within(figure, (40, 36), f"{size}     {mass}", 10, room, color=PALE_INK)


def _view(part: Results, name: str) -> View:
    if name in PICTURE_VIEWS:
        return PICTURE_VIEWS[name]
    own = {profile.name: profile.view for profile in part.profiles}
    if name in own:
        return own[name]
    known = ", ".join([*PICTURE_VIEWS, *(n for n in own if n not in PICTURE_VIEWS)])
    raise PictureError(f"there is no view called {name!r}", todo=f"take one of: {known}")


def draw_sheet(part: Results, path: str | os.PathLike[str]) -> None:
    """Write a sheet: the part in its stock, and each outline over the part in its view.

    Parameters
    ----------
    part : Results
        What to draw.
    path : str or path-like
        A ``.png`` or ``.jpg`` file.

    Raises
    ------
    PictureError
        If this machine cannot draw.
    OutputError
        If the file cannot be written.
    """
    width, height = SHEET_SIZE
    left, head, foot = 44, 190, 190
    body = height - head - foot
    with paper(path, SHEET_SIZE) as figure, Studio() as studio:
        _head(figure, part, left, height)
        rule(figure, left, width - left, height - head + 18)
        split = 0.44 * width
        box = (left - 20, foot + 20, split - left, body - 20)
        draw_solids(figure, studio, part_in_stock(part), ISO, box)
        deep = part.stock.size[1] > part.stock.size[0]  # then its lower left corner is not free
        triad(figure, ISO, (split - 90 if deep else left + 70, foot + 95), 52.0)
        _panels(figure, studio, part, (split, foot + 44, width - split - left / 2, body - 44))
        rule(figure, left, width - left, foot - 4)
        _foot(figure, part, left, foot - 4)


def _head(figure: Figure, part: Results, left: float, height: float) -> None:
    wide = SHEET_SIZE[0] - 2.0 * left
    write_within(figure, (left, height - 66), part.name, 18, wide, weight="bold")
    at = float(left)
    for word, value, more in facts(part):
        write(figure, (at, height - 104), word, 7, color=PALE_INK)
        wide = write(figure, (at, height - 131), value, 9.5)
        wide = max(wide, write(figure, (at, height - 156), more, 7.5, color=PALE_INK))
        at += wide + 52


def _panels(figure: Figure, studio: Studio, part: Results, box: Box) -> None:
    panels = panels_of(part)
    placed = arrange([p.shows(part) for p in panels], [p.view.name for p in panels], box)
    losses = [lost_regions(part, p.profile.name) if p.profile else [] for p in panels]
    for panel, lost, (room, shown) in zip(panels, losses, placed, strict=True):
        draw_panel(figure, studio, part, panel, lost, room, shown)
    keys = legend_keys(
        lost=any(losses), tabs=any(p.profile and has_tabs(part, p.profile) for p in panels)
    )
    legend(figure, keys, (box[0] + box[2] / 2.0, box[1] - 34.0))


def _foot(figure: Figure, part: Results, left: float, top: float) -> None:
    """Write how many findings there are, the first few of them, and what is not shown."""
    width = SHEET_SIZE[0] - 2.0 * left
    at = left
    for sign, colour, words in counts(part.findings):
        at += write(figure, (at, top - 36), sign, 10.5, color=colour) + 8
        at += write(figure, (at, top - 36), words, 9.5, weight="bold") + 32
    more = len(part.findings) - _MOST_MESSAGES
    asides = [f"the first {_MOST_MESSAGES} of them"] * (more > 0)
    hidden = [profile.name for profile in part.profiles[MOST_PANELS:]]
    asides += ["outlines not shown: " + ", ".join(hidden)] * bool(hidden)
    write_within(figure, (at, top - 36), "; ".join(asides), 7.5, width - at, color=PALE_INK)
    for i, finding in enumerate(part.findings[:_MOST_MESSAGES]):
        height = top - 68 - 27 * i
        write(
            figure, (left, height), SIGNS[finding.severity], 7.5, color=SEVERITY[finding.severity]
        )
        text = f"{finding.severity}, {finding.code}: {part.told(finding).message}"
        if finding.accepted is not None:
            text = f"accepted {text} ({finding.accepted})"
        write_within(figure, (left + 26, height), text, 7.5, width - 26)


_MOST_MESSAGES: Final = 4
