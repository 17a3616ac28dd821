"""A window in which a part can be turned."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from silhouette3d.documents.pictures.caption import size_and_mass
from silhouette3d.documents.pictures.face import part_in_stock
from silhouette3d.documents.pictures.render import (
    add_solid,
    drawing_with,
    lights,
    window_for_screen,
)
from silhouette3d.presentation.theme import AXES, INK, ISO, PALE_INK, PAPER

if TYPE_CHECKING:
    import pyvista

    from silhouette3d.model.results import Results

_SIZE: Final = (1200, 900)
_KEYS: Final = "drag: turn    shift and drag: move    wheel: zoom    r: all of it    q: close"
"""VTK's own keys and mouse buttons."""


def show(part: Results) -> None:
    """Open a window and wait until it is closed.

    Raises
    ------
    PictureError
        If there is no screen, or nothing can be drawn on it.
    """
    choice = window_for_screen()
    with drawing_with(choice):
        plotter = fill_window(part)
        plotter.show()


def fill_window(part: Results, *, off_screen: bool = False) -> pyvista.Plotter:
    """Fill a plotter with the part in its stock, its size and mass, and the axes of the block."""
    import pyvista
    from vtkmodules.vtkRenderingCore import vtkMapper

    vtkMapper.SetResolveCoincidentTopologyToPolygonOffset()  # edges in front of their faces
    solids = part_in_stock(part)
    plotter = pyvista.Plotter(
        off_screen=off_screen,
        lighting="none",
        window_size=list(_SIZE),
        title=part.name,
    )
    plotter.background_color = pyvista.Color(PAPER)
    for light in lights():
        plotter.add_light(light)
    for mesh, style in solids:
        add_solid(plotter, mesh, style)
    plotter.renderer.add_axes(
        color=INK,
        xlabel="x",
        ylabel="y",
        zlabel="z",
        **{f"{axis}_color": colour for axis, colour in AXES.items()},
    )
    size, mass = size_and_mass(part)
    plotter.add_text(f"{part.name}\n{size}\n{mass}", position="upper_left", font_size=10, color=INK)
    plotter.add_text(_KEYS, position="lower_edge", font_size=8, color=PALE_INK)
    plotter.enable_anti_aliasing("msaa")
    plotter.camera.parallel_projection = True
    plotter.view_vector(ISO.axes[2], ISO.up)
    return plotter
