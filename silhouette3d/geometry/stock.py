"""The piece of material before cutting: a block or a round bar."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import ArrayLike
from shapely import Polygon

from silhouette3d.geometry.frames import VIEWS, Array, View
from silhouette3d.geometry.tolerances import Tolerances

Triple = tuple[float, float, float]
_MOST_SIDES: Final = 100_000
"""Of a round bar, however fine the tolerance."""

_AXES: Final = {"x": 0, "y": 1, "z": 2}
_AGAINST: Final = {
    "x": VIEWS["right"],
    "y": View("against y", (0.0, -1.0, 0.0), (1.0, 0.0, 0.0)),
    "z": VIEWS["top"],
}


@dataclass(frozen=True)
class Face:
    """The stock as seen in one view: the bounding rectangle of its shadow.

    Parameters
    ----------
    corner : tuple of float
        Its lower left corner, the datum of that setup, in view coordinates
        (u, v) of the block frame, in mm.
    size : tuple of float
        Width and height in mm.
    depth : tuple of float
        Where the stock begins and ends along the view, as w towards the eye.
    """

    corner: tuple[float, float]
    size: tuple[float, float]
    depth: tuple[float, float]

    @property
    def thickness(self) -> float:
        """Depth of the stock along the view in mm."""
        return self.depth[1] - self.depth[0]

    @property
    def tolerances(self) -> Tolerances:
        """Lengths below which two things are the same, by the block between face and depth."""
        return Tolerances.for_size(math.hypot(*self.size, self.thickness))


@dataclass(frozen=True)
class Block:
    """A rectangular block of some material, as measured after sawing.

    Parameters
    ----------
    width, depth, height : float
        Along x, y and z, in mm.
    material : str, optional
        A name from the table of materials.
    density : float, optional
        In g/cm³; wins over the material's. One of the two must be given.
    """

    width: float
    depth: float
    height: float
    material: str | None = None
    density: float | None = None


@dataclass(frozen=True)
class Bar:
    """A round bar of some material.

    Parameters
    ----------
    diameter, length : float
        In mm.
    along : {"x", "y", "z"}
        The axis it lies along.
    material : str, optional
        A name from the table of materials.
    density : float, optional
        In g/cm³; wins over the material's. One of the two must be given.
    """

    diameter: float
    length: float
    along: str = "z"
    material: str | None = None
    density: float | None = None


@dataclass(frozen=True)
class Stock:
    """A straight piece of one cross-section, in the block frame.

    Parameters
    ----------
    size : tuple of float
        Width x, depth y, height z of its bounding block in mm.
    diameter : float, optional
        For a round bar.
    along : {"x", "y", "z"}
        The axis along which the cross-section is constant.
    tolerance : float
        Largest gap between a bar's circle and its chords in mm.
    """

    size: Triple
    diameter: float | None = None
    along: str = "z"
    tolerance: float = 0.01

    @classmethod
    def bar(
        cls, diameter: float, length: float, along: str = "z", tolerance: float = 0.01
    ) -> Stock:
        """Make a round bar that lies along an axis; sizes in mm."""
        size = [diameter] * 3
        size[_AXES[along]] = length
        return cls((size[0], size[1], size[2]), diameter, along, tolerance)

    @property
    def length(self) -> float:
        """Along the axis in mm."""
        return self.size[_AXES[self.along]]

    @property
    def section(self) -> Array:
        """(n, 2) cross-section, counter-clockwise as seen against the axis, in mm.

        For a bar a regular polygon inscribed in the circle, its number of sides
        a multiple of four so that it touches all four sides of its bounding block.
        """
        w, h = np.abs(self.axis_view.axes[:2]) @ self.size
        if self.diameter is None:
            return np.array([(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)])
        r = self.diameter / 2.0
        half = math.acos(max(0.0, 1.0 - self.tolerance / r))  # of the angle over a side
        count = 4 * math.ceil(min(math.pi / half, _MOST_SIDES) / 4) if half else _MOST_SIDES
        t = np.arange(count) * (2.0 * math.pi / count)
        points = r + r * np.column_stack([np.cos(t), np.sin(t)])
        quarter = count // 4  # the four extreme points exactly
        points[[0, quarter, 2 * quarter, 3 * quarter]] = [(2 * r, r), (r, 2 * r), (0, r), (r, 0)]
        return points

    @property
    def axis_view(self) -> View:
        """The view against the axis: its (u, v) are those of `section`, its w is the axis."""
        return _AGAINST[self.along]

    @property
    def corners(self) -> Array:
        """(2n, 3) corners in mm: the cross-section at the start, then at the end of the axis."""
        section = self.section
        levels = np.repeat([0.0, self.length], len(section))
        flat = np.column_stack([np.tile(section, (2, 1)), levels])
        return self.axis_view.to_block(flat)

    @property
    def volume(self) -> float:
        """Volume in mm³, of the true bar."""
        if self.diameter is None:
            return math.prod(self.size)
        return math.pi / 4.0 * self.diameter**2 * self.length

    @property
    def volume_error(self) -> float:
        """mm³ between the true bar and the straight-sided one that stands for it."""
        if self.diameter is None:
            return 0.0
        return float(self.volume - Polygon(self.section).area * self.length)

    @property
    def diagonal(self) -> float:
        """Diagonal of the bounding block in mm."""
        return math.hypot(*self.size)

    @property
    def tolerances(self) -> Tolerances:
        """Lengths below which two things of this stock are the same."""
        return Tolerances.for_size(self.diagonal)

    def extent(self, direction: ArrayLike) -> tuple[float, float]:
        """Measure the least and the greatest of x · direction over the true stock, in mm."""
        d = np.asarray(direction, float)
        middle = float(np.asarray(self.size) @ d) / 2.0
        if self.diameter is None:
            half = float(np.abs(d) @ np.asarray(self.size)) / 2.0
        else:
            u, v, _ = self.axis_view.axes @ d
            across = self.diameter * math.hypot(u, v)
            half = (across + self.length * abs(float(d[_AXES[self.along]]))) / 2.0
        return middle - half, middle + half

    def face(self, view: View) -> Face:
        """Find the face on which an outline of this view is placed."""
        (u0, u1), (v0, v1), depth = (self.extent(axis) for axis in view.axes)
        return Face((u0, v0), (u1 - u0, v1 - v0), depth)

    def shadow(self, view: View) -> Polygon:
        """Project along the view, into face coordinates (mm, datum at the origin)."""
        flat = view.to_view(self.corners)[:, :2] - self.face(view).corner
        hull = shapely.convex_hull(shapely.multipoints(flat))
        assert isinstance(hull, Polygon)
        return hull
