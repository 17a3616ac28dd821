"""The starter job: it builds at once, and is written whole or not at all."""

from __future__ import annotations

import math
import os
import re
import tomllib
from pathlib import Path

import ezdxf.filemanagement
import pytest
from lxml import etree

import silhouette3d
from silhouette3d.base.files import atomic_write
from silhouette3d.errors import OutputError
from silhouette3d.job.starter import write_starter

FILES = ["front.dxf", "job.toml", "right.dxf", "top.svg"]


def listing(folder: Path) -> list[str]:
    return sorted(str(one.relative_to(folder)) for one in folder.rglob("*"))


def test_it_builds_at_once_with_nothing_to_mend(tmp_path: Path) -> None:
    part = silhouette3d.load(write_starter(tmp_path / "new"))
    assert listing(tmp_path / "new") == FILES
    assert len(part.solid.bodies) == 1
    # 50 × 40 × 60 mm: the outlines lie 5 mm inside the stock all round.
    assert part.solid.bounds.tolist() == [[5.0, 5.0, 5.0], [55.0, 45.0, 65.0]]
    # The last cut of any job sets offcuts free, and that is noted; nothing else is to say.
    assert {(one.code, one.severity) for one in part.findings} <= {("loose-offcut", "note")}


def test_its_drawings_agree_with_its_stock(tmp_path: Path) -> None:
    part = silhouette3d.load(write_starter(tmp_path / "new"))
    assert part.stock.size == (60.0, 50.0, 70.0)
    for profile in part.profiles:
        assert profile.stock_drawn == pytest.approx(profile.face.size, abs=1e-9)  # mm
        assert profile.outline.notes == ()


def test_the_plan_is_a_rounded_rectangle(tmp_path: Path) -> None:
    """50 × 40 mm with corners of 6 mm: what the four quarter circles leave of their squares."""
    part = silhouette3d.load(write_starter(tmp_path / "new"))
    plan = part.profile("top").outline
    exact = 50.0 * 40.0 - (4.0 - math.pi) * 6.0**2
    assert plan.polygons.area == pytest.approx(exact, abs=plan.area_error + 1e-6)


def test_an_independent_reader_finds_the_drawings_in_order(tmp_path: Path) -> None:
    home = write_starter(tmp_path / "new").parent
    for name in ("front.dxf", "right.dxf"):
        drawing = ezdxf.filemanagement.readfile(home / name)
        assert drawing.header["$INSUNITS"] == 4  # millimetres
        assert not drawing.audit().has_errors
        layers = [one.dxf.layer for one in drawing.modelspace()]
        assert sorted(layers) == ["OUTLINE", "STOCK", "TABS", "TABS"]
    assert etree.parse(home / "top.svg").getroot().get("width") == "60mm"


def test_every_line_of_the_job_says_what_it_is_for(tmp_path: Path) -> None:
    text = write_starter(tmp_path / "new").read_text("utf-8")
    assert "#:" not in text
    assert max(map(len, text.splitlines())) <= 100
    data = tomllib.loads(text)
    assert [one["view"] for one in data["profile"]] == ["front", "right", "top"]


def test_keys_that_wait_in_comments_can_be_let_in(tmp_path: Path) -> None:
    """Each `# key = value` of the starter job, and each table in comments, works as it stands."""
    file = write_starter(tmp_path / "new")
    lines = file.read_text("utf-8").splitlines()
    waiting = waiting_in(lines)
    keys = {re.split(r" ?=|\]", lines[some[0]].removeprefix("# "))[0] for some in waiting}
    assert keys >= {"tolerance", "round", "density", "view", "layer", "[[profile.tab", "slat_gap"}
    for some in waiting:
        table = max(i for i in range(some[0]) if lines[i].startswith("[") or i == 0)
        changed = {i: lines[i].removeprefix("# ") for i in some}
        key = changed[some[0]].split(" ")[0]
        dropped = {"round": "size", "view": "view"}.get(key)
        for i, line in enumerate(lines[table:], start=table):
            if dropped and line.startswith(dropped):
                changed[i] = ""
                break
        text = "\n".join(changed.get(i, line) for i, line in enumerate(lines))
        if key == "view":  # the profile is called after it
            text = text.replace("\norder ", "\n# order ")
        file.write_text(text, "utf-8")
        silhouette3d.read_job(file)


def waiting_in(lines: list[str]) -> list[list[int]]:
    """Lines that wait in comments: each key by itself, a table with all its keys."""
    found: list[list[int]] = []
    table: list[int] | None = None
    for i, line in enumerate(lines):
        if re.match(r"# \[", line):
            table = [i]
            found.append(table)
        elif re.match(r"# \w+ = ", line):
            (found.append([i]) if table is None else table.append(i))
        elif not re.match(r" +#", line):
            table = None
    return found


@pytest.mark.parametrize("name", FILES)
def test_nothing_is_overwritten(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("mine")
    with pytest.raises(OutputError, match=f"{name}: there is .* already. Give the name of a new"):
        write_starter(tmp_path)
    assert listing(tmp_path) == [name]
    assert (tmp_path / name).read_text() == "mine"


def test_not_even_a_link_to_nowhere(tmp_path: Path) -> None:
    (tmp_path / "job.toml").symlink_to(tmp_path / "none.toml")
    with pytest.raises(OutputError, match="there is a job here already"):
        write_starter(tmp_path)
    assert listing(tmp_path) == ["job.toml"]


def test_beside_other_files(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine")
    assert write_starter(tmp_path) == tmp_path / "job.toml"
    assert listing(tmp_path) == sorted([*FILES, "notes.txt"])


def test_folders_above_are_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert write_starter("a/b/c") == Path("a/b/c/job.toml")
    assert listing(tmp_path / "a/b/c") == FILES


def test_where_no_folder_can_be(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine")
    with pytest.raises(OutputError, match="this is a file, not a folder"):
        write_starter(tmp_path / "file")
    with pytest.raises(OutputError, match="the folder cannot be made"):
        write_starter(tmp_path / "file" / "deeper" / "still")
    with pytest.raises(OutputError, match="the folder cannot be made"):
        write_starter(tmp_path / "new" / ("n" * 300))
    assert listing(tmp_path) == ["file"]


@pytest.mark.parametrize("failing", FILES)
def test_a_failure_halfway_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: str
) -> None:
    def write(path: Path) -> object:
        if path.name == failing:
            raise OutputError("the disk is full", where=os.fspath(path))
        return real(path)

    real = atomic_write
    monkeypatch.setattr("silhouette3d.job.starter.atomic_write", write)
    with pytest.raises(OutputError, match="the disk is full"):
        write_starter(tmp_path / "a" / "b")
    assert listing(tmp_path) == []
