"""What style sheets and attributes say about each element of an SVG file."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

from silhouette3d.drawing.drawing import FillRule
from silhouette3d.drawing.svg_file import local_name
from silhouette3d.drawing.svg_values import BadValueError, is_zero
from silhouette3d.limits import OBJECTS

__all__ = ["Cascade", "Look"]

_HARMLESS_RULES: Final = frozenset(["charset", "font-face", "keyframes", "namespace"])
_FILL_RULES: Final = frozenset(["evenodd", "nonzero"])

_INHERITED: Final = {
    "fill": "black",
    "fill-opacity": "1",
    "fill-rule": "nonzero",
    "stroke": "none",
    "stroke-opacity": "1",
    "stroke-width": "1",
    "visibility": "visible",
}
"""Properties that an element has from the one it lies in, and what they begin with."""


@dataclass(frozen=True)
class Look:
    """The inherited properties of an element that decide whether and how it is read."""

    properties: Mapping[str, str]

    @classmethod
    def initial(cls) -> Look:
        """What holds outside every element."""
        return cls(_INHERITED)

    def within(self, own: Mapping[str, str]) -> Look:
        """The properties of an element in this one, which declares `own`."""
        return Look({name: self._value(name, own) for name in _INHERITED})

    def _value(self, name: str, own: Mapping[str, str]) -> str:
        value = own.get(name, "inherit").strip()
        word = value.lower()
        if word == "initial":
            return _INHERITED[name]
        unknown_rule = name == "fill-rule" and word not in _FILL_RULES
        return self.properties[name] if word in {"inherit", "unset"} or unknown_rule else value

    @property
    def is_filled(self) -> bool:
        """Whether the inside is painted."""
        return self._is_painted("fill")

    @property
    def is_stroked(self) -> bool:
        """Whether the line is painted."""
        return self._is_painted("stroke") and not is_zero(self.properties["stroke-width"])

    def _is_painted(self, which: str) -> bool:
        paint = self.properties[which].lower()
        return paint not in {"none", "transparent"} and not is_zero(
            self.properties[f"{which}-opacity"]
        )

    @property
    def is_visible(self) -> bool:
        """Whether `visibility` lets it be seen."""
        return self.properties["visibility"].lower() not in {"hidden", "collapse"}

    @property
    def fill_rule(self) -> FillRule:
        """How the inside of several sub-paths is decided."""
        return "evenodd" if self.properties["fill-rule"].lower() == "evenodd" else "nonzero"


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
        sheets = [e.text or "" for e in root.iter() if local_name(e) == "style"]
        if any(sheet.strip() for sheet in sheets):
            with _read_as_far_as_it_goes("a style sheet"):
                self._match(root, sheets)

    @property
    def notes(self) -> tuple[str, ...]:
        """What in the style sheets was not understood."""
        return tuple(f"ignored {what} in a style sheet" for what in self._ignored)

    def values(self, element: ET.Element) -> dict[str, str]:
        """Attributes of an element, overridden by what style sheets declare for it.

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
        return {**element.attrib, **{d.name: d.value for d in declared}}

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

        for rule in tinycss2.parse_stylesheet(sheet, skip_comments=True, skip_whitespace=True):
            if rule.type == "qualified-rule":
                declarations = self._declarations(rule.content)
                try:
                    selectors = compile_selector_list(rule.prelude)
                except SelectorError:
                    self._ignored[f"the rule for {tinycss2.serialize(rule.prelude).strip()!r}"] += 1
                    continue
                for selector in selectors:
                    matcher.add_selector(selector, declarations)
            elif rule.type == "at-rule" and rule.lower_at_keyword not in _HARMLESS_RULES:
                self._ignored[f"@{rule.at_keyword}"] += 1
            elif rule.type == "error":
                self._ignored["what cannot be read"] += 1

    def _declarations(self, content: Any) -> list[_Declared]:
        import tinycss2

        found = tinycss2.parse_blocks_contents(content, skip_comments=True, skip_whitespace=True)
        if any(node.type != "declaration" for node in found):
            self._ignored["what cannot be read"] += 1
        return [
            _Declared(node.lower_name, tinycss2.serialize(node.value).strip(), node.important)
            for node in found
            if node.type == "declaration"
        ]


class _Declared(NamedTuple):
    """One property and the text of its value."""

    name: str
    value: str
    important: bool


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
