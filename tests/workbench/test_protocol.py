"""What a page is shown, and that what it sends is checked by the types of its answers."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from silhouette3d.errors import WorkbenchError
from silhouette3d.workbench.protocol import PageState, checked
from silhouette3d.workbench.requests import answers
from silhouette3d.workbench.session import Session
from silhouette3d.workbench.view_model import Bench
from tests.support.workbench import JOB, Loop, settled, write_job


class State(SimpleNamespace):
    """Stands for the state that is shared with a page."""

    def update(self, values: dict[str, Any]) -> None:
        vars(self).update(values)

    def __enter__(self) -> None: ...

    def __exit__(self, *_: object) -> None: ...


def bench_on(path: Path, loop: Loop) -> Bench:
    """A bench on a job, whose strip is of words only: several at once would share the renderer."""
    bench = Bench(Session.of(path, loop.post), SimpleNamespace(state=State()), loop.post)
    bench._strip._blind = True
    return bench


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    """On the test job, all known about it; tests leave it as it was."""
    loop = Loop()
    bench = bench_on(write_job(tmp_path_factory.mktemp("bench")), loop)
    loop.until(lambda: settled(bench.session))
    yield bench
    bench.stop()


@pytest.fixture
def loop() -> Loop:
    return Loop()


@pytest.fixture
def fresh(tmp_path: Path, loop: Loop) -> Iterator[Bench]:
    """On the test job, its part and its cuts on the page."""
    bench = bench_on(write_job(tmp_path), loop)
    loop.until(lambda: settled(bench.session) and bench._state.strip)
    yield bench
    bench.stop()


def test_the_page_knows_what_the_protocol_says_and_no_more(bench: Bench) -> None:
    assert set(vars(bench._state)) == set(PageState.__annotations__)


def test_a_page_goes_over_to_the_unit_and_the_folder_of_the_job_opened(
    fresh: Bench, loop: Loop, tmp_path: Path
) -> None:
    """The sample is in inches; the job before it is not."""
    state = fresh._state
    assert (state.unit["name"], state.folder["path"]) == ("mm", str(tmp_path.resolve()))
    assert answers(fresh)["open_sample"]("crane")
    folder = tmp_path / "crane"
    assert (state.unit["name"], state.unit["per"]) == ("in", 25.4)
    assert state.folder["path"] == str(folder.resolve())
    assert set(state.folder["drawings"]) == {
        file.name for file in folder.iterdir() if file.suffix in {".dxf", ".svg"}
    }
    loop.until(lambda: state.figures)
    assert state.figures["size"].endswith(" in")


def test_a_switched_unit_is_that_of_all_figures(fresh: Bench) -> None:
    state = fresh._state
    for unit in ("in", "mm"):
        answers(fresh)["switch"](unit)
        assert state.unit["name"] == unit
        assert state.figures["size"].endswith(f" {unit}")
        assert all(card["faceSize"].endswith(f" {unit}") for card in state.cards)


@pytest.mark.parametrize("busy", [False, True], ids=["settled", "while working"])
def test_nothing_of_the_job_before_stays_on_the_page(
    fresh: Bench, loop: Loop, tmp_path: Path, busy: bool
) -> None:
    """Not until the next job's part is there, and not if it has none."""
    state, session = fresh._state, fresh.session
    answers(fresh)["want"]({"stage": 1})
    assert state.scene["shapes"]
    other = write_job(tmp_path / "other", JOB.replace("Bollard", "Buoy"))
    (other.parent / "top.svg").write_text("no drawing")
    if busy:
        answers(fresh)["put"](["cutting", "kerf"], 0.75)
    told: list[tuple[str, object]] = []
    session.subscribe(lambda event: told.append((state.job["name"], state.figures)))
    assert answers(fresh)["open"]("other/job.toml")
    loop.until(lambda: session.trouble)
    loop.drain()
    assert (state.job["name"], state.trouble["kind"]) == ("Buoy", "part")
    assert all(figures is None for name, figures in told if name == "Buoy")
    empty = (state.figures, state.cards, state.findings, state.strip, state.marks, state.labels)
    assert empty == (None, [], [], [], [], [])
    assert (state.scene["stage"], state.scene["shapes"], state.checked) == (None, [], False)


WRONG: list[tuple[str, tuple[Any, ...]]] = [
    ("shift", (0, [1.0])),
    ("shift", (0, "far")),
    ("shift", ("first", [0.0, 0.0])),
    ("nudge", (0, None, 0.0)),
    ("add_tab", (0, [1.0, 2.0, 3.0])),
    ("widen_tab", (0, 0, "wide")),
    ("order", (7,)),
    ("stock", ([1.0, 2.0], None)),
    ("material", ({},)),
    ("want", ("all",)),
    ("undo", (1, 2)),
    ("open", (None,)),
]


@pytest.mark.parametrize(("name", "given"), WRONG, ids=str)
def test_values_of_other_types_are_told_and_change_nothing(
    bench: Bench, name: str, given: tuple[Any, ...]
) -> None:
    job = bench.session.job
    assert answers(bench)[name](*given) is None
    told = bench._state.trouble
    assert "the page sent a value that is not taken" in told["what"]
    assert name in told["where"]
    assert bench.session.job is job
    bench.dismiss()


def test_what_is_of_the_right_type_goes_through(bench: Bench) -> None:
    assert answers(bench)["shift"](0, [1, 2.5])
    assert bench.session.job is not None
    assert bench.session.job.profile[0].shift == (1.0, 2.5)
    answers(bench)["undo"]()


def test_a_function_without_arguments_takes_none() -> None:
    def answer() -> int:
        return 1

    ask: Callable[..., int] = checked(answer)
    assert ask() == 1
    with pytest.raises(WorkbenchError):
        ask(2)


def test_paths_stay_text(bench: Bench, tmp_path: Path) -> None:
    assert answers(bench)["layers"](str(tmp_path / "outside.dxf")) is None
    assert "outside" in bench._state.trouble["what"]
