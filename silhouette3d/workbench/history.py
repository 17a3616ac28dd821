"""Every state a job has been in, and where in it one is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Generic, TypeVar

T = TypeVar("T")


@dataclass(frozen=True)
class History(Generic[T]):
    """States in a row, one of them the present one.

    Parameters
    ----------
    states : tuple
        Oldest first; never empty.
    now : int
        Index of the present one.
    saved : int or None
        Index of the one that lies on the disk; None when none of these does.
    run : str
        A name shared by edits that count as one, such as those of one drag.
    """

    states: tuple[T, ...]
    now: int = 0
    saved: int | None = 0
    run: str = ""

    @property
    def present(self) -> T:
        """The state one is in."""
        return self.states[self.now]

    @property
    def can_undo(self) -> bool:
        """Whether there is an older state."""
        return self.now > 0

    @property
    def can_redo(self) -> bool:
        """Whether there is a state that was undone."""
        return self.now + 1 < len(self.states)

    @property
    def unsaved(self) -> bool:
        """Whether the present state differs from what lies on the disk."""
        return self.saved is None or self.states[self.saved] != self.present

    def with_edit(self, state: T, run: str = "") -> History[T]:
        """With one more state; what was undone is gone.

        Parameters
        ----------
        state : object
            The new present.
        run : str
            Edits in a row with the same name, not empty, are undone as one.
        """
        joins = bool(run) and run == self.run and self.now > 0 and self.saved != self.now
        kept = self.states[: self.now if joins else self.now + 1]
        saved = self.saved if self.saved is not None and self.saved < len(kept) else None
        return History((*kept, state), len(kept), saved, run)

    def undone(self) -> History[T]:
        """One state back; the oldest stays."""
        return replace(self, now=max(self.now - 1, 0), run="")

    def redone(self) -> History[T]:
        """One state ahead; the newest stays."""
        return replace(self, now=min(self.now + 1, len(self.states) - 1), run="")

    def with_saved(self) -> History[T]:
        """The same, the present state now on the disk."""
        return replace(self, saved=self.now, run="")

    def with_nothing_saved(self) -> History[T]:
        """The same, none of the states on the disk any longer."""
        return replace(self, saved=None, run="")
