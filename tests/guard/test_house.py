"""Rules of the house that no linter keeps."""

from __future__ import annotations

import ast
import subprocess
from collections.abc import Iterable

import pytest

from tests.guard.imports import PACKAGE, ROOT, Module, imported, package_modules

TOP_LEVEL = {
    "DEVELOPERS.md",
    "README.md",
    "pyproject.toml",
    "samples",
    "scripts",
    "silhouette3d",
    "tests",
}
"""What lies at the top of the repository, besides names that begin with a dot."""

ENDINGS = {"exit", "quit", "sys.exit", "os._exit", "os.abort", "SystemExit"}
TALK = {"print", "input", "sys.stdout.write", "sys.stderr.write"}


def dotted(node: ast.AST) -> str:
    """``sys.exit`` for the expression of that spelling; nothing for others."""
    match node:
        case ast.Name(id=name):
            return name
        case ast.Attribute(value=value, attr=name):
            return f"{dotted(value)}.{name}"
    return ""


def talks_or_ends(module: Module) -> list[str]:
    """Where a module prints, asks or ends the process."""
    return [
        f"{module.name}:{node.lineno} {dotted(node)}"
        for node in ast.walk(ast.parse(module.source))
        if isinstance(node, ast.Name | ast.Attribute) and dotted(node) in ENDINGS | TALK
    ]


def strangers(paths: Iterable[str]) -> set[str]:
    """Entries at the top of the repository that do not belong there."""
    top = {path.partition("/")[0] for path in paths}
    return {name for name in top - TOP_LEVEL if not name.startswith(".")}


def test_only_the_command_line_talks_and_ends() -> None:
    rooms = [module for module in package_modules() if module.room not in {"cli", "__main__"}]
    assert [line for module in rooms for line in talks_or_ends(module)] == []


def test_the_top_of_the_repository_is_tidy() -> None:
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, encoding="utf-8", check=True
    ).stdout.split("\0")
    paths = [path for path in listed if path]
    assert "pyproject.toml" in paths
    assert strangers(paths) == set()
    assert [path for path in paths if path.endswith((".pyc", ".so"))] == []


def tellers(modules: Iterable[Module]) -> list[str]:
    """Where lengths are told as text, or errors raised in words, below the words.

    Geometry, process, checks and planning find data: findings, misfits, failures.
    """
    units = {f"{PACKAGE}.base.units.{name}" for name in ("length_text", "figure", "Unit", "MM_PER")}
    telling = {f"{PACKAGE}.base.quantities.Scale", f"{PACKAGE}.base.units.length_text"}
    silent = {"geometry", "process", "planning"}
    return [
        f"{module.name} imports {name}"
        for module in modules
        if module.room in silent | {"checks"}
        for name in imported(module)
        if name in telling
        or (module.room in silent and (name in units or name.startswith(f"{PACKAGE}.errors")))
    ]


def test_geometry_process_and_checks_hold_no_sentences() -> None:
    assert tellers(package_modules()) == []


# The guards themselves: what they must catch.


def test_a_finding_that_tells_is_caught() -> None:
    source = "from silhouette3d.base.quantities import Quantity, Scale"
    assert tellers([Module("checks.fit", source)]) == [
        "checks.fit imports silhouette3d.base.quantities.Scale"
    ]
    assert tellers([Module("presentation.wording.part", source)]) == []
    for room in ("geometry.solid", "process.tabs", "planning.order"):
        for taken in ("base.units.figure", "errors.CuttingError"):
            where, _, name = taken.rpartition(".")
            module = Module(room, f"from silhouette3d.{where} import {name}")
            assert tellers([module]) == [f"{room} imports silhouette3d.{taken}"]


@pytest.mark.parametrize(
    "source",
    [
        "print(1)",
        "def f():\n    sys.exit(2)",
        "raise SystemExit",
        "raise SystemExit(2)",
        "import os\nos._exit(1)",
        "answer = input()",
        "sys.stdout.write('x')",
        "list(map(print, [1]))",
    ],
)
def test_talking_and_ending_is_caught(source: str) -> None:
    assert len(talks_or_ends(Module("errors", source))) == 1


def test_other_names_are_let_through() -> None:
    source = "part.print()\nexit_code = 1\nself.exit(3)\nprinted = sys.stdout\n'print(1)'"
    assert talks_or_ends(Module("errors", source)) == []


def test_a_stranger_at_the_top_is_caught() -> None:
    assert strangers([".ci/run", "README.md", "tests/a.py", "notes/b.md", "c.py"]) == {
        "notes",
        "c.py",
    }
