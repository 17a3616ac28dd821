"""The job's folder: the only place the workbench reads from and writes to."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from silhouette3d.drawing.read import READERS
from silhouette3d.errors import WorkbenchError
from silhouette3d.files import atomic_write

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
        """The folder of this path.

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
        """The path of a file in the folder, links followed.

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
        """Whether a path names a place in the folder."""
        try:
            self.inside(name)
        except WorkbenchError:
            return False
        return True

    def drawings(self) -> list[str]:
        """Drawings in the folder and the folders in it, as a job there would name them."""
        return self._listed(tuple(READERS))

    def jobs(self) -> list[str]:
        """Files in the folder that may be jobs."""
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
        """Where a file of a bare name is to be written.

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
        """A name like this one that no file has yet: ``job-2.toml``."""
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
