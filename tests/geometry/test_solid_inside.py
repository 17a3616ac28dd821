"""Which pieces lie in which bodies."""

from __future__ import annotations

import numpy as np
import pytest

from silhouette3d.geometry.frames import VIEWS
from silhouette3d.geometry.solid import Solid, homes
from tests.support.cut_jobs import random_job
from tests.support.shapes import rect

ROOM = 1e-4
"""mm."""


def box(x: float, y: float, z: float, at: tuple[float, float, float] = (0, 0, 0)) -> Solid:
    a, b, c = at
    return Solid.prism(rect(a, b, a + x, b + y), VIEWS["top"], (c, c + z))


def test_the_first_that_holds_it() -> None:
    small, large, far = box(2, 2, 2, (4, 4, 4)), box(10, 10, 10), box(10, 10, 10, (20, 0, 0))
    assert homes([small, far], [small, large, far], ROOM).tolist() == [0, 2]
    assert homes([small], [far, large, small], ROOM).tolist() == [1]


def test_none() -> None:
    near, far = box(1, 1, 1), box(1, 1, 1, (5, 0, 0))
    assert homes([near, far], [far], ROOM).tolist() == [-1, 0]
    assert homes([near], [], ROOM).tolist() == [-1]
    assert homes([], [near], ROOM).tolist() == []


def test_a_piece_in_the_hole_of_a_frame_is_not_in_the_frame() -> None:
    """Though its box lies in the frame's."""
    hole = box(10, 10, 10, (5, 5, 0))
    frame = box(20, 20, 10).minus(hole)
    assert homes([hole, frame], [frame, hole], ROOM).tolist() == [1, 0]


@pytest.mark.parametrize(("by", "home"), [(1e-7, 0), (1.0, -1)])
def test_walls_may_be_off_by_rounding(by: float, home: int) -> None:
    """Twins are moved by 1e-7 mm; a piece that reaches out by more is none of it."""
    moved = box(10, 10, 10).mapped(np.column_stack([np.eye(3), [by, 0.0, 0.0]]))
    assert homes([moved], [box(10, 10, 10)], ROOM).tolist() == [home]


@pytest.mark.parametrize("seed", range(4))
def test_as_one_by_one(seed: int) -> None:
    """Bodies after all cuts in those after one."""
    job = random_job(seed, aligned=seed % 2 == 0, least_cuts=3)
    before, after = (job.cutting.bodies(frozenset(made)) for made in ([0], range(3)))
    expected = [
        next((k for k, b in enumerate(before) if b.contains(piece.inner_point)), -1)
        for piece in after
    ]
    assert homes(after, before, ROOM).tolist() == expected
