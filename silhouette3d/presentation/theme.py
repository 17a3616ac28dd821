"""One theme for all that is shown: colours by what they stand for, signs, words, views, lights.

Pictures, sheets, the customer's page and the workbench all take theirs from here; browsers
get it as JSON (`for_browser`) and as style sheet (`css`). The strong
colours are those of Okabe and Ito (2008), "Color Universal Design", which people with any of
the usual kinds of colour vision tell apart; printed as fig. 2 of Wong (2011), Nature Methods
8:441. Tints and greys are ours. Nothing is told by colour alone: a word, a letter, a pattern
or a line style says it too.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Final

from silhouette3d.geometry.frames import VIEWS, View, view_along

ORANGE: Final = "#E69F00"
GREEN: Final = "#009E73"
YELLOW: Final = "#F0E442"
BLUE: Final = "#0072B2"
VERMILION: Final = "#D55E00"
PURPLE: Final = "#CC79A7"

PAPER: Final = "#FFFFFF"
INK: Final = "#1B2733"
PALE_INK: Final = "#5B6773"
RULE: Final = "#C9D1D8"

PART: Final = "#A9CDE6"
"""A tint of sky blue: light enough for black lines, dark enough to stand on white."""
STOCK: Final = "#8A96A1"
HELD: Final = "#D5DADF"
"""A grey: what stays with the clamps."""
LOOSE: Final = "#F2C14E"
"""A tint of orange."""
OUTLINE: Final = BLUE
LOST: Final = VERMILION
TAB: Final = GREEN
GAP: Final = PURPLE

AXES: Final[dict[str, str]] = {"x": VERMILION, "y": GREEN, "z": BLUE}

SEVERITY: Final[dict[str, str]] = {"error": VERMILION, "warning": ORANGE, "note": BLUE}
FINE: Final = GREEN
"""No findings."""

SIGNS: Final[dict[str, str]] = {"error": "✖", "warning": "▲", "note": "●"}
"""A sign for each severity, of a shape of its own."""

SEVERITY_WORDS: Final[dict[str, str]] = {"error": "Error", "warning": "Warning", "note": "Note"}

ISO: Final = view_along((-1.0, 1.0, -1.0), (0.0, 0.0, 1.0), "iso")
"""Isometric projection (ISO 5456-3, axonometric representations; its number from memory), seen
from the front, the right and above."""

PICTURE_VIEWS: Final[dict[str, View]] = {**VIEWS, ISO.name: ISO}
"""What a part can be seen from by name."""

VIEW_WORDS: Final[dict[str, str]] = {
    "iso": "From the corner",
    "front": "Front",
    "right": "Right",
    "top": "Top",
    "rear": "Rear",
    "left": "Left",
    "bottom": "Bottom",
}


@dataclass(frozen=True)
class Light:
    """A light that goes with the eye.

    Parameters
    ----------
    position : tuple of float
        Right, up and towards the eye.
    power : float
        Share of white that a face turned to it gains.
    """

    position: tuple[float, float, float]
    power: float


LIGHTS: Final = (
    Light((-0.45, 0.75, 0.5), 0.45),
    Light((0.0, 0.0, 1.0), 0.28),
    Light((-0.8, -0.1, 0.6), 0.18),
    Light((0.8, 0.1, 0.6), 0.10),
)
"""A key light from the upper left, and three weaker ones: faces square to one another differ,
and none is dark."""

AMBIENT: Final = 0.36
"""Share of white that every face has without any light."""


@dataclass(frozen=True)
class Paint:
    """Look of something in 3D.

    Parameters
    ----------
    colour : str
        As ``#rrggbb``.
    opacity : float
        From 0 to 1.
    width : float, optional
        In pixels, for what is a line; None for faces.
    """

    colour: str
    opacity: float = 1.0
    width: float | None = None


PAINTS: Final[dict[str, Paint]] = {
    "part": Paint(PART),
    "held": Paint(HELD),
    "loose": Paint(LOOSE),
    "part-cut": Paint("#E3D7A8"),
    "held-cut": Paint("#C3C9CF"),
    "loose-cut": Paint("#E3D7A8"),
    "stock": Paint(STOCK, 0.1),
    "prism": Paint(PURPLE, 0.09),
    "lost": Paint(LOST, 0.45),
    "part-edge": Paint(INK, width=1.5),
    "held-edge": Paint(INK, width=1.5),
    "loose-edge": Paint(INK, width=1.5),
    "stock-edge": Paint("#76828D", width=1.0),
    "prism-edge": Paint("#A84F80", width=1.0),
    "lost-edge": Paint(LOST, width=2.0),
    "thin": Paint(LOST, width=2.0),
}
"""By what is shown. Lines wider than 2 pixels leave the workbench's view empty: there they are
drawn another way."""

LIGHT: Final[dict[str, str]] = {
    "ground": "#eef1f4",
    "sheet": "#ffffff",
    "scene": "linear-gradient(#f7f9fb, #dde4ea)",
    "ink": "#1b2733",
    "pale": "#51606d",
    "rule": "#c3ccd4",
    "edge": "#76828d",
    "main": "#00588c",
    "on-main": "#ffffff",
    "pressed": "#d4e6f3",
    "error": "#a83c00",
    "warning": "#7d5200",
    "note": "#00588c",
    "fine": "#00694d",
    "error-ground": "#fdeee5",
    "part": "#a9cde6",
    "face": "#e6eaee",
    "outline": "#0072b2",
    "tab": "#00694d",
    "lost": "#d55e00",
    "ring": "#00588c",
}
"""Of pages in a browser, in pairs of ink and ground that reach the contrast of WCAG 2.2 AA:
4.5 : 1 for text, 3 : 1 for signs and borders of controls."""

DARK: Final[dict[str, str]] = {
    "ground": "#14191f",
    "sheet": "#1e252d",
    "scene": "linear-gradient(#2a333d, #161c22)",
    "ink": "#e8edf2",
    "pale": "#a9b6c2",
    "rule": "#3a4651",
    "edge": "#8794a0",
    "main": "#7cc4f0",
    "on-main": "#0d141a",
    "pressed": "#234a63",
    "error": "#ff9d66",
    "warning": "#f0bd4f",
    "note": "#7cc4f0",
    "fine": "#4fd0a5",
    "error-ground": "#3a241a",
    "part": "#5d87a6",
    "face": "#2c353e",
    "outline": "#7cc4f0",
    "tab": "#4fd0a5",
    "lost": "#ff8a47",
    "ring": "#ffffff",
}
"""The dark one of the two."""


def for_browser() -> dict[str, Any]:
    """Give signs, words, views, lights and paints as values that JSON can hold."""
    return {
        "signs": SIGNS,
        "words": SEVERITY_WORDS,
        "views": [
            {"name": name, "words": words, "look": seen.look, "up": seen.up}
            for name, words in VIEW_WORDS.items()
            for seen in (PICTURE_VIEWS[name],)
        ],
        "ambient": AMBIENT,
        "lights": [asdict(light) for light in LIGHTS],
        "paints": {role: asdict(paint) for role, paint in PAINTS.items()},
    }


def css(colours: Mapping[str, str]) -> str:
    """Write colours as custom properties of a style sheet.

    >>> css({"ink": "#1b2733"})
    '--ink: #1b2733;'
    """
    return " ".join(f"--{name}: {colour};" for name, colour in colours.items())
