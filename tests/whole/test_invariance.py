"""The same job however it lies: turned, in the mirror, twice as large, its outlines in any order.

A cube lies on itself in 24 ways, and in the mirror in 24 more. Each carries views and block of a
job to those of another; outlines stay as they are seen, or are mirrored. What is found must be
the same: codes, severity, outlines, and values to `ERROR`.

Where everything coincides, as in cells of a lattice, places that touch in a line or a corner may be
told as one or as two, and then by two or three outlines: samples lie on the triangles of faces, and
how a rectangle is halved depends on how it lies. So there the codes, severities and least values
are compared.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest
import shapely

import silhouette3d
from silhouette3d.geometry.frames import VIEWS, View, view_along
from silhouette3d.job.model import Checks
from tests.support.cut_jobs import random_job
from tests.support.shapes import Area, cells, many

ERROR = 3e-3
"""Relative. A search for the thinnest point of a place that ends on the rim of a cone of normals
stops up to 2e-3 too early; all else is exact to 1e-6."""

LATTICE = 1.5

Drawn = tuple[Any, Sequence[tuple[View, Area]], float]
"""Size of the block, outlines as seen in their views, and the limit for thin places."""

WAYS = [
    np.array(signs)[:, None] * np.eye(3)[list(axes)]
    for axes in itertools.permutations(range(3))
    for signs in itertools.product((1.0, -1.0), repeat=3)
]


def on_a_lattice(seed: int) -> Drawn:
    """Cells as wide as all but 1 % of the limit, full of coincident faces."""
    random = np.random.default_rng(seed)
    count = random.integers(3, 6, 3)
    outlines = []
    for view, (u, v) in {"front": (0, 2), "right": (1, 2), "top": (0, 1)}.items():
        filled = random.random((count[u], count[v])) < 0.75
        filled[0, 0] = True
        outlines.append((VIEWS[view], cells(filled, LATTICE)))
    return LATTICE * count, outlines, 1.01 * LATTICE


def slanted(seed: int) -> Drawn:
    """Stars in general position."""
    job = random_job(seed, aligned=False, least_cuts=2)
    outlines = [(cut.profile.view, cut.profile.area) for cut in job.cuts]
    return np.array(job.cuts[0].stock.size), outlines, 1.0


def found(job: Drawn, way: np.ndarray, scale: float, order: Sequence[int]) -> list[Any]:
    """What is found in a job that lies another way."""
    size, outlines, limit = job
    names = [f"outline {k}" for k in range(len(outlines))]
    setups: dict[str | View, Any] = {}
    for k in order:
        view, area = outlines[k]
        wide = float(np.abs(np.array(view.right)) @ size)
        if np.linalg.det(way) < 0.0:
            area = shapely.transform(area, lambda points, w=wide: points * [-1, 1] + [w, 0])
        area = many(shapely.transform(area, lambda points: scale * points))
        turned = view_along(way @ view.look, way @ view.up)
        setups[turned] = silhouette3d.Setup(area, name=names[k])
    width, depth, height = (scale * np.abs(way) @ size).tolist()
    block = silhouette3d.Block(width, depth, height, density=1.0)
    checks = Checks(thin=scale * limit, match=0.1 * scale)
    part = silhouette3d.Part.from_outlines(block, setups, checks=checks)
    each = [one for f in part.findings_of_part for one in f.members or (f,)]
    return sorted(
        (f.code, f.severity, tuple(sorted(f.subjects)), *in_first_size(f, scale)) for f in each
    )


def in_first_size(finding: silhouette3d.Finding, scale: float) -> tuple[float, ...]:
    """The value of a finding; thicknesses and lengths as in the job that was not enlarged."""
    lengths = {"thin-section", "thin-in-view", "extent-mismatch", "outside-stock"}
    if finding.code in lengths:
        return (float(finding.value or 0.0) / scale,)
    return (float(finding.value or 0.0),) if finding.code == "knife-edge" else ()


def assert_same(one: list[Any], other: list[Any]) -> None:
    assert len(one) == len(other)
    for a, b in zip(one, other, strict=True):
        assert a[:3] == b[:3]
        assert a[3:] == pytest.approx(b[3:], rel=ERROR)


def in_short(findings: list[Any]) -> dict[tuple[str, str], float]:
    """The least value of each code and severity."""
    least: dict[tuple[str, str], float] = {}
    for code, severity, _, *value in findings:
        key = code, severity
        least[key] = min([*value, least.get(key, np.inf)])
    return least


def check(job: Drawn, ways: Sequence[np.ndarray], *, short: bool) -> None:
    listed = range(len(job[1]))
    first = found(job, np.eye(3), 1.0, listed)
    assert_same(found(job, np.eye(3), 2.0, listed), first)
    others = [found(job, np.eye(3), 1.0, listed[::-1])]
    others += [found(job, way, 1.0, listed) for way in ways]
    for other in others:
        if short:
            assert in_short(other) == pytest.approx(in_short(first), rel=ERROR)
        else:
            assert_same(other, first)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("make", [on_a_lattice, slanted])
def test_the_same_findings(make: Callable[[int], Drawn], seed: int) -> None:
    ways = [WAYS[(7 * seed + 13 * k + 1) % len(WAYS)] for k in range(3)]
    check(make(seed), ways, short=make is on_a_lattice)


@pytest.mark.big
@pytest.mark.parametrize("make", [on_a_lattice, slanted])
def test_the_same_findings_in_all_ways(make: Callable[[int], Drawn]) -> None:
    for seed in range(12):
        check(make(seed), WAYS, short=make is on_a_lattice)
