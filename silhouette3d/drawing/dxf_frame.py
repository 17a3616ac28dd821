"""Where the numbers of a DXF object lie in the drawing, and pieces made from them.

Objects are kept exact: the matrix of a block reference is applied to the arcs
and Béziers themselves, which stay arcs and Béziers under any affine map.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import ArrayLike

from silhouette3d.drawing.curve import FULL_TURN, Arc, Array, Piece, Point, bulge_arc
from silhouette3d.drawing.spline import spline_pieces
from silhouette3d.units import MERGE

if TYPE_CHECKING:
    from ezdxf.math import BSpline, Vec3

__all__ = [
    "Chain",
    "Frame",
    "NotLevelError",
    "bulged",
    "circular",
    "conic",
    "moved",
    "pairs",
    "spline_chain",
]

Chain = tuple[Piece, ...]
"""Pieces, each beginning where the one before it ends."""

LEVEL: Final = 1e-4
"""An object that rises no more than this over its length counts as parallel to
the xy plane: seen from above it is shortened by 5e-9 of its length."""

STRAIGHT: Final = 1e-8
"""A bulge below this is a straight piece. The arc would stray from its chord by
5e-9 of the chord, which is no more than rounding at its far centre would give."""

SAME_ANGLE: Final = 1e-9
"""Radians. A sweep nearer than this to a full turn, or to none, is a full turn."""


class NotLevelError(ValueError):
    """The object does not lie parallel to the xy plane."""

    def __init__(self) -> None:
        super().__init__("it does not lie parallel to the xy plane")


@dataclass(frozen=True)
class Frame:
    """Where the coordinates that an object is stored in lie in the drawing.

    Parameters
    ----------
    matrix : (4, 4) array
        From those coordinates (column vectors) to the drawing's, in mm.
    """

    matrix: Array

    def __post_init__(self) -> None:
        self.matrix.flags.writeable = False

    @classmethod
    def scaled(cls, scale: float) -> Frame:
        """The drawing itself, whose numbers stand for `scale` mm each."""
        return cls(np.diag([scale, scale, scale, 1.0]))

    def within(self, matrix: ArrayLike) -> Frame:
        """The frame of what is placed in this one by a (4, 4) matrix."""
        return Frame(self.matrix @ np.asarray(matrix, float))

    def in_object_plane(self, entity: Any) -> Frame:
        """The frame of an object's own coordinate system (OCS), which its extrusion gives."""
        ocs = entity.ocs()
        axes = np.eye(4)
        axes[:3, :3] = np.column_stack([tuple(ocs.ux), tuple(ocs.uy), tuple(ocs.uz)])
        return self.within(axes)

    def points(self, stored: Iterable[Iterable[float]]) -> Array:
        """Stored points (n, 3) as points (n, 2) of the drawing.

        Raises
        ------
        NotLevelError
            If they do not lie at one height.
        """
        xyz = np.array([tuple(p) for p in stored]) @ self.matrix[:3, :3].T + self.matrix[:3, 3]
        extent = np.ptp(xyz, axis=0)
        if extent[2] > max(MERGE, LEVEL * math.hypot(extent[0], extent[1])):
            raise NotLevelError
        flat: Array = xyz[:, :2]
        return flat

    def plane(self, elevation: float) -> Array:
        """The map (2, 3) of the plane at a height over the stored xy plane.

        Raises
        ------
        NotLevelError
            If that plane is not parallel to the drawing's.
        """
        m = self.matrix
        if math.hypot(m[2, 0], m[2, 1]) > LEVEL * float(np.linalg.norm(m[:2, :2], 2)):
            raise NotLevelError
        return np.column_stack([m[:2, :2], m[:2, 2] * elevation + m[:2, 3]])


def pairs(points: Iterable[Sequence[float]]) -> list[Point]:
    """Points as plain pairs of numbers."""
    return [(float(p[0]), float(p[1])) for p in points]


def moved(pieces: Iterable[Piece], matrix: Array) -> Chain:
    """Each piece under an affine map, a (2, 3) matrix."""
    return tuple(p.moved(matrix) for p in pieces)


def circular(centre: Point, radius: float, start: float, end: float) -> Arc:
    """A circular arc, counter-clockwise; angles in degrees, the same ones for a circle."""
    if radius < 0.0:
        raise ValueError(f"its radius is {radius:g}")
    first = math.radians(start)
    return Arc.circular(centre, radius, first, first + _sweep(first, math.radians(end)))


def conic(centre: Vec3, major: Vec3, minor: Vec3, start: float, end: float, frame: Frame) -> Arc:
    """An elliptic arc from its stored centre and half-axes; the angles are its parameters."""
    frame.points([centre + major, centre + minor, centre - major, centre - minor])
    u, v = (frame.matrix[:2, :3] @ axis.xyz for axis in (major, minor))
    middle, axis_u, axis_v = pairs([frame.points([centre])[0], u, v])
    return Arc(middle, axis_u, axis_v, start, start + _sweep(start, end))


def _sweep(start: float, end: float) -> float:
    sweep = (end - start) % FULL_TURN
    return FULL_TURN if min(sweep, FULL_TURN - sweep) < SAME_ANGLE else sweep


def bulged(vertices: Sequence[tuple[float, float, float]], *, closed: bool) -> Chain:
    """A polyline of (x, y, bulge), in its own plane."""
    around = [*vertices, vertices[0]] if closed and vertices else vertices
    return tuple(
        bulge_arc((x0, y0), (x1, y1), 0.0 if abs(bulge) < STRAIGHT else bulge)
        for (x0, y0, bulge), (x1, y1, _) in pairwise(around)
    )


def spline_chain(spline: BSpline, frame: Frame, tolerance: float) -> Chain:
    """A B-spline; `tolerance` in mm is for one that can only be followed by points."""
    return spline_pieces(
        frame.points(p.xyz for p in spline.control_points),
        spline.degree,
        tuple(spline.knots()),
        tuple(spline.weights()),
        tolerance=tolerance,
    )
