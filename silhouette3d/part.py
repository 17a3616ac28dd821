"""The part with its pictures and files: what Python users, command line and workbench talk to.

What is worked out about it are `Results`, which pictures and files take; a `Part` has them,
answers the same questions, and writes the files.
"""

from __future__ import annotations

import copy
import os
from collections.abc import Callable, Mapping, Sequence
from functools import wraps
from pathlib import Path
from types import MappingProxyType
from typing import Concatenate, Generic, ParamSpec, Self, TypeVar, overload

from shapely.geometry.base import BaseGeometry

from silhouette3d.base.extras import need
from silhouette3d.base.quantities import Units, density_text
from silhouette3d.drawing.cache import Sheet
from silhouette3d.drawing.outline.outline import Outline
from silhouette3d.errors import JobError, OutputError
from silhouette3d.geometry.backend_errors import doing
from silhouette3d.geometry.frames import View
from silhouette3d.geometry.stock import Bar, Block
from silhouette3d.job.model import Accept, Checks, Cutting, Job, read_job
from silhouette3d.model.in_memory import Setup, declared
from silhouette3d.model.results import Results
from silhouette3d.planning.tab_search import Proposal
from silhouette3d.presentation.wording.backend_errors import told_in_words

Cuttable = BaseGeometry | Outline | Setup

P = ParamSpec("P")
R = TypeVar("R")
S = TypeVar("S", bound="Part")
T = TypeVar("T")


class Answer(Generic[T]):
    """Ask a part what is asked of its results.

    Parameters
    ----------
    ask : callable
        Looks it up there, under the name that it has in the part.
    """

    def __init__(self, ask: Callable[[Results], T]) -> None:
        self._ask = ask

    def __set_name__(self, owner: type[Part], name: str) -> None:
        self.__doc__ = getattr(Results, name).__doc__

    @overload
    def __get__(self, part: None, owner: type[Part]) -> Self: ...
    @overload
    def __get__(self, part: Part, owner: type[Part]) -> T: ...
    def __get__(self, part: Part | None, owner: type[Part]) -> Self | T:
        if part is None:
            return self
        with told_in_words(part.results.where):
            return self._ask(part.results)


def asked(
    query: Callable[Concatenate[Results, P], R],
) -> Callable[Concatenate[Part, P], R]:
    """Have a part asked what a method of its results answers."""

    @wraps(query)
    def of_part(part: Part, /, *given: P.args, **named: P.kwargs) -> R:
        with told_in_words(part.results.where):
            return query(part.results, *given, **named)

    return of_part


def writing(method: Callable[Concatenate[S, P], R]) -> Callable[Concatenate[S, P], R]:
    """Have a method of a part tell in words what a library gives up on while drawing."""

    @wraps(method)
    def of_part(part: S, /, *given: P.args, **named: P.kwargs) -> R:
        with told_in_words(part.results.where), doing("drawing"):
            return method(part, *given, **named)

    return of_part


class Part:
    """A part: what a job makes, with its pictures and files.

    Parameters
    ----------
    job : Job
        As read by `read_job`. Drawings are read when something is asked for.
    given : mapping, optional
        Drawings that are in memory, by the profile's name.

    Attributes
    ----------
    results : Results
        All that is worked out about it, each once, when first asked for.
    """

    def __init__(self, job: Job, given: Mapping[str, Sheet] = MappingProxyType({})) -> None:
        self.results = Results(job, given)

    @classmethod
    def from_outlines(
        cls,
        stock: Block | Bar,
        outlines: Mapping[str | View, Cuttable] | None = None,
        /,
        *,
        front: Cuttable | None = None,
        rear: Cuttable | None = None,
        left: Cuttable | None = None,
        right: Cuttable | None = None,
        top: Cuttable | None = None,
        bottom: Cuttable | None = None,
        name: str = "part",
        tolerance: float = 0.01,
        cutting: Cutting | None = None,
        checks: Checks | None = None,
        accept: Sequence[Accept] = (),
    ) -> Self:
        """Make a part from outlines in memory, without a job file or drawings.

        Parameters
        ----------
        stock : Block or Bar
            The piece before cutting.
        outlines : mapping, optional
            By view: one of the six names, or a `View` of your own.
        front, rear, left, right, top, bottom : shapely geometry, Outline or Setup
            A polygon in face coordinates: mm, right and up from the lower left corner of
            the stock's face in that view; or a `Setup` with its tabs and clamps.
        name : str
            Of the part.
        tolerance : float
            Largest gap between a disc of the cutter and its polygon, in mm.
        cutting : Cutting, optional
            How the cuts are made: kerf, order, tab width and more, in mm.
        checks : Checks, optional
            Limits of the checks, in mm.
        accept : sequence of Accept
            Findings that are as they should be, each with its reason.

        Raises
        ------
        JobError
            If something is declared that cannot be.
        DrawingError
            If an outline is no polygon.

        Examples
        --------
        >>> from shapely import Point, box
        >>> block = Block(60, 60, 40, material="brass C360")
        >>> knob = Part.from_outlines(block, front=box(10, 0, 50, 30), top=Point(30, 30).buffer(25))
        >>> round(knob.mass), len(knob.solid.bodies)
        (448, 1)
        """
        named = {"front": front, "rear": rear, "left": left}
        named |= {"right": right, "top": top, "bottom": bottom}
        every: dict[str | View, Cuttable] = dict(outlines or {})
        for view, outline in named.items():
            if outline is not None and view in every:
                raise JobError(f"there are two outlines for the view {view!r}", todo="give one")
        every |= {view: outline for view, outline in named.items() if outline is not None}
        setups = {v: o if isinstance(o, Setup) else Setup(o) for v, o in every.items()}
        return cls(
            *declared(
                stock,
                setups,
                name=name,
                tolerance=tolerance,
                cutting=cutting,
                checks=checks,
                accept=accept,
            )
        )

    @property
    def job(self) -> Job:
        """Job that declares the part."""
        return self.results.job

    name = Answer(lambda of: of.name)
    stock = Answer(lambda of: of.stock)
    stock_mass = Answer(lambda of: of.stock_mass)
    material = Answer(lambda of: of.material)
    density = Answer(lambda of: of.density)
    profiles = Answer(lambda of: of.profiles)
    profile = asked(Results.profile)
    solid = Answer(lambda of: of.solid)
    measures = Answer(lambda of: of.measures)
    mass = Answer(lambda of: of.mass)
    volume_error = Answer(lambda of: of.volume_error)
    share_removed = Answer(lambda of: of.share_removed)
    standing = Answer(lambda of: of.standing)
    lying = Answer(lambda of: of.lying)
    shared_axes = Answer(lambda of: of.shared_axes)
    shadow = asked(Results.shadow)
    lost = asked(Results.lost)
    thin = Answer(lambda of: of.thin)
    thin_while_held = Answer(lambda of: of.thin_while_held)
    thickness_field = Answer(lambda of: of.thickness_field)
    cuts = Answer(lambda of: of.cuts)
    as_cut = Answer(lambda of: of.as_cut)
    cutting = Answer(lambda of: of.cutting)
    order_of_cuts = Answer(lambda of: of.order_of_cuts)
    stages = Answer(lambda of: of.stages)
    comes_free = Answer(lambda of: of.comes_free)
    order = asked(Results.order)
    other_order = asked(Results.other_order)
    tabs = asked(Results.tabs)
    foot = asked(Results.foot)
    wrong_plan = Answer(lambda of: of.wrong_plan)
    findings = Answer(lambda of: of.findings)
    findings_of_part = Answer(lambda of: of.findings_of_part)
    every_finding = Answer(lambda of: of.every_finding)
    accepts = asked(Results.accepts)
    told = asked(Results.told)
    scale = Answer(lambda of: of.scale)
    scale_in = asked(Results.scale_in)
    prepare_moves = asked(Results.prepare_moves)

    @property
    def say(self) -> Callable[[str], None]:
        """Told in words what takes long, for who wants to listen."""
        return self.results.say

    @say.setter
    def say(self, listener: Callable[[str], None]) -> None:
        self.results.say = listener

    @property
    def progress(self) -> Callable[[int, int], None]:
        """Told how much of what takes long is done, for who wants to listen."""
        return self.results.progress

    @progress.setter
    def progress(self, listener: Callable[[int, int], None]) -> None:
        self.results.progress = listener

    def again(self, job: Job) -> Self:
        """Make the part of another job, sharing with this one what is equal in both.

        Drawings whose files have not changed are not read again, profiles that lie as they
        did are not placed again, and where one profile has moved only that is carved.
        For the same job with the same drawings all that is worked out is shared.
        """
        with told_in_words(self.results.where):
            return self._of(self.results.again(job))

    @property
    def without_tabs(self) -> Self:
        """The part of a job without the tabs of the job file."""
        return self._of(self.results.without_tabs)

    def with_tabs(self, found: Proposal, *, replace: bool = False) -> Self:
        """Add some tabs to the job, or put them in the place of those in the job file."""
        return self._of(self.results.with_tabs(found, replace=replace))

    def _of(self, results: Results) -> Self:
        other = copy.copy(self)
        other.results = results
        return other

    @writing
    def picture(self, path: str | os.PathLike[str], view: str | None = None) -> None:
        """Write a picture.

        Parameters
        ----------
        path : str or path-like
            A ``.png`` or ``.jpg`` file.
        view : str, optional
            One of the six views, ``"iso"``, or the name of a profile. By default
            a sheet: iso, and the first three profiles each in its own view, with
            the outline over the part and what it loses hatched.

        Raises
        ------
        MissingLibraryError
            If the extra ``pictures`` is not installed.
        PictureError
            If there is no such view, or this machine cannot draw.
        OutputError
            If the file cannot be written.
        """
        need("pictures", "pictures")
        from silhouette3d.documents.pictures.panels import draw_sheet, draw_view

        if view is None:
            draw_sheet(self.results, path)
        else:
            draw_view(self.results, view, path)

    @writing
    def picture_stages(self, path: str | os.PathLike[str], explode: float = 0.4) -> None:
        """Write a picture of the stock, the block after every cut, and the part.

        Parameters
        ----------
        path : str or path-like
            A ``.png`` or ``.jpg`` file.
        explode : float
            How far the bodies are moved apart; 0 leaves them in place.

        Raises
        ------
        MissingLibraryError
            If the extra ``pictures`` is not installed.
        PictureError
            If this machine cannot draw.
        OutputError
            If the file cannot be written.
        """
        need("pictures", "pictures")
        from silhouette3d.documents.pictures.stages import draw_stages

        draw_stages(self.results, path, explode)

    @writing
    def picture_thin(self, path: str | os.PathLike[str]) -> None:
        """Write a picture of the part, coloured where it is thinner than the job's limit.

        Parameters
        ----------
        path : str or path-like
            A ``.png`` or ``.jpg`` file.

        Raises
        ------
        MissingLibraryError
            If the extra ``pictures`` is not installed.
        PictureError
            If this machine cannot draw.
        OutputError
            If the file cannot be written.
        """
        need("pictures", "pictures")
        from silhouette3d.documents.pictures.thin import draw_thin

        draw_thin(self.results, path)

    @writing
    def show(self) -> None:
        """Open a window in which the part can be turned, and wait until it is closed.

        Raises
        ------
        MissingLibraryError
            If the extra ``pictures`` is not installed.
        PictureError
            If there is no screen.
        """
        need("pictures", "a window", "pyvista", "vtk")
        from silhouette3d.documents.pictures.window import show

        show(self.results)

    @writing
    def picture_outline(self, name: str, path: str | os.PathLike[str]) -> None:
        """Write a picture of one outline as it was read and placed; or of why there is none.

        Parameters
        ----------
        name : str
            The profile.
        path : str or path-like
            A ``.png`` or ``.jpg`` file.

        Raises
        ------
        MissingLibraryError
            If the extra ``pictures`` is not installed.
        PictureError
            If there is no such profile.
        DrawingError
            If its drawing gives no outline. Where that is because lines do not close the
            picture is written all the same: every line, with what is open marked.
        OutputError
            If the file cannot be written.
        """
        need("pictures", "pictures of outlines", "matplotlib")
        from silhouette3d.documents.pictures.outline import draw_outline

        draw_outline(self.results, name, path)

    @writing
    def sheets(
        self, path: str | os.PathLike[str], paper: str = "A4", units: Units | None = None
    ) -> None:
        """Write setup sheets: the part, a page for each setup, and what comes after.

        A part with errors gets sheets that say DO NOT CUT and why.

        Parameters
        ----------
        path : str or path-like
            A ``.pdf`` file.
        paper : {"A4", "letter"}
            Upper and lower case do not count.
        units : {"mm", "in", "both"}, optional
            By default the job's own; with both the other stands in brackets.

        Raises
        ------
        MissingLibraryError
            If the extra ``sheets`` is not installed.
        EmptyPartError
            If nothing is left to make.
        OutputError
            If there is no such paper, or the file cannot be written.
        """
        need("sheets", "setup sheets")
        from silhouette3d.documents.setup_sheets.write import write_sheets

        write_sheets(self.results, path, paper, scale=self.scale_in(units))

    @writing
    def setups(self, folder: str | os.PathLike[str]) -> tuple[Path, ...]:
        """Write a DXF drawing for each setup: face coordinates, the datum at 0,0.

        Parameters
        ----------
        folder : str or path-like
            Made if it does not exist. Files of other names in it are left alone.

        Returns
        -------
        tuple of Path
            The files, in the order of the cuts.

        Raises
        ------
        CuttingError
            If a tab of the job touches no outline.
        OutputError
            If the files cannot be written; then none is.
        """
        from silhouette3d.documents.setup_drawings import write_setups

        return write_setups(self.results, folder)

    @writing
    def page(self, path: str | os.PathLike[str], scale: float = 1.0, stages: bool = False) -> None:
        """Write a page for the customer: the part in 3D, its facts and three views.

        One HTML file that needs no network and names nothing of this machine.

        Parameters
        ----------
        path : str or path-like
            A ``.html`` file.
        scale : float
            Of a mock-up that goes with the page, which says so; size and weight stay
            those of the finished part.
        stages : bool
            Also show the block after every cut, its bodies pulled apart.

        Raises
        ------
        OutputError
            If the file cannot be written, or the scale makes no sense.
        MissingLibraryError
            If the extra ``pictures`` is not installed.
        PictureError
            If this machine cannot draw.
        """
        need("pictures", "the customer’s page")
        from silhouette3d.documents.customer_page.write import write_page

        write_page(self.results, path, scale, stages)

    @writing
    def export(self, path: str | os.PathLike[str], scale: float = 1.0, stand: bool = False) -> None:
        """Write the part as a mesh: .stl, .3mf, .glb, .obj or .ply.

        Parameters
        ----------
        path : str or path-like
            The suffix decides the format.
        scale : float
            For a mock-up.
        stand : bool
            Turn it as it stands most stably: on z = 0, its bounding box about x = y = 0.

        Raises
        ------
        OutputError
            If the format is not known, the file cannot be written, or a part in
            several bodies is to stand.
        """
        from silhouette3d.documents.meshes.write import export_mesh

        material = self.material.name if self.material else density_text(self.density, "mm")
        solid = self.solid
        if stand:
            if self.standing is None:
                raise OutputError(
                    f"the part is in {len(solid.bodies)} bodies, which do not stand as one",
                    where=os.fspath(path),
                    todo="join them, or export it as it lies in the block",
                )
            solid = solid.mapped(self.standing.placed)
        meshes = [body.mesh for body in solid.bodies]
        export_mesh(meshes, path, name=self.name, material=material, scale=scale)


def load(path: str | os.PathLike[str]) -> Part:
    """Load the part of a job file.

    Parameters
    ----------
    path : str or path-like
        A job file, or a folder that holds a ``job.toml``.

    Raises
    ------
    JobError
        If the job cannot be read or declares what cannot be.
    """
    return Part(read_job(path))
