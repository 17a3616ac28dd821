"""Errors: everything that can go wrong, as one tree.

::

    SilhouetteError          everything this package raises on purpose
    ├── JobError             the job file: a key, a value, a name it gives
    ├── DrawingError         a drawing: what could not be read or closed
    ├── PlacementError       an outline that cannot be put on the stock
    ├── EmptyPartError       outlines that leave nothing of the stock
    ├── CuttingError         a cut that cannot be simulated as declared
    ├── GeometryError        outlines that a geometry engine gives up on
    ├── OutputError          a file that cannot be written
    ├── MissingLibraryError  something asked for takes a library that is not installed
    ├── PictureError         a machine that cannot draw
    └── WorkbenchError       something the workbench must not do, or has no part for

Every message says what is wrong, where, and what to do about it.
"""

from __future__ import annotations

__all__ = [
    "CuttingError",
    "DrawingError",
    "EmptyPartError",
    "GeometryError",
    "JobError",
    "MissingLibraryError",
    "OutputError",
    "PictureError",
    "PlacementError",
    "SilhouetteError",
    "WorkbenchError",
]


class SilhouetteError(Exception):
    """Root of the tree.

    Parameters
    ----------
    what : str
        What is wrong, as a sentence without its full stop.
    where : str
        The file, and in it the line, layer, key or coordinates.
    todo : str
        What to do about it.
    """

    def __init__(self, what: str, *, where: str = "", todo: str = "") -> None:
        self.what, self.where, self.todo = map(_printable, (what, where, todo))
        super().__init__(self.what, self.where, self.todo)

    def __str__(self) -> str:
        where = f"{self.where}: " if self.where else ""
        todo = f". {self.todo[:1].upper()}{self.todo[1:]}" if self.todo else ""
        return f"{where}{self.what}{todo}."

    def __reduce__(self) -> tuple[object, ...]:
        return (_rebuild, (type(self), self.what, self.where, self.todo))


def _printable(text: str) -> str:
    """Drop half characters, which a damaged file may hold and nobody can print."""
    return text.encode(errors="backslashreplace").decode()


def _rebuild(kind: type[SilhouetteError], what: str, where: str, todo: str) -> SilhouetteError:
    return kind(what, where=where, todo=todo)


class JobError(SilhouetteError):
    """The job file cannot be read, or declares something that cannot be."""


class DrawingError(SilhouetteError):
    """A drawing cannot be read, closed or nested into an outline.

    Parameters
    ----------
    what, where, todo : str
        As of every error.
    about : object, optional
        What was found out about the drawing, as data: a survey of its open ends.

    Attributes
    ----------
    profile : str
        Whose drawing it is, if that is known.
    """

    def __init__(self, what: str, *, where: str = "", todo: str = "", about: object = None) -> None:
        super().__init__(what, where=where, todo=todo)
        self.about = about
        self.profile = ""

    def at(self, where: str) -> DrawingError:
        """Move the error to another place."""
        moved = DrawingError(self.what, where=where, todo=self.todo, about=self.about)
        moved.profile = self.profile
        return moved

    def of(self, profile: str) -> DrawingError:
        """Make the error one of a profile's drawing."""
        own = self.at(f"{self.where} (profile {profile!r})")
        own.profile = profile
        return own


class PlacementError(SilhouetteError):
    """An outline cannot be put on the stock as declared."""


class EmptyPartError(SilhouetteError):
    """Nothing of the stock lies inside every outline."""


class CuttingError(SilhouetteError):
    """A cut cannot be simulated as declared."""


class GeometryError(SilhouetteError):
    """A geometry engine under the package gave up on the outlines."""


class OutputError(SilhouetteError):
    """A file cannot be written."""


class MissingLibraryError(SilhouetteError):
    """A library that comes as an extra of the package is not installed."""


class PictureError(SilhouetteError):
    """Picture or window that this machine cannot draw or open."""


class WorkbenchError(SilhouetteError):
    """The workbench is asked for what it must not do, or what is not there."""
