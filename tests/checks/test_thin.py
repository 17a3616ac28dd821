"""Thin sections of a part: which outlines make them, how they are told, and how they look."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

import silhouette3d
from silhouette3d.checks.thin import THE_STOCK, walls_at
from silhouette3d.cli import main
from silhouette3d.documents.pictures.thin import painted_solid, split
from silhouette3d.geometry.mesh import Mesh
from tests.support.checking import advice, message

ROOT = Path(__file__).resolve().parents[2]
FAULTY = ROOT / "samples" / "faulty"


@pytest.fixture(scope="module")
def gate() -> silhouette3d.Part:
    """A lintel 1 mm thick between a passage of the front outline and a step of the right one."""
    return silhouette3d.load(FAULTY / "thin-section")


def changed(code: str, thin: float) -> silhouette3d.Part:
    """A faulty job with another limit."""
    job = silhouette3d.load(FAULTY / code).job
    return silhouette3d.Part(job.changed({("checks", "thin"): thin}))


def codes(part: silhouette3d.Part) -> dict[str, str]:
    kinds = ("thin-section", "thin-in-view", "knife-edge")
    return {f.code: f.severity for f in part.findings if f.code in kinds}


def test_a_section_names_the_outlines_on_both_sides(gate: silhouette3d.Part) -> None:
    (section,) = gate.thin
    assert section.region.thickness == pytest.approx(1.0, abs=1e-9)
    assert set(section.profiles) == {"front", "right"}
    heights = sorted([float(section.region.p[2]), float(section.region.q[2])])
    assert heights == pytest.approx([20.0, 21.0])
    (finding,) = (f for f in gate.findings if f.code == "thin-section")
    assert finding.value == pytest.approx(1.0)
    assert finding.limit == 1.5
    assert finding.profile is None
    assert "0.5 mm further apart" in advice(finding)


def test_walls_are_told_by_their_outlines(gate: silhouette3d.Part) -> None:
    at = np.array
    assert walls_at(at([20.0, 5.0, 20.0]), gate.profiles) == ("front",)
    assert walls_at(at([20.0, 5.0, 21.0]), gate.profiles) == ("right",)
    assert walls_at(at([20.0, 5.0, 25.0]), gate.profiles) == (THE_STOCK,)


@pytest.mark.parametrize(
    ("code", "thin", "expected"),
    [
        ("thin-section", 1.0, {}),  # as thick as the limit
        ("thin-section", 1.01, {"thin-section": "warning"}),
        ("thin-section", 1.99, {"thin-section": "warning"}),
        ("thin-section", 2.01, {"thin-section": "error"}),
        ("thin-in-view", 1.0, {}),
        ("thin-in-view", 1.9, {"thin-in-view": "warning"}),
        ("thin-in-view", 2.2, {"thin-in-view": "error"}),
        ("knife-edge", 0.1, {"knife-edge": "warning"}),
    ],
)
def test_findings_at_their_limits(code: str, thin: float, expected: dict[str, str]) -> None:
    assert codes(changed(code, thin)) == expected


def test_a_knife_edge_tells_angle_and_length() -> None:
    part = silhouette3d.load(FAULTY / "knife-edge")
    (finding,) = (f for f in part.findings if f.code == "knife-edge")
    assert finding.value == pytest.approx(np.degrees(np.arctan2(23.0, 40.0)))
    assert "20 mm" in message(finding)
    assert finding.where == pytest.approx((40.0, 10.0, 0.0))


def test_a_neck_of_an_outline_is_told_once_and_there() -> None:
    part = silhouette3d.load(FAULTY / "thin-in-view")
    assert len(part.thin) == 1
    (finding,) = (f for f in part.findings if f.severity != "note")
    assert (finding.code, finding.profile) == ("thin-in-view", "front")
    assert finding.where is not None
    assert finding.where[0] == pytest.approx(20.0, abs=1.0)
    assert finding.where[2] == pytest.approx(15.0, abs=0.05)


def test_thickness_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["thickness", str(FAULTY / "thin-section"), "--json"]) == 1
    data = json.loads(capsys.readouterr().out)
    assert list(data) == ["limit_mm", "regions", "held"]
    assert data["limit_mm"] == 1.5
    (region,) = data["regions"]
    assert list(region) == [
        "kind",
        "thickness_mm",
        "angle_deg",
        "at_mm",
        "p_mm",
        "q_mm",
        "extent_mm",
        "area_mm2",
        "profiles",
    ]
    assert region["area_mm2"] == pytest.approx(2 * 20 * 12, rel=0.06)  # both sides, by samples
    assert [held["after"] for held in data["held"]] == ["front"]
    assert main(["check", str(FAULTY / "thin-section"), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["regions"] == data["regions"]


def test_thickness_for_people(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["thickness", str(FAULTY / "thin-section")]) == 1
    out = capsys.readouterr().out
    assert "1 section below 1.5 mm" in out
    assert "As held after the cut of front" in out
    assert main(["thickness", str(FAULTY / "outside-stock")]) == 0
    assert "No sections below 1.5 mm" in capsys.readouterr().out


def test_the_block_between_cuts_is_measured_as_well() -> None:
    job = silhouette3d.load(FAULTY / "weak-tab").job
    part = silhouette3d.Part(job.changed({("checks", "thin"): 1.5}))
    ((stage, region),) = part.thin_while_held
    assert stage.cut.name == "front"
    assert region is not None
    assert region.thickness == pytest.approx(1.0, rel=1e-3)  # its tabs are 1 mm wide


def test_the_picture_colours_what_is_thin(tmp_path: Path) -> None:
    from PIL import Image

    pictures = []
    for thin in (1.5, 0.5):
        path = tmp_path / f"{thin}.png"
        changed("thin-section", thin).picture_thin(path)
        pictures.append(np.asarray(Image.open(path).convert("RGB")).astype(int))
    shown = [image[200:1000, 100:1900] for image in pictures]
    warm = [int(np.count_nonzero(part[..., 0] - part[..., 2] > 60)) for part in shown]
    assert warm[0] > 10_000
    assert warm[1] < warm[0] / 20


def test_only_what_is_thin_somewhere_is_cut_into_small_triangles() -> None:
    from matplotlib import colormaps

    colours = colormaps["plasma"]
    for part, is_thin in (
        (changed("thin-section", 0.5), False),
        (changed("thin-section", 1.5), True),
    ):
        (small, style), (whole, _) = painted_solid(part.results, colours)
        assert (len(small.triangles) > len(whole.triangles)) == is_thin
        assert style.paint is not None
        assert (len(np.unique(style.paint, axis=0)) > 1) == is_thin


def test_small_triangles_cover_the_large_ones() -> None:
    mesh = Mesh(
        np.array([[0.0, 0, 0], [4, 0, 0], [0, 3, 0], [0, 0, 0.1]]), np.array([[0, 1, 2], [0, 2, 3]])
    )
    small, owner = split(mesh, np.full(2, 0.5))
    areas = np.linalg.norm(small.area_vectors, axis=1)
    whole = np.linalg.norm(mesh.area_vectors, axis=1)
    assert [areas[owner == i].sum() for i in (0, 1)] == pytest.approx(whole)
    edges = np.linalg.norm(small.corners - np.roll(small.corners, 1, axis=1), axis=2)
    assert edges.max() <= 0.5 * (1.0 + 1e-12)
