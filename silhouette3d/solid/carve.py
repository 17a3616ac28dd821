"""Taking waste away from the stock, and proving that the result is right.

Outlines share the stock's faces and each other's heights, so coincident faces
are the normal case, and no floating-point engine gets all of them right. The
idea, in five lines: subtract the waste prisms one after another, which keeps
every wall exactly where it was drawn. Then make a twin in general position:
grow every waste by its own few millionths, so that no two walls coincide, and
the engine has nothing to guess. Volume, area and bodies of both must agree but
for those millionths. Where they do not, subtract in another order; where no
order passes, the twin itself is the result.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from silhouette3d.solid.mesh import Mesh
from silhouette3d.solid.solid import Solid
from silhouette3d.stock import Stock
from silhouette3d.view import View

STEP: Final = 1e-8
"""Share of the stock's diagonal by which twins are moved: 1e-6 mm on a 100 mm block.
Ten thousand times the engine's own resolution (1e-12 of the size), a hundred times
finer than anything that can be cut."""

_RATIO: Final = 0.618_033_988_749_895
_MOST_ORDERS: Final = 24
_SHARPEST: Final = 3.0
"""Radians. A sharper turn than this (an edge below 8 degrees) counts as this."""


@dataclass(frozen=True)
class Waste:
    """What one cut takes away, through and past the stock.

    Parameters
    ----------
    area : shapely.MultiPolygon
        In view coordinates (u, v) of the block frame, in mm.
    view : View
        The direction of the cut.
    """

    area: MultiPolygon
    view: View

    def grown(self, distance: float) -> Waste:
        """With every wall moved out by `distance` mm, corners kept sharp."""
        area = shapely.buffer(self.area, distance, join_style="mitre", mitre_limit=10.0)
        parts = [p for p in shapely.get_parts(area) if isinstance(p, Polygon)]
        return Waste(MultiPolygon(parts), self.view)

    def prism(self, stock: Stock) -> Solid:
        """As a solid that reaches past the stock at both ends."""
        past = 0.1 * stock.diagonal
        low, high = stock.face(self.view).depth
        return Solid.prism(self.area, self.view, (low - past, high + past))


def stock_solid(stock: Stock, shrink: float = 0.0) -> Solid:
    """The stock itself; `shrink` moves every side in by that many mm."""
    section = stock.section
    low, high = 0.0, stock.length
    if shrink:
        middle = (section.min(axis=0) + section.max(axis=0)) / 2.0
        half = (section.max(axis=0) - section.min(axis=0)) / 2.0
        section = middle + (section - middle) * (1.0 - shrink / half)
        low, high = shrink, stock.length - shrink
    return Solid.prism(Polygon(section), stock.axis_view, (low, high))


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
        self._moves = [step * (1.0 + i * _RATIO) for i in range(len(wastes))]
        self._left: dict[frozenset[int], Solid] = {frozenset(): stock_solid(stock)}
        self._twins = {frozenset[int](): stock_solid(stock, step * _RATIO / 2.0)}
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
            self._left[chosen] = self._proven(chosen)
        return self._left[chosen]

    def _proven(self, chosen: frozenset[int]) -> Solid:
        """The first order of subtraction that agrees with the twin, or else the twin."""
        twin = self._twin(chosen)
        moved = max(self._moves[i] for i in chosen)
        for last in sorted(chosen, reverse=True):
            before = self.less(chosen - {last})
            if before is self._twins.get(chosen - {last}):
                continue  # its walls are not where they were drawn
            solid = before.minus(self._prism(last)).without_flaps
            if _agree(solid, twin, moved):
                return solid
        for order in itertools.islice(itertools.permutations(sorted(chosen)), _MOST_ORDERS):
            solid = self._left[frozenset()]
            for i in order:
                solid = solid.minus(self._prism(i))
            solid = solid.without_flaps
            if _agree(solid, twin, moved):
                return solid
        return twin

    def _twin(self, chosen: frozenset[int]) -> Solid:
        """The same in general position: every wall moved into the material by its own amount."""
        if chosen not in self._twins:
            last = max(chosen)
            before = self._twin(chosen - {last})
            self._twins[chosen] = before.minus(self._prism(last, grown=True)).without_flaps
        return self._twins[chosen]

    def _prism(self, i: int, *, grown: bool = False) -> Solid:
        if (i, grown) not in self._prisms:
            waste = self.wastes[i].grown(self._moves[i]) if grown else self.wastes[i]
            self._prisms[i, grown] = waste.prism(self.stock)
        return self._prisms[i, grown]


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
    first, second = sides.T
    length = np.linalg.norm(mesh.vertices[ends[:, 0]] - mesh.vertices[ends[:, 1]], axis=1)
    normals = mesh.area_vectors
    cross = np.linalg.norm(np.cross(normals[first], normals[second]), axis=1)
    dot = np.einsum("ij,ij->i", normals[first], normals[second])
    turning = np.minimum(np.arctan2(cross, dot), _SHARPEST)
    return float(length @ (2.0 * np.tan(turning / 2.0)))
