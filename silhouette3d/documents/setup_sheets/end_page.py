"""After the last setup: freeing the part, dressing it, weighing it, deburring it."""

from __future__ import annotations

from typing import Any

from silhouette3d.base.quantities import Scale
from silhouette3d.base.units import MM3_PER_CM3
from silhouette3d.documents.setup_sheets.cautions import DEFER, FULL
from silhouette3d.documents.setup_sheets.setup import SheetSetup
from silhouette3d.model.results import Results
from silhouette3d.process.stages import Stage
from silhouette3d.process.tab_remnants import TabRemnant, joins, tab_remnants

Section = dict[str, Any]


def end_page(part: Results, setups: tuple[SheetSetup, ...], say: Scale) -> dict[str, Any]:
    """Gather what the template needs behind the setups."""
    last = setups[-1].stage
    sections: list[Section] = []
    as_cut = None
    if last is None:
        unknown = "Not known: the cuts cannot be simulated."
        sections.append(_section("Freeing the part and dressing it", unknown))
    else:
        found = tuple(tab_remnants(last, part.cuts)) if part.comes_free else ()
        as_cut = part.as_cut.volume + sum(stub.volume for stub in found)
        sections.append(_section("Freeing the part", *_freeing(part, last, say), tick=True))
        sections.append(_section("Witnesses to dress", *_witnesses(part, found, say), tick=True))
    sections += [
        _section("Weight to expect", *_weight(part, as_cut, say)),
        _section(
            "Deburring",
            "Break every edge that a cut has left, and the mouths of holes and slots; look for "
            "burrs on the side where the cutter came out. "
            "Rinse or blow off abrasive, chips and oil before packing, with eye protection on.",
        ),
    ]
    return {
        "sections": sections,
        "checks": [
            "all offcuts taken out and counted",
            "witnesses dressed",
            "edges broken",
            "sizes measured: " + say.lengths(part.solid.size),
            "weighed:",
        ],
        "cautions": [{"head": head, "text": text, "source": source} for head, text, source in FULL],
        "defer": DEFER,
    }


def _section(head: str, lead: str, *items: str, tick: bool = False) -> Section:
    return {"head": head, "lead": lead, "items": list(items), "tick": tick}


def _freeing(part: Results, last: Stage, say: Scale) -> list[str]:
    """Tell how the part comes out of what is left of the block."""
    found = joins(last, part.cuts)
    if not found:
        return [
            f"The last cut ({last.cut.name}) frees the part. Stop the machine, hold the part, "
            "take the waste away, then lift the part out."
        ]
    return [
        "Tabs still join the part to waste after the last cut. With the block clamped, saw them "
        "through on the waste side, the part supported:",
        *(
            f"a tab of {join.cut.name}, {say.area(join.area)}, at {say.axes(join.where)}"
            for join in found
        ),
    ]


def _witnesses(part: Results, found: tuple[TabRemnant, ...], say: Scale) -> list[str]:
    """List stubs of tabs, and corners that the cutter leaves, with their places."""
    kept = [one for one in part.findings if one.code in _LEFT]
    if not found:
        lead = "None: no tab leaves a stub on the part."
    else:
        lead = "Stubs of tabs, to be filed or milled off flush; places from the stock's origin:"
    return [
        lead,
        *(
            f"{stub.cut.name}: {say.lengths((stub.width, stub.length))}, "
            f"{say.length(stub.height)} high, at {say.axes(stub.where)}"
            for stub in found
        ),
        *(": ".join(part.told(one, say)) + "." for one in kept),
    ]


_LEFT = ("inside-corner", "narrow-slot")


def _weight(part: Results, as_cut: float | None, say: Scale) -> list[str]:
    """Tell what the scales should show, and what follows if they do not."""
    rows = [
        f"As drawn {say.mass(part.mass)}. Scales that show clearly something else tell of a "
        "wrong material, a wrong outline or a cut that is missing or was made twice."
    ]
    if as_cut is not None:
        grams = as_cut * part.density / MM3_PER_CM3
        rows.append(
            f"as it comes from the machine, corners and stubs not dressed: {say.mass(grams)}"
        )
    span = part.material.range_g_cm3 if part.material else None
    if span is not None:
        low, high = (value / part.density for value in span)
        rows.append(
            f"the material's density varies: from {say.mass(part.mass * low)} "
            f"to {say.mass(part.mass * high)}"
        )
    return rows
