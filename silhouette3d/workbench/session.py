"""The session: a job being worked on, and everything that happens to it.

Pages talk to this only. All of it runs on one thread, the page's event loop;
what takes long is worked out on others and comes back through `post`.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Final

from silhouette3d.drawing.read import read_drawing
from silhouette3d.errors import WorkbenchError
from silhouette3d.facade import Part
from silhouette3d.job import Job
from silhouette3d.workbench.desk import no_job
from silhouette3d.workbench.errands import EXPORTS, Errand, Errands, Tell
from silhouette3d.workbench.filed import Filed
from silhouette3d.workbench.proposals import Proposed, order_for, tabs_for
from silhouette3d.workbench.result import Trouble
from silhouette3d.workbench.state import Event
from silhouette3d.workbench.worker import Post

__all__ = ["Event", "Session"]

PNG: Final = b"\x89PNG\r\n\x1a\n"
"""What every PNG file begins with (ISO/IEC 15948, 5.2)."""

OUT_OF_DATE: Final = Trouble(
    "what was looked for is out of date: the job has changed since",
    todo="ask for it again",
    kind="value",
)
"""Said where a proposal comes for a job that is no longer at hand."""


class Session(Filed):
    """A job being worked on.

    Parameters
    ----------
    folder : str or path-like
        Where the job, its drawings and what is exported lie: nothing else can be read
        or written.
    post : callable
        Has a function called on the thread that owns the session, and may be called from
        any thread: ``loop.call_soon_threadsafe``.
    """

    def __init__(self, folder: str | os.PathLike[str], post: Post) -> None:
        super().__init__(folder, post)
        self._errands = Errands(self._take_errand, post)

    def stop(self) -> None:
        """End all work."""
        self._watcher.stop()
        self._worker.stop()
        self._errands.stop()

    def propose_order(self) -> bool:
        """Have every order of the cuts tried; the best comes as a proposal."""
        return self._send("trying every order of the cuts", order_for)

    def propose_tabs(self) -> bool:
        """Have places for tabs found; they come as a proposal."""
        return self._send("looking for tabs", tabs_for)

    def accept(self) -> bool:
        """Put what is proposed into the job: one edit."""
        proposal = self.proposal
        if proposal is None:
            return False
        self._set_proposal(None)
        return self._edit(proposal.applied)

    def refuse(self) -> None:
        """Leave the job as it is."""
        self._set_proposal(None)

    def export(self, kind: str, name: str, *, replace: bool = False) -> bool:
        """Write a file into the job's folder, beside all other work.

        Parameters
        ----------
        kind : str
            A key of `errands.EXPORTS`.
        name : str
            The file's bare name; its suffix decides the format where there are several.
        replace : bool
            Whether a file of this name may be written over.

        Returns
        -------
        bool
            Whether it has begun; it is done when `errand` says so.
        """
        history = self._history

        def work() -> None:
            if history is None:
                raise no_job()
            wanted = EXPORTS.get(kind)
            if wanted is None:
                raise WorkbenchError(f"there is nothing called {kind!r} to export")
            folder, job, before = self.folder, history.present, self._part
            path = folder.new_file(name, wanted.suffixes, replace=replace)

            def write(tell: Tell) -> None:
                part = fresh(job, before, tell)
                _ = part.solid
                folder.new_file(name, wanted.suffixes, replace=replace)  # still to be had?
                wanted.write(part, path)

            self._errands.put(Errand(f"writing {name}", path=path), write)

        return self._try("file", work)

    def upload(self, name: str, data: bytes, *, replace: bool = False) -> str | None:
        """Put a drawing into the folder.

        Returns
        -------
        str or None
            Its path as a job names it, or None if it is refused; then there is trouble.
        """
        stored: list[str] = []
        self._try("file", lambda: stored.append(self.folder.store(name, data, replace=replace)))
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
            self.folder.store(name, data, suffixes=(".png",), replace=replace)

        return self._try("file", work)

    def layers(self, drawing: str) -> list[str] | None:
        """Names of the layers of a drawing in the folder; None if it cannot be read."""
        found: list[str] = []

        def work() -> None:
            found.extend(read_drawing(self.folder.inside(drawing)).layers)

        return found if self._try("file", work) else None

    def _send(self, words: str, find: Callable[[Part], Proposed]) -> bool:
        """Have a proposal found on the side."""
        history = self._history

        def work() -> None:
            if history is None:
                raise no_job()
            job, before = history.present, self._part
            self._errands.put(Errand(words), lambda tell: find(fresh(job, before, tell)))

        return self._try("value", work)

    def _take_errand(self, errand: Errand, found: Proposed | None) -> None:
        self.errand = errand
        self._tell("errand")
        if found is None:
            return
        if found.job == self.job:
            self._set_proposal(found)
        else:
            self._set_trouble(OUT_OF_DATE)


def fresh(job: Job, before: Part | None, tell: Tell) -> Part:
    """A part to work on aside, with all that is known of it already."""
    part = Part(job) if before is None else before.again(job)
    part.progress = tell
    return part
