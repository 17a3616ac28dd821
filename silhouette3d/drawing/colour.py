"""Colours of drawn objects, as files and people write them, in one spelling."""

from __future__ import annotations

from silhouette3d.errors import DrawingError

__all__ = ["of_index", "spelt"]


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
    from tinycss2.color3 import parse_color

    if isinstance(colour, int):
        if not 1 <= colour <= 255:
            raise DrawingError(
                f"{colour} is no colour of a drawing", todo="DXF counts its colours from 1 to 255"
            )
        return of_index(colour)
    found = parse_color(colour)
    if found is None or isinstance(found, str):
        raise DrawingError(
            f"{colour!r} is no colour",
            todo='give a name ("red"), "#rrggbb", or the number of a DXF colour',
        )
    return "#" + "".join(f"{round(255.0 * part):02x}" for part in found[:3])
