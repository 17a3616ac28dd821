"""Which bodies the clamps hold, from the stock's own surface that is left on each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import shapely

from silhouette3d.errors import CuttingError
from silhouette3d.solid import Solid
from silhouette3d.stock import Face, Stock
from silhouette3d.units import Unit, length_text
from silhouette3d.view import Array, View

Rectangle = tuple[float, float, float, float]
Clamp = Sequence[str] | Sequence[Rectangle]

ON_SURFACE: Final = 1e-5
"""mm. A triangle whose corners are this near to a side of the stock lies on it."""

LEAST_AREA: Final = 1e-6
"""mm². Touching on less than this is no area: an edge or a point holds nothing."""


@dataclass(frozen=True, eq=False)
class Clamping:
    """The stock in one setup, and where it is clamped.

    Parameters
    ----------
    stock : Stock
        Before any cut: clamps press on what is left of its surface.
    view : View
        The side that faces the cutter.
    clamp : sequence of str, or of rectangles, optional
        Sides of the block as it lies (left, right, bottom, top) or rectangles
        (u0, v0, u1, v1) on its face, in face coordinates in mm.
    """

    stock: Stock
    view: View
    clamp: Clamp | None = None

    @cached_property
    def _sides(self) -> tuple[Array, Array]:
        """Outward normals (n, 3) and offsets (n,) of the stock's flat sides."""
        section = self.stock.section
        along = np.roll(section, -1, axis=0) - section
        outward = np.column_stack([along[:, 1], -along[:, 0]])
        outward /= np.linalg.norm(outward, axis=1, keepdims=True)
        axes = self.stock.axis_view.axes
        normals = np.concatenate([outward @ axes[:2], [axes[2], -axes[2]]])
        offsets = np.concatenate(
            [np.einsum("ij,ij->i", outward, section), [self.stock.length, 0.0]]
        )
        return normals, offsets

    def held(self, bodies: Sequence[Solid]) -> frozenset[int]:
        """Indices of the bodies that the clamps hold.

        Without clamps the one body with the largest area on the stock's side
        faces in this setup; of equal ones the first. A body with no area there
        cannot be held.
        """
        if self.clamp is None:
            areas = np.round([sum(self.side_areas(body).values()) for body in bodies], 6)
            if not areas.size or areas.max() <= LEAST_AREA:
                return frozenset()
            return frozenset([int(np.argmax(areas))])
        if all(isinstance(side, str) for side in self.clamp):
            return frozenset(
                i
                for i, body in enumerate(bodies)
                if any(self.side_areas(body)[str(s)] > LEAST_AREA for s in self.clamp)
            )
        pads = shapely.union_all([shapely.box(*r) for r in self.clamp if not isinstance(r, str)])
        return frozenset(
            i for i, b in enumerate(bodies) if shapely.area(self._under(b, pads)) > LEAST_AREA
        )

    def side_areas(self, body: Solid) -> dict[str, float]:
        """Area in mm² that a body has on the left, right, bottom and top side as the block lies."""
        areas = dict.fromkeys(("left", "right", "bottom", "top"), 0.0)
        normals, _ = self._sides
        u, v, w = self.view.axes @ normals.T
        on_side = self._area_on_each(body)
        for i in np.nonzero(np.hypot(u, v) >= np.abs(w) - 1e-9)[0]:
            across = abs(u[i]) >= abs(v[i])
            low, high = ("left", "right") if across else ("bottom", "top")
            name = high if (u[i] if across else v[i]) > 0 else low
            areas[name] += float(on_side[i])
        return areas

    def _on_each(self, body: Solid) -> Array:
        """(triangles, sides) whether a triangle of the body lies on a side of the stock."""
        normals, offsets = self._sides
        near = np.abs(body.mesh.vertices @ normals.T - offsets) <= ON_SURFACE
        return np.asarray(near[body.mesh.triangles].all(axis=1))

    def _area_on_each(self, body: Solid) -> Array:
        size = np.linalg.norm(body.mesh.area_vectors, axis=1)
        return np.asarray(size @ self._on_each(body))

    def _under(self, body: Solid, pads: shapely.Geometry) -> shapely.Geometry:
        """The area under the pads, in face coordinates, where a body shows the stock's own face."""
        normals, _ = self._sides
        towards_eye = normals @ self.view.axes[2] > 0.5
        shown = self._on_each(body)[:, towards_eye].any(axis=1)
        flat = self.view.to_view(body.mesh.corners[shown].reshape(-1, 3))[:, :2]
        triangles = shapely.polygons((flat - self.stock.face(self.view).corner).reshape(-1, 3, 2))
        return shapely.intersection(shapely.union_all(triangles, grid_size=ON_SURFACE), pads)


def refuse_stray_clamps(clamp: Clamp | None, face: Face, name: str, unit: Unit, where: str) -> None:
    """Raise if a clamp's rectangle lies off the face of the stock.

    Raises
    ------
    CuttingError
        Names the rectangle and the face.
    """
    width, height = face.size
    for number, pad in enumerate(clamp or (), start=1):
        if isinstance(pad, str):
            continue
        u0, v0, u1, v1 = np.asarray(pad, float).tolist()
        if min(u1, width) <= max(u0, 0.0) or min(v1, height) <= max(v0, 0.0):
            told = ", ".join(length_text(x, unit).split()[0] for x in (u0, v0, u1, v1))
            raise CuttingError(
                f"clamp {number}, [{told}] {unit}, presses on nothing of the face of "
                f"{length_text(width, unit)} × {length_text(height, unit)}",
                where=f"{where}, profile {name!r}",
                todo="give u0, v0, u1, v1 from the face's lower left corner, smaller ones first",
            )
