"""A drawing as a reader hands it over: pieces of curves, shapes by layer, in millimetres."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from silhouette3d.errors import DrawingError
from silhouette3d.geometry.tolerances import LAST_DIGITS, SHARE

# --- The pieces a drawing is made of, and how each becomes straight pieces
#
# A reader turns every object of its file into curves; a curve is a chain of
# pieces: lines, arcs (circular or elliptic) and cubic Béziers. They are kept as
# they were drawn until someone asks for points, so that a later reader of the
# same outline (a setup drawing, say) can have the true arc.


Array = NDArray[np.float64]
Point = tuple[float, float]

FULL_TURN: Final = 2.0 * math.pi


@dataclass(frozen=True)
class Line:
    """A straight piece from `start` to `end`."""

    start: Point
    end: Point

    def moved(self, matrix: Array) -> Line:
        """Map by an affine (2, 3) matrix."""
        return Line(_apply(matrix, self.start), _apply(matrix, self.end))

    def reversed(self) -> Line:
        """Walk the piece from its other end."""
        return Line(self.end, self.start)

    def count(self, tolerance: float) -> int:
        """Count the chords it takes."""
        return 1

    def chords(self, tolerance: float) -> tuple[Array, float]:
        """Make points (2, 2) and the area between curve and chords: none."""
        return np.array([self.start, self.end]), 0.0


@dataclass(frozen=True)
class Arc:
    """An affine image of a circular arc: centre + cos t · axis_u + sin t · axis_v.

    A circle has two square axes of one length; an ellipse, or a circle that a
    block reference has stretched, has any two. `t` runs from `start_angle` to
    `end_angle` in radians, backwards when the latter is smaller.
    """

    centre: Point
    axis_u: Point
    axis_v: Point
    start_angle: float
    end_angle: float

    @classmethod
    def circular(
        cls, centre: Point, radius: float, start_angle: float = 0.0, end_angle: float = FULL_TURN
    ) -> Arc:
        """Make an arc of a circle; angles in radians, counter-clockwise from u."""
        return cls(centre, (radius, 0.0), (0.0, radius), start_angle, end_angle)

    @property
    def start(self) -> Point:
        """Point where the arc begins."""
        return self._at(self.start_angle)

    @property
    def end(self) -> Point:
        """Point where the arc ends."""
        return self._at(self.end_angle)

    def _at(self, t: float) -> Point:
        c, s = math.cos(t), math.sin(t)
        return (
            self.centre[0] + c * self.axis_u[0] + s * self.axis_v[0],
            self.centre[1] + c * self.axis_u[1] + s * self.axis_v[1],
        )

    @property
    def is_circular(self) -> bool:
        """True if both axes are square to each other and of one length."""
        (a, b), (c, d) = self.axis_u, self.axis_v
        size = math.hypot(a, b)
        return (
            abs(size - math.hypot(c, d)) <= SHARE * size and abs(a * c + b * d) <= SHARE * size**2
        )

    @property
    def reach(self) -> float:
        """The longest half-axis in mm: the largest stretch of the unit circle."""
        matrix = np.array([self.axis_u, self.axis_v])
        return float(np.linalg.norm(matrix, 2))

    def moved(self, matrix: Array) -> Arc:
        """Map by an affine (2, 3) matrix: still an arc."""
        turn = matrix[:, :2]
        u, v = turn @ self.axis_u, turn @ self.axis_v
        return Arc(
            _apply(matrix, self.centre),
            (float(u[0]), float(u[1])),
            (float(v[0]), float(v[1])),
            self.start_angle,
            self.end_angle,
        )

    def reversed(self) -> Arc:
        """Walk the piece from its other end."""
        return Arc(self.centre, self.axis_u, self.axis_v, self.end_angle, self.start_angle)

    def count(self, tolerance: float) -> int:
        """Count the chords it takes.

        The sagitta of a chord over the angle d of the unit circle is
        1 − cos(d/2); the map stretches it by `reach` at most. So n chords keep
        `tolerance` as soon as reach · (1 − cos(sweep / 2n)) ≤ tolerance, and for
        a circle this n is the smallest that does.
        """
        sweep = self.end_angle - self.start_angle
        reach = self.reach
        if reach <= tolerance or sweep == 0.0:
            step = FULL_TURN / 3
        else:
            step = 2.0 * math.acos(1.0 - tolerance / reach)
        count = math.ceil(abs(sweep) / step - SHARE)
        least = max(1, math.ceil(abs(sweep) / (FULL_TURN / 3) - SHARE))
        return max(count, least)

    def chords(self, tolerance: float) -> tuple[Array, float]:
        """Make points (n + 1, 2) on the arc; measure the area between arc and chords in mm².

        The area of n circular segments of the angle d is n/2 · (d − sin d), times
        the determinant of the map.
        """
        sweep = self.end_angle - self.start_angle
        count = self.count(tolerance)
        t = np.linspace(self.start_angle, self.end_angle, count + 1)
        points = (
            np.asarray(self.centre)
            + np.outer(np.cos(t), self.axis_u)
            + np.outer(np.sin(t), self.axis_v)
        )
        if math.isclose(abs(sweep), FULL_TURN, rel_tol=LAST_DIGITS):
            points[-1] = points[0]
        (a, b), (c, d) = self.axis_u, self.axis_v
        angle = abs(sweep) / count
        return points, abs(a * d - b * c) * 0.5 * count * (angle - math.sin(angle))


@dataclass(frozen=True)
class Bezier:
    """A cubic Bézier piece with its four control points."""

    start: Point
    control_1: Point
    control_2: Point
    end: Point

    def moved(self, matrix: Array) -> Bezier:
        """Map by an affine (2, 3) matrix."""
        return Bezier(*(_apply(matrix, p) for p in self._points))

    @property
    def _points(self) -> tuple[Point, Point, Point, Point]:
        return self.start, self.control_1, self.control_2, self.end

    def reversed(self) -> Bezier:
        """Walk the piece from its other end."""
        return Bezier(self.end, self.control_2, self.control_1, self.start)

    @property
    def bend(self) -> float:
        """Bound on the second derivative in mm."""
        p = np.array(self._points)
        return 6.0 * float(np.linalg.norm(p[:-2] - 2 * p[1:-1] + p[2:], axis=1).max())

    def count(self, tolerance: float) -> int:
        """Count the chords it takes: see `chords`."""
        return max(1, math.ceil(math.sqrt(self.bend / (8.0 * tolerance)) - SHARE))

    def chords(self, tolerance: float) -> tuple[Array, float]:
        """Make points (n + 1, 2) on the curve; bound the area between in mm².

        A curve stays within M/8 · h² of the chord over a parameter step h,
        where M bounds its second derivative (the error of linear
        interpolation); for a cubic M is 6 times the larger second difference
        of its control points. The area is at most deviation times length, and
        twice its square for each chord, which matters where the chord is short:
        with the error e over a step, the area is the integral of e × chord and
        of half e × slope of e, and that slope is at most M/2 · h.
        """
        p = np.array(self._points)
        count = self.count(tolerance)
        t = np.linspace(0.0, 1.0, count + 1)[:, None]
        s = 1.0 - t
        points = s**3 * p[0] + 3 * s**2 * t * p[1] + 3 * s * t**2 * p[2] + t**3 * p[3]
        points[0], points[-1] = p[0], p[-1]
        length = float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
        deviation = self.bend / (8.0 * count**2)
        return points, deviation * (length + 2.0 * count * deviation)


@dataclass(frozen=True)
class Sampled:
    """A piece known by a function only, such as a rational spline.

    `points` must be dense enough already; `deviation` (mm) bounds how far the
    true curve strays from them.
    """

    points: tuple[Point, ...]
    deviation: float

    @property
    def start(self) -> Point:
        """Point where the piece begins."""
        return self.points[0]

    @property
    def end(self) -> Point:
        """Point where the piece ends."""
        return self.points[-1]

    def moved(self, matrix: Array) -> Sampled:
        """Map by an affine (2, 3) matrix."""
        stretch = float(np.linalg.norm(matrix[:, :2], 2))
        return Sampled(tuple(_apply(matrix, p) for p in self.points), self.deviation * stretch)

    def reversed(self) -> Sampled:
        """Walk the piece from its other end."""
        return Sampled(self.points[::-1], self.deviation)

    def count(self, tolerance: float) -> int:
        """Count its chords."""
        return len(self.points) - 1

    def chords(self, tolerance: float) -> tuple[Array, float]:
        """Return the points as they are, and a bound on the area.

        What lies on one side of a chord and within `deviation` of it is a strip
        with two quarter circles: less than deviation times length plus twice
        its square.
        """
        points = np.array(self.points)
        length = float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
        return points, self.deviation * (length + 2.0 * (len(points) - 1) * self.deviation)


Piece = Line | Arc | Bezier | Sampled


@dataclass(frozen=True)
class Curve:
    """A chain of pieces, each beginning where the one before it ends.

    Parameters
    ----------
    pieces : tuple of Piece
        In mm, drawing coordinates (u right, v up).
    layer : str
        The layer, or the top-level group, that the object lies on.
    source : str
        What it was in the file, for messages: ``"LINE #2F"``, ``"path 'hull'"``.
    """

    pieces: tuple[Piece, ...]
    layer: str = ""
    source: str = ""

    @property
    def start(self) -> Point:
        """Point where the chain begins."""
        return self.pieces[0].start

    @property
    def end(self) -> Point:
        """Point where the chain ends."""
        return self.pieces[-1].end

    @property
    def is_closed(self) -> bool:
        """True if the end meets the start to the last digit that matters."""
        return math.dist(self.start, self.end) <= SHARE * (1.0 + math.hypot(*self.start))

    def moved(self, matrix: ArrayLike) -> Curve:
        """Map by an affine (2, 3) matrix."""
        m = np.asarray(matrix, float)
        return Curve(tuple(p.moved(m) for p in self.pieces), self.layer, self.source)

    def reversed(self) -> Curve:
        """Walk the chain from its other end."""
        return Curve(tuple(p.reversed() for p in reversed(self.pieces)), self.layer, self.source)

    def count(self, tolerance: float) -> int:
        """Count the chords it takes to stay within `tolerance` mm."""
        return sum(piece.count(tolerance) for piece in self.pieces)

    def flatten(self, tolerance: float) -> tuple[Array, float]:
        """Flatten to points (n, 2) within `tolerance` mm; tell the area lost or won in mm²."""
        return _join([piece.chords(tolerance) for piece in self.pieces])


def polyline(points: Sequence[Point], *, closed: bool = False) -> tuple[Line, ...]:
    """Make straight pieces through points, back to the first when closed."""
    ends = list(points[1:]) + ([points[0]] if closed else [])
    return tuple(Line(a, b) for a, b in zip(points, ends, strict=False) if a != b)


def bulge_arc(start: Point, end: Point, bulge: float) -> Line | Arc:
    """Make a piece of a DXF polyline: bulge = tan(included angle / 4), positive to the left.

    One that bows off its chord by less than the last digit of its ends is straight: its centre
    lies further off than numbers tell.
    """
    last_digit = math.ulp(max(map(abs, (*start, *end))))
    if abs(bulge) * math.dist(start, end) / 2.0 <= last_digit:
        return Line(start, end)
    (x0, y0), (x1, y1) = start, end
    # centre: from the chord's middle, along its left normal, by (1 − b²) / 4b chords
    k = (1.0 - bulge * bulge) / (4.0 * bulge)
    cx, cy = (x0 + x1) / 2.0 - k * (y1 - y0), (y0 + y1) / 2.0 + k * (x1 - x0)
    radius = math.hypot(x0 - cx, y0 - cy)
    first = math.atan2(y0 - cy, x0 - cx)
    return Arc.circular((cx, cy), radius, first, first + 4.0 * math.atan(bulge))


def _apply(matrix: Array, point: Point) -> Point:
    x, y = matrix[:, :2] @ point + matrix[:, 2]
    return float(x), float(y)


def _join(parts: Sequence[tuple[Array, float]]) -> tuple[Array, float]:
    points = [parts[0][0]] + [chords[1:] for chords, _ in parts[1:]]
    return np.concatenate(points), sum(area for _, area in parts)


# --- What a reader hands over: shapes by layer, in millimetres, nothing joined yet


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
        """Choose the shapes on these layers; names are compared without regard to case."""
        wanted = {name.casefold() for name in layers}
        return tuple(s for s in self.shapes if s.layer.casefold() in wanted)
