"""Thin sections, necks and knife edges where drawings have curves: the curves decide, not chords.

Expected values are closed forms of plane geometry: the wall between two circles is the distance
of their centres less both radii, or the difference of the radii less that of the centres; the
tip between two arcs has the angle of their tangents; the gap between a parabola and a line square
to its axis is the distance to its vertex.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import silhouette3d

EXACT = 1e-6
"""mm. Where a search closes in, to 1e-5 of its first step; a ten-thousandth of the deviation of
chords, which are off by 0.01 mm."""

DEPTH = 12.0
KINDS = {"thin-section", "thin-in-view", "knife-edge"}


def circle(u: float, v: float, r: float) -> str:
    """As a path of two half turns."""
    return f"M {u - r:.12f} {v:.12f} a {r} {r} 0 0 1 {2 * r} 0 a {r} {r} 0 0 1 {-2 * r} 0 Z"


def box(u0: float, v0: float, u1: float, v1: float) -> str:
    return f"M {u0} {v0} H {u1} V {v1} H {u0} Z"


def part(
    folder: Path,
    paths: Mapping[str, Iterable[str]],
    limit: float,
    *,
    tolerance: float = 0.01,
    stock: str = f"size = [60.0, {DEPTH}, 40.0]",
) -> silhouette3d.Part:
    """A job with an SVG for each view; v is counted from the top, u from the left of the face."""
    text = ['name = "curved"', f"tolerance = {tolerance}", "[stock]", stock, "density = 1.0"]
    text += ["[checks]", f"thin = {limit}"]
    for view, some in paths.items():
        w, h = (DEPTH, 40.0) if view in {"right", "left"} else (60.0, 40.0)
        drawn = f'<path fill="none" stroke="black" d="{" ".join(some)}"/>'
        (folder / f"{view}.svg").write_text(
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" height="{h}mm" '
            f'viewBox="0 0 {w} {h}">{drawn}</svg>'
        )
        text += ["[[profile]]", f'view = "{view}"', f'drawing = "{view}.svg"']
    (folder / "job.toml").write_text("\n".join(text) + "\n")
    return silhouette3d.load(folder / "job.toml")


def told(of: silhouette3d.Part) -> list[Any]:
    """Codes and values of the findings about thin places; each place counts."""
    each = (one for found in of.findings_of_part for one in found.members or (found,))
    return sorted((f.code, float(f.value or 0.0)) for f in each if f.code in KINDS)


def measured(of: silhouette3d.Part) -> list[Any]:
    """Thicknesses in the solid, whatever is told of them."""
    return [section.region.thickness for section in of.thin]


@pytest.mark.parametrize("tolerance", [0.001, 0.01, 0.05])
@pytest.mark.parametrize(("wall", "thin"), [(1.502, False), (1.5, False), (1.498, True)])
def test_a_ring(tmp_path: Path, wall: float, thin: bool, tolerance: float) -> None:
    """Told once, although its walls go all round; chords would have it 0.01 mm thinner."""
    rings = [circle(30, 20, 10), circle(30, 20, 10 - wall)]
    found = part(tmp_path, {"front": rings}, 1.5, tolerance=tolerance)
    assert told(found) == ([("thin-in-view", pytest.approx(wall, abs=EXACT))] if thin else [])
    assert measured(found) == ([pytest.approx(wall, abs=EXACT)] if thin else [])


@pytest.mark.parametrize(("wall", "thin"), [(1.502, False), (1.498, True)])
def test_a_hole_in_a_round_bar(tmp_path: Path, wall: float, thin: bool) -> None:
    around, hole = box(-5, -5, 65, 45), circle(30, 20, 20 - wall)
    bar = 'round = {diameter = 40.0, length = 12.0, along = "y"}'
    (tmp_path / "front.svg").write_text("")
    found = part(tmp_path, {"front": [around, hole]}, 1.5, stock=bar)
    assert told(found) == ([("thin-in-view", pytest.approx(wall, abs=EXACT))] if thin else [])


def lens(angle: float, radius: float, *, bulging: bool) -> str:
    """Two arcs that meet in two tips of an angle in degrees, or a square tile of four hollow ones.

    The hollow ones are arcs between the corners of a square; tangents there part by 90 degrees
    less twice half their included angle.
    """
    if bulging:
        half = radius * math.sin(math.radians(angle / 2.0))
        arc = f"{radius} {radius} 0 0 1"
        return f"M {30 - half:.12f} 20 A {arc} {30 + half:.12f} 20 A {arc} {30 - half:.12f} 20 Z"
    half = radius * math.sin(math.radians((90.0 - angle) / 2.0))
    corners = [(30 + x * half, 20 + y * half) for x, y in ((-1, 1), (1, 1), (1, -1))]
    arcs = " ".join(f"A {radius} {radius} 0 0 1 {x:.12f} {y:.12f}" for x, y in corners)
    start = f"{30 - half:.12f} {20 - half:.12f}"
    return f"M {start} {arcs} A {radius} {radius} 0 0 1 {start} Z"


@pytest.mark.parametrize("radius", [3.0, 5.0, 20.0])
@pytest.mark.parametrize("bulging", [True, False])
@pytest.mark.parametrize("angle", [20.0, 43.0, 43.99, 44.01, 45.0, 50.0])
def test_the_tips_of_arcs(tmp_path: Path, angle: float, bulging: bool, radius: float) -> None:
    """An angle of 44 degrees or less is a knife edge, by the tangents."""
    found = part(tmp_path, {"front": [lens(angle, radius, bulging=bulging)]}, 0.3)
    knives = [value for code, value in told(found) if code == "knife-edge"]
    tips = 2 if bulging else 4
    assert knives == ([pytest.approx(angle, abs=1e-6)] * tips if angle < 44.0 else [])


@pytest.mark.parametrize("limit", [0.2, 0.22, 0.23, 0.3])
def test_beside_a_tip_that_is_no_knife_edge(tmp_path: Path, limit: float) -> None:
    """Walls of a lens of 50 degrees face each other from where they part by 44.

    There the ball has the diameter 2 r (cos 22° - cos 25°) / cos 22° = 0.2252 mm.
    """
    cosines = [math.cos(math.radians(a)) for a in (22.0, 25.0)]
    thickness = 10.0 * (cosines[0] - cosines[1]) / cosines[0]
    found = part(tmp_path, {"front": [lens(50.0, 5.0, bulging=True)]}, limit)
    thin = [pytest.approx(thickness, abs=2e-5)] * 2 if limit > thickness else []
    assert measured(found) == thin


def test_walls_between_holes_bored_from_two_sides(tmp_path: Path) -> None:
    """Axes 8 mm apart, square to each other; radii 3.2 and 3.305 leave 1.495 mm."""
    front = [box(0, 0, 60, 40), circle(30, 16, 3.2)]
    right = [box(0, 0, DEPTH, 40), circle(DEPTH / 2, 24, 3.305)]
    found = part(tmp_path, {"front": front, "right": right}, 1.5)
    assert told(found) == [("thin-section", pytest.approx(1.495, abs=EXACT))]
    found = part(tmp_path, {"front": front, "right": right}, 1.494)
    assert told(found) == []


@pytest.mark.parametrize(("gap", "thin"), [(1.501, False), (1.499, True)])
def test_a_parabola_and_an_ellipse_over_an_edge(tmp_path: Path, gap: float, thin: bool) -> None:
    """A quadratic Bézier whose lowest point is at t = 0.4, and a turned ellipse's lowest point."""
    # v = 20 + 2 t (1 - t) a + t² b has its greatest value a² / (2 a - b) at t = a / (2 a - b)
    a, b = 8.0, -4.0
    low = a * a / (2.0 * a - b)
    dug = f"M 10 {20 + 0:.12f} Q 20 {20 + a:.12f} 30 {20 + b:.12f} L 10 {20 + b:.12f} Z"
    reach = math.sqrt((6.0 * math.sin(0.5)) ** 2 + (2.0 * math.cos(0.5)) ** 2)
    slanted = math.degrees(0.5)
    u, v = 6.0 * math.cos(0.5), 6.0 * math.sin(0.5)
    y = 20.0 + low - reach
    ellipse = (
        f"M {45 - u:.12f} {y - v:.12f} "
        f"A 6 2 {slanted:.12f} 0 1 {45 + u:.12f} {y + v:.12f} "
        f"A 6 2 {slanted:.12f} 0 1 {45 - u:.12f} {y - v:.12f} Z"
    )
    found = part(tmp_path, {"front": [box(0, 0, 60, 20 + low + gap), dug, ellipse]}, 1.5)
    assert told(found) == ([("thin-in-view", pytest.approx(gap, abs=EXACT))] * 2 if thin else [])
    assert measured(found) == ([pytest.approx(gap, abs=EXACT)] * 2 if thin else [])


radii = st.floats(0.2, 8.8)


@settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    radii,
    radii,
    st.sampled_from([0.3, 1.2, 1.49, 1.495, 1.499, 1.501, 1.505]),
    st.floats(0.0, 2.0 * math.pi),
    st.booleans(),
)
def test_two_circles(
    tmp_path: Path, one: float, two: float, gap: float, way: float, inside: bool
) -> None:
    """Two holes beside each other, or a disc with an eccentric hole: the least wall is `gap`."""
    u, v = math.cos(way), math.sin(way)
    if inside:
        disc = max(one, two + gap + 0.5) + 3.0
        off = disc - two - gap
        paths = [circle(30, 20, disc), circle(30 + off * u, 20 + off * v, two)]
    else:
        first, second = one + gap / 2.0, two + gap / 2.0
        paths = [box(0, 0, 60, 40), circle(30 - first * u, 20 - first * v, one)]
        paths.append(circle(30 + second * u, 20 + second * v, two))
    found = part(tmp_path, {"front": paths}, 1.5)
    expected = [pytest.approx(gap, abs=EXACT)] if gap < 1.5 else []
    assert measured(found) == expected
    assert [value for _, value in told(found)] == expected


def test_necks_are_where_they_are_said_to_be(tmp_path: Path) -> None:
    found = part(tmp_path, {"front": [box(0, 0, 60, 40), circle(30, 34, 4.6)]}, 1.5)
    (finding,) = (f for f in found.findings_of_part if f.code == "thin-in-view")
    assert finding.where == pytest.approx((30.0, DEPTH / 2.0, 0.7), abs=1e-3)
