"""The points of a perturbed copy put back to where its walls were drawn.

Problem: a copy of a solid in general position, every wall moved by its own small step, is right in
its structure; wanted is the solid whose walls lie where they were drawn.

Method: seen along its direction, each outline is a set of walls (lines) that meet at corners. A
point of the copy lies at a corner of an outline, which says two of its coordinates, or on a wall,
which says one; in general position exactly three are said. The same for the walls as drawn gives a
linear system for the point. Where walls meet at less than `SHALLOW`, the direction that they hardly
tell is left as it is.

Invariant: a point that was on a moved wall lies on that wall as drawn, to `off`. Where each
triangle then lies in one plane that was drawn, the new surface is made of the drawn walls; as the
steps go to nothing, the copy becomes it.

Complexity: O(n log n) for n points, by trees over walls and corners.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree

from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.indices import items_of
from silhouette3d.geometry.mesh import Indices, Mesh
from silhouette3d.geometry.profile_boundary import ProfileBoundary
from silhouette3d.geometry.tolerances import GRID

SHALLOW: Final = 1e-3
"""Sine of the angle between walls from which on they tell where they meet."""

_ROUNDS: Final = 3
"""Of solving; each takes what rounding has left of the one before."""


@dataclass(frozen=True, eq=False)
class Walls:
    """The walls of one outline, or of the stock, moved and drawn.

    Parameters
    ----------
    axes : (3, 3) array
        Of the view: rows u, v and towards the eye.
    moved : ProfileBoundary
        Where they are, in (u, v) of the block frame.
    drawn : (n, 2) array
        Where the corners of `moved` were drawn.
    """

    axes: Array
    moved: ProfileBoundary
    drawn: Array

    @classmethod
    def of(cls, axes: Array, moved: shapely.Geometry, drawn: shapely.Geometry) -> Walls:
        """Match each corner of a moved area with the nearest one of the area as drawn."""
        side, corners = ProfileBoundary.of(moved), ProfileBoundary.of(drawn).points
        return cls(axes, side, corners[KDTree(corners).query(side.points)[1]])

    @property
    def planes(self) -> tuple[Array, Array]:
        """Unit normals (n, 3) of the walls as drawn, and how far along them they lie (n,) in mm."""
        side = self.moved
        along = self.drawn[side.next] - self.drawn
        length = np.linalg.norm(along, axis=1)
        along = np.where((length < GRID)[:, None], side.steps, along)  # a point has no direction
        across = np.column_stack([along[:, 1], -along[:, 0]])
        across /= np.linalg.norm(across, axis=1)[:, None]
        return across @ self.axes[:2], np.einsum("ij,ij->i", across, self.drawn)

    def touched(self, points: Array, near: float) -> tuple[Indices, Indices, Indices, Indices]:
        """Find which points lie at which corner, and which others on which wall."""
        side = self.moved
        flat = points @ self.axes[:2].T
        found = KDTree(side.points).query(flat, distance_upper_bound=near)
        away, corner = (np.asarray(each) for each in found)
        at = np.isfinite(away)
        rest = np.flatnonzero(~at)
        ends = np.stack([side.points, side.points[side.next]], axis=1)
        tree = shapely.STRtree(np.asarray(shapely.linestrings(ends)))
        which, wall = tree.query(shapely.points(flat[rest]), predicate="dwithin", distance=near)
        return np.flatnonzero(at), corner[at], rest[which], wall


@dataclass(frozen=True, eq=False)
class Level:
    """A plane square to a direction, moved and drawn; in mm along that unit vector (3,)."""

    normal: Array
    moved: float
    drawn: float


@dataclass(frozen=True, eq=False)
class Snapped:
    """Points put back to where they were drawn.

    Parameters
    ----------
    places : (n, 3) array
        In mm.
    off : float
        How far a point lies at most from a wall that it should be on, in mm.
    is_on_wall : (m,) array of bool
        Whether each triangle lies in the plane of a wall that one of its points was on.
    """

    places: Array
    off: float
    is_on_wall: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class _Ties:
    """Equations for points: normal (k, 3) · point = value (k,)."""

    point: Indices
    normal: Array
    value: Array

    @classmethod
    def joined(cls, parts: Sequence[_Ties]) -> _Ties:
        return cls(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(cls)))


def snapped(
    mesh: Mesh, walls: Sequence[Walls], levels: Sequence[Level], near: float, room: float
) -> Snapped:
    """Put the points of a perturbed copy back.

    Parameters
    ----------
    mesh : Mesh
        The copy.
    walls : sequence of Walls
        Of all outlines, and of the stock.
    levels : sequence of Level
        Planes of the stock that no outline has.
    near : float
        In mm. What is nearer to a moved wall than this lies on it.
    room : float
        In mm. What is nearer to a drawn wall than this lies on it.
    """
    on_walls, at_corners, beside = [], [], []
    for each in walls:
        normal, value = each.planes
        at, corner, point, wall = each.touched(mesh.vertices, near)
        on_walls.append(_Ties(point, normal[wall], value[wall]))
        for k in range(2):
            axis = np.broadcast_to(each.axes[k], (len(at), 3))
            at_corners.append(_Ties(at, axis, each.drawn[corner, k]))
        for wall in (corner, each.moved.preceding[corner]):
            beside.append(_Ties(at, normal[wall], value[wall]))
    for level in levels:
        at = np.flatnonzero(np.abs(mesh.vertices @ level.normal - level.moved) <= near)
        axis = np.broadcast_to(level.normal, (len(at), 3))
        on_walls.append(_Ties(at, axis, np.full(len(at), level.drawn)))
    places, off = _solved(mesh.vertices, _Ties.joined([*on_walls, *at_corners]))
    planes = _Ties.joined([*on_walls, *beside])
    return Snapped(places, off, _lie_in(mesh.triangles, places, planes, room))


def _solved(points: Array, ties: _Ties) -> tuple[Array, float]:
    """Solve for points that fulfil their equations, moved as little as that takes."""
    point, normal, value = ties.point, ties.normal, ties.value
    matrix = np.zeros((len(points), 3, 3))
    np.add.at(matrix, point, normal[:, :, None] * normal[:, None])
    # two walls give eigenvalues down to 1 - cos of their angle: about half its square
    sizes, ways = np.linalg.eigh(matrix)
    told = sizes > SHALLOW**2
    inverse = np.where(told, 1.0 / np.where(told, sizes, 1.0), 0.0)
    places = points
    for _ in range(_ROUNDS):
        right = np.zeros((len(points), 3))
        left = value - np.einsum("ij,ij->i", normal, places[point])
        np.add.at(right, point, normal * left[:, None])
        places = places + np.einsum("nij,nj,nkj,nk->ni", ways, inverse, ways, right)
    off = np.abs(value - np.einsum("ij,ij->i", normal, places[point]))
    return places, float(off.max(initial=0.0))


def _lie_in(triangles: Indices, places: Array, planes: _Ties, near: float) -> NDArray[np.bool_]:
    """Tell of each triangle (m,) whether it lies in one of the planes of one of its points."""
    order = np.argsort(planes.point, kind="stable")
    first = np.searchsorted(planes.point[order], np.arange(len(places) + 1))
    found = np.zeros(len(triangles), bool)
    for corner in range(3):
        left = np.flatnonzero(~found)
        row, plane = items_of(first, triangles[left, corner])
        row, plane = left[row], order[plane]
        for k in range(3):
            high = np.einsum("ij,ij->i", planes.normal[plane], places[triangles[row, k]])
            lies = np.abs(high - planes.value[plane]) <= near
            row, plane = row[lies], plane[lies]
        found[row] = True
    return found
