"""Contacts: places where bodies touch without being joined, along an edge or in a point.

Problem: tell all places where the surfaces of bodies, or of one body and itself, come together
without common volume.

Method: a flat face against a flat face would be joined, so a sharp edge of one of the two runs
through the place or ends there: sharp edges are held against the triangles that may touch them
(`near`). What is found is joined to straight lines and points. Whether a body that comes near
itself is only bent, or really hangs by no more than a line or a point, shows when a little is
taken out there: in a small cube round it the body then falls apart.

Invariant: what is no further apart than `Tolerances.touch` touches, and each place is told once.

Complexity: O(n log m + k) for n sharp edges, m triangles and k pairs that come near; two booleans
of small cubes for each place at which one body touches itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from silhouette3d.geometry.frames import Array, View, view_along
from silhouette3d.geometry.mesh import Mesh
from silhouette3d.geometry.solid import Solid, together, united
from silhouette3d.geometry.tolerances import ANGLE, LAST_DIGITS, Tolerances

_LEAST: Final = float(np.finfo(float).tiny)
"""Stands for a length or area of nothing where one divides by it."""

_AT_ONCE: Final = 20_000
"""Pairs looked at closely at a time, to keep what is worked out of them short."""

Indices = NDArray[np.int64]


@dataclass(frozen=True)
class Contact:
    """A place where two bodies, or one body and itself, touch.

    Parameters
    ----------
    bodies : tuple of int
        Indices of the two bodies; twice the same when a body touches itself.
    where : (3,) array
        The middle of the place in mm, block frame.
    length : float
        Of the straight edge along which they touch in mm; 0 for a point.
    """

    bodies: tuple[int, int]
    where: Array
    length: float


def contacts(bodies: Sequence[Solid]) -> tuple[Contact, ...]:
    """Find every place where bodies touch each other or themselves, by pairs of bodies."""
    if not bodies:
        return ()
    near = together(bodies).tolerances
    touching = list(_pieces([body.mesh for body in bodies], near.touch))
    pairs = np.concatenate([pair for pair, _ in touching])
    pieces = np.concatenate([piece for _, piece in touching])
    found = []
    for pair in np.unique(pairs, axis=0):
        i, j = (int(k) for k in pair)
        runs = list(_runs(pieces[(pairs == pair).all(axis=1)], near.touch))
        for a, b in runs if i != j else _pinched(bodies[i], runs, near):
            found.append(Contact((i, j), (a + b) / 2.0, float(np.linalg.norm(b - a))))
    return tuple(found)


def _pieces(meshes: Sequence[Mesh], touch: float) -> Iterator[tuple[Indices, Array]]:
    """Yield bodies (n, 2), the lower first, and ends (n, 2, 3) of the pieces where they touch."""
    from silhouette3d.geometry.triangle_search import near_pairs

    starts = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes)])
    edges = [_sharp_edges(mesh) for mesh in meshes]
    edge_body = np.repeat(np.arange(len(meshes)), [len(e) for e in edges])
    triangle_body = np.repeat(np.arange(len(meshes)), [len(m.triangles) for m in meshes])
    points = np.concatenate([mesh.vertices for mesh in meshes])
    edge = np.concatenate(edges) + starts[edge_body, None]
    triangle = np.concatenate([mesh.triangles for mesh in meshes]) + starts[triangle_body, None]
    near = near_pairs(points, edge, triangle, touch)
    for first in range(0, max(len(near), 1), _AT_ONCE):
        e, t = near[first : first + _AT_ONCE].T
        joined = (edge[e][:, :, None] == triangle[t][:, None, :]).any(axis=2)
        hit, ends = _meet(points[edge[e]], points[triangle[t]], joined, touch)
        yield np.sort(np.column_stack([edge_body[e], triangle_body[t]])[hit], axis=1), ends


def _sharp_edges(mesh: Mesh) -> Indices:
    """List the ends (n, 2) of the edges at which the surface turns."""
    ends, sides = mesh.edges
    area = np.linalg.norm(mesh.area_vectors, axis=1, keepdims=True)
    one, other = np.moveaxis((mesh.area_vectors / np.maximum(area, _LEAST))[sides], 1, 0)
    return np.asarray(ends[np.linalg.norm(one - other, axis=1) > ANGLE])


def _meet(
    edges: Array, triangles: Array, joined: NDArray[np.bool_], touch: float
) -> tuple[Indices, Array]:
    """Find edges (n, 2, 3) that touch their triangles (n, 3, 3), and the ends (k, 2, 3) of places.

    `joined` (n, 2) says which ends are corners of the triangle: there it is no
    wonder that they touch.
    """
    rows = np.flatnonzero(~joined.all(axis=1) & ~_clear(edges, triangles, touch))
    edges, triangles, joined = edges[rows], triangles[rows], joined[rows]
    crossing, crosses = _crossings(edges, triangles, touch)
    points = np.concatenate([edges, triangles, crossing], axis=1)
    on = [_on_triangle(edges, triangles, touch), _on_edge(triangles, edges, touch)]
    hit = np.concatenate([*on, crosses], axis=1)
    steps = np.linalg.norm(points[:, :, None] - edges[:, None], axis=3)
    hit &= ~((steps <= 2.0 * touch) & joined[:, None]).any(axis=2)
    touching = hit.any(axis=1)
    hit[:, :2] |= joined  # what begins at a common corner
    rows, points, hit = rows[touching], points[touching], hit[touching]
    a = _furthest(points, hit, points[:, 0])  # on a straight line: an end, wherever one starts
    return rows, np.stack([a, _furthest(points, hit, a)], axis=1)


def _clear(edges: Array, triangles: Array, touch: float) -> NDArray[np.bool_]:
    """Tell whether an edge lies on one side of its triangle's plane and off it."""
    heights, _ = _heights(edges, triangles)
    return np.asarray((heights > touch).all(axis=1) | (heights < -touch).all(axis=1))


def _heights(points: Array, triangles: Array) -> tuple[Array, Array]:
    """Measure points (n, k, 3) above their triangle's plane, and its unit normals (n, 1, 3)."""
    a, b, c = (triangles[:, None, k] for k in range(3))
    normal = np.cross(b - a, c - a)
    size = np.linalg.norm(normal, axis=2, keepdims=True)
    normal = normal / np.maximum(size, _LEAST)
    return np.einsum("nkj,nlj->nk", points - a, normal), normal


def _on_triangle(points: Array, triangles: Array, touch: float) -> NDArray[np.bool_]:
    """Tell which of the points (n, k, 3) lie on their triangle (n, 3, 3).

    They lie over it, or near one of its sides. Room beyond each side's line would not do:
    where two sides meet at a small angle it reaches far past their corner.
    """
    heights, normal = _heights(points, triangles)
    over = (np.abs(heights) <= touch) & normal.any(axis=2)
    beside = np.zeros(over.shape, bool)
    for k in range(3):
        side = triangles[:, [k, (k + 1) % 3]]
        along = side[:, None, 1] - side[:, None, 0]
        away = points - side[:, None, 0]
        over &= np.einsum("nkj,nlj->nk", np.cross(along, away), normal) >= 0.0
        beside |= _on_edge(points, side, touch)
    return np.asarray(over | beside)


def _on_edge(points: Array, edges: Array, touch: float) -> NDArray[np.bool_]:
    """Tell which of the points (n, k, 3) lie on their edge (n, 2, 3)."""
    start, side = edges[:, None, 0], edges[:, None, 1] - edges[:, None, 0]
    along = np.einsum("nkj,nlj->nk", points - start, side)
    share = along / np.maximum(np.einsum("nlj,nlj->nl", side, side), _LEAST)
    foot = start + np.clip(share, 0.0, 1.0)[:, :, None] * side
    return np.asarray(np.linalg.norm(points - foot, axis=2) <= touch)


def _crossings(edges: Array, triangles: Array, touch: float) -> tuple[Array, NDArray[np.bool_]]:
    """Find where an edge passes the sides of its triangle, (n, 3, 3), and whether it meets them.

    The nearest points p + s d and q + t e of two lines; parallel ones are left
    to their ends.
    """
    p, d = edges[:, None, 0], edges[:, None, 1] - edges[:, None, 0]
    q, e = triangles, np.roll(triangles, -1, axis=1) - triangles
    r = p - q
    dd, ee, de, dr, er = ((a * b).sum(axis=2) for a, b in ((d, d), (e, e), (d, e), (d, r), (e, r)))
    determinant = dd * ee - de**2
    meets = determinant > LAST_DIGITS * dd * ee
    determinant = np.where(meets, determinant, 1.0)
    s, t = (de * er - ee * dr) / determinant, (dd * er - de * dr) / determinant
    here, there = p + s[:, :, None] * d, q + t[:, :, None] * e
    meets &= (s >= 0) & (s <= 1) & (t >= 0) & (t <= 1)
    return here, meets & (np.linalg.norm(here - there, axis=2) <= touch)


def _furthest(points: Array, hit: NDArray[np.bool_], start: Array) -> Array:
    """Choose of the points (n, k, 3) that count the one furthest from a start (n, 3)."""
    away = np.where(hit, np.linalg.norm(points - start[:, None], axis=2), -1.0)
    return np.asarray(points[np.arange(len(points)), away.argmax(axis=1)])


def _runs(pieces: Array, touch: float) -> Iterator[tuple[Array, Array]]:
    """Join pieces (n, 2, 3) in one line that meet, longest first; points on them are theirs.

    What is no longer than what counts as touching is a point: its ends are the same.
    """
    left = pieces[np.argsort(-np.linalg.norm(pieces[:, 1] - pieces[:, 0], axis=1), kind="stable")]
    while len(left):
        a, b = left[0]
        high = float(np.linalg.norm(b - a))
        along = (b - a) / high if high > touch else np.zeros(3)
        low, close = 0.0, 2.0 * touch
        while len(left):
            share = (left - a) @ along
            off = np.linalg.norm(left - a - share[:, :, None] * along, axis=2).max(axis=1)
            meet = (share.min(axis=1) <= high + close) & (share.max(axis=1) >= low - close)
            meet &= off <= close
            if not meet.any():
                break
            low, high = min(low, float(share[meet].min())), max(high, float(share[meet].max()))
            left = left[~meet]
        yield a + low * along, a + high * along


def _pinched(
    body: Solid, runs: Sequence[tuple[Array, Array]], tolerances: Tolerances
) -> list[tuple[Array, Array]]:
    """Find the lines and points at which a body hangs by no more than them.

    There it falls apart in a small cube once a bar is taken out along the line or point. The
    body is cut down to all cubes first, for what is left of it is small.
    """
    clear, taken = tolerances.clear, tolerances.stray  # half as thick are cube and bar
    views = [_view_along(b - a) for a, b in runs]
    cubes = [_bar(view, a, b, clear, clear) for view, (a, b) in zip(views, runs, strict=True)]
    near = body.intersection(united(cubes))
    found = []
    for view, cube, (a, b) in zip(views, cubes, runs, strict=True):
        half = float(np.linalg.norm(b - a)) / 2.0 + taken
        if len(near.intersection(cube).minus(_bar(view, a, b, taken, half)).bodies) > 1:
            found.append((a, b))
    return found


def _view_along(along: Array) -> View:
    """Look along a line, no side of a cube along a wall; anyhow at a point."""
    along = along if along.any() else _SKEW
    up = max(_SKEW, _SKEW[::-1], key=lambda up: float(np.linalg.norm(np.cross(along, up))))
    return view_along(along, up)


def _bar(view: View, a: Array, b: Array, thick: float, high: float) -> Solid:
    """Make a square bar about the middle between two points, half as thick and high."""
    u, v, w = view.to_view((a + b) / 2.0)
    return Solid.prism(
        shapely.box(u - thick, v - thick, u + thick, v + thick), view, (w - high, w + high)
    )


_SKEW: Final = np.array([0.271, 0.514, 0.814])
"""A direction in which no wall is likely to run; nor in the one with its numbers the other way."""
