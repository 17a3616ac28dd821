"""Solids to pixels: whether this machine can draw, the lines to draw, light and camera."""

from __future__ import annotations

import math
import os
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache, cached_property
from math import cos, radians
from types import TracebackType
from typing import TYPE_CHECKING, Any, Final, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from silhouette3d.errors import PictureError
from silhouette3d.geometry.frames import Array, View
from silhouette3d.presentation.theme import AMBIENT, INK, LIGHTS, PAPER, PART, STOCK

if TYPE_CHECKING:
    import pyvista

    from silhouette3d.geometry.mesh import Mesh

# --- Whether this machine can draw, found out without being taken down by it
#
# Without a working OpenGL, VTK does not raise: it ends the process. So drawing is
# tried once in a process of its own, which takes half a second.


CHOICE: Final = "VTK_DEFAULT_OPENGL_WINDOW"
"""The environment variable by which VTK is told what to draw with, read for each window."""

WITHOUT_SCREEN: Final = "vtkEGLRenderWindow"
ON_SCREEN: Final = "vtkXOpenGLRenderWindow"
VTK_CHOOSES: Final = ""
"""Stands for a variable that is not set: VTK takes the first kind that works, or ends."""

_TRIAL: Final = """
import vtkmodules.vtkRenderingOpenGL2
from vtkmodules.vtkRenderingCore import vtkRenderWindow, vtkRenderer
window = vtkRenderWindow()
window.SetOffScreenRendering(1)
window.SetSize(8, 8)
window.AddRenderer(vtkRenderer())
window.Render()
raise SystemExit(not window.SupportsOpenGL())
"""
_PATIENCE: Final = 60.0
"""Seconds, for a machine that is very busy or a display server that does not answer."""


def draws_with(choice: str, code: str = _TRIAL) -> bool:
    """Tell whether a process of its own can draw with one of VTK's kinds of window.

    Parameters
    ----------
    choice : str
        The name of VTK's class, or `VTK_CHOOSES`.
    code : str
        What the process runs; it must end well.
    """
    if not sys.executable:  # Python inside another program: there is no process to try it in
        return True
    try:
        trial = subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, CHOICE: choice} if choice else _without(CHOICE),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            timeout=_PATIENCE,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        return False
    return trial.returncode == 0


@cache
def window_for_pictures() -> str:
    """Name VTK's kind of window that draws without a screen here.

    Raises
    ------
    PictureError
        If none does.
    """
    chosen = os.environ.get(CHOICE)
    if chosen:
        tried = [chosen]
    elif sys.platform == "linux":
        tried = [WITHOUT_SCREEN, VTK_CHOOSES]
    else:
        tried = [VTK_CHOOSES]
    for choice in tried:
        if draws_with(choice):
            return choice
    raise _cannot_draw(chosen)


@cache
def window_for_screen() -> str:
    """Name VTK's kind of window that opens on this machine's screen.

    Raises
    ------
    PictureError
        If there is no screen, or nothing can be drawn on it.
    """
    choice = ON_SCREEN if sys.platform == "linux" else VTK_CHOOSES
    if choice == ON_SCREEN and not os.environ.get("DISPLAY"):
        raise _no_screen("there is no screen to open a window on (DISPLAY is not set)")
    if not draws_with(choice):
        shown = os.environ.get("DISPLAY", "")
        raise _no_screen(f"no window can be opened on the screen {shown!r}".replace(" ''", ""))
    return choice


@contextmanager
def drawing_with(choice: str) -> Iterator[None]:
    """Let windows made inside be of this kind."""
    before = os.environ.get(CHOICE, VTK_CHOOSES)
    _choose(choice)
    try:
        yield
    finally:
        _choose(before)


def _choose(choice: str) -> None:
    if choice == VTK_CHOOSES:
        os.environ.pop(CHOICE, None)
    else:
        os.environ[CHOICE] = choice


def _without(name: str) -> dict[str, str]:
    return {key: value for key, value in os.environ.items() if key != name}


def _cannot_draw(chosen: str | None) -> PictureError:
    if chosen:
        return PictureError(
            f"VTK cannot draw with {chosen!r}, which the environment variable {CHOICE} asks for",
            todo=f"unset {CHOICE}",
        )
    return PictureError(
        "this machine cannot draw pictures: VTK finds no OpenGL that works without a screen",
        todo="install Mesa's EGL (Debian, Ubuntu: apt-get install libegl1 libgl1-mesa-dri); "
        "everything but pictures of the part works without it",
    )


def _no_screen(what: str) -> PictureError:
    return PictureError(
        what,
        todo="run this on the desktop of a machine with a screen, or write a picture to a file "
        "with `silhouette3d picture JOB -o part.png`",
    )


# --- The lines that a draughtsman would draw of a solid: no trace of its triangles


Indices = NDArray[np.int64]

SHARP: Final = 25.0
"""Degrees. Faces that meet at more than this meet in an edge. The chords of an arc
of 0.5 mm radius at the default tolerance of 0.01 mm turn by 23 degrees."""


def visible_edges(mesh: Mesh, look: ArrayLike | None = None, sharp: float = SHARP) -> Array:
    """Find where faces meet, and where a round turns out of sight.

    Parameters
    ----------
    mesh : Mesh
        A closed surface.
    look : array_like, optional
        (3,) unit vector of sight. With it, edges whose faces both turn away are
        left out and contours of rounds are added; other solids may still hide
        what is returned.
    sharp : float
        Least angle between two faces that makes an edge, in degrees.

    Returns
    -------
    (n, 2, 3) array
        The ends of each line in mm.
    """
    return np.asarray(mesh.vertices[sharp_edges(mesh, look, sharp)])


def sharp_edges(mesh: Mesh, look: ArrayLike | None = None, sharp: float = SHARP) -> Indices:
    """Find the visible edges as (n, 2) indices of vertices."""
    if not mesh.triangles.size:
        return np.empty((0, 2), np.int64)
    ends, first, second = _neighbours(mesh)
    normals = _normals(mesh, ends, first, second)
    a, b = normals[first], normals[second]
    drawn = np.einsum("ij,ij->i", a, b) < cos(radians(sharp))
    if look is not None:
        towards = normals @ np.negative(look)
        near, far = towards[first] > _EDGE_ON, towards[second] > _EDGE_ON
        drawn = (drawn & (near | far)) | (near != far)
    return np.asarray(ends[drawn])


_NO_AREA: Final = 1e-9
"""mm². A triangle smaller than this lies on one line: its normal is rounding."""


def _normals(mesh: Mesh, ends: Indices, first: Indices, second: Indices) -> Array:
    """Work out unit normals; a triangle without an area belongs to a face beside it.

    That is the one along its longest side. Where several such triangles lie side by side,
    those at a face come first, and then those at them.
    """
    normals = mesh.area_vectors.copy()
    thin = np.linalg.norm(normals, axis=1) < 2.0 * _NO_AREA
    owner, beyond = np.concatenate([first, second]), np.concatenate([second, first])
    sides = np.flatnonzero(thin[owner])
    along = np.linalg.norm(np.subtract(*mesh.vertices[np.tile(ends, (2, 1))[sides].T]), axis=1)
    sides = sides[np.argsort(along, kind="stable")]
    while (some := sides[thin[owner[sides]] & ~thin[beyond[sides]]]).size:
        normals[owner[some]] = normals[beyond[some]]  # the longest is written last
        thin[owner[some]] = False
    lengths = np.linalg.norm(normals, axis=1, keepdims=True)
    unit: Array = np.divide(normals, lengths, out=np.zeros_like(normals), where=lengths > 0)
    return unit


_EDGE_ON: Final = 1e-6
"""Cosine. A face this square to the paper is neither turned to the eye nor away."""


def _neighbours(mesh: Mesh) -> tuple[Indices, Indices, Indices]:
    """List each edge once: its two points, and the two triangles that share it."""
    ends = mesh.triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    owner = np.repeat(np.arange(len(mesh.triangles), dtype=np.int64), 3)
    ends = np.sort(ends, axis=1)
    order = np.lexsort((ends[:, 1], ends[:, 0]))
    return ends[order][::2].astype(np.int64), owner[order][::2], owner[order][1::2]


# --- Solids to pixels: a studio with one light and one camera, used again for every picture
#
# All pictures are parallel projections, so a pixel has one size in mm all over,
# and lines drawn on top in view coordinates meet what is below them.


Image = NDArray[np.uint8]


@dataclass(frozen=True)
class Style:
    """Look of a solid.

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
class CameraFrame:
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
    def around(
        cls, view: View, points: ArrayLike, shape: float = 1.0, room: float = 0.06
    ) -> CameraFrame:
        """Frame some points just so, in one shape (width / height).

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
        """Width in mm."""
        return self.high[0] - self.low[0]

    @property
    def height(self) -> float:
        """Height in mm."""
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
        self, solids: Sequence[tuple[Mesh, Style]], frame: CameraFrame, size: tuple[int, int]
    ) -> Image:
        """Draw some solids as pixels.

        Parameters
        ----------
        solids : sequence of (Mesh, Style)
            What to show, and how.
        frame : CameraFrame
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

    def _aim(self, frame: CameraFrame, solids: Sequence[tuple[Mesh, Style]]) -> None:
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
