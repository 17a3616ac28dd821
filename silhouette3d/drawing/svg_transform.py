"""Transforms as attributes and style sheets of an SVG file give them.

What cannot be read raises BadValueError with the reason; the caller knows
which element it was.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from typing import Final

import numpy as np

from silhouette3d.drawing.curve import Array
from silhouette3d.drawing.svg_values import BadValueError, Lengths, measure, numbers, tidied

__all__ = ["says_no_unit", "transform"]

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
    """Words that are numbers, with or without a unit."""
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
    """The point that stays where it is (CSS Transforms Level 1, §6), by default 0,0 of the viewBox.

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
