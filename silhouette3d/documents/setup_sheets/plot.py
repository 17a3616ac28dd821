"""Lines, areas, words and dimensions of a picture on paper, as plain data for the template."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
import shapely
from numpy.typing import ArrayLike

from silhouette3d.geometry.polygons import parts_of
from silhouette3d.geometry.tolerances import GRID
from silhouette3d.presentation.theme import INK, PALE_INK, PAPER

# --- Lines, areas and words of a picture on paper, as plain data for the template
#
# A plot maps a rectangle of the model to millimetres of paper, x to the right and
# y down from the upper left corner, which is how the template draws.


Item = dict[str, Any]
Pair = tuple[float, float]
Anchor = Literal["center", "left", "right", "top", "bottom"]

_FINE: Final = 0.01
"""mm of paper: curves are drawn by straight pieces no further off than this."""


_LEAST: Final = 2.0
"""mm of paper left to the model where margins would take all the room."""


@dataclass(frozen=True)
class Plot:
    """A rectangle of the model on paper.

    Parameters
    ----------
    low, high : tuple of float
        Its corners in mm of the model, u to the right and v up.
    scale : float
        mm of paper for one mm of the model.
    margin : tuple of float
        mm of paper left, right, below and above, for dimensions and words.
    """

    low: Pair
    high: Pair
    scale: float
    margin: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)

    @classmethod
    def fitted(
        cls, low: Pair, high: Pair, room: Pair, margin: tuple[float, float, float, float]
    ) -> Plot:
        """Fit a plot, as large as it goes, into some room of paper, margins included, in mm."""
        left, right, below, above = margin
        across, up = (max(high[i] - low[i], GRID) for i in (0, 1))
        wide, tall = (max(r, _LEAST) for r in (room[0] - left - right, room[1] - below - above))
        scale = min(wide / across, tall / up)
        return cls(low, high, scale, margin)

    @property
    def size(self) -> Pair:
        """Width and height of the whole picture in mm of paper."""
        left, right, below, above = self.margin
        return (
            (self.high[0] - self.low[0]) * self.scale + left + right,
            (self.high[1] - self.low[1]) * self.scale + below + above,
        )

    def at(self, points: ArrayLike) -> Any:
        """Turn model points (n, 2) into lists of x and y on paper, in mm."""
        flat = np.asarray(points, float).reshape(-1, 2)
        x = (flat[:, 0] - self.low[0]) * self.scale + self.margin[0]
        y = (self.high[1] - flat[:, 1]) * self.scale + self.margin[3]
        return np.round(np.column_stack([x, y]), 3).tolist()

    def spot(self, point: ArrayLike) -> Pair:
        """Put one model point on paper."""
        ((x, y),) = self.at(point)
        return float(x), float(y)

    def area(self, shape: shapely.Geometry, **style: Any) -> Item:
        """Draw polygons with their holes."""
        thinned = shapely.simplify(shape, _FINE / self.scale)
        rings = [ring for p in parts_of(thinned) for ring in (p.exterior, *p.interiors)]
        return area([self.at(shapely.get_coordinates(ring))[:-1] for ring in rings], **style)

    def lines(self, shape: shapely.Geometry, **style: Any) -> list[Item]:
        """Open or closed lines."""
        thinned = shapely.get_parts(shapely.simplify(shape, _FINE / self.scale))
        return [line(self.at(shapely.get_coordinates(one)), **style) for one in thinned]

    def picture(self, *items: Item | Iterable[Item]) -> Item:
        """Make a picture for the template, grown where words reach beyond its margins."""
        flat = [one for some in items for one in ([some] if isinstance(some, dict) else some)]
        boxes = [(0.0, 0.0, *self.size), *(_words_box(i) for i in flat if i["kind"] == "words")]
        (x0, y0, _, _), (_, _, x1, y1) = np.min(boxes, axis=0), np.max(boxes, axis=0)
        return {
            "width": round(x1 - x0, 3),
            "height": round(y1 - y0, 3),
            "shift": [round(-x0, 3), round(-y0, 3)],
            "items": flat,
        }


def sketch(size: Pair, items: list[Item]) -> Item:
    """Make a picture of its own size in mm, for the template."""
    return {"width": size[0], "height": size[1], "shift": [0.0, 0.0], "items": items}


def area(rings: Sequence[Sequence[Sequence[float]]], **style: Any) -> Item:
    """Draw closed rings in mm of paper, filled by even and odd."""
    return {"kind": "area", "rings": list(rings), **_styled(style)}


def line(points: Sequence[Sequence[float]], **style: Any) -> Item:
    """Draw a chain of straight pieces in mm of paper."""
    return {"kind": "line", "points": list(points), **_styled({"line": INK, **style})}


def words(
    at: Pair,
    text: str,
    size: float = 7.0,
    *,
    anchor: Anchor = "center",
    upright: bool = False,
    colour: str = INK,
    bold: bool = False,
    fill: str | None = None,
) -> Item:
    """Put text at a place of paper in mm, its size in points.

    The anchor is what of the text lies at the place: its middle, or the middle
    of one of its sides as it is read on the page. Upright text reads from below.
    """
    return {
        "kind": "words",
        "at": [round(at[0], 3), round(at[1], 3)],
        "text": text,
        "size": size,
        "anchor": anchor,
        "upright": upright,
        "colour": colour,
        "bold": bold,
        "fill": fill,
    }


LETTER: Final = 0.66 * 0.3528
"""mm for a letter of a text of one point: DejaVu Sans is 0.6 of its size wide on average."""


def text_width(text: str, size: float) -> float:
    """Measure about how wide a text is, in mm, and not less than it is."""
    return len(text) * size * LETTER


def _words_box(item: Item) -> tuple[float, float, float, float]:
    """Bound words on paper: left, top, right and bottom in mm, about."""
    (x, y), size, anchor = item["at"], item["size"], item["anchor"]
    across, up = text_width(item["text"], size), 0.3528 * size
    if item["upright"]:
        across, up = up, across
    left = x - {"left": 0.0, "right": across}.get(anchor, across / 2.0)
    top = y - {"top": 0.0, "bottom": up}.get(anchor, up / 2.0)
    return left, top, left + across, top + up


def image(at: Pair, size: Pair, name: str) -> Item:
    """Lay a picture file under what comes later, its upper left corner at a place."""
    return {"kind": "image", "at": list(at), "size": list(size), "name": name}


def badge(at: Pair, letter: str, colour: str = INK) -> list[Item]:
    """Draw a letter in a disc."""
    return [disc(at, 2.5, fill=PAPER, line=colour, width=0.8), words(at, letter, 9.0, bold=True)]


def disc(at: Pair, radius: float, **style: Any) -> Item:
    """Draw a circle in mm of paper."""
    return {"kind": "disc", "at": list(at), "radius": radius, **_styled(style)}


def datum(at: Pair) -> list[Item]:
    """Draw the mark of a datum: a ring with a cross."""
    x, y = at
    return [
        disc(at, 1.5, fill=PAPER, line=INK, width=0.9),
        line([[x - 2.6, y], [x + 2.6, y]], width=0.9),
        line([[x, y - 2.6], [x, y + 2.6]], width=0.9),
    ]


def _styled(style: dict[str, Any]) -> dict[str, Any]:
    """Add the defaults: fill and line colours or none, width in points, dash by name."""
    return {"fill": None, "line": None, "width": 0.6, "dash": None, **style}


# --- Dimensions in the manner of ISO 129-1: extension lines, a line with arrows, a text


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
    """Dimension the distance of two points across the picture (below), or up it (left).

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
    """Put a point further out than the end of a short dimension, for an arrow from outside."""
    i = 0 if flat else 1
    step = 1.0 if here[i] >= other[i] else -1.0
    return (here[0] + step, here[1]) if flat else (here[0], here[1] + step)


def _arrow(tip: Pair, away: Pair) -> Item:
    """Draw a filled head at `tip`, on the line to `away`."""
    dx, dy = away[0] - tip[0], away[1] - tip[1]
    size = (dx * dx + dy * dy) ** 0.5 or 1.0
    dx, dy = dx / size, dy / size
    length, half = _ARROW
    back = (tip[0] + dx * length, tip[1] + dy * length)
    corners = [tip, (back[0] - dy * half, back[1] + dx * half)]
    corners.append((back[0] + dy * half, back[1] - dx * half))
    return area([[list(corner) for corner in corners]], fill=INK)
