"""The part with its pictures and files: what Python users, command line and workbench talk to."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from functools import cached_property
from pathlib import Path
from typing import Self

from shapely.geometry.base import BaseGeometry

from silhouette3d.base.quantities import Units, density_text
from silhouette3d.drawing.outline.outline import Outline
from silhouette3d.errors import JobError, OutputError
from silhouette3d.geometry.frames import View
from silhouette3d.geometry.stable_poses import Pose, pose_on, poses
from silhouette3d.geometry.stock import Bar, Block
from silhouette3d.job.model import Accept, Checks, Cutting, read_job
from silhouette3d.model import results as computed
from silhouette3d.model.backend_errors import told_in_words
from silhouette3d.model.in_memory import Setup, declared

Cuttable = BaseGeometry | Outline | Setup


@told_in_words
class Part(computed.Results):
    """A part that can also be pictured and exported."""

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
        PictureError
            If there is no such view, or this machine cannot draw.
        OutputError
            If the file cannot be written.
        """
        from silhouette3d.documents.pictures.panels import draw_sheet, draw_view

        if view is None:
            draw_sheet(self, path)
        else:
            draw_view(self, view, path)

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
        PictureError
            If this machine cannot draw.
        OutputError
            If the file cannot be written.
        """
        from silhouette3d.documents.pictures.stages import draw_stages

        draw_stages(self, path, explode)

    def picture_thin(self, path: str | os.PathLike[str]) -> None:
        """Write a picture of the part, coloured where it is thinner than the job's limit.

        Parameters
        ----------
        path : str or path-like
            A ``.png`` or ``.jpg`` file.

        Raises
        ------
        PictureError
            If this machine cannot draw.
        OutputError
            If the file cannot be written.
        """
        from silhouette3d.documents.pictures.thin import draw_thin

        draw_thin(self, path)

    def show(self) -> None:
        """Open a window in which the part can be turned, and wait until it is closed.

        Raises
        ------
        PictureError
            If there is no screen.
        """
        from silhouette3d.documents.pictures.window import show

        show(self)

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
        PictureError
            If there is no such profile.
        DrawingError
            If its drawing gives no outline. Where that is because lines do not close the
            picture is written all the same: every line, with what is open marked.
        OutputError
            If the file cannot be written.
        """
        from silhouette3d.documents.pictures.outline import draw_outline

        draw_outline(self, name, path)

    @cached_property
    def standing(self) -> Pose | None:
        """How the part stands most stably, and by how much it can be tilted then.

        None if it is in several bodies, which do not stand as one.
        """
        return next(iter(poses(self.solid))) if len(self.solid.bodies) == 1 else None

    @cached_property
    def lying(self) -> Pose | None:
        """The part as it lies in the block; its tipping angle is 0 if it does not stand so.

        None if it is in several bodies.
        """
        return pose_on(self.solid) if len(self.solid.bodies) == 1 else None

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
        EmptyPartError
            If nothing is left to make.
        OutputError
            If there is no such paper, or the file cannot be written.
        """
        from silhouette3d.documents.setup_sheets.write import write_sheets

        write_sheets(self, path, paper, scale=self.scale_in(units))

    def setups(self, folder: str | os.PathLike[str], compensated: bool = False) -> tuple[Path, ...]:
        """Write a DXF drawing for each setup: face coordinates, the datum at 0,0.

        Parameters
        ----------
        folder : str or path-like
            Made if it does not exist. Files of other names in it are left alone.
        compensated : bool
            Also draw the path of the cutter's middle, half a kerf off the outline.

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

        return write_setups(self, folder, compensated)

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
        PictureError
            If this machine cannot draw.
        """
        from silhouette3d.documents.customer_page.write import write_page

        write_page(self, path, scale, stages)

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
    """The part of a job file.

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
