"""One simulation, one answer: what one command says of a job the others say as well."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.support.command import Run
from tests.support.drawn_jobs import Ring, block, write_job

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


# --- tabs --------------------------------------------------------------------------------------

PLAN = {"clamp-in-path", "released-early", "not-released", "part-broken", "weak-tab", "weak-hold"}


def plate(folder: Path, *, skin: float = 5.0, tab: str = "") -> Path:
    """A plate so far from the block's right side, with the same seen from above."""
    outer = block(5, 5, 39 - skin, 35)
    more = {"front": f"[[profile.tab]]\nat = [{39 - skin}, 20.0]\nwidth = 2.0" if tab else ""}
    return write_job(folder, (40.0, 40.0, 40.0), {"front": [outer], "top": [outer]}, more=more)


def on_a_skin(folder: Path) -> Path:
    """A tab in the job stands on a skin of 0.05 mm; its other side stands on 4 mm."""
    return plate(folder, skin=0.05, tab="there")


def all_skin(folder: Path) -> Path:
    """0.02 mm of the block beyond the kerf on all sides: nothing to stand on."""
    outer = block(1.02, 1.02, 38.98, 38.98)
    return write_job(folder, (40.0, 40.0, 40.0), {"front": [outer], "top": [outer]})


def stuck(folder: Path) -> Path:
    """A tab that the last cut does not sever, as it runs inside the last outline."""
    front, top = block(5, 5, 35, 35), block(2, 5, 38, 35)
    more = {"front": "[[profile.tab]]\nat = [5.0, 20.0]\nwidth = 2.0"}
    return write_job(folder, (40.0, 40.0, 40.0), {"front": [front], "top": [top]}, more=more)


@pytest.mark.parametrize("replace", [[], ["--replace"]], ids=["added", "replaced"])
@pytest.mark.parametrize(
    "make",
    [
        pytest.param(
            make, id=make.__name__, marks=[pytest.mark.big] * (make in (stuck, frame, cells))
        )
        for make in (plate, on_a_skin, all_skin, stuck, frame, cells, tabbed)
    ],
)
def test_tabs_are_written_only_if_check_finds_the_plan_sound(
    run: Run, tmp_path: Path, make: Any, replace: list[str]
) -> None:
    job = make(tmp_path / "job")
    before = job.read_bytes()
    found = told(run, "tabs", job, *replace)
    status, out, _ = run("tabs", job, "--write", *replace)
    codes = {one["code"] for one in told(run, "check", job)["findings"]} & PLAN
    assert status == (1 if found["to_mend"] else 0)
    if found["to_mend"]:
        assert job.read_bytes() == before
        assert "Nothing written: " in out
        assert codes
    else:
        assert not codes
        assert (job.read_bytes() != before) == ("Wrote" in out)
        assert run("tabs", job)[0] == 0  # and it finds nothing more to do


def test_a_tab_on_a_skin_is_replaced_by_one_that_stands_on_more(run: Run, tmp_path: Path) -> None:
    job = on_a_skin(tmp_path / "job")
    assert "weak-hold" in {one["code"] for one in told(run, "check", job)["findings"]}
    status, out, _ = run("tabs", job, "--write", "--replace")
    assert (status, "Wrote" in out) == (0, True)
    assert told(run, "tabs", job)["hold_mm2"] >= 5.0
    assert f"at = [{39 - 0.05}, 20.0]" not in job.read_text()
    assert told(run, "check", job)["findings"] is not None
    assert PLAN.isdisjoint(one["code"] for one in told(run, "check", job)["findings"])


# --- what else helps: told only if it does -----------------------------------------------------


ACROSS = {"front": (8.0, 5.0, 32.0, 55.0), "right": (2.0, 2.0, 38.0, 58.0)}


def across_a_bar(folder: Path) -> Path:
    """Two cuts across a bar that stands upright: the second severs no tab of the first."""
    outlines = {name: [block(*around)] for name, around in ACROSS.items()}
    return write_job(folder, (40.0, 40.0, 60.0), outlines)


def test_check_and_tabs_do_not_point_at_each_other(run: Run, tmp_path: Path) -> None:
    """Each way that is told is gone, and leads to a job in which nothing is wrong."""
    job = stuck(tmp_path / "job")
    assert "not-released" in {one["code"] for one in told(run, "check", job)["findings"]}
    status, out, _ = run("tabs", job)
    assert status == 1
    assert "`--replace` looks for better places" in out
    found = told(run, "tabs", job, "--replace")
    assert found["to_mend"]
    assert found["other_order"] == ["top", "front"]
    ordered = with_order(job, found["other_order"])
    assert run("tabs", ordered, "--replace", "--write")[0] == 0
    assert PLAN.isdisjoint(one["code"] for one in told(run, "check", ordered)["findings"])


def test_a_foot_does_what_is_told_of_it(run: Run, tmp_path: Path) -> None:
    job = across_a_bar(tmp_path / "job")
    found = told(run, "tabs", job)
    assert found["to_mend"] == ["not-released"]
    foot = found["foot"]
    assert foot["side"] == "bottom"
    # 10 mm to clamp by and a kerf to part it off; 5 mm of stock are there
    assert (foot["length_mm"], foot["longer_mm"]) == pytest.approx((11.0, 6.0))
    told_of = run("tabs", job)[1].replace("\n", " ")
    assert "Take the stock 6 mm longer at its bottom." in told_of
    longer = foot["longer_mm"]
    names = [["front", "right"][i] for i in foot["order"]]
    base = foot["length_mm"]
    outlines: dict[str, list[Ring]] = {}
    for name, (low, _, high, up) in ACROSS.items():
        above: Ring = [(low, up + longer), (high, up + longer)]
        wide = base - 1.0  # straight on for a kerf
        around: Ring = [(50.0, wide), (50.0, -5.0), (-5.0, -5.0), (-5.0, wide)]
        early: Ring = [(low, wide), *above, (high, wide), *around]
        outlines[name] = [early if name != names[-1] else [(low, base), *above, (high, base)]]
    clamps = dict(zip(["front", "right"], foot["clamp"], strict=True))
    done = write_job(
        tmp_path / "foot",
        (40.0, 40.0, 60.0 + longer),
        outlines,
        more={name: f'clamp = ["{side}"]' for name, side in clamps.items()},
        cutting=f"order = {json.dumps(names)}",
    )
    assert PLAN.isdisjoint(one["code"] for one in told(run, "check", done)["findings"])
    last = told(run, "stages", done)["cuts"][-1]
    part = next(body for body in last["bodies"] if body["standing"] == "part")
    assert part["volume_mm3"] == pytest.approx(24 * 36 * 50)
    assert foot["hold_mm2"] == pytest.approx(36 * 40, rel=1e-3)  # as deep as the block


def test_no_foot_where_a_cut_looks_along_every_axis(run: Run, tmp_path: Path) -> None:
    found = told(run, "tabs", stuck(tmp_path / "job"), "--replace")
    side = found["foot"] and found["foot"]["side"]
    assert side in {None, "left", "right"}  # front and top both look across x only
