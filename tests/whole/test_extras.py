"""The package where nothing but its core is installed: each command works, or says what to install.

A process in which no library can be imported but those that the core declares, and what they
need themselves, runs every command of the command line, and from Python what writes files.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tomllib
from importlib.metadata import PackageNotFoundError, distribution, distributions
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from silhouette3d.base.extras import EXTRAS, need
from silhouette3d.errors import MissingLibraryError
from tests.cli.test_common_exit_status import ON_JOBS, OTHERS, spelt
from tests.guard.imports import ROOT

PROJECT: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
SAMPLE = ROOT / "samples" / "tugboat"

BARE = """
import contextlib, importlib, io, json, sys

others, commands, python = json.load(sys.stdin)

class Missing:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in others:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)

sys.meta_path.insert(0, Missing())
from silhouette3d.cli import main

told = []
for arguments in commands:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = main(arguments)
    told.append((status, out.getvalue(), err.getvalue()))

import silhouette3d

part = silhouette3d.load(sys.argv[1])
for call in python:
    try:
        eval(call)
        told.append((0, "", ""))
    except silhouette3d.MissingLibraryError as error:
        told.append((2, "", str(error)))
sys.stderr.flush()
print(json.dumps(told))
"""

NEED = {
    "outline": "pictures",
    "picture": "pictures",
    "show": "pictures",
    "page": "pictures",
    "sheets": "sheets",
    "open": "workbench",
}
"""Commands that take an extra; all others do with the core."""

CALLS = {
    "part.picture('OUT.png')": "pictures",
    "part.picture_stages('OUT.png')": "pictures",
    "part.picture_thin('OUT.png')": "pictures",
    "part.picture_outline('front', 'OUT.png')": "pictures",
    "part.show()": "pictures",
    "part.page('OUT.html')": "pictures",
    "part.sheets('OUT.pdf')": "sheets",
    "part.export('OUT.glb')": "",
    "part.export('OUT.3mf')": "",
    "part.setups('OUT')": "",
}

LETTERED = """
name = "Plate"
[stock]
size = [40.0, 20.0, 10.0]
material = "brass C360"
[[profile]]
view = "top"
drawing = "plate.dxf"
"""


def others() -> set[str]:
    """Modules of all packages but those that the core needs, and those that these need."""
    found: set[str] = set()
    todo = [Requirement(line) for line in PROJECT["dependencies"]]
    while todo:
        needed = todo.pop()
        name = canonicalize_name(needed.name)
        extras = needed.extras or {""}
        if name in found or not (
            needed.marker is None or any(needed.marker.evaluate({"extra": e}) for e in extras)
        ):
            continue
        try:
            requires = distribution(name).requires or []
        except PackageNotFoundError:  # for another system or Python
            continue
        found.add(name)
        todo += [Requirement(line) for line in requires if "extra ==" not in line]
    core, more = set[str](), set[str]()
    for one in distributions():
        tops = {file.parts[0].partition(".")[0] for file in one.files or ()}
        (core if canonicalize_name(one.name) in found else more).update(tops)
    return more - core - {PROJECT["name"]}


def plate(folder: Path, more: str = "") -> Path:
    """A job whose drawing holds a rectangle and a text of several runs on one line."""
    folder.mkdir()
    drawing = ezdxf.filemanagement.new(units=4)
    space = drawing.modelspace()
    space.add_lwpolyline([(0, 0), (40, 0), (40, 20), (0, 20)], close=True)
    space.add_mtext("A {\\H2x;b} C", dxfattribs={"char_height": 3.0, "insert": (5, 12)})
    drawing.saveas(folder / "plate.dxf")
    (folder / "job.toml").write_text(LETTERED + more, encoding="utf-8")
    return folder


Told = tuple[int, str, str]


@pytest.fixture(scope="module")
def bare(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Told], Path]:
    """What each command and call says in a process that has the core only; where they wrote."""
    folder = tmp_path_factory.mktemp("bare")
    words = {**ON_JOBS, **OTHERS}
    commands = {name: [name, *spelt(words[name], SAMPLE, folder / name)] for name in words}
    counted, cut = plate(folder / "counted"), plate(folder / "cut", 'text = "outline"\n')
    commands |= {"counted": ["check", str(counted)], "cut": ["check", str(cut)]}
    commands |= {"help": ["--help"], "json": ["check", str(SAMPLE), "--json"]}
    calls = [call.replace("OUT", str(folder / f"call{i}")) for i, call in enumerate(CALLS)]
    given = [sorted(others()), list(commands.values()), calls]
    done = subprocess.run(
        [sys.executable, "-c", BARE, str(SAMPLE)],
        cwd=ROOT,
        input=json.dumps(given),
        capture_output=True,
        encoding="utf-8",
        check=False,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    told = dict(zip([*commands, *CALLS], json.loads(done.stdout), strict=True))
    return told, folder


def refusal(extra: str) -> str:
    """A pattern of the message that something needs an extra."""
    command = re.escape(f'pip install "silhouette3d[{extra}]"')
    return rf"for [\w’ ]+, [\w, -]+ must be installed\. Run {command}\."


@pytest.mark.parametrize("name", [*ON_JOBS, *OTHERS])
def test_a_command_works_or_says_what_to_install(
    bare: tuple[dict[str, Told], Path], name: str
) -> None:
    told, folder = bare
    status, out, err = told[name]
    written = sorted(path.name for path in folder.glob(f"{name}*") if path.name != "cut")
    if name in NEED:
        assert status == 2
        assert re.fullmatch(f"silhouette3d: {refusal(NEED[name])}\n", err)
        assert (out, written) == ("", [])
    else:
        assert status in {0, 1}
        assert "install" not in err
        assert out
        assert bool(written) == (name in {"new", "setups", "export"})


@pytest.mark.parametrize("call", CALLS)
def test_python_works_or_says_what_to_install(
    bare: tuple[dict[str, Told], Path], call: str
) -> None:
    told, folder = bare
    status, _, err = told[call]
    written = list(folder.glob(f"call{list(CALLS).index(call)}*"))
    if CALLS[call]:
        assert status == 2
        assert re.fullmatch(refusal(CALLS[call]), err)
        assert written == []
    else:
        assert (status, err) == (0, "")
        assert written


def test_text_is_counted_without_fonts_and_cut_with_them(
    bare: tuple[dict[str, Told], Path],
) -> None:
    told, _ = bare
    status, out, err = told["counted"]
    assert (status, err) == (0, "")
    assert "text" in out
    status, out, err = told["cut"]
    assert status == 2
    assert re.fullmatch(f"silhouette3d: {refusal('pictures')}\n", err)


def test_what_the_core_says_is_what_the_whole_says(
    bare: tuple[dict[str, Told], Path], capsys: pytest.CaptureFixture[str]
) -> None:
    from silhouette3d.cli import main

    told, _ = bare
    assert main(["check", str(SAMPLE), "--json"]) == told["json"][0]
    assert json.loads(capsys.readouterr().out) == json.loads(told["json"][1])
    assert told["help"][0] == 0


def test_extras_are_those_that_can_be_installed() -> None:
    declared = PROJECT["optional-dependencies"]

    def packages(extra: str) -> set[str]:
        found: set[str] = set()
        for one in map(Requirement, declared[extra]):
            inner = (
                [packages(e) for e in one.extras] if one.name == PROJECT["name"] else [{one.name}]
            )
            found = found.union(*inner)
        return found

    assert {extra: packages(extra) for extra in EXTRAS} == {e: set(n) for e, n in EXTRAS.items()}
    assert packages("all") == set[str]().union(*EXTRAS.values())


def test_the_core_is_small() -> None:
    packages = {name for names in EXTRAS.values() for name in names}
    modules = {"vtkmodules", *(name.replace("-", "_") for name in packages - {"vtk"})}
    assert modules <= others()
    assert not others() & {"numpy", "shapely", "manifold3d", "ezdxf", "rich"}


def test_what_is_there_is_let_through() -> None:
    for extra in EXTRAS:
        need(extra, "a test")
    with pytest.raises(MissingLibraryError, match="for a test, not-there and nor-this must be"):
        need("pictures", "a test", "matplotlib", "not-there", "nor-this")
