"""A job with its history and its file, as one value."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Generic, TypeVar

from silhouette3d.base.files import atomic_write, read_bytes
from silhouette3d.base.limits import JOB_MB
from silhouette3d.errors import WorkbenchError
from silhouette3d.job.model import Job, job_from, read_job
from silhouette3d.job.text import text_of, values_of
from silhouette3d.job.write import saved_bytes
from silhouette3d.workbench.folder import Folder

# --- Every state a job has been in, and where in it one is


T = TypeVar("T")


@dataclass(frozen=True)
class History(Generic[T]):
    """States in a row, one of them the present one.

    Parameters
    ----------
    states : tuple
        Oldest first; never empty.
    now : int
        Index of the present one.
    saved : int or None
        Index of the one that lies on the disk; None when none of these does.
    run : str
        A name shared by edits that count as one, such as those of one drag.
    """

    states: tuple[T, ...]
    now: int = 0
    saved: int | None = 0
    run: str = ""

    @property
    def present(self) -> T:
        """The state one is in."""
        return self.states[self.now]

    @property
    def can_undo(self) -> bool:
        """True if there is an older state."""
        return self.now > 0

    @property
    def can_redo(self) -> bool:
        """True if there is a state that was undone."""
        return self.now + 1 < len(self.states)

    @property
    def unsaved(self) -> bool:
        """True if the present state differs from what lies on the disk."""
        return self.saved is None or self.states[self.saved] != self.present

    def with_edit(self, state: T, run: str = "") -> History[T]:
        """Add one more state; what was undone is gone.

        Parameters
        ----------
        state : object
            The new present.
        run : str
            Edits in a row with the same name, not empty, are undone as one.
        """
        joins = bool(run) and run == self.run and self.now > 0 and self.saved != self.now
        kept = self.states[: self.now if joins else self.now + 1]
        saved = self.saved if self.saved is not None and self.saved < len(kept) else None
        return History((*kept, state), len(kept), saved, run)

    def undone(self) -> History[T]:
        """Go one state back; the oldest stays."""
        return replace(self, now=max(self.now - 1, 0), run="")

    def redone(self) -> History[T]:
        """Go one state ahead; the newest stays."""
        return replace(self, now=min(self.now + 1, len(self.states) - 1), run="")

    def with_saved(self) -> History[T]:
        """Note that the present state is now on the disk."""
        return replace(self, saved=self.now, run="")


# --- Job files on the disk: read with a memory of what was there, and never written over blindly


Stamp = tuple[int, int, int]
"""Of a file: when it was changed (ns), its size in bytes and its number on the disk."""


@dataclass(frozen=True)
class OnDisk:
    """A job file as it was last read or written.

    Parameters
    ----------
    path : Path
        The file.
    raw : bytes or None
        What was in it; None if it was not there.
    """

    path: Path
    raw: bytes | None = None

    @classmethod
    def of(cls, path: Path) -> OnDisk:
        """Read the file as it is now; None for one that is not there or cannot be read."""
        try:
            return cls(path, read_bytes(path, _most() + 1))
        except (OSError, ValueError):
            return cls(path)

    def job(self) -> Job:
        """Read the job that it declares.

        Raises
        ------
        JobError
            If it is not there, cannot be read or declares what cannot be.
        """
        if self.raw is None or len(self.raw) > _most():
            return read_job(self.path)  # which says why not
        text = text_of(self.raw, self.path)
        return job_from(values_of(text, self.path), path=self.path, text=text)

    @property
    def is_same(self) -> bool:
        """True if the file still holds that, or is gone: then nothing can be lost."""
        return self.of(self.path).raw in (self.raw, None)

    def written(self, job: Job) -> OnDisk:
        """Write a job into the file; its comments stay.

        Returns
        -------
        OnDisk
            The file as it then is.

        Raises
        ------
        WorkbenchError
            If another program has changed the file meanwhile. It stays as it was.
        JobError
            If the changes do not fit into its layout.
        OutputError
            If it cannot be written.
        """
        return self._written(job, self.path)

    def written_beside(self, job: Job, path: Path) -> OnDisk:
        """Write a job into another file, with the comments of this one.

        Raises
        ------
        WorkbenchError
            If there is such a file.
        """
        return self._written(job, path)

    def _written(self, job: Job, path: Path) -> OnDisk:
        new = saved_bytes(job_from(job.declared, path=path), self.raw or b"", str(path))
        known = self if path == self.path else OnDisk(path)
        with atomic_write(path) as draft:
            draft.write_bytes(new)
            if not known.is_same:  # asked at the last moment
                raise WorkbenchError(
                    "another program has changed this file since it was read",
                    where=str(path),
                    todo="load it again, or save under another name beside it",
                )
        return OnDisk(path, new)


def _most() -> int:
    """Limit the bytes of a job file that is read."""
    return JOB_MB.value * 1024**2


def stamp(path: Path) -> Stamp | None:
    """Read what tells that a file was changed; None for one that is not there."""
    try:
        found = path.stat()
    except (OSError, ValueError):
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino


# --- A job with its history and its file, as one value
#
# Invariants: the history is never empty; `disk` is what was last read from or written to the
# file; edits name only drawings inside the folder or such as the job's own file names; a file
# that another program changed is never written over.


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
    """Tell whether two jobs declare one thing, wherever their files lie."""
    return job.declared == other.declared
