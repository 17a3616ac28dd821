"""The samples: they can be drawn again, and each is as sound or as faulty as it says."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import silhouette3d
from silhouette3d.drawing.read import read_drawing

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "samples"
DRAWN = sorted(
    path.relative_to(SAMPLES) for path in SAMPLES.rglob("*") if path.suffix in (".dxf", ".svg")
)
FAULTY = sorted(path.name for path in (SAMPLES / "faulty").iterdir())
ALSO = {
    "part-broken": {"several-bodies"},
    "released-early": {"loose-offcut"},
    "thin-section": {"small-offcut"},
    "weak-hold": {"loose-offcut", "start-on-wall"},
    "weak-tab": {"loose-offcut"},
}
"""A part that a cut breaks is in several bodies at the end as well; a last cut that leaves the
block by two sides frees what only a clamp in its path would hold; beside a tab on a skin
no lead fits."""


@pytest.fixture(scope="module")
def drawn_again(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The drawings as the script makes them now."""
    folder = tmp_path_factory.mktemp("samples")
    code = "import make_samples, pathlib, sys; make_samples.make(pathlib.Path(sys.argv[1]))"
    subprocess.run([sys.executable, "-c", code, str(folder)], cwd=ROOT / "scripts", check=True)
    return folder


@pytest.mark.parametrize("path", DRAWN, ids=str)
def test_every_drawing_can_be_drawn_again(path: Path, drawn_again: Path) -> None:
    # what they hold, not their bytes: another release of ezdxf writes other headers
    committed, fresh = (read_drawing(folder / path) for folder in (SAMPLES, drawn_again))
    assert fresh.shapes == committed.shapes
    assert fresh.unit == committed.unit


def test_nothing_is_drawn_that_is_not_committed(drawn_again: Path) -> None:
    made = {path.relative_to(drawn_again) for path in drawn_again.rglob("*.*")}
    assert made == set(DRAWN)


@pytest.mark.parametrize("code", FAULTY)
def test_a_faulty_job_has_that_finding_and_no_other(code: str) -> None:
    part = silhouette3d.load(SAMPLES / "faulty" / code)
    assert {finding.code for finding in part.findings} == {code} | ALSO.get(code, set())


def test_the_tugboat_passes_every_check() -> None:
    part = silhouette3d.load(SAMPLES / "tugboat")
    assert {finding.severity for finding in part.findings} <= {"note"}
    assert len(part.solid.bodies) == 1
    assert [stage.part_is_held for stage in part.stages] == [True, True, False]
    for profile in part.profiles:
        assert profile.stock_drawn is not None


def test_the_tugboat_comes_loose_early_in_another_order() -> None:
    job = silhouette3d.read_job(SAMPLES / "tugboat")
    other = silhouette3d.Part(job.changed({("cutting", "order"): ["top", "front", "right"]}))
    early = [finding for finding in other.findings if finding.code == "released-early"]
    assert [(finding.severity, finding.value) for finding in early] == [("error", 1.0)]


@pytest.mark.parametrize("name", ["lighthouse", "crane"])
def test_the_other_samples_have_no_errors_and_come_free(name: str) -> None:
    part = silhouette3d.load(SAMPLES / name)
    assert "error" not in {finding.severity for finding in part.findings}
    assert len(part.solid.bodies) == 1
    held = [stage.part_is_held for stage in part.stages]
    assert held == [True] * (len(held) - 1) + [False]


def test_the_samples_show_what_they_are_for() -> None:
    lighthouse = silhouette3d.load(SAMPLES / "lighthouse")
    assert lighthouse.stock.diameter == 40.0
    assert any(abs(p.view.look[0]) == pytest.approx(0.5**0.5) for p in lighthouse.profiles)
    crane = silhouette3d.load(SAMPLES / "crane")
    assert crane.job.units == "in"
    drawings = [read_drawing(crane.job.folder / p.drawing, default="in") for p in crane.job.profile]
    assert any(not drawing.unit_stated for drawing in drawings)
