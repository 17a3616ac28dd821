"""Doubts about a drawing: loops that overlap or nearly coincide, and its unit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from silhouette3d.base.quantities import Quantity
from silhouette3d.base.units import MM_PER, Unit
from silhouette3d.checks.finding import Finding, Place, place
from silhouette3d.process.profile import Profile

RATIOS: Final[tuple[float, ...]] = (MM_PER["in"], 10.0, 1000.0, 96.0 / 25.4, 72.0 / 25.4)
"""By which a drawing comes out wrong if its unit is taken for another: inches, centimetres,
metres, CSS pixels (CSS Values and Units 3, section 6.2) and points for millimetres."""

SMALL: Final = 0.36
"""Share of the face, both ways, below which a drawing that states no unit is oddly small: seven
eighths of the stock would be waste. As large is a part drawn in points that fills its stock."""

SMALL_STATED: Final = 0.1
"""Likewise of a drawing that states its unit."""

LARGE: Final = 1.5
"""Share of the face, both ways, above which a drawing is oddly large: it cuts nothing."""

FITS: Final = (0.5, 1.02)
"""Shares of the face between which the larger side lies if a ratio explains the size."""

_SAME_RATIO: Final = 0.01


@dataclass(frozen=True)
class Doubt:
    """A drawing whose size fits the stock in another unit.

    Parameters
    ----------
    profile : str
        Whose.
    drawn, face : tuple of float
        Width and height as taken, and of the stock's face, in mm.
    ratios : tuple of float
        How much larger it ought to be, the likeliest first.
    units : {"mm", "in"}, optional
        What the profile's `units` would have to be, if that explains the first.
    scale : float, optional
        Else what its `scale` would have to be.
    is_stock : bool
        Whether it is the stock rectangle that says so, to within a hundredth.
    """

    profile: str
    drawn: tuple[float, float]
    face: tuple[float, float]
    ratios: tuple[float, ...]
    units: Unit | None
    scale: float | None
    is_stock: bool


def doubt_of(profile: Profile, match: float) -> Doubt | None:
    """Ask whether a drawing's size fits the stock's face in another unit only.

    A stock rectangle on the drawing decides: it is as large as the face but for one ratio.
    Without one, the outline is in doubt if nobody has stated its unit in the job, it is
    smaller than `SMALL` of the face both ways (`SMALL_STATED` if the file states a unit) or
    larger than `LARGE` both ways, and with a ratio its larger share lies in `FITS`.

    Parameters
    ----------
    profile : Profile
        As placed.
    match : float
        Within which lengths agree, in mm.
    """
    face = np.asarray(profile.face.size)
    if profile.stock_drawn is not None:
        drawn = np.asarray(profile.stock_drawn)
        if np.abs(drawn - face).max() <= match:
            return None
        found = [r for r in _both_ways() if np.allclose(face / drawn, r, rtol=_SAME_RATIO)]
    else:
        u0, v0, u1, v1 = profile.area.bounds
        drawn = np.array([u1 - u0, v1 - v0])
        share = drawn / face
        small = SMALL_STATED if profile.unit.stated == "file" else SMALL
        if profile.unit.stated == "job" or not (share.max() < small or share.min() > LARGE):
            return None
        low, high = FITS
        found = [r for r in _both_ways() if low <= r * share.max() <= high]
    if not found:
        return None
    units, scale = _mended(profile, found[0])
    w, h = drawn.tolist()
    fw, fh = face.tolist()
    is_stock = profile.stock_drawn is not None
    return Doubt(profile.name, (w, h), (fw, fh), tuple(found), units, scale, is_stock)


def _both_ways() -> Iterator[float]:
    yield from RATIOS
    yield from (1.0 / ratio for ratio in RATIOS)


def _mended(profile: Profile, ratio: float) -> tuple[Unit | None, float | None]:
    """Find the unit that explains a ratio, or else the scale."""
    meant = profile.unit.mm * ratio
    for unit, mm in MM_PER.items():
        if abs(meant / mm - 1.0) < _SAME_RATIO:
            return unit, None
    return None, profile.unit.scale * ratio


def unit_doubtful(profile: Profile, match: float) -> Iterator[Finding]:
    """Find an outline that is oddly large or small and would fit the stock in another unit."""
    doubt = doubt_of(profile, match)
    if doubt is None or doubt.is_stock:  # then `stock-mismatch` tells it
        return
    u0, v0, u1, v1 = profile.area.bounds
    middle = (u0 + u1) / 2.0, (v0 + v1) / 2.0
    share = max(np.divide(doubt.drawn, doubt.face))
    yield Finding(
        "unit-doubtful",
        "warning" if SMALL_STATED <= share < SMALL else "error",
        profile.name,
        places=(place(profile.to_block(middle, 0.0), middle),),
        quantities={
            "drawn": Quantity(doubt.drawn, "length"),
            "face": Quantity(doubt.face, "length"),
        },
        facts={
            "ratios": doubt.ratios,
            "units": doubt.units,
            "scale": doubt.scale,
            "taken": profile.unit.words,
            "stated": profile.unit.stated,
        },
    )


def overlapping_loops(profile: Profile) -> Iterator[Finding]:
    """Find loops that overlap in part, where nobody has declared what they make."""
    overlaps = profile.outline.overlaps
    if overlaps is None or overlaps.declared is not None:
        return
    yield Finding(
        "overlapping-loops",
        "warning",
        profile.name,
        places=tuple(_on_face(profile, pair.at) for pair in overlaps.pairs),
        quantities={
            "common": Quantity(sum(pair.area for pair in overlaps.pairs), "area"),
            **{rule: Quantity(area, "area") for rule, area in overlaps.areas},
        },
        facts={"pairs": len(overlaps.pairs)},
    )


def nearly_coincident(profile: Profile) -> Iterator[Finding]:
    """Find loops that run so near each other that one of them may be meant."""
    for is_one in (False, True):
        found = [d for d in profile.outline.doubles if d.is_one == is_one]
        found.sort(key=lambda double: -double.area)
        if found:
            yield Finding(
                "nearly-coincident",
                "warning",
                profile.name,
                places=tuple(_on_face(profile, double.at) for double in found),
                quantities={
                    "apart": Quantity(found[0].apart, "length"),
                    "length": Quantity(found[0].length, "length"),
                    "area": Quantity(found[0].area, "area"),
                    "whole": Quantity(float(shapely.area(profile.area)), "area"),
                },
                facts={"pairs": len(found), "is_one": is_one},
            )


def _on_face(profile: Profile, at: tuple[float, float]) -> Place:
    return place(profile.to_block(at, 0.0), at)
