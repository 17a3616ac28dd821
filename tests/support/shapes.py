"""Named shapes shared by the tests, and ways to make profiles, drawings, jobs and parts of them.

Every volume and area is written as a formula: constructed here, from the
outlines, by hand.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import ezdxf.filemanagement
import numpy as np
import shapely
import tomlkit
from shapely import MultiPolygon, Polygon

import silhouette3d
from silhouette3d.drawing.outline.outline import Outline
from silhouette3d.geometry.frames import VIEWS, View
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.subtract import carve
from silhouette3d.process.cut import removal_of
from silhouette3d.process.profile import Profile

Triple = tuple[float, float, float]
Area = Polygon | MultiPolygon


@dataclass(frozen=True)
class Shape:
    """Outlines on a block in mm, and what the part is known to be.

    Parameters
    ----------
    size : tuple of float
        Of the block: width x, depth y, height z.
    outlines : mapping
        By view, in face coordinates.
    volume, area : float
        Of the part, in mm³ and mm².
    bodies : tuple of float
        Volume of each of its pieces, largest first, when it is in several.
    """

    size: Triple
    outlines: Mapping[str, Area]
    volume: float
    area: float
    bodies: tuple[float, ...] = ()

    @property
    def stock(self) -> Stock:
        return Stock(self.size)

    @property
    def profiles(self) -> tuple[Profile, ...]:
        """In memory, without a drawing."""
        return tuple(profile(view, area, self.stock) for view, area in self.outlines.items())

    @property
    def solid(self) -> Solid:
        return solid(self.stock, self.profiles)


def solid(stock: Stock, profiles: Iterable[Profile]) -> Solid:
    """What the outlines leave of the stock."""
    return carve(stock, [removal_of(p, stock) for p in profiles])


def profile(view: str | View, area: Area, stock: Stock, name: str = "") -> Profile:
    """An outline in face coordinates as a profile, without a drawing."""
    sight = VIEWS[view] if isinstance(view, str) else view
    face = stock.face(sight)
    return Profile(name or sight.name, sight, face, Outline(many(area)))


def many(area: shapely.Geometry) -> MultiPolygon:
    """Any area as polygons."""
    return MultiPolygon([p for p in shapely.get_parts(area) if isinstance(p, Polygon)])


def rect(u0: float, v0: float, u1: float, v1: float) -> Polygon:
    """An upright rectangle."""
    return Polygon([(u0, v0), (u1, v0), (u1, v1), (u0, v1)])


def disc(u: float, v: float, radius: float, corners: int = 64) -> Polygon:
    """A regular polygon inscribed in a circle, with corners at the four quarters."""
    t = np.arange(corners) * (2.0 * math.pi / corners)
    flat = np.round(np.column_stack([np.cos(t), np.sin(t)]), 12)
    return Polygon(np.array([u, v]) + radius * flat)


def grid(*rows: str) -> np.ndarray:
    """``grid("#.", "##")`` as cells by (column, row), rows written from the top."""
    return np.array([[c == "#" for c in row] for row in reversed(rows)]).T


def cells(filled: np.ndarray, side: float = 10.0) -> MultiPolygon:
    """The union of square cells, given by (column, row)."""
    squares = [
        rect(i * side, j * side, (i + 1) * side, (j + 1) * side)
        for i, j in zip(*np.nonzero(filled), strict=True)
    ]
    return many(shapely.simplify(shapely.union_all(squares), 0.0))


def notched(side: float, u: tuple[float, float], v: tuple[float, float]) -> Polygon:
    """A square without the rectangle that spans u and v."""
    left = shapely.difference(rect(0, 0, side, side), rect(u[0], v[0], u[1], v[1]))
    assert isinstance(left, Polygon)
    return left


def _discs(r: float, corners: int = 64) -> Shape:
    """Two discs: at each height a square as wide as the disc there; straight between corners."""
    t = np.linspace(-math.pi / 2, math.pi / 2, corners // 2 + 1)
    w, h = r * np.cos(t), r * np.sin(t)
    w[[0, -1]] = 0.0
    rise, slant = np.diff(h), np.hypot(np.diff(h), np.diff(w))
    return Shape(
        (2 * r, 2 * r, 2 * r),
        {"front": disc(r, r, r, corners), "right": disc(r, r, r, corners)},
        volume=float(4.0 / 3.0 * rise @ (w[1:] ** 2 + w[1:] * w[:-1] + w[:-1] ** 2)),
        area=float(4.0 * slant @ (w[1:] + w[:-1])),
    )


# Two triangles that are one but for 1e-9 mm. GEOS 3.14 loses them in an intersection or difference
# unless it works on a grid.
NEARLY = (
    [(5, 2), (1.1111111112499354, 0.4444444444999742), (4.222222222249987, 3.5555555555000256)],
    [(5, 2), (1.1111111109092537, 0.4444444443637015), (4.222222222181851, 3.5555555556362983)],
)

PLATE = Shape((60, 40, 10), {"top": rect(0, 0, 60, 40)}, 60 * 40 * 10, 2 * (2400 + 600 + 400))

COMB = Shape(
    (60, 12, 30),
    {
        "front": many(
            shapely.union_all(
                [rect(0, 0, 60, 10), *(rect(u, 0, u + 6, 30) for u in (0, 18, 36, 54))]
            )
        )
    },
    volume=(60 * 10 + 4 * 6 * 20) * 12,
    area=2 * (60 * 10 + 4 * 6 * 20) + (2 * (60 + 30) + 3 * 2 * 20) * 12,
)

WEDGE = Shape(
    (60, 20, 45),
    {"front": Polygon([(0, 0), (60, 0), (0, 45)])},
    volume=60 * 45 / 2 * 20,
    area=60 * 45 + (60 + 45 + 75) * 20,
)

NECK = Shape(
    (60, 10, 30),
    {
        "front": many(
            shapely.union_all([rect(0, 0, 20, 30), rect(20, 14, 40, 16), rect(40, 0, 60, 30)])
        )
    },
    volume=(2 * 20 * 30 + 20 * 2) * 10,
    area=2 * (2 * 20 * 30 + 20 * 2) + (2 * (2 * 20 + 2 * 30 - 2) + 2 * 20) * 10,
)

CROSSED_BARS = Shape(
    (60, 60, 20),
    {
        "front": many(shapely.union_all([rect(0, 0, 60, 12), rect(24, 8, 36, 20)])),
        "right": many(shapely.union_all([rect(24, 0, 36, 12), rect(0, 8, 60, 20)])),
        "top": many(shapely.union_all([rect(0, 24, 60, 36), rect(24, 0, 36, 60)])),
    },
    # two bars of 60 x 12 x 12 that share 12 x 12 x 4
    volume=2 * 60 * 12 * 12 - 12 * 12 * 4,
    area=2 * 2 * (2 * 60 * 12 + 12 * 12) - 2 * (12 * 12 + 2 * 12 * 4),
)

DISCS = _discs(20.0)

ELL = Shape(
    (40, 20, 30),
    {
        "front": Polygon([(0, 0), (40, 0), (40, 10), (10, 10), (10, 30), (0, 30)]),
        "right": Polygon([(0, 0), (20, 0), (20, 30), (10, 30), (10, 20), (0, 20)]),
    },
    volume=(40 * 20 + 10 * 20 + 10 * 10) * 10,
    area=(2 * (40 + 20) + 2 * (10 + 20) + 4 * 10) * 10 + 2 * 40 * 20,
)

STEPS = Shape(
    (40, 20, 40),
    {
        "front": many(
            shapely.union_all([rect(10 * i, 0, 10 * i + 10, 40 - 10 * i) for i in range(4)])
        )
    },
    volume=(10 + 20 + 30 + 40) * 10 * 20,
    area=2 * (10 + 20 + 30 + 40) * 10 + 2 * (40 + 40) * 20,
)

# The outlines agree in extent, pair by pair, but only two cubes of 8 mm are left, 8 mm apart
# along each axis: 20 - 12 = 8.
TWO_CUBES = Shape(
    (20, 20, 20),
    {
        "front": notched(20, (8, 20), (8, 20)),
        "right": notched(20, (8, 20), (0, 12)),
        "top": notched(20, (0, 12), (0, 12)),
    },
    volume=2 * 8**3,
    area=2 * 6 * 8**2,
    bodies=(8**3, 8**3),
)

# The same with every limit at the middle: two cubes that touch in the point (10, 10, 10).
CORNER_CUBES = Shape(
    (20, 20, 20),
    {
        "front": notched(20, (10, 20), (10, 20)),
        "right": notched(20, (10, 20), (0, 10)),
        "top": notched(20, (0, 10), (0, 10)),
    },
    volume=2 * 10**3,
    area=2 * 6 * 10**2,
    bodies=(10**3, 10**3),
)

# Connected outlines that lose nothing of their shadows, and still leave a loose cube. Both were
# found by trying all connected outlines on small grids.
LOOSE_CUBE_OF_THREE = Shape(
    (30, 30, 30),
    {
        "front": cells(grid("##.", ".##", "##.")),
        "right": cells(grid("##.", "###", "#.#")),
        "top": cells(grid("#.#", "#.#", "###")),
    },
    volume=10_000,
    area=4400,
    bodies=(9000, 1000),
)

LOOSE_CUBE_OF_TWO = Shape(
    (30, 30, 30),
    {
        "front": cells(grid("###", "#.#", "#..")),
        "right": cells(grid("#..", "#.#", "###")),
    },
    volume=10_000,
    area=4400,
    bodies=(9000, 1000),
)

# The front outline ends where the right one begins.
NOTHING = Shape(
    (10, 10, 20),
    {"front": rect(0, 0, 10, 10), "right": rect(0, 10, 10, 20)},
    volume=0,
    area=0,
)

SOUND = {
    "plate": PLATE,
    "comb": COMB,
    "wedge": WEDGE,
    "neck": NECK,
    "crossed bars": CROSSED_BARS,
    "discs": DISCS,
    "ell": ELL,
    "steps": STEPS,
}
"""Parts of one body."""

IN_PIECES = {
    "two cubes": TWO_CUBES,
    "corner cubes": CORNER_CUBES,
    "loose cube of three": LOOSE_CUBE_OF_THREE,
    "loose cube of two": LOOSE_CUBE_OF_TWO,
}
"""Parts of two bodies."""


def write_dxf(path: Path, layers: Mapping[str, Area], units: int = 4) -> Path:
    """Areas as closed polylines, one layer each; units as in $INSUNITS (4: mm, 1: inch)."""
    document = ezdxf.filemanagement.new("R2010", units=units)
    for layer, area in layers.items():
        for loop in loops(area):
            document.modelspace().add_lwpolyline(loop, close=True, dxfattribs={"layer": layer})
    document.saveas(path)
    return path


def write_svg(path: Path, area: Area, height: float) -> Path:
    """An area as one path in mm, on a page of this height, v up."""
    u0, _, u1, _ = area.bounds
    data = " ".join(
        "M" + " L".join(f"{u!r},{height - v!r}" for u, v in loop) + " Z" for loop in loops(area)
    )
    width = max(u1, 0.0) - min(u0, 0.0)
    path.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width!r}mm" height="{height!r}mm" '
        f'viewBox="0 0 {width!r} {height!r}"><path fill-rule="evenodd" d="{data}"/></svg>',
        "utf-8",
    )
    return path


def loops(area: Area) -> list[list[tuple[float, float]]]:
    """The rings of an area, outer ones and holes, without the closing point."""
    return [
        [(float(u), float(v)) for u, v in ring.coords[:-1]]
        for part in many(area).geoms
        for ring in (part.exterior, *part.interiors)
    ]


def write_job(folder: Path, shape: Shape, **more: Any) -> Path:
    """A job file with a DXF for each outline, its origin on the datum.

    `more` are further keys of the job; ``profiles={"front": {...}}`` are keys of
    a profile and ``stock={...}`` of the stock. A key that is None is left out.
    """
    keys: Mapping[str, Mapping[str, Any]] = more.pop("profiles", {})
    stock = {"size": [float(x) for x in shape.size], "density": 1.0} | more.pop("stock", {})
    tables = []
    for view, area in shape.outlines.items():
        write_dxf(folder / f"{view}.dxf", {"OUTLINE": area})
        table = {"view": view, "drawing": f"{view}.dxf", "datum": [0.0, 0.0], **keys.get(view, {})}
        tables.append(_given(table))
    path = folder / "job.toml"
    job = {"name": "shape", **more, "stock": _given(stock), "profile": tables}
    path.write_text(tomlkit.dumps(job), "utf-8")
    return path


def _given(table: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in table.items() if value is not None}


def load(folder: Path, shape: Shape, **more: Any) -> silhouette3d.Part:
    """The part of a job written into a folder."""
    return silhouette3d.load(write_job(folder, shape, **more))


def scaled(shape: Shape, factor: float) -> Shape:
    """The same shape in another size."""
    return replace(
        shape,
        size=(factor * shape.size[0], factor * shape.size[1], factor * shape.size[2]),
        outlines={v: shapely.transform(a, lambda p: p * factor) for v, a in shape.outlines.items()},
        volume=shape.volume * factor**3,
        area=shape.area * factor**2,
        bodies=tuple(factor**3 * b for b in shape.bodies),
    )


def turned(points: Sequence[float], degrees: float) -> tuple[float, float]:
    """A point turned about the origin, counter-clockwise."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return c * points[0] - s * points[1], s * points[0] + c * points[1]
