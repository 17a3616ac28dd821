"""Every benchmark runs, at the smallest size; how fast is not tested."""

from __future__ import annotations

import json
import math
import sys
from pathlib import Path

import pytest

from bench import commands, cuts, findings, front, growth, kernels, moving, solids, walls
from bench.outlines import KINDS, outlines
from bench.timing import Row, line

SMALL = 24
"""Corners of an outline."""


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("level", [False, True])
def test_outlines(kind: str, level: bool) -> None:
    for area in outlines(kind, 200, level=level).values():
        assert area.is_valid
        assert len(area.exterior.coords) + len(area.interiors[0].coords) == 202
        low, high = min(area.bounds), max(area.bounds)
        assert -1e-9 <= low < high <= 100 + 1e-9  # scaled to the faces, so but for rounding
        assert level == ((low, high) == pytest.approx((0.0, 100.0), abs=1e-9))


def test_all_kernels_make_the_same_part() -> None:
    areas = outlines("letter", SMALL)
    volume = kernels.ours(areas)
    for kernel in (kernels.manifold, kernels.trimesh_boolean, kernels.open_cascade):
        # trimesh joins points that agree in eight digits
        assert kernel(areas) == pytest.approx(volume, rel=1e-7), kernel.__name__


def test_vtk_on_boxes() -> None:
    """Its filter makes something of two round shapes; of much else it does not."""
    areas = {"front": outlines("wavy", SMALL)["front"]}
    assert kernels.vtk_boolean(areas) > 0.0


def test_solids(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(solids, "apart", lambda kernel, areas, limit: (1.0, kernels.ours(areas)))
    rows = list(solids.rows([SMALL], budget=0.0, patience=1.0))
    assert [row.beside for row in rows[:4]] == [
        "plain manifold3d",
        "trimesh",
        "Open CASCADE",
        "VTK",
    ]
    assert len(rows) == 3 * 4 + 2
    assert not any(row.note for row in rows)
    monkeypatch.setattr(solids, "apart", lambda *_: None)
    failed = list(solids.beside("wavy", SMALL, budget=0.0, patience=1.0))[-1]
    assert math.isnan(failed.ratio)
    assert "fails" in failed.note
    assert "–" in line(failed)


def test_another_volume_is_told() -> None:
    assert solids._same(100.0, 100.00001) == ""
    assert solids._same(100.0, 103.0) == "its volume is off by 3.0%"


def test_a_kernel_of_its_own_process(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "path", [str(Path(kernels.__file__).parents[1]), *sys.path])
    found = kernels.apart(kernels.ours, outlines("wavy", SMALL), 60.0)
    assert found is not None
    assert found[1] == kernels.ours(outlines("wavy", SMALL))
    assert kernels.apart(kernels.ours, outlines("wavy", SMALL), 0.0) is None


def test_stages_and_order(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cuts, "permutations", lambda some: [some])
    rows = list(cuts.rows(["tugboat"], budget=0.0))
    assert [row.bench for row in rows] == ["stages", "order"]


def test_the_plain_way_makes_the_same_pieces() -> None:
    """As many as ours after one cut; later ones share heights, and it leaves flaps."""
    part = cuts.loaded("tugboat")
    first = part.order_of_cuts[0]
    found = cuts.after_each([part.cuts[first]])
    assert found == [len(part.cutting.bodies(frozenset({first})))]


def test_edits() -> None:
    rows = list(moving.rows(["tugboat"], [SMALL], budget=0.0))
    assert [row.case for row in rows] == ["tugboat", f"wavy, {SMALL} corners"]


def test_findings(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of wavy outlines and of toothed ones, here in this process."""
    monkeypatch.setattr(findings, "apart", lambda work, *given: work(*given))
    monkeypatch.setattr(findings, "TEETH", {"a few teeth": (20, 6.0)})
    rows = list(findings.rows([SMALL]))
    assert [row.case for row in rows] == [f"wavy, {SMALL} corners", "a few teeth"]
    assert all("MB" in row.note for row in rows)
    findings.every_finding(SMALL, 5)


def test_walls() -> None:
    rows = list(walls.rows([300], samples=5))
    assert [row.beside for row in rows] == ["trimesh ray", "trimesh max_sphere"]


def test_commands() -> None:
    (row,) = commands.rows([], [], 1)
    assert row.case == "--help"
    assert row.ours > 0.0


def test_growth(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(growth, "CORNERS", SMALL)
    grown = growth.Line("corners", (1, 10), (1.0, 100.0), (5.0, 5.0))
    assert grown.slope == pytest.approx(2.0)
    assert grown.memory_slope == pytest.approx(0.0, abs=1e-12)
    growth.picture([grown], tmp_path / "a.png")
    assert (tmp_path / "a.png").stat().st_size > 10_000
    assert len(growth.several("wavy", SMALL, 5)) == 5
    monkeypatch.setattr(growth, "apart", lambda work, *given: work(*given))
    lines = growth.lines([SMALL, 2 * SMALL], [1], most_for_findings=SMALL)
    assert [line.amounts for line in lines] == [(SMALL, 2 * SMALL), (1,), (SMALL,), (1,)]
    assert all(second > 0.0 for line in lines for second in line.seconds)


def test_the_front_door(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    row = Row("solid", "a case", 0.5, 2.0, "another", "a note")
    monkeypatch.setattr(front, "benches", lambda quick: {"solid": lambda: iter([row])})
    monkeypatch.setattr(sys, "argv", ["bench", "solid", "--json", str(tmp_path / "a.json")])
    front.main()
    told_last = " ".join(capsys.readouterr().out.splitlines()[-1].split())
    assert told_last == "solid a case 500.0 ms 2.00 s 4.0× another; a note"
    told = json.loads((tmp_path / "a.json").read_text("utf-8"))
    assert told["rows"][0]["ratio"] == 4.0
    assert set(told["machine"]) >= {"python", "cores", "manifold3d"}
