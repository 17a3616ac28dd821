"""What may be declared of a drawing that gives no outline: every choice is tried."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import Final

from silhouette3d.drawing.choice import ATTRIBUTES, Choice, Offer, alone
from silhouette3d.drawing.drawing import Drawing, Shape
from silhouette3d.drawing.survey import Survey

__all__ = ["offers_of"]

MOST_ALONE: Final = 8
"""Layers, colours or linetypes that are each tried alone."""

MOST_CORNERS: Final = 20_000
"""Of a drawing for which choices are tried: each takes as long as reading it."""

MOST_LINES: Final = 2_000
"""Open ones, likewise: they have to be cut where they meet."""


def offers_of(
    drawing: Drawing,
    choice: Choice,
    survey: Survey,
    area_of: Callable[[Choice], float | None],
) -> tuple[Offer, ...]:
    """Try what may be declared instead of a choice that gives no outline.

    To ignore open lines, or to take the silhouette, is not offered where an open line goes
    round all that is closed, or more would be closed without gaps: what is closed is no part
    then, but a hole in it or a piece of it.

    Parameters
    ----------
    drawing : Drawing
        As read.
    choice : Choice
        What was declared.
    survey : Survey
        Of what was chosen.
    area_of : callable
        The area in mm² that a choice gives, None if none.
    """
    shapes = choice.shapes(drawing)
    if sum(map(len, survey.lines)) > MOST_CORNERS or survey.ends > 2 * MOST_LINES:
        return ()
    around = survey.is_cut_short or any(stray.is_around for stray in survey.strays)
    return tuple(_tried(shapes, choice, area_of, attributes_only=around))


def _tried(
    shapes: Sequence[Shape],
    choice: Choice,
    area_of: Callable[[Choice], float | None],
    attributes_only: bool,
) -> Iterator[Offer]:
    for attribute in ATTRIBUTES:
        ways = alone(choice, shapes, attribute)
        if len(ways) <= MOST_ALONE:
            for name, way in ways.items():
                if (area := area_of(way)) is not None:
                    yield Offer(attribute, name, area)
    if attributes_only:
        return
    if choice.open is None and (area := area_of(replace(choice, open="ignore"))) is not None:
        yield Offer("open", "ignore", area)
    if choice.take is None and (area := area_of(replace(choice, take="silhouette"))) is not None:
        yield Offer("take", "silhouette", area)
