"""The block after every cut: bodies, what holds them, and that nothing gets lost."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import permutations

import numpy as np
import pytest
import shapely
from shapely import Polygon

from silhouette3d.geometry.frames import view_along
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock
from silhouette3d.process.cut import Cut
from silhouette3d.process.stages import CutSimulation, Stage, is_in
from tests.support.cut_jobs import (
    cut_of,
    cutting_of,
    random_job,
    random_jobs,
    stages_of,
    volumes,
    with_tabs_at,
)
from tests.support.shapes import COMB, CORNER_CUBES, TWO_CUBES, Shape, disc, many, rect

CUBE = Stock((40.0, 40.0, 40.0))
EXACT = 1e-9
"""Relative. Walls are rounded to 1e-9 mm on blocks of 12 to 50 mm; all else is arithmetic."""


# --- material is conserved ---------------------------------------------------------------------


def check_conserved(cutting: CutSimulation, order: Sequence[int], *, clear_offcuts: bool) -> None:
    """Bodies + lifted + removed = stock, removed taken from the state before each cut."""
    stages = cutting.stages(order, clear_offcuts=clear_offcuts)
    there = list(cutting.bodies(frozenset()))
    stock = sum(solid.volume for solid in there)
    removed = lifted = 0.0
    for stage in stages:
        lifted += sum(solid.volume for solid in stage.lifted)
        there = [solid for solid in there if not any(solid is gone for gone in stage.lifted)]
        band = stage.cut.profile.to_view(stage.cut.removed)
        removed += sum(solid.within(band, stage.cut.profile.view).volume for solid in there)
        there = [body.solid for body in stage.bodies]
        left = sum(solid.volume for solid in there)
        assert left + lifted + removed == pytest.approx(stock, rel=EXACT)


@pytest.mark.parametrize("seed", range(30))
@pytest.mark.parametrize("clear_offcuts", [True, False])
def test_material_is_conserved(seed: int, clear_offcuts: bool) -> None:
    job = random_job(seed, aligned=seed % 2 == 0)
    check_conserved(job.cutting, range(len(job.cuts)), clear_offcuts=clear_offcuts)


@pytest.mark.big
def test_material_is_conserved_in_many_jobs_in_any_order() -> None:
    for k, job in enumerate(random_jobs(7, 400)):
        orders = list(permutations(range(len(job.cuts))))
        check_conserved(job.cutting, orders[k % len(orders)], clear_offcuts=k % 3 > 0)


@pytest.mark.parametrize("seed", range(6))
def test_the_last_state_does_not_depend_on_the_order(seed: int) -> None:
    job = random_job(100 + seed, aligned=seed % 2 == 0, least_cuts=3)
    ends = []
    for order in permutations(range(3)):
        last = cutting_of(job.cuts).stages(order, clear_offcuts=False)[-1]
        ends.append([body.solid.volume for body in last.bodies])
    for volumes_of_one in ends[1:]:
        assert volumes_of_one == pytest.approx(ends[0], rel=1e-9)


# --- coincident and grazing geometry -----------------------------------------------------------


def test_a_kerf_that_ends_in_the_stocks_face_on_all_sides() -> None:
    """Nothing is left around the part, not even a sheet of no thickness."""
    (stage,) = stages_of(cut_of("front", rect(1, 1, 39, 39), CUBE, kerf=1.0))
    # the kerf's corners are round: of each corner of the block a sliver stays, whose section is
    # (1 - π/4) mm², with the polygon that stands for the arc
    assert len(stage.bodies) == 5
    assert volumes(stage, "part") == pytest.approx([38 * 38 * 40])
    slivers = [b.solid.volume for b in stage.bodies if not b.is_part]
    assert slivers == pytest.approx([(1 - math.pi / 4) * 40] * 4, rel=0.1)


def test_two_kerfs_that_meet_in_a_plane() -> None:
    """The front cut's kerf ends at z = 30, where the right cut's begins: a slot of two kerfs."""
    first = cut_of("front", many(rect(-1, -1, 41, 29)), CUBE, kerf=1.0)
    second = cut_of("right", many(rect(-1, 31, 41, 41)), CUBE, kerf=1.0)
    bodies = [body.volume for body in _cutting([first, second]).bodies(frozenset([0, 1]))]
    assert bodies == pytest.approx([40 * 40 * 29, 40 * 40 * 9])


def _cutting(cuts: list[Cut]) -> CutSimulation:
    """Cuts that leave no part: what they leave of the stock all the same."""
    finished = Solid.prism(many(rect(0, 0, 1, 1)), cuts[0].profile.view, (-1.0, 0.0))
    return CutSimulation(cuts[0].stock, cuts, [None] * len(cuts), finished)


def test_a_tab_that_ends_on_another_cut() -> None:
    """The front tab reaches up to z = 20, where the right cut's kerf begins."""
    front = cut_of("front", rect(10, 5, 30, 35), CUBE, kerf=1.0, tabs=[(10, 19)], width=2.0)
    right = cut_of("right", many(rect(-1, -1, 41, 20)), CUBE, kerf=1.0)
    first, second = stages_of(front, right)
    assert len(first.bodies) == 1
    # the tab holds what is below z = 20 to the frame; above, core and frame are apart
    assert second.part.solid.bounds[1, 2] == pytest.approx(20.0)
    assert volumes(second, "part") == pytest.approx([frame_below(20.0) + 2 * 1 * 40], rel=1e-3)


def frame_below(z: float) -> float:
    """Front cut of 20 mm width from z = 5, kerf 1: all below z but the kerf."""
    return 40 * (40 * z - (22 * (z - 4) - 20 * (z - 5)))


def test_touching_along_an_edge_holds_nothing() -> None:
    """Two quarters of the block that meet in a line only."""
    front = many(shapely.union_all([rect(0, 0, 20, 20), rect(20, 20, 40, 40)]))
    stages = stages_of(cut_of("front", front, CUBE, kerf=0.0))
    pieces = [body for body in stages[0].bodies if body.is_part]
    # corners within a thousandth of a millimetre keep them together or not: never by an edge
    if len(pieces) == 1:
        assert len(stages[0].cut.as_cut.geoms) == 1
    waste = [body for body in stages[0].bodies if not body.is_part]
    assert len(waste) == 2


def cuts_of(shape: Shape, kerf: float) -> list[Cut]:
    return [cut_of(v, a, shape.stock, kerf=kerf) for v, a in shape.outlines.items()]


def test_a_part_of_two_bodies() -> None:
    """Both pieces are part; neither is an offcut, whatever holds the other."""
    cuts = cuts_of(TWO_CUBES, 0.2)
    last = stages_of(*cuts)[-1]
    assert len(set(last.pieces)) == 2
    assert volumes(last, "part") == pytest.approx([8**3, 8**3], rel=1e-3)  # and inside corners
    assert [i for i, body in enumerate(last.bodies) if body.is_part] == sorted(last.pieces)
    assert not any(body.is_part for body in last.loose)
    check_conserved(cutting_of(cuts), range(3), clear_offcuts=True)


def test_cubes_that_touch_in_a_point_are_joined_by_what_stays_in_inside_corners() -> None:
    cuts = cuts_of(CORNER_CUBES, 0.2)
    last = stages_of(*cuts)[-1]
    assert last.pieces == (0, 0)
    corner = (1 - math.pi / 4) * 0.1**2
    assert 2000 < volumes(last, "part")[0] < 2000 + 6 * corner * 20


def test_a_grazing_cut_takes_nothing() -> None:
    """The kerf's outer edge only touches what an earlier cut has left."""
    first = cut_of("front", rect(10, 10, 30, 30), CUBE, kerf=1.0)
    second = cut_of("right", rect(-2, 9, 42, 31), CUBE, kerf=1.0)
    job = cutting_of([first, second])
    before, after = stages_of(first, second)
    assert volumes(after, "part") == pytest.approx(volumes(before, "part"))
    assert len(job.cuts) == 2


# --- who is part, held, loose ------------------------------------------------------------------


def three_cuts(*, front_tabs: bool = True, right_tabs: bool = True) -> tuple[Stage, ...]:
    tabs = [(5.0, 20.0), (35.0, 20.0)]
    return stages_of(
        cut_of("front", rect(5, 5, 35, 35), CUBE, tabs=tabs if front_tabs else []),
        cut_of("right", rect(5, 5, 35, 35), CUBE, tabs=tabs if right_tabs else []),
        cut_of("top", Polygon([(20, 5), (35, 20), (20, 35), (5, 20)]), CUBE),
    )


def test_held_until_the_last_cut() -> None:
    stages = three_cuts()
    assert [stage.part_is_held for stage in stages] == [True, True, False]
    assert all(stage.part_was_held for stage in stages)
    assert [len(stage.bodies) for stage in stages] == [1, 1, 4]


def test_loose_after_the_first_cut_without_tabs() -> None:
    stages = three_cuts(front_tabs=False)
    assert [stage.part_is_held for stage in stages] == [False, False, False]
    assert [stage.part_was_held for stage in stages] == [True, False, False]


def test_clamped_elsewhere_in_the_last_setup() -> None:
    """The block in two halves: held on the left in the first setup, on the right in the second."""
    cuts = [
        cut_of("front", many(rect(-1, -1, 20, 41)), CUBE),
        cut_of("top", rect(5, 5, 15, 35), CUBE),
    ]
    held = stages_of(*cuts, clamps=[["left"], ["left"]], clear_offcuts=False)
    assert [stage.part_was_held for stage in held] == [True, True]
    lost = stages_of(*cuts, clamps=[["left"], ["right"]], clear_offcuts=False)
    assert [stage.part_is_held for stage in lost] == [True, False]
    assert [stage.part_was_held for stage in lost] == [True, False]


def test_loose_offcuts_are_lifted_before_the_next_cut() -> None:
    """A window in the front cut frees a slug; the top cut then finds it or not."""
    hole = rect(15, 15, 25, 25)
    area = Polygon(rect(2, 2, 38, 38).exterior, [hole.exterior])
    cuts = [
        cut_of("front", area, CUBE, tabs=[(2, 20)]),
        cut_of("top", rect(5, 5, 35, 35), CUBE),
    ]
    first, second = stages_of(*cuts, clear_offcuts=True)
    assert [body.status for body in first.bodies] == ["part", "loose"]
    assert second.lifted == (first.loose[0].solid,)
    assert first.lifted == ()
    kept = stages_of(*cuts, clear_offcuts=False)[1]
    assert kept.lifted == ()
    # of the slug the second cut makes a core and two ends, as the kerf goes right through it
    assert len(kept.bodies) == len(second.bodies) + 3
    assert kept.figures.area > second.figures.area
    slug = sum(b.solid.volume for b in kept.bodies) - sum(b.solid.volume for b in second.bodies)
    assert slug == pytest.approx(8 * 8 * (40 - 2 * 1))


def test_held_offcuts_stay() -> None:
    stages = stages_of(
        cut_of("front", rect(5, 5, 35, 35), CUBE, tabs=[(5, 20)]),
        cut_of("right", rect(5, 5, 35, 35), CUBE),
        clear_offcuts=True,
    )
    assert stages[1].lifted == ()
    assert "held" in [body.status for body in stages[1].bodies]


def test_the_part_is_never_lifted() -> None:
    """Loose as it is, the next cut is made on it all the same."""
    stages = three_cuts(front_tabs=False, right_tabs=False)
    assert volumes(stages[-1], "part") == pytest.approx([15 * 30 * 30])
    for stage in stages:
        assert all(not is_in(stage.part.solid, gone) for gone in stage.lifted)


def test_a_comb_is_one_cut() -> None:
    (stage,) = stages_of(cut_of("front", COMB.outlines["front"], COMB.stock, kerf=0.5))
    assert volumes(stage, "part") == pytest.approx([COMB.volume], rel=1e-2)
    # its inside corners keep a little, nothing is missing
    assert volumes(stage, "part")[0] > COMB.volume
    assert len([b for b in stage.bodies if not b.is_part]) == 3  # between four teeth


def test_bodies_tell_volume_size_and_place() -> None:
    (stage,) = stages_of(cut_of("top", rect(10, 5, 30, 25), CUBE))
    part = stage.part.solid
    assert part.volume == pytest.approx(20 * 20 * 40)
    assert part.size == pytest.approx([20, 20, 40])
    assert part.centroid == pytest.approx([20, 15, 20])
    assert [b.solid.volume for b in stage.bodies] == sorted(
        (b.solid.volume for b in stage.bodies), reverse=True
    )


def test_cuts_across_the_corner() -> None:
    """A view of its own in the second setup, the block seen over its edge."""
    view = view_along((1.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    middle = 20.0 * math.sqrt(2.0)
    cuts = [
        cut_of("top", rect(10, 10, 30, 30), CUBE, tabs=[(10, 20)]),
        cut_of(view, rect(middle - 20, 10, middle + 20, 30), CUBE, name="corner"),
    ]
    stages = stages_of(*cuts)
    assert stages[0].part_is_held
    assert volumes(stages[-1], "part")[0] >= 20 * 20 * 20
    check_conserved(cutting_of(cuts), [0, 1], clear_offcuts=True)


def test_a_round_bar() -> None:
    """A hexagon from a bar, then cut to length: the rings around it are held."""
    bar = Stock((30.0, 30.0, 60.0), diameter=30.0)
    angles = np.arange(6) * math.pi / 3
    hexagon = Polygon(np.column_stack([15 + 12 * np.cos(angles), 15 + 12 * np.sin(angles)]))
    cuts = [
        cut_of("top", hexagon, bar, tabs=[(15, 15 + 12 * math.cos(math.pi / 6))]),
        cut_of("front", rect(0, 10, 30, 50), bar),
    ]
    stages = stages_of(*cuts)
    assert stages[0].part_is_held
    section = 6 * math.sqrt(3) / 4 * 12**2
    tab = 2.0 * 1.0 * 40.0
    part = volumes(stages[-1], "part")[0]
    assert part >= section * 40 - 1e-6
    assert part - section * 40 > tab * 0.9  # the front cut spans the bar: it does not sever the tab
    check_conserved(cutting_of(cuts), [0, 1], clear_offcuts=True)


def test_a_disc_leaves_its_slug_in_the_frame() -> None:
    ring = Polygon(disc(20, 20, 15).exterior, [disc(20, 20, 6).exterior])
    (stage,) = stages_of(cut_of("top", ring, CUBE, kerf=0.5))
    assert sorted(body.status for body in stage.bodies) == ["held", "loose", "part"]


def test_progress_is_told_before_every_cut() -> None:
    cuts = [cut_of(view, rect(5, 5, 35, 35), CUBE) for view in ("front", "right")]
    told: list[tuple[int, int]] = []
    cutting_of(cuts).stages(
        range(2), clear_offcuts=True, progress=lambda done, total: told.append((done, total))
    )
    assert told == [(0, 2), (1, 2)]


@pytest.mark.parametrize("clear_offcuts", [True, False])
def test_what_was_lifted_out_takes_no_clamp(clear_offcuts: bool) -> None:
    """The slug of a thin frame has the larger faces from above: left in place, it is clamped."""
    plate = Stock((40.0, 4.0, 40.0))
    frame = Polygon(rect(-1, -1, 41, 41).exterior, [rect(2, 2, 38, 38).exterior])
    cuts = [cut_of("front", frame, plate), cut_of("top", rect(5, -1, 35, 5), plate)]
    first, second = stages_of(*cuts, clear_offcuts=clear_offcuts)
    assert first.part_is_held
    assert [body.volume for body in second.lifted] == pytest.approx([34 * 34 * 4] * clear_offcuts)
    assert second.part_was_held is clear_offcuts


def test_of_two_parts_the_larger_is_the_main_one() -> None:
    for large, small in ((15, 2), (2, 27)):
        pair = many(
            shapely.union_all([rect(large, 5, large + 22, 38), rect(small, 2, small + 9, 9)])
        )
        (stage,) = stages_of(cut_of("front", pair, CUBE))
        assert stage.part.solid.volume == pytest.approx(22 * 33 * 40)
        assert sum(body.is_part for body in stage.bodies) == 2


# --- other cuts of the same job ----------------------------------------------------------------


@pytest.mark.parametrize("seed", range(6))
def test_cuts_again(seed: int) -> None:
    """With a tab on one cut, stages are those of a new simulation; states without it are shared."""
    job = random_job(seed, aligned=seed % 2 == 0, least_cuts=3, tabs=0)
    cutting, changed = job.cutting, seed % 3
    order = range(len(job.cuts))
    before = [cutting.bodies(frozenset([k])) for k in order]
    cuts = list(cutting.cuts)
    cuts[changed] = with_tabs_at(cuts[changed], [(0.0, 0.0)])
    again = cutting.again(cuts)
    told = again.stages(order, clear_offcuts=seed % 2 == 0)
    anew = cutting_of(cuts).stages(order, clear_offcuts=seed % 2 == 0)
    for one, other in zip(told, anew, strict=True):
        assert [b.solid.volume for b in one.bodies] == [b.solid.volume for b in other.bodies]
        assert [b.status for b in one.bodies] == [b.status for b in other.bodies]
        assert (one.figures, one.pieces, one.main) == (other.figures, other.pieces, other.main)
        assert one.part_was_held == other.part_was_held
    for k in order:
        assert (again.bodies(frozenset([k])) is before[k]) == (k != changed)
