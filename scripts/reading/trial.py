"""Read one drawing as a profile of a job, as a designer would, and tell what came of it."""

from __future__ import annotations

import re
import resource
import sys
import traceback
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from hostile import TooSlowError, seconds
from silhouette3d import Part
from silhouette3d.checks.drawings import nearly_coincident, overlapping_loops
from silhouette3d.errors import SilhouetteError
from silhouette3d.job.model import ProfileSpec, job_from

SECONDS: Final = 30.0
MEMORY: Final = 4 * 1024**3
"""Bytes that a process which reads may have."""

CHOICES: Final[Mapping[str, dict[str, Any]]] = {
    'open = "ignore"': {"open": "ignore"},
    'take = "silhouette"': {"take": "silhouette"},
}
"""What a job may declare about a drawing that is refused as it stands."""

_WARNINGS: Final = (overlapping_loops, nearly_coincident)

_TOLERANCE: Final = 0.001
"""mm. The largest icon is 6.4 mm wide: a tenth of the usual keeps curves round."""


@dataclass(frozen=True)
class Trial:
    """What came of one drawing.

    Parameters
    ----------
    outcome : {"read", "refused", "crashed"}
        Whether it became an outline, was refused in words, or raised what nobody should see.
    reason : str
        Why not: the message; of a crash, the exception and where it came from.
    notes : tuple of str
        What was told with it.
    warnings : tuple of str
        Codes of the findings that leave in doubt what is inside.
    area, bound : float
        Of the outline in mm², and what straight pieces for curves may amount to.
    length : float
        Of the outline's border in mm.
    """

    outcome: str
    reason: str = ""
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    area: float = 0.0
    bound: float = 0.0
    length: float = 0.0


def confine() -> None:
    """Keep this process from taking more memory than is its share."""
    if sys.platform != "darwin":  # where the limit is not kept
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))


def read(drawing: Path, declared: Mapping[str, Any] | None = None) -> Trial:
    """Read a drawing as the only profile of a job in mm.

    Parameters
    ----------
    drawing : Path
        Any file.
    declared : mapping, optional
        More keys of the profile.
    """
    data = {
        "name": drawing.stem,
        "tolerance": _TOLERANCE,
        "stock": {"size": [1000.0, 1000.0, 1000.0], "material": "oak"},
        "profile": [{"view": "front", "drawing": str(drawing), "datum": "centre"}],
    }
    data["profile"][0] |= declared or {}  # type: ignore[index]
    try:
        with seconds(SECONDS):
            profile = Part(job_from(data, path=drawing.parent / "job.toml")).profiles[0]
            warned = [f.code for find in _WARNINGS for f in find(profile)]
    except SilhouetteError as error:
        return Trial("refused", error.what)
    except (Exception, TooSlowError) as error:
        frame = traceback.extract_tb(error.__traceback__)[-1]
        name = type(error).__name__
        return Trial("crashed", f"{name} in {Path(frame.filename).name}, {frame.name}: {error}")
    area, outline = profile.area, profile.outline
    return Trial(
        "read", "", outline.notes, tuple(warned), area.area, outline.area_error, area.length
    )


def tried(drawing: Path) -> tuple[Trial, dict[str, Trial]]:
    """Read a drawing as it stands; where it is refused, with each choice that a job may declare."""
    trial = read(drawing)
    if trial.outcome != "refused":
        return trial, {}
    known = ProfileSpec.model_fields
    return trial, {
        name: read(drawing, keys) for name, keys in CHOICES.items() if {*keys} <= {*known}
    }


def kind(message: str) -> str:
    """A message without what differs from drawing to drawing, so that like ones are counted.

    >>> kind("the outline is open: 2 lines end on a closed outline, path on line 14 with an end")
    'lines end on a closed outline'
    >>> kind("joined 1 gap, the widest 0.497 mm at (4.7625, 5.08265)")
    'joined gaps'
    """
    told = re.split(r"[,;:]|\(", message.removeprefix("the outline is open: "))[0].strip()
    told = re.sub(r"^\S+ (#\w+|on line \d+) ends at.*", "lines end openly", told)
    told = re.sub(r"\b(?:an?|\d+) ((?:open )?(?:line|gap|knot|stroke))s?\b( of .*)?", r"\1s", told)
    told = re.sub(r"\b(lines (?:end|run))s\b", r"\1", told)
    return re.sub(r"\b\d[\d.]*", "…", told)
