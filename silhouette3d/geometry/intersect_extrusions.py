"""The intersection of three extrusions along the axes, built wall by wall.

Problem: the solid inside three areas, each extruded along an axis of the block, without general
booleans.

Method: such a solid has edges of two kinds only. Along a corner line of an area, where it runs
inside both others: the walls that it pierces, sorted along it, say where. And along the straight
line in which walls of two areas meet, from one such point to another: the third area says which
stretches count. Edges link up to loops round each wall's face (`profile_boundary`).

    corner line of one area       o---[=======]-----[===]----o
    pierces walls of both others      a       b     c   d        inside both: a to b, c to d

Invariant: no point is decided twice: it is one number for all walls through it, so the surface is
closed. That takes general position; where a line does not begin and end, or faces do not close,
it is doubtful, and the caller is told that there is no answer.

Complexity: O(n log n + t) for n corners and t points of the result; what a tree of walls is
asked for beyond that comes to nothing in practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree

from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.mesh import Indices, Mesh, in_use
from silhouette3d.geometry.profile_boundary import (
    DoubtfulError,
    FaceBoundary,
    PiercePoints,
    PiercePointsInOrder,
    ProfileBoundary,
    least_step,
    least_turn,
    pierce_points_of,
    triangulated,
)

# --- Points of a crossing put back to where the walls they lie on were drawn


def input_corners(side: ProfileBoundary, area: shapely.Geometry) -> Array:
    """Find for each corner of a side the nearest one (n, 2) of the area that was drawn."""
    corners = ProfileBoundary.of(area).points
    return np.asarray(corners[KDTree(corners).query(side.points)[1]])


def snap_pierce_points(
    passages: PiercePoints,
    k: int,
    step: int,
    sides: Sequence[ProfileBoundary],
    corners: Sequence[Array],
    near: float,
) -> Array:
    """Put passages (m, 3) of corner lines of side k where the walls `step` axes on were drawn."""
    other, drawn = sides[(k + step) % 3], corners[(k + step) % 3]
    shared = step - 1
    corner = corners[k][passages.corner]
    start, end = drawn[passages.wall], drawn[other.next[passages.wall]]
    rise = end[:, shared] - start[:, shared]
    is_level = np.abs(rise) < near  # then there is no one place: where it was, on the wall
    share = (corner[:, 1 - shared] - start[:, shared]) / np.where(is_level, 1.0, rise)
    ends = np.sort(np.column_stack([start[:, 1 - shared], end[:, 1 - shared]]), axis=1)
    across = start[:, 1 - shared] + share * (end - start)[:, 1 - shared]
    at = np.where(is_level, passages.places[:, k], across)
    places = np.empty((len(corner), 3))
    places[:, k] = np.clip(at, ends[:, 0], ends[:, 1])
    places[:, [(k + 1) % 3, (k + 2) % 3]] = corner
    return places


def snap_meeting_points(
    ends: Array, share: Array, plane: Sequence[int], wall: tuple[Array, Array], near: float
) -> Array:
    """Put points (t, 3) where walls cut lines with given ends (t, 2, 3), as drawn.

    `share` of the way is where they do as they stand; it is kept where a wall
    as drawn runs along the line.
    """
    low, high = ends[:, 0], ends[:, 1]
    along = wall[1] - wall[0]
    length = np.maximum(np.linalg.norm(along, axis=1), near)
    off = []
    for point in (low[:, plane], high[:, plane]):
        away = point - wall[0]
        off.append((along[:, 0] * away[:, 1] - along[:, 1] * away[:, 0]) / length)
    apart = off[0] - off[1]
    runs_along = np.abs(apart) < near
    again = np.clip(off[0] / np.where(runs_along, 1.0, apart), 0.0, 1.0)
    share = np.where(runs_along, share, again)
    return np.asarray(low + share[:, None] * (high - low))


# --- Three areas seen along the block's axes, and the solid inside all of them, wall by wall


@dataclass(frozen=True, eq=False)
class Intersection:
    """Intersect the extrusions of three areas along the axes.

    Parameters
    ----------
    mesh : Mesh
        Its surface.
    separation : float
        In mm: how near corners that turn and walls of different areas come to one
        another where they pass. Where that is next to nothing, rounding had a say.
    areas : sequence of shapely polygons
        The areas; none where one of them is empty.
    drawn : (n, 3) array
        For each point of the mesh where the walls through it were drawn.
    """

    mesh: Mesh
    separation: float
    areas: Sequence[shapely.Geometry]
    drawn: Array

    @cached_property
    def clearance(self) -> float:
        """Least distance in mm in the plane of each area, from corner to corner or side."""
        return min(map(_clearance, self.areas), default=np.inf)


def intersect_extrusions(
    areas: Sequence[shapely.Geometry],
    room: float,
    drawn: Sequence[shapely.Geometry] | None = None,
    near: float = 0.0,
) -> Intersection | None:
    """Intersect the extrusions of three areas along the axes.

    Parameters
    ----------
    areas : sequence of shapely polygons
        Number k is seen along block axis k, in coordinates along the two axes
        that follow k in turn.
    room : float
        In mm. What passes nearer than this cannot be told apart.
    drawn : sequence of shapely polygons, optional
        The areas as they were drawn, where their walls have been moved.
    near : float
        In mm, several times as far as they were moved.

    Returns
    -------
    Intersection or None
        None where the areas are not in general position.
    """
    sides = [ProfileBoundary.of(area) for area in areas]
    if not all(len(side.points) for side in sides):
        none = np.empty((0, 3))
        return Intersection(Mesh(none, np.empty((0, 3), np.int64)), np.inf, (), none)
    corners = None
    if drawn is not None:
        corners = [input_corners(side, area) for side, area in zip(sides, drawn, strict=True)]
    try:
        mesh, separation, back = _crossing(sides, room, corners, near)
    except DoubtfulError:
        return None
    return Intersection(mesh, separation, areas, back)


def _crossing(
    sides: Sequence[ProfileBoundary], room: float, corners: Sequence[Array] | None, near: float
) -> tuple[Mesh, float, Array]:
    """Make the mesh; tell how near walls come, and where the points of the mesh were drawn."""
    if min(least_step(sides, k) for k in range(3)) < room:
        raise DoubtfulError
    separation = min(least_turn(sides, k) for k in range(3))
    passages: list[tuple[PiercePoints, PiercePoints]] = []
    lines: list[PiercePointsInOrder] = []
    count = 0
    for k in range(3):
        ahead = pierce_points_of(sides, k, 1, count)
        behind = pierce_points_of(sides, k, 2, count + len(ahead.corner))
        passages.append((ahead, behind))
        count += len(ahead.corner) + len(behind.corner)
        lines.append(PiercePointsInOrder.of(ahead, behind, k))
        along, across = lines[k].least_gaps
        if along < room:
            raise DoubtfulError
        separation = min(separation, across)
    places = np.concatenate([each.places for both in passages for each in both])
    exists = np.zeros(count, bool)
    parts = [lines[k].inside(sides[k], exists) for k in range(3)]
    meeting = [
        MeetingLines.of(sides, k, passages[k][0], passages[(k + 1) % 3][1], places)
        for k in range(3)
    ]
    cut, walls, share = meeting[0].pierced(sides, places)
    ends = places[meeting[0].ends[cut]]
    more = ends[:, 0] + share[:, None] * (ends[:, 1] - ends[:, 0])
    cuts = count + np.arange(len(more))
    points = np.concatenate([places, more])
    offsets = np.cumsum([0, *(len(side.points) for side in sides)])
    parts = [part.of_faces(offsets[k]) for k, part in enumerate(parts)]
    for k, line in enumerate(meeting):
        own = (walls[:, k], walls[:, (k + 1) % 3])
        first, second = line.borders(points, exists, own, cuts)
        parts += [first.of_faces(offsets[k]), second.of_faces(offsets[(k + 1) % 3])]
    border = FaceBoundary.joined(parts)
    triangles = triangulated(border, _unrolled(sides, border, points))
    used, triangles = in_use(triangles, len(points))
    drawn = points
    if corners is not None:
        put = [
            snap_pierce_points(each, k, step, sides, corners, near)
            for k, both in enumerate(passages)
            for step, each in enumerate(both, start=1)
        ]
        back = np.concatenate(put)
        third = corners[2][walls[:, 2]], corners[2][sides[2].next[walls[:, 2]]]
        back_cuts = snap_meeting_points(back[meeting[0].ends[cut]], share, [0, 1], third, near)
        drawn = np.concatenate([back, back_cuts])
    return Mesh(points[used], triangles), separation, drawn[used]


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
    def of(
        cls,
        sides: Sequence[ProfileBoundary],
        k: int,
        ahead: PiercePoints,
        behind: PiercePoints,
        places: Array,
    ) -> MeetingLines:
        """Join the corner lines of either that pass walls of the other.

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
        numbers = np.concatenate([np.tile(each.number, 2) for each in (ahead, behind)])
        key = first * len(two.points) + second
        # every line has two ends, so that keys come in pairs, or all of it is doubtful
        pair = np.argsort(key).reshape(-1, 2)
        if (key[pair[:, 0]] != key[pair[:, 1]]).any():
            raise DoubtfulError
        key, ends = key[pair[:, 0]], numbers[pair]
        along = places[ends[:, 1]] - places[ends[:, 0]]
        u, v, w = (along[:, (k + i) % 3] for i in range(3))
        falls = np.where(w != 0.0, w, np.where(v != 0.0, v, u)) < 0.0
        ends[falls] = ends[falls, ::-1]  # upwards; along a level wall as that runs
        walls = np.divmod(key, len(two.points))
        (du, dv), (du2, dv2) = (s.steps[w].T for s, w in zip((one, two), walls, strict=True))
        turn = np.where(dv == 0.0, du * du2, np.where(du2 == 0.0, dv * dv2, dv * du2))
        return cls(k, len(two.points), key, ends, turn > 0.0)

    def pierced(
        self, sides: Sequence[ProfileBoundary], places: Array
    ) -> tuple[Indices, Indices, Array]:
        """Find lines that walls of the third side cut, (t, 3) walls by axis, and at which share."""
        k, third = self.k, sides[(self.k + 2) % 3]
        plane = [k, (k + 1) % 3]
        ends = places[self.ends][:, :, plane]
        walls = np.stack([third.points, third.points[third.next]], axis=1)
        tree = shapely.STRtree(_lines(walls))
        line, wall = tree.query(_lines(ends))
        start, end = _off(ends[line], walls[wall])
        first, last = _off(walls[wall], ends[line])
        cut = ((start > 0.0) != (end > 0.0)) & ((first > 0.0) != (last > 0.0))
        line = line[cut]
        found = np.empty((len(line), 3), np.int64)
        found[:, k], found[:, plane[1]] = np.divmod(self.key[line], self.count)
        found[:, (k + 2) % 3] = wall[cut]
        return line, found, start[cut] / (start[cut] - end[cut])

    def borders(
        self,
        places: Array,
        exists: NDArray[np.bool_],
        walls: tuple[Indices, Indices],
        cuts: Indices,
    ) -> tuple[FaceBoundary, FaceBoundary]:
        """Turn stretches that lie inside the third side into borders of both walls' faces."""
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
        return FaceBoundary(first, one, two), FaceBoundary(second, two, one)


def _unrolled(sides: Sequence[ProfileBoundary], border: FaceBoundary, places: Array) -> Array:
    """Unroll the start (n, 2) of each border onto its own wall: along it, and along the axis."""
    axis = np.repeat(np.arange(3), [len(side.points) for side in sides])[border.face]
    origin = np.concatenate([side.points for side in sides])
    along = np.concatenate([side.steps for side in sides])
    along = along / np.sqrt(np.einsum("ij,ij->i", along, along))[:, None]
    from_start = np.einsum("ij,ij->i", along, origin)
    flat, first = places.ravel(), 3 * border.start
    u, v = flat[first + (axis + 1) % 3], flat[first + (axis + 2) % 3]
    across = along[border.face, 0] * u + along[border.face, 1] * v - from_start[border.face]
    return np.column_stack([across, flat[first + axis]])


def _clearance(area: shapely.Geometry) -> float:
    """Measure in mm how near an area's corners come to corners and sides; 0 if its rings touch.

    Touching rings are legal in an area, and GEOS does not count them.
    """
    touches = not shapely.is_simple(shapely.boundary(area))
    return 0.0 if touches else float(shapely.minimum_clearance(area))


def _lines(ends: Array) -> NDArray[np.object_]:
    return np.asarray(shapely.linestrings(ends), object)


def _off(ends: Array, lines: Array) -> tuple[Array, Array]:
    """Tell on which side of lines (n, 2, 2) the ends of others lie: twice the area between."""
    along = lines[:, 1] - lines[:, 0]
    away = [ends[:, i] - lines[:, 0] for i in range(2)]
    one, other = (along[:, 0] * a[:, 1] - along[:, 1] * a[:, 0] for a in away)
    return np.asarray(one), np.asarray(other)
