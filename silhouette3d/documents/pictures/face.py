"""Pictures laid on a sheet, and what is drawn over a face of the stock."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely
from shapely import MultiPolygon

from silhouette3d.base.units import MM_PER, Unit, figure
from silhouette3d.checks.contradictions import wider_than
from silhouette3d.documents.pictures.paper import DPI, Box, draw_area, place
from silhouette3d.documents.pictures.render import GHOST, SOLID, CameraFrame, Studio, Style
from silhouette3d.geometry.frames import VIEWS, View
from silhouette3d.geometry.removal import stock_solid
from silhouette3d.geometry.stock import Stock
from silhouette3d.job.model import TabSpec
from silhouette3d.presentation.theme import INK, LOST, OUTLINE, PALE_INK, PAPER, STOCK, TAB
from silhouette3d.process.profile import Profile

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from silhouette3d.geometry.mesh import Mesh
    from silhouette3d.model.results import Results

# --- Pictures of solids laid on a sheet, so that lines drawn over them meet them


def part_in_stock(part: Results) -> list[tuple[Mesh, Style]]:
    """Show the part, and the stock around it as a ghost."""
    return [(part.solid.mesh, SOLID), (stock_solid(part.stock).mesh, GHOST)]


def draw_solids(
    figure: Figure, studio: Studio, solids: Sequence[tuple[Mesh, Style]], view: View, box: Box
) -> Axes:
    """Draw solids on a sheet, as large as the box allows; the axes are in view coordinates."""
    points = np.concatenate([mesh.vertices for mesh, _ in solids])
    frame = CameraFrame.around(view, points, box[2] / box[3])
    axes = place(figure, box)
    lay_picture(axes, studio, solids, frame, box)
    return axes


def lay_picture(
    axes: Axes,
    studio: Studio,
    solids: Sequence[tuple[Mesh, Style]],
    frame: CameraFrame,
    box: Box,
    origin: tuple[float, float] = (0.0, 0.0),
) -> None:
    """Lay a picture under the axes, whose coordinates are the view's from `origin` on."""
    size = max(1, round(box[2])), max(1, round(box[3]))
    image = studio.picture(solids, frame, size)
    (u0, v0), (u1, v1) = np.subtract(frame.low, origin), np.subtract(frame.high, origin)
    axes.imshow(image, extent=(u0, u1, v0, v1), interpolation="antialiased", zorder=0)
    axes.set_aspect("auto")
    axes.set_xlim(u0, u1)
    axes.set_ylim(v0, v1)


# --- What is drawn on a face of the stock: the face, an outline, what it loses, its tabs, the datum
#
# Everything is in face coordinates: mm, the datum at (0, 0).


STOCK_LINE: Final = (0.0, (14.0, 2.5, 1.5, 2.5, 1.5, 2.5))
"""Long dash, two dots, narrow: type 05.1 of ISO 128-2, for the outline before forming (this from
memory)."""

_CURVE_TOLERANCE: Final = 0.02
"""mm; a curve of the tab layer is flattened this finely to be looked at."""


@dataclass(frozen=True)
class Range:
    """The least rectangle of a face that holds what a picture shows, in mm."""

    low: tuple[float, float]
    high: tuple[float, float]

    @classmethod
    def of(cls, *areas: shapely.Geometry) -> Range:
        """Span some shapes."""
        u0, v0, u1, v1 = shapely.total_bounds(np.array(areas, dtype=object))
        return cls((float(u0), float(v0)), (float(u1), float(v1)))

    @property
    def size(self) -> tuple[float, float]:
        """Width and height in mm."""
        return self.high[0] - self.low[0], self.high[1] - self.low[1]

    def grown(self, by: float) -> Range:
        """Add a margin of `by` mm all round."""
        return Range((self.low[0] - by, self.low[1] - by), (self.high[0] + by, self.high[1] + by))


def draw_stock(axes: Axes, stock: Stock, view: View) -> None:
    """Draw the stock's shadow, and the rectangle around it where that is another."""
    rectangle = shapely.box(0.0, 0.0, *stock.face(view).size)
    style = {"edgecolor": STOCK, "linewidth": 1.0, "linestyle": STOCK_LINE, "zorder": 3}
    draw_area(axes, rectangle, **style)
    shadow = stock.shadow(view)
    if rectangle.area - shadow.area > stock.tolerance * rectangle.length:
        draw_area(axes, shadow, **style)


_SAME: Final = 1e-6
"""Share by which a step may be more than a round number and still be that."""


def draw_outline_line(axes: Axes, area: MultiPolygon) -> None:
    """Draw the outline as a crisp line with a light one around it, to stand off the part."""
    from matplotlib.patheffects import Normal, Stroke

    halo = [Stroke(linewidth=3.0, foreground=PAPER, alpha=0.8), Normal()]
    draw_area(axes, area, edgecolor=OUTLINE, linewidth=1.3, path_effects=halo, zorder=6)


def lost_regions(part: Results, name: str) -> list[shapely.Polygon]:
    """Find what the part's shadow leaves empty of an outline, without slivers."""
    return wider_than(part.lost(name), part.job.checks.match)


def draw_lost(axes: Axes, regions: Sequence[shapely.Polygon]) -> None:
    """Hatch lost regions."""
    for region in regions:
        draw_area(
            axes, region, facecolor=PAPER, edgecolor=LOST, hatch="//////", linewidth=1.0, zorder=5
        )


def declared_tabs(part: Results, profile: Profile) -> tuple[TabSpec, ...]:
    """List the tabs that the job file gives a profile."""
    return dict(zip(part.job.names, part.job.profile, strict=True))[profile.name].tab


def has_tabs(part: Results, profile: Profile) -> bool:
    """Tell whether any tab is drawn or declared."""
    return bool(profile.tab_curves or declared_tabs(part, profile))


def draw_tabs(axes: Axes, part: Results, profile: Profile) -> None:
    """Draw tabs as on their layer; of those of the job file a ring and the outline in it."""
    from matplotlib.patches import Circle

    style: dict[str, Any] = {"color": TAB, "linewidth": 3.0, "solid_capstyle": "round", "zorder": 7}
    for curve in profile.tab_curves:
        points = curve.flatten(_CURVE_TOLERANCE)[0]
        axes.plot(points[:, 0], points[:, 1], **style)
    edge = shapely.boundary(profile.area)
    for tab in declared_tabs(part, profile):
        width = part.job.cutting.tab_width if tab.width is None else tab.width
        kept = shapely.intersection(edge, shapely.Point(tab.at).buffer(width / 2.0))
        for stretch in shapely.get_parts(shapely.line_merge(kept)):
            points = shapely.get_coordinates(stretch)
            axes.plot(points[:, 0], points[:, 1], **(style | {"linewidth": 6.0}))
        axes.add_patch(Circle(tab.at, width / 2.0, fill=False, ec=TAB, lw=0.9, zorder=7))


def draw_datum(axes: Axes) -> None:
    """Mark the lower left corner of the face, from which everything is measured."""
    axes.plot(0, 0, "o", ms=8, mfc=PAPER, mec=INK, mew=1.2, zorder=9, clip_on=False)
    axes.plot(0, 0, "+", ms=13, color=INK, mew=1.2, zorder=10, clip_on=False)


def scale_axes(axes: Axes, view: View, unit: Unit, shown: Range, scale: float) -> None:
    """Set limits, and ticks in the job's unit, measured from the datum.

    `scale` is in pixels per mm: with it, ticks are as far apart on all panels of a sheet.
    """
    axes.set_axis_on()
    axes.set_xlim(shown.low[0], shown.high[0])
    axes.set_ylim(shown.low[1], shown.high[1])
    step = _round_up(_TICKS_APART / scale / MM_PER[unit])
    for axis, low, high in zip((axes.xaxis, axes.yaxis), shown.low, shown.high, strict=True):
        first, last = np.ceil(low / MM_PER[unit] / step), np.floor(high / MM_PER[unit] / step)
        values = [round(k) * step for k in np.arange(first, last + 1)]
        axis.set_ticks([v * MM_PER[unit] for v in values], [f"{v:g}" for v in values])
    axes.tick_params(length=3, width=0.6, color=PALE_INK, labelcolor=PALE_INK, labelsize=6.5, pad=2)
    for side in axes.spines.values():
        side.set_visible(False)
    across, upward = axis_names(view)
    axes.set_xlabel(f"{across} ({unit})", size=6.5, color=PALE_INK, labelpad=2)
    axes.set_ylabel(f"{upward} ({unit})", size=6.5, color=PALE_INK, labelpad=2)


_TICKS_APART: Final = 70.0
"""Pixels between two ticks, at least."""


def _round_up(step: float) -> float:
    """Find the next number of the series 1, 2, 5, 10, 20 and so on."""
    power = 10.0 ** math.floor(math.log10(step))
    return next(k * power for k in (1.0, 2.0, 5.0, 10.0) if k * power >= step * (1.0 - _SAME))


def axis_names(view: View) -> tuple[str, str]:
    """Name what runs right and up on a face: axes of the block, where both do, else u and v."""
    if not view.is_square:
        return "u", "v"
    names = []
    for direction in view.axes[:2]:
        i = int(np.argmax(np.abs(direction)))
        names.append(("−" if direction[i] < 0 else "") + "xyz"[i])
    return names[0], names[1]


def seen_from(view: View, name: str) -> str:
    """Tell from where a profile is seen, where its name does not say so."""
    if name in (view.name, view.plain_name):
        return ""
    if view.name.partition(",")[0] in VIEWS:
        return f"seen from the {view.name}"
    return "looking along (" + ", ".join(figure(value + 0.0, 3) for value in view.look) + ")"


def view_title(view: View, name: str) -> str:
    """Name a profile, and from where it is seen where that is not told by it."""
    return ", ".join(filter(None, [capital(name), seen_from(view, name)]))


def capital(name: str) -> str:
    """Begin with a capital letter, the others as they are."""
    return name[:1].upper() + name[1:]


def legend_keys(*, lost: bool, tabs: bool) -> list[tuple[Artist, str]]:
    """List samples of the lines and hatches that occur, each with its words."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    keys: list[tuple[Artist, str]] = [
        (Line2D([], [], color=OUTLINE, lw=1.6), "outline as drawn"),
        (Line2D([], [], color=STOCK, lw=1.0, ls=STOCK_LINE), "face of the stock"),
        (
            Line2D([], [], color=INK, marker="+", ms=9, mew=1.2, ls=""),
            "datum of the setup",
        ),
    ]
    if tabs:
        keys.append((Line2D([], [], color=TAB, lw=3.0), "tab"))
    if lost:
        hatched = Patch(facecolor=PAPER, edgecolor=LOST, hatch="//////")
        keys.append((hatched, "lost: not filled by the part"))
    return keys


def legend(figure: Figure, keys: Sequence[tuple[Artist, str]], at: tuple[float, float]) -> None:
    """Draw the keys in one row, its middle at `at` in pixels."""
    width, height = figure.get_size_inches() * DPI
    figure.legend(
        [artist for artist, _ in keys],
        [words for _, words in keys],
        loc="center",
        bbox_to_anchor=(at[0] / width, at[1] / height),
        ncols=len(keys),
        frameon=False,
        fontsize=7.5,
        handlelength=3.4,
        columnspacing=1.8,
    )
