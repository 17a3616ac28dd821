"""Do the drawings fit the stock, and one another."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from silhouette3d.checks.finding import Finding, spot
from silhouette3d.place import Profile
from silhouette3d.stock import Stock
from silhouette3d.units import GRAMS_PER_POUND, GRID, MM3_PER_CM3, MM_PER, Unit, length_text
from silhouette3d.view import Array

LOAD_CONSTANT: Final = 23_000.0
"""g. The load constant of the revised lifting equation: Waters, Putz-Anderson and Garg,
Applications Manual for the Revised NIOSH Lifting Equation, DHHS (NIOSH) 94-110, rev. 2021."""

_SAME_DIRECTION: Final = 1e-6


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
        """x, y or z, or the direction in numbers."""
        for axis, letter in zip(np.eye(3), "xyz", strict=True):
            if abs(abs(self.direction @ axis) - 1.0) < _SAME_DIRECTION:
                return letter
        return "(" + ", ".join(f"{v:.3g}" for v in np.round(self.direction, 6) + 0.0) + ")"


def shared_axes(profiles: Sequence[Profile], stock: Stock) -> tuple[SharedAxis, ...]:
    """Every direction that at least two profiles see in true length."""
    found: list[Array] = []
    for i, first in enumerate(profiles):
        for second in profiles[i + 1 :]:
            for direction in _directions(first, second):
                if not any(_same(direction, other) for other in found):
                    found.append(direction)
    axes = []
    for direction in found:
        seen = [p for p in profiles if abs(direction @ p.view.look) < _SAME_DIRECTION]
        there = [(p, area) for p in seen if not (area := _on_stock(p, stock)).is_empty]
        if len(there) > 1:
            extents = tuple(_reach(p, area, direction) for p, area in there)
            axes.append(SharedAxis(direction, tuple(p for p, _ in there), extents))
    return tuple(axes)


def _directions(first: Profile, second: Profile) -> list[Array]:
    if first.view.is_parallel(second.view):
        return [_forward(axis) for axis in first.view.axes[:2]]
    cross = np.cross(first.view.look, second.view.look)
    return [_forward(cross / np.linalg.norm(cross))]


def _forward(direction: Array) -> Array:
    """The same line, pointing along its largest component."""
    sign = np.sign(direction[np.argmax(np.abs(np.round(direction, 6)))])
    return np.asarray(direction * sign + 0.0)


def _same(a: Array, b: Array) -> bool:
    return bool(np.linalg.norm(a - b) < _SAME_DIRECTION)


def _on_stock(profile: Profile, stock: Stock) -> MultiPolygon:
    common = shapely.intersection(profile.area, stock.shadow(profile.view), grid_size=GRID)
    return MultiPolygon([p for p in shapely.get_parts(common) if isinstance(p, Polygon)])


def _reach(profile: Profile, area: MultiPolygon, direction: Array) -> tuple[float, float]:
    """From where to where an area on a profile's face reaches along a direction."""
    points = shapely.get_coordinates(area) + profile.face.corner
    along = points @ (profile.view.axes[:2] @ direction)
    return float(along.min()), float(along.max())


def stock_mismatch(profile: Profile, match: float, unit: Unit) -> Iterator[Finding]:
    """The stock rectangle on the drawing is not the stock's face."""
    if profile.stock_drawn is None:
        return
    drawn, real = np.asarray(profile.stock_drawn), np.asarray(profile.face.size)
    off = float(np.abs(drawn - real).max())
    if off <= match:
        return
    advice = "measure the stock; correct the drawing or [stock] in the job file"
    for ratio, mend in ((MM_PER["in"], '"in"'), (1.0 / MM_PER["in"], '"mm"')):
        if np.allclose(real / drawn, ratio, rtol=0.01):
            advice = (
                f"the two differ by a factor of 25.4: set units = {mend} for this profile, "
                "or the unit in the drawing"
            )
    yield Finding(
        "stock-mismatch",
        "error",
        f"{profile.name}: the stock is drawn {_size(drawn, unit)}, "
        f"but this face of the stock is {_size(real, unit)}",
        advice,
        profile.name,
        spot(profile.to_block((float(real[0]), float(real[1])), 0.0)),
        off,
        match,
    )


def outside_stock(profile: Profile, stock: Stock, match: float, unit: Unit) -> Iterator[Finding]:
    """An outline that reaches beyond the stock."""
    shadow = stock.shadow(profile.view)
    points = shapely.get_coordinates(profile.area)
    distance = np.asarray(shapely.distance(shadow, shapely.points(points)))
    far = int(np.argmax(distance))
    if distance[far] <= match:
        return
    yield Finding(
        "outside-stock",
        "warning",
        f"{profile.name}: the outline reaches {length_text(float(distance[far]), unit)} "
        "beyond the stock, so that much of it is missing from the part",
        "move the outline (shift, datum), or take a larger stock",
        profile.name,
        spot(profile.to_block((float(points[far][0]), float(points[far][1])), 0.0)),
        float(distance[far]),
        match,
    )


def extent_mismatch(axis: SharedAxis, stock: Stock, match: float, unit: Unit) -> Iterator[Finding]:
    """Profiles that see the same direction in true length reach differently far along it.

    One finding for each that does not agree with the one that most agree with.
    """
    extents = np.array(axis.extents)
    agree = np.abs(extents[:, None] - extents[None]).max(axis=2) <= match
    reference = int(np.argmax(agree.sum(axis=1)))
    for odd in np.nonzero(~agree[reference])[0]:
        profile, other = axis.profiles[odd], axis.profiles[reference]
        ends = np.asarray(extents[reference] - extents[odd])
        worst = int(np.argmax(np.abs(ends)))
        off = float(abs(ends[worst]))
        where = np.asarray(stock.size) / 2.0
        where = where + axis.direction * (extents[odd, worst] - where @ axis.direction)
        yield Finding(
            "extent-mismatch",
            "warning",
            f"along {axis.name} the outlines disagree by {length_text(off, unit)}: {profile.name} "
            f"reaches from {_range(axis.extents[odd], unit)}, {other.name} from "
            f"{_range(axis.extents[reference], unit)}",
            _cure(axis, int(odd), reference, stock, match, unit),
            profile.name,
            spot(where),
            off,
            match,
        )


def _cure(
    axis: SharedAxis, odd: int, reference: int, stock: Stock, match: float, unit: Unit
) -> str:
    """The shift that makes two extents agree, if a shift can: each is tried."""
    profile, other = axis.profiles[odd], axis.profiles[reference]
    own, wanted = axis.extents[odd], axis.extents[reference]
    along = profile.view.axes[:2] @ axis.direction
    whole = _reach(profile, profile.area, axis.direction)
    # centred on each other, or one end where it should be: the other may lie off the stock
    moves = [np.subtract(wanted, own).mean(), *np.subtract(wanted, whole)]
    for move in moves:
        shift = np.round(along * move / MM_PER[unit], 6) + 0.0
        moved = _shifted(profile, shift * MM_PER[unit])
        there = _on_stock(moved, stock)
        if there.is_empty:
            continue
        after = _reach(moved, there, axis.direction)
        if np.abs(np.subtract(wanted, after)).max() <= match:
            return (
                f"shift {profile.name} by {_pair(shift)} (add it to its shift) "
                f"to match {other.name}"
            )
    off = float(np.diff(wanted)[0] - np.diff(own)[0])
    longer, shorter = (other, profile) if off > 0 else (profile, other)
    return (
        f"no shift cures this: {longer.name} is {length_text(abs(off), unit)} longer "
        f"than {shorter.name}; redraw one of them (a shift of {profile.name} by "
        f"{_pair(np.round(along * moves[0] / MM_PER[unit], 6) + 0.0)} centres them on each other)"
    )


def _shifted(profile: Profile, shift: Array) -> Profile:
    area = shapely.transform(profile.area, lambda points: points + shift)
    return replace(profile, outline=replace(profile.outline, polygons=area))


def _pair(shift: Array) -> str:
    """Two lengths as the job file takes them."""
    return "[" + ", ".join(f"{value:.6f}".rstrip("0").rstrip(".") for value in shift) + "]"


def heavy_stock(stock: Stock, density: float) -> Iterator[Finding]:
    """A stock heavier than one person should lift."""
    mass = stock.volume * density / MM3_PER_CM3
    if mass <= LOAD_CONSTANT:
        return
    yield Finding(
        "heavy-stock",
        "warning",
        f"the stock weighs {mass / 1000:.1f} kg ({mass / GRAMS_PER_POUND:.0f} lb), more than the "
        "23 kg (51 lb) that the NIOSH lifting equation allows under the best conditions",
        "lift it with a second person or a hoist; local rules may set a lower limit",
        None,
        spot(np.asarray(stock.size) / 2.0),
        mass,
        LOAD_CONSTANT,
    )


def _size(size: Array, unit: Unit) -> str:
    return " × ".join(length_text(float(v), unit).split()[0] for v in size) + f" {unit}"


def _range(extent: tuple[float, float], unit: Unit) -> str:
    low, high = (length_text(v, unit) for v in extent)
    return f"{low.split()[0]} to {high}"
