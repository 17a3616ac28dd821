"""The job: what the designer declares, checked against one model.

A job keeps the values as they were written, in its own units, beside the
model that holds them in millimetres. So it can be changed and saved without
losing a digit or a comment.
"""

from __future__ import annotations

import copy
import os
from collections.abc import Mapping
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Any, Self

from pydantic import AfterValidator, Field, PrivateAttr, ValidationError, model_validator

from silhouette3d.errors import JobError
from silhouette3d.job_errors import Models, Takes, explain, value_error
from silhouette3d.job_spec import (
    Accept,
    Checks,
    Cutting,
    Model,
    OwnView,
    PositiveLength,
    ProfileSpec,
    RoundBar,
    StockSpec,
    TabSpec,
    Text,
    TurnedView,
    fine_enough,
)
from silhouette3d.job_text import read_text, values_of
from silhouette3d.limits import PROFILES
from silhouette3d.units import MM_PER, Unit

KeyPath = tuple[str | int, ...]
"""Keys and positions that lead to a value: ("profile", 0, "shift")."""


class Job(Model):
    """A job file, every length in mm.

    Read one with `read_job`; change one with `Job.changed`.
    """

    name: Text = Field(description="what the part is called", examples=["Mooring bollard"])
    units: Annotated[Unit, Takes('"mm" or "in"')] = Field(
        "mm",
        description='"mm" or "in": of every length below, and of drawings that state none; '
        'default "mm"',
    )
    tolerance: Annotated[PositiveLength, AfterValidator(fine_enough)] = Field(
        0.01, description="largest gap between a curve and its straight pieces; default 0.01 mm"
    )
    stock: Annotated[StockSpec, Takes("a table, under [stock]")]
    profile: Annotated[
        tuple[ProfileSpec, ...],
        Field(min_length=1),
        Takes("one or more tables, each under [[profile]]"),
    ]
    checks: Annotated[Checks, Takes("a table, under [checks]")] = Checks()
    cutting: Annotated[Cutting, Takes("a table, under [cutting]")] = Cutting()
    accept: Annotated[tuple[Accept, ...], Takes("a list of tables, each under [[accept]]")] = Field(
        (),
        description="a finding that is as it should be: it is told with its reason, and no longer "
        "asks for anything; one table for each; default: none",
    )

    _path: Path | None = PrivateAttr(None)
    _declared: dict[str, Any] = PrivateAttr(default_factory=dict)

    @model_validator(mode="after")
    def _names_agree(self) -> Self:
        names = self.names
        if len(names) > PROFILES.value:
            raise value_error(
                f"it has {len(names)} profiles, and more than {PROFILES.value} are not taken",
                "profile",
                todo=f"leave some out, {PROFILES.raised}",
            )
        for second, name in enumerate(names):
            if (first := names.index(name)) < second:
                key = "view" if self.profile[second].name is None else "name"
                raise value_error(
                    f'profiles {first + 1} and {second + 1} are both called "{name}"',
                    "profile",
                    second,
                    key,
                    todo="give one of them a name of its own: name = …",
                )
        for i, one in enumerate(self.accept):
            if one.profile is not None and one.profile not in names:
                raise value_error(
                    f'there is no profile called "{one.profile}"',
                    "accept",
                    i,
                    "profile",
                    todo="take one of " + ", ".join(names),
                )
        order = self.cutting.order
        if order is not None and sorted(order) != sorted(names):
            raise value_error(
                "it must name each profile once", "cutting", "order", todo=_order_todo(order, names)
            )
        return self

    @model_validator(mode="after")
    def _cutter_fits(self) -> Self:
        declared = "kerf" in self.cutting.model_fields_set
        if declared and self.cutting.kerf >= max(self.stock.sides):
            raise value_error(
                f"a strip of {self.cutting.kerf:g} mm is wider than the whole stock",
                "cutting",
                "kerf",
                todo="check it and the units: it is the width of the strip that a cut removes",
            )
        return self

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the profiles, as listed."""
        return tuple(p.own_name or f"view {i}" for i, p in enumerate(self.profile, start=1))

    @property
    def order(self) -> tuple[str, ...]:
        """Names of the profiles in the order in which they are cut."""
        return self.cutting.order or self.names

    @property
    def path(self) -> Path | None:
        """The file that the job was read from."""
        return self._path

    @property
    def folder(self) -> Path:
        """What the drawings' paths start from."""
        return self._path.parent if self._path else Path()

    @property
    def declared(self) -> dict[str, Any]:
        """A copy of the values as written, in job units."""
        return copy.deepcopy(self._declared)

    def changed(self, values: Mapping[KeyPath, object]) -> Job:
        """The job with some values set, in job units.

        Parameters
        ----------
        values : mapping
            From a key path such as ``("profile", 0, "shift")`` to its new
            value; None removes the key. The position after the last of a
            list appends.

        Raises
        ------
        JobError
            If the job would not be valid, or has no such place.
        """
        data = self.declared
        for key, value in values.items():
            try:
                _set(data, key, value)
            except (IndexError, KeyError, TypeError):
                raise JobError(
                    f"there is no place for {key!r}", where=str(self._path or "job")
                ) from None
        return job_from(data, path=self._path)


def job_from(data: dict[str, Any], *, path: Path | None = None, text: str = "") -> Job:
    """A job from the values of its file.

    Parameters
    ----------
    data : dict
        As the TOML file would hold them, in job units.
    path : Path, optional
        The job file, for messages and for the drawings' folder.
    text : str
        The file's text, so that messages can name lines.

    Raises
    ------
    JobError
        For the first thing that is wrong: file, line, key and what to do.
    """
    units = data.get("units", "mm")
    factor = MM_PER["in"] if units == "in" else 1.0
    try:
        job = Job.model_validate(data, context={"mm": factor})
    except ValidationError as error:
        raise explain(error, data, path, text, models=_MODELS) from None
    job._path, job._declared = path, _plain(data)
    return job


def read_job(path: str | os.PathLike[str]) -> Job:
    """Read a job file.

    Raises
    ------
    JobError
        If the file cannot be read, is not TOML, or declares what cannot be.
    """
    file = Path(path)
    if file.is_dir():
        file = file / "job.toml"
    text = read_text(file)
    return job_from(values_of(text, file), path=file, text=text)


def schema() -> dict[str, Any]:
    """JSON Schema of the job file, for editors."""
    return Job.model_json_schema() | {"$schema": "https://json-schema.org/draft/2020-12/schema"}


def _set(data: dict[str, Any], key: KeyPath, value: object) -> None:
    place: Any = data
    for step, following in pairwise(key):
        if isinstance(step, str) and step not in place:
            place[step] = [] if isinstance(following, int) else {}
        place = place[step]
    last: Any = key[-1]
    if value is None:
        if isinstance(place, list) or last in place:
            del place[last]
    elif isinstance(place, list) and last == len(place):
        place.append(value)
    else:
        place[last] = value


def _plain(value: Any) -> Any:
    """A copy in the types that a TOML file has: lists, no tuples."""
    if isinstance(value, Mapping):
        return {str(key): _plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    return value


def _order_todo(order: tuple[str, ...], names: tuple[str, ...]) -> str:
    """What to change in an order of cuts that does not fit the profiles."""
    strange = [name for name in order if name not in names]
    missing = [name for name in names if name not in order]
    changes = [f'there is no profile called "{name}"' for name in strange]
    changes += [f'"{name}" is missing' for name in missing]
    return "; ".join(changes or ["one is named twice"]) + ". The profiles are: " + ", ".join(names)


_MODELS: Models = {
    "": (Job,),
    "stock": (StockSpec,),
    "round": (RoundBar,),
    "profile": (ProfileSpec,),
    "view": (TurnedView, OwnView),
    "tab": (TabSpec,),
    "checks": (Checks,),
    "cutting": (Cutting,),
    "accept": (Accept,),
}

__all__ = [
    "Accept",
    "Checks",
    "Cutting",
    "Job",
    "KeyPath",
    "OwnView",
    "ProfileSpec",
    "RoundBar",
    "StockSpec",
    "TabSpec",
    "TurnedView",
    "job_from",
    "read_job",
    "schema",
]
