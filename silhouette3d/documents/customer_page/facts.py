"""The part in words, numbers and three views, in the job's unit first, then the other."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Final

import shapely
from shapely import MultiPolygon

from silhouette3d.base.quantities import (
    GRAMS_PER,
    MASS_DIGITS,
    OTHER,
    density_text,
    mass_text,
    mass_unit,
    size_text,
)
from silhouette3d.base.units import Unit, figure, padded, percent
from silhouette3d.documents.pictures.caption import stock_text
from silhouette3d.errors import OutputError
from silhouette3d.geometry.frames import VIEWS
from silhouette3d.geometry.polygons import parts_of

if TYPE_CHECKING:
    from silhouette3d.model.results import Results

# --- What the page says of the part in words and numbers: the job's unit first, then the other


_SCALE_LIMIT: Final = 1e6
"""That of exported meshes."""


@dataclass(frozen=True)
class Fact:
    """A word, its value, and more in small print."""

    word: str
    value: str
    more: str = ""


def facts_of(part: Results, scale: float = 1.0) -> tuple[Fact, ...]:
    """Gather what a customer asks for."""
    unit, other = part.job.units, OTHER[part.job.units]
    size, error = part.solid.size, part.measures.mass_error
    material = part.material.name if part.material else "not named"
    pieces = len(part.solid.bodies)
    rows = [
        Fact(
            "Size",
            size_text(size, unit),
            size_text(size, other),
        ),
        Fact(
            "Weight",
            weight_text(part.mass, error, unit),
            weight_text(part.mass, error, other),
        ),
        Fact("Material", material, density_text(part.density, "mm")),
    ]
    if pieces > 1:
        rows.append(Fact("Pieces", str(pieces), "weighed together"))
    rows.append(
        Fact("Cut from", stock_text(part), f"{percent(part.share_removed, 0)} of it cut away")
    )
    if scale != 1.0:
        ready = [scale * mm for mm in size]
        more = f"{size_text(ready, unit)} ({size_text(ready, other)})"
        rows.append(Fact("Mock-up", scale_text(scale), more))
    return tuple(rows)


def note_of(part: Results, scale: float = 1.0) -> str:
    """Tell what the numbers are of, and how far they can be trusted."""
    words = "Sizes are width × depth × height. "
    if scale != 1.0:
        words += "Size and weight are those of the finished part. "
    if part.measures.mass_error > 0.0:
        words += "The ± covers how curves are rounded in the calculation. "
    return words + "The density is a typical one: the scales have the last word."


def weight_text(grams: float, error: float, unit: Unit) -> str:
    """Tell a mass with a bound on its error: g or kg, or oz or lb (avoirdupois).

    The bound covers the rounding of what is shown, too.

    >>> weight_text(113.2736, 0.2292, "mm"), weight_text(96.0, 0.0, "mm")
    ('113.3 g ± 0.3 g', '96 g')
    """
    if error <= 0.0:
        return mass_text(grams, unit)
    name = mass_unit(grams, unit)
    value = grams / GRAMS_PER[name]
    decimals = max(0, MASS_DIGITS - 1 - math.floor(math.log10(value)))
    shown = padded(value, decimals)
    off = error / GRAMS_PER[name] + abs(value - float(shown))
    bound = math.ceil(off * 10.0**decimals) / 10.0**decimals
    return f"{shown} {name} ± {padded(bound, decimals)} {name}"


def scale_text(scale: float) -> str:
    """Tell a scale as drawings state it: 2:1 enlarges, 1:2 reduces (ISO 5455, from memory).

    >>> scale_text(2.0), scale_text(0.5), scale_text(0.3)
    ('2:1', '1:2', '1:3.333')
    """
    return f"{figure(scale)}:1" if scale >= 1.0 else f"1:{figure(1.0 / scale)}"


def check_scale(scale: float, where: str) -> None:
    """Refuse a scale that no mock-up can have.

    Raises
    ------
    OutputError
        If it is not a number within reason.
    """
    if not 1.0 / _SCALE_LIMIT <= scale <= _SCALE_LIMIT:
        raise OutputError(
            f"the scale is {scale}",
            where=where,
            todo=f"give a number from {1 / _SCALE_LIMIT:g} to {_SCALE_LIMIT:g}",
        )


# --- Three views of a part as SVG: its shadows, laid out in third-angle projection, with its size


WIDTH: Final = 420.0
"""Of the drawing, in its own units: on a telephone about one to a pixel."""

_TALLEST: Final = 430.0
_LEFT: Final = 100.0
_RIGHT: Final = 12.0
_GAP: Final = 36.0
_HEAD: Final = 24.0
_FOOT: Final = 54.0
_LABEL: Final = 78.0
"""Room for two lines of a dimension's text."""

_ARROW: Final = 7.0
_OFF: Final = 14.0
"""From a view to its dimension line."""


@dataclass(frozen=True)
class Placed:
    """A view on the drawing: its shadow in mm and the box that it fills, y downwards."""

    title: str
    shadow: MultiPolygon
    left: float
    top: float
    scale: float

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the box."""
        u0, v0, u1, v1 = shapely.bounds(self.shadow)
        return float(u1 - u0) * self.scale, float(v1 - v0) * self.scale

    @property
    def path(self) -> str:
        """The shadow as path data."""
        u0, _, _, v1 = shapely.bounds(self.shadow)

        def ring(line: shapely.LinearRing) -> str:
            points = shapely.get_coordinates(line)[:-1]
            at = (
                f"{self.left + (u - u0) * self.scale:.2f} {self.top + (v1 - v) * self.scale:.2f}"
                for u, v in points
            )
            return "M" + "L".join(at) + "Z"

        return "".join(ring(r) for p in parts_of(self.shadow) for r in (p.exterior, *p.interiors))


def views_svg(part: Results) -> str:
    """Draw the front, the right view beside it and the top view above it, with three dimensions."""
    unit = part.job.units
    x, y, z = (float(mm) for mm in part.solid.size)
    room_across = WIDTH - _LEFT - _GAP - _RIGHT
    room_up = _TALLEST - 2 * _HEAD - _GAP - _FOOT
    beside = room_across - _LABEL  # where the other view is narrower than its label
    scale = min(room_across / (x + y), beside / x, beside / y, room_up / (y + z))
    across = max(scale * x, _LABEL), max(scale * y, _LABEL)
    spare = max(0.0, room_across - sum(across)) / 2.0
    first = _LEFT + spare
    second = first + across[0] + _GAP
    upper, lower = _HEAD, _HEAD + scale * y + _GAP + _HEAD

    def placed(name: str, column: float, width: float, top: float, wide: float) -> Placed:
        shadow = part.solid.shadow(VIEWS[name])
        return Placed(name.capitalize(), shadow, column + (width - wide) / 2.0, top, scale)

    front = placed("front", first, across[0], lower, scale * x)
    top = placed("top", first, across[0], upper, scale * x)
    right = placed("right", second, across[1], lower, scale * y)
    high = lower + max(scale * z, 30.0) + _FOOT
    body = [
        *(line for view in (top, front, right) for line in _view(view)),
        *_across(front, x, unit),
        *_across(right, y, unit),
        *_upright(front, z, unit),
        _symbol(second + across[1] / 2.0, upper + 24.0),
    ]
    words = escape(
        f"Front, right and top view. The part is {size_text((x,), unit)} wide, "
        f"{size_text((y,), unit)} deep and {size_text((z,), unit)} high.",
        quote=True,
    )
    return (
        f'<svg viewBox="0 0 {WIDTH:g} {high:.1f}" role="img" aria-label="{words}">\n'
        + "\n".join(body)
        + "\n</svg>"
    )


def _view(view: Placed) -> Iterator[str]:
    middle = view.left + view.size[0] / 2.0
    yield f'<text class="title" x="{middle:.1f}" y="{view.top - 8:.1f}">{view.title}</text>'
    yield f'<path class="shape" d="{view.path}"/>'


def _across(view: Placed, mm: float, unit: Unit) -> Iterator[str]:
    """Draw a width, below its view."""
    left, right = view.left, view.left + view.size[0]
    bottom = view.top + view.size[1]
    at, middle = bottom + _OFF, (left + right) / 2.0
    for x in (left, right):
        yield _line(x, bottom + 3.0, x, at + 4.0)
    yield _line(left, at, right, at)
    head = min(_ARROW, (right - left) / 3.0)
    yield _arrow((left, at), (left + head, at + head / 4), (left + head, at - head / 4))
    yield _arrow((right, at), (right - head, at + head / 4), (right - head, at - head / 4))
    yield from _label(middle, at + 16.0, mm, unit)


def _upright(view: Placed, mm: float, unit: Unit) -> Iterator[str]:
    """Draw a height, to the left of its view."""
    top, bottom = view.top, view.top + view.size[1]
    at, middle = view.left - _OFF, (top + bottom) / 2.0
    for y in (top, bottom):
        yield _line(view.left - 3.0, y, at - 4.0, y)
    yield _line(at, top, at, bottom)
    head = min(_ARROW, (bottom - top) / 3.0)
    yield _arrow((at, top), (at + head / 4, top + head), (at - head / 4, top + head))
    yield _arrow((at, bottom), (at + head / 4, bottom - head), (at - head / 4, bottom - head))
    yield from _label(at - _LABEL / 2.0 - 4.0, middle - 3.0, mm, unit)


def _label(x: float, y: float, mm: float, unit: Unit) -> Iterator[str]:
    other = size_text((mm,), OTHER[unit])
    yield f'<text x="{x:.1f}" y="{y:.1f}">{size_text((mm,), unit)}</text>'
    yield f'<text class="other" x="{x:.1f}" y="{y + 15.0:.1f}">({other})</text>'


def _line(x0: float, y0: float, x1: float, y1: float) -> str:
    return f'<path class="thin" d="M{x0:.1f} {y0:.1f}L{x1:.1f} {y1:.1f}"/>'


def _arrow(*points: tuple[float, float]) -> str:
    return '<path class="arrow" d="M' + "L".join(f"{x:.1f} {y:.1f}" for x, y in points) + 'Z"/>'


def _symbol(x: float, y: float) -> str:
    """Draw a cone cut short, seen on its small end and from the side.

    The sign of third-angle projection (ISO 5456-2, its drawing from memory).
    """
    return (
        f'<g transform="translate({x:.1f} {y:.1f})"><title>Third-angle projection</title>'
        '<circle class="thin" cx="-22" cy="0" r="12"/><circle class="thin" cx="-22" cy="0" r="6"/>'
        '<path class="thin" d="M4 -6L32 -12V12L4 6Z"/>'
        '<path class="thin" d="M-38 0H38M-22 -16V16"/></g>'
    )
