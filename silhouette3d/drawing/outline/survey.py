"""Survey curves that do not close, and try what may be declared instead."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
import shapely
from scipy.spatial import KDTree
from shapely import Geometry, MultiPolygon

from silhouette3d.base.units import CLOSE_GAP
from silhouette3d.drawing.choice import ATTRIBUTES, Choice, Offer, alone
from silhouette3d.drawing.model import Array, Curve, Drawing, Line, Point, Shape
from silhouette3d.drawing.outline.closing import Net, unrepeated
from silhouette3d.drawing.outline.nesting import thin
from silhouette3d.drawing.outline.silhouette import enclosed
from silhouette3d.errors import DrawingError

__all__ = [
    "EndKind",
    "Meeting",
    "OpenEnd",
    "Stray",
    "StrayKind",
    "Survey",
    "offers_of",
    "survey_of",
]

# --- Why curves do not close: every loose end and every stray line, sorted by where it lies
#
# Problem: the first fault that is found says little; of ten open ends eight may be those of
# centre lines. Method: ends that meet no other are sorted by what lies at them, in this order:
# the loose end of another line nearby (a gap), the middle of another line, a closed region
# around them, nothing. Lines that stay open when closed ones are set aside are strays, and
# sorted by how they lie to the closed region: through it, ending on it, in it, outside. Each
# question is asked of a tree of lines, so that n of them take O(n log n) besides being cut
# where they meet. This is data: `offers_of` finds what could be declared, `refusal` says it.


EndKind = Literal["gap", "on a line", "inside", "outside"]
StrayKind = Literal["gap", "through", "ends on", "inside", "outside"]

NEAR: Final = 10.0 * CLOSE_GAP
"""mm. Loose ends this near to each other were meant to meet (common practice, no source)."""

NEAR_SHARE: Final = 0.01
"""Of the drawing's diagonal, likewise, where that is more."""

_ROUND: Final = 10.0
"""Times the distance of its ends: a line as long as this was meant to close."""


@dataclass(frozen=True)
class OpenEnd:
    """An end of a line that meets no other.

    Parameters
    ----------
    at : tuple of float
        In mm.
    kind : {"gap", "on a line", "inside", "outside"}
        Near the loose end of another line; on the middle of a line; in a closed region;
        none of these.
    layer, source : str
        Of the line.
    nearest : tuple of float, optional
        The nearest loose end of a different line, in mm; or the other end of its own line, if
        that is nearer and the line goes a long way round.
    """

    at: Point
    kind: EndKind
    layer: str
    source: str
    nearest: Point | None = None

    @property
    def width(self) -> float:
        """Distance to the nearest loose end, in mm."""
        return math.inf if self.nearest is None else math.dist(self.at, self.nearest)


@dataclass(frozen=True)
class Meeting:
    """A place where an odd number of lines meet: `lines` of them, at `at` in mm."""

    at: Point
    lines: int
    layer: str


@dataclass(frozen=True)
class Stray:
    """A line, joined end to end, that is in no closed loop.

    Parameters
    ----------
    kind : {"gap", "through", "ends on", "inside", "outside"}
        It has an end at a gap; it runs through the closed region; it ends on it; it lies in
        it, or outside.
    at : tuple of float
        One of its loose ends, in mm.
    layer, source : str
        Of the line there.
    is_around : bool
        Whether it goes round all that is closed, which then is no outline without it.
    """

    kind: StrayKind
    at: Point
    layer: str
    source: str
    is_around: bool = False


@dataclass(frozen=True)
class Survey:
    """Survey of a drawing that gives no outline.

    Parameters
    ----------
    lines : tuple of (n, 2) arrays
        Every curve, flattened, in mm.
    region : shapely.MultiPolygon
        What they enclose.
    ends : int
        Of all open lines.
    open_ends : tuple of OpenEnd
        Those that meet no other.
    meetings : tuple of Meeting
        Where an odd number of lines meet.
    strays : tuple of Stray
        Lines in no closed loop.
    offers : tuple of Offer
        What would give an outline.
    crossing : tuple of float, optional
        Where a closed loop crosses itself, in mm.
    is_cut_short : bool
        Whether more would be enclosed if ends at gaps were joined.
    """

    lines: tuple[Array, ...]
    region: MultiPolygon
    ends: int
    open_ends: tuple[OpenEnd, ...] = ()
    meetings: tuple[Meeting, ...] = ()
    strays: tuple[Stray, ...] = ()
    offers: tuple[Offer, ...] = ()
    crossing: Point | None = None
    is_cut_short: bool = False


def survey_of(
    shapes: Sequence[Shape],
    tolerance: float,
    where: str,
    crossing: Point | None = None,
) -> Survey:
    """Look at shapes that give no outline; what could be offered is not tried.

    Parameters
    ----------
    shapes : sequence of Shape
        What was chosen, fills closed.
    tolerance : float
        For flattening, in mm.
    where : str
        The file, for messages.
    crossing : tuple of float, optional
        Where a loop crosses itself.
    """
    curves = unrepeated([curve for shape in shapes for curve in shape.curves], tolerance)
    chains = tuple(curve.flatten(tolerance)[0] for curve in curves)
    loose = [curve for curve in curves if not curve.is_closed]
    net = Net.of(loose, where)
    bridged = [*curves, *net.curves[len(loose) :]]
    region = _region(bridged, tolerance, where)
    ends = tuple(_ends(net, curves, chains, region, tolerance))
    return Survey(
        chains,
        region,
        2 * len(loose),
        ends,
        tuple(Meeting(net.end(n[0]), len(n), net.curves[n[0] // 2].layer) for n in net.odd),
        tuple(_strays(net, ends, region, tolerance)),
        crossing=crossing,
        is_cut_short=_is_cut_short(bridged, ends, region, tolerance, where),
    )


def _region(curves: Sequence[Curve], tolerance: float, where: str) -> MultiPolygon:
    """Find what curves enclose; nothing where that is too much to tell."""
    try:
        region = enclosed(curves, tolerance, where)
    except DrawingError:
        region = MultiPolygon()
    shapely.prepare(region)
    return region


def _is_cut_short(
    curves: Sequence[Curve],
    ends: Sequence[OpenEnd],
    region: MultiPolygon,
    tolerance: float,
    where: str,
) -> bool:
    """Tell whether more would be enclosed if ends at gaps were joined."""
    joined = [
        Curve((Line(end.at, end.nearest),), end.layer)
        for end in ends
        if end.kind == "gap" and end.nearest is not None
    ]
    if not joined:
        return False
    whole = _region([*curves, *joined], tolerance, where)
    return not thin(np.array([shapely.difference(whole, region)]), CLOSE_GAP).all()


def _ends(
    net: Net,
    curves: Sequence[Curve],
    chains: Sequence[Array],
    region: MultiPolygon,
    tolerance: float,
) -> Iterator[OpenEnd]:
    """Sort the loose ends of a net by what lies at them."""
    loose = net.loose
    if not loose:
        return
    places = np.array([net.end(i) for i in loose])
    every = np.concatenate(chains)
    near = max(NEAR, NEAR_SHARE * float(np.linalg.norm(np.ptp(every, axis=0))))
    line_of = {id(curve): k for k, curve in enumerate(curves)}
    own = [line_of[id(net.curves[i // 2])] for i in loose]
    # of the three nearest at most two are ends of one line
    found = np.asarray(KDTree(places).query(places, k=range(1, 1 + min(4, len(loose))))[1])
    lines = np.array([shapely.LineString(points) for points in chains], object)

    def goes_round(k: int, j: int) -> bool:
        """Tell whether two ends are those of one line that nearly closes."""
        apart = math.dist(places[k], places[j])
        return j != k and float(shapely.length(lines[own[k]])) > _ROUND * apart

    touched = _touched(lines, places, CLOSE_GAP + tolerance)
    for k, end in enumerate(loose):
        curve = net.curves[end // 2]
        nearest = next((int(j) for j in found[k] if own[j] != own[k] or goes_round(k, j)), None)
        at: Point = (float(places[k, 0]), float(places[k, 1]))
        other = None if nearest is None else (float(places[nearest, 0]), float(places[nearest, 1]))
        # two ends on a third line are near each other by chance
        ignored = {own[k]} if nearest is None else {own[k], own[nearest]}
        is_near = other is not None and math.dist(at, other) <= near
        kind: EndKind = "outside"
        if is_near and not touched[k] - ignored:
            kind = "gap"
        elif touched[k] - {own[k]}:
            kind = "on a line"
        elif shapely.contains_xy(region, *at):
            kind = "inside"
        yield OpenEnd(at, kind, curve.layer, curve.source, other)


def _touched(lines: np.ndarray, places: Array, reach: float) -> list[set[int]]:
    """Find lines that pass within some mm of each place."""
    found: list[set[int]] = [set() for _ in places]
    at, line = shapely.STRtree(lines).query(
        shapely.points(places), predicate="dwithin", distance=reach
    )
    for k, i in zip(at.tolist(), line.tolist(), strict=True):
        found[k].add(i)
    return found


def _strays(
    net: Net, ends: Sequence[OpenEnd], region: MultiPolygon, tolerance: float
) -> Iterator[Stray]:
    """Sort what is left when closed loops are set aside, joined end to end."""
    kept = {id(curve) for curve in net.pruned().curves}
    open_ends = {end.at: end for end in ends}
    for group in _joined([i for i, c in enumerate(net.curves) if id(c) not in kept], net):
        places = [net.end(end) for i in group for end in (2 * i, 2 * i + 1)]
        own = [open_ends[place] for place in places if place in open_ends]
        if own:
            lines = shapely.multilinestrings(
                [shapely.LineString(net.curves[i].flatten(tolerance)[0]) for i in group]
            )
            first = own[0]
            kind = _kind(own, lines, region, tolerance)
            around = _is_around(lines, region, CLOSE_GAP + tolerance)
            yield Stray(kind, first.at, first.layer, first.source, around)


def _is_around(lines: Geometry, region: MultiPolygon, reach: float) -> bool:
    """Tell whether a line lies off the closed region and goes round all of it."""
    off = shapely.difference(lines, shapely.buffer(region, reach))
    return bool(
        shapely.length(off) > shapely.length(lines) / 2.0
        and shapely.covers(shapely.convex_hull(lines), region)
    )


def _joined(indices: Sequence[int], net: Net) -> list[list[int]]:
    """Join curves that hang together by their ends."""
    node = {end: k for k, ends in enumerate(net.nodes) for end in ends}
    at: dict[int, list[int]] = defaultdict(list)
    for i in indices:
        for end in (2 * i, 2 * i + 1):
            at[node[end]].append(i)
    left = dict.fromkeys(indices)
    groups = []
    while left:
        group, new = [], [next(iter(left))]
        while new:
            i = new.pop()
            if i in left:
                del left[i]
                group.append(i)
                new += [j for end in (2 * i, 2 * i + 1) for j in at[node[end]]]
        groups.append(group)
    return groups


def _kind(
    ends: Sequence[OpenEnd], lines: Geometry, region: MultiPolygon, tolerance: float
) -> StrayKind:
    reach = CLOSE_GAP + tolerance
    if any(end.kind == "gap" for end in ends):
        return "gap"
    inside = shapely.length(shapely.intersection(lines, region)) > reach
    outside = shapely.length(shapely.difference(lines, shapely.buffer(region, reach))) > reach
    if inside and outside:
        return "through"
    if any(end.kind == "on a line" for end in ends) and not region.is_empty:
        return "ends on"
    return "inside" if inside else "outside"


# --- What may be declared of a drawing that gives no outline: every choice is tried


MOST_ALONE: Final = 8
"""Layers, colours or linetypes that are each tried alone."""

MOST_CORNERS: Final = 20_000
"""Of a drawing for which choices are tried: each takes as long as reading it."""

MOST_LINES: Final = 2_000
"""Open ones, likewise: they have to be cut where they meet."""


def offers_of(
    drawing: Drawing,
    choice: Choice,
    survey: Survey,
    area_of: Callable[[Choice], float | None],
) -> tuple[Offer, ...]:
    """Try what may be declared instead of a choice that gives no outline.

    To ignore open lines, or to take the silhouette, is not offered where an open line goes
    round all that is closed, or more would be closed without gaps: what is closed is no part
    then, but a hole in it or a piece of it.

    Parameters
    ----------
    drawing : Drawing
        As read.
    choice : Choice
        What was declared.
    survey : Survey
        Of what was chosen.
    area_of : callable
        The area in mm² that a choice gives, None if none.
    """
    shapes = choice.shapes(drawing)
    if sum(map(len, survey.lines)) > MOST_CORNERS or survey.ends > 2 * MOST_LINES:
        return ()
    around = survey.is_cut_short or any(stray.is_around for stray in survey.strays)
    return tuple(_tried(shapes, choice, area_of, attributes_only=around))


def _tried(
    shapes: Sequence[Shape],
    choice: Choice,
    area_of: Callable[[Choice], float | None],
    attributes_only: bool,
) -> Iterator[Offer]:
    for attribute in ATTRIBUTES:
        ways = alone(choice, shapes, attribute)
        if len(ways) <= MOST_ALONE:
            for name, way in ways.items():
                if (area := area_of(way)) is not None:
                    yield Offer(attribute, name, area)
    if attributes_only:
        return
    if choice.open is None and (area := area_of(replace(choice, open="ignore"))) is not None:
        yield Offer("open", "ignore", area)
    if choice.take is None and (area := area_of(replace(choice, take="silhouette"))) is not None:
        yield Offer("take", "silhouette", area)
