"""Points as three plain numbers, for compiled code."""

from __future__ import annotations

from silhouette3d.measure.thickness.compiled import compiled
from silhouette3d.view import Array

Point = tuple[float, float, float]


@compiled
def row_of(values: Array, i: int, k: int) -> Point:
    """Three numbers of row i, from the k-th on."""
    return values[i, k], values[i, k + 1], values[i, k + 2]


@compiled
def dot(a: Point, b: Point) -> float:
    """Their inner product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@compiled
def minus(a: Point, b: Point) -> Point:
    """From b to a."""
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]


@compiled
def plus(a: Point, s: float, b: Point) -> Point:
    """The point a + s b."""
    return a[0] + s * b[0], a[1] + s * b[1], a[2] + s * b[2]


@compiled
def _beyond(low: float, high: float, at: float) -> float:
    """How far a number is outside a range."""
    outside = low - at if low - at > at - high else at - high
    return outside if outside > 0.0 else 0.0


@compiled
def gap(low: Point, high: Point, at: Point) -> float:
    """Squared distance between a point and a box."""
    x, y = _beyond(low[0], high[0], at[0]), _beyond(low[1], high[1], at[1])
    z = _beyond(low[2], high[2], at[2])
    return x * x + y * y + z * z
