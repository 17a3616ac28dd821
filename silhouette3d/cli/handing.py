"""The commands that hand the job on: sheets, a drawing for each setup, the customer's page."""

from __future__ import annotations

from pathlib import Path

from silhouette3d.cli.asking import InUnits
from silhouette3d.cli.terminal import complain, say, step
from silhouette3d.cli.working import point_to_findings, work_out
from silhouette3d.cli.writing import Output


def sheets(job: Path, /, *, output: Output, paper: str = "A4", units: InUnits = None) -> None:
    """Write setup sheets for the operator: a PDF to print and to tick off.

    Parameters
    ----------
    job
        A job file, or a folder that holds a job.toml.
    output
        The .pdf file to write.
    paper
        A4 or letter.
    units
        Tell numbers in mm, in, or both; in the job's own unless told.
    """
    part = work_out(job)
    with step("cutting on trial, measuring, and setting the sheets") as part.progress:
        part.sheets(output, paper, units)
    say(f"Wrote {output}.")
    point_to_findings(part, job)


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


def page(job: Path, /, *, output: Output, stages: bool = False, scale: float = 1.0) -> None:
    """Write a page for the customer: the part in 3D, its facts and three views, in one HTML file.

    Parameters
    ----------
    job
        A job file, or a folder that holds a job.toml.
    output
        The .html file to write. It needs no network and names no file or folder of yours.
    stages
        Also show how the part is cut: the block after every cut, its pieces pulled apart.
    scale
        Of a mock-up that goes with the page: 2 for twice the size, 0.5 for half. Size and weight
        stay those of the finished part.
    """
    part = work_out(job)
    with step("cutting on trial, and writing the page" if stages else "writing the page"):
        part.page(output, scale, stages)
    say(f"Wrote {output}.")
    point_to_findings(part, job)
