"""The six principal views of a block: which way their drawings lie on it.

Sources
-------
ISO 5456-2:1996, "Technical drawings - Projection methods - Part 2: Orthographic representations",
and ISO 128-3, "Technical product documentation - General principles of representation - Views,
sections and cuts" (both seen by their title and scope only; the arrangement is from memory, and
agrees with https://www.educationdiscussion.com/designation-and-relative-positions-of-views/):

- in first angle the object stands between the eye and the paper: about the front view, the view
  from the left is placed on the right, from the right on the left, from above below, from below
  above, and from the rear at the far side;
- in third angle the paper stands between: left on the left, right on the right, above above, below
  below, and rear at the far side;
- the views themselves are the same in both.

So the near faces of the block (third angle), or the far ones (first angle), unfold into the
arrangement: neighbours meet in an edge of the block, point by point.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import shapely

import silhouette3d
from tests.support.shapes import Shape, load, rect

W, D, H = SIZE = (80.0, 50.0, 30.0)
"""Width x, depth y, height z: all different, or a wrong axis might go unseen."""

Point = tuple[float, float, float]

# From face coordinates to the block, as the table of views has it. The direction of sight is the
# axis that is not named: the cut goes right through along it.
TABLE: dict[str, Callable[[float, float], dict[str, float]]] = {
    "front": lambda u, v: {"x": u, "z": v},
    "rear": lambda u, v: {"x": W - u, "z": v},
    "right": lambda u, v: {"y": u, "z": v},
    "left": lambda u, v: {"y": D - u, "z": v},
    "top": lambda u, v: {"x": u, "y": v},
    "bottom": lambda u, v: {"x": u, "y": D - v},
}
FACE = {
    "front": (W, H),
    "rear": (W, H),
    "right": (D, H),
    "left": (D, H),
    "top": (W, D),
    "bottom": (W, D),
}
NEAR: dict[str, tuple[str, float]] = {
    "front": ("y", 0.0),
    "rear": ("y", D),
    "right": ("x", W),
    "left": ("x", 0.0),
    "top": ("z", H),
    "bottom": ("z", 0.0),
}
FAR = {
    "front": ("y", D),
    "rear": ("y", 0.0),
    "right": ("x", 0.0),
    "left": ("x", W),
    "top": ("z", 0.0),
    "bottom": ("z", H),
}

EXACT = 1e-9
"""mm. Placed outlines are rounded to this."""

ELL = shapely.Polygon([(4, 3), (29, 3), (29, 9), (11, 9), (11, 22), (4, 22)])
"""On every face, in nobody's mirror image: its own is another shape."""


def one(folder: Path, view: str) -> silhouette3d.Part:
    return load(folder, Shape(SIZE, {view: ELL}, 0.0, 0.0))


def block_point(view: str, u: float, v: float, along: dict[str, tuple[str, float]]) -> Point:
    axis, depth = along[view]
    at = TABLE[view](u, v) | {axis: depth}
    return at["x"], at["y"], at["z"]


@pytest.mark.parametrize("view", TABLE)
def test_where_a_drawing_lies_on_the_block(view: str, tmp_path: Path) -> None:
    """Extent and centre of what is cut out, and that it reaches through along the sight."""
    part = one(tmp_path, view)
    u0, v0, u1, v1 = ELL.bounds
    ends = np.array([block_point(view, u0, v0, NEAR), block_point(view, u1, v1, FAR)])
    assert np.allclose(part.solid.bounds, np.sort(ends, axis=0), rtol=0, atol=EXACT)
    u, v = ELL.centroid.x, ELL.centroid.y
    middle = np.mean([block_point(view, u, v, NEAR), block_point(view, u, v, FAR)], axis=0)
    assert np.allclose(part.measures.centre, middle, rtol=0, atol=EXACT)
    through = abs(NEAR[view][1] - FAR[view][1])
    assert part.solid.volume == pytest.approx(ELL.area * through, rel=EXACT)


@pytest.mark.parametrize("view", TABLE)
def test_the_face_and_its_lower_left_corner(view: str, tmp_path: Path) -> None:
    """The nearest corner of the block that is lowest and furthest left as seen."""
    (profile,) = one(tmp_path, view).profiles
    assert profile.face.size == pytest.approx(FACE[view], abs=EXACT)
    assert profile.face.thickness == pytest.approx(W * D * H / np.prod(FACE[view]), rel=EXACT)
    for u, v in ((0.0, 0.0), FACE[view], (7.0, 5.0)):
        near, far = profile.to_block((u, v), 0.0), profile.to_block((u, v), 1.0)
        assert np.allclose(near, block_point(view, u, v, NEAR), rtol=0, atol=EXACT)
        assert np.allclose(far, block_point(view, u, v, FAR), rtol=0, atol=EXACT)


@pytest.mark.parametrize("view", TABLE)
def test_frames_are_right_handed(view: str) -> None:
    """Right × up points at the eye: no view is a mirror image."""
    right, up, towards = silhouette3d.VIEWS[view].axes
    assert np.cross(right, up).tolist() == towards.tolist()
    assert towards.tolist() == np.negative(silhouette3d.VIEWS[view].look).tolist()


@pytest.mark.parametrize(
    ("seen", "taken_for", "axis"),
    [("right", "left", 1), ("front", "rear", 0), ("top", "bottom", 1)],
)
def test_the_wrong_side_is_the_mirror_image(
    seen: str, taken_for: str, axis: int, tmp_path: Path
) -> None:
    """The same drawing entered as seen from the opposite side."""
    meant, made = one(tmp_path, seen), one(tmp_path, taken_for)
    mirrored = meant.measures.centre.copy()
    mirrored[axis] = SIZE[axis] - mirrored[axis]
    assert np.allclose(made.measures.centre, mirrored, rtol=0, atol=EXACT)
    assert abs(mirrored[axis] - meant.measures.centre[axis]) > 1.0
    assert made.mass == pytest.approx(meant.mass, rel=EXACT)


@pytest.mark.parametrize(("seen", "opposite"), [("front", "rear"), ("right", "left")])
def test_opposite_views_of_one_part(seen: str, opposite: str, tmp_path: Path) -> None:
    """As mirror images of each other they cut the same walls."""
    width = FACE[seen][0]
    mirrored = shapely.transform(ELL, lambda p: np.column_stack([width - p[:, 0], p[:, 1]]))
    both = load(tmp_path, Shape(SIZE, {seen: ELL, opposite: mirrored}, 0.0, 0.0))
    assert both.solid.volume == pytest.approx(ELL.area * both.profiles[0].face.thickness, rel=EXACT)
    assert all(both.lost(view).is_empty for view in (seen, opposite))


def test_from_above_and_from_below(tmp_path: Path) -> None:
    """Upside down to each other, with left and right the same."""
    turned = shapely.transform(ELL, lambda p: np.column_stack([p[:, 0], D - p[:, 1]]))
    both = load(tmp_path, Shape(SIZE, {"top": ELL, "bottom": turned}, 0.0, 0.0))
    assert both.solid.volume == pytest.approx(ELL.area * H, rel=EXACT)


# How the views are arranged on paper: pairs of neighbours and the edges in which they meet, as
# "view edge".

THIRD_ANGLE = [
    ("front right", "right left"),
    ("front left", "left right"),
    ("front top", "top bottom"),
    ("front bottom", "bottom top"),
    ("right right", "rear left"),
    ("left left", "rear right"),
]
FIRST_ANGLE = [
    ("front left", "right right"),
    ("front right", "left left"),
    ("front bottom", "top top"),
    ("front top", "bottom bottom"),
    ("left right", "rear left"),
    ("right left", "rear right"),
]


@pytest.fixture(scope="module")
def six(tmp_path_factory: pytest.TempPathFactory) -> silhouette3d.Part:
    """All six views of the block, each the whole face."""
    outlines = {view: rect(0, 0, *FACE[view]) for view in TABLE}
    return load(tmp_path_factory.mktemp("six"), Shape(SIZE, outlines, 0.0, 0.0))


def edge(part: silhouette3d.Part, name: str, depth: float) -> np.ndarray:
    """Points of an edge of a view, upwards or to the right, in the block."""
    view, side = name.split()
    w, h = part.profile(view).face.size
    ends = {
        "left": ((0.0, 0.0), (0.0, h)),
        "right": ((w, 0.0), (w, h)),
        "bottom": ((0.0, 0.0), (w, 0.0)),
        "top": ((0.0, h), (w, h)),
    }[side]
    profile = part.profile(view)
    return np.array([profile.to_block(end, depth) for end in ends])


@pytest.mark.parametrize(("one", "other"), THIRD_ANGLE)
def test_near_faces_unfold_into_third_angle(six: silhouette3d.Part, one: str, other: str) -> None:
    assert np.allclose(edge(six, one, 0.0), edge(six, other, 0.0), rtol=0, atol=EXACT)


@pytest.mark.parametrize(("one", "other"), FIRST_ANGLE)
def test_far_faces_unfold_into_first_angle(six: silhouette3d.Part, one: str, other: str) -> None:
    assert np.allclose(edge(six, one, 1.0), edge(six, other, 1.0), rtol=0, atol=EXACT)


def test_six_whole_faces_leave_the_block(six: silhouette3d.Part) -> None:
    assert six.solid.volume == pytest.approx(W * D * H, rel=EXACT)
    assert six.findings == ()
