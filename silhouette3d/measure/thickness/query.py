"""The smallest ball tangent to the surface at a point that touches an opposed place.

The ball tangent at p with inward normal m that passes through q has the diameter
|pq|² / (m · pq). For a fixed p all these balls are nested, so the search through
the hierarchy keeps the smallest so far and leaves out every box that it does
not reach. On one plane the ball that touches is tangent there; if that point
lies beside the triangle, the smallest ball that is left touches its border. So
triangles are asked for the tangent point only, edges for the best point between
the limits that the angles set, corners for themselves.

All of this is compiled, hence plain numbers and loops; points are tuples, and rows are
read where they lie, for a view of an array costs more than what is done with it.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from silhouette3d.measure.thickness.compiled import compiled
from silhouette3d.measure.thickness.scene import Cones, Scene
from silhouette3d.measure.thickness.terms import BETA
from silhouette3d.measure.thickness.tree import Tree
from silhouette3d.view import Array

Indices = NDArray[np.int64]
Point = tuple[float, float, float]

_TRIM: Final = 1e-6
_GRAZING: Final = 1e-7
"""Sine. A way that leaves the material by less than this runs along its surface."""
_OUTSIDE: Final = -1e-9
"""Barycentric. Points this far outside a triangle count as on its border."""
_SINGLE: Final = math.cos(BETA)
_DOUBLE: Final = math.cos(2.0 * BETA) - 1e-12
_STACK: Final = 128


@compiled
def _row(values: Array, i: int, k: int) -> Point:
    """Three numbers of row i, from the k-th on."""
    return values[i, k], values[i, k + 1], values[i, k + 2]


@compiled
def _dot(a: Point, b: Point) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@compiled
def _minus(a: Point, b: Point) -> Point:
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]


@compiled
def _plus(a: Point, s: float, b: Point) -> Point:
    """The point a + s b."""
    return a[0] + s * b[0], a[1] + s * b[1], a[2] + s * b[2]


@compiled
def _gap(node: Array, i: int, at: Point) -> float:
    """Squared distance between a point and a node's box."""
    dx = max(node[i, 0] - at[0], 0.0, at[0] - node[i, 3])
    dy = max(node[i, 1] - at[1], 0.0, at[1] - node[i, 4])
    dz = max(node[i, 2] - at[2], 0.0, at[2] - node[i, 5])
    return float(dx * dx + dy * dy + dz * dz)


@compiled
def _reach(node: Array, i: int, p: Point, m: Point, r: float) -> float:
    """Squared distance between the middle of a ball and a node's box.

    Infinite if they do not touch, or nothing in the node is opposed to m.
    """
    axis = _row(node, i, 6)
    if _dot(m, axis) < node[i, 9]:
        return np.inf
    middle = _plus(p, r, m)
    if _dot(middle, axis) + r < node[i, 10]:
        return np.inf
    gap = _gap(node, i, middle)
    return gap if gap < r * r else np.inf


@compiled
def _in_triangle(face: Array, i: int, at: Point) -> bool:
    """Whether a point of the plane of a triangle lies in it, its border included."""
    a = _row(face, i, 0)
    u, v, w = _minus(_row(face, i, 3), a), _minus(_row(face, i, 6), a), _minus(at, a)
    uu, uv, vv, wu, wv = _dot(u, u), _dot(u, v), _dot(v, v), _dot(w, u), _dot(w, v)
    det = uu * vv - uv * uv
    s, t = (vv * wu - uv * wv) / det, (uu * wv - uv * wu) / det
    return s >= _OUTSIDE and t >= _OUTSIDE and s + t <= 1.0 - _OUTSIDE


@compiled
def _crosses(node: Array, i: int, near: float, middle: Point, half: Point) -> bool:
    """Whether a way, given by its middle and half of it, may cross what is in a node."""
    hx, hy, hz = half
    sx, sy, sz = abs(hx), abs(hy), abs(hz)
    ex = (node[i, 3] - node[i, 0]) / 2.0
    ey = (node[i, 4] - node[i, 1]) / 2.0
    ez = (node[i, 5] - node[i, 2]) / 2.0
    cx, cy, cz = _minus(middle, _row(node, i, 0))
    cx, cy, cz = cx - ex, cy - ey, cz - ez
    if abs(cx) > ex + sx + near or abs(cy) > ey + sy + near or abs(cz) > ez + sz + near:
        return False
    axis = _row(node, i, 6)
    at, reach = _dot(middle, axis), abs(_dot(half, axis))
    if at + reach < node[i, 10] + near or at - reach > node[i, 11] - near:
        return False
    slack = near * (sx + sy + sz)
    return bool(
        abs(cy * hz - cz * hy) <= ey * sz + ez * sy + slack
        and abs(cz * hx - cx * hz) <= ez * sx + ex * sz + slack
        and abs(cx * hy - cy * hx) <= ex * sy + ey * sx + slack
    )


@compiled
def _is_clear(tree: Tree, face: Array, near: float, p: Point, q: Point, stack: Indices) -> bool:
    """Whether nothing of the surface lies across the way from p to q."""
    node, link, item = tree.node, tree.link, tree.item
    way = _minus(q, p)
    a, b = _plus(p, _TRIM, way), _plus(q, -_TRIM, way)
    middle = _plus(p, 0.5, way)
    half = _minus(b, middle)
    stack[0], top = 0, 1
    while top > 0:
        top -= 1
        i = stack[top]
        if not _crosses(node, i, near, middle, half):
            continue
        first, last = link[i, 0], link[i, 1]
        if last == 0:
            stack[top], stack[top + 1] = i + 1, first
            top += 2
            continue
        for k in range(first, last):
            j = item[k]
            corner, n = _row(face, j, 0), _row(face, j, 9)
            here, there = _dot(_minus(a, corner), n), _dot(_minus(b, corner), n)
            if max(here, there) < near or min(here, there) > -near:
                continue
            if _in_triangle(face, j, _plus(a, here / (here - there), _minus(b, a))):
                return False
    return True


@compiled
def _touch_wall(face: Array, i: int, near: float, p: Point, m: Point) -> tuple[float, Point]:
    """The ball that touches a triangle inside its border: its diameter or infinity, and where."""
    n = _row(face, i, 9)
    facing, high = _dot(m, n), _dot(_minus(_row(face, i, 0), p), n)
    if facing < _DOUBLE or high <= near:
        return np.inf, p
    r = high / (1.0 + facing)
    q = _plus(_plus(p, r, m), r, n)
    return (2.0 * r if _in_triangle(face, i, q) else np.inf), q


@compiled
def _on_edge(edge: Array, i: int, near: float, p: Point, m: Point) -> float:
    """Where on an edge the smallest ball touches it, as distance from its start, or -1."""
    e, n1, n2, middle = _row(edge, i, 3), _row(edge, i, 6), _row(edge, i, 9), _row(edge, i, 12)
    length, convex = edge[i, 15], edge[i, 16] > 0.0
    w = _minus(p, _row(edge, i, 0))
    ew = _dot(e, w)
    u = _minus((ew * e[0], ew * e[1], ew * e[2]), w)  # from p square to the edge
    reach = math.sqrt(_dot(u, u))
    if reach <= near:
        return -1.0
    u = (u[0] / reach, u[1] / reach, u[2] / reach)
    first, second = _dot(u, n1), _dot(u, n2)
    # the fan of normals: within it, or how far from its nearer end
    off = max(first, second)
    if _dot(u, middle) >= _dot(middle, n1):
        off = 1.0
    if convex and min(first, second) < -_GRAZING:
        off = -1.0  # it would come from outside
    if off < _SINGLE:
        return -1.0
    # from here on places on the edge are counted from the foot of p, where |b|² = reach² + s²
    room = reach * math.sqrt(max(off * off / (_SINGLE * _SINGLE) - 1.0, 0.0))
    low, high = max(-ew, -room), min(length - ew, room)
    # within the cone about m: cos² |b|² <= (m·b)²
    me, mu = _dot(m, e), _dot(m, u)
    qa, qb = _SINGLE * _SINGLE - me * me, me * mu * reach
    root = max(qb * qb - qa * (_SINGLE * _SINGLE - mu * mu) * reach * reach, 0.0)
    if mu * mu + me * me < _SINGLE * _SINGLE:
        high = -np.inf
    elif qa > 1e-12:
        root = math.sqrt(root)
        low, high = max(low, (qb - root) / qa), min(high, (qb + root) / qa)
    elif me > 0.0:
        low = max(low, (qb - math.sqrt(root)) / min(qa, -1e-12))
    else:
        high = min(high, (qb + math.sqrt(root)) / min(qa, -1e-12))
    if low > high:
        return -1.0
    # the least |b|² / (m·b)
    below = mu + math.sqrt(mu * mu + me * me)
    best = me * reach / below if below > 0.0 else 0.0
    best = max(min(best, high), low)
    if mu * reach + best * me <= 0.0:
        return -1.0
    return float(min(max(ew + best, 0.0), length))


@compiled
def _at_corner(corner: Cones, i: int, way: Point) -> bool:
    """Whether a unit vector lies in a corner's cone of normals and comes from the material."""
    sign = corner.sign[i]
    for r in range(corner.first[i], corner.first[i + 1]):
        if _dot(way, _row(corner.rows, r, 0)) * sign > _GRAZING:
            return False
        if sign > 0.0 and (
            _dot(way, _row(corner.rows, r, 3)) < -_GRAZING
            or _dot(way, _row(corner.rows, r, 6)) < -_GRAZING
        ):
            return False
    return True


@compiled
def _touch_bend(
    edge: Array, corner: Cones, i: int, near: float, p: Point, m: Point
) -> tuple[float, Point]:
    """The ball that touches an edge, or a corner: its diameter or infinity, and where."""
    if i < len(edge):
        s = _on_edge(edge, i, near, p, m)
        if s < 0.0:
            return np.inf, p
        q = _plus(_row(edge, i, 0), s, _row(edge, i, 3))
    else:
        q = _row(corner.point, i - len(edge), 0)
    way = _minus(q, p)
    square, high = _dot(way, way), _dot(way, m)
    if high <= near:
        return np.inf, p
    if i >= len(edge):
        far = math.sqrt(square)
        unit = (way[0] / far, way[1] / far, way[2] / far)
        if high < _SINGLE * far or not _at_corner(corner, i - len(edge), unit):
            return np.inf, p
    return square / high, q


@compiled
def _leaves(edge: Array, i: int, way: Point) -> bool:
    """Whether a way that starts on a convex edge leaves the material there at once."""
    if i < 0 or edge[i, 16] == 0.0:
        return False
    out = max(_dot(way, _row(edge, i, 6)), _dot(way, _row(edge, i, 9)))
    return out > _GRAZING * math.sqrt(_dot(way, way))


@compiled
def _smallest_ball(
    scene: Scene, p: Point, m: Point, own: int, cap: float, stack: Indices, sight: Indices
) -> tuple[float, Point, bool]:
    """Its diameter, where it touches, and whether that is an edge or corner.

    `cap`, and any place, if it is no smaller.
    """
    near, face, best, touch, bend = scene.near, scene.face, cap, p, False
    for kind in range(2):
        tree = scene.walls if kind == 0 else scene.bends
        node, link, item = tree.node, tree.link, tree.item
        stack[0], top = 0, 1
        while top > 0:
            top -= 1
            i = stack[top]
            if _reach(node, i, p, m, best / 2.0) == np.inf:
                continue
            while link[i, 1] == 0:  # on to the nearer child; the other waits
                one, two = i + 1, link[i, 0]
                first = _reach(node, one, p, m, best / 2.0)
                second = _reach(node, two, p, m, best / 2.0)
                if first > second:
                    one, two, first, second = two, one, second, first
                if second < np.inf:
                    stack[top] = two
                    top += 1
                i = one
                if first == np.inf:
                    break
            for k in range(link[i, 0], link[i, 1]):
                if kind == 0:
                    size, q = _touch_wall(face, item[k], near, p, m)
                else:
                    size, q = _touch_bend(scene.edge, scene.corner, item[k], near, p, m)
                if (
                    size < best
                    and not _leaves(scene.edge, own, _minus(q, p))
                    and _is_clear(scene.walls, face, near, p, q, sight)
                ):
                    best, touch, bend = size, q, kind == 1
    return best, touch, bend


@compiled
def smallest_balls(
    scene: Scene, points: Array, inward: Array, edge: Indices, cap: float
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Diameters (n,) of the smallest balls in mm, and where (n, 3) they touch.

    Also whether (n,) they touch an edge or corner there.

    Parameters
    ----------
    scene : Scene
        The surface.
    points, inward : (n, 3) arrays
        On the surface in mm, and unit normals into the material there.
    edge : (n,) array of int
        The edge that each lies on, or -1.
    cap : float
        Larger balls are not looked for; `cap` stands for them, and nan for the place.
    """
    size, touch = np.empty(len(points)), np.full((len(points), 3), np.nan)
    bend = np.zeros(len(points), np.bool_)
    stack, sight = np.empty(_STACK, np.int64), np.empty(_STACK, np.int64)
    for i in range(len(points)):
        p, m = _row(points, i, 0), _row(inward, i, 0)
        size[i], q, bend[i] = _smallest_ball(scene, p, m, edge[i], cap, stack, sight)
        if size[i] < cap:
            touch[i, 0], touch[i, 1], touch[i, 2] = q
    return size, touch, bend


@compiled
def are_clear(scene: Scene, start: Array, end: Array) -> NDArray[np.bool_]:
    """Which of the ways between points (n, 3) and (n, 3) nothing lies across."""
    clear, stack = np.empty(len(start), np.bool_), np.empty(_STACK, np.int64)
    for i in range(len(start)):
        p, q = _row(start, i, 0), _row(end, i, 0)
        clear[i] = _is_clear(scene.walls, scene.face, scene.near, p, q, stack)
    return clear


@compiled
def walls_at(scene: Scene, points: Array, inward: Array) -> Indices:
    """(n,) the triangle on which a point lies that faces against `inward`, or -1."""
    node, link, item = scene.walls.node, scene.walls.link, scene.walls.item
    found, stack = np.full(len(points), -1), np.empty(_STACK, np.int64)
    near = 10.0 * scene.near
    for i in range(len(points)):
        p, m = _row(points, i, 0), _row(inward, i, 0)
        stack[0], top = 0, 1
        while top > 0 and found[i] < 0:
            top -= 1
            k = stack[top]
            if _gap(node, k, p) > near * near:
                continue
            if link[k, 1] == 0:
                stack[top], stack[top + 1] = k + 1, link[k, 0]
                top += 2
                continue
            for j in item[link[k, 0] : link[k, 1]]:
                n = _row(scene.face, j, 9)
                high = _dot(_minus(p, _row(scene.face, j, 0)), n)
                if abs(high) > near or _dot(m, n) > -1.0 + 1e-9:
                    continue
                if _in_triangle(scene.face, j, p):
                    found[i] = j
                    break
    return found
