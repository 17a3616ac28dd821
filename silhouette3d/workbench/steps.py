"""The steps from a job to all that is known about its part."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from silhouette3d.facade import Part
from silhouette3d.job import Job
from silhouette3d.solid import stock_solid
from silhouette3d.units import MM3_PER_CM3
from silhouette3d.view import Array
from silhouette3d.workbench.cards import full_card, plain_card
from silhouette3d.workbench.result import Piece, Result, StageOfBlock


class SupersededError(Exception):
    """Something newer is asked for."""


def first_result(sequence: int, job: Job, before: Part | None) -> Result:
    """The solid of a job with its mass and size.

    Parameters
    ----------
    sequence : int
        Its number.
    job : Job
        What to work out.
    before : Part, optional
        Whatever of it is the same is not worked out again.

    Raises
    ------
    SilhouetteError
        If there is no part.
    """
    part = Part(job) if before is None else before.again(job)
    solid = part.solid
    return Result(
        sequence,
        job,
        part,
        "part",
        solid,
        part.mass,
        part.stock_mass,
        solid.volume,
        _triple(solid.size),
        part.stock.size,
        _triple(part.measures.centre),
        tuple(plain_card(profile, part, i) for i, profile in enumerate(part.profiles)),
    )


def with_cards(result: Result) -> Result:
    """With the shadow, the lost regions and the tabs on each card."""
    part = result.part
    cards = [full_card(card, part, i) for i, card in enumerate(result.cards)]
    return replace(result, step="cards", cards=tuple(cards))


def with_checks(result: Result) -> Result:
    """With the findings about the finished part."""
    return replace(result, step="checks", findings=result.part.findings_of_part)


def with_cuts(result: Result) -> Result:
    """With the block after every cut."""
    part = result.part
    stages = [StageOfBlock.after(stage, part.density) for stage in part.stages]
    block = Piece(stock_solid(part.stock), "part", part.stock.volume * part.density / MM3_PER_CM3)
    return replace(result, step="cuts", stages=(StageOfBlock("", (block,)), *stages))


def with_all(result: Result) -> Result:
    """With every finding."""
    return replace(result, step="all", findings=result.part.findings)


def prepared(result: Result) -> Result:
    """The same, what the next edit needs of it known already."""
    result.part.prepare_moves()
    return result


AFTER_PART: Final[tuple[Callable[[Result], Result], ...]] = (
    with_cards,
    with_checks,
    with_cuts,
    with_all,
    prepared,
)
"""What follows the first result, in this order."""


def _triple(values: Array) -> tuple[float, float, float]:
    x, y, z = (float(value) for value in values)
    return x, y, z
