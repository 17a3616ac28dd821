"""3D view of a result, as triangles and lines that a browser can draw."""

from __future__ import annotations

import base64
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon

from silhouette3d.documents.pictures.render import visible_edges
from silhouette3d.documents.pictures.stages import moved_apart
from silhouette3d.geometry.frames import VIEWS, Array
from silhouette3d.geometry.mesh import Mesh
from silhouette3d.geometry.removal import stock_solid
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.tolerances import MERGE
from silhouette3d.part import Part
from silhouette3d.process.profile import Profile
from silhouette3d.workbench.protocol import Label, Shape
from silhouette3d.workbench.result import Result

Axis = Literal["x", "y", "z"]

AXES: Final[dict[Axis, int]] = {"x": 0, "y": 1, "z": 2}

_ACROSS: Final[dict[Axis, tuple[str, int]]] = {
    "x": ("front", 0),
    "y": ("right", 0),
    "z": ("front", 1),
}
"""For each axis a view that shows it in true length, and which of u and v it is."""

_PAST: Final = 0.05
"""Share of the stock's diagonal by which prisms stand out of it, so that one sees them."""


@dataclass(frozen=True)
class Section:
    """A plane to look inside: what lies beyond it is left out.

    Parameters
    ----------
    axis : {"x", "y", "z"}
        The direction it is square to.
    share : float
        Where it stands, as a share of the stock's length along the axis.
    keep : {"low", "high"}
        Which side stays.
    """

    axis: Axis
    share: float
    keep: Literal["low", "high"] = "low"


@dataclass(frozen=True)
class Wanted:
    """Choice of what is shown.

    Parameters
    ----------
    stage : int, optional
        A stage of the block instead of the part; 0 is the raw block.
    prisms : bool
        Each outline extruded along its view.
    section : Section, optional
        A plane to look inside.
    """

    stage: int | None = None
    prisms: bool = False
    section: Section | None = None


def shapes_of(result: Result, wanted: Wanted) -> list[Shape]:
    """List everything there is to draw.

    Parameters
    ----------
    result : Result
        As far as it is known.
    wanted : Wanted
        What the user asks to see.

    Returns
    -------
    list of dict
        Each with ``id``, ``role`` (which decides its look), ``move`` (mm along x, y, z by
        which it is moved when bodies are drawn apart) and ``state`` (as trame-vtk's mesh
        takes it).
    """
    cut = _Knife(result.part, wanted.section)
    shapes: list[Shape] = []
    if wanted.stage is None or result.stages is None:
        bodies = result.solid.bodies
        for i, body in enumerate(bodies):
            shapes += cut.body(f"part-{i}", "part" if i == 0 else "loose", body)
    else:
        shapes += _stage(result, min(wanted.stage, len(result.stages) - 1), cut)
    shapes += _body("stock", "stock", stock_solid(result.part.stock))
    if wanted.prisms:
        for i, profile in enumerate(result.part.profiles):
            shapes += _body(f"prism-{i}", "prism", _prism(profile, profile.area, _PAST))
    return shapes


def marks_of(result: Result, wanted: Wanted) -> list[Shape]:
    """Mark on the part lost regions, right through the block, and thin sections."""
    if wanted.stage is not None or result.findings is None:
        return []
    return [*_lost(result.part), *_thin(result.part)]


def labels_of(result: Result, wanted: Wanted) -> list[Label]:
    """Number marks at the places of findings: number, severity and x, y, z in mm."""
    if wanted.stage is not None:
        return []
    return [
        {"number": i, "severity": found.severity, "at": list(one.where)}
        for i, found in enumerate(result.findings or (), start=1)
        for one in found.each
        if one.where is not None
    ]


def eye_for(result: Result, profile: str | None) -> dict[str, list[float]] | None:
    """Find the look and up of the view a profile is seen in."""
    if profile is None or profile not in result.job.names:
        return None
    view = result.part.profile(profile).view
    return {"look": list(view.look), "up": list(view.up)}


def _stage(result: Result, index: int, cut: _Knife) -> Iterator[Shape]:
    assert result.stages is not None
    shown = result.stages[index]
    moves: Sequence[Array] = [np.zeros(3)] * len(shown.pieces)
    if index:
        stage = result.part.stages[index - 1]
        moves = moved_apart(stage, np.asarray(result.stock_size) / 2.0, 1.0)
    for i, (piece, move) in enumerate(zip(shown.pieces, moves, strict=True)):
        yield from cut.body(f"piece-{i}", piece.status, piece.solid, move)


def _lost(part: Part) -> Iterator[Shape]:
    for i, profile in enumerate(part.profiles):
        lost = part.lost(profile.name)
        if not lost.is_empty:
            yield from _body(f"lost-{i}", "lost", _prism(profile, lost, 0.0))


def _thin(part: Part) -> Iterator[Shape]:
    """Draw a box round each thin place, and a line across where it is thinnest."""
    lines: list[Array] = []
    for section in part.thin:
        region = section.region
        lines += [_box_lines(region.low, region.high), np.array([[region.p, region.q]])]
    if lines:
        yield _lines("thin", "thin", np.concatenate(lines))


def _box_lines(low: Array, high: Array) -> Array:
    """List the edges of a box in mm, (12, 2, 3)."""
    ends = [
        (a, b)
        for a in np.ndindex(2, 2, 2)
        for b in np.ndindex(2, 2, 2)
        if a < b and sum(x != y for x, y in zip(a, b, strict=True)) == 1
    ]
    return np.where(np.asarray(ends, bool), high, low)


def _prism(profile: Profile, area: MultiPolygon, past: float) -> Solid:
    """Extrude an area of a profile's face right through the block."""
    low, high = profile.face.depth
    more = past * (high - low)
    return Solid.prism(profile.to_view(area), profile.view, (low - more, high + more))


class _Knife:
    """Cuts bodies open along the section plane."""

    def __init__(self, part: Part, section: Section | None) -> None:
        self._section = section
        if section is None:
            return
        name, along = _ACROSS[section.axis]
        self._view = VIEWS[name]
        far = 10.0 * part.stock.diagonal
        self._at = section.share * part.stock.size[AXES[section.axis]]
        low, high = [-far, -far], [far, far]
        (high if section.keep == "low" else low)[along] = self._at
        self._area = MultiPolygon([shapely.box(low[0], low[1], high[0], high[1])])

    def body(
        self, name: str, role: str, solid: Solid, move: Array | None = None
    ) -> Iterator[Shape]:
        """Yield the shapes of one body, the faces of the cut apart from the others."""
        if self._section is None:
            yield from _body(name, role, solid, move)
            return
        kept = solid.within(self._area, self._view)
        if kept.is_empty:
            return
        mesh, axis = kept.mesh, AXES[self._section.axis]
        on_cut = (np.abs(mesh.corners[:, :, axis] - self._at) < MERGE).all(axis=1)
        yield _surface(name, role, Mesh(mesh.vertices, mesh.triangles[~on_cut]), move)
        if on_cut.any():
            yield _surface(
                f"{name}-cut", f"{role}-cut", Mesh(mesh.vertices, mesh.triangles[on_cut]), move
            )
        yield _lines(f"{name}-edge", f"{role}-edge", visible_edges(mesh), move)


def _body(name: str, role: str, solid: Solid, move: Array | None = None) -> Iterator[Shape]:
    """Yield a body as its surface and its edges."""
    if not solid.is_empty:
        yield _surface(name, role, solid.mesh, move)
        yield _lines(f"{name}-edge", f"{role}-edge", visible_edges(solid.mesh), move)


def _surface(name: str, role: str, mesh: Mesh, move: Array | None = None) -> Shape:
    used, triangles = np.unique(mesh.triangles, return_inverse=True)
    cells = np.insert(triangles.reshape(-1, 3), 0, 3, axis=1)
    state = {"points": _packed(mesh.vertices[used], "<f4"), "polys": _packed(cells, "<u4")}
    return _shape(name, role, state, move)


def _lines(name: str, role: str, ends: Array, move: Array | None = None) -> Shape:
    """Draw lines from their ends, (n, 2, 3) in mm."""
    cells = np.insert(np.arange(2 * len(ends)).reshape(-1, 2), 0, 2, axis=1)
    state = {"points": _packed(ends.reshape(-1, 3), "<f4"), "lines": _packed(cells, "<u4")}
    return _shape(name, role, state, move)


def _shape(name: str, role: str, mesh: dict[str, Any], move: Array | None) -> Shape:
    moved = [0.0, 0.0, 0.0] if move is None else [round(float(mm), 6) for mm in move]
    return {"id": name, "role": role, "move": moved, "state": {"mesh": mesh}}


_NAMES: Final = {"<f4": "float32", "<u4": "uint32"}


def _packed(values: NDArray[Any], kind: str) -> dict[str, Any]:
    """Pack numbers as the client unpacks them."""
    flat = np.ascontiguousarray(values, kind).ravel()
    text = base64.b64encode(flat.tobytes()).decode("ascii")
    return {"bvals": text, "dtype": _NAMES[kind], "shape": [flat.size]}
