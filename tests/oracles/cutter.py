"""A cutter of the tests' own: drives a disc along the drawings that were written for it.

It knows what a machine knows: the lines on a layer in the order of the file, which ezdxf
reads, and how wide it cuts; shapely sweeps the disc. Nothing of the package is used.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import shapely
from ezdxf.filemanagement import readfile
from ezdxf.path import make_path
from shapely import LineString, MultiLineString, Polygon

FINE = 1e-5
"""mm by which chords may be off the arcs that were written: their directions count as well."""

CORNERS = 32
"""Of a quarter of the disc: its polygon is inside it by a thousandth of its radius at most."""


def lines_on(file: Path, layer: str) -> list[LineString]:
    """What is drawn on a layer, in the order and direction of the file, in mm."""
    document = readfile(file)
    unit = {1: 25.4, 4: 1.0}[document.header["$INSUNITS"]]
    found = []
    for entity in document.modelspace().query(f'*[layer=="{layer}"]'):
        path: Any = make_path(entity)
        points = [(p.x * unit, p.y * unit) for p in path.flattening(FINE / unit)]
        found.append(LineString(points))
    return found


def swept(runs: list[LineString], kerf: float) -> shapely.Geometry:
    """What a disc as wide as the kerf takes away along some runs."""
    return shapely.buffer(MultiLineString(runs), kerf / 2.0, quad_segs=CORNERS)


def beside(outline: list[LineString], kerf: float) -> list[LineString]:
    """Where a machine that compensates runs: half a kerf to the right of what is drawn."""
    found = []
    for line in outline:
        run = shapely.offset_curve(line, -kerf / 2.0, quad_segs=CORNERS, join_style="round")
        found += list(shapely.get_parts(shapely.line_merge(run)))
    return found


@dataclass(frozen=True)
class Gap:
    """Where a cut stops and goes on: its two ends, and how wide what stays between them is."""

    first: tuple[float, float]
    last: tuple[float, float]
    width: float


def gap_at(runs: list[LineString], kerf: float, tab: Polygon) -> Gap:
    """The narrowest place between what two ends of runs beside a tab take away."""
    ends = [(run, k) for run in runs if not run.is_closed for k in (0, -1)]
    near = sorted(ends, key=lambda end: tab.distance(shapely.Point(end[0].coords[end[1]])))[:2]
    points = [(run.coords[k][0], run.coords[k][1]) for run, k in near]
    # as far as the tab and the kerf reach: a run may come back beside itself elsewhere
    room = tab.buffer(2.0 * kerf)
    parts = []
    for (run, k), point in zip(near, points, strict=True):
        piece = shapely.intersection(run, room)
        pieces = [p for p in shapely.get_parts(piece) if isinstance(p, LineString)]
        own = min(pieces, key=lambda p: p.distance(shapely.Point(point)))
        parts.append(own.buffer(kerf / 2.0, quad_segs=CORNERS))
        assert k in (0, -1)
    return Gap(points[0], points[1], float(parts[0].distance(parts[1])))


def areas_on(file: Path, layer: str) -> list[Polygon]:
    """The closed shapes on a layer."""
    return [Polygon(line.coords) for line in lines_on(file, layer)]
