"""What the README says is so: its code runs, its tables are complete."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from silhouette3d.base.codes import CODES
from silhouette3d.cli import _COMMANDS

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text("utf-8")


def section(title: str) -> str:
    """The text under a heading, to the next one."""
    return README.split(f"\n## {title}\n")[1].split("\n## ")[0]


def test_the_python_runs_and_yields_its_picture(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "samples").symlink_to(ROOT / "samples")
    monkeypatch.chdir(tmp_path)
    blocks = re.findall(r"```python\n(.*?)```", README, flags=re.DOTALL)
    assert len(blocks) == 3
    assert len(blocks[0].splitlines()) <= 8
    exec("\n".join(blocks), {})
    assert (tmp_path / "knob.png").stat().st_size > 10_000
    assert (tmp_path / "tugboat.png").stat().st_size > 10_000
    assert (tmp_path / "tugboat.stl").stat().st_size > 10_000
    assert " g, " in capsys.readouterr().out


def test_every_finding_has_its_row() -> None:
    rows = re.findall(r"^\| `([a-z-]+)` \| ", section("Findings"), flags=re.MULTILINE)
    assert len(rows) == len(set(rows))
    assert tuple(rows) == CODES
    assert set(rows) == {path.name for path in (ROOT / "samples" / "faulty").iterdir()}


def test_every_command_has_its_row() -> None:
    table = re.findall(r"^\| `([a-z]+)(?: [^`]*)?` \| ", section("Commands"), flags=re.MULTILINE)
    assert table == [command.__name__ for command in _COMMANDS]


def test_what_the_readme_points_to_is_there() -> None:
    for target in re.findall(r"\]\(([^)#]+)\)", README):
        assert (ROOT / target).is_file(), target
    for path in re.findall(r"`((?:silhouette3d|tests|scripts|samples)/[\w/.]+)`", README):
        assert (ROOT / path).exists(), path
