"""Small numbers have names: those of `geometry.tolerances`, or one with a word of why beside it."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable, Iterator

import pytest

from tests.guard.imports import Module, package_modules

SMALL = re.compile(r"[\d.]+[eE]-\d+")
HOME = "geometry.tolerances"


def nameless(modules: Iterable[Module]) -> list[str]:
    """Where a number such as 1e-9 stands in an expression, and is not the value of a constant."""
    return [
        f"{module.name}:{node.lineno} {ast.get_source_segment(module.source, node)}"
        for module in modules
        if module.name != HOME
        for node in _numbers(module)
    ]


def _numbers(module: Module) -> Iterator[ast.Constant]:
    tree = ast.parse(module.source)
    named: set[ast.AST] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign | ast.AnnAssign) and node.value is not None:
            target = node.targets[0] if isinstance(node, ast.Assign) else node.target
            if isinstance(target, ast.Name) and target.id.isupper():
                named.update(ast.walk(node.value))
    for node in ast.walk(tree):
        if not isinstance(node, ast.Constant) or type(node.value) is not float or node in named:
            continue
        if SMALL.fullmatch(ast.get_source_segment(module.source, node) or ""):
            yield node


def test_small_numbers_have_names() -> None:
    assert nameless(package_modules()) == []


# The guard itself: what it must catch.


@pytest.mark.parametrize(
    "source", ["near = x < 1e-9", "def f(x, y=1.5E-3):\n    return x", "x = max(y, -1e-12)"]
)
def test_a_nameless_number_is_caught(source: str) -> None:
    assert len(nameless([Module("geometry.solid", source)])) == 1


@pytest.mark.parametrize("source", ["NEAR: Final = 1e-9", "_ALONG = 1.0 - 1e-9", "x = 0.5 * NEAR"])
def test_a_named_one_is_not(source: str) -> None:
    assert nameless([Module("geometry.solid", source)]) == []
