"""Tidy meshes for files, which hold coordinates in single precision.

Problem: two points that differ in double precision can be one point in a file, and a triangle
between them a line. Every reader joins equal points; what it then sees must still be a closed
surface.

Method: only combinatorial steps that keep the surface closed: points are joined, what has become a
line or cancels out is left out, and where a triangle is flat with three different corners the
diagonal of two neighbours is swapped.

Invariant: each directed edge is matched by its opposite before and after every step.

Complexity: O(n log n) for n triangles and each of at most `_PASSES` passes; two or three are
enough in practice, as each works on what the one before it has left.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from silhouette3d.geometry.half_edges import HalfEdges
from silhouette3d.geometry.tolerances import SAME

if TYPE_CHECKING:
    from silhouette3d.geometry.mesh import Mesh

__all__ = ["GRAIN", "is_closed", "tidy"]

Points = NDArray[np.float64]
Triangles = NDArray[np.int64]

GRAIN: Final = SAME
"""mm. Coordinates are rounded to this, so that noise around zero is zero.
Single precision does the same by itself from 1 mm on."""

_PASSES: Final = 64
"""Each pass shortens what is left, so a few are enough; the limit only stops a runaway."""


def tidy(mesh: Mesh, grain: float = GRAIN) -> Mesh:
    """Make a mesh as a reader of single precision will see it, still closed.

    Coordinates are rounded, equal points joined, and triangles left out that
    have become lines or that lie on each other back to back (flaps without
    thickness). A triangle that is flat but has three different corners is a
    T-junction in disguise; its longest side is swapped for the other diagonal
    where that leaves no new fault.

    Parameters
    ----------
    mesh : Mesh
        A closed surface, triangles counter-clockwise from outside.
    grain : float
        Coordinates are rounded to multiples of this, in the mesh's own unit,
        and then to single precision.

    Returns
    -------
    Mesh
        Coordinates are exact in single precision; no two points are equal and
        none is unused. Each directed edge is matched by its opposite. Where
        the body touches itself along a line, more than two triangles share an
        edge. A body thinner than the rounding leaves a mesh without triangles.
    """
    points, triangles = _weld(mesh.vertices, mesh.triangles, grain)
    triangles = _cancel(_distinct(triangles))
    triangles = _swap_flat(points, triangles, grain)
    used, triangles = np.unique(triangles, return_inverse=True)
    return replace(mesh, vertices=points[used], triangles=triangles.reshape(-1, 3))


def is_closed(mesh: Mesh) -> bool:
    """Tell whether each directed edge of the mesh is matched by its opposite."""
    try:
        HalfEdges.of(np.asarray(mesh.triangles, np.int64))
    except ValueError:
        return False
    return len(mesh.triangles) > 0


def _weld(vertices: Points, triangles: Triangles, grain: float) -> tuple[Points, Triangles]:
    """Round to single precision and give equal points one index."""
    rounded = (np.round(vertices / grain) * grain).astype(np.float32) + np.float32(0)
    points, index = np.unique(rounded, axis=0, return_inverse=True)
    return points.astype(np.float64), index.ravel()[np.asarray(triangles, np.int64)]


def _distinct(triangles: Triangles) -> Triangles:
    """Leave out triangles with a repeated corner: they have become a line or a point."""
    return np.compress((triangles != np.roll(triangles, 1, axis=1)).all(axis=1), triangles, axis=0)


def _cancel(triangles: Triangles) -> Triangles:
    """Leave out pairs of triangles with the same corners, back to back."""
    corners = np.sort(triangles, axis=1)
    _, group, size = np.unique(corners, axis=0, return_inverse=True, return_counts=True)
    group = group.ravel()
    if (size == 1).all():
        return triangles
    # +1 when the corners, in this order, are an even permutation of the sorted ones
    a, b, c = triangles.T
    turn = np.where((a < b).astype(int) + (b < c) + (c < a) == 2, 1, -1)
    surplus = np.bincount(group, weights=turn)
    keep = np.ones(len(triangles), bool)
    for i in np.nonzero(size[group] > 1)[0]:
        keep[i] = surplus[group[i]] * turn[i] > 0
        surplus[group[i]] -= turn[i] if keep[i] else 0
    return triangles[keep]


def _edge_keys(triangles: Triangles, count: int) -> Triangles:
    """Number each directed edge, (m, 3): from corner i to corner i + 1."""
    return triangles * count + np.roll(triangles, -1, axis=1)


def _flatness(points: Points, triangles: Triangles) -> tuple[Points, NDArray[np.intp], Points]:
    """Measure height over the longest side, where that starts (0, 1, 2), and its length."""
    corners = points[triangles]
    sides = np.roll(corners, -1, axis=1) - corners
    lengths = np.linalg.norm(sides, axis=2)
    start = lengths.argmax(axis=1)
    longest = lengths.max(axis=1)
    area = np.linalg.norm(np.cross(sides[:, 0], sides[:, 1]), axis=1)
    return area / longest, start, longest


def _swap_flat(points: Points, triangles: Triangles, grain: float) -> Triangles:
    """Give flat triangles to the neighbour across their longest side.

    A flat triangle a, b, c, with b on the side c-a, and its neighbour a, c, d
    cover the same surface as a, b, d and b, c, d. What is flat is decided by
    the rounding: it moves each point by up to half a step along each axis, so
    three points of a line end up at most sqrt(3) steps off it. A swap is made
    only where it shortens the sum of the longest sides of flat triangles, so
    the process ends.
    """
    step = float(np.spacing(np.float32(np.abs(points).max(initial=0.0)))) + grain
    reach = np.sqrt(3.0) * step
    for _ in range(_PASSES):
        height, start, _ = _flatness(points, triangles)
        flat = np.nonzero(height <= reach)[0]
        if not len(flat):
            break
        swapped = _swap_pass(points, triangles, flat, start, reach)
        if swapped is triangles:
            break
        triangles = _cancel(swapped)
    return triangles


def _swap_pass(
    points: Points, triangles: Triangles, flat: Triangles, start: NDArray[np.intp], reach: float
) -> Triangles:
    """Swap what can be swapped without two swaps meeting; the same array if there is nothing."""
    count = len(points)
    keys = _edge_keys(triangles, count).ravel()
    order = np.argsort(keys, kind="stable")
    ordered = keys[order]
    swapped = triangles.copy()
    touched: set[int] = set()
    for index in map(int, flat):
        c, a, b = (int(i) for i in np.roll(triangles[index], -start[index]))
        low, high = np.searchsorted(ordered, [a * count + c, a * count + c + 1])
        for other in map(int, order[low:high] // 3):
            if index in touched or other in touched:
                continue
            d = int(triangles[other].sum()) - a - c
            pair = np.array([[a, b, d], [b, c, d]])
            before = _flat_length(points, triangles[[index, other]], reach)
            if _flat_length(points, pair, reach) < before:
                swapped[[index, other]] = pair
                touched |= {index, other}
    return swapped if touched else triangles


def _flat_length(points: Points, triangles: Triangles, reach: float) -> float:
    """Sum of the longest sides of those triangles that are flat."""
    height, _, longest = _flatness(points, triangles)
    return float(longest[height <= reach].sum())
