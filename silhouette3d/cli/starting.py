"""The commands one begins with: new, materials and schema."""

from __future__ import annotations

import shlex
from dataclasses import asdict
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from silhouette3d.cli.terminal import print_json, say, show_table


def new(folder: Path, /) -> None:
    """Write a commented starter job with its drawings; nothing is overwritten.

    Parameters
    ----------
    folder
        A new folder, or one without a job.
    """
    from silhouette3d.starter import DRAWINGS, write_starter

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
    from silhouette3d.materials import all_materials

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
        from silhouette3d.cli.results import results_schema

        print_json(results_schema())
        return
    from silhouette3d.job import schema as of_job

    print_json(of_job())
