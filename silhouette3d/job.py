"""The job: what the designer declares, checked against one model.

A job keeps the values as they were written, in its own units, beside the
model that holds them in millimetres. So it can be changed and saved without
losing a digit or a comment.
"""

from __future__ import annotations

import copy
import os
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    PrivateAttr,
    ValidationError,
    ValidationInfo,
    model_validator,
)

from silhouette3d.errors import JobError
from silhouette3d.job_errors import explain, line_of, value_error
from silhouette3d.units import MM_PER, Unit
from silhouette3d.view import VIEWS, View, view_along


def _to_mm(value: float, info: ValidationInfo) -> float:
    return value * float((info.context or {}).get("mm", 1.0))


def _spell(value: object) -> object:
    return "centre" if value == "center" else value


Number = Annotated[float, Field(allow_inf_nan=False)]
Length = Annotated[Number, AfterValidator(_to_mm)]
PositiveLength = Annotated[float, Field(gt=0, allow_inf_nan=False), AfterValidator(_to_mm)]
Names = str | tuple[str, ...]
Side = Literal["left", "right", "bottom", "top"]
Path3 = tuple[str | int, ...]


class _Model(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class RoundBar(_Model):
    """A round bar: its diameter, its length and the axis it lies along."""

    diameter: PositiveLength
    length: PositiveLength
    along: Literal["x", "y", "z"] = "z"


class StockSpec(_Model):
    """The piece of material before cutting."""

    size: tuple[PositiveLength, PositiveLength, PositiveLength] | None = Field(
        None, description="width x, depth y, height z of a block, as measured after sawing"
    )
    round: RoundBar | None = Field(None, description="a round bar, instead of size")
    material: str | None = Field(None, description="a name from the table of materials")
    density: Annotated[float, Field(gt=0, allow_inf_nan=False)] | None = Field(
        None, description="g/cm³ whatever the job's units; wins over the material's"
    )

    @model_validator(mode="after")
    def _one_of_each(self) -> Self:
        if (self.size is None) == (self.round is None):
            raise value_error("give either size (a block) or round (a bar), and only one of them")
        if self.material is None and self.density is None:
            raise value_error("give a material, or a density in g/cm³")
        return self


class OwnView(_Model):
    """A viewing direction of one's own: where one looks, and what is up."""

    look: tuple[Number, Number, Number]
    up: tuple[Number, Number, Number]

    @model_validator(mode="after")
    def _has_frame(self) -> Self:
        try:
            view_along(self.look, self.up)
        except JobError as error:
            raise value_error(error.what + (f": {error.todo}" if error.todo else "")) from None
        return self


class TabSpec(_Model):
    """A tab given by hand: a point near the outline, in face coordinates."""

    at: tuple[Length, Length]
    width: PositiveLength | None = None


class ProfileSpec(_Model):
    """One outline: where it is drawn, from where it is seen, how it lies on the stock."""

    view: Literal["front", "rear", "left", "right", "top", "bottom"] | OwnView
    drawing: str = Field(min_length=1, description="path of a .dxf or .svg, from the job file")
    name: str | None = Field(None, min_length=1)
    layer: Names | None = None
    units: Unit | None = Field(None, description="overrides what the drawing states")
    stock_layer: str | None = None
    datum: (
        Annotated[Literal["centre", "center", "corner"], AfterValidator(_spell)]
        | tuple[Length, Length]
        | None
    ) = None
    turn: Number = Field(0.0, description="degrees, counter-clockwise on the drawing")
    mirror: bool = Field(False, description="left and right change places")
    scale: Annotated[float, Field(gt=0, allow_inf_nan=False)] = 1.0
    shift: tuple[Length, Length] = (0.0, 0.0)
    tab_layer: str | None = None
    tab: tuple[TabSpec, ...] = ()
    clamp: tuple[Side, ...] | tuple[tuple[Length, Length, Length, Length], ...] | None = None

    @property
    def sight(self) -> View:
        """The view as a frame."""
        if isinstance(self.view, str):
            return VIEWS[self.view]
        return view_along(self.view.look, self.view.up)

    @property
    def layers(self) -> tuple[str, ...] | None:
        """The layers asked for, or None for all but those of stock and tabs."""
        return (self.layer,) if isinstance(self.layer, str) else self.layer


class Checks(_Model):
    """Limits of the checks, in job units."""

    thin: PositiveLength = Field(1.5, description="a section thinner than this is reported")
    match: PositiveLength = Field(0.1, description="outlines must agree in extent within this")


class Cutting(_Model):
    """How the cuts are made."""

    kerf: Annotated[float, Field(ge=0, allow_inf_nan=False), AfterValidator(_to_mm)] = 0.9
    tab_width: PositiveLength = 2.0
    order: tuple[str, ...] | None = None
    clear_offcuts: bool = Field(True, description="loose pieces are lifted out before the next")
    tab_area: Annotated[float, Field(gt=0, allow_inf_nan=False)] = Field(
        5.0, description="mm² in a job in mm, in² in a job in inches"
    )
    slat_gap: PositiveLength = 20.0

    @model_validator(mode="after")
    def _area_in_mm2(self, info: ValidationInfo) -> Self:
        factor = float((info.context or {}).get("mm", 1.0))
        if "tab_area" in self.model_fields_set and factor != 1.0:
            object.__setattr__(self, "tab_area", self.tab_area * factor**2)
        return self


class Job(_Model):
    """A job file, every length in mm.

    Read one with `read_job`; change one with `Job.changed`.
    """

    name: str = Field(min_length=1)
    units: Unit = "mm"
    tolerance: PositiveLength = Field(
        0.01, description="largest gap between a curve and its straight pieces; default 0.01 mm"
    )
    stock: StockSpec
    profile: Annotated[tuple[ProfileSpec, ...], Field(min_length=1)]
    checks: Checks = Checks()
    cutting: Cutting = Cutting()

    _path: Path | None = PrivateAttr(None)
    _declared: dict[str, Any] = PrivateAttr(default_factory=dict)

    @model_validator(mode="after")
    def _names_agree(self) -> Self:
        names = self.names
        twice = sorted({n for n in names if names.count(n) > 1})
        if twice:
            raise value_error(
                f"two profiles are called {twice[0]!r}; give one of them a name of its own",
                "profile",
            )
        order = self.cutting.order
        if order is not None and sorted(order) != sorted(names):
            raise value_error(
                "the order must name each profile once: " + ", ".join(names), "cutting", "order"
            )
        return self

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the profiles, as listed."""
        return tuple(
            p.name or (p.view if isinstance(p.view, str) else f"view {i}")
            for i, p in enumerate(self.profile, start=1)
        )

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

    def changed(self, values: Mapping[Path3, object]) -> Job:
        """The job with some values set, in job units.

        Parameters
        ----------
        values : mapping
            From a key path such as ``("profile", 0, "shift")`` to its new
            value; None removes the key.

        Raises
        ------
        JobError
            If the job would not be valid.
        """
        data = self.declared
        for path, value in values.items():
            _set(data, path, value)
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
    factor = MM_PER.get(units, 1.0) if isinstance(units, str) else 1.0
    try:
        job = Job.model_validate(data, context={"mm": factor})
    except ValidationError as error:
        raise explain(error, data, path, text, models=_MODELS) from None
    job._path, job._declared = path, copy.deepcopy(data)
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
    try:
        text = file.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise JobError(
            "there is no such job file",
            where=str(file),
            todo="check the path, or write a starter job with `silhouette3d new FOLDER`",
        ) from None
    except UnicodeDecodeError as error:
        raise JobError(
            f"the file is not UTF-8 text (byte {error.start})",
            where=str(file),
            todo="save it as UTF-8",
        ) from None
    except OSError as error:
        raise JobError(f"the file cannot be read: {error.strerror}", where=str(file)) from None
    try:
        data = tomllib.loads(text.replace("\r\n", "\n"))
    except tomllib.TOMLDecodeError as error:
        raise JobError(f"this is not TOML: {error}", where=str(file)) from None
    return job_from(data, path=file, text=text)


def schema() -> dict[str, Any]:
    """JSON Schema of the job file, for editors."""
    return Job.model_json_schema() | {"$schema": "https://json-schema.org/draft/2020-12/schema"}


def _set(data: dict[str, Any], path: Path3, value: object) -> None:
    place: Any = data
    for step, following in zip(path, path[1:], strict=False):
        if isinstance(step, str) and step not in place:
            place[step] = [] if isinstance(following, int) else {}
        place = place[step]
    if value is None:
        if not isinstance(place, Sequence):
            place.pop(path[-1], None)
    else:
        place[path[-1]] = value


_MODELS: dict[str, type[BaseModel]] = {
    "": Job,
    "stock": StockSpec,
    "round": RoundBar,
    "profile": ProfileSpec,
    "view": OwnView,
    "tab": TabSpec,
    "checks": Checks,
    "cutting": Cutting,
}

__all__ = ["Job", "job_from", "line_of", "read_job", "schema"]
