"""A drawing for each setup: DXF in face coordinates, written all or none."""

from __future__ import annotations

import hashlib
import io
import json
import math
import os
import re
import secrets
import shutil
import unicodedata
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely
from shapely import LineString

from silhouette3d.base.files import one_line, refused
from silhouette3d.base.units import MM_PER, Unit
from silhouette3d.drawing.arcs.fit import as_arcs
from silhouette3d.drawing.arcs.pieces import Ring, bulge_of, flattened
from silhouette3d.drawing.model import FULL_TURN, Arc, Array, Line, Point, Sampled, polyline
from silhouette3d.errors import OutputError
from silhouette3d.model.results import Results
from silhouette3d.process.cut import Cut
from silhouette3d.process.leads import Hand
from silhouette3d.process.stages import Stage
from silhouette3d.process.toolpath import (
    FIT,
    Stretch,
    beside,
    lead_beside,
    lead_onto,
    outline_rings,
    path_rings,
    tab_shape,
    true_run,
)

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.layout import Modelspace

__all__ = [
    "INDEX",
    "LAYERS",
    "Layer",
    "SetupFile",
    "setup_file",
    "setup_files",
    "write_setups",
    "written_together",
]

# --- Several files that belong together: written all, or none


@contextmanager
def written_together(folder: str | os.PathLike[str]) -> Iterator[Path]:
    """Write files so that all of them appear in a folder, or none.

    The caller writes into the folder it is given, which is empty. When the
    ``with`` block ends well, a folder that did not exist takes the place of the
    draft at once. Into one that did, each file takes the place of the old one of
    its name at once, of which a copy is kept until all have been moved: if one
    cannot be, or somebody stops it, the old ones are put back. Other files there
    are left alone.

    Parameters
    ----------
    folder : str or path-like
        Made if it does not exist; the one above it must.

    Yields
    ------
    pathlib.Path
        Where to write.

    Raises
    ------
    OutputError
        If the name is that of a file, the folder above does not exist, or the
        system refuses to write.
    """
    where = os.fspath(folder)
    draft: Path | None = None
    try:
        target = _checked(where)
        new = not target.exists()
        draft = (target.parent if new else target) / f".{secrets.token_hex(8)}"
        draft.mkdir()
        yield draft
        if new:
            draft.rename(target)
        else:
            _moved_in(draft, target)
    except OSError as error:
        raise refused(error, "the files", where) from error
    finally:
        if draft is not None:
            shutil.rmtree(draft, ignore_errors=True)


def _checked(where: str) -> Path:
    """Find the real folder, which need not exist yet."""
    if "\0" in where:
        raise OutputError("the folder's name holds a null character", where=repr(where))
    target = Path(os.path.realpath(where))
    if target.exists() and not target.is_dir():
        raise OutputError(
            "this is a file, not a folder", where=where, todo="give the name of a folder"
        )
    if not target.parent.is_dir():
        raise OutputError(
            f"the folder {target.parent} does not exist",
            where=where,
            todo="create it, or choose another",
        )
    return target


def _moved_in(draft: Path, target: Path) -> None:
    """Move files into a folder; if one cannot be moved, put all back as they were."""
    aside = draft / "replaced"
    names = sorted(file.name for file in draft.iterdir())
    for name in names:
        if (target / name).is_dir():
            raise OutputError(
                f"{name} is a folder", where=str(target), todo="move it, or choose another place"
            )
    aside.mkdir()
    for name in names:
        if (target / name).exists():
            shutil.copy2(target / name, aside / name)
    done: list[str] = []
    try:
        for name in names:
            done.append(name)
            os.replace(draft / name, target / name)
    except BaseException:
        for name in done:
            _put_back(aside / name, target / name)
        raise


def _put_back(old: Path, place: Path) -> None:
    """Put the old file in its place again, or none if there was none."""
    with suppress(OSError):
        if old.exists():
            os.replace(old, place)
        elif place.is_file():
            place.unlink()


# --- A drawing for each setup: DXF in face coordinates, the datum at its origin
#
# What lies on which layer is told in `LAYERS`. The names are those that a job
# takes by itself, so a job file may point at such a drawing as it is: the
# rectangle on ``STOCK`` puts it on the datum, the shapes on ``TABS`` are its tabs,
# and the lines on ``OUTLINE`` and ``UNCUT`` make up its outline. The other layers
# are marked as not plotted, which is how a reader knows that they are no outline.


DIGITS: Final = 12
"""Decimals of a coordinate: even in inches far finer than the grid of placed outlines."""

LEAST: Final = 0.01
"""mm. Shorter pieces are not drawn: controllers stumble over them (common practice, no source)."""

MARK: Final = 0.05
"""Arms of the datum mark, as a share of the longer side of the face."""

NAME_LENGTH: Final = 40
"""Characters of a profile's name that go into a file's name."""

_CODES: Final[dict[Unit, tuple[int, int]]] = {"mm": (4, 1), "in": (1, 0)}
"""$INSUNITS and $MEASUREMENT, as the DXF reference has them."""


Corner = tuple[float, float, float]
"""u, v, and the bulge of the piece behind it."""


@dataclass(frozen=True)
class Layer:
    """A layer of a setup's drawing.

    Parameters
    ----------
    colour : int
        Colour number of DXF (ACI).
    meaning : str
        One sentence, kept in the file as the layer's description.
    plotted : bool
        Whether it is printed, and read as part of an outline.
    """

    colour: int
    meaning: str
    plotted: bool = True


LAYERS: Final[dict[str, Layer]] = {
    "OUTLINE": Layer(7, "the outline of the part, left out at tabs, as it is cut"),
    "UNCUT": Layer(1, "the outline where tabs stay: not to be cut"),
    "TABS": Layer(3, "what stays of the kerf at a tab"),
    "STOCK": Layer(8, "the face of the stock, its lower left corner on the datum"),
    "SHADOW": Layer(9, "the stock as seen from here, where it does not fill its face", False),
    "DATUM": Layer(4, "the datum of this setup, at 0,0", False),
    "LEADS": Layer(5, "leads onto and off the outline, for a machine that compensates", False),
    "PATH": Layer(6, "the middle of the cutter, half a kerf off the outline, with leads", False),
    "STARTS": Layer(2, "where the cutter is started, with the number of the run", False),
}
"""What lies on which layer; SHADOW only where it differs from STOCK."""

INDEX: Final = "setups.json"
"""The file that lists the drawings."""


@dataclass(frozen=True)
class SetupFile:
    """A drawing of a setup as it is written.

    Parameters
    ----------
    name : str
        Of the file.
    setup : str
        The profile that is cut.
    data : bytes
        What is in it.
    """

    name: str
    setup: str
    data: bytes

    @property
    def sha256(self) -> str:
        """Digest of the file, in hexadecimal digits."""
        return hashlib.sha256(self.data).hexdigest()

    @property
    def short_digest(self) -> str:
        """As much of the digest as people compare."""
        return self.sha256[:8]


def write_setups(part: Results, folder: str | os.PathLike[str]) -> tuple[Path, ...]:
    """Write a DXF drawing (R2010) for each setup, in the order of the cuts, and their index.

    Lengths are in the job's units. Lines and arcs of circles are those of the
    designer's drawing; arcs within half the job's tolerance stand for other
    curves. The path is half a kerf off these, to the tolerance; within three times
    the tolerance where it cannot be worked out (`path_rings` says how).

    Parameters
    ----------
    part : Results
        With its cuts.
    folder : str or path-like
        Made if it does not exist. Files of other names in it are left alone.

    Returns
    -------
    tuple of Path
        The drawings, in the order of the cuts. Beside them `setups.json` lists them, each with
        its SHA-256.

    Raises
    ------
    CuttingError
        If a tab of the job touches no outline.
    OutputError
        If the files cannot be written; then none is.
    """
    files = setup_files(part)
    with written_together(folder) as draft:
        for file in files:
            (draft / file.name).write_bytes(file.data)
        (draft / INDEX).write_text(_index(part, files), "utf-8")
    return tuple(Path(folder) / file.name for file in files)


def setup_files(part: Results) -> tuple[SetupFile, ...]:
    """Draw the setups of a part: one part always gives one run of bytes."""
    return tuple(setup_file(part, number) for number in range(1, len(part.stages) + 1))


def setup_file(part: Results, number: int) -> SetupFile:
    """Draw one setup, counted from 1."""
    order, stage = part.job.order, part.stages[number - 1]
    names = file_names(order, part.job.name)
    with _timeless():
        drawn = _drawn(stage, f"{number} of {len(names)}: {stage.cut.name}", part.job.units)
        return SetupFile(names[number - 1], order[number - 1], _bytes(drawn))


def _index(part: Results, files: Sequence[SetupFile]) -> str:
    listed = [
        {"number": number, "setup": file.setup, "file": file.name, "sha256": file.sha256}
        for number, file in enumerate(files, start=1)
    ]
    index = {"job": part.job.name, "units": part.job.units, "setups": listed}
    return json.dumps(index, ensure_ascii=False, indent=2) + "\n"


def _bytes(document: Drawing) -> bytes:
    """Encode a drawing, its classes always in one order: the library keeps them in a set."""
    classes = document.classes
    classes.add_required_classes(document.dxfversion)
    classes.classes = dict(sorted(classes.classes.items()))
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode(document.output_encoding, errors="dxfreplace")


@contextmanager
def _timeless() -> Iterator[None]:
    """Let the library note neither the hour nor numbers of chance, which differ each time."""
    from ezdxf._options import options  # the package itself exports it to no type checker

    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def file_names(names: Sequence[str], job: str = "") -> list[str]:
    """Make names that sort in the order of the cuts and that any file system takes.

    >>> file_names(["front", "Süd/Ost", "../.."], "Tug No. 4")
    ['Tug-No-4-01-front.dxf', 'Tug-No-4-02-Sud-Ost.dxf', 'Tug-No-4-03.dxf']
    """
    digits = max(2, len(str(len(names))))
    return [
        "-".join(filter(None, [_as_name(job), f"{number:0{digits}}", _as_name(name)])) + ".dxf"
        for number, name in enumerate(names, start=1)
    ]


def _as_name(name: str) -> str:
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    return re.sub(r"[^A-Za-z0-9]+", "-", plain)[:NAME_LENGTH].strip("-")


def _drawn(stage: Stage, title: str, unit: Unit) -> Drawing:
    """Make the drawing of one setup."""
    cut, side = stage.cut, stage.driving.side
    paper = _Paper(unit)
    outline = outline_rings(cut)
    rings = path_rings(cut, outline)
    path = [true_run(run, rings, side) for run in stage.runs]
    driven, uncut = _beside(outline, path, side, cut.tolerance)
    paper.drive([some for stretches in driven for some in stretches], "OUTLINE")
    paper.drive(uncut, "UNCUT")
    for tab in cut.tabs:
        paper.draw([_closed(tab_shape(cut, tab))], "TABS")
    width, height = cut.profile.face.size
    paper.draw([_closed(np.array([(0, 0), (width, 0), (width, height), (0, height)]))], "STOCK")
    paper.draw(_shadow(cut), "SHADOW")
    arm = MARK * max(width, height)
    paper.mark(arm, f"{title} ({unit})")
    off = cut.kerf / 2.0 if side == "left" else -cut.kerf / 2.0
    for number, (run, main, lines) in enumerate(zip(stage.runs, path, driven, strict=True), 1):
        into = [lead_onto(run.lead_in, main)] if run.lead_in else []
        away = [lead_onto(run.lead_out, main)] if run.lead_out else []
        paper.follow([*into, main, *away], "PATH")
        if lines:
            paper.drive([lead_beside(lead, main, lines[0], off) for lead in into], "LEADS")
            paper.drive(
                [lead_beside(lead, main, lines[-1], off, out=True) for lead in away], "LEADS"
            )
        paper.start((into or [main])[0].start, number, arm / 4.0)
    return paper.finished()


def _beside(
    outline: Sequence[Ring], path: Sequence[Stretch], side: Hand, tolerance: float
) -> tuple[list[list[Stretch]], tuple[Stretch, ...]]:
    """Part the outline into what each run is beside, in its direction, and the rest."""
    ways = path if side == "left" else [run.reversed for run in path]
    # the feet of its true ends: those of the simulated path's are off along a curve
    lines = [LineString(flattened(one.pieces, tolerance)) for one in ways]
    found = [list(beside(outline, [line])[0]) for line in lines]
    if side == "right":
        found = [[some.reversed for some in stretches[::-1]] for stretches in found]
    return found, beside(outline, lines)[1]


def _closed(corners: Array) -> Stretch:
    points = [(float(u), float(v)) for u, v in corners]
    return Stretch(polyline(points, closed=True), closed=True)


def _shadow(cut: Cut) -> list[Stretch]:
    """Find the stock as seen in this view, if that is not the rectangle of its face."""
    face, stock, view = cut.profile.face, cut.stock, cut.profile.view
    shadow = stock.shadow(view)
    if shapely.equals_exact(
        shapely.normalize(shadow), shapely.normalize(shapely.envelope(shadow)), cut.tolerance
    ):
        return []
    if stock.diameter is not None and stock.axis_view.is_parallel(view):
        radius = stock.diameter / 2.0
        return [Stretch((Arc.circular((face.size[0] / 2.0, face.size[1] / 2.0), radius),), True)]
    around = Sampled(tuple((u, v) for u, v in shadow.exterior.coords), cut.tolerance)
    return [Stretch(as_arcs(around, FIT * cut.tolerance), closed=True)]


class _Paper:
    """A DXF document to draw on, in mm; it holds the job's units."""

    def __init__(self, unit: Unit) -> None:
        from ezdxf.filemanagement import new

        self.document = new("R2010")
        self.document.header["$INSUNITS"], self.document.header["$MEASUREMENT"] = _CODES[unit]
        for name, layer in LAYERS.items():
            made = self.document.layers.add(name, color=layer.colour)
            made.description = layer.meaning
            made.dxf.plot = int(layer.plotted)
        self.space: Modelspace = self.document.modelspace()
        self._unit = MM_PER[unit]

    def _at(self, point: Point) -> Point:
        u, v = (round(value / self._unit, DIGITS) + 0.0 for value in point)
        return u, v

    def draw(self, stretches: Sequence[Stretch], layer: str) -> None:
        """Draw circles as such, everything else as polylines with bulges."""
        on = {"layer": layer}
        for stretch in stretches:
            first = stretch.pieces[0]
            if len(stretch.pieces) == 1 and stretch.closed and isinstance(first, Arc):
                radius = float(np.hypot(*first.axis_u)) / self._unit
                self.space.add_circle(self._at(first.centre), round(radius, DIGITS), dxfattribs=on)
                continue
            vertices = _corners(stretch)[: -1 if stretch.closed else None]
            self._polyline(vertices, layer, close=stretch.closed)

    def drive(self, stretches: Sequence[Stretch], layer: str) -> None:
        """Open polylines with bulges, from where each begins to where it ends, without specks."""
        for stretch in stretches:
            vertices = _without_specks(_corners(stretch))
            if len(vertices) > 1:
                self._polyline(vertices, layer, close=False)

    def follow(self, chain: Sequence[Stretch], layer: str) -> None:
        """Draw one open polyline along stretches, each beginning where the one before it ends."""
        corners = [_corners(stretch) for stretch in chain]
        joined = [*(corner for some in corners[:-1] for corner in some[:-1]), *corners[-1]]
        vertices = _without_specks(joined)
        if len(vertices) > 1:
            self._polyline(vertices, layer, close=False)

    def start(self, point: Point, number: int, height: float) -> None:
        """Draw a point where a run begins, and its number."""
        on = {"layer": "STARTS"}
        self.space.add_point(self._at(point), dxfattribs=on)
        text = self.space.add_text(str(number), height=height / self._unit, dxfattribs=on)
        text.set_placement(self._at(point))

    def _polyline(self, corners: Sequence[Corner], layer: str, *, close: bool) -> None:
        vertices = [(*self._at((u, v)), bulge) for u, v, bulge in corners]
        self.space.add_lwpolyline(vertices, "xyb", close=close, dxfattribs={"layer": layer})

    def finished(self) -> Drawing:
        """Finish the document: put what it reaches to into its header."""
        from ezdxf.bbox import extents

        box = extents(self.space)
        if box.has_data:
            self.space.reset_extents(box.extmin, box.extmax)
        return self.document

    def mark(self, arm: float, title: str) -> None:
        """Cross and circle on the datum, and what this drawing is of."""
        on = {"layer": "DATUM"}
        for u, v in ((arm, 0.0), (0.0, arm)):
            self.space.add_line(self._at((-u, -v)), self._at((u, v)), dxfattribs=on)
        self.space.add_circle((0.0, 0.0), self._at((arm / 2.0, 0.0))[0], dxfattribs=on)
        size = arm / 2.0 / self._unit
        for text, height in (("0,0", size), (title, size)):
            row = -1.5 * arm if text == "0,0" else -2.5 * arm
            writing = self.space.add_text(one_line(text), height=height, dxfattribs=on)
            writing.set_placement(self._at((0.0, row)))


def _corners(stretch: Stretch) -> list[Corner]:
    """List where pieces of a stretch begin, and its end, each with the bulge of what follows."""
    pieces = [half for piece in stretch.pieces for half in _at_most_half(piece)]
    end = pieces[0].start if stretch.closed else pieces[-1].end
    return [*((*piece.start, bulge_of(piece)) for piece in pieces), (*end, 0.0)]


def _without_specks(corners: Sequence[Corner]) -> list[Corner]:
    """Leave out pieces shorter than `LEAST`; what follows begins where they did."""
    left = [corners[0]]
    for corner in corners[1:]:
        u, v, bulge = left[-1]
        half = 2.0 * math.atan(bulge)  # a bulge is the tangent of a quarter of the angle
        longer = half / math.sin(half) if half else 1.0
        if math.dist((u, v), corner[:2]) * longer >= LEAST:
            left.append(corner)
        else:
            left[-1] = (u, v, corner[2])
    if left[-1] != corners[-1]:
        left[-1] = corners[-1]  # the end stays where it is
    return left


def _at_most_half(piece: Line | Arc) -> tuple[Line | Arc, ...]:
    """Part a piece in two if it turns by more than half a circle: a bulge grows without limit."""
    if isinstance(piece, Line) or abs(piece.end_angle - piece.start_angle) <= FULL_TURN / 2.0:
        return (piece,)
    middle = (piece.start_angle + piece.end_angle) / 2.0
    return (
        Arc(piece.centre, piece.axis_u, piece.axis_v, piece.start_angle, middle),
        Arc(piece.centre, piece.axis_u, piece.axis_v, middle, piece.end_angle),
    )
