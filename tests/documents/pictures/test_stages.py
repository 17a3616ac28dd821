"""The picture of the block cut by cut: what is in it, and how bodies are told apart."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import silhouette3d
from silhouette3d.documents.pictures.stages import COLOURS, MARKS, WORDS, moved_apart, panels_of

ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture(scope="module")
def plaque() -> silhouette3d.Part:
    """Loose in its frame after the first of two cuts."""
    return silhouette3d.load(ROOT / "samples/faulty/released-early")


def test_there_is_a_panel_for_the_block_every_cut_and_the_part(plaque: silhouette3d.Part) -> None:
    panels = panels_of(plaque.results, 0.4)
    assert [panel.title for panel in panels] == ["Block", "1  front", "2  top", "Part"]
    assert "loose too early" in panels[1].line
    assert "free" in panels[2].line
    assert len(panels[1].bodies) == len(plaque.stages[0].bodies)


def test_standings_differ_in_colour_mark_and_word() -> None:
    for table in (COLOURS, MARKS, WORDS):
        assert len(set(table.values())) == len(table) == 3


def test_nothing_moves_without_explode(plaque: silhouette3d.Part) -> None:
    middle = np.asarray(plaque.stock.size) / 2.0
    for stage in plaque.stages:
        assert not np.any(moved_apart(stage, middle, 0.0))


def test_a_core_slides_out_of_its_frame_towards_the_eye(plaque: silhouette3d.Part) -> None:
    stage = plaque.stages[0]
    moves = moved_apart(stage, np.asarray(plaque.stock.size) / 2.0, 0.5)
    core = next(i for i, body in enumerate(stage.bodies) if body.is_part)
    frame = 1 - core
    if stage.bodies[core].solid.volume < stage.bodies[frame].solid.volume:
        assert moves[core] == pytest.approx([0.0, -20.0, 0.0])  # the depth of the stock
    assert moves[frame] == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)


def test_loose_pieces_carry_their_mass() -> None:
    part = silhouette3d.load(ROOT / "samples/faulty/loose-offcut")
    after = panels_of(part.results, 0.0)[1]
    loose = [shown for shown in after.bodies if shown.standing == "loose"]
    mass = part.stages[0].loose[0].solid.volume * part.density / 1000.0
    assert [shown.text for shown in loose] == [f"{mass:.4g} g"]
