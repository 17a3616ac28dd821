"""How materials look: colours and numbers of our own, by kind of material and by name."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from silhouette3d.part import Part


@dataclass(frozen=True)
class Look:
    """What light does on a surface; each number from 0 to 1.

    Parameters
    ----------
    colour : str
        sRGB, as ``#rrggbb``.
    metal : float
        How much it mirrors the room in its own colour.
    shine : float
        Strength of highlights.
    rings : float
        Strength of a wood's rings and fibres.
    speckle : float
        Strength of grains.
    stripe : str, optional
        Colour of stripes.
    """

    colour: str
    metal: float = 0.0
    shine: float = 0.0
    rings: float = 0.0
    speckle: float = 0.0
    stripe: str | None = None

    @property
    def values(self) -> dict[str, Any]:
        """As the page's script takes them."""
        return {
            "colour": channels(self.colour),
            "metal": self.metal,
            "shine": self.shine,
            "rings": self.rings,
            "speckle": self.speckle,
            "stripe": self.stripe and channels(self.stripe),
        }


PLAIN: Final = Look("#b9c4cc", shine=0.2)
"""A material that only has a density."""

HELD: Final = Look("#bcc8f0")
LOOSE: Final = Look("#bcc8f0", stripe="#7d8dd0")
"""Waste has a hue that no material has; what is loose is striped."""

FAMILIES: Final[dict[str, Look]] = {
    "foam": Look("#e9ecdf", speckle=0.22),
    "glass": Look("#cfe3dc", metal=0.25, shine=1.0),
    "metal": Look("#bfc5ca", metal=0.75, shine=0.45),
    "plastic": Look("#ece8de", shine=0.55),
    "stone": Look("#b3aea5", shine=0.1, speckle=0.35),
    "wood": Look("#cfa46f", rings=0.55),
}

COLOURS: Final[dict[str, str]] = {
    "brass": "#d8b660",
    "bronze": "#bd8d54",
    "copper": "#cb8260",
    "cast iron": "#7d8287",
    "stainless": "#c3c8cc",
    "steel": "#a3abb2",
    "titanium": "#a9a59f",
    "lead": "#868b92",
    "zinc": "#aab2ba",
    "nickel": "#b8b3a6",
    "ash": "#d9bd93",
    "beech": "#d3a67c",
    "birch": "#e2c9a0",
    "cedar": "#b8774f",
    "fir": "#cf9f6b",
    "maple": "#e4c9a0",
    "MDF": "#b08d62",
    "oak": "#c29d69",
    "OSB": "#cda768",
    "pine": "#dfbb82",
    "spruce": "#e3c795",
    "walnut": "#85603f",
    "alabaster": "#efe6da",
    "basalt": "#5c5f63",
    "granite": "#a9a3a0",
    "limestone": "#d8cfbb",
    "marble": "#e8e6e1",
    "sandstone": "#d1b084",
    "slate": "#6b747c",
    "PEEK": "#c2a67c",
    "PVC": "#a9b0b6",
    "PMMA": "#dbeaf0",
    "polycarbonate": "#dbe6ee",
    "foam glass": "#66696d",
    "PU board": "#d9b36c",
    "PIR": "#e3cf92",
    "XPS": "#a9cbdc",
}
"""By the first of these that stands in the material's name, looked up from the longest."""


def look_of(part: Part) -> Look:
    """The look of a part's material."""
    if part.material is None:
        return PLAIN
    look = FAMILIES.get(part.material.family, PLAIN)
    name = part.material.name.casefold()
    words = set(name.replace("-", " ").split())
    for known in sorted(COLOURS, key=len, reverse=True):
        key = known.casefold()
        if key in words or (" " in key and key in name):
            return replace(look, colour=COLOURS[known])
    return look


def channels(colour: str) -> tuple[float, float, float]:
    """Red, green and blue from 0 to 1.

    >>> channels("#ff0033")
    (1.0, 0.0, 0.2)
    """
    red, green, blue = (int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5))
    return red, green, blue
