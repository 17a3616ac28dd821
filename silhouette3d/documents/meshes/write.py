"""Meshes for printers, viewers and other programs: STL, 3MF, GLB, OBJ, PLY.

STL, 3MF, OBJ and PLY are written in millimetres with z up, as the block
frame has it; only 3MF states its unit in the file. GLB is in metres with y up,
as glTF 2.0 demands.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from silhouette3d.base.files import atomic_write, one_line
from silhouette3d.documents.meshes.threemf import threemf_bytes
from silhouette3d.documents.meshes.tidy import GRAIN, is_closed, tidy
from silhouette3d.errors import OutputError

if TYPE_CHECKING:
    import trimesh

    from silhouette3d.geometry.mesh import Mesh

__all__ = ["FORMATS", "GREY", "Format", "MeshLabel", "export_mesh", "tidy"]

GREY: Final = (0.72, 0.74, 0.77)
"""sRGB. The colour of a part that is given none."""

_SCALE_LIMIT: Final = 1e6
"""Past this, up or down, a part is larger or smaller than any file or reader is made for."""

_GLTF_AXES: Final = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]]) / 1000.0
"""(x, y, z) in mm, z up, to (x, z, -y) in metres, y up: glTF 2.0, section Coordinate System."""

_GRAIN_SHARE: Final = 1e-9
"""Of the whole size. Where this is less than `GRAIN`, as in a small mock-up or a file in metres,
coordinates are rounded to it: single precision resolves 60 times as much."""


@dataclass(frozen=True)
class MeshLabel:
    """Texts that a file holds about the part besides its shape.

    Parameters
    ----------
    name, material : str
        Printable text on one line.
    colour : tuple of float
        Red, green, blue from 0 to 1, in sRGB.
    """

    name: str
    material: str
    colour: tuple[float, float, float] = GREY


@dataclass(frozen=True)
class Format:
    """One kind of mesh file.

    Parameters
    ----------
    encode : callable
        Tidy bodies in the file's frame, a label, and where the bodies' origin lies there,
        to the bytes of the file.
    axes : (3, 3) array
        From the block frame in mm to the file's frame and unit.
    is_centred : bool
        Whether the file can say where a mesh lies. Then coordinates are counted from the
        middle, where single precision tells most apart.
    """

    encode: Callable[[Sequence[Mesh], MeshLabel, NDArray[np.float64]], bytes]
    axes: NDArray[np.float64] = field(default_factory=lambda: np.eye(3))
    is_centred: bool = False


def export_mesh(
    bodies: Sequence[Mesh],
    path: str | os.PathLike[str],
    *,
    name: str,
    material: str,
    scale: float = 1.0,
    colour: tuple[float, float, float] = GREY,
) -> None:
    """Write bodies to a mesh file; the suffix of `path` says which kind.

    Parameters
    ----------
    bodies : sequence of Mesh
        Closed surfaces in mm, block frame, triangles counter-clockwise from
        outside.
    path : str or path-like
        Ends in one of the keys of `FORMATS`. Replaced only when the new file
        is complete.
    name, material : str
        Kept where the format has a place for them.
    scale : float
        Every length is multiplied by this.
    colour : tuple of float
        Red, green, blue from 0 to 1, in sRGB; used by 3MF and GLB.

    Raises
    ------
    OutputError
        Unknown suffix, a scale or colour that makes no sense, nothing to
        write, a body that is not closed, or a file that cannot be written.
    """
    where = os.fspath(path)
    suffix = Path(path).suffix.lower()
    if suffix not in FORMATS:
        raise OutputError(
            f'"{suffix}" is not the suffix of a known mesh format',
            where=where,
            todo=f"use one of {', '.join(FORMATS)}",
        )
    if not 1 / _SCALE_LIMIT <= scale <= _SCALE_LIMIT:
        raise OutputError(
            f"the scale is {scale:g}",
            where=where,
            todo=f"give a number from {1 / _SCALE_LIMIT:g} to {_SCALE_LIMIT:g}",
        )
    if not all(0 <= c <= 1 for c in colour):
        raise OutputError(
            f"the colour is {colour}", where=where, todo="give red, green, blue from 0 to 1"
        )
    form = FORMATS[suffix]
    placed = [replace(body, vertices=body.vertices @ (form.axes * scale).T) for body in bodies]
    middle = _middle(placed) if form.is_centred else np.zeros(3)
    ready = _prepared(placed, middle, where)
    data = form.encode(ready, MeshLabel(one_line(name), one_line(material), colour), middle)
    with atomic_write(path) as draft:
        draft.write_bytes(data)


def _middle(bodies: Sequence[Mesh]) -> NDArray[np.float64]:
    """Find the middle (3,) of the box around all bodies."""
    points = np.concatenate([np.zeros((0, 3)), *(body.vertices for body in bodies)])
    return (points.min(axis=0) + points.max(axis=0)) / 2.0 if len(points) else np.zeros(3)


def _prepared(bodies: Sequence[Mesh], middle: NDArray[np.float64], where: str) -> list[Mesh]:
    """Tidy bodies, counted from a point; leave out those that single precision flattens."""
    size = max((float(np.ptp(body.vertices, axis=0).max()) for body in bodies), default=1.0)
    grain = min(GRAIN, 10.0 ** np.floor(np.log10(_GRAIN_SHARE * size)))
    ready = []
    for number, body in enumerate(bodies, start=1):
        mesh = tidy(replace(body, vertices=body.vertices - middle), grain)
        if not len(mesh.triangles):
            continue
        if not is_closed(mesh):
            raise OutputError(
                f"the surface of body {number} is not closed",
                where=where,
                todo="this is a fault of the program: please report it with the job and drawings",
            )
        ready.append(mesh)
    if not ready:
        raise OutputError(
            "there is no body to write",
            where=where,
            todo="check that the outlines leave something of the stock, and the scale",
        )
    return ready


def _names(label: MeshLabel, count: int) -> list[str]:
    """Choose a name for each body."""
    name = label.name or "part"
    return [name] if count == 1 else [f"{name} {k}" for k in range(1, count + 1)]


def _joined(bodies: Sequence[Mesh]) -> trimesh.Trimesh:
    """Join all bodies into one mesh, for formats that know no more than that."""
    import trimesh

    starts = np.cumsum([0, *(len(body.vertices) for body in bodies[:-1])])
    return trimesh.Trimesh(
        np.vstack([body.vertices for body in bodies]),
        np.vstack([body.triangles + start for body, start in zip(bodies, starts, strict=True)]),
        process=False,
    )


def _scene(bodies: Sequence[Mesh], names: Sequence[str], at: NDArray[np.float64]) -> trimesh.Scene:
    """Put each body under its name, its origin at a place."""
    import trimesh

    scene = trimesh.Scene()
    for body, name in zip(bodies, names, strict=True):
        move = np.eye(4)
        move[:3, 3] = at
        scene.add_geometry(_joined([body]), node_name=name, geom_name=name, transform=move)
    return scene


def _exported(geometry: Any, kind: str, **options: Any) -> bytes:
    """Export a mesh or scene by trimesh."""
    data = geometry.export(file_type=kind, **options)
    return data.encode() if isinstance(data, str) else bytes(data)


def _stl(bodies: Sequence[Mesh], label: MeshLabel, _: NDArray[np.float64]) -> bytes:
    """Write binary STL: an 80-byte header not beginning with "solid", 50 bytes per triangle."""
    text = f"silhouette3d, in millimetres: {label.name}; {label.material}"
    header = text.encode("ascii", "replace")[:80].ljust(80)
    return header + _exported(_joined(bodies), "stl")[80:]


def _ply(bodies: Sequence[Mesh], label: MeshLabel, _: NDArray[np.float64]) -> bytes:
    """Write binary PLY; the format has no place for a label."""
    return _exported(_joined(bodies), "ply", vertex_normal=False)


def _obj(bodies: Sequence[Mesh], label: MeshLabel, at: NDArray[np.float64]) -> bytes:
    """Write OBJ as text. A name ends at the first blank.

    Nine digits tell any two coordinates in single precision apart, so nine decimals do from 1 mm
    on, and below that as many more as the largest coordinate begins with zeros.
    """
    largest = max(float(np.abs(body.vertices).max()) for body in bodies)
    return _exported(
        _scene(bodies, ["_".join(name.split()) for name in _names(label, len(bodies))], at),
        "obj",
        include_normals=False,
        include_color=False,
        include_texture=False,
        digits=9 + max(0, -int(np.floor(np.log10(largest)))),
        header=f"silhouette3d, in millimetres, z up: {label.name}; {label.material}",
    )


def _glb(bodies: Sequence[Mesh], label: MeshLabel, at: NDArray[np.float64]) -> bytes:
    """Write GLB without normals: clients must "calculate flat normals" (glTF 2.0, Meshes).

    Each node moves its mesh to where that lies.
    """

    def finish(tree: dict[str, Any]) -> None:
        tree["asset"]["generator"] = "silhouette3d"
        tree["materials"] = [
            {
                "name": label.material,
                "pbrMetallicRoughness": {
                    "baseColorFactor": [*map(_linear, label.colour), 1.0],
                    "metallicFactor": 0.0,
                    "roughnessFactor": 0.6,
                },
            }
        ]
        for mesh in tree["meshes"]:
            mesh["primitives"][0]["material"] = 0

    scene = _scene(bodies, _names(label, len(bodies)), at)
    return _exported(scene, "glb", include_normals=False, tree_postprocessor=finish)


def _linear(channel: float) -> float:
    """Turn sRGB into the linear values that glTF wants: IEC 61966-2-1."""
    return channel / 12.92 if channel <= 0.04045 else float(((channel + 0.055) / 1.055) ** 2.4)


def _3mf(bodies: Sequence[Mesh], label: MeshLabel, _: NDArray[np.float64]) -> bytes:
    names = _names(label, len(bodies))
    return threemf_bytes(
        bodies, names, title=label.name, material=label.material, colour=label.colour
    )


FORMATS: Final[dict[str, Format]] = {
    ".stl": Format(_stl),
    ".3mf": Format(_3mf),
    ".glb": Format(_glb, _GLTF_AXES, is_centred=True),
    ".obj": Format(_obj),
    ".ply": Format(_ply),
}
"""Mesh formats by suffix."""
