"""A job and its file: opened, begun, saved, loaded again, never lost silently."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Self

from silhouette3d.errors import SilhouetteError
from silhouette3d.job import Job
from silhouette3d.units import Unit
from silhouette3d.workbench import edits
from silhouette3d.workbench.desk import Desk, drawings_of
from silhouette3d.workbench.folder import Folder
from silhouette3d.workbench.history import History
from silhouette3d.workbench.result import Trouble
from silhouette3d.workbench.samples import copy_sample, sample_names
from silhouette3d.workbench.saving import OnDisk, Stamp, stamp
from silhouette3d.workbench.worker import Post


class Filed(Desk):
    """A job with its file."""

    def __init__(self, folder: str | os.PathLike[str], post: Post) -> None:
        super().__init__(Folder.at(folder), post, self.look)
        self._seen: tuple[Path, Stamp | None] | None = None

    @classmethod
    def of(cls, path: str | os.PathLike[str], post: Post) -> Self:
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
            session._try("file", lambda: session._open(file))
        return session

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
        return self._try("file", lambda: self._open(self.folder.inside(name)))

    def samples(self) -> tuple[str, ...]:
        """Names of the jobs that come with the program."""
        return sample_names()

    def open_sample(self, name: str) -> bool:
        """Copy a job that comes with the program into a new folder of this one, and open it."""

        def work() -> None:
            self._open(copy_sample(name, self.folder.root / self.folder.free_name(name)))

        return self._try("file", work)

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

        def work() -> None:
            self._disk = disk.written(history.present)
            self._history = history.with_saved()
            self._set_conflict(False)
            self._tell("job")

        done = self._try("file", work)
        self._set_conflict(not disk.is_same if not done else False)
        return done

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

    def look(self) -> None:
        """See whether other programs have changed the job's file or its drawings."""
        if self._disk is None:
            return
        if self._seen != (found := (self._disk.path, stamp(self._disk.path))):
            self._seen = found
            self._look_at_job(self._disk, OnDisk.of(self._disk.path))
        if any(self._stamps.get(path) != stamp(path) for path in self._drawn):
            self._work_out()

    def _look_at_job(self, known: OnDisk, now: OnDisk) -> None:
        """Take in what another program made of the job's file, if nothing is lost by it."""
        history = self._history
        if now.raw == known.raw or (now.raw is None and history is not None):
            self._set_conflict(False)
            self._forget_trouble("file")
            return
        try:
            job = now.job()
        except SilhouetteError as error:  # half written, perhaps: the next look will tell
            self._set_trouble(Trouble.of(error, "file"))
            if self.unsaved:
                self._set_conflict(True)
            return
        self._forget_trouble("file")
        if history is None:
            self._start(History((job,)), now)
        elif history.saved is not None and _same(job, history.states[history.saved]):
            self._disk = now  # comments only
            self._set_conflict(False)
        elif self.unsaved and not _same(job, history.present):
            self._set_conflict(True)
        else:
            self._disk, self._allowed = now, drawings_of(job)
            self._become(history.with_edit(job).with_saved())

    def _open(self, path: Path) -> None:
        disk = OnDisk.of(path)
        try:
            job = disk.job()
        except SilhouetteError:
            if self._history is None:
                self._disk = disk
                self._watch()
            raise
        self.folder = Folder.at(path.parent)
        self._start(History((job,)), disk)


def _same(job: Job, other: Job) -> bool:
    """Whether two jobs declare the same, wherever their files lie."""
    return job.declared == other.declared
