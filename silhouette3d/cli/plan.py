"""The commands that plan the cuts: stages, order and tabs."""

from __future__ import annotations

import math
import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from silhouette3d.base.units import MM3_PER_CM3
from silhouette3d.cli.check import FOUND
from silhouette3d.cli.common import AsJson, InUnits, print_json, say, show_table, step, work_out

if TYPE_CHECKING:
    from silhouette3d import Part
    from silhouette3d.planning.foot import Foot
    from silhouette3d.planning.order import Order
    from silhouette3d.planning.tab_search import Proposal
    from silhouette3d.process.stages import Body, Stage

Write = Annotated[bool, Parameter("--write")]
Replace = Annotated[bool, Parameter("--replace")]


def stages(job: Path, /, *, units: InUnits = None, as_json: AsJson = False) -> None:
    """Print what each cut takes, frees and leaves held, in the job's order.

    Parameters
    ----------
    job
        A job file, or a folder that holds a job.toml.
    units
        Tell numbers in mm, in, or both; in the job's own unless told.
    as_json
        Print JSON instead of tables, in mm and g.
    """
    part = work_out(job)
    with step("cutting on trial"):
        found = part.stages
    if as_json:
        print_json(stages_values(part))
        return
    from silhouette3d.cli.cut_tables import stages_tables

    show_table(*stages_tables(part, found, part.scale_in(units)))


def stages_values(part: Part) -> dict[str, Any]:
    """Gather what `stages --json` prints."""
    return {
        "order": list(part.job.order),
        "cuts": [_stage_values(stage, part.density) for stage in part.stages],
    }


def _stage_values(stage: Stage, density: float) -> dict[str, Any]:
    taken = stage.figures
    return {
        "profile": stage.cut.name,
        "thickness_mm": {
            "stock": taken.stock_thickness,
            "most": taken.most,
            "least": taken.least,
        },
        "length_mm": sum(run.length for run in stage.runs),
        "area_mm2": taken.area,
        "starts": [{"at_mm": list(run.begins), "from": run.start} for run in stage.runs],
        "bodies": [_body_values(body, density) for body in stage.bodies],
        "part_standing": "held" if stage.part_is_held else "loose",
    }


def _body_values(body: Body, density: float) -> dict[str, Any]:
    return {
        "standing": body.status,
        "volume_mm3": body.solid.volume,
        "mass_g": body.solid.volume * density / MM3_PER_CM3,
        "size_mm": body.solid.size.tolist(),
        "centre_mm": body.solid.centroid.tolist(),
    }


def order(
    job: Path, /, *, write: Write = False, units: InUnits = None, as_json: AsJson = False
) -> int:
    """Try every order of the cuts and print them, best first, with the reasons.

    Parameters
    ----------
    job
        A job file, or a folder that holds a job.toml.
    write
        Put the best order into the job file; its comments stay.
    units
        Tell numbers in mm, in, or both; in the job's own unless told.
    as_json
        Print JSON instead of a table, in mm and g.
    """
    part = work_out(job)
    with step("trying every order") as tell:
        found = part.order(tell)
    if as_json:
        orders = [_order_values(one) for one in found]
        print_json({"declared": list(part.job.order), "frees": part.comes_free, "orders": orders})
    else:
        from silhouette3d.cli.cut_tables import orders_table

        show_table(*orders_table(part, found, part.scale_in(units)))
    best = found[0]
    holds, frees = best.holds, part.comes_free
    if write and holds and best.names != part.job.order:
        ordered = part.again(part.job.changed({("cutting", "order"): list(best.names)}))
        _save(ordered, quiet=as_json)
    elif write and not as_json:
        say("Nothing written: " + ("this is its order already." if holds else "no order holds."))
    return 0 if holds and frees else FOUND


def _order_values(one: Order) -> dict[str, Any]:
    return {
        "order": list(one.names),
        "released_after": one.released_after,
        "broken_after": one.broken_after,
        "loose_offcuts": one.loose,
        "loose_mass_g": one.loose_mass,
        "cut_area_mm2": one.area,
    }


def tabs(
    job: Path,
    /,
    *,
    write: Write = False,
    replace: Replace = False,
    units: InUnits = None,
    as_json: AsJson = False,
) -> int:
    """Find places for tabs that hold the part until the last cut and leave no mark.

    Parameters
    ----------
    job
        A job file, or a folder that holds a job.toml.
    write
        Put the tabs into the job file; its comments stay. Nothing is written with which `check`
        would still find the part badly held, broken or not released.
    replace
        Put them in the place of the tabs in the job file; those in drawings stay.
    units
        Tell numbers in mm, in, or both; in the job's own unless told.
    as_json
        Print JSON instead of a table, in mm.
    """
    part = work_out(job)
    with step("looking for tabs"):
        found = part.tabs(replace=replace)
        after = part.with_tabs(found, replace=replace)
        wrong = after.wrong_plan
    changes, order, foot = after.job != part.job, None, None
    if wrong and part.without_tabs.job == (part.without_tabs if replace else part).job:
        with step("looking for what else helps"):
            order, foot = part.other_order(), part.foot()
    if as_json:
        values = tabs_values(part, found) | {"to_mend": [one.code for one in wrong]}
        print_json(values | {"other_order": order and list(order), "foot": _foot_values(foot)})
    else:
        from silhouette3d.cli.cut_tables import tabs_table
        from silhouette3d.presentation.wording.cuts import ways_text

        scale = part.scale_in(units)
        helps = ways_text(order, foot, part.job.names, scale)
        show_table(*tabs_table(part, found, wrong, scale, helps, replace=replace))
    if write and changes and not wrong:
        _save(after, quiet=as_json)
    elif write and not as_json:
        why = "check would call that plan wrong" if wrong else "these tabs are in the job already"
        say(f"Nothing written: {why}.")
    return FOUND if wrong else 0


def _foot_values(foot: Foot | None) -> dict[str, Any] | None:
    if foot is None:
        return None
    return {
        "side": foot.side,
        "length_mm": foot.length,
        "longer_mm": foot.longer,
        "order": list(foot.order),
        "clamp": list(foot.clamp),
        "hold_mm2": foot.hold,
    }


def tabs_values(part: Part, found: Proposal) -> dict[str, Any]:
    """Gather what `tabs --json` prints."""
    return {
        "tabs": [
            {
                "profile": part.job.names[place.cut],
                "at_mm": list(place.at),
                "width_mm": place.width,
                "holding_mm2": place.holding,
                "witness_mm2": place.witness,
            }
            for place in found.places
        ],
        "holds": found.holds,
        "hold_mm2": None if math.isinf(found.hold) else found.hold,
    }


def _save(after: Part, *, quiet: bool) -> None:
    """Write a changed job into its file, and say what the stages then are."""
    from silhouette3d.job.write import save_job

    with step("cutting on trial"):
        wrong = after.wrong_plan
    save_job(after.job)
    if quiet:
        return
    path = after.job.path
    say(f"Wrote {path}.")
    if wrong:
        command = shlex.join(["silhouette3d", "check", str(path)])
        say(f"With this, the part is held until the last cut, but see `{command}`.")
    else:
        command = shlex.join(["silhouette3d", "stages", str(path)])
        say(f"With this, the part is held until the last cut and free after it: see `{command}`.")
