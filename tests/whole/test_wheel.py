"""What is installed: the package built as it is published, and used from there."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from hatchling.builders.wheel import WheelBuilder

ROOT = Path(__file__).parents[2]
SAMPLES = ("crane", "lighthouse", "tugboat")


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with what a wheel holds, as an installer lays it out."""
    folder = tmp_path_factory.mktemp("wheel")
    (wheel,) = WheelBuilder(str(ROOT)).build(directory=str(folder), versions=["standard"])
    with zipfile.ZipFile(wheel) as opened:
        opened.extractall(folder / "site")
    return folder / "site"


def run(installed: Path, code: str, folder: Path) -> str:
    """What a program prints that sees the installed package and not this checkout."""
    return subprocess.run(
        [sys.executable, "-c", code],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(installed)},
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    ).stdout


def test_everything_that_is_not_python_is_in_it(installed: Path) -> None:
    def files(top: Path) -> set[str]:
        inside = (path.relative_to(top) for path in top.rglob("*") if path.is_file())
        return {str(path) for path in inside if "__pycache__" not in path.parts}

    package = {name for name in files(installed / "silhouette3d") if "samples/" not in name}
    assert package == files(ROOT / "silhouette3d")
    assert {"workbench/static/page.html", "documents/setup_sheets/sheet.typ", "py.typed"} <= package


def test_nothing_else_is(installed: Path) -> None:
    tops = {path.name for path in installed.iterdir()}
    assert {name for name in tops if not name.endswith(".dist-info")} == {"silhouette3d"}


def test_the_samples_come_with_it(installed: Path, tmp_path: Path) -> None:
    code = (
        "import silhouette3d\n"
        "from pathlib import Path\n"
        "from silhouette3d.workbench.folder import copy_sample, sample_names\n"
        "for name in sample_names()[1:]:\n"
        "    part = silhouette3d.load(copy_sample(name, Path(name)))\n"
        "    print(name, part.solid.volume > 0, Path(silhouette3d.__file__).parents[1])\n"
    )
    told = run(installed, code, tmp_path).split("\n")
    assert told[:-1] == [f"{name} True {installed}" for name in SAMPLES]
