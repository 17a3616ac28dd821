"""Bodies and their looks as the page's script takes them."""

from __future__ import annotations

import base64
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from silhouette3d.base.quantities import mass_text, size_text
from silhouette3d.documents.pictures.render import sharp_edges
from silhouette3d.documents.pictures.stages import moved_apart
from silhouette3d.geometry.removal import stock_solid
from silhouette3d.presentation.theme import INK, STOCK

if TYPE_CHECKING:
    from collections.abc import Sequence

    from silhouette3d.geometry.frames import Array
    from silhouette3d.geometry.mesh import Mesh
    from silhouette3d.model.results import Results
    from silhouette3d.process.stages import Stage

# --- How materials look: colours and numbers of our own, by kind of material and by name


@dataclass(frozen=True)
class PageLook:
    """Surface under light; each number from 0 to 1.

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
        """Values as the page's script takes them."""
        return {
            "colour": channels(self.colour),
            "metal": self.metal,
            "shine": self.shine,
            "rings": self.rings,
            "speckle": self.speckle,
            "stripe": self.stripe and channels(self.stripe),
        }


PLAIN: Final = PageLook("#b9c4cc", shine=0.2)
"""A material that only has a density."""

HELD: Final = PageLook("#bcc8f0")
LOOSE: Final = PageLook("#bcc8f0", stripe="#7d8dd0")
"""Waste has a hue that no material has; what is loose is striped."""

FAMILIES: Final[dict[str, PageLook]] = {
    "foam": PageLook("#e9ecdf", speckle=0.22),
    "glass": PageLook("#cfe3dc", metal=0.25, shine=1.0),
    "metal": PageLook("#bfc5ca", metal=0.75, shine=0.45),
    "plastic": PageLook("#ece8de", shine=0.55),
    "stone": PageLook("#b3aea5", shine=0.1, speckle=0.35),
    "wood": PageLook("#cfa46f", rings=0.55),
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


def look_of(part: Results) -> PageLook:
    """Choose the look of a part's material."""
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
    """Split a colour into red, green and blue from 0 to 1.

    >>> channels("#ff0033")
    (1.0, 0.0, 0.2)
    """
    red, green, blue = (int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5))
    return red, green, blue


# --- Bodies as the page's script takes them: whole numbers in base64, and where each goes


FINEST: Final = 65535
"""Steps along the longest side: points are kept to 1/131070 of it, less than any screen shows."""

_PATTERN: Final = 55.0
"""Patterns of materials are so many units long along the stock's diagonal."""


@dataclass
class Packer:
    """Puts one body after the other into bytes.

    Parameters
    ----------
    low, high : (3,) array
        Corners of a box in mm that holds all of them.
    """

    low: Array
    high: Array
    pieces: list[bytes] = field(default_factory=list)

    @property
    def step(self) -> float:
        """Step in mm."""
        return float(np.max(self.high - self.low)) / FINEST

    def add(self, mesh: Mesh) -> dict[str, Any]:
        """Add points, triangles and sharp edges of a body; return how many there are."""
        edges = sharp_edges(mesh)
        wide = len(mesh.vertices) > FINEST
        index = "<u4" if wide else "<u2"
        self._put(np.rint((mesh.vertices - self.low) / self.step).astype("<u2"))
        self._put(mesh.triangles.astype(index))
        self._put(edges.astype(index))
        return {
            "points": len(mesh.vertices),
            "triangles": len(mesh.triangles),
            "edges": len(edges),
            "wide": wide,
        }

    def _put(self, numbers: np.ndarray[Any, Any]) -> None:
        data = numbers.tobytes()
        self.pieces.append(data + bytes(-len(data) % 4))

    @property
    def text(self) -> str:
        """All of them in base64."""
        return base64.b64encode(b"".join(self.pieces)).decode("ascii")


def scene_data(part: Results, *, stages: bool) -> dict[str, Any]:
    """Gather everything that the page's script draws.

    Parameters
    ----------
    part : Results
        What to show.
    stages : bool
        The stock and the block after every cut as well, before the part.

    Returns
    -------
    dict
        Fit for JSON. ``numbers`` holds the stock, then each body of each of
        ``steps``; lengths are in mm, block frame.
    """
    stock = stock_solid(part.stock).mesh
    packer = Packer(stock.vertices.min(axis=0), stock.vertices.max(axis=0))
    data: dict[str, Any] = {
        "stock": packer.add(stock),
        "steps": [],
        "looks": {
            "part": look_of(part).values,
            "held": HELD.values,
            "loose": LOOSE.values,
        },
        "ink": INK,
        "ghost": STOCK,
        "patternScale": _PATTERN / part.stock.diagonal,
    }
    unit = part.job.units
    if stages:
        mass = mass_text(part.stock_mass, unit)
        data["steps"].append(_step("The stock", mass, [_body(packer, stock, "part")]))
        for number, stage in enumerate(part.stages, start=1):
            data["steps"].append(_after(part, stage, number, packer))
    finished = [_body(packer, body.mesh, "part") for body in part.solid.bodies]
    line = f"{size_text(part.solid.size, unit)}, {mass_text(part.mass, unit)}"
    data["steps"].append(_step("The part", line, finished))
    data |= {"numbers": packer.text, "origin": packer.low.tolist(), "step": packer.step}
    return data


def _after(part: Results, stage: Stage, number: int, packer: Packer) -> dict[str, Any]:
    moves = moved_apart(stage, np.asarray(part.stock.size) / 2.0, 1.0)
    bodies = [
        _body(packer, body.solid.mesh, body.status, move)
        for body, move in zip(stage.bodies, moves, strict=True)
    ]
    title = f"After cut {number} of {len(part.stages)}, {stage.cut.name}"
    waste = sum(not body.is_part for body in stage.bodies)
    return _step(title, waste_text(waste, len(stage.loose)), bodies)


def waste_text(waste: int, loose: int) -> str:
    """Tell how many pieces are not the part.

    >>> waste_text(0, 0), waste_text(1, 1), waste_text(3, 0), waste_text(3, 2)
    ('no waste yet', '1 piece of waste, loose', '3 pieces of waste, held', \
'3 pieces of waste, 2 of them loose')
    """
    if not waste:
        return "no waste yet"
    pieces = f"{waste} piece{'s' * (waste != 1)} of waste"
    if loose in {0, waste}:
        return f"{pieces}, {'loose' if loose else 'held'}"
    return f"{pieces}, {loose} of them loose"


def _step(title: str, line: str, bodies: Sequence[dict[str, Any]]) -> dict[str, Any]:
    return {"title": title, "line": line, "bodies": list(bodies)}


def _body(packer: Packer, mesh: Mesh, look: str, move: Array | None = None) -> dict[str, Any]:
    """Pack a body, its look, and how far it moves when all are pulled apart, in mm."""
    away = np.zeros(3) if move is None else move
    return {**packer.add(mesh), "look": look, "move": [round(float(mm), 3) for mm in away]}
