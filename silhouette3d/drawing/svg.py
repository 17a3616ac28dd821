"""SVG files: the page, its unit, and the shapes on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from silhouette3d.drawing.curve import Array
from silhouette3d.drawing.drawing import Drawing
from silhouette3d.drawing.svg_file import open_svg
from silhouette3d.drawing.svg_look import Look
from silhouette3d.drawing.svg_values import (
    ABSOLUTE,
    PIXEL,
    BadValueError,
    Box,
    Lengths,
    fitted,
    is_relative,
    measure,
    view_box,
)
from silhouette3d.drawing.svg_walk import State, Walk
from silhouette3d.errors import DrawingError
from silhouette3d.units import MM_PER, Unit

__all__ = ["read_svg"]

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
    walk = Walk(file, tolerance)
    walk.draw(file.root, State(page.matrix, page.lengths, Look.initial()))
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
    """How user units become mm on the page."""

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
    """A side of the page in mm, and the unit in which it is given.

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
