"""Which surfaces of the stock still stand for the block to be seated against in a setup.

In a setup the block lies against a square or a stop: two of the four upright sides of the
face, which meet in a corner. A side can serve while the body that is clamped still shows the
stock's own surface on it, over a stretch that is long enough along the side. What is seen of a
side from above is a set of intervals: those of its triangles, united.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from silhouette3d.cutting.holding import ON_SURFACE
from silhouette3d.solid import Solid
from silhouette3d.stock import Stock
from silhouette3d.view import Array, View

Side = Literal["left", "right", "near", "far"]

SIDES: Final[tuple[Side, ...]] = ("left", "right", "near", "far")

DATUM: Final[tuple[Side, Side]] = ("left", "near")
"""The two sides that meet in the datum, the lower left corner of the face."""

CORNERS: Final[tuple[tuple[Side, Side], ...]] = (
    DATUM,
    ("right", "near"),
    ("left", "far"),
    ("right", "far"),
)
"""The corners of a face, each by the two sides that meet in it; the datum's first."""

_WAYS: Final[dict[Side, tuple[int, int]]] = {
    "left": (0, 0),
    "right": (0, 1),
    "near": (1, 0),
    "far": (1, 1),
}
"""Across or away, and which end of that."""


@dataclass(frozen=True)
class Seats:
    """How long a body stands on each upright side of the face.

    Parameters
    ----------
    standing : mapping
        For each side the longest stretch in mm, and what counts as long enough.
    """

    standing: dict[Side, tuple[float, float]]

    def serves(self, side: Side) -> bool:
        """Whether a side is long enough to be seated against."""
        long, enough = self.standing[side]
        return long >= enough

    @property
    def corner(self) -> tuple[Side, Side] | None:
        """The first corner whose two sides both serve; None if there is none."""
        return next((c for c in CORNERS if all(map(self.serves, c))), None)


def has_flat_sides(stock: Stock, view: View) -> bool:
    """Whether the stock stands upright in a view between four flat sides: a block, seen square."""
    return stock.diameter is None and bool(np.abs(view.axes).max(axis=1).min() > 1.0 - 1e-9)


def seats(body: Solid, stock: Stock, view: View, least: float) -> Seats:
    """Measure what is left of the stock's own surface on the four sides round a face.

    Parameters
    ----------
    body : Solid
        What is clamped.
    stock : Stock
        As it was, with upright flat sides in this view.
    view : View
        Of the setup.
    least : float
        In mm. A stretch that is long enough; of a side shorter than twice that, half the side.
    """
    face = stock.face(view)
    corners = view.to_view(body.mesh.corners.reshape(-1, 3)).reshape(-1, 3, 3)
    found: dict[Side, tuple[float, float]] = {}
    for side, (axis, end) in _WAYS.items():
        at = face.corner[axis] + end * face.size[axis]
        on = (np.abs(corners[:, :, axis] - at) <= ON_SURFACE).all(axis=1)
        along = corners[on][:, :, 1 - axis]
        enough = min(least, face.size[1 - axis] / 2.0)
        found[side] = (_longest(along.min(axis=1), along.max(axis=1)), enough)
    return Seats(found)


def _longest(low: Array, high: Array) -> float:
    """The length of the longest stretch that intervals cover without a gap."""
    if not len(low):
        return 0.0
    order = np.argsort(low)
    low, high = low[order], np.maximum.accumulate(high[order])
    begins = np.r_[True, low[1:] > high[:-1] + ON_SURFACE]
    ends = np.r_[begins[1:], True]
    return float((high[ends] - low[begins]).max())
