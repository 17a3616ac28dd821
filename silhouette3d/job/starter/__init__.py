"""A first job, ready to be changed into one's own: a commented job file and its drawings."""

from __future__ import annotations

import os
from contextlib import ExitStack
from importlib import resources
from pathlib import Path
from typing import Final

from silhouette3d.base.files import atomic_write
from silhouette3d.errors import OutputError
from silhouette3d.job.starter.keys import explained

__all__ = ["write_starter"]

DRAWINGS: Final = ("front.dxf", "right.dxf", "top.svg")
JOB: Final = "job.toml"


def write_starter(folder: str | os.PathLike[str]) -> Path:
    """Write the starter job into a folder, which is made if it is not there.

    Parameters
    ----------
    folder : str or path-like
        A new folder, or one that holds none of the starter's files.

    Returns
    -------
    Path
        The job file.

    Raises
    ------
    OutputError
        If there is a job already, or the files cannot be written. Then
        nothing has been written.
    """
    home = Path(folder)
    for name in (JOB, *DRAWINGS):  # the job first: that is what one would be sorry for
        if os.path.lexists(home / name):
            raise OutputError(
                "there is a job here already" if name == JOB else "there is such a file already",
                where=str(home / name),
                todo="give the name of a new folder",
            )
    with ExitStack() as undo:
        _make_folder(home, undo)
        for name in (*DRAWINGS, JOB):  # the job last: while it is not there, there is no job
            source = resources.files("silhouette3d.job.starter") / "bollard" / name
            data = source.read_bytes()
            if name == JOB:
                data = explained(data.decode()).encode()
            with atomic_write(home / name) as draft:
                draft.write_bytes(data)
            undo.callback((home / name).unlink, missing_ok=True)
        undo.pop_all()
    return home / JOB


def _make_folder(folder: Path, undo: ExitStack) -> None:
    """Make a folder and those above it; `undo` takes away what was made."""
    missing = [one for one in (folder, *folder.parents) if not one.exists()]
    for one in reversed(missing):
        try:
            one.mkdir(exist_ok=True)
        except OSError as error:
            raise OutputError(
                f"the folder cannot be made: {error.strerror}",
                where=str(one),
                todo="give another folder",
            ) from None
        undo.callback(one.rmdir)
    if not folder.is_dir():
        raise OutputError("this is a file, not a folder", where=str(folder), todo="give another")
