"""What a card draws, read back from its path data and held against the geometry."""

from __future__ import annotations

import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon
from svg.path import parse_path

from silhouette3d.job.model import job_from, read_job
from silhouette3d.part import Part, load
from silhouette3d.workbench.outline_cards import full_card, path_data, plain_card
from silhouette3d.workbench.result import Card

ROUNDED = 2e-3
"""mm: coordinates are written to a thousandth, at either end of a difference."""


def area_of(data: str) -> shapely.Geometry:
    """The area of path data by the even-odd rule, read by svg.path."""
    area: shapely.Geometry = Polygon()
    points: list[complex] = []
    for piece in parse_path(data):
        if type(piece).__name__ == "Move":
            points = [piece.end]
        elif type(piece).__name__ == "Close":
            area = shapely.symmetric_difference(area, Polygon([(p.real, p.imag) for p in points]))
        else:
            points.append(piece.end)
    return area


def differ(data: str, expected: shapely.Geometry) -> float:
    """The width in mm of what is in one and not in the other."""
    apart = shapely.symmetric_difference(area_of(data), expected)
    return float(shapely.area(apart) / shapely.length(expected))


@given(
    rings=st.lists(
        st.tuples(st.integers(0, 20), st.integers(0, 20), st.integers(7, 9)), min_size=1, max_size=4
    )
)
def test_path_data_says_the_area(rings: list[tuple[int, int, int]]) -> None:
    squares = [
        shapely.box(u, v, u + d, v + d).difference(shapely.box(u + 1, v + 1, u + 3, v + 3))
        for u, v, d in rings
    ]
    area = shapely.union_all(squares)
    assert shapely.symmetric_difference(area_of(path_data(area)), area).area == 0.0  # whole numbers


def test_path_data_of_lines_and_of_nothing() -> None:
    assert path_data(MultiPolygon()) == ""
    assert path_data(shapely.linestrings([(0, 0), (1, -1e-9)])) == "M0 0L1 0"
    assert path_data(shapely.linestrings([(0, 0), (1, 0), (0, 1.23456), (0, 0)])) == (
        "M0 0L1 0L0 1.235Z"
    )


def cards(part: Part) -> list[Card]:
    return [full_card(plain_card(p, part, i), part, i) for i, p in enumerate(part.profiles)]


def test_cards_of_a_sample_are_its_geometry() -> None:
    """The tugboat: two drawn tabs on two profiles each, none on the third."""
    part = load("samples/tugboat")
    made = cards(part)
    assert [card.name for card in made] == ["front", "right", "top"]
    for card, profile, cut in zip(made, part.profiles, part.cuts, strict=True):
        assert differ(card.outline, profile.area) < ROUNDED
        assert differ(card.shadow, part.shadow(card.name)) < ROUNDED
        assert differ(card.face, part.stock.shadow(profile.view)) < ROUNDED
        assert card.face_size == profile.face.size
        assert [tab.at for tab in card.tabs] == [tab.at for tab in cut.tabs]
        assert all(tab.index is None for tab in card.tabs)
        lost = part.lost(card.name)
        assert sum(region.mm2 for region in card.lost) <= lost.area + 1e-9
        assert [region.mm2 for region in card.lost] == sorted(
            (region.mm2 for region in card.lost), reverse=True
        )
    assert [len(card.tabs) for card in made] == [2, 2, 0]


def test_a_tab_of_the_job_comes_after_those_of_the_drawing() -> None:
    job = read_job("samples/tugboat")
    at = Part(job).cuts[0].tabs[0].at
    job = job.changed({("profile", 0, "tab"): [{"at": list(at), "width": 1.0}]})
    (card, *_) = cards(Part(job))
    assert [tab.index for tab in card.tabs] == [None, None, 0]
    assert card.tabs[2].width == 1.0
    assert shapely.intersects(area_of(card.tabs[2].area), shapely.Point(at).buffer(0.1))


def test_a_view_of_ones_own_is_told_in_words() -> None:
    part = load("samples/lighthouse")
    card = plain_card(part.profiles[2], part, 2)
    assert card.name == "left corner"
    assert card.view == "front, turned −45°"
    assert card.drawing == "corner.svg"


def test_an_outline_beyond_the_face_is_in_the_box() -> None:
    job = read_job("samples/tugboat")
    moved = job_from(job.declared, path=job.path).changed({("profile", 0, "shift"): [-5.0, 60.0]})
    part = Part(moved)
    profile = part.profiles[0]
    u0, v0, width, height = plain_card(profile, part, 0).box
    assert (u0, v0) == (min(0.0, profile.area.bounds[0]), min(0.0, profile.area.bounds[1]))
    assert u0 + width == max(profile.face.size[0], profile.area.bounds[2])
    assert v0 + height == max(profile.face.size[1], profile.area.bounds[3])
