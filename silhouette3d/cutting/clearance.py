"""Where the cutter meets a clamp.

A clamp on the face is the rectangle that it covers. A clamp that presses on a side
stands all along that side, right outside the face: what the cutter takes beyond
the side it takes of the clamp. Touching is no meeting.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from silhouette3d.cutting.holding import Clamp
from silhouette3d.cutting.kerf import Cut
from silhouette3d.cutting.runs import Run

__all__ = ["Meeting", "met_clamps"]

_DEEP: Final = 0.1
"""Share of the kerf by which the cutter must reach into a clamp: it may touch it."""


@dataclass(frozen=True)
class Meeting:
    """A clamp that the cutter meets.

    Parameters
    ----------
    number : int
        Which of the setup's clamps it is, counted from 1.
    side : str, optional
        The side it presses on; none if it lies on the face.
    run : int
        The first run that meets it, counted from 1.
    at : tuple of float
        Where, in face coordinates in mm.
    length : float
        Of all runs through it, in mm.
    """

    number: int
    side: str | None
    run: int
    at: tuple[float, float]
    length: float


def met_clamps(cut: Cut, runs: Sequence[Run], clamp: Clamp | None) -> Iterator[Meeting]:
    """Find the clamps of a setup that the cutter meets, in the order in which they are named."""
    reach = cut.width * (0.5 - _DEEP)
    for number, one in enumerate(clamp or (), start=1):
        side = one if isinstance(one, str) else None
        area = _outside(cut, side) if side else shapely.box(*np.asarray(one, float))
        spoilt = shapely.buffer(area, reach)
        inside = [shapely.intersection(run.line, spoilt) for run in runs]
        lengths = [float(shapely.length(piece)) for piece in inside]
        if not any(lengths):
            continue
        first = next(i for i, length in enumerate(lengths) if length)
        u, v = shapely.get_coordinates(inside[first])[0].tolist()
        yield Meeting(number, side, first + 1, (u, v), sum(lengths))


def _outside(cut: Cut, side: str) -> shapely.Geometry:
    """What lies beyond a side of the face, in face coordinates."""
    width, height = cut.profile.face.size
    far = width + height + cut.width
    return {
        "left": shapely.box(-far, -far, 0.0, height + far),
        "right": shapely.box(width, -far, width + far, height + far),
        "bottom": shapely.box(-far, -far, width + far, 0.0),
        "top": shapely.box(-far, height, width + far, height + far),
    }[side]
