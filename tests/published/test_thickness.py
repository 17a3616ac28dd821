"""Thin sections against thicknesses that have closed forms.

Sources
-------
Diameter of the largest ball in the material at a point, as thickness
    T. Hildebrand and P. Rüegsegger, "A new method for the model-independent assessment of
    thickness in three-dimensional images", J. Microscopy 185 (1997) 67-75 (citation from
    memory): a plate of thickness t has t everywhere, a cylinder of radius r has 2 r.
Leaving out what does not face each other
    M. Foskey, M. C. Lin, D. Manocha, "Efficient computation of a simplified medial axis", ACM
    Symposium on Solid Modeling and Applications 2003: a point of the medial axis is kept if the
    directions to its nearest surface points part by more than a given angle. For a plate that is
    180 degrees, for a wedge 180 degrees less its angle; so an angle of 136 degrees keeps walls
    that meet within 44 degrees and drops every ordinary corner.
A ball tangent at a surface point
    J. Ma, S. W. Bae, S. Choi, "3D medial axis point approximation using nearest neighbors and the
    normal field", Visual Computer 28 (2012) 7-19, doi 10.1007/s00371-011-0594-7: its radius is
    |p - q| / (2 cos θ), with θ between the normal at p and the way to the point q it touches.
    At the distance s from the edge of a wedge of angle a that gives 2 s tan(a/2).

The limit T is named beside each case; below it everything is to be found, above it nothing.
The rows in millimetres are worked out here from those sources, by hand.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import Polygon

from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.thickness.definition import ThinRegion
from silhouette3d.geometry.thickness.regions import thickness_field, thin_regions
from tests.support.shapes import SOUND, Area, Shape, disc, many, rect
from tests.support.thin_shapes import block, spike

EXACT = 1e-9
"""Relative: a few hundred times the rounding of double precision."""

SEARCHED = 1e-6
"""Relative: where a search closes in on the place to 1e-5 of its first step."""


Points = list[tuple[float, float]]


def part(size: tuple[float, float, float], **outlines: Area) -> Solid:
    """What is left of a block inside its outlines."""
    return Shape(size, outlines, 0.0, 0.0).solid


def thicknesses(regions: tuple[ThinRegion, ...]) -> list[float]:
    assert {region.kind for region in regions} <= {"wall"}
    return [region.thickness for region in regions]


def joined(*areas: Area) -> Area:
    return many(shapely.union_all(areas))


# Walls between parallel planes.


def test_plate() -> None:
    (region,) = thin_regions(part((40, 30, 1), top=rect(0, 0, 40, 30)), 1.5)
    assert region.kind == "wall"
    assert region.angle is None
    assert region.thickness == pytest.approx(1.0, rel=EXACT)
    assert region.area == pytest.approx(2 * 40 * 30)
    # samples lie on the rim, and a hair inside: a ten-millionth of the way to the middle
    np.testing.assert_allclose(region.extent, [40, 30, 1], atol=1e-5)
    assert sorted([region.p[2], region.q[2]]) == pytest.approx([0.0, 1.0])
    np.testing.assert_allclose(region.p[:2], region.q[:2], atol=1e-9)


@pytest.mark.parametrize(("limit", "expected"), [(2.5, [1.2, 2.0]), (1.5, [1.2]), (1.1, [])])
def test_tee(limit: float, expected: list[float]) -> None:
    """Web 1.2, flange 2.0: two places, for their chords stand square to each other."""
    tee = joined(rect(0, 0, 30, 2.0), rect(14.4, 0, 15.6, 20))
    found = thin_regions(part((30, 20, 20), front=tee), limit)
    assert thicknesses(found) == pytest.approx(expected, rel=EXACT)


def test_two_cubes_and_a_bar() -> None:
    """The bar only, once, though it is thin both ways."""
    outline = joined(rect(0, 0, 10, 10), rect(10, 4.25, 13, 5.75), rect(13, 0, 23, 10))
    (region,) = thin_regions(part((23, 10, 10), front=outline, top=outline), 2.0)
    assert region.thickness == pytest.approx(1.5, rel=EXACT)
    np.testing.assert_allclose(region.low, [10, 4.25, 4.25], atol=1e-5)
    np.testing.assert_allclose(region.high, [13, 5.75, 5.75], atol=1e-5)
    assert region.area == pytest.approx(4 * 1.5 * 3)
    np.testing.assert_allclose(region.at, [11.5, 5, 5], atol=0.5)  # about the middle: a sample


def test_comb_of_ten_fins() -> None:
    fins = [rect(3 * i, 0, 3 * i + 0.8, 20) for i in range(10)]
    found = thin_regions(part((27.8, 10, 20), front=joined(rect(0, 0, 27.8, 5), *fins)), 1.5)
    assert thicknesses(found) == pytest.approx([0.8] * 10, rel=EXACT)
    assert [region.at[0] for region in found] == pytest.approx([3 * i + 0.4 for i in range(10)])


def test_square_and_round_hole_near_a_wall() -> None:
    square, hole = rect(0.6, 5, 5.6, 10), disc(14, 20 - 0.6 - 3, 3)
    plate = many(shapely.difference(rect(0, 0, 20, 20), joined(square, hole)))
    found = thin_regions(part((20, 20, 10), top=plate), 1.5)
    # the round hole has a corner at its top, so the polygon is as near as the circle
    assert thicknesses(found) == pytest.approx([0.6, 0.6], rel=EXACT)
    low, high = sorted((region.at[:2] for region in found), key=lambda at: float(at[0]))
    np.testing.assert_allclose(low, [0.3, 7.5], atol=0.5)  # about the middle: a sample
    np.testing.assert_allclose(high, [14, 19.7], atol=1e-3)


# Wedges.


def wedge(angle: float) -> Solid:
    """Its edge along y at x = 0, in the middle of a block 12 high; blunt at its thick end."""
    half = 12 * math.tan(math.radians(angle / 2))
    outline = Polygon([(0, half), (12, 0), (12, 2 * half)])
    return part((12, 8, 2 * half), front=outline)


@pytest.mark.parametrize("angle", [20.0, 40.0])
def test_wedge(angle: float) -> None:
    (region,) = thin_regions(wedge(angle), 1.5)
    assert region.kind == "knife"
    assert region.thickness == 0.0
    assert region.angle == pytest.approx(angle)
    assert region.length == pytest.approx(8.0)
    np.testing.assert_allclose(region.p, [0, 4, 12 * math.tan(math.radians(angle / 2))], atol=1e-9)
    np.testing.assert_array_equal(region.p, region.q)
    # thin as far as 2 s tan(a/2) < T, on both sides; samples tell to within their spacing
    s = 1.5 / (2 * math.tan(math.radians(angle / 2)))
    assert region.area == pytest.approx(2 * 8 * s, rel=0.05)
    assert region.extent[0] == pytest.approx(s * math.cos(math.radians(angle / 2)), abs=1.5 / 4)


@pytest.mark.parametrize("angle", [20.0, 40.0])
def test_ball_in_a_wedge(angle: float) -> None:
    """At the distance s from the edge: 2 s tan(a/2), where the walls are long enough."""
    points, triangle, thickness = thickness_field(wedge(angle), 1.5)
    normal = wedge(angle).mesh.area_vectors[triangle]
    slanted = (np.abs(normal[:, 1]) < 1e-9) & (np.abs(normal[:, 2]) > 1e-9)
    middle = 12 * math.tan(math.radians(angle / 2))
    s = np.hypot(points[:, 0], points[:, 2] - middle)[slanted]
    expected = np.minimum(2 * s * math.tan(math.radians(angle / 2)), 1.5)
    np.testing.assert_allclose(thickness[slanted], expected, rtol=1e-6)


@pytest.mark.parametrize("angle", [60.0, 90.0])
def test_wide_wedges_are_ordinary_corners(angle: float) -> None:
    assert thin_regions(wedge(angle), 1.5) == ()


def test_blunted_wedge() -> None:
    """20 degrees, cut off where it is 0.1 wide: the ball at a corner is 0.1 / cos 10°."""
    low = 0.05 + 5 * math.tan(math.radians(10))
    outline = Polygon([(0, low - 0.05), (5, 0), (5, 2 * low), (0, low + 0.05)])
    (region,) = thin_regions(part((5, 10, 2 * low), front=outline), 1.5)
    assert region.kind == "wall"
    assert region.thickness == pytest.approx(0.1 / math.cos(math.radians(10)), rel=SEARCHED)
    assert region.thickness == pytest.approx(0.1015, abs=5e-5)


# No alarm.

OCTAGON = Polygon([(1, 0), (9, 0), (10, 1), (10, 9), (9, 10), (1, 10), (0, 9), (0, 1)])
ORDINARY = {
    "cube": part((10, 10, 10), front=rect(0, 0, 10, 10)),
    "chamfered cube": part((10, 10, 10), front=OCTAGON, top=OCTAGON, right=OCTAGON),
    "steps": SOUND["steps"].solid,
    "octagonal prism": part((10, 10, 10), top=disc(5, 5, 5, 8)),
    "three cylinders": part(
        (10, 10, 10), front=disc(5, 5, 5), right=disc(5, 5, 5), top=disc(5, 5, 5)
    ),
    "cylinder": part((10, 10, 10), top=disc(5, 5, 5, 256)),
}


@pytest.mark.parametrize("limit", [1.5, 3.0])
@pytest.mark.parametrize("name", ORDINARY)
def test_ordinary_corners_are_silent(name: str, limit: float) -> None:
    assert thin_regions(ORDINARY[name], limit) == ()


@pytest.mark.parametrize("length", [10.0, 30.0])
def test_cylinder(length: float) -> None:
    """2 r less the facets: 256 of them, opposite ones 2 r cos(π/256) apart."""
    (region,) = thin_regions(part((10, 10, length), top=disc(5, 5, 5, 256)), 11.0)
    assert 10.0 * 0.995 <= region.thickness <= 10.0
    np.testing.assert_allclose(region.extent, [10, 10, length], atol=0.1)


# Necks and notches.


@pytest.mark.parametrize("flank", [0.5, 3.0, 4.5])
def test_waist_of_two_notches(flank: float) -> None:
    """Tip to tip 1.000, whether the notches are narrow or wide."""
    lower: Points = [(0, 0), (5 - flank, 0), (5, 4.5), (5 + flank, 0), (10, 0)]
    upper: Points = [(10, 10), (5 + flank, 10), (5, 5.5), (5 - flank, 10), (0, 10)]
    (region,) = thin_regions(part((10, 6, 10), front=Polygon(lower + upper)), 1.5)
    assert region.thickness == pytest.approx(1.0, rel=EXACT)
    assert {*np.round([region.p[2], region.q[2]], 6)} == {4.5, 5.5}


def test_offset_waist() -> None:
    """Tips 1.0 apart in height and 0.3 to the side: √1.09."""
    lower: Points = [(0, 0), (2, 0), (5, 4.5), (8, 0), (10, 0)]
    upper: Points = [(10, 10), (8.3, 10), (5.3, 5.5), (2.3, 10), (0, 10)]
    (region,) = thin_regions(part((10, 6, 10), front=Polygon(lower + upper)), 1.5)
    assert region.thickness == pytest.approx(math.hypot(1.0, 0.3), rel=EXACT)
    assert region.thickness == pytest.approx(1.0440, abs=5e-5)


def test_crossed_grooves() -> None:
    """One along y from above, one along x from below: 1.000 where they cross."""
    above = Polygon([(0, 0), (10, 0), (10, 10), (8, 10), (5, 5.5), (2, 10), (0, 10)])
    below = Polygon([(0, 0), (2, 0), (5, 4.5), (8, 0), (10, 0), (10, 10), (0, 10)])
    (region,) = thin_regions(part((10, 10, 10), front=above, right=below), 1.5)
    assert region.thickness == pytest.approx(1.0, rel=SEARCHED)
    np.testing.assert_allclose(region.at, [5, 5, 5], atol=1e-3)


@pytest.mark.parametrize("sides", [3, 4, 5, 8])
def test_tip_over_a_floor(sides: int) -> None:
    """No through-cut leaves one: taken out of a block."""
    solid = block(12, 12, 8).minus(spike((6.1, 5.8, 0.7), sides, 25.0, above=True))
    (region,) = thin_regions(solid, 1.5)
    assert region.thickness == pytest.approx(0.7, rel=SEARCHED)
    np.testing.assert_allclose(region.at, [6.1, 5.8, 0.35], atol=1e-3)


def test_triangular_bar() -> None:
    """Side 1: from an edge to the wall opposite √3/2; its edges of 60 degrees are no knives."""
    outline = Polygon([(0, 0), (1, 0), (0.5, math.sqrt(3) / 2)])
    (region,) = thin_regions(part((1, 20, math.sqrt(3) / 2), front=outline), 1.5)
    assert region.thickness == pytest.approx(math.sqrt(3) / 2, rel=SEARCHED)
