"""Drawings that do not close: what the refusal says, and that what it offers comes out so."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

import silhouette3d
from silhouette3d.drawing.model import Arc, Curve, Drawing, Line, Shape
from silhouette3d.drawing.outline.outline import outline_of
from silhouette3d.drawing.outline.survey import Survey
from silhouette3d.drawing.read import read_drawing
from silhouette3d.errors import DrawingError
from silhouette3d.job.model import job_from
from tests.support.dxf_files import bare, tags
from tests.support.loops import Points, arcs, circle, line, lines, loop, outline, refused, turned

PLATE: Points = [(0, 0), (40, 0), (40, 30), (0, 30)]
"""1,200 mm², in four lines: the sheet of most of these drawings."""


def survey(error: DrawingError) -> Survey:
    assert isinstance(error.about, Survey)
    return error.about


def kinds(error: DrawingError) -> list[str]:
    return [end.kind for end in survey(error).open_ends]


def offered(error: DrawingError) -> dict[tuple[str, str], float]:
    return {(offer.key, offer.value): offer.area for offer in survey(error).offers}


# What the headline says, of the commonest drawings that were refused.


@pytest.mark.parametrize(
    ("drawn", "says", "ends"),
    [
        ([line((0, 15), (40, 15))], "a line ends on a closed outline", "2 on another line"),
        (
            [line((-5, 15), (45, 15))],
            "a line runs through a closed outline",
            "2 outside all that is closed",
        ),
        (
            [line((5, 15), (35, 15))],
            "1 open line inside a closed outline",
            "2 inside a closed region",
        ),
        (
            [line((5, 10), (35, 10)), line((5, 20), (35, 20))],
            "2 open lines inside a closed outline",
            "4 inside a closed region",
        ),
        (
            [line((50, 10), (60, 10))],
            "1 open line outside the closed outline",
            "2 outside all that is closed",
        ),
        ([line((20, 30), (20, 45))], "a line ends on a closed outline", "1 on another line"),
    ],
)
def test_a_line_beside_what_closes(drawn: list[Shape], says: str, ends: str) -> None:
    error = refused(*lines(PLATE), *drawn)
    assert error.what.startswith(says)
    assert re.search(
        rf"; {2 * len(drawn)} of {8 + 2 * len(drawn)} line ends are open: .*{ends}", error.what
    )
    assert "join" not in error.todo
    assert offered(error) == pytest.approx({("open", "ignore"): 1200, ("take", "silhouette"): 1200})


def test_lines_across_a_circle_as_in_the_head_of_a_screw() -> None:
    end = math.sqrt(20**2 - 5**2)
    slot = [line((-end, v), (end, v)) for v in (-5.0, 5.0)]
    error = refused(circle((0, 0), 20), *slot)
    assert error.what.startswith("2 lines end on a closed outline")
    assert kinds(error) == ["on a line"] * 4
    for area in offered(error).values():
        assert area == pytest.approx(400 * math.pi, rel=1e-3)  # chords


@pytest.mark.parametrize("apart", [0.0501, 0.3, 0.4999])
def test_ends_of_two_lines_near_each_other_are_to_be_joined(apart: float) -> None:
    error = refused(line((apart, 0), (30, 0)), line((30, 0), (30, 30), (0, 30), (0, 0)))
    assert kinds(error) == ["gap", "gap"]
    assert error.what.startswith(f"the outline is open: a gap of {apart:.4g} mm between ")
    assert error.todo.startswith("join the two ends")
    assert offered(error) == {}


def test_ends_far_from_each_other_are_not_to_be_joined() -> None:
    """Ten times a gap that is closed, or a hundredth of the drawing, is near."""
    for side, apart in ((30.0, 0.51), (300.0, 4.3)):
        error = refused(
            line((apart, 0), (side, 0)), line((side, 0), (side, side), (0, side), (0, 0))
        )
        assert kinds(error) == ["outside", "outside"]
        assert f"{apart:.4g} mm away" in error.what
        assert "join" not in error.todo
    near = refused(line((4.2, 0), (300, 0)), line((300, 0), (300, 300), (0, 300), (0, 0)))
    assert kinds(near) == ["gap", "gap"]


def test_a_line_that_nearly_closes_by_itself_has_a_gap() -> None:
    error = refused(line((0, 0), (30, 0), (30, 30), (0, 30), (0, 0.2)))
    assert "a gap of 0.2 mm" in error.what
    short = refused(*lines(PLATE), line((10, 10), (10.2, 10)))
    assert kinds(short) == ["inside", "inside"]  # its own ends are near each other, that is all


@pytest.mark.parametrize(("off", "kind"), [(0.059, "on a line"), (0.061, "inside")])
def test_an_end_on_a_line_may_miss_it_by_a_small_gap_and_the_tolerance(
    off: float, kind: str
) -> None:
    error = refused(*lines(PLATE), line((20, off), (20, 20)))
    assert kinds(error) == [kind, "inside"]


@pytest.mark.parametrize(("count", "offers"), [(8, 8), (9, 0)])
def test_many_layers_are_not_tried_one_by_one(count: int, offers: int) -> None:
    plates = [loop([(u + 50.0 * k, v) for u, v in PLATE], layer=f"P{k}") for k in range(count)]
    error = refused(*plates, line((5, 5), (9, 9), layer="P0"))
    alone = [key for key in offered(error) if key[0] == "layer"]
    assert len(alone) == max(offers - 1, 0)  # the one with the line is open
    assert len(offered(error)) == len(alone) + 2


def test_gaps_of_other_lines_do_not_stand_in_the_way() -> None:
    """Letters drawn as strokes beside the plate have ends near each other."""
    strokes = [line((50, 5), (55, 9)), line((55.2, 9), (60, 5))]
    error = refused(*lines(PLATE), *strokes)
    assert kinds(error).count("gap") == 2
    assert offered(error) == pytest.approx({("open", "ignore"): 1200, ("take", "silhouette"): 1200})


def test_two_lines_that_end_beside_each_other_on_a_third_have_no_gap() -> None:
    error = refused(*lines(PLATE), line((20, 0), (20, 12)), line((20.3, 0), (20.3, 14)))
    assert sorted(kinds(error)) == ["inside", "inside", "on a line", "on a line"]


def test_gaps_beside_a_hole_do_not_offer_the_hole_as_the_outline() -> None:
    """What closes is the hole: a part of that shape was not meant."""
    hole = circle((15, 15), 5)
    for apart in (0.3, 12.0):
        error = refused(line((apart, 0), (30, 0)), line((30, 0), (30, 30), (0, 30), (0, 0)), hole)
        assert offered(error) == {}


def test_an_odd_number_of_lines_that_meet() -> None:
    error = refused(*lines(PLATE, layer="OUT"), line((0, 0), (40, 30), layer="OUT"))
    assert error.what.startswith("3 lines meet at (0, 0) mm, so it is not clear where")
    assert "(an odd number meets at 1 more place)" in error.what
    assert [m.lines for m in survey(error).meetings] == [3, 3]
    assert offered(error) == pytest.approx({("take", "silhouette"): 1200})


def test_a_stroke_that_is_open_is_to_be_made_a_path() -> None:
    shape = line((10, 30), (20, 10), (30, 30))
    with pytest.raises(DrawingError, match="convert strokes to paths") as caught:
        outline_of(Drawing(Path("a.svg"), (shape,), "millimetre", True))
    assert "(10, 30) mm" in caught.value.what
    assert "(30, 30) mm" in caught.value.what
    assert "convert" not in refused(shape).todo  # in DXF a line has no width to speak of


def test_places_are_told_in_the_units_of_the_file_and_in_mm() -> None:
    inch = Drawing(
        Path("a.dxf"),
        (*lines(PLATE), line((12.7, 25.4), (25.4, 25.4))),
        "inch",
        True,
        mm_per_unit=25.4,
    )
    with pytest.raises(DrawingError, match=r"\(0\.5, 1\) inch = \(12\.7, 25\.4\) mm") as caught:
        outline_of(inch)
    assert "(1.86 in²)" in caught.value.todo  # 1200 / 25.4²


# Selection: what is closed when taken alone.


def marked(shape: Shape, **marks: Any) -> Shape:
    return Shape(shape.curves, shape.fill, **marks)


def test_what_is_closed_when_taken_alone_is_named() -> None:
    plate = [marked(s, colour="#ff0000", linetype="CONTINUOUS") for s in lines(PLATE, layer="CUT")]
    axis = marked(line((-5, 15), (45, 15), layer="CENTRE"), colour="#0000ff", linetype="CENTER")
    frame = marked(loop([(-9, -9), (49, -9), (49, 39), (-9, 39)], layer="FRAME"), colour="#000000")
    error = refused(*plate, axis, frame)
    assert offered(error) == pytest.approx(
        {
            ("layer", "CUT"): 1200,
            ("layer", "FRAME"): 58 * 48,
            ("colour", "#ff0000"): 1200,
            ("colour", "#000000"): 58 * 48,
            ("linetype", "CONTINUOUS"): 1200,
            ("open", "ignore"): 58 * 48 - 1200,
            ("take", "silhouette"): 58 * 48,
        }
    )
    assert error.where == "a.dxf, layer 'CENTRE'"
    drawn = [*plate, axis, frame]
    assert outline(*drawn, layers=("cut",)).polygons.area == 1200
    assert outline(*drawn, colours=("#ff0000",)).polygons.area == 1200
    assert outline(*drawn, linetypes=("continuous",)).polygons.area == 1200
    both = outline(*drawn, layers=("CUT", "FRAME"), colours=("#000000",))
    assert both.polygons.area == 58 * 48


@pytest.mark.parametrize(
    ("choice", "says", "there"),
    [
        ({"layers": ("CUTS",)}, "on a layer 'CUTS'", "'CUT', 'ETCH'"),
        ({"colours": ("#00ff00",)}, "in the colour '#00ff00'", "'#ff0000', '#0000ff'"),
        ({"linetypes": ("dashed",)}, "of a linetype 'dashed'", "none"),
        (
            {"layers": ("CUT",), "colours": ("#0000ff",)},
            "in the colour '#0000ff'",
            "with something in them: '#ff0000'.",
        ),
    ],
)
def test_a_choice_that_finds_nothing_tells_what_there_is(
    choice: dict[str, Any], says: str, there: str
) -> None:
    plate = marked(loop(PLATE, layer="CUT"), colour="#ff0000")
    mark = marked(loop([(5, 5), (9, 5), (9, 9)], layer="ETCH"), colour="#0000ff")
    error = refused(plate, mark, **choice)
    assert says in error.what
    assert there in f"{error.todo}."


# From the user's side: a job, its refusal, and what comes of doing what that offers.


def dxf_line(
    u0: float, v0: float, u1: float, v1: float, layer: str = "0", colour: int = 256
) -> str:
    ends = ((10, u0), (20, v0), (11, u1), (21, v1))
    return tags((0, "LINE"), (8, layer), (62, colour), *ends)


def dxf_plate(layer: str = "0", colour: int = 256) -> str:
    ends = zip(PLATE, PLATE[1:] + PLATE[:1], strict=True)
    return "".join(dxf_line(*a, *b, layer=layer, colour=colour) for a, b in ends)


UNIT = tags((9, "$INSUNITS"), (70, 4))

JOBS = {
    "inner edge": dxf_plate() + dxf_line(0, 15, 40, 15),
    "centre line": dxf_plate() + dxf_line(-5, 15, 45, 15),
    "fold line": dxf_plate() + dxf_line(5, 15, 35, 15),
    "red cut, blue score": dxf_plate(colour=1) + dxf_line(5, 15, 35, 15, colour=5),
    "layer": dxf_plate("CUT") + dxf_line(-5, 15, 45, 15, layer="CENTRE"),
}


@pytest.mark.parametrize("name", JOBS)
def test_every_offer_does_what_it_promises(name: str, tmp_path: Path) -> None:
    (tmp_path / "front.dxf").write_text(bare(JOBS[name], header=UNIT))
    job = job_from(
        {
            "name": name,
            "stock": {"size": [60.0, 20.0, 50.0], "density": 1.0},
            "profile": [{"view": "front", "drawing": "front.dxf"}],
        },
        path=tmp_path / "job.toml",
    )
    with pytest.raises(DrawingError) as caught:
        _ = silhouette3d.Part(job).profiles
    assert "(profile 'front')" in caught.value.where
    found = survey(caught.value).offers
    assert {offer.key for offer in found} >= {"open", "take"}
    for offer in found:
        told = re.search(
            rf'{offer.key} = "({re.escape(offer.value)})"[^(]*\(([\d.]+) mm²\)', str(caught.value)
        )
        assert told is not None
        changed = silhouette3d.Part(job.changed({("profile", 0, offer.key): told[1]}))
        assert changed.profiles[0].area.area == pytest.approx(float(told[2]))
    if name == "layer":
        assert 'layer = "CUT" (1200 mm²)' in str(caught.value)
    if name == "red cut, blue score":
        assert 'colour = "#ff0000" (1200 mm²)' in str(caught.value)


def test_a_colour_that_is_none_is_an_error_of_the_job(tmp_path: Path) -> None:
    (tmp_path / "front.dxf").write_text(bare(JOBS["fold line"], header=UNIT))
    data = {
        "name": "a",
        "stock": {"size": [60.0, 20.0, 50.0], "density": 1.0},
        "profile": [{"view": "front", "drawing": "front.dxf", "colour": "plaid"}],
    }
    with pytest.raises(DrawingError, match=r"colour \(profile 'front'\): 'plaid' is no colour"):
        _ = silhouette3d.Part(job_from(data, path=tmp_path / "job.toml")).profiles


@pytest.mark.parametrize(
    ("header", "unit", "mm"),
    [
        (tags((9, "$INSUNITS"), (70, 1)), "inch", 25.4),
        (tags((9, "$INSUNITS"), (70, 5)), "centimetre", 10.0),
        ("", "millimetre", 1.0),
    ],
)
def test_readers_say_how_long_a_unit_is(tmp_path: Path, header: str, unit: str, mm: float) -> None:
    (tmp_path / "a.dxf").write_text(bare(dxf_plate(), header=header))
    drawing = read_drawing(tmp_path / "a.dxf")
    assert (drawing.unit, drawing.mm_per_unit) == (unit, mm)


@pytest.mark.parametrize(
    ("size", "mm"), [('width="4in"', 25.4), ('height="30pt"', 25.4 / 72), ("", 25.4 / 96)]
)
def test_so_does_svg(tmp_path: Path, size: str, mm: float) -> None:
    (tmp_path / "a.svg").write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="0 0 9 9">'
        '<path d="M0 0h9v9z"/></svg>'
    )
    assert read_drawing(tmp_path / "a.svg").mm_per_unit == pytest.approx(mm)


# Drawings as programs do: a plate with holes, and any lines over it.

stray = st.tuples(*[st.integers(-8, 48)] * 4).filter(lambda e: e[:2] != e[2:])


@settings(max_examples=60)
@given(st.lists(stray, min_size=1, max_size=5), st.floats(0.0, 360.0))
def test_lines_over_a_plate_never_change_what_is_offered(
    ends: Sequence[tuple[int, int, int, int]], degrees: float
) -> None:
    """Half a millimetre off the lattice: lines meet the plate's border, but not in its corners.

    Whatever lines lie over it, the plate less its hole is offered where they are ignored,
    and everything that lines enclose with it as its silhouette.
    """
    drawn: list[Points] = [[(a + 0.5, b + 0.25), (c + 0.5, d + 0.25)] for a, b, c, d in ends]
    plate = lines(turned(PLATE, degrees))
    hole = loop(turned([(10, 10), (20, 10), (20, 20), (10, 20)], degrees))
    over = [line(*turned(points, degrees)) for points in drawn]
    error = refused(*plate, hole, *over)
    every = shapely.node(
        shapely.MultiLineString(
            [
                [*turned(PLATE, degrees), turned(PLATE, degrees)[0]],
                *(turned(p, degrees) for p in drawn),
            ]
        )
    )
    silhouette = shapely.union_all(
        [Polygon(p.exterior) for p in shapely.get_parts(shapely.polygonize([every]))]
    )
    found = offered(error)
    if ("take", "silhouette") in found:
        assert found["take", "silhouette"] == pytest.approx(silhouette.area, abs=1e-3)
    if silhouette.area <= 1200 + 1e-6:
        assert found["open", "ignore"] == pytest.approx(1100, abs=1e-6)
    elif ("open", "ignore") in found:  # lines enclose more, and as loops of their own
        assert found["open", "ignore"] <= silhouette.area


# True curves.


def test_an_outline_whose_arcs_had_to_be_cut_keeps_its_bound() -> None:
    """A half disc over an edge that is drawn longer than it: the arc becomes chords."""
    half = arcs((0, 0), 10, 0, 180)
    edge = [line((-10, 0), (4, 0)), line((-2, 0), (10, 0))]
    found = outline(*half, *edge)
    exact = 50 * math.pi
    assert 0 < exact - found.polygons.area <= found.area_error < 0.5
    assert any(isinstance(p, Arc) for c in found.loops for p in c.pieces)


def test_lines_left_out_are_counted_and_the_arcs_that_stay_are_arcs() -> None:
    drawn = [*arcs((0, 0), 10, 0, 180), line((-10, 0), (10, 0)), line((-3, 2), (3, 2))]
    found = outline(*drawn, open="ignore")
    assert found.polygons.area == pytest.approx(50 * math.pi, abs=found.area_error)
    assert found.notes == (
        "1 line that does not close was left out, the first from (-3, 2) to (3, 2)",
    )
    (made,) = found.loops
    assert [type(piece) for piece in made.pieces] == [Arc, Line]


def test_an_outline_whose_sides_run_past_each_other_is_not_left_out() -> None:
    """All its lines are open, the hole in it is closed: the hole is no part of its own."""
    sides = [
        line((-2, 0), (32, 0)),
        line((30, -2), (30, 32)),
        line((32, 30), (-2, 30)),
        line((0, 32), (0, -2)),
    ]
    hole = Shape((Curve((Arc.circular((15, 15), 5),), "0"),))
    found = outline(*sides, hole, open="ignore")
    assert found.polygons.area == pytest.approx(900 - 25 * math.pi, abs=found.area_error)
    (note,) = found.notes
    assert note.startswith("4 lines were left out where they do not close")


def test_open_lines_that_enclose_more_than_what_closes_are_not_left_out() -> None:
    """A frame that runs past its corners, with a brace of which the ends lie on its sides."""
    frame = [
        line((-5, -5), (50, -5), (50, 20)),
        line((45, 15), (55, 15), (55, 40), (-5, 40), (-5, -5)),
        line((-5, 35), (10, 40)),
    ]
    error = refused(*lines(PLATE), *frame, open="ignore")
    assert set(offered(error)) == {("take", "silhouette")}
    closed = outline(*lines(PLATE), *frame[:2], open="ignore")
    assert closed.polygons.area == 55 * 20 + 60 * 25 - 1200
