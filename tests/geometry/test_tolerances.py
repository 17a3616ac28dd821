"""Tolerances are in order at every size, and a job comes out alike at every size."""

from __future__ import annotations

from dataclasses import astuple
from functools import cache
from typing import Any

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon
from shapely.affinity import scale as scaled
from shapely.geometry.base import BaseGeometry

from silhouette3d import Block, Part, Setup
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.tolerances import ANGLE, GRID, MERGE, NEAR, SAME, SHARE, Tolerances
from silhouette3d.job.model import Checks, Cutting

SMALLEST = 0.01
LARGEST = 1e6
"""mm. The sides of stock that a job may declare, as README has them."""

GOLDEN = 0.618
"""Steps by which the wall of each further profile is moved more than that of the one before."""

MOST_PROFILES = 24

EVERY_SIZE = st.floats(SMALLEST * 3.0**0.5, LARGEST * 3.0**0.5)


def test_what_does_not_depend_on_size_is_in_order() -> None:
    assert 2.0**-53 * LARGEST < GRID < NEAR < SAME < MERGE
    assert 2.0**-53 < ANGLE == SHARE


@given(EVERY_SIZE)
def test_they_are_in_order(diagonal: float) -> None:
    near = Tolerances.for_size(diagonal)
    assert diagonal * 2.0**-53 < near.rounding < near.on_copy < near.step
    assert NEAR <= near.touch < near.wall < near.stray < near.clear
    # the least side that stock of this size may have is wide beside all of them
    assert near.clear < max(SMALLEST, 1e-5 * diagonal) / 1.6


@given(EVERY_SIZE)
def test_a_wall_that_a_copy_moves_stays_within_its_tolerance(diagonal: float) -> None:
    near = Tolerances.for_size(diagonal)
    assert (1.0 + (MOST_PROFILES - 1) * GOLDEN) * near.step < near.wall
    # points of a copy are told from those of walls moved by another number of steps
    assert 2.0 * near.on_copy < (1.0 - GOLDEN) * near.step


@given(EVERY_SIZE, EVERY_SIZE)
def test_none_is_larger_on_something_smaller(one: float, other: float) -> None:
    small, large = (astuple(Tolerances.for_size(size)) for size in sorted((one, other)))
    assert all(a <= b for a, b in zip(small, large, strict=True))


def test_in_a_shop_they_are_those_of_the_manual() -> None:
    """From 1 mm to 625 mm the lengths are round numbers that do not change."""
    for diagonal in (1.0, 60.0, 625.0):
        near = Tolerances.for_size(diagonal)
        assert (near.touch, near.wall, near.stray, near.clear) == (1e-6, 1e-5, 1e-4, 1e-3)
    assert Stock((3.0, 4.0, 12.0)).tolerances == Tolerances.for_size(13.0)


# --- a job at another size ---------------------------------------------------------------------

FRONT = Polygon([(100, 0), (900, 0), (900, 300), (600, 600), (400, 600), (100, 300)])
RIGHT = shapely.box(150, 0, 650, 600) - shapely.box(300, 450, 500, 600)
TOP = shapely.Point(500, 400).buffer(390, quad_segs=3) | shapely.box(100, 380, 900, 420)
APART = shapely.box(100, 100, 300, 300) | shapely.box(300, 300, 500, 500)
THIN = shapely.box(100, 100, 900, 109) | shapely.box(100, 100, 200, 500)

JOBS: dict[str, dict[str, tuple[BaseGeometry, tuple[float, ...]]]] = {
    "level heights and a tab": {
        "front": (FRONT, (500.0, 600.0)),
        "right": (RIGHT, ()),
        "top": (TOP, ()),
    },
    "touching along an edge": {"front": (APART, ()), "top": (shapely.box(0, 200, 1000, 600), ())},
    "a thin wall": {"front": (THIN, ()), "right": (shapely.box(50, 50, 700, 550), ())},
}
BLOCK = (1000.0, 800.0, 600.0)

OF_SIZE = {"heavy-stock", "loose-offcut", "small-offcut"}
"""Findings that are about pounds and cubic millimetres, whatever the size of the rest."""


def made(job: str, size: float, kerf: float) -> Part:
    """A job with every length in it times `size`."""
    setups: dict[Any, Setup] = {}
    for view, (area, tab) in JOBS[job].items():
        tabs = [tuple(size * v for v in (*tab, 60.0))] if tab else []
        setups[view] = Setup(scaled(area, size, size, origin=(0, 0)), tabs=tabs)
    width, depth, height = (size * side for side in BLOCK)
    return Part.from_outlines(
        Block(width, depth, height, density=1.0),
        setups,
        tolerance=0.1 * size,
        cutting=Cutting(
            kerf=kerf * size,
            tab_width=60.0 * size,
            tab_area=50.0 * size**2,
            slat_gap=400.0 * size,
            seat=100.0 * size,
            air=20.0 * size,
        ),
        checks=Checks(thin=15.0 * size, match=2.0 * size),
    )


@cache
def told(job: str, size: float, kerf: float) -> tuple[list[Any], list[float]]:
    """What is found, and what is measured as if it were of size 1."""
    part = made(job, size, kerf)
    findings = sorted((f.code, f.severity, str(f.profile)) for f in part.every_finding)
    counts: list[Any] = [one for one in findings if one[0] not in OF_SIZE]
    counts.append([len(stage.bodies) for stage in part.stages])
    counts.append([stage.part_is_held for stage in part.stages])
    counts += [len(part.solid.bodies), len(part.thin), part.solid.perturbed_by]
    bodies = [body.solid.volume for stage in part.stages for body in stage.bodies]
    volumes = [part.solid.volume, *sorted(bodies)]
    return counts, [v / size**3 for v in volumes] + [t.region.thickness / size for t in part.thin]


@pytest.mark.parametrize("size", [2e-5, 0.01, 100.0])
@pytest.mark.parametrize("job", JOBS)
def test_a_job_comes_out_alike_at_every_size(job: str, size: float) -> None:
    """From 0.02 mm to 100 m; outlines are rounded to 1e-9 mm, some 1e-7 of the smallest."""
    counts, measures = told(job, 1.0, 3.0)
    other_counts, other_measures = told(job, size, 3.0)
    assert other_counts == counts
    assert other_measures == pytest.approx(measures, rel=1e-6)


@pytest.mark.parametrize("size", [2e-5, 1.0, 100.0])
def test_a_kerf_of_nothing_parts_at_every_size(size: float) -> None:
    part = made("a thin wall", size, 0.0)
    first = part.stages[0]
    assert sorted(body.is_part for body in first.bodies) == [False, True]
    # no wider than a thousandth of the diagonal, along all the outline and round its corners
    gone = part.stock.volume - sum(body.solid.volume for body in first.bodies)
    strip = 1e-3 * part.stock.diagonal * THIN.length * size * BLOCK[1] * size
    assert 0.0 < gone < 1.01 * strip
