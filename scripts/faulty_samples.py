"""The drawings of samples/faulty: small jobs that each go wrong in one way.

Every drawing has the stock's lower left corner at (0, 0), in millimetres.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from drawing_board import (
    MM,
    Point,
    Run,
    arc,
    box,
    draw,
    dxf_drawing,
    join,
    line,
    save,
    stock_face,
    tabs,
)


def disc(centre: Point, radius: float) -> Run:
    """A circle, as two half turns."""
    return join(arc(centre, radius, 0, 180), arc(centre, radius, 180, 360))


FACE: Final = box(0, 0, 40, 30)
"""The whole face of most of these stocks: nothing to cut."""

PLATE: Final = box(5, 5, 35, 25)
"""A plate inside the front face, with a frame round it."""

FROM_ABOVE: Final = box(5, 0, 35, 20)
"""The plate seen from above: as long as it, as deep as the stock."""

OUTLINES: Final[dict[str, dict[str, tuple[Run, ...]]]] = {
    "thin-section": {
        "front": (
            line(
                *((0, 0), (10, 0), (10, 20), (30, 20), (30, 0), (40, 0), (40, 30), (0, 30)),
                closed=True,
            ),
        ),
        "right": (line((0, 0), (20, 0), (20, 30), (12, 30), (12, 21), (0, 21), closed=True),),
    },
    "thin-in-view": {
        "front": (
            join(
                line((0, 0), (5.5, 0)),
                arc((20, 0), 14.5, 180, 0),
                line((34.5, 0), (40, 0), (40, 30), (34.5, 30)),
                arc((20, 30), 14.5, 360, 180),
                line((5.5, 30), (0, 30), (0, 0)),
            ),
        ),
    },
    "knife-edge": {"front": (line((0, 0), (40, 0), (0, 23), closed=True),)},
    "stock-mismatch": {"front": (FACE,)},
    "unit-doubtful": {"front": (box(0, 0, 3.9, 2.9),)},  # in centimetres
    "overlapping-loops": {"front": (box(0, 0, 25, 30), box(15, 0, 40, 30))},
    "nearly-coincident": {"front": (FACE, box(0.015, 0.015, 39.985, 29.985))},
    "outside-stock": {"front": (box(0, 0, 42, 30),)},
    "extent-mismatch": {"front": (FACE,), "right": (box(0, 0, 20, 29.5),)},
    "shadow-lost": {
        "front": (line((0, 0), (20, 0), (20, 10), (10, 10), (10, 20), (0, 20), closed=True),),
        "right": (line((0, 0), (10, 0), (10, 10), (20, 10), (20, 20), (0, 20), closed=True),),
        "top": (box(0, 0, 20, 20),),
    },
    "several-bodies": {"front": (box(0, 0, 15, 30), box(25, 0, 40, 30))},
    "point-contact": {"front": (box(0, 0, 20, 15), box(20, 15, 40, 30))},
    "heavy-stock": {"front": (box(0, 0, 200, 150),)},
    "no-datum": {"front": (box(0.4, 0, 40, 30),), "top": (box(0.4, 0, 40, 19.6),)},
    "clamp-in-path": {"front": (box(0, 0, 30, 30),)},
    "start-on-wall": {
        "front": (
            FACE,
            join(
                line((10, 14.52), (30, 14.52)),
                arc((30, 15), 0.48, 270, 450),
                line((30, 15.48), (10, 15.48)),
                arc((10, 15), 0.48, 90, 270),
            ),
        ),
    },
    "released-early": {"front": (PLATE,), "top": (FROM_ABOVE,)},
    "not-released": {"front": (PLATE,)},
    "part-broken": {
        "front": (box(0, 0, 15, 30), box(25, 0, 40, 30)),
        "top": (box(0, 0, 15, 20), box(25, 0, 40, 20)),
    },
    "loose-offcut": {"front": (FACE, disc((20, 15), 12)), "top": (box(0, 0, 40, 20),)},
    "small-offcut": {"front": (FACE, disc((20, 15), 4))},
    "weak-tab": {"front": (PLATE,), "top": (FROM_ABOVE,)},
    "weak-hold": {"front": (box(1.1, 5, 35, 25),), "top": (box(1.1, 0, 35, 20),)},
    "witness": {
        "front": (line((0, 0), (40, 0), (40, 25.6), (0, 25), closed=True),),
        "right": (box(2, 0, 18, 25.6),),
    },
    "inside-corner": {
        "front": (line((0, 0), (40, 0), (40, 15), (20, 15), (20, 30), (0, 30), closed=True),)
    },
    "narrow-slot": {
        "front": (
            line((0, 0), (40, 0), (40, 30), (20.5, 30), (20.5, 18), (20, 18), (20, 30), (0, 30)),
            line((0, 30), (0, 0)),
        )
    },
    "accept-unused": {"front": (box(0, 0, 40, 29.5),)},
}
"""For each finding the outlines of its job, by drawing."""


def faulty(folder: Path) -> None:
    """Write every drawing of the faulty jobs below a folder."""
    for code, drawings in OUTLINES.items():
        for name, runs in drawings.items():
            doc = dxf_drawing(MM)
            space = doc.modelspace()
            for run in runs:
                draw(space, run)
            if code == "stock-mismatch":
                stock_face(space, (0, 0), 41, 30)
            if code == "weak-tab" and name == "front":
                tabs(space, ((3, 15), (7, 15)), ((33, 15), (37, 15)))
            if code == "weak-hold" and name == "front":
                tabs(space, ((0, 15), (2, 15)))
            if code == "witness" and name == "front":
                tabs(space, ((10, 23), (10, 27)))
            (folder / code).mkdir(parents=True, exist_ok=True)
            save(doc, folder / code / f"{name}.dxf")
