"""Sets of views to see a part from: level, from above and below, and across its corners."""

from __future__ import annotations

import math
from collections.abc import Mapping

from silhouette3d.geometry.frames import VIEWS, View, view_along

HALF = math.sqrt(0.5)
OWN = {
    "corner": (view_along((1, 1, 0), (0, 0, 1)), (HALF, -HALF)),
    "sixty": (view_along((0.5, math.sqrt(0.75), 0), (0, 0, 1)), (math.sqrt(0.75), -0.5)),
}
LEVEL: Mapping[str, tuple[View, tuple[float, float]]] = {
    "front": (VIEWS["front"], (1.0, 0.0)),
    "rear": (VIEWS["rear"], (-1.0, 0.0)),
    "right": (VIEWS["right"], (0.0, 1.0)),
    "left": (VIEWS["left"], (0.0, -1.0)),
    **OWN,
}
"""Views seen level, each with the direction in which its u runs over the block."""

SETS = [
    ("front", "right", "top"),
    ("front", "right", "top"),
    ("front", "rear", "right"),
    ("front", "left", "bottom"),
    ("rear", "right", "top", "bottom"),
    ("corner", "top"),
    ("corner", "front", "right"),
    ("corner", "front", "bottom"),
    ("sixty", "left", "top"),
    ("front", "corner", "sixty"),
]
