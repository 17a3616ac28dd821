"""Open a drawing file and give it to the reader of its format."""

from __future__ import annotations

import os
from importlib import import_module
from pathlib import Path
from typing import Final

from silhouette3d.base.files import read_bytes
from silhouette3d.base.limits import FILE_MB
from silhouette3d.base.units import Unit
from silhouette3d.drawing.model import Drawing
from silhouette3d.errors import DrawingError

# --- Opening a drawing: its bytes, or why they cannot be had


MB: Final = 1024**2


def read_file(path: Path, kind: str) -> bytes:
    """Read the bytes of a drawing.

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
    """Refuse a file that is, or unpacks to, more than the limit."""
    return DrawingError(
        f"the file holds more than {FILE_MB.value} MB",
        where=where,
        todo=f"leave only the outline in it, {FILE_MB.raised}",
    )


# --- One reader per format, behind a table of suffixes


READERS = {".dxf": "dxf.reader.read_dxf", ".svg": "svg.reader.read_svg"}
"""The reader of each suffix, by its module here and its name: loaded when first needed."""


def read_drawing(
    path: str | os.PathLike[str],
    *,
    tolerance: float = 0.01,
    unit: Unit | None = None,
    default: Unit = "mm",
) -> Drawing:
    """Read a drawing into millimetres.

    Parameters
    ----------
    path : str or path-like
        A file that ends in ``.dxf`` or ``.svg``.
    tolerance : float
        How far a spline's straight pieces may stray from it, in mm.
    unit : {"mm", "in"}, optional
        Overrides what the drawing states.
    default : {"mm", "in"}
        For a drawing that states no unit.

    Raises
    ------
    DrawingError
        If the file is not there, is of another kind, or cannot be read.
    """
    file = Path(path)
    reader = READERS.get(file.suffix.lower())
    if reader is None:
        raise DrawingError(
            f"drawings of kind {file.suffix or 'without a suffix'!r} are not read",
            where=str(file),
            todo="save the drawing as " + " or ".join(READERS),
        )
    module, _, name = reader.rpartition(".")
    read = getattr(import_module(f"silhouette3d.drawing.{module}"), name)
    drawing = read(file, tolerance=tolerance, unit=unit, default=default)
    assert isinstance(drawing, Drawing)
    return drawing
