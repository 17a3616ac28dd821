"""Drawings nobody made for this program, and what must hold of any three of them.

Source of the drawings: the npm package @mdi/svg (Apache-2.0), some 7,000 icons of one filled
path each on a page of 24 by 24 units. `reading.packages` fetches it once, checks it against its
published digest, and keeps it in a folder that git ignores.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import shapely
import trimesh
from numpy.typing import NDArray

import silhouette3d
from reading.packages import MDI
from silhouette3d.errors import EmptyPartError
from silhouette3d.job.model import job_from

BLOCK = 26.0
"""mm. The icons are taken at a unit to the millimetre, so some 1 mm is left around each."""


def icons() -> list[Path]:
    """Every icon, in the order of their names; fetched when they are not there yet."""
    return MDI.files()


def part_of(drawings: Sequence[Path], folder: Path) -> silhouette3d.Part:
    """A part of three drawings, seen from the front, the right and the top."""
    views = zip(("front", "right", "top"), drawings, strict=True)
    data: dict[str, Any] = {
        "name": " ".join(path.stem for path in drawings),
        "stock": {"size": [BLOCK] * 3, "material": "oak"},
        "profile": [
            {"view": view, "drawing": str(path), "datum": "centre", "units": "mm"}
            for view, path in views
        ],
        "cutting": {"kerf": 0.3, "tab_width": 1.0},
    }
    return silhouette3d.Part(job_from(data, path=folder / "job.toml"))


def press(drawings: Sequence[Path], folder: Path) -> str:
    """Take three drawings the whole way: load, check, stages, export; and judge the part.

    Returns
    -------
    str
        What came of it: "part", or "nothing" where the outlines exclude one another.
    """
    part = part_of(drawings, folder)
    areas = [profile.area for profile in part.profiles]
    expected, doubt = volume_of(*areas)
    # Walls of a perturbed copy lie up to 1e-8 of the diagonal, and some, further in.
    room = doubt + 2e-6 * sum(area.length for area in areas) * BLOCK
    try:
        made = part.solid.volume
    except EmptyPartError:
        assert expected <= room
        return "nothing"
    assert abs(made - expected) <= room, f"{made} mm³ instead of {expected} ± {room}"
    assert abs(sum(body.volume for body in part.solid.bodies) - made) <= 1e-9 * made
    for body in part.solid.bodies:
        assert is_closed(body.mesh.triangles)
        assert body.volume > 0.0  # outwards all over
    _ = part.findings
    for stage in part.stages:
        for block in stage.bodies:
            assert is_closed(block.solid.mesh.triangles)
            assert block.solid.volume > 0.0
    path = folder / "part.stl"
    part.export(path)
    written = trimesh.load_mesh(path)
    # single precision: 24 bits of 26 mm, on every wall
    assert abs(written.volume - made) <= 26 * 2.0**-23 * written.area + 1e-9
    part.export(folder / "part.3mf")
    return "part"


def is_closed(triangles: NDArray[np.integer]) -> bool:
    """Whether every side of every triangle is walked once in each sense."""
    sides = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    forth, once = np.unique(sides, axis=0, return_counts=True)
    back = np.unique(sides[:, ::-1], axis=0)
    return bool((once == 1).all()) and np.array_equal(forth, back)


# ---- the volume, by other means ---------------------------------------------------------


def volume_of(
    front: shapely.Geometry, right: shapely.Geometry, top: shapely.Geometry
) -> tuple[float, float]:
    """Volume of what three outlines leave, and how far it may be off, in mm³.

    At each height the front leaves strips in x, the right in y; what of the top
    lies in both is the section. Between the heights where an outline has a corner,
    or where the end of a strip passes a corner of the top, its area is a quadratic
    in the height, which Gauss's rule of two points integrates exactly; but for
    kinks where the corner of two strips passes a slanted side of the top. So steps
    in which one rule and two of half the width differ are halved, down to a 1024th;
    what they still differ by is the doubt. Plane geometry only.
    """
    corners = shapely.get_coordinates(top)
    passed = [_passing(front, corners[:, 0]), _passing(right, corners[:, 1])]
    heights = np.unique(np.concatenate([_heights(front), _heights(right), *passed, [0.0, BLOCK]]))
    heights = heights[(heights >= 0.0) & (heights <= BLOCK)]
    heights = heights[np.r_[True, np.diff(heights) > 1e-7]]
    low, high = heights[:-1], heights[1:]
    coarse = _integrals(front, right, top, low, high)
    volume = doubt = 0.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        low, high = np.column_stack([low, middle]).ravel(), np.column_stack([middle, high]).ravel()
        fine = _integrals(front, right, top, low, high)
        apart = np.abs(fine.reshape(-1, 2).sum(axis=1) - coarse)
        rough = np.repeat(apart > _SAME, 2)
        volume += float(fine[~rough].sum())
        low, high, coarse = low[rough], high[rough], fine[rough]
        doubt = float(apart.sum())
    return volume + float(coarse.sum()), doubt + _SAME * len(heights)


_HALVINGS = 10
_SAME = 1e-9
"""mm³ in one step."""


def _heights(area: shapely.Geometry) -> NDArray[np.float64]:
    return np.asarray(shapely.get_coordinates(area)[:, 1])


def _sides(area: shapely.Geometry) -> NDArray[np.float64]:
    """Every side of an outline: (n, 2, 2)."""
    rings = shapely.get_parts(shapely.boundary(area))
    return np.concatenate(
        [np.stack([r[:-1], r[1:]], axis=1) for r in map(shapely.get_coordinates, rings)]
    )


def _passing(area: shapely.Geometry, at: NDArray[np.float64]) -> NDArray[np.float64]:
    """Heights at which a side of an outline lies at one of these places."""
    (u0, v0), (u1, v1) = (_sides(area)[:, k].T for k in (0, 1))
    places = np.unique(at)
    found = []
    for u in places:
        there = (u0 < u) != (u1 < u)
        share = (u - u0[there]) / (u1[there] - u0[there])
        found.append(v0[there] + share * (v1[there] - v0[there]))
    return np.concatenate([*found, []])


def _integrals(
    front: shapely.Geometry,
    right: shapely.Geometry,
    top: shapely.Geometry,
    low: NDArray[np.float64],
    high: NDArray[np.float64],
) -> NDArray[np.float64]:
    """The volume of each step."""
    middle, half = (high + low) / 2.0, (high - low) / 2.0
    volume = np.zeros(len(half))
    face = shapely.box(0.0, 0.0, BLOCK, BLOCK)
    plan = shapely.intersection(top, face, grid_size=1e-9)
    shapely.prepare(plan)
    for sign in (-1.0, 1.0):
        z = middle + sign * half / np.sqrt(3.0)
        for k, (xs, ys) in enumerate(zip(_strips(front, z), _strips(right, z), strict=True)):
            boxes = [shapely.box(x0, y0, x1, y1) for x0, x1 in xs for y0, y1 in ys]
            if boxes:
                common = shapely.intersection(plan, shapely.MultiPolygon(boxes))
                volume[k] += half[k] * common.area
    return volume


def _strips(area: shapely.Geometry, heights: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """Where an outline lies at each height: beginnings and ends within the block, (n, 2)."""
    (u0, v0), (u1, v1) = (_sides(area)[:, k].T for k in (0, 1))
    found = []
    for z in heights:
        there = (v0 < z) != (v1 < z)
        share = (z - v0[there]) / (v1[there] - v0[there])
        at = np.sort(u0[there] + share * (u1[there] - u0[there]))
        found.append(np.clip(at.reshape(-1, 2), 0.0, BLOCK))
    return found
