"""Shadow that is lost to other outlines: how much, where, and what is told elsewhere."""

from __future__ import annotations

from collections.abc import Mapping

import pytest
import shapely
from shapely import MultiPolygon, Polygon

from silhouette3d.checks.contradictions import lost_shadow, shadow_lost, wider_than
from silhouette3d.checks.finding import Finding
from silhouette3d.checks.fit import shared_axes
from silhouette3d.geometry.frames import VIEWS
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock
from tests.oracles.voxels import triples
from tests.support.checking import MATCH, message, profiles, told
from tests.support.shapes import (
    LOOSE_CUBE_OF_THREE,
    LOOSE_CUBE_OF_TWO,
    NEARLY,
    SOUND,
    TWO_CUBES,
    Area,
    Shape,
    cells,
    disc,
    many,
    notched,
    profile,
    rect,
    solid,
)

# Shadow that is lost.


def lost(
    outlines: Mapping[str, Area], size: tuple[float, float, float], match: float = MATCH
) -> list[Finding]:
    stock = Stock(size)
    seen = profiles(outlines, stock)
    part, axes = solid(stock, seen), shared_axes(seen, stock)
    return [f for p in seen for f in shadow_lost(p, part, stock, axes, match)]


def test_three_outlines_that_contradict_one_another() -> None:
    """Each pair agrees; of the top a quarter has nothing over it: constructed here."""
    outlines = {
        "front": notched(20, (10, 20), (10, 20)),
        "right": notched(20, (10, 20), (0, 10)),
        "top": rect(0, 0, 20, 20),
    }
    found = told(lost(outlines, (20, 20, 20)))
    assert (found.code, found.severity, found.profile) == ("shadow-lost", "warning", "top")
    assert found.value == pytest.approx(100, rel=1e-6)
    assert "100 mm² of the outline (25%)" in message(found)
    assert found.where is not None
    x, y, _ = found.where
    assert 10 < x < 20
    assert 10 < y < 20


@pytest.mark.parametrize("shape", [LOOSE_CUBE_OF_THREE, LOOSE_CUBE_OF_TWO, *SOUND.values()])
def test_outlines_that_lose_nothing(shape: Shape) -> None:
    assert lost(shape.outlines, shape.size) == []


def test_two_cubes_lose_half_of_each_outline() -> None:
    found = lost(TWO_CUBES.outlines, TWO_CUBES.size)
    by_profile = {v: sum(f.value or 0 for f in found if f.profile == v) for v in TWO_CUBES.outlines}
    assert by_profile == pytest.approx(dict.fromkeys(TWO_CUBES.outlines, 128), rel=1e-6)


@pytest.mark.parametrize(("notch", "count"), [(MATCH - 1e-3, 0), (MATCH + 1e-3, 1)])
def test_how_narrow_a_loss_counts(notch: float, count: int) -> None:
    """A slit right through from the right is not there in the front outline."""
    slit = shapely.difference(rect(0, 0, 40, 50), rect(0, 20, 40, 20 + notch))
    outlines: dict[str, Area] = {"front": rect(0, 0, 80, 50), "right": many(slit)}
    found = lost(outlines, (80, 40, 50))
    assert len(found) == count
    for f in found:
        assert f.profile == "front"
        assert f.value == pytest.approx(80 * notch, rel=1e-3)


def test_what_other_findings_tell_is_not_told_again() -> None:
    """Lost off the stock, or because an extent does not match."""
    assert lost({"front": rect(-10, 0, 90, 50), "top": rect(0, 0, 80, 40)}, (80, 40, 50)) == []
    assert lost({"front": rect(0, 0, 80, 50), "right": rect(0, 5, 40, 45)}, (80, 40, 50)) == []
    assert lost({"front": rect(0, 0, 80, 50), "rear": rect(0, 5, 70, 45)}, (80, 40, 50)) == []


def test_each_region_is_told_largest_first() -> None:
    slits = shapely.union(rect(0, 10, 40, 12), rect(0, 30, 40, 35))
    comb = many(shapely.difference(rect(0, 0, 40, 50), slits))
    found = lost({"front": rect(0, 0, 80, 50), "right": comb}, (80, 40, 50))
    assert [round(f.value or 0, 3) for f in found] == [80 * 5, 80 * 2]
    assert [f.where[2] for f in found if f.where] == pytest.approx([32.5, 11])


@pytest.mark.parametrize("size", [3, 4])
def test_lost_area_of_cells(size: int) -> None:
    """By counting: cells of an outline over which no cell of the part lies."""
    for truth in triples(size, 3, 15):
        if not truth.filled.any():
            continue
        outlines = {view: cells(getattr(truth, view)) for view in ("front", "right", "top")}
        stock = Stock((10.0 * size,) * 3)
        part = solid(stock, profiles(outlines, stock))
        for p in profiles(outlines, stock):
            empty = cells(getattr(truth, p.name) & ~truth.shadow(p.name))
            area = lost_shadow(p, part)
            assert shapely.symmetric_difference(area, empty).area <= 1e-4
            assert area.is_valid


def test_slivers_of_rounding_are_not_lost() -> None:
    """A round outline that is all there: the shadow lies on a grid, the outline does not."""
    stock = Stock((40.0, 40.0, 40.0))
    for p in profiles({"front": disc(20, 20, 19.7, 100), "right": disc(20, 20, 19.7, 100)}, stock):
        part = solid(stock, [p])
        assert lost_shadow(p, part).is_empty


def test_an_outline_that_nearly_coincides_with_its_shadow() -> None:
    stock = Stock((10.0, 10.0, 10.0))
    for drawn_, seen in (NEARLY, NEARLY[::-1]):
        p = profile("top", Polygon(drawn_), stock)
        part = Solid.prism(Polygon(seen), VIEWS["top"], (0, 10))
        assert lost_shadow(p, part).is_empty
        assert list(shadow_lost(p, part, stock, (), MATCH)) == []


def test_wider_than() -> None:
    area = MultiPolygon([rect(0, 0, 10, 1), rect(0, 5, 3, 8), rect(20, 0, 22, 50)])
    assert [p.area for p in wider_than(area, 0.5)] == [100, 10, 9]
    assert [p.area for p in wider_than(area, 1.5)] == [100, 9]
    assert [p.area for p in wider_than(area, 2.5)] == [9]
    assert wider_than(area, 3.5) == []
