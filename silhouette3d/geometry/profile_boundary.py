"""Boundaries of areas: their lines, their loops, and their faces filled with triangles.

Problem: given directed edges, each with the face that it borders, fill all faces of a solid
with triangles that share their corners and cover each face once.

Method: of the edges of one face exactly one begins where another ends; so they link up to
loops. Loops of few corners that are no holes are filled as fans, all of one length at once, from
the corner whose thinnest triangle is largest; long or winding ones and faces with holes go to
the boolean engine's triangulation, one by one.

Invariant: an edge is the side of exactly one triangle of its face. Where edges do not link one
to one, nothing is guessed: `DoubtfulError`.

Lemma (`least_turn`): sweep a plane along the axis that two profiles see. Each leaves some
intervals on it, and these come, go, meet or part at critical corners only: local extremes, and
ends of level walls. To exchange two corners of which one passes on changes nothing but where
ends bend, so only critical corners of the two need be told apart.

Complexity: O(n log n) for n edges, by sorting; passages are as many as there are corners of the
result and are found in O(log n) each.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import manifold3d
import numpy as np
import shapely
from numpy.typing import NDArray

from silhouette3d.geometry.backend_errors import calling_engine
from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.indices import linked, ragged
from silhouette3d.geometry.mesh import Indices
from silhouette3d.geometry.polygons import parts_of
from silhouette3d.geometry.tolerances import SAME

# --- Faces from their borders: directed edges linked up to loops, loops filled with triangles


_SHORT: Final = 8
"""Corners of a loop that is tried as a fan, all of one length at a time."""


class DoubtfulError(Exception):
    """Points lie too near to each other to be told apart, or borders do not close."""


@dataclass(frozen=True, eq=False)
class FaceBoundary:
    """Directed edges round faces, each with its face on the left.

    Parameters
    ----------
    face : (n,) array of int
        Whose border it is.
    start, end : (n,) array of int
        Points.
    """

    face: Indices
    start: Indices
    end: Indices

    @classmethod
    def joined(cls, parts: Sequence[FaceBoundary]) -> FaceBoundary:
        """Join borders into one."""
        return cls(
            np.concatenate([part.face for part in parts]),
            np.concatenate([part.start for part in parts]),
            np.concatenate([part.end for part in parts]),
        )

    def of_faces(self, offset: int) -> FaceBoundary:
        """Number the faces from another one on."""
        return FaceBoundary(self.face + offset, self.start, self.end)

    @property
    def next(self) -> Indices:
        """(n,) for each edge the one of the same face that begins where it ends.

        Raises
        ------
        DoubtfulError
            If it is not exactly one.
        """
        points = int(max(self.start.max(initial=0), self.end.max(initial=0))) + 1
        begins, ends = self.face * points + self.start, self.face * points + self.end
        order = np.argsort(begins)
        at = np.searchsorted(begins[order], ends)
        following = np.asarray(np.append(order, 0)[at])
        met = np.zeros(len(begins), bool)
        met[following % max(len(begins), 1)] = True
        if not met.all() or (begins[following] != ends).any():
            raise DoubtfulError
        return following


def triangulated(border: FaceBoundary, flat: Array) -> Indices:
    """Fill the faces with triangles (m, 3) of points.

    Parameters
    ----------
    border : FaceBoundary
        Of all faces.
    flat : (n, 2) array
        Where each edge begins, in the plane of its face as seen from outside.

    Raises
    ------
    DoubtfulError
        If borders do not close, or close after two edges.
    """
    count = len(border.face)
    if not count:
        return np.empty((0, 3), np.int64)
    following = border.next
    loops, loop = linked(count, np.arange(count), following)
    length = np.bincount(loop, minlength=loops)
    if length.min() < 3:
        raise DoubtfulError
    doubled = flat[:, 0] * flat[following, 1] - flat[:, 1] * flat[following, 0]
    is_hole = np.bincount(loop, doubled, loops) < 0.0
    first = np.empty(loops, np.int64)
    first[loop[::-1]] = np.arange(count)[::-1]
    pierced = np.zeros(int(border.face.max()) + 1, bool)
    pierced[border.face[first[is_hole]]] = True
    length[pierced[border.face[first]]] = 0
    filled = [np.empty((0, 3), np.int64)]
    rest = [np.flatnonzero((length == 0) | (length > _SHORT))]
    for corners in range(3, _SHORT + 1):
        these = np.flatnonzero(length == corners)
        if not len(these):
            continue
        triangles, done = _fans(first[these], corners, following, flat)
        filled.append(triangles)
        rest.append(these[~done])
    others = np.concatenate(rest)
    edges = [*filled, *_one_by_one(border.face, first[others], length[others], following, flat)]
    return border.start[np.concatenate(edges)]


def _fans(first: Indices, corners: int, following: Indices, flat: Array) -> tuple[Indices, Indices]:
    """Make fans of loops, from the corner whose thinnest triangle is largest, if there is one."""
    loops = np.empty((len(first), corners), np.int64)
    loops[:, 0] = first
    for i in range(1, corners):
        loops[:, i] = following[loops[:, i - 1]]
    different = corners - 2 if corners < 5 else corners  # a diagonal has two ends
    thinnest = np.column_stack(
        [_least_area(flat[np.roll(loops, -i, axis=1)]) for i in range(different)]
    )
    apex = np.argmax(thinnest, axis=1)
    rows = np.arange(len(loops))
    done = thinnest[rows, apex] > 0.0
    turned = loops[rows[:, None], (apex[:, None] + np.arange(corners)) % corners][done]
    fan = [turned[:, [0, i, i + 1]] for i in range(1, corners - 1)]
    return np.concatenate(fan), done


def _least_area(points: Array) -> Array:
    """Find the smallest triangle (n,) between the first of (n, c, 2) corners and two neighbours."""
    arms = points[:, 1:] - points[:, :1]
    areas = arms[:, :-1, 0] * arms[:, 1:, 1] - arms[:, :-1, 1] * arms[:, 1:, 0]
    return np.asarray(areas.min(axis=1))


def _one_by_one(
    face: Indices, first: Indices, length: Indices, following: Indices, flat: Array
) -> Iterator[Indices]:
    """Yield triangles of long or winding loops, and of faces with holes, by the engine."""
    step = following.tolist()
    groups: dict[int, list[list[int]]] = {}
    for number, (start, is_whole) in enumerate(zip(first.tolist(), length > 0, strict=True)):
        loop = [start]
        while (here := step[loop[-1]]) != start:
            loop.append(here)
        # loops of one face belong together if it has holes
        groups.setdefault(-1 - number if is_whole else int(face[start]), []).append(loop)
    for rings in groups.values():
        edges = np.concatenate([np.array(ring) for ring in rings])
        with calling_engine():
            filled = manifold3d.triangulate([flat[ring] for ring in rings])
        triangles = np.asarray(filled, np.int64)
        yield edges[triangles.reshape(-1, 3)]


# --- The border of an area, and the lines along its axis through its corners


MOST: Final = 5_000_000
"""Passages of corner lines through walls. The solid has about as many corners; more are left
to an engine that works piece by piece."""


@dataclass(frozen=True, eq=False)
class ProfileBoundary:
    """The border of the area seen along one axis, what is inside on its left.

    Parameters
    ----------
    points : (n, 2) array
        Its corners. Wall i begins at corner i.
    next : (n,) array of int
        The corner at which it ends.
    """

    points: Array
    next: Indices

    @classmethod
    def of(cls, area: shapely.Geometry) -> ProfileBoundary:
        """List the border of polygons with holes."""
        rings = shapely.get_rings(shapely.orient_polygons(parts_of(area)))
        points, ring = shapely.get_coordinates(rings, return_index=True)
        last = np.append(ring[1:] != ring[:-1], True)[: len(ring)]
        points, ring = points[~last], ring[~last]  # each ring repeats its first point
        ends = np.flatnonzero(np.append(ring[1:] != ring[:-1], True)[: len(ring)])
        following = np.arange(1, len(ring) + 1)
        following[ends] = np.append(0, ends + 1)[:-1]
        return cls(points, following)

    @cached_property
    def preceding(self) -> Indices:
        """(n,) the wall that ends at each corner."""
        before = np.empty_like(self.next)
        before[self.next] = np.arange(len(before))
        return before

    @cached_property
    def steps(self) -> Array:
        """(n, 2) along every wall, from corner to corner."""
        return np.asarray(self.points[self.next] - self.points)

    def turning(self, axis: int) -> Array:
        """List levels, along an axis, of the corners at which the outline does not pass on."""
        after = self.steps[:, axis]
        before = after[self.preceding]
        rises, falls = np.minimum(before, after), np.maximum(before, after)
        return np.asarray(self.points[(rises < SAME) & (falls > -SAME), axis])


@dataclass(frozen=True, eq=False)
class PiercePoints:
    """Points at which corner lines of one side pass walls of another.

    Parameters
    ----------
    corner, wall : (m,) array of int
        Which.
    number : (m,) array of int
        Their own numbers among all passages.
    places : (m, 3) array
        In block axes.
    rise : (m,) array
        How far the wall rises along the axis that both see, for each mm along the
        corner line; 1 if it is more.
    """

    corner: Indices
    wall: Indices
    number: Indices
    places: Array
    rise: Array


def least_step(sides: Sequence[ProfileBoundary], k: int) -> float:
    """Measure how near corners of the two sides that see axis k come to one level on it."""
    return _least_apart(sides[(k + 1) % 3].points[:, 1], sides[(k + 2) % 3].points[:, 0])


def least_turn(sides: Sequence[ProfileBoundary], k: int) -> float:
    """Find the least gap between critical levels of the two sides that see axis k.

    At one level of axis k each of the two sides leaves some intervals, and what
    is cut there is all that lies in both and in the third side. Intervals come,
    go, meet, part or jump where a side turns; where it passes on, their ends
    only bend. So if one side passes on, it is all the same which corner is higher.
    """
    return _least_apart(sides[(k + 1) % 3].turning(1), sides[(k + 2) % 3].turning(0))


def _least_apart(one: Array, other: Array) -> float:
    levels = np.concatenate([[-np.inf], np.sort(other), [np.inf]])
    at = np.searchsorted(levels, one)
    return float(min((levels[at] - one).min(), (one - levels[at - 1]).min()))


def pierce_points_of(
    sides: Sequence[ProfileBoundary], k: int, step: int, count: int
) -> PiercePoints:
    """Find where corner lines of side k pass walls of the side `step` axes on."""
    side, other = sides[k], sides[(k + step) % 3]
    shared = step - 1  # which coordinate of the other's runs along the axis that both see
    levels = side.points[:, 1 - shared]
    order = np.argsort(levels)
    starts = other.points[:, shared]
    ends = starts[other.next]
    first = np.searchsorted(levels[order], np.minimum(starts, ends))
    counts = np.searchsorted(levels[order], np.maximum(starts, ends)) - first
    total = int(counts.sum())
    if total > MOST:
        raise DoubtfulError
    wall, within = ragged(counts)
    corner = order[first[wall] + within]
    up, across = np.abs(other.steps[:, shared]), np.abs(other.steps[:, 1 - shared])
    rise = up / np.maximum(np.maximum(up, across), np.finfo(float).tiny)
    share = (levels[corner] - starts[wall]) / other.steps[wall, shared]
    places = np.empty((total, 3))
    places[:, k] = other.points[wall, 1 - shared] + share * other.steps[wall, 1 - shared]
    places[:, [(k + 1) % 3, (k + 2) % 3]] = side.points[corner]
    return PiercePoints(corner, wall, count + np.arange(total), places, rise[wall])


@dataclass(frozen=True, eq=False)
class PiercePointsInOrder:
    """Passages along the corner lines of a side, line by line, each upwards.

    Parameters
    ----------
    number, corner : (m,) array of int
        Of each passage, and whose line it is on.
    at : (m,) array
        Where along it, in mm.
    rise : (m,) array
        Of the wall passed, as `PiercePoints` says.
    is_ahead : (m,) array of bool
        Whether the wall is of the side one axis on, not two.
    """

    number: Indices
    corner: Indices
    at: Array
    rise: Array
    is_ahead: NDArray[np.bool_]

    @classmethod
    def of(cls, ahead: PiercePoints, behind: PiercePoints, axis: int) -> PiercePointsInOrder:
        """Sort all passages of corner lines that run along an axis."""
        both = (ahead, behind)
        corner = np.concatenate([each.corner for each in both])
        at = np.concatenate([each.places[:, axis] for each in both])
        order = np.lexsort((at, corner))
        number = np.concatenate([each.number for each in both])[order]
        rise = np.concatenate([each.rise for each in both])[order]
        return cls(number, corner[order], at[order], rise, order < len(ahead.corner))

    @property
    def least_gaps(self) -> tuple[float, float]:
        """Least distances from where a corner line passes one side to where it passes the third.

        Along the line, and across it: walls that hardly rise meet far along a line that
        they all but touch.
        """
        is_ahead, rise = self.is_ahead, self.rise
        meet = (self.corner[1:] == self.corner[:-1]) & (is_ahead[1:] != is_ahead[:-1])
        gap = np.diff(self.at)[meet]
        across = gap * np.minimum(rise[1:], rise[:-1])[meet]
        return float(gap.min(initial=np.inf)), float(across.min(initial=np.inf))

    def inside(self, side: ProfileBoundary, exists: NDArray[np.bool_]) -> FaceBoundary:
        """Make borders of the stretches inside both other sides; mark the passages that exist."""
        # all lines end outside
        inside = [np.cumsum(self.is_ahead) % 2 == 1, np.cumsum(~self.is_ahead) % 2 == 1]
        exists[self.number] = np.where(self.is_ahead, inside[1], inside[0])
        here = np.flatnonzero(inside[0] & inside[1])
        low, high, corner = self.number[here], self.number[here + 1], self.corner[here]
        return FaceBoundary.joined(
            [FaceBoundary(corner, high, low), FaceBoundary(side.preceding[corner], low, high)]
        )
