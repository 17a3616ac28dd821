"""Find on the true curves what was measured on the chords that stand for them.

Problem: outlines are cut into chords before they become walls, so a wall between two
arcs is measured up to two deviations too thin or too thick, and the walls of a tip meet
at the angle of its chords.

Method: each chord keeps its curve, four coefficients of 1, cos t, sin t or of 1, t, t²,
t³ (arcs of circles and ellipses, cubic Béziers), and the t of its ends. A point beside a
chord is brought to the curve by Newton's method for a point where the way to it is square
to the curve; it starts on the chord and stays within one chord of it. From a point p of
the surface with the inward normal m the ball that is tangent there and touches the
surface opposite has the diameter s with 2 · distance(p + s/2 · m) = s, and Newton's step
for that is (2 · distance − s) / (1 + m · n), n being the way from the middle of the ball
to the nearest point opposite.

Invariant: chords and curve share their ends, and nothing between is moved by more than
`deviation`. A ball between two walls changes by `WIDER` deviations at most, so that a
search widened by that misses no pair of walls.

Complexity: linear in what is asked; lines have no rows, and without curves nothing is asked.

Reference: Newton's method for the nearest point of a curve: D. Schneider, Solving the
nearest-point-on-curve problem, Graphics Gems, Academic Press 1990 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.indices import ragged
from silhouette3d.geometry.tolerances import LAST_DIGITS

_LEAST: Final = 1e-300
"""Stands for a length or area of nothing where one divides by it."""

Indices = NDArray[np.int64]
Mask = NDArray[np.bool_]

NEAR: Final = 1e-5
"""mm. A wall this near to a chord is made of it: a hundred times what welding moves."""

WIDER: Final = 2.4
"""Deviations by which a ball may change: one on each side, 1 / cos² 22° as much on a slant."""

MOST_TURN: Final = math.radians(15.0)
"""Normals of chord and curve that part by more are not allowed for: arcs smaller than thirty
tolerances."""

SMOOTH: Final = 1e-3
"""Radians. Curves that turn less where they meet go on into each other."""

_UPRIGHT: Final = 1e-6
_ALONG: Final = 0.02
_ROUNDS: Final = 12
_SETTLED: Final = 1e-12
_FOLDED: Final = 1e-9


class Drawn(NamedTuple):
    """One curve as it is drawn in a view.

    Parameters
    ----------
    axes : (3, 3) array
        Of the view: rows u, v and towards the eye, in block axes.
    form : (4, 2) array
        Coefficients in mm, view coordinates.
    is_arc : bool
        Whether of 1, cos t, sin t and nothing; else of 1, t, t², t³.
    first, last : float
        t at both ends.
    chords : int
        How many of equal steps in t that stand for it.
    """

    axes: Array
    form: Array
    is_arc: bool
    first: float
    last: float
    chords: int


@dataclass(frozen=True, eq=False)
class TrueCurves:
    """Chords, each with the curve it stands for, drawn in one of several views.

    Parameters
    ----------
    axes : (k, 3, 3) array
        Of the view of each curve.
    curve : (n,) array of int
        Which one each chord stands for.
    form : (n, 4, 2) array
        Coefficients of its curve in mm.
    is_arc : (n,) array of bool
        As in `Drawn`.
    span, limits : (n, 2) arrays
        t at the ends of the chord, and of the whole curve; infinite for a whole turn.
    """

    axes: Array
    curve: Indices
    form: Array
    is_arc: Mask
    span: Array
    limits: Array

    @classmethod
    def of(cls, drawn: Iterable[Drawn]) -> TrueCurves:
        """Cut curves into their chords."""
        some = list(drawn)
        counts = np.array([one.chords for one in some], np.int64)
        row, k = ragged(counts)
        ends = np.array([(one.first, one.last) for one in some]).reshape(-1, 2)
        is_arc = np.array([one.is_arc for one in some], bool)
        whole = is_arc & (np.abs(np.ptp(ends, axis=1)) > 2.0 * math.pi * (1.0 - LAST_DIGITS))
        limits = np.where(whole[:, None], (-np.inf, np.inf), np.sort(ends, axis=1))
        share = np.stack([k, k + 1], axis=1) / np.maximum(counts, 1)[row][:, None]
        return cls(
            np.array([one.axes for one in some]).reshape(-1, 3, 3),
            row,
            np.array([one.form for one in some]).reshape(-1, 4, 2)[row],
            is_arc[row],
            ends[row, :1] + share * (ends[row, 1:] - ends[row, :1]),
            limits[row],
        )

    def __len__(self) -> int:
        return len(self.curve)

    @cached_property
    def ends(self) -> Array:
        """(n, 2, 2) of the chords in mm, view coordinates."""
        every = np.arange(len(self))
        return np.stack([self._at(every, self.span[:, k])[0] for k in (0, 1)], axis=1)

    @cached_property
    def deviation(self) -> float:
        """Greatest distance in mm of a curve from its chord."""
        every, off = np.arange(len(self)), [np.zeros(len(self))]
        for share in (0.25, 0.5, 0.75):
            t = self.span[:, 0] + share * (self.span[:, 1] - self.span[:, 0])
            chord = self.ends[:, 0] + share * (self.ends[:, 1] - self.ends[:, 0])
            off.append(np.linalg.norm(self._at(every, t)[0] - chord, axis=1))
        return 1.1 * float(np.max(off, initial=0.0))  # the greatest of three is nearly the greatest

    @cached_property
    def turn(self) -> float:
        """Greatest angle in radians of a curve's normal from that of its chord."""
        every, angles = np.arange(len(self)), [np.zeros(len(self))]
        along = self.ends[:, 1] - self.ends[:, 0]
        for k in (0, 1):
            way = self._at(every, self.span[:, k])[1] * np.sign(np.diff(self.span, axis=1))
            cross = along[:, 0] * way[:, 1] - along[:, 1] * way[:, 0]
            angles.append(np.abs(np.arctan2(cross, np.einsum("ij,ij->i", along, way))))
        return min(float(np.max(angles, initial=0.0)), MOST_TURN)

    def rows_at(self, points: Array, normals: Array) -> Indices:
        """Find the chord (k,) that the wall at a point (k, 3) with a normal is made of, or -1."""
        found = np.full(len(points), -1)
        if not len(self) or not len(points):
            return found
        along = self.ends[:, 1] - self.ends[:, 0]
        along /= np.maximum(np.linalg.norm(along, axis=1), _LEAST)[:, None]
        frames, frame = np.unique(self.axes, axis=0, return_inverse=True)
        of_chord = frame.ravel()[self.curve]
        for k, axes in enumerate(frames):
            rows = np.nonzero((np.abs(normals @ axes[2]) < _UPRIGHT) & (found < 0))[0]
            chords = np.nonzero(of_chord == k)[0]
            tree = shapely.STRtree(np.asarray(shapely.linestrings(self.ends[chords])))
            spots = shapely.points(points[rows] @ axes[:2].T)
            i, j = tree.query_nearest(spots, max_distance=NEAR, all_matches=False)
            i, j = rows[i], chords[j]
            off = np.abs(np.einsum("ij,ij->i", normals[i] @ axes[:2].T, along[j]))
            found[i[off < _ALONG]] = j[off < _ALONG]
        return found

    def nearest(self, rows: Indices, points: Array, outward: Array) -> tuple[Array, Array]:
        """Find points (k, 3) of chords' curves nearest to points on them, and the normals.

        Parameters
        ----------
        rows : (k,) array of int
            Which chords.
        points : (k, 3) array
            In mm, on or near the chords.
        outward : (k, 3) array
            On which side of the curve the normals are to lie.
        """
        flat = self.seen(rows, points)
        t = self.start(rows, flat)
        for _ in range(_ROUNDS // 2):
            t = self._stepped(rows, flat, t)
        at, way, _ = self._at(rows, t)
        size = np.linalg.norm(way, axis=1)
        normal = np.stack([way[:, 1], -way[:, 0]], axis=1) / np.maximum(size, _LEAST)[:, None]
        normal = self._back(rows, normal)
        side = np.einsum("ij,ij->i", normal, outward)
        normal = np.where((size > 0.0)[:, None], np.copysign(1.0, side)[:, None] * normal, outward)
        return points + self._back(rows, at - flat), normal

    def start(self, rows: Indices, flat: Array) -> Array:
        """Start at t (k,) as far along as points (k, 2) in the view are along their chords."""
        a, b = self.ends[rows, 0], self.ends[rows, 1]
        square = np.einsum("ij,ij->i", b - a, b - a)
        share = np.einsum("ij,ij->i", flat - a, b - a) / np.maximum(square, _LEAST)
        first, last = self.span[rows].T
        return np.asarray(first + np.clip(share, 0.0, 1.0) * (last - first))

    def ways(self, rows: Indices, points: Array, t: Array) -> tuple[Array, Array]:
        """Find the ways (k, 3) from points to the curves, square to them, and t: one step more."""
        flat = self.seen(rows, points)
        t = self._stepped(rows, flat, self._stepped(rows, flat, t))
        return self._back(rows, self._at(rows, t)[0] - flat), t

    def seen(self, rows: Indices, points: Array) -> Array:
        """Project points (k, 3) into the views (k, 2) of chords."""
        return np.asarray(np.einsum("kij,kj->ki", self.axes[self.curve[rows], :2], points))

    def _back(self, rows: Indices, flat: Array) -> Array:
        return np.asarray(np.einsum("kij,ki->kj", self.axes[self.curve[rows], :2], flat))

    def _at(self, rows: Indices, t: Array) -> tuple[Array, Array, Array]:
        """Evaluate points (k, 2) of curves, and their first and second derivatives by t."""
        arc, one, none = self.is_arc[rows], np.ones(len(rows)), np.zeros(len(rows))
        c, s = np.cos(t), np.sin(t)
        form = self.form[rows]
        bases = (
            ((one, c, s, none), (one, t, t * t, t * t * t)),
            ((none, -s, c, none), (none, one, 2.0 * t, 3.0 * t * t)),
            ((none, -c, -s, none), (none, none, 2.0 * one, 6.0 * t)),
        )
        at, way, bend = (
            np.einsum("ik,kij->kj", np.where(arc, np.array(turning), np.array(plain)), form)
            for turning, plain in bases
        )
        return at, way, bend

    def _stepped(self, rows: Indices, flat: Array, t: Array) -> Array:
        """Step once towards where the way to points (k, 2) is square to the curve."""
        at, way, bend = self._at(rows, t)
        off = at - flat
        square = np.einsum("ij,ij->i", way, way)
        rise = square + np.einsum("ij,ij->i", off, bend)
        sound = np.abs(rise) > _FOLDED * square
        step = -np.einsum("ij,ij->i", off, way) / np.where(sound, rise, 1.0)
        span = np.sort(self.span[rows], axis=1)
        width = span[:, 1] - span[:, 0]
        t = t + np.where(sound, np.clip(step, -width, width), 0.0)
        low = np.maximum(span[:, 0] - width, self.limits[rows, 0])
        high = np.minimum(span[:, 1] + width, self.limits[rows, 1])
        return np.asarray(np.clip(t, low, high))


NO_CURVES: Final = TrueCurves.of(())
"""Straight lines only."""


def tangent_balls(
    curves: TrueCurves,
    points: Array,
    inward: Array,
    size: Array,
    opposite: Indices,
    touch: Array,
    normal: Array,
) -> tuple[Array, Array, Array]:
    """Find the balls tangent at points that touch what lies opposite.

    Parameters
    ----------
    curves : TrueCurves
        Which.
    points, inward : (k, 3) arrays
        On the true surface in mm, and unit normals into the material there.
    size : (k,) array
        About how large they are, in mm.
    opposite : (k,) array of int
        The chord whose curve each touches, or -1 for a plane or a point.
    touch : (k, 3) array
        Where about, or a point of the plane, or the point itself.
    normal : (k, 3) array
        The outward normal of the plane; nan for a point.

    Returns
    -------
    size : (k,) array
        Diameters in mm.
    facing : (k,) array
        The cosine of the angle between `inward` and the outward normal where it touches: of
        twice the angle that the way from point to point is off either.
    touch : (k, 3) array
        Where it touches, in mm.
    """
    size = size.copy()
    curved, flat = opposite >= 0, np.isfinite(normal).all(axis=1)
    rows = opposite[curved]
    t = curves.start(rows, curves.seen(rows, touch[curved]))
    way, facing, middle = np.empty_like(points), np.zeros(len(points)), points
    for _ in range(_ROUNDS):
        middle = points + (size / 2.0)[:, None] * inward
        way[:] = touch - middle
        way[flat] = np.einsum("ij,ij->i", way[flat], normal[flat])[:, None] * normal[flat]
        way[curved], t = curves.ways(rows, middle[curved], t)
        far = np.linalg.norm(way, axis=1)
        facing = np.einsum("ij,ij->i", way, inward) / np.maximum(far, _LEAST)
        step = (2.0 * far - size) / np.maximum(1.0 + facing, 0.25)
        size = np.maximum(size + step, 0.0)
        if np.abs(step).max(initial=0.0) < _SETTLED:
            break
    return size, facing, middle + way
