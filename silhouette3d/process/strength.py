"""Strength of a part's hold: the least section on the way from it to the clamps.

Problem: the part hangs in what is left of the stock by tabs, and these stand on whatever the cuts
have left. What counts is the least area of all surfaces in the material that part the finished
part from the surface that the clamps press on.

Method: that area is the greatest flow from the part to the clamps of a field that nowhere exceeds
1 (max-flow min-cut). It is sought among walls, chords of the cells of each direction swept along
it (`cells`); the cells of all directions divide the material into nodes, walls are the edges
between them, and a max-flow on that graph gives the least section and its place.

Invariant: walls that part the graph part the material, so what is told is never below the least
section, but that nodes are taken as connected, which convex cells are. How far above it may lie
stands in the second section.

Complexity: chords times the triangles that each meets in another direction, once more for every
further one; the flow has some thousand edges.

Reference: G. Strang, Maximal flow through a domain, Mathematical Programming 26 (1983) 123-143
(from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse import csgraph

from silhouette3d.geometry.backend_errors import profile_named
from silhouette3d.geometry.frames import Array, View
from silhouette3d.geometry.indices import linked
from silhouette3d.geometry.mesh import Indices
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.tolerances import LAST_DIGITS
from silhouette3d.process.cells import LEAST, Cells, Pieces, cells_of, fanned, joined, split, within
from silhouette3d.process.clamping import Clamping, sides_of
from silhouette3d.process.cut import Cut

# --- The least cut of a graph whose edges have areas


_UNITS: Final = 2**28
"""The flow is counted in whole units, so many to the most that can leave the source."""


@dataclass(frozen=True, eq=False)
class Nodes:
    """Numbers for tuples of whole numbers, those known and no others.

    Parameters
    ----------
    base : (k,) array of int
        One more than the greatest number in each place; their product fits an integer.
    known : (n,) array of int
        The tuples as numbers in these bases, in order.
    """

    base: Indices
    known: Indices

    @classmethod
    def of(cls, some: Sequence[Indices]) -> Nodes:
        """Number the tuples in several lists (n, k) of numbers from 0 on."""
        every = np.concatenate(some)
        base = every.max(axis=0, initial=0) + 1
        return cls(base, np.unique(every @ _weights(base)))

    def __len__(self) -> int:
        return len(self.known)

    def number(self, tuples: Indices) -> Indices:
        """Find the number (n,) of each of some known tuples (n, k)."""
        return np.searchsorted(self.known, tuples @ _weights(self.base))


def _weights(base: Indices) -> Indices:
    return np.concatenate([[1], np.cumprod(base[:-1], dtype=np.int64)])


def least_cut(
    count: int, ends: Indices, areas: Array, source: Indices, sink: Indices, contact: Array
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Part some nodes from others by edges of the least area in all; of equal cuts the first.

    Parameters
    ----------
    count : int
        Nodes.
    ends : (n, 2) array of int
        Of each edge.
    areas : (n,) array
        What cutting an edge takes.
    source : (k,) array of int
        Nodes to be parted from the sink.
    sink, contact : (m,) arrays
        Nodes that reach the sink, and what it takes to part each from it.

    Returns
    -------
    tuple of (n,) and (m,) arrays of bool
        Edges and contacts that are cut.
    """
    start, end = count, count + 1
    to = np.arange(count)
    to[source] = start
    a, b, c = to[ends[:, 0]], to[ends[:, 1]], to[sink]
    most = areas[(a == start) != (b == start)].sum() + contact[c == start].sum()
    # the flow is of whole numbers: areas in so many units of what parting the source takes
    unit = max(float(most), LEAST) / _UNITS
    rows, columns = np.concatenate([a, b, c]), np.concatenate([b, a, np.full(len(c), end)])
    sizes = np.concatenate([areas, areas, contact])
    shape = (count + 2, count + 2)
    keep = rows != columns
    summed = sparse.coo_array((sizes[keep], (rows[keep], columns[keep])), shape).tocsr()
    whole = np.minimum(np.ceil(summed.data / unit), 2.0 * _UNITS).astype(np.int32)
    # maximum_flow of scipy before 1.15 takes 32 bits only
    narrow = (summed.indices.astype(np.int32), summed.indptr.astype(np.int32))
    graph = sparse.csr_array((whole, *narrow), shape)
    # what is reached through edges with room to spare is on the side of the source
    left = sparse.csr_array(graph - csgraph.maximum_flow(graph, start, end).flow)
    left.data = np.maximum(left.data, 0)
    left.eliminate_zeros()
    reached = np.zeros(count + 2, bool)
    reached[csgraph.breadth_first_order(left, start, return_predecessors=False)] = True
    return reached[a] != reached[b], reached[c]


# --- Hold of a part: how far above the least section it may lie, and where clamps press
#
# Bound: walls that part the graph part the material, so what is told is never below
# the least section, but that nodes are taken as connected, which convex cells are.
# It is the least section where that lies across a tab or across material between two
# walls of one direction: bars, steps, webs, skins; a chord that is left out is at
# most `SLACK` shorter than the hull of its cell is wide there. A section that no
# such chord crosses squarely, between walls of different directions, is
# overestimated, and so is one that wraps a small part while it still lies deep in
# the block. Walls of different directions that coincide are pulled apart by up to
# `Tolerances.wall`. With more than `MOST_AT_ONCE` directions the least of all that so many of
# them tell is taken: each knows of some cuts only, so none is below the truth.
#
# Where clamps press: on the stock's own surface, as the job says; without a word of
# it, anywhere on the sides of the setup. A skin right beyond a tab is no place to
# press on: surface within a tab's width of it does not count, unless there is no other.


MOST_AT_ONCE: Final = 3
"""Directions whose cells are crossed with each other."""

ROUNDING: Final = 1e-4
"""Share of a section by which it may be off for cells that are shifted apart."""


@dataclass(frozen=True, eq=False)
class Hold:
    """The least section between a part and the clamps.

    Parameters
    ----------
    area : float
        In mm²; 0 if nothing joins them.
    where : (3,) array
        Near the middle of its largest wall, block frame, in mm.
    cut : Cut or None
        The cut beside which that wall stands; none if it is the clamped surface itself.
    in_tabs : bool
        Whether at least half of it lies across tabs.
    """

    area: float
    where: Array
    cut: Cut | None
    in_tabs: bool


@dataclass(frozen=True, eq=False)
class Direction:
    """Remains of some cuts along one direction, in cells.

    Parameters
    ----------
    cuts : tuple of Cut
        Their views look along the same line.
    view : View
        Of the first of them.
    cells : Cells
        In view coordinates of the block frame.
    """

    cuts: tuple[Cut, ...]
    view: View
    cells: Cells

    @classmethod
    def of(cls, cuts: Sequence[Cut], number: int) -> Direction:
        """Divide what some cuts leave into cells; each number has them shifted by another way."""
        view, stock = cuts[0].profile.view, cuts[0].stock
        corner = np.asarray(stock.face(view).corner)
        whole = shapely.transform(stock.shadow(view), lambda points: points + corner)
        left: shapely.Geometry = whole
        mark: shapely.Geometry = shapely.MultiPolygon()
        for cut in cuts:
            with profile_named(cut.name):
                left = shapely.difference(left, _seen_in(view, cut, cut.removed))
                around = [shapely.buffer(cut.strip(t), t.width, quad_segs=2) for t in cut.tabs]
                beyond = shapely.difference(shapely.union_all(around), cut.as_cut)
                mark = shapely.union(mark, _seen_in(view, cut, beyond))
        # fewer corners make fewer cells; circles are off by more than this anyway
        left = shapely.simplify(left, 0.25 * cuts[0].tolerance)
        angle = 1.0 + 2.4 * number  # about the golden angle: no two are shifted alike
        shift = 0.5 * stock.tolerances.wall * np.array([math.cos(angle), math.sin(angle)])
        return cls(tuple(cuts), view, cells_of(left, mark).moved(shift))

    @cached_property
    def middles(self) -> NDArray[np.object_]:
        """The middle of each chord."""
        flat = self.cells.points[self.cells.chords].mean(axis=1)
        return np.asarray(shapely.points(flat), object)

    @cached_property
    def in_tab(self) -> NDArray[np.bool_]:
        """Mask of the chords that lie across a tab."""
        found = np.zeros(len(self.middles), bool)
        near = self.cuts[0].stock.tolerances.clear  # tabs end in chords
        for cut in self.cuts:
            standing = _seen_in(self.view, cut, cut.standing)
            if not shapely.is_empty(standing):
                found |= shapely.distance(standing, self.middles) < near
        return found

    def cut_at(self, chord: int) -> Cut:
        """Find the cut whose path is nearest to a chord."""
        middle = self.middles[chord]
        return min(
            self.cuts, key=lambda cut: shapely.distance(_seen_in(self.view, cut, cut.path), middle)
        )

    @cached_property
    def is_by_tab(self) -> NDArray[np.bool_]:
        """Mask of the cells beyond a tab, no further off than that is wide."""
        found = np.zeros(int(self.cells.cell.max(initial=-1)) + 1, bool)
        found[self.cells.cell] = self.cells.marked
        return found


def _seen_in(view: View, cut: Cut, area: shapely.Geometry) -> shapely.Geometry:
    """Move an area of a cut's face to the coordinates of a view along that direction."""
    corner, axes = np.asarray(cut.profile.face.corner), cut.profile.view.axes[:2]
    turn = axes @ view.axes[:2].T
    return shapely.transform(area, lambda points: (points + corner) @ turn)


def directions(cuts: Sequence[Cut]) -> list[tuple[int, ...]]:
    """Group cuts that look along one line, by index."""
    groups: list[list[int]] = []
    for i, cut in enumerate(cuts):
        look = np.asarray(cut.profile.view.look)
        for group in groups:
            if abs(look @ np.asarray(cuts[group[0]].profile.view.look)) > 1.0 - LAST_DIGITS:
                group.append(i)
                break
        else:
            groups.append([i])
    return [tuple(group) for group in groups]


class Joints:
    """Joints between a part and the stock around it.

    Parameters
    ----------
    stock : Stock
        The piece before cutting.
    made : sequence of Direction
        What was cut.
    outlines : sequence of Cut
        Every cut of the job: the part is inside all their outlines.
    finished : Solid
        The part; what hangs on its largest body counts.
    """

    def __init__(
        self, stock: Stock, made: Sequence[Direction], outlines: Sequence[Cut], finished: Solid
    ) -> None:
        self.stock = stock
        self.made = tuple(made)
        self.outlines = tuple(outlines)
        self.finished = finished

    @cached_property
    def walls(self) -> Pieces:
        """Walls between nodes, labelled with direction, chord, and cell in each direction."""
        return joined([self._walls(k) for k in range(len(self.made))])

    def _walls(self, k: int) -> Pieces:
        """Hang the chords of one direction along it; cut them up by the other directions."""
        view, cells = self.made[k].view, self.made[k].cells
        start, end = (cells.points[cells.chords[:, i]] for i in (0, 1))
        length = np.linalg.norm(end - start, axis=1)
        count = len(length)
        low, high = self.stock.face(view).depth
        corners = np.zeros((count, 4, 2))
        corners[:, 1:3, 0] = length[:, None]
        corners[:, :2, 1], corners[:, 2:, 1] = low, high
        along = ((end - start) / length[:, None]) @ view.axes[:2]
        axes = np.stack([along, np.broadcast_to(view.axes[2], (count, 3))], axis=1)
        labels = np.column_stack([np.full(count, k), np.arange(count)])
        hung = Pieces(start @ view.axes[:2], axes, corners, labels)
        hung = fanned(within(hung, *sides_of(self.stock)))
        for j, other in enumerate(self.made):
            if j == k:  # the cells on both sides of the chord, in `_ends`
                own = np.full(len(hung), -1)
                hung = replace(hung, labels=np.column_stack([hung.labels, own]))
            else:
                hung = split(hung, other.cells, other.view)
        return hung

    @cached_property
    def _areas(self) -> Array:
        return self.walls.areas

    @cached_property
    def _ends(self) -> Indices:
        """(2 · walls, directions) cells on both sides of each wall, one after the other."""
        labels = self.walls.labels
        ends = np.repeat(labels[:, None, 2:], 2, axis=1)
        for k, direction in enumerate(self.made):
            mine = labels[:, 0] == k
            ends[mine, :, k] = direction.cells.beside[labels[mine, 1]]
        return ends.reshape(-1, len(self.made))

    def hold(self, clamping: Clamping) -> Hold:
        """Find the least section between the part and what the clamps of a setup press on."""
        if not len(self._in_part):
            return self._nothing
        pressed = clamping.pressed(4.0 * self.stock.tolerances.wall)  # inside all shifted cells
        for direction in self.made:
            pressed = split(pressed, direction.cells, direction.view)
        nodes = Nodes.of([self._ends, pressed.labels, self._in_part])
        ends, clamped = nodes.number(self._ends).reshape(-1, 2), nodes.number(pressed.labels)
        source = nodes.number(self._in_part)
        _, group = linked(len(nodes), ends[:, 0], ends[:, 1])
        source = source[group[source] == group[source[0]]]
        reach = group[clamped] == group[source[0]]
        clear = reach & ~self._is_by_tab(pressed.labels)
        chosen = np.nonzero(clear if clear.any() else reach)[0]
        pressed, clamped = pressed.of(chosen), clamped[chosen]
        walls, contacts = least_cut(len(nodes), ends, self._areas, source, clamped, pressed.areas)
        return self._told(np.nonzero(walls)[0], pressed.of(np.nonzero(contacts)[0]))

    def _is_by_tab(self, labels: Indices) -> NDArray[np.bool_]:
        by_tab = [d.is_by_tab[labels[:, k]] for k, d in enumerate(self.made)]
        return np.asarray(np.any(by_tab, axis=0))

    def _told(self, chosen: Indices, contacts: Pieces) -> Hold:
        """Tell the least section, where its largest wall stands."""
        walls = self.walls.of(chosen)
        areas = np.concatenate([walls.areas, contacts.areas])
        if not areas.size:
            return self._nothing
        middles = np.concatenate([walls.middles, contacts.middles])
        none = np.full((len(contacts), 2), -1)
        chords = np.concatenate([walls.labels[:, :2], none])
        _, group = np.unique(chords, axis=0, return_inverse=True)
        group = np.asarray(group).ravel()
        largest = group == np.argmax(np.bincount(group, areas))
        mean = (middles[largest] * areas[largest, None]).sum(axis=0) / areas[largest].sum()
        off = np.linalg.norm(middles[largest] - mean, axis=1)
        where = middles[largest][int(np.argmin(off))]  # the mean of a bent wall lies beside it
        direction, chord = chords[largest][0].tolist()
        cut = self.made[direction].cut_at(chord) if direction >= 0 else None
        in_tab = np.array([self.made[k].in_tab[c] for k, c in walls.labels[:, :2]], bool)
        total = float(areas.sum())
        return Hold(total, where, cut, float(walls.areas[in_tab].sum()) >= 0.5 * total)

    @property
    def _nothing(self) -> Hold:
        return Hold(0.0, self._body.inner_point, None, False)

    @property
    def _body(self) -> Solid:
        return max(self.finished.bodies, key=lambda body: body.volume)

    @cached_property
    def _in_part(self) -> Indices:
        """(n, directions) nodes with some of the part, first that of a point well inside it.

        Nodes on both sides of a wall that goes through the part, and those with its surface.
        """
        body = self._body
        outward = body.mesh.area_vectors
        outward = outward / np.linalg.norm(outward, axis=1, keepdims=True)
        near = body.mesh.corners.mean(axis=1) - outward * 2.0 * self.stock.tolerances.clear
        points = np.concatenate([body.inner_point[None], near[self._is_in_part(near)]])
        labels, is_there = self._located(points)
        through = self._is_in_part(self.walls.middles)
        return np.concatenate([labels[is_there], self._ends[np.repeat(through, 2)]])

    def _is_in_part(self, points: Array) -> NDArray[np.bool_]:
        """Tell which of some points (n, 3) of the stock lie well in all outlines."""
        found = np.ones(len(points), bool)
        for cut in self.outlines:
            flat = cut.profile.view.to_view(points)[:, :2] - cut.profile.face.corner
            area = shapely.buffer(cut.profile.area, -self.stock.tolerances.clear)
            shapely.prepare(area)
            found &= shapely.contains_xy(area, flat[:, 0], flat[:, 1])
        return found

    def _located(self, points: Array) -> tuple[Indices, NDArray[np.bool_]]:
        """Find the cells (n, directions) of points (n, 3), and which points lie in some in each."""
        labels = np.full((len(points), len(self.made)), -1)
        for k, direction in enumerate(self.made):
            flat = direction.view.to_view(points)[:, :2]
            point, triangle = direction.cells.tree.query(
                shapely.points(flat), predicate="intersects"
            )
            labels[point, k] = direction.cells.cell[triangle]
        return labels, np.asarray((labels >= 0).all(axis=1))
