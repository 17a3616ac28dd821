"""The commands one begins with: new, materials, schema, open."""

from __future__ import annotations

import os
import shlex
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, NoReturn

from cyclopts import Parameter

from silhouette3d.base.extras import need
from silhouette3d.cli.common import print_json, say, show_table
from silhouette3d.errors import JobError

# --- The commands one begins with: new, materials and schema


def new(folder: Path, /) -> None:
    """Write a commented starter job with its drawings; nothing is overwritten.

    Parameters
    ----------
    folder
        A new folder, or one without a job.
    """
    from silhouette3d.job.starter import DRAWINGS, write_starter

    job = write_starter(folder)
    say(f"Wrote {job} and its drawings {', '.join(DRAWINGS)}.")
    say(f"Next: {shlex.join(['silhouette3d', 'check', str(folder)])}")


def materials(*, as_json: Annotated[bool, Parameter("--json")] = False) -> None:
    """Print the table of materials: densities, and where they come from.

    Parameters
    ----------
    as_json
        Print JSON instead of a table.
    """
    from silhouette3d.base.materials import all_materials

    if as_json:
        print_json([asdict(one) for one in all_materials()])
        return
    from silhouette3d.cli.tables import materials_table

    show_table(*materials_table(all_materials()))


def schema(*, results: bool = False) -> None:
    """Print the JSON Schema of the job file, for editors that complete and check it.

    Parameters
    ----------
    results
        Print that of what commands give with --json, instead.
    """
    if results:
        from silhouette3d.cli.results_schema import results_schema

        print_json(results_schema())
        return
    from silhouette3d.job.model import schema as of_job

    print_json(of_job())


# --- The command that opens the workbench in a browser


HIGHEST_PORT = 65535
"""TCP has two bytes for it (RFC 9293)."""


def _a_port(_: type, value: int) -> None:
    if not 0 <= value <= HIGHEST_PORT:
        raise ValueError(f"a number from 0 to {HIGHEST_PORT} is wanted.")


def open(
    job: Path | None = None,
    /,
    *,
    port: Annotated[int, Parameter(validator=_a_port)] = 0,
    no_browser: bool = False,
) -> None:
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
    need("workbench", "the workbench")
    if job is not None and not job.exists():
        raise JobError(
            "there is no such file or folder",
            where=str(job),
            todo="give a job file or a folder, or nothing to begin in the present one",
        )
    from silhouette3d.workbench.server import run

    run(job, port=port, browser=not no_browser, say=lambda at: say(f"The workbench: {at}"))
    _leave()


def _leave() -> NoReturn:
    """End at once: threads that still work something out have nothing to keep.

    Python would wait for them, and then complain of what they hold.
    """
    sys.stdout.flush()
    os._exit(0)
