"""What a reader hands over: shapes by layer, in millimetres, nothing joined yet."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from silhouette3d.drawing.curve import Curve
from silhouette3d.errors import DrawingError

FillRule = Literal["evenodd", "nonzero"]


@dataclass(frozen=True)
class Shape:
    """Curves that one object of the file holds together.

    Parameters
    ----------
    curves : tuple of Curve
        Closed or open. Loose lines and arcs are shapes of one open curve each.
    fill : {"evenodd", "nonzero"}, optional
        How the object itself says what is inside it; None for line work.
    colour : str, optional
        As seen, ``"#rrggbb"`` in lower case: of the fill where there is one, else of the
        line. What is drawn black on white paper and white on black is ``"#000000"``.
    linetype : str, optional
        Of line work: the name of a DXF linetype, or ``"dashed"`` or ``"continuous"`` of an
        SVG stroke.
    width : float
        In mm, of the stroke that the file paints along the curves; 0 if it paints none, or
        does not say how wide.
    plain : bool
        Of a filled object: in one opaque colour, and without a stroke in another, so that it
        cannot be seen on an object of the same colour.
    """

    curves: tuple[Curve, ...]
    fill: FillRule | None = None
    colour: str | None = None
    linetype: str | None = None
    width: float = 0.0
    plain: bool = False

    @property
    def layer(self) -> str:
        """The layer that the object lies on."""
        return self.curves[0].layer


@dataclass(frozen=True)
class Writing:
    """One line of text of a drawing, not yet turned into outlines.

    Parameters
    ----------
    text : str
        The characters, markup resolved.
    matrix : tuple of six floats
        (a, b, c, d, e, f): from em units (baseline start at 0,0; x along the baseline, y up;
        1 is the size of the font) to drawing coordinates in mm:
        u = a x + c y + e, v = b x + d y + f.
    font : str
        The family or file that the drawing names; empty if none. Several, with commas
        between them, are tried in turn.
    layer, colour
        As of a shape.
    anchor : float
        Share of the line's length that lies left of the origin: 0, 0.5 in the middle, 1.
    bold, italic : bool
        Which font of the family.
    capitals : bool
        Whether 1 unit is the height of capital letters instead, as in DXF.
    length : float, optional
        In units: the line is made as long as this, by stretching it.
    uniform : bool
        Whether it is stretched upwards in proportion then.
    follows : bool
        Whether it goes on where the writing before it ends: its origin is then where it would
        begin if that one had no length, and `anchor` holds for all that follow one another.
    """

    text: str
    matrix: tuple[float, float, float, float, float, float]
    font: str = ""
    layer: str = ""
    colour: str | None = None
    anchor: float = 0.0
    bold: bool = False
    italic: bool = False
    capitals: bool = False
    length: float | None = None
    uniform: bool = False
    follows: bool = False


@dataclass(frozen=True)
class Fault:
    """An object that cannot be used, which matters to those who take its layer.

    Parameters
    ----------
    layer : str
        That the object lies on.
    error : DrawingError
        What is wrong with it.
    """

    layer: str
    error: DrawingError


@dataclass(frozen=True)
class Drawing:
    """One file as read, in mm, u right and v up.

    Parameters
    ----------
    path : Path
        Where it was read from.
    shapes : tuple of Shape
        Everything visible that can be part of an outline.
    unit : str
        The unit in which the file's numbers were taken, as a person says it.
    unit_stated : bool
        Whether the file itself states that unit.
    notes : tuple of str
        What was ignored or repaired, each a sentence.
    writings : tuple of Writing
        Visible text, which is part of an outline only where the job asks for that. Not
        in `notes`: whoever leaves it out says so.
    page : tuple of four floats, optional
        (u0, v0, u1, v1) in mm of the page that the file states, if it states one.
    faults : tuple of Fault
        The first object of each layer that belongs among the shapes but cannot be used.
    mm_per_unit : float
        Millimetres in one `unit`.
    """

    path: Path
    shapes: tuple[Shape, ...]
    unit: str
    unit_stated: bool
    notes: tuple[str, ...] = ()
    writings: tuple[Writing, ...] = ()
    page: tuple[float, float, float, float] | None = None
    faults: tuple[Fault, ...] = ()
    mm_per_unit: float = 1.0

    @property
    def layers(self) -> tuple[str, ...]:
        """Names of the layers that hold something, in order of appearance."""
        return tuple(dict.fromkeys(shape.layer for shape in self.shapes))

    def refuse_faults(
        self, layers: Collection[str] | None = None, *, without: Collection[str] = ()
    ) -> None:
        """Raise the first fault on some layers, by default on all but those `without`.

        Raises
        ------
        DrawingError
            If there is one.
        """
        wanted = {name.casefold() for name in (without if layers is None else layers)}
        for fault in self.faults:
            if (fault.layer.casefold() in wanted) == (layers is not None):
                raise fault.error

    def on(self, layers: Collection[str]) -> tuple[Shape, ...]:
        """The shapes on these layers; names are compared without regard to case."""
        wanted = {name.casefold() for name in layers}
        return tuple(s for s in self.shapes if s.layer.casefold() in wanted)
