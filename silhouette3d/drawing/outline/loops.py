"""Loops of an outline one by one: too many to look at, knotted, crossing, nearly coincident."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal, NoReturn

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry, MultiPolygon, Polygon

from silhouette3d.base.units import CLOSE_GAP
from silhouette3d.drawing.model import Array, Curve, Point
from silhouette3d.errors import DrawingError
from silhouette3d.geometry.tolerances import GRID, MERGE

__all__ = [
    "MOST_CROSSINGS",
    "MOST_CUT",
    "MOST_MEETINGS",
    "MOST_PAIRS",
    "CrossesItselfError",
    "Double",
    "Rings",
    "SelfCrossing",
    "beside",
    "refuse",
    "refuse_crowd",
    "refuse_tangle",
    "refuse_to_cut",
    "rings_of",
    "sides_of",
    "taken_as_one",
    "without_self_crossings",
]

# --- Whether so many shapes lie across each other that working out where would never end
#
# Geometry takes time with every pair of shapes that meet. A drawing of a part
# has about as many pairs as shapes; a tangle of n lines has n²/2.


MOST_CROSSINGS: Final = 20_000
"""Of straight pieces: each makes two more of them, and some seconds go by."""

MOST_MEETINGS: Final = 1_000_000
"""Of loops that meet each other or lie in each other: each pair is looked at for a microsecond."""

MOST_CUT: Final = 40_000
"""Corners of lines that are cut where they meet: lines on one straight line take GEOS a time
that grows with their square, some 10 s here."""

MOST_PAIRS: Final = 5_000
"""Of loops that overlap each other or seem to be one: each pair takes about a millisecond."""

_SAMPLE: Final = 100


def refuse_crowd(
    shapes: NDArray[np.object_],
    how: Literal["overlaps", "intersects"],
    most: int,
    where: str,
) -> None:
    """Refuse shapes of which more than some number of pairs meet.

    The number is judged by how many others a sample of them meets, so that finding
    out does not take what it is to save; the same shapes give the same answer.

    Parameters
    ----------
    shapes : array of shapely geometries
        Lines or areas.
    how : {"overlaps", "intersects"}
        What counts as meeting.
    most : int
        Pairs.
    where : str
        The file, for the message.

    Raises
    ------
    DrawingError
        If there are more.
    """
    count = len(shapes)
    if count * count <= most:
        return
    sample = np.random.default_rng(count).choice(count, min(count, _SAMPLE), replace=False)
    found = shapely.STRtree(shapes).query(shapes[sample], predicate=how).shape[1]
    pairs = (found - len(sample)) * count / len(sample) / 2.0  # each from both sides, and itself
    if pairs > most:
        refuse(most, where)


def refuse(most: int, where: str) -> NoReturn:
    """Say that there are more than so many places where lines meet.

    Raises
    ------
    DrawingError
        Always.
    """
    raise DrawingError(
        f"its lines lie across each other in more than about {most:,} places",
        where=where,
        todo="leave only the outline on its layer",
    )


def refuse_tangle(chains: list[Array], where: str) -> None:
    """Refuse chains of points (n, 2) whose straight pieces meet in too many places.

    A piece meets the next one of its chain, so as many meetings as pieces are free.

    Raises
    ------
    DrawingError
        If there are more than some `MOST_CROSSINGS` others.
    """
    sides = sides_of(chains)
    refuse_crowd(sides, "intersects", MOST_CROSSINGS + 2 * len(sides), where)


def refuse_to_cut(chains: list[Array], where: str) -> None:
    """Refuse to cut chains of points (n, 2) where they meet, if that would never end.

    Raises
    ------
    DrawingError
        If they have too many corners, or meet in too many places.
    """
    if sum(map(len, chains)) > MOST_CUT:
        refuse(MOST_CUT, where)
    refuse_tangle(chains, where)


def sides_of(chains: list[Array]) -> NDArray[np.object_]:
    """List every straight piece of chains of points (n, 2), as a line."""
    ends = [np.stack([points[:-1], points[1:]], axis=1) for points in chains if len(points) > 1]
    lines: Any = shapely.linestrings(np.concatenate(ends)) if ends else []
    return np.atleast_1d(np.asarray(lines, object))


# --- Thin loops in which an outline crosses itself, cut off
#
# Problem: where coordinates were rounded, ends that should meet lie a little past each other
# and the lines cross right beside them; or a line runs back along itself, not quite on itself.
# Method: between its two passages through a crossing a loop goes two ways. The thinner of them
# is dropped if it is nowhere wider than a gap that would be joined, however far it reaches.
# Invariant: each knot that is cut off takes at least one passage through another side away.


_MOST: Final = 100
"""Of one loop: each is looked for anew. A loop with more was not meant to be an outline."""


@dataclass(frozen=True)
class SelfCrossing:
    """Knot that was cut off.

    Parameters
    ----------
    at : tuple of float
        Where the loop crosses itself, in mm.
    width : float
        Diameter of the largest disc in what it encloses, in mm.
    reach : float
        How far it strays from the crossing, in mm.
    length : float
        All round, in mm.
    """

    at: Point
    width: float
    reach: float
    length: float

    @property
    def area(self) -> float:
        """Bound on what it encloses, in mm², counted as often as it is gone round.

        A line that crosses itself is simple loops, one after the other. No point inside any
        of them is further from it than half the width, and what lies inside a loop within r
        of it is no larger than r times its length.
        """
        return self.width * self.length / 2.0


def without_self_crossings(
    points: Array, where: str
) -> tuple[Array, tuple[SelfCrossing, ...], Point | None]:
    """Cut the knots off a loop.

    Parameters
    ----------
    points : (n, 2) array
        Of a closed loop, the last not the first again, in mm.
    where : str
        The file, for messages.

    Returns
    -------
    points : (m, 2) array
        What is left.
    knots : tuple of SelfCrossing
        What was cut off.
    crossing : tuple of float or None
        Where it still crosses itself.

    Raises
    ------
    DrawingError
        If its lines lie across each other in too many places.
    """
    knots: list[SelfCrossing] = []
    while (found := _crossing(points, where)) is not None:
        i, j, at = found
        ways = [points[i + 1 : j + 1], np.vstack([points[j + 1 :], points[: i + 1]])]
        loops = [_enclosed(np.vstack([at, way])) for way in ways]
        thin = min((0, 1), key=lambda k: (_is_wide(loops[k]), shapely.area(loops[k])))
        if _is_wide(loops[thin]) or len(knots) == _MOST:
            return points, tuple(knots), at
        knots.append(_knot(at, ways[thin], loops[thin]))
        points = np.vstack([at, ways[1 - thin]])
    return points, tuple(knots), None


def _enclosed(points: Array) -> Geometry:
    """Find what a closed way goes round, however often; empty if it only runs out and back."""
    if len(points) < 3:
        return shapely.MultiPolygon()
    line = shapely.LineString(np.vstack([points, points[:1]]))
    return shapely.union_all(shapely.get_parts(shapely.polygonize([shapely.node(line)])))


def _is_wide(area: Geometry) -> bool:
    """Tell whether a disc wider than a gap that would be joined fits into it."""
    return not shapely.buffer(area, -CLOSE_GAP / 2.0).is_empty


def _knot(at: Point, way: Array, area: Geometry) -> SelfCrossing:
    around = np.vstack([at, way, at])
    parts = np.asarray(shapely.get_parts(area), object)
    parts = parts[~shapely.is_empty(parts)]  # what encloses nothing can be an empty part
    radii = shapely.length(shapely.maximum_inscribed_circle(parts, np.full(len(parts), MERGE)))
    return SelfCrossing(
        at,
        2.0 * (float(np.max(radii, initial=0.0)) + MERGE),
        float(np.linalg.norm(way - at, axis=1).max()),
        float(np.linalg.norm(np.diff(around, axis=0), axis=1).sum()),
    )


def _crossing(points: Array, where: str) -> tuple[int, int, Point] | None:
    """Find the side of a loop that passes through a later one, and where.

    Passages within `MERGE` of an end are touches.
    """
    around = np.vstack([points, points[:1]])
    ends = np.stack([around[:-1], around[1:]], axis=1)
    refuse_tangle([around], where)
    sides = sides_of([around])
    i, j = shapely.STRtree(sides).query(sides, predicate="crosses")
    here = shapely.get_coordinates(shapely.intersection(sides[i], sides[j]))
    steps = here[:, None] - np.concatenate([ends[i], ends[j]], axis=1)
    inside = np.nonzero(np.linalg.norm(steps, axis=2).min(axis=1) > MERGE)[0]
    if not len(inside):
        return None
    first, second = sorted((int(i[inside[0]]), int(j[inside[0]])))
    return first, second, (float(here[inside[0], 0]), float(here[inside[0], 1]))


# --- Closed curves as areas: flattened, checked, mended where they touch or knot
#
# A loop may touch itself, and run back over itself, but it may go round a point
# of its area only once. Tiny knots are cut off.


class CrossesItselfError(Exception):
    """A loop goes through itself: of line work nobody knows then what is inside.

    Parameters
    ----------
    at : tuple of float
        Where, in mm.
    loop : Curve
        Which.
    """

    def __init__(self, at: Point, loop: Curve) -> None:
        super().__init__(at, loop)
        self.at, self.loop = at, loop


@dataclass(frozen=True)
class Rings:
    """Areas of loops.

    Parameters
    ----------
    areas : tuple of shapely geometries
        The area of each loop, without holes; its exterior runs as the loop was drawn.
    drawn : tuple of Curve
        The loop of each.
    area_error : float
        Bound in mm² on what lies between all of the curves and their areas.
    knots : tuple of SelfCrossing
        What was cut off.
    """

    areas: tuple[Geometry, ...]
    drawn: tuple[Curve, ...]
    area_error: float
    knots: tuple[SelfCrossing, ...]


def rings_of(loops: Sequence[Curve], tolerance: float, where: str) -> Rings:
    """Flatten loops into areas; those that enclose nothing are left out.

    Raises
    ------
    CrossesItselfError
        If a loop does.
    DrawingError
        If its lines lie across each other in too many places.
    """
    areas: list[Geometry] = []
    drawn: list[Curve] = []
    error = 0.0
    knots: list[SelfCrossing] = []
    for loop in loops:
        points, area = loop.flatten(tolerance)
        ring, tied = _simple(_without_repeats(points), loop, where)
        if ring is not None:
            areas.append(ring)
            drawn.append(loop)
            error += area + sum(knot.area for knot in tied)
            knots += tied
    return Rings(tuple(areas), tuple(drawn), error, tuple(knots))


def _without_repeats(points: Array) -> Array:
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    return np.asarray(points[np.r_[True, steps > MERGE]])


def _simple(
    points: Array, loop: Curve, where: str
) -> tuple[Geometry | None, tuple[SelfCrossing, ...]]:
    """Make a loop a valid area, None when it encloses nothing; give the knots cut off."""
    if len(points) > 1 and np.linalg.norm(points[-1] - points[0]) <= MERGE:
        points = points[:-1]
    if len(points) < 3:
        return None, ()
    polygon, knots = Polygon(points), tuple[SelfCrossing, ...]()
    is_valid = polygon.is_valid
    if not is_valid:
        points, knots, at = without_self_crossings(points, where)
        if at is not None:
            raise CrossesItselfError(at, loop)
        if len(points) < 3:
            return None, ()
        polygon = Polygon(points)
        is_valid = polygon.is_valid
    nothing = MERGE * polygon.length
    if is_valid:
        return (polygon if polygon.area > nothing else None), knots
    mended = shapely.get_parts(shapely.get_parts(shapely.make_valid(polygon)))  # it may nest them
    area = MultiPolygon([p for p in mended if isinstance(p, Polygon) and p.area > nothing])
    if abs(area.area - polygon.area) > nothing:
        # through itself exactly in a corner, or twice round
        found = re.search(r"\[(\S+) (\S+)\]", shapely.is_valid_reason(polygon))
        at = (float(found[1]), float(found[2])) if found else loop.start
        raise CrossesItselfError(at, loop)
    whole = shapely.orient_polygons(area, exterior_cw=_clockwise(points))
    return (None if area.is_empty else whole), knots


def _clockwise(points: Array) -> bool:
    x, y = (points - points[0]).T
    return bool(x @ np.roll(y, -1) < y @ np.roll(x, -1))


# --- Loops that nearly coincide: drawn twice, not quite in the same place, or a very thin ring
#
# Two loops of which one was meant make a sliver of a ring where they are taken as two, and
# lose one of them where they are taken as one; nobody can tell from the drawing which is
# right. So both are told, with how far apart they run, along which length, and what area lies
# between.


_ALONG: Final = 20.0 * CLOSE_GAP
"""mm. Loops that run beside each other along less only come near each other there."""

_SHARE: Final = 0.1
"""Of the shorter loop's length, likewise: large circles that touch stay near for long."""

_FINER: Final = 0.02
"""Share of the tolerance to which curves are flattened to see how far apart they are."""

_MOST_POINTS: Final = 20_000
"""Of a curve that is flattened so; one that takes more is compared as it is."""


@dataclass(frozen=True)
class Double:
    """Two loops that nearly coincide.

    Parameters
    ----------
    at : tuple of float
        On the second of them, in mm.
    apart : float
        How far apart they run there, in mm.
    length : float
        Along which they do, in mm.
    area : float
        Between them, in mm².
    is_one : bool
        Whether they were taken as one loop drawn twice.
    """

    at: Point
    apart: float
    length: float
    area: float
    is_one: bool

    def moved(self, to: Callable[[Point], Point], size: float) -> Double:
        """Move with a drawing, the areas made `size` times as large."""
        longer = math.sqrt(size)
        return Double(
            to(self.at), longer * self.apart, longer * self.length, size * self.area, self.is_one
        )


def taken_as_one(
    doubles: Iterable[tuple[tuple[Geometry, Curve | None], tuple[Geometry, Curve | None]]],
    tolerance: float,
) -> list[Double]:
    """Measure how far loops that were taken as one are apart.

    Parameters
    ----------
    doubles : iterable of pairs
        A loop that was left out, and the one that stands for it: the area of each and the
        curve it was flattened from, so that chords make no difference.
    tolerance : float
        With which, in mm.
    """
    found = []
    for first, second in doubles:
        a, b = _finely(*first, tolerance), _finely(*second, tolerance)
        points = shapely.get_coordinates(a)
        far = np.atleast_1d(shapely.distance(shapely.boundary(b), shapely.points(points)))
        worst = int(np.argmax(far))
        at = float(points[worst, 0]), float(points[worst, 1])
        between = float(shapely.area(shapely.symmetric_difference(a, b, grid_size=GRID)))
        found.append(Double(at, float(far[worst]), float(shapely.length(a)), between, is_one=True))
    return found


def _finely(area: Geometry, curve: Curve | None, tolerance: float) -> Geometry:
    """Flatten a loop so finely that what is left are differences of curves."""
    if curve is None or curve.count(_FINER * tolerance) > _MOST_POINTS:
        return area
    fine = shapely.Polygon(curve.flatten(_FINER * tolerance)[0])
    return fine if fine.is_valid else area


def beside(rings: Sequence[Geometry], reach: float, where: str) -> list[Double]:
    """Find loops that run further apart than `reach` mm, and no further than `CLOSE_GAP`.

    Along at least 1 mm and a tenth of the shorter loop: so that loops which touch, or
    share a side, are none.

    Parameters
    ----------
    rings : sequence of shapely geometries
        The area of each loop, none drawn twice.
    reach : float
        Nearer loops are drawn as one there, or touch.
    where : str
        The file, for messages.

    Raises
    ------
    DrawingError
        If too many loops come near each other.
    """
    if len(rings) < 2 or reach >= CLOSE_GAP:
        return []
    edges = shapely.boundary(np.array(rings))
    i, j = shapely.STRtree(edges).query(edges, predicate="dwithin", distance=CLOSE_GAP)
    i, j = i[i < j], j[i < j]
    if len(i) > MOST_PAIRS:
        refuse(MOST_PAIRS, where)
    found = (_along(edges[a], edges[b], reach) for a, b in zip(i, j, strict=True))
    return [double for double in found if double is not None]


def _along(first: Geometry, second: Geometry, reach: float) -> Double | None:
    shorter, longer = sorted((first, second), key=shapely.length)
    near = shapely.intersection(shorter, shapely.buffer(longer, CLOSE_GAP))
    between = shapely.difference(near, shapely.buffer(longer, reach))
    length = float(shapely.length(between))
    if length < max(_ALONG, _SHARE * shapely.length(shorter)):
        return None
    stretches = np.asarray(shapely.get_parts(between), object)
    lengths = shapely.length(stretches)
    middles = _middles(stretches, lengths)
    apart = shapely.distance(longer, middles)
    at = shapely.get_coordinates(middles)[int(np.argmax(lengths))]
    return Double(
        (float(at[0]), float(at[1])),
        float(apart[int(np.argmax(lengths))]),
        length,
        float(lengths @ apart),
        is_one=False,
    )


def _middles(stretches: NDArray[np.object_], lengths: Array) -> NDArray[np.object_]:
    return np.asarray(shapely.line_interpolate_point(stretches, lengths / 2.0), object)
