"""An edit: one profile of a sample is moved, the others stay."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from itertools import count

from shapely import MultiPolygon, affinity

from bench.cuts import loaded
from bench.kernels import manifold
from bench.outlines import outlines
from bench.timing import Row, in_turn
from silhouette3d.drawing.outline.outline import Outline
from silhouette3d.geometry.frames import VIEWS
from silhouette3d.geometry.stock import Stock
from silhouette3d.geometry.subtract import carve
from silhouette3d.model.cache import Cache
from silhouette3d.process.cut import removal_of
from silhouette3d.process.profile import Profile

STEP = 0.01


def rows(names: Sequence[str], sizes: Sequence[int], *, budget: float) -> Iterator[Row]:
    """Samples beside carving everything again; wavy outlines beside the plain script."""
    for name in names:
        part = loaded(name)
        stock, profiles = part.stock, part.profiles
        moves, again = count(1), count(1)
        known = Cache()
        known.solid(stock, profiles)

        def anew(
            stock: Stock = stock,
            profiles: Sequence[Profile] = profiles,
            moves: Iterator[int] = again,
        ) -> object:
            return carve(stock, [removal_of(p, stock) for p in moved(profiles, next(moves))])

        edit = partial(_edited, known, stock, profiles, moves)
        edit()
        yield Row("edit", name, *in_turn(edit, anew, budget), "carving all of it again")
    for size in sizes:
        areas = outlines("wavy", size)
        stock = Stock((100.0, 100.0, 100.0))
        profiles = tuple(
            Profile(view, VIEWS[view], stock.face(VIEWS[view]), Outline(MultiPolygon([area])))
            for view, area in areas.items()
        )
        known, moves = Cache(), count(1)
        known.solid(stock, profiles)
        known.solid(stock, moved(profiles, 0.5))

        change = partial(_edited, known, stock, profiles, moves)
        times = in_turn(change, partial(manifold, areas), budget)
        yield Row("edit", f"wavy, {size:,} corners", *times, "plain manifold3d")


def moved(profiles: Sequence[Profile], steps: float) -> tuple[Profile, ...]:
    """With the first one shifted to the right."""
    first = profiles[0]
    area = affinity.translate(first.outline.polygons, STEP * steps)
    return replace(first, outline=replace(first.outline, polygons=area)), *profiles[1:]


def _edited(
    known: Cache, stock: Stock, profiles: Sequence[Profile], moves: Iterator[int]
) -> object:
    """The solid after the next move of one profile, the others known."""
    return known.solid(stock, moved(profiles, next(moves)))
