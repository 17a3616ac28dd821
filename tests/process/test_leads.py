"""How runs begin: leads lie in waste that may be spoilt, and cut nothing that must stay."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Point, Polygon

from silhouette3d.drawing.model import Arc, Line
from silhouette3d.geometry.stock import Stock
from silhouette3d.process.cut import Cut
from silhouette3d.process.leads import Driving
from silhouette3d.process.runs import Run, runs_of
from silhouette3d.process.stages import Stage
from tests.support.cut_jobs import TOLERANCE, cut_of, random_job, stages_of
from tests.support.shapes import disc, rect

PLATE = Stock((100.0, 10.0, 100.0))

SLACK = 4.0 * TOLERANCE
"""mm. Discs here and there are polygons, and chords stand for the path: a tolerance each, and
two that a lead may graze by."""


def plate(area: Polygon | MultiPolygon, **more: object) -> Cut:
    return cut_of("front", area, PLATE, **more)  # type: ignore[arg-type]


def runs_in_stock(cut: Cut, **driving: object) -> tuple[Run, ...]:
    there = cut.stock.shadow(cut.profile.view)
    return runs_of(cut, there, Driving(**driving))  # type: ignore[arg-type]


def proven(cut: Cut, runs: tuple[Run, ...], there: shapely.Geometry, pierce: float) -> None:
    """Set arithmetic with discs of a general library, for every run."""
    radius = cut.kerf / 2.0
    part = cut.profile.area
    for run in runs:
        for lead in run.leads:
            swept = lead.line.buffer(radius - SLACK)
            assert not shapely.intersects(swept, part)
            for tab in cut.tabs:
                # the strip between the two ends of the cut, as wide as the tab
                neck = cut.neck(tab).buffer(1e-6)
                assert not shapely.intersects(swept, neck)
        if run.lead_in is None:
            continue
        # it leads onto the run and goes on where that begins
        assert run.lead_in.end == pytest.approx(run.first, abs=1e-9)
        if run.start in ("hole", "pierce"):
            spot = Point(run.begins).buffer(pierce - SLACK)
            assert not shapely.intersects(spot, part)
            assert not any(shapely.intersects(spot, cut.neck(tab)) for tab in cut.tabs)
        elif run.start == "edge":
            assert not shapely.intersects(there, Point(run.begins))


def in_one_piece(stage: Stage, there: shapely.Geometry) -> None:
    """What the waste holds the part by is in as many pieces with leads as without."""
    cut = stage.cut
    radius = cut.kerf / 2.0
    waste = shapely.difference(there, shapely.buffer(cut.profile.area, cut.kerf))
    leads = [lead.line.buffer(radius) for run in stage.runs for lead in run.leads]
    left = shapely.difference(waste, shapely.union_all(leads))
    held = [p for p in shapely.get_parts(waste) if shapely.dwithin(p, _necks(cut), 2 * cut.kerf)]
    for piece in held:
        inside = [p for p in shapely.get_parts(shapely.intersection(left, piece)) if p.area > 0.01]
        assert len(inside) <= 1


def _necks(cut: Cut) -> shapely.Geometry:
    return shapely.union_all([cut.neck(tab) for tab in cut.tabs])


def seen_before(stage: Stage) -> shapely.Geometry:
    bodies = [body.shadow(stage.cut.profile.view) for body in stage.before]
    shadow = MultiPolygon([p for b in bodies for p in b.geoms])
    return shapely.union_all(list(stage.cut.profile.to_face(shadow).geoms))


@pytest.mark.parametrize("seed", range(10))
def test_leads_of_random_jobs_spoil_nothing(seed: int) -> None:
    job = random_job(4100 + seed, aligned=seed % 2 == 0)
    for stage in stages_of(*job.cuts):
        there = seen_before(stage)
        proven(stage.cut, stage.runs, there, stage.cut.kerf)
        in_one_piece(stage, there)


@pytest.mark.big
@pytest.mark.parametrize("seed", range(200))
def test_leads_of_many_random_jobs_spoil_nothing(seed: int) -> None:
    test_leads_of_random_jobs_spoil_nothing(5000 + seed)


FORMS = {
    "ring": Polygon(rect(10, 10, 60, 60).exterior, [rect(20, 20, 50, 50).exterior]),
    "round": Polygon(disc(50, 50, 30).exterior, [disc(50, 50, 8).exterior]),
    "star": Polygon(
        [
            (50 + r * math.cos(a), 50 + r * math.sin(a))
            for a, r in zip(
                np.linspace(0, 2 * math.pi, 10, endpoint=False), [35, 14] * 5, strict=True
            )
        ]
    ),
}


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("form", FORMS)
def test_a_wide_plate_gets_a_lead_for_every_run(form: str, side: str) -> None:
    """Three kerfs long; along a side an arc that runs on into the cut without a corner."""
    cut = plate(FORMS[form])
    runs = runs_in_stock(cut, side=side)
    proven(cut, runs, PLATE.shadow(cut.profile.view), 1.0)
    for run in runs:
        assert run.lead_in is not None
        assert run.lead_in.length == pytest.approx(3.0)
        if not isinstance(run.lead_in.piece, Arc):
            assert form == "ring"  # begins in a corner, where no arc fits
            continue
        before, behind = shapely.get_coordinates(run.lead_in.line)[-2:], run.line.coords[:2]
        ways = [np.subtract(*pair[::-1]) for pair in (before, behind)]
        one, other = (way / np.linalg.norm(way) for way in ways)
        # the lead is a tangent of the curve; its chord goes off by half the turn of one
        half = math.acos(1.0 - TOLERANCE / (cut.kerf / 2.0))
        assert float(one @ other) > math.cos(half + math.radians(3.0))  # and the lead's own


@pytest.mark.parametrize("side", ["left", "right"])
def test_the_part_is_on_the_hand_asked_for(side: str) -> None:
    cut = plate(FORMS["ring"], tabs=[(10, 30), (20, 30)])
    runs = runs_in_stock(cut, side=side)
    assert len(runs) == 2
    for run in runs:
        points = shapely.get_coordinates(run.line)
        along = np.diff(points, axis=0)
        left = np.column_stack([-along[:, 1], along[:, 0]])
        left /= np.linalg.norm(left, axis=1, keepdims=True)
        probes = (points[1:] + points[:-1]) / 2.0 + (1e-4 if side == "left" else -1e-4) * left
        assert shapely.contains(cut.within_path, shapely.points(probes)).all()
    assert {run.is_hole for run in runs} == {True, False}


def test_both_hands_are_mirror_images() -> None:
    """Of an outline that is its own mirror image, no matter which way its points run."""
    area = Polygon([(50, 20), (80, 50), (50, 80), (20, 50)])
    lengths = [sum(r.length for r in runs_in_stock(plate(area), side=s)) for s in ("left", "right")]
    assert lengths[0] == pytest.approx(lengths[1])


@pytest.mark.parametrize(("pierce", "start"), [(0.8, "hole"), (1.2, "drilled")])
def test_a_small_hole_is_begun_in_its_middle_where_a_spot_would_spoil_it(
    pierce: float, start: str
) -> None:
    """A hole of radius 1: its wall is 1 mm off the middle, further than the one spot reaches."""
    cut = plate(Polygon(rect(10, 10, 90, 90).exterior, [disc(50, 50, 1).exterior]))
    run = runs_in_stock(cut, pierce=pierce)[0]
    assert run.start == start
    if start == "drilled":
        assert run.begins == pytest.approx((50, 50), abs=0.02)
        assert run.lead_in is not None
        assert isinstance(run.lead_in.piece, Line)
        assert run.lead_in.length == pytest.approx(
            0.5, abs=0.02
        )  # the hole's radius less half a kerf


def test_a_slot_as_wide_as_the_cutter_is_begun_on_its_wall() -> None:
    for wide, start in ((1.04, "wall"), (1.16, "drilled")):
        slot = shapely.LineString([(30, 50), (70, 50)]).buffer(wide / 2.0, quad_segs=32)
        (run, _) = runs_in_stock(plate(Polygon(rect(10, 10, 90, 90).exterior, [slot.exterior])))
        assert run.start == start


@pytest.mark.parametrize(("lead", "pierce"), [(2.0, None), (6.0, 2.5), (0.0, None)])
def test_lengths_are_as_asked_for(lead: float, pierce: float | None) -> None:
    cut = plate(FORMS["ring"])
    runs = runs_in_stock(cut, lead=lead, pierce=pierce)
    proven(cut, runs, PLATE.shadow(cut.profile.view), 1.0 if pierce is None else pierce)
    for run in runs:
        if lead:
            assert run.lead_in is not None
            assert run.lead_in.length == pytest.approx(lead)
        elif not run.is_hole:
            assert run.start == "wall"


@pytest.mark.parametrize("margin", [1.5, 3.0, 6.0, 20.0])
def test_a_narrow_frame_is_not_cut_through(margin: float) -> None:
    """The frame hangs on two tabs; beside a lead a kerf of it stays, or there is no lead."""
    area = rect(margin, margin, 100 - margin, 100 - margin)
    cut = plate(area, tabs=[(margin, 50), (100 - margin, 50)])
    (stage,) = stages_of(cut)
    there = PLATE.shadow(cut.profile.view)
    proven(cut, stage.runs, there, 1.0)
    in_one_piece(stage, there)
    assert ({run.start for run in stage.runs} == {"wall"}) == (margin == 1.5)


def test_leads_keep_clear_of_clamps_and_of_the_head() -> None:
    """A clamp lies right where the run of before would begin; a head of 12 mm moves it further."""
    cut = plate(rect(30, 30, 70, 70))
    (free,) = stages_of(cut)
    u, v = free.runs[0].begins
    pad = (u - 2.0, v - 2.0, u + 2.0, v + 2.0)
    for head in (0.0, 12.0):
        there = PLATE.shadow(cut.profile.view)
        clamps = shapely.box(*pad)
        (run,) = runs_of(cut, there, Driving(head=head), clamps=clamps)
        assert run.lead_in is not None
        assert run.lead_in.line.distance(clamps) >= max(head / 2.0, 0.5) - 1e-9


@pytest.mark.parametrize("tolerance", [0.001, 0.01, 0.05])
@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("tabs", [(), ((50.0, 56.0),)])
def test_a_lead_touches_a_round_wall_as_its_tangent(
    tolerance: float, side: str, tabs: tuple[tuple[float, float], ...]
) -> None:
    """A disc driven along the lead of a hole stays inside its true circle, not its chords.

    The arc leaves the wall in its tangent, so that only the straight pieces that stand for the
    lead, and for the path where it begins between two tabs, may be off: by their sagitta.
    """
    hole = Polygon(Point(50, 50).buffer(6.0, round(math.pi / math.acos(1 - tolerance / 6.0) / 2)))
    area = shapely.difference(rect(20, 20, 80, 80), hole)
    assert isinstance(area, Polygon)
    cut = cut_of("front", area, PLATE, kerf=1.0, tolerance=tolerance, tabs=tabs, width=2.0)
    for run in runs_in_stock(cut, side=side):
        if not run.is_hole:
            continue
        assert run.leads
        for lead in run.leads:
            points = shapely.get_coordinates(lead.line)
            far = np.hypot(*(points - 50.0).T) + 0.5
            assert far.max() < 6.0 + 1.1e-3 + (tolerance if tabs else 0.0)
