"""From a solid to its thin places, thinnest first."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from silhouette3d.measure.thickness.region import ThinRegion
from silhouette3d.measure.thickness.terms import cap, check_limit, spacing
from silhouette3d.solid import Solid
from silhouette3d.view import Array

if TYPE_CHECKING:
    from silhouette3d.measure.thickness.chords import Chords
    from silhouette3d.measure.thickness.knife import Knives
    from silhouette3d.measure.thickness.query import Scene
    from silhouette3d.measure.thickness.surface import Surface

Indices = NDArray[np.int64]

SAME: Final = 1e-7
"""Chords that differ by less than this share of their size are as thin as each other."""

STARTS: Final = 8
"""Chords of each place that are followed down to the thinnest point."""


def _quiet(done: int, total: int) -> None:
    """Progress that nobody watches."""


def _silent(words: str) -> None:
    """A message that nobody reads."""


def thin_regions(
    solid: Solid,
    limit: float,
    *,
    progress: Callable[[int, int], None] = _quiet,
    say: Callable[[str], None] = _silent,
) -> tuple[ThinRegion, ...]:
    """Every wall, neck and knife edge of a solid that is thinner than a limit.

    A section is thin where two caliper jaws, facing each other within 44 degrees
    and with only material between them, close to less than the limit; the
    reading is the diameter of the ball that just fits there. Precisely: the
    thickness at a point p of the surface is the diameter of the smallest ball
    tangent there, on the material's side, that touches an opposed point q. The
    way from p to q lies in the material, and within β = 22 degrees of the inward
    normal at p and of the outward normal at q (at an edge or corner: of one of
    its fan of normals). Walls that meet at an ordinary corner do not face each
    other and never count; an edge of 44 degrees or less is a knife edge and
    always counts.

    Parameters
    ----------
    solid : Solid
        In mm.
    limit : float
        In mm.
    progress : callable
        Called with how many samples are measured and how many there are.
    say : callable
        Called with a sentence when something takes long once.

    Returns
    -------
    tuple of ThinRegion
        Thinnest first; knife edges, whose thickness is 0, by their angle.

    Raises
    ------
    JobError
        If the limit is not a positive number.

    Notes
    -----
    Balls in a solid: T. Hildebrand and P. Rüegsegger, J. Microscopy 185 (1997)
    67-75. Leaving out walls that do not face each other: M. Foskey, M. C. Lin and
    D. Manocha, Efficient computation of a simplified medial axis, ACM Solid
    Modeling 2003. A ball tangent at a point, shrunk until it is empty: J. Ma,
    S. W. Bae and S. Choi, Visual Computer 28 (2012) 7-19.
    """
    check_limit(limit)
    if solid.is_empty:
        return ()
    _tell(say)
    from silhouette3d.measure.thickness.chords import thin_chords
    from silhouette3d.measure.thickness.knife import knife_of_chord, knives_of
    from silhouette3d.measure.thickness.query import scene_of
    from silhouette3d.measure.thickness.surface import surface_of

    h = spacing(limit)
    surface = surface_of(solid.mesh)
    scene = scene_of(surface, limit)
    chords, apart = thin_chords(surface, scene, cap(limit), h, progress)
    knives = knives_of(surface.edges)
    owner = knife_of_chord(knives, chords, scene, h)
    beside = np.nonzero(owner >= 0)[0]
    found = [
        *_knife_regions(knives, chords.chosen(beside), owner[beside]),
        *_wall_regions(surface, scene, chords.chosen(np.nonzero(owner < 0)[0]), apart),
    ]
    return tuple(sorted(found, key=_thinnest_first))


def thickness_field(
    solid: Solid,
    limit: float,
    *,
    progress: Callable[[int, int], None] = _quiet,
    say: Callable[[str], None] = _silent,
) -> tuple[Array, Indices, Array]:
    """The thickness at points spread over the surface, for a coloured picture.

    Parameters
    ----------
    solid, limit, progress, say
        As for `thin_regions`.

    Returns
    -------
    points : (n, 3) array
        In mm.
    triangle : (n,) array of int
        Of the solid's mesh, on which each lies; every triangle that has a
        direction has one point at least.
    thickness : (n,) array
        In mm; `limit` where it is that thick or thicker.

    Raises
    ------
    JobError
        If the limit is not a positive number.
    """
    check_limit(limit)
    if solid.is_empty:
        return np.empty((0, 3)), np.empty(0, np.int64), np.empty(0)
    _tell(say)
    from silhouette3d.measure.thickness.chords import measured
    from silhouette3d.measure.thickness.query import scene_of
    from silhouette3d.measure.thickness.sampling import WallSamples
    from silhouette3d.measure.thickness.surface import surface_of

    surface = surface_of(solid.mesh)
    samples = WallSamples(surface, spacing(limit))
    scene = scene_of(surface, limit)
    parts = [
        (some.points, surface.triangle[some.triangle], size)
        for some, size, _ in measured(samples, scene, float(limit), progress)
    ]
    points, triangle, size = (np.concatenate(columns) for columns in zip(*parts, strict=True))
    return points, triangle, size


def _tell(say: Callable[[str], None]) -> None:
    """A word of warning where the machine code is not made yet."""
    from silhouette3d.measure.thickness.compiled import is_kept
    from silhouette3d.measure.thickness.query import smallest_balls

    if not is_kept(smallest_balls):
        say("compiling the search for thin sections; this takes some seconds, once")


def _knife_regions(knives: Knives, beside: Chords, owner: Indices) -> list[ThinRegion]:
    """One for each group of knife edges, with the chords beside them."""
    found = []
    for group in range(int(knives.group.max(initial=-1)) + 1):
        edges = np.nonzero(knives.group == group)[0]
        chords = beside.chosen(np.nonzero(knives.group[owner] == group)[0])
        length = knives.length[edges]
        sharpest = edges[np.lexsort((-length, np.round(knives.angle[edges], 9)))[0]]
        middle = (knives.start[sharpest] + knives.end[sharpest]) / 2.0
        ends = [knives.start[edges], knives.end[edges], chords.samples.points, chords.touch]
        points = np.concatenate(ends)
        found.append(
            ThinRegion(
                "knife",
                0.0,
                float(np.degrees(knives.angle[sharpest])),
                middle,
                middle,
                points.min(axis=0),
                points.max(axis=0),
                float(chords.samples.area.sum()),
                float(length.sum()),
            )
        )
    return found


def _wall_regions(surface: Surface, scene: Scene, chords: Chords, h: float) -> list[ThinRegion]:
    """One for each place, its thinnest point sought from its lowest chords."""
    from silhouette3d.measure.thickness.chords import together
    from silhouette3d.measure.thickness.cluster import places
    from silhouette3d.measure.thickness.query import are_clear
    from silhouette3d.measure.thickness.refine import refined

    ends = np.stack([chords.samples.points, chords.touch], axis=1)
    place = places(ends, chords.size, partial(are_clear, scene), h)
    count = int(place.max(initial=-1)) + 1
    if not count:
        return []
    low, high = np.full((count, 3), np.inf), np.full((count, 3), -np.inf)
    begin_low, begin_high = low.copy(), high.copy()
    for points in (chords.samples.points, chords.touch):
        np.minimum.at(low, place, points)
        np.maximum.at(high, place, points)
    np.minimum.at(begin_low, place, chords.samples.points)
    np.maximum.at(begin_high, place, chords.samples.points)
    area = np.bincount(place, chords.samples.area, count)
    rows = _starts(chords, place)
    home = place[rows]
    room = (begin_low[home] - h, begin_high[home] + h)
    lowest = refined(surface, scene, chords.chosen(rows), *room, h)
    found = []
    for k in range(count):
        here = np.nonzero(home == k)[0]
        best = _middle_of_thinnest(
            together([chords.chosen(np.nonzero(place == k)[0]), lowest.chosen(here)])
        )
        p, q = best.samples.points[0], best.touch[0]
        found.append(
            ThinRegion(
                "wall",
                float(best.size[0]),
                None,
                p,
                q,
                np.minimum(low[k], np.minimum(p, q)),
                np.maximum(high[k], np.maximum(p, q)),
                float(area[k]),
                0.0,
            )
        )
    return found


def _middle_of_thinnest(chords: Chords) -> Chords:
    """The thinnest chord; of several as thin, as in a plate, the one nearest their middle."""
    thinnest = np.nonzero(chords.size <= chords.size.min() * (1.0 + SAME))[0]
    middle = chords.middle[thinnest]
    away = np.linalg.norm(middle - middle.mean(axis=0), axis=1)
    return chords.chosen(thinnest[np.lexsort((thinnest, np.round(away, 6)))[:1]])


def _starts(chords: Chords, place: Indices) -> Indices:
    """The lowest chords of each place, from different triangles, edges and tips."""
    triangle, edge = chords.samples.triangle, chords.samples.edge
    tip = (triangle < 0) & (edge < 0)
    thing = np.where(tip, np.arange(len(chords)), np.maximum(triangle, edge))
    kind = np.where(tip, 2, np.where(edge >= 0, 1, 0))
    order = np.lexsort((chords.size, thing, kind, place))
    key = np.column_stack([place, kind, thing])[order]
    lowest = order[np.concatenate([[True], (key[1:] != key[:-1]).any(axis=1)])]
    lowest = lowest[np.lexsort((chords.size[lowest], place[lowest]))]
    first = np.searchsorted(place[lowest], place[lowest], side="left")
    return np.asarray(lowest[np.arange(len(lowest)) - first < STARTS], np.int64)


def _thinnest_first(region: ThinRegion) -> tuple[float, ...]:
    """By thickness, then angle, then place, so that the order is always the same."""
    angle = 0.0 if region.angle is None else region.angle
    return round(region.thickness, 6), round(angle, 6), *(float(x) for x in np.round(region.at, 6))
