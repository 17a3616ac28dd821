"""Is the part one piece."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from silhouette3d.checks.finding import Finding, point_text, spot
from silhouette3d.measure.contact import Contact, contacts
from silhouette3d.solid import Solid
from silhouette3d.units import MM3_PER_CM3, MM_PER, Unit, length_text


def several_bodies(bodies: Sequence[Solid], density: float, unit: Unit) -> Iterator[Finding]:
    """The part is in pieces, or hangs together by an edge or a point only.

    Pieces that touch are reported as `point-contact`; `several-bodies` counts
    what is left apart when touching pieces are taken as one.
    """
    touching = contacts(bodies)
    groups = _groups(len(bodies), touching)
    if len(groups) > 1:
        yield _apart([[bodies[i] for i in group] for group in groups], density, unit)
    for contact in touching:
        yield _touch(contact, unit)


def _apart(groups: list[list[Solid]], density: float, unit: Unit) -> Finding:
    pieces = []
    for group in groups:
        volume = sum(body.volume for body in group)
        middle = np.sum([body.centroid * body.volume for body in group], axis=0) / volume
        pieces.append((volume, middle))
    pieces.sort(key=lambda piece: -piece[0])
    told = "; ".join(
        f"{volume / MM_PER[unit] ** 3:.4g} {unit}³, {volume * density / MM3_PER_CM3:.4g} g, "
        f"at {point_text(middle, unit)}"
        for volume, middle in pieces[:8]
    )
    more = f"; and {len(pieces) - 8} more" if len(pieces) > 8 else ""
    return Finding(
        "several-bodies",
        "error",
        f"the part is in {len(pieces)} pieces: {told}{more}",
        "change the outlines so that the pieces join, or that only one is left",
        None,
        spot(pieces[1][1]),
        float(len(pieces)),
        1.0,
    )


def _touch(contact: Contact, unit: Unit) -> Finding:
    how = (
        f"along an edge of {length_text(contact.length, unit)}" if contact.length else "in a point"
    )
    itself = contact.bodies[0] == contact.bodies[1]
    what = "the part touches itself only" if itself else "two pieces of the part touch only"
    return Finding(
        "point-contact",
        "warning" if itself else "error",
        f"{what} {how}, at {point_text(contact.where, unit)}: nothing holds there",
        "let the outlines overlap there so that the pieces join, or part them clearly",
        None,
        spot(contact.where),
        contact.length,
        0.0,
    )


def _groups(count: int, touching: Sequence[Contact]) -> list[list[int]]:
    """Bodies that touch, directly or through others, as one group."""
    group = list(range(count))
    for contact in touching:
        a, b = (group[i] for i in contact.bodies)
        group = [a if g == b else g for g in group]
    return [[i for i in range(count) if group[i] == g] for g in dict.fromkeys(group)]
