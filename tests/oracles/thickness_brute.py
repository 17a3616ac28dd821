"""The definition of a thin section, word by word, slowly, and sharing no code with the package.

The ball tangent at p with inward unit normal m that passes through q has the diameter
|pq|² / (m · pq). It counts if the way from p to q meets no triangle, is within 22 degrees of m,
and within 22 degrees of an outward normal at q: the triangle's own; on an edge, one between
those of both sides; in a corner whose edges are all convex or all concave, one that is a
combination of those of its triangles with no negative weight.

Every triangle and every edge is cut into small pieces, and a grid closes in on the best point
of the best piece.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable

import numpy as np
from scipy.optimize import nnls

from silhouette3d.geometry.mesh import Mesh

BETA = math.radians(22.0)
FINE = 6.0
"""First squares on a length of the largest ball."""
GRID = 9
MUCH = 1e6
ROUNDS = 12
TINY = 1e-9

Array = np.ndarray


class Brute:
    """A closed mesh of few triangles that can be asked for its thickness at a point."""

    def __init__(self, mesh: Mesh) -> None:
        self.corners = mesh.vertices[mesh.triangles]
        side = self.corners[:, 1:] - self.corners[:, :1]
        normal = np.cross(side[:, 0], side[:, 1])
        self.normal = normal / np.linalg.norm(normal, axis=1)[:, None]
        sides = defaultdict(list)
        for t, (a, b, c) in enumerate(mesh.triangles):
            for start, end in ((a, b), (b, c), (c, a)):
                sides[min(start, end), max(start, end)].append((start < end, t))
        self.edges = []
        kinds = defaultdict(list)
        for (a, b), pair in sides.items():
            (_, right), (_, left) = sorted(pair)
            n1, n2 = self.normal[left], self.normal[right]
            along = mesh.vertices[b] - mesh.vertices[a]
            bend = float(np.cross(n1, n2) @ along) / np.linalg.norm(along)
            self.edges.append((mesh.vertices[a], mesh.vertices[b], arc(n1, n2)))
            if abs(bend) > 1e-6:
                for v in (a, b):
                    kinds[v].append((bend > 0, n1, n2))
        self.points = [
            (mesh.vertices[v], np.array([n for _, *pair in found for n in pair]))
            for v, found in kinds.items()
            if len(found) >= 3 and len({convex for convex, *_ in found}) == 1
        ]

    def thickness(self, p: Array, m: Array, cap: float) -> float:
        """Diameter of the smallest ball that counts, or `cap` if that is larger."""
        triangles = zip(self.corners, self.normal, strict=True)
        return min(
            cap,
            *(self._on_triangle(p, m, cap, c, n) for c, n in triangles),
            *(self._on_edge(p, m, cap, *edge) for edge in self.edges),
            *(self._at_corner(p, m, *point) for point in self.points),
        )

    def _on_triangle(self, p: Array, m: Array, cap: float, corners: Array, normal: Array) -> float:
        if m @ normal < math.cos(2 * BETA):
            return math.inf
        a, sides = corners[0], corners[1:] - corners[0]

        def place(square: Array) -> Array:
            u, v = square.T
            return a + np.column_stack([u * (1.0 - v), u * v]) @ sides  # folded to a triangle

        def ball(square: Array) -> Array:
            return self._balls(p, m, place(square), lambda way: way @ normal)

        return least(ball, pieces(place, 2, p, cap))

    def _on_edge(self, p: Array, m: Array, cap: float, a: Array, b: Array, fan: Array) -> float:
        def place(line: Array) -> Array:
            return a + line * (b - a)

        def ball(line: Array) -> Array:
            return self._balls(p, m, place(line), lambda way: (way @ fan.T).max(axis=1))

        return least(ball, pieces(place, 1, p, cap))

    def _at_corner(self, p: Array, m: Array, corner: Array, normals: Array) -> float:
        def facing(way: Array) -> Array:
            sines = np.array([nnls(normals.T, w)[1] for w in way])
            return np.cos(np.arcsin(np.minimum(sines, 1.0)))

        return float(self._balls(p, m, corner[None], facing)[0])

    def _balls(self, p: Array, m: Array, q: Array, facing: Callable[[Array], Array]) -> Array:
        """Diameters of the balls through points q (n, 3).

        Where one does not count: `MUCH` and what the angles are too wide by, so that a search
        finds its way to where it does, or infinity behind a wall.
        """
        way = q - p
        far = np.linalg.norm(way, axis=1)
        unit = way / np.maximum(far, TINY)[:, None]
        cosine = np.where(far > TINY, np.minimum(unit @ m, facing(unit)), -1.0)
        excess = np.arccos(np.clip(cosine, -1.0, 1.0)) - BETA
        size = MUCH + excess
        for i in np.nonzero(excess <= TINY)[0]:
            clear = self._is_clear(p, q[i])
            size[i] = far[i] / float(unit[i] @ m) if clear else math.inf
        return size

    def _is_clear(self, p: Array, q: Array) -> bool:
        """Whether the way from p to q, less a millionth at both ends, stays inside."""
        start, end = p + 1e-6 * (q - p), q - 1e-6 * (q - p)
        a, b, c = (self.corners[:, k] for k in range(3))
        here = np.einsum("ij,ij->i", self.normal, start - a)
        there = np.einsum("ij,ij->i", self.normal, end - a)
        across = (np.maximum(here, there) > TINY) & (np.minimum(here, there) < -TINY)
        share = here / np.where(across, here - there, 1.0)
        at = start + share[:, None] * (end - start)
        for one, two in ((a, b), (b, c), (c, a)):
            side = two - one
            across &= np.einsum("ij,ij->i", np.cross(side, at - one), self.normal) >= -TINY
        if across.any():
            return False
        return self._winding((start + end) / 2.0) > 0.5 or self._on_surface((start + end) / 2.0)

    def _winding(self, point: Array) -> float:
        """How often the surface turns round a point (Van Oosterom and Strackee 1983)."""
        a, b, c = (self.corners[:, k] - point for k in range(3))
        la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
        above = np.einsum("ij,ij->i", a, np.cross(b, c))
        ab, bc, ca = (np.einsum("ij,ij->i", *two) for two in ((a, b), (b, c), (c, a)))
        angle = 2.0 * np.arctan2(above, la * lb * lc + ab * lc + bc * la + ca * lb)
        return float(angle.sum() / (4.0 * math.pi))

    def _on_surface(self, point: Array) -> bool:
        high = np.einsum("ij,ij->i", self.normal, point - self.corners[:, 0])
        inside = np.abs(high) < 1e-6
        for k in range(3):
            side = self.corners[:, (k + 1) % 3] - self.corners[:, k]
            off = np.einsum("ij,ij->i", np.cross(side, point - self.corners[:, k]), self.normal)
            inside &= off >= -1e-6
        return bool(inside.any())


def arc(n1: Array, n2: Array) -> Array:
    """Unit normals from one to the other, a quarter of a degree apart at most."""
    angle = math.acos(max(-1.0, min(1.0, float(n1 @ n2))))
    if angle < 1e-6:
        return np.array([n1])
    count = max(2, math.ceil(math.degrees(angle) * 4.0) + 1)
    share = np.linspace(0.0, 1.0, count)[:, None]
    return np.asarray(
        (np.sin((1.0 - share) * angle) * n1 + np.sin(share * angle) * n2) / math.sin(angle)
    )


def pieces(
    place: Callable[[Array], Array], dimensions: int, p: Array, cap: float
) -> list[tuple[Array, Array]]:
    """Small boxes of the unit line or square whose points come within reach of p."""
    open_ones = [(np.zeros(dimensions), np.ones(dimensions))]
    found = []
    while open_ones:
        low, high = open_ones.pop()
        points = place(ticks(low, high, 3))
        size = float(np.linalg.norm(points - points[len(points) // 2], axis=1).max())
        if np.linalg.norm(points - p, axis=1).min() > cap + 2.0 * size:
            continue
        if 2.0 * size < cap / FINE:
            found.append((low, high))
            continue
        for half in ticks(np.zeros(dimensions), np.ones(dimensions), 2):
            step = (high - low) / 2.0
            open_ones.append((low + half * step, low + (half + 1.0) * step))
    return found


def least(value: Callable[[Array], Array], boxes: list[tuple[Array, Array]]) -> float:
    """The least value over boxes, by grids that close in on the best point."""
    tried = [(float(value(ticks(*box, 3)).min()), i) for i, box in enumerate(boxes)]
    best, i = min(tried, default=(math.inf, 0))
    if not math.isfinite(best):
        return best
    low, high = boxes[i]
    size = (high - low).max()
    for _ in range(ROUNDS):
        grid = ticks(np.maximum(low - size / 4, 0.0), np.minimum(high + size / 4, 1.0), GRID)
        values = value(grid)
        k = int(values.argmin())
        best = min(best, float(values[k]))
        size /= 3.0
        low, high = grid[k] - size / 4, grid[k] + size / 4
    return best


def ticks(low: Array, high: Array, count: int) -> Array:
    """A grid (count ** d, d) over a box."""
    axes = [np.linspace(a, b, count) for a, b in zip(low, high, strict=True)]
    return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, len(low))
