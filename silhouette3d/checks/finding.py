"""One thing to look at before cutting, as data: no sentences, no unit but those inside."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, Literal, TypeVar

from silhouette3d.base.codes import Code
from silhouette3d.base.quantities import Quantity
from silhouette3d.geometry.frames import Array

Severity = Literal["error", "warning", "note"]
SEVERITIES: Final[tuple[Severity, ...]] = ("error", "warning", "note")

Point = tuple[float, float, float]
V = TypeVar("V")


class Frozen(Mapping[str, V]):
    """A mapping that stays as it is and so can be hashed, if its values can."""

    def __init__(self, values: Mapping[str, V] | None = None) -> None:
        self._values = dict(values or {})

    def __getitem__(self, key: str) -> V:
        return self._values[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)

    def __hash__(self) -> int:
        return hash(frozenset(self._values.items()))

    def __repr__(self) -> str:
        return repr(self._values)


@dataclass(frozen=True)
class Place:
    """Place of something in the block, and on a face.

    Parameters
    ----------
    at : tuple of float
        x, y, z in mm, block frame.
    on_face : tuple of float, optional
        u, v in mm on the face of the finding's profile, where it is a matter of that face.
    """

    at: Point
    on_face: tuple[float, float] | None = None


@dataclass(frozen=True)
class Finding:
    """Finding: what, where and how bad. `silhouette3d.presentation.wording` tells it in words.

    Parameters
    ----------
    code : Code
        A stable word, listed in the README.
    severity : {"error", "warning", "note"}
        An error spoils the part; a warning may; a note is good to know.
    profile : str, optional
        The profile (and so the view) it is about.
    others : tuple of str
        Further profiles that have a part in it.
    stage : int, optional
        The cut after which it is so, counted from 1 in the job's order; 0 is before the first.
    places : tuple of Place
        Where; the first is the one to look at.
    quantities : mapping of str to Quantity
        What was measured, the first what it is about; ``"limit"`` is what that was held against.
    facts : mapping
        What else its words need: numbers of things, names, yes or no; hashable.
    accepted : str, optional
        The reason for which the job accepts it.
    members : tuple of Finding
        Those of one cause for which it stands, itself the first; none if it stands alone.
    """

    code: Code
    severity: Severity
    profile: str | None = None
    others: tuple[str, ...] = ()
    stage: int | None = None
    places: tuple[Place, ...] = ()
    quantities: Mapping[str, Quantity] = field(default_factory=Frozen)
    facts: Mapping[str, Any] = field(default_factory=Frozen)
    accepted: str | None = None
    members: tuple[Finding, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "quantities", Frozen(self.quantities))
        object.__setattr__(self, "facts", Frozen(self.facts))

    @property
    def each(self) -> tuple[Finding, ...]:
        """Every finding that it stands for; itself, if it stands alone."""
        return self.members or (self,)

    @property
    def is_to_mend(self) -> bool:
        """True if something should be done about it: no note, and not accepted."""
        return self.severity != "note" and self.accepted is None

    @property
    def subjects(self) -> tuple[str, ...]:
        """Every profile that has a part in it, the one it is about first."""
        return ((self.profile,) if self.profile else ()) + self.others

    @property
    def where(self) -> Point | None:
        """x, y, z in mm of the place to look at, block frame."""
        return self.places[0].at if self.places else None

    @property
    def value(self) -> float | None:
        """Value measured, in mm, mm², mm³, g, degrees, or a count or share."""
        return next((quantity.number for quantity in self.quantities.values()), None)

    @property
    def limit(self) -> float | None:
        """Limit that the value was held against, if any, in the value's unit."""
        return self.quantities["limit"].number if "limit" in self.quantities else None


def worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Sort errors, then warnings, then notes, then what is accepted; otherwise as they come."""
    return tuple(
        sorted(findings, key=lambda f: (f.accepted is not None, SEVERITIES.index(f.severity)))
    )


def spot(point: Array) -> Point:
    """Make of a point what a finding carries."""
    x, y, z = (float(value) for value in point)
    return x, y, z


def place(point: Array, on_face: Iterable[float] | None = None) -> Place:
    """Make of a point of the block, and of a face, what a finding carries."""
    if on_face is None:
        return Place(spot(point))
    u, v = (float(value) for value in on_face)
    return Place(spot(point), (u, v))
