"""Result that the worker hands over: a part, and what is known about it so far."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from silhouette3d.base.units import MM3_PER_CM3
from silhouette3d.checks.finding import Finding
from silhouette3d.errors import SilhouetteError
from silhouette3d.geometry.solid import Solid
from silhouette3d.job.model import Job
from silhouette3d.part import Part
from silhouette3d.process.stages import BodyStatus, Stage

Step = Literal["part", "cards", "checks", "cuts", "all"]
"""What has been worked out last, in this order:

``part``
    the solid with its mass and size;
``cards``
    each outline with the part's shadow, what is lost, and the tabs;
``checks``
    findings about the finished part;
``cuts``
    the block after every cut;
``all``
    every finding.
"""


Kind = Literal["value", "part", "cuts", "file", "inside"]
"""A value that was refused; a part or cuts that cannot be worked out; a file that cannot be
read or written; or a fault of this program."""


@dataclass(frozen=True)
class LooseMark:
    """A place of a drawing where lines do not go on: its number, u and v in mm, and its kind."""

    number: int
    at: tuple[float, float]
    words: str


@dataclass(frozen=True)
class Offered:
    """A key of a profile and its value with which a drawing gives an outline of so many mm²."""

    key: str
    value: str
    mm2: float


@dataclass(frozen=True)
class Refused:
    """A drawing that gives no outline, on its own coordinates: mm, u right and v **up**.

    Parameters
    ----------
    profile : str
        Whose drawing it is.
    box : tuple of float
        u, v, width, height of all there is to see.
    lines, region : str
        All that is drawn, and what it encloses, as SVG path data.
    marks : tuple of LooseMark
        Places to look at.
    counts : tuple of str
        How many of which kind.
    offers : tuple of Offered
        What may be declared instead.
    """

    profile: str
    box: tuple[float, float, float, float]
    lines: str
    region: str
    marks: tuple[LooseMark, ...]
    counts: tuple[str, ...]
    offers: tuple[Offered, ...]


@dataclass(frozen=True)
class Trouble:
    """Reason why there is no newer result: an error in words.

    Parameters
    ----------
    what, where, todo : str
        What is wrong, in which file, layer or key, and what to do about it.
    kind : Kind
        What it is about.
    refused : Refused, optional
        The drawing that gives no outline, if that is the trouble.
    """

    what: str
    where: str = ""
    todo: str = ""
    kind: Kind = "part"
    refused: Refused | None = None

    @classmethod
    def of(cls, error: Exception, kind: Kind = "part") -> Trouble:
        """Word the trouble that an error means."""
        if isinstance(error, SilhouetteError):
            return cls(error.what, error.where, error.todo, kind)
        words = f"something went wrong inside: {type(error).__name__}: {error}"
        return cls(words, todo="undo the last change; your job is still here", kind="inside")

    def __str__(self) -> str:
        return str(SilhouetteError(self.what, where=self.where, todo=self.todo))


@dataclass(frozen=True)
class TabMark:
    """A tab on a card.

    Parameters
    ----------
    at : tuple of float
        The middle of it on the cut's path, in face coordinates in mm.
    width : float
        In mm.
    area : str
        What it leaves standing: SVG path data in face coordinates.
    index : int or None
        Its position among the profile's tabs in the job; None for a tab that is drawn
        in the drawing and can only be changed there.
    """

    at: tuple[float, float]
    width: float
    area: str
    index: int | None


@dataclass(frozen=True)
class LostRegion:
    """A region of an outline that the part does not fill: its path data, and its size in mm²."""

    area: str
    mm2: float


@dataclass(frozen=True)
class Card:
    """One profile over the stock's face, ready to be drawn.

    Everything is in face coordinates: mm, the datum at (0, 0), u to the right and v
    **up**; a page turns it over with ``transform="scale(1,-1)"``. Areas are SVG path
    data to be filled by the even-odd rule.

    Parameters
    ----------
    name : str
        Of the profile.
    view : str
        From where it is seen, in words.
    drawing : str
        As the job names it.
    box : tuple of float
        u, v, width, height of all there is to see.
    face : str
        The stock's shadow.
    face_size : tuple of float
        Width and height of the stock's face in mm.
    outline : str
        As placed.
    path : str
        Along which the cutter's middle runs.
    shadow : str
        Of the part.
    lost : tuple of LostRegion
        Largest first.
    tabs : tuple of TabMark
        Those of the drawing, then those of the job.
    notes : tuple of str
        What the reader of the drawing took for granted.
    overlaps : tuple of (str, float)
        Where loops overlap: each rule for that, and the area in mm² that it gives.
    """

    name: str
    view: str
    drawing: str
    box: tuple[float, float, float, float]
    face: str
    face_size: tuple[float, float]
    outline: str
    path: str = ""
    shadow: str = ""
    lost: tuple[LostRegion, ...] = ()
    tabs: tuple[TabMark, ...] = ()
    notes: tuple[str, ...] = ()
    overlaps: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Piece:
    """One body at a stage.

    Parameters
    ----------
    solid : Solid
        In the block frame, in mm.
    status : {"part", "held", "loose"}
        What becomes of it.
    mass : float
        In g.
    """

    solid: Solid
    status: BodyStatus
    mass: float


@dataclass(frozen=True)
class StageOfBlock:
    """The block after a cut; the first is the raw block, its name empty.

    Parameters
    ----------
    name : str
        Of the profile just cut.
    pieces : tuple of Piece
        Largest first.
    lifted : tuple of Solid
        Loose pieces taken out before this cut.
    part_is_held : bool
        Whether the clamps hold the part after it.
    """

    name: str
    pieces: tuple[Piece, ...]
    lifted: tuple[Solid, ...] = ()
    part_is_held: bool = True

    @classmethod
    def after(cls, stage: Stage, density: float) -> StageOfBlock:
        """Make the figures of a stage, with the density in g/cm³."""
        pieces = tuple(
            Piece(body.solid, body.status, body.solid.volume * density / MM3_PER_CM3)
            for body in stage.bodies
        )
        return cls(stage.cut.name, pieces, stage.lifted, stage.part_is_held)


@dataclass(frozen=True)
class Result:
    """A part and what is known about it so far; each step gives a fuller one.

    Parameters
    ----------
    sequence : int
        Counts what was asked for; a larger one is newer.
    job : Job
        What it was worked out from.
    part : Part
        With what is named below already worked out; asking it for more takes time.
    step : Step
        The last that is done.
    solid : Solid
        Of the part, in the block frame, in mm.
    mass, stock_mass : float
        In g.
    volume : float
        In mm³.
    size, stock_size : tuple of float
        Along x, y, z in mm.
    centre : tuple of float
        Of mass, in mm.
    cards : tuple of Card
        One for each profile, as the job lists them; with shadow, lost regions and tabs
        from step ``cards`` on.
    findings : tuple of Finding or None
        Errors first; None before step ``checks``, and without those of the cuts before
        step ``all``.
    stages : tuple of StageOfBlock or None
        The raw block, then the block after every cut in the job's order; None before
        step ``cuts``.
    """

    sequence: int
    job: Job
    part: Part
    step: Step
    solid: Solid
    mass: float
    stock_mass: float
    volume: float
    size: tuple[float, float, float]
    stock_size: tuple[float, float, float]
    centre: tuple[float, float, float]
    cards: tuple[Card, ...]
    findings: tuple[Finding, ...] | None = None
    stages: tuple[StageOfBlock, ...] | None = None
