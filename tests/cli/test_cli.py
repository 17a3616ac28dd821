"""The command line: what it prints where, what it writes, and the status it ends with."""

from __future__ import annotations

import json
import math
import os
import shlex
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
import trimesh

import silhouette3d
from silhouette3d.base.materials import all_materials
from silhouette3d.checks.finding import Finding
from silhouette3d.errors import CuttingError, OutputError
from silhouette3d.geometry.frames import Array
from silhouette3d.job.model import schema
from silhouette3d.job.starter import write_starter
from silhouette3d.part import Part
from silhouette3d.presentation.wording.words import Told
from tests.support.command import Run

ROOT = Path(__file__).resolve().parents[2]

STEP = """\
name = "Quay step"
[stock]
size = [30.0, 20.0, 10.0]
density = 2.0
[[profile]]
view = "front"
drawing = "front.svg"
datum = "corner"
"""

L_SHAPE = "M0 0H10V6H30V10H0Z"
TWO_POSTS = "M0 0H10V10H0Z M20 0H28V10H20Z"
TOO_WIDE = "M0 0H40V10H0Z"


def svg(path: str) -> str:
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="10mm" '
        f'viewBox="0 0 30 10"><path d="{path}"/></svg>'
    )


@pytest.fixture
def step(tmp_path: Path) -> Path:
    """An L of 30 × 10 mm, its steps 10 and 4 mm high, 20 mm deep: nothing to mend."""
    return job_of(tmp_path / "step", L_SHAPE)


def job_of(folder: Path, path: str, text: str = STEP) -> Path:
    folder.mkdir()
    (folder / "job.toml").write_text(text)
    (folder / "front.svg").write_text(svg(path))
    return folder


def process(
    *arguments: object, env: dict[str, str] | None = None, **options: Any
) -> subprocess.CompletedProcess[str]:
    """Run a command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "silhouette3d", *map(str, arguments)],
        cwd=ROOT,
        env={**os.environ, **(env or {})},
        encoding="utf-8",
        check=False,
        **({"stdout": subprocess.PIPE, "stderr": subprocess.PIPE} | options),
    )


# Help.

COMMANDS = [
    "new",
    "check",
    "weigh",
    "thickness",
    "stages",
    "order",
    "tabs",
    "outline",
    "picture",
    "show",
    "open",
    "sheets",
    "setups",
    "page",
    "export",
    "materials",
    "schema",
]


def test_help_lists_the_commands_in_the_order_of_work(run: Run) -> None:
    status, out, err = run("--help")
    assert (status, err) == (0, "")
    lines = [
        line.split()[1] for line in out.splitlines() if line.startswith("│ ") and line[2] != " "
    ]
    assert lines[: len(COMMANDS)] == COMMANDS
    assert "Exit status" in out


def test_no_command_is_a_call_for_help(run: Run) -> None:
    assert run() == run("--help")


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_explains_itself(run: Run, command: str) -> None:
    status, out, err = run(command, "--help")
    assert (status, err) == (0, "")
    assert f"Usage: silhouette3d {command}" in out
    # Each argument and option stands in a box with words of its own.
    for line in out.splitlines():
        if line.startswith(("│ *", "│ --")):
            assert len(line.strip("│* ").split("  ", 1)) == 2, line


def test_version(run: Run) -> None:
    assert run("--version") == (0, f"{silhouette3d.__version__}\n", "")


def test_help_loads_no_more_than_it_needs() -> None:
    code = (
        "import sys\nfrom silhouette3d.cli import main\nmain(['--help'])\n"
        "print('loaded:', *{name.partition('.')[0] for name in sys.modules})"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, encoding="utf-8", check=True
    )
    loaded = set(done.stdout.rpartition("loaded:")[2].split())
    assert "cyclopts" in loaded
    heavy = "ezdxf manifold3d markdown_it numpy pydantic pyvista scipy shapely tomlkit trimesh vtk"
    assert loaded & set(heavy.split()) == set()


# check


def test_check_with_nothing_to_mend(run: Run, step: Path) -> None:
    status, out, err = run("check", step)
    assert (status, err) == (0, "")
    assert out.startswith("Quay step\n")
    assert "error" not in out
    assert "warning" not in out
    assert run("check", step / "job.toml") == (status, out, err)


def test_check_with_an_error(run: Run, tmp_path: Path) -> None:
    status, out, err = run("check", job_of(tmp_path / "posts", TWO_POSTS))
    assert (status, err) == (1, "")
    assert "✖ error" in out
    assert "several-bodies" in out
    assert "the part is in 2 pieces" in out
    assert "→ change the outlines" in out
    # The middle of the smaller post, 20 to 28 mm along x.
    for text in ("x 24 mm", "y 10 mm", "z 5 mm"):
        assert text in out
    assert "Findings: 1 error" in out


def test_check_with_a_warning(run: Run, tmp_path: Path) -> None:
    text = STEP.replace('datum = "corner"', "datum = [0.0, 0.0]")
    status, out, _ = run("check", job_of(tmp_path / "wide", TOO_WIDE, text))
    assert status == 1
    assert "▲ warning" in out
    assert "outside-stock" in out


def test_check_as_json(run: Run, tmp_path: Path) -> None:
    folder = job_of(tmp_path / "posts", TWO_POSTS)
    status, out, err = run("check", folder, "--json")
    assert (status, err) == (1, "")
    data = json.loads(out)
    assert list(data) == ["name", "findings", "summary", "regions"]
    assert data["name"] == "Quay step"
    first = data["findings"][0]
    assert (first["code"], first["severity"]) == ("several-bodies", "error")
    assert first["places"][0]["at_mm"] == pytest.approx([24.0, 10.0, 5.0], abs=1e-9)
    assert first["quantities"]["count"] == {"value": 2.0, "unit": ""}
    assert {one["unit"] for one in first["quantities"].values()} == {"", "g", "mm³"}
    kinds = [one["severity"] for one in data["findings"]]
    counts = {f"{k}s": kinds.count(k) for k in ("error", "warning", "note")}
    assert data["summary"] == {**counts, "accepted": 0}


@pytest.mark.parametrize("found", [(), (Finding("witness", "note"),)])
def test_check_prints_what_is_found_as_it_is(
    run: Run, step: Path, monkeypatch: pytest.MonkeyPatch, found: tuple[Finding, ...]
) -> None:
    words = Told("[b]message[/b]", ":smile:")
    monkeypatch.setattr(Part, "findings", found)
    monkeypatch.setattr(Part, "told", lambda *_: words)
    status, out, _ = run("check", step)
    assert status == 0
    if found:
        assert "[b]message[/b]" in out
        assert ":smile:" in out
        assert "Findings: 1 note." in out
        data = json.loads(run("check", step, "--json")[1])
        (one,) = data["findings"]  # one that has no place
        assert (one["profile"], one["places"], one["quantities"]) == (None, [], {})
        assert (one["message"], one["advice"]) == words
    else:
        assert out == "Quay step\nFindings: none.\n"


# weigh. The L is a box of 30 × 20 × 4 mm with one of 10 × 20 × 6 mm on it; 2 g/cm³.

BOXES = [((30.0, 20.0, 4.0), (15.0, 10.0, 2.0)), ((10.0, 20.0, 6.0), (5.0, 10.0, 7.0))]
"""Size and centre of each, in mm."""


def exact() -> tuple[float, Array, Array]:
    """Mass in g, centre in mm, inertia in g·mm²: boxes by the parallel axis theorem."""
    masses = np.array([0.002 * np.prod(size) for size, _ in BOXES])
    total = float(masses.sum())
    centre: Array = masses @ np.array([place for _, place in BOXES]) / total
    inertia = np.zeros((3, 3))
    for mass, (size, place) in zip(masses, BOXES, strict=True):
        square, away = np.square(size), np.array(place) - centre
        inertia += mass / 12.0 * np.diag(square.sum() - square)
        inertia += mass * (away @ away * np.eye(3) - np.outer(away, away))
    return total, centre, inertia


def test_weigh_as_json(run: Run, step: Path) -> None:
    status, out, err = run("weigh", step, "--json", "--quantity", 1000, "--packing", "0.25")
    assert (status, err) == (0, "")
    data = json.loads(out)
    assert list(data) == [
        "name",
        "volume_mm3",
        "volume_error_mm3",
        "perturbed_by_mm",
        "surface_mm2",
        "mass_g",
        "density_g_cm3",
        "centre_of_mass_mm",
        "inertia_g_mm2",
        "size_mm",
        "bodies",
        "stands_on",
        "down",
        "tipping_angle_deg",
        "tipping_angle_in_block_deg",
        "stock_mass_g",
        "quantity",
        "net_kg",
        "gross_kg",
    ]
    mass, centre, inertia = exact()
    assert mass == pytest.approx(7.2)
    assert data["name"] == "Quay step"
    assert data["volume_mm3"] == pytest.approx(3600.0)
    assert data["volume_error_mm3"] == data["perturbed_by_mm"] == 0.0  # no curves
    # Two L faces of 180 mm² and 80 mm around them, 20 mm deep.
    assert data["surface_mm2"] == pytest.approx(2 * 180.0 + 80.0 * 20.0)
    assert data["mass_g"] == pytest.approx(mass)
    assert data["density_g_cm3"] == 2.0
    assert data["centre_of_mass_mm"] == pytest.approx(centre)
    assert np.array(data["inertia_g_mm2"]) == pytest.approx(inertia, abs=1e-6)  # for the zeros
    assert data["size_mm"] == pytest.approx([30.0, 20.0, 10.0])
    assert data["bodies"] == 1
    # On its base of 30 × 20 mm the foot of its centre is 10 mm from two edges, as y is.
    assert data["stands_on"] == "bottom"
    assert data["down"] == [0.0, 0.0, -1.0]
    assert data["tipping_angle_deg"] == pytest.approx(math.degrees(math.atan2(10.0, centre[2])))
    assert data["tipping_angle_in_block_deg"] == data["tipping_angle_deg"]
    assert data["stock_mass_g"] == pytest.approx(12.0)
    assert data["quantity"] == 1000
    assert data["net_kg"] == pytest.approx(7.2)
    assert data["gross_kg"] == pytest.approx(7.45)


def lines_of(out: str) -> dict[str, str]:
    """The rows of the table of weigh, by their first words."""
    rows = [line.split("  ", 1) for line in out.splitlines() if "  " in line.strip()]
    return {name: " ".join(rest.split()) for name, rest in rows if name}


def test_weigh_in_mm(run: Run, step: Path) -> None:
    status, out, err = run("weigh", step)
    assert (status, err) == (0, "")
    rows = lines_of(out)
    assert rows["Density"] == "2 g/cm³"
    assert rows["Volume"] == "3.6 cm³"
    assert rows["Surface"] == "1960 mm²"
    assert rows["Mass"] == "7.2 g"
    assert rows["Size"] == "30 × 20 × 10 mm"
    assert rows["Centre of mass"] == "x 11.667, y 10, z 3.667 mm"
    assert rows["Inertia"] == "in g·mm²"
    assert rows["Bodies"] == "1"
    assert rows["Stands best on"] == "its bottom; tips over when tilted by 69.8°"
    assert rows["As in the block"] == "tips over when tilted by 69.8°"
    assert rows["Stock"] == "block 30 × 20 × 10 mm"
    assert rows["Mass of the stock"] == "12 g"
    assert rows["Cut away"] == "40% of the stock"
    assert "Net" not in rows
    assert "front lower left corner" in out


def test_weigh_in_both_units(run: Run, step: Path) -> None:
    """1 in = 25.4 mm, 1 lb = 16 oz = 453.59237 g, worked out by hand."""
    rows = lines_of(run("weigh", step, "--units", "both")[1])
    assert rows["Density"] == "2 g/cm³ (0.07225 lb/in³)"
    assert rows["Volume"] == "3.6 cm³ (0.219685 in³)"
    assert rows["Surface"] == "1960 mm² (3.03801 in²)"
    assert rows["Mass"] == "7.2 g (0.254 oz)"
    assert rows["Size"] == "30 × 20 × 10 mm (1.181 × 0.787 × 0.394 in)"
    assert rows["Centre of mass"] == "x 11.667, y 10, z 3.667 mm (x 0.459, y 0.394, z 0.144 in)"
    assert lines_of(run("weigh", step, "--units", "in")[1])["Size"] == "1.1811 × 0.7874 × 0.3937 in"
    assert lines_of(run("weigh", step, "--units", "mm")[1]) == lines_of(run("weigh", step)[1])


def test_weigh_in_inches(run: Run, tmp_path: Path) -> None:
    """A block of 3 × 2 × 1 in, its whole front: 6 in³ of 2 g/cm³."""
    text = STEP.replace("30.0, 20.0, 10.0", "3.0, 2.0, 1.0").replace(
        "[stock]", 'units = "in"\n[stock]'
    )
    folder = job_of(tmp_path / "block", "M0 0H76.2V25.4H0Z", text)
    status, out, _ = run("weigh", folder, "--quantity", "3", "--packing", "1")
    rows = lines_of(out)
    assert status == 0
    assert rows["Volume"] == "6 in³"
    assert rows["Size"] == "3 × 2 × 1 in"
    assert rows["Mass"] == "6.936 oz"
    assert rows["Centre of mass"] == "x 1.5, y 1, z 0.5 in"
    assert rows["Parts in a parcel"] == "3"
    assert rows["Net"] == "1.301 lb"
    assert rows["Gross"] == "2.301 lb"  # and 1 lb
    for packing, gross in (("1kg", "3.505 lb"), ("8 oz", "1.801 lb"), ("453.59237g", "2.301 lb")):
        rows = lines_of(run("weigh", folder, "--quantity", "3", "--packing", packing)[1])
        assert rows["Gross"] == gross


def test_weigh_says_how_far_curves_may_be_off(run: Run, tmp_path: Path) -> None:
    """A half disc of radius 10 mm on the block: flattened within 0.01 mm, so known to a bound."""
    folder = job_of(tmp_path / "disc", "M0 10A10 10 0 0 1 20 10Z")
    data = json.loads(run("weigh", folder, "--json")[1])
    assert 0.0 < data["volume_error_mm3"] < 0.01 * np.pi * 10.0 * 20.0  # tolerance × arc × depth
    volume = np.pi * 10.0**2 / 2.0 * 20.0
    assert data["volume_mm3"] == pytest.approx(volume, abs=data["volume_error_mm3"])
    out = run("weigh", folder)[1]
    assert "± 0 " not in out
    assert "stand for curves within 0.01 mm" in out


def test_weigh_a_bar_of_a_known_material(run: Run, tmp_path: Path) -> None:
    text = STEP.replace(
        "size = [30.0, 20.0, 10.0]\ndensity = 2.0",
        'round = {diameter = 10.0, length = 30.0, along = "x"}\nmaterial = "Brass C360"',
    )
    rows = lines_of(run("weigh", job_of(tmp_path / "bar", L_SHAPE, text))[1])
    assert rows["Material"] == "brass C360"
    assert rows["Stock"] == "bar ⌀ 10 × 30 mm, along x"


def test_weigh_weighs_what_cannot_be_checked(
    run: Run, step: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_: Part) -> tuple[Finding, ...]:
        raise CuttingError("no such cut", where="front")

    monkeypatch.setattr(Part, "findings", property(fail))
    status, out, err = run("weigh", step)
    assert (status, err) == (0, "")
    assert "3.6 cm³" in out
    assert run("check", step) == (2, "", "silhouette3d: front: no such cut.\n")


# Pictures and meshes.


def test_export(run: Run, step: Path, tmp_path: Path) -> None:
    file = tmp_path / "step.stl"
    assert run("export", step, file) == (0, f"Wrote {file}.\n", "")
    mesh = trimesh.load_mesh(file)
    assert mesh.is_watertight
    assert mesh.volume == pytest.approx(3600.0, rel=1e-6)  # single precision
    status, out, _ = run("export", step, file, "--scale", "2")
    assert (status, out) == (0, f"Wrote {file} at scale 2.\n")
    assert trimesh.load_mesh(file).volume == pytest.approx(8 * 3600.0, rel=1e-6)


def test_a_picture_points_to_what_check_finds(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = job_of(tmp_path / "posts", TWO_POSTS)
    monkeypatch.setattr(Part, "picture", lambda *_: None)
    status, _, err = run("picture", folder, "-o", "a.png")
    assert (status, err) == (0, f"silhouette3d: 1 error: run `silhouette3d check {folder}`\n")


def test_picture(run: Run, step: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[object] = []
    monkeypatch.setattr(Part, "picture", lambda part, *rest: asked.append((part.name, *rest)))
    assert run("picture", step, "-o", "a.png") == (0, "Wrote a.png.\n", "")
    assert run("picture", step, "--output", "b.png", "--view", "iso")[0] == 0
    assert asked == [("Quay step", Path("a.png"), None), ("Quay step", Path("b.png"), "iso")]


def test_a_picture_is_a_picture(run: Run, step: Path, tmp_path: Path) -> None:
    file = tmp_path / "step.png"
    assert run("picture", step, "-o", file) == (0, f"Wrote {file}.\n", "")
    assert file.read_bytes().startswith(PNG)


def test_outline(run: Run, step: Path, tmp_path: Path) -> None:
    file = tmp_path / "front.png"
    assert run("outline", step, "front", "-o", file) == (0, f"Wrote {file}.\n", "")
    assert file.read_bytes().startswith(PNG)


PNG = b"\x89PNG\r\n\x1a\n"
"""How such a file begins: PNG specification (W3C, third edition), section 5.2."""


def test_show(run: Run, step: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shown: list[str] = []
    with monkeypatch.context() as patch:
        patch.setattr(Part, "show", lambda part: shown.append(part.name))
        assert run("show", step) == (0, "", "")
    assert shown == ["Quay step"]
    monkeypatch.delenv("DISPLAY", raising=False)
    status, out, err = run("show", step)
    assert (status, out) == (2, "")
    assert "there is no screen" in err


# new, materials, schema


def test_new_and_what_it_says_to_do_next(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "my first"
    status, out, err = run("new", folder)
    assert (status, err) == (0, "")
    first, second = out.splitlines()
    assert first == f"Wrote {folder}/job.toml and its drawings front.dxf, right.dxf, top.svg."
    command = shlex.split(second.removeprefix("Next: silhouette3d "))
    assert run(*command)[0] == 0
    status, out, err = run("new", folder)
    assert (status, out) == (2, "")
    assert "there is a job here already. Give the name of a new folder" in err


def test_materials(run: Run) -> None:
    status, out, err = run("materials")
    assert (status, err) == (0, "")
    shown = out.split()
    for one in all_materials():
        assert set(one.name.split()) <= set(shown), one.name
        assert f"{one.density_g_cm3:g}" in shown
    data = json.loads(run("materials", "--json")[1])
    assert [one["name"] for one in data] == [one.name for one in all_materials()]
    assert {"density_g_cm3", "family", "source", "aliases", "range_g_cm3"} <= set(data[0])


def test_schema(run: Run) -> None:
    status, out, _ = run("schema")
    assert status == 0
    assert json.loads(out) == schema()
    jsonschema.Draft202012Validator.check_schema(json.loads(out))


# Bad input: one line on standard error, status 2.


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["chek", "JOB"], 'Unknown command "chek". Did you mean "check"?'),
        (["check"], "JOB requires an argument"),
        (["check", "JOB", "--jsn"], "Unknown option: --jsn. Did you mean --json?"),
        (["check", "JOB", "more"], "too many words: more"),
        (["check", "none"], "none: there is no such job file"),
        (["weigh", "JOB", "--quantity", "0"], "at least 1 is wanted"),
        (["weigh", "JOB", "--quantity", "1.5"], "a whole number is wanted"),
        (["weigh", "JOB", "--packing", "-1"], "--packing"),
        (["weigh", "JOB", "--packing", "nan"], "a mass is wanted, such as 0.5, 0.5kg or 8oz"),
        (["picture", "JOB"], "--output requires an argument"),
        (["picture", "JOB", "-o", "a.png", "--view", "frnt"], "frnt"),
        (["picture", "JOB", "-o", "a.foo"], ".foo"),
        (["outline", "JOB", "bow", "-o", "a.png"], "there is no profile called 'bow'"),
        (["outline", "JOB", "-o", "a.png"], "NAME requires an argument"),
        (["export", "JOB", "a.foo"], '".foo" is not the suffix of a known mesh format'),
        (["export", "JOB", "a.stl", "--scale", "0"], "the scale is 0"),
        (["export", "JOB", "none/a.stl"], "the folder"),
        (["new"], "FOLDER requires an argument"),
    ],
)
def test_what_cannot_be_done(
    run: Run,
    step: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    arguments: list[str],
    words: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    before = sorted(tmp_path.rglob("*"))
    status, out, err = run(*(step if one == "JOB" else one for one in arguments))
    assert (status, out) == (2, "")
    assert words in err
    assert err.startswith("silhouette3d: ")
    assert err.count("\n") == 1
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.parametrize("command", [["check"], ["weigh"], ["check", "--json"]])
@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("30.0, 20.0", "30.0", "job.toml, line 3: stock, size: it must be three lengths"),
        ("front.svg", "none.svg", "none.svg (profile 'front'): "),
        ('"corner"', "[100.0, 0.0]", "the whole outline lies off the stock"),
    ],
    ids=["job", "drawing", "empty part"],
)
def test_what_is_wrong_with_a_job(
    run: Run, tmp_path: Path, command: Sequence[str], old: str, new: str, words: str
) -> None:
    folder = job_of(tmp_path / "step", L_SHAPE, STEP.replace(old, new))
    status, out, err = run(*command, folder)
    assert (status, out) == (2, "")
    assert words in err
    assert err.count("\n") == 1


def test_a_bug_is_not_hidden(run: Run, step: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(_: Part) -> tuple[Finding, ...]:
        raise OSError(5, "of a bug")

    monkeypatch.setattr(Part, "findings", property(fail))
    with pytest.raises(OSError, match="of a bug"):
        run("check", step)


def test_a_failed_write_is_a_line(run: Run, step: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise OutputError("the file cannot be written: the disk is full", where="a.png")

    monkeypatch.setattr(Part, "picture", fail)
    status, out, err = run("picture", step, "-o", "a.png")
    assert (status, out) == (2, "")
    assert err == "silhouette3d: a.png: the file cannot be written: the disk is full.\n"


# Streams, in processes of their own.


def test_as_a_module(step: Path, tmp_path: Path) -> None:
    done = process("check", step)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("Quay step\n")
    assert "\x1b" not in done.stdout
    assert process("check", job_of(tmp_path / "posts", TWO_POSTS)).returncode == 1
    done = process("check", tmp_path / "none")
    assert (done.returncode, done.stdout) == (2, "")
    assert "Traceback" not in done.stderr


def test_progress_is_shown_on_a_terminal_only(step: Path) -> None:
    controller, terminal = os.openpty()
    done = process("weigh", step, "--json", stderr=terminal, env={"TERM": "xterm"})
    os.close(terminal)
    shown = os.read(controller, 1 << 16).decode()
    os.close(controller)
    assert done.returncode == 0
    assert json.loads(done.stdout)["quantity"] == 1
    for words in ("reading 1 drawings", "cutting the stock down to the outlines"):
        assert words in shown


def test_a_table_is_as_wide_as_asked(step: Path) -> None:
    for asked, width in (({}, 100), ({"COLUMNS": "70"}, 70)):
        lines = process("materials", env=asked).stdout.splitlines()
        assert max(map(len, lines)) == width


def test_an_encoding_that_lacks_the_signs(step: Path) -> None:
    done = process("weigh", step, env={"PYTHONIOENCODING": "ascii"})
    assert (done.returncode, done.stderr) == (0, "")
    assert r"3.6 cm\xb3" in done.stdout


def test_a_reader_who_leaves_is_no_matter(step: Path) -> None:
    for command in (["materials"], ["materials", "--json"], ["check", step]):
        away, there = os.pipe()
        os.close(away)
        done = process(*command, stdout=there)
        os.close(there)
        assert (done.returncode, done.stderr) == (141, "")


def test_a_full_disk_under_standard_output(step: Path) -> None:
    for command in (["materials", "--json"], ["check", step]):
        with Path("/dev/full").open("w") as full:
            done = process(*command, stdout=full)
        assert done.returncode == 2
        assert done.stderr.startswith("silhouette3d: the output cannot be written: ")
        assert done.stderr.count("\n") == 1


def test_ctrl_c_ends_it_with_a_word(step: Path) -> None:
    """Interrupted while it reads the job."""
    # The child may have been started by a shell that lets it ignore Ctrl-C.
    code = (
        "import signal, sys, time\nsignal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "from silhouette3d.job import model\nfrom silhouette3d.cli import main\n"
        "model.read_text = lambda path: (signal.raise_signal(signal.SIGINT), time.sleep(60))\n"
        "sys.exit(main())"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, "check", str(step)],
        cwd=ROOT,
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "silhouette3d: stopped\n")


def test_the_starter_job_is_checked_in_this_very_form(run: Run, tmp_path: Path) -> None:
    job = write_starter(tmp_path / "new")
    data = json.loads(run("check", job, "--json")[1])
    assert (data["summary"]["errors"], data["summary"]["warnings"]) == (0, 0)
