"""Do drawings fit the stock and one another: each finding fires, and keeps quiet next to its limit.

Every case is constructed here; lengths are mm unless a test says otherwise.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, affinity

from silhouette3d.base.units import Unit
from silhouette3d.checks.finding import Finding
from silhouette3d.checks.fit import (
    LOAD_CONSTANT,
    extent_mismatch,
    heavy_stock,
    outside_stock,
    shared_axes,
    stock_mismatch,
)
from silhouette3d.geometry.frames import VIEWS, view_along, view_from
from silhouette3d.geometry.stock import Stock
from silhouette3d.process.profile import DrawnIn, Profile
from tests.support.checking import BLOCK, EPS, MATCH, advice, message, profiles, told
from tests.support.shapes import (
    Area,
    Shape,
    load,
    profile,
    rect,
)

# The stock rectangle on the drawing.


def drawn(width: float, height: float, view: str = "front", stock: Stock = BLOCK) -> Profile:
    return replace(profile(view, rect(0, 0, 10, 10), stock), stock_drawn=(width, height))


def test_a_stock_drawn_too_large() -> None:
    found = told(stock_mismatch(drawn(80, 51.5), MATCH))
    assert (found.code, found.severity, found.profile) == ("stock-mismatch", "error", "front")
    assert (found.value, found.limit) == (1.5, MATCH)
    assert "is drawn 80 × 51.5 mm, but this face of the stock is 80 × 50 mm" in message(found)
    assert found.where == (80.0, 0.0, 50.0)  # the far corner of the face, where they part
    assert "measure the stock" in advice(found)


@pytest.mark.parametrize("off", [0.0, MATCH - EPS, -MATCH + EPS])
def test_a_stock_drawn_as_it_is(off: float) -> None:
    assert list(stock_mismatch(drawn(80 + off, 50), MATCH)) == []
    assert list(stock_mismatch(drawn(80, 50 - off), MATCH)) == []


@pytest.mark.parametrize("off", [MATCH + EPS, -MATCH - EPS])
def test_a_stock_drawn_just_too_large_or_small(off: float) -> None:
    found = told(stock_mismatch(drawn(80, 50 + off), MATCH))
    assert found.value == pytest.approx(MATCH + EPS)


def test_no_stock_drawn() -> None:
    assert list(stock_mismatch(profile("front", rect(0, 0, 1, 1), BLOCK), MATCH)) == []


@pytest.mark.parametrize(
    ("factor", "taken", "mend"),
    [
        (1 / 25.4, 1.0, 'units = "in"'),
        (25.4, 25.4, 'units = "mm"'),
        (25.4, 1.0, "scale = 0.039370079"),  # numbers of an inch drawing made 25.4 times as large
    ],
)
def test_a_stock_drawn_in_the_other_unit(factor: float, taken: float, mend: str) -> None:
    profile = replace(drawn(80 * factor, 50 * factor), unit=DrawnIn("unit", taken))
    found = told(stock_mismatch(profile, MATCH))
    assert "factor of 25.4" in advice(found)
    assert f"set {mend} for this profile" in advice(found)


def test_another_unit_cures_it(tmp_path: Path) -> None:
    """The advice taken: the drawing's inches were read as millimetres."""
    shape = Shape((76.2, 50.8, 25.4), {"front": rect(0, 0, 3, 1)}, 0, 0)
    keys = {"datum": None, "stock_layer": "OUTLINE", "layer": "OUTLINE"}
    job = load(tmp_path, shape, profiles={"front": keys}).job
    part = load(tmp_path, shape, profiles={"front": keys})
    found = [f for f in part.findings if f.code == "stock-mismatch"]
    assert re.search(r'units = "in"', advice(told(found)))
    assert job.profile[0].units is None
    mended = load(tmp_path, shape, profiles={"front": {**keys, "units": "in"}})
    assert [f for f in mended.findings if f.code == "stock-mismatch"] == []
    assert mended.solid.volume == pytest.approx(76.2 * 50.8 * 25.4, rel=1e-9)


def test_sizes_are_told_in_the_job_s_unit() -> None:
    found = told(stock_mismatch(drawn(25.4, 50.8), MATCH))
    assert "is drawn 1 × 2 in, but this face of the stock is 3.1496 × 1.9685 in" in message(
        found, "in"
    )


# An outline beyond the stock.


def test_an_outline_beyond_the_stock() -> None:
    (p,) = profiles({"right": rect(-3, 10, 20, 30)})
    found = told(outside_stock(p, BLOCK, MATCH))
    assert (found.code, found.severity, found.profile) == ("outside-stock", "warning", "right")
    assert (found.value, found.limit) == (3, MATCH)
    assert "reaches 3 mm beyond the stock" in message(found)
    assert found.where is not None
    assert found.where[:2] == (80.0, -3.0)  # seen from the right: x = 80, y = u
    assert found.where[2] in {10, 30}


@pytest.mark.parametrize("past", [0.0, MATCH - EPS])
def test_an_outline_as_large_as_the_stock(past: float) -> None:
    for p in profiles({v: rect(-past, 0, 10, 10) for v in VIEWS}):
        assert list(outside_stock(p, BLOCK, MATCH)) == []


def test_an_outline_just_beyond_the_stock() -> None:
    for p in profiles({v: rect(-MATCH - EPS, 0, 10, 10) for v in VIEWS}):
        assert told(outside_stock(p, BLOCK, MATCH)).profile == p.name


def test_beyond_a_corner_of_the_stock() -> None:
    """The distance to the stock, not along one axis: 3, 4, 5."""
    (p,) = profiles({"front": Polygon([(70, 40), (83, 54), (60, 45)])})
    assert told(outside_stock(p, BLOCK, MATCH)).value == pytest.approx(5)


def test_beyond_a_round_bar() -> None:
    """Inside its bounding square, but off the circle: √2 r - r at the corner."""
    bar = Stock((40.0, 40.0, 60.0), 40.0, "z", 1e-4)
    p = profile("top", rect(0, 0, 40, 40), bar)
    value = told(outside_stock(p, bar, MATCH)).value
    assert value == pytest.approx(20 * (2**0.5 - 1), abs=2e-4)  # chords lie 1e-4 inside
    assert list(outside_stock(profile("front", rect(0, 0, 40, 60), bar), bar, MATCH)) == []


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
    assert axes_of(corner, top) == {"u of corner": ["corner", "top"]}


def test_a_direction_of_a_view_by_angle_is_told_by_its_drawing() -> None:
    """From its datum, as far as it is drawn there; a direction that is on no drawing in numbers."""
    view = view_from("right", -53.13)
    side = profile(view, rect(10, 0, 40, 10), BLOCK)
    rear = profile(view_from("left", -53.13), rect(10, 0, 40, 10), BLOCK, "rear side")
    across, z = shared_axes((side, rear), BLOCK)
    assert (across.name, z.name, z.zero) == (f"u of {view.name}", "z", 0.0)
    width = side.face.size[0]
    reached = [(low - across.zero, high - across.zero) for low, high in across.extents]
    assert reached == [pytest.approx((10, 40)), pytest.approx((width - 40, width - 10))]
    named = profile(view, rect(10, 0, 40, 10), BLOCK, "door")
    (across,) = shared_axes((named, profiles({"top": rect(0, 0, 80, 40)})[0]), BLOCK)
    assert across.name == "u of door (right, turned −53.13°)"
    leaning = (profile(view_from("front", 0, t), rect(0, 0, 9, 9), BLOCK, f"{t}") for t in (30, 60))
    turned = profile(view_from("front", 20, 30), rect(30, 20, 50, 40), BLOCK, "turned")
    (x, *others) = shared_axes((*leaning, turned), BLOCK)
    assert x.name == "x"
    assert all(re.fullmatch(r"\(.*, .*, .*\)", axis.name) for axis in others)


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
    outlines: Mapping[str, Area], match: float = MATCH, stock: Stock = BLOCK
) -> list[Finding]:
    axes = shared_axes(profiles(outlines, stock), stock)
    return [f for axis in axes for f in extent_mismatch(axis, stock, match)]


def test_outlines_of_different_height() -> None:
    found = told(mismatches({"front": rect(0, 0, 80, 50), "right": rect(0, 0, 40, 48)}))
    assert (found.code, found.severity, found.profile) == ("extent-mismatch", "warning", "right")
    assert (found.value, found.limit) == (2, MATCH)
    assert message(found) == (
        "along z the outlines disagree by 2 mm: right reaches from 0 to 48 mm, "
        "front from 0 to 50 mm"
    )
    assert found.where == (40.0, 20.0, 48.0)
    assert advice(found).startswith("no shift cures this: front is 2 mm longer than right")


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


def shift_advised(finding: Finding, unit: Unit = "mm") -> tuple[float, float]:
    found = re.search(rf"by \[(\S+), (\S+)\] {unit}", advice(finding, unit))
    assert found
    assert "no shift" not in advice(finding, unit)
    return float(found[1]), float(found[2])


def cured(outlines: dict[str, Area], unit: Unit = "mm", stock: Stock = BLOCK) -> None:
    """The advised shift, added to the profile's own, leaves nothing to find along that axis."""
    found = told(mismatches(outlines, stock=stock))
    assert found.profile
    scale = 25.4 if unit == "in" else 1.0
    u, v = (scale * x for x in shift_advised(found, unit))
    moved = {**outlines, found.profile: affinity.translate(outlines[found.profile], u, v)}
    assert mismatches(moved, stock=stock) == []


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
    found = told(extent_mismatch(z, stock, MATCH))
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
    elif "no shift" in advice(found[0]):
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
    assert "no shift" in advice(found)  # 2.5 in high against 3
    shape = replace(shape, outlines={**shape.outlines, "right": rect(0, 0, 3, 2)})
    part = load(tmp_path, shape, units="in", profiles=more)
    found = told([f for f in part.findings if f.code == "extent-mismatch"])
    u, v = shift_advised(found, "in")
    assert (u, v) == pytest.approx((0, -0.25))
    keys["shift"] = [u, 0.25 + v]
    part = load(tmp_path, shape, units="in", profiles=more)
    assert [f for f in part.findings if f.code == "extent-mismatch"] == []


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
    assert "31.4 kg, more" in message(found)
    assert "69.23 lb, more" in message(found, "in")  # 31.4 / 0.45359237
    assert found.where == (100.0, 100.0, 50.0)
    assert "second person or a hoist" in advice(found)
    assert "local rules" in advice(found)


@pytest.mark.parametrize(("density", "count"), [(5.75 - EPS, 0), (5.75 + EPS, 1)])
def test_how_heavy_is_heavy(density: float, count: int) -> None:
    """4000 cm³ at 5.75 g/cm³ are 23 kg."""
    assert len(list(heavy_stock(Stock((200.0, 200.0, 100.0)), density))) == count
