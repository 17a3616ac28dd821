"""Undo and redo against a plain list."""

from __future__ import annotations

from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from silhouette3d.workbench.document import History


class AgainstList(RuleBasedStateMachine):
    """Every edit is one more entry of a list; a pointer walks in it."""

    def __init__(self) -> None:
        super().__init__()
        self.history = History((0,))
        self.states, self.at, self.on_disk = [0], 0, 0

    @rule(value=st.integers(0, 3))
    def edit(self, value: int) -> None:
        self.history = self.history.with_edit(value)
        self.states = [*self.states[: self.at + 1], value]
        self.at += 1

    @rule()
    def undo(self) -> None:
        assert self.history.can_undo == (self.at > 0)
        self.history = self.history.undone()
        self.at = max(0, self.at - 1)

    @rule()
    def redo(self) -> None:
        assert self.history.can_redo == (self.at < len(self.states) - 1)
        self.history = self.history.redone()
        self.at = min(len(self.states) - 1, self.at + 1)

    @rule()
    def save(self) -> None:
        self.history = self.history.with_saved()
        self.on_disk = self.states[self.at]

    @invariant()
    def same(self) -> None:
        assert self.history.present == self.states[self.at]
        if self.history.present != self.on_disk:
            assert self.history.unsaved


TestAgainstList = AgainstList.TestCase


def test_what_equals_the_disk_is_saved_whatever_the_way_there() -> None:
    history = History((1,)).with_edit(2)
    assert history.unsaved
    assert not history.with_edit(1).unsaved
    assert not history.undone().unsaved


def test_saved_state_that_was_undone_and_edited_away_is_no_longer_known() -> None:
    history = History((1,)).with_edit(2).with_saved().undone()
    assert history.unsaved
    assert history.with_edit(3).unsaved
    assert history.with_edit(3).saved is None


def test_a_run_is_undone_as_one() -> None:
    history = History((0,)).with_edit(1, "drag").with_edit(2, "drag").with_edit(3, "drag")
    assert history.present == 3
    assert history.undone().present == 0


def test_a_run_ends_with_another_or_with_undo_or_saving() -> None:
    first = History((0,)).with_edit(1, "a")
    assert first.with_edit(2, "b").undone().present == 1
    assert first.with_edit(2).undone().present == 1
    assert first.with_edit(2, "b").undone().with_edit(4, "a").undone().present == 1
    saved = first.with_saved().with_edit(2, "a")
    assert saved.undone().present == 1
    assert not saved.undone().unsaved


def test_a_run_after_undo_does_not_swallow_what_was_before() -> None:
    history = History((0,)).with_edit(1, "a").with_edit(5).undone().with_edit(2, "a")
    assert history.undone().present == 1


def test_nothing_saved() -> None:
    history = History((0,), saved=None)
    assert history.unsaved
    assert not history.with_saved().unsaved
