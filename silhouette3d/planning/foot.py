"""A foot: stock left beyond the part to hold it by, until the last cut parts it off.

Problem: where all cuts look across one axis, as odd angles on a bar do, no tab of an
early cut is severed by the last one. What a shop does: leave stock beyond the part
at one end of that axis, clamp by it, let no cut but the last go through it, and part
the part off with the last. Method: that is simulated. The outline of every early cut goes
straight on beyond the part's end for the kerf that parts it off, so that what stays in
its inside corners goes with that kerf, and widens then to the whole face; where the
stock ends too soon it is taken longer. A foot is told only if the simulation finds
nothing wrong, and nothing of the foot on the part.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely

from silhouette3d.checks.cuts import Limits, holds, plan_findings
from silhouette3d.checks.finding import Finding
from silhouette3d.geometry.frames import Array, View
from silhouette3d.geometry.polygons import parts_of, polygons_of
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.tolerances import ANGLE, GRID
from silhouette3d.process.cut import Cut
from silhouette3d.process.stages import CutSimulation

LEAST_FOOT: Final = 10.0
"""mm of stock to clamp by, beyond the kerf that parts the part off. Common practice, no source."""

SIDES: Final = {
    "bottom": (2, -1.0),
    "top": (2, 1.0),
    "left": (0, -1.0),
    "right": (0, 1.0),
    "front": (1, -1.0),
    "rear": (1, 1.0),
}
"""The sides of a block by axis and sign, as the block stands before the front view."""


@dataclass(frozen=True)
class Foot:
    """A foot with which the part is held until the last cut, and free after it.

    Parameters
    ----------
    side : str
        Of the block on which it is left.
    length : float
        In mm from the part to the end of the stock, the kerf that parts it off included.
    longer : float
        In mm that the stock must be longer there than it is.
    order : tuple of int
        Indices of the cuts; the last parts the part off.
    clamp : tuple of str
        For the setup of each cut of the job, the side of the block as it lies to clamp by.
    hold : float
        Least section in mm² on the way from part to clamp.
    """

    side: str
    length: float
    longer: float
    order: tuple[int, ...]
    clamp: tuple[str, ...]
    hold: float


def foot_for(
    cutting: CutSimulation, order: Sequence[int], limits: Limits, *, clear_offcuts: bool
) -> Foot | None:
    """Find a foot with which nothing is wrong with the plan: the shortest stock, the first order.

    Parameters
    ----------
    cutting : CutSimulation
        The cuts; their tabs are left out.
    order : sequence of int
        Indices of the cuts as the job has them.
    limits : Limits
        What the plan is held against.
    clear_offcuts : bool
        As the job says.
    """
    found = []
    for side in SIDES:
        if not _is_across(cutting, side):
            continue
        for last in reversed(order):
            tried = (*(i for i in order if i != last), last)
            foot = _tried(cutting, side, tried, limits, clear_offcuts=clear_offcuts)
            if foot is not None:
                found.append(foot)
                break
    return min(found, key=lambda foot: (foot.order != tuple(order), foot.longer), default=None)


def _is_across(cutting: CutSimulation, side: str) -> bool:
    """Tell whether all cuts look across the axis of a side, and that is an end of the stock."""
    axis, stock = SIDES[side][0], cutting.stock
    if stock.diameter is not None and "xyz".index(stock.along) != axis:
        return False
    return all(abs(cut.profile.view.look[axis]) < ANGLE for cut in cutting.cuts)


def _tried(
    cutting: CutSimulation,
    side: str,
    order: tuple[int, ...],
    limits: Limits,
    *,
    clear_offcuts: bool,
) -> Foot | None:
    axis, sign = SIDES[side]
    kerf = max(cut.width for cut in cutting.cuts)
    low, high = cutting.finished.bounds[:, axis]
    room = float(low if sign < 0.0 else cutting.stock.size[axis] - high)
    length = max(room, kerf + LEAST_FOOT)
    longer = length - room
    size = list(cutting.stock.size)
    size[axis] += longer
    stock = replace(cutting.stock, size=(size[0], size[1], size[2]))
    shift = np.zeros(3)
    shift[axis] = longer if sign < 0.0 else 0.0
    end = float((low if sign < 0.0 else high) + shift[axis])
    cuts = [
        _moved(cut, stock, shift, None if i == order[-1] else (axis, sign, end, kerf))
        for i, cut in enumerate(cutting.cuts)
    ]
    finished = cutting.finished.mapped(np.column_stack([np.eye(3), shift]))
    clamp = tuple(_side_in(cut.profile.view, axis, sign) for cut in cuts)
    plan = CutSimulation(stock, cuts, [[one] for one in clamp], finished)
    stages = plan.stages(order, clear_offcuts=clear_offcuts)
    wrong: Iterator[Finding] = plan_findings(plan, order, stages, limits)
    if any(one.is_to_mend for one in wrong) or not _is_all_gone(cutting, stages[-1].part.solid):
        return None
    hold = min((one.hold.area for one in holds(plan, order, stages)), default=float(np.inf))
    return Foot(side, length, longer, order, clamp, hold)


def _is_all_gone(cutting: CutSimulation, freed: Solid) -> bool:
    """Tell whether nothing of the foot stays on the part, wherever the last cut parts it off.

    It must be what all cuts without tabs and without a foot leave.
    """
    bare = cutting.again([replace(cut, tabs=()) for cut in cutting.cuts])
    whole = bare.bodies(bare.all_cut)[bare.main_piece(bare.all_cut)]
    stray = cutting.stock.tolerances.stray
    return freed.volume <= whole.volume + stray * whole.surface_area


def _moved(
    cut: Cut, stock: Stock, shift: Array, foot: tuple[int, float, float, float] | None
) -> Cut:
    """Move a cut, without its tabs, to a longer stock; its outline goes round a foot to leave."""
    profile, view = cut.profile, cut.profile.view
    face = stock.face(view)
    by = np.asarray(profile.face.corner) + view.axes[:2] @ shift - face.corner
    area: shapely.Geometry = shapely.transform(profile.area, lambda points: points + by)
    if foot is not None:
        axis, sign, end, kerf = foot
        straight_on = _going_on(area, view, axis, sign, end, kerf, stock)
        beyond = _beyond(view, axis, sign, end + sign * kerf, stock)
        area = shapely.union_all([area, straight_on, beyond], grid_size=GRID)
    outline = replace(profile.outline, polygons=polygons_of(area))
    return replace(cut, profile=replace(profile, face=face, outline=outline), stock=stock, tabs=())


def _going_on(
    area: shapely.Geometry,
    view: View,
    axis: int,
    sign: float,
    end: float,
    kerf: float,
    stock: Stock,
) -> shapely.Geometry:
    """Carry an area straight on for a kerf, as wide as it is right at the part's end."""
    outward = _beyond(view, axis, sign, end - sign * stock.tolerances.clear, stock)
    near = shapely.difference(outward, _beyond(view, axis, sign, end, stock))
    way = view.axes[:2, axis] * sign * kerf
    pieces = []
    for piece in parts_of(shapely.intersection(area, near)):
        moved = shapely.transform(piece, lambda points: points + way)
        pieces.append(shapely.convex_hull(shapely.union(piece, moved)))
    return shapely.union_all(pieces)


def _beyond(view: View, axis: int, sign: float, end: float, stock: Stock) -> shapely.Polygon:
    """Find what of a face lies beyond the end of the part, past the stock too, as seen on it."""
    face = stock.face(view)
    way = view.axes[:2, axis] * sign  # along u or v, as the view looks across the axis
    past = 2.0 * stock.diagonal
    across = np.array([-way[1], way[0]]) * past
    start = view.axes[:2, axis] * end - np.asarray(face.corner)
    middle = np.asarray(face.size) / 2.0
    start = start + across / past * float((middle - start) @ across / past)
    return shapely.Polygon(
        [start - across, start + across, start + across + way * past, start - across + way * past]
    )


def _side_in(view: View, axis: int, sign: float) -> str:
    """Tell which side of the block as it lies in a setup is the one at an end of an axis."""
    u, v = view.axes[:2, axis] * sign
    if abs(u) > abs(v):
        return "right" if u > 0.0 else "left"
    return "top" if v > 0.0 else "bottom"
