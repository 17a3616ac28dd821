"""The type of the sheets, and what to do with signs that it lacks.

The sheets are set in DejaVu Sans, which comes with matplotlib, so that they
look the same everywhere. Only where a name has a sign that it lacks are the
fonts of the machine looked at; what none of them has is written as its number.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

_FILE: Final = "DejaVuSans.ttf"
_UNSEEN: Final = {"Cc", "Cf", "Zl", "Zp", "Zs"}
"""Unicode categories without a glyph of their own: controls, formats, spaces."""


def folder() -> Path:
    """Find the folder where the type lies."""
    import matplotlib as mpl

    return Path(mpl.get_data_path()) / "fonts" / "ttf"


def lacking(signs: Iterable[str]) -> set[str]:
    """Find signs that the sheets' own type lacks."""
    return _without(folder() / _FILE, {s for s in signs if unicodedata.category(s) not in _UNSEEN})


def lacking_everywhere(signs: set[str]) -> set[str]:
    """Find signs that no font of this machine has."""
    from matplotlib.font_manager import findSystemFonts

    for path in sorted(findSystemFonts()) if signs else ():
        with suppress(OSError, RuntimeError):  # a font that cannot be read has nothing
            signs = _without(Path(path), signs)
    return signs


def _without(font: Path, signs: set[str]) -> set[str]:
    from matplotlib.ft2font import FT2Font

    face = FT2Font(str(font))
    return {sign for sign in signs if not face.get_char_index(ord(sign))}


def spelt(value: Any, unknown: set[str]) -> Any:
    r"""Spell plain data: unknown signs in texts as their numbers, controls as spaces.

    >>> spelt({"name": "Tug \U0001f6a2\n", "size": 2}, {"\U0001f6a2"})
    {'name': 'Tug [U+1F6A2] ', 'size': 2}
    """
    if isinstance(value, str):
        return "".join(_spelt(sign, unknown) for sign in value)
    if isinstance(value, dict):
        return {key: spelt(one, unknown) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [spelt(one, unknown) for one in value]
    return value


def _spelt(sign: str, unknown: set[str]) -> str:
    if unicodedata.category(sign) == "Cc":
        return " "
    return f"[U+{ord(sign):04X}]" if sign in unknown else sign


def signs_of(value: Any) -> set[str]:
    """Collect every sign in the texts of plain data."""
    if isinstance(value, str):
        return set(value)
    if isinstance(value, dict):
        value = value.values()
    elif not isinstance(value, list | tuple):
        return set()
    return set[str]().union(*map(signs_of, value))
