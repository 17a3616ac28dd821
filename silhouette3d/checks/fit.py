"""Check that drawings fit the stock and one another."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from shapely import MultiPolygon

from silhouette3d.base.quantities import Quantity
from silhouette3d.base.units import MM3_PER_CM3, figure
from silhouette3d.checks.drawings import doubt_of
from silhouette3d.checks.finding import Finding, place
from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.polygons import polygons_of
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.tolerances import GRID
from silhouette3d.process.profile import Profile

LOAD_CONSTANT: Final = 23_000.0
"""g. The load constant of the revised lifting equation: Waters, Putz-Anderson and Garg,
Applications Manual for the Revised NIOSH Lifting Equation, DHHS (NIOSH) 94-110, rev. 2021."""

_SAME_DIRECTION: Final = 1e-6
"""Of unit vectors: looser than `ANGLE`, as views are typed with six digits and two may mean one."""

_SURE: Final = 0.99
"""Share of `match` within which a shift must bring two outlines, so that it still cures when it
is told to a hundredth of that."""


@dataclass(frozen=True)
class SharedAxis:
    """A direction square to the sight of several profiles, with how far each reaches along it.

    Parameters
    ----------
    direction : (3,) array
        Unit vector in block axes.
    profiles : tuple of Profile
        Those that see it in true length.
    extents : tuple of (float, float)
        From and to of each, in mm along the direction, as far as it lies on the stock.
    """

    direction: Array
    profiles: tuple[Profile, ...]
    extents: tuple[tuple[float, float], ...]

    @property
    def common(self) -> tuple[float, float]:
        """The range that every profile reaches; empty when the first is not below the second."""
        return max(low for low, _ in self.extents), min(high for _, high in self.extents)

    @property
    def name(self) -> str:
        """x, y or z; u or v of a profile on whose drawing it runs; or the direction in numbers."""
        for axis, letter in zip(np.eye(3), "xyz", strict=True):
            if _same_line(self.direction, axis):
                return letter
        if (drawn := _drawn_on(self.direction, self.profiles)) is not None:
            return f"{'uv'[drawn[1]]} of {_known_as(drawn[0])}"
        return "(" + ", ".join(figure(float(v), 3) for v in np.round(self.direction, 6) + 0.0) + ")"

    @property
    def zero(self) -> float:
        """Origin it is told from, in mm along it: the block's corner, or a drawing's datum."""
        drawn = _drawn_on(self.direction, self.profiles)
        if drawn is None or any(_same_line(self.direction, axis) for axis in np.eye(3)):
            return 0.0
        return drawn[0].face.corner[drawn[1]]


def _same_line(a: Array, b: Array) -> bool:
    return bool(abs(abs(a @ b) - 1.0) < _SAME_DIRECTION)


def _drawn_on(direction: Array, profiles: Sequence[Profile]) -> tuple[Profile, int] | None:
    """Find the first profile whose u (0) or v (1) runs along a direction, either way."""
    return next(
        (
            (profile, i)
            for profile in profiles
            for i, axis in enumerate(profile.view.axes[:2])
            if _same_line(direction, axis)
        ),
        None,
    )


def _known_as(profile: Profile) -> str:
    """Name a profile, and tell how its view lies where the name does not say so."""
    name, view = profile.name, profile.view
    return name if name in (view.name, view.plain_name) else f"{name} ({view.name})"


def shared_axes(profiles: Sequence[Profile], stock: Stock) -> tuple[SharedAxis, ...]:
    """Find every direction that at least two profiles see in true length."""
    found: list[Array] = []
    for i, first in enumerate(profiles):
        for second in profiles[i + 1 :]:
            for direction in _directions(first, second):
                if not any(_same(direction, other) for other in found):
                    found.append(direction)
    axes = []
    for line in found:
        seen = [p for p in profiles if abs(line @ p.view.look) < _SAME_DIRECTION]
        there = [(p, area) for p in seen if not (area := _on_stock(p, stock)).is_empty]
        if len(there) > 1:
            direction = _as_drawn(line, [p for p, _ in there])
            extents = tuple(_reach(p, area, direction) for p, area in there)
            axes.append(SharedAxis(direction, tuple(p for p, _ in there), extents))
    return tuple(axes)


def _directions(first: Profile, second: Profile) -> list[Array]:
    if first.view.is_parallel(second.view):
        return [_forward(axis) for axis in first.view.axes[:2]]
    cross = np.cross(first.view.look, second.view.look)
    return [_forward(cross / np.linalg.norm(cross))]


def _forward(direction: Array) -> Array:
    """Point a direction along its largest component."""
    sign = np.sign(direction[np.argmax(np.abs(np.round(direction, 6)))])
    return np.asarray(direction * sign + 0.0)


def _as_drawn(direction: Array, profiles: Sequence[Profile]) -> Array:
    """Point a direction across the block's axes as it does on the drawing that it is told by."""
    drawn = _drawn_on(direction, profiles)
    if drawn is None or any(_same_line(direction, axis) for axis in np.eye(3)):
        return direction
    profile, i = drawn
    return np.asarray(profile.view.axes[i] * 1.0)


def _same(a: Array, b: Array) -> bool:
    return bool(np.linalg.norm(a - b) < _SAME_DIRECTION)


def _on_stock(profile: Profile, stock: Stock) -> MultiPolygon:
    common = shapely.intersection(profile.area, stock.shadow(profile.view), grid_size=GRID)
    return polygons_of(common)


def _reach(profile: Profile, area: MultiPolygon, direction: Array) -> tuple[float, float]:
    """Measure from where to where an area on a profile's face reaches along a direction."""
    points = shapely.get_coordinates(area) + profile.face.corner
    along = points @ (profile.view.axes[:2] @ direction)
    return float(along.min()), float(along.max())


def stock_mismatch(profile: Profile, match: float) -> Iterator[Finding]:
    """Find a stock rectangle on the drawing that is not the stock's face."""
    if profile.stock_drawn is None:
        return
    drawn, real = np.asarray(profile.stock_drawn), np.asarray(profile.face.size)
    off = float(np.abs(drawn - real).max())
    if off <= match:
        return
    doubt = doubt_of(profile, match)
    yield Finding(
        "stock-mismatch",
        "error",
        profile.name,
        places=(place(profile.to_block((float(real[0]), float(real[1])), 0.0), real),),
        quantities={
            "off": Quantity(off, "length"),
            "limit": Quantity(match, "length"),
            "drawn": Quantity(tuple(drawn.tolist()), "length"),
            "face": Quantity(tuple(real.tolist()), "length"),
        },
        facts={
            "ratio": doubt.ratios[0] if doubt else None,
            "units": doubt.units if doubt else None,
            "scale": doubt.scale if doubt else None,
        },
    )


def outside_stock(profile: Profile, stock: Stock, match: float) -> Iterator[Finding]:
    """Find an outline that reaches beyond the stock."""
    shadow = stock.shadow(profile.view)
    points = shapely.get_coordinates(profile.area)
    distance = np.asarray(shapely.distance(shadow, shapely.points(points)))
    far = int(np.argmax(distance))
    if distance[far] <= match:
        return
    yield Finding(
        "outside-stock",
        "warning",
        profile.name,
        places=(
            place(
                profile.to_block((float(points[far][0]), float(points[far][1])), 0.0), points[far]
            ),
        ),
        quantities={
            "beyond": Quantity(float(distance[far]), "length"),
            "limit": Quantity(match, "length"),
        },
    )


def extent_mismatch(axis: SharedAxis, stock: Stock, match: float) -> Iterator[Finding]:
    """Find profiles that see one direction in true length and reach differently far along it.

    One finding for each that does not agree with the one that most agree with.
    """
    extents = np.array(axis.extents)
    agree = np.abs(extents[:, None] - extents[None]).max(axis=2) <= match
    reference = int(np.argmax(agree.sum(axis=1)))
    told = [(low - axis.zero, high - axis.zero) for low, high in axis.extents]
    for odd in np.nonzero(~agree[reference])[0]:
        profile, other = axis.profiles[odd], axis.profiles[reference]
        ends = np.asarray(extents[reference] - extents[odd])
        worst = int(np.argmax(np.abs(ends)))
        where = np.asarray(stock.size) / 2.0
        where = where + axis.direction * (extents[odd, worst] - where @ axis.direction)
        shift, cures = _cure(axis, int(odd), reference, stock, match)
        yield Finding(
            "extent-mismatch",
            "warning",
            profile.name,
            (other.name,),
            places=(place(where),),
            quantities={
                "off": Quantity(float(abs(ends[worst])), "length"),
                "limit": Quantity(match, "length"),
                "extent": Quantity(told[odd], "length"),
                "other_extent": Quantity(told[reference], "length"),
                "shift": Quantity(tuple(shift.tolist()), "length"),
            },
            facts={"axis": axis.name, "shift_cures": cures},
        )


def _cure(
    axis: SharedAxis, odd: int, reference: int, stock: Stock, match: float
) -> tuple[Array, bool]:
    """Find a shift of the odd one in mm, and whether it makes the two agree: each is tried.

    Where none does it is the one that centres them on each other.
    """
    profile = axis.profiles[odd]
    own, wanted = axis.extents[odd], axis.extents[reference]
    along = profile.view.axes[:2] @ axis.direction
    whole = _reach(profile, profile.area, axis.direction)
    # centred on each other, or one end where it should be: the other may lie off the stock
    moves = [np.subtract(wanted, own).mean(), *np.subtract(wanted, whole)]
    for move in moves:
        moved = _shifted(profile, along * move)
        there = _on_stock(moved, stock)
        if there.is_empty:
            continue
        after = _reach(moved, there, axis.direction)
        if np.abs(np.subtract(wanted, after)).max() <= _SURE * match:
            return along * move, True
    return along * moves[0], False


def _shifted(profile: Profile, shift: Array) -> Profile:
    area = shapely.transform(profile.area, lambda points: points + shift)
    return replace(profile, outline=replace(profile.outline, polygons=area))


def heavy_stock(stock: Stock, density: float) -> Iterator[Finding]:
    """Find a stock heavier than one person should lift."""
    mass = stock.volume * density / MM3_PER_CM3
    if mass <= LOAD_CONSTANT:
        return
    yield Finding(
        "heavy-stock",
        "warning",
        places=(place(np.asarray(stock.size) / 2.0),),
        quantities={
            "mass": Quantity(mass, "mass"),
            "limit": Quantity(LOAD_CONSTANT, "mass"),
        },
    )
