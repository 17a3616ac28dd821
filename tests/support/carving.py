"""Carving named outlines, and comparing what comes of it: shared by the tests of carving."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
from stl import mesh as numpy_stl

from silhouette3d.geometry.solid import Solid
from silhouette3d.geometry.stock import Stock
from tests.oracles.voxels import SIDE, Triple
from tests.support.shapes import (
    Area,
    Shape,
    cells,
    profile,
    solid,
)

SHARE = 1e-6
"""The engine works to 1e-12 of the size; a flap or a lost corner of a cell is 1e-3 and more."""


BLOCK = Stock((80.0, 40.0, 50.0))


def cut(outlines: Mapping[str, Area], stock: Stock = BLOCK) -> Solid:
    return solid(stock, [profile(view, area, stock) for view, area in outlines.items()])


def shape_of(triple: Triple) -> Shape:
    """The same outlines for the package."""
    size = len(triple.front) * SIDE
    outlines = {view: cells(getattr(triple, view)) for view in ("front", "right", "top")}
    return Shape((size, size, size), outlines, triple.volume, triple.area)


def check_measures(made: Solid, truth: Triple, told: object) -> None:
    assert made.volume == pytest.approx(truth.volume, rel=SHARE), told
    assert made.surface_area == pytest.approx(truth.area, rel=SHARE), told
    assert [b.volume for b in made.bodies] == pytest.approx(truth.body_volumes, rel=SHARE), told
    assert made.is_empty != truth.filled.any(), told


def closed(path: Path) -> bool:
    """Whether each edge of a triangle is run through as often one way as the other."""
    corners = numpy_stl.Mesh.from_file(str(path)).vectors
    _, index = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    triangles = index.reshape(-1, 3)
    edges = Counter(
        (int(a), int(b)) for t in triangles for a, b in zip(t, np.roll(t, -1), strict=True)
    )
    return bool(edges) and all(edges[a, b] == edges[b, a] for a, b in edges)
