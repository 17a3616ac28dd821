"""Results of the job at hand, taken in the order in which they were asked for.

Invariant: what is shown only ever becomes newer or fuller, in whatever order deliveries
arrive; busy is told only for what was asked for last.
"""

from __future__ import annotations

from collections.abc import Callable

from silhouette3d.job.model import Job
from silhouette3d.workbench.lane import Post
from silhouette3d.workbench.pipeline import Delivery, Failed, Late, Worker
from silhouette3d.workbench.shown import Shown

__all__ = ["Computation"]

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
