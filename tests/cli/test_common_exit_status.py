"""Exit status: 0 nothing wrong, 1 something to mend, 2 input that cannot be used; each command."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from silhouette3d import Part
from silhouette3d.cli import _COMMANDS
from tests.guard.imports import ROOT
from tests.support.command import Run, run

__all__ = ["run"]

ON_JOBS: dict[str, tuple[str, ...]] = {
    "check": ("JOB",),
    "weigh": ("JOB",),
    "thickness": ("JOB",),
    "stages": ("JOB",),
    "order": ("JOB",),
    "tabs": ("JOB",),
    "outline": ("JOB", "front", "-o", "OUT.png"),
    "picture": ("JOB", "-o", "OUT.png"),
    "show": ("JOB",),
    "sheets": ("JOB", "-o", "OUT.pdf"),
    "setups": ("JOB", "-o", "OUT"),
    "page": ("JOB", "-o", "OUT.html"),
    "export": ("JOB", "OUT.stl"),
}
OTHERS: dict[str, tuple[str, ...]] = {
    "new": ("OUT",),
    "open": (),
    "materials": (),
    "schema": (),
}
AS_JSON = ("check", "weigh", "thickness", "stages", "order", "tabs")

FAULTY = ROOT / "samples" / "faulty"
SOUND = FAULTY / "accept-unused"
"""Sound without what it accepts, which is a note."""

JOBS: dict[str, tuple[Path, set[str]]] = {
    "sound": (SOUND, set()),
    "notes": (FAULTY / "inside-corner", set()),
    "warnings": (FAULTY / "thin-section", {"check", "thickness"}),
    "no order holds": (FAULTY / "released-early", {"check", "order"}),
    "no tabs free it": (FAULTY / "not-released", {"check", "order", "tabs"}),
}
"""Jobs, and the commands that end with 1 on them."""


def spelt(words: Sequence[str], job: Path, out: Path) -> list[str]:
    return [str(job) if w == "JOB" else w.replace("OUT", str(out)) for w in words]


@pytest.fixture(autouse=True)
def quickly(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pictures take the most time and say nothing about a status; they work out the part only."""

    def work_out(part: Part, *_: Any, **__: Any) -> None:
        assert part.solid.bodies

    for name in ("picture", "picture_outline", "show", "sheets", "page"):
        monkeypatch.setattr(Part, name, work_out)


def test_every_command_is_here() -> None:
    names = {command.__name__ for command in _COMMANDS}
    assert names == ON_JOBS.keys() | OTHERS.keys()


@pytest.mark.parametrize("kind", JOBS)
@pytest.mark.parametrize("command", ON_JOBS)
def test_jobs_that_can_be_read(run: Run, tmp_path: Path, command: str, kind: str) -> None:
    job, to_mend = JOBS[kind]
    ways = [()] if command not in AS_JSON else [(), ("--json",)]
    for more in ways:
        status, out, _ = run(command, *spelt(ON_JOBS[command], job, tmp_path / "out"), *more)
        assert status == (1 if command in to_mend else 0)
        assert out or command == "show"


def broken(folder: Path, how: str) -> Path:
    """A copy of the sound job that cannot be used, or a path to none."""
    if how == "missing":
        return folder / "nowhere"
    folder.mkdir()
    for file in SOUND.iterdir():
        (folder / file.name).write_bytes(file.read_bytes())
    job = folder / "job.toml"
    text = job.read_text("utf-8")
    if how == "no TOML":
        job.write_text(text + "\n[[[", encoding="utf-8")
    elif how == "no such material":
        job.write_text(text.replace("aluminium 6061", "butter"), encoding="utf-8")
    elif how == "broken drawing":
        (folder / "front.dxf").write_bytes(b"0\nSECTION\nnothing more")
    elif how == "no drawing":
        (folder / "front.dxf").unlink()
    elif how == "nothing left":
        job.write_text(text.replace("datum = [0.0, 0.0]", "datum = [99.0, 0.0]"), "utf-8")
    return folder


HOWS = ("missing", "no TOML", "no such material", "broken drawing", "no drawing", "nothing left")


@pytest.mark.parametrize("how", HOWS)
@pytest.mark.parametrize("command", ON_JOBS)
def test_jobs_that_cannot_be_used(run: Run, tmp_path: Path, command: str, how: str) -> None:
    if (command, how) == ("outline", "nothing left"):
        return  # an outline can be shown all the same, and should be
    job = broken(tmp_path / "job", how)
    status, out, err = run(command, *spelt(ON_JOBS[command], job, tmp_path / "out"))
    assert (status, out) == (2, "")
    assert err.startswith("silhouette3d: ")
    assert err.count("\n") == 1
    assert not list(tmp_path.glob("out*"))


@pytest.mark.parametrize("command", [*ON_JOBS, *OTHERS])
def test_wrong_words(run: Run, tmp_path: Path, command: str) -> None:
    words = spelt({**ON_JOBS, **OTHERS}[command], SOUND, tmp_path / "out")
    wrong = [[*words, "--no-such-option"], [*words, "one", "too", "many"]]
    if command in ON_JOBS:
        wrong.append([])
    if command in AS_JSON or command == "sheets":
        wrong.append([*words, "--units", "cm"])
    for some in wrong:
        status, out, err = run(command, *some)
        assert (status, out) == (2, ""), some
        assert err.startswith("silhouette3d: ")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    "words",
    [
        ("nonsense",),
        ("open", "nowhere"),
        ("open", "--port", "99999"),
        ("open", "--port", "-1"),
        ("new", str(SOUND)),
        ("export", str(SOUND), "nowhere/a.stl"),
        ("export", str(SOUND), "a.foo"),
        ("export", str(SOUND), "a.stl", "--scale", "0"),
        ("outline", str(SOUND), "frnt", "-o", "a.png"),
        ("setups", str(SOUND), "-o", str(SOUND / "job.toml")),
        ("weigh", str(SOUND), "--packing", "1stone"),
        ("weigh", str(SOUND), "--quantity", "none"),
    ],
    ids=" ".join,
)
def test_what_cannot_be_done(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: Sequence[str]
) -> None:
    monkeypatch.undo()  # here files are really written, or rather not
    monkeypatch.chdir(tmp_path)
    status, out, err = run(*words)
    assert (status, out) == (2, "")
    assert err.startswith("silhouette3d: ")
    assert not list(tmp_path.iterdir())


def test_commands_without_a_job(run: Run, tmp_path: Path) -> None:
    for words in (["new", tmp_path / "new"], ["materials"], ["materials", "--json"], ["schema"]):
        status, out, err = run(*words)
        assert (status, err) == (0, "")
        assert out
    assert run()[0] == 0  # tells what there is
    assert run("--help")[0] == 0
    assert run("--version")[0] == 0
