"""What the package shows to those who import it, and what it loads for them."""

from __future__ import annotations

import ast
import importlib
import inspect
import subprocess
import sys
import types
from itertools import pairwise
from pathlib import Path

import pytest

import silhouette3d
from tests.guard.imports import PACKAGE, ROOT

HEAVY = (
    "PIL",
    "aiohttp",
    "ezdxf",
    "fontTools",
    "manifold3d",
    "matplotlib",
    "numba",
    "numpy",
    "pydantic",
    "pyvista",
    "scipy",
    "shapely",
    "trame_client",
    "trame_server",
    "trame_vtk",
    "trimesh",
    "typst",
    "vtk",
    "vtkmodules",
    "watchfiles",
    "wslink",
)

HELP = """
import sys
from silhouette3d.cli import main
sys.argv = ["silhouette3d", "--help"]
try:
    status = main()
except SystemExit as end:
    status = end.code
assert not status, status
"""


def loaded_by(code: str) -> set[str]:
    """The top-level modules in memory after a fresh interpreter ran the code without complaint."""
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


def exports(source: str) -> dict[str, str]:
    """Public names that a package's own source makes, each with the module it comes from.

    Imports for the type checker count: they are what an editor shows. Other
    libraries and the package's own modules do not.
    """
    made: dict[str, str] = {}
    for node in ast.parse(source).body:
        match node:
            case ast.If(test=ast.Name(id="TYPE_CHECKING"), body=body):
                made |= exports(ast.unparse(ast.Module(body, [])))
            case ast.ImportFrom(module=str(home), names=names) if home.startswith(f"{PACKAGE}."):
                made |= {alias.asname or alias.name: home for alias in names}
            case ast.FunctionDef(name=name) | ast.ClassDef(name=name):
                made[name] = PACKAGE
            case ast.Assign(targets=[ast.Name(id=name)]) | ast.AnnAssign(target=ast.Name(id=name)):
                made[name] = PACKAGE
    return {name: home for name, home in made.items() if not name.startswith("_")}


def constant_words(name: str, source: str) -> str:
    """The string that stands right below a constant in its module."""
    for node, below in pairwise(ast.parse(source).body):
        match node, below:
            case (
                ast.Assign(targets=[ast.Name(id=found)]) | ast.AnnAssign(target=ast.Name(id=found)),
                ast.Expr(ast.Constant(str(words))),
            ) if found == name:
                return words
    return ""


def words_on(name: str, home: types.ModuleType) -> str:
    """What a reader finds on a name: its docstring, or the string below a constant."""
    value = getattr(home, name)
    if not (inspect.isclass(value) or inspect.isroutine(value)):
        return constant_words(name, inspect.getsource(home)).strip()
    words = (value.__doc__ or "").strip()
    # A dataclass without words gets its signature instead.
    return "" if words.startswith(f"{name}(") else words


PACKAGE_EXPORTS = exports((ROOT / PACKAGE / "__init__.py").read_text("utf-8"))


def test_all_is_what_is_exported() -> None:
    assert set(silhouette3d.__all__) == set(PACKAGE_EXPORTS)


def test_an_export_is_the_thing_itself() -> None:
    """A module of the same name, imported before, must not take its place."""
    check = f"""
import importlib, silhouette3d
for name, home in {PACKAGE_EXPORTS}.items():
    thing = getattr(importlib.import_module(home), name)
    assert getattr(silhouette3d, name) is thing, name
"""
    loaded_by(check)


@pytest.mark.parametrize(("name", "home"), PACKAGE_EXPORTS.items(), ids=PACKAGE_EXPORTS)
def test_each_export_is_documented(name: str, home: str) -> None:
    assert words_on(name, importlib.import_module(home))


# The guards themselves: what they must catch.


def test_exports_are_read_from_the_source() -> None:
    source = """
from __future__ import annotations
from typing import TYPE_CHECKING
import sys
from silhouette3d.geometry.frames import View
if TYPE_CHECKING:
    from silhouette3d.geometry import Solid as Body
LIMIT = 3
_HIDDEN: int = 4
def load(): ...
"""
    assert exports(source) == {
        "View": "silhouette3d.geometry.frames",
        "Body": "silhouette3d.geometry",
        "LIMIT": PACKAGE,
        "load": PACKAGE,
    }


def test_a_name_without_words_is_caught(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    source = """
from dataclasses import dataclass
BARE = 1
TOLD = 2
"Words."
@dataclass
class Bare:
    x: int
class Told:
    "Words."
def bare(): ...
def told():
    "Words."
"""
    (tmp_path / "sample_of_words.py").write_text(source)
    monkeypatch.syspath_prepend(tmp_path)
    home = importlib.import_module("sample_of_words")
    for name in ("BARE", "Bare", "bare"):
        assert words_on(name, home) == ""
    for name in ("TOLD", "Told", "told"):
        assert words_on(name, home) == "Words."
