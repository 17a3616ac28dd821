"""The whole way from a job to its part, each result computed once, when first asked for."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import replace
from functools import cached_property, partial
from types import MappingProxyType
from typing import Self

from shapely import MultiPolygon

from silhouette3d.base.materials import Material, find_material
from silhouette3d.base.quantities import Scale, Units
from silhouette3d.base.units import MM3_PER_CM3
from silhouette3d.checks.causes import Acceptance, accepted, one_for_each_cause, unused
from silhouette3d.checks.contradictions import nothing_left, unfilled
from silhouette3d.checks.cuts import Limits, cutting_findings, plan_findings
from silhouette3d.checks.finding import Finding, worst_first
from silhouette3d.checks.fit import SharedAxis, shared_axes
from silhouette3d.checks.gather import Checked, part_findings
from silhouette3d.checks.thin import ThinSection, curves_of, section_finding, thin_sections
from silhouette3d.drawing.cache import Sheet
from silhouette3d.geometry.backend_errors import doing, profile_named
from silhouette3d.geometry.frames import Array
from silhouette3d.geometry.mass import MassProperties
from silhouette3d.geometry.mesh import Indices
from silhouette3d.geometry.necks import Neck
from silhouette3d.geometry.removal import Removal
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stable_poses import Pose, pose_on, poses
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.subtract import carve
from silhouette3d.geometry.thickness.definition import ThinRegion
from silhouette3d.geometry.thickness.regions import thickness_field, thin_regions
from silhouette3d.geometry.true_curves import TrueCurves
from silhouette3d.job.model import Job, KeyPath
from silhouette3d.model.cache import Cache
from silhouette3d.model.job_values import (
    acceptances_of,
    clamps_of,
    limits_of,
    stock_of,
    tab_changes,
    tab_places_of,
)
from silhouette3d.planning.foot import Foot, foot_for
from silhouette3d.planning.order import Order, orders
from silhouette3d.planning.tab_search import Proposal, propose
from silhouette3d.presentation.wording import told
from silhouette3d.presentation.wording.misfits import misfits_in_words
from silhouette3d.presentation.wording.part import empty_part
from silhouette3d.presentation.wording.words import COMPILING, Told
from silhouette3d.process.clamping import refuse_stray_clamps
from silhouette3d.process.cut import Cut, removal_around, removal_of
from silhouette3d.process.leads import Driving
from silhouette3d.process.profile import Profile
from silhouette3d.process.stages import CutSimulation, Stage
from silhouette3d.process.tab_remnants import joins
from silhouette3d.process.tabs import TabPlace, with_tabs


class Results:
    """All that follows from a job: the part, what is found about it, and how it is cut.

    Parameters
    ----------
    job : Job
        As read by `read_job`. Drawings are read when something is asked for.
    given : mapping, optional
        Drawings that are in memory, by the profile's name.
    """

    def __init__(self, job: Job, given: Mapping[str, Sheet] = MappingProxyType({})) -> None:
        self.job = job
        self._given = given
        self._cache = Cache()
        self.say: Callable[[str], None] = lambda words: None
        self.progress: Callable[[int, int], None] = lambda done, total: None
        """Told in words what takes long, and how much of it is done; for who wants to listen."""

    def again(self, job: Job) -> Self:
        """Find the results of another job, sharing with these what is the same in both.

        Drawings whose files have not changed are not read again, profiles that lie as they
        did are not placed again, and where one profile has moved only that is carved.
        For the same job with the same drawings all that is worked out is shared.
        """
        other = type(self)(job, self._given)
        other._cache = self._cache
        if job == self.job and "profiles" in vars(self) and other.profiles == self.profiles:
            vars(other).update(vars(self).copy() | vars(other))
        return other

    @doing("carving")
    def prepare_moves(self) -> None:
        """Work out what the next move of any one profile needs, so that `again` is quick."""
        for i in range(len(self.profiles)):
            self.progress(i, len(self.profiles))
            self._cache.rest(self.stock, self.profiles, i)

    @property
    def where(self) -> str:
        """File of the job, for messages."""
        return str(self.job.path or "job")

    @property
    def name(self) -> str:
        """Name from the job."""
        return self.job.name

    @cached_property
    def stock(self) -> Stock:
        """The piece before cutting."""
        return stock_of(self.job.stock, self.job.tolerance)

    @cached_property
    def material(self) -> Material | None:
        """Material from the table, if the job names one.

        Raises
        ------
        JobError
            If there is no such material.
        """
        name = self.job.stock.material
        if name is None or self.job.stock.density is not None:
            return None
        return find_material(name)

    @property
    def density(self) -> float:
        """Density in g/cm³: the job's own, or the material's."""
        if self.job.stock.density is not None:
            return self.job.stock.density
        assert self.material is not None  # the job has one or the other
        return self.material.density_g_cm3

    @cached_property
    @doing("placing")
    def profiles(self) -> tuple[Profile, ...]:
        """Every outline, read and placed, as the job lists them.

        Raises
        ------
        DrawingError
            If a drawing cannot be read or has no outline where the job says.
        """
        return self._cache.profiles(self.job, self.stock, self._given)

    @doing("placing")
    def profile(self, name: str) -> Profile:
        """Read one of the profiles; the drawings of the others need not be sound.

        Raises
        ------
        KeyError
            If there is none of that name.
        DrawingError
            If its drawing cannot be read or has no outline where the job says.
        """
        i = {own: i for i, own in enumerate(self.job.names)}[name]
        if "profiles" in vars(self):
            return self.profiles[i]
        return self._cache.profile(self.job, self.stock, self._given, i)

    @cached_property
    @doing("carving")
    def solid(self) -> Solid:
        """The finished part: what lies inside every outline and the stock.

        Raises
        ------
        EmptyPartError
            If that is nothing; says which outlines exclude one another.
        """
        solid = self._cache.solid(self.stock, self.profiles)
        if not solid.bodies:
            why = nothing_left(
                self.profiles,
                self.stock,
                self.shared_axes,
                lambda some: not self._carved(some).bodies,
                self.job.checks.match,
            )
            raise empty_part(why, self.scale, self.where)
        return solid

    @property
    def scale(self) -> Scale:
        """Scale by which quantities are told: in the job's unit."""
        return Scale(self.job.units)

    def scale_in(self, units: Units | None) -> Scale:
        """Choose how quantities are told: as asked for, or in the job's unit."""
        return Scale.asked(self.job.units, units)

    def _carved(self, profiles: Sequence[Profile]) -> Solid:
        return carve(self.stock, [removal_of(p, self.stock) for p in profiles])

    @cached_property
    @doing("cutting")
    def cuts(self) -> tuple[Cut, ...]:
        """The cut of each profile with its tabs, as the job lists them.

        Raises
        ------
        CuttingError
            If a tab touches no outline, or a clamp nothing of the stock's face.
        """
        cutting = self.job.cutting
        for profile, clamp in zip(self.profiles, clamps_of(self.job), strict=True):
            with self._misfits(profile.name):
                refuse_stray_clamps(clamp, profile.face)
        return tuple(
            self._cache.cuts.get(
                (
                    profile,
                    self.stock,
                    self.job.tolerance,
                    cutting.kerf,
                    cutting.tab_width,
                    tabs,
                ),
                partial(self._cut_of, profile, tabs),
            )
            for profile, tabs in zip(
                self.profiles, map(tab_places_of, self.job.profile), strict=True
            )
        )

    def _cut_of(self, profile: Profile, tabs: tuple[TabPlace, ...]) -> Cut:
        cutting, tolerance = self.job.cutting, self.job.tolerance
        bare = Cut(profile, self.stock, cutting.kerf, tolerance)
        with profile_named(profile.name), self._misfits(profile.name):
            return with_tabs(bare, tabs, cutting.tab_width)

    def _misfits(self, name: str) -> AbstractContextManager[None]:
        """Word what does not fit in a profile's cut."""
        return misfits_in_words(self.job.units, f"{self.where}, profile {name!r}")

    @cached_property
    @doing("cutting")
    def as_cut(self) -> Solid:
        """The part as the cutter leaves it, with what stays in its inside corners."""
        return carve(self.stock, [self._waste_as_cut(cut) for cut in self.cuts])

    def _waste_as_cut(self, cut: Cut) -> Removal:
        with profile_named(cut.name):
            return removal_around(cut.as_cut, cut.profile, self.stock)

    @cached_property
    @doing("cutting")
    def cutting(self) -> CutSimulation:
        """The cuts, and what any sequence of them leads to."""
        clamps = clamps_of(self.job)
        key = (self.stock, self.cuts, clamps, self.solid)
        return self._cache.cuttings.get(key, lambda: self._cutting_with(self.cuts))

    def _cutting_with(self, cuts: Sequence[Cut]) -> CutSimulation:
        return CutSimulation(self.stock, cuts, clamps_of(self.job), self.solid)

    @cached_property
    def order_of_cuts(self) -> tuple[int, ...]:
        """Indices of the profiles in the order in which the job cuts them."""
        return tuple(self.job.names.index(name) for name in self.job.order)

    @cached_property
    @doing("cutting")
    def stages(self) -> tuple[Stage, ...]:
        """The block after every cut, in the job's order."""
        settings = self.job.cutting
        return self.cutting.stages(
            self.order_of_cuts,
            clear_offcuts=settings.clear_offcuts,
            driving=Driving(
                settings.air,
                settings.lead,
                settings.pierce,
                settings.side,
                settings.head,
                settings.jaw,
            ),
            progress=self.progress,
        )

    @cached_property
    @doing("cutting")
    def comes_free(self) -> bool:
        """True if nothing joins the part to waste after the last cut."""
        return not joins(self.stages[-1], self.cuts)

    @doing("cutting")
    def order(
        self, progress: Callable[[int, int], None] = lambda done, total: None
    ) -> tuple[Order, ...]:
        """Try every order of the cuts, best first."""
        clear = self.job.cutting.clear_offcuts
        with misfits_in_words(self.job.units, ""):
            return orders(self.cutting, self.density, clear_offcuts=clear, progress=progress)

    @doing("cutting")
    def tabs(self, *, replace: bool = False) -> Proposal:
        """Find tabs to add so that the part is held until the last cut; none if it is.

        Parameters
        ----------
        replace : bool
            Whether they take the place of those in the job file; those in drawings stay.
        """
        bare = self.without_tabs if replace else self
        settings = self.job.cutting
        with misfits_in_words(self.job.units, ""):
            return propose(
                bare.cutting,
                bare.order_of_cuts,
                width=settings.tab_width,
                tab_area=settings.tab_area,
                clear_offcuts=settings.clear_offcuts,
            )

    @property
    def without_tabs(self) -> Self:
        """Results of the job without the tabs of the job file."""
        listed = enumerate(self.job.profile)
        none: dict[KeyPath, object] = {("profile", i, "tab"): [] for i, spec in listed if spec.tab}
        return self.again(self.job.changed(none)) if none else self

    def with_tabs(self, found: Proposal, *, replace: bool = False) -> Self:
        """Find those of the job with tabs added, or in the place of those in the job file."""
        bare = self.without_tabs if replace else self
        return bare.again(bare.job.changed(tab_changes(bare.job, found.places)))

    @doing("cutting")
    def other_order(self) -> tuple[str, ...] | None:
        """Find an order with another last cut in which tabs of their own make a sound plan.

        It is found by doing it; the latest of the other cuts is tried as the last first.
        """
        bare, order = self.without_tabs, self.job.order
        for last in reversed(order[:-1]):
            names = [*(name for name in order if name != last), last]
            tried = bare.again(bare.job.changed({("cutting", "order"): names}))
            if not tried.with_tabs(tried.tabs()).wrong_plan:
                return tuple(names)
        return None

    @doing("cutting")
    def foot(self) -> Foot | None:
        """Find a foot to hold the part by until the last cut parts it off, without tabs."""
        clear = self.job.cutting.clear_offcuts
        return foot_for(self.cutting, self.order_of_cuts, self._limits, clear_offcuts=clear)

    @cached_property
    @doing("cutting")
    def wrong_plan(self) -> tuple[Finding, ...]:
        """Findings to mend in how the part is held and comes free, as among `findings`."""
        found = plan_findings(self.cutting, self.order_of_cuts, self.stages, self._limits)
        told = accepted(found, self._accepts)
        return worst_first(one_for_each_cause([one for one in told if one.is_to_mend]))

    @cached_property
    @doing("checking")
    def shared_axes(self) -> tuple[SharedAxis, ...]:
        """Directions that several profiles see in true length."""
        return shared_axes(self.profiles, self.stock)

    @cached_property
    @doing("measuring")
    def measures(self) -> MassProperties:
        """Volume, mass, centre of mass and inertia."""
        return MassProperties(self.solid, self.density, self.volume_error)

    @property
    @doing("measuring")
    def volume_error(self) -> float:
        """Bound in mm³ on how far the volume may be off because curves were flattened.

        For each outline the area between its curves and their chords, times the
        depth of the stock along its view; and the same for a round stock. Where the solid
        could not be made exactly, also its surface times how far that may be off.
        """
        flattened = (p.outline.area_error * p.face.thickness for p in self.profiles)
        perturbed = self.solid.perturbed_by * self.solid.surface_area
        return sum(flattened) + self.stock.volume_error + perturbed

    @property
    def mass(self) -> float:
        """Mass in g."""
        return self.measures.mass

    @property
    def stock_mass(self) -> float:
        """Mass of the stock in g."""
        return self.stock.volume * self.density / MM3_PER_CM3

    @property
    @doing("measuring")
    def share_removed(self) -> float:
        """Volume cut away, as a share of the stock's; nothing cut is exactly 0."""
        return 1.0 - self.solid.volume / (self.stock.volume - self.stock.volume_error)

    @cached_property
    @doing("measuring")
    def standing(self) -> Pose | None:
        """Pose in which the part stands most stably; it says by how much it can be tilted.

        None if it is in several bodies, which do not stand as one.
        """
        return next(iter(poses(self.solid))) if len(self.solid.bodies) == 1 else None

    @cached_property
    @doing("measuring")
    def lying(self) -> Pose | None:
        """The part as it lies in the block; its tipping angle is 0 if it does not stand so.

        None if it is in several bodies.
        """
        return pose_on(self.solid) if len(self.solid.bodies) == 1 else None

    @doing("checking")
    def shadow(self, name: str) -> MultiPolygon:
        """Project the part along a profile's view, into face coordinates in mm."""
        profile, solid = self.profile(name), self.solid
        with profile_named(name):
            return self._cache.shadow(profile, solid)

    @doing("checking")
    def lost(self, name: str) -> MultiPolygon:
        """Find the area of an outline, in face coordinates, that the part's shadow leaves empty."""
        profile, shadow = self.profile(name), self.shadow(name)
        with profile_named(name):
            return unfilled(profile, shadow)

    @cached_property
    @doing("measuring")
    def thin(self) -> tuple[ThinSection, ...]:
        """Places of the part that are thinner than the job's limit, thinnest first."""
        key = (self.solid, self.job.checks.thin, self.profiles, self.job.tolerance)
        regions = self._cache.thin.get(key, lambda: self._thin_of(self.solid))
        return thin_sections(regions, self.profiles)

    @cached_property
    def _curves(self) -> TrueCurves:
        """Curves of the outlines and the stock."""
        return curves_of(self.profiles, self.stock, self.job.tolerance)

    @cached_property
    @doing("measuring")
    def thin_while_held(self) -> tuple[tuple[Stage, ThinRegion | None], ...]:
        """Each stage before the last, and the thinnest section of the body with the part in it."""
        early = self.stages[:-1]
        return tuple((s, next(iter(self._thin_of(s.part.solid)), None)) for s in early)

    def _thin_of(self, solid: Solid) -> tuple[ThinRegion, ...]:
        limit = self.job.checks.thin
        return thin_regions(
            solid, limit, self._curves, progress=self.progress, compiling=self._say_compiling
        )

    def _say_compiling(self) -> None:
        self.say(COMPILING)

    @cached_property
    @doing("measuring")
    def thickness_field(self) -> tuple[Array, Indices, Array]:
        """Points (n, 3) on the surface, the triangle of each, and its thickness in mm.

        Thicknesses are capped at the job's limit.
        """
        limit = self.job.checks.thin
        return thickness_field(
            self.solid, limit, self._curves, progress=self.progress, compiling=self._say_compiling
        )

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """Findings before any cutting, one for each cause, errors first."""
        return worst_first(one_for_each_cause(self.every_finding))

    @cached_property
    def findings_of_part(self) -> tuple[Finding, ...]:
        """Findings that need no cutting on trial, one for each cause, errors first."""
        return worst_first(one_for_each_cause(accepted(self._of_part, self._accepts)))

    @cached_property
    @doing("checking")
    def every_finding(self) -> tuple[Finding, ...]:
        """Each finding by itself, errors first."""
        of_cuts = cutting_findings(
            self.cutting, self.order_of_cuts, self.stages, self.as_cut, self._limits
        )
        found = [*self._of_part, *of_cuts]
        found += unused(found, self._accepts)
        return worst_first(accepted(found, self._accepts))

    @doing("checking")
    def accepts(self, section: ThinSection) -> bool:
        """Tell whether the job accepts a thin place, as such or as a neck of an outline."""
        thin = section_finding(section, self.job.checks.thin)
        neck = replace(thin, code="thin-in-view")
        return any(a.covers(one) for a in self._accepts for one in (thin, neck))

    @property
    def _accepts(self) -> tuple[Acceptance, ...]:
        return acceptances_of(self.job)

    @cached_property
    @doing("checking")
    def _of_part(self) -> tuple[Finding, ...]:
        limits = self.job.checks
        everything = Checked(
            self.stock,
            self.density,
            self.profiles,
            self.shared_axes,
            self.solid,
            self.thin,
            {profile.name: self._necks_of(profile) for profile in self.profiles},
            self._cache.contacts(self.solid),
            limits.thin,
            limits.match,
        )
        return tuple(part_findings(everything))

    def _necks_of(self, profile: Profile) -> tuple[Neck, ...]:
        limit, tolerance = self.job.checks.thin, self.job.tolerance
        return self._cache.necks(profile, self.stock, limit, tolerance)

    def told(self, finding: Finding, scale: Scale | None = None) -> Told:
        """Word a finding: a message and advice, in the job's unit or on another scale."""
        return told(finding, scale or self.scale)

    @property
    def _limits(self) -> Limits:
        return limits_of(self.job, self.density)
