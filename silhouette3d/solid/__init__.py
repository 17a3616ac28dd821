"""Solids: the only room that knows the boolean engine."""

from silhouette3d.solid.carve import Carving, carve
from silhouette3d.solid.inside import homes
from silhouette3d.solid.mesh import Mesh
from silhouette3d.solid.solid import SHADOW_GRID, Solid, together
from silhouette3d.solid.waste import Waste, stock_solid

__all__ = [
    "SHADOW_GRID",
    "Carving",
    "Mesh",
    "Solid",
    "Waste",
    "carve",
    "homes",
    "stock_solid",
    "together",
]
