"""Say what "thin" means in numbers, and describe one thin place."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from silhouette3d.geometry.frames import Array

# --- What "thin" means in numbers, in space and in the plane


BETA: Final = math.radians(22.0)
"""How far the way from p to q may be off the inward normal at p and off the outward one at q.

Twice this is 44 degrees and not 45, or every mitre would count."""

SLACK: Final = 1e-4
"""mm, and share of the limit. What is thinner by less counts as thick enough: walls drawn as thick
as the limit must not alarm because of the last digits."""

PER_LIMIT: Final = 4.0
"""Samples on a length of the limit."""

UNSEEN: Final = 2.0 + 2.0 / math.sqrt(5.0)
"""Share of the squared spacing: a patch of a triangle larger than this holds a sample."""

FAN: Final = math.radians(15.0)
"""Between the normals of samples in a concave corner or edge."""


def spacing(limit: float) -> float:
    """Choose the distance between samples, in mm."""
    return limit / PER_LIMIT


def unseen(limit: float) -> float:
    """Bound the area in mm² of a patch of a flat wall that may hold no sample.

    A patch is what two lines parallel to the shortest side of a triangle of the surface
    and two through its opposite corner cut out of it; `sampling` has the proof. A thin
    place that covers a larger one is never overlooked, wherever the samples fall.
    """
    return UNSEEN * spacing(limit) ** 2


def cap(limit: float) -> float:
    """Choose the diameter from which on a ball is large enough, in mm."""
    return float(limit) - SLACK * min(1.0, limit)


def check_limit(limit: float) -> None:
    """Refuse a limit that is no length.

    Raises
    ------
    ValueError
        If it is not a positive number.
    """
    if not (math.isfinite(limit) and limit > 0.0):
        raise ValueError(f"a thickness of {limit!r} mm is no limit")


# --- One thin place of a part


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
    ends : (n, 2, 3) array
        More pairs of points, spread over the region, between which it is hardly thicker, in mm.
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
    ends: Array

    def __post_init__(self) -> None:
        for values in (self.p, self.q, self.low, self.high, self.ends):
            values.setflags(write=False)

    @property
    def at(self) -> Array:
        """(3,) halfway between p and q, in mm."""
        return np.asarray((self.p + self.q) / 2.0)

    @property
    def extent(self) -> Array:
        """(3,) size of the box along x, y, z in mm."""
        return np.asarray(self.high - self.low)
