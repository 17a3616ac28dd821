"""Text of a DXF file as lines of writing: TEXT, ATTRIB and MTEXT with its markup."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import groupby, pairwise
from typing import Any, Final

import numpy as np

from silhouette3d.base.limits import FARTHEST
from silhouette3d.drawing.colour import of_index
from silhouette3d.drawing.dxf.entities import EntityFrame, NotLevelError
from silhouette3d.drawing.model import Array, Writing
from silhouette3d.drawing.text import find_font, has_fonts
from silhouette3d.geometry.tolerances import MERGE

__all__ = ["TextRun", "UnsettableError", "decoded", "set_lines", "writings_of"]

# --- Lines of an MTEXT: its markup, the width at which it breaks, and where each run stands
#
# The baselines of lines are 5/3 of the height of capitals apart, times the text's own
# factor (DXF reference, group code 44: "percentage of default (3-on-5) line spacing");
# below a line of higher letters, the room that they ask for stays (common practice, no source).
# The block reaches from the capitals of the first line to the baseline of the last; its
# attachment point is one of nine on that. Indents, tab stops, underlines and tracking are
# not followed; a stacked fraction is set in the line.


_SPACING: Final = 5.0 / 3.0
_AS_LONG: Final = 1.5
"""No letter of usual fonts is longer than this, in heights of capitals; W is about 1.4."""

_BY_LAYER: Final = 256
_TAB: Final = "    "


@dataclass(frozen=True)
class TextRun:
    """Characters of one look.

    Parameters
    ----------
    text : str
        Without markup.
    font : str
        The names of families or files.
    bold, italic : bool
        Which font of the family.
    height : float
        Of capitals, in units of the text's plane.
    width : float
        Factor of the letters' widths.
    oblique : float
        Degrees by which letters lean to the right.
    colour : str, optional
        "#rrggbb" where the markup says one.
    share : float, optional
        Where the paragraph says how it is aligned: 0 left, 0.5, 1 right.
    matrix : tuple of six floats
        Once set: of its letters, as that of a writing, in the text's plane.
    """

    text: str
    font: str
    bold: bool
    italic: bool
    height: float
    width: float
    oblique: float
    colour: str | None = None
    share: float | None = None
    matrix: tuple[float, ...] = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)

    @property
    def length(self) -> float:
        """Length in the text's plane, in the font that is found."""
        if not has_fonts():
            return 0.0  # nothing hangs on it: text that is only counted needs no place
        font, _ = find_font(self.font, bold=self.bold, italic=self.italic)
        return font.advance(self.text) / font.capitals * self.height * self.width


def set_lines(entity: Any, plain: TextRun) -> Iterator[tuple[TextRun, float]]:
    """Yield the runs of an MTEXT with their places, each with its anchor on the line.

    Parameters
    ----------
    entity : MText
        The text.
    plain : TextRun
        What its style says.
    """
    height = entity.dxf.char_height
    room = entity.dxf.get("width", 0.0) or math.inf
    lines = [line for part in _paragraphs(entity, plain, height) for line in _broken(part, room)]
    if not lines:
        return
    factor = _SPACING * entity.dxf.get("line_spacing_factor", 1.0)
    heights = [max((run.height for run in line), default=height) for line in lines]
    below = [0.0]
    for above, tall in pairwise(heights):
        below.append(below[-1] + (factor - 1.0) * above + tall)
    attached = entity.dxf.get("attachment_point", 1) - 1
    share, row = attached % 3 / 2.0, attached // 3
    top = (0.0, (heights[0] + below[-1]) / 2.0, heights[0] + below[-1])[row] - heights[0]
    for line, down in zip(lines, below, strict=True):
        yield from _placed(line, top - down, share, room)


def _placed(
    line: list[TextRun], y: float, attached: float, room: float
) -> Iterator[tuple[TextRun, float]]:
    if not line:
        return
    share = attached if line[0].share is None else line[0].share
    x = (share - attached) * room if math.isfinite(room) else 0.0
    if len(line) == 1:
        yield _at(line[0], x, y), share
        return
    x -= share * sum(run.length for run in line)
    for run in line:
        yield _at(run, x, y), 0.0
        x += run.length


def _at(run: TextRun, x: float, y: float) -> TextRun:
    slant = run.height * math.tan(math.radians(run.oblique))
    return replace(run, matrix=(run.height * run.width, 0.0, slant, run.height, x, y))


def decoded(text: str) -> str:
    r"""Resolve characters that are written as their numbers: \U+00F6, and \M+ of code pages."""
    from ezdxf.lldxf.encoding import decode_dxf_unicode, decode_mif_to_unicode

    return str(decode_mif_to_unicode(decode_dxf_unicode(text)))


def _paragraphs(entity: Any, plain: TextRun, height: float) -> Iterator[list[TextRun]]:
    """Split runs of each paragraph; every word and every space is one of its own."""
    from ezdxf.tools.text import MTextContext, MTextParser, TokenType

    start = MTextContext()
    start.aci, start.cap_height = _BY_LAYER, height
    start.width_factor, start.oblique = plain.width, plain.oblique
    line: list[TextRun] = []
    for token in MTextParser(decoded(entity.text), start):
        text = {
            TokenType.WORD: token.data,
            TokenType.STACK: "/".join(filter(None, token.data[:2])) if token.data else "",
            TokenType.SPACE: " ",
            TokenType.NBSP: "\N{NO-BREAK SPACE}",
            TokenType.TABULATOR: _TAB,
        }.get(token.type)
        if text is not None:
            line.append(_run(text, token.ctx, start, plain))
        elif token.type in (TokenType.NEW_PARAGRAPH, TokenType.NEW_COLUMN):
            yield line
            line = []
    yield line


def _run(text: str, context: Any, start: Any, plain: TextRun) -> TextRun:
    from ezdxf.enums import MTextParagraphAlignment as Along

    face, named = context.font_face, plain
    if face is not start.font_face:
        slanted = face.is_italic or face.is_oblique
        named = replace(plain, font=face.family, bold=face.is_bold, italic=slanted)
    colour = None
    if context.rgb is not None:
        colour = "#{:02x}{:02x}{:02x}".format(*context.rgb)
    elif 0 < context.aci < _BY_LAYER:
        colour = of_index(context.aci)
    return replace(
        named,
        text=text,
        height=context.cap_height,
        width=context.width_factor,
        oblique=context.oblique,
        colour=colour,
        share={Along.LEFT: 0.0, Along.CENTER: 0.5, Along.RIGHT: 1.0}.get(context.paragraph.align),
    )


def _broken(words: list[TextRun], room: float) -> Iterator[list[TextRun]]:
    """Break a paragraph at spaces so that each line fits, as far as words do."""
    if sum(len(run.text) * _AS_LONG * run.height * abs(run.width) for run in words) <= room:
        yield _joined(words)  # without asking for a font
        return
    line: list[TextRun] = []
    length = 0.0
    for spaces, group in groupby(words, lambda run: not run.text.strip(" ")):
        part = list(group)
        own = sum(run.length for run in part)
        if not spaces and length + own > room and any(run.text.strip(" ") for run in line):
            yield _joined(line)
            line, length = [], 0.0
        line += part
        length += own
    yield _joined(line)


def _joined(words: list[TextRun]) -> list[TextRun]:
    """Join neighbours of one look into one run, without spaces at the end of the line."""
    while words and not words[-1].text.strip(" "):
        words = words[:-1]
    texts = groupby(words, lambda run: replace(run, text=""))
    return [replace(look, text=_spaced(run.text for run in same)) for look, same in texts]


def _spaced(texts: Iterable[str]) -> str:
    return "".join(texts).replace("\N{NO-BREAK SPACE}", " ")


# --- Text of a DXF file as lines of writing: TEXT, ATTRIB and MTEXT
#
# Heights are those of capital letters (DXF reference, group code 40 of TEXT; its
# alignments are those of group codes 72 and 73). How far letters reach below the baseline
# is not stated: a third of the height (common practice, no source).


_ALIGNED, _MIDDLE, _FIT = 3, 4, 5
_BACKWARDS, _UPSIDE_DOWN = 2, 4
_VERTICAL: Final = 4
"""Flag of a style whose letters stand below each other."""

_DEPTH: Final = 1.0 / 3.0
"""How far letters reach below the baseline, in heights of capitals."""

_RISE: Final = {0: 0.0, 1: _DEPTH, 2: -0.5, 3: -1.0}
"""From the point of alignment up to the baseline, in heights, by group code 73."""


class UnsettableError(ValueError):
    """The text is not one that can be set in lines as it is meant."""


@dataclass(frozen=True)
class _Style:
    """Settings that a text takes from its style."""

    font: str
    bold: bool
    italic: bool
    width: float
    oblique: float


def writings_of(entity: Any, frame: EntityFrame, layer: str, colour: str) -> tuple[Writing, ...]:
    """Give the lines of a text as they lie in the drawing.

    Parameters
    ----------
    entity : DXFEntity
        TEXT, ATTRIB, ATTDEF or MTEXT.
    frame : EntityFrame
        That it lies in.
    layer, colour : str
        Of what it leaves open.

    Raises
    ------
    UnsettableError
        If it does not lie level, has columns or runs downwards, or its numbers make
        no sense.
    """
    try:
        make = _mtext if entity.dxftype() == "MTEXT" else _text
        found = [w for w in make(entity, frame, layer, colour) if w.text.strip()]
    except NotLevelError as error:
        raise UnsettableError(str(error)) from None
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
        raise UnsettableError(f"it cannot be read: {error}") from None
    return tuple(w for w in found if _is_sound(np.array(w.matrix)))


def _is_sound(matrix: Array) -> bool:
    if not (np.abs(matrix) <= FARTHEST).all():  # not a number counts as too far
        raise UnsettableError("it lies too far away")
    return bool(np.linalg.norm(matrix[2:4]) > MERGE)  # no higher is none


def _style(entity: Any) -> _Style:
    """Give the style of a text; the family that some programs add says more than the file."""
    name = entity.dxf.get("style", "Standard")
    styles: Any = entity.doc.styles if entity.doc is not None else {}
    if name not in styles:
        return _Style("", bold=False, italic=False, width=1.0, oblique=0.0)
    style = styles.get(name)
    if style.dxf.flags & _VERTICAL:
        raise UnsettableError("its letters stand below each other")
    family, italic, bold = style.get_extended_font_data()
    named = ", ".join(filter(None, (family, style.dxf.font)))
    return _Style(named, bold, italic, style.dxf.width or 1.0, style.dxf.oblique)


def _plain(text: str) -> str:
    r"""Resolve the codes of a line: %%c is a diameter, %%065 and \U+0041 are characters."""
    from ezdxf.tools.text import plain_text

    numbered = re.sub(r"%%(\d{3})", lambda found: chr(int(found[1])), decoded(text))
    return str(plain_text(numbered))


def _text(entity: Any, frame: EntityFrame, layer: str, colour: str) -> list[Writing]:
    if entity.dxftype() == "ATTRIB" and entity.has_embedded_mtext_entity:
        return _mtext(entity.virtual_mtext_entity(), frame, layer, colour)
    dxf, style = entity.dxf, _style(entity)
    across, up = dxf.get("halign", 0), dxf.get("valign", 0)
    flags = dxf.get("text_generation_flag", 0)
    backwards = bool(flags & _BACKWARDS)
    height, turn, length = dxf.height, math.radians(dxf.rotation), None
    at, rise, anchor = dxf.insert, _RISE[0], 0.0
    if across in (_ALIGNED, _FIT) and dxf.hasattr("align_point"):
        along = dxf.align_point - dxf.insert
        length = math.hypot(along.x, along.y) / height
        turn = math.atan2(along.y, along.x)
        anchor = 1.0 if backwards else 0.0  # it stays between its points
    elif (across or up) and dxf.hasattr("align_point"):
        at, rise = dxf.align_point, _RISE.get(up, 0.0)
        anchor = {1: 0.5, 2: 1.0, _MIDDLE: 0.5}.get(across, 0.0)
        if across == _MIDDLE:
            rise = (_DEPTH - 1.0) / 2.0
    mirrored = (-1.0 if backwards else 1.0, -1.0 if flags & _UPSIDE_DOWN else 1.0)
    slant = math.tan(math.radians(dxf.get("oblique", 0.0)))
    letters = np.array([[dxf.get("width", 1.0) or 1.0, slant, 0.0], [0.0, 1.0, rise]]) * height
    if length is not None:
        letters[0, 0] = height
    placed = _turned(turn) @ (np.diag(mirrored) @ letters)
    placed[:, 2] += (at.x, at.y)
    plane = frame.in_object_plane(entity).plane(at.z)
    return [
        Writing(
            _plain(dxf.text),
            _through(plane, placed),
            style.font,
            layer,
            colour,
            anchor,
            style.bold,
            style.italic,
            capitals=True,
            length=length,
            uniform=across == _ALIGNED,
        )
    ]


def _mtext(entity: Any, frame: EntityFrame, layer: str, colour: str) -> list[Writing]:
    if entity.has_columns and entity.columns.count > 1:
        raise UnsettableError("it has columns")
    if entity.dxf.get("flow_direction", 1) == 3:
        raise UnsettableError("its letters stand below each other")
    style, ucs = _style(entity), entity.ucs()
    axes = np.eye(4)
    axes[:3] = np.column_stack([tuple(v) for v in (ucs.ux, ucs.uy, ucs.uz, ucs.origin)])
    plane = frame.within(axes).plane(0.0)
    plain = TextRun("", style.font, style.bold, style.italic, 1.0, style.width, style.oblique)
    return [
        Writing(
            run.text,
            _through(plane, np.array(run.matrix).reshape(3, 2).T),
            run.font,
            layer,
            run.colour or colour,
            anchor,
            run.bold,
            run.italic,
            capitals=True,
        )
        for run, anchor in set_lines(entity, plain)
    ]


def _turned(angle: float) -> Array:
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[c, -s], [s, c]])


def _through(plane: Array, placed: Array) -> tuple[float, float, float, float, float, float]:
    """Follow one (2, 3) map by another, in the order of a writing's matrix."""
    whole = plane[:, :2] @ placed
    whole[:, 2] += plane[:, 2]
    a, b, c, d, e, f = (float(x) for x in whole.T.ravel())
    return a, b, c, d, e, f
