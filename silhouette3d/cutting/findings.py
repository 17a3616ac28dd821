"""What the cuts lead to that one should know before making them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import KDTree

from silhouette3d.checks.finding import Finding, Severity, point_text, spot
from silhouette3d.cutting.corners import Kept, kept
from silhouette3d.cutting.kerf import Cut
from silhouette3d.cutting.stages import Body, Stage
from silhouette3d.cutting.stubs import Stub, joins, standing_section, stubs
from silhouette3d.solid import Solid
from silhouette3d.units import MM3_PER_CM3, MM_PER, Unit, length_text
from silhouette3d.view import Array


@dataclass(frozen=True)
class Limits:
    """What findings about cuts are held against.

    Parameters
    ----------
    density : float
        In g/cm³.
    tab_area : float
        Least section of all tabs of a cut together in mm².
    slat_gap : float
        In mm. A piece smaller than this in two directions falls between the slats.
    tolerance : float
        In mm. What stays in a corner nearer than this to it is not told.
    unit : {"mm", "in"}
        For messages.
    """

    density: float
    tab_area: float
    slat_gap: float
    tolerance: float
    unit: Unit


def cutting_findings(
    stages: Sequence[Stage], as_cut: Solid, finished: Solid, limits: Limits
) -> Iterator[Finding]:
    """Every finding about a sequence of cuts.

    Parameters
    ----------
    stages : sequence of Stage
        In order.
    as_cut : Solid
        The part with what stays in its inside corners.
    finished : Solid
        The part as drawn.
    limits : Limits
        See there.
    """
    cuts = [stage.cut for stage in stages]
    yield from _released_early(stages)
    yield from _not_released(stages[-1], cuts, limits)
    yield from _broken(stages, finished, limits)
    for k in range(len(stages)):
        yield from _loose(stages, k, limits)
        if k < len(stages) - 1:
            yield from _weak_tab(stages, k, limits)
    for stub in stubs(stages[-1], cuts):
        yield _witness(stub, limits)
    for cut in cuts:
        yield from _corners(cut, as_cut, limits)


def _released_early(stages: Sequence[Stage]) -> Iterator[Finding]:
    """The first cut that leaves the part loose, or in whose setup it is loose to begin with."""
    for k, stage in enumerate(stages):
        name, left = stage.cut.name, len(stages) - 1 - k
        if not stage.part_was_held:
            made = k
            told = f"the clamps of the setup for cut {k + 1} ({name}) do not hold the part"
        elif left and not stage.part_is_held:
            made = k + 1
            told = (
                f"the part is loose after cut {k + 1} ({name}), "
                f"with {left} cut{'s' * (left > 1)} still to make"
            )
        else:
            continue
        yield Finding(
            "released-early",
            "error",
            told,
            "add tabs to this cut or an earlier one (`silhouette3d tabs` proposes some), "
            "clamp another body, or cut in another order (`silhouette3d order`)",
            name,
            spot(stage.part.solid.centroid),
            float(made),
            float(len(stages)),
        )
        return


def _not_released(last: Stage, cuts: Sequence[Cut], limits: Limits) -> Iterator[Finding]:
    found = joins(last, cuts)
    if not found:
        return
    area, where = sum(join.area for join in found), found[0].where
    yield Finding(
        "not-released",
        "error",
        f"after the last cut ({last.cut.name}) {_area(area, limits.unit)} of tabs still join the "
        f"part to waste, at {point_text(where, limits.unit)}"
        + (f" and {len(found) - 1} more place{'s' * (len(found) > 2)}" if len(found) > 1 else ""),
        "move tabs to where the last cut severs them (`silhouette3d tabs` finds such places), or "
        "plan to saw them off",
        found[0].cut.name,
        spot(where),
        area,
        0.0,
    )


def _broken(stages: Sequence[Stage], finished: Solid, limits: Limits) -> Iterator[Finding]:
    for k, stage in enumerate(stages[:-1]):
        count = len(set(stage.pieces))
        if count > 1:
            where = _between(finished.bodies, stage.pieces)
            yield Finding(
                "part-broken",
                "error",
                f"cut {k + 1} ({stage.cut.name}) parts the part into {count} bodies, near "
                f"{point_text(where, limits.unit)}, before the last cut",
                "change the outlines so that the pieces join there",
                stage.cut.name,
                spot(where),
                float(count),
                1.0,
            )
            return


def _between(pieces: Sequence[Solid], homes: Sequence[int]) -> Array:
    """The middle between the nearest corners of the largest piece and one in another body."""
    here = pieces[0].mesh.vertices
    there = np.concatenate(
        [p.mesh.vertices for p, home in zip(pieces, homes, strict=True) if home != homes[0]]
    )
    gaps = KDTree(here).query(there)[0]
    end = there[int(np.argmin(gaps))]
    start = here[int(np.argmin(np.linalg.norm(here - end, axis=1)))]
    return np.asarray((start + end) / 2.0)


def _loose(stages: Sequence[Stage], k: int, limits: Limits) -> Iterator[Finding]:
    """Offcuts that this cut frees; those loose before it were told then."""
    freed = stages[k].freed
    small = [b for b in freed if np.sort(b.solid.size)[1] < limits.slat_gap]
    for body in freed:
        if body not in small:
            yield _freed(stages, k, [body], limits)
    if small:
        yield _freed(stages, k, small, limits, small=True)


def _freed(
    stages: Sequence[Stage], k: int, bodies: Sequence[Body], limits: Limits, *, small: bool = False
) -> Finding:
    """One large offcut, or all small ones of a cut, largest first."""
    is_last = k == len(stages) - 1
    severity: Severity = "note" if is_last or small else "warning"  # small ones fall clear
    mass = sum(body.solid.volume for body in bodies) * limits.density / MM3_PER_CM3
    largest = bodies[0]
    told = _piece(largest, limits)
    if len(bodies) > 1:
        told = f"{len(bodies)} small pieces, {mass:.4g} g in all, the largest {told}"
    else:
        told = f"{'a small piece' if small else 'an offcut'}: {told}"
    if small:
        falls = "it falls" if len(bodies) == 1 else "they fall"
        advice = (
            f"{falls} between the slats or into the tank and may tip against the cutter: "
            "support or catch what is freed" + ("" if is_last else ", and take it out")
        )
    else:
        advice = "keep clear of it" if is_last else "take it out before the next setup"
    return Finding(
        "small-offcut" if small else "loose-offcut",
        severity,
        f"cut {k + 1} ({stages[k].cut.name}) frees {told}",
        advice,
        stages[k].cut.name,
        spot(largest.solid.centroid),
        mass,
        0.0,
    )


def _weak_tab(stages: Sequence[Stage], k: int, limits: Limits) -> Iterator[Finding]:
    """Tabs of one cut that together stand on too little, at any stage they must hold."""
    cut = stages[k].cut
    if not cut.tabs:
        return
    sections = np.array([standing_section(cut, stage) for stage in stages[k:-1]])
    sections[sections <= 0.0] = np.inf  # severed by then: other tabs hold, or none, told elsewhere
    weakest = int(np.argmin(sections))
    if sections[weakest] >= limits.tab_area:
        return
    u, v = cut.tabs[0].at
    yield Finding(
        "weak-tab",
        "warning",
        f"the tabs of {cut.name} stand on {_area(sections[weakest], limits.unit)} in all after "
        f"cut {k + 1 + weakest} ({stages[k + weakest].cut.name})",
        f"make them wider or add some, to {_area(limits.tab_area, limits.unit)} at least",
        cut.name,
        spot(cut.profile.to_block((u, v))),
        sections[weakest],
        limits.tab_area,
    )


def _witness(stub: Stub, limits: Limits) -> Finding:
    size = f"{length_text(stub.width, limits.unit)} × {length_text(stub.length, limits.unit)}"
    return Finding(
        "witness",
        "note",
        f"a tab of {stub.cut.name} leaves a stub of {size} on the part, "
        f"{length_text(stub.height, limits.unit)} high, at {point_text(stub.where, limits.unit)}",
        "dress it off after the last cut, or move the tab to where the last cut severs it",
        stub.cut.name,
        spot(stub.where),
        stub.volume,
        0.0,
    )


def _corners(cut: Cut, as_cut: Solid, limits: Limits) -> Iterator[Finding]:
    found = kept(cut, as_cut)
    for slot in found:
        if slot.is_slot:
            yield _narrow_slot(cut, slot, limits)
    corners = [c.region for c in found if not c.is_slot and c.reach > limits.tolerance]
    if corners:
        total = sum(region.area for region in corners)
        u, v = _middle(corners[0])
        yield Finding(
            "inside-corner",
            "note",
            f"{cut.name}: {len(corners)} inside corner{'s' * (len(corners) > 1)} sharper than the "
            f"cutter keep {_area(total, limits.unit)} of its face in all, with a radius of "
            f"{length_text(cut.width / 2.0, limits.unit)}; the largest at "
            f"({length_text(u, limits.unit)}, {length_text(v, limits.unit)}) on the face",
            "file them out, or draw a relief if something must fit in there",
            cut.name,
            spot(cut.profile.to_block((u, v))),
            total,
            0.0,
        )


def _narrow_slot(cut: Cut, slot: Kept, limits: Limits) -> Finding:
    u, v = _middle(slot.region)
    return Finding(
        "narrow-slot",
        "warning",
        f"{cut.name}: the cutter, {length_text(cut.width, limits.unit)} wide, cannot enter a slot "
        f"or hole at ({length_text(u, limits.unit)}, {length_text(v, limits.unit)}) on the face; "
        f"{_area(slot.region.area, limits.unit)} of it will not be cut",
        "widen it to more than the kerf, leave it out, or drill it",
        cut.name,
        spot(cut.profile.to_block((u, v))),
        slot.width,
        cut.width,
    )


def _middle(region: shapely.Polygon) -> tuple[float, float]:
    point = shapely.point_on_surface(region)
    return float(point.x), float(point.y)


def _piece(body: Body, limits: Limits) -> str:
    size = " × ".join(length_text(float(v), limits.unit).split()[0] for v in body.solid.size)
    mass = body.solid.volume * limits.density / MM3_PER_CM3
    return f"{mass:.4g} g, {size} {limits.unit}, at {point_text(body.solid.centroid, limits.unit)}"


def _area(area: float, unit: Unit) -> str:
    return f"{area / MM_PER[unit] ** 2:.3g} {unit}²"
