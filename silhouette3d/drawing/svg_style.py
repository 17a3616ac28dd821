"""What style sheets and attributes say about each element of an SVG file."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any, Final, NamedTuple

from silhouette3d.drawing.svg_file import local_name
from silhouette3d.drawing.svg_look import is_understood
from silhouette3d.drawing.svg_transform import says_no_unit
from silhouette3d.drawing.svg_values import BadValueError
from silhouette3d.limits import OBJECTS

__all__ = ["Cascade"]

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
        """What in the style sheets was not understood."""
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
        """Whether a style sheet is for what is seen on a screen."""
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
        """Rules, and those in ``@media`` rules that hold on a screen."""
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
    """A declaration, or those that a short form of several stands for."""
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
    """Whether a declaration is one that CSS takes."""
    name, value = declared.name, declared.value
    if name in _NO_PROPERTIES or not is_understood(name, value):
        return False
    return name != "transform" or not says_no_unit(value)


def _is_for_screens(media: str) -> bool:
    """Whether one of the media that are listed is a screen, of any kind."""
    return any(one.strip().lower() in _SCREEN for one in media.split(","))


@contextmanager
def _read_as_far_as_it_goes(what: str) -> Iterator[None]:
    """The parser gives up on numbers of thousands of digits and on brackets without end."""
    try:
        yield
    except RecursionError:
        raise BadValueError(f"{what} has brackets nested too deeply") from None
    except BadValueError:
        raise
    except ValueError:
        raise BadValueError(f"{what} holds a number of too many digits") from None
