"""Taking waste away from the stock, and proving that the result is right.

Outlines share the stock's faces and each other's heights, so coincident faces
are the normal case, and no floating-point way gets all of them right. The idea,
in five lines: make a twin in general position, every wall moved into the
material by its own small step, so that no two coincide and there is nothing
to guess. Then make the part with every wall exactly where it was drawn. Volume,
area and bodies of both must agree but for those steps. Where they do not,
make it in another way; where none passes, the twin itself is the result.

Where every waste runs along an axis of the block, the twin is built wall by wall
(`crossing`), and the part is the twin with its walls put back (`drawn`) and with
those points made one that fall together then (`weld`); where nothing coincides,
the part is built at once and needs no twin. Otherwise the engine
subtracts the waste prisms one after another, in one order after another.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

import numpy as np
import shapely

from silhouette3d.solid.crossing import Crossing, crossing
from silhouette3d.solid.mesh import Mesh
from silhouette3d.solid.solid import Solid
from silhouette3d.solid.waste import Waste, areas_left, stock_solid
from silhouette3d.solid.weld import welded
from silhouette3d.stock import Stock

STEP: Final = 1e-9
"""Share of the stock's diagonal by which twins are moved: 1e-7 mm on a 100 mm block.
A thousand times the engine's own resolution (1e-12 of the size), a thousand times finer
than anything that can be cut."""

NEAR: Final = 1e-8
"""mm. Walls that pass one another this near may be meant to coincide: coordinates are rounded
to 1e-9 mm. Then the result is proven against a twin."""

_ROOM: Final = 1e-14
"""Share of the stock's diagonal: nearer than this, rounding decides."""

_RATIO: Final = 0.618_033_988_749_895
_MOST_ORDERS: Final = 24
_SHARPEST: Final = 3.0
"""Radians. A sharper turn than this (an edge below 8 degrees) counts as this."""


def carve(stock: Stock, wastes: Sequence[Waste]) -> Solid:
    """The stock less all wastes, exact on coincident faces.

    Parameters
    ----------
    stock : Stock
        The piece before cutting.
    wastes : sequence of Waste
        What is taken away; their order does not matter.

    Returns
    -------
    Solid
        Of bodies that have a volume; empty if nothing is left.
    """
    return Carving(stock, wastes).less(range(len(wastes)))


class Carving:
    """A stock and its wastes, and what is left after any of them are taken away.

    What is left depends on which wastes were taken, not on their order. So each
    of the 2ⁿ results is computed once, from one with a waste less.

    Parameters
    ----------
    stock : Stock
        The piece before cutting.
    wastes : sequence of Waste
        Named by their index.
    """

    def __init__(self, stock: Stock, wastes: Sequence[Waste]) -> None:
        self.stock = stock
        self.wastes = tuple(wastes)
        step = stock.diagonal * STEP
        self._shrink = step * _RATIO / 2.0  # of the stock's own faces in twins
        self._near = 10.0 * step
        self._room = stock.diagonal * _ROOM
        self._drawn: dict[frozenset[int], list[shapely.Geometry] | None] = {}
        self._moved: dict[frozenset[int], Crossing | None] = {}
        self._moves = [step * (1.0 + i * _RATIO) for i in range(len(wastes))]
        self._left: dict[frozenset[int], Solid] = {}
        self._twins: dict[frozenset[int], Solid] = {}
        self._prisms: dict[tuple[int, bool], Solid] = {}

    def less(self, taken: Iterable[int]) -> Solid:
        """The stock less some of the wastes.

        Parameters
        ----------
        taken : iterable of int
            Their indices.
        """
        chosen = frozenset(i for i in taken if not self.wastes[i].area.is_empty)
        if chosen not in self._left:
            self._left[chosen] = self._proven(chosen) if chosen else stock_solid(self.stock)
        return self._left[chosen]

    def again(self, wastes: Sequence[Waste]) -> Carving:
        """The same stock with other wastes.

        What is known of wastes that are the same objects in the same places is shared.
        """
        other = Carving(self.stock, wastes)
        pairs = zip(self.wastes, other.wastes, strict=False)
        same = frozenset(i for i, (one, two) in enumerate(pairs) if one is two)
        other._left.update((k, v) for k, v in self._left.items() if k <= same)
        other._twins.update((k, v) for k, v in self._twins.items() if k <= same)
        other._prisms.update((k, v) for k, v in self._prisms.items() if k[0] in same)
        return other

    def _proven(self, chosen: frozenset[int]) -> Solid:
        """What agrees with the twin: built at once, or in the first such order; or the twin.

        No twin is needed where nothing is near: a wall and one across it may both be off.
        """
        moved = self._move(chosen)
        built = self._built(chosen)
        if built is not None and built.least > 2.0 * NEAR and built.neck > 2.0 * moved:
            return Solid.from_mesh(built.mesh).without_flaps
        twin = self._twin(chosen)
        for solid in self._at_once(chosen, built):
            if _agree(solid, twin, moved):
                return solid
        for last in sorted(chosen, reverse=True):
            before = self.less(chosen - {last})
            if before is self._twins.get(chosen - {last}):
                continue  # its walls are not where they were drawn
            solid = before.minus_along(self.wastes[last].view, self._prism(last)).without_flaps
            if _agree(solid, twin, moved):
                return solid
        for order in itertools.islice(itertools.permutations(sorted(chosen)), _MOST_ORDERS):
            solid = self.less(())
            for i in order:
                solid = solid.minus_along(self.wastes[i].view, self._prism(i))
            solid = solid.without_flaps
            if _agree(solid, twin, moved):
                return solid
        return twin

    def _move(self, chosen: frozenset[int]) -> float:
        """How far walls of the twin are moved at most, in mm."""
        return max(self._moves[i] for i in chosen)

    def _twin(self, chosen: frozenset[int]) -> Solid:
        """The same in general position: every wall moved into the material by its own amount."""
        if chosen not in self._twins:
            self._twins[chosen] = self._made_twin(chosen)
        return self._twins[chosen]

    def _made_twin(self, chosen: frozenset[int]) -> Solid:
        if not chosen:
            return stock_solid(self.stock, self._shrink)
        built = self._built_moved(chosen)
        if built is not None:
            return Solid.from_mesh(built.mesh).without_flaps
        last = max(chosen)
        prism = self._prism(last, grown=True)
        before = self._twin(chosen - {last})
        return before.minus_along(self.wastes[last].view, prism).without_flaps

    def _at_once(self, chosen: frozenset[int], built: Crossing | None) -> Iterator[Solid]:
        """Built wall by wall: as drawn, or as the twin with its walls put back."""
        if built is not None and built.neck > 2.0 * self._move(chosen):
            yield Solid.from_mesh(built.mesh).without_flaps  # else its outlines touch themselves
        moved = self._built_moved(chosen)
        if moved is not None:
            back = welded(Mesh(moved.drawn, moved.mesh.triangles), NEAR, self._room)
            if back is not None:
                yield Solid.from_mesh(back).without_flaps

    def _built(self, chosen: frozenset[int]) -> Crossing | None:
        """Wall by wall, where all look along the block's axes and no walls coincide."""
        areas = self._areas_drawn(chosen)
        return None if areas is None else crossing(areas, self._room)

    def _built_moved(self, chosen: frozenset[int]) -> Crossing | None:
        """The same with every wall moved into the material by its own amount."""
        if chosen not in self._moved:
            drawn, found = self._areas_drawn(chosen), None
            if drawn is not None:
                grown = [self._waste(i, grown=True) for i in sorted(chosen)]
                areas = areas_left(self.stock, grown, self._shrink)
                assert areas is not None  # moved walls look the same way
                found = crossing(areas, self._room, drawn, self._near)
            self._moved[chosen] = found
        return self._moved[chosen]

    def _areas_drawn(self, chosen: frozenset[int]) -> list[shapely.Geometry] | None:
        if chosen not in self._drawn:
            wastes = [self.wastes[i] for i in sorted(chosen)]
            self._drawn[chosen] = areas_left(self.stock, wastes)
        return self._drawn[chosen]

    def _prism(self, i: int, *, grown: bool = False) -> Solid:
        if (i, grown) not in self._prisms:
            self._prisms[i, grown] = self._waste(i, grown=grown).prism(self.stock)
        return self._prisms[i, grown]

    def _waste(self, i: int, *, grown: bool) -> Waste:
        return self.wastes[i].grown(self._moves[i]) if grown else self.wastes[i]


def _agree(solid: Solid, twin: Solid, moved: float) -> bool:
    """Whether two solids differ by no more than walls moved by `moved` mm.

    To first order the volume changes by area times the move, and the area by
    edge length times 2 tan(turning angle / 2) times the move; four times that is
    allowed, because the moves differ from wall to wall.
    """
    if len(solid.bodies) != len(twin.bodies):
        return False
    room = 4.0 * moved
    return abs(solid.volume - twin.volume) <= room * solid.surface_area and abs(
        solid.surface_area - twin.surface_area
    ) <= room * _edge_reach(solid.mesh)


def _edge_reach(mesh: Mesh) -> float:
    """Sum over all edges of length times 2 tan(half the turning angle), in mm."""
    if not mesh.triangles.size:
        return 0.0
    ends, sides = mesh.edges
    along = mesh.vertices[ends[:, 1]] - mesh.vertices[ends[:, 0]]
    areas = mesh.area_vectors
    size = np.sqrt(np.einsum("ij,ij->i", areas, areas))
    normals = areas / np.where(size == 0.0, 1.0, size)[:, None]
    cosine = np.einsum("ij,ij->i", normals[sides[:, 0]], normals[sides[:, 1]])
    cosine = np.clip(cosine, np.cos(_SHARPEST), 1.0)
    length = np.sqrt(np.einsum("ij,ij->i", along, along))
    return float(length @ (2.0 * np.sqrt((1.0 - cosine) / (1.0 + cosine))))
