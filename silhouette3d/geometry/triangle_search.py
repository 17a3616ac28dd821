"""Compiled searches over triangles: which of them touch, and what lies inside.

Problem: of all pairs of an edge and a triangle hardly any come near each other, but those of
one corner do, and there are some ten of them for each edge.

Method: a hierarchy of boxes over the triangles is asked for each edge. What it finds is apart if
some direction parts the two: the normal of the triangle, one square to a side of it, or one
square to the edge (the separating axis theorem). Edge and triangle with a common corner leave it
in directions at an angle, so that they can be near each other next to that corner only.

Invariant: no pair that touches is left out; directions are held against all corners of both, so
that nothing hangs on how well the normal of a needle is known.

Complexity: O(log m) for each edge that is not long beside the triangles round it.

Reference: S. Gottschalk, M. C. Lin and D. Manocha, OBBTree, SIGGRAPH 1996, for the separating
axes (from memory).
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.machine_code import Point, compiled, dot, minus, plus, row_of
from silhouette3d.geometry.parallel import shared
from silhouette3d.geometry.thickness.bvh import WIDE, tree_of, triangle_pieces

Indices = NDArray[np.int64]

TURNED: Final = 1e-3
"""Radians. Edge and triangle that leave a common corner at a greater angle part there."""

_STACK: Final = 512


def near_pairs(points: Array, edges: Indices, triangles: Indices, touch: float) -> Indices:
    """Find edges and triangles that may touch elsewhere than at a common corner.

    Parameters
    ----------
    points : (n, 3) array
        In mm.
    edges, triangles : (k, 2) and (m, 3) arrays of int
        Indices of points.
    touch : float
        In mm. What is nearer than this touches.

    Returns
    -------
    (p, 2) array of int
        Numbers of an edge and of a triangle, in ascending order; with all pairs that touch some
        that do not.
    """
    if not len(edges) or not len(triangles):
        return np.empty((0, 2), np.int64)
    corners = points[triangles]
    size = float(np.ptp(points, axis=0).max())
    pieces, item = triangle_pieces(corners, size / 200.0)
    none = np.zeros((len(item), 3))
    tree = tree_of(pieces, none, none[:, 0], item, 0.0)
    found = shared(
        lambda rows: _pairs(
            tree.node, tree.link, points, edges[rows], triangles, rows.start, 2.0 * touch
        ),
        len(edges),
    )
    return np.unique(np.concatenate(found), axis=0)  # a triangle may be there in several pieces


@compiled
def _pairs(
    node: Array,
    link: Indices,
    points: Array,
    edges: Indices,
    triangles: Indices,
    first: int,
    room: float,
) -> Indices:
    """Find pairs not surely further apart than some room, edges numbered from `first` on."""
    stack, crossed = np.empty(_STACK, np.int64), np.empty(WIDE, np.bool_)
    found, count = np.empty((256, 2), np.int64), 0
    for e in range(len(edges)):
        p, q = row_of(points, edges[e, 0], 0), row_of(points, edges[e, 1], 0)
        stack[0], top = 0, 1
        while top > 0:
            top -= 1
            i = stack[top]
            _reach(node, i, p, q, room, crossed)
            for k in range(WIDE):
                if not crossed[k]:
                    continue
                if link[i, k] >= 0:
                    stack[top] = link[i, k]
                    top += 1
                    continue
                t = -1 - link[i, k]
                if not _may_touch(points, edges[e], triangles[t], room):
                    continue
                if count == len(found):
                    more = np.empty((2 * count, 2), np.int64)
                    more[:count] = found
                    found = more
                found[count, 0], found[count, 1] = first + e, t
                count += 1
    return found[:count].copy()


@compiled
def _reach(
    node: Array, i: int, p: Point, q: Point, room: float, crossed: NDArray[np.bool_]
) -> None:
    """Tell whether the way from p to q comes near the box of each part of a node."""
    hx, hy, hz = (q[0] - p[0]) / 2.0, (q[1] - p[1]) / 2.0, (q[2] - p[2]) / 2.0
    mx, my, mz = p[0] + hx, p[1] + hy, p[2] + hz
    sx, sy, sz = abs(hx), abs(hy), abs(hz)
    slack = 2.0 * room * (sx + sy + sz)
    for k in range(WIDE):
        ex, ey, ez = (
            (node[i, 3, k] - node[i, 0, k]) / 2.0,
            (node[i, 4, k] - node[i, 1, k]) / 2.0,
            (node[i, 5, k] - node[i, 2, k]) / 2.0,
        )
        cx, cy, cz = mx - node[i, 0, k] - ex, my - node[i, 1, k] - ey, mz - node[i, 2, k] - ez
        good = abs(cx) <= ex + sx + room
        good &= abs(cy) <= ey + sy + room
        good &= abs(cz) <= ez + sz + room
        good &= abs(cy * hz - cz * hy) <= ey * sz + ez * sy + slack
        good &= abs(cz * hx - cx * hz) <= ez * sx + ex * sz + slack
        good &= abs(cx * hy - cy * hx) <= ex * sy + ey * sx + slack
        crossed[k] = good


@compiled
def _may_touch(points: Array, edge: Indices, triangle: Indices, room: float) -> bool:
    """Tell whether an edge and a triangle may touch elsewhere than at a common corner."""
    common, own, at = 0, 0, 0
    for i in range(2):
        for k in range(3):
            if edge[i] == triangle[k]:
                common, own, at = common + 1, i, k
    a, b, c = (
        row_of(points, triangle[at], 0),
        row_of(points, triangle[(at + 1) % 3], 0),
        row_of(points, triangle[(at + 2) % 3], 0),
    )
    p, q = row_of(points, edge[own], 0), row_of(points, edge[1 - own], 0)
    if common == 0:
        return not _is_apart(p, q, a, b, c, room)
    return common == 1 and not _leave(a, q, b, c, room)


@compiled
def _cross(a: Point, b: Point) -> Point:
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


@compiled
def _is_apart(p: Point, q: Point, a: Point, b: Point, c: Point, room: float) -> bool:
    """Tell whether a direction parts the way from p to q and a triangle, by more than a room."""
    along = minus(q, p)
    ab, bc, ca = minus(b, a), minus(c, b), minus(a, c)
    normal = _cross(ab, minus(c, a))
    for axis in (
        normal,
        _cross(normal, ab),
        _cross(normal, bc),
        _cross(normal, ca),
        _cross(along, ab),
        _cross(along, bc),
        _cross(along, ca),
        _cross(normal, along),
    ):
        size = math.sqrt(dot(axis, axis))
        s, t = dot(axis, along), 0.0  # counted from p
        u, v, w = dot(axis, minus(a, p)), dot(axis, minus(b, p)), dot(axis, minus(c, p))
        over, under = min(u, v, w) - max(s, t), min(s, t) - max(u, v, w)
        if max(over, under) > room * size:
            return True
    return False


@compiled
def _leave(p: Point, q: Point, b: Point, c: Point, room: float) -> bool:
    """Tell whether the way from p to q and the triangle p, b, c leave p at a clear angle.

    Then what of the way comes as near as `room` to the triangle lies within `near` of p, and
    so would any place where they touch; unless something is no longer than that.
    """
    near = 2.0 * room / TURNED
    d, u, v = minus(q, p), minus(b, p), minus(c, p)
    long, one, other = math.sqrt(dot(d, d)), math.sqrt(dot(u, u)), math.sqrt(dot(v, v))
    if min(long, one, other) <= near:
        return False
    normal, opposite = _cross(u, v), minus(c, b)
    size = math.sqrt(dot(normal, normal))
    if size <= near * math.sqrt(dot(opposite, opposite)):
        return False  # the opposite side is near, too
    d, u, v = (
        plus((0.0, 0.0, 0.0), 1.0 / long, d),
        plus((0.0, 0.0, 0.0), 1.0 / one, u),
        plus((0.0, 0.0, 0.0), 1.0 / other, v),
    )
    beside = min(_from_ray(d, u), _from_ray(d, v))
    if size < 2.0 * TURNED * one * other:  # a needle: its sides stand for all of it
        return beside > 4.0 * TURNED
    n = plus((0.0, 0.0, 0.0), 1.0 / size, normal)
    if dot(_cross(u, d), n) >= 0.0 and dot(_cross(d, v), n) >= 0.0:
        return abs(dot(d, n)) > TURNED
    return beside > TURNED


@compiled
def _from_ray(d: Point, u: Point) -> float:
    """Measure the sine of the angle between two unit vectors; 1 where that is not acute."""
    if dot(d, u) <= 0.0:
        return 1.0
    across = _cross(d, u)
    return math.sqrt(dot(across, across))


# --- Winding of a closed surface round a point: the solid angles of its triangles, summed


@compiled
def turns(point: Array, vertices: Array, triangles: NDArray[np.int64]) -> float:
    """Count how often a surface turns round a point: 1 inside a solid, 0 outside.

    A triangle more or less near the point does no harm.

    Parameters
    ----------
    point : (1, 3) array
        In mm.
    vertices : (n, 3) array
        In mm.
    triangles : (m, 3) array of int
        Counter-clockwise as seen from outside.

    Notes
    -----
    A. Van Oosterom and J. Strackee, IEEE Transactions on Biomedical Engineering 30(2), 1983,
    125-126.
    """
    p, total = row_of(point, 0, 0), 0.0
    for i in range(len(triangles)):
        a = minus(row_of(vertices, triangles[i, 0], 0), p)
        b = minus(row_of(vertices, triangles[i, 1], 0), p)
        c = minus(row_of(vertices, triangles[i, 2], 0), p)
        la, lb, lc = math.sqrt(dot(a, a)), math.sqrt(dot(b, b)), math.sqrt(dot(c, c))
        above = (
            a[0] * (b[1] * c[2] - b[2] * c[1])
            + a[1] * (b[2] * c[0] - b[0] * c[2])
            + a[2] * (b[0] * c[1] - b[1] * c[0])
        )
        beside = la * lb * lc + dot(a, b) * lc + dot(b, c) * la + dot(c, a) * lb
        total += math.atan2(above, beside)
    return total / (2.0 * math.pi)
