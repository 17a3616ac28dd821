"""A closed, oriented, manifold volume, what can be asked of it, and which volumes lie in which."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import manifold3d
import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from silhouette3d.geometry.backend_errors import calling_engine
from silhouette3d.geometry.frames import Array, View
from silhouette3d.geometry.mesh import Indices, Mesh, connected, distances_along, measured
from silhouette3d.geometry.polygons import parts_of, polygons_of, snapped
from silhouette3d.geometry.tolerances import MERGE, Tolerances

# --- Which bodies are pieces of which others


def homes(pieces: Sequence[Solid], bodies: Sequence[Solid], room: float) -> Indices:
    """Find for each of some pieces the first body that it lies in, -1 where there is none.

    Each body holds all of a piece or nothing.

    Parameters
    ----------
    pieces, bodies : sequence of Solid
        What is sought, and where.
    room : float
        In mm. A piece reaches no further than this beyond the body that it is of.

    Returns
    -------
    (n,) array of int
        Indices of bodies.
    """
    found = np.full(len(pieces), -1)
    if not pieces or not bodies:
        return found
    inner, outer = (np.array([solid.bounds for solid in some]) for some in (pieces, bodies))
    fits = (inner[:, None, 0] >= outer[:, 0] - room) & (inner[:, None, 1] <= outer[:, 1] + room)
    for i, k in np.argwhere(fits.all(axis=2)).tolist():
        if found[i] < 0 and bodies[k].contains(pieces[i].inner_point):
            found[i] = k
    return found


# --- A closed, oriented, manifold volume and what can be asked of it


NOTHING: Final = 1e-12
"""A body smaller than this share of its bounding cube is a flap of no thickness."""


@dataclass(frozen=True, eq=False)
class Solid:
    """One or more bodies, in the block frame, in mm.

    Solids are made by `carve`, `Solid.prism` or another solid's methods. Each is
    held as it came, from the engine or as a mesh, and turned into the other
    when first needed.

    Parameters
    ----------
    _given : Manifold or Mesh
        The surface.
    perturbed_by : float
        How far its walls may lie from where they were drawn, in mm; 0 if it was made exactly,
        to rounding.
    """

    _given: manifold3d.Manifold | Mesh
    perturbed_by: float = 0.0

    def __repr__(self) -> str:
        off = f", perturbed by {self.perturbed_by:.3g} mm" if self.perturbed_by else ""
        return f"Solid({self.mesh.summary}{off})"

    @classmethod
    @calling_engine()
    def prism(cls, area: MultiPolygon | Polygon, view: View, depth: tuple[float, float]) -> Solid:
        """Extrude an area along a view.

        Parameters
        ----------
        area : shapely polygon or polygons
            In view coordinates (u, v) of the block frame, in mm.
        view : View
            The direction.
        depth : tuple of float
            From and to, as w towards the eye, in mm.
        """
        walls = [_prism(part, view, depth) for part in parts_of(area)]
        return cls(manifold3d.Manifold.compose(walls) if walls else manifold3d.Manifold())

    @classmethod
    def from_mesh(cls, mesh: Mesh) -> Solid:
        """Make a solid of triangles that are closed and share their vertices."""
        return cls(mesh)

    def perturbed(self, distance: float) -> Solid:
        """Mark a solid as off by up to `distance` mm."""
        return Solid(self._given, max(self.perturbed_by, distance))

    @cached_property
    @calling_engine()
    def _engine(self) -> manifold3d.Manifold:
        if isinstance(self._given, Mesh):
            return _manifold(self._given.vertices, self._given.triangles)
        return self._given

    @cached_property
    @calling_engine()
    def mesh(self) -> Mesh:
        """The triangles of its surface."""
        if isinstance(self._given, Mesh):
            return self._given
        mesh = self._given.to_mesh64()
        vertices = np.array(mesh.vert_properties, dtype=np.float64)[:, :3]
        return Mesh(vertices, np.array(mesh.tri_verts, dtype=np.int64).reshape(-1, 3))

    @property
    def is_empty(self) -> bool:
        """True if it holds nothing at all."""
        return self.mesh.triangles.size == 0

    @cached_property
    def bounds(self) -> Array:
        """(2, 3) least and greatest x, y, z in mm."""
        vertices = self.mesh.vertices
        if self.is_empty:
            return np.zeros((2, 3))
        return np.array([vertices.min(axis=0), vertices.max(axis=0)])

    @property
    def size(self) -> Array:
        """(3,) extent along x, y, z in mm."""
        return np.asarray(self.bounds[1] - self.bounds[0])

    @property
    def tolerances(self) -> Tolerances:
        """Lengths below which two things of this solid are the same."""
        return Tolerances.for_size(float(np.linalg.norm(self.size)))

    @cached_property
    def _measures(self) -> tuple[Array, Array, Array]:
        return measured([self.mesh])

    @cached_property
    def volume(self) -> float:
        """Volume in mm³: the sum of signed tetrahedra over all triangles."""
        return 0.0 if self.is_empty else float(self._measures[0][0])

    @cached_property
    def surface_area(self) -> float:
        """Surface in mm²."""
        return float(np.linalg.norm(self.mesh.area_vectors, axis=1).sum())

    @cached_property
    def centroid(self) -> Array:
        """(3,) centre of volume in mm."""
        return np.asarray(self.bounds.mean(axis=0) if self.is_empty else self._measures[1][0])

    @cached_property
    def bodies(self) -> tuple[Solid, ...]:
        """Connected pieces, largest first; touching at an edge or point does not connect.

        No through-cut makes a cavity, so every closed surface bounds a piece.
        """
        parts = connected(self.mesh)
        if not parts:
            return ()
        is_one = len(parts) == 1
        solids = [self] if is_one else [Solid(part, self.perturbed_by) for part in parts]
        volume, centroid, size = self._measures if is_one else measured(parts)
        # equal ones by place, so that the order is always the same
        order = np.lexsort((*np.round(centroid.T[::-1], 6), -np.round(volume, 6)))
        is_real = volume > NOTHING * size.max(axis=1) ** 3
        return tuple(solids[i] for i in order if is_real[i])

    @property
    def without_flaps(self) -> Solid:
        """A solid without the pieces that have no volume."""
        kept = self.bodies
        whole = sum(len(body.mesh.triangles) for body in kept) == len(self.mesh.triangles)
        return self if whole else together(kept)

    @cached_property
    def inner_point(self) -> Array:
        """(3,) a point well inside: half way through from the middle of the largest triangle."""
        corners, vectors = self.mesh.corners, self.mesh.area_vectors
        largest = int(np.argmax(np.linalg.norm(vectors, axis=1)))
        start = corners[largest].mean(axis=0)
        inward = -vectors[largest] / np.linalg.norm(vectors[largest])
        hits = distances_along(start, inward, corners)
        hits = hits[hits > NOTHING * float(np.max(self.size))]
        return np.asarray(start + inward * (float(hits.min()) / 2.0 if hits.size else 0.0))

    def contains(self, point: Array) -> bool:
        """Tell whether a point lies inside: the surface turns round it once."""
        if (point < self.bounds[0]).any() or (point > self.bounds[1]).any():
            return False
        from silhouette3d.geometry.triangle_search import turns

        return turns(point.reshape(1, 3), self.mesh.vertices, self.mesh.triangles) > 0.5

    def _off(self, other: Solid) -> float:
        return max(self.perturbed_by, other.perturbed_by)

    @calling_engine()
    def intersection(self, other: Solid) -> Solid:
        """Intersect with another solid."""
        return Solid(self._engine ^ other._engine, self._off(other))

    @calling_engine()
    def minus(self, other: Solid) -> Solid:
        """Subtract another solid."""
        return Solid(self._engine - other._engine, self._off(other))

    def minus_along(self, view: View, other: Solid) -> Solid:
        """Subtract another solid in a view's frame, right to rounding.

        The engine holds boxes about triangles against each other. Walls that run along
        the view are thin there, and those aslant to the block's axes would fill it.
        """
        if np.isin(view.axes, (-1.0, 0.0, 1.0)).all():
            return self.minus(other)
        turn = np.zeros((2, 3, 4))
        turn[0, :, :3], turn[1, :, :3] = view.axes, view.axes.T
        seen = self.mapped(turn[0]).minus(other.mapped(turn[0]))
        return seen.mapped(turn[1])

    def within(self, area: MultiPolygon, view: View) -> Solid:
        """Cut off what lies outside an area seen along a view.

        The waste around the area is taken away, because subtraction keeps
        coincident faces where intersection loses them.

        Parameters
        ----------
        area : shapely.MultiPolygon
            In view coordinates (u, v) of the block frame, in mm.
        view : View
            The direction.
        """
        low, high = view.to_view(self.mesh.vertices).min(0), view.to_view(self.mesh.vertices).max(0)
        past = 0.1 * float(np.linalg.norm(high - low)) + 1.0
        around = shapely.box(*(low[:2] - past), *(high[:2] + past))
        rest = polygons_of(shapely.difference(around, area))
        outside = Solid.prism(rest, view, (low[2] - past, high[2] + past))
        return self.minus_along(view, outside).without_flaps

    @calling_engine()
    def gap(self, other: Solid, reach: float) -> float:
        """Measure the least distance to another solid in mm, up to `reach`."""
        return float(self._engine.min_gap(other._engine, reach))

    @calling_engine()
    def mapped(self, matrix: Array) -> Solid:
        """Map by an affine (3, 4) matrix."""
        return Solid(self._engine.transform(np.asarray(matrix, float)), self.perturbed_by)

    @calling_engine()
    def shadow(self, view: View) -> MultiPolygon:
        """Project along a view, into view coordinates (u, v) of the block frame, in mm.

        The silhouette edges, seen along the view, wind round each point as often as
        triangles that face the eye cover it; where that is at least once lies the shadow. The
        engine sums this up on a grid of 1e-8 mm; the result lies on one of `MERGE`.
        """
        turn = np.zeros((3, 4))
        turn[:, :3] = view.axes
        pieces = self._engine.transform(turn).project().decompose()
        rings = [piece.to_polygons() for piece in pieces]  # of each the outer one first
        areas = [Polygon(some[0], some[1:]) for some in rings if some]
        return snapped(MultiPolygon(areas), MERGE)


def together(solids: Sequence[Solid]) -> Solid:
    """Put solids that do not overlap into one."""
    offsets = np.cumsum([0, *(len(s.mesh.vertices) for s in solids)])[:-1]
    vertices = [np.empty((0, 3)), *(s.mesh.vertices for s in solids)]
    triangles = [s.mesh.triangles + offset for s, offset in zip(solids, offsets, strict=True)]
    return Solid(
        Mesh(np.concatenate(vertices), np.concatenate([np.empty((0, 3), np.int64), *triangles])),
        max((solid.perturbed_by for solid in solids), default=0.0),
    )


def united(solids: Sequence[Solid]) -> Solid:
    """Unite some solids."""
    engines = [solid._engine for solid in solids]
    whole = manifold3d.Manifold.batch_boolean(engines, manifold3d.OpType.Add)
    return Solid(whole, max((solid.perturbed_by for solid in solids), default=0.0))


def _prism(polygon: Polygon, view: View, depth: tuple[float, float]) -> manifold3d.Manifold:
    """Build a prism: caps from the engine's triangulation, walls between them."""
    rings = [
        np.asarray(shapely.get_coordinates(ring)[:-1])
        for ring in (polygon.exterior, *polygon.interiors)
    ]
    rings = [ring if _turns_left(ring) == (i == 0) else ring[::-1] for i, ring in enumerate(rings)]
    caps = np.asarray(manifold3d.triangulate(rings), dtype=np.int64)
    flat = np.concatenate(rings)
    count = len(flat)
    here = np.arange(count)
    following = np.concatenate(
        [np.roll(part, -1) for part in np.split(here, np.cumsum([len(r) for r in rings])[:-1])]
    )
    walls = np.concatenate(
        [
            np.column_stack([here, following, following + count]),
            np.column_stack([here, following + count, here + count]),
        ]
    )
    levels = np.repeat(depth, count)
    vertices = view.to_block(np.column_stack([np.tile(flat, (2, 1)), levels]))
    return _manifold(vertices, np.concatenate([caps[:, ::-1], caps + count, walls]))


def _turns_left(ring: Array) -> bool:
    return bool(shapely.is_ccw(shapely.linearrings(ring)))


def _manifold(vertices: Array, triangles: Indices) -> manifold3d.Manifold:
    # copies: the engine takes writable arrays only
    mesh = manifold3d.Mesh64(
        np.array(vertices, np.float64, order="C"), np.array(triangles, np.uint64, order="C")
    )
    solid = manifold3d.Manifold(mesh)
    if solid.status() != manifold3d.Error.NoError:
        raise RuntimeError(f"a surface was refused: {solid.status().name}")
    return solid
