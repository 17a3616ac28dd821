"""Page 1: what part it is, what it weighs, and whether it may be cut."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely

from silhouette3d.base.quantities import Scale
from silhouette3d.base.units import percent
from silhouette3d.checks.finding import Finding
from silhouette3d.documents.pictures.caption import counts
from silhouette3d.documents.pictures.face import part_in_stock
from silhouette3d.documents.pictures.render import SOLID, CameraFrame
from silhouette3d.documents.setup_sheets.block_pictures import NO_PICTURE, Gallery
from silhouette3d.documents.setup_sheets.plot import (
    LEVEL,
    Item,
    Plot,
    dimension,
    image,
    sketch,
    words,
)
from silhouette3d.geometry.frames import VIEWS
from silhouette3d.job.model import ProfileSpec
from silhouette3d.model.results import Results
from silhouette3d.presentation.theme import INK, ISO, OUTLINE, PART, SEVERITY, SIGNS
from silhouette3d.presentation.turning import LETTERS
from silhouette3d.presentation.wording.words import listed

# --- The finished part: a shaded picture in its stock, and three views with outer dimensions


THREE: Final = ("front", "right", "top")
_MARGIN: Final = (LEVEL + 3.0, 2.0, LEVEL + 3.0, 5.0)


def part_picture(part: Results, gallery: Gallery, room: tuple[float, float]) -> Item | None:
    """Draw the part in its stock in some room of paper (mm); None where the machine cannot draw."""
    solids = part_in_stock(part)
    points = np.concatenate([mesh.vertices for mesh, _ in solids])
    frame = CameraFrame.around(ISO, points, room[0] / room[1], room=0.02)
    name = gallery.draw("part", solids, frame, room[0])
    if name is None:
        return None
    return sketch(room, [image((0.0, 0.0), room, name)])


def view_pictures(
    part: Results, gallery: Gallery, room: tuple[float, float]
) -> list[list[list[Item]]]:
    """Draw front, right and top view at one scale, with outer dimensions, as far as worth it.

    Side by side in some room of paper comes last. Before it comes, where the views of a long or
    flat part become much larger so, the top above the front, as in third angle projection, and
    the right view beside or below that; the page then takes it if it has the room.
    """
    low, high = part.solid.bounds
    spans = {}
    for name in THREE:
        flat = VIEWS[name].to_view([low, high])[:, :2]
        spans[name] = (_pair(flat.min(axis=0)), _pair(flat.max(axis=0)))
    abreast, *stacked = (
        (_scale(spans, rows, part.scale, (room[0], room[1] * taller)), rows)
        for rows, taller in _ROWS
    )
    best = max(stacked)
    ways = [best, abreast] if best[0] > _WORTH * abreast[0] else [abreast]
    return [
        [
            [_view(part, gallery, name, Plot(*spans[name], scale, _MARGIN), way) for name in row]
            for row in rows
        ]
        for way, (scale, rows) in enumerate(ways)
    ]


_ROWS: Final = (
    ((("front", "right", "top"),), 1.0),
    ((("top",), ("front", "right")), 1.5),
    ((("top",), ("front",), ("right",)), 1.8),
)
"""Ways to lay the views, and how much taller their room may be."""

_WORTH: Final = 1.25
"""How much larger the views must become for more rows of them."""

GAP: Final = 5.0
"""mm of paper between views, across and up."""

_Spans = dict[str, tuple[tuple[float, float], tuple[float, float]]]


def _scale(
    spans: _Spans, rows: tuple[tuple[str, ...], ...], say: Scale, room: tuple[float, float]
) -> float:
    """Find the largest scale at which rows of views, with words beside them, fit their room."""
    smallest, largest = 0.0, _LARGEST * max(room)
    for _ in range(_HALVINGS):
        scale = (smallest + largest) / 2.0
        sizes = {n: _size(Plot(*span, scale, _MARGIN), say) for n, span in spans.items()}
        wide = max(sum(sizes[n][0] for n in row) + GAP * (len(row) - 1) for row in rows)
        tall = sum(max(sizes[n][1] for n in row) for row in rows) + GAP * (len(rows) - 1)
        if wide <= room[0] and tall <= room[1]:
            smallest = scale
        else:
            largest = scale
    return smallest


_HALVINGS: Final = 50

_LARGEST: Final = 1000.0
"""Scale for each mm of room: even a part of 0.01 mm is drawn a tenth of the room large."""


def _size(plot: Plot, say: Scale) -> tuple[float, float]:
    """Measure a view with its dimensions: width and height in mm of paper."""
    picture = plot.picture(_dimensions(plot, say))
    return float(picture["width"]), float(picture["height"])


def _dimensions(plot: Plot, say: Scale) -> list[Item]:
    (u0, v0), (u1, v1) = plot.low, plot.high
    return [
        *dimension(plot, (u0, v0), (u1, v0), "below", 1, say.own(u1 - u0)),
        *dimension(plot, (u0, v0), (u0, v1), "left", 1, say.own(v1 - v0)),
    ]


def _view(part: Results, gallery: Gallery, name: str, plot: Plot, way: int) -> Item:
    view = VIEWS[name]
    (u0, v0), (u1, v1) = plot.low, plot.high
    size = ((u1 - u0) * plot.scale, (v1 - v0) * plot.scale)
    frame = CameraFrame(view, plot.low, plot.high)
    file = gallery.draw(f"view-{name}-{way}", [(part.solid.mesh, SOLID)], frame, size[0])
    items: list[Item] = []
    if file is not None:
        items.append(image((plot.margin[0], plot.margin[3]), size, file))
    shadow = part.solid.shadow(view)
    items.append(plot.area(shadow, line=INK if file else OUTLINE, fill=None if file else PART))
    items += _dimensions(plot, part.scale)
    middle = shapely.box(u0, v0, u1, v1).centroid.x
    items.append(words((plot.spot((middle, v1))[0], 2.0), name, 7.5, bold=True))
    return plot.picture(items)


def _pair(values: np.ndarray) -> tuple[float, float]:
    return float(values[0]), float(values[1])


# --- Page 1: what part it is, what it weighs, and whether it may be cut


Row = tuple[str, str]

_PICTURE: Final = (82.0, 68.0)
_VIEWS: Final = 58.0
"""mm of paper: room of the shaded picture, and height of the three views."""

EXACT: Final = ", exact for the outlines as drawn"

CANNOT: Final = "the cuts cannot be simulated"


def part_page(
    part: Results,
    findings: tuple[Finding, ...],
    trouble: str,
    gallery: Gallery,
    width: float,
    say: Scale,
) -> dict[str, Any]:
    """Gather what the template needs for page 1.

    Parameters
    ----------
    part : Results
        What is made.
    findings : tuple of Finding
        Worst first.
    trouble : str
        Why the cuts cannot be simulated, or nothing.
    gallery : Gallery
        Draws the pictures.
    width : float
        mm of paper between the margins.
    say : Scale
        Tells numbers.
    """
    return {
        "facts": facts(part, say),
        "picture": part_picture(part, gallery, _PICTURE),
        "no_picture": NO_PICTURE,
        "views": view_pictures(part, gallery, (width, _VIEWS)),
        "setups": _setups(part),
        "reasons": reasons(part, findings, trouble, say),
        "counts": ["not checked"] if trouble else [words for _, _, words in counts(findings)],
        "findings": [_row(part, f, say) for f in findings if not _forbids(f)],
        "notes": [
            f"{spec.drawing}: {note}."
            for profile, spec in zip(part.profiles, part.job.profile, strict=True)
            for note in profile.outline.notes
        ],
    }


def reasons(
    part: Results, findings: tuple[Finding, ...], trouble: str, say: Scale
) -> list[dict[str, str]]:
    """List why the part must not be cut: a code, what is wrong, what to do; none if it may be."""
    errors = [_row(part, finding, say) for finding in findings if _forbids(finding)]
    if trouble:
        errors.insert(0, {"code": CANNOT, "message": trouble, "advice": ""} | _SIGN)
    return errors


_SIGN: Final = {"sign": SIGNS["error"], "colour": SEVERITY["error"], "severity": "error"}


def _forbids(finding: Finding) -> bool:
    """Tell whether a finding forbids cutting: an error that the job does not accept."""
    return finding.severity == "error" and finding.is_to_mend


def _row(part: Results, finding: Finding, say: Scale) -> dict[str, str]:
    return {
        "sign": SIGNS[finding.severity],
        "colour": SEVERITY[finding.severity],
        "severity": ("accepted " if finding.accepted else "") + finding.severity,
        "code": finding.code,
        **part.told(finding, say)._asdict(),
    }


def facts(part: Results, say: Scale) -> list[Row]:
    """List size, mass, material and stock, each with its word."""
    measures, error = part.measures, part.measures.mass_error
    bodies = len(part.solid.bodies)
    named = part.material.name if part.material else part.job.stock.material or "of its own"
    rows = [
        ("Size", say.lengths(part.solid.size)),
        ("Mass", say.mass_within(measures.mass, error) + EXACT * (not error)),
        ("Shipping weight", f"{say.parcel(measures.mass)}, one part without packing"),
        ("Volume", say.volume(measures.volume)),
        ("Centre of mass", say.axes(measures.centre) + ", from the stock's origin"),
        ("Material", named),
        ("Density", say.density(part.density)),
        ("Density from", part.material.source if part.material else "the job file"),
        ("Stock", _stock(part, say)),
        ("Stock weighs", say.mass(part.stock_mass)),
        ("Cut away", f"{percent(part.share_removed)} of the stock"),
    ]
    if bodies > 1:
        rows.insert(0, ("Pieces", str(bodies)))
    return rows


def _stock(part: Results, say: Scale) -> str:
    stock = part.stock
    if stock.diameter is None:
        return f"block {say.lengths(stock.size)}"
    return (
        f"round bar, diameter {say.length(stock.diameter)}, "
        f"length {say.length(stock.length)}, along {stock.along}"
    )


def _setups(part: Results) -> list[str]:
    """List the setups in one line each."""
    specs = dict(zip(part.job.names, part.job.profile, strict=True))
    return [
        f"{i}  {name}: from {specs[name].drawing}{_moved(specs[name])}"
        for i, name in enumerate(part.job.order, start=1)
    ]


def _moved(spec: ProfileSpec) -> str:
    """Tell what the job does to the outline of a drawing; nothing if it takes it as it is."""
    done = []
    if spec.turn:
        way = "counter-clockwise" if spec.turn > 0 else "clockwise"
        done.append(f"turned {abs(spec.turn):g}° {way}")
    if spec.mirror:
        done.append("mirrored left to right")
    if spec.scale != 1.0:
        done.append(f"scaled by {spec.scale:g}")
    return f" ({listed(done)})" if done else ""


SIDES: Final = ", ".join(f"{letter} {name}" for name, letter in LETTERS.items())
"""Every side of the block with its letter."""
