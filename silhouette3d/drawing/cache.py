"""Drawings already read, kept as long as their files stay the same."""

from __future__ import annotations

import os
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

from silhouette3d.base.units import Unit
from silhouette3d.drawing.choice import Choice
from silhouette3d.drawing.model import Drawing
from silhouette3d.drawing.outline.outline import AS_DRAWN, Outline, outline_of
from silhouette3d.drawing.read import read_drawing
from silhouette3d.drawing.text import TextAs, left_out, lettering_of

MOST: Final = 100
"""Drawings on the shelf; the one that was put there first goes first."""


@dataclass(frozen=True, eq=False)
class Sheet:
    """A drawing, and the outlines already taken from it. Two are the same only if they are one.

    Parameters
    ----------
    drawing : Drawing
        As read.
    given : Outline, optional
        The one outline of a drawing that is in memory only.
    """

    drawing: Drawing
    given: Outline | None = None
    _taken: dict[object, Outline] = field(default_factory=dict)

    def outline(
        self,
        choice: Choice = AS_DRAWN,
        *,
        tolerance: float = 0.01,
        text: TextAs | None = None,
    ) -> Outline:
        """Take an outline as `outline_of` does, of the drawing's text too where that is asked for.

        Letters whose islands would fall out are named in its notes.
        """
        if self.given is not None:
            return self.given
        key = (choice, tolerance, text)
        if key not in self._taken:
            if text is None:
                self._taken[key] = outline_of(left_out(self.drawing), choice, tolerance=tolerance)
            else:
                lettering = lettering_of(self.drawing, choice)
                found = outline_of(lettering.drawing, choice, tolerance=tolerance)
                fallen = lettering.fallen(found.polygons, tolerance)
                self._taken[key] = replace(found, notes=(*found.notes, *fallen))
        return self._taken[key]


class Shelf:
    """Sheets by file and by how they were read."""

    def __init__(self) -> None:
        self._sheets: dict[object, tuple[object, Sheet]] = {}

    def sheet(
        self, path: Path, *, tolerance: float = 0.01, unit: Unit | None = None, default: Unit = "mm"
    ) -> Sheet:
        """Read the drawing of a file, anew only if the file has changed.

        Takes and raises what `read_drawing` does.
        """
        key, state = (path, tolerance, unit, default), _state(path)  # before it is read
        kept = self._sheets.get(key)
        if kept is not None and kept[0] == state:
            return kept[1]
        sheet = Sheet(read_drawing(path, tolerance=tolerance, unit=unit, default=default))
        if state is not None:
            self._sheets[key] = state, sheet
            for old in list(self._sheets)[:-MOST]:
                self._sheets.pop(old, None)
        return sheet


def _state(path: Path) -> object:
    """Read what changes when a file is written: time in ns, size, its number on the disk."""
    try:
        found = os.stat(path)
    except (OSError, ValueError):
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino
