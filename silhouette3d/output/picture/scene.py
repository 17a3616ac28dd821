"""Solids to pixels: a studio with one light and one camera, used again for every picture.

All pictures are parallel projections, so a pixel has one size in mm all over,
and lines drawn on top in view coordinates meet what is below them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from types import TracebackType
from typing import TYPE_CHECKING, Any, Final, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from silhouette3d.output.picture.display import drawing_with, window_for_pictures
from silhouette3d.output.picture.edges import visible_edges
from silhouette3d.theme import AMBIENT, INK, LIGHTS, PAPER, PART, STOCK
from silhouette3d.view import Array, View

if TYPE_CHECKING:
    import pyvista

    from silhouette3d.solid import Mesh

Image = NDArray[np.uint8]


@dataclass(frozen=True)
class Style:
    """How a solid looks.

    Parameters
    ----------
    face : str, optional
        Colour of its faces; None leaves them out.
    opacity : float
        Of its faces, 0 to 1.
    line : str, optional
        Colour of its edges; None leaves them out.
    width : float
        Of its edges, in pixels.
    inside : bool
        Show the far walls from within instead of the near ones from without.
    paint : (m, 3) array of uint8, optional
        A colour for each triangle, instead of `face`.
    """

    face: str | None = PART
    opacity: float = 1.0
    line: str | None = INK
    width: float = 1.4
    inside: bool = False
    paint: Image | None = field(default=None, compare=False)


SOLID: Final = Style()
GHOST: Final = Style(STOCK, 0.10, STOCK, 1.0, inside=True)


@dataclass(frozen=True)
class Frame:
    """The rectangle of the view that a picture shows.

    Parameters
    ----------
    view : View
        From where.
    low, high : tuple of float
        Lower left and upper right corner, in view coordinates (u, v) of the
        block frame, in mm.
    """

    view: View
    low: tuple[float, float]
    high: tuple[float, float]

    @classmethod
    def around(cls, view: View, points: ArrayLike, shape: float = 1.0, room: float = 0.06) -> Frame:
        """The frame of one shape (width / height) that just holds some points.

        Parameters
        ----------
        view : View
            From where.
        points : (n, 3) array_like
            In mm, block frame.
        shape : float
            Width over height of the picture.
        room : float
            Margin on every side, as a share of the longer side.
        """
        flat = view.to_view(points)[:, :2]
        low, high = flat.min(axis=0), flat.max(axis=0)
        margin = room * float(np.max(high - low))
        width, height = (high - low) + 2.0 * margin
        width, height = max(width, height * shape), max(height, width / shape)
        middle, half = (low + high) / 2.0, np.array([width, height]) / 2.0
        return cls(view, _pair(middle - half), _pair(middle + half))

    @property
    def width(self) -> float:
        """In mm."""
        return self.high[0] - self.low[0]

    @property
    def height(self) -> float:
        """In mm."""
        return self.high[1] - self.low[1]

    @cached_property
    def middle(self) -> Array:
        """(3,) a point of the block frame that lies in the middle of the picture, in mm."""
        u, v = (np.add(self.low, self.high)) / 2.0
        return self.view.to_block([u, v, 0.0])


class Studio:
    """Draws solids; hold one open for many pictures.

    Raises
    ------
    PictureError
        If this machine cannot draw.

    Examples
    --------
    ::

        with Studio() as studio:
            image = studio.picture([(part.solid.mesh, SOLID)], frame, (640, 480))
    """

    FINE: Final = 2
    """Pixels drawn for each one kept, along either side: they are averaged, so lines are smooth."""

    def __init__(self) -> None:
        choice = window_for_pictures()
        import pyvista

        with drawing_with(choice):
            self._plotter = pyvista.Plotter(off_screen=True, lighting="none")
        self._plotter.background_color = pyvista.Color(PAPER)
        for light in lights():
            self._plotter.add_light(light)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._plotter.close()

    def picture(
        self, solids: Sequence[tuple[Mesh, Style]], frame: Frame, size: tuple[int, int]
    ) -> Image:
        """Some solids as pixels.

        Parameters
        ----------
        solids : sequence of (Mesh, Style)
            What to show, and how.
        frame : Frame
            What part of the view; as wide for its height as `size`.
        size : tuple of int
            Width and height in pixels.

        Returns
        -------
        (height, width, 3) array of uint8
            Row 0 on top.
        """
        plotter = self._plotter
        plotter.suppress_rendering = True  # else each change of the scene draws it
        plotter.clear_actors()
        for mesh, style in solids:
            add_solid(plotter, mesh, style, frame.view, self.FINE)
        plotter.window_size = [self.FINE * size[0], self.FINE * size[1]]
        self._aim(frame, solids)
        self._darken_nooks(math.hypot(frame.width, frame.height))
        plotter.suppress_rendering = False
        plotter.render()
        drawn = np.asarray(plotter.screenshot(return_img=True))
        width, height = size
        fine = drawn.reshape(height, self.FINE, width, self.FINE, 3)
        kept = fine.mean(axis=(1, 3), dtype=np.float32)
        return np.asarray(np.round(kept), np.uint8)

    def _darken_nooks(self, extent: float) -> None:
        renderer = self._plotter.renderer
        renderer.disable_ssao()  # else what was set for the picture before stays
        renderer.enable_ssao(radius=_NOOK * extent, bias=_BIAS * extent, kernel_size=32)

    def _aim(self, frame: Frame, solids: Sequence[tuple[Mesh, Style]]) -> None:
        reach = max([1.0, *(float(np.abs(m.vertices - frame.middle).max()) for m, _ in solids)])
        far = 4.0 * reach
        camera = self._plotter.camera
        camera.parallel_projection = True
        camera.up = frame.view.up
        camera.focal_point = tuple(frame.middle)
        camera.position = tuple(frame.middle - far * np.asarray(frame.view.look))
        camera.parallel_scale = frame.height / 2.0
        camera.clipping_range = (far - 2.0 * reach, far + 2.0 * reach)


def lights() -> list[pyvista.Light]:
    """Set up the lights of the theme."""
    import pyvista

    return [
        pyvista.Light(position=one.position, intensity=one.power, light_type="camera light")
        for one in LIGHTS
    ]


def add_solid(
    plotter: pyvista.Plotter, mesh: Mesh, style: Style, view: View | None = None, fine: int = 1
) -> None:
    """Put a solid on a plotter.

    Parameters
    ----------
    plotter : pyvista.Plotter
        Changed.
    mesh : Mesh
        The solid's surface.
    style : Style
        How it looks.
    view : View, optional
        The one view it will be seen in: contours of rounds are drawn as well.
    fine : int
        Pixels drawn for each pixel kept.
    """
    import pyvista

    if style.face is not None and mesh.triangles.size:
        surface = pyvista.PolyData.from_regular_faces(mesh.vertices, mesh.triangles.astype(int))
        painted: dict[str, Any] = (
            {} if style.paint is None else {"scalars": style.paint, "rgb": True}
        )
        plotter.add_mesh(
            surface,
            color=None if painted else style.face,
            **painted,
            opacity=style.opacity,
            smooth_shading=False,
            ambient=AMBIENT,
            diffuse=1.0,
            specular=0.0,
            culling="front" if style.inside else False,
        )
    if style.line is not None:
        lines = visible_edges(mesh, None if view is None else view.look)
        if view is not None:
            lines = lines - _LIFT * _diagonal(mesh) * np.asarray(view.look)
        if len(lines):
            plotter.add_mesh(
                pyvista.line_segments_from_points(lines.reshape(-1, 3)),
                color=style.line,
                line_width=fine * style.width,
                lighting=False,
            )


_NOOK: Final = 0.04
_BIAS: Final = 0.003
"""Shares of the picture's diagonal: how far a wall darkens what is near it, and how far off
the wall that begins (nearer, and flat faces would darken themselves)."""

_LIFT: Final = 0.002
"""Share of the diagonal by which lines are lifted towards the eye, out of the faces they bound."""


def _diagonal(mesh: Mesh) -> float:
    return math.dist(mesh.vertices.min(axis=0), mesh.vertices.max(axis=0))


def _pair(values: Array) -> tuple[float, float]:
    return float(values[0]), float(values[1])
