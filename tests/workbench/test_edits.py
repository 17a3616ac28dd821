"""From what is typed or clicked to the job, in the job's own units."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from silhouette3d.errors import JobError
from silhouette3d.job.model import Job, job_from, read_job
from silhouette3d.workbench import edits
from tests.support.workbench import write_job

LENGTHS = st.integers(-10_000, 10_000).map(lambda n: n / 100)


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Job:
    return read_job(write_job(tmp_path_factory.mktemp("bollard")))


@pytest.mark.parametrize(
    ("change", "key", "value"),
    [
        (lambda j: edits.shift(j, 0, (1, -2.5)), ("profile", 0, "shift"), [1.0, -2.5]),
        (lambda j: edits.stock_block(j, (30, 20, 40)), ("stock", "size"), [30, 20, 40]),
        (lambda j: edits.material(j, "steel A36"), ("stock", "material"), "steel A36"),
        (lambda j: edits.density(j, 7.7), ("stock", "density"), 7.7),
        (lambda j: edits.density(edits.density(j, 7.7), None), ("stock", "density"), None),
        (lambda j: edits.order(j, ("front", "top")), ("cutting", "order"), ["front", "top"]),
        (
            lambda j: edits.set_value(j, ("profile", 1, "mirror"), True),
            ("profile", 1, "mirror"),
            True,
        ),
        (
            lambda j: edits.set_value(j, ("profile", 0, "datum"), [1, 2]),
            ("profile", 0, "datum"),
            [1.0, 2.0],
        ),
        (lambda j: edits.set_value(j, ("cutting", "kerf"), 0.0), ("cutting", "kerf"), 0.0),
        (lambda j: edits.set_value(j, ("name",), "Buoy"), ("name",), "Buoy"),
        (lambda j: edits.set_value(j, ("cutting", "kerf"), None), ("cutting", "kerf"), None),
        (lambda j: edits.set_value(j, ("checks", "thin"), 2), ("checks", "thin"), 2),
    ],
)
def test_one_value_changes_and_nothing_else(
    job: Job, change: Callable[[Job], Job], key: tuple[str | int, ...], value: object
) -> None:
    """The edit's result against the file's values with that one set by hand."""
    expected = job.declared
    place: Any = expected
    for step in key[:-1]:
        if step == "checks":
            place.setdefault(step, {})
        place = place[step]
    place.pop(key[-1], None)
    if value is not None:
        place[key[-1]] = value
    assert change(job).declared == expected
    assert change(job).path == job.path


def test_a_bar_takes_the_place_of_the_block_and_back(job: Job) -> None:
    bar = edits.stock_bar(job, 25, 40, "x")
    assert bar.declared["stock"] == {
        "material": "brass C360",
        "round": {"diameter": 25, "length": 40, "along": "x"},
    }
    block = edits.stock_block(bar, (20.0, 20.0, 30.0))
    assert block.declared == job.declared


def test_a_material_takes_the_place_of_a_density(job: Job) -> None:
    dense = edits.density(job, 7.7)
    assert "density" not in edits.material(dense, "steel A36").declared["stock"]
    assert edits.material(dense, "steel A36").stock.density is None


WRONG: list[tuple[Callable[[Job], Job], str]] = [
    (lambda j: edits.shift(j, 0, (float("nan"), 0)), "finite"),
    (lambda j: edits.shift(j, 0, (1.0,)), "two lengths"),
    (lambda j: edits.nudge(j, 0, float("inf"), 0), "finite"),
    (lambda j: edits.shift(j, 5, (0, 0)), "no place"),
    (lambda j: edits.nudge(j, 5, 0, 0), "no profile 6"),
    (lambda j: edits.nudge(j, -1, 0, 0), "no profile 0"),
    (lambda j: edits.stock_block(j, (0, 1, 1)), "more than 0"),
    (lambda j: edits.stock_bar(j, 10, 20, "w"), '"x", "y" or "z"'),
    (lambda j: edits.material(j, "unobtainium"), "unobtainium"),
    (lambda j: edits.density(j, -1), "more than 0"),
    (lambda j: edits.set_value(j, ("profile", 0, "scale"), 0.0), "scale"),
    (lambda j: edits.set_value(j, ("cutting", "kerf"), -0.1), "at least 0"),
    (lambda j: edits.set_value(j, ("cutting", "kerf"), "wide"), "number"),
    (lambda j: edits.order(j, ("top",)), "front"),
    (lambda j: edits.set_value(j, ("profile", 0, "shitf"), [0, 0]), "shift"),
    (lambda j: edits.set_value(j, ("units",), "cm"), '"mm" or "in"'),
    (lambda j: edits.remove_tab(j, 0, 0), "no tab 1"),
    (lambda j: edits.move_tab(j, 0, -1, (0, 0)), "no tab 0"),
    (lambda j: edits.widen_tab(j, 0, 2, 1.0), "no tab 3"),
    (lambda j: edits.remove_profile(j, 2), "no profile 3"),
    (lambda j: edits.remove_profile(edits.remove_profile(j, 0), 0), "profile"),
    (lambda j: edits.add_profile(j, "x.svg", "front"), 'both called "front"'),
    (lambda j: edits.add_profile(j, "x.svg", "inside"), "view"),
]


@pytest.mark.parametrize(("change", "words"), WRONG)
def test_a_wrong_value_is_refused_with_words(
    job: Job, change: Callable[[Job], Job], words: str
) -> None:
    before = job.declared
    with pytest.raises(JobError) as error:
        change(job)
    assert words in str(error.value)
    assert job.declared == before


@given(steps=st.lists(st.tuples(LENGTHS, LENGTHS), max_size=20))
def test_nudges_add_up_as_written(job: Job, steps: list[tuple[float, float]]) -> None:
    """Hundredths summed as whole numbers are the oracle: no 0.30000000000000004."""
    moved = job
    for right, up in steps:
        moved = edits.nudge(moved, 0, right, up)
    total = [200 + sum(round(s[0] * 100) for s in steps), sum(round(s[1] * 100) for s in steps)]
    assert moved.declared["profile"][0]["shift"] == [n / 100 for n in total]


def test_nudges_are_in_the_units_of_the_job(job: Job) -> None:
    inches = job_from(job.declared | {"units": "in"})
    assert edits.nudge(inches, 1, 0.1, 0.0).profile[1].shift[0] == pytest.approx(2.54)


def test_tabs_are_added_moved_widened_and_removed(job: Job) -> None:
    one = edits.add_tab(job, 1, (10.0, 5.0))
    two = edits.add_tab(one, 1, (0.1 + 0.2, 5.0), 3.0)
    assert two.declared["profile"][1]["tab"] == [
        {"at": [10.0, 5.0]},
        {"at": [0.3, 5.0], "width": 3.0},
    ]
    assert edits.move_tab(two, 1, 0, (1.0, 2.0)).profile[1].tab[0].at == (1.0, 2.0)
    assert edits.widen_tab(two, 1, 0, 4.0).profile[1].tab[0].width == 4.0
    assert edits.widen_tab(two, 1, 1, None).declared["profile"][1]["tab"][1] == {"at": [0.3, 5.0]}
    assert edits.remove_tab(two, 1, 1).declared == one.declared
    assert edits.remove_tab(one, 1, 0).declared == job.declared


def test_a_profile_is_added_to_the_end_of_the_cuts_and_taken_out_of_them(job: Job) -> None:
    more = edits.add_profile(job, "side.dxf", "right", layer="OUTLINE", datum=None)
    assert more.declared["profile"][2] == {
        "view": "right",
        "drawing": "side.dxf",
        "layer": "OUTLINE",
    }
    assert more.order == ("top", "front", "right")
    assert edits.remove_profile(more, 2).declared == job.declared
    assert edits.remove_profile(more, 0).order == ("top", "right")
    assert edits.remove_profile(more, 1).order == ("front", "right")


def test_an_order_that_is_not_declared_stays_so(job: Job) -> None:
    plain = edits.set_value(job, ("cutting", "order"), None)
    more = edits.add_profile(plain, "side.dxf", "right")
    assert "order" not in more.declared["cutting"]
    assert more.order == ("front", "top", "right")


def test_names_that_count_positions_keep_their_place_among_the_cuts(job: Job) -> None:
    """A view of one's own without a name is called by its position, which changes."""
    look = {"look": [1.0, 1.0, 0.0], "up": [0.0, 0.0, 1.0]}
    other = {"look": [1.0, -1.0, 0.0], "up": [0.0, 0.0, 1.0]}
    more = edits.add_profile(edits.add_profile(job, "a.svg", look), "b.svg", other)
    swapped = edits.order(more, ("view 4", "top", "view 3", "front"))
    left = edits.remove_profile(swapped, 2)
    assert left.names == ("front", "top", "view 3")
    assert left.order == ("view 3", "top", "front")
    assert left.profile[2].drawing == "b.svg"


def test_a_job_from_nothing_but_what_it_must_have(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    stock = {"size": [1.0, 2.0, 3.0], "density": 2.7}
    new = edits.first_job("Buoy", "in", stock, [{"view": "top", "drawing": "top.svg"}], path)
    assert (new.name, new.units, new.path) == ("Buoy", "in", path)
    assert new.stock.size == pytest.approx((25.4, 50.8, 76.2))
    with pytest.raises(JobError, match="profile"):
        edits.first_job("Buoy", "in", stock, [], path)
