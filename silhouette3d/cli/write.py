"""The commands that write or show something, and those that hand the job on."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from silhouette3d.cli.common import InUnits, complain, point_to_findings, say, step, work_out
from silhouette3d.errors import DrawingError, PictureError

# --- The commands that write or open something to look at: outline, picture, show and export


Output = Annotated[Path, Parameter(["--output", "-o"])]


EXPLODE = 0.4
MOST_EXPLODE = 10.0


def outline(job: Path, name: str, /, *, output: Output) -> None:
    """Write a picture of one outline as it was read and placed on the stock.

    Of a drawing that is refused because its lines do not close: every line, with open ends
    and meetings marked and numbered by kind. The exit status is 2 then.

    Parameters
    ----------
    job
        A job file, or a folder that holds a job.toml.
    name
        The profile's name: its view, unless the job names it otherwise.
    output
        The .png or .jpg file to write.
    """
    with step("starting"):
        import silhouette3d

        part = silhouette3d.load(job)
    with step(f"drawing the outline {name}"):
        try:
            part.picture_outline(name, output)
        except DrawingError as error:
            if error.about is not None:
                say(f"Wrote {output}, which shows what is open.")
            raise
    say(f"Wrote {output}.")


def picture(
    job: Path,
    /,
    *,
    output: Output,
    view: str | None = None,
    stages: bool = False,
    thin: bool = False,
    explode: float | None = None,
) -> None:
    """Write a picture of the part: a sheet, one view, the block cut by cut, or its thickness.

    Parameters
    ----------
    job
        A job file, or a folder that holds a job.toml.
    output
        The .png or .jpg file to write.
    view
        One view instead of the sheet: front, rear, left, right, top, bottom, iso, or the name
        of a profile.
    stages
        The stock, the block after every cut, and the part, side by side.
    thin
        The part coloured by its thickness where that is below the job's limit.
    explode
        With --stages, how far the bodies are moved apart: 0.4 unless told, 0 for not at all.
    """
    if (view is not None) + stages + thin > 1:
        raise PictureError(
            "--view, --stages and --thin are pictures of their own", todo="ask for one of them"
        )
    if explode is not None and not (stages and 0.0 <= explode <= MOST_EXPLODE):
        raise PictureError(
            f"--explode goes with --stages and is a number from 0 to {MOST_EXPLODE:g}",
            todo="write for example --stages --explode 0.4",
        )
    part = work_out(job)
    if stages:
        with step("cutting on trial, and drawing"):
            part.picture_stages(output, EXPLODE if explode is None else explode)
    elif thin:
        with step("measuring thickness, and drawing") as part.progress:
            part.picture_thin(output)
    else:
        with step("drawing"):
            part.picture(output, view)
    say(f"Wrote {output}.")
    point_to_findings(part, job)


def show(job: Path, /) -> None:
    """Open a window in which the part can be turned.

    Parameters
    ----------
    job
        A job file, or a folder that holds a job.toml.
    """
    work_out(job).show()


def export(job: Path, file: Path, /, *, scale: float = 1.0, stand: bool = False) -> None:
    """Write the part as a mesh.

    Parameters
    ----------
    job
        A job file, or a folder that holds a job.toml.
    file
        The file to write; its suffix decides the format: .stl, .3mf, .glb, .obj or .ply.
    scale
        Every length times this, for a mock-up.
    stand
        Turn it as it stands most stably, and say how far it can be tilted before it falls.
    """
    part = work_out(job)
    with step(f"writing {file}"):
        part.export(file, scale, stand)
    say(f"Wrote {file}." if scale == 1.0 else f"Wrote {file} at scale {scale:g}.")
    if stand and part.standing is not None:
        from silhouette3d.cli.tables import standing_text

        say(f"It stands on {standing_text(part.standing)}.")


# --- The commands that hand the job on: sheets, a drawing for each setup, the customer's page


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


def setups(job: Path, /, *, output: Output) -> None:
    """Write a DXF drawing for each setup, in the order of the cuts, and an index, setups.json.

    Parameters
    ----------
    job
        A job file, or a folder that holds a job.toml.
    output
        The folder for the files; made if it does not exist.
    """
    part = work_out(job)
    with step("drawing each setup"):
        files = part.setups(output)
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
