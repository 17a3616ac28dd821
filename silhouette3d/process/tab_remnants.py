"""Tab remnants: what still stands in the kerf, and stubs on the freed part.

Problem: when all cuts are made, does a tab still join the part to waste, and what does it leave?

Method: what of a body stands in a kerf are the places of tabs. A tab joins if what stands there
comes next to something of the body that lies further out than the kerf; if none does, what
stands there is a stub. The section of a tab is the volume over a strip along its narrowest line,
so narrow that the ends of the cut, which are round, are straight beside it, by its width.

Lemma: a cut goes all round its outline. So only through a tab can the part reach what lies beyond
the kerf.

Complexity: two booleans for each body of the part and each cut with tabs.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from shapely import MultiPolygon

from silhouette3d.geometry.backend_errors import profile_named
from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.polygons import polygons_of
from silhouette3d.geometry.solid import Solid, together
from silhouette3d.process.cut import Cut, Tab
from silhouette3d.process.stages import Stage

_SLICE: Final = 0.01
"""Share of the kerf: so near to the line between them the two ends of a cut, which are round,
come no nearer to each other, and go off by less than a ten-thousandth of the kerf."""


@dataclass(frozen=True, eq=False)
class TabRemnant:
    """Stub that a severed tab leaves on the finished part.

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
    """Measure in mm² a cut's tabs in the bodies of a stage that hold the part."""
    body = stage.part.solid
    there = {_nearest(cut, left) for left in standing(cut, body).bodies}
    return float(sum(section(cut, tab, body) for tab in there))


def joins(last: Stage, cuts: Sequence[Cut]) -> tuple[Join, ...]:
    """Find tabs that still join the part to waste after the last cut, the largest first.

    A cut goes all round its outline, so only through a tab can the part reach
    what lies beyond the kerf.
    """
    found: list[Join] = []
    for body in (body.solid for body in last.bodies if body.is_part):
        for cut in cuts:
            with profile_named(cut.name):
                found += _joins_in(cut, body)
    return tuple(sorted(found, key=lambda join: -join.area))


def _joins_in(cut: Cut, body: Solid) -> Iterator[Join]:
    """Find the tabs of one cut that join a body to what lies beyond the kerf."""
    beyond = _beyond(cut, body)
    if beyond is None:
        return
    for left in standing(cut, body).bodies:
        if left.gap(beyond, 1.0) <= cut.stock.tolerances.stray:
            yield Join(cut, left.centroid, section(cut, _nearest(cut, left), body))


def tab_remnants(last: Stage, cuts: Sequence[Cut]) -> Iterator[TabRemnant]:
    """Yield stubs that all cuts leave on the freed part, tab by tab."""
    for body in (body.solid for body in last.bodies if body.is_part):
        for cut in cuts:
            with profile_named(cut.name):
                for stub in standing(cut, body).bodies:
                    if stub.volume > cut.stock.tolerances.stray * stub.surface_area:
                        yield _measured(stub, cut)


def standing(cut: Cut, body: Solid) -> Solid:
    """Find what of a body stands in the kerf of a cut."""
    if cut.standing.is_empty:
        return together([])
    return body.within(cut.profile.to_view(cut.standing), cut.profile.view)


def section(cut: Cut, tab: Tab, body: Solid) -> float:
    """Measure the section in mm² of a body at a tab, where the tab is narrowest.

    The material over a strip along the tab's neck, so narrow that the ends of the
    cut are straight beside it, by the width of the strip.
    """
    width = _SLICE * cut.width
    strip = shapely.buffer(cut.neck(tab), width / 2.0, cap_style="flat")
    return body.within(cut.profile.to_view(MultiPolygon([strip])), cut.profile.view).volume / width


def _nearest(cut: Cut, left: Solid) -> Tab:
    """Find the tab that stands where something does."""
    u, v = cut.profile.view.to_view(left.centroid)[:2] - cut.profile.face.corner
    spot = shapely.Point(u, v)
    return min(cut.tabs, key=lambda tab: float(shapely.distance(tab.stretch, spot)))


def _beyond(cut: Cut, body: Solid) -> Solid | None:
    """Find what of a body lies further out than the kerf, if anything.

    Its corners may all lie on the border of the kerf while it spans what lies between,
    as the tongue in a slot does; so its triangles are asked, not its corners.
    """
    corners = _facing(cut, body)
    low, high = corners.min(axis=1), corners.max(axis=1)
    around = shapely.box(*(low.min(axis=0) - 1.0), *(high.max(axis=0) + 1.0))
    further = shapely.difference(around, cut.grown(cut.within_kerf, cut.stock.tolerances.stray))
    shapely.prepare(further)
    near = shapely.intersects(further, shapely.box(*low.T, *high.T))
    if not shapely.intersects(further, shapely.polygons(corners[near])).any():
        return None
    area = polygons_of(shapely.difference(around, cut.within_kerf))
    return body.within(cut.profile.to_view(area), cut.profile.view)


def _facing(cut: Cut, body: Solid) -> Array:
    """List the triangles (n, 3, 2) of a body that face the cutter, in face coordinates."""
    view = cut.profile.view
    facing = body.mesh.area_vectors @ view.axes[2] > 0.0
    flat = view.to_view(body.mesh.corners[facing].reshape(-1, 3))[:, :2]
    return np.asarray((flat - cut.profile.face.corner).reshape(-1, 3, 2))


def _measured(stub: Solid, cut: Cut) -> TabRemnant:
    middle = stub.bounds.mean(axis=0)
    length = float(np.ptp(cut.profile.view.to_view(stub.mesh.vertices)[:, 2]))
    # a bridge from one side of a slot to the other is highest half way, where it has no corner
    sides = shapely.segmentize(shapely.polygons(_facing(cut, stub)), cut.width / 16.0)
    points = shapely.points(shapely.get_coordinates(sides))
    height = float(shapely.distance(cut.as_cut, points).max())
    width = stub.volume / (length * height)  # neither is 0: it has a volume
    return TabRemnant(cut, middle, width, height, length, stub.volume)
