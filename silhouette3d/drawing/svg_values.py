"""Numbers, lengths and viewports as attributes of an SVG file give them.

What cannot be read raises BadValueError with the reason; the caller knows
which element it was.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from silhouette3d.drawing.curve import Array
from silhouette3d.units import MM_PER

__all__ = [
    "ABSOLUTE",
    "PIXEL",
    "BadValueError",
    "Box",
    "Lengths",
    "fitted",
    "is_relative",
    "is_zero",
    "measure",
    "numbers",
    "placed",
    "tidied",
    "view_box",
    "viewport",
]

PIXEL: Final = MM_PER["in"] / 96.0
"""mm. "1in = 96px": CSS Values and Units Module Level 3, §6.2."""

ABSOLUTE: Final = {
    "mm": 1.0,
    "cm": 10.0,
    "q": 0.25,
    "in": MM_PER["in"],
    "pt": MM_PER["in"] / 72.0,
    "pc": MM_PER["in"] / 6.0,
}
"""mm in each absolute unit but px, from the same source."""

_RELATIVE: Final = re.compile(
    r"r?(em|ex|cap|ch|ic|lh)|[sld]?v(w|h|i|b|min|max)|cq(w|h|i|b|min|max)"
)
"""Units of a font, a window or a container: CSS Values and Units Module Level 4, §6.1."""

_NUMBER: Final = r"[-+]?(?:\d*\.)?\d+(?:[eE][-+]?\d+)?"
_NEXT_NUMBER: Final = re.compile(rf"\s*(,?)\s*({_NUMBER})")
_LENGTH: Final = re.compile(rf"({_NUMBER})\s*([a-zA-Z]*|%)")
_ASPECT: Final = re.compile(
    r"(?:defer\s+)?(?:none|x(Min|Mid|Max)Y(Min|Mid|Max))(?:\s+(meet|slice))?"
)
_SHARE: Final = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}

Axis = Literal["x", "y", "both"]


class BadValueError(ValueError):
    """An attribute says what cannot be read; the message tells why."""


def tidied(text: str) -> str:
    """Text without dots that end a number: SVG 1.1 allows ``10.``, later grammars do not."""
    return re.sub(r"(?<=\d)\.(?!\d)", "", text)


def numbers(text: str) -> list[float]:
    """Numbers separated by blanks or commas.

    >>> numbers("1,2 -3.5.5")
    [1.0, 2.0, -3.5, 0.5]
    """
    text = tidied(text).strip()
    found: list[float] = []
    at = 0
    while at < len(text):
        match = _NEXT_NUMBER.match(text, at)
        if match is None or (match[1] and not found):
            raise BadValueError(f"{text[at : at + 20]!r} is not a number")
        found.append(_finite(match[2]))
        at = match.end()
    return found


def _finite(text: str) -> float:
    value = float(text)
    if math.isinf(value):
        raise BadValueError(f"{text!r} is larger than any number")
    return value


def measure(text: str) -> tuple[float, str]:
    """A number and its unit in small letters, ``""`` when it has none."""
    match = _LENGTH.fullmatch(tidied(text).strip())
    if match is None:
        raise BadValueError(f"{text!r} is not a length")
    return _finite(match[1]), match[2].lower()


def is_relative(unit: str) -> bool:
    """Tell whether a unit depends on a font, a window or a container."""
    return _RELATIVE.fullmatch(unit) is not None


def is_zero(text: str) -> bool:
    """Whether a length or an opacity is nought; what is neither is not."""
    try:
        return measure(text)[0] == 0.0
    except BadValueError:
        return False


@dataclass(frozen=True)
class Lengths:
    """How lengths become user units in one viewport.

    Parameters
    ----------
    unit : float
        mm in one user unit, before any transform or viewBox.
    width, height : float, optional
        Of the viewport in user units, for percentages; None when not known.
    """

    unit: float = PIXEL
    width: float | None = None
    height: float | None = None

    def __call__(self, text: str, axis: Axis) -> float:
        """A length in user units."""
        value, unit = measure(text)
        if unit in {"", "px"}:
            return value
        if unit in ABSOLUTE:
            return value * ABSOLUTE[unit] / self.unit
        if unit == "%":
            return value / 100.0 * self._whole(text, axis)
        if not is_relative(unit):
            raise BadValueError(f"{text!r}: {unit!r} is no unit")
        raise BadValueError(f"{text!r} has a unit that depends on a font or a screen")

    def or_none(self, text: str, axis: Axis) -> float | None:
        """A length in user units; None if it cannot be read."""
        try:
            return self(text, axis)
        except BadValueError:
            return None

    def _whole(self, text: str, axis: Axis) -> float:
        w, h = self.width, self.height
        whole = {"x": w, "y": h}.get(axis)
        if axis == "both" and w is not None and h is not None:
            whole = math.hypot(w, h) / math.sqrt(2.0)  # SVG 2, §8.9
        if whole is None:
            raise BadValueError(f"{text!r} is a part of a page whose size is not given")
        return whole

    def of(self, values: Mapping[str, str], name: str, axis: Axis, default: str = "0") -> float:
        """A length among an element's values."""
        text = values.get(name, default)
        try:
            return self(default if text.strip().lower() == "auto" else text, axis)
        except BadValueError as error:
            raise BadValueError(f"{name}: {error}") from None

    def size(self, values: Mapping[str, str], name: str, axis: Axis, default: str = "0") -> float:
        """A length that must not be negative."""
        value = self.of(values, name, axis, default)
        if value < 0.0:
            raise BadValueError(f"{name} is negative ({value:g})")
        return value


@dataclass(frozen=True)
class Box:
    """A rectangle; y runs down, as everywhere in SVG."""

    x: float
    y: float
    width: float
    height: float


def view_box(values: Mapping[str, str]) -> Box | None:
    """The viewBox of an element, if it has one."""
    text = values.get("viewBox", "none").strip()
    if text == "none":
        return None
    found = numbers(text)
    if len(found) != len("xywh") or not min(found[2:]) > 0.0:
        raise BadValueError(
            f"its viewBox {text!r} is not x, y, width and height, both above nought"
        )
    return Box(*found)


def fitted(box: Box, port: Box, values: Mapping[str, str]) -> Array:
    """The map, 3 × 3, of a viewBox into its viewport (SVG 2, §8.2 and §8.6).

    Parameters
    ----------
    box, port : Box
        The viewBox, and the viewport in the units around it.
    values : mapping of str to str
        Of the element, for its ``preserveAspectRatio``.
    """
    aspect = values.get("preserveAspectRatio", "xMidYMid meet").strip()
    match = _ASPECT.fullmatch(aspect)
    if match is None:
        raise BadValueError(f"its preserveAspectRatio {aspect!r} is not known")
    sx, sy = port.width / box.width, port.height / box.height
    if match[1]:
        sx = sy = max(sx, sy) if match[3] == "slice" else min(sx, sy)
    left = (port.width - box.width * sx) * _SHARE.get(match[1], 0.0)
    top = (port.height - box.height * sy) * _SHARE.get(match[2], 0.0)
    return np.array(
        [[sx, 0.0, port.x - box.x * sx + left], [0.0, sy, port.y - box.y * sy + top], [0, 0, 1]]
    )


def viewport(values: Mapping[str, str], around: Lengths) -> tuple[Array, Lengths, Box | None]:
    """Give the map, 3 × 3, of an inner viewport into the one around it, and the lengths in it.

    And the viewport itself, in units around it, if its size is known.
    """

    def side(name: str, axis: Axis, whole: float | None) -> float | None:
        is_whole = values.get(name, "auto").strip().lower() in {"auto", "100%"}
        return whole if is_whole else around.size(values, name, axis)

    x, y = around.of(values, "x", "x"), around.of(values, "y", "y")
    width, height = side("width", "x", around.width), side("height", "y", around.height)
    box = view_box(values)
    port = None if width is None or height is None else Box(x, y, width, height)
    if box is None:
        return _shift(x, y), replace(around, width=width, height=height), port
    if not (port and width and height):
        raise BadValueError("it has a viewBox but no width and height")
    return fitted(box, port, values), replace(around, width=box.width, height=box.height), port


def placed(values: Mapping[str, str], lengths: Lengths) -> Array:
    """The map, 3 × 3, of what a ``<use>`` draws to where it draws it."""
    return _shift(lengths.of(values, "x", "x"), lengths.of(values, "y", "y"))


def _shift(x: float, y: float) -> Array:
    return np.array([[1.0, 0.0, x], [0.0, 1.0, y], [0.0, 0.0, 1.0]])
