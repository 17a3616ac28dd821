"""Files that are either written whole or not at all, and read without waiting for anybody."""

from __future__ import annotations

import errno
import os
import secrets
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from silhouette3d.errors import OutputError

__all__ = ["atomic_write", "read_bytes"]

_REASONS: Final[dict[int, tuple[str, str]]] = {
    errno.ENOSPC: ("the disk is full", "free some space, or write to another disk"),
    errno.EDQUOT: ("the disk quota is used up", "free some space, or write to another disk"),
    errno.EFBIG: ("the file would be larger than this system allows", "write to another disk"),
    errno.EROFS: ("the disk is read-only", "write to another disk"),
    errno.EACCES: ("writing in this folder is not permitted", "choose another folder"),
    errno.EPERM: ("writing in this folder is not permitted", "choose another folder"),
    errno.ENAMETOOLONG: ("the file name is too long", "choose a shorter one"),
}
"""What an operating system error means for somebody who saves a file, and the way out."""


@contextmanager
def atomic_write(path: str | os.PathLike[str]) -> Iterator[Path]:
    """Write a file so that it appears complete or stays as it was.

    The caller writes to the path it is given: a draft beside the target, with
    the same suffix. When the ``with`` block ends well, the draft is flushed
    to the disk and renamed to the target. When it fails in any way, the draft
    is removed and a file that was there before is untouched.

    A file that is replaced keeps its permissions; a new one gets those that
    the user's umask asks for. A symbolic link stays: the file it points to is
    replaced.

    Parameters
    ----------
    path : str or path-like
        The file to write.

    Yields
    ------
    pathlib.Path
        The draft. It exists and is empty.

    Raises
    ------
    OutputError
        The folder does not exist, the target is a folder or write-protected,
        or the system refuses to write: full disk, missing permission. Any
        ``OSError`` raised inside the block counts as such a refusal.
    """
    draft: Path | None = None
    try:
        target = _checked(path)
        draft = target.with_name(f".{secrets.token_hex(8)}{target.suffix}")
        os.close(os.open(draft, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666))
        yield draft
        _flush(draft)
        if target.exists():
            draft.chmod(stat.S_IMODE(target.stat().st_mode))
        os.replace(draft, target)
    except OSError as error:
        raise refused(error, "the file", os.fspath(path)) from error
    finally:
        if draft is not None:
            with suppress(OSError):  # after a good end it is no longer there
                draft.unlink()


def read_bytes(path: str | os.PathLike[str], most: int) -> bytes:
    """Read the bytes of a file, and of nothing that only looks like one.

    A pipe would wait for a writer who never comes, a device such as
    ``/dev/zero`` would never end.

    Parameters
    ----------
    path : str or path-like
        The file, or a symbolic link to it.
    most : int
        Bytes to read at the most; the file may be longer.

    Raises
    ------
    OSError
        As `open` raises, and if it is a pipe, a device or a socket.
    ValueError
        If no file can have this name.
    """
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    _refuse_others(os.stat(path))  # before it is opened: opening can do something to a device
    with os.fdopen(os.open(path, flags), "rb") as file:
        _refuse_others(os.fstat(file.fileno()))  # it may have been changed meanwhile
        return file.read(most)


def _refuse_others(status: os.stat_result) -> None:
    if stat.S_ISDIR(status.st_mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
    if not stat.S_ISREG(status.st_mode):
        raise OSError(errno.EINVAL, "this is a pipe, a device or a socket, not a file")


def refused(error: OSError, what: str, where: str) -> OutputError:
    """Word an operating system's refusal to write something for whoever asked for it."""
    reason, todo = _REASONS.get(
        error.errno or 0, (error.strerror or str(error), "choose another place")
    )
    return OutputError(f"{what} cannot be written: {reason}", where=where, todo=todo)


def _checked(path: str | os.PathLike[str]) -> Path:
    """Find the real file behind `path`, when it is one that can be written."""
    where = os.fspath(path)
    if "\0" in where:
        raise OutputError("the file name holds a null character", where=repr(where))
    target = Path(os.path.realpath(path))
    if target.is_dir():
        raise OutputError("this is a folder", where=where, todo="give the name of a file")
    if not target.parent.exists():
        raise OutputError(
            f"the folder {target.parent} does not exist",
            where=where,
            todo="create it, or choose another",
        )
    if not target.parent.is_dir():
        raise OutputError(
            f"{target.parent} is not a folder", where=where, todo="choose another place"
        )
    if target.exists():
        mode = target.stat().st_mode
        if not stat.S_ISREG(mode):
            raise OutputError("this is not a file", where=where, todo="choose another name")
        if not mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH):
            raise OutputError(
                "the file is write-protected",
                where=where,
                todo="remove the protection, or choose another name",
            )
    return target


def _flush(draft: Path) -> None:
    """Have the system put the draft's bytes on the disk before it takes the name."""
    handle = os.open(draft, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def one_line(text: str) -> str:
    """Put a text on one line, without characters that files and pages cannot hold or show."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())
