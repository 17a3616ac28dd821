"""Thin sections, side by side with a library's sphere and ray methods, in one run.

``.venv/bin/python scripts/bench/thickness.py`` prints a table and, with
``--json FILE``, writes it. The solid is a wavy block with ten fins of 0.8 mm
and a waist of 1.0 mm between two V-notches; it is made finer and finer. Every
method measures from the same points of its faces. A point on the side of a fin
should read less than the limit of 1.5 mm, all others not: whatever reads
otherwise is a miss or a false alarm. The waist lies between two edges, where no
face is; whether a method sees it is told apart.

Needs the extra packages ``embreex`` and ``rtree``.
"""

from __future__ import annotations

import argparse
import json
import resource
import statistics
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import shapely
import trimesh
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

import silhouette3d
from silhouette3d.measure.thickness import thickness_field, thin_regions
from silhouette3d.solid import Solid, Waste, carve
from silhouette3d.stock import Stock
from silhouette3d.view import VIEWS

LIMIT = 1.5
FIN = 0.8
WAIST = 1.0
Floats = NDArray[np.float64]


def solid_of(waves: int) -> Solid:
    """Fins and a waist in the front outline, a finely waved outline from above."""
    body = shapely.box(0, 0, 60, 12)
    fins = [shapely.box(4 + 5.5 * i, 10, 4 + 5.5 * i + FIN, 28) for i in range(10)]
    notches = [
        Polygon([(56.5, 0), (58.5, 0), (57.5, 5.5)]),
        Polygon([(56.5, 12), (58.5, 12), (57.5, 6.5)]),
    ]
    front = shapely.union_all([body, *fins]).difference(shapely.union_all(notches))
    u = np.linspace(0.0, 60.0, waves)
    edge = 20.0 + 2.0 * np.sin(u * 0.3)  # its corners with the fins stay above 59 degrees
    top = Polygon([*zip(u, edge, strict=True), (60.0, 0.0), (0.0, 0.0)])
    stock = Stock((60.0, 22.0, 28.0))
    around = shapely.box(-9, -9, 70, 40)
    areas = {"front": around.difference(front), "top": around.difference(top)}
    wastes = [
        Waste(MultiPolygon([p for p in shapely.get_parts(a) if isinstance(p, Polygon)]), VIEWS[v])
        for v, a in areas.items()
    ]
    return carve(stock, wastes)


def is_thin(points: Floats, normals: Floats) -> NDArray[np.bool_]:
    """Which points lie on the side of a fin, clear of its ends."""
    x, z = points[:, 0], points[:, 2]
    place = (x - 4.0) % 5.5
    on_fin = (x > 3.9) & (x < 59.0) & (z > 13.0) & (z < 27.0) & (place < FIN + 1e-6)
    return np.asarray(on_fin & (np.abs(normals[:, 0]) > 0.999))


def unclear(points: Floats, normals: Floats) -> NDArray[np.bool_]:
    """Which points are so near a thin place that either reading is right."""
    x, z = points[:, 0], points[:, 2]
    near_fin = (z > 10.5) & (np.abs(normals[:, 0]) > 0.999)
    near_waist = np.hypot(x - 57.5, z - 6.0) < 2.5
    return (near_fin | near_waist) & ~is_thin(points, normals)


def timed(work: Callable[[], Floats], runs: int) -> tuple[Floats, float]:
    """What it gives, and the median of its seconds."""
    seconds = []
    for _ in range(runs):
        start = time.perf_counter()
        values = work()
        seconds.append(time.perf_counter() - start)
    return values, statistics.median(seconds)


def judged(values: Floats, points: Floats, normals: Floats) -> dict[str, float]:
    """Misses and false alarms as shares, and the worst error on the fins."""
    thin, skip = is_thin(points, normals), unclear(points, normals)
    low = values < LIMIT
    return {
        "missed": float(np.mean(~low[thin])),
        "false_alarms": float(np.mean(low[~thin & ~skip])),
        "worst_error": float(np.abs(values[thin & low] / FIN - 1.0).max()),
    }


def bench(waves: int, samples: int, runs: int) -> dict[str, object]:
    solid = solid_of(waves)
    mesh = trimesh.Trimesh(solid.mesh.vertices, solid.mesh.triangles, process=False)
    thickness_field(solid, LIMIT)  # compiled before the clock starts
    (points, triangle, values), field = _field(solid, runs)
    regions, check = timed(lambda: _thicknesses(solid), runs)
    chosen = np.random.default_rng(0).choice(len(points), min(samples, len(points)), replace=False)
    at, normals = points[chosen], mesh.face_normals[triangle[chosen]]
    row: dict[str, object] = {"triangles": len(mesh.faces), "samples": len(points)}
    figures = judged(values, points, mesh.face_normals[triangle])
    row["ours"] = {
        "whole_check_s": check,
        "per_100k_s": field / len(points) * 1e5,
        "regions": len(regions),
        "sees_waist": bool(np.any(np.abs(regions - WAIST) < 1e-3 * WAIST)),
    } | figures
    for method in ("ray", "max_sphere"):
        few = slice(None) if method == "ray" else slice(0, 200)  # the spheres take minutes

        def work(method: str = method, few: slice = few) -> Floats:
            return np.asarray(
                trimesh.proximity.thickness(  # type: ignore[no-untyped-call]
                    mesh, at[few], exterior=False, normals=normals[few], method=method
                )
            )

        found, seconds = timed(work, 1 if method == "max_sphere" else runs)
        figures = judged(found, at[few], normals[few])
        row[method] = {"per_100k_s": seconds / len(found) * 1e5} | figures
    row["peak_mb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return row


def _thicknesses(solid: Solid) -> Floats:
    return np.array([region.thickness for region in thin_regions(solid, LIMIT)])


def _field(solid: Solid, runs: int) -> tuple[tuple[Floats, NDArray[np.int64], Floats], float]:
    kept: list[tuple[Floats, NDArray[np.int64], Floats]] = []

    def work() -> Floats:
        kept.append(thickness_field(solid, LIMIT))
        return kept[-1][2]

    _, seconds = timed(work, runs)
    return kept[-1], seconds


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="the smallest size only")
    parser.add_argument("--json", type=Path, help="write the figures to this file")
    options = parser.parse_args()
    sizes = [480] if options.quick else [480, 5_000, 50_000]
    rows = [bench(waves, 2000, 3) for waves in sizes]
    print(
        f"silhouette3d {silhouette3d.__version__}, trimesh {trimesh.__version__}; limit {LIMIT} mm"
    )
    print(f"{'triangles':>10} {'method':>11} {'s/100k':>9} {'missed':>8} {'false':>8} {'error':>8}")
    for row in rows:
        for method in ("ours", "ray", "max_sphere"):
            figures = row[method]
            assert isinstance(figures, dict)
            print(
                f"{row['triangles']:>10} {method:>11} {figures['per_100k_s']:9.3f} "
                f"{figures['missed']:8.2%} {figures['false_alarms']:8.2%} "
                f"{figures['worst_error']:8.2%}"
            )
        ours = row["ours"]
        assert isinstance(ours, dict)
        print(
            f"{'':>10} whole check {ours['whole_check_s']:.2f} s, {ours['regions']} regions, "
            f"waist {'seen' if ours['sees_waist'] else 'missed'}; peak {row['peak_mb']:.0f} MB"
        )
    if options.json:
        options.json.write_text(json.dumps(rows, indent=2))


if __name__ == "__main__":
    main()
