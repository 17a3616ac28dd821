"""What is proposed to the designer, who accepts or refuses it."""

from __future__ import annotations

from dataclasses import dataclass

from silhouette3d.cutting.order import Order
from silhouette3d.cutting.propose import Proposal, tab_changes
from silhouette3d.facade import Part
from silhouette3d.job import Job
from silhouette3d.number import percent
from silhouette3d.quantity import mass_text
from silhouette3d.wording import told
from silhouette3d.wording.ways import ways_text
from silhouette3d.workbench import edits


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
        """Of the profiles, first cut first."""
        return self.orders[0].names

    @property
    def holds(self) -> bool:
        """Whether the part is held until the last cut."""
        return self.orders[0].holds

    @property
    def changes_nothing(self) -> bool:
        """Whether the job has this order already."""
        return self.names == self.job.order

    @property
    def words(self) -> str:
        """What it is, as a sentence."""
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
        """The job with this order."""
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
        """Whether the part is then held until the last cut."""
        return self.proposal.holds

    @property
    def changes_nothing(self) -> bool:
        """Whether there is nothing to add."""
        return not self.proposal.places

    @property
    def words(self) -> str:
        """What it is, as a sentence."""
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
        """The job with these tabs."""
        if self.replaces:
            listed = enumerate(job.profile)
            job = job.changed({("profile", i, "tab"): [] for i, spec in listed if spec.tab})
        return job.changed(tab_changes(job, self.proposal.places))


Proposed = OrderProposal | TabsProposal


def order_for(part: Part) -> OrderProposal:
    """Every order tried, the best proposed.

    Raises
    ------
    CuttingError
        If there are too many cuts.
    """
    return OrderProposal(part.job, part.order(part.progress))


def tabs_for(part: Part) -> TabsProposal:
    """Few tabs that make a sound plan; in the place of those of the job file where that helps."""
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
