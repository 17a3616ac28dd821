"""Hierarchies of boxes over a surface, laid out as plain arrays for compiled code.

Problem: leave out at once all parts of a surface that a ball cannot touch, by place or by the way
they face.

Method: a node has `WIDE` parts, each another node or a single piece, and all that is known of the
parts stands side by side, so that compiled code asks all of them at once. Pieces are halved along
the longest way between their middles, again and again, so that all nodes but a few are full. Long
triangles and edges are cut into pieces first, so that boxes are small.

Invariant: the box of a part holds all of it, and its cone of normals the normals of all of it.

Complexity: O(n log n) to build over n pieces.

Reference: S. T. Leutenegger, M. A. Lopez and J. Edgington, STR: a simple and efficient algorithm
for R-tree packing, IEEE Data Engineering 1997; I. Wald, C. Benthin and S. Boulos, Getting rid of
packets, IEEE Interactive Ray Tracing 2008.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.indices import ragged
from silhouette3d.geometry.machine_code import compiled
from silhouette3d.geometry.parallel import at_once
from silhouette3d.geometry.thickness.definition import BETA
from silhouette3d.geometry.thickness.sampling import Mask, Surface
from silhouette3d.geometry.tolerances import ANGLE, LAST_DIGITS

# --- A hierarchy of boxes over pieces of the surface that also knows which way they face


Indices = NDArray[np.int64]

_NEAR_SHARE: Final = 1e-10
"""Share of the surface's size: what is nearer to a plane lies in it. A tenth of the step of a
perturbed copy, a thousand times what rounding leaves."""

_CANCELLED: Final = 1e-9
"""Length of a sum of unit normals that cancel out: no direction is across all of them."""

WIDE: Final = 16
"""Parts of a node: so many that the compiler takes several at once; with 8 it does not."""

_FILL: Final = 0.25
"""A box that is filled less than this by its triangle is cut."""

_MOST: Final = 2
"""Pieces for each triangle, on average, when slanted ones are cut."""

_NEVER: Final = -2.0
"""In place of a cosine: every direction has something opposed."""

_NOWHERE: Final = 1e300
"""mm. Where the boxes of parts lie that are not there."""


class Tree(NamedTuple):
    """Boxes, slabs and cones of normals; as arrays, so that compiled code can read it.

    Parameters
    ----------
    node : (n, 12, WIDE) array
        Of each part: the least x, y, z and the greatest x, y, z of the box in mm; a
        unit vector in the middle of the outward normals; the cosine of the greatest
        angle between that and a direction that has an opposed piece in it; and
        from where to where along that vector the pieces lie, in mm (anywhere, if
        the normals cancel out).
    link : (n, WIDE) array of int
        The part's own node; or -1 less what the piece stands for.
    """

    node: Array
    link: Indices


def tree_of(points: Array, axis: Array, spread: Array, item: Indices, facing: float) -> Tree:
    """Build a hierarchy over pieces, each the hull of some points.

    Parameters
    ----------
    points : (n, k, 3) array
        In mm.
    axis, spread : (n, 3) and (n,) arrays
        Mean normal, and the greatest angle of a normal from it in radians.
    item : (n,) array of int
        What each piece stands for; several may stand for the same.
    facing : float
        Radians: how far apart a direction and a normal may be that are opposed.
    """
    middle = (points.min(axis=1) + points.max(axis=1)) / 2.0
    return Tree(*_packed(points, axis, spread + facing + ANGLE, middle, item))


@compiled
def _packed(
    points: Array, axis: Array, spread: Array, middle: Array, item: Indices
) -> tuple[Array, Indices]:
    """Pack nodes and links of a hierarchy into arrays."""
    order = np.arange(len(item))
    most = len(order) // (WIDE - 1) + 64  # the last node of each level may hold little
    node, link = np.zeros((most, 12, WIDE)), np.zeros((most, WIDE), np.int64)
    waiting = [(0, 0, len(order))]  # a node, and its pieces from where to where
    count = 1
    while waiting:
        i, first, last = waiting.pop()
        node[i, 0:6, :] = _NOWHERE
        full = 1  # pieces in a part
        while full * WIDE < last - first:
            full *= WIDE
        _part(middle, order[first:last], full)
        for k in range((last - first + full - 1) // full):
            start, end = first + k * full, min(first + (k + 1) * full, last)
            _fit(node[i, :, k], points, axis, spread, order[start:end])
            if end - start == 1:
                link[i, k] = -1 - item[order[start]]
            else:
                link[i, k] = count
                waiting.append((count, start, end))
                count += 1
    return node[:count].copy(), link[:count].copy()


@compiled
def _part(middle: Array, rows: Indices, full: int) -> None:
    """Sort pieces so that each `full` of them are together, halving again and again."""
    waiting = [(0, len(rows))]
    while waiting:
        first, last = waiting.pop()
        parts = (last - first + full - 1) // full
        if parts > 1:
            some, half = rows[first:last], parts // 2 * full
            _halve(middle, some, half, _longest(middle, some))
            waiting.append((first, first + half))
            waiting.append((first + half, last))


@compiled
def _fit(part: Array, points: Array, axis: Array, spread: Array, rows: Indices) -> None:
    """Write box, cone and slab of some pieces to a part of a node."""
    part[0:3], part[3:6], part[6:9] = np.inf, -np.inf, 0.0
    for row in rows:
        for k in range(3):
            part[6 + k] += axis[row, k]
            for j in range(points.shape[1]):
                part[k] = min(part[k], points[row, j, k])
                part[3 + k] = max(part[3 + k], points[row, j, k])
    size = math.sqrt(part[6] ** 2 + part[7] ** 2 + part[8] ** 2)
    x, y, z = part[6:9] / max(size, _CANCELLED)
    part[6], part[7], part[8] = x, y, z
    widest = 0.0 if size > _CANCELLED else math.pi
    low, high, least, most = np.inf, -np.inf, 2.0, 0.0
    for row in rows:
        cosine = x * axis[row, 0] + y * axis[row, 1] + z * axis[row, 2]
        if cosine < least or spread[row] > most:  # or it is within one that was looked at
            least, most = cosine, spread[row]
            widest = max(widest, math.acos(max(-1.0, min(1.0, cosine))) + spread[row])
        for j in range(points.shape[1]):
            at = x * points[row, j, 0] + y * points[row, j, 1] + z * points[row, j, 2]
            low, high = min(low, at), max(high, at)
    part[9] = math.cos(widest) if widest < math.pi else _NEVER
    if size <= _CANCELLED:
        low, high = -np.inf, np.inf
    part[10], part[11] = low, high


@compiled
def _longest(middle: Array, rows: Indices) -> int:
    """Find the axis along which the middles of pieces lie furthest apart."""
    axis, length = 0, -1.0
    for k in range(3):
        low, high = np.inf, -np.inf
        for row in rows:
            low, high = min(low, middle[row, k]), max(high, middle[row, k])
        if high - low > length:
            axis, length = k, high - low
    return axis


@compiled
def _halve(middle: Array, rows: Indices, half: int, axis: int) -> None:
    """Sort pieces so far that none of the first `half` lies beyond any of the others."""
    low, high = 0, len(rows) - 1
    while low < high:
        pivot = middle[rows[(low + high) // 2], axis]
        i, j = low, high
        while i <= j:
            while middle[rows[i], axis] < pivot:
                i += 1
            while middle[rows[j], axis] > pivot:
                j -= 1
            if i <= j:
                rows[i], rows[j] = rows[j], rows[i]
                i += 1
                j -= 1
        if half <= j:
            high = j
        elif half >= i:
            low = i
        else:
            break


def triangle_pieces(corners: Array, shortest: float) -> tuple[Array, Indices]:
    """Cut triangles into pieces (k, 3, 3); tell which triangle each belongs to.

    Triangles that fill little of their box are cut at their longest edge while
    that is longer than `shortest` mm.
    """
    item = np.arange(len(corners))
    done: list[tuple[Array, Indices]] = []
    room = _MOST * len(corners) + 1000
    while len(corners):
        cut, longest = _is_slanted(corners, shortest)
        if cut.sum() * 2 + (~cut).sum() + sum(len(i) for _, i in done) > room:
            cut[:] = False
        done.append((corners[~cut], item[~cut]))
        corners, item, longest = corners[cut], item[cut], longest[cut]
        rows = np.arange(len(item))
        a, b = corners[rows, longest], corners[rows, (longest + 1) % 3]
        c, middle = corners[rows, (longest + 2) % 3], (a + b) / 2.0
        corners = np.concatenate([np.stack([a, middle, c], 1), np.stack([middle, b, c], 1)])
        item = np.concatenate([item, item])
    pieces = np.concatenate([np.empty((0, 3, 3)), *(c for c, _ in done)])
    owner = np.concatenate([np.empty(0, np.int64), *(i for _, i in done)])
    return pieces, owner


def _is_slanted(corners: Array, shortest: float) -> tuple[NDArray[np.bool_], Indices]:
    sides = np.roll(corners, -1, axis=1) - corners
    lengths = np.linalg.norm(sides, axis=2)
    area = np.linalg.norm(np.cross(sides[:, 0], sides[:, 1]), axis=1) / 2.0
    x, y, z = np.ptp(corners, axis=1).T
    cut = (lengths.max(axis=1) > shortest) & (area < _FILL * (x * y + y * z + z * x))
    return cut, lengths.argmax(axis=1)


def edge_pieces(start: Array, end: Array, shortest: float) -> tuple[Array, Indices]:
    """Cut straight edges into pieces (k, 2, 3); tell which edge each belongs to.

    Slanted ones are about `shortest` mm long.
    """
    span = np.sort(np.abs(end - start), axis=1)
    count = np.where(span[:, 1] > 0.1 * span[:, 2], np.ceil(span[:, 2] / shortest), 1.0)
    count = np.clip(count, 1, 64).astype(np.int64)
    item, k = ragged(count)
    step = ((end - start) / count[:, None])[item]
    a = start[item] + k[:, None] * step
    return np.stack([a, a + step], axis=1), item


# --- A surface with its hierarchies, laid out as plain arrays for compiled code


class Cones(NamedTuple):
    """Corners with their cones of normals, as in `Corners`.

    Parameters
    ----------
    point, sign, first
        Of corners.
    rows : (r, 9) array
        Along each edge away from its corner, and the normals of both its sides.
    """

    point: Array
    sign: Array
    first: Indices
    rows: Array


class BallScene(NamedTuple):
    """A surface with its hierarchies, as arrays for compiled code.

    Parameters
    ----------
    walls : Tree
        Over triangles.
    bends : Tree
        Over edges, and corners, which are numbered after the edges.
    face : (n, 12) array
        Of triangles: the first corner; the way in which the share of the second
        grows, per mm, and that of the third (barycentric); and the normal.
    edge : (n, 18) array
        Of edges: the start, the way along, the normals of both sides, the one
        halfway between them, the length, whether it is convex, and the cosine of
        how far off its normals a way to it may be.
    corner : Cones
        Of corners.
    near : float
        What is nearer than this to a plane lies in it, in mm.
    facing : float
        The cosine of the angle within which a wall faces another.
    """

    walls: Tree
    bends: Tree
    face: Array
    edge: Array
    corner: Cones
    near: float
    facing: float


def scene_of(
    surface: Surface, limit: float, wider: float = 0.0, smooth: Mask | None = None
) -> BallScene:
    """Make a surface ready for balls up to `limit` mm across.

    Walls may face each other within 2 (`BETA` + `wider`), and ways to edges that are `smooth`
    be off by `BETA` + `wider` radians, where normals are known no better than that.
    """
    edges, points = surface.edges, surface.points
    shortest = max(2.0 * limit, surface.size / 200.0)
    within = 2.0 * (BETA + wider)
    walls, bends = at_once(
        lambda: _walls(surface, shortest, within), lambda: _bends(surface, shortest, within)
    )
    off = np.full(len(edges.start), BETA)
    if smooth is not None:
        off[smooth] += wider
    parts = (edges.start, edges.along, edges.left, edges.right, edges.middle)
    return BallScene(
        walls,
        bends,
        _faces(surface),
        np.column_stack([*parts, edges.length, edges.convex, np.cos(off)]),
        Cones(
            points.point,
            points.sign,
            points.first,
            np.column_stack([points.away, points.normal.reshape(-1, 6)]),
        ),
        _NEAR_SHARE * surface.size,
        float(np.cos(within)) - LAST_DIGITS,
    )


def narrowed(scene: BallScene) -> BallScene:
    """Narrow a scene to one in which nothing faces anything by more than `BETA` allows."""
    edge = scene.edge.copy()
    edge[:, 17] = np.cos(BETA)
    return scene._replace(edge=edge, facing=float(np.cos(2.0 * BETA)) - LAST_DIGITS)


def _walls(surface: Surface, shortest: float, within: float) -> Tree:
    """Build the hierarchy over triangles."""
    pieces, item = triangle_pieces(surface.corners, shortest)
    return tree_of(pieces, surface.normal[item], np.zeros(len(item)), item, within)


def _bends(surface: Surface, shortest: float, within: float) -> Tree:
    """Build the hierarchy over edges and corners."""
    edges, points = surface.edges, surface.points
    end = edges.start + edges.along * edges.length[:, None]
    pieces, item = edge_pieces(edges.start, end, shortest)
    return tree_of(
        np.concatenate([pieces, np.repeat(points.point[:, None], 2, axis=1)]),
        np.concatenate([edges.middle[item], points.axis]),
        np.concatenate([edges.turning[item] / 2.0, points.spread]),
        np.concatenate([item, len(edges.start) + np.arange(len(points.point))]),
        within,
    )


def _faces(surface: Surface) -> Array:
    """Lay triangles out as in `BallScene.face`."""
    corner, normal = surface.corners[:, 0], surface.normal
    second, third = (surface.corners[:, k] - corner for k in (1, 2))
    shares = np.concatenate([np.cross(third, normal), np.cross(normal, second)], axis=1)
    return np.column_stack([corner, shares / (2.0 * surface.area[:, None]), normal])
