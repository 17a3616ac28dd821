"""Lines of an MTEXT: its markup, the width at which it breaks, and where each run stands.

The baselines of lines are 5/3 of the height of capitals apart, times the text's own
factor (DXF reference, group code 44: "percentage of default (3-on-5) line spacing");
below a line of higher letters, the room that they ask for stays (common practice, no source).
The block reaches from the capitals of the first line to the baseline of the last; its
attachment point is one of nine on that. Indents, tab stops, underlines and tracking are
not followed; a stacked fraction is set in the line.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import groupby, pairwise
from typing import Any, Final

from silhouette3d.drawing.colour import of_index
from silhouette3d.drawing.font import find_font

__all__ = ["Run", "decoded", "set_lines"]

_SPACING: Final = 5.0 / 3.0
_AS_LONG: Final = 1.5
"""No letter of usual fonts is longer than this, in heights of capitals; W is about 1.4."""

_BY_LAYER: Final = 256
_TAB: Final = "    "


@dataclass(frozen=True)
class Run:
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
        """How long it is in the text's plane, in the font that is found."""
        font, _ = find_font(self.font, bold=self.bold, italic=self.italic)
        return font.advance(self.text) / font.capitals * self.height * self.width


def set_lines(entity: Any, plain: Run) -> Iterator[tuple[Run, float]]:
    """Yield the runs of an MTEXT with their places, each with its anchor on the line.

    Parameters
    ----------
    entity : MText
        The text.
    plain : Run
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


def _placed(line: list[Run], y: float, attached: float, room: float) -> Iterator[tuple[Run, float]]:
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


def _at(run: Run, x: float, y: float) -> Run:
    slant = run.height * math.tan(math.radians(run.oblique))
    return replace(run, matrix=(run.height * run.width, 0.0, slant, run.height, x, y))


def decoded(text: str) -> str:
    r"""Resolve characters that are written as their numbers: \U+00F6, and \M+ of code pages."""
    from ezdxf.lldxf.encoding import decode_dxf_unicode, decode_mif_to_unicode

    return str(decode_mif_to_unicode(decode_dxf_unicode(text)))


def _paragraphs(entity: Any, plain: Run, height: float) -> Iterator[list[Run]]:
    """Runs of each paragraph; every word and every space is one of its own."""
    from ezdxf.tools.text import MTextContext, MTextParser, TokenType

    start = MTextContext()
    start.aci, start.cap_height = _BY_LAYER, height
    start.width_factor, start.oblique = plain.width, plain.oblique
    line: list[Run] = []
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


def _run(text: str, context: Any, start: Any, plain: Run) -> Run:
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


def _broken(words: list[Run], room: float) -> Iterator[list[Run]]:
    """Break a paragraph at spaces so that each line fits, as far as words do."""
    if sum(len(run.text) * _AS_LONG * run.height * abs(run.width) for run in words) <= room:
        yield _joined(words)  # without asking for a font
        return
    line: list[Run] = []
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


def _joined(words: list[Run]) -> list[Run]:
    """Neighbours of one look as one run, without spaces at the end of the line."""
    while words and not words[-1].text.strip(" "):
        words = words[:-1]
    texts = groupby(words, lambda run: replace(run, text=""))
    return [replace(look, text=_spaced(run.text for run in same)) for look, same in texts]


def _spaced(texts: Iterable[str]) -> str:
    return "".join(texts).replace("\N{NO-BREAK SPACE}", " ")
