"""The job's folder: the only place the workbench reads, writes and watches."""

from __future__ import annotations

import logging
import os
import shutil
import threading
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from silhouette3d.base.files import atomic_write
from silhouette3d.drawing.read import READERS
from silhouette3d.errors import OutputError, WorkbenchError
from silhouette3d.job.model import read_job
from silhouette3d.job.starter import write_starter
from silhouette3d.workbench.lane import Post

# --- Jobs that come with the program, copied before they are opened


STARTER: Final = "bollard"
"""The job that `silhouette3d new` writes; it is always there."""

_PACKAGE: Final = Path(__file__).resolve().parents[1]
_SHELVES: Final = (_PACKAGE / "samples", _PACKAGE.parent / "samples")
"""Where samples lie: in an installed package, and in a checkout."""


def sample_names() -> tuple[str, ...]:
    """List the starter's samples, then those that are installed."""
    return STARTER, *(folder.name for folder in _folders())


def copy_sample(name: str, folder: Path) -> Path:
    """Copy a sample's job and drawings into a new folder.

    Returns
    -------
    Path
        The job file.

    Raises
    ------
    WorkbenchError
        If there is no such sample.
    OutputError
        If the folder is there already or cannot be written.
    """
    if name == STARTER:
        return write_starter(folder)
    source = next((one for one in _folders() if one.name == name), None)
    if source is None:
        raise WorkbenchError(
            "there is no such sample",
            where=repr(name),
            todo="choose one of " + ", ".join(sample_names()),
        )
    job = source / "job.toml"
    files = [job, *(source / spec.drawing for spec in read_job(job).profile)]
    try:
        folder.mkdir()
        for file in dict.fromkeys(files):
            shutil.copyfile(file, folder / file.name)
    except OSError as error:
        raise OutputError(
            f"the sample cannot be copied: {error.strerror}", where=str(folder)
        ) from error
    return folder / job.name


def _folders() -> Iterator[Path]:
    found: dict[str, Path] = {}
    for shelf in _SHELVES:
        for job in sorted(shelf.glob("*/job.toml")):
            found.setdefault(job.parent.name, job.parent)
    return iter(found.values())


# --- The job's folder: the only place the workbench reads from and writes to


MOST_BYTES: Final = 20_000_000
"""Of one upload. Drawings of outlines are far smaller; ten of these fit into any memory."""

MOST_LISTED: Final = 500
"""Files that a list shows."""

LONGEST_NAME: Final = 200
"""Bytes of a file's name: what every usual file system takes, with room for a draft's."""

_RESERVED: Final = '<>:"/\\|?*'
"""Characters that no file name has on one system or another."""


@dataclass(frozen=True)
class Folder:
    """A folder, and the rule that nothing outside it is touched.

    Parameters
    ----------
    root : Path
        Absolute, symbolic links resolved; made with `Folder.at`.
    """

    root: Path

    @classmethod
    def at(cls, path: str | os.PathLike[str]) -> Folder:
        """Open the folder of this path.

        Raises
        ------
        WorkbenchError
            If it is no folder.
        """
        try:
            root = Path(path).resolve()
            there = root.is_dir()
        except (OSError, ValueError):
            root, there = Path(), False
        if not there:
            raise WorkbenchError(
                "there is no such folder", where=repr(os.fspath(path)), todo="choose one that is"
            )
        return cls(root)

    def inside(self, name: str) -> Path:
        """Resolve the path of a file in the folder, links followed.

        Parameters
        ----------
        name : str
            Relative to the folder; the file need not exist.

        Raises
        ------
        WorkbenchError
            If it leads out of the folder, by ``..``, as an absolute path or over a link,
            if it is hidden, or is no name at all.
        """
        if "\0" in name or not name.strip():
            raise WorkbenchError("this is no name of a file", where=repr(name[:80]))
        try:
            path = (self.root / name).resolve()
            os.stat(path)
        except FileNotFoundError:
            pass  # it may be a file to be
        except (OSError, RuntimeError, ValueError):  # too long, a circle of links, half characters
            raise WorkbenchError("no file can have this name", where=repr(name[:80])) from None
        if not path.is_relative_to(self.root) or path == self.root:
            raise WorkbenchError(
                "this file lies outside the job's folder",
                where=repr(name),
                todo=f"copy it into {self.root} first",
            )
        if any(part.startswith(".") for part in path.relative_to(self.root).parts):
            raise WorkbenchError(
                "hidden files are left alone", where=repr(name[:80]), todo="choose another"
            )
        return path

    def holds(self, name: str) -> bool:
        """Tell whether a path names a place in the folder."""
        try:
            self.inside(name)
        except WorkbenchError:
            return False
        return True

    def drawings(self) -> list[str]:
        """List drawings in the folder and the folders in it, as a job there would name them."""
        return self._listed(tuple(READERS))

    def jobs(self) -> list[str]:
        """List files in the folder that may be jobs."""
        return self._listed((".toml",))

    def _listed(self, suffixes: tuple[str, ...]) -> list[str]:
        found: list[str] = []
        for at, folders, files in os.walk(self.root):
            folders[:] = sorted(name for name in folders if not name.startswith("."))
            names = [name for name in sorted(files) if name.lower().endswith(suffixes)]
            paths = [Path(at, name).relative_to(self.root).as_posix() for name in names]
            found += [p for p in paths if not Path(p).name.startswith(".") and self.holds(p)]
            if len(found) >= MOST_LISTED:
                break
        return found[:MOST_LISTED]

    def store(
        self,
        name: str,
        data: bytes,
        *,
        suffixes: tuple[str, ...] = tuple(READERS),
        replace: bool = False,
    ) -> str:
        """Write a file that was handed over into the folder.

        Parameters
        ----------
        name : str
            Its bare name.
        data : bytes
            What is in it.
        suffixes : tuple of str
            One of which it must have; by default those of drawings.
        replace : bool
            Whether a file of this name may be written over.

        Returns
        -------
        str
            Its path, as a job in the folder names it.

        Raises
        ------
        WorkbenchError
            If it is too large, of another kind, has a name that is not safe, or is there
            already.
        OutputError
            If it cannot be written.
        """
        check_size(len(data), name)
        path = self.new_file(name, suffixes, replace=replace)
        with atomic_write(path) as draft:
            draft.write_bytes(data)
        return path.relative_to(self.root).as_posix()

    def new_file(self, name: str, suffixes: tuple[str, ...], *, replace: bool = False) -> Path:
        """Choose where a file of a bare name is to be written.

        Raises
        ------
        WorkbenchError
            If the name is not safe, of another kind, or there is such a file already.
        """
        check_name(name)
        if not name.lower().endswith(suffixes):
            raise WorkbenchError(
                "files of this kind are not taken",
                where=repr(name),
                todo="give it one of the endings " + ", ".join(suffixes),
            )
        path = self.inside(name)
        if os.path.lexists(self.root / name) and not replace:
            raise WorkbenchError(
                "there is such a file already",
                where=name,
                todo="choose another name, or say that it may be replaced",
            )
        return path

    def free_name(self, name: str) -> str:
        """Find a name like this one that no file has yet: ``job-2.toml``."""
        path = Path(name)
        names = (f"{path.stem}-{n}{path.suffix}" for n in range(2, 100_000))
        return next(one for one in (name, *names) if not os.path.lexists(self.root / one))


def check_size(count: int, name: str) -> None:
    """Refuse an upload that is too large, before it is read if its size is told.

    Raises
    ------
    WorkbenchError
        If it has more than `MOST_BYTES`.
    """
    if count > MOST_BYTES:
        raise WorkbenchError(
            f"the file has {count / 1e6:.1f} MB; at most {MOST_BYTES / 1e6:g} MB are taken",
            where=repr(name[:LONGEST_NAME]),
            todo="copy it into the job's folder yourself",
        )


def check_name(name: str) -> None:
    """Refuse a bare name that is not safe on every system.

    Raises
    ------
    WorkbenchError
        If it is empty, hidden, too long, holds a separator or a control character.
    """
    reason = ""
    if not name.strip() or name.strip(". ") == "":
        reason = "it is empty"
    elif name.startswith("."):
        reason = "it begins with a dot"
    elif name != name.strip() or name.endswith("."):
        reason = "it begins or ends with a blank or a dot"
    elif any(ord(c) < 32 or ord(c) == 127 for c in name):
        reason = "it holds a control character"
    elif any(c in _RESERVED for c in name):
        reason = "it holds one of " + " ".join(_RESERVED)
    elif len(name.encode("utf-8", "replace")) > LONGEST_NAME:
        reason = f"it has more than {LONGEST_NAME} bytes"
    if reason:
        raise WorkbenchError(
            f"this name is not taken: {reason}",
            where=repr(name[:80]),
            todo="use letters, digits, - and _",
        )


# --- Looking after files that other programs may change


log = logging.getLogger(__name__)

STEP: Final = 50
"""Milliseconds of quiet after which changes are told."""

LONGEST: Final = 300
"""Milliseconds after which they are told even if more come in."""

ROUND: Final = 1000
"""Milliseconds after which one looks anyway: some network drives tell nothing."""


class Watcher:
    """Has somebody look when something happens in the folders of some files.

    Parameters
    ----------
    look : callable
        Called on the thread that `post` leads to; also once a second and right after
        the start, so that it must be quick when nothing has changed.
    post : callable
        Takes a function and has it called there.
    """

    def __init__(self, look: Callable[[], None], post: Post) -> None:
        self._look, self._post = look, post
        self._folders: frozenset[Path] = frozenset()
        self._end: threading.Event | None = None
        self._thread: threading.Thread | None = None

    def watch(self, files: Iterable[Path]) -> None:
        """Look after these files from now on, and no others.

        They need not exist: it is their folders that are watched.
        """
        folders = frozenset(path.parent for path in files if path.parent.is_dir())
        if folders == self._folders:
            return
        self.stop()
        self._folders = folders
        if not folders:
            return
        self._end = threading.Event()
        self._thread = threading.Thread(
            target=self._run, args=(folders, self._end), name="workbench files", daemon=True
        )
        self._thread.start()

    def stop(self) -> None:
        """Look after nothing any longer."""
        if self._end is not None and self._thread is not None:
            self._end.set()
            self._thread.join()
        self._end = self._thread = None
        self._folders = frozenset()

    def _run(self, folders: Iterable[Path], end: threading.Event) -> None:
        from watchfiles import watch

        self._post(self._look)
        try:
            for _ in watch(
                *folders,
                watch_filter=None,
                debounce=LONGEST,
                step=STEP,
                stop_event=end,
                rust_timeout=ROUND,
                yield_on_timeout=True,
                raise_interrupt=False,
                recursive=False,
            ):
                if not end.is_set():
                    self._post(self._look)
        except OSError as error:  # the system has no more watches to give, or a folder is gone
            log.warning("files are looked at once a second: %s", error)
            while not end.wait(ROUND / 1000):
                self._post(self._look)
