"""Taking waste away from the stock, exactly.

Problem: outlines share the stock's faces and each other's heights, so coincident faces are the
normal case, and no floating-point way gets all of them right.

Method: make a perturbed copy in general position, every wall moved into the material by its own
small step, so that no two coincide and there is nothing to guess. Then put every point back to
where the walls it lies on were drawn (`snap`); what falls together becomes one, what becomes flat
goes (`half_edges`). Where every removal runs along an axis of the block, the copy is built wall by
wall (`intersect_extrusions`); where nothing comes near to coinciding, so is the part, and needs
no copy. Otherwise the boolean engine subtracts the moved removals one after another.

Invariant: what is moved shrinks the part, so bodies that touch lie apart in the copy, and nothing
is there that has no thickness. While the walls move on to nothing the structure stays, and all
that happens is that edges and triangles shrink to nothing. That nothing else happened on the way
is certified: each triangle lies on a drawn wall, none that is left is turned over, as many bodies
are left, and no point went far. What is not certified is returned as the copy and says by how much
it is perturbed.

Complexity: one subtraction for each waste, and O(n log n) for n points of the copy.

Reference: H. Edelsbrunner and E. P. Mücke, Simulation of simplicity, ACM Transactions on Graphics
9(1) (1990) 66-104, for perturbation as such; here it is carried out, and undone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np
import shapely

from silhouette3d.geometry.half_edges import without_degeneracies
from silhouette3d.geometry.intersect_extrusions import Intersection, intersect_extrusions
from silhouette3d.geometry.mesh import Mesh
from silhouette3d.geometry.removal import (
    Removal,
    areas_left,
    stock_levels,
    stock_solid,
    stock_walls,
)
from silhouette3d.geometry.snap import SHALLOW, Snapped, Walls, snapped
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.tolerances import NEAR

_RATIO: Final = 0.618_033_988_749_895
"""Walls move by the step times 1, 1 + this, 1 + twice this and so on: no two moves are equal."""


def carve(stock: Stock, removals: Sequence[Removal]) -> Solid:
    """Subtract all removals from the stock, exact on coincident faces.

    Parameters
    ----------
    stock : Stock
        The piece before cutting.
    removals : sequence of Removal
        What is taken away; their order does not matter.

    Returns
    -------
    Solid
        Of bodies that have a volume; empty if nothing is left.
    """
    return Carving(stock, removals).less(range(len(removals)))


class Carving:
    """A stock and its removals, and what is left after any of them are taken away.

    What is left depends on which removals were taken, not on their order. So each
    of the 2ⁿ results is computed once, from one with a waste less.

    Parameters
    ----------
    stock : Stock
        The piece before cutting.
    removals : sequence of Removal
        Named by their index.
    """

    def __init__(self, stock: Stock, removals: Sequence[Removal]) -> None:
        self.stock = stock
        self.removals = tuple(removals)
        self._tolerances = stock.tolerances
        step = self._tolerances.step
        self._shrink = step * _RATIO / 2.0  # of the stock's own faces in copies
        self._near = 10.0 * step
        self._drawn: dict[frozenset[int], list[shapely.Geometry] | None] = {}
        self._moves = [step * (1.0 + i * _RATIO) for i in range(len(removals))]
        self._left: dict[frozenset[int], Solid] = {}
        self._copies: dict[frozenset[int], Solid] = {}
        self._prisms: dict[int, Solid] = {}

    def less(self, taken: Iterable[int]) -> Solid:
        """Subtract some of the removals from the stock.

        Parameters
        ----------
        taken : iterable of int
            Their indices.
        """
        chosen = frozenset(i for i in taken if not self.removals[i].area.is_empty)
        if chosen not in self._left:
            self._left[chosen] = self._made(chosen) if chosen else stock_solid(self.stock)
        return self._left[chosen]

    def again(self, removals: Sequence[Removal]) -> Carving:
        """Carve other removals from the same stock.

        What is known of removals that are the same objects in the same places is shared.
        """
        other = Carving(self.stock, removals)
        pairs = zip(self.removals, other.removals, strict=False)
        same = frozenset(i for i, (one, two) in enumerate(pairs) if one is two)
        other._left.update((k, v) for k, v in self._left.items() if k <= same)
        other._copies.update((k, v) for k, v in self._copies.items() if k <= same)
        other._prisms.update((k, v) for k, v in self._prisms.items() if k in same)
        return other

    def _made(self, chosen: frozenset[int]) -> Solid:
        """Return the exact solid, or the perturbed copy where it cannot be certified.

        Candidates, cheapest first: built wall by wall, taken as it is if nothing comes near to
        coinciding (a wall and one across it may both be off); the perturbed copy with its points
        put back, by how it was built and then by the walls they lie on.
        """
        move = self._move(chosen)
        built = self._built(chosen)
        if built is not None and built.separation > 2.0 * NEAR and built.clearance > 2.0 * move:
            return Solid.from_mesh(built.mesh).without_flaps
        moved = self._built_moved(chosen)
        if moved is not None:
            on = np.ones(len(moved.mesh.triangles), bool)  # it was built wall by wall
            solid = self._certified(moved.mesh, Snapped(moved.drawn, 0.0, on), move)
            if solid is not None:
                return solid
            self._copies[chosen] = Solid.from_mesh(moved.mesh).without_flaps
        copy = self._copy(chosen)
        levels = stock_levels(self.stock, self._shrink)
        back = snapped(copy.mesh, self._walls(chosen), levels, self._tolerances.on_copy, NEAR)
        return self._certified(copy.mesh, back, move) or copy.perturbed(move)

    def _certified(self, copy: Mesh, back: Snapped, move: float) -> Solid | None:
        """Return the copy with its points put back, if that is sure to be right.

        Each triangle that does not vanish must lie on a drawn wall and not be turned over, no
        point may go further than walls that cross as flatly as `SHALLOW` allow, the surface
        must stay closed round each point, and as many bodies be left.
        """
        mesh = Mesh(back.places, copy.triangles)
        gone = np.linalg.norm(mesh.vertices - copy.vertices, axis=1).max(initial=0.0)
        facing = np.einsum("ij,ij->i", mesh.area_vectors, copy.area_vectors)
        is_wrong = (facing < 0.0) | ~back.is_on_wall
        if gone > 2.0 * move / SHALLOW or (is_wrong & (mesh.heights >= NEAR)).any():
            return None
        whole = without_degeneracies(mesh, NEAR, self._tolerances.rounding)
        if whole is None:
            return None
        solid = Solid.from_mesh(whole).without_flaps
        if len(solid.bodies) != len(Solid.from_mesh(copy).bodies):
            return None
        return solid if back.off <= NEAR else solid.perturbed(back.off)

    def _move(self, chosen: frozenset[int]) -> float:
        """Bound how far walls of the copy are moved, in mm."""
        return max(self._moves[i] for i in chosen)

    def _copy(self, chosen: frozenset[int]) -> Solid:
        """Make the part in general position: each wall moved into the material by its own step."""
        if chosen not in self._copies:
            self._copies[chosen] = self._made_copy(chosen)
        return self._copies[chosen]

    def _made_copy(self, chosen: frozenset[int]) -> Solid:
        if not chosen:
            return stock_solid(self.stock, self._shrink)
        built = self._built_moved(chosen)
        if built is not None:
            return Solid.from_mesh(built.mesh).without_flaps
        last = max(chosen)
        before = self._copy(chosen - {last})
        return before.minus_along(self.removals[last].view, self._prism(last)).without_flaps

    def _walls(self, chosen: frozenset[int]) -> list[Walls]:
        """List walls of the removals and of the stock, moved and drawn."""
        removals = [(self.removals[i], self._grown(i)) for i in sorted(chosen)]
        return [
            *(Walls.of(drawn.view.axes, moved.area, drawn.area) for drawn, moved in removals),
            stock_walls(self.stock, self._shrink),
        ]

    def _built(self, chosen: frozenset[int]) -> Intersection | None:
        """Build the part wall by wall, where all look along the axes and no walls coincide."""
        areas = self._areas_drawn(chosen)
        return None if areas is None else intersect_extrusions(areas, self._tolerances.rounding)

    def _built_moved(self, chosen: frozenset[int]) -> Intersection | None:
        """Build the copy wall by wall, each moved into the material by its own amount."""
        drawn = self._areas_drawn(chosen)
        if drawn is None:
            return None
        areas = areas_left(self.stock, [self._grown(i) for i in sorted(chosen)], self._shrink)
        assert areas is not None  # moved walls look the same way
        return intersect_extrusions(areas, self._tolerances.rounding, drawn, self._near)

    def _areas_drawn(self, chosen: frozenset[int]) -> list[shapely.Geometry] | None:
        if chosen not in self._drawn:
            removals = [self.removals[i] for i in sorted(chosen)]
            self._drawn[chosen] = areas_left(self.stock, removals)
        return self._drawn[chosen]

    def _prism(self, i: int) -> Solid:
        if i not in self._prisms:
            self._prisms[i] = self._grown(i).prism(self.stock)
        return self._prisms[i]

    def _grown(self, i: int) -> Removal:
        return self.removals[i].grown(self._moves[i])
