"""The part coloured by its thickness, thin places ringed and numbered as in the list."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from silhouette3d.base.units import MM_PER, length_text
from silhouette3d.documents.pictures.caption import size_and_mass
from silhouette3d.documents.pictures.face import draw_solids
from silhouette3d.documents.pictures.paper import Box, paper, place, rule, write, write_within
from silhouette3d.documents.pictures.render import Studio, Style
from silhouette3d.geometry.frames import Array, View, view_along
from silhouette3d.geometry.mesh import Mesh
from silhouette3d.geometry.tolerances import SHARE
from silhouette3d.presentation.theme import INK, ISO, PALE_INK, PAPER, PART, VERMILION

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap
    from matplotlib.figure import Figure

    from silhouette3d.model.results import Results

SIZE: Final = (2100, 1320)
BEHIND: Final = view_along((1.0, -1.0, 1.0), (0.0, 0.0, 1.0), "from behind and below")
"""The isometric view from the opposite corner of the block."""

GRAIN: Final = 1.0 / 160.0
"""Share of the part's diagonal: no coloured triangle is larger."""

MOST_SPLIT: Final = 48
"""Into how many pieces an edge of a triangle is divided at the most."""

LISTED: Final = 8
HAIR: Final = 1e-5
"""Share of the part's diagonal: what is in front of a point by less is the point's own wall."""

_AROUND: Final = 3
"""Samples around a place of which the middle one gives its colour, so that patches end straight."""

COLOURS: Final = "plasma"
"""A map of matplotlib's that is perceptually uniform, grows lighter all along (so it reads in
grey and with any of the usual kinds of colour vision), and has nothing of the part's own blue:
Smith and van der Walt, "A Better Default Colormap for Matplotlib", SciPy 2015 (from memory)."""


def draw_thin(part: Results, path: str | os.PathLike[str]) -> None:
    """Write a picture of the part, coloured where it is thinner than the job's limit.

    Parameters
    ----------
    part : Results
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
            found = marks(part, view, BEHIND if view is ISO else ISO)
            ring(axes, found)
            name = "from the front, right and above" if view is ISO else view.name
            if any(mark.hidden for mark in found):
                name += "; a broken ring lies behind what is seen, in both pictures"
            write(figure, (box[0] + 20, foot + 4), name, 8, color=PALE_INK)
        _scale(figure, scale, part, (width - 130, foot + 80, 26, tall - 160))
        rule(figure, 44, width - 44, foot - 18)
        _list(figure, part, foot - 56)


def painted_solid(part: Results, scale: Colormap) -> list[tuple[Mesh, Style]]:
    """Paint small triangles in the colour of their thickness, with the part's own edges."""
    mesh, limit = part.solid.mesh, part.job.checks.thin
    points, triangle, thickness = part.thickness_field
    is_thin = np.zeros(len(mesh.triangles), np.bool_)  # somewhere: the others have one colour
    is_thin[triangle[thickness < limit]] = True
    grain = GRAIN * float(np.linalg.norm(part.solid.size))
    small, owner = split(mesh, np.where(is_thin, grain, np.inf))
    paint = np.full((len(owner), 3), [int(PART[i : i + 2], 16) for i in (1, 3, 5)], np.uint8)
    coloured = np.nonzero(is_thin[owner])[0]
    places = small.corners[coloured].mean(axis=1)
    values = smoothed(places, owner[coloured], points, triangle, thickness)
    coloured, values = coloured[values < limit], values[values < limit]
    paint[coloured] = np.asarray(scale(values / limit))[:, :3] * 255
    return [(small, Style(line=None, paint=paint)), (mesh, Style(face=None))]


def split(mesh: Mesh, size: Array) -> tuple[Mesh, NDArray[np.int64]]:
    """Cut triangles into smaller ones; tell which each comes from.

    The edges get about as long as `size` says for each triangle.
    """
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
    """Divide a triangle into k² like ones: barycentric corners (k², 3, 3)."""
    small = []
    for i in range(k):
        for j in range(k - i):
            small.append([(i, j), (i + 1, j), (i, j + 1)])
            if j < k - i - 1:
                small.append([(i + 1, j), (i + 1, j + 1), (i, j + 1)])
    uv = np.asarray(small, float) / k
    return np.concatenate([1.0 - uv.sum(axis=2, keepdims=True), uv], axis=2)


def smoothed(
    places: Array,
    owner: NDArray[np.int64],
    points: Array,
    triangle: NDArray[np.int64],
    value: Array,
) -> Array:
    """Take for each place the median of the values nearest to it on its triangle."""
    apart = 10.0 * (1.0 + float(np.ptp(points, axis=0).max()))  # triangles are far from each other
    tree = KDTree(np.column_stack([points, triangle * apart]))
    count = min(_AROUND, len(points))
    away, near = tree.query(np.column_stack([places, owner * apart]), count)
    away, near = (np.reshape(columns, (-1, count)) for columns in (away, near))
    return np.asarray(np.nanmedian(np.where(away < apart / 2.0, value[near], np.nan), axis=1))


@dataclass(frozen=True)
class ThinMark:
    """A ring in a picture: its number in the list, where in view coordinates, whether hidden."""

    number: int
    u: float
    v: float
    hidden: bool


def marks(part: Results, view: View, other: View) -> list[ThinMark]:
    """Mark places in a view by rings: on the wall that is seen, none where only the other sees one.

    Where neither does, a hidden one.
    """
    mesh = part.solid.mesh
    regions = [section.region for section in part.thin]
    ends = np.array([(region.p, region.q) for region in regions]).reshape(-1, 3)
    here = is_seen(mesh, view, ends).reshape(-1, 2)
    there = np.asarray(is_seen(mesh, other, ends).reshape(-1, 2).any(axis=1))
    found = []
    for i, region in enumerate(regions):
        if here[i].any() or not there[i]:
            at = (region.p, region.q)[int(here[i].argmax())] if here[i].any() else region.at
            u, v, _ = (float(x) for x in view.to_view(at))
            found.append(ThinMark(i + 1, u, v, not here[i].any()))
    return found


def is_seen(mesh: Mesh, view: View, points: Array) -> NDArray[np.bool_]:
    """Tell of which points (n,) of a mesh's surface nothing lies in front."""
    a, b, c = (view.to_view(mesh.corners[:, k]) for k in range(3))
    near = HAIR * float(np.linalg.norm(np.ptp(mesh.vertices, axis=0)))
    double = _turn(a, b, c)
    flat = np.asarray(np.abs(double) <= near**2)
    double = np.where(flat, 1.0, double)
    seen = np.ones(len(points), np.bool_)
    for i, p in enumerate(view.to_view(points)):
        weight = np.stack([_turn(p, b, c), _turn(a, p, c), _turn(a, b, p)]) / double
        high = weight[0] * a[:, 2] + weight[1] * b[:, 2] + weight[2] * c[:, 2]
        over = np.asarray((weight > -SHARE).all(axis=0) & (high > p[2] + near))
        seen[i] = not (over & ~flat).any()
    return seen


def _turn(a: Array, b: Array, c: Array) -> Array:
    """Measure twice the area of triangles as seen, to the left positive."""
    ab, ac = b - a, c - a
    return np.asarray(ab[..., 0] * ac[..., 1] - ab[..., 1] * ac[..., 0])


def ring(axes: Axes, found: Sequence[ThinMark]) -> None:
    """Draw a numbered ring for every mark, broken where the place is hidden."""
    for mark in found:
        axes.scatter(
            [mark.u], [mark.v], s=170, facecolors="none", edgecolors=VERMILION, linewidths=1.6,
            linestyles="--" if mark.hidden else "-", clip_on=False, zorder=3,
        )  # fmt: skip
        axes.annotate(
            str(mark.number), (mark.u, mark.v), xytext=(8, 6), textcoords="offset points",
            fontsize=8, weight="bold",
            bbox={"boxstyle": "round,pad=0.15", "fc": PAPER, "ec": VERMILION},
        )  # fmt: skip


def _scale(figure: Figure, colours: Colormap, part: Results, box: Box) -> None:
    """Draw the colours from nothing to the limit, in the job's unit."""
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


def _list(figure: Figure, part: Results, top: float) -> None:
    """List the numbered places in words."""
    from silhouette3d.checks.thin import section_finding

    width = SIZE[0] - 88
    limit = part.job.checks.thin
    if not part.thin:
        words = f"No section is thinner than {part.scale.length(limit)}."
        write(figure, (44, top), words, 9)
        return
    for i, section in enumerate(part.thin[:LISTED]):
        text = f"{i + 1}   {part.told(section_finding(section, limit)).message}"
        write_within(figure, (44, top - 26 * i), text, 8, width)
    if len(part.thin) > LISTED:
        more = f"and {len(part.thin) - LISTED} more: see `silhouette3d thickness`"
        write(figure, (44, top - 26 * LISTED), more, 8, color=PALE_INK)
