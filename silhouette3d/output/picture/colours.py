"""The colours of all pictures, by what they stand for.

They are those of Okabe and Ito (2008), "Color Universal Design", which people
with any of the usual kinds of colour vision tell apart; printed as fig. 2 of
Wong (2011), Nature Methods 8:441. Tints and greys are ours. Nothing is told by
colour alone: a word, a letter, a pattern or a line style says it too.
"""

from __future__ import annotations

from typing import Final

ORANGE: Final = "#E69F00"
SKY: Final = "#56B4E9"
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
