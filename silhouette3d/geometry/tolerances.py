"""Tolerances: lengths below which two things of one size are the same.

Problem: a length of 1e-6 mm is nothing on a block of 100 mm and a good part of a foil of 0.01 mm;
and each tolerance is only right as long as the finer ones below it are finer.

Method: one ladder. Its lowest rungs are the same for every size, as numbers are rounded to a
decimal grid before anyone knows how large the stock is. Those above it hold from a diagonal of
1 mm to one of 625 mm as they stand; on smaller stock they shrink with it, and on larger stock
they grow with it, as the walls of a perturbed copy move by a share of the diagonal.

    of every size    GRID < NEAR < SAME < MERGE
    of one size      rounding < on_copy < step,  NEAR <= touch < wall < stray < clear

Invariant: for every stock that a job may declare these orders hold, and `wall` is no less than the
largest move of a perturbed copy of up to 25 profiles (`tests/geometry/test_tolerances.py`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

__all__ = ["ANGLE", "GRID", "LAST_DIGITS", "MERGE", "NEAR", "SAME", "SHARE", "Tolerances"]

GRID: Final = 1e-9
"""mm. Placed outlines are rounded to this, so that numbers which mean the same are the same. It is
the least power of ten that doubles still tell apart at 1e6 mm, the largest coordinate allowed."""

NEAR: Final = 1e-8
"""mm. What is nearer than this may have been meant to coincide: ten steps of `GRID`, as two rounded
numbers and what is computed of them are off by a few."""

SAME: Final = 1e-7
"""mm. Corners that went through set operations on `NEAR` numbers are one if no further apart."""

MERGE: Final = 1e-6
"""mm. Two points of a drawing nearer than this are one point; shadows lie on a grid of it. What
programs write with six decimals of a millimetre is told apart, and no more."""

ANGLE: Final = 1e-9
"""Radians, or the sine. Directions nearer than this are one: over 1 m they part by `MERGE`."""

LAST_DIGITS: Final = 1e-12
"""Of a number near 1, or a share: what a few operations on doubles may have changed in it. Only
for what is exact but for them, such as the cosine of parallel unit vectors."""

SHARE: Final = 1e-9
"""Of any quantity: what differs by less differs by rounding. Sums of a million doubles are off
by some 1e-10 of themselves."""

_FROM_MM: Final = 1.0
"""Diagonal in mm from which on lengths do not shrink with the stock any more."""

_TO_MM: Final = 625.0
"""Diagonal in mm up to which lengths do not grow with the stock: there the walls of a copy move by
up to `_MOST_STEPS` steps, and that is the 1e-5 mm of `wall`."""

_MOST_STEPS: Final = 16.0
"""Steps by which a wall of a copy is moved at most: a job has up to 24 profiles, each of which is
moved by 0.618 steps more than the one before."""


@dataclass(frozen=True)
class Tolerances:
    """Lengths in mm below which things of one size are the same, by `for_size`.

    Parameters
    ----------
    rounding : float
        Nearer than this, the last digits decide: some fifty units in the last place.
    on_copy : float
        Points of a perturbed copy lie this near to their walls, and no nearer to others.
    step : float
        By which walls of a perturbed copy are moved apart: a thousand times the resolution of
        the boolean engine, a thousand times finer than anything that can be cut.
    touch : float
        Bodies that are nearer touch.
    wall : float
        A wall of any solid lies this near to where it was drawn; a corner this near to a plane
        lies on it.
    stray : float
        A piece that is thinner on average, volume by surface, is left by rounding: ten times
        what its two walls may be off.
    clear : float
        What is this far from a wall is surely off it, and what is this wide surely parts; a
        square of it is the least area that holds anything.
    """

    rounding: float
    on_copy: float
    step: float
    touch: float
    wall: float
    stray: float
    clear: float

    @classmethod
    def for_size(cls, diagonal: float) -> Tolerances:
        """Work out the tolerances of things of one size.

        Parameters
        ----------
        diagonal : float
            Of their bounding block in mm.

        Examples
        --------
        >>> Tolerances.for_size(100.0).touch, Tolerances.for_size(10_000.0).touch
        (1e-06, 1.6e-05)
        """
        step = 1e-9 * diagonal
        grown = min(diagonal / _FROM_MM, 1.0) * max(diagonal / _TO_MM, 1.0)
        return cls(
            rounding=1e-14 * diagonal,
            on_copy=0.05 * step,
            step=step,
            touch=max(1e-6 * grown, NEAR),
            wall=1e-5 * grown,
            stray=1e-4 * grown,
            clear=1e-3 * grown,
        )

    @property
    def least_area(self) -> float:
        """Area in mm² that is none: a square with `clear` as its side."""
        return self.clear**2
