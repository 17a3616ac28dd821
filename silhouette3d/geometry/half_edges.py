"""A closed surface as half-edges, and its edges and triangles of next to no width removed.

Problem: the points of a surface were moved, some onto one another, and some triangles have become
points, lines or next to it. The surface must stay closed, and no point of it may move further.

Method: every triangle has three half-edges, and each knows its opposite, the half-edge on the
other side. That alone says what the surface is; points may be shared by several sheets of it.
(1) Points that short edges link become one. Triangles with two equal corners go, and what lay
opposite their two other sides becomes opposite each other. (2) Two triangles back to back, with
one edge between them and the same third corner, go in the same way. (3) A triangle still narrower
than that has a corner all but on its longest edge: it and its neighbour there change the edge for
the other diagonal. Again, as long as (3) makes short edges. (4) Corners round which one can walk
from triangle to triangle are one point; where several sheets share one, each gets its own.

Invariant: "opposite" is an involution without fixed points, of half-edges that run the other way
between the same points. So the surface is closed and of one side at every step; after (4) the
triangles go once round each point.

Why (3) ends: a flip beside a wide triangle leaves one narrow triangle less; a flip beside a narrow
one leaves no more of them and replaces their common edge by a shorter one.

Complexity: (1), (2) and (4) O(n) in array operations, but for a sort; (3) O(k log k) steps of plain
Python in practice for k narrow triangles.

Reference: H. Brönnimann, Designing and implementing a general purpose halfedge data structure,
WAE 2001; for flips of slivers, M. Botsch and L. Kobbelt, A robust procedure to eliminate degenerate
faces from triangle meshes, VMV 2001 (citations from memory).
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.indices import linked
from silhouette3d.geometry.mesh import Indices, Mesh, in_use

_MOST: Final = 10_000
"""Narrow triangles, which are put right one by one; a surface with more of them is refused."""

Point = tuple[float, float, float]


@dataclass(frozen=True, eq=False)
class HalfEdges:
    """Triangles, and the half-edge opposite each of theirs.

    Parameters
    ----------
    triangles : (m, 3) array of int
        Points. Half-edge 3 t + k runs from corner k of triangle t to the next.
    opposite : (3 m,) array of int
        Half-edges.
    """

    triangles: Indices
    opposite: Indices

    @classmethod
    def of(cls, triangles: Indices) -> HalfEdges:
        """Pair up the half-edges of a closed surface.

        Where several run between the same points, in the order of their numbers.

        Raises
        ------
        ValueError
            If one has no opposite.
        """
        start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
        ahead, back = np.lexsort((end, start)), np.lexsort((start, end))
        if (start[ahead] != end[back]).any() or (end[ahead] != start[back]).any():
            raise ValueError("the surface is not closed")
        opposite = np.empty(len(start), np.int64)
        opposite[ahead] = back
        return cls(triangles, opposite)

    def without(self, gone: NDArray[np.bool_], across: Indices) -> HalfEdges:
        """Leave out triangles.

        Parameters
        ----------
        gone : (m,) array of bool
            Which.
        across : (3 m,) array of int
            For half-edges of those: the other one of the two sides that fall together.
        """
        if not gone.any():
            return self
        kept = np.flatnonzero(~gone)
        opposite = self.opposite[(3 * kept[:, None] + np.arange(3)).ravel()]
        through = np.flatnonzero(gone[opposite // 3])
        while len(through):
            opposite[through] = self.opposite[across[opposite[through]]]
            through = through[gone[opposite[through] // 3]]
        number = np.cumsum(~gone) - 1
        return HalfEdges(self.triangles[kept], 3 * number[opposite // 3] + opposite % 3)

    def joined(self, stands_for: Indices) -> HalfEdges:
        """Replace each point by the one that stands for it; triangles without three corners go."""
        triangles = stands_for[self.triangles]
        short = (triangles == np.roll(triangles, -1, axis=1)).ravel()
        across = np.full(len(short), -1)
        edge = np.flatnonzero(short)
        across[_next(edge)], across[_before(edge)] = _before(edge), _next(edge)
        return HalfEdges(triangles, self.opposite).without(short.reshape(-1, 3).any(axis=1), across)

    def unfolded(self) -> HalfEdges:
        """Leave out triangles that lie back to back with a neighbour."""
        flat = self.triangles.ravel()
        here = np.arange(len(flat))
        apex = flat[_before(here)]
        fold = np.flatnonzero((apex == apex[self.opposite]) & (here < self.opposite))
        if not len(fold):
            return self
        gone, across = np.zeros(len(self.triangles), bool), np.full(len(flat), -1)
        taken: set[int] = set()
        for edge in fold.tolist():
            other = int(self.opposite[edge])
            if edge // 3 == other // 3 or not taken.isdisjoint((edge // 3, other // 3)):
                continue
            taken |= {edge // 3, other // 3}
            for one, two in ((_next(edge), _before(other)), (_before(edge), _next(other))):
                across[one], across[two] = two, one
        gone[list(taken)] = True
        return self.without(gone, across).unfolded()

    def sheets(self, count: int) -> tuple[Indices, Indices]:
        """Number the sheets of the surface at each of so many points.

        Returns
        -------
        triangles : (m, 3) array of int
            Sheets; the first one at each point has the point's number.
        point : (k,) array of int
            The point of every sheet.
        """
        flat = self.triangles.ravel()
        corner = np.arange(len(flat))
        after = self.opposite[_before(corner)]  # the next triangle round the same point
        sheets, sheet = linked(len(flat), corner, after)
        point = np.empty(sheets, np.int64)
        point[sheet] = flat
        order = np.argsort(point, kind="stable")
        is_more = np.append(False, np.diff(point[order]) == 0)[:sheets]
        number = np.empty(sheets, np.int64)
        number[order] = np.where(is_more, count + np.cumsum(is_more) - 1, point[order])
        points = np.concatenate([np.arange(count), point[order[is_more]]])
        return number[sheet].reshape(-1, 3), points


def _next(edge: Indices | int) -> Indices:
    """Find the half-edge that follows in its triangle."""
    return np.asarray(edge - edge % 3 + (edge + 1) % 3)


def _before(edge: Indices | int) -> Indices:
    return np.asarray(edge - edge % 3 + (edge + 2) % 3)


def without_degeneracies(mesh: Mesh, near: float, flat: float = 0.0) -> Mesh | None:
    """Remove edges shorter than `near` and triangles lower than that above their longest edge.

    No point moves further than short edges reach.

    Parameters
    ----------
    mesh : Mesh
        Closed; its triangles may have no area.
    near : float
        In mm.
    flat : float
        In mm, less: triangles that are higher may stay where nothing can be done.

    Returns
    -------
    Mesh or None
        Closed, its triangles going once round each of its points, which may lie in one place
        with others. None where a triangle lower than `flat` is left, or too many are narrow.
    """
    edges, at = HalfEdges.of(mesh.triangles), mesh.vertices
    while True:
        here = Mesh(at, edges.triangles)
        stands_for = _grouped(here, near)
        if stands_for is not None:
            edges = edges.joined(stands_for)
        edges = edges.unfolded()
        here = Mesh(at, edges.triangles)
        narrow = np.flatnonzero(here.heights < near)
        if len(narrow) > _MOST:
            return None
        if not len(narrow):
            break
        flips = _Flips(edges, at, narrow.tolist(), near)
        flips.run()
        edges = flips.result()
        if flips.shortest >= near:
            if (Mesh(at, edges.triangles[sorted(flips.left)]).heights < flat).any():
                return None
            break
    edges = edges.unfolded()
    triangles, point = edges.sheets(len(at))
    used, triangles = in_use(triangles, len(point))
    return Mesh(at[point[used]], triangles)


def _grouped(mesh: Mesh, near: float) -> Indices | None:
    """Find for each point (n,) the one that stands for all that short edges link, if any do."""
    triangles, short = mesh.triangles, mesh.side_lengths < near
    if not short.any():
        return None
    start, end = triangles[short], np.roll(triangles, -1, axis=1)[short]
    points, local = np.unique(np.concatenate([start, end]), return_inverse=True)
    _, group = linked(len(points), *local.reshape(2, -1))
    stands_for = np.arange(len(mesh.vertices))
    stands_for[points] = points[np.unique(group, return_index=True)[1]][group]
    return stands_for


class _Flips:
    """Narrow triangles turned one by one, and which of them are `left`.

    What is done to one decides what can be done to the next, so this works on plain numbers.
    """

    def __init__(self, edges: HalfEdges, at: Array, narrow: list[int], near: float) -> None:
        self.near, self.shortest = near, np.inf
        self.left = set(narrow)
        self._start: list[int] = edges.triangles.ravel().tolist()
        self._opposite: list[int] = edges.opposite.tolist()
        self._vertices = at
        self._at: dict[int, Point] = {}

    def run(self) -> None:
        """Turn what can be, and look again at what has another neighbour then."""
        waiting = deque(sorted(self.left))
        while waiting:
            number = waiting.popleft()
            if number in self.left:
                waiting.extend(n for n in self._turn(number) if n in self.left)

    def result(self) -> HalfEdges:
        """Make the surface as it is now."""
        return HalfEdges(
            np.array(self._start, np.int64).reshape(-1, 3), np.array(self._opposite, np.int64)
        )

    def _turn(self, number: int) -> tuple[int, ...]:
        """Flip one, if that may be, and say which have changed and which lie beside them."""
        edge = self._longest(number)
        back = self._opposite[edge]
        other = back // 3
        # half-edges bc, ca of the triangle abc, and ad, db of its neighbour bad
        bc, ca, ad, db = (int(f(e)) for e in (edge, back) for f in (_next, _before))
        a, b, c, d = (self._start[e] for e in (edge, back, ca, db))
        if c == d:
            return ()
        is_wide = self._is_wide(a, d, c), self._is_wide(d, b, c)
        length = self._square(c, d)
        # one that faces the other way is not wide: c is nearer than that to the edge from a to b
        if not (length < self._square(a, b) if other in self.left else all(is_wide)):
            return ()
        outer = [self._opposite[e] for e in (ad, ca, db, bc)]
        # a d c takes the place of a b c, and d b c of b a d
        corners = (a, d, c), (d, b, c)
        places = [3 * number, 3 * number + 2, 3 * other, 3 * other + 1]
        self._start[3 * number : 3 * number + 3] = corners[0]
        self._start[3 * other : 3 * other + 3] = corners[1]
        moved = dict(zip((ad, ca, db, bc), places, strict=True))
        for place, far in zip(places, outer, strict=True):
            self._link(place, moved.get(far, far))
        self._link(3 * number + 1, 3 * other + 2)
        for changed, wide in zip((number, other), is_wide, strict=True):
            if wide:
                self.left.discard(changed)
        self.shortest = min(self.shortest, length**0.5)
        return number, other, *(self._opposite[e] // 3 for e in places)

    def _link(self, one: int, other: int) -> None:
        self._opposite[one], self._opposite[other] = other, one

    def _longest(self, number: int) -> int:
        """Find the longest half-edge of a triangle."""
        first = 3 * number
        a, b, c = self._start[first : first + 3]
        lengths = self._square(a, b), self._square(b, c), self._square(c, a)
        return first + max(range(3), key=lengths.__getitem__)

    def _is_wide(self, a: int, b: int, c: int) -> bool:
        """Tell whether twice the area is at least `near` times the longest edge."""
        x, y, z = self._place(a)
        bx, by, bz = self._place(b)
        cx, cy, cz = self._place(c)
        ux, uy, uz, vx, vy, vz = bx - x, by - y, bz - z, cx - x, cy - y, cz - z
        area = (uy * vz - uz * vy) ** 2 + (uz * vx - ux * vz) ** 2 + (ux * vy - uy * vx) ** 2
        longest = max(self._square(a, b), self._square(b, c), self._square(c, a))
        return area >= self.near * self.near * longest

    def _square(self, a: int, b: int) -> float:
        """Measure the distance of two points, squared."""
        x, y, z = self._place(a)
        bx, by, bz = self._place(b)
        return (bx - x) ** 2 + (by - y) ** 2 + (bz - z) ** 2

    def _place(self, point: int) -> Point:
        found = self._at.get(point)
        if found is None:
            x, y, z = self._vertices[point].tolist()
            found = self._at[point] = (x, y, z)
        return found
