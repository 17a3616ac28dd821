"""How setup sheets look: paper, fonts, nothing cut off or overprinted, pictures the right way."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pypdf
import pypdfium2
import pytest
import shapely
from shapely import Polygon, affinity

from silhouette3d.base.quantities import Scale
from silhouette3d.checks.finding import Finding
from silhouette3d.documents.setup_sheets import fonts
from silhouette3d.documents.setup_sheets.block_pictures import (
    Gallery,
    block_picture,
    face_picture,
    file_picture,
)
from silhouette3d.documents.setup_sheets.part_page import GAP, view_pictures
from silhouette3d.documents.setup_sheets.setup import SheetSetup, setups_of
from silhouette3d.errors import PictureError
from silhouette3d.geometry.frames import VIEWS
from silhouette3d.part import Part, load
from silhouette3d.presentation.turning import LETTERS
from silhouette3d.presentation.wording.words import Told
from tests.support.sheet_jobs import (
    Sheets,
    bollard,
    flat,
    made,
    overprinted,
    profile,
    svg,
    write_job,
)

# ISO 216 A4 is 210 by 297 mm; ANSI/ASME Y14.1 size A is 8.5 by 11 in (both from memory).
PAPERS = {"A4": (210.0 / 25.4 * 72.0, 297.0 / 25.4 * 72.0), "letter": (8.5 * 72.0, 11.0 * 72.0)}
EDGE = 6.0 / 25.4 * 72.0
"""6 mm in points. Common printers leave about 4 mm blank (common practice, no source)."""

LONG = "Harbourmastersdesk" * 11 + "ht"  # 200 letters without a place to break
GREEK_AND_MORE = "Ρυμουλκό Буксир גוררת ßéł Ⅷ ½ ☐"
CODE = "#let x = 1; $a_b$ *c* _d_ `e` <f> @g [h] \\ // /* */ ~ -- ' \""


@pytest.fixture(scope="module")
def worked_out(tmp_path_factory: pytest.TempPathFactory) -> Part:
    """The bollard, with all that takes time done once."""
    part = load(bollard(tmp_path_factory.mktemp("bollard")))
    _ = part.findings, part.as_cut
    return part


def changed(part: Part, name: str, **results: Any) -> Part:
    """The same part under another name, some of its results replaced."""
    other = Part(part.job.changed({("name",): name}))
    done = {key: value for key, value in vars(part.results).items() if key != "job"}
    vars(other.results).update({**done, **results})
    return other


@pytest.fixture
def plain(monkeypatch: pytest.MonkeyPatch) -> None:
    """No shaded pictures, which take the most time."""

    def refuse() -> None:
        raise PictureError("not here")

    monkeypatch.setattr("silhouette3d.documents.pictures.render.Studio", refuse)


def check_layout(sheets: Sheets, paper: str = "A4") -> None:
    """Everything lies on the paper, inside its margins, and nothing on something else."""
    count = 0
    for size, letters in sheets.letters():
        count += len(letters)
        assert np.allclose(size, PAPERS[paper], rtol=0, atol=0.01)
        boxes = np.array([letter.box for letter in letters])
        assert boxes[:, :2].min() >= EDGE
        assert (boxes[:, 2:] <= np.array(size) - EDGE).all()
        assert overprinted(letters) == []
    assert count > 1000


def fonts_of(page: pypdf.PageObject) -> Iterator[Any]:
    """Every simple font of a page, in its forms and patterns too."""
    todo, seen = [page], set[int]()
    while todo:
        resources = todo.pop().get("/Resources", {})
        for font in resources.get("/Font", {}).values():
            inner = font.get_object().get("/DescendantFonts")
            yield inner[0].get_object() if inner else font.get_object()
        for form in resources.get("/XObject", {}).values():
            if form.idnum not in seen:
                seen.add(form.idnum)
                todo.append(form.get_object())


@pytest.mark.usefixtures("plain")
class TestThePaper:
    @pytest.fixture(params=["A4", "letter"])
    def paper(self, request: pytest.FixtureRequest) -> str:
        return str(request.param)

    def test_a_small_job(self, paper: str, worked_out: Part, tmp_path: Path) -> None:
        sheets = made(worked_out, tmp_path, paper)
        assert len(sheets.pages) == 5
        check_layout(sheets, paper)

    def test_every_font_is_embedded(self, worked_out: Part, tmp_path: Path) -> None:
        job = changed(worked_out, f"{GREEK_AND_MORE} 縦 🚢")
        found = {}
        for page in made(job, tmp_path).reader.pages:
            for font in fonts_of(page):
                descriptor = font["/FontDescriptor"].get_object()
                found[font["/BaseFont"]] = descriptor.keys() & {"/FontFile2", "/FontFile3"}
        assert all(found.values())
        assert {name.partition("+")[2].partition("-Identity")[0] for name in found} <= {
            "DejaVuSans",
            "DejaVuSans-Bold",
        }

    def test_every_page_has_its_number(self, worked_out: Part, tmp_path: Path) -> None:
        sheets = made(worked_out, tmp_path)
        assert [f"page {n} of 5" in page for n, page in enumerate(sheets.pages, 1)] == [True] * 5

    def test_the_document_names_the_job(self, worked_out: Part, tmp_path: Path) -> None:
        data = made(changed(worked_out, "Bollard, tall"), tmp_path).reader.metadata
        assert data is not None
        assert data.title == "Bollard, tall"


@pytest.mark.usefixtures("plain")
class TestNames:
    @pytest.mark.parametrize(
        ("name", "shown"),
        [
            (LONG, LONG),
            ("tall bollard " * 15 + "tail!", "tall bollard " * 15 + "tail!"),
            (CODE, CODE),
            ("縦" * 200, "[U+7E26]" * 200),
            ("Tug 🚢", "Tug [U+1F6A2]"),
            ("two\nlines\tand a tab", "two lines and a tab"),
            ("Ρυμουλκό Буксир ßéł Ⅷ ½", "Ρυμουλκό Буксир ßéł Ⅷ ½"),
        ],
        ids=["long", "words", "code", "far", "ship", "lines", "scripts"],
    )
    def test_of_the_job(
        self,
        name: str,
        shown: str,
        worked_out: Part,
        tmp_path: Path,
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        monkeypatch.setattr(fonts, "lacking_everywhere", lambda signs: signs)  # a bare machine
        sheets = made(changed(worked_out, name), tmp_path)
        assert _solid(shown) in _solid(sheets.pages[0])
        check_layout(sheets)

    def test_of_drawings_and_profiles(self, tmp_path: Path) -> None:
        """An outline's file can be told from others however long its name is."""
        name, file = "side of " + LONG[:120], LONG[:180] + " (2).svg"
        job = write_job(
            tmp_path, [profile('"front"', file, f'name = "{name}"'), profile('"top"', "top.svg")]
        )
        (job / "front.svg").rename(job / file)
        sheets = made(job, tmp_path)
        assert _solid(name) in _solid(sheets.pages[1])
        assert _solid(sheets.text).count(_solid(file)) == 1  # in the list on page 1
        check_layout(sheets)

    def test_a_sign_that_another_font_has_is_left(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """A machine whose only other font has Chinese, played by one that has no Greek."""
        files = [str(fonts.folder() / "DejaVuSansMono.ttf"), "/no/such/font.ttf"]
        monkeypatch.setattr("matplotlib.font_manager.findSystemFonts", lambda: files)
        assert fonts.lacking({"A", "ω", "\u200b", "縦"}) == {"縦"}
        assert fonts.lacking_everywhere({"ω", "縦"}) == {"縦"}


def _solid(text: str) -> str:
    """Without spaces and the marks where long words may break."""
    return "".join(flat(text).split())


@pytest.mark.usefixtures("plain")
class TestMuch:
    def test_eight_profiles(self, tmp_path: Path) -> None:
        box = {"front": "front", "rear": "front", "right": "right", "left": "right"}
        box |= {"top": "top", "bottom": "top"}
        profiles = [profile(f'"{view}"', f"{file}.svg") for view, file in box.items()]
        for k, look in enumerate(((1, 1, 0), (-1, 2, -3))):
            more = f'name = "slant {k}"\nscale = 3.0\nshift = [-40.0, -30.0]'
            profiles.append(profile(f"{{look = {list(look)}, up = [0, 0, 1]}}", "top.svg", more))
        part = load(write_job(tmp_path, profiles))
        sheets = made(part, tmp_path, "letter")
        for number, name in enumerate(part.job.order, start=1):
            assert f"Setup {number} of 8: {name}" in sheets.text
        assert sheets.text.count("Before cutting") == 8
        assert "and C left" in sheets.text  # between two sides
        check_layout(sheets, "letter")

    def test_forty_findings(self, worked_out: Part, tmp_path: Path) -> None:
        kinds = ["error"] * 8 + ["warning"] * 16 + ["note"] * 16
        more = tuple(
            Finding("witness", kind, str(i))  # type: ignore[arg-type]
            for i, kind in enumerate(kinds)
        )

        def words(one: Finding, _: Scale | None = None) -> Told:
            return Told(f"what is wrong {one.profile}, " * 9 + "so", f"do {one.profile}")

        sheets = made(changed(worked_out, "Bollard", findings=more, told=words), tmp_path)
        places = [
            sheets.text.index("{}: witness {}. → {}.".format(f.severity, *words(f))) for f in more
        ]
        assert places == sorted(places)
        for number in range(3):
            assert f"Setup {number + 1} of 3" in sheets.text
        check_layout(sheets)


LONG_BLOCKS = [
    (150.0, 12.0, 38.0),
    (400.0, 10.0, 10.0),
    (10.0, 10.0, 400.0),
    (12.0, 300.0, 20.0),
    (200.0, 200.0, 3.0),
    (5.0, 90.0, 120.0),
]


def plate(folder: Path, size: tuple[float, float, float], units: str = "mm") -> Part:
    """A block cut from the front and the top, 2 mm inside its faces."""
    w, d, h = size
    for name, (across, up) in {"front": (w, h), "top": (w, d)}.items():
        margin = min(2.0, across / 4.0, up / 4.0)
        path = f"M{margin} {margin}H{across - margin}V{up - margin}H{margin}Z"
        (folder / f"{name}.svg").write_text(svg(across, up, path))
    factor = 25.4 if units == "in" else 1.0
    head = f"name = 'Plate'\nunits = '{units}'\n[stock]\nmaterial = 'oak'\n"
    head += f"size = {[side / factor for side in size]}\n"
    views = [profile(f'"{name}"', f"{name}.svg") for name in ("front", "top")]
    (folder / "job.toml").write_text(head + "\n".join(views))
    return load(folder)


class TestLongParts:
    @pytest.mark.usefixtures("plain")
    @pytest.mark.parametrize("size", LONG_BLOCKS)
    def test_everything_lies_between_the_margins(
        self, size: tuple[float, float, float], tmp_path: Path
    ) -> None:
        sheets = made(plate(tmp_path, size), tmp_path)
        assert len(sheets.pages) == 4
        check_layout(sheets)
        document = pypdfium2.PdfDocument(sheets.path)
        for page in document:
            pixels = page.render(scale=2.0).to_numpy().min(axis=2)
            drawn = np.nonzero((pixels < 200).any(axis=0))[0] / 144.0 * 25.4
            # the margin of 15 mm, less half of a bar of 2.5 pt and a pixel
            assert drawn.min() > 14.35
            assert drawn.max() < 210.0 - 14.35
        document.close()

    @pytest.mark.usefixtures("plain")
    def test_a_strip_goes_on_the_shorter_paper_too(self, tmp_path: Path) -> None:
        sheets = made(plate(tmp_path, (1200.0, 28.0, 3.0)), tmp_path, paper="letter")
        check_layout(sheets, "letter")

    def test_no_dimension_lies_on_a_view(self, tmp_path: Path) -> None:
        """The rectangles of the shaded pictures, and each letter that is told beside them."""
        sheets = made(plate(tmp_path, LONG_BLOCKS[0], "in"), tmp_path)
        document = pypdfium2.PdfDocument(sheets.path)
        kinds = [pypdfium2.raw.FPDF_PAGEOBJ_IMAGE]
        views = [shapely.box(*one.get_bounds()) for one in document[0].get_objects(filter=kinds)]
        document.close()
        assert len(views) == 4
        (_, letters) = next(sheets.letters())
        for view in views[1:]:
            assert not any(view.intersects(shapely.box(*letter.box)) for letter in letters)
        for i, one in enumerate(views):
            assert not any(one.intersects(other) for other in views[i + 1 :])

    def test_they_are_drawn_larger_in_rows_and_across_the_page(self, tmp_path: Path) -> None:
        """A plate of 150 × 12 × 38 mm: beside two others its front has a third of 180 mm."""
        part = plate(tmp_path, LONG_BLOCKS[0])
        rows, abreast = view_pictures(part.results, Gallery(tmp_path, None), (180.0, 58.0))
        assert [[_name(one) for one in row] for row in rows] == [["top"], ["front", "right"]]
        assert [[_name(one) for one in row] for row in abreast] == [["front", "right", "top"]]
        assert max(sum(one["width"] for one in row) for row in rows) <= 180.0 - GAP
        assert _width(rows[1][0]) > 2.0 * _width(abreast[0][0])
        ((only,),) = view_pictures(
            load(bollard(tmp_path / "b")).results, Gallery(tmp_path, None), (180, 58)
        )
        assert [_name(one) for one in only] == ["front", "right", "top"]


def _name(picture: dict[str, Any]) -> str:
    """What a view is called: its only words in bold."""
    return next(str(i["text"]) for i in picture["items"] if i["kind"] == "words" and i["bold"])


def _width(picture: dict[str, Any]) -> float:
    """mm of paper that the shadow of a view takes across."""
    low, _, high, _ = _areas(picture)[0].bounds
    return float(high - low)


class TestPictures:
    @pytest.fixture
    def bare(self, tmp_path: Path) -> Gallery:
        return Gallery(tmp_path, None)

    def setups(self, folder: Path, **mores: str) -> tuple[SheetSetup, ...]:
        profiles = [
            profile(f'"{view}"', f"{_FILES[view]}.svg", mores.get(view, "")) for view in VIEWS
        ]
        return setups_of(load(write_job(folder, profiles)).results)[0]

    def test_letters_and_datum_on_the_block(self, tmp_path: Path, bare: Gallery) -> None:
        """As in the table of how a block lies: the face that is up above the one that is near,
        that on the right to the right of it; the datum at the upper end of the left edge."""
        lies = {
            "front": "AED",
            "rear": "FEC",
            "right": "DEF",
            "left": "CEA",
            "top": "BAD",
            "bottom": "EFD",
        }  # up, near, right
        for setup in self.setups(tmp_path):
            picture = block_picture(setup, bare, (80.0, 60.0))
            at = {i["text"]: i["at"] for i in picture["items"] if i["kind"] == "words"}
            up, near, right = (np.array(at[letter]) for letter in lies[setup.profile.view.name])
            assert set(at) == {*lies[setup.profile.view.name], "0, 0", "you"}
            assert up[1] < min(near[1], right[1])
            assert near[0] < right[0]
            ring = next(i for i in picture["items"] if i["kind"] == "disc" and i["radius"] == 1.5)
            datum, outer = np.array(ring["at"]), np.array(_hull(picture))
            assert datum[0] == pytest.approx(outer[:, 0].min())  # the leftmost corner …
            left = outer[outer[:, 0] < datum[0] + 1e-3]
            assert datum[1] == pytest.approx(left[:, 1].min())  # … and the upper one of its edge
            assert at["you"][1] > near[1]

    def test_the_corner_that_is_marked_is_the_datum(self, tmp_path: Path, bare: Gallery) -> None:
        """Corner of the block under the mark: lower left of the face in the view's drawing."""
        corner = {
            "front": (0, 0, 0),
            "rear": (40, 20, 0),
            "right": (40, 0, 0),
            "left": (0, 20, 0),
            "top": (0, 0, 30),
            "bottom": (0, 20, 0),
        }
        for setup in self.setups(tmp_path):
            found = setup.profile.to_block((0.0, 0.0), depth=0.0)
            assert found.tolist() == list(corner[setup.profile.view.name])

    def test_the_outline_lies_on_the_face(self, tmp_path: Path) -> None:
        (setup, *_) = self.setups(tmp_path)
        picture = face_picture(setup, Scale("mm"), (108.0, 88.0))
        part, stock = _areas(picture)[:2]
        scale = stock.bounds[2] - stock.bounds[0]
        flipped = affinity.scale(part, 1.0, -1.0, origin=(0.0, stock.bounds[3]))
        there = affinity.translate(flipped, -stock.bounds[0], -stock.bounds[3])
        there = affinity.scale(there, 40.0 / scale, 40.0 / scale, origin=(0.0, 0.0))
        # points are rounded to a thousandth of a millimetre of paper, some 1/2 mm of it per mm
        assert shapely.hausdorff_distance(there, setup.profile.area) < 0.01

    def test_the_file_is_shown_as_it_lies_on_the_face(self, tmp_path: Path) -> None:
        """A job that turns and mirrors: so does the drawing of the setup, and its picture."""
        moved = "turn = 30.0\nmirror = true\nscale = 0.5\nshift = [20.0, 8.0]"
        (as_drawn, *_) = self.setups(tmp_path / "a")
        (setup, *_) = self.setups(tmp_path / "b", front=moved)
        one, other = (_areas(file_picture(s, (34.0, 24.0)))[0] for s in (as_drawn, setup))
        assert shapely.hausdorff_distance(one, other) > 0.5
        (x0, y0, x1, y1), face = other.bounds, setup.profile.area
        u0, v0, u1, v1 = face.bounds
        assert (x1 - x0) / (y1 - y0) == pytest.approx((u1 - u0) / (v1 - v0), rel=1e-3)

    def test_shaded_pictures_and_pages_that_can_be_rendered(
        self, worked_out: Part, tmp_path: Path
    ) -> None:
        """Four pictures on page 1, and the block as it lies on every setup."""
        sheets = made(worked_out, tmp_path)
        images = [len(page.images) for page in sheets.reader.pages]
        assert images == [4, 1, 1, 1, 0]
        check_layout(sheets)
        document = pypdfium2.PdfDocument(sheets.path)
        for page in document:
            pixels = page.render(scale=0.5).to_numpy()
            share = float((pixels.min(axis=2) < 200).mean())
            assert 0.02 < share < 0.5  # drawn on, and not black
        document.close()


_FILES = {
    "front": "front",
    "rear": "front",
    "right": "right",
    "left": "right",
    "top": "top",
    "bottom": "top",
}


def _areas(picture: dict[str, Any]) -> list[Polygon]:
    """The areas of a picture in mm of paper, y down."""
    found = []
    for item in picture["items"]:
        if item["kind"] == "area" and len(item["rings"][0]) > 3:
            shell, *holes = item["rings"]
            found.append(Polygon(shell, holes))
    return found


def _hull(picture: dict[str, Any]) -> list[list[float]]:
    return next(i["rings"][0] for i in picture["items"] if i["kind"] == "area")


def test_letters_are_those_of_the_six_views() -> None:
    assert list(LETTERS) == ["front", "top", "left", "right", "bottom", "rear"]
    assert "".join(LETTERS.values()) == "ABCDEF"
