"""Path data of an SVG file as pieces, in the units they are drawn in."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from silhouette3d.drawing.curve import FULL_TURN, Arc, Bezier, Line, Piece, Point
from silhouette3d.drawing.svg_values import BadValueError, tidied

__all__ = ["SubPath", "path_data"]

_SHOWN: Final = 12  # characters of the data before and after the place of an error


class SubPath(NamedTuple):
    """A chain of pieces, and whether the drawing says that it is closed."""

    pieces: tuple[Piece, ...]
    closed: bool


def path_data(text: str) -> list[SubPath]:
    """The sub-paths that path data describe (SVG 2, §9.3).

    Quadratic Béziers become the cubic ones that are the same curve, elliptic
    arcs stay arcs.

    Raises
    ------
    BadValueError
        If any of it cannot be read: half an outline is worse than none.
    """
    from svgelements import SVGLexicalParser

    text = tidied(text).strip()
    if text in {"", "none"}:
        return []
    pen, lexer = _Pen(), SVGLexicalParser()
    try:
        lexer.parse(pen, text)
    except (ValueError, ArithmeticError):
        raise BadValueError(_unreadable(text, lexer.pos)) from None
    if lexer.pos < len(text):  # it stops without a word where it does not understand
        raise BadValueError(_unreadable(text, lexer.pos))
    pen.lift()
    return pen.sub_paths


def _unreadable(text: str, at: int) -> str:
    near = text[max(at - _SHOWN, 0) : at + _SHOWN]
    return f"its path data cannot be read near character {at + 1}, {near!r}"


class _At(NamedTuple):
    """A point as the lexer wants to see it."""

    x: float
    y: float


class _Pen:
    """Draws what the lexer reads. Every coordinate that reaches it is absolute.

    The lexer adds the current point to relative coordinates, except for the
    single ones of horizontal and vertical lines. It hands over None, or the
    letter of a closing command, where a coordinate is missing.
    """

    def __init__(self) -> None:
        self.sub_paths: list[SubPath] = []
        self._pieces: list[Piece] = []
        self._start: _At | None = None
        self._here: _At | None = None
        self._cubic: Point | None = None
        self._quadratic: Point | None = None

    @property
    def current_point(self) -> _At | None:
        return self._here

    def start(self) -> None:
        """Called before the first command."""

    def end(self) -> None:
        """Called after the last command."""

    def lift(self, *, closed: bool = False) -> None:
        if self._pieces:
            self.sub_paths.append(SubPath(tuple(self._pieces), closed))
        self._pieces = []

    def move(self, to: object, *, relative: bool) -> None:
        self.lift()
        self._here = self._start = _point(to)
        self._cubic = self._quadratic = None

    def closed(self, *, relative: bool) -> None:
        self._from()
        self.lift(closed=True)
        self._here = self._start
        self._cubic = self._quadratic = None

    def line(self, to: object, *, relative: bool) -> None:
        end = _point(to)
        self._add(Line(self._from(), end), end)

    def horizontal(self, x: float | None, *, relative: bool) -> None:
        here = self._from()
        self.line((_number(x) + here.x * relative, here.y), relative=relative)

    def vertical(self, y: float | None, *, relative: bool) -> None:
        here = self._from()
        self.line((here.x, _number(y) + here.y * relative), relative=relative)

    def cubic(self, first: object, second: object, to: object, *, relative: bool) -> None:
        control, end = _point(second), _point(to)
        self._add(Bezier(self._from(), _point(first), control, end), end)
        self._cubic = control

    def smooth_cubic(self, second: object, to: object, *, relative: bool) -> None:
        self.cubic(self._mirrored(self._cubic), second, to, relative=relative)

    def quad(self, control: object, to: object, *, relative: bool) -> None:
        start, middle, end = self._from(), _point(control), _point(to)
        self._add(Bezier(start, _two_thirds(start, middle), _two_thirds(end, middle), end), end)
        self._quadratic = middle

    def smooth_quad(self, to: object, *, relative: bool) -> None:
        self.quad(self._mirrored(self._quadratic), to, relative=relative)

    def arc(
        self,
        rx: float | None,
        ry: float | None,
        turn: float | None,
        large: bool | None,
        sweep: bool | None,
        to: object,
        *,
        relative: bool,
    ) -> None:
        radii, turn = (abs(_number(rx)), abs(_number(ry))), math.radians(_number(turn))
        start, end = self._from(), _point(to)
        if large is None or sweep is None:
            raise ValueError
        if start == end or not all(radii):
            self._add(Line(start, end), end)
        else:
            self._add(_arc(start, end, radii, turn, large, sweep), end)

    def _from(self) -> _At:
        if self._here is None:
            raise ValueError  # path data begin with a move
        return self._here

    def _add(self, piece: Piece, end: _At) -> None:
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


def _point(value: object) -> _At:
    if not isinstance(value, tuple):
        raise ValueError
    return _At(*value)


def _number(value: float | None) -> float:
    if value is None:
        raise ValueError
    return value


def _two_thirds(start: Point, end: Point) -> Point:
    return (start[0] + 2.0 * (end[0] - start[0]) / 3.0, start[1] + 2.0 * (end[1] - start[1]) / 3.0)


def _arc(
    start: Point, end: Point, radii: tuple[float, float], turn: float, large: bool, sweep: bool
) -> Arc:
    """From end points to centre: SVG 2, appendix B.2.4 and B.2.5.

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
