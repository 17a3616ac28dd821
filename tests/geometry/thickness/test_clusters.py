"""How thin chords become places, and how work is shared out, each piece on its own."""

from __future__ import annotations

import math
import os
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from silhouette3d.geometry.parallel import shared
from silhouette3d.geometry.thickness.clusters import Linking, _near_another, places
from silhouette3d.geometry.thickness.corner_exceptions import knives_of
from silhouette3d.geometry.thickness.sampling import surface_of
from tests.support.shapes import Shape, disc

# Knife edges and places.


def test_knife_edges_are_grouped_end_to_end() -> None:
    """A slanted cut through a round bar is one edge of many pieces; two bevels are two edges."""
    slant = Polygon([(0, 0), (20, 0), (20, 60)])
    curved = Shape((20, 20, 60), {"top": disc(10, 10, 10, 256), "right": slant}, 0, 0).solid
    bevel = Polygon([(0, 0), (20, 0), (20, 3), (10, 3)])
    square = Shape((20, 20, 3), {"front": bevel, "left": bevel}, 0, 0).solid
    found = [knives_of(surface_of(solid.mesh)) for solid in (curved, square)]
    assert [len({*knives.group}) for knives in found] == [1, 2]
    assert len(found[0]) > 50
    assert math.degrees(found[0].angle.min()) == pytest.approx(
        math.degrees(math.atan(1 / 3)), abs=0.1
    )


def free(start: np.ndarray, end: np.ndarray) -> np.ndarray:
    return np.ones(len(start), bool)


def blocked(start: np.ndarray, end: np.ndarray) -> np.ndarray:
    return np.asarray((start[:, 0] < 5.0) == (end[:, 0] < 5.0))


@pytest.mark.parametrize(
    ("clear", "expected"), [(free, 1), (blocked, 2)], ids=["clear", "a wall between"]
)
def test_places_hang_together_by_sight(clear: Callable[..., np.ndarray], expected: int) -> None:
    x = np.arange(0.0, 10.0, 0.4)
    ends = np.stack([np.column_stack([x, 0 * x]), np.column_stack([x, 0 * x + 1])], axis=1)
    place = places(Linking.of(ends, clear, 0.4), np.ones(len(x)), 0.4)
    assert len({*place}) == expected


def test_chords_one_behind_the_other_are_two_places() -> None:
    """As in two fins side by side, even where their midpoints see each other."""
    x = np.arange(0.0, 4.0, 0.4)
    low = np.stack([np.column_stack([x, 0 * x]), np.column_stack([x, 0 * x + 0.3])], axis=1)
    ends = np.concatenate([low, low + np.array([0.0, 0.4])])
    place = places(Linking.of(ends, free, 0.4), np.ones(2 * len(x)), 0.4)
    assert place.tolist() == [0] * len(x) + [1] * len(x)


def test_places_do_not_reach_over_a_gap() -> None:
    x = np.array([0.0, 0.5, 1.0, 2.6, 3.0])
    ends = np.stack([np.column_stack([x, 0 * x]), np.column_stack([x, 0 * x + 1])], axis=1)
    assert places(Linking.of(ends, free, 0.5), np.ones(5), 0.5).tolist() == [0, 0, 0, 1, 1]


@given(seed=st.integers(0, 2**32 - 1), scale=st.sampled_from([1e-3, 1.0, 1e4]))
def test_no_point_near_another_label_is_left_out(seed: int, scale: float) -> None:
    random = np.random.default_rng(seed)
    points = scale * random.uniform(-5, 5, (int(random.integers(1, 60)), 3))
    label = random.integers(0, 3, len(points))
    apart = np.linalg.norm(points[:, None] - points, axis=2)
    near = ((apart <= scale) & (label[:, None] != label)).any(axis=1)
    found = _near_another(points, label, scale)
    assert found[near].all()
    # cells are as large as that: who is found has another in a neighbouring cell, none further
    another = np.where(label[:, None] != label, apart, np.inf).min(axis=1)
    assert (another[found] <= 2 * math.sqrt(3) * scale * (1 + 1e-9)).all()


# Sharing out.


@pytest.mark.parametrize("cores", [1, 2, 3, 64])
@pytest.mark.parametrize("count", [0, 1, 3999, 4000, 100_001])
def test_every_row_is_worked_on_once(
    count: int, cores: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: cores)
    rows = np.arange(count)
    parts = shared(lambda some: rows[some], count)
    np.testing.assert_array_equal(np.concatenate(parts), rows)
    assert (len(parts) > 1) == (cores > 1 and count >= 4000)


def test_what_goes_wrong_in_a_part_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: 2)

    def fail(rows: slice) -> None:
        if rows.start:
            raise ValueError("of this part")

    with pytest.raises(ValueError, match="of this part"):
        shared(fail, 1_000_000)
