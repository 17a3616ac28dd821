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
    from silhouette3d.checks.finding import Finding
    from silhouette3d.drawing.outline import Outline
    from silhouette3d.errors import (
        CuttingError,
        DrawingError,
        EmptyPartError,
        GeometryError,
        JobError,
        OutputError,
        PictureError,
        PlacementError,
        SilhouetteError,
        WorkbenchError,
    )
    from silhouette3d.facade import Part, load
    from silhouette3d.in_memory import Setup
    from silhouette3d.job import Accept, Checks, Cutting, Job, read_job
    from silhouette3d.materials import Material, all_materials, find_material
    from silhouette3d.solid import Mesh, Solid
    from silhouette3d.stock import Bar, Block, Stock
    from silhouette3d.view import VIEWS, View, view_along, view_from

__version__ = "0.1.0"

_HOME = {
    "Accept": "job",
    "Bar": "stock",
    "Block": "stock",
    "Checks": "job",
    "Cutting": "job",
    "CuttingError": "errors",
    "DrawingError": "errors",
    "EmptyPartError": "errors",
    "Finding": "checks.finding",
    "GeometryError": "errors",
    "Job": "job",
    "JobError": "errors",
    "Material": "materials",
    "Mesh": "solid",
    "Outline": "drawing.outline",
    "OutputError": "errors",
    "Part": "facade",
    "PictureError": "errors",
    "PlacementError": "errors",
    "Setup": "in_memory",
    "SilhouetteError": "errors",
    "Solid": "solid",
    "Stock": "stock",
    "VIEWS": "view",
    "View": "view",
    "WorkbenchError": "errors",
    "all_materials": "materials",
    "find_material": "materials",
    "load": "facade",
    "read_job": "job",
    "view_along": "view",
    "view_from": "view",
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
