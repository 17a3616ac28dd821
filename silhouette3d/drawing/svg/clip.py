"""Clips of an SVG file: inner pages that cut off what goes beyond them, and clip paths.

An object within its clip is kept as it is. One that goes beyond it becomes its area within,
of which whole chords give their curves back; where a chord was cut, a straight piece remains
that strays from its curve by no more than the fine tolerance, and says so.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import numpy as np
import shapely
from shapely import Geometry, Polygon

from silhouette3d.base.limits import FARTHEST
from silhouette3d.drawing.arcs.trace import traced
from silhouette3d.drawing.model import Array, Curve, FillRule, Line, Piece, Sampled, Shape, polyline
from silhouette3d.drawing.outline.nesting import area_by_rule
from silhouette3d.drawing.outline.outline import refuse_too_fine
from silhouette3d.drawing.svg.document import SvgFile, local_name, target_name
from silhouette3d.drawing.svg.shapes import SHAPES, in_mm, sub_paths
from silhouette3d.drawing.svg.style import Cascade, SvgLook, referred
from silhouette3d.drawing.svg.values import BadValueError, Box, Lengths, placed, transform
from silhouette3d.geometry.polygons import polygons_of
from silhouette3d.geometry.tolerances import GRID, MERGE

__all__ = ["Clip", "ClipPaths", "cut", "rectangle"]

_MOST_CLIPS: Final = 20
"""Clip paths that are clipped by one another."""


@dataclass(frozen=True, eq=False)
class Clip:
    """Area in which something is seen.

    Parameters
    ----------
    area : shapely geometry
        In mm.
    loops : tuple of Curve
        What bounds it, as drawn.
    """

    area: Geometry
    loops: tuple[Curve, ...]

    def within(self, around: Clip | None) -> Clip:
        """Narrow it to what lies in another."""
        if around is None:
            return self
        area = polygons_of(shapely.intersection(self.area, around.area, grid_size=GRID))
        return Clip(area, (*around.loops, *self.loops))

    def covers(self, curves: Sequence[Curve], tolerance: float) -> bool:
        """Tell whether curves lie in it, but for rounding."""
        lines = [shapely.LineString(curve.flatten(tolerance)[0]) for curve in curves]
        grown = shapely.buffer(self.area, MERGE, join_style="mitre")
        return bool(shapely.covers(grown, shapely.MultiLineString(lines)))

    def misses(self, curves: Sequence[Curve], tolerance: float) -> bool:
        """Tell whether no part of any curve lies in it."""
        lines = [shapely.LineString(curve.flatten(tolerance)[0]) for curve in curves]
        return not shapely.intersects(self.area, shapely.MultiLineString(lines))


def rectangle(box: Box, matrix: Array) -> Clip:
    """Make a clip of a rectangle in user units, with their map, 3 × 3, into mm.

    Raises
    ------
    BadValueError
        If it lies too far away.
    """
    low, high = (box.x, box.y), (box.x + box.width, box.y + box.height)
    corners = np.array([low, (high[0], low[1]), high, (low[0], high[1])])
    points = corners @ matrix[:2, :2].T + matrix[:2, 2]
    if not (np.abs(points) <= FARTHEST).all():  # also when it is not a number
        raise BadValueError(f"what it shows goes beyond {FARTHEST:g} mm")
    loop = Curve(polyline([(float(u), float(v)) for u, v in points], closed=True))
    return Clip(Polygon(points), (loop,))


def cut(shape: Shape, clip: Clip, tolerance: float, where: str) -> Shape | None:
    """Cut a filled object at its clip.

    Parameters
    ----------
    shape : Shape
        Of any curves; open ones are closed, as fills are.
    clip : Clip
        Where it is seen.
    tolerance : float
        With which curves are made straight to be cut, in mm.
    where : str
        The file, for messages.

    Returns
    -------
    Shape, optional
        None if nothing is left. Its loops bound its area: the rule is ``"evenodd"``.

    Raises
    ------
    DrawingError
        If its lines lie across each other in too many places.
    """
    assert shape.fill is not None
    refuse_too_fine(shape.curves, tolerance, where)
    loops = tuple(_closed(curve) for curve in shape.curves)
    chains = [loop.flatten(tolerance)[0] for loop in loops]
    whole = area_by_rule(chains, shape.fill, where)
    left = shapely.intersection(whole, clip.area, grid_size=GRID)
    parts = polygons_of(left).geoms
    seen = shapely.MultiPolygon([p for p in parts if p.area > MERGE * p.length])
    first = shape.curves[0]
    curves = tuple(
        Curve(ring, first.layer, first.source)
        for ring in _rings(seen, (*loops, *clip.loops), tolerance)
    )
    return replace(shape, curves=curves, fill="evenodd") if curves else None


def _closed(curve: Curve) -> Curve:
    if curve.is_closed:
        return curve
    return replace(curve, pieces=(*curve.pieces, Line(curve.end, curve.start)))


def _rings(
    area: shapely.MultiPolygon, loops: Sequence[Curve], tolerance: float
) -> Iterator[tuple[Piece, ...]]:
    """Make the rings of an area pieces of the loops that bound it."""
    straight = [p for loop in loops for p in loop.pieces if isinstance(p, Line)]
    ends = [shapely.LineString((p.start, p.end)) for p in straight]
    tree = shapely.STRtree(ends)
    for ring in traced(area, loops, tolerance):
        yield tuple(
            Sampled((p.start, p.end), tolerance)
            if isinstance(p, Line) and not _lies_along(p, tree)
            else p
            for p in ring
        )


def _lies_along(piece: Line, tree: shapely.STRtree) -> bool:
    """Tell whether a straight piece was straight already."""
    line = shapely.LineString((piece.start, piece.end))
    near = tree.query(line, predicate="dwithin", distance=2.0 * MERGE)
    ends = shapely.points([piece.start, piece.end])
    far = shapely.distance(tree.geometries[near][:, None], ends)
    return bool((far <= 2.0 * MERGE).all(axis=1).any())


class _Frame(NamedTuple):
    """Frame in which a clip path is looked at: the map into mm, 3 × 3, and lengths there."""

    matrix: Array
    lengths: Lengths


class ClipPaths:
    """Reads the clip paths of one file.

    Parameters
    ----------
    file : SvgFile
        As opened.
    cascade : Cascade
        What is declared in it.
    tolerance : float
        With which curves are made straight, in mm.
    count : callable
        Told of each element and the number of pieces it is drawn with; raises beyond the limit.
    """

    def __init__(
        self,
        file: SvgFile,
        cascade: Cascade,
        tolerance: float,
        count: Callable[[ET.Element, int], None],
    ) -> None:
        self._file, self._cascade = file, cascade
        self._tolerance, self._count = tolerance, count

    def of(
        self, values: Mapping[str, str], matrix: Array, lengths: Lengths, box: Box | None
    ) -> Clip | None:
        """Read the clip that an element asks for.

        Parameters
        ----------
        values : mapping of str to str
            The element's.
        matrix : Array
            3 × 3, from its user units to mm.
        lengths : Lengths
            Of its viewport.
        box : Box, optional
            What it fills, in user units, if that is known.

        Returns
        -------
        Clip, optional
            None if it asks for none, or for one that is not in the file.

        Raises
        ------
        UnreadableClipError
            If it is not made of shapes.
        BadValueError
            If one of its shapes cannot be read.
        """
        return self._of(values, _Frame(matrix, lengths), box, ())

    def _of(
        self,
        values: Mapping[str, str],
        frame: _Frame,
        box: Box | None,
        busy: tuple[ET.Element, ...],
    ) -> Clip | None:
        text = values.get("clip-path", "none").strip()
        if text.lower() in {"none", "inherit", "initial", "unset", ""}:
            return None
        reference = referred(text)
        if reference is None or len(busy) > _MOST_CLIPS:
            raise UnreadableClipError
        path = self._file.referred(reference[0])
        if path is None or local_name(path) != "clipPath" or path in busy:
            return None
        busy = (*busy, path)
        own = self._cascade.values(path)
        around = self._of(own, frame, box, busy)
        if own.get("clipPathUnits", "").strip() == "objectBoundingBox":
            if box is None:
                raise UnreadableClipError
            fit = np.array([[box.width, 0, box.x], [0, box.height, box.y], [0, 0, 1.0]])
            frame = frame._replace(matrix=frame.matrix @ fit)
        frame = frame._replace(matrix=frame.matrix @ transform(own, frame.lengths))
        look = self._look(path)
        parts = [
            part for child in path if (part := self._part(child, frame, look, busy)) is not None
        ]
        loops = tuple(loop for part in parts for loop in part.loops)
        area = polygons_of(shapely.union_all([part.area for part in parts], grid_size=GRID))
        return Clip(area, loops).within(around)

    def _look(self, path: ET.Element) -> SvgLook:
        """Find the properties that a clip path has from where it stands, not from its user."""
        chain = [path]
        while (parent := self._file.parents.get(chain[-1])) is not None:
            chain.append(parent)
        look = SvgLook.initial()
        for element in reversed(chain):
            look = look.within(self._cascade.values(element))
        return look

    def _part(
        self, child: ET.Element, frame: _Frame, look: SvgLook, busy: tuple[ET.Element, ...]
    ) -> Clip | None:
        """Find what one child of a clip path adds to it."""
        tag, values = local_name(child), self._cascade.values(child)
        if tag not in SHAPES and tag not in {"use", "text"}:
            return None
        look = look.within(values)
        if values.get("display", "").strip().lower() == "none":
            return None
        frame = frame._replace(matrix=frame.matrix @ transform(values, frame.lengths))
        if tag == "use":
            frame = frame._replace(matrix=frame.matrix @ placed(values, frame.lengths))
            target = self._file.referred(target_name(values))
            if target is None or local_name(target) == "use":
                return None
            part = self._part(target, frame, look, busy)
        elif tag == "text":
            raise UnreadableClipError
        else:
            part = self._shape(child, values, frame, look)
        around = self._of(values, frame, None, busy)
        return part.within(around) if part else None

    def _shape(
        self, child: ET.Element, values: Mapping[str, str], frame: _Frame, look: SvgLook
    ) -> Clip | None:
        found = sub_paths(local_name(child), values, frame.lengths) if look.is_visible else []
        self._count(child, 1 + sum(len(sub_path.pieces) for sub_path in found))
        if not found:
            return None
        loops = tuple(_closed(in_mm(s, frame.matrix)) for s in found)
        refuse_too_fine(loops, self._tolerance, str(self._file.path))
        chains = [loop.flatten(self._tolerance)[0] for loop in loops]
        rule: FillRule = look.clip_rule
        return Clip(area_by_rule(chains, rule, str(self._file.path)), loops)


class UnreadableClipError(BadValueError):
    """A clip that is made of something else than shapes."""
