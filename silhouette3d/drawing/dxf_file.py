"""Opening a DXF file, whole or damaged."""

from __future__ import annotations

import io
import logging
import re
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final

from silhouette3d.drawing.dxf_mend import (
    completed,
    drawn_only,
    encoded,
    lines_of,
    strange_code,
    with_markers,
    with_release,
    without_comments,
)
from silhouette3d.drawing.file import read_file
from silhouette3d.errors import DrawingError

if TYPE_CHECKING:
    from ezdxf.audit import Auditor
    from ezdxf.document import Drawing as Document

__all__ = ["open_dxf"]

_BINARY: Final = b"AutoCAD Binary DXF\r\n\x1a\x00"
_SAVE_AGAIN: Final = "open it in the program that drew it and save it again as DXF"
_KINDS_NAMED: Final = 4

_LATER: Final = frozenset(
    [
        "ELLIPSE",
        "HATCH",
        "HELIX",
        "LWPOLYLINE",
        "MLINE",
        "MTEXT",
        "RAY",
        "REGION",
        "SPLINE",
        "XLINE",
    ]
)
"""Kinds of objects that R12 does not have."""


def open_dxf(path: Path) -> tuple[Document, tuple[str, ...]]:
    """A DXF file as a document, and what was repaired.

    Releases R12 to R2018, ASCII and binary. A damaged ASCII file is repaired
    where that does not change a number: a file that ends early loses its last,
    unfinished object.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    document : ezdxf.document.Drawing
    notes : tuple of str
        What was repaired.

    Raises
    ------
    DrawingError
        If the file cannot be read, is no DXF, or is damaged beyond that.
    """
    data = _read(path)
    with _kept_quiet() as remarks:
        document, notes = _open(path, data, remarks)
    if b"$INSUNITS" not in data:  # ezdxf takes metres when a file has no header
        document.header["$INSUNITS"] = 0
    # A damaged number that is quoted may hold half characters, which nobody can print.
    return document, tuple(note.encode(errors="backslashreplace").decode() for note in notes)


def _open(path: Path, data: bytes, remarks: list[str]) -> tuple[Document, tuple[str, ...]]:
    if data.startswith(_BINARY):
        return _load_binary(path, data), ()
    as_written = lines_of(data)
    plain, unmarked = with_markers(without_comments(as_written))
    whole, newer = with_release(plain)
    mended, fault = completed(whole)
    notes = [newer, _unmarked(unmarked)]
    if not fault:
        loaded = _load(mended)
        if not isinstance(loaded, str):
            return loaded, tuple(filter(None, notes))
        fault = f"the file was damaged and has been repaired ({loaded})"
    remarks.clear()
    _refuse_strange_codes(path, as_written)
    try:
        document, auditor = _recover(path, mended)
    except DrawingError:
        found = _without_mending(plain, mended, notes)
        if found is None:
            raise
        return found
    _refuse_guesses(path, auditor)
    notes += [fault, _repairs(auditor, remarks)]
    return document, tuple(filter(None, notes))


def _without_mending(
    plain: list[str], mended: list[str], notes: list[str]
) -> tuple[Document, tuple[str, ...]] | None:
    """Read a file that cannot be mended, if nothing that may be cut is lost so.

    Either as the R12 file that it states to be, or without what is never cut.
    """
    as_it_is = _load(completed(plain)[0]) if notes[0] else ""
    if not isinstance(as_it_is, str) and not _holds_later_objects(as_it_is):
        return as_it_is, tuple(filter(None, notes[1:]))
    drawn, others = drawn_only(mended)
    loaded = _load(drawn) if others else ""
    if isinstance(loaded, str):
        return None
    kinds = ", ".join(f"{n} {kind}" for kind, n in sorted(others.items()))
    note = f"the file could only be read without its {kinds}"
    return loaded, tuple(filter(None, [*notes, note]))


def _holds_later_objects(document: Document) -> bool:
    """Whether a file that was read as R12 holds objects that lose their layer and shape so."""
    return any(entity.dxftype() in _LATER for entity in document.entitydb.values())


def _unmarked(count: int) -> str:
    objects = f"{count} object{'s' * (count != 1)}"
    return f"put in the subclass markers that {objects} lacked" if count else ""


def _read(path: Path) -> bytes:
    where = str(path)
    data = read_file(path, "DXF")
    if not data.strip():
        raise DrawingError("the file is empty", where=where, todo=_SAVE_AGAIN)
    if re.match(rb"AC1\d{3}", data):
        raise DrawingError("this is a DWG file, not a DXF", where=where, todo="save it as DXF")
    if not data.startswith(_BINARY) and not re.search(rb"[\r\n]\s*SECTION\s*[\r\n]", data):
        raise DrawingError("this is not a DXF file", where=where, todo="save the drawing as DXF")
    return data


@contextmanager
def _kept_quiet() -> Iterator[list[str]]:
    """Collects what ezdxf would log as a warning; nothing reaches the user's log."""
    logger = logging.getLogger("ezdxf")
    before = logger.level, logger.propagate
    remarks: list[str] = []
    handler = _Collector(remarks)
    logger.setLevel(logging.WARNING)
    logger.propagate = False
    logger.addHandler(handler)
    try:
        yield remarks
    finally:
        logger.removeHandler(handler)
        logger.level, logger.propagate = before


class _Collector(logging.Handler):
    def __init__(self, remarks: list[str]) -> None:
        super().__init__(logging.WARNING)
        self._remarks = remarks

    def emit(self, record: logging.LogRecord) -> None:
        self._remarks.append(record.getMessage())


def _with_model_space(document: Document) -> Document:
    document.modelspace()  # raises when a damaged file has lost it
    return document


def _load_binary(path: Path, data: bytes) -> Document:
    from ezdxf.filemanagement import readfile

    try:
        if not data.rstrip(b"\r\n\x1a\x00 ").endswith(b"EOF"):
            raise ValueError("it ends early")
        return _with_model_space(readfile(str(path)))
    except Exception as error:  # a damaged file makes ezdxf raise whatever it comes upon
        raise DrawingError(
            f"this binary DXF file is damaged ({error})",
            where=str(path),
            todo=_SAVE_AGAIN + ", if need be as ASCII",
        ) from None


def _load(lines: list[str]) -> Document | str:
    """The document, or what is wrong with the file."""
    from ezdxf.filemanagement import read

    if [line.strip() for line in lines[:2]] != ["0", "SECTION"]:
        return "it does not begin as a DXF file does"
    try:
        return _with_model_space(read(io.StringIO("\n".join([*lines, ""]))))
    except Exception as error:  # see above
        return " ".join(str(error).split()).rstrip(".") or type(error).__name__


def _recover(path: Path, lines: list[str]) -> tuple[Document, Auditor]:
    from ezdxf import recover

    try:
        document, auditor = recover.read(io.BytesIO(encoded(lines)))
        return _with_model_space(document), auditor
    except Exception as error:  # see above
        raise DrawingError(
            f"this DXF file is damaged beyond repair ({error})", where=str(path), todo=_SAVE_AGAIN
        ) from None


def _refuse_strange_codes(path: Path, lines: list[str]) -> None:
    """Refuse a line that is no group code where one must stand."""
    found = strange_code(lines)
    if found is not None:
        shown, number = found
        raise DrawingError(
            f"{shown[:40]!r} stands where a group code must, in line {number}",
            where=str(path),
            todo=_SAVE_AGAIN,
        )


def _refuse_guesses(path: Path, auditor: Auditor) -> None:
    """A number that cannot be read is cut to its first digits: no part is made from that."""
    from ezdxf.audit import AuditError

    for entry in auditor.errors:
        if entry.code == AuditError.INVALID_FLOATING_POINT_VALUE:
            found = re.search(r'value "(.*)" near line (\d+)', entry.message)
            text = f"{found[1]!r} is not a number, near line {found[2]}" if found else entry.message
            raise DrawingError(text, where=str(path), todo=_SAVE_AGAIN)


def _repairs(auditor: Auditor, remarks: list[str]) -> str:
    """What was repaired, counted by kind."""
    from ezdxf.audit import AuditError

    entries = [*auditor.fixes, *auditor.errors]
    kinds = Counter(AuditError(e.code).name.replace("_", " ").lower() for e in entries)
    told = {entry.message for entry in entries}
    kinds.update(_kind(text) for text in remarks if text not in told)
    if not kinds:
        return ""
    named = [f"{count} × {kind}" for kind, count in kinds.most_common(_KINDS_NAMED)]
    rest = sum(kinds.values()) - sum(n for _, n in kinds.most_common(_KINDS_NAMED))
    named += [f"{rest} more"] * (rest > 0)
    return "repaired in the file: " + ", ".join(named)


def _kind(remark: str) -> str:
    """A remark without the particulars, so that remarks of one kind count together."""
    return re.sub(r'\s*(".*?"|#[0-9A-Fa-f]+|\bnear line \d+|[().:])\s*', " ", remark).strip()
