"""One thread that does tasks: the newest only, or one after another.

An executor of the standard library would do but for two things: its threads are waited for
when Python ends, however long a step in a geometry engine takes, and it has no "newest only".
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from typing import Final

__all__ = ["PATIENCE_AT_END", "Lane", "Post"]

Post = Callable[[Callable[[], None]], object]
"""Has a function called on the thread that owns the session, soon."""

PATIENCE_AT_END: Final = 5.0
"""Seconds to wait for a step that cannot be stopped when all is to end."""


class Lane:
    """A thread that does tasks.

    Parameters
    ----------
    name : str
        Of the thread.
    newest_only : bool
        Whether a task that still waits is dropped when another is put; else all are done,
        one after another.
    """

    def __init__(self, name: str, *, newest_only: bool = True) -> None:
        self._given = threading.Condition()
        self._tasks: deque[Callable[[], None]] = deque(maxlen=1 if newest_only else None)
        self._ends = False
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)
        self._thread.start()

    def put(self, task: Callable[[], None]) -> None:
        """Do this next, or after all that waits."""
        with self._given:
            self._tasks.append(task)
            self._given.notify()

    def stop(self) -> None:
        """End after the task at hand; what waits is dropped."""
        with self._given:
            self._tasks.clear()
            self._ends = True
            self._given.notify()

    def join(self, seconds: float = PATIENCE_AT_END) -> None:
        """Wait until it has ended, but not for ever."""
        self._thread.join(seconds)

    def _run(self) -> None:
        while True:
            with self._given:
                self._given.wait_for(lambda: self._tasks or self._ends)
                if self._ends:
                    return
                task = self._tasks.popleft()
            task()
