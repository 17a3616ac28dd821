"""Viewing frames: drawing (u, v) to block (x, y, z) and back.

A view is a direction of sight and which way is up on the paper. The named
views are those of ISO 128-3; each is written here once, as look and up.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from silhouette3d.errors import JobError

Array = NDArray[np.float64]


@dataclass(frozen=True)
class View:
    """A direction from which an outline is seen and cut.

    Parameters
    ----------
    name : str
        One of the six names, or what the job calls a view of its own.
    look : tuple of float
        Unit vector of sight, from the eye into the block, in block axes.
    up : tuple of float
        Unit vector, square to `look`, that points up on the drawing.
    """

    name: str
    look: tuple[float, float, float]
    up: tuple[float, float, float]

    @property
    def right(self) -> tuple[float, float, float]:
        """Unit vector that points right on the drawing: look × up."""
        x, y, z = np.cross(self.look, self.up) + 0.0  # + 0.0 turns -0.0 into 0.0
        return float(x), float(y), float(z)

    @cached_property
    def axes(self) -> Array:
        """(3, 3) rows u, v and towards the eye (−look): a right-handed frame."""
        axes = np.array([self.right, self.up, np.negative(self.look)]) + 0.0
        axes.setflags(write=False)
        return axes

    def to_view(self, points: ArrayLike) -> Array:
        """Block points (n, 3) in mm as (u, v, w), w towards the eye."""
        return np.asarray(np.asarray(points, float) @ self.axes.T)

    def to_block(self, points: ArrayLike) -> Array:
        """View points (n, 3) as (u, v, w) in mm, back in block axes."""
        return np.asarray(np.asarray(points, float) @ self.axes)

    def is_parallel(self, other: View) -> bool:
        """Whether both cut along the same line, from either end."""
        return bool(np.linalg.norm(np.cross(self.look, other.look)) < _SQUARE)


_SQUARE: Final = 1e-9
"""Sine of the angle below which two unit vectors count as parallel."""

_ROUNDING: Final = 1e-15
"""A component of a unit vector that is smaller is none: cos 90° is 6e-17 to a computer."""

_NAMED: Final[dict[str, tuple[tuple[float, float, float], tuple[float, float, float]]]] = {
    "front": ((0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
    "rear": ((0.0, -1.0, 0.0), (0.0, 0.0, 1.0)),
    "right": ((-1.0, 0.0, 0.0), (0.0, 0.0, 1.0)),
    "left": ((1.0, 0.0, 0.0), (0.0, 0.0, 1.0)),
    "top": ((0.0, 0.0, -1.0), (0.0, 1.0, 0.0)),
    "bottom": ((0.0, 0.0, 1.0), (0.0, -1.0, 0.0)),
}

VIEWS: Final[dict[str, View]] = {name: View(name, *axes) for name, axes in _NAMED.items()}
"""The six principal views by name."""


def view_along(look: ArrayLike, up: ArrayLike, name: str = "") -> View:
    """A view of one's own from any look and any up that is not along it.

    `up` is made square to `look`; neither need be of unit length.

    Raises
    ------
    JobError
        If a vector has no direction or the two are parallel.
    """
    sight, upward = _unit(look, "look"), _unit(up, "up")
    square = upward - (upward @ sight) * sight
    length = np.linalg.norm(square)
    if length <= _SQUARE:
        raise JobError(
            f"the up vector {_text(upward)} runs along the look vector {_text(sight)}",
            todo="choose an up that points up on the drawing",
        )
    square = square / length
    name = name or "along " + _text(sight)
    return View(name, _triple(sight), _triple(square))


def _unit(vector: ArrayLike, name: str) -> Array:
    values = np.asarray(vector, float)
    largest = float(np.abs(values).max(initial=0.0))
    if values.shape != (3,) or not 0.0 < largest < np.inf:
        raise JobError(f"the {name} vector of a view has no direction", todo="give three numbers")
    values = values / largest  # so that no square is too large or too small for a number
    return np.asarray(values / np.linalg.norm(values))


def _triple(vector: Array) -> tuple[float, float, float]:
    """A unit vector without components that only rounding leaves."""
    x, y, z = (float(value) if abs(value) > _ROUNDING else 0.0 for value in vector)
    return x, y, z


def _text(vector: Array) -> str:
    return "(" + ", ".join(f"{value:g}" for value in vector) + ")"
