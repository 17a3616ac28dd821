"""Standard output and error: what is shown, what is said, and progress on a terminal."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from rich.console import RenderableType

__all__ = [
    "complain",
    "drop_output",
    "lenient",
    "print_json",
    "remark",
    "say",
    "show_table",
    "step",
]

PIPE_WIDTH = 100
"""Columns of a table that does not go to a terminal."""


def lenient() -> None:
    """Characters that the terminal's encoding does not have are written as their numbers."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def say(text: str) -> None:
    """A line on standard output."""
    print(text)


def complain(text: str) -> None:
    """A line on standard error."""
    print(f"silhouette3d: {text}", file=sys.stderr)


def remark(text: str) -> None:
    """A line on standard error where that is a terminal; nothing in a pipe."""
    if sys.stderr.isatty():
        complain(text)


def print_json(value: Any) -> None:
    """A value as JSON on standard output."""
    import json

    print(json.dumps(value, indent=2, allow_nan=False))


def show_table(*parts: RenderableType) -> None:
    """Tables and texts on standard output, as wide as the terminal."""
    from rich.console import Console

    class Quiet(Console):
        def on_broken_pipe(self) -> None:
            raise BrokenPipeError

    fixed = None if sys.stdout.isatty() or "COLUMNS" in os.environ else PIPE_WIDTH
    console = Quiet(file=sys.stdout, width=fixed, highlight=False, markup=False, emoji=False)
    for part in parts:
        console.print(part)


@contextmanager
def step(doing: str) -> Iterator[Callable[[int, int], None]]:
    """Show on a terminal, while it lasts, what is being done; say nothing in a pipe.

    Yields a function to be told how much of how much is done.
    """
    if not sys.stderr.isatty():
        yield lambda done, total: None
        return
    from rich.console import Console

    with Console(stderr=True, highlight=False, markup=False).status(f"{doing} …") as status:
        yield lambda done, total: status.update(f"{doing} … {done / max(total, 1):.0%}")


def drop_output() -> None:
    """Throw away what is still to be written on standard output, where it cannot be."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)
