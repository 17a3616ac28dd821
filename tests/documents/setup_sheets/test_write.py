"""Setup sheets: the text read back says what the part says."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from datetime import date
from itertools import pairwise
from pathlib import Path

import pytest
import shapely

from silhouette3d.base.units import pounds
from silhouette3d.cli import main
from silhouette3d.documents.setup_sheets.cautions import DEFER, FULL, LIFT, SHORT
from silhouette3d.documents.setup_sheets.write import write_sheets
from silhouette3d.errors import EmptyPartError, OutputError, PictureError
from silhouette3d.geometry.frames import VIEWS
from silhouette3d.part import Part, load
from silhouette3d.presentation.turning import Turning
from tests.support.sheet_jobs import DAY, Sheets, bollard, flat, made, profile, tab, write_job

ROOT = Path(__file__).resolve().parents[3]
MM_PER_INCH = 25.4
G_PER_OZ = 453.59237 / 16.0


@pytest.fixture(scope="module", autouse=True)
def without_pictures() -> Iterator[None]:
    """No shaded pictures, which take the most time; the last test here has them."""

    def refuse() -> None:
        raise PictureError("not here")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("silhouette3d.documents.pictures.render.Studio", refuse)
        yield


@pytest.fixture(scope="module", params=["mm", "in"])
def part(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Part:
    return load(bollard(tmp_path_factory.mktemp("job"), request.param))


@pytest.fixture(scope="module", params=["A4", "letter"])
def sheets(
    request: pytest.FixtureRequest, part: Part, tmp_path_factory: pytest.TempPathFactory
) -> Sheets:
    return made(part, tmp_path_factory.mktemp("sheets"), request.param)


def behind(text: str, label: str, reach: int = 140) -> str:
    """What stands behind a label."""
    assert label in text, label
    return text.split(label, 1)[1][:reach]


def shows(text: str, unit: str, *values: float) -> bool:
    """Whether numbers stand one after the other, rounded to what is printed, before a unit.

    Each may be off by half of its last place, and that by 0.5 % of it at most:
    so every one has three significant figures or is exact.
    """
    numbers = r"(?: ×|,| to) (?:[a-z] )?".join([r"(-?\d+(?:\.\d+)?)"] * len(values))
    found = re.findall(rf"(?<![\d.]){numbers} {unit}(?![\w²³/])", text)
    for one in found:
        told = [one] if isinstance(one, str) else one
        if all(_rounds_to(text, value) for text, value in zip(told, values, strict=True)):
            return True
    return False


def _rounds_to(told: str, value: float) -> bool:
    half = 0.5 * 10.0 ** -len(told.partition(".")[2])
    off = abs(float(told) - value)
    # what is exact in decimals may miss by the rounding of a number near a thousand
    return off <= half + 1e-9 and (off <= 0.005 * abs(value) or off <= 1e-9)


def both_lengths(text: str, *mm: float) -> bool:
    return shows(text, "mm", *mm) and shows(text, "in", *(v / MM_PER_INCH for v in mm))


def both_masses(text: str, grams: float) -> bool:
    metric = shows(text, "g", grams) or shows(text, "kg", grams / 1000.0)
    lb = pounds(grams)
    return metric and (shows(text, "oz", 16.0 * lb) or shows(text, "lb", lb))


class TestThePart:
    def test_size(self, part: Part, sheets: Sheets) -> None:
        assert both_lengths(behind(sheets.pages[0], "Size"), *part.solid.size)

    def test_mass_with_its_bound(self, part: Part, sheets: Sheets) -> None:
        assert both_masses(behind(sheets.pages[0], "Mass"), part.mass)
        assert part.measures.mass_error == 0.0  # straight outlines
        assert "exact for the outlines as drawn" in behind(sheets.pages[0], "Mass")

    def test_shipping_weight(self, part: Part, sheets: Sheets) -> None:
        text = behind(sheets.pages[0], "Shipping weight")
        assert shows(text, "kg", part.mass / 1000.0)
        assert shows(text, "lb", pounds(part.mass))

    def test_volume_and_centre(self, part: Part, sheets: Sheets) -> None:
        text = behind(sheets.pages[0], "Volume")
        assert shows(text, "cm³", part.measures.volume / 1000.0)
        assert shows(text, "in³", part.measures.volume / MM_PER_INCH**3)
        assert both_lengths(behind(sheets.pages[0], "Centre of mass"), *part.measures.centre)

    def test_material_and_density(self, part: Part, sheets: Sheets) -> None:
        assert part.material is not None
        assert behind(sheets.pages[0], "Material").startswith(f" {part.material.name} ")
        text = behind(sheets.pages[0], "Density ")
        assert shows(text, "g/cm³", part.density)
        assert shows(text, "lb/in³", pounds(part.density) * MM_PER_INCH**3 / 1000.0)
        assert behind(sheets.pages[0], "Density from ", 300).startswith(part.material.source)

    def test_stock_and_share_removed(self, part: Part, sheets: Sheets) -> None:
        text = behind(sheets.pages[0], "Stock block")
        assert both_lengths(text, *part.stock.size)
        assert both_masses(behind(sheets.pages[0], "Stock weighs"), part.stock_mass)
        assert f"{100.0 * part.share_removed:.1f}%" in behind(sheets.pages[0], "Cut away")

    def test_findings(self, part: Part, sheets: Sheets) -> None:
        at = -1
        for finding in part.findings:
            told = part.told(finding, part.scale_in("both"))
            words = f"{finding.severity}: {finding.code} {told.message}. → {told.advice}."
            place = sheets.pages[0].find(flat(words))
            assert place > at, words  # in order, worst first
            at = place
        assert "DO NOT CUT" not in sheets.text

    def test_dimensions_of_the_three_views(self, part: Part, sheets: Sheets) -> None:
        """Each of the three outer dimensions stands at two of the views."""
        unit = part.job.units
        words = sheets.pages[0].partition("Setups, in this order")[2].partition("Findings")[0]
        for value in part.solid.size / (MM_PER_INCH if unit == "in" else 1.0):
            told = [t for t in re.findall(rf"([\d.]+) {unit}", words) if _rounds_to(t, value)]
            assert len(told) == 2


class TestTheSetups:
    def test_a_page_for_each_in_the_order_of_cuts(self, part: Part, sheets: Sheets) -> None:
        assert len(sheets.pages) == 1 + len(part.job.order) + 1
        for number, name in enumerate(part.job.order, start=1):
            title = f"Setup {number} of {len(part.job.order)}: {name}"
            assert [title in page for page in sheets.pages].index(True) == number
            assert f"-{number:02}-{name}.dxf" in sheets.pages[number]
        assert [f"page {i} of 5" in page for i, page in enumerate(sheets.pages, 1)] == [True] * 5

    def test_turning(self, sheets: Sheets) -> None:
        order = ["front", "right", "top"]
        for number, (before, after) in enumerate(pairwise(order), start=2):
            words = Turning(VIEWS[before], VIEWS[after]).words
            assert f"From setup {number - 1} ({before}): {words}." in sheets.pages[number]
        assert "A front, B top, C left, D right, E bottom, F rear" in sheets.pages[1]

    def test_how_the_block_lies(self, sheets: Sheets) -> None:
        lies = {1: ("A", "D", "E"), 2: ("D", "F", "E"), 3: ("B", "D", "A")}
        for number, (up, right, near) in lies.items():
            page = sheets.pages[number]
            assert re.search(rf"up {up} \w+ towards you {near} \w+ on the right {right} ", page)

    def test_how_the_cutter_runs(self, sheets: Sheets) -> None:
        words = "Seen from above, as the block lies: across is to your right, away is up the"
        for page in sheets.pages[1:-1]:
            assert f"{words} picture. The cut goes straight down." in page

    def test_height_as_it_lies_and_before(self, part: Part, sheets: Sheets) -> None:
        heights = [part.stock.size[i] for i in (1, 0, 2)]
        for number, height in enumerate(heights, start=1):
            assert both_lengths(behind(sheets.pages[number], "Height as it lies", 30), height)
        for number, before in enumerate(heights[:-1], start=2):
            assert both_lengths(behind(sheets.pages[number], "Height before", 30), before)
            assert "Set stand-off and clearance anew." in sheets.pages[number]

    def test_extents_from_the_datum(self, part: Part, sheets: Sheets) -> None:
        for number, name in enumerate(part.job.order, start=1):
            u0, v0, u1, v1 = shapely.bounds(part.profile(name).area)
            page = sheets.pages[number]
            for label, value in (
                ("First across", u0),
                ("Last across", u1),
                ("First away", v0),
                ("Last away", v1),
            ):
                assert both_lengths(behind(page, label, 30), float(value)), label

    def test_the_cut(self, part: Part, sheets: Sheets) -> None:
        for number, stage in enumerate(part.stages, start=1):
            page, taken = sheets.pages[number], stage.figures
            thick = {round(taken.least, 6), round(taken.most, 6)}
            assert both_lengths(behind(page, "Thickness to cut", 60), *sorted(thick))
            path = behind(page, "Path ", 40)
            length = sum(run.length for run in stage.runs)
            assert shows(path, "mm", length)
            assert shows(path, "in", length / MM_PER_INCH)
            starts = [run.start for run in stage.runs]
            told = (
                ("edge", "from the edge"),
                ("hole", "inside a hole"),
                ("pierce", "by piercing"),
                ("drilled", "in a start hole"),
            )
            counts = [f"{starts.count(start)} {words}" for start, words in told if start in starts]
            assert behind(page, "Starts", 60).startswith(f" {', '.join(counts)}")
            tabs = behind(page, "Tabs ", 12)
            assert tabs.startswith(f"{len(stage.cut.tabs)}, of" if stage.cut.tabs else "none")
            assert both_lengths(behind(page, "Kerf", 40), part.job.cutting.kerf)

    def test_what_comes_loose(self, part: Part, sheets: Sheets) -> None:
        for number, stage in enumerate(part.stages, start=1):
            after = sheets.pages[number].partition("After cutting")[2]
            count = len(stage.loose)
            last = number == len(part.stages)
            lead = f"{count} pieces come loose" if last else "No offcut comes loose"
            if count and not last:
                lead = f"Lift out {count} piece{'s' * (count > 1)} before the next setup"
            assert lead in after
            for body in stage.loose[:3]:
                assert both_masses(after, body.solid.volume * part.density / 1000.0)
                assert both_lengths(after, *body.solid.size)
            assert ("The part comes free" if last else "The part stays held.") in after

    def test_the_rest_of_many_pieces_is_summed(self, part: Part, sheets: Sheets) -> None:
        rest = part.stages[-1].loose[3:]
        text = behind(sheets.pages[3], f"and {len(rest)} pieces more,")
        assert both_masses(text, sum(b.solid.volume for b in rest) * part.density / 1000.0)

    def test_the_file_to_load_is_the_one_that_is_written(
        self, part: Part, sheets: Sheets, tmp_path: Path
    ) -> None:
        """By name and the beginning of its digest; the designer's drawings on page 1 only."""
        files = part.setups(tmp_path / "setups")
        for file, page in zip(files, sheets.pages[1:], strict=False):
            digest = hashlib.sha256(file.read_bytes()).hexdigest()
            assert page.count(digest[:8]) == 2
            assert ".svg" not in page
            assert "".join(page.split()).count(file.name) == 2
        assert all(f"from {name}.svg" in sheets.pages[0] for name in part.job.order)

    def test_check_list(self, part: Part, sheets: Sheets) -> None:
        for page in sheets.pages[1 : 1 + len(part.job.order)]:
            for words in (
                "measured:",
                "edges at the datum deburred",
                "seated against the square",
                "zero at the datum corner, machine position written down",
                "it looks like its picture and was not cut before",
            ):
                assert words in page.partition("Before cutting")[2]
        assert both_lengths(behind(sheets.pages[1], "stock measured:"), *part.stock.size)

    def test_cautions_on_every_one(self, sheets: Sheets) -> None:
        for page in sheets.pages[1:-1]:
            assert all(caution in page for caution in (*SHORT, DEFER))
            assert LIFT not in page  # brass of this size


class TestAfterTheLast:
    def test_weight_to_expect(self, part: Part, sheets: Sheets) -> None:
        text = behind(sheets.pages[-1], "Weight to expect", 500)
        assert both_masses(behind(text, "As drawn", 40), part.mass)
        as_cut = part.as_cut.volume * part.density / 1000.0
        assert as_cut > part.mass  # inside corners
        assert both_masses(behind(text, "corners and stubs not dressed", 40), as_cut)

    def test_freeing_witnesses_and_deburring(self, part: Part, sheets: Sheets) -> None:
        page = sheets.pages[-1]
        assert "The last cut (top) frees the part." in page
        assert "None: no tab leaves a stub on the part." in page
        (corner,) = (one for one in part.findings if one.code == "inside-corner")
        assert part.told(corner, part.scale_in("both")).message in page
        assert "Break every edge" in page

    def test_cautions_in_full_with_their_sources(self, sheets: Sheets) -> None:
        for head, text, source in FULL:
            assert flat(f"{head}. {text}") in sheets.pages[-1]
            assert flat(source) in sheets.pages[-1]
        assert DEFER in sheets.pages[-1]
        assert DEFER == (
            "Follow the machine's manual, local rules and your shop's instructions; "
            "this sheet does not replace them."
        )


def test_a_bound_on_curves(tmp_path: Path) -> None:
    """A round top: its mass is told with what the straight pieces may amount to."""
    job = bollard(tmp_path)
    (job / "top.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="20mm" '
        'viewBox="0 0 40 20"><ellipse cx="20" cy="10" rx="17" ry="8"/></svg>'
    )
    part = load(job)
    text = behind(made(part, tmp_path).pages[0], "Mass")
    told = re.match(r" ([\d.]+) ± ([\d.]+) g \(([\d.]+) ± ([\d.]+) oz\)", text)
    assert told, text
    g, bound, oz, oz_bound = (float(number) for number in told.groups())
    error = part.measures.mass_error
    assert 0.0 < error <= bound < 1.2 * error  # two figures, rounded up
    assert error / G_PER_OZ <= oz_bound < 1.2 * error / G_PER_OZ
    assert abs(g - part.mass) <= bound / 2.0
    assert abs(oz - part.mass / G_PER_OZ) <= oz_bound / 2.0


def test_witnesses_are_listed_with_their_places(tmp_path: Path) -> None:
    part = load(ROOT / "samples/faulty/witness")
    (finding,) = (one for one in part.findings if one.code == "witness")
    assert finding.where is not None
    page = made(part, tmp_path).pages[-1]
    text = behind(page, "Stubs of tabs, to be filed or milled off flush", 400)
    assert both_lengths(text, *finding.where)


def test_one_unit_unless_both_are_asked_for(tmp_path: Path) -> None:
    """Ounces and pounds in an inch job. Pages 1 and last also quote sources in their own units."""
    for units, strange in (("mm", r" (in|oz|lb)\b(?! cut)"), ("in", r" (mm|g|kg)\b")):
        folder = tmp_path / units
        sheets = made(bollard(folder, units), folder, units=None)
        assert re.findall(rf"\d{strange}", " ".join(sheets.pages[1:-1])) == []
        assert len(re.findall(rf"\d{strange}", sheets.pages[0])) <= 1  # a density from a table
        other = made(bollard(folder, units), folder, units="mm" if units == "in" else "in")
        assert re.findall(rf"\d{strange}", other.pages[1])


class TestErrors:
    @pytest.mark.parametrize("name", ["not-released", "released-early", "several-bodies"])
    def test_do_not_cut(self, name: str, tmp_path: Path) -> None:
        part = load(ROOT / "samples/faulty" / name)
        errors = [one for one in part.findings if one.severity == "error"]
        assert errors
        sheets = made(part, tmp_path)
        first = sheets.pages[0]
        assert first.index("DO NOT CUT") < first.index("Size")
        for one in errors:
            assert first.index(f"error: {one.code}") < first.index("Size")
            told = part.told(one, part.scale_in("both"))
            assert told.message in first
            assert flat(told.advice) in first
        assert all("DO NOT CUT: see page 1" in page for page in sheets.pages[1:])

    def test_cuts_that_cannot_be_simulated(self, tmp_path: Path) -> None:
        """A tab that touches nothing: the sheets still come, and say what is wrong."""
        astray = profile('"front"', "front.svg", tab((20, 16), 2.0, 1.0))
        job = write_job(tmp_path, [astray, profile('"top"', "top.svg")])
        sheets = made(job, tmp_path)
        assert "DO NOT CUT" in sheets.pages[0]
        assert "the tab at (20, 16) mm touches no outline" in sheets.pages[0]
        assert "not known: the cuts cannot be simulated" in sheets.pages[1]
        assert "Size 34 × 16 × 24 mm" in sheets.pages[0]

    def test_nothing_left_is_an_error_without_a_file(self, tmp_path: Path) -> None:
        far = profile('"top"', "top.svg", "shift = [100.0, 0.0]")
        job = write_job(tmp_path, [profile('"front"', "front.svg"), far])
        with pytest.raises(EmptyPartError):
            made(job, tmp_path)
        assert list(tmp_path.glob("*.pdf")) == []

    @pytest.mark.parametrize(
        ("file", "paper", "words"),
        [
            ("sheets.html", "A4", "sheets are written as PDF.* End the file's name in .pdf"),
            ("sheets.pdf", "B5", "no paper called 'B5'. Take A4 or letter"),
            ("none/sheets.pdf", "A4", "the folder .* does not exist"),
        ],
    )
    def test_what_cannot_be_written(
        self, file: str, paper: str, words: str, part: Part, tmp_path: Path
    ) -> None:
        with pytest.raises(OutputError, match=words):
            write_sheets(part.results, tmp_path / file, paper, DAY)
        assert list(tmp_path.iterdir()) == []


def test_pieces_that_stay_are_told(tmp_path: Path) -> None:
    part = load(bollard(tmp_path, more="clear_offcuts = false"))
    assert len(part.stages[0].loose) == 1
    sheets = made(part, tmp_path)
    assert "1 piece comes loose and may stay: see that nothing can move." in sheets.pages[1]
    # it is told once: where it comes loose
    assert "No offcut comes loose." in sheets.pages[2]


def test_the_block_is_lower_when_a_slice_was_lifted(tmp_path: Path) -> None:
    """The first cut runs across the block at 27 mm; what lies above it goes before the next."""
    job = write_job(tmp_path, [profile('"right"', "right.svg"), profile('"top"', "top.svg")])
    (job / "right.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="30mm" '
        'viewBox="0 0 20 30"><path d="M-5 3H25V35H-5Z"/></svg>'
    )
    page = made(job, tmp_path).pages[2]
    assert both_lengths(behind(page, "Height as it lies", 30), 27.0)
    assert both_lengths(behind(page, "Height before", 30), 40.0)
    assert "set for a height of 27 mm (1.063 in)" in page


def test_clamps(tmp_path: Path) -> None:
    front = profile('"front"', "front.svg", 'clamp = ["left", "top"]')
    top = profile('"top"', "top.svg", "clamp = [[0.0, 0.0, 3.0, 20.0]]")
    sheets = made(write_job(tmp_path, [front, top]), tmp_path)
    assert "Clamp the left side and the far side." in sheets.pages[1]
    words = "Clamp the face from u 0, v 0 mm (u 0, v 0 in) to u 3, v 20 mm (u 0.118, v 0.787 in)."
    assert words in sheets.pages[2]
    key = re.search(r"start (by piercing|from the edge) cl", sheets.pages[2])
    assert key  # the clamp is in the key below the picture, too


def test_what_the_job_does_to_an_outline(tmp_path: Path) -> None:
    moved = profile(
        '"front"', "front.svg", "turn = -90\nmirror = true\nscale = 0.5\nshift = [20.0, 25.0]"
    )
    page = made(write_job(tmp_path, [moved]), tmp_path).pages[0]
    told = "front: from front.svg (turned 90° clockwise, mirrored left to right and scaled by 0.5)"
    assert told in page


def test_heavy_stock_is_lifted_with_help(tmp_path: Path) -> None:
    """23 kg: the load constant of the NIOSH lifting equation (DHHS 94-110, revised 2021)."""
    sheets = made(ROOT / "samples/faulty/heavy-stock", tmp_path)
    assert LIFT in sheets.pages[1]
    assert "23 kg (51 lb)" in LIFT


def test_round_bars_and_corners(tmp_path: Path) -> None:
    """A bar that lies on its round side, and a view between two others."""
    text = (bollard(tmp_path) / "job.toml").read_text()
    text = re.sub(r"size = \[.*\]", 'round = {diameter = 20.0, length = 30.0, along = "z"}', text)
    corner = profile("{look = [1, 1, 0], up = [0, 0, 1]}", "right.svg", 'name = "corner"')
    head = text.partition("[[profile]]")[0]
    (tmp_path / "job.toml").write_text(head + profile('"right"', "right.svg") + corner)
    sheets = made(tmp_path, tmp_path)
    assert "Stock round bar, diameter 20 mm (0.787 in), length 30 mm (1.181 in), along z" in flat(
        sheets.pages[0]
    )
    assert "held in vee blocks or a fixture" in sheets.pages[1]
    assert "which is in the air" in sheets.pages[1]
    assert "From setup 1 (right): tip it to the right by 135°." in sheets.pages[2]
    assert "up between A front and C left, 45° off A" in flat(sheets.pages[2])


class TestCommandLine:
    def test_it_writes_and_says_so(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        file = tmp_path / "sheets.pdf"
        job = ROOT / "samples/faulty/not-released"
        assert main(["sheets", str(job), "-o", str(file), "--paper", "Letter"]) == 0
        out, err = capsys.readouterr()
        assert f"Wrote {file}." in out
        assert "1 error: run `silhouette3d check" in err
        assert Sheets(file).reader.pages[0].mediabox.width == 612

    def test_what_is_refused(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        file = tmp_path / "sheets.pdf"
        file.write_bytes(b"as it was")
        job = ROOT / "samples/faulty/not-released"
        assert main(["sheets", str(job), "-o", str(file), "--paper", "foolscap"]) == 2
        assert "there is no paper called 'foolscap'" in capsys.readouterr().err
        assert file.read_bytes() == b"as it was"


def test_same_job_same_day_same_file(part: Part, tmp_path: Path) -> None:
    one, other, later = (tmp_path / f"{name}.pdf" for name in "abc")
    write_sheets(part.results, one, "A4", DAY)
    write_sheets(part.results, other, "a4", DAY)
    assert one.read_bytes() == other.read_bytes()
    write_sheets(part.results, later, "A4", replace_day(DAY))
    assert all("2026-03-10" in page for page in Sheets(later).pages)
    assert all("2026-03-09" in page for page in Sheets(one).pages)


def replace_day(day: date) -> date:
    return day.replace(day=day.day + 1)
