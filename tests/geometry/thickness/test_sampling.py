"""Where samples lie: the largest patch of a wall that may hold none."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from silhouette3d.geometry.mesh import Mesh
from silhouette3d.geometry.thickness.definition import spacing, unseen
from silhouette3d.geometry.thickness.sampling import WallSamples, all_samples, surface_of


def spread_over(corners: np.ndarray, h: float) -> np.ndarray:
    """Samples on the first face of a thin tetrahedron that stands on a triangle."""
    points = np.vstack([corners, corners.mean(axis=0) - [0.0, 0.0, 1.0]])
    faces = np.array([[0, 1, 2], [1, 0, 3], [2, 1, 3], [0, 2, 3]])
    samples = WallSamples(surface_of(Mesh(points, faces)), h)
    found = all_samples([samples[k] for k in range(len(samples))])
    return np.asarray(found.points[found.triangle == 0])


def shares_of(points: np.ndarray, corners: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Share of the area nearer to the tip, and of the way across, worked out by areas alone."""
    sides = [np.linalg.norm(corners[i - 1] - corners[i - 2]) for i in range(3)]
    tip = int(np.argmin(sides))
    a, b, c = corners[tip, :2], corners[(tip + 1) % 3, :2], corners[(tip + 2) % 3, :2]
    along = np.linalg.solve(np.stack([b - a, c - a], axis=1), (points[:, :2] - a).T)
    down = along.sum(axis=0)
    return down**2, along[1] / np.maximum(down, 1e-300)


@given(
    seed=st.integers(0, 2**32 - 1),
    limit=st.sampled_from([0.3, 1.5, 4.0]),
    flat=st.sampled_from([1.0, 0.1, 0.003]),
)
def test_no_patch_above_the_bound_is_without_a_sample(seed: int, limit: float, flat: float) -> None:
    random = np.random.default_rng(seed)
    corners = np.zeros((3, 3))
    corners[:, :2] = random.uniform(-10.0, 10.0, (3, 2)) * [1.0, flat]
    (ax, ay), (bx, by) = corners[1, :2] - corners[0, :2], corners[2, :2] - corners[0, :2]
    area = abs(ax * by - ay * bx) / 2.0
    h = spacing(limit)
    down, across = shares_of(spread_over(corners, h), corners)
    for _ in range(40):
        share = unseen(limit) * 1.0001 / area  # rounding of places, some 1e-12
        if share >= 1.0:
            return  # no patch of this triangle is as large
        height = random.uniform(share, 1.0)
        width = share / height
        low, left = random.uniform(0.0, 1.0 - height), random.uniform(0.0, 1.0 - width)
        inside = (
            (down >= low) & (down <= low + height) & (across >= left) & (across <= left + width)
        )
        assert inside.any()


def test_the_bound_is_near_what_happens() -> None:
    """On a large triangle some patch of half the bound holds none: it is no empty promise."""
    corners = np.array([[0.0, 0.0, 0.0], [40.0, 0.0, 0.0], [3.0, 50.0, 0.0]])
    limit, area = 4.0, 1000.0
    down, across = shares_of(spread_over(corners, spacing(limit)), corners)
    order = np.argsort(down)
    levels, places = down[order], across[order]
    largest = 0.0
    for i in range(len(levels) - 1):
        for j in range(i + 1, min(i + 40, len(levels))):
            between = np.sort(places[i + 1 : j])
            gaps = np.diff(np.concatenate([[0.0], between, [1.0]]))
            largest = max(largest, float((levels[j] - levels[i]) * gaps.max() * area))
    assert 0.5 * unseen(limit) < largest < unseen(limit)


def test_turns_by_the_golden_ratio_leave_no_larger_gap() -> None:
    """The constant of the three-gap theorem, by counting up to 3,000 turns."""
    turns = (np.arange(3000) * (5.0**0.5 - 1.0) / 2.0) % 1.0
    most = 0.0
    for m in range(1, 3001):
        at = np.sort(turns[:m])
        gap = max(float(np.diff(at).max(initial=0.0)), float(1.0 - at[-1] + at[0]))
        most = max(most, m * gap)
    assert most < 1.0 + 2.0 / 5.0**0.5
    assert most == pytest.approx(1.0 + 2.0 / 5.0**0.5, rel=1e-3)
