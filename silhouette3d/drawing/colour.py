"""Colours of drawn objects, as files and people write them, in one spelling."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from silhouette3d.errors import DrawingError

__all__ = ["Colour", "css_colour", "of_index", "spelt"]


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
def css_colour(text: str) -> Colour | None:
    """Read a colour of CSS Color 5; None if it is none.

    >>> css_colour("hsl(240, 100%, 50%)"), css_colour("wine")
    (Colour(name='#0000ff', alpha=1.0), None)
    """
    from tinycss2.color5 import parse_color

    try:
        found = parse_color(text)
        if found is None or isinstance(found, str):
            return None
        parts = found.to("srgb").coordinates
    except NotImplementedError:
        return Colour(None, found.alpha)
    except (ValueError, RecursionError):  # digits or brackets without end
        return None
    whole = (round(255.0 * min(max(part or 0.0, 0.0), 1.0)) for part in parts)
    return Colour("#" + "".join(f"{part:02x}" for part in whole), found.alpha)


def of_index(index: int) -> str:
    """Give the colour of a DXF colour index (group code 62), as "#rrggbb".

    Index 7 is drawn black on white paper and white on black: here it is black.

    >>> of_index(1), of_index(5), of_index(7)
    ('#ff0000', '#0000ff', '#000000')
    """
    from ezdxf.colors import aci2rgb

    if index == 7:
        return "#000000"
    r, g, b = aci2rgb(index)
    return f"#{r:02x}{g:02x}{b:02x}"


def spelt(colour: str | int) -> str:
    """Spell a colour as "#rrggbb": from a CSS colour, or a DXF colour index.

    >>> spelt("red"), spelt("#00F"), spelt("rgb(0, 128, 0)"), spelt(1)
    ('#ff0000', '#0000ff', '#008000', '#ff0000')

    Raises
    ------
    DrawingError
        If it is neither.
    """
    if isinstance(colour, int):
        if not 1 <= colour <= 255:
            raise DrawingError(
                f"{colour} is no colour of a drawing", todo="DXF counts its colours from 1 to 255"
            )
        return of_index(colour)
    found = css_colour(colour)
    if found is None or found.name is None:
        raise DrawingError(
            f"{colour!r} is no colour",
            todo='give a name ("red"), "#rrggbb", or the number of a DXF colour',
        )
    return found.name
