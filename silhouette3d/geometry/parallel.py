"""Work on many rows, shared out among the cores of the processor."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Final, TypeVar

Result = TypeVar("Result")

_FEW: Final = 2000
"""Rows that are not worth a thread of their own."""

_EACH: Final = 4
"""Parts for each core, for some take longer than others."""


def shared(work: Callable[[slice], Result], count: int) -> list[Result]:
    """Do `work` on rows 0 to `count`, in parts one after the other.

    Parameters
    ----------
    work : callable
        Called with some of the rows, in several threads at once; must leave the
        interpreter to others while it works, as compiled code does.
    count : int
        Of rows.
    """
    cores = os.cpu_count() or 1
    parts = min(_EACH * cores, count // _FEW)
    if cores == 1 or parts < 2:
        return [work(slice(0, count))]
    cuts = [count * k // parts for k in range(parts + 1)]
    with ThreadPoolExecutor(cores) as pool:
        return list(pool.map(work, map(slice, cuts[:-1], cuts[1:])))


def at_once(one: Callable[[], Result], other: Callable[[], Result]) -> tuple[Result, Result]:
    """Do two pieces of work at the same time."""
    with ThreadPoolExecutor(1) as pool:
        waiting = pool.submit(other)
        return one(), waiting.result()
