"""The customer's page as a file: what it says, what it holds, what it keeps to itself."""

from __future__ import annotations

import base64
import hashlib
import html
import io
import json
import re
import struct
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

import silhouette3d
from silhouette3d.base.files import one_line
from silhouette3d.base.materials import all_materials
from silhouette3d.base.units import MM_PER, pounds
from silhouette3d.cli import main
from silhouette3d.documents.customer_page import write
from silhouette3d.documents.customer_page.facts import (
    WIDTH,
    facts_of,
    note_of,
    scale_text,
    views_svg,
    weight_text,
)
from silhouette3d.documents.customer_page.numbers import (
    COLOURS,
    FAMILIES,
    PLAIN,
    Packer,
    look_of,
    scene_data,
)
from silhouette3d.documents.customer_page.write import RELEASE, page_text, three, write_page
from silhouette3d.documents.pictures.render import visible_edges
from silhouette3d.errors import EmptyPartError, OutputError
from silhouette3d.geometry.frames import VIEWS
from silhouette3d.geometry.mesh import Mesh
from tests.support.shapes import Shape, disc, load, many, rect, write_job

ROOT = Path(__file__).resolve().parents[3]

HOLE = disc(30, 19, 8)
CLEAT = Shape(
    (60.0, 30.0, 40.0),
    {"front": Polygon(rect(6, 4, 54, 34).exterior, [HOLE.exterior]), "top": rect(6, 5, 54, 25)},
    volume=(48 * 30 - HOLE.area) * 20,
    area=0.0,  # not asked for here
)
"""A mooring cleat of 48 × 20 × 30 mm with a hole from front to rear."""

TWO = many(shapely.union(rect(0, 0, 10, 10), rect(20, 0, 28, 10)))
POSTS = Shape((30.0, 20.0, 10.0), {"front": TWO}, volume=3600.0, area=0.0)
"""Two pieces."""

INCHES = {view: {"units": "in"} for view in ("front", "top")}
"""The drawings in inches, whatever they say themselves."""

HOSTILE = '</title><script>document.title="taken"</script><img src=x> & "quotes" \'too\''


@pytest.fixture
def cleat(tmp_path: Path) -> silhouette3d.Part:
    return load(tmp_path, CLEAT, name="Cleat", stock={"material": "oak", "density": None})


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[silhouette3d.Part, str]:
    """A part with a name that wants to be more than text, and its page with all there is."""
    folder = tmp_path_factory.mktemp("quotation-4711")
    path = write_job(
        folder,
        CLEAT,
        name=HOSTILE,
        stock={"material": "oak", "density": None},
        profiles={"front": {"name": HOSTILE, "drawing": "rival-of-ours.dxf"}},
    )
    (folder / "front.dxf").rename(folder / "rival-of-ours.dxf")
    part = silhouette3d.load(path.rename(folder / "hush.toml"))
    with pytest.MonkeyPatch.context() as patch:
        for variable in ("USER", "LOGNAME", "USERNAME"):
            patch.setenv(variable, "zacharias")
        return part, page_text(part.results, 0.5, stages=True)


@pytest.fixture(scope="module")
def text(made: tuple[silhouette3d.Part, str]) -> str:
    return made[1]


# The file.


def test_it_is_one_html_file(cleat: silhouette3d.Part, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    folder.mkdir()
    cleat.page(folder / "cleat.html")
    assert [path.name for path in folder.iterdir()] == ["cleat.html"]
    text = (folder / "cleat.html").read_text("utf-8")
    assert text.startswith("<!DOCTYPE html>\n<html lang=")
    assert "<title>Cleat</title>" in text
    assert "{{" not in text.replace(three().script, "")
    assert "Mock-up" not in text


@pytest.mark.parametrize(
    ("name", "scale", "said"),
    [
        ("cleat.pdf", 1.0, "a page is an HTML file"),
        ("cleat", 1.0, "End the file's name in .html"),
        ("none/cleat.html", 1.0, "does not exist"),
        ("cleat.html", 0.0, "the scale is 0"),
        ("cleat.html", float("nan"), "the scale is nan"),
        ("cleat.html", 1e7, "Give a number from"),
    ],
)
def test_what_cannot_be_written_is_refused(
    cleat: silhouette3d.Part, tmp_path: Path, name: str, scale: float, said: str
) -> None:
    before = set(tmp_path.rglob("*"))
    with pytest.raises(OutputError, match=re.escape(said)):
        write_page(cleat.results, tmp_path / name, scale)
    assert set(tmp_path.rglob("*")) == before


def test_it_names_nothing_of_the_makers(made: tuple[silhouette3d.Part, str]) -> None:
    """No folder, no file of the job, no user: not in the text and not in the picture."""
    part, text = made
    ours = text.replace(three().script, "")
    picture = picture_of(text)
    assert part.job.path is not None
    words = ["quotation-4711", "hush", "rival", ".dxf", ".toml", "zacharias"]
    for word in [str(part.job.folder), str(ROOT), str(Path.home()) + "/", *words]:
        assert word not in ours, word
        assert word.encode() not in picture, word
    assert chunks(picture) <= {"IHDR", "IDAT", "IEND", "pHYs", "tEXt"}
    assert re.findall(rb"tEXt(\w+)\0", picture) in ([], [b"Software"])


def picture_of(text: str) -> bytes:
    found = re.search(r'src="data:image/png;base64,([^"]*)"', text)
    assert found
    return base64.b64decode(found[1])


def chunks(png: bytes) -> set[str]:
    """The kinds of chunks in a PNG file (PNG specification, 5.3)."""
    found, at = set(), 8
    while at < len(png):
        (length,) = struct.unpack(">I", png[at : at + 4])
        found.add(png[at + 4 : at + 8].decode("ascii"))
        at += 12 + length
    return found


def test_names_are_text_and_nothing_else(text: str) -> None:
    assert f'<h1 dir="auto">{html.escape(HOSTILE)}</h1>' in text
    own = re.findall(r"<script[^>]*>", text.replace(three().script, ""))
    assert own == ['<script type="application/json" id="data">', *["<script>"] * 4]
    assert "<img src=x>" not in text
    titles = [step["title"] for step in data_of(text)["steps"]]
    assert f"After cut 1 of 2, {HOSTILE}" in titles


def test_lines_and_controls_become_blanks() -> None:
    assert one_line("Quay\n\tcleat\x85two\0") == "Quay cleat two"


def data_of(text: str) -> dict[str, Any]:
    found = re.search(r'<script type="application/json" id="data">(.*?)</script>', text)
    assert found
    loaded: dict[str, Any] = json.loads(found[1])
    return loaded


def test_only_what_stands_in_the_page_may_run(text: str) -> None:
    """Content Security Policy Level 3: a hash of each script and of the style, nothing else."""
    found = re.search(r'http-equiv="Content-Security-Policy" content="([^"]*)"', text)
    assert found
    policy = dict(part.strip().split(" ", 1) for part in found[1].split(";"))
    assert policy.pop("default-src") == "'none'"
    assert policy.pop("img-src") == "data:"
    assert policy.pop("base-uri") == policy.pop("form-action") == "'none'"
    for word, tag in (("script-src", "script"), ("style-src", "style")):
        inside = re.findall(rf"<{tag}>(.*?)</{tag}>", text, flags=re.DOTALL)
        hashes = [base64.b64encode(hashlib.sha256(one.encode()).digest()) for one in inside]
        assert policy.pop(word) == " ".join(f"'sha256-{one.decode()}'" for one in hashes)
    assert policy == {}
    assert "style=" not in text.replace(three().script, "")


def test_a_part_that_is_not_there_leaves_no_file(tmp_path: Path) -> None:
    nothing = {"front": rect(0, 0, 10, 10), "top": rect(20, 0, 30, 10)}
    part = load(tmp_path, replace(POSTS, outlines=nothing))
    before = set(tmp_path.iterdir())
    with pytest.raises(EmptyPartError):
        part.page(tmp_path / "nothing.html")
    assert set(tmp_path.iterdir()) == before


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = write_job(tmp_path, POSTS)
    file = tmp_path / "posts.html"
    assert main(["page", str(job), "-o", str(file), "--scale", "0.5"]) == 0
    out, err = capsys.readouterr()
    assert out == f"Wrote {file}.\n"
    assert "silhouette3d check" in err  # two pieces are an error, but that is for the maker
    assert "Mock-up at 1:2" in file.read_text("utf-8")
    assert "several-bodies" not in file.read_text("utf-8")
    for wrong in (["-o", "posts.pdf"], ["-o", str(file), "--scale", "-1"]):
        assert main(["page", str(job), *wrong]) == 2
        out, err = capsys.readouterr()
        assert out == ""
        assert err.startswith("silhouette3d: posts") or "the scale is -1" in err


# three.js.

PUBLISHED = {
    "three.min.js": "8a5f7249903b54d30f79f708699d2fed2d6a1d0741a4cd41377d1f01bb5a2271",
    "LICENSE": "852e0e8699169bf9f6fdc6bda3e682d078dcbc738b5d33e74df594721bff271d",
}
"""SHA-256 of two files of the npm package three 0.149.0."""


def test_the_viewer_is_as_it_was_published() -> None:
    (found,) = (ROOT / "silhouette3d").rglob("three.min.js")
    kept = {path.name: hashlib.sha256(path.read_bytes()) for path in found.parent.iterdir()}
    assert {name: digest.hexdigest() for name, digest in kept.items()} == PUBLISHED


def test_the_viewer_and_its_licence(text: str) -> None:
    library = three()
    assert "SPDX-License-Identifier: MIT" in library.script[:200]
    assert f'"{RELEASE.split(".")[1]}"' in library.script[:500]  # as three.js numbers itself
    assert library.script in text
    before = text[: text.index(library.script)]
    assert library.licence in before
    assert "Copyright © 2010-2023 three.js authors" in library.licence
    assert "The above copyright notice and this permission notice shall be included" in before


# Facts.


def test_facts_are_those_of_the_part(cleat: silhouette3d.Part) -> None:
    facts = {fact.word: fact for fact in facts_of(cleat.results)}
    assert list(facts) == ["Size", "Weight", "Material", "Cut from"]
    assert facts["Size"].value == "48 × 20 × 30 mm"
    assert facts["Size"].more == "1.89 × 0.787 × 1.181 in"
    assert facts["Weight"].value == f"{CLEAT.volume * cleat.density / 1000:.2f} g"
    assert facts["Material"].value == "oak"
    assert facts["Material"].more == f"{cleat.density:g} g/cm³"
    assert facts["Cut from"].value == "block 60 × 30 × 40 mm"


def test_facts_stand_in_the_page(made: tuple[silhouette3d.Part, str]) -> None:
    part, text = made
    for fact in facts_of(part.results, 0.5):
        row = f"<dt>{fact.word}</dt><dd><b>{fact.value}</b><span>{fact.more}</span></dd>"
        assert row in text.replace("\N{NO-BREAK SPACE}", " ")


def test_an_inch_job_says_inches_first(tmp_path: Path) -> None:
    inch = replace(CLEAT, size=(2.0, 1.0, 1.5), outlines={"front": rect(0.5, 0.25, 1.5, 1.25)})
    part = load(tmp_path, inch, units="in", stock={"density": 7.85}, profiles=INCHES)
    size, weight, *_ = facts_of(part.results)
    assert (size.value, size.more) == ("1 × 1 × 1 in", "25.4 × 25.4 × 25.4 mm")
    grams = 7.85 * 2.54**3
    assert weight.value == f"{pounds(grams) * 16:.3f} oz"
    assert weight.more == f"{grams:.1f} g"


def test_pieces_are_counted(tmp_path: Path) -> None:
    assert ("Pieces", "2") in {
        (fact.word, fact.value) for fact in facts_of(load(tmp_path, POSTS).results)
    }


def test_a_bar_is_called_a_bar(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(write, "_still", lambda part: b"")  # not looked at here
    bar = {"size": None, "round": {"diameter": 40.0, "length": 60.0, "along": "z"}}
    part = load(tmp_path, replace(CLEAT, outlines={"front": rect(5, 5, 35, 55)}), stock=bar)
    assert ("Cut from", "bar ⌀ 40 × 60 mm") in {
        (one.word, one.value) for one in facts_of(part.results)
    }
    assert "Show the bar it is cut from" in page_text(part.results)


@pytest.mark.parametrize(
    ("scale", "said", "size"),
    [(0.5, "1:2", "24 × 10 × 15 mm"), (2.0, "2:1", "96 × 40 × 60 mm")],
)
def test_a_mock_up_is_noted(cleat: silhouette3d.Part, scale: float, said: str, size: str) -> None:
    """Sizes and weight stay those of the part, and that is said."""
    mock_up = facts_of(cleat.results, scale)[-1]
    assert (mock_up.word, mock_up.value) == ("Mock-up", said)
    assert mock_up.more.startswith(size)
    assert facts_of(cleat.results, scale)[:-1] == facts_of(cleat.results)
    assert "those of the finished part" in note_of(cleat.results, scale)


def test_the_page_says_so(text: str) -> None:
    assert ">Mock-up at 1:2: size and weight below are those of the finished part<" in text


def test_scales_as_drawings_state_them() -> None:
    """ISO 5455: X:1 enlarges, 1:X reduces (from memory)."""
    assert [scale_text(one) for one in (1.0, 20.0, 0.02, 1 / 3)] == ["1:1", "20:1", "1:50", "1:3"]


@given(
    st.floats(1e-3, 1e6), st.floats(1e-6, 0.2), st.floats(-1.0, 1.0), st.sampled_from(["mm", "in"])
)
def test_the_bound_on_a_weight_holds(grams: float, share: float, where: float, unit: Any) -> None:
    """Whatever the true mass within its bound: it lies within what is shown."""
    error = share * grams
    text = weight_text(grams, error, unit)
    value, name, _, bound, again = text.split()
    assert name == again
    each = {"g": 1.0, "kg": 1000.0, "lb": 453.59237, "oz": 453.59237 / 16}[name]
    off = abs((grams + where * error) / each - float(value))
    assert off <= float(bound) * (1.0 + 1e-9)  # the sums above round, too
    assert float(bound) <= 1.01 * error / each + 2 * 10.0 ** -len(value.partition(".")[2])


# The numbers that are drawn.


def unpacked(data: dict[str, Any], counts: list[dict[str, Any]]) -> list[tuple[Any, Any, Any]]:
    """Points in mm, triangles and edges of each body, as the page's script reads them."""
    raw, at, found = base64.b64decode(data["numbers"]), 0, []
    for count in counts:
        arrays = []
        index = "<u4" if count["wide"] else "<u2"
        for kind, number in (
            ("<u2", 3 * count["points"]),
            (index, 3 * count["triangles"]),
            (index, 2 * count["edges"]),
        ):
            arrays.append(np.frombuffer(raw, kind, number, at))
            at += -(-arrays[-1].nbytes // 4) * 4
        points = np.array(data["origin"]) + data["step"] * arrays[0].reshape(-1, 3)
        found.append((points, arrays[1].reshape(-1, 3), arrays[2].reshape(-1, 2)))
    assert at == len(raw)
    return found


def test_the_part_and_its_stock_are_there(cleat: silhouette3d.Part) -> None:
    data = scene_data(cleat.results, stages=False)
    (step,) = data["steps"]
    (body,) = step["bodies"]
    (corners, _, stock_edges), (points, triangles, edges) = unpacked(data, [data["stock"], body])
    half = data["step"] / 2.0 + 1e-9  # rounded to the nearest step; 1e-9 for the sums
    assert data["step"] == pytest.approx(60.0 / 65535)
    assert np.abs(np.ptp(corners, axis=0) - CLEAT.size).max() <= 2 * half
    assert len(stock_edges) == 12
    mesh = cleat.solid.mesh
    assert np.abs(points - mesh.vertices).max() <= half
    assert np.array_equal(triangles, mesh.triangles)
    drawn = np.sort(np.linalg.norm(np.diff(points[edges], axis=1), axis=2).ravel())
    wanted = np.sort(np.linalg.norm(np.diff(visible_edges(mesh), axis=1), axis=2).ravel())
    assert np.abs(drawn - wanted).max() <= 4 * half


def test_every_stage_is_there(cleat: silhouette3d.Part) -> None:
    data = scene_data(cleat.results, stages=True)
    steps = data["steps"]
    assert [step["title"] for step in steps] == [
        "The stock", "After cut 1 of 2, front", "After cut 2 of 2, top", "The part",
    ]  # fmt: skip
    bodies = [body for step in steps for body in step["bodies"]]
    read = unpacked(data, [data["stock"], *bodies])[1:]
    wanted = [b.solid for s in cleat.stages for b in s.bodies]
    standing = [b.status for s in cleat.stages for b in s.bodies]
    assert [body["look"] for body in bodies] == ["part", *standing, "part"]
    for (points, triangles, _), solid in zip(read[1:-1], wanted, strict=True):
        # a shift of half a step all over the surface
        room = solid.surface_area * data["step"]
        assert volume(points, triangles) == pytest.approx(solid.volume, abs=room)
    assert any(np.abs(body["move"]).max() > 1.0 for body in bodies)
    assert "1 piece of waste" in steps[1]["line"] or "pieces of waste" in steps[1]["line"]


def volume(points: Any, triangles: Any) -> float:
    a, b, c = (points[triangles[:, i]] for i in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6.0)


def test_large_bodies_have_larger_indices() -> None:
    """More than 65,535 points do not fit into 16 bits."""
    side = 257
    u, v = np.meshgrid(np.arange(side), np.arange(side))
    points = np.column_stack([u.ravel(), v.ravel(), np.zeros(side * side)]).astype(float)
    last = side * side - 1
    fan = np.array([[0, 1, last], [1, 0, last]])  # closed, without a volume
    packer = Packer(points.min(axis=0), points.max(axis=0))
    counts = packer.add(Mesh(points, fan))
    assert counts["wide"]
    data = {"numbers": packer.text, "origin": packer.low, "step": packer.step}
    ((read, triangles, _),) = unpacked(data, [counts])
    assert np.array_equal(triangles, fan)
    assert np.abs(read - points).max() <= packer.step


# Looks.


def test_every_family_and_every_colour_is_of_use(tmp_path: Path) -> None:
    materials = all_materials()
    assert set(FAMILIES) == {material.family for material in materials}
    part = load(tmp_path, CLEAT)
    assert look_of(part.results) == PLAIN
    used = set()
    for material in materials:
        vars(part.results)["material"] = material
        look = look_of(part.results)
        assert replace(look, colour="") == replace(FAMILIES[material.family], colour="")
        used.add(look.colour)
    assert set(COLOURS.values()) <= used


# The three views.


def shapes_of(svg: str) -> list[Any]:
    """The area of each view, even-odd."""
    found = []
    for data in re.findall(r'<path class="shape" d="([^"]*)"', svg):
        rings = [
            Polygon([tuple(map(float, point.split())) for point in ring.split("L")])
            for ring in re.findall(r"M([^Z]*)Z", data)
        ]
        area: Any = rings[0]
        for ring in rings[1:]:
            area = shapely.symmetric_difference(area, ring)
        found.append(area)
    return found


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_views_are_laid_out_in_third_angle(tmp_path: Path, unit: Any) -> None:
    """ISO 5456-2: the view from above stands above, that from the right on the right, in line."""
    outlines = {
        view: many(shapely.transform(area, lambda points: points / MM_PER[unit]))
        for view, area in CLEAT.outlines.items()
    }
    x, y, z = (mm / MM_PER[unit] for mm in CLEAT.size)
    cleat = replace(CLEAT, size=(x, y, z), outlines=outlines)
    part = load(tmp_path, cleat, units=unit, profiles={} if unit == "mm" else INCHES)
    svg = views_svg(part.results)
    top, front, right = shapes_of(svg)
    near = 0.011  # path data has two decimals
    (t, f, r) = (np.array(shape.bounds) for shape in (top, front, right))
    assert np.abs(t[[0, 2]] - f[[0, 2]]).max() <= near
    assert np.abs(r[[1, 3]] - f[[1, 3]]).max() <= near
    assert t[3] < f[1]  # above: y points down
    assert r[0] > f[2]
    scale = (f[2] - f[0]) / 48.0
    for shape, name in ((top, "top"), (front, "front"), (right, "right")):
        wanted = part.solid.shadow(VIEWS[name]).area * scale**2
        assert shape.area == pytest.approx(wanted, abs=near * shape.length)
    said = re.findall(r"<text[^>]*>([^<]*)</text>", svg)
    lengths = {"mm": ("48 mm", "20 mm", "30 mm"), "in": ("1.89 in", "0.787 in", "1.181 in")}
    assert said[:3] == ["Top", "Front", "Right"]
    assert set(lengths[unit]) <= set(said)
    other = lengths["in" if unit == "mm" else "mm"]
    assert {f"({one})" for one in other} <= set(said)


@pytest.mark.parametrize("size", [(400.0, 2.0, 3.0), (2.0, 400.0, 3.0), (3.0, 2.0, 400.0)])
def test_views_of_rods_stay_on_the_drawing(
    tmp_path: Path, size: tuple[float, float, float]
) -> None:
    rod = Shape(size, {"front": rect(0, 0, size[0], size[2])}, volume=0.0, area=0.0)
    svg = views_svg(load(tmp_path, rod).results)
    found = re.search(r'viewBox="0 0 (\S+) (\S+)"', svg)
    assert found
    width, height = map(float, found.groups())
    assert width == WIDTH
    texts = re.findall(r'<text[^>]* x="([^"]*)" y="([^"]*)">([^<]*)<', svg)
    for x, y, words in texts:
        half = 0.32 * 12.5 * len(words)  # letters are about 0.6 as wide as they are high
        assert half <= float(x) <= width - half, words
        assert 10.0 <= float(y) <= height - 3.0, words
    for shape in shapes_of(svg):
        u0, v0, u1, v1 = shape.bounds
        assert u0 >= 0 and v0 >= 0 and u1 <= width and v1 <= height  # noqa: PT018


def test_the_picture_is_a_picture_of_the_part(text: str) -> None:
    from PIL import Image

    with Image.open(io.BytesIO(picture_of(text))) as image:
        pixels = np.asarray(image.convert("RGB")).astype(int)
    drawn = (np.abs(pixels - 255).sum(axis=2) > 30).mean()
    assert 0.15 < drawn < 0.8
    words = " in oak, 48 × 20 × 30 mm, seen from the front, the right and above"
    assert f'alt="{html.escape(HOSTILE + words)}"' in text
