"""The least section between a part and its clamps, on voxels: an oracle for how firmly it is held.

Material is sampled at the middles of voxels with shapely's point predicates, and the least cut
between voxels is found by scipy's max-flow. A surface made of voxel sides is at most √3 times,
and in the plane √2 times, as large as the smooth one that it follows: the sum of its shadows
along three axes (|x| + |y| + |z| ≤ √3 for a unit normal).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse import csgraph

from silhouette3d.geometry.stock import Stock
from silhouette3d.process.cut import Cut

Mask = NDArray[np.bool_]
Numbers = NDArray[np.int64]


def middles(stock: Stock, step: float) -> NDArray[np.float64]:
    """(nx, ny, nz, 3) middles of voxels no larger than a step."""
    axes = [
        (np.arange(n) + 0.5) * (length / n)
        for length, n in ((s, int(np.ceil(s / step - 1e-9))) for s in stock.size)
    ]
    return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)


def seen(cut: Cut, area: shapely.Geometry, points: NDArray[np.float64]) -> Mask:
    """Which of some points lie inside an area of a cut's face."""
    flat = cut.profile.view.to_view(points.reshape(-1, 3))[:, :2] - cut.profile.face.corner
    shapely.prepare(area)
    found = shapely.contains_xy(area, flat[:, 0], flat[:, 1])
    return np.asarray(found).reshape(points.shape[:-1])


def least_section(
    stock: Stock, made: Sequence[Cut], within: Sequence[Cut], side: int, step: float
) -> float:
    """In mm²: between voxels inside some outlines and the side of the block at the end of an axis.

    The side is 0, 1, 2 for x, y, z at their greatest, and -1, -2, -3 at 0. Of it counts what
    lies no nearer to a tab than that is wide, but where only such is left.
    """
    points = middles(stock, step)
    there = np.ones(points.shape[:-1], bool)
    for cut in made:
        there &= ~seen(cut, cut.removed, points)
    part = there.copy()
    for cut in within:
        part &= seen(cut, cut.profile.area, points)
    number = np.cumsum(there.ravel()).reshape(there.shape) - 1
    count = int(there.sum())
    pitch = np.array(stock.size) / there.shape
    clamped = np.zeros_like(there)
    np.moveaxis(clamped, side if side >= 0 else -side - 1, 0)[-1 if side >= 0 else 0] = True
    sections = pitch.prod() / pitch
    unit = float(sections.min()) / 1000.0
    graph = _graph(number, there, sections / unit)
    touch = round(sections[side if side >= 0 else -side - 1] / unit)
    for where in (there & clamped & ~_by_tabs(made, points), there & clamped):
        ends = sparse.lil_array((count + 2, count + 2), dtype=np.int32)
        ends[count, number[part]] = 10**8
        ends[number[where], count + 1] = touch
        whole = (graph + ends.tocsr()).tocsr()
        # scipy before 1.15 takes 32 bits only
        whole.indices, whole.indptr = (a.astype(np.int32) for a in (whole.indices, whole.indptr))
        flow = csgraph.maximum_flow(whole, count, count + 1).flow_value
        if flow:
            return float(flow) * unit
    return 0.0


def _by_tabs(made: Sequence[Cut], points: NDArray[np.float64]) -> Mask:
    found = np.zeros(points.shape[:-1], bool)
    for cut in made:
        for tab in cut.tabs:
            around = shapely.buffer(cut.strip(tab), tab.width, quad_segs=2)
            found |= seen(cut, shapely.difference(around, cut.as_cut), points)
    return found


def _graph(number: Numbers, there: Mask, sections: NDArray[np.float64]) -> Any:
    """Voxels that share a side, joined both ways."""
    count = int(there.sum()) + 2
    total: Any = sparse.coo_array((count, count), dtype=np.int32).tocsr()
    for axis in range(3):
        first, second = (
            np.moveaxis(number, axis, 0)[part] for part in (slice(1, None), slice(None, -1))
        )
        filled = np.moveaxis(there, axis, 0)
        both = filled[1:] & filled[:-1]
        size = np.full(int(both.sum()), round(float(sections[axis])), np.int32)
        one = sparse.coo_array((size, (first[both], second[both])), (count, count)).tocsr()
        total = total + one + one.T.tocsr()
    return total
