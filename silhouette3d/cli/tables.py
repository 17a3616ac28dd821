"""Tables for people, in the job's unit and in brackets in the other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Final

from rich import box
from rich.console import Group
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from silhouette3d.checks.sections import section_finding
from silhouette3d.cli.figures import DIGITS, Scale, both, standing_text, tipping_text
from silhouette3d.cli.working import count_text
from silhouette3d.quantity import GRAMS_PER, figure
from silhouette3d.theme import SIGNS

if TYPE_CHECKING:
    from rich.console import RenderableType

    from silhouette3d import Finding, Material, Part
    from silhouette3d.checks.sections import ThinSection
    from silhouette3d.cutting.stages import Stage
    from silhouette3d.measure.thickness import ThinRegion
    from silhouette3d.view import Array

COLOURS: Final = {"error": "bold red", "warning": "bold yellow", "note": "bold blue"}

_NOISE: Final = 1e-9
"""Share of the largest moment of inertia below which a product of inertia is shown as 0."""


def check_table(part: Part, findings: tuple[Finding, ...]) -> Iterator[RenderableType]:
    """What `check` prints: the findings, worst first, and how many there are."""
    scale = Scale(part.job.units)
    yield Text(part.name, style="bold")
    if findings:
        table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
        table.add_column("How bad", no_wrap=True)
        table.add_column("What, and what to do", ratio=1)
        table.add_column("Where", no_wrap=True)
        for one in findings:
            told = part.told(one)
            table.add_row(
                Text(f"{SIGNS[one.severity]} {one.severity}", COLOURS[one.severity]),
                Text.assemble((one.code, "bold"), "\n", told.message, "\n→ ", told.advice, "\n"),
                _place(one, scale),
            )
        yield table
    yield Text(f"Findings: {count_text(findings)}.")
    for profile, spec in zip(part.profiles, part.job.profile, strict=True):
        for note in profile.outline.notes:
            yield Text(f"{spec.drawing}: {note}.", style="dim")


def thickness_table(
    part: Part,
    sections: Sequence[ThinSection],
    held: Sequence[tuple[Stage, ThinRegion | None]],
) -> Iterator[RenderableType]:
    """What `thickness` prints: thin places, thinnest first, then those between cuts."""
    say, limit = part.scale, part.job.checks.thin
    yield Text(part.name, style="bold")
    for number, section in enumerate(sections, start=1):
        yield Text(f"{number:3}  {part.told(section_finding(section, limit)).message}")
    yield Text(
        f"{len(sections) or 'No'} section{'s' * (len(sections) != 1)} below {say.length(limit)}."
    )
    for stage, region in held:
        where = "nothing below the limit"
        if region is not None:
            where = f"{say.length(region.thickness)} at {say.point(region.at.tolist())}"
            if region.kind == "knife":
                where = f"a knife edge at {say.point(region.at.tolist())}"
        yield Text(f"As held after the cut of {stage.cut.name}: {where}.")


def _place(finding: Finding, scale: Scale) -> str:
    """A finding's coordinates, one to a line."""
    if finding.where is None:
        return ""
    return "\n".join(
        f"{axis} {' '.join(both(lambda s, mm=mm: s.length(mm), scale))}"  # type: ignore[misc]
        for axis, mm in zip("xyz", finding.where, strict=True)
    )


def weigh_table(part: Part, quantity: int, packing_kg: float) -> Iterator[RenderableType]:
    """What `weigh` prints."""
    scale = Scale(part.job.units)
    measures, solid = part.measures, part.solid
    parcel = measures.parcel(quantity, packing_kg * 1000.0)
    yield Text(part.name, style="bold")
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False, show_header=False)
    table.add_column(style="bold", no_wrap=True)
    table.add_column()
    table.add_column()

    def row(name: str, own: str, other: str = "") -> None:
        table.add_row(name, own, other)

    row("Material", part.material.name if part.material else "of the job's own density")
    row("Density", *both(lambda s: s.density(part.density), scale))
    row("Volume", *both(lambda s: s.power(measures.volume, 3, measures.volume_error), scale))
    row("Surface", *both(lambda s: s.power(solid.surface_area, 2), scale))
    row("Mass", *both(lambda s: s.mass(measures.mass, measures.mass_error), scale))
    row("Size", *both(lambda s: s.lengths(solid.size.tolist()), scale))
    row("Centre of mass", *both(lambda s: s.point(measures.centre.tolist()), scale))
    row("Inertia", *(inertia_text(measures.inertia, s) for s in (scale, scale.other)))
    row("Bodies", str(len(solid.bodies)))
    if part.standing is None or part.lying is None:
        row("Stands", f"the {len(solid.bodies)} bodies do not stand as one")
    else:
        row("Stands best on", standing_text(part.standing))
        row("As in the block", tipping_text(part.lying))
    row("Stock", *both(lambda s: _stock(part, s), scale))
    row("Mass of the stock", *both(lambda s: s.mass(part.stock_mass), scale))
    row("Cut away", f"{part.share_removed:.1%} of the stock")
    if quantity > 1 or packing_kg > 0.0:
        row("Parts in a parcel", str(quantity))
        row("Net", *_parcel(parcel.net, scale))
        row("Gross", *_parcel(parcel.gross, scale))
    yield table
    yield Text(_small_print(part, scale), style="dim")


def inertia_text(inertia: Array, scale: Scale) -> str:
    """The unit, then the tensor in three lines, its columns in line."""
    least = _NOISE * float(abs(inertia).max())
    rows = [
        [figure(scale.inertia(v), 5, 6) if abs(v) > least else "0" for v in row]
        for row in inertia.tolist()
    ]
    wide = max(len(text) for row in rows for text in row)
    lines = ["  ".join(text.rjust(wide) for text in row) for row in rows]
    return "\n".join([f"in {scale.inertia_unit}", *lines])


def _stock(part: Part, scale: Scale) -> str:
    stock = part.stock
    if stock.diameter is None:
        return f"block {scale.lengths(stock.size)}"
    return f"bar ⌀ {scale.lengths((stock.diameter, stock.length))}, along {stock.along}"


def _parcel(grams: float, scale: Scale) -> tuple[str, str]:
    """A parcel's mass in kg and lb, the job's own first."""
    texts = [f"{figure(grams / GRAMS_PER[name], *DIGITS)} {name}" for name in ("kg", "lb")]
    own, other = texts if scale.unit == "mm" else texts[::-1]
    return own, f"({other})"


def _small_print(part: Part, scale: Scale) -> str:
    lines = [
        "Centre of mass from the stock's front lower left corner: x to the right, y to the rear, "
        "z up. Inertia about the centre of mass, along the same axes."
    ]
    if part.volume_error:
        lines.append(
            f"± is how much straight pieces may amount to that stand for curves within "
            f"{scale.length(part.job.tolerance)}; the density has a spread of its own."
        )
    if part.material and part.material.range_g_cm3:
        low, high = part.material.range_g_cm3
        lines.append(f"Densities of {part.material.name} are given from {low:g} to {high:g} g/cm³.")
    return "\n".join(lines)


def materials_table(materials: tuple[Material, ...]) -> Iterator[RenderableType]:
    """What `materials` prints: one table, a section for each family."""
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
