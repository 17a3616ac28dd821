"""Volume, mass, centre of mass, inertia, and what a parcel weighs."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from silhouette3d.base.units import MM3_PER_CM3
from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.solid import Solid

GRAMS_PER_KG = 1000.0


@dataclass(frozen=True)
class MassProperties:
    """Mass of a solid, and how it is distributed.

    Parameters
    ----------
    solid : Solid
        In mm.
    density : float
        In g/cm³.
    volume_error : float
        Bound in mm³ on how far the volume may be off because curves were
        flattened.
    """

    solid: Solid
    density: float
    volume_error: float = 0.0

    @property
    def volume(self) -> float:
        """Volume in mm³."""
        return self.solid.volume

    @property
    def mass(self) -> float:
        """Mass in g."""
        return self.volume * self.density / MM3_PER_CM3

    @property
    def mass_error(self) -> float:
        """Bound in g that follows from the volume's; the density has its own."""
        return self.volume_error * self.density / MM3_PER_CM3

    @property
    def centre(self) -> Array:
        """(3,) centre of mass in mm, block frame."""
        return self.solid.centroid

    @cached_property
    def inertia(self) -> Array:
        """(3, 3) inertia tensor about the centre of mass, in g·mm², along the block's axes."""
        return second_moments_to_inertia(second_moments(self.solid)) * self.density / MM3_PER_CM3

    def parcel(self, quantity: int, packing: float = 0.0) -> Parcel:
        """Pack a parcel of some of these parts; `packing` in g."""
        return Parcel(self.mass, quantity, packing)


@dataclass(frozen=True)
class Parcel:
    """Masses of a parcel as the carrier weighs it, in g.

    Parameters
    ----------
    each : float
        Mass of one part.
    quantity : int
        Number of parts.
    packing : float
        Mass of box, filling and pallet.
    """

    each: float
    quantity: int = 1
    packing: float = 0.0

    @property
    def net(self) -> float:
        """Mass of the parts in g."""
        return self.each * self.quantity

    @property
    def gross(self) -> float:
        """Mass of parts and packing in g."""
        return self.net + self.packing

    @property
    def net_kg(self) -> float:
        """Mass of the parts in kg."""
        return self.net / GRAMS_PER_KG

    @property
    def gross_kg(self) -> float:
        """Mass of parts and packing in kg."""
        return self.gross / GRAMS_PER_KG


def second_moments(solid: Solid) -> Array:
    """Integrate ∫ r rᵀ dV about the centroid, (3, 3) in mm⁵.

    The sum over tetrahedra (centroid, a, b, c) of V/20 · (a aᵀ + b bᵀ + c cᵀ +
    s sᵀ) with s = a + b + c: the exact second moment of a tetrahedron with one
    corner at the origin (Tonon 2004, J. Math. Stat. 1(1):8–11, gives the same in
    components).
    """
    corners = solid.mesh.corners - solid.centroid
    sixth = np.einsum("ij,ij->i", corners[:, 0], solid.mesh.area_vectors) / 3.0
    total = corners.sum(axis=1)
    own = np.einsum("t,tki,tkj->ij", sixth, corners, corners)
    return np.asarray((own + np.einsum("t,ti,tj->ij", sixth, total, total)) / 20.0)


def second_moments_to_inertia(moments: Array) -> Array:
    """Turn ∫ r rᵀ dV into an inertia tensor: trace · 1 − moments."""
    return np.asarray(np.trace(moments) * np.eye(3) - moments)
