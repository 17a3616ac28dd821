"""GLB files as pygltflib and trimesh read them.

Source: glTF 2.0 Specification, Khronos Group.
"""

from __future__ import annotations

import json
import struct
from pathlib import Path

import numpy as np
import pygltflib
import pytest
import trimesh

from tests.support.meshes import blocks, box, export, volume

W, D, H = 10.0, 20.0, 30.0


def test_glb_container(tmp_path: Path) -> None:
    """GLB File Format: magic, version, length; a JSON and a BIN chunk on 4-byte boundaries."""
    data = export(tmp_path / "box.glb").read_bytes()
    magic, version, length = struct.unpack_from("<III", data)
    assert (magic, version, length) == (0x46546C67, 2, len(data))
    first, kind = struct.unpack_from("<II", data, 12)
    assert kind == 0x4E4F534A
    second, other = struct.unpack_from("<II", data, 20 + first)
    assert other == 0x004E4942
    assert first % 4 == second % 4 == 0
    assert 28 + first + second == len(data)
    assert json.loads(data[20 : 20 + first])["asset"]["version"] == "2.0"


def test_glb_read_by_pygltflib(tmp_path: Path) -> None:
    """Metres, y up: (x, y, z) becomes (x, z, -y) / 1000, counted from where the node lies.

    Bounds are those of the stored numbers.
    """
    gltf = pygltflib.GLTF2().load(str(export(tmp_path / "box.glb")))
    (mesh,) = gltf.meshes
    assert mesh.name == "Harbour tug"
    (primitive,) = mesh.primitives
    assert primitive.mode == pygltflib.TRIANGLES
    place = gltf.accessors[primitive.attributes.POSITION]
    half = [float(np.float32(side / 2000)) for side in (W, H, D)]
    assert place.min == [-side for side in half]
    assert place.max == half
    matrix = np.reshape(gltf.nodes[mesh_node(gltf)].matrix, (4, 4)).T
    assert matrix[:3, :3].tolist() == np.eye(3).tolist()
    assert matrix[:3, 3] == pytest.approx([W / 2000, H / 2000, -D / 2000], rel=1e-12)
    # no normals: "client implementations MUST calculate flat normals" (section Meshes)
    assert primitive.attributes.NORMAL is None
    assert gltf.accessors[primitive.indices].count == 36


def mesh_node(gltf: pygltflib.GLTF2) -> int:
    """Number of the only node that has a mesh."""
    (node,) = (n for n, each in enumerate(gltf.nodes) if each.mesh is not None)
    return node


def test_glb_material(tmp_path: Path) -> None:
    """Colours in glTF are linear. IEC 61966-2-1: ((c + 0.055) / 1.055)^2.4, or c / 12.92."""
    path = export(tmp_path / "box.glb", box(), box(at=(50, 0, 0)), colour=(1.0, 0.5, 0.02))
    gltf = pygltflib.GLTF2().load(str(path))
    (material,) = gltf.materials
    assert material.name == "aluminium 6061"
    plain = material.pbrMetallicRoughness
    # double precision in the file's JSON
    assert plain.baseColorFactor == pytest.approx(
        [1.0, (0.555 / 1.055) ** 2.4, 0.02 / 12.92, 1.0], rel=1e-12
    )
    assert plain.metallicFactor == 0
    assert [mesh.primitives[0].material for mesh in gltf.meshes] == [0, 0]
    assert [node.name for node in gltf.nodes] == ["Harbour tug 1", "Harbour tug 2"]


def test_glb_keeps_its_handedness(tmp_path: Path) -> None:
    """A step that has no mirror plane: its highest corner is front left, so +y, and z = 0 there."""
    cells = np.array([[[True, True], [True, False]], [[True, False], [False, False]]])
    body = blocks(cells, [[0, 10, 30], [0, 10, 40], [0, 10, 50]])
    mesh = trimesh.load_scene(export(tmp_path / "step.glb", body)).to_mesh()
    assert mesh.volume == pytest.approx(volume(body) * 1e-9, rel=1e-6)  # single precision
    top = mesh.vertices[np.isclose(mesh.vertices[:, 1], 0.05)]
    assert np.allclose([top.min(axis=0), top.max(axis=0)], [[0, 0.05, -0.01], [0.01, 0.05, 0]])
