"""Where an outline turns back, and where it passes on."""

from __future__ import annotations

import pytest
from shapely import Polygon, affinity

from silhouette3d.geometry.intersect_extrusions import intersect_extrusions
from silhouette3d.geometry.profile_boundary import ProfileBoundary
from silhouette3d.geometry.tolerances import SAME
from tests.support.shapes import rect

JUST_LESS = 0.9 * SAME


@pytest.mark.parametrize("mirrored", [False, True], ids=["rising", "falling"])
@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize(
    ("rise", "turning"),
    [
        (SAME, [-5, 5]),
        (JUST_LESS, [-5, -JUST_LESS, 0, JUST_LESS, 5]),
        (0.0, [-5, 0, 0, 0, 5]),
    ],
)
def test_an_outline_passes_what_it_goes_on_from_by_so_much(
    rise: float, turning: list[float], axis: int, mirrored: bool
) -> None:
    """Three corners close together at the outer end of two slants, `rise` from one to the next."""
    area = Polygon([(0, -5), (3, -rise), (4, 0), (3.5, rise), (0, 5)])
    if mirrored:
        area = affinity.scale(area, -1, 1, origin=(0, 0))
    if axis == 0:
        area = Polygon([(y, x) for x, y in area.exterior.coords])
    assert sorted(ProfileBoundary.of(area).turning(axis).tolist()) == turning


@pytest.mark.parametrize(("most", "is_built"), [(11, False), (12, True)])
def test_more_passages_than_may_be_are_left_to_the_engine(
    most: int, is_built: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Six corners of the first area lie where two walls of the second run: twelve passages."""
    monkeypatch.setattr("silhouette3d.geometry.profile_boundary.MOST", most)
    six = Polygon([(2, 1), (5, 2), (7, 3), (7.5, 5), (4, 6), (1, 4)])
    found = intersect_extrusions([six, rect(0.5, -60, 9, 60), rect(-70, 0.25, 70, 9.5)], 1e-12)
    assert (found is not None) is is_built
