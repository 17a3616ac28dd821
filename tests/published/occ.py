"""Parts of outlines by Open CASCADE, another kernel: prisms, their common solid, its figures.

Nothing of the package is used, neither its views nor its placing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_MakeEdge,
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakePolygon,
    BRepBuilderAPI_MakeWire,
)
from OCP.BRepGProp import BRepGProp
from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakePrism
from OCP.gp import gp_Ax2, gp_Circ, gp_Dir, gp_Pln, gp_Pnt, gp_Vec
from OCP.GProp import GProp_GProps
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopExp import TopExp_Explorer

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Sight:
    """A view, by where one looks and what is up."""

    look: ArrayLike
    up: ArrayLike

    @property
    def frame(self) -> Array:
        """(3, 3) rows right, up and towards the eye."""
        look, up = (np.asarray(v, float) for v in (self.look, self.up))
        look = look / np.linalg.norm(look)
        up = up - (up @ look) * look
        up = up / np.linalg.norm(up)
        return np.array([np.cross(look, up), up, -look])


SIGHTS = {
    "front": Sight((0, 1, 0), (0, 0, 1)),
    "rear": Sight((0, -1, 0), (0, 0, 1)),
    "right": Sight((-1, 0, 0), (0, 0, 1)),
    "left": Sight((1, 0, 0), (0, 0, 1)),
    "top": Sight((0, 0, -1), (0, 1, 0)),
    "bottom": Sight((0, 0, 1), (0, -1, 0)),
}


class Face:
    """The bounding rectangle of a block's shadow: its lower left corner is where drawings start."""

    def __init__(self, sight: Sight, size: Sequence[float]) -> None:
        self.frame = sight.frame
        corners = np.stack(np.meshgrid(*[(0.0, s) for s in size]), axis=-1).reshape(-1, 3)
        seen = corners @ self.frame.T
        self.low, high = seen.min(axis=0), seen.max(axis=0)
        self.width, self.height, self.depth = (float(s) for s in high - self.low)

    def point(self, u: float, v: float) -> gp_Pnt:
        """In the block, a millimetre beyond the far side."""
        at = np.array([u + self.low[0], v + self.low[1], self.low[2] - 1.0]) @ self.frame
        return gp_Pnt(*(float(x) for x in at))

    @property
    def towards(self) -> Array:
        return np.asarray(self.frame[2])

    def plane(self) -> gp_Pln:
        return gp_Pln(self.point(0.0, 0.0), gp_Dir(*(float(x) for x in self.towards)))

    def prism(self, face: Any) -> Any:
        """Through the block and a millimetre beyond on either side."""
        along = self.towards * (self.depth + 2.0)
        return BRepPrimAPI_MakePrism(face, gp_Vec(*(float(x) for x in along))).Shape()

    def polygon_prism(self, polygon: shapely.Polygon) -> Any:
        """Of a polygon with holes."""
        polygon = shapely.orient_polygons(polygon)  # holes the other way round
        made = BRepBuilderAPI_MakeFace(self.plane(), self._wire(polygon.exterior))
        for ring in polygon.interiors:
            made.Add(self._wire(ring))
        return self.prism(made.Face())

    def disc_prism(self, u: float, v: float, radius: float) -> Any:
        """Of a true circle."""
        axes = gp_Ax2(self.point(u, v), gp_Dir(*(float(x) for x in self.towards)))
        edge = BRepBuilderAPI_MakeEdge(gp_Circ(axes, radius)).Edge()
        wire = BRepBuilderAPI_MakeWire(edge).Wire()
        return self.prism(BRepBuilderAPI_MakeFace(self.plane(), wire).Face())

    def _wire(self, ring: shapely.LinearRing) -> Any:
        made = BRepBuilderAPI_MakePolygon()
        for u, v in ring.coords[:-1]:
            made.Add(self.point(u, v))
        made.Close()
        return made.Wire()


def common(size: Sequence[float], prisms: Sequence[Any]) -> Any:
    """What a block and all prisms have in common."""
    shape = BRepPrimAPI_MakeBox(*(float(s) for s in size)).Shape()
    for prism in prisms:
        shape = BRepAlgoAPI_Common(shape, prism).Shape()
    return shape


@dataclass(frozen=True)
class Figures:
    """Of a shape, as Open CASCADE integrates them: mm³, mm², mm, mm⁵ about the centre."""

    volume: float
    area: float
    centre: Array
    inertia: Array
    bodies: int


def figures(shape: Any) -> Figures:
    """Of all solids in a shape."""
    volume, surface = GProp_GProps(), GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, volume)
    BRepGProp.SurfaceProperties_s(shape, surface)
    centre, matrix = volume.CentreOfMass(), volume.MatrixOfInertia()
    solids = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_SOLID)
    bodies = 0
    while solids.More():
        bodies += 1
        solids.Next()
    return Figures(
        volume.Mass(),
        surface.Mass(),
        np.array([centre.X(), centre.Y(), centre.Z()]),
        np.array([[matrix.Value(i, j) for j in (1, 2, 3)] for i in (1, 2, 3)]),
        bodies,
    )
