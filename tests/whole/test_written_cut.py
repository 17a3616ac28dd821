"""What is written is what is cut: an independent cutter follows the drawings of the setups."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
import shapely
from shapely import LineString, Polygon

import silhouette3d
from tests.documents.test_setup_drawings import SAMPLES, job_in
from tests.oracles.cutter import areas_on, beside, gap_at, lines_on, swept
from tests.support.shapes import many, rect, write_dxf

ROOT = Path(__file__).resolve().parents[2]

Runs = Callable[[Path, float], list[LineString]]


def path_as_written(file: Path, kerf: float) -> list[LineString]:
    return lines_on(file, "PATH")


def outline_compensated(file: Path, kerf: float) -> list[LineString]:
    return beside(lines_on(file, "OUTLINE"), kerf)


@pytest.mark.parametrize("runs_of", [path_as_written, outline_compensated])
@pytest.mark.parametrize("name", SAMPLES)
def test_tabs_of_the_samples_are_as_wide_as_told(name: str, runs_of: Runs, tmp_path: Path) -> None:
    """Where they are narrowest: 2 mm of the tugboat, 0.08 in of the crane, 8 mm of the lighthouse.

    The ends of the cut are at the feet of the tab's ends on the true curves, a tolerance off
    the chords on which it is measured, on either side.
    """
    part = silhouette3d.load(ROOT / "samples" / name)
    files = part.setups(tmp_path)
    kerf = part.job.cutting.kerf
    count = 0
    for index, file in zip(part.order_of_cuts, files, strict=True):
        told = part.cuts[index].tabs
        shapes = areas_on(file, "TABS")
        assert len(shapes) == len(told)
        for tab, shape in zip(told, shapes, strict=True):
            gap = gap_at(runs_of(file, kerf), kerf, shape)
            assert gap.width == pytest.approx(tab.width, abs=2.0 * part.job.tolerance)
            count += 1
    assert count > 0


@pytest.mark.parametrize("runs_of", [path_as_written, outline_compensated])
@pytest.mark.parametrize("width", [0.3, 0.9, 2.0, 5.0])
@pytest.mark.parametrize(
    "at", [(30, 10), (10, 10), (11, 30), (50, 38.66), (30, 30), (30.5, 29.5), (20, 50)]
)
def test_a_tab_is_as_wide_as_told_wherever_it_is(
    at: tuple[float, float], width: float, runs_of: Runs, tmp_path: Path
) -> None:
    """On a side, at and near outer corners, on a round one, in and near an inside corner."""
    area = shapely.union_all([rect(10, 10, 60, 30), rect(10, 30, 30, 50)])
    area = area.union(shapely.Point(45, 30).buffer(10, quad_segs=64))
    write_dxf(tmp_path / "front.dxf", {"0": many(area)})
    more = f"tab = [{{at = {list(at)}, width = {width}}}]"
    part = silhouette3d.load(job_in(tmp_path, more))
    (file,) = part.setups(tmp_path / "out")
    (shape,) = areas_on(file, "TABS")
    kerf = part.job.cutting.kerf
    gap = gap_at(runs_of(file, kerf), kerf, shape)
    assert gap.width == pytest.approx(width, abs=2.0 * part.job.tolerance)


def drawn_area(file: Path) -> shapely.Geometry:
    """What the lines of the outline enclose, what lies in an odd number of them."""
    lines = shapely.union_all(lines_on(file, "OUTLINE") + lines_on(file, "UNCUT"), grid_size=1e-6)
    cells = shapely.get_parts(shapely.polygonize([shapely.node(lines)]))
    rings = shapely.get_parts(shapely.line_merge(lines))
    loops = [shapely.make_valid(Polygon(ring.coords)) for ring in rings if ring.is_closed]
    inside = [
        cell
        for cell in cells
        if sum(loop.contains(cell.representative_point()) for loop in loops) % 2
    ]
    return shapely.union_all(inside)


@pytest.mark.parametrize("name", SAMPLES)
def test_who_follows_the_path_touches_the_part_nowhere(name: str, tmp_path: Path) -> None:
    """Leads too; and where the cutter breaks through, it is a kerf off the part.

    Unless it does so beyond the stock, or in a hole that is too small for that: there a hole is
    drilled first. That is asked of the first setup, before which all of the stock stands. Path
    and outline are each within three tolerances of what was drawn.
    """
    part = silhouette3d.load(ROOT / "samples" / name)
    kerf, room = part.job.cutting.kerf, 6.0 * part.job.tolerance
    starts = 0
    for number, file in enumerate(part.setups(tmp_path), start=1):
        area, runs = drawn_area(file), lines_on(file, "PATH")
        assert shapely.area(area) > 0.0
        taken = shapely.intersection(swept(runs, kerf), shapely.buffer(area, -room))
        assert taken.area == pytest.approx(0.0, abs=1e-9)
        (stock,) = areas_on(file, "STOCK")
        for run in runs:
            start = shapely.Point(run.coords[0])
            if number > 1 or not stock.contains(start):
                continue
            holes = [Polygon(r) for p in shapely.get_parts(area) for r in p.interiors]
            small = any(
                hole.contains(start)
                and shapely.length(shapely.maximum_inscribed_circle(hole)) < kerf + room
                for hole in holes
            )
            if not small:
                assert shapely.distance(area, start) > kerf - room
            starts += 1
    assert starts > 0
