"""Limits: each has a name, says how to raise it, and takes hold before time and memory are gone."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from silhouette3d import Part
from silhouette3d.base.limits import (
    CORNERS,
    DEGREE,
    FILE_MB,
    JOB_MB,
    LIMITS,
    LOOPS,
    NESTING,
    OBJECTS,
    PROFILES,
    Limit,
)
from silhouette3d.drawing.outline.outline import Outline, outline_of
from silhouette3d.drawing.read import read_drawing
from silhouette3d.errors import DrawingError, JobError, PlacementError, SilhouetteError
from silhouette3d.job.model import job_from, read_job
from tests.support.dxf_files import bare, tags
from tests.support.svg_drawings import PAGE, SPACES

ROOT = Path(__file__).resolve().parents[2]


def outline(folder: Path, text: str, suffix: str = ".dxf") -> Outline:
    """The outline of a drawing with this content."""
    path = folder / f"tug{suffix}"
    path.write_text(text)
    return outline_of(read_drawing(path))


def line(x0: float, y0: float, x1: float, y1: float) -> str:
    return tags((0, "LINE"), (8, "HULL"), (10, x0), (20, y0), (11, x1), (21, y1))


def loop(points: list[tuple[float, float]]) -> str:
    ends = [*points[1:], points[0]]
    return "".join(line(*a, *b) for a, b in zip(points, ends, strict=True))


def circle(x: float, y: float, radius: float) -> str:
    return tags((0, "CIRCLE"), (8, "HULL"), (10, x), (20, y), (40, radius))


def spline(degree: int, count: int, weights: bool = False) -> str:
    """A spline over control points on a zigzag."""
    knots = [0] * (degree + 1) + [*range(1, count - degree)]
    knots += [count - degree] * (degree + 1)
    points = [(i, (i * i) % 7) for i in range(count)]
    return tags(
        *((0, "SPLINE"), (100, "AcDbEntity"), (8, "HULL"), (100, "AcDbSpline"), (70, 8)),
        *((71, degree), (72, len(knots)), (73, count), *((40, k) for k in knots)),
        *((41, 1 + i % 2) for i in range(count if weights else 0)),
        *(pair for x, y in points for pair in ((10, x), (20, y))),
    )


def svg(body: str) -> str:
    return f"<svg {SPACES} {PAGE}>{body}</svg>"


# ---- how they are set ------------------------------------------------------------------


@pytest.mark.parametrize("limit", LIMITS, ids=lambda one: one.variable)
def test_a_limit_is_set_in_the_environment(limit: Limit, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(limit.variable, raising=False)
    assert limit.value == limit.usual
    monkeypatch.setenv(limit.variable, " 7 ")
    assert limit.value == 7
    monkeypatch.setenv(limit.variable, str(limit.highest))
    assert limit.value == limit.highest
    monkeypatch.setenv(limit.variable, "")
    assert limit.value == limit.usual
    assert limit.reason
    assert limit.variable in limit.raised


@pytest.mark.parametrize("text", ["0", "-1", "x", "1e3", "1.5", "٣", "9" * 5000, "12_000_000_000"])
def test_a_limit_that_is_none(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(CORNERS.variable, text)
    with pytest.raises(SilhouetteError, match="whole number from 1 to 5,000,000") as caught:
        _ = CORNERS.value
    assert caught.value.where == "environment variable SILHOUETTE3D_CORNERS"


def test_thousands_may_be_set_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(CORNERS.variable, "300_000")
    assert CORNERS.value == 300_000


def test_readme_lists_them() -> None:
    rows = re.findall(
        r"^\| `(SILHOUETTE3D_\w+)` \| ([\d,]+) \|", (ROOT / "README.md").read_text("utf-8"), re.M
    )
    assert rows == [(one.variable, f"{one.usual:,}") for one in LIMITS]


# ---- what each stops ---------------------------------------------------------------------

LOW: dict[Limit, tuple[str, Callable[[], str], str]] = {
    # limit: its value, a drawing that goes beyond it, where that is written
    OBJECTS: ("9", lambda: bare("".join(line(i, 0, i + 1, 0) for i in range(10))), ".dxf"),
    CORNERS: ("90", lambda: bare(circle(0, 0, 50)), ".dxf"),
    LOOPS: ("3", lambda: bare("".join(circle(9 * i, 0, 1) for i in range(4))), ".dxf"),
    NESTING: ("5", lambda: bare("".join(circle(0, 0, 1 + i) for i in range(7))), ".dxf"),
    DEGREE: ("4", lambda: bare(spline(5, 9)), ".dxf"),
    FILE_MB: ("1", lambda: svg(f"<!--{' ' * 1024**2}-->"), ".svg"),
}


@pytest.mark.parametrize("limit", LOW, ids=lambda one: one.variable)
def test_a_drawing_beyond_a_limit(
    limit: Limit, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    value, drawing, suffix = LOW[limit]
    monkeypatch.setenv(limit.variable, value)
    with pytest.raises(DrawingError) as caught:
        outline(tmp_path, drawing(), suffix)
    assert limit.variable in str(caught.value)
    assert str(tmp_path / f"tug{suffix}") in caught.value.where


@pytest.mark.parametrize("limit", [OBJECTS, CORNERS, LOOPS, NESTING])
def test_a_drawing_at_a_limit(
    limit: Limit, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at = {
        OBJECTS: ("8", loop([(0, 0), (9, 0), (9, 9), (0, 9)])),  # four lines, each of one piece
        CORNERS: ("4", loop([(0, 0), (9, 0), (9, 9), (0, 9)])),
        LOOPS: ("4", "".join(circle(9 * i, 0, 1) for i in range(4))),
        NESTING: ("5", "".join(circle(0, 0, 1 + i) for i in range(6))),
    }
    value, entities = at[limit]
    monkeypatch.setenv(limit.variable, value)
    assert not outline(tmp_path, bare(entities)).polygons.is_empty


def test_the_usual_degree_is_read_and_one_more_is_not(tmp_path: Path) -> None:
    closing = line(0, 0, 0, -9) + line(0, -9, 39, -9)
    end = (39, 39 * 39 % 7)
    closing += line(39, -9, *end)
    assert outline(tmp_path, bare(spline(25, 40) + closing)).polygons.area > 0
    with pytest.raises(DrawingError, match="a spline of degree 26, and more than 25 is not read"):
        outline(tmp_path, bare(spline(26, 40) + closing))


def test_a_job_file_that_is_too_large(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text("# " + "x" * JOB_MB.usual * 1024**2)
    with pytest.raises(JobError, match=r"the file holds more than 1 MB.*SILHOUETTE3D_JOB_MB"):
        read_job(path)


def job(**profile: object) -> dict[str, Any]:
    front = {"view": "front", "drawing": "tug.dxf", "datum": "corner"} | profile
    return {
        "name": "Bollard",
        "stock": {"size": [80.0, 40.0, 50.0], "density": 2.7},
        "profile": [front],
    }


def test_too_many_profiles() -> None:
    data = job()
    names = [f"front {i}" for i in range(PROFILES.usual + 1)]
    data["profile"] = [{"view": "front", "drawing": "tug.dxf", "name": name} for name in names]
    with pytest.raises(JobError, match=r"25 profiles, and more than 24.*SILHOUETTE3D_PROFILES"):
        job_from(data)
    data["profile"] = data["profile"][1:]
    assert len(job_from(data).profile) == PROFILES.usual


@pytest.mark.parametrize(
    "stock",
    [
        {"size": [80.0, 1e-300, 50.0]},
        {"size": [1e-6, 1e-6, 1e-6]},
        {"size": [5000.0, 0.04, 50.0]},
        {"round": {"diameter": 1e-300, "length": 3.0}},
        {"round": {"diameter": 30.0, "length": 5e-324}},
    ],
)
def test_stock_of_next_to_nothing(stock: dict[str, object]) -> None:
    with pytest.raises(JobError, match=r"mm is next to nothing.*must have at least"):
        job_from(job() | {"stock": stock | {"density": 1.0}})


def test_the_thinnest_stock_has_a_volume(tmp_path: Path) -> None:
    (tmp_path / "tug.dxf").write_text(bare(loop([(0, 0), (900, 0), (900, 40), (0, 40)])))
    data = job() | {"stock": {"size": [999.0, 0.01, 40.0], "density": 1.0}}
    part = Part(job_from(data, path=tmp_path / "job.toml"))
    # walls may lie 1e-8 of the diagonal further in, on both sides of a foil of 0.01 mm
    assert part.solid.volume == pytest.approx(900 * 40 * 0.01, rel=5e-3)


def test_an_outline_scaled_beyond_a_kilometre(tmp_path: Path) -> None:
    (tmp_path / "tug.dxf").write_text(bare(loop([(0, 0), (90, 0), (90, 40), (0, 40)])))
    part = Part(job_from(job(scale=20_000.0), path=tmp_path / "job.toml"))
    with pytest.raises(PlacementError, match=r"1800000 mm long as placed") as caught:
        _ = part.profiles
    assert "tug.dxf (profile 'front')" in caught.value.where


def test_a_tolerance_too_fine_for_the_size(tmp_path: Path) -> None:
    """A circle of 20 m at the finest tolerance: 2π / 2 acos(1 − 1e-6 / 10⁴) = 222,144 chords."""
    (tmp_path / "tug.dxf").write_text(bare(circle(0, 0, 10_000)))
    data = job() | {"tolerance": 1e-6}
    with pytest.raises(DrawingError, match=r"tolerance of 1e-06 mm .* more than 200,000 corners"):
        _ = Part(job_from(data, path=tmp_path / "job.toml")).profiles
    lines = tags((0, "CIRCLE"), (8, "TABS"), (10, 0), (20, 0), (40, 10_000))
    (tmp_path / "tug.dxf").write_text(bare(loop([(0, 0), (9, 0), (9, 9), (0, 9)]) + lines))
    with pytest.raises(DrawingError, match="more than 200,000 corners"):
        _ = Part(job_from(data, path=tmp_path / "job.toml")).profiles


def test_a_curve_known_by_points_only_stops_at_the_limit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(CORNERS.variable, "50")
    with pytest.raises(DrawingError, match=r"more than 50 points .*SILHOUETTE3D_CORNERS"):
        outline(tmp_path, bare(spline(3, 60, weights=True)))


# ---- tangles: n lines that meet n²/2 times ---------------------------------------------------

SCATTER = np.random.default_rng(7)


def scattered(count: int, reach: float = 100.0) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in SCATTER.uniform(0, reach, (count, 2))]


def test_a_tangle_of_loose_lines_is_an_open_outline(tmp_path: Path) -> None:
    """Some 150,000 crossings: working them all out takes half a minute."""
    ends = scattered(1600)
    tangle = "".join(line(*a, *b) for a, b in zip(ends[::2], ends[1::2], strict=True))
    with pytest.raises(DrawingError, match="the outline is open"):
        outline(tmp_path, bare(tangle))


def test_thousands_of_dashes_on_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        "silhouette3d.drawing.outline.loops.MOST_CUT", 100
    )  # 40,000 take some seconds
    dashes = "".join(line(i, 0, i + 0.5, 0) for i in range(60))
    with pytest.raises(DrawingError, match="the outline is open"):
        outline(tmp_path, bare(dashes))


def test_a_loop_that_is_a_tangle(tmp_path: Path) -> None:
    with pytest.raises(
        DrawingError, match=r"lie across each other in more than about 2\d,\d{3} places"
    ):
        outline(tmp_path, bare(loop(scattered(600))))


def test_a_filled_path_that_is_a_tangle(tmp_path: Path) -> None:
    rounds = "".join(f"M{x} {y}h50v50h-50z" for x, y in scattered(220, 40.0))
    with pytest.raises(DrawingError, match="lie across each other in more than"):
        outline(tmp_path, svg(f'<path d="{rounds}"/>'), ".svg")


def test_loops_that_all_overlap(tmp_path: Path) -> None:
    boxes = "".join(
        f'<rect x="{x}" y="{y}" width="50" height="50"/>' for x, y in scattered(220, 70)
    )
    few = "".join(f'<rect x="{i}" y="{i}" width="5" height="5"/>' for i in range(30))
    assert outline(tmp_path, svg(few), ".svg").polygons.area > 0
    with pytest.raises(DrawingError, match="lie across each other in more than about 5,000 places"):
        outline(tmp_path, svg(boxes), ".svg")


@pytest.mark.big
def test_a_loop_drawn_a_thousand_times_counts_once(tmp_path: Path) -> None:
    found = outline(tmp_path, svg('<rect width="5" height="4"/>' * 1000), ".svg")
    assert found.polygons.area == pytest.approx(20.0)
    assert "999 loops drawn twice counted once" in found.notes


def test_line_ends_that_lie_on_one_point_and_that_nearly_do(tmp_path: Path) -> None:
    away = scattered(1500)
    with pytest.raises(DrawingError, match="the outline is open"):
        outline(tmp_path, bare("".join(line(0, 0, *end) for end in away)))
    near = scattered(1500, 1e-7)
    fan = "".join(line(*a, *b) for a, b in zip(near, away, strict=True))
    with pytest.raises(DrawingError, match="1,000,000 pairs of line ends lie within 1e-06 mm"):
        outline(tmp_path, bare(fan))


# ---- style sheets -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("style", "what"),
    [
        ("*{fill:%s}" % ("(" * 30_000), "brackets nested too deeply"),
        (f"*{{stroke-width:{'9' * 5000}}}", "a number of too many digits"),
    ],
)
def test_a_style_without_end(style: str, what: str, tmp_path: Path) -> None:
    spot = '<circle r="1"/>'
    with pytest.raises(DrawingError, match=f"a style sheet .*{what}") as caught:
        outline(tmp_path, svg(f"<style>{style}</style>{spot}"), ".svg")
    assert "tug.svg" in caught.value.where
    with pytest.raises(DrawingError, match=f"its style .*{what}") as caught:
        outline(tmp_path, svg(f'\n<circle r="1" style="{style[2:-1]}"/>'), ".svg")
    assert "line 2" in caught.value.where


def test_style_sheets_that_declare_too_much(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(OBJECTS.variable, "1000")
    rules, spots = "circle{fill:red}" * 40, '<circle r="1"/>' * 40
    with pytest.raises(DrawingError, match="style sheets declare more than 1,000 values"):
        outline(tmp_path, svg(f"<style>{rules}</style>{spots}"), ".svg")


def test_half_characters_are_spelt_out() -> None:
    error = DrawingError("a layer \udc8d", where="\ud800.dxf", todo="rename \udcff")
    assert str(error).encode() == b"\\ud800.dxf: a layer \\udc8d. Rename \\udcff."
