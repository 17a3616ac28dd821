"""Solids: the only room that knows the boolean engine."""

from silhouette3d.solid.carve import Waste, carve
from silhouette3d.solid.solid import Mesh, Solid

__all__ = ["Mesh", "Solid", "Waste", "carve"]
