"""Outlines with as many corners as one likes, each with a hole, 100 mm wide."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon, affinity

Array = NDArray[np.float64]

SIDE = 100.0
VIEWS = ("front", "right", "top")

_LETTER = [(5, 5), (35, 5), (35, 30), (65, 30), (65, 5), (95, 5)]
_LETTER += [(100 - x, 100 - y) for x, y in _LETTER]


def wavy(count: int, which: int) -> Array:
    """Smooth, with large waves and small ones."""
    t = np.linspace(0.0, 2.0 * np.pi, count, endpoint=False)
    waves = 5 + 2 * which
    r = 42.0 * (1.0 + 0.1 * np.sin(waves * t + waves) + 0.02 * np.sin(37.0 * t))
    return _round(t, r)


def star(count: int, which: int) -> Array:
    """Points with hollow sides."""
    share = np.arange(count) / count
    saw = 2.0 * np.abs(share * (7 + 2 * which) % 1.0 - 0.5)
    return _round(2.0 * np.pi * share + 0.1 * which, 28.0 + 17.0 * saw**1.3)


def letter(count: int, which: int) -> Array:
    """An H as traced from a picture: no side is quite straight."""
    ring = shapely.LinearRing(_LETTER)
    along = np.linspace(0.0, ring.length, count, endpoint=False)
    points = shapely.get_coordinates(shapely.line_interpolate_point(ring, along))
    noise = np.random.default_rng(which).uniform(-0.05, 0.05, points.shape)
    points = (points - 50.0) * 0.85 + 50.0 + noise * min(ring.length / count, 1.0)
    turned = affinity.rotate(Polygon(points), 9.0 + 4.0 * which, (50.0, 50.0))
    return shapely.get_coordinates(turned)[:-1]


def _round(t: Array, r: Array) -> Array:
    return 50.0 + np.column_stack([r * np.cos(t), r * np.sin(t)])


KINDS: dict[str, Callable[[int, int], Array]] = {"wavy": wavy, "star": star, "letter": letter}


def outline(kind: str, count: int, which: int, *, level: bool = False) -> Polygon:
    """One of three outlines: a fifth of its corners round an oval hole.

    Unless all are to be `level` with the stock's faces and each other, each is turned a little.
    """
    t = np.linspace(0.0, 2.0 * np.pi, max(count // 5, 3), endpoint=False)
    hole = _round(t, np.full(len(t), 7.0)) * (1.0, 0.8) + (0.0, 10.0)
    area = Polygon(KINDS[kind](count - len(t), which), [hole])
    if not level:
        return affinity.rotate(area, 3.1 + which, (50.0, 50.0))
    u0, v0, u1, v1 = area.bounds
    wide = affinity.translate(area, -u0, -v0)
    return affinity.scale(wide, SIDE / (u1 - u0), SIDE / (v1 - v0), origin=(0.0, 0.0))


def outlines(kind: str, count: int, *, level: bool = False) -> dict[str, Polygon]:
    """All three, by view."""
    return {view: outline(kind, count, i, level=level) for i, view in enumerate(VIEWS)}
