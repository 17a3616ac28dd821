"""What a job file may declare: one model for each of its tables, every length made mm."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Annotated, Final, Literal, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    Tag,
    ValidationInfo,
    model_validator,
)

from silhouette3d.errors import JobError
from silhouette3d.job_errors import Takes, value_error
from silhouette3d.limits import FARTHEST
from silhouette3d.materials import find_material
from silhouette3d.units import MERGE, Unit
from silhouette3d.view import VIEWS, View, view_along, view_from

DENSEST: Final = 25.0
"""g/cm³. Above osmium's 22.6 (from memory); more than that was meant in kg/m³."""

SMALLEST: Final = 0.01
"""mm. No side of a stock is shorter; a foil is about that thick."""

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
    """A tolerance in mm that is not finer than points are told apart."""
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

    diameter: Annotated[PositiveLength, Takes("a length")]
    length: Annotated[PositiveLength, Takes("a length")]
    along: Annotated[Literal["x", "y", "z"], Takes('"x", "y" or "z"')] = "z"


class StockSpec(Model):
    """The piece of material before cutting."""

    size: Annotated[
        tuple[PositiveLength, PositiveLength, PositiveLength] | None,
        Takes("three lengths [width, depth, height]"),
    ] = Field(None, description="width x, depth y, height z of a block, as measured after sawing")
    round: Annotated[RoundBar | None, Takes('a table {diameter = …, length = …, along = "z"}')] = (
        Field(None, description="a round bar, instead of size")
    )
    material: str | None = Field(None, description="a name from the table of materials")
    density: Annotated[Positive, AfterValidator(_possible)] | None = Field(
        None, description="g/cm³ whatever the job's units; wins over the material's"
    )

    @property
    def sides(self) -> tuple[float, ...]:
        """Of a block, or diameter and length of a bar, in mm."""
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

    look: Vector = Field(description="from the eye into the block, in block axes x, y, z")
    up: Vector = Field(description="what points up on the drawing, in block axes")

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
        description="degrees by which the eye walks round the block, counter-clockwise as seen "
        "from above; from top or bottom it turns the drawing on the face",
    )
    tipped: Annotated[Number, Field(ge=-90, le=90)] = Field(
        0.0,
        description="degrees by which the eye is then raised above the horizontal, or lowered "
        "where negative; not from top or bottom",
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

    at: Point
    width: PositiveLength | None = Field(None, description="default: tab_width of [cutting]")


class ProfileSpec(Model):
    """One outline: where it is drawn, from where it is seen, how it lies on the stock."""

    view: Annotated[
        ViewSpec,
        Takes(
            _NAMES
            + ', {from = "front", turned = 37, tipped = 0} or {look = [x, y, z], up = [x, y, z]}'
        ),
    ] = Field(description="from where the outline is seen, and the block is cut")
    drawing: Annotated[
        str, Field(min_length=1), AfterValidator(_whole), Takes("the path of a .dxf or .svg file")
    ] = Field(description="path of a .dxf or .svg, from the job file")
    name: Text | None = Field(None, description="default: the view's name")
    layer: Annotated[
        str | Annotated[tuple[str, ...], Field(min_length=1)] | None,
        Takes('the name of a layer in "quotes" or a list of names'),
    ] = Field(None, description="default: every visible layer but stock_layer and tab_layer")
    text: Annotated[Literal["outline"] | None, Takes('"outline"')] = Field(
        None, description="text is turned into outlines, else left out"
    )
    units: Annotated[Unit | None, Takes('"mm" or "in"')] = Field(
        None, description="overrides what the drawing states"
    )
    stock_layer: str | None = Field(
        None, description="the stock's face is drawn there as a rectangle; default: STOCK"
    )
    datum: Annotated[
        Annotated[Literal["centre", "center", "corner"], AfterValidator(_spell)]
        | tuple[Length, Length]
        | None,
        Takes('a point [u, v], "centre" or "corner"'),
    ] = Field(None, description="what of the drawing lies on the face's lower left corner")
    turn: Number = Field(0.0, description="degrees, counter-clockwise on the drawing")
    mirror: Flag = Field(False, description="left and right change places")
    scale: Annotated[Number, Field(ge=1e-6, le=1e6)] = 1.0
    shift: Point = Field((0.0, 0.0), description="right and up on the face, after all else")
    tab_layer: str | None = Field(
        None, description="lines across the outline, or closed shapes, are tabs; default: TABS"
    )
    tab: Annotated[
        tuple[TabSpec, ...], Takes("a list of tables like {at = [u, v], width = 2.0}")
    ] = Field((), description="tabs given by hand")
    clamp: Annotated[
        Annotated[tuple[Side, ...], Field(min_length=1)]
        | Annotated[tuple[tuple[Length, Length, Length, Length], ...], Field(min_length=1)]
        | None,
        Takes(
            'a list of sides ("left", "right", "bottom", "top") or of rectangles [u0, v0, u1, v1]'
        ),
    ] = Field(None, description="where the clamps press on, as the block lies")

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


class Checks(Model):
    """Limits of the checks, in job units."""

    thin: PositiveLength = Field(
        1.5, description="a section thinner than this is reported; default 1.5 mm"
    )
    match: PositiveLength = Field(
        0.1, description="outlines must agree in extent within this; default 0.1 mm"
    )


class Cutting(Model):
    """How the cuts are made."""

    kerf: Kerf = Field(0.9, description="width of the strip that a cut removes; default 0.9 mm")
    tab_width: PositiveLength = Field(2.0, description="default 2 mm")
    order: Annotated[tuple[str, ...] | None, Takes("a list of the profiles' names")] = Field(
        None, description="the order of the cuts; default: as the profiles are listed"
    )
    clear_offcuts: Flag = Field(True, description="loose pieces are lifted out before the next")
    tab_area: Positive = Field(
        5.0, description="mm² in a job in mm, in² in a job in inches; default 5 mm²"
    )
    slat_gap: PositiveLength = Field(20.0, description="default 20 mm")

    @model_validator(mode="after")
    def _area_in_mm2(self, info: ValidationInfo) -> Self:
        factor = _mm_per_unit(info)
        if "tab_area" in self.model_fields_set and factor != 1.0:
            object.__setattr__(self, "tab_area", self.tab_area * factor**2)
        return self
