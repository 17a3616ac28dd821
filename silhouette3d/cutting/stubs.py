"""What tabs leave: how much still stands in the kerf, and stubs on the freed part."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from silhouette3d.cutting.kerf import Cut
from silhouette3d.cutting.stages import Stage
from silhouette3d.solid import Solid, together
from silhouette3d.view import Array

THIN: Final = 1e-4
"""mm. Volume by surface below which a piece is left by rounding: walls lie within 1e-5 mm of
where they belong. Material that reaches less than this beyond a kerf is no waste either."""


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


@dataclass(frozen=True, eq=False)
class Join:
    """A tab that joins the part to waste when all cuts are made.

    Parameters
    ----------
    cut : Cut
        The cut whose tab it is.
    where : (3,) array
        Its centroid in mm, block frame.
    area : float
        Its section in mm².
    """

    cut: Cut
    where: Array
    area: float


def standing_section(cut: Cut, stage: Stage) -> float:
    """Section in mm² of a cut's tabs in the bodies of a stage that hold the part.

    The material of the part's body that stands in the kerf, divided by the kerf.
    """
    return standing(cut, stage.part.solid).volume / cut.width


def joins(last: Stage, cuts: Sequence[Cut]) -> tuple[Join, ...]:
    """Tabs that still join the part to waste after the last cut, the largest first.

    A cut goes all round its outline, so only through a tab can the part reach
    what lies beyond the kerf.
    """
    found = []
    for body in (body.solid for body in last.bodies if body.is_part):
        for cut in cuts:
            beyond = _beyond(cut, body)
            if beyond is None:
                continue
            for tab in standing(cut, body).bodies:
                if tab.gap(beyond, 1.0) <= THIN:
                    found.append(Join(cut, tab.centroid, tab.volume / cut.width))
    return tuple(sorted(found, key=lambda join: -join.area))


def stubs(last: Stage, cuts: Sequence[Cut]) -> Iterator[Stub]:
    """Stubs on the freed part, tab by tab; none while it is still joined to waste."""
    if joins(last, cuts):
        return
    for body in (body.solid for body in last.bodies if body.is_part):
        for cut in cuts:
            for stub in standing(cut, body).bodies:
                if stub.volume > THIN * stub.surface_area:
                    yield _measured(stub, cut)


def standing(cut: Cut, body: Solid) -> Solid:
    """What of a body stands in the kerf of a cut."""
    if cut.standing.is_empty:
        return together([])
    return body.within(cut.profile.to_view(cut.standing), cut.profile.view)


def _beyond(cut: Cut, body: Solid) -> Solid | None:
    """What of a body lies further out than the kerf, if anything."""
    flat = cut.profile.view.to_view(body.mesh.vertices)[:, :2] - cut.profile.face.corner
    if shapely.distance(cut.within_kerf, shapely.points(flat)).max() <= THIN:
        return None
    around = shapely.box(*flat.min(axis=0) - 1.0, *flat.max(axis=0) + 1.0)
    rest = shapely.get_parts(shapely.difference(around, cut.within_kerf))
    area = MultiPolygon([p for p in rest if isinstance(p, Polygon)])
    return body.within(cut.profile.to_view(area), cut.profile.view)


def _measured(stub: Solid, cut: Cut) -> Stub:
    middle = stub.bounds.mean(axis=0)
    uvw = cut.profile.view.to_view(stub.mesh.vertices)
    length = float(np.ptp(uvw[:, 2]))
    flat = shapely.points(uvw[:, :2] - cut.profile.face.corner)
    height = float(shapely.distance(cut.as_cut, flat).max())
    width = stub.volume / (length * height)  # neither is 0: it has a volume
    return Stub(cut, middle, width, height, length, stub.volume)
