"""How fast thin places are found, and how well, beside trimesh on the same samples.

    python scripts/bench/thickness.py [triangles ...]
    python scripts/bench/thickness.py --plate

The part is a ring with a bar across it, walls of 1.0 and 1.6, cut through by a row of round
holes 0.8 apart; finer circles give more triangles. Readings are compared at the points that the
check itself samples: "missed" are points thinner than the limit by the definition that the other
does not call thin, "alarms" points the other way round, both as a share of the thin ones. That
the check's own readings are those of the definition is for the tests to say. With embreex
installed trimesh's rays use Embree. `--plate` asks for a plate of so many samples only, and says
how much memory that takes.
"""

from __future__ import annotations

import argparse
import resource
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from silhouette3d.geometry.frames import VIEWS, Array
from silhouette3d.geometry.removal import Removal
from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.subtract import carve
from silhouette3d.geometry.thickness.definition import spacing
from silhouette3d.geometry.thickness.regions import thickness_field, thin_regions

LIMIT = 1.5
SLOW = 2000
"""Samples that trimesh is asked for; its balls are too slow for all."""

SIZE = (60.0, 60.0, 40.0)


@dataclass(frozen=True)
class Row:
    """One line of the table."""

    name: str
    samples: int
    seconds: float
    missed: float = 0.0
    alarms: float = 0.0
    error: float = 0.0

    def __str__(self) -> str:
        return (
            f"  {self.name:24} {self.samples:9,} {self.seconds:9.3f} s"
            f" {self.missed:8.1%} {self.alarms:8.1%} {self.error:9.2%}"
        )


def circle(u: float, v: float, radius: float, corners: int) -> Polygon:
    """A regular polygon."""
    t = np.arange(corners) * (2.0 * np.pi / corners)
    return Polygon(np.column_stack([u + radius * np.cos(t), v + radius * np.sin(t)]))


def part(corners: int) -> Solid:
    """The ring with its bar and holes, of circles with so many corners."""
    ring = circle(30, 30, 28, corners).difference(circle(30, 30, 27, corners))
    holes = [circle(10 + 10 * i, 20, 4.6, max(corners // 4, 8)) for i in range(5)]
    kept = {
        "top": ring.union(shapely.box(2.5, 29.2, 57.5, 30.8)),
        "front": shapely.box(0, 0, 60, 40).difference(shapely.union_all(holes)),
    }
    around = shapely.box(-10, -10, 70, 70)
    removals = [
        Removal(MultiPolygon(list(shapely.get_parts(around.difference(area)))), VIEWS[view])
        for view, area in kept.items()
    ]
    return carve(Stock(SIZE), removals)


def timed(work: Callable[[], object]) -> float:
    """Processor seconds."""
    start = time.process_time()
    work()
    return time.process_time() - start


def compared(name: str, solid: Solid, points: Array, normals: Array, true: Array) -> Row:
    """Readings of one of trimesh's methods, inwards from a hair below the surface."""
    import trimesh.proximity

    thickness: Callable[..., Array] = trimesh.proximity.thickness
    mesh = trimesh.Trimesh(solid.mesh.vertices, solid.mesh.triangles, process=False)
    found: list[Array] = []

    def read() -> None:
        found.append(thickness(mesh, points, exterior=False, normals=normals, method=name))

    seconds = timed(read)
    reading = np.where(np.isfinite(found[0]), found[0], np.inf)
    thin, said = true < LIMIT, reading < LIMIT
    both = thin & said
    count = max(int(thin.sum()), 1)
    error = float(np.abs(reading[both] / true[both] - 1.0).max()) if both.any() else 0.0
    return Row(
        f"trimesh {name}",
        len(points),
        seconds,
        float((thin & ~said).sum() / count),
        float((said & ~thin).sum() / count),
        error,
    )


def bench(corners: int, *, others: bool) -> None:
    """One part, all methods."""
    solid = part(corners)
    print(f"{len(solid.mesh.triangles):,} triangles, limit {LIMIT} mm")
    print(f"  {'':24} {'samples':>9} {'processor':>11} {'missed':>8} {'alarms':>8} {'error':>9}")
    points, triangle, true = thickness_field(solid, LIMIT)
    print(Row("the whole check", len(points), timed(lambda: thin_regions(solid, LIMIT))))
    print(Row("readings only", len(points), timed(lambda: thickness_field(solid, LIMIT))))
    if others:
        rows = np.random.default_rng(0).choice(len(points), min(SLOW, len(points)), replace=False)
        vectors = solid.mesh.area_vectors[triangle[rows]]
        normals = vectors / np.linalg.norm(vectors, axis=1)[:, None]
        for name in ("ray", "max_sphere"):
            print(compared(name, solid, points[rows], normals, true[rows]))
    regions = thin_regions(solid, LIMIT)
    sizes = ", ".join(f"{region.thickness:.4f}" for region in regions[:6])
    print(f"  {len(regions)} regions: {sizes}{' …' if len(regions) > 6 else ''}")
    print(f"  {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000:.0f} MB at most so far")


def plate(samples: int) -> None:
    """A plate of one thickness, thin all over, large enough for so many samples."""
    side = float(np.sqrt(samples / 2.0) * spacing(LIMIT))
    solid = Solid.prism(shapely.MultiPolygon([shapely.box(0, 0, side, side)]), VIEWS["top"], (0, 1))
    seconds = timed(lambda: thin_regions(solid, LIMIT))
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    print(f"plate of {samples:,} samples: {seconds:.1f} s of processor time, {most:.0f} MB at most")


def main() -> None:
    """The table for each number of triangles."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("triangles", nargs="*", type=int, default=[2000, 20_000, 200_000])
    parser.add_argument("--alone", action="store_true", help="leave trimesh out")
    parser.add_argument("--plate", action="store_true", help="only a plate of 5 million samples")
    options = parser.parse_args()
    thin_regions(part(8), LIMIT)  # compiled, if it was not
    if options.plate:
        plate(5_000_000)
        return
    for triangles in options.triangles:
        bench(max(8, int(triangles / 28.5)), others=not options.alone)


if __name__ == "__main__":
    main()
