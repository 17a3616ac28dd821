"""Set arithmetic in the plane goes on where areas are not what GEOS can work with."""

from __future__ import annotations

from collections.abc import Callable

import pytest
import shapely
from shapely import MultiPolygon, Polygon

from silhouette3d.geometry.polygons import common, less, parts_of, polygons_of, snapped
from tests.support.shapes import rect

BOW = Polygon([(0, 0), (2, 2), (2, 0), (0, 2)])
"""Two triangles of 1 mm² that meet in a point, drawn as one ring that crosses itself."""


def test_points_and_lines_are_no_areas() -> None:
    mixed = shapely.GeometryCollection(
        [rect(0, 0, 1, 2), shapely.Point(5, 5), shapely.LineString([(0, 0), (9, 9)]), Polygon()]
    )
    assert parts_of(mixed) == [rect(0, 0, 1, 2)]
    assert polygons_of(mixed) == MultiPolygon([rect(0, 0, 1, 2)])


@pytest.mark.parametrize(
    ("work", "area"),
    [
        (lambda: snapped(BOW, 1e-6), 2.0),
        (lambda: common(BOW, rect(0, 0, 2, 1), 1e-6), 1.0),
        (lambda: common(BOW, BOW, 1e-6), 2.0),
        (lambda: less(rect(0, 0, 2, 2), BOW, 1e-6), 2.0),
        (lambda: less(BOW, rect(0, 0, 2, 1), 1e-6), 1.0),
    ],
)
def test_an_area_that_crosses_itself(work: Callable[[], MultiPolygon], area: float) -> None:
    """By hand; shapely alone raises on these."""
    with pytest.raises(shapely.errors.GEOSException):
        shapely.intersection(BOW, BOW, grid_size=1e-6)
    found = work()
    assert found.is_valid
    assert found.area == pytest.approx(area)


def test_areas_that_only_touch_have_nothing_in_common() -> None:
    assert common(rect(0, 0, 1, 1), rect(1, 0, 2, 1), 1e-6).is_empty
    assert common(rect(0, 0, 1, 1), rect(1, 1, 2, 2), 1e-6).is_empty


def test_what_has_moved_onto_the_grid_lies_on_it() -> None:
    moved = snapped(rect(0.3e-6, 0, 1.0000004, 1), 1e-6)
    assert moved.equals(rect(0, 0, 1, 1))
