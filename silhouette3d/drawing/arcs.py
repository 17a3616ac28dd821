"""Lines and circular arcs, which every cutter can follow: measured, parted and set off."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from silhouette3d.drawing.curve import FULL_TURN, Arc, Array, Line, Point

__all__ = [
    "STRAIGHT",
    "Simple",
    "bulge_of",
    "heading",
    "length_of",
    "nearest",
    "piece_between",
    "point_on",
    "radius_of",
    "share_at",
    "shifted_right",
]

Simple = Line | Arc
"""A line, or an arc of a circle."""

STRAIGHT: Final = 1e-9
"""mm. An arc that strays less from its chord is a line: a thousandth of `MERGE`."""


def length_of(piece: Simple) -> float:
    """In mm."""
    if isinstance(piece, Line):
        return math.dist(piece.start, piece.end)
    return radius_of(piece) * abs(piece.end_angle - piece.start_angle)


def radius_of(arc: Arc) -> float:
    """Of a circular arc in mm."""
    return math.hypot(*arc.axis_u)


def _turns(arc: Arc) -> float:
    """1.0 for an arc that turns left, −1.0 for one that turns right."""
    (a, b), (c, d) = arc.axis_u, arc.axis_v
    return math.copysign(1.0, (a * d - b * c) * (arc.end_angle - arc.start_angle))


def bulge_of(piece: Simple) -> float:
    """Tangent of a quarter of the included angle, positive to the left turn, as DXF has it."""
    if isinstance(piece, Line):
        return 0.0
    return _turns(piece) * math.tan(abs(piece.end_angle - piece.start_angle) / 4.0)


def heading(piece: Simple, share: float) -> Point:
    """The unit vector along which a piece runs after a share of its length."""
    if isinstance(piece, Line):
        (x0, y0), (x1, y1) = piece.start, piece.end
        size = math.dist(piece.start, piece.end)
        return (x1 - x0) / size, (y1 - y0) / size
    (x, y), (u, v) = point_on(piece, share), piece.centre
    factor = _turns(piece) / math.hypot(x - u, y - v)
    return (v - y) * factor, (x - u) * factor


def point_on(piece: Simple, share: float) -> Point:
    """The point after a share of the piece's length."""
    if isinstance(piece, Line):
        (x0, y0), (x1, y1) = piece.start, piece.end
        return x0 + share * (x1 - x0), y0 + share * (y1 - y0)
    at = piece.start_angle + share * (piece.end_angle - piece.start_angle)
    return Arc(piece.centre, piece.axis_u, piece.axis_v, at, at).start


def piece_between(piece: Simple, first: float, last: float) -> Simple:
    """What lies between two shares of a piece's length; whole ends are kept to the last digit."""
    if isinstance(piece, Line):
        start = piece.start if first == 0.0 else point_on(piece, first)
        return Line(start, piece.end if last == 1.0 else point_on(piece, last))
    a, b = piece.start_angle, piece.end_angle
    return Arc(
        piece.centre,
        piece.axis_u,
        piece.axis_v,
        a if first == 0.0 else a + first * (b - a),
        b if last == 1.0 else a + last * (b - a),
    )


def nearest(piece: Simple, points: Array) -> tuple[Array, Array]:
    """Where on a piece points (n, 2) are nearest to it.

    Returns
    -------
    (n,) array
        The share of its length from the start.
    (n,) array
        The distance in mm.
    """
    shares = np.clip(share_at(piece, points), 0.0, 1.0)
    if isinstance(piece, Line):
        start, way = np.array(piece.start), np.subtract(piece.end, piece.start)
        return shares, np.linalg.norm(points - start - shares[:, None] * way, axis=1)
    ends = np.stack([np.linalg.norm(points - p, axis=1) for p in (piece.start, piece.end)])
    off = np.abs(np.linalg.norm(points - np.array(piece.centre), axis=1) - radius_of(piece))
    beyond = (shares == 0.0) | (shares == 1.0)
    nearer = np.argmin(ends, axis=0)
    return (
        np.where(beyond, nearer.astype(float), shares),
        np.where(beyond, np.min(ends, axis=0), off),
    )


def share_at(piece: Simple, points: Array) -> Array:
    """The share of a piece's length whose normal passes through points (n, 2).

    Below 0 before the start of a line and above 1 behind its end; for an arc,
    above 1 anywhere beside it.
    """
    if isinstance(piece, Line):
        start, way = np.array(piece.start), np.subtract(piece.end, piece.start)
        return np.asarray((points - start) @ way / float(way @ way))
    axes = np.array([piece.axis_u, piece.axis_v])
    cos, sin = axes @ (points - np.array(piece.centre)).T
    sweep = piece.end_angle - piece.start_angle
    turned = (np.arctan2(sin, cos) - piece.start_angle) * math.copysign(1.0, sweep)
    return np.asarray(turned % FULL_TURN / abs(sweep))


def shifted_right(piece: Simple, distance: float) -> Simple | None:
    """The piece at a distance to the right of the way it runs; None where nothing is left."""
    if isinstance(piece, Line):
        (x0, y0), (x1, y1) = piece.start, piece.end
        factor = distance / math.dist(piece.start, piece.end)
        du, dv = (y1 - y0) * factor, (x0 - x1) * factor
        return Line((x0 + du, y0 + dv), (x1 + du, y1 + dv))
    radius = radius_of(piece)
    grown = radius + distance * _turns(piece)
    if grown <= STRAIGHT:
        return None
    factor = grown / radius
    (a, b), (c, d) = piece.axis_u, piece.axis_v
    return Arc(
        piece.centre,
        (a * factor, b * factor),
        (c * factor, d * factor),
        piece.start_angle,
        piece.end_angle,
    )
