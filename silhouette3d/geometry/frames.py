"""Viewing frames: drawing (u, v) to block (x, y, z) and back.

A view is a direction of sight and which way is up on the paper. The named
views are those of ISO 128-3; each is written here once, as look and up.

A view by angle begins with a named one. Then the eye walks round the block
about its upright axis z, counter-clockwise as seen from above, by `turned`
degrees, and the drawing goes with it. Then the eye rises above the horizontal
by `tipped` degrees, about the drawing's own horizontal, and still looks at the
block: 90 sees it from above. So the front turned by 90 is the right, and
tipped by 90 the top. From the top or the bottom, turning turns the drawing on
the face, and there is nothing to tip: the eye is at its highest or lowest.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from silhouette3d.geometry.misfit import MisfitError
from silhouette3d.geometry.tolerances import ANGLE

Array = NDArray[np.float64]


@dataclass(frozen=True)
class View:
    """A direction from which an outline is seen and cut.

    Parameters
    ----------
    name : str
        One of the six names, or words for a view of its own: ``front, turned 37°``,
        ``along (0.6, 0, 0.8)``, or any.
    look : tuple of float
        Unit vector of sight, from the eye into the block, in block axes.
    up : tuple of float
        Unit vector, square to `look`, that points up on the drawing.
    """

    name: str
    look: tuple[float, float, float]
    up: tuple[float, float, float]

    @property
    def plain_name(self) -> str:
        """The name as it is typed: ``front turned -37``."""
        return self.name.replace(",", "").replace("°", "").replace("−", "-")

    @property
    def right(self) -> tuple[float, float, float]:
        """Unit vector that points right on the drawing: look × up."""
        return _triple(np.cross(self.look, self.up) + 0.0)  # + 0.0 turns -0.0 into 0.0

    @cached_property
    def axes(self) -> Array:
        """(3, 3) rows u, v and towards the eye (−look): a right-handed frame."""
        axes = np.array([self.right, self.up, np.negative(self.look)]) + 0.0
        axes.setflags(write=False)
        return axes

    def to_view(self, points: ArrayLike) -> Array:
        """Turn block points (n, 3) in mm into (u, v, w), w towards the eye."""
        return np.asarray(np.asarray(points, float) @ self.axes.T)

    def to_block(self, points: ArrayLike) -> Array:
        """Turn view points (n, 3), as (u, v, w) in mm, back into block axes."""
        return np.asarray(np.asarray(points, float) @ self.axes)

    @property
    def is_square(self) -> bool:
        """True if all axes run along the block's: a named view, or one spun by quarters."""
        return bool((np.sort(np.abs(self.axes), axis=1)[:, :2] <= ANGLE).all())

    def is_parallel(self, other: View) -> bool:
        """Tell whether both cut along the same line, from either end."""
        return bool(np.linalg.norm(np.cross(self.look, other.look)) < ANGLE)


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
    """Make a view of one's own from any look and any up that is not along it.

    `up` is made square to `look`; neither need be of unit length. Without a
    name it gets the words of the view by angle that it is, if it is one.

    Raises
    ------
    MisfitError
        If a vector has no direction or the two are parallel.

    Examples
    --------
    >>> view_along((1, 1, 0), (0, 0, 1)).name
    'front, turned −45°'
    """
    sight, upward = _unit(look, "look"), _unit(up, "up")
    square = upward - (upward @ sight) * sight
    length = np.linalg.norm(square)
    if length <= ANGLE:
        raise MisfitError("view-up-along-look", *upward.tolist(), *sight.tolist())
    square = square / length
    name = name or _angles_of(sight, square) or "along " + _text(sight)
    return View(name, _triple(sight), _triple(square))


def view_from(side: str, turned: float = 0.0, tipped: float = 0.0) -> View:
    """Make a view by angle: a named view, turned about the block's upright axis, then tipped.

    Parameters
    ----------
    side : str
        One of the six names.
    turned : float
        Degrees by which the eye walks round the block about z, counter-clockwise
        as seen from above; the drawing goes with it.
    tipped : float
        Degrees by which the eye is then raised above the horizontal, or lowered
        where negative; from -90 to 90, and 0 from the top or the bottom.

    Returns
    -------
    View
        Exact for multiples of 30 and 45 degrees; a named one where it is that.

    Raises
    ------
    MisfitError
        If a view from the top or the bottom is tipped, or one by more than 90.

    Examples
    --------
    >>> view_from("front", 37).name, view_from("front", 90).name
    ('front, turned 37°', 'right')
    """
    if tipped and side not in LEVEL:
        raise MisfitError("view-not-level", subject=side)
    if not abs(tipped) <= 90.0:
        raise MisfitError("view-tipped-too-far", tipped)
    c, s = _cosine(turned), _sine(turned)
    look, up = (np.array(axis) @ [[c, s, 0], [-s, c, 0], [0, 0, 1]] for axis in _NAMED[side])
    if tipped:
        c, s = _cosine(tipped), _sine(tipped)
        look, up = c * look - s * up, s * look + c * up
    found = View(_in_words(side, math.fmod(turned, 360.0), tipped), _triple(look), _triple(up))
    return next((one for one in VIEWS.values() if one.axes.tolist() == found.axes.tolist()), found)


LEVEL: Final = ("front", "right", "rear", "left")
"""The named views that are seen level, each a quarter turn from the one before."""


def _angles_of(look: Array, up: Array) -> str:
    """Word a frame as a view by angle; nothing if it is none: u leans, or is upside down."""
    right = np.cross(look, up)
    if abs(right[2]) > ANGLE or up[2] < -ANGLE:
        return ""
    round_the_block = math.degrees(math.atan2(right[1], right[0]))
    if abs(up[2]) <= ANGLE:
        side = "top" if look[2] < 0.0 else "bottom"
        return _in_words(side, _rounded(round_the_block), 0.0)
    ways = [(_rounded(round_the_block - 90.0 * i), side) for i, side in enumerate(LEVEL)]
    turned, side = min(ways, key=lambda way: abs(way[0]))
    return _in_words(side, turned, _rounded(math.degrees(math.atan2(-look[2], up[2]))))


def _rounded(degrees: float) -> float:
    """Bring degrees into (-180, 180], without the digits that only computing adds."""
    return -((180.0 - round(degrees, 6)) % 360.0 - 180.0) + 0.0


def _in_words(side: str, turned: float, tipped: float) -> str:
    angles = {"turned": turned, "tipped": tipped}
    told = (f"{word} {_number(angle)}°" for word, angle in angles.items() if angle)
    return ", ".join([side, *told])


def _number(degrees: float) -> str:
    return f"{degrees:g}".replace("-", "−")


_SINES: Final = {0.0: 0.0, 30.0: 0.5, 45.0: math.sqrt(0.5), 60.0: math.sqrt(0.75), 90.0: 1.0}
"""So that views a quarter or half a quarter turn apart are so to the last digit."""


def _sine(degrees: float) -> float:
    """Work out the sine of an angle in degrees, exact where it can be."""
    turn = degrees % 360.0
    within = min(turn % 180.0, 180.0 - turn % 180.0)
    size = _SINES.get(within, math.sin(math.radians(within)))
    return size if turn < 180.0 else -size


def _cosine(degrees: float) -> float:
    return _sine(math.fmod(degrees, 360.0) + 90.0)


def _unit(vector: ArrayLike, name: str) -> Array:
    values = np.asarray(vector, float)
    largest = float(np.abs(values).max(initial=0.0))
    if values.shape != (3,) or not 0.0 < largest < np.inf:
        raise MisfitError("view-without-direction", subject=name)
    values = values / largest  # so that no square is too large or too small for a number
    return np.asarray(values / np.linalg.norm(values))


def _triple(vector: Array) -> tuple[float, float, float]:
    """Clear a unit vector of components that only rounding leaves."""
    x, y, z = (float(value) if abs(value) > _ROUNDING else 0.0 for value in vector)
    return x, y, z


def _text(vector: Array) -> str:
    return "(" + ", ".join(f"{value:g}" for value in vector) + ")"
