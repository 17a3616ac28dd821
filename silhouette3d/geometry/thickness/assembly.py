"""Assembly of regions from thin chords: knife edges with what is thin beside, and walls."""

from __future__ import annotations

from functools import partial
from typing import Final

import numpy as np

from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.parallel import shared
from silhouette3d.geometry.thickness.ball_search import are_clear
from silhouette3d.geometry.thickness.bvh import BallScene
from silhouette3d.geometry.thickness.chords import Chords, TrueWalls, least_chord, refined, together
from silhouette3d.geometry.thickness.clusters import REACH, Linking, places
from silhouette3d.geometry.thickness.corner_exceptions import (
    Knives,
    at_pointed_corners,
    knife_of_chord,
    knives_of,
)
from silhouette3d.geometry.thickness.definition import ThinRegion
from silhouette3d.geometry.thickness.sampling import Indices, Mask, Surface

SAME: Final = 1e-7
"""Chords that differ by less than this share of their size are as thin as each other."""

HARDLY: Final = 1.001
"""Share of the least thickness of a place within which others are as thin for a person."""

CELLS_OF: Final = 0.3
MOST_ENDS: Final = 2000
"""Of a region: one pair in each cell of so many thicknesses, and about so many at most."""

STARTS: Final = 8
"""Chords of each place that are followed down to the thinnest point."""


def assembled(
    surface: Surface, scene: BallScene, chords: Chords, h: float, true: TrueWalls | None = None
) -> list[ThinRegion]:
    """Assemble the regions that thin chords and knife edges make up.

    Parameters
    ----------
    surface, scene : Surface, BallScene
        What was measured.
    chords : Chords
        All that are thin.
    h : float
        How far apart they lie, in mm.
    true : TrueWalls, optional
        The curves that decide.
    """
    knives = knives_of(surface, true)
    owner = knife_of_chord(knives, chords, scene, h)
    kept = np.nonzero((owner >= 0) | ~at_pointed_corners(surface.points, chords))[0]
    chords, owner = chords.chosen(kept), owner[kept]
    loose = np.nonzero(owner < 0)[0]
    beside, walls = chords.chosen(np.nonzero(owner >= 0)[0]), chords.chosen(loose)
    link = partial(_linking, scene=scene, h=h)
    place = places(link(walls), walls.size, h)
    thinnest = _thinnest(surface, scene, knives, walls, place, h, true)
    slope = link(together([thinnest, beside])).first_below(
        thinnest.size * (1.0 - SAME), beside.size
    )
    known = owner[owner >= 0]
    of_place = np.where(slope >= 0, known[slope], -1) if len(known) else slope
    alone = np.nonzero((of_place < 0) & (len(knives) > 0))[0]
    further = _downhill(surface, scene, thinnest.chosen(alone), h, true)
    of_place[alone] = knife_of_chord(knives, further, scene, h)
    thinnest = thinnest.replaced(alone, further)
    owner[loose] = of_place[place]
    return [
        *_knife_regions(knives, chords, owner),
        *(
            _wall(walls.chosen(np.nonzero(place == k)[0]), thinnest.chosen(np.array([k])))
            for k in np.nonzero(of_place < 0)[0]
        ),
    ]


def _linking(chords: Chords, *, scene: BallScene, h: float) -> Linking:
    ends = np.stack([chords.samples.points, chords.touch], axis=1)

    def clear(start: Array, end: Array) -> Mask:
        parts = shared(lambda rows: are_clear(scene, start[rows], end[rows]), len(start))
        return np.concatenate(parts)

    return Linking.of(ends, clear, h)


def _knife_regions(knives: Knives, chords: Chords, owner: Indices) -> list[ThinRegion]:
    """Make a region for each group of knife edges, with the chords beside them."""
    found = []
    group = np.append(knives.group, -1)[owner]
    for number in range(int(knives.group.max(initial=-1)) + 1):
        edges = np.nonzero(knives.group == number)[0]
        beside = chords.chosen(np.nonzero(group == number)[0])
        length = knives.length[edges]
        sharpest = edges[np.lexsort((-length, np.round(knives.angle[edges], 9)))[0]]
        middle = (knives.start[sharpest] + knives.end[sharpest]) / 2.0
        points = np.concatenate(
            [knives.start[edges], knives.end[edges], beside.samples.points, beside.touch]
        )
        found.append(
            ThinRegion(
                kind="knife",
                thickness=0.0,
                angle=float(np.degrees(knives.angle[sharpest])),
                p=middle,
                q=middle,
                low=points.min(axis=0),
                high=points.max(axis=0),
                area=float(beside.samples.area.sum()),
                length=float(length.sum()),
                ends=np.array([[middle, middle]]),
            )
        )
    return found


def _spread(chords: Chords, least: float) -> Array:
    """List the ends (n, 2, 3) of chords hardly thicker than `least`: one in each cell of a grid."""
    rows = np.nonzero((chords.size <= least * HARDLY) & (chords.samples.edge < 0))[0]
    middle, cell = chords.middle[rows], CELLS_OF * least
    _, first = np.unique(np.floor(middle / cell).astype(np.int64), axis=0, return_index=True)
    some = rows[np.sort(first)][:: max(1, len(first) // MOST_ENDS)]
    return np.stack([chords.samples.points[some], chords.touch[some]], axis=1)


def _wall(chords: Chords, thinnest: Chords) -> ThinRegion:
    """Make a region of one place, with its thinnest chord."""
    p, q = thinnest.samples.points[0].copy(), thinnest.touch[0].copy()
    points = np.concatenate([chords.samples.points, chords.touch, [p, q]])
    return ThinRegion(
        kind="wall",
        thickness=float(thinnest.size[0]),
        angle=None,
        p=p,
        q=q,
        low=points.min(axis=0),
        high=points.max(axis=0),
        area=float(chords.samples.area.sum()),
        length=0.0,
        ends=np.concatenate([[[p, q]], _spread(chords, float(thinnest.size[0]))]),
    )


def _thinnest(
    surface: Surface,
    scene: BallScene,
    knives: Knives,
    chords: Chords,
    place: Indices,
    h: float,
    true: TrueWalls | None,
) -> Chords:
    """Find the thinnest chord of each place, sought from its lowest ones.

    A search goes from chord to linked chord, and not into a knife edge or a corner.
    """
    count = int(place.max(initial=-1)) + 1
    if not count:
        return chords
    rows = _starts(chords, place)
    low, high = np.full((count, 3), np.inf), np.full((count, 3), -np.inf)
    np.minimum.at(low, place, chords.samples.points)
    np.maximum.at(high, place, chords.samples.points)
    home = place[rows]

    def allowed(before: Chords, after: Chords) -> Mask:
        count = np.arange(len(before))
        good = after.size > least_chord(h)
        both = _linking(together([before, after]), scene=scene, h=h)
        good[good] = both.linked(count[good], count[good] + len(before))
        some = after.chosen(np.nonzero(good)[0])
        good[good] = ~at_pointed_corners(surface.points, some)
        some = after.chosen(np.nonzero(good)[0])
        good[good] = knife_of_chord(knives, some, scene, h) < 0
        return good

    room = (low[home] - h, high[home] + h)
    lowest = refined(surface, scene, chords.chosen(rows), room, h, allowed, true)
    both = together([chords, lowest])
    place = np.concatenate([place, home])
    return both.chosen(_middle_of_thinnest(both, place, count))


def _downhill(
    surface: Surface, scene: BallScene, thinnest: Chords, h: float, true: TrueWalls | None
) -> Chords:
    """Follow the thinnest chords of places on, also into knife edges.

    A place whose walls only get thinner towards a knife edge belongs to that, whether or not a
    sample lies between.
    """

    def allowed(before: Chords, after: Chords) -> Mask:
        count = np.arange(len(before))
        good = after.size > least_chord(h)
        both = _linking(together([before, after]), scene=scene, h=h)
        good[good] = both.linked(count[good], count[good] + len(before))
        some = after.chosen(np.nonzero(good)[0])
        good[good] = ~at_pointed_corners(surface.points, some)
        return good

    at = thinnest.samples.points
    reach = REACH * h
    return refined(surface, scene, thinnest, (at - reach, at + reach), h, allowed, true)


def _middle_of_thinnest(chords: Chords, place: Indices, count: int) -> Indices:
    """Choose the thinnest chord (count,) of each place.

    Of several as thin, as in a plate, the one nearest their middle.
    """
    least = np.full(count, np.inf)
    np.minimum.at(least, place, chords.size)
    rows = np.nonzero(chords.size <= least[place] * (1.0 + SAME))[0]
    home, middle = place[rows], chords.middle[rows]
    number = np.bincount(home, minlength=count)[:, None]
    mean = np.column_stack([np.bincount(home, x, count) for x in middle.T]) / number
    away = np.linalg.norm(middle - mean[home], axis=1)
    order = np.lexsort((rows, np.round(away, 6), home))
    return np.asarray(rows[order[np.searchsorted(home[order], np.arange(count))]], np.int64)


def _starts(chords: Chords, place: Indices) -> Indices:
    """Choose the lowest chords of each place, from different triangles, edges and tips."""
    triangle, edge = chords.samples.triangle, chords.samples.edge
    tip = (triangle < 0) & (edge < 0)
    thing = np.where(tip, np.arange(len(chords)), np.where(triangle < 0, edge, triangle))
    kind = np.where(tip, 2, np.where(triangle < 0, 1, 0))
    order = np.lexsort((chords.size, thing, kind, place))
    key = np.column_stack([place, kind, thing])[order]
    lowest = order[np.concatenate([[True], (key[1:] != key[:-1]).any(axis=1)])]
    lowest = lowest[np.lexsort((chords.size[lowest], place[lowest]))]
    first = np.searchsorted(place[lowest], place[lowest], side="left")
    return np.asarray(lowest[np.arange(len(lowest)) - first < STARTS], np.int64)
