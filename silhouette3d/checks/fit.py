"""Do the drawings fit the stock, and one another."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from silhouette3d.checks.finding import Finding, spot
from silhouette3d.place import Profile
from silhouette3d.stock import Stock
from silhouette3d.units import GRAMS_PER_POUND, MM3_PER_CM3, MM_PER, Unit, length_text
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
        return "(" + ", ".join(f"{v:.3g}" for v in self.direction) + ")"


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
        extents = [_extent(p, stock, direction) for p in seen]
        reach = [(p, e) for p, e in zip(seen, extents, strict=True) if e is not None]
        if len(reach) > 1:
            axes.append(SharedAxis(direction, *map(tuple, zip(*reach, strict=True))))
    return tuple(axes)


def _directions(first: Profile, second: Profile) -> list[Array]:
    if first.view.is_parallel(second.view):
        return [_forward(axis) for axis in first.view.axes[:2]]
    cross = np.cross(first.view.look, second.view.look)
    return [_forward(cross / np.linalg.norm(cross))]


def _forward(direction: Array) -> Array:
    """The same line, pointing along its largest component."""
    return np.asarray(direction * np.sign(direction[np.argmax(np.abs(np.round(direction, 6)))]))


def _same(a: Array, b: Array) -> bool:
    return bool(np.linalg.norm(a - b) < _SAME_DIRECTION)


def _extent(profile: Profile, stock: Stock, direction: Array) -> tuple[float, float] | None:
    on_stock = shapely.intersection(profile.area, stock.shadow(profile.view))
    points = shapely.get_coordinates(on_stock)
    if not len(points):
        return None
    along = (points + profile.face.corner) @ (profile.view.axes[:2] @ direction)
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
    distance = shapely.distance(shadow, shapely.points(points))
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
    """Profiles that see the same direction in true length reach differently far along it."""
    extents = np.asarray(axis.extents)
    agree = np.abs(extents[:, None] - extents[None]).max(axis=2) <= match
    reference = int(np.argmax(agree.sum(axis=1)))
    if agree[reference].all():
        return
    odd = int(np.argmin(agree[reference]))
    low, high = extents[reference] - extents[odd]
    off = float(max(abs(low), abs(high)))
    profile, other = axis.profiles[odd], axis.profiles[reference]
    reach = "; ".join(
        f"{p.name} from {_range(e, unit)}" for p, e in zip(axis.profiles, axis.extents, strict=True)
    )
    end = extents[odd][int(abs(high) > abs(low))]
    where = np.asarray(stock.size) / 2.0
    where = where + axis.direction * (end - where @ axis.direction)
    yield Finding(
        "extent-mismatch",
        "warning",
        f"along {axis.name} the outlines disagree by {length_text(off, unit)}: {reach}",
        _cure(profile, other, axis, (float(low), float(high)), match, unit),
        profile.name,
        spot(where),
        off,
        match,
    )


def _cure(
    profile: Profile,
    other: Profile,
    axis: SharedAxis,
    move: tuple[float, float],
    match: float,
    unit: Unit,
) -> str:
    """The shift that makes two extents agree, if a shift can."""
    shift = profile.view.axes[:2] @ axis.direction * (sum(move) / 2.0) / MM_PER[unit]
    by = "[" + ", ".join(f"{round(value, 6) + 0.0:g}" for value in shift) + "]"
    if abs(move[1] - move[0]) <= match:
        return f"shift {profile.name} by {by} (add it to its shift) to match {other.name}"
    longer, shorter = (other, profile) if move[1] > move[0] else (profile, other)
    return (
        f"no shift cures this: {longer.name} is {length_text(abs(move[1] - move[0]), unit)} longer "
        f"than {shorter.name}; redraw one of them (centred on each other with a shift of "
        f"{profile.name} by {by})"
    )


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


