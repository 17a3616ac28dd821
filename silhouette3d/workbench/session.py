"""The session: a job being worked on, and everything that happens to it.

Pages talk to this only. All of it runs on one thread, the page's event loop;
what takes long is worked out on others and comes back through `post`.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Concatenate, Literal, ParamSpec

from silhouette3d.cutting.tabs import on_path
from silhouette3d.drawing.read import read_drawing
from silhouette3d.errors import SilhouetteError, WorkbenchError
from silhouette3d.facade import Part
from silhouette3d.job import Job, KeyPath
from silhouette3d.units import MM_PER, Unit
from silhouette3d.workbench import edits
from silhouette3d.workbench.errands import EXPORTS, Errand, Errands, Tell
from silhouette3d.workbench.folder import Folder
from silhouette3d.workbench.history import History
from silhouette3d.workbench.proposals import Proposed, order_for, tabs_for
from silhouette3d.workbench.result import Kind, Result, Trouble
from silhouette3d.workbench.saving import OnDisk, Stamp, stamp
from silhouette3d.workbench.watching import Watcher
from silhouette3d.workbench.worker import Delivery, Failed, Late, Post, Worker

P = ParamSpec("P")

Event = Literal["job", "result", "trouble", "busy", "disk", "proposal", "errand"]
"""What has changed, told to listeners:

``job``
    the job, what can be undone, or whether it is saved;
``result``
    a newer or fuller result;
``trouble``
    there is trouble, or there is none any longer;
``busy``
    something takes long, or is done;
``disk``
    the job's file differs from what was read while there are unsaved edits, or no longer;
``proposal``
    there is one to accept or refuse, or none any longer;
``errand``
    an export begins, gets on or ends.
"""

Listener = Callable[[Event], None]


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
        As given.
    result : Result or None
        The last good one; it stays on screen while there is trouble.
    trouble : Trouble or None
        Why there is no newer result, or why the last request was refused.
    busy : bool
        Whether a result has been awaited for longer than a moment.
    conflict : bool
        Whether the job's file was changed by another program while there are unsaved
        edits. Then `save` refuses; `reload` or `save_beside` end it.
    proposal : OrderProposal or TabsProposal or None
        To accept or to refuse.
    errand : Errand or None
        The export or proposal being worked on, or the last one that ended.
    unit : {"mm", "in"}
        In which sizes and masses are shown; the job keeps its own.
    """

    def __init__(self, folder: str | os.PathLike[str], post: Post) -> None:
        self.folder = Folder.at(folder)
        self.result: Result | None = None
        self.trouble: Trouble | None = None
        self.busy = False
        self.conflict = False
        self.proposal: Proposed | None = None
        self.errand: Errand | None = None
        self.unit: Unit = "mm"
        self._history: History[Job] | None = None
        self._disk: OnDisk | None = None
        self._allowed: frozenset[str] = frozenset()
        self._stamps: dict[Path, Stamp | None] = {}
        self._asked = self._landed = self._failed = 0
        self._listeners: list[Listener] = []
        self._worker = Worker(self._take, post)
        self._errands = Errands(self._take_errand, post)
        self._watcher = Watcher(self.look, post)

    # Beginning and ending

    @classmethod
    def of(cls, path: str | os.PathLike[str], post: Post) -> Session:
        """A session on a job named on the command line.

        A job that cannot be read gives a session with trouble and no job, which waits
        for the file to be mended.

        Parameters
        ----------
        path : str or path-like
            A job file, or a folder that holds a ``job.toml`` or nothing yet.
        post : callable
            As for `Session`.

        Raises
        ------
        WorkbenchError
            If there is no such folder.
        """
        given = Path(path)
        file = given / "job.toml" if given.is_dir() else given
        session = cls(file.parent, post)
        if file.exists() or not given.is_dir():
            session._open(file)
        return session

    def open(self, name: str) -> bool:
        """Open a job in the folder, instead of the one at hand.

        Parameters
        ----------
        name : str
            Relative to the folder.

        Returns
        -------
        bool
            Whether it could be read; if not, there is trouble and nothing else changes.
        """
        return self._try("file", lambda: self._open(self.folder.inside(name)))

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
            self._confine(job)
            self._start(History((job,), saved=None), OnDisk(path))

        return self._try("value", work)

    def stop(self) -> None:
        """End all work."""
        self._watcher.stop()
        self._worker.stop()
        self._errands.stop()

    def subscribe(self, listener: Listener) -> Callable[[], None]:
        """Have somebody told what has changed; the function that comes back ends it."""
        self._listeners.append(listener)
        return lambda: self._listeners.remove(listener)

    # The job and its edits

    @property
    def job(self) -> Job | None:
        """The job as it is now, valid but perhaps without a part."""
        return self._history.present if self._history else None

    @property
    def path(self) -> Path | None:
        """The job's file; it need not exist yet."""
        return self._disk.path if self._disk else None

    @property
    def unsaved(self) -> bool:
        """Whether the job differs from its file."""
        return self._history is not None and self._history.unsaved

    @property
    def can_undo(self) -> bool:
        """Whether there is an edit to take back."""
        return self._history is not None and self._history.can_undo

    @property
    def can_redo(self) -> bool:
        """Whether there is an edit that was taken back."""
        return self._history is not None and self._history.can_redo

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
        return self._edit(lambda job: change(job, *args, **kwargs), run="")

    def edit_in_run(
        self,
        run: str,
        change: Callable[Concatenate[Job, P], Job],
        *args: P.args,
        **kwargs: P.kwargs,
    ) -> bool:
        """The same, undone together with edits right before it in the same run.

        Parameters
        ----------
        run : str
            A name for what goes on, such as one drag or one field being typed in.
        change : callable
            An edit.
        *args, **kwargs
            For the edit, after the job.
        """
        return self._edit(lambda job: change(job, *args, **kwargs), run=run)

    def set_value(self, key: KeyPath, value: object, run: str = "") -> bool:
        """Set a value of the job file, or take it out with None."""
        return self._edit(lambda job: edits.set_value(job, key, value), run)

    def undo(self) -> None:
        """Take back the last edit."""
        if self._history and self._history.can_undo:
            self._become(self._history.undone())

    def redo(self) -> None:
        """Take back the taking back."""
        if self._history and self._history.can_redo:
            self._become(self._history.redone())

    # Tabs placed with the mouse

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

    # Saving

    def save(self) -> bool:
        """Write the job into its file, comments kept.

        Returns
        -------
        bool
            Whether it is written. If not, there is trouble; `conflict` is set if that is
            because another program changed the file.
        """
        history, disk = self._history, self._disk
        if history is None or disk is None:
            return False
        if not disk.is_same:
            self._set_conflict(True)

        def work() -> None:
            self._disk = disk.written(history.present)
            self._history = history.with_saved()
            self._set_conflict(False)
            self._tell("job")

        return self._try("file", work)

    def save_beside(self, name: str | None = None) -> bool:
        """Write the job into a new file of its folder, and go on with that.

        Parameters
        ----------
        name : str, optional
            By default one like the job's that no file has: ``job-2.toml``.
        """
        history, disk = self._history, self._disk
        if history is None or disk is None:
            return False

        def work() -> None:
            beside = name or self.folder.free_name(disk.path.name)
            path = self.folder.new_file(beside, (".toml",))
            self._disk = disk.written_beside(history.present, path)
            self._history = history.with_saved()
            self._set_conflict(False)
            self._watch()
            self._tell("job")

        return self._try("file", work)

    def reload(self) -> bool:
        """Take the job as it is on the disk; `undo` brings unsaved edits back."""
        history, disk = self._history, self._disk
        if disk is None:
            return False

        def work() -> None:
            now = OnDisk.of(disk.path)
            job = now.job()
            self._disk = now
            self._allowed = drawings_of(job)
            self._set_conflict(False)
            if history is None:
                self._start(History((job,)), now)
            else:
                self._become(history.with_edit(job).with_saved())

        return self._try("file", work)

    # Proposals

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

    # Files

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
            path = self.folder.new_file(name, wanted.suffixes, replace=replace)
            job, before = history.present, self._part

            def write(tell: Tell) -> None:
                wanted.write(fresh(job, before, tell), path)

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

    def layers(self, drawing: str) -> list[str] | None:
        """Names of the layers of a drawing in the folder; None if it cannot be read."""
        found: list[str] = []
        path: list[Path] = []
        if self._try("file", lambda: path.append(self.folder.inside(drawing))) and self._try(
            "file", lambda: found.extend(read_drawing(path[0]).layers)
        ):
            return found
        return None

    def look(self) -> None:
        """See whether other programs have changed the job's file or its drawings."""
        if self._disk is None:
            return
        if self._stamps.get(self._disk.path) != (found := stamp(self._disk.path)):
            self._stamps[self._disk.path] = found
            self._look_at_job(self._disk, OnDisk.of(self._disk.path))
        changed = {path for path in self._drawn if self._stamps.get(path) != stamp(path)}
        if changed:
            self._work_out()

    def _look_at_job(self, known: OnDisk, now: OnDisk) -> None:
        """Take in what another program made of the job's file, if nothing is lost by it."""
        history = self._history
        if now.raw == known.raw or (now.raw is None and history is not None):
            self._set_conflict(False)
            return
        try:
            job = now.job()
        except SilhouetteError as error:  # half written, perhaps: the next look will tell
            self._set_trouble(Trouble.of(error, "file"))
            if self.unsaved:
                self._set_conflict(True)
            return
        if history is None:
            self._start(History((job,)), now)
        elif history.saved is not None and job == history.states[history.saved]:
            self._disk = now  # comments only
            self._set_conflict(False)
        elif self.unsaved and job != history.present:
            self._set_conflict(True)
        else:
            self._disk, self._allowed = now, drawings_of(job)
            self._become(history.with_edit(job).with_saved())

    # How it works inside

    @property
    def _part(self) -> Part | None:
        return self.result.part if self.result else None

    @property
    def _drawn(self) -> list[Path]:
        """The drawings of the job."""
        job = self.job
        return [job.folder / spec.drawing for spec in job.profile] if job else []

    def _open(self, path: Path) -> None:
        disk = OnDisk.of(path)
        try:
            job = disk.job()
        except SilhouetteError:
            if self._history is None:
                self._disk = disk
                self._watch()
            raise
        self._start(History((job,)), disk)

    def _start(self, history: History[Job], disk: OnDisk) -> None:
        """Begin with a job, instead of the one at hand."""
        self._disk = disk
        self._allowed = drawings_of(history.present) if disk.raw is not None else frozenset()
        self.result, self.unit = None, history.present.units
        self._set_conflict(False)
        self._become(history)

    def _become(self, history: History[Job]) -> None:
        """Be in another state, and have it worked out."""
        self._history = history
        self._set_proposal(None)
        self._tell("job")
        self._work_out()

    def _work_out(self) -> None:
        if self._history is None:
            return
        self._watch()
        self._asked = self._worker.ask(self._history.present)

    def _watch(self) -> None:
        """Know the job's files as they are now, and look after them."""
        files = [*self._drawn, *([self._disk.path] if self._disk else [])]
        self._stamps = {path: stamp(path) for path in files}
        self._watcher.watch(files)

    def _edit(self, change: Callable[[Job], Job], run: str = "") -> bool:
        history = self._history

        def work() -> None:
            if history is None:
                raise no_job()
            job = change(history.present)
            self._confine(job)
            if job != history.present:
                self._become(history.with_edit(job, run))

        return self._try("value", work)

    def _confine(self, job: Job) -> None:
        """Refuse drawings outside the folder, unless the job's own file names them."""
        for name in drawings_of(job) - self._allowed:
            self.folder.inside(name)

    def _on_path(self, job: Job, i: int, at: tuple[float, float]) -> tuple[float, float]:
        """The place on a profile's cut nearest to a point in mm, in job units."""
        part = self._part
        if part is None or not 0 <= i < len(job.names) or job.names[i] not in part.job.names:
            raise WorkbenchError("there is no outline to put it on yet", todo="wait for the part")
        u, v = on_path(part.cuts[part.job.names.index(job.names[i])], at)
        unit = MM_PER[job.units]
        return u / unit, v / unit

    def _send(self, words: str, find: Callable[[Part], Proposed]) -> bool:
        """Have a proposal found on the side."""
        history = self._history

        def work() -> None:
            if history is None:
                raise no_job()
            job, before = history.present, self._part
            self._errands.put(Errand(words), lambda tell: find(fresh(job, before, tell)))

        return self._try("value", work)

    def _take(self, delivery: Delivery) -> None:
        """Take what the worker delivers, unless something newer has come already."""
        if isinstance(delivery, Late):
            self._set_busy(delivery.sequence == self._asked and not self._is_done)
        elif delivery.sequence >= self._landed:
            self._landed = delivery.sequence
            if isinstance(delivery, Failed):
                self._failed = delivery.sequence
                self._set_trouble(delivery.trouble)
            else:
                self.result = delivery
                if delivery.sequence > self._failed:
                    self._set_trouble(None)
                self._tell("result")
            if self._is_done:
                self._set_busy(False)

    @property
    def _is_done(self) -> bool:
        """Whether nothing more will come of what was asked for last."""
        if self._failed == self._asked:
            return True
        result = self.result
        return result is not None and (result.sequence, result.step) == (self._asked, "all")

    def _take_errand(self, errand: Errand, found: Proposed | None) -> None:
        self.errand = errand
        self._tell("errand")
        if found is not None and found.job == self.job:
            self._set_proposal(found)

    def _try(self, kind: Kind, work: Callable[[], object]) -> bool:
        """Do something; what it raises on purpose becomes trouble."""
        try:
            work()
        except SilhouetteError as error:
            self._set_trouble(Trouble.of(error, kind))
            return False
        if self.trouble is not None and self.trouble.kind in ("value", "file"):
            self._set_trouble(None)
        return True

    def _set_trouble(self, trouble: Trouble | None) -> None:
        if trouble != self.trouble:
            self.trouble = trouble
            self._tell("trouble")

    def _set_busy(self, busy: bool) -> None:
        if busy != self.busy:
            self.busy = busy
            self._tell("busy")

    def _set_conflict(self, conflict: bool) -> None:
        if conflict != self.conflict:
            self.conflict = conflict
            self._tell("disk")

    def _set_proposal(self, proposal: Proposed | None) -> None:
        if proposal != self.proposal:
            self.proposal = proposal
            self._tell("proposal")

    def _tell(self, event: Event) -> None:
        for listener in tuple(self._listeners):
            listener(event)


def drawings_of(job: Job) -> frozenset[str]:
    """The drawings that a job names."""
    return frozenset(spec.drawing for spec in job.profile)


def fresh(job: Job, before: Part | None, tell: Tell) -> Part:
    """A part to work on aside, with all that is known of it already."""
    part = Part(job) if before is None else before.again(job)
    part.progress = tell
    return part


def no_job() -> WorkbenchError:
    """What is said to somebody who works on nothing."""
    return WorkbenchError("there is no job yet", todo="open one, or choose stock and drawings")
