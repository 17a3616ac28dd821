"""The 3MF file: a zip archive with a model in XML.

3MF Core Specification 1.4.0. Written here because trimesh's writer has no
place for a material.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final
from xml.sax.saxutils import escape, quoteattr

from silhouette3d.output.contacts import part_contacts

if TYPE_CHECKING:
    from silhouette3d.solid import Mesh

__all__ = ["threemf_bytes"]

_CONTENT_TYPES: Final = """<?xml version="1.0" encoding="UTF-8"?>
<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">
<Default Extension="rels" \
ContentType="application/vnd.openxmlformats-package.relationships+xml"/>
<Default Extension="model" \
ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>
</Types>
"""

_RELATIONSHIPS: Final = """<?xml version="1.0" encoding="UTF-8"?>
<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">
<Relationship Id="rel0" Target="/3D/3dmodel.model" \
Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/>
</Relationships>
"""

_MODEL: Final = """<?xml version="1.0" encoding="UTF-8"?>
<model unit="millimeter" xml:lang="en" \
xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">
<metadata name="Title">{title}</metadata>
<metadata name="Application">silhouette3d</metadata>
<resources>
<basematerials id="1"><base name={material} displaycolor="#{colour}"/></basematerials>
{objects}</resources>
<build>
{items}</build>
</model>
"""

_OBJECT: Final = """<object id="{id}" type="model" name={name} pid="1" pindex="0"><mesh><vertices>
{vertices}
</vertices><triangles>
{triangles}
</triangles></mesh></object>
"""


def threemf_bytes(
    bodies: Sequence[Mesh],
    names: Sequence[str],
    *,
    title: str,
    material: str,
    colour: tuple[float, float, float],
) -> bytes:
    """A 3MF file in millimetres with one object for each body.

    Parameters
    ----------
    bodies : sequence of Mesh
        Closed, tidy, in mm.
    names : sequence of str
        One for each body.
    title, material : str
        Printable text. An empty material is called "unknown": the format
        wants a name.
    colour : tuple of float
        Red, green, blue from 0 to 1, in sRGB: how a viewer shows the material.

    Returns
    -------
    bytes
        The same for the same part: nothing in it depends on the time.
    """
    ids = range(2, 2 + len(bodies))
    objects = [
        _object(number, name, part_contacts(body))
        for number, name, body in zip(ids, names, bodies, strict=True)
    ]
    model = _MODEL.format(
        title=escape(title),
        material=quoteattr(material or "unknown"),
        colour="".join(f"{round(255 * c):02X}" for c in colour),
        objects="".join(objects),
        items="".join(f'<item objectid="{number}"/>\n' for number in ids),
    )
    return _zipped(
        {
            "[Content_Types].xml": _CONTENT_TYPES,
            "_rels/.rels": _RELATIONSHIPS,
            "3D/3dmodel.model": model,
        }
    )


def _object(number: int, name: str, mesh: Mesh) -> str:
    """One body. Nine digits tell any two numbers of single precision apart."""
    return _OBJECT.format(
        id=number,
        name=quoteattr(name),
        vertices="\n".join(
            f'<vertex x="{x:.9g}" y="{y:.9g}" z="{z:.9g}"/>' for x, y, z in mesh.vertices.tolist()
        ),
        triangles="\n".join(
            f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in mesh.triangles.tolist()
        ),
    )


def _zipped(parts: dict[str, str]) -> bytes:
    """A zip archive; its entries bear no date, so that the same part gives the same file."""
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as file:
        for name, text in parts.items():
            file.writestr(zipfile.ZipInfo(name), text.encode(), zipfile.ZIP_DEFLATED)
    return archive.getvalue()
