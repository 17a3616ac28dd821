"""Whether so many shapes lie across each other that working out where would never end.

Geometry takes time with every pair of shapes that meet. A drawing of a part
has about as many pairs as shapes; a tangle of n lines has n²/2.
"""

from __future__ import annotations

from typing import Any, Final, Literal, NoReturn

import numpy as np
import shapely
from numpy.typing import NDArray

from silhouette3d.drawing.curve import Array
from silhouette3d.errors import DrawingError

__all__ = [
    "MOST_CROSSINGS",
    "MOST_CUT",
    "MOST_MEETINGS",
    "MOST_PAIRS",
    "refuse",
    "refuse_crowd",
    "refuse_tangle",
    "refuse_to_cut",
    "sides_of",
]

MOST_CROSSINGS: Final = 20_000
"""Of straight pieces: each makes two more of them, and some seconds go by."""

MOST_MEETINGS: Final = 1_000_000
"""Of loops that meet each other or lie in each other: each pair is looked at for a microsecond."""

MOST_CUT: Final = 40_000
"""Corners of lines that are cut where they meet: lines on one straight line take GEOS a time
that grows with their square, some 10 s here."""

MOST_PAIRS: Final = 5_000
"""Of loops that overlap each other or seem to be one: each pair takes about a millisecond."""

_SAMPLE: Final = 100


def refuse_crowd(
    shapes: NDArray[np.object_],
    how: Literal["overlaps", "intersects"],
    most: int,
    where: str,
) -> None:
    """Refuse shapes of which more than some number of pairs meet.

    The number is judged by how many others a sample of them meets, so that finding
    out does not take what it is to save; the same shapes give the same answer.

    Parameters
    ----------
    shapes : array of shapely geometries
        Lines or areas.
    how : {"overlaps", "intersects"}
        What counts as meeting.
    most : int
        Pairs.
    where : str
        The file, for the message.

    Raises
    ------
    DrawingError
        If there are more.
    """
    count = len(shapes)
    if count * count <= most:
        return
    sample = np.random.default_rng(count).choice(count, min(count, _SAMPLE), replace=False)
    found = shapely.STRtree(shapes).query(shapes[sample], predicate=how).shape[1]
    pairs = (found - len(sample)) * count / len(sample) / 2.0  # each from both sides, and itself
    if pairs > most:
        refuse(most, where)


def refuse(most: int, where: str) -> NoReturn:
    """Say that there are more than so many places where lines meet.

    Raises
    ------
    DrawingError
        Always.
    """
    raise DrawingError(
        f"its lines lie across each other in more than about {most:,} places",
        where=where,
        todo="leave only the outline on its layer",
    )


def refuse_tangle(chains: list[Array], where: str) -> None:
    """Refuse chains of points (n, 2) whose straight pieces meet in too many places.

    A piece meets the next one of its chain, so as many meetings as pieces are free.

    Raises
    ------
    DrawingError
        If there are more than some `MOST_CROSSINGS` others.
    """
    sides = sides_of(chains)
    refuse_crowd(sides, "intersects", MOST_CROSSINGS + 2 * len(sides), where)


def refuse_to_cut(chains: list[Array], where: str) -> None:
    """Refuse to cut chains of points (n, 2) where they meet, if that would never end.

    Raises
    ------
    DrawingError
        If they have too many corners, or meet in too many places.
    """
    if sum(map(len, chains)) > MOST_CUT:
        refuse(MOST_CUT, where)
    refuse_tangle(chains, where)


def sides_of(chains: list[Array]) -> NDArray[np.object_]:
    """Every straight piece of chains of points (n, 2), as a line."""
    ends = [np.stack([points[:-1], points[1:]], axis=1) for points in chains if len(points) > 1]
    lines: Any = shapely.linestrings(np.concatenate(ends)) if ends else []
    return np.atleast_1d(np.asarray(lines, object))
