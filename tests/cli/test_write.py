"""The command line: a drawing for each setup, and a mock-up that stands."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
import trimesh
from ezdxf.filemanagement import readfile

import silhouette3d
from silhouette3d.cli import write as handing
from silhouette3d.errors import OutputError
from tests.support.command import Run
from tests.support.shapes import IN_PIECES, SOUND, load, rect, write_dxf, write_job


@pytest.fixture(autouse=True)
def pointed(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Jobs whose findings were to be pointed to, which takes seconds to work out."""
    found: list[str] = []
    monkeypatch.setattr(handing, "point_to_findings", lambda part, job: found.append(part.name))
    return found


@pytest.fixture
def ell(tmp_path: Path) -> Path:
    return write_job(tmp_path, SOUND["ell"])


def test_setups(run: Run, ell: Path, tmp_path: Path, pointed: list[str]) -> None:
    out = tmp_path / "out"
    status, said, _ = run("setups", ell, "-o", out)
    assert status == 0
    assert said == f"Wrote {out / 'shape-01-front.dxf'}.\nWrote {out / 'shape-02-right.dxf'}.\n"
    layers = {e.dxf.layer for e in readfile(out / "shape-02-right.dxf").modelspace()}
    # the front cut took some of it, so that it begins in air and needs no lead
    assert layers == {"OUTLINE", "UNCUT", "STOCK", "DATUM", "PATH", "STARTS"}
    assert pointed == ["shape"]


def test_setups_come_in_the_order_of_the_cuts(run: Run, ell: Path, tmp_path: Path) -> None:
    ell.write_text(ell.read_text() + '[cutting]\norder = ["right", "front"]\n')
    run("setups", ell, "-o", tmp_path / "out")
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == [
        "setups.json",
        "shape-01-right.dxf",
        "shape-02-front.dxf",
    ]


def test_drawings_of_before_are_told(run: Run, ell: Path, tmp_path: Path) -> None:
    """So that nobody cuts a setup that the job no longer has."""
    write_dxf(tmp_path / "out.dxf", {"0": rect(0, 0, 1, 1)})
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "03-top.dxf").write_text("old")
    _, _, err = run("setups", ell, "-o", tmp_path / "out")
    assert "also holds drawings that are not of this job as it is now: 03-top.dxf\n" in err


def test_setups_that_cannot_be_written(run: Run, ell: Path, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("mine")
    status, said, err = run("setups", ell, "-o", tmp_path / "out")
    assert (status, said) == (2, "")
    assert err == (
        f"silhouette3d: {tmp_path / 'out'}: this is a file, not a folder. "
        "Give the name of a folder.\n"
    )


# Mock-ups.


def test_a_mock_up_stands(run: Run, tmp_path: Path) -> None:
    """The wedge, 60 × 20 × 45 mm: its centre of mass is a third from the upright walls."""
    job = write_job(tmp_path, SOUND["wedge"])
    file = tmp_path / "wedge.stl"
    status, out, err = run("export", job, file, "--stand", "--scale", "0.5")
    assert (status, err) == (0, "")
    # on its triangle: a third of the height of 36 mm on its side of 75 mm, over 10 mm
    angle = math.floor(10 * math.degrees(math.atan2(12.0, 10.0))) / 10
    assert out == (
        f"Wrote {file} at scale 0.5.\nIt stands on its front; tips over when tilted by {angle}°.\n"
    )
    mesh = trimesh.load_mesh(file)
    assert mesh.is_watertight
    assert mesh.volume == pytest.approx(SOUND["wedge"].volume / 8, rel=1e-6)  # not mirrored
    low, high = mesh.bounds
    assert (low[2], high[2]) == pytest.approx((0.0, 10.0), abs=1e-5)  # single precision
    assert (low + high)[:2] == pytest.approx([0, 0], abs=1e-5)


def test_as_it_lies_it_is_written_where_it_is(run: Run, tmp_path: Path) -> None:
    job = write_job(tmp_path, SOUND["wedge"])
    run("export", job, tmp_path / "wedge.ply")
    low, high = trimesh.load_mesh(tmp_path / "wedge.ply").bounds
    assert np.array([low, high]) == pytest.approx(np.array([(0, 0, 0), (60, 20, 45)]), abs=1e-5)


@pytest.mark.parametrize("name", IN_PIECES)
def test_a_part_in_pieces_does_not_stand(run: Run, tmp_path: Path, name: str) -> None:
    job = write_job(tmp_path, IN_PIECES[name])
    file = tmp_path / "part.stl"
    status, _, err = run("export", job, file, "--stand")
    assert status == 2
    assert "the part is in 2 bodies, which do not stand as one" in err
    assert not file.exists()
    data = json.loads(run("weigh", job, "--json")[1])
    for key in ("stands_on", "down", "tipping_angle_deg", "tipping_angle_in_block_deg"):
        assert data[key] is None
    assert "the 2 bodies do not stand as one" in run("weigh", job)[1]
    assert run("export", job, file)[0] == 0


def test_both_ways_to_stand_are_told(run: Run, tmp_path: Path) -> None:
    """As it lies the wedge stands less firmly than on its front."""
    part = load(tmp_path, SOUND["wedge"])
    assert part.standing is not None
    assert part.lying is not None
    # upright: 15 mm up, 10 from front and rear, 20 and 40 from the ends
    assert part.lying.tipping_angle == pytest.approx(math.degrees(math.atan2(10.0, 15.0)))
    data = json.loads(run("weigh", tmp_path, "--json")[1])
    assert data["stands_on"] == "front"
    assert data["tipping_angle_in_block_deg"] == part.lying.tipping_angle


def test_python_export_stands_too(tmp_path: Path) -> None:
    part = load(tmp_path, SOUND["wedge"])
    part.export(tmp_path / "a.stl", stand=True)
    assert trimesh.load_mesh(tmp_path / "a.stl").bounds[0][2] == pytest.approx(0.0, abs=1e-5)


def test_python_says_why_not(tmp_path: Path) -> None:
    part = load(tmp_path, IN_PIECES["two cubes"])
    assert part.standing is None
    assert part.lying is None
    with pytest.raises(OutputError, match="Join them, or export it as it lies"):
        part.export(tmp_path / "a.stl", stand=True)


def test_the_crane_stands_best_on_a_slanted_side(run: Run, tmp_path: Path) -> None:
    """What the hull spans over a hollow carries too, however it looks."""
    job = Path(silhouette3d.__file__).parents[1] / "samples" / "crane"
    out = run("export", job, tmp_path / "crane.stl", "--stand")[1]
    assert "It stands on its top front, a slanted side; tips over when tilted by 16." in out
