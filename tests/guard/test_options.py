"""What ``--all`` changes: nothing is skipped without it, the big ensembles are left out."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.guard.imports import ROOT

SAMPLE = """
import pytest, warnings
from hypothesis import settings

def test_small():
    assert settings().derandomize is not {all}
    assert settings().deadline is None

@pytest.mark.big
def test_big():
    pass

@pytest.mark.parametrize("size", [1, pytest.param(2, marks=pytest.mark.big)])
def test_both(size):
    pass

def test_warnings_are_errors():
    with pytest.raises(UserWarning):
        warnings.warn("told")
"""


@pytest.mark.parametrize(
    ("options", "outcome"), [([], "3 passed, 2 deselected"), (["--all"], "5 passed")]
)
def test_big_ensembles(options: list[str], outcome: str, tmp_path: Path) -> None:
    sample = tmp_path / "test_sample.py"
    sample.write_text(SAMPLE.format(all=bool(options)))
    settings: list[str | Path] = [
        "-c",
        ROOT / "pyproject.toml",
        "-p",
        "tests.conftest",
        "-p",
        "no:cacheprovider",
    ]
    done = subprocess.run(
        [sys.executable, "-m", "pytest", *settings, sample, *options],
        cwd=ROOT,
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert f" {outcome} in " in done.stdout, done.stdout
