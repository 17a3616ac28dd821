"""Is the part one piece."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from silhouette3d.checks.finding import Finding, place
from silhouette3d.measure.contact import Contact, contacts
from silhouette3d.quantity import Quantity
from silhouette3d.solid import Solid
from silhouette3d.units import MM3_PER_CM3


def several_bodies(bodies: Sequence[Solid], density: float) -> Iterator[Finding]:
    """Find a part in pieces, or one that hangs together by an edge or a point only.

    Pieces that touch are reported as `point-contact`; `several-bodies` counts
    what is left apart when touching pieces are taken as one.
    """
    touching = contacts(bodies)
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
    """Bodies that touch, directly or through others, as one group."""
    group = list(range(count))
    for contact in touching:
        a, b = (group[i] for i in contact.bodies)
        group = [a if g == b else g for g in group]
    return [[i for i in range(count) if group[i] == g] for g in dict.fromkeys(group)]
