"""B-splines as pieces of a curve.

Problem: a drawing's B-spline of any degree, with or without weights, as pieces that can be
flattened, moved and measured.

Method: each span between two knots is a Bézier curve, its control points found by the polar form. A
spline of degree three or less without weights is then a chain of cubic Béziers, exactly. Any other
is followed by points: spans are halved until the hull of their control points is flat.

Invariant: a curve lies in the hull of its control points, so no point of it strays further from
its chord than the farthest of them.

Complexity: O(n d³) for n spans of degree d, d + 1 polar forms of d² steps each; and a halving for
each point.

Reference: L. Ramshaw, Blossoms are polar forms, Computer Aided Geometric Design 6, 1989.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from silhouette3d.base.limits import CORNERS, DEGREE
from silhouette3d.drawing.model import Array, Bezier, Line, Piece, Sampled
from silhouette3d.geometry.tolerances import MERGE

__all__ = ["spline_pieces"]


def spline_pieces(
    points: Array,
    degree: int,
    knots: Sequence[float],
    weights: Sequence[float] = (),
    *,
    tolerance: float,
) -> tuple[Piece, ...]:
    """Make the pieces of a B-spline curve, each beginning where the one before it ends.

    Parameters
    ----------
    points : (n, 2) array
        Control points in mm.
    degree : int
        1 or more.
    knots : sequence of float
        n + degree + 1 values, none smaller than the one before it. They need
        not be repeated at the ends: the curve is drawn over the part of them
        on which it is defined.
    weights : sequence of float, optional
        One for each control point; none, or equal ones, for a spline that is
        not rational.
    tolerance : float
        Largest gap in mm between a `Sampled` piece and the true curve.

    Returns
    -------
    tuple of Piece
        `Line` for degree 1, `Bezier` for degrees 2 and 3, both exact; a single
        `Sampled` with its bound for a higher degree or a rational spline.

    Raises
    ------
    ValueError
        If the numbers define no curve.
    """
    steps = np.asarray(knots, float)
    _check(points, degree, steps, weights)
    if len(weights) == 0 or min(weights) == max(weights):
        spans = list(_spans(points, degree, steps))
        _check_joined([(s[0], s[-1]) for s in spans])
        if degree <= 3:
            return _exact(spans)
        homogeneous = [np.column_stack([s, np.ones(len(s))]) for s in spans]
    else:
        w = np.asarray(weights, float)[:, None]
        homogeneous = list(_spans(np.hstack([points * w, w]), degree, steps))
        _check_joined([(_flat(s)[0], _flat(s)[-1]) for s in homogeneous])
    return (_sampled(homogeneous, tolerance),)


def _check(points: Array, degree: int, knots: Array, weights: Sequence[float]) -> None:
    if degree < 1 or len(points) <= degree:
        raise ValueError(f"{len(points)} control points cannot make a spline of degree {degree}")
    if degree > DEGREE.value:
        raise ValueError(
            f"it is a spline of degree {degree}, and more than {DEGREE.value} is not read "
            f"(limit {DEGREE.variable})"
        )
    if len(knots) != len(points) + degree + 1:
        raise ValueError(
            f"{len(points)} control points of degree {degree} need "
            f"{len(points) + degree + 1} knots, and there are {len(knots)}"
        )
    if not (np.isfinite(points).all() and np.isfinite(knots).all()):
        raise ValueError("a control point or knot is not a finite number")
    if (np.diff(knots) < 0.0).any() or knots[degree] >= knots[-degree - 1]:
        raise ValueError("its knots do not increase")
    if len(weights) not in (0, len(points)):
        raise ValueError(f"{len(weights)} weights stand for {len(points)} control points")
    if not all(0.0 < w < math.inf for w in weights):
        raise ValueError("a weight is not a positive number")


def _spans(points: Array, degree: int, knots: Array) -> Array:
    """Find Bézier control points (n, degree + 1, …) of each of the n spans between knots.

    The k-th of them is the polar form of the span at its start, degree − k
    times, and at its end, k times (L. Ramshaw, "Blossoms are polar forms",
    Computer Aided Geometric Design 6, 1989); each is found by de Boor's
    scheme with another argument in each round. All steps are averages of
    points, as the arguments lie within the span.
    """
    at = np.arange(degree, len(points))
    at = at[knots[at] < knots[at + 1]]
    first, last = knots[at, None], knots[at + 1, None]
    local = knots[at[:, None] + np.arange(1 - degree, degree + 1)]
    own = points[at[:, None] + np.arange(-degree, 1)]
    corners = [_polar(own, local, [first] * (degree - k) + [last] * k) for k in range(degree + 1)]
    return np.stack(corners, axis=1)


def _polar(points: Array, knots: Array, arguments: Sequence[Array]) -> Array:
    degree = len(arguments)
    for done, t in enumerate(arguments):
        lower = knots[:, done:degree]
        upper = knots[:, degree : 2 * degree - done]
        share = ((t - lower) / (upper - lower))[:, :, None]
        points = (1.0 - share) * points[:, :-1] + share * points[:, 1:]
    result: Array = points[:, 0]
    return result


def _check_joined(ends: Sequence[tuple[Array, Array]]) -> None:
    for (_, end), (start, _) in pairwise(ends):
        if math.dist(end, start) > MERGE:
            raise ValueError(f"it is broken at ({end[0]:g}, {end[1]:g}) mm")


def _exact(spans: Sequence[Array]) -> tuple[Piece, ...]:
    pieces: list[Piece] = []
    for span in spans:
        corners = [(float(x), float(y)) for x, y in span]
        if pieces:
            corners[0] = pieces[-1].end
        if len(span) == 2:
            pieces.append(Line(corners[0], corners[1]))
            continue
        if len(span) == 3:  # a parabola, as a cubic
            (a, b, c) = span
            inner = [(a + 2.0 * b) / 3.0, (2.0 * b + c) / 3.0]
            corners[1:2] = [(float(x), float(y)) for x, y in inner]
        pieces.append(Bezier(*corners))
    return tuple(pieces)


def _sampled(spans: Sequence[Array], tolerance: float) -> Sampled:
    """Sample the curve by halving each span until its hull is flat.

    With positive weights a rational Bézier curve lies within the hull of its
    control points, so it strays from its chord no further than the farthest of
    them does (G. Farin, Curves and Surfaces for CAGD, the convex hull property).
    """
    first = _flat(spans[0])[0]
    points = [(float(first[0]), float(first[1]))]
    deviation = 0.0
    waiting = list(reversed(spans))
    most = CORNERS.value
    while waiting:
        span = waiting.pop()
        corners = _flat(span)
        reach = _reach(corners)
        if reach > tolerance:
            waiting.extend(reversed(_halves(span)))
        else:
            deviation = max(deviation, reach)
            points.append((float(corners[-1][0]), float(corners[-1][1])))
        if len(points) + len(waiting) > most:
            raise ValueError(
                f"it takes more than {most:,} points to follow it within {tolerance:g} mm "
                f"(limit {CORNERS.variable})"
            )
    return Sampled(tuple(points), deviation)


def _flat(span: Array) -> Array:
    flat: Array = span[:, :2] / span[:, 2:]
    return flat


def _reach(corners: Array) -> float:
    """Measure the farthest distance of a control point from the chord."""
    chord = corners[-1] - corners[0]
    square = float(chord @ chord)
    along = (corners - corners[0]) @ chord / square if square > 0.0 else np.zeros(len(corners))
    feet = corners[0] + np.outer(np.clip(along, 0.0, 1.0), chord)
    return float(np.hypot(*(corners - feet).T).max())


def _halves(span: Array) -> tuple[Array, Array]:
    """Halve a Bézier span by de Casteljau's scheme."""
    left, right = [span[0]], [span[-1]]
    while len(span) > 1:
        span = (span[:-1] + span[1:]) / 2.0
        left.append(span[0])
        right.append(span[-1])
    return np.array(left), np.array(right[::-1])
