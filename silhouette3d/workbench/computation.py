"""Work a part out step by step beside the page, newest first."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import wraps
from typing import Final

from silhouette3d.base.units import MM3_PER_CM3
from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.removal import stock_solid
from silhouette3d.job.model import Job
from silhouette3d.part import Part
from silhouette3d.presentation.wording.backend_errors import told_in_words
from silhouette3d.workbench.lane import Lane, Post
from silhouette3d.workbench.outline_cards import full_card, plain_card, refused_of
from silhouette3d.workbench.result import Piece, Result, StageOfBlock, Trouble
from silhouette3d.workbench.shown import Shown

# --- Work a part out step by step beside the page, newest first


# --- The steps from a job to all that is known about its part


class SupersededError(Exception):
    """Something newer is asked for."""


def first_result(sequence: int, job: Job, before: Part | None) -> Result:
    """Work out the solid of a job with its mass and size.

    Parameters
    ----------
    sequence : int
        Its number.
    job : Job
        What to work out.
    before : Part, optional
        Whatever of it is the same is not worked out again.

    Raises
    ------
    SilhouetteError
        If there is no part.
    """
    with told_in_words(str(job.path or "job")):
        part = Part(job) if before is None else before.again(job)
        solid = part.solid
        return Result(
            sequence,
            job,
            part,
            "part",
            solid,
            part.mass,
            part.stock_mass,
            solid.volume,
            _triple(solid.size),
            part.stock.size,
            _triple(part.measures.centre),
            tuple(plain_card(profile, part, i) for i, profile in enumerate(part.profiles)),
        )


def with_cards(result: Result) -> Result:
    """Add the shadow, the lost regions and the tabs to each card."""
    part = result.part
    cards = [full_card(card, part, i) for i, card in enumerate(result.cards)]
    return replace(result, step="cards", cards=tuple(cards))


def with_checks(result: Result) -> Result:
    """Add the findings about the finished part."""
    return replace(result, step="checks", findings=result.part.findings_of_part)


def with_cuts(result: Result) -> Result:
    """Add the block after every cut."""
    part = result.part
    stages = [StageOfBlock.after(stage, part.density) for stage in part.stages]
    block = Piece(stock_solid(part.stock), "part", part.stock.volume * part.density / MM3_PER_CM3)
    return replace(result, step="cuts", stages=(StageOfBlock("", (block,)), *stages))


def with_all(result: Result) -> Result:
    """Add every finding."""
    return replace(result, step="all", findings=result.part.findings)


def prepared(result: Result) -> Result:
    """Work out what the next edit needs to know already."""
    result.part.prepare_moves()
    return result


def _step(work: Callable[[Result], Result]) -> Callable[[Result], Result]:
    """Have a step tell in words what a library gives up on."""

    @wraps(work)
    def told(result: Result) -> Result:
        with told_in_words(result.part.results.where):
            return work(result)

    return told


AFTER_PART: Final = tuple(map(_step, (with_cards, with_checks, with_cuts, with_all, prepared)))
"""What follows the first result, in this order."""


def _triple(values: Array) -> tuple[float, float, float]:
    x, y, z = (float(value) for value in values)
    return x, y, z


# --- Working parts out beside the page: newest first, and never an old one over a newer one


PATIENCE: Final = 0.15
"""Seconds after which somebody who waits is told so."""

QUIET: Final = 0.5
"""Seconds without anything newer after which the checks begin, so that they do not hold up
somebody who types."""

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Late:
    """Message that what was asked for as number `sequence`, or something newer, takes its time."""

    sequence: int


@dataclass(frozen=True)
class Failed:
    """Message that what was asked for as number `sequence` cannot be had."""

    sequence: int
    trouble: Trouble


Delivery = Result | Failed | Late


@dataclass
class Worker:
    """Works out what is asked for, the newest first, in steps that are delivered one by one.

    The solid is made on one thread, all that comes after on a second, so that an
    edit need not wait for the checks of the one before. Those stop as soon as
    something newer is asked for.

    Parameters
    ----------
    deliver : callable
        Told each result, failure and delay, on the thread that `post` leads to.
    post : callable
        Takes a function and has it called there: ``loop.call_soon_threadsafe``.
    first : callable
        From a sequence number, a job and the part made last (or None) to the first result.
    steps : sequence of callable
        Each from a result to a fuller one.
    patience : float
        Seconds until a delay is told.
    quiet : float
        Seconds without anything newer until the steps begin.
    """

    deliver: Callable[[Delivery], None]
    post: Post
    first: Callable[[int, Job, Part | None], Result] = first_result
    steps: Sequence[Callable[[Result], Result]] = AFTER_PART
    patience: float = PATIENCE
    quiet: float = QUIET
    _newest: int = 0
    _finished: int = 0
    _ends: bool = False
    _last: Part | None = None
    _timer: threading.Timer | None = None
    _quick: Lane = field(default_factory=lambda: Lane("workbench part"))
    _slow: Lane = field(default_factory=lambda: Lane("workbench checks"))

    def ask(self, job: Job) -> int:
        """Have a job worked out; what was asked for before is no longer wanted.

        Returns
        -------
        int
            The sequence number that its results will carry.
        """
        self._newest += 1
        sequence = self._newest
        self._quick.put(lambda: self._make(sequence, job))
        if self._timer is None or not self._timer.is_alive():
            self._timer = threading.Timer(self.patience, self._tell_delay)
            self._timer.daemon = True
            self._timer.start()
        return sequence

    def stop(self) -> None:
        """End both threads, after the step at hand; nothing is delivered any longer."""
        self._ends = True
        self._newest += 1
        if self._timer is not None:
            self._timer.cancel()
        for lane in (self._quick, self._slow):
            lane.stop()
        for lane in (self._quick, self._slow):
            lane.join()

    def _make(self, sequence: int, job: Job) -> None:
        try:
            result = self.first(sequence, job, self._last)
        except Exception as error:
            trouble = replace(Trouble.of(error, "part"), refused=refused_of(error))
            self._fail(sequence, error, trouble)
            return
        self._last = result.part
        self._send(result)
        if sequence == self._newest:
            self._slow.put(lambda: self._complete(result))

    def _complete(self, result: Result) -> None:
        sequence = result.sequence

        def go_on(*_: object) -> None:
            if sequence != self._newest:
                raise SupersededError

        time.sleep(self.quiet)
        result.part.say = result.part.progress = go_on
        for step in self.steps:
            try:
                go_on()
                before, result = result, step(result)
            except SupersededError:
                return
            except Exception as error:
                self._fail(sequence, error, Trouble.of(error, "cuts"))
                return
            if result is not before:
                self._send(result)
        self._finished = max(self._finished, sequence)

    def _send(self, delivery: Delivery) -> None:
        if not self._ends:
            self.post(lambda: self.deliver(delivery))

    def _fail(self, sequence: int, error: Exception, trouble: Trouble) -> None:
        if trouble.kind == "inside":
            log.error("working out job %d failed", sequence, exc_info=error)
        self._finished = max(self._finished, sequence)
        self._send(Failed(sequence, trouble))

    def _tell_delay(self) -> None:
        if self._finished < self._newest:
            self._send(Late(self._newest))


# --- Results of the job at hand, taken in the order in which they were asked for
#
# Invariant: what is shown only ever becomes newer or fuller, in whatever order deliveries
# arrive; busy is told only for what was asked for last; nothing of a job that is forgotten.


MakeWorker = Callable[[Callable[[Delivery], None], Post], Worker]


class Computation:
    """Has jobs worked out, and shows what comes of the newest.

    Parameters
    ----------
    shown : Shown
        Where results, failures and delays are shown.
    post : callable
        Has a function called on the thread that owns `shown`.
    worker : callable
        Makes the worker, from who is told and `post`.
    """

    def __init__(self, shown: Shown, post: Post, worker: MakeWorker = Worker) -> None:
        self._shown = shown
        self._worker = worker(self.take, post)
        self._asked = self._landed = self._failed = 0

    def ask(self, job: Job) -> None:
        """Have a job worked out, instead of what was asked for before."""
        self._asked = self._worker.ask(job)

    def forget(self) -> None:
        """Show nothing any longer of what was asked for until now."""
        self._landed = self._asked + 1
        self._shown.forget_trouble("part", "cuts", "inside")
        self._shown.set_result(None)

    def stop(self) -> None:
        """End all work."""
        self._worker.stop()

    @property
    def is_done(self) -> bool:
        """True if nothing more will come of what was asked for last."""
        if self._failed == self._asked:
            return True
        result = self._shown.result
        return result is not None and (result.sequence, result.step) == (self._asked, "all")

    def take(self, delivery: Delivery) -> None:
        """Show what the worker delivers, unless something newer has come already."""
        if isinstance(delivery, Late):
            self._shown.set_busy(delivery.sequence == self._asked and not self.is_done)
        elif delivery.sequence >= self._landed:
            self._landed = delivery.sequence
            if isinstance(delivery, Failed):
                self._failed = delivery.sequence
                self._shown.set_trouble(delivery.trouble)
            else:
                self._shown.forget_trouble("part", "cuts", "inside")
                self._shown.set_result(delivery)
            if self.is_done:
                self._shown.set_busy(False)
