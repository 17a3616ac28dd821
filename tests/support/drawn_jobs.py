"""Jobs written for the tests: outlines given as corners, drawn with ezdxf."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from ezdxf.filemanagement import new as new_document

Ring = Sequence[tuple[float, float]]


def block(u0: float, v0: float, u1: float, v1: float) -> Ring:
    """A rectangle's corners."""
    return [(u0, v0), (u1, v0), (u1, v1), (u0, v1)]


def write_job(
    folder: Path,
    size: tuple[float, float, float],
    outlines: Mapping[str, Sequence[Ring]],
    *,
    kerf: float = 1.0,
    views: Mapping[str, str] | None = None,
    more: Mapping[str, str] | None = None,
    cutting: str = "",
) -> Path:
    """A job with a DXF for each outline, datum at 0, 0; its file.

    `outlines` has the rings of each profile by its name, `views` its view where that is not
    its name, `more` lines of TOML for it, `cutting` lines for the table of that name.
    """
    folder.mkdir(parents=True, exist_ok=True)
    text = [f'name = "{folder.name}"', "[stock]", f"size = {list(size)}", "density = 1.0"]
    for name, rings in outlines.items():
        document = new_document("R2010", units=4)
        for ring in rings:
            document.modelspace().add_lwpolyline(ring, close=True)
        document.saveas(folder / f"{name}.dxf")
        text += ["[[profile]]", f'view = "{(views or {}).get(name, name)}"', f'name = "{name}"']
        text += [f'drawing = "{name}.dxf"', "datum = [0.0, 0.0]", (more or {}).get(name, "")]
    text += ["[cutting]", f"kerf = {kerf}", cutting]
    path = folder / "job.toml"
    path.write_text("\n".join(text) + "\n")
    return path
