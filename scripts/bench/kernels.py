"""The same part as others would make it: each takes outlines by view and gives the volume."""

from __future__ import annotations

import multiprocessing
import os
import time
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from bench.outlines import SIDE
from silhouette3d.geometry.frames import VIEWS, Array
from silhouette3d.geometry.removal import Removal
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.subtract import carve

Outlines = Mapping[str, Polygon]

STOCK = Stock((SIDE, SIDE, SIDE))
PAST = 10.0


def removals(outlines: Outlines) -> list[Removal]:
    """What lies round each outline, as the package takes it away."""
    around = shapely.box(-20.0, -20.0, SIDE + 20.0, SIDE + 20.0)
    rests = {view: shapely.get_parts(around.difference(area)) for view, area in outlines.items()}
    return [Removal(MultiPolygon(list(rest)), VIEWS[view]) for view, rest in rests.items()]


def ours(outlines: Outlines) -> float:
    """The package."""
    return carve(STOCK, removals(outlines)).volume


def _placed(view: str) -> Array:
    """(4, 4) from an extrusion along z to the block, past it at both ends."""
    u, v, w = VIEWS[view].axes
    low = STOCK.face(VIEWS[view]).depth[0] - PAST
    matrix = np.eye(4)
    matrix[:3, :3], matrix[:3, 3] = np.column_stack([u, v, w]), low * w
    return matrix


def manifold(outlines: Outlines) -> float:
    """The plain script anyone would write."""
    import manifold3d

    solid = manifold3d.Manifold.cube([SIDE] * 3)
    for view, area in outlines.items():
        rings = [np.asarray(r.coords)[:-1] for r in (area.exterior, *area.interiors)]
        section = manifold3d.CrossSection(rings, manifold3d.FillRule.EvenOdd)
        solid = solid ^ section.extrude(SIDE + 2.0 * PAST).transform(_placed(view)[:3])
    return float(solid.volume())


def _extruded(outlines: Outlines) -> list[Any]:
    from trimesh.creation import extrude_polygon

    made = []
    for view, area in outlines.items():
        made.append(extrude_polygon(area, SIDE + 2.0 * PAST))
        made[-1].apply_transform(_placed(view))
    return made


def trimesh_boolean(outlines: Outlines) -> float:
    """Extruded and intersected by trimesh, which asks manifold3d."""
    import trimesh.boolean
    from trimesh.creation import box

    block = box(bounds=[[0.0] * 3, [SIDE] * 3])
    return float(trimesh.boolean.intersection([block, *_extruded(outlines)]).volume)


def open_cascade(outlines: Outlines) -> float:
    """Planar faces, one for each side of an outline, extruded and intersected one by one."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakePolygon
    from OCP.BRepGProp import BRepGProp
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakePrism
    from OCP.gp import gp_Pnt, gp_Vec
    from OCP.GProp import GProp_GProps

    shape = BRepPrimAPI_MakeBox(SIDE, SIDE, SIDE).Shape()
    for view, area in outlines.items():
        matrix = _placed(view)
        wires = []
        for ring in (area.exterior, *area.interiors):
            made = BRepBuilderAPI_MakePolygon()
            flat = np.asarray(ring.coords)[:-1]
            for point in flat @ matrix[:3, :2].T + matrix[:3, 3]:
                made.Add(gp_Pnt(*map(float, point)))
            made.Close()
            wires.append(made.Wire())
        face = BRepBuilderAPI_MakeFace(wires[0])
        for wire in wires[1:]:
            wire.Reverse()
            face.Add(wire)
        along = matrix[:3, 2] * (SIDE + 2.0 * PAST)
        prism = BRepPrimAPI_MakePrism(face.Face(), gp_Vec(*map(float, along))).Shape()
        shape = BRepAlgoAPI_Common(shape, prism).Shape()
    measured = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, measured)
    return float(measured.Mass())


def vtk_boolean(outlines: Outlines) -> float:
    """By VTK's filter for closed surfaces."""
    import pyvista

    solid = pyvista.Box((0.0, SIDE, 0.0, SIDE, 0.0, SIDE)).triangulate()
    for prism in _extruded(outlines):
        solid = solid.boolean_intersection(pyvista.wrap(prism))
    return float(solid.volume)


def apart(
    kernel: Callable[[Outlines], float], outlines: Outlines, limit: float
) -> tuple[float, float] | None:
    """Seconds and volume of a kernel in a process of its own; None if it fails or is too slow."""
    context = multiprocessing.get_context("spawn")
    receiver, sender = context.Pipe(duplex=False)
    process = context.Process(target=_send, args=(sender, kernel, dict(outlines)))
    process.start()
    sender.close()
    try:
        answer = receiver.recv() if receiver.poll(limit) else None
    except EOFError:
        answer = None
    process.kill()
    process.join()
    return answer


def _send(sender: Any, kernel: Callable[[Outlines], float], outlines: Outlines) -> None:
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)  # what a kernel that fails says at length
    start = time.process_time()
    volume = kernel(outlines)
    sender.send((time.process_time() - start, volume))
