"""A surface with its hierarchies, laid out as plain arrays for compiled code."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from silhouette3d.measure.thickness.surface import Surface
from silhouette3d.measure.thickness.terms import BETA
from silhouette3d.measure.thickness.tree import Tree, edge_boxes, tree_of, triangle_boxes
from silhouette3d.view import Array

Indices = NDArray[np.int64]


class Scene(NamedTuple):
    """A surface with its hierarchies, as arrays for compiled code.

    Parameters
    ----------
    walls : Tree
        Over triangles.
    bends : Tree
        Over edges, and corners, which are numbered after the edges.
    corners, normal : (n, 3, 3), (n, 3) arrays
        Of triangles.
    start, along, length, sides, middle, convex
        Of edges; `sides` (k, 2, 3) are the normals of both.
    point, sign, first, away, facets
        Of corners, as in `Corners`.
    near : float
        What is nearer than this to a plane lies in it, in mm.
    cosine, double : float
        Of `BETA` and twice that.
    """

    walls: Tree
    bends: Tree
    corners: Array
    normal: Array
    start: Array
    along: Array
    length: Array
    sides: Array
    middle: Array
    convex: NDArray[np.bool_]
    point: Array
    sign: Array
    first: Indices
    away: Array
    facets: Array
    near: float
    cosine: float
    double: float


def scene_of(surface: Surface, limit: float) -> Scene:
    """A surface made ready for balls up to `limit` mm across."""
    edges, points = surface.edges, surface.points
    shortest = max(2.0 * limit, surface.size / 200.0)
    low, high, item = triangle_boxes(surface.corners, shortest)
    walls = tree_of(low, high, surface.normal[item], np.zeros(len(item)), item, 2.0 * BETA)
    end = edges.start + edges.along * edges.length[:, None]
    low, high, item = edge_boxes(edges.start, end, shortest)
    bends = tree_of(
        np.concatenate([low, points.point]),
        np.concatenate([high, points.point]),
        np.concatenate([edges.middle[item], points.axis]),
        np.concatenate([edges.turning[item] / 2.0, points.spread]),
        np.concatenate([item, len(edges.start) + np.arange(len(points.point))]),
        2.0 * BETA,
    )
    return Scene(
        walls,
        bends,
        np.ascontiguousarray(surface.corners),
        np.ascontiguousarray(surface.normal),
        edges.start,
        edges.along,
        edges.length,
        np.stack([edges.left, edges.right], axis=1),
        edges.middle,
        edges.convex,
        points.point,
        points.sign,
        points.first,
        points.away,
        points.normal,
        1e-10 * surface.size,
        math.cos(BETA),
        math.cos(2.0 * BETA) - 1e-12,
    )
