"""Rings and colours in the picture of thin places."""

from __future__ import annotations

import numpy as np
import pytest

from silhouette3d.documents.pictures.thin import BEHIND, is_seen, marks, smoothed
from silhouette3d.geometry.frames import View
from silhouette3d.part import load
from silhouette3d.presentation.theme import ISO
from tests.guard.imports import ROOT
from tests.support.thin_shapes import block


def test_what_is_seen_of_a_block() -> None:
    """From the front, right and above; and from behind, left and below."""
    mesh = block(10, 10, 10).mesh
    x, y, z = np.eye(3) * 10.0
    middle = np.full(3, 5.0)
    walls = np.array([middle - y / 2, middle + x / 2, middle + z / 2])
    back = 2.0 * middle - walls
    assert is_seen(mesh, ISO, walls).tolist() == [True] * 3
    assert is_seen(mesh, ISO, back).tolist() == [False] * 3
    assert is_seen(mesh, BEHIND, back).tolist() == [True] * 3
    assert is_seen(mesh, BEHIND, walls).tolist() == [False] * 3


@pytest.mark.parametrize(("view", "other"), [(ISO, BEHIND), (BEHIND, ISO)])
def test_a_ring_lies_on_a_wall_that_is_seen(view: View, other: View) -> None:
    """The gate's lintel: its top is seen from above; from below a post is in front."""
    part = load(ROOT / "samples" / "faulty" / "thin-section")
    found = marks(part.results, view, other)
    region = part.thin[0].region
    ends = np.array([region.p, region.q])
    seen = is_seen(part.solid.mesh, view, ends)
    assert len(found) == int(seen.any())
    for mark in found:
        assert not mark.hidden
        places = view.to_view(ends[seen])[:, :2]
        assert np.abs(places - [mark.u, mark.v]).sum(axis=1).min() < 1e-9


def test_without_thin_places_there_are_no_rings() -> None:
    assert marks(load(ROOT / "samples" / "faulty" / "witness").results, ISO, BEHIND) == []


def test_one_value_among_others_does_not_stand_out() -> None:
    """And what lies on another triangle does not count."""
    points = np.column_stack([np.arange(20.0), np.zeros(20), np.zeros(20)])
    triangle, value = np.zeros(20, np.int64), np.where(np.arange(20) < 10, 1.0, 2.0)
    value[4] = 2.0
    triangle[19] = 1
    value[19] = 9.0
    places = np.array([[4.1, 0.0, 0.0], [2.0, 0.0, 0.0], [16.0, 0.0, 0.0], [18.9, 0.0, 0.0]])
    found = smoothed(places, np.array([0, 0, 0, 1]), points, triangle, value)
    assert found.tolist() == [1.0, 1.0, 2.0, 9.0]
