"""Pictures of one outline as it was read and placed, and of a drawing that gives none."""

from __future__ import annotations

import os
import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely

from silhouette3d.base.quantities import area_text, size_text
from silhouette3d.base.units import Unit, length_text
from silhouette3d.documents.pictures.face import (
    Range,
    capital,
    draw_datum,
    draw_stock,
    draw_tabs,
    has_tabs,
    legend,
    legend_keys,
    scale_axes,
    view_title,
)
from silhouette3d.documents.pictures.paper import Box, draw_area, paper, place, rule, write_within
from silhouette3d.drawing.model import Point
from silhouette3d.drawing.outline.outline import Outline
from silhouette3d.drawing.outline.survey import EndKind, Survey
from silhouette3d.errors import DrawingError, PictureError
from silhouette3d.geometry.frames import VIEWS
from silhouette3d.presentation.theme import (
    BLUE,
    GAP,
    GREEN,
    INK,
    LOST,
    ORANGE,
    OUTLINE,
    PALE_INK,
    PAPER,
    PART,
    VERMILION,
)
from silhouette3d.process.profile import Profile

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from silhouette3d.job.model import ProfileSpec
    from silhouette3d.model.results import Results

# --- The sheet of both: a head, the drawing, what its marks mean, lines of words


WIDTH: Final = 1500
_SIDE: Final = 44
_HEAD: Final = 130
_KEYS: Final = 66
"""Pixels: of the sheet, beside words, above the drawing, and for the keys below it."""


@dataclass(frozen=True)
class _Layout:
    """Layout of the sheet, in pixels.

    Parameters
    ----------
    shown : Range
        What of the face or drawing is shown, in mm.
    around : tuple of int
        Left, right, below and above the drawing, for ticks and dimensions.
    heights : tuple of float
        The least and the greatest of the drawing.
    words : tuple of str
        A line each, below everything.
    line : int
        From one of them to the next.
    """

    shown: Range
    around: tuple[int, int, int, int]
    heights: tuple[float, float]
    words: tuple[str, ...]
    line: int

    @property
    def scale(self) -> float:
        """Pixels for each mm."""
        left, right, _, _ = self.around
        widest = WIDTH - 2 * _SIDE - left - right
        return min(widest / self.shown.size[0], self.heights[1] / self.shown.size[1])

    @property
    def foot(self) -> int:
        """Height of keys and words."""
        return _KEYS + 30 + self.line * len(self.words)

    @property
    def height(self) -> int:
        """Height of the sheet."""
        _, _, below, above = self.around
        high = max(self.shown.size[1] * self.scale, self.heights[0])
        return round(self.foot + below + high + above + _HEAD)

    @property
    def box(self) -> Box:
        """The drawing's own place."""
        wide, high = (side * self.scale for side in self.shown.size)
        return ((WIDTH - wide) / 2.0, self.height - _HEAD - self.around[3] - high, wide, high)


@contextmanager
def _sheet(
    path: str | os.PathLike[str], layout: _Layout, title: str, drawn: str
) -> Iterator[tuple[Figure, Axes]]:
    """Begin a sheet with its head and an empty drawing, and end it with its words."""
    room = WIDTH - 2.0 * _SIDE
    with paper(path, (WIDTH, layout.height)) as figure:
        write_within(figure, (_SIDE, layout.height - 58), title, 16, room, weight="bold")
        write_within(figure, (_SIDE, layout.height - 94), drawn, 9, room, color=PALE_INK)
        yield figure, place(figure, layout.box)
        rule(figure, _SIDE, WIDTH - _SIDE, layout.foot - _KEYS)
        for i, line in enumerate(layout.words):
            at = (_SIDE, layout.foot - _KEYS - 32 - layout.line * i)
            write_within(figure, at, line, 8, room)


# --- A picture of a drawing that gives no outline: every line, and where lines do not go on


_HEIGHTS: Final = (160.0, 1000.0)
_AROUND: Final = (90, 60, 72, 30)
_LINE: Final = 24

_LETTERS: Final = 150
"""Of a line of words."""

MOST_NUMBERED: Final = 60
"""Marks that have a number; of more the rest are drawn without."""

_MOST_WORDS: Final = 24
"""Lines of words below the picture."""


@dataclass(frozen=True)
class _Kind:
    """Look and name of marks of one kind."""

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
class SurveyMark:
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


def marks_of(survey: Survey) -> tuple[SurveyMark, ...]:
    """Number all there is to look at, kind by kind."""
    found = [
        (end.at, look)
        for kind, look in _ENDS.items()
        for end in survey.open_ends
        if end.kind == kind
    ]
    found += [(meeting.at, _MEETING) for meeting in survey.meetings]
    found += [(survey.crossing, _CROSSING)] if survey.crossing is not None else []
    return tuple(SurveyMark(n, at, kind) for n, (at, kind) in enumerate(found, start=1))


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
    words = tuple(_words(error))[:_MOST_WORDS]
    layout = _Layout(_shown(survey), _AROUND, _HEIGHTS, words, _LINE)
    with _sheet(path, layout, f"{capital(title)}: no outline", drawn) as (figure, axes):
        _draw(axes, survey, marks, unit)
        scale_axes(axes, _FLAT, unit, layout.shown, layout.scale)
        axes.set_xlabel(f"u ({unit})")  # the drawing is not placed on any face
        axes.set_ylabel(f"v ({unit})")
        legend(figure, list(_keys(marks)), (WIDTH / 2.0, layout.foot - 34.0))


def _shown(survey: Survey) -> Range:
    points = np.concatenate(survey.lines)
    low, high = points.min(axis=0), points.max(axis=0)
    size = float(np.max(high - low)) or 1.0
    # a drawing of one straight line is given some height
    spare = np.maximum(0.1 * size - (high - low), 0.0) / 2.0 + 0.06 * size
    (u0, v0), (u1, v1) = (low - spare).tolist(), (high + spare).tolist()
    return Range((u0, v0), (u1, v1))


def _draw(axes: Axes, survey: Survey, marks: tuple[SurveyMark, ...], unit: Unit) -> None:
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


def _draw_mark(axes: Axes, mark: SurveyMark) -> None:
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


def _keys(marks: tuple[SurveyMark, ...]) -> Iterator[tuple[Artist, str]]:
    """Yield a sample of each kind of mark, with its words and numbers."""
    from matplotlib.lines import Line2D

    yield Line2D([], [], color=OUTLINE, lw=1.6), "line as drawn"
    for kind in dict.fromkeys(mark.kind for mark in marks):
        numbers = [mark.number for mark in marks if mark.kind == kind]
        which = f"{numbers[0]}–{numbers[-1]}" if len(numbers) > 1 else f"{numbers[0]}"
        key = Line2D([], [], ls="", marker=kind.marker, ms=9, mfc="none", mec=kind.colour, mew=2.0)
        yield key, f"{kind.words}: {which}"


def _words(error: DrawingError) -> Iterator[str]:
    """Yield what the refusal says, a clause a line."""
    for text in (error.what, error.todo):
        for clause in text.split("; "):
            yield from textwrap.wrap(capital(clause), _LETTERS, subsequent_indent="    ")


# --- A picture of one outline as it was read and placed, with what the reader did to it


_PICTURE_HEIGHTS: Final = (120.0, 1050.0)
_PICTURE_MARGINS: Final = (90, 110, 72, 80)
_PICTURE_LINE: Final = 26

MOST_VERTICES: Final = 200
MOST_GAPS: Final = 12
_MOST_NOTES: Final = 8
_DRAWN_STOCK: Final = (0.0, (2.0, 2.0))


def draw_outline(part: Results, name: str, path: str | os.PathLike[str]) -> None:
    """Write a picture of one outline on the face of the stock; or of why there is none.

    Parameters
    ----------
    part : Results
        Whose job it is; its solid is not needed.
    name : str
        The profile.
    path : str or path-like
        A ``.png`` or ``.jpg`` file.

    Raises
    ------
    PictureError
        If there is no such profile.
    DrawingError
        If its drawing gives no outline. Where that is because lines do not close the picture
        is written all the same: every line, with what is open marked and numbered.
    OutputError
        If the file cannot be written.
    """
    spec = _chosen(part, name)
    drawn = f"{part.name}: {spec.drawing}"
    drawn += f", layer {', '.join(spec.layers)}" if spec.layers else ""
    try:
        profile = part.profile(name)
    except DrawingError as error:
        if isinstance(error.about, Survey):
            draw_survey(error, name, drawn, part.job.units, path)
        raise
    layout = _Layout(
        _shown_of_profile(profile, spec, part.job.checks.match),
        _PICTURE_MARGINS,
        _PICTURE_HEIGHTS,
        tuple(_notes(profile, part.job.units)),
        _PICTURE_LINE,
    )
    title = view_title(profile.view, name)
    with _sheet(path, layout, title, drawn) as (figure, axes):
        shown, scale = layout.shown, layout.scale
        _draw_profile(axes, part, profile, spec)
        scale_axes(axes, profile.view, part.job.units, shown, scale)
        _dimension(axes, Range.of(profile.area), shown, scale, part.job.units)
        keys = [
            *legend_keys(lost=False, tabs=has_tabs(part, profile)),
            *_profile_keys(profile, spec, part.job.checks.match),
        ]
        legend(figure, keys, (WIDTH / 2.0, layout.foot - 34.0))


def _chosen(part: Results, name: str) -> ProfileSpec:
    names = part.job.names
    if name not in names:
        raise PictureError(
            f"there is no profile called {name!r}", todo="take one of: " + ", ".join(names)
        )
    return part.job.profile[names.index(name)]


def _shown_of_profile(profile: Profile, spec: ProfileSpec, match: float) -> Range:
    face = shapely.box(0.0, 0.0, *profile.face.size)
    drawn = _stock_as_drawn(profile, spec, match)
    shown = Range.of(face, profile.area, *([drawn] if drawn else []))
    return shown.grown(0.03 * max(shown.size))


def _stock_as_drawn(profile: Profile, spec: ProfileSpec, match: float) -> shapely.Polygon | None:
    """Find the drawing's stock rectangle, if it is not the face and its place is known."""
    if profile.stock_drawn is None or spec.datum is not None:
        return None
    (u, v), (w, h) = spec.shift, profile.stock_drawn
    off = np.abs([u, v, u + w - profile.face.size[0], v + h - profile.face.size[1]])
    return shapely.box(u, v, u + w, v + h) if off.max() > match else None


def _draw_profile(axes: Axes, part: Results, profile: Profile, spec: ProfileSpec) -> None:
    draw_area(axes, profile.area, facecolor=PART, edgecolor=OUTLINE, linewidth=1.5, zorder=2)
    draw_stock(axes, part.stock, profile.view)
    drawn = _stock_as_drawn(profile, spec, part.job.checks.match)
    if drawn is not None:
        draw_area(axes, drawn, edgecolor=LOST, linewidth=1.4, linestyle=_DRAWN_STOCK, zorder=3)
    points = vertices(profile.outline)
    if len(points) <= MOST_VERTICES:
        u, v = np.array(points).T
        axes.plot(u, v, "o", ms=3.2, mfc=PAPER, mec=OUTLINE, mew=0.9, ls="", zorder=6)
    draw_tabs(axes, part, profile)
    draw_datum(axes)
    for at in _doubtful(profile.outline):
        axes.plot(*at, "D", ms=12, mfc="none", mec=LOST, mew=2.0, zorder=8)
    widest = sorted(profile.outline.gaps, key=lambda gap: -gap.width)
    for i, gap in enumerate(widest):
        u, v = np.mean([gap.start, gap.end], axis=0)
        axes.plot(u, v, "o", ms=15, mfc="none", mec=GAP, mew=2.0, zorder=8)
        if i < MOST_GAPS:
            axes.annotate(
                f"gap {length_text(gap.width, part.job.units)}",
                (u, v),
                (13, 13),
                textcoords="offset points",
                size=8,
                weight="bold",
                bbox={"boxstyle": "round,pad=0.2", "fc": PAPER, "ec": GAP, "lw": 1.0},
                zorder=9,
            )


def _doubtful(outline: Outline) -> list[Point]:
    """Find where loops overlap undeclared, or nearly coincide."""
    overlaps = outline.overlaps
    pairs = overlaps.pairs if overlaps is not None and overlaps.declared is None else ()
    return [pair.at for pair in pairs] + [double.at for double in outline.doubles]


def vertices(outline: Outline) -> list[Point]:
    """List where one piece of the drawing ends and the next begins."""
    return [piece.start for loop in outline.loops for piece in loop.pieces]


def _dimension(axes: Axes, extent: Range, shown: Range, scale: float, unit: Unit) -> None:
    """Draw width and height of the outline, dimensioned in the manner of ISO 129-1."""
    out, past = 34.0 / scale, 8.0 / scale
    (u0, v0), (u1, v1) = extent.low, extent.high
    u, v = shown.high[0] + out, shown.high[1] + out
    for ends, feet in (
        (((u0, v), (u1, v)), ((u0, v1), (u1, v1))),
        (((u, v0), (u, v1)), ((u1, v0), (u1, v1))),
    ):
        axes.annotate(
            "",
            *ends,
            arrowprops={
                "arrowstyle": "<|-|>,head_length=0.6,head_width=0.15",
                "color": INK,
                "linewidth": 0.8,
                "shrinkA": 0,
                "shrinkB": 0,
            },
            annotation_clip=False,
        )
        for end, foot in zip(ends, feet, strict=True):
            across = np.sign(np.subtract(end, foot)) * past
            line = np.array([np.add(foot, across), np.add(end, across)])
            axes.plot(line[:, 0], line[:, 1], color=INK, lw=0.5, alpha=0.6, clip_on=False, zorder=4)
    width, height = (length_text(mm, unit) for mm in extent.size)
    axes.text((u0 + u1) / 2.0, v + past / 2.0, width, size=9.5, ha="center", va="bottom")
    if (v1 - v0) * scale > _UPRIGHT:
        axes.text(
            u - past / 2.0, (v0 + v1) / 2.0, height, size=9.5, ha="right", va="center", rotation=90
        )
    else:
        axes.text(u + past, (v0 + v1) / 2.0, height, size=9.5, ha="left", va="center")


_UPRIGHT: Final = 110.0
"""Pixels: between dimension lines nearer than this there is no room for words."""


def _profile_keys(
    profile: Profile, spec: ProfileSpec, match: float
) -> Iterator[tuple[Artist, str]]:
    from matplotlib.lines import Line2D

    if len(vertices(profile.outline)) <= MOST_VERTICES:
        dot = Line2D([], [], ls="", marker="o", ms=3.2, mfc=PAPER, mec=OUTLINE, mew=0.9)
        yield dot, "end of a piece"
    if _stock_as_drawn(profile, spec, match) is not None:
        yield Line2D([], [], color=LOST, lw=1.4, ls=_DRAWN_STOCK), "stock as drawn"
    if _doubtful(profile.outline):
        key = Line2D([], [], ls="", marker="D", ms=8, mfc="none", mec=LOST, mew=2.0)
        yield key, "loops overlap or nearly coincide"
    if profile.outline.gaps:
        yield Line2D([], [], ls="", marker="o", ms=10, mfc="none", mec=GAP, mew=2.0), "gap joined"


def _notes(profile: Profile, unit: Unit) -> Iterator[str]:
    """Yield what there is to say about the outline, a sentence a line."""
    area, loops = profile.area, profile.outline.loops
    holes = sum(len(p.interiors) for p in area.geoms)
    pieces = _count(len(vertices(profile.outline)), "line or curve", "lines and curves")
    yield (
        f"{_count(len(area.geoms), 'piece')} with {_count(holes, 'hole')}, "
        f"{area_text(area.area, unit, 5)}; "
        f"{_count(len(loops), 'loop')} of {pieces} as drawn"
    )
    if profile.stock_drawn is not None:
        yield f"the stock is drawn as {size_text(profile.stock_drawn, unit)}"
    notes = profile.outline.notes
    yield from notes[:_MOST_NOTES]
    if len(notes) > _MOST_NOTES:
        yield f"and {len(notes) - _MOST_NOTES} more notes"


def _count(number: int, one: str, more: str = "") -> str:
    return f"{number or 'no'} {one if number == 1 else more or one + 's'}"
