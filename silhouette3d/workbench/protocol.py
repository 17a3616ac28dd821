"""Messages between page and server: the values that a page shows, and what it may ask for.

Lengths in a job's form are in the job's units, as its file has them; places on faces and in
the block are in mm; what is text is made to be read as it is.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, Literal, ParamSpec, TypedDict, TypeVar

from silhouette3d.errors import WorkbenchError

__all__ = [
    "CardForm",
    "Choices",
    "ContentsForm",
    "ErrandForm",
    "Figures",
    "FindingForm",
    "FolderForm",
    "JobForm",
    "Label",
    "OfferForm",
    "PageState",
    "ProfileForm",
    "ProposalForm",
    "RefusedForm",
    "Scene",
    "Shape",
    "StockForm",
    "StripStep",
    "TabForm",
    "TroubleForm",
    "UnitForm",
    "checked",
]

P = ParamSpec("P")
R = TypeVar("R")


class UnitForm(TypedDict):
    """Form in which the browser writes lengths that it measures itself."""

    name: Literal["mm", "in"]
    per: float
    digits: int


class StockForm(TypedDict):
    """The stock as the job file has it: `size` or `round`."""

    size: list[float] | None
    round: dict[str, Any] | None
    material: str | None
    density: float | None


class TabForm(TypedDict):
    """A tab of the job, in job units."""

    at: list[float]
    width: float


class ProfileForm(TypedDict):
    """A profile as the fields show it, in job units and degrees."""

    name: str
    view: str
    drawing: str
    layer: str | list[str] | None
    shift: list[float]
    turn: float
    mirror: bool
    scale: float
    datum: str | list[float] | None
    colour: str | int | list[str | int] | None
    linetype: str | list[str] | None
    take: str | None
    open: str | None
    overlap: str | None
    tabs: list[TabForm]


class JobForm(TypedDict):
    """A job as the fields show it, in job units."""

    name: str
    file: str
    units: Literal["mm", "in"]
    unsaved: bool
    canUndo: bool
    canRedo: bool
    stock: StockForm
    kerf: float
    tabWidth: float
    thin: float
    order: list[str]
    profiles: list[ProfileForm]


class Figures(TypedDict):
    """Weight and size as text; `block` in mm, for the view."""

    mass: str
    size: str
    volume: str
    stockMass: str
    stockSize: str
    centre: str
    block: list[float]
    number: int


class CardForm(TypedDict):
    """A profile over the stock's face, as `result.Card` says, areas as SVG path data."""

    name: str
    view: str
    drawing: str
    box: tuple[float, float, float, float]
    face: str
    face_size: tuple[float, float]
    outline: str
    path: str
    shadow: str
    lost: tuple[dict[str, Any], ...]
    tabs: tuple[dict[str, Any], ...]
    notes: tuple[str, ...]
    known: bool
    faceSize: str
    areas: list[tuple[str, str]]


class FindingForm(TypedDict):
    """A finding in words, with its number in the list and its place in mm."""

    number: int
    code: str
    severity: Literal["error", "warning", "note"]
    message: str
    advice: str
    profile: str | None
    where: list[float] | None
    accepted: bool


class TroubleForm(TypedDict):
    """Trouble in words: what is wrong, where, and what to do."""

    what: str
    where: str
    todo: str
    kind: str


class OfferForm(TypedDict):
    """A value of a profile's key, in words, and the area of the outline that it gives."""

    key: str
    value: str
    words: str
    area: str


class RefusedForm(TypedDict):
    """A drawing that gives no outline, as `result.Refused` says, with what may be declared."""

    profile: str
    box: tuple[float, float, float, float]
    lines: str
    region: str
    marks: list[dict[str, Any]]
    counts: list[str]
    offers: list[OfferForm]


class ProposalForm(TypedDict):
    """A proposal as a sentence."""

    words: str
    nothing: bool
    holds: bool


class ErrandForm(TypedDict):
    """State of an export or a search."""

    words: str
    state: Literal["waiting", "running", "done", "failed"]
    share: float | None
    file: str
    trouble: TroubleForm | None


Shape = dict[str, Any]
"""Triangles or lines with ``id``, ``role``, ``move`` in mm, and ``state``: arrays."""


class Scene(TypedDict):
    """The shapes of one stage, or of the part where `stage` is None."""

    stage: int | None
    number: int
    shapes: list[Shape]


class Label(TypedDict):
    """The number of a finding at its place in mm."""

    number: int
    severity: Literal["error", "warning", "note"]
    at: list[float]


class StripStep(TypedDict):
    """A small picture of one stage, as a data address."""

    title: str
    words: str
    picture: str


class ContentsForm(TypedDict):
    """Contents of a drawing: names of layers and linetypes, and colours."""

    layers: list[str]
    colours: list[str]
    linetypes: list[str]


class FolderForm(TypedDict):
    """List the folder, for those who begin."""

    path: str
    jobs: list[str]
    drawings: list[str]
    samples: list[str]


class Choices(TypedDict):
    """Values that can be chosen from, and how many bytes an upload may have."""

    mostBytes: int
    materials: list[dict[str, Any]]
    views: list[str]
    exports: list[dict[str, Any]]


class PageState(TypedDict):
    """All that a page knows."""

    job: JobForm | None
    figures: Figures | None
    cards: list[CardForm]
    findings: list[FindingForm]
    checked: bool
    strip: list[StripStep]
    scene: Scene
    marks: list[Shape]
    labels: list[Label]
    trouble: TroubleForm | None
    refused: RefusedForm | None
    busy: bool
    conflict: bool
    proposal: ProposalForm | None
    errand: ErrandForm | None
    unit: UnitForm
    folder: FolderForm | None
    choices: Choices


def checked(answer: Callable[P, R]) -> Callable[P, R]:
    """Check what a page sends against the types of the function that answers it.

    Parameters
    ----------
    answer : callable
        With type hints for all that it takes.

    Returns
    -------
    callable
        Takes the same, and raises `WorkbenchError` for values of other types.
    """
    from pydantic import ValidationError, validate_call

    validated = validate_call(answer)

    @wraps(answer)
    def asked(*given: P.args, **named: P.kwargs) -> R:
        try:
            return validated(*given, **named)
        except ValidationError as error:
            first = error.errors()[0]
            place = ".".join(map(str, first["loc"]))
            raise WorkbenchError(
                f"the page sent a value that is not taken: {first['msg'].lower()}",
                where=f"{answer.__name__}, {place}",
                todo="load the page again; if that does not help, report it",
            ) from None

    return asked
