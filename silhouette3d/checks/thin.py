"""Sections of the part that are too thin, and which outlines make them so."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from silhouette3d.base.quantities import Quantity
from silhouette3d.checks.finding import Finding, Severity, place
from silhouette3d.drawing.model import FULL_TURN, Arc, Bezier, Point
from silhouette3d.drawing.outline.outline import Outline
from silhouette3d.geometry.backend_errors import profile_named
from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.necks import Neck, thin_in_view
from silhouette3d.geometry.polygons import polygons_of
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.thickness.definition import ThinRegion
from silhouette3d.geometry.true_curves import Drawn, TrueCurves
from silhouette3d.process.profile import Profile

_ACROSS: Final = math.sin(math.radians(22.0))
"""Sine. A way that leans less out of the plane of a view lies across it."""

THE_STOCK: Final = "stock"
"""Stands for the stock's own faces where no outline cuts."""

KNIFE_LIMIT: Final = 44.0
"""Degrees. Twice the 22 degrees within which two walls face one another."""


@dataclass(frozen=True, eq=False)
class ThinSection:
    """A thin region of the part and the outlines whose walls face each other there.

    Parameters
    ----------
    region : ThinRegion
        Where and how thin.
    profiles : tuple of str
        Names, those at p first; ``"stock"`` for a face of the stock.
    """

    region: ThinRegion
    profiles: tuple[str, ...]


def thin_sections(
    regions: Sequence[ThinRegion], profiles: Sequence[Profile]
) -> tuple[ThinSection, ...]:
    """Join each region with the outlines that make it."""
    return tuple(ThinSection(region, _names(_walls_of(region, profiles))) for region in regions)


Walls = tuple[tuple[str, ...], tuple[str, ...]]
"""Names of the outlines at both ends of a way across a region."""


def _walls_of(region: ThinRegion, profiles: Sequence[Profile]) -> tuple[tuple[Walls, Array], ...]:
    """Find the walls between which a region is thin, each with the ends (2, 3) of a way there.

    Where outlines meet more of them pass: only ways with the fewest count.
    """
    names = [_passing(region.ends[:, k], profiles) for k in (0, 1)]
    found: dict[Walls, Array] = {}
    for one, other, ends in zip(*names, region.ends, strict=True):
        found.setdefault((one, other) if one <= other else (other, one), ends)
    fewest = min(len(one) + len(other) for one, other in found)
    return tuple((w, ends) for w, ends in found.items() if len(w[0]) + len(w[1]) == fewest)


def _names(walls: Sequence[tuple[Walls, Array]]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for pair, _ in walls for end in pair for name in end))


def walls_at(point: Array, profiles: Sequence[Profile]) -> tuple[str, ...]:
    """Name the profiles whose outline passes a point of the block, seen in their view."""
    return _passing(point[None], profiles)[0]


def _passing(points: Array, profiles: Sequence[Profile]) -> list[tuple[str, ...]]:
    """Name the profiles whose outline passes each of some points (n, 3)."""
    passes = np.zeros((len(points), len(profiles)), bool)
    for k, profile in enumerate(profiles):
        flat = profile.view.to_view(points)[:, :2] - profile.face.corner
        edge = shapely.boundary(profile.area)
        passes[:, k] = shapely.distance(edge, shapely.points(flat)) <= profile.face.tolerances.clear
    names = [profile.name for profile in profiles]
    return [
        tuple(n for n, there in zip(names, row, strict=True) if there) or (THE_STOCK,)
        for row in passes
    ]


def curves_of(profiles: Sequence[Profile], stock: Stock, tolerance: float) -> TrueCurves:
    """List the curves of outlines and of a round stock, in view coordinates.

    Parameters
    ----------
    profiles : sequence of Profile
        As placed.
    stock : Stock
        The piece before cutting.
    tolerance : float
        Largest gap between a curve and its chords in mm, with which the outlines were made.
    """
    drawn = [
        one for p in profiles for one in _drawn(p.outline, p.view.axes, p.face.corner, tolerance)
    ]
    if stock.diameter is not None:
        drawn.append(_round_end(stock, stock.axis_view.axes))
    return TrueCurves.of(drawn)


def _drawn(outline: Outline, axes: Array, corner: Point, tolerance: float) -> Iterator[Drawn]:
    """Yield the arcs and Béziers of an outline whose datum lies on a point of the view."""
    for piece in (piece for loop in outline.loops for piece in loop.pieces):
        span = 0.0, 1.0
        if isinstance(piece, Arc):
            form = np.array([piece.centre, piece.axis_u, piece.axis_v, (0.0, 0.0)])
            span = piece.start_angle, piece.end_angle
        elif isinstance(piece, Bezier):
            a, b, c, d = map(np.asarray, (piece.start, piece.control_1, piece.control_2, piece.end))
            form = np.array([a, 3.0 * (b - a), 3.0 * (c - 2.0 * b + a), d - a + 3.0 * (b - c)])
        else:
            continue
        form[0] += corner
        yield Drawn(axes, form, isinstance(piece, Arc), *span, piece.count(tolerance))


def _round_end(stock: Stock, axes: Array) -> Drawn:
    """Make the circle of a round bar, its lower left corner at the origin of a view along it."""
    radius = (stock.diameter or 0.0) / 2.0
    form = np.array([(radius, radius), (radius, 0.0), (0.0, radius), (0.0, 0.0)])
    return Drawn(axes, form, True, 0.0, FULL_TURN, len(stock.section))


def thin_findings(
    sections: Sequence[ThinSection],
    necks: Mapping[str, Sequence[Neck]],
    profiles: Sequence[Profile],
    limit: float,
) -> Iterator[Finding]:
    """Find `thin-in-view`, `thin-section` and `knife-edge`.

    A section whose two walls belong to one outline, or one to it and one to the stock, is
    told as a neck of that outline where it has one there, and not a second time.
    """
    for profile in profiles:
        for neck in necks[profile.name]:
            yield _in_view(profile, neck, limit)
    by_name = {p.name: p for p in profiles}
    for section in sections:
        region = section.region
        if region.kind == "knife":
            yield section_finding(section, limit)
            continue
        for walls, ends in _walls_of(region, profiles):
            if not any(
                _explains(by_name[name], necks[name], ends, limit) for name in _shared(walls)
            ):
                yield section_finding(section, limit)
                break


def _shared(walls: Walls) -> Iterator[str]:
    """Name the outlines that both walls belong to, or one of them with the stock."""
    one, other = walls
    for name in dict.fromkeys((*one, *other)):
        if name != THE_STOCK and all(name in w or w == (THE_STOCK,) for w in walls):
            yield name


def necks_of(profile: Profile, stock: Stock, limit: float, tolerance: float) -> tuple[Neck, ...]:
    """Find necks of an outline, as far as it lies on the stock, in face coordinates."""
    with profile_named(profile.name):
        on_stock = shapely.intersection(profile.area, stock.shadow(profile.view))
        flat = np.eye(3)
        drawn = [*_drawn(profile.outline, flat, (0.0, 0.0), tolerance)]
        if stock.diameter is not None and profile.view.is_parallel(stock.axis_view):
            drawn.append(_round_end(stock, flat))
        curves = TrueCurves.of(drawn)
        return thin_in_view(polygons_of(on_stock), limit, curves)


def _explains(profile: Profile, necks: Sequence[Neck], ends: Array, limit: float) -> bool:
    """Tell whether a way leads across a neck: in the view's plane, within what it stretches."""
    way = profile.view.to_view(ends[1] - ends[0])
    here = profile.view.to_view(ends.mean(axis=0))[:2] - profile.face.corner
    return abs(float(way[2])) <= _ACROSS * float(np.linalg.norm(way)) and any(
        float(np.linalg.norm(np.asarray(neck.at) - here)) <= neck.length + limit for neck in necks
    )


def _severity(thickness: float, limit: float) -> Severity:
    return "error" if thickness < limit / 2.0 else "warning"


def section_finding(section: ThinSection, limit: float) -> Finding:
    """Make a finding of a thin place: `thin-section` or `knife-edge`."""
    return (_knife if section.region.kind == "knife" else _thin)(section, limit)


def _thin(section: ThinSection, limit: float) -> Finding:
    region = section.region
    return Finding(
        "thin-section",
        _severity(region.thickness, limit),
        _only(section.profiles),
        _others(section.profiles),
        places=(place(region.at),),
        quantities={
            "thickness": Quantity(region.thickness, "length"),
            "limit": Quantity(limit, "length"),
            "area": Quantity(region.area, "area"),
        },
        facts={"walls": section.profiles},
    )


def _knife(section: ThinSection, limit: float) -> Finding:
    region = section.region
    return Finding(
        "knife-edge",
        "warning",
        _only(section.profiles),
        _others(section.profiles),
        places=(place(region.at),),
        quantities={
            "angle": Quantity(region.angle or 0.0, "angle"),
            "limit": Quantity(KNIFE_LIMIT, "angle"),
            "length": Quantity(region.length, "length"),
        },
        facts={"walls": section.profiles},
    )


def _in_view(profile: Profile, neck: Neck, limit: float) -> Finding:
    u, v = (float(x) for x in neck.at)
    return Finding(
        "thin-in-view",
        _severity(neck.thickness, limit),
        profile.name,
        places=(place(profile.to_block((u, v)), (u, v)),),
        quantities={
            "thickness": Quantity(neck.thickness, "length"),
            "limit": Quantity(limit, "length"),
        },
    )


def _only(names: Sequence[str]) -> str | None:
    own = [name for name in names if name != THE_STOCK]
    return own[0] if len(own) == 1 else None


def _others(names: Sequence[str]) -> tuple[str, ...]:
    own = tuple(name for name in names if name != THE_STOCK)
    return own if len(own) > 1 else ()
