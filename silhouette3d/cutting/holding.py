"""Which bodies the clamps hold, from the stock's own surface that is left on each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from silhouette3d.cutting.cells import cells_of
from silhouette3d.cutting.pieces import Pieces, split
from silhouette3d.errors import CuttingError
from silhouette3d.solid import Mesh, Solid, together
from silhouette3d.solid.mesh import Indices
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

    def held(self, bodies: Sequence[Solid], on_sides: Array | None = None) -> frozenset[int]:
        """Indices of the bodies that the clamps hold.

        Without clamps the one body with the largest area on the stock's side
        faces in this setup; of equal ones the first. A body with no area there
        cannot be held.

        Parameters
        ----------
        bodies : sequence of Solid
            What is there.
        on_sides : (bodies, sides) array, optional
            Their `areas_on_sides`, where they are known: they are the same in every setup.
        """
        if on_sides is None:
            on_sides = areas_on_sides(self.stock, bodies)
        if self.clamp is None:
            areas = np.round(on_sides[:, np.any(list(self._lie.values()), axis=0)].sum(axis=1), 6)
            if not areas.size or areas.max() <= LEAST_AREA:
                return frozenset()
            return frozenset([int(np.argmax(areas))])
        if all(isinstance(side, str) for side in self.clamp):
            pressed = [on_sides[:, self._lie[str(s)]].sum(axis=1) for s in self.clamp]
            return frozenset(i for on in pressed for i in np.nonzero(on > LEAST_AREA)[0].tolist())
        pads = shapely.union_all([shapely.box(*r) for r in self.clamp if not isinstance(r, str)])
        shown = on_sides[:, self._towards_eye].sum(axis=1)
        return frozenset(
            i
            for i, body in enumerate(bodies)
            if shown[i] > 0.0 and shapely.area(self._under(body, pads)) > LEAST_AREA
        )

    def pressed(self, depth: float) -> Pieces:
        """The stock's own surface that clamps press on, as it was before any cut.

        Without clamps every side in this setup, as no one knows where they will be.

        Parameters
        ----------
        depth : float
            In mm. How deep under the surface the pieces lie.
        """
        sides = faces_of(self.stock, depth)
        if self.clamp is None:
            return _those(sides, np.any(list(self._lie.values()), axis=0))
        if all(isinstance(side, str) for side in self.clamp):
            return _those(sides, np.any([self._lie[str(s)] for s in self.clamp], axis=0))
        pads = shapely.union_all([shapely.box(*r) for r in self.clamp if not isinstance(r, str)])
        corner = np.asarray(self.stock.face(self.view).corner)
        cells = cells_of(pads, shapely.MultiPolygon()).moved(corner)
        found = split(_those(sides, self._towards_eye), cells, self.view)
        return replace(found, labels=found.labels[:, :0])

    @cached_property
    def _lie(self) -> dict[str, NDArray[np.bool_]]:
        """Which of the stock's sides are left, right, bottom and top as the block lies."""
        u, v, w = self.view.axes @ sides_of(self.stock)[0].T
        upright = np.hypot(u, v) >= np.abs(w) - 1e-9
        across, along = upright & (np.abs(u) >= np.abs(v)), upright & (np.abs(u) < np.abs(v))
        return {
            "left": across & (u <= 0.0),
            "right": across & (u > 0.0),
            "bottom": along & (v <= 0.0),
            "top": along & (v > 0.0),
        }

    @property
    def _towards_eye(self) -> NDArray[np.bool_]:
        """Which of the stock's sides face the cutter."""
        return np.asarray(sides_of(self.stock)[0] @ self.view.axes[2] > 0.5)

    def _under(self, body: Solid, pads: shapely.Geometry) -> shapely.Geometry:
        """The area under the pads, in face coordinates, where a body shows the stock's own face."""
        triangle, side = _on_sides(self.stock, body.mesh)
        shown = np.unique(triangle[self._towards_eye[side]])
        flat = self.view.to_view(body.mesh.corners[shown].reshape(-1, 3))[:, :2]
        triangles = shapely.polygons((flat - self.stock.face(self.view).corner).reshape(-1, 3, 2))
        return shapely.intersection(shapely.union_all(triangles, grid_size=ON_SURFACE), pads)


def areas_on_sides(stock: Stock, bodies: Sequence[Solid]) -> Array:
    """(bodies, sides) area in mm² that each of some bodies has on each flat side of the stock."""
    mesh, count = together(bodies).mesh, len(sides_of(stock)[1])
    triangle, side = _on_sides(stock, mesh)
    body = np.repeat(np.arange(len(bodies)), [len(b.mesh.triangles) for b in bodies])
    a, b, c = np.moveaxis(mesh.vertices[mesh.triangles[triangle]], 1, 0)
    size = np.linalg.norm(np.cross(b - a, c - a) / 2.0, axis=1)
    areas = np.bincount(body[triangle] * count + side, size, len(bodies) * count)
    return np.asarray(areas.reshape(-1, count))


def _on_sides(stock: Stock, mesh: Mesh) -> tuple[Indices, Indices]:
    """Triangles that lie on a side of the stock, and which side that is."""
    normals, offsets = sides_of(stock)
    off = mesh.vertices @ normals.T
    off -= offsets
    near = np.abs(off, out=off) <= ON_SURFACE
    touches = np.asarray(near.any(axis=1))
    some = np.nonzero(touches[mesh.triangles].all(axis=1))[0]
    found, side = np.nonzero(near[mesh.triangles[some]].all(axis=1))
    return some[found], side


def faces_of(stock: Stock, depth: float) -> Pieces:
    """The flat sides of a stock moved inward by a depth, labelled as `sides_of` lists them."""
    section, axes = stock.section, stock.axis_view.axes
    following = np.roll(section, -1, axis=0)
    length = np.linalg.norm(following - section, axis=1)
    count = len(section)
    walls = np.zeros((count, 4, 2))
    walls[:, 1:3, 0] = length[:, None]
    walls[:, 2:, 1] = stock.length
    along = ((following - section) / length[:, None]) @ axes[:2]
    upright = np.stack([along, np.broadcast_to(axes[2], (count, 3))], axis=1)
    fan = np.stack([np.broadcast_to(section[0], (count - 2, 2)), section[1:-1], section[2:]], 1)
    fan = np.concatenate([fan, fan[:, 2:]], axis=1)
    ends = np.zeros((2 * len(fan), 3))
    ends[: len(fan)] = axes[2] * stock.length
    number = np.concatenate([np.arange(count), np.repeat([count, count + 1], len(fan))])
    return Pieces(
        np.concatenate([section @ axes[:2], ends]) - depth * sides_of(stock)[0][number],
        np.concatenate([upright, np.broadcast_to(axes[:2], (2 * len(fan), 2, 3))]),
        np.concatenate([walls, fan, fan]),
        number[:, None],
    )


def _those(sides: Pieces, chosen: NDArray[np.bool_]) -> Pieces:
    """The chosen ones of all sides, without labels."""
    found = sides.of(np.nonzero(chosen[sides.labels[:, 0]])[0])
    return replace(found, labels=found.labels[:, :0])


def sides_of(stock: Stock) -> tuple[Array, Array]:
    """Outward normals (n, 3) and offsets (n,) of the stock's flat sides."""
    section = stock.section
    along = np.roll(section, -1, axis=0) - section
    outward = np.column_stack([along[:, 1], -along[:, 0]])
    outward /= np.linalg.norm(outward, axis=1, keepdims=True)
    axes = stock.axis_view.axes
    normals = np.concatenate([outward @ axes[:2], [axes[2], -axes[2]]])
    offsets = np.concatenate([np.einsum("ij,ij->i", outward, section), [stock.length, 0.0]])
    return normals, offsets


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
