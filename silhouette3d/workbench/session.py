"""A session: a document, what comes of it, and what pages show.

Pages talk to this only. All of it runs on one thread, the page's event loop; what takes
long is worked out on others and comes back through `post`. Each part keeps its own
invariant: `Document` that nothing is lost, `Computation` that nothing old is shown over
something newer, `Shown` that each change is told once, `Aside` that a file or a proposal is
that of the job it was asked for, `Uploads` that nothing strange comes into the folder. Here
they are only put together.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Concatenate, ParamSpec

from silhouette3d.base.units import MM_PER, Unit
from silhouette3d.errors import SilhouetteError, WorkbenchError
from silhouette3d.job.model import Job, KeyPath
from silhouette3d.part import Part
from silhouette3d.process.tabs import on_path
from silhouette3d.workbench import edits
from silhouette3d.workbench.aside import Aside
from silhouette3d.workbench.background_jobs import Errand, Proposed
from silhouette3d.workbench.computation import Computation
from silhouette3d.workbench.document import Document, OnDisk, Stamp, no_job, stamp
from silhouette3d.workbench.folder import Folder, Watcher, copy_sample, sample_names
from silhouette3d.workbench.lane import Post
from silhouette3d.workbench.result import Result, Trouble
from silhouette3d.workbench.shown import Event, Listener, Shown
from silhouette3d.workbench.uploads import Uploads

__all__ = ["Event", "Session"]

P = ParamSpec("P")


class Session:
    """A job being worked on.

    Parameters
    ----------
    folder : str or path-like
        Where the job, its drawings and what is exported lie: nothing else can be read
        or written.
    post : callable
        Has a function called on the thread that owns the session, and may be called from
        any thread: ``loop.call_soon_threadsafe``.

    Attributes
    ----------
    folder : Folder
        Where the job's files lie.
    shown : Shown
        What pages show.
    aside : Aside
        Exports and proposals.
    uploads : Uploads
        What pages bring into the folder, and what lies in its drawings.
    """

    def __init__(self, folder: str | os.PathLike[str], post: Post) -> None:
        self.folder = Folder.at(folder)
        self.shown = Shown()
        self._document: Document | None = None
        self._awaited: OnDisk | None = None
        self._stamps: dict[Path, Stamp | None] = {}
        self._seen: tuple[Path, Stamp | None] | None = None
        self._computation = Computation(self.shown, post)
        self._watcher = Watcher(self.look, post)
        self.aside = Aside(self.shown, self._at_hand, lambda: self.folder, post)
        self.uploads = Uploads(self.shown, lambda: self.folder)

    @classmethod
    def of(cls, path: str | os.PathLike[str], post: Post) -> Session:
        """Begin on a job named on the command line.

        A job that cannot be read gives a session with trouble and no job, which waits
        for the file to be mended.

        Parameters
        ----------
        path : str or path-like
            A job file, or a folder that holds a ``job.toml`` or nothing yet.
        post : callable
            As for the class.

        Raises
        ------
        WorkbenchError
            If there is no such folder.
        """
        given = Path(path)
        file = given / "job.toml" if given.is_dir() else given
        session = cls(file.parent, post)
        if file.exists() or not given.is_dir():
            session.shown.attempt("file", lambda: session._open(file))
        return session

    def stop(self) -> None:
        """End all work."""
        self._watcher.stop()
        self._computation.stop()
        self.aside.stop()

    # The job, and what is shown

    @property
    def job(self) -> Job | None:
        """The job as it is now, valid but perhaps without a part."""
        return self._document.job if self._document else None

    @property
    def path(self) -> Path | None:
        """The job's file; it need not exist yet."""
        if self._document:
            return self._document.path
        return self._awaited.path if self._awaited else None

    @property
    def unsaved(self) -> bool:
        """True if the job differs from its file."""
        return self._document is not None and self._document.history.unsaved

    @property
    def can_undo(self) -> bool:
        """True if there is an edit to take back."""
        return self._document is not None and self._document.history.can_undo

    @property
    def can_redo(self) -> bool:
        """True if there is an edit that was taken back."""
        return self._document is not None and self._document.history.can_redo

    @property
    def result(self) -> Result | None:
        """The last good result."""
        return self.shown.result

    @property
    def trouble(self) -> Trouble | None:
        """Reason why there is no newer result, or why the last request was refused."""
        return self.shown.trouble

    @property
    def busy(self) -> bool:
        """True if a result has been awaited for longer than a moment."""
        return self.shown.busy

    @property
    def conflict(self) -> bool:
        """True if another program changed the file while there are unsaved edits."""
        return self.shown.conflict

    @property
    def proposal(self) -> Proposed | None:
        """A proposal to accept or to refuse."""
        return self.shown.proposal

    @property
    def errand(self) -> Errand | None:
        """The export or search being worked on, or the last one that ended."""
        return self.shown.errand

    @property
    def unit(self) -> Unit:
        """The unit in which sizes and masses are shown."""
        return self.shown.unit

    @unit.setter
    def unit(self, unit: Unit) -> None:
        self.shown.set_unit(unit)

    def subscribe(self, listener: Listener) -> Callable[[], None]:
        """Have somebody told what has changed; the function that comes back ends it."""
        return self.shown.subscribe(listener)

    # Edits

    def edit(
        self,
        change: Callable[Concatenate[Job, P], Job],
        *args: P.args,
        **kwargs: P.kwargs,
    ) -> bool:
        """Edit the job: ``session.edit(edits.shift, 0, (1.5, 2.0))``.

        Returns
        -------
        bool
            Whether the job took it; if not, there is trouble and it stays as it is.
        """
        return self._edit(lambda job: change(job, *args, **kwargs))

    def edit_in_run(
        self,
        run: str,
        change: Callable[Concatenate[Job, P], Job],
        *args: P.args,
        **kwargs: P.kwargs,
    ) -> bool:
        """Edit the job, to be undone together with edits right before in the same run.

        Parameters
        ----------
        run : str
            A name for what goes on, such as one drag or one field being typed in.
        change : callable
            An edit.
        *args, **kwargs
            For the edit, after the job.
        """
        return self._edit(lambda job: change(job, *args, **kwargs), run)

    def set_value(self, key: KeyPath, value: object, run: str = "") -> bool:
        """Set a value of the job file, or take it out with None."""
        return self._edit(lambda job: edits.set_value(job, key, value), run)

    def undo(self) -> None:
        """Take back the last edit."""
        if self._document:
            self._become(self._document.undone())

    def redo(self) -> None:
        """Make the edit again that was taken back last."""
        if self._document:
            self._become(self._document.redone())

    def add_tab(self, i: int, at: tuple[float, float], width: float | None = None) -> bool:
        """Add a tab to a profile where its cut passes nearest to a point.

        Parameters
        ----------
        i : int
            Which profile.
        at : tuple of float
            In face coordinates in **mm**, as on the cards.
        width : float, optional
            In job units; by default the job's.
        """
        return self._edit(lambda job: edits.add_tab(job, i, self._on_path(job, i, at), width))

    def move_tab(self, i: int, k: int, at: tuple[float, float], run: str = "") -> bool:
        """Move a tab of the job along the outline, to where it is nearest to a point.

        Parameters
        ----------
        i, k : int
            Which profile, and which of its tabs in the job (`TabMark.index`).
        at : tuple of float
            In face coordinates in **mm**.
        run : str
            One name for the whole drag.
        """
        return self._edit(lambda job: edits.move_tab(job, i, k, self._on_path(job, i, at)), run)

    # The job's file

    def open(self, name: str) -> bool:
        """Open a job in the folder, instead of the one at hand.

        If it lies in a folder of its own there, that becomes the session's.

        Parameters
        ----------
        name : str
            Relative to the folder.

        Returns
        -------
        bool
            Whether it could be read; if not, there is trouble and nothing else changes.
        """
        return self.shown.attempt("file", lambda: self._open(self.folder.inside(name)))

    def samples(self) -> tuple[str, ...]:
        """Name the jobs that come with the program."""
        return sample_names()

    def open_sample(self, name: str) -> bool:
        """Copy a job that comes with the program into a new folder of this one, and open it."""

        def work() -> None:
            self._open(copy_sample(name, self.folder.root / self.folder.free_name(name)))

        return self.shown.attempt("file", work)

    def begin(
        self,
        name: str,
        units: Unit,
        stock: Mapping[str, object],
        profiles: Sequence[Mapping[str, object]],
    ) -> bool:
        """Begin a job of one's own in the folder; it is on the disk once it is saved.

        Parameters
        ----------
        name : str
            What it is called.
        units : {"mm", "in"}
            Of its lengths.
        stock : mapping
            Such as ``{"size": [80, 40, 50], "material": "brass C360"}``.
        profiles : sequence of mapping
            Such as ``{"view": "front", "drawing": "front.dxf", "layer": "OUTLINE"}``.
        """

        def work() -> None:
            path = self.folder.root / self.folder.free_name("job.toml")
            job = edits.first_job(name, units, stock, profiles, path)
            self._start(Document.begun(job, path, self.folder))

        return self.shown.attempt("value", work)

    def save(self) -> bool:
        """Write the job into its file, comments kept.

        Returns
        -------
        bool
            Whether it is written. If not, there is trouble; `conflict` is set if that is
            because another program changed the file.
        """
        document = self._document
        if document is None:
            return False
        done = self.shown.attempt("file", lambda: self._become(document.saved()))
        self.shown.set_conflict(not done and not document.disk.is_same)
        return done

    def save_beside(self, name: str | None = None) -> bool:
        """Write the job into a new file of its folder, and go on with that.

        Parameters
        ----------
        name : str, optional
            By default one like the job's that no file has: ``job-2.toml``.
        """
        document = self._document
        if document is None:
            return False

        def work() -> None:
            beside = name or self.folder.free_name(document.path.name)
            self._become(document.saved_beside(self.folder.new_file(beside, (".toml",))))
            self._watch()

        return self.shown.attempt("file", work)

    def reload(self) -> bool:
        """Take the job as it is on the disk; `undo` brings unsaved edits back."""
        document, awaited = self._document, self._awaited

        def work() -> None:
            if document is not None:
                self._become(document.reloaded())
            elif awaited is not None:
                self._start(Document.read(OnDisk.of(awaited.path)))

        return (document or awaited) is not None and self.shown.attempt("file", work)

    def look(self) -> None:
        """See whether other programs have changed the job's file or its drawings."""
        path = self.path
        if path is None:
            return
        if self._seen != (found := (path, stamp(path))):
            self._seen = found
            self._meet(OnDisk.of(path))
        if any(self._stamps.get(path) != stamp(path) for path in self._drawn):
            self._work_out()

    # Proposals

    def accept(self) -> bool:
        """Put what is proposed into the job: one edit."""
        proposal = self.aside.take_proposal()
        return proposal is not None and self._edit(proposal.applied)

    def refuse(self) -> None:
        """Leave the job as it is."""
        self.aside.take_proposal()

    # How the parts play together

    @property
    def _part(self) -> Part | None:
        return self.result.part if self.result else None

    @property
    def _drawn(self) -> list[Path]:
        return self._document.drawings if self._document else []

    def _at_hand(self) -> Document:
        if self._document is None:
            raise no_job()
        return self._document

    def _open(self, path: Path) -> None:
        disk = OnDisk.of(path)
        try:
            document = Document.read(disk)
        except SilhouetteError:
            if self._document is None:
                self._awaited = disk
                self._watch()
            raise
        before, self.folder = self.folder, Folder.at(path.parent)
        if self.folder != before:
            self.shown.tell("folder")
        self._start(document)

    def _start(self, document: Document) -> None:
        """Begin with a document, instead of the one at hand."""
        self._computation.forget()
        self.shown.set_unit(document.job.units)
        self._document = None
        self._become(document)

    def _become(self, document: Document) -> None:
        """Go on with a document: tell what is new of it, and work out what is."""
        before, self._document = self._document, document
        self.shown.set_conflict(document.conflict)
        is_new = before is None or document.job is not before.job
        if is_new:
            self.shown.set_proposal(None)
        if is_new or (before and document.history is not before.history):
            self.shown.tell("job")
        if is_new:
            self._work_out()

    def _edit(self, change: Callable[[Job], Job], run: str = "") -> bool:
        def work() -> None:
            self._become(self._at_hand().edited(change, self.folder, run))

        return self.shown.attempt("value", work)

    def _work_out(self) -> None:
        if self._document is not None:
            self._watch()
            self._computation.ask(self._document.job)

    def _watch(self) -> None:
        """Know the drawings as they are now, and look after them and the job's file."""
        self._stamps = {path: stamp(path) for path in self._drawn}
        self._watcher.watch([*self._drawn, *([self.path] if self.path else [])])

    def _meet(self, now: OnDisk) -> None:
        """Take in what another program made of the job's file, if nothing is lost by it."""
        document = self._document
        try:
            after = Document.read(now) if document is None else document.met(now)
        except SilhouetteError as error:  # half written, perhaps: the next look will tell
            self.shown.set_trouble(Trouble.of(error, "file"))
            if document is not None and document.history.unsaved:
                self._become(document.in_conflict())
            return
        self.shown.forget_trouble("file")
        if document is None:
            self._start(after)
        else:
            self._become(after)

    def _on_path(self, job: Job, i: int, at: tuple[float, float]) -> tuple[float, float]:
        """Find the place on a profile's cut nearest to a point in mm, in job units."""
        part = self._part
        if part is None or not 0 <= i < len(job.names) or job.names[i] not in part.job.names:
            raise WorkbenchError("there is no outline to put it on yet", todo="wait for the part")
        u, v = on_path(part.cuts[part.job.names.index(job.names[i])], at)
        unit = MM_PER[job.units]
        return u / unit, v / unit
