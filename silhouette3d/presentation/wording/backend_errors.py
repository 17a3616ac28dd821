"""Word what the libraries under the geometry give up on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Final

from silhouette3d.errors import GeometryError
from silhouette3d.geometry.backend_errors import BackendError, Task, backend_error

_DOING: Final[Mapping[Task | None, str]] = {
    "placing": "placing an outline",
    "carving": "cutting the stock down to the outlines",
    "measuring": "measuring the part",
    "checking": "checking the part",
    "cutting": "cutting on trial",
    "drawing": "drawing",
    None: "working out the part",
}


@contextmanager
def told_in_words(where: str) -> Iterator[None]:
    """Have what a library gives up on told like any other error.

    Parameters
    ----------
    where : str
        The job.

    Raises
    ------
    GeometryError
        If shapely, manifold3d or qhull gives up; its cause is what that raised.
    """
    try:
        yield
    except Exception as error:
        found = backend_error(error)
        if found is None:
            raise
        raise gave_up(found, where) from found.cause


def gave_up(error: BackendError, where: str) -> GeometryError:
    """Word that a library gave up.

    Parameters
    ----------
    error : BackendError
        What it raised, what was being done, and with which profile.
    where : str
        The job.
    """
    words = f"the geometry engine gave up while {_DOING[error.task]}: {error.reason}"
    return GeometryError(
        f"{error.profile}: {words}" if error.profile else words,
        where=where,
        todo=f"shift {error.profile or 'one of the outlines'} by a hundredth of a millimetre, or "
        "redraw it where points or lines nearly coincide; if that does not help, report it with "
        "the job and its drawings",
    )
