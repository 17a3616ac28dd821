"""The command that opens the workbench in a browser."""

from __future__ import annotations

import os
import sys
from importlib.util import find_spec
from pathlib import Path
from typing import NoReturn

from silhouette3d.cli.terminal import say
from silhouette3d.errors import WorkbenchError

NEEDED = ("aiohttp", "trame_client", "trame_server", "trame_vtk", "watchfiles")
"""What the extra `workbench` brings, as it is imported."""

INSTALL = 'pip install "silhouette3d[workbench]"'


def open(job: Path | None = None, /, *, port: int = 0, no_browser: bool = False) -> None:
    """Open the workbench in a browser: place the outlines and watch the part change.

    It answers this machine only, and only who knows the address that is printed.
    End it with Ctrl-C.

    Parameters
    ----------
    job
        A job file, or a folder that holds a job.toml. Without it one begins in the present
        folder.
    port
        Where to listen; any that is free unless told.
    no_browser
        Print the address only.
    """
    missing = [name for name in NEEDED if find_spec(name) is None]
    if missing:
        raise WorkbenchError(
            f"the workbench is not installed: {', '.join(missing)} missing", todo=f"run {INSTALL}"
        )
    from silhouette3d.workbench.app import run

    run(job, port=port, browser=not no_browser, say=lambda at: say(f"The workbench: {at}"))
    _leave()


def _leave() -> NoReturn:
    """End at once: threads that still work something out have nothing to keep.

    Python would wait for them, and then complain of what they hold.
    """
    sys.stdout.flush()
    os._exit(0)
