"""Narrow triangles turned one by one: they and a neighbour parted along the other diagonal.

There are few of them, scattered over a large mesh, and what is done to one decides
what can be done to the next. So this works on plain numbers.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable

import numpy as np

from silhouette3d.solid.mesh import Indices, Mesh

Point = tuple[float, float, float]
Corners = tuple[int, int, int]


def parted(mesh: Mesh, narrow: Indices, near: float) -> tuple[Mesh, list[int], float]:
    """With narrow triangles and their neighbours parted the other way.

    A triangle and its neighbour across its longest edge change that edge for the
    other diagonal. Where the neighbour is not narrow, only if both are wide then; where
    it is, only if the new diagonal is shorter. So this comes to an end.

    Parameters
    ----------
    mesh : Mesh
        Closed.
    narrow : (k,) array of int
        Which of them are lower than `near` above their longest edge.
    near : float
        In mm.

    Returns
    -------
    tuple
        The mesh; which triangles are narrow still; the length of the shortest new
        diagonal in mm, infinity without any.
    """
    about = mesh.about(mesh.triangles[narrow])  # all round each of their corners
    parting = _Parting(mesh, about, narrow.tolist(), near)
    parting.run()
    changed = mesh.triangles.copy()
    changed[about] = np.array([parting.corners[n] for n in about.tolist()]).reshape(-1, 3)
    return Mesh(mesh.vertices, changed), sorted(parting.left), parting.shortest


class _Parting:
    """The triangles about narrow ones, and which of those are `left`."""

    def __init__(self, mesh: Mesh, about: Indices, narrow: list[int], near: float) -> None:
        self.near = near
        self.left, self.shortest = set(narrow), np.inf
        self.corners: dict[int, Corners] = {}
        self._on: dict[tuple[int, int], int] = {}  # the triangle on the left of each edge
        for number, corners in zip(about.tolist(), mesh.triangles[about].tolist(), strict=True):
            self._put(number, tuple(corners))
        points = np.unique(mesh.triangles[about])
        self._at: dict[int, Point] = dict(
            zip(points.tolist(), map(tuple, mesh.vertices[points].tolist()), strict=True)
        )

    def run(self) -> None:
        """Turn what can be, and look again at what has another neighbour then."""
        waiting = deque(sorted(self.left))
        while waiting:
            number = waiting.popleft()
            if number in self.left:
                waiting.extend(n for n in self._turn(number) if n in self.left)

    def _turn(self, number: int) -> Iterable[int]:
        """Part one, if that may be, and say which have changed and which lie beside them."""
        a, b, c = self._longest_first(number)
        other = self._on[b, a]
        d = sum(self.corners[other]) - a - b
        if (c, d) in self._on:
            return ()
        pair = (a, d, c), (d, b, c)
        is_wide = [self._is_wide(*corners) for corners in pair]
        length = self._square(c, d)
        # one that faces the other way is not wide: c is nearer than that to the edge from a to b
        if not (length < self._square(a, b) if other in self.left else all(is_wide)):
            return ()
        del self._on[a, b], self._on[b, a]
        for changed, corners, wide in zip((number, other), pair, is_wide, strict=True):
            self._put(changed, corners)
            if wide:
                self.left.discard(changed)
        self.shortest = min(self.shortest, length**0.5)
        beside = ((d, a), (b, d), (c, b), (a, c))
        return number, other, *(self._on[edge] for edge in beside if edge in self._on)

    def _put(self, number: int, corners: Corners) -> None:
        self.corners[number] = corners
        for i in range(3):
            self._on[corners[i], corners[i - 2]] = number

    def _longest_first(self, number: int) -> Corners:
        """The corners of a triangle, those at its longest edge first."""
        a, b, c = self.corners[number]
        turned = (a, b, c), (b, c, a), (c, a, b)
        return max(turned, key=lambda corners: self._square(*corners[:2]))

    def _is_wide(self, a: int, b: int, c: int) -> bool:
        """Whether twice the area is at least `near` times the longest edge."""
        x, y, z = self._at[a]
        bx, by, bz = self._at[b]
        cx, cy, cz = self._at[c]
        ux, uy, uz, vx, vy, vz = bx - x, by - y, bz - z, cx - x, cy - y, cz - z
        area = (uy * vz - uz * vy) ** 2 + (uz * vx - ux * vz) ** 2 + (ux * vy - uy * vx) ** 2
        longest = max(self._square(a, b), self._square(b, c), self._square(c, a))
        return area >= self.near * self.near * longest

    def _square(self, a: int, b: int) -> float:
        """Distance of two points, squared."""
        x, y, z = self._at[a]
        bx, by, bz = self._at[b]
        return (bx - x) ** 2 + (by - y) ** 2 + (bz - z) ** 2
