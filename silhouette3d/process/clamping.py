"""Clamps: which bodies they hold, where the block is seated, where the cutter meets them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final, Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from silhouette3d.geometry.frames import Array, View
from silhouette3d.geometry.mesh import Indices, Mesh
from silhouette3d.geometry.misfit import MisfitError
from silhouette3d.geometry.solid import Solid, together
from silhouette3d.geometry.stock import Face, Stock
from silhouette3d.geometry.tolerances import ANGLE
from silhouette3d.process.cells import Pieces, cells_of, split
from silhouette3d.process.cut import Cut
from silhouette3d.process.leads import USUAL, Driving
from silhouette3d.process.runs import Run

# --- Which bodies the clamps hold, from the stock's own surface that is left on each


Rectangle = tuple[float, float, float, float]
Clamp = Sequence[str] | Sequence[Rectangle]


@dataclass(frozen=True, eq=False)
class Clamping:
    """The stock in one setup, and where it is clamped.

    Parameters
    ----------
    stock : Stock
        Before any cut: clamps press on what is left of its surface.
    view : View
        The side that faces the cutter.
    clamp : sequence of str, or of rectangles, optional
        Sides of the block as it lies (left, right, bottom, top) or rectangles
        (u0, v0, u1, v1) on its face, in face coordinates in mm.
    """

    stock: Stock
    view: View
    clamp: Clamp | None = None

    def held(self, bodies: Sequence[Solid], on_sides: Array | None = None) -> frozenset[int]:
        """List the bodies that the clamps hold, by index.

        Without clamps the one body with the largest area on the stock's side
        faces in this setup; of equal ones the first. A body with no area there
        cannot be held.

        Parameters
        ----------
        bodies : sequence of Solid
            What is there.
        on_sides : (bodies, sides) array, optional
            Their `areas_on_sides`, where they are known: they are the same in every setup.
        """
        none = self.stock.tolerances.least_area  # an edge or a point holds nothing
        if on_sides is None:
            on_sides = areas_on_sides(self.stock, bodies)
        if self.clamp is None:
            # rounded, so that of equal areas the first wins, however they were summed up
            areas = np.round(on_sides[:, np.any(list(self._lie.values()), axis=0)].sum(axis=1), 6)
            if not areas.size or areas.max() <= none:
                return frozenset()
            return frozenset([int(np.argmax(areas))])
        if all(isinstance(side, str) for side in self.clamp):
            pressed = [on_sides[:, self._lie[str(s)]].sum(axis=1) for s in self.clamp]
            return frozenset(i for on in pressed for i in np.nonzero(on > none)[0].tolist())
        pads = shapely.union_all([shapely.box(*r) for r in self.clamp if not isinstance(r, str)])
        shown = on_sides[:, self._towards_eye].sum(axis=1)
        return frozenset(
            i
            for i, body in enumerate(bodies)
            if shown[i] > 0.0 and shapely.area(self._under(body, pads)) > none
        )

    def pressed(self, depth: float) -> Pieces:
        """List the stock's own surface that clamps press on, as it was before any cut.

        Without clamps every side in this setup, as no one knows where they will be.

        Parameters
        ----------
        depth : float
            In mm. How deep under the surface the pieces lie.
        """
        sides = faces_of(self.stock, depth)
        if self.clamp is None:
            return _those(sides, np.any(list(self._lie.values()), axis=0))
        if all(isinstance(side, str) for side in self.clamp):
            return _those(sides, np.any([self._lie[str(s)] for s in self.clamp], axis=0))
        pads = shapely.union_all([shapely.box(*r) for r in self.clamp if not isinstance(r, str)])
        corner = np.asarray(self.stock.face(self.view).corner)
        cells = cells_of(pads, shapely.MultiPolygon()).moved(corner)
        found = split(_those(sides, self._towards_eye), cells, self.view)
        return replace(found, labels=found.labels[:, :0])

    @cached_property
    def _lie(self) -> dict[str, NDArray[np.bool_]]:
        """Masks of the stock's sides that are left, right, bottom and top as the block lies."""
        u, v, w = self.view.axes @ sides_of(self.stock)[0].T
        upright = np.hypot(u, v) >= np.abs(w) - ANGLE
        across, along = upright & (np.abs(u) >= np.abs(v)), upright & (np.abs(u) < np.abs(v))
        return {
            "left": across & (u <= 0.0),
            "right": across & (u > 0.0),
            "bottom": along & (v <= 0.0),
            "top": along & (v > 0.0),
        }

    @property
    def _towards_eye(self) -> NDArray[np.bool_]:
        """Mask of the stock's sides that face the cutter."""
        return np.asarray(sides_of(self.stock)[0] @ self.view.axes[2] > 0.5)

    def _under(self, body: Solid, pads: shapely.Geometry) -> shapely.Geometry:
        """Find where a body shows the stock's own face under the pads, in face coordinates."""
        triangle, side = _on_sides(self.stock, body.mesh)
        shown = np.unique(triangle[self._towards_eye[side]])
        flat = self.view.to_view(body.mesh.corners[shown].reshape(-1, 3))[:, :2]
        triangles = shapely.polygons((flat - self.stock.face(self.view).corner).reshape(-1, 3, 2))
        whole = shapely.union_all(triangles, grid_size=self.stock.tolerances.wall)
        return shapely.intersection(whole, pads)


def areas_on_sides(stock: Stock, bodies: Sequence[Solid]) -> Array:
    """Measure the area in mm² of each body on each flat side of the stock, as (bodies, sides)."""
    mesh, count = together(bodies).mesh, len(sides_of(stock)[1])
    triangle, side = _on_sides(stock, mesh)
    body = np.repeat(np.arange(len(bodies)), [len(b.mesh.triangles) for b in bodies])
    a, b, c = np.moveaxis(mesh.vertices[mesh.triangles[triangle]], 1, 0)
    size = np.linalg.norm(np.cross(b - a, c - a) / 2.0, axis=1)
    areas = np.bincount(body[triangle] * count + side, size, len(bodies) * count)
    return np.asarray(areas.reshape(-1, count))


def _on_sides(stock: Stock, mesh: Mesh) -> tuple[Indices, Indices]:
    """Find triangles that lie on a side of the stock, and which side that is."""
    normals, offsets = sides_of(stock)
    off = mesh.vertices @ normals.T
    off -= offsets
    near = np.abs(off, out=off) <= stock.tolerances.wall
    touches = np.asarray(near.any(axis=1))
    some = np.nonzero(touches[mesh.triangles].all(axis=1))[0]
    found, side = np.nonzero(near[mesh.triangles[some]].all(axis=1))
    return some[found], side


def faces_of(stock: Stock, depth: float) -> Pieces:
    """Move the flat sides of a stock inward by a depth; label them as `sides_of` lists them."""
    section, axes = stock.section, stock.axis_view.axes
    following = np.roll(section, -1, axis=0)
    length = np.linalg.norm(following - section, axis=1)
    count = len(section)
    walls = np.zeros((count, 4, 2))
    walls[:, 1:3, 0] = length[:, None]
    walls[:, 2:, 1] = stock.length
    along = ((following - section) / length[:, None]) @ axes[:2]
    upright = np.stack([along, np.broadcast_to(axes[2], (count, 3))], axis=1)
    fan = np.stack([np.broadcast_to(section[0], (count - 2, 2)), section[1:-1], section[2:]], 1)
    fan = np.concatenate([fan, fan[:, 2:]], axis=1)
    ends = np.zeros((2 * len(fan), 3))
    ends[: len(fan)] = axes[2] * stock.length
    number = np.concatenate([np.arange(count), np.repeat([count, count + 1], len(fan))])
    return Pieces(
        np.concatenate([section @ axes[:2], ends]) - depth * sides_of(stock)[0][number],
        np.concatenate([upright, np.broadcast_to(axes[:2], (2 * len(fan), 2, 3))]),
        np.concatenate([walls, fan, fan]),
        number[:, None],
    )


def _those(sides: Pieces, chosen: NDArray[np.bool_]) -> Pieces:
    """Choose some of all sides, without labels."""
    found = sides.of(np.nonzero(chosen[sides.labels[:, 0]])[0])
    return replace(found, labels=found.labels[:, :0])


def sides_of(stock: Stock) -> tuple[Array, Array]:
    """List outward normals (n, 3) and offsets (n,) of the stock's flat sides."""
    section = stock.section
    along = np.roll(section, -1, axis=0) - section
    outward = np.column_stack([along[:, 1], -along[:, 0]])
    outward /= np.linalg.norm(outward, axis=1, keepdims=True)
    axes = stock.axis_view.axes
    normals = np.concatenate([outward @ axes[:2], [axes[2], -axes[2]]])
    offsets = np.concatenate([np.einsum("ij,ij->i", outward, section), [stock.length, 0.0]])
    return normals, offsets


def refuse_stray_clamps(clamp: Clamp | None, face: Face) -> None:
    """Raise if a clamp's rectangle lies off the face of the stock.

    Raises
    ------
    MisfitError
        With the number of the clamp, its rectangle, and width and height of the face.
    """
    width, height = face.size
    for number, pad in enumerate(clamp or (), start=1):
        if isinstance(pad, str):
            continue
        u0, v0, u1, v1 = np.asarray(pad, float).tolist()
        if min(u1, width) <= max(u0, 0.0) or min(v1, height) <= max(v0, 0.0):
            raise MisfitError("clamp-off-face", u0, v0, u1, v1, width, height, count=number)


# --- Which surfaces of the stock still stand for the block to be seated against in a setup
#
# In a setup the block lies against a square or a stop: two of the four upright sides of the
# face, which meet in a corner. A side can serve while the body that is clamped still shows the
# stock's own surface on it, over a stretch that is long enough along the side. What is seen of a
# side from above is a set of intervals: those of its triangles, united.


Side = Literal["left", "right", "near", "far"]

SIDES: Final[tuple[Side, ...]] = ("left", "right", "near", "far")

DATUM: Final[tuple[Side, Side]] = ("left", "near")
"""The two sides that meet in the datum, the lower left corner of the face."""

CORNERS: Final[tuple[tuple[Side, Side], ...]] = (
    DATUM,
    ("right", "near"),
    ("left", "far"),
    ("right", "far"),
)
"""The corners of a face, each by the two sides that meet in it; the datum's first."""

_WAYS: Final[dict[Side, tuple[int, int]]] = {
    "left": (0, 0),
    "right": (0, 1),
    "near": (1, 0),
    "far": (1, 1),
}
"""Across or away, and which end of that."""


@dataclass(frozen=True)
class Seats:
    """Lengths that a body stands on along each upright side of the face.

    Parameters
    ----------
    standing : mapping
        For each side the longest stretch in mm, and what counts as long enough.
    """

    standing: dict[Side, tuple[float, float]]

    def serves(self, side: Side) -> bool:
        """Tell whether a side is long enough to be seated against."""
        long, enough = self.standing[side]
        return long >= enough

    @property
    def corner(self) -> tuple[Side, Side] | None:
        """The first corner whose two sides both serve; None if there is none."""
        return next((c for c in CORNERS if all(map(self.serves, c))), None)


def has_flat_sides(stock: Stock, view: View) -> bool:
    """Tell whether the stock stands upright between four flat sides: a block, seen square."""
    return stock.diameter is None and view.is_square


def seats(body: Solid, stock: Stock, view: View, least: float) -> Seats:
    """Measure what is left of the stock's own surface on the four sides round a face.

    Parameters
    ----------
    body : Solid
        What is clamped.
    stock : Stock
        As it was, with upright flat sides in this view.
    view : View
        Of the setup.
    least : float
        In mm. A stretch that is long enough; of a side shorter than twice that, half the side.
    """
    face = stock.face(view)
    corners = view.to_view(body.mesh.corners.reshape(-1, 3)).reshape(-1, 3, 3)
    room = stock.tolerances.wall
    found: dict[Side, tuple[float, float]] = {}
    for side, (axis, end) in _WAYS.items():
        at = face.corner[axis] + end * face.size[axis]
        on = (np.abs(corners[:, :, axis] - at) <= room).all(axis=1)
        along = corners[on][:, :, 1 - axis]
        enough = min(least, face.size[1 - axis] / 2.0)
        found[side] = (_longest(along.min(axis=1), along.max(axis=1), room), enough)
    return Seats(found)


def _longest(low: Array, high: Array, room: float) -> float:
    """Measure the longest stretch that intervals cover without a gap wider than `room`."""
    if not len(low):
        return 0.0
    order = np.argsort(low)
    low, high = low[order], np.maximum.accumulate(high[order])
    begins = np.r_[True, low[1:] > high[:-1] + room]
    ends = np.r_[begins[1:], True]
    return float((high[ends] - low[begins]).max())


# --- Where the cutter meets a clamp
#
# A clamp on the face is the rectangle that it covers. A clamp that presses on a side
# stands all along that side, right outside the face: what the cutter takes beyond
# the side it takes of the clamp; a jaw reaches over the face as well. The head is a disc
# wider than the kerf. Touching is no meeting.


_DEEP: Final = 0.1
"""Share of the kerf by which the cutter must reach into a clamp: it may touch it."""


@dataclass(frozen=True)
class ClampContact:
    """A clamp that the cutter meets.

    Parameters
    ----------
    number : int
        Which of the setup's clamps it is, counted from 1.
    side : str, optional
        The side it presses on; none if it lies on the face.
    run : int
        The first run that meets it, counted from 1.
    at : tuple of float
        Where, in face coordinates in mm.
    length : float
        Of all runs through it, in mm.
    """

    number: int
    side: str | None
    run: int
    at: tuple[float, float]
    length: float


def met_clamps(
    cut: Cut, runs: Sequence[Run], clamp: Clamp | None, driving: Driving = USUAL
) -> Iterator[ClampContact]:
    """Find the clamps of a setup that the cutter or its head meets, as they are named.

    The head is met where it would move over a clamp while a run or a lead is cut.
    """
    reach = max(cut.width * (0.5 - _DEEP), driving.head / 2.0)
    every: Sequence[str | Rectangle] = [*(clamp or ())]
    for number, one in enumerate(every, start=1):
        side = one if isinstance(one, str) else None
        spoilt = shapely.buffer(_covered(cut, one, driving.jaw), reach)
        inside = [shapely.intersection(run.way, spoilt) for run in runs]
        lengths = [float(shapely.length(piece)) for piece in inside]
        if not any(lengths):
            continue
        first = next(i for i, length in enumerate(lengths) if length)
        u, v = shapely.get_coordinates(inside[first])[0].tolist()
        yield ClampContact(number, side, first + 1, (u, v), sum(lengths))


def covered(cut: Cut, clamp: Clamp | None, jaw: float = 0.0) -> shapely.Geometry:
    """Find what the clamps of a setup cover of the face and beside it, in face coordinates."""
    every: Sequence[str | Rectangle] = [*(clamp or ())]
    return shapely.union_all([_covered(cut, one, jaw) for one in every])


def _covered(cut: Cut, one: str | Rectangle, jaw: float) -> shapely.Geometry:
    return _outside(cut, one, jaw) if isinstance(one, str) else shapely.box(*np.asarray(one, float))


def _outside(cut: Cut, side: str, jaw: float) -> shapely.Geometry:
    """Find what lies beyond a side of the face, and what a jaw covers of the face along it."""
    width, height = cut.profile.face.size
    far = width + height + cut.width
    return {
        "left": shapely.box(-far, -far, jaw, height + far),
        "right": shapely.box(width - jaw, -far, width + far, height + far),
        "bottom": shapely.box(-far, -far, width + far, jaw),
        "top": shapely.box(-far, height - jaw, width + far, height + far),
    }[side]
