"""What cuts take and leave, against closed forms.

Sources
-------
- Jakob Steiner, "Über parallele Flächen", Monatsbericht der Akademie der
  Wissenschaften zu Berlin (1840) 114-118 (title and pages from memory), in the
  plane: a convex figure of area A and perimeter L, grown by a distance k, has the
  area A + L k + π k². It follows from adding rectangles on the sides and sectors
  at the corners.
- Eric W. Weisstein, "Steinmetz Solid", MathWorld,
  https://mathworld.wolfram.com/SteinmetzSolid.html : the common part of two
  cylinders of radius r whose axes cross at right angles has the volume 16/3 r³;
  Wikipedia, "Steinmetz solid": that of three has 8 (2 − √2) r³. What falls out of
  a bored cube follows by inclusion and exclusion, as written beside each value.
- Common practice, no source: a part cut from three sides stays joined by tabs
  in the first two cuts and is freed by the third.
"""

from __future__ import annotations

import math
from itertools import permutations

import numpy as np
import pytest
import shapely
from shapely import Point, Polygon

from silhouette3d.geometry.stock import Stock
from silhouette3d.process.cut import Cut
from tests.support.cut_jobs import TOLERANCE, cut_of, cutting_of, stages_of, volumes
from tests.support.shapes import disc, rect

SIDE = 40.0
LEAST_KERF = 0.001
"""mm. As what a kerf of zero is cut on stock of this size."""
ROUNDING = 1e-10
"""Of volumes, relative: walls are rounded to 1e-9 mm, on the scale of SIDE."""


def quarter_sector(cut: Cut, radius: float) -> float:
    """Area of a quarter disc as the cut's own polygon: n triangles with the angle 90° / n."""
    n = (len(shapely.get_coordinates(cut.grown(Point(0.0, 0.0), radius))) - 1) // 4
    return n * 0.5 * radius**2 * math.sin(math.pi / (2.0 * n))


@pytest.mark.parametrize("kerf", [0.2, 0.9, 3.0])
@pytest.mark.parametrize("tolerance", [0.001, 0.01])
def test_a_square_prism_from_a_cube(kerf: float, tolerance: float) -> None:
    a = 10.0
    cut = cut_of("top", rect(15, 15, 25, 25), Stock((SIDE,) * 3), kerf=kerf, tolerance=tolerance)
    (stage,) = stages_of(cut)

    assert volumes(stage, "part") == pytest.approx([a**2 * SIDE], rel=ROUNDING)
    corners = 4.0 * quarter_sector(cut, kerf)
    polygonal = SIDE**3 - (a**2 + 4.0 * a * kerf + corners) * SIDE
    assert volumes(stage, "held") == pytest.approx([polygonal], rel=ROUNDING)
    smooth = SIDE**3 - (a**2 + 4.0 * a * kerf + math.pi * kerf**2) * SIDE
    # an inscribed polygon lacks at most its sagitta all round the circle
    facets = 2.0 * math.pi * kerf * tolerance * SIDE
    assert 0.0 <= volumes(stage, "held")[0] - smooth <= facets


def test_a_triangular_prism_from_a_cube() -> None:
    """Steiner's formula for a figure with other angles: the corners still make one disc."""
    kerf, legs = 2.0, 15.0
    area = Polygon([(10, 10), (10 + legs, 10), (10, 10 + legs)])
    (stage,) = stages_of(cut_of("front", area, Stock((SIDE,) * 3), kerf=kerf))
    perimeter = 2.0 * legs + math.sqrt(2.0) * legs
    smooth = SIDE**3 - (legs**2 / 2.0 + perimeter * kerf + math.pi * kerf**2) * SIDE
    facets = 2.0 * math.pi * kerf * TOLERANCE * SIDE
    assert 0.0 <= volumes(stage, "held")[0] - smooth <= facets


# --- slugs that fall out of a bored cube, as the holes are cut from 1, 2 and 3 faces -----------

HALF, RADIUS, FACETS = 20.0, 10.0, 256


def bored(view: str) -> Cut:
    square = rect(0, 0, 2 * HALF, 2 * HALF)
    hole = disc(HALF, HALF, RADIUS, FACETS)
    area = Polygon(square.exterior, [hole.exterior])
    return cut_of(view, area, Stock((2 * HALF,) * 3), kerf=0.0, name=view)


SLUGS = [
    # a whole cylinder
    (1, 2.0 * math.pi * RADIUS**2 * HALF),
    # less what the first bore has already taken: the common part of two cylinders
    (2, 2.0 * math.pi * RADIUS**2 * HALF - 16.0 / 3.0 * RADIUS**3),
    # less two common parts of two, which share the common part of all three:
    # −2 · 16/3 + 8 (2 − √2) = 2 (8/3 − 4 √2)
    (2, 2.0 * math.pi * RADIUS**2 * HALF + 2.0 * (8.0 / 3.0 - 4.0 * math.sqrt(2.0)) * RADIUS**3),
]


CYCLIC = (("front", "right", "top"), ("right", "top", "front"), ("top", "front", "right"))


@pytest.mark.parametrize(
    "order",
    [
        pytest.param(order, marks=[] if order in CYCLIC else [pytest.mark.big])
        for order in permutations(CYCLIC[0])
    ],
)
def test_slugs_of_a_bored_cube(order: tuple[str, ...]) -> None:
    """Each bore frees fewer and smaller pieces than the one before it, whatever the order.

    A kerf of 0 is cut as one of 0.001 mm inside the hole, and the slug's circle
    is a polygon of 256 sides: both make it smaller, by no more than its surface
    (less than a whole cylinder's) times the kerf, and by the area of 256
    segments along the cylinder.
    """
    surface = 2.0 * math.pi * RADIUS * (2.0 * HALF + RADIUS)
    angle = 2.0 * math.pi / FACETS
    segments = FACETS / 2.0 * RADIUS**2 * (angle - math.sin(angle)) * 2.0 * HALF
    # pieces of the second and third bore are also bounded by the polygons of earlier ones
    room = 3.0 * (segments + surface * LEAST_KERF)

    for stage, (count, smooth) in zip(stages_of(*map(bored, order)), SLUGS, strict=True):
        slugs = [body.solid.volume for body in stage.loose]
        assert len(slugs) == count
        assert slugs == pytest.approx([sum(slugs) / count] * count, rel=1e-9)
        assert sum(slugs) == pytest.approx(smooth, abs=room)


def test_the_values_of_the_slugs() -> None:
    """As computed by hand for A = 2, r = 1, here in units of 10 mm."""
    totals = [total / 1000.0 for _, total in SLUGS]
    assert totals == pytest.approx([12.566371, 7.233037, 6.585995], abs=1e-6)


def test_the_first_slug_as_a_polygon() -> None:
    """A regular polygon whose sides move in by k: n tan(π/n) (apothem − k)²."""
    (stage,) = stages_of(bored("front"))
    inner = RADIUS * math.cos(math.pi / FACETS) - LEAST_KERF
    area = FACETS * math.tan(math.pi / FACETS) * inner**2
    # the hole's corners are rounded to 1e-9 mm, and there are 256 of them
    assert [b.solid.volume for b in stage.loose] == pytest.approx([area * 2 * HALF], rel=1e-8)


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_nothing_gets_lost_in_any_order(order: tuple[int, ...]) -> None:
    """Part + offcuts + kerf = stock, and the part and what the kerfs take in all are the same."""
    stock = Stock((40.0, 36.0, 32.0))
    cuts = [
        cut_of("front", rect(8, 6, 32, 26), stock, tabs=[(8, 16), (32, 16)], name="front"),
        cut_of("right", disc(18, 16, 11), stock, tabs=[(18, 5)], name="right"),
        cut_of("top", Polygon([(6, 4), (34, 10), (30, 30), (10, 32)]), stock, name="top"),
    ]
    cutting = cutting_of(cuts)
    stages = cutting.stages(order, clear_offcuts=True)
    kerf, there = 0.0, [*cutting.bodies(frozenset())]
    for stage in stages:
        there = [solid for solid in there if not any(solid is gone for gone in stage.lifted)]
        removed = stage.cut.profile.to_view(stage.cut.removed)
        kerf += sum(s.within(removed, stage.cut.profile.view).volume for s in there)
        there = [body.solid for body in stage.bodies]
    offcuts = sum(b.solid.volume for b in stages[-1].bodies if not b.is_part)
    offcuts += sum(solid.volume for stage in stages for solid in stage.lifted)
    part = sum(volumes(stages[-1], "part"))
    assert part + offcuts + kerf == pytest.approx(40 * 36 * 32, rel=1e-9)
    reference = cutting_of(cuts).stages(range(3), clear_offcuts=True)
    assert part == pytest.approx(sum(volumes(reference[-1], "part")), rel=1e-9)


@pytest.mark.parametrize("kerf", [0.5, 1.0, 4.0])
def test_what_stays_in_a_square_inside_corner(kerf: float) -> None:
    """The square of half a kerf less a quarter disc: (1 − π/4) (k/2)²."""
    area = Polygon([(5, 5), (30, 5), (30, 15), (15, 15), (15, 30), (5, 30)])
    cut = cut_of("front", area, Stock((SIDE,) * 3), kerf=kerf, tolerance=0.001)
    (left,) = cut.left_in_corners
    # The cutter's disc is replaced by one with corners on it, then one inside that: two sagittas.
    room = 2.0 * 0.001 * math.pi / 2.0 * kerf / 2.0
    assert left.area == pytest.approx((1.0 - math.pi / 4.0) * (kerf / 2.0) ** 2, abs=room)
    assert left.area - room > 0.0
    u, v = np.asarray(left.centroid.coords[0])
    assert 15.0 < u < 15.0 + kerf / 2.0
    assert 15.0 < v < 15.0 + kerf / 2.0


def test_three_cuts_with_tabs_in_the_first_two() -> None:
    """Common practice, no source: held by tabs until the last cut, which severs them all."""
    stock = Stock((SIDE,) * 3)
    stages = stages_of(
        cut_of("front", rect(5, 5, 35, 35), stock, tabs=[(5, 20), (35, 20)]),
        cut_of("right", rect(5, 5, 35, 35), stock, tabs=[(5, 20), (35, 20)]),
        cut_of("top", Polygon([(20, 5), (35, 20), (20, 35), (5, 20)]), stock),
    )
    assert [stage.part_is_held for stage in stages] == [True, True, False]
    assert volumes(stages[-1], "part") == pytest.approx([15 * 30 * 30], rel=ROUNDING)
