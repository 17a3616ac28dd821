"""One thin place of a part."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from silhouette3d.view import Array

Kind = Literal["wall", "knife"]


@dataclass(frozen=True, eq=False)
class ThinRegion:
    """A place where a part is thinner than the limit.

    Parameters
    ----------
    kind : str
        "wall": two walls, or a wall and a notch, face each other. "knife": two
        walls meet in a convex edge of 44 degrees or less.
    thickness : float
        Where it is thinnest, in mm; 0 for a knife edge.
    angle : float or None
        Of the material at a knife edge where it is sharpest, in degrees.
    p, q : (3,) arrays
        The two points of the surface between which it is thinnest, in mm, block
        frame; both the middle of the sharpest edge for a knife edge.
    low, high : (3,) arrays
        Corners of the box around all that is thin here, in mm.
    area : float
        Of the surface that is thin here, both sides counted, in mm².
    length : float
        Of a knife edge in mm; 0 for a wall.
    """

    kind: Kind
    thickness: float
    angle: float | None
    p: Array
    q: Array
    low: Array
    high: Array
    area: float
    length: float

    def __post_init__(self) -> None:
        for values in (self.p, self.q, self.low, self.high):
            values.setflags(write=False)

    @property
    def at(self) -> Array:
        """(3,) halfway between p and q, in mm."""
        return np.asarray((self.p + self.q) / 2.0)

    @property
    def extent(self) -> Array:
        """(3,) size of the box along x, y, z in mm."""
        return np.asarray(self.high - self.low)
