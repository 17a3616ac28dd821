"""Edits of a job: functions that take one and give another, in the job's own units.

Each raises a `JobError` that says what is wrong if the job would not be valid.
Profiles and tabs are named by their position, from 0, as the job lists them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from silhouette3d.errors import JobError
from silhouette3d.job.model import Job, KeyPath, job_from

DIGITS = 6
"""Decimals kept of a sum of lengths, so that 0.1 + 0.2 is written as 0.3."""


def set_value(job: Job, /, key: KeyPath, value: object) -> Job:
    """Set one value; None takes it out, so that its default counts.

    Parameters
    ----------
    job : Job
        The job.
    key : tuple
        Such as ``("stock", "material")`` or ``("profile", 0, "turn")``.
    value : object
        As the job file would hold it.
    """
    return job.changed({key: value})


def shift(job: Job, /, i: int, to: Sequence[float]) -> Job:
    """Put a profile to a place: right and up on the face."""
    return job.changed({("profile", i, "shift"): list(to)})


def nudge(job: Job, /, i: int, right: float, up: float) -> Job:
    """Move a profile on from where it lies."""
    there = _profile(job, i).get("shift", [0.0, 0.0])
    return shift(job, i, [_tidy(there[0] + right), _tidy(there[1] + up)])


def stock_block(job: Job, /, size: Sequence[float]) -> Job:
    """Make the stock a block of some width, depth and height."""
    return job.changed({("stock", "round"): None, ("stock", "size"): list(size)})


def stock_bar(job: Job, /, diameter: float, length: float, along: str = "z") -> Job:
    """Make the stock a round bar."""
    bar = {"diameter": diameter, "length": length, "along": along}
    return job.changed({("stock", "size"): None, ("stock", "round"): bar})


def material(job: Job, /, name: str) -> Job:
    """Make the stock of a material from the table; a density of the job's own goes."""
    return job.changed({("stock", "density"): None, ("stock", "material"): name})


def density(job: Job, /, value: float | None) -> Job:
    """Set the stock's density in g/cm³, which wins over the material's."""
    return job.changed({("stock", "density"): value})


def order(job: Job, /, names: Sequence[str]) -> Job:
    """Set the order of the cuts, by the profiles' names."""
    return job.changed({("cutting", "order"): list(names)})


def add_tab(job: Job, /, i: int, at: Sequence[float], width: float | None = None) -> Job:
    """Add a tab at a point near the outline, in face coordinates."""
    tab: dict[str, Any] = {"at": [_tidy(x) for x in at]}
    if width is not None:
        tab["width"] = width
    return job.changed({("profile", i, "tab"): [*_tabs(job, i), tab]})


def move_tab(job: Job, /, i: int, k: int, at: Sequence[float]) -> Job:
    """Move a tab of the job."""
    _tab(job, i, k)
    return job.changed({("profile", i, "tab", k, "at"): [_tidy(x) for x in at]})


def widen_tab(job: Job, /, i: int, k: int, width: float | None) -> Job:
    """Give a tab of the job a width of its own, or the usual one."""
    _tab(job, i, k)
    return job.changed({("profile", i, "tab", k, "width"): width})


def remove_tab(job: Job, /, i: int, k: int) -> Job:
    """Take a tab of the job away."""
    _tab(job, i, k)
    left = [tab for n, tab in enumerate(_tabs(job, i)) if n != k]
    return job.changed({("profile", i, "tab"): left or None})


def add_profile(job: Job, /, drawing: str, view: object, **more: object) -> Job:
    """Add a profile, cut last.

    Parameters
    ----------
    job : Job
        The job.
    drawing : str
        Path of the drawing, from the job file.
    view : str or mapping
        The name of a view, or ``{"look": …, "up": …}``.
    **more : object
        Other keys of the profile: name, layer, datum, …
    """
    given = {key: value for key, value in more.items() if value is not None}
    data = job.declared
    data["profile"] = [*data["profile"], {"view": view, "drawing": drawing, **given}]
    return _listed_anew(job, data, [*range(len(job.profile)), None])


def remove_profile(job: Job, /, i: int) -> Job:
    """Take a profile out, of the order of cuts as well."""
    _profile(job, i)
    data = job.declared
    del data["profile"][i]
    return _listed_anew(job, data, [n for n in range(len(job.profile)) if n != i])


def first_job(
    name: str,
    units: str,
    stock: Mapping[str, object],
    profiles: Sequence[Mapping[str, object]],
    path: Path | None = None,
) -> Job:
    """Make a job from nothing but what it must have.

    Parameters
    ----------
    name : str
        What it is called.
    units : {"mm", "in"}
        Of its lengths.
    stock : mapping
        Such as ``{"size": [80, 40, 50], "material": "brass C360"}``.
    profiles : sequence of mapping
        Such as ``{"view": "front", "drawing": "front.dxf"}``.
    path : Path, optional
        The job file to be.
    """
    data = {"name": name, "units": units, "stock": dict(stock), "profile": [*map(dict, profiles)]}
    return job_from(data, path=path)


def _listed_anew(job: Job, data: dict[str, Any], kept: Sequence[int | None]) -> Job:
    """List other profiles in the order of the job's cuts so far; new ones come last.

    `kept` says for each new profile which old one it was. Names that come from the
    position change with it, so the order is told by position.
    """
    if "order" not in data.get("cutting", {}):
        return job_from(data, path=job.path)
    del data["cutting"]["order"]
    new = job_from(data, path=job.path)
    places = {old: n for n, old in enumerate(kept) if old is not None}
    old_order = [job.names.index(name) for name in job.order]
    cuts = [places[old] for old in old_order if old in places]
    cuts += [n for n, old in enumerate(kept) if old is None]
    return order(new, [new.names[n] for n in cuts])


def _profile(job: Job, i: int) -> dict[str, Any]:
    profiles: list[dict[str, Any]] = job.declared["profile"]
    if not 0 <= i < len(profiles):
        raise JobError(f"there is no profile {i + 1}", todo="choose one that is there")
    return profiles[i]


def _tabs(job: Job, i: int) -> list[Any]:
    tabs: list[Any] = _profile(job, i).get("tab", [])
    return tabs


def _tab(job: Job, i: int, k: int) -> None:
    if not 0 <= k < len(_tabs(job, i)):
        raise JobError(
            f"{job.names[i]} has no tab {k + 1} in the job", todo="choose one of its own"
        )


def _tidy(value: float) -> float:
    return round(value, DIGITS) + 0.0 if math.isfinite(value) else value
