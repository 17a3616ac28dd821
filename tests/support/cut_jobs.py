"""Cuts in memory, and random jobs of them, for the tests of what happens cut by cut."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from shapely import Polygon

from silhouette3d.checks.cuts import Limits, cutting_findings
from silhouette3d.geometry.frames import View
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.subtract import carve
from silhouette3d.process.clamping import Clamp
from silhouette3d.process.cut import Cut, removal_around
from silhouette3d.process.leads import USUAL, Driving
from silhouette3d.process.stages import CutSimulation, Stage
from silhouette3d.process.tabs import tab_at
from tests.oracles.voxels import connected
from tests.support.shapes import Area, cells, many, profile, solid

TOLERANCE = 0.01
Place = tuple[float, float]


def cut_of(
    view: str | View,
    area: Area,
    stock: Stock,
    *,
    kerf: float = 1.0,
    tabs: Sequence[Place] = (),
    width: float = 2.0,
    tolerance: float = TOLERANCE,
    name: str = "",
) -> Cut:
    """A cut with tabs whose middles are the places on its path nearest to some points."""
    bare = Cut(profile(view, area, stock, name), stock, kerf, tolerance)
    return with_tabs_at(bare, tabs, width)


def with_tabs_at(cut: Cut, tabs: Sequence[Place], width: float = 2.0) -> Cut:
    return replace(cut, tabs=(*cut.tabs, *(tab_at(cut, at, width) for at in tabs)))


def cutting_of(cuts: Sequence[Cut], clamps: Sequence[Clamp | None] | None = None) -> CutSimulation:
    """The cuts, in order, of one stock."""
    stock = cuts[0].stock
    finished = solid(stock, [cut.profile for cut in cuts])
    return CutSimulation(stock, cuts, clamps or [None] * len(cuts), finished)


def stages_of(
    *cuts: Cut, clamps: Sequence[Clamp | None] | None = None, clear_offcuts: bool = True
) -> tuple[Stage, ...]:
    return cutting_of(cuts, clamps).stages(range(len(cuts)), clear_offcuts=clear_offcuts)


def volumes(stage: Stage, standing: str) -> list[float]:
    """Of the bodies that are part, held or loose, largest first."""
    return [body.solid.volume for body in stage.bodies if body.status == standing]


LIMITS = Limits(density=1.0, tab_area=5.0, slat_gap=20.0, seat=10.0, tolerance=TOLERANCE)


def findings_of(
    *cuts: Cut,
    clamps: Sequence[Clamp | None] | None = None,
    limits: Limits = LIMITS,
    clear_offcuts: bool = True,
    driving: Driving = USUAL,
) -> list:
    """What there is to say about cuts in order."""
    job = cutting_of(cuts, clamps)
    as_cut = carve(job.stock, [removal_around(c.as_cut, c.profile, job.stock) for c in cuts])
    stages = job.stages(range(len(cuts)), clear_offcuts=clear_offcuts, driving=driving)
    return list(cutting_findings(job, range(len(cuts)), stages, as_cut, limits))


@dataclass(frozen=True)
class RandomJob:
    """Cuts that leave something of the stock, with the middle and direction of each tab.

    `tabs` holds for each cut its tabs as (middle on the path, unit vector along it).
    """

    cuts: tuple[Cut, ...]
    tabs: tuple[tuple[tuple[np.ndarray, np.ndarray], ...], ...]
    width: float
    aligned: bool

    @property
    def stock(self) -> Stock:
        return self.cuts[0].stock

    @property
    def cutting(self) -> CutSimulation:
        return cutting_of(self.cuts)


VIEW_PAIRS = (("front", "rear"), ("right", "left"), ("top", "bottom"))


def random_job(
    seed: int, *, aligned: bool, most_cuts: int = 3, tabs: int = 2, least_cuts: int = 1
) -> RandomJob:
    """Outlines on square cells, full of coincident faces, or slanted ones in general position."""
    rng = np.random.default_rng([seed, int(aligned)])
    while True:
        job = _attempt(rng, aligned, least_cuts, most_cuts, tabs)
        if job.cutting.finished.bodies:
            return job


def random_jobs(seed: int, count: int, **more: int) -> Iterator[RandomJob]:
    """Half of them aligned."""
    for k in range(count):
        yield random_job(1000 * seed + k, aligned=k % 2 == 0, **more)


def _attempt(
    rng: np.random.Generator, aligned: bool, least_cuts: int, most_cuts: int, most_tabs: int
) -> RandomJob:
    kerf = 1.0 if aligned else float(rng.uniform(0.9, 1.5))
    pick = (lambda: float(rng.integers(12, 19))) if aligned else lambda: float(rng.uniform(14, 20))
    stock = Stock((pick(), pick(), pick()))
    count = int(rng.integers(least_cuts, most_cuts + 1))
    views = [str(rng.choice(VIEW_PAIRS[k])) for k in rng.permutation(3)[:count]]
    width = 2.0 if aligned else float(rng.uniform(1.5, 3.0))
    cuts, all_tabs = [], []
    for view in views:
        outline = _cells(rng, stock, view) if aligned else _slanted(rng, stock, view)
        cut = cut_of(view, outline, stock, kerf=kerf)
        tabs = _tabs(rng, cut, int(rng.integers(0, most_tabs + 1)), width)
        cuts.append(with_tabs_at(cut, [(float(t[0][0]), float(t[0][1])) for t in tabs], width))
        all_tabs.append(tabs)
    return RandomJob(tuple(cuts), tuple(all_tabs), width, aligned)


def _cells(rng: np.random.Generator, stock: Stock, view: str) -> Area:
    """Cells of 3 mm, often flush with the stock or exactly a kerf inside it."""
    w, h = stock.face(profile(view, Polygon([(0, 0), (1, 0), (0, 1)]), stock).view).size
    filled = connected(rng, 4)
    filled[1:3, 1:3] |= rng.random() < 0.7
    area = cells(filled, 3.0)
    u = float(rng.choice([0.0, 1.0, 0.5, np.floor((w - 12.0) / 2.0), w - 12.0]))
    v = float(rng.choice([0.0, 1.0, 0.5, np.floor((h - 12.0) / 2.0), h - 12.0]))
    return many(shapely.transform(area, lambda points: points + np.array([u, v])))


def _slanted(rng: np.random.Generator, stock: Stock, view: str) -> Area:
    """A star round the middle of the face, some corners past it, sometimes with a hole."""
    w, h = stock.face(profile(view, Polygon([(0, 0), (1, 0), (0, 1)]), stock).view).size
    count = int(rng.integers(4, 9))
    angles = np.sort(rng.uniform(0.0, 2.0 * math.pi, count)) + rng.uniform(0.0, 2.0 * math.pi)
    angles = angles[np.concatenate([[True], np.diff(angles) > 0.2])]
    if len(angles) < 3 or np.diff([*angles, angles[0] + 2.0 * math.pi]).max() > 2.8:
        return _slanted(rng, stock, view)
    radii = rng.uniform(0.2, 0.38, len(angles))
    radii[rng.random(len(angles)) < 0.15] = 0.65  # past the stock
    flat = np.column_stack([np.cos(angles) * radii * w, np.sin(angles) * radii * h])
    area = Polygon(np.round(np.array([w, h]) / 2.0 + flat, 6))
    if rng.random() < 0.3:
        u, v = np.round(rng.uniform(0.35, 0.65, 2) * (w, h), 6)
        side = float(rng.uniform(2.0, 4.0))
        hole = Polygon([(u, v), (u + side, v + 0.5), (u + side - 0.5, v + side), (u - 0.5, v + 2)])
        if shapely.contains(shapely.buffer(area, -1.0), hole):
            area = Polygon(area.exterior, [hole.exterior])
    return many(area)


def _tabs(
    rng: np.random.Generator, cut: Cut, count: int, width: float
) -> tuple[tuple[np.ndarray, np.ndarray], ...]:
    """Tabs in the middle of straight stretches of the path, clear of corners and of each other."""
    found = []
    for ring in shapely.get_parts(cut.path):
        points = shapely.get_coordinates(ring)
        for start, end in pairwise(points):
            length = float(np.hypot(*(end - start)))
            if length > width + 1.0:
                found.append(((start + end) / 2.0, (end - start) / length))
    chosen = rng.permutation(len(found))[:count]
    return tuple(found[int(i)] for i in chosen)


def round_ends(kerf: float, height: float) -> float:
    """Area in mm² of a tab beyond its width, up to a height above the outline.

    On either side the cutter, a disc, leaves what lies between it and the
    outline: the rectangle beside half of the disc less the segment of the disc.
    """
    r = kerf / 2.0
    below = min(height, kerf)
    half_chord = math.sqrt(max(r * r - (r - below) ** 2, 0.0))
    segment = r * r * math.acos((r - below) / r) - (r - below) * half_chord
    return 2.0 * r * height - segment
