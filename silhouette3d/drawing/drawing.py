"""What a reader hands over: shapes by layer, in millimetres, nothing joined yet."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from silhouette3d.drawing.curve import Curve

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
    """

    curves: tuple[Curve, ...]
    fill: FillRule | None = None

    @property
    def layer(self) -> str:
        """The layer that the object lies on."""
        return self.curves[0].layer


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
    """

    path: Path
    shapes: tuple[Shape, ...]
    unit: str
    unit_stated: bool
    notes: tuple[str, ...] = ()

    @property
    def layers(self) -> tuple[str, ...]:
        """Names of the layers that hold something, in order of appearance."""
        return tuple(dict.fromkeys(shape.layer for shape in self.shapes))

    def on(self, layers: Collection[str]) -> tuple[Shape, ...]:
        """The shapes on these layers; names are compared without regard to case."""
        wanted = {name.casefold() for name in layers}
        return tuple(s for s in self.shapes if s.layer.casefold() in wanted)
