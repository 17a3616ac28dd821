"""Opening a DXF file, whole or damaged."""

from __future__ import annotations

import io
import logging
import re
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Final

from silhouette3d.drawing.file import read_file
from silhouette3d.errors import DrawingError

if TYPE_CHECKING:
    from ezdxf.audit import Auditor
    from ezdxf.document import Drawing as Document

__all__ = ["open_dxf"]

_BINARY: Final = b"AutoCAD Binary DXF\r\n\x1a\x00"
_SAVE_AGAIN: Final = "open it in the program that drew it and save it again as DXF"
_PARTS: Final = frozenset([b"VERTEX", b"ATTRIB", b"SEQEND"])
"""Objects that belong to the one before them."""

_KINDS_NAMED: Final = 4

_MARKER: Final = re.compile(rb"[\r\n]\s*100\s*[\r\n]\s*AcDb")


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
    data, newer = _with_release(data)
    mended, fault = _completed(data)
    if not (fault or newer):
        loaded = _load(path)
        if not isinstance(loaded, str):
            return loaded, ()
        fault = f"the file was damaged and has been repaired ({loaded})"
    remarks.clear()
    _refuse_strange_codes(path, mended)
    document, auditor = _recover(path, mended)
    _refuse_guesses(path, auditor)
    repairs = _repairs(auditor, remarks)
    return document, tuple(filter(None, [newer, fault, repairs]))


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


def _load(path: Path) -> Document | str:
    """The document, or what is wrong with the file."""
    from ezdxf.filemanagement import readfile

    try:
        return _with_model_space(readfile(str(path)))
    except OSError:
        return "it does not begin as a DXF file does"
    except Exception as error:  # see above
        return " ".join(str(error).split()).rstrip(".") or type(error).__name__


def _recover(path: Path, data: bytes) -> tuple[Document, Auditor]:
    from ezdxf import recover

    try:
        document, auditor = recover.read(io.BytesIO(data))
        return _with_model_space(document), auditor
    except Exception as error:  # see above
        raise DrawingError(
            f"this DXF file is damaged beyond repair ({error})", where=str(path), todo=_SAVE_AGAIN
        ) from None


def _with_release(data: bytes) -> tuple[bytes, str]:
    """A file that holds what R12 does not know, with a release that does; and a note of that.

    Some programs write polylines and splines of later releases into files that
    state R12, or nothing. Read as R12, such an object loses its layer, whether it
    is closed, and its degree. Later objects are told by their subclass markers.
    """
    stated = re.search(rb"\$ACADVER\s*[\r\n]\s*1\s*[\r\n]\s*(AC1\d{3})", data)
    if (stated and stated[1] > b"AC1009") or not _MARKER.search(data):
        return data, ""
    note = "the file holds objects of a later release than it states; it was read as R2000"
    if stated:
        return data[: stated.start(1)] + b"AC1015" + data[stated.end(1) :], note
    release = b"  9\n$ACADVER\n  1\nAC1015\n"
    header = re.search(rb"SECTION\s*[\r\n]\s*2\s*[\r\n]\s*HEADER\s*?\r?\n", data)
    if header:
        return data[: header.end()] + release + data[header.end() :], note
    return b"  0\nSECTION\n  2\nHEADER\n" + release + b"  0\nENDSEC\n" + data, note


def _completed(data: bytes) -> tuple[bytes, str]:
    """A file that ends early, cut back to its last whole object; and a note of that.

    The last number of such a file may have lost its last digits, and a polyline
    its last vertices, so the object that was being written is left out.
    """
    lines = data.rstrip(b"\x1a\x00").splitlines()
    while lines and not lines[-1].strip():
        lines.pop()
    if lines[-1].strip() == b"EOF":
        return data, ""
    # Group codes and values alternate; comments do too.
    starts = [i for i in range(0, len(lines) - 1, 2) if lines[i].strip() == b"0"]
    whole = [i for i in starts if lines[i + 1].strip().upper() not in _PARTS]
    if not whole:
        return data, ""
    last = whole[-1]
    ending = lines[last + 1].strip()
    note = "the file has no end mark"
    if ending == b"ENDSEC":
        last += 2
    else:
        note = (
            f"the file ends early: its last object ({ending.decode(errors='replace')}) was left out"
        )
    kept = [*lines[:last], *([] if ending == b"ENDSEC" else [b"0", b"ENDSEC"]), b"0", b"EOF", b""]
    return b"\n".join(kept), f"{note}, and anything that came after it is missing"


def _refuse_strange_codes(path: Path, data: bytes) -> None:
    """A line that is no group code where one must stand.

    ezdxf skips such a line, and with it what an object says there: a radius, a vertex.
    """
    lines = [line.strip() for line in data.splitlines()]
    start = next(
        (i for i, pair in enumerate(pairwise(lines)) if pair == (b"0", b"SECTION")), len(lines)
    )
    drawn = False
    for i in range(start, len(lines) - 1, 2):
        code, value = lines[i : i + 2]
        if code == b"0" and value in {b"SECTION", b"ENDSEC"}:
            drawn = value == b"SECTION" and lines[i + 3 : i + 4] in ([b"ENTITIES"], [b"BLOCKS"])
        elif drawn and not re.fullmatch(rb"-?\d{1,5}", code):
            shown = code[:40].decode(errors="replace")
            raise DrawingError(
                f"{shown!r} stands where a group code must, in line {i + 1}",
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
