"""Two ways to the same end, measured in turn in one run, and the table of what came of it."""

from __future__ import annotations

import math
import multiprocessing
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

ROUNDS = 7


@dataclass(frozen=True)
class Row:
    """One comparison: medians in seconds of processor time."""

    bench: str
    case: str
    ours: float
    other: float
    beside: str
    note: str = ""

    @property
    def ratio(self) -> float:
        """How many times as long the other takes."""
        return self.other / self.ours if self.ours else float("inf")


def seconds(work: Callable[[], object]) -> float:
    """Processor time."""
    start = time.process_time()
    work()
    return time.process_time() - start


def in_turn(
    ours: Callable[[], object], other: Callable[[], object], budget: float
) -> tuple[float, float]:
    """Medians of both, one after the other and again, as often as the budget in seconds allows."""
    first: list[float] = []
    second: list[float] = []
    start = time.process_time()
    while len(first) < ROUNDS and (not first or time.process_time() - start < budget):
        first.append(seconds(ours))
        second.append(seconds(other))
    return statistics.median(first), statistics.median(second)


def apart(work: Callable[..., Any], *given: Any) -> Any:
    """What some work comes to in a process of its own, whose memory is its own."""
    context = multiprocessing.get_context("spawn")
    receiver, sender = context.Pipe(duplex=False)
    process = context.Process(target=_sent, args=(sender, work, *given))
    process.start()
    sender.close()
    found = receiver.recv()
    process.join()
    return found


def _sent(sender: Any, work: Callable[..., Any], *given: Any) -> None:
    sender.send(work(*given))


HEAD = f"{'':10} {'':26} {'ours':>10} {'other':>10} {'ratio':>8}  beside"


def line(row: Row) -> str:
    """A row for the eye, below `HEAD`."""
    return (
        f"{row.bench:10} {row.case:26} {_time(row.ours):>10} {_time(row.other):>10}"
        f" {_ratio(row.ratio):>8}  {row.beside}{'; ' if row.note else ''}{row.note}"
    )


def _ratio(value: float) -> str:
    return "–" if math.isnan(value) else f"{value:.1f}×"


def _time(value: float) -> str:
    if math.isnan(value):
        return "–"
    return f"{value * 1e3:.1f} ms" if value < 1.0 else f"{value:.2f} s"
