"""Parts from outlines in memory: what a job file says, said in Python."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

from shapely.geometry.base import BaseGeometry

from silhouette3d.drawing.cache import Sheet
from silhouette3d.drawing.model import Drawing
from silhouette3d.drawing.outline.outline import Outline, outline_from
from silhouette3d.errors import JobError
from silhouette3d.geometry.frames import VIEWS, View
from silhouette3d.geometry.stock import Bar, Block
from silhouette3d.job.model import Accept, Checks, Cutting, Job, job_from

__all__ = ["IN_MEMORY", "Setup", "declared"]

IN_MEMORY: Final = "in memory"
"""Stands where a job names a profile's drawing."""

_NOT_READ: Final = Drawing(Path(IN_MEMORY), (), "mm", True)


@dataclass(frozen=True)
class Setup:
    """One outline with how the block is held while it is cut.

    Parameters
    ----------
    outline : shapely.Polygon, shapely.MultiPolygon or Outline
        In face coordinates: mm, right and up from the lower left corner of the stock's
        face in that view.
    name : str, optional
        What it is called; by default as its view.
    tabs : sequence of tuple
        (u, v) near the outline, or (u, v, width), in mm.
    clamp : sequence of str or of tuple, optional
        Sides of the block as it lies ("left", "right", "bottom", "top"), or
        rectangles (u0, v0, u1, v1) on its face in mm.
    """

    outline: BaseGeometry | Outline
    name: str | None = None
    tabs: Sequence[tuple[float, ...]] = ()
    clamp: Sequence[str] | Sequence[tuple[float, float, float, float]] | None = None


def declared(
    stock: Block | Bar,
    setups: Mapping[str | View, Setup],
    *,
    name: str,
    tolerance: float,
    cutting: Cutting | None,
    checks: Checks | None,
    accept: Sequence[Accept],
) -> tuple[Job, dict[str, Sheet]]:
    """Put a stock and setups into a job in mm, and its drawings by the names it gives them.

    Parameters
    ----------
    stock : Block or Bar
        The piece before cutting.
    setups : mapping
        By view: one of the six names, or a `View`. In the order of the cuts, unless
        `cutting` has another.
    name : str
        Of the part.
    tolerance : float
        Largest gap between a disc of the cutter and its polygon, in mm.
    cutting : Cutting, optional
        How the cuts are made.
    checks : Checks, optional
        Limits of the checks.
    accept : sequence of Accept
        Findings that are as they should be.

    Raises
    ------
    JobError
        If something is declared that cannot be.
    DrawingError
        If an outline is no polygon.
    """
    profiles: list[dict[str, Any]] = []
    for view, setup in setups.items():
        profiles.append(_profile(view, setup))
    data: dict[str, Any] = {
        "name": name,
        "tolerance": tolerance,
        "stock": _stock(stock),
        "profile": profiles,
    }
    for key, settings in (("cutting", cutting), ("checks", checks)):
        if settings is not None:
            data[key] = settings.model_dump(exclude_unset=True)
    if accept:
        data["accept"] = [one.model_dump(exclude_unset=True) for one in accept]
    job = job_from(data)
    sheets = {
        called: Sheet(_NOT_READ, outline_from(setup.outline, f"outline {called!r}"))
        for called, setup in zip(job.names, setups.values(), strict=True)
    }
    return job, sheets


def _stock(stock: Block | Bar) -> dict[str, Any]:
    of = {key: value for key, value in asdict(stock).items() if value is not None}
    made = {key: of.pop(key) for key in ("material", "density") if key in of}
    if isinstance(stock, Block):
        return made | {"size": [float(side) for side in of.values()]}
    return made | {
        "round": {key: value if key == "along" else float(value) for key, value in of.items()}
    }


def _profile(view: str | View, setup: Setup) -> dict[str, Any]:
    if view not in VIEWS and not isinstance(view, View):
        raise JobError(
            f"there is no view called {view!r}",
            todo="take one of " + ", ".join(VIEWS) + ", or a View",
        )
    found: dict[str, Any] = {
        "drawing": IN_MEMORY,
        "datum": [0.0, 0.0],
        "view": view if isinstance(view, str) else {"look": [*view.look], "up": [*view.up]},
    }
    called = setup.name or (None if isinstance(view, str) else view.name)
    if called:
        found["name"] = called
    if len(setup.tabs):
        found["tab"] = [_tab(tab) for tab in setup.tabs]
    if setup.clamp is not None:
        if isinstance(setup.clamp, str):
            raise JobError(f"{setup.clamp!r} is no list of clamps", todo=f"give [{setup.clamp!r}]")
        found["clamp"] = [
            one if isinstance(one, str) else [float(v) for v in one] for one in setup.clamp
        ]
    return found


def _tab(tab: tuple[float, ...]) -> dict[str, Any]:
    try:
        numbers = [float(value) for value in tab]
    except (TypeError, ValueError):
        numbers = []
    if len(numbers) not in {2, 3}:
        raise JobError(f"{tab!r} is no tab", todo="give (u, v) or (u, v, width) in mm")
    return {"at": numbers[:2]} | ({"width": numbers[2]} if numbers[2:] else {})
