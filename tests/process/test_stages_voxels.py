"""Cuts against an independent simulation: voxels, distance maps and scipy's labelling.

The distance of a pixel to the outline comes from shapely's distance of points,
how far the cutter gets in from scipy's distance transform; no dilated polygon,
no curve of the path and no boolean engine is used. A voxel that the surface
meets may fall either way, so each state is labelled twice: with every wall moved
out of the material and into it by half a voxel's diagonal. (In the aligned jobs
straight walls lie between voxels; there it is a little less than half a voxel, so
that these stay where they are, as they must where they coincide.) The true bodies lie
between: each connected piece of the lesser one lies in one body, and each body
in one piece of the greater one. Where a greater piece holds just one lesser
piece, there must be just one body, with a volume between those of the two.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from scipy import ndimage

from silhouette3d.geometry.solid import Solid
from silhouette3d.process.cut import Cut
from tests.support.cut_jobs import RandomJob, random_jobs

PIXEL = 0.25
"""mm: a kerf is more than three of them."""

CORNER = 0.5 * PIXEL * math.sqrt(3.0)
"""mm from the middle of a voxel to its corner: how far walls are moved."""

SIDE = 0.49 * PIXEL
"""mm, just less than from the middle of a voxel to its side: the same for aligned jobs."""

LARGE = 60.0
"""mm³, a cube of 4 mm. A larger piece whose bodies the voxels cannot tell leaves a job undecided;
smaller ones may be nowhere thicker than two margins."""

Mask = NDArray[np.bool_]


def pixels(length: float) -> NDArray[np.float64]:
    """Middles of equal pixels, no larger than PIXEL, from 0 to a length."""
    count = math.ceil(length / PIXEL)
    return np.asarray((np.arange(count) + 0.5) * (length / count), np.float64)


@dataclass(frozen=True)
class FlatCut:
    """One cut on the pixels of its face: distance to the outline, and how deep the cutter gets."""

    out: NDArray[np.float64]
    in_reach: NDArray[np.float64]
    in_tab: NDArray[np.float64]

    def removed(self, kerf: float, more: float) -> Mask:
        """Pixels that are taken away, with walls moved by `more` mm."""
        taken = (self.out < kerf + more) & (self.in_reach < kerf / 2.0 + more)
        return taken & ~(self.in_tab < -more)


def flat_cut(
    cut: Cut, tabs: tuple[tuple[np.ndarray, np.ndarray], ...], width: float, uv: NDArray[np.float64]
) -> FlatCut:
    """Maps of one cut on a grid of points (m, n, 2) in face coordinates."""
    kerf, area = cut.kerf, cut.profile.area
    shapely.prepare(area)
    out = np.asarray(shapely.distance(area, shapely.points(uv)))
    tab = np.full(out.shape, np.inf)
    for middle, along in tabs:
        off = uv - middle
        beside = np.abs(off @ np.array([-along[1], along[0]])) > kerf / 2.0 + 2.0 * CORNER
        end = (width + kerf) / 2.0  # where the cutter stops; it takes half a kerf more, round
        ways = np.abs(off @ along)
        nearer = np.linalg.norm(
            off - np.where(off @ along > 0, end, -end)[..., None] * along, axis=-1
        )
        inside = np.maximum(ways - end, kerf / 2.0 - nearer)
        tab = np.minimum(tab, np.where(beside, np.inf, inside))
    return FlatCut(out, _in_reach(area, kerf, uv), tab)


def _in_reach(
    area: shapely.MultiPolygon, kerf: float, uv: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Distance of each point to the nearest place where the cutter's middle may be.

    That is anywhere half a kerf off the outline or further; the map is made on a
    grid that reaches past the face and is four times as fine.
    """
    fine = PIXEL / 4.0
    low, high = uv.reshape(-1, 2).min(axis=0) - 2.0 * kerf, uv.reshape(-1, 2).max(axis=0) + kerf * 2
    axes = [np.arange(a, b, fine) for a, b in zip(low, high, strict=True)]
    points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)
    allowed = np.asarray(shapely.distance(area, shapely.points(points)) >= kerf / 2.0)
    far = ndimage.distance_transform_edt(~allowed) * fine
    i, j = (np.rint((uv[..., k] - low[k]) / fine).astype(int) for k in (0, 1))
    return np.asarray(far[i, j])


def solid_after(job: RandomJob, cuts: Sequence[Cut], flats: Sequence[FlatCut], more: float) -> Mask:
    """Voxels by (x, y, z) that are left."""
    x, y, z = (pixels(length) for length in job.stock.size)
    left = np.ones((len(x), len(y), len(z)), bool)
    for cut, flat in zip(cuts, flats, strict=True):
        left &= ~_spread(cut, flat.removed(cut.kerf, more))
    return left


def _face_grid(job: RandomJob, cut: Cut) -> NDArray[np.float64]:
    """Face coordinates of the pixels of a cut, by its two block axes in their order."""
    view = cut.profile.view
    axes = [k for k in range(3) if abs(view.look[k]) < 0.5]
    grids = np.meshgrid(*(pixels(job.stock.size[k]) for k in axes), indexing="ij")
    block = np.zeros((*grids[0].shape, 3))
    for k, grid in zip(axes, grids, strict=True):
        block[..., k] = grid
    flat = view.to_view(block.reshape(-1, 3))[:, :2] - np.asarray(cut.profile.face.corner)
    return np.asarray(flat.reshape(*grids[0].shape, 2))


def _spread(cut: Cut, mask: Mask) -> Mask:
    """A mask of the face, along the view."""
    return np.expand_dims(mask, int(np.argmax(np.abs(cut.profile.view.look))))


@dataclass(frozen=True)
class Bracket:
    """Connected pieces of the greater and the lesser set of voxels; faces connect."""

    greater: NDArray[Any]
    lesser: NDArray[Any]
    voxel: float

    @cached_property
    def volumes(self) -> NDArray[np.float64]:
        """Of the greater pieces, by label, 0 for the empty space."""
        counts = np.bincount(self.greater.ravel()).astype(float)
        counts[0] = 0.0
        return counts * self.voxel

    @cached_property
    def within(self) -> dict[int, list[float]]:
        """By label of a greater piece, the volumes of the lesser ones in it."""
        counts = np.bincount(self.lesser.ravel())
        found: dict[int, list[float]] = {label: [] for label in range(1, len(self.volumes))}
        labels, first = np.unique(self.lesser, return_index=True)
        for label, at in zip(labels, first, strict=True):
            if label:
                found[int(self.greater.flat[at])].append(float(counts[label]) * self.voxel)
        return found

    @property
    def decides(self) -> bool:
        """Whether every large piece must be one body."""
        return all(
            len(inner) == 1 or (not inner and self.volumes[label] < LARGE)
            for label, inner in self.within.items()
        )


def job_margin(job: RandomJob) -> float:
    return SIDE if job.aligned else CORNER


def bracket(job: RandomJob, flats: list[FlatCut]) -> Bracket:
    """The state after some cuts."""
    cuts = job.cuts[: len(flats)]
    greater, lesser = (
        solid_after(job, cuts, flats, more) for more in (-job_margin(job), job_margin(job))
    )
    voxel = math.prod(length / len(pixels(length)) for length in job.stock.size)
    return Bracket(ndimage.label(greater)[0], ndimage.label(lesser)[0], voxel)


def decided(job: RandomJob) -> bool:
    """Check one job at every stage; False where the voxels are too coarse to tell."""
    flats = [
        flat_cut(cut, tabs, job.width, _face_grid(job, cut))
        for cut, tabs in zip(job.cuts, job.tabs, strict=True)
    ]
    cutting = job.cutting
    result = True
    for k in range(1, len(job.cuts) + 1):
        state = bracket(job, flats[:k])
        bodies = cutting.bodies(frozenset(range(k)))
        homes = [_home(job, state, body) for body in bodies]
        assert 0 not in homes
        for label, inner in state.within.items():
            here = [body for body, home in zip(bodies, homes, strict=True) if home == label]
            # what a margin less than a voxel's corner may still miss
            slack = sum(body.surface_area for body in here) * (CORNER - job_margin(job))
            room = state.volumes[label] - sum(inner) + slack
            assert sum(body.volume for body in here) <= state.volumes[label] + slack
            assert sum(body.volume > room for body in here) <= len(inner)
            if len(inner) == 1:
                assert inner[0] - slack <= max(body.volume for body in here)
        result &= state.decides
    return result


def _home(job: RandomJob, state: Bracket, body: Solid) -> int:
    """Label of the greater piece that holds a body."""
    shape, size = np.array(state.greater.shape), np.array(job.stock.size)
    at = np.clip((body.inner_point / size * shape).astype(int), 0, shape - 1)
    return int(state.greater[tuple(at)])


def agreement(jobs: Iterable[RandomJob]) -> float:
    """Share of the jobs that the voxels decide; all of them agree."""
    return float(np.mean([decided(job) for job in jobs]))


def test_bodies_are_those_of_voxels() -> None:
    assert agreement(random_jobs(1, 14)) > 0.5


@pytest.mark.big
def test_bodies_are_those_of_voxels_in_many_jobs() -> None:
    assert agreement(random_jobs(2, 320)) > 0.5
