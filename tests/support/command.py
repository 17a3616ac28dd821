"""The command line run in the process of the tests, as its user would type it."""

from __future__ import annotations

from collections.abc import Callable

import pytest

__all__ = ["Run", "run"]

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command: its status, what it prints, and what it tells beside that."""
    from silhouette3d.cli import main

    def run(*arguments: object) -> tuple[int, str, str]:
        status = main([str(one) for one in arguments])
        out, err = capsys.readouterr()
        return status, out, err

    return run
