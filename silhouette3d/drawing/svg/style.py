"""Style of an SVG file: colours, style sheets, inherited properties, paints."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

from silhouette3d.base.limits import OBJECTS
from silhouette3d.drawing.colour import Colour, css_colour
from silhouette3d.drawing.model import FillRule
from silhouette3d.drawing.svg.document import SvgFile, local_name, target_name
from silhouette3d.drawing.svg.values import BadValueError, is_zero, measure, says_no_unit

__all__ = [
    "Cascade",
    "Painter",
    "SvgLook",
    "SvgPaint",
    "colour_of",
    "is_paint",
    "is_understood",
    "referred",
    "share",
]

# --- Colours, opacities and references as values of properties in an SVG file


_URL: Final = re.compile(r"url\(\s*(['\"]?)(.*?)\1\s*\)\s*(.*)", re.IGNORECASE | re.DOTALL)
_PRINTED: Final = re.compile(r"\s+(?:icc|device)-[\w-]+\([^()]*\)\s*$", re.IGNORECASE)
_SHARE: Final = re.compile(r"([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)(%?)")


def colour_of(text: str) -> Colour | None:
    """Read a colour, without the one for print that SVG 1.1 lets follow it; None if it is none."""
    return css_colour(_PRINTED.sub("", text.strip()))


def referred(text: str) -> tuple[str, str] | None:
    """Split a reference from what follows it; None where there is none.

    >>> referred("url('#a') red")
    ('#a', 'red')
    """
    match = _URL.fullmatch(text.strip())
    return (match[2].strip(), match[3].strip()) if match else None


def is_paint(text: str) -> bool:
    """Tell whether a value of `fill` or `stroke` is one (SVG 2, §13.2)."""
    word = text.strip().lower()
    if word in {"none", "currentcolor", "transparent"} or word.startswith("context-"):
        return True
    reference = referred(text)
    if reference is not None:
        return not reference[1] or is_paint(reference[1])
    return colour_of(text) is not None


def share(text: str) -> float | None:
    """Read an opacity, a number or a percentage, as a number from 0 to 1; None if it is none."""
    match = _SHARE.fullmatch(text.strip())
    if match is None:
        return None
    value = float(match[1]) / (100.0 if match[2] else 1.0)
    return min(max(value, 0.0), 1.0)


# --- The properties that an element of an SVG file has from those it lies in


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
class SvgLook:
    """The inherited properties of an element that decide whether and how it is read.

    Parameters
    ----------
    properties : mapping of str to str
        By name; those that begin with ``--`` are the drawing's own variables.
    """

    properties: Mapping[str, str]

    @classmethod
    def initial(cls) -> SvgLook:
        """Give what holds outside every element."""
        return cls(_INHERITED)

    def __getitem__(self, name: str) -> str:
        return self.properties[name]

    def within(self, own: Mapping[str, str]) -> SvgLook:
        """Give the properties of an element in this one, which declares `own`."""
        variables = {n: v for n, v in self.properties.items() if n.startswith("--")}
        variables |= {n: v for n, v in own.items() if n.startswith("--")}
        found = {name: self._value(name, own, variables) for name in _INHERITED}
        return SvgLook({**found, **variables})

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
        """Read a font's size in a unit that depends on no other size."""
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
        """True if a line that is painted is wider than nought."""
        return not is_zero(self.properties["stroke-width"])

    @property
    def is_visible(self) -> bool:
        """True if `visibility` lets it be seen."""
        return self.properties["visibility"].lower() == "visible"

    @property
    def fill_rule(self) -> FillRule:
        """Rule by which the inside of several sub-paths is decided."""
        return "evenodd" if self.properties["fill-rule"].lower() == "evenodd" else "nonzero"

    @property
    def clip_rule(self) -> FillRule:
        """Rule by which the inside is decided where they are a clip."""
        return "evenodd" if self.properties["clip-rule"].lower() == "evenodd" else "nonzero"

    @property
    def is_dashed(self) -> bool:
        """True if the line is painted in dashes."""
        words = self.properties["stroke-dasharray"].replace(",", " ").split()
        try:
            lengths = [measure(word)[0] for word in words]
        except BadValueError:
            return False
        gaps = (lengths * 2)[1::2]  # an odd number of them is taken twice
        return bool(lengths) and min(lengths) >= 0.0 and sum(gaps) > 0.0

    @property
    def has_markers(self) -> bool:
        """True if signs such as arrowheads stand on its corners or ends."""
        return any(self.properties[f"marker-{at}"] != "none" for at in ("start", "mid", "end"))


def _written_out(value: str, variables: Mapping[str, str]) -> str:
    for _ in range(_MOST_VARIABLES):
        written = _VARIABLE.sub(lambda m: variables.get(m[1], (m[2] or "unset").strip()), value)
        if written == value or len(written) > _LONGEST:
            break
        value = written
    return value


# --- What style sheets and attributes say about each element of an SVG file


_HARMLESS_RULES: Final = frozenset(["charset", "font-face", "keyframes", "namespace"])
_ONLY_IN_SHEETS: Final = frozenset(["translate", "rotate", "scale", "offset-path", "zoom"])
"""Attributes of these names say something else: the turn of each letter, whether to translate."""
_NO_PROPERTIES: Final = frozenset(
    ["points", "x1", "y1", "x2", "y2", "dx", "dy", "href", "id", "requiredextensions"]
)
"""Attributes that no style sheet can set."""
_SPACE: Final = "{http://www.w3.org/XML/1998/namespace}space"
_STYLE_OF_PAGES: Final = "{http://www.w3.org/1999/xhtml}style"
_DEEPEST_MEDIA: Final = 20
_SCREEN: Final = frozenset(["", "all", "screen", "only screen"])
_FONT: Final = re.compile(
    r"(?P<how>.*?)(?P<size>[\d.]+(?:e[-+]?\d+)?(?:[a-z]+|%)|(?:x+-)?(?:small|large)|medium|smaller|"
    r"larger)(?:\s*/\s*[^\s,]+)?\s+(?P<family>.+)",
    re.IGNORECASE | re.DOTALL,
)


class Cascade:
    """The values declared for each element, after the order of precedence of CSS.

    Lowest first: presentation attributes, rules of ``<style>`` by specificity
    and order, the ``style`` attribute; then the same two where they say
    ``!important`` (CSS Cascading and Inheritance, Level 4, §6).

    Parameters
    ----------
    root : Element
        The outermost ``<svg>``.
    """

    def __init__(self, root: ET.Element) -> None:
        self._ignored: Counter[str] = Counter()
        self._rules: dict[ET.Element, list[_Declared]] = {}
        sheets = [
            "".join(e.itertext())
            for e in root.iter()
            if (local_name(e) == "style" or e.tag == _STYLE_OF_PAGES) and self._is_on(e)
        ]
        if any(sheet.strip() for sheet in sheets):
            with _read_as_far_as_it_goes("a style sheet"):
                self._match(root, sheets)

    @property
    def notes(self) -> tuple[str, ...]:
        """Notes on what in the style sheets was not understood."""
        return tuple(f"ignored {what} in a style sheet" for what in self._ignored)

    def values(self, element: ET.Element) -> dict[str, str]:
        """Give the attributes of an element, overridden by what style sheets declare for it.

        What a property cannot be is passed over, as CSS has it.

        Raises
        ------
        BadValueError
            If its style cannot be read at all.
        """
        declared = list(self._rules.get(element, ()))
        if "style" in element.attrib:
            with _read_as_far_as_it_goes("its style"):
                declared += self._declarations(element.attrib["style"])
        declared.sort(key=lambda declaration: declaration.important)  # stable
        given = {
            name: value
            for name, value in element.attrib.items()
            if name not in _ONLY_IN_SHEETS and is_understood(name, value)
        }
        if _SPACE in given:  # what SVG 1.1 had before white-space, which browsers take for it
            given["white-space"] = "pre" if given[_SPACE] == "preserve" else "normal"
        return {**given, **{d.name: d.value for d in declared}}

    def _is_on(self, style: ET.Element) -> bool:
        """Tell whether a style sheet is for what is seen on a screen."""
        if style.get("type", "").strip().lower() not in {"", "text/css"}:
            self._ignored[f"a language of type {style.get('type')!r}"] += 1
            return False
        if not _is_for_screens(style.get("media", "")):
            self._ignored[f"media {style.get('media')!r}"] += 1
            return False
        return True

    def _match(self, root: ET.Element, sheets: Iterable[str]) -> None:
        from cssselect2 import (  # type: ignore[import-untyped,unused-ignore]
            ElementWrapper,
            Matcher,
        )

        matcher = Matcher()
        for sheet in sheets:
            self._add(matcher, sheet)
        count, most = 0, OBJECTS.value
        for wrapper in ElementWrapper.from_xml_root(root).iter_subtree():
            matches = [m for m in matcher.match(wrapper) if m[2] is None]  # no ::pseudo-elements
            found = [d for *_, rule in matches for d in rule]
            count += len(found)
            if count > most:
                raise BadValueError(f"its style sheets declare more than {most:,} values")
            self._rules[wrapper.etree_element] = found

    def _add(self, matcher: Any, sheet: str) -> None:
        import tinycss2  # type: ignore[import-untyped,unused-ignore]
        from cssselect2 import (  # type: ignore[import-untyped,unused-ignore]
            SelectorError,
            compile_selector_list,
        )

        rules = tinycss2.parse_stylesheet(sheet, skip_comments=True, skip_whitespace=True)
        spaces: dict[str | None, str] = {}
        for rule in self._rules_for_screens(rules):
            if rule.type == "qualified-rule":
                declarations = self._declarations(rule.content)
                try:
                    selectors = compile_selector_list(rule.prelude, spaces)
                except SelectorError:
                    self._ignored[f"the rule for {tinycss2.serialize(rule.prelude).strip()!r}"] += 1
                    continue
                for selector in selectors:
                    matcher.add_selector(selector, declarations)
            elif rule.type == "at-rule" and rule.lower_at_keyword == "namespace":
                words = [t for t in rule.prelude if t.type in {"ident", "string", "url"}]
                if words:
                    spaces[words[0].value if len(words) > 1 else None] = words[-1].value
            elif rule.type == "at-rule" and rule.lower_at_keyword not in _HARMLESS_RULES:
                self._ignored[f"@{rule.at_keyword}"] += 1
            elif rule.type == "error":
                self._ignored["what cannot be read"] += 1

    def _rules_for_screens(self, rules: Iterable[Any], depth: int = 0) -> Iterator[Any]:
        """Yield rules, and those in ``@media`` rules that hold on a screen."""
        import tinycss2

        for rule in rules:
            is_media = rule.type == "at-rule" and rule.lower_at_keyword == "media"
            if not (is_media and rule.content and depth < _DEEPEST_MEDIA):
                yield rule
            elif _is_for_screens(tinycss2.serialize(rule.prelude)):
                inner = tinycss2.parse_rule_list(
                    rule.content, skip_comments=True, skip_whitespace=True
                )
                yield from self._rules_for_screens(inner, depth + 1)
            else:
                self._ignored["@media"] += 1

    def _declarations(self, content: Any) -> list[_Declared]:
        import tinycss2

        found = tinycss2.parse_blocks_contents(content, skip_comments=True, skip_whitespace=True)
        if any(node.type != "declaration" for node in found):
            self._ignored["what cannot be read"] += 1
        declared = (
            _Declared(
                node.name if node.name.startswith("--") else node.lower_name,
                tinycss2.serialize(node.value).strip(),
                node.important,
            )
            for node in found
            if node.type == "declaration"
        )
        return [single for each in declared for single in _singly(each) if _holds(single)]


class _Declared(NamedTuple):
    """One property and the text of its value."""

    name: str
    value: str
    important: bool


def _singly(declared: _Declared) -> Iterator[_Declared]:
    """Split a declaration into those that a short form of several stands for."""
    if declared.name == "marker":
        yield from (declared._replace(name=f"marker-{at}") for at in ("start", "mid", "end"))
    elif declared.name == "font" and (match := _FONT.fullmatch(declared.value)):
        how = match["how"].lower().split()
        yield declared._replace(name="font-size", value=match["size"])
        yield declared._replace(name="font-family", value=match["family"])
        styles = [word for word in how if word in {"italic", "oblique"}]
        yield declared._replace(name="font-style", value=(styles or ["normal"])[0])
        weights = [word for word in how if word in {"bold", "bolder"} or word.isdigit()]
        yield declared._replace(name="font-weight", value=(weights or ["normal"])[0])
    else:
        yield declared


def _holds(declared: _Declared) -> bool:
    """Tell whether a declaration is one that CSS takes."""
    name, value = declared.name, declared.value
    if name in _NO_PROPERTIES or not is_understood(name, value):
        return False
    return name != "transform" or not says_no_unit(value)


def _is_for_screens(media: str) -> bool:
    """Tell whether one of the media that are listed is a screen, of any kind."""
    return any(one.strip().lower() in _SCREEN for one in media.split(","))


@contextmanager
def _read_as_far_as_it_goes(what: str) -> Iterator[None]:
    """Read until the parser gives up: on numbers of thousands of digits, endless brackets."""
    try:
        yield
    except RecursionError:
        raise BadValueError(f"{what} has brackets nested too deeply") from None
    except BadValueError:
        raise
    except ValueError:
        raise BadValueError(f"{what} holds a number of too many digits") from None


# --- Paints of an SVG file: whether an object is painted, and in which colour
#
# A paint is a colour, a gradient or pattern elsewhere in the file, or nothing
# (SVG 2, §13.2). What is not seen is not cut, and objects are chosen by colour.


_SERVERS: Final = frozenset(["linearGradient", "radialGradient", "pattern"])
_MOST_STEPS: Final = 20
"""Gradients that take their stops from one another."""


@dataclass(frozen=True)
class SvgPaint:
    """Paint of an area or a line.

    Parameters
    ----------
    colour : str, optional
        ``"#rrggbb"``; None if it is of several.
    opaque : bool
        Whether nothing shows through.
    """

    colour: str | None
    opaque: bool


class Painter:
    """Decides how objects of one file are painted.

    Parameters
    ----------
    file : SvgFile
        For the gradients and patterns in it.
    cascade : Cascade
        What is declared for them.
    """

    def __init__(self, file: SvgFile, cascade: Cascade) -> None:
        self._file, self._cascade = file, cascade

    def fill(self, look: SvgLook) -> SvgPaint | None:
        """Tell how the inside is painted; None if it is not."""
        return self._paint(look, "fill")

    def stroke(self, look: SvgLook) -> SvgPaint | None:
        """Tell how the line is painted; None if it is not. Its width is not asked."""
        return self._paint(look, "stroke")

    def _paint(self, look: SvgLook, name: str) -> SvgPaint | None:
        density = share(look[f"{name}-opacity"])
        if density == 0.0:
            return None
        paint = self._of(look[name], look)
        return SvgPaint(paint.colour, paint.opaque and density in {None, 1.0}) if paint else None

    def _of(self, text: str, look: SvgLook) -> SvgPaint | None:
        reference = referred(text)
        if reference is not None:
            server = self._server(reference[0])
            if server is not None:
                return self._served(server)
            return self._of(reference[1], look) if reference[1] else None
        word = text.lower()
        if word.startswith("context-"):  # of the object on which a marker stands: not drawn here
            return None
        colour = colour_of(look["color"] if word == "currentcolor" else text)
        return SvgPaint(colour.name, colour.alpha >= 1.0) if colour and colour.alpha else None

    def _server(self, name: str) -> ET.Element | None:
        found = self._file.referred(name)
        return found if found is not None and local_name(found) in _SERVERS else None

    def _served(self, server: ET.Element) -> SvgPaint | None:
        """Serve a gradient as one colour if its stops are of one; without stops as no paint."""
        if local_name(server) == "pattern":
            return SvgPaint(None, opaque=False)
        for _ in range(_MOST_STEPS):
            stops = [child for child in server if local_name(child) == "stop"]
            further = self._server(target_name(server.attrib))
            if stops or further is None:
                break
            server = further
        paints = {self._stop(stop) for stop in stops}
        if not any(paints):
            return None
        return paints.pop() if len(paints) == 1 else SvgPaint(None, opaque=False)

    def _stop(self, stop: ET.Element) -> SvgPaint | None:
        values = self._cascade.values(stop)
        painted = {
            "fill": values.get("stop-color", "black"),
            "fill-opacity": values.get("stop-opacity", "1"),
            "color": values.get("color", "black"),
        }
        return self.fill(SvgLook.initial().within(painted))
