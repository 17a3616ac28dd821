"""A picture of one outline as it was read and placed, with what the reader did to it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from silhouette3d.drawing.curve import Point
from silhouette3d.drawing.outline import Outline
from silhouette3d.drawing.survey import Survey
from silhouette3d.errors import DrawingError, PictureError
from silhouette3d.output.picture.face import (
    Range,
    draw_datum,
    draw_stock,
    draw_tabs,
    has_tabs,
    legend,
    legend_keys,
    scale_axes,
    view_title,
)
from silhouette3d.output.picture.paper import draw_area, paper, place, rule, write_within
from silhouette3d.output.survey_picture import draw_survey
from silhouette3d.place import Profile
from silhouette3d.quantity import area_text, size_text
from silhouette3d.theme import GAP, INK, LOST, OUTLINE, PALE_INK, PAPER, PART
from silhouette3d.units import Unit, length_text

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

    from silhouette3d.job import ProfileSpec
    from silhouette3d.part import Part

WIDTH: Final = 1500
_HEIGHTS: Final = (120.0, 1050.0)
"""Pixels: of the sheet, and the least and greatest height of the drawing on it."""

_SIDE: Final = 44
_HEAD: Final = 130
_AROUND: Final = (90, 110, 72, 80)
"""Pixels left, right, below and above the drawing, for ticks and dimensions."""

MOST_VERTICES: Final = 200
MOST_GAPS: Final = 12
_MOST_NOTES: Final = 8
_DRAWN_STOCK: Final = (0.0, (2.0, 2.0))


def draw_outline(part: Part, name: str, path: str | os.PathLike[str]) -> None:
    """Write a picture of one outline on the face of the stock; or of why there is none.

    Parameters
    ----------
    part : Part
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
    notes = list(_notes(profile, part.job.units))
    shown = _shown(profile, spec, part.job.checks.match)
    left, right, below, above = _AROUND
    widest = WIDTH - 2 * _SIDE - left - right
    scale = min(widest / shown.size[0], _HEIGHTS[1] / shown.size[1])
    wide, high = shown.size[0] * scale, shown.size[1] * scale
    foot = 92 + 26 * len(notes)
    height = round(foot + below + max(high, _HEIGHTS[0]) + above + _HEAD)
    box = ((WIDTH - wide) / 2.0, height - _HEAD - above - high, wide, high)
    with paper(path, (WIDTH, height)) as figure:
        title = view_title(profile.view, name)
        room = WIDTH - 2.0 * _SIDE
        write_within(figure, (_SIDE, height - 58), title, 16, room, weight="bold")
        write_within(figure, (_SIDE, height - 94), drawn, 9, room, color=PALE_INK)
        axes = place(figure, box)
        _draw(axes, part, profile, spec)
        scale_axes(axes, profile.view, part.job.units, shown, scale)
        _dimension(axes, Range.of(profile.area), shown, scale, part.job.units)
        keys = [
            *legend_keys(lost=False, tabs=has_tabs(part, profile)),
            *_keys(profile, spec, part.job.checks.match),
        ]
        legend(figure, keys, (WIDTH / 2.0, foot - 34.0))
        rule(figure, _SIDE, WIDTH - _SIDE, foot - 66)
        for i, note in enumerate(notes):
            at = (_SIDE, foot - 98 - 26 * i)
            write_within(figure, at, note, 8, room)


def _chosen(part: Part, name: str) -> ProfileSpec:
    names = part.job.names
    if name not in names:
        raise PictureError(
            f"there is no profile called {name!r}", todo="take one of: " + ", ".join(names)
        )
    return part.job.profile[names.index(name)]


def _shown(profile: Profile, spec: ProfileSpec, match: float) -> Range:
    face = shapely.box(0.0, 0.0, *profile.face.size)
    drawn = _stock_as_drawn(profile, spec, match)
    shown = Range.of(face, profile.area, *([drawn] if drawn else []))
    return shown.grown(0.03 * max(shown.size))


def _stock_as_drawn(profile: Profile, spec: ProfileSpec, match: float) -> shapely.Polygon | None:
    """The stock rectangle of the drawing, where it is not the face and its place is known."""
    if profile.stock_drawn is None or spec.datum is not None:
        return None
    (u, v), (w, h) = spec.shift, profile.stock_drawn
    off = np.abs([u, v, u + w - profile.face.size[0], v + h - profile.face.size[1]])
    return shapely.box(u, v, u + w, v + h) if off.max() > match else None


def _draw(axes: Axes, part: Part, profile: Profile, spec: ProfileSpec) -> None:
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
    """Where loops overlap and nobody has declared what they make, or nearly coincide."""
    overlaps = outline.overlaps
    pairs = overlaps.pairs if overlaps is not None and overlaps.declared is None else ()
    return [pair.at for pair in pairs] + [double.at for double in outline.doubles]


def vertices(outline: Outline) -> list[Point]:
    """Where one piece of the drawing ends and the next begins."""
    return [piece.start for loop in outline.loops for piece in loop.pieces]


def _dimension(axes: Axes, extent: Range, shown: Range, scale: float, unit: Unit) -> None:
    """Width and height of the outline, dimensioned in the manner of ISO 129-1."""
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


def _keys(profile: Profile, spec: ProfileSpec, match: float) -> Iterator[tuple[Artist, str]]:
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
    """What there is to say about the outline, a sentence a line."""
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
