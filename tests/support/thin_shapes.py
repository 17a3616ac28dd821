"""Solids of known thickness for the tests of thin sections.

Each family of oblique bodies is made of flat walls only, turned at random, and its thickness is
constructed here, by hand: the distance between two planes, two edges, or an edge or tip and a
plane that face each other.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from shapely import Polygon

from silhouette3d.geometry.frames import VIEWS, View
from silhouette3d.geometry.mesh import Mesh
from silhouette3d.geometry.solid import Solid
from tests.support.shapes import rect

Random = np.random.Generator
FRONT, RIGHT = VIEWS["front"], VIEWS["right"]


def block(width: float, depth: float, height: float) -> Solid:
    """From the origin to (width, depth, height)."""
    return Solid.prism(rect(0, 0, width, height), FRONT, (-depth, 0))


def prism(points: list[tuple[float, float]], depth: float, view: View = FRONT) -> Solid:
    """A polygon of the front view from y = 0 to y = depth."""
    return Solid.prism(Polygon(points), view, (-depth, 0))


def groove(tip: tuple[float, float], slant: float, above: bool, view: View = FRONT) -> Solid:
    """A V of half-angle `slant` in degrees, 10 deep, that opens up or down from its tip."""
    u, v = tip
    wide, high = 10.0 * math.tan(math.radians(slant)), 10.0 if above else -10.0
    area = Polygon([(u, v), (u - wide, v + high), (u + wide, v + high)])
    return Solid.prism(area, view, (-30.0, 30.0))


def spike(tip: tuple[float, float, float], sides: int, slant: float, above: bool) -> Solid:
    """A pyramid of half-angle `slant` in degrees, 10 high, that opens up or down from its tip."""
    angle = 0.3 + np.arange(sides) * (2.0 * math.pi / sides)
    wide, high = 10.0 * math.tan(math.radians(slant)), 10.0 if above else -10.0
    ring = np.column_stack([wide * np.cos(angle), wide * np.sin(angle), np.full(sides, high)])
    vertices = np.array(tip) + np.concatenate([ring, [[0, 0, 0], [0, 0, high]]])
    here = np.arange(sides)
    following = np.roll(here, -1)
    walls = np.column_stack([following, here, np.full(sides, sides)])
    lid = np.column_stack([here, following, np.full(sides, sides + 1)])
    triangles = np.concatenate([walls, lid])
    return Solid.from_mesh(Mesh(vertices, triangles if above else triangles[:, ::-1].copy()))


def turned(solid: Solid, random: Random) -> Solid:
    """Turned and moved at random."""
    q, r = np.linalg.qr(random.normal(size=(3, 3)))
    q *= np.sign(np.diag(r))
    if np.linalg.det(q) < 0.0:
        q[:, 0] *= -1.0
    return solid.mapped(np.column_stack([q, random.uniform(-20.0, 20.0, 3)]))


def plate(t: float, random: Random) -> Solid:
    """Two parallel planes."""
    return block(random.uniform(8, 16), random.uniform(8, 16), t)


def taper(t: float, random: Random) -> Solid:
    """Two planes that open from a blunt edge.

    The ball at a corner of the blunt edge of width w touches the other one: w / cos(half-angle).
    """
    half, length = math.radians(random.uniform(1, 21)), random.uniform(4, 8)
    low = t * math.cos(half) / 2.0
    high = low + length * math.tan(half)
    return prism([(0, -low), (length, -high), (length, high), (0, low)], random.uniform(5, 10))


def waist(t: float, random: Random) -> Solid:
    """Two V-grooves, tip to tip, that may stand askew."""
    off, gap = _askew(t, random)
    above = groove((8 + off / 2, 5 + gap / 2), random.uniform(22, 50), True)
    below = groove((8 - off / 2, 5 - gap / 2), random.uniform(22, 50), False)
    return block(16, random.uniform(6, 10), 10).minus(above).minus(below)


def crossing(t: float, random: Random) -> Solid:
    """Two V-grooves that cross, one above the other."""
    above = groove((8, 5 + t / 2), random.uniform(5, 45), True)
    below = groove((8, 5 - t / 2), random.uniform(5, 45), False, RIGHT)
    return block(16, 16, 10).minus(above).minus(below)


def groove_over_floor(t: float, random: Random) -> Solid:
    """A V-groove over a plane."""
    height = random.uniform(4, 7)
    return block(16, random.uniform(6, 10), height).minus(
        groove((8, t), random.uniform(5, 45), True)
    )


def tip_over_floor(t: float, random: Random) -> Solid:
    """The tip of a pyramid over a plane."""
    sides = int(random.integers(3, 7))
    return block(16, 16, random.uniform(4, 7)).minus(
        spike((8, 8, t), sides, random.uniform(10, 35), True)
    )


def tip_to_tip(t: float, random: Random) -> Solid:
    """Two pyramids, tip to tip."""
    one, two = (int(n) for n in random.integers(3, 7, 2))
    above = spike((8, 8, 5 + t / 2), one, random.uniform(10, 35), True)
    below = spike((8, 8, 5 - t / 2), two, random.uniform(10, 35), False)
    return block(16, 16, 10).minus(above).minus(below)


def triangular_bar(t: float, random: Random) -> Solid:
    """A bar whose section is an equilateral triangle of height t: from edge to wall."""
    side = 2.0 * t / math.sqrt(3.0)
    return prism([(0, 0), (side, 0), (side / 2, t)], random.uniform(6, 12))


FAMILIES: dict[str, Callable[[float, Random], Solid]] = {
    "plate": plate,
    "taper": taper,
    "waist": waist,
    "crossing": crossing,
    "groove over floor": groove_over_floor,
    "tip over floor": tip_over_floor,
    "tip to tip": tip_to_tip,
    "triangular bar": triangular_bar,
}


def _askew(t: float, random: Random) -> tuple[float, float]:
    """Two sides of a right triangle over t, slanted by less than the narrowest groove's flank."""
    slant = math.radians(random.uniform(-20, 20))
    return t * math.sin(slant), t * math.cos(slant)


def convex_body(random: Random) -> Solid:
    """A block less some corners, cut at random; see `room` for what is known of it."""
    size = random.uniform(8, 14, 3)
    body = block(*size)
    for _ in range(int(random.integers(1, 5))):
        normal = random.normal(size=3)
        normal /= np.linalg.norm(normal)
        away = float(np.abs(normal) @ size / 2.0) * random.uniform(0.75, 0.97)
        body = body.minus(_beyond(size / 2.0, normal, away))
    return body


def _beyond(middle: np.ndarray, normal: np.ndarray, away: float) -> Solid:
    """All of space, as far as it matters, that lies more than `away` along a direction."""
    across = np.linalg.svd(normal[None])[2][1:]
    axes = np.array([across[0], np.cross(normal, across[0]), normal]).T
    cube = block(400, 400, 400)
    return cube.mapped(np.column_stack([axes, middle + axes @ [-200.0, -200.0, away]]))


def room(body: Solid) -> float:
    """The least distance between a corner of a convex body and a plane it does not lie in.

    Nothing of a convex body is thinner if all its edges are of 90 degrees or more and three
    planes meet in each corner: walls that face each other within 44 degrees have then no corner
    in common. 0 where this does not hold.
    """
    mesh = body.mesh
    vectors = mesh.area_vectors
    normals = vectors / np.linalg.norm(vectors, axis=1)[:, None]
    planes = _distinct(np.column_stack([normals, (normals * mesh.corners[:, 0]).sum(axis=1)]))
    high = planes[:, 3] - mesh.vertices @ planes[:, :3].T
    on = high < 1e-7
    cosine = np.einsum("ij,ij->i", *(normals[mesh.edges[1][:, k]] for k in (0, 1)))
    sharp = (cosine < -1e-9).any()
    return 0.0 if sharp or (on.sum(axis=1) != 3).any() else float(high[~on].min())


def _distinct(rows: np.ndarray) -> np.ndarray:
    kept: list[np.ndarray] = []
    for row in rows:
        if all(np.abs(row - other).max() > 1e-7 for other in kept):
            kept.append(row)
    return np.array(kept)


def blade_tip(random: Random) -> tuple[Solid, float, float]:
    """A blade whose flanks face each other, ground to a tip before they meet.

    Also how thick it is at least and at most where it is thinnest, across the end of the tip: its
    width w, as no way between the flanks is shorter, and w / cos(half the angle between them),
    the diameter of the ball that touches both flanks there. Angles and widths have four decimals.
    """
    flanks, tip = (round(random.uniform(*ends), 4) for ends in ((4, 43.9), (45, 88)))
    lean, wide = round(random.uniform(-70, 70 - tip), 4), round(random.uniform(0.2, 2.3), 4)
    half, far = math.radians(flanks / 2.0), 60.0
    apex = wide / 2.0 / math.tan(half)
    high = (far + apex) * math.tan(half)
    blade = Polygon([(-far, high), (apex, 0), (-far, -high)])
    ends = np.radians([lean, lean + tip])
    ground = Polygon([(0, 0), *(-22.0 * np.column_stack([np.cos(ends), np.sin(ends)]))])
    made = Solid.prism(blade, VIEWS["top"], (-far, far)).intersection(
        Solid.prism(ground, FRONT, (-far, far))
    )
    return made, wide, wide / math.cos(half)


def pointed_body(random: Random) -> Solid:
    """A convex body of four to six planes, none of which faces another within 44 degrees.

    Some of its corners are pointed: a wall and an edge opposite part by less than 44 degrees, but
    by more than 22. So it is nowhere thin, however near to a corner.
    """
    while True:
        normals = random.normal(size=(int(random.integers(4, 7)), 3))
        normals /= np.linalg.norm(normals, axis=1)[:, None]
        edges = np.cross(normals[:, None], normals[None])
        edges /= np.maximum(np.linalg.norm(edges, axis=2), 1e-9)[:, :, None]
        slant = np.abs(edges @ normals.T)  # sine of the angle between an edge and a wall
        others = ~np.eye(len(normals), dtype=bool)
        others = others[:, :, None] & others[:, None, :] & others[None]
        away = random.uniform(8, 12, len(normals))
        if (normals @ normals.T).min() < -math.cos(math.radians(45)):
            continue
        if slant[others].min() < math.sin(math.radians(23)):
            continue
        body = block(200, 200, 200).mapped(np.column_stack([np.eye(3), [-100.0] * 3]))
        for normal, high in zip(normals, away, strict=True):
            body = body.minus(_beyond(np.zeros(3), normal, high))
        if np.abs(body.bounds).max() < 80:  # bounded by these planes alone
            return body
