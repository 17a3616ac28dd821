"""Tell as data which views, outlines, tabs, clamps and cuts cannot be as asked.

Who draws a drawing or writes a job can cause these; they are worded above, in the job's unit.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

__all__ = ["MisfitCode", "MisfitError"]

MisfitCode = Literal[
    "view-without-direction",
    "view-up-along-look",
    "view-not-level",
    "view-tipped-too-far",
    "outline-too-long",
    "layer-missing",
    "stock-not-upright",
    "tab-astray",
    "tab-too-wide",
    "tab-too-long",
    "tab-off-path",
    "tab-leaves-nothing",
    "clamp-off-face",
    "too-many-cuts",
]
"""What does not fit."""


class MisfitError(Exception):
    """Something that does not fit as it is drawn or declared.

    Parameters
    ----------
    code : MisfitCode
        What it is.
    *numbers : float
        Lengths in mm, angles in degrees or components, in the order in which the words need them.
    subject : str, optional
        The drawn object or the layer it is about.
    at : tuple of float, optional
        Where on the face, in mm.
    others : sequence of str
        Names there are instead.
    count : int
        Which one it is of several, or how many there are.
    """

    def __init__(
        self,
        code: MisfitCode,
        *numbers: float,
        subject: str = "",
        at: tuple[float, float] | None = None,
        others: Sequence[str] = (),
        count: int = 0,
    ) -> None:
        super().__init__(code, *numbers)
        self.code: MisfitCode = code
        self.numbers = numbers
        self.subject, self.at = subject, at
        self.others, self.count = tuple(others), count
