"""One reader per format, behind a table of suffixes."""

from __future__ import annotations

import os
from importlib import import_module
from pathlib import Path

from silhouette3d.drawing.drawing import Drawing
from silhouette3d.errors import DrawingError
from silhouette3d.units import Unit

READERS = {".dxf": "dxf.read_dxf", ".svg": "svg.read_svg"}
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
    module, name = reader.split(".")
    read = getattr(import_module(f"silhouette3d.drawing.{module}"), name)
    drawing = read(file, tolerance=tolerance, unit=unit, default=default)
    assert isinstance(drawing, Drawing)
    return drawing
