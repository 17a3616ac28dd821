"""Placing outlines: which point of the drawing comes to lie where on the stock."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import ezdxf.filemanagement
import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, affinity

from silhouette3d import Part
from silhouette3d.errors import DrawingError
from silhouette3d.geometry.frames import VIEWS
from silhouette3d.geometry.stock import Stock
from silhouette3d.job.model import job_from
from silhouette3d.process.cut import removal_of
from silhouette3d.process.profile import Profile
from tests.support.shapes import Area, many, rect, write_dxf, write_svg
from tests.support.shapes import profile as drawn_from

# An L of its own, away from the drawing's origin, that looks different turned and mirrored.
L = Polygon([(100, 50), (120, 50), (120, 55), (105, 55), (105, 60), (100, 60)])
STOCK = (80.0, 40.0, 50.0)
# Placed coordinates are rounded to 1e-9 mm.
GRID = 1e-9

Place = Callable[..., Profile]


@pytest.fixture
def place(tmp_path: Path) -> Place:
    """Draws areas by layer, and places them with some keys of a profile."""

    def placed(
        layers: Mapping[str, Area] | Area = L,
        *,
        insunits: int = 4,
        job_units: str = "mm",
        **keys: Any,
    ) -> Profile:
        drawn = {"OUTLINE": layers} if isinstance(layers, Polygon | MultiPolygon) else layers
        write_dxf(tmp_path / "a.dxf", drawn, insunits)
        return read(tmp_path / "a.dxf", job_units=job_units, **keys)

    return placed


def read(drawing: Path, *, job_units: str = "mm", size: Any = STOCK, **keys: Any) -> Profile:
    """The only profile of a job: the drawing on its block, from the front."""
    data = {
        "name": "a",
        "units": job_units,
        "stock": {"size": size, "density": 1.0},
        "profile": [{"view": "front", "drawing": drawing.name, **keys}],
    }
    job = job_from(data, path=drawing.parent / "job.toml")
    (profile,) = Part(job).profiles
    return profile


def same(area: shapely.Geometry, expected: shapely.Geometry) -> bool:
    """The same corners but for the grid, whichever comes first."""
    a, b = (g.normalize() for g in (many(area), many(expected)))
    return bool(shapely.equals_exact(a, b, tolerance=2 * GRID))


# The datum.


def test_the_profile_of_a_job(place: Place) -> None:
    profile = place(datum=[100.0, 50.0], name="hull")
    assert profile.name == "hull"
    assert profile.view == VIEWS["front"]
    assert profile.face.size == (80.0, 50.0)
    assert profile.stock_drawn is None
    assert profile.tab_curves == ()


def test_a_point_of_the_drawing(place: Place) -> None:
    assert same(place(datum=[90.0, 45.0]).area, affinity.translate(L, -90, -45))


def test_the_corner_of_the_outline(place: Place) -> None:
    assert same(place(datum="corner").area, affinity.translate(L, -100, -50))


@pytest.mark.parametrize("datum", ["centre", "center", None])
def test_the_centre_of_the_outline(place: Place, datum: str | None) -> None:
    """The bounding box, 20 x 10 about (110, 55), comes to the middle of the face, (40, 25)."""
    keys = {} if datum is None else {"datum": datum}
    assert same(place(**keys).area, affinity.translate(L, 40 - 110, 25 - 55))


@pytest.mark.parametrize("layer", ["STOCK", "Stock"])
def test_the_stock_rectangle(place: Place, layer: str) -> None:
    """It lies on the face; a layer called STOCK is taken by itself."""
    profile = place({"OUTLINE": L, layer: rect(95, 45, 175, 95)})
    assert same(profile.area, affinity.translate(L, -95, -45))
    assert profile.stock_drawn == (80.0, 50.0)


def test_a_stock_layer_of_another_name(place: Place) -> None:
    drawn = {"OUTLINE": L, "blank": rect(95, 45, 175, 95)}
    profile = place(drawn, stock_layer="BLANK")
    assert same(profile.area, affinity.translate(L, -95, -45))
    assert profile.stock_drawn == (80.0, 50.0)


def test_a_stock_rectangle_of_another_size_is_measured(place: Place) -> None:
    assert place({"OUTLINE": L, "STOCK": rect(95, 45, 176, 94)}).stock_drawn == (81.0, 49.0)


@pytest.mark.parametrize("datum", ["corner", "centre", [90.0, 45.0]])
def test_a_datum_comes_before_the_stock_rectangle(place: Place, datum: Any) -> None:
    profile = place({"OUTLINE": L, "STOCK": rect(95, 45, 175, 95)}, datum=datum)
    assert same(profile.area, place(datum=datum).area)
    assert profile.stock_drawn == (80.0, 50.0)


def test_a_stock_in_two_rectangles(place: Place) -> None:
    halves = MultiPolygon([rect(95, 45, 135, 95), rect(140, 45, 175, 95)])
    with pytest.raises(DrawingError, match="is not one upright rectangle") as caught:
        place({"OUTLINE": L, "STOCK": halves})
    assert caught.value.where.endswith("a.dxf (profile 'front')")
    assert "layer 'STOCK'" in caught.value.what
    assert "(95, 45) to (175, 95)" in caught.value.what


@pytest.mark.parametrize(
    "shape",
    [
        Polygon([(95, 45), (175, 45), (175, 95), (96, 95)]),
        affinity.rotate(rect(95, 45, 175, 95), 1.0),
    ],
)
def test_a_stock_that_is_not_an_upright_rectangle(place: Place, shape: Polygon) -> None:
    with pytest.raises(DrawingError, match="is not one upright rectangle"):
        place({"OUTLINE": L, "STOCK": shape})


def test_a_drawing_that_lies_askew_is_turned_upright(place: Place) -> None:
    """Outline and stock turned by -30 degrees on the paper; turn = 30 undoes it."""
    upright = {"OUTLINE": L, "STOCK": rect(95, 45, 175, 95)}
    askew = {layer: affinity.rotate(a, -30, origin=(7, 8)) for layer, a in upright.items()}
    profile = place(askew, turn=30.0)
    assert same(profile.area, affinity.translate(L, -95, -45))
    assert profile.stock_drawn == pytest.approx((80, 50), abs=1e-9)


@pytest.mark.parametrize("key", ["stock_layer", "tab_layer", "layer"])
def test_a_layer_that_is_not_there(place: Place, key: str) -> None:
    with pytest.raises(DrawingError, match="nothing on a layer 'FACE'") as caught:
        place({"OUTLINE": L, "NOTES": rect(0, 0, 5, 5)}, **{key: "FACE"})
    assert caught.value.where.endswith("a.dxf (profile 'front')")
    assert "'OUTLINE', 'NOTES'" in caught.value.todo


def test_stock_and_tabs_are_no_outline(place: Place) -> None:
    drawn = {"OUTLINE": L, "STOCK": rect(95, 45, 175, 95), "TABS": rect(119, 51, 121, 53)}
    profile = place(drawn)
    assert same(profile.area, affinity.translate(L, -95, -45))
    (curve,) = profile.tab_curves
    points, _ = curve.flatten(0.01)
    assert same(Polygon(points), rect(24, 6, 26, 8))


def test_layers_of_the_outline(place: Place) -> None:
    drawn = {"A": L, "B": rect(101, 51, 102, 52), "C": rect(200, 50, 210, 60)}
    assert same(place(drawn, layer="A", datum=[0.0, 0.0]).area, L)
    both = place(drawn, layer=["a", "b"], datum=[0.0, 0.0]).area
    assert same(both, L.difference(rect(101, 51, 102, 52)))


# Turned, mirrored, scaled, shifted: in this order, about the datum.


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    turn=st.floats(-400, 400),
    mirror=st.booleans(),
    scale=st.floats(0.1, 10),
    shift=st.tuples(st.floats(-50, 50), st.floats(-50, 50)),
    datum=st.tuples(st.floats(-200, 200), st.floats(-200, 200)),
)
def test_the_order_of_moves(
    place: Place, turn: float, mirror: bool, scale: float, shift: tuple, datum: tuple
) -> None:
    """Step by step with shapely's affinity."""
    keys = {"turn": turn, "mirror": mirror, "scale": scale, "shift": shift, "datum": datum}
    expected = affinity.rotate(L, turn, origin=datum)
    if mirror:
        expected = affinity.scale(expected, -1, 1, origin=datum)
    expected = affinity.scale(expected, scale, scale, origin=datum)
    expected = affinity.translate(expected, shift[0] - datum[0], shift[1] - datum[1])
    profile = place(**keys)
    # 1e-12: rounding of numbers up to some thousands, on both ways
    assert profile.area.hausdorff_distance(expected) <= 2 * GRID + 1e-12 * 1e4
    assert profile.area.area == pytest.approx(L.area * scale**2, rel=1e-6)


def test_mirror_comes_after_turn(place: Place) -> None:
    """A flag that points right: turned up, then mirrored it still points up; the other way down."""
    flag = Polygon([(0, 0), (10, -1), (10, 1)])
    area = place(flag, turn=90.0, mirror=True, datum=[0.0, 0.0]).area
    assert area.centroid.y > 0
    assert same(area, Polygon([(0, 0), (1, 10), (-1, 10)]))


@pytest.mark.parametrize("datum", ["corner", "centre"])
@pytest.mark.parametrize("mirror", [False, True])
def test_named_datums_are_taken_as_the_drawing_then_lies(
    place: Place, datum: str, mirror: bool
) -> None:
    profile = place(datum=datum, turn=90.0, mirror=mirror, scale=2.0, shift=[1.0, 2.0])
    u0, v0, u1, v1 = profile.area.bounds
    assert (u1 - u0, v1 - v0) == (20, 40)  # 20 x 10, turned upright, twice as large
    if datum == "corner":
        assert (u0, v0) == (1, 2)
    else:
        assert ((u0 + u1) / 2, (v0 + v1) / 2) == (40 + 1, 25 + 2)


@pytest.mark.parametrize("turn", [90.0, 180.0, 270.0])
@pytest.mark.parametrize("mirror", [False, True])
def test_a_turned_stock_rectangle_lies_on_the_face(place: Place, turn: float, mirror: bool) -> None:
    wide = turn == 180.0
    stock = rect(95, 45, 175, 95) if wide else rect(95, 45, 145, 125)
    profile = place({"OUTLINE": L, "STOCK": stock}, turn=turn, mirror=mirror)
    assert profile.stock_drawn == (80.0, 50.0)
    assert rect(0, 0, 80, 50).covers(profile.area)
    # as far from the stock's sides as before
    before = sorted([100 - 95, 50 - 45, stock.bounds[2] - 120, stock.bounds[3] - 60])
    u0, v0, u1, v1 = profile.area.bounds
    assert sorted([u0, v0, 80 - u1, 50 - v1]) == before


@pytest.mark.parametrize(
    ("turn", "quarter"), [(90, 1), (180, 2), (270, 3), (-90, 3), (360, 0), (450, 1), (-810, 3)]
)
def test_quarter_turns_are_exact(place: Place, turn: float, quarter: int) -> None:
    expected = [(u, v) for u, v in L.exterior.coords]
    for _ in range(quarter):
        expected = [(-v, u) for u, v in expected]
    area = place(turn=float(turn), datum=[0.0, 0.0]).area
    corners = {(float(u), float(v)) for u, v in shapely.get_coordinates(area)}
    assert corners == set(expected)


def test_scale_and_curves(tmp_path: Path) -> None:
    """A circle drawn 1:4 keeps the tolerance at its true size."""
    document = ezdxf.filemanagement.new("R2010", units=4)
    document.modelspace().add_circle((0, 0), 5)
    document.saveas(tmp_path / "a.dxf")
    profile = read(tmp_path / "a.dxf", scale=4.0, datum=[0.0, 0.0])
    exact = np.pi * 20**2
    assert exact - profile.area.area == pytest.approx(profile.outline.area_error, rel=1e-6)
    points = shapely.get_coordinates(profile.area)
    middles = (points[1:] + points[:-1]) / 2
    sagitta = 20 - np.hypot(*middles.T).min()
    assert 0.005 < sagitta <= 0.01 + GRID
    (loop,) = profile.outline.loops
    flat, _ = loop.flatten(1e-5)
    assert np.allclose(np.hypot(*flat.T), 20, rtol=0, atol=1e-12 * 20)


def test_gaps_are_moved_along(tmp_path: Path) -> None:
    document = ezdxf.filemanagement.new("R2010", units=4)
    document.modelspace().add_lwpolyline([(1, 0.03), (1, 9), (9, 9), (9, 0), (1, 0)])
    document.saveas(tmp_path / "a.dxf")
    profile = read(tmp_path / "a.dxf", turn=90.0, shift=[20.0, 0.0], datum=[0.0, 0.0])
    (gap,) = profile.outline.gaps
    assert {gap.start, gap.end} == {(20, 1), (20 - 0.03, 1)}
    assert gap.width == pytest.approx(0.03)


# Units.


@pytest.mark.parametrize(
    ("insunits", "units", "keys", "factor"),
    [
        (4, "mm", {}, 1),
        (1, "mm", {}, 25.4),
        (4, "in", {}, 1),
        (1, "in", {}, 25.4),
        (0, "mm", {}, 1),  # no unit stated: the job's
        (0, "in", {}, 25.4),
        (4, "mm", {"units": "in"}, 25.4),  # the profile overrides what the drawing states
        (1, "mm", {"units": "mm"}, 1),
        (0, "mm", {"units": "in"}, 25.4),
        (5, "mm", {}, 10),
    ],
)
def test_units_of_the_drawing(
    place: Place, insunits: int, units: str, keys: dict, factor: float
) -> None:
    """$INSUNITS: 0 none, 1 inch, 4 mm, 5 cm (DXF reference, HEADER section)."""
    profile = place(insunits=insunits, job_units=units, datum="corner", **keys)
    u0, v0, u1, v1 = profile.area.bounds
    assert (u1 - u0, v1 - v0) == pytest.approx((20 * factor, 10 * factor), rel=1e-12)


def test_an_inch_job(place: Place) -> None:
    """Every length of the job is in inches; inside all is in millimetres."""
    inches = affinity.scale(L, 0.1, 0.1, origin=(0, 0))  # 10, 5 to 12, 6 in
    profile = place(
        inches, insunits=1, job_units="in", size=(4, 2, 3), datum=[10.0, 5.0], shift=[0.5, 0.25]
    )
    assert profile.face.size == pytest.approx((4 * 25.4, 3 * 25.4), rel=1e-15)
    u0, v0, u1, v1 = (x / 25.4 for x in profile.area.bounds)
    assert (u0, v0, u1, v1) == pytest.approx((0.5, 0.25, 2.5, 1.25), rel=1e-9)


def test_the_tolerance_is_in_job_units(tmp_path: Path) -> None:
    document = ezdxf.filemanagement.new("R2010", units=1)
    document.modelspace().add_circle((0, 0), 1)
    document.saveas(tmp_path / "a.dxf")
    default = read(tmp_path / "a.dxf", job_units="in", datum="corner")
    same_size = read(tmp_path / "a.dxf", job_units="mm", datum="corner")
    assert len(shapely.get_coordinates(default.area)) == len(
        shapely.get_coordinates(same_size.area)
    )


def test_an_svg_drawing(tmp_path: Path) -> None:
    write_svg(tmp_path / "a.svg", affinity.translate(L, -90, -45), 50)
    profile = read(tmp_path / "a.svg", datum=[0.0, 0.0])
    assert same(profile.area, affinity.translate(L, -90, -45))


# The page of an SVG. The face of the stock is 80 × 50 mm, seen from the front.


def paged(tmp_path: Path, width: float, height: float, more: str = "", **keys: Any) -> Profile:
    """A square of 10 mm, 5 mm from the left and 7 mm from the bottom of a page in mm."""
    body = f'<rect x="5" y="{height - 17}" width="10" height="10"/>{more}'
    page = f'width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}"'
    text = f'<svg xmlns="http://www.w3.org/2000/svg" {page}>{body}</svg>'
    (tmp_path / "a.svg").write_text(text, "utf-8")
    return read(tmp_path / "a.svg", **keys)


@pytest.mark.parametrize(
    ("page", "keys", "corner"),
    [
        ((80, 50), {}, (5, 7)),
        ((80.09, 49.91), {}, (5, 7)),
        ((40, 25), {"scale": 2.0}, (10, 14)),
        ((50, 80), {"turn": 90.0}, (80 - 17, 5)),
        ((80, 50), {"mirror": True}, (80 - 15, 7)),
        ((80, 50), {"turn": 180.0}, (80 - 15, 50 - 17)),
        ((80, 50), {"shift": (1.0, 2.0)}, (6, 9)),
    ],
)
def test_a_page_as_large_as_the_face_is_laid_on_it(
    tmp_path: Path, page: tuple[float, float], keys: dict[str, Any], corner: tuple[float, float]
) -> None:
    profile = paged(tmp_path, *page, **keys)
    assert profile.area.bounds[:2] == pytest.approx(corner)
    assert (
        profile.outline.notes[-1] == "its page is as large as the stock's face and was laid on it"
    )
    assert profile.stock_drawn is None


@pytest.mark.parametrize(
    ("page", "keys"),
    [
        ((80.2, 50), {}),
        ((50, 80), {}),
        ((80, 50), {"turn": 90.0}),
        ((80, 50), {"turn": 1.0}),
        ((80, 50), {"scale": 1.5}),
    ],
)
def test_any_other_page_says_nothing(
    tmp_path: Path, page: tuple[float, float], keys: dict[str, Any]
) -> None:
    profile = paged(tmp_path, *page, **keys)
    (u0, v0, u1, v1) = profile.area.bounds
    assert ((u0 + u1) / 2.0, (v0 + v1) / 2.0) == pytest.approx((40.0, 25.0))
    assert "centred on the stock's face" in profile.outline.notes[-1]


def test_a_datum_and_a_stock_rectangle_come_before_the_page(tmp_path: Path) -> None:
    corner = paged(tmp_path, 80, 50, datum="corner")
    assert corner.area.bounds[:2] == pytest.approx((0.0, 0.0))
    rect = '<g id="STOCK"><path d="M1 -1h80v50h-80z" fill="none" stroke="red"/></g>'
    drawn = paged(tmp_path, 80, 50, rect)
    assert drawn.area.bounds[:2] == pytest.approx((4.0, 6.0))
    assert not any("page" in note for note in (*corner.outline.notes, *drawn.outline.notes))


def test_how_alike_the_page_must_be_is_what_the_job_says(tmp_path: Path) -> None:
    text = paged(tmp_path, 80.2, 50)  # written once more below, with a job of its own
    data = {
        "name": "a",
        "stock": {"size": STOCK, "density": 1.0},
        "profile": [{"view": "front", "drawing": "a.svg"}],
        "checks": {"match": 0.3},
    }
    job = job_from(data, path=tmp_path / "job.toml")
    (profile,) = Part(job).profiles
    assert profile.area.bounds[:2] == pytest.approx((5.0, 7.0))
    assert text.area.bounds[:2] != pytest.approx((5.0, 7.0))


@pytest.mark.parametrize("name", ["a.dwg", "a", "missing.dxf", "missing.svg"])
def test_a_drawing_that_cannot_be_read(tmp_path: Path, name: str) -> None:
    with pytest.raises(DrawingError) as caught:
        read(tmp_path / name)
    assert str(tmp_path / name) in caught.value.where
    assert caught.value.todo


def test_profiles_come_in_the_order_of_the_job(tmp_path: Path) -> None:
    write_dxf(tmp_path / "a.dxf", {"OUTLINE": L})
    views = ["top", "rear", "left"]
    data = {
        "name": "a",
        "stock": {"size": STOCK, "density": 1.0},
        "profile": [{"view": v, "drawing": "a.dxf"} for v in views],
    }
    job = job_from(data, path=tmp_path / "job.toml")
    assert [p.name for p in Part(job).profiles] == views


# Numbers that mean the same are the same.


@given(st.lists(st.integers(0, 800_000), min_size=2, max_size=2, unique=True), st.integers(1, 999))
def test_a_wall_is_at_one_place_from_front_and_rear(walls: list, width: int) -> None:
    """A block of a decimal width; the same two walls drawn from the front and from the rear."""
    size = (800 + width / 1000, 40.0, 50.0)
    low, high = (w / 1000 for w in sorted(walls))
    stock = Stock(size)
    front = drawn_from("front", rect(low, 0, high, 50), stock)
    rear = drawn_from("rear", rect(size[0] - high, 0, size[0] - low, 50), stock)
    assert _walls(front, stock) == _walls(rear, stock) == {low, high}


def _walls(profile: Profile, stock: Stock) -> set[float]:
    """Where the prism of what is cut away has its walls on the stock, as x."""
    made = removal_of(profile, stock).prism(stock)
    x = set(made.mesh.vertices[:, 0].tolist())
    return {value for value in x if 0.0 <= value <= stock.size[0]}


@pytest.mark.parametrize("value", [30.0, 0.1, 70.3, 12.7, 99.999, 1234.567891])
def test_placed_decimals_are_the_nearest_numbers(place: Place, value: float) -> None:
    area = place(rect(0, 0, value, 10), datum=[0.0, 0.0]).area
    assert area.bounds[2] == value


@pytest.mark.parametrize("turn", [0.0, 30.0, 45.0, 77.7, 123.4, 211.0])
def test_an_outline_that_touches_itself_stays_valid(place: Place, turn: float) -> None:
    """A hole with a corner on the middle of a slanted side: no rounding may tear it."""
    plate = Polygon([(0, 0), (30, 0), (20, 10), (0, 10)], [[(25, 5), (15, 7), (15, 3)]])
    area = place(plate, turn=turn, mirror=True, scale=1.1, datum=[0.0, 0.0]).area
    assert area.is_valid
    assert area.area == pytest.approx((250 - 20) * 1.21, rel=1e-9)


# Between the face and the block.


@pytest.mark.parametrize("view", VIEWS)
@given(u=st.floats(0, 40), v=st.floats(0, 40), depth=st.floats(0, 1))
def test_a_point_of_the_face_in_the_block(view: str, u: float, v: float, depth: float) -> None:
    stock = Stock(STOCK)
    profile = drawn_from(view, rect(0, 0, 10, 10), stock)
    seen = profile.view.to_view(profile.to_block((u, v), depth))
    assert seen[:2] - profile.face.corner == pytest.approx([u, v], abs=1e-12)
    low, high = profile.face.depth
    assert seen[2] == pytest.approx(high - depth * (high - low), abs=1e-12)


def test_the_datum_of_each_view_in_the_block() -> None:
    """The lower left corner of the face nearest to the eye, on the block 80 x 40 x 50."""
    expected = {
        "front": (0, 0, 0),
        "rear": (80, 40, 0),
        "right": (80, 0, 0),
        "left": (0, 40, 0),
        "top": (0, 0, 50),
        "bottom": (0, 40, 0),
    }
    for view, corner in expected.items():
        profile = drawn_from(view, rect(0, 0, 10, 10), Stock(STOCK))
        assert profile.to_block((0, 0), 0.0).tolist() == list(corner), view


def test_areas_there_and_back() -> None:
    profile = drawn_from("left", rect(0, 0, 10, 10), Stock(STOCK))
    assert same(profile.to_face(profile.to_view(many(L))), L)
    assert profile.to_view(profile.area).bounds == (-40, 0, -30, 10)


def test_the_end_of_a_bar_may_be_drawn_as_the_circle_it_is(tmp_path: Path) -> None:
    """Drawn about (7, 9) with the diameter of the bar: its lower left corner is the datum."""
    from ezdxf.filemanagement import new

    from silhouette3d import load

    doc = new("R2010")
    doc.header["$INSUNITS"] = 4
    doc.modelspace().add_circle((7.0, 9.0), 20.0, dxfattribs={"layer": "STOCK"})
    doc.modelspace().add_lwpolyline([(0, 0), (14, 0), (14, 18), (0, 18)], close=True)
    doc.saveas(tmp_path / "top.dxf")
    job = tmp_path / "job.toml"
    head = 'name = "b"\n[stock]\ndensity = 1.0\nround = {diameter = 40.0, length = 50.0, along = '
    view = '}\n[[profile]]\nview = "top"\ndrawing = "top.dxf"\n'
    job.write_text(head + '"z"' + view, "utf-8")
    (profile,) = load(job).profiles
    assert profile.stock_drawn == pytest.approx((40.0, 40.0), abs=1e-9)
    assert profile.area.bounds == pytest.approx((13.0, 11.0, 27.0, 29.0), abs=1e-9)
    job.write_text(head + '"x"' + view, "utf-8")  # from its side a bar is a rectangle
    with pytest.raises(DrawingError, match="not one upright rectangle"):
        _ = load(job).profiles
