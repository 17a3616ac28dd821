"""Sheets of paper: matplotlib without its window system, measured in pixels from the lower left."""

from __future__ import annotations

import os
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import PurePath
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely

from silhouette3d.base.files import atomic_write
from silhouette3d.errors import OutputError
from silhouette3d.geometry.frames import View
from silhouette3d.geometry.polygons import parts_of
from silhouette3d.presentation.theme import AXES, INK, PAPER, RULE

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.path import Path

FORMATS: Final = {".png": "png", ".jpg": "jpeg", ".jpeg": "jpeg"}
DPI: Final = 150
"""Pixels per inch of paper: a point of type is 150 / 72 pixels high."""

Box = tuple[float, float, float, float]
"""Left, bottom, width and height in pixels."""

_SETTINGS: Final = {
    "font.family": "DejaVu Sans",  # comes with matplotlib
    "text.usetex": False,
    "text.parse_math": False,  # a $ in a name is a $
    "text.color": INK,
    "hatch.linewidth": 1.0,
}


@contextmanager
def paper(path: str | os.PathLike[str], size: tuple[int, int]) -> Iterator[Figure]:
    """Open a sheet to draw on; write it whole when the block ends well.

    Parameters
    ----------
    path : str or path-like
        Ends in one of `FORMATS`.
    size : tuple of int
        Width and height in pixels.

    Yields
    ------
    matplotlib.figure.Figure
        In white, with nothing on it.

    Raises
    ------
    OutputError
        If the suffix is not known or the file cannot be written.
    """
    kind = _format(path)
    import matplotlib as mpl
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    with warnings.catch_warnings(), mpl.rc_context(dict[Any, Any](_SETTINGS)):
        # a name in a script the font lacks shows as boxes
        warnings.filterwarnings("ignore", "Glyph .* missing from")
        figure = Figure((size[0] / DPI, size[1] / DPI), dpi=DPI, facecolor=PAPER)
        FigureCanvasAgg(figure)
        yield figure
        with atomic_write(path) as draft:
            figure.savefig(draft, format=kind, dpi=DPI)


def _format(path: str | os.PathLike[str]) -> str:
    suffix = PurePath(path).suffix
    try:
        return FORMATS[suffix.lower()]
    except KeyError:
        raise OutputError(
            f"pictures of kind {suffix or 'without a suffix'!r} are not written",
            where=os.fspath(path),
            todo="end the file's name in .png or .jpg",
        ) from None


def place(figure: Figure, box: Box) -> Axes:
    """Place an empty part of the sheet with axes of its own, without frame and ticks."""
    width, height = figure.get_size_inches() * DPI
    left, bottom, wide, high = box
    axes = figure.add_axes((left / width, bottom / height, wide / width, high / height))
    axes.set_axis_off()
    return axes


def write(figure: Figure, at: tuple[float, float], text: str, size: float, **more: Any) -> float:
    """Write words on the sheet (`at` in pixels, `size` in points); return their width."""
    width, height = figure.get_size_inches() * DPI
    options: dict[str, Any] = {"va": "baseline", **more}
    words = figure.text(at[0] / width, at[1] / height, text, size=size, **options)
    return float(words.get_window_extent().width)


def write_within(
    figure: Figure, at: tuple[float, float], text: str, size: float, width: float, **more: Any
) -> None:
    """Write words on one line, cut short with an ellipsis where wider than `width`."""
    while True:
        wide = write(figure, at, text, size, **more)
        if wide <= width or len(text) < 2:
            return
        figure.texts[-1].remove()
        kept = min(len(text) - 2, int(len(text) * width / wide))
        text = text[: max(kept, 0)].rstrip(" …") + "…"


def rule(figure: Figure, left: float, right: float, height: float) -> None:
    """Draw a thin line across the sheet, in pixels."""
    from matplotlib.lines import Line2D

    wide, high = figure.get_size_inches() * DPI
    ends = [left / wide, right / wide], [height / high, height / high]
    figure.add_artist(Line2D(*ends, color=RULE, linewidth=0.8, transform=figure.transFigure))


def path_of(area: shapely.Geometry) -> Path:
    """Make one path of polygons, holes left open."""
    from matplotlib.path import Path

    polygons = [shapely.orient_polygons(p) for p in parts_of(area)]
    rings = [ring for p in polygons for ring in (p.exterior, *p.interiors)]
    if not rings:
        return Path(np.empty((0, 2)))
    return Path.make_compound_path(*(Path(shapely.get_coordinates(r), closed=True) for r in rings))


def draw_area(axes: Axes, area: shapely.Geometry, **style: Any) -> None:
    """Draw polygons with their holes, in the coordinates of the axes."""
    from matplotlib.patches import PathPatch

    axes.add_patch(PathPatch(path_of(area), **{"facecolor": "none", "edgecolor": "none", **style}))


def triad(figure: Figure, view: View, at: tuple[float, float], reach: float = 60.0) -> None:
    """Draw the block's axes as the view shows them; one along the sight is a point or cross.

    Parameters
    ----------
    figure : Figure
        The sheet.
    view : View
        From where.
    at : tuple of float
        Where the axes meet, in pixels.
    reach : float
        Length of an axis square to the sight, in pixels.
    """
    side = 1.7 * reach
    axes = place(figure, (at[0] - side, at[1] - side, 2 * side, 2 * side))
    axes.set_xlim(-side, side)
    axes.set_ylim(-side, side)
    axes.set_zorder(5)
    for i, (name, colour) in enumerate(AXES.items()):
        u, v, towards = view.axes[:, i]
        if np.hypot(u, v) < _END_ON:
            _end_on(axes, name, colour, towards > 0)
            continue
        axes.annotate(
            "",
            (reach * u, reach * v),
            (0.0, 0.0),
            arrowprops={
                "arrowstyle": "-|>,head_length=0.5,head_width=0.22",
                "color": colour,
                "linewidth": 1.8,
                "shrinkA": 0,
                "shrinkB": 0,
            },
        )
        out = reach + 17.0 / np.hypot(u, v)
        axes.text(
            u * out, v * out, name, color=colour, size=9, weight="bold", ha="center", va="center"
        )


_END_ON: Final = 0.05
"""Share of its length below which an axis is drawn end on."""


def _end_on(axes: Axes, name: str, colour: str, towards: bool) -> None:
    axes.plot(0, 0, "o", markersize=9, markerfacecolor=PAPER, markeredgecolor=colour, zorder=4)
    axes.plot(0, 0, "." if towards else "x", markersize=5, color=colour, zorder=5)
    axes.text(-16, -16, name, color=colour, size=9, weight="bold", ha="center", va="center")
