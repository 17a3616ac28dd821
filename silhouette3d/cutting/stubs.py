"""What tabs leave: how much still stands in the kerf, and stubs on the freed part."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from silhouette3d.cutting.kerf import Cut
from silhouette3d.cutting.stages import Stage
from silhouette3d.solid import Solid, together
from silhouette3d.view import Array

NO_STUB: Final = 1e-3
"""mm³. What the freed body has more than the part as cut, and is no more than this, is none."""


@dataclass(frozen=True, eq=False)
class Stub:
    """What a severed tab leaves on the finished part.

    Parameters
    ----------
    cut : Cut
        The cut whose tab it was.
    where : (3,) array
        Its middle in mm, block frame.
    width, height, length : float
        In mm: along the outline, out from it, and along the view.
    volume : float
        In mm³.
    """

    cut: Cut
    where: Array
    width: float
    height: float
    length: float
    volume: float


def standing_section(cut: Cut, stage: Stage) -> float:
    """Section in mm² of a cut's tabs in the bodies of a stage that hold the part.

    The material of the part's body that stands in the kerf, divided by the kerf.
    """
    return _standing(cut, stage.part.solid).volume / cut.width


def stubs(last: Stage, as_cut: Solid, cuts: Sequence[Cut]) -> Iterator[Stub]:
    """Stubs on the freed part, tab by tab; none while it is still joined to waste."""
    if joined_area(last, as_cut, cuts) is not None:
        return
    if last.part.solid.volume - as_cut.volume <= NO_STUB:
        return
    for cut in cuts:
        for stub in _standing(cut, last.part.solid).bodies:
            if stub.volume > NO_STUB:
                yield _measured(stub, cut)


def joined_area(last: Stage, as_cut: Solid, cuts: Sequence[Cut]) -> tuple[float, Array] | None:
    """Section of the tabs that join the part to waste after the last cut, and where; or None.

    The part is free when its body is the part as cut and stubs in the kerfs,
    nothing more.
    """
    part = last.part.solid
    more = part.volume - as_cut.volume
    if more <= NO_STUB:
        return None
    standing = [(cut, _standing(cut, part)) for cut in cuts]
    in_kerfs = sum(solid.volume for _, solid in standing)
    if more <= in_kerfs + NO_STUB:
        return None
    area = sum(solid.volume / cut.width for cut, solid in standing)
    places = [body for _, solid in standing for body in solid.bodies]
    where = places[0].centroid if places else part.centroid
    return area, np.asarray(where)


def _standing(cut: Cut, body: Solid) -> Solid:
    """What of a body stands in the kerf of a cut."""
    if cut.standing.is_empty:
        return together([])
    return body.within(cut.profile.to_view(cut.standing), cut.profile.view)


def _measured(stub: Solid, cut: Cut) -> Stub:
    middle = stub.bounds.mean(axis=0)
    uvw = cut.profile.view.to_view(stub.mesh.vertices)
    length = float(np.ptp(uvw[:, 2]))
    flat = uvw[:, :2] - cut.profile.face.corner
    height = min(cut.width, float(np.ptp(flat, axis=0).max()))
    width = stub.volume / (length * height) if length * height else 0.0
    return Stub(cut, middle, width, height, length, stub.volume)
