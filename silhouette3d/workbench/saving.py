"""Job files on the disk: read with a memory of what was there, and never written over blindly."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from silhouette3d.errors import WorkbenchError
from silhouette3d.files import atomic_write, read_bytes
from silhouette3d.job import Job, job_from, read_job
from silhouette3d.job_save import saved_bytes
from silhouette3d.job_text import text_of, values_of
from silhouette3d.limits import JOB_MB

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
        """The file as it is now; None for one that is not there or cannot be read."""
        try:
            return cls(path, read_bytes(path, _most() + 1))
        except (OSError, ValueError):
            return cls(path)

    def job(self) -> Job:
        """The job that it declares.

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
        """Whether the file still holds that, or is gone: then nothing can be lost."""
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
    """Bytes of the largest job file that is read."""
    return JOB_MB.value * 1024**2


def stamp(path: Path) -> Stamp | None:
    """What tells that a file was changed; None for one that is not there."""
    try:
        found = path.stat()
    except (OSError, ValueError):
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino
