"""Any three drawings through everything: load, check, stages, export; none may be wrong."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import pytest
import shapely

from tests.support.corpus import BLOCK, icons, is_closed, press, volume_of
from tests.support.shapes import rect

OWN = {
    # Drawn for these tests in the manner of icons, on a page of 24 by 24 units: holes, islands,
    # sub-paths that touch or share a line, arcs, thin strokes, one winding the other way round.
    "bollard": "M8 22V12A5 5 0 0 1 6 4H18A5 5 0 0 1 16 12V22ZM3 22H21V24H3Z",
    "buoy": "M12 2A10 10 0 1 0 12 22 10 10 0 0 0 12 2M12 7A5 5 0 1 1 12 17 5 5 0 0 1 12 7Z",
    "crate": "M2 2H22V22H2ZM4 4V11H11V4ZM13 4V11H20V4ZM4 13V20H11V13ZM13 13V20H20V13Z",
    "cleat": "M2 8C2 5 5 5 6 7L9 10H15L18 7C19 5 22 5 22 8L17 13V20H7V13Z",
    "flag": "M4 2H6V3C10 1 12 5 20 3V13C12 15 10 11 6 13V22H4Z",
    "hook": "M11 2H13V12.2A4 4 0 1 1 8 16H10A2 2 0 1 0 12 14H11Z",
    "ladder": "M6 2H8V6H16V2H18V22H16V18H8V22H6ZM8 8V11H16V8ZM8 13V16H16V13Z",
    "lantern": "M9 2H15V4H17V8H15V18H18V22H6V18H9V8H7V4H9ZM11 9V17H13V9ZM10 5V7H14V5Z",
    "net": "M2 2H22V22H2ZM4 4V20H20V4ZM6 6H18V18H6ZM8 8V16H16V8ZM10 10H14V14H10Z",
    "rope": "M3 12Q7.5 4 12 12T21 12V15Q16.5 23 12 15T3 15Z",
    "star": "M12 2L14.9 8.6 22 9.3 16.6 14 18.2 21 12 17.3 5.8 21 7.4 14 2 9.3 9.1 8.6Z",
    "wave": "M2 16C5 12 8 12 12 16 16 20 19 20 22 16V20C19 24 16 24 12 20 8 16 5 16 2 20Z"
    "M2 8L22 8 12 14Z",
}
_PAGE = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 24 24"><path d="{}"/></svg>'


@pytest.fixture
def drawings(tmp_path: Path) -> list[Path]:
    for name, data in OWN.items():
        (tmp_path / f"{name}.svg").write_text(_PAGE.format(data), "utf-8")
    return [tmp_path / f"{name}.svg" for name in OWN]


@pytest.mark.parametrize("seed", range(2))
def test_a_few_of_our_own(seed: int, drawings: list[Path], tmp_path: Path) -> None:
    random.Random(seed).shuffle(drawings)
    assert press(drawings[:3], tmp_path) == "part"


@pytest.mark.big
@pytest.mark.parametrize("seed", range(20))
def test_any_of_our_own(seed: int, drawings: list[Path], tmp_path: Path) -> None:
    random.Random(100 + seed).shuffle(drawings)
    assert press(drawings[:3], tmp_path) == "part"


@pytest.mark.big
@pytest.mark.parametrize("seed", range(20))
def test_icons(seed: int, tmp_path: Path) -> None:
    """Twenty times ten triples."""
    rng, every = random.Random(seed), icons()
    for _ in range(10):
        some = rng.sample(every, 3)
        try:
            press(some, tmp_path)
        except Exception as error:
            error.add_note(" ".join(path.stem for path in some))
            raise


# ---- the judges themselves --------------------------------------------------------------------


def test_the_volume_of_slanted_outlines() -> None:
    """A square pyramid: a third of base times height; and what a square plan leaves of it."""
    triangle = shapely.Polygon([(0, 0), (24, 0), (12, 18)])
    face = rect(0, 0, 24, 24)
    volume, doubt = volume_of(triangle, triangle, face)
    assert volume == pytest.approx(24 * 24 * 18 / 3, abs=doubt)
    assert doubt < 1e-3
    volume, doubt = volume_of(triangle, triangle, rect(6, 6, 18, 18))
    # below half its height the plan cuts 12 by 12, above that it is the tip
    assert volume == pytest.approx(12 * 12 * 9 + 12 * 12 * 9 / 3, abs=doubt)


def test_the_volume_of_holes_and_what_lies_beside_the_block() -> None:
    ring = shapely.difference(rect(2, 2, 30, 20), rect(4, 4, 10, 10))
    volume, doubt = volume_of(ring, rect(-5, -5, 30, 30), rect(0, 0, 30, 30))
    assert volume == pytest.approx(((BLOCK - 2) * 18 - 36) * BLOCK, abs=doubt)


def test_an_open_surface_and_one_turned_about_are_caught() -> None:
    sound = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]])
    assert is_closed(sound)
    assert not is_closed(sound[:3])
    assert not is_closed(np.vstack([sound[:3], sound[3:, ::-1]]))
    assert not is_closed(np.vstack([sound, sound]))
