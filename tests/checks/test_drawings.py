"""What a drawing leaves in doubt: overlapping and nearly coincident loops, and its unit."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import silhouette3d
from silhouette3d.checks.drawings import RATIOS, SMALL, SMALL_STATED
from silhouette3d.errors import EmptyPartError
from silhouette3d.job.model import Job, job_from
from tests.support.checking import told
from tests.support.dxf_files import bare, tags

MM, INCH, NONE = 4, 1, 0


def polygon(u0: float, v0: float, u1: float, v1: float, layer: str = "0") -> str:
    """A closed polyline of DXF: a rectangle."""
    corners = ((u0, v0), (u1, v0), (u1, v1), (u0, v1))
    vertices = "".join(
        tags((0, "VERTEX"), (8, layer), (10, repr(u)), (20, repr(v))) for u, v in corners
    )
    return tags((0, "POLYLINE"), (8, layer), (66, 1), (70, 1)) + vertices + tags((0, "SEQEND"))


def circle(u: float, v: float, radius: float) -> str:
    return tags((0, "CIRCLE"), (8, "0"), (10, u), (20, v), (40, radius))


def job(folder: Path, drawings: dict[str, str], *, unit: int = MM, **keys: Any) -> Job:
    """A job on a block of 40 × 40 × 70 mm: a drawing for each view."""
    header = tags((9, "$INSUNITS"), (70, unit))
    for view, entities in drawings.items():
        (folder / f"{view}.dxf").write_text(bare(entities, header=header))
    data = {
        "name": "a",
        "stock": {"size": [40.0, 40.0, 70.0], "density": 1.0},
        "profile": [
            {"view": view, "drawing": f"{view}.dxf", "datum": "centre", **keys} for view in drawings
        ],
    }
    return job_from(data, path=folder / "job.toml")


def part(folder: Path, drawings: dict[str, str], **more: Any) -> silhouette3d.Part:
    return silhouette3d.Part(job(folder, drawings, **more))


def codes(made: silhouette3d.Part) -> list[str]:
    return [finding.code for finding in made.findings_of_part]


# Loops that overlap.

PLATE, SLOT = polygon(0, 0, 40, 40), polygon(15, -5, 25, 15)


def test_loops_that_overlap_are_told_with_what_else_they_could_make(tmp_path: Path) -> None:
    """A slot drawn across an edge: united it is a bump."""
    made = part(tmp_path, {"front": PLATE + SLOT})
    found = told(f for f in made.findings if f.code == "overlapping-loops")
    words = made.told(found)
    assert found.severity == "warning"
    assert "150 mm² in common" in words.message
    assert "united to 1650 mm²" in words.message
    assert found.places[0].on_face is not None
    areas = {"union": 1650.0, "subtract": 1450.0, "even-odd": 1500.0}
    for rule, area in areas.items():
        assert found.quantities[rule].number == pytest.approx(area)
        declared = silhouette3d.Part(made.job.changed({("profile", 0, "overlap"): rule}))
        assert declared.profiles[0].area.area == pytest.approx(area)
        assert "overlapping-loops" not in codes(declared)
        assert any("as the job says" in n for n in declared.profiles[0].outline.notes)


def test_two_slots_are_one_finding_with_two_places(tmp_path: Path) -> None:
    made = part(tmp_path, {"front": PLATE + SLOT + polygon(18, 30, 28, 60)})
    found = told(f for f in made.findings if f.code == "overlapping-loops")
    assert len(found.places) == found.facts["pairs"] == 2
    assert "and at 1 more place" in made.told(found).message
    assert found.quantities["subtract"].number == pytest.approx(1600 - 150 - 100)


def test_overlaps_move_and_grow_with_the_profile(tmp_path: Path) -> None:
    """Drawn at half the size, on its side: the place on the face follows."""
    small = polygon(0, 0, 20, 20) + polygon(7.5, -2.5, 12.5, 7.5)
    made = part(tmp_path, {"front": small}, scale=2.0, turn=90)
    found = told(f for f in made.findings if f.code == "overlapping-loops")
    assert found.quantities["common"].number == pytest.approx(150.0)
    assert found.places[0].on_face is not None
    u, v = found.places[0].on_face
    area = made.profiles[0].area.bounds
    assert area[2] - 20 < u < area[2]  # what was below is to the right
    assert 15 < v - area[1] < 25


# Loops that nearly coincide.


@pytest.mark.parametrize(("inner", "is_one"), [(9.985, True), (9.97, False)])
def test_a_ring_of_next_to_nothing_and_a_disc_drawn_twice(
    inner: float, is_one: bool, tmp_path: Path
) -> None:
    made = part(tmp_path, {"front": circle(20, 20, 10) + circle(20, 20, inner)})
    found = told(f for f in made.findings_of_part if f.code == "nearly-coincident")
    assert found.severity == "warning"
    assert found.facts["is_one"] is is_one
    assert found.quantities["apart"].number == pytest.approx(10 - inner, abs=0.01)
    ring, disc = 3.14159 * (100 - inner**2), 3.14159 * 100
    assert found.quantities["area"].number == pytest.approx(ring, rel=0.4)  # chords of 0.01 mm
    meant = disc if is_one else ring
    assert made.volume_error / 40 >= abs(made.solid.volume / 40 - meant)


# The unit.


def square(share: float) -> str:
    """A rectangle of a share of the front face of 40 × 70 mm."""
    return polygon(0, 0, 40 * share, 70 * share)


@pytest.mark.parametrize("ratio", [*RATIOS, *(1 / r for r in RATIOS)], ids=lambda r: f"{r:.4g}")
def test_a_drawing_in_another_unit_is_told_and_the_advice_mends_it(
    ratio: float, tmp_path: Path
) -> None:
    made = part(tmp_path, {"front": square(0.9 / ratio)}, unit=NONE)
    found = told(f for f in made.findings_of_part if f.code == "unit-doubtful")
    assert made.findings[0].severity == found.severity
    assert found.facts["ratios"][0] == pytest.approx(ratio, rel=0.5)
    near = [r for r in found.facts["ratios"] if abs(r / ratio - 1) < 1e-9]
    assert near == [ratio]
    if ratio != found.facts["ratios"][0]:
        return  # two ratios explain it, and the first is advised
    words = made.told(found)
    key, value = ("units", "in") if found.facts["units"] else ("scale", found.facts["scale"])
    assert f"{key} = " in words.advice
    mended = silhouette3d.Part(made.job.changed({("profile", 0, key): value}))
    assert "unit-doubtful" not in codes(mended)
    u0, v0, u1, v1 = mended.profiles[0].area.bounds
    assert (u1 - u0, v1 - v0) == pytest.approx((36.0, 63.0))


@pytest.mark.parametrize(
    ("share", "unit", "alarms"),
    [
        (SMALL / 1.01, NONE, True),
        (SMALL * 1.01, NONE, False),
        (SMALL / 1.01, MM, False),
        (SMALL_STATED / 1.01, MM, True),
        (SMALL_STATED * 1.01, MM, False),
        (1.49, NONE, False),
        (1.51, NONE, True),
        (2.0, NONE, True),
        (2.0, MM, True),
    ],
)
def test_when_a_size_is_odd(share: float, unit: int, alarms: bool, tmp_path: Path) -> None:
    made = part(tmp_path, {"front": square(share)}, unit=unit)
    assert ("unit-doubtful" in codes(made)) is alarms
    stated = silhouette3d.Part(made.job.changed({("profile", 0, "units"): "mm"}))
    assert "unit-doubtful" not in codes(stated)


def test_long_and_thin_is_not_odd(tmp_path: Path) -> None:
    """A rod along the block, and a band across it that reaches far beyond."""
    for drawn in (polygon(0, 0, 1, 60), polygon(0, 0, 200, 10)):
        assert "unit-doubtful" not in codes(part(tmp_path, {"front": drawn}, unit=NONE))


def test_the_unit_comes_before_outlines_that_exclude_one_another(tmp_path: Path) -> None:
    """An inch drawing without a unit, in a job in mm, beside one in mm that it cannot meet."""
    inches = polygon(0.1, 0.1, 1.4, 2.6)
    rails = polygon(0, 0, 10, 40) + polygon(30, 0, 40, 40)
    made = part(tmp_path, {"front": inches, "top": rails}, unit=NONE)
    with pytest.raises(
        EmptyPartError, match=r"front seems to be in another unit: .*25\.4"
    ) as caught:
        _ = made.solid
    assert 'units = "in"' in caught.value.todo
    mended = silhouette3d.Part(made.job.changed({("profile", 0, "units"): "in"}))
    assert mended.solid.volume > 0


def test_a_stock_rectangle_in_another_unit_comes_first_too(tmp_path: Path) -> None:
    """It is drawn to the hundredth of an inch, and the part would lie beside the other's."""
    inches = polygon(0.1, 0.1, 1.4, 2.6) + polygon(0, 0, 1.5748, 2.7559, layer="STOCK")
    data = job(tmp_path, {"front": inches, "top": polygon(2, 2, 38, 38)}, unit=NONE).declared
    for profile in data["profile"]:
        del profile["datum"]
    both = silhouette3d.Part(job_from(data, path=tmp_path / "job.toml"))
    with pytest.raises(EmptyPartError, match=r"the stock is drawn 1\.575 × 2\.756 mm.* 25\.4"):
        _ = both.solid
    del data["profile"][1]
    alone = silhouette3d.Part(job_from(data, path=tmp_path / "job.toml"))
    (found,) = [f for f in alone.findings_of_part if f.code == "stock-mismatch"]
    assert 'a factor of 25.4: set units = "in"' in alone.told(found).advice
    assert "unit-doubtful" not in codes(alone)
    data["profile"][0]["units"] = "in"
    mended = silhouette3d.Part(job_from(data, path=tmp_path / "job.toml"))
    assert {"stock-mismatch", "unit-doubtful"}.isdisjoint(codes(mended))
