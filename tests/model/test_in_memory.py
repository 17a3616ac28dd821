"""Parts from outlines in memory are those that a job file with the same drawings makes."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import shapely
from ezdxf.filemanagement import new, readfile
from shapely import MultiPolygon, Point, Polygon, box

from silhouette3d import (
    Bar,
    Block,
    Checks,
    Cutting,
    DrawingError,
    JobError,
    Outline,
    Part,
    Setup,
    load,
    view_along,
)

BLOCK = Block(60, 50, 40, density=8.5)
FRONT = Polygon([(5, 0), (55, 0), (55, 30), (40, 30), (40, 12), (20, 12), (20, 30), (5, 30)])
TOP = Polygon(Point(30, 25).buffer(20).exterior, [box(28, 20, 33, 27).exterior])


def drawn(path: Path, area: Polygon) -> None:
    """A DXF with the rings of a polygon, written by ezdxf alone."""
    doc = new("R2010")
    doc.header["$INSUNITS"] = 4
    for ring in (area.exterior, *area.interiors):
        doc.modelspace().add_lwpolyline(ring.coords[:-1], close=True)
    doc.saveas(path)


def test_a_part_in_memory_is_that_of_its_job_file(tmp_path: Path) -> None:
    drawn(tmp_path / "front.dxf", FRONT)
    drawn(tmp_path / "top.dxf", TOP)
    (tmp_path / "job.toml").write_text(
        'name = "p"\n[stock]\nsize = [60.0, 50.0, 40.0]\ndensity = 8.5\n'
        '[[profile]]\nview = "front"\ndrawing = "front.dxf"\ndatum = [0.0, 0.0]\n'
        'clamp = ["left"]\n[[profile.tab]]\nat = [5.0, 20.0]\nwidth = 3.0\n'
        '[[profile]]\nview = "top"\ndrawing = "top.dxf"\ndatum = [0.0, 0.0]\n'
        '[checks]\nthin = 12.0\n[cutting]\nkerf = 1.0\norder = ["top", "front"]\n',
        "utf-8",
    )
    read = load(tmp_path)
    made = Part.from_outlines(
        BLOCK,
        front=Setup(FRONT, tabs=[(5, 20, 3)], clamp=["left"]),
        top=TOP,
        name="p",
        checks=Checks(thin=12.0),
        cutting=Cutting(kerf=1.0, order=("top", "front")),
    )
    assert made.solid.volume == read.solid.volume
    assert [s.cut.name for s in made.stages] == ["top", "front"]
    assert [f.code for f in made.findings] == [f.code for f in read.findings]
    assert [f.where for f in made.findings] == [f.where for f in read.findings]


def test_what_is_made_in_memory_is_written_as_any_part(tmp_path: Path) -> None:
    part = Part.from_outlines(BLOCK, front=FRONT, top=TOP)
    part.sheets(tmp_path / "sheets.pdf")
    part.export(tmp_path / "part.stl")
    part.picture_outline("front", tmp_path / "front.png")
    (first, _) = part.setups(tmp_path / "setups")
    lines = readfile(first).modelspace().query('LWPOLYLINE[layer=="OUTLINE"]')
    areas = [Polygon(line.get_points("xy")).area for line in lines]  # type: ignore[attr-defined]
    assert sum(areas) == pytest.approx(FRONT.area, rel=1e-9)  # straight sides are kept as they are


def test_a_bar_from_the_side_is_its_closed_form() -> None:
    """A bar of diameter d across which a flat is cut at its axis keeps half its volume."""
    part = Part.from_outlines(Bar(40, 90, along="x", density=1.0), front=box(0, 0, 90, 20))
    whole = math.pi / 4 * 40**2 * 90
    assert part.solid.volume == pytest.approx(whole / 2, abs=part.volume_error)


def test_views_of_your_own_are_keys() -> None:
    view = view_along((1, 1, 0), (0, 0, 1), name="from the corner")
    width = 50 / math.sqrt(2) + 60 / math.sqrt(2)  # of the block's shadow along (1, 1, 0)
    part = Part.from_outlines(BLOCK, {view: box(0, 0, width / 2, 40), "top": TOP})
    assert part.job.names == ("from the corner", "top")
    assert np.allclose(part.profiles[0].view.look, view.look)
    assert 0 < part.solid.volume < TOP.area * 40


def test_an_outline_of_a_part_serves_again() -> None:
    first = Part.from_outlines(BLOCK, front=FRONT)
    again = Part.from_outlines(BLOCK, front=first.profiles[0].outline)
    assert isinstance(first.profiles[0].outline, Outline)
    assert again.solid.volume == first.solid.volume


def test_several_polygons_are_one_outline() -> None:
    two = MultiPolygon([box(0, 0, 10, 10), box(20, 0, 30, 10)])
    assert Part.from_outlines(BLOCK, front=two).solid.volume == pytest.approx(2 * 100 * 50)


def bow_tie() -> Polygon:
    return Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])


@pytest.mark.parametrize(
    ("make", "error", "words"),
    [
        (lambda: Part.from_outlines(BLOCK, front=Point(1, 1)), DrawingError, "kind Point"),
        (lambda: Part.from_outlines(BLOCK, front=bow_tie()), DrawingError, "Self-intersection"),
        (lambda: Part.from_outlines(BLOCK, front=Polygon()), DrawingError, "empty"),
        (lambda: Part.from_outlines(BLOCK, front="front.dxf"), DrawingError, "kind str"),  # type: ignore[arg-type]
        (lambda: Part.from_outlines(BLOCK, {"side": FRONT}), JobError, "'side'"),
        (lambda: Part.from_outlines(BLOCK, {None: FRONT}), JobError, "no view"),  # type: ignore[dict-item]
        (
            lambda: Part.from_outlines(BLOCK, {"front": FRONT}, front=FRONT),
            JobError,
            "two outlines",
        ),
        (lambda: Part.from_outlines(BLOCK, front=Setup(FRONT, tabs="ab")), JobError, "is no tab"),  # type: ignore[arg-type]
        (lambda: Part.from_outlines(BLOCK, front=Setup(FRONT, clamp="left")), JobError, "no list"),
        (lambda: Part.from_outlines(BLOCK), JobError, "profile"),
        (lambda: Part.from_outlines(Block(0, 1, 1, density=1), front=FRONT), JobError, "size"),
        (lambda: Part.from_outlines(Block(9, 9, 9), front=FRONT), JobError, "material"),
        (
            lambda: Part.from_outlines(BLOCK, front=Setup(FRONT, tabs=[(1.0,)])),
            JobError,
            "is no tab",
        ),
        (
            lambda: Part.from_outlines(BLOCK, front=FRONT, cutting=Cutting(order=("top",))),
            JobError,
            "order",
        ),
    ],
)
def test_what_cannot_be_is_told(
    make: Callable[[], Part], error: type[Exception], words: str
) -> None:
    with pytest.raises(error, match=words):
        make()


def test_tabs_may_be_an_array() -> None:
    part = Part.from_outlines(BLOCK, front=Setup(FRONT, tabs=np.array([(5.0, 20.0), (55.0, 20.0)])))  # type: ignore[arg-type]
    assert len(part.cuts[0].tabs) == 2


def test_depth_and_height_of_points_are_left_aside() -> None:
    flat = shapely.force_3d(FRONT, 7.0)
    assert Part.from_outlines(BLOCK, front=flat).solid.volume == pytest.approx(FRONT.area * 50)
