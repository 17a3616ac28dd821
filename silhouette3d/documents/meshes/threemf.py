"""The 3MF file: bodies that touch themselves told apart, a zip archive with a model in XML."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from silhouette3d.geometry.mesh import Mesh

__all__ = ["part_contacts", "threemf_bytes"]

# --- Bodies that touch themselves along a line, told apart by index
#
# A file format that names points by index can say which two of the four
# triangles at such a line belong together. 3MF demands it: "The producer SHOULD
# NOT include duplicate vertices unless coalescing duplicates would create
# non-manifold edges" (3MF Core Specification, section Vertices).


Points = NDArray[np.float64]
Indices = NDArray[np.int64]


def part_contacts(mesh: Mesh) -> Mesh:
    """Split vertices so that each edge is shared by exactly two triangles.

    Points on lines where the body touches itself are given more than once, so
    that the wedges of material that meet there no longer share them.

    Through-cuts leave such a line only where one outline touches itself, and
    then the wedges have no other connection near the line. A line of contact
    that begins and ends inside one piece of surface would stay shared.

    Parameters
    ----------
    mesh : Mesh
        A closed surface without repeated points, as `tidy` gives it.

    Returns
    -------
    Mesh
        Unchanged where nothing touches.
    """
    triangles = np.asarray(mesh.triangles, np.int64)
    pairs, crowds = _edges(triangles)
    if not crowds:
        return mesh
    partner = np.empty(triangles.size, np.int64)
    partner[pairs] = pairs[:, ::-1]
    for crowd in crowds:
        for one, other in _wedges(mesh.vertices, triangles, crowd):
            partner[one], partner[other] = other, one
    ends = np.unique(triangles.ravel()[np.concatenate(crowds)])
    points, triangles = _double(mesh.vertices, triangles, partner, ends)
    return replace(mesh, vertices=points, triangles=triangles)


def _edges(triangles: Indices) -> tuple[Indices, list[Indices]]:
    """Find both half-edges of each ordinary edge, (k, 2), and all those of crowded ones.

    Half-edge 3 t + i runs from corner i of triangle t to corner i + 1.
    """
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    low, high = np.minimum(start, end), np.maximum(start, end)
    order = np.lexsort((high, low))
    new = (np.diff(low[order]) != 0) | (np.diff(high[order]) != 0)
    begin = np.concatenate([[0], np.nonzero(new)[0] + 1])
    size = np.diff(np.append(begin, len(order)))
    crowds = [order[b : b + n] for b, n in zip(begin[size > 2], size[size > 2], strict=True)]
    return order[begin[size == 2][:, None] + [0, 1]], crowds


def _wedges(points: Points, triangles: Indices, crowd: Indices) -> list[tuple[int, int]]:
    """Pair the half-edges of a crowded edge so that each pair has material between its triangles.

    Turning right-handed about the edge, from its lower to its higher index, a
    triangle whose half-edge runs down has its material ahead of it, and one
    whose half-edge runs up has it behind.
    """
    side = crowd % 3
    start, end, tip = (triangles[crowd // 3, (side + k) % 3] for k in range(3))
    runs_up = start < end
    origin = points[min(start[0], end[0])]
    axis = points[max(start[0], end[0])] - origin
    arms = points[tip] - origin
    across = np.cross(axis, arms)
    reference = across[np.linalg.norm(across, axis=1).argmax()]
    angle = np.arctan2(
        np.cross(reference, across) @ axis / np.linalg.norm(axis), across @ reference
    )
    turn = np.argsort(angle, kind="stable")
    # begin where no wedge is open: like brackets, after the deepest closing
    depth = np.cumsum(np.where(runs_up[turn], -1, 1))
    turn = np.roll(turn, -int(depth.argmin()) - 1)
    begun: list[int] = []
    pairs = []
    for half, closes in zip(crowd[turn], runs_up[turn], strict=True):
        if closes:
            pairs.append((begun.pop(), int(half)))
        else:
            begun.append(int(half))
    return pairs


def _double(
    points: Points, triangles: Indices, partner: Indices, ends: Indices
) -> tuple[Points, Indices]:
    """Give each fan of triangles around the points `ends` a point of its own."""
    corner = triangles.ravel().copy()
    more: list[Points] = []
    done: set[int] = set()
    named: set[int] = set()
    for first in map(int, np.nonzero(np.isin(corner, ends))[0]):
        if first in done:
            continue
        point = int(triangles.flat[first])
        name = point
        if point in named:
            name = len(points) + len(more)
            more.append(points[point])
        named.add(point)
        half = first
        while half not in done:
            done.add(half)
            corner[half] = name
            half = int(partner[half // 3 * 3 + (half + 2) % 3])
    return np.vstack([points, *more]), corner.reshape(-1, 3)


# --- The 3MF file: a zip archive with a model in XML
#
# 3MF Core Specification 1.4.0. Written here because trimesh's writer has no
# place for a material.


_CONTENT_TYPES: Final = """<?xml version="1.0" encoding="UTF-8"?>
<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">
<Default Extension="rels" \
ContentType="application/vnd.openxmlformats-package.relationships+xml"/>
<Default Extension="model" \
ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>
</Types>
"""

_RELATIONSHIPS: Final = """<?xml version="1.0" encoding="UTF-8"?>
<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">
<Relationship Id="rel0" Target="/3D/3dmodel.model" \
Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/>
</Relationships>
"""

_MODEL: Final = """<?xml version="1.0" encoding="UTF-8"?>
<model unit="millimeter" xml:lang="en" \
xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">
<metadata name="Title">{title}</metadata>
<metadata name="Application">silhouette3d</metadata>
<resources>
<basematerials id="1"><base name={material} displaycolor="#{colour}"/></basematerials>
{objects}</resources>
<build>
{items}</build>
</model>
"""

_OBJECT: Final = """<object id="{id}" type="model" name={name} pid="1" pindex="0"><mesh><vertices>
{vertices}
</vertices><triangles>
{triangles}
</triangles></mesh></object>
"""


def threemf_bytes(
    bodies: Sequence[Mesh],
    names: Sequence[str],
    *,
    title: str,
    material: str,
    colour: tuple[float, float, float],
) -> bytes:
    """Write a 3MF file in millimetres with one object for each body.

    Parameters
    ----------
    bodies : sequence of Mesh
        Closed, tidy, in mm.
    names : sequence of str
        One for each body.
    title, material : str
        Printable text. An empty material is called "unknown": the format
        wants a name.
    colour : tuple of float
        Red, green, blue from 0 to 1, in sRGB: how a viewer shows the material.

    Returns
    -------
    bytes
        The same for the same part: nothing in it depends on the time.
    """
    ids = range(2, 2 + len(bodies))
    objects = [
        _object(number, name, part_contacts(body))
        for number, name, body in zip(ids, names, bodies, strict=True)
    ]
    model = _MODEL.format(
        title=escape(title),
        material=quoteattr(material or "unknown"),
        colour="".join(f"{round(255 * c):02X}" for c in colour),
        objects="".join(objects),
        items="".join(f'<item objectid="{number}"/>\n' for number in ids),
    )
    return _zipped(
        {
            "[Content_Types].xml": _CONTENT_TYPES,
            "_rels/.rels": _RELATIONSHIPS,
            "3D/3dmodel.model": model,
        }
    )


def _object(number: int, name: str, mesh: Mesh) -> str:
    """Write one body. Nine digits tell any two numbers of single precision apart."""
    return _OBJECT.format(
        id=number,
        name=quoteattr(name),
        vertices="\n".join(
            f'<vertex x="{x:.9g}" y="{y:.9g}" z="{z:.9g}"/>' for x, y, z in mesh.vertices.tolist()
        ),
        triangles="\n".join(
            f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in mesh.triangles.tolist()
        ),
    )


def _zipped(parts: dict[str, str]) -> bytes:
    """Zip parts; entries bear no date, so that one part always gives one file."""
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as file:
        for name, text in parts.items():
            file.writestr(zipfile.ZipInfo(name), text.encode(), zipfile.ZIP_DEFLATED)
    return archive.getvalue()
