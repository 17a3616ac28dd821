"""Solids with flat faces whose volume, area, centre and inertia have closed forms.

Sources
-------
Rhombic dodecahedron
    E. W. Weisstein, "Rhombic Dodecahedron", MathWorld; the same figures in Wikipedia: edge e,
    volume 16/9 √3 e³, area 8 √2 e². With corners at (±a, 0, 0) and so on, e = a √3 / 2.
Regular tetrahedron and octahedron, square pyramid
    E. W. Weisstein, "Regular Tetrahedron", "Regular Octahedron", "Square Pyramid", MathWorld (from
    memory): L³ / (6 √2) and √3 L²; √2/3 L³; b² h / 3 and b² + 2 b √(h² + b²/4). Inertia of the
    tetrahedron, M L² / 20: from memory.
Menger sponge
    J. D. Cook, "Area and volume of Menger sponge", 2019,
    https://www.johndcook.com/blog/2019/05/05/area-volume-menger-sponge/: (20/27)ⁿ and
    2 (20/9)ⁿ + 4 (8/9)ⁿ. Its genus is counted here.
What outlines cannot tell
    A. Laurentini, "The visual hull concept for silhouette-based image understanding", IEEE PAMI
    16(2):150-162, 1994: outlines determine the largest solid that casts them, and no other.
Everything else, and every other centre and inertia, is integrated here by hand.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from tests.published.drawn import (
    Known,
    Loop,
    assert_exact,
    holes,
    inertia,
    load,
    rectangle,
)

ROOT2 = math.sqrt(2.0)
A = 20.0
CUBE = (2 * A, 2 * A, 2 * A)
MIDDLE = (A, A, A)
DIAMOND: list[Loop] = [[(A, 0.0), (2 * A, A), (A, 2 * A), (0.0, A)]]
THREE = ("front", "right", "top")


def test_two_diamonds_are_a_square_bipyramid(tmp_path: Path) -> None:
    """Slices at a height are squares, 2 (a − |z|) wide, so it stands on two of its edges."""
    part = load(tmp_path, CUBE, {"front": DIAMOND, "right": DIAMOND})
    # ∫ z² (2 (a − |z|))² and ∫ (2 (a − |z|))⁴ / 12, from −a to a
    along, across = 4.0 / 15.0 * A**5, 8.0 / 15.0 * A**5
    known = Known(8.0 / 3.0 * A**3, 8.0 * ROOT2 * A**2, MIDDLE, inertia([across, across, along]))
    assert_exact(part, known)


def test_three_diamonds_are_a_rhombic_dodecahedron(tmp_path: Path) -> None:
    part = load(tmp_path, CUBE, dict.fromkeys(THREE, DIAMOND))
    edge = A * math.sqrt(3.0) / 2.0
    volume = 16.0 / 9.0 * math.sqrt(3.0) * edge**3
    known = Known(volume, 8.0 * ROOT2 * edge**2, MIDDLE, volume * A**2 / 4.0 * np.eye(3))
    assert_exact(part, known)
    assert volume == pytest.approx(2.0 * A**3, rel=1e-15)


def test_the_outlines_of_an_octahedron_are_not_an_octahedron(tmp_path: Path) -> None:
    """Its three shadows are diamonds; what they leave is half as large again."""
    part = load(tmp_path, CUBE, dict.fromkeys(THREE, DIAMOND))
    edge = A * ROOT2
    octahedron = ROOT2 / 3.0 * edge**3
    assert part.solid.volume == pytest.approx(1.5 * octahedron, rel=1e-9)
    assert all(part.lost(view).is_empty for view in THREE)


def test_the_outlines_of_a_tetrahedron_in_a_cube_are_the_cube(tmp_path: Path) -> None:
    """Corners at every other corner of a cube: each shadow is the whole square."""
    corners = np.array([(0, 0, 0), (1, 1, 0), (1, 0, 1), (0, 1, 1)]) * 2.0 * A
    outlines: dict[str, list[Loop]] = {}
    for view, axes in (("front", [0, 2]), ("right", [1, 2]), ("top", [0, 1])):
        u, v = corners[:, axes].T
        around = np.argsort(np.arctan2(v - A, u - A))  # convex: its shadow is that of its corners
        outlines[view] = [[(float(u[k]), float(v[k])) for k in around]]
    part = load(tmp_path, CUBE, outlines)
    assert_exact(part, Known((2.0 * A) ** 3, 6.0 * (2.0 * A) ** 2, MIDDLE))
    edge = 2.0 * A * ROOT2
    assert part.solid.volume == pytest.approx(3.0 * edge**3 / (6.0 * ROOT2), rel=1e-9)


def test_a_regular_tetrahedron(tmp_path: Path) -> None:
    """Standing on an edge: a triangle with its apex up from the front, down from the side."""
    edge = 30.0
    h = edge / ROOT2
    up: list[Loop] = [[(0.0, 0.0), (edge, 0.0), (edge / 2.0, h)]]
    down: list[Loop] = [[(edge / 2.0, 0.0), (edge, h), (0.0, h)]]
    part = load(tmp_path, (edge, edge, h), {"front": up, "right": down})
    volume = edge**3 / (6.0 * ROOT2)
    known = Known(
        volume,
        math.sqrt(3.0) * edge**2,
        (edge / 2.0, edge / 2.0, h / 2.0),
        volume * edge**2 / 20.0 * np.eye(3),
    )
    assert_exact(part, known)


@pytest.mark.parametrize("apex", [0.5, 0.2, 1.0], ids=["middle", "aside", "over the edge"])
def test_a_square_pyramid(tmp_path: Path, apex: float) -> None:
    """Upright, and with its apex moved aside, which changes no slice (Cavalieri)."""
    b, h = 24.0, 30.0
    front: list[Loop] = [[(0.0, 0.0), (b, 0.0), (apex * b, h)]]
    right: list[Loop] = [[(0.0, 0.0), (b, 0.0), (b / 2.0, h)]]
    part = load(tmp_path, (b, b, h), {"front": front, "right": right})
    volume = b**2 * h / 3.0
    lean = (apex - 0.5) * b
    centre = (b / 2.0 + lean / 4.0, b / 2.0, h / 4.0)
    # slanted faces: the two seen edge-on from the side, then the two seen from the front
    slopes = 2.0 * b / 2.0 * math.hypot(h, b / 2.0)
    slopes += b / 2.0 * (math.hypot(h, apex * b) + math.hypot(h, (1.0 - apex) * b))
    # ∫x² = ∫y² = V b²/20 and ∫z² = V h² 3/80 of the upright one; it shears by lean · z / h
    square, rise = volume * b**2 / 20.0, volume * h**2 * 3.0 / 80.0
    shear = lean / h
    moments = np.diag([square + shear**2 * rise, square, rise])
    moments[0, 2] = moments[2, 0] = shear * rise
    assert_exact(part, Known(volume, b**2 + slopes, centre, inertia(moments)))


P, Q, H = 24.0, 30.0, 18.0
"""Legs along x, y and z."""


def corner(u: float, v: float) -> list[Loop]:
    """A right triangle with its right angle at the datum."""
    return [[(0.0, 0.0), (u, 0.0), (0.0, v)]]


def test_two_right_triangles_are_a_pyramid_in_the_corner(tmp_path: Path) -> None:
    """Slices are rectangles, each a smaller copy of the base, from the origin."""
    part = load(tmp_path, (P, Q, H), {"front": corner(P, H), "right": corner(Q, H)})
    volume = P * Q * H / 3.0
    area = P * Q + P * H / 2.0 + Q * H / 2.0
    area += P / 2.0 * math.hypot(Q, H) + Q / 2.0 * math.hypot(P, H)
    assert_exact(part, Known(volume, area, (3.0 * P / 8.0, 3.0 * Q / 8.0, H / 4.0)))


def test_three_right_triangles_are_a_skew_corner(tmp_path: Path) -> None:
    """In units of the legs: x + y, y + z and z + x at most 1. A cube of half a side has V = 1/8;
    where x > 1/2, y and z are at most 1 − x, which adds 1/24 for each axis."""
    outlines = {"front": corner(P, H), "right": corner(Q, H), "top": corner(P, Q)}
    part = load(tmp_path, (P, Q, H), outlines)
    volume = (1.0 / 8.0 + 3.0 / 24.0) * P * Q * H
    # ∫x: the cube 1/32; the pyramid along x 1/24 · (1/2 + 1/8); the other two 1/24 · 3/16 each
    share = (1.0 / 32.0 + 1.0 / 24.0 * 5.0 / 8.0 + 2.0 / 24.0 * 3.0 / 16.0) * 4.0
    assert share == pytest.approx(7.0 / 24.0, rel=1e-15)
    assert_exact(part, Known(volume, None, (share * P, share * Q, share * H)))


def test_two_ells(tmp_path: Path) -> None:
    """An L lying down from the front, an L standing on its head from the side: cubes of a cell."""
    cell = 10.0
    front = [(0, 0), (4, 0), (4, 1), (1, 1), (1, 3), (0, 3)]
    right = [(0, 0), (2, 0), (2, 3), (1, 3), (1, 2), (0, 2)]
    scaled = [[(cell * u, cell * v) for u, v in loop] for loop in (front, right)]
    size = (4 * cell, 2 * cell, 3 * cell)
    part = load(tmp_path, size, {"front": [scaled[0]], "right": [scaled[1]]})
    # layers: 4 × 2 below; 1 × 2; and 1 × 1, at the rear
    x = (8 * 2.0 + 2 * 0.5 + 1 * 0.5) / 11
    y = (8 * 1.0 + 2 * 1.0 + 1 * 1.5) / 11
    z = (8 * 0.5 + 2 * 1.5 + 1 * 2.5) / 11
    assert (x, y, z) == pytest.approx((35 / 22, 23 / 22, 19 / 22), rel=1e-15)
    # from above and below 8 each, from front and rear 6 each, from left and right 5 each
    assert_exact(part, Known(11 * cell**3, 38 * cell**2, (x * cell, y * cell, z * cell)))


# The Menger sponge.


def carpet(level: int, side: float) -> list[Loop]:
    """A Sierpinski carpet: a square and its square holes."""
    loops: list[Loop] = [rectangle(0, 0, side, side)]
    for k in range(1, level + 1):
        cell = side / 3**k
        thirds = [
            (i, j)
            for i in range(1, 3**k, 3)
            for j in range(1, 3**k, 3)
            if not _in_larger_hole(i, j, k)
        ]
        loops += [rectangle(i * cell, j * cell, (i + 1) * cell, (j + 1) * cell) for i, j in thirds]
    return loops


def _in_larger_hole(i: int, j: int, k: int) -> bool:
    return any(i // 3**m % 3 == 1 and j // 3**m % 3 == 1 for m in range(1, k))


def sponge_genus(level: int) -> int:
    """A sponge is twenty smaller ones that share 24 carpets; those meet in lines and points.

    So its Euler characteristic is 20 times the smaller one's less 24 times a
    carpet's (the lines and points cancel), a carpet's is 1 less its holes,
    8⁰ + 8¹ + …; and a solid of characteristic c has 1 − c holes.
    """
    solid = 1
    for k in range(level):
        solid = 20 * solid - 24 * (1 - (8**k - 1) // 7)
    return 1 - solid


def assert_sponge(folder: Path, level: int) -> None:
    side = 27.0 * 3 ** max(0, level - 2)
    loops = carpet(level, side)
    assert len(loops) == 1 + (8**level - 1) // 7
    part = load(folder, (side, side, side), dict.fromkeys(THREE, loops))
    known = Known(
        (20 / 27) ** level * side**3,
        (2 * (20 / 9) ** level + 4 * (8 / 9) ** level) * side**2,
        (side / 2, side / 2, side / 2),
    )
    assert_exact(part, known)
    # all three outlines are alike, and so are the axes: only the trace is not zero
    tensor = part.measures.inertia
    assert np.allclose(tensor, tensor[0, 0] * np.eye(3), rtol=0, atol=1e-9 * tensor[0, 0])
    assert holes(part) == sponge_genus(level)


@pytest.mark.parametrize(("level", "genus"), [(1, 5), (2, 81)])
def test_a_menger_sponge(tmp_path: Path, level: int, genus: int) -> None:
    assert sponge_genus(level) == genus
    assert_sponge(tmp_path, level)


@pytest.mark.big
def test_a_menger_sponge_of_the_third_level(tmp_path: Path) -> None:
    assert sponge_genus(3) == 1409
    assert_sponge(tmp_path, 3)
