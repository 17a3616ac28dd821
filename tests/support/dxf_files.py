"""Writing DXF files for the tests, and what the curves that come back enclose."""

from __future__ import annotations

import io
import tempfile
from pathlib import Path
from typing import Any

import shapely
from ezdxf.filemanagement import new as new_document

from silhouette3d.drawing.dxf.reader import read_dxf
from silhouette3d.drawing.model import Curve, Drawing

RELEASES = ("R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018")
FINE = 1e-4
"""mm, for flattening where an area is compared with a formula."""


def new(release: str = "R2010", unit: int = 4) -> Any:
    """An empty document, in millimetres unless said otherwise."""
    return new_document(release, units=unit)


def read(document: Any, form: str = "asc", *, whole: bool = True, **options: Any) -> Drawing:
    """Write a document as ASCII ("asc") or binary ("bin") and read it back.

    Faults are raised, as for someone who takes all its layers, unless not `whole`.
    """
    with tempfile.TemporaryDirectory() as directory:
        path = Path(directory, "plate.dxf")
        document.saveas(path, fmt=form)
        return _read(path, whole, options)


def read_text(text: str | bytes, *, whole: bool = True, **options: Any) -> Drawing:
    """Read a file with this very content; see `read`."""
    with tempfile.TemporaryDirectory() as directory:
        path = Path(directory, "plate.dxf")
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return _read(path, whole, options)


def _read(path: Path, whole: bool, options: dict[str, Any]) -> Drawing:
    drawing = read_dxf(path, **options)
    if whole:
        drawing.refuse_faults()
    return drawing


def text_of(document: Any) -> str:
    """A document as the text of an ASCII file."""
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue()


def tags(*pairs: tuple[int, object]) -> str:
    """Group codes and values as the lines of an ASCII file."""
    return "".join(f"{code:3d}\n{value}\n" for code, value in pairs)


def bare(*entities: str, header: str = "", blocks: str = "") -> str:
    """A file of the old kind that many programs write: entities and hardly anything else."""
    sections = {"HEADER": header, "BLOCKS": blocks, "ENTITIES": "".join(entities)}
    return (
        "".join(
            tags((0, "SECTION"), (2, name)) + body + tags((0, "ENDSEC"))
            for name, body in sections.items()
            if body
        )
        + "  0\nEOF\n"
    )


def only(drawing: Drawing) -> Curve:
    """The one curve of a drawing."""
    (shape,) = drawing.shapes
    (curve,) = shape.curves
    return curve


def enclosed(drawing: Drawing, tolerance: float = FINE) -> tuple[float, float]:
    """Area in mm² by the even-odd rule, and the bound of what flattening makes of it."""
    area: Any = shapely.Polygon()
    loose, error = [], 0.0
    for curve in (c for s in drawing.shapes for c in s.curves):
        points, missing = curve.flatten(tolerance)
        error += missing
        if curve.is_closed:
            area = shapely.symmetric_difference(area, shapely.Polygon(points))
        else:
            loose.append(shapely.set_precision(shapely.LineString(points), 1e-6))
    faces = shapely.get_parts(shapely.polygonize([shapely.node(shapely.union_all(loose))]))
    for face in faces:
        area = shapely.symmetric_difference(area, face)
    return float(area.area), error
