"""Choice of a drawing's objects that count, and how they make an outline, as declared."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from silhouette3d.drawing.model import Drawing, Shape
from silhouette3d.errors import DrawingError

__all__ = ["ATTRIBUTES", "Attribute", "Choice", "Offer", "Overlap", "alone", "listed"]

Overlap = Literal["union", "subtract", "even-odd"]
Attribute = Literal["layer", "colour", "linetype"]

ATTRIBUTES: Final[tuple[Attribute, ...]] = ("layer", "colour", "linetype")
"""What objects are chosen by."""


@dataclass(frozen=True)
class Choice:
    """Say which objects of a drawing to take, and what to make of them.

    Names of layers and linetypes are compared without regard to case.

    Parameters
    ----------
    layers : tuple of str, optional
        The layers to take; all by default.
    without : tuple of str
        Layers to leave out when `layers` is not given.
    colours : tuple of str, optional
        As "#rrggbb" in lower case; all by default.
    linetypes : tuple of str, optional
        All by default.
    take : {"silhouette"}, optional
        Take the outermost closed regions of everything drawn, instead of closed loops.
    open : {"ignore"}, optional
        Leave out lines that do not close, instead of refusing them.
    overlap : {"union", "subtract", "even-odd"}, optional
        What loops make that overlap in part; united if nobody says.
    """

    layers: tuple[str, ...] | None = None
    without: tuple[str, ...] = ()
    colours: tuple[str, ...] | None = None
    linetypes: tuple[str, ...] | None = None
    take: Literal["silhouette"] | None = None
    open: Literal["ignore"] | None = None
    overlap: Overlap | None = None

    def shapes(self, drawing: Drawing) -> tuple[Shape, ...]:
        """Take the objects that are asked for.

        Raises
        ------
        DrawingError
            If nothing is on a layer, in a colour or of a linetype that is named; says
            what there is.
        """
        left_out = {name.casefold() for name in self.without} if self.layers is None else set()
        shapes = tuple(s for s in drawing.shapes if s.layer.casefold() not in left_out)
        for attribute, names in zip(
            ATTRIBUTES, (self.layers, self.colours, self.linetypes), strict=True
        ):
            if names is not None:
                shapes = _of(shapes, attribute, names, str(drawing.path))
        return shapes


@dataclass(frozen=True)
class Offer:
    """A choice that gives an outline: a key of the profile, its value, and the area in mm²."""

    key: str
    value: str
    area: float


_VALUE: Final[dict[Attribute, Callable[[Shape], str | None]]] = {
    "layer": lambda shape: shape.layer,
    "colour": lambda shape: shape.colour,
    "linetype": lambda shape: shape.linetype,
}

_ALONE: Final[dict[Attribute, Callable[[Choice, tuple[str, ...]], Choice]]] = {
    "layer": lambda choice, names: replace(choice, layers=names),
    "colour": lambda choice, names: replace(choice, colours=names),
    "linetype": lambda choice, names: replace(choice, linetypes=names),
}

_SAID: Final[dict[Attribute, tuple[str, str]]] = {
    "layer": ("on a layer {}", "layers with something on them"),
    "colour": ("in the colour {}", "colours with something in them"),
    "linetype": ("of a linetype {}", "linetypes that are drawn with"),
}


def _of(
    shapes: Sequence[Shape], attribute: Attribute, names: Iterable[str], where: str
) -> tuple[Shape, ...]:
    have = Counter(_VALUE[attribute](shape) for shape in shapes)
    known = {name.casefold() for name in have if name is not None}
    for name in names:
        if name.casefold() not in known:
            which, there = _SAID[attribute]
            raise DrawingError(
                f"there is nothing {which.format(repr(name))}",
                where=where,
                todo=f"{there}: " + (listed(n for n in have if n is not None) or "none"),
            )
    wanted = {name.casefold() for name in names}
    return tuple(s for s in shapes if (_VALUE[attribute](s) or "").casefold() in wanted)


def alone(choice: Choice, shapes: Sequence[Shape], attribute: Attribute) -> dict[str, Choice]:
    """Give for each layer, colour or linetype of some objects the choice of it alone.

    Nothing where they are all of one.
    """
    names = list(dict.fromkeys(n for s in shapes if (n := _VALUE[attribute](s)) is not None))
    if len(names) < 2 and not any(_VALUE[attribute](s) is None for s in shapes):
        return {}
    return {name: _ALONE[attribute](choice, (name,)) for name in names}


def listed(names: Iterable[str]) -> str:
    """Put names in quotes, with commas between them."""
    return ", ".join(repr(name) for name in names)
