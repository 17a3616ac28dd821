"""Files written and proposals found beside all other work, for the job as it was when asked.

Invariant: what is worked on is the job of the moment of asking, whatever is edited meanwhile;
a proposal is shown only for the job that is at hand when it comes; one at most waits to be
accepted or refused.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from silhouette3d.errors import WorkbenchError
from silhouette3d.job.model import Job
from silhouette3d.part import Part
from silhouette3d.workbench.background_jobs import (
    EXPORTS,
    Errand,
    Errands,
    Proposed,
    Tell,
    order_for,
    tabs_for,
)
from silhouette3d.workbench.document import Document
from silhouette3d.workbench.folder import Folder
from silhouette3d.workbench.lane import Post
from silhouette3d.workbench.result import Trouble
from silhouette3d.workbench.shown import Shown

__all__ = ["Aside"]

OUT_OF_DATE: Final = Trouble(
    "what was looked for is out of date: the job has changed since",
    todo="ask for it again",
    kind="value",
)
"""Said where a proposal comes for a job that is no longer at hand."""


class Aside:
    """Exports and proposals of a session.

    Parameters
    ----------
    shown : Shown
        Where they, and what they come to, are shown.
    document : callable
        Gives the document at hand; raises a `WorkbenchError` where there is none.
    folder : callable
        Gives the folder at hand.
    post : callable
        Has a function called on the thread that owns `shown`.
    """

    def __init__(
        self,
        shown: Shown,
        document: Callable[[], Document],
        folder: Callable[[], Folder],
        post: Post,
    ) -> None:
        self._shown, self._document, self._folder = shown, document, folder
        self._errands = Errands(self._take, post)

    def stop(self) -> None:
        """End all work."""
        self._errands.stop()

    def propose_order(self) -> bool:
        """Have every order of the cuts tried; the best comes as a proposal."""
        return self._send("trying every order of the cuts", order_for)

    def propose_tabs(self) -> bool:
        """Have places for tabs found; they come as a proposal."""
        return self._send("looking for tabs", tabs_for)

    def take_proposal(self) -> Proposed | None:
        """Take the proposal that is shown, if there is one; then none is."""
        proposal = self._shown.proposal
        self._shown.set_proposal(None)
        return proposal

    def export(self, kind: str, name: str, *, replace: bool = False) -> bool:
        """Write a file into the job's folder, beside all other work.

        Parameters
        ----------
        kind : str
            A key of `background_jobs.EXPORTS`.
        name : str
            The file's bare name; its suffix decides the format where there are several.
        replace : bool
            Whether a file of this name may be written over.

        Returns
        -------
        bool
            Whether it has begun; it is done when `errand` says so.
        """

        def work() -> None:
            job, before, folder = self._document().job, self._part, self._folder()
            wanted = EXPORTS.get(kind)
            if wanted is None:
                raise WorkbenchError(f"there is nothing called {kind!r} to export")
            path = folder.new_file(name, wanted.suffixes, replace=replace)

            def write(tell: Tell) -> None:
                part = _fresh(job, before, tell)
                _ = part.solid
                folder.new_file(name, wanted.suffixes, replace=replace)  # still to be had?
                wanted.write(part, path)

            self._errands.put(Errand(f"writing {name}", path=path), write)

        return self._shown.attempt("file", work)

    @property
    def _part(self) -> Part | None:
        return self._shown.result.part if self._shown.result else None

    def _send(self, words: str, find: Callable[[Part], Proposed]) -> bool:
        """Have a proposal found on the side."""

        def work() -> None:
            job, before = self._document().job, self._part
            self._errands.put(Errand(words), lambda tell: find(_fresh(job, before, tell)))

        return self._shown.attempt("value", work)

    def _take(self, errand: Errand, found: Proposed | None) -> None:
        self._shown.set_errand(errand)
        if found is None:
            return
        if found.job == self._document().job:
            self._shown.set_proposal(found)
        else:
            self._shown.set_trouble(OUT_OF_DATE)


def _fresh(job: Job, before: Part | None, tell: Tell) -> Part:
    """Make a part to work on aside, with all that is known of it already."""
    part = Part(job) if before is None else before.again(job)
    part.progress = tell
    return part
