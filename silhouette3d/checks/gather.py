"""Gather the findings of a part that need no cutting on trial."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from silhouette3d.base.quantities import Quantity
from silhouette3d.base.units import MM3_PER_CM3
from silhouette3d.checks.contradictions import shadow_lost
from silhouette3d.checks.drawings import nearly_coincident, overlapping_loops, unit_doubtful
from silhouette3d.checks.finding import Finding, place
from silhouette3d.checks.fit import (
    SharedAxis,
    extent_mismatch,
    heavy_stock,
    outside_stock,
    stock_mismatch,
)
from silhouette3d.checks.thin import ThinSection, thin_findings
from silhouette3d.geometry.backend_errors import profile_named
from silhouette3d.geometry.contact import Contact
from silhouette3d.geometry.necks import Neck
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock
from silhouette3d.process.profile import Profile

# --- Whether the part is one piece


def several_bodies(
    bodies: Sequence[Solid], touching: Sequence[Contact], density: float
) -> Iterator[Finding]:
    """Find a part in pieces, or one that hangs together by an edge or a point only.

    Pieces that touch are reported as `point-contact`; `several-bodies` counts
    what is left apart when touching pieces are taken as one.
    """
    groups = _groups(len(bodies), touching)
    if len(groups) > 1:
        yield _apart([[bodies[i] for i in group] for group in groups], density)
    for contact in touching:
        yield _touch(contact)


def _apart(groups: list[list[Solid]], density: float) -> Finding:
    """Tell the second largest piece first: the largest is where one looks anyway."""
    pieces = []
    for group in groups:
        volume = sum(body.volume for body in group)
        middle = np.sum([body.centroid * body.volume for body in group], axis=0) / volume
        pieces.append((volume, middle))
    pieces.sort(key=lambda piece: -piece[0])
    pieces = [*pieces[1:], pieces[0]]
    return Finding(
        "several-bodies",
        "error",
        places=tuple(place(middle) for _, middle in pieces),
        quantities={
            "count": Quantity(float(len(pieces)), "count"),
            "limit": Quantity(1.0, "count"),
            "volumes": Quantity(tuple(volume for volume, _ in pieces), "volume"),
            "masses": Quantity(tuple(v * density / MM3_PER_CM3 for v, _ in pieces), "mass"),
        },
    )


def _touch(contact: Contact) -> Finding:
    itself = contact.bodies[0] == contact.bodies[1]
    return Finding(
        "point-contact",
        "warning" if itself else "error",
        places=(place(contact.where),),
        quantities={"length": Quantity(contact.length, "length")},
        facts={"itself": itself},
    )


def _groups(count: int, touching: Sequence[Contact]) -> list[list[int]]:
    """Group bodies that touch, directly or through others."""
    group = list(range(count))
    for contact in touching:
        a, b = (group[i] for i in contact.bodies)
        group = [a if g == b else g for g in group]
    return [[i for i in range(count) if group[i] == g] for g in dict.fromkeys(group)]


# --- Every check of a part that needs no cutting on trial


@dataclass(frozen=True, eq=False)
class Checked:
    """Everything that is checked.

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
    necks : mapping of str to sequence of Neck
        By profile, where its outline is thin in its own plane.
    touching : sequence of Contact
        Where bodies of the part touch.
    thin_limit, match : float
        Limits in mm.
    """

    stock: Stock
    density: float
    profiles: Sequence[Profile]
    axes: Sequence[SharedAxis]
    solid: Solid
    thin: Sequence[ThinSection]
    necks: Mapping[str, Sequence[Neck]]
    touching: Sequence[Contact]
    thin_limit: float
    match: float


def part_findings(of: Checked) -> Iterator[Finding]:
    """Find all that is wrong with outlines and part."""
    for profile in of.profiles:
        with profile_named(profile.name):
            yield from stock_mismatch(profile, of.match)
            yield from unit_doubtful(profile, of.match)
    for profile in of.profiles:
        with profile_named(profile.name):
            yield from overlapping_loops(profile)
            yield from nearly_coincident(profile)
            yield from outside_stock(profile, of.stock, of.match)
    for axis in of.axes:
        yield from extent_mismatch(axis, of.stock, of.match)
    for profile in of.profiles:
        with profile_named(profile.name):
            yield from shadow_lost(profile, of.solid, of.stock, of.axes, of.match)
    yield from several_bodies(of.solid.bodies, of.touching, of.density)
    yield from thin_findings(of.thin, of.necks, of.profiles, of.thin_limit)
    yield from heavy_stock(of.stock, of.density)
