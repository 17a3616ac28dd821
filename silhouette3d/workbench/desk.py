"""The job at hand: what it is now, what it was, and what comes of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Concatenate, ParamSpec

from silhouette3d.cutting.tabs import on_path
from silhouette3d.errors import WorkbenchError
from silhouette3d.facade import Part
from silhouette3d.job import Job, KeyPath
from silhouette3d.units import MM_PER
from silhouette3d.workbench import edits
from silhouette3d.workbench.folder import Folder
from silhouette3d.workbench.history import History
from silhouette3d.workbench.saving import OnDisk, Stamp, stamp
from silhouette3d.workbench.state import State
from silhouette3d.workbench.watching import Watcher
from silhouette3d.workbench.worker import Delivery, Failed, Late, Post, Worker

P = ParamSpec("P")


class Desk(State):
    """A job with its history, being worked out.

    Parameters
    ----------
    folder : Folder
        Where its drawings lie.
    post : callable
        Has a function called on the thread that owns the desk.
    look : callable
        Looks at the files of the job.
    """

    def __init__(self, folder: Folder, post: Post, look: Callable[[], None]) -> None:
        super().__init__()
        self.folder = folder
        self._history: History[Job] | None = None
        self._disk: OnDisk | None = None
        self._allowed: frozenset[str] = frozenset()
        self._stamps: dict[Path, Stamp | None] = {}
        self._asked = self._landed = self._failed = 0
        self._worker = Worker(self._take, post)
        self._watcher = Watcher(look, post)

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

    @property
    def _part(self) -> Part | None:
        return self.result.part if self.result else None

    @property
    def _drawn(self) -> list[Path]:
        """The drawings of the job."""
        job = self.job
        return [job.folder / spec.drawing for spec in job.profile] if job else []

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
        """Know the drawings as they are now, and look after them and the job's file."""
        self._stamps = {path: stamp(path) for path in self._drawn}
        self._watcher.watch([*self._drawn, *([self._disk.path] if self._disk else [])])

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
                self._forget_trouble("part", "cuts", "inside")
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


def drawings_of(job: Job) -> frozenset[str]:
    """The drawings that a job names."""
    return frozenset(spec.drawing for spec in job.profile)


def no_job() -> WorkbenchError:
    """What is said to somebody who works on nothing."""
    return WorkbenchError("there is no job yet", todo="open one, or choose stock and drawings")
