"""The commands that plan the cuts: stages, order, tabs, and the picture of the stages."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import silhouette3d
from tests.support.command import Run

PLAQUE = """\
# A plaque in its frame.
name = "Plaque"
units = "UNITS"
[stock]
size = [SIZE]
density = 2.0
[[profile]]
view = "front"            # cut first
drawing = "front.svg"
units = "mm"
datum = [0, 0]
[[profile]]
view = "top"
drawing = "top.svg"
units = "mm"
datum = [0, 0]
# The end.
"""


def svg(width: float, height: float, path: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}"><path d="{path}"/></svg>'
    )


def job_of(folder: Path, units: str = "mm", size: str = "40, 20, 30") -> Path:
    folder.mkdir()
    (folder / "job.toml").write_text(PLAQUE.replace("UNITS", units).replace("SIZE", size))
    (folder / "front.svg").write_text(svg(40, 30, "M5 5H35V25H5Z"))
    (folder / "top.svg").write_text(svg(40, 20, "M5 0H35V20H5Z"))
    return folder


@pytest.fixture
def plaque(tmp_path: Path) -> Path:
    """30 × 20 mm inside a front face of 40 × 30, then the same from above: loose after cut 1."""
    return job_of(tmp_path / "plaque")


@pytest.fixture(autouse=True)
def wide(monkeypatch: pytest.MonkeyPatch) -> None:
    """A terminal of one width, so that tables break where they are looked for."""
    monkeypatch.setenv("COLUMNS", "120")


def test_stages_as_json_have_their_keys_and_no_others(run: Run, plaque: Path) -> None:
    status, out, _ = run("stages", plaque, "--json")
    data = json.loads(out)
    assert status == 0
    assert list(data) == ["order", "cuts"]
    assert data["order"] == ["front", "top"]
    first = data["cuts"][0]
    assert list(first) == [
        "profile",
        "thickness_mm",
        "length_mm",
        "area_mm2",
        "starts",
        "bodies",
        "part_standing",
    ]
    assert first["thickness_mm"] == pytest.approx({"stock": 20, "most": 20, "least": 20})
    assert [list(body) for body in first["bodies"]] == [
        ["standing", "volume_mm3", "mass_g", "size_mm", "centre_mm"]
    ] * 2
    held, part = first["bodies"][1], first["bodies"][0]
    if held["standing"] != "held":
        held, part = part, held
    assert (held["standing"], part["standing"]) == ("held", "part")
    assert part["volume_mm3"] == pytest.approx(30 * 20 * 20)
    assert part["mass_g"] == pytest.approx(24.0)
    assert part["size_mm"] == pytest.approx([30, 20, 20])
    assert part["centre_mm"] == pytest.approx([20, 10, 15])
    # in the second setup the plaque reaches from side to side and is what the clamps hold
    assert [cut["part_standing"] for cut in data["cuts"]] == ["loose", "held"]
    assert [start["from"] for start in first["starts"]] == ["pierce"]


def test_stages_for_people_name_what_is_loose(run: Run, plaque: Path) -> None:
    status, out, _ = run("stages", plaque)
    assert status == 0
    assert "Cut 1: front" in out
    assert "Cut 2: top" in out
    assert "loose, with cuts still to make" in out
    assert "The part is free." in out


def test_every_order_is_printed_with_a_reason(run: Run, plaque: Path) -> None:
    status, out, _ = run("order", plaque)
    assert status == 0
    assert "front, top (as declared)" in out
    assert "top, front" in out
    assert "Best: top, front" in out


def test_the_best_order_is_written_and_comments_stay(run: Run, plaque: Path) -> None:
    status, out, _ = run("order", plaque, "--write")
    text = (plaque / "job.toml").read_text()
    assert status == 0
    assert f"Wrote {plaque / 'job.toml'}." in out
    assert silhouette3d.load(plaque).job.order == ("top", "front")
    for comment in ("# A plaque in its frame.", "# cut first", "# The end."):
        assert comment in text


def test_orders_as_json_are_ranked(run: Run, plaque: Path) -> None:
    data = json.loads(run("order", plaque, "--json")[1])
    assert data["declared"] == ["front", "top"]
    assert [one["order"] for one in data["orders"]] == [["top", "front"], ["front", "top"]]
    assert [one["released_after"] for one in data["orders"]] == [None, 1]


@pytest.mark.parametrize(
    ("units", "size"),
    [("mm", "40, 20, 30"), ("in", "1.5748031496063, 0.78740157480315, 1.1811023622047")],
)
def test_tabs_are_found_and_written_and_then_hold(
    run: Run, tmp_path: Path, units: str, size: str
) -> None:
    folder = job_of(tmp_path / "job", units, size)
    status, out, _ = run("tabs", folder, "--write")
    assert status == 0
    assert "no mark" in out
    assert "held until the last cut and free after it" in out
    assert "# The end." in (folder / "job.toml").read_text()
    part = silhouette3d.load(folder)
    assert part.stages[0].part_is_held
    assert part.comes_free
    assert {finding.code for finding in part.findings}.isdisjoint(
        {"released-early", "not-released", "witness", "weak-tab"}
    )
    assert run("tabs", folder)[1].count("No tabs are needed") == 1


def test_tabs_as_json(run: Run, plaque: Path) -> None:
    data = json.loads(run("tabs", plaque, "--json")[1])
    assert data["holds"] is True
    assert data["tabs"]
    for tab in data["tabs"]:
        assert list(tab) == ["profile", "at_mm", "width_mm", "holding_mm2", "witness_mm2"]
        assert tab["profile"] == "front"
        assert tab["holding_mm2"] == pytest.approx(40.0)  # 2 mm wide, 20 mm deep
        assert tab["witness_mm2"] == 0.0


def test_the_stages_are_pictured(run: Run, plaque: Path, tmp_path: Path) -> None:
    from PIL import Image

    for name, more in (("near", ["--explode", "0"]), ("apart", ["--explode", "0.8"])):
        status, _, _ = run("picture", plaque, "--stages", "-o", tmp_path / f"{name}.png", *more)
        assert status == 0
    near, apart = (Image.open(tmp_path / f"{name}.png") for name in ("near", "apart"))
    assert near.size == apart.size
    assert near.tobytes() != apart.tobytes()


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--stages", "--view", "front"], "pictures of their own"),
        (["--explode", "0.4"], "--explode goes with --stages"),
        (["--stages", "--explode", "-1"], "from 0 to 10"),
        (["--stages", "--explode", "nan"], "from 0 to 10"),
    ],
)
def test_options_that_do_not_go_together_are_refused(
    run: Run, plaque: Path, tmp_path: Path, more: list[str], said: str
) -> None:
    status, out, err = run("picture", plaque, "-o", tmp_path / "a.png", *more)
    assert (status, out) == (2, "")
    assert said in err
    assert not (tmp_path / "a.png").exists()
