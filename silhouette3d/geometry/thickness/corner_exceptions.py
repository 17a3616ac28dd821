"""Sharp edges and pointed corners, and the chords that only stem from them.

Problem: where walls meet in a sharp edge or a pointed corner, the thickness goes down to nothing by
the letter of its definition. Which thin chords are a knife edge's, which are an ordinary
corner's and count for nothing, and which are thin places of their own?

Method: the angle of an edge follows from the mesh exactly, or from the curves that its walls stand
for; one sharper than two walls can face each other is a knife edge, and takes the chords across it
that see it. At a corner where a wall and an edge meet that do not face each other, chords between
the two are left out; only in a needle, where they part by `BETA` or less, do they count.

    two mitres of 45° in one corner part from the wall below by 35°: no needle, left out

Invariant: chords between two walls that face each other are never left out.

Complexity: O(n log n + k) for n chords, k of them near a sharp edge or corner.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.indices import linked, ragged
from silhouette3d.geometry.machine_code import Point, compiled, dot, minus, row_of
from silhouette3d.geometry.thickness.ball_search import are_clear
from silhouette3d.geometry.thickness.bvh import BallScene
from silhouette3d.geometry.thickness.chords import Chords, TrueWalls, edge_normals
from silhouette3d.geometry.thickness.definition import BETA
from silhouette3d.geometry.thickness.sampling import Corners, Edges, Indices, Mask, Surface
from silhouette3d.geometry.tolerances import ANGLE, LAST_DIGITS
from silhouette3d.geometry.true_curves import MOST_TURN

# --- Ordinary corners that are pointed, and chords that only stem from them
#
# Where two mitres of 45 degrees run into one corner, the wall below and the edge
# between the mitres part by 35 degrees: near the corner they face each other by
# the letter, and the thickness goes down to nothing. But no two of these walls
# face each other, and walls that meet at an ordinary corner do not count, or every
# such corner would alarm. A wall and an edge that meet count only in a needle: if
# they part by `BETA` or less. Where two walls do face each other in a point, as in
# a steep pyramid, all of it counts.


_POINTED: Final = np.pi / 2.0 - BETA
"""Where all normals of a corner are within this of their mean, none faces a wall or edge of it."""

_NEAR: Final = 1e-6
"""mm. What is nearer than this to a wall lies on it."""

_SINGLE: Final = math.cos(BETA)
_DOUBLE: Final = math.cos(2.0 * BETA)

_ALONG: Final = 1.0 - 1e-9
"""Cosine of the angle between normals that are the same."""


def at_pointed_corners(points: Corners, chords: Chords) -> Mask:
    """Tell which chords (n,) lie between a wall and an edge that meet in one convex corner.

    Parameters
    ----------
    points : Corners
        Of the surface.
    chords : Chords
        Thin ones.
    """
    found = np.zeros(len(chords), bool)
    pointed = np.nonzero((points.sign > 0.0) & (points.spread > _POINTED))[0]
    to_edges = np.nonzero(chords.bend | (chords.samples.triangle < 0))[0]
    if not len(pointed) or not len(to_edges):
        return found
    found[to_edges] = _at_corners(points, pointed, chords.chosen(to_edges))
    return found


def _at_corners(points: Corners, pointed: Indices, chords: Chords) -> Mask:
    """Tell so of chords that begin or end on an edge, and of some corners."""
    # p and q are seen from the corner more than BETA apart, so it is within this of their middle
    reach = float(np.linalg.norm(chords.touch - chords.samples.points, axis=1).max())
    reach *= 0.5 + 0.5 / np.tan(BETA / 2.0)
    near = cKDTree(chords.middle).sparse_distance_matrix(
        cKDTree(points.point[pointed]), reach, output_type="ndarray"
    )
    walls, first = _walls_of(points.first, points.normal, pointed)
    return _between(
        chords.samples.points,
        chords.touch,
        chords.samples.inward,
        points.point[pointed],
        walls,
        first,
        np.stack([near["i"], near["j"]], axis=1).astype(np.int64),
    )


@compiled
def _walls_of(begin: Indices, normal: Array, pointed: Indices) -> tuple[Array, Indices]:
    """List the walls' normals of some corners without repeats, and where those of each begin.

    None where two walls face each other.
    """
    walls, first = np.empty((2 * len(normal), 3)), np.zeros(len(pointed) + 1, np.int64)
    for c, corner in enumerate(pointed):
        start = end = first[c]
        facing = False
        for r in range(2 * begin[corner], 2 * begin[corner + 1]):
            n, new = row_of(normal[r // 2], r % 2, 0), True
            for i in range(start, end):
                cosine = dot(n, row_of(walls, i, 0))
                new &= cosine <= _ALONG
                facing |= cosine <= -_DOUBLE
            if new:
                walls[end, 0], walls[end, 1], walls[end, 2] = n
                end += 1
        first[c + 1] = start if facing else end
    return walls[: first[-1]], first


@compiled
def _between(
    start: Array,
    end: Array,
    inward: Array,
    corner: Array,
    walls: Array,
    first: Indices,
    pairs: Indices,
) -> Mask:
    """Tell which chords lead from one wall of a corner near them to an edge of it, or back.

    An edge is where two walls are; the chord has to face it there, within `BETA` of a normal
    between theirs: from the end of an edge one may look along it at another wall. `pairs`
    (k, 2) are chords and corners.
    """
    found = np.zeros(len(start), np.bool_)
    for chord, c in pairs:
        at, m = row_of(corner, c, 0), row_of(inward, chord, 0)
        p, q = minus(row_of(start, chord, 0), at), minus(row_of(end, chord, 0), at)
        if dot(p, q) >= _SINGLE * math.sqrt(dot(p, p) * dot(q, q)):
            continue
        own = begins = other = False  # p on its own wall; on any; q on one that p is not on
        for i in range(first[c], first[c + 1]):
            n = row_of(walls, i, 0)
            is_own, p_on, q_on = dot(m, n) < -_ALONG, abs(dot(p, n)) < _NEAR, abs(dot(q, n)) < _NEAR
            own |= is_own
            begins |= is_own and p_on
            other |= q_on and not p_on
        way = minus(q, p)
        back = (-way[0], -way[1], -way[2])
        if begins:
            found[chord] |= _faces_edge(walls, first[c], first[c + 1], q, way, m)
        elif not own and other:
            found[chord] |= _faces_edge(walls, first[c], first[c + 1], p, back, m)
    return found


@compiled
def _faces_edge(walls: Array, begin: int, end: int, place: Point, way: Point, m: Point) -> bool:
    """Tell whether a way comes to an edge from within: near a normal between the two walls there.

    The wall with the inward normal m is not one of them.
    """
    length = math.sqrt(dot(way, way))
    for i in range(begin, end):
        one = row_of(walls, i, 0)
        if abs(dot(place, one)) >= _NEAR or dot(m, one) < -_ALONG:
            continue
        for j in range(i + 1, end):
            two = row_of(walls, j, 0)
            if abs(dot(place, two)) >= _NEAR or dot(m, two) < -_ALONG:
                continue
            if _towards(one, two, way) >= _SINGLE * length:
                return True
    return False


@compiled
def _towards(one: Point, two: Point, way: Point) -> float:
    """Measure how far a way goes along the nearest unit vector of those between two others."""
    a, b, c = dot(way, one), dot(way, two), dot(one, two)
    square = 1.0 - c * c
    s, t = (a - c * b) / square, (b - c * a) / square
    if s <= 0.0 or t <= 0.0:
        return max(a, b)
    return math.sqrt(s * a + t * b)


# --- Knife edges: convex edges that are sharper than two walls can face each other
#
# Their angle follows from the mesh exactly. The walls that meet in one are thin
# beside it, however thick they are further on; those chords belong to the edge.


@dataclass(frozen=True)
class Knives:
    """Knife edges, in groups that follow each other.

    Parameters
    ----------
    start, end : (n, 3) arrays
        In mm.
    angle : (n,) array
        In the material between both sides, in radians.
    sides : (n, 2, 3) array
        Outward unit normals of both sides.
    across : (n, 3) array
        Unit vector from one side to the other, square to the edge.
    group : (n,) array of int
        Which edges are one.
    """

    start: Array
    end: Array
    angle: Array
    sides: Array
    across: Array
    group: Indices

    def __len__(self) -> int:
        return len(self.angle)

    @property
    def length(self) -> Array:
        """(n,) in mm."""
        return np.asarray(np.linalg.norm(self.end - self.start, axis=1))


def knives_of(surface: Surface, true: TrueWalls | None = None) -> Knives:
    """Find the knife edges among the bent edges, by the true angle of their walls."""
    edges = surface.edges
    dihedral = edges.dihedral if true is None else _true_angles(edges, true)
    sharp = np.nonzero(edges.convex & (dihedral <= 2.0 * BETA + ANGLE))[0]
    start, along = edges.start[sharp], edges.along[sharp]
    across = np.cross(along, edges.middle[sharp])
    return Knives(
        start,
        start + along * edges.length[sharp, None],
        dihedral[sharp],
        np.stack([edges.left[sharp], edges.right[sharp]], axis=1),
        across / np.maximum(np.linalg.norm(across, axis=1), LAST_DIGITS)[:, None],
        _groups(edges.ends[sharp], along),
    )


def _true_angles(edges: Edges, true: TrueWalls) -> Array:
    """Measure angles (n,) in the material between the curves on both sides, the least each.

    Only where that may be a knife edge; the others keep the angle of their chords.
    """
    turn = true.curves.turn
    most = 2.0 * (BETA + turn) + ANGLE if turn < MOST_TURN else np.pi
    some = np.nonzero(edges.convex & (true.edge < 0) & (edges.dihedral <= most))[0]
    angles = np.where(true.edge < 0, edges.dihedral, np.pi)
    least = np.full(len(some), np.inf)
    for share in (0.0, 0.5, 1.0):
        left, right = edge_normals(true.surface, true.curves, true.triangle, some, share)
        away = np.linalg.norm(left - right, axis=1), np.linalg.norm(left + right, axis=1)
        least = np.minimum(least, np.pi - 2.0 * np.arctan2(*away))
    angles[some] = least
    return np.asarray(angles)


def _groups(ends: Indices, along: Array) -> Indices:
    """Group edges (n,) that meet end to end and turn less than `BETA` twice."""
    count = len(ends)
    vertex, edge = ends.ravel(), np.repeat(np.arange(count), 2)
    order = np.argsort(vertex, kind="stable")
    vertex, edge = vertex[order], edge[order]
    first, second = [np.empty(0, np.int64)], [np.empty(0, np.int64)]
    for apart in range(1, int(np.bincount(vertex).max(initial=1))):
        same = vertex[apart:] == vertex[:-apart]
        first.append(edge[:-apart][same])
        second.append(edge[apart:][same])
    i, j = np.concatenate(first), np.concatenate(second)
    turns = np.abs(np.einsum("ij,ij->i", along[i], along[j])) >= np.cos(2.0 * BETA)
    return linked(count, i[turns], j[turns])[1]


def knife_of_chord(knives: Knives, chords: Chords, scene: BallScene, h: float) -> Indices:
    """Find the knife edge (n,) that each chord belongs to, or -1.

    A straight wedge has the thickness 2 s sin(half its angle) on its middle
    plane at the distance s from its edge. A chord belongs to the nearest knife
    edge that it sees, that it lies across, and that is no further away than a
    wedge of half that thickness would have it: so do the rounded sides of a
    lens, and a plate that was sharpened stays a wall of its own. Between the
    very walls of the edge, and beyond its ends, it may be further away.
    """
    owner, nearest = np.full(len(chords), -1), np.full(len(chords), np.inf)
    if not len(chords):
        return owner
    for group in range(int(knives.group.max(initial=-1)) + 1):
        edges = np.nonzero(knives.group == group)[0]
        sine = np.sin(knives.angle[edges].min() / 2.0)
        far = chords.size.max() / max(float(sine), ANGLE)
        ends = np.concatenate([knives.start[edges], knives.end[edges]])
        box = np.stack([ends.min(axis=0) - far, ends.max(axis=0) + far])
        along = ends[len(edges)] - ends[0]
        along /= np.linalg.norm(along)
        off = ends - ends[0]
        bent = np.linalg.norm(off - (off @ along)[:, None] * along, axis=1).max() > _NEAR
        reach = np.inf if bent else 2.0 / max(float(sine), ANGLE)
        rows = _near_line(chords.middle, chords.size, box, ends[0], along, reach)
        edge, point, away = _nearest(knives, edges, chords.middle[rows], h)
        across = np.abs(np.einsum("ij,ij->i", chords.direction[rows], knives.across[edge]))
        own = (across >= np.cos(2.0 * BETA)) & (away < nearest[rows])
        own &= (chords.size[rows] >= np.sin(knives.angle[edge] / 2.0) * away) | (
            _between_sides(knives, edge, chords.chosen(rows))
        )
        rows, edge, point, away = rows[own], edge[own], point[own], away[own]
        sees = are_clear(scene, chords.middle[rows], point)
        owner[rows[sees]], nearest[rows[sees]] = edge[sees], away[sees]
    return owner


@compiled
def _near_line(
    middle: Array, size: Array, box: Array, start: Array, along: Array, reach: float
) -> Indices:
    """Find chords in a box that lie as near to a line as a wedge may have them.

    One of size s that leads from the plane of one side to that of the other, at an angle of up
    to 44°, lies at s / sin(angle) and half its size from their line at most, which is less than
    s / sin(angle / 2). Twice that, as the angle of curves may differ from that of flat sides.
    """
    found = np.empty(len(size), np.int64)
    count = 0
    a, u = row_of(start.reshape(1, 3), 0, 0), row_of(along.reshape(1, 3), 0, 0)
    for i in range(len(size)):
        at = row_of(middle, i, 0)
        inside = True
        for k in range(3):
            inside &= box[0, k] <= at[k] <= box[1, k]
        if inside:
            away = minus(at, a)
            share = dot(away, u)
            most = (size[i] + 4.0 * _NEAR) * reach
            if dot(away, away) - share * share <= most * most:
                found[count] = i
                count += 1
    return found[:count].copy()


def _between_sides(knives: Knives, edge: Indices, chords: Chords) -> Mask:
    """Tell which chords lead from the plane of one side of their edge to that of the other."""
    ends = np.stack([chords.samples.points, chords.touch], axis=1) - knives.start[edge, None]
    high = np.abs(np.einsum("nkj,nlj->nkl", ends, knives.sides[edge]))
    return np.asarray(
        (np.maximum(high[:, 0, 0], high[:, 1, 1]) < _NEAR)
        | (np.maximum(high[:, 0, 1], high[:, 1, 0]) < _NEAR)
    )


def _nearest(
    knives: Knives, edges: Indices, points: Array, h: float
) -> tuple[Indices, Array, Array]:
    """Find of some edges the one nearest to each point, where on it, and how far away."""
    pieces = np.ceil(knives.length[edges] / h).astype(np.int64)
    row, k = ragged(pieces)
    edge = edges[row]
    share = ((k + 0.5) / pieces[row])[:, None]
    tree = cKDTree(knives.start[edge] * (1.0 - share) + knives.end[edge] * share)
    edge = edge[tree.query(points)[1]]
    a, side = knives.start[edge], knives.end[edge] - knives.start[edge]
    share = np.einsum("ij,ij->i", points - a, side) / np.einsum("ij,ij->i", side, side)
    foot = a + np.clip(share, 0.0, 1.0)[:, None] * side
    return edge, foot, np.asarray(np.linalg.norm(points - foot, axis=1))
