"""Open a DXF file, whole or damaged."""

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

from silhouette3d.drawing.read import read_file
from silhouette3d.errors import DrawingError

if TYPE_CHECKING:
    from ezdxf.audit import Auditor
    from ezdxf.document import Drawing as Document

__all__ = [
    "completed",
    "drawn_only",
    "encoded",
    "lines_of",
    "open_dxf",
    "strange_code",
    "with_markers",
    "with_release",
    "without_comments",
]

# --- The lines of an ASCII DXF file, made such that a parser takes them as they are meant
#
# Group codes and values alternate, one to a line. What programs add (a byte order mark,
# comments) goes; what they leave out and says nothing (markers of subclasses, the release)
# is put in. No number is changed.


_PARTS: Final = frozenset(["VERTEX", "ATTRIB", "SEQEND"])
"""Objects that belong to the one before them."""

_MARKED: Final = {
    "HATCH": "AcDbHatch",
    "LWPOLYLINE": "AcDbPolyline",
    "MTEXT": "AcDbMText",
    "SPLINE": "AcDbSpline",
}
"""Objects that ezdxf cannot read without the marker of their subclass, and that marker."""

_KEPT: Final = frozenset(
    {
        "ARC",
        "ATTRIB",
        "BLOCK",
        "CIRCLE",
        "ELLIPSE",
        "ENDBLK",
        "EOF",
        "HATCH",
        "INSERT",
        "LINE",
        "LWPOLYLINE",
        "MTEXT",
        "POLYLINE",
        "SEQEND",
        "SPLINE",
        "TEXT",
        "VERTEX",
    }
)
"""Kinds of objects that something may be cut from, and what belongs to them."""

_OF_EVERY_OBJECT: Final = frozenset({6, 8, 48, 60, 62, 67, 347, 370, 390, 410, 420, 430, 440})
"""Group codes of what all objects have in common (DXF reference, "Common group codes")."""

_FIRST: Final = _OF_EVERY_OBJECT | {5, 102, 330, 360}
"""Group codes that may come before an object's own ones."""

_EXTENDED: Final = 1000
"""Group codes from here on are other programs' data, which stay at the end."""

_DOS: Final = re.compile(r"(?:dos|cp|ansi_?|windows-?)?(\d{3,4})$")
_NAMED: Final = {"gb2312": "gbk", "ksc5601": "cp949", "big5": "big5", "johab": "johab"}


def lines_of(data: bytes) -> list[str]:
    r"""Give the lines of a file, decoded.

    Bytes that are UTF-8 are taken as such in every release, as many programs write so
    whatever they state; others by the code page that is stated, else as Windows-1252.
    Characters given by their numbers, ``\U+00F6``, are put in.

    Parameters
    ----------
    data : bytes
        The whole file.
    """
    data = data.removeprefix(b"\xef\xbb\xbf").rstrip(b"\x1a\x00")
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        text = data.decode(_code_page(data), "surrogateescape")
    lines = re.split(r"\r\n|\r|\n", re.sub(r"\\U\+([0-9A-Fa-f]{4})", _numbered, text))
    while lines and not lines[-1].strip():
        lines.pop()
    return lines


def _numbered(found: re.Match[str]) -> str:
    letter = chr(int(found[1], 16))
    return letter if letter.isprintable() else found[0]


def _code_page(data: bytes) -> str:
    """Name Python's code page for the one that the header states, as far as it is known."""
    stated = re.search(rb"\$DWGCODEPAGE\s*[\r\n]\s*3\s*[\r\n]\s*(\S+)", data)
    name = stated[1].decode("ascii", "replace").lower() if stated else ""
    number = _DOS.match(name)
    codec = _NAMED.get(name) or (f"cp{number[1]}" if number else name)
    try:
        "".encode(codec or "cp1252")
    except LookupError:
        return "cp1252"
    return codec or "cp1252"


def encoded(lines: list[str]) -> bytes:
    r"""Give lines as bytes that read the same in every code page: letters as ``\U+00F6``."""
    text = "\n".join([*lines, ""])
    plain = re.sub(r"[^\x00-\x7f\udc80-\udcff]", lambda found: f"\\U+{ord(found[0]):04X}", text)
    return plain.encode("ascii", "surrogateescape")


def without_comments(lines: list[str]) -> list[str]:
    """Leave out comments, which may stand anywhere (group code 999)."""
    if not any(line.strip() == "999" for line in lines):
        return lines
    kept = []
    for i in range(0, len(lines), 2):
        if lines[i].strip() != "999":
            kept += lines[i : i + 2]
    return kept


def with_markers(lines: list[str]) -> tuple[list[str], int]:
    """Put in the markers of subclasses that some programs leave out, and count the objects.

    What all objects have in common goes before the marker of an object's own subclass;
    otherwise its order stays.
    """
    starts = [
        i
        for i, line in enumerate(lines)
        if line.strip() in _MARKED and i % 2 and lines[i - 1].strip() == "0"
    ]
    if not starts:
        return lines, 0
    done: list[str] = []
    count = last = 0
    for start in starts:
        end = start + 1
        while end < len(lines) and lines[end].strip() != "0":
            end += 2
        pairs = [lines[i : i + 2] for i in range(start + 1, end, 2)]
        if any(code.strip() == "100" for code, *_ in pairs):
            continue
        done += [*lines[last : start + 1], *_marked(pairs, _MARKED[lines[start].strip()])]
        last = end
        count += 1
    return [*done, *lines[last:]], count


def _marked(pairs: list[list[str]], marker: str) -> list[str]:
    codes = [int(pair[0]) if pair[0].strip().isdigit() else 0 for pair in pairs]
    end = next((i for i, code in enumerate(codes) if code >= _EXTENDED), len(codes))
    head = next((i for i in range(end) if codes[i] not in _FIRST), end)
    common = [pairs[i] for i in range(head, end) if codes[i] in _OF_EVERY_OBJECT]
    own = [pairs[i] for i in range(head, end) if codes[i] not in _OF_EVERY_OBJECT]
    whole = [
        *pairs[:head],
        ["100", "AcDbEntity"],
        *common,
        ["100", marker],
        *own,
        *pairs[end:],
    ]
    return [line for pair in whole for line in pair]


def with_release(lines: list[str]) -> tuple[list[str], str]:
    """Put a later release into a file that holds what R12 does not know; and a note of that.

    Some programs write polylines and splines of later releases into files that
    state R12, or nothing. Read as R12, such an object loses its layer, whether it
    is closed, and its degree. Later objects are told by their subclass markers.
    """
    bare = [line.strip() for line in lines]
    at = next((i for i in range(1, len(bare), 2) if bare[i] == "$ACADVER"), None)
    stated = bare[at + 2] if at is not None and bare[at + 1 : at + 2] == ["1"] else ""
    marked = (i for i in range(0, len(bare) - 1, 2) if bare[i] == "100")
    if stated > "AC1009" or not any(bare[i + 1].startswith("AcDb") for i in marked):
        return lines, ""
    note = "the file holds objects of a later release than it states; it was read as R2000"
    if at is not None and stated:
        return [*lines[: at + 2], "AC1015", *lines[at + 3 :]], note
    release = ["9", "$ACADVER", "1", "AC1015"]
    if bare[1:4:2] == ["SECTION", "HEADER"]:
        return [*lines[:4], *release, *lines[4:]], note
    return ["0", "SECTION", "2", "HEADER", *release, "0", "ENDSEC", *lines], note


def completed(lines: list[str]) -> tuple[list[str], str]:
    """Cut a file that ends early back to its last whole object; and a note of that.

    The last number of such a file may have lost its last digits, and a polyline
    its last vertices, so the object that was being written is left out.
    """
    if lines[-1].strip() == "EOF":
        return lines, ""
    starts = [i for i in range(0, len(lines) - 1, 2) if lines[i].strip() == "0"]
    whole = [i for i in starts if lines[i + 1].strip().upper() not in _PARTS]
    if not whole:
        return lines, ""
    last = whole[-1]
    ending = lines[last + 1].strip()
    note = "the file has no end mark"
    if ending == "ENDSEC":
        last += 2
    else:
        note = f"the file ends early: its last object ({ending}) was left out"
    kept = [*lines[:last], *([] if ending == "ENDSEC" else ["0", "ENDSEC"]), "0", "EOF"]
    return kept, f"{note}, and anything that came after it is missing"


def drawn_only(lines: list[str]) -> tuple[list[str], Counter[str]]:
    """Leave out drawn objects that nothing is cut from, and count them by kind."""
    starts = [i for i in range(0, len(lines) - 1, 2) if lines[i].strip() == "0"]
    kept = lines[: starts[0]] if starts else list(lines)
    others: Counter[str] = Counter()
    drawn = False
    for start, end in pairwise([*starts, len(lines)]):
        kind = lines[start + 1].strip()
        if kind in {"SECTION", "ENDSEC"}:
            name = [line.strip() for line in lines[start + 3 : start + 4]]
            drawn = kind == "SECTION" and name in (["ENTITIES"], ["BLOCKS"])
        elif drawn and kind not in _KEPT:
            others[kind] += 1
            continue
        kept += lines[start:end]
    return kept, others


def strange_code(lines: list[str]) -> tuple[str, int] | None:
    """Find what stands where the group code of a drawn object must, and the number of its line.

    ezdxf skips such a line, and with it what an object says there: a radius, a vertex.
    """
    bare = [line.strip() for line in lines]
    start = next(
        (i for i, pair in enumerate(pairwise(bare)) if pair == ("0", "SECTION")), len(bare)
    )
    drawn = False
    for i in range(start, len(bare) - 1, 2):
        code, value = bare[i : i + 2]
        if code == "0" and value in {"SECTION", "ENDSEC"}:
            drawn = value == "SECTION" and bare[i + 3 : i + 4] in (["ENTITIES"], ["BLOCKS"])
        elif drawn and not re.fullmatch(r"-?\d{1,5}", code):
            return code, i + 1
    return None


# --- Opening a DXF file, whole or damaged


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
    """Open a DXF file as a document; tell what was repaired.

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
    """Tell whether a file read as R12 holds objects that lose their layer and shape so."""
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
    """Collect what ezdxf would log as a warning; nothing reaches the user's log."""
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
    """Load the document, or tell what is wrong with the file."""
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
    """Refuse a number that cannot be read and was cut to its first digits."""
    from ezdxf.audit import AuditError

    for entry in auditor.errors:
        if entry.code == AuditError.INVALID_FLOATING_POINT_VALUE:
            found = re.search(r'value "(.*)" near line (\d+)', entry.message)
            text = f"{found[1]!r} is not a number, near line {found[2]}" if found else entry.message
            raise DrawingError(text, where=str(path), todo=_SAVE_AGAIN)


def _repairs(auditor: Auditor, remarks: list[str]) -> str:
    """Count what was repaired, by kind."""
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
    """Strip a remark of particulars, so that remarks of one kind count together."""
    return re.sub(r'\s*(".*?"|#[0-9A-Fa-f]+|\bnear line \d+|[().:])\s*', " ", remark).strip()
