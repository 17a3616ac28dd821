"""Captions, lines, layout and the look for an OpenGL: the pieces that pictures are made of."""

from __future__ import annotations

import os
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from silhouette3d.base.quantities import mass_text, volume_text
from silhouette3d.base.units import GRAMS_PER_POUND
from silhouette3d.checks.finding import Finding, Severity
from silhouette3d.documents.pictures import render as display
from silhouette3d.documents.pictures import window
from silhouette3d.documents.pictures.caption import counts, facts, size_and_mass
from silhouette3d.documents.pictures.face import Range, axis_names, seen_from, view_title
from silhouette3d.documents.pictures.panels import Margins, arrange, panels_of
from silhouette3d.documents.pictures.render import visible_edges
from silhouette3d.errors import PictureError
from silhouette3d.geometry.frames import VIEWS, view_along
from silhouette3d.geometry.mesh import Mesh
from silhouette3d.geometry.solid import Solid
from silhouette3d.presentation.theme import ISO
from tests.support.shapes import CROSSED_BARS, ELL, PLATE, disc, load, rect

# --- captions ----------------------------------------------------------------------


def test_the_caption_states_size_and_mass_of_the_part(tmp_path: Path) -> None:
    part = load(tmp_path, CROSSED_BARS, stock={"density": 2.7})
    grams = CROSSED_BARS.volume * 2.7 / 1000.0  # 45.10
    assert size_and_mass(part.results) == ("60 × 60 × 20 mm", f"{grams:.1f} g")


def test_a_job_in_inches_is_captioned_in_inches(tmp_path: Path) -> None:
    inches = [mm / 25.4 for mm in PLATE.size]
    part = load(tmp_path, PLATE, units="in", stock={"size": inches, "density": 1.0})
    assert size_and_mass(part.results) == (
        "2.362 × 1.575 × 0.394 in",
        f"{16 * 24 / GRAMS_PER_POUND:.4f} oz",  # 60 × 40 × 10 mm of 1 g/cm³
    )


def test_facts_come_from_the_part(tmp_path: Path) -> None:
    part = load(tmp_path, ELL, stock={"density": 2.0})
    said = {word: (value, more) for word, value, more in facts(part.results)}
    assert said["Material"][1] == "2 g/cm³"
    assert said["Size"][0] == "40 × 20 × 30 mm"
    assert said["Volume"][0] == f"{ELL.volume / 1000:g} cm³"
    assert said["Mass"][0] == f"{2 * ELL.volume / 1000:g} g"
    assert said["Stock"] == ("block 40 × 20 × 30 mm", "48 g")
    assert said["Cut away"][0] == f"{1 - ELL.volume / (40 * 20 * 30):.0%}"


def test_masses_and_volumes_change_unit_where_numbers_get_long() -> None:
    assert mass_text(999.4, "mm") == "999.4 g"
    assert mass_text(1000.0, "mm") == "1 kg"
    assert mass_text(GRAMS_PER_POUND, "in") == "1 lb"
    assert mass_text(GRAMS_PER_POUND / 2, "in") == "8 oz"
    assert mass_text(12_345_678.0, "mm") == "12346 kg"
    assert mass_text(0.0, "mm") == "0 g"
    assert volume_text(999.0, "mm") == "999 mm³"
    assert volume_text(1000.0, "mm") == "1 cm³"
    assert volume_text(25.4**3 / 8, "in") == "0.125 in³"


def test_findings_are_counted_with_sign_and_word() -> None:
    def some(kind: Severity, count: int) -> list[Finding]:
        return [Finding("thin-section", kind)] * count

    told = counts([*some("note", 2), *some("error", 1)])
    assert [words for _, _, words in told] == ["1 error", "2 notes"]
    signs = [sign for sign, _, _ in [*told, *counts(some("warning", 1)), *counts([])]]
    assert len(set(signs)) == len(signs) == 4
    assert counts([])[0][2] == "no findings"


def test_titles_say_from_where_a_profile_is_seen() -> None:
    own = view_along((1, 1, 0), (0, 0, 1))
    assert view_title(VIEWS["front"], "front") == "Front"
    assert view_title(VIEWS["rear"], "door side") == "Door side, seen from the rear"
    assert seen_from(own, "corner") == "seen from the front, turned −45°"
    assert seen_from(own, "front turned -45") == ""
    leaning = view_along((3, 0, 4), (0, 1, 0))
    assert seen_from(leaning, "chamfer") == "looking along (0.6, 0, 0.8)"
    assert axis_names(VIEWS["rear"]) == ("−x", "z")
    assert axis_names(VIEWS["bottom"]) == ("x", "−y")
    assert axis_names(own) == ("u", "v")


# --- lines -------------------------------------------------------------------------

CUBE = Solid.prism(rect(0, 0, 10, 10), VIEWS["front"], (0.0, 10.0))


def length(lines: np.ndarray) -> float:
    return float(np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1).sum())


def test_a_cube_has_twelve_edges_and_no_diagonals() -> None:
    assert len(visible_edges(CUBE.mesh)) == 12
    assert length(visible_edges(CUBE.mesh)) == pytest.approx(12 * 10)


def test_edges_behind_are_left_out() -> None:
    assert len(visible_edges(CUBE.mesh, VIEWS["front"].look)) == 4
    assert len(visible_edges(CUBE.mesh, ISO.look)) == 9


def test_a_round_has_rims_and_contours_but_no_facets() -> None:
    rod = Solid.prism(disc(0, 0, 10, 96), VIEWS["top"], (0.0, 30.0))  # facets turn by 3.75°
    rim = disc(0, 0, 10, 96).length
    assert length(visible_edges(rod.mesh)) == pytest.approx(2 * rim)
    # from the front: half of each rim, and the outline of a cylinder, two straight lines
    seen = visible_edges(rod.mesh, VIEWS["front"].look)
    upright = np.abs(seen[:, 1, 2] - seen[:, 0, 2]) > 1.0
    assert upright.sum() == 2
    assert length(seen[~upright]) == pytest.approx(rim)
    assert length(visible_edges(rod.mesh, sharp=3.0)) == pytest.approx(2 * rim + 96 * 30)


def test_nothing_has_no_edges() -> None:
    assert visible_edges(CUBE.minus(CUBE).mesh).shape == (0, 2, 3)


@pytest.mark.parametrize("more", [1, 2, 3])
@pytest.mark.parametrize("on_an_edge", [True, False])
def test_triangles_without_area_draw_no_lines_of_their_own(on_an_edge: bool, more: int) -> None:
    """Corners along a side, where only one of the two faces has them: on an edge of the cube, or
    on the diagonal of a face. So many triangles without an area lie there side by side."""
    vertices, triangles = CUBE.mesh.vertices, CUBE.mesh.triangles
    a, b, c = next(
        turned
        for triangle in triangles.tolist()
        for turned in (triangle, triangle[1:] + triangle[:1], triangle[2:] + triangle[:2])
        if (np.linalg.norm(vertices[turned[0]] - vertices[turned[1]]) < 10.5) == on_an_edge
    )
    kept = [t for t in triangles.tolist() if sorted(t) != sorted((a, b, c))]
    shares = np.linspace(0.0, 1.0, more + 2)[1:-1, None]
    along = [a, *range(len(vertices), len(vertices) + more), b]
    whole = [(one, other, c) for one, other in pairwise(along)]
    thin = [(a, other, one) for one, other in pairwise(along[1:])]
    split = Mesh(
        np.vstack([vertices, vertices[a] + shares * (vertices[b] - vertices[a])]),
        np.array([*kept, *whole, *thin]),
    )
    assert length(visible_edges(split)) == pytest.approx(12 * 10)


# --- layout ------------------------------------------------------------------------

BARE = Margins(0.0, 0.0, 0.0, 0.0)


def test_front_right_and_top_line_up() -> None:
    ranges = [Range((0, 0), size) for size in ((80, 50), (40, 50), (80, 40))]
    front, right, top = (
        box for box, _ in arrange(ranges, ["front", "right", "top"], (10, 20, 1200, 900), BARE)
    )
    assert front[2:] == pytest.approx((800, 500))  # 1200 pixels for 80 + 40 mm
    assert right[2:] == pytest.approx((400, 500))
    assert top[2:] == pytest.approx((800, 400))
    assert right[:2] == pytest.approx((front[0] + 800, front[1]))
    assert top[:2] == pytest.approx((front[0], front[1] + 500))


def test_views_that_share_an_axis_show_the_same_of_it() -> None:
    ranges = [Range((-5, 0), (80, 50)), Range((0, 0), (90, 40))]
    (_, front), (_, top) = arrange(ranges, ["front", "top"], (0, 0, 500, 500), BARE)
    assert (front.low, front.high) == ((-5, 0), (90, 50))
    assert (top.low, top.high) == ((-5, 0), (90, 40))


def test_other_views_show_what_they_have() -> None:
    ranges = [Range((0, 0), (30, 30)), Range((0, 0), (50, 30)), Range((-5, 0), (50, 30))]
    placed = arrange(ranges, ["right", "rear", "top"], (0, 0, 1350, 400), BARE)
    assert [shown for _, shown in placed] == ranges
    boxes = np.array([box for box, _ in placed])  # in one row
    assert boxes == pytest.approx(
        np.array([(0, 50, 300, 300), (300, 50, 500, 300), (800, 50, 550, 300)])
    )


sizes = st.floats(5.0, 200.0)


@given(
    st.lists(st.tuples(sizes, sizes), min_size=1, max_size=3),
    st.sampled_from([("front", "right", "top"), ("left", "along a", "along b"), ("top",) * 3]),
    st.tuples(st.floats(400.0, 2000.0), st.floats(400.0, 2000.0)),
)
def test_panels_are_to_one_scale_inside_and_apart(
    shown: list[tuple[float, float]], names: tuple[str, ...], room: tuple[float, float]
) -> None:
    ranges = [Range((0.0, 0.0), size) for size in shown]
    margins = Margins()
    placed = arrange(ranges, names[: len(ranges)], (30.0, 40.0, *room), margins)
    scales = []
    for (box, seen), wanted in zip(placed, ranges, strict=True):
        left, bottom, wide, high = box
        assume(wide > 0 and high > 0)
        scales += [wide / seen.size[0], high / seen.size[1]]
        assert all(np.greater_equal(seen.high, wanted.high))
        assert left - margins.left >= 30.0 - 1e-6  # rounding of sums of some hundred pixels
        assert bottom - margins.bottom >= 40.0 - 1e-6
        assert left + wide + margins.right <= 30.0 + room[0] + 1e-6
        assert bottom + high + margins.top <= 40.0 + room[1] + 1e-6
    assert scales == pytest.approx([scales[0]] * len(scales))
    for i, ((l0, b0, w0, h0), _) in enumerate(placed):
        for (l1, b1, w1, h1), _ in placed[:i]:
            across = l0 + w0 < l1 or l1 + w1 < l0
            upward = b0 + h0 < b1 or b1 + h1 < b0
            assert across or upward


def test_main_views_fill_a_sheet_that_has_few_outlines(tmp_path: Path) -> None:
    for shape, names in (
        (PLATE, ["top", "front", "right"]),
        (ELL, ["front", "right", "top"]),
        (CROSSED_BARS, ["front", "right", "top"]),
    ):
        folder = tmp_path / names[0] / str(len(shape.outlines))
        folder.mkdir(parents=True)
        panels = panels_of(load(folder, shape).results)
        assert [panel.name for panel in panels] == names
        assert [panel.profile is not None for panel in panels].count(True) == len(shape.outlines)


# --- the look for an OpenGL --------------------------------------------------------


@pytest.fixture(autouse=True)
def _forget() -> None:
    display.window_for_pictures.cache_clear()
    display.window_for_screen.cache_clear()


def nothing_draws(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    tried: list[str] = []

    def draws_with(choice: str) -> bool:
        tried.append(choice)
        return False

    monkeypatch.setattr(display, "draws_with", draws_with)
    monkeypatch.delenv(display.CHOICE, raising=False)
    return tried


def test_a_trial_that_is_killed_is_a_no() -> None:
    assert display.draws_with(display.VTK_CHOOSES, "pass")
    assert not display.draws_with(display.VTK_CHOOSES, "import os; os.abort()")
    assert not display.draws_with(display.VTK_CHOOSES, "raise SystemExit(1)")


def test_a_trial_is_told_what_to_draw_with(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(display.CHOICE, "of before")
    code = f"import os; assert os.environ.get({display.CHOICE!r}) == {{!r}}"
    assert display.draws_with("this", code.format("this"))
    assert display.draws_with(display.VTK_CHOOSES, code.format(None))


def test_this_machine_draws(tmp_path: Path) -> None:
    """As all tests of pictures need it; says so in one sentence if not."""
    assert display.draws_with(display.window_for_pictures())


def test_without_opengl_one_sentence_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tried = nothing_draws(monkeypatch)
    monkeypatch.setattr(sys, "platform", "linux")
    part = load(tmp_path, PLATE)
    for view in (None, "iso"):
        with pytest.raises(PictureError, match="apt-get install libegl1 libgl1-mesa-dri") as caught:
            part.picture(tmp_path / "a.png", view)
        assert "\n" not in str(caught.value)
    assert tried[:2] == [display.WITHOUT_SCREEN, display.VTK_CHOOSES]
    assert not (tmp_path / "a.png").exists()
    assert part.solid.volume == pytest.approx(PLATE.volume)  # everything else still runs
    part.picture_outline("top", tmp_path / "top.png")
    assert (tmp_path / "top.png").exists()


def test_a_wrong_choice_of_the_user_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    tried = nothing_draws(monkeypatch)
    monkeypatch.setenv(display.CHOICE, "vtkNoSuchWindow")
    with pytest.raises(PictureError, match=f"'vtkNoSuchWindow'.*Unset {display.CHOICE}"):
        display.window_for_pictures()
    assert tried == ["vtkNoSuchWindow"]


def test_there_is_no_window_without_a_screen(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tried = nothing_draws(monkeypatch)
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.delenv("DISPLAY", raising=False)
    part = load(tmp_path, PLATE)
    with pytest.raises(PictureError, match=r"no screen.*DISPLAY.*write a picture"):
        part.show()
    assert tried == []
    monkeypatch.setenv("DISPLAY", ":4711")
    with pytest.raises(PictureError, match=r"':4711'.*write a picture"):
        part.show()
    assert tried == [display.ON_SCREEN]


def test_a_window_is_opened_with_what_was_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The plotter is made and shown while the choice is in force, and not after."""
    seen: list[str | None] = []

    class Plotter:
        def show(self) -> None:
            seen.append(os.environ.get(display.CHOICE))

    monkeypatch.delenv(display.CHOICE, raising=False)
    monkeypatch.setattr(window, "window_for_screen", lambda: "vtkThis")
    monkeypatch.setattr(window, "fill_window", lambda part: Plotter())
    window.show(load(tmp_path, PLATE).results)
    assert seen == ["vtkThis"]
    assert display.CHOICE not in os.environ


def test_the_environment_is_put_back(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(display.CHOICE, "before")
    for choice, inside in (("this", "this"), (display.VTK_CHOOSES, None)):
        with display.drawing_with(choice):
            assert os.environ.get(display.CHOICE) == inside
        assert os.environ[display.CHOICE] == "before"
