"""Ordinary corners that are pointed, and chords that only stem from them.

Where two mitres of 45 degrees run into one corner, the wall below and the edge
between the mitres part by 35 degrees: near the corner they face each other by
the letter, and the thickness goes down to nothing. But no two of these walls
face each other, and walls that meet at an ordinary corner do not count, or every
such corner would alarm. A wall and an edge that meet count only in a needle: if
they part by `BETA` or less. Where two walls do face each other in a point, as in
a steep pyramid, all of it counts.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from silhouette3d.measure.thickness.chords import Chords
from silhouette3d.measure.thickness.compiled import compiled
from silhouette3d.measure.thickness.points import Point, dot, minus, row_of
from silhouette3d.measure.thickness.surface import Corners, Indices, Mask
from silhouette3d.measure.thickness.terms import BETA
from silhouette3d.view import Array

_POINTED: Final = np.pi / 2.0 - BETA
"""Where all normals of a corner are within this of their mean, none faces a wall or edge of it."""

_NEAR: Final = 1e-6
"""mm. What is nearer than this to a wall lies on it."""

_SINGLE: Final = math.cos(BETA)
_DOUBLE: Final = math.cos(2.0 * BETA)

_ALONG: Final = 1.0 - 1e-9
"""Cosine of the angle between normals that are the same."""


def at_pointed_corners(points: Corners, chords: Chords) -> Mask:
    """(n,) which chords lie between a wall and an edge that meet in one convex corner.

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
    """The same for chords that begin or end on an edge, and some corners."""
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
    """Normals of the walls of some corners without repeats, and where those of each begin.

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
    """Which chords lead from one wall of a corner near them to an edge of it, or back.

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
    """Whether a way comes to an edge from within: near a normal between two walls that meet there.

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
    """How far a way goes along the unit vector nearest to it of those between two others."""
    a, b, c = dot(way, one), dot(way, two), dot(one, two)
    square = 1.0 - c * c
    s, t = (a - c * b) / square, (b - c * a) / square
    if s <= 0.0 or t <= 0.0:
        return max(a, b)
    return math.sqrt(s * a + t * b)
