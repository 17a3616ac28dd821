"""Stages and the best order of the samples' cuts, beside plain booleans without sharing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import permutations
from pathlib import Path

import manifold3d
import numpy as np
import shapely

import silhouette3d
from bench.timing import Row, in_turn
from silhouette3d import Part
from silhouette3d.geometry.stock import Stock
from silhouette3d.process.cut import Cut
from silhouette3d.process.stages import CutSimulation

SAMPLES = Path(__file__).resolve().parents[2] / "samples"


def rows(names: Sequence[str], *, budget: float) -> Iterator[Row]:
    """Both for each sample. Ours also says what is held, cut and freed; the plain way does not."""
    for name in names:
        part = loaded(name)
        cuts, order = part.cuts, part.order_of_cuts

        def stages(part: Part = part) -> object:
            clamps = [spec.clamp for spec in part.job.profile]
            fresh = CutSimulation(part.stock, part.cuts, clamps, part.solid)
            return fresh.stages(part.order_of_cuts, clear_offcuts=False)

        def orders(part: Part = part) -> object:
            fresh = Part(part.job)
            vars(fresh.results).update(cuts=part.cuts, solid=part.solid)
            return fresh.order()

        def plain(cuts: Sequence[Cut] = cuts, order: Sequence[int] = order) -> object:
            return after_each([cuts[i] for i in order])

        def plain_orders(cuts: Sequence[Cut] = cuts) -> object:
            return [after_each(some) for some in permutations(cuts)]

        yield Row("stages", name, *in_turn(stages, plain, budget), "plain booleans")
        if len(cuts) <= 4:
            times = in_turn(orders, plain_orders, budget)
            yield Row("order", name, *times, "plain booleans, order by order")


def loaded(name: str) -> Part:
    """A sample with its solid and cuts made."""
    part = silhouette3d.load(SAMPLES / name / "job.toml")
    assert not part.solid.is_empty
    assert part.cuts
    return part


def after_each(cuts: Sequence[Cut]) -> list[int]:
    """How many pieces there are after each cut: each cut's band, extruded and taken away."""
    stock = cuts[0].stock
    solid = _block(stock)
    counts = []
    for cut in cuts:
        solid = solid - _band(cut)
        counts.append(len(solid.decompose()))
    return counts


def _block(stock: Stock) -> manifold3d.Manifold:
    if stock.diameter is None:
        return manifold3d.Manifold.cube(list(stock.size))
    section = manifold3d.CrossSection([np.asarray(stock.section)])
    axes = stock.axis_view.axes
    return section.extrude(stock.length).transform(np.column_stack([axes.T, np.zeros(3)]))


def _band(cut: Cut) -> manifold3d.Manifold:
    waste, past = cut.waste, 0.1 * cut.stock.diagonal
    rings = [shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(_parts(waste.area))]
    section = manifold3d.CrossSection(rings, manifold3d.FillRule.EvenOdd)
    low, high = cut.profile.face.depth
    axes = waste.view.axes
    matrix = np.column_stack([axes.T, axes[2] * (low - past)])
    return section.extrude(high - low + 2.0 * past).transform(matrix)


def _parts(area: shapely.MultiPolygon) -> list[shapely.Geometry]:
    return list(shapely.get_parts(area))
