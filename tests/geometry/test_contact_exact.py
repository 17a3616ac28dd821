"""Which bodies touch, told beside whole numbers: oblique views, lattices, near misses."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
import shapely
from scipy.optimize import linear_sum_assignment
from shapely import Polygon

from silhouette3d.geometry.contact import contacts
from silhouette3d.geometry.frames import VIEWS, view_along
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock
from tests.geometry.test_contact import only
from tests.oracles.exact_bodies import Piece, Sight, bodies_of, cells_left, pieces
from tests.support.shapes import many, profile, solid

Job = tuple[tuple[int, int, int], list[tuple[Sight, list[Piece]]]]
"""Size of a block and pieces of outlines, in units of which `UNIT` are one cell of a lattice."""

TOUCH = 1e-6
"""mm. What counts as touching, of bodies of 1 to 600 mm."""

UNIT = 1000
CELL = 5.0
"""mm. So a unit is 0.005 mm, five thousand times what counts as touching."""

LOOKS = [
    ((1, 0, 0), (0, 0, 1)),
    ((0, 1, 0), (0, 0, 1)),
    ((1, 0, 0), (0, 1, 0)),
    ((1, -1, 0), (0, 0, 1)),
    ((1, 1, 0), (0, 0, 1)),
    ((1, 0, -1), (0, 1, 0)),
    ((1, 0, 1), (0, -1, 0)),
    ((0, 1, -1), (1, 0, 0)),
    ((0, 1, 1), (1, 0, 0)),
    ((1, -1, 0), (1, 1, -2)),
    ((1, -1, 0), (1, 1, 2)),
    ((1, 1, 0), (1, -1, 2)),
    ((1, 1, 0), (1, -1, -2)),
]
"""u and v of views along axes, across edges and across corners of a cube."""


def check(job: Job) -> tuple[int, int]:
    """Hold what the program makes and finds against whole numbers: how many bodies and pairs."""
    block, outlines = job
    cells = cells_left(block, outlines)
    if not cells:
        return 0, 0
    truth = bodies_of(cells)
    bodies = made(block, outlines).bodies
    assert len(bodies) == len(truth.like)
    mm = CELL / UNIT
    want = truth.like * ([mm**3] + 6 * [mm])
    have = np.array([[body.volume, *body.bounds.ravel()] for body in bodies])
    off = np.abs(want[:, None] - have[None]).max(axis=2)
    match = linear_sum_assignment(off)[1]
    # walls may be off by a few times 1e-7 mm, on up to 10 cm² of surface
    assert off[np.arange(len(match)), match].max() < 2e-3
    along: dict[tuple[int, int], bool] = {}
    for contact in contacts(bodies):
        if contact.bodies[0] != contact.bodies[1]:
            along[contact.bodies] = along.get(contact.bodies, False) or contact.length > 0
    names = {pair: tuple(sorted(match[list(pair)].tolist())) for pair in truth.along}
    assert along == {names[pair]: edge for pair, edge in truth.along.items()}
    return len(bodies), len(along)


def made(block: Sequence[int], outlines: Sequence[tuple[Sight, Sequence[Piece]]]) -> Solid:
    """The part of a job, its drawings rounded as they are when they are placed."""
    mm = CELL / UNIT
    width, depth, height = (mm * side for side in block)
    stock = Stock((width, depth, height))
    profiles = []
    for sight, parts in outlines:
        view = view_along(sight.look, sight.v)
        share = mm / np.linalg.norm([sight.u, sight.v], axis=1)
        drawn = shapely.union_all([Polygon(part) for part in parts])
        corner = np.asarray(stock.face(view).corner)
        points = np.round(shapely.get_coordinates(drawn) * share - corner, 9)
        profiles.append(profile(view, many(shapely.set_coordinates(drawn, points)), stock))
    return solid(stock, profiles)


def job_of(
    size: Sequence[int], drawn: Sequence[tuple[Sight, Sequence[Piece]]], shift: int = 0
) -> Job:
    """Outlines by their rings, in cells; the last one shifted by some units along u."""
    outlines = []
    for number, (sight, rings) in enumerate(drawn, start=1):
        more = np.array([shift if number == len(drawn) else 0, 0])
        moved = [(UNIT * np.array(ring) + more).tolist() for ring in rings]
        outlines.append((sight, pieces(moved)))
    return tuple(UNIT * side for side in size), outlines  # type: ignore[return-value]


def random_job(seed: int, shifts: Sequence[int]) -> Job:
    """Squares and half squares of lattices, two to four outlines, each shifted by some units."""
    rng = np.random.default_rng(seed)
    size = int(rng.integers(2, 4))
    corners = size * np.array(np.meshgrid(*[[0, 1]] * 3)).reshape(3, -1)
    outlines = []
    for number in rng.choice(len(LOOKS), rng.integers(2, 5), replace=False):
        sight = Sight(*LOOKS[number])
        u, v = np.array([sight.u, sight.v]) @ corners
        shift = rng.choice(shifts, 2)
        parts: list[Piece] = []
        for a, b in np.ndindex(np.ptp(u), np.ptp(v)):
            square = np.add([(0, 0), (1, 0), (1, 1), (0, 1)], [u.min() + a, v.min() + b])
            kept = ((0, 1, 2, 3), (0, 1, 2), (0, 2, 3), ())[
                rng.choice(4, p=(0.45, 0.07, 0.07, 0.41))
            ]
            if kept:
                parts.append((UNIT * square[list(kept)] + shift).tolist())
        outlines.append((sight, parts))
    return (size * UNIT,) * 3, outlines


# Cubes of a lattice of three, seen across corners and edges, that are 0.7 and 1.4 cells apart.
# Their surfaces have triangles that end in long needles.
FRONT, RIGHT, TOP = (
    Sight((1, 0, 0), (0, 0, 1)),
    Sight((0, 1, 0), (0, 0, 1)),
    Sight((1, 0, 0), (0, 1, 0)),
)
ALL = [[(0, 0), (3, 0), (3, 3), (0, 3)]]
FIVE_VIEWS = [
    (
        Sight((-1, -1, 0), (0, 0, -1)),
        [
            [(-5, -3), (-5, 0), (-4, 0), (-4, -2), (-1, -2), (-1, -3)],
            [(-3, 0), (0, 0), (0, -1), (-3, -1)],
        ],
    ),
    (
        Sight((-1, -1, 0), (-1, 1, -2)),
        [
            [(0, -6), (-3, -9), (-3, -7), (-4, -8), (-6, -6), (-6, 0), (-3, 3), (-2, 2), (0, 0)],
            [(-2, -4), (-3, -5), (-2, -6)],
        ],
    ),
    (FRONT, ALL),
    (RIGHT, ALL),
    (TOP, ALL),
]
SIX_VIEWS = [
    (
        Sight((0, 0, -1), (-1, -1, 0)),
        [
            [(-3, -6), (-3, -5), (-2, -5), (-2, -6)],
            [
                *((-3, -1), (-3, 0), (0, 0), (0, -6), (-1, -6), (-1, -5)),
                *((-2, -5), (-2, -4), (-3, -4), (-3, -2), (-2, -2), (-2, -1)),
            ],
        ],
    ),
    (
        Sight((0, 1, 0), (-1, 0, -1)),
        [
            [
                *((3, -4), (2, -4), (2, -6), (1, -6), (1, -5)),
                *((0, -5), (0, -4), (1, -4), (1, -3), (3, -3)),
            ],
            [(2, 0), (2, -1), (3, -1), (3, -2), (1, -2), (1, -1), (0, -1), (0, 0)],
        ],
    ),
    (
        Sight((0, -1, 1), (2, 1, 1)),
        [
            [(-3, 9), (0, 12), (3, 9), (3, 3), (0, 0), (-3, 3)],
            [(1, 5), (2, 4), (2, 6)],
            [(0, 4), (1, 3), (1, 5)],
            [(-1, 7), (0, 8), (-1, 9)],
        ],
    ),
    (FRONT, ALL),
    (RIGHT, ALL),
    (TOP, ALL),
]


@pytest.mark.parametrize(
    ("drawn", "shift"), [(FIVE_VIEWS, -1), (FIVE_VIEWS, 0), (FIVE_VIEWS, 1), (SIX_VIEWS, 0)]
)
def test_bodies_far_beyond_the_end_of_a_needle(
    drawn: list[tuple[Sight, list[Piece]]], shift: int
) -> None:
    check(job_of((3, 3, 3), drawn, shift))


@pytest.mark.parametrize("slope", [0.3, 0.01, 1e-4, 1e-6])
@pytest.mark.parametrize("gap", [0.0, 0.5 * TOUCH, 2.0 * TOUCH, 1e-3, 0.7])
def test_an_edge_beyond_the_tip_of_a_blade(gap: float, slope: float) -> None:
    """A blade points into a notch of a block, whose front lies in the plane of the blade's."""
    blade = Polygon([(-50, -50 * slope), (0, 0), (-50, 50 * slope)])
    block = Polygon([(gap, 0), (-5, 5), (10, 5), (10, -5), (-5, -5)])
    bodies = [
        Solid.prism(blade, VIEWS["front"], (-20, 0)),
        Solid.prism(block, VIEWS["front"], (-15, 0)),
    ]
    if gap <= TOUCH:
        assert only(bodies).length == pytest.approx(15)
    else:
        assert contacts(bodies) == ()
        assert contacts(bodies[::-1]) == ()


@pytest.mark.parametrize("seed", [0, 2, 4, 5])
def test_bodies_that_touch_or_not(seed: int) -> None:
    check(random_job(seed, [0]))


@pytest.mark.parametrize("seed", [105, 107])
def test_bodies_that_nearly_touch(seed: int) -> None:
    """Outlines shifted by units: what met in a line or point overlaps a little, or is apart."""
    check(random_job(seed, [-1, 0, 1]))


@pytest.mark.big
def test_150_jobs_whose_bodies_touch_nearly_touch_or_do_not() -> None:
    for seed in range(1000, 1075):
        check(random_job(seed, [0]))
        check(random_job(seed, [-1, 0, 1]))
