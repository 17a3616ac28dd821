"""Pictures: what is on them, counted in pixels, and the files they are written to.

Tolerances in pixels: lines are up to 1.4 pixels wide, drawn half outside the edge they stand for,
and an edge falls anywhere within a pixel; so a length is right to 2 pixels at either end.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from PIL import Image
from shapely import Polygon

import silhouette3d
from silhouette3d.documents.pictures import paper as paper_
from silhouette3d.documents.pictures.face import Range, part_in_stock
from silhouette3d.documents.pictures.outline import WIDTH, vertices
from silhouette3d.documents.pictures.panels import (
    SHEET_SIZE,
    VIEW_SIZE,
    Panel,
    draw_panel,
    draw_sheet,
    draw_view,
)
from silhouette3d.documents.pictures.paper import draw_area, paper, place, write, write_within
from silhouette3d.documents.pictures.render import (
    SOLID,
    CameraFrame,
    Studio,
    Style,
    drawing_with,
    window_for_pictures,
)
from silhouette3d.documents.pictures.window import fill_window
from silhouette3d.errors import OutputError, PictureError
from silhouette3d.geometry.frames import VIEWS
from silhouette3d.presentation.theme import GAP, ISO, LOST, PAPER, PART, TAB
from tests.guard.imports import ROOT
from tests.support.shapes import Shape, disc, load, rect

Pixels = NDArray[np.uint8]
EDGE = 2
"""Pixels by which an edge may be off: see the top of this file."""

BLOCK = (60.0, 30.0, 40.0)
BODY, HOLE = rect(6, 4, 54, 34), disc(30, 19, 8)
CLEAT = Shape(
    BLOCK,
    {"front": Polygon(BODY.exterior, [HOLE.exterior]), "top": rect(6, 5, 54, 25)},
    volume=(48 * 30 - HOLE.area) * 20,
    area=0.0,  # not asked for here
)
"""A mooring cleat of 48 × 20 × 30 mm with a hole from front to rear."""

WIDER = replace(CLEAT, outlines={**CLEAT.outlines, "top": rect(2, 5, 58, 25)})
"""The same part, but its outline from above claims 4 mm more at either end."""


@pytest.fixture
def cleat(tmp_path: Path) -> silhouette3d.Part:
    return load(tmp_path, CLEAT)


@pytest.fixture(scope="module")
def studio() -> Iterator[Studio]:
    with Studio() as opened:
        yield opened


def pixels(path: Path) -> Pixels:
    with Image.open(path) as image:
        return np.asarray(image.convert("RGB"))


def like(image: Pixels, colour: str, within: int = 24) -> NDArray[np.bool_]:
    """Where a picture has a colour, to within so much of 255 in each channel."""
    wanted = [int(colour[i : i + 2], 16) for i in (1, 3, 5)]
    return np.asarray((np.abs(image.astype(int) - wanted) <= within).all(axis=2))


def extent(mask: NDArray[np.bool_]) -> tuple[int, int]:
    """Width and height in pixels of what is marked."""
    rows, columns = np.nonzero(mask.any(axis=1))[0], np.nonzero(mask.any(axis=0))[0]
    return int(columns[-1] - columns[0]) + 1, int(rows[-1] - rows[0]) + 1


# --- solids to pixels --------------------------------------------------------------


@pytest.mark.parametrize(("name", "u", "v"), [("front", 0, 2), ("right", 1, 2), ("top", 0, 1)])
def test_a_part_is_drawn_to_scale(
    studio: Studio, cleat: silhouette3d.Part, name: str, u: int, v: int
) -> None:
    frame = CameraFrame(VIEWS[name], (-10.0, -10.0), (90.0, 70.0))
    image = studio.picture([(cleat.solid.mesh, SOLID)], frame, (500, 400))
    assert image.shape == (400, 500, 3)
    drawn = extent(~like(image, PAPER, 8))
    size = cleat.solid.size
    assert drawn == pytest.approx((5.0 * size[u], 5.0 * size[v]), abs=2 * EDGE)
    rows, columns = np.nonzero(~like(image, PAPER, 8))
    low = cleat.solid.bounds[0]
    assert columns.min() == pytest.approx(5.0 * (10.0 + low[u]), abs=EDGE)
    assert 400 - rows.max() == pytest.approx(5.0 * (10.0 + low[v]), abs=EDGE)


def test_holes_show_what_is_behind(studio: Studio, cleat: silhouette3d.Part) -> None:
    frame = CameraFrame(VIEWS["front"], (0.0, 0.0), (60.0, 40.0))
    image = studio.picture([(cleat.solid.mesh, SOLID)], frame, (300, 200))
    assert (image[200 - 5 * 19, 5 * 30] == 255).all()
    red, _, blue = image[200 - 5 * 30, 5 * 30].astype(int)
    assert blue > red + 20  # a tint of blue


def test_faces_of_three_directions_have_three_shades(
    studio: Studio, cleat: silhouette3d.Part
) -> None:
    solid = cleat.solid
    image = studio.picture(
        [(solid.mesh, Style(line=None))], CameraFrame.around(ISO, solid.mesh.vertices), (300, 300)
    )
    frame = CameraFrame.around(ISO, solid.mesh.vertices)
    (x0, y0, z0), (x1, y1, z1) = solid.bounds
    faces = [(x0 + 4, y0, z0 + 4), (x1, (y0 + y1) / 2, (z0 + z1) / 2), ((x0 + x1) / 2, y0 + 10, z1)]
    shades = []
    for u, v, _ in ISO.to_view(faces):
        column = round(300 * (u - frame.low[0]) / frame.width)
        row = round(300 * (frame.high[1] - v) / frame.height)
        around = image[row - 8 : row + 8, column - 8 : column + 8].astype(int)
        assert np.ptp(around, axis=(0, 1)).max() <= 2  # of 255: a face is even
        shades.append(int(around[8, 8].sum()))
    front, right, top = shades
    assert right + 40 < front < top - 40  # sums of three channels: 13 of 255 in each


def test_the_stock_is_a_ghost(studio: Studio, cleat: silhouette3d.Part) -> None:
    frame = CameraFrame(VIEWS["front"], (-10.0, -10.0), (70.0, 50.0))
    alone = studio.picture(part_in_stock(cleat.results)[:1], frame, (400, 300))
    both = studio.picture(part_in_stock(cleat.results), frame, (400, 300))
    on, off = (300 - 5 * 38, 5 * 22), (300 - 5 * 30, 5 * 13)  # the part; the stock beside it
    assert (both[on] == alone[on]).all()
    beside = both[off].astype(int)
    assert 225 < beside.min() < 252  # hardly there, but there
    assert extent(~like(both, PAPER, 1)) == pytest.approx((5 * 60, 5 * 40), abs=2 * EDGE)


def test_one_studio_draws_many_pictures_as_if_each_were_its_first(
    studio: Studio, cleat: silhouette3d.Part
) -> None:
    solids = part_in_stock(cleat.results)
    frame = CameraFrame.around(ISO, cleat.stock.corners, 4 / 3)
    first = studio.picture(solids, frame, (240, 180))
    other = studio.picture(solids, CameraFrame.around(VIEWS["rear"], cleat.stock.corners), (90, 90))
    assert other.shape == (90, 90, 3)
    assert (studio.picture(solids, frame, (240, 180)) == first).all()
    assert (studio.picture([], frame, (240, 180)) == 255).all()
    with Studio() as fresh:
        assert (fresh.picture(solids, frame, (240, 180)) == first).all()


def test_colours_tell_bodies_apart(studio: Studio, cleat: silhouette3d.Part) -> None:
    frame = CameraFrame(VIEWS["front"], (0.0, 0.0), (60.0, 40.0))
    seen = [
        studio.picture([(cleat.solid.mesh, Style(face=colour))], frame, (60, 40))[10, 30]
        for colour in ("#E69F00", "#009E73")
    ]
    assert int(seen[0][0]) > int(seen[1][0]) + 100


def test_a_frame_holds_its_points() -> None:
    points = np.array([(0.0, 0.0, 0.0), (60.0, 30.0, 40.0), (60.0, 0.0, 0.0)])
    for view in (ISO, *VIEWS.values()):
        for shape in (0.5, 1.0, 2.0):
            frame = CameraFrame.around(view, points, shape)
            flat = view.to_view(points)[:, :2]
            assert (flat > frame.low).all()
            assert (flat < frame.high).all()
            assert frame.width / frame.height == pytest.approx(shape)
            middle = view.to_view(frame.middle)[:2]
            assert middle == pytest.approx(np.add(frame.low, frame.high) / 2.0)


# --- one view ----------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["png", "jpg"])
def test_a_view_is_written(cleat: silhouette3d.Part, tmp_path: Path, kind: str) -> None:
    file = tmp_path / f"cleat.{kind}"
    cleat.picture(file, "front")
    with Image.open(file) as image:
        assert image.size == VIEW_SIZE
        assert image.format == {"png": "PNG", "jpg": "JPEG"}[kind]
    part = like(pixels(file), PART, 16)[:-170]  # without the foot
    wide, high = extent(part)
    assert wide / high == pytest.approx(48 / 30, abs=2 * EDGE * (1 + 48 / 30) / high)
    assert [p.name for p in tmp_path.iterdir() if p.suffix == f".{kind}"] == [file.name]


def test_a_profile_is_a_view(tmp_path: Path) -> None:
    part = load(tmp_path, CLEAT, profiles={"top": {"name": "plan"}})
    part.picture(tmp_path / "a.png", "plan")
    part.picture(tmp_path / "b.png", "top")
    foot = VIEW_SIZE[1] - 170  # below it the name of the view
    first, second = pixels(tmp_path / "a.png")[:foot], pixels(tmp_path / "b.png")[:foot]
    assert (first == second).all()


def test_an_unknown_view_is_named_with_those_there_are(
    cleat: silhouette3d.Part, tmp_path: Path
) -> None:
    with pytest.raises(PictureError, match=r"'port'.*front, rear, .*, iso"):
        draw_view(cleat.results, "port", tmp_path / "a.png")
    assert not (tmp_path / "a.png").exists()


# --- the sheet ---------------------------------------------------------------------


def panels(image: Pixels) -> Pixels:
    """The right part of a sheet, without head and foot: the panels."""
    assert image.shape == (SHEET_SIZE[1], SHEET_SIZE[0], 3)
    return image[200:-240, round(0.45 * SHEET_SIZE[0]) :]


def test_a_sheet_hatches_what_is_lost(tmp_path: Path) -> None:
    lost = {}
    for name, shape in {"agree": CLEAT, "wider": WIDER}.items():
        (tmp_path / name).mkdir()
        part = load(tmp_path / name, shape)
        part.picture(tmp_path / f"{name}.png")
        lost[name] = part.lost("top").area
        image = panels(pixels(tmp_path / f"{name}.png"))
        lost[f"{name} pixels"] = int(like(image, LOST).sum())
        assert like(image, PART, 12).sum() > 20_000
    assert lost["agree"] < 1e-3  # mm²: the grid of shadows
    assert lost["agree pixels"] == 0
    assert lost["wider"] == pytest.approx(2 * 4 * 20)
    assert lost["wider pixels"] > 500


@pytest.mark.parametrize("name", ["rear", "left", "bottom"])
def test_a_panel_is_in_face_coordinates(studio: Studio, tmp_path: Path, name: str) -> None:
    outlines = {"front": rect(6, 9, 40, 34), "top": rect(6, 2, 40, 20)}  # nowhere in the middle
    part = load(tmp_path, replace(CLEAT, outlines=outlines))
    view, face = VIEWS[name], part.stock.face(VIEWS[name])
    shown = Range((-5.0, -5.0), (face.size[0] + 5.0, face.size[1] + 5.0))
    wide, high = (round(10 * mm) for mm in shown.size)
    with paper(tmp_path / "a.png", (wide, high)) as figure:
        draw_panel(figure, studio, part.results, Panel(view), [], (0, 0, wide, high), shown)
    image = like(pixels(tmp_path / "a.png"), PART)
    shadow = np.array(part.solid.shadow(view).bounds).reshape(2, 2) - face.corner
    rows, columns = np.nonzero(image)
    drawn = [(columns.min(), high - rows.max()), (columns.max(), high - rows.min())]
    assert np.array(drawn) == pytest.approx(10.0 * (shadow + 5.0), abs=EDGE)


def test_a_sheet_can_hold_any_words(tmp_path: Path) -> None:
    part = load(
        tmp_path,
        replace(CLEAT, outlines={"front": CLEAT.outlines["front"]}),
        name="Cleat $5_x$ \\frac 港 " + 30 * "long ",
        units="in",
    )
    part.picture(tmp_path / "a.png")
    image = pixels(tmp_path / "a.png")
    assert (image[:, -20:] == 255).all()  # nothing runs off the sheet
    assert (image[25:80, 40:600] < 128).any()  # the name
    assert (image[80:170, 40:600] < 128).any()  # what there is to say


# --- one outline -------------------------------------------------------------------


def test_an_outline_is_filled_and_its_holes_are_not(
    cleat: silhouette3d.Part, tmp_path: Path
) -> None:
    (tmp_path / "whole").mkdir()
    whole = load(tmp_path / "whole", replace(CLEAT, outlines={"front": BODY}))
    counts = []
    for part, file in ((cleat, tmp_path / "a.png"), (whole, tmp_path / "b.png")):
        part.picture_outline("front", file)
        image = pixels(file)
        assert image.shape[1] == WIDTH
        counts.append(int(like(image, PART, 3).sum()))
    # the lines cover 1.6 pixels of the 19 in a mm inside every edge
    edges = (2 * (48 + 30) * 1.6 / 19, HOLE.length * 1.6 / 19)
    assert counts[0] / counts[1] == pytest.approx(
        1 - (HOLE.area + edges[1]) / (48 * 30 - edges[0]), abs=0.01
    )


def test_an_outline_needs_no_solid(tmp_path: Path) -> None:
    apart = {"front": rect(0, 0, 20, 40), "top": rect(40, 0, 60, 30)}
    part = load(tmp_path, replace(CLEAT, outlines=apart))
    part.picture_outline("top", tmp_path / "a.png")
    assert like(pixels(tmp_path / "a.png"), PART).any()
    with pytest.raises(silhouette3d.EmptyPartError):
        part.picture(tmp_path / "b.png")
    assert not (tmp_path / "b.png").exists()


def test_a_stock_that_is_drawn_otherwise_than_measured_is_shown(tmp_path: Path) -> None:
    seen = []
    for job in ("faulty/stock-mismatch", "tugboat"):
        part = silhouette3d.load(ROOT / "samples" / job)
        part.picture_outline(part.job.names[0], tmp_path / "a.png")
        seen.append(int(like(pixels(tmp_path / "a.png"), LOST).sum()))
    assert seen[0] > 500  # four broken lines and their key
    assert seen[1] == 0


def test_gaps_are_ringed_and_tabs_shown(tmp_path: Path) -> None:
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">'
        '<path fill="none" stroke="black" d="M 5,35 L 55,35 L 55,5 L {end},5 M 5,5 L 5,35"/></svg>'
    )
    seen = {}
    for name, end, more in (
        ("closed", 5, ""),
        ("gap", 5.03, ""),
        ("tab", 5, "[[profile.tab]]\nat = [30.0, 5.0]\nwidth = 6.0\n"),
    ):
        folder = tmp_path / name
        folder.mkdir()
        (folder / "front.svg").write_text(drawing.format(end=end), "utf-8")
        (folder / "job.toml").write_text(
            'name = "Gap"\n[stock]\nsize = [60.0, 30.0, 40.0]\ndensity = 1.0\n'
            f'[[profile]]\nview = "front"\ndrawing = "front.svg"\ndatum = [0.0, 0.0]\n{more}',
            "utf-8",
        )
        part = silhouette3d.load(folder)
        part.picture_outline("front", folder / "a.png")
        image = pixels(folder / "a.png")
        seen[name] = [int(like(image, colour).sum()) for colour in (GAP, TAB)]
        assert len(vertices(part.profile("front").outline)) == 4 + (name == "gap")
    assert seen["closed"] == [0, 0]
    assert seen["gap"][0] > 200
    assert seen["gap"][1] == 0
    assert seen["tab"][0] == 0
    # 19 pixels to the mm: a ring of 6 mm, and 6 mm of the outline 12 pixels wide
    assert seen["tab"][1] > 0.9 * 19 * 6 * 12


def test_an_unknown_profile_is_named_with_those_there_are(
    cleat: silhouette3d.Part, tmp_path: Path
) -> None:
    with pytest.raises(PictureError, match=r"'plan'.*front, top"):
        cleat.picture_outline("plan", tmp_path / "a.png")


# --- files and sheets of paper -----------------------------------------------------


def test_a_suffix_is_refused_before_anything_is_drawn(
    cleat: silhouette3d.Part, tmp_path: Path
) -> None:
    for name, told in (("a.bmp", "'.bmp'"), ("a", "without a suffix")):
        for write_picture in (
            lambda file: draw_sheet(cleat.results, file),
            lambda file: draw_view(cleat.results, "iso", file),
            lambda file: cleat.picture_outline("front", file),
        ):
            with pytest.raises(OutputError, match=rf"{told}.*\.png or \.jpg"):
                write_picture(tmp_path / name)
    assert "solid" not in vars(cleat.results)


def test_a_failed_picture_leaves_the_old_one(tmp_path: Path) -> None:
    file = tmp_path / "a.png"
    file.write_bytes(b"old")

    def fail() -> None:
        with paper(file, (60, 40)):
            raise PictureError("no ink")

    with pytest.raises(PictureError, match="no ink"):
        fail()
    assert file.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.png"]


def test_a_folder_that_is_not_there_is_told(cleat: silhouette3d.Part, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="does not exist"):
        cleat.picture_outline("front", tmp_path / "nowhere" / "a.png")


def test_words_are_cut_to_fit(tmp_path: Path) -> None:
    with paper(tmp_path / "a.png", (600, 100)) as figure:
        write_within(figure, (10, 50), "short", 9, 500)
        write_within(figure, (10, 20), "all the words of a long sentence", 9, 150)
        short, cut = (text.get_text() for text in figure.texts)
        assert short == "short"
        assert cut.startswith("all the")
        assert cut.endswith("…")
        assert write(figure, (10, 20), cut, 9) <= 150


def test_words_are_taken_as_they_are(tmp_path: Path) -> None:
    with paper(tmp_path / "a.png", (600, 100)) as figure:
        dollars = write(figure, (10, 50), "$x$", 9)
        assert dollars > 1.5 * write(figure, (10, 20), "x", 9)  # two more signs, not mathematics


def test_a_picture_is_as_large_as_asked(tmp_path: Path) -> None:
    with paper(tmp_path / "a.png", (601, 99)):
        pass
    assert pixels(tmp_path / "a.png").shape == (99, 601, 3)


def test_settings_of_the_user_stay(tmp_path: Path) -> None:
    import matplotlib as mpl

    before = dict(mpl.rcParams)
    with paper(tmp_path / "a.png", (60, 40)):
        assert mpl.rcParams["text.parse_math"] is False
    assert dict(mpl.rcParams) == before
    assert "matplotlib.pyplot" not in vars(paper_)


@pytest.mark.parametrize("shell", [1, -1])
@pytest.mark.parametrize("hole", [1, -1])
def test_areas_keep_holes_open(tmp_path: Path, shell: int, hole: int) -> None:
    """Whichever way their rings run."""
    rings = (shapely.box(10, 10, 90, 90).exterior.coords, shapely.box(30, 30, 60, 60).exterior)
    area = Polygon(rings[0][::shell], [rings[1].coords[::hole]])
    with paper(tmp_path / "a.png", (100, 100)) as figure:
        axes = place(figure, (0, 0, 100, 100))
        axes.set_xlim(0, 100)
        axes.set_ylim(0, 100)
        draw_area(axes, area, facecolor=PART)
        draw_area(axes, Polygon(), facecolor=LOST)
    image = pixels(tmp_path / "a.png")
    # an edge that falls between pixels paints part of one on either side
    assert like(image, PART, 2).sum() == pytest.approx(area.area, abs=area.length)
    assert like(image, PAPER, 2)[45, 45]


# --- the window --------------------------------------------------------------------


def test_the_window_shows_the_part_and_says_what_it_is(cleat: silhouette3d.Part) -> None:
    with drawing_with(window_for_pictures()):
        plotter = fill_window(cleat.results, off_screen=True)
        image = np.asarray(plotter.screenshot(return_img=True))
    texts = [actor for actor in plotter.actors.values() if hasattr(actor, "GetText")]
    words = " ".join(str(actor.GetText(corner)) for actor in texts for corner in range(8))
    plotter.close()
    assert like(image, PART, 40).sum() > 10_000
    assert "48 × 20 × 30 mm" in words
    assert "close" in words


# --- what it costs to import -------------------------------------------------------


def test_nothing_heavy_is_loaded_before_the_first_picture() -> None:
    code = (
        "import sys, silhouette3d.documents.pictures, silhouette3d.documents.pictures.outline, "
        "silhouette3d.documents.pictures.window; "
        "print({n.partition('.')[0] for n in sys.modules} & "
        "{'pyvista', 'vtk', 'vtkmodules', 'matplotlib'})"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"
