"""Which of the places for tabs are kept, when more are found than are needed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from silhouette3d.planning import tab_search as proposing
from silhouette3d.planning.tab_search import TabCandidate, places_for, propose
from silhouette3d.process.stages import CutSimulation
from tests.planning.test_tab_search import TAB_AREA, WIDTH, flat, proposed
from tests.support.cut_jobs import cutting_of


def marked(monkeypatch: pytest.MonkeyPatch, cut: int, marks: Sequence[float]) -> None:
    """The places found for a cut are said to leave so much on the part, best place first."""

    def with_marks(
        cutting: CutSimulation, i: int, last: int, width: float, least: float
    ) -> list[TabCandidate]:
        found = places_for(cutting, i, last, width, least)
        if i != cut:
            return found
        return [replace(p, witness=w) for p, w in zip(found, marks, strict=False)]

    monkeypatch.setattr(proposing, "places_for", with_marks)


@pytest.mark.parametrize("marks", [(1.0, 0.0), (0.0, 1.0)])
def test_of_two_tabs_the_one_that_leaves_more_is_taken_away(
    monkeypatch: pytest.MonkeyPatch, marks: tuple[float, float]
) -> None:
    """The first cut needs two tabs, so two are tried for each; for the second either will do."""
    marked(monkeypatch, 1, marks)
    found = proposed(flat(), tab_area=16.0)
    assert found.holds
    assert [place.witness for place in found.places if place.cut == 1] == [min(marks)]
    assert len([place for place in found.places if place.cut == 0]) == 2


def test_the_best_place_alone_is_tried_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """They come best first; only where that is not enough are more of them weighed up."""
    marked(monkeypatch, 1, (1.0, 0.0))
    found = proposed(flat())
    assert [place.cut for place in found.places] == [0, 1]
    assert found.places[1].witness == 1.0


def test_the_order_is_followed() -> None:
    """As if the profiles were listed in that order: no tab is proposed for what is cut last."""
    cuts, order = flat().cuts, [2, 0, 1]
    found = propose(flat(), order, width=WIDTH, tab_area=TAB_AREA, clear_offcuts=True)
    listed = proposed(cutting_of([cuts[i] for i in order]))
    assert found.holds
    assert {place.cut for place in found.places} == {2, 0}
    assert [replace(p, cut=order.index(p.cut)) for p in found.places] == list(listed.places)
