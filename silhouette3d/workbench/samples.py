"""Jobs that come with the program, copied before they are opened."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from silhouette3d.errors import OutputError, WorkbenchError
from silhouette3d.job import read_job
from silhouette3d.starter import write_starter

STARTER: Final = "bollard"
"""The job that `silhouette3d new` writes; it is always there."""

_PACKAGE: Final = Path(__file__).resolve().parents[1]
_SHELVES: Final = (_PACKAGE / "samples", _PACKAGE.parent / "samples")
"""Where samples lie: in an installed package, and in a checkout."""


def sample_names() -> tuple[str, ...]:
    """The starter's, then those of the samples that are installed."""
    return STARTER, *(folder.name for folder in _folders())


def copy_sample(name: str, folder: Path) -> Path:
    """Copy a sample's job and drawings into a new folder.

    Returns
    -------
    Path
        The job file.

    Raises
    ------
    WorkbenchError
        If there is no such sample.
    OutputError
        If the folder is there already or cannot be written.
    """
    if name == STARTER:
        return write_starter(folder)
    source = next((one for one in _folders() if one.name == name), None)
    if source is None:
        raise WorkbenchError(
            "there is no such sample",
            where=repr(name),
            todo="choose one of " + ", ".join(sample_names()),
        )
    job = source / "job.toml"
    files = [job, *(source / spec.drawing for spec in read_job(job).profile)]
    try:
        folder.mkdir()
        for file in dict.fromkeys(files):
            shutil.copyfile(file, folder / file.name)
    except OSError as error:
        raise OutputError(
            f"the sample cannot be copied: {error.strerror}", where=str(folder)
        ) from error
    return folder / job.name


def _folders() -> Iterator[Path]:
    found: dict[str, Path] = {}
    for shelf in _SHELVES:
        for job in sorted(shelf.glob("*/job.toml")):
            found.setdefault(job.parent.name, job.parent)
    return iter(found.values())
