"""Opening an SVG file: its XML as a tree, with nothing fetched, and nothing expanded but names.

Drawing programs declare entities for the names of their namespaces. Such an entity, of plain
text, is read; one that refers to others or holds elements could grow without end.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final
from urllib.parse import unquote
from xml.parsers import expat

from silhouette3d.base.limits import FILE_MB, NESTING
from silhouette3d.drawing.read import MB, read_file, too_large
from silhouette3d.errors import DrawingError

__all__ = ["SvgFile", "local_name", "open_svg", "target_name"]

_SVG: Final = "{http://www.w3.org/2000/svg}"
_HREF: Final = ("href", "{http://www.w3.org/1999/xlink}href")
_STANDARD_DTD: Final = ("-//W3C//DTD SVG ", "-//W3C//DTD XHTML 1.1 plus MathML 2.0 plus SVG ")
_STANDARD_SITE: Final = ("http://www.w3.org/", "https://www.w3.org/")
_GZIP: Final = b"\x1f\x8b"
_SAVE_AGAIN: Final = "open it in the program that drew it and save it again as plain SVG"


@dataclass(frozen=True, eq=False)
class SvgFile:
    """The tree of a file, and where each element stands in it.

    Parameters
    ----------
    path : Path
        Where it was read from.
    root : Element
        The outermost ``<svg>``.
    lines : mapping of Element to int
        The line on which each element begins.
    by_id : mapping of str to Element
        Elements that have an id; the first of that name, as browsers take it.
    parents : mapping of Element to Element
        In which element each lies.
    style_links : int
        How many style sheets in other files it asks for.
    """

    path: Path
    root: ET.Element
    lines: Mapping[ET.Element, int]
    by_id: Mapping[str, ET.Element]
    parents: Mapping[ET.Element, ET.Element]
    style_links: int

    def name(self, element: ET.Element) -> str:
        """Name an element as messages call it: ``path 'hull'``, ``rect on line 7``."""
        name = element.get("id")
        return f"{local_name(element)} " + (
            f"{name!r}" if name else f"on line {self.line(element)}"
        )

    def line(self, element: ET.Element) -> int:
        """Find the line on which an element begins."""
        return self.lines[element]

    def referred(self, name: str) -> ET.Element | None:
        """Find what ``#id`` refers to; None if that is not in this file."""
        if not name.startswith("#"):
            return None
        return self.by_id.get(name[1:], self.by_id.get(unquote(name[1:])))


def target_name(values: Mapping[str, str]) -> str:
    """Tell what an element refers to: its ``href`` comes before its ``xlink:href``."""
    return next((values[name].strip() for name in _HREF if name in values), "")


def local_name(element: ET.Element) -> str:
    """Name the tag of an SVG element; of one of another namespace, nothing."""
    tag = element.tag.removeprefix(_SVG)
    return "" if tag.startswith("{") else tag


def open_svg(path: Path) -> SvgFile:
    """Open the tree of an SVG file, plain or packed with gzip.

    The document type that SVG 1.1 prescribes is accepted and not fetched. An entity
    of plain text is read; one that holds elements or other entities is refused, and
    so is any reference to another file.

    Parameters
    ----------
    path : Path
        The file.

    Raises
    ------
    DrawingError
        If the file cannot be read, is no SVG, is not well-formed, declares such
        entities, or goes beyond the limits of size or nesting.
    """
    builder = _Builder(path)
    builder.parse(_read(path))
    root = builder.root
    if root is None or local_name(root) != "svg":
        found = root.tag.rpartition("}")[2] if root is not None else "nothing"
        raise DrawingError(
            f"this is not an SVG drawing but an XML file of <{found}>",
            where=str(path),
            todo="save the drawing as SVG",
        )
    by_id: dict[str, ET.Element] = {}
    for element in root.iter():
        if name := element.get("id"):
            by_id.setdefault(name, element)
    parents = {child: element for element in root.iter() for child in element}
    return SvgFile(path, root, builder.lines, by_id, parents, builder.style_links)


def _read(path: Path) -> bytes:
    where = str(path)
    data = read_file(path, "SVG")
    if data.startswith(_GZIP):
        data = _unpacked(data, where)
    if not data.strip():
        raise DrawingError("the file is empty", where=where, todo=_SAVE_AGAIN)
    return data


def _unpacked(data: bytes, where: str) -> bytes:
    unpacker = zlib.decompressobj(wbits=zlib.MAX_WBITS | 16)  # 16: with a gzip header
    most = FILE_MB.value * MB
    try:
        plain = unpacker.decompress(data, most + 1)
    except zlib.error as error:
        raise DrawingError(
            f"the packed drawing is damaged ({error})", where=where, todo=_SAVE_AGAIN
        ) from None
    if len(plain) > most:  # a small file can unpack to anything
        raise too_large(where)
    if not unpacker.eof:
        raise DrawingError("the packed drawing ends early", where=where, todo=_SAVE_AGAIN)
    return plain


@dataclass(eq=False)
class _Builder:
    """Turns what expat reports into a tree."""

    path: Path
    root: ET.Element | None = None
    lines: dict[ET.Element, int] = field(default_factory=dict)
    style_links: int = 0

    def parse(self, data: bytes) -> None:
        self._deepest, self._data, self._grown = NESTING.value, data, len(data)
        self._open: list[ET.Element] = []
        self._spaced = False
        self._tree = ET.TreeBuilder()
        self._expat = expat.ParserCreate(namespace_separator="}")
        self._expat.buffer_text = True
        self._expat.StartElementHandler = self._start
        self._expat.EndElementHandler = self._end
        self._expat.CharacterDataHandler = self._tree.data
        self._expat.StartDoctypeDeclHandler = self._doctype
        self._expat.EntityDeclHandler = self._entity
        self._expat.SkippedEntityHandler = self._unknown_entity
        self._expat.ProcessingInstructionHandler = self._instruction
        try:
            self._expat.Parse(data, True)
        except expat.ExpatError as error:
            raise DrawingError(
                f"this is not well-formed XML: {expat.ErrorString(error.code)}",
                where=f"{self.path}, line {error.lineno}, column {error.offset + 1}",
                todo=_SAVE_AGAIN,
            ) from None
        except (LookupError, ValueError) as error:  # the encoding it names
            raise DrawingError(
                f"its text cannot be read: {error}",
                where=str(self.path),
                todo="save it again as SVG in UTF-8",
            ) from None
        self.root = self._tree.close()

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        if len(self._open) >= self._deepest:
            raise self._refused(
                f"elements lie in each other more than {self._deepest} deep",
                f"ungroup the drawing, {NESTING.raised}",
            )
        element = self._tree.start(
            self._tag(tag), {_qualified(name): value for name, value in attributes.items()}
        )
        self._open.append(element)
        self.lines[element] = self._expat.CurrentLineNumber

    def _end(self, tag: str) -> None:
        self._open.pop()
        self._tree.end(self._tag(tag))

    def _tag(self, tag: str) -> str:
        """Name a tag with its namespace; none is foreign in a drawing of SVG's."""
        self._spaced = self._spaced or "}" in tag
        return _qualified(tag) if "}" in tag or not self._spaced else "{}" + tag

    def _doctype(self, name: str, system: str | None, public: str | None, inside: bool) -> None:
        standard = (public or "").startswith(_STANDARD_DTD)
        if not (standard or (system or public or _STANDARD_SITE[0]).startswith(_STANDARD_SITE)):
            raise self._refused(
                f"its document type refers to another file ({system or public})", _SAVE_AGAIN
            )

    def _entity(
        self, name: str, is_parameter: bool, value: str | None, *elsewhere: str | None
    ) -> None:
        if is_parameter or value is None:
            raise self._refused(f"it uses an XML entity ({name}) of another file", _SAVE_AGAIN)
        if set(value) & set("&<%") or not name.isascii():
            raise self._refused(
                f"it uses an XML entity ({name}) that holds more than plain text", _SAVE_AGAIN
            )
        named = (f"&{name};".encode(code) for code in ("utf-8", "utf-16-le", "utf-16-be"))
        self._grown += len(value.encode()) * sum(map(self._data.count, named))
        if self._grown > FILE_MB.value * MB:
            raise too_large(str(self.path))

    def _unknown_entity(self, name: str, is_parameter: bool) -> None:
        raise self._refused(f"it uses an XML entity ({name}) that it does not declare", _SAVE_AGAIN)

    def _instruction(self, target: str, data: str) -> None:
        self.style_links += target == "xml-stylesheet"

    def _refused(self, what: str, todo: str) -> DrawingError:
        where = f"{self.path}, line {self._expat.CurrentLineNumber}"
        return DrawingError(what, where=where, todo=todo)


def _qualified(name: str) -> str:
    """Turn expat's ``space}name`` into ElementTree's ``{space}name``."""
    return "{" + name if "}" in name else name
