"""A small drawing board: runs of lines, arcs and cubic curves, in DXF and in SVG.

What `make_samples` draws with. The same runs always give the same bytes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Final

from ezdxf._options import options  # ezdxf.options, where a type checker finds it
from ezdxf.document import Drawing
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace
from ezdxf.math import bulge_to_arc

Point = tuple[float, float]
Corner = tuple[float, float] | tuple[float, float, float]

MM: Final = 4
INCH: Final = 1
UNITLESS: Final = 0
"""Values of the DXF header variable $INSUNITS."""

DIGITS: Final = 9
"""Decimals kept in a drawing: hides how a machine rounds its last bit."""


@dataclass(frozen=True)
class Piece:
    """A line, an arc or a cubic curve, from wherever the run has got to.

    Parameters
    ----------
    end : tuple of float
        Where the piece ends.
    bulge : float
        Tangent of a quarter of the arc's angle, positive counter-clockwise, as
        in a DXF polyline; 0 for a line.
    controls : tuple of points
        The two inner control points of a cubic curve; empty otherwise.
    """

    end: Point
    bulge: float = 0.0
    controls: tuple[Point, ...] = ()


@dataclass(frozen=True)
class Run:
    """Pieces end to end."""

    start: Point
    pieces: tuple[Piece, ...]

    @property
    def end(self) -> Point:
        """Where the last piece ends."""
        return self.pieces[-1].end

    @property
    def steps(self) -> tuple[tuple[Point, Piece], ...]:
        """Each piece with the point it starts from."""
        starts = (self.start, *(p.end for p in self.pieces))
        return tuple(zip(starts, self.pieces, strict=False))

    def moved(self, to: Callable[[Point], Point]) -> Run:
        """Every point moved; `to` must keep shapes and handedness."""
        pieces = (Piece(to(p.end), p.bulge, tuple(map(to, p.controls))) for p in self.pieces)
        return Run(to(self.start), tuple(pieces))

    def mirrored(self, across: Callable[[Point], Point]) -> Run:
        """The image under a reflection, walked the other way round.

        Both steps turn an arc's sense round, so that bulges stay as they are.
        """
        back = (
            Piece(across(start), piece.bulge, tuple(map(across, reversed(piece.controls))))
            for start, piece in reversed(self.steps)
        )
        return Run(across(self.end), tuple(back))


def left_right(point: Point) -> Point:
    """Reflection in the upright axis."""
    return (-point[0], point[1])


def up_down(point: Point) -> Point:
    """Reflection in the level axis."""
    return (point[0], -point[1])


def line(*corners: Corner, closed: bool = False) -> Run:
    """Straight pieces through (x, y) or (x, y, radius): the corner is rounded off.

    Raises
    ------
    ValueError
        If two rounded corners need more than the straight piece between them.
    """
    ends: list[tuple[Point, Point, float]] = []
    for i, corner in enumerate(corners):
        at = (corner[0], corner[1])
        radius = sum(corner[2:])
        before, after = corners[i - 1], corners[(i + 1) % len(corners)]
        inner = closed or 0 < i < len(corners) - 1
        ends.append(_rounded(at, before, after, radius) if radius and inner else (at, at, 0.0))
    for i in range(0 if closed else 1, len(corners)):
        a, b, leave, arrive = corners[i - 1], corners[i], ends[i - 1][1], ends[i][0]
        if (arrive[0] - leave[0]) * (b[0] - a[0]) + (arrive[1] - leave[1]) * (b[1] - a[1]) < 0:
            raise ValueError(f"the corners {a} and {b} are rounded too much for their distance")
    pieces = []
    for (_, leave, _), (arrive, onward, bulge) in pairwise(ends):
        pieces += [Piece(arrive)] if arrive != leave else []
        pieces += [Piece(onward, bulge)] if bulge else []
    if closed:
        arrive, onward, bulge = ends[0]
        pieces += [Piece(arrive)] + ([Piece(onward, bulge)] if bulge else [])
    return Run(ends[0][1], tuple(pieces))


def _rounded(at: Point, before: Corner, after: Corner, radius: float) -> tuple[Point, Point, float]:
    """Where the arc of a rounded corner begins and ends, and its bulge."""
    ax, ay = before[0] - at[0], before[1] - at[1]
    bx, by = after[0] - at[0], after[1] - at[1]
    a, b = math.hypot(ax, ay), math.hypot(bx, by)
    turn = math.atan2(ay * bx - ax * by, -(ax * bx + ay * by))
    setback = radius * math.tan(abs(turn) / 2.0)
    arrive = (at[0] + ax / a * setback, at[1] + ay / a * setback)
    onward = (at[0] + bx / b * setback, at[1] + by / b * setback)
    return arrive, onward, math.tan(turn / 4.0)


def curve(start: Point, control_1: Point, control_2: Point, end: Point) -> Run:
    """One cubic Bézier curve."""
    return Run(start, (Piece(end, controls=(control_1, control_2)),))


def arc(centre: Point, radius: float, first: float, last: float) -> Run:
    """An arc from one angle to another, in degrees; clockwise when `last` is the smaller."""
    start, end = (
        (centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a))
        for a in (math.radians(first), math.radians(last))
    )
    return Run(start, (Piece(end, math.tan(math.radians(last - first) / 4.0)),))


def join(*runs: Run) -> Run:
    """Runs end to end."""
    for first, second in pairwise(runs):
        if math.dist(first.end, second.start) > 10.0**-DIGITS:
            raise ValueError(f"the run that ends at {first.end} goes on at {second.start}")
    return Run(runs[0].start, tuple(piece for run in runs for piece in run.pieces))


def both_sides(half: Run, across: Callable[[Point], Point] = left_right) -> Run:
    """A run that starts and ends on the mirror's axis, and its image: closed."""
    return join(half, half.mirrored(across))


def box(x0: float, y0: float, x1: float, y1: float, radius: float = 0.0) -> Run:
    """A rectangle with rounded corners."""
    return line((x0, y0, radius), (x1, y0, radius), (x1, y1, radius), (x0, y1, radius), closed=True)


# --- DXF -------------------------------------------------------------------------


def dxf_drawing(units: int) -> Drawing:
    """An empty drawing with the workshop's layers."""
    with _no_dates():
        doc = new("R2000", units=units)
    doc.header["$MEASUREMENT"] = int(units == MM)
    doc.linetypes.add("CENTER", [2.0, 1.25, -0.25, 0.25, -0.25], description="Center ____ _ ____")
    for name, colour in (("OUTLINE", 7), ("STOCK", 8), ("TABS", 1), ("NOTES", 3)):
        doc.layers.add(name, color=colour)
    return doc


def draw(space: Modelspace, run: Run, *, loose: bool = False, layer: str = "OUTLINE") -> None:
    """Draw a run: polylines and splines, or with `loose` each line and arc by itself."""
    here = {"layer": layer}
    together: list[tuple[float, float, float]] = []
    for start, piece in run.steps:
        if piece.controls:
            _polyline(space, together, here)
            together = []
            spots = [_clean(p) for p in (start, *piece.controls, piece.end)]
            space.add_open_spline(spots, degree=3, dxfattribs=here)
        elif not loose:
            together = together or [(*start, 0.0)]
            together[-1] = (*together[-1][:2], piece.bulge)
            together.append((*piece.end, 0.0))
        elif piece.bulge:
            centre, first, last, radius = bulge_to_arc(start, piece.end, piece.bulge)
            space.add_arc(
                _clean((centre.x, centre.y)),
                round(radius, DIGITS),
                *_clean((math.degrees(first), math.degrees(last))),
                dxfattribs=here,
            )
        else:
            space.add_line(_clean(start), _clean(piece.end), dxfattribs=here)
    _polyline(space, together, here)


def _polyline(
    space: Modelspace, vertices: Sequence[tuple[float, float, float]], here: dict[str, str]
) -> None:
    if not vertices:
        return
    spots = [(*_clean((x, y)), round(bulge, DIGITS)) for x, y, bulge in vertices]
    closed = spots[0][:2] == spots[-1][:2]
    space.add_lwpolyline(
        spots[:-1] if closed else spots, format="xyb", close=closed, dxfattribs=here
    )


def stock_face(space: Modelspace, corner: Point, width: float, height: float) -> None:
    """The stock's face as drawn."""
    x, y = corner
    draw(space, box(x, y, x + width, y + height), layer="STOCK")


def tabs(space: Modelspace, *lines: tuple[Point, Point]) -> None:
    """Short lines across the outline."""
    for start, end in lines:
        space.add_line(start, end, dxfattribs={"layer": "TABS"})


def notes(space: Modelspace, at: Point, height: float, *texts: str) -> None:
    """Lines of text, the first at `at`."""
    for i, text in enumerate(texts):
        spot = (at[0], at[1] - 1.6 * height * i)
        space.add_text(text, height=height, dxfattribs={"layer": "NOTES", "insert": spot})


def centre_line(space: Modelspace, start: Point, end: Point) -> None:
    """A chain line, for the reader only."""
    space.add_line(start, end, dxfattribs={"layer": "NOTES", "linetype": "CENTER"})


def _clean(pair: Point) -> Point:
    """Rounded, and without a negative zero."""
    return (round(pair[0], DIGITS) + 0.0, round(pair[1], DIGITS) + 0.0)


def save(doc: Drawing, file: Path) -> None:
    """Write a DXF file, with fixed dates and identifiers instead of today's."""
    with _no_dates():
        doc.saveas(file)


@contextmanager
def _no_dates() -> Iterator[None]:
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


# --- SVG -------------------------------------------------------------------------


def path_data(*runs: Run) -> str:
    """The d attribute of one path with a closed loop for each run."""
    words: list[str] = []
    for run in runs:
        words.append("M" + _pair(run.start))
        for start, piece in run.steps:
            if piece.controls:
                words.append("C" + " ".join(_pair(p) for p in (*piece.controls, piece.end)))
            elif piece.bulge:
                half = 2.0 * math.atan(abs(piece.bulge))  # half of the arc's angle
                radius = math.dist(start, piece.end) / 2.0 / math.sin(half)
                flags = f"{int(half > math.pi / 2)} {int(piece.bulge > 0)}"
                words.append(f"A{_number(radius)} {_number(radius)} 0 {flags} {_pair(piece.end)}")
            else:
                words.append("L" + _pair(piece.end))
        words.append("Z")
    return " ".join(words)


def _pair(point: Point) -> str:
    return f"{_number(point[0])},{_number(point[1])}"


def _number(value: float) -> str:
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def svg_page(title: str, unit: float, defs: Iterable[str], body: Iterable[str]) -> str:
    """A page the size of the bar's face, 40 × 90 mm, `unit` user units to the millimetre.

    The outline's layer has its origin on the foot of the axis and y upwards,
    in mm, so that what is inside reads like the drawing board above.
    """
    width, height = _number(40 * unit), _number(90 * unit)
    to_foot = f"translate({_number(20 * unit)} {_number(86 * unit)}) scale({_number(unit)} -"
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<svg xmlns="http://www.w3.org/2000/svg"',
        '     xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape"',
        f'     width="40mm" height="90mm" viewBox="0 0 {width} {height}">',
        f"  <title>{title}</title>",
        "  <defs>",
        *(f"    {item}" for item in defs),
        "  </defs>",
        '  <g id="STOCK" inkscape:groupmode="layer" inkscape:label="STOCK"',
        f'     fill="none" stroke="#999999" stroke-width="{_number(0.2 * unit)}">',
        f'    <rect x="0" y="0" width="{width}" height="{height}"/>',
        "  </g>",
        '  <g id="OUTLINE" inkscape:groupmode="layer" inkscape:label="OUTLINE"',
        f'     transform="{to_foot}{_number(unit)})"',
        '     fill="#e0c068" fill-rule="evenodd" stroke="#000000" stroke-width="0.1">',
        *(f"    {item}" for item in body),
        "  </g>",
        "</svg>",
    ]
    return "\n".join(lines) + "\n"
