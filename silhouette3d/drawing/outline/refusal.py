"""Refusals of drawings that give no outline, in words: how it is, and what fits to do about it."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from typing import Final

from silhouette3d.base.quantities import area_text
from silhouette3d.base.units import CLOSE_GAP, MM_PER, Unit, figure
from silhouette3d.drawing.choice import Offer
from silhouette3d.drawing.model import Curve, Drawing, Point
from silhouette3d.drawing.outline.survey import EndKind, OpenEnd, Stray, StrayKind, Survey
from silhouette3d.errors import DrawingError

__all__ = ["crosses_itself", "not_closed", "place_text"]

_STRAYS: Final[dict[StrayKind, tuple[str, str]]] = {
    "through": ("a line runs through a closed outline", "{} lines run through a closed outline"),
    "ends on": ("a line ends on a closed outline", "{} lines end on a closed outline"),
    "inside": ("1 open line inside a closed outline", "{} open lines inside a closed outline"),
    "outside": (
        "1 open line outside the closed outline",
        "{} open lines outside the closed outline",
    ),
}
"""Of one, and of more."""

_ENDS: Final[dict[EndKind, str]] = {
    "gap": "at a gap",
    "on a line": "on another line",
    "inside": "inside a closed region",
    "outside": "outside all that is closed",
}

_WHY: Final = {
    "open": "leave out lines that do not close",
    "take": "take the outermost closed region of everything drawn",
}

_MOST_PLACES: Final = 3


def place_text(point: Point, drawing: Drawing) -> str:
    """Write a place as a person finds it: in the file's own unit, and in mm.

    >>> from pathlib import Path
    >>> place_text((25.4, 12.7), Drawing(Path("a.dxf"), (), "inch", True, mm_per_unit=25.4))
    '(1, 0.5) inch = (25.4, 12.7) mm'
    """
    mm = f"({figure(point[0], 6)}, {figure(point[1], 6)}) mm"
    per = drawing.mm_per_unit
    if per == 1.0:
        return mm
    own = f"({figure(point[0] / per, 6)}, {figure(point[1] / per, 6)})"
    return f"{own} {drawing.unit.partition(' (')[0]} = {mm}"


def not_closed(drawing: Drawing, survey: Survey) -> DrawingError:
    """Say why lines do not close, and what fits to do about it."""

    def at(point: Point) -> str:
        return place_text(point, drawing)

    what = "; ".join([*_faults(survey, at), *_counts(survey)])
    if drawing.path.suffix.lower() in {".svg", ".svgz"}:
        what += "; places count from the lower left corner of the page"
    layers = {stray.layer for stray in survey.strays} or {m.layer for m in survey.meetings}
    where = _where(drawing, layers)
    return DrawingError(what, where=where, todo="; ".join(_advice(drawing, survey)), about=survey)


def crosses_itself(drawing: Drawing, loop: Curve, survey: Survey) -> DrawingError:
    """Say where a loop crosses itself."""
    assert survey.crossing is not None
    todo = "trim the lines there so that the outline goes round once"
    return DrawingError(
        f"the outline crosses itself at {place_text(survey.crossing, drawing)} "
        f"({loop.source or 'a loop'})",
        where=_where(drawing, {loop.layer}),
        todo="; ".join([todo, *_offered(drawing, survey.offers)]),
        about=survey,
    )


def _where(drawing: Drawing, layers: Collection[str]) -> str:
    """Name the file, and the layer if it is one and has a name."""
    named = next(iter(layers)) if len(layers) == 1 else ""
    return f"{drawing.path}, layer {named!r}" if named else str(drawing.path)


def _faults(survey: Survey, at: Callable[[Point], str]) -> Iterator[str]:
    gaps = _gaps(survey.open_ends)
    if gaps:
        widest = max(gaps, key=lambda pair: pair[0].width)
        one, other = widest
        count = f"{len(gaps)} gaps, the widest" if len(gaps) > 1 else "a gap"
        yield (
            f"the outline is open: {count} of {figure(one.width, 4)} mm between {_named(one)} at "
            f"{at(one.at)} and {_named(other)} at {at(other.at)}"
        )
    if survey.region.is_empty and survey.strays and not gaps:
        end = min(survey.open_ends, key=lambda one: one.width)
        words = f"the outline is open: {_named(end)} ends at {at(end.at)}"
        if end.nearest is not None:
            words += (
                f", the nearest loose end is at {at(end.nearest)}, {figure(end.width, 4)} mm away"
            )
        elif len(survey.open_ends) > 1:
            words += f" and {at(survey.open_ends[1].at)}"
        yield words
    elif not survey.region.is_empty:
        for kind, (single, several) in _STRAYS.items():
            strays = [stray for stray in survey.strays if stray.kind == kind]
            if strays:
                words = single if len(strays) == 1 else several.format(len(strays))
                yield f"{words}, {_places(strays, at)}"
    if not survey.strays and survey.meetings:
        first, more = survey.meetings[0], len(survey.meetings) - 1
        yield (
            f"{first.lines} lines meet at {at(first.at)}, so it is not clear where the outline "
            f"goes on{f' (an odd number meets at {more} more places)' if more > 1 else ''}"
            f"{' (an odd number meets at 1 more place)' if more == 1 else ''}"
        )


def _gaps(ends: Sequence[OpenEnd]) -> list[tuple[OpenEnd, OpenEnd]]:
    """Pair ends that were meant to meet, each once."""
    by_place = {end.at: end for end in ends}
    found: dict[frozenset[Point], tuple[OpenEnd, OpenEnd]] = {}
    for end in ends:
        if end.kind == "gap" and end.nearest is not None:
            found.setdefault(frozenset({end.at, end.nearest}), (end, by_place[end.nearest]))
    return list(found.values())


def _places(strays: Sequence[Stray], at: Callable[[Point], str]) -> str:
    shown = [f"{_named(stray)} with an end at {at(stray.at)}" for stray in strays[:_MOST_PLACES]]
    more = len(strays) - len(shown)
    return ", ".join(shown) + (f" and {more} more" if more else "")


def _named(one: OpenEnd | Stray) -> str:
    return one.source or "a line"


def _counts(survey: Survey) -> Iterator[str]:
    """Count how many of how many ends are open, and where they lie."""
    count = len(survey.open_ends)
    if count:
        kinds = [
            (sum(e.kind == kind for e in survey.open_ends), words) for kind, words in _ENDS.items()
        ]
        sorted_out = ", ".join(f"{n} {words}" for n, words in kinds if n)
        verb = "is" if count == 1 else "are"
        yield f"{count} of {survey.ends} line ends {verb} open: {sorted_out}"
    meetings = len(survey.meetings)
    if meetings and survey.strays:
        yield f"an odd number of lines meets at {meetings} place{'s' * (meetings > 1)}"


def _advice(drawing: Drawing, survey: Survey) -> Iterator[str]:
    kinds = {stray.kind for stray in survey.strays}
    if "gap" in kinds:
        several = len(_gaps(survey.open_ends)) > 1
        yield (
            f"join the {'ends at each gap' if several else 'two ends'}; gaps up to "
            f"{CLOSE_GAP:g} mm are closed by themselves"
        )
    elif survey.region.is_empty and survey.strays:
        yield "draw what is missing between the ends"
        if drawing.path.suffix.lower() in {".svg", ".svgz"}:
            yield (
                "or if the line itself is meant, as wide as it is drawn, convert strokes to paths "
                "in the program that drew it: a stroke has no area"
            )
    elif survey.offers:
        yield "remove what does not belong to the outline"
    else:
        yield "remove the line that does not belong to the outline, or move it to another layer"
    yield from _offered(drawing, survey.offers)


def _offered(drawing: Drawing, offers: Sequence[Offer]) -> Iterator[str]:
    if offers:
        unit: Unit = "in" if drawing.mm_per_unit == MM_PER["in"] else "mm"
        said = [
            f'{offer.key} = "{offer.value}"'
            + (f" to {_WHY[offer.key]}" if offer.key in _WHY else "")
            + f" ({area_text(offer.area, unit)})"
            for offer in offers
        ]
        yield "or set in this profile " + ", or ".join(said)
