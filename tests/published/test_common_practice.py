"""What the trade takes for granted; and that it does not matter in which unit a job is given.

Sources
-------
Thickness to cut through
    Common practice, no source: a block is cut through its depth from the front, through its width
    from the side and through its height from above. So a 2 × 2 × 1 in block is cut through 2, 2 and
    1 in from front, side and top.
Inch
    The international inch is 25.4 mm exactly: NIST Special Publication 811, appendix B (from
    memory).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely

import silhouette3d
from silhouette3d.process.stages import Stage
from tests.published.drawn import Circle, Loop, Outlines
from tests.published.drawn import load as load_drawn
from tests.support.shapes import Shape, load, rect

INCH = 25.4
THROUGH = {"front": 2.0, "right": 2.0, "top": 1.0}
VIEWS = tuple(THROUGH)

EXACT = 1e-9
"""mm. Placed outlines are rounded to this."""


def lacking(width: float, height: float, *corner: float) -> shapely.Polygon:
    """A face without a rectangle in one of its corners."""
    left = shapely.difference(rect(0, 0, width, height), rect(*corner))
    assert isinstance(left, shapely.Polygon)
    return left


# A block 2 in wide, 2 in deep and 1 in high. Each cut takes a strip along another edge: the upper
# left one as seen from the front, the lower rear one, the front right one. None meets another.
STRIPS = Shape(
    (2, 2, 1),
    {
        "front": lacking(2, 1, 0, 0.75, 0.25, 1),
        "right": lacking(2, 1, 1.75, 0, 2, 0.25),
        "top": lacking(2, 2, 1.75, 0, 2, 0.25),
    },
    volume=2 * 2 * 1 - 0.25**2 * (2 + 2 + 1) + 0.25**3,
    area=0.0,
)


@pytest.fixture(scope="module")
def stages(tmp_path_factory: pytest.TempPathFactory) -> tuple[Stage, ...]:
    part = load(
        tmp_path_factory.mktemp("strips"),
        STRIPS,
        units="in",
        profiles={view: {"units": "in"} for view in VIEWS},
    )
    return part.stages


def test_the_thickness_of_the_stock_along_each_view(stages: tuple[Stage, ...]) -> None:
    # 25.4 times a whole number, to the last digits
    thickness = {stage.cut.name: stage.figures.stock_thickness / INCH for stage in stages}
    assert thickness == pytest.approx(THROUGH, rel=1e-12)


def test_the_thickness_that_is_there_when_nothing_was_cut_before(tmp_path: Path) -> None:
    """Each view as the first cut: full thickness all along its path."""
    for first in VIEWS:
        order = [first, *(view for view in VIEWS if view != first)]
        part = load(
            tmp_path,
            STRIPS,
            units="in",
            cutting={"order": order},
            profiles={view: {"units": "in"} for view in VIEWS},
        )
        figures = part.stages[0].figures
        assert figures.most / INCH == pytest.approx(THROUGH[first], rel=1e-9)
        assert figures.least / INCH == pytest.approx(THROUGH[first], rel=1e-9)


def test_cuts_that_meet_none_before_go_through_the_full_thickness(
    stages: tuple[Stage, ...],
) -> None:
    """Most along the path is the full thickness; never more, whatever was cut before."""
    for stage in stages:
        most = stage.figures.most / INCH
        # heights of the mesh, on walls rounded to 1e-9 mm
        assert most == pytest.approx(THROUGH[stage.cut.name], rel=1e-9)


def test_a_cut_across_an_earlier_one_has_less_to_go_through(tmp_path: Path) -> None:
    """From the front everything above 0.5 in is gone: from above 0.5 in are left."""
    half = Shape(
        (2, 2, 1),
        {"front": rect(0, 0, 2, 0.5), "top": lacking(2, 2, 1.75, 0, 2, 0.25)},
        0.0,
        0.0,
    )
    part = load(
        tmp_path, half, units="in", profiles={view: {"units": "in"} for view in half.outlines}
    )
    figures = part.stages[1].figures
    assert figures.stock_thickness / INCH == pytest.approx(1.0, rel=1e-12)
    # the path runs half a kerf beside the outline, where the part and all beside it are as high
    assert figures.most / INCH == pytest.approx(0.5, rel=1e-9)


# Units: the same job in millimetres, in inches, and mixed.

BULGED: list[Loop] = [
    [(0.25, 0.125), (2.75, 0.125, 0.5), (2.5, 1.5), (0.5, 1.25, -0.25)],
    Circle(1.5, 0.625, 0.25),
]
SLANTED: list[Loop] = [[(0.125, 0.0), (1.875, 0.25), (1.75, 1.5), (1.0, 1.375), (0.25, 1.5)]]
SIZE = (3.0, 2.0, 1.5)
"""In inches."""


def in_mm(loops: list[Loop]) -> list[Loop]:
    made: list[Loop] = []
    for loop in loops:
        if isinstance(loop, Circle):
            made.append(Circle(loop.u * INCH, loop.v * INCH, loop.radius * INCH))
        else:
            made.append([(c[0] * INCH, c[1] * INCH, *c[2:]) for c in loop])
    return made


INCHES: Outlines = {"front": BULGED, "right": SLANTED}
MILLIMETRES: Outlines = {
    view: in_mm(loops) for view, loops in (("front", BULGED), ("right", SLANTED))
}


def assert_same(one: silhouette3d.Part, other: silhouette3d.Part) -> None:
    """The same part, corner by corner."""
    # points that are 25.4 times as far in other digits are rounded to the same 1e-9 mm but for one
    # step, and the sums differ by as much
    assert one.solid.volume == pytest.approx(other.solid.volume, rel=1e-9)
    assert one.solid.surface_area == pytest.approx(other.solid.surface_area, rel=1e-9)
    assert one.mass == pytest.approx(other.mass, rel=1e-9)
    assert np.allclose(one.measures.centre, other.measures.centre, rtol=1e-9, atol=0)
    assert np.allclose(one.solid.bounds, other.solid.bounds, rtol=0, atol=2 * EXACT)
    largest = np.abs(one.measures.inertia).max()
    assert np.allclose(one.measures.inertia, other.measures.inertia, rtol=0, atol=1e-9 * largest)
    assert one.volume_error == pytest.approx(other.volume_error, rel=1e-9)
    assert len(one.solid.mesh.vertices) == len(other.solid.mesh.vertices)


@pytest.fixture
def metric(tmp_path: Path) -> silhouette3d.Part:
    size = (SIZE[0] * INCH, SIZE[1] * INCH, SIZE[2] * INCH)
    (tmp_path / "mm").mkdir()
    return load_drawn(tmp_path / "mm", size, MILLIMETRES, tolerance=0.0254)


def test_a_job_in_inches_is_the_job_in_millimetres(
    metric: silhouette3d.Part, tmp_path: Path
) -> None:
    """Stock, tolerance and drawings in inches; the density stays in g/cm³."""
    assert_same(metric, load_drawn(tmp_path, SIZE, INCHES, units="in", tolerance=0.001))


def test_drawings_in_inches_in_a_job_in_millimetres(
    metric: silhouette3d.Part, tmp_path: Path
) -> None:
    """A drawing that states its unit keeps it: $INSUNITS is 1 for inches, 4 for millimetres."""
    inches = load_drawn(tmp_path, SIZE, INCHES, units="in", tolerance=0.001)
    text = (tmp_path / "job.toml").read_text("utf-8")
    size = ", ".join(repr(side * INCH) for side in SIZE)
    text = text.replace('units = "in"', 'units = "mm"').replace("0.001", "0.0254")
    text = text.replace("[3.0, 2.0, 1.5]", f"[{size}]")
    (tmp_path / "job.toml").write_text(text, "utf-8")
    mixed = silhouette3d.load(tmp_path)
    assert (inches.job.units, mixed.job.units) == ("in", "mm")
    assert_same(metric, mixed)
