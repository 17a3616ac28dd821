"""The shadows of a part make the part again; those of any solid make one that holds it.

Source
------
A. Laurentini, "The visual hull concept for silhouette-based image understanding", IEEE PAMI
16(2):150-162, 1994: what outlines leave is the largest solid whose shadows lie inside them. So it
is found again from its own shadows, and it holds every other solid that casts them.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely

import silhouette3d
from tests.oracles.voxels import SIDE, Triple, connected
from tests.published.drawn import slanted
from tests.support.shapes import IN_PIECES, SOUND, Area, Shape, cells, load, many

VIEWS = ("front", "right", "top")

EXACT = 1e-9
"""Relative. Outlines are rounded to 1e-9 mm and lie on whole millimetres: only sums are rounded."""


def again(part: silhouette3d.Part, folder: Path) -> silhouette3d.Part:
    """The part of the shadows of a part, drawn anew."""
    shadows: dict[str, Area] = {
        p.name: many(p.to_face(part.solid.shadow(p.view))) for p in part.profiles
    }
    folder.mkdir()
    return load(folder, Shape(part.stock.size, shadows, 0.0, 0.0))


def assert_same(one: silhouette3d.Part, two: silhouette3d.Part) -> None:
    # shadows lie on a grid of 1e-6 mm: walls move by 0.7e-6 mm at most, on both sides of the part
    room = 1e-6 * one.solid.surface_area
    assert one.solid.volume == pytest.approx(two.solid.volume, abs=room)
    assert one.solid.minus(two.solid).volume <= room
    assert two.solid.minus(one.solid).volume <= room
    assert len(one.solid.bodies) == len(two.solid.bodies)


@pytest.mark.parametrize("name", [*SOUND, *IN_PIECES])
def test_the_shadows_of_a_part_make_it_again(name: str, tmp_path: Path) -> None:
    part = load(tmp_path, {**SOUND, **IN_PIECES}[name])
    second = again(part, tmp_path / "again")
    assert_same(part, second)
    assert all(second.lost(profile.name).is_empty for profile in second.profiles)


def assert_without_cracks(part: silhouette3d.Part) -> None:
    """Closing whatever is narrower than 2e-5 mm changes a shadow next to nothing.

    Only its sharp inside corners are filled, by some (1e-5 mm)² each; a crack of
    the width of the grid would be 1e-6 mm² for each millimetre of its length.
    """
    (body,) = part.solid.bodies
    for profile in part.profiles:
        shadow = body.shadow(profile.view)
        assert len(shadow.geoms) == 1
        wide = shapely.buffer(shadow, 1e-5, join_style="mitre")
        closed = shapely.buffer(wide, -1e-5, join_style="mitre")
        assert shapely.symmetric_difference(closed, shadow).area < 1e-7


@pytest.mark.parametrize("seed", range(6))
def test_shadows_of_slanted_outlines_make_the_part_again(seed: int, tmp_path: Path) -> None:
    rng = np.random.default_rng(seed)
    w, d, h = size = (60.0, 40.0, 50.0)
    outlines = {
        "front": slanted(rng, w, h),
        "right": slanted(rng, d, h),
        "top": slanted(rng, w, d),
    }
    part = load(tmp_path, Shape(size, outlines, 0.0, 0.0))
    assert any(part.lost(view).area > 1.0 for view in VIEWS)  # or the test would say nothing
    assert_without_cracks(part)
    second = again(part, tmp_path / "again")
    assert_same(part, second)
    # regions thinner than the grid are not counted
    assert all(second.lost(view).is_empty for view in VIEWS)


@pytest.mark.parametrize("seed", range(6))
def test_shadows_of_any_solid_make_one_that_holds_it(seed: int, tmp_path: Path) -> None:
    """Random cells in space; their shadows as outlines."""
    rng = np.random.default_rng(seed)
    plan = connected(rng, 4)  # so that none of the outlines falls apart
    solid = (rng.random((4, 4, 4)) < 0.4) & plan[:, :, None]
    solid[:, :, 0] |= plan
    front, right, top = (np.asarray(solid.any(axis=axis), bool) for axis in (1, 0, 2))
    triple = Triple(front, right, top)
    assert not (solid & ~triple.filled).any()
    outlines: dict[str, Area] = {
        view: cells(shadow) for view, shadow in zip(VIEWS, (front, right, top), strict=True)
    }
    part = load(tmp_path, Shape((4 * SIDE,) * 3, outlines, 0.0, 0.0))
    assert part.solid.volume == pytest.approx(triple.volume, rel=EXACT)
    assert all(part.solid.contains(at) for at in SIDE * (np.argwhere(solid) + 0.5))
    assert all(part.lost(view).is_empty for view in VIEWS)
