"""Setups in the order of the cuts, with what there is to know at each."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from silhouette3d.base.units import MM3_PER_CM3
from silhouette3d.documents.setup_drawings import SetupFile, setup_file
from silhouette3d.errors import CuttingError
from silhouette3d.geometry.removal import stock_solid
from silhouette3d.geometry.tolerances import LAST_DIGITS
from silhouette3d.job.model import ProfileSpec
from silhouette3d.presentation.turning import Turning
from silhouette3d.process.clamping import DATUM, has_flat_sides, seats
from silhouette3d.process.cut import Cut
from silhouette3d.process.profile import Profile
from silhouette3d.process.stages import Body, Stage, of_note

if TYPE_CHECKING:
    from silhouette3d.model.results import Results


@dataclass(frozen=True, eq=False)
class SheetSetup:
    """The block before one cut, and that cut.

    Parameters
    ----------
    part : Results
        Whose job it is.
    number : int
        1 for the first cut.
    before : SheetSetup, optional
        The one before.
    stage : Stage, optional
        What the cut leads to; None where the cuts cannot be simulated.
    """

    part: Results
    number: int
    before: SheetSetup | None
    stage: Stage | None

    @cached_property
    def profile(self) -> Profile:
        """The outline that is cut."""
        return self.part.profile(self.part.job.order[self.number - 1])

    @property
    def spec(self) -> ProfileSpec:
        """Table of the job file."""
        job = self.part.job
        return job.profile[job.names.index(self.profile.name)]

    @property
    def cut(self) -> Cut | None:
        """The cut, where it can be simulated."""
        return self.stage.cut if self.stage else None

    @cached_property
    def file(self) -> SetupFile | None:
        """The drawing to load, as `setups` writes it, where the cut can be simulated."""
        return setup_file(self.part, self.number) if self.stage else None

    @property
    def count(self) -> int:
        """Setups of the job."""
        return len(self.part.job.order)

    @property
    def is_last(self) -> bool:
        """True if no other follows."""
        return self.number == self.count

    @property
    def turning(self) -> Turning | None:
        """Turning from the setup before."""
        return Turning(self.before.profile.view, self.profile.view) if self.before else None

    @cached_property
    def there(self) -> tuple[Body, ...]:
        """Bodies on the table before the cut: the stock at first."""
        if self.before is None or self.before.stage is None or self.stage is None:
            return (Body(stock_solid(self.part.stock), is_held=True, is_part=True),)
        lifted = set(map(id, self.stage.lifted))
        return tuple(body for body in self.before.stage.bodies if id(body.solid) not in lifted)

    @cached_property
    def height(self) -> float:
        """Height in mm of what is there, from the table up."""
        if self.before is None or self.stage is None:
            return self.profile.face.thickness
        levels = [self.profile.view.to_view(b.solid.mesh.vertices)[:, 2] for b in self.there]
        return float(np.ptp(np.concatenate(levels)))

    @property
    def mass(self) -> float:
        """Mass in g of what is there."""
        volume = sum(body.solid.volume for body in self.there)
        if self.before is None:
            volume = self.part.stock.volume
        return volume * self.part.density / MM3_PER_CM3

    @cached_property
    def freed(self) -> tuple[Body, ...]:
        """Offcuts that this cut makes loose, largest first."""
        return of_note(self.stage.freed) if self.stage else ()

    @cached_property
    def corner(self) -> tuple[str, str]:
        """The two sides of the face that the block is seated by: those of the datum, if they stand.

        Where no corner stands, a finding says so, and the datum's is kept.
        """
        stock, view = self.part.stock, self.profile.view
        if self.before is None or self.before.stage is None or not has_flat_sides(stock, view):
            return DATUM
        standing = seats(self.before.stage.part.solid, stock, view, self.part.job.cutting.seat)
        return standing.corner or DATUM

    @property
    def stands_flat(self) -> bool:
        """True if a flat side of the stock lies on the table."""
        stock, down = self.part.stock, np.asarray(self.profile.view.look)
        normals = np.eye(3)
        if stock.diameter is not None:
            normals = normals["xyz".index(stock.along)][None]
        return bool((np.abs(normals @ down) > 1.0 - LAST_DIGITS).any())


def setups_of(part: Results) -> tuple[tuple[SheetSetup, ...], str]:
    """List the setups of a job, and why the cuts cannot be simulated if they cannot."""
    stages: tuple[Stage | None, ...] = (None,) * len(part.job.order)
    trouble = ""
    try:
        stages = part.stages
    except CuttingError as error:
        trouble = str(error)
    setups: list[SheetSetup] = []
    for number, stage in enumerate(stages, start=1):
        setups.append(SheetSetup(part, number, setups[-1] if setups else None, stage))
    return tuple(setups), trouble
