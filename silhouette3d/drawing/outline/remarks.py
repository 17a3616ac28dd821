"""Sentences about what was done to a drawing on its way to an outline: its notes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from silhouette3d.base.units import figure
from silhouette3d.drawing.choice import Overlap
from silhouette3d.drawing.model import Point, Shape
from silhouette3d.drawing.outline.closing import Gap, Joined
from silhouette3d.drawing.outline.loops import SelfCrossing
from silhouette3d.drawing.outline.nesting import Common
from silhouette3d.drawing.outline.silhouette import Silhouette
from silhouette3d.geometry.tolerances import MERGE

__all__ = ["at_text", "declared", "left_out", "mended", "outermost", "repeats", "unseen"]


def at_text(point: Point) -> str:
    """Write a place in mm."""
    return f"({figure(point[0], 6)}, {figure(point[1], 6)})"


def outermost(found: Silhouette) -> str:
    """Tell what became of lines that are no border of a silhouette."""
    words = "the outermost closed region of everything drawn was taken"
    if found.inside:
        words += f"; {_lines(len(found.inside))} inside it {_were(len(found.inside))} left out"
    if found.loose:
        words += (
            f"; {_lines(len(found.loose))} that {'sticks' if len(found.loose) == 1 else 'stick'} "
            f"out of it or {'lies' if len(found.loose) == 1 else 'lie'} off it "
            f"{_were(len(found.loose))} dropped there"
        )
    return words


def left_out(joined: Joined) -> Iterator[str]:
    """Tell of lines that do not close and that the job says to ignore."""
    curves = joined.left_out
    if curves:
        count, does = len(curves), "does" if len(curves) == 1 else "do"
        where = f"the first from {at_text(curves[0].start)} to {at_text(curves[0].end)}"
        if joined.drawn is None:
            yield f"{_lines(count)} that {does} not close {_were(count)} left out, {where}"
        else:
            it = "it does" if count == 1 else "they do"
            yield f"{_lines(count)} {_were(count)} left out where {it} not close, {where}"


def unseen(shapes: Sequence[Shape]) -> Iterator[str]:
    """Tell of filled objects that lie on others of their colour."""
    if shapes:
        count, first = len(shapes), shapes[0].curves[0].source or "a loop"
        objects, are = ("object", "it is") if count == 1 else ("objects", "they are")
        yield (
            f"left out {count} filled {objects} within another of the same colour, as {are} not "
            f"seen there, the first {first}"
        )


def repeats(lines: bool, loops: int) -> Iterator[str]:
    """Tell of lines and loops drawn twice."""
    if lines:
        yield "lines that were drawn twice, in whole or in part, counted once"
    if loops:
        yield f"{loops} loop{'s' * (loops > 1)} drawn twice counted once"


def mended(gaps: Sequence[Gap], knots: Sequence[SelfCrossing]) -> Iterator[str]:
    """Tell of gaps that were joined and knots that were cut off."""
    gaps = [gap for gap in gaps if gap.width > MERGE]
    if gaps:
        widest = max(gaps, key=lambda gap: gap.width)
        yield (
            f"joined {len(gaps)} gap{'s' * (len(gaps) > 1)}, the widest "
            f"{figure(widest.width, 3)} mm at {at_text(widest.start)}"
        )
    if knots:
        thickest = max(knots, key=lambda knot: (knot.width, knot.reach))
        yield (
            f"cut off {len(knots)} knot{'s' * (len(knots) > 1)} where lines cross beside their "
            f"ends, the widest {figure(thickest.width, 2)} mm wide and "
            f"{figure(thickest.reach, 3)} mm long at {at_text(thickest.at)}"
        )


_DONE: dict[Overlap, str] = {
    "union": "united",
    "subtract": "taken from each other, the smaller from the larger",
    "even-odd": "taken where an odd number of them lies",
}


def declared(pairs: Sequence[Common], rule: Overlap | None) -> Iterator[str]:
    """Tell of loops that overlap, where the job says what to make of them."""
    if pairs and rule is not None:
        yield (
            f"loops that overlap in {_places(len(pairs))} were {_DONE[rule]}, as the job says; "
            f"the largest common area is at {at_text(pairs[0].at)}"
        )


def _places(count: int) -> str:
    return "1 place" if count == 1 else f"{count} places"


def _lines(count: int) -> str:
    return "1 line" if count == 1 else f"{count} lines"


def _were(count: int) -> str:
    return "was" if count == 1 else "were"
