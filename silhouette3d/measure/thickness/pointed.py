"""Ordinary corners that are pointed, and chords that only stem from them.

Where two mitres of 45 degrees run into one corner, the wall below and the edge
between the mitres part by 35 degrees: near the corner they face each other by
the letter, and the thickness goes down to nothing. But walls that meet at an
ordinary corner do not count, or every such corner would alarm. A corner counts
only if it is a needle: if a wall and what lies opposite part by `BETA` or less.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from silhouette3d.measure.thickness.chords import Chords
from silhouette3d.measure.thickness.surface import Corners, Indices, Mask
from silhouette3d.measure.thickness.terms import BETA
from silhouette3d.view import Array

_POINTED: Final = np.radians(80.0)
"""Normals of a corner within this of their mean do not face each other, nor do edges between."""

_NEAR: Final = 1e-6
"""mm. What is nearer than this to a wall lies on it."""

_ALONG: Final = 1.0 - 1e-9
"""Cosine of the angle between normals that are the same."""


def at_pointed_corners(points: Corners, chords: Chords) -> Mask:
    """(n,) which chords lie between a wall and an edge or wall that meet in one convex corner.

    Parameters
    ----------
    points : Corners
        Of the surface.
    chords : Chords
        Thin ones.
    """
    found = np.zeros(len(chords), bool)
    pointed = np.nonzero((points.sign > 0.0) & (points.spread > _POINTED))[0]
    if not len(pointed) or not len(chords):
        return found
    # p and q are seen from the corner more than BETA apart, so it is within this of their middle
    reach = float(np.linalg.norm(chords.touch - chords.samples.points, axis=1).max())
    reach *= 0.5 + 0.5 / np.tan(BETA / 2.0)
    tree = cKDTree(chords.middle)
    for corner in pointed:
        rows = np.asarray(tree.query_ball_point(points.point[corner], reach), np.int64)
        found[rows] |= _between(points, int(corner), chords, rows)
    return found


def _between(points: Corners, corner: int, chords: Chords, rows: Indices) -> Mask:
    """Which of some chords lead from one wall of a corner to an edge or wall opposite."""
    at = points.point[corner]
    normals = _distinct(
        points.normal[points.first[corner] : points.first[corner + 1]].reshape(-1, 3)
    )
    p, q, m = chords.samples.points[rows] - at, chords.touch[rows] - at, chords.samples.inward[rows]
    apart = np.einsum("ij,ij->i", p, q) < np.cos(BETA) * (
        np.linalg.norm(p, axis=1) * np.linalg.norm(q, axis=1)
    )
    own = m @ normals.T < -_ALONG
    begins = (own & (np.abs(p @ normals.T) < _NEAR)).any(axis=1)
    ends = (np.abs(q @ normals.T) < _NEAR) & ~own
    opposed = (ends & (m @ normals.T >= np.cos(2.0 * BETA))).any(axis=1)
    return np.asarray(apart & begins & (opposed | (ends.sum(axis=1) >= 2)))


def _distinct(normals: Array) -> Array:
    """Without repeats."""
    same = normals @ normals.T > _ALONG
    return np.asarray(normals[~np.tril(same, -1).any(axis=1)])
