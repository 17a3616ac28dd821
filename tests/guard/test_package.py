"""What the package shows to those who import it, and what it loads for them."""

from __future__ import annotations

import inspect
import subprocess
import sys
import types
from dataclasses import dataclass

import pytest

import silhouette3d
from tests.guard.imports import ROOT

HEAVY = ("ezdxf", "matplotlib", "pyvista", "trame", "trimesh", "vtk", "vtkmodules")

HELP = """
import sys
from silhouette3d.cli import main
sys.argv = ["silhouette3d", "--help"]
try:
    main()
except SystemExit as end:
    assert not end.code, end.code
"""


def loaded_by(code: str) -> set[str]:
    """The top-level modules in memory after a fresh interpreter ran the code."""
    tail = '\nimport sys; print("\\nloaded:", *{name.partition(".")[0] for name in sys.modules})'
    done = subprocess.run(
        [sys.executable, "-c", code + tail],
        cwd=ROOT,
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return set(done.stdout.rpartition("loaded:")[2].split())


@pytest.mark.parametrize("code", ["import silhouette3d", HELP], ids=["import", "--help"])
def test_heavy_libraries_wait(code: str) -> None:
    loaded = loaded_by(code)
    assert "silhouette3d" in loaded
    assert loaded & set(HEAVY) == set()


def test_a_loaded_library_is_seen() -> None:
    assert {"numpy", "xml"} <= loaded_by("import numpy, xml.dom")


def test_all_is_sorted() -> None:
    assert list(silhouette3d.__all__) == sorted(silhouette3d.__all__)


def test_all_is_what_is_exported() -> None:
    public = {
        name
        for name, value in vars(silhouette3d).items()
        if not name.startswith("_")
        and not isinstance(value, types.ModuleType)
        and name != "annotations"
    }
    assert public <= set(silhouette3d.__all__)
    assert [name for name in silhouette3d.__all__ if not hasattr(silhouette3d, name)] == []


def documented(name: str, value: object, where: str) -> bool:
    """Whether a reader finds words on a name: its own, or the package's on a constant."""
    if inspect.isclass(value) or inspect.isroutine(value):
        words = value.__doc__ or ""
        # A dataclass without words gets its signature instead.
        return bool(words.strip()) and not words.startswith(f"{name}(")
    return name.startswith("__") or name in where


def test_each_export_is_documented() -> None:
    words = silhouette3d.__doc__ or ""
    exports = {name: getattr(silhouette3d, name) for name in silhouette3d.__all__}
    assert exports
    assert [name for name, value in exports.items() if not documented(name, value, words)] == []


def test_a_name_without_words_is_caught() -> None:
    def bare() -> None: ...

    @dataclass
    class Bare:
        x: int

    assert not documented("bare", bare, "")
    assert not documented("Bare", Bare, "")
    assert not documented("LIMIT", 3, "the limits")
    assert documented("loaded_by", loaded_by, "")
    assert documented("LIMIT", 3, "LIMIT is the largest")
