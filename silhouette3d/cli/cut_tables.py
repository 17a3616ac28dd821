"""Tables of cuts for people, in the job's unit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final

from rich import box
from rich.table import Table
from rich.text import Text

from silhouette3d.base.quantities import Scale
from silhouette3d.base.units import MM3_PER_CM3
from silhouette3d.presentation.wording import told
from silhouette3d.presentation.wording.cuts import starts_text
from silhouette3d.process.stages import of_note

if TYPE_CHECKING:
    from rich.console import RenderableType

    from silhouette3d import Finding, Part
    from silhouette3d.planning.order import Order
    from silhouette3d.planning.tab_search import Proposal
    from silhouette3d.process.stages import Body, Stage

SIGNS: Final = {"part": "◆", "held": "■", "loose": "○"}
_CUT_DIGITS: Final = 4
"""Significant ones of a cut area: orders are compared by it."""

MOST_ROWS: Final = 12
"""Loose pieces and orders listed one by one; the rest is counted."""


def stages_tables(part: Part, stages: Sequence[Stage], say: Scale) -> Iterator[RenderableType]:
    """Make what `stages` prints: for each cut what it takes, then what is there after it."""
    yield Text(part.name, style="bold")
    for number, stage in enumerate(stages, start=1):
        yield Text(f"\nCut {number}: {stage.cut.name}", style="bold")
        if stage.lifted:
            yield Text(f"{_pieces(len(stage.lifted))} lifted out before it.")
        yield Text(_taken(stage, say))
        yield _bodies(stage, part.density, say)
        yield Text(_standing(part, stage, is_last=number == len(stages)))


def _taken(stage: Stage, say: Scale) -> str:
    taken, count = stage.figures, len(stage.cut.tabs)
    runs = stage.runs
    return (
        f"path {say.path(sum(run.length for run in runs))} in {_pieces(len(runs))} "
        f"({starts_text(runs) or 'nothing to cut'}), {count} tab{'s' * (count != 1)}; "
        f"thickness {say.length(taken.least)} to {say.length(taken.most)} "
        f"of {say.length(taken.stock_thickness)} stock; "
        f"cut area {say.area(taken.area, _CUT_DIGITS)}"
    )


def _bodies(stage: Stage, density: float, say: Scale) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for name in ("Standing", "Mass", "Volume", "Size", "Centre"):
        table.add_column(name, no_wrap=not say.both)
    bodies = list(stage.bodies)
    if stage.main >= MOST_ROWS:  # the part is always listed
        bodies.insert(MOST_ROWS - 1, bodies.pop(stage.main))
    rest = bodies[MOST_ROWS:]
    for body in bodies[:MOST_ROWS]:
        if body.is_part or of_note([body]):
            table.add_row(*_row(body, density, say))
        else:
            rest.append(body)
    if rest:
        mass = sum(body.solid.volume for body in rest) * density / MM3_PER_CM3
        table.add_row(f"and {len(rest)} more", say.mass(mass))
    return table


def _row(body: Body, density: float, say: Scale) -> tuple[str, ...]:
    solid = body.solid
    return (
        f"{SIGNS[body.status]} {body.status}",
        say.mass(solid.volume * density / MM3_PER_CM3),
        say.volume(solid.volume),
        say.lengths(solid.size),
        say.point(solid.centroid),
    )


def _standing(part: Part, stage: Stage, *, is_last: bool) -> str:
    if is_last:
        return "The part is free." if part.comes_free else "The part is still joined to waste."
    if stage.part_is_held:
        return "The part is held."
    return "The part is loose, with cuts still to make."


def orders_table(part: Part, orders: Sequence[Order], say: Scale) -> Iterator[RenderableType]:
    """Make what `order` prints: orders, best first, and why the first is the best."""
    yield Text(part.name, style="bold")
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for name in ("Order", "The part", "Loose before the last cut", "Cut area"):
        table.add_column(name)
    for one in orders[:MOST_ROWS]:
        held = "held until the last cut"
        if one.released_after is not None:
            held = f"loose after cut {one.released_after}"
        elif one.broken_after is not None:
            held = f"in pieces after cut {one.broken_after}"
        loose = f"{_pieces(one.loose)}, {say.mass(one.loose_mass)}" if one.loose else "none"
        declared = " (as declared)" if one.names == part.job.order else ""
        names = ", ".join(one.names) + declared
        table.add_row(names, held, loose, say.area(one.area, _CUT_DIGITS))
    if len(orders) > MOST_ROWS:
        table.add_row(f"and {len(orders) - MOST_ROWS} more")
    yield table
    yield Text(_reason(orders, lifted=part.job.cutting.clear_offcuts))
    if not part.comes_free:
        yield Text(
            "After the last cut tabs still join the part to waste, in whatever order: "
            "`silhouette3d check` says where."
        )


def _reason(orders: Sequence[Order], *, lifted: bool) -> str:
    best = orders[0]
    if best.released_after is not None:
        return "No order holds the part until its last cut: add tabs (`silhouette3d tabs`)."
    if best.broken_after is not None:
        return (
            "Every order leaves the part loose or in pieces before its last cut: change the "
            "outlines so that its pieces join."
        )
    rivals = [one for one in orders if one.rank[:1] == best.rank[:1]]
    reason = f"{len(rivals)} of {len(orders)} orders hold the part until the last cut"
    if len(rivals) > 1:
        fewest = [one for one in rivals if one.rank[:3] == best.rank[:3]]
        if len(fewest) == 1:
            reason += "; this one frees the fewest and lightest pieces before it"
        else:
            some = "all of them" if len(fewest) == len(rivals) else f"{len(fewest)} of them"
            reason += f"; {some} free equally few and light pieces before it"
            reason += "; the first has the least to cut, or is listed first"
    elif len(orders) > 1:
        reason = f"it alone of {len(orders)} orders holds the part until the last cut"
    else:
        reason = "it holds the part until the last cut"
    offcuts = "lifted out before the next cut" if lifted else "left in place"
    return f"Best: {', '.join(best.names)}: {reason}. Loose offcuts are {offcuts}, as the job says."


def tabs_table(
    part: Part,
    found: Proposal,
    wrong: Sequence[Finding],
    say: Scale,
    helps: str,
    *,
    replace: bool = False,
) -> Iterator[RenderableType]:
    """Make what `tabs` prints: places, what holds there and is left there, what is still wrong."""
    yield Text(part.name, style="bold")
    if found.places:
        yield _places(part, found, say)
    yield Text(_verdict(found, wrong, say, helps, in_job=_has_tabs(part) and not replace))


def _has_tabs(part: Part) -> bool:
    return any(spec.tab for spec in part.job.profile)


def _places(part: Part, found: Proposal, say: Scale) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for name in ("Profile", "At, on the face", "Width", "Section", "Leaves"):
        table.add_column(name, no_wrap=True)
    for place in found.places:
        leaves = "no mark"
        if place.leaves_a_mark:
            leaves = f"a stub of {say.area(place.witness)}"
        table.add_row(
            part.job.names[place.cut],
            say.axes(place.at, "uv"),
            say.length(place.width),
            say.area(place.holding),
            leaves,
        )
    return table


def _verdict(
    found: Proposal, wrong: Sequence[Finding], say: Scale, helps: str, *, in_job: bool
) -> str:
    if wrong:
        lead = "With these" if found.places else "As it is"
        told_of = "; ".join(told(one, say).message for one in wrong)
        if in_job:
            helps = "`--replace` looks for better places than those of the job file."
        return f"{lead}, {told_of}. {helps}"
    if not found.places:
        return "No tabs are needed: the part is held until the last cut and free after it."
    firm = (
        f"With these {say.area(found.hold)} or more hold the part, tabs and faces that clamps "
        "press on together, until the last cut"
    )
    if any(place.leaves_a_mark for place in found.places):
        return f"{firm}. No place without a mark was found."
    return f"{firm}, which severs them without a mark."


def _pieces(count: int) -> str:
    return f"{count} piece{'s' * (count != 1)}"
