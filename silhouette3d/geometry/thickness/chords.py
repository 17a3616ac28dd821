"""Chords between opposed places of a surface, and the shortest of them near by."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np

from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.thickness.ball_search import smallest_balls, walls_at
from silhouette3d.geometry.thickness.bvh import BallScene
from silhouette3d.geometry.thickness.clusters import CELL
from silhouette3d.geometry.thickness.parallel import shared
from silhouette3d.geometry.thickness.sampling import (
    Edges,
    Indices,
    Mask,
    Samples,
    Surface,
    WallSamples,
    acute_samples,
    all_samples,
    edge_samples,
    normal_between,
    rim_samples,
    tip_samples,
)

# --- Samples and the opposed places where their smallest balls touch


Progress = Callable[[int, int], None]

MOST: Final = 1_000_000
"""Thin chords that are kept in memory; each takes about 300 bytes while they are sorted out."""


@dataclass(frozen=True)
class Chords:
    """From samples to where the smallest balls touch the wall opposite.

    Parameters
    ----------
    samples : Samples
        Where they begin.
    touch : (n, 3) array
        Where they end, in mm.
    size : (n,) array
        Diameters of the balls in mm.
    bend : (n,) array of bool
        Whether they end on an edge or corner.
    """

    samples: Samples
    touch: Array
    size: Array
    bend: Mask

    def __len__(self) -> int:
        return len(self.size)

    @cached_property
    def middle(self) -> Array:
        """(n, 3) midpoints in mm."""
        return np.asarray((self.samples.points + self.touch) / 2.0)

    @cached_property
    def direction(self) -> Array:
        """(n, 3) unit vectors from the sample to the wall opposite."""
        way = self.touch - self.samples.points
        return np.asarray(way / np.linalg.norm(way, axis=1)[:, None])

    def chosen(self, rows: Indices) -> Chords:
        """Some of them."""
        return Chords(self.samples.chosen(rows), self.touch[rows], self.size[rows], self.bend[rows])

    def replaced(self, rows: Indices, others: Chords) -> Chords:
        """The same with other chords in some rows."""
        order = np.arange(len(self))
        order[rows] = len(self) + np.arange(len(rows))
        return together([self, others]).chosen(order)


def thin_chords(
    surface: Surface, scene: BallScene, cap: float, h: float, progress: Progress
) -> tuple[Chords, float]:
    """The chords of all samples whose ball is smaller than `cap` mm.

    Samples are made and measured piece by piece, and only thin ones are kept. If
    even those are very many, only the thinnest on each triangle in each cell of
    a grid is, with the area of all of them.

    Returns
    -------
    chords : Chords
        In the order of the surface.
    h : float
        How far apart they lie, in mm: as given, or more if some were left out.
    """
    edges = surface.edges
    bends = all_samples(
        [
            edge_samples(edges, h),
            acute_samples(edges, h),
            tip_samples(surface.points),
            rim_samples(surface, h),
        ]
    )
    least = least_chord(h)
    kept = [_between(chords_of(bends, scene, cap), least, cap)]
    most, cell = MOST, CELL * h
    for some in measured(WallSamples(surface, h), scene, cap, progress):
        kept.append(_between(some, least, cap))
        if sum(map(len, kept)) > most:
            cell = max(cell, 2.0 * CELL * h)
            kept = [gathered(together(kept), cell)]
            while len(kept[0]) > most / 2:
                cell *= 2.0
                kept = [gathered(kept[0], cell)]
    return together(kept), cell / CELL


def gathered(chords: Chords, cell: float) -> Chords:
    """The thinnest chord on each triangle or edge in each cell, with the area of all."""
    samples = chords.samples
    place = np.floor(chords.middle / cell).astype(np.int64)
    keys = np.column_stack([samples.triangle, samples.edge, place])
    order = np.lexsort((chords.size, *keys.T))
    keys = keys[order]
    first = np.nonzero(np.concatenate([[True], (keys[1:] != keys[:-1]).any(axis=1)]))[0]
    thinnest = chords.chosen(order[first])
    area = np.add.reduceat(samples.area[order], first)
    return replace(thinnest, samples=replace(thinnest.samples, area=area))


def together(chords: Sequence[Chords]) -> Chords:
    """Several lots as one."""
    return Chords(
        all_samples([c.samples for c in chords]),
        np.concatenate([c.touch for c in chords]),
        np.concatenate([c.size for c in chords]),
        np.concatenate([c.bend for c in chords]),
    )


def measured(
    samples: WallSamples, scene: BallScene, cap: float, progress: Progress
) -> Iterator[Chords]:
    """The chords of samples piece by piece; those of size `cap` end nowhere, in nan."""
    done = 0
    for piece in range(len(samples)):
        result = chords_of(samples[piece], scene, cap)
        yield result
        done += len(result)
        progress(done, samples.total)


def chords_of(samples: Samples, scene: BallScene, cap: float | Array) -> Chords:
    """The chord of each sample; one of size `cap` ends nowhere, in nan."""
    most = np.full(len(samples), cap, float)

    def measure(rows: slice) -> tuple[Array, Array, Mask]:
        some = samples.points[rows], samples.inward[rows], samples.edge[rows]
        return smallest_balls(scene, *some, most[rows])

    size, touch, bend = map(np.concatenate, zip(*shared(measure, len(samples)), strict=True))
    return Chords(samples, touch, size, bend)


def _between(chords: Chords, least: float, cap: float) -> Chords:
    return chords.chosen(np.nonzero((chords.size > least) & (chords.size < cap))[0])


def least_chord(h: float) -> float:
    """Chords shorter than this, in mm, are dust: no wall is so thin, only the end of a wedge."""
    return min(1e-5, 1e-4 * h)


# --- From the lowest samples down to the thinnest points near them
#
# A pattern search: from each point a ring of neighbours on the surface is tried,
# and the foot of the wall opposite; the best is taken, and when none is better the
# ring shrinks. The ring turns from round to round, so that no slope stays between
# its directions. On an edge the point moves along it and the normal follows the
# chord across the fan; on a tip the normal follows the chord.


_RING: Final = 8
_FEET: Final = np.array([0.25, 0.5, 1.0, 2.0, 4.0, 8.0])
"""Steps towards the foot of the wall opposite: on a slope it lies downhill."""
_EACH: Final = _RING + len(_FEET)
_ROUNDS: Final = 80
_FINEST: Final = 1e-5
"""Share of the first step at which a search ends."""
_INSET: Final = 1e-7
"""Share of the way to the middle of a triangle by which points on its border are moved in."""
_SLOW: Final = 0.01
"""Share of the step: a search that gains less goes on with half the step."""
_TURN: Final = np.pi * (3.0 - np.sqrt(5.0))


def refined(
    surface: Surface,
    scene: BallScene,
    chords: Chords,
    room: tuple[Array, Array],
    h: float,
    allowed: Callable[[Chords, Chords], Mask],
) -> Chords:
    """Each chord moved to where it is shortest nearby.

    Parameters
    ----------
    surface, scene : Surface, Scene
        What is measured.
    chords : Chords
        Where to begin.
    room : two (n, 3) arrays
        The box in mm that each search stays in.
    h : float
        First step in mm.
    allowed : callable
        From chords (k,) to chords (k,), which of the moves may be made.
    """
    step = np.full(len(chords), h)
    for turn in range(_ROUNDS):
        active = np.nonzero(step > _FINEST * h)[0]
        if not len(active):
            break
        now = chords.chosen(active)
        tried = _tried(surface, scene, now, step[active], turn)
        inside = _inside(tried.samples.points, room[0][active], room[1][active])
        best = _best(now, tried, inside, allowed)
        moves = best >= 0
        gain = np.where(moves, now.size - tried.size[best], 0.0)
        chords = chords.replaced(active[moves], tried.chosen(best[moves]))
        step[active[gain < _SLOW * step[active]]] *= 0.5
    return chords


def _inside(points: Array, low: Array, high: Array) -> Mask:
    """Which of `_EACH` points for each box lie in it."""
    places = points.reshape(-1, _EACH, 3)
    within = (places >= low[:, None]) & (places <= high[:, None])
    return np.asarray(within.all(axis=2).ravel())


def _best(
    now: Chords, tried: Chords, inside: Mask, allowed: Callable[[Chords, Chords], Mask]
) -> Indices:
    """(n,) which of the chords tried is the shortest that may be moved to, or -1."""
    row = np.repeat(np.arange(len(now)), _EACH)
    lower = np.nonzero(inside & (tried.size < now.size[row]))[0]
    lower = lower[allowed(now.chosen(row[lower]), tried.chosen(lower))]
    worth = np.full(len(tried), np.inf)
    worth[lower] = tried.size[lower]
    best = worth.reshape(-1, _EACH).argmin(axis=1) + np.arange(len(now)) * _EACH
    return np.asarray(np.where(worth[best] < np.inf, best, -1))


def _tried(surface: Surface, scene: BallScene, now: Chords, step: Array, turn: int) -> Chords:
    """`_EACH` chords from around every chord; those that are not shorter end in nan."""
    samples = _neighbours(surface, scene, now.samples, now.touch, step, turn)
    return chords_of(samples, scene, np.repeat(now.size, _EACH))


def _neighbours(
    surface: Surface, scene: BallScene, here: Samples, touch: Array, step: Array, turn: int
) -> Samples:
    """`_EACH` places to try for every sample."""
    rows = np.arange(len(here))
    on_wall = rows[here.triangle >= 0]
    on_edge = rows[(here.triangle < 0) & (here.edge >= 0)]
    points = np.repeat(here.points[:, None], _EACH, axis=1)
    inward = np.repeat(here.inward[:, None], _EACH, axis=1)
    triangle = np.repeat(here.triangle[:, None], _EACH, axis=1)
    points[on_wall], triangle[on_wall] = _on_walls(
        surface, scene, here.chosen(on_wall), touch[on_wall], step[on_wall], turn
    )
    moved = _along_edges(surface.edges, here.chosen(on_edge), touch[on_edge], step[on_edge])
    points[on_edge], inward[on_edge] = moved
    on_tip = rows[(here.edge < 0) & (here.triangle < 0)]
    inward[on_tip] = _at_tips(surface, here.chosen(on_tip), touch[on_tip])
    flat = triangle.ravel()
    return Samples(
        points.reshape(-1, 3),
        inward.reshape(-1, 3),
        flat,
        np.repeat(np.where(here.triangle < 0, here.edge, -1), _EACH),
        np.repeat(here.area, _EACH),
    )


def _on_walls(
    surface: Surface, scene: BallScene, here: Samples, touch: Array, step: Array, turn: int
) -> tuple[Array, Indices]:
    """Points (n, k, 3) in the planes of their walls, and their triangles (n, k)."""
    m = here.inward
    least = np.eye(3)[np.abs(m).argmin(axis=1)]
    u = np.cross(m, least)
    u /= np.linalg.norm(u, axis=1)[:, None]
    v = np.cross(m, u)
    angle = turn * _TURN + np.arange(_RING) * (2.0 * np.pi / _RING)
    ring = np.cos(angle)[:, None] * u[:, None] + np.sin(angle)[:, None] * v[:, None]
    way = touch - here.points
    foot = way - np.einsum("ij,ij->i", way, m)[:, None] * m
    moves = np.concatenate([step[:, None, None] * ring, _FEET[:, None] * foot[:, None]], axis=1)
    points = (here.points[:, None] + moves).reshape(-1, 3)
    facing = np.repeat(m, _EACH, axis=0)
    triangle = walls_at(scene, points, facing)
    lost = np.nonzero(triangle < 0)[0]  # beside the wall: the nearest point of the triangle
    triangle[lost] = np.repeat(here.triangle, _EACH)[lost]
    points[lost] = _nearest(surface.corners[triangle[lost]], points[lost])
    return points.reshape(-1, _EACH, 3), triangle.reshape(-1, _EACH)


def _nearest(corners: Array, points: Array) -> Array:
    """The points of triangles (n, 3, 3) nearest to points (n, 3) beside them, a hair inside."""
    best, least = corners[:, 0], np.full(len(points), np.inf)
    for k in range(3):
        a, b = corners[:, k], corners[:, (k + 1) % 3]
        side = b - a
        share = np.einsum("ij,ij->i", points - a, side) / np.einsum("ij,ij->i", side, side)
        foot = a + np.clip(share, 0.0, 1.0)[:, None] * side
        away = np.linalg.norm(points - foot, axis=1)
        best = np.where((away < least)[:, None], foot, best)
        least = np.minimum(away, least)
    return np.asarray(best + _INSET * (corners.mean(axis=1) - best))


def _along_edges(edges: Edges, here: Samples, touch: Array, step: Array) -> tuple[Array, Array]:
    """Points (n, k, 3) on their edges, and normals (n, k, 3) of the fan that follow the chord."""
    e = here.edge
    now = np.einsum("ij,ij->i", here.points - edges.start[e], edges.along[e])
    foot = np.einsum("ij,ij->i", touch - edges.start[e], edges.along[e])
    reach = 2.0 ** -np.arange(_RING // 2)
    moves = step[:, None] * np.concatenate([reach, -reach])
    # the first of the feet stays: only its normal follows the chord
    feet = (foot - now)[:, None] * np.concatenate([[0.0], _FEET[1:]])
    share = np.clip(
        (now[:, None] + np.concatenate([moves, feet], axis=1)) / edges.length[e][:, None], 0.0, 1.0
    )
    along = share * edges.length[e][:, None]
    points = edges.start[e][:, None] + along[:, :, None] * edges.along[e][:, None]
    back = points - touch[:, None]
    left, turning = edges.left[e], edges.turning[e]
    square = edges.right[e] - np.cos(turning)[:, None] * left
    square /= np.maximum(np.linalg.norm(square, axis=1), 1e-12)[:, None]
    angle = np.arctan2(np.einsum("nkj,nj->nk", back, square), np.einsum("nkj,nj->nk", back, left))
    angle = np.where(angle < turning[:, None] / 2.0 - np.pi, np.pi, angle)
    fan = np.clip(angle / turning[:, None], 0.0, 1.0)
    normal = normal_between(edges, np.repeat(e, _EACH), fan.ravel())
    return points, -normal.reshape(-1, _EACH, 3)


def _at_tips(surface: Surface, here: Samples, touch: Array) -> Array:
    """Normals (n, k, 3) on the way to the chord, as far as the cone of the tip allows."""
    way = touch - here.points
    way /= np.linalg.norm(way, axis=1)[:, None]
    share = np.linspace(1.0 / _EACH, 1.0, _EACH)
    mixed = here.inward[:, None] + share[:, None] * (way - here.inward)[:, None]
    mixed /= np.linalg.norm(mixed, axis=2)[:, :, None]
    corners = surface.points
    for k, point in enumerate(here.points):
        i = int(np.linalg.norm(corners.point - point, axis=1).argmin())
        away = corners.away[corners.first[i] : corners.first[i + 1]]
        mixed[k][(mixed[k] @ away.T > 1e-9).any(axis=1)] = here.inward[k]
    return np.asarray(mixed)
