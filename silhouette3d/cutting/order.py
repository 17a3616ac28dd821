"""In which order to cut: every order tried, and why the best is the best.

The bodies after some cuts depend on the set of cuts made, not on their order,
so n cuts have 2ⁿ states, not n! histories. Each step from one state to the next
is looked at once; an order is a path through them and its cost the sum of its
steps. Offcuts are taken as left in place.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import permutations
from typing import Final

from silhouette3d.cutting.figures import cut_area
from silhouette3d.cutting.stages import Cutting
from silhouette3d.errors import CuttingError
from silhouette3d.solid import homes
from silhouette3d.units import MM3_PER_CM3

MOST_CUTS: Final = 8


@dataclass(frozen=True)
class Step:
    """One cut made after some others.

    Parameters
    ----------
    starts_loose : bool
        Whether the clamps of its setup do not hold the part to begin with.
    releases : bool
        Whether it leaves the part loose with cuts still to make.
    loose : int
        Offcuts it frees with cuts still to make.
    loose_volume : float
        Of those, in mm³.
    area : float
        Length times thickness to cut, in mm².
    """

    starts_loose: bool
    releases: bool
    loose: int
    loose_volume: float
    area: float


@dataclass(frozen=True)
class Order:
    """One order of cuts and what it costs.

    Parameters
    ----------
    names : tuple of str
        Of the profiles, first cut first.
    released_after : int or None
        The cut (from 1) after which the part is loose with cuts still to make;
        0 if the clamps never held it.
    loose : int
        Offcuts freed before the last cut.
    loose_mass : float
        Of those, in g.
    area : float
        Total length times thickness to cut, in mm².
    """

    names: tuple[str, ...]
    released_after: int | None
    loose: int
    loose_mass: float
    area: float

    @property
    def rank(self) -> tuple[bool, int, float, float]:
        """Smaller is better: held to the end, few and light loose pieces, little to cut."""
        return (
            self.released_after is not None,
            self.loose,
            round(self.loose_mass, 6),
            round(self.area, 3),
        )


def orders(
    cutting: Cutting,
    density: float,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> tuple[Order, ...]:
    """Every order of the cuts, best first; equal ones as the job lists them.

    Parameters
    ----------
    cutting : Cutting
        The cuts.
    density : float
        In g/cm³.
    progress : callable
        Told how many steps of how many are done.

    Raises
    ------
    CuttingError
        If there are more than `MOST_CUTS` cuts.
    """
    count = len(cutting.cuts)
    if count > MOST_CUTS:
        raise CuttingError(
            f"there are {count} profiles; orders are tried for up to {MOST_CUTS}",
            todo="give the order in the job file and look at its stages",
        )
    steps: dict[tuple[frozenset[int], int], Step] = {}
    total = count * 2 ** (count - 1)
    for made in _subsets(count):
        for i in sorted(cutting.all_cut - made):
            steps[made, i] = step(cutting, made, i)
            progress(len(steps), total)
    found = [_order(cutting, steps, order, density) for order in permutations(range(count))]
    return tuple(sorted(found, key=lambda order: order.rank))


def step(cutting: Cutting, made: frozenset[int], i: int) -> Step:
    """What one more cut does, clamped as in its own setup."""
    before = cutting.bodies(made)
    area = cut_area(cutting.cuts[i], before)
    starts_loose = cutting.main_piece(made) not in cutting.held(made, i)
    after = made | {i}
    if after == cutting.all_cut:
        return Step(starts_loose, False, 0, 0.0, area)
    held, pieces = cutting.held(after, i), cutting.pieces(after)
    held_before = cutting.held(made, i)
    kept = held_before.union(cutting.pieces(made))
    loose_before = [b for k, b in enumerate(before) if k not in kept]
    loose = [b for k, b in enumerate(cutting.bodies(after)) if k not in held and k not in pieces]
    found = homes(loose, loose_before)
    freed = [body for body, home in zip(loose, found, strict=True) if home < 0]
    released = cutting.main_piece(after) not in held
    return Step(starts_loose, released, len(freed), sum(body.volume for body in freed), area)


def _subsets(count: int) -> list[frozenset[int]]:
    """All sets of cuts, small ones first, so that larger ones build on them."""
    sets = [frozenset(i for i in range(count) if bits >> i & 1) for bits in range(2**count)]
    return sorted(sets, key=len)


def _order(
    cutting: Cutting,
    steps: dict[tuple[frozenset[int], int], Step],
    order: Sequence[int],
    density: float,
) -> Order:
    taken = [steps[frozenset(order[:k]), i] for k, i in enumerate(order)]
    loose = [k for k, s in enumerate(taken) if s.starts_loose]
    loose += [k for k, s in enumerate(taken, start=1) if s.releases]
    released = min(loose, default=None)
    return Order(
        tuple(cutting.cuts[i].name for i in order),
        released,
        sum(s.loose for s in taken),
        sum(s.loose_volume for s in taken) * density / MM3_PER_CM3,
        sum(s.area for s in taken),
    )
