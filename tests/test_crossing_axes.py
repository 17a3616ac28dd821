"""Solids of three areas: the same whichever axis each of them is seen along."""

from __future__ import annotations

import pytest
import shapely
from shapely import Polygon

from silhouette3d.solid import Solid
from silhouette3d.solid.crossing import Crossing, crossing
from tests.shapes import rect
from tests.test_crossing import ROOM, is_closed

COMB = Polygon([(0, 0), (9, 0), (9, 7), (6, 7), (6, 2), (5, 2), (5, 8), (3, 8), (3, 1), (0, 1)])


def turned(areas: list[shapely.Geometry], turns: int) -> Crossing | None:
    """The areas seen along x, y and z; with a turn each along the axis before it."""
    return crossing([areas[(k + turns) % 3] for k in range(3)], ROOM)


@pytest.mark.parametrize("turns", range(3))
@pytest.mark.parametrize("narrow", [1, 2])
def test_a_comb_across_walls_along_the_axes(narrow: int, turns: int) -> None:
    """Its two faces lie in walls of either of the other areas."""
    others = [rect(-70, -50, 70, 50), rect(-60, -80, 60, 80)]
    # the comb's own axis is the second coordinate of the next area, the first of the one after
    others[narrow - 1] = rect(-71, 4, 71, 10) if narrow == 1 else rect(4, -72, 10, 72)
    found = turned([COMB, *others], turns)
    assert found is not None
    assert is_closed(found.mesh)
    made = Solid.from_mesh(found.mesh)
    assert made.volume == pytest.approx(COMB.area * 6, rel=1e-13)
    assert made.surface_area == pytest.approx(2 * COMB.area + COMB.length * 6, rel=1e-13)


@pytest.mark.parametrize("turns", range(3))
def test_level_corners_are_refused_even_if_outlines_pass_them(turns: int) -> None:
    one = Polygon([(0, 1), (30, 1.3), (33, 5), (31, 9), (1, 8.7)])
    other = Polygon([(2, 0), (5, -3), (8, 0.5), (7.5, 40), (2.25, 41)])
    assert turned([rect(-100, -101, 100, 102), one, other], turns) is None


@pytest.mark.parametrize("turns", range(3))
def test_an_area_that_is_empty_leaves_nothing_to_come_near(turns: int) -> None:
    found = turned([Polygon(), rect(3, -60, 9, 60), rect(1, -70, 4, 70)], turns)
    assert found is not None
    assert found.mesh.vertices.shape == found.mesh.triangles.shape == found.drawn.shape == (0, 3)
    assert found.least == found.neck == float("inf")
