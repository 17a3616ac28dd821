"""Limits of what a file may ask for before it is refused, and how to raise them.

A drawing from elsewhere may be damaged, or made to be a nuisance: a few hundred
bytes can ask for a billion circles. The limits lie far above any drawing of a
part. They are set by who runs the program, in the environment, and not by the
job: a job from elsewhere must not lift what guards against it.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import Final

from silhouette3d.errors import SilhouetteError

__all__ = [
    "CORNERS",
    "DEGREE",
    "FARTHEST",
    "FILE_MB",
    "JOB_MB",
    "LIMITS",
    "LOOPS",
    "NESTING",
    "OBJECTS",
    "PROFILES",
    "Limit",
]

FARTHEST: Final = 1e6
"""mm. No coordinate of a drawing and no length in a job is larger. Not adjustable: placed
outlines are whole multiples of 1e-9 mm, and only up to some 9e6 mm (2⁵³ of them) are
these told apart in double precision."""


@dataclass(frozen=True)
class Limit:
    """A limit that an environment variable can change.

    Parameters
    ----------
    variable : str
        Its name.
    usual : int
        Without the variable.
    highest : int
        It cannot be set above this, nor below 1.
    what : str
        What is counted.
    reason : str
        Why it lies where it does.
    """

    variable: str
    usual: int
    highest: int
    what: str
    reason: str

    @property
    def value(self) -> int:
        """The limit as it is now.

        Raises
        ------
        SilhouetteError
            If the variable is set to something else than a whole number in its range.
        """
        text = os.environ.get(self.variable, "").strip()
        if not text:
            return self.usual
        digits = text.replace("_", "")
        if not (digits.isascii() and digits.isdigit() and len(digits) < 12):
            raise self._unusable(text)
        if not 1 <= int(digits) <= self.highest:
            raise self._unusable(text)
        return int(digits)

    def _unusable(self, text: str) -> SilhouetteError:
        return SilhouetteError(
            f"{text!r} is no limit for {self.what}",
            where=f"environment variable {self.variable}",
            todo=f"set it to a whole number from 1 to {self.highest:,}, or unset it",
        )

    @property
    def raised(self) -> str:
        """Words for how to raise it, for the end of a message."""
        return f"or raise the limit with the environment variable {self.variable}"


FILE_MB: Final = Limit(
    "SILHOUETTE3D_FILE_MB",
    32,
    2048,
    "megabytes of a drawing, unpacked",
    "an object takes 100 to 150 bytes, so this is the limit of objects once more",
)
JOB_MB: Final = Limit(
    "SILHOUETTE3D_JOB_MB",
    1,
    64,
    "megabytes of a job file",
    "a thousand times a long job",
)
OBJECTS: Final = Limit(
    "SILHOUETTE3D_OBJECTS",
    200_000,
    10_000_000,
    "objects of a drawing, and pieces of paths, repetitions counted each time",
    "half a minute of reading, a gigabyte of memory",
)
NESTING: Final = Limit(
    "SILHOUETTE3D_NESTING",
    100,
    150,
    "blocks, groups or loops in each other",
    "nobody draws so deep; far more would exhaust Python's stack",
)
DEGREE: Final = Limit(
    "SILHOUETTE3D_DEGREE",
    25,
    100,
    "the degree of a spline",
    "what geometry kernels take (Open CASCADE: Geom_BSplineCurve::MaxDegree)",
)
CORNERS: Final = Limit(
    "SILHOUETTE3D_CORNERS",
    200_000,
    5_000_000,
    "corners of an outline, curves made straight pieces",
    "four times the largest that the speed is measured with",
)
LOOPS: Final = Limit(
    "SILHOUETTE3D_LOOPS",
    10_000,
    1_000_000,
    "loops of an outline",
    "a fine perforated plate has some thousands",
)
PROFILES: Final = Limit(
    "SILHOUETTE3D_PROFILES",
    24,
    100,
    "profiles of a job",
    "each is a setup at the machine",
)

LIMITS: Final = (FILE_MB, JOB_MB, OBJECTS, NESTING, DEGREE, CORNERS, LOOPS, PROFILES)
"""All that can be adjusted."""
