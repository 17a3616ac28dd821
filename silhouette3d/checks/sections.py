"""Sections of the part that are too thin, and which outlines make them so."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from silhouette3d.checks.finding import Finding, Severity, point_text, spot
from silhouette3d.measure.neck import Neck, thin_in_view
from silhouette3d.measure.thickness import ThinRegion
from silhouette3d.place import Profile
from silhouette3d.stock import Stock
from silhouette3d.units import MM_PER, Unit, length_text
from silhouette3d.view import Array

ON_WALL: Final = 1e-3
"""mm. A point this near to an outline, as seen in its view, lies on the wall it cuts."""

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
    """Each region with the outlines that make it."""
    return tuple(
        ThinSection(
            region,
            tuple(dict.fromkeys([*walls_at(region.p, profiles), *walls_at(region.q, profiles)])),
        )
        for region in regions
    )


def walls_at(point: Array, profiles: Sequence[Profile]) -> tuple[str, ...]:
    """Names of the profiles whose outline passes a point of the block, seen in their view."""
    names = tuple(p.name for p in profiles if _passes(p, point))
    return names or (THE_STOCK,)


def _passes(profile: Profile, point: Array) -> bool:
    u, v = (profile.view.to_view(point)[:2] - profile.face.corner).tolist()
    edge = shapely.boundary(profile.area)
    return bool(shapely.distance(edge, shapely.Point(u, v)) <= ON_WALL)


def thin_findings(
    sections: Sequence[ThinSection],
    profiles: Sequence[Profile],
    stock: Stock,
    limit: float,
    unit: Unit,
) -> Iterator[Finding]:
    """Findings `thin-in-view`, `thin-section` and `knife-edge`.

    A section whose two walls belong to one outline is told as a neck of that
    outline where it has one there, and not a second time.
    """
    necks = {p.name: necks_of(p, stock, limit) for p in profiles}
    for profile in profiles:
        for neck in necks[profile.name]:
            yield _in_view(profile, neck, limit, unit)
    by_name = {p.name: p for p in profiles}
    for section in sections:
        region = section.region
        if region.kind == "knife":
            yield _knife(section, unit)
            continue
        both = set(walls_at(region.p, profiles)) & set(walls_at(region.q, profiles)) - {THE_STOCK}
        if not any(_explains(by_name[name], necks[name], region, limit) for name in both):
            yield _thin(section, limit, unit)


def necks_of(profile: Profile, stock: Stock, limit: float) -> tuple[Neck, ...]:
    """Necks of an outline, as far as it lies on the stock."""
    on_stock = shapely.intersection(profile.area, stock.shadow(profile.view))
    parts = [p for p in shapely.get_parts(on_stock) if isinstance(p, shapely.Polygon)]
    return thin_in_view(shapely.MultiPolygon(parts), limit)


def _explains(profile: Profile, necks: Sequence[Neck], region: ThinRegion, limit: float) -> bool:
    here = profile.view.to_view(region.at)[:2] - profile.face.corner
    return any(
        float(np.linalg.norm(np.asarray(neck.at) - here)) <= neck.length / 2.0 + limit
        for neck in necks
    )


def _severity(thickness: float, limit: float) -> Severity:
    return "error" if thickness < limit / 2.0 else "warning"


def section_text(section: ThinSection, unit: Unit) -> str:
    """One thin place in words: how thin, where, how far, between which walls."""
    region, walls = section.region, " and ".join(section.profiles)
    where = point_text(region.at, unit)
    if region.kind == "knife":
        angle = 0.0 if region.angle is None else region.angle
        return (
            f"an edge of {length_text(region.length, unit)} at {where} is as sharp as "
            f"{angle:.1f}°, between walls of {walls}"
        )
    area = region.area / MM_PER[unit] ** 2
    return (
        f"the part is {length_text(region.thickness, unit)} thick at {where}, over {area:.3g} "
        f"{unit}², between walls of {walls}"
    )


def _thin(section: ThinSection, limit: float, unit: Unit) -> Finding:
    region = section.region
    more = length_text(limit - region.thickness, unit)
    return Finding(
        "thin-section",
        _severity(region.thickness, limit),
        section_text(section, unit),
        f"move these walls {more} further apart, or make sure that it need not carry anything",
        _only(section.profiles),
        spot(region.at),
        region.thickness,
        limit,
    )


def _knife(section: ThinSection, unit: Unit) -> Finding:
    region = section.region
    return Finding(
        "knife-edge",
        "warning",
        section_text(section, unit),
        "blunt it in one of the outlines: it cuts hands, and breaks",
        _only(section.profiles),
        spot(region.at),
        region.angle,
        KNIFE_LIMIT,
    )


def _in_view(profile: Profile, neck: Neck, limit: float, unit: Unit) -> Finding:
    u, v = (float(x) for x in neck.at)
    return Finding(
        "thin-in-view",
        _severity(neck.thickness, limit),
        f"{profile.name}: the outline is {length_text(neck.thickness, unit)} wide at "
        f"({length_text(u, unit)}, {length_text(v, unit)}) on the face",
        f"widen it there by {length_text(limit - neck.thickness, unit)}",
        profile.name,
        spot(profile.to_block((u, v))),
        neck.thickness,
        limit,
    )


def _only(names: Sequence[str]) -> str | None:
    own = [name for name in names if name != THE_STOCK]
    return own[0] if len(own) == 1 else None
