"""Outlines that contradict one another, and outlines that do not and still leave loose pieces.

Sources
-------
Laurentini
    A. Laurentini, "The visual hull concept for silhouette-based image understanding", IEEE PAMI
    16(2):150-162, 1994: what outlines leave is the largest solid whose shadows lie inside them;
    outlines that are not its shadows ask for more than any solid can show.
Mitra and Pauly
    N. J. Mitra, M. Pauly, "Shadow Art", ACM Trans. Graph. 28(5), article 156, 2009,
    doi 10.1145/1618452.1618502: shadows asked for often contradict each other, although any two of
    them agree.

The cases were enumerated on grids of 2 × 2 and 3 × 3 cells. Nothing published gives their figures:
those are counted here, cell by cell, with numpy and scipy.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from pathlib import Path

import numpy as np
import pytest

import silhouette3d
from silhouette3d.errors import EmptyPartError
from tests.oracles.voxels import SIDE, Cells, Triple
from tests.support.shapes import NOTHING, Area, Shape, cells, grid, load, many

VIEWS = ("front", "right", "top")

EXACT = 1e-9
"""Relative. Outlines are rounded to 1e-9 mm and lie on whole millimetres: only sums are rounded."""


@dataclass(frozen=True)
class Case:
    """Outlines of square cells, and what is known of them, in cells.

    Parameters
    ----------
    front, right, top : tuple of str
        Rows from the top; nothing is cut from above where `top` is None.
    lost : mapping
        By view, how much of its outline stays empty; none where not named.
    bodies : tuple of int
        Largest first.
    faces : int
        Of cells, all around.
    cell : float
        Its side in mm.
    findings : tuple of str
        What is found about fit, each with its view where it has one.
    """

    front: tuple[str, ...]
    right: tuple[str, ...]
    top: tuple[str, ...] | None
    lost: Mapping[str, int]
    bodies: tuple[int, ...]
    faces: int
    cell: float
    findings: tuple[str, ...]

    @property
    def triple(self) -> Triple:
        front, right = grid(*self.front), grid(*self.right)
        whole = np.ones((len(front), len(right)), bool)
        return Triple(front, right, grid(*self.top) if self.top else whole)

    @property
    def views(self) -> tuple[str, ...]:
        return VIEWS if self.top else VIEWS[:2]

    def part(self, folder: Path) -> silhouette3d.Part:
        return load(folder, as_shape(self.triple, self.cell, self.views))


def as_shape(triple: Triple, cell: float = SIDE, views: Sequence[str] = VIEWS) -> Shape:
    """On the block that the three grids span."""
    (width, height), (depth, _) = triple.front.shape, triple.right.shape
    outlines: dict[str, Area] = {view: cells(getattr(triple, view), cell) for view in views}
    return Shape((width * cell, depth * cell, height * cell), outlines, 0.0, 0.0)


FULL = ("##", "##")
CASES = {
    # 40 × 30 from the front, 25 × 20 from the side: the upper third of the front is lost
    "heights differ": Case(
        ("#" * 8,) * 6,
        ("." * 5,) * 2 + ("#" * 5,) * 4,
        None,
        {"front": 8 * 2},
        (8 * 5 * 4,),
        2 * (8 * 5 + 8 * 4 + 5 * 4),
        5.0,
        ("extent-mismatch right",),  # of two the second is told to follow the first
    ),
    "one of three loses": Case(
        ("#.", "##"), ("##", "#."), FULL, {"top": 1}, (4,), 18, 10.0, ("shadow-lost top",)
    ),
    "two of three lose": Case(
        ("#.", "##"),
        ("#.", "##"),
        ("##", ".#"),
        {"front": 1, "right": 1},
        (3,),
        14,
        10.0,
        ("shadow-lost front", "shadow-lost right"),
    ),
    # squares of 20 mm with notches to 8 and 12 mm: two cubes of 8 mm, apart
    "three of three lose": Case(
        ("##...", "##...", "##...", "#####", "#####"),
        ("#####", "#####", "##...", "##...", "##..."),
        ("#####", "#####", "...##", "...##", "...##"),
        {"front": 8, "right": 8, "top": 8},
        (8, 8),
        48,
        4.0,
        ("several-bodies", "shadow-lost front", "shadow-lost right", "shadow-lost top"),
    ),
    # the same with all notches to the middle: two cubes that touch in a point
    "three of three lose, and a point is left": Case(
        ("#.", "##"),
        ("##", "#."),
        ("##", ".#"),
        {"front": 1, "right": 1, "top": 1},
        (1, 1),
        12,
        10.0,
        ("point-contact", "shadow-lost front", "shadow-lost right", "shadow-lost top"),
    ),
    "nothing lost, a loose cube of three": Case(
        ("##.", ".##", "##."),
        ("##.", "###", "#.#"),
        ("#.#", "#.#", "###"),
        {},
        (9, 1),
        44,
        10.0,
        ("several-bodies",),
    ),
    "nothing lost, a loose cube of two": Case(
        ("###", "#.#", "#.."),
        ("#..", "#.#", "###"),
        None,
        {},
        (9, 1),
        44,
        10.0,
        ("several-bodies",),
    ),
}

OF_FIT = {"extent-mismatch", "shadow-lost", "several-bodies", "point-contact"}


@pytest.mark.parametrize("name", CASES)
def test_the_cases_by_counting(name: str) -> None:
    """The figures of the cases themselves: of outlines in one piece, cell by cell."""
    case, triple = CASES[name], CASES[name].triple
    for view in case.views:
        outline = getattr(triple, view)
        assert len(many(cells(outline)).geoms) == 1
        assert (outline & ~triple.shadow(view)).sum() == case.lost.get(view, 0)
        assert not (triple.shadow(view) & ~outline).any()
    assert [v / SIDE**3 for v in triple.body_volumes] == list(case.bodies)
    assert triple.area / SIDE**2 == case.faces


@pytest.mark.parametrize("name", CASES)
def test_what_the_outlines_make_and_lose(name: str, tmp_path: Path) -> None:
    case = CASES[name]
    part = case.part(tmp_path)
    assert part.solid.volume == pytest.approx(sum(case.bodies) * case.cell**3, rel=EXACT)
    assert part.solid.surface_area == pytest.approx(case.faces * case.cell**2, rel=EXACT)
    volumes = [body.volume for body in part.solid.bodies]
    assert volumes == pytest.approx([n * case.cell**3 for n in case.bodies], rel=EXACT)
    for view in case.views:
        lost = case.lost.get(view, 0) * case.cell**2
        # the shadow lies on a grid of 1e-6 mm: half of it along some 100 mm of rim
        assert part.lost(view).area == pytest.approx(lost, abs=1e-4)


@pytest.mark.parametrize("name", CASES)
def test_what_is_found(name: str, tmp_path: Path) -> None:
    case = CASES[name]
    part = case.part(tmp_path)
    found = [f for f in part.findings if f.code in OF_FIT]
    assert sorted({f"{f.code} {f.profile or ''}".strip() for f in found}) == list(case.findings)
    for view in (line.split()[1] for line in case.findings if line.startswith("shadow-lost")):
        regions = [f.value or 0.0 for f in found if (f.code, f.profile) == ("shadow-lost", view)]
        # as for the lost areas above
        assert sum(regions) == pytest.approx(case.lost[view] * case.cell**2, abs=1e-4)


def test_heights_that_differ_by_a_third(tmp_path: Path) -> None:
    part = CASES["heights differ"].part(tmp_path)
    assert part.lost("front").area / part.profile("front").area.area == pytest.approx(1 / 3)
    assert part.solid.size == pytest.approx([40, 25, 20], rel=EXACT)
    (finding,) = [f for f in part.findings if f.code == "extent-mismatch"]
    assert finding.value == pytest.approx(10.0, rel=EXACT)


def test_where_two_cubes_touch(tmp_path: Path) -> None:
    part = CASES["three of three lose, and a point is left"].part(tmp_path)
    (contact,) = [f for f in part.findings if f.code == "point-contact"]
    assert contact.where == pytest.approx((10.0, 10.0, 10.0), rel=EXACT)
    assert contact.severity == "error"
    assert contact.value == 0.0


@pytest.mark.parametrize("names", [("three", (0, 20, 0)), ("two", (20, 20, 10))])
def test_where_the_loose_cubes_are(
    names: tuple[str, tuple[float, float, float]], tmp_path: Path
) -> None:
    how_many, corner = names
    case = CASES[f"nothing lost, a loose cube of {how_many}"]
    part = case.part(tmp_path)
    _, loose = part.solid.bodies
    low = np.array(corner, float)
    assert np.allclose(loose.bounds, [low, low + 10.0], rtol=0, atol=1e-9)  # rounding of placing
    assert all(part.lost(view).is_empty for view in case.views)


def test_one_outline_ends_where_the_other_begins(tmp_path: Path) -> None:
    """The front is 0 to 10 mm high, the side 10 to 20 mm: nothing, not a sheet of no thickness."""
    part = load(tmp_path, NOTHING)
    with pytest.raises(EmptyPartError, match="front and right exclude one another: along z"):
        _ = part.solid


# All outlines on 2 × 2 cells that hang together and reach all four sides of their square.


def spanning() -> list[Cells]:
    """Four that lack a corner, and the whole."""
    every = [np.array(bits, bool).reshape(2, 2) for bits in product((0, 1), repeat=4)]
    return [c for c in every if c.sum() >= 3]


def every_triple() -> list[Triple]:
    return [Triple(front, right, top) for front, right, top in product(spanning(), repeat=3)]


def lost_cells(triple: Triple) -> tuple[int, ...]:
    """Of front, right and top."""
    return tuple(int((getattr(triple, v) & ~triple.shadow(v)).sum()) for v in VIEWS)


def test_how_many_triples_lose_something() -> None:
    """Of 125 triples 69 lose nothing; one, two or three outlines lose a corner in 24, 24 and 8."""
    every = every_triple()
    assert Counter(sum(lost_cells(t)) for t in every) == {0: 69, 1: 24, 2: 24, 3: 8}
    assert max(max(lost_cells(t)) for t in every) == 1


def assert_loses(triple: Triple, folder: Path) -> None:
    part = load(folder, as_shape(triple))
    assert part.solid.volume == pytest.approx(triple.volume, rel=EXACT)
    assert part.solid.surface_area == pytest.approx(triple.area, rel=EXACT)
    assert [b.volume for b in part.solid.bodies] == pytest.approx(triple.body_volumes, rel=EXACT)
    for view, count in zip(VIEWS, lost_cells(triple), strict=True):
        # the shadow lies on a grid of 1e-6 mm: half of it along some 100 mm of rim
        assert part.lost(view).area == pytest.approx(count * SIDE**2, abs=1e-4)


def test_one_triple_of_each_kind(tmp_path: Path) -> None:
    """Kinds differ in what each outline loses, or in how much is left."""
    kinds = {(lost_cells(t), t.volume, len(t.body_volumes)): t for t in every_triple()}
    for triple in kinds.values():
        assert_loses(triple, tmp_path)


@pytest.mark.big
def test_every_triple(tmp_path: Path) -> None:
    for triple in every_triple():
        assert_loses(triple, tmp_path)
