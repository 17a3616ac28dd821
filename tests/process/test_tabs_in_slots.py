"""Tabs in slots of every width, from half a kerf to three: what they hold, beside a swept disc.

The path is half a kerf outside the outline; a disc of the kerf goes along all of it but for the
tab and half a kerf at both its ends. What it leaves is worked out in the plane with shapely alone.
In a slot narrower than the kerf the cutter does not enter, so the tab stands on the outside; up to
two kerfs the passes along both sides meet, and the tab holds nothing; beyond that a tongue of waste
stands between them, and hangs on the part by the tab.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.ops import substring

from silhouette3d.geometry.stock import Stock
from silhouette3d.process.tab_remnants import joins
from tests.support.cut_jobs import TOLERANCE, cut_of, cutting_of
from tests.support.shapes import Area, many, rect

KERF, DEPTH = 1.2, 8.0
STOCK = Stock((60.0, DEPTH, 40.0))
TAB_ALONE = 1.0
"""mm². What sticks out of the shape of a tab by the roundness of discs is less, a tongue more."""


def left_over(area: Area, at: tuple[float, float], width: float) -> tuple[Area, float]:
    """What of the face hangs on the part, and how much of that is neither part nor tab."""
    pool = shapely.buffer(area, KERF / 2.0, quad_segs=64)
    rings = [r for p in shapely.get_parts(pool) for r in (p.exterior, *p.interiors)]
    spot = shapely.Point(at)
    with_tab = min(rings, key=spot.distance)
    middle, half = with_tab.project(spot) + with_tab.length, (width + KERF) / 2.0
    thrice = shapely.LineString([*with_tab.coords, *with_tab.coords[1:], *with_tab.coords[1:]])
    tab = substring(thrice, middle - half, middle + half)
    runs = [substring(thrice, middle + half, middle + with_tab.length - half)]
    runs += [shapely.LineString(ring.coords) for ring in rings if ring is not with_tab]
    swept = shapely.buffer(shapely.union_all(runs), KERF / 2.0, quad_segs=64)
    left = shapely.get_parts(shapely.difference(shapely.box(0, 0, 60, 40), swept))
    core = shapely.buffer(area, -0.1)
    hangs = shapely.union_all([piece for piece in left if piece.intersects(core)])
    own = shapely.union(area, shapely.buffer(tab, KERF / 2.0, quad_segs=64))
    more = shapely.difference(hangs, shapely.buffer(own, TOLERANCE))
    return many(hangs), float(more.area)


def check(share: float, width: float, height: float) -> bool:
    """Hold one slot against the swept disc; whether the part comes free."""
    half = share * KERF / 2.0
    area = many(shapely.difference(rect(10, 5, 50, 35), rect(30 - half, 12, 30 + half, 35)))
    at = (30 - half + KERF / 2.0, height) if share > 1.0 else (10 - KERF / 2.0, height)
    cut = cut_of("front", area, STOCK, kerf=KERF, tabs=[at], width=width)
    (stage,) = cutting_of([cut]).stages([0], clear_offcuts=True)
    hangs, more = left_over(area, at, width)
    free = not joins(stage, [cut])
    assert free == (more < TAB_ALONE), (share, width, more)
    # polygons stand for the discs of the cutter along some 250 mm of path
    assert stage.part.solid.volume / DEPTH == pytest.approx(hangs.area, abs=TOLERANCE * 50.0)
    return free


@pytest.mark.parametrize("width", [1.0, 2.0])
@pytest.mark.parametrize("share", [0.5, 0.9, 0.99, 1.01, 1.1, 1.5, 1.9, 1.99, 2.01, 2.1, 3.0])
def test_a_tab_in_a_slot(share: float, width: float) -> None:
    """Free from one kerf, where the passes begin to meet, to two, where they no longer do."""
    assert check(share, width, 24.0) == (1.0 < share < 2.0)


@pytest.mark.big
def test_tabs_in_slots_of_every_width() -> None:
    random = np.random.default_rng(4)
    shares = np.linspace(0.5, 3.0, 201)
    shares = shares[(np.abs(shares - 1.0) > 1e-6) & (np.abs(shares - 2.0) > 1e-6)]
    for share in shares:
        check(float(share), float(random.uniform(0.8, 4.0)), float(random.uniform(17.0, 29.0)))
