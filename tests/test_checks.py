"""Findings before any cutting: each fires, keeps quiet next to its limit, and says where and what.

Every case is constructed here; lengths are mm unless a test says otherwise.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, affinity

from silhouette3d.checks.bodies import several_bodies
from silhouette3d.checks.finding import SEVERITIES, Finding, point_text, spot, worst_first
from silhouette3d.checks.fit import (
    LOAD_CONSTANT,
    extent_mismatch,
    heavy_stock,
    outside_stock,
    shared_axes,
    stock_mismatch,
)
from silhouette3d.checks.shadow import lost_shadow, shadow_lost, wider_than
from silhouette3d.errors import EmptyPartError
from silhouette3d.place import Profile
from silhouette3d.solid import Solid
from silhouette3d.stock import Stock
from silhouette3d.units import Unit
from silhouette3d.view import VIEWS, view_along
from tests.shapes import (
    CORNER_CUBES,
    LOOSE_CUBE_OF_THREE,
    LOOSE_CUBE_OF_TWO,
    NEARLY,
    NOTHING,
    SOUND,
    TWO_CUBES,
    Area,
    Shape,
    cells,
    disc,
    load,
    many,
    notched,
    profile,
    rect,
    solid,
)
from tests.voxels import triples

BLOCK = Stock((80.0, 40.0, 50.0))
MATCH = 0.1
EPS = 1e-6
"""Far more than rounding, far less than a limit."""


def profiles(outlines: Mapping[str, Area], stock: Stock = BLOCK) -> tuple[Profile, ...]:
    return tuple(profile(view, area, stock) for view, area in outlines.items())


def told(findings: Any) -> Finding:
    """The only finding, with what every finding must have."""
    (found,) = findings
    assert found.severity in SEVERITIES
    assert found.message
    assert found.message[0].islower()
    assert not found.message.endswith(".")
    assert found.advice
    return found


# The stock rectangle on the drawing.


def drawn(width: float, height: float, view: str = "front", stock: Stock = BLOCK) -> Profile:
    return replace(profile(view, rect(0, 0, 10, 10), stock), stock_drawn=(width, height))


def test_a_stock_drawn_too_large() -> None:
    found = told(stock_mismatch(drawn(80, 51.5), MATCH, "mm"))
    assert (found.code, found.severity, found.profile) == ("stock-mismatch", "error", "front")
    assert (found.value, found.limit) == (1.5, MATCH)
    assert "is drawn 80 × 51.5 mm, but this face of the stock is 80 × 50 mm" in found.message
    assert found.where == (80.0, 0.0, 50.0)  # the far corner of the face, where they part
    assert "measure the stock" in found.advice


@pytest.mark.parametrize("off", [0.0, MATCH - EPS, -MATCH + EPS])
def test_a_stock_drawn_as_it_is(off: float) -> None:
    assert list(stock_mismatch(drawn(80 + off, 50), MATCH, "mm")) == []
    assert list(stock_mismatch(drawn(80, 50 - off), MATCH, "mm")) == []


@pytest.mark.parametrize("off", [MATCH + EPS, -MATCH - EPS])
def test_a_stock_drawn_just_too_large_or_small(off: float) -> None:
    found = told(stock_mismatch(drawn(80, 50 + off), MATCH, "mm"))
    assert found.value == pytest.approx(MATCH + EPS)


def test_no_stock_drawn() -> None:
    assert list(stock_mismatch(profile("front", rect(0, 0, 1, 1), BLOCK), MATCH, "mm")) == []


@pytest.mark.parametrize(
    ("factor", "unit", "mend"), [(1 / 25.4, "mm", '"in"'), (25.4, "in", '"mm"')]
)
def test_a_stock_drawn_in_the_other_unit(factor: float, unit: Unit, mend: str) -> None:
    found = told(stock_mismatch(drawn(80 * factor, 50 * factor), MATCH, unit))
    assert "factor of 25.4" in found.advice
    assert f"units = {mend}" in found.advice


def test_another_unit_cures_it(tmp_path: Path) -> None:
    """The advice taken: the drawing's inches were read as millimetres."""
    shape = Shape((76.2, 50.8, 25.4), {"front": rect(0, 0, 3, 1)}, 0, 0)
    keys = {"datum": None, "stock_layer": "OUTLINE", "layer": "OUTLINE"}
    job = load(tmp_path, shape, profiles={"front": keys}).job
    part = load(tmp_path, shape, profiles={"front": keys})
    found = [f for f in part.findings if f.code == "stock-mismatch"]
    assert re.search(r'units = "in"', told(found).advice)
    assert job.profile[0].units is None
    mended = load(tmp_path, shape, profiles={"front": {**keys, "units": "in"}})
    assert [f for f in mended.findings if f.code == "stock-mismatch"] == []
    assert mended.solid.volume == pytest.approx(76.2 * 50.8 * 25.4, rel=1e-9)


def test_sizes_are_told_in_the_job_s_unit() -> None:
    found = told(stock_mismatch(drawn(25.4, 50.8), MATCH, "in"))
    assert "is drawn 1 × 2 in, but this face of the stock is 3.1496 × 1.9685 in" in found.message


# An outline beyond the stock.


def test_an_outline_beyond_the_stock() -> None:
    (p,) = profiles({"right": rect(-3, 10, 20, 30)})
    found = told(outside_stock(p, BLOCK, MATCH, "mm"))
    assert (found.code, found.severity, found.profile) == ("outside-stock", "warning", "right")
    assert (found.value, found.limit) == (3, MATCH)
    assert "reaches 3 mm beyond the stock" in found.message
    assert found.where is not None
    assert found.where[:2] == (80.0, -3.0)  # seen from the right: x = 80, y = u
    assert found.where[2] in {10, 30}


@pytest.mark.parametrize("past", [0.0, MATCH - EPS])
def test_an_outline_as_large_as_the_stock(past: float) -> None:
    for p in profiles({v: rect(-past, 0, 10, 10) for v in VIEWS}):
        assert list(outside_stock(p, BLOCK, MATCH, "mm")) == []


def test_an_outline_just_beyond_the_stock() -> None:
    for p in profiles({v: rect(-MATCH - EPS, 0, 10, 10) for v in VIEWS}):
        assert told(outside_stock(p, BLOCK, MATCH, "mm")).profile == p.name


def test_beyond_a_corner_of_the_stock() -> None:
    """The distance to the stock, not along one axis: 3, 4, 5."""
    (p,) = profiles({"front": Polygon([(70, 40), (83, 54), (60, 45)])})
    assert told(outside_stock(p, BLOCK, MATCH, "mm")).value == pytest.approx(5)


def test_beyond_a_round_bar() -> None:
    """Inside its bounding square, but off the circle: √2 r - r at the corner."""
    bar = Stock((40.0, 40.0, 60.0), 40.0, "z", 1e-4)
    p = profile("top", rect(0, 0, 40, 40), bar)
    value = told(outside_stock(p, bar, MATCH, "mm")).value
    assert value == pytest.approx(20 * (2**0.5 - 1), abs=2e-4)  # chords lie 1e-4 inside
    assert list(outside_stock(profile("front", rect(0, 0, 40, 60), bar), bar, MATCH, "mm")) == []


# Extents along directions that several outlines see.


def axes_of(*seen: Profile, stock: Stock = BLOCK) -> dict[str, list[str]]:
    return {axis.name: [p.name for p in axis.profiles] for axis in shared_axes(seen, stock)}


def test_shared_axes_of_named_views() -> None:
    sides = profiles({v: rect(0, 0, 10, 10) for v in ("front", "right", "top")})
    assert axes_of(*sides) == {
        "z": ["front", "right"],
        "x": ["front", "top"],
        "y": ["right", "top"],
    }
    front, rear = profiles({v: rect(0, 0, 10, 10) for v in ("front", "rear")})
    assert axes_of(front, rear) == {"x": ["front", "rear"], "z": ["front", "rear"]}
    assert axes_of(front) == {}


def test_a_shared_axis_of_a_view_of_its_own() -> None:
    """A view across the corner shares z with the front, and what is square to both with the top."""
    view = view_along((1, 1, 0), (0, 0, 1), "corner")
    corner = profile(view, rect(0, 0, 10, 10), BLOCK)
    front, top = profiles({"front": rect(0, 0, 10, 10), "top": rect(0, 0, 10, 10)})
    assert axes_of(corner, front) == {"z": ["corner", "front"]}
    assert axes_of(corner, top) == {"(0.707, -0.707, 0)": ["corner", "top"]}


def test_extents_are_in_block_coordinates() -> None:
    """From the rear and from below, what is drawn from the left lies at the right."""
    seen = profiles({"rear": rect(10, 0, 30, 20), "bottom": rect(50, 0, 70, 10)})
    (x,) = shared_axes(seen, BLOCK)
    assert x.name == "x"
    assert x.extents == ((50.0, 70.0), (50.0, 70.0))
    assert x.common == (50.0, 70.0)


def test_what_lies_off_the_stock_does_not_count() -> None:
    """It reaches past the stock, and another piece of it only touches it along a line."""
    far = MultiPolygon([rect(10, 20, 95, 30), rect(-20, 45, 0, 50)])
    seen = profiles({"front": far, "top": rect(10, 0, 80, 40)})
    (x,) = shared_axes(seen, BLOCK)
    assert x.extents == ((10.0, 80.0), (10.0, 80.0))
    off = profiles({"front": rect(-20, 0, 0, 50), "top": rect(0, 0, 80, 40)})
    assert shared_axes(off, BLOCK) == ()


def mismatches(
    outlines: Mapping[str, Area], match: float = MATCH, unit: Unit = "mm", stock: Stock = BLOCK
) -> list[Finding]:
    axes = shared_axes(profiles(outlines, stock), stock)
    return [f for axis in axes for f in extent_mismatch(axis, stock, match, unit)]


def test_outlines_of_different_height() -> None:
    found = told(mismatches({"front": rect(0, 0, 80, 50), "right": rect(0, 0, 40, 48)}))
    assert (found.code, found.severity, found.profile) == ("extent-mismatch", "warning", "right")
    assert (found.value, found.limit) == (2, MATCH)
    assert found.message == (
        "along z the outlines disagree by 2 mm: right reaches from 0 to 48 mm, "
        "front from 0 to 50 mm"
    )
    assert found.where == (40.0, 20.0, 48.0)
    assert found.advice.startswith("no shift cures this: front is 2 mm longer than right")


@pytest.mark.parametrize("off", [0.0, MATCH - EPS, -(MATCH - EPS)])
def test_outlines_of_almost_one_height(off: float) -> None:
    assert mismatches({"front": rect(0, 0, 80, 49), "right": rect(0, 0, 40, 49 + off)}) == []
    assert mismatches({"front": rect(0, 5 + off, 80, 49), "right": rect(0, 5, 40, 49)}) == []


@pytest.mark.parametrize("off", [MATCH + EPS, -(MATCH + EPS)])
def test_outlines_just_not_of_one_height(off: float) -> None:
    found = told(mismatches({"front": rect(0, 0, 80, 49), "right": rect(0, 0, 40, 49 + off)}))
    assert found.value == pytest.approx(MATCH + EPS)


def test_the_odd_one_out_is_named() -> None:
    """Two of three agree along x; the third is told, wherever it stands in the job."""
    for views in (("front", "rear", "top"), ("top", "front", "rear"), ("front", "top", "rear")):
        outlines = {v: rect(0, 0, 80, 40 if v == "top" else 50) for v in views}
        outlines["rear"] = rect(10, 0, 80, 50)
        assert told(mismatches(outlines)).profile == "rear"


def test_every_one_that_disagrees_is_told() -> None:
    outlines = {
        "front": rect(0, 0, 80, 50),
        "rear": rect(5, 0, 80, 50),
        "top": rect(0, 0, 80, 40),
        "bottom": rect(0, 0, 77, 40),
    }
    found = mismatches(outlines)
    assert [(f.profile, f.value) for f in found] == [("rear", 5), ("bottom", 3)]


def shift_advised(finding: Finding) -> tuple[float, float]:
    found = re.search(r"by \[(\S+), (\S+)\]", finding.advice)
    assert found
    assert "no shift" not in finding.advice
    return float(found[1]), float(found[2])


def cured(outlines: dict[str, Area], unit: Unit = "mm", stock: Stock = BLOCK) -> None:
    """The advised shift, added to the profile's own, leaves nothing to find along that axis."""
    found = told(mismatches(outlines, unit=unit, stock=stock))
    assert found.profile
    scale = 25.4 if unit == "in" else 1.0
    u, v = (scale * x for x in shift_advised(found))
    moved = {**outlines, found.profile: affinity.translate(outlines[found.profile], u, v)}
    assert mismatches(moved, unit=unit, stock=stock) == []


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("off", [0.2, -3.3, 12.3456789])
@pytest.mark.parametrize(
    ("view", "other"),
    [
        ("right", "front"),
        ("left", "front"),
        ("rear", "top"),
        ("bottom", "front"),
        ("top", "left"),
        ("bottom", "right"),
    ],
)
def test_the_shift_cures_it(view: str, other: str, off: float, unit: Unit) -> None:
    """Whichever way the view's axes run over the block."""
    stock = Stock((80.0, 80.0, 80.0))
    along = np.abs(np.cross(VIEWS[view].look, VIEWS[other].look))
    u, v = (float(abs(axis @ along)) for axis in VIEWS[view].axes[:2])
    area = affinity.translate(rect(20, 20, 60, 60), off * u, off * v)
    cured({other: rect(20, 20, 60, 60), view: area}, unit, stock)


def test_the_shift_of_a_view_of_its_own() -> None:
    stock = Stock((40.0, 40.0, 50.0))
    view = view_along((1, 1, 0), (0, 0, 1), "corner")
    seen = [
        profile("front", rect(0, 10, 40, 30), stock),
        profile(view, rect(0, 15, 50, 35), stock),
    ]
    (z,) = shared_axes(seen, stock)
    found = told(extent_mismatch(z, stock, MATCH, "mm"))
    assert shift_advised(found) == (0, -5)


def test_a_shift_cures_what_reaches_beyond_the_stock() -> None:
    """Moved by 30 mm, 10 mm of it lie off the stock: on it they differ in length, and still."""
    cured({"top": rect(0, 0, 60, 40), "front": rect(30, 0, 90, 50)})


def test_an_outline_larger_than_the_stock_may_stay_so() -> None:
    """Drawn past the stock on purpose at one end, short at the other."""
    cured({"top": rect(0, 0, 80, 40), "front": rect(10, 0, 95, 50)})


def test_the_reference_is_what_most_agree_with() -> None:
    """The first of the job is the odd one."""
    outlines: dict[str, Area] = {
        "rear": rect(10, 0, 80, 50),
        "front": rect(0, 0, 80, 50),
        "top": rect(0, 0, 80, 40),
    }
    assert told(mismatches(outlines)).profile == "rear"


def test_a_shift_that_splits_the_difference() -> None:
    """Lengths that differ by less than the limit: half of the difference on either side."""
    found = told(mismatches({"front": rect(0, 0, 80, 40), "right": rect(0, 5, 40, 45.08)}))
    assert shift_advised(found)[1] == pytest.approx(-5.04)
    cured({"front": rect(0, 0, 80, 40), "right": rect(0, 5, 40, 45.08)})


@given(
    st.tuples(st.floats(0, 30), st.floats(40, 80)),
    st.tuples(st.floats(0, 30), st.floats(40, 80)),
    st.sampled_from(["top", "bottom"]),
)
def test_what_is_advised_is_true(one: tuple, other: tuple, view: str) -> None:
    """Either a shift that cures, or two lengths that really differ by more than the limit."""
    outlines: dict[str, Area] = {"front": rect(one[0], 0, one[1], 50)}
    outlines[view] = rect(other[0], 0, other[1], 40)
    found = mismatches(outlines)
    if not found:
        assert max(abs(one[0] - other[0]), abs(one[1] - other[1])) <= MATCH
    elif "no shift" in found[0].advice:
        assert abs((one[1] - one[0]) - (other[1] - other[0])) > MATCH
    else:
        cured(outlines)


def test_the_advised_shift_in_a_job(tmp_path: Path) -> None:
    """In inches, on an outline that is turned, mirrored and shifted already."""
    shape = Shape((4, 2, 3), {"front": rect(0, 0, 4, 3), "right": rect(0, 0, 2.5, 2)}, 0, 0)
    keys = {"turn": 90.0, "mirror": True, "shift": [0.0, 0.25], "units": "in"}
    more = {"front": {"units": "in"}, "right": keys}
    part = load(tmp_path, shape, units="in", profiles=more)
    found = told([f for f in part.findings if f.code == "extent-mismatch"])
    assert "no shift" in found.advice  # 2.5 in high against 3
    shape = replace(shape, outlines={**shape.outlines, "right": rect(0, 0, 3, 2)})
    part = load(tmp_path, shape, units="in", profiles=more)
    found = told([f for f in part.findings if f.code == "extent-mismatch"])
    u, v = shift_advised(found)
    assert (u, v) == pytest.approx((0, -0.25))
    keys["shift"] = [u, 0.25 + v]
    part = load(tmp_path, shape, units="in", profiles=more)
    assert [f for f in part.findings if f.code == "extent-mismatch"] == []


# Shadow that is lost.


def lost(
    outlines: Mapping[str, Area], size: tuple[float, float, float], match: float = MATCH
) -> list[Finding]:
    stock = Stock(size)
    seen = profiles(outlines, stock)
    part, axes = solid(stock, seen), shared_axes(seen, stock)
    return [f for p in seen for f in shadow_lost(p, part, stock, axes, match, "mm")]


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
    assert "100 mm² of the outline (25.0%)" in found.message
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
        assert list(shadow_lost(p, part, stock, (), MATCH, "mm")) == []


def test_wider_than() -> None:
    area = MultiPolygon([rect(0, 0, 10, 1), rect(0, 5, 3, 8), rect(20, 0, 22, 50)])
    assert [p.area for p in wider_than(area, 0.5)] == [100, 10, 9]
    assert [p.area for p in wider_than(area, 1.5)] == [100, 9]
    assert [p.area for p in wider_than(area, 2.5)] == [9]
    assert wider_than(area, 3.5) == []


# Pieces and touching pieces.


def pieces(shape: Shape, density: float = 1.0, unit: Unit = "mm") -> list[Finding]:
    return list(several_bodies(shape.solid.bodies, density, unit))


@pytest.mark.parametrize("name", SOUND)
def test_one_piece(name: str) -> None:
    assert pieces(SOUND[name]) == []


def test_two_cubes_apart() -> None:
    found = told(pieces(TWO_CUBES, density=2.5))
    assert (found.code, found.severity) == ("several-bodies", "error")
    assert (found.value, found.limit) == (2, 1)
    assert found.message.startswith("the part is in 2 pieces: 512 mm³, 1.28 g, at (")
    # of two of one size the second in order of place, x first
    assert found.where == pytest.approx((16, 4, 4), abs=1e-9)


@pytest.mark.parametrize(
    ("shape", "where"), [(LOOSE_CUBE_OF_THREE, (5, 25, 5)), (LOOSE_CUBE_OF_TWO, (25, 25, 15))]
)
def test_a_loose_cube(shape: Shape, where: tuple[float, float, float]) -> None:
    found = told(pieces(shape))
    assert found.code == "several-bodies"
    assert found.where == pytest.approx(where, abs=1e-9)  # the smaller of the two
    assert "9000 mm³, 9 g" in found.message
    assert f"1000 mm³, 1 g, at ({', '.join(map(str, where))}) mm" in found.message


def test_in_inches() -> None:
    """9000 mm³ / 25.4³."""
    assert "0.5492 in³, 9 g" in told(pieces(LOOSE_CUBE_OF_THREE, unit="in")).message


def test_cubes_that_touch_in_a_point() -> None:
    """They are told as touching, not as apart."""
    found = told(pieces(CORNER_CUBES))
    assert (found.code, found.severity) == ("point-contact", "error")
    assert (found.value, found.limit) == (0, 0)
    assert found.where == pytest.approx((10, 10, 10), abs=1e-6)
    assert found.message == (
        "two pieces of the part touch only in a point, at (10, 10, 10) mm: nothing holds there"
    )


def test_pieces_that_touch_along_an_edge_and_one_apart() -> None:
    squares = [rect(0, 0, 20, 20), rect(20, 20, 40, 40), rect(60, 0, 80, 50)]
    shape = Shape((80, 40, 50), {"front": many(shapely.union_all(squares))}, 0, 0)
    apart, touch = pieces(shape)
    assert apart.code == "several-bodies"
    assert apart.value == 2
    assert touch.code == "point-contact"
    assert touch.value == pytest.approx(40)
    assert "along an edge of 40 mm, at (20, 20, 20) mm" in touch.message


def test_a_part_that_touches_itself() -> None:
    """It holds together elsewhere, so it is a warning."""
    hole = Polygon([(0, 0), (80, 0), (80, 50), (0, 50)], [[(40, 0), (60, 30), (20, 30)]])
    found = told(pieces(Shape((80, 40, 50), {"front": hole}, 0, 0)))
    assert (found.code, found.severity) == ("point-contact", "warning")
    assert found.message.startswith("the part touches itself only along an edge of 40 mm")
    assert found.where == pytest.approx((40, 20, 0), abs=1e-6)


def test_many_pieces_are_not_all_told() -> None:
    dots = many(shapely.union_all([rect(8 * i, 0, 8 * i + 4, 5 + i) for i in range(10)]))
    found = told(pieces(Shape((80, 40, 50), {"front": dots}, 0, 0)))
    assert found.value == 10
    assert found.message.count("mm³") == 8
    assert found.message.endswith("; and 2 more")


# A heavy stock: the load constant of the revised NIOSH lifting equation is 23 kg (51 lb). Waters,
# Putz-Anderson and Garg, Applications Manual for the Revised NIOSH Lifting Equation, DHHS (NIOSH)
# 94-110, revised 9/2021, doi 10.26616/NIOSHPUB94110revised092021.


def test_a_heavy_stock() -> None:
    assert LOAD_CONSTANT == 23_000
    stock = Stock((200.0, 200.0, 100.0))  # 4000 cm³
    found = told(heavy_stock(stock, 7.85))
    assert (found.code, found.severity) == ("heavy-stock", "warning")
    assert found.value == pytest.approx(31_400)
    assert found.limit == 23_000
    assert "31.4 kg (69 lb)" in found.message  # 31.4 / 0.45359237
    assert found.where == (100.0, 100.0, 50.0)
    assert "second person or a hoist" in found.advice
    assert "local rules" in found.advice


@pytest.mark.parametrize(("density", "count"), [(5.75 - EPS, 0), (5.75 + EPS, 1)])
def test_how_heavy_is_heavy(density: float, count: int) -> None:
    """4000 cm³ at 5.75 g/cm³ are 23 kg."""
    assert len(list(heavy_stock(Stock((200.0, 200.0, 100.0)), density))) == count


# Nothing left.


def empty(folder: Path, outlines: Mapping[str, Area], size: Any, **more: Any) -> EmptyPartError:
    part = load(folder, Shape(size, outlines, 0, 0), **more)
    with pytest.raises(EmptyPartError) as caught:
        _ = part.solid
    assert caught.value.where == str(folder / "job.toml")
    assert caught.value.todo
    return caught.value


def test_an_outline_wholly_off_the_stock(tmp_path: Path) -> None:
    outlines = {"front": rect(0, 0, 80, 50), "top": rect(90, 0, 120, 40)}
    error = empty(tmp_path, outlines, (80, 40, 50))
    assert error.what == (
        "top: the whole outline lies off the stock: it reaches from (90 mm, 0 mm) to "
        "(120 mm, 40 mm) on a face of 80 mm × 40 mm"
    )


def test_off_a_round_bar(tmp_path: Path) -> None:
    """In the corner of the bar's bounding square."""
    bar = {"size": None, "round": {"diameter": 40.0, "length": 60.0}}
    error = empty(tmp_path, {"top": rect(0, 0, 4, 4)}, (40, 40, 60), stock=bar)
    assert error.what.startswith("top: the whole outline lies off the stock")


def test_outlines_that_end_where_others_begin(tmp_path: Path) -> None:
    error = empty(tmp_path, NOTHING.outlines, NOTHING.size)
    assert error.what == (
        "front and right exclude one another: along z, front ends at 10 mm and right begins "
        "at 10 mm"
    )


def test_outlines_that_end_before_others_begin(tmp_path: Path) -> None:
    outlines = {
        "right": rect(0, 30, 40, 50),
        "top": rect(0, 0, 80, 40),
        "front": rect(0, 0, 80, 20),
    }
    error = empty(tmp_path, outlines, (80, 40, 50))
    assert "front ends at 20 mm and right begins at 30 mm" in error.what


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("front", "rear"),  # of one extent: two opposite quarters, and seen from behind the others
        ("front", "right"),  # where one has material the other has a gap
    ],
)
def test_two_outlines_that_overlap_and_leave_nothing(tmp_path: Path, one: str, other: str) -> None:
    quarters = MultiPolygon([rect(0, 0, 40, 25), rect(40, 25, 80, 50)])
    rails = MultiPolygon([rect(0, 0, 80, 10), rect(0, 40, 80, 50)])
    outlines = {"rear": {one: quarters, other: quarters}}
    outlines["right"] = {one: rails, other: many(rect(0, 10, 40, 40))}
    error = empty(tmp_path, outlines[other], (80, 40, 50))
    assert error.what == (
        f"{one} and {other} together leave nothing of the stock, although their extents overlap"
    )


def test_three_outlines_that_leave_nothing_together(tmp_path: Path) -> None:
    """Any two leave something: found among outlines of 2 x 2 cells."""
    outlines = {
        "front": MultiPolygon([rect(0, 0, 10, 10), rect(10, 10, 20, 20)]),
        "right": MultiPolygon([rect(0, 0, 10, 10), rect(10, 10, 20, 20)]),
        "top": MultiPolygon([rect(0, 10, 10, 20), rect(10, 0, 20, 10)]),
    }
    error = empty(tmp_path, outlines, (20, 20, 20))
    assert error.what.startswith("front, right and top together leave nothing of the stock")


def test_a_sliver_is_nothing(tmp_path: Path) -> None:
    """Less than the millionths by which the proof moves walls."""
    error = empty(tmp_path, {"front": rect(-30, 0, 1e-7, 50)}, (80, 40, 50))
    assert error.what == "nothing that has a thickness is left of the stock"


# Findings themselves.


def finding(severity: Any, code: str = "a") -> Finding:
    return Finding(code, severity, "message", "advice")


def test_worst_first() -> None:
    found = [
        finding(s, str(i)) for i, s in enumerate(["note", "error", "warning", "error", "note"])
    ]
    assert [f.code for f in worst_first(found)] == ["1", "3", "2", "0", "4"]


def test_points_as_people_read_them() -> None:
    """Hundredths of a millimetre, thousandths of an inch, and no negative zero."""
    assert point_text(np.array([1.0, 2.344, -0.001]), "mm") == "(1, 2.34, 0) mm"
    assert point_text(np.array([25.4, 12.7, -0.001]), "in") == "(1, 0.5, 0) in"
    assert spot(np.array([1, 2, 3])) == (1.0, 2.0, 3.0)


def test_an_outline_that_touches_the_common_range_in_a_line_only(tmp_path: Path) -> None:
    # the second post stands exactly on the top of the other outline: a line is shared there
    posts = many(shapely.union_all([rect(0, 0, 8, 20), rect(12, 10, 20, 20)]))
    shape = Shape((20, 20, 20), {"front": posts, "right": rect(0, 0, 20, 10)}, 0, 0)
    part = load(tmp_path, shape)
    assert {f.code for f in part.findings} >= {"extent-mismatch"}
