"""Everything that an SVG file shows and that can be part of an outline."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from silhouette3d.drawing.curve import Array
from silhouette3d.drawing.drawing import Shape, Writing
from silhouette3d.drawing.outline import refuse_too_fine
from silhouette3d.drawing.svg_clip import Clip, ClipPaths, UnreadableClipError, cut, rectangle
from silhouette3d.drawing.svg_colour import share
from silhouette3d.drawing.svg_file import SvgFile, local_name, target_name
from silhouette3d.drawing.svg_look import Look
from silhouette3d.drawing.svg_paint import Painter
from silhouette3d.drawing.svg_remarks import Remarks
from silhouette3d.drawing.svg_shapes import SHAPES, extremes, in_mm, sub_paths
from silhouette3d.drawing.svg_style import Cascade
from silhouette3d.drawing.svg_text import TextReader
from silhouette3d.drawing.svg_transform import transform
from silhouette3d.drawing.svg_values import (
    BadValueError,
    Box,
    Lengths,
    is_zero,
    placed,
    viewport,
)
from silhouette3d.errors import DrawingError
from silhouette3d.limits import NESTING, OBJECTS

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
_LABEL: Final = "{http://www.inkscape.org/namespaces/inkscape}label"
_CORRECT: Final = "correct this object in the program that drew it, or delete it"
_FOR_SOME: Final = ("requiredExtensions", "systemLanguage")
_OPEN: Final = frozenset(["visible", "auto"])
_NONE: Final = frozenset(["none", "initial", "inherit", "unset", ""])
_MARKED: Final = frozenset(["line", "path", "polygon", "polyline"])
_SHARE_OF_BOX: Final = 1e-5
"""Share of its size to which the box round an object is found."""
_FINER: Final = 10.0
"""Share of the tolerance to which curves are made straight where a clip cuts them."""


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
    clip : Clip, optional
        None where everything is seen.
    uses : tuple of Element
        What is being drawn by way of ``<use>``.
    depth : int
        Number of elements around it.
    """

    matrix: Array
    lengths: Lengths
    look: Look
    layer: str | None = None
    clip: Clip | None = None
    uses: tuple[ET.Element, ...] = ()
    depth: int = 0


class Walk:
    """One walk through a file.

    Parameters
    ----------
    file : SvgFile
        As opened.
    tolerance : float
        Largest gap between a curve and its chords, in mm.

    Attributes
    ----------
    shapes : list of Shape
        What was found so far, in mm.
    writings : list of Writing
        The text that was found so far.
    """

    def __init__(self, file: SvgFile, tolerance: float) -> None:
        self.file = file
        self.shapes: list[Shape] = []
        self.writings: list[Writing] = []
        self._remarks = Remarks()
        try:
            self._cascade = Cascade(file.root)
        except BadValueError as error:
            raise DrawingError(
                str(error), where=str(file.path), todo="save it again as plain SVG"
            ) from None
        self._painter = Painter(file, self._cascade)
        self._text = TextReader(self._cascade, self._painter, self._remarks.ignore)
        self._fine = tolerance / _FINER
        self._clips = ClipPaths(file, self._cascade, self._fine, self._count)
        self._drawn, self._most, self._deepest = 0, OBJECTS.value, NESTING.value

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
        if tag not in SHAPES and tag not in _GROUPS and tag != "text":
            self._remarks.ignore(tag)
            return
        try:
            values = self._cascade.values(element)
            if tag in {"svg", "symbol"}:
                values |= used_as or {}
            if _is_hidden(values):
                self._remarks.add("hidden")
                return
            state = self._entered(element, values, state)
            if tag in SHAPES:
                self._add(element, values, state)
            elif tag == "text":
                self._write(element, state)
        except BadValueError as error:
            raise self._refused(element, str(error)) from None
        if tag == "use":
            self._use(element, values, state)
        elif tag in _GROUPS:
            for child in _chosen(element) if tag == "switch" else element:
                self.draw(child, state)
            if tag == "switch" and any(
                child.get("systemLanguage", "").strip() for child in element
            ):
                self._remarks.add("language")

    @property
    def notes(self) -> tuple[str, ...]:
        """What was ignored, each a sentence."""
        gradients = Counter(local_name(e) for e in self.file.root.iter())
        for name in _COUNTED:
            if gradients[name]:
                self._remarks.ignore(name, gradients[name])
        links = self.file.style_links
        said = [f"ignored {links} style sheet{'s' * (links > 1)} in other files"] if links else []
        return (
            *self._remarks.sentences(said),
            *self._cascade.notes,
            *([] if self.shapes else ["it shows nothing that can be part of an outline"]),
        )

    def _entered(self, element: ET.Element, values: Mapping[str, str], state: State) -> State:
        """The state inside an element."""
        if state.depth >= self._deepest:
            raise BadValueError(f"it lies more than {self._deepest} groups and uses deep")
        state = replace(state, look=state.look.within(values), depth=state.depth + 1)
        moved = transform(values, state.lengths)
        if element is self.file.root:
            if not np.array_equal(moved, np.eye(3)):
                raise BadValueError("the transform of the whole drawing is not read")
            return self._clipped(element, values, state)
        tag = local_name(element)
        with np.errstate(over="ignore", invalid="ignore"):
            state = replace(state, matrix=state.matrix @ moved)
            match tag:
                case "g" if state.layer is None:
                    state = replace(state, layer=element.get(_LABEL) or element.get("id") or None)
                case "use":
                    shift = placed(values, state.lengths)
                    state = replace(state, matrix=state.matrix @ shift, layer=state.layer or "")
                case "svg" | "symbol":
                    port, lengths, box = viewport(values, state.lengths)
                    if box and values.get("overflow", "").strip().lower() not in _OPEN:
                        page = rectangle(box, state.matrix).within(state.clip)
                        state = replace(state, clip=page)
                    state = replace(state, matrix=state.matrix @ port, lengths=lengths)
        return self._clipped(element, values, state)

    def _clipped(self, element: ET.Element, values: Mapping[str, str], state: State) -> State:
        """The state with the clip path that an element asks for."""
        if values.get("filter", "none").strip().lower() not in _NONE:
            self._remarks.add("filtered")
        whole = values.get("mask", "none").strip().lower() not in _NONE
        if values.get("clip-path", "none").strip().lower() in _NONE:
            pass
        elif element is self.file.root:  # in pixels of a screen, whatever its own units are
            whole = True
        else:
            tag = local_name(element)
            try:
                box = _box(tag, values, state.lengths) if tag in SHAPES else None
                clip = self._clips.of(values, state.matrix, state.lengths, box)
            except UnreadableClipError:
                clip, whole = None, True
            if clip is not None:
                state = replace(state, clip=clip.within(state.clip))
        if whole:
            self._remarks.add("whole")
        return state

    def _use(self, element: ET.Element, values: Mapping[str, str], state: State) -> None:
        name = target_name(values)
        target = self.file.referred(name)
        if target is None:
            missing = "not in this file" if name.startswith("#") else "not a part of this file"
            self._remarks.break_use(f"{name!r}, which is {missing}")
            return
        if target in state.uses:
            raise self._refused(element, f"it draws {self.file.name(target)}, which it is part of")
        size = {n: values[n] for n in ("width", "height") if values.get(n, "auto") != "auto"}
        self.draw(target, replace(state, uses=(*state.uses, target)), size)

    def _add(self, element: ET.Element, values: Mapping[str, str], state: State) -> None:
        tag, look = local_name(element), state.look
        if not look.is_visible:
            self._remarks.add("hidden")
            return
        fill = self._painter.fill(look) if tag != "line" else None
        stroke = self._painter.stroke(look) if look.has_stroke_width else None
        paint = fill or stroke
        if paint is None:
            self._remarks.add("unpainted")
            return
        if not np.isfinite(state.matrix).all():
            raise BadValueError("its transforms are larger than any number")
        found = sub_paths(tag, values, state.lengths)
        (a, b), (c, d) = state.matrix[:2, :2].tolist()
        if not found or a * d == b * c:
            self._remarks.add("sizeless")
            return
        self._count(element, sum(len(sub_path.pieces) for sub_path in found))
        if look.has_markers and tag in _MARKED:
            self._remarks.add("marked")
        curves = tuple(
            in_mm(s, state.matrix, state.layer or "", self.file.name(element)) for s in found
        )
        width = _width(values, state) if stroke else 0.0
        if fill:
            plain = fill.opaque and share(values.get("opacity", "1")) in {None, 1.0}
            plain = plain and fill.colour is not None and stroke in {None, fill}
            shapes = [Shape(curves, look.fill_rule, fill.colour, None, width, plain)]
        else:
            linetype = "dashed" if look.is_dashed else "continuous"
            shapes = [Shape((curve,), None, paint.colour, linetype, width) for curve in curves]
        shapes = [seen for shape in shapes if (seen := self._seen(shape, state.clip))]
        if shapes:
            self._remarks.stroke(width)
        self.shapes += shapes

    def _seen(self, shape: Shape, clip: Clip | None) -> Shape | None:
        """What of a shape lies in a clip."""
        if clip is None:
            return shape
        where = str(self.file.path)
        refuse_too_fine(shape.curves, self._fine, where)
        if clip.covers(shape.curves, self._fine):
            return shape
        if shape.fill is None:
            misses = clip.misses(shape.curves, self._fine)
            self._remarks.add("away" if misses else "whole")
            return None if misses else shape
        left = cut(shape, clip, self._fine, where)
        self._remarks.add("cut" if left else "away")
        return left

    def _write(self, element: ET.Element, state: State) -> None:
        found = self._text.read(element, state.look, state.matrix, state.lengths, state.layer or "")
        self._count(element, len(found))
        self.writings += found

    def _count(self, element: ET.Element, more: int) -> None:
        self._drawn += more
        if self._drawn > self._most:
            what = f"here the drawing goes beyond {self._most:,} objects and pieces of them"
            raise self._refused(element, what, f"leave out what is not needed, {OBJECTS.raised}")

    def _refused(self, element: ET.Element, what: str, todo: str = _CORRECT) -> DrawingError:
        where = f"{self.file.path}, line {self.file.line(element)}"
        return DrawingError(f"{self.file.name(element)}: {what}", where=where, todo=todo)


def _is_hidden(values: Mapping[str, str]) -> bool:
    """Whether an element and all in it is not shown, or only to some."""
    return (
        values.get("display", "").strip().lower() == "none"
        or is_zero(values.get("opacity", "1"))
        or any(values.get(name, "").strip() for name in _FOR_SOME)
    )


def _chosen(switch: ET.Element) -> Iterator[ET.Element]:
    """The first child of a ``<switch>`` that asks for nothing special."""
    for child in switch:
        if local_name(child) not in {"", "foreignObject", *_UNSEEN} and not any(
            child.get(name, "").strip() for name in _FOR_SOME
        ):
            yield child
            return


def _box(tag: str, values: Mapping[str, str], lengths: Lengths) -> Box | None:
    """What a shape fills, in user units; None if that is nothing."""
    curves = [in_mm(s, np.eye(3)) for s in sub_paths(tag, values, lengths)]
    if not curves:
        return None
    rough = np.concatenate([extremes(piece) for curve in curves for piece in curve.pieces])
    fine = _SHARE_OF_BOX * float(np.ptp(rough, axis=0).max())
    points = np.concatenate([curve.flatten(fine)[0] for curve in curves])
    (x, y), (w, h) = points.min(axis=0), np.ptp(points, axis=0)
    return Box(float(x), float(y), float(w), float(h))


def _width(values: Mapping[str, str], state: State) -> float:
    """How wide a stroke is in mm; where it is stretched, the geometric mean."""
    width = state.lengths.or_none(state.look["stroke-width"], "both")
    if width is None:
        return 0.0
    if values.get("vector-effect", "").strip().lower() == "non-scaling-stroke":
        return width * state.lengths.unit
    return width * math.sqrt(abs(float(np.linalg.det(state.matrix[:2, :2]))))
