"""Reading a DXF drawing: what is visible in model space, as curves in millimetres."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from silhouette3d.drawing.drawing import Drawing
from silhouette3d.drawing.dxf_file import open_dxf
from silhouette3d.drawing.dxf_frame import Frame
from silhouette3d.drawing.dxf_look import Looks
from silhouette3d.drawing.dxf_walk import Walk, counted
from silhouette3d.errors import DrawingError
from silhouette3d.units import DXF_UNITS, MM_PER, Unit

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

__all__ = ["read_dxf"]


def read_dxf(
    path: Path, *, tolerance: float = 0.01, unit: Unit | None = None, default: Unit = "mm"
) -> Drawing:
    """Read a DXF file into millimetres.

    Lines, arcs, circles, ellipses, polylines with bulges, splines and hatches
    in model space count, alone or in blocks, on layers that are neither frozen,
    off nor barred from plotting.

    Parameters
    ----------
    path : Path
        A DXF file, R12 to R2018, ASCII or binary.
    tolerance : float
        Largest gap in mm between a rational or higher spline and the points
        that stand for it; everything else stays exact.
    unit : {"mm", "in"}, optional
        Overrides what the drawing states.
    default : {"mm", "in"}
        For a drawing that states no unit ($INSUNITS missing or 0).

    Raises
    ------
    DrawingError
        If the file cannot be read, its unit is unknown, or a block cannot be
        placed or inserts itself. An object that cannot be used as it is, not parallel
        to the xy plane or too far away, is a fault on its layer.
    """
    document, notes = open_dxf(path)
    try:
        name, scale, stated, remark = _unit(document, path, unit, default)
        walk = Walk(path, tolerance, Looks(document))
        walk.through(document.modelspace(), Frame.scaled(scale), None, ())
        notes += (remark, *walk.notes(), _paper(document))
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
        # what a damaged file lacks ezdxf finds out when it is asked for it
        raise DrawingError(
            f"this DXF file is damaged ({error})",
            where=str(path),
            todo="open it in the program that drew it and save it again as DXF",
        ) from error
    return Drawing(
        path,
        tuple(walk.shapes),
        name,
        stated,
        tuple(filter(None, notes)),
        tuple(walk.writings),
        faults=tuple(walk.faults.values()),
        mm_per_unit=scale,
    )


def _unit(
    document: Document, path: Path, unit: Unit | None, default: Unit
) -> tuple[str, float, bool, str]:
    """The unit's name, mm in one, whether the file states it, and a note."""
    codes = {mm: name for name, mm in DXF_UNITS.values()}
    code = document.header.get("$INSUNITS", 0)
    stated = DXF_UNITS.get(code)
    if unit is None and stated is not None:
        return *stated, True, ""
    if unit is None and code != 0:
        raise DrawingError(
            f"its unit ($INSUNITS = {code}) is none that a part is drawn in",
            where=str(path),
            todo="save it in millimetres or inches, or state the unit of this drawing in the job",
        )
    scale = MM_PER[unit or default]
    if stated is None or stated[1] == scale:
        return codes[scale], scale, stated is not None, ""
    remark = f"the file states {stated[0]} as its unit; its numbers were taken as {codes[scale]}"
    return codes[scale], scale, False, remark


def _paper(document: Document) -> str:
    papers = [layout for layout in document.layouts if not layout.is_modelspace]
    count = sum(e.dxftype() != "VIEWPORT" for layout in papers for e in layout)
    return f"ignored {counted(count, 'object')} in paper space" if count else ""
