"""The commands that say what a job makes: check and weigh."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter, Token

from silhouette3d.cli.common import (
    AsJson,
    InUnits,
    Mass,
    findings_of,
    print_json,
    show_table,
    step,
    work_out,
)

if TYPE_CHECKING:
    from silhouette3d import Finding, Part
    from silhouette3d.base.quantities import Scale

FOUND = 1
"""Exit status of check when there is an error or a warning."""


def check(
    job: Path,
    /,
    *,
    every: Annotated[bool, Parameter("--all")] = False,
    units: InUnits = None,
    as_json: AsJson = False,
) -> int:
    """Say what to look at before cutting; exit status 1 if anything must be mended.

    Parameters
    ----------
    job
        A job file, or a folder that holds a job.toml.
    every
        List each finding by itself, those of one cause too.
    units
        Tell numbers in mm, in, or both; in the job's own unless told.
    as_json
        Print JSON instead of a table: numbers in mm and g, each with its unit.
    """
    part = work_out(job)
    findings = findings_of(part)
    scale = part.scale_in(units)
    if every:
        findings = part.every_finding
    if as_json:
        print_json(check_values(part, findings, scale))
    else:
        from silhouette3d.cli.tables import check_table

        show_table(*check_table(part, findings, scale))
    return FOUND if any(one.is_to_mend for one in findings) else 0


def check_values(part: Part, findings: tuple[Finding, ...], scale: Scale) -> dict[str, Any]:
    """Gather what `check --json` prints."""
    return {
        "name": part.name,
        "findings": [finding_values(part, one, scale) for one in findings],
        "summary": {
            f"{kind}s": sum(one.severity == kind and one.accepted is None for one in findings)
            for kind in ("error", "warning", "note")
        }
        | {"accepted": sum(one.accepted is not None for one in findings)},
        "regions": regions_values(part),
    }


def finding_values(part: Part, finding: Finding, scale: Scale) -> dict[str, Any]:
    """Put one finding into JSON values: lengths in mm, and each quantity with its unit."""
    return {
        "code": finding.code,
        "severity": finding.severity,
        "profile": finding.profile,
        "others": list(finding.others),
        "stage": finding.stage,
        "places": [
            {"at_mm": list(place.at), "on_face_mm": place.on_face and list(place.on_face)}
            for place in finding.places
        ],
        "quantities": {
            name: {"value": quantity.value, "unit": quantity.unit}
            for name, quantity in finding.quantities.items()
        },
        "facts": dict(finding.facts),
        **part.told(finding, scale)._asdict(),
        "accepted": finding.accepted,
        "members": [finding_values(part, one, scale) for one in finding.members],
    }


def thickness(job: Path, /, *, units: InUnits = None, as_json: AsJson = False) -> int:
    """List every wall, neck and knife edge that is thinner than the job's limit.

    Parameters
    ----------
    job
        A job file, or a folder that holds a job.toml.
    units
        Tell numbers in mm, in, or both; in the job's own unless told.
    as_json
        Print JSON instead of a table, in mm and degrees.
    """
    part = work_out(job)
    with step("cutting on trial"):
        _ = part.stages
    with step("measuring thickness") as part.progress:
        sections, held = part.thin, part.thin_while_held
    if as_json:
        print_json(thickness_values(part))
    else:
        from silhouette3d.cli.tables import thickness_table

        show_table(*thickness_table(part, sections, held, part.scale_in(units)))
    return FOUND if any(not part.accepts(section) for section in sections) else 0


def thickness_values(part: Part) -> dict[str, Any]:
    """Gather what `thickness --json` prints."""
    return {
        "limit_mm": part.job.checks.thin,
        "regions": regions_values(part),
        "held": [
            {
                "after": stage.cut.name,
                "thickness_mm": None if region is None else region.thickness,
                "at_mm": None if region is None else region.at.tolist(),
            }
            for stage, region in part.thin_while_held
        ],
    }


def regions_values(part: Part) -> list[dict[str, Any]]:
    """List thin regions, thinnest first."""
    return [
        {
            "kind": section.region.kind,
            "thickness_mm": section.region.thickness,
            "angle_deg": section.region.angle,
            "at_mm": section.region.at.tolist(),
            "p_mm": section.region.p.tolist(),
            "q_mm": section.region.q.tolist(),
            "extent_mm": section.region.extent.tolist(),
            "area_mm2": section.region.area,
            "profiles": list(section.profiles),
        }
        for section in part.thin
    ]


def _count(_: type, tokens: Sequence[Token]) -> int:
    try:
        value = int(tokens[0].value)
    except ValueError:
        raise ValueError("a whole number is wanted.") from None
    if value < 1:
        raise ValueError("at least 1 is wanted.")
    return value


def weigh(
    job: Path,
    /,
    *,
    quantity: Annotated[int, Parameter(converter=_count)] = 1,
    packing: Mass = None,
    units: InUnits = None,
    as_json: AsJson = False,
) -> None:
    """Print volume, surface, mass, centre of mass, inertia and size of the part.

    Parameters
    ----------
    job
        A job file, or a folder that holds a job.toml.
    quantity
        How many parts go into one parcel.
    packing
        Mass of box, filling and pallet: 0.5 kg, 20 g, 1 lb, 8 oz; a bare number is in kg where
        the job is in mm, in lb where it is in inches.
    units
        Tell numbers in mm, in, or both; in the job's own unless told.
    as_json
        Print JSON instead of a table, in mm, g and kg.
    """
    part = work_out(job)
    grams = 0.0 if packing is None else packing.grams(part.job.units)
    if as_json:
        print_json(weigh_values(part, quantity, grams))
        return
    from silhouette3d.cli.tables import weigh_table

    show_table(*weigh_table(part, quantity, grams, part.scale_in(units)))


def weigh_values(part: Part, quantity: int, packing: float) -> dict[str, Any]:
    """Gather what `weigh --json` prints; the mass of packing in g."""
    measures = part.measures
    parcel = measures.parcel(quantity, packing)
    return {
        "name": part.name,
        "volume_mm3": measures.volume,
        "volume_error_mm3": measures.volume_error,
        "perturbed_by_mm": part.solid.perturbed_by,
        "surface_mm2": part.solid.surface_area,
        "mass_g": measures.mass,
        "density_g_cm3": part.density,
        "centre_of_mass_mm": measures.centre.tolist(),
        "inertia_g_mm2": measures.inertia.tolist(),
        "size_mm": part.solid.size.tolist(),
        "bodies": len(part.solid.bodies),
        "stands_on": None if part.standing is None else part.standing.side,
        "down": None if part.standing is None else part.standing.down.tolist(),
        "tipping_angle_deg": None if part.standing is None else part.standing.tipping_angle,
        "tipping_angle_in_block_deg": None if part.lying is None else part.lying.tipping_angle,
        "stock_mass_g": part.stock_mass,
        "quantity": quantity,
        "net_kg": parcel.net_kg,
        "gross_kg": parcel.gross_kg,
    }
