"""One simulation, one answer: what one command says of a job the others say as well."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.command import Run
from tests.drawn_jobs import Ring, block, write_job

FRAME: list[Ring] = [block(0, 0, 100, 100), block(8, 8, 92, 92)]
"""The window's slug is the larger: left in place, it would be what the clamps hold."""


def frame(folder: Path) -> Path:
    """A frame whose back is hollowed from above, so that its slug is cut through as well."""
    top = [[(0.0, 0.0), (100, 0), (100, 10), (50, 6), (0, 10)]]
    return write_job(folder, (100.0, 10.0, 100.0), {"front": FRAME, "top": top})


def frame_of_three_cuts(folder: Path) -> Path:
    outlines: dict[str, list[Ring]] = {
        "front": FRAME,
        "top": [[(0.0, 0.0), (100, 0), (100, 10), (50, 6), (0, 10)]],
        "right": [[(0.0, 0.0), (10, 0), (7, 50), (10, 100), (0, 100)]],
    }
    return write_job(folder, (100.0, 10.0, 100.0), outlines)


def cells(folder: Path) -> Path:
    """A part of two pieces, on cells of 2 mm; what is lifted out decides what the clamps hold."""
    p0 = [(6.0, 6.0), (4, 6), (4, 8), (2, 8), (2, 6), (0, 6), (0, 10), (8, 10), (8, 0), (6, 0)]
    p1 = [(0.0, 8.0), (6, 8), (6, 6), (8, 6), (8, 2), (6, 2), (6, 4), (4, 4), (4, 0), (0, 0)]
    p2 = [(2.0, 4.0), (2, 10), (8, 10), (8, 2), (6, 2), (6, 4)]
    views = {"p0": "bottom", "p1": "front", "p2": "left"}
    return write_job(folder, (8.0, 10.0, 12.0), {"p0": [p0], "p1": [p1], "p2": [p2]}, views=views)


def tabbed(folder: Path) -> Path:
    """Three cuts with tabs, offcuts left in place."""
    square = [block(5, 5, 35, 35)]
    window = [block(5, 5, 35, 35), block(12, 12, 28, 28)]
    tab = "[[profile.tab]]\nat = [4.5, 20.0]\nwidth = 2.0"
    return write_job(
        folder,
        (40.0, 40.0, 40.0),
        {"front": window, "right": square, "top": square},
        more={"front": tab, "right": tab},
        cutting="clear_offcuts = false",
    )


JOBS = [frame, frame_of_three_cuts, cells, tabbed]


def told(run: Run, *arguments: object) -> Any:
    return json.loads(run(*arguments, "--json")[1])


def with_order(job: Path, names: list[str]) -> Path:
    """The same job, cut in another order."""
    text = job.read_text().replace("[cutting]", f"[cutting]\norder = {json.dumps(names)}")
    path = job.with_name("ordered.toml")
    path.write_text(text)
    return path


@pytest.mark.parametrize("make", JOBS)
def test_what_is_told_of_an_order_is_told_of_the_job_that_has_it(
    run: Run, tmp_path: Path, make: Any
) -> None:
    job = make(tmp_path / "job")
    for order in told(run, "order", job)["orders"]:
        ordered = with_order(job, order["order"])
        cuts = told(run, "stages", ordered)["cuts"]
        assert sum(cut["area_mm2"] for cut in cuts) == pytest.approx(order["cut_area_mm2"])
        findings = {f["code"]: f for f in told(run, "check", ordered)["findings"]}
        for code, key in (("released-early", "released_after"), ("part-broken", "broken_after")):
            assert (code in findings) == (order[key] is not None)
        if order["released_after"] is not None:
            assert findings["released-early"]["stage"] == order["released_after"]
        again = told(run, "order", ordered)
        assert again["declared"] == order["order"]
        assert order in again["orders"]


@pytest.mark.parametrize("make", JOBS)
def test_an_order_is_written_only_if_check_finds_it_sound(
    run: Run, tmp_path: Path, make: Any
) -> None:
    job = make(tmp_path / "job")
    before = job.read_bytes()
    status, out, _ = run("order", job, "--write")
    codes = {finding["code"] for finding in told(run, "check", job)["findings"]}
    assert (status == 0) == codes.isdisjoint({"released-early", "part-broken"})
    if status:
        assert job.read_bytes() == before
        assert "Nothing written: no order holds." in out


def test_a_frame_is_held_in_the_order_in_which_its_slug_is_lifted_out(
    run: Run, tmp_path: Path
) -> None:
    orders = told(run, "order", frame(tmp_path / "job"))["orders"]
    assert {tuple(o["order"]): o["released_after"] for o in orders}[("front", "top")] is None


def test_an_order_holds_that_needs_an_offcut_lifted_out(run: Run, tmp_path: Path) -> None:
    orders = told(run, "order", cells(tmp_path / "job"))["orders"]
    assert {tuple(o["order"]): o["released_after"] for o in orders}[("p1", "p0", "p2")] is None
