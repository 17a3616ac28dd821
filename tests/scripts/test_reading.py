"""The corpus of published drawings: what is fetched, what is judged, what is counted."""

from __future__ import annotations

import base64
import contextlib
import hashlib
import io
import json
import math
import re
import tarfile
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import ezdxf.filemanagement
import pytest

from reading import __main__ as reading
from reading import judges, packages, trial
from reading.packages import Package, drawings_in

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page


MM2_PER_PX2 = (25.4 / 96) ** 2
"""CSS Values and Units 3: a pixel is 1/96 in."""

SQUARE = '<path d="M2 2H22V22H2Z" {}/>'


def svg(content: str, more: str = 'viewBox="0 0 24 24"') -> str:
    return f'<svg xmlns="http://www.w3.org/2000/svg" {more}>{content}</svg>'


def packed(files: Mapping[str, str]) -> bytes:
    """An archive as npm packs it."""
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w:gz") as archive:
        for name, text in files.items():
            member = tarfile.TarInfo(f"package/{name}")
            member.size = len(text.encode())
            archive.addfile(member, io.BytesIO(text.encode()))
    return out.getvalue()


Make = Callable[[Mapping[str, str]], Package]


@pytest.fixture
def package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Make:
    """Packages of a registry that is a folder."""
    monkeypatch.setattr(packages, "OUT", tmp_path / "out")
    monkeypatch.setattr(reading, "OUT", tmp_path / "out")

    def make(files: Mapping[str, str]) -> Package:
        data = packed(files)
        (tmp_path / "own.tgz").write_bytes(data)
        digest = "sha512-" + base64.b64encode(hashlib.sha512(data).digest()).decode()
        url = (tmp_path / "own.tgz").as_uri()
        return Package("own", "1.0", "MIT", digest, "svg/*", lambda: url, "marks.json")

    return make


# What is fetched.


def test_only_drawings_are_kept_and_nobodys_marks(package: Make) -> None:
    marks = [{"name": "sign", "tags": ["Brand / Logo"]}, {"name": "a", "tags": ["Math"]}]
    made = package(
        {"svg/b.svg": "B", "svg/a.svg": "A", "svg/sign.svg": "S", "marks.json": json.dumps(marks)}
    )
    assert [(path.name, path.read_text()) for path in made.files()] == [
        ("a.svg", "A"),
        ("b.svg", "B"),
    ]
    Path(made.url().removeprefix("file://")).unlink()
    assert len(made.files()) == 2  # fetched once


def test_another_archive_than_was_published_is_refused(package: Make, tmp_path: Path) -> None:
    made = package({"svg/a.svg": "A"})
    (tmp_path / "own.tgz").write_bytes(packed({"svg/a.svg": "other"}))
    with pytest.raises(ValueError, match=r"own 1\.0: the digest is sha512-"):
        made.files()
    assert not (tmp_path / "out").exists()


def test_names_that_lead_elsewhere_stay_in_the_folder() -> None:
    found = drawings_in(packed({"svg/../../x.svg": "X", "other/y.svg": "Y"}), "svg/*")
    assert [name for name, _ in found] == ["x.svg"]


# What is judged.


@pytest.fixture(scope="module")
def page(browser: Browser) -> Iterator[Page]:
    context = browser.new_context()
    yield context.new_page()
    context.close()


DRAWN = {
    "filled": (svg(SQUARE.format("")), 400.0),
    "filled, its stroke left out": (svg(SQUARE.format('stroke="red" stroke-width="2"')), 400.0),
    "even-odd": (svg('<path fill-rule="evenodd" d="M2 2H22V22H2ZM7 7H17V17H7Z"/>'), 300.0),
    "one in the other, filled": (svg(SQUARE.format("") + '<circle cx="12" cy="12" r="5"/>'), 400.0),
    "one in the other, not filled": (
        svg(
            SQUARE.format("") + '<circle cx="12" cy="12" r="5"/>',
            'viewBox="0 0 24 24" fill="none" stroke="#00f"',
        ),
        400.0 - 25.0 * math.pi,
    ),
    "beyond the page": (svg('<path d="M-2 4H22V8H-2Z"/>'), 96.0),
    "millimetres": (
        svg('<path d="M2 2H8V6H2Z"/>', 'width="48mm" height="24mm" viewBox="0 0 16 8"'),
        24.0 * 9.0 / MM2_PER_PX2,
    ),
    "no viewBox": (svg(SQUARE.format(""), 'width="24" height="48"'), 400.0),
}


@pytest.mark.parametrize("name", DRAWN)
def test_a_browser_judges_what_is_painted(name: str, page: Page, tmp_path: Path) -> None:
    text, area = DRAWN[name]
    (tmp_path / "a.svg").write_text(text)
    judged = judges.svg_area(page, tmp_path / "a.svg")
    assert judged is not None
    # straight sides run along pixels; a tenth of one along the circle is 4e-4 of the area
    assert judged[0] == pytest.approx(area * MM2_PER_PX2, rel=5e-4)


@pytest.mark.parametrize(
    "more", ["", 'width="10%" height="5"', 'width="20" height="10" viewBox="0 0 24 24"']
)
def test_a_page_that_cannot_be_told_is_not_judged(more: str, page: Page, tmp_path: Path) -> None:
    (tmp_path / "a.svg").write_text(svg(SQUARE.format(""), more))
    assert judges.svg_area(page, tmp_path / "a.svg") is None


def test_lines_of_a_dxf_file_part_the_plane(tmp_path: Path) -> None:
    """A disc, in it a square whose corners touch it, a hole, and what is hidden or no line."""
    document = ezdxf.filemanagement.new(units=5)  # centimetres
    space = document.modelspace()
    space.add_circle((0, 0), 5)
    space.add_lwpolyline([(5, 0), (0, 5), (-5, 0), (0, -5)], close=True)
    space.add_lwpolyline([(-1, 0, 1), (1, 0, 1)], format="xyb", close=True)  # two half circles
    document.layers.add("HIDDEN").off()
    space.add_circle((20, 0), 3, dxfattribs={"layer": "HIDDEN"})
    space.add_text("x")
    document.saveas(tmp_path / "a.dxf")
    expected = 25 * math.pi - 50 + math.pi
    assert judges.dxf_area(tmp_path / "a.dxf") == pytest.approx(100 * expected, rel=1e-4)
    (tmp_path / "b.dxf").write_text("none")
    assert judges.dxf_area(tmp_path / "b.dxf") is None


# What is counted.


def test_what_comes_of_a_drawing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.svg"
    path.write_text(svg(SQUARE.format("")))
    read = trial.read(path)
    assert (read.outcome, read.warnings) == ("read", ())
    assert read.area == pytest.approx(400 * MM2_PER_PX2)
    line = '<path fill="none" stroke="red" d="M0 0V9" />'
    path.write_text(svg(line + SQUARE.format('fill="none" stroke="red"')))
    refused, choices = trial.tried(path)
    assert (refused.outcome, set(choices)) == ("refused", set(trial.CHOICES))
    assert {one.outcome for one in choices.values()} == {"read"}
    monkeypatch.setattr(trial, "Part", lambda job: job["x"])
    crashed = trial.read(path)
    assert crashed.outcome == "crashed"
    assert re.match(r"TypeError in test_reading\.py, <lambda>: .*subscriptable", crashed.reason)


def test_a_run_goes_on_where_it_ended(
    package: Make, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    files = {"svg/square.svg": svg(SQUARE.format("")), "svg/none.svg": svg("")}
    monkeypatch.setattr(reading, "PACKAGES", (package(files),))
    monkeypatch.setattr(reading, "_a_page", lambda: contextlib.nullcontext(None))
    monkeypatch.setattr("sys.argv", ["reading"])
    assert reading.main() == 0
    first = capsys.readouterr()
    assert "own: 2 of 2" in first.err
    assert first.out.count("1 refused") == 1
    row = first.out.splitlines()[-1]
    assert row.split(" | ")[:7] == ["| own 1.0", "MIT", "2", "1", "0", "0", "1"]
    assert reading.main() == 0
    again = capsys.readouterr()
    assert (again.out, again.err) == (first.out, "")
    monkeypatch.setattr(reading, "_stamp", lambda: "# another program")
    assert reading.main() == 0
    assert "own: 2 of 2" in capsys.readouterr().err


def test_files_are_spread_over_the_names() -> None:
    files = [Path(f"{n:03}") for n in range(100)]
    assert reading.spread(files, 4) == [files[0], files[25], files[50], files[75]]
    assert reading.spread(files, 200) == files


def test_an_area_that_differs_is_told() -> None:
    read = trial.Trial("read", area=10.0)
    assert reading.Result("a", read, {}, 10.5, 0.4).differs
    assert not reading.Result("a", read, {}, 10.3, 0.4).differs
    assert not reading.Result("a", read, {}).differs
    doubtful = trial.Trial("read", area=10.0, warnings=("overlapping-loops",))
    assert not reading.Result("a", doubtful, {}, 20.0, 0.4).differs
