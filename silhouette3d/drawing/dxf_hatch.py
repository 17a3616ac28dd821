"""The boundaries of a DXF hatch as chains of pieces."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from silhouette3d.drawing.curve import Array, polyline
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
from silhouette3d.units import MERGE

if TYPE_CHECKING:
    from ezdxf.entities.boundary_paths import AbstractBoundaryPath, AbstractEdge, SplineEdge
    from ezdxf.math import BSpline

__all__ = ["hatch_chains"]


def hatch_chains(entity: Any, frame: Frame, tolerance: float) -> list[Chain]:
    """The boundaries that count by the hatch's own style (nested, outermost, no islands)."""
    elevation = entity.dxf.elevation.z
    placed = frame.in_object_plane(entity)
    plane = placed.plane(elevation)
    found: list[Chain] = []
    for path in entity.paths.rendering_paths(entity.dxf.hatch_style):
        found += _boundary(path, placed, plane, elevation, tolerance)
    return found


def _boundary(
    path: AbstractBoundaryPath, frame: Frame, plane: Array, elevation: float, tolerance: float
) -> list[Chain]:
    from ezdxf.entities.boundary_paths import EdgePath, PolylinePath

    if isinstance(path, PolylinePath):
        return [moved(bulged(path.vertices, closed=True), plane)]
    edges = path.edges if isinstance(path, EdgePath) else []
    return _linked(_edge(edge, frame, plane, elevation, tolerance) for edge in edges)


def _edge(
    edge: AbstractEdge, frame: Frame, plane: Array, elevation: float, tolerance: float
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
    """Edges as chains, each edge turned so that it goes on from the one before it.

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
