"""One object of a DXF file as chains of pieces."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

from silhouette3d.drawing.curve import Arc, Bezier, Line, Piece, Sampled, polyline
from silhouette3d.drawing.dxf_frame import (
    Chain,
    Frame,
    bulged,
    circular,
    conic,
    moved,
    pairs,
    spline_chain,
)
from silhouette3d.drawing.dxf_hatch import hatch_chains
from silhouette3d.drawing.spline import spline_pieces

if TYPE_CHECKING:
    from ezdxf.entities.dxfentity import DXFEntity

__all__ = ["READABLE", "chains", "kind_of"]

_STEERS_A_FIT: Final = 16
"""Flag of a polyline's vertex that steers a fitted curve without lying on it."""


def kind_of(entity: Any) -> str:
    """The kind of an object, as its file calls it; meshes are told from polylines."""
    kind: str = entity.dxftype()
    if kind == "POLYLINE" and (entity.is_polygon_mesh or entity.is_poly_face_mesh):
        return "POLYLINE mesh"
    return kind


def chains(entity: DXFEntity, frame: Frame, tolerance: float) -> tuple[Chain, ...]:
    """The chains of one object, in mm, without pieces that have no length.

    Parameters
    ----------
    entity : DXFEntity
        Of a kind in `READABLE`.
    frame : Frame
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
    """The attributes of an object that has these; one that lost them would get defaults."""
    for name in names:
        if not entity.dxf.hasattr(name):
            raise ValueError(f"its {name.replace('_', ' ')} is missing")
    return entity.dxf


def _line(entity: Any, frame: Frame, _: float) -> list[Chain]:
    dxf = _need(entity, "start", "end")
    return [polyline(pairs(frame.points([dxf.start, dxf.end])))]


def _circle(entity: Any, frame: Frame, _: float) -> list[Chain]:
    dxf = _need(entity, "center", "radius")
    circle = circular((dxf.center.x, dxf.center.y), dxf.radius, 0.0, 360.0)
    return [moved([circle], frame.in_object_plane(entity).plane(dxf.center.z))]


def _arc(entity: Any, frame: Frame, _: float) -> list[Chain]:
    dxf = _need(entity, "center", "radius", "start_angle", "end_angle")
    arc = circular((dxf.center.x, dxf.center.y), dxf.radius, dxf.start_angle, dxf.end_angle)
    return [moved([arc], frame.in_object_plane(entity).plane(dxf.center.z))]


def _ellipse(entity: Any, frame: Frame, _: float) -> list[Chain]:
    dxf = _need(entity, "center", "major_axis", "ratio")
    axes = (dxf.major_axis, entity.minor_axis)
    return [(conic(dxf.center, *axes, dxf.start_param, dxf.end_param, frame),)]


def _lwpolyline(entity: Any, frame: Frame, _: float) -> list[Chain]:
    chain = bulged(list(entity.get_points("xyb")), closed=entity.closed)
    return [moved(chain, frame.in_object_plane(entity).plane(entity.dxf.elevation))]


def _polyline(entity: Any, frame: Frame, _: float) -> list[Chain]:
    """A polyline in a plane, or in space if it happens to be level."""
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


def _spline(entity: Any, frame: Frame, tolerance: float) -> list[Chain]:
    if entity.dxf.degree > _EZDXF_ENDS and len(entity.control_points) and len(entity.knots):
        points = frame.points(entity.control_points)
        knots, weights = tuple(entity.knots), tuple(entity.weights)
        return [spline_pieces(points, entity.dxf.degree, knots, weights, tolerance=tolerance)]
    return [spline_chain(entity.construction_tool(), frame, tolerance)]


_READERS: Final[dict[str, Callable[[Any, Frame, float], list[Chain]]]] = {
    "ARC": _arc,
    "CIRCLE": _circle,
    "ELLIPSE": _ellipse,
    "HATCH": hatch_chains,
    "LINE": _line,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "SPLINE": _spline,
}

READABLE: Final = frozenset(_READERS)
"""Kinds of objects that can be part of an outline."""
