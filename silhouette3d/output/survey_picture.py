"""A picture of a drawing that gives no outline: every line, and where lines do not go on."""

from __future__ import annotations

import os
import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from silhouette3d.drawing.curve import Point
from silhouette3d.drawing.survey import EndKind, Survey
from silhouette3d.errors import DrawingError
from silhouette3d.output.picture.face import Range, capital, legend, scale_axes
from silhouette3d.output.picture.paper import draw_area, paper, place, rule, write_within
from silhouette3d.theme import (
    BLUE,
    GAP,
    GREEN,
    INK,
    ORANGE,
    OUTLINE,
    PALE_INK,
    PAPER,
    PART,
    VERMILION,
)
from silhouette3d.units import Unit, length_text
from silhouette3d.view import VIEWS

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

WIDTH: Final = 1500
_HEIGHTS: Final = (160.0, 1000.0)
_SIDE: Final = 44
_HEAD: Final = 130
_AROUND: Final = (90, 60, 72, 30)
"""Pixels left, right, below and above the drawing."""

_LINE: Final = 24
"""Pixels from one line of words to the next."""

_LETTERS: Final = 150
"""Of a line of words."""

MOST_NUMBERED: Final = 60
"""Marks that have a number; of more the rest are drawn without."""

_MOST_WORDS: Final = 24
"""Lines of words below the picture."""


@dataclass(frozen=True)
class _Kind:
    """How marks of one kind look, and what they are called."""

    marker: str
    colour: str
    words: str


_ENDS: Final[dict[EndKind, _Kind]] = {
    "gap": _Kind("o", GAP, "end at a gap"),
    "on a line": _Kind("s", BLUE, "end on another line"),
    "inside": _Kind("^", GREEN, "end inside"),
    "outside": _Kind("D", ORANGE, "end outside"),
}
_MEETING: Final = _Kind("*", VERMILION, "odd number of lines")
_CROSSING: Final = _Kind("X", VERMILION, "crosses itself")

_FLAT: Final = VIEWS["top"]


@dataclass(frozen=True)
class Mark:
    """Something on the drawing to look at.

    Parameters
    ----------
    number : int
        From 1, kind by kind.
    at : tuple of float
        In mm, on the drawing.
    kind : _Kind
        What it is.
    """

    number: int
    at: Point
    kind: _Kind


def marks_of(survey: Survey) -> tuple[Mark, ...]:
    """Number all there is to look at, kind by kind."""
    found = [
        (end.at, look)
        for kind, look in _ENDS.items()
        for end in survey.open_ends
        if end.kind == kind
    ]
    found += [(meeting.at, _MEETING) for meeting in survey.meetings]
    found += [(survey.crossing, _CROSSING)] if survey.crossing is not None else []
    return tuple(Mark(n, at, kind) for n, (at, kind) in enumerate(found, start=1))


def draw_survey(
    error: DrawingError, title: str, drawn: str, unit: Unit, path: str | os.PathLike[str]
) -> None:
    """Write a picture of a drawing that was refused.

    Parameters
    ----------
    error : DrawingError
        The refusal; it is about a `Survey`.
    title, drawn : str
        The profile, and the drawing.
    unit : {"mm", "in"}
        Of the ticks.
    path : str or path-like
        A ``.png`` or ``.jpg`` file.

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    survey = error.about
    assert isinstance(survey, Survey)
    marks = marks_of(survey)
    shown = _shown(survey)
    left, right, below, above = _AROUND
    widest = WIDTH - 2 * _SIDE - left - right
    scale = min(widest / shown.size[0], _HEIGHTS[1] / shown.size[1])
    wide, high = shown.size[0] * scale, shown.size[1] * scale
    words = list(_words(error))[:_MOST_WORDS]
    foot = 96 + _LINE * len(words)
    height = round(foot + below + max(high, _HEIGHTS[0]) + above + _HEAD)
    with paper(path, (WIDTH, height)) as figure:
        room = WIDTH - 2.0 * _SIDE
        head = f"{capital(title)}: no outline"
        write_within(figure, (_SIDE, height - 58), head, 16, room, weight="bold")
        write_within(figure, (_SIDE, height - 94), drawn, 9, room, color=PALE_INK)
        axes = place(figure, ((WIDTH - wide) / 2.0, height - _HEAD - above - high, wide, high))
        _draw(axes, survey, marks, unit)
        scale_axes(axes, _FLAT, unit, shown, scale)
        axes.set_xlabel(f"u ({unit})")  # the drawing is not placed on any face
        axes.set_ylabel(f"v ({unit})")
        legend(figure, list(_keys(marks)), (WIDTH / 2.0, foot - 34.0))
        rule(figure, _SIDE, WIDTH - _SIDE, foot - 66)
        for i, line in enumerate(words):
            write_within(figure, (_SIDE, foot - 98 - _LINE * i), line, 8, room)


def _shown(survey: Survey) -> Range:
    points = np.concatenate(survey.lines)
    low, high = points.min(axis=0), points.max(axis=0)
    size = float(np.max(high - low)) or 1.0
    # a drawing of one straight line is given some height
    spare = np.maximum(0.1 * size - (high - low), 0.0) / 2.0 + 0.06 * size
    (u0, v0), (u1, v1) = (low - spare).tolist(), (high + spare).tolist()
    return Range((u0, v0), (u1, v1))


def _draw(axes: Axes, survey: Survey, marks: tuple[Mark, ...], unit: Unit) -> None:
    draw_area(axes, survey.region, facecolor=PART, alpha=0.45, zorder=1)
    for points in survey.lines:
        axes.plot(points[:, 0], points[:, 1], color=OUTLINE, lw=1.3, zorder=3)
    for end in survey.open_ends:
        if end.kind == "gap" and end.nearest is not None:
            (u0, v0), (u1, v1) = end.at, end.nearest
            axes.plot([u0, u1], [v0, v1], color=GAP, lw=1.2, ls=":", zorder=4)
    for mark in marks:
        _draw_mark(axes, mark)
    gaps = [end for end in survey.open_ends if end.kind == "gap"]
    if gaps:
        widest = max(gaps, key=lambda end: end.width)
        _label(axes, widest.at, f"gap {length_text(widest.width, unit)}", (34.0, -4.0))


def _draw_mark(axes: Axes, mark: Mark) -> None:
    size = 17 if mark.kind.marker == "*" else 11
    style: dict[str, Any] = {"mfc": "none", "mec": mark.kind.colour, "mew": 2.0, "ls": ""}
    axes.plot(*mark.at, mark.kind.marker, ms=size, zorder=8, **style)
    if mark.number <= MOST_NUMBERED:
        # one number above its mark, the next below: ends at a gap lie on each other
        _label(axes, mark.at, str(mark.number), (11.0, 13.0 if mark.number % 2 else -20.0))


def _label(axes: Axes, at: Point, words: str, off: tuple[float, float]) -> None:
    axes.annotate(
        words,
        at,
        off,
        textcoords="offset points",
        size=8,
        weight="bold",
        color=INK,
        bbox={"boxstyle": "round,pad=0.15", "fc": PAPER, "ec": PALE_INK, "lw": 0.6},
        zorder=9,
        annotation_clip=False,
    )


def _keys(marks: tuple[Mark, ...]) -> Iterator[tuple[Artist, str]]:
    """A sample of each kind of mark, with its words and numbers."""
    from matplotlib.lines import Line2D

    yield Line2D([], [], color=OUTLINE, lw=1.6), "line as drawn"
    for kind in dict.fromkeys(mark.kind for mark in marks):
        numbers = [mark.number for mark in marks if mark.kind == kind]
        which = f"{numbers[0]}–{numbers[-1]}" if len(numbers) > 1 else f"{numbers[0]}"
        key = Line2D([], [], ls="", marker=kind.marker, ms=9, mfc="none", mec=kind.colour, mew=2.0)
        yield key, f"{kind.words}: {which}"


def _words(error: DrawingError) -> Iterator[str]:
    """What the refusal says, a clause a line."""
    for text in (error.what, error.todo):
        for clause in text.split("; "):
            yield from textwrap.wrap(capital(clause), _LETTERS, subsequent_indent="    ")
