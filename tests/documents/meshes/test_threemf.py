"""3MF files as lib3mf reads them, the library of those who wrote the format.

Source: 3MF Core Specification 1.4.0, 3MF Consortium.
"""

from __future__ import annotations

import zipfile
from pathlib import Path
from typing import Any

import lib3mf
import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from silhouette3d.geometry.mesh import Mesh
from tests.support.meshes import box, export, two_blocks_at_an_edge, volume


def read_3mf(path: Path) -> tuple[Any, list[str]]:
    """The model that lib3mf, the consortium's own library, reads; and its warnings."""
    model = lib3mf.Wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(str(path))
    return model, [reader.GetWarning(i)[1] for i in range(reader.GetWarningCount())]


def objects(model: Any) -> list[Any]:
    found, iterator = [], model.GetMeshObjects()
    while iterator.MoveNext():
        found.append(iterator.GetCurrentMeshObject())
    return found


def material_of(model: Any, item: Any) -> tuple[str, tuple[int, int, int, int]]:
    """Name and colour of the base material that an object refers to."""
    groups = model.GetBaseMaterialGroups()
    assert groups.MoveNext()
    group = groups.GetCurrentBaseMaterialGroup()
    resource, member, present = item.GetObjectLevelProperty()
    assert present
    assert resource == group.GetUniqueResourceID()
    shown = group.GetDisplayColor(member)
    return group.GetName(member), (shown.Red, shown.Green, shown.Blue, shown.Alpha)


def test_3mf_read_by_lib3mf(tmp_path: Path) -> None:
    model, warnings = read_3mf(export(tmp_path / "box.3mf"))
    assert warnings == []
    assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
    (item,) = objects(model)
    assert item.IsManifoldAndOriented()
    assert item.GetName() == "Harbour tug"
    assert item.GetType() == lib3mf.ObjectType.Model
    assert (item.GetVertexCount(), item.GetTriangleCount()) == (8, 12)
    corners = np.array([list(v.Coordinates) for v in item.GetVertices()])
    triangles = np.array([list(t.Indices) for t in item.GetTriangleIndices()])
    assert volume(Mesh(corners, triangles)) == pytest.approx(6000, rel=1e-12)  # exact
    assert model.GetBuildItems().Count() == 1


def test_3mf_names_and_material(tmp_path: Path) -> None:
    model, warnings = read_3mf(
        export(tmp_path / "box.3mf", name="Tug <\"A\"> & 'B'", colour=(1.0, 0.5, 0.0))
    )
    assert warnings == []
    (item,) = objects(model)
    assert item.GetName() == "Tug <\"A\"> & 'B'"
    about = model.GetMetaDataGroup()
    told = {
        data.GetName(): data.GetValue()
        for data in (about.GetMetaData(i) for i in range(about.GetMetaDataCount()))
    }
    assert told == {"Title": "Tug <\"A\"> & 'B'", "Application": "silhouette3d"}
    assert material_of(model, item) == ("aluminium 6061", (255, 128, 0, 255))


def test_3mf_has_one_object_for_each_body(tmp_path: Path) -> None:
    model, warnings = read_3mf(export(tmp_path / "box.3mf", box(), box(at=(50, 0, 0))))
    assert warnings == []
    assert [item.GetName() for item in objects(model)] == ["Harbour tug 1", "Harbour tug 2"]
    assert all(item.IsManifoldAndOriented() for item in objects(model))
    assert model.GetBuildItems().Count() == 2


def test_3mf_parts_a_line_of_contact(tmp_path: Path) -> None:
    """Manifold edges: "exactly 1 other triangle" (section Meshes). Welded points would be 14."""
    model, warnings = read_3mf(export(tmp_path / "blocks.3mf", two_blocks_at_an_edge()))
    assert warnings == []
    (item,) = objects(model)
    assert item.IsManifoldAndOriented()
    assert item.GetVertexCount() == 16


def test_3mf_without_a_material(tmp_path: Path) -> None:
    model, warnings = read_3mf(export(tmp_path / "box.3mf", name="", material=""))
    assert warnings == []
    (item,) = objects(model)
    assert item.GetName() == "part"
    assert material_of(model, item)[0] == "unknown"


def test_3mf_unit_read_by_trimesh(tmp_path: Path) -> None:
    (mesh,) = trimesh.load_scene(export(tmp_path / "box.3mf")).geometry.values()
    assert mesh.units == "millimeter"


def test_3mf_package(tmp_path: Path) -> None:
    """Content types and relationship of the Open Packaging Conventions (3MF Core, section 2.1)."""
    with zipfile.ZipFile(export(tmp_path / "box.3mf")) as file:
        assert file.testzip() is None
        assert file.namelist() == ["[Content_Types].xml", "_rels/.rels", "3D/3dmodel.model"]
        assert {info.date_time for info in file.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        start = b'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"'
        assert start in file.read("_rels/.rels")


@given(name=st.text(max_size=30), material=st.text(max_size=30))
def test_3mf_holds_any_text(
    tmp_path_factory: pytest.TempPathFactory, name: str, material: str
) -> None:
    path = tmp_path_factory.mktemp("text") / "box.3mf"
    model, warnings = read_3mf(export(path, name=name, material=material))
    assert warnings == []
    assert len(objects(model)) == 1
