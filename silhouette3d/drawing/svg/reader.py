"""Read an SVG drawing: the page, its unit, and all that it shows."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np

from silhouette3d.base.limits import NESTING, OBJECTS
from silhouette3d.base.units import MM_PER, Unit, figure
from silhouette3d.drawing.model import Array, Drawing, Shape, Writing
from silhouette3d.drawing.outline.outline import refuse_too_fine
from silhouette3d.drawing.svg.clip import Clip, ClipPaths, UnreadableClipError, cut, rectangle
from silhouette3d.drawing.svg.document import SvgFile, local_name, open_svg, target_name
from silhouette3d.drawing.svg.shapes import SHAPES, extremes, in_mm, sub_paths
from silhouette3d.drawing.svg.style import Cascade, Painter, SvgLook, share
from silhouette3d.drawing.svg.text import TextReader
from silhouette3d.drawing.svg.values import (
    ABSOLUTE,
    PIXEL,
    BadValueError,
    Box,
    Lengths,
    fitted,
    is_relative,
    is_zero,
    measure,
    placed,
    transform,
    view_box,
    viewport,
)
from silhouette3d.errors import DrawingError

__all__ = ["WIDE", "Remarks", "SvgWalk", "WalkState", "read_svg"]

# --- What was left out of a drawing, or read otherwise than it is seen, as sentences


WIDE: Final = 0.5
"""mm. A stroke wider than this moves the seen edge by more than any kerf is known."""

_SENTENCES: Final = {
    "hidden": "ignored {} hidden object{s}",
    "unpainted": "ignored {} object{s} with neither fill nor stroke",
    "language": "read {} switch{es} of languages as where no language is asked for",
    "sizeless": "ignored {} object{s} without size",
    "cut": "cut off {} object{s} at the clip",
    "away": "ignored {} object{s} outside the clip",
    "whole": "read {} clipped or masked object{s} whole",
    "filtered": "read {} object{s} without the filter",
    "marked": "ignored the markers of {} object{s}",
}


class Remarks:
    """Counts what happens on one walk through a file."""

    def __init__(self) -> None:
        self._counts: Counter[str] = Counter()
        self._tags: Counter[str] = Counter()
        self._uses: Counter[str] = Counter()
        self._wide: list[float] = []

    def add(self, what: str) -> None:
        """Count one more of a kind of `_SENTENCES`."""
        assert what in _SENTENCES
        self._counts[what] += 1

    def ignore(self, tag: str, count: int = 1) -> None:
        """Count elements that can be no part of an outline."""
        self._tags[tag] += count

    def break_use(self, what: str) -> None:
        """Count a ``<use>`` of what is not there."""
        self._uses[what] += 1

    def stroke(self, width: float) -> None:
        """Note how wide a stroke is, in mm."""
        if width > WIDE:
            self._wide.append(width)

    def sentences(self, more: Iterable[str] = ()) -> Iterator[str]:
        """Say all of it, and `more` before what is wrong with uses."""
        if self._tags:
            yield "ignored " + ", ".join(f"{n} {tag}" for tag, n in self._tags.items())
        for what, text in _SENTENCES.items():
            if count := self._counts[what]:
                yield text.format(count, s="s" * (count > 1), es="es" * (count > 1))
        if self._wide:
            count = len(self._wide)
            yield (
                f"left the width of {count} stroke{'s' * (count > 1)} out of account, up to "
                f"{figure(max(self._wide), 3)} mm: the outline runs along the middle of a stroke"
            )
        yield from more
        yield from (f"ignored {n} use of {what}" for what, n in self._uses.items())


# --- Everything that an SVG file shows and that can be part of an outline


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
class WalkState:
    """State that an element has from the ones around it.

    Parameters
    ----------
    matrix : Array
        3 × 3, from user units to mm, v up.
    lengths : Lengths
        Of the viewport.
    look : SvgLook
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
    look: SvgLook
    layer: str | None = None
    clip: Clip | None = None
    uses: tuple[ET.Element, ...] = ()
    depth: int = 0


class SvgWalk:
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
        self, element: ET.Element, state: WalkState, used_as: Mapping[str, str] | None = None
    ) -> None:
        """Add what an element and those in it show.

        Parameters
        ----------
        element : Element
            Of the file.
        state : WalkState
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
        """Notes on what was ignored, each a sentence."""
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

    def _entered(
        self, element: ET.Element, values: Mapping[str, str], state: WalkState
    ) -> WalkState:
        """Enter an element: the state inside it."""
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

    def _clipped(
        self, element: ET.Element, values: Mapping[str, str], state: WalkState
    ) -> WalkState:
        """Clip the state by the path that an element asks for."""
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

    def _use(self, element: ET.Element, values: Mapping[str, str], state: WalkState) -> None:
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

    def _add(self, element: ET.Element, values: Mapping[str, str], state: WalkState) -> None:
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
        """Find what of a shape lies in a clip."""
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

    def _write(self, element: ET.Element, state: WalkState) -> None:
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
    """Tell whether an element and all in it is not shown, or only to some."""
    return (
        values.get("display", "").strip().lower() == "none"
        or is_zero(values.get("opacity", "1"))
        or any(values.get(name, "").strip() for name in _FOR_SOME)
    )


def _chosen(switch: ET.Element) -> Iterator[ET.Element]:
    """Choose the first child of a ``<switch>`` that asks for nothing special."""
    for child in switch:
        if local_name(child) not in {"", "foreignObject", *_UNSEEN} and not any(
            child.get(name, "").strip() for name in _FOR_SOME
        ):
            yield child
            return


def _box(tag: str, values: Mapping[str, str], lengths: Lengths) -> Box | None:
    """Find what a shape fills, in user units; None if that is nothing."""
    curves = [in_mm(s, np.eye(3)) for s in sub_paths(tag, values, lengths)]
    if not curves:
        return None
    rough = np.concatenate([extremes(piece) for curve in curves for piece in curve.pieces])
    fine = _SHARE_OF_BOX * float(np.ptp(rough, axis=0).max())
    points = np.concatenate([curve.flatten(fine)[0] for curve in curves])
    (x, y), (w, h) = points.min(axis=0), np.ptp(points, axis=0)
    return Box(float(x), float(y), float(w), float(h))


def _width(values: Mapping[str, str], state: WalkState) -> float:
    """Measure how wide a stroke is in mm; where it is stretched, the geometric mean."""
    width = state.lengths.or_none(state.look["stroke-width"], "both")
    if width is None:
        return 0.0
    if values.get("vector-effect", "").strip().lower() == "non-scaling-stroke":
        return width * state.lengths.unit
    return width * math.sqrt(abs(float(np.linalg.det(state.matrix[:2, :2]))))


# --- SVG files: the page, its unit, and the shapes on it


_NAMES: Final = {
    "mm": "millimetre",
    "cm": "centimetre",
    "q": "quarter of a millimetre",
    "in": "inch",
    "pt": "point (1/72 inch)",
    "pc": "pica (1/6 inch)",
}
_PIXEL_NAME: Final = "CSS pixel (1/96 inch)"


def read_svg(
    path: Path, *, tolerance: float = 0.01, unit: Unit | None = None, default: Unit = "mm"
) -> Drawing:
    """Read an SVG drawing into millimetres.

    The lower left corner of the page is (0, 0), v runs up. Nothing is cut off
    at the edge of the page. A file that gives no height is measured from its
    upper left corner instead, and says so in the notes.

    A page whose width or height is in mm, cm, in, pt, pc or Q states its unit.
    Without any, and for plain numbers and px, one unit is a CSS pixel, 1/96 in,
    as the standard has it; so `default` is never needed. The same holds for a page
    measured by a font or a window (1em, 100%). Many programs write
    such files and mean something else, which is what `unit` is for.

    Every group that has a name and lies in no other such group is a layer. Its
    name is the label that an editor gives it, else its id.

    Parameters
    ----------
    path : Path
        The file, plain or packed with gzip.
    tolerance : float
        Where a clip cuts a curve, it strays by no more than a tenth of this, in mm; every other
        curve is kept as it is.
    unit : {"mm", "in"}, optional
        Overrides what the file states: one unit of its viewBox, or one pixel
        when it has none, is taken as this.
    default : {"mm", "in"}
        Not needed here, see above.

    Returns
    -------
    Drawing
        A filled object is one shape of all its sub-paths, which are left open
        where they are drawn open; an object that is stroked only is a shape
        per sub-path. Objects that cannot be seen are left out and counted, and so
        is what an inner page or a clip path cuts off.

    Raises
    ------
    DrawingError
        If the file cannot be read, or holds an object that cannot be.
    """
    file = open_svg(path)
    try:
        page = _page(file.root.attrib, unit)
    except BadValueError as error:
        raise DrawingError(
            f"the page: {error}",
            where=f"{path}, line {file.line(file.root)}",
            todo="correct the first element, <svg>, or set the page size in the drawing program",
        ) from None
    walk = SvgWalk(file, tolerance)
    walk.draw(file.root, WalkState(page.matrix, page.lengths, SvgLook.initial()))
    return Drawing(
        path,
        tuple(walk.shapes),
        page.unit,
        page.unit_stated,
        page.notes + walk.notes,
        tuple(walk.writings),
        page.size and (0.0, 0.0, *page.size),
        mm_per_unit=page.mm_per_unit,
    )


@dataclass(frozen=True, eq=False)
class _Page:
    """Page on which user units become mm."""

    matrix: Array
    lengths: Lengths
    unit: str
    unit_stated: bool
    mm_per_unit: float
    notes: tuple[str, ...]
    size: tuple[float, float] | None


def _page(values: Mapping[str, str], unit: Unit | None) -> _Page:
    mm = MM_PER[unit] if unit else PIXEL
    box = view_box(values)
    if unit and box:
        values = {}  # its size says what a unit of the viewBox is, and that is overridden
    width, width_unit = _side(values, "width", mm)
    height, height_unit = _side(values, "height", mm)
    if box is None:
        port = np.diag([mm, mm, 1.0])
        inside = Lengths(mm, *(side if side is None else side / mm for side in (width, height)))
    else:
        # A side that is not given follows from the other by the viewBox's proportions.
        scale = width / box.width if width else height / box.height if height else mm
        width, height = width or box.width * scale, height or box.height * scale
        port = fitted(box, Box(0.0, 0.0, width, height), values)
        inside = Lengths(mm, box.width, box.height)
    flip = np.array([[1.0, 0.0, 0.0], [0.0, -1.0, height or 0.0], [0.0, 0.0, 1.0]])
    own = next((one for one in (width_unit, height_unit) if one in _NAMES), None)
    stated = None if unit or own is None else _NAMES[own]
    return _Page(
        flip @ port,
        inside,
        stated or (_NAMES[unit] if unit else _PIXEL_NAME),
        stated is not None,
        mm if stated is None or own is None else ABSOLUTE[own],
        () if height else ("the page has no height, so its upper left corner is (0, 0)",),
        (width, height) if width and height else None,
    )


def _side(values: Mapping[str, str], name: str, mm: float) -> tuple[float | None, str]:
    """Read a side of the page in mm, and the unit in which it is given.

    None when it is not given, or as a part of a window or a font that nobody knows.
    """
    text = values.get(name, "auto").strip()
    if text.lower() == "auto" or text.endswith("%"):
        return None, ""
    value, unit = measure(text)
    if is_relative(unit):
        return None, ""
    if not value > 0.0:
        raise BadValueError(f"its {name} is {text!r}, which leaves no page")
    return value * ABSOLUTE[unit] if unit in ABSOLUTE else Lengths(mm)(text, "x") * mm, unit
