"""Findings that a job accepts: told with their reason, and asking for nothing."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import pytest

import silhouette3d
from silhouette3d import Accept, Block, JobError, Part
from silhouette3d.job.model import job_from
from silhouette3d.workbench import serializers as forms
from tests.guard.imports import ROOT
from tests.support.command import Run, run
from tests.support.shapes import rect
from tests.support.sheet_jobs import made

__all__ = ["run"]

FAULTY = ROOT / "samples" / "faulty"
REASON = "the customer wants two loose feet"


def accepting(code: str, *accepts: dict[str, str], folder: str = "") -> Part:
    job = silhouette3d.read_job(FAULTY / (folder or code))
    return Part(job.changed({("accept",): [*accepts]}))


def saved(part: Part, path: Path, accept: str) -> Path:
    """The job of a sample with more text, its drawings beside it."""
    assert part.job.path is not None
    home = part.job.path.parent
    for drawing in home.iterdir():
        (path / drawing.name).write_bytes(drawing.read_bytes())
    text = (path / "job.toml").read_text("utf-8")
    (path / "job.toml").write_text(text + accept, encoding="utf-8")
    return path


@pytest.mark.parametrize("code", ["several-bodies", "stock-mismatch", "thin-section", "weak-tab"])
def test_what_is_accepted_asks_for_nothing(code: str, run: Run, tmp_path: Path) -> None:
    sample = silhouette3d.load(FAULTY / code)
    accept = f'\n[[accept]]\ncode = "{code}"\nreason = "{REASON}"\n'
    folder = saved(sample, tmp_path, accept)
    assert run("check", FAULTY / code)[0] == 1
    status, out, err = run("check", folder)
    assert (status, err) == (0, "")
    assert code in out
    assert f"accepted: {REASON}" in " ".join(out.split())
    notes = int(code in {"thin-section", "weak-tab"})  # of what the last cut frees
    assert f"Findings: {'1 note, ' * notes}1 accepted." in out
    data = json.loads(run("check", folder, "--json")[1])
    assert data["summary"] == {"errors": 0, "warnings": 0, "notes": notes, "accepted": 1}
    (one,) = (found for found in data["findings"] if found["severity"] != "note")
    assert (one["code"], one["accepted"]) == (code, REASON)
    assert run("export", folder, tmp_path / "part.stl")[2] == ""


def test_thickness_asks_for_nothing_that_is_accepted(run: Run, tmp_path: Path) -> None:
    sample = silhouette3d.load(FAULTY / "thin-section")
    assert run("thickness", FAULTY / "thin-section")[0] == 1
    accept = f'\n[[accept]]\ncode = "thin-section"\nreason = "{REASON}"\n'
    assert run("thickness", saved(sample, tmp_path, accept))[0] == 0


def test_only_the_profile_that_is_named() -> None:
    found = accepting("part-broken", {"code": "part-broken", "profile": "front", "reason": REASON})
    told = {one.code: one.accepted for one in found.findings}
    assert told == {"part-broken": REASON, "several-bodies": None}
    other = accepting("part-broken", {"code": "part-broken", "profile": "top", "reason": REASON})
    told = {one.code: one.accepted for one in other.findings}
    assert told == {"part-broken": None, "several-bodies": None, "accept-unused": None}


def test_an_outline_that_has_a_part_in_it_counts() -> None:
    """The thin section lies between walls of front and of right."""
    for profile in ("front", "right"):
        accept = {"code": "thin-section", "profile": profile, "reason": REASON}
        found = accepting("thin-section", accept).findings
        (one,) = (finding for finding in found if finding.code == "thin-section")
        assert one.accepted == REASON


def test_an_acceptance_of_nothing_is_told() -> None:
    part = silhouette3d.load(FAULTY / "accept-unused")
    (one,) = part.findings
    assert (one.code, one.severity, one.profile) == ("accept-unused", "note", "front")
    assert part.told(one).message == (
        "the job accepts inside-corner of front (the corner is filed square by hand), but there "
        "is none any more"
    )


def test_accepted_errors_do_not_forbid_cutting(tmp_path: Path) -> None:
    sheets = made(
        accepting("several-bodies", {"code": "several-bodies", "reason": REASON}), tmp_path
    )
    assert "DO NOT CUT" not in sheets.text
    assert "accepted error: several-bodies" in sheets.pages[0]
    assert f"accepted: {REASON}." in sheets.pages[0]
    assert "Findings: 1 accepted" in sheets.pages[0]


def test_the_workbench_tells_the_reason() -> None:
    part = accepting("several-bodies", {"code": "several-bodies", "reason": REASON})
    (one,) = forms.finding_values(part.findings, "mm")
    assert one["accepted"]
    assert one["advice"] == f"accepted: {REASON}"
    part = silhouette3d.load(FAULTY / "several-bodies")
    assert not forms.finding_values(part.findings, "mm")[0]["accepted"]


def test_accepted_in_memory() -> None:
    block, feet = Block(40, 20, 30, density=2.7), rect(0, 0, 15, 30).union(rect(25, 0, 40, 30))
    accept = Accept(code="several-bodies", reason=REASON)
    (one,) = (
        f
        for f in Part.from_outlines(block, front=feet, accept=[accept]).findings
        if f.code == "several-bodies"
    )
    assert one.accepted == REASON


JOB: dict[str, Any] = tomllib.loads(
    'name = "a"\nstock = {size = [1.0, 1.0, 1.0], density = 1.0}\n'
    '[[profile]]\nview = "front"\ndrawing = "a.dxf"\n'
)


@pytest.mark.parametrize(
    ("accept", "words"),
    [
        ({"code": "loose-ofcut", "reason": "a"}, 'nearest is "loose-offcut"'),
        ({"code": "loose-offcut"}, "reason"),
        ({"code": "loose-offcut", "reason": ""}, "reason"),
        ({"code": "loose-offcut", "reason": "a", "profile": "frnt"}, "front"),
        ({"code": "loose-offcut", "reason": "a", "profil": "front"}, 'nearest is "profile"'),
    ],
)
def test_what_cannot_be_accepted(accept: dict[str, str], words: str) -> None:
    with pytest.raises(JobError) as caught:
        job_from({**JOB, "accept": [accept]})
    assert words in str(caught.value)
