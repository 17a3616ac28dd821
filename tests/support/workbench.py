"""A small job in a folder, and a loop in one thread: shared by the tests of the workbench."""

from __future__ import annotations

import queue
import time
from collections.abc import Callable
from pathlib import Path

from silhouette3d.job.model import Job
from silhouette3d.workbench import edits
from silhouette3d.workbench.session import Session

DEADLINE = 120.0
"""Seconds after which something that does not come is taken as never coming. No test
passes or fails by how fast it comes."""

JOB = """\
# A bollard for the quay.
name = "Bollard"   # its name

[stock]
size     = [20.0, 20.0, 30.0]   # as sawn
material = "brass C360"

[[profile]]   # the side
view    = "front"
drawing = "front.svg"
datum   = "corner"
shift   = [2.0, 0.0]   # from the left

[[profile]]
view    = "top"
drawing = "top.svg"
datum   = "centre"

[cutting]
kerf  = 0.5
order = ["top", "front"]
"""


def drawing(width: float, height: float) -> str:
    """An SVG drawing of one rectangle, in mm."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}">'
        f'<path d="M0 0H{width}V{height}H0Z" fill="black"/></svg>'
    )


def write_job(folder: Path, text: str = JOB) -> Path:
    """The job with its drawings: a part of 16 x 10 x 30 mm."""
    folder.mkdir(exist_ok=True)
    (folder / "front.svg").write_text(drawing(16, 30))
    (folder / "top.svg").write_text(drawing(20, 10))
    path = folder / "job.toml"
    path.write_bytes(text.encode())
    return path


def kerf(job: Job, /, width: float) -> Job:
    """Edit a job: the width of its cuts."""
    return edits.set_value(job, ("cutting", "kerf"), width)


class Loop:
    """Functions posted from any thread, called on the one that waits."""

    def __init__(self) -> None:
        self._posted: queue.SimpleQueue[Callable[[], None]] = queue.SimpleQueue()

    def post(self, function: Callable[[], None]) -> None:
        self._posted.put(function)

    def until(self, done: Callable[[], object]) -> None:
        """Call what is posted until something is so."""
        end = time.monotonic() + DEADLINE
        while not done():
            try:
                self._posted.get(timeout=max(end - time.monotonic(), 0.0))()
            except queue.Empty:
                raise AssertionError("it did not come") from None

    def waits(self) -> bool:
        """Whether something is posted that was not called yet."""
        return not self._posted.empty()

    def drain(self) -> None:
        """Call what is posted already."""
        while not self._posted.empty():
            self._posted.get()()


def settled(session: Session) -> bool:
    """Whether all is known about the job as it is now."""
    result = session.result
    return result is not None and result.job == session.job and result.step == "all"
