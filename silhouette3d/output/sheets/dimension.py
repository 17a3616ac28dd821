"""Dimensions in the manner of ISO 129-1: extension lines, a line with arrows, a text."""

from __future__ import annotations

from typing import Final, Literal

from silhouette3d.output.sheets.plot import Item, Pair, Plot, area, line, text_width, words
from silhouette3d.theme import INK, PALE_INK, PAPER

SIZE: Final = 6.5
"""Points of the text."""

LEVEL: Final = 6.0
"""mm of paper between two dimension lines, and from the picture to the first."""

_ARROW: Final = (1.9, 0.55)
"""mm: length and half the width of an arrow head."""

_PAST: Final = 1.0
"""mm by which extension lines pass the dimension line."""


def dimension(
    plot: Plot, start: Pair, end: Pair, side: Literal["below", "left"], level: int, text: str
) -> list[Item]:
    """The distance of two points across the picture (below it), or up it (to its left).

    Parameters
    ----------
    plot : Plot
        The picture.
    start, end : tuple of float
        In mm of the model.
    side : {"below", "left"}
        Where the dimension line runs.
    level : int
        1 for the line next to the picture, 2 for the one after it.
    text : str
        What is written on it, or behind its end where it is short.
    """
    flat = side == "below"
    x, y = plot.spot((plot.low[0], plot.low[1]))
    out = (y if flat else x) + (1.0 if flat else -1.0) * level * LEVEL
    a, b = plot.spot(start), plot.spot(end)
    feet = [a, b]
    ends: list[Pair] = [(a[0], out), (b[0], out)] if flat else [(out, a[1]), (out, b[1])]
    items = [_extension(foot, stop, flat) for foot, stop in zip(feet, ends, strict=True)]
    length = abs(b[0] - a[0]) if flat else abs(b[1] - a[1])
    items.append(line(ends, width=0.5))
    if length > 2.5 * _ARROW[0]:
        items += [_arrow(ends[0], ends[1]), _arrow(ends[1], ends[0])]
    else:
        items += [_arrow(e, _beyond(e, o, flat)) for e, o in (ends, ends[::-1])]
    if length >= text_width(text, SIZE) + 1.0:
        middle = ((ends[0][0] + ends[1][0]) / 2.0, (ends[0][1] + ends[1][1]) / 2.0)
        place = (middle[0], middle[1] - 1.4) if flat else (middle[0] - 1.4, middle[1])
        items.append(words(place, text, SIZE, upright=not flat))
    elif flat:
        far = max(ends[0][0], ends[1][0])
        items.append(words((far + 3.2, out), text, SIZE, anchor="left", fill=PAPER))
    else:
        high = min(ends[0][1], ends[1][1])
        items.append(
            words((out, high - 3.2), text, SIZE, anchor="bottom", upright=True, fill=PAPER)
        )
    return items


def _extension(foot: Pair, stop: Pair, flat: bool) -> Item:
    past = (stop[0], stop[1] + _PAST) if flat else (stop[0] - _PAST, stop[1])
    return line([foot, past], width=0.35, line=PALE_INK)


def _beyond(here: Pair, other: Pair, flat: bool) -> Pair:
    """A point further out than the end of a short dimension, for an arrow from outside."""
    i = 0 if flat else 1
    step = 1.0 if here[i] >= other[i] else -1.0
    return (here[0] + step, here[1]) if flat else (here[0], here[1] + step)


def _arrow(tip: Pair, away: Pair) -> Item:
    """A filled head at `tip`, on the line to `away`."""
    dx, dy = away[0] - tip[0], away[1] - tip[1]
    size = (dx * dx + dy * dy) ** 0.5 or 1.0
    dx, dy = dx / size, dy / size
    length, half = _ARROW
    back = (tip[0] + dx * length, tip[1] + dy * length)
    corners = [tip, (back[0] - dy * half, back[1] + dx * half)]
    corners.append((back[0] + dy * half, back[1] - dx * half))
    return area([[list(corner) for corner in corners]], fill=INK)
