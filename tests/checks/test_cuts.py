"""What the cuts lead to: every finding fires, and does not next to its limit."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

import pytest
import shapely
from shapely import Polygon

from silhouette3d.checks.finding import Finding
from silhouette3d.geometry.stock import Stock
from silhouette3d.process.cut import Cut
from silhouette3d.process.leads import Driving
from silhouette3d.process.tab_remnants import joins, standing_section, tab_remnants
from tests.support.checking import advice, message
from tests.support.cut_jobs import (
    TOLERANCE,
    cut_of,
    cutting_of,
    findings_of,
    stages_of,
    with_tabs_at,
)
from tests.support.shapes import TWO_CUBES, disc, many, rect

CUBE = Stock((40.0, 40.0, 40.0))
SIDES = [(5.0, 20.0), (35.0, 20.0)]


def only(found: Sequence[Finding], code: str) -> Finding:
    (one,) = [finding for finding in found if finding.code == code]
    return one


def codes(found: Sequence[Finding]) -> set[str]:
    return {finding.code for finding in found}


def three(
    front: Sequence = SIDES, right: Sequence = SIDES, top: Polygon | None = None, width: float = 2.0
) -> tuple[Cut, Cut, Cut]:
    """A cube of 30 mm, then a square standing on its corner from above."""
    diamond = Polygon([(20, 5), (35, 20), (20, 35), (5, 20)])
    return (
        cut_of("front", rect(5, 5, 35, 35), CUBE, tabs=front, width=width),
        cut_of("right", rect(5, 5, 35, 35), CUBE, tabs=right, width=width),
        cut_of("top", top or diamond, CUBE),
    )


def test_a_sound_plan_has_notes_only() -> None:
    found = findings_of(*three())
    assert {finding.severity for finding in found} == {"note"}
    assert codes(found) == {"loose-offcut"}


def test_findings_are_told_in_the_jobs_unit() -> None:
    found = findings_of(*three(front=[]))
    messages = [message(f, "in") for f in found if f.code == "loose-offcut"]
    assert messages
    for words in messages:
        assert " oz, " in words
        assert " in, at (" in words
        assert not re.search(r"mm|\bg\b", words)


# --- released-early ----------------------------------------------------------------------------


def test_released_early() -> None:
    found = only(findings_of(*three(front=[])), "released-early")
    assert found.severity == "error"
    assert message(found) == "the part is loose after cut 1 (front), with 2 cuts still to make"
    assert found.profile == "front"
    assert found.where == pytest.approx((20, 20, 20))
    assert (found.value, found.limit) == (1.0, 3.0)
    assert "silhouette3d tabs" in advice(found)


def test_released_by_the_second_cut() -> None:
    found = only(findings_of(*three(right=[])), "released-early")
    assert message(found) == "the part is loose after cut 2 (right), with 1 cut still to make"
    assert found.value == 2.0


def test_not_released_early_by_the_last_cut() -> None:
    assert "released-early" not in codes(findings_of(*three()))
    assert "released-early" not in codes(findings_of(three(front=[])[0]))


def test_not_held_in_the_setup_of_the_last_cut() -> None:
    cuts = [
        cut_of("front", many(rect(-1, -1, 20, 41)), CUBE),
        cut_of("top", rect(5, 5, 15, 35), CUBE),
    ]
    clamps = [["left"], ["right"]]
    found = only(findings_of(*cuts, clamps=clamps, clear_offcuts=False), "released-early")
    assert message(found) == "the clamps of the setup for cut 2 (top) do not hold the part"
    assert found.profile == "top"
    assert found.value == 1.0
    clamps = [["left"], ["left"]]
    assert "released-early" not in codes(findings_of(*cuts, clamps=clamps))


# --- not-released ------------------------------------------------------------------------------


def test_not_released() -> None:
    """The last cut leaves the tab of the first where it was."""
    front = cut_of("front", rect(5, 5, 35, 35), CUBE, tabs=[(20, 5)], width=3.0)
    right = cut_of("right", rect(8, 3, 32, 37), CUBE)
    found = only(findings_of(front, right), "not-released")
    assert found.severity == "error"
    # 3 mm wide, along y from 8 to 32
    assert found.value == pytest.approx(3.0 * 24.0)
    assert found.where == pytest.approx((20, 20, 4.5))
    assert found.profile == "front"
    assert "after the last cut (right) 72 mm² of tabs still join the part to waste" in message(
        found
    )


def slot(kerf: float, width: float = 4.0) -> list[Cut]:
    """A tongue of waste in a slot 10 mm deep, joined to both sides by tabs; then the ends cut."""
    u0, u1 = 20.0 - width / 2.0, 20.0 + width / 2.0
    slotted = Polygon([(5, 5), (u0, 5), (u0, 15), (u1, 15), (u1, 5), (35, 5), (35, 35), (5, 35)])
    return [
        cut_of("right", slotted, CUBE, kerf=kerf, tabs=[(u0, 10), (u1, 10), (20, 35)], width=0.4),
        cut_of("front", rect(12, 6, 28, 35), CUBE, kerf=kerf),
    ]


@pytest.mark.parametrize("kerfs", [0.5, 0.9, 1.0, 1.1, 1.5, 1.9, 2.0, 2.1, 2.4, 2.6, 3.0, 3.4])
def test_not_released_when_a_tongue_of_waste_stays_in_a_slot(kerfs: float) -> None:
    """Two kerfs go down a slot; what is wider leaves a tongue between them.

    The front cut parts it from the waste below; it stays on the part by its tabs alone, and
    all its corners lie on the border of the kerf. That it stays, its volume says.
    """
    cuts = slot(4.0 / kerfs)
    last = stages_of(*cuts)[-1]
    more = last.part.solid.volume - cutting_of(cuts).finished.volume
    found = codes(findings_of(*cuts))
    tongue = (4.0 - 2.0 * cuts[0].kerf) * (9.0 - cuts[0].kerf) * 16.0
    assert ("not-released" in found) == (kerfs > 2.0)
    assert ("narrow-slot" in found) == (kerfs <= 1.0)
    if kerfs > 2.0:
        assert more > tongue
        assert "witness" not in found
    elif kerfs > 1.0:
        assert "witness" in found


def test_a_bridge_across_a_slot_is_a_stub_half_as_high_as_the_slot_is_wide() -> None:
    cuts = slot(2.5)
    (bridge,) = tab_remnants(stages_of(*cuts)[-1], cuts)
    assert bridge.height == pytest.approx(2.0, abs=0.02)  # straight pieces stand for the kerf's arc
    assert bridge.length == pytest.approx(16.0)


def test_not_released_counts_every_tab() -> None:
    front = cut_of("front", rect(5, 5, 35, 35), CUBE, tabs=[(20, 5), (15, 35)], width=3.0)
    found = only(findings_of(front, cut_of("right", rect(8, 3, 32, 37), CUBE)), "not-released")
    assert found.value == pytest.approx(2 * 3.0 * 24.0)
    assert "and 1 more place" in message(found)


def test_not_released_does_not_count_mere_stubs() -> None:
    """The last cut severs the upper tab half way across its kerf, and misses the lower one."""
    front = cut_of("front", rect(5, 5, 35, 35), CUBE, tabs=[(20, 5), (15, 35)], width=3.0)
    found = findings_of(front, cut_of("right", rect(8, 3, 32, 35.5), CUBE))
    assert only(found, "not-released").value == pytest.approx(3.0 * 24.0)
    assert "more place" not in message(only(found, "not-released"))


def test_a_single_cut_with_tabs_is_not_released() -> None:
    found = findings_of(cut_of("front", rect(5, 5, 35, 35), CUBE, tabs=SIDES))
    assert only(found, "not-released").value == pytest.approx(2 * 2.0 * 40.0)
    assert "witness" not in codes(found)


@pytest.mark.parametrize("beyond", [-0.2, 0.0, 0.5, 0.9])
def test_released_as_soon_as_the_last_kerf_severs_the_tab(beyond: float) -> None:
    """The tab stands from z = 4 to 5; the last cut's outline reaches down to 5 - beyond."""
    front = cut_of("front", rect(5, 5, 35, 35), CUBE, tabs=[(20, 5)])
    right = cut_of("right", rect(8, 5 - beyond, 32, 37), CUBE)
    found = codes(findings_of(front, right))
    assert "not-released" not in found
    assert ("witness" in found) == (beyond > 0.0)


def test_not_released_when_the_tab_reaches_past_the_last_kerf() -> None:
    front = cut_of("front", rect(5, 5, 35, 35), CUBE, tabs=[(20, 5)])
    right = cut_of("right", rect(8, 3.9, 32, 37), CUBE)
    assert "not-released" in codes(findings_of(front, right))


def test_a_part_of_two_bodies_joined_to_waste() -> None:
    """The smaller one's tab counts as well."""
    cuts = [cut_of(v, a, TWO_CUBES.stock, kerf=0.5) for v, a in TWO_CUBES.outlines.items()]
    assert joins(stages_of(*cuts)[-1], cuts) == ()
    single = cut_of(
        "front", many(shapely.union_all([rect(5, 5, 20, 35), rect(25, 5, 35, 30)])), CUBE
    )
    large = with_tabs_at(single, [(12, 5)])
    small = with_tabs_at(single, [(30, 5)])
    for cut in (large, small):
        (join,) = joins(stages_of(cut)[-1], [cut])
        assert join.area == pytest.approx(2.0 * 40.0)


# --- part-broken -------------------------------------------------------------------------------


def test_part_broken() -> None:
    """The second of three cuts leaves two cubes that meet nowhere."""
    cuts = [cut_of(v, a, TWO_CUBES.stock, kerf=0.2) for v, a in TWO_CUBES.outlines.items()]
    parted = next(k for k, s in enumerate(stages_of(*cuts)) if len(set(s.pieces)) > 1)
    found = [f for f in findings_of(*cuts) if f.code == "part-broken"]
    # told only where cuts are still to come
    assert len(found) == (parted < 2)
    two = many(shapely.union_all([rect(5, 5, 15, 35), rect(25, 5, 35, 35)]))
    found_now = only(findings_of(cut_of("front", two, CUBE), three()[2]), "part-broken")
    assert found_now.severity == "error"
    assert found_now.value == 2.0
    assert found_now.where is not None
    assert found_now.where[0] == pytest.approx(20.0, abs=5.0)
    assert "parts the part into 2 bodies" in message(found_now)


def test_a_part_that_the_last_cut_parts_is_not_broken_before() -> None:
    two = many(shapely.union_all([rect(5, 5, 15, 35), rect(25, 5, 35, 35)]))
    found = findings_of(
        cut_of("top", rect(5, 5, 35, 35), CUBE, tabs=[(5, 20)]), cut_of("front", two, CUBE)
    )
    assert "part-broken" not in codes(found)


# --- loose-offcut, small-offcut ----------------------------------------------------------------


def window(side: float, order: int) -> list[Cut]:
    """A square window of a given side, cut first or last of two cuts."""
    a = (40.0 - side) / 2.0
    area = Polygon(rect(2, 2, 38, 38).exterior, [rect(a, a, 40 - a, 40 - a).exterior])
    cuts = [
        cut_of("front", area, CUBE, tabs=[(2, 20)], kerf=1.0),
        cut_of("top", rect(3, 3, 37, 37), CUBE, tabs=[(20, 3)], kerf=1.0),
    ]
    return cuts if order == 0 else cuts[::-1]


def test_a_loose_offcut_before_the_last_cut_is_a_warning() -> None:
    """A slug of 23 x 23 x 40 mm; the slats are 20 mm apart."""
    found = only(
        [f for f in findings_of(*window(25, 0)) if f.severity == "warning"], "loose-offcut"
    )
    assert found.profile == "front"
    assert found.where == pytest.approx((20, 20, 20))
    mass = 23 * 23 * 40 / 1000.0
    assert found.value == pytest.approx(mass)
    assert "cut 1 (front) frees an offcut: 21.16 g, 23 × 40 × 23 mm" in message(found)
    assert "take it out before the next setup" in advice(found)


def test_a_loose_offcut_of_the_last_cut_is_a_note() -> None:
    found = [f for f in findings_of(*window(25, 1)) if f.code == "loose-offcut"]
    assert found
    assert {f.severity for f in found} == {"note"}


@pytest.mark.parametrize(("side", "code"), [(21.9, "small-offcut"), (22.1, "loose-offcut")])
def test_small_is_what_falls_between_the_slats(side: float, code: str) -> None:
    """Two kerfs off the window: 19.9 and 20.1 mm in two directions."""
    found = [f for f in findings_of(*window(side, 0)) if f.profile == "front"]
    assert codes(found) & {"small-offcut", "loose-offcut"} == {code}
    what = "a small piece" if code == "small-offcut" else "an offcut"
    assert message(only(found, code)).startswith(f"cut 1 (front) frees {what}: ")


def test_small_offcuts_of_one_cut_are_one_note() -> None:
    holes = [rect(u, 15, u + 6, 21).exterior for u in (6, 14, 22)]
    found = findings_of(cut_of("front", Polygon(rect(2, 2, 38, 38).exterior, holes), CUBE))
    small = only(found, "small-offcut")
    assert small.severity == "note"
    assert small.value == pytest.approx(3 * 4 * 4 * 40 / 1000.0)
    assert "3 small pieces" in message(small)
    assert "may tip against the cutter" in advice(small)


def test_the_largest_of_small_offcuts_is_named() -> None:
    holes = [rect(u, 15, u + side, 21).exterior for u, side in ((6, 6), (14, 8), (24, 4))]
    found = findings_of(cut_of("front", Polygon(rect(2, 2, 38, 38).exterior, holes), CUBE))
    small = only(found, "small-offcut")
    assert "3 small pieces, 1.92 g in all, the largest 0.96 g, 6 × 40 × 4 mm" in message(small)
    assert small.where == pytest.approx((18, 20, 18))


def test_of_equal_small_offcuts_the_first_is_named() -> None:
    """Not the one that rounding makes larger: bodies of one volume stand in order of place."""
    holes = [disc(u, 20, 6, 64).exterior for u in (30.3, 10.1)]
    found = findings_of(cut_of("front", Polygon(rect(2, 2, 38, 38).exterior, holes), CUBE))
    small = only(found, "small-offcut")
    assert "2 small pieces" in message(small)
    assert small.where is not None
    assert small.where[0] == pytest.approx(10.1, abs=1e-6)


def test_an_offcut_is_told_once() -> None:
    """Left in place, a loose slug is not told again at every cut."""
    cuts = [*window(25, 0), cut_of("right", rect(4, 4, 36, 36), CUBE)]
    for clear in (True, False):
        found = findings_of(*cuts, clear_offcuts=clear)
        about = [f for f in found if f.profile == "front" and f.code == "loose-offcut"]
        assert len(about) == 1


def test_a_held_frame_is_no_loose_offcut() -> None:
    found = findings_of(cut_of("front", rect(5, 5, 35, 35), CUBE))
    assert codes(found) == set()


# --- weak-tab ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("width", "fires"), [(0.062, True), (0.063, False)])
def test_weak_tab(width: float, fires: bool) -> None:
    """Two tabs, each 40 mm long; what hangs on one cut's tabs only hangs on the other's next."""
    found = findings_of(*three(width=width))
    weak = [f for f in found if f.code in {"weak-tab", "weak-hold"}]
    wanted = [("weak-tab", "front", 1), ("weak-tab", "right", 2)]
    assert [(f.code, f.profile, f.stage) for f in weak] == wanted * fires
    for finding in weak:
        assert finding.severity == "warning"
        # at the second stage less the 1 mm on either side where the first kerf crosses them
        assert 76 * width <= finding.value <= 80 * width * (1 + 1e-4)
        assert finding.limit == 5.0
    if fires:
        assert weak[0].value == pytest.approx(80 * width, rel=1e-4)
        assert "after cut 1 the part hangs on 4.96 mm² in all" in message(weak[0])


def test_weak_tab_is_held_against_the_section_that_is_left_later() -> None:
    """The second cut leaves only 4 mm of the first one's tab, which stands on the clamped foot."""
    front = cut_of("front", rect(5, 5, 35, 35), CUBE, tabs=[(20, 5)], width=1.0)
    right = cut_of("right", rect(18, -1, 22, 38), CUBE)
    top = cut_of("top", rect(10, 10, 30, 30), CUBE)
    clamps = [None, ["bottom"], ["bottom"]]
    stages = stages_of(front, right, top, clamps=clamps)
    assert standing_section(front, stages[0]) == pytest.approx(40.0)
    assert stages[1].part_is_held
    found = findings_of(front, right, top, clamps=clamps)
    weak = only(found, "weak-tab")
    assert weak.profile == "front"
    assert weak.value == pytest.approx(4.0)
    assert weak.stage == 2


@pytest.mark.parametrize(("skin", "fires"), [(0.0624, True), (0.0626, False)])
def test_weak_hold(skin: float, fires: bool) -> None:
    """A tab of 80 mm² stands on a skin that leads away from it on two sides, 40 mm deep each."""
    plate = cut_of("front", rect(5, 5, 39 - skin, 35), CUBE, tabs=[(39, 20)])
    found = findings_of(plate, cut_of("top", rect(5, 5, 39 - skin, 35), CUBE))
    weak = [f for f in found if f.code in {"weak-tab", "weak-hold"}]
    assert [(f.code, f.profile, f.stage) for f in weak] == [("weak-hold", "front", 1)] * fires
    for finding in weak:
        assert finding.value == pytest.approx(2 * 40 * skin, rel=2e-3)  # two skins, cells apart
        # half the tab and half the kerf aside, where the round end of the cut is furthest out
        assert finding.where == pytest.approx((40 - skin / 2, 20, 20), abs=1.5 + 1e-3)
        assert "the part hangs on 4.99 mm² in all, clamped as for front" in message(finding)
        assert "what front leaves is that thin" in message(finding)
        assert "put the tabs where 5 mm² or more stand behind them" in advice(finding)


def test_a_clamp_on_the_other_side_of_a_web_holds_by_the_web() -> None:
    """A saw cut down to 0.1 mm above the clamped foot, before the part is cut out."""
    slit = cut_of("front", many(shapely.union(rect(-1, -1, 20, 41), rect(20, -1, 41, 0.1))), CUBE)
    top = cut_of("top", rect(5, 5, 15, 35), CUBE)
    found = findings_of(slit, top, clamps=[["right"], ["left"]])
    assert only(found, "weak-hold").value == pytest.approx(0.1 * 40, rel=1e-3)


def test_a_tab_that_a_cut_before_the_last_severs_is_not_weak_then() -> None:
    """It has done its work; what holds from then on is another cut's."""
    front = cut_of("front", rect(5, 5, 35, 35), CUBE, tabs=[(5, 20)])
    right = cut_of("right", rect(5, 5, 35, 35), CUBE, tabs=[(5, 20)])
    top = cut_of("top", rect(5, 5, 35, 35), CUBE)
    last = cut_of("bottom", rect(6, 6, 34, 34), CUBE)
    clamps = [None, None, ["left", "right"], None]
    assert "weak-tab" not in codes(findings_of(front, right, top, last, clamps=clamps))


def test_tabs_of_the_last_cut_are_not_weak() -> None:
    found = findings_of(cut_of("front", rect(5, 5, 35, 35), CUBE, tabs=[(5, 20)], width=0.05))
    assert "weak-tab" not in codes(found)


# --- witness -----------------------------------------------------------------------------------


def test_witness() -> None:
    """The last cut severs the tab halfway across the kerf: a stub 0.5 mm high stays."""
    front = cut_of("front", rect(5, 5, 35, 35), CUBE, tabs=[(20, 5)], width=3.0)
    right = cut_of("right", rect(8, 4.5, 32, 37), CUBE)
    found = only(findings_of(front, right), "witness")
    assert found.severity == "note"
    assert found.where == pytest.approx((20, 20, 4.75))
    # on either side the cutter leaves a square of half the kerf less a quarter disc
    width = 3.0 + 2.0 * 0.5 * (1.0 - math.pi / 4.0)
    room = math.pi / 2.0 * TOLERANCE  # of the disc's polygon
    assert found.value == pytest.approx(width * 24.0 * 0.5, abs=room * 24.0)
    assert "a stub of 3.22" in message(found)
    assert "× 24 mm on the part, 0.5 mm high" in message(found)
    (stub,) = tab_remnants(stages_of(front, right)[-1], [front, right])
    assert stub.width == pytest.approx(width, abs=2.0 * room)
    assert (stub.length, stub.height) == pytest.approx((24.0, 0.5))


def test_no_witness_where_the_last_cut_runs_along_the_outline() -> None:
    assert "witness" not in codes(findings_of(*three()))


@pytest.mark.parametrize("high", [1e-5, 0.9 * TOLERANCE, 1.1 * TOLERANCE])
def test_a_stub_no_higher_than_the_tolerance_is_none(high: float) -> None:
    front = cut_of("front", rect(5, 5, 35, 35), CUBE, tabs=[(20, 5)], width=3.0)
    right = cut_of("right", rect(8, 5 - high, 32, 37), CUBE)
    assert ("witness" in codes(findings_of(front, right))) == (high > TOLERANCE)


# --- inside-corner, narrow-slot ----------------------------------------------------------------

ELL = Polygon([(5, 5), (35, 5), (35, 15), (15, 15), (15, 35), (5, 35)])


def test_inside_corner() -> None:
    found = only(findings_of(cut_of("front", ELL, CUBE, kerf=2.0)), "inside-corner")
    assert found.severity == "note"
    assert found.value == pytest.approx((1 - math.pi / 4) * 1.0**2, rel=0.1)
    assert found.where is not None
    x, y, z = found.where
    assert y == 20.0
    assert 15.0 < min(x, z) < max(x, z) < 16.0
    assert "1 inside corner sharper" in message(found)
    assert "with a radius of 1 mm" in message(found)


def test_inside_corners_of_one_profile_are_one_note() -> None:
    tee = Polygon([(5, 5), (35, 5), (35, 15), (25, 15), (25, 35), (15, 35), (15, 15), (5, 15)])
    found = only(findings_of(cut_of("front", tee, CUBE, kerf=2.0)), "inside-corner")
    assert "2 inside corners" in message(found)


def test_the_largest_inside_corner_is_named() -> None:
    """A notch of 60° keeps more than the square corners beside it."""
    notched = Polygon(
        [(5, 5), (35, 5), (35, 20), (30, 20), (30, 35), (15, 35), (12, 29.8), (9, 35), (5, 35)]
    )
    note = only(findings_of(cut_of("front", notched, CUBE, kerf=2.0)), "inside-corner")
    assert "2 inside corners" in message(note)
    assert note.where == pytest.approx((12, 20, 30), abs=2.0)


def test_no_inside_corner_on_a_convex_outline() -> None:
    assert codes(findings_of(cut_of("front", disc(20, 20, 12), CUBE))) == set()


def test_no_inside_corner_nearer_than_the_tolerance() -> None:
    """A kerf of 0.02 mm keeps less of a corner than 0.01 mm across."""
    assert "inside-corner" not in codes(findings_of(cut_of("front", ELL, CUBE, kerf=0.005)))
    assert "inside-corner" in codes(findings_of(cut_of("front", ELL, CUBE, kerf=0.2)))


def test_no_inside_corner_where_another_cut_takes_it_away() -> None:
    """From above only the foot of the ell is left, up to x = 12; its corner is at x = 15."""
    front = cut_of("front", ELL, CUBE, tabs=[(5, 20)])
    assert "inside-corner" in codes(findings_of(front, cut_of("top", rect(5, 5, 35, 35), CUBE)))
    assert "inside-corner" not in codes(findings_of(front, cut_of("top", rect(5, 5, 12, 35), CUBE)))


def slotted(width: float, depth: float) -> Polygon:
    """A square with a slot in its upper side."""
    u = 20 - width / 2
    area = shapely.difference(rect(5, 5, 35, 35), rect(u, 35 - depth, u + width, 36))
    assert isinstance(area, Polygon)
    return area


@pytest.mark.parametrize("depth", [0.6, 3.0, 20.0])
@pytest.mark.parametrize(("width", "code"), [(0.99, "narrow-slot"), (1.01, "inside-corner")])
def test_narrow_slot(depth: float, width: float, code: str) -> None:
    """However deep: the kerf of 1 mm can or cannot enter it."""
    found = findings_of(cut_of("front", slotted(width, depth), CUBE, kerf=1.0))
    assert codes(found) == {code}


def test_what_a_narrow_slot_tells() -> None:
    found = only(findings_of(cut_of("front", slotted(0.6, 10.0), CUBE, kerf=1.0)), "narrow-slot")
    assert found.severity == "warning"
    assert found.value == pytest.approx(0.6, abs=0.01)  # the largest circle within
    assert found.limit == 1.0
    assert found.where is not None
    assert found.where[0] == pytest.approx(20.0, abs=0.3)
    assert 25.0 < found.where[2] < 35.0
    assert "1 mm wide, cannot enter a slot or hole" in message(found)


@pytest.mark.parametrize(("diameter", "fires"), [(0.3, True), (0.95, True), (1.05, False)])
def test_a_hole_the_kerf_cannot_enter(diameter: float, fires: bool) -> None:
    area = Polygon(rect(5, 5, 35, 35).exterior, [disc(20, 20, diameter / 2).exterior])
    found = codes(findings_of(cut_of("front", area, CUBE, kerf=1.0)))
    assert ("narrow-slot" in found) == fires


@pytest.mark.parametrize(("gap", "fires"), [(0.9, True), (1.1, False)])
def test_a_gap_right_through_that_the_kerf_cannot_enter(gap: float, fires: bool) -> None:
    area = many(shapely.union_all([rect(5, 5, 20, 35), rect(20 + gap, 5, 35, 35)]))
    found = codes(findings_of(cut_of("front", area, CUBE, kerf=1.0)))
    assert ("narrow-slot" in found) == fires


@pytest.mark.parametrize(("angle", "code"), [(25.0, "narrow-slot"), (35.0, "inside-corner")])
def test_an_acute_notch_is_a_slot_when_its_walls_are_nearly_parallel(
    angle: float, code: str
) -> None:
    """An outline that turns by more than 150 degrees encloses a slot."""
    t = math.radians(angle) / 2
    notch = Polygon([(20, 15), (20 - 40 * math.tan(t), 55), (20 + 40 * math.tan(t), 55)])
    area = shapely.difference(rect(5, 5, 35, 35), notch)
    found = codes(findings_of(cut_of("front", many(area), CUBE, kerf=1.0)))
    assert found & {"narrow-slot", "inside-corner"} == {code}


def test_rounded_inside_corners_keep_nothing_once_the_cutter_fits() -> None:
    """A fillet of the cutter's own radius and more; a smaller one keeps what it lacks."""
    for radius, fires in ((0.2, True), (0.55, False)):
        fillet = shapely.difference(
            rect(15, 15, 15 + radius, 15 + radius), disc(15 + radius, 15 + radius, radius, 256)
        )
        area = many(shapely.union(ELL, fillet))
        found = codes(findings_of(cut_of("front", area, CUBE, kerf=1.0)))
        assert ("inside-corner" in found) == fires
        assert "narrow-slot" not in found


# --- clamp-in-path -----------------------------------------------------------------------------


def clamped(area: Polygon, clamp: Sequence) -> list[Finding]:
    found = findings_of(cut_of("front", area, CUBE), clamps=[clamp])
    return [finding for finding in found if finding.code == "clamp-in-path"]


def test_a_clamp_across_the_path() -> None:
    """A strap of 10 mm lies across the left line of the outline: 10 mm of path, and both rims."""
    (found,) = clamped(rect(10, 10, 30, 30), [(0.0, 15.0, 20.0, 25.0)])
    assert found.severity == "error"
    assert found.profile == "front"
    # the rim may touch, and reach a tenth of the kerf in
    assert found.value == pytest.approx(10.0 + 2 * 0.4, abs=0.01)
    assert "runs into clamp 1, on the face, at (9.5, " in message(found)


@pytest.mark.parametrize(("end", "meets"), [(8.9, False), (9.0, False), (9.2, True), (12.0, True)])
def test_a_clamp_beside_the_path(end: float, meets: bool) -> None:
    """The kerf is cut from 9 to 10 mm."""
    assert bool(clamped(rect(10, 10, 30, 30), [(0.0, 15.0, end, 25.0)])) is meets


@pytest.mark.parametrize(
    ("side", "meets"), [("left", False), ("right", False), ("bottom", True), ("top", True)]
)
def test_a_cut_that_leaves_by_a_clamped_side(side: str, meets: bool) -> None:
    """It runs up the middle of the block, from below it to above it."""
    found = clamped(rect(-1, -1, 20, 41), [side])
    assert bool(found) is meets
    if meets:
        assert f"runs into the clamp on the {side} side" in message(found[0])


def test_a_cut_inside_the_stock_meets_no_clamp_on_its_sides() -> None:
    sides = ["left", "right", "bottom", "top"]
    assert clamped(rect(0.3, 10, 30, 30), sides[1:]) == []
    assert clamped(rect(5, 5, 35, 35), sides) == []
    # half a kerf off the face the rim is 0.7 mm out of it
    assert clamped(rect(0.3, 10, 30, 30), ["left"])


@pytest.mark.parametrize(("head", "meets"), [(0.0, False), (9.8, False), (10.2, True)])
def test_the_head_passes_over_no_clamp(head: float, meets: bool) -> None:
    """Its middle runs along 9.5 mm, the strap ends at 4.5 mm."""
    cut = cut_of("front", rect(10, 10, 30, 30), CUBE)
    pad = [(0.0, 15.0, 4.5, 25.0)]
    found = findings_of(cut, clamps=[pad], driving=Driving(head=head))
    assert ("clamp-in-path" in codes(found)) is meets


@pytest.mark.parametrize(("jaw", "meets"), [(0.0, False), (8.9, False), (9.2, True)])
def test_a_jaw_reaches_over_the_side_it_presses_on(jaw: float, meets: bool) -> None:
    cut = cut_of("front", rect(10, 10, 30, 30), CUBE)
    found = findings_of(cut, clamps=[["left"]], driving=Driving(jaw=jaw))
    assert ("clamp-in-path" in codes(found)) is meets


# --- start-on-wall -----------------------------------------------------------------------------


@pytest.mark.parametrize(("wide", "fires"), [(1.06, True), (1.14, False)])
def test_a_slot_in_which_no_start_hole_fits(wide: float, fires: bool) -> None:
    """A start hole must lie a twentieth of the kerf, here 0.05 mm, off the path all round."""
    slot = shapely.LineString([(10, 20), (30, 20)]).buffer(wide / 2.0, quad_segs=32)
    area = many(shapely.difference(rect(0, 0, 40, 40), slot))
    found = [f for f in findings_of(cut_of("front", area, CUBE)) if f.code == "start-on-wall"]
    assert bool(found) is fires
    for finding in found:
        assert finding.value == 1.0
        told = message(finding)
        assert told.startswith("cut 1 (front): a run begins on the finished wall at (")
        assert "start 1 mm off the part" in told


def test_a_tab_on_a_skin_leaves_no_room_to_start() -> None:
    """Beside the outline stand 1.4 mm; the kerf takes one of them, and a lead the rest."""
    for margin, fires in ((1.4, True), (6.0, False)):
        area = rect(margin, margin, 40 - margin, 40 - margin)
        cut = cut_of("front", area, CUBE, tabs=[(margin, 20), (40 - margin, 20)])
        found = [f for f in findings_of(cut) if f.code == "start-on-wall"]
        assert bool(found) is fires
        assert [len(f.places) for f in found] == [2] * fires
