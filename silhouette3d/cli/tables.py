"""Tables for people, in the job's unit, the other, or both."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Final

from rich import box
from rich.console import Group
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from silhouette3d.base.quantities import Scale
from silhouette3d.base.units import MM_PER, Unit, figure, fixed, percent, pounds
from silhouette3d.checks.thin import section_finding
from silhouette3d.cli.common import count_text
from silhouette3d.geometry.tolerances import SHARE
from silhouette3d.presentation.theme import SIGNS

if TYPE_CHECKING:
    from rich.console import RenderableType

    from silhouette3d import Finding, Material, Part
    from silhouette3d.checks.thin import ThinSection
    from silhouette3d.geometry.frames import Array
    from silhouette3d.geometry.stable_poses import Pose
    from silhouette3d.geometry.thickness.definition import ThinRegion
    from silhouette3d.process.stages import Stage

# --- How a part stands, in words


def standing_text(pose: Pose) -> str:
    """Tell on which side a part stands, and how far it can be tilted."""
    slanted = ", a slanted side" if " " in pose.side else ""
    return f"its {pose.side}{slanted}; {tipping_text(pose)}"


def tipping_text(pose: Pose) -> str:
    """Tell how far a part can be tilted; angles in tenths of a degree, rounded down."""
    angle = math.floor(pose.tipping_angle * 10.0 + _WHOLE) / 10.0
    return (
        f"tips over when tilted by {fixed(angle, 1)}°" if pose.tipping_angle else "does not stand"
    )


_WHOLE: Final = 1e-6
"""Of a tenth: what rounding takes off an angle that is a whole number of them."""


# --- Tables for people, in the job's unit, the other, or both


COLOURS: Final = {"error": "bold red", "warning": "bold yellow", "note": "bold blue"}


def check_table(part: Part, findings: tuple[Finding, ...], say: Scale) -> Iterator[RenderableType]:
    """Show the findings, worst first, and how many there are."""
    yield Text(part.name, style="bold")
    if findings:
        table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
        table.add_column("How bad", no_wrap=True)
        table.add_column("What, and what to do", ratio=1)
        table.add_column("Where", no_wrap=True)
        for one in findings:
            told = part.told(one, say)
            table.add_row(
                _how_bad(one),
                Text.assemble((one.code, "bold"), "\n", told.message, "\n→ ", told.advice, "\n"),
                _place(one, say),
            )
        yield table
    yield Text(f"Findings: {count_text(findings)}.")
    if part.solid.perturbed_by:
        yield Text(_perturbed(part), style="dim")
    for profile, spec in zip(part.profiles, part.job.profile, strict=True):
        for note in profile.outline.notes:
            yield Text(f"{spec.drawing}: {note}.", style="dim")


def _perturbed(part: Part) -> str:
    """Tell where the part could not be made exactly."""
    return (
        f"Walls of the part may lie up to {part.solid.perturbed_by:.1g} mm from where they were "
        "drawn: some of them cross too flatly to say where."
    )


def _how_bad(finding: Finding) -> Text:
    """Show sign and severity; what is accepted without its colour."""
    if finding.accepted is not None:
        return Text(f"{SIGNS[finding.severity]} {finding.severity}\n  accepted", "dim")
    return Text(f"{SIGNS[finding.severity]} {finding.severity}", COLOURS[finding.severity])


def thickness_table(
    part: Part,
    sections: Sequence[ThinSection],
    held: Sequence[tuple[Stage, ThinRegion | None]],
    say: Scale,
) -> Iterator[RenderableType]:
    """Show thin places, thinnest first, then those between cuts."""
    limit = part.job.checks.thin
    yield Text(part.name, style="bold")
    for number, section in enumerate(sections, start=1):
        yield Text(f"{number:3}  {part.told(section_finding(section, limit), say).message}")
    yield Text(
        f"{len(sections) or 'No'} section{'s' * (len(sections) != 1)} below {say.length(limit)}."
    )
    for stage, region in held:
        where = "nothing below the limit"
        if region is not None:
            where = f"{say.length(region.thickness)} at {say.point(region.at)}"
            if region.kind == "knife":
                where = f"a knife edge at {say.point(region.at)}"
        yield Text(f"As held after the cut of {stage.cut.name}: {where}.")


def _place(finding: Finding, say: Scale) -> str:
    """Write a finding's coordinates, one to a line."""
    if finding.where is None:
        return ""
    return "\n".join(
        f"{axis} {say.length(mm)}" for axis, mm in zip("xyz", finding.where, strict=True)
    )


def weigh_table(part: Part, quantity: int, packing: float, say: Scale) -> Iterator[RenderableType]:
    """Show what a part and its stock weigh and measure; the mass of packing in g."""
    measures, solid = part.measures, part.solid
    parcel = measures.parcel(quantity, packing)
    yield Text(part.name, style="bold")
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False, show_header=False)
    table.add_column(style="bold", no_wrap=True)
    table.add_column()
    row = table.add_row
    row("Material", part.material.name if part.material else "of the job's own density")
    row("Density", say.density(part.density))
    row("Volume", say.volume_within(measures.volume, measures.volume_error))
    row("Surface", say.area(solid.surface_area, _EXACT))
    row("Mass", say.mass_within(measures.mass, measures.mass_error))
    row("Size", say.lengths(solid.size))
    row("Centre of mass", say.axes(measures.centre))
    row("Inertia", "\n".join(_inertia(measures.inertia, unit) for unit in say.units))
    row("Bodies", str(len(solid.bodies)))
    if part.standing is None or part.lying is None:
        row("Stands", f"the {len(solid.bodies)} bodies do not stand as one")
    else:
        row("Stands best on", standing_text(part.standing))
        row("As in the block", tipping_text(part.lying))
    row("Stock", _stock(part, say))
    row("Mass of the stock", say.mass(part.stock_mass))
    row("Cut away", f"{percent(part.share_removed)} of the stock")
    if quantity > 1 or packing > 0.0:
        row("Parts in a parcel", str(quantity))
        row("Net", say.parcel(parcel.net))
        row("Gross", say.parcel(parcel.gross))
    yield table
    yield Text(_small_print(part, say), style="dim")


_EXACT: Final = 6
"""Significant digits of what is exact for the outlines as drawn."""


def _inertia(inertia: Array, unit: Unit) -> str:
    """Write the unit, then the tensor in three lines, its columns in line."""
    shown = inertia if unit == "mm" else pounds(1.0) * inertia / MM_PER["in"] ** 2
    least = SHARE * float(abs(shown).max())  # products of inertia below are shown as 0
    rows = [
        [
            figure(told, 5, 6) if abs(value) > least else "0"
            for told, value in zip(*row, strict=True)
        ]
        for row in zip(shown.tolist(), inertia.tolist(), strict=True)
    ]
    wide = max(len(text) for row in rows for text in row)
    lines = ["  ".join(text.rjust(wide) for text in row) for row in rows]
    return "\n".join([f"in {_INERTIA_UNIT[unit]}", *lines])


_INERTIA_UNIT: Final[dict[Unit, str]] = {"mm": "g·mm²", "in": "lb·in²"}


def _stock(part: Part, say: Scale) -> str:
    stock = part.stock
    if stock.diameter is None:
        return f"block {say.lengths(stock.size)}"
    return f"bar ⌀ {say.lengths((stock.diameter, stock.length))}, along {stock.along}"


def _small_print(part: Part, say: Scale) -> str:
    lines = [
        "Centre of mass from the stock's front lower left corner: x to the right, y to the rear, "
        "z up. Inertia about the centre of mass, along the same axes."
    ]
    if part.volume_error:
        lines.append(
            f"± is how much straight pieces may amount to that stand for curves within "
            f"{say.length(part.job.tolerance)}; the density has a spread of its own."
        )
    if part.solid.perturbed_by:
        lines.append(_perturbed(part))
    if part.material and part.material.range_g_cm3:
        low, high = part.material.range_g_cm3
        lines.append(
            f"Densities of {part.material.name} are given from {say.density(low)} "
            f"to {say.density(high)}."
        )
    return "\n".join(lines)


def materials_table(materials: tuple[Material, ...]) -> Iterator[RenderableType]:
    """Make what `materials` prints: one table, a section for each family."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    table.add_column("Material", ratio=3)
    table.add_column("g/cm³", justify="right", no_wrap=True)
    table.add_column("from – to", no_wrap=True)
    table.add_column("Source", ratio=5)
    for family, members in groupby(materials, key=lambda one: one.family):
        table.add_section()
        table.add_row(Text(family, "bold"))
        for one in members:
            aliases = Text(", ".join(one.aliases), "dim")
            name = Group(one.name, *([Padding(aliases, (0, 0, 0, 2))] if one.aliases else []))
            spread = "" if one.range_g_cm3 is None else "{:g} – {:g}".format(*one.range_g_cm3)
            table.add_row(name, f"{one.density_g_cm3:g}", spread, one.source)
    yield table
