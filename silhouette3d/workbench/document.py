"""A job with its history and its file, as one value.

Invariants: the history is never empty; `disk` is what was last read from or written to the
file; edits name only drawings inside the folder or such as the job's own file names; a file
that another program changed is never written over.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from silhouette3d.errors import WorkbenchError
from silhouette3d.job import Job
from silhouette3d.workbench.folder import Folder
from silhouette3d.workbench.history import History
from silhouette3d.workbench.saving import OnDisk

__all__ = ["Document", "no_job"]


@dataclass(frozen=True)
class Document:
    """A job being edited. Each method that changes something gives a new document.

    Parameters
    ----------
    history : History of Job
        Every state of the job.
    disk : OnDisk
        Its file, which need not exist yet.
    named : frozenset of str
        Drawings that the file itself names, and that may so lie anywhere.
    conflict : bool
        Whether another program changed the file while there are unsaved edits.
    """

    history: History[Job]
    disk: OnDisk
    named: frozenset[str] = frozenset()
    conflict: bool = False

    @classmethod
    def read(cls, disk: OnDisk) -> Document:
        """Take the job of a file.

        Raises
        ------
        JobError
            If it is not there, cannot be read or declares what cannot be.
        """
        job = disk.job()
        return cls(History((job,)), disk, _drawings(job))

    @classmethod
    def begun(cls, job: Job, path: Path, folder: Folder) -> Document:
        """Begin with a job that is on no disk yet.

        Raises
        ------
        WorkbenchError
            If it names a drawing outside the folder.
        """
        document = cls(History((job,), saved=None), OnDisk(path))
        document._confine(job, folder)
        return document

    @property
    def job(self) -> Job:
        """The job as it is now, valid but perhaps without a part."""
        return self.history.present

    @property
    def path(self) -> Path:
        """The job's file; it need not exist yet."""
        return self.disk.path

    @property
    def drawings(self) -> list[Path]:
        """Paths of the drawings that the job names."""
        return [self.job.folder / spec.drawing for spec in self.job.profile]

    def edited(self, change: Callable[[Job], Job], folder: Folder, run: str = "") -> Document:
        """Edit the job; the same document if that changes nothing.

        Parameters
        ----------
        change : callable
            From the job as it is to the job as it is to be.
        folder : Folder
            Where drawings may lie that the file does not name.
        run : str
            Edits in a row with the same name, not empty, are undone as one.

        Raises
        ------
        SilhouetteError
            If the job does not take it.
        """
        job = change(self.job)
        self._confine(job, folder)
        if job == self.job:
            return self
        return replace(self, history=self.history.with_edit(job, run))

    def undone(self) -> Document:
        """Take back the last edit, if there is one."""
        return replace(self, history=self.history.undone()) if self.history.can_undo else self

    def redone(self) -> Document:
        """Make the edit again that was taken back, if there is one."""
        return replace(self, history=self.history.redone()) if self.history.can_redo else self

    def saved(self) -> Document:
        """Write the job into its file, comments kept.

        Raises
        ------
        SilhouetteError
            If another program has changed the file, or it cannot be written.
        """
        return self._written(self.disk.written(self.job))

    def saved_beside(self, path: Path) -> Document:
        """Write the job into another file, and go on with that.

        Raises
        ------
        SilhouetteError
            If there is such a file, or it cannot be written.
        """
        return self._written(self.disk.written_beside(self.job, path))

    def reloaded(self) -> Document:
        """Take the job as it is on the disk; undoing brings unsaved edits back.

        Raises
        ------
        JobError
            If it cannot be read or declares what cannot be.
        """
        return self._taken(OnDisk.of(self.path))

    def met(self, now: OnDisk) -> Document:
        """Take in what another program made of the file, if nothing is lost by it.

        Raises
        ------
        JobError
            If it cannot be read now; half written, perhaps.
        """
        if now.raw in (self.disk.raw, None):
            return replace(self, conflict=False)
        job, history = now.job(), self.history
        if history.saved is not None and _same(job, history.states[history.saved]):
            return replace(self, disk=now, conflict=False)  # comments only
        if history.unsaved and not _same(job, history.present):
            return replace(self, conflict=True)
        return self._taken(now)

    def in_conflict(self) -> Document:
        """Mark the file as changed by another program while there are unsaved edits."""
        return replace(self, conflict=True)

    def _written(self, disk: OnDisk) -> Document:
        return replace(self, history=self.history.with_saved(), disk=disk, conflict=False)

    def _taken(self, now: OnDisk) -> Document:
        job = now.job()
        return Document(self.history.with_edit(job).with_saved(), now, _drawings(job))

    def _confine(self, job: Job, folder: Folder) -> None:
        for name in _drawings(job) - self.named:
            folder.inside(name)


def no_job() -> WorkbenchError:
    """Refuse to work on nothing."""
    return WorkbenchError("there is no job yet", todo="open one, or choose stock and drawings")


def _drawings(job: Job) -> frozenset[str]:
    return frozenset(spec.drawing for spec in job.profile)


def _same(job: Job, other: Job) -> bool:
    """Whether two jobs declare the same, wherever their files lie."""
    return job.declared == other.declared
