"""Imports go down the layers, and each heavy library stays in its rooms."""

from __future__ import annotations

import sys
import tomllib
from graphlib import CycleError, TopologicalSorter
from importlib.metadata import packages_distributions

import pytest

from tests.guard.imports import (
    LAYERS,
    LIBRARIES,
    PACKAGE,
    ROOT,
    Module,
    imported,
    inside,
    misplaced,
    outside,
    package_modules,
    upward,
)


def circle(modules: list[Module]) -> list[str]:
    """The modules of one circle of imports, or nothing."""
    graph = {module.name: inside(module, modules) - {module.name} for module in modules}
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        return [str(name) for name in error.args[1]]
    return []


def test_there_are_modules_to_look_at() -> None:
    modules = package_modules()
    assert {"errors", "base.units", "geometry.frames"} <= {module.name for module in modules}
    assert "errors" in {name for module in modules for name in inside(module, modules)}
    assert "numpy" in {name for module in modules for name in outside(module)}


def test_every_room_has_its_layer() -> None:
    """A new module at the top of the package has to be put in the table first."""
    placed = set[str]().union(*LAYERS)
    assert {module.room for module in package_modules()} - placed == set()


def test_no_room_is_in_two_layers() -> None:
    assert sum(map(len, LAYERS)) == len(set[str]().union(*LAYERS))


def test_imports_go_down() -> None:
    assert upward(package_modules()) == []


def test_no_circles() -> None:
    assert circle(package_modules()) == []


def test_libraries_stay_in_their_rooms() -> None:
    assert misplaced(package_modules()) == []


def test_libraries_are_declared() -> None:
    """What the package imports stands in pyproject.toml, and is not there for the tests only."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"]
    declared = [*project["dependencies"], *(d for e in extras if e != "dev" for d in extras[e])]
    names = {_normal(line.split(">")[0]) for line in declared}
    owners = packages_distributions()
    undeclared = {
        f"{module.name} imports {library}"
        for module in package_modules()
        for library in outside(module) - set(sys.stdlib_module_names)
        if not names & {_normal(owner) for owner in owners.get(library, [library])}
    }
    assert undeclared == set()


def _normal(distribution: str) -> str:
    return distribution.strip().lower().replace("_", "-")


# The guards themselves: what they must catch.

BOTTOM = Module("errors", "class SilhouetteError(Exception): ...\n")


@pytest.mark.parametrize(
    ("name", "source", "found"),
    [
        ("errors", "from silhouette3d.geometry import solid", "errors imports geometry.solid"),
        (
            "errors",
            "def f():\n    import silhouette3d.geometry.solid",
            "errors imports geometry.solid",
        ),
        ("base.units", "from ..geometry.solid import Solid", "base.units imports geometry.solid"),
        ("base.units", "from ..geometry import solid", "base.units imports geometry.solid"),
        ("drawing.dxf.text", "from ...checks import fit", "drawing.dxf.text imports checks.fit"),
        ("checks.fit", "from silhouette3d.job import model", "checks.fit imports job.model"),
        ("part", "import silhouette3d", "part imports __init__"),
        ("part", "from silhouette3d import load", "part imports __init__"),
    ],
)
def test_an_import_upward_is_caught(name: str, source: str, found: str) -> None:
    others = [Module(n, "") for n in ("geometry.solid", "checks.fit", "job.model") if n != name]
    assert upward([Module(name, source), Module("__init__", ""), *others]) == [found]


@pytest.mark.parametrize(
    ("name", "source"),
    [
        ("geometry.__init__", "from silhouette3d.errors import SilhouetteError"),
        ("geometry.subtract", "from silhouette3d.geometry.solid import Solid"),
        ("geometry.subtract", "from .solid import Solid"),
        ("geometry.subtract", "from silhouette3d import errors"),
        ("geometry.subtract", "import numpy as np"),
        ("__init__", "from silhouette3d.geometry.solid import Solid"),
        ("cli.__init__", "import silhouette3d"),
    ],
)
def test_an_import_downward_is_let_through(name: str, source: str) -> None:
    module = Module(name, source)
    others = [
        Module(n, "") for n in ("geometry.__init__", "geometry.solid", "__init__") if n != name
    ]
    assert upward([module, BOTTOM, *others]) == []


def test_a_circle_is_caught() -> None:
    a = Module("geometry.a", "from silhouette3d.geometry.b import f")
    b = Module("geometry.b", "def f():\n    from silhouette3d.geometry import a")
    assert {"geometry.a", "geometry.b"} <= set(circle([a, b, BOTTOM]))
    assert circle([a, BOTTOM]) == []


@pytest.mark.parametrize("library", LIBRARIES)
def test_a_library_out_of_its_room_is_caught(library: str) -> None:
    for source in (f"import {library}", f"def f():\n    from {library}.deep import x"):
        assert misplaced([Module("errors", source)]) == [f"errors imports {library}"]
        for place in LIBRARIES[library]:
            assert misplaced([Module(place, source)]) == []
            assert misplaced([Module(f"{place}.deeper", source)]) == []
            assert misplaced([Module(f"{place}s", source)]) != []


def test_relative_imports_are_resolved() -> None:
    source = "from . import a\nfrom .b import c\nfrom .. import d\nfrom ..e import f"
    found = list(imported(Module("drawing.dxf", source)))
    assert found == [
        f"{PACKAGE}.drawing.a",
        f"{PACKAGE}.drawing.b.c",
        f"{PACKAGE}.d",
        f"{PACKAGE}.e.f",
    ]
    assert list(imported(Module("drawing.__init__", "from .dxf import read"))) == [
        f"{PACKAGE}.drawing.dxf.read"
    ]
