"""Every check of a part that needs no cutting on trial."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from silhouette3d.checks.bodies import several_bodies
from silhouette3d.checks.drawn import nearly_coincident, overlapping_loops, unit_doubtful
from silhouette3d.checks.finding import Finding
from silhouette3d.checks.fit import (
    SharedAxis,
    extent_mismatch,
    heavy_stock,
    outside_stock,
    stock_mismatch,
)
from silhouette3d.checks.sections import ThinSection, thin_findings
from silhouette3d.checks.shadow import shadow_lost
from silhouette3d.place import Profile
from silhouette3d.solid import Solid
from silhouette3d.stock import Stock


@dataclass(frozen=True, eq=False)
class Checked:
    """What is checked.

    Parameters
    ----------
    stock : Stock
        The piece before cutting.
    density : float
        Of it, in g/cm³.
    profiles : sequence of Profile
        As the job lists them.
    axes : sequence of SharedAxis
        Directions that several of them see in true length.
    solid : Solid
        The part.
    thin : sequence of ThinSection
        Its thin places.
    thin_limit, match : float
        Limits in mm.
    """

    stock: Stock
    density: float
    profiles: Sequence[Profile]
    axes: Sequence[SharedAxis]
    solid: Solid
    thin: Sequence[ThinSection]
    thin_limit: float
    match: float


def part_findings(of: Checked) -> Iterator[Finding]:
    """Find all that is wrong with outlines and part."""
    for profile in of.profiles:
        yield from stock_mismatch(profile, of.match)
        yield from unit_doubtful(profile, of.match)
    for profile in of.profiles:
        yield from overlapping_loops(profile)
        yield from nearly_coincident(profile)
        yield from outside_stock(profile, of.stock, of.match)
    for axis in of.axes:
        yield from extent_mismatch(axis, of.stock, of.match)
    for profile in of.profiles:
        yield from shadow_lost(profile, of.solid, of.stock, of.axes, of.match)
    yield from several_bodies(of.solid.bodies, of.density)
    yield from thin_findings(of.thin, of.profiles, of.stock, of.thin_limit)
    yield from heavy_stock(of.stock, of.density)
