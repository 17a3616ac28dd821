"""Random outlines of lines, arcs, ellipses and Béziers, with holes."""

from __future__ import annotations

import math

import numpy as np
from shapely import Polygon

from silhouette3d.drawing.model import Arc, Bezier, Curve, Line, Piece, Point, Shape, bulge_arc


def random_outline(seed: int) -> tuple[Shape, ...]:
    """One closed outline about (50, 50), between 17 and 47 mm from it, and up to two holes.

    Corners lie on rays at least 18 degrees apart; sides bow by little enough not to
    meet each other.
    """
    rng = np.random.default_rng(seed)
    count = int(rng.integers(3, 13))
    angles = (np.arange(count) + rng.uniform(0.0, 0.4, count)) * (2.0 * math.pi / count)
    radii = rng.uniform(20.0, 40.0, count) if count > 3 else np.full(3, 40.0)
    corners = [
        (float(50.0 + r * math.cos(a)), float(50.0 + r * math.sin(a)))
        for r, a in zip(radii, angles, strict=True)
    ]
    pieces = [_side(rng, a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)]
    shapes = [Shape((Curve(tuple(pieces), "0", "outline"),))]
    for side in (-1.0, 1.0)[: int(rng.integers(0, 3))]:
        centre = (50.0 + side * 5.0, 50.0)
        turn, size = rng.uniform(0.0, math.pi), rng.uniform(0.3, 3.0)
        u = (float(size * math.cos(turn)), float(size * math.sin(turn)))
        ratio = float(rng.choice([1.0, 0.5]))
        hole = Arc(centre, u, (-ratio * u[1], ratio * u[0]), 0.0, 2.0 * math.pi)
        shapes.append(Shape((Curve((hole,), "0", "hole"),)))
    return tuple(shapes)


def is_sound(shapes: tuple[Shape, ...]) -> bool:
    """Whether the outline does not cross itself or a hole."""
    outer, *holes = (Polygon(s.curves[0].flatten(0.01)[0]) for s in shapes)
    return bool(outer.is_valid) and all(outer.buffer(-0.5).contains(hole) for hole in holes)


def _side(rng: np.random.Generator, start: Point, end: Point) -> Piece:
    kind = rng.integers(0, 4)
    if kind == 0:
        return Line(start, end)
    bow = float(rng.uniform(-0.12, 0.12))
    if kind == 1:
        return bulge_arc(start, end, 2.0 * bow)
    (x0, y0), (x1, y1) = start, end
    across = (bow * (y0 - y1), bow * (x1 - x0))
    other = across if kind == 2 else (-across[0], -across[1])
    return Bezier(
        start,
        (x0 + (x1 - x0) / 3.0 + across[0], y0 + (y1 - y0) / 3.0 + across[1]),
        (x1 - (x1 - x0) / 3.0 + other[0], y1 - (y1 - y0) / 3.0 + other[1]),
        end,
    )
