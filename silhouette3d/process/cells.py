"""Cells: convex pieces of what the cuts leave, divided at the narrowest chords of each view.

Problem: where is an area narrow? A chord runs from border to border inside the area; the narrowest
ones are where it would part. And what do such chords of several views divide a block into?

Method: the area is triangulated with all corners on the border (constrained Delaunay), so that each
inner edge is a chord. The shortest way between two stretches of border runs from a corner to a
corner or square to a side: feet of such perpendiculars are made corners, and the shortest way is
then an edge, as the circle on it as diameter is empty. Edges are rubbed out, longest first, as long
as what they part is nearly convex together. Walls hung from the chords of one view are then split
by the cells of the others, plane pieces by half-planes pulled back to them.

Invariant: an edge is rubbed out only where both its ends lie so near its hull that the edge
is at least 1 - `SLACK` as long as the chord of the hull that it lies in, or 1 - `NECK_SLACK`
if it is the narrowest place of its neighbourhood. A half-plane pulled back is right whether the
plane is seen edge on or not, so no case needs to be told apart.

Complexity: O(n log n) for the triangulation of n corners, up to four times, and a convex hull of a
cell for each edge; pieces times the triangles of another view that each meets.

Reference: S. Hertel and K. Mehlhorn, Fast triangulation of simple polygons, FCT 1983 (with exactly
convex pieces at most four times as many as are needed); I. E. Sutherland and G. W. Hodgman,
Reentrant polygon clipping, CACM 17 (1974) (both from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from silhouette3d.geometry.frames import Array, View
from silhouette3d.geometry.mesh import Indices
from silhouette3d.geometry.polygons import cross
from silhouette3d.geometry.tolerances import SAME

# --- What a cut leaves of its face, divided into nearly convex cells by its narrowest chords


SLACK: Final = 0.1
"""Share of a chord's length by which its cell may be hollow there."""

NECK_SLACK: Final = 0.001
"""The same where it is narrower than next to it on both sides."""

_ROUNDS: Final = 4
"""Times that feet of perpendiculars are added: new corners ask for new ones."""

_SQUARE: Final = 0.999
"""A foot is added if the way to it is shorter than this share of the ways to both ends."""


@dataclass(frozen=True, eq=False)
class Cells:
    """An area of a plane in nearly convex cells, and the chords between them.

    Parameters
    ----------
    points : (n, 2) array
        Corners, all of them on the area's border or a mark's.
    triangles : (m, 3) array of int
        Corners of each triangle, counter-clockwise.
    cell : (m,) array of int
        Which cell each triangle belongs to, from 0.
    marked : (m,) array of bool
        Whether a triangle lies in the marked part of the area.
    chords : (k, 2) array of int
        Corners of the edges between different cells.
    beside : (k, 2) array of int
        The cells on both sides of each.
    """

    points: Array
    triangles: Indices
    cell: Indices
    marked: NDArray[np.bool_]
    chords: Indices
    beside: Indices

    def moved(self, by: Array) -> Cells:
        """Move the cells in the plane."""
        return replace(self, points=self.points + by)

    @cached_property
    def tree(self) -> shapely.STRtree:
        """The triangles, to be looked up by place."""
        return shapely.STRtree(np.asarray(shapely.polygons(self.points[self.triangles]), object))

    @cached_property
    def sides(self) -> tuple[Array, Array]:
        """Inward normals (m, 3, 2) and offsets (m, 3): n · p + c ≥ 0 inside a triangle."""
        corners = self.points[self.triangles]
        along = np.roll(corners, -1, axis=1) - corners
        inward = np.stack([-along[..., 1], along[..., 0]], axis=-1)
        inward /= np.linalg.norm(inward, axis=-1, keepdims=True)
        return inward, -np.einsum("mij,mij->mi", inward, corners)


def cells_of(area: shapely.Geometry, mark: shapely.Geometry) -> Cells:
    """Divide an area into cells; none lies both in the marked part of it and outside.

    Parameters
    ----------
    area : shapely polygon or polygons
    mark : shapely polygon or polygons
        Its border is a border of cells.
    """
    plain = _divided(area, mark)
    points, triangles, marked = _triangulated(plain)
    for _ in range(_ROUNDS):
        feet = _feet(points, triangles)
        if not feet:
            break
        plain = [(_with_feet(p, feet), is_marked) for p, is_marked in plain]
        points, triangles, marked = _triangulated(plain)
    return _merged(points, triangles, marked)


def _divided(area: shapely.Geometry, mark: shapely.Geometry) -> list[tuple[shapely.Polygon, bool]]:
    """Part the area at the mark's border into polygons that have their corners in common.

    As faces of one set of lines: parts worked out one by one need not have.
    """
    inside = shapely.intersection(shapely.boundary(mark), area)
    lines = shapely.union_all([shapely.boundary(area), inside], grid_size=SAME)
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
    points = shapely.point_on_surface(faces)
    shapely.prepare(area)
    shapely.prepare(mark)
    real = shapely.contains(area, points)
    return list(zip(faces[real], shapely.contains(mark, points[real]).tolist(), strict=True))


def _triangulated(
    parts: Sequence[tuple[shapely.Polygon, bool]],
) -> tuple[Array, Indices, NDArray[np.bool_]]:
    """Triangulate polygons with common corners: corners, triangles (counter-clockwise), marks."""
    found, marks = [np.empty((0, 3, 2))], [np.empty(0, bool)]
    for polygon, is_marked in parts:
        pieces = shapely.get_parts(shapely.constrained_delaunay_triangles(polygon))
        corners = shapely.get_coordinates(pieces).reshape(-1, 4, 2)[:, :3]
        found.append(corners)
        marks.append(np.full(len(corners), is_marked))
    corners = np.concatenate(found)
    keys = np.rint(corners.reshape(-1, 2) / SAME).astype(np.int64)
    unique, first, index = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    del unique
    points = corners.reshape(-1, 2)[first]
    triangles = np.asarray(index).reshape(-1, 3)
    a, b, c = np.moveaxis(points[triangles], 1, 0)
    doubled = cross(b - a, c - a)
    triangles[doubled < 0.0] = triangles[doubled < 0.0][:, ::-1]
    real = doubled != 0.0
    return points, triangles[real], np.concatenate(marks)[real]


def _edges(triangles: Indices) -> tuple[Indices, Indices]:
    """List each edge (k, 2) once, and the triangles (k, 2) on its sides, -1 beyond the border."""
    ends = np.concatenate([triangles[:, [i, (i + 1) % 3]] for i in range(3)])
    owner = np.tile(np.arange(len(triangles)), 3)
    ends = np.sort(ends, axis=1)
    order = np.lexsort((ends[:, 1], ends[:, 0]))
    ends, owner = ends[order], owner[order]
    is_new = np.ones(len(ends), bool)
    is_new[1:] = (ends[1:] != ends[:-1]).any(axis=1)
    edges = ends[is_new]
    number = np.cumsum(is_new) - 1
    beside = np.full((len(edges), 2), -1)
    beside[number[is_new], 0] = owner[is_new]
    beside[number[~is_new], 1] = owner[~is_new]
    return edges, beside


def _feet(points: Array, triangles: Indices) -> dict[tuple[int, int], list[Array]]:
    """Find for each side on the border, by its ends on the grid, the feet to add on it."""
    edges, beside = _edges(triangles)
    edge, owner = edges[beside[:, 1] < 0], beside[beside[:, 1] < 0, 0]
    apex = triangles[owner].sum(axis=1) - edge.sum(axis=1)
    a, b, p = points[edge[:, 0]], points[edge[:, 1]], points[apex]
    along = b - a
    square = np.einsum("ij,ij->i", along, along)
    t = np.einsum("ij,ij->i", p - a, along) / square
    foot = a + t[:, None] * along
    way = np.linalg.norm(p - foot, axis=1)
    ends = np.minimum(np.linalg.norm(p - a, axis=1), np.linalg.norm(p - b, axis=1))
    wanted = (t > 0.0) & (t < 1.0) & (way < _SQUARE * ends)
    found: dict[tuple[int, int], list[Array]] = {}
    for i in np.nonzero(wanted)[0]:
        found.setdefault(_side(a[i], b[i]), []).append(foot[i])
    return found


def _side(a: Array, b: Array) -> tuple[int, int]:
    """Name a side by its ends, whichever comes first."""
    one, two = (hash(tuple(np.rint(p / SAME).astype(np.int64).tolist())) for p in (a, b))
    return (one, two) if one <= two else (two, one)


def _with_feet(
    polygon: shapely.Polygon, feet: dict[tuple[int, int], list[Array]]
) -> shapely.Polygon:
    rings = []
    for ring in (polygon.exterior, *polygon.interiors):
        points = shapely.get_coordinates(ring)
        out = []
        for a, b in pairwise(points):
            out.append(a)
            more = feet.get(_side(a, b), [])
            out += sorted(more, key=lambda p: float(np.dot(p - a, p - a)))
        rings.append(out)
    return shapely.Polygon(rings[0], rings[1:])


def _merged(points: Array, triangles: Indices, marked: NDArray[np.bool_]) -> Cells:
    """Merge triangles into cells by rubbing out edges, longest first."""
    edges, beside = _edges(triangles)
    inner = beside[:, 1] >= 0
    edges, beside = edges[inner], beside[inner]
    length = np.linalg.norm(points[edges[:, 0]] - points[edges[:, 1]], axis=1)
    room = np.where(_is_neck(len(triangles), length, beside), NECK_SLACK, SLACK) * length
    home = np.arange(len(triangles))
    groups = {i: _Group({*map(int, t)}, []) for i, t in enumerate(triangles)}

    def root(i: int) -> int:
        # a union-find; every step up halves the way for the next
        while home[i] != i:
            home[i] = home[home[i]]
            i = int(home[i])
        return i

    for e in np.argsort(-length):
        one, two = (int(t) for t in beside[e])
        if marked[one] != marked[two]:
            continue
        one, two = root(one), root(two)
        if one == two:
            continue
        first, second = groups[one], groups[two]
        together = _Group(first.corners | second.corners, [*first.chords, *second.chords, int(e)])
        if _is_nearly_convex(points, edges, room, together):
            home[two] = one
            groups[one] = together
            del groups[two]
    cell = np.unique([root(i) for i in range(len(triangles))], return_inverse=True)[1]
    sides = cell[beside]
    kept = sides[:, 0] != sides[:, 1]
    return Cells(points, triangles, cell, marked, edges[kept], sides[kept])


def _is_neck(count: int, length: Array, beside: Indices) -> NDArray[np.bool_]:
    """Tell whether each inner edge is the shortest of both its triangles, of `count` in all."""
    shortest = np.full(count, np.inf)
    for side in (0, 1):
        np.minimum.at(shortest, beside[:, side], length)
    return np.asarray((length[:, None] <= shortest[beside] + 2.0 * SAME).all(axis=1))


@dataclass(frozen=True)
class _Group:
    """Corners of a cell in the making, and edges rubbed out within it."""

    corners: set[int]
    chords: list[int]


def _is_nearly_convex(points: Array, edges: Indices, room: Array, group: _Group) -> bool:
    """Tell whether the ends of all edges in a cell lie near enough to its hull, both together."""
    hull = shapely.convex_hull(shapely.multipoints(points[list(group.corners)]))
    border = shapely.get_exterior_ring(hull)
    shapely.prepare(border)
    ends = points[edges[group.chords]]
    off = shapely.distance(border, shapely.points(ends))
    return bool((off.sum(axis=1) <= room[group.chords]).all())


# --- Convex pieces of planes in the block, split by the cells of views and cut down to half-spaces
#
# A piece lies in a plane of its own: a point of it is origin + s · a + t · b. A view
# maps that plane to its own by an affine map, which may be singular (a plane seen
# edge on). A half-plane n · p + c ≥ 0 of the view, pulled back, is the half-plane
# (n · M) · (s, t) + (n · offset + c) ≥ 0 of the piece whether it is singular or not,
# so no case needs to be told apart.


LEAST: Final = 1e-9
"""mm². Smaller pieces are dropped: strips 1 mm long and as wide as `GRID` come from rounding."""

_FEW: Final = 6
"""Corners of a piece when it is fanned out."""


@dataclass(frozen=True, eq=False)
class Pieces:
    """Convex polygons in planes of the block.

    Parameters
    ----------
    origin : (n, 3) array
    axes : (n, 2, 3) array
        Two unit vectors at right angles that span each plane.
    corners : (n, k, 2) array
        Of the polygons in turn, in the axes; some may be repeated.
    labels : (n, m) array of int
        What is known of each piece.
    """

    origin: Array
    axes: Array
    corners: Array
    labels: Indices

    def __len__(self) -> int:
        return len(self.corners)

    def of(self, chosen: NDArray[np.generic]) -> Pieces:
        """Choose some of the pieces, as often as they are named."""
        return Pieces(
            self.origin[chosen], self.axes[chosen], self.corners[chosen], self.labels[chosen]
        )

    @property
    def areas(self) -> Array:
        """(n,) in mm²."""
        a = self.corners - self.corners[:, :1]
        b = np.roll(a, -1, axis=1)
        return np.asarray(np.abs((a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]).sum(axis=1)) / 2.0)

    @property
    def middles(self) -> Array:
        """(n, 3) centres of area in the block frame, of pieces that have an area."""
        a = self.corners - self.corners[:, :1]
        b = np.roll(a, -1, axis=1)
        doubled = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
        flat = ((a + b) * doubled[..., None]).sum(axis=1) / (3.0 * doubled.sum(axis=1))[:, None]
        return self.at(flat[:, None] + self.corners[:, :1])[:, 0]

    def at(self, flat: Array) -> Array:
        """Map points (n, k, 2) of the planes to points (n, k, 3) of the block."""
        return self.origin[:, None] + flat @ self.axes

    def map_to(self, view: View) -> tuple[Array, Array]:
        """Work out matrices (n, 2, 2) and offsets (n, 2) of the map from each plane to a view's."""
        flat = view.axes[:2]
        return np.einsum("ij,nkj->nik", flat, self.axes), self.origin @ flat.T


def joined(some: Sequence[Pieces]) -> Pieces:
    """Join several lists; repeat corners to make their numbers equal."""
    most = max(pieces.corners.shape[1] for pieces in some)
    padded = [
        np.concatenate(
            [p.corners, np.repeat(p.corners[:, -1:], most - p.corners.shape[1], axis=1)], axis=1
        )
        for p in some
    ]
    return Pieces(
        np.concatenate([p.origin for p in some]),
        np.concatenate([p.axes for p in some]),
        np.concatenate(padded),
        np.concatenate([p.labels for p in some]),
    )


def clipped(pieces: Pieces, normals: Array, offsets: Array) -> Pieces:
    """Cut each piece off at its own half-plane n · x + c ≥ 0; drop what has no area."""
    height = np.einsum("nki,ni->nk", pieces.corners, normals) + offsets[:, None]
    is_cut = (height < 0.0).any(axis=1)
    some = pieces.of(np.nonzero(is_cut & (height > 0.0).any(axis=1))[0])
    whole = pieces.of(np.nonzero(~is_cut)[0])
    if not len(some):
        return whole
    corners = _cut_off(some.corners, height[is_cut & (height > 0.0).any(axis=1)])
    some = replace(some, corners=corners)
    return joined([whole, some.of(np.nonzero(some.areas > LEAST)[0])])


def _cut_off(corners: Array, height: Array) -> Array:
    """Cut polygons off where the height is below 0, by Sutherland and Hodgman's way (1974)."""
    after, up = np.roll(corners, -1, axis=1), np.roll(height, -1, axis=1)
    is_new = (corners != np.roll(corners, 1, axis=1)).any(axis=2)
    inside = height >= 0.0
    crosses = inside != (up >= 0.0)
    gap = np.where(crosses, height - up, 1.0)
    between = corners + (height / gap)[..., None] * (after - corners)
    count, k = height.shape
    out = np.stack([corners, between], axis=2).reshape(count, 2 * k, 2)
    is_there = np.stack([inside & is_new, crosses], axis=2).reshape(count, 2 * k)
    number = is_there.sum(axis=1)
    place = np.minimum(np.arange(int(number.max()))[None], number[:, None] - 1)
    first = np.argsort(~is_there, axis=1, kind="stable")
    chosen = np.take_along_axis(first, place, axis=1)
    return np.asarray(out[np.arange(count)[:, None], chosen])


def fanned(pieces: Pieces) -> Pieces:
    """Divide pieces into some of few corners: the array is as wide as the widest needs."""
    count = pieces.corners.shape[1]
    if count <= _FEW:
        return pieces
    slices = []
    for first in range(1, count - 1, _FEW - 2):
        chosen = [0, *(min(i, count - 1) for i in range(first, first + _FEW - 1))]
        slices.append(replace(pieces, corners=pieces.corners[:, chosen]))
    found = joined(slices)
    return found.of(np.nonzero(found.areas > LEAST)[0])


def split(pieces: Pieces, cells: Cells, view: View) -> Pieces:
    """Cut pieces up by the cells of a view; label each with its cell as well.

    Pieces of one piece in one cell come triangle by triangle.
    """
    matrix, offset = pieces.map_to(view)
    seen = np.einsum("nij,nkj->nki", matrix, pieces.corners) + offset[:, None]
    low, high = seen.min(axis=1), seen.max(axis=1)
    piece, triangle = cells.tree.query(shapely.box(*low.T, *high.T))
    normals, offsets = cells.sides
    heights = np.einsum("pki,pji->pkj", seen[piece], normals[triangle])
    heights += offsets[triangle][:, None]
    meets = (heights > 0.0).any(axis=1).all(axis=1)
    piece, triangle = piece[meets], triangle[meets]
    found = pieces.of(piece)
    label = np.column_stack([found.labels, cells.cell[triangle], triangle])
    found = replace(found, labels=label)
    for side in range(3):
        matrix, offset = found.map_to(view)
        own = found.labels[:, -1]
        pulled = np.einsum("ni,nij->nj", normals[own, side], matrix)
        level = np.einsum("ni,ni->n", normals[own, side], offset) + offsets[own, side]
        found = clipped(found, pulled, level)
    return replace(found, labels=found.labels[:, :-1])


def within(pieces: Pieces, normals: Array, offsets: Array) -> Pieces:
    """Cut pieces off outside half-spaces n · x <= offset, such as a stock's."""
    for normal, offset in zip(normals, offsets, strict=True):
        pulled = pieces.axes @ -normal
        pieces = clipped(pieces, pulled, offset - pieces.origin @ normal)
    return pieces
