"""Values kept from one job to the next, so that an edit costs only what it changes."""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Final, Generic, TypeVar

from shapely import MultiPolygon

from silhouette3d.checks.contradictions import face_shadow
from silhouette3d.checks.thin import necks_of
from silhouette3d.drawing.cache import Sheet, Shelf
from silhouette3d.errors import DrawingError
from silhouette3d.geometry.backend_errors import profile_named
from silhouette3d.geometry.contact import Contact, contacts
from silhouette3d.geometry.misfit import MisfitError
from silhouette3d.geometry.necks import Neck
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.subtract import Carving
from silhouette3d.geometry.thickness.definition import ThinRegion
from silhouette3d.job.model import Job
from silhouette3d.model.job_values import placement_of
from silhouette3d.presentation.wording.misfits import assumed_in_words, misfit_in_words
from silhouette3d.process.cut import Cut, removal_of
from silhouette3d.process.profile import Placement, Profile, place
from silhouette3d.process.stages import CutSimulation

V = TypeVar("V")

MOST: Final = 60
"""Values of a kind that are kept; the one that was made first goes first."""


class Memo(Generic[V]):
    """Values by what they were made from."""

    def __init__(self, most: int = MOST) -> None:
        self._most = most
        self._values: dict[Hashable, V] = {}
        self._lock = threading.Lock()

    def get(self, key: Hashable, make: Callable[[], V]) -> V:
        """Get the value of a key, made if it is not there."""
        with self._lock:
            if key in self._values:
                return self._values[key]
        value = make()
        with self._lock:
            self._values[key] = value
            while len(self._values) > self._most:
                del self._values[next(iter(self._values))]
        return value


def _placed(sheet: Sheet, how: Placement, tolerance: float, stock: Stock, match: float) -> Profile:
    """Place an outline, what was taken for granted noted on it in words."""
    profile = place(sheet, how, tolerance, stock, match)
    notes = (*profile.outline.notes, *assumed_in_words(profile))
    return replace(profile, outline=replace(profile.outline, notes=notes))


class Cache:
    """Drawings, placed profiles, solids and cuts that several jobs share.

    Attributes
    ----------
    thin : Memo
        Thin regions, by solid and limit.
    cuts : Memo
        Cuts with their tabs, by all they are made from.
    cuttings : Memo
        What sequences of cuts lead to, by the cuts, the clamps and the part.
    """

    def __init__(self) -> None:
        self._shelf = Shelf()
        self._profiles: Memo[Profile] = Memo()
        self._solids: Memo[Solid] = Memo(8)
        self._rests: Memo[Carving] = Memo(8)
        self._shadows: Memo[MultiPolygon] = Memo()
        self._necks: Memo[tuple[Neck, ...]] = Memo()
        self._contacts: Memo[tuple[Contact, ...]] = Memo(8)
        self.thin: Memo[tuple[ThinRegion, ...]] = Memo(8)
        self.cuts: Memo[Cut] = Memo()
        self.cuttings: Memo[CutSimulation] = Memo(4)
        self._before: tuple[Profile, ...] = ()

    def profiles(self, job: Job, stock: Stock, given: Mapping[str, Sheet]) -> tuple[Profile, ...]:
        """Read and place every profile of a job, in the order of the job file.

        A profile that lies as it did is the same object.

        Parameters
        ----------
        job : Job
            What is declared.
        stock : Stock
            On which.
        given : mapping
            Drawings that are in memory, by the profile's name; the others are read.

        Raises
        ------
        DrawingError
            If a drawing cannot be read or has no outline where the job says.
        """
        return tuple(self.profile(job, stock, given, i) for i in range(len(job.profile)))

    def profile(self, job: Job, stock: Stock, given: Mapping[str, Sheet], i: int) -> Profile:
        """Read and place one of them, whatever the drawings of the others are like."""
        spec, name = job.profile[i], job.names[i]
        drawing = job.folder / spec.drawing
        try:
            sheet = given.get(name) or self._shelf.sheet(
                drawing,
                tolerance=job.tolerance / spec.scale,
                unit=spec.units,
                default=job.units,
            )
            how = (sheet, placement_of(spec, name), job.tolerance, stock, job.checks.match)
            with profile_named(name):
                return self._profiles.get(how, partial(_placed, *how))
        except DrawingError as error:
            raise error.of(name) from None
        except MisfitError as error:
            told = misfit_in_words(error, job.units, f"{drawing} (profile {name!r})")
            if isinstance(told, DrawingError):
                told.profile = name
            raise told from None

    def shadow(self, profile: Profile, solid: Solid) -> MultiPolygon:
        """Project a solid along a profile's view, into face coordinates in mm."""
        return self._shadows.get((profile, solid), lambda: face_shadow(profile, solid))

    def necks(
        self, profile: Profile, stock: Stock, limit: float, tolerance: float
    ) -> tuple[Neck, ...]:
        """Find where an outline is thin in its own plane, as `necks_of` says."""
        asked = (profile, stock, limit, tolerance)
        return self._necks.get(asked, partial(necks_of, *asked))

    def contacts(self, solid: Solid) -> tuple[Contact, ...]:
        """Find where bodies of a solid touch."""
        return self._contacts.get(solid, lambda: contacts(solid.bodies))

    def solid(self, stock: Stock, profiles: Sequence[Profile]) -> Solid:
        """Subtract from the stock all that lies outside the profiles.

        If all of them but one are those of the solid made before, the solid without that one
        is kept, so that the next place of it costs one subtraction.
        """
        before, self._before = self._before, tuple(profiles)
        new = [i for i, profile in enumerate(profiles) if profile not in before]
        if len(new) == 1 and len(profiles) == len(before):
            return self.solid_moving(stock, profiles, new[0])
        return self._solids.get((stock, tuple(profiles)), lambda: self._all_of(stock, profiles))

    def solid_moving(self, stock: Stock, profiles: Sequence[Profile], i: int) -> Solid:
        """Subtract profile `i` last, from what is kept of the others."""

        def make() -> Solid:
            rest = self.rest(stock, profiles, i)
            carving = rest.again([*rest.removals, removal_of(profiles[i], stock)])
            return carving.less(range(len(profiles)))

        return self._solids.get((stock, tuple(profiles)), make)

    def rest(self, stock: Stock, profiles: Sequence[Profile], i: int) -> Carving:
        """Carve the stock by all profiles but `i`."""
        others = (*profiles[:i], *profiles[i + 1 :])

        def make() -> Carving:
            carving = Carving(stock, [removal_of(p, stock) for p in others])
            carving.less(range(len(others)))
            return carving

        return self._rests.get((stock, others), make)

    def _all_of(self, stock: Stock, profiles: Sequence[Profile]) -> Solid:
        removals = [removal_of(profile, stock) for profile in profiles]
        return Carving(stock, removals).less(range(len(removals)))
