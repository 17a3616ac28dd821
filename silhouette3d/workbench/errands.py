"""What is done once and on the side: files written, proposals found."""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, Literal

from silhouette3d.errors import SilhouetteError
from silhouette3d.facade import Part
from silhouette3d.workbench.lane import Lane, Post
from silhouette3d.workbench.proposals import Proposed
from silhouette3d.workbench.result import Trouble

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Export:
    """A kind of file.

    Parameters
    ----------
    label : str
        What it is called.
    suffixes : tuple of str
        The formats it can be written in, the usual one first.
    write : callable
        Writes a part into a path.
    """

    label: str
    suffixes: tuple[str, ...]
    write: Callable[[Part, Path], None]


ANY: Final = ""
"""Of a folder: no suffix is asked for."""


def _ignore(_: object) -> None:
    """What a writer says about what it wrote is not needed."""


EXPORTS: Final[Mapping[str, Export]] = {
    "mesh": Export(
        "Mesh of the part", (".stl", ".3mf", ".glb", ".obj", ".ply"), lambda p, f: p.export(f)
    ),
    "picture": Export("Sheet of views", (".png", ".jpg"), lambda p, f: p.picture(f)),
    "stages": Export("Picture of the cuts", (".png", ".jpg"), lambda p, f: p.picture_stages(f)),
    "thin": Export("Picture of thin places", (".png", ".jpg"), lambda p, f: p.picture_thin(f)),
    "sheets": Export("Setup sheets, A4", (".pdf",), lambda p, f: p.sheets(f)),
    "sheets letter": Export(
        "Setup sheets, US Letter", (".pdf",), lambda p, f: p.sheets(f, "letter")
    ),
    "page": Export("Page for the customer", (".html",), lambda p, f: p.page(f, stages=True)),
    "setups": Export("Folder of setup drawings", (ANY,), lambda p, f: _ignore(p.setups(f))),
}
"""By a word of our own for each; a mesh's format is in the name of its file."""


@dataclass(frozen=True)
class Errand:
    """How something on the side gets on.

    Parameters
    ----------
    words : str
        What is done: "writing tug.stl".
    state : {"waiting", "running", "done", "failed"}
        How far it is.
    share : float or None
        Done so far, from 0 to 1; None where that cannot be told.
    path : Path or None
        The file that is or was written.
    trouble : Trouble or None
        Why it failed.
    """

    words: str
    state: Literal["waiting", "running", "done", "failed"] = "waiting"
    share: float | None = None
    path: Path | None = None
    trouble: Trouble | None = None


Tell = Callable[[int, int], None]
"""Told how many steps of how many are done."""

Work = Callable[[Tell], Proposed | None]
"""Does it; gives a proposal if it is to find one."""


class Errands:
    """A thread that does errands one after another.

    Parameters
    ----------
    deliver : callable
        Told how an errand gets on, and what it found, on the thread that `post` leads to.
    post : callable
        Takes a function and has it called there.
    """

    def __init__(self, deliver: Callable[[Errand, Proposed | None], None], post: Post) -> None:
        self._deliver, self._post = deliver, post
        self._ends = False
        self._lane = Lane("workbench errands", newest_only=False)

    def put(self, errand: Errand, work: Work) -> None:
        """Do this after all that waits."""
        self._lane.put(lambda: self._do(errand, work))

    def stop(self) -> None:
        """End after the errand at hand; what waits is dropped."""
        self._ends = True
        self._lane.stop()
        self._lane.join()

    def _do(self, errand: Errand, work: Work) -> None:
        errand = replace(errand, state="running")
        self._tell(errand)
        try:
            found = work(
                lambda done, total: self._tell(
                    replace(errand, share=done / total if total else None)
                )
            )
        except Exception as error:
            if not isinstance(error, SilhouetteError):
                log.error("%s failed", errand.words, exc_info=error)
            self._tell(replace(errand, state="failed", trouble=Trouble.of(error, "file")))
        else:
            self._tell(replace(errand, state="done", share=1.0), found)

    def _tell(self, errand: Errand, found: Proposed | None = None) -> None:
        if not self._ends:
            self._post(lambda: self._deliver(errand, found))
