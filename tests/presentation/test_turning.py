"""Turning words, carried out by hand on a cube with lettered faces."""

from __future__ import annotations

import itertools
import re

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from silhouette3d.geometry.frames import VIEWS, View, view_along, view_from
from silhouette3d.presentation.turning import LETTERS, Turn, Turning, angle_off, sides_at

PAIRS = list(itertools.permutations(VIEWS, 2))

# How a cube lies on the table for each view, written down from the drawing rules: the viewed
# face up, what the drawing shows on top away from the operator, on its right to the right. ISO
# 128-3 letters the views a front, b above, c left, d right, e below, f rear (from memory).
LIES = {
    #          up   near far  left right down
    "front": ("A", "E", "B", "C", "D", "F"),
    "rear": ("F", "E", "B", "D", "C", "A"),
    "right": ("D", "E", "B", "A", "F", "C"),
    "left": ("C", "E", "B", "F", "A", "D"),
    "top": ("B", "A", "F", "C", "D", "E"),
    "bottom": ("E", "F", "A", "C", "D", "B"),
}
PLACES = ("up", "near", "far", "left", "right", "down")

# Where each face goes when a cube is turned by a quarter: a ring of four places.
RINGS = {
    "tip it towards you": ("up", "near", "down", "far"),
    "tip it away from you": ("up", "far", "down", "near"),
    "tip it to the right": ("up", "right", "down", "left"),
    "tip it to the left": ("up", "left", "down", "right"),
    "spin it clockwise": ("near", "left", "far", "right"),
    "spin it counter-clockwise": ("near", "right", "far", "left"),
    "tip it over towards you": ("up", "near", "down", "far"),
    "roll it over sideways": ("up", "right", "down", "left"),
    "spin it": ("near", "left", "far", "right"),
}
# The same as rotation vectors in the frame right, away, up, for angles that are no quarter turns.
VECTORS = {
    "tip it towards you": (1, 0, 0),
    "tip it away from you": (-1, 0, 0),
    "tip it to the right": (0, 1, 0),
    "tip it to the left": (0, -1, 0),
    "spin it clockwise": (0, 0, -1),
    "spin it counter-clockwise": (0, 0, 1),
}

Cube = dict[str, str]


def cube(view: str) -> Cube:
    return dict(zip(PLACES, LIES[view], strict=True))


def carried_out(lies: Cube, words: str) -> Cube:
    """The cube after somebody has done what the words say."""
    for order in words.split("; then "):
        doing = re.match(r"(.*?) by a (quarter|half) turn", order)
        assert doing, order
        ring = RINGS[doing[1]]
        for _ in range({"quarter": 1, "half": 2}[doing[2]]):
            moved = {ring[(i + 1) % 4]: lies[place] for i, place in enumerate(ring)}
            lies = lies | moved
    return lies


@pytest.mark.parametrize(("before", "after"), PAIRS)
def test_a_lettered_cube_comes_to_lie_right(before: str, after: str) -> None:
    turning = Turning(VIEWS[before], VIEWS[after])
    assert carried_out(cube(before), turning.words) == cube(after)


@pytest.mark.parametrize(("before", "after"), PAIRS)
def test_what_is_then_to_be_seen_is_true(before: str, after: str) -> None:
    """What stands behind each colon holds for the cube before and after that turn."""
    told = {
        "the face that was up now faces you": ("up", "near"),
        "the face that faced you is now up": ("near", "up"),
        "the face that was on the left is now up": ("left", "up"),
        "the face that was on the right is now up": ("right", "up"),
        "the side that faced you is now on the left": ("near", "left"),
        "the side that faced you is now on the right": ("near", "right"),
        "the face that was up now lies down": ("up", "down"),
        "the left side stays on the left": ("left", "left"),
        "the side that faced you still faces you": ("near", "near"),
        "the same face is up": ("up", "up"),
        "the side that faced you is now the far one": ("near", "far"),
    }
    lies = cube(before)
    for order in Turning(VIEWS[before], VIEWS[after]).words.split("; then "):
        then = carried_out(lies, order)
        for words in order.split(": ")[1].split(", "):
            old, new = told[words]
            assert lies[old] == then[new], order
        lies = then


@pytest.mark.parametrize(("before", "after"), PAIRS)
def test_turns_multiply_to_the_rotation(before: str, after: str) -> None:
    """Exact: all entries are 0 and ±1. The rotation itself from the letters, by the table."""
    turning = Turning(VIEWS[before], VIEWS[after])
    there = {letter: place for place, letter in cube(after).items()}
    steps = {
        "right": (1, 0, 0),
        "left": (-1, 0, 0),
        "far": (0, 1, 0),
        "near": (0, -1, 0),
        "up": (0, 0, 1),
        "down": (0, 0, -1),
    }
    for place, letter in cube(before).items():
        assert (turning.matrix @ steps[place]).tolist() == list(steps[there[letter]])
    product = np.eye(3)
    for turn in turning.turns:
        product = turn.matrix @ product
    assert np.array_equal(product, turning.matrix)
    assert len(turning.turns) <= 2


@pytest.mark.parametrize("name", VIEWS)
def test_sides_of_the_block(name: str) -> None:
    found = [sides_at(VIEWS[name], place) for place in PLACES]  # type: ignore[arg-type]
    assert [tuple(LETTERS[side] for side in sides) for sides in found] == [
        (letter,) for letter in LIES[name]
    ]


@pytest.mark.parametrize("name", VIEWS)
def test_the_same_view_again_is_left_as_it_lies(name: str) -> None:
    turning = Turning(VIEWS[name], VIEWS[name])
    assert turning.turns == ()
    assert turning.words == "leave it as it lies: the same face is cut again"


def test_the_example_of_a_tip() -> None:
    words = "tip it towards you by a quarter turn: the face that was up now faces you"
    assert Turning(VIEWS["front"], VIEWS["top"]).words == words


def test_an_eighth_round_an_upright_bar() -> None:
    corner = view_along((1, 1, 0), (0, 0, 1))  # seen from the front left
    assert Turning(VIEWS["front"], corner).words == "tip it to the right by 45°"
    assert Turning(corner, VIEWS["front"]).words == "tip it to the left by 45°"
    assert sides_at(corner, "up") == ("front", "left")
    assert angle_off(corner, "up", "front") == pytest.approx(45.0)
    assert (
        Turning(VIEWS["front"], view_from("front", 37.25)).words == "tip it to the left by 37.25°"
    )
    assert sides_at(corner, "far") == ("top",)


def test_a_place_between_three_sides() -> None:
    steep = view_along((-1, 2, -3), (0, 0, 1))  # from the front, the right and mostly from above
    assert sides_at(steep, "up") == ("top", "front", "right")


vectors = st.tuples(*[st.floats(-1, 1)] * 3)


def own_view(look: tuple, up: tuple) -> View:
    assume(min(np.linalg.norm(look), np.linalg.norm(up)) > 1e-3)
    assume(np.linalg.norm(np.cross(look, up)) > 1e-3 * np.linalg.norm(look) * np.linalg.norm(up))
    return view_along(look, up)


@given(vectors, vectors, vectors, vectors)
def test_any_two_views(look: tuple, up: tuple, look_2: tuple, up_2: tuple) -> None:
    before, after = own_view(look, up), own_view(look_2, up_2)
    turning = Turning(before, after)
    product = Rotation.identity()
    for turn in turning.turns:
        vector = np.eye(3)[("right", "away", "up").index(turn.about)]
        product = Rotation.from_rotvec(vector * turn.degrees, degrees=True) * product
    # Angles are rounded to quarter turns within 1e-6 degrees, three of them add.
    assert np.allclose(product.as_matrix(), turning.matrix, rtol=0, atol=1e-7)
    assert np.allclose(before.axes.T @ product.as_matrix().T @ after.axes, np.eye(3), atol=1e-7)
    assert len(turning.turns) <= 3


@given(vectors, vectors, vectors, vectors)
def test_words_of_any_two_views(look: tuple, up: tuple, look_2: tuple, up_2: tuple) -> None:
    """The words alone, read by another hand, turn one view into the other to their rounding."""
    turning = Turning(own_view(look, up), own_view(look_2, up_2))
    product = Rotation.identity()
    for order in turning.words.split("; then ") if turning.turns else []:
        doing = re.match(r"(.*?) by (a quarter turn|a half turn|[\d.]+°)", order)
        assert doing, order
        size = {"a quarter turn": 90.0, "a half turn": 180.0}.get(doing[2])
        size = float(doing[2].rstrip("°")) if size is None else size
        axis = {"tip it over towards you": (1, 0, 0), "roll it over sideways": (0, 1, 0)}
        vector = np.array({**VECTORS, **axis, "spin it": (0, 0, 1)}[doing[1]])
        product = Rotation.from_rotvec(vector * size, degrees=True) * product
    # Told to a hundredth of a degree: half of that off in each of three turns at most.
    off = (product * Rotation.from_matrix(turning.matrix).inv()).magnitude()
    assert np.degrees(off) <= 3 * 0.005 + 1e-5


@pytest.mark.parametrize("about", ["right", "away", "up"])
@given(degrees=st.floats(-179.9, 180))
def test_a_turn_is_a_rotation_about_its_axis(about: str, degrees: float) -> None:
    vector = np.eye(3)[("right", "away", "up").index(about)]
    expected = Rotation.from_rotvec(vector * degrees, degrees=True).as_matrix()
    turn = Turn(about, degrees)  # type: ignore[arg-type]
    assert np.allclose(turn.matrix, expected, rtol=0, atol=1e-14)  # rounding of sine and cosine
