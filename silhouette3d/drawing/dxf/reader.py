"""Read a DXF drawing: walk its blocks, gather what is visible in model space, in millimetres."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NoReturn

import numpy as np

from silhouette3d.base.limits import FARTHEST, NESTING, OBJECTS
from silhouette3d.base.units import DXF_UNITS, MM_PER, Unit
from silhouette3d.drawing.dxf.clip import CannotClipError, clip_of, clipped, within
from silhouette3d.drawing.dxf.document import open_dxf
from silhouette3d.drawing.dxf.entities import (
    READABLE,
    Chain,
    EntityFrame,
    NotLevelError,
    chains,
    kind_of,
)
from silhouette3d.drawing.dxf.look import DxfLook, Looks, attribute
from silhouette3d.drawing.dxf.text import UnsettableError, writings_of
from silhouette3d.drawing.model import (
    Arc,
    Array,
    Bezier,
    Curve,
    Drawing,
    Fault,
    FillRule,
    Line,
    Piece,
    Sampled,
    Shape,
    Writing,
)
from silhouette3d.errors import DrawingError

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

__all__ = ["DxfWalk", "counted", "read_dxf"]

# --- A walk through a DXF document, block by block, that gathers what is visible


_NO_OUTLINE: Final = frozenset(
    {
        "3DSOLID",
        "ACAD_TABLE",
        "ARCALIGNEDTEXT",
        "ARC_DIMENSION",
        "ATTDEF",
        "BODY",
        "DGNUNDERLAY",
        "DIMENSION",
        "DWFUNDERLAY",
        "EXTRUDEDSURFACE",
        "GEOPOSITIONMARKER",
        "IMAGE",
        "LARGE_RADIAL_DIMENSION",
        "LEADER",
        "LIGHT",
        "LOFTEDSURFACE",
        "MLEADER",
        "MULTILEADER",
        "OLE2FRAME",
        "OLEFRAME",
        "PDFUNDERLAY",
        "POINT",
        "POSITIONMARKER",
        "REVOLVEDSURFACE",
        "RTEXT",
        "SECTION",
        "SUN",
        "SURFACE",
        "SWEPTSURFACE",
        "TABLE",
        "TOLERANCE",
        "VIEWPORT",
        "WIPEOUT",
    }
)
"""Kinds of objects that are never part of an outline: writing, pictures, solids."""


@dataclass
class DxfWalk:
    """One walk through a document, and what came up on the way."""

    path: Path
    tolerance: float
    looks: Looks
    shapes: list[Shape] = field(default_factory=list)
    writings: list[Writing] = field(default_factory=list)
    most: int = field(default_factory=lambda: OBJECTS.value)
    deepest: int = field(default_factory=lambda: NESTING.value)
    visited: int = 0
    invisible: int = 0
    pointlike: int = 0
    wide: int = 0
    clipped: int = 0
    faults: dict[str, Fault] = field(default_factory=dict)
    faulty: Counter[str] = field(default_factory=Counter)
    unclipped: Counter[tuple[str, str]] = field(default_factory=Counter)
    no_outline: Counter[str] = field(default_factory=Counter)
    unread: Counter[tuple[str, str]] = field(default_factory=Counter)
    hidden: Counter[tuple[str, str]] = field(default_factory=Counter)

    def through(
        self,
        entities: Iterable[Any],
        frame: EntityFrame,
        block: DxfLook | None,
        blocks: tuple[str, ...],
    ) -> None:
        """Read objects that lie in a frame.

        Parameters
        ----------
        entities : iterable of DXFEntity
            Of a layout or a block.
        frame : EntityFrame
            That they lie in.
        block : DxfLook, optional
            Of the block reference that shows them.
        blocks : tuple of str
            Names of the blocks that they lie in, outermost first.
        """
        for entity in entities:
            self._count(entity)
            look = self.looks.of(entity, block)
            state = look.layer.state
            if attribute(entity, "invisible", 0):
                self.invisible += 1
            elif entity.dxftype() == "INSERT" and state != "frozen":
                # A layer that is off or not plotted hides only what takes it from here.
                self._insert(entity, frame, look, blocks)
            elif state:
                self.hidden[state, look.layer.name] += 1
            else:
                self._read(entity, frame, look)

    def _count(self, entity: Any, more: int = 1) -> None:
        self.visited += more
        if self.visited > self.most:
            what = f"there are more than {self.most:,} objects and pieces, blocks counted each time"
            todo = f"leave out what does not belong to the outline, {OBJECTS.raised}"
            self._refuse(entity, attribute(entity, "layer", "0"), what, todo)

    def _read(self, entity: Any, frame: EntityFrame, look: DxfLook) -> None:
        kind, layer = kind_of(entity), look.layer.name
        if kind in ("TEXT", "MTEXT"):
            self._write(entity, frame, look)
            return
        if kind in _NO_OUTLINE:
            self.no_outline[kind] += 1
            return
        if kind not in READABLE:
            self.unread[kind, layer] += 1
            return
        found = self._chains(entity, frame, layer)
        if found is None:
            return
        self._count(entity, sum(map(len, found)))
        self.wide += kind in ("LWPOLYLINE", "POLYLINE") and bool(entity.has_width)
        source = f"{kind} #{entity.dxf.handle}"
        curves = tuple(Curve(chain, layer, source) for chain in found)
        filled = kind == "HATCH"
        if curves:
            linetype = None if filled else look.linetype
            fill: FillRule | None = "evenodd" if filled else None
            self.shapes.append(Shape(curves, fill, look.colour, linetype))
        else:
            self.pointlike += 1

    def _chains(self, entity: Any, frame: EntityFrame, layer: str) -> tuple[Chain, ...] | None:
        """Make the chains of an object, or nothing of one that is left out for now."""
        try:
            with np.errstate(all="ignore"):  # whatever comes of it is checked
                found = chains(entity, frame, self.tolerance)
            wrong = _beyond_reach(piece for chain in found for piece in chain)
            todo = "check the unit of the drawing, or redraw it"
        except NotLevelError as error:
            if entity.dxftype() == "POLYLINE" and entity.is_3d_polyline:
                self.unread["POLYLINE in space", layer] += 1
                return None
            wrong = str(error)
            todo = "flatten it onto the xy plane, freeze its layer, or name the outline's layer"
        except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
            wrong, todo = f"it cannot be read: {error}", "redraw it"
        if wrong:
            self._leave(entity, layer, wrong, todo)
            return None
        return found

    def _insert(
        self, insert: Any, frame: EntityFrame, look: DxfLook, blocks: tuple[str, ...]
    ) -> None:
        layer = look.layer.name
        self._attributes(insert, frame, look)
        name = insert.dxf.get("name", "")
        block = insert.block() if name else None
        if block is None:
            self.unread[f"reference to no block ({name!r})", layer] += 1
            return
        if block.block.is_xref or block.block.is_xref_overlay:
            self.unread["reference to another file", layer] += 1
            return
        todo = "explode the block references in the drawing program"
        if name.casefold() in blocks:
            self._refuse(insert, layer, f"block {name!r} inserts itself", todo)
        if len(blocks) >= self.deepest:
            what = f"block {name!r} lies more than {self.deepest} deep"
            self._refuse(insert, layer, what, f"{todo}, {NESTING.raised}")
        for matrix in self._places(insert, layer):
            self._count(insert)
            if not np.isfinite(matrix).all():
                self._refuse(insert, layer, "its place is no finite number", "insert it again")
            self._place(insert, block, frame.within(matrix), look, blocks)

    def _place(
        self, insert: Any, block: Any, frame: EntityFrame, look: DxfLook, blocks: tuple[str, ...]
    ) -> None:
        """Read a block as it is placed once, and cut off what its clipping path leaves out."""
        shapes, writings = len(self.shapes), len(self.writings)
        name = insert.dxf.name
        self.through(block, frame, look, (*blocks, name.casefold()))
        try:
            area = clip_of(insert, frame)
            if area is not None:
                self.shapes[shapes:] = clipped(self.shapes[shapes:], area, self.tolerance)
                self.writings[writings:] = within(self.writings[writings:], area)
                self.clipped += 1
        except CannotClipError as error:
            self.unclipped[name, str(error)] += 1

    def _attributes(self, insert: Any, frame: EntityFrame, look: DxfLook) -> None:
        """Read the text that a block reference carries, once for all its rows and columns."""
        for attrib in insert.attribs:
            self._count(attrib)
            own = self.looks.of(attrib, look)
            if attrib.is_invisible or attribute(attrib, "invisible", 0):
                self.invisible += 1
            elif own.layer.state:
                self.hidden[own.layer.state, own.layer.name] += 1
            else:
                self._write(attrib, frame, own)

    def _write(self, entity: Any, frame: EntityFrame, look: DxfLook) -> None:
        """Keep the lines of a text; one that cannot be set is counted with what is ignored."""
        try:
            with np.errstate(all="ignore"):  # what comes of it is checked
                lines = writings_of(entity, frame, look.layer.name, look.colour)
        except UnsettableError:
            self.no_outline[entity.dxftype()] += 1
            return
        self._count(entity, sum(len(line.text) for line in lines))
        self.writings += lines

    def _places(self, insert: Any, layer: str) -> Iterable[Array]:
        try:
            yield from _placements(insert)
        except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
            self._refuse(insert, layer, f"it cannot be placed: {error}", "insert it again")

    def _leave(self, entity: Any, layer: str, what: str, todo: str) -> None:
        """Leave out an object that belongs among the shapes; who takes its layer is told why."""
        self.faulty[layer] += 1
        if layer not in self.faults:
            self.faults[layer] = Fault(layer, self._error(entity, layer, what, todo))

    def _error(self, entity: Any, layer: str, what: str, todo: str) -> DrawingError:
        where = f"{self.path}, layer {layer!r}, {kind_of(entity)} #{entity.dxf.handle}"
        return DrawingError(what, where=where, todo=todo)

    def _refuse(self, entity: Any, layer: str, what: str, todo: str) -> NoReturn:
        raise self._error(entity, layer, what, todo)

    def notes(self) -> list[str]:
        """Tell what was ignored, one sentence for each reason."""
        found = []
        if self.no_outline:
            kinds = sorted(self.no_outline.items())
            found.append("ignored " + ", ".join(f"{n} {kind}" for kind, n in kinds))
        for state in ("frozen", "off", "not plotted"):
            on = {layer: n for (why, layer), n in self.hidden.items() if why == state}
            if on:
                names = ", ".join(map(repr, sorted(on)))
                layers = "a layer that is" if len(on) == 1 else "layers that are"
                count = counted(sum(on.values()), "object")
                found.append(f"ignored {count} on {layers} {state}: {names}")
        if self.invisible:
            found.append(f"ignored {counted(self.invisible, 'invisible object')}")
        if self.pointlike:
            found.append(f"ignored {counted(self.pointlike, 'object')} without length")
        if self.wide:
            count = counted(self.wide, "polyline")
            found.append(f"took the centre line of {count} drawn with a width")
        if self.clipped:
            count = counted(self.clipped, "block reference")
            found.append(f"clipped {count}; closed lines that were cut are closed along the path")
        for (name, why), times in sorted(self.unclipped.items()):
            references = counted(times, "reference")
            found.append(
                f"{references} to block {name!r} not clipped, its clipping path cannot be "
                f"followed: {why}; explode and trim what is to be seen of it"
            )
        if self.faulty:
            listed = [f"{n} on {layer!r}" for layer, n in sorted(self.faulty.items())]
            found.append(f"left out objects that cannot be read: {', '.join(listed)}")
        if self.unread:
            listed = [
                f"{n} {kind} on {layer!r}" for (kind, layer), n in sorted(self.unread.items())
            ]
            found.append(
                f"could not use {', '.join(listed)}; if the outline needs them, redraw them "
                "as lines, arcs or polylines"
            )
        return found


def counted(count: int, noun: str) -> str:
    """Write a number with its noun."""
    return f"{count} {noun}{'s' * (count != 1)}"


def _placements(insert: Any) -> Iterable[Array]:
    """Yield the matrix (4, 4) of each place of a block reference: one, or rows and columns.

    The steps between rows and columns turn with the reference but are not scaled;
    where they are 0, all copies lie on the first.
    """
    from ezdxf.math import Vec3

    dxf = insert.dxf
    first = np.array(list(insert.matrix44()), float).reshape(4, 4).T  # ezdxf's are row vectors
    rows, columns = dxf.row_count, dxf.column_count
    for row in range(max(1, rows) if dxf.row_spacing else 1):
        for column in range(max(1, columns) if dxf.column_spacing else 1):
            step = Vec3(column * dxf.column_spacing, row * dxf.row_spacing).rotate_deg(dxf.rotation)
            matrix = first.copy()
            matrix[:3, 3] += insert.ocs().to_wcs(step).xyz
            yield matrix


def _beyond_reach(pieces: Iterable[Piece]) -> str:
    """Measure how far beyond the limit some pieces reach, if they do."""
    for piece in pieces:
        points = _marks(piece)
        bad = ~(np.abs(points) <= FARTHEST).all(axis=1)  # not a number counts as bad
        if bad.any():
            x, y = points[bad][0]
            if not (math.isfinite(x) and math.isfinite(y)):
                return f"a coordinate is not a finite number: ({x:g}, {y:g})"
            return f"it reaches to ({x:g}, {y:g}) mm, farther than {FARTHEST:g} mm"
    return ""


def _marks(piece: Piece) -> Array:
    """List points (n, 2) that show how far a piece reaches."""
    match piece:
        case Arc():
            # nine points miss no more than 1 - cos(22.5 degrees) of what the arc spans
            t = np.linspace(piece.start_angle, piece.end_angle, 9)
            axes = np.array([piece.axis_u, piece.axis_v])
            return np.asarray(np.column_stack([np.cos(t), np.sin(t)]) @ axes + piece.centre)
        case Bezier():
            return np.array([piece.start, piece.control_1, piece.control_2, piece.end])
        case Line():
            return np.array([piece.start, piece.end])
        case Sampled():
            return np.array(piece.points)


# --- Reading a DXF drawing: what is visible in model space, as curves in millimetres


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
        walk = DxfWalk(path, tolerance, Looks(document))
        walk.through(document.modelspace(), EntityFrame.scaled(scale), None, ())
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
    """Read the unit's name, mm in one, whether the file states it, and a note."""
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
