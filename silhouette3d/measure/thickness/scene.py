"""A surface with its hierarchies, laid out as plain arrays for compiled code."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from silhouette3d.measure.thickness.cores import at_once
from silhouette3d.measure.thickness.surface import Surface
from silhouette3d.measure.thickness.terms import BETA
from silhouette3d.measure.thickness.tree import Tree, edge_pieces, tree_of, triangle_pieces
from silhouette3d.view import Array

Indices = NDArray[np.int64]


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


class Scene(NamedTuple):
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
    edge : (n, 17) array
        Of edges: the start, the way along, the normals of both sides, the one
        halfway between them, the length, and whether it is convex.
    corner : Cones
        Of corners.
    near : float
        What is nearer than this to a plane lies in it, in mm.
    """

    walls: Tree
    bends: Tree
    face: Array
    edge: Array
    corner: Cones
    near: float


def scene_of(surface: Surface, limit: float) -> Scene:
    """A surface made ready for balls up to `limit` mm across."""
    edges, points = surface.edges, surface.points
    shortest = max(2.0 * limit, surface.size / 200.0)
    walls, bends = at_once(lambda: _walls(surface, shortest), lambda: _bends(surface, shortest))
    parts = (edges.start, edges.along, edges.left, edges.right, edges.middle)
    return Scene(
        walls,
        bends,
        _faces(surface),
        np.column_stack([*parts, edges.length, edges.convex]),
        Cones(
            points.point,
            points.sign,
            points.first,
            np.column_stack([points.away, points.normal.reshape(-1, 6)]),
        ),
        1e-10 * surface.size,
    )


def _walls(surface: Surface, shortest: float) -> Tree:
    """Over triangles."""
    pieces, item = triangle_pieces(surface.corners, shortest)
    return tree_of(pieces, surface.normal[item], np.zeros(len(item)), item, 2.0 * BETA)


def _bends(surface: Surface, shortest: float) -> Tree:
    """Over edges and corners."""
    edges, points = surface.edges, surface.points
    end = edges.start + edges.along * edges.length[:, None]
    pieces, item = edge_pieces(edges.start, end, shortest)
    return tree_of(
        np.concatenate([pieces, np.repeat(points.point[:, None], 2, axis=1)]),
        np.concatenate([edges.middle[item], points.axis]),
        np.concatenate([edges.turning[item] / 2.0, points.spread]),
        np.concatenate([item, len(edges.start) + np.arange(len(points.point))]),
        2.0 * BETA,
    )


def _faces(surface: Surface) -> Array:
    """Triangles as in `Scene.face`."""
    corner, normal = surface.corners[:, 0], surface.normal
    second, third = (surface.corners[:, k] - corner for k in (1, 2))
    shares = np.concatenate([np.cross(third, normal), np.cross(normal, second)], axis=1)
    return np.column_stack([corner, shares / (2.0 * surface.area[:, None]), normal])
