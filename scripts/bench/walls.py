"""Thin places: the readings of the check beside trimesh's, for each sample of the surface."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

import numpy as np

from bench.thickness import LIMIT, compared, part, timed
from bench.timing import Row
from silhouette3d.geometry.thickness.regions import thickness_field, thin_regions

SLOW = 2_000


def rows(triangles: Sequence[int], *, samples: int = SLOW) -> Iterator[Row]:
    """A ring with a bar and holes; what trimesh misses and calls thin in error is told."""
    thin_regions(part(8), LIMIT)  # compiled, if it was not
    for count in triangles:
        solid = part(max(8, int(count / 28.5)))
        points, triangle, true = thickness_field(solid, LIMIT)
        ours = timed(partial(thickness_field, solid, LIMIT)) / len(points)
        few = min(samples, len(points))
        rows = np.random.default_rng(0).choice(len(points), few, replace=False)
        vectors = solid.mesh.area_vectors[triangle[rows]]
        normals = vectors / np.linalg.norm(vectors, axis=1)[:, None]
        for name in ("ray", "max_sphere"):
            other = compared(name, solid, points[rows], normals, true[rows])
            note = f"misses {other.missed:.0%}, false alarms {other.alarms:.0%}"
            case = f"{len(solid.mesh.triangles):,} triangles"
            yield Row("thickness", case, ours * few, other.seconds, other.name, note)
