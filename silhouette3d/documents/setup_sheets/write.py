"""The whole document: gathered, handed to the template, set, and written."""

from __future__ import annotations

import json
import os
from datetime import UTC, date, datetime
from pathlib import Path, PurePath
from tempfile import TemporaryDirectory, gettempdir
from typing import Any, Final

from silhouette3d.base.files import atomic_write, refused
from silhouette3d.base.quantities import Scale
from silhouette3d.checks.finding import Finding
from silhouette3d.documents.setup_sheets import fonts
from silhouette3d.documents.setup_sheets.block_pictures import gallery
from silhouette3d.documents.setup_sheets.end_page import end_page
from silhouette3d.documents.setup_sheets.part_page import part_page
from silhouette3d.documents.setup_sheets.setup import setups_of
from silhouette3d.documents.setup_sheets.setup_page import setup_page
from silhouette3d.errors import OutputError
from silhouette3d.model.results import Results

PAPERS: Final = {"a4": ("a4", 210.0, 297.0), "letter": ("us-letter", 215.9, 279.4)}
"""By what people call it: the template's name for it, its width and height in mm (ISO 216; the
American one is 8.5 by 11 in, ANSI Y14.1, from memory)."""

MARGIN: Final = 15.0
"""mm, left and right."""

_HEAD: Final = 60
"""Letters of the name at the head of every page; page 1 has all of it."""

TEMPLATE: Final = Path(__file__).with_name("sheet.typ")


def write_sheets(
    part: Results,
    path: str | os.PathLike[str],
    paper: str = "A4",
    on: date | None = None,
    scale: Scale | None = None,
) -> None:
    """Write the setup sheets of a part.

    Parameters
    ----------
    part : Results
        What is made.
    path : str or path-like
        A ``.pdf`` file.
    paper : {"A4", "letter"}
        Upper and lower case do not count.
    on : datetime.date, optional
        The date on the sheets; today by default.
    scale : Scale, optional
        Tells numbers; by default in the job's unit.

    Raises
    ------
    EmptyPartError
        If nothing is left to make.
    OutputError
        If there is no such paper, or the file cannot be written.
    """
    if PurePath(path).suffix.lower() != ".pdf":
        raise OutputError(
            "sheets are written as PDF", where=os.fspath(path), todo="end the file's name in .pdf"
        )
    if paper.casefold() not in PAPERS:
        raise OutputError(f"there is no paper called {paper!r}", todo="take A4 or letter")
    made = on or date.today()
    try:
        with TemporaryDirectory(prefix="sheets-") as folder:
            content = sheets(part, Path(folder), paper.casefold(), made, scale or part.scale)
            document = typeset(content, Path(folder), made)
    except OSError as error:  # the disk may be full there too
        raise refused(error, "a picture for the sheets", gettempdir()) from error
    with atomic_write(path) as draft:
        draft.write_bytes(document)


def sheets(part: Results, folder: Path, paper: str, on: date, say: Scale) -> dict[str, Any]:
    """Gather everything that the template shows; pictures go to the folder."""
    name, width, height = PAPERS[paper]
    setups, trouble = setups_of(part)
    findings: tuple[Finding, ...] = () if trouble else part.findings
    with gallery(folder) as pictures:
        first = part_page(part, findings, trouble, pictures, width - 2.0 * MARGIN, say)
        return {
            "paper": name,
            "date": on.isoformat(),
            "name": part.name,
            "forbidden": bool(first["reasons"]),
            "part": first,
            "setups": [
                setup_page(setup, pictures, (width - 2.0 * MARGIN, height), say) for setup in setups
            ],
            "end": end_page(part, setups, say),
        }


def _cut_short(name: str) -> str:
    return name if len(name) <= _HEAD else name[: _HEAD - 1].rstrip() + "…"


def typeset(content: dict[str, Any], folder: Path, on: date) -> bytes:
    """Typeset a PDF from what `sheets` has gathered in a folder."""
    import typst

    strange = fonts.lacking(fonts.signs_of(content))
    shown = fonts.spelt(content, fonts.lacking_everywhere(strange))
    shown["short_name"] = _cut_short(shown["name"])
    (folder / "sheet.json").write_text(json.dumps(shown, allow_nan=False), encoding="utf-8")
    template = folder / TEMPLATE.name
    template.write_bytes(TEMPLATE.read_bytes())
    compiler = typst.Compiler(
        root=folder, font_paths=[fonts.folder()], ignore_system_fonts=not strange
    )
    stamp = datetime(on.year, on.month, on.day, tzinfo=UTC)
    made = compiler.compile(template, format="pdf", timestamp=stamp)
    assert isinstance(made, bytes)
    return made
