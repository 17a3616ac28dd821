"""The smallest ball tangent to the surface at a point that touches an opposed place.

The ball tangent at p with inward normal m that passes through q has the diameter
|pq|² / (m · pq). For a fixed p all these balls are nested, so the search through
the hierarchy keeps the smallest so far and leaves out every box that it does
not reach. On one plane the ball that touches is tangent there; if that point
lies beside the triangle, the smallest ball that is left touches its border. So
triangles are asked for the tangent point only, edges for the best point between
the limits that the angles set, corners for themselves.

All of this is compiled, hence plain numbers and loops.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from silhouette3d.measure.thickness.compiled import compiled
from silhouette3d.measure.thickness.scene import Scene
from silhouette3d.measure.thickness.tree import Tree
from silhouette3d.view import Array

Indices = NDArray[np.int64]

_TRIM: Final = 1e-6
_GRAZING: Final = 1e-7
"""Sine. A way that leaves the material by less than this runs along its surface."""
_OUTSIDE: Final = -1e-9
"""Barycentric. Points this far outside a triangle count as on its border."""
_STACK: Final = 128


class Work(NamedTuple):
    """What a search writes on: nodes still to visit, and points of three numbers."""

    stack: Indices
    sight: Indices
    there: Array
    touch: Array


@compiled
def _gap(box: Array, x: float, y: float, z: float) -> float:
    """Squared distance between a point and a node's box."""
    dx = max(box[0] - x, 0.0, x - box[3])
    dy = max(box[1] - y, 0.0, y - box[4])
    dz = max(box[2] - z, 0.0, z - box[5])
    return float(dx * dx + dy * dy + dz * dz)


@compiled
def _reach(box: Array, p: Array, m: Array, r: float) -> float:
    """Squared distance between the middle of a ball and a node's box.

    Infinite if they do not touch, or nothing in the node is opposed to m.
    """
    if m[0] * box[6] + m[1] * box[7] + m[2] * box[8] < box[9]:
        return np.inf
    gap = _gap(box, p[0] + r * m[0], p[1] + r * m[1], p[2] + r * m[2])
    return gap if gap < r * r else np.inf


@compiled
def _in_triangle(c: Array, x: float, y: float, z: float) -> bool:
    """Whether a point of the plane of a triangle lies in it, its border included."""
    ux, uy, uz = c[1, 0] - c[0, 0], c[1, 1] - c[0, 1], c[1, 2] - c[0, 2]
    vx, vy, vz = c[2, 0] - c[0, 0], c[2, 1] - c[0, 1], c[2, 2] - c[0, 2]
    wx, wy, wz = x - c[0, 0], y - c[0, 1], z - c[0, 2]
    uu, uv, vv = (
        ux * ux + uy * uy + uz * uz,
        ux * vx + uy * vy + uz * vz,
        vx * vx + vy * vy + vz * vz,
    )
    wu, wv = wx * ux + wy * uy + wz * uz, wx * vx + wy * vy + wz * vz
    det = uu * vv - uv * uv
    s, t = (vv * wu - uv * wv) / det, (uu * wv - uv * wu) / det
    return bool(s >= _OUTSIDE and t >= _OUTSIDE and s + t <= 1.0 - _OUTSIDE)


@compiled
def _is_clear(scene: Scene, p: Array, q: Array, stack: Indices) -> bool:
    """Whether nothing of the surface lies across the way from p to q."""
    tree = scene.walls
    ax, ay, az = (
        p[0] + _TRIM * (q[0] - p[0]),
        p[1] + _TRIM * (q[1] - p[1]),
        p[2] + _TRIM * (q[2] - p[2]),
    )
    bx, by, bz = (
        q[0] - _TRIM * (q[0] - p[0]),
        q[1] - _TRIM * (q[1] - p[1]),
        q[2] - _TRIM * (q[2] - p[2]),
    )
    # the way by its middle and half of it, to hold it against boxes in the same form
    mx, my, mz = (ax + bx) / 2.0, (ay + by) / 2.0, (az + bz) / 2.0
    hx, hy, hz = (bx - ax) / 2.0, (by - ay) / 2.0, (bz - az) / 2.0
    sx, sy, sz = abs(hx), abs(hy), abs(hz)
    near = scene.near
    slack = near * (sx + sy + sz)
    bottom = len(tree.item)
    stack[0], top = 1, 1
    while top > 0:
        top -= 1
        node = stack[top]
        box = tree.node[node]
        if box[0] > box[3]:  # nothing in it
            continue
        ex, ey, ez = (box[3] - box[0]) / 2.0, (box[4] - box[1]) / 2.0, (box[5] - box[2]) / 2.0
        cx, cy, cz = mx - box[0] - ex, my - box[1] - ey, mz - box[2] - ez
        if abs(cx) > ex + sx + near or abs(cy) > ey + sy + near or abs(cz) > ez + sz + near:
            continue
        if (
            abs(cy * hz - cz * hy) > ey * sz + ez * sy + slack
            or abs(cz * hx - cx * hz) > ez * sx + ex * sz + slack
            or abs(cx * hy - cy * hx) > ex * sy + ey * sx + slack
        ):
            continue
        if node < bottom:
            stack[top], stack[top + 1] = 2 * node, 2 * node + 1
            top += 2
            continue
        i = tree.item[node - bottom]
        n, c = scene.normal[i], scene.corners[i]
        here = (ax - c[0, 0]) * n[0] + (ay - c[0, 1]) * n[1] + (az - c[0, 2]) * n[2]
        there = (bx - c[0, 0]) * n[0] + (by - c[0, 1]) * n[1] + (bz - c[0, 2]) * n[2]
        if max(here, there) < scene.near or min(here, there) > -scene.near:
            continue
        s = here / (here - there)
        if _in_triangle(c, ax + s * (bx - ax), ay + s * (by - ay), az + s * (bz - az)):
            return False
    return True


@compiled
def _on_edge(scene: Scene, i: int, p: Array, m: Array) -> float:
    """Where on an edge the smallest ball touches it, as distance from its start, or -1."""
    a, e, cosine = scene.start[i], scene.along[i], scene.cosine
    n1, n2, middle = scene.sides[i, 0], scene.sides[i, 1], scene.middle[i]
    wx, wy, wz = p[0] - a[0], p[1] - a[1], p[2] - a[2]
    ew = e[0] * wx + e[1] * wy + e[2] * wz
    ux, uy, uz = ew * e[0] - wx, ew * e[1] - wy, ew * e[2] - wz  # from p square to the edge
    reach = math.sqrt(ux * ux + uy * uy + uz * uz)
    if reach <= scene.near:
        return -1.0
    ux, uy, uz = ux / reach, uy / reach, uz / reach
    first = ux * n1[0] + uy * n1[1] + uz * n1[2]
    second = ux * n2[0] + uy * n2[1] + uz * n2[2]
    # the fan of normals: within it, or how far from its nearer end
    half = middle[0] * n1[0] + middle[1] * n1[1] + middle[2] * n1[2]
    off = max(first, second)
    if ux * middle[0] + uy * middle[1] + uz * middle[2] >= half:
        off = 1.0
    if scene.convex[i] and min(first, second) < -_GRAZING:
        off = -1.0  # it would come from outside
    if off < cosine:
        return -1.0
    # from here on places on the edge are counted from the foot of p, where |b|² = reach² + s²
    room = reach * math.sqrt(max(off * off / (cosine * cosine) - 1.0, 0.0))
    low, high = max(-ew, -room), min(scene.length[i] - ew, room)
    # within the cone about m: cosine² |b|² <= (m·b)²
    me = m[0] * e[0] + m[1] * e[1] + m[2] * e[2]
    mu = m[0] * ux + m[1] * uy + m[2] * uz
    qa, qb = cosine * cosine - me * me, me * mu * reach
    root = max(qb * qb - qa * (cosine * cosine - mu * mu) * reach * reach, 0.0)
    if mu * mu + me * me < cosine * cosine:
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
    return float(min(max(ew + best, 0.0), scene.length[i]))


@compiled
def _at_corner(scene: Scene, i: int, dx: float, dy: float, dz: float) -> bool:
    """Whether a unit direction lies in a corner's cone of normals and comes from the material."""
    for r in range(scene.first[i], scene.first[i + 1]):
        e = scene.away[r]
        if (dx * e[0] + dy * e[1] + dz * e[2]) * scene.sign[i] > _GRAZING:
            return False
        if scene.sign[i] > 0.0:
            for k in range(2):
                n = scene.facets[r, k]
                if dx * n[0] + dy * n[1] + dz * n[2] < -_GRAZING:
                    return False
    return True


@compiled
def _touch_wall(scene: Scene, i: int, p: Array, m: Array, best: float, work: Work) -> float:
    """The ball that touches a triangle inside its border, if smaller than `best`."""
    n, c = scene.normal[i], scene.corners[i]
    mn = m[0] * n[0] + m[1] * n[1] + m[2] * n[2]
    if mn < scene.double:
        return best
    high = (c[0, 0] - p[0]) * n[0] + (c[0, 1] - p[1]) * n[1] + (c[0, 2] - p[2]) * n[2]
    r = high / (1.0 + mn)
    if high <= scene.near or 2.0 * r >= best:
        return best
    x, y, z = p[0] + r * (m[0] + n[0]), p[1] + r * (m[1] + n[1]), p[2] + r * (m[2] + n[2])
    if not _in_triangle(c, x, y, z):
        return best
    there = work.there
    there[0], there[1], there[2] = x, y, z
    if not _is_clear(scene, p, there, work.sight):
        return best
    work.touch[:] = there
    return float(2.0 * r)


@compiled
def _touch_bend(scene: Scene, i: int, p: Array, m: Array, best: float, work: Work) -> float:
    """The ball that touches an edge, or a corner, if smaller than `best`."""
    edges, there = len(scene.start), work.there
    if i < edges:
        s = _on_edge(scene, i, p, m)
        if s < 0.0:
            return best
        for k in range(3):
            there[k] = scene.start[i, k] + s * scene.along[i, k]
    else:
        for k in range(3):
            there[k] = scene.point[i - edges, k]
    dx, dy, dz = there[0] - p[0], there[1] - p[1], there[2] - p[2]
    square, high = dx * dx + dy * dy + dz * dz, dx * m[0] + dy * m[1] + dz * m[2]
    if high <= scene.near or square >= best * high:
        return best
    if i >= edges:
        way = math.sqrt(square)
        if high < scene.cosine * way or not _at_corner(
            scene, i - edges, dx / way, dy / way, dz / way
        ):
            return best
    if not _is_clear(scene, p, there, work.sight):
        return best
    work.touch[:] = there
    return float(square / high)


@compiled
def _search(
    scene: Scene, tree: Tree, bends: bool, p: Array, m: Array, best: float, work: Work
) -> float:
    """The smallest ball over one hierarchy; where it touches is left in `work`."""
    bottom, stack, nodes = len(tree.item), work.stack, tree.node
    stack[0], top = 1, 1
    while top > 0:
        top -= 1
        node = stack[top]
        if _reach(nodes[node], p, m, best / 2.0) == np.inf:
            continue
        if node < bottom:
            left, right = 2 * node, 2 * node + 1
            near, far = (
                _reach(nodes[left], p, m, best / 2.0),
                _reach(nodes[right], p, m, best / 2.0),
            )
            if near > far:
                left, right, near, far = right, left, far, near
            if far < np.inf:
                stack[top] = right
                top += 1
            if near < np.inf:
                stack[top] = left
                top += 1
            continue
        i = tree.item[node - bottom]
        if bends:
            best = _touch_bend(scene, i, p, m, best, work)
        else:
            best = _touch_wall(scene, i, p, m, best, work)
    return best


@compiled
def smallest_balls(scene: Scene, points: Array, inward: Array, cap: float) -> tuple[Array, Array]:
    """Diameters (n,) of the smallest balls in mm, and where (n, 3) they touch.

    Parameters
    ----------
    scene : Scene
        The surface.
    points, inward : (n, 3) arrays
        On the surface in mm, and unit normals into the material there.
    cap : float
        Larger balls are not looked for; `cap` stands for them, and nan for the place.
    """
    size, touch = np.empty(len(points)), np.full((len(points), 3), np.nan)
    work = Work(np.empty(_STACK, np.int64), np.empty(_STACK, np.int64), np.empty(3), np.empty(3))
    for i in range(len(points)):
        p, m = points[i], inward[i]
        best = _search(scene, scene.walls, False, p, m, cap, work)
        size[i] = _search(scene, scene.bends, True, p, m, best, work)
        if size[i] < cap:
            touch[i] = work.touch
    return size, touch


@compiled
def are_clear(scene: Scene, start: Array, end: Array) -> NDArray[np.bool_]:
    """Which of the ways between points (n, 3) and (n, 3) nothing lies across."""
    clear, stack = np.empty(len(start), np.bool_), np.empty(_STACK, np.int64)
    for i in range(len(start)):
        clear[i] = _is_clear(scene, start[i], end[i], stack)
    return clear


@compiled
def walls_at(scene: Scene, points: Array, inward: Array) -> Indices:
    """(n,) the triangle on which a point lies that faces against `inward`, or -1."""
    tree = scene.walls
    bottom = len(tree.item)
    found = np.full(len(points), -1)
    stack = np.empty(_STACK, np.int64)
    near = 10.0 * scene.near
    for j in range(len(points)):
        p, m = points[j], inward[j]
        stack[0], top = 1, 1
        while top > 0 and found[j] < 0:
            top -= 1
            node = stack[top]
            if _gap(tree.node[node], p[0], p[1], p[2]) > near * near:
                continue
            if node < bottom:
                stack[top], stack[top + 1] = 2 * node, 2 * node + 1
                top += 2
                continue
            i = tree.item[node - bottom]
            n, c = scene.normal[i], scene.corners[i]
            high = (p[0] - c[0, 0]) * n[0] + (p[1] - c[0, 1]) * n[1] + (p[2] - c[0, 2]) * n[2]
            turned = m[0] * n[0] + m[1] * n[1] + m[2] * n[2]
            if abs(high) > near or turned > -1.0 + 1e-9:
                continue
            if _in_triangle(c, p[0], p[1], p[2]):
                found[j] = i
    return found
