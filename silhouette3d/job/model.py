"""The job: one model for each of its tables, every length made mm."""

from __future__ import annotations

import copy
import math
import os
from collections.abc import Mapping
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Any, Final, Literal, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    PrivateAttr,
    Tag,
    ValidationError,
    ValidationInfo,
    model_validator,
)

from silhouette3d.base.codes import Code
from silhouette3d.base.limits import FARTHEST, PROFILES
from silhouette3d.base.materials import find_material
from silhouette3d.base.units import MM_PER, Unit
from silhouette3d.errors import JobError
from silhouette3d.geometry.frames import VIEWS, View
from silhouette3d.geometry.tolerances import MERGE
from silhouette3d.job.text import Models, Takes, explain, read_text, value_error, values_of
from silhouette3d.job.views import view_along, view_from

# --- What a job file may declare: one model for each of its tables, every length made mm


DENSEST: Final = 25.0
"""g/cm³. Above osmium's 22.6 (from memory); more than that was meant in kg/m³."""

SMALLEST: Final = 0.01
"""mm. No side of a stock is shorter; a foil is about that thick."""

_SCALE: Final = 1e6
"""By which a drawing may be enlarged or reduced: from micrometres to metres."""

THINNEST: Final = 1e-5
"""Share of its diagonal that the stock must have in every direction. Walls are told apart
to some 1e-7 of the diagonal while cutting; a foil of 0.01 mm may be 1 m long."""


def _to_mm(value: float, info: ValidationInfo) -> float:
    mm = value * _mm_per_unit(info)
    if abs(mm) > FARTHEST:
        raise value_error(f"{value:g} is more than a kilometre", todo="check it and the units")
    return mm


def _mm_per_unit(info: ValidationInfo) -> float:
    return float((info.context or {}).get("mm", 1.0))


def _possible(density: float) -> float:
    if density > DENSEST:
        raise value_error(
            f"{density:g} g/cm³ is more than the densest metal has",
            todo="give it in g/cm³: 2700 kg/m³ are 2.7 g/cm³",
        )
    return density


def fine_enough(value: float) -> float:
    """Check that a tolerance in mm is not finer than points are told apart."""
    if value < MERGE:
        raise value_error(f"it must be at least {MERGE:f} mm: nearer points are one point")
    return value


def _spell(value: object) -> object:
    return "centre" if value == "center" else value


def _whole(value: str) -> str:
    if "\0" in value:
        raise value_error("it holds a null character")
    return value


Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Positive = Annotated[float, Field(strict=True, gt=0, allow_inf_nan=False)]
Length = Annotated[Number, AfterValidator(_to_mm)]
PositiveLength = Annotated[Positive, AfterValidator(_to_mm)]
Kerf = Annotated[float, Field(strict=True, ge=0, allow_inf_nan=False), AfterValidator(_to_mm)]
Flag = Annotated[bool, Field(strict=True)]
Text = Annotated[str, Field(min_length=1), Takes('text in "quotes"')]
Colour = Text | Annotated[int, Field(strict=True)]
Side = Literal["left", "right", "bottom", "top"]
SideOfBlock = Literal["front", "rear", "left", "right", "top", "bottom"]
Point = Annotated[tuple[Length, Length], Takes("two lengths [u, v]")]
Coordinate = Annotated[Number, Field(ge=-FARTHEST, le=FARTHEST)]
Vector = Annotated[tuple[Coordinate, Coordinate, Coordinate], Takes("three numbers [x, y, z]")]


class Model(BaseModel):
    """A table that takes its own keys only and cannot be changed."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class RoundBar(Model):
    """A round bar: its diameter, its length and the axis it lies along."""

    diameter: Annotated[PositiveLength, Takes("a length")] = Field(
        description="across the bar, as measured", examples=[60.0]
    )
    length: Annotated[PositiveLength, Takes("a length")] = Field(
        description="of the bar, as measured after sawing", examples=[70.0]
    )
    along: Annotated[Literal["x", "y", "z"], Takes('"x", "y" or "z"')] = Field(
        "z", description='the axis of the block that it lies along; default "z", it stands'
    )


class StockSpec(Model):
    """The piece of material before cutting."""

    size: Annotated[
        tuple[PositiveLength, PositiveLength, PositiveLength] | None,
        Takes("three lengths [width, depth, height]"),
    ] = Field(
        None,
        description="width x, depth y, height z of a block, as measured after sawing",
        examples=[[60.0, 50.0, 70.0]],
    )
    round: Annotated[RoundBar | None, Takes('a table {diameter = …, length = …, along = "z"}')] = (
        Field(None, description="a round bar, instead of size")
    )
    material: str | None = Field(
        None,
        description="a name from the table of materials, which `silhouette3d materials` prints",
        examples=["brass C360"],
    )
    density: Annotated[Positive, AfterValidator(_possible)] | None = Field(
        None,
        description="g/cm³, whatever the job's units; default: that of the material",
        examples=[8.49],
    )

    @property
    def sides(self) -> tuple[float, ...]:
        """Sides of a block, or diameter and length of a bar, in mm."""
        if self.round is not None:
            return self.round.diameter, self.round.length
        return self.size or ()

    @model_validator(mode="after")
    def _one_of_each(self) -> Self:
        if (self.size is None) == (self.round is None):
            raise value_error("give either size (a block) or round (a bar), and only one of them")
        if self.density is None and self.material is None:
            raise value_error("give a material, or a density in g/cm³")
        sides = self.sides
        least = max(SMALLEST, THINNEST * math.hypot(*sides))
        if min(sides) < least:
            raise value_error(
                f"{min(sides):g} mm is next to nothing",
                "size" if self.size else "round",
                todo=f"check it and the units: here a side must have at least {least:g} mm",
            )
        if self.density is None and self.material is not None:
            try:
                find_material(self.material)
            except JobError as error:
                raise value_error(error.what, "material", todo=error.todo) from None
        return self


_NAMES: Final = ", ".join(f'"{name}"' for name in VIEWS)


class OwnView(Model):
    """A viewing direction of one's own: where one looks, and what is up."""

    look: Vector = Field(
        description="from the eye into the block, in block axes x, y, z", examples=[[0.6, 0.8, 0.0]]
    )
    up: Vector = Field(
        description="what points up on the drawing, in block axes", examples=[[0.0, 0.0, 1.0]]
    )

    @model_validator(mode="after")
    def _has_frame(self) -> Self:
        try:
            view_along(self.look, self.up)
        except JobError as error:
            raise value_error(error.what, todo=error.todo) from None
        return self


class TurnedView(Model):
    """A viewing direction by angle: a named view, turned and tipped."""

    side: Annotated[SideOfBlock, Takes(_NAMES)] = Field(
        alias="from", description="the named view that it begins with"
    )
    turned: Annotated[Number, Field(ge=-360, le=360)] = Field(
        0.0,
        description="degrees by which the eye then walks round the block, counter-clockwise as "
        "seen from above; from top or bottom it turns the drawing on the face; default 0",
        examples=[37.0],
    )
    tipped: Annotated[Number, Field(ge=-90, le=90)] = Field(
        0.0,
        description="degrees by which the eye is after that raised above the horizontal, or "
        "lowered where negative; not from top or bottom; default 0",
        examples=[20.0],
    )

    @model_validator(mode="after")
    def _can_be_tipped(self) -> Self:
        try:
            view_from(self.side, self.turned, self.tipped)
        except JobError as error:
            raise value_error(error.what, "tipped", todo=error.todo) from None
        return self


def _kind_of_view(value: object) -> str:
    """Tell by its keys which kind of view a value is meant to be."""
    if isinstance(value, OwnView) or (isinstance(value, Mapping) and {"look", "up"} & value.keys()):
        return "a view by vectors"
    return "a view by angle" if isinstance(value, TurnedView | Mapping) else "a view by name"


def _of_one_kind(value: object) -> object:
    if isinstance(value, Mapping):
        vectors, angles = {"look", "up"} & value.keys(), {"from", "turned", "tipped"} & value.keys()
        if vectors and angles:
            raise value_error(
                f"it has {' and '.join(sorted(vectors | angles))}, which are of two kinds of view",
                todo="give look and up, or from with turned and tipped",
            )
    return value


ViewSpec = Annotated[
    Annotated[SideOfBlock, Tag("a view by name")]
    | Annotated[TurnedView, Tag("a view by angle")]
    | Annotated[OwnView, Tag("a view by vectors")],
    Discriminator(_kind_of_view),
    BeforeValidator(_of_one_kind),
]
"""From where an outline is seen."""


class TabSpec(Model):
    """A tab given by hand: a point near the outline, in face coordinates."""

    at: Point = Field(
        description="a point [u, v] near the outline, in face coordinates", examples=[[5.0, 10.0]]
    )
    width: PositiveLength | None = Field(
        None,
        description="where the tab is narrowest; default: tab_width of [cutting]",
        examples=[2.0],
    )


class ProfileSpec(Model):
    """One outline: where it is drawn, from where it is seen, how it lies on the stock."""

    view: Annotated[
        ViewSpec,
        Takes(
            _NAMES
            + ', {from = "front", turned = 37, tipped = 0} or {look = [x, y, z], up = [x, y, z]}'
        ),
    ] = Field(
        description="from where the outline is seen and cut: front, rear, left, right, top, "
        "bottom, or a view of your own by angle or by vectors",
        examples=["front"],
    )
    drawing: Annotated[
        str, Field(min_length=1), AfterValidator(_whole), Takes("the path of a .dxf or .svg file")
    ] = Field(
        description="path of a .dxf or .svg file, from the job file's folder",
        examples=["front.dxf"],
    )
    name: Text | None = Field(
        None, description="what it is called; default: its view's name", examples=["front"]
    )
    layer: Annotated[
        str | Annotated[tuple[str, ...], Field(min_length=1)] | None,
        Takes('the name of a layer in "quotes" or a list of names'),
    ] = Field(
        None,
        description="the layer with the outline, or a list of layers; "
        "default: every visible one but stock_layer and tab_layer",
        examples=["OUTLINE"],
    )
    colour: Annotated[
        Colour | Annotated[tuple[Colour, ...], Field(min_length=1)] | None,
        Takes('a colour ("red", "#ff0000", the number of a DXF colour) or a list of them'),
    ] = Field(
        None,
        description='only what is drawn in this colour, or a list of colours: "red", "#ff0000" '
        "or the number of a DXF colour; default: in any",
        examples=["red"],
    )
    linetype: Annotated[
        Text | Annotated[tuple[Text, ...], Field(min_length=1)] | None,
        Takes('the name of a linetype in "quotes" or a list of names'),
    ] = Field(
        None,
        description="only what is drawn with this linetype, or a list of linetypes; "
        "default: with any",
        examples=["CONTINUOUS"],
    )
    take: Annotated[Literal["silhouette"] | None, Takes('"silhouette"')] = Field(
        None,
        description='"silhouette" takes the outermost closed regions of everything drawn, and '
        "leaves out what lies in them; default: closed loops, one in the other a hole",
    )
    open: Annotated[Literal["ignore"] | None, Takes('"ignore"')] = Field(
        None,
        description='"ignore" leaves out lines that do not close; default: they are refused',
    )
    overlap: Annotated[
        Literal["union", "subtract", "even-odd"] | None,
        Takes('"union", "subtract" or "even-odd"'),
    ] = Field(
        None,
        description='what loops make that overlap in part: "union" one together, "subtract" the '
        'larger less the smaller, "even-odd" what lies in an odd number of them; '
        "default: united, with a warning",
    )
    text: Annotated[Literal["outline"] | None, Takes('"outline"')] = Field(
        None,
        description='"outline" turns text into outlines; default: text is counted and left out',
    )
    units: Annotated[Unit | None, Takes('"mm" or "in"')] = Field(
        None,
        description='"mm" or "in", whatever the drawing states; '
        "default: what it states, else the job's",
    )
    stock_layer: str | None = Field(
        None,
        description="the layer on which a rectangle is the stock's face as drawn: its lower left "
        "corner is the datum, its size is checked; default: STOCK, where there is one",
        examples=["STOCK"],
    )
    datum: Annotated[
        Annotated[Literal["centre", "center", "corner"], AfterValidator(_spell)]
        | tuple[Length, Length]
        | None,
        Takes('a point [u, v], "centre" or "corner"'),
    ] = Field(
        None,
        description="the point [u, v] of the drawing that lies on the lower left corner of the "
        'stock\'s face; or "corner" or "centre": so lies the outline\'s bounding box; '
        'default: the stock rectangle\'s corner, else "centre"',
        examples=["centre"],
    )
    turn: Number = Field(
        0.0, description="degrees, counter-clockwise on the drawing, about the datum; default 0"
    )
    mirror: Flag = Field(
        False, description="whether left and right change places, about the datum; default false"
    )
    scale: Annotated[Number, Field(ge=1.0 / _SCALE, le=_SCALE)] = Field(
        1.0, description="how much larger than drawn, from the datum; default 1"
    )
    shift: Point = Field(
        (0.0, 0.0), description="moves it right and up on the face, after all else; default none"
    )
    tab_layer: str | None = Field(
        None,
        description="the layer on which lines across the outline, or closed shapes, are tabs; "
        "default: TABS, where there is one",
        examples=["TABS"],
    )
    tab: Annotated[
        tuple[TabSpec, ...], Takes("a list of tables like {at = [u, v], width = 2.0}")
    ] = Field(
        (),
        description="a tab: there the cut is interrupted, so that the part stays joined to the "
        "block; one table for each; default: those on tab_layer only",
    )
    clamp: Annotated[
        Annotated[tuple[Side, ...], Field(min_length=1)]
        | Annotated[tuple[tuple[Length, Length, Length, Length], ...], Field(min_length=1)]
        | None,
        Takes(
            'a list of sides ("left", "right", "bottom", "top") or of rectangles [u0, v0, u1, v1]'
        ),
    ] = Field(
        None,
        description="where the clamps press on, as the block lies: a list of sides out of "
        '"left", "right", "bottom", "top", or of rectangles [u0, v0, u1, v1] on the face; '
        "default: the largest body is taken as held by the stock's side faces",
        examples=[["left", "right"]],
    )

    @property
    def sight(self) -> View:
        """The view as a frame."""
        if isinstance(self.view, str):
            return VIEWS[self.view]
        if isinstance(self.view, TurnedView):
            return view_from(self.view.side, self.view.turned, self.view.tipped)
        return view_along(self.view.look, self.view.up)

    @property
    def own_name(self) -> str:
        """The name given, or else that of its view; none for a view by vectors."""
        return self.name or ("" if isinstance(self.view, OwnView) else self.sight.plain_name)

    @property
    def layers(self) -> tuple[str, ...] | None:
        """The layers asked for, or None for all but those of stock and tabs."""
        return (self.layer,) if isinstance(self.layer, str) else self.layer

    @property
    def colours(self) -> tuple[str | int, ...] | None:
        """The colours asked for, as written, or None for all."""
        return (self.colour,) if isinstance(self.colour, str | int) else self.colour

    @property
    def linetypes(self) -> tuple[str, ...] | None:
        """The linetypes asked for, or None for all."""
        return (self.linetype,) if isinstance(self.linetype, str) else self.linetype


class Accept(Model):
    """A finding that is as it should be: it is told with its reason, and nothing is asked."""

    code: Annotated[Code, Takes("the code of a finding, as `silhouette3d check` prints it")] = (
        Field(
            description="the code of the findings, as `silhouette3d check` prints it",
            examples=["loose-offcut"],
        )
    )
    profile: Text | None = Field(
        None,
        description="the profile that they must be about; default: any",
        examples=["front"],
    )
    reason: Text = Field(
        description="why it is as it should be; sheets and the workbench repeat it",
        examples=["the frame is taken out by hand"],
    )


class Checks(Model):
    """Limits of the checks, in job units."""

    thin: PositiveLength = Field(
        1.5, description="a wall or neck thinner than this is reported; default 1.5 mm"
    )
    match: PositiveLength = Field(
        0.1,
        description="outlines must agree in width, depth and height within this; default 0.1 mm",
    )


class Cutting(Model):
    """Settings of how the cuts are made."""

    kerf: Kerf = Field(0.9, description="width of the strip that a cut removes; default 0.9 mm")
    tab_width: PositiveLength = Field(
        2.0,
        description="width of a tab where it is narrowest: the cut stops half a kerf before it "
        "on either side; default 2 mm",
    )
    order: Annotated[tuple[str, ...] | None, Takes("a list of the profiles' names")] = Field(
        None,
        description="the profiles' names in the order of the cuts; default: as they are listed",
        examples=[["front", "right", "top"]],
    )
    clear_offcuts: Flag = Field(
        True,
        description="whether loose pieces are lifted out before the next setup; default true",
    )
    air: PositiveLength = Field(
        5.0,
        description="shorter air on the way of the cutter is run through; in longer air it stops, "
        "and starts again behind it; default 5 mm",
    )
    lead: Kerf | None = Field(
        None,
        description="length of the lead from where the cutter is started, in waste that may be "
        "spoilt, to where it cuts along the outline; less where there is no room; default three "
        "times the kerf",
        examples=[2.7],
    )
    pierce: Kerf | None = Field(
        None,
        description="radius of the spot that is spoilt where the cutter is started: so far it "
        "keeps from the part and from what must hold; default the kerf",
        examples=[0.9],
    )
    side: Annotated[Literal["left", "right"], Takes('"left" or "right"')] = Field(
        "left",
        description="on which hand of the cutter the part lies, in holes too; "
        'default "left": outside counter-clockwise, holes clockwise',
    )
    head: Kerf = Field(
        0.0,
        description="diameter of the head about the cutter, which must clear the clamps; default 0",
    )
    jaw: Kerf = Field(
        0.0,
        description="how far the jaw of a clamp that presses on a side reaches over the face; "
        "default 0",
    )
    tab_area: Positive = Field(
        5.0,
        description="a part that hangs on less material before the last cut is reported: mm² in a "
        "job in mm, in² in a job in inches; default 5 mm²",
    )
    slat_gap: PositiveLength = Field(
        20.0,
        description="clear width between the slats under the block: smaller pieces fall through; "
        "default 20 mm",
    )
    seat: PositiveLength = Field(
        10.0,
        description="shortest stretch of the stock's own side that a block can be seated against; "
        "default 10 mm",
    )

    @model_validator(mode="after")
    def _area_in_mm2(self, info: ValidationInfo) -> Self:
        factor = _mm_per_unit(info)
        if "tab_area" in self.model_fields_set and factor != 1.0:
            object.__setattr__(self, "tab_area", self.tab_area * factor**2)
        return self


# --- The job: what the designer declares, checked against one model
#
# A job keeps the values as they were written, in its own units, beside the
# model that holds them in millimetres. So it can be changed and saved without
# losing a digit or a comment.


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
        """Folder that the drawings' paths start from."""
        return self._path.parent if self._path else Path()

    @property
    def declared(self) -> dict[str, Any]:
        """A copy of the values as written, in job units."""
        return copy.deepcopy(self._declared)

    def changed(self, values: Mapping[KeyPath, object]) -> Job:
        """Set some values of the job, in job units.

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
    """Make a job from the values of its file.

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
    """Write the JSON Schema of the job file, for editors."""
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
    """Copy a value into the types that a TOML file has: lists, no tuples."""
    if isinstance(value, Mapping):
        return {str(key): _plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    return value


def _order_todo(order: tuple[str, ...], names: tuple[str, ...]) -> str:
    """Tell what to change in an order of cuts that does not fit the profiles."""
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
