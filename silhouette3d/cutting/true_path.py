"""The outline of a cut and the path beside it as lines and arcs of circles.

At a distance from a line runs a line, from an arc an arc about the same
centre, from a corner an arc about the corner. Which of these a path is made
of, and in what order, is read off the path as simulated, whose straight pieces
lie within the tolerance of it; where two of them meet is worked out anew.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon

from silhouette3d.cutting.kerf import Cut
from silhouette3d.drawing.arcs import (
    Simple,
    heading,
    share_at,
    shifted_right,
)
from silhouette3d.drawing.crossing import crossings
from silhouette3d.drawing.curve import Arc, Array, Line, Point, Sampled
from silhouette3d.drawing.fit import as_arcs
from silhouette3d.drawing.ring import Ring, flattened
from silhouette3d.drawing.trace import traced
from silhouette3d.units import MERGE

__all__ = ["FIT", "outline_rings", "path_rings"]

FIT: Final = 0.5
"""Share of the job's tolerance within which arcs stand for ellipses, Béziers and splines."""

_SMOOTH: Final = 1e-9
"""Sine of a turn below which two pieces run on into each other."""


def outline_rings(cut: Cut) -> tuple[Ring, ...]:
    """The outline in face coordinates, the material on the left hand.

    Lines and arcs of circles are those of the drawing. Arcs within `FIT` of the
    job's tolerance stand for other curves.
    """
    outline = cut.profile.outline
    return tuple(
        Ring(tuple(one for piece in ring for one in as_arcs(piece, FIT * cut.tolerance)))
        for ring in traced(outline.polygons, outline.loops, cut.tolerance)
    )


def path_rings(cut: Cut, outline: Sequence[Ring]) -> tuple[Ring, ...]:
    """Where the cutter's middle runs, the material on the left hand; tabs not left out.

    Half a kerf off the outline's rings, exactly but for rounding, where parts of
    the path meet as worked out. Each ring is measured, and one that is wrong by
    more than the tolerance is replaced by arcs over the simulated path: within three
    times the tolerance, one for the outline's chords, one for the disc's, `FIT` for
    the arcs.
    """
    if cut.kerf == 0.0:
        return tuple(outline)
    beside = _Beside(outline, cut.kerf / 2.0, cut.tolerance)
    area = shapely.orient_polygons(MultiPolygon(_polygons(cut.within_path)))
    lines = [
        shapely.get_coordinates(line)
        for polygon in area.geoms
        for line in (polygon.exterior, *polygon.interiors)
    ]
    return tuple(beside.along(line) for line in lines)


def _polygons(area: shapely.Geometry) -> list[Polygon]:
    return [part for part in shapely.get_parts(area) if isinstance(part, Polygon)]


@dataclass(frozen=True)
class _Source:
    """What a piece of the path runs beside: a piece of a ring, or the corner where it starts."""

    ring: int
    piece: int
    corner: bool


class _Beside:
    """What runs at a distance to the right of some rings."""

    def __init__(self, rings: Sequence[Ring], distance: float, tolerance: float) -> None:
        self.rings, self.distance, self.tolerance = rings, distance, tolerance
        pieces = [(r, i, p) for r, ring in enumerate(rings) for i, p in enumerate(ring.pieces)]
        lines = [LineString(p.chords(tolerance / 20.0)[0]) for _, _, p in pieces]
        self._owner = [(r, i) for r, i, _ in pieces]
        beside = [shifted_right(p, distance) for _, _, p in pieces]
        self._ends_of_pieces = shapely.points(
            [end for piece in beside if piece is not None for end in (piece.start, piece.end)]
        )
        self._tree = shapely.STRtree(lines)

    def along(self, path: Array) -> Ring:
        """The ring that a closed line (n, 2) within the tolerance stands for."""
        runs = self._completed(self._runs(path))
        if len(runs) == 1:
            whole = self._whole(runs[0][0])
            if whole is not None:
                return whole
        curves = [self._curve(source) for source, _ in runs]
        if all(curve is not None for curve in curves):
            meets = [
                self._meeting(before, after, near)
                for (before, _), (after, near) in zip([runs[-1], *runs[:-1]], runs, strict=True)
            ]
            pieces = [
                piece
                for curve, start, end in zip(curves, meets, [*meets[1:], meets[0]], strict=True)
                if curve is not None and math.dist(start, end) > MERGE
                for piece in _from_to(curve, start, end)
            ]
            if pieces and self._off(pieces) <= self.tolerance:
                return Ring(tuple(pieces))
        around = Sampled(tuple((float(u), float(v)) for u, v in path), self.tolerance)
        return Ring(as_arcs(around, FIT * self.tolerance))

    def _runs(self, path: Array) -> list[tuple[_Source, Point]]:
        """What the path runs beside, in order, and where it changes to that.

        A straight piece of it may stand for several, where they bend by little: so it
        is asked between any two of its own corners and of the points where pieces end.
        """
        lengths = np.linalg.norm(np.diff(path, axis=0), axis=1)
        corners = np.concatenate([[0.0], np.cumsum(lengths)])
        sides = np.array(shapely.linestrings(np.stack([path[:-1], path[1:]], axis=1)))
        end, side = shapely.STRtree(sides).query_nearest(
            self._ends_of_pieces, max_distance=2.0 * self.tolerance
        )
        passed = corners[side] + shapely.line_locate_point(sides[side], self._ends_of_pieces[end])
        ways = np.unique(np.concatenate([corners, passed]))
        ways = ways[np.r_[True, np.diff(ways) > MERGE]]
        halfway = (ways[:-1] + ways[1:]) / 2.0
        middles, path = (
            np.column_stack([np.interp(at, corners, path[:, k]) for k in (0, 1)])
            for at in (halfway, ways)
        )
        _, first = np.unique(
            (found := self._tree.query_nearest(shapely.points(middles)))[0], return_index=True
        )
        sources = [
            self._source(int(owner), middle)
            for owner, middle in zip(found[1][first], middles, strict=True)
        ]
        changes = [i for i in range(len(sources)) if sources[i] != sources[i - 1]] or [0]
        return [(sources[i], (float(path[i][0]), float(path[i][1]))) for i in changes]

    def _source(self, owner: int, point: Array) -> _Source:
        ring, index = self._owner[owner]
        pieces = self.rings[ring].pieces
        piece = pieces[index]
        share = float(share_at(piece, point[None])[0])
        if 0.0 <= share <= 1.0:
            return _Source(ring, index, corner=False)
        nearer_end = math.dist(point, piece.end) < math.dist(point, piece.start)
        return _Source(ring, (index + nearer_end) % len(pieces), corner=True)

    def _completed(self, runs: list[tuple[_Source, Point]]) -> list[tuple[_Source, Point]]:
        """With the outer corners too small for the simulated path to show, without inner ones.

        The middle of a straight piece may lie beside an inner corner, where the
        path itself has none.
        """
        kept = [run for run in runs if not run[0].corner or self._is_outer(run[0])]
        found: list[tuple[_Source, Point]] = []
        for (before, _), (after, near) in zip([*kept[-1:], *kept[:-1]], kept, strict=True):
            if self._follows(before, after) and self._is_outer(after):
                found.append((_Source(after.ring, after.piece, corner=True), near))
            found.append((after, near))
        return found

    def _follows(self, before: _Source, after: _Source) -> bool:
        if before.corner or after.corner or before.ring != after.ring:
            return False
        count = len(self.rings[after.ring].pieces)
        return (before.piece + 1) % count == after.piece

    def _is_outer(self, source: _Source) -> bool:
        """Whether the outline turns left where a piece starts, or back on itself."""
        pieces = self._pieces(source)
        (a, b), (c, d) = heading(pieces[source.piece - 1], 1.0), heading(pieces[source.piece], 0.0)
        return a * d - b * c > _SMOOTH or (a * c + b * d < 0.0 and abs(a * d - b * c) <= _SMOOTH)

    def _pieces(self, source: _Source) -> tuple[Simple, ...]:
        return self.rings[source.ring].pieces

    def _ends(self, source: _Source) -> tuple[Array | None, Array | None]:
        """Where the piece before a corner ends and the one after it starts, beside the outline."""
        pieces = self._pieces(source)
        before = shifted_right(pieces[source.piece - 1], self.distance)
        after = shifted_right(pieces[source.piece], self.distance)
        return (
            None if before is None else np.array(before.end),
            None if after is None else np.array(after.start),
        )

    def _curve(self, source: _Source) -> Simple | None:
        piece = self._pieces(source)[source.piece]
        if source.corner:
            return Arc.circular(piece.start, self.distance)
        return shifted_right(piece, self.distance)

    def _whole(self, source: _Source) -> Ring | None:
        """A path beside one closed arc, or about one corner, all round."""
        curve = self._curve(source)
        if isinstance(curve, Arc) and math.isclose(
            abs(curve.end_angle - curve.start_angle), 2.0 * math.pi, rel_tol=1e-9
        ):
            return Ring((curve,))
        return None

    def _meeting(self, before: _Source, after: _Source, near: Point) -> Point:
        """Where the path goes over from beside one thing to beside the next."""
        if before.ring == after.ring and before.corner != after.corner:
            ends = self._ends(before if before.corner else after)
            if before.corner and before.piece == after.piece and ends[1] is not None:
                return float(ends[1][0]), float(ends[1][1])
            count = len(self._pieces(after))
            if after.corner and (before.piece + 1) % count == after.piece and ends[0] is not None:
                return float(ends[0][0]), float(ends[0][1])
        if self._follows(before, after):
            a, b = self._ends(after)
            if a is not None and b is not None and float(np.linalg.norm(a - b)) <= MERGE:
                return float(a[0]), float(a[1])
        first, second = self._curve(before), self._curve(after)
        if first is None or second is None:
            return near
        return min(crossings(first, second), key=lambda p: math.dist(p, near), default=near)

    def _off(self, pieces: Sequence[Simple]) -> float:
        """By how much the distance of a ring from the outline is wrong, at most."""
        points = flattened(pieces, self.tolerance / 20.0)
        between = np.concatenate([points, (points[1:] + points[:-1]) / 2.0])
        _, off = self._tree.query_nearest(
            shapely.points(between), return_distance=True, all_matches=False
        )
        return float(np.abs(off - self.distance).max())


def _from_to(curve: Simple, start: Point, end: Point) -> Iterator[Simple]:
    """The piece of a line or circle between two points near it, the way it runs."""
    if isinstance(curve, Line):
        yield Line(start, end)
        return
    radius = math.hypot(*curve.axis_u)
    (a, b), (c, d) = curve.axis_u, curve.axis_v
    left = (a * d - b * c) * (curve.end_angle - curve.start_angle) > 0.0
    u, v = curve.centre
    first = math.atan2(start[1] - v, start[0] - u)
    sweep = (math.atan2(end[1] - v, end[0] - u) - first) % (2.0 * math.pi)
    yield Arc.circular(
        curve.centre, radius, first, first + (sweep if left else sweep - 2.0 * math.pi)
    )
