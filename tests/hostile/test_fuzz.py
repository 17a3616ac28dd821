"""Broken files, many and at random: a clear error or a right part, in bounded time.

`scripts/fuzz` does the same for hours, guided by which code an input reaches. The drawings that it
has found are tests of their own, here and beside what was mended.
"""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import hostile
from hostile_seeds import seeds
from silhouette3d import Part
from silhouette3d.geometry.solid import Solid
from tests.support.dxf_files import bare, read_text, tags

SECONDS = 30.0
"""Of processor time for one input: some hundred times what a sound one takes."""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    hostile.prepare(tmp_path)
    return tmp_path


def attack(kind: str, folder: Path, count: int, seed: int, thorough: float) -> None:
    """Break seeds in so many ways; whatever is wrong is raised with the file that causes it."""
    rng = random.Random(seed)
    sound = seeds(kind)
    for number in range(count):
        data = hostile.broken(rng.choice(sound), rng, kind)
        try:
            with hostile.seconds(SECONDS):
                hostile.trial(data, kind, folder, thorough=rng.random() < thorough)
        except (Exception, hostile.TooSlowError) as error:
            error.add_note(f"input {number} of seed {seed}: {data!r}")
            raise


@pytest.mark.parametrize("kind", hostile.KINDS)
def test_sound_files_make_parts(kind: str, folder: Path) -> None:
    made = [hostile.trial(data, kind, folder) for data in seeds(kind)]
    own = [told for told in made if told.endswith("mm³")]
    assert len(own) >= {"dxf": 10, "svg": 5, "toml": 2}[kind]


@pytest.mark.parametrize("kind", hostile.KINDS)
def test_broken_files(kind: str, folder: Path) -> None:
    attack(kind, folder, 40, seed=1, thorough=0.0)


@pytest.mark.big
@pytest.mark.parametrize("seed", range(2, 6))
@pytest.mark.parametrize("kind", hostile.KINDS)
def test_many_broken_files(kind: str, seed: int, folder: Path) -> None:
    attack(kind, folder, 500, seed, thorough=0.02)


# ---- structure: numbers of any size in objects of any kind -----------------------------------

numbers = st.one_of(
    st.floats(-60, 60).map(lambda x: round(x, 3)),
    st.sampled_from([0.0, -0.0, 1e-9, 1e-300, 1e6, -1e6, 1e15, 1e300, 0.05, 1.0]),
    st.sampled_from([float("nan"), float("inf")]),
)
layers = st.sampled_from(["HULL", "STOCK", "TABS", "0", "DEFPOINTS"])


@st.composite
def entities(draw: Any) -> str:
    """One object of a DXF file, its numbers drawn from anywhere."""
    kind = draw(st.sampled_from(["LINE", "CIRCLE", "ARC", "LWPOLYLINE", "ELLIPSE", "SPLINE"]))
    head = [(0, kind), (100, "AcDbEntity"), (8, draw(layers)), (100, "AcDb")]
    count = draw(st.integers(0, 6))
    points = [(code, draw(numbers)) for _ in range(count) for code in (10, 20)]
    match kind:
        case "LWPOLYLINE":
            head[-1] = (100, "AcDbPolyline")
            body = [(90, count), (70, draw(st.integers(0, 255))), *points, (42, draw(numbers))]
        case "SPLINE":
            degree = draw(st.integers(-1, 30))
            knots = draw(st.lists(numbers, max_size=12))
            head[-1] = (100, "AcDbSpline")
            body = [(70, 8), (71, degree), *((40, knot) for knot in knots), *points]
        case _:
            codes = (10, 20, 11, 21, 40, 41, 42, 50, 51, 230)
            body = [(code, draw(numbers)) for code in codes]
    return tags(*head, *body)


@settings(max_examples=30)
@given(st.lists(entities(), max_size=5))
def test_objects_with_any_numbers(tmp_path_factory: pytest.TempPathFactory, some: list) -> None:
    header = tags((9, "$ACADVER"), (1, "AC1015"), (9, "$INSUNITS"), (70, 4))
    data = bare(*some, header=header).encode()
    with hostile.seconds(SECONDS):
        hostile.trial(data, "dxf", tmp_path_factory.mktemp("objects"))


@st.composite
def elements(draw: Any) -> str:
    """One element of an SVG file, its numbers drawn from anywhere."""

    def number() -> str:
        return repr(draw(numbers)) + draw(st.sampled_from(["", "", "mm", "%", "em"]))

    def attributes(*names: str) -> str:
        return " ".join(f'{name}="{number()}"' for name in names if draw(st.booleans()))

    letters = st.sampled_from("MmLlHhVvCcSsQqTtAaZz")
    path = "".join(
        draw(letters) + " ".join(repr(draw(numbers)) for _ in range(draw(st.integers(0, 7))))
        for _ in range(draw(st.integers(0, 5)))
    )
    rule = draw(st.sampled_from(["evenodd", "nonzero"]))
    return draw(
        st.sampled_from(
            [
                f"<rect {attributes('x', 'y', 'width', 'height', 'rx', 'ry')}/>",
                f"<circle {attributes('cx', 'cy', 'r')}/>",
                f"<ellipse {attributes('cx', 'cy', 'rx', 'ry')}/>",
                f'<path fill-rule="{rule}" d="M5 5h20v20h-20z{path}"/>',
                f'<g transform="rotate({number()}) scale({number()})"><rect width="9" '
                'height="9"/></g>',
                f'<svg {attributes("width", "height")} viewBox="0 0 9 {number()}">'
                '<rect width="9" height="9"/></svg>',
                f'<use href="#a" {attributes("x", "y")}/>',
            ]
        )
    )


@settings(max_examples=30)
@given(st.lists(elements(), max_size=5))
def test_elements_with_any_numbers(tmp_path_factory: pytest.TempPathFactory, some: list) -> None:
    page = 'xmlns="http://www.w3.org/2000/svg" width="80mm" height="50mm" viewBox="0 0 80 50"'
    spot = '<rect id="a" x="30" y="20" width="9" height="9"/>'
    data = f"<svg {page}>{spot}{''.join(some)}</svg>".encode()
    with hostile.seconds(SECONDS):
        hostile.trial(data, "svg", tmp_path_factory.mktemp("elements"))


# ---- found by scripts/fuzz, and mended ----------------------------------------------------------


def test_half_characters_in_a_note() -> None:
    """A byte that is no character in a number that ezdxf repairs."""
    table = tags((0, "TABLE"), (2, "LAYER"), (70, 1), (0, "LAYER"), (2, "HULL"), (70, 0))
    head = "  0\nSECTION\n  2\nTABLES\n" + table + " 62\n"
    rest = bare(tags((0, "LINE"), (8, "HULL"), (10, 0), (20, 0), (11, 9), (21, 9)))
    data = head.encode() + b"\x8d7\n  0\nENDTAB\n  0\nENDSEC\n" + rest.encode()
    for note in read_text(data).notes:
        note.encode()


# ---- the trial itself: what it must catch -------------------------------------------------------


def test_a_wrong_part_is_caught(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sound = seeds("dxf")[0]
    assert hostile.trial(sound, "dxf", folder).endswith("mm³")
    true = vars(Solid)["volume"]
    wrong = property(lambda self: 1.001 * true.__get__(self, Solid))
    monkeypatch.setattr(Solid, "volume", wrong)
    with pytest.raises(AssertionError, match="mm³ instead of"):
        hostile.trial(sound, "dxf", folder)


def test_other_errors_and_slowness_are_caught(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_: object) -> None:
        raise ZeroDivisionError

    def hang(_: object) -> None:
        while True:
            pass

    for what, error in ((fail, ZeroDivisionError), (hang, hostile.TooSlowError)):
        monkeypatch.setattr(Part, "profiles", property(what))
        with pytest.raises(error), hostile.seconds(0.2):
            hostile.trial(seeds("svg")[0], "svg", folder)


def test_breaking_is_the_same_every_time_and_breaks() -> None:
    for kind in hostile.KINDS:
        sound = seeds(kind)[0]
        made = [hostile.broken(sound, random.Random(7 * i), kind) for i in range(40)]
        assert made == [hostile.broken(sound, random.Random(7 * i), kind) for i in range(40)]
        assert len({data for data in made if data != sound}) > 30


def test_binary_files_are_the_same_drawings(folder: Path) -> None:
    for sound in seeds("dxf")[3:7]:
        binary = hostile.as_binary(sound)
        assert binary.startswith(b"AutoCAD Binary DXF")
        assert hostile.trial(binary, "dxf", folder) == hostile.trial(sound, "dxf", folder)
