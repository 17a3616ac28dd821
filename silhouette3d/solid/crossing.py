"""Three areas seen along the block's axes, and the solid inside all of them, wall by wall.

Every corner of an area is a line along its axis, every side of one a wall. The
solid has edges of two kinds only. A corner line, where it runs inside both
other areas: the walls it passes, sorted along it, say where that is. And the
straight line in which walls of two areas meet: it runs from one such passage to
another, and the third area says which stretches of it count. Every edge borders
two walls, so the edges round a wall link up to loops, and these bound its face.

No point is decided twice: it is the same for all walls through it. That takes
general position: no corner of one area level with a corner of another, no three
walls through one line. Where that fails, or the two ends of a line do not tell
the same, there is no result rather than a doubtful one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from silhouette3d.solid.faces import Border, DoubtfulError, triangulated
from silhouette3d.solid.mesh import Indices, Mesh
from silhouette3d.view import Array

MOST: Final = 20_000_000
"""Passages of corner lines through walls. The solid has about as many corners; more are left
to an engine that works piece by piece."""


@dataclass(frozen=True, eq=False)
class Side:
    """The border of the area seen along one axis, what is inside on its left.

    Parameters
    ----------
    points : (n, 2) array
        Its corners. Wall i begins at corner i.
    following : (n,) array of int
        The corner at which it ends.
    """

    points: Array
    following: Indices

    @classmethod
    def of(cls, area: shapely.Geometry) -> Side:
        """Of polygons with holes."""
        parts = [p for p in shapely.get_parts(area) if isinstance(p, Polygon)]
        rings = shapely.get_rings(shapely.orient_polygons(parts))
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
        before = np.empty_like(self.following)
        before[self.following] = np.arange(len(before))
        return before

    @cached_property
    def steps(self) -> Array:
        """(n, 2) along every wall, from corner to corner."""
        return np.asarray(self.points[self.following] - self.points)


@dataclass(frozen=True, eq=False)
class Passages:
    """Where corner lines of one side pass walls of another.

    Parameters
    ----------
    corner, wall : (m,) array of int
        Which.
    number : (m,) array of int
        Their own numbers among all passages.
    places : (m, 3) array
        In block axes.
    """

    corner: Indices
    wall: Indices
    number: Indices
    places: Array


@dataclass(frozen=True, eq=False)
class Crossing:
    """The solid that lies inside three areas.

    Parameters
    ----------
    mesh : Mesh
        Its surface.
    least : float
        In mm: how near corners and walls of different areas come to one another
        where they pass. Where that is next to nothing, rounding had a say.
    neck : float
        In mm: the same in the plane of each area, corner to corner or side.
    """

    mesh: Mesh
    least: float = np.inf
    neck: float = np.inf


def crossing(areas: Sequence[shapely.Geometry], room: float) -> Crossing | None:
    """The solid that lies inside three areas.

    Parameters
    ----------
    areas : sequence of shapely polygons
        Number k is seen along block axis k, in coordinates along the two axes
        that follow k in turn.
    room : float
        In mm. What passes nearer than this cannot be told apart.

    Returns
    -------
    Crossing or None
        None where the areas are not in general position.
    """
    sides = [Side.of(area) for area in areas]
    if not all(len(side.points) for side in sides):
        return Crossing(Mesh(np.empty((0, 3)), np.empty((0, 3), np.int64)))
    try:
        found = _crossing(sides, room)
    except DoubtfulError:
        return None
    necks = shapely.minimum_clearance(np.asarray(areas, object))
    return replace(found, neck=float(necks.min()))


def _crossing(sides: Sequence[Side], room: float) -> Crossing:
    least = min(_least_step(sides, k) for k in range(3))
    passages: list[tuple[Passages, Passages]] = []
    count = 0
    for k in range(3 if least >= room else 0):
        ahead = _passages(sides, k, 1, count)
        behind = _passages(sides, k, 2, count + len(ahead.corner))
        passages.append((ahead, behind))
        count += len(ahead.corner) + len(behind.corner)
        least = min(least, _least_gap(ahead, behind, k))
    if least < room:
        raise DoubtfulError
    places = np.concatenate([each.places for both in passages for each in both])
    exists = np.zeros(count, bool)
    parts = [_corner_lines(sides[k], passages[k], k, exists) for k in range(3)]
    lines = [MeetingLines.of(sides, k, passages[k][0], passages[(k + 1) % 3][1]) for k in range(3)]
    walls, more = lines[0].pierced(sides, places)
    cuts = count + np.arange(len(more))
    places = np.concatenate([places, more])
    offsets = np.cumsum([0, *(len(side.points) for side in sides)])
    parts = [part.of_faces(offsets[k]) for k, part in enumerate(parts)]
    for k, line in enumerate(lines):
        own = (walls[:, k], walls[:, (k + 1) % 3])
        first, second = line.borders(places, exists, own, cuts)
        parts += [first.of_faces(offsets[k]), second.of_faces(offsets[(k + 1) % 3])]
    border = Border.joined(parts)
    triangles = triangulated(border, _unrolled(sides, border, places))
    used, index = np.unique(triangles, return_inverse=True)
    return Crossing(Mesh(places[used], index.reshape(-1, 3)), least)


def _least_step(sides: Sequence[Side], k: int) -> float:
    """How near corners of the two sides that see axis k come to one level on it."""
    one = sides[(k + 1) % 3].points[:, 1]
    other = np.concatenate([[-np.inf], np.sort(sides[(k + 2) % 3].points[:, 0]), [np.inf]])
    at = np.searchsorted(other, one)
    return float(min((other[at] - one).min(), (one - other[at - 1]).min()))


def _passages(sides: Sequence[Side], k: int, step: int, count: int) -> Passages:
    """Where corner lines of side k pass walls of the side `step` axes on."""
    side, other = sides[k], sides[(k + step) % 3]
    shared = step - 1  # which coordinate of the other's runs along the axis that both see
    levels = side.points[:, 1 - shared]
    order = np.argsort(levels)
    starts = other.points[:, shared]
    ends = starts[other.following]
    first = np.searchsorted(levels[order], np.minimum(starts, ends))
    counts = np.searchsorted(levels[order], np.maximum(starts, ends)) - first
    total = int(counts.sum())
    if total > MOST:
        raise DoubtfulError
    wall = np.repeat(np.arange(len(counts)), counts)
    within = np.arange(total) - np.repeat(np.cumsum(counts) - counts, counts)
    corner = order[np.repeat(first, counts) + within]
    share = (levels[corner] - starts[wall]) / other.steps[wall, shared]
    places = np.empty((total, 3))
    places[:, k] = other.points[wall, 1 - shared] + share * other.steps[wall, 1 - shared]
    places[:, [(k + 1) % 3, (k + 2) % 3]] = side.points[corner]
    return Passages(corner, wall, count + np.arange(total), places)


def _sorted_along(
    ahead: Passages, behind: Passages, axis: int
) -> tuple[Indices, Indices, Array, NDArray[np.bool_]]:
    """All passages corner line by corner line: corner, number, place along it, whether ahead."""
    both = (ahead, behind)
    corner = np.concatenate([each.corner for each in both])
    at = np.concatenate([each.places[:, axis] for each in both])
    order = np.lexsort((at, corner))
    is_ahead = order < len(ahead.corner)
    return corner[order], np.concatenate([p.number for p in both])[order], at[order], is_ahead


def _least_gap(ahead: Passages, behind: Passages, axis: int) -> float:
    """How near a corner line comes to where walls of both other sides meet."""
    corner, _, at, is_ahead = _sorted_along(ahead, behind, axis)
    meet = (corner[1:] == corner[:-1]) & (is_ahead[1:] != is_ahead[:-1])
    return float(np.diff(at)[meet].min(initial=np.inf))


def _corner_lines(
    side: Side, passages: tuple[Passages, Passages], axis: int, exists: NDArray[np.bool_]
) -> Border:
    """Stretches of a side's corner lines inside both others; marks the passages that exist."""
    corner, number, _, is_ahead = _sorted_along(*passages, axis)
    inside = [np.cumsum(is_ahead) % 2 == 1, np.cumsum(~is_ahead) % 2 == 1]  # all lines end outside
    exists[number] = np.where(is_ahead, inside[1], inside[0])
    here = np.flatnonzero(inside[0] & inside[1])
    low, high, corner = number[here], number[here + 1], corner[here]
    return Border.joined([Border(corner, high, low), Border(side.preceding[corner], low, high)])


@dataclass(frozen=True, eq=False)
class MeetingLines:
    """The straight lines in which walls of side k meet walls of the next side.

    Parameters
    ----------
    k : int
        Its axis.
    count : int
        Of the next side's walls.
    key : (m,) array of int
        Index of the first wall times `count`, plus index of the second; ascending.
    ends : (m, 2) array of int
        The passages at which each begins and ends.
    is_ahead : (m,) array of bool
        Whether the face of the first wall is bordered in that direction.
    """

    k: int
    count: int
    key: Indices
    ends: Indices
    is_ahead: NDArray[np.bool_]

    @classmethod
    def of(cls, sides: Sequence[Side], k: int, ahead: Passages, behind: Passages) -> MeetingLines:
        """From the corner lines of either that pass walls of the other.

        A line begins at the lower end of one wall and ends at the upper end of one,
        and a corner line runs through each. Outward normals are (0, dv, −du) of the
        first and (−du', 0, dv') of the second, counted from axis k, where (du, dv)
        and (du', dv') are their steps; the border of the first face runs along the
        cross product (dv dv', du du', dv du').
        """
        one, two = sides[k], sides[(k + 1) % 3]
        first = np.concatenate(
            [ahead.corner, one.preceding[ahead.corner], behind.wall, behind.wall]
        )
        second = np.concatenate(
            [ahead.wall, ahead.wall, behind.corner, two.preceding[behind.corner]]
        )
        numbers = np.concatenate([np.tile(ahead.number, 2), np.tile(behind.number, 2)])
        places = np.concatenate([np.tile(ahead.places, (2, 1)), np.tile(behind.places, (2, 1))])
        along = [places[:, (k + i) % 3] for i in range(3)]
        key = first * len(two.points) + second
        order = np.lexsort((*along, key))  # upwards; along a level wall as that runs
        key, ends = key[order].reshape(-1, 2), numbers[order].reshape(-1, 2)
        if (key[:, 0] != key[:, 1]).any():
            raise DoubtfulError
        walls = np.divmod(key[:, 0], len(two.points))
        (du, dv), (du2, dv2) = (s.steps[w].T for s, w in zip((one, two), walls, strict=True))
        turn = np.where(dv == 0.0, du * du2, np.where(du2 == 0.0, dv * dv2, dv * du2))
        return cls(k, len(two.points), key[:, 0], ends, turn > 0.0)

    def pierced(self, sides: Sequence[Side], places: Array) -> tuple[Indices, Array]:
        """Where walls of the third side cut these lines: (t, 3) walls by axis, (t, 3) places."""
        k, third = self.k, sides[(self.k + 2) % 3]
        plane = [k, (k + 1) % 3]
        ends = places[self.ends][:, :, plane]
        walls = np.stack([third.points, third.points[third.following]], axis=1)
        tree = shapely.STRtree(_lines(walls))
        line, wall = tree.query(_lines(ends))
        start, end = _off(ends[line], walls[wall])
        first, last = _off(walls[wall], ends[line])
        cut = ((start > 0.0) != (end > 0.0)) & ((first > 0.0) != (last > 0.0))
        line, share = line[cut], (start[cut] / (start[cut] - end[cut]))[:, None]
        low, high = (places[self.ends[line, i]] for i in range(2))
        found = np.empty((len(line), 3), np.int64)
        found[:, k], found[:, plane[1]] = np.divmod(self.key[line], self.count)
        found[:, (k + 2) % 3] = wall[cut]
        return found, low + share * (high - low)

    def borders(
        self,
        places: Array,
        exists: NDArray[np.bool_],
        walls: tuple[Indices, Indices],
        cuts: Indices,
    ) -> tuple[Border, Border]:
        """The stretches that lie inside the third side, as borders of both walls' faces."""
        here = np.arange(len(self.key))
        line = np.searchsorted(self.key, walls[0] * self.count + walls[1])
        if (np.append(self.key, -1)[line] != walls[0] * self.count + walls[1]).any():
            raise DoubtfulError
        start, end = places[self.ends[line, 0]], places[self.ends[line, 1]]
        way = np.einsum("ij,ij->i", places[cuts] - start, end - start)
        line = np.concatenate([here, line, here])
        number = np.concatenate([self.ends[:, 0], cuts, self.ends[:, 1]])
        way = np.concatenate([np.full(len(here), -np.inf), way, np.full(len(here), np.inf)])
        order = np.lexsort((way, line))
        line, number = line[order], number[order]
        begins = np.flatnonzero(np.append(True, line[1:] != line[:-1])[: len(line)])
        passed = np.arange(len(line)) - begins[line]
        inside = exists[self.ends[line, 0]] ^ (passed % 2 == 1)
        lasts = np.append(begins[1:], len(line))[: len(begins)] - 1
        if (inside[lasts - 1] != exists[self.ends[:, 1]]).any():
            raise DoubtfulError
        inside[lasts] = False
        stretch = np.flatnonzero(inside)
        ahead = self.is_ahead[line[stretch]]
        ends = number[stretch], number[stretch + 1]
        one, two = np.where(ahead, *ends), np.where(ahead, *ends[::-1])
        first, second = np.divmod(self.key[line[stretch]], self.count)
        return Border(first, one, two), Border(second, two, one)


def _unrolled(sides: Sequence[Side], border: Border, places: Array) -> Array:
    """(n, 2) where each border begins, on its own wall: along it, and along the axis."""
    axis = np.repeat(np.arange(3), [len(side.points) for side in sides])[border.face]
    origin = np.concatenate([side.points for side in sides])[border.face]
    along = np.concatenate([side.steps for side in sides])[border.face]
    along = along / np.linalg.norm(along, axis=1)[:, None]
    rows, here = np.arange(len(axis)), places[border.start]
    u, v = here[rows, (axis + 1) % 3] - origin[:, 0], here[rows, (axis + 2) % 3] - origin[:, 1]
    return np.column_stack([along[:, 0] * u + along[:, 1] * v, here[rows, axis]])


def _lines(ends: Array) -> NDArray[np.object_]:
    return np.asarray(shapely.linestrings(ends), object)


def _off(ends: Array, lines: Array) -> tuple[Array, Array]:
    """On which side of lines (n, 2, 2) the ends of others lie: twice the area between."""
    along = lines[:, 1] - lines[:, 0]
    away = [ends[:, i] - lines[:, 0] for i in range(2)]
    one, other = (along[:, 0] * a[:, 1] - along[:, 1] * a[:, 0] for a in away)
    return np.asarray(one), np.asarray(other)
