"""Lines of text as outlines, and letters whose islands would fall out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final, Literal

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from silhouette3d.drawing.choice import Choice
from silhouette3d.drawing.curve import Array, Curve, Piece
from silhouette3d.drawing.drawing import Drawing, Shape, Writing
from silhouette3d.drawing.font import Font, find_font, unsettable
from silhouette3d.errors import DrawingError

__all__ = ["Letter", "Lettering", "TextAs", "left_out", "lettering_of"]

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
    """The drawing with a note of the text that nobody asked for."""
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
    """From where a line begins to where it ends, in mm."""
    font, _ = find_font(writing.font, bold=writing.bold, italic=writing.italic)
    length = font.advance(writing.text)
    return length * writing.matrix[0], length * writing.matrix[1]


def _taken(asked: str, name: str) -> str:
    if not asked.strip():
        return f"the text names no font: {name} was taken"
    return f"the font {asked!r} of the text is not on this machine: {name} was taken"


def _set(writing: Writing, font: Font, where: str) -> Iterator[Letter]:
    """The letters of a line where they stand; what leaves no mark is left out."""
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
    """The areas (n,) that the loops of a letter leave open inside it."""
    rings = [Polygon(curve.flatten(tolerance)[0]) for curve in letter.curves]
    signs = [1 if ring.exterior.is_ccw else -1 for ring in rings]
    whole = shapely.make_valid(np.array(rings))
    ink = [
        shapely.union_all([r for r, s in zip(whole, signs, strict=True) if s == sign])
        for sign in (1, -1)
    ]
    outer, inner = sorted(ink, key=shapely.area, reverse=True)
    area = shapely.difference(outer, inner)
    parts = [p for p in shapely.get_parts(area) if isinstance(p, Polygon)]
    return np.array([Polygon(hole) for part in parts for hole in part.interiors], object)


def _quoted(text: str) -> str:
    return repr(text if len(text) <= _SHOWN else text[: _SHOWN - 1] + "…")
