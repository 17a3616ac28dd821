"""Schema of the results that commands print with ``--json``, made from models.

Lengths are in mm, areas in mm², volumes in mm³, masses in g, densities in g/cm³ and angles in
degrees: the key says which. Points and sizes are lists along x, y, z in the block's frame, or
along u, v on a face. Quantities of findings carry their unit with them.
"""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

from silhouette3d.base.codes import Code
from silhouette3d.base.quantities import INSIDE
from silhouette3d.checks.finding import Severity
from silhouette3d.geometry.thickness.definition import Kind
from silhouette3d.process.runs import Start
from silhouette3d.process.stages import BodyStatus

Pair = tuple[float, float]
Triple = tuple[float, float, float]


class ShownModel(BaseModel):
    """An object that has its own keys only."""

    model_config = ConfigDict(extra="forbid")


class QuantityShown(ShownModel):
    """A number and its unit; several numbers are a size or a range."""

    value: float | list[float]
    unit: str = Field(
        description="empty for a count, and for a share, which is one of the whole",
        json_schema_extra={"enum": [*dict.fromkeys(INSIDE.values())]},
    )


class PlaceShown(ShownModel):
    """Place of a finding."""

    at_mm: Triple
    on_face_mm: Pair | None = Field(description="on the face of its profile, where that matters")


class FindingShown(ShownModel):
    """One thing to look at before cutting."""

    code: Code
    severity: Severity
    profile: str | None = Field(description="the profile that it is about")
    others: list[str] = Field(description="further profiles that have a part in it")
    stage: int | None = Field(description="the cut after which it is so; 0 is before the first")
    places: list[PlaceShown] = Field(description="the first is the one to look at")
    quantities: dict[str, QuantityShown] = Field(
        description="the first is what it is about; limit is what that was held against"
    )
    facts: dict[str, Any] = Field(description="names, numbers and yes or no that belong to a code")
    message: str = Field(description="what is so, in the units asked for")
    advice: str = Field(description="what to do about it")
    accepted: str | None = Field(description="the reason for which the job accepts it")
    members: list[FindingShown] = Field(
        description="those of one cause for which it stands, if there are several"
    )


class Summary(ShownModel):
    """Counts of findings of each severity, and of those that are accepted."""

    errors: int
    warnings: int
    notes: int
    accepted: int


class Region(ShownModel):
    """A thin place of the part."""

    kind: Kind
    thickness_mm: float
    angle_deg: float | None = Field(description="between the walls of a knife edge")
    at_mm: Triple
    p_mm: Triple
    q_mm: Triple
    extent_mm: Triple
    area_mm2: float
    profiles: list[str] = Field(description="whose walls face each other there, or stock")


class Check(ShownModel):
    """Output of `check --json`."""

    name: str
    findings: list[FindingShown]
    summary: Summary
    regions: list[Region]


class Weigh(ShownModel):
    """Output of `weigh --json`."""

    name: str
    volume_mm3: float
    volume_error_mm3: float = Field(description="bound on what straight pieces for curves make")
    perturbed_by_mm: float = Field(
        description="how far walls may lie from where they were drawn; 0 where they lie there"
    )
    surface_mm2: float
    mass_g: float
    density_g_cm3: float
    centre_of_mass_mm: Triple
    inertia_g_mm2: tuple[Triple, Triple, Triple]
    size_mm: Triple
    bodies: int
    stands_on: str | None
    down: Triple | None
    tipping_angle_deg: float | None
    tipping_angle_in_block_deg: float | None
    stock_mass_g: float
    quantity: int
    net_kg: float
    gross_kg: float


class HeldThin(ShownModel):
    """The thinnest section of the body with the part in it, after a cut."""

    after: str
    thickness_mm: float | None
    at_mm: Triple | None


class Thickness(ShownModel):
    """Output of `thickness --json`."""

    limit_mm: float
    regions: list[Region]
    held: list[HeldThin]


class CutThickness(ShownModel):
    """Thickness of the stock, and of what is there of it where it is cut."""

    stock: float
    most: float
    least: float


class StartShown(ShownModel):
    """Start of a run on the face."""

    at_mm: Pair
    started: Start = Field(alias="from")


class BodyShown(ShownModel):
    """One piece after a cut."""

    standing: BodyStatus
    volume_mm3: float
    mass_g: float
    size_mm: Triple
    centre_mm: Triple


class CutShown(ShownModel):
    """One cut, and what is there after it."""

    profile: str
    thickness_mm: CutThickness
    length_mm: float
    area_mm2: float
    starts: list[StartShown]
    bodies: list[BodyShown]
    part_standing: Literal["held", "loose"]


class Stages(ShownModel):
    """Output of `stages --json`."""

    order: list[str]
    cuts: list[CutShown]


class OrderShown(ShownModel):
    """One order of the cuts."""

    order: list[str]
    released_after: int | None
    broken_after: int | None
    loose_offcuts: int
    loose_mass_g: float
    cut_area_mm2: float


class Orders(ShownModel):
    """Output of `order --json`, best first."""

    declared: list[str]
    frees: bool
    orders: list[OrderShown]


class TabShown(ShownModel):
    """A place for a tab."""

    profile: str
    at_mm: Pair
    width_mm: float
    holding_mm2: float
    witness_mm2: float


class FootShown(ShownModel):
    """A foot to leave on the stock, to hold the part by until the last cut."""

    side: str
    length_mm: float
    longer_mm: float
    order: list[str]
    clamp: list[str]
    hold_mm2: float


class Tabs(ShownModel):
    """Output of `tabs --json`."""

    tabs: list[TabShown]
    holds: bool
    hold_mm2: float | None
    to_mend: list[str]
    other_order: list[str] | None
    foot: FootShown | None


class MaterialShown(ShownModel):
    """A material of the table."""

    name: str
    density_g_cm3: float
    family: str
    source: str
    aliases: list[str]
    range_g_cm3: Pair | None


Materials = Annotated[list[MaterialShown], Field(description="What `materials --json` prints.")]

RESULTS: Final[Any] = Check | Weigh | Thickness | Stages | Orders | Tabs | Materials


def results_schema() -> dict[str, Any]:
    """Make the JSON Schema (2020-12) of all that commands print with ``--json``."""
    found = TypeAdapter[Any](RESULTS).json_schema(by_alias=True)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "What silhouette3d prints with --json",
        "description": " ".join((__doc__ or "").split("\n\n", 1)[1].split()),
        **found,
    }
