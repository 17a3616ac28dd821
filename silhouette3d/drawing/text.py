"""Text as outlines: fonts of this machine, lines of letters, islands that would fall out."""

from __future__ import annotations

import logging
import os
import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from itertools import pairwise
from pathlib import PurePath
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from silhouette3d.base.extras import is_installed, need
from silhouette3d.drawing.choice import Choice
from silhouette3d.drawing.model import (
    Array,
    Bezier,
    Curve,
    Drawing,
    Line,
    Piece,
    Point,
    Shape,
    Writing,
)
from silhouette3d.errors import DrawingError
from silhouette3d.geometry.polygons import parts_of

if TYPE_CHECKING:
    from matplotlib.font_manager import FontEntry

__all__ = [
    "Font",
    "Letter",
    "Lettering",
    "TextAs",
    "find_font",
    "has_fonts",
    "left_out",
    "lettering_of",
    "unsettable",
]

# --- Fonts that are found on this machine by name, and their letters as true curves
#
# Letters stand at their own widths, from left to right: no kerning, no ligatures. Scripts
# that cannot be set so are told by `unsettable`.


CARRIED: Final = {
    "": "DejaVu Sans",
    "sans-serif": "DejaVu Sans",
    "serif": "DejaVu Serif",
    "monospace": "DejaVu Sans Mono",
}
"""Families that matplotlib brings along, by the generic names of CSS Fonts 4, 2.1.2."""

_REGULAR: Final = 400
_BOLD: Final = 700
_WEIGHTS: Final = {
    "ultralight": 100,
    "thin": 100,
    "extra light": 200,
    "light": 200,
    "book": 400,
    "normal": 400,
    "regular": 400,
    "medium": 500,
    "semibold": 600,
    "demibold": 600,
    "bold": 700,
    "heavy": 800,
    "extra bold": 800,
    "black": 900,
}
"""Weights that matplotlib calls by name."""

_FILE: Final = re.compile(r"\.(ttf|otf|ttc|otc|shx|pfb)$", re.IGNORECASE)
_SHAPED: Final = frozenset({"R", "AL"})
"""Bidirectional classes (Unicode Annex 9) of letters that run from right to left."""

_JOINED: Final = frozenset(
    {
        "BALINESE",
        "BENGALI",
        "DEVANAGARI",
        "GUJARATI",
        "GURMUKHI",
        "JAVANESE",
        "KANNADA",
        "KHMER",
        "LAO",
        "MALAYALAM",
        "MONGOLIAN",
        "MYANMAR",
        "ORIYA",
        "SINHALA",
        "SUNDANESE",
        "TAMIL",
        "TELUGU",
        "THAI",
        "TIBETAN",
    }
)
"""Scripts whose letters change or move beside others (Unicode, chapters 12 to 17, from memory)."""

Loop = tuple[Piece, ...]
"""Pieces, each beginning where the one before it ends, back to the start."""


@dataclass(frozen=True, eq=False)
class Font:
    """A font, opened.

    Parameters
    ----------
    name : str
        Family and style, for messages.
    path : str
        Its file.
    index : int
        Which font of a collection.
    """

    name: str
    path: str
    index: int = 0
    _loops: dict[str, tuple[Loop, ...]] = field(default_factory=dict, repr=False)

    @cached_property
    def _file(self) -> Any:
        from fontTools.ttLib import TTFont

        return TTFont(self.path, fontNumber=self.index, lazy=True)

    @cached_property
    def _names(self) -> dict[int, str]:
        return dict(self._file.getBestCmap() or {})

    @cached_property
    def _glyphs(self) -> Any:
        return self._file.getGlyphSet()

    @cached_property
    def _em(self) -> float:
        return float(self._file["head"].unitsPerEm)

    @cached_property
    def capitals(self) -> float:
        """Height of a capital H in em."""
        loops = self.loops("H") if ord("H") in self._names else ()
        return max((p[1] for loop in loops for piece in loop for p in _ends(piece)), default=0.7)

    def has(self, letter: str) -> bool:
        """Tell whether there is a glyph for a character."""
        return ord(letter) in self._names

    def advance(self, text: str) -> float:
        """Measure a line in em: the sum of its letters' own widths; 1 where it has no glyph."""
        glyphs = (self._names.get(ord(letter)) for letter in text)
        widths = (self._em if name is None else self._glyphs[name].width for name in glyphs)
        return sum(map(float, widths)) / self._em

    def loops(self, letter: str) -> tuple[Loop, ...]:
        """Make closed chains of a character's glyph in em, from its origin, filled nonzero."""
        if letter not in self._loops:
            from fontTools.pens.recordingPen import DecomposingRecordingPen

            pen = DecomposingRecordingPen(self._glyphs)
            self._glyphs[self._names[ord(letter)]].draw(pen)
            self._loops[letter] = tuple(_outline(pen.value, 1.0 / self._em))
        return self._loops[letter]


def find_font(names: str, *, bold: bool = False, italic: bool = False) -> tuple[Font, bool]:
    """Find a font by the names of families or files, else one that matplotlib carries.

    Parameters
    ----------
    names : str
        With commas between them, the most wanted first; without regard to case.
        Generic families of CSS are those that matplotlib carries.
    bold, italic : bool
        Which font of the family.

    Returns
    -------
    font : Font
    found : bool
        Whether it is one of those asked for.

    Raises
    ------
    DrawingError
        If the font's file cannot be read.
    MissingLibraryError
        If matplotlib is not installed, which finds fonts and carries those that every
        machine has.
    """
    need("pictures", "text that is cut", "matplotlib")
    for name in filter(None, (part.strip(" \t\"'") for part in names.split(","))):
        entries = _carried(name.casefold()) if name.casefold() in CARRIED else _entries(name)
        if entries:
            return _opened(_best(entries, bold=bold, italic=italic)), True
    return _opened(_best(_carried(""), bold=bold, italic=italic)), False


def has_fonts() -> bool:
    """Tell whether fonts can be found here."""
    return is_installed("matplotlib")


def unsettable(font: Font, text: str) -> Iterator[str]:
    """Yield each character that the font lacks, or that cannot stand for itself in a line."""
    for letter in dict.fromkeys(text):
        right_to_left = unicodedata.bidirectional(letter) in _SHAPED
        joined = unicodedata.name(letter, "").split(" ")[0] in _JOINED
        combining = unicodedata.category(letter) in {"Mn", "Me", "Cf"}
        if right_to_left or joined or combining or not font.has(letter):
            yield letter


@lru_cache(maxsize=256)
def _entries(name: str) -> tuple[FontEntry, ...]:
    """List what matplotlib's finder has under the name of a family or a file."""
    from matplotlib.font_manager import fontManager

    wanted, stem = name.casefold(), _FILE.sub("", PurePath(name.replace("\\", "/")).name).casefold()
    listed = [e for e in fontManager.ttflist if os.path.isfile(e.fname)]
    by_family = [e for e in listed if e.name.casefold() == wanted]
    by_file = [e for e in listed if PurePath(e.fname).stem.casefold() == stem]
    by_stem = [e for e in listed if _FILE.search(name) and e.name.casefold() == stem]
    return tuple(by_family or by_file or by_stem)


def _carried(generic: str) -> tuple[FontEntry, ...]:
    """List fonts that come with matplotlib itself, so that every machine has them."""
    from matplotlib import get_data_path

    return tuple(e for e in _entries(CARRIED[generic]) if e.fname.startswith(get_data_path()))


def _best(entries: tuple[FontEntry, ...], *, bold: bool, italic: bool) -> FontEntry:
    """Choose a family's upright regular font, or a bold or slanted one; always one choice."""

    def misses(entry: FontEntry) -> tuple[object, ...]:
        weight = entry.weight
        heavy = weight if isinstance(weight, int) else _WEIGHTS.get(str(weight).lower(), _REGULAR)
        wanted = _BOLD if bold else _REGULAR
        return (
            (entry.style != "normal") != italic,
            abs(heavy - wanted),
            entry.stretch != "normal",
            entry.variant != "normal",
            entry.fname,
        )

    return min(entries, key=misses)


@lru_cache(maxsize=32)
def _opened(entry: FontEntry) -> Font:
    from fontTools.ttLib import TTLibError

    style = {"normal": ""}.get(entry.style, f" {entry.style}")
    heavy = str(entry.weight)
    weight = " bold" if heavy in {"700", "bold"} else ""
    font = Font(f"{entry.name}{weight}{style}", entry.fname, int(getattr(entry, "index", 0)))
    logging.getLogger("fontTools").addHandler(logging.NullHandler())  # its remarks help nobody
    try:
        if font.capitals <= 0.0:
            raise ValueError("its capitals have no height")
    except (TTLibError, OSError, LookupError, ValueError, TypeError, ArithmeticError) as error:
        raise DrawingError(
            f"the font {font.name!r} cannot be read ({error})",
            where=font.path,
            todo="install it again, or turn the text into paths in the drawing program",
        ) from None
    return font


def _ends(piece: Piece) -> tuple[Point, Point]:
    return piece.start, piece.end


def _outline(drawn: Iterable[tuple[str, Sequence[Any]]], scale: float) -> Iterator[Loop]:
    """Make closed chains of what a glyph tells a pen; quadratic curves become cubic exactly."""
    from fontTools.pens.basePen import decomposeQuadraticSegment, decomposeSuperBezierSegment

    loop: list[Piece] = []
    at = first = (0.0, 0.0)
    for step, given in drawn:
        points = [(scale * p[0], scale * p[1]) for p in given if p is not None]
        if step == "moveTo":
            at = first = points[0]
        elif step == "lineTo":
            loop += [Line(at, points[0])] if points[0] != at else []
            at = points[0]
        elif step == "curveTo":
            for controls in decomposeSuperBezierSegment(points):
                loop.append(Bezier(at, *controls))
                at = controls[-1]
        elif step == "qCurveTo":
            if given[-1] is None:  # all its points lie off the curve
                at = first = _between(points[-1], points[0], 0.5)
                points.append(first)
            for control, end in decomposeQuadraticSegment(points):
                third = 2.0 / 3.0
                loop.append(
                    Bezier(at, _between(at, control, third), _between(end, control, third), end)
                )
                at = end
        else:  # closePath or endPath: what is filled is closed
            loop += [Line(at, first)] if at != first else []
            if loop:
                yield tuple(loop)
            loop = []


def _between(a: Point, b: Point, share: float) -> Point:
    return a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])


# --- Lines of text as outlines, and letters whose islands would fall out


TextAs = Literal["outline"]
"""What can be made of text."""

_SHOWN: Final = 40
"""Characters of a text that a message quotes."""


@dataclass(frozen=True)
class Letter:
    """One character of a line, as it lies in the drawing.

    Parameters
    ----------
    character, text : str
        It, and the whole line.
    curves : tuple of Curve
        Its loops in mm, to be filled nonzero.
    """

    character: str
    text: str
    curves: tuple[Curve, ...]


@dataclass(frozen=True)
class Lettering:
    """A drawing whose text has become outlines.

    Parameters
    ----------
    drawing : Drawing
        With the letters among its shapes, one shape for each line of text.
    letters : tuple of Letter
        All of them that leave a mark.
    """

    drawing: Drawing
    letters: tuple[Letter, ...]

    def fallen(self, area: MultiPolygon, tolerance: float) -> Iterator[str]:
        """Name the letters that hold an island of the outline, a sentence for each text.

        An island in the hole that a letter is, as in the middle of an O, is held by nothing.

        Parameters
        ----------
        area : MultiPolygon
            The outline.
        tolerance : float
            Largest gap between curves and chords, in mm.
        """
        islands = np.array(area.geoms)
        tree = shapely.STRtree(islands)
        found: dict[str, list[str]] = {}
        for letter in self.letters:
            counters = shapely.buffer(_counters(letter, tolerance), 2.0 * tolerance)
            if len(tree.query(counters, predicate="covers")[0]):
                found.setdefault(letter.text, []).append(letter.character)
        for text, characters in found.items():
            listed = ", ".join(characters)
            yield (
                f"islands fall out of letters of the text {_quoted(text)}: {listed}; a stencil "
                "typeface has bridges, or draw these letters as outlines with bridges of your own"
            )


def left_out(drawing: Drawing) -> Drawing:
    """Note in the drawing the text that nobody asked for."""
    count = len(drawing.writings)
    if not count:
        return drawing
    note = f"left out {count} line{'s' * (count > 1)} of text"
    return replace(drawing, notes=(*drawing.notes, note))


def lettering_of(drawing: Drawing, choice: Choice) -> Lettering:
    """Turn lines of text into outlines, with the fonts that they name or a note.

    Parameters
    ----------
    drawing : Drawing
        As read.
    choice : Choice
        By its layers and colours text is taken. It has no linetype: where linetypes are
        chosen, none is.

    Raises
    ------
    DrawingError
        If a character cannot be set.
    """
    shapes: list[Shape] = []
    letters: list[Letter] = []
    taken: dict[tuple[str, str], None] = {}
    for writing in _side_by_side(drawing.writings):
        if not _is_chosen(writing, choice):
            continue
        font, found = find_font(writing.font, bold=writing.bold, italic=writing.italic)
        if not found:
            taken[writing.font, font.name] = None
        line = tuple(_set(writing, font, str(drawing.path)))
        letters += line
        curves = tuple(curve for letter in line for curve in letter.curves)
        if curves:
            shapes.append(Shape(curves, "nonzero", writing.colour))
    notes = [_taken(asked, name) for asked, name in taken]
    if not letters:
        notes.append("there is no text there that could be cut")
    lettered = replace(drawing, shapes=(*drawing.shapes, *shapes), notes=(*drawing.notes, *notes))
    return Lettering(lettered, tuple(letters))


def _is_chosen(writing: Writing, choice: Choice) -> bool:
    layers = choice.without if choice.layers is None else choice.layers
    named = writing.layer.casefold() in {name.casefold() for name in layers}
    coloured = choice.colours is None or writing.colour in choice.colours
    return named == (choice.layers is not None) and coloured and choice.linetypes is None


def _side_by_side(writings: Sequence[Writing]) -> Iterator[Writing]:
    """Put lines that follow one another where the one before each ends, and anchor them as one."""
    starts = [i for i, writing in enumerate(writings) if not (i and writing.follows)]
    for first, last in pairwise([*starts, len(writings)]):
        group = writings[first:last]
        if len(group) == 1:
            yield group[0]
            continue
        steps = np.array([_step(writing) for writing in group])
        at = np.cumsum(steps, axis=0) - steps - group[0].anchor * steps.sum(axis=0)
        for writing, (u, v) in zip(group, at.tolist(), strict=True):
            *turned, e, f = writing.matrix
            a, b, c, d = turned
            yield replace(writing, matrix=(a, b, c, d, e + u, f + v), anchor=0.0, follows=False)


def _step(writing: Writing) -> tuple[float, float]:
    """Measure from where a line begins to where it ends, in mm."""
    font, _ = find_font(writing.font, bold=writing.bold, italic=writing.italic)
    length = font.advance(writing.text)
    return length * writing.matrix[0], length * writing.matrix[1]


def _taken(asked: str, name: str) -> str:
    if not asked.strip():
        return f"the text names no font: {name} was taken"
    return f"the font {asked!r} of the text is not on this machine: {name} was taken"


def _set(writing: Writing, font: Font, where: str) -> Iterator[Letter]:
    """Set the letters of a line where they stand; leave out what leaves no mark."""
    bad = "".join(unsettable(font, writing.text))
    if bad:
        raise DrawingError(
            f"{bad[:_SHOWN]!r} of the text {_quoted(writing.text)} cannot be set in {font.name}",
            where=f"{where}, layer {writing.layer!r}",
            todo="turn that text into paths in the drawing program",
        )
    length = font.advance(writing.text)
    a, b, c, d, e, f = writing.matrix
    across = up = 1.0 / font.capitals if writing.capitals else 1.0
    if writing.length is not None and length > 0.0:
        across, up = writing.length / length, writing.length / length if writing.uniform else up
    x = -writing.anchor * length
    for letter in writing.text:
        place = np.array([[a * across, c * up, e], [b * across, d * up, f]])
        place[:, 2] += x * place[:, 0]
        loops = font.loops(letter)
        if loops:
            yield Letter(letter, writing.text, _curves(loops, place, letter, writing))
        x += font.advance(letter)


def _curves(
    loops: Sequence[tuple[Piece, ...]], place: Array, letter: str, writing: Writing
) -> tuple[Curve, ...]:
    source = f"{letter!r} of the text {_quoted(writing.text)}"
    return tuple(Curve(loop, writing.layer, source).moved(place) for loop in loops)


def _counters(letter: Letter, tolerance: float) -> np.ndarray[tuple[int], np.dtype[np.object_]]:
    """Find the areas (n,) that the loops of a letter leave open inside it."""
    rings = [Polygon(curve.flatten(tolerance)[0]) for curve in letter.curves]
    signs = [1 if ring.exterior.is_ccw else -1 for ring in rings]
    whole = shapely.make_valid(np.array(rings))
    ink = [
        shapely.union_all([r for r, s in zip(whole, signs, strict=True) if s == sign])
        for sign in (1, -1)
    ]
    outer, inner = sorted(ink, key=shapely.area, reverse=True)
    area = shapely.difference(outer, inner)
    return np.array([Polygon(hole) for part in parts_of(area) for hole in part.interiors], object)


def _quoted(text: str) -> str:
    return repr(text if len(text) <= _SHOWN else text[: _SHOWN - 1] + "…")
