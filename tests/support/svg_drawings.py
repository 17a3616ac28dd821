"""SVG text to drawings, and the exact area that curves enclose."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

import numpy as np

from silhouette3d.drawing.model import Arc, Bezier, Curve, Drawing, Line, Piece
from silhouette3d.drawing.svg.reader import read_svg

SPACES = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
PAGE = 'width="100mm" height="100mm" viewBox="0 0 100 100"'
"""A page on which one unit is 1 mm, so that (x, y) of the file is (x, 100 − y) in mm."""


def drawn(body: str, page: str = PAGE, **options: Any) -> Drawing:
    """What `read_svg` makes of some elements on a page."""
    return drawn_from(f"<svg {SPACES} {page}>{body}</svg>".encode(), **options)


def drawn_from(data: bytes, **options: Any) -> Drawing:
    """What `read_svg` makes of a file with these bytes."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "tug.svg")
        path.write_bytes(data)
        return read_svg(path, **options)


def only_curve(drawing: Drawing) -> Curve:
    """The single curve of a drawing that holds one shape of one curve."""
    (shape,) = drawing.shapes
    (curve,) = shape.curves
    return curve


def area(curve: Curve) -> float:
    """Area in mm² that a closed curve goes round counter-clockwise.

    Half the integral of x dy − y dx, exact for every piece: no test needs a tolerance for facets.
    """
    return sum(_area(piece) for piece in curve.pieces)


def _area(piece: Piece) -> float:
    (x0, y0), (x1, y1) = piece.start, piece.end
    match piece:
        case Line():
            return (x0 * y1 - x1 * y0) / 2.0
        case Arc():
            (a, b), (c, d) = piece.axis_u, piece.axis_v
            swept = (a * d - b * c) * (piece.end_angle - piece.start_angle)
            return (swept + piece.centre[0] * (y1 - y0) - piece.centre[1] * (x1 - x0)) / 2.0
        case Bezier():
            # x dy − y dx has degree 5: three Gauss points are exact
            nodes, weights = np.polynomial.legendre.leggauss(3)
            p = np.array([piece.start, piece.control_1, piece.control_2, piece.end])
            total = 0.0
            for t, w in zip((nodes + 1.0) / 2.0, weights / 2.0, strict=True):
                s = 1.0 - t
                x, y = np.array([s**3, 3 * s * s * t, 3 * s * t * t, t**3]) @ p
                dx, dy = 3.0 * np.array([s * s, 2 * s * t, t * t]) @ np.diff(p, axis=0)
                total += w * (x * dy - y * dx)
            return total / 2.0
    raise TypeError(piece)


def bounds(curve: Curve) -> tuple[float, float, float, float]:
    """Left, bottom, right and top in mm, to 1e-6 mm: from very fine chords."""
    points = curve.flatten(1e-6)[0]
    return (*points.min(axis=0).tolist(), *points.max(axis=0).tolist())
