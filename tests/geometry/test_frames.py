"""Viewing frames against the drawing rules: which way a view is seen from, and which way is up."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from silhouette3d import view_along, view_from
from silhouette3d.errors import JobError
from silhouette3d.geometry.frames import VIEWS, View

# Rounding of a few products and sums of numbers near 1.
CLOSE = 1e-14

# ISO 128-3 names the views from the front (designations from memory): what the paper shows to the
# right and upwards, with x to the right, y to the rear and z up in the view from the front. The
# view from the left shows the rear on its left, so u runs from rear to front, and so on.
PAPER = {
    "front": ("+x", "+z"),
    "rear": ("-x", "+z"),
    "right": ("+y", "+z"),
    "left": ("-y", "+z"),
    "top": ("+x", "+y"),
    "bottom": ("+x", "-y"),
}
SIGHT = {"front": "+y", "rear": "-y", "right": "-x", "left": "+x", "top": "-z", "bottom": "+z"}


def axis(name: str) -> np.ndarray:
    return np.eye(3)["xyz".index(name[1])] * (1 if name[0] == "+" else -1)


def frame(view: View) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    return np.array(view.right), np.array(view.up), np.array(view.look)


@pytest.mark.parametrize("name", VIEWS)
def test_named_views(name: str) -> None:
    right, up, look = frame(VIEWS[name])
    assert np.array_equal(right, axis(PAPER[name][0]))
    assert np.array_equal(up, axis(PAPER[name][1]))
    assert np.array_equal(look, axis(SIGHT[name]))
    assert VIEWS[name].name == name


def test_there_are_six_named_views() -> None:
    assert set(VIEWS) == set(PAPER)


@pytest.mark.parametrize(
    ("name", "u", "v"),
    [
        ("front", 10, 30),
        ("rear", 80 - 10, 30),
        ("right", 20, 30),
        ("left", 40 - 20, 30),
        ("top", 10, 20),
        ("bottom", 10, 40 - 20),
    ],
)
def test_a_point_of_a_block_as_each_view_shows_it(name: str, u: float, v: float) -> None:
    """The point (10, 20, 30) of a block 80 x 40 x 50, from the lower left of its face as seen."""
    view = VIEWS[name]
    corners = view.to_view([(x, y, z) for x in (0, 80) for y in (0, 40) for z in (0, 50)])
    seen = view.to_view([10, 20, 30])[:2] - corners[:, :2].min(axis=0)
    assert seen.tolist() == [u, v]


@pytest.mark.parametrize("name", VIEWS)
def test_what_is_nearer_to_the_eye_has_the_larger_depth(name: str) -> None:
    view = VIEWS[name]
    assert view.to_view(np.negative(view.look))[2] == 1.0


@pytest.mark.parametrize("name", VIEWS)
def test_no_negative_zeros(name: str) -> None:
    view = VIEWS[name]
    assert not np.signbit(view.axes[view.axes == 0.0]).any()
    assert not np.signbit(np.array(view.right)[np.array(view.right) == 0.0]).any()


vectors = st.tuples(*[st.floats(-1e3, 1e3)] * 3)


@given(vectors, vectors)
def test_any_look_and_up_give_a_right_handed_frame(look: tuple, up: tuple) -> None:
    lengths = np.linalg.norm(look), np.linalg.norm(up)
    assume(min(lengths) > 1e-3)
    assume(np.linalg.norm(np.cross(look, up)) > 1e-3 * lengths[0] * lengths[1])
    view = view_along(look, up)
    # up is made square by one subtraction that may cancel three digits
    assert np.allclose(view.axes @ view.axes.T, np.eye(3), rtol=0, atol=1e3 * CLOSE)
    assert np.linalg.det(view.axes) == pytest.approx(1.0, abs=1e3 * CLOSE)
    assert np.allclose(np.array(view.look) * lengths[0], look, rtol=0, atol=CLOSE * lengths[0])
    # up stays in the plane of look and up, on its own side
    assert np.dot(view.up, up) > 0
    assert abs(np.dot(view.right, up)) <= 1e3 * CLOSE * lengths[1]


@given(vectors, vectors, st.lists(vectors, min_size=1, max_size=5))
def test_there_and_back(look: tuple, up: tuple, points: list) -> None:
    assume(np.linalg.norm(look) > 1e-3 and np.linalg.norm(up) > 1e-3)
    assume(np.linalg.norm(np.cross(look, up)) > 1e-2 * np.linalg.norm(look) * np.linalg.norm(up))
    view = view_along(look, up)
    size = 1.0 + float(np.abs(points).max())
    again = view.to_block(view.to_view(points))
    assert np.allclose(again, points, rtol=0, atol=1e3 * CLOSE * size)


@pytest.mark.parametrize("length", [1e-300, 1e-12, 1.0, 1e12, 1e300])
def test_the_length_of_look_and_up_is_no_matter(length: float) -> None:
    view = view_along((0, 3 * length, 4 * length), (length, 0, length))
    expected = view_along((0, 3, 4), (1, 0, 1))
    assert np.allclose(view.axes, expected.axes, rtol=0, atol=10 * CLOSE)


@pytest.mark.parametrize("name", VIEWS)
def test_a_named_view_by_its_vectors_is_the_same(name: str) -> None:
    view = VIEWS[name]
    assert view_along(view.look, view.up, name) == view


def test_components_of_rounding_are_zero() -> None:
    quarter = math.radians(90)
    view = view_along((math.cos(quarter), math.sin(quarter), 1e-200), (1e-17, 0, 1))
    assert view.look == (0.0, 1.0, 0.0)
    assert view.up == (0.0, 0.0, 1.0)


def test_an_up_that_leans_is_made_square() -> None:
    view = view_along((0, 1, 0), (0, 5, 1))
    assert view.up == (0.0, 0.0, 1.0)


@given(st.floats(-180, 180))
def test_turning_the_look_turns_the_frame(degrees: float) -> None:
    """Looking along the turned y axis with z up: scipy turns the front view the same way."""
    turn = Rotation.from_euler("z", degrees, degrees=True)
    view = view_along(turn.apply([0, 1, 0]), (0, 0, 1))
    assert np.allclose(view.axes, turn.apply(VIEWS["front"].axes.copy()), rtol=0, atol=10 * CLOSE)


# Views by angle. The elementary rotations are those of any textbook of mechanics: a positive angle
# turns counter-clockwise as seen from the tip of the axis (from memory).

angles = st.floats(-360, 360)
elevations = st.floats(-90, 90)


def about_z(degrees: float) -> np.ndarray:
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])


def about_x(degrees: float) -> np.ndarray:
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return np.array([[1, 0, 0], [0, c, -s], [0, s, c]])


@pytest.mark.parametrize("name", VIEWS)
@given(turned=angles)
def test_turning_is_the_elementary_rotation_about_z(name: str, turned: float) -> None:
    turn = about_z(turned)
    assert np.allclose(turn @ [1, 0, 0], Rotation.from_euler("z", turned, True).apply([1, 0, 0]))
    made = view_from(name, turned).axes.T
    assert np.allclose(made, turn @ VIEWS[name].axes.T, rtol=0, atol=10 * CLOSE)


@pytest.mark.parametrize("name", ["front", "right", "rear", "left"])
@given(turned=angles, tipped=elevations)
def test_tipping_raises_the_eye(name: str, turned: float, tipped: float) -> None:
    """The front view's frame, tipped about x, which is its u, and then turned about z."""
    quarter = {"front": 0, "right": 90, "rear": 180, "left": 270}[name]
    made = view_from(name, turned, tipped)
    expected = about_z(turned + quarter) @ about_x(-tipped) @ VIEWS["front"].axes.T
    assert np.allclose(made.axes.T, expected, rtol=0, atol=20 * CLOSE)
    assert -made.look[2] == pytest.approx(math.sin(math.radians(tipped)), abs=10 * CLOSE)
    assert made.right[2] == 0.0  # the drawing's horizontal stays level
    assert made.up[2] >= 0.0


@given(turned=angles, tipped=st.floats(-89, 89), name=st.sampled_from(sorted(VIEWS)))
def test_the_same_view_by_vectors(turned: float, tipped: float, name: str) -> None:
    made = view_from(name, turned, tipped * (name not in ("top", "bottom")))
    again = view_along(np.multiply(made.look, 3.0), np.add(made.up, np.multiply(made.look, 0.5)))
    assert np.allclose(made.axes, again.axes, rtol=0, atol=20 * CLOSE)
    # and its words, read back, are it again: they give six digits of each angle
    side, *told = again.name.split(", ")
    read = {word: float(n.rstrip("°").replace("−", "-")) for word, n in map(str.split, told)}
    assert read.keys() <= {"turned", "tipped"}
    assert np.allclose(view_from(side, **read).axes, made.axes, rtol=0, atol=2e-5)


QUARTERS = [
    # from, turned, tipped: round the block as seen from above, then over its edges
    ("front", 90, 0, "right"),
    ("front", 180, 0, "rear"),
    ("front", 270, 0, "left"),
    ("front", -90, 0, "left"),
    ("front", 360, 0, "front"),
    ("left", 90, 0, "front"),
    ("rear", -180, 0, "front"),
    ("right", 90, 0, "rear"),
    ("front", 0, 90, "top"),
    ("front", 0, -90, "bottom"),
    ("right", -90, 90, "top"),
    ("top", 0, 0, "top"),
    ("bottom", -360, 0, "bottom"),
]


@pytest.mark.parametrize(("name", "turned", "tipped", "expected"), QUARTERS)
def test_quarter_turns_are_the_named_views(
    name: str, turned: float, tipped: float, expected: str
) -> None:
    assert view_from(name, turned, tipped) is VIEWS[expected]


@pytest.mark.parametrize("turned", range(-360, 361, 90))
@pytest.mark.parametrize("name", VIEWS)
def test_quarter_turns_are_exact(name: str, turned: int) -> None:
    axes = view_from(name, turned).axes
    assert set(axes.ravel().tolist()) <= {-1.0, 0.0, 1.0}
    assert not np.signbit(axes[axes == 0.0]).any()


def test_from_the_top_the_drawing_turns_on_the_face() -> None:
    """Seen from above counter-clockwise: u, which ran to the right, runs to the rear. The bottom
    turns with the block, so on its face it is clockwise."""
    top, bottom = view_from("top", 90), view_from("bottom", 90)
    assert (top.right, top.up) == ((0.0, 1.0, 0.0), (-1.0, 0.0, 0.0))
    assert (bottom.right, bottom.up) == ((0.0, 1.0, 0.0), (1.0, 0.0, 0.0))
    assert (top.name, bottom.plain_name) == ("top, turned 90°", "bottom turned 90")


@pytest.mark.parametrize(
    ("name", "turned", "tipped", "words"),
    [
        ("top", 0, 10, "a view from the top cannot be tipped"),
        ("bottom", 30, -10, "a view from the bottom cannot be tipped"),
        ("front", 0, 91, "91° is more than a quarter turn"),
        ("left", 0, -120.5, "−120.5° is more than a quarter turn"),
    ],
)
def test_what_cannot_be_tipped(name: str, turned: float, tipped: float, words: str) -> None:
    with pytest.raises(JobError, match=words) as caught:
        view_from(name, turned, tipped)
    assert "up to 90 degrees" in caught.value.todo


@pytest.mark.parametrize(
    ("look", "up", "words"),
    [
        ((1, 1, 0), (0, 0, 1), "front, turned −45°"),
        ((-3, 4, 0), (0, 0, 1), "front, turned 36.8699°"),
        ((-1, -1, 0), (0, 0, 5), "right, turned 45°"),
        ((0, 1, -1), (0, 1, 1), "front, tipped 45°"),
        ((-1, 0, 1), (0, 0, 1), "right, tipped −45°"),
        ((0, 0, -1), (0, -1, 0), "top, turned 180°"),
        ((0, 0, 1), (1, -1, 0), "bottom, turned 45°"),
        ((1, 0, 0), (0, 0, 1), "left"),
        # no view by angle: the drawing's horizontal leans, or it is upside down
        ((0, 1, 0), (1, 0, 1), "along (0, 1, 0)"),
        ((0, 1, 0), (0, 0, -1), "along (0, 1, 0)"),
        ((3, 0, 4), (0, 1, 0), "along (0.6, 0, 0.8)"),
    ],
)
def test_a_view_by_vectors_is_told_by_angle_where_it_can_be(
    look: tuple, up: tuple, words: str
) -> None:
    assert view_along(look, up).name == words
    assert view_along(look, up, "chamfer").name == "chamfer"


@pytest.mark.parametrize("bad", [(0, 0, 0), (math.nan, 0, 1), (math.inf, 0, 0), (1, 0)])
def test_a_vector_without_direction_is_refused(bad: tuple) -> None:
    with pytest.raises(JobError, match="look vector of a view has no direction"):
        view_along(bad, (0, 0, 1))
    with pytest.raises(JobError, match="up vector of a view has no direction"):
        view_along((0, 1, 0), bad)


@pytest.mark.parametrize("up", [(0, 1, 0), (0, -2, 0), (0, 1, 1e-12), (1e-300, 1, 0)])
def test_an_up_along_the_look_is_refused(up: tuple) -> None:
    with pytest.raises(JobError, match=r"up vector \(.*\) runs along the look vector \(0, 1, 0\)"):
        view_along((0, 1, 0), up)


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("front", "rear", True),
        ("left", "right", True),
        ("top", "bottom", True),
        ("front", "top", False),
    ],
)
def test_parallel_views(one: str, other: str, same: bool) -> None:
    assert VIEWS[one].is_parallel(VIEWS[other]) is same
    assert VIEWS[one].is_parallel(VIEWS[one])


def test_parallel_is_sharp() -> None:
    """The limit is the sine 1e-9: a tenth of it passes, ten times it does not."""
    assert VIEWS["front"].is_parallel(view_along((1e-10, 1, 0), (0, 0, 1)))
    assert not VIEWS["front"].is_parallel(view_along((1e-8, 1, 0), (0, 0, 1)))
