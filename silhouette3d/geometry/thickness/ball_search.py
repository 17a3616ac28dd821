"""Search for the smallest ball tangent to a surface at a point that touches an opposed place.

Problem: for each of some 100,000 points the smallest of all balls that are tangent there and touch
a wall, edge or corner that faces the point.

Method: the ball tangent at p with inward normal m that passes through q has the diameter
|pq|² / (m · pq). For a fixed p all these balls are nested, so the search through the hierarchy
(`bvh`) keeps the smallest so far and leaves out every box that it does not reach. On one plane the
ball that touches is tangent there; if that point lies beside the triangle, the smallest ball that
is left touches its border. So triangles are asked for the tangent point only, edges for the
best point between the limits that the angles set, corners for themselves.

Invariant: a part of the hierarchy is left out only if every ball that touches it is at least as
large as the smallest found so far.

Complexity: O(log n) for each point in practice; O(n) where all of a surface touches one ball.

All of this is compiled, hence plain numbers and loops; points are tuples, and rows are read where
they lie, for a view of an array costs more than what is done with it.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.machine_code import Point, compiled, dot, gap, minus, plus, row_of
from silhouette3d.geometry.thickness.bvh import WIDE, BallScene, Cones, Tree
from silhouette3d.geometry.thickness.definition import BETA

Indices = NDArray[np.int64]

_TRIM: Final = 1e-6
_GRAZING: Final = 1e-7
"""Sine. A way that leaves the material by less than this runs along its surface."""
_OUTSIDE: Final = -1e-9
"""Barycentric. Points this far outside a triangle count as on its border."""
_OPPOSITE: Final = 1e-9
"""Of the cosine of normals that point against each other. Here, not among the tolerances, as code
that is kept does not follow another file."""
_DIGITS: Final = 1e-12
"""Of a share that is none but for the last digits."""
_SINGLE: Final = math.cos(BETA)
_LIKELY: Final = 1.001
"""Share of the size of the ball before that is looked through first: along a wall it stays."""
_STACK: Final = 256


class _Desk(NamedTuple):
    """Working memory of a search.

    Parts still to be looked at, as in `Tree.link`, and of each the smallest ball that may
    touch it; the same for a question of sight; and what is true of the parts of one node.
    """

    stack: Indices
    least: Array
    sight: Indices
    reached: Array
    crossed: NDArray[np.bool_]


@compiled
def _desk() -> _Desk:
    stack, sight = np.empty(_STACK, np.int64), np.empty(_STACK, np.int64)
    return _Desk(stack, np.empty(_STACK), sight, np.empty(WIDE), np.empty(WIDE, np.bool_))


@compiled
def _of_part(node: Array, i: int, j: int, k: int) -> Point:
    """Read three numbers of part k of node i, from the j-th on."""
    return node[i, j, k], node[i, j + 1, k], node[i, j + 2, k]


@compiled
def _reach(node: Array, i: int, p: Point, m: Point, size: float, reached: Array) -> None:
    """Bound from below the diameter of a ball that touches each part of a node.

    Infinite if a ball of this `size` does not touch the part's box, or nothing in the part is
    opposed to m.
    """
    r = size / 2.0
    middle = plus(p, r, m)
    base = dot(p, m)
    for k in range(WIDE):
        low, high, axis = _of_part(node, i, 0, k), _of_part(node, i, 3, k), _of_part(node, i, 6, k)
        good = dot(m, axis) >= node[i, 9, k]
        good &= dot(middle, axis) + r >= node[i, 10, k]
        good &= gap(low, high, middle) < r * r
        top = (
            high[0] if m[0] > 0.0 else low[0],
            high[1] if m[1] > 0.0 else low[1],
            high[2] if m[2] > 0.0 else low[2],
        )
        # no place is nearer than the box, and none higher above p than its top
        reached[k] = gap(low, high, p) / (dot(m, top) - base) if good else np.inf


@compiled
def _in_triangle(face: Array, i: int, at: Point) -> bool:
    """Tell whether a point of the plane of a triangle lies in it, its border included."""
    w = minus(at, row_of(face, i, 0))
    s, t = dot(w, row_of(face, i, 3)), dot(w, row_of(face, i, 6))
    return s >= _OUTSIDE and t >= _OUTSIDE and s + t <= 1.0 - _OUTSIDE


@compiled
def _cross(
    node: Array, i: int, near: float, middle: Point, half: Point, crossed: NDArray[np.bool_]
) -> None:
    """Tell whether a way, given by its middle and half of it, may cross each part of a node."""
    (hx, hy, hz), sx, sy, sz = half, abs(half[0]), abs(half[1]), abs(half[2])
    slack = near * (sx + sy + sz)
    for k in range(WIDE):
        low, high, axis = _of_part(node, i, 0, k), _of_part(node, i, 3, k), _of_part(node, i, 6, k)
        ex, ey, ez = (high[0] - low[0]) / 2.0, (high[1] - low[1]) / 2.0, (high[2] - low[2]) / 2.0
        cx, cy, cz = middle[0] - low[0] - ex, middle[1] - low[1] - ey, middle[2] - low[2] - ez
        at, along = dot(middle, axis), abs(dot(half, axis))
        good = abs(cx) <= ex + sx + near
        good &= abs(cy) <= ey + sy + near
        good &= abs(cz) <= ez + sz + near
        good &= at + along >= node[i, 10, k] + near
        good &= at - along <= node[i, 11, k] - near
        good &= abs(cy * hz - cz * hy) <= ey * sz + ez * sy + slack
        good &= abs(cz * hx - cx * hz) <= ez * sx + ex * sz + slack
        good &= abs(cx * hy - cy * hx) <= ex * sy + ey * sx + slack
        crossed[k] = good


@compiled
def _is_clear(tree: Tree, face: Array, near: float, p: Point, q: Point, desk: _Desk) -> bool:
    """Tell whether nothing of the surface lies across the way from p to q."""
    node, link, stack, crossed = tree.node, tree.link, desk.sight, desk.crossed
    way = minus(q, p)
    a, b = plus(p, _TRIM, way), plus(q, -_TRIM, way)
    middle = plus(p, 0.5, way)
    half = minus(b, middle)
    stack[0], top = 0, 1
    while top > 0:
        top -= 1
        i = stack[top]
        _cross(node, i, near, middle, half, crossed)
        for k in range(WIDE):
            if not crossed[k]:
                continue
            if link[i, k] >= 0:
                stack[top] = link[i, k]
                top += 1
                continue
            j = -1 - link[i, k]
            corner, n = row_of(face, j, 0), row_of(face, j, 9)
            here, there = dot(minus(a, corner), n), dot(minus(b, corner), n)
            if max(here, there) < near or min(here, there) > -near:
                continue
            if _in_triangle(face, j, plus(a, here / (here - there), minus(b, a))):
                return False
    return True


@compiled
def _touch_wall(
    face: Array, i: int, near: float, within: float, p: Point, m: Point, most: float
) -> tuple[float, Point]:
    """Find the ball that touches a triangle inside its border: its diameter, and where.

    Infinity if it is `most` or more.
    """
    n = row_of(face, i, 9)
    facing, high = dot(m, n), dot(minus(row_of(face, i, 0), p), n)
    size = 2.0 * high / (1.0 + facing)
    if facing < within or high <= near or size >= most:
        return np.inf, p
    q = plus(plus(p, size / 2.0, m), size / 2.0, n)
    return (size if _in_triangle(face, i, q) else np.inf), q


@compiled
def _on_edge(edge: Array, i: int, near: float, p: Point, m: Point) -> float:
    """Find where on an edge the smallest ball touches it, as distance from its start, or -1."""
    e, n1, n2, middle = (
        row_of(edge, i, 3),
        row_of(edge, i, 6),
        row_of(edge, i, 9),
        row_of(edge, i, 12),
    )
    length, convex, single = edge[i, 15], edge[i, 16] > 0.0, edge[i, 17]
    w = minus(p, row_of(edge, i, 0))
    ew = dot(e, w)
    u = minus((ew * e[0], ew * e[1], ew * e[2]), w)  # from p square to the edge
    reach = math.sqrt(dot(u, u))
    if reach <= near:
        return -1.0
    u = (u[0] / reach, u[1] / reach, u[2] / reach)
    first, second = dot(u, n1), dot(u, n2)
    # the fan of normals: within it, or how far from its nearer end
    off = max(first, second)
    if dot(u, middle) >= dot(middle, n1):
        off = 1.0
    if convex and min(first, second) < -_GRAZING:
        off = -1.0  # it would come from outside
    if off < single:
        return -1.0
    # from here on places on the edge are counted from the foot of p, where |b|² = reach² + s²
    room = reach * math.sqrt(max(off * off / (single * single) - 1.0, 0.0))
    low, high = max(-ew, -room), min(length - ew, room)
    # within the cone about m: cos² |b|² <= (m·b)²
    me, mu = dot(m, e), dot(m, u)
    qa, qb = single * single - me * me, me * mu * reach
    root = max(qb * qb - qa * (single * single - mu * mu) * reach * reach, 0.0)
    if mu * mu + me * me < single * single:
        high = -np.inf
    elif qa > _DIGITS:
        root = math.sqrt(root)
        low, high = max(low, (qb - root) / qa), min(high, (qb + root) / qa)
    elif me > 0.0:
        low = max(low, (qb - math.sqrt(root)) / min(qa, -_DIGITS))
    else:
        high = min(high, (qb + math.sqrt(root)) / min(qa, -_DIGITS))
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
    """Tell whether a unit vector lies in a corner's cone of normals and comes from the material."""
    sign = corner.sign[i]
    for r in range(corner.first[i], corner.first[i + 1]):
        if dot(way, row_of(corner.rows, r, 0)) * sign > _GRAZING:
            return False
        if sign > 0.0 and (
            dot(way, row_of(corner.rows, r, 3)) < -_GRAZING
            or dot(way, row_of(corner.rows, r, 6)) < -_GRAZING
        ):
            return False
    return True


@compiled
def _touch_bend(
    edge: Array, corner: Cones, i: int, near: float, p: Point, m: Point
) -> tuple[float, Point]:
    """Find the ball that touches an edge, or a corner: its diameter or infinity, and where."""
    if i < len(edge):
        s = _on_edge(edge, i, near, p, m)
        if s < 0.0:
            return np.inf, p
        q = plus(row_of(edge, i, 0), s, row_of(edge, i, 3))
    else:
        q = row_of(corner.point, i - len(edge), 0)
    way = minus(q, p)
    square, high = dot(way, way), dot(way, m)
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
    """Tell whether a way that starts on a convex edge leaves the material there at once."""
    if i < 0 or edge[i, 16] == 0.0:
        return False
    out = max(dot(way, row_of(edge, i, 6)), dot(way, row_of(edge, i, 9)))
    return out > _GRAZING * math.sqrt(dot(way, way))


@compiled
def _smallest_ball(
    scene: BallScene, p: Point, m: Point, own: int, cap: float, desk: _Desk
) -> tuple[float, Point, bool, int]:
    """Find the smallest ball: diameter, where it touches, whether at a bend, and which.

    `cap`, and any place, if it is no smaller.
    """
    near, face, best, touch, bend, item = scene.near, scene.face, cap, p, False, -1
    stack, least, reached = desk.stack, desk.least, desk.reached
    for kind in range(2):
        tree = scene.walls if kind == 0 else scene.bends
        stack[0], least[0], top = 0, 0.0, 1
        while top > 0:
            top -= 1
            i = stack[top]
            if least[top] >= best:
                continue
            if i >= 0:
                _reach(tree.node, i, p, m, best, reached)
                bottom = top
                for k in range(WIDE):
                    if reached[k] >= best:
                        continue
                    j = top  # the nearest on top
                    while j > bottom and least[j - 1] < reached[k]:
                        stack[j], least[j] = stack[j - 1], least[j - 1]
                        j -= 1
                    stack[j], least[j] = tree.link[i, k], reached[k]
                    top += 1
                continue
            if kind == 0:
                size, q = _touch_wall(face, -1 - i, near, scene.facing, p, m, best)
            else:
                size, q = _touch_bend(scene.edge, scene.corner, -1 - i, near, p, m)
            if (
                size < best
                and not _leaves(scene.edge, own, minus(q, p))
                and _is_clear(scene.walls, face, near, p, q, desk)
            ):
                best, touch, bend, item = size, q, kind == 1, -1 - i
    return best, touch, bend, item


@compiled
def smallest_balls(
    scene: BallScene, points: Array, inward: Array, edge: Indices, cap: Array
) -> tuple[Array, Array, NDArray[np.bool_], Indices]:
    """Find the diameters (n,) of the smallest balls in mm, and where (n, 3) they touch.

    Also whether (n,) they touch an edge or corner there, and which (n,) triangle, or edge, or
    corner (numbered after the edges) it is; -1 for none.

    Parameters
    ----------
    scene : BallScene
        The surface.
    points, inward : (n, 3) arrays
        On the surface in mm, and unit normals into the material there.
    edge : (n,) array of int
        The edge that each lies on, or -1.
    cap : (n,) array
        Larger balls are not looked for; `cap` stands for them, and nan for the place.
    """
    size, touch = np.empty(len(points)), np.full((len(points), 3), np.nan)
    bend, item = np.zeros(len(points), np.bool_), np.full(len(points), -1)
    desk, last = _desk(), np.inf
    for i in range(len(points)):
        p, m = row_of(points, i, 0), row_of(inward, i, 0)
        likely = min(_LIKELY * last, cap[i])
        last, q, bend[i], item[i] = _smallest_ball(scene, p, m, edge[i], likely, desk)
        if last >= likely and likely < cap[i]:
            last, q, bend[i], item[i] = _smallest_ball(scene, p, m, edge[i], cap[i], desk)
        size[i] = last
        if last < cap[i]:
            touch[i, 0], touch[i, 1], touch[i, 2] = q
    return size, touch, bend, item


@compiled
def are_clear(scene: BallScene, start: Array, end: Array) -> NDArray[np.bool_]:
    """Tell which of the ways between points (n, 3) and (n, 3) nothing lies across."""
    clear, desk = np.empty(len(start), np.bool_), _desk()
    for i in range(len(start)):
        p, q = row_of(start, i, 0), row_of(end, i, 0)
        clear[i] = _is_clear(scene.walls, scene.face, scene.near, p, q, desk)
    return clear


@compiled
def walls_at(scene: BallScene, points: Array, inward: Array) -> Indices:
    """Find the triangle (n,) on which a point lies that faces against `inward`, or -1."""
    node, link = scene.walls.node, scene.walls.link
    found, stack = np.full(len(points), -1), np.empty(_STACK, np.int64)
    near = 10.0 * scene.near
    for i in range(len(points)):
        p, m = row_of(points, i, 0), row_of(inward, i, 0)
        stack[0], top = 0, 1
        while top > 0 and found[i] < 0:
            top -= 1
            part = stack[top]
            for k in range(WIDE):
                if gap(_of_part(node, part, 0, k), _of_part(node, part, 3, k), p) > near * near:
                    continue
                if link[part, k] >= 0:
                    stack[top] = link[part, k]
                    top += 1
                    continue
                j = -1 - link[part, k]
                n = row_of(scene.face, j, 9)
                high = dot(minus(p, row_of(scene.face, j, 0)), n)
                if abs(high) > near or dot(m, n) > -1.0 + _OPPOSITE:
                    continue
                if _in_triangle(scene.face, j, p):
                    found[i] = j
                    break
    return found
