"""The block cut by cut: raw, after every cut, and the part, side by side."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from silhouette3d.base.quantities import mass_text, size_text
from silhouette3d.base.units import MM3_PER_CM3
from silhouette3d.documents.pictures.face import lay_picture
from silhouette3d.documents.pictures.paper import Box, paper, place, rule, write, write_within
from silhouette3d.documents.pictures.render import CameraFrame, Studio, Style
from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.mesh import Mesh
from silhouette3d.geometry.removal import stock_solid
from silhouette3d.geometry.solid import Solid
from silhouette3d.presentation.theme import HELD, INK, ISO, LOOSE, PALE_INK, PAPER, PART

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from silhouette3d.model.results import Results
    from silhouette3d.process.stages import Body, Stage

PANEL: Final = (620, 620)
HEAD: Final = 120
FOOT: Final = 110
ACROSS: Final = 5
"""Panels in a row at the most; pixels for the rest."""

MARKS: Final = {"part": "D", "held": "s", "loose": "o"}
"""Matplotlib's names of a diamond, a square and a disc."""

COLOURS: Final = {"part": PART, "held": HELD, "loose": LOOSE}
WORDS: Final = {"part": "part", "held": "held offcut", "loose": "loose offcut"}

NAMED: Final = 6
"""Loose bodies of a panel whose mass is written; the smaller ones have their mark only."""


@dataclass(frozen=True, eq=False)
class StageShown:
    """One body in a panel: where it is drawn, how, and what is written on it."""

    mesh: Mesh
    standing: str
    text: str = ""

    @property
    def middle(self) -> Array:
        """(3,) of its bounding box as drawn, in mm."""
        return np.asarray(self.mesh.vertices.min(axis=0) + self.mesh.vertices.max(axis=0)) / 2.0


@dataclass(frozen=True, eq=False)
class StagePanel:
    """One step: a title, bodies, and a line under them."""

    title: str
    bodies: tuple[StageShown, ...]
    line: str


def draw_stages(part: Results, path: str | os.PathLike[str], explode: float = 0.0) -> None:
    """Write a picture of the stock, the block after every cut, and the part.

    Parameters
    ----------
    part : Results
        What to draw.
    path : str or path-like
        A ``.png`` or ``.jpg`` file.
    explode : float
        How far bodies are moved apart, as a share of their distance from the
        middle; bodies inside others slide out along the view.

    Raises
    ------
    PictureError
        If this machine cannot draw.
    OutputError
        If the file cannot be written.
    """
    panels = panels_of(part, explode)
    across = min(ACROSS, len(panels))
    down = math.ceil(len(panels) / across)
    across = math.ceil(len(panels) / down)
    size = across * PANEL[0], HEAD + FOOT + down * PANEL[1]
    with paper(path, size) as figure, Studio() as studio:
        write_within(figure, (40, size[1] - 62), part.name, 16, size[0] - 80, weight="bold")
        order = "Cut by cut: " + ", ".join(part.job.order)
        write_within(figure, (40, size[1] - 98), order, 9, size[0] - 80, color=PALE_INK)
        for k, panel in enumerate(panels):
            row, column = divmod(k, across)
            bottom = FOOT + (down - 1 - row) * PANEL[1]
            draw_panel(figure, studio, panel, (column * PANEL[0], bottom, *PANEL))
        _legend(figure, size[0])


def panels_of(part: Results, explode: float) -> list[StagePanel]:
    """Make the panels of the picture, step by step."""
    stock = StageShown(stock_solid(part.stock).mesh, "held")
    raw = StagePanel("Block", (stock,), mass_text(part.stock_mass, part.job.units))
    cuts = [
        _after(part, stage, number, explode) for number, stage in enumerate(part.stages, start=1)
    ]
    finished = tuple(StageShown(body.mesh, "part") for body in part.solid.bodies)
    unit = part.job.units
    facts = f"{size_text(part.solid.size, unit)}, {mass_text(part.mass, unit)}"
    return [raw, *cuts, StagePanel("Part", finished, facts)]


def _after(part: Results, stage: Stage, number: int, explode: float) -> StagePanel:
    moves = moved_apart(stage, np.asarray(part.stock.size) / 2.0, explode)
    named = [body for body in stage.bodies if body.status == "loose"][:NAMED]
    shown = tuple(
        StageShown(
            Mesh(body.solid.mesh.vertices + move, body.solid.mesh.triangles),
            body.status,
            mass_text(_mass(body, part.density), part.job.units) if body in named else "",
        )
        for body, move in zip(stage.bodies, moves, strict=True)
    )
    held = "held" if stage.part_is_held else "loose too early"
    if number == len(part.stages):
        held = "free" if part.comes_free else "still joined to waste"
    loose = len(stage.loose)
    line = f"the part is {held}; {loose or 'no'} loose piece{'s' * (loose != 1)}"
    return StagePanel(f"{number}  {stage.cut.name}", shown, line)


def _mass(body: Body, density: float) -> float:
    return body.solid.volume * density / MM3_PER_CM3


def moved_apart(stage: Stage, middle: Array, explode: float) -> list[Array]:
    """Work out how far each body of a stage is moved, (3,) in mm.

    Outwards from the middle of the stock. A body that lies inside the bounds of
    a larger one slides out of it towards the eye of the setup, as it would on
    the table, and offcuts among them stand well off the part.
    """
    slide = -np.asarray(stage.cut.profile.view.look) * stage.cut.profile.face.thickness
    part = stage.part.solid.bounds.mean(axis=0)
    moves = []
    for i, body in enumerate(stage.bodies):
        here = body.solid.bounds.mean(axis=0)
        move = here - middle
        if any(_inside(body.solid, other.solid) for other in stage.bodies[:i]):
            move = _OFF * (here - part) + _OUT * slide
        moves.append(np.asarray(explode * move))
    return moves


_OUT: Final = 2.0
_OFF: Final = 3.0
"""Shares of `explode` by which what was inside slides out, and stands off the part."""


def _inside(body: Solid, other: Solid) -> bool:
    room = other.tolerances.touch
    low, high = other.bounds
    return bool(
        (body.bounds[0] >= low - room).all()
        and (body.bounds[1] <= high + room).all()
        and body.volume < other.volume
    )


def draw_panel(figure: Figure, studio: Studio, panel: StagePanel, box: Box) -> None:
    """Draw one step, its bodies coloured and marked by standing."""
    left, bottom, width, height = box
    write_within(
        figure, (left + 40, bottom + height - 34), panel.title, 12, width - 60, weight="bold"
    )
    write_within(figure, (left + 40, bottom + 14), panel.line, 8, width - 60, color=PALE_INK)
    room = (left + 16, bottom + 44, width - 32, height - 100)
    solids = [(shown.mesh, Style(COLOURS[shown.standing])) for shown in panel.bodies]
    points = np.concatenate([mesh.vertices for mesh, _ in solids])
    frame = CameraFrame.around(ISO, points, room[2] / room[3], room=0.03)
    axes = place(figure, room)
    lay_picture(axes, studio, solids, frame, room)
    if len(panel.bodies) > 1:
        _mark(axes, panel.bodies)


def _mark(axes: Axes, bodies: Sequence[StageShown]) -> None:
    """Draw a mark on every body, and words beside those that have some."""
    for shown in bodies:
        u, v, _ = ISO.to_view(_nearest_to_eye(shown))
        axes.plot(
            [u], [v], MARKS[shown.standing], color=COLOURS[shown.standing], markersize=6,
            markeredgecolor=INK, markeredgewidth=1.0, clip_on=False,
        )  # fmt: skip
        if shown.text:
            axes.annotate(
                shown.text, (u, v), xytext=(6, 4), textcoords="offset points", fontsize=6.5,
                bbox={"boxstyle": "round,pad=0.15", "fc": PAPER, "ec": "none", "alpha": 0.75},
            )  # fmt: skip


def _nearest_to_eye(shown: StageShown) -> Array:
    """Find the vertex (3,) of a body nearest to the eye: its mark is not on another body."""
    depth = ISO.to_view(shown.mesh.vertices)[:, 2]
    return np.asarray(shown.mesh.vertices[int(np.argmax(depth))])


def _legend(figure: Figure, width: float) -> None:
    from matplotlib.lines import Line2D

    rule(figure, 40, width - 40, FOOT - 26)
    handles = [
        Line2D(
            [], [], linestyle="", marker=MARKS[s], color=COLOURS[s], markeredgecolor=INK,
            markersize=8, label=WORDS[s],
        )
        for s in MARKS
    ]  # fmt: skip
    high = figure.get_size_inches()[1] * figure.dpi
    figure.legend(
        handles=handles, loc="center left", ncols=3, frameon=False, fontsize=9,
        bbox_to_anchor=(28 / width, 42 / high), columnspacing=2.5,
    )  # fmt: skip
    write(
        figure, (width - 40, 36), "bodies moved apart to be seen", 7.5, color=PALE_INK, ha="right"
    )
