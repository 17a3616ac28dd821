"""Failures of the libraries under the geometry, as data.

shapely (GEOS), manifold3d and scipy's qhull work on outlines that people drew, and once in many
thousand one defeats them. That is no fault of who called them. Where a library is called that
has no error of its own, `calling_engine` makes a `BackendError` of what it raises; on its way up
`profile_named` and `doing` write down on it which profile was at hand and what was being done.
The innermost of them knows best. What it means for people is worded above the geometry; every
other error is a fault of this program and is let through as it is.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Literal

from shapely.errors import GEOSException

__all__ = ["BackendError", "Task", "backend_error", "calling_engine", "doing", "profile_named"]

Task = Literal["placing", "carving", "measuring", "checking", "cutting", "drawing"]
"""What is done to outlines and solids."""


class BackendError(Exception):
    """A library under the geometry gave up.

    Parameters
    ----------
    cause : Exception
        What the library raised.
    task : Task, optional
        What was being done, if that is known.
    profile : str, optional
        The one outline that it was done with, if it was one.
    """

    def __init__(
        self, cause: Exception, task: Task | None = None, profile: str | None = None
    ) -> None:
        super().__init__(str(cause))
        self.cause, self.task, self.profile = cause, task, profile

    @property
    def reason(self) -> str:
        """The first sentence of what the library says."""
        return str(self.cause).strip().partition("\n")[0].partition(". ")[0].rstrip(".")


def backend_error(error: Exception) -> BackendError | None:
    """Tell whether a library gave up, as an error that can be written on."""
    if isinstance(error, GEOSException):
        return BackendError(error)
    return error if isinstance(error, BackendError) else None


@contextmanager
def calling_engine() -> Iterator[None]:
    """Call manifold3d, whose only error is a bare RuntimeError."""
    try:
        yield
    except RuntimeError as error:
        if type(error) is not RuntimeError:  # RecursionError and others are none of its
            raise
        raise BackendError(error) from error


@contextmanager
def doing(task: Task) -> Iterator[None]:
    """Write what is being done on an error of a library that has no such note yet."""
    with _noting(task=task):
        yield


@contextmanager
def profile_named(name: str) -> Iterator[None]:
    """Write the outline at hand on an error of a library that has no such note yet."""
    with _noting(profile=name):
        yield


@contextmanager
def _noting(*, task: Task | None = None, profile: str | None = None) -> Iterator[None]:
    try:
        yield
    except BackendError as error:
        error.task, error.profile = error.task or task, error.profile or profile
        raise
    except GEOSException as error:
        raise BackendError(error, task, profile) from error
