"""Text of an SVG file as lines that begin where the drawing says (SVG 2, §11).

How far a line reaches only its font knows. So a stretch of text that is set in
another way than the one before it, but not put elsewhere, follows that one.
"""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import zip_longest
from typing import Final, NamedTuple

import numpy as np

from silhouette3d.base.limits import FARTHEST
from silhouette3d.drawing.model import Array, Writing
from silhouette3d.drawing.svg.document import local_name
from silhouette3d.drawing.svg.style import Cascade, Painter, SvgLook
from silhouette3d.drawing.svg.values import Axis, BadValueError, Lengths, tidied

__all__ = ["TextReader"]

_ANCHORS: Final = {"start": 0.0, "middle": 0.5, "end": 1.0}
_INNER: Final = frozenset(["tspan", "a"])
_HEAVY: Final = 600  # the weight from which a bold font is taken: CSS Fonts Level 4, §2.2


@dataclass(eq=False)
class _Character:
    """One character, how it looks, and where it is put."""

    text: str
    look: SvgLook
    kept: bool
    x: float | None = None
    y: float | None = None
    dx: float = 0.0
    dy: float = 0.0
    turn: float = 0.0


@dataclass(eq=False)
class _Span:
    """An element with text: its values and which characters are in it."""

    element: ET.Element
    values: Mapping[str, str]
    characters: list[_Character] = field(default_factory=list)


class _Run(NamedTuple):
    """Characters that are set in one line in one way, where they begin, and if they follow."""

    characters: list[_Character]
    x: float
    y: float
    follows: bool


class TextReader:
    """Reads the text elements of one file.

    Parameters
    ----------
    cascade : Cascade
        What is declared in it.
    painter : Painter
        Which of it is seen.
    ignore : callable
        Told of each element in a text that cannot be read.
    """

    def __init__(self, cascade: Cascade, painter: Painter, ignore: Callable[[str], None]) -> None:
        self._cascade, self._painter, self._ignore = cascade, painter, ignore

    def read(
        self, element: ET.Element, look: SvgLook, matrix: Array, lengths: Lengths, layer: str
    ) -> tuple[Writing, ...]:
        """Read one ``<text>``.

        Parameters
        ----------
        element : Element
            Of the file.
        look : SvgLook
            Of the element itself.
        matrix : Array
            3 × 3, from its user units to mm.
        lengths : Lengths
            Of its viewport.
        layer : str
            On which it lies.

        Raises
        ------
        BadValueError
            If a place in it cannot be read.
        """
        spans: list[_Span] = []
        self._gather(element, look, [], spans)
        characters = _collapsed(spans[0].characters)
        alive = set(map(id, characters))
        for span in spans:
            _place(span, [c for c in span.characters if id(c) in alive], lengths)
        found: list[Writing] = []
        lost = False  # where one is not seen, how long it is is not known either
        for run in _runs(characters):
            writing = self._writing(run, matrix, lengths, layer)
            lost = writing is None or (lost and run.follows)
            if writing is not None and not lost:
                found.append(writing)
            elif lost and run.follows and self._is_seen(run.characters[0].look):
                self._ignore("tspan")
        goes_on = [w.follows for w in found[1:]]
        return tuple(w for w, on in zip_longest(found, goes_on) if on or w.text.strip())

    def _gather(
        self,
        element: ET.Element,
        look: SvgLook,
        around: list[_Span],
        spans: list[_Span],
    ) -> None:
        """Add the characters of an element to its own span and to those around it."""
        span = _Span(element, self._cascade.values(element))
        spans.append(span)
        holders = [*around, span]

        def add(text: str | None) -> None:
            pre = look["white-space"].lower() in {"pre", "pre-wrap", "break-spaces"}
            for one in text or "":
                character = _Character(one, look, pre)
                for holder in holders:
                    holder.characters.append(character)

        add(element.text)
        for child in element:
            tag = local_name(child)
            if tag in _INNER:
                values = self._cascade.values(child)
                if values.get("display", "").strip().lower() != "none":
                    self._gather(child, look.within(values), holders, spans)
            elif tag not in {"", "title", "desc", "metadata", "style", "script", "animate", "set"}:
                self._ignore(tag)
            add(child.tail)

    def _is_seen(self, look: SvgLook) -> bool:
        return look.is_visible and bool(self._painter.fill(look) or self._painter.stroke(look))

    def _writing(self, run: _Run, matrix: Array, lengths: Lengths, layer: str) -> Writing | None:
        """Read one stretch of text; None if it is not seen."""
        first = run.characters[0]
        look = first.look
        paint = self._painter.fill(look) or self._painter.stroke(look)
        size = lengths.or_none(look["font-size"], "y") or 0.0
        if paint is None or not look.is_visible or not size > 0.0:
            return None
        cos, sin = math.cos(math.radians(first.turn)), math.sin(math.radians(first.turn))
        laid = [[size * cos, size * sin, run.x], [size * sin, -size * cos, run.y], [0.0, 0.0, 1.0]]
        with np.errstate(over="ignore", invalid="ignore"):
            (a, c, e), (b, d, f) = (matrix @ laid)[:2].tolist()
        if not all(abs(part) <= FARTHEST for part in (a, b, c, d, e, f)):
            raise BadValueError(f"it goes beyond {FARTHEST:g} mm")
        weight = look["font-weight"].lower()
        return Writing(
            "".join(character.text for character in run.characters),
            (a, b, c, d, e, f),
            ", ".join(name.strip(" '\"") for name in look["font-family"].split(",")),
            layer,
            paint.colour,
            anchor=_ANCHORS.get(look["text-anchor"].lower(), 0.0),
            bold=weight in {"bold", "bolder"} or (weight.isdigit() and int(weight) >= _HEAVY),
            italic=look["font-style"].lower().startswith(("italic", "oblique")),
            follows=run.follows,
        )


def _collapsed(characters: Sequence[_Character]) -> list[_Character]:
    """Drop the blanks that are not shown (CSS Text Level 3, §4.1.1)."""
    found: list[_Character] = []
    for c in characters:
        if c.text in "\n\r\t":
            c.text = " "
        if c.text == " " and not c.kept and (not found or found[-1].text == " "):
            continue
        found.append(c)
    if found and found[-1].text == " " and not found[-1].kept:
        found.pop()
    return found


def _place(span: _Span, characters: Sequence[_Character], lengths: Lengths) -> None:
    """Put characters where an element says; what lies further in overrides it later."""
    axes: Mapping[str, Axis] = {"x": "x", "y": "y", "dx": "x", "dy": "y"}
    for name, axis in axes.items():
        for character, word in zip(characters, _words(span.values.get(name, "")), strict=False):
            try:
                setattr(character, name, lengths(word, axis))
            except BadValueError as error:
                raise BadValueError(f"{name}: {error}") from None
    turns = _words(span.element.get("rotate", ""))
    for i, character in enumerate(characters if turns else ()):
        try:
            character.turn = float(turns[min(i, len(turns) - 1)])
        except ValueError:
            raise BadValueError(f"rotate: {turns[min(i, len(turns) - 1)]!r} is no angle") from None


def _words(text: str) -> list[str]:
    return re.split(r"\s*,\s*|\s+", tidied(text).strip()) if text.strip() else []


def _runs(characters: Sequence[_Character]) -> Iterator[_Run]:
    """Part a text where it is put elsewhere, or set in another way."""
    run = _Run([], 0.0, 0.0, follows=False)
    for c in characters:
        here = run.characters
        moved = c.x is not None or c.y is not None or bool(c.dx or c.dy)
        if moved or not here or c.turn or here[-1].turn or _set_otherwise(c.look, here[-1].look):
            if here:
                yield run
            x, y = (old if new is None else new for old, new in ((run.x, c.x), (run.y, c.y)))
            # one that is put at another height only goes on from where the last one ends
            run = _Run([], x + c.dx, y + c.dy, follows=bool(here) and c.x is None)
        run.characters.append(c)
    if run.characters:
        yield run


def _set_otherwise(one: SvgLook, other: SvgLook) -> bool:
    names = ("font-family", "font-size", "font-style", "font-weight", "fill", "stroke", "color")
    return one is not other and any(
        one[name] != other[name] for name in (*names, "fill-opacity", "visibility")
    )
