"""Turning a block by hand from one setup to the next, in a shop's words.

A through-cut runs vertically in the machine. So in every setup the face that a
view shows lies up, the drawing's u runs to the operator's right and its v away
from the operator: what the drawing shows is what is seen on the table, from
above. That holds for a jet above a table as for a wire or a saw blade that
stands upright in it.

The operator's frame is therefore (right, away, up), which are the axes of the
view, and the turn between two setups follows from their two views alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal

import numpy as np

from silhouette3d.base.units import fixed
from silhouette3d.geometry.frames import VIEWS, Array, View

Axis = Literal["right", "away", "up"]
Place = Literal["up", "down", "near", "far", "right", "left"]

AXES: Final[tuple[Axis, ...]] = ("right", "away", "up")
"""The operator's frame, right-handed."""

LETTERS: Final[dict[str, str]] = {
    "front": "A",
    "top": "B",
    "left": "C",
    "right": "D",
    "bottom": "E",
    "rear": "F",
}
"""A letter for each side of the block: that of the view that shows it (ISO 128-3 designates the
views from the front, above, the left, the right, below and the rear by a to f)."""

_DIRECTIONS: Final[dict[Place, tuple[float, float, float]]] = {
    "up": (0.0, 0.0, 1.0),
    "down": (0.0, 0.0, -1.0),
    "near": (0.0, -1.0, 0.0),
    "far": (0.0, 1.0, 0.0),
    "right": (1.0, 0.0, 0.0),
    "left": (-1.0, 0.0, 0.0),
}

SAME: Final = 1e-6
"""Degrees. Smaller turns are none, and angles this near to quarter turns are such."""


@dataclass(frozen=True)
class Turn:
    """One turn about an axis of the operator's frame.

    Parameters
    ----------
    about : {"right", "away", "up"}
        The axis; it stays where it is while the block turns.
    degrees : float
        Right-handed about the axis, more than -180 and at most 180.
    """

    about: Axis
    degrees: float

    @property
    def matrix(self) -> Array:
        """(3, 3) rotation in the operator's frame."""
        quarter = self.degrees / 90.0
        if quarter == int(quarter):  # exact for quarter turns
            c, s = [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)][int(quarter) % 4]
        else:
            c, s = math.cos(math.radians(self.degrees)), math.sin(math.radians(self.degrees))
        fixed = AXES.index(self.about)
        i, j = (fixed + 1) % 3, (fixed + 2) % 3
        matrix = np.eye(3)
        matrix[i, i] = matrix[j, j] = c
        matrix[i, j], matrix[j, i] = -s, s
        return matrix

    @property
    def words(self) -> str:
        """Words for what to do, and for what is then to be seen.

        >>> Turn("right", 90.0).words
        'tip it towards you by a quarter turn: the face that was up now faces you'
        >>> Turn("away", -45.0).words
        'tip it to the left by 45°'
        """
        size = abs(self.degrees)
        if size == 180.0:
            return _HALF[self.about]
        way, seen = _WAYS[self.about, self.degrees > 0.0]
        if size == 90.0:
            return f"{way.format('by a quarter turn')}: {seen}"
        return way.format(f"by {degrees_text(size)}")


_WAYS: Final[dict[tuple[Axis, bool], tuple[str, str]]] = {
    ("right", True): ("tip it towards you {}", "the face that was up now faces you"),
    ("right", False): ("tip it away from you {}", "the face that faced you is now up"),
    ("away", True): ("tip it to the right {}", "the face that was on the left is now up"),
    ("away", False): ("tip it to the left {}", "the face that was on the right is now up"),
    ("up", True): (
        "spin it counter-clockwise {}, as seen from above",
        "the side that faced you is now on the right",
    ),
    ("up", False): (
        "spin it clockwise {}, as seen from above",
        "the side that faced you is now on the left",
    ),
}
"""What a turn by a positive or negative angle is called, and what a quarter of it leads to."""

_HALF: Final[dict[Axis, str]] = {
    "right": (
        "tip it over towards you by a half turn: the face that was up now lies down, "
        "the left side stays on the left"
    ),
    "away": (
        "roll it over sideways by a half turn: the face that was up now lies down, "
        "the side that faced you still faces you"
    ),
    "up": "spin it by a half turn: the same face is up, the side that faced you is now the far one",
}


@dataclass(frozen=True)
class Turning:
    """The turn that leads from the setup of one view to that of another.

    Parameters
    ----------
    before, after : View
        The views of the two setups.
    """

    before: View
    after: View

    @property
    def matrix(self) -> Array:
        """(3, 3) rotation in the operator's frame (right, away, up)."""
        return np.asarray(self.after.axes @ self.before.axes.T)

    @cached_property
    def turns(self) -> tuple[Turn, ...]:
        """The fewest turns that do it: none, a tip, a spin, a tip and a spin, or spin, tip, spin.

        The product of their matrices, the last one first, is `matrix`.
        """
        about_right, about_away = _tip_about_right(self.matrix), _tip_about_away(self.matrix)
        ways = [
            tuple(turn for turn in way if turn.degrees)
            for way in (*_ways(about_right, "right"), *_ways(about_away, "away"))
        ]
        return min(ways, key=_trouble)

    @property
    def words(self) -> str:
        """Words for what to do, as one sentence without its capital and its full stop.

        >>> Turning(VIEWS["front"], VIEWS["top"]).words
        'tip it towards you by a quarter turn: the face that was up now faces you'
        """
        if not self.turns:
            return "leave it as it lies: the same face is cut again"
        return "; then ".join(turn.words for turn in self.turns)


def sides_at(view: View, place: Place) -> tuple[str, ...]:
    """List the sides of the block that face a place in the setup of a view.

    One where a side points straight there, else the two or three between which
    the place lies, the nearest first.

    >>> sides_at(VIEWS["front"], "up"), sides_at(VIEWS["front"], "near")
    (('front',), ('bottom',))
    """
    there = np.asarray(_DIRECTIONS[place]) @ view.axes  # in block axes
    facing = {name: -float(np.dot(there, other.look)) for name, other in VIEWS.items()}
    found = [name for name in VIEWS if facing[name] > math.radians(SAME)]
    return tuple(sorted(found, key=lambda name: -round(facing[name], 9)))


def angle_off(view: View, place: Place, side: str) -> float:
    """Measure in degrees how far a side of the block points off a place in the setup of a view.

    >>> angle_off(VIEWS["front"], "up", "front"), angle_off(VIEWS["front"], "up", "left")
    (0.0, 90.0)
    """
    there = np.asarray(_DIRECTIONS[place]) @ view.axes
    outward = np.negative(VIEWS[side].look)
    apart = math.atan2(float(np.linalg.norm(np.cross(there, outward))), float(there @ outward))
    return math.degrees(apart)


def degrees_text(degrees: float) -> str:
    """Tell an angle to a hundredth, which a sine bar sets and a protractor does not.

    >>> degrees_text(45.0), degrees_text(12.3456)
    ('45°', '12.35°')
    """
    return fixed(degrees, 2) + "°"


def _trouble(turns: tuple[Turn, ...]) -> tuple[int, bool, float]:
    """Rank fewest turns first; of as many, the tip before the spin; then the least turning."""
    spins_first = bool(turns) and turns[0].about == "up"
    return len(turns), spins_first, round(sum(abs(turn.degrees) for turn in turns), 6)


def _ways(angles: tuple[float, float, float], axis: Axis) -> list[tuple[Turn, Turn, Turn]]:
    """Spin, tip, spin by some radians; and the same tipping the other way."""
    a, b, c = angles
    half = math.pi
    return [
        (Turn("up", _degrees(x)), Turn(axis, _degrees(y)), Turn("up", _degrees(z)))
        for x, y, z in ((a, b, c), (a + half, -b, c + half))
    ]


def _tip_about_right(matrix: Array) -> tuple[float, float, float]:
    """Find radians (a, b, c) so that to spin by a, tip about right by b, spin by c is the matrix.

    The proper Euler angles z-x-z about fixed axes, read off the last row and column.
    """
    level = math.hypot(matrix[2, 0], matrix[2, 1])
    tip = math.atan2(level, matrix[2, 2])
    if level < math.radians(SAME):  # the face stays up, or lies down: one spin will do
        return 0.0, 0.0 if matrix[2, 2] > 0.0 else math.pi, math.atan2(matrix[1, 0], matrix[0, 0])
    return (
        math.atan2(matrix[2, 0], matrix[2, 1]),
        tip,
        math.atan2(matrix[0, 2], -matrix[1, 2]),
    )


def _tip_about_away(matrix: Array) -> tuple[float, float, float]:
    """Find the radians of spin, tip, spin with the tip about away: z-y-z."""
    quarter = Turn("up", 90.0).matrix  # about up it takes right to away
    return _tip_about_right(np.asarray(quarter.T @ matrix @ quarter))


def _degrees(radians: float) -> float:
    """Turn radians into degrees in (-180, 180], quarter turns exact."""
    value = math.degrees(radians)
    quarter = 90.0 * round(value / 90.0)
    value = quarter if abs(value - quarter) < SAME else value
    return -((180.0 - value) % 360.0 - 180.0)
