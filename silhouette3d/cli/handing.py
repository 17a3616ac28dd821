"""The commands that hand the job on: a drawing for each setup."""

from __future__ import annotations

from pathlib import Path

from silhouette3d.cli.terminal import complain, say, step
from silhouette3d.cli.working import point_to_findings, work_out
from silhouette3d.cli.writing import Output


def setups(job: Path, /, *, output: Output, compensated: bool = False) -> None:
    """Write a DXF drawing for each setup, in the order of the cuts.

    Parameters
    ----------
    job
        A job file, or a folder that holds a job.toml.
    output
        The folder for the files; made if it does not exist.
    compensated
        Also draw the path of the cutter's middle, half a kerf off the outline, on layer PATH.
    """
    part = work_out(job)
    with step("drawing each setup"):
        files = part.setups(output, compensated)
    for file in files:
        say(f"Wrote {file}.")
    strangers = set(output.glob("*.dxf")) - set(files)
    if strangers:
        names = ", ".join(sorted(file.name for file in strangers))
        complain(f"{output} also holds drawings that are not of this job as it is now: {names}")
    point_to_findings(part, job)
