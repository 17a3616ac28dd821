"""A job whose views are declared by angle, from its check to its page; and the same by vectors."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pypdf
import pytest
import shapely
import shapely.affinity

import silhouette3d
from silhouette3d.drawing.read import read_drawing
from silhouette3d.workbench.session import Session
from tests.support.command import Run, run
from tests.support.shapes import rect, write_dxf
from tests.support.sheet_jobs import flat
from tests.support.workbench import Loop, settled

__all__ = ["run"]

FLATS, HEIGHT = 30.0, 40.0
"""mm: a hexagonal bar, across its flats; standing in the middle of a block of 50 × 50 × 40."""

TURNED = """\
name = "Hexagon"
[stock]
size = [50.0, 50.0, 40.0]
material = "brass C360"
[cutting]
kerf = 1.0
"""
BY_ANGLE = ('"front"', '{from = "front", turned = 60}', '{from = "right", turned = 30}')
BY_VECTOR = (
    '"front"',
    *(
        f"{{look = [{-math.sin(t)!r}, {math.cos(t)!r}, 0.0], up = [0.0, 0.0, 2.0]}}"
        for t in (math.pi / 3, 2 * math.pi / 3)
    ),
)
TIPPED = '[[profile]]\nview = {from = "front", turned = -20, tipped = 30}\ndrawing = "lid.dxf"\n'
NAMES = ("front", "front turned 60", "right turned 30", "front turned -20 tipped 30")


def hexagon(folder: Path, views: tuple[str, ...], more: str = "") -> Path:
    folder.mkdir(exist_ok=True)
    write_dxf(folder / "flats.dxf", {"0": rect(0, 0, FLATS, HEIGHT)})
    write_dxf(folder / "lid.dxf", {"0": rect(0, 0, 60, 50)})
    profiles = [f'[[profile]]\nview = {view}\ndrawing = "flats.dxf"\n' for view in views]
    (folder / "job.toml").write_text(TURNED + "".join(profiles) + more, encoding="utf-8")
    return folder


def test_a_hexagon_from_three_views_by_angle(tmp_path: Path) -> None:
    """√3/2 times the square of its width across flats is the area of a regular hexagon."""
    part = silhouette3d.load(hexagon(tmp_path, BY_ANGLE))
    assert [p.name for p in part.profiles] == list(NAMES[:3])
    volume = math.sqrt(3) / 2 * FLATS**2 * HEIGHT
    assert part.solid.volume == pytest.approx(volume, rel=1e-9)  # lengths are rounded to 1e-9 mm
    assert len(part.solid.bodies) == 1


def test_the_same_by_vectors(tmp_path: Path) -> None:
    angles = silhouette3d.load(hexagon(tmp_path / "angles", BY_ANGLE, TIPPED))
    by_vector = (*BY_VECTOR, "{look = [%r, %r, -0.5], up = [0.0, 0.0, 1.0]}")
    c, s = math.cos(math.radians(30)), math.radians(20)
    tipped = TIPPED.replace(
        '{from = "front", turned = -20, tipped = 30}',
        by_vector[-1] % (c * math.sin(s), c * math.cos(s)),
    )
    vectors = silhouette3d.load(hexagon(tmp_path / "vectors", BY_VECTOR, tipped))
    assert [p.name for p in vectors.profiles] == ["front", "view 2", "view 3", "view 4"]
    for one, other in zip(angles.profiles, vectors.profiles, strict=True):
        assert np.allclose(one.view.axes, other.view.axes, rtol=0, atol=1e-14)
        assert one.face.size == pytest.approx(other.face.size, abs=1e-9)
    assert angles.solid.volume == pytest.approx(vectors.solid.volume, rel=1e-9)
    assert [f.code for f in angles.findings] == [f.code for f in vectors.findings]
    for after, same in zip(angles.stages, vectors.stages, strict=True):
        assert len(after.bodies) == len(same.bodies)
        assert after.figures.area == pytest.approx(same.figures.area, rel=1e-6)


def test_through_every_command(tmp_path: Path, run: Run) -> None:
    job, out = hexagon(tmp_path / "job", BY_ANGLE, TIPPED), tmp_path / "out"
    out.mkdir()
    status, told, _ = run("check", job)
    assert status == 1  # nothing holds it
    status, told, _ = run("weigh", job, "--json")
    lid_leaves_all = json.loads(told)["mass_g"]
    assert lid_leaves_all > 0
    status, told, _ = run("stages", job)
    assert "Cut 2: front turned 60" in told
    for command, file in (
        ("sheets", "sheets.pdf"),
        ("page", "page.html"),
        ("picture", "sheet.png"),
    ):
        assert run(command, job, "-o", out / file)[0] == 0, command
    assert run("setups", job, "-o", out / "setups")[0] == 0
    assert run("outline", job, "front turned 60", "-o", out / "outline.png")[0] == 0
    view = ("picture", job, "--view", "right turned 30", "-o", out / "view.png")
    assert run(*view)[0] == 0
    for file in ("sheets.pdf", "page.html", "sheet.png", "outline.png", "view.png"):
        assert (out / file).stat().st_size > 1000, file
    pages = [flat(page.extract_text()) for page in pypdf.PdfReader(out / "sheets.pdf").pages]
    second, third, fourth = (
        next(page for page in pages if f"Setup {number} of 4: {name}" in page)
        for number, name in enumerate(NAMES[1:], start=2)
    )
    assert "From setup 1 (front): tip it to the left by 60°." in second
    assert "between D right and A front, 30° off D" in second
    assert "From setup 2 (front turned 60): tip it to the left by 60°." in third
    assert "between F rear, D right" not in third  # 30° beyond the right side, level
    assert "spin it" in fourth
    assert not any("looking along" in page for page in pages)
    drawn = sorted(path.name for path in (out / "setups").iterdir())
    assert len(drawn) == 5  # four drawings and their index
    again = read_drawing(out / "setups" / drawn[1], default="mm")
    assert any(curve for curve in again.shapes)


def test_names_and_words(tmp_path: Path, run: Run) -> None:
    """A name of one's own is told with the view; where outlines disagree, on which drawing."""
    views = ('{from = "front", turned = 25}\nname = "door"', '{from = "rear", turned = 25}')
    folder = hexagon(tmp_path, views)
    write_dxf(folder / "wide.dxf", {"0": rect(0, 0, FLATS + 2, HEIGHT)})
    text = (folder / "job.toml").read_text()
    second = text.rindex("flats.dxf")
    (folder / "job.toml").write_text(text[:second] + text[second:].replace("flats", "wide"))
    _, told, _ = run("check", folder, "--json")
    messages = [finding["message"] for finding in json.loads(told)["findings"]]
    assert any(
        "along u of door (front, turned 25°) the outlines disagree by 1 mm: " in message
        for message in messages
    )
    assert not any("along (" in message for message in messages)


def test_the_workbench_opens_it(tmp_path: Path) -> None:
    loop = Loop()
    session = Session.of(hexagon(tmp_path, BY_ANGLE) / "job.toml", loop.post)
    try:
        loop.until(lambda: settled(session))
        assert session.trouble is None
        assert session.result is not None
        assert session.result.volume == pytest.approx(math.sqrt(3) / 2 * FLATS**2 * HEIGHT)
        assert [card.view for card in session.result.cards] == list(NAMES[:3])
    finally:
        session.stop()


def test_shadows_of_a_turned_view_are_those_of_the_turned_block(tmp_path: Path) -> None:
    """From the front turned by 37 a strip is cut that shapely turns by 37 about the middle."""
    views = ('{from = "front", turned = 37}',)
    part = silhouette3d.load(hexagon(tmp_path, views))
    strip = shapely.affinity.rotate(rect(10, -50, 10 + FLATS, 100), 37, origin=(25, 25))
    left = strip & rect(0, 0, 50, 50)
    assert part.solid.volume == pytest.approx(left.area * HEIGHT, rel=1e-9)
    top = part.solid.shadow(silhouette3d.VIEWS["top"])
    assert top.symmetric_difference(left).area < left.length * 1e-6  # shadows lie on a grid of 1e-6
