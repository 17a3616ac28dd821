"""Bodies that outlines leave, and which of them touch, in whole numbers: nothing is rounded.

Outlines are cut into convex pieces here by whoever draws them. One piece of each outline and the
block together bound a cell, given by planes n·x <= c in whole numbers. Corners of a cell are
where three of its planes meet and none is passed, told by determinants. Two cells that share a
face are of one body; two bodies touch where two of their cells share a corner or an edge.

Coordinates stay below 10⁶ and normals below 10, so that no determinant leaves 64 bits.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import ConvexHull

Vector = tuple[int, int, int]
Piece = Sequence[tuple[int, int]]
"""Corners of a convex piece of an outline, counter-clockwise, as (u·x, v·x)."""


@dataclass(frozen=True)
class Sight:
    """A view along look, its outline drawn in the products with u and v, all whole numbers.

    (u, v, −look) are square to one another and turn right.
    """

    u: Vector
    v: Vector

    @property
    def look(self) -> np.ndarray:
        return np.cross(self.v, self.u)

    def planes(self, piece: Piece) -> np.ndarray:
        """(n, 4) rows n, c of the planes through the sides of a piece."""
        rows = []
        for (a, b), (c, d) in zip(piece, [*piece[1:], piece[0]], strict=True):
            outward = (d - b) * np.array(self.u) - (c - a) * np.array(self.v)
            offset = (d - b) * a - (c - a) * b
            shrink = np.gcd.reduce([*outward, offset])
            rows.append([*(outward // shrink), offset // shrink])
        return np.array(rows, np.int64)


def pieces(rings: Sequence[Piece]) -> list[Piece]:
    """Triangles of an outline, given by its rings, holes as rings inside others."""
    inside = shapely.build_area(shapely.MultiLineString([[*ring, ring[0]] for ring in rings]))
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(inside))
    return [
        [(round(u), round(v)) for u, v in shapely.orient_polygons(each).exterior.coords[:-1]]
        for each in triangles
    ]


@dataclass(frozen=True)
class Cell:
    """A convex cell: its planes (n, 4), and its corners (k, 4) as numerators over denominator."""

    planes: np.ndarray
    corners: np.ndarray

    @property
    def places(self) -> np.ndarray:
        return self.corners[:, :3] / self.corners[:, 3:]

    @property
    def volume(self) -> float:
        """Right to rounding, as nothing is decided by it."""
        return float(ConvexHull(self.places).volume)


def meet(planes: np.ndarray) -> np.ndarray:
    """(k, 4) corners of what lies below all planes: where three meet and none is passed."""
    planes = np.unique(planes, axis=0)
    triple = np.array(list(combinations(range(len(planes)), 3)))
    normal, offset = planes[triple, :3], planes[triple, 3]
    crosses = np.stack([np.cross(normal[:, i - 2], normal[:, i - 1]) for i in range(3)], axis=1)
    whole = np.einsum("ij,ij->i", normal[:, 0], crosses[:, 0])
    above = np.einsum("ni,nij->nj", offset, crosses)
    some = whole != 0
    sign = np.sign(whole[some])
    above, whole = above[some] * sign[:, None], whole[some] * sign
    below = above @ planes[:, :3].T <= whole[:, None] * planes[:, 3]
    found = np.column_stack([above, whole])[below.all(axis=1)]
    return np.unique(found // np.gcd.reduce(found, axis=1)[:, None], axis=0)


def dimension(corners: np.ndarray) -> int:
    """Of what corners span: -1 for none, 0 for a point, up to 3. By elimination in fractions."""
    rows = [[Fraction(int(x), int(row[3])) for x in row[:3]] for row in corners]
    if not rows:
        return -1
    rows = [[x - o for x, o in zip(row, rows[0], strict=True)] for row in rows[1:]]
    rank = 0
    for column in range(3):
        pivot = next((i for i in range(rank, len(rows)) if rows[i][column]), None)
        if pivot is None:
            continue
        rows[rank], rows[pivot] = rows[pivot], rows[rank]
        for i in range(rank + 1, len(rows)):
            share = rows[i][column] / rows[rank][column]
            rows[i] = [x - share * y for x, y in zip(rows[i], rows[rank], strict=True)]
        rank += 1
    return rank


def cell_of(planes: np.ndarray) -> Cell | None:
    """What lies below planes, without those that bound nothing; None if it has no volume."""
    corners = meet(planes)
    if dimension(corners) < 3:
        return None
    planes = np.unique(planes, axis=0)
    on = corners[:, :3] @ planes[:, :3].T == corners[:, 3:] * planes[:, 3]
    return Cell(planes[on.sum(axis=0) >= 3], corners)


def cells_left(block: Vector, outlines: Iterable[tuple[Sight, Sequence[Piece]]]) -> list[Cell]:
    """All cells inside a block with a corner at the origin and a piece of each outline."""
    walls = np.array([[*row, 0] for row in -np.eye(3, dtype=int)])
    walls = np.concatenate([walls, np.column_stack([np.eye(3, dtype=int), block])])
    first = cell_of(walls)
    assert first is not None
    cells = [first]
    for sight, pieces in outlines:
        planes = [sight.planes(piece) for piece in pieces]
        tried = (cell_of(np.concatenate([cell.planes, some])) for cell in cells for some in planes)
        cells = [cell for cell in tried if cell is not None]
    return cells


@dataclass(frozen=True)
class Bodies:
    """What cells make up.

    `like` (n, 7) has volume, least and greatest x, y, z of each body; `along` for each pair
    that touches, whether along an edge somewhere.
    """

    like: np.ndarray
    along: dict[tuple[int, int], bool]


def bodies_of(cells: Sequence[Cell]) -> Bodies:
    """The bodies that cells make up, and which of them touch."""
    low = np.array([cell.places.min(axis=0) for cell in cells])
    high = np.array([cell.places.max(axis=0) for cell in cells])
    # one unit of room: the boxes are rounded, the cells are not
    near = ((low[:, None] <= high + 1) & (low <= high[:, None] + 1)).all(axis=2)
    shared = {
        (i, j): dimension(meet(np.concatenate([cells[i].planes, cells[j].planes])))
        for i, j in np.argwhere(np.triu(near, 1)).tolist()
    }
    faces = np.array([pair for pair, size in shared.items() if size == 2]).reshape(-1, 2)
    links = coo_array((np.ones(len(faces)), tuple(faces.T)), shape=(len(cells),) * 2)
    count, body = connected_components(links, directed=False)
    like = np.zeros((count, 7))
    like[:, 1:4], like[:, 4:] = np.inf, -np.inf
    for k, cell in enumerate(cells):
        one = like[body[k]]
        one[0] += cell.volume
        one[1:4], one[4:] = np.minimum(one[1:4], low[k]), np.maximum(one[4:], high[k])
    along: dict[tuple[int, int], bool] = {}
    for (i, j), size in shared.items():
        a, b = sorted((int(body[i]), int(body[j])))
        if a != b and size >= 0:
            along[a, b] = along.get((a, b), False) or size == 1
    return Bodies(like, along)
