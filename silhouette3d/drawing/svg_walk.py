"""Everything that an SVG file shows and that can be part of an outline."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from silhouette3d.drawing.curve import Arc, Array, Bezier, Curve, Line, Piece
from silhouette3d.drawing.drawing import Shape
from silhouette3d.drawing.svg_file import SvgFile, local_name
from silhouette3d.drawing.svg_path import SubPath
from silhouette3d.drawing.svg_shapes import SHAPES, sub_paths
from silhouette3d.drawing.svg_style import Cascade, Look
from silhouette3d.drawing.svg_values import (
    BadValueError,
    Lengths,
    is_zero,
    placed,
    transform,
    viewport,
)
from silhouette3d.errors import DrawingError
from silhouette3d.limits import FARTHEST, NESTING, OBJECTS

__all__ = ["State", "Walk"]

_GROUPS: Final = frozenset(["a", "g", "svg", "switch", "symbol", "use"])
_UNSEEN: Final = frozenset(
    [
        *("clipPath", "defs", "marker", "mask", "pattern"),  # drawn where others refer to them
        *("desc", "metadata", "script", "style", "title", "view"),
        *("cursor", "filter", "linearGradient", "radialGradient"),
    ]
)
_COUNTED: Final = ("linearGradient", "radialGradient")
_HREF: Final = ("href", "{http://www.w3.org/1999/xlink}href")
_LABEL: Final = "{http://www.inkscape.org/namespaces/inkscape}label"
_CORRECT: Final = "correct this object in the program that drew it, or delete it"


@dataclass(frozen=True, eq=False)
class State:
    """What an element has from the ones around it.

    Parameters
    ----------
    matrix : Array
        3 × 3, from user units to mm, v up.
    lengths : Lengths
        Of the viewport.
    look : Look
        The inherited properties.
    layer : str, optional
        None as long as no group around it has a name.
    uses : tuple of Element
        What is being drawn by way of ``<use>``.
    depth : int
        Number of elements around it.
    """

    matrix: Array
    lengths: Lengths
    look: Look
    layer: str | None = None
    uses: tuple[ET.Element, ...] = ()
    depth: int = 0


class Walk:
    """One walk through a file.

    Parameters
    ----------
    file : SvgFile
        As opened.

    Attributes
    ----------
    shapes : list of Shape
        What was found so far, in mm.
    """

    def __init__(self, file: SvgFile) -> None:
        self.file = file
        self.shapes: list[Shape] = []
        try:
            self._cascade = Cascade(file.root)
        except BadValueError as error:
            raise DrawingError(
                str(error), where=str(file.path), todo="save it again as plain SVG"
            ) from None
        self._drawn, self._most, self._deepest = 0, OBJECTS.value, NESTING.value
        self._ignored: Counter[str] = Counter()
        self._remarks: Counter[str] = Counter()
        self._broken: Counter[str] = Counter()

    def draw(
        self, element: ET.Element, state: State, used_as: Mapping[str, str] | None = None
    ) -> None:
        """Add what an element and those in it show.

        Parameters
        ----------
        element : Element
            Of the file.
        state : State
            Around it.
        used_as : mapping of str to str, optional
            When it is drawn by a ``<use>``: the width and height given there.

        Raises
        ------
        DrawingError
            If it holds what cannot be read, or goes beyond a limit.
        """
        tag = local_name(element)
        if not tag or tag in _UNSEEN or (tag == "symbol" and used_as is None):
            return
        self._count(element, 1)
        if tag not in SHAPES and tag not in _GROUPS:
            self._ignored[tag] += 1
            return
        try:
            values = self._cascade.values(element)
        except BadValueError as error:
            raise self._refused(element, str(error)) from None
        if tag in {"svg", "symbol"}:
            values |= used_as or {}
        if _is_hidden(values):
            self._remarks["hidden"] += 1
            return
        self._remarks["clipped"] += any(
            values.get(name, "none").strip() != "none" for name in ("clip-path", "mask")
        )
        try:
            state = self._entered(element, values, state)
            if tag in SHAPES:
                self._add(element, values, state)
        except BadValueError as error:
            raise self._refused(element, str(error)) from None
        if tag == "use":
            self._use(element, values, state)
        elif tag in _GROUPS:
            for child in _chosen(element) if tag == "switch" else element:
                self.draw(child, state)

    @property
    def notes(self) -> tuple[str, ...]:
        """What was ignored, each a sentence."""
        gradients = Counter(local_name(e) for e in self.file.root.iter())
        ignored = self._ignored + Counter({name: gradients[name] for name in _COUNTED})
        remarks = self._remarks
        said = [
            "ignored " + ", ".join(f"{n} {tag}" for tag, n in ignored.items()) if ignored else "",
            _said(remarks["hidden"], "ignored {} hidden object{s}"),
            _said(remarks["unpainted"], "ignored {} object{s} with neither fill nor stroke"),
            _said(remarks["sizeless"], "ignored {} object{s} without size"),
            _said(remarks["clipped"], "read {} clipped or masked object{s} whole"),
            _said(self.file.style_links, "ignored {} style sheet{s} in other files"),
            *(f"ignored {n} use of {what}" for what, n in self._broken.items()),
            *self._cascade.notes,
            "" if self.shapes else "it shows nothing that can be part of an outline",
        ]
        return tuple(filter(None, said))

    def _entered(self, element: ET.Element, values: Mapping[str, str], state: State) -> State:
        """The state inside an element."""
        if state.depth >= self._deepest:
            raise BadValueError(f"it lies more than {self._deepest} groups and uses deep")
        state = replace(state, look=state.look.within(values), depth=state.depth + 1)
        moved = transform(values)
        if element is self.file.root:
            if not np.array_equal(moved, np.eye(3)):
                raise BadValueError("the transform of the whole drawing is not read")
            return state
        with np.errstate(over="ignore", invalid="ignore"):
            state = replace(state, matrix=state.matrix @ moved)
            match local_name(element):
                case "g" if state.layer is None:
                    state = replace(state, layer=element.get(_LABEL) or element.get("id") or None)
                case "use":
                    shift = placed(values, state.lengths)
                    state = replace(state, matrix=state.matrix @ shift, layer=state.layer or "")
                case "svg" | "symbol":
                    port, lengths = viewport(values, state.lengths)
                    state = replace(state, matrix=state.matrix @ port, lengths=lengths)
        return state

    def _use(self, element: ET.Element, values: Mapping[str, str], state: State) -> None:
        href = next((values[name].strip() for name in _HREF if name in values), "")
        target = self.file.by_id.get(href[1:]) if href.startswith("#") else None
        if target is None:
            missing = "not in this file" if href.startswith("#") else "not a part of this file"
            self._broken[f"{href!r}, which is {missing}"] += 1
            return
        if target in state.uses:
            raise self._refused(element, f"it draws {self.file.name(target)}, which it is part of")
        size = {n: values[n] for n in ("width", "height") if values.get(n, "auto") != "auto"}
        self.draw(target, replace(state, uses=(*state.uses, target)), size)

    def _add(self, element: ET.Element, values: Mapping[str, str], state: State) -> None:
        tag, look = local_name(element), state.look
        filled = look.is_filled and tag != "line"
        if not look.is_visible:
            self._remarks["hidden"] += 1
            return
        if not (filled or look.is_stroked):
            self._remarks["unpainted"] += 1
            return
        if not np.isfinite(state.matrix).all():
            raise BadValueError("its transforms are larger than any number")
        found = sub_paths(tag, values, state.lengths)
        (a, b), (c, d) = state.matrix[:2, :2].tolist()
        if not found or a * d == b * c:
            self._remarks["sizeless"] += 1
            return
        self._count(element, sum(len(sub_path.pieces) for sub_path in found))
        curves = tuple(_in_mm(s, state, self.file.name(element)) for s in found)
        if filled:
            self.shapes.append(Shape(curves, look.fill_rule))
        else:
            self.shapes += [Shape((curve,)) for curve in curves]

    def _count(self, element: ET.Element, more: int) -> None:
        self._drawn += more
        if self._drawn > self._most:
            what = f"here the drawing goes beyond {self._most:,} objects and pieces of them"
            raise self._refused(element, what, f"leave out what is not needed, {OBJECTS.raised}")

    def _refused(self, element: ET.Element, what: str, todo: str = _CORRECT) -> DrawingError:
        where = f"{self.file.path}, line {self.file.line(element)}"
        return DrawingError(f"{self.file.name(element)}: {what}", where=where, todo=todo)


def _said(count: int, text: str) -> str:
    return text.format(count, s="s" * (count > 1)) if count else ""


def _is_hidden(values: Mapping[str, str]) -> bool:
    """Whether an element and all in it is not shown."""
    return (
        values.get("display", "").strip().lower() == "none"
        or is_zero(values.get("opacity", "1"))
        or bool(values.get("requiredExtensions", "").strip())
    )


def _chosen(switch: ET.Element) -> Iterator[ET.Element]:
    """The first child of a ``<switch>`` that asks for nothing special."""
    special = ("requiredExtensions", "systemLanguage")
    for child in switch:
        if local_name(child) not in {"", "foreignObject", *_UNSEEN} and not any(
            child.get(name, "").strip() for name in special
        ):
            yield child
            return


def _in_mm(sub_path: SubPath, state: State, name: str) -> Curve:
    """A sub-path in mm."""
    with np.errstate(over="ignore", invalid="ignore"):
        curve = Curve(sub_path.pieces, state.layer or "", name).moved(state.matrix[:2])
        for piece in curve.pieces:
            points = _extremes(piece)
            if not (np.abs(points) <= FARTHEST).all():  # also when it is not a number
                raise BadValueError(f"it goes beyond {FARTHEST:g} mm")
    if sub_path.closed and not curve.is_closed:
        curve = replace(curve, pieces=(*curve.pieces, Line(curve.end, curve.start)))
    return curve


def _extremes(piece: Piece) -> Array:
    """Points that reach as far as a piece does."""
    if isinstance(piece, Arc):
        t = np.linspace(piece.start_angle, piece.end_angle, 65)  # to 0.1 % of the radius: enough
        axes = np.array([piece.axis_u, piece.axis_v])
        return np.array(piece.centre + np.column_stack([np.cos(t), np.sin(t)]) @ axes)
    if isinstance(piece, Bezier):
        return np.array([piece.start, piece.control_1, piece.control_2, piece.end])
    return np.array([piece.start, piece.end])
