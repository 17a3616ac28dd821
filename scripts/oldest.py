"""Try the oldest releases of the libraries that pyproject.toml says are enough.

Installs exactly these into out/oldest, with the oldest Python that the package claims, and
runs a few tests that between them touch every library. What has to be installed is read from
pyproject.toml; what is installed already is kept while it has not changed.

    python scripts/oldest.py           as CI does
    python scripts/oldest.py -k word   other options go on to pytest
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
HOME = ROOT / "out" / "oldest"
PYTHON = str(HOME / "bin" / "python")
EXTRAS = ("pictures", "sheets", "workbench")
TOOLS = (
    "hypothesis",
    "jsonschema",
    "lib3mf",
    "lxml",
    "meshio",
    "networkx",
    "numpy-stl",
    "pygltflib",
    "pypdf",
    "pypdfium2",
    "pytest",
    "pytest-xdist",
    "rtree",
    "svg.path",
)
"""Packages for development that the tests below take, in their newest releases."""

TESTS = (
    "tests/cli/test_common_exit_status.py",  # every command, and so nearly every library
    "tests/job/test_write.py",  # pydantic, tomlkit
    "tests/drawing/dxf/test_reader.py",  # ezdxf
    "tests/documents/meshes/test_write.py",  # trimesh
    "tests/workbench/test_server.py",  # aiohttp, trame, wslink, watchfiles
)
"""A few seconds each, and between them every library."""


def main() -> int:
    """Install and test; the exit status of pytest, or 1 with words where that cannot be."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    python = find_python(project["requires-python"].removeprefix(">="))
    if python is None:
        return 1
    wanted = "\n".join([*floors(project), *tools(project), ""])
    stamp = HOME / "installed.txt"
    if not stamp.exists() or stamp.read_text("utf-8") != wanted:
        print("Installing the oldest releases into out/oldest", flush=True)
        shutil.rmtree(HOME, ignore_errors=True)
        subprocess.run([python, "-m", "venv", HOME], check=True)
        pip = [
            str(HOME / "bin" / "python"),
            "-m",
            "pip",
            "install",
            "--quiet",
            "--only-binary=:all:",
        ]
        subprocess.run([*pip, *wanted.split()], check=True)
        stamp.write_text(wanted, "utf-8")
    # What old libraries say of their own old ways is no matter here.
    options = ["-q", "-n", "2", "-p", "no:cacheprovider", "-W", "default", "--disable-warnings"]
    return subprocess.run(
        [PYTHON, "-m", "pytest", *options, *TESTS, *sys.argv[1:]],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        check=False,
    ).returncode


def floors(project: dict[str, Any]) -> list[str]:
    """Requirements of exactly the oldest release of each library that is said to be enough."""
    extras = project["optional-dependencies"]
    lines = [*project["dependencies"], *(line for extra in EXTRAS for line in extras[extra])]
    return [line.replace(">=", "==") for line in lines if "[" not in line]


def tools(project: dict[str, Any]) -> list[str]:
    """Requirements of the packages that the tests take."""
    lines: list[str] = project["optional-dependencies"]["dev"]
    return [line for line in lines if line.partition(">=")[0] in TOOLS]


def find_python(release: str) -> str | None:
    """A Python of a release such as 3.11, this one or one on the PATH."""
    for name in (sys.executable, f"python{release}"):
        path = shutil.which(name)
        code = "import sys, venv; print('%d.%d' % sys.version_info[:2])"
        done = path and subprocess.run(
            [path, "-c", code], capture_output=True, encoding="utf-8", check=False
        )
        if done and done.stdout.strip() == release:
            return path
    print(
        f"The oldest releases are tried with the oldest Python that the package claims, {release}, "
        "which is not here: install it, and run this again.",
        file=sys.stderr,
    )
    return None


if __name__ == "__main__":
    sys.exit(main())
