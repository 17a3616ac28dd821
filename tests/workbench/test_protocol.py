"""What a page sends is checked by the types of the functions that answer it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from silhouette3d.errors import WorkbenchError
from silhouette3d.workbench.protocol import PageState, checked
from silhouette3d.workbench.requests import answers
from silhouette3d.workbench.session import Session
from silhouette3d.workbench.view_model import Bench
from tests.support.workbench import Loop, settled, write_job


class State(SimpleNamespace):
    """Stands for the state that is shared with a page."""

    def update(self, values: dict[str, Any]) -> None:
        vars(self).update(values)

    def __enter__(self) -> None: ...

    def __exit__(self, *_: object) -> None: ...


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Any:
    loop = Loop()
    session = Session.of(write_job(tmp_path_factory.mktemp("bench")), loop.post)
    bench = Bench(session, SimpleNamespace(state=State()), loop.post)
    loop.until(lambda: settled(session))
    yield bench
    bench.stop()


def test_the_page_knows_what_the_protocol_says_and_no_more(bench: Bench) -> None:
    assert set(vars(bench._state)) == set(PageState.__annotations__)


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
