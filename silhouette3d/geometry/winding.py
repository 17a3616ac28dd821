"""Winding of a closed surface round a point: the solid angles of its triangles, summed."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.machine_code import compiled, dot, minus, row_of


@compiled
def turns(point: Array, vertices: Array, triangles: NDArray[np.int64]) -> float:
    """Count how often a surface turns round a point: 1 inside a solid, 0 outside.

    A triangle more or less near the point does no harm.

    Parameters
    ----------
    point : (1, 3) array
        In mm.
    vertices : (n, 3) array
        In mm.
    triangles : (m, 3) array of int
        Counter-clockwise as seen from outside.

    Notes
    -----
    A. Van Oosterom and J. Strackee, IEEE Transactions on Biomedical Engineering 30(2), 1983,
    125-126.
    """
    p, total = row_of(point, 0, 0), 0.0
    for i in range(len(triangles)):
        a = minus(row_of(vertices, triangles[i, 0], 0), p)
        b = minus(row_of(vertices, triangles[i, 1], 0), p)
        c = minus(row_of(vertices, triangles[i, 2], 0), p)
        la, lb, lc = math.sqrt(dot(a, a)), math.sqrt(dot(b, b)), math.sqrt(dot(c, c))
        above = (
            a[0] * (b[1] * c[2] - b[2] * c[1])
            + a[1] * (b[2] * c[0] - b[0] * c[2])
            + a[2] * (b[0] * c[1] - b[1] * c[0])
        )
        beside = la * lb * lc + dot(a, b) * lc + dot(b, c) * la + dot(c, a) * lb
        total += math.atan2(above, beside)
    return total / (2.0 * math.pi)
