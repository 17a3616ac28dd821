"""Shapes and path data of an SVG file as pieces, in the units they are drawn in."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np

from silhouette3d.base.limits import FARTHEST
from silhouette3d.drawing.model import (
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
from silhouette3d.drawing.svg.values import Axis, BadValueError, Lengths, numbers

__all__ = ["SHAPES", "SubPath", "extremes", "in_mm", "path_data", "sub_paths"]

# --- Path data of an SVG file as pieces, in the units they are drawn in


_SHOWN: Final = 12  # characters of the data before and after the place of an error

_NUMBER: Final = r"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?"
_BLANKS: Final = re.compile(r"[ \t\n\r\f]*")
_ARGUMENTS: Final = {
    letter: [re.compile(kind) for kind in kinds]
    for letter, kinds in {
        "M": [_NUMBER] * 2,
        "L": [_NUMBER] * 2,
        "H": [_NUMBER],
        "V": [_NUMBER],
        "C": [_NUMBER] * 6,
        "S": [_NUMBER] * 4,
        "Q": [_NUMBER] * 4,
        "T": [_NUMBER] * 2,
        "A": [_NUMBER] * 3 + ["[01]"] * 2 + [_NUMBER] * 2,  # flags need no blank after them
        "Z": [],
    }.items()
}
"""What follows each command, as often as one likes."""


class SubPath(NamedTuple):
    """A chain of pieces, and whether the drawing says that it is closed."""

    pieces: tuple[Piece, ...]
    closed: bool


def path_data(text: str) -> list[SubPath]:
    """Read the sub-paths that path data describe (SVG 2, §9.3).

    Quadratic Béziers become the cubic ones that are the same curve, elliptic
    arcs stay arcs.

    Raises
    ------
    BadValueError
        If any of it cannot be read: half an outline is worse than none.
    """
    text = text.strip()
    if text in {"", "none"}:
        return []
    pen = _Pen()
    for letter, values, at in _commands(text):
        try:
            pen.draw(letter, values)
        except (ValueError, ArithmeticError):
            raise _unreadable(text, at) from None
    pen.lift()
    return pen.sub_paths


def _unreadable(text: str, at: int) -> BadValueError:
    near = text[max(at - _SHOWN, 0) : at + _SHOWN]
    return BadValueError(f"its path data cannot be read near character {at + 1}, {near!r}")


def _commands(text: str) -> Iterator[tuple[str, list[float], int]]:
    """Yield each command with the numbers of one use of it, and where in the text it is."""
    at = _skip(text, 0)
    while at < len(text):
        letter, start = text[at], at
        kinds = _ARGUMENTS.get(letter.upper())
        if kinds is None:
            raise _unreadable(text, at)
        at = _skip(text, at + 1)
        if not kinds:
            yield letter, [], start
        more = bool(kinds)
        while more:
            numbers: list[float] = []
            for kind in kinds:
                match = kind.match(text, at)
                if match is None:
                    raise _unreadable(text, at)
                numbers.append(float(match[0]))
                at, comma = _skip_comma(text, match.end())
            yield letter, numbers, start
            letter = {"M": "L", "m": "l"}.get(letter, letter)
            more = comma or (at < len(text) and kinds[0].match(text, at) is not None)


def _skip(text: str, at: int) -> int:
    match = _BLANKS.match(text, at)
    return match.end() if match else at


def _skip_comma(text: str, at: int) -> tuple[int, bool]:
    """Skip blanks, with at most one comma among them; tell whether there was one."""
    at = _skip(text, at)
    comma = text[at : at + 1] == ","
    return (_skip(text, at + 1) if comma else at), comma


class _Pen:
    """Draws one command after the other."""

    def __init__(self) -> None:
        self.sub_paths: list[SubPath] = []
        self._pieces: list[Piece] = []
        self._start: Point | None = None
        self._here: Point | None = None
        self._cubic: Point | None = None
        self._quadratic: Point | None = None

    def lift(self, *, closed: bool = False) -> None:
        """End a sub-path."""
        if self._pieces:
            self.sub_paths.append(SubPath(tuple(self._pieces), closed))
        self._pieces = []

    def draw(self, letter: str, numbers: list[float]) -> None:
        """Draw one command; small letters are relative to where the pen is.

        Raises
        ------
        ValueError
            If the path does not begin with a move.
        """
        command = letter.upper()
        if command == "M":
            x, y = self._here if self._here and letter == "m" else (0.0, 0.0)
            self._move((x + numbers[0], y + numbers[1]))
            return
        here = self._from()
        x, y = here if letter != command else (0.0, 0.0)
        if command == "A":
            rx, ry, turn, large, sweep, u, v = numbers
            self._arc(
                (abs(rx), abs(ry)), math.radians(turn), bool(large), bool(sweep), (x + u, y + v)
            )
            return
        match command, numbers:
            case "H", [u]:
                self._line((x + u, here[1]))
            case "V", [v]:
                self._line((here[0], y + v))
            case _:
                pairs = zip(numbers[::2], numbers[1::2], strict=True)
                self._curve(command, [(x + u, y + v) for u, v in pairs])

    def _curve(self, command: str, points: list[Point]) -> None:
        match command, points:
            case "Z", _:
                self._close()
            case "L", [end]:
                self._line(end)
            case "C", [first, second, end]:
                self._bezier(first, second, end)
            case "S", [second, end]:
                self._bezier(self._mirrored(self._cubic), second, end)
            case "Q", [middle, end]:
                self._parabola(middle, end)
            case "T", [end]:
                self._parabola(self._mirrored(self._quadratic), end)

    def _move(self, to: Point) -> None:
        self.lift()
        self._here = self._start = to
        self._cubic = self._quadratic = None

    def _close(self) -> None:
        self.lift(closed=True)
        self._here = self._start
        self._cubic = self._quadratic = None

    def _line(self, end: Point) -> None:
        self._add(Line(self._from(), end), end)

    def _bezier(self, first: Point, second: Point, end: Point) -> None:
        self._add(Bezier(self._from(), first, second, end), end)
        self._cubic = second

    def _parabola(self, middle: Point, end: Point) -> None:
        start = self._from()
        self._add(Bezier(start, _two_thirds(start, middle), _two_thirds(end, middle), end), end)
        self._quadratic = middle

    def _arc(self, radii: Point, turn: float, large: bool, sweep: bool, end: Point) -> None:
        start = self._from()
        if start == end or not all(radii):
            self._line(end)
        else:
            self._add(_arc(start, end, radii, turn, large, sweep), end)

    def _from(self) -> Point:
        if self._here is None:
            raise ValueError  # path data begin with a move
        return self._here

    def _add(self, piece: Piece, end: Point) -> None:
        here = self._from()
        if isinstance(piece, Bezier):
            has_length = not here == end == piece.control_1 == piece.control_2
        else:
            has_length = here != end
        if has_length:
            self._pieces.append(piece)
        self._here = end
        self._cubic = self._quadratic = None

    def _mirrored(self, control: Point | None) -> Point:
        x, y = self._from()
        return (x, y) if control is None else (2.0 * x - control[0], 2.0 * y - control[1])


def _two_thirds(start: Point, end: Point) -> Point:
    return (start[0] + 2.0 * (end[0] - start[0]) / 3.0, start[1] + 2.0 * (end[1] - start[1]) / 3.0)


def _arc(
    start: Point, end: Point, radii: tuple[float, float], turn: float, large: bool, sweep: bool
) -> Arc:
    """Turn end points into a centre: SVG 2, appendix B.2.4 and B.2.5.

    Seen from the ellipse's centre, in its own axes and divided by its radii,
    both ends lie on the unit circle; (u, v) is half their difference.
    """
    rx, ry = radii
    c, s = math.cos(turn), math.sin(turn)
    dx, dy = (start[0] - end[0]) / 2.0, (start[1] - end[1]) / 2.0
    u, v = (c * dx + s * dy) / rx, (c * dy - s * dx) / ry
    size = u * u + v * v
    if size >= 1.0:  # too small to reach: they grow until the ends are opposite
        size = math.sqrt(size)
        rx, ry, u, v, k = rx * size, ry * size, u / size, v / size, 0.0
    else:
        k = math.sqrt((1.0 - size) / size) * (-1.0 if large == sweep else 1.0)
    x, y = k * v * rx, -k * u * ry
    centre = (
        c * x - s * y + (start[0] + end[0]) / 2.0,
        s * x + c * y + (start[1] + end[1]) / 2.0,
    )
    first = math.atan2(v + k * u, u - k * v)
    by = math.atan2(k * u - v, -u - k * v) - first
    if sweep and (by < 0.0 or (by == 0.0 and large)):
        by += FULL_TURN
    elif not sweep and (by > 0.0 or (by == 0.0 and large)):
        by -= FULL_TURN
    return Arc(centre, (c * rx, s * rx), (-s * ry, c * ry), first, first + by)


# --- The shapes of an SVG file as pieces, in the units they are drawn in
#
# What cannot be read raises BadValueError with the reason; the caller knows
# which element it was.


_PATH_OF_SHEETS: Final = re.compile(r"path\(\s*(['\"])(.*)\1\s*\)", re.IGNORECASE | re.DOTALL)

Values = Mapping[str, str]


def sub_paths(tag: str, values: Values, lengths: Lengths) -> list[SubPath]:
    """Make the sub-paths of one element; leave out those without length.

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
    """Read `rx` and `ry`; one that is not given is as the other (SVG 2, §10.2 and §10.4)."""

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
