"""Order of the cuts: every one tried, and why the best is the best.

Problem: of n cuts the best of n! orders.

Method: the orders are walked as a tree, each step by `CutSimulation.step`, of which stages are made
as well. A step is worked out once for each `State` it starts from, and its cost is a few numbers.

Invariant: what is told of an order is what the stages of the job show with that order in it.

Complexity: where offcuts stay in place at most n · 2ⁿ states; where they are lifted out a few more,
as what is gone depends on the way. The walk itself has n! ends, of a few numbers each.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from silhouette3d.base.units import MM3_PER_CM3
from silhouette3d.geometry.misfit import MisfitError
from silhouette3d.process.stages import CRUMB, CutSimulation, State, Step

MOST_CUTS: Final = 8


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
        Offcuts freed before the last cut, without crumbs.
    loose_mass : float
        Of those, in g.
    area : float
        Total length times thickness to cut, in mm².
    broken_after : int, optional
        The cut (from 1) after which the part is in pieces with cuts still to make.
    """

    names: tuple[str, ...]
    released_after: int | None
    loose: int
    loose_mass: float
    area: float
    broken_after: int | None = None

    @property
    def holds(self) -> bool:
        """True if the part stays whole and held until the last cut."""
        return self.released_after is None and self.broken_after is None

    @property
    def rank(self) -> tuple[bool, int, float, float]:
        """Smaller is better: held to the end, few and light loose pieces, little to cut."""
        return (
            not self.holds,
            self.loose,
            round(self.loose_mass, 6),
            round(self.area, 3),
        )


def orders(
    cutting: CutSimulation,
    density: float,
    *,
    clear_offcuts: bool,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> tuple[Order, ...]:
    """Try every order of the cuts, best first; equal ones as the job lists them.

    Parameters
    ----------
    cutting : CutSimulation
        The cuts.
    density : float
        In g/cm³.
    clear_offcuts : bool
        Whether loose offcuts are lifted out before the next cut.
    progress : callable
        Told how many steps between sets of cuts of how many are done.

    Raises
    ------
    MisfitError
        If there are more than `MOST_CUTS` cuts.
    """
    count = len(cutting.cuts)
    if count > MOST_CUTS:
        raise MisfitError("too-many-cuts", count=count)
    done: set[tuple[frozenset[int], int]] = set()

    def walked(state: State, taken: tuple[Step, ...]) -> Iterator[tuple[Step, ...]]:
        if len(taken) == count:
            yield taken
        for i in sorted(cutting.all_cut - state.made):
            step = cutting.step(state, i)
            cutting.area(step)
            if (state.made, i) not in done:
                done.add((state.made, i))
                progress(len(done), count * 2 ** (count - 1))
            after = step.after.cleared if clear_offcuts else step.after
            yield from walked(after, (*taken, step))

    found = [_order(cutting, taken, density) for taken in walked(cutting.start, ())]
    return tuple(sorted(found, key=lambda order: order.rank))


def _order(cutting: CutSimulation, taken: tuple[Step, ...], density: float) -> Order:
    early = taken[:-1]
    loose = [k for k, step in enumerate(taken) if not step.part_was_held]
    loose += [k for k, step in enumerate(early, start=1) if not step.part_is_held]
    bodies = [cutting.bodies(step.after.made)[i] for step in early for i in step.freed]
    freed = [body.volume for body in bodies if body.volume >= CRUMB]
    return Order(
        tuple(cutting.cuts[step.index].name for step in taken),
        min(loose, default=None),
        len(freed),
        sum(freed) * density / MM3_PER_CM3,
        sum(cutting.area(step) for step in taken),
        next((k for k, step in enumerate(early, start=1) if step.is_broken), None),
    )
