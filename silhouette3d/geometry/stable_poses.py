"""Stable poses: on which sides a body stands, and how far it can be tilted before it falls.

Problem: find every way in which a rigid body stands on a table, the firmest first.

Method: it touches the table with a face of its convex hull, and stands if the foot of the
perpendicular from its centre of mass lies inside that face. Tilted about an edge of the face, it
falls as soon as its centre of mass has passed over that edge: at the angle whose tangent is the
distance of the foot from the edge divided by the height of the centre. The least of these over all
edges is the tipping angle. It takes for granted that the body does not slide.

Lemma: every body has a pose: the face nearest to the centre of mass holds the foot, or another
face would be nearer.

Complexity: that of the hull, O(n log n) for n corners (qhull, in practice), and O(n) for each
pose.

Reference: elementary statics, in any textbook (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import shapely
from scipy.spatial import ConvexHull, QhullError
from shapely import Polygon

from silhouette3d.geometry.backend_errors import BackendError
from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.tolerances import MERGE, SHARE

__all__ = ["Pose", "pose_on", "poses", "side_of"]

FLAT: Final = MERGE
"""mm. Corners this near to a plane lie on it. Faces are drawn on a grid a thousand times
finer, and no table is as flat."""

_SLANTED: Final = 1e-6
"""A component of a unit vector below which it does not lean that way."""

DOWN: Final = (0.0, 0.0, -1.0)
"""What is down in the block frame."""

_SIDES: Final = (("right", "left"), ("rear", "front"), ("top", "bottom"))


@dataclass(frozen=True, eq=False)
class Pose:
    """A body on a table.

    Parameters
    ----------
    down : array
        (3,) unit vector in the frame of the body: what points down.
    corners : array
        (n, 3) all corners of the body's convex hull in mm.
    centre : array
        (3,) centre of mass in mm.
    """

    down: Array
    corners: Array
    centre: Array

    def __post_init__(self) -> None:
        for values in (self.down, self.corners, self.centre):
            values.flags.writeable = False

    @cached_property
    def turn(self) -> Array:
        """(3, 3) rotation that brings `down` to −z, by the shortest way."""
        if (
            self.down[2] > 0.5
        ):  # nearly upside down: over the x axis first, then the rest of the way
            flip = np.diag([1.0, -1.0, -1.0])
            return np.asarray(_shortest(flip @ self.down) @ flip)
        return _shortest(self.down)

    @cached_property
    def placed(self) -> Array:
        """(3, 4) map that stands the body on z = 0 with its bounding box about x = y = 0."""
        turned = self.corners @ self.turn.T
        low, high = turned.min(axis=0), turned.max(axis=0)
        move = [-(low[0] + high[0]) / 2.0, -(low[1] + high[1]) / 2.0, -low[2]]
        return np.column_stack([self.turn, move])

    @cached_property
    def support(self) -> shapely.Geometry:
        """Footprint seen from above as placed: a polygon, or less than one."""
        upright = self.corners @ self.placed[:, :3].T + self.placed[:, 3]
        touching = shapely.MultiPoint(upright[upright[:, 2] <= FLAT][:, :2])
        return touching.convex_hull

    @property
    def height(self) -> float:
        """Height of the centre of mass above the table in mm."""
        return float((self.placed[:, :3] @ self.centre + self.placed[:, 3])[2])

    @property
    def tipping_angle(self) -> float:
        """Degrees by which it can be tilted in any direction; 0 if it does not stand."""
        foot = shapely.Point((self.placed[:, :3] @ self.centre + self.placed[:, 3])[:2])
        if not isinstance(self.support, Polygon) or not shapely.contains(self.support, foot):
            return 0.0
        inside = float(shapely.distance(shapely.boundary(self.support), foot))
        return math.degrees(math.atan2(inside, self.height))

    @property
    def side(self) -> str:
        """Words for the side that is down."""
        return side_of(self.down)


def _shortest(down: Array) -> Array:
    """Find the rotation that brings a unit vector to −z, for one that does not point up."""
    across = np.cross(down, DOWN)
    x, y, z = across
    skew = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    return np.asarray(np.eye(3) + skew + skew @ skew / (1.0 + float(down @ DOWN)))


def pose_on(body: Solid, down: Array | tuple[float, float, float] = DOWN) -> Pose:
    """Set a body with some direction down, whether it stands so or not.

    Parameters
    ----------
    body : Solid
        Of one piece.
    down : (3,) array
        Of any length; by default the block's own down.
    """
    vector = np.array(down, float)
    return Pose(vector / np.linalg.norm(vector), _corners(_hull(body), body), body.centroid.copy())


def poses(body: Solid) -> tuple[Pose, ...]:
    """Find every way in which a body stands, the largest tipping angle first.

    Of equally stable ones those come first that need the least turning, and of those
    the front before the rear.

    Parameters
    ----------
    body : Solid
        Of one piece, of the same density throughout.
    """
    hull = _hull(body)
    corners, centre = _corners(hull, body), body.centroid
    found: dict[tuple[float, ...], Pose] = {}
    for facet in _below(hull, body.mesh.vertices, centre):
        pose = Pose(hull.equations[facet, :3] + 0.0, corners, centre.copy())
        if pose.tipping_angle > 0.0:
            found.setdefault(tuple(np.round(pose.down, 6) + 0.0), pose)
    return tuple(sorted(found.values(), key=_by_firmness))


def _by_firmness(pose: Pose) -> tuple[float, ...]:
    """Sort equal angles, to a millionth of a degree, by what is down: bottom, front, left first."""
    x, y, z = np.round(pose.down, 6) + 0.0
    return -round(pose.tipping_angle, 6), float(z), float(y), float(x)


def side_of(direction: Array) -> str:
    """Name the side of a block that lies in a direction.

    >>> side_of(np.array([0.0, 0.0, -1.0])), side_of(np.array([0.6, 0.0, -0.8]))
    ('bottom', 'bottom right')
    """
    names = [
        pair[int(direction[axis] < 0.0)]
        for axis, pair in enumerate(_SIDES)
        if abs(direction[axis]) > _SLANTED
    ]
    return " ".join(reversed(names))


def _hull(body: Solid) -> ConvexHull:
    try:
        return ConvexHull(body.mesh.vertices)
    except QhullError as error:
        raise BackendError(error) from error


def _corners(hull: ConvexHull, body: Solid) -> Array:
    return np.array(body.mesh.vertices[hull.vertices])


def _below(hull: ConvexHull, vertices: Array, centre: Array) -> list[int]:
    """List the triangles of a hull in which the foot of the perpendicular from a point lies."""
    a, b, c = (vertices[hull.simplices[:, k]] - centre for k in range(3))
    normals = hull.equations[:, :3]
    weights = np.stack([np.einsum("ij,ij->i", normals, np.cross(p, q)) for p, q in _pairs(a, b, c)])
    weights *= np.sign(weights.sum(axis=0))
    # on the seam of two triangles that make up one face it lies in both
    inside = (weights >= -SHARE * np.abs(weights).sum(axis=0)).all(axis=0)
    return [int(i) for i in np.nonzero(inside)[0]]


def _pairs(a: Array, b: Array, c: Array) -> tuple[tuple[Array, Array], ...]:
    return (a, b), (b, c), (c, a)
