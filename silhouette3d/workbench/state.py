"""What a page shows of a session, and who is told when it changes."""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Literal

from silhouette3d.errors import SilhouetteError
from silhouette3d.units import Unit
from silhouette3d.workbench.errands import Errand
from silhouette3d.workbench.proposals import Proposed
from silhouette3d.workbench.result import Kind, Result, Trouble

log = logging.getLogger(__name__)

Event = Literal["job", "result", "trouble", "busy", "disk", "proposal", "errand"]
"""What has changed, told to listeners:

``job``
    the job, what can be undone, or whether it is saved;
``result``
    a newer or fuller result;
``trouble``
    there is trouble, or there is none any longer;
``busy``
    something takes long, or is done;
``disk``
    the job's file differs from what was read while there are unsaved edits, or no longer;
``proposal``
    there is one to accept or refuse, or none any longer;
``errand``
    an export begins, gets on or ends.
"""

Listener = Callable[[Event], None]


class State:
    """What there is to see.

    Attributes
    ----------
    result : Result or None
        The last good one; it stays on screen while there is trouble.
    trouble : Trouble or None
        Why there is no newer result, or why the last request was refused.
    busy : bool
        Whether a result has been awaited for longer than a moment.
    conflict : bool
        Whether the job's file was changed by another program while there are unsaved
        edits. Then it is not saved over; loading it again or saving beside it ends that.
    proposal : OrderProposal or TabsProposal or None
        To accept or to refuse.
    errand : Errand or None
        The export or proposal being worked on, or the last one that ended.
    unit : {"mm", "in"}
        In which sizes and masses are shown; the job keeps its own.
    """

    def __init__(self) -> None:
        self.result: Result | None = None
        self.trouble: Trouble | None = None
        self.busy = False
        self.conflict = False
        self.proposal: Proposed | None = None
        self.errand: Errand | None = None
        self.unit: Unit = "mm"
        self._listeners: list[Listener] = []

    def subscribe(self, listener: Listener) -> Callable[[], None]:
        """Have somebody told what has changed; the function that comes back ends it."""
        self._listeners.append(listener)
        return lambda: self._listeners.remove(listener)

    def _try(self, kind: Kind, work: Callable[[], object]) -> bool:
        """Do something; what it raises becomes trouble, and the session goes on."""
        try:
            work()
        except Exception as error:
            if not isinstance(error, SilhouetteError):
                log.error("a request failed", exc_info=error)
            self._set_trouble(Trouble.of(error, kind))
            return False
        self._forget_trouble("value", "file")
        return True

    def _forget_trouble(self, *kinds: Kind) -> None:
        """There is no trouble of these kinds any longer."""
        if self.trouble is not None and self.trouble.kind in kinds:
            self._set_trouble(None)

    def _set_trouble(self, trouble: Trouble | None) -> None:
        if trouble != self.trouble:
            self.trouble = trouble
            self._tell("trouble")

    def _set_busy(self, busy: bool) -> None:
        if busy != self.busy:
            self.busy = busy
            self._tell("busy")

    def _set_conflict(self, conflict: bool) -> None:
        if conflict != self.conflict:
            self.conflict = conflict
            self._tell("disk")

    def _set_proposal(self, proposal: Proposed | None) -> None:
        if proposal != self.proposal:
            self.proposal = proposal
            self._tell("proposal")

    def _tell(self, event: Event) -> None:
        for listener in tuple(self._listeners):
            listener(event)
