"""Turn what a job declares into the values that geometry and process work with, and back.

Below here nothing knows the job file: a stock, a placement, tabs, clamps and limits are plain
values in mm. This is the one place where they are taken from the job's model, whether that was
read from a file or declared in memory, and where proposals become changes of the job.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from silhouette3d.base.units import MM_PER
from silhouette3d.checks.causes import Acceptance
from silhouette3d.checks.cuts import Limits
from silhouette3d.drawing.colour import spelt
from silhouette3d.errors import DrawingError
from silhouette3d.geometry.stock import Stock
from silhouette3d.job.model import Job, KeyPath, ProfileSpec, StockSpec
from silhouette3d.planning.tab_search import TabCandidate
from silhouette3d.process.clamping import Clamp
from silhouette3d.process.profile import Placement
from silhouette3d.process.tabs import TabPlace

__all__ = [
    "acceptances_of",
    "clamps_of",
    "limits_of",
    "placement_of",
    "stock_of",
    "tab_changes",
    "tab_places_of",
]


def stock_of(spec: StockSpec, tolerance: float) -> Stock:
    """Make the stock that a job declares, its circle within a tolerance in mm."""
    if spec.round is not None:
        bar = spec.round
        return Stock.bar(bar.diameter, bar.length, bar.along, tolerance)
    assert spec.size is not None  # the model has checked that one of them is there
    return Stock(spec.size, tolerance=tolerance)


def placement_of(spec: ProfileSpec, name: str) -> Placement:
    """Say how a profile is taken from its drawing and laid on the stock.

    Raises
    ------
    DrawingError
        If a colour is none.
    """
    try:
        colours = None if spec.colours is None else tuple(map(spelt, spec.colours))
    except DrawingError as error:
        raise error.at("colour") from None
    return Placement(
        name,
        spec.sight,
        spec.layers,
        colours,
        spec.linetypes,
        spec.take,
        spec.open,
        spec.overlap,
        spec.text,
        spec.units is not None,
        spec.stock_layer,
        spec.tab_layer,
        spec.datum,
        spec.turn,
        spec.mirror,
        spec.scale,
        spec.shift,
    )


def tab_places_of(spec: ProfileSpec) -> tuple[TabPlace, ...]:
    """List the tabs that a job declares for a profile."""
    return tuple(TabPlace(tab.at, tab.width) for tab in spec.tab)


def clamps_of(job: Job) -> tuple[Clamp | None, ...]:
    """List for each profile what its setup is clamped by."""
    return tuple(spec.clamp for spec in job.profile)


def limits_of(job: Job, density: float) -> Limits:
    """Gather the limits of the checks of the cuts; density in g/cm³."""
    cutting = job.cutting
    return Limits(density, cutting.tab_area, cutting.slat_gap, cutting.seat, job.tolerance)


def acceptances_of(job: Job) -> tuple[Acceptance, ...]:
    """List which findings a job accepts, and why."""
    return tuple(Acceptance(one.code, one.profile, one.reason) for one in job.accept)


def tab_changes(job: Job, places: Sequence[TabCandidate]) -> dict[KeyPath, object]:
    """Make changes of a job out of tabs: added to those it has, in job units."""
    unit = MM_PER[job.units]
    declared = job.declared["profile"]
    changes: dict[KeyPath, object] = {}
    for i in sorted({place.cut for place in places}):
        added = [
            {"at": [_rounded(x / unit) for x in p.at], "width": _rounded(p.width / unit)}
            for p in places
            if p.cut == i
        ]
        changes["profile", i, "tab"] = [*declared[i].get("tab", []), *added]
    return changes


def _rounded(value: float) -> float:
    """Round a coordinate as one would write it: to a ten-thousandth of the unit."""
    return math.floor(value * 1e4 + 0.5) / 1e4
