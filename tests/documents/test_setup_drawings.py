"""The drawing of each setup: what it holds, and that the part can be made from it again."""

from __future__ import annotations

import hashlib
import itertools
import json
import math
import os
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
import tomlkit
import trimesh
from ezdxf.document import Drawing as Document
from ezdxf.filemanagement import new, readfile
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.ops import substring

import silhouette3d
from silhouette3d.documents.setup_drawings import LAYERS, file_names
from silhouette3d.drawing.model import Arc, Bezier, Line
from silhouette3d.errors import CuttingError, OutputError
from tests.oracles.cutter import lines_on
from tests.support.shapes import rect, write_dxf
from tests.support.strange_outlines import is_sound, random_outline

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ("tugboat", "crane", "lighthouse")

BLOCK = """
name = "plate"
units = "{units}"
stock = {{size = [{size}, {size}, {size}], density = 1.0}}
cutting = {{kerf = {kerf}}}
[[profile]]
view = "front"
drawing = "front.dxf"
datum = [0, 0]
{more}
"""


def job_in(folder: Path, more: str = "", units: str = "mm", size: float = 100.0) -> Path:
    """A job of one profile, whose drawing is there already."""
    kerf = 1.0 if units == "mm" else 0.04
    path = folder / "job.toml"
    path.write_text(BLOCK.format(units=units, size=size, kerf=kerf, more=more), "utf-8")
    return path


def layers_of(document: Document) -> dict[str, Counter[str]]:
    """How many objects of each kind lie on each layer."""
    found: dict[str, Counter[str]] = {}
    for entity in document.modelspace():
        found.setdefault(entity.dxf.layer, Counter())[entity.dxftype()] += 1
    return found


def on(path: Path, layer: str, kind: str = "*") -> list[Any]:
    """What is drawn on a layer."""
    return list(readfile(path).modelspace().query(f'{kind}[layer=="{layer}"]'))


def read_clean(path: Path) -> Document:
    """A drawing in which ezdxf's audit finds nothing to mend."""
    document = readfile(path)
    auditor = document.audit()
    assert not auditor.errors
    assert not auditor.fixes
    return document


def job_of_drawings(path: Path, files: tuple[Path, ...], folder: Path) -> Path:
    """The job again, its profiles read from the drawings of its setups, as they are."""
    job = tomlkit.parse(path.read_text("utf-8"))
    part = silhouette3d.load(path)
    named = dict(zip(part.job.order, files, strict=True))
    tables: Any = job["profile"]
    for table, name in zip(tables, part.job.names, strict=True):
        for key in set(table) - {"view", "name", "clamp"}:
            del table[key]
        table["name"], table["drawing"] = name, named[name].name
    again = folder / "job.toml"
    again.write_text(tomlkit.dumps(job), "utf-8")
    return again


def is_the_same(part: silhouette3d.Part, again: silhouette3d.Part) -> None:
    """Outlines, tabs and volume agree to the tolerance."""
    room = 2.0 * part.job.tolerance  # arcs for curves within half of it, chords for both
    for one, other in zip(part.cuts, again.cuts, strict=True):
        assert other.profile.stock_drawn == pytest.approx(one.profile.face.size, abs=1e-9)
        edge, back_edge = (shapely.boundary(c.profile.area) for c in (one, other))
        assert shapely.hausdorff_distance(edge, back_edge, densify=0.25) <= room
        assert len(one.tabs) == len(other.tabs)
        for tab, back in zip(one.tabs, other.tabs, strict=True):
            assert shapely.hausdorff_distance(tab.stretch, back.stretch) <= room
        assert not other.profile.outline.gaps
    bound = sum(room * shapely.length(c.profile.area) * c.profile.face.thickness for c in part.cuts)
    assert abs(part.solid.volume - again.solid.volume) <= bound


@pytest.fixture(scope="module")
def handed(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[Path, ...]]:
    """The drawings of the samples' setups, with paths."""
    folder = tmp_path_factory.mktemp("setups")
    return {
        name: silhouette3d.load(ROOT / "samples" / name).setups(folder / name) for name in SAMPLES
    }


@pytest.mark.parametrize("name", SAMPLES)
def test_samples_there_and_back(name: str, handed: dict[str, tuple[Path, ...]]) -> None:
    files = handed[name]
    job = ROOT / "samples" / name / "job.toml"
    part = silhouette3d.load(job)
    again = silhouette3d.load(job_of_drawings(job, files, files[0].parent))
    is_the_same(part, again)
    assert abs(part.solid.volume / again.solid.volume - 1.0) < 1e-3
    if name == "tugboat":  # cutting on trial takes seconds
        standings = [[body.status for body in stage.bodies] for stage in part.stages]
        assert [[body.status for body in stage.bodies] for stage in again.stages] == standings


@pytest.mark.parametrize("name", SAMPLES)
def test_samples_are_clean_and_small(name: str, handed: dict[str, tuple[Path, ...]]) -> None:
    """As many objects as there are loops and tabs; few more vertices than the source has pieces."""
    part = silhouette3d.load(ROOT / "samples" / name)
    assert [re.findall(r"-(\d\d)-", f.name)[0] for f in handed[name]] == [
        f"{n:02}" for n in range(1, len(handed[name]) + 1)
    ]
    for index, file in zip(part.order_of_cuts, handed[name], strict=True):
        document = read_clean(file)
        cut = part.cuts[index]
        loops = cut.profile.outline.loops
        found = layers_of(document)
        assert sum(found["OUTLINE"].values()) <= len(loops) + len(cut.tabs)
        assert sum(found.get("UNCUT", Counter()).values()) == len(cut.tabs)
        assert found.get("TABS", Counter())["LWPOLYLINE"] == len(cut.tabs)
        assert found["STOCK"] == {"LWPOLYLINE": 1}
        vertices = sum(map(len, on(file, "OUTLINE", "LWPOLYLINE")))
        pieces = [p for loop in loops for p in loop.pieces]
        # lines and arcs as they are, an arc in two at most; up to 8 arcs for a Bézier
        assert vertices <= sum(8 if isinstance(p, Bezier) else 2 for p in pieces)


def test_the_file_states_release_and_unit(handed: dict[str, tuple[Path, ...]]) -> None:
    for name, code in (("tugboat", 4), ("crane", 1)):  # $INSUNITS in the DXF reference
        document = readfile(handed[name][0])
        assert document.dxfversion == "AC1024"  # R2010
        assert document.header["$INSUNITS"] == code
        assert document.header["$MEASUREMENT"] == int(code == 4)


def test_inches_are_inches(handed: dict[str, tuple[Path, ...]]) -> None:
    part = silhouette3d.load(ROOT / "samples" / "crane")
    face = part.cuts[part.order_of_cuts[0]].profile.face
    (stock,) = on(handed["crane"][0], "STOCK")
    width, height = (mm / 25.4 for mm in face.size)
    corners = [(0, 0), (width, 0), (width, height), (0, height)]
    # 12 decimals are written
    assert np.array(stock.get_points("xy")) == pytest.approx(np.array(corners), abs=1e-12)


def test_layers_say_what_they_are_and_which_are_no_outline(
    handed: dict[str, tuple[Path, ...]],
) -> None:
    document = readfile(handed["tugboat"][0])
    for name, layer in LAYERS.items():
        made = document.layers.get(name)
        assert made.description == layer.meaning
        assert (
            bool(made.dxf.plot)
            == layer.plotted
            == (name not in ("DATUM", "LEADS", "PATH", "SHADOW", "STARTS"))
        )


def test_the_datum_is_marked_at_the_origin(handed: dict[str, tuple[Path, ...]]) -> None:
    file = handed["tugboat"][0]
    (circle,) = on(file, "DATUM", "CIRCLE")
    assert circle.dxf.center == (0.0, 0.0, 0.0)
    lines = on(file, "DATUM", "LINE")
    assert [(line.dxf.start + line.dxf.end).magnitude for line in lines] == [0.0, 0.0]
    texts = [text.dxf.text for text in on(file, "DATUM", "TEXT")]
    assert texts == ["0,0", "1 of 3: front (mm)"]


def test_a_path_begins_with_its_lead(tmp_path: Path) -> None:
    """A quarter of a circle, three kerfs long, onto the corner that is nearest to the datum."""
    write_dxf(tmp_path / "front.dxf", {"0": rect(10, 10, 50, 30)})
    part = silhouette3d.load(job_in(tmp_path))
    (file,) = part.setups(tmp_path / "out")
    (path,) = on(file, "PATH")
    (start,) = on(file, "STARTS", "POINT")
    (number,) = on(file, "STARTS", "TEXT")
    assert number.dxf.text == "1"
    assert tuple(start.dxf.location)[:2] == pytest.approx(path[0].tolist()[:2])
    # four sides and corners, one of them in two, behind the lead
    first, *loop = (point[:2].tolist() for point in path)
    assert len(loop) == 10
    assert loop[0] == loop[-1]
    assert loop[0] == pytest.approx([10 - math.sqrt(0.125)] * 2)
    assert math.dist(first, loop[0]) == pytest.approx(3.0 * 2.0 / math.pi * math.sqrt(2.0))


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("name", SAMPLES)
def test_a_machine_that_compensates_gets_the_same_leads(
    name: str, side: str, tmp_path: Path
) -> None:
    """Half a kerf beside LEADS and OUTLINE, as a general library sets lines off, runs PATH."""
    part = silhouette3d.load(ROOT / "samples" / name)
    job = part.job.changed({("cutting", "side"): side})
    off = job.cutting.kerf / 2.0 * (-1.0 if side == "left" else 1.0)
    # where arcs stand for other curves, path and outline have their own: a foot is off a little
    room = 0.1 * job.cutting.kerf
    count = 0
    for file in part.again(job).setups(tmp_path / "out"):
        paths, outlines = lines_on(file, "PATH"), lines_on(file, "OUTLINE")
        for lead in lines_on(file, "LEADS"):
            ahead = [line for line in outlines if math.dist(line.coords[0], lead.coords[-1]) < 1e-6]
            if not ahead:  # it leads off
                continue
            some = substring(ahead[0], 0.0, 0.6, normalized=True)
            set_off = shapely.offset_curve(
                shapely.LineString([*lead.coords, *some.coords[1:]]), off, quad_segs=32
            )
            begins = shapely.Point(shapely.get_coordinates(set_off)[0])
            off_by = [begins.distance(shapely.Point(line.coords[0])) for line in paths]
            path = paths[int(np.argmin(off_by))]
            onto = shapely.LineString(substring(path, 0.0, lead.length).coords)
            assert begins.distance(shapely.Point(path.coords[0])) < room
            along = shapely.line_interpolate_point(onto, np.linspace(0, 1, 20), normalized=True)
            assert shapely.distance(along, set_off).max() < room
            count += 1
    assert count > 0


def test_true_lines_and_arcs_are_kept(tmp_path: Path) -> None:
    """A rounded plate with a bore, and its vertices come back to the last digit.

    The bore is cut first, from where it is nearest to the datum, and clockwise, so that the part
    is on the left; then the plate. Circles are written as two arcs, which have a direction.
    """
    document = new("R2010", units=4)
    quarter = math.tan(math.pi / 8.0)
    corners = [
        (20, 10, 0), (70, 10, quarter), (80, 20, 0), (80, 50, quarter),
        (70, 60, 0), (20, 60, quarter), (10, 50, 0), (10, 20, quarter),
    ]  # fmt: skip
    document.modelspace().add_lwpolyline(corners, "xyb", close=True)
    document.modelspace().add_circle((45, 35), 8.25)
    document.saveas(tmp_path / "front.dxf")
    (file,) = silhouette3d.load(job_in(tmp_path)).setups(tmp_path / "out")
    bore, plate = on(file, "OUTLINE")
    first, *others, last = plate.get_points("xyb")
    assert sorted(np.round(others, 9).tolist()) == sorted(
        np.round(np.array(corners, float), 9).tolist()
    )
    assert first[:2] == last[:2]
    assert first[1] == 10.0  # on the lower side, which is nearest to where the bore was ended
    for circle, radius in ((bore, 8.25), (on(file, "PATH")[0], 7.75)):
        points = np.array(circle.get_points("xyb"))
        if circle is not bore:  # less its leads
            points = points[1:-1]
        assert np.hypot(*(points[:, :2] - [45, 35]).T) == pytest.approx(radius, abs=1e-11)
        assert points[:2, 2].tolist() == pytest.approx([-1.0, -1.0])
        assert points[0, :2].tolist() == points[-1, :2].tolist()
    outer = on(file, "PATH")[1]
    sides = [math.dist(a[:2], b[:2]) for a, b in itertools.pairwise(outer)]
    sides = [sides[1] + sides[-1], *sides[2:-1]]  # behind its lead it begins on one
    assert sorted(sides) == pytest.approx(sorted([50, 50, 30, 30] + 4 * [10.5 * math.sqrt(2)]))


def test_broken_at_a_tab_by_its_width_and_a_kerf(tmp_path: Path) -> None:
    """The cutter stops half a kerf before the tab, as it takes that much more all round."""
    write_dxf(tmp_path / "front.dxf", {"0": rect(10, 10, 50, 30)})
    more = "tab = [{at = [30, 10], width = 4}]"
    part = silhouette3d.load(job_in(tmp_path, more))
    (file,) = part.setups(tmp_path / "out")
    (outline,) = on(file, "OUTLINE")
    assert not outline.closed
    ends = sorted((outline[0][:2].tolist(), outline[-1][:2].tolist()))
    assert np.allclose(ends, [(27.5, 10), (32.5, 10)])
    (path,) = on(file, "PATH")
    ends = sorted((path[1][:2].tolist(), path[-1][:2].tolist()))  # behind its lead
    assert np.allclose(ends, [(27.5, 9.5), (32.5, 9.5)])
    (uncut,) = on(file, "UNCUT")
    assert np.allclose(sorted(uncut.get_points("xy")), [(27.5, 10), (32.5, 10)])
    (tab,) = on(file, "TABS")
    assert np.allclose(sorted(tab.get_points("xy")), [(28, 9), (28, 10), (32, 9), (32, 10)])


def test_the_part_lies_on_the_left_hand(tmp_path: Path) -> None:
    ring = shapely.difference(rect(10, 10, 60, 60), rect(20, 20, 50, 50))
    assert isinstance(ring, shapely.Polygon)
    write_dxf(tmp_path / "front.dxf", {"0": ring})
    (file,) = silhouette3d.load(job_in(tmp_path)).setups(tmp_path / "out")
    inner, outer = (shapely.LinearRing([v[:2] for v in e]) for e in on(file, "OUTLINE"))
    assert outer.length > inner.length
    assert (outer.is_ccw, inner.is_ccw) == (True, False)


def test_a_bar_shows_where_it_is_in_its_face(tmp_path: Path) -> None:
    write_dxf(tmp_path / "front.dxf", {"0": rect(10, 10, 20, 20)})
    path = job_in(tmp_path)
    text = path.read_text().replace(
        "size = [100.0, 100.0, 100.0]", 'round = {diameter = 40, length = 60, along = "y"}'
    )
    path.write_text(text)
    (file,) = silhouette3d.load(path).setups(tmp_path / "out")
    (bar,) = on(file, "SHADOW")
    assert (bar.dxftype(), bar.dxf.radius, tuple(bar.dxf.center)) == ("CIRCLE", 20, (20, 20, 0))


def test_a_view_of_its_own_shows_the_block_askew(tmp_path: Path) -> None:
    """A cube seen along its diagonal is a hexagon; its face is the rectangle about that."""
    write_dxf(tmp_path / "front.dxf", {"0": rect(50, 50, 70, 70)})
    path = job_in(tmp_path)
    text = path.read_text().replace('"front"\n', "{look = [1, 1, -1], up = [0, 0, 1]}\n")
    path.write_text(text)
    part = silhouette3d.load(path)
    (file,) = part.setups(tmp_path / "out")
    assert file.name == "plate-01-view-1.dxf"
    (shadow,) = on(file, "SHADOW")
    assert len(shadow) == 6
    read_clean(file)
    is_the_same(part, silhouette3d.load(job_of_drawings(path, (file,), tmp_path / "out")))


CHANGES = st.fixed_dictionaries(
    {
        "turn": st.sampled_from([0.0, 90.0, 33.3]),
        "mirror": st.booleans(),
        "scale": st.sampled_from([1.0, 0.5, 1.25]),
        "shift": st.sampled_from([[0.0, 0.0], [3.3, -1.7]]),
    }
)


@settings(max_examples=10)
@given(
    st.integers(0, 10**6).filter(lambda seed: is_sound(random_outline(seed))),
    CHANGES,
    st.sampled_from(["mm", "in"]),
    st.integers(0, 2),
)
def test_random_outlines_there_and_back(
    tmp_path_factory: pytest.TempPathFactory,
    seed: int,
    changes: dict[str, Any],
    units: str,
    tabs: int,
) -> None:
    folder = tmp_path_factory.mktemp("there")
    factor = 25.4 if units == "in" else 1.0
    _draw(random_outline(seed), folder / "front.dxf", factor)
    middle = f"datum = [{50.0 / factor!r}, {50.0 / factor!r}]"
    changes = changes | {"shift": [(s + 50.0) / factor for s in changes["shift"]]}
    more = tomlkit.dumps(changes)
    path = job_in(folder, more, units, 100.0 / factor)
    path.write_text(path.read_text().replace("datum = [0, 0]", middle))
    edge = shapely.boundary(silhouette3d.load(path).profiles[0].area)
    places = shapely.line_interpolate_point(edge.geoms[0], np.arange(tabs) * 0.37, normalized=True)
    at = (shapely.get_coordinates(places) / factor).tolist()
    path.write_text(path.read_text() + "tab = [" + ", ".join(f"{{at = {p}}}" for p in at) + "]\n")
    part = silhouette3d.load(path)
    files = part.setups(folder / "back")
    read_clean(files[0])
    is_the_same(part, silhouette3d.load(job_of_drawings(path, files, folder / "back")))


def _draw(shapes: Any, path: Path, factor: float) -> None:
    """Random outlines as the objects that DXF has for their pieces."""
    document = new("R2010", units=1 if factor != 1.0 else 4)
    space: Any = document.modelspace()
    for piece in (p for shape in shapes for curve in shape.curves for p in curve.pieces):
        match piece:
            case Line(start, end):
                space.add_line(np.array(start) / factor, np.array(end) / factor)
            case Bezier(a, b, c, d):
                points = [tuple(np.array(p) / factor) for p in (a, b, c, d)]
                space.add_open_spline([(*p, 0.0) for p in points], degree=3)
            case Arc(centre, u, v, first, last):
                ratio = math.hypot(*v) / math.hypot(*u)
                low, high = sorted((first, last))
                space.add_ellipse(
                    np.array(centre) / factor, (*np.array(u) / factor, 0.0), ratio, low, high
                )
    document.saveas(path)


@pytest.mark.parametrize("name", ["tugboat", "crane"])
def test_trimesh_sees_the_same_area(
    name: str, handed: dict[str, tuple[Path, ...]], tmp_path: Path
) -> None:
    part = silhouette3d.load(ROOT / "samples" / name)
    for index, file in zip(part.order_of_cuts, handed[name], strict=True):
        cut = part.cuts[index]
        compared: list[tuple[tuple[str, ...], shapely.Geometry]] = [
            (("OUTLINE", "UNCUT"), cut.profile.area)
        ]
        if not cut.tabs:  # a path with gaps encloses nothing
            compared.append((("PATH",), cut.within_path))
        for layers, area in compared:
            seen = _seen_by_trimesh(file, layers, tmp_path / "some.dxf")
            # its own chords of arcs are coarser than ours: a thousandth of the area in all
            assert seen == pytest.approx(shapely.area(area), rel=1e-3), (file.name, layers)


def _seen_by_trimesh(file: Path, layers: tuple[str, ...], copy: Path) -> float:
    """The area in mm² of some layers; trimesh forgets the layer of a polyline with arcs."""
    document = readfile(file)
    space = document.modelspace()
    for entity in list(space):
        if entity.dxf.layer not in layers:
            space.delete_entity(entity)
    document.saveas(copy)
    with copy.open("rb") as stream:
        path: Any = trimesh.load_path(stream, file_type="dxf")
    unit = 25.4 if document.header["$INSUNITS"] == 1 else 1.0
    return float(path.area) * unit**2


# Names and files.


def test_names_of_files() -> None:
    assert file_names(["front", "right"]) == ["01-front.dxf", "02-right.dxf"]
    assert file_names(["front"], "Ö 1/2") == ["O-1-2-01-front.dxf"]
    odd = ["../../etc/passwd", "CON", "a:b*c?", "Süd", "日本", " ", "x" * 300, ".hidden", "a\nb"]
    found = file_names(odd)
    assert found == [
        "01-etc-passwd.dxf",
        "02-CON.dxf",
        "03-a-b-c.dxf",
        "04-Sud.dxf",
        "05.dxf",
        "06.dxf",
        f"07-{'x' * 40}.dxf",
        "08-hidden.dxf",
        "09-a-b.dxf",
    ]
    many = file_names(["cut"] * 120)
    assert many == sorted(many)
    assert len(set(many)) == 120


def test_an_odd_name_is_written_and_read(tmp_path: Path) -> None:
    write_dxf(tmp_path / "front.dxf", {"0": rect(10, 10, 50, 30)})
    more = 'name = "../Ö%%c^J \\\\P {x}"'
    (file,) = silhouette3d.load(job_in(tmp_path, more)).setups(tmp_path / "out")
    assert file == tmp_path / "out" / "plate-01-O-c-J-P-x.dxf"
    read_clean(file)


def test_files_of_before_are_replaced_and_others_left(tmp_path: Path) -> None:
    write_dxf(tmp_path / "front.dxf", {"0": rect(10, 10, 50, 30)})
    out = tmp_path / "out"
    out.mkdir()
    (out / "plate-01-front.dxf").write_text("old")
    (out / "notes.txt").write_text("mine")
    silhouette3d.load(job_in(tmp_path)).setups(out)
    read_clean(out / "plate-01-front.dxf")
    assert (out / "notes.txt").read_text() == "mine"
    assert sorted(p.name for p in out.iterdir()) == [
        "notes.txt",
        "plate-01-front.dxf",
        "setups.json",
    ]


def test_another_process_writes_the_same_bytes(tmp_path: Path) -> None:
    """Sets of text come in another order in each process: seeds 0 and 7 told two apart."""
    write_dxf(tmp_path / "front.dxf", {"0": rect(20, 20, 80, 80)})
    job = job_in(tmp_path)
    code = "import sys, silhouette3d; silhouette3d.load(sys.argv[1]).setups(sys.argv[2])"
    sums = set[tuple[str, ...]]()
    for seed in ("0", "5", "7"):
        out = tmp_path / seed
        subprocess.run(
            [sys.executable, "-c", code, str(job), str(out)],
            env={**os.environ, "PYTHONHASHSEED": seed},
            cwd=ROOT,
            check=True,
        )
        files = sorted(out.iterdir())
        sums.add(tuple(hashlib.sha256(file.read_bytes()).hexdigest() for file in files))
    assert len(sums) == 1
    assert len(sums.pop()) == 2


def test_the_index_lists_what_is_written_and_the_same_job_gives_the_same_bytes(
    tmp_path: Path,
) -> None:
    write_dxf(tmp_path / "front.dxf", {"0": rect(10, 10, 50, 30)})
    path = job_in(tmp_path)
    one, other = (
        silhouette3d.load(path).setups(tmp_path / name)[0].read_bytes() for name in ("a", "b")
    )
    assert one == other
    index = json.loads((tmp_path / "a" / "setups.json").read_text("utf-8"))
    assert (index["job"], index["units"]) == ("plate", "mm")
    (listed,) = index["setups"]
    assert (listed["number"], listed["setup"]) == (1, "front")
    data = (tmp_path / "a" / listed["file"]).read_bytes()
    assert listed["sha256"] == hashlib.sha256(data).hexdigest()


def test_a_tab_astray_leaves_nothing_behind(tmp_path: Path) -> None:
    write_dxf(tmp_path / "front.dxf", {"0": rect(10, 10, 50, 30)})
    part = silhouette3d.load(job_in(tmp_path, "tab = [{at = [90, 90]}]"))
    with pytest.raises(CuttingError, match="touches no outline"):
        part.setups(tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_file_in_the_way(tmp_path: Path) -> None:
    write_dxf(tmp_path / "front.dxf", {"0": rect(10, 10, 50, 30)})
    (tmp_path / "out").write_text("mine")
    with pytest.raises(OutputError, match="this is a file, not a folder"):
        silhouette3d.load(job_in(tmp_path)).setups(tmp_path / "out")
    assert (tmp_path / "out").read_text() == "mine"
