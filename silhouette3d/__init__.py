"""silhouette3d: a part cut from one block by a few through-cuts, before the first cut.

>>> import silhouette3d
>>> part = silhouette3d.load("samples/tugboat/job.toml")
>>> len(part.solid.bodies)
1

Names are loaded when first used, so that importing the package costs nothing.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from silhouette3d.base.materials import Material, all_materials, find_material
    from silhouette3d.checks.finding import Finding
    from silhouette3d.drawing.outline.outline import Outline
    from silhouette3d.errors import (
        CuttingError,
        DrawingError,
        EmptyPartError,
        GeometryError,
        JobError,
        MissingLibraryError,
        OutputError,
        PictureError,
        PlacementError,
        SilhouetteError,
        WorkbenchError,
    )
    from silhouette3d.geometry.frames import VIEWS, View
    from silhouette3d.geometry.mesh import Mesh
    from silhouette3d.geometry.solid import Solid
    from silhouette3d.geometry.stock import Bar, Block, Stock
    from silhouette3d.job.model import Accept, Checks, Cutting, Job, read_job
    from silhouette3d.job.views import view_along, view_from
    from silhouette3d.model.in_memory import Setup
    from silhouette3d.part import Part, load

__version__ = "0.1.0"

_HOME = {
    "Accept": "job.model",
    "Bar": "geometry.stock",
    "Block": "geometry.stock",
    "Checks": "job.model",
    "Cutting": "job.model",
    "CuttingError": "errors",
    "DrawingError": "errors",
    "EmptyPartError": "errors",
    "Finding": "checks.finding",
    "GeometryError": "errors",
    "Job": "job.model",
    "JobError": "errors",
    "Material": "base.materials",
    "Mesh": "geometry.mesh",
    "MissingLibraryError": "errors",
    "Outline": "drawing.outline.outline",
    "OutputError": "errors",
    "Part": "part",
    "PictureError": "errors",
    "PlacementError": "errors",
    "Setup": "model.in_memory",
    "SilhouetteError": "errors",
    "Solid": "geometry.solid",
    "Stock": "geometry.stock",
    "VIEWS": "geometry.frames",
    "View": "geometry.frames",
    "WorkbenchError": "errors",
    "all_materials": "base.materials",
    "find_material": "base.materials",
    "load": "part",
    "read_job": "job.model",
    "view_along": "job.views",
    "view_from": "job.views",
}

__all__ = [
    "Accept",
    "Bar",
    "Block",
    "Checks",
    "Cutting",
    "CuttingError",
    "DrawingError",
    "EmptyPartError",
    "Finding",
    "GeometryError",
    "Job",
    "JobError",
    "Material",
    "Mesh",
    "MissingLibraryError",
    "Outline",
    "OutputError",
    "Part",
    "PictureError",
    "PlacementError",
    "Setup",
    "SilhouetteError",
    "Solid",
    "Stock",
    "VIEWS",
    "View",
    "WorkbenchError",
    "all_materials",
    "find_material",
    "load",
    "read_job",
    "view_along",
    "view_from",
]


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
