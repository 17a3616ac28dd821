"""Bodies as the page's script takes them: whole numbers in base64, and where each goes."""

from __future__ import annotations

import base64
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from silhouette3d.output.page.looks import HELD, LOOSE, look_of
from silhouette3d.output.picture.edges import sharp_edges
from silhouette3d.output.picture.stages import moved_apart
from silhouette3d.quantity import mass_text, size_text
from silhouette3d.solid import stock_solid
from silhouette3d.theme import INK, STOCK

if TYPE_CHECKING:
    from collections.abc import Sequence

    from silhouette3d.cutting.stages import Stage
    from silhouette3d.part import Part
    from silhouette3d.solid import Mesh
    from silhouette3d.view import Array

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
        """In mm."""
        return float(np.max(self.high - self.low)) / FINEST

    def add(self, mesh: Mesh) -> dict[str, Any]:
        """Points, triangles and sharp edges of a body; returns how many there are."""
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


def scene_data(part: Part, *, stages: bool) -> dict[str, Any]:
    """Everything that the page's script draws.

    Parameters
    ----------
    part : Part
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


def _after(part: Part, stage: Stage, number: int, packer: Packer) -> dict[str, Any]:
    moves = moved_apart(stage, np.asarray(part.stock.size) / 2.0, 1.0)
    bodies = [
        _body(packer, body.solid.mesh, body.standing, move)
        for body, move in zip(stage.bodies, moves, strict=True)
    ]
    title = f"After cut {number} of {len(part.stages)}, {stage.cut.name}"
    waste = sum(not body.is_part for body in stage.bodies)
    return _step(title, waste_text(waste, len(stage.loose)), bodies)


def waste_text(waste: int, loose: int) -> str:
    """How many pieces are not the part.

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
    """A body, its look, and how far it moves when all are pulled apart, in mm."""
    away = np.zeros(3) if move is None else move
    return {**packer.add(mesh), "look": look, "move": [round(float(mm), 3) for mm in away]}
