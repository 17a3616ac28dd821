"""Pictures of solids laid on a sheet, so that lines drawn over them meet them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from silhouette3d.output.picture.paper import Box, place
from silhouette3d.output.picture.scene import GHOST, SOLID, Frame, Studio, Style
from silhouette3d.solid import stock_solid
from silhouette3d.view import View

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from silhouette3d.part import Part
    from silhouette3d.solid import Mesh


def part_in_stock(part: Part) -> list[tuple[Mesh, Style]]:
    """The part, and the stock around it as a ghost."""
    return [(part.solid.mesh, SOLID), (stock_solid(part.stock).mesh, GHOST)]


def draw_solids(
    figure: Figure, studio: Studio, solids: Sequence[tuple[Mesh, Style]], view: View, box: Box
) -> Axes:
    """Solids on a sheet, as large as the box allows; the axes are in view coordinates, mm."""
    points = np.concatenate([mesh.vertices for mesh, _ in solids])
    frame = Frame.around(view, points, box[2] / box[3])
    axes = place(figure, box)
    lay_picture(axes, studio, solids, frame, box)
    return axes


def lay_picture(
    axes: Axes,
    studio: Studio,
    solids: Sequence[tuple[Mesh, Style]],
    frame: Frame,
    box: Box,
    origin: tuple[float, float] = (0.0, 0.0),
) -> None:
    """A picture under the axes, whose coordinates are those of the view from `origin` on."""
    size = max(1, round(box[2])), max(1, round(box[3]))
    image = studio.picture(solids, frame, size)
    (u0, v0), (u1, v1) = np.subtract(frame.low, origin), np.subtract(frame.high, origin)
    axes.imshow(image, extent=(u0, u1, v0, v1), interpolation="antialiased", zorder=0)
    axes.set_aspect("auto")
    axes.set_xlim(u0, u1)
    axes.set_ylim(v0, v1)
