"""Pictures of a part: one view, or a sheet of them with the outlines drawn over the part."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Final

from silhouette3d.errors import PictureError
from silhouette3d.output.picture.caption import counts, facts, size_and_mass
from silhouette3d.output.picture.draw import draw_solids, part_in_stock
from silhouette3d.output.picture.face import has_tabs, legend, legend_keys, lost_regions, view_title
from silhouette3d.output.picture.layout import arrange
from silhouette3d.output.picture.panel import MOST_PANELS, draw_panel, panels_of
from silhouette3d.output.picture.paper import Box, paper, rule, triad, write, write_within
from silhouette3d.output.picture.scene import Studio
from silhouette3d.theme import ISO, PALE_INK, PICTURE_VIEWS, SEVERITY, SIGNS
from silhouette3d.view import View

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from silhouette3d.part import Part

VIEW_SIZE: Final = (1500, 1150)
SHEET_SIZE: Final = (2100, 1400)
"""Pixels."""


def draw_view(part: Part, view: str, path: str | os.PathLike[str]) -> None:
    """Write a picture of a part in its stock.

    Parameters
    ----------
    part : Part
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


def _view(part: Part, name: str) -> View:
    if name in PICTURE_VIEWS:
        return PICTURE_VIEWS[name]
    own = {profile.name: profile.view for profile in part.profiles}
    if name in own:
        return own[name]
    known = ", ".join([*PICTURE_VIEWS, *(n for n in own if n not in PICTURE_VIEWS)])
    raise PictureError(f"there is no view called {name!r}", todo=f"take one of: {known}")


def draw_sheet(part: Part, path: str | os.PathLike[str]) -> None:
    """Write a sheet: the part in its stock, and each outline over the part in its view.

    Parameters
    ----------
    part : Part
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


def _head(figure: Figure, part: Part, left: float, height: float) -> None:
    wide = SHEET_SIZE[0] - 2.0 * left
    write_within(figure, (left, height - 66), part.name, 18, wide, weight="bold")
    at = float(left)
    for word, value, more in facts(part):
        write(figure, (at, height - 104), word, 7, color=PALE_INK)
        wide = write(figure, (at, height - 131), value, 9.5)
        wide = max(wide, write(figure, (at, height - 156), more, 7.5, color=PALE_INK))
        at += wide + 52


def _panels(figure: Figure, studio: Studio, part: Part, box: Box) -> None:
    panels = panels_of(part)
    placed = arrange([p.shows(part) for p in panels], [p.view.name for p in panels], box)
    losses = [lost_regions(part, p.profile.name) if p.profile else [] for p in panels]
    for panel, lost, (room, shown) in zip(panels, losses, placed, strict=True):
        draw_panel(figure, studio, part, panel, lost, room, shown)
    keys = legend_keys(
        lost=any(losses), tabs=any(p.profile and has_tabs(part, p.profile) for p in panels)
    )
    legend(figure, keys, (box[0] + box[2] / 2.0, box[1] - 34.0))


def _foot(figure: Figure, part: Part, left: float, top: float) -> None:
    """How many findings there are, the first few of them, and what is not shown."""
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
