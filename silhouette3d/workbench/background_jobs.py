"""Background jobs: work done once and on the side, files written, proposals found."""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, Literal

from silhouette3d.base.quantities import mass_text
from silhouette3d.base.units import percent
from silhouette3d.errors import SilhouetteError
from silhouette3d.job.model import Job
from silhouette3d.model.job_values import tab_changes
from silhouette3d.part import Part
from silhouette3d.planning.order import Order
from silhouette3d.planning.tab_search import Proposal
from silhouette3d.presentation.wording import told
from silhouette3d.presentation.wording.cuts import ways_text
from silhouette3d.workbench import edits
from silhouette3d.workbench.lane import Lane, Post
from silhouette3d.workbench.result import Trouble

# --- What is proposed to the designer, who accepts or refuses it


@dataclass(frozen=True)
class OrderProposal:
    """An order of cuts.

    Parameters
    ----------
    job : Job
        For which it was found.
    orders : tuple of Order
        Every order tried, best first.
    """

    job: Job
    orders: tuple[Order, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the profiles, first cut first."""
        return self.orders[0].names

    @property
    def holds(self) -> bool:
        """True if the part is held until the last cut."""
        return self.orders[0].holds

    @property
    def changes_nothing(self) -> bool:
        """True if the job has this order already."""
        return self.names == self.job.order

    @property
    def words(self) -> str:
        """Proposal as a sentence."""
        best, list_of = self.orders[0], ", ".join(self.names)
        if self.changes_nothing:
            return f"The order of this job is the best already: {list_of}."
        says = f"Cut in this order: {list_of}."
        if not self.holds:
            return f"{says} No order holds the part until the last cut; add tabs."
        now = next(one for one in self.orders if one.names == self.job.order)
        if not now.holds:
            return f"{says} It holds the part until the last cut."
        if best.loose != now.loose:
            pieces = f"{best.loose} loose piece{'s' * (best.loose != 1)}"
            return f"{says} It leaves {pieces} before the last cut, not {now.loose}."
        lighter, mass = (mass_text(one.loose_mass, self.job.units) for one in (best, now))
        if lighter != mass:
            return (
                f"{says} The pieces that come loose before the last cut weigh {lighter} in all, "
                f"not {mass}."
            )
        less = percent(1.0 - best.area / now.area, 0)
        return f"{says} It takes {less} less cutting." if best.area < now.area else says

    def applied(self, job: Job) -> Job:
        """Put this order into the job."""
        return edits.order(job, self.names)


@dataclass(frozen=True)
class TabsProposal:
    """Tabs to add.

    Parameters
    ----------
    job : Job
        For which they were found.
    proposal : Proposal
        Places, each with its profile's position, its point and its width in mm.
    replaces : bool
        Whether they take the place of the tabs in the job file.
    wrong : str
        What is still wrong with them, and what else helps, as sentences; empty if nothing is.
    """

    job: Job
    proposal: Proposal
    replaces: bool = False
    wrong: str = ""

    @property
    def holds(self) -> bool:
        """True if the part is then held until the last cut."""
        return self.proposal.holds

    @property
    def changes_nothing(self) -> bool:
        """True if there is nothing to add."""
        return not self.proposal.places

    @property
    def words(self) -> str:
        """Proposal as a sentence."""
        places, more = self.proposal.places, f" {self.wrong}" if self.wrong else ""
        if not places:
            if self.wrong:
                return self.wrong
            return (
                "The part is held until the last cut as it is."
                if self.holds
                else "No places for tabs were found that hold the part."
            )
        names = [self.job.names[place.cut] for place in places]
        count = ", ".join(f"{names.count(name)} on {name}" for name in dict.fromkeys(names))
        if not self.holds:
            more = f" The part is still not held until the last cut.{more}"
        elif not self.proposal.frees:
            more = f" The part is then still joined to waste after the last cut.{more}"
        lead = "Replace the tabs of the job file by" if self.replaces else "Add tabs:"
        return f"{lead} {count}.{more}"

    def applied(self, job: Job) -> Job:
        """Put these tabs into the job."""
        if self.replaces:
            listed = enumerate(job.profile)
            job = job.changed({("profile", i, "tab"): [] for i, spec in listed if spec.tab})
        return job.changed(tab_changes(job, self.proposal.places))


Proposed = OrderProposal | TabsProposal


def order_for(part: Part) -> OrderProposal:
    """Try every order, and propose the best.

    Raises
    ------
    CuttingError
        If there are too many cuts.
    """
    return OrderProposal(part.job, part.order(part.progress))


def tabs_for(part: Part) -> TabsProposal:
    """Find few tabs that make a sound plan, in the place of the job file's where that helps."""
    found = part.tabs()
    wrong = part.with_tabs(found).wrong_plan
    if not wrong:
        return TabsProposal(part.job, found)
    has_tabs = part.without_tabs.job != part.job
    if has_tabs:
        other = part.tabs(replace=True)
        if not part.with_tabs(other, replace=True).wrong_plan:
            return TabsProposal(part.job, other, replaces=True)
    scale = part.scale_in(None)
    helps = ways_text(part.other_order(), part.foot(), part.job.names, scale)
    told_of = "; ".join(told(one, scale).message for one in wrong)
    return TabsProposal(part.job, found, wrong=f"{told_of[:1].upper()}{told_of[1:]}. {helps}")


# --- What is done once and on the side: files written, proposals found


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
    """Ignore what a writer says about what it wrote."""


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
    """State of something on the side.

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
