"""The strip of small pictures: the raw block, the block after every cut, and the part."""

from __future__ import annotations

import base64
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from silhouette3d.documents.pictures.render import CameraFrame, Image, Studio, Style
from silhouette3d.documents.pictures.stages import COLOURS, panels_of
from silhouette3d.errors import SilhouetteError
from silhouette3d.presentation.theme import ISO
from silhouette3d.workbench.lane import Lane, Post
from silhouette3d.workbench.protocol import StripStep

if TYPE_CHECKING:
    from silhouette3d.workbench.result import Result

SIZE: Final = (192, 132)
"""Pixels of a small picture: twice as many as it takes on a usual screen."""

APART: Final = 0.2
"""How far the bodies are moved apart, so that the cuts are seen in a small picture."""


class Strip:
    """Draws the strip on a thread of its own; what is out of date is not drawn any more.

    Parameters
    ----------
    deliver : callable
        Told the steps, each with ``title``, ``words`` and ``picture`` (a data address, empty
        where this machine cannot draw), on the thread that `post` leads to.
    post : callable
        Takes a function and has it called there.
    """

    def __init__(self, deliver: Callable[[list[StripStep]], None], post: Post) -> None:
        self._deliver, self._post = deliver, post
        self._lane = Lane("workbench strip")
        self._newest = 0
        self._studio: Studio | None = None
        self._blind = False

    def draw(self, result: Result) -> None:
        """Draw the stages of a result, instead of any before."""
        self._newest = result.sequence
        self._lane.put(lambda: self._draw(result))

    def forget(self) -> None:
        """Hand over nothing of what is drawn by now."""
        self._newest = 0

    def stop(self) -> None:
        """End after the picture at hand."""
        self._newest = -1
        self._lane.stop()

    def _draw(self, result: Result) -> None:
        steps: list[StripStep] = []
        for panel in panels_of(result.part.results, APART):
            if result.sequence != self._newest:
                return
            solids = [(shown.mesh, Style(COLOURS[shown.standing])) for shown in panel.bodies]
            steps.append(
                {"title": panel.title, "words": panel.line, "picture": self._picture(solids)}
            )
        self._post(lambda: self._hand_over(result.sequence, steps))

    def _hand_over(self, sequence: int, steps: list[StripStep]) -> None:
        if sequence == self._newest:
            self._deliver(steps)

    def _picture(self, solids: list[tuple[Any, Style]]) -> str:
        if self._blind:
            return ""
        try:
            self._studio = self._studio or Studio()
        except SilhouetteError:
            self._blind = True
            return ""
        points = np.concatenate([mesh.vertices for mesh, _ in solids])
        frame = CameraFrame.around(ISO, points, SIZE[0] / SIZE[1], room=0.04)
        return as_address(self._studio.picture(solids, frame, SIZE))


def as_address(image: Image) -> str:
    """Write an image as a PNG in a data address.

    Parameters
    ----------
    image : (height, width, 3) array of uint8
        Row 0 on top.
    """
    import pyvista
    from vtkmodules.util.numpy_support import vtk_to_numpy
    from vtkmodules.vtkIOImage import vtkPNGWriter

    height, width = image.shape[:2]
    grid = pyvista.ImageData(dimensions=(width, height, 1))
    grid.point_data["colours"] = np.ascontiguousarray(image[::-1]).reshape(-1, 3)
    grid.set_active_scalars("colours")
    writer = vtkPNGWriter()
    writer.WriteToMemoryOn()
    writer.SetInputData(grid)
    writer.Write()
    data = vtk_to_numpy(writer.GetResult()).tobytes()  # type: ignore[no-untyped-call]
    return "data:image/png;base64," + base64.b64encode(data).decode("ascii")
