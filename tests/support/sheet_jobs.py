"""Small jobs for the setup sheets, and two independent readers of what comes out."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import pypdf
import pypdfium2
import shapely

from silhouette3d.base.quantities import Units
from silhouette3d.documents.setup_sheets.write import write_sheets
from silhouette3d.part import Part, load

DAY = date(2026, 3, 9)

FRONT = "M3 3H37V12H25V27H15V12H3Z M18 5H22V9H18Z"
RIGHT = "M2 3H18V25L16 27H4L2 25Z"
TOP = "M3 2H37V18H3Z"
"""A bollard on its foot, 40 × 20 × 30, with a hole through the foot; y runs down."""


def svg(width: float, height: float, path: str) -> str:
    """A drawing in mm, its y turned up."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}"><g transform="matrix(1 0 0 -1 0 {height})">'
        f'<path fill-rule="evenodd" d="{path}"/></g></svg>'
    )


def profile(view: str, drawing: str, more: str = "") -> str:
    return (
        f'[[profile]]\nview = {view}\ndrawing = "{drawing}"\nunits = "mm"\ndatum = [0, 0]\n{more}\n'
    )


def tab(at: tuple[float, float], width: float, factor: float) -> str:
    u, v = (value / factor for value in at)
    return f"[[profile.tab]]\nat = [{u!r}, {v!r}]\nwidth = {width / factor!r}\n"


def write_job(
    folder: Path,
    profiles: Sequence[str],
    *,
    units: str = "mm",
    name: str = "Bollard",
    material: str = "brass C360",
    more: str = "",
) -> Path:
    """A job on a block of 40 × 20 × 30 mm, and the drawings of a bollard."""
    folder.mkdir(parents=True, exist_ok=True)
    factor = 25.4 if units == "in" else 1.0
    size = ", ".join(repr(value / factor) for value in (40.0, 20.0, 30.0))
    head = f"name = {_quoted(name)}\nunits = '{units}'\n[stock]\nsize = [{size}]\n"
    head += f'material = "{material}"\n[cutting]\nkerf = {1.0 / factor!r}\n{more}\n'
    (folder / "job.toml").write_text(head + "\n".join(profiles), encoding="utf-8")
    for file, (w, h), path in (
        ("front.svg", (40, 30), FRONT),
        ("right.svg", (20, 30), RIGHT),
        ("top.svg", (40, 20), TOP),
    ):
        (folder / file).write_text(svg(w, h, path), encoding="utf-8")
    return folder


def bollard(folder: Path, units: str = "mm", **more: Any) -> Path:
    """Three cuts; tabs on the left and right of the foot hold until the last."""
    factor = 25.4 if units == "in" else 1.0
    front = profile('"front"', "front.svg", tab((3, 6), 2.0, factor) + tab((37, 6), 2.0, factor))
    right = profile('"right"', "right.svg", tab((2, 6), 2.0, factor) + tab((18, 6), 2.0, factor))
    return write_job(folder, [front, right, profile('"top"', "top.svg")], units=units, **more)


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else f"\\U{ord(c):08X}" for c in escaped) + '"'


@dataclass(frozen=True)
class Letter:
    """A character on a page: points from the lower left."""

    sign: str
    box: tuple[float, float, float, float]


@dataclass(frozen=True)
class Sheets:
    """A PDF that was read back."""

    path: Path

    @cached_property
    def reader(self) -> pypdf.PdfReader:
        return pypdf.PdfReader(self.path)

    @cached_property
    def pages(self) -> list[str]:
        """The text of each page, all white space one space, without break marks."""
        return [flat(page.extract_text()) for page in self.reader.pages]

    @property
    def text(self) -> str:
        return " ".join(self.pages)

    def letters(self) -> Iterator[tuple[tuple[float, float], list[Letter]]]:
        """For each page its size and every character that shows, in points."""
        document = pypdfium2.PdfDocument(self.path)
        try:
            for page in document:
                text = page.get_textpage()
                signs = [text.get_text_range(i, 1) for i in range(text.count_chars())]
                boxes = [text.get_charbox(i) for i in range(len(signs))]
                shown = zip(signs, boxes, strict=True)
                yield (
                    page.get_size(),
                    [Letter(s, b) for s, b in shown if s.strip(" \r\n\u200b") and b[2] > b[0]],
                )
        finally:
            document.close()


def flat(text: str) -> str:
    return re.sub(r"\s+", " ", text.replace("\u200b", "")).strip()


def made(job: Path | Part, folder: Path, paper: str = "A4", units: Units | None = "both") -> Sheets:
    """The sheets of a job, written in both units and to be read."""
    part = load(job) if isinstance(job, Path) else job
    path = folder / "sheets.pdf"
    write_sheets(part.results, path, paper, DAY, part.scale_in(units))
    return Sheets(path)


def overprinted(letters: Sequence[Letter]) -> list[tuple[str, str]]:
    """Pairs of characters that lie on one another by more than a third of the smaller one."""
    boxes = np.array([shapely.box(*letter.box) for letter in letters])
    first, second = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    first, second = first[first < second], second[first < second]
    common = shapely.area(shapely.intersection(boxes[first], boxes[second]))
    least = np.minimum(shapely.area(boxes[first]), shapely.area(boxes[second]))
    found = np.nonzero(common > least / 3.0)[0]
    return [(letters[first[i]].sign, letters[second[i]].sign) for i in found]
