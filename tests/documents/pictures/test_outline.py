"""The picture of a drawing that is refused: every line, and what is open marked and numbered."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from scipy import ndimage

import silhouette3d
from silhouette3d.documents.pictures.outline import WIDTH, marks_of
from silhouette3d.drawing.outline.survey import Survey
from silhouette3d.errors import DrawingError
from silhouette3d.presentation.theme import BLUE, GAP, GREEN, LOST, ORANGE, VERMILION
from tests.support.command import Run
from tests.support.dxf_files import bare, tags

MM = tags((9, "$INSUNITS"), (70, 4))
PLATE = ((0, 0), (40, 0), (40, 30), (0, 30))


def line(*ends: float) -> str:
    return tags((0, "LINE"), (8, "0"), *zip((10, 20, 11, 21), ends, strict=True))


def plate(gap: float = 0.0) -> str:
    """Four lines, the last of which stops short of the first."""
    starts = [*PLATE[1:], (0, gap)]
    return "".join(line(*a, *b) for a, b in zip(PLATE, starts, strict=True))


def circle(radius: float) -> str:
    return tags((0, "CIRCLE"), (8, "0"), (10, 30), (20, 20), (40, radius))


def write(folder: Path, front: str, top: str = plate()) -> Path:
    folder.mkdir(exist_ok=True)
    for name, entities in (("front", front), ("top", top)):
        (folder / f"{name}.dxf").write_text(bare(entities, header=MM))
    (folder / "job.toml").write_text(
        'name = "Plate"\n[stock]\nsize = [60.0, 50.0, 60.0]\ndensity = 1.0\n'
        + "".join(f'[[profile]]\nview = "{v}"\ndrawing = "{v}.dxf"\n' for v in ("front", "top"))
    )
    return folder


def rings(path: Path, colour: str, least: int = 60) -> int:
    """Marks of a colour: what hangs together and is larger than a stroke of a letter."""
    with Image.open(path) as image:
        found = np.asarray(image.convert("RGB")).astype(int)
    head = found[120:-300]  # without the title, the legend and the words
    wanted = [int(colour[i : i + 2], 16) for i in (1, 3, 5)]
    labels, count = ndimage.label((np.abs(head - wanted) <= 24).all(axis=2), np.ones((3, 3)))
    sizes = ndimage.sum_labels(np.ones(head.shape[:2]), labels, range(1, count + 1))
    return int((np.asarray(sizes) >= least).sum())


MIXED = plate(gap=0.4) + line(-6, 15, 46, 15) + line(8, 5, 20, 5) + circle(4)


def test_each_kind_has_marks_of_its_own(tmp_path: Path) -> None:
    part = silhouette3d.load(write(tmp_path, MIXED))
    with pytest.raises(DrawingError) as caught:
        part.picture_outline("front", tmp_path / "a.png")
    with Image.open(tmp_path / "a.png") as image:
        assert image.size[0] == WIDTH
    assert rings(tmp_path / "a.png", ORANGE) == 4  # the plate has a gap: nothing lies inside it
    assert rings(tmp_path / "a.png", GAP) == 1  # two rings upon each other
    survey = caught.value.about
    assert isinstance(survey, Survey)
    marks = marks_of(survey)
    assert [mark.number for mark in marks] == list(range(1, 7))
    assert [end.kind for end in survey.open_ends].count("gap") == 2
    for mark, at in zip(marks[:2], ((0, 0), (0, 0.4)), strict=True):
        assert mark.at == pytest.approx(at)


def test_ends_inside_on_lines_and_odd_meetings(tmp_path: Path) -> None:
    drawn = plate() + line(8, 5, 20, 5) + line(10, 0, 10, 12) + line(0, 0, 40, 30)
    part = silhouette3d.load(write(tmp_path, drawn))
    with pytest.raises(DrawingError):
        part.picture_outline("front", tmp_path / "a.png")
    assert rings(tmp_path / "a.png", GREEN) == 3
    assert rings(tmp_path / "a.png", VERMILION) == 2
    assert rings(tmp_path / "a.png", BLUE) >= 1  # the lines are blue as well


def test_a_loop_that_crosses_itself_is_marked(tmp_path: Path) -> None:
    corners = ((0, 0), (20, 20), (20, 0), (0, 20))
    vertices = "".join(tags((0, "VERTEX"), (8, "0"), (10, u), (20, v)) for u, v in corners)
    bow = tags((0, "POLYLINE"), (8, "0"), (66, 1), (70, 1)) + vertices + tags((0, "SEQEND"))
    part = silhouette3d.load(write(tmp_path, bow))
    with pytest.raises(DrawingError, match="crosses itself"):
        part.picture_outline("front", tmp_path / "a.png")
    assert rings(tmp_path / "a.png", VERMILION) == 1


def test_a_sound_outline_is_drawn_beside_one_that_is_refused(tmp_path: Path) -> None:
    part = silhouette3d.load(write(tmp_path, MIXED))
    part.picture_outline("top", tmp_path / "a.png")
    assert (tmp_path / "a.png").exists()
    with pytest.raises(DrawingError):
        _ = part.profiles


def test_the_command_writes_it_and_ends_with_2(tmp_path: Path, run: Run) -> None:
    job, file = write(tmp_path / "job", MIXED), tmp_path / "front.png"
    status, out, err = run("outline", job, "front", "-o", file)
    assert status == 2
    assert out == f"Wrote {file}, which shows what is open.\n"
    assert "a gap of 0.4 mm" in err
    assert file.exists()


@pytest.mark.parametrize("drawn", ["", line(0, 0, 0, 0)])
def test_where_there_is_nothing_to_draw_no_picture_is_written(
    drawn: str, tmp_path: Path, run: Run
) -> None:
    job, file = write(tmp_path / "job", drawn), tmp_path / "front.png"
    status, out, err = run("outline", job, "front", "-o", file)
    assert (status, out) == (2, "")
    assert "there is no closed outline" in err
    assert not file.exists()


def test_one_straight_line_can_be_drawn(tmp_path: Path) -> None:
    part = silhouette3d.load(write(tmp_path, line(0, 0, 40, 0)))
    with pytest.raises(DrawingError):
        part.picture_outline("front", tmp_path / "a.png")
    assert rings(tmp_path / "a.png", ORANGE) == 2


def test_loops_that_overlap_are_marked_on_a_sound_outline(tmp_path: Path) -> None:
    corners = [((5, 5), (25, 5), (25, 25), (5, 25)), ((20, 10), (40, 10), (40, 20), (20, 20))]
    boxes = "".join(
        tags((0, "POLYLINE"), (8, "0"), (66, 1), (70, 1))
        + "".join(tags((0, "VERTEX"), (8, "0"), (10, u), (20, v)) for u, v in box)
        + tags((0, "SEQEND"))
        for box in corners
    )
    part = silhouette3d.load(write(tmp_path, boxes))
    part.picture_outline("front", tmp_path / "a.png")
    assert rings(tmp_path / "a.png", LOST) == 1
    declared = silhouette3d.Part(part.job.changed({("profile", 0, "overlap"): "subtract"}))
    declared.picture_outline("front", tmp_path / "b.png")
    assert rings(tmp_path / "b.png", LOST) == 0
