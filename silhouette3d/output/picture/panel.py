"""One view of a part with the outline that was drawn in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import shapely

from silhouette3d.output.picture.draw import lay_picture
from silhouette3d.output.picture.face import (
    Range,
    capital,
    draw_datum,
    draw_lost,
    draw_outline_line,
    draw_stock,
    draw_tabs,
    scale_axes,
    seen_from,
)
from silhouette3d.output.picture.paper import Box, place, write_within
from silhouette3d.output.picture.scene import SOLID, Frame, Studio
from silhouette3d.place import Profile
from silhouette3d.theme import PALE_INK
from silhouette3d.view import VIEWS, View

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from silhouette3d.part import Part

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

    def shows(self, part: Part) -> Range:
        """What must be seen, in face coordinates."""
        face = shapely.box(0.0, 0.0, *part.stock.face(self.view).size)
        shown = Range.of(face, *([self.profile.area] if self.profile else []))
        return shown.grown(0.03 * max(part.stock.size))


def panels_of(part: Part) -> list[Panel]:
    """The first three profiles; where there are fewer, the main views that nothing shows yet."""
    panels = [Panel(profile.view, profile) for profile in part.profiles[:MOST_PANELS]]
    for name in _MAIN:
        if len(panels) < MOST_PANELS and not any(p.view.is_parallel(VIEWS[name]) for p in panels):
            panels.append(Panel(VIEWS[name]))
    return panels


def draw_panel(
    figure: Figure,
    studio: Studio,
    part: Part,
    panel: Panel,
    lost: Sequence[shapely.Polygon],
    box: Box,
    shown: Range,
) -> None:
    """The part in one view; over it the outline, what it loses, its tabs, and the datum.

    Parameters
    ----------
    figure : Figure
        The sheet.
    studio : Studio
        Draws the part.
    part : Part
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
    frame = Frame(panel.view, _plus(shown.low, corner), _plus(shown.high, corner))
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
