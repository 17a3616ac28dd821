"""Hold values that pages show, and tell listeners of changes.

Invariant: every change of a value is told once, after it was made, and nothing is told
that did not change; except results and errands, which are told each time they are set.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Literal

from silhouette3d.base.units import Unit
from silhouette3d.errors import SilhouetteError
from silhouette3d.workbench.background_jobs import Errand, Proposed
from silhouette3d.workbench.result import Kind, Result, Trouble

log = logging.getLogger(__name__)

Event = Literal["job", "folder", "unit", "result", "trouble", "busy", "disk", "proposal", "errand"]
"""What has changed, told to listeners:

``job``
    the job, what can be undone, or whether it is saved;
``folder``
    where the job's files lie;
``unit``
    in which sizes and masses are shown;
``result``
    a newer or fuller result, or there is none any longer;
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


class Shown:
    """Values that a page shows.

    Attributes
    ----------
    result : Result or None
        The last good one of the job; it stays on screen while there is trouble.
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

    def attempt(self, kind: Kind, work: Callable[[], object]) -> bool:
        """Do something; turn what it raises into trouble, so that the session goes on."""
        try:
            work()
        except Exception as error:
            if not isinstance(error, SilhouetteError):
                log.error("a request failed", exc_info=error)
            self.set_trouble(Trouble.of(error, kind))
            return False
        self.forget_trouble("value", "file")
        return True

    def set_result(self, result: Result | None) -> None:
        """Show a newer or fuller result, or with None that there is none any longer."""
        self.result = result
        self.tell("result")

    def set_errand(self, errand: Errand) -> None:
        """Show how an export or a search gets on."""
        self.errand = errand
        self.tell("errand")

    def forget_trouble(self, *kinds: Kind) -> None:
        """End trouble of these kinds."""
        if self.trouble is not None and self.trouble.kind in kinds:
            self.set_trouble(None)

    def set_trouble(self, trouble: Trouble | None) -> None:
        """Show trouble, or with None that there is none any longer."""
        if trouble != self.trouble:
            self.trouble = trouble
            self.tell("trouble")

    def set_busy(self, busy: bool) -> None:
        """Show whether a result takes longer than a moment."""
        if busy != self.busy:
            self.busy = busy
            self.tell("busy")

    def set_conflict(self, conflict: bool) -> None:
        """Show whether file and unsaved edits contradict each other."""
        if conflict != self.conflict:
            self.conflict = conflict
            self.tell("disk")

    def set_proposal(self, proposal: Proposed | None) -> None:
        """Show a proposal, or with None that there is none any longer."""
        if proposal != self.proposal:
            self.proposal = proposal
            self.tell("proposal")

    def set_unit(self, unit: Unit) -> None:
        """Show sizes and masses in this unit."""
        if unit != self.unit:
            self.unit = unit
            self.tell("unit")

    def tell(self, event: Event) -> None:
        """Tell every listener what has changed."""
        for listener in tuple(self._listeners):
            listener(event)
