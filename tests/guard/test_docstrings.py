"""First lines of docstrings: a verb and its object, readable without the neighbour."""

from __future__ import annotations

import ast
from collections.abc import Iterable, Iterator

import pytest

from tests.guard.imports import Module, package_modules

ASKING = {"What", "Where", "Which", "How", "Whether", "When", "Who", "Why"}
LEANING = {"Of", "Those", "These", "This", "Its", "It", "Likewise", "Also", "Same", "Their"}
"""Words that begin a line which needs the line before it, or its code, to be understood."""

NO_VERBS = {"The", "A", "An", "All", "Each", "Every", "Some", "One", "Both", "Two", "In", "From"}
NO_VERBS |= {"With", "Without", "By", "As", "At", "On", "To", "For", "No", "Not", "None", "If"}

MOST = 0.01
"""Share of all docstrings: a line now and then reads better otherwise."""

Definition = ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef | ast.Module


def first_lines(module: Module) -> Iterator[tuple[Definition, str]]:
    """Each definition of a module with the first line of its docstring."""
    for node in ast.walk(ast.parse(module.source)):
        if isinstance(node, Definition) and (text := ast.get_docstring(node)):
            yield node, text.partition("\n")[0]


def does_something(node: Definition) -> bool:
    """Whether it is a function, not a property, which may be named by what it is."""
    if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
        return False
    return not any("property" in ast.unparse(one) for one in node.decorator_list)


def is_fault(node: Definition, line: str) -> bool:
    """Whether a first line asks, leans on its neighbour, or a function's names a thing."""
    word = line.partition(" ")[0].rstrip(",:;")
    if word in ASKING | LEANING or line.startswith(("The same", "In mm", "In g")):
        return True
    return does_something(node) and (word in NO_VERBS or not word[:1].isupper())


def faults(modules: Iterable[Module]) -> list[str]:
    """Where first lines are at fault."""
    return [
        f"{module.name}:{getattr(node, 'lineno', 1)} {line}"
        for module in modules
        for node, line in first_lines(module)
        if is_fault(node, line)
    ]


def test_first_lines_say_what_is_done() -> None:
    modules = package_modules()
    total = sum(1 for module in modules for _ in first_lines(module))
    found = faults(modules)
    assert len(found) <= MOST * total, "\n".join(found)


# The guard itself: what it must catch.


@pytest.mark.parametrize(
    "source",
    [
        'def f():\n    """Where it lies."""',
        'def f():\n    """The place of it."""',
        'def f():\n    """(n,) the places."""',
        'def f():\n    """Of all of them."""',
        'class F:\n    """What is told."""',
        'class F:\n    @property\n    def f(self):\n        """In mm."""',
        '"""How it is done."""',
    ],
)
def test_a_line_that_does_not_is_caught(source: str) -> None:
    assert len(faults([Module("geometry.solid", source)])) == 1


@pytest.mark.parametrize(
    "source",
    [
        'def f():\n    """Find where it lies."""',
        'class F:\n    @property\n    def f(self):\n        """The volume in mm³."""',
        'class F:\n    """A closed surface."""',
        '"""The setup sheets."""',
    ],
)
def test_a_line_that_does_is_not(source: str) -> None:
    assert faults([Module("geometry.solid", source)]) == []
