"""Opening a drawing: its bytes, or why they cannot be had."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from silhouette3d.errors import DrawingError
from silhouette3d.files import read_bytes
from silhouette3d.limits import FILE_MB

__all__ = ["MB", "read_file", "too_large"]

MB: Final = 1024**2


def read_file(path: Path, kind: str) -> bytes:
    """The bytes of a drawing.

    Parameters
    ----------
    path : Path
        The file.
    kind : str
        What it should be, for messages: ``"DXF"``.

    Raises
    ------
    DrawingError
        If there is no such file, it is a directory or no file at all, may not be
        read, or is larger than the limit.
    """
    where = str(path)
    try:
        most = FILE_MB.value * MB
        data = read_bytes(path, most + 1)
    except FileNotFoundError:
        raise DrawingError(
            "there is no such file", where=where, todo="check the name and the directory"
        ) from None
    except IsADirectoryError:
        raise DrawingError(
            "this is a directory", where=where, todo=f"give the {kind} file in it"
        ) from None
    except OSError as error:
        raise DrawingError(
            f"the file cannot be opened ({error.strerror or error})",
            where=where,
            todo="check what it is, and that you may read it",
        ) from None
    if len(data) > most:
        raise too_large(where)
    return data


def too_large(where: str) -> DrawingError:
    """The refusal of a file that is, or unpacks to, more than the limit."""
    return DrawingError(
        f"the file holds more than {FILE_MB.value} MB",
        where=where,
        todo=f"leave only the outline in it, {FILE_MB.raised}",
    )
