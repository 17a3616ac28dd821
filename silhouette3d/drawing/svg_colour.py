"""Colours, opacities and references as values of properties in an SVG file."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Final, NamedTuple

__all__ = ["Colour", "colour_of", "is_paint", "referred", "share"]

_URL: Final = re.compile(r"url\(\s*(['\"]?)(.*?)\1\s*\)\s*(.*)", re.IGNORECASE | re.DOTALL)
_PRINTED: Final = re.compile(r"\s+(?:icc|device)-[\w-]+\([^()]*\)\s*$", re.IGNORECASE)
_SHARE: Final = re.compile(r"([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)(%?)")


class Colour(NamedTuple):
    """A colour of CSS.

    Parameters
    ----------
    name : str, optional
        ``"#rrggbb"``; None in a colour space that is not turned into red, green and blue.
    alpha : float
        From 0, not seen, to 1.
    """

    name: str | None
    alpha: float


@lru_cache(maxsize=1024)
def colour_of(text: str) -> Colour | None:
    """Read a colour, without the one for print that SVG 1.1 lets follow it; None if it is none.

    >>> colour_of("hsl(240, 100%, 50%)"), colour_of("wine")
    (Colour(name='#0000ff', alpha=1.0), None)
    """
    from tinycss2.color5 import parse_color

    try:
        found = parse_color(_PRINTED.sub("", text.strip()))
        if found is None or isinstance(found, str):
            return None
        parts = found.to("srgb").coordinates
    except NotImplementedError:
        return Colour(None, found.alpha)
    except (ValueError, RecursionError):  # digits or brackets without end
        return None
    whole = (round(255.0 * min(max(part or 0.0, 0.0), 1.0)) for part in parts)
    return Colour("#" + "".join(f"{part:02x}" for part in whole), found.alpha)


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
