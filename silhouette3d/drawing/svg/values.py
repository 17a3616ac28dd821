"""Numbers, lengths, viewports and transforms as an SVG file gives them."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from silhouette3d.base.units import MM_PER
from silhouette3d.drawing.model import Array

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
    "says_no_unit",
    "tidied",
    "transform",
    "view_box",
    "viewport",
]

# --- Numbers, lengths and viewports as attributes of an SVG file give them
#
# What cannot be read raises BadValueError with the reason; the caller knows
# which element it was.


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
    """Drop dots that end a number: SVG 1.1 allows ``10.``, later grammars do not."""
    return re.sub(r"(?<=\d)\.(?!\d)", "", text)


def numbers(text: str) -> list[float]:
    """Read numbers separated by blanks or commas.

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
    """Read a number and its unit in small letters, ``""`` when it has none."""
    match = _LENGTH.fullmatch(tidied(text).strip())
    if match is None:
        raise BadValueError(f"{text!r} is not a length")
    return _finite(match[1]), match[2].lower()


def is_relative(unit: str) -> bool:
    """Tell whether a unit depends on a font, a window or a container."""
    return _RELATIVE.fullmatch(unit) is not None


def is_zero(text: str) -> bool:
    """Tell whether a length or an opacity is nought; what is neither is not."""
    try:
        return measure(text)[0] == 0.0
    except BadValueError:
        return False


@dataclass(frozen=True)
class Lengths:
    """Rule by which lengths become user units in one viewport.

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
        """Read a length in user units."""
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
        """Read a length in user units; None if it cannot be read."""
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
        """Read a length among an element's values."""
        text = values.get(name, default)
        try:
            return self(default if text.strip().lower() == "auto" else text, axis)
        except BadValueError as error:
            raise BadValueError(f"{name}: {error}") from None

    def size(self, values: Mapping[str, str], name: str, axis: Axis, default: str = "0") -> float:
        """Read a length that must not be negative."""
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
    """Read the viewBox of an element, if it has one."""
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
    """Make the map, 3 × 3, of a viewBox into its viewport (SVG 2, §8.2 and §8.6).

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
        return _translation(x, y), replace(around, width=width, height=height), port
    if not (port and width and height):
        raise BadValueError("it has a viewBox but no width and height")
    return fitted(box, port, values), replace(around, width=box.width, height=box.height), port


def placed(values: Mapping[str, str], lengths: Lengths) -> Array:
    """Make the map, 3 × 3, of what a ``<use>`` draws to where it draws it."""
    return _translation(lengths.of(values, "x", "x"), lengths.of(values, "y", "y"))


# --- Transforms as attributes and style sheets of an SVG file give them
#
# What cannot be read raises BadValueError with the reason; the caller knows
# which element it was.


_FUNCTION: Final = re.compile(r"\s*,?\s*(\w+)\s*\(([^()]*)\)")
_DEGREES: Final = {"": 1.0, "deg": 1.0, "rad": 180.0 / math.pi, "grad": 0.9, "turn": 360.0}
_UNITLESS: Final = re.compile(r"[-+.\deE]*[1-9][-+.\deE]*")
_WORDS: Final = {"left": "0%", "top": "0%", "center": "50%", "right": "100%", "bottom": "100%"}


def transform(values: Mapping[str, str], lengths: Lengths) -> Array:
    """Give the map, 3 × 3, that an element's transform describes (CSS Transforms Level 1, §8).

    Parameters
    ----------
    values : mapping of str to str
        The element's attributes and what style sheets declare for it.
    lengths : Lengths
        Of the viewport, for the transform-origin.

    Raises
    ------
    BadValueError
        If the list cannot be read, or the element is moved by other means.
    """
    for name in ("translate", "rotate", "scale", "offset-path", "zoom"):
        if values.get(name, "none").lower() not in {"none", "normal", "auto"}:
            raise BadValueError(f"it is moved by the property {name!r}, which is not read")
    text = tidied(values.get("transform", "none")).strip()
    if text.lower() == "none" or not text:
        return np.eye(3)
    matrix, at = np.eye(3), 0
    with np.errstate(over="ignore", invalid="ignore"):
        while at < len(text):
            match = _FUNCTION.match(text, at)
            if match is None:
                raise BadValueError(f"its transform cannot be read at {text[at : at + 20]!r}")
            known, counts = _FUNCTIONS.get(match[1], (None, ()))
            arguments = _arguments(match[2])
            if known is None or len(arguments) not in counts:
                raise BadValueError(f"its transform holds {match[0].strip()!r}, which is not read")
            matrix = matrix @ known(arguments)
            at = match.end()
        x, y = _origin(values, lengths)
        if x or y:
            matrix = _translation(x, y) @ matrix @ _translation(-x, -y)
    return matrix


def says_no_unit(text: str) -> bool:
    """Tell whether a transform of a style sheet has lengths or angles without a unit.

    CSS passes over such a declaration (CSS Transforms Level 1, §8); in the attribute they are
    in user units and degrees.
    """
    return any(
        any(_UNITLESS.fullmatch(word) for word in re.split(r"[\s,]+", arguments.strip()))
        for name, arguments in _FUNCTION.findall(text)
        if not name.lower().startswith(("matrix", "scale"))
    )


def _arguments(text: str) -> list[str]:
    """Read words that are numbers, with or without a unit."""
    if re.search(r"\d\s*(?:[a-z]|%)", text.replace("e", "")) is None:
        return [repr(number) for number in numbers(text)]  # which may also stand close together
    return re.split(r"\s*,\s*|\s+", text.strip())


def _number(text: str) -> float:
    (number,) = numbers(text)
    return number


def _pixels(text: str) -> float:
    value, unit = measure(text)
    if unit not in {"", "px"}:
        raise BadValueError(f"its transform moves it by {text!r}, which is not read")
    return value


def _angle(text: str) -> float:
    value, unit = measure(text)
    if unit not in _DEGREES:
        raise BadValueError(f"its transform has an angle of {text!r}, which is not read")
    return value * _DEGREES[unit]


def _translation(x: float, y: float) -> Array:
    return np.array([[1.0, 0.0, x], [0.0, 1.0, y], [0.0, 0.0, 1.0]])


def _matrix(words: list[str]) -> Array:
    a, b, c, d, e, f = map(_number, words)
    return np.array([[a, c, e], [b, d, f], [0.0, 0.0, 1.0]])


def _translate(words: list[str]) -> Array:
    x, y = map(_pixels, [*words, "0"][:2])
    return _translation(x, y)


def _scale(words: list[str]) -> Array:
    x, y = _number(words[0]), _number(words[-1])
    return np.diag([x, y, 1.0])


def _rotate(words: list[str]) -> Array:
    turn = math.radians(_angle(words[0]))
    c, s = math.cos(turn), math.sin(turn)
    x, y = map(_number, words[1:] or ["0", "0"])
    about = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    return np.asarray(_translation(x, y) @ about @ _translation(-x, -y))


def _skew(words: list[str]) -> Array:
    x, y = (math.tan(math.radians(_angle(word))) for word in [*words, "0"][:2])
    return np.array([[1.0, x, 0.0], [y, 1.0, 0.0], [0.0, 0.0, 1.0]])


_FUNCTIONS: Final[Mapping[str, tuple[Callable[[list[str]], Array], tuple[int, ...]]]] = {
    "matrix": (_matrix, (6,)),
    "translate": (_translate, (1, 2)),
    "translateX": (_translate, (1,)),
    "translateY": (lambda words: _translate(["0", *words]), (1,)),
    "scale": (_scale, (1, 2)),
    "scaleX": (lambda words: _scale([*words, "1"]), (1,)),
    "scaleY": (lambda words: _scale(["1", *words]), (1,)),
    "rotate": (_rotate, (1, 3)),
    "skew": (_skew, (1, 2)),
    "skewX": (_skew, (1,)),
    "skewY": (lambda words: _skew(["0", *words]), (1,)),
}


def _origin(values: Mapping[str, str], lengths: Lengths) -> tuple[float, float]:
    """Find the point that stays (CSS Transforms Level 1, §6), by default 0,0 of the viewBox.

    As the reference box of a transform in SVG is the viewBox, or what the element itself fills,
    which would have to be measured first.
    """
    box = values.get("transform-box", "view-box").strip().lower()
    if box != "view-box":
        raise BadValueError(f"its transform-box is {box!r}, which is not read")
    words = values.get("transform-origin", "").replace(",", " ").lower().split() or ["0", "0"]
    if len(words) == 1:
        words.append("50%" if words[0] not in {"top", "bottom"} else "")
    if words[0] in {"top", "bottom"} or words[1] in {"left", "right"}:
        words[:2] = [words[1] or "50%", words[0]]
    x, y = (_WORDS.get(word, word) for word in words[:2])
    try:
        return lengths(x, "x"), lengths(y, "y")
    except BadValueError as error:
        raise BadValueError(f"transform-origin: {error}") from None
