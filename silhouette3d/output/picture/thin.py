"""The part coloured by its thickness, thin places ringed and numbered as in the list."""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from silhouette3d.output.picture.caption import size_and_mass
from silhouette3d.output.picture.colours import INK, PALE_INK, PAPER, PART, VERMILION
from silhouette3d.output.picture.draw import draw_solids
from silhouette3d.output.picture.paper import Box, paper, place, rule, write, write_within
from silhouette3d.output.picture.scene import ISO, Studio, Style
from silhouette3d.solid import Mesh
from silhouette3d.units import MM_PER, length_text
from silhouette3d.view import Array, View, view_along

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap
    from matplotlib.figure import Figure

    from silhouette3d.checks.sections import ThinSection
    from silhouette3d.part import Part

SIZE: Final = (2100, 1320)
BEHIND: Final = view_along((1.0, -1.0, 1.0), (0.0, 0.0, 1.0), "from behind and below")
"""The isometric view from the opposite corner of the block."""

GRAIN: Final = 1.0 / 160.0
"""Share of the part's diagonal: no coloured triangle is larger."""

MOST_SPLIT: Final = 48
"""Into how many pieces an edge of a triangle is divided at the most."""

LISTED: Final = 9
COLOURS: Final = "plasma"
"""A map of matplotlib's that is perceptually uniform, grows lighter all along (so it reads in
grey and with any of the usual kinds of colour vision), and has nothing of the part's own blue:
Smith and van der Walt, "A Better Default Colormap for Matplotlib", SciPy 2015 (from memory)."""


def draw_thin(part: Part, path: str | os.PathLike[str]) -> None:
    """Write a picture of the part, coloured where it is thinner than the job's limit.

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
    from matplotlib import colormaps

    width, height = SIZE
    head, foot = 130, 300
    with paper(path, SIZE) as figure, Studio() as studio:
        scale = colormaps[COLOURS]
        write_within(figure, (44, height - 66), part.name, 18, width - 88, weight="bold")
        limit = length_text(part.job.checks.thin, part.job.units)
        words = f"{', '.join(size_and_mass(part))}; coloured where thinner than {limit}"
        write_within(figure, (44, height - 104), words, 9, width - 88, color=PALE_INK)
        painted = painted_solid(part, scale)
        half, tall = (width - 200) / 2.0, height - head - foot
        for k, view in enumerate((ISO, BEHIND)):
            box = (30 + k * half, foot, half - 20, tall)
            axes = draw_solids(figure, studio, painted, view, box)
            ring(axes, view, part.thin)
            name = "from the front, right and above" if view is ISO else view.name
            write(figure, (box[0] + 20, foot + 4), name, 8, color=PALE_INK)
        _scale(figure, scale, part, (width - 130, foot + 80, 26, tall - 160))
        rule(figure, 44, width - 44, foot - 18)
        _list(figure, part, foot - 56)


def painted_solid(part: Part, scale: Colormap) -> list[tuple[Mesh, Style]]:
    """Small triangles, each in the colour of its thickness, and the part's own edges."""
    mesh, limit = part.solid.mesh, part.job.checks.thin
    small, owner = split(mesh, GRAIN * float(np.linalg.norm(part.solid.size)))
    points, triangle, thickness = part.thickness_field
    here = _nearest(small.corners.mean(axis=1), owner, points, triangle)
    values = thickness[here]
    paint = (np.asarray(scale(values / limit))[:, :3] * 255).astype(np.uint8)
    thick = values >= limit
    paint[thick] = [int(PART[i : i + 2], 16) for i in (1, 3, 5)]
    return [(small, Style(line=None, paint=paint)), (mesh, Style(face=None))]


def split(mesh: Mesh, size: float) -> tuple[Mesh, NDArray[np.int64]]:
    """Triangles cut into smaller ones with edges of about `size`, and which each comes from."""
    corners = mesh.corners
    edges = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    count = np.clip(np.ceil(edges / size), 1, MOST_SPLIT).astype(int)
    parts, owners = [np.empty((0, 3, 3))], [np.empty(0, np.int64)]
    for k in np.unique(count):
        chosen = np.nonzero(count == k)[0]
        weights = _grid(int(k))  # (k², 3 corners, 3 weights)
        parts.append(np.einsum("scw,twx->tscx", weights, corners[chosen]).reshape(-1, 3, 3))
        owners.append(np.repeat(chosen, len(weights)))
    flat = np.concatenate(parts).reshape(-1, 3)
    return Mesh(flat, np.arange(len(flat)).reshape(-1, 3)), np.concatenate(owners)


def _grid(k: int) -> Array:
    """Barycentric corners (k², 3, 3) of a triangle cut into k² like ones."""
    small = []
    for i in range(k):
        for j in range(k - i):
            small.append([(i, j), (i + 1, j), (i, j + 1)])
            if j < k - i - 1:
                small.append([(i + 1, j), (i + 1, j + 1), (i, j + 1)])
    uv = np.asarray(small, float) / k
    return np.concatenate([1.0 - uv.sum(axis=2, keepdims=True), uv], axis=2)


def _nearest(
    places: Array, owner: NDArray[np.int64], points: Array, triangle: NDArray[np.int64]
) -> NDArray[np.int64]:
    """For each place the nearest point on the same triangle."""
    apart = 10.0 * (1.0 + float(np.ptp(points, axis=0).max()))  # triangles are far from each other
    tree = KDTree(np.column_stack([points, triangle * apart]))
    return np.asarray(tree.query(np.column_stack([places, owner * apart]))[1], np.int64)


def ring(axes: Axes, view: View, sections: Sequence[ThinSection]) -> None:
    """A numbered ring on every thin place."""
    for number, section in enumerate(sections, start=1):
        u, v, _ = view.to_view(section.region.at)
        axes.plot(
            [u], [v], "o", markersize=13, markerfacecolor="none", markeredgecolor=VERMILION,
            markeredgewidth=1.6, clip_on=False,
        )  # fmt: skip
        axes.annotate(
            str(number), (u, v), xytext=(8, 6), textcoords="offset points", fontsize=8,
            weight="bold", bbox={"boxstyle": "round,pad=0.15", "fc": PAPER, "ec": VERMILION},
        )  # fmt: skip


def _scale(figure: Figure, colours: Colormap, part: Part, box: Box) -> None:
    """The colours from nothing to the limit, in the job's unit."""
    limit = part.job.checks.thin / MM_PER[part.job.units]
    axes = place(figure, box)
    axes.set_axis_on()
    axes.imshow(
        np.linspace(1.0, 0.0, 256)[:, None], cmap=colours, aspect="auto", extent=(0, 1, 0, limit)
    )
    axes.set_xticks([])
    axes.yaxis.tick_right()
    axes.tick_params(labelsize=8, color=INK)
    axes.set_title(f"thickness\n({part.job.units})", fontsize=8, pad=10)


def _list(figure: Figure, part: Part, top: float) -> None:
    """The numbered places in words."""
    from silhouette3d.checks.sections import section_text

    width = SIZE[0] - 88
    if not part.thin:
        words = f"No section is thinner than {length_text(part.job.checks.thin, part.job.units)}."
        write(figure, (44, top), words, 9)
        return
    for i, section in enumerate(part.thin[:LISTED]):
        text = f"{i + 1}   {section_text(section, part.job.units)}"
        write_within(figure, (44, top - 26 * i), text, 8, width)
    if len(part.thin) > LISTED:
        more = f"and {len(part.thin) - LISTED} more: see `silhouette3d thickness`"
        write(figure, (44, top - 26 * LISTED), more, 8, color=PALE_INK)
