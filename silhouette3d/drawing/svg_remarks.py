"""What was left out of a drawing, or read otherwise than it is seen, as sentences."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Final

from silhouette3d.number import figure

__all__ = ["WIDE", "Remarks"]

WIDE: Final = 0.5
"""mm. A stroke wider than this moves the seen edge by more than any kerf is known."""

_SENTENCES: Final = {
    "hidden": "ignored {} hidden object{s}",
    "unpainted": "ignored {} object{s} with neither fill nor stroke",
    "language": "read {} switch{es} of languages as where no language is asked for",
    "sizeless": "ignored {} object{s} without size",
    "cut": "cut off {} object{s} at the clip",
    "away": "ignored {} object{s} outside the clip",
    "whole": "read {} clipped or masked object{s} whole",
    "filtered": "read {} object{s} without the filter",
    "marked": "ignored the markers of {} object{s}",
}


class Remarks:
    """Counts what happens on one walk through a file."""

    def __init__(self) -> None:
        self._counts: Counter[str] = Counter()
        self._tags: Counter[str] = Counter()
        self._uses: Counter[str] = Counter()
        self._wide: list[float] = []

    def add(self, what: str) -> None:
        """Count one more of a kind of `_SENTENCES`."""
        assert what in _SENTENCES
        self._counts[what] += 1

    def ignore(self, tag: str, count: int = 1) -> None:
        """Count elements that can be no part of an outline."""
        self._tags[tag] += count

    def break_use(self, what: str) -> None:
        """Count a ``<use>`` of what is not there."""
        self._uses[what] += 1

    def stroke(self, width: float) -> None:
        """Note how wide a stroke is, in mm."""
        if width > WIDE:
            self._wide.append(width)

    def sentences(self, more: Iterable[str] = ()) -> Iterator[str]:
        """Say all of it, and `more` before what is wrong with uses."""
        if self._tags:
            yield "ignored " + ", ".join(f"{n} {tag}" for tag, n in self._tags.items())
        for what, text in _SENTENCES.items():
            if count := self._counts[what]:
                yield text.format(count, s="s" * (count > 1), es="es" * (count > 1))
        if self._wide:
            count = len(self._wide)
            yield (
                f"left the width of {count} stroke{'s' * (count > 1)} out of account, up to "
                f"{figure(max(self._wide), 3)} mm: the outline runs along the middle of a stroke"
            )
        yield from more
        yield from (f"ignored {n} use of {what}" for what, n in self._uses.items())
