"""The job file: what it takes, what it refuses, and in which words."""

from __future__ import annotations

import contextlib
import math
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from silhouette3d.errors import JobError
from silhouette3d.geometry.frames import VIEWS, view_from
from silhouette3d.job.model import (
    Accept,
    Checks,
    Cutting,
    Job,
    Model,
    OwnView,
    ProfileSpec,
    RoundBar,
    StockSpec,
    TabSpec,
    TurnedView,
    job_from,
    read_job,
    schema,
)
from silhouette3d.job.text import keys_of, line_of

ROOT = Path(__file__).resolve().parents[2]

PLAIN = """\
name = "Bollard"
units = "mm"
tolerance = 0.02

[stock]
size = [60.0, 50.0, 70.0]
material = "brass C360"

[[profile]]
view = "front"
drawing = "front.dxf"

[[profile]]
view = "right"
drawing = "right.dxf"

[checks]
thin = 1.5

[cutting]
kerf = 0.8
"""

FULL = """\
name = "Every key"
units = "mm"
tolerance = 0.25

[stock]
round = {diameter = 40.0, length = 60.0, along = "x"}
material = "aluminum 6061"
density = 2.75

[[profile]]
view = "front"
drawing = "front.dxf"
name = "bow"
layer = "OUTLINE"
colour = ["red", "#00f", 3]
linetype = "CONTINUOUS"
take = "silhouette"
open = "ignore"
overlap = "even-odd"
text = "outline"
units = "in"
stock_layer = "FACE"
datum = [1.0, 2.0]
turn = 90
mirror = true
scale = 2.0
shift = [3.0, -4.0]
tab_layer = "BRIDGES"
clamp = ["left", "top"]
[[profile.tab]]
at = [5.0, 6.0]
width = 7.0
[[profile.tab]]
at = [8.0, 9.0]

[[profile]]
view = {look = [1.0, 1.0, 0.0], up = [0.0, 0.0, 1.0]}
drawing = "corner.svg"
layer = ["A", "B"]
datum = "center"
clamp = [[0.0, 1.0, 2.0, 3.0]]

[[profile]]
view = {from = "left", turned = -37, tipped = 12.5}
drawing = "lean.dxf"

[checks]
thin = 11.0
match = 0.5

[cutting]
kerf = 0.75
tab_width = 2.5
order = ["view 2", "bow", "left turned -37 tipped 12.5"]
clear_offcuts = false
tab_area = 6.0
slat_gap = 25.0
seat = 12.0
air = 4.0
lead = 3.0
pierce = 2.0
side = "right"
head = 30.0
jaw = 8.0

[[accept]]
code = "loose-offcut"
profile = "bow"
reason = "the frame is lifted out by hand"
"""


def read(tmp_path: Path, text: str | bytes) -> Job:
    file = tmp_path / "job.toml"
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_job(file)


def refusal(tmp_path: Path, text: str | bytes) -> JobError:
    with pytest.raises(JobError) as caught:
        read(tmp_path, text)
    return caught.value


def put(old: str, new: str, text: str = PLAIN) -> str:
    """A text with one line of it replaced; new lines may follow it."""
    assert text.count(f"{old}\n") == 1, old
    return text.replace(f"{old}\n", f"{new}\n")


# What it takes.


def test_every_key_arrives(tmp_path: Path) -> None:
    job = read(tmp_path, FULL)
    bow, corner, lean = job.profile
    assert (job.name, job.units, job.tolerance) == ("Every key", "mm", 0.25)
    assert job.stock.size is None
    assert job.stock.round is not None
    bar = job.stock.round
    assert (bar.diameter, bar.length, bar.along) == (40.0, 60.0, "x")
    assert (job.stock.material, job.stock.density) == ("aluminum 6061", 2.75)
    assert (bow.view, bow.drawing, bow.name, bow.layer) == ("front", "front.dxf", "bow", "OUTLINE")
    assert (bow.units, bow.stock_layer, bow.tab_layer) == ("in", "FACE", "BRIDGES")
    assert (bow.text, corner.text) == ("outline", None)
    assert (bow.colours, bow.linetypes) == (("red", "#00f", 3), ("CONTINUOUS",))
    assert (corner.colours, corner.linetypes) == (None, None)
    assert (bow.take, bow.open, bow.overlap) == ("silhouette", "ignore", "even-odd")
    assert (bow.datum, bow.turn, bow.mirror, bow.scale) == ((1.0, 2.0), 90.0, True, 2.0)
    assert (bow.shift, bow.clamp, bow.layers) == ((3.0, -4.0), ("left", "top"), ("OUTLINE",))
    assert [(tab.at, tab.width) for tab in bow.tab] == [((5.0, 6.0), 7.0), ((8.0, 9.0), None)]
    assert (corner.datum, corner.layers, corner.clamp) == (
        "centre",
        ("A", "B"),
        ((0.0, 1.0, 2.0, 3.0),),
    )
    assert bow.sight is VIEWS["front"]
    assert corner.sight.look == pytest.approx((math.sqrt(0.5), math.sqrt(0.5), 0.0), abs=1e-15)
    assert (job.checks.thin, job.checks.match) == (11.0, 0.5)
    cut = job.cutting
    assert (cut.kerf, cut.tab_width, cut.tab_area, cut.slat_gap) == (0.75, 2.5, 6.0, 25.0)
    assert cut.seat == 12.0
    assert (cut.air, cut.lead, cut.pierce, cut.side) == (4.0, 3.0, 2.0, "right")
    assert (cut.head, cut.jaw) == (30.0, 8.0)
    assert cut.clear_offcuts is False
    assert isinstance(lean.view, TurnedView)
    assert (lean.view.side, lean.view.turned, lean.view.tipped) == ("left", -37.0, 12.5)
    assert lean.sight == view_from("left", -37.0, 12.5)
    assert job.names == ("bow", "view 2", "left turned -37 tipped 12.5")
    assert job.order == ("view 2", "bow", "left turned -37 tipped 12.5")


def test_the_full_example_names_every_key() -> None:
    """A key that is added to the model has to be added to the example above too."""
    declared = tomllib.loads(FULL)
    places: dict[str, set[str]] = {}
    for data in (declared, *declared["profile"]):
        for key, value in data.items():
            for table in value if isinstance(value, list) else [value]:
                if isinstance(table, dict):
                    places.setdefault(key, set()).update(table)
    places["stock"] |= {"size"}
    places[""] = set(declared)
    places["round"] = set(declared["stock"]["round"])
    one_each: list[type[Model]] = [Job, StockSpec, RoundBar, ProfileSpec, TabSpec, Checks, Cutting]
    one_each += [Accept]
    kinds: list[set[type[Model]]] = [{OwnView, TurnedView}, *({kind} for kind in one_each)]
    assert set().union(*kinds) == set(Model.__subclasses__())
    assert sorted(map(sorted, places.values())) == sorted(sorted(keys_of(kind)) for kind in kinds)


def test_what_need_not_be_said(tmp_path: Path) -> None:
    job = read(
        tmp_path,
        'name = "a"\nstock = {size = [1, 2, 3], density = 1}\n'
        '[[profile]]\nview = "top"\ndrawing = "a.svg"',
    )
    profile = job.profile[0]
    assert (job.units, job.tolerance, job.stock.size) == ("mm", 0.01, (1.0, 2.0, 3.0))
    assert (profile.datum, profile.layers, profile.tab, profile.clamp) == (None, None, (), None)
    assert (profile.turn, profile.mirror, profile.scale, profile.shift) == (0, False, 1, (0, 0))
    assert (job.checks.thin, job.checks.match) == (1.5, 0.1)
    cut = job.cutting
    assert (cut.kerf, cut.tab_width, cut.tab_area, cut.slat_gap) == (0.9, 2.0, 5.0, 20.0)
    assert cut.seat == 10.0
    assert cut.air == 5.0
    assert cut.clear_offcuts is True
    assert job.order == job.names == ("top",)


def test_inches_are_25_4_mm_and_square_inches_their_square(tmp_path: Path) -> None:
    """The same numbers in an inch job are the same job with every length times 25.4."""
    inch = read(tmp_path, put('units = "mm"', 'units = "in"', FULL))
    mm = read(tmp_path, FULL)
    scale = 25.4
    assert inch.tolerance == mm.tolerance * scale
    assert inch.stock.round is not None
    assert mm.stock.round is not None
    assert inch.stock.round.diameter == mm.stock.round.diameter * scale
    assert inch.stock.round.length == mm.stock.round.length * scale
    assert inch.stock.density == mm.stock.density
    for a, b in zip(inch.profile, mm.profile, strict=True):
        assert a.shift == tuple(v * scale for v in b.shift)
        assert (a.turn, a.scale, a.view) == (b.turn, b.scale, b.view)
        for tab, other in zip(a.tab, b.tab, strict=True):
            assert tab.at == tuple(v * scale for v in other.at)
            assert tab.width == (None if other.width is None else other.width * scale)
    assert inch.profile[0].datum == (25.4, 50.8)
    assert inch.profile[1].clamp == ((0.0, 25.4, 50.8, 3.0 * scale),)
    assert (inch.checks.thin, inch.checks.match) == (11.0 * scale, 0.5 * scale)
    assert (inch.cutting.kerf, inch.cutting.tab_width) == (0.75 * scale, 2.5 * scale)
    assert inch.cutting.air == 4.0 * scale
    assert (inch.cutting.lead, inch.cutting.pierce) == (3.0 * scale, 2.0 * scale)
    assert (inch.cutting.head, inch.cutting.jaw) == (30.0 * scale, 8.0 * scale)
    assert (inch.cutting.slat_gap, inch.cutting.tab_area) == (25.0 * scale, 6.0 * scale**2)


def test_defaults_are_in_mm_whatever_the_job_is_in(tmp_path: Path) -> None:
    text = put("tolerance = 0.02", "", put('units = "mm"', 'units = "in"')).split("[checks]")[0]
    job = read(tmp_path, text)
    assert (job.tolerance, job.checks.thin, job.cutting.kerf) == (0.01, 1.5, 0.9)
    assert job.cutting.tab_area == 5.0


@pytest.mark.parametrize("datum", ['"centre"', '"center"'])
def test_centre_in_either_spelling(tmp_path: Path, datum: str) -> None:
    job = read(tmp_path, put('drawing = "front.dxf"', f'drawing = "front.dxf"\ndatum = {datum}'))
    assert job.profile[0].datum == "centre"
    assert job.declared["profile"][0]["datum"] == datum.strip('"')


@pytest.mark.parametrize(
    "text",
    [b"\xef\xbb\xbf" + PLAIN.encode(), PLAIN.replace("\n", "\r\n").encode()],
    ids=["byte order mark", "CRLF"],
)
def test_as_other_editors_save_it(tmp_path: Path, text: bytes) -> None:
    assert read(tmp_path, text).declared == tomllib.loads(PLAIN)


def test_a_folder_stands_for_the_job_in_it(tmp_path: Path) -> None:
    job = read(tmp_path, PLAIN)
    assert read_job(tmp_path) == read_job(str(tmp_path)) == job
    assert job.path == tmp_path / "job.toml"
    assert job.folder == tmp_path


def test_a_job_without_a_file() -> None:
    job = job_from(tomllib.loads(PLAIN))
    assert (job.path, job.folder) == (None, Path())


def test_a_job_does_not_change(tmp_path: Path) -> None:
    job = read(tmp_path, PLAIN)
    job.declared["name"] = "other"
    assert job.declared["name"] == "Bollard"
    with pytest.raises(Exception, match="frozen"):
        setattr(job, "name", "other")  # noqa: B010 - mypy would object


# What it refuses. Each case: the line to replace, what by, the line that is at fault (counted
# in PLAIN as it then stands, by hand), and words that the message must hold.

NAME, UNITS, TOLERANCE = 'name = "Bollard"', 'units = "mm"', "tolerance = 0.02"
SIZE, BRASS, VIEW = "size = [60.0, 50.0, 70.0]", 'material = "brass C360"', 'view = "front"'
DRAWING, RIGHT, THIN, KERF = 'drawing = "front.dxf"', 'view = "right"', "thin = 1.5", "kerf = 0.8"

WRONG = [
    (NAME, "name = 5", 1, 'name: it must be text in "quotes", not 5'),
    (NAME, 'name = ""', 1, "name: it must not be empty"),
    (NAME, "name = 1979-05-27", 1, "1979-05-27"),
    (UNITS, 'units = "cm"', 2, 'units: it must be "mm" or "in", not "cm"'),
    (UNITS, 'units = "inch"', 2, 'the nearest is "in"'),
    (UNITS, "units = 5", 2, 'units: it must be "mm" or "in", not 5'),
    (TOLERANCE, "tolerance = 0", 3, "tolerance: it must be more than 0, not 0"),
    (TOLERANCE, "tolerance = -0.1", 3, "more than 0, not -0.1"),
    (TOLERANCE, "tolerance = nan", 3, "a finite number"),
    (TOLERANCE, "tolerance = inf", 3, "a finite number"),
    (TOLERANCE, 'tolerance = "0.01"', 3, 'it must be a number, not "0.01"'),
    (TOLERANCE, "tolerance = true", 3, "it must be a number, not true"),
    (TOLERANCE, "tolerance = 1e-7", 3, "at least 0.000001 mm"),
    (TOLERANCE, f"tolerance = 1{'0' * 400}", 3, "it must be a number, not 1000"),
    (SIZE, "size = 5", 6, "stock, size: it must be three lengths [width, depth, height], not 5"),
    (SIZE, "size = [1, 2]", 6, "three lengths [width, depth, height], not [1, 2]"),
    (SIZE, "size = [1, 2, 3, 4]", 6, "three lengths [width, depth, height], not [1, 2, 3, 4]"),
    (SIZE, "size = [\n  1,\n  2,\n  0\n]", 6, "size, value 3: it must be more than 0, not 0"),
    (SIZE, "size = [1, 2, nan]", 6, "stock, size, value 3: it must be a finite number"),
    (SIZE, 'size = [1, "2", 3]', 6, 'stock, size, value 2: it must be a number, not "2"'),
    (SIZE, "size = [[1], 2, 3]", 6, "stock, size, value 1: it must be a number, not [1]"),
    (SIZE, "size = {x = 1}", 6, "three lengths [width, depth, height], not a table"),
    (SIZE, "size = [1e7, 2, 3]", 6, "value 1: 1e+07 is more than a kilometre"),
    (SIZE, "", 5, "stock: give either size (a block) or round (a bar)"),
    (SIZE, f"{SIZE}\nround = {{diameter = 1, length = 2}}", 5, "only one of them"),
    (SIZE, "round = 5", 6, "stock, round: it must be a table {diameter = …"),
    (SIZE, "round = {diameter = 1}", 6, "stock, round, length is missing"),
    (SIZE, "round = {diameter = 1, length = -2}", 6, "stock, round, length: it must be more than"),
    (SIZE, 'round = {diameter = 1, length = 2, along = "w"}', 6, 'it must be "x", "y" or "z"'),
    (SIZE, "round.diameter = 1\nround.lenght = 2", 7, 'stock, round: there is no key "lenght"'),
    (BRASS, "material = 5", 7, 'stock, material: it must be text in "quotes", not 5'),
    (BRASS, 'material = "bras C360"', 7, 'the nearest known names are "brass C360"'),
    (BRASS, "", 5, "stock: give a material, or a density in g/cm³"),
    (BRASS, "density = 0", 7, "stock, density: it must be more than 0, not 0"),
    (BRASS, "density = 8490", 7, "8490 g/cm³ is more than the densest metal has. Give it in g/cm³"),
    (VIEW, 'view = "Front"', 10, 'the nearest is "front"'),
    (VIEW, 'view = "frnt"', 10, 'profile 1, view: it must be "front", "rear", "right", "left"'),
    (VIEW, "view = [1, 0, 0]", 10, "or {look = [x, y, z], up = [x, y, z]}, not [1, 0, 0]"),
    (VIEW, "view = {look = [1, 0, 0]}", 10, "view, up is missing. Add it: three numbers [x, y, z]"),
    (
        VIEW,
        "view = {look = [1, 0], up = [0, 0, 1]}",
        10,
        "look: it must be three numbers [x, y, z]",
    ),
    (VIEW, "view = {look = [1, 0, inf], up = [0, 0, 1]}", 10, "view, look, value 3: it must be a"),
    (
        VIEW,
        "view = {look = [0, 0, 0], up = [0, 0, 1]}",
        10,
        "view: the look vector of a view has no",
    ),
    (VIEW, "view = {look = [1, 0, 0], up = [2, 0, 0]}", 10, "runs along the look vector (1, 0, 0)"),
    (
        VIEW,
        "view = {lok = [1, 0, 0], up = [0, 0, 1]}",
        10,
        'there is no key "lok". The nearest is "l',
    ),
    (VIEW, 'view = {from = "fornt", turned = 1}', 10, 'view, from: it must be "front", "rear", "r'),
    (VIEW, 'view = {from = "fornt"}', 10, 'not "fornt". The nearest is "front"'),
    (VIEW, 'view = {from = "front", turn = 37}', 10, 'view: there is no key "turn". The near'),
    (VIEW, 'view = {from = "front", tunred = 37}', 10, '"turned"; known keys: from, turned, t'),
    (VIEW, "view = {turned = 37}", 10, 'view, from is missing. Add it: "front", "rear"'),
    (VIEW, "view = {}", 10, "view, from is missing"),
    (VIEW, 'view = {from = "front", turned = 361}', 10, "turned: it must be at most 360, not 361"),
    (VIEW, 'view = {from = "front", turned = "37"}', 10, 'turned: it must be a number, not "37"'),
    (VIEW, 'view = {from = "front", tipped = -91}', 10, "tipped: it must be at least -90, not -91"),
    (VIEW, 'view = {from = "top", tipped = 5}', 10, "view, tipped: a view from the top cannot be"),
    (VIEW, 'view = {from = "bottom", tipped = 5}', 10, 'from = "front", tipped = 60 leans 30 deg'),
    (
        VIEW,
        'view = {from = "front", look = [0, 1, 0], up = [0, 0, 1]}',
        10,
        "view: it has from and look and up, which are of two kinds of view. Give look and up, or",
    ),
    (VIEW, "view.from = 5", 10, 'view, from: it must be "front", "rear"'),
    (VIEW, "", 9, "profile 1, view is missing"),
    (DRAWING, "", 9, "profile 1, drawing is missing. Add it: the path of a .dxf or .svg file"),
    (DRAWING, 'drawing = ""', 11, "profile 1, drawing: it must not be empty"),
    (DRAWING, 'drawing = ["a"]', 11, 'the path of a .dxf or .svg file, not ["a"]'),
    (DRAWING, r'drawing = "a\u0000.dxf"', 11, "drawing: it holds a null character"),
    (RIGHT, VIEW, 14, 'profiles 1 and 2 are both called "front"'),
    (RIGHT, f'{VIEW}\nname = "front"', 15, "give one of them a name of its own"),
    (THIN, "thin = -1", 18, "checks, thin: it must be more than 0, not -1"),
    (THIN, "match = 0", 18, "checks, match: it must be more than 0, not 0"),
    (KERF, "kerf = -0.1", 21, "cutting, kerf: it must be at least 0, not -0.1"),
    (
        KERF,
        "kerf = 800",
        21,
        "cutting, kerf: a strip of 800 mm is wider than the whole stock. Check it and the units",
    ),
    (KERF, "tab_width = 0", 21, "cutting, tab_width: it must be more than 0"),
    (KERF, "tab_area = -1", 21, "cutting, tab_area: it must be more than 0"),
    (KERF, "slat_gap = 0", 21, "cutting, slat_gap: it must be more than 0"),
    (KERF, 'clear_offcuts = "no"', 21, 'clear_offcuts: it must be true or false, not "no"'),
    (KERF, 'order = "front"', 21, 'order: it must be a list of the profiles\' names, not "front"'),
    (KERF, "order = [1, 2]", 21, 'cutting, order, value 1: it must be text in "quotes", not 1'),
    (KERF, 'order = ["front"]', 21, '"right" is missing. The profiles are: front, right'),
    (
        KERF,
        'order = ["front", "rihgt"]',
        21,
        'there is no profile called "rihgt"; "right" is missing',
    ),
    (KERF, 'order = ["front", "right", "front"]', 21, "one is named twice. The profiles are"),
    ("[stock]", "[stok]", 5, 'the job: there is no key "stok". The nearest is "stock"; known keys'),
    ("[stock]", "[[stock]]", 5, "stock: it must be a table, under [stock], not [a table]"),
    (
        THIN,
        "thinn = 1",
        18,
        'checks: there is no key "thinn". The nearest is "thin"; known keys: th',
    ),
    (THIN, "kerf = 1", 18, 'checks: there is no key "kerf". "kerf" belongs under [cutting]'),
    (KERF, "tolerance = 1", 21, '"tolerance" belongs at the top of the file, before the first [ta'),
    (KERF, "shift = [0, 1]", 21, '"shift" belongs under [[profile]]'),
    (TOLERANCE, "size = [1, 2, 3]", 3, '"size" belongs under [stock]'),
    (BRASS, "checks = {thin = 1}", 7, '"checks" belongs in a table of its own, under [checks]'),
]

IN_PROFILE = [
    ("shiftt = [0, 0]", 'profile 1: there is no key "shiftt". The nearest is "shift"; known keys:'),
    ("name = 5", 'profile 1, name: it must be text in "quotes", not 5'),
    ('name = ""', "profile 1, name: it must not be empty"),
    ("layer = 5", 'layer: it must be the name of a layer in "quotes" or a list of names, not 5'),
    ("layer = []", 'layer: it must be the name of a layer in "quotes" or a list of names, not []'),
    ('layer = ["a", 5]', 'profile 1, layer, value 2: it must be text in "quotes", not 5'),
    ('units = "inch"', 'profile 1, units: it must be "mm" or "in", not "inch"'),
    ("stock_layer = 5", 'profile 1, stock_layer: it must be text in "quotes", not 5'),
    ("tab_layer = 5", 'profile 1, tab_layer: it must be text in "quotes", not 5'),
    ('datum = "middle"', 'datum: it must be a point [u, v], "centre" or "corner", not "middle"'),
    ('datum = "cornr"', 'the nearest is "corner"'),
    ("datum = [1]", 'profile 1, datum: it must be a point [u, v], "centre" or "corner", not [1]'),
    ("datum = [1, nan]", "profile 1, datum, value 2: it must be a finite number"),
    ('datum = [1, "a"]', 'profile 1, datum, value 2: it must be a number, not "a"'),
    ('turn = "90"', 'profile 1, turn: it must be a number, not "90"'),
    ("turn = nan", "profile 1, turn: it must be a finite number"),
    ("mirror = 1", "profile 1, mirror: it must be true or false, not 1"),
    ("scale = 0", "profile 1, scale: it must be at least 1e-06, not 0"),
    ("scale = inf", "profile 1, scale: it must be a finite number"),
    ("shift = 5", "profile 1, shift: it must be two lengths [u, v], not 5"),
    ("shift = [1, 2, 3]", "profile 1, shift: it must be two lengths [u, v], not [1, 2, 3]"),
    ("shift = [1, -inf]", "profile 1, shift, value 2: it must be a finite number"),
    ("tab = 5", "profile 1, tab: it must be a list of tables like {at = [u, v], width = 2.0}"),
    ("tab = [{width = 1}]", "profile 1, tab 1, at is missing. Add it: two lengths [u, v]"),
    ("tab = [{at = [1, 2]}, {at = [1]}]", "profile 1, tab 2, at: it must be two lengths [u, v]"),
    ("tab = [{at = [1, 2], width = 0}]", "profile 1, tab 1, width: it must be more than 0"),
    ("tab = [{at = [1, 2], wide = 1}]", 'profile 1, tab 1: there is no key "wide". The nearest is'),
    ('clamp = "left"', 'profile 1, clamp: it must be a list of sides ("left", "right", "bottom"'),
    ('clamp = ["left", "up"]', 'or of rectangles [u0, v0, u1, v1], not ["left", "up"]'),
    ("clamp = [[1, 2, 3]]", "or of rectangles [u0, v0, u1, v1], not [[1, 2, 3]]"),
    ('clamp = ["left", [1, 2, 3, 4]]', 'not ["left", [1, 2, 3, 4]]'),
    ("clamp = [[1, 2, 3, nan]]", "profile 1, clamp, value 1, value 4: it must be a finite number"),
]

# Words of the library behind the model, which mean nothing to who wrote the file.
FOREIGN = ("Input should", "pydantic", "validation", "dict", "tuple", "instance", "str", "NoneType")


@pytest.mark.parametrize(("old", "new", "line", "words"), WRONG)
def test_what_is_wrong_is_said_with_its_line(
    tmp_path: Path, old: str, new: str, line: int, words: str
) -> None:
    error = refusal(tmp_path, put(old, new))
    assert error.where == f"{tmp_path / 'job.toml'}, line {line}"
    assert words.casefold() in str(error).casefold()
    assert not [word for word in FOREIGN if word in str(error).split()]


@pytest.mark.parametrize(("new", "words"), IN_PROFILE)
def test_what_is_wrong_in_a_profile(tmp_path: Path, new: str, words: str) -> None:
    error = refusal(tmp_path, put(DRAWING, f"{DRAWING}\n{new}"))
    assert error.where == f"{tmp_path / 'job.toml'}, line 12"
    assert words.casefold() in str(error).casefold()


@pytest.mark.parametrize("key", ["name", "stock", "profile"])
def test_what_is_missing_altogether(key: str) -> None:
    data = tomllib.loads(PLAIN)
    del data[key]
    with pytest.raises(JobError, match=f"^job: {key} is missing. Add it: "):
        job_from(data)


def test_no_profile_at_all() -> None:
    with pytest.raises(JobError, match=r"profile: it must be one or more tables, each under"):
        job_from(tomllib.loads(PLAIN) | {"profile": []})


def test_a_long_value_is_cut_short(tmp_path: Path) -> None:
    error = refusal(tmp_path, put(UNITS, f'units = "{"m" * 500}"'))
    assert "…" in error.what
    assert len(error.what) < 120  # the sentence around it and the 60 characters of it


@pytest.mark.parametrize(
    ("text", "where", "words"),
    [
        (b'name = "caf\xe9"', "line 1", "not UTF-8 text. Save it as UTF-8"),
        (PLAIN.encode() + b"# \xff", "line 22", "not UTF-8"),
        (PLAIN.encode("utf-16"), "line 1", "not UTF-8"),
        ('name = "Bollard', "line 1", "the closing quote is missing"),
        ('name = "Bollard\nunits', "line 1", "before the closing quote"),
        ("name = Bollard", "line 1", 'text stands in "quotes"'),
        ("name =", "line 1", 'text stands in "quotes"'),
        ("name", "line 1", "there must be an ="),
        (r'name = "C:\jobs"', "line 1", "must be doubled"),
        ("a = 1\na = 2", "line 2", "this key stands there a second time"),
        ("[stock]\n[stock]", "line 2", "this table stands there a second time"),
        ("a = 1 b = 2", "line 1", "the line goes on after its value"),
        ("a = [1, 2", "line 1", "the closing ] is missing"),
        ("a = {b = 1", "line 1", "the closing } is missing"),
        ("a = 1,5", "line 1", "a number is like 12.5, without a unit"),
        ("a = 12 mm", "line 1", "a number is like 12.5, without a unit"),
        ("[a.]", "line 1", "there is no key where one must stand"),
        ("[a", "line 1", "the closing ] is missing"),
        ("= 1", "line 1", "a line must be a comment, a [table] or key = value"),
        ("a = " + "[" * 5000, "", "nested too deeply"),
        ("a = " + "1" * 5000, "", "too many digits"),
    ],
)
def test_what_is_no_toml(tmp_path: Path, text: str | bytes, where: str, words: str) -> None:
    error = refusal(tmp_path, text)
    place, _, _ = error.where.partition(", column")
    assert place == str(tmp_path / "job.toml") + (f", {where}" if where else "")
    assert words in str(error)


def test_what_is_not_there(tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", tmp_path, tmp_path / "none" / "job.toml"):
        with pytest.raises(JobError, match=r"no such job file. Check the path, or write a start"):
            read_job(path)
    (tmp_path / "job.toml").mkdir()
    with pytest.raises(JobError, match="the file cannot be read: Is a directory"):
        read_job(tmp_path)
    with pytest.raises(JobError, match="no file can have this name"):
        read_job("a\0b")


# Lines.


@pytest.mark.parametrize(
    ("place", "line"),
    [
        (("a",), 1),
        (("stock",), 3),
        (("stock", "size", 2), 4),
        (("stock", "round", "length"), 5),
        (("stock", "density"), 3),
        (("profile",), 7),
        (("profile", 0, "drawing"), 8),
        (("profile", 0, "tab", 1, "at"), 13),
        (("profile", 1), 14),
        (("profile", 1, "tab", 0, "at"), 17),
        (("profile", 1, "view"), 15),
        (("cutting", "kerf"), 18),
        (("cutting", "order"), 18),
        (("checks", "thin"), None),
        ((), None),
    ],
)
def test_the_line_of_a_key(place: tuple[str | int, ...], line: int | None) -> None:
    text = """\
"a" = 1
# stock = 2
[ stock ] # the block
  size = [1, 2, 3]
  round . length = 2

[[profile]]
drawing = "stock = 3"
[[profile.tab]]
at = [1, 2]

[[ profile . "tab" ]]
at = [1, 2]
[[profile]]
'view' = "x"
[[profile.tab]]
at = [1, 2]
cutting.kerf = 2
"""
    text = text.replace("cutting.kerf = 2", "[cutting]")
    assert line_of(text, place) == line


# The schema that editors use.


@pytest.mark.parametrize("text", [PLAIN, FULL])
def test_the_schema_takes_what_the_model_takes(text: str) -> None:
    jsonschema.Draft202012Validator.check_schema(schema())
    jsonschema.validate(tomllib.loads(text), schema())


def test_the_schema_takes_the_samples() -> None:
    samples = sorted((ROOT / "samples").glob("*/job.toml"))
    assert samples
    for sample in samples:
        jsonschema.validate(tomllib.loads(sample.read_text("utf-8")), schema())


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (UNITS, 'units = "cm"'),
        (SIZE, "size = [1, 2]"),
        (SIZE, "size = [1, 2, 0]"),
        (VIEW, 'view = "frnt"'),
        (DRAWING, ""),
        (THIN, "thinn = 1"),
        (KERF, "kerf = -1"),
        (KERF, 'kerf = "1"'),
    ],
)
def test_the_schema_refuses_what_the_model_refuses(tmp_path: Path, old: str, new: str) -> None:
    text = put(old, new)
    refusal(tmp_path, text)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(tomllib.loads(text), schema())


# Changing.


def test_changes(tmp_path: Path) -> None:
    job = read(tmp_path, PLAIN)
    changed = job.changed(
        {
            ("cutting", "order"): ("right", "front"),
            ("profile", 0, "shift"): [1.0, 2.0],
            ("profile", 1, "tab", 0): {"at": (3.0, 4.0)},
            ("stock", "size", 1): 55.0,
            ("tolerance",): None,
            ("checks", "thin"): None,
            ("checks", "match"): None,
        }
    )
    assert changed.order == ("right", "front")
    assert changed.profile[0].shift == (1.0, 2.0)
    assert changed.profile[1].tab[0].at == (3.0, 4.0)
    assert changed.stock.size == (60.0, 55.0, 70.0)
    assert changed.tolerance == 0.01
    assert changed.checks == job_from(tomllib.loads(PLAIN.partition("[checks]")[0])).checks
    assert changed.path == job.path
    assert job == read(tmp_path, PLAIN)
    assert changed.declared["cutting"]["order"] == ["right", "front"]


def test_a_list_grows_and_shrinks(tmp_path: Path) -> None:
    job = read(tmp_path, FULL)
    assert len(job.changed({("profile", 0, "tab", 2): {"at": [1, 2]}}).profile[0].tab) == 3
    assert [t.width for t in job.changed({("profile", 0, "tab", 0): None}).profile[0].tab] == [None]


def test_a_change_is_checked(tmp_path: Path) -> None:
    job = read(tmp_path, PLAIN)
    with pytest.raises(JobError, match=r"job.toml: profile 2, shift: it must be two lengths"):
        job.changed({("profile", 1, "shift"): [1.0]})
    for key in [("profile", 5, "shift"), ("name", 0), ("name", "x"), ("profile", "x")]:
        with pytest.raises(JobError, match="there is no place for"):
            job.changed({key: 1})


@given(st.recursive(st.none() | st.booleans() | st.floats() | st.text(), st.lists, max_leaves=5))
def test_any_value_anywhere_is_taken_or_refused_politely(value: Any) -> None:
    for table, key in (
        ("stock", "size"),
        ("stock", "density"),
        ("cutting", "order"),
        ("checks", "thin"),
    ):
        data = tomllib.loads(PLAIN)
        data[table][key] = value
        politely(data)
    for key in ("view", "drawing", "layer", "datum", "shift", "tab", "clamp", "turn", value):
        data = tomllib.loads(PLAIN)
        data["profile"][0][str(key)] = value
        politely(data)
    politely(tomllib.loads(PLAIN) | {"profile": value})


def politely(data: dict[str, Any]) -> None:
    with contextlib.suppress(JobError):
        assert job_from(data).declared == data
