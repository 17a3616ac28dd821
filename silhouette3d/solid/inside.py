"""Which bodies are pieces of which others."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from silhouette3d.solid.mesh import Indices
from silhouette3d.solid.solid import Solid

_ROOM: Final = 1e-4
"""mm. A piece reaches no further than this beyond what it is of: walls lie within 1e-5 mm."""


def homes(pieces: Sequence[Solid], bodies: Sequence[Solid]) -> Indices:
    """(n,) for each of some pieces the first body that it lies in, -1 where there is none.

    Each body holds all of a piece or nothing.
    """
    found = np.full(len(pieces), -1)
    if not pieces or not bodies:
        return found
    inner, outer = (np.array([solid.bounds for solid in some]) for some in (pieces, bodies))
    fits = (inner[:, None, 0] >= outer[:, 0] - _ROOM) & (inner[:, None, 1] <= outer[:, 1] + _ROOM)
    for i, k in np.argwhere(fits.all(axis=2)).tolist():
        if found[i] < 0 and bodies[k].contains(pieces[i].inner_point):
            found[i] = k
    return found
