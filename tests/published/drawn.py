"""Outlines as a designer draws them, with true circles and arcs; the part of a job of them; and
how such a part is held against formulas.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ezdxf.filemanagement
import numpy as np
import pytest
import shapely
import tomlkit
from numpy.typing import ArrayLike

import silhouette3d
from silhouette3d.geometry.frames import Array
from tests.support.shapes import many

Size = tuple[float, float, float]


@dataclass(frozen=True)
class Circle:
    """A CIRCLE in the drawing."""

    u: float
    v: float
    radius: float


Loop = Circle | Sequence[tuple[float, ...]]
"""A circle, or the corners of a closed LWPOLYLINE: (u, v), or (u, v, bulge) where an arc starts."""

Outlines = Mapping[str, Sequence[Loop]]
"""Loops by view, in face coordinates."""


def write(path: Path, loops: Sequence[Loop], units: int = 4) -> None:
    """Loops as a DXF; units as in $INSUNITS (4: mm, 1: inch)."""
    document = ezdxf.filemanagement.new("R2010", units=units)
    space = document.modelspace()
    for loop in loops:
        if isinstance(loop, Circle):
            space.add_circle((loop.u, loop.v), loop.radius)
        else:
            corners = [(*corner, 0.0)[:3] for corner in loop]
            space.add_lwpolyline(corners, format="xyb", close=True)
    document.saveas(path)


def load(folder: Path, size: Size, outlines: Outlines, **more: Any) -> silhouette3d.Part:
    """The part of a job file of these outlines, each drawn with its origin on the datum.

    The block has a density of 1 g/cm³, unless `more`, the other keys of the job,
    holds another ``stock``.
    """
    profiles = []
    drawn_in = 1 if more.get("units") == "in" else 4
    for view, loops in outlines.items():
        write(folder / f"{view}.dxf", loops, drawn_in)
        profiles.append({"view": view, "drawing": f"{view}.dxf", "datum": [0.0, 0.0]})
    stock = more.pop("stock", {"size": [float(s) for s in size], "density": 1.0})
    job = {"name": "closed form", **more, "stock": stock, "profile": profiles}
    path = folder / "job.toml"
    path.write_text(tomlkit.dumps(job), "utf-8")
    return silhouette3d.load(path)


def rectangle(u0: float, v0: float, u1: float, v1: float) -> list[tuple[float, ...]]:
    """An upright rectangle."""
    return [(u0, v0), (u1, v0), (u1, v1), (u0, v1)]


def slanted(rng: np.random.Generator, width: float, height: float) -> shapely.MultiPolygon:
    """On a face of this size, a star-shaped polygon of corners anywhere, with a triangular hole."""
    count = int(rng.integers(5, 12))
    angle = 2.0 * np.pi * (np.arange(count) + rng.uniform(0.1, 0.9, count)) / count
    reach = rng.uniform(0.5, 1.0, count)
    flat = np.column_stack([np.cos(angle), np.sin(angle)])
    half = np.array([width, height]) / 2.0
    star = shapely.polygons(half + half * reach[:, None] * flat)
    hole = shapely.polygons(half + half * 0.15 * flat[[0, count // 3, 2 * count // 3]])
    return many(shapely.difference(star, hole))


def tolerance_for(corners: int, radius: float) -> float:
    """The job's tolerance for which a circle becomes a regular polygon of this many corners.

    The gap in the middle of a side is radius · (1 − cos(π / corners)); a
    millionth more, so that rounding does not ask for one corner more.
    """
    return radius * (1.0 - math.cos(math.pi / corners)) * (1.0 + 1e-6)


@dataclass(frozen=True)
class Ngon:
    """A regular polygon about the origin, in a circle, with corners on both axes.

    So `corners` is a multiple of four, and the polygon is its own mirror image
    in both axes.
    """

    corners: int
    radius: float

    @property
    def area(self) -> float:
        return self.corners / 2.0 * self.radius**2 * math.sin(2.0 * math.pi / self.corners)

    @property
    def heights(self) -> Array:
        """Of the corners, from −radius to radius."""
        return np.asarray(self.radius * np.sin(self._angles))

    def width(self, height: Array) -> Array:
        """From side to side at a height, linear between corners."""
        widths = 2.0 * self.radius * np.cos(self._angles)
        widths[[0, -1]] = 0.0
        return np.interp(height, self.heights, widths)

    def drawn(self, u: float, v: float) -> Loop:
        """As a polyline about a point."""
        widths = self.width(self.heights) / 2.0
        right = [(u + float(w), v + float(h)) for w, h in zip(widths, self.heights, strict=True)]
        left = [(2.0 * u - x, y) for x, y in reversed(right[1:-1])]
        return [*right, *left]

    @property
    def _angles(self) -> Array:
        return np.linspace(-math.pi / 2.0, math.pi / 2.0, self.corners // 2 + 1)


def integral(f: Any, *knots: Any) -> float:
    """∫ f from the first to the last knot, exact where f is a polynomial between knots.

    Gauss and Legendre's rule of five points, exact to the ninth degree.
    """
    x, weights = np.polynomial.legendre.leggauss(5)
    at = np.unique(np.concatenate([np.atleast_1d(k) for k in knots]))
    half, middle = np.diff(at) / 2.0, (at[1:] + at[:-1]) / 2.0
    return float(half @ (f(middle[:, None] + half[:, None] * x) @ weights))


@dataclass(frozen=True)
class Known:
    """What a solid is known to be; None where no formula is given.

    Parameters
    ----------
    volume, area : float
        In mm³ and mm².
    centre : (3,) array
        Block frame, in mm.
    inertia : (3, 3) array
        About the centre, at a density of one per mm³, in mm⁵.
    """

    volume: float
    area: float | None = None
    centre: ArrayLike | None = None
    inertia: Array | None = None


def inertia(moments: ArrayLike, volume: float = 0.0, centre: ArrayLike = (0.0, 0.0, 0.0)) -> Array:
    """Inertia about the centre, in mm⁵.

    Parameters
    ----------
    moments : (3,) or (3, 3) array
        ∫ x², ∫ y², ∫ z², where the products vanish, or all of ∫ r rᵀ, about a point.
    volume, centre
        In mm³; seen from that point, in mm.
    """
    m = np.asarray(moments, float)
    m = np.diag(m) if m.ndim == 1 else m
    c = np.asarray(centre, float)
    own = m - volume * np.outer(c, c)
    return np.asarray(np.trace(own) * np.eye(3) - own)


EXACT = 1e-9
"""Relative. Placed outlines are rounded to 1e-9 mm, so walls are off by half of that: the volume by
less than area × 0.5e-9 mm, and no solid here has more mm² than mm³. Its moments change by a few
times that share; their sums in double precision are a thousand times finer."""

_GRAMS = 1e-3
"""Per mm³, at 1 g/cm³."""


def assert_exact(part: silhouette3d.Part, known: Known) -> None:
    """The part is the solid of flat faces that is known, but for rounding."""
    assert len(part.solid.bodies) == 1
    assert part.measures.volume == pytest.approx(known.volume, rel=EXACT)
    assert part.mass == pytest.approx(known.volume * _GRAMS, rel=EXACT)
    if known.area is not None:
        assert part.solid.surface_area == pytest.approx(known.area, rel=EXACT)
    if known.centre is not None:
        size = float(np.max(part.solid.size))
        assert np.allclose(part.measures.centre, known.centre, rtol=0, atol=EXACT * size)
    if known.inertia is not None:
        largest = float(np.abs(known.inertia).max())
        got = part.measures.inertia / _GRAMS
        # volume to the power 5/3, and off-diagonal zeros: against the largest
        assert np.allclose(got, known.inertia, rtol=0, atol=2.0 * EXACT * largest)


def assert_within_bound(part: silhouette3d.Part, smooth: Known) -> None:
    """The part differs from the solid with true curves by no more than it says.

    What the two do not share has a volume of `volume_error` at most. It lies in
    the block, so with the block's diagonal D and the volume V, it moves the
    centre by volume_error · D / V at most, and changes the inertia by
    volume_error · D².
    """
    error, reach = part.volume_error, part.stock.diagonal
    rounding = EXACT * smooth.volume  # a prism of one outline is off by the bound itself
    assert 0.0 < abs(part.measures.volume - smooth.volume) <= error + rounding
    off = abs(part.mass - smooth.volume * _GRAMS)
    assert off <= part.measures.mass_error + rounding * _GRAMS
    if smooth.centre is not None:
        moved = np.linalg.norm(part.measures.centre - np.asarray(smooth.centre))
        assert moved <= error * reach / smooth.volume
    if smooth.inertia is not None:
        changed = np.abs(part.measures.inertia / _GRAMS - smooth.inertia)
        assert changed.max() <= error * reach**2


def holes(part: silhouette3d.Part) -> int:
    """Genus of the surface of a part of one body: vertices − edges + faces is 2 − 2 · genus."""
    (body,) = part.solid.bodies
    triangles = len(body.mesh.triangles)
    characteristic = len(body.mesh.vertices) - 3 * triangles // 2 + triangles
    assert characteristic % 2 == 0
    return 1 - characteristic // 2
