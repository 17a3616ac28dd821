"""Findings about cuts: what one should know before making them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from scipy.spatial import KDTree

from silhouette3d.base.quantities import Quantity
from silhouette3d.base.units import MM3_PER_CM3
from silhouette3d.checks.finding import Finding, Place, Severity, place
from silhouette3d.geometry.backend_errors import profile_named
from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock
from silhouette3d.process.clamping import DATUM, SIDES, has_flat_sides, met_clamps, seats
from silhouette3d.process.cut import Cut, UncutRegion, kept
from silhouette3d.process.stages import Body, CutSimulation, Stage, of_note
from silhouette3d.process.strength import ROUNDING, Hold
from silhouette3d.process.tab_remnants import Join, TabRemnant, joins, tab_remnants


@dataclass(frozen=True)
class Limits:
    """Limits that findings about cuts are held against.

    Parameters
    ----------
    density : float
        In g/cm³.
    tab_area : float
        Least section in mm² that the part may be held by.
    slat_gap : float
        In mm. A piece smaller than this in two directions falls between the slats.
    seat : float
        In mm. The shortest stretch of a side that a block can be seated against.
    tolerance : float
        In mm. What stays in a corner nearer than this to it is not told.
    """

    density: float
    tab_area: float
    slat_gap: float
    seat: float
    tolerance: float


def cutting_findings(
    cutting: CutSimulation,
    order: Sequence[int],
    stages: Sequence[Stage],
    as_cut: Solid,
    limits: Limits,
) -> Iterator[Finding]:
    """Yield every finding about a sequence of cuts.

    Parameters
    ----------
    cutting : CutSimulation
        The cuts.
    order : sequence of int
        Indices of the cuts, first cut first.
    stages : sequence of Stage
        What they lead to in that order.
    as_cut : Solid
        The part with what stays in its inside corners.
    limits : Limits
        See there.
    """
    cuts = [stage.cut for stage in stages]
    joined = joins(stages[-1], cuts)
    yield from _plan(cutting, order, stages, joined, limits)
    for k, (before, stage) in enumerate(pairwise(stages), start=2):
        yield from _no_datum(cutting.stock, before, stage, k, limits.seat)
    for k, stage in enumerate(stages, start=1):
        yield from _start_on_wall(stage, k)
    for k in range(len(stages)):
        yield from _loose(stages, k, limits)
    for stub in () if joined else tab_remnants(stages[-1], cuts):
        if min(stub.width, stub.height, stub.length) > limits.tolerance:
            yield _witness(stub)
    for cut in cuts:
        with profile_named(cut.name):
            yield from _corners(cut, as_cut, limits)


def plan_findings(
    cutting: CutSimulation, order: Sequence[int], stages: Sequence[Stage], limits: Limits
) -> Iterator[Finding]:
    """Find what is wrong with how the part is held, and with how it comes free.

    What tabs and orders are proposed by: a plan that has none of these to mend is sound.
    """
    joined = joins(stages[-1], [stage.cut for stage in stages])
    yield from _plan(cutting, order, stages, joined, limits)


def _plan(
    cutting: CutSimulation,
    order: Sequence[int],
    stages: Sequence[Stage],
    joined: Sequence[Join],
    limits: Limits,
) -> Iterator[Finding]:
    yield from _released_early(stages)
    if joined:
        yield _not_released(stages, joined)
    yield from _broken(stages, cutting.finished)
    for k, stage in enumerate(stages, start=1):
        yield from _clamp_in_path(stage, k)
    yield from _weak(holds(cutting, order, stages), limits)


@dataclass(frozen=True, eq=False)
class Held:
    """Hold of the part between one cut and the next.

    Parameters
    ----------
    made : int
        Cuts made.
    setup : Stage
        The stage in whose setup it is held: of the last of these cuts, or of the next.
    hold : Hold
        The least section.
    """

    made: int
    setup: Stage
    hold: Hold


def holds(cutting: CutSimulation, order: Sequence[int], stages: Sequence[Stage]) -> Iterator[Held]:
    """Measure how firmly the part is held after every cut but the last, and in the next setup."""
    for k, (after, before) in enumerate(pairwise(stages), start=1):
        made = frozenset(order[:k])
        if after.part_is_held:
            yield Held(k, after, cutting.hold(made, order[k - 1]))
        if before.part_was_held:
            yield Held(k, before, cutting.hold(made, order[k]))


def _weak(found: Iterable[Held], limits: Limits) -> Iterator[Finding]:
    """Find where the part hangs on too little; of one kind and cut, where it is weakest."""
    weakest: dict[tuple[bool, str], Held] = {}
    for held in found:
        cut = held.hold.cut or held.setup.cut
        key = held.hold.in_tabs, cut.name
        if held.hold.area < min(
            limits.tab_area * (1.0 - ROUNDING), weakest[key].hold.area if key in weakest else np.inf
        ):
            weakest[key] = held
    for (in_tabs, name), held in weakest.items():
        yield Finding(
            "weak-tab" if in_tabs else "weak-hold",
            "warning",
            name,
            stage=held.made,
            places=(place(held.hold.where),),
            quantities={
                "area": Quantity(held.hold.area, "area"),
                "limit": Quantity(limits.tab_area, "area"),
            },
            facts={"setup": held.setup.cut.name, "at_clamp": held.hold.cut is None},
        )


def _released_early(stages: Sequence[Stage]) -> Iterator[Finding]:
    """Find the first cut that leaves the part loose, or in whose setup it is loose already."""
    for k, stage in enumerate(stages):
        left = len(stages) - 1 - k
        if not stage.part_was_held:
            made = k
        elif left and not stage.part_is_held:
            made = k + 1
        else:
            continue
        yield Finding(
            "released-early",
            "error",
            stage.cut.name,
            stage=made,
            places=(place(stage.part.solid.centroid),),
            quantities={
                "cuts_made": Quantity(float(made), "count"),
                "limit": Quantity(float(len(stages)), "count"),
            },
            facts={"cut": k + 1, "in_setup": made == k, "cuts_left": left},
        )
        return


def _no_datum(
    stock: Stock, before: Stage, stage: Stage, number: int, seat: float
) -> Iterator[Finding]:
    """Find setups whose datum lies where earlier cuts have taken the stock's sides away."""
    profile = stage.cut.profile
    if not (stage.part_was_held and has_flat_sides(stock, profile.view)):
        return
    standing = seats(before.part.solid, stock, profile.view, seat)
    if standing.corner == DATUM:
        return
    yield Finding(
        "no-datum",
        "warning" if standing.corner else "error",
        profile.name,
        stage=number - 1,
        places=(place(profile.to_block((0.0, 0.0), 0.0), (0.0, 0.0)),),
        quantities={
            "limit": Quantity(seat, "length"),
            "across": Quantity(profile.face.size[0], "length"),
            "away": Quantity(profile.face.size[1], "length"),
            **{side: Quantity(long, "length") for side, (long, _) in standing.standing.items()},
        },
        facts={
            "cut": number,
            "gone": [side for side in SIDES if not standing.serves(side)],
            "corner": list(standing.corner or ()),
        },
    )


def _clamp_in_path(stage: Stage, number: int) -> Iterator[Finding]:
    """Find clamps that the cutter runs into."""
    for met in met_clamps(stage.cut, stage.runs, stage.clamp, stage.driving):
        yield Finding(
            "clamp-in-path",
            "error",
            stage.cut.name,
            stage=number - 1,
            places=(place(stage.cut.profile.to_block(met.at), met.at),),
            quantities={"length": Quantity(met.length, "length")},
            facts={"cut": number, "clamp": met.number, "side": met.side},
        )


def _start_on_wall(stage: Stage, number: int) -> Iterator[Finding]:
    """Find runs onto which no lead fits."""
    found = [run for run in stage.runs if run.start == "wall"]
    if found:
        profile, kerf = stage.cut.profile, stage.cut.width
        yield Finding(
            "start-on-wall",
            "warning",
            profile.name,
            stage=number - 1,
            places=tuple(place(profile.to_block(run.first), run.first) for run in found),
            quantities={
                "starts": Quantity(float(len(found)), "count"),
                "limit": Quantity(stage.driving.pierce_of(kerf), "length"),
            },
            facts={"cut": number},
        )


def _not_released(stages: Sequence[Stage], joined: Sequence[Join]) -> Finding:
    """Tell of tabs that still join the part to waste when all is cut, the largest first."""
    first = joined[0].cut
    return Finding(
        "not-released",
        "error",
        first.name,
        tuple(dict.fromkeys(join.cut.name for join in joined if join.cut is not first)),
        stage=len(stages),
        places=tuple(place(join.where) for join in joined),
        quantities={"area": Quantity(sum(join.area for join in joined), "area")},
        facts={"last": stages[-1].cut.name},
    )


def _broken(stages: Sequence[Stage], finished: Solid) -> Iterator[Finding]:
    """Find the first cut before the last that parts the part."""
    for k, stage in enumerate(stages[:-1]):
        count = len(set(stage.pieces))
        if count > 1:
            yield Finding(
                "part-broken",
                "error",
                stage.cut.name,
                stage=k + 1,
                places=(place(_between(finished.bodies, stage.pieces)),),
                quantities={
                    "bodies": Quantity(float(count), "count"),
                    "limit": Quantity(1.0, "count"),
                },
            )
            return


def _between(pieces: Sequence[Solid], homes: Sequence[int]) -> Array:
    """Find the middle between the nearest corners of the largest piece and one in another body."""
    here = pieces[0].mesh.vertices
    there = np.concatenate(
        [p.mesh.vertices for p, home in zip(pieces, homes, strict=True) if home != homes[0]]
    )
    gaps = KDTree(here).query(there)[0]
    end = there[int(np.argmin(gaps))]
    start = here[int(np.argmin(np.linalg.norm(here - end, axis=1)))]
    return np.asarray((start + end) / 2.0)


def _loose(stages: Sequence[Stage], k: int, limits: Limits) -> Iterator[Finding]:
    """Find offcuts that this cut frees; those loose before it were told then."""
    freed = of_note(stages[k].freed)
    small = [b for b in freed if np.sort(b.solid.size)[1] < limits.slat_gap]
    for body in freed:
        if body not in small:
            yield _freed(stages, k, [body], limits)
    if small:
        yield _freed(stages, k, small, limits, small=True)


def _freed(
    stages: Sequence[Stage], k: int, bodies: Sequence[Body], limits: Limits, *, small: bool = False
) -> Finding:
    """Tell of one large offcut, or of all small ones of a cut, largest first."""
    is_last = k == len(stages) - 1
    severity: Severity = "note" if is_last or small else "warning"  # small ones fall clear
    masses = [body.solid.volume * limits.density / MM3_PER_CM3 for body in bodies]
    return Finding(
        "small-offcut" if small else "loose-offcut",
        severity,
        stages[k].cut.name,
        stage=k + 1,
        places=tuple(place(body.solid.centroid) for body in bodies),
        quantities={
            "mass": Quantity(sum(masses), "mass"),
            "largest": Quantity(masses[0], "mass"),
            "size": Quantity(tuple(bodies[0].solid.size.tolist()), "length"),
        },
        facts={"is_last": is_last},
    )


def _witness(stub: TabRemnant) -> Finding:
    return Finding(
        "witness",
        "note",
        stub.cut.name,
        places=(place(stub.where),),
        quantities={
            "volume": Quantity(stub.volume, "volume"),
            "size": Quantity((stub.width, stub.length), "length"),
            "height": Quantity(stub.height, "length"),
        },
    )


def _corners(cut: Cut, as_cut: Solid, limits: Limits) -> Iterator[Finding]:
    """Find slots that the cutter cannot enter, and corners that it leaves round."""
    found = kept(cut, as_cut)
    for slot in found:
        if slot.is_slot:
            yield _narrow_slot(cut, slot)
    corners = [c.region for c in found if not c.is_slot and c.reach > limits.tolerance]
    if corners:
        yield Finding(
            "inside-corner",
            "note",
            cut.name,
            places=tuple(_on_face(cut, region) for region in corners),
            quantities={
                "area": Quantity(sum(region.area for region in corners), "area"),
                "radius": Quantity(cut.width / 2.0, "length"),
            },
        )


def _narrow_slot(cut: Cut, slot: UncutRegion) -> Finding:
    return Finding(
        "narrow-slot",
        "warning",
        cut.name,
        places=(_on_face(cut, slot.region),),
        quantities={
            "width": Quantity(slot.width, "length"),
            "limit": Quantity(cut.width, "length"),
            "area": Quantity(slot.region.area, "area"),
        },
    )


def _on_face(cut: Cut, region: shapely.Polygon) -> Place:
    point = shapely.point_on_surface(region)
    u, v = float(point.x), float(point.y)
    return place(cut.profile.to_block((u, v)), (u, v))
