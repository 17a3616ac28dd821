"""Ordinary corners that are pointed, and chords that only stem from them.

Where two mitres of 45 degrees run into one corner, the wall below and the edge
between the mitres part by 35 degrees: near the corner they face each other by
the letter, and the thickness goes down to nothing. But no two of these walls
face each other, and walls that meet at an ordinary corner do not count, or every
such corner would alarm. A wall and an edge that meet count only in a needle: if
they part by `BETA` or less. Where two walls do face each other in a point, as in
a steep pyramid, all of it counts.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from silhouette3d.measure.thickness.chords import Chords
from silhouette3d.measure.thickness.surface import Corners, Indices, Mask
from silhouette3d.measure.thickness.terms import BETA
from silhouette3d.view import Array

_POINTED: Final = np.pi / 2.0 - BETA
"""Where all normals of a corner are within this of their mean, none faces a wall or edge of it."""

_NEAR: Final = 1e-6
"""mm. What is nearer than this to a wall lies on it."""

_ALONG: Final = 1.0 - 1e-9
"""Cosine of the angle between normals that are the same."""


def at_pointed_corners(points: Corners, chords: Chords) -> Mask:
    """(n,) which chords lie between a wall and an edge that meet in one convex corner.

    Parameters
    ----------
    points : Corners
        Of the surface.
    chords : Chords
        Thin ones.
    """
    found = np.zeros(len(chords), bool)
    pointed = np.nonzero((points.sign > 0.0) & (points.spread > _POINTED))[0]
    to_edges = np.nonzero(chords.bend | (chords.samples.triangle < 0))[0]
    if not len(pointed) or not len(to_edges):
        return found
    found[to_edges] = _at_corners(points, pointed, chords.chosen(to_edges))
    return found


def _at_corners(points: Corners, pointed: Indices, chords: Chords) -> Mask:
    """The same for chords that begin or end on an edge, and some corners."""
    found = np.zeros(len(chords), bool)
    # p and q are seen from the corner more than BETA apart, so it is within this of their middle
    reach = float(np.linalg.norm(chords.touch - chords.samples.points, axis=1).max())
    reach *= 0.5 + 0.5 / np.tan(BETA / 2.0)
    near = cKDTree(chords.middle).sparse_distance_matrix(
        cKDTree(points.point[pointed]), reach, output_type="ndarray"
    )
    if not len(near):
        return found
    order = np.argsort(near["j"], kind="stable")
    rows, corners = near["i"][order].astype(np.int64), near["j"][order]
    starts = np.nonzero(np.concatenate([[True], corners[1:] != corners[:-1]]))[0]
    for first, last in zip(starts, [*starts[1:], len(rows)], strict=True):
        some = rows[first:last]
        found[some] |= _between(points, int(pointed[corners[first]]), chords, some)
    return found


def _between(points: Corners, corner: int, chords: Chords, rows: Indices) -> Mask:
    """Which of some chords lead from one wall of a corner to an edge of it, or back."""
    at = points.point[corner]
    normals = _distinct(
        points.normal[points.first[corner] : points.first[corner + 1]].reshape(-1, 3)
    )
    if (normals @ normals.T).min() <= -np.cos(2.0 * BETA):
        return np.zeros(len(rows), bool)
    p, q, m = chords.samples.points[rows] - at, chords.touch[rows] - at, chords.samples.inward[rows]
    apart = np.einsum("ij,ij->i", p, q) < np.cos(BETA) * (
        np.linalg.norm(p, axis=1) * np.linalg.norm(q, axis=1)
    )
    own = m @ normals.T < -_ALONG
    begins, ends = np.abs(p @ normals.T) < _NEAR, np.abs(q @ normals.T) < _NEAR
    to_edge = (own & begins).any(axis=1) & ((ends & ~own).sum(axis=1) >= 2)
    to_wall = ~own.any(axis=1) & (begins.sum(axis=1) >= 2) & (ends & ~begins).any(axis=1)
    return np.asarray(apart & (to_edge | to_wall))


def _distinct(normals: Array) -> Array:
    """Without repeats."""
    same = normals @ normals.T > _ALONG
    return np.asarray(normals[~np.tril(same, -1).any(axis=1)])
