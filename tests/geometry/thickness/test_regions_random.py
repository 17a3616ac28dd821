"""Thin places of solids drawn at random: none missed, none invented, and the right size.

The fast suite takes a few of each; the big ensembles run with ``--all``.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.thickness.regions import thickness_field, thin_regions
from tests.oracles.thickness_brute import Brute
from tests.support.shapes import Shape, cells
from tests.support.thin_shapes import (
    FAMILIES,
    blade_tip,
    block,
    convex_body,
    pointed_body,
    room,
    turned,
)

LIMIT = 1.5
ERROR = 1e-3
"""Relative: what is asked for. The search closes in on 1e-5 of its first step."""

seeds = st.integers(0, 2**32 - 1)


def assert_found(family: str, seed: int) -> None:
    random = np.random.default_rng(seed)
    true = random.uniform(0.15, 1.4)
    found = thin_regions(turned(FAMILIES[family](true, random), random), LIMIT)
    assert [region.kind for region in found] == ["wall"]
    assert found[0].thickness == pytest.approx(true, rel=ERROR)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("family", FAMILIES)
def test_oblique_bodies(family: str, seed: int) -> None:
    assert_found(family, seed)


@pytest.mark.big
@pytest.mark.parametrize("family", FAMILIES)
@given(seed=seeds)
def test_many_oblique_bodies(family: str, seed: int) -> None:
    assert_found(family, seed)


ROTATIONS = Rotation.create_group("O").as_matrix()
"""The 24 ways in which a cube lies on itself."""


def assert_tip_found(seed: int, turns: Sequence[np.ndarray]) -> None:
    """Nothing but the end of the tip, whichever way it lies; and no tip that is thick enough."""
    made, least, most = blade_tip(np.random.default_rng(seed))
    for turn in turns:
        solid = made.mapped(np.column_stack([turn, [20, -10, 5]]))
        found = thin_regions(solid, 2.5)
        assert [region.kind for region in found] == ["wall"], (seed, turn)
        assert least * (1.0 - 1e-9) <= found[0].thickness <= most * (1.0 + ERROR), (seed, turn)
    assert thin_regions(made, 0.999 * least) == ()


@pytest.mark.parametrize("seed", range(12))
def test_tips_of_blades(seed: int) -> None:
    assert_tip_found(seed, [ROTATIONS[0], ROTATIONS[1 + 2 * seed % 23]])


@pytest.mark.big
@pytest.mark.parametrize("seed", range(85))
def test_many_tips_of_blades_in_every_rotation(seed: int) -> None:
    oblique = Rotation.random(8, random_state=seed).as_matrix()
    assert_tip_found(seed, [*ROTATIONS, *oblique])


# No alarm.


def convex_bodies() -> Iterator[tuple[Solid, float]]:
    """Those with dihedral angles of 90 degrees or more, and how thick they are."""
    for seed in itertools.count():
        body = convex_body(np.random.default_rng(seed))
        thick = room(body)
        if thick > 0.2:  # or it takes very many samples
            yield body, thick


def assert_silent(bodies: Iterator[tuple[Solid, float]]) -> None:
    for body, thick in bodies:
        assert thin_regions(body, 0.999 * thick) == ()


def test_convex_bodies_are_silent() -> None:
    assert_silent(itertools.islice(convex_bodies(), 12))


@pytest.mark.big
def test_200_convex_bodies_are_silent() -> None:
    assert_silent(itertools.islice(convex_bodies(), 200))


def test_a_convex_body_that_is_thin_is_found() -> None:
    """The counterpart: the same bodies between two planes."""
    for body, _ in itertools.islice(convex_bodies(), 4):
        slab = block(100, 100, 1.2).mapped(np.column_stack([np.eye(3), [-50, -50, 3]]))
        found = thin_regions(body.intersection(slab), LIMIT)
        assert min(region.thickness for region in found) == pytest.approx(1.2)


def test_pointed_corners_are_silent() -> None:
    bodies = [pointed_body(np.random.default_rng(seed)) for seed in range(10)]
    assert [thin_regions(body, LIMIT) for body in bodies] == [()] * 10
    # by the letter of the definition some are thin
    assert min(thickness_field(body, LIMIT)[2].min() for body in bodies) < LIMIT / 2


@pytest.mark.big
def test_200_pointed_bodies_are_silent() -> None:
    for seed in range(200):
        assert thin_regions(pointed_body(np.random.default_rng(seed)), LIMIT) == ()


def pocketed(seed: int) -> Solid:
    """A block with pockets from three sides on a grid, whose walls are multiples of the limit."""
    random = np.random.default_rng(seed)
    count = random.integers(3, 6, 3)
    axes = {"front": (0, 2), "right": (1, 2), "top": (0, 1)}
    outlines = {}
    for view, (u, v) in axes.items():
        filled = random.random((count[u], count[v])) < 0.75
        filled[0, 0] = True
        outlines[view] = cells(filled, LIMIT)
    w, d, h = (LIMIT * float(n) for n in count)
    return Shape((w, d, h), outlines, 0.0, 0.0).solid


def test_pocketed_blocks_are_silent() -> None:
    for seed in range(12):
        assert thin_regions(pocketed(seed), LIMIT) == ()


@pytest.mark.big
def test_200_pocketed_blocks_are_silent() -> None:
    for seed in range(200):
        assert thin_regions(pocketed(seed), LIMIT) == ()


def test_pocketed_blocks_are_thin_for_a_larger_limit() -> None:
    """The counterpart: some wall is one cell thick, and nothing is thinner."""
    for seed in range(6):
        found = thin_regions(pocketed(seed), 1.01 * LIMIT)
        assert {round(region.thickness, 6) for region in found} == {LIMIT}


# Point by point.


def assert_like_the_definition(solid: Solid, random: np.random.Generator, count: int) -> None:
    points, triangle, thickness = thickness_field(solid, LIMIT)
    brute = Brute(solid.mesh)
    thin = np.nonzero(thickness < LIMIT)[0]
    rows = [*random.choice(thin, min(count, len(thin)), replace=False)]
    rows += [*random.choice(len(points), count, replace=False)]
    for row in rows:
        slow = brute.thickness(points[row], -brute.normal[triangle[row]], LIMIT)
        # grids close in from above, to about 1e-4 in the worst corner seen
        assert thickness[row] == pytest.approx(slow, rel=2e-4)


@pytest.mark.parametrize("family", ["waist", "crossing", "tip over floor", "triangular bar"])
def test_every_point_is_as_the_definition_says(family: str) -> None:
    random = np.random.default_rng(5)
    solid = turned(FAMILIES[family](random.uniform(0.15, 1.4), random), random)
    assert_like_the_definition(solid, random, 2)


@pytest.mark.big
@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("family", FAMILIES)
def test_very_many_points_are_as_the_definition_says(family: str, seed: int) -> None:
    random = np.random.default_rng(seed)
    solid = turned(FAMILIES[family](random.uniform(0.15, 1.4), random), random)
    assert_like_the_definition(solid, random, 6)
