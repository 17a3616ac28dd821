"""One page for each setup: how to lay the block, what to set, what to cut, what comes loose."""

from __future__ import annotations

from typing import Any, Final

import shapely

from silhouette3d.base.quantities import Scale
from silhouette3d.base.units import MM3_PER_CM3
from silhouette3d.checks.fit import LOAD_CONSTANT
from silhouette3d.documents.pictures.face import seen_from
from silhouette3d.documents.setup_sheets.block_pictures import (
    Gallery,
    block_picture,
    face_picture,
    face_scale,
    file_picture,
    legend,
)
from silhouette3d.documents.setup_sheets.cautions import DEFER, LIFT, SHORT
from silhouette3d.documents.setup_sheets.part_page import SIDES, Row
from silhouette3d.documents.setup_sheets.setup import SheetSetup
from silhouette3d.presentation.turning import LETTERS, Place, angle_off, degrees_text, sides_at
from silhouette3d.presentation.wording.cuts import starts_text
from silhouette3d.presentation.wording.words import listed, seat_words
from silhouette3d.process.clamping import DATUM
from silhouette3d.process.stages import Body

_BLOCK: Final = (78.0, 54.0)
_FACE_WIDTH: Final = 108.0
_FILE: Final = (34.0, 24.0)
"""mm of paper: room of the pictures."""

_BELOW: Final = 42.0
"""mm of paper that stand below a face as wide as the page and beside a narrower one."""

_WORTH: Final = 1.25
"""How much larger a face must become to lie across the page."""

_RESTS: Final = (186.0, 194.0, 202.0, 210.0, 220.0)
"""mm of paper that all but the picture of the face may take of a page's height, margins included.
There is a picture of the face for each; the template takes the largest with which all fits."""

MOST_PIECES: Final = 4
"""Loose pieces listed one by one; the rest is summed."""

_PLACES: Final[tuple[tuple[Place, str], ...]] = (
    ("up", "up"),
    ("near", "towards you"),
    ("right", "on the right"),
    ("far", "away from you"),
    ("left", "on the left"),
    ("down", "down on the table"),
)
_CLAMPS: Final = {
    "left": "the left side",
    "right": "the right side",
    "bottom": "the side towards you",
    "top": "the far side",
}


def setup_page(
    setup: SheetSetup, gallery: Gallery, page: tuple[float, float], say: Scale
) -> dict[str, Any]:
    """Gather what the template needs for one setup.

    `page` is the width of the page between its margins, and its height, in mm of paper.
    """
    width, height = page
    beside = [(_FACE_WIDTH, height - rest) for rest in _RESTS]
    across = [(width, height - rest - _BELOW) for rest in _RESTS]
    is_long = face_scale(setup, across[0]) > _WORTH * face_scale(setup, beside[0])
    return {
        "title": f"Setup {setup.number} of {setup.count}: {setup.profile.name}",
        "seen": seen_from(setup.profile.view, setup.profile.name),
        "turning": turning(setup),
        "lying": lying(setup),
        "block": block_picture(setup, gallery, _BLOCK),
        "is_long": is_long,
        "faces": [face_picture(setup, say, room) for room in (across if is_long else beside)],
        "keys": [{"sample": item, "words": words} for item, words in legend(setup)],
        "file": setup.file.name if setup.file else "none, as the cuts cannot be simulated",
        "digest": setup.file.short_digest if setup.file else "",
        "file_picture": file_picture(setup, _FILE),
        "heights": heights(setup, say),
        "facts": facts(setup, say),
        "clamps": clamps(setup, say),
        "checks": checks(setup, say),
        "after": after(setup, say),
        "cautions": [*([LIFT] if setup.mass > LOAD_CONSTANT else []), *SHORT, DEFER],
    }


def turning(setup: SheetSetup) -> str:
    """Tell how the block comes to lie, as a sentence."""
    if setup.turning is None:
        first = f"Write these letters on the sides of the stock before anything else: {SIDES}."
        return f"{first} Then lay it as pictured."
    number, name = setup.number - 1, setup.part.job.order[setup.number - 2]
    return f"From setup {number} ({name}): {setup.turning.words}."


def lying(setup: SheetSetup) -> list[Row]:
    """Tell which side of the block lies where, and what to mind about it."""
    rows = []
    for place, words in _PLACES:
        view = setup.profile.view
        names = sides_at(view, place)
        sides = [f"{LETTERS[side]} {side}" for side in names]
        told = sides[0] if len(sides) == 1 else f"between {listed(sides)}"
        if len(sides) == 2:
            told += f", {degrees_text(angle_off(view, place, names[0]))} off {LETTERS[names[0]]}"
        rows.append((words, told))
    return rows


def heights(setup: SheetSetup, say: Scale) -> list[Row]:
    """Tell the block's height as it lies, and as it lay; what that changes."""
    rows = [("Height as it lies", say.length(setup.height))]
    if setup.before is not None:
        rows.append(("Height before", say.length(setup.before.height)))
    rows.append(("On the table", say.mass(setup.mass)))
    return rows


def facts(setup: SheetSetup, say: Scale) -> list[Row]:
    """Tell extents, thickness, path and starts."""
    u0, v0, u1, v1 = shapely.bounds(setup.profile.area).tolist()
    face = setup.profile.face
    rows = [
        ("Face", say.lengths(face.size)),
        ("First across", say.length(u0)),
        ("Last across", say.length(u1)),
        ("First away", say.length(v0)),
        ("Last away", say.length(v1)),
    ]
    stage = setup.stage
    if stage is None:
        return [*rows, ("Path and thickness", "not known: the cuts cannot be simulated")]
    taken = stage.figures
    tabs = len(stage.cut.tabs)
    return [
        *rows,
        ("Thickness to cut", say.span(taken.least, taken.most)),
        ("Kerf", say.length(stage.cut.kerf)),
        ("Path", say.path(sum(run.length for run in stage.runs))),
        ("Starts", starts_text(stage.runs) or "none: nothing to cut"),
        ("Tabs", f"{tabs}, of {_widths(setup, say)}" if tabs else "none"),
    ]


def _widths(setup: SheetSetup, say: Scale) -> str:
    widths = [tab.width for tab in setup.cut.tabs] if setup.cut else []
    return say.span(min(widths), max(widths))


def clamps(setup: SheetSetup, say: Scale) -> str:
    """Tell where the clamps press on, as a sentence."""
    told = []
    for clamp in setup.spec.clamp or ():
        if isinstance(clamp, str):
            told.append(_CLAMPS[clamp])
        else:
            u0, v0, u1, v1 = clamp
            low, high = say.axes((u0, v0), "uv"), say.axes((u1, v1), "uv")
            told.append(f"the face from {low} to {high}")
    if told:
        return "Clamp " + listed(told) + "."
    return (
        "The job names no clamps: hold the body that the part is in, by the stock's outer sides, "
        "clear of the path."
    )


def checks(setup: SheetSetup, say: Scale) -> list[str]:
    """List what to tick off before cutting."""
    stock, face = setup.part.stock, setup.profile.face
    first = setup.before is None
    if first and stock.diameter is None:
        measured = f"stock measured: {say.lengths(stock.size)}"
    elif first:
        measured = f"bar measured: diameter {say.length(stock.diameter or 0.0)}, length "
        measured += say.length(stock.length)
    else:
        measured = f"face measured: {say.lengths(face.size)}"
    turned = "sides lettered, block laid as pictured" if first else "block turned as pictured"
    up = lying(setup)[0][1]
    told = f", up: {up}" if up.startswith("between") else f", {up} up"
    square = "seated against the square on the datum's two sides"
    zero = "zero at the datum corner, machine position written down"
    if setup.corner != DATUM:
        away = seat_words(setup.corner, *(say.length(side) for side in face.size))
        square, _, where = away.replace("seat it", "seated").partition("; ")
        zero = f"{where}, and not at a corner of what is left; machine position written down"
    if not setup.stands_flat:
        square = "held in vee blocks or a fixture, square to the machine: no flat side lies down"
        zero = (
            "zero at the datum corner, which is in the air: find it by touching the left and the "
            "near side; machine position written down"
        )
    return [
        measured,
        "edges at the datum deburred",
        turned + told,
        square,
        "clamped, clamps clear of the path and of the head",
        f"stand-off and clearance set for a height of {say.length(setup.height)}",
        zero,
        *_loaded(setup),
        "path run once with the cutter off",
    ]


def _loaded(setup: SheetSetup) -> list[str]:
    """Tell what to compare of the file: one for each setup, so it was not cut before."""
    if setup.file is None:
        return []
    name, digest = setup.file.name, setup.file.short_digest
    return [
        f"file loaded is {name}, its SHA-256 begins with {digest}, it looks like its picture and "
        "was not cut before"
    ]


def after(setup: SheetSetup, say: Scale) -> dict[str, Any]:
    """Tell what comes loose, what is lifted out, and how the part is held."""
    stage, density = setup.stage, setup.part.density
    if stage is None:
        return {"lead": "Not known: the cuts cannot be simulated.", "pieces": [], "held": ""}
    freed, clear = setup.freed, setup.part.job.cutting.clear_offcuts
    count = len(freed)
    if not count:
        lead = "No offcut comes loose."
    elif setup.is_last:
        lead = f"{_pieces(count)} {_come(count)} loose besides the part: keep clear of them."
    elif clear:
        lead = f"Lift out {_pieces(count)} before the next setup."
    else:
        lead = f"{_pieces(count)} {_come(count)} loose and may stay: see that nothing can move."
    if setup.is_last:
        part = "The part comes free with this cut: support it, so that it does not fall or tip."
        held = (
            part if setup.part.comes_free else "Tabs still join the part to waste after this cut."
        )
    elif stage.part_is_held:
        held = "The part stays held."
    else:
        held = "THE PART COMES LOOSE WITH THIS CUT, with cuts still to make."
    return {"lead": lead, "pieces": _listing(freed, density, say), "held": held}


def _listing(freed: tuple[Body, ...], density: float, say: Scale) -> list[str]:
    shown = freed if len(freed) <= MOST_PIECES else freed[: MOST_PIECES - 1]
    rows = [f"{say.mass(_mass(body, density))}, {say.lengths(body.solid.size)}" for body in shown]
    rest = freed[len(shown) :]
    if rest:
        mass = say.mass(sum(_mass(body, density) for body in rest))
        rows.append(f"and {_pieces(len(rest))} more, {mass} in all")
    return rows


def _pieces(count: int) -> str:
    return f"{count} piece{'s' * (count != 1)}"


def _come(count: int) -> str:
    return "comes" if count == 1 else "come"


def _mass(body: Body, density: float) -> float:
    """Weigh a body in g; the density in g/cm³."""
    return body.solid.volume * density / MM3_PER_CM3
