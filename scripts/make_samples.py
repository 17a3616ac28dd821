"""Draw the samples: the drawings of a harbour gift workshop's desk pieces.

Run it from anywhere: ``python scripts/make_samples.py``. It writes the DXF and
SVG files of samples/tugboat, lighthouse, crane and faulty, the same bytes every
time, and leaves the job files beside them alone.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Final

from drawing_board import (
    INCH,
    MM,
    UNITLESS,
    Point,
    Run,
    arc,
    both_sides,
    box,
    centre_line,
    curve,
    draw,
    dxf_drawing,
    join,
    line,
    notes,
    path_data,
    save,
    stock_face,
    svg_page,
    tabs,
    up_down,
)
from faulty_samples import faulty

SAMPLES: Final = Path(__file__).resolve().parent.parent / "samples"


def make(folder: Path) -> None:
    """Write every drawing below `folder`, which need not exist."""
    for name, draw_all in (("tugboat", tugboat), ("lighthouse", lighthouse), ("crane", crane)):
        (folder / name).mkdir(parents=True, exist_ok=True)
        draw_all(folder / name)
    faulty(folder / "faulty")


# --- the tugboat: block of 80 × 40 × 50 mm, DXF in mm ------------------------------


def tugboat(folder: Path) -> None:
    """Three views of a harbour tug, bow to the right."""
    _tug_front(folder / "front.dxf")
    _tug_right(folder / "right.dxf")
    _tug_top(folder / "top.dxf")


def _tug_front(file: Path) -> None:
    """The broadside: (x, z) of the block."""
    doc = dxf_drawing(MM)
    space = doc.modelspace()
    stock_face(space, (0, 0), 80, 50)
    keel = line((60, 3), (13, 3))
    stern = curve((13, 3), (8.5, 3), (3, 4.5), (3, 10.5))
    afterdeck = line((3, 10.5), (3, 20.4, 0.6), (8.2, 19.9, 0.6), (8.2, 18, 0.8), (18, 18))
    upperworks = line(
        *((18, 18), (19, 18, 0.8), (19, 21.4, 0.6), (22.5, 21.4, 0.8)),  # towing winch, deckhouse
        *((22.5, 26.5, 0.8), (28, 26.5, 0.8)),
        *((26.5, 44, 0.6), (33.8, 44, 0.6), (35.9, 26.5, 0.8)),  # funnel
        *((40.8, 26.5, 0.8), (40.8, 34, 0.6), (39.6, 34, 0.5), (39.6, 36.9, 0.6)),  # wheelhouse
        *((46, 36.9, 0.8), (46.2, 47, 0.6), (49, 47, 0.6), (49.2, 36.9, 0.8)),  # mast
        *((59.8, 36.9, 0.6), (59.8, 34, 0.5), (58.4, 34, 0.6), (57.2, 26.5, 0.8)),
        *((61, 26.5, 0.8), (61.8, 21.2, 0.8), (64, 21.2)),
    )
    sheer = curve((64, 21.2), (67.5, 21.2), (69.8, 23), (72, 26.4))
    bow = line(
        (72, 26.4), (75, 26.4, 0.8), (75, 23.8, 0.6), (77, 23.8, 1.4), (77, 16.6, 1.5),
        (74.6, 16.6, 0.8), (74.4, 15.4),
    )  # fmt: skip
    stem = curve((74.4, 15.4), (72.8, 9), (69.5, 3), (60, 3))
    draw(space, join(keel, stern), loose=True)
    draw(space, join(afterdeck, upperworks))
    draw(space, sheer)
    draw(space, bow)
    draw(space, stem)
    draw(space, box(43.6, 29.3, 47.8, 33.4, 0.8))
    draw(space, line((50.6, 29.3, 0.8), (54.7, 29.3, 0.8), (55.4, 33.4, 0.8), (50.6, 33.4, 0.8),
                     closed=True))  # fmt: skip
    for x in (43.5, 47.7, 51.9, 56.1):  # portholes that the kerf clears, without a slug
        space.add_circle((x, 23), 0.85, dxfattribs={"layer": "OUTLINE"})
    tabs(space, ((1.5, 14), (4.5, 14)), ((75.5, 20.2), (78.5, 20.2)))
    notes(space, (0, -6), 2.5, "Harbour tug, broadside", "Stock 80 x 40 x 50, seen from the front")
    save(doc, file)


def _tug_right(file: Path) -> None:
    """End on: (y, z) of the block, drawn about the middle of the ship."""
    doc = dxf_drawing(MM)
    space = doc.modelspace()
    stock_face(space, (-20, 0), 40, 50)
    half = line(
        *((0, 3), (8, 3, 6), (14.6, 7, 4.5), (15.5, 13, 0.8)),  # keel, bilge, flared side
        *((17, 13, 0.5), (17, 16.5, 0.5), (15.5, 16.5, 0.8)),  # rubbing strake
        *((15.2, 20.5, 0.6), (10.6, 20.5, 0.8), (10.3, 26.5, 0.7)),  # bulwark, deckhouse
        *((7.4, 26.5, 0.8), (7, 36.9, 1.5)),  # wheelhouse
        *((4, 36.9, 0.8), (3.6, 44, 0.8), (1.8, 44, 0.7), (1.6, 47, 0.6), (0, 47)),
    )
    draw(space, both_sides(half))
    tabs(space, ((-18.5, 14.75), (-15.5, 14.75)), ((15.5, 14.75), (18.5, 14.75)))
    centre_line(space, (0, -2), (0, 52))
    notes(space, (-20, -6), 2.5, "Harbour tug, end on", "Bow away from the reader")
    save(doc, file)


def _tug_top(file: Path) -> None:
    """From above: (x, y) of the block, drawn about the middle of the ship."""
    doc = dxf_drawing(MM)
    space = doc.modelspace()
    stock_face(space, (0, -20), 80, 40)
    port = line((77, 0), (77, 4.5, 6), (62, 17, 44), (42, 17), (3, 17, 9.5), (3, 0))
    draw(space, both_sides(port, up_down), loose=True)
    centre_line(space, (-2, 0), (82, 0))
    notes(space, (0, -26), 2.5, "Harbour tug, from above", "No tabs: this cut is the last")
    save(doc, file)


# --- the lighthouse: round bar of 40 × 90 mm, SVG ----------------------------------


def lighthouse(folder: Path) -> None:
    """Two elevations, and one more that is seen from two corners.

    The tower, its plinth and its dome are as wide seen from a corner as from a
    side, which makes them octagons; lantern and eaves keep their square plan
    but for a chamfer.
    """
    door = line((-3.5, 10.5, 0.6), (3.5, 10.5, 0.6), (3.5, 20, 3.499), (-3.5, 20, 3.499),
                closed=True)  # fmt: skip
    side = both_sides(_half_tower(lantern=8, eaves=9.6))
    window = f'<path id="window" d="{path_data(box(-1.7, -2.6, 1.7, 2.6, 1.2))}" fill="#ffffff"/>'
    lantern = '<rect x="-4.5" y="61.8" width="9" height="5.6" rx="0.8" fill="#ffffff"/>'
    front = svg_page(
        "Lighthouse, the side with the door",
        1.0,
        [window],
        [
            f'<path d="{path_data(side, door)}"/>',
            '<use href="#window" transform="translate(0 35)"/>',
            lantern,
        ],
    )
    right = svg_page(
        "Lighthouse, the side with two windows",
        10.0,
        [window],
        [
            f'<path d="{path_data(side)}"/>',
            '<use href="#window" transform="translate(0 26.5)"/>',
            '<use href="#window" transform="translate(0 43.5)"/>',
            '<circle cx="0" cy="14.5" r="1.8" fill="#ffffff"/>',
            lantern.replace("/>", ' transform="scale(-1 1)"/>'),
        ],
    )
    between_posts = [box(x - 2.2, 61.8, x + 2.2, 67.4, 0.8) for x in (-4.4, 4.4)]
    corner = both_sides(_half_tower(lantern=10.6, eaves=11.8))
    corner_page = svg_page(
        "Lighthouse, seen from a corner",
        4.0,
        [],
        [f'<path d="{path_data(corner, *between_posts)}"/>'],
    )
    for name, text in (("front", front), ("right", right), ("corner", corner_page)):
        (folder / f"{name}.svg").write_text(text, encoding="utf-8", newline="\n")


def _half_tower(lantern: float, eaves: float) -> Run:
    """From the foot of the axis to its top; the tower is 82 mm high."""
    return join(
        line((0, 0), (16, 0, 0.8), (16, 5, 1), (13.6, 5, 0.8), (13.6, 8, 0.8), (12, 8, 0.8),
             (11.9, 9.5)),  # plinth
        curve((11.9, 9.5), (11, 22), (7.4, 34), (7.2, 52)),
        curve((7.2, 52), (7.2, 55), (9.2, 56.3), (12, 56.4)),
        line((12, 56.4), (12, 59.6, 0.8), (lantern, 59.6, 0.5), (lantern, 70, 0.5),
             (eaves, 70, 0.5), (eaves, 72.8, 0.6), (8.4, 72.8, 0.5), (8.4, 73.8)),
        curve((8.4, 73.8), (8.4, 76.8), (5.4, 78.4), (2.6, 78.8)),
        line((2.6, 78.8), (1.8, 78.9, 0.5), (1.8, 82, 1.2), (0, 82)),
    )  # fmt: skip


# --- the crane: flat bar of 3 × 1 × 4 in, DXF in inches and in mm ------------------

GROUND: Final = 0.125  # of the block, below the crane's feet; as much is left beside it


def crane(folder: Path) -> None:
    """Three views of a harbour crane on its portal, jib to the right."""
    _crane_front(folder / "front.dxf")
    _crane_right(folder / "right.dxf")
    _crane_top(folder / "top.dxf")


def _crane_front(file: Path) -> None:
    """The broadside, from the corner of the left foot; the file states no unit."""
    doc = dxf_drawing(UNITLESS)
    space = doc.modelspace()

    def on_jib(along: float, off: float) -> Point:
        """A point by its distance from the jib's foot and from its axis; the jib rises at 44°."""
        c, s = math.cos(math.radians(44)), math.sin(math.radians(44))
        return (1.0 + along * c - off * s, 1.98 + along * s + off * c)

    over, under = ((on_jib(0, off), on_jib(2, off)) for off in (0.21, -0.21))
    stay_over, stay_under = (((0.45, 3.06 - drop), (2.46, 3.75 - drop)) for drop in (0, 0.122))
    mast = ((0.51, 1.86), (0.6, 2.9))  # its edge towards the jib
    outside, inside = arc((2.555, 1.3), 0.19, 25, -175), arc((2.555, 1.3), 0.075, -175, 75)
    left, right = inside.end[0], 2.694  # of the rope, which goes on as the hook's shank
    rope, roof = ((left, 0), (left, 1)), ((0, 1.86), (1, 1.86))
    rope_to_house = line(
        *(inside.end, (left, 1.64, 0.03), (2.52, 1.64, 0.02), (2.52, 2, 0.02), (left, 2, 0.03)),
        *((*_meet(under, rope), 0.05), (*_meet(under, roof), 0.04)),
        *((1.52, 1.86, 0.05), (1.45, 1.3, 0.05), (1.04, 1.3, 0.05), (1.04, 1.2)),  # cab
    )
    portal = line(
        *(
            (1.04, 1.2),
            (1.04, 1.12, 0.05),
            (1.68, 1.12, 0.03),
            (1.68, 0.88, 0.03),
            (1.5, 0.88, 0.03),
        ),
        *((1.56, 0.17, 0.03), (1.68, 0.17, 0.03), (1.68, 0, 0.02), (1.26, 0, 0.02)),
        *((1.26, 0.17, 0.03), (1.38, 0.17, 0.03), (1.32, 0.88, 0.12), (0.36, 0.88, 0.12)),
        *((0.3, 0.17, 0.03), (0.42, 0.17, 0.03), (0.42, 0, 0.02), (0, 0, 0.02)),
        *((0, 0.17, 0.03), (0.12, 0.17, 0.03), (0.18, 0.88, 0.03), (0, 0.88, 0.03)),
        *((0, 1.12, 0.03), (0.62, 1.12, 0.05), (0.62, 1.2)),
    )
    house_to_hook = line(
        *((0.62, 1.2), (0.62, 1.42, 0.04), (0.12, 1.42, 0.06), (0.12, 1.86, 0.08)),
        *((0.34, 1.86, 0.04), (*stay_over[0], 0.05), stay_over[1], (right, 3.75, 0.1)),
        *((right, 2, 0.03), (2.75, 2, 0.02), (2.75, 1.64, 0.02), (right, 1.64, 0.03)),
        *((right, 1.4515, 0.1), outside.start),
    )
    point = line(outside.end, inside.start)
    draw(space, join(rope_to_house, portal, house_to_hook))
    draw(space, join(outside, point, inside), loose=True)

    corners = [(over, roof), (over, stay_under), (mast, stay_under), (mast, roof)]
    draw(space, line(*((*_meet(*pair), 0.04) for pair in corners), closed=True), loose=True)
    for i in range(6):  # the jib's lattice
        tip, s = (0.102, 0.46 + 0.25 * i), (-1) ** i
        foot = [(tip[1] + side * 0.167, -s * tip[0], 0.025) for side in (-1, 1)]
        lattice = [*foot, (tip[1], s * 0.034, 0.025)]
        draw(space, line(*((*on_jib(a, o), r) for a, o, r in lattice), closed=True))
    for x in (0.3, 0.5, 0.7, 0.9):  # louvres that the kerf clears, without a slug
        draw(space, box(x, 1.54, x + 0.076, 1.75, 0.036))
    draw(space, line((1.24, 1.54, 0.03), (1.37, 1.54, 0.03), (1.396, 1.75, 0.03),
                     (1.24, 1.75, 0.03), closed=True))  # fmt: skip
    space.add_circle((2.52, 3.55), 0.038, dxfattribs={"layer": "OUTLINE"})
    tabs(space, *(((x, z - 0.06), (x, z + 0.06)) for x, z in ((0.21, 0), (1.47, 0), (2.525, 3.75))))
    notes(space, (0, -0.25), 0.1, "Harbour crane, broadside", "Inches, bar of 3 x 1 x 4")
    save(doc, file)


def _meet(one: tuple[Point, Point], two: tuple[Point, Point]) -> Point:
    """Where two straight lines, each through two points, cross."""
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = *one, *two
    across = (bx - ax) * (dy - cy) - (by - ay) * (dx - cx)
    share = ((cx - ax) * (dy - cy) - (cy - ay) * (dx - cx)) / across
    return (ax + share * (bx - ax), ay + share * (by - ay))


def _crane_right(file: Path) -> None:
    """End on, about the middle of the track, from the ground up; the file says inches."""
    doc = dxf_drawing(INCH)
    space = doc.modelspace()
    half = line(
        *((0, 0.8), (0.15, 0.8, 0.1), (0.17, 0, 0.02), (0.375, 0, 0.02)),  # portal
        *((0.375, 0.17, 0.012), (0.34, 0.17, 0.022), (0.34, 1.12, 0.04)),
        *((0.2, 1.12, 0.05), (0.2, 1.42, 0.05), (0.3, 1.42, 0.04), (0.3, 1.86, 0.06)),  # house
        *((0.18, 1.86, 0.04), (0.16, 2.6), (0.13, 3.05)),  # mast and jib
        *((0.13, 3.75, 0.05), (0, 3.75)),
    )
    draw(space, both_sides(half), loose=True)
    centre_line(space, (0, -0.1), (0, 3.85))
    notes(space, (-0.5, -0.25), 0.1, "Harbour crane, end on", "No tabs: this cut is the last")
    save(doc, file)


def _crane_top(file: Path) -> None:
    """From above, about the jib's axis; the file says millimetres."""
    doc = dxf_drawing(MM)
    space = doc.modelspace()

    def inches(point: Point) -> Point:
        return (25.4 * point[0], 25.4 * point[1])

    half = line(
        *((2.75, 0), (2.75, 0.13, 0.08), (1.68, 0.13, 0.03), (1.68, 0.375, 0.03)),
        *((1.29, 0.375, 0.012), (1.29, 0.34, 0.022), (0.39, 0.34, 0.022), (0.39, 0.375, 0.012)),
        *((0, 0.375, 0.03), (0, 0)),
    )
    draw(space, both_sides(half, up_down).moved(inches))
    stock_face(space, inches((-GROUND, -0.5)), 3 * 25.4, 25.4)
    for x, y in ((0.21, 0.375), (1.47, -0.375)):
        tabs(space, (inches((x, y - 0.06)), inches((x, y + 0.06))))
    centre_line(space, (-6, 0), (76, 0))
    notes(space, (-3.175, -18), 2.5, "Harbour crane, from above", "Millimetres")
    save(doc, file)


if __name__ == "__main__":
    make(SAMPLES)
