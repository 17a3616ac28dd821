"""What the workbench hands to the browser: shapes, marks, cards, words, pictures."""

from __future__ import annotations

import base64
import threading
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.image import imread

import silhouette3d
from silhouette3d.geometry.mesh import Mesh
from silhouette3d.geometry.solid import Solid
from silhouette3d.job.model import Job
from silhouette3d.workbench import serializers as forms
from silhouette3d.workbench.computation import AFTER_PART, first_result
from silhouette3d.workbench.protocol import CardForm, StripStep
from silhouette3d.workbench.result import Result, Trouble
from silhouette3d.workbench.session import Session
from silhouette3d.workbench.thumbnails import Strip, as_address
from silhouette3d.workbench.view3d import (
    AXES,
    Section,
    Wanted,
    eye_for,
    labels_of,
    marks_of,
    shapes_of,
)
from silhouette3d.workbench.view_model import wanted_of

SAMPLES = Path(__file__).parents[2] / "samples"


def result_of(sample: str) -> Result:
    """All that is known about a sample."""
    result = first_result(1, silhouette3d.load(SAMPLES / sample).job, None)
    for step in AFTER_PART:
        result = step(result)
    return result


@pytest.fixture(scope="module")
def gate() -> Result:
    return result_of("faulty/thin-section")


@pytest.fixture(scope="module")
def gone() -> Result:
    return result_of("faulty/shadow-lost")


@pytest.fixture(scope="module")
def pair() -> Result:
    return result_of("faulty/several-bodies")


def unpacked(packed: dict[str, Any]) -> np.ndarray:
    assert set(packed) == {"bvals", "dtype", "shape"}
    values = np.frombuffer(base64.b64decode(packed["bvals"]), packed["dtype"])
    assert packed["shape"] == [values.size]
    return values


def mesh_of(shapes: list[dict[str, Any]], *roles: str) -> Mesh:
    """The triangles of all shapes of some roles, as one mesh."""
    corners = []
    for shape in shapes:
        if shape["role"] in roles:
            points = unpacked(shape["state"]["mesh"]["points"]).reshape(-1, 3).astype(float)
            cells = unpacked(shape["state"]["mesh"]["polys"]).reshape(-1, 4)
            assert (cells[:, 0] == 3).all()
            corners.append(points[cells[:, 1:]].reshape(-1, 3))
    flat = np.concatenate(corners)
    return Mesh(flat, np.arange(len(flat)).reshape(-1, 3))


def volume(mesh: Mesh) -> float:
    return Solid.from_mesh(mesh).volume


def test_the_part_arrives_as_it_is(gate: Result) -> None:
    """In single precision: seven digits of coordinates up to 100 mm."""
    shapes = shapes_of(gate, Wanted())
    assert volume(mesh_of(shapes, "part")) == pytest.approx(gate.volume, rel=1e-5)
    assert volume(mesh_of(shapes, "stock")) == pytest.approx(40 * 20 * 30, rel=1e-5)
    assert len({shape["id"] for shape in shapes}) == len(shapes)
    assert not any(shape["role"].startswith("prism") for shape in shapes)


def test_pieces_beside_the_part_are_told_apart(pair: Result) -> None:
    shapes = shapes_of(pair, Wanted())
    assert volume(mesh_of(shapes, "part")) == pytest.approx(9000, rel=1e-5)
    assert volume(mesh_of(shapes, "loose")) == pytest.approx(9000, rel=1e-5)


def test_prisms_reach_past_the_block(gate: Result) -> None:
    for profile, shape in zip(
        gate.part.profiles,
        (s for s in shapes_of(gate, Wanted(prisms=True)) if s["role"] == "prism"),
        strict=True,
    ):
        deep = profile.face.thickness * 1.1
        assert volume(mesh_of([shape], "prism")) == pytest.approx(
            profile.area.area * deep, rel=1e-5
        )


@pytest.mark.parametrize("axis", ["x", "y", "z"])
@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_two_halves_of_a_section_are_the_part(gate: Result, axis: Any, share: float) -> None:
    halves = 0.0
    for keep in ("low", "high"):
        shapes = shapes_of(gate, Wanted(section=Section(axis, share, keep)))
        mesh = mesh_of(shapes, "part", "part-cut")
        at = share * gate.stock_size[AXES[axis]]
        beyond = mesh.vertices[:, AXES[axis]] - at
        assert (beyond * (1 if keep == "low" else -1)).max() < 1e-5
        on_cut = mesh_of(shapes, "part-cut").vertices[:, AXES[axis]]
        assert on_cut == pytest.approx(at, abs=1e-5)
        halves += volume(mesh)
    assert halves == pytest.approx(gate.volume, rel=1e-5)


def test_a_section_leaves_out_whole_pieces(pair: Result) -> None:
    """The blocks stand at x from 0 to 15 and from 25 to 40, of 40."""
    shapes = shapes_of(pair, Wanted(section=Section("x", 0.5, "low")))
    assert volume(mesh_of(shapes, "part", "loose")) == pytest.approx(9000, rel=1e-5)
    left = {shape["role"].split("-")[0] for shape in shapes} - {"stock"}
    assert left in ({"part"}, {"loose"})


def test_stages_are_shown_by_what_becomes_of_the_pieces(gate: Result) -> None:
    assert gate.stages is not None
    raw = shapes_of(gate, Wanted(stage=0))
    assert volume(mesh_of(raw, "part", "held", "loose")) == pytest.approx(24000, rel=1e-5)
    for k, stage in enumerate(gate.stages):
        shapes = shapes_of(gate, Wanted(stage=k))
        for standing in {piece.status for piece in stage.pieces}:
            whole = sum(piece.solid.volume for piece in stage.pieces if piece.status == standing)
            assert volume(mesh_of(shapes, standing)) == pytest.approx(whole, rel=1e-5)
    moved = [s["move"] for s in shapes_of(gate, Wanted(stage=2)) if s["role"] in {"held", "loose"}]
    assert any(any(move) for move in moved)
    assert shapes_of(gate, Wanted(stage=99)) == shapes_of(gate, Wanted(stage=2))


def test_lost_shadows_and_thin_places_are_marked(gone: Result, gate: Result) -> None:
    lost = [s for s in marks_of(gone, Wanted()) if s["role"] == "lost"]
    expected = sum(p.face.thickness * gone.part.lost(p.name).area for p in gone.part.profiles)
    assert volume(mesh_of(lost, "lost")) == pytest.approx(expected, rel=1e-5)
    (thin,) = [s for s in marks_of(gate, Wanted()) if s["role"] == "thin"]
    points = unpacked(thin["state"]["mesh"]["points"]).reshape(-1, 3)
    region = gate.part.thin[0].region
    assert points.min(axis=0) == pytest.approx(region.low, abs=1e-5)
    assert points.max(axis=0) == pytest.approx(region.high, abs=1e-5)
    assert np.linalg.norm(points[-1] - points[-2]) == pytest.approx(region.thickness, abs=1e-5)
    assert marks_of(gate, Wanted(stage=1)) == []
    assert marks_of(replace(gate, findings=None), Wanted()) == []


def test_labels_carry_the_numbers_of_the_list(gate: Result) -> None:
    listed = forms.finding_values(gate.findings or (), "mm")
    for label in labels_of(gate, Wanted()):
        found = listed[label["number"] - 1]
        assert (found["severity"], found["where"]) == (label["severity"], label["at"])
    assert labels_of(gate, Wanted(stage=0)) == []


def test_the_eye_for_a_profile(gate: Result) -> None:
    assert eye_for(gate, "front") == {"look": [0.0, 1.0, 0.0], "up": [0.0, 0.0, 1.0]}
    assert eye_for(gate, "nothing") is None


def test_what_is_asked_for_is_checked() -> None:
    asked = {"stage": 1, "prisms": True, "section": {"axis": "y", "share": 0.25, "keep": "high"}}
    assert wanted_of(asked) == Wanted(1, True, Section("y", 0.25, "high"))
    assert wanted_of({"section": {"axis": ""}}) == Wanted()
    for section in (
        {"axis": "w", "share": 0.5, "keep": "low"},
        {"axis": "x", "share": 1.5, "keep": "low"},
        {"axis": "x", "share": 0.5, "keep": "left"},
        {"axis": "x", "share": float("nan"), "keep": "low"},
    ):
        with pytest.raises(ValueError, match="no section"):
            wanted_of({"section": section})


def test_a_card_keeps_what_it_does_not_know_yet(gate: Result) -> None:
    full = forms.card_values(gate.cards[0], "mm", None)
    assert full["known"]
    plain = replace(gate.cards[0], shadow="", lost=(), tabs=(), path="")
    assert forms.card_values(plain, "mm", full)["shadow"] == full["shadow"]
    assert not forms.card_values(plain, "mm", full)["known"]
    assert forms.card_values(plain, "mm", None)["shadow"] == ""
    other: CardForm = {**full, "name": "other"}
    assert forms.card_values(plain, "mm", other)["shadow"] == ""


def test_figures_follow_the_unit(gate: Result) -> None:
    assert forms.figures(gate, "mm")["size"] == "40 × 20 × 30 mm"
    assert forms.figures(gate, "in")["size"] == "1.575 × 0.787 × 1.181 in"
    assert forms.figures(gate, "in")["mass"].endswith("oz")
    assert forms.figures(gate, "in")["block"] == [40.0, 20.0, 30.0]  # for the view: always mm


def test_the_form_shows_values_in_the_jobs_own_unit(tmp_path: Path) -> None:
    session = Session.of(SAMPLES / "crane", lambda call: None)
    try:
        form = forms.job_form(session)
        job = session.job
        assert form is not None
        assert isinstance(job, Job)
        assert form["units"] == "in"
        assert form["kerf"] == pytest.approx(job.cutting.kerf / 25.4)
        assert form["stock"]["size"] == job.declared["stock"]["size"]
        assert [p["name"] for p in form["profiles"]] == list(job.names)
    finally:
        session.stop()
    empty = Session(tmp_path, lambda call: None)
    try:
        assert forms.job_form(empty) is None
        assert forms.folder_values(empty)["drawings"] == []
    finally:
        empty.stop()


def test_trouble_is_told_in_parts() -> None:
    values = forms.trouble_values(Trouble("broken", "front.dxf", "draw it again"))
    assert values is not None
    assert (values["what"], values["where"], values["todo"]) == (
        "broken",
        "front.dxf",
        "draw it again",
    )
    assert forms.trouble_values(None) is None


def test_a_picture_in_an_address_is_the_picture() -> None:
    image = np.arange(5 * 7 * 3, dtype=np.uint8).reshape(5, 7, 3)
    kind, data = as_address(image).split(",")
    assert kind == "data:image/png;base64"
    read = imread(BytesIO(base64.b64decode(data)), format="png")[:, :, :3]
    assert (np.round(read * 255).astype(np.uint8) == image).all()


def test_the_strip_shows_the_newest_result_only(gate: Result) -> None:
    delivered: list[list[StripStep]] = []
    there = threading.Event()

    def take(steps: list[StripStep]) -> None:
        delivered.append(steps)
        there.set()

    strip = Strip(take, lambda call: call())
    try:
        strip.draw(gate)
        strip.draw(replace(gate, sequence=2))
        assert there.wait(60)
    finally:
        strip.stop()
    titles = [step["title"] for step in delivered[-1]]
    assert titles == ["Block", "1  front", "2  right", "Part"]
    assert all(step["picture"].startswith("data:image/png") for step in delivered[-1])
    assert len(delivered) == 1


def test_findings_are_told_in_the_unit_that_is_chosen(gate: Result) -> None:
    """The switch changes the words and nothing else."""
    mm, inches = (forms.finding_values(gate.findings or (), unit) for unit in ("mm", "in"))
    assert mm
    for one, other in zip(mm, inches, strict=True):
        assert " mm" in one["message"]
        assert " in" in other["message"]
        assert "mm" not in other["message"] + other["advice"]
        words = ("message", "advice")
        assert {k: v for k, v in one.items() if k not in words} == {
            k: v for k, v in other.items() if k not in words
        }
