"""Opening a drawing: its bytes, or why they cannot be had."""

from __future__ import annotations

from pathlib import Path

from silhouette3d.errors import DrawingError


def read_file(path: Path, kind: str, most: int = -1) -> bytes:
    """The bytes of a drawing.

    Parameters
    ----------
    path : Path
        The file.
    kind : str
        What it should be, for messages: ``"DXF"``.
    most : int
        Bytes to read at the most; all by default.

    Raises
    ------
    DrawingError
        If there is no such file, it is a directory, or may not be read.
    """
    where = str(path)
    try:
        with path.open("rb") as file:
            return file.read(most)
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
            todo="check that you may read it",
        ) from None
