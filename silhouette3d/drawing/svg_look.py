"""The properties that an element of an SVG file has from those it lies in."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from silhouette3d.drawing.drawing import FillRule
from silhouette3d.drawing.svg_colour import colour_of, is_paint, share
from silhouette3d.drawing.svg_values import BadValueError, is_zero, measure

__all__ = ["Look", "is_understood"]

_INHERITED: Final = {
    "clip-rule": "nonzero",
    "color": "black",
    "fill": "black",
    "fill-opacity": "1",
    "fill-rule": "nonzero",
    "font-family": "",
    "font-size": "16px",
    "font-style": "normal",
    "font-weight": "normal",
    "marker-end": "none",
    "marker-mid": "none",
    "marker-start": "none",
    "stroke": "none",
    "stroke-dasharray": "none",
    "stroke-opacity": "1",
    "stroke-width": "1",
    "text-anchor": "start",
    "visibility": "visible",
    "white-space": "normal",
    "writing-mode": "horizontal-tb",
}
"""Properties that an element has from the one it lies in, and what they begin with."""

_ANYWHERE: Final = frozenset(["inherit", "initial", "unset", "revert", "revert-layer"])
_VARIABLE: Final = re.compile(
    r"var\(\s*(--[^\s,()]+)\s*(?:,((?:[^()]|\((?:[^()]|\([^()]*\))*\))*))?\)", re.IGNORECASE
)
_MOST_VARIABLES: Final = 20
_LONGEST: Final = 10_000
"""Characters of a value with the variables in it written out."""

_SIZES: Final = {
    "xx-small": 9.0,
    "x-small": 10.0,
    "small": 13.0,
    "medium": 16.0,
    "large": 18.0,
    "x-large": 24.0,
    "xx-large": 32.0,
    "xxx-large": 48.0,
}
"""px, as browsers have them: CSS Fonts Level 4, §2.5."""
_SIZES_BY_PARENT: Final = {"em": 1.0, "%": 0.01, "ex": 0.5, "ch": 0.5}
_STEPS: Final = {"larger": 1.2, "smaller": 1.0 / 1.2}


def is_understood(name: str, value: str) -> bool:
    """Tell whether a property can have this value; CSS passes over other declarations."""
    word = value.strip().lower()
    if word in _ANYWHERE or "var(" in word:
        return True
    check = _CHECKS.get(name)
    return check is None or check(value)


def _is_colour(text: str) -> bool:
    return text.strip().lower() == "currentcolor" or colour_of(text) is not None


def _is_share(text: str) -> bool:
    return share(text) is not None


def _is_rule(text: str) -> bool:
    return text.strip().lower() in {"evenodd", "nonzero"}


def _is_visibility(text: str) -> bool:
    return text.strip().lower() in {"visible", "hidden", "collapse"}


def _is_width(text: str) -> bool:
    try:
        return measure(text)[0] >= 0.0
    except BadValueError:
        return False


_CHECKS: Final[Mapping[str, Callable[[str], bool]]] = {
    "clip-rule": _is_rule,
    "color": _is_colour,
    "fill": is_paint,
    "fill-opacity": _is_share,
    "fill-rule": _is_rule,
    "opacity": _is_share,
    "stop-color": _is_colour,
    "stop-opacity": _is_share,
    "stroke": is_paint,
    "stroke-opacity": _is_share,
    "stroke-width": _is_width,
    "visibility": _is_visibility,
}


@dataclass(frozen=True)
class Look:
    """The inherited properties of an element that decide whether and how it is read.

    Parameters
    ----------
    properties : mapping of str to str
        By name; those that begin with ``--`` are the drawing's own variables.
    """

    properties: Mapping[str, str]

    @classmethod
    def initial(cls) -> Look:
        """Give what holds outside every element."""
        return cls(_INHERITED)

    def __getitem__(self, name: str) -> str:
        return self.properties[name]

    def within(self, own: Mapping[str, str]) -> Look:
        """Give the properties of an element in this one, which declares `own`."""
        variables = {n: v for n, v in self.properties.items() if n.startswith("--")}
        variables |= {n: v for n, v in own.items() if n.startswith("--")}
        found = {name: self._value(name, own, variables) for name in _INHERITED}
        return Look({**found, **variables})

    def _value(self, name: str, own: Mapping[str, str], variables: Mapping[str, str]) -> str:
        value = own.get(name, "inherit").strip()
        if "var(" in value.lower():
            value = _written_out(value, variables)
            if not is_understood(name, value):
                value = "unset"
        word = value.lower()
        if word == "initial":
            return _INHERITED[name]
        if word in _ANYWHERE or (name == "color" and word == "currentcolor"):
            return self.properties[name]
        return self._size(value) if name == "font-size" else value

    def _size(self, text: str) -> str:
        """A font's size in a unit that depends on no other size."""
        word = text.lower()
        if word in _SIZES:
            return f"{_SIZES[word]}px"
        try:
            value, unit = (_STEPS[word], "em") if word in _STEPS else measure(text)
        except BadValueError:
            return self.properties["font-size"]
        if unit == "rem":
            return f"{16.0 * value!r}px"
        if unit not in _SIZES_BY_PARENT:
            return text
        around, of = measure(self.properties["font-size"])
        return f"{around * value * _SIZES_BY_PARENT[unit]!r}{of}"

    @property
    def has_stroke_width(self) -> bool:
        """Whether a line that is painted is wider than nought."""
        return not is_zero(self.properties["stroke-width"])

    @property
    def is_visible(self) -> bool:
        """Whether `visibility` lets it be seen."""
        return self.properties["visibility"].lower() == "visible"

    @property
    def fill_rule(self) -> FillRule:
        """How the inside of several sub-paths is decided."""
        return "evenodd" if self.properties["fill-rule"].lower() == "evenodd" else "nonzero"

    @property
    def clip_rule(self) -> FillRule:
        """How the inside is decided where they are a clip."""
        return "evenodd" if self.properties["clip-rule"].lower() == "evenodd" else "nonzero"

    @property
    def is_dashed(self) -> bool:
        """Whether the line is painted in dashes."""
        words = self.properties["stroke-dasharray"].replace(",", " ").split()
        try:
            lengths = [measure(word)[0] for word in words]
        except BadValueError:
            return False
        gaps = (lengths * 2)[1::2]  # an odd number of them is taken twice
        return bool(lengths) and min(lengths) >= 0.0 and sum(gaps) > 0.0

    @property
    def has_markers(self) -> bool:
        """Whether signs such as arrowheads stand on its corners or ends."""
        return any(self.properties[f"marker-{at}"] != "none" for at in ("start", "mid", "end"))


def _written_out(value: str, variables: Mapping[str, str]) -> str:
    for _ in range(_MOST_VARIABLES):
        written = _VARIABLE.sub(lambda m: variables.get(m[1], (m[2] or "unset").strip()), value)
        if written == value or len(written) > _LONGEST:
            break
        value = written
    return value
