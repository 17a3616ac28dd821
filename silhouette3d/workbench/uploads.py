"""Uploads into the job's folder, and what a page asks of the drawings there.

Invariant: only drawings and pictures come in, whole or not at all, under a bare name, and none
over another file unless that is asked for.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from silhouette3d.drawing.model import Drawing
from silhouette3d.drawing.read import read_drawing
from silhouette3d.errors import WorkbenchError
from silhouette3d.workbench.folder import Folder
from silhouette3d.workbench.protocol import ContentsForm
from silhouette3d.workbench.shown import Shown

__all__ = ["PNG", "Uploads"]

PNG: Final = b"\x89PNG\r\n\x1a\n"
"""What every PNG file begins with (ISO/IEC 15948, 5.2)."""


class Uploads:
    """Files that come from a page into the folder of a session.

    Parameters
    ----------
    shown : Shown
        Where trouble is shown.
    folder : callable
        Gives the folder at hand.
    """

    def __init__(self, shown: Shown, folder: Callable[[], Folder]) -> None:
        self._shown, self._folder = shown, folder

    def upload(self, name: str, data: bytes, *, replace: bool = False) -> str | None:
        """Put a drawing into the folder.

        Returns
        -------
        str or None
            Its path as a job names it, or None if it is refused; then there is trouble.
        """
        stored: list[str] = []
        self._shown.attempt(
            "file", lambda: stored.append(self._folder().store(name, data, replace=replace))
        )
        return stored[0] if stored else None

    def store_picture(self, name: str, data: bytes, *, replace: bool = False) -> bool:
        """Write a picture that the page has drawn into the folder.

        Parameters
        ----------
        name : str
            A bare name that ends in ``.png``.
        data : bytes
            What is in it.
        replace : bool
            Whether a file of this name may be written over.
        """

        def work() -> None:
            if not data.startswith(PNG):
                raise WorkbenchError("this is no picture", where=repr(name), todo="draw it again")
            self._folder().store(name, data, suffixes=(".png",), replace=replace)

        return self._shown.attempt("file", work)

    def layers(self, drawing: str) -> list[str] | None:
        """Name the layers of a drawing in the folder; None if it cannot be read."""
        found: list[str] = []

        def work() -> None:
            found.extend(read_drawing(self._folder().inside(drawing)).layers)

        return found if self._shown.attempt("file", work) else None

    def contents(self, drawing: str) -> ContentsForm | None:
        """Name layers, colours and linetypes of a drawing; None if it cannot be read."""
        found: list[Drawing] = []

        def work() -> None:
            found.append(read_drawing(self._folder().inside(drawing)))

        if not self._shown.attempt("file", work):
            return None
        shapes = found[0].shapes
        return {
            "layers": list(found[0].layers),
            "colours": list(dict.fromkeys(s.colour for s in shapes if s.colour)),
            "linetypes": list(dict.fromkeys(s.linetype for s in shapes if s.linetype)),
        }
