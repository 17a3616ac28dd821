"""Joining open curves end to end into closed loops."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from silhouette3d.drawing.curve import Curve, Piece
from silhouette3d.drawing.net import Gap, Joined, Net
from silhouette3d.errors import DrawingError
from silhouette3d.units import MERGE

__all__ = ["Gap", "Joined", "UnclosedError", "close_loops", "nets", "parted", "unrepeated"]


class UnclosedError(Exception):
    """Open curves do not close; a survey says why."""


def close_loops(curves: Sequence[Curve], tolerance: float, where: str) -> Joined:
    """Join open curves to closed loops.

    Ends within `MERGE` meet; ends within `CLOSE_GAP` are bridged by a straight
    piece, which is reported. Curves drawn twice count once. Where lines overlap
    in part, or end on the middle of another, they are cut at their meeting
    points first, so that each stretch is there once.

    Parameters
    ----------
    curves : sequence of Curve
        Open curves, in mm.
    tolerance : float
        For flattening, in mm, where curves have to be cut.
    where : str
        The file, for messages.

    Raises
    ------
    UnclosedError
        If an end is further than `CLOSE_GAP` from any other, or an odd number
        of lines meet at a point.
    DrawingError
        If more ends lie beside each other than can be looked at.
    """
    for net in nets(curves, tolerance, where):
        if net.closes:
            return net.joined()
    raise UnclosedError


def nets(curves: Sequence[Curve], tolerance: float, where: str) -> Iterator[Net]:
    """Give the ways in which curves may meet: at their ends, then also between them."""
    unique = unrepeated(curves, tolerance)
    yield Net.of(unique, where)
    try:
        cut = Net.cut(unique, tolerance, where)
    except DrawingError:
        return  # too many places to tell
    yield cut


def parted(loop: Curve) -> list[Curve]:
    """A closed curve as loops that come to no corner twice.

    So a loop that touches itself in a corner, or a hole that is reached over a
    bridge, becomes what it would be if its pieces were drawn one by one.
    """
    keys = [(round(p.start[0] / MERGE), round(p.start[1] / MERGE)) for p in loop.pieces]
    if len(set(keys)) == len(keys):
        return [loop]
    loops: list[tuple[Piece, ...]] = []
    walked: list[tuple[tuple[int, int], Piece]] = []
    at: dict[tuple[int, int], int] = {}
    for key, piece in zip(keys, loop.pieces, strict=True):
        if key in at:
            first = at[key]
            loops.append(tuple(p for _, p in walked[first:]))
            for passed, _ in walked[first:]:
                del at[passed]
            del walked[first:]
        at[key] = len(walked)
        walked.append((key, piece))
    loops.append(tuple(p for _, p in walked))
    return [Curve(pieces, loop.layer, loop.source) for pieces in loops]


def unrepeated(curves: Sequence[Curve], tolerance: float) -> list[Curve]:
    """Curves without repetitions, whichever way round they were drawn."""
    seen: dict[bytes, Curve] = {}
    for curve in curves:
        points = np.round(curve.flatten(tolerance)[0] / MERGE) + 0.0
        forward, backward = points.tobytes(), points[::-1].tobytes()
        seen.setdefault(min(forward, backward), curve)
    return list(seen.values())
