"""Objects of a DXF file as chains of pieces, each in its own frame."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import ArrayLike

from silhouette3d.drawing.model import (
    FULL_TURN,
    Arc,
    Array,
    Bezier,
    Line,
    Piece,
    Point,
    Sampled,
    bulge_arc,
    polyline,
)
from silhouette3d.drawing.splines import spline_pieces
from silhouette3d.geometry.tolerances import ANGLE, MERGE

if TYPE_CHECKING:
    from ezdxf.entities.boundary_paths import AbstractBoundaryPath, AbstractEdge, SplineEdge
    from ezdxf.entities.dxfentity import DXFEntity
    from ezdxf.math import BSpline, Vec3

__all__ = [
    "READABLE",
    "Chain",
    "EntityFrame",
    "NotLevelError",
    "bulged",
    "chains",
    "circular",
    "conic",
    "hatch_chains",
    "kind_of",
    "moved",
    "pairs",
    "spline_chain",
]

# --- Where the numbers of a DXF object lie in the drawing, and pieces made from them
#
# Objects are kept exact: the matrix of a block reference is applied to the arcs
# and Béziers themselves, which stay arcs and Béziers under any affine map.


Chain = tuple[Piece, ...]
"""Pieces, each beginning where the one before it ends."""

LEVEL: Final = 1e-4
"""An object that rises no more than this over its length counts as parallel to
the xy plane: seen from above it is shortened by 5e-9 of its length."""

STRAIGHT: Final = 1e-8
"""A bulge below this is a straight piece. The arc would stray from its chord by
5e-9 of the chord, which is no more than rounding at its far centre would give."""


class NotLevelError(ValueError):
    """The object does not lie parallel to the xy plane."""

    def __init__(self) -> None:
        super().__init__("it does not lie parallel to the xy plane")


@dataclass(frozen=True)
class EntityFrame:
    """Frame of the coordinates that an object is stored in.

    Parameters
    ----------
    matrix : (4, 4) array
        From those coordinates (column vectors) to the drawing's, in mm.
    """

    matrix: Array

    def __post_init__(self) -> None:
        self.matrix.flags.writeable = False

    @classmethod
    def scaled(cls, scale: float) -> EntityFrame:
        """Make the frame of the drawing itself, whose numbers stand for `scale` mm each."""
        return cls(np.diag([scale, scale, scale, 1.0]))

    def within(self, matrix: ArrayLike) -> EntityFrame:
        """Make the frame of what is placed in this one by a (4, 4) matrix."""
        return EntityFrame(self.matrix @ np.asarray(matrix, float))

    def in_object_plane(self, entity: Any) -> EntityFrame:
        """Make the frame of an object's own coordinate system (OCS), given by its extrusion."""
        ocs = entity.ocs()
        axes = np.eye(4)
        axes[:3, :3] = np.column_stack([tuple(ocs.ux), tuple(ocs.uy), tuple(ocs.uz)])
        return self.within(axes)

    def points(self, stored: Iterable[Iterable[float]]) -> Array:
        """Move stored points (n, 3) to points (n, 2) of the drawing.

        Raises
        ------
        NotLevelError
            If they do not lie at one height.
        """
        xyz = np.array([tuple(p) for p in stored]) @ self.matrix[:3, :3].T + self.matrix[:3, 3]
        extent = np.ptp(xyz, axis=0)
        if extent[2] > max(MERGE, LEVEL * math.hypot(extent[0], extent[1])):
            raise NotLevelError
        flat: Array = xyz[:, :2]
        return flat

    def plane(self, elevation: float) -> Array:
        """Find the map (2, 3) of the plane at a height over the stored xy plane.

        Raises
        ------
        NotLevelError
            If that plane is not parallel to the drawing's.
        """
        m = self.matrix
        if math.hypot(m[2, 0], m[2, 1]) > LEVEL * float(np.linalg.norm(m[:2, :2], 2)):
            raise NotLevelError
        return np.column_stack([m[:2, :2], m[:2, 2] * elevation + m[:2, 3]])


def pairs(points: Iterable[Sequence[float]]) -> list[Point]:
    """Make plain pairs of numbers of points."""
    return [(float(p[0]), float(p[1])) for p in points]


def moved(pieces: Iterable[Piece], matrix: Array) -> Chain:
    """Map each piece by an affine map, a (2, 3) matrix."""
    return tuple(p.moved(matrix) for p in pieces)


def circular(centre: Point, radius: float, start: float, end: float) -> Arc:
    """Make a circular arc, counter-clockwise; angles in degrees, equal ones for a circle."""
    if radius < 0.0:
        raise ValueError(f"its radius is {radius:g}")
    first = math.radians(start)
    return Arc.circular(centre, radius, first, first + _sweep(first, math.radians(end)))


def conic(
    centre: Vec3, major: Vec3, minor: Vec3, start: float, end: float, frame: EntityFrame
) -> Arc:
    """Make an elliptic arc of its stored centre and half-axes; angles are its parameters."""
    frame.points([centre + major, centre + minor, centre - major, centre - minor])
    u, v = (frame.matrix[:2, :3] @ axis.xyz for axis in (major, minor))
    middle, axis_u, axis_v = pairs([frame.points([centre])[0], u, v])
    return Arc(middle, axis_u, axis_v, start, start + _sweep(start, end))


def _sweep(start: float, end: float) -> float:
    sweep = (end - start) % FULL_TURN
    return FULL_TURN if min(sweep, FULL_TURN - sweep) < ANGLE else sweep


def bulged(vertices: Sequence[tuple[float, float, float]], *, closed: bool) -> Chain:
    """Make a polyline of (x, y, bulge), in its own plane."""
    around = [*vertices, vertices[0]] if closed and vertices else vertices
    return tuple(
        bulge_arc((x0, y0), (x1, y1), 0.0 if abs(bulge) < STRAIGHT else bulge)
        for (x0, y0, bulge), (x1, y1, _) in pairwise(around)
    )


def spline_chain(spline: BSpline, frame: EntityFrame, tolerance: float) -> Chain:
    """Make a B-spline; `tolerance` in mm is for one that can only be followed by points."""
    return spline_pieces(
        frame.points(p.xyz for p in spline.control_points),
        spline.degree,
        tuple(spline.knots()),
        tuple(spline.weights()),
        tolerance=tolerance,
    )


# --- The boundaries of a DXF hatch as chains of pieces


def hatch_chains(entity: Any, frame: EntityFrame, tolerance: float) -> list[Chain]:
    """Find boundaries that count by the hatch's own style (nested, outermost, no islands)."""
    elevation = entity.dxf.elevation.z
    placed = frame.in_object_plane(entity)
    plane = placed.plane(elevation)
    found: list[Chain] = []
    for path in entity.paths.rendering_paths(entity.dxf.hatch_style):
        found += _boundary(path, placed, plane, elevation, tolerance)
    return found


def _boundary(
    path: AbstractBoundaryPath, frame: EntityFrame, plane: Array, elevation: float, tolerance: float
) -> list[Chain]:
    from ezdxf.entities.boundary_paths import EdgePath, PolylinePath

    if isinstance(path, PolylinePath):
        return [moved(bulged(path.vertices, closed=True), plane)]
    edges = path.edges if isinstance(path, EdgePath) else []
    return _linked(_edge(edge, frame, plane, elevation, tolerance) for edge in edges)


def _edge(
    edge: AbstractEdge, frame: EntityFrame, plane: Array, elevation: float, tolerance: float
) -> Chain:
    from ezdxf.entities.boundary_paths import ArcEdge, EllipseEdge, LineEdge, SplineEdge
    from ezdxf.math import Vec3

    match edge:
        case LineEdge():
            return moved(polyline(pairs([edge.start, edge.end])), plane)
        case ArcEdge():
            centre = (edge.center.x, edge.center.y)
            return moved([circular(centre, edge.radius, edge.start_angle, edge.end_angle)], plane)
        case EllipseEdge():
            middle = Vec3(edge.center.x, edge.center.y, elevation)
            major = Vec3(edge.major_axis)
            minor = Vec3(-major.y, major.x) * edge.ratio
            return (conic(middle, major, minor, edge.start_param, edge.end_param, frame),)
        case SplineEdge():
            return spline_chain(_spline(edge, elevation), frame, tolerance)
    raise ValueError(f"it has a boundary of an unknown kind, {type(edge).__name__}")


def _spline(edge: SplineEdge, elevation: float) -> BSpline:
    from ezdxf.math import BSpline, Vec3, fit_points_to_cad_cv

    if edge.control_points:
        points = [Vec3(p.x, p.y, elevation) for p in edge.control_points]
        return BSpline(points, edge.degree + 1, edge.knot_values, edge.weights or None)
    points = [Vec3(p.x, p.y, elevation) for p in edge.fit_points]
    if edge.start_tangent is None or edge.end_tangent is None:
        return fit_points_to_cad_cv(points)
    return fit_points_to_cad_cv(points, [Vec3(edge.start_tangent), Vec3(edge.end_tangent)])


def _linked(links: Iterable[Chain]) -> list[Chain]:
    """Link edges to chains, each edge turned so that it goes on from the one before it.

    The file lists them in order, but not always head to tail. Whatever does not
    go on, or comes after a closed chain, begins a chain of its own.
    """
    found: list[Chain] = []
    alone = True
    for link in filter(None, links):
        longer = _going_on(found[-1], link, either_end=alone) if found else None
        alone = longer is None
        if longer is None:
            found.append(link)
        else:
            found[-1] = longer
    return found


def _going_on(chain: Chain, link: Chain, *, either_end: bool) -> Chain | None:
    if math.dist(chain[-1].end, chain[0].start) <= MERGE:
        return None
    for before in (chain, _backwards(chain)) if either_end else (chain,):
        for after in (link, _backwards(link)):
            if math.dist(before[-1].end, after[0].start) <= MERGE:
                return before + after
    return None


def _backwards(chain: Chain) -> Chain:
    return tuple(p.reversed() for p in reversed(chain))


# --- One object of a DXF file as chains of pieces


_STEERS_A_FIT: Final = 16
"""Flag of a polyline's vertex that steers a fitted curve without lying on it."""


def kind_of(entity: Any) -> str:
    """Name the kind of an object as its file calls it; tell meshes from polylines."""
    kind: str = entity.dxftype()
    if kind == "POLYLINE" and (entity.is_polygon_mesh or entity.is_poly_face_mesh):
        return "POLYLINE mesh"
    return kind


def chains(entity: DXFEntity, frame: EntityFrame, tolerance: float) -> tuple[Chain, ...]:
    """Make the chains of one object, in mm, without pieces that have no length.

    Parameters
    ----------
    entity : DXFEntity
        Of a kind in `READABLE`.
    frame : EntityFrame
        That the object lies in: the drawing, or a block as it is placed.
    tolerance : float
        Largest gap in mm for curves that can only be followed by points.

    Raises
    ------
    NotLevelError
        If the object does not lie parallel to the xy plane.
    ValueError, ArithmeticError
        If its numbers make no sense.
    """
    found = _READERS[kind_of(entity)](entity, frame, tolerance)
    trimmed = (tuple(p for p in chain if not _is_a_point(p)) for chain in found)
    return tuple(chain for chain in trimmed if chain)


def _is_a_point(piece: Piece) -> bool:
    match piece:
        case Line():
            return piece.start == piece.end
        case Arc():
            return piece.axis_u == piece.axis_v == (0.0, 0.0)
        case Bezier():
            return piece.start == piece.control_1 == piece.control_2 == piece.end
        case Sampled():
            return len(set(piece.points)) == 1


def _need(entity: Any, *names: str) -> Any:
    """Read the attributes that an object needs; one that lost them would get defaults."""
    for name in names:
        if not entity.dxf.hasattr(name):
            raise ValueError(f"its {name.replace('_', ' ')} is missing")
    return entity.dxf


def _line(entity: Any, frame: EntityFrame, _: float) -> list[Chain]:
    dxf = _need(entity, "start", "end")
    return [polyline(pairs(frame.points([dxf.start, dxf.end])))]


def _circle(entity: Any, frame: EntityFrame, _: float) -> list[Chain]:
    dxf = _need(entity, "center", "radius")
    circle = circular((dxf.center.x, dxf.center.y), dxf.radius, 0.0, 360.0)
    return [moved([circle], frame.in_object_plane(entity).plane(dxf.center.z))]


def _arc(entity: Any, frame: EntityFrame, _: float) -> list[Chain]:
    dxf = _need(entity, "center", "radius", "start_angle", "end_angle")
    arc = circular((dxf.center.x, dxf.center.y), dxf.radius, dxf.start_angle, dxf.end_angle)
    return [moved([arc], frame.in_object_plane(entity).plane(dxf.center.z))]


def _ellipse(entity: Any, frame: EntityFrame, _: float) -> list[Chain]:
    dxf = _need(entity, "center", "major_axis", "ratio")
    axes = (dxf.major_axis, entity.minor_axis)
    return [(conic(dxf.center, *axes, dxf.start_param, dxf.end_param, frame),)]


def _lwpolyline(entity: Any, frame: EntityFrame, _: float) -> list[Chain]:
    chain = bulged(list(entity.get_points("xyb")), closed=entity.closed)
    return [moved(chain, frame.in_object_plane(entity).plane(entity.dxf.elevation))]


def _polyline(entity: Any, frame: EntityFrame, _: float) -> list[Chain]:
    """Read a polyline in a plane, or in space if it happens to be level."""
    vertices = [_need(v, "location") for v in entity.vertices if not v.dxf.flags & _STEERS_A_FIT]
    if not vertices:
        return []
    if entity.is_3d_polyline:
        points = frame.points(v.location for v in vertices)
        return [polyline(pairs(points), closed=entity.is_closed)]
    # Some programs write the height to the vertices only.
    elevation = entity.dxf.elevation.z or vertices[0].location.z
    chain = bulged(
        [(v.location.x, v.location.y, v.get("bulge", 0.0)) for v in vertices],
        closed=entity.is_closed,
    )
    return [moved(chain, frame.in_object_plane(entity).plane(elevation))]


_EZDXF_ENDS: Final = 10
"""Degree up to which ezdxf's own splines go."""


def _spline_entity(entity: Any, frame: EntityFrame, tolerance: float) -> list[Chain]:
    if entity.dxf.degree > _EZDXF_ENDS and len(entity.control_points) and len(entity.knots):
        points = frame.points(entity.control_points)
        knots, weights = tuple(entity.knots), tuple(entity.weights)
        return [spline_pieces(points, entity.dxf.degree, knots, weights, tolerance=tolerance)]
    return [spline_chain(entity.construction_tool(), frame, tolerance)]


_READERS: Final[dict[str, Callable[[Any, EntityFrame, float], list[Chain]]]] = {
    "ARC": _arc,
    "CIRCLE": _circle,
    "ELLIPSE": _ellipse,
    "HATCH": hatch_chains,
    "LINE": _line,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "SPLINE": _spline_entity,
}

READABLE: Final = frozenset(_READERS)
"""Kinds of objects that can be part of an outline."""
