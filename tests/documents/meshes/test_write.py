"""Mesh files, judged by readers that have nothing to do with their writers.

Source for STL: M. Burns, Automated Fabrication (1993), section 6.5, after the
interface specification of 1989.
"""

from __future__ import annotations

import os
import struct
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import meshio
import numpy as np
import pytest
import stl
import trimesh

from silhouette3d.documents.meshes.write import FORMATS, export_mesh
from silhouette3d.errors import OutputError
from silhouette3d.geometry.mesh import Mesh
from tests.support.meshes import SINGLE, box, export, two_blocks_at_an_edge, volume

W, D, H = 10.0, 20.0, 30.0
MM = [suffix for suffix in FORMATS if suffix != ".glb"]


def read(path: Path) -> trimesh.Trimesh:
    """What trimesh makes of a file, all bodies together."""
    return trimesh.load_scene(path).to_mesh()


# Every format.


@pytest.mark.parametrize("suffix", MM)
def test_a_box_in_millimetres(tmp_path: Path, suffix: str) -> None:
    mesh = read(export(tmp_path / f"box{suffix}"))
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume == pytest.approx(W * D * H, rel=1e-12)  # small whole numbers: exact
    assert mesh.bounds.tolist() == [[0, 0, 0], [W, D, H]]
    assert len(mesh.faces) == 12


def test_a_box_in_metres(tmp_path: Path) -> None:
    mesh = read(export(tmp_path / "box.glb"))
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume == pytest.approx(W * D * H * 1e-9, rel=3 * SINGLE)  # three rounded sides
    assert mesh.units == "meters"


@pytest.mark.parametrize("suffix", FORMATS)
def test_scale(tmp_path: Path, suffix: str) -> None:
    once = read(export(tmp_path / f"one{suffix}"))
    twice = read(export(tmp_path / f"two{suffix}", scale=2.0))
    assert twice.volume == pytest.approx(8 * once.volume, rel=1e-12)  # a power of two: exact


@pytest.mark.parametrize("suffix", FORMATS)
def test_several_bodies(tmp_path: Path, suffix: str) -> None:
    bodies = [box((W, D, H)), box((W, D, H), at=(0, 0, 40)), box((5, 5, 5), at=(W, D, H))]
    mesh = read(export(tmp_path / f"three{suffix}", *bodies))
    unit = 1e-9 if suffix == ".glb" else 1.0
    # the second body's height is a difference of rounded numbers: 30 of 70
    assert mesh.volume == pytest.approx(unit * (2 * W * D * H + 125), rel=9 * SINGLE)
    assert len(mesh.faces) == 36


@pytest.mark.parametrize("suffix", FORMATS)
def test_the_same_part_gives_the_same_file(tmp_path: Path, suffix: str) -> None:
    one = export(tmp_path / f"one{suffix}", box(), two_blocks_at_an_edge())
    other = export(tmp_path / f"other{suffix}", box(), two_blocks_at_an_edge())
    assert one.read_bytes() == other.read_bytes()


@pytest.mark.parametrize("suffix", FORMATS)
def test_a_large_part_far_from_round(tmp_path: Path, suffix: str) -> None:
    """A ball of 80 mm, nowhere on whole numbers, is closed for every reader."""
    ball = trimesh.creation.icosphere(subdivisions=4, radius=40.0)
    body = Mesh(ball.vertices + np.array([41.3, 40.7, 40.1]), np.array(ball.faces))
    mesh = read(export(tmp_path / f"ball{suffix}", body))
    assert mesh.is_watertight
    assert len(mesh.faces) == len(ball.faces)
    unit = 1e-9 if suffix == ".glb" else 1.0
    # moved by one step of single precision at most: 3 * 7.6e-6 mm of a radius of 40 mm
    assert mesh.volume == pytest.approx(unit * volume(body), rel=1e-6)


@pytest.mark.parametrize("scale", [1.0, 0.01, 1e-4])
@pytest.mark.parametrize("suffix", FORMATS)
def test_a_small_mock_up_is_as_true_as_a_large_one(
    tmp_path: Path, suffix: str, scale: float
) -> None:
    """A ball of 8 mm, far from the origin for its size."""
    ball = trimesh.creation.icosphere(subdivisions=3, radius=4.0)
    middle = np.array([91.3, 40.7, 60.1])
    body = Mesh(ball.vertices + middle, np.array(ball.faces))
    mesh = read(export(tmp_path / f"ball{suffix}", body, scale=scale))
    unit = scale / 1000.0 if suffix == ".glb" else scale
    # one step of single precision at 91 mm or, where the file says where the mesh lies, at 4 mm
    step = (4.0 if suffix == ".glb" else 91.3) * 2.0 * SINGLE
    # hundreds of points are moved this way and that, and most of it cancels
    assert mesh.volume / unit**3 == pytest.approx(
        volume(body), abs=0.1 * step * mesh.area / unit**2
    )
    assert mesh.is_watertight
    turned = middle[[0, 2, 1]] * [1, 1, -1] if suffix == ".glb" else middle
    assert mesh.center_mass / unit == pytest.approx(turned, abs=4.0 * step)


@pytest.mark.parametrize("suffix", FORMATS)
def test_capitals_in_the_suffix(tmp_path: Path, suffix: str) -> None:
    upper = export(tmp_path / f"TUG{suffix.upper()}")
    assert upper.read_bytes() == export(tmp_path / f"tug{suffix}").read_bytes()


# STL.


def test_stl_size_and_header(tmp_path: Path) -> None:
    """80 bytes of text, a number, 50 bytes per facet; the text must not begin with "solid"."""
    data = export(tmp_path / "box.stl").read_bytes()
    assert len(data) == 84 + 12 * 50 == 684
    assert not data.lower().startswith(b"solid")
    assert data[:80].decode("ascii").rstrip() == (
        "silhouette3d, in millimetres: Harbour tug; aluminium 6061"
    )
    assert struct.unpack_from("<I", data, 80) == (12,)


@pytest.mark.parametrize("name", ["solid oak", "Leuchtturm Nº 1 — Kräne", "x" * 200, ""])
def test_stl_header_of_any_name(tmp_path: Path, name: str) -> None:
    data = export(tmp_path / "box.stl", name=name).read_bytes()
    assert len(data) == 684
    assert data.startswith(b"silhouette3d")


def test_stl_read_by_numpy_stl(tmp_path: Path) -> None:
    """Inertia of a box about its centre: m (b² + c²) / 12 for each axis, with m the volume."""
    mesh = stl.mesh.Mesh.from_file(str(export(tmp_path / "box.stl")))
    assert mesh.is_closed(exact=True)
    found, centre, inertia = mesh.get_mass_properties()
    m = W * D * H
    # numpy-stl integrates in single precision
    assert found == pytest.approx(m, rel=1e-6)
    assert centre == pytest.approx([W / 2, D / 2, H / 2], rel=1e-6)
    assert np.diag(inertia) == pytest.approx(
        [m * (D**2 + H**2) / 12, m * (W**2 + H**2) / 12, m * (W**2 + D**2) / 12], rel=1e-6
    )
    assert np.diag(inertia) == pytest.approx([650_000, 500_000, 250_000], rel=1e-6)


def test_stl_normals_are_unit_and_outward(tmp_path: Path) -> None:
    """As stored in the file, not as computed from the corners."""
    mesh = stl.mesh.Mesh.from_file(str(export(tmp_path / "box.stl")), calculate_normals=False)
    assert np.linalg.norm(mesh.normals, axis=1) == pytest.approx(1, rel=2 * SINGLE)
    middle = mesh.vectors.mean(axis=1)
    outward = middle - [W / 2, D / 2, H / 2]
    a, b, c = (mesh.vectors[:, k] for k in range(3))
    assert (np.einsum("ij,ij->i", mesh.normals, outward) > 0).all()
    assert (np.einsum("ij,ij->i", mesh.normals, np.cross(b - a, c - a)) > 0).all()


# meshio.


@pytest.mark.parametrize("suffix", [".stl", ".obj", ".ply"])
def test_read_by_meshio(tmp_path: Path, suffix: str) -> None:
    found = meshio.read(export(tmp_path / f"box{suffix}"))
    assert [cells.type for cells in found.cells] == ["triangle"]
    mesh = Mesh(found.points.astype(float), found.cells[0].data.astype(int))
    assert len(mesh.triangles) == 12
    assert volume(mesh) == pytest.approx(W * D * H, rel=1e-12)  # small whole numbers: exact
    assert np.array_equal(np.unique(mesh.vertices, axis=0), box((W, D, H)).vertices)


def test_obj_tells_two_near_coordinates_apart(tmp_path: Path) -> None:
    """Neighbours in single precision, just above 1 mm, are two numbers in the text."""
    near = [1.0, float(np.nextafter(np.float32(1), np.float32(2)))]
    body = box((near[1] - near[0], 10, 10), at=(near[0], 0, 0))
    found = meshio.read(export(tmp_path / "plate.obj", body))
    assert np.unique(found.points[:, 0].astype(np.float32)).tolist() == near


def test_obj_names(tmp_path: Path) -> None:
    lines = export(tmp_path / "box.obj", box(), box(at=(50, 0, 0))).read_text().splitlines()
    assert [line for line in lines if line.startswith("o ")] == [
        "o Harbour_tug_1",
        "o Harbour_tug_2",
    ]
    assert lines[0].startswith("# silhouette3d, in millimetres, z up: Harbour tug")


def test_ply_is_binary(tmp_path: Path) -> None:
    data = export(tmp_path / "box.ply").read_bytes()
    assert data.startswith(b"ply\nformat binary_little_endian 1.0\n")


# What cannot be written.


def refused(path: Path, words: str, bodies: Sequence[Mesh] | None = None, **options: Any) -> str:
    """The message of the refusal; the file that was there is untouched and alone."""
    path.write_bytes(b"old")
    with pytest.raises(OutputError, match=words) as caught:
        export_mesh(
            [box()] if bodies is None else bodies,
            path,
            **{"name": "tug", "material": "oak", **options},
        )
    assert path.read_bytes() == b"old"
    assert os.listdir(path.parent) == [path.name]
    assert caught.value.where == str(path)
    assert caught.value.todo
    return str(caught.value)


@pytest.mark.parametrize("name", ["tug.step", "tug", "tug.stl.bak"])
def test_an_unknown_suffix_names_the_known_ones(tmp_path: Path, name: str) -> None:
    message = refused(tmp_path / name, "not the suffix of a known mesh format")
    assert all(suffix in message for suffix in (".stl", ".3mf", ".glb", ".obj", ".ply"))


@pytest.mark.parametrize("scale", [0.0, -1.0, 1e-7, 1e7, float("nan"), float("inf")])
def test_a_scale_that_makes_no_sense(tmp_path: Path, scale: float) -> None:
    refused(tmp_path / "tug.stl", "the scale is", scale=scale)


@pytest.mark.parametrize("colour", [(1.2, 0, 0), (0, -0.1, 0), (0, 0, float("nan"))])
def test_a_colour_that_makes_no_sense(tmp_path: Path, colour: tuple[float, float, float]) -> None:
    refused(tmp_path / "tug.stl", "the colour is", colour=colour)


def test_no_body(tmp_path: Path) -> None:
    refused(tmp_path / "tug.stl", "no body to write", [])


def test_a_body_that_vanishes(tmp_path: Path) -> None:
    refused(tmp_path / "tug.stl", "no body to write", [box((1e-12, 10, 10), at=(50, 0, 0))])


def test_a_body_that_vanishes_beside_one_that_does_not(tmp_path: Path) -> None:
    path = export(tmp_path / "tug.stl", box(), box((1e-12, 10, 10), at=(50, 0, 0)))
    assert path.stat().st_size == 684


def test_a_body_that_is_not_closed(tmp_path: Path) -> None:
    open_box = Mesh(box().vertices, box().triangles[1:])
    refused(tmp_path / "tug.stl", "body 2 is not closed", [box(), open_box])


@pytest.mark.parametrize("suffix", FORMATS)
def test_a_full_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, suffix: str) -> None:
    def refuse(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", refuse)
    refused(tmp_path / f"tug{suffix}", "the disk is full")


def test_trimesh_waits_until_it_is_needed() -> None:
    source = "import sys, silhouette3d.documents.meshes.write; sys.exit('trimesh' in sys.modules)"
    root = Path(__file__).parents[3]
    assert subprocess.run([sys.executable, "-c", source], cwd=root, check=False).returncode == 0
