"""The shapes of an SVG file as pieces, in the units they are drawn in.

What cannot be read raises BadValueError with the reason; the caller knows
which element it was.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Final

import numpy as np

from silhouette3d.drawing.curve import (
    FULL_TURN,
    Arc,
    Array,
    Bezier,
    Curve,
    Line,
    Piece,
    Point,
    polyline,
)
from silhouette3d.drawing.svg_path import SubPath, path_data
from silhouette3d.drawing.svg_values import Axis, BadValueError, Lengths, numbers
from silhouette3d.limits import FARTHEST

__all__ = ["SHAPES", "extremes", "in_mm", "sub_paths"]

_PATH_OF_SHEETS: Final = re.compile(r"path\(\s*(['\"])(.*)\1\s*\)", re.IGNORECASE | re.DOTALL)

Values = Mapping[str, str]


def sub_paths(tag: str, values: Values, lengths: Lengths) -> list[SubPath]:
    """The sub-paths of one element; those without length are left out.

    Parameters
    ----------
    tag : str
        One of `SHAPES`.
    values : mapping of str to str
        The element's attributes.
    lengths : Lengths
        How its lengths become user units.
    """
    return [sub_path for sub_path in SHAPES[tag](values, lengths) if sub_path.pieces]


def in_mm(sub_path: SubPath, matrix: Array, layer: str = "", source: str = "") -> Curve:
    """Move a sub-path into mm, and close it where the drawing says so.

    Raises
    ------
    BadValueError
        If it lies too far away.
    """
    with np.errstate(over="ignore", invalid="ignore"):
        curve = Curve(sub_path.pieces, layer, source).moved(matrix[:2])
        for piece in curve.pieces:
            if not (np.abs(extremes(piece)) <= FARTHEST).all():  # also when it is not a number
                raise BadValueError(f"it goes beyond {FARTHEST:g} mm")
    if sub_path.closed and not curve.is_closed:
        curve = replace(curve, pieces=(*curve.pieces, Line(curve.end, curve.start)))
    return curve


def extremes(piece: Piece) -> Array:
    """Give points, (n, 2), that reach as far as a piece does, or further."""
    if isinstance(piece, Arc):
        t = np.linspace(piece.start_angle, piece.end_angle, 65)  # to 0.1 % of the radius: enough
        axes = np.array([piece.axis_u, piece.axis_v])
        return np.array(piece.centre + np.column_stack([np.cos(t), np.sin(t)]) @ axes)
    if isinstance(piece, Bezier):
        return np.array([piece.start, piece.control_1, piece.control_2, piece.end])
    return np.array([piece.start, piece.end])


def _path(values: Values, lengths: Lengths) -> list[SubPath]:
    text = values.get("d", "")
    in_sheet = _PATH_OF_SHEETS.fullmatch(text.strip())
    return path_data(in_sheet[2] if in_sheet else text)


def _rect(values: Values, lengths: Lengths) -> list[SubPath]:
    x, y = lengths.of(values, "x", "x"), lengths.of(values, "y", "y")
    w, h = lengths.size(values, "width", "x"), lengths.size(values, "height", "y")
    rx, ry = _radii(values, lengths)
    rx, ry = min(rx, w / 2.0), min(ry, h / 2.0)
    if not (w and h):
        return []
    if not (rx and ry):
        corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
        return [SubPath(polyline(corners, closed=True), True)]
    left, right, top, bottom = x + rx, x + w - rx, y + ry, y + h - ry
    sides = [
        polyline([(left, y), (right, y)]),
        polyline([(x + w, top), (x + w, bottom)]),
        polyline([(right, y + h), (left, y + h)]),
        polyline([(x, bottom), (x, top)]),
    ]
    centres = [(right, top), (right, bottom), (left, bottom), (left, top)]
    pieces: list[Piece] = []
    for i, (side, centre) in enumerate(zip(sides, centres, strict=True)):
        first = (i - 1) * FULL_TURN / 4.0
        corner = Arc(centre, (rx, 0.0), (0.0, ry), first, first + FULL_TURN / 4.0)
        pieces += [*side, corner]
    return [SubPath(tuple(pieces), True)]


def _circle(values: Values, lengths: Lengths) -> list[SubPath]:
    radius = lengths.size(values, "r", "both")
    return _round(values, lengths, (radius, radius))


def _ellipse(values: Values, lengths: Lengths) -> list[SubPath]:
    return _round(values, lengths, _radii(values, lengths))


def _radii(values: Values, lengths: Lengths) -> tuple[float, float]:
    """`rx` and `ry`; one that is not given is as the other (SVG 2, §10.2 and §10.4)."""

    def radius(name: str, axis: Axis) -> float | None:
        given = values.get(name, "auto").strip().lower() != "auto"
        return lengths.size(values, name, axis) if given else None

    rx, ry = radius("rx", "x"), radius("ry", "y")
    return (rx if rx is not None else ry or 0.0), (ry if ry is not None else rx or 0.0)


def _round(values: Values, lengths: Lengths, radii: tuple[float, float]) -> list[SubPath]:
    centre = lengths.of(values, "cx", "x"), lengths.of(values, "cy", "y")
    if not all(radii):
        return []
    return [SubPath((Arc(centre, (radii[0], 0.0), (0.0, radii[1]), 0.0, FULL_TURN),), True)]


def _line(values: Values, lengths: Lengths) -> list[SubPath]:
    start = lengths.of(values, "x1", "x"), lengths.of(values, "y1", "y")
    end = lengths.of(values, "x2", "x"), lengths.of(values, "y2", "y")
    return [SubPath(polyline([start, end]), False)]


def _polyline(values: Values, lengths: Lengths) -> list[SubPath]:
    return [SubPath(polyline(_points(values)), False)]


def _polygon(values: Values, lengths: Lengths) -> list[SubPath]:
    points = _points(values)
    return [SubPath(polyline(points, closed=bool(points)), True)]


def _points(values: Values) -> list[Point]:
    found = numbers(values.get("points", ""))
    if len(found) % 2:
        raise BadValueError(f"its last point has one coordinate only ({found[-1]:g})")
    return list(zip(found[::2], found[1::2], strict=True))


SHAPES: Final[Mapping[str, Callable[[Values, Lengths], list[SubPath]]]] = {
    "path": _path,
    "rect": _rect,
    "circle": _circle,
    "ellipse": _ellipse,
    "line": _line,
    "polyline": _polyline,
    "polygon": _polygon,
}
"""The elements that can be part of an outline, and how each is read."""
